//! What a melting curve and a sweep over mixtures show, as plain data.

use crate::quantity::{Celsius, Share};

/// Liquid share against temperature, of one blend.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Curve {
    /// Heading: the blend.
    pub title: String,
    /// The answer in one line.
    pub line: String,
    /// The joint in equilibrium, temperature ascending; may be empty. Below its first point a curve is
    /// taken as solid, above its last as liquid as there.
    pub equilibrium: Vec<CurvePoint>,
    /// The joint as it froze, temperature ascending; may be empty.
    pub as_frozen: Vec<CurvePoint>,
    /// Temperatures with a name: first melt, solidus, flow, liquidus.
    pub landmarks: Vec<Landmark>,
    /// Small print, a line each.
    pub notes: Vec<String>,
}

/// One point of a melting curve.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct CurvePoint {
    /// At this temperature
    pub at: Celsius,
    /// so much of the mass is liquid.
    pub liquid: Share,
}

/// A temperature with a name.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Landmark {
    /// "first melt".
    pub name: String,
    /// Where.
    pub at: Celsius,
}

/// First melt and liquid share against how much of one alloy is in the mixture.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Sweep {
    /// Heading.
    pub title: String,
    /// The answer in one line.
    pub line: String,
    /// What the axis counts: "Sn63Pb37 in Bi58Sn42".
    pub of: String,
    /// Share ascending.
    pub points: Vec<SweepPoint>,
    /// Shares with a name: from where it is too much, what was described.
    pub marks: Vec<SweepMark>,
    /// Small print, a line each.
    pub notes: Vec<String>,
}

/// One mixture of a sweep; what is not known leaves a gap.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SweepPoint {
    /// The mass share of the added alloy.
    pub x: Share,
    /// First melt of the mixture as it froze.
    pub first_melt: Option<Celsius>,
    /// Solidus of the mixture in equilibrium.
    pub solidus: Option<Celsius>,
    /// Liquidus, or flow temperature.
    pub flow: Option<Celsius>,
    /// How much is liquid just above the first melt.
    pub liquid: Option<Share>,
}

/// A share of the added alloy with a name.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SweepMark {
    /// "too much".
    pub name: String,
    /// From this mass share on.
    pub x: Share,
}
