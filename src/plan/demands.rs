//! What a plan must keep, demand by demand, and where a step or an end breaks one.

use std::collections::BTreeSet;

use crate::bench::{
    Bench, Finding, Flow, Law, LimitOf, LimitSight, Passage, Refusal, Rule, Seen, Setting, Sight,
    Subject, Verdict, breaches, service,
};
use crate::job::{JointIx, PartIx, StepIx, WireIx};
use crate::quantity::KelvinStep;

use super::check::Place;

/// One thing that a job demands of a plan. What cannot be otherwise (a part that is on the board
/// cannot be set down) is none.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Demand {
    /// The step is done.
    Done(StepIx),
    /// The first step is done before the second.
    Before(StepIx, StepIx),
    /// What was made unreachable stays so.
    Access(JointIx),
    /// The joint keeps the wanted margin in every step.
    Keep(JointIx),
    /// A part, guard or wire stays within its limit in every step.
    Limit(LimitOf),
    /// What the step must melt flows.
    Flow(StepIx),
    /// The part takes no more heats than are left.
    Heats(PartIx),
    /// Glue that heat does not soften, or that nobody knows, holds the part.
    Glue(PartIx),
    /// No power without a short check since the last heat.
    Checked,
    /// No joint holds more lead than a lead-free job may.
    LeadFree,
    /// No joint holds more cadmium than law allows.
    CadmiumFree,
    /// Every joint bears the service temperature.
    Service,
    /// Mask or glue that lies over a joint keeps the tool off.
    Cover(JointIx),
    /// A wire is tied at both ends before power.
    Tied(WireIx),
    /// A joint that the job solders stands before power.
    Made(JointIx),
    /// What falls, floats, tears, bursts or is not stated: what the rule says of that thing.
    Safe(Rule, Subject),
}

/// A demand that is not kept.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Fault {
    /// Which; `None` for what cannot be otherwise.
    pub demand: Option<Demand>,
    /// It is one only because something is not known.
    pub unknown: bool,
    /// It is a narrow escape: it keeps a plan from holding, and no plan from being one.
    pub close: bool,
}

/// Which demands hold in a search.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Terms {
    /// Demands that are given up.
    pub dropped: BTreeSet<Demand>,
    /// The margins of demands that are given up still count as margins.
    pub count_dropped: bool,
    /// Steps that are out of the question.
    pub gone: BTreeSet<StepIx>,
    /// What is not known is taken as harmless: only to find out whether an unknown decides.
    pub unknown_is_fine: bool,
    /// Only plans in which everything holds: a narrow escape counts as broken.
    pub must_hold: bool,
}

impl Terms {
    /// Whether a search may go on in spite of this.
    pub fn allow(&self, fault: Fault) -> bool {
        (fault.unknown && self.unknown_is_fine)
            || (fault.close && !self.must_hold)
            || fault
                .demand
                .is_some_and(|demand| self.dropped.contains(&demand))
    }

    /// Whether a margin counts.
    pub fn count(&self, place: Place) -> bool {
        let demand = match place {
            Place::Joint(joint) => Demand::Keep(joint),
            Place::Limit(of) => Demand::Limit(of),
        };
        self.count_dropped || !self.dropped.contains(&demand)
    }
}

/// What some joints keep in a step.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kept {
    /// One of them breaks a demand.
    Broken,
    /// The tightest margin; `None` where nothing is at risk.
    Margin(Option<KelvinStep>),
}

impl Kept {
    /// The worse of two.
    pub fn and(self, other: Kept) -> Kept {
        match (self, other) {
            (Kept::Margin(one), Kept::Margin(other)) => {
                Kept::Margin([one, other].into_iter().flatten().min())
            }
            _ => Kept::Broken,
        }
    }

    /// The better of two ways.
    pub fn or_wider(self, other: Kept) -> Kept {
        match (self, other) {
            (Kept::Broken, only) | (only, Kept::Broken) => only,
            (Kept::Margin(Some(a)), Kept::Margin(Some(b))) => Kept::Margin(Some(a.max(b))),
            (Kept::Margin(_), Kept::Margin(_)) => Kept::Margin(None),
        }
    }
}

/// Everything that keeps a step out of a plan, in the order refusals, target, hazards, joints, limits.
///
/// Joints that count must keep `want.margin`; parts, guards and wires must keep their limit, and with less
/// than the margin left there a plan is close.
pub fn faults(setting: &Setting, step: StepIx, passage: &Passage) -> Vec<Fault> {
    let margin = setting.job().want.margin;
    let mut all = refusal_faults(step, passage);
    all.extend(hazard_faults(passage).map(|(fault, _)| fault));
    all.extend(counting(passage).filter_map(|s| joint_fault(margin, s)));
    all.extend(passage.limits.iter().filter_map(limit_fault));
    all
}

/// What keeps a step out whatever stands around: refusals, and a target that does not flow.
pub fn refusal_faults(step: StepIx, passage: &Passage) -> Vec<Fault> {
    let refused = passage.refusals.iter().map(refusal);
    let flow = passage.target.iter().filter_map(|t| match t.flow {
        Flow::Whole | Flow::NewMetalOnly => None,
        Flow::Barely | Flow::PartOfNewMetal => Some(close(Demand::Flow(step))),
        Flow::Not => Some(known(Demand::Flow(step))),
        Flow::Unknown => Some(unknown(Demand::Flow(step))),
    });
    refused.chain(flow).collect()
}

