//! `order JOB`, with progress past one second and an interrupt that leaves the best so far.

use std::io::Write;
use std::path::Path;
use std::sync::OnceLock;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

use crate::bench::{Setting, Verdict};
use crate::job::Job;
use crate::plan::{self, Answer, Budget, Checked, FindOut, Progress};
use crate::show::answer::Frame;
use crate::show::say::Say;
use crate::show::{clash as show_clash, order as show, why as show_why};

use super::{Desk, Said, WrongInput, clash, job_verbs, said};

/// From when on, and how often, progress is told.
const TELL_EVERY: Duration = Duration::from_secs(1);

/// `order JOB`.
pub(super) fn order(desk: &mut Desk, path: &Path, budget: Budget) -> Result<Said, WrongInput> {
    let read = job_verbs::read(desk, path)?;
    let melts = job_verbs::melts(desk, &read.job);
    let job = plan::whole(&plan::sorted(&read.job), &melts);
    let setting = Setting::new(&job, &melts);
    let (answer, checked) = best(desk, &setting, budget)?;
    let find_out = find_out(&setting, &answer, checked.as_ref())?;
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
        let body = show_clash::body(&job, clash.conflict.as_ref(), &clash.openings, desk.say);
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
) -> Result<Option<FindOut>, WrongInput> {
    let holds = checked.is_some_and(|checked| checked.verdict <= Verdict::Softens);
    if setting.job().reels.is_empty() || (answer.plan().is_some() && holds) {
        return Ok(None);
    }
    plan::find_out(setting, Budget::default()).map_err(WrongInput::new)
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

/// `order JOB --all`.
pub(super) fn all(desk: &mut Desk, path: &Path, budget: Budget) -> Result<Said, WrongInput> {
    let read = job_verbs::read(desk, path)?;
    let melts = job_verbs::melts(desk, &read.job);
    let job = plan::whole(&plan::sorted(&read.job), &melts);
    let setting = Setting::new(&job, &melts);
    let say = desk.say;
    let trades = plan::order_all(&setting, budget, &mut watch(desk.err, say))
        .map_err(WrongInput::new)?
        .ok_or_else(|| WrongInput::new("the search was cut off: not all trades are known"))?;
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
    let say = desk.say;
    let mut watch = watch(desk.err, say);
    let answer = plan::order(setting, budget, &mut watch).map_err(WrongInput::new)?;
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

/// Tells progress past one second, and stops the search when somebody presses Ctrl-C.
fn watch(err: &mut dyn Write, say: Say) -> impl FnMut(&Progress) -> bool {
    let started = Instant::now();
    let mut told = Duration::ZERO;
    let interrupted = interrupts();
    interrupted.store(false, Ordering::Relaxed);
    move |progress: &Progress| {
        let now = started.elapsed();
        if now.saturating_sub(told) >= TELL_EVERY {
            told = now;
            let bound = progress.bound.map_or_else(String::new, |bound| {
                format!(", no order keeps more than {}", say.dt(bound))
            });
            let _ = writeln!(
                err,
                "{} benches looked at, {} s{bound} (Ctrl-C: best so far)",
                progress.visited,
                now.as_secs()
            );
        }
        !interrupted.load(Ordering::Relaxed)
    }
}

/// Set when somebody presses Ctrl-C while a search runs.
fn interrupts() -> &'static AtomicBool {
    static PRESSED: AtomicBool = AtomicBool::new(false);
    static LISTENING: OnceLock<bool> = OnceLock::new();
    LISTENING.get_or_init(|| ctrlc::set_handler(|| PRESSED.store(true, Ordering::Relaxed)).is_ok());
    &PRESSED
}
