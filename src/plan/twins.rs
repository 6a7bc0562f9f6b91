//! Tasks that differ in nothing but their names: what may be done with one of them may be done with another.
//!
//! Two steps that solder joints of their own are twins if nothing but themselves names those joints, both joints and
//! both steps say the same, and whatever waits for one of them waits for the other. Exchanging their names then gives
//! the same job. While neither is done, nothing has told their joints apart: whatever plan goes on with the second of
//! them has a mirror that goes on with the first, and keeps as much. So of twins that are left only the first need be
//! looked at, as long as it is margins that are asked for and not ids.

use crate::job::{Job, Joint, JointIx, Step, StepIx, Where, Work};

use super::demands::{Demand, Terms};

/// For each of some steps the first of them that is its twin: itself, where there is none before it.
pub(super) fn first_twins(job: &Job, steps: &[StepIx], terms: &Terms) -> Vec<usize> {
    let alone = || (0..steps.len()).collect();
    let of_all = |demand: &Demand| {
        matches!(
            demand,
            Demand::LeadFree | Demand::CadmiumFree | Demand::Service
        )
    };
    // What is given up may be given up of one of them alone.
    if !terms.gone.is_empty() || !terms.dropped.iter().all(of_all) {
        return alone();
    }
    let mut first: Vec<usize> = alone();
    for at in 0..steps.len() {
        let earlier = (0..at).filter(|&one| first[one] == one);
        let twin = earlier
            .into_iter()
            .find(|&one| are_twins(job, steps[one], steps[at]));
        first[at] = twin.unwrap_or(at);
    }
    first
}

fn are_twins(job: &Job, one: StepIx, other: StepIx) -> bool {
    let (Some(a), Some(b)) = (own_joint(&job.steps[one.0]), own_joint(&job.steps[other.0])) else {
        return false;
    };
    let unnamed = |joint: &Joint| Joint {
        id: String::new(),
        ..joint.clone()
    };
    let nameless = |step: &Step, joint: JointIx| {
        let mut step = step.clone();
        step.id = String::new();
        step.line = 0;
        if let Work::Solder { joint: at, .. } = &mut step.work {
            *at = joint;
        }
        step
    };
    let waits = |step: &Step| {
        let has = |on: StepIx| step.after.iter().any(|(before, _)| *before == on);
        has(one) == has(other)
    };
    a != b
        && unnamed(&job.joints[a.0]) == unnamed(&job.joints[b.0])
        && nameless(&job.steps[one.0], a) == nameless(&job.steps[other.0], a)
        && job.steps.iter().all(waits)
        && is_named_by_its_step_alone(job, a, one)
        && is_named_by_its_step_alone(job, b, other)
}

/// The joint that a step solders without a wire.
fn own_joint(step: &Step) -> Option<JointIx> {
    match step.work {
        Work::Solder {
            joint, wire: None, ..
        } => Some(joint),
        _ => None,
    }
}

fn is_named_by_its_step_alone(job: &Job, joint: JointIx, own: StepIx) -> bool {
    let by_parts = job
        .parts
        .iter()
        .any(|part| part.on.contains(&joint) || part.lugs.contains(&joint));
    let by_guards = job.guards.iter().any(|guard| guard.over.contains(&joint));
    let by_wires = job
        .wires
        .iter()
        .any(|wire| wire.from == joint || wire.to == joint);
    let key = Where::Joint(joint);
    let by_log = job.done.iter().any(|event| {
        let read = event.sees.iter().any(|(place, _)| *place == key);
        read || event.other_way.is_some()
    });
    let by_steps = job.steps.iter().enumerate().any(|(s, step)| {
        let heated = step.ways.iter().any(|way| {
            way.couplings.iter().any(|(place, _)| *place == key)
                || way.sees.iter().any(|(place, _)| *place == key)
                || !way.shielded.is_empty()
                || !way.sinks.is_empty()
        });
        heated || step.closes.contains(&joint) || (s != own.0 && works_on(&step.work, joint))
    });
    !(by_parts
        || by_guards
        || by_wires
        || by_log
        || by_steps
        || job.joints[joint.0].site_of.is_some())
}

