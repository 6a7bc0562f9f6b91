//! Facts of a job that cannot all be true: each thing may be said, but not with the other.

use super::desk::Desk;
use super::fields::Fields;
use super::shape::{Job, Joint, Part, Wire, Work};
use crate::quantity::Length;
use crate::yaml::Place;

/// How far a wire may seem too short for where its ends are said to be: members of a group lie around its
/// middle, and places are read off with a ruler (our judgement).
const RULER_MM: f64 = 3.0;

/// Tells all of them.
pub(super) fn check(job: &Job, fields: &Fields, desk: &mut Desk) {
    let place = |list: &str, nth: usize| {
        let items = fields.items(list);
        items.get(nth).map_or(fields.place, |item| item.place)
    };
    for (p, part) in job.parts.iter().enumerate() {
        weighs_less_than_its_body(part, place("parts", p), desk);
        let own = part.balls.as_ref().map(|balls| balls.diameter);
        balls_overlap(part, own, place("parts", p), desk);
    }
    for (w, wire) in job.wires.iter().enumerate() {
        let at = place("wires", w);
        too_short(job, wire, at, desk);
        unequal_ends(job, wire, at, desk);
    }
    for (s, step) in job.steps.iter().enumerate() {
        if let Work::Reball {
            part,
            diameter: diameter @ Some(_),
            ..
        } = &step.work
        {
            balls_overlap(&job.parts[part.0], *diameter, place("steps", s), desk);
        }
    }
}

fn weighs_less_than_its_body(part: &Part, place: Place, desk: &mut Desk) {
    let Some((hang, mass)) = part.hang.zip(part.mass) else {
        return;
    };
    if hang.weight < mass {
        desk.fault(
            place,
            format!(
                "`{}` hangs with {} mg (`hangs`) and its body alone has {} mg (`mass_mg`): want one of them",
                part.id,
                hang.weight.mg(),
                mass.mg()
            ),
        );
    }
}

/// Balls in a full square grid below a body touch where they are as wide as its pitch.
fn balls_overlap(part: &Part, diameter: Option<Length>, place: Place, desk: &mut Desk) {
    let (Some(balls), Some((wide, tall)), Some(diameter)) = (&part.balls, part.size, diameter)
    else {
        return;
    };
    let pitch = (wide.mm() * tall.mm() / f64::from(balls.count)).sqrt();
    if balls.count > 1 && diameter.mm() > pitch {
        desk.fault(
            place,
            format!(
                "{} balls of {} mm do not fit below a body of {} × {} mm: want at most {:.2} mm",
                balls.count,
                diameter.mm(),
                wide.mm(),
                tall.mm(),
                pitch
            ),
        );
    }
}

fn too_short(job: &Job, wire: &Wire, place: Place, desk: &mut Desk) {
    let (from, to) = (&job.joints[wire.from.0], &job.joints[wire.to.0]);
    let (Some(a), Some(b), Some(length)) = (from.at, to.at, wire.length) else {
        return;
    };
    let ((ax, ay), (bx, by)) = (a.mm(), b.mm());
    let reach = |joint: &Joint| joint.reach.map_or(0.0, Length::mm);
    let apart = (ax - bx).hypot(ay - by) - reach(from) - reach(to) - RULER_MM;
    if length.mm() < apart {
        desk.fault(
            place,
            format!(
                "wire `{}` is {} mm long, and `at_mm` puts its ends {:.0} mm apart",
                wire.id,
                length.mm(),
                (ax - bx).hypot(ay - by)
            ),
        );
    }
}

/// A wire of a group stands for one at each member: from four pads none goes to six.
fn unequal_ends(job: &Job, wire: &Wire, place: Place, desk: &mut Desk) {
    let (from, to) = (&job.joints[wire.from.0], &job.joints[wire.to.0]);
    if from.count > 1 && to.count > 1 && from.count != to.count {
        desk.fault(
            place,
            format!(
                "wire `{}` goes from {} members of `{}` to {} of `{}`: want as many at both ends, or a group of their own for those that get a wire",
                wire.id, from.count, from.id, to.count, to.id
            ),
        );
    }
}
