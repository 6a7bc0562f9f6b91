//! What belongs together: the groups of joints that a part stands on, and whether the counts add up.

use super::desk::Desk;
use super::fields::{Fields, list};
use super::shape::{Job, JointIx, Part, PartIx, Start, Work};
use crate::yaml::Place;

/// Groups that a part stands on besides those it names: what is its site (`at`), stands soldered from
/// the start, and carries no other part. They hold metal of their own and no ball.
pub(super) fn gather(job: &mut Job) {
    let extra: Vec<Vec<JointIx>> = (0..job.parts.len())
        .map(|part| unnamed_groups(job, PartIx(part)))
        .collect();
    for (part, lugs) in job.parts.iter_mut().zip(extra) {
        part.on.extend(&lugs);
        part.on.sort();
        part.lugs = lugs;
    }
}

fn unnamed_groups(job: &Job, part: PartIx) -> Vec<JointIx> {
    let on = &job.parts[part.0].on;
    if on.is_empty() {
        return Vec::new();
    }
    let carries_other = |at: JointIx| {
        let others = job.parts.iter().enumerate();
        others
            .filter(|(p, _)| *p != part.0)
            .any(|(_, other)| other.on.contains(&at))
    };
    let joints = job.joints.iter().enumerate();
    joints
        .filter(|(_, joint)| joint.site_of == Some(part) && joint.start == Start::Standing)
        .map(|(j, _)| JointIx(j))
        .filter(|at| !on.contains(at) && !carries_other(*at))
        .collect()
}

/// Balls and pads must be as many as each other, wherever a part stands or is set down.
pub(super) fn check_counts(job: &Job, fields: &Fields, desk: &mut Desk) {
    let places = |key| -> Vec<Place> { fields.items(key).iter().map(|item| item.place).collect() };
    let (parts, steps) = (places("parts"), places("steps"));
    for (part, place) in job.parts.iter().zip(&parts) {
        let balled: Vec<JointIx> = part
            .on
            .iter()
            .filter(|at| !part.lugs.contains(at))
            .copied()
            .collect();
        check_one(job, part, &balled, "stands on", *place, desk);
    }
    for (step, place) in job.steps.iter().zip(&steps) {
        if let Work::Place { part, on, .. } = &step.work {
            check_one(job, &job.parts[part.0], on, "is set on", *place, desk);
        }
    }
}

fn check_one(job: &Job, part: &Part, on: &[JointIx], verb: &str, place: Place, desk: &mut Desk) {
    let Some(balls) = &part.balls else { return };
    if on.is_empty() {
        return;
    }
    let pads: u32 = on
        .iter()
        .fold(0, |sum, at| sum.saturating_add(job.joints[at.0].count));
    if pads == balls.count {
        return;
    }
    let names = list(on.iter().map(|at| job.joints[at.0].id.as_str()));
    desk.fault_with(
        place,
        format!(
            "`{}` has {} balls and {verb} {pads} pads ({names})",
            part.id, balls.count
        ),
        Some(
            "counts must add up: want every group it stands on, as `on: [clean, rebuilt]`, with the `count` of each"
                .to_owned(),
        ),
    );
}