fn works_on(work: &Work, joint: JointIx) -> bool {
    match work {
        Work::Solder { joint: at, .. } => *at == joint,
        Work::Place { on, .. } => on.contains(&joint),
        Work::Cover { over, .. } => over.contains(&joint),
        Work::Clean { joint: at, .. } | Work::OtherHeat { joint: at, .. } => *at == Some(joint),
        Work::Remove { .. }
        | Work::Reball { .. }
        | Work::Uncover { .. }
        | Work::Move { .. }
        | Work::WholeBoard { .. }
        | Work::Gate { .. }
        | Work::Power => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::alloy::AlloyBook;
    use crate::job::read;

    fn twins(joints: &str, steps: &str, more: &str) -> Vec<usize> {
        let text = format!(
            "job: a table\n{more}joints:\n  - {{id: a{joints}}}\n  - {{id: b}}\n  - {{id: c, alloy: Sn63Pb37, mg: 1}}\n\
             steps:\n  - {{id: one, do: solder, joint: a, alloy: any, mg: 1, tool: iron, k: {{rest: 0.3}}}}\n  \
             - {{id: two, do: solder, joint: b, alloy: any, mg: 1, tool: iron, k: {{rest: 0.3}}}}\n{steps}"
        );
        let job = read(&text, "table.yaml", AlloyBook::shipped());
        let job = job.unwrap_or_else(|faults| panic!("{faults}")).job;
        let steps: Vec<StepIx> = (0..job.steps.len()).map(StepIx).collect();
        first_twins(&job, &steps, &Terms::default())
    }

    /// By hand: exchange `a` with `b` and `one` with `two`, and see whether another job comes out.
    #[test]
    fn twins_are_what_may_be_exchanged() {
        assert_eq!(twins("", "", ""), [0, 0]);
        let third = |rest: &str| {
            format!(
                "  - {{id: x, do: solder, joint: c, alloy: Sn63Pb37, mg: 1, tool: iron, {rest}}}\n"
            )
        };
        let rows = [
            ("", third("k: {rest: 0.5}"), "", true),
            ("", third("k: {a: 0.6, b: 0.6}"), "", false),
            ("", third("k: {a: 0.6, rest: 0.5}"), "", false),
            ("", third("sees_c: {a: 90}, k: {rest: 0.5}"), "", false),
            ("", third("k: {rest: 0.5}, after: one"), "", false),
            ("", third("k: {rest: 0.5}, after: [one, two]"), "", true),
            ("", third("k: {rest: 0.5}, closes: a"), "", false),
            (", must: stay_solid", String::new(), "", false),
            (", count: 2", String::new(), "", false),
            (
                "",
                String::new(),
                "wires: [{id: w, from: a, to: c, diameter_um: 100}]\n",
                false,
            ),
            (
                "",
                String::new(),
                "guards: [{id: m, kind: glue, limit_c: 200, over: a}]\n",
                false,
            ),
            (
                ", at: u",
                String::new(),
                "parts: [{id: u, balls: {count: 1, diameter_um: 300, alloy: Sn63Pb37}}]\n",
                false,
            ),
        ];
        for (joints, steps, more, are) in rows {
            let first = twins(joints, &steps, more);
            assert_eq!(first[1] == 0, are, "{joints} {steps} {more}");
        }
    }

    #[test]
    fn what_is_given_up_of_one_tells_it_from_the_other() {
        let text = "job: a table\njoints: [{id: a}, {id: b}]\nsteps:\n  \
                    - {id: one, do: solder, joint: a, alloy: Sn63Pb37, mg: 1, tool: iron}\n  \
                    - {id: two, do: solder, joint: b, alloy: Sn63Pb37, mg: 1, tool: iron}\n";
        let job = read(text, "table.yaml", AlloyBook::shipped()).unwrap().job;
        let steps = [StepIx(0), StepIx(1)];
        let mut terms = Terms::default();
        terms.dropped.insert(Demand::Service);
        assert_eq!(first_twins(&job, &steps, &terms), [0, 0]);
        terms.dropped.insert(Demand::Keep(JointIx(0)));
        assert_eq!(first_twins(&job, &steps, &terms), [0, 1]);
    }
}
