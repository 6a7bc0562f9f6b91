//! What was done, as the log tells it.

use crate::bench::{Bench, Doing, Pick, Setting, pass, picks, solder_choice};
use crate::job::{Event, Job, PartIx, Solder, StepIx, Work};

use super::answer::Plan;
use super::check::{CheckedStep, Planned, check};

/// From where planning starts.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Start {
    /// The bench after everything that was done.
    pub bench: Bench,
    /// Heats taken so far by each part, in this job.
    pub heats: Vec<u32>,
    /// Steps that are not to be done again: done, or failed and repeated by a step of their own.
    pub done: Vec<StepIx>,
}

/// The bench, the heats and the steps done after the log of a job.
///
/// Lines of the log that name no step of the job are passed over: the reader refuses them.
pub fn start(setting: &Setting) -> Start {
    let job = setting.job();
    let mut start = Start {
        bench: Bench::at_start(setting),
        heats: vec![0; job.parts.len()],
        done: Vec::new(),
    };
    for (line, event) in job.done.iter().enumerate() {
        let Some(at) = logged_step(job, line) else {
            continue;
        };
        let doing = Doing {
            log: Some(event),
            ..Doing::planned(&job.steps[at.0], logged_pick(job, at, event))
        };
        let passage = pass(setting, &start.bench, &doing);
        for (part, _) in &passage.heats {
            start.heats[part.0] += 1;
        }
        start.bench = passage.next;
        let mut over = vec![at];
        if event.failed.is_none() && !passage.in_vain {
            over.extend(passed_over(job, at));
        } else if again_after(job, line).is_none() {
            // Nothing repeats it: it stays to be done.
            over.clear();
        }
        for step in over {
            if !start.done.contains(&step) {
                start.done.push(step);
            }
        }
    }
    start
}

/// What was done, as steps of a plan with their log.
pub fn history(job: &Job) -> Vec<Planned> {
    let lines = job.done.iter().enumerate();
    lines
        .filter_map(|(line, event)| {
            let at = logged_step(job, line)?;
            Some(Planned {
                step: job.steps[at.0].clone(),
                pick: logged_pick(job, at, event),
                log: Some(event.clone()),
            })
        })
        .collect()
}

/// The last line of the log as it was done: the bench before it, and all that came of it, in the worst of
/// the worlds that the unknown alloys allow.
pub fn last_done(setting: &Setting) -> Option<CheckedStep> {
    check(setting, &history(setting.job())).steps.pop()
}

/// What was done and then what is planned: for checking, printing and drawing the whole of it.
pub fn whole_plan(job: &Job, plan: &Plan) -> Vec<Planned> {
    let mut all = history(job);
    all.extend(plan.steps.iter().map(|chosen| Planned {
        step: job.steps[chosen.step.0].clone(),
        pick: chosen.pick,
        log: None,
    }));
    all
}

/// The step that a line of the log tells of. A step that failed before and is logged again by its
/// own name is the repetition that was put in for it.
pub(super) fn logged_step(job: &Job, line: usize) -> Option<StepIx> {
    let id = plain(&job.done.get(line)?.step);
    let named = step_called(job, id)?;
    Some(again(job, id, repeats(job, id, line)).unwrap_or(named))
}

/// How many repetitions of a step the first lines of the log brought about: it failed, or what it had set was taken
/// off again.
fn repeats(job: &Job, id: &str, lines: usize) -> usize {
    let failed = |event: &Event| event.failed.is_some() && stem(plain(&event.step)) == id;
    let taken = |line: usize| {
        let set = undone(job, line).map(|(set, _)| &job.steps[set.0].id);
        set.is_some_and(|set| stem(set) == id)
    };
    let lines = job.done[..lines].iter().enumerate();
    lines
        .filter(|(line, event)| failed(event) || taken(*line))
        .count()
}

