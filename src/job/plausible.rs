//! Facts of a job that cannot all be true: each thing may be said, but not with the other.

use super::desk::Desk;
use super::fields::Fields;
use super::shape::{Job, Joint, JointIx, Part, PartIx, Start, Step, Where, Wire, Work};
use crate::quantity::{Celsius, Length};
use crate::yaml::Place;

/// How far a wire may seem too short for where its ends are said to be: members of a group lie around its
/// middle, and places are read off with a ruler (our judgement).
const RULER_MM: f64 = 3.0;

/// How much more pad a part may hang by than the job gives its joints: fillets that climb leads are wetted too
/// (our judgement).
const MORE_PAD: f64 = 3.0;

/// Tells all of them.
pub(super) fn check(job: &Job, fields: &Fields, desk: &mut Desk) {
    let place = |list: &str, nth: usize| {
        let items = fields.items(list);
        items.get(nth).map_or(fields.place, |item| item.place)
    };
    for (p, part) in job.parts.iter().enumerate() {
        weighs_less_than_its_body(part, place("parts", p), desk);
        hangs_by_more_than_its_pads(job, part, place("parts", p), desk);
        let own = part.balls.as_ref().map(|balls| balls.diameter);
        balls_overlap(part, own, place("parts", p), desk);
    }
    for (w, wire) in job.wires.iter().enumerate() {
        let at = place("wires", w);
        too_short(job, wire, at, desk);
        unequal_ends(job, wire, at, desk);
    }
    for (s, step) in job.steps.iter().enumerate() {
        colder_than_its_preheat(job, step, place("steps", s), desk);
        if let Work::Place { part, on, .. } = &step.work {
            set_from_both_sides(job, on, place("steps", s), desk);
            left_open(job, *part, on, place("steps", s), desk);
        }
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

/// A part that is set down is set from one side of the board.
fn set_from_both_sides(job: &Job, on: &[JointIx], place: Place, desk: &mut Desk) {
    let side = |under: bool| {
        on.iter()
            .map(|at| &job.joints[at.0])
            .find(|at| at.under == under)
    };
    if let (Some(above), Some(under)) = (side(false), side(true)) {
        desk.fault(
            place,
            format!(
                "`{}` lies on the upper side of the board and `{}` on the underside: a part is set down from one side, want a step for each",
                above.id, under.id
            ),
        );
    }
}

/// A group of joints below a part that is set down, on which nothing in the job ever works: it would stay open.
fn left_open(job: &Job, part: PartIx, on: &[JointIx], place: Place, desk: &mut Desk) {
    let at_home = on.iter().any(|at| job.joints[at.0].site_of == Some(part));
    let own = |at: usize| job.joints[at].site_of == Some(part) && !on.contains(&JointIx(at));
    let mut forgotten =
        (0..job.joints.len()).filter(|at| own(*at) && !is_worked_on(job, JointIx(*at)));
    if let Some(at) = forgotten.next().filter(|_| at_home) {
        let (group, part) = (&job.joints[at].id, &job.parts[part.0].id);
        desk.fault(
            place,
            format!(
                "`{group}` lies below `{part}` too, and nothing solders it: want it in `on`, or no `at: {part}` where nothing hangs on it"
            ),
        );
    }
}

/// Whether a joint stands, or a step or a wire ever has to do with it.
fn is_worked_on(job: &Job, at: JointIx) -> bool {
    let wired = job
        .wires
        .iter()
        .any(|wire| wire.from == at || wire.to == at);
    let worked = job.steps.iter().any(|step| match &step.work {
        Work::Solder { joint, .. } => *joint == at,
        Work::Place { on, .. } => on.contains(&at),
        Work::Clean { joint, .. } | Work::OtherHeat { joint, .. } => *joint == Some(at),
        _ => false,
    });
    wired || worked || job.joints[at.0].start == Start::Standing
}

/// A place in the preheated area, or nobody knows where, that is said to see less than the preheat.
fn colder_than_its_preheat(job: &Job, step: &Step, place: Place, desk: &mut Desk) {
    for way in &step.ways {
        let Some(area) = way.preheat_area else {
            continue;
        };
        let (left, low) = (area.from.x.mm(), area.from.y.mm());
        let (right, high) = (area.to.x.mm(), area.to.y.mm());
        let beside = |(key, _): &&(Where, Celsius)| {
            let around = spot(job, *key);
            around.is_some_and(|((x, y), reach)| {
                x + reach < left || x - reach > right || y + reach < low || y - reach > high
            })
        };
        let mut cold = way.sees.iter().filter(|(_, t)| *t < way.preheat);
        if let Some((key, t)) = cold.find(|seen| !beside(seen)) {
            desk.fault(
                place,
                format!(
                    "{} sees {t} on a board preheated to {}: that may be only beside `preheat_area_mm`, and `at_mm` does not put it there",
                    name(job, *key),
                    way.preheat
                ),
            );
        }
    }
}

/// Where something is, and how far it reaches around, in mm.
fn spot(job: &Job, key: Where) -> Option<((f64, f64), f64)> {
    let (at, reach) = match key {
        Where::Joint(joint) => {
            let joint = &job.joints[joint.0];
            let part = joint.site_of.map(|part| &job.parts[part.0]);
            let at = joint.at.or(part.and_then(|part| part.at));
            (at, joint.reach.or(part.and_then(Part::reach)))
        }
        Where::Part(part) => (job.parts[part.0].at, job.parts[part.0].reach()),
        Where::Guard(guard) => (job.guards[guard.0].at, job.guards[guard.0].reach),
        Where::Zone(_) | Where::Rest => (None, None),
    };
    Some((at?.mm(), reach.map_or(0.0, Length::mm)))
}

fn name(job: &Job, key: Where) -> &str {
    match key {
        Where::Joint(at) => &job.joints[at.0].id,
        Where::Part(at) => &job.parts[at.0].id,
        Where::Guard(at) => &job.guards[at.0].id,
        Where::Zone(at) => &job.zones[at.0].id,
        Where::Rest => "the rest",
    }
}

/// A part that hangs by more pad than the job gives it.
fn hangs_by_more_than_its_pads(job: &Job, part: &Part, place: Place, desk: &mut Desk) {
    let pads = part.on.iter().map(|joint| {
        let joint = &job.joints[joint.0];
        joint.pad.map(|pad| pad.area.mm2() * f64::from(joint.count))
    });
    let pads: Option<f64> = pads.sum();
    if let (Some(hang), Some(pads)) = (part.hang, pads.filter(|_| !part.on.is_empty()))
        && hang.area.mm2() > MORE_PAD * pads
    {
        desk.fault(
            place,
            format!(
                "`{}` hangs by {} mm² (`pad_area_mm2`), and the pads that it stands on have {pads:.2} mm² in all",
                part.id,
                hang.area.mm2()
            ),
        );
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

#[cfg(test)]
mod tests {
    use crate::alloy::AlloyBook;
    use crate::job::read;

    fn told(text: &str) -> String {
        match read(
            &format!("job: a table\n{text}"),
            "table.yaml",
            AlloyBook::shipped(),
        ) {
            Ok(_) => String::new(),
            Err(faults) => faults.to_string(),
        }
    }

    #[test]
    fn what_cannot_both_be_true_is_refused_with_both() {
        let wire = |mm: u32, more: &str| {
            told(&format!(
                "joints: [{{id: a, at_mm: [10, 10]{more}}}, {{id: b, at_mm: [10, 90]}}]\n\
                 wires: [{{id: w, from: a, to: b, diameter_um: 100, length_mm: {mm}}}]\n"
            ))
        };
        // 80 mm apart, less 3 for the ruler and what the group reaches.
        assert!(wire(76, "").contains("80 mm apart"), "{}", wire(76, ""));
        assert_eq!(wire(77, ""), "");
        assert_eq!(wire(74, ", reach_mm: 4"), "");
        let ends = |n: u32| {
            told(&format!(
                "joints: [{{id: a, count: 4}}, {{id: b, count: {n}}}]\nwires: [{{id: w, from: a, to: b, diameter_um: 100}}]\n"
            ))
        };
        assert!(ends(6).contains("as many at both ends"));
        assert_eq!((ends(4), ends(1)), (String::new(), String::new()));
        let balls = |um: u32| {
            told(&format!(
                "parts: [{{id: u, size_mm: [8, 8, 1], balls: {{count: 64, diameter_um: {um}, alloy: SAC305}}}}]\n"
            ))
        };
        assert!(balls(1001).contains("do not fit"));
        assert_eq!(balls(1000), "");
        let hangs = |weight: u32, area: &str| {
            told(&format!(
                "parts: [{{id: u, on: s, mass_mg: 900, hangs: {{weight_mg: {weight}, pad_area_mm2: {area}}}}}]\n\
                 joints: [{{id: s, count: 2, pad_mm2: 1, alloy: SAC305, mg: 1}}]\n"
            ))
        };
        assert!(hangs(899, "2").contains("899 mg"));
        assert_eq!(hangs(900, "6"), "");
        assert!(hangs(900, "6.1").contains("6.1 mm²"));
    }

    #[test]
    fn a_part_is_set_from_one_side_and_leaves_nothing_open() {
        let text = |more: &str, on: &str, steps: &str| {
            told(&format!(
                "parts: [{{id: u}}]\njoints: [{{id: a, at: u}}, {{id: b, at: u{more}}}]\nsteps: [{{id: s, do: place, part: u, \
                 on: {on}, alloy: Sn63Pb37, mg: 1, tool: air}}{steps}]\n"
            ))
        };
        assert_eq!(text("", "[a, b]", ""), "");
        assert!(text(", side: under", "[a, b]", "").contains("from one side"));
        assert!(text("", "a", "").contains("`b` lies below `u` too"));
        assert_eq!(
            text("", "a", ", {id: t, do: clean, joint: b, tool: iron}"),
            ""
        );
        assert_eq!(text(", alloy: Sn63Pb37, mg: 1", "a", ""), "");
    }

    #[test]
    fn only_beside_the_preheated_area_may_something_be_colder_than_it() {
        let text = |at: &str| {
            told(&format!(
                "joints: [{{id: x, at_mm: [10, 10]}}, {{id: lo, alloy: Bi58Sn42, mg: 1{at}}}]\nsteps: [{{id: s, do: solder, \
                 joint: x, alloy: Sn63Pb37, mg: 1, tool: iron, preheat_c: 120, preheat_area_mm: [0, 0, 30, 30], sees_c: {{lo: 45}}}}]\n"
            ))
        };
        assert!(text(", at_mm: [12, 10]").contains("sees 45 °C"));
        assert!(text("").contains("sees 45 °C"), "nobody knows where it is");
        assert_eq!(text(", at_mm: [40, 10]"), "");
        assert!(text(", at_mm: [40, 10], reach_mm: 10").contains("sees 45 °C"));
    }
}
