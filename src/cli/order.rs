//! `order JOB`: the best order, why a step stands where it does, every trade.

use std::path::Path;

use crate::bench::{Setting, Verdict};
use crate::job::Job;
use crate::plan::{self, Answer, Budget, Checked, FindOut};
use crate::show::answer::Frame;
use crate::show::{clash as show_clash, order as show, why as show_why};

use super::{Desk, Said, WrongInput, clash, job_verbs, said};

/// Where it is proven that there is no order, and the search for what is in the way was cut off.
const NO_CAUSE: &str = "What clashes was not found in time: give it more time, or ask `clash`";

/// `order JOB`.
pub(super) fn order(desk: &mut Desk, path: &Path, budget: Budget) -> Result<Said, WrongInput> {
    let read = job_verbs::read(desk, path)?;
    let melts = job_verbs::melts(desk, &read.job);
    let job = plan::whole(&plan::sorted(&read.job), &melts);
    let setting = Setting::new(&job, &melts);
    let (answer, checked) = best(desk, &setting, budget)?;
    let find_out = find_out(&setting, &answer, checked.as_ref(), budget)?;
    let ordered = show::Ordered {
        answer: &answer,
        checked: checked.as_ref(),
        find_out: find_out.as_ref(),
    };
    let assumed = job_verbs::sorted_assumptions(&read);
    let frame = show::frame(&job, ordered, assumed, desk.say);
    let code = show::verdict(ordered).exit_code();
    let clash = match answer {
        Answer::Impossible { .. } => Some(clash::find(desk, &setting, &job.stock)?),
        _ => None,
    };
    let told = clash.as_ref().map(|clash| {
        let body = match clash.conflict.as_ref() {
            None => format!("\n{NO_CAUSE}\n"),
            found => show_clash::body(&job, found, &clash.openings, desk.say),
        };
        match find_out {
            Some(_) => format!("\nWithout a test, one order for all that it may be:\n{body}"),
            None => body,
        }
    });
    Ok(said(
        desk,
        code,
        || show::text(&job, ordered, told.as_deref(), &frame, desk.say),
        || {
            let mut keys = show::json(&job, ordered);
            if let (Some(clash), Some(keys)) = (&clash, keys.as_object_mut()) {
                let told = show_clash::json(&job, clash.conflict.as_ref(), &clash.openings);
                keys.insert("clash".to_owned(), told);
            }
            frame.json(keys)
        },
    ))
}

/// What is worth finding out first, where alloys are not known and no order holds for all of them.
fn find_out(
    setting: &Setting,
    answer: &Answer,
    checked: Option<&Checked>,
    budget: Budget,
) -> Result<Option<FindOut>, WrongInput> {
    let holds = checked.is_some_and(|checked| checked.verdict <= Verdict::Softens);
    if setting.job().reels.is_empty() || (answer.plan().is_some() && holds) {
        return Ok(None);
    }
    if budget.is_over() {
        return Ok(None);
    }
    plan::find_out(setting, budget).map_err(WrongInput::new)
}

/// `order JOB --why STEP`.
pub(super) fn why(
    desk: &mut Desk,
    path: &Path,
    step: &str,
    budget: Budget,
) -> Result<Said, WrongInput> {
    let read = job_verbs::read(desk, path)?;
    let melts = job_verbs::melts(desk, &read.job);
    let job = plan::whole(&plan::sorted(&read.job), &melts);
    let at = job_verbs::step(&job, step)?;
    let setting = Setting::new(&job, &melts);
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
        || show_why::text(&job, why.as_ref(), desk.say),
        || {
            let line = format!("why {step} stands where it does");
            let frame = Frame {
                verb: "order",
                line,
                ..Frame::default()
            };
            frame.json(show_why::json(&job, why.as_ref()))
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
    let read = job_verbs::read(desk, path)?;
    let melts = job_verbs::melts(desk, &read.job);
    let job = plan::whole(&plan::sorted(&read.job), &melts);
    let setting = Setting::new(&job, &melts);
    let trades = plan::order_all(&setting, budget, &mut desk.reins.watch());
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
                show_why::trades_text(&job, &trades, desk.say)
            )
        },
        || frame.json(show_why::trades_json(&job, &trades)),
    ))
}

/// The best order of a job, and that order checked.
pub(super) fn best(
    desk: &mut Desk,
    setting: &Setting,
    budget: Budget,
) -> Result<(Answer, Option<Checked>), WrongInput> {
    let answer = plan::order(setting, budget, &mut desk.reins.watch()).map_err(WrongInput::new)?;
    let job: &Job = setting.job();
    let best = match &answer {
        Answer::Proven { plan, .. }
        | Answer::Unproven { plan, .. }
        | Answer::Undecided { plan, .. } => Some(plan),
        Answer::Impossible { .. } | Answer::Unknown { .. } => None,
    };
    let checked = best.map(|best| plan::check(setting, &plan::whole_plan(job, best)));
    Ok((answer, checked))
}
