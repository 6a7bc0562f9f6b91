//! Steps as the search sees them: numbered by their ids, never by their place in the file.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;

use crate::bench::{Doing, Pick, picks, solder_choice};
use crate::job::{Job, StepIx, Tool, Way, Where, Work};

use super::answer::TooManySteps;
use super::demands::{Demand, Terms};
use super::done::{Done, MOST_TASKS};
use super::sorted::natural;
use super::twins::first_twins;

/// One step that is left to do.
#[derive(Clone, Debug)]
pub struct Task {
    /// The step of the job.
    pub step: StepIx,
    /// Tasks that must be done before.
    pub needs: Done,
    /// Optional tasks that can no longer be done afterwards.
    pub forgoes: Done,
    /// Ways to do it, in an order that does not depend on the file.
    pub variants: Vec<Variant>,
}

/// One way to do a task.
#[derive(Clone, Copy, Debug)]
pub struct Variant {
    /// The choices.
    pub pick: Pick,
    /// The tool in use, where one is.
    pub tool: Option<Tool>,
    /// The alloy in use, where one is: a number that equal alloys share.
    pub alloy: Option<usize>,
}

/// Every step of a job that is left to do, sorted by id.
#[derive(Clone, Debug)]
pub struct Tasks {
    /// Sorted by id.
    pub all: Vec<Task>,
    /// All that must be done.
    pub mandatory: Done,
    /// For each the first that differs from it in nothing but its name.
    pub twins: Vec<usize>,
}

impl Tasks {
    /// The tasks of a job, without the steps that are done.
    ///
    /// `after` holds through a step that is left out: what had to come before it still comes before
    /// what had to come after it. A step that need not be done is an optional one.
    ///
    /// # Errors
    /// [`TooManySteps`] if more than [`MOST_TASKS`] are left.
    pub fn of(
        job: &Job,
        terms: &Terms,
        is_done: impl Fn(StepIx) -> bool,
    ) -> Result<Self, TooManySteps> {
        let dropped = |demand| terms.dropped.contains(&demand);
        let is_optional = |step: StepIx| job.steps[step.0].optional || dropped(Demand::Done(step));
        let mut left: Vec<StepIx> = (0..job.steps.len())
            .map(StepIx)
            .filter(|step| !is_done(*step))
            .collect();
        if left.len() > MOST_TASKS {
            return Err(TooManySteps {
                found: left.len(),
                most: MOST_TASKS,
            });
        }
        left.sort_by(|a, b| natural(&job.steps[a.0].id, &job.steps[b.0].id));
        let counts = |first, then| !dropped(Demand::Before(first, then));
        let before = |step: StepIx| earlier(job, step, counts);
        // What was optional and had to come before something that is done comes too late.
        let late: BTreeSet<StepIx> = (0..job.steps.len())
            .map(StepIx)
            .filter(|step| is_done(*step))
            .flat_map(before)
            .filter(|step| is_optional(*step))
            .collect();
        let optional = mask(&left, is_optional);
        let alloys = alloy_numbers(job);
        let all = left.iter().map(|&step| {
            let earlier = before(step);
            let before = mask(&left, |step| earlier.contains(&step));
            let gone = terms.gone.contains(&step) || late.contains(&step);
            Task {
                step,
                needs: before.without(optional),
                forgoes: before & optional,
                variants: if gone {
                    Vec::new()
                } else {
                    variants(job, step, &alloys)
                },
            }
        });
        let all = all.collect();
        let mandatory = mask(&left, |step| !is_optional(step));
        let twins = first_twins(job, &left, terms);
        Ok(Tasks {
            all,
            mandatory,
            twins,
        })
    }

    /// Tasks that may be done next, lowest id first.
    pub fn open(&self, done: Done) -> impl Iterator<Item = usize> + '_ {
        let left = self.left(done);
        left.members()
            .filter(move |&t| self.all[t].needs.without(done).is_empty())
    }

    /// Tasks that are not done and may still be.
    pub fn left(&self, done: Done) -> Done {
        Done::first(self.all.len()).without(done | self.forgone(done))
    }

    /// In the place of each of some open tasks the first of its twins that is left.
    pub fn first_of_twins(&self, among: Done, done: Done) -> Done {
        let first = |t: usize| {
            let twins = self.twins[t];
            let left = (twins..t).find(|&other| self.twins[other] == twins && !done.has(other));
            left.unwrap_or(t)
        };
        among.members().map(first).collect()
    }

    /// Whether nothing that must be done is left.
    pub fn finished(&self, done: Done) -> bool {
        self.mandatory.without(done).is_empty()
    }

    fn forgone(&self, done: Done) -> Done {
        let forgoes = done.members().map(|t| self.all[t].forgoes);
        forgoes.fold(Done::NONE, |all, some| all | some)
    }
}