/// The step whose work a line of the log undid, and the line that had done it: a part that was set and is taken off
/// again, balls that are wicked off again. The job wants it, and does not say that it comes off later.
pub(super) fn undone(job: &Job, line: usize) -> Option<(StepIx, usize)> {
    let step = |line: usize| {
        let event = job.done.get(line).filter(|event| event.failed.is_none())?;
        step_called(job, plain(&event.step))
    };
    let work = |at: StepIx| &job.steps[at.0].work;
    let off = step(line)?;
    let (part, sets): (PartIx, fn(&Work) -> bool) = match work(off) {
        Work::Remove { part, .. } => (*part, |work| matches!(work, Work::Place { .. })),
        Work::Clean { part, .. } => ((*part)?, |work| matches!(work, Work::Reball { .. })),
        _ => return None,
    };
    let handles = |at: StepIx| match *work(at) {
        Work::Place { part: set, .. }
        | Work::Remove { part: set, .. }
        | Work::Reball { part: set, .. } => set == part,
        Work::Clean { part: set, .. } => set == Some(part),
        _ => false,
    };
    let before = (0..line)
        .rev()
        .find(|line| step(*line).is_some_and(handles))?;
    let set = step(before)?;
    // A removal that the job has below the step, and that was not done before it, was meant.
    let line_of = |at: StepIx| job.steps[at.0].line;
    let meant = line_of(off) >= line_of(set) && !(0..before).any(|line| step(line) == Some(off));
    (sets(work(set)) && !meant && !job.steps[set.0].optional).then_some((set, before))
}

/// The repetition that a failed line of the log brought about.
pub(super) fn again_after(job: &Job, line: usize) -> Option<StepIx> {
    let id = stem(plain(&job.done[line].step));
    again(job, id, repeats(job, id, line + 1))
}

fn again(job: &Job, stem: &str, failures: usize) -> Option<StepIx> {
    match failures {
        0 => None,
        1 => step_called(job, &format!("{stem}~again")),
        n => step_called(job, &format!("{stem}~again{n}")),
    }
}

fn step_called(job: &Job, id: &str) -> Option<StepIx> {
    job.steps.iter().position(|step| step.id == id).map(StepIx)
}

/// `set#2` on paper is `set`.
fn plain(id: &str) -> &str {
    match id.rsplit_once('#') {
        Some((id, count)) if count.parse::<u32>().is_ok() => id,
        _ => id,
    }
}

/// The id of the step that a repair is of.
pub(super) fn stem(id: &str) -> &str {
    id.split('~').next().unwrap_or(id)
}

/// Repairs that were put in to come before a repetition are of no use once that is done. What is to be looked at, or
/// put on anew, still is.
fn passed_over(job: &Job, at: StepIx) -> Vec<StepIx> {
    let mut over = Vec::new();
    let mut open = vec![at];
    while let Some(step) = open.pop() {
        let is_repair = |at: StepIx| {
            let step = &job.steps[at.0];
            let looks = matches!(step.work, Work::Gate { .. } | Work::Cover { .. });
            step.line == 0 && step.id.contains('~') && !looks
        };
        for (before, _) in &job.steps[step.0].after {
            let same = stem(&job.steps[before.0].id) == stem(&job.steps[at.0].id);
            if is_repair(step) && is_repair(*before) && same && !over.contains(before) {
                over.push(*before);
                open.push(*before);
            }
        }
    }
    over
}

/// The alloys among which the last line of the log does not say which was used; empty where it says,
/// or the step leaves none open.
pub fn unsaid_alloys(job: &Job) -> &[Solder] {
    let last = job.done.len().checked_sub(1);
    let found = last.and_then(|line| {
        let at = logged_step(job, line)?;
        let event = &job.done[line];
        let doing = Doing {
            log: Some(event),
            ..Doing::planned(&job.steps[at.0], logged_pick(job, at, event))
        };
        Some(doing.unsaid())
    });
    found.unwrap_or_default()
}

/// The choices that fit what was logged; the first of them where the log is silent. An alloy about
/// which it is silent is not believed: see [`Doing::unsaid`].
pub(super) fn logged_pick(job: &Job, at: StepIx, event: &Event) -> Pick {
    let step = &job.steps[at.0];
    let fits = |pick: &Pick| {
        let doing = Doing::planned(step, *pick);
        let tool = event
            .tool
            .is_none_or(|tool| doing.way().is_some_and(|way| way.tool == tool));
        let solder = solder_choice(&step.work).and_then(|choice| doing.solder(choice));
        let alloy = event
            .alloy
            .as_ref()
            .is_none_or(|used| solder.is_some_and(|solder| solder.name == used.name));
        let rounds = event.rounds.is_none_or(|rounds| match &step.work {
            Work::Clean { rounds: choice, .. } => doing.rounds(choice) == rounds,
            _ => true,
        });
        tool && alloy && rounds
    };
    picks(step).into_iter().find(fits).unwrap_or_default()
}
