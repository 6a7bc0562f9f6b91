//! What a place sees: what is stated wins, the nearest name first; what nobody stated is not known.

use super::{Desk, milli};
use crate::bench::exposure::{self, Seen};
use crate::bench::transition::heat_of;
use crate::bench::{Bench, Doing, Pick};
use crate::job::{GuardIx, JointIx, PartIx};
use crate::quantity::Celsius;

/// A target at 225 °C over a board at 25: a share of the rise is 200 K times `k`.
const BOARD: &str = "zones: [Z]
guards:
  - {id: g, kind: plastic, limit_c: 150, zone: Z}
  - {id: m, kind: mask, limit_c: 150, over: b}
parts:
  - {id: p, on: b, limit_c: 250}
  - {id: q, on: t, limit_c: 250}
  - {id: back, balls: {count: 2, diameter_um: 300, alloy: Sn63Pb37}, limit_c: 250}
  - {id: about, limit_c: 250}
joints:
  - {id: t, alloy: Sn63Pb37, mg: 1}
  - {id: b, zone: Z, alloy: Sn63Pb37, mg: 1}
  - {id: c, alloy: Sn63Pb37, mg: 1}
  - {id: pads, at: back, count: 2}
steps:
  - {id: s, do: heat, joint: t, peak_c: 225, tool: air, MORE}
  - {id: w, do: solder, joint: pads, alloy: Sn63Pb37, mg: 1, peak_c: 225, tool: air}
LOG";

struct Looked {
    joints: Vec<Seen>,
    parts: Vec<Seen>,
    guards: Vec<Seen>,
}

fn looked_at(more: &str, log: &str, step: usize) -> Looked {
    let desk = Desk::new(&BOARD.replace("MORE", more).replace("LOG", log));
    let setting = desk.setting();
    let bench = Bench::at_start(&setting);
    let doing = Doing {
        log: desk.job.done.first(),
        ..Doing::planned(&desk.job.steps[step], Pick::default())
    };
    let heat = heat_of(&setting, &bench, &doing).expect("heat");
    Looked {
        joints: (0..4)
            .map(|j| exposure::of_joint(&setting, &bench, &heat, JointIx(j)))
            .collect(),
        parts: (0..4)
            .map(|p| exposure::of_part(&setting, &bench, &heat, PartIx(p)))
            .collect(),
        guards: (0..2)
            .map(|g| exposure::of_guard(&setting, &bench, &heat, GuardIx(g)))
            .collect(),
    }
}

fn degrees(seen: Seen) -> Option<Celsius> {
    match seen {
        Seen::At(t, _) => Some(t),
        Seen::UpTo(_) => None,
    }
}

#[test]
fn the_nearest_name_wins_and_temperatures_before_shares() {
    let rows = [
        ("k: {b: 0.5}", "", Some(125_000)),
        ("k: {rest: 0.5}", "", Some(125_000)),
        ("k: {b: 0.5, rest: 0.9}", "", Some(125_000)),
        ("k: {b: 0.5, p: 0.9, Z: 0.9}", "", Some(125_000)),
        // What is said of a body is not said of its joints: their zone counts too, and else the rest.
        ("k: {p: 0.25, Z: 0.9, rest: 0.1}", "", Some(205_000)),
        ("k: {p: 0.25, Z: 0.1, rest: 0.9}", "", Some(75_000)),
        ("k: {p: 0.25, rest: 0.9}", "", Some(205_000)),
        ("k: {p: 0.25}", "", Some(75_000)),
        ("k: {Z: 0.1, rest: 0.9}", "", Some(45_000)),
        ("k: {b: 1.2}", "", Some(265_000)),
        ("k: {b: 0}", "", Some(25_000)),
        ("preheat_c: 100, k: {b: 0.5}", "", Some(162_500)),
        ("k: {b: 0.5}, sees_c: {b: 111}", "", Some(111_000)),
        ("k: {b: 0.5}, sees_c: {Z: 111}", "", Some(125_000)),
        ("k: {b: 0.5}, sees_c: {rest: 60}", "", Some(125_000)),
        ("sees_c: {rest: 60}", "", Some(60_000)),
        (
            "k: {b: 0.5}, sees_c: {b: 111}",
            "done:\n  - {step: s, sees_c: {b: 133}}",
            Some(133_000),
        ),
        (
            "k: {b: 0.5}",
            "done:\n  - {step: s, peak_c: 125}",
            Some(75_000),
        ),
        ("k: {c: 0.5}", "", None),
        ("seconds: 3", "", None),
    ];
    for (more, log, want) in rows {
        let seen = looked_at(more, log, 0).joints[1];
        assert_eq!(degrees(seen), want.map(milli), "{more} {log}");
    }
}

