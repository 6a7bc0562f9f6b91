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

/// A joint, the parts that stand or may be set on it, and masks that go over it.
pub fn belonging(job: &Job, joint: JointIx) -> Vec<Thing> {
    let mut all = vec![Thing::Joint(joint)];
    let parts = job.parts.iter().enumerate();
    let at_start = parts.filter(|(_, part)| part.on == Some(joint));
    all.extend(at_start.map(|(p, _)| Thing::Part(PartIx(p))));
    all.extend(job.joints[joint.0].site_of.map(Thing::Part));
    for step in &job.steps {
        match &step.work {
            Work::Place { part, on, .. } if *on == joint => all.push(Thing::Part(*part)),
            Work::Cover { guard, over } if over.contains(&joint) => all.push(Thing::Guard(*guard)),
            _ => {}
        }
    }
    all
}
