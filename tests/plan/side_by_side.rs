//! The transition of the program and the naive bench, walked side by side through random jobs: what every
//! step breaks, what every thing keeps, how hot it gets, and what the bench is afterwards.

use std::collections::{BTreeMap, BTreeSet};

use meltstair::bench::{Bench, Doing, Pick, Setting, pass};
use meltstair::job::{Job, StepIx};
use meltstair::plan::{Demand, Fault, Place, faults, margins};
use meltstair::quantity::{Celsius, KelvinStep};

use super::dice::Dice;
use super::naive::{Act, Done, Naive};
use super::random;
use crate::plan_help::made_up_book;

/// What is not the same after a step.
fn differences(
    job: &Job,
    setting: &Setting,
    bench: &Bench,
    act: Act,
    naive: &Done,
) -> (Vec<String>, Bench) {
    let pick = Pick {
        way: act.way,
        solder: act.solder,
        rounds: act.rounds,
    };
    let step = StepIx(act.step);
    let passage = pass(setting, bench, &Doing::planned(&job.steps[act.step], pick));
    let ours: BTreeSet<Fault> = faults(setting, step, &passage).into_iter().collect();
    let naives: BTreeSet<Fault> = naive.faults.iter().copied().collect();
    let mut all = Vec::new();
    // What cannot be done at all is nobody's next step: nothing more is asked of it.
    let cannot = |faults: &BTreeSet<Fault>| faults.iter().any(|fault| fault.demand.is_none());
    if cannot(&ours) && cannot(&naives) {
        return (all, passage.next);
    }
    for fault in ours.symmetric_difference(&naives) {
        let who = if ours.contains(fault) {
            "program"
        } else {
            "naive"
        };
        all.push(format!("{who} alone: {fault:?}"));
    }
    if !all.is_empty() {
        return (all, passage.next);
    }
    let ours: BTreeMap<Demand, i32> = margins(&passage)
        .map(|(place, kept)| {
            let demand = match place {
                Place::Joint(joint) => Demand::Keep(joint),
                Place::Limit(of) => Demand::Limit(of),
            };
            (demand, KelvinStep::millikelvin(kept))
        })
        .collect();
    let naives: BTreeMap<Demand, i32> = naive.margins.iter().copied().collect();
    if ours != naives {
        all.push(format!("margins {ours:?} against {naives:?}"));
    }
    let ours = passage.peak.map(Celsius::millidegrees);
    if ours != naive.peak {
        all.push(format!("peak {ours:?} against {:?}", naive.peak));
    }
    let ours: Vec<(usize, i32)> = passage
        .heats
        .iter()
        .map(|(p, t)| (p.0, t.millidegrees()))
        .collect();
    let same = ours.len() == naive.heats.len()
        && ours
            .iter()
            .zip(&naive.heats)
            .all(|((p, t), (q, u))| p == q && u.is_none_or(|u| u == *t));
    if !same {
        all.push(format!("heats {ours:?} against {:?}", naive.heats));
    }
    all.extend(benches(&passage.next, &naive.next));
    (all, passage.next)
}

/// What is not the same on the two benches.
fn benches(ours: &Bench, naive: &Naive) -> Vec<String> {
    let mut all = Vec::new();
    for (j, (now, spot)) in ours.joints.iter().zip(&naive.spots).enumerate() {
        let parts: Vec<usize> = now.parts.iter().map(|p| p.0).collect();
        let under: Vec<usize> = now.under.iter().map(|g| g.0).collect();
        let wires: Vec<usize> = now.wires.iter().map(|w| w.0).collect();
        let a = (
            now.standing,
            &now.layers,
            now.contact,
            parts,
            under,
            wires,
            now.closed,
        );
        let mut tied = spot.wires.clone();
        tied.sort_unstable();
        let b = (
            spot.standing,
            &spot.metal,
            spot.contact,
            spot.parts.clone(),
            spot.under.clone(),
            tied,
            spot.closed,
        );
        if a != b {
            all.push(format!("joint{j} {a:?} against {b:?}"));
        }
    }
    for (p, (now, body)) in ours.parts.iter().zip(&naive.bodies).enumerate() {
        let on: Vec<usize> = now.on.iter().map(|j| j.0).collect();
        let a = (
            &on,
            &now.carries,
            now.contact,
            now.balled,
            now.lies,
            now.dry,
        );
        let b = (
            &body.on,
            &body.metal,
            body.contact,
            body.balled,
            body.lies,
            body.dry,
        );
        if a != b {
            all.push(format!("part{p} {a:?} against {b:?}"));
        }
    }
    let guards: Vec<bool> = ours.guards.iter().map(|g| g.exists).collect();
    if (&guards, ours.checked) != (&naive.guards, naive.checked) {
        all.push("guards or check".to_owned());
    }
    all
}

/// Walks a random job wherever it goes, and says how many steps were compared and what differs.
fn walk(seed: u64) -> (usize, Vec<String>) {
    let mut dice = Dice(seed);
    let steps = 3 + dice.below(6);
    let job = random::job(&mut dice, steps);
    let melts = made_up_book(&job);
    let setting = Setting::new(&job, &melts);
    let mut bench = Bench::at_start(&setting);
    let mut naive = Naive::new(&job, &melts);
    let found = benches(&bench, &naive);
    if !found.is_empty() {
        return (
            0,
            found
                .iter()
                .map(|line| format!("seed {seed} start: {line}"))
                .collect(),
        );
    }
    let (mut compared, mut tries) = (0, 0);
    while tries < 12 {
        tries += 1;
        let open = naive.open();
        if open.is_empty() {
            break;
        }
        let act = dice.of(&open);
        let done = naive.try_act(act);
        let (found, next) = differences(&job, &setting, &bench, act, &done);
        compared += 1;
        if !found.is_empty() {
            let step = &job.steps[act.step];
            let told = format!("{act:?} {:?} {:?}", step.work, step.ways.get(act.way));
            let lines = found
                .iter()
                .map(|line| format!("seed {seed}, step {compared}: {line}\n    {told}"));
            return (compared, lines.collect());
        }
        if done.faults.iter().all(|fault| fault.demand.is_some()) {
            bench = next;
            naive = done.next;
            naive.done.push(act.step);
        }
    }
    (compared, Vec::new())
}

/// How many random jobs are walked: few in the suite, as many as you like by hand.
fn walks() -> u64 {
    let asked = std::env::var("MELTSTAIR_WALKS").ok();
    asked.map_or(600, |asked| {
        asked.parse().expect("MELTSTAIR_WALKS is a number")
    })
}

#[test]
fn the_transition_equals_the_naive_bench_step_by_step() {
    let (mut compared, mut alike) = (0, 0);
    let mut different: Vec<String> = Vec::new();
    for seed in 9_000_000..9_000_000 + walks() {
        let (steps, found) = walk(seed);
        compared += steps;
        match found.into_iter().next() {
            Some(first) => different.push(first),
            None => alike += 1,
        }
    }
    let first: Vec<&String> = different.iter().take(8).collect();
    assert!(
        different.is_empty(),
        "{} of {alike} jobs: {first:#?}",
        different.len()
    );
    assert!(compared > 4 * alike, "{compared} steps of {alike} jobs");
    println!("{alike} jobs alike in {compared} steps");
}
