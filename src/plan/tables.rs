//! Findings of a whole plan: ledgers, worlds, the log, what is told of power; each at its limit.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    reason = "a test that cannot go on has failed"
)]

use std::sync::Arc;

use super::check::Place;
use super::{Checked, as_written, check, whole, worlds};
use crate::alloy::AlloyBook;
use crate::bench::{LimitOf, Rule, Setting, Subject, Verdict, World};
use crate::job::{self, GuardIx, JointIx, PartIx, WireIx};
use crate::melt::{MeltBook, NoReadings, Pin};
use crate::quantity::{Celsius, KelvinStep};
use Verdict::{Close, DoesNotFlow, Holds, Limit, Melts, Unknown};

const PINS: &str =
    "readings: {Sn96.5Ag3Cu0.5: [217, 220], Sn63Pb37: [183, 183], Bi58Sn42: [138, 138]}\n";

fn with_job<T>(text: &str, ask: impl FnOnce(&Setting) -> T) -> T {
    let text = format!("job: a table\n{PINS}{text}");
    let read = job::read(&text, "table.yaml", AlloyBook::shipped());
    let job = read.unwrap_or_else(|faults| panic!("{faults}")).job;
    let pins = job.pins.iter().map(|pin| Pin {
        composition: pin.solder.composition,
        solidus: pin.solidus,
        liquidus: pin.liquidus,
    });
    let melts = MeltBook::new(Arc::new(NoReadings), pins.collect());
    let job = whole(&job, &melts);
    ask(&Setting::new(&job, &melts))
}

fn checked(text: &str) -> Checked {
    with_job(text, |setting| {
        check(setting, &as_written(setting.job()).plan)
    })
}

/// What a rule says of the whole, or of its steps: on what, and which verdict.
fn told(checked: &Checked, rule: Rule) -> Vec<(Subject, Verdict)> {
    let all = checked
        .findings
        .iter()
        .filter(|told| told.finding.rule == rule);
    all.map(|told| (told.finding.of, told.finding.verdict))
        .collect()
}

const U: Subject = Subject::Part(PartIx(0));

/// Each soldering brings 203 °C to its own joint, and to the part what `k` says.
fn heated(part: &str, want: &str, k: &str, times: usize) -> String {
    let steps: Vec<String> = (0..times)
        .map(|n| format!("  - {{id: s{n}, do: solder, joint: t, alloy: Sn63Pb37, mg: 1, tool: iron, k: {{u: {k}, p: 0}}}}\n"))
        .collect();
    let steps = steps.concat();
    format!(
        "{want}parts: [{{id: u, on: p{part}}}]\njoints: [{{id: t}}, {{id: p, alloy: Sn63Pb37, mg: 1}}]\nsteps:\n{steps}"
    )
}

#[test]
fn a_part_takes_the_heats_that_are_left_and_not_one_more() {
    let left = |part: &str, want: &str, k: &str, times| {
        let checked = checked(&heated(part, want, k, times));
        let ledger = checked.ledgers[0];
        (
            ledger.heats,
            ledger.left,
            told(&checked, Rule::Heats)[0].1,
            ledger.before,
        )
    };
    assert_eq!(left(", heats_left: 2", "", "1", 1), (1, Some(1), Holds, 0));
    assert_eq!(
        left(", heats_left: 2, heats_before: 3", "", "1", 2),
        (2, Some(0), Holds, 3)
    );
    assert_eq!(left(", heats_left: 2", "", "1", 3), (3, Some(-1), Limit, 0));
    assert_eq!(left("", "", "1", 3), (3, None, Holds, 0));
    // 25 + 178 k: 150 at 0.70225.
    assert_eq!(
        left(", heats_left: 0", "", "0.7022", 1),
        (0, Some(0), Holds, 0)
    );
    assert_eq!(
        left(", heats_left: 0", "", "0.7023", 1),
        (1, Some(-1), Limit, 0)
    );
    assert_eq!(
        left(", heats_left: 0", "want: {counts_from_c: 203}\n", "1", 1),
        (1, Some(-1), Limit, 0)
    );
    assert_eq!(
        left(", heats_left: 0", "want: {counts_from_c: 204}\n", "1", 1),
        (0, Some(0), Holds, 0)
    );
    let hot = checked(&heated("", "", "1", 1));
    assert_eq!(hot.ledgers[0].peak, Some(Celsius::whole(203)));
    assert_eq!(hot.ledgers[0].part, PartIx(0));
    assert_eq!(checked(&heated("", "", "0.1", 1)).ledgers[0].peak, None);
}

