//! What one step does to a bench, and what everything on it goes through.

use std::sync::Arc;

use crate::job::{GuardIx, JointIx, PartIx, WireIx};
use crate::melt::Melt;
use crate::quantity::{Celsius, KelvinStep, Share};

use super::copper::TakenUp;
use super::exposure::Seen;
use super::finding::{Finding, worst};
use super::state::Bench;
use super::thins::Thinning;
use super::verdict::Verdict;

/// Everything about one step.
#[derive(Clone, Debug)]
pub struct Passage {
    /// The bench after it.
    pub next: Bench,
    /// Peak at the target, where there is heat.
    pub peak: Option<Celsius>,
    /// The target, where it must flow.
    pub target: Option<Target>,
    /// What every standing joint went through.
    pub sights: Vec<Sight>,
    /// What everything else with a limit went through.
    pub limits: Vec<LimitSight>,
    /// Parts that took a heat, and how hot.
    pub heats: Vec<(PartIx, Celsius)>,
    /// Why the step cannot be done at all.
    pub refusals: Vec<Refusal>,
    /// What every rule says of everything: the verdict of the step is the worst of these.
    pub findings: Vec<Finding>,
    /// It was done, and so cold that nothing flowed: all is as before but for the heat.
    pub in_vain: bool,
    /// What a technician should know beside the verdict.
    pub notes: Vec<Note>,
    /// Between what the peak must lie.
    pub window: Window,
}

/// What must flow in a step, and whether it does.
#[derive(Clone, Debug)]
pub struct Target {
    /// The joints; `None` for balls on a loose part.
    pub joint: Option<JointIx>,
    /// The part, where one is set, taken off or balled.
    pub part: Option<PartIx>,
    /// Temperature that it must reach. `None`: not known.
    pub must_reach: Option<Celsius>,
    /// Where it flows, without uncertainty; the superheat stands on it.
    pub flow_point: Option<Celsius>,
    /// It does.
    pub flow: Flow,
    /// The joint as it is heated, new metal included.
    pub melt: Arc<Melt>,
}

/// How far the target flows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Flow {
    /// All of it.
    Whole,
    /// The new metal flows; what it touches is not dissolved, or nobody knows: layers stay.
    NewMetalOnly,
    /// It just reaches the temperature at which all of it is liquid, and not a kelvin more.
    Barely,
    /// Paste flows and the ball does not, or the other way about: collapse is not assured.
    PartOfNewMetal,
    /// It does not get hot enough.
    Not,
    /// Not known.
    Unknown,
}

/// What one group of joints went through in a step.
#[derive(Clone, Debug)]
pub struct Sight {
    /// Which.
    pub joint: JointIx,
    /// How hot.
    pub seen: Seen,
    /// When it melts.
    pub melt: Arc<Melt>,
    /// Survival temperature less what it sees.
    pub margin: Option<KelvinStep>,
    /// Mass share liquid there.
    pub liquid: Option<Share>,
    /// The verdict.
    pub verdict: Verdict,
    /// It may melt: the verdict is told and does not count.
    pub may_melt: bool,
}

/// A thing with a limit that is no joint.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum LimitOf {
    /// Body of a part.
    Part(PartIx),
    /// A guard.
    Guard(GuardIx),
    /// Enamel of a wire.
    Wire(WireIx),
    /// Heats that a part may still take.
    Heats(PartIx),
}

/// What such a thing went through.
#[derive(Clone, Copy, Debug)]
pub struct LimitSight {
    /// Which.
    pub of: LimitOf,
    /// How hot.
    pub seen: Seen,
    /// Hottest that it may see.
    pub limit: Celsius,
    /// Limit less what it sees.
    pub margin: Option<KelvinStep>,
    /// Holds, close, limit, unknown.
    pub verdict: Verdict,
}

/// Between what the peak of a step must lie.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Window {
    /// Lowest peak at which the target flows.
    pub from: Option<Celsius>,
    /// Highest peak at which everything keeps its margin.
    pub to: Option<Celsius>,
    /// Who sets the upper end.
    pub set_by: Option<SetBy>,
}

/// Who sets the upper end of a window.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SetBy {
    /// A joint.
    Joint(JointIx),
    /// A part, guard or wire.
    Limit(LimitOf),
}