#[test]
fn what_nobody_stated_is_bounded_by_the_tool_or_by_nothing() {
    let seen = |more: &str| looked_at(more, "", 0).joints[1];
    assert_eq!(seen("k: {c: 0.5}"), Seen::UpTo(None));
    assert_eq!(seen("set_c: 300"), Seen::UpTo(Some(Celsius::whole(300))));
    // Everything that is heated in a plate or an oven is as hot as the target, and no share makes it less.
    let plate = |more: &str| {
        let text = BOARD
            .replace("tool: air, MORE", &format!("tool: plate{more}"))
            .replace("LOG", "");
        let desk = Desk::new(&text);
        let passage = desk.passages().remove(0);
        let sight = passage
            .sights
            .iter()
            .find(|sight| sight.joint == JointIx(1))
            .unwrap()
            .seen;
        degrees(sight)
    };
    assert_eq!(plate(""), Some(Celsius::whole(225)));
    assert_eq!(plate(", k: {b: 1.5}"), Some(Celsius::whole(325)));
    assert_eq!(plate(", sees_c: {b: 240}"), Some(Celsius::whole(240)));
}

#[test]
fn the_target_is_at_its_peak_unless_something_is_stated_of_itself() {
    assert_eq!(
        degrees(looked_at("k: {b: 0.5}", "", 0).joints[0]),
        Some(Celsius::whole(225))
    );
    assert_eq!(
        degrees(looked_at("sees_c: {t: 240}", "", 0).joints[0]),
        Some(Celsius::whole(240))
    );
    assert_eq!(
        degrees(looked_at("k: {t: 1.1}", "", 0).joints[0]),
        Some(Celsius::whole(245))
    );
    let rest = looked_at("k: {rest: 0.1}, sees_c: {rest: 50}", "", 0);
    assert_eq!(
        degrees(rest.joints[0]),
        Some(Celsius::whole(225)),
        "`rest` is the others"
    );
}

#[test]
fn a_body_is_as_hot_as_its_joints_unless_something_is_stated_of_it() {
    let part = |more: &str, step: usize, p: usize| degrees(looked_at(more, "", step).parts[p]);
    // On the target: as hot as that, by its own share, or as stated of the target.
    assert_eq!(part("k: {b: 0.5}", 0, 1), Some(Celsius::whole(225)));
    assert_eq!(part("k: {q: 0.4}", 0, 1), Some(Celsius::whole(225)));
    assert_eq!(part("sees_c: {q: 90}", 0, 1), Some(Celsius::whole(225)));
    assert_eq!(part("k: {q: 1.2}", 0, 1), Some(Celsius::whole(265)));
    assert_eq!(part("sees_c: {t: 240}", 0, 1), Some(Celsius::whole(240)));
    // On a neighbour: its own name, that of its joints, the zone, the rest.
    assert_eq!(part("k: {p: 0.6, b: 0.5}", 0, 0), Some(Celsius::whole(145)));
    // Air comes to the body before it comes to its joints.
    assert_eq!(
        part("k: {p: 0.25, b: 0.5}", 0, 0),
        Some(Celsius::whole(125))
    );
    assert_eq!(part("k: {b: 0.5, Z: 0.1}", 0, 0), Some(Celsius::whole(125)));
    assert_eq!(
        part("k: {Z: 0.1, rest: 0.5}", 0, 0),
        Some(Celsius::whole(45))
    );
    assert_eq!(part("k: {rest: 0.5}", 0, 0), Some(Celsius::whole(125)));
    assert_eq!(part("seconds: 3", 0, 0), None);
    // Pads on its own body heat a chip that lies on its back, and no other step does.
    assert_eq!(part("seconds: 3", 1, 2), Some(Celsius::whole(225)));
    // Nobody says where the fourth part is: it lies somewhere on the board.
    assert_eq!(part("k: {b: 0.5}", 0, 3), None);
    assert_eq!(
        part("k: {about: 0.1, rest: 0.5}", 0, 3),
        Some(Celsius::whole(45))
    );
    assert_eq!(part("k: {rest: 0.5}", 0, 3), Some(Celsius::whole(125)));
}

