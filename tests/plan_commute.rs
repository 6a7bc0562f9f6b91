//! What is cut where steps commute, against the same search that looks at every order.

use std::fmt::Write as _;

use meltstair::bench::Setting;
use meltstair::job::Job;
use meltstair::melt::MeltBook;
use meltstair::plan::{self, Answer, Budget};

use crate::plan_brute::dice::Dice;
use crate::plan_brute::random;
use crate::plan_help::{book, made_up_book, read_text};
use crate::plan_solver::instances::{Size, instance};

/// Both answers but for the benches looked at; and how many those were.
fn both(job: &Job, melts: &MeltBook) -> [(String, u64); 2] {
    let setting = Setting::new(job, melts);
    [false, true].map(|all_orders| {
        let budget = Budget {
            all_orders,
            ..Budget::default()
        };
        let answer = plan::order(&setting, budget, &mut |_| true).unwrap();
        let told = match &answer {
            Answer::Proven { plan, worth, .. } => format!("{plan:?} {worth:?}"),
            Answer::Undecided { .. } => "undecided".to_owned(),
            Answer::Impossible { .. } => "impossible".to_owned(),
            other => panic!("{other:?}"),
        };
        (told, answer.visited())
    })
}

/// How many had a plan; and benches looked at, with and without.
#[derive(Debug, Default)]
struct Seen {
    planned: usize,
    fewer: u64,
    all: u64,
}

impl Seen {
    fn compare(&mut self, name: &str, job: &Job, melts: &MeltBook) {
        let [(narrowed, fewer), (whole, all)] = both(job, melts);
        assert_eq!(narrowed, whole, "{name}: {job:#?}");
        self.planned += usize::from(narrowed != "impossible" && narrowed != "undecided");
        self.fewer += fewer;
        self.all += all;
    }
}

#[test]
fn random_jobs_get_the_same_plan_as_when_every_order_is_looked_at() {
    let mut seen = Seen::default();
    for seed in 7_000_000..7_006_000 {
        let mut dice = Dice(seed);
        let steps = 2 + dice.below(6);
        let job = random::job(&mut dice, steps);
        seen.compare(&format!("seed {seed}"), &job, &made_up_book(&job));
    }
    assert!(seen.planned > 700 && seen.fewer < seen.all, "{seen:?}");
}

#[test]
fn chains_get_the_same_plan_as_when_every_order_is_looked_at() {
    let mut seen = Seen::default();
    for seed in 0..150 {
        let size = Size {
            steps: 4 + usize::try_from(seed % 7).unwrap(),
            open: usize::try_from(seed % 4).unwrap(),
            alloys: 4,
            most_coupled: [8, 15, 30, 45][usize::try_from(seed / 7 % 4).unwrap()],
        };
        let job = instance(seed, size);
        seen.compare(&format!("seed {seed}"), &job, &made_up_book(&job));
    }
    assert!(seen.planned > 75 && seen.fewer < seen.all, "{seen:?}");
}

