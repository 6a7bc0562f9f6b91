//! The planner against trying everything, on random small jobs, with a bench written a second time.

#[path = "plan/dice.rs"]
pub mod dice;
#[path = "plan/naive.rs"]
pub mod naive;
#[path = "plan/random.rs"]
pub mod random;
#[path = "plan/side_by_side.rs"]
mod side_by_side;

use std::cmp::Reverse;
use std::collections::BTreeMap;

use meltstair::bench::Setting;
use meltstair::job::{Choice, Coupling, Event, Job, JointIx, Must, StepIx, Where, Work};
use meltstair::plan::{self, Answer, Budget, Chosen, Demand, Plan, Worth};
use meltstair::quantity::{Celsius, KelvinStep};

use self::dice::Dice;
use self::naive::{Act, Cost, Naive, Standing};
use crate::plan_help::made_up_book;

/// The cheapest of all ways on from what was done that break no demand: of those in which everything
/// holds, where there is one.
pub fn cheapest(begun: &Naive) -> Option<(Cost, Vec<usize>)> {
    let (standing, cost, steps) = best_way(begun)?;
    (standing <= Standing::Close).then_some((cost, steps))
}

/// The best way on: how good it is decides first, then what it costs.
fn best_way(begun: &Naive) -> Option<(Standing, Cost, Vec<usize>)> {
    let mut best = None;
    try_all(begun, &mut best);
    best
}

/// Some first steps of a job as its log has them, the last perhaps failed, and how they were done.
fn logged(dice: &mut Dice, job: &mut Job) -> Vec<Act> {
    let before = job.clone();
    let melts = made_up_book(&before);
    let mut bench = Naive::new(&before, &melts);
    let mut acts = Vec::new();
    for _ in 0..dice.below(3) {
        // A log names the tool and not the way, so only the first way can be told from it.
        let mut open = bench.open();
        open.retain(|act| act.way == 0);
        if open.is_empty() {
            break;
        }
        let act = dice.of(&open);
        let Some(next) = bench.act(act) else { break };
        bench = next;
        acts.push(act);
        job.done.push(event(job, act));
    }
    let last = acts.last().map(|act| job.steps[act.step].work.clone());
    if matches!(last, Some(Work::Place { .. } | Work::Solder { .. })) && !dice.one_in(3) {
        job.done.last_mut().unwrap().failed = Some("open".to_owned());
    }
    acts
}

fn event(job: &Job, act: Act) -> Event {
    let step = &job.steps[act.step];
    let alloy = match &step.work {
        Work::Solder { solder, .. }
        | Work::Reball { solder, .. }
        | Work::Place {
            paste: Some((solder, _)),
            ..
        }
        | Work::Remove {
            flood: Some((solder, _)),
            ..
        } => match solder {
            Choice::Fixed(only) => Some(only.clone()),
            Choice::OneOf(many) => Some(many[act.solder].clone()),
        },
        _ => None,
    };
    let rounds = match &step.work {
        Work::Clean { rounds, .. } => match rounds {
            Choice::Fixed(only) => Some(*only),
            Choice::OneOf(many) => Some(many[act.rounds]),
        },
        _ => None,
    };
    Event {
        step: step.id.clone(),
        peak: None,
        sees: Vec::new(),
        reads: Vec::new(),
        failed: None,
        alloy,
        tool: None,
        rounds,
        mass: None,
        other_way: None,
        too_early: None,
        line: 1,
    }
}

