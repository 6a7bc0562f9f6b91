//! The plan as it is written: the log first, then the open steps in the order of the file, moved
//! only where `after` demands it.

use crate::bench::Pick;
use crate::job::{Job, StepIx};

use super::check::Planned;
use super::history::history;

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

/// Steps that the log has as done; a step that failed is still to be done.
fn done(job: &Job, history: &[Planned]) -> Vec<bool> {
    let succeeded = |id: &str| {
        history.iter().any(|planned| {
            planned.step.id == id && planned.log.as_ref().is_some_and(|log| log.failed.is_none())
        })
    };
    job.steps.iter().map(|step| succeeded(&step.id)).collect()
}

fn first_ready(job: &Job, placed: &[bool]) -> Option<usize> {
    let ready = |step: usize| {
        !placed[step]
            && job.steps[step]
                .after
                .iter()
                .all(|(StepIx(before), _)| placed[*before])
    };
    (0..job.steps.len()).find(|step| ready(*step))
}
