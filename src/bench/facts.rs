//! What follows from the job alone and is asked on every bench: which part carries a joint on its own
//! body, what comes off anyway, which parts lie about.

use super::bodies::bodies_over;
use crate::job::{Job, JointIx, PartIx, Start, Step, WireIx, Work};

/// Facts of one job, worked out once.
#[derive(Clone, Debug, Default)]
pub struct Facts {
    carriers: Vec<Option<PartIx>>,
    comes_off: Vec<bool>,
    lies: Vec<bool>,
    /// Parts without data that a step which must be done takes off.
    taken_off: Vec<bool>,
    /// For each step that they may keep from where it works, by its id, the bodies that lie over the place.
    bodies_over: Vec<(String, Vec<PartIx>)>,
    tied_by_steps: Vec<(WireIx, JointIx)>,
    /// Joints that a step which must be done solders, and that no part is taken off.
    made_by_steps: Vec<JointIx>,
    /// For each power step, by its id, the joints that steps soldered after it in so many words.
    after_power: Vec<(String, Vec<JointIx>)>,
}

impl Facts {
    /// Of a job.
    pub fn of(job: &Job) -> Self {
        let joints = (0..job.joints.len()).map(JointIx);
        Facts {
            carriers: joints.clone().map(|joint| carrier(job, joint)).collect(),
            comes_off: joints.map(|joint| comes_off(job, joint)).collect(),
            lies: (0..job.parts.len())
                .map(|part| !is_handled(job, PartIx(part)) && is_about(job, PartIx(part)))
                .collect(),
            taken_off: (0..job.parts.len())
                .map(|part| is_taken_off(job, PartIx(part)))
                .collect(),
            bodies_over: job
                .steps
                .iter()
                .map(|step| (step.id.clone(), bodies_over(job, &step.work)))
                .filter(|(_, parts)| !parts.is_empty())
                .collect(),
            after_power: job
                .steps
                .iter()
                .enumerate()
                .filter(|(_, step)| step.work == Work::Power)
                .map(|(at, step)| (step.id.clone(), soldered_after(job, at)))
                .collect(),
            made_by_steps: made_by_steps(job),
            tied_by_steps: job
                .steps
                .iter()
                .filter_map(|step| match step.work {
                    Work::Solder {
                        joint,
                        wire: Some(wire),
                        ..
                    } => Some((wire, joint)),
                    _ => None,
                })
                .collect(),
        }
    }

    /// The part on whose own body a group of joints is: pads of a chip on its back, lands on top of a
    /// part that carries another. It is as hot as they are.
    pub fn carrier(&self, joint: JointIx) -> Option<PartIx> {
        self.carriers.get(joint.0).copied().flatten()
    }

    /// The groups of joints on the body of a part.
    pub fn carried_by(&self, part: PartIx) -> impl Iterator<Item = JointIx> + '_ {
        let carriers = self.carriers.iter().enumerate();
        carriers
            .filter(move |(_, carrier)| **carrier == Some(part))
            .map(|(joint, _)| JointIx(joint))
    }

    /// What stands here comes off by a step that must be done: nobody needs it to survive until then.
    pub fn comes_off(&self, joint: JointIx) -> bool {
        self.comes_off.get(joint.0).is_some_and(|off| *off)
    }

    /// A part that no step takes in hand: where nothing says that it stands on joints, it lies somewhere on
    /// the board all the same.
    pub fn lies_about(&self, part: PartIx) -> bool {
        self.lies.get(part.0).is_some_and(|lies| *lies)
    }

    /// Whether some step ties a wire at that joint.
    pub fn is_tied_by_a_step(&self, wire: WireIx, joint: JointIx) -> bool {
        self.tied_by_steps.contains(&(wire, joint))
    }

    /// A part that holds no data, and that a step which must be done takes off.
    pub fn is_taken_off(&self, part: PartIx) -> bool {
        self.taken_off.get(part.0).is_some_and(|off| *off)
    }

    /// Parts whose bodies, where they stand, keep a step from the place where it works.
    pub fn bodies_over(&self, step: &str) -> &[PartIx] {
        let found = self.bodies_over.iter().find(|(of, _)| of == step);
        found.map_or(&[], |(_, parts)| parts)
    }

    /// Joints that must stand when power comes: a step that must be done solders them, and no part is taken
    /// off them.
    pub fn made_by_steps(&self) -> &[JointIx] {
        &self.made_by_steps
    }

    /// Joints that are soldered by steps which the job puts after a power step.
    pub fn soldered_after(&self, power: &str) -> &[JointIx] {
        let found = self.after_power.iter().find(|(id, _)| id == power);
        found.map_or(&[], |(_, joints)| joints)
    }

    /// Wires that end at a joint and that no step ties there in so many words: whoever solders the joint
    /// solders them in.
    pub fn ends_untied<'j>(
        &'j self,
        job: &'j Job,
        joint: JointIx,
    ) -> impl Iterator<Item = WireIx> + 'j {
        let wires = job.wires.iter().enumerate();
        let ends_here = wires.filter(move |(_, wire)| wire.from == joint || wire.to == joint);
        let ends_here = ends_here.map(|(w, _)| WireIx(w));
        ends_here.filter(move |wire| !self.is_tied_by_a_step(*wire, joint))
    }

    /// Whether some step ties a wire at any joint.
    pub fn is_tied_anywhere(&self, wire: WireIx) -> bool {
        self.tied_by_steps.iter().any(|(tied, _)| *tied == wire)
    }
}

