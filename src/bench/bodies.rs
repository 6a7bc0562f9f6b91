//! Bodies that stand where a tip or another part is to go: from `at_mm` and `size_mm` alone. What the job does
//! not place is in nobody's way.

use crate::job::{Job, JointIx, Part, PartIx, Work};

/// By how much two bodies may seem to overlap: places are read off with a ruler (our judgement).
const READ_OFF_MM: f64 = 0.5;

/// A body seen from above: its middle and half of its sides, in mm.
#[derive(Clone, Copy)]
struct Body {
    middle: (f64, f64),
    half: (f64, f64),
}

impl Body {
    fn of(part: &Part) -> Option<Self> {
        let (wide, tall) = part.size?;
        Some(Body {
            middle: part.at?.mm(),
            half: (wide.mm() / 2.0, tall.mm() / 2.0),
        })
    }

    fn apart(self, (x, y): (f64, f64)) -> (f64, f64) {
        ((self.middle.0 - x).abs(), (self.middle.1 - y).abs())
    }

    fn is_over(self, place: (f64, f64)) -> bool {
        let (dx, dy) = self.apart(place);
        dx + READ_OFF_MM < self.half.0 && dy + READ_OFF_MM < self.half.1
    }

    fn overlaps(self, other: Body) -> bool {
        let (dx, dy) = self.apart(other.middle);
        let deep = |apart: f64, a: f64, b: f64| a + b - apart > READ_OFF_MM.min(a.min(b));
        deep(dx, self.half.0, other.half.0) && deep(dy, self.half.1, other.half.1)
    }

    /// A lid goes over what it has room for.
    fn has_room_for(self, other: Body) -> bool {
        let (dx, dy) = self.apart(other.middle);
        dx + other.half.0 <= self.half.0 && dy + other.half.1 <= self.half.1
    }
}

/// Groups of joints that have to do with a part: it stands there, is set there, or they are its own pads.
pub fn groups_of(job: &Job, part: PartIx) -> Vec<JointIx> {
    let mut all = job.parts[part.0].on.clone();
    let joints = (0..job.joints.len()).map(JointIx);
    all.extend(joints.filter(|at| job.joints[at.0].site_of == Some(part)));
    for step in &job.steps {
        if let Work::Place { part: set, on, .. } = &step.work
            && *set == part
        {
            all.extend(on);
        }
    }
    all
}

fn is_under(job: &Job, groups: &[JointIx]) -> bool {
    groups.iter().any(|at| job.joints[at.0].under)
}

/// Parts whose bodies, where they stand, keep a step from the place where it works: a tip or a mask from a joint, a
/// part from where it is set or stands.
pub fn bodies_over(job: &Job, work: &Work) -> Vec<PartIx> {
    match work {
        Work::Solder { joint, .. }
        | Work::Clean {
            joint: Some(joint), ..
        } => over_joint(job, *joint),
        Work::Cover { over, .. } => {
            let mut all: Vec<PartIx> = over.iter().flat_map(|at| over_joint(job, *at)).collect();
            all.sort();
            all.dedup();
            all
        }
        Work::Place { part, .. } | Work::Remove { part, .. } => over_part(job, *part),
        _ => Vec::new(),
    }
}

/// Parts that, where they stand, lie over a joint that is none of theirs: no tip gets there.
fn over_joint(job: &Job, joint: JointIx) -> Vec<PartIx> {
    let facts = &job.joints[joint.0];
    let own = facts.site_of.map(|part| &job.parts[part.0]);
    let Some(place) = facts.at.or(own.and_then(|part| part.at)) else {
        return Vec::new();
    };
    let parts = (0..job.parts.len()).map(PartIx);
    let others = parts.filter(|part| {
        let own = groups_of(job, *part);
        !own.contains(&joint) && is_under(job, &own) == facts.under
    });
    others
        .filter(|part| Body::of(&job.parts[part.0]).is_some_and(|body| body.is_over(place.mm())))
        .collect()
}

/// Parts that, where they stand, leave no room for this one: not what stands on it or carries it, nor what
/// shares its joints (one of both is taken off first anyway), nor what a lid goes over.
fn over_part(job: &Job, part: PartIx) -> Vec<PartIx> {
    let Some(body) = Body::of(&job.parts[part.0]) else {
        return Vec::new();
    };
    let own = groups_of(job, part);
    let is_lid = job.parts[part.0].balls.is_none();
    let parts = (0..job.parts.len()).map(PartIx);
    let in_the_way = |other: &PartIx| {
        let Some(there) = Body::of(&job.parts[other.0]) else {
            return false;
        };
        let theirs = groups_of(job, *other);
        let shares = theirs.iter().any(|at| own.contains(at));
        let same_side = is_under(job, &theirs) == is_under(job, &own);
        let below = is_lid && body.has_room_for(there);
        *other != part && !shares && same_side && body.overlaps(there) && !below
    };
    parts.filter(in_the_way).collect()
}