/// Nobody says what the part sees: the heat counts.
#[test]
fn a_heat_counts_where_nobody_knows() {
    let text = heated(", heats_left: 0", "", "0", 1).replace("k: {u: 0, p: 0}", "k: {t: 0}");
    let checked = checked(&text);
    assert_eq!(told(&checked, Rule::Heats), [(U, Limit)]);
    assert_eq!(checked.verdict, Limit);
}

#[test]
fn the_smallest_margin_is_that_of_what_is_still_to_be_done_and_counts() {
    let text = |must: &str, done: &str| {
        format!(
            "parts: [{{id: u, on: c, limit_c: 250}}]\n\
             joints: [{{id: t}}, {{id: b, alloy: Sn63Pb37, mg: 1{must}}}, {{id: c, alloy: Sn63Pb37, mg: 1}}]\nsteps:\n  \
             - {{id: s, do: solder, joint: t, alloy: Bi58Sn42, mg: 1, tool: iron, sees_c: {{b: 175, c: 30, u: 240}}}}\n  \
             - {{id: r, do: solder, joint: t, alloy: Bi58Sn42, mg: 1, tool: iron, sees_c: {{b: 100, c: 30, u: 236}}}}\n{done}"
        )
    };
    let tightest = |must: &str, done: &str| {
        let found = checked(&text(must, done)).tightest.unwrap();
        (found.step, found.place, found.margin)
    };
    let body = Place::Limit(LimitOf::Part(PartIx(0)));
    assert_eq!(
        tightest("", ""),
        (0, Place::Joint(JointIx(1)), KelvinStep::whole(8))
    );
    assert_eq!(
        tightest(", must: may_melt", ""),
        (0, body, KelvinStep::whole(10))
    );
    assert_eq!(
        tightest("", "done:\n  - {step: s}\n"),
        (1, body, KelvinStep::whole(14))
    );
    // Of equal margins the first is told.
    let twice = text("", "").replace("b: 100", "b: 175");
    assert_eq!(checked(&twice).tightest.unwrap().step, 0);
    assert!(
        checked("joints: [{id: a}]\nsteps: [{id: s, do: inspect}]\n")
            .tightest
            .is_none()
    );
}

#[test]
fn a_plan_is_as_good_as_the_worst_of_what_counts() {
    let text = |c: &str| {
        format!(
            "joints: [{{id: t}}, {{id: b, alloy: Sn63Pb37, mg: 1}}]\n\
             steps: [{{id: s, do: solder, joint: t, alloy: Bi58Sn42, mg: 1, tool: iron, sees_c: {{b: {c}}}}}]\n"
        )
    };
    for (c, want) in [("178", Holds), ("178.001", Close), ("183", Melts)] {
        assert_eq!(checked(&text(c)).verdict, want, "{c}");
    }
    let service = |t: u32| format!("want: {{service_c: {t}}}\n{}", text("30"));
    let of = |t| told(&checked(&service(t)), Rule::Service);
    let (t, b) = (Subject::Joint(JointIx(0)), Subject::Joint(JointIx(1)));
    assert_eq!(of(82), [(t, Holds), (b, Holds)]);
    assert_eq!(of(89), [(t, Limit), (b, Holds)]);
    assert_eq!(checked(&service(89)).verdict, Limit);
    assert_eq!(told(&checked(&text("30")), Rule::Service), []);
    let lead = checked(&format!("want: {{lead_free: true}}\n{}", text("30")));
    assert_eq!(
        told(&lead, Rule::Law(crate::bench::Law::Lead)),
        [(b, Limit)]
    );
}

