//! The best order of a job, with its choices of alloys, tools, rounds and optional steps.

use std::collections::BTreeSet;

use crate::bench::{Bench, Setting};
use crate::job::{Job, StepIx};
use crate::quantity::{Celsius, KelvinStep};

use super::answer::{Answer, Budget, Chosen, Plan, TooManySteps, Worth};
use super::check::worlds;
use super::demands::{Demand, Terms};
use super::history::{Start, start};
use super::roads::Roads;
use super::search::{Found, Ground, Move, Watch, after, search};
use super::task::Tasks;
use super::walk::Walk;

/// The best order from where the log of the job ends.
///
/// Widest margin first; then fewest heats on vital parts, lowest peak on them, fewest changes of
/// tool and alloy, fewest steps, and last the first sequence of step ids, so that the order of the
/// steps in the file never matters.
///
/// Where alloys are not known, the plan holds whatever they are. The job should be [`super::whole`]. `watch` is asked every few hundred benches whether to go on.
///
/// # Errors
/// [`TooManySteps`] if more are left to do than the search keeps books of.
pub fn order(setting: &Setting, budget: Budget, watch: Watch) -> Result<Answer, TooManySteps> {
    let worlds: Vec<Setting> = worlds(setting)
        .into_iter()
        .map(|world| setting.in_world(world))
        .collect();
    let starts: Vec<Start> = worlds.iter().map(start).collect();
    order_from(&worlds, &starts, budget, watch)
}

/// The same from given benches, one for each world: the plan holds in each of them. Every start has
/// done the same steps.
pub(super) fn order_from(
    worlds: &[Setting],
    starts: &[Start],
    budget: Budget,
    watch: Watch,
) -> Result<Answer, TooManySteps> {
    let (Some(setting), Some(start)) = (worlds.first(), starts.first()) else {
        return Ok(Answer::Unknown { visited: 0 });
    };
    let job = setting.job();
    let tasks = Tasks::of(job, &Terms::default(), |step| start.done.contains(&step))?;
    let mut hunt = Hunt {
        job,
        tasks: &tasks,
        roads: Roads::new(worlds),
        benches: starts.iter().map(|start| start.bench.clone()).collect(),
        taken: most_taken(starts),
        budget,
    };
    let answer = hunt.under(&Terms::default(), watch);
    if !matches!(answer, Answer::Impossible { .. }) {
        return Ok(answer);
    }
    // What the finished board breaks is told beside a plan that holds in every step.
    let heat_only = Terms {
        dropped: BTreeSet::from([Demand::LeadFree, Demand::CadmiumFree, Demand::Service]),
        unknown_is_fine: false,
    };
    let held = hunt.under(&heat_only, watch);
    if !matches!(held, Answer::Impossible { .. }) {
        return Ok(held);
    }
    let harmless = Terms {
        unknown_is_fine: true,
        ..heat_only
    };
    Ok(match hunt.under(&harmless, watch) {
        Answer::Proven { plan, visited, .. } | Answer::Unproven { plan, visited, .. } => {
            Answer::Undecided { plan, visited }
        }
        _ => answer,
    })
}

/// Everything that searches of one job share.
struct Hunt<'h, 'a> {
    job: &'a Job,
    tasks: &'h Tasks,
    roads: Roads<'a>,
    benches: Vec<Bench>,
    taken: Vec<u32>,
    budget: Budget,
}

impl Hunt<'_, '_> {
    fn under(&mut self, terms: &Terms, watch: Watch) -> Answer {
        let start = self.roads.id(self.benches.clone());
        let tasks = self.tasks;
        let roads = &mut self.roads;
        let mut walk = Walk::new(self.job, roads, tasks, terms, start, &self.taken);
        let (found, visited) = search(tasks, &mut walk, self.budget, watch);
        match found {
            Found::Best(way) => Answer::Proven {
                worth: worth(&mut walk, tasks, &way),
                plan: plan(tasks, &way),
                visited,
            },
            Found::Unproven(way, bound) => Answer::Unproven {
                worth: worth(&mut walk, tasks, &way),
                plan: plan(tasks, &way),
                bound,
                visited,
            },
            Found::CutOff => Answer::Unknown { visited },
            Found::Nothing => Answer::Impossible { visited },
        }
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