/// What falls, floats, tears, bursts or is not stated, and on whose state that hangs.
pub fn hazard_faults(passage: &Passage) -> impl Iterator<Item = (Fault, Subject)> + '_ {
    let told_elsewhere = |rule: Rule| {
        matches!(
            rule,
            Rule::Survives | Rule::Limit | Rule::Flows | Rule::Possible
        )
    };
    let hazards = passage.findings.iter();
    hazards
        .filter(move |finding| finding.counts && !told_elsewhere(finding.rule))
        .filter_map(|finding| Some((hazard_fault(finding)?, finding.by)))
}

fn hazard_fault(finding: &Finding) -> Option<Fault> {
    let demand = Demand::Safe(finding.rule, finding.of);
    match finding.verdict {
        Verdict::Holds => None,
        Verdict::Close => Some(close(demand)),
        Verdict::Unknown => Some(unknown(demand)),
        Verdict::Softens | Verdict::DoesNotFlow | Verdict::Limit | Verdict::Melts => {
            Some(known(demand))
        }
    }
}

/// What a joint that counts does not keep.
pub fn joint_fault(wanted: KelvinStep, sight: &Sight) -> Option<Fault> {
    short_of(
        Demand::Keep(sight.joint),
        joint_margin(sight),
        wanted,
        sight.verdict,
    )
}

/// What a part, guard or wire does not keep.
pub fn limit_fault(sight: &LimitSight) -> Option<Fault> {
    short_of(
        Demand::Limit(sight.of),
        limit_margin(sight),
        KelvinStep::ZERO,
        sight.verdict,
    )
}

fn short_of(
    demand: Demand,
    kept: Option<KelvinStep>,
    least: KelvinStep,
    verdict: Verdict,
) -> Option<Fault> {
    match (kept, verdict) {
        (Some(kept), _) if kept < least => Some(known(demand)),
        (None, _) | (Some(_), Verdict::Unknown) => Some(unknown(demand)),
        (Some(_), Verdict::Holds) => None,
        (Some(_), Verdict::Close) => Some(close(demand)),
        (Some(_), _) => Some(known(demand)),
    }
}

const fn known(demand: Demand) -> Fault {
    Fault {
        demand: Some(demand),
        unknown: false,
        close: false,
    }
}

const fn close(demand: Demand) -> Fault {
    Fault {
        demand: Some(demand),
        unknown: false,
        close: true,
    }
}

const fn unknown(demand: Demand) -> Fault {
    Fault {
        demand: Some(demand),
        unknown: true,
        close: false,
    }
}

fn refusal(refusal: &Refusal) -> Fault {
    match *refusal {
        Refusal::OutOfReach(joint) => known(Demand::Access(joint)),
        Refusal::GlueHolds(part) => known(Demand::Glue(part)),
        Refusal::GlueUnknown(part) => unknown(Demand::Glue(part)),
        Refusal::NotChecked => known(Demand::Checked),
        Refusal::Covered(joint, _) => known(Demand::Cover(joint)),
        Refusal::Loose(wire, _) => known(Demand::Tied(wire)),
        Refusal::Open(joint) => known(Demand::Made(joint)),
        Refusal::NotOnBoard(_)
        | Refusal::StillOnBoard(_)
        | Refusal::Taken(..)
        | Refusal::NoSolder(_)
        | Refusal::TooLittle(_)
        | Refusal::Wired(..)
        | Refusal::InTheWay(_)
        | Refusal::NothingThere(_)
        | Refusal::NoMetal(_) => Fault {
            demand: None,
            unknown: false,
            close: false,
        },
    }
}

/// Demands that the finished board does not keep: law and service.
pub fn end_faults(setting: &Setting, bench: &Bench) -> Vec<Fault> {
    let law = breaches(setting, bench).into_iter().filter_map(|breach| {
        let demand = match breach.rule {
            Law::Lead => Demand::LeadFree,
            Law::Cadmium => Demand::CadmiumFree,
            // Brittle is not forbidden: it keeps a plan from holding.
            Law::Gold => Demand::Safe(Rule::Law(Law::Gold), Subject::Joint(breach.joint)),
        };
        match breach.verdict(setting) {
            Verdict::Holds => None,
            Verdict::Close => Some(close(demand)),
            _ => Some(known(demand)),
        }
    });
    let hottest = setting.job().want.service;
    let service = hottest.map_or_else(Vec::new, |t| service(setting, bench, t));
    let service = service.into_iter().filter_map(|s| match s.verdict {
        Verdict::Holds => None,
        Verdict::Close | Verdict::Softens => Some(close(Demand::Service)),
        Verdict::Unknown => Some(unknown(Demand::Service)),
        Verdict::DoesNotFlow | Verdict::Limit | Verdict::Melts => Some(known(Demand::Service)),
    });
    law.chain(service).collect()
}

/// Every known margin of a step, over joints that count and limits.
pub fn margins(passage: &Passage) -> impl Iterator<Item = (Place, KelvinStep)> + '_ {
    let joints = counting(passage).filter_map(|s| Some((Place::Joint(s.joint), joint_margin(s)?)));
    let limits = passage
        .limits
        .iter()
        .filter_map(|l| Some((Place::Limit(l.of), limit_margin(l)?)));
    joints.chain(limits)
}

fn counting(passage: &Passage) -> impl Iterator<Item = &Sight> {
    passage.sights.iter().filter(|s| !s.may_melt)
}

/// Where only the tool's own temperature is known, that is taken as seen.
fn joint_margin(sight: &Sight) -> Option<KelvinStep> {
    match sight.seen {
        Seen::UpTo(Some(top)) => sight.melt.survival.map(|survival| survival - top),
        _ => sight.margin,
    }
}

fn limit_margin(sight: &LimitSight) -> Option<KelvinStep> {
    match sight.seen {
        Seen::UpTo(Some(top)) => Some(sight.limit - top),
        _ => sight.margin,
    }
}