/// Two kinds of joints, some of each, that nothing tells apart but their names; one of another kind between; alloys
/// left open, so that not all twins need take the same one.
fn twins(dice: &mut Dice) -> String {
    let mut job = String::from(
        "job: made up\nwant: {margin_c: 5}\nreadings: {Sn96.5Ag3Cu0.5: [217, 220], Sn63Pb37: [183, 183], Bi58Sn42: [138, 138]}\n",
    );
    let kinds = [2 + dice.below(2), 1 + dice.below(2)];
    let k = ["0.1", "0.25", "0.4", "0.5", "0.6", "0.7"];
    let alloys = ["Sn63Pb37", "Bi58Sn42", "Sn96.5Ag3Cu0.5"];
    job.push_str("joints:\n  - {id: other, alloy: Sn63Pb37, mg: 1}\n");
    for (kind, many) in kinds.iter().enumerate() {
        for one in 0..*many {
            let _ = writeln!(job, "  - {{id: t{kind}{one}}}");
        }
    }
    job.push_str("steps:\n");
    for (kind, many) in kinds.iter().enumerate() {
        let rest = dice.of(&k);
        let tool = dice.of(&["iron", "air"]);
        let (one_alloy, another) = (dice.of(&alloys), dice.of(&alloys));
        let alloy = if one_alloy == another {
            one_alloy.to_owned()
        } else {
            format!("[{one_alloy}, {another}]")
        };
        let after = if kind == 1 && dice.one_in(3) {
            ", after: [s00, s01]"
        } else {
            ""
        };
        for one in 0..*many {
            let _ = writeln!(
                job,
                "  - {{id: s{kind}{one}, do: solder, joint: t{kind}{one}, alloy: {alloy}, mg: 1, tool: {tool}, k: {{rest: {rest}}}{after}}}"
            );
        }
    }
    if dice.one_in(2) {
        let named = if dice.one_in(2) {
            format!("t00: {}, ", dice.of(&k))
        } else {
            String::new()
        };
        let (rest, alloy) = (dice.of(&k), dice.of(&alloys));
        let _ = writeln!(
            job,
            "  - {{id: more, do: solder, joint: other, alloy: {alloy}, mg: 1, tool: iron, k: {{{named}rest: {rest}}}}}"
        );
    }
    job
}

#[test]
fn twins_get_the_same_plan_as_when_every_order_is_looked_at() {
    let mut seen = Seen::default();
    for seed in 0..600 {
        let text = twins(&mut Dice(seed));
        let job = read_text(&text);
        seen.compare(&format!("seed {seed}"), &job, &book(&job));
    }
    assert!(seen.planned > 200 && seen.fewer < seen.all, "{seen:?}");
}

/// A chip that comes off and goes back, wires with two ends beside it, some crossing, perhaps a mask over a
/// joint, an old joint that may melt, a check and power.
fn wired(dice: &mut Dice) -> String {
    let wires = 2 + dice.below(2);
    let alloy = |dice: &mut Dice| dice.of(&["Sn63Pb37", "Bi58Sn42", "Sn96.5Ag3Cu0.5"]);
    let k = |dice: &mut Dice| dice.of(&["0.1", "0.25", "0.4", "0.6"]);
    let mut job = String::from(
        "job: made up\nwant: {margin_c: 5}\nreadings: {Sn96.5Ag3Cu0.5: [217, 220], Sn63Pb37: [183, 183], Bi58Sn42: [138, 138]}\n",
    );
    let vital = dice.one_in(2);
    let heats = 2 + dice.below(3);
    let _ = writeln!(
        job,
        "parts:\n  - {{id: chip, balls: {{count: 9, diameter_um: 300, alloy: {}}}, limit_c: 260, heats_left: {heats}, dry: true, vital: {vital}}}",
        alloy(dice)
    );
    let may = if dice.one_in(4) {
        ", must: may_melt"
    } else {
        ""
    };
    let _ = writeln!(
        job,
        "joints:\n  - {{id: site, at: chip}}\n  - {{id: old, alloy: {}, mg: 1{may}}}",
        alloy(dice)
    );
    for w in 0..wires {
        let _ = writeln!(job, "  - {{id: p{w}}}\n  - {{id: t{w}}}");
    }
    job.push_str("wires:\n");
    for w in 0..wires {
        let crosses = if w == 1 && dice.one_in(2) {
            ", crosses: [w0]"
        } else {
            ""
        };
        let _ = writeln!(
            job,
            "  - {{id: w{w}, from: p{w}, to: t{w}, diameter_um: 50, length_mm: 5{crosses}}}"
        );
    }
    job.push_str("steps:\n");
    if dice.one_in(2) {
        let _ = writeln!(
            job,
            "  - {{id: ball, do: reball, part: chip, alloy: {}, tool: air, optional: true}}",
            alloy(dice)
        );
    }
    let _ = writeln!(
        job,
        "  - {{id: set, do: place, part: chip, on: site, tool: air, k: {{rest: {}}}}}",
        k(dice)
    );
    for w in 0..wires {
        let open = if dice.one_in(4) {
            "[Sn63Pb37, Bi58Sn42]"
        } else {
            alloy(dice)
        };
        let tool = dice.of(&["iron", "tweezers"]);
        let _ = writeln!(
            job,
            "  - {{id: a{w}, do: wire, wire: w{w}, joint: p{w}, alloy: {open}, mg: 0.1, tool: {tool}, k: {{rest: {}}}}}",
            k(dice)
        );
        let _ = writeln!(
            job,
            "  - {{id: b{w}, do: wire, wire: w{w}, joint: t{w}, alloy: {}, mg: 0.1, tool: iron, k: {{rest: {}}}, after: a{w}}}",
            alloy(dice),
            k(dice)
        );
    }
    if dice.one_in(3) {
        job.push_str("  - {id: meter, do: gate}\n  - {id: power, do: power}\n");
    }
    job
}