fn try_all(bench: &Naive, best: &mut Option<(Standing, Cost, Vec<usize>)>) {
    if let Some(standing) = bench.standing() {
        // Law and service apart, a narrow escape is as good as what holds.
        let key = (standing, bench.cost.key());
        let better = best
            .as_ref()
            .is_none_or(|(other, cost, _)| key < (*other, cost.key()));
        if better {
            *best = Some((standing, bench.cost.clone(), bench.done.clone()));
        }
    }
    for act in bench.open() {
        if let Some(next) = bench.act(act) {
            try_all(&next, best);
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

fn act_of(chosen: &Chosen) -> Act {
    Act {
        step: chosen.step.0,
        way: chosen.pick.way,
        solder: chosen.pick.solder,
        rounds: chosen.pick.rounds,
    }
}

/// The plan done step by step on the naive bench.
fn walked<'a>(begun: &Naive<'a>, plan: &Plan) -> Option<Naive<'a>> {
    let mut bench = begun.clone();
    for act in plan.steps.iter().map(act_of) {
        assert!(bench.open().contains(&act), "out of turn: {act:?}");
        bench = bench.act(act)?;
    }
    bench.is_finished().then_some(bench)
}

fn compare(seeds: std::ops::Range<u64>, steps: usize) -> BTreeMap<&'static str, usize> {
    let mut seen = BTreeMap::new();
    let mut differences: Vec<String> = Vec::new();
    let mut count = |what| *seen.entry(what).or_insert(0) += 1;
    for seed in seeds {
        let mut dice = Dice(seed);
        let steps = 1 + dice.below(steps);
        let mut job = random::job(&mut dice, steps);
        let acts = if dice.one_in(3) {
            logged(&mut dice, &mut job)
        } else {
            Vec::new()
        };
        let melts = made_up_book(&job);
        let failed = job.done.iter().any(|event| event.failed.is_some());
        // Steps that the log makes necessary, where it has a failure; no others (no power check).
        let job = if failed {
            plan::whole(&job, &melts)
        } else {
            job
        };
        if job.steps.len() > 8 {
            continue;
        }
        let begun = acts
            .iter()
            .fold(Naive::new(&job, &melts), |bench, act| {
                bench.act(*act).unwrap()
            })
            .begun_here();
        let setting = Setting::new(&job, &melts);
        let answer = plan::order(&setting, Budget::default(), &mut |_| true).unwrap();
        let want = best_way(&begun);
        let told = match (&answer, &want) {
            (Answer::Proven { plan, worth, .. }, Some((standing, want, _)))
                if *standing != Standing::Unknown =>
            {
                if cost(worth) != *want {
                    differences.push(format!(
                        "seed {seed}: {worth:?} against {want:?} {standing:?}: {plan:?}"
                    ));
                    continue;
                }
                let walked = walked(&begun, plan);
                let same =
                    walked.is_some_and(|w| w.cost == *want && w.standing() == Some(*standing));
                if !same {
                    differences.push(format!("seed {seed}: {plan:?} does not go so"));
                }
                match standing {
                    Standing::Holds => "holds",
                    Standing::Close => "close",
                    _ => "end broken",
                }
            }
            (Answer::Impossible { .. }, None) => "impossible",
            (Answer::Undecided { plan, .. }, Some((Standing::Unknown, ..))) => {
                if walked(&begun, plan).is_none() {
                    differences.push(format!("seed {seed}: {plan:?} does not go"));
                }
                "undecided"
            }
            other => {
                differences.push(format!("seed {seed}: {other:?}"));
                continue;
            }
        };
        count(told);
        if failed {
            count("failed");
        }
    }
    assert!(
        differences.is_empty(),
        "{} differences, {seen:?}: {:#?}",
        differences.len(),
        differences.iter().take(12).collect::<Vec<_>>()
    );
    seen
}

/// Jobs that were compared; those that repairs made too long are passed over.
fn compared(seen: &BTreeMap<&'static str, usize>) -> usize {
    let kinds = ["holds", "close", "end broken", "impossible", "undecided"];
    kinds
        .iter()
        .map(|kind| seen.get(kind).copied().unwrap_or(0))
        .sum()
}

/// How many random jobs are compared: a thousand in the suite, `MELTSTAIR_JOBS=20000` of them by hand. Of
/// ten jobs nine have five steps at most, one has six, and every hundredth seven.
fn jobs() -> u64 {
    let asked = std::env::var("MELTSTAIR_JOBS").ok();
    asked.map_or(1_000, |asked| {
        asked.parse().expect("MELTSTAIR_JOBS is a number")
    })
}

/// Compares so many jobs, and looks whether enough of each kind came up.
#[expect(clippy::print_stderr, reason = "the numbers of a run by hand")]
fn compare_many(first: u64, many: u64, steps: usize) {
    let seen = compare(first..first + many, steps);
    eprintln!("{many} jobs of {steps} steps at most: {seen:?}");
    let many = usize::try_from(many).unwrap();
    let of = |what| seen.get(what).copied().unwrap_or(0);
    assert!(compared(&seen) * 100 >= many * 95, "{seen:?}");
    if many >= 200 {
        let enough = of("holds") * 12 >= many && of("impossible") * 5 >= many;
        assert!(enough, "{seen:?}");
    }
    if many >= 500 {
        let kinds = ["close", "end broken", "undecided", "failed"];
        assert!(kinds.iter().all(|kind| of(kind) * 200 >= many), "{seen:?}");
    }
}

#[test]
fn planner_equals_trying_everything_on_small_jobs() {
    compare_many(0, jobs() * 9 / 10, 5);
}

