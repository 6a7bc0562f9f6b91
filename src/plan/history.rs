//! What was done, as the log tells it.

use crate::bench::{Bench, Doing, Pick, Setting, pass, picks, solder_choice};
use crate::job::{Event, Job, StepIx, Work};

use super::answer::Plan;
use super::check::Planned;

/// From where planning starts.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Start {
    /// The bench after everything that was done.
    pub bench: Bench,
    /// Heats taken so far by each part, in this job.
    pub heats: Vec<u32>,
    /// Steps that were done and need not be done again.
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
    for (at, event) in logged(job) {
        let doing = Doing {
            step: &job.steps[at.0],
            pick: logged_pick(job, at, event),
            log: Some(event),
        };
        let passage = pass(setting, &start.bench, &doing);
        for (part, _) in &passage.heats {
            start.heats[part.0] += 1;
        }
        start.bench = passage.next;
        if event.failed.is_none() && !start.done.contains(&at) {
            start.done.push(at);
        }
    }
    start
}

/// What was done, as steps of a plan with their log.
pub fn history(job: &Job) -> Vec<Planned> {
    logged(job)
        .map(|(at, event)| Planned {
            step: job.steps[at.0].clone(),
            pick: logged_pick(job, at, event),
            log: Some(event.clone()),
        })
        .collect()
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

fn logged(job: &Job) -> impl Iterator<Item = (StepIx, &Event)> {
    job.done.iter().filter_map(|event| {
        let at = job.steps.iter().position(|step| step.id == event.step)?;
        Some((StepIx(at), event))
    })
}

/// The choices that fit what was logged; the first of them where the log is silent.
fn logged_pick(job: &Job, at: StepIx, event: &Event) -> Pick {
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