#[test]
fn a_cover_is_as_hot_as_the_hottest_joint_below_it_at_least() {
    let guard = |more: &str, g: usize| degrees(looked_at(more, "", 0).guards[g]);
    assert_eq!(guard("k: {b: 0.5}", 1), Some(Celsius::whole(125)));
    assert_eq!(guard("k: {b: 0.5, m: 0.1}", 1), Some(Celsius::whole(125)));
    assert_eq!(guard("k: {b: 0.5, m: 0.9}", 1), Some(Celsius::whole(205)));
    assert_eq!(
        guard("k: {m: 0.1}", 1),
        None,
        "nobody knows how hot the joint below gets"
    );
    assert_eq!(guard("k: {g: 0.2, Z: 0.5}", 0), Some(Celsius::whole(65)));
    assert_eq!(
        guard("k: {Z: 0.5, rest: 0.1}", 0),
        Some(Celsius::whole(125))
    );
    assert_eq!(guard("k: {rest: 0.1}", 0), Some(Celsius::whole(45)));
    assert_eq!(guard("k: {b: 0.5}", 0), None);
}

/// What is off the board is not heated; a part that is balled is.
#[test]
fn a_loose_part_is_heated_alone() {
    let desk = Desk::new(
        "guards: [{id: g, kind: plastic, limit_c: 150}]
parts:
  - {id: p, balls: {count: 2, diameter_um: 300, alloy: Sn63Pb37}, limit_c: 250}
  - {id: q, on: b, limit_c: 250}
joints: [{id: b, alloy: Bi58Sn42, mg: 1}]
steps: [{id: s, do: reball, part: p, alloy: Sn63Pb37, tool: air}]
",
    );
    let passage = desk.last();
    assert!(passage.sights.is_empty());
    // 183 and 20 K of superheat, on the part alone.
    let limits = passage
        .limits
        .iter()
        .map(|limit| (limit.of, degrees(limit.seen)));
    let body = crate::bench::LimitOf::Part(PartIx(0));
    assert_eq!(
        limits.collect::<Vec<_>>(),
        [(body, Some(Celsius::whole(203)))]
    );
    assert_eq!(passage.heats, [(PartIx(0), Celsius::whole(203))]);
}

/// Cured at 150 °C: so is what lies below it, and the body that stands there, unless something is stated of
/// that very group.
#[test]
fn what_lies_below_a_guard_that_is_cured_hot_is_as_hot() {
    let text = |guard: &str, over: &str, more: &str| {
        format!(
            "guards: [{{id: m, kind: glue, limit_c: 200{guard}}}]
parts: [{{id: u, on: a, limit_c: 250}}, {{id: v, on: b, limit_c: 250}}]
joints: [{{id: a, alloy: Bi58Sn42, mg: 1}}, {{id: b, alloy: Bi58Sn42, mg: 1}}]
steps: [{{id: s, do: glue, guard: m{over}, tool: air, peak_c: 150, k: {{rest: 0.1{more}}}}}]
"
        )
    };
    let seen = |guard: &str, over: &str, more: &str| {
        let passage = Desk::new(&text(guard, over, more)).last();
        let joints = passage
            .sights
            .iter()
            .map(|sight| degrees(sight.seen).unwrap());
        let bodies = passage
            .limits
            .iter()
            .map(|limit| degrees(limit.seen).unwrap());
        joints
            .chain(bodies)
            .map(Celsius::degrees)
            .collect::<Vec<_>>()
    };
    // The rest sees 25 + 0.1 · 125.
    for (guard, over) in [("", ", over: a"), (", over: a", "")] {
        assert_eq!(
            seen(guard, over, ""),
            [150.0, 37.5, 150.0, 37.5, 150.0],
            "{guard}{over}"
        );
        assert_eq!(
            seen(guard, over, ", a: 0.2"),
            [50.0, 37.5, 50.0, 37.5, 150.0],
            "{guard}{over}"
        );
        assert_eq!(
            seen(guard, over, ", u: 0.2"),
            [150.0, 37.5, 150.0, 37.5, 150.0],
            "{guard}{over}"
        );
    }
}

/// A share of the rise is an estimate: a temperature that somebody read of the part or the zone around it wins
/// where it is hotter. A temperature of the place itself wins over both.
#[test]
fn what_was_read_of_something_wider_beats_a_share() {
    let joint = |more: &str, log: &str| degrees(looked_at(more, log, 0).joints[1]);
    for (more, log, want) in [
        ("k: {b: 0.05}, sees_c: {Z: 150}", "", 150),
        ("k: {b: 0.9}, sees_c: {Z: 150}", "", 205),
        ("sees_c: {b: 60, Z: 150}", "", 60),
        ("k: {b: 0.05}, sees_c: {p: 170}", "", 170),
        ("k: {b: 0.05}, sees_c: {rest: 150}", "", 35),
        ("k: {b: 0.05}", "{rest: 150}", 150),
        ("sees_c: {b: 60}", "{Z: 150}", 150),
        ("k: {b: 0.05}", "{b: 60, Z: 150}", 60),
    ] {
        let log = match log {
            "" => String::new(),
            sees => format!("done:\n  - {{step: s, sees_c: {sees}}}\n"),
        };
        assert_eq!(
            joint(more, &log),
            Some(Celsius::whole(want)),
            "{more} {log}"
        );
    }
    let wide = looked_at("k: {p: 0.1, g: 0.1}, sees_c: {Z: 190}", "", 0);
    assert_eq!(degrees(wide.guards[0]), Some(Celsius::whole(190)));
    let below = looked_at("k: {p: 0.1}, sees_c: {b: 180}", "", 0);
    assert_eq!(degrees(below.parts[0]), Some(Celsius::whole(180)));
}

