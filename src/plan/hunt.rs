//! Searches of one job from one start, under different terms: what was asked once is kept.

use crate::bench::{Bench, Setting};
use crate::job::{Job, StepIx};
use crate::quantity::{Celsius, KelvinStep};

use super::answer::{Answer, Budget, Chosen, Plan, TooManySteps, Worth};
use super::demands::Terms;
use super::history::Start;
use super::roads::Roads;
use super::search::{self, Found, Ground, Move, Reached, Watch, after};
use super::task::Tasks;
use super::walk::Walk;

/// Everything that searches of one job share.
#[derive(Debug)]
pub struct Hunt<'a> {
    job: &'a Job,
    roads: Roads<'a>,
    benches: Vec<Bench>,
    done: Vec<StepIx>,
    taken: Vec<u32>,
    budget: Budget,
}

/// Whether there is a plan.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Any {
    /// This one, with its tightest margin.
    Plan(Plan, Option<KelvinStep>),
    /// None.
    Nothing,
    /// The search was cut off.
    CutOff,
}

impl<'a> Hunt<'a> {
    /// Searches from these starts, one for each world (at least one); every start has done the same
    /// steps.
    pub fn new(worlds: &'a [Setting<'a>], starts: &[Start], budget: Budget) -> Self {
        Hunt {
            job: worlds[0].job(),
            roads: Roads::new(worlds),
            benches: starts.iter().map(|start| start.bench.clone()).collect(),
            done: starts[0].done.clone(),
            taken: most_taken(starts),
            budget,
        }
    }

    /// The best plan under some terms.
    ///
    /// # Errors
    /// [`TooManySteps`] if more are left to do than the search keeps books of.
    pub fn best(&mut self, terms: &Terms, watch: Watch) -> Result<Answer, TooManySteps> {
        let tasks = &self.tasks(terms)?;
        let budget = self.budget;
        let walk = &mut self.walk(tasks, terms);
        let (found, visited) = search::search(tasks, walk, budget, watch);
        Ok(match found {
            Found::Best(way) => Answer::Proven {
                worth: worth(walk, tasks, &way),
                plan: plan(tasks, &way),
                visited,
            },
            Found::Unproven(way, bound) => Answer::Unproven {
                worth: worth(walk, tasks, &way),
                plan: plan(tasks, &way),
                bound,
                visited,
            },
            Found::CutOff => Answer::Unknown { visited },
            Found::Nothing => Answer::Impossible { visited },
        })
    }

    /// Any plan under some terms, the first that a dive meets.
    ///
    /// # Errors
    /// As [`Hunt::best`].
    pub fn any(&mut self, terms: &Terms) -> Result<Any, TooManySteps> {
        let tasks = &self.tasks(terms)?;
        let budget = self.budget;
        let walk = &mut self.walk(tasks, terms);
        let (reached, _) = search::dive(tasks, walk, budget.nodes, budget);
        Ok(any(tasks, reached))
    }

    /// A plan with the widest margin.
    ///
    /// # Errors
    /// As [`Hunt::best`].
    pub fn widest(&mut self, terms: &Terms) -> Result<Any, TooManySteps> {
        let tasks = &self.tasks(terms)?;
        let budget = self.budget;
        let reached = search::widest(tasks, &mut self.walk(tasks, terms), budget);
        Ok(any(tasks, reached))
    }

    /// Every plan that no other beats in margin, heats on vital parts and number of steps at once,
    /// widest margin first; `None` if the budget was not enough.
    ///
    /// # Errors
    /// As [`Hunt::best`].
    pub fn trades(
        &mut self,
        terms: &Terms,
        watch: Watch,
    ) -> Result<Option<Vec<(Plan, Worth)>>, TooManySteps> {
        let tasks = &self.tasks(terms)?;
        let budget = self.budget;
        let walk = &mut self.walk(tasks, terms);
        let trades = search::trades(tasks, walk, budget, watch);
        Ok(trades.map(|trades| {
            let told = trades.iter().map(|trade| {
                let worth = worth(walk, tasks, &trade.way);
                (plan(tasks, &trade.way), worth)
            });
            told.collect()
        }))
    }

    /// What the searches so far came upon.
    pub const fn roads(&self) -> &Roads<'a> {
        &self.roads
    }

    fn tasks(&self, terms: &Terms) -> Result<Tasks, TooManySteps> {
        Tasks::of(self.job, terms, |step| self.done.contains(&step))
    }

    fn walk<'r>(&'r mut self, tasks: &'r Tasks, terms: &'r Terms) -> Walk<'r, 'a> {
        let start = self.roads.id(&self.benches);
        let start = (start, &self.taken[..]);
        Walk::new(self.job, &mut self.roads, tasks, terms, start, self.budget)
    }
}

fn any(tasks: &Tasks, reached: Reached) -> Any {
    match reached {
        Reached::End(way, margin) => Any::Plan(plan(tasks, &way), margin),
        Reached::Nothing => Any::Nothing,
        Reached::CutOff => Any::CutOff,
    }
}

/// Heats taken in the worst of the worlds.
fn most_taken(starts: &[Start]) -> Vec<u32> {
    let parts = starts.first().map_or(0, |start| start.heats.len());
    (0..parts)
        .map(|p| starts.iter().map(|start| start.heats[p]).max().unwrap_or(0))
        .collect()
}

fn plan(tasks: &Tasks, way: &[Move]) -> Plan {
    let steps: Vec<Chosen> = way
        .iter()
        .map(|step| {
            let task = &tasks.all[step.task];
            Chosen {
                step: task.step,
                pick: task.variants[step.variant].pick,
            }
        })
        .collect();
    let done = |step: StepIx| steps.iter().any(|planned| planned.step == step);
    let left_out = tasks
        .all
        .iter()
        .map(|task| task.step)
        .filter(|step| !done(*step))
        .collect();
    Plan { steps, left_out }
}

fn worth(walk: &mut Walk, tasks: &Tasks, way: &[Move]) -> Worth {
    let mut margin: Option<KelvinStep> = None;
    let mut vital_heats = 0;
    let mut vital_peak: Option<Celsius> = None;
    let mut changes = 0;
    let mut last = (None, None);
    let mut state = walk.start();
    for &step in way {
        let Some(leg) = walk.walk(state, step.task, step.variant) else {
            break;
        };
        margin = [margin, leg.margin].into_iter().flatten().min();
        vital_heats += leg.vital_heats;
        vital_peak = vital_peak.max(leg.vital_peak);
        let (next, more) = after(last, tasks, step);
        (last, changes) = (next, changes + more);
        state = leg.to;
    }
    Worth {
        margin,
        vital_heats,
        vital_peak,
        changes,
        steps: u32::try_from(way.len()).unwrap_or(u32::MAX),
    }
}
