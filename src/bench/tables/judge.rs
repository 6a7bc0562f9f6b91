//! Joints and limits at their edges.

use std::sync::Arc;

use super::{Desk, milli, sharp};
use crate::bench::exposure::{Seen, SeenBy};
use crate::bench::judge::{allowance, joint, limit};
use crate::bench::passage::LimitOf;
use crate::bench::{Bench, Verdict};
use crate::job::{GuardIx, JointIx, PartIx, WireIx};
use crate::melt::{Basis, Contact, Doubt, Melt};
use crate::policy;
use crate::quantity::{KelvinStep, Share};
use Verdict::{Close, Holds, Limit, Melts, Softens, Unknown};

const A: JointIx = JointIx(0);
const PLAIN: &str = "joints: [{id: a, alloy: Sn63Pb37, mg: 1}]\n";

fn at(millidegrees: i32) -> Seen {
    Seen::At(milli(millidegrees), SeenBy::Stated)
}

fn up_to(millidegrees: i32) -> Seen {
    Seen::UpTo(Some(milli(millidegrees)))
}

fn verdict(text: &str, seen: Seen, melt: &Melt) -> Verdict {
    let desk = Desk::new(text);
    let bench = Bench::at_start(&desk.setting());
    joint(&desk.setting(), &bench, A, seen, Arc::new(melt.clone())).verdict
}

#[test]
fn a_joint_keeps_the_wanted_margin_or_is_close_or_melts() {
    // Melts at 183, 5 K are wanted: up to 178 it holds.
    let rows = [
        (at(177_999), Holds),
        (at(178_000), Holds),
        (at(178_001), Close),
        (at(182_999), Close),
        (at(183_000), Melts),
        (at(183_001), Melts),
        // Only the tool's own temperature is known: holds if it holds there, else nobody knows.
        (up_to(178_000), Holds),
        (up_to(178_001), Unknown),
        (up_to(183_000), Unknown),
        (Seen::UpTo(None), Unknown),
    ];
    for (seen, want) in rows {
        assert_eq!(verdict(PLAIN, seen, &sharp(183)), want, "{seen:?}");
    }
}

#[test]
fn no_margin_asked_is_no_licence_to_melt() {
    let none = format!("want: {{margin_c: 0}}\n{PLAIN}");
    for (seen, want) in [
        (at(182_999), Holds),
        (at(183_000), Melts),
        (up_to(182_999), Holds),
        (up_to(183_000), Unknown),
    ] {
        assert_eq!(verdict(&none, seen, &sharp(183)), want, "{seen:?}");
    }
    let wide = format!("want: {{margin_c: 20}}\n{PLAIN}");
    assert_eq!(verdict(&wide, at(163_000), &sharp(183)), Holds);
    assert_eq!(verdict(&wide, at(163_001), &sharp(183)), Close);
}

#[test]
fn what_nobody_knows_is_never_safe() {
    for seen in [at(25_000), up_to(25_000), Seen::UpTo(None)] {
        assert_eq!(verdict(PLAIN, seen, &Melt::unknown()), Unknown, "{seen:?}");
    }
    // Survival is known and the share is not: more than it may bear.
    let mut wide = sharp(183);
    wide.liquidus = Some(milli(190_000));
    assert_eq!(verdict(PLAIN, at(183_000), &wide), Melts);
}

#[test]
fn a_trace_and_a_floor_of_a_subset_are_close_at_best() {
    let mut trace = sharp(183);
    trace.trace = Some((milli(170_000), Share::nearest(0.0005)));
    for (seen, want) in [
        (at(169_999), Holds),
        (at(170_000), Close),
        (at(179_000), Close),
        (up_to(169_999), Holds),
        (up_to(170_000), Close),
        (up_to(179_000), Unknown),
    ] {
        assert_eq!(verdict(PLAIN, seen, &trace), want, "{seen:?}");
    }
    let mut floor = sharp(183);
    floor.basis = Basis::Floor;
    assert_eq!(
        verdict(PLAIN, at(100_000), &floor),
        Holds,
        "a floor of its own elements"
    );
    floor.doubts = vec![Doubt::FloorOfSubset];
    assert_eq!(verdict(PLAIN, at(100_000), &floor), Close);
    assert_eq!(verdict(PLAIN, up_to(100_000), &floor), Close);
    assert_eq!(verdict(PLAIN, up_to(179_000), &floor), Unknown);
    assert_eq!(verdict(PLAIN, at(183_000), &floor), Melts);
    floor.basis = Basis::Measured;
    assert_eq!(
        verdict(PLAIN, at(100_000), &floor),
        Close,
        "one metal of a joint that is known vouches for no other"
    );
    floor.basis = Basis::Floor;
    floor.doubts = vec![Doubt::WeakData];
    assert_eq!(verdict(PLAIN, at(100_000), &floor), Holds, "another doubt");
}

/// A joint of Pb90Sn10 melted and frozen starts with a few per cent of liquid at the tin-lead eutectic.
#[test]
fn liquid_up_to_the_allowance_softens_and_more_melts() {
    let text = |more: &str| format!("joints: [{{id: a, alloy: Pb90Sn10, mg: 1{more}}}]\n");
    let desk = Desk::new(&text(""));
    let bench = Bench::at_start(&desk.setting());
    let melt = desk
        .setting()
        .melt(&bench.joints[0].layers, Contact::Layers);
    let survival = melt.survival.unwrap();
    let share = |k: i32| {
        melt.liquid_at(survival + KelvinStep::from_millikelvin(k))
            .unwrap()
    };
    assert!(share(0) > Share::NONE && share(0) < policy::MOVES_FROM);
    // The last thousandth of a degree at which no more than the allowance is liquid.
    let (mut below, mut above) = (0, 120_000);
    assert!(share(above) > policy::MOVES_FROM);
    while above - below > 1 {
        let middle = i32::midpoint(below, above);
        if share(middle) <= policy::MOVES_FROM {
            below = middle;
        } else {
            above = middle;
        }
    }
    let seen = |k: i32| Seen::At(survival + KelvinStep::from_millikelvin(k), SeenBy::Stated);
    assert_eq!(verdict(&text(""), seen(0), &melt), Softens);
    assert_eq!(verdict(&text(""), seen(below), &melt), Softens);
    assert_eq!(verdict(&text(""), seen(above), &melt), Melts);
    for strict in [", must: stay_solid", ", covered: true", ", strained: true"] {
        assert_eq!(verdict(&text(strict), seen(0), &melt), Melts, "{strict}");
    }
}

