//! `clash JOB`: what cannot hold together, and what would open the job.

use std::path::Path;

use crate::bench::{Setting, Verdict};
use crate::job::Solder;
use crate::plan::{self, Budget, Candidate, Conflict, Opening};
use crate::planner::Case;
use crate::show::clash as show;

use super::{Desk, Said, WrongInput, alloy_verbs, job_verbs, order, said};

/// Nodes for each of the many small searches of a clash (our judgement: keeps one of 16 steps
/// under a second).
const NODES: usize = 50_000;

/// Where the search was cut off before it found a clash or an order.
const NOT_KNOWN: &str = "unknown: neither a clash nor an order was found in time";

/// What clashes and what opens the job.
pub(super) struct Clash {
    pub(super) conflict: Option<Conflict>,
    pub(super) openings: Vec<Opening>,
}

/// Searches for a smallest clash, and for what opens it.
pub(super) fn find(desk: &Desk, setting: &Setting, shelf: &[Solder]) -> Result<Clash, WrongInput> {
    let budget = desk.reins.budget(NODES);
    let conflict = plan::conflict(setting, budget).map_err(WrongInput::new)?;
    let candidates: Vec<Candidate> = alloy_verbs::candidates(&desk.book, shelf);
    let openings = match &conflict {
        Some(conflict) => {
            plan::openings(setting, conflict, &candidates, budget).map_err(WrongInput::new)?
        }
        None => Vec::new(),
    };
    Ok(Clash { conflict, openings })
}

/// `clash JOB`.
pub(super) fn clash(desk: &mut Desk, path: &Path) -> Result<Said, WrongInput> {
    let planner = job_verbs::read(desk, path)?;
    let case = planner.sorted();
    let (job, setting) = (case.job(), case.setting());
    let clash = find(desk, &setting, &job.stock)?;
    let conflict = clash.conflict.as_ref();
    let mut frame = show::frame(
        job,
        conflict,
        job_verbs::sorted_assumptions(&planner),
        desk.say,
    );
    // No clash found is not none there: only an order in hand says that.
    let best = match conflict {
        Some(_) => None,
        None => best_of(desk, &case)?,
    };
    let known = conflict.is_some() || best.is_some();
    match best {
        _ if !known => {
            frame.verdict = Some(Verdict::Unknown);
            NOT_KNOWN.clone_into(&mut frame.line);
        }
        // What the log did, and what no order mends, is no clash of demands.
        Some(verdict) if verdict != Verdict::Holds => {
            frame.verdict = Some(verdict);
            frame.line = format!(
                "{}: no demand clashes with another, and still the best order does not hold; `order` tells why",
                verdict.word()
            );
        }
        _ => {}
    }
    let code = frame.verdict.map_or(1, Verdict::exit_code);
    Ok(said(
        desk,
        code,
        || show::text(job, conflict, &clash.openings, &frame, desk.say),
        || {
            let mut keys = show::json(job, conflict, &clash.openings);
            // Nothing clashes where there is an order.
            if let (true, None, Some(keys)) = (known, conflict, keys.as_object_mut()) {
                keys.insert("proven".to_owned(), serde_json::json!(true));
            }
            frame.json(keys)
        },
    ))
}

/// The verdict of the best order, where there is one that keeps every demand.
fn best_of(desk: &mut Desk, case: &Case) -> Result<Option<Verdict>, WrongInput> {
    let budget = desk.reins.budget(Budget::default().nodes);
    let best = order::best(desk, case, budget)?;
    Ok(best.checked.map(|checked| checked.verdict))
}
