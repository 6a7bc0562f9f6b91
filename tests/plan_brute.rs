//! The planner against trying everything, on random small jobs, with a bench written a second time.

#[path = "plan/dice.rs"]
pub mod dice;
#[path = "plan/naive.rs"]
mod naive;
#[path = "plan/random.rs"]
pub mod random;

use std::collections::BTreeMap;

use meltstair::bench::Setting;
use meltstair::job::Job;
use meltstair::melt::MeltBook;
use meltstair::plan::{self, Answer, Budget, Plan, Worth};
use meltstair::quantity::{Celsius, KelvinStep};

use self::dice::Dice;
use self::naive::{Act, Cost, Naive};
use crate::plan_help::made_up_book;

/// The cheapest of all ways.
fn cheapest(job: &Job, melts: &MeltBook, lawful: bool) -> Option<(Cost, Vec<usize>)> {
    let mut best = None;
    try_all(&Naive::new(job, melts), lawful, &mut best);
    best
}

fn try_all(bench: &Naive, lawful: bool, best: &mut Option<(Cost, Vec<usize>)>) {
    if bench.is_finished() && (!lawful || bench.is_lawful()) {
        let cheaper = best
            .as_ref()
            .is_none_or(|(cost, _)| bench.cost.key() < cost.key());
        if cheaper {
            *best = Some((bench.cost.clone(), bench.done.clone()));
        }
    }
    for act in bench.open() {
        if let Some(next) = bench.act(act) {
            try_all(&next, lawful, best);
        }
    }
}

fn cost(worth: &Worth) -> Cost {
    Cost {
        margin: worth.margin.map(KelvinStep::millikelvin),
        heats: worth.vital_heats,
        peak: worth.vital_peak.map(Celsius::millidegrees),
        changes: worth.changes,
        steps: worth.steps as usize,
    }
}

/// The plan done step by step on the naive bench.
fn walked<'a>(job: &'a Job, melts: &'a MeltBook, plan: &Plan) -> Option<Naive<'a>> {
    let mut bench = Naive::new(job, melts);
    for chosen in &plan.steps {
        let act = Act {
            step: chosen.step.0,
            way: chosen.pick.way,
            solder: chosen.pick.solder,
            rounds: chosen.pick.rounds,
        };
        assert!(bench.open().contains(&act), "out of turn: {act:?}");
        bench = bench.act(act)?;
    }
    bench.is_finished().then_some(bench)
}

fn compare(seeds: std::ops::Range<u64>, most_steps: usize) -> BTreeMap<&'static str, usize> {
    let mut seen = BTreeMap::new();
    for seed in seeds {
        let mut dice = Dice(seed);
        let steps = 1 + dice.below(most_steps);
        let job = random::job(&mut dice, steps);
        let melts = made_up_book(&job);
        let setting = Setting::new(&job, &melts);
        let answer = plan::order(&setting, Budget::default(), &mut |_| true).unwrap();
        let want = cheapest(&job, &melts, true).or_else(|| cheapest(&job, &melts, false));
        let what = match (&answer, &want) {
            (Answer::Proven { plan, worth, .. }, Some((want, _))) => {
                assert_eq!(cost(worth), *want, "seed {seed}: {plan:?}\n{job:#?}");
                let walked =
                    walked(&job, &melts, plan).unwrap_or_else(|| panic!("seed {seed}: {plan:?}"));
                assert_eq!(walked.cost, *want, "seed {seed}");
                "solved"
            }
            // An unknown coupling is no plan either way.
            (Answer::Impossible { .. }, None) => "impossible",
            (Answer::Undecided { .. }, None) => "undecided",
            other => panic!("seed {seed}: {other:#?}\n{job:#?}"),
        };
        *seen.entry(what).or_insert(0) += 1;
    }
    seen
}

#[test]
fn planner_equals_trying_everything_on_small_jobs() {
    let seen = compare(0..2_000, 5);
    assert!(seen["solved"] > 400 && seen["impossible"] > 200, "{seen:?}");
}

#[test]
fn planner_equals_trying_everything_on_jobs_of_six_steps() {
    let seen = compare(1_000_000..1_000_300, 6);
    assert!(seen["solved"] > 30, "{seen:?}");
}
