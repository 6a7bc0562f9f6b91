//! What is said to open a job, checked without the program's own search or changes: the change is
//! made here a second time, and every way of doing the changed job is tried on the naive bench.

use std::collections::BTreeMap;

use meltstair::bench::Setting;
use meltstair::job::{Choice, Coupling, Job, Solder, Step, StepIx, Way, Where, Work};
use meltstair::plan::{self, Budget, Candidate, Change};
use meltstair::quantity::KelvinStep;

use crate::plan_brute::dice::Dice;
use crate::plan_brute::naive::Naive;
use crate::plan_brute::{cheapest, random};
use crate::plan_help::made_up_book;

/// The job with one change, as its words say it.
fn changed(job: &Job, change: &Change) -> Job {
    let mut job = job.clone();
    match change {
        Change::Preheat { step, to } => {
            for way in &mut job.steps[step.0].ways {
                if way.preheat > *to {
                    way.preheat = *to;
                }
            }
        }
        Change::Alloy { step, solder, .. } => other_alloy(&mut job, *step, solder),
        Change::Coupling {
            step,
            place,
            at_most,
        } => {
            for way in &mut job.steps[step.0].ways {
                lower(way, *place, at_most.factor());
            }
        }
        Change::LocalTool {
            step,
            tool,
            place,
            at_most,
        } => {
            let room = job.ambient;
            for way in &mut job.steps[step.0].ways {
                way.tool = *tool;
                way.preheat = room;
                lower(way, *place, at_most.factor());
            }
        }
        Change::KeepOpen { step, joint } => job.steps[step.0].closes.retain(|j| j != joint),
        Change::Free { first, then } => job.steps[then.0].after.retain(|(s, _)| s != first),
        Change::MoreHeats { part, heats } => job.parts[part.0].heats_left = Some(*heats),
        Change::Margin(margin) => job.want.margin = *margin,
        Change::LeaveOut(step) => job = without(&job, step.0),
        Change::Clean { .. } | Change::PartOff { .. } => panic!("adds steps: see `only_adds`"),
    }
    job
}

fn lower(way: &mut Way, place: Where, most: f64) {
    way.sees.retain(|(stated, _)| *stated != place);
    let stated = way.couplings.iter().find(|(at, _)| *at == place);
    let k = stated.map_or(most, |(_, k)| k.factor().min(most));
    let k = Coupling::new(k).unwrap();
    match way.couplings.iter_mut().find(|(at, _)| *at == place) {
        Some(known) => known.1 = k,
        None => way.couplings.insert(0, (place, k)),
    }
}

fn other_alloy(job: &mut Job, step: StepIx, solder: &Solder) {
    let balls = match &mut job.steps[step.0].work {
        Work::Reball {
            part, solder: used, ..
        } => {
            *used = Choice::Fixed(solder.clone());
            Some(*part)
        }
        Work::Solder { solder: used, .. }
        | Work::Place {
            paste: Some((used, _)),
            ..
        }
        | Work::Remove {
            flood: Some((used, _)),
            ..
        } => {
            *used = Choice::Fixed(solder.clone());
            None
        }
        other => panic!("no alloy in {other:?}"),
    };
    // A peak that was stated belonged to the old alloy.
    let sets = |work: &Work| matches!(work, Work::Place { part, .. } if Some(*part) == balls);
    for (s, other) in job.steps.iter_mut().enumerate() {
        if s == step.0 || sets(&other.work) {
            other.ways.iter_mut().for_each(|way| way.peak = None);
        }
    }
}

/// The job without a step; what waited for it waits for what it waited for.
fn without(job: &Job, gone: usize) -> Job {
    let mut left = job.clone();
    let waited = left.steps.remove(gone).after;
    for step in &mut left.steps {
        let mut after = Vec::new();
        let mut inherits = false;
        for (before, why) in &step.after {
            if before.0 == gone {
                inherits = true;
            } else {
                after.push((*before, why.clone()));
            }
        }
        if inherits {
            after.extend(waited.iter().cloned());
        }
        for (before, _) in &mut after {
            before.0 -= usize::from(before.0 > gone);
        }
        step.after = after;
    }
    left
}

