//! What a step works on.

use crate::job::{GuardIx, Job, JointIx, PartIx, Work};

/// Something that a step may work on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Thing {
    /// A group of joints.
    Joint(JointIx),
    /// A part.
    Part(PartIx),
    /// A guard.
    Guard(GuardIx),
    /// The check before power, and power.
    Power,
}

/// What a step works on; a part brings the joints it may stand on.
pub fn touches(job: &Job, step: usize) -> Vec<Thing> {
    let joint = |at: &JointIx| Thing::Joint(*at);
    match &job.steps[step].work {
        Work::Solder { joint: at, .. } => vec![joint(at)],
        Work::Place { part, on, .. } => vec![Thing::Part(*part), joint(on)],
        Work::Remove { part, .. } => {
            let mut things = vec![Thing::Part(*part)];
            things.extend(job.parts[part.0].on.map(Thing::Joint));
            let set = job.steps.iter().filter_map(|step| match step.work {
                Work::Place { part: set, on, .. } if set == *part => Some(on),
                _ => None,
            });
            things.extend(set.map(Thing::Joint));
            things
        }
        Work::Reball { part, .. } | Work::Move { part, .. } => vec![Thing::Part(*part)],
        Work::Clean { joint, part, .. } => {
            let joint = joint.map(Thing::Joint);
            joint.into_iter().chain(part.map(Thing::Part)).collect()
        }
        Work::Cover { guard, .. } => vec![Thing::Guard(*guard)],
        Work::OtherHeat { joint, .. } => joint.map(Thing::Joint).into_iter().collect(),
        Work::WholeBoard { .. } => Vec::new(),
        Work::Gate { .. } | Work::Power => vec![Thing::Power],
    }
}