#[test]
fn planner_equals_trying_everything_on_jobs_of_up_to_six_steps() {
    compare_many(1_000_000, jobs() / 10, 6);
}

#[test]
fn planner_equals_trying_everything_on_jobs_of_up_to_seven_steps() {
    compare_many(2_000_000, (jobs() / 100).max(20), 7);
}

/// A job that once came out otherwise: a joint that may melt and that only power closes. (Earlier faults were found by
/// seeds that give other jobs now; the runs by hand of [`jobs`] look for their kind anew.)
#[test]
fn what_once_differed_is_alike() {
    compare(5_979..5_980, 5);
}

/// What a step of a plan says in the log, where the log can say it: the tool tells the way.
fn as_logged(job: &Job, act: Act) -> Option<Event> {
    let step = &job.steps[act.step];
    let tool = step.ways.get(act.way).map(|way| way.tool);
    let alike = step.ways.iter().filter(|way| Some(way.tool) == tool);
    let mut event = event(job, act);
    event.tool = tool;
    (alike.count() <= 1).then_some(event)
}

/// Some first steps of the best plan, logged: going on from there gives no worse than the rest of
/// that plan.
#[test]
fn going_on_from_the_middle_gives_no_worse_than_the_plan() {
    let mut compared = 0;
    for seed in 6_000_000..6_004_000 {
        let mut dice = Dice(seed);
        let steps = 2 + dice.below(4);
        let mut job = random::job(&mut dice, steps);
        let melts = made_up_book(&job);
        let order = |job: &Job| {
            let setting = Setting::new(job, &melts);
            plan::order(&setting, Budget::default(), &mut |_| true).unwrap()
        };
        let answer = order(&job);
        let Some((plan, _)) = answer.plan() else {
            continue;
        };
        let acts: Vec<Act> = plan.steps.iter().map(act_of).collect();
        if acts.is_empty() {
            continue;
        }
        let (done, left) = acts.split_at(1 + dice.below(acts.len()));
        let logged: Option<Vec<Event>> = done.iter().map(|act| as_logged(&job, *act)).collect();
        let Some(logged) = logged else { continue };
        let before = job.clone();
        let walk = |bench: &Naive<'_>, acts: &[Act]| {
            let done = acts
                .iter()
                .fold(bench.clone(), |bench, act| bench.act(*act).unwrap());
            // What holds comes before what is close, whatever the margin.
            (done.standing().unwrap(), done.cost)
        };
        let begun = done
            .iter()
            .fold(Naive::new(&before, &melts), |bench, act| {
                bench.act(*act).unwrap()
            })
            .begun_here();
        let rest = walk(&begun, left);
        job.done = logged;
        let again = order(&job);
        let (onward, worth) = again
            .plan()
            .unwrap_or_else(|| panic!("seed {seed}: no plan from the middle of one"));
        let onward: Vec<Act> = onward.steps.iter().map(act_of).collect();
        let (standing, _) = walk(&begun, &onward);
        assert!(
            (standing, cost(worth).key()) <= (rest.0, rest.1.key()),
            "seed {seed}: {worth:?} after {} of {plan:?}, which goes on with {rest:?}",
            done.len(),
        );
        compared += 1;
    }
    assert!(compared > 500, "{compared}");
}

/// The best plan of a job: whether everything in it holds, then its margin.
fn how_good(job: &Job) -> Option<(Reverse<Standing>, KelvinStep)> {
    let melts = made_up_book(job);
    let setting = Setting::new(job, &melts);
    let answer = plan::order(&setting, Budget::default(), &mut |_| true).unwrap();
    let (plan, worth) = answer.plan()?;
    let standing = walked(&Naive::new(job, &melts), plan)?.standing()?;
    let nothing_at_risk = KelvinStep::whole(9_999);
    Some((Reverse(standing), worth.margin.unwrap_or(nothing_at_risk)))
}