/// Hot air and ovens come through the body; a tip does not.
#[test]
fn an_iron_alone_leaves_a_body_cooler_than_its_joints() {
    let body = |tool: &str| {
        let more = if tool == "oven" { "" } else { ", k: {q: 0.4}" };
        let text = BOARD.replace("tool: air, MORE", &format!("tool: {tool}{more}"));
        let desk = Desk::new(&text.replace("LOG", ""));
        let passage = desk.passages().remove(0);
        let of = crate::bench::LimitOf::Part(PartIx(1));
        let limit = passage.limits.iter().find(|limit| limit.of == of);
        degrees(limit.unwrap().seen)
    };
    for (tool, want) in [
        ("iron", 105),
        ("tweezers", 105),
        ("air", 225),
        ("oven", 225),
    ] {
        assert_eq!(body(tool), Some(Celsius::whole(want)), "{tool}");
    }
}

/// Rays heat what is dark more than what shines: a body, or what stands over a joint, is not known by its joints alone.
#[test]
fn rays_heat_a_body_more_than_the_joints_below_it() {
    let looked = |kind: &str, more: &str| {
        let board = BOARD
            .replace("tool: air, MORE", &format!("tool: infrared, {more}"))
            .replace("LOG", "")
            .replace("kind: mask", &format!("kind: {kind}"));
        let desk = Desk::new(&board);
        let setting = desk.setting();
        let bench = Bench::at_start(&setting);
        let doing = Doing::planned(&desk.job.steps[0], Pick::default());
        let heat = heat_of(&setting, &bench, &doing).expect("heat");
        let part = |p: usize| exposure::of_part(&setting, &bench, &heat, PartIx(p));
        let joint = exposure::of_joint(&setting, &bench, &heat, JointIx(1));
        let over = exposure::of_guard(&setting, &bench, &heat, GuardIx(1));
        // The joint, the part on it, the part on the target, and what lies over the joint.
        [joint, part(0), part(1), over]
    };
    let rows = [
        ("seconds: 3", [None; 4]),
        ("k: {b: 0.5}", [Some(125), None, None, None]),
        ("k: {rest: 0.5}", [Some(125), Some(125), None, Some(125)]),
        (
            "k: {b: 0.5, rest: 0.9}",
            [Some(125), Some(205), None, Some(205)],
        ),
        (
            "k: {b: 0.5, rest: 0.1}",
            [Some(125), Some(125), None, Some(125)],
        ),
        (
            "k: {b: 0.5, p: 0.6, m: 0.7}",
            [Some(125), Some(145), None, Some(165)],
        ),
        ("k: {b: 0.5, q: 1.1}", [Some(125), None, Some(245), None]),
        ("k: {b: 0.5, q: 0.4}", [Some(125), None, Some(225), None]),
        (
            "sees_c: {p: 150, q: 240}",
            [Some(150), Some(150), Some(240), None],
        ),
    ];
    for (more, want) in rows {
        let seen = looked("plastic", more).map(degrees);
        assert_eq!(seen, want.map(|at| at.map(Celsius::whole)), "{more}");
    }
    // A film is as hot as what it lies on.
    let film = looked("mask", "k: {b: 0.5}")[3];
    assert_eq!(degrees(film), Some(Celsius::whole(125)));
    // Nothing gets hotter than the emitter; what the head regulates to would bound nothing.
    let bound = looked("mask", "emitter_c: 500")[0];
    assert_eq!(bound, Seen::UpTo(Some(Celsius::whole(500))));
}