fn carrier(job: &Job, joint: JointIx) -> Option<PartIx> {
    let part = job.joints[joint.0].site_of?;
    let stands_there = job.parts[part.0].on.contains(&joint);
    let is_set_there = job.steps.iter().any(|step| {
        matches!(&step.work, Work::Place { part: set, on, .. } if *set == part && on.contains(&joint))
    });
    (!stands_there && !is_set_there).then_some(part)
}

/// Old solder that a mandatory step takes off: with its part, if that holds no data and hangs nowhere, or
/// by the wick. What a wire is tied to is still needed.
fn comes_off(job: &Job, joint: JointIx) -> bool {
    let is_wired = job
        .wires
        .iter()
        .any(|wire| wire.from == joint || wire.to == joint);
    let mut on_it = job
        .parts
        .iter()
        .enumerate()
        .filter(|(_, part)| part.on.contains(&joint));
    let removed = |part: PartIx| {
        job.steps.iter().any(|step| {
            !step.optional && matches!(step.work, Work::Remove { part: off, .. } if off == part)
        })
    };
    let has_part = on_it.clone().next().is_some();
    let all_removed =
        on_it.all(|(p, part)| !part.vital && part.hang.is_none() && removed(PartIx(p)));
    let wicked = || {
        job.steps.iter().any(|step| {
            !step.optional
                && matches!(step.work, Work::Clean { joint: Some(at), .. } if at == joint)
        })
    };
    !is_wired && all_removed && (has_part || wicked())
}

/// A part that stands on nothing which the job names is about all the same, unless it is a spare: one with
/// balls, or with a site whose joints do not stand.
fn is_about(job: &Job, part: PartIx) -> bool {
    let mut sites = job
        .joints
        .iter()
        .filter(|joint| joint.site_of == Some(part));
    let has_site = sites.clone().next().is_some();
    let stands = sites.any(|joint| joint.start == Start::Standing);
    stands || (job.parts[part.0].balls.is_none() && !has_site)
}

fn made_by_steps(job: &Job) -> Vec<JointIx> {
    let mandatory = || job.steps.iter().filter(|step| !step.optional);
    let comes_off = |at: JointIx| {
        let removed = |part: PartIx| {
            job.parts[part.0].on.contains(&at) || job.joints[at.0].site_of == Some(part)
        };
        let mut steps = job.steps.iter();
        steps.any(|step| matches!(step.work, Work::Remove { part, .. } if removed(part)))
    };
    let soldered = mandatory().filter_map(|step| match step.work {
        Work::Solder { joint, .. } => Some(joint),
        _ => None,
    });
    let mut made: Vec<JointIx> = soldered.filter(|at| !comes_off(*at)).collect();
    made.sort();
    made.dedup();
    made
}

fn soldered_after(job: &Job, power: usize) -> Vec<JointIx> {
    let mut later = vec![power];
    let mut seen = 0;
    while let Some(&before) = later.get(seen) {
        seen += 1;
        for (at, step) in job.steps.iter().enumerate() {
            let waits = step.after.iter().any(|(earlier, _)| earlier.0 == before);
            if waits && !later.contains(&at) {
                later.push(at);
            }
        }
    }
    let soldered = later.into_iter().flat_map(|at| match &job.steps[at].work {
        Work::Solder { joint, .. } => vec![*joint],
        Work::Place { on, .. } => on.clone(),
        _ => Vec::new(),
    });
    soldered.collect()
}

fn is_taken_off(job: &Job, part: PartIx) -> bool {
    let takes = |step: &Step| {
        !step.optional && matches!(step.work, Work::Remove { part: off, .. } if off == part)
    };
    !job.parts[part.0].vital && job.steps.iter().any(takes)
}

fn is_handled(job: &Job, part: PartIx) -> bool {
    job.steps.iter().any(|step| match &step.work {
        Work::Place { part: p, .. }
        | Work::Remove { part: p, .. }
        | Work::Reball { part: p, .. }
        | Work::Move { part: p, .. }
        | Work::Clean { part: Some(p), .. }
        | Work::WholeBoard { part: Some(p), .. } => *p == part,
        _ => false,
    })
}
