//! What a step must keep, so that a plan may hold it.

use crate::bench::{Flow, LimitOf, LimitSight, Passage, Refusal, Seen, Sight};
use crate::job::{JointIx, Want};
use crate::quantity::KelvinStep;

/// A demand that a step does not keep.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Fault {
    /// It cannot be done on this bench.
    Refused(Refusal),
    /// The target does not flow.
    DoesNotFlow,
    /// Whether the target flows is not known.
    FlowUnknown,
    /// A joint keeps less than the wanted margin.
    Joint(JointIx, KelvinStep),
    /// What a joint keeps is not known.
    JointUnknown(JointIx),
    /// A part, guard or wire gets hotter than it may.
    Limit(LimitOf, KelvinStep),
    /// What a part, guard or wire keeps is not known.
    LimitUnknown(LimitOf),
}

impl Fault {
    /// It is one only because something is not known.
    pub const fn is_unknown(&self) -> bool {
        matches!(
            self,
            Fault::FlowUnknown
                | Fault::JointUnknown(_)
                | Fault::LimitUnknown(_)
                | Fault::Refused(Refusal::GlueUnknown(_))
        )
    }
}

/// Everything that keeps a step out of a plan, in the order refusals, target, joints, limits.
///
/// A joint that counts must keep `want.margin`; parts, guards and wires must keep their limit, and
/// a narrow escape of theirs is only flagged.
pub fn faults<'p>(want: &Want, passage: &'p Passage) -> impl Iterator<Item = Fault> + 'p {
    let margin = want.margin;
    let refused = passage.refusals.iter().cloned().map(Fault::Refused);
    let flow = passage.target.iter().filter_map(|t| match t.flow {
        Flow::Whole | Flow::NewMetalOnly => None,
        Flow::PartOfNewMetal | Flow::Not => Some(Fault::DoesNotFlow),
        Flow::Unknown => Some(Fault::FlowUnknown),
    });
    let joints = counting(passage).filter_map(move |s| match joint_margin(s) {
        None => Some(Fault::JointUnknown(s.joint)),
        Some(kept) if kept < margin => Some(Fault::Joint(s.joint, kept)),
        Some(_) => None,
    });
    let limits = passage.limits.iter().filter_map(|l| match limit_margin(l) {
        None => Some(Fault::LimitUnknown(l.of)),
        Some(kept) if kept < KelvinStep::ZERO => Some(Fault::Limit(l.of, kept)),
        Some(_) => None,
    });
    refused.chain(flow).chain(joints).chain(limits)
}

/// The tightest known margin of a step, over joints that count and limits; `None` where nothing
/// is at risk.
pub fn least_margin(passage: &Passage) -> Option<KelvinStep> {
    let joints = counting(passage).filter_map(joint_margin);
    joints
        .chain(passage.limits.iter().filter_map(limit_margin))
        .min()
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