/// On a plate and in an oven the target is at its peak, and nothing is below that; what is lighter may be as hot as plate
/// or oven, and what hangs below the board over a plate is hotter than the target by nobody knows how much.
#[test]
fn nothing_on_a_plate_or_in_an_oven_is_below_the_peak() {
    let looked = |tool: &str, side: &str, more: &str| {
        let board = BOARD
            .replace("tool: air, MORE", &format!("tool: {tool}{more}"))
            .replace("LOG", "")
            .replace("{id: b,", &format!("{{id: b, side: {side},"));
        let desk = Desk::new(&board);
        let setting = desk.setting();
        let bench = Bench::at_start(&setting);
        let doing = Doing::planned(&desk.job.steps[0], Pick::default());
        let heat = heat_of(&setting, &bench, &doing).expect("heat");
        let part = |p: usize| exposure::of_part(&setting, &bench, &heat, PartIx(p));
        let joint = |j: usize| exposure::of_joint(&setting, &bench, &heat, JointIx(j));
        let guard = |g: usize| exposure::of_guard(&setting, &bench, &heat, GuardIx(g));
        // Target, joint, the part on it, the part on the target, a guard by itself, one over the joint.
        [joint(0), joint(1), part(0), part(1), guard(0), guard(1)]
    };
    let all = |at: i32| [Some(at); 6];
    let target_then = |at: i32| [Some(225), Some(at), Some(at), Some(at), Some(at), Some(at)];
    let below = [Some(225), None, None, Some(225), Some(225), None];
    let set_below = [
        Some(225),
        Some(300),
        Some(300),
        Some(300),
        Some(300),
        Some(300),
    ];
    let rows = [
        ("plate", "above", "", all(225)),
        ("oven", "above", "", all(225)),
        ("oven", "under", "", all(225)),
        ("plate", "under", "", below),
        ("plate", "above", ", set_c: 300", target_then(300)),
        ("oven", "above", ", set_c: 240", target_then(240)),
        ("plate", "under", ", set_c: 300", set_below),
        // Set at the peak; a lower one is refused when the job is read.
        ("oven", "above", ", set_c: 225", all(225)),
        (
            "plate",
            "under",
            ", sees_c: {b: 245}",
            [
                Some(225),
                Some(245),
                Some(245),
                Some(225),
                Some(225),
                Some(245),
            ],
        ),
    ];
    for (tool, side, more, want) in rows {
        let seen = looked(tool, side, more).map(degrees);
        let want = want.map(|at| at.map(Celsius::whole));
        assert_eq!(seen, want, "{tool} {side} {more}");
    }
}

/// Copper of 390 W/(m·K), 1 mm thick: 0.0204 W/K over 15 mm, 0.0191 over 16.
#[test]
fn what_is_stated_of_the_rest_says_nothing_of_the_end_of_a_thick_wire() {
    let seen = |mm: u32, k: &str, tied: &str| {
        let text = format!(
            "joints: [{{id: a, alloy: Sn63Pb37, mg: 1}}, {{id: b}}, {{id: c}}]\nwires: [{{id: w, from: a, to: {tied}, diameter_um: 1000, length_mm: {mm}}}]\n\
             steps: [{{id: s, do: solder, joint: b, alloy: Sn63Pb37, mg: 1, tool: iron, peak_c: 225, k: {{{k}}}}}]\n"
        );
        Desk::new(&text).last().sights[0].seen
    };
    let top = Seen::UpTo(Some(Celsius::whole(225)));
    assert_eq!(seen(15, "rest: 0.1", "b"), top);
    assert_eq!(
        degrees(seen(15, "rest: 1.05", "b")),
        Some(Celsius::whole(235))
    );
    assert_eq!(
        degrees(seen(16, "rest: 0.1", "b")),
        Some(Celsius::whole(45))
    );
    assert_eq!(degrees(seen(15, "a: 0.1", "b")), Some(Celsius::whole(45)));
    assert_eq!(
        degrees(seen(15, "rest: 0.1", "c")),
        Some(Celsius::whole(45))
    );
}

/// A plate of 260 °C under a target that is lifted off at 225.
#[test]
fn what_stays_on_a_plate_gets_as_hot_as_it_is_set() {
    let seen = |tool: &str| {
        let text = format!(
            "joints: [{{id: a, alloy: Sn63Pb37, mg: 1}}, {{id: b}}]\n\
             steps: [{{id: s, do: solder, joint: b, alloy: Sn63Pb37, mg: 1, tool: {tool}, peak_c: 225, k: {{rest: 1}}}}]\n"
        );
        degrees(Desk::new(&text).last().sights[0].seen)
    };
    assert_eq!(seen("plate, set_c: 260"), Some(Celsius::whole(260)));
    assert_eq!(seen("plate"), Some(Celsius::whole(225)));
    assert_eq!(seen("iron, set_c: 260"), Some(Celsius::whole(225)));
}