#[test]
fn wires_beside_a_chip_get_the_same_plan_as_when_every_order_is_looked_at() {
    let mut seen = Seen::default();
    for seed in 8_000_000..8_000_300 {
        let mut dice = Dice(seed);
        let text = wired(&mut dice);
        let job = read_text(&text);
        let melts = book(&job);
        let job = plan::whole(&plan::sorted(&job), &melts);
        seen.compare(&format!("seed {seed}:\n{text}"), &job, &melts);
    }
    assert!(
        seen.planned > 200 && seen.fewer < seen.all * 2 / 3,
        "{seen:?}"
    );
}

/// Forty wires of two ends each, as many orders as 3⁴⁰ sets of done steps: one order, proven, and few
/// benches looked at.
#[test]
fn forty_wires_are_one_order() {
    let mut job = String::from("job: made up\nreadings: {Sn63Pb37: [183, 183]}\njoints:\n");
    for w in 0..40 {
        let _ = writeln!(job, "  - {{id: p{w:02}}}\n  - {{id: t{w:02}}}");
    }
    job.push_str("wires:\n");
    for w in 0..40 {
        let _ = writeln!(
            job,
            "  - {{id: w{w:02}, from: p{w:02}, to: t{w:02}, diameter_um: 50, length_mm: 5}}"
        );
    }
    job.push_str("steps:\n");
    for w in 0..40 {
        let _ = writeln!(
            job,
            "  - {{id: a{w:02}, do: wire, wire: w{w:02}, joint: p{w:02}, alloy: Sn63Pb37, mg: 0.1, tool: iron, k: {{rest: 0.3}}}}"
        );
        let _ = writeln!(
            job,
            "  - {{id: b{w:02}, do: wire, wire: w{w:02}, joint: t{w:02}, alloy: Sn63Pb37, mg: 0.1, tool: iron, k: {{rest: 0.1}}, after: a{w:02}}}"
        );
    }
    let job = read_text(&job);
    let melts = book(&job);
    let setting = Setting::new(&job, &melts);
    let answer = plan::order(&setting, Budget::of(2_000), &mut |_| true).unwrap();
    let Answer::Proven { plan, worth, .. } = &answer else {
        panic!("{answer:?}");
    };
    // By hand: 183 + 20 K of superheat at the peak; an end that sees 0.3 of the rise from 25 °C is at 78.4 °C.
    assert_eq!(plan.steps.len(), 80);
    assert_eq!(
        worth
            .margin
            .map(meltstair::quantity::KelvinStep::millikelvin),
        Some(183_000 - 78_400)
    );
    let ids: Vec<&str> = plan
        .steps
        .iter()
        .map(|s| job.steps[s.step.0].id.as_str())
        .collect();
    assert!(ids.is_sorted(), "{ids:?}");
}

/// A chain of two hundred steps is taken.
#[test]
fn two_hundred_steps_are_taken() {
    let size = Size {
        steps: 200,
        open: 0,
        alloys: 4,
        most_coupled: 6,
    };
    let job = instance(1, size);
    let melts = made_up_book(&job);
    let setting = Setting::new(&job, &melts);
    let answer = plan::order(&setting, Budget::of(20_000), &mut |_| true).unwrap();
    let (plan, _) = answer.plan().unwrap();
    assert_eq!(plan.steps.len(), 200);
}
