//! What a step works on.

use crate::bench::bodies_over;
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

/// What a step works on, and the parts that are in its way while they stand.
pub fn touches(job: &Job, step: usize) -> Vec<Thing> {
    let mut all = works_on(job, step);
    let bodies = bodies_over(job, &job.steps[step].work);
    all.extend(bodies.into_iter().map(Thing::Part));
    all
}

/// What a step works on; a part brings the joints it may stand on.
pub fn works_on(job: &Job, step: usize) -> Vec<Thing> {
    let joint = |at: &JointIx| Thing::Joint(*at);
    match &job.steps[step].work {
        Work::Solder { joint: at, .. } => {
            let mut things = vec![joint(at)];
            // Pads of a chip on its back: it lies on the board from then on.
            things.extend(job.joints[at.0].site_of.map(Thing::Part));
            things
        }
        Work::Place { part, on, .. } => {
            let mut things = vec![Thing::Part(*part)];
            things.extend(on.iter().map(joint));
            things
        }
        Work::Remove { part, .. } => {
            let mut things = vec![Thing::Part(*part)];
            things.extend(job.parts[part.0].on.iter().map(joint));
            let set = job.steps.iter().filter_map(|step| match &step.work {
                Work::Place { part: set, on, .. } if set == part => Some(on.iter().map(joint)),
                _ => None,
            });
            things.extend(set.flatten());
            let sites = job.joints.iter().enumerate();
            let own = sites.filter(|(_, site)| site.site_of == Some(*part));
            things.extend(own.map(|(at, _)| Thing::Joint(JointIx(at))));
            things
        }
        Work::Reball { part, .. } => vec![Thing::Part(*part)],
        Work::Move { part, .. } => {
            let joints = asked_before_move(job, *part).map(Thing::Joint);
            std::iter::once(Thing::Part(*part)).chain(joints).collect()
        }
        Work::Clean { joint, part, .. } => {
            let joint = joint.map(Thing::Joint);
            joint.into_iter().chain(part.map(Thing::Part)).collect()
        }
        // Mask is not cured below a part that stands.
        Work::Cover { guard, over } => {
            let over = over.iter().map(joint);
            std::iter::once(Thing::Guard(*guard)).chain(over).collect()
        }
        Work::Uncover { guard } => vec![Thing::Guard(*guard)],
        Work::OtherHeat { joint, .. } => joint.map(Thing::Joint).into_iter().collect(),
        // A bake may dry every part on the board.
        Work::WholeBoard {
            part: None,
            bake: true,
            ..
        } => (0..job.parts.len())
            .map(|p| Thing::Part(PartIx(p)))
            .collect(),
        Work::WholeBoard { part, .. } => part.map(Thing::Part).into_iter().collect(),
        Work::Gate { .. } => vec![Thing::Power],
        Work::Power => {
            let joints = asked_before_power(job).map(Thing::Joint);
            std::iter::once(Thing::Power).chain(joints).collect()
        }
    }
}

/// Joints that are looked at before a part is moved: ends of wires that may hold it.
pub fn asked_before_move(job: &Job, part: PartIx) -> impl Iterator<Item = JointIx> + '_ {
    let own = move |at: JointIx| job.joints[at.0].site_of == Some(part);
    let wires = job.wires.iter();
    let across = wires.filter(move |wire| own(wire.from) != own(wire.to));
    across.flat_map(|wire| [wire.from, wire.to])
}

/// Joints that are looked at before power: whether every wire is tied, and what was soldered stands.
pub fn asked_before_power(job: &Job) -> impl Iterator<Item = JointIx> + '_ {
    let ends = job.wires.iter().flat_map(|wire| [wire.from, wire.to]);
    let soldered = job.steps.iter().filter_map(|step| match step.work {
        Work::Solder { joint, .. } => Some(joint),
        _ => None,
    });
    ends.chain(soldered)
}

/// A joint, the parts that stand or may be set on it, and masks that go over it.
pub fn belonging(job: &Job, joint: JointIx) -> Vec<Thing> {
    let mut all = vec![Thing::Joint(joint)];
    let parts = job.parts.iter().enumerate();
    let at_start = parts.filter(|(_, part)| part.on.contains(&joint));
    all.extend(at_start.map(|(p, _)| Thing::Part(PartIx(p))));
    all.extend(job.joints[joint.0].site_of.map(Thing::Part));
    let guards = job.guards.iter().enumerate();
    let over = guards.filter(|(_, guard)| guard.over.contains(&joint));
    all.extend(over.map(|(g, _)| Thing::Guard(GuardIx(g))));
    for step in &job.steps {
        match &step.work {
            Work::Place { part, on, .. } if on.contains(&joint) => all.push(Thing::Part(*part)),
            Work::Cover { guard, over } if over.contains(&joint) => all.push(Thing::Guard(*guard)),
            _ => {}
        }
    }
    all
}
