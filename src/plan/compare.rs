//! Routes side by side: several jobs that lead to the same data, each in its best order.

use crate::bench::{LimitOf, Note, Refusal, Setting, Verdict};
use crate::job::{Job, Work};
use crate::quantity::{Celsius, KelvinStep, Minutes};

use super::answer::{Answer, Budget, TooManySteps};
use super::check::{Checked, Place, check};
use super::history::whole_plan;
use super::order::order;

/// One route.
#[derive(Clone, Debug)]
pub struct Route {
    /// How it is called: the file.
    pub name: String,
    /// The worst of the plan; `limit broken` where there is none, `unknown` where that decides.
    pub verdict: Verdict,
    /// The answer of the search.
    pub answer: Answer,
    /// The plan checked, where there is one.
    pub checked: Option<Checked>,
    /// Heats and peak of every part that holds the data.
    pub vital: Vec<Vital>,
    /// Steps still to be done.
    pub steps: usize,
    /// Minutes that they take.
    pub minutes: Time,
    /// What is not known.
    pub unknowns: Vec<String>,
    /// Steps whose margin is less than is wanted between levels: what must go right.
    pub must_go_right: Vec<Narrow>,
}

/// A part that holds the data.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Vital {
    /// Its id.
    pub part: String,
    /// Heats in the whole route, done ones included.
    pub heats: u32,
    /// The hottest.
    pub peak: Option<Celsius>,
}

/// A step in which little is left.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Narrow {
    /// Id of the step.
    pub step: String,
    /// Where.
    pub place: Place,
    /// How much.
    pub margin: KelvinStep,
}

/// How long a route takes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Time {
    /// Minutes, stated and usual ones together.
    pub minutes: f64,
    /// Of these, minutes that are not stated but usual (common practice, no source).
    pub usual: f64,
}

/// Minutes that a step takes where the job does not say: common practice, no source.
pub const fn usual_minutes(work: &Work) -> u32 {
    match work {
        Work::Solder { wire: Some(_), .. } | Work::Clean { .. } | Work::Cover { .. } => 10,
        Work::Place { .. } | Work::Remove { .. } => 15,
        Work::Reball { .. } => 30,
        Work::Solder { .. }
        | Work::Move { .. }
        | Work::Uncover { .. }
        | Work::WholeBoard { .. }
        | Work::OtherHeat { .. }
        | Work::Gate { .. } => 5,
        Work::Power => 2,
    }
}

/// Plans and judges one route. The job should be [`super::whole`].
///
/// # Errors
/// [`TooManySteps`] if more are left to do than the search keeps books of.
pub fn route(name: &str, setting: &Setting, budget: Budget) -> Result<Route, TooManySteps> {
    let job = setting.job();
    let answer = order(setting, budget, &mut |_| true)?;
    let plan = match &answer {
        Answer::Undecided { plan, .. } => Some(plan),
        _ => answer.plan().map(|(plan, _)| plan),
    };
    let checked = plan.map(|plan| check(setting, &whole_plan(job, plan)));
    let verdict = match (&answer, &checked) {
        (Answer::Proven { .. } | Answer::Unproven { .. }, Some(checked)) => checked.verdict,
        (Answer::Impossible { .. }, _) => Verdict::Limit,
        _ => Verdict::Unknown,
    };
    let told = checked.as_ref();
    Ok(Route {
        name: name.to_owned(),
        verdict,
        vital: told.map_or_else(Vec::new, |checked| vital(job, checked)),
        steps: plan.map_or(0, |plan| plan.steps.len()),
        minutes: told.map_or(
            Time {
                minutes: 0.0,
                usual: 0.0,
            },
            time,
        ),
        unknowns: unknowns(job, told),
        must_go_right: told.map_or_else(Vec::new, |checked| narrow(job, checked)),
        checked,
        answer,
    })
}

/// The route to take, by position: the best verdict; then fewest heats and lowest peak on the parts
/// that hold the data, the widest margin, the fewest unknowns, the shortest time, the name.
pub fn best_route(routes: &[Route]) -> Option<usize> {
    let key = |route: &Route| {
        let heats: u32 = route.vital.iter().map(|vital| vital.heats).sum();
        let peak = route.vital.iter().filter_map(|vital| vital.peak).max();
        let margin = route.answer.plan().and_then(|(_, worth)| worth.margin);
        let tight = margin.is_some();
        (
            route.verdict,
            heats,
            peak,
            tight,
            std::cmp::Reverse(margin),
            route.unknowns.len(),
        )
    };
    (0..routes.len())
        .filter(|at| routes[*at].answer.plan().is_some())
        .min_by(|a, b| {
            let (a, b) = (&routes[*a], &routes[*b]);
            key(a)
                .cmp(&key(b))
                .then(a.minutes.minutes.total_cmp(&b.minutes.minutes))
                .then_with(|| a.name.cmp(&b.name))
        })
}

fn vital(job: &Job, checked: &Checked) -> Vec<Vital> {
    let ledgers = checked.ledgers.iter();
    ledgers
        .filter(|ledger| job.parts[ledger.part.0].vital)
        .map(|ledger| Vital {
            part: job.parts[ledger.part.0].id.clone(),
            heats: ledger.heats,
            peak: ledger.peak,
        })
        .collect()
}

fn time(checked: &Checked) -> Time {
    let mut time = Time {
        minutes: 0.0,
        usual: 0.0,
    };
    for step in checked.steps.iter().filter(|s| s.planned.log.is_none()) {
        let step = &step.planned.step;
        let usual = f64::from(usual_minutes(&step.work));
        time.minutes += step.minutes.map_or(usual, Minutes::minutes);
        time.usual += step.minutes.map_or(usual, |_| 0.0);
    }
    time
}

fn unknowns(job: &Job, checked: Option<&Checked>) -> Vec<String> {
    let mut all: Vec<String> = job
        .reels
        .iter()
        .map(|reel| format!("the alloy of {}", reel.id))
        .collect();
    for step in checked.iter().flat_map(|checked| &checked.steps) {
        let passage = &step.passage;
        let sights = passage
            .sights
            .iter()
            .filter(|s| s.verdict == Verdict::Unknown);
        all.extend(sights.map(|s| format!("what {} sees or is", job.joints[s.joint.0].id)));
        for refusal in &passage.refusals {
            if let Refusal::GlueUnknown(part) = refusal {
                all.push(format!("the glue of {}", job.parts[part.0].id));
            }
        }
        for note in &passage.notes {
            if let Note::Moisture(part) = note {
                all.push(format!("whether {} is dry", job.parts[part.0].id));
            }
        }
    }
    all.sort();
    all.dedup();
    all
}

/// Steps with less than the wanted gap left (half of what process control asks between levels is
/// gone there), tightest first.
fn narrow(job: &Job, checked: &Checked) -> Vec<Narrow> {
    let mut all = Vec::new();
    for step in checked.steps.iter().filter(|s| s.planned.log.is_none()) {
        let tightest = super::check::margins(&step.passage)
            .filter(|(place, _)| !matches!(place, Place::Limit(LimitOf::Heats(_))))
            .min_by_key(|(place, margin)| (*margin, *place));
        if let Some((place, margin)) = tightest.filter(|(_, margin)| *margin < job.want.gap) {
            all.push(Narrow {
                step: step.planned.step.id.clone(),
                place,
                margin,
            });
        }
    }
    all.sort_by(|a, b| a.margin.cmp(&b.margin).then_with(|| a.step.cmp(&b.step)));
    all
}