/// The changed job has all that was there, and more steps: the new ones clean those pads, or take
/// that part off and set it back.
fn only_adds(before: &Job, after: &Job, change: &Change) {
    let count = before.steps.len();
    let new: &[Step] = &after.steps[count..];
    let mut stripped = after.clone();
    stripped.steps.truncate(count);
    for step in &mut stripped.steps {
        step.after.retain(|(first, _)| first.0 < count);
    }
    assert_eq!(&stripped, before);
    let works: Vec<&Work> = new.iter().map(|step| &step.work).collect();
    match (change, &works[..]) {
        (
            Change::Clean {
                joint,
                before: waits,
                rounds,
                ..
            },
            [
                Work::Clean {
                    joint: at,
                    rounds: Choice::Fixed(done),
                    ..
                },
            ],
        ) => {
            assert_eq!((at, done), (&Some(*joint), rounds));
            let waited = &after.steps[waits.0].after;
            assert!(waited.iter().any(|(first, _)| first.0 == count));
        }
        (
            Change::PartOff { part, on, .. },
            [
                Work::Remove { part: off, .. },
                Work::Place {
                    part: back, on: at, ..
                },
            ],
        ) => assert_eq!((off, back, at), (part, part, &vec![*on])),
        other => panic!("{other:?}"),
    }
}

const fn kind(change: &Change) -> &'static str {
    match change {
        Change::Preheat { .. } => "preheat",
        Change::Alloy { .. } => "alloy",
        Change::Coupling { .. } => "coupling",
        Change::LocalTool { .. } => "local tool",
        Change::Clean { .. } => "clean",
        Change::PartOff { .. } => "part off",
        Change::KeepOpen { .. } => "keep open",
        Change::Free { .. } => "free",
        Change::MoreHeats { .. } => "more heats",
        Change::Margin(_) => "margin",
        Change::LeaveOut(_) => "leave out",
    }
}

#[test]
fn what_opens_a_job_opens_it() {
    let shelf: Vec<Candidate> = random::alloys()
        .into_iter()
        .map(|solder| Candidate {
            solder,
            in_stock: Some(true),
            flags: Vec::new(),
        })
        .collect();
    let mut kinds: BTreeMap<&str, usize> = BTreeMap::new();
    let mut pairs = 0;
    for seed in 7_000_000..7_010_000 {
        let mut dice = Dice(seed);
        let steps = 1 + dice.below(4);
        let job = random::job(&mut dice, steps);
        let melts = made_up_book(&job);
        let setting = Setting::new(&job, &melts);
        let Some(conflict) = plan::conflict(&setting, Budget::default()).unwrap() else {
            continue;
        };
        let openings = plan::openings(&setting, &conflict, &shelf, Budget::default()).unwrap();
        for opening in openings {
            pairs += usize::from(opening.changes.len() == 2);
            if let [only] = &opening.changes[..] {
                if matches!(only, Change::Clean { .. } | Change::PartOff { .. }) {
                    only_adds(&job, &opening.job, only);
                } else {
                    assert_eq!(changed(&job, only), opening.job, "seed {seed}: {only:?}");
                }
                *kinds.entry(kind(only)).or_insert(0) += 1;
            }
            let best = cheapest(&Naive::new(&opening.job, &melts));
            let Some((cost, _)) = best else {
                panic!("seed {seed}: {:?} opens nothing", opening.changes)
            };
            let said = opening.margin.map(KelvinStep::millikelvin);
            assert_eq!(cost.margin, said, "seed {seed}: {:?}", opening.changes);
        }
    }
    for kind in [
        "preheat",
        "alloy",
        "coupling",
        "local tool",
        "clean",
        "keep open",
        "free",
        "more heats",
        "margin",
        "leave out",
    ] {
        assert!(kinds.contains_key(kind), "{kind} never came up: {kinds:?}");
    }
    assert!(pairs > 20, "{pairs} pairs, {kinds:?}");
}
