//! Why a step stands where it does: what comes next best if it stood elsewhere, and what that costs.

use std::collections::VecDeque;

use crate::bench::{Setting, picks};
use crate::job::{Job, StepIx};

use super::answer::{Answer, Budget, Plan, TooManySteps, Worth};
use super::clash::{Conflict, conflict};
use super::order::order;

/// A step in the best order, and the runners-up without it there.
#[derive(Clone, Debug)]
pub struct WhyThere {
    /// Which step.
    pub step: StepIx,
    /// Its place in the best order, from 0.
    pub at: usize,
    /// What the best order is worth.
    pub worth: Worth,
    /// The best plans in which it does not stand there, or is done otherwise.
    pub others: Vec<Other>,
    /// Whether no search was cut off: where one was, better orders may exist.
    pub proven: bool,
}

/// One thing otherwise, and what comes of it.
#[derive(Clone, Debug)]
pub struct Other {
    /// What is otherwise.
    pub how: How,
    /// What comes of it.
    pub outcome: Outcome,
}

/// How a step may be done otherwise.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum How {
    /// Before the step that now comes just before it.
    BeforeThat(StepIx),
    /// After the step that now comes just after it.
    AfterThat(StepIx),
    /// With another alloy, tool or number of rounds than the best plan takes.
    OtherChoice,
    /// Not at all (it is optional).
    LeftOut,
}

/// What comes of it.
#[derive(Clone, Debug)]
pub enum Outcome {
    /// The best plan then.
    Plan(Plan, Worth),
    /// The job itself asks for the contrary: each of these steps after the one before it.
    Asked(Vec<StepIx>),
    /// None; these demands of the job as asked about clash.
    Clash(Box<Job>, Option<Conflict>),
    /// Not known within the budget, or because something is unknown.
    Unknown,
}

/// Why a step stands where it does in the best order; `None` where there is no order, or the step is
/// not in it.
///
/// # Errors
/// [`TooManySteps`] if more are left to do than the search keeps books of.
pub fn why(
    setting: &Setting,
    step: StepIx,
    budget: Budget,
) -> Result<Option<WhyThere>, TooManySteps> {
    let answer = order(setting, budget, &mut |_| true)?;
    let Some((plan, worth)) = answer.plan() else {
        return Ok(None);
    };
    let Some(at) = plan.steps.iter().position(|chosen| chosen.step == step) else {
        return Ok(None);
    };
    let mut proven = matches!(answer, Answer::Proven { .. });
    let mut hows = Vec::new();
    hows.extend(
        at.checked_sub(1)
            .map(|i| How::BeforeThat(plan.steps[i].step)),
    );
    hows.extend(plan.steps.get(at + 1).map(|next| How::AfterThat(next.step)));
    if picks(&setting.job().steps[step.0]).len() > 1 {
        hows.push(How::OtherChoice);
    }
    if setting.job().steps[step.0].optional {
        hows.push(How::LeftOut);
    }
    let mut others = Vec::new();
    for how in hows {
        if let Some(chain) = contrary(setting.job(), step, how) {
            let outcome = Outcome::Asked(chain);
            others.push(Other { how, outcome });
            continue;
        }
        let Some(job) = otherwise(setting.job(), plan, step, how) else {
            continue;
        };
        let (outcome, finished) = outcome(setting, job, budget)?;
        proven &= finished;
        others.push(Other { how, outcome });
    }
    Ok(Some(WhyThere {
        step,
        at,
        worth: *worth,
        others,
        proven,
    }))
}

/// Steps by which the job asks for the contrary, first to last. What is only there where it is wanted asks for
/// nothing.
fn contrary(job: &Job, step: StepIx, how: How) -> Option<Vec<StepIx>> {
    let (first, last) = match how {
        How::BeforeThat(other) => (other, step),
        How::AfterThat(other) => (step, other),
        How::OtherChoice | How::LeftOut => return None,
    };
    // Breadth first, so that the shortest chain is told.
    let mut chains = VecDeque::from([vec![last]]);
    let mut met = vec![last];
    while let Some(chain) = chains.pop_front() {
        let at = chain[chain.len() - 1];
        if at == first {
            return Some(chain.into_iter().rev().collect());
        }
        for (before, _) in &job.steps[at.0].after {
            let counts = *before == first || !job.steps[before.0].optional;
            if counts && !met.contains(before) {
                met.push(*before);
                chains.push_back([chain.clone(), vec![*before]].concat());
            }
        }
    }
    None
}

/// What comes of it, and whether the search was finished.
fn outcome(setting: &Setting, job: Job, budget: Budget) -> Result<(Outcome, bool), TooManySteps> {
    let changed = setting.with_job(&job);
    let answer = order(&changed, budget, &mut |_| true)?;
    let finished = !matches!(answer, Answer::Unproven { .. } | Answer::Unknown { .. });
    let outcome = match answer {
        Answer::Proven { plan, worth, .. } | Answer::Unproven { plan, worth, .. } => {
            Outcome::Plan(plan, worth)
        }
        Answer::Impossible { .. } => {
            let clash = conflict(&changed, budget)?;
            Outcome::Clash(Box::new(job), clash)
        }
        Answer::Undecided { .. } | Answer::Unknown { .. } => Outcome::Unknown,
    };
    Ok((outcome, finished))
}

/// The job in which the step is done otherwise; positions of steps stay.
fn otherwise(job: &Job, plan: &Plan, step: StepIx, how: How) -> Option<Job> {
    let mut job = job.clone();
    let asked = || Some("as asked".to_owned());
    match how {
        How::BeforeThat(other) => job.steps[other.0].after.push((step, asked())),
        How::AfterThat(other) => job.steps[step.0].after.push((other, asked())),
        How::OtherChoice => {
            let chosen = plan.steps.iter().find(|chosen| chosen.step == step)?;
            return super::change::without_choice(&job, step, chosen.pick);
        }
        How::LeftOut => super::change::never_done(&mut job, step),
    }
    Some(job)
}
