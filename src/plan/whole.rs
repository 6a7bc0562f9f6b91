//! The job with the steps that it needs and does not name.

use std::collections::BTreeSet;

use crate::job::{Job, Step, StepIx, Work};
use crate::melt::MeltBook;

use super::replan::repaired;
use super::taught::teach;

/// Ending of the id of the short check that is put before a power step.
pub const POWER_CHECK: &str = "~check";

/// The job with the repairs that its log makes necessary, and with what its readings teach of the steps left.
pub fn logged(job: &Job, melts: &MeltBook) -> Job {
    let mut logged = repaired(job, melts);
    teach(&mut logged);
    logged
}

/// The job with the repairs that its log makes necessary, and with a short check before each power
/// step that could otherwise come without one (`power~check`). Added steps stand last, so positions
/// of the others stay.
///
/// Where the job has a short check of its own, the added one is optional: it is used only if a heat
/// must come between the job's own check and power.
pub fn whole(job: &Job, melts: &MeltBook) -> Job {
    let mut whole = logged(job, melts);
    power_comes_last(&mut whole);
    let job = &whole.clone();
    let has_own = job.steps.iter().any(is_short_check);
    for (at, step) in job.steps.iter().enumerate() {
        let id = format!("{}{POWER_CHECK}", step.id);
        let there = job.steps.iter().any(|other| other.id == id);
        if step.work != Work::Power || there {
            continue;
        }
        let check = StepIx(whole.steps.len());
        whole.steps.push(Step {
            id,
            work: Work::Gate { short_check: true },
            ways: Vec::new(),
            after: step.after.clone(),
            closes: Vec::new(),
            optional: has_own,
            minutes: None,
            line: 0,
        });
        let reason = Some("no power without a short check since the last heat".to_owned());
        whole.steps[at].after.push((check, reason));
    }
    whole
}

/// Why power waits for a heat that nobody told it to wait for.
pub const POWER_LAST: &str =
    "no power before the last heat: say `after` at that step if it is meant";

/// Power comes after every heat of the job, unless a step says that it comes after power.
fn power_comes_last(job: &mut Job) {
    let powers: Vec<usize> = (0..job.steps.len())
        .filter(|step| job.steps[*step].work == Work::Power)
        .collect();
    for power in powers {
        let later = later_than(job, StepIx(power));
        let earlier = earlier_than(job, StepIx(power));
        let waits: Vec<StepIx> = (0..job.steps.len())
            .map(StepIx)
            .filter(|step| !job.steps[step.0].ways.is_empty())
            .filter(|step| !later.contains(step))
            .filter(|step| !earlier.contains(step))
            .collect();
        let reason = || Some(POWER_LAST.to_owned());
        let waits = waits.into_iter().map(|step| (step, reason()));
        job.steps[power].after.extend(waits);
    }
}

/// Everything that must come before a step, directly or through others.
fn earlier_than(job: &Job, step: StepIx) -> BTreeSet<StepIx> {
    let mut earlier = BTreeSet::new();
    let mut open = vec![step];
    while let Some(at) = open.pop() {
        let before = job.steps[at.0].after.iter().map(|(before, _)| *before);
        open.extend(before.filter(|before| earlier.insert(*before)));
    }
    earlier
}

/// Everything that must come after a step, directly or through others.
fn later_than(job: &Job, step: StepIx) -> BTreeSet<StepIx> {
    let mut later = BTreeSet::from([step]);
    loop {
        let more: Vec<StepIx> = (0..job.steps.len())
            .map(StepIx)
            .filter(|at| !later.contains(at))
            .filter(|at| {
                let mut before = job.steps[at.0].after.iter();
                before.any(|(before, _)| later.contains(before))
            })
            .collect();
        if more.is_empty() {
            return later;
        }
        later.extend(more);
    }
}

fn is_short_check(step: &Step) -> bool {
    matches!(step.work, Work::Gate { short_check: true })
}