fn mask(left: &[StepIx], is_in: impl Fn(StepIx) -> bool) -> Done {
    left.iter()
        .enumerate()
        .filter(|(_, step)| is_in(**step))
        .map(|(t, _)| t)
        .collect()
}

/// Everything that must come before a step, directly or through others.
fn earlier(job: &Job, step: StepIx, counts: impl Fn(StepIx, StepIx) -> bool) -> BTreeSet<StepIx> {
    let mut all = BTreeSet::new();
    let mut open = vec![step];
    while let Some(then) = open.pop() {
        for (first, _) in &job.steps[then.0].after {
            if counts(*first, then) && all.insert(*first) {
                open.push(*first);
            }
        }
    }
    all
}

/// A number for each alloy name in the steps, in the order of the names.
fn alloy_numbers(job: &Job) -> BTreeMap<String, usize> {
    let mut numbers = BTreeMap::new();
    for step in &job.steps {
        let Some(choice) = solder_choice(&step.work) else {
            continue;
        };
        for pick in picks(step) {
            if let Some(solder) = Doing::planned(step, pick).solder(choice) {
                numbers.insert(solder.name.clone(), 0);
            }
        }
    }
    for (at, number) in numbers.values_mut().enumerate() {
        *number = at;
    }
    numbers
}

fn variants(job: &Job, at: StepIx, alloys: &BTreeMap<String, usize>) -> Vec<Variant> {
    let step = &job.steps[at.0];
    let mut keyed: Vec<_> = picks(step)
        .into_iter()
        .map(|pick| {
            let doing = Doing::planned(step, pick);
            let way = doing.way();
            let solder = solder_choice(&step.work).and_then(|choice| doing.solder(choice));
            let rounds = match &step.work {
                Work::Clean { rounds, .. } => doing.rounds(rounds),
                _ => 0,
            };
            let variant = Variant {
                pick,
                tool: way.map(|way| way.tool).filter(|tool| *tool != Tool::None),
                alloy: solder.and_then(|solder| alloys.get(&solder.name).copied()),
            };
            let way_key = way.map_or_else(String::new, |way| way_key(job, way));
            ((variant.tool, way_key, variant.alloy, rounds), variant)
        })
        .collect();
    keyed.sort_by(|a, b| a.0.cmp(&b.0));
    keyed.into_iter().map(|(_, variant)| variant).collect()
}

/// Everything that a way says, with ids in the place of positions.
fn way_key(job: &Job, way: &Way) -> String {
    let mut places: Vec<String> = way
        .couplings
        .iter()
        .map(|(place, k)| format!("{} k {}", where_id(job, *place), k.factor()))
        .chain(
            way.sees
                .iter()
                .map(|(place, t)| format!("{} sees {t}", where_id(job, *place))),
        )
        .collect();
    places.sort();
    let mut key = String::new();
    let mut number = |t: Option<crate::quantity::Celsius>| {
        let millidegrees = t.map_or(i32::MIN, crate::quantity::Celsius::millidegrees);
        // Offset so that the text sorts as the number does.
        let _ = write!(key, "{:011} ", i64::from(millidegrees) + 3_000_000_000);
    };
    number(way.peak);
    number(Some(way.preheat));
    number(way.set);
    let _ = write!(key, "{:?} ", way.seconds);
    key + &places.join(", ")
}

fn where_id(job: &Job, place: Where) -> String {
    match place {
        Where::Joint(at) => format!("joint {}", job.joints[at.0].id),
        Where::Part(at) => format!("part {}", job.parts[at.0].id),
        Where::Guard(at) => format!("guard {}", job.guards[at.0].id),
        Where::Zone(at) => format!("zone {}", job.zones[at.0].id),
        Where::Rest => "rest".to_owned(),
    }
}
