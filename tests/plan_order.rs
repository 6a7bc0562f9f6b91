//! The planner on whole jobs whose answers were reckoned by hand.

use meltstair::bench::{Bench, Doing, Pick, Setting, Verdict, pass};
use meltstair::job::{Job, JointIx, StepIx};
use meltstair::plan::{self, Answer, Budget, Candidate, Change, Demand, faults, margins};
use meltstair::quantity::KelvinStep;
use meltstair::show::clash;
use meltstair::show::say::Say;

use crate::plan_help::{book, read_job};

fn order(job: &Job) -> Answer {
    let melts = book(job);
    plan::order(&Setting::new(job, &melts), Budget::default(), &mut |_| true).unwrap()
}

/// Ids in the order of the plan.
fn ids(job: &Job, answer: &Answer) -> Vec<String> {
    let (plan, _) = answer.plan().expect("a plan");
    plan.steps
        .iter()
        .map(|chosen| job.steps[chosen.step.0].id.clone())
        .collect()
}

/// Every order that keeps `after` and refuses no step, with its tightest margin where it keeps all
/// demands: the transition folded over each, one after another.
fn every_order(job: &Job) -> Vec<(Vec<usize>, Option<KelvinStep>)> {
    let melts = book(job);
    let setting = Setting::new(job, &melts);
    let mut all = Vec::new();
    let start = Bench::at_start(&setting);
    grow(&setting, &start, &mut Vec::new(), true, None, &mut all);
    all
}

fn grow(
    setting: &Setting,
    bench: &Bench,
    order: &mut Vec<usize>,
    holds: bool,
    margin: Option<KelvinStep>,
    all: &mut Vec<(Vec<usize>, Option<KelvinStep>)>,
) {
    let steps = &setting.job().steps;
    if order.len() == steps.len() {
        all.push((order.clone(), margin.filter(|_| holds)));
    }
    for (s, step) in steps.iter().enumerate() {
        let open = step
            .after
            .iter()
            .all(|(before, _)| order.contains(&before.0));
        if order.contains(&s) || !open {
            continue;
        }
        let passage = pass(setting, bench, &Doing::planned(step, Pick::default()));
        if !passage.refusals.is_empty() {
            continue;
        }
        let faults = faults(setting, StepIx(s), &passage);
        let keeps = faults.iter().all(|fault| fault.close);
        let tightest = margins(&passage)
            .map(|(_, margin)| margin)
            .chain(margin)
            .min();
        order.push(s);
        grow(setting, &passage.next, order, holds && keeps, tightest, all);
        order.pop();
    }
}

/// Reckoned by brute force apart from this program: 420 orders obey
/// precedence and access, 150 also survive the heat, the best smallest margin is 18 K, reached by
/// 22 of them.
#[test]
fn tower_chime_has_420_orders_of_which_150_hold_and_22_are_best() {
    let job = read_job("tower_chime.yaml");
    let all = every_order(&job);
    let holding: Vec<KelvinStep> = all.iter().filter_map(|(_, margin)| *margin).collect();
    assert_eq!((all.len(), holding.len()), (420, 150));
    let best = holding.iter().max().unwrap();
    assert_eq!(*best, KelvinStep::whole(18));
    assert_eq!(holding.iter().filter(|margin| *margin == best).count(), 22);

    let answer = order(&job);
    let Answer::Proven { worth, .. } = &answer else {
        panic!("{answer:?}")
    };
    assert_eq!(worth.margin, Some(KelvinStep::whole(18)));
    let found: Vec<usize> = answer
        .plan()
        .unwrap()
        .0
        .steps
        .iter()
        .map(|c| c.step.0)
        .collect();
    let listed = all.iter().find(|(order, _)| *order == found).unwrap();
    assert_eq!(listed.1, Some(KelvinStep::whole(18)));
    // All of the best but for the ids: one vital heat at 165, the same changes.
    assert_eq!(ids(&job, &answer).last().unwrap(), "T1");
}

/// Source: the same: with a required margin of 10 K 25 orders remain.
#[test]
fn tower_chime_with_ten_kelvins_has_25_orders() {
    let mut job = read_job("tower_chime.yaml");
    job.want.margin = KelvinStep::whole(10);
    let holding = every_order(&job)
        .iter()
        .filter(|(_, m)| m.is_some())
        .count();
    assert_eq!(holding, 25);
    assert_eq!(
        order(&job).plan().unwrap().1.margin,
        Some(KelvinStep::whole(18))
    );
}

