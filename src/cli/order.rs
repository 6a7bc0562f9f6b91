//! `order JOB`: the best order, why a step stands where it does, every trade.

use std::path::Path;

use crate::bench::Verdict;
use crate::plan::{self, Answer, Budget};
use crate::planner::{Best, Case};
use crate::show::answer::Frame;
use crate::show::{clash as show_clash, order as show, why as show_why};

use super::{Desk, Said, WrongInput, clash, job_verbs, said};

/// Where it is proven that there is no order, and the search for what is in the way was cut off.
const NO_CAUSE: &str = "What clashes was not found in time: give it more time, or ask `clash`";

/// Where heat is computed and the answer was wanted before it was.
const CUT_HEAT: &str =
    "stopped before the heat of every step was worked out: what was not is told as unknown";

/// `order JOB`.
pub(super) fn order(desk: &mut Desk, path: &Path, budget: Budget) -> Result<Said, WrongInput> {
    let planner = job_verbs::read(desk, path)?;
    let case = planner.sorted();
    let (job, setting) = (case.job(), case.setting());
    let best = best(desk, &case, budget)?;
    let find_out = case.find_out(&best, budget).map_err(WrongInput::new)?;
    let ordered = show::Ordered {
        answer: &best.answer,
        checked: best.checked.as_ref(),
        find_out: find_out.as_ref(),
    };
    let assumed = job_verbs::sorted_assumptions(&planner);
    let mut frame = show::frame(job, ordered, assumed, desk.say);
    if budget.is_over() && job.board.is_some() {
        frame.warnings.push(CUT_HEAT.to_owned());
    }
    let code = show::verdict(ordered).exit_code();
    let clash = match best.answer {
        Answer::Impossible { .. } => Some(clash::find(desk, &setting, &job.stock)?),
        _ => None,
    };
    let told = clash.as_ref().map(|clash| {
        let body = match clash.conflict.as_ref() {
            None => format!("\n{NO_CAUSE}\n"),
            found => show_clash::body(job, found, &clash.openings, desk.say),
        };
        match find_out {
            Some(_) => format!("\nWithout a test, one order for all that it may be:\n{body}"),
            None => body,
        }
    });
    Ok(said(
        desk,
        code,
        || show::text(job, ordered, told.as_deref(), &frame, desk.say),
        || {
            let mut keys = show::json(job, ordered);
            if let (Some(clash), Some(keys)) = (&clash, keys.as_object_mut()) {
                let told = show_clash::json(job, clash.conflict.as_ref(), &clash.openings);
                keys.insert("clash".to_owned(), told);
            }
            frame.json(keys)
        },
    ))
}

/// `order JOB --why STEP`.
pub(super) fn why(
    desk: &mut Desk,
    path: &Path,
    step: &str,
    budget: Budget,
) -> Result<Said, WrongInput> {
    let planner = job_verbs::read(desk, path)?;
    let case = planner.sorted();
    let (job, setting) = (case.job(), case.setting());
    let at = job_verbs::step(job, step)?;
    let why = plan::why(&setting, at, budget).map_err(WrongInput::new)?;
    // An order that was not found is not one that is not there.
    let unknown = why.is_none() && {
        let answer = plan::order(&setting, budget, &mut desk.reins.watch());
        let answer = answer.map_err(WrongInput::new)?;
        !matches!(answer, Answer::Impossible { .. }) && answer.plan().is_none()
    };
    if unknown {
        return Ok(not_found(desk, step));
    }
    let code = u8::from(why.is_none());
    Ok(said(
        desk,
        code,
        || show_why::text(job, why.as_ref(), desk.say),
        || {
            let line = format!("why {step} stands where it does");
            let frame = Frame {
                verb: "order",
                line,
                ..Frame::default()
            };
            frame.json(show_why::json(job, why.as_ref()))
        },
    ))
}

/// Where no order is known, and none is ruled out.
fn not_found(desk: &Desk, step: &str) -> Said {
    let line =
        format!("unknown: no order with {step} in it was found in time, and none is ruled out");
    unknown(desk, line)
}

/// Where a search was cut off before it knew anything.
fn unknown(desk: &Desk, line: String) -> Said {
    let frame = Frame {
        verb: "order",
        verdict: Some(Verdict::Unknown),
        line: line.clone(),
        ..Frame::default()
    };
    let code = Verdict::Unknown.exit_code();
    said(desk, code, || line, || frame.json(serde_json::json!({})))
}

/// `order JOB --all`.
pub(super) fn all(desk: &mut Desk, path: &Path, budget: Budget) -> Result<Said, WrongInput> {
    let planner = job_verbs::read(desk, path)?;
    let case = planner.sorted();
    let job = case.job();
    let trades = plan::order_all(&case.setting(), budget, &mut desk.reins.watch());
    let Some(trades) = trades.map_err(WrongInput::new)? else {
        let line = "unknown: the search was cut off before all trades were known";
        return Ok(unknown(desk, line.to_owned()));
    };
    let many = if trades.len() == 1 { "" } else { "s" };
    let line = format!(
        "{} trade{many} of margin, vital heats and steps",
        trades.len()
    );
    let frame = Frame {
        verb: "order",
        line,
        ..Frame::default()
    };
    Ok(said(
        desk,
        u8::from(trades.is_empty()),
        || {
            format!(
                "{}\n\n{}",
                frame.line,
                show_why::trades_text(job, &trades, desk.say)
            )
        },
        || frame.json(show_why::trades_json(job, &trades)),
    ))
}

/// The best order of a job, and that order checked.
pub(super) fn best(desk: &mut Desk, case: &Case, budget: Budget) -> Result<Best, WrongInput> {
    case.order(budget, &mut desk.reins.watch())
        .map_err(WrongInput::new)
}
