//! The best order of a job, with its choices of alloys, tools, rounds and optional steps.

use std::collections::BTreeSet;

use crate::bench::Setting;
use crate::job::Job;

use super::answer::{Answer, Budget, Plan, TooManySteps, Worth};
use super::check::worlds;
use super::demands::{Demand, Terms};
use super::history::{Start, start};
use super::hunt::Hunt;
use super::search::Watch;

/// The best order from where the log of the job ends.
///
/// Widest margin first; then fewest heats on vital parts, lowest peak on them, fewest changes of
/// tool and alloy, fewest steps, and last the first sequence of step ids, so that the order of the
/// steps in the file never matters.
///
/// Where alloys are not known, the plan holds whatever they are. The job should be
/// [`super::whole`]. `watch` is asked every few hundred benches whether to go on.
///
/// # Errors
/// [`TooManySteps`] if more are left to do than the search keeps books of.
pub fn order(setting: &Setting, budget: Budget, watch: Watch) -> Result<Answer, TooManySteps> {
    let worlds = all_worlds(setting);
    let starts: Vec<Start> = worlds.iter().map(start).collect();
    let answer = order_from(&worlds, &starts, budget, watch)?;
    Ok(match answer {
        Answer::Impossible { visited } if heat_was_cut(setting.job(), budget) => {
            Answer::Unknown { visited }
        }
        answer => answer,
    })
}

/// Whether heat may have been left unknown because nobody waited for it: then nothing is proven by what was found.
pub(super) fn heat_was_cut(job: &Job, budget: Budget) -> bool {
    job.board.is_some() && budget.is_over()
}

/// The same from given benches, one for each world: the plan holds in each of them. Every start has
/// done the same steps.
pub(super) fn order_from(
    worlds: &[Setting],
    starts: &[Start],
    budget: Budget,
    watch: Watch,
) -> Result<Answer, TooManySteps> {
    let mut hunt = Hunt::new(worlds, starts, budget);
    let answer = best_that_keeps_all(&mut hunt, watch)?;
    if !matches!(answer, Answer::Impossible { .. }) {
        return Ok(answer);
    }
    // What the finished board breaks is told beside a plan that holds in every step.
    let heat_only = Terms {
        dropped: BTreeSet::from([Demand::LeadFree, Demand::CadmiumFree, Demand::Service]),
        ..Terms::default()
    };
    if hunt.roads().met_end_fault() {
        let held = hunt.best(&heat_only, watch)?;
        if !matches!(held, Answer::Impossible { .. }) {
            return Ok(held);
        }
    }
    if !hunt.roads().met_unknown() {
        return Ok(answer);
    }
    let harmless = Terms {
        unknown_is_fine: true,
        ..heat_only
    };
    Ok(match hunt.best(&harmless, watch)? {
        Answer::Proven { plan, visited, .. } | Answer::Unproven { plan, visited, .. } => {
            Answer::Undecided { plan, visited }
        }
        _ => answer,
    })
}

/// The best order that breaks no demand, law and service among them: the first of what [`order_from`]
/// asks.
pub(super) fn strict_from(
    worlds: &[Setting],
    starts: &[Start],
    budget: Budget,
) -> Result<Answer, TooManySteps> {
    best_that_keeps_all(&mut Hunt::new(worlds, starts, budget), &mut |_| true)
}

/// The best plan in which everything holds, whatever its margin; where there is none, the best that breaks
/// no demand though something in it is close.
fn best_that_keeps_all(hunt: &mut Hunt, watch: Watch) -> Result<Answer, TooManySteps> {
    let holds = Terms {
        must_hold: true,
        ..Terms::default()
    };
    let answer = hunt.best(&holds, watch)?;
    let cut_off = match answer {
        Answer::Impossible { .. } if hunt.roads().met_close() => false,
        Answer::Unknown { .. } => true,
        _ => return Ok(answer),
    };
    Ok(match hunt.best(&Terms::default(), watch)? {
        // Whether a plan holds in everything was never settled.
        Answer::Proven {
            plan,
            worth,
            visited,
        } if cut_off => Answer::Unproven {
            plan,
            worth,
            bound: None,
            visited,
        },
        answer => answer,
    })
}

/// Every plan that no other beats in margin, heats on vital parts and number of steps at once,
/// widest margin first: what `order` chooses from, if margin were not all. `None` if the budget was
/// not enough to know them all.
///
/// # Errors
/// As [`order`].
pub fn order_all(
    setting: &Setting,
    budget: Budget,
    watch: Watch,
) -> Result<Option<Vec<(Plan, Worth)>>, TooManySteps> {
    let worlds = all_worlds(setting);
    let starts: Vec<Start> = worlds.iter().map(start).collect();
    Hunt::new(&worlds, &starts, budget).trades(&Terms::default(), watch)
}

/// One setting for each assumption about unknown alloys.
pub(super) fn all_worlds<'a>(setting: &Setting<'a>) -> Vec<Setting<'a>> {
    let worlds = worlds(setting).into_iter();
    worlds.map(|world| setting.in_world(world)).collect()
}