/// By hand: highest-melting first closes the way to the chip, jumpers and chip
/// first put 174 °C on a joint that melts at 95.
#[test]
fn tower_chime_refuses_the_orders_that_look_right() {
    let job = read_job("tower_chime.yaml");
    let all = every_order(&job);
    let at = |id: &str| job.steps.iter().position(|step| step.id == id).unwrap();
    assert!(!all.iter().any(|(order, _)| {
        let place = |id| order.iter().position(|s| *s == at(id)).unwrap();
        place("J6") < place("J4")
    }));
    for (order, margin) in &all {
        let place = |id| order.iter().position(|s| *s == at(id)).unwrap();
        if place("J4") < place("R1") || place("J4") < place("J5") {
            assert_eq!(*margin, None);
        }
    }
}

/// By hand: the frame iron at coupling 0.35 puts 25 + 0.35 · 215 = 100.25 °C on a joint of 95.
#[test]
fn tower_chime_with_the_harder_frame_has_no_order() {
    let job = read_job("tower_chime_frame.yaml");
    assert!(matches!(order(&job), Answer::Impossible { .. }));
    assert!(every_order(&job).iter().all(|(_, margin)| margin.is_none()));
}

/// A law: the order of lines means nothing.
#[test]
fn steps_joints_and_guards_in_any_order_give_the_same_plan() {
    let job = read_job("tower_chime.yaml");
    let want = ids(&job, &order(&job));
    for shift in 1..job.steps.len() {
        let mut turned = job.clone();
        let count = turned.steps.len();
        turned.steps.rotate_left(shift);
        for step in &mut turned.steps {
            for (before, _) in &mut step.after {
                *before = StepIx((before.0 + count - shift) % count);
            }
        }
        assert_eq!(ids(&turned, &order(&turned)), want);
    }
}

/// By hand: the frame can only be soldered after the chip is down, and its heat
/// takes the leaded tin-bismuth joints; nothing else of the job has a part in it.
#[test]
fn tower_chime_with_the_harder_frame_names_what_clashes() {
    let job = read_job("tower_chime_frame.yaml");
    let melts = book(&job);
    let conflict = plan::conflict(&Setting::new(&job, &melts), Budget::default())
        .unwrap()
        .unwrap();
    let step = |id: &str| StepIx(job.steps.iter().position(|s| s.id == id).unwrap());
    let site = JointIx(job.joints.iter().position(|j| j.id == "site").unwrap());
    assert!(conflict.proven);
    assert_eq!(
        conflict.demands,
        [
            Demand::Done(step("J4")),
            Demand::Done(step("J6")),
            Demand::Access(site),
            Demand::Keep(site),
        ]
    );
    let fine = read_job("tower_chime.yaml");
    let melts = book(&fine);
    let none = plan::conflict(&Setting::new(&fine, &melts), Budget::default()).unwrap();
    assert_eq!(none, None);
}

/// By brute force apart from this program: lead-free pads, a frame soldered lower, or a frame without heat each
/// open the job.
#[test]
fn tower_chime_with_the_harder_frame_names_what_opens_it() {
    let job = read_job("tower_chime_frame.yaml");
    let melts = book(&job);
    let setting = Setting::new(&job, &melts);
    let conflict = plan::conflict(&setting, Budget::default())
        .unwrap()
        .unwrap();
    let shelf: Vec<Candidate> = job
        .stock
        .iter()
        .map(|solder| Candidate {
            solder: solder.clone(),
            in_stock: Some(true),
            flags: Vec::new(),
        })
        .collect();
    let openings = plan::openings(&setting, &conflict, &shelf, Budget::default()).unwrap();
    for opening in &openings {
        let words = clash::opening_words(&job, opening, Say::default());
        assert!(!words.is_empty() && !words.contains('?'), "{words}");
    }
    let step = |id: &str| StepIx(job.steps.iter().position(|s| s.id == id).unwrap());
    let opens = |is_it: &dyn Fn(&Change) -> bool| {
        openings
            .iter()
            .any(|o| o.changes.len() == 1 && is_it(&o.changes[0]))
    };
    let frame = step("J6");
    assert!(opens(
        &|c| matches!(c, Change::Alloy { step, in_stock: true, .. } if *step == frame)
    ));
    assert!(opens(
        &|c| matches!(c, Change::LeaveOut(step) if *step == frame)
    ));
    assert!(opens(&|c| matches!(c, Change::Clean { .. })));
    assert!(opens(&|c| matches!(c, Change::KeepOpen { .. })));
    // Each is solved anew, by folding the transition over the plan that it names.
    for opening in &openings {
        let melts = book(&opening.job);
        let setting = Setting::new(&opening.job, &melts);
        let checked = plan::check(&setting, &plan::whole_plan(&opening.job, &opening.plan));
        assert!(checked.verdict <= Verdict::Close, "{:?}", opening.changes);
        assert_eq!(checked.tightest.map(|t| t.margin), opening.margin);
    }
}