#[test]
fn what_is_covered_pulled_at_or_hangs_may_hold_no_liquid() {
    let part = |hang: &str| format!("parts: [{{id: u, on: a{hang}}}]\n{PLAIN}");
    let guard =
        |kind: &str| format!("guards: [{{id: g, kind: {kind}, limit_c: 300, over: a}}]\n{PLAIN}");
    let hangs = ", hangs: {weight_mg: 1, pad_area_mm2: 9}";
    let held = ", hangs: {weight_mg: 1, pad_area_mm2: 9, supported: true}";
    let rows = [
        (PLAIN.to_owned(), policy::MOVES_FROM.fraction()),
        (
            PLAIN.replace("mg: 1", "mg: 1, must: may_melt"),
            policy::MOVES_FROM.fraction(),
        ),
        (PLAIN.replace("mg: 1", "mg: 1, must: stay_solid"), 0.0),
        (PLAIN.replace("mg: 1", "mg: 1, covered: true"), 0.0),
        (PLAIN.replace("mg: 1", "mg: 1, strained: true"), 0.0),
        (guard("mask"), 0.0),
        (guard("glue"), 0.0),
        (part(""), policy::MOVES_FROM.fraction()),
        (part(hangs), 0.0),
        (part(held), policy::MOVES_FROM.fraction()),
    ];
    for (text, want) in rows {
        let desk = Desk::new(&text);
        let bench = Bench::at_start(&desk.setting());
        assert_eq!(
            allowance(&desk.setting(), &bench, A),
            Share::nearest(want),
            "{text}"
        );
    }
    assert!(
        (policy::MOVES_FROM.fraction() - 0.05).abs() < 1e-12,
        "5 mass%, our judgement"
    );
}

#[test]
fn a_joint_that_nobody_needs_any_more_may_melt() {
    let off = "parts: [{id: u, on: a}]\njoints: [{id: a, at: u, alloy: Sn63Pb37, mg: 1MORE}]\n\
               steps: [{id: s, do: remove, part: u, tool: airSTEP}]\n";
    let rows = [
        ("", "", true),
        (", must: stay_solid", "", false),
        (", covered: true", "", false),
        (", strained: true", "", false),
        ("", ", optional: true", false),
        (", must: may_melt", ", optional: true", true),
    ];
    for (more, step, want) in rows {
        let desk = Desk::new(&off.replace("MORE", more).replace("STEP", step));
        let mut bench = Bench::at_start(&desk.setting());
        let may_melt = |bench: &Bench| {
            joint(&desk.setting(), bench, A, at(25_000), Arc::new(sharp(183))).may_melt
        };
        assert_eq!(may_melt(&bench), want, "{more}{step}");
        // What has been soldered anew is needed until it is taken off.
        bench.joints[0].as_found = false;
        assert_eq!(may_melt(&bench), more.contains("may_melt"), "{more}{step}");
    }
}

#[test]
fn a_sight_tells_margin_and_share_where_a_temperature_is_known() {
    let desk = Desk::new(PLAIN);
    let bench = Bench::at_start(&desk.setting());
    let sight = |seen| joint(&desk.setting(), &bench, A, seen, Arc::new(sharp(183)));
    let known = sight(at(180_000));
    assert_eq!(known.margin, Some(KelvinStep::whole(3)));
    assert_eq!(known.liquid, Some(Share::NONE));
    assert_eq!(sight(at(190_000)).margin, Some(KelvinStep::whole(-7)));
    assert_eq!(sight(at(190_000)).liquid, Some(Share::ALL));
    let bounded = sight(up_to(100_000));
    assert_eq!((bounded.margin, bounded.liquid), (None, None));
    assert_eq!(known.joint, A);
}

#[test]
fn a_limit_keeps_the_wanted_margin_as_joints_do() {
    let desk = Desk::new(PLAIN);
    let rows = [
        (at(194_999), Holds, Some(5_001)),
        (at(195_000), Holds, Some(5_000)),
        (at(195_001), Close, Some(4_999)),
        (at(200_000), Close, Some(0)),
        (at(200_001), Limit, Some(-1)),
        (up_to(195_000), Holds, None),
        (up_to(195_001), Close, None),
        (up_to(200_000), Close, None),
        (up_to(200_001), Unknown, None),
        (Seen::UpTo(None), Unknown, None),
    ];
    let whose = [
        LimitOf::Part(PartIx(0)),
        LimitOf::Guard(GuardIx(0)),
        LimitOf::Wire(WireIx(0)),
    ];
    for (seen, want, margin) in rows {
        for of in whose {
            let sight = limit(&desk.setting(), of, seen, milli(200_000));
            assert_eq!(sight.verdict, want, "{seen:?}");
            assert_eq!(
                sight.margin,
                margin.map(KelvinStep::from_millikelvin),
                "{seen:?}"
            );
            assert_eq!((sight.of, sight.limit), (of, milli(200_000)));
        }
    }
}
