//! A finding: one rule, judged on one thing in one step, or on the whole.
//!
//! The verdict of a step, a plan or a log is the worst of its findings, and `holds` has to be earned by
//! every one of them. First line, exit code, JSON, chart, sheet, search and re-plan read the same list.

use crate::job::{GuardIx, JointIx, PartIx, WireIx};
use crate::quantity::KelvinStep;

use super::rules::Law;
use super::verdict::Verdict;

/// What is judged. DEVELOPERS.md lists every rule with what it looks at, where it stands and its test.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Rule {
    /// A joint survives what it sees.
    Survives,
    /// A part, guard or enamel stays within its limit.
    Limit,
    /// What the step is to melt flows.
    Flows,
    /// The step can be done on this bench at all.
    Possible,
    /// A part that hangs stays while its solder is soft.
    Hangs,
    /// A wire stays while an end of it is molten.
    WireStays,
    /// Solder below mask or glue stays solid, whatever else it may do.
    UnderCover,
    /// Members of a group that are done bear the heat of the next one.
    Members,
    /// A part that is known to be moist is dried before it gets hot.
    Dry,
    /// A part that holds the data has a stated limit when it is heated.
    LimitStated,
    /// A fine wire does not go into the solder while that is molten.
    WireThins,
    /// The tip is hot enough to strip enamel.
    Strips,
    /// Low-melting bismuth solder is not left to freeze last below a ball that stays solid.
    HotTear,
    /// A part is heated and cooled no faster than it bears.
    Ramp,
    /// A part takes no more heats than are left.
    Heats,
    /// A joint bears the service temperature.
    Service,
    /// A joint holds no more of something than law or ductility allows.
    Law(Law),
    /// Balls on a part that is off the board survive what its body sees.
    Balls,
    /// The tool reaches all joints that must be liquid at once.
    AtOnce,
    /// A pad gets no more solder than it holds.
    Amount,
    /// A check that found a fault is followed by what mends it.
    Mended,
    /// Wires that cross are insulated from each other.
    Crossing,
    /// Power is told to wait for every heat.
    PowerLast,
    /// A wire carries its current.
    Carries,
    /// What the log says was too hot, did not flow or came out of order has been looked at since.
    Looked,
}

impl Rule {
    /// As written in JSON.
    pub const fn word(self) -> &'static str {
        match self {
            Rule::Survives => "survives",
            Rule::Limit => "limit",
            Rule::Flows => "flows",
            Rule::Possible => "possible",
            Rule::Hangs => "hangs",
            Rule::WireStays => "wire_stays",
            Rule::UnderCover => "under_cover",
            Rule::Members => "members",
            Rule::Dry => "dry",
            Rule::LimitStated => "limit_stated",
            Rule::WireThins => "wire_thins",
            Rule::Strips => "strips",
            Rule::HotTear => "hot_tear",
            Rule::Ramp => "ramp",
            Rule::Heats => "heats",
            Rule::Service => "service",
            Rule::Law(Law::Lead) => "lead",
            Rule::Law(Law::Cadmium) => "cadmium",
            Rule::Law(Law::Gold) => "gold",
            Rule::Balls => "balls",
            Rule::AtOnce => "at_once",
            Rule::Amount => "amount",
            Rule::Mended => "mended",
            Rule::Crossing => "crossing",
            Rule::PowerLast => "power_last",
            Rule::Carries => "carries",
            Rule::Looked => "looked",
        }
    }

    /// On what it rests.
    pub const fn source(self) -> &'static str {
        match self {
            Rule::Hangs => "S29, S30, S67",
            Rule::Dry => "J-STD-033D, from memory",
            Rule::WireThins => "Bader 1969, from memory; S39",
            Rule::Strips => "S12, S13",
            Rule::HotTear => "Badwe 2020, Harris 2019 (abstracts)",
            Rule::Service => "S88, S89",
            Rule::Law(Law::Lead | Law::Cadmium) => "S84",
            Rule::Law(Law::Gold) => "S31, S32",
            Rule::Carries => "S52; a fifth of it: common practice, no source",
            Rule::WireStays
            | Rule::UnderCover
            | Rule::Members
            | Rule::Possible
            | Rule::PowerLast
            | Rule::AtOnce
            | Rule::Crossing
            | Rule::Amount
            | Rule::Mended
            | Rule::Looked => "common practice, no source",
            Rule::Survives
            | Rule::Balls
            | Rule::Limit
            | Rule::Flows
            | Rule::LimitStated
            | Rule::Ramp
            | Rule::Heats => "design",
        }
    }
}

/// On what a finding is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Subject {
    /// The step as a whole.
    Step,
    /// A group of joints.
    Joint(JointIx),
    /// A part.
    Part(PartIx),
    /// A guard.
    Guard(GuardIx),
    /// A wire.
    Wire(WireIx),
}

/// What a rule says of a thing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Finding {
    /// Which rule.
    pub rule: Rule,
    /// Of what.
    pub of: Subject,
    /// What it comes to.
    pub verdict: Verdict,
    /// It counts; a joint that may melt is told and does not.
    pub counts: bool,
    /// What is left, where the rule has a number.
    pub margin: Option<KelvinStep>,
    /// On whose state it hangs, besides the step and what the step works on.
    pub by: Subject,
}

impl Finding {
    /// One that counts, and hangs on the thing that it is of.
    pub const fn new(rule: Rule, of: Subject, verdict: Verdict) -> Self {
        Finding {
            rule,
            of,
            verdict,
            counts: true,
            margin: None,
            by: of,
        }
    }

    /// One that hangs on the state of something else.
    pub const fn by(self, by: Subject) -> Self {
        Finding { by, ..self }
    }
}

/// The worst of some findings; nothing found is nothing wrong.
pub fn worst<'f>(findings: impl IntoIterator<Item = &'f Finding>) -> Verdict {
    let counted = findings.into_iter().filter(|finding| finding.counts);
    counted
        .map(|finding| finding.verdict)
        .max()
        .unwrap_or(Verdict::Holds)
}