/// Why a step cannot be done on this bench.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Refusal {
    /// The part is not on the board.
    NotOnBoard(PartIx),
    /// The part is still on the board.
    StillOnBoard(PartIx),
    /// The joint is taken by another part.
    Taken(JointIx, PartIx),
    /// The part has no balls and no paste was given.
    NoSolder(PartIx),
    /// A joint is soldered with no more than a wick leaves.
    TooLittle(JointIx),
    /// There is no metal on the joint.
    NoMetal(JointIx),
    /// An earlier step closed the way to it.
    OutOfReach(JointIx),
    /// The part is held by glue that heat does not soften.
    GlueHolds(PartIx),
    /// The part is held by glue of unknown kind: find out before any heat.
    GlueUnknown(PartIx),
    /// Power without a passed short check since the last heat.
    NotChecked,
    /// It lies under that guard, or under mask as the job says: free it first.
    Covered(JointIx, Option<GuardIx>),
    /// An end of a wire that was never soldered, and power is to come.
    Loose(WireIx, JointIx),
    /// A wire that is soldered at both ends holds the part where it is.
    Wired(PartIx, WireIx),
    /// The body of a standing part lies over the place, by where the job puts both.
    InTheWay(PartIx),
    /// The guard is not there.
    NothingThere(GuardIx),
    /// A joint that the job solders is open, and power is to come.
    Open(JointIx),
}

/// What a technician should know beside the verdict.
#[derive(Clone, Debug, PartialEq)]
pub enum Note {
    /// Solidus of a standing joint less liquidus of the new metal is small; only warns.
    SmallGap(JointIx, KelvinStep),
    /// The new metal dissolves what it touches below its melting point, given time; a wire end may float.
    Dissolves(JointIx),
    /// Layers stay: the joint is not one alloy.
    LayersStay(JointIx),
    /// Body above 200 °C and nobody knows that it is dry.
    Moisture(PartIx),
    /// The finish of a pad dissolves into the joint: mass share of it there, where masses are known.
    FinishDissolves(JointIx, Option<Share>),
    /// The finish of the part's own pads is in its solder: mass share of it there, where masses are known.
    PartFinish(PartIx, Option<Share>),
    /// Copper of the pad may go into the joint, which then survives less.
    CopperTaken(JointIx, TakenUp),
    /// Molten solder takes copper from a fine wire: how long it may stay molten.
    WireThins(Thinning),
    /// The balls of a part are liquid before the paste below them melts: first liquid of the paste, and when the
    /// balls are liquid.
    BallsFirst(JointIx, Celsius, Celsius),
    /// Bismuth meets lead: the joint starts to melt near 95 °C.
    BismuthMeetsLead(JointIx, Option<Share>),
    /// What is stated of a place, which wins, and what the model says instead.
    ModelDiffers(SetBy, Celsius, Seen),
    /// The described tool brings its target to this at most, likeliest and at the cool edge; it must
    /// reach what stands last.
    FallsShort(Celsius, Celsius, Celsius),
}

impl Passage {
    /// The worst that happens in the step: the worst of its findings.
    pub fn verdict(&self) -> Verdict {
        worst(&self.findings)
    }

    /// The smallest margin of a joint or limit that counts.
    pub fn tightest(&self) -> Option<KelvinStep> {
        let joints = self
            .sights
            .iter()
            .filter(|s| !s.may_melt)
            .filter_map(|s| s.margin);
        joints
            .chain(self.limits.iter().filter_map(|l| l.margin))
            .min()
    }
}

impl Target {
    /// Holds, does not flow, or unknown.
    pub fn verdict(&self) -> Verdict {
        match self.flow {
            Flow::Whole | Flow::NewMetalOnly => Verdict::Holds,
            Flow::PartOfNewMetal | Flow::Barely => Verdict::Close,
            Flow::Not => Verdict::DoesNotFlow,
            Flow::Unknown => Verdict::Unknown,
        }
    }
}

impl Refusal {
    /// Whether it cannot have been done at all on this bench, so that a log that has it tells of another
    /// one. Power without a check and a way through mask or glue can have been, all the same.
    pub const fn is_impossible(&self) -> bool {
        matches!(
            self,
            Refusal::NotOnBoard(_)
                | Refusal::StillOnBoard(_)
                | Refusal::Taken(..)
                | Refusal::InTheWay(_)
                | Refusal::NoSolder(_)
                | Refusal::NoMetal(_)
                | Refusal::NothingThere(_)
        )
    }

    /// What a refused step makes of a plan.
    pub const fn verdict(&self) -> Verdict {
        match self {
            Refusal::GlueUnknown(_) => Verdict::Unknown,
            Refusal::NotChecked => Verdict::Close,
            _ => Verdict::Limit,
        }
    }
}
