//! The plan as it is written: the log first, then the open steps in the order of the file, moved
//! only where `after` demands it.

use crate::bench::Pick;
use crate::job::{Job, StepIx};

use super::check::Planned;
use super::history::{again_after, history};

/// A plan as written, and what was done to make one of it.
#[derive(Clone, Debug)]
pub struct Written {
    /// In order.
    pub plan: Vec<Planned>,
    /// Ids of steps that stand before a step they must follow, and were moved.
    pub moved: Vec<String>,
    /// Ids of steps that leave a choice open; the first of each is taken.
    pub open: Vec<String>,
}

/// Reads the order of the file as a plan.
pub fn as_written(job: &Job) -> Written {
    let mut written = Written {
        plan: history(job),
        moved: Vec::new(),
        open: Vec::new(),
    };
    let mut placed = done(job, &written.plan);
    let mut skipped = Vec::new();
    while let Some(next) = first_ready(job, &placed) {
        for (earlier, _) in placed
            .iter()
            .enumerate()
            .take(next)
            .filter(|(_, done)| !**done)
        {
            if !skipped.contains(&earlier) {
                skipped.push(earlier);
            }
        }
        placed[next] = true;
        let step = &job.steps[next];
        if crate::bench::picks(step).len() > 1 {
            written.open.push(step.id.clone());
        }
        written.plan.push(Planned {
            step: step.clone(),
            pick: Pick::default(),
            log: None,
        });
    }
    written.moved = skipped
        .into_iter()
        .map(|step| job.steps[step].id.clone())
        .collect();
    written
}

/// Steps that are not to be done again: done, or failed and repeated by a step of their own.
fn done(job: &Job, history: &[Planned]) -> Vec<bool> {
    let over = |id: &str| {
        history.iter().enumerate().any(|(line, planned)| {
            let failed = planned.log.as_ref().is_none_or(|log| log.failed.is_some());
            planned.step.id == id && (!failed || again_after(job, line).is_some())
        })
    };
    job.steps.iter().map(|step| over(&step.id)).collect()
}

fn first_ready(job: &Job, placed: &[bool]) -> Option<usize> {
    let ready = |step: usize| {
        !placed[step]
            && job.steps[step]
                .after
                .iter()
                .all(|(StepIx(before), _)| placed[*before])
    };
    // What the log has made necessary comes before what was planned.
    let put_in = |step: &usize| job.steps[*step].line == 0;
    let mut repairs = (0..job.steps.len()).filter(put_in);
    let all = || (0..job.steps.len()).find(|step| ready(*step));
    repairs.find(|step| ready(*step)).or_else(all)
}