/// By Preece 80 d^1.5 with d in mm: 0.05 mm fuses at 0.8944 A; a fifth of it is 0.1789.
#[test]
fn a_wire_carries_a_fifth_of_what_it_fuses_at() {
    let text = |a: &str| {
        format!(
            "joints: [{{id: a, alloy: 63/37, mg: 1}}, {{id: b, alloy: 63/37, mg: 1}}]\n\
             wires: [{{id: w, from: a, to: b, diameter_um: 50, length_mm: 5{a}}}]\nsteps: [{{id: s, do: gate}}]\n"
        )
    };
    let carries = |a: &str| told(&checked(&text(a)), Rule::Carries);
    let w = Subject::Wire(WireIx(0));
    let worst = |a: &str| {
        carries(a)
            .iter()
            .map(|(of, verdict)| {
                assert_eq!(*of, w);
                *verdict
            })
            .max()
    };
    assert_eq!(worst(", current_a: 0.17").unwrap_or(Holds), Holds);
    assert_eq!(worst(", current_a: 0.19"), Some(Close));
    assert_eq!(worst(", current_a: 0.85"), Some(Close));
    assert_eq!(worst(", current_a: 0.95"), Some(Limit));
    assert_eq!(worst("").unwrap_or(Holds), Holds);
}

fn worlds_of(text: &str) -> Vec<World> {
    with_job(text, worlds)
}

#[test]
fn every_candidate_is_a_world_and_something_else_where_the_list_is_not_closed() {
    let one = |alloy: &str| format!("joints: [{{id: a, alloy: {alloy}, mg: 1}}]\n");
    assert_eq!(worlds_of(&one("Sn63Pb37")), [World(vec![])]);
    let two = [World(vec![Some(0)]), World(vec![Some(1)])];
    assert_eq!(worlds_of(&one("[Sn63Pb37, Bi58Sn42]")), two);
    let open = worlds_of(&one("unknown"));
    assert!(open.len() > 1);
    assert_eq!(
        open.last(),
        Some(&World(vec![None])),
        "something else is never left out"
    );
    let pair = "joints: [{id: a, alloy: [Sn63Pb37, Bi58Sn42], mg: 1}, {id: b, alloy: [Sn63Pb37, Bi58Sn42], mg: 1}]\n";
    assert_eq!(worlds_of(pair).len(), 4);
    let many: Vec<String> = (0..9)
        .map(|n| format!("  - {{id: j{n}, alloy: [Sn63Pb37, Bi58Sn42], mg: 1}}\n"))
        .collect();
    let many = many.concat();
    // 512 are more than are walked through: everything stays unknown. 256 are walked.
    assert_eq!(
        worlds_of(&format!("joints:\n{many}")),
        [World(vec![None; 9])]
    );
    let eight: Vec<&str> = many.lines().take(8).collect();
    assert_eq!(
        worlds_of(&format!("joints:\n{}\n", eight.join("\n"))).len(),
        256
    );
}

/// A neighbour of one of two solders sees a temperature: what all agree on, else unknown.
#[test]
fn what_hangs_on_an_unknown_alloy_is_unknown_and_what_does_not_is_told() {
    let verdict = |alloy: &str, c: &str| {
        let text = format!(
            "joints: [{{id: t}}, {{id: b, alloy: {alloy}, mg: 1}}]\n\
             steps: [{{id: s, do: solder, joint: t, alloy: Bi58Sn42, mg: 1, tool: iron, sees_c: {{b: {c}}}}}]\n"
        );
        checked(&text)
    };
    let two = "[Sn63Pb37, Sn96.5Ag3Cu0.5]";
    for (c, want) in [
        ("170", Holds),
        ("180", Close),
        ("190", Unknown),
        ("215", Unknown),
        ("217", Melts),
        ("230", Melts),
    ] {
        let checked = verdict(two, c);
        assert_eq!(checked.verdict, want, "{c}");
        assert_eq!(checked.worlds.len(), 2);
    }
    let worlds = verdict(two, "190").worlds;
    assert_eq!(
        worlds
            .iter()
            .map(|(_, verdict)| *verdict)
            .collect::<Vec<_>>(),
        [Melts, Holds]
    );
    // Of unknown solder nobody knows whether it is something else that melts lower still.
    assert_eq!(verdict("unknown", "30").verdict, Unknown);
    assert!(verdict("Sn63Pb37", "30").worlds.is_empty());
    // The worst world is told step by step.
    let told = verdict(two, "190");
    assert_eq!(told.tightest.unwrap().margin, KelvinStep::whole(-7));
}

