//! What parts, boards, wires and masks stand, and rules of process: the data files as text, each
//! row with its source and how well it is known. Whoever needs rows reads them with
//! [`crate::yaml::read`].

/// Documents that the rows cite.
pub const SOURCES: &str = include_str!("../../alloys/limits/sources.yaml");
/// Parts, packages, plastics, laminates, magnet wire, organics.
pub const LIMITS: &str = include_str!("../../alloys/limits/limits.yaml");
/// Profiles, gaps, holding, gold, growth of compounds, copper, rework, cleaning.
pub const PROCESS: &str = include_str!("../../alloys/limits/process.yaml");
/// Exposure limits, hazards, law.
pub const SAFETY: &str = include_str!("../../alloys/limits/safety.yaml");
/// Thin wire, and checks before power.
pub const SHORTS: &str = include_str!("../../alloys/limits/shorts.yaml");
/// Thermal properties and heat sources.
pub const HEAT: &str = include_str!("../../alloys/limits/heat.yaml");

/// All files with rows, by name.
pub const FILES: [(&str, &str); 5] = [
    ("limits.yaml", LIMITS),
    ("process.yaml", PROCESS),
    ("safety.yaml", SAFETY),
    ("shorts.yaml", SHORTS),
    ("heat.yaml", HEAT),
];
