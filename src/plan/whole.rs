//! The job with the steps that it needs and does not name.

use crate::job::{Job, Step, StepIx, Work};
use crate::melt::MeltBook;

use super::replan::repaired;

/// Ending of the id of the short check that is put before a power step.
pub const POWER_CHECK: &str = "~check";

/// The job with the repairs that its log makes necessary, and with a short check before each power
/// step that could otherwise come without one (`power~check`). Added steps stand last, so positions
/// of the others stay.
///
/// Where the job has a short check of its own, the added one is optional: it is used only if a heat
/// must come between the job's own check and power.
pub fn whole(job: &Job, melts: &MeltBook) -> Job {
    let job = &repaired(job, melts);
    let mut whole = job.clone();
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

fn is_short_check(step: &Step) -> bool {
    matches!(step.work, Work::Gate { short_check: true })
}