/// One hand, one peak: the chip comes off at the higher of what its candidates ask for, 240, and its
/// neighbour sees that in every world.
#[test]
fn one_hand_goes_to_one_peak_in_every_world() {
    let text = "parts: [{id: u, on: s, balls: {count: 1, diameter_um: 400, alloy: [Sn63Pb37, Sn96.5Ag3Cu0.5], source: old}, limit_c: 260, dry: true}]\n\
                joints: [{id: s, at: u, pad: {diameter_um: 400, finish: {element: Ni, um: 3}}}, {id: n, alloy: Sn63Pb37, mg: 1, must: stay_solid}]\n\
                steps: [{id: off, do: remove, part: u, tool: air, k: {n: 0.75}}]\n";
    let checked = checked(text);
    assert_eq!(checked.steps[0].passage.peak, Some(Celsius::whole(240)));
    // 25 + 0.75 · 215 = 186.25.
    assert_eq!(checked.verdict, Melts);
    assert!(
        checked.worlds.iter().all(|(_, verdict)| *verdict == Melts),
        "{:?}",
        checked.worlds
    );
}

const LOGGED: &str = "guards: [{id: g, kind: plastic, limit_c: 150}]
parts: [{id: u, on: c, limit_c: 240, dry: true}]
joints:
  - {id: t}
  - {id: b, alloy: Bi58Sn42, mg: 1}
  - {id: c, alloy: Sn63Pb37, mg: 1, must: may_melt}
steps:
  - {id: s, do: solder, joint: t, alloy: Sn63Pb37, mg: 1, tool: iron, k: {b: 0.1, c: 0.1, u: 0.1, g: 0.1}}
  - {id: r, do: solder, joint: t, alloy: Sn63Pb37, mg: 1, tool: iron, k: {b: 0.1, c: 0.1, u: 0.1, g: 0.1}, after: s}
";

#[test]
fn what_the_log_left_behind_counts_until_somebody_has_looked() {
    let looked = |lines: &str| told(&checked(&format!("{LOGGED}done:\n{lines}")), Rule::Looked);
    let b = Subject::Joint(JointIx(1));
    let g = Subject::Guard(GuardIx(0));
    assert_eq!(looked("  - {step: s}\n"), []);
    assert_eq!(looked("  - {step: s, sees_c: {b: 137}}\n"), []);
    assert_eq!(looked("  - {step: s, sees_c: {b: 138}}\n"), [(b, Melts)]);
    assert_eq!(
        looked("  - {step: s, sees_c: {c: 200}}\n"),
        [],
        "it may melt"
    );
    assert_eq!(looked("  - {step: s, sees_c: {u: 240}}\n"), []);
    assert_eq!(looked("  - {step: s, sees_c: {u: 241}}\n"), [(U, Limit)]);
    assert_eq!(looked("  - {step: s, sees_c: {g: 150}}\n"), []);
    assert_eq!(looked("  - {step: s, sees_c: {g: 151}}\n"), [(g, Limit)]);
    // Read colder than it flows: nothing was joined, and nobody has done it again.
    let cold = looked("  - {step: s, peak_c: 182}\n");
    assert!(cold.contains(&(Subject::Step, DoesNotFlow)), "{cold:?}");
    assert!(!looked("  - {step: s, peak_c: 183}\n").contains(&(Subject::Step, DoesNotFlow)));
    // Out of order.
    let early = looked("  - {step: r}\n");
    assert!(early.contains(&(Subject::Step, Limit)), "{early:?}");
    // What is only planned leaves no doubt.
    assert_eq!(told(&checked(LOGGED), Rule::Looked), []);
}