/// Whatever was a plan with the demand is one without it: a demand more never opens a job and never widens its margin.
#[test]
fn a_demand_more_never_opens_a_job() {
    let mut tightened = 0;
    for seed in 3_000_000..3_006_000 {
        let mut dice = Dice(seed);
        let steps = 2 + dice.below(4);
        let job = random::job(&mut dice, steps);
        let mut harder = job.clone();
        match dice.below(4) {
            0 => {
                let (a, b) = (dice.below(steps), dice.below(steps));
                // Names decide who comes first, so that no circle closes.
                let (first, then) = if a < b { (a, b) } else { (b, a) };
                if first == then || job.steps[then].after.iter().any(|(s, _)| s.0 == first) {
                    continue;
                }
                harder.steps[then].after.push((StepIx(first), None));
            }
            1 => harder.want.margin = job.want.margin + KelvinStep::whole(7),
            2 => {
                for part in &mut harder.parts {
                    part.heats_left = Some(part.heats_left.unwrap_or(2).saturating_sub(1));
                }
            }
            _ => {
                for joint in &mut harder.joints {
                    if joint.must == Must::MayMelt {
                        joint.must = Must::StayPut;
                    }
                }
            }
        }
        match (how_good(&job), how_good(&harder)) {
            (None, Some(_)) => panic!("seed {seed} opened: {harder:#?}"),
            (Some(before), Some(after)) => assert!(after <= before, "seed {seed}"),
            (Some(_), None) => tightened += 1,
            (None, None) => {}
        }
    }
    assert!(tightened > 30, "{tightened}");
}

/// Source: the same: less of the heat at a joint that must stay solid never lowers the best margin.
#[test]
fn a_lower_coupling_never_lowers_the_margin() {
    let mut compared = 0;
    for seed in 4_000_000..4_003_000 {
        let mut dice = Dice(seed);
        let steps = 2 + dice.below(4);
        let mut job = random::job(&mut dice, steps);
        for joint in &mut job.joints {
            joint.must = Must::StaySolid;
        }
        let mut cooler = job.clone();
        let at = dice.below(steps);
        // What is stated of a target is what it gets, and must flow with.
        let targets: Vec<JointIx> = match &job.steps[at].work {
            Work::Solder { joint, .. } => vec![*joint],
            Work::Place { on, .. } => on.clone(),
            Work::Clean { joint, .. } => joint.iter().copied().collect(),
            // A cooler bake dries less.
            Work::Remove { .. } | Work::WholeBoard { bake: true, .. } => continue,
            _ => Vec::new(),
        };
        for way in &mut cooler.steps[at].ways {
            // A board that cools down while it is worked on is no less heated by a smaller share.
            if way.peak.is_some_and(|peak| peak < way.preheat) {
                continue;
            }
            for (place, k) in &mut way.couplings {
                if matches!(place, Where::Joint(joint) if !targets.contains(joint)) {
                    *k = Coupling::new(k.factor() / 2.0).unwrap();
                }
            }
        }
        if let Some(before) = how_good(&job) {
            let after = how_good(&cooler).unwrap_or_else(|| panic!("seed {seed} closed"));
            assert!(after >= before, "seed {seed}");
            compared += 1;
        }
    }
    assert!(compared > 400, "{compared}");
}

/// Whether any way keeps all demands but those that are given up.
fn any(bench: &Naive) -> bool {
    if bench.is_kept() {
        return true;
    }
    let next = bench.open().into_iter().filter_map(|act| bench.act(act));
    next.into_iter().any(|next| next.is_known() && any(&next))
}

/// Every conflict, checked on the naive bench: its demands alone cannot be kept, and without any one
/// of them the others can. There every step that is not demanded may be done or left out.
#[test]
fn conflicts_clash_and_each_member_is_needed() {
    let (mut checked, mut sizes) = (0, BTreeMap::new());
    for seed in 5_000_000..5_004_000 {
        let mut dice = Dice(seed);
        let steps = 1 + dice.below(4);
        let job = random::job(&mut dice, steps);
        let melts = made_up_book(&job);
        let setting = Setting::new(&job, &melts);
        let Some(conflict) = plan::conflict(&setting, Budget::default()).unwrap() else {
            assert!(
                any(&Naive::new(&job, &melts)),
                "seed {seed}: no plan and no conflict"
            );
            continue;
        };
        assert!(conflict.proven);
        let all = plan::demands(&job, &plan::start(&setting));
        let keeps = |kept: &dyn Fn(&Demand) -> bool| {
            let mut bench = Naive::new(&job, &melts);
            bench.given_up = all.iter().filter(|d| !kept(d)).copied().collect();
            any(&bench)
        };
        let members = &conflict.demands;
        assert!(
            !keeps(&|d| members.contains(d)),
            "seed {seed}: {members:?} of {all:?} can be kept\n{job:#?}"
        );
        for member in members {
            let without = keeps(&|d| d != member && members.contains(d));
            assert!(
                without,
                "seed {seed}: {member:?} is not needed in {members:?}\n{job:#?}"
            );
        }
        *sizes.entry(members.len()).or_insert(0) += 1;
        checked += 1;
    }
    assert!(checked > 300, "{checked}: {sizes:?}");
}