#[test]
fn findings_of_what_was_done_do_not_count_but_what_cannot_have_been_does() {
    // Done: 138 at b. The step itself is over; what it left is `looked`.
    let done = checked(&format!(
        "{LOGGED}done:\n  - {{step: s, sees_c: {{b: 100}}}}\n"
    ));
    assert!(done.findings.iter().all(|told| told.step != Some(0)));
    assert!(done.findings.iter().any(|told| told.step == Some(1)));
    let part = "parts: [{id: u, balls: {count: 1, diameter_um: 300, alloy: Sn63Pb37}}]\njoints: [{id: t, at: u}]\n\
                steps: [{id: off, do: remove, part: u, tool: air, peak_c: 220}]\ndone:\n  - {step: off}\n";
    // It was never on the board: the bench is not the one of the job.
    assert_eq!(
        told(&checked(part), Rule::Possible),
        [(Subject::Step, Limit)]
    );
    let power = "joints: [{id: t}]\nsteps: [{id: on, do: power}]\ndone:\n  - {step: on}\n";
    // Power without a check can have been: somebody looks what came of it.
    assert_eq!(
        told(&checked(power), Rule::Possible),
        [(Subject::Step, Close)]
    );
    let seen = format!(
        "{}  - {{step: look}}\n",
        power.replace("on, do: power}", "on, do: power}, {id: look, do: inspect}")
    );
    assert_eq!(told(&checked(&seen), Rule::Possible), []);
}

#[test]
fn power_that_nobody_told_to_wait_is_close() {
    let text = |after: &str| {
        format!(
            "joints: [{{id: t}}]\nsteps:\n  - {{id: on, do: power{after}}}\n  \
             - {{id: s, do: solder, joint: t, alloy: Sn63Pb37, mg: 1, tool: iron}}\n"
        )
    };
    // Power, and the check that is put before it.
    assert_eq!(
        told(&checked(&text("")), Rule::PowerLast),
        [(Subject::Step, Close); 2]
    );
    assert_eq!(told(&checked(&text(", after: s")), Rule::PowerLast), []);
    assert_eq!(told(&checked(&text(", after: all")), Rule::PowerLast), []);
}

#[test]
fn joints_that_were_there_at_any_time_are_listed_once() {
    let text = "parts: [{id: u, on: b, balls: {count: 1, diameter_um: 300, alloy: Sn63Pb37}}]\n\
                joints: [{id: a}, {id: b}, {id: c, alloy: Sn63Pb37, mg: 1}]\n\
                steps:\n  - {id: off, do: remove, part: u, tool: air, k: {c: 0}}\n";
    assert_eq!(checked(text).joints_ever(), [JointIx(1), JointIx(2)]);
}

#[test]
fn what_tells_of_harm_is_looked_at() {
    let looked = |why: &str| {
        let text = format!(
            "joints: [{{id: x}}]\nsteps: [{{id: s, do: solder, joint: x, alloy: Sn63Pb37, mg: 1, tool: iron}}]\n\
             done:\n  - {{step: s, failed: '{why}'}}\n"
        );
        told(&checked(&text), Rule::Looked)
    };
    let unknown = [(Subject::Step, Unknown)];
    for why in [
        "pad torn off",
        "Lifted pad",
        "smoke at the corner",
        "the tip tore it",
        "chip slid, a pad gone",
        "who knows",
    ] {
        assert_eq!(looked(why), unknown, "{why}");
    }
    for why in [
        "no wetting",
        "two balls open",
        "bridge",
        "slid by a row",
        "a striped joint",
    ] {
        assert_eq!(looked(why), [], "{why}");
    }
}
