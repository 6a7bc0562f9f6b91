//! What falls, floats, tears, bursts, and what nobody stated.

use super::{Desk, found, verdict_of};
use crate::bench::{Note, Rule, Subject, Verdict};
use crate::job::{JointIx, PartIx, WireIx};
use crate::quantity::{Celsius, KelvinStep};
use Verdict::{Close, Holds, Limit, Melts, Unknown};

/// A neighbour of Sn63Pb37 (183 °C) that sees what MORE says.
fn beside(joint: &str, more: &str, rest: &str) -> String {
    format!(
        "{rest}joints:\n  - {{id: t}}\n  - {{id: b, alloy: Sn63Pb37, mg: 1{joint}}}\n  \
         - {{id: c, alloy: Sn63Pb37, mg: 1}}\n\
         steps: [{{id: s, do: heat, joint: t, peak_c: 300, tool: air, k: {{c: 0}}, {more}}}]\n"
    )
}

const AT_182: &str = "sees_c: {b: 182}";
const AT_183: &str = "sees_c: {b: 183}";
const NOBODY: &str = "seconds: 3";

/// By hand: 2 mm² hold 93 mg (46.5 mg/mm²).
#[test]
fn what_hangs_and_is_too_heavy_falls_where_its_solder_is_or_may_be_soft() {
    let part = |mg: &str| {
        format!("parts: [{{id: u, on: b, hangs: {{weight_mg: {mg}, pad_area_mm2: 2}}}}]\n")
    };
    let held =
        "parts: [{id: u, on: b, hangs: {weight_mg: 94, pad_area_mm2: 2, supported: true}}]\n";
    let rows = [
        (part("94"), AT_182, None),
        (part("94"), AT_183, Some(Limit)),
        (part("94"), NOBODY, Some(Unknown)),
        (part("93"), AT_183, None),
        (part("93"), NOBODY, None),
        (held.to_owned(), AT_183, None),
    ];
    for (parts, more, want) in rows {
        for must in ["", ", must: may_melt"] {
            let text = beside(must, more, &parts);
            assert_eq!(verdict_of(&text, Rule::Hangs), want, "{text}");
        }
    }
    let told = found(
        &Desk::new(&beside("", AT_183, &part("94"))).last(),
        Rule::Hangs,
    )[0];
    assert_eq!(
        (told.of, told.by),
        (Subject::Part(PartIx(0)), Subject::Joint(JointIx(1)))
    );
    assert!(told.counts);
}

#[test]
fn what_hangs_on_the_target_falls_unless_the_step_has_it_in_hand() {
    let text = |mg: u32, step: &str| {
        format!(
            "parts: [{{id: u, on: b, hangs: {{weight_mg: {mg}, pad_area_mm2: 2}}}}]\n\
             joints: [{{id: b, alloy: Sn63Pb37, mg: 1}}]\nsteps: [{{id: s, {step}, tool: air}}]\n"
        )
    };
    let more = "do: solder, joint: b, alloy: Sn63Pb37, mg: 1";
    assert_eq!(verdict_of(&text(94, more), Rule::Hangs), Some(Limit));
    assert_eq!(verdict_of(&text(93, more), Rule::Hangs), None);
    assert_eq!(
        verdict_of(&text(94, "do: remove, part: u"), Rule::Hangs),
        Some(Close),
        "a hand may hold it"
    );
    assert_eq!(
        verdict_of(&text(93, "do: remove, part: u"), Rule::Hangs),
        None
    );
    let told = found(&Desk::new(&text(94, more)).last(), Rule::Hangs)[0];
    assert_eq!(told.by, Subject::Step);
    // A hand may hold what is set; below an emitter, on a plate, in an oven none does.
    for (tool, want) in [
        ("air", Close),
        ("infrared", Limit),
        ("plate", Limit),
        ("oven", Limit),
    ] {
        let text = format!(
            "parts: [{{id: u, balls: {{count: 4, diameter_um: 300, alloy: Sn63Pb37}}, hangs: {{weight_mg: 94, pad_area_mm2: 2}}}}]\n\
             joints: [{{id: b, at: u, pad_um: 300}}]\nsteps: [{{id: s, do: place, part: u, on: b, tool: {tool}}}]\n"
        );
        assert_eq!(verdict_of(&text, Rule::Hangs), Some(want), "{tool}");
    }
}

#[test]
fn a_wire_stays_where_its_joint_stays_solid_or_something_holds_it() {
    let wire = |more: &str| format!("wires: [{{id: w, from: b, to: c, diameter_um: 50{more}}}]\n");
    let glued = format!(
        "guards: [{{id: g, kind: glue, limit_c: 300, over: b}}]\n{}",
        wire("")
    );
    let rows = [
        (wire(""), AT_182, None),
        (wire(""), AT_183, Some(Limit)),
        (wire(""), NOBODY, Some(Unknown)),
        (wire(", held: true"), AT_183, None),
        (wire(", held: true"), NOBODY, None),
        (glued, AT_183, None),
    ];
    for (wires, more, want) in rows {
        let text = beside(", must: may_melt", more, &wires);
        assert_eq!(verdict_of(&text, Rule::WireStays), want, "{text}");
    }
    let told = found(
        &Desk::new(&beside("", AT_183, &wire(""))).last(),
        Rule::WireStays,
    )[0];
    assert_eq!(
        (told.of, told.by),
        (Subject::Wire(WireIx(0)), Subject::Joint(JointIx(1)))
    );
}

#[test]
fn wires_of_the_target_are_in_reach_of_a_hand_and_that_is_close() {
    let text = |count: u32, wire: &str, step: &str| {
        format!(
            "joints: [{{id: b, count: {count}, alloy: Sn63Pb37, mg: 1}}, {{id: c, alloy: Sn63Pb37, mg: 1}}]\n\
             wires: [{{id: w, from: b, to: c, diameter_um: 50{wire}}}, {{id: v, from: b, to: c, diameter_um: 50}}]\n\
             steps: [{{id: s, {step}, alloy: Sn63Pb37, mg: 1, tool: iron, k: {{b: 0, c: 0}}}}]\n"
        )
    };
    let solder = "do: solder, joint: b";
    let tie = "do: wire, wire: v, joint: b";
    assert_eq!(
        verdict_of(&text(1, "", solder), Rule::WireStays),
        Some(Close)
    );
    assert_eq!(
        found(&Desk::new(&text(1, "", solder)).last(), Rule::WireStays).len(),
        2
    );
    assert_eq!(
        found(
            &Desk::new(&text(1, ", held: true", solder)).last(),
            Rule::WireStays
        )
        .len(),
        1
    );
    assert_eq!(
        verdict_of(&text(1, ", held: true", tie), Rule::WireStays),
        None,
        "v is in the hand"
    );
    // One joint: the other wire floats while this one is tied.
    assert_eq!(verdict_of(&text(1, "", tie), Rule::WireStays), Some(Close));
    // One member for each wire: the others are not touched.
    assert_eq!(verdict_of(&text(2, "", tie), Rule::WireStays), None);
    assert_eq!(
        verdict_of(&text(2, "", solder), Rule::WireStays),
        Some(Close)
    );
}

#[test]
fn solder_below_a_cover_stays_solid_whatever_else_it_may_do() {
    let guard = "guards: [{id: m, kind: glue, limit_c: 320, over: b}]\n";
    let rows = [
        (", covered: true, must: may_melt", AT_182, "", None),
        (", covered: true, must: may_melt", AT_183, "", Some(Limit)),
        (", covered: true, must: may_melt", NOBODY, "", Some(Unknown)),
        (", must: may_melt", AT_183, guard, Some(Limit)),
        (", must: may_melt", AT_183, "", None),
        // What counts anyway is told by `survives`.
        (", covered: true", AT_183, "", None),
    ];
    for (joint, more, guards, want) in rows {
        assert_eq!(
            verdict_of(&beside(joint, more, guards), Rule::UnderCover),
            want,
            "{joint} {more}"
        );
    }
    let survives = |joint: &str| {
        let told = found(
            &Desk::new(&beside(joint, AT_183, "")).last(),
            Rule::Survives,
        );
        let of_b = told
            .iter()
            .find(|f| f.of == Subject::Joint(JointIx(1)))
            .unwrap();
        (of_b.verdict, of_b.counts, of_b.margin)
    };
    assert_eq!(survives(""), (Melts, true, Some(KelvinStep::ZERO)));
    assert_eq!(
        survives(", must: may_melt"),
        (Melts, false, Some(KelvinStep::ZERO))
    );
}

/// Forty members, iron at one of them: 203 at it, 25 + k · 178 at the next.
#[test]
fn members_that_may_hold_no_liquid_bear_the_heat_of_the_next_one_or_nobody_knows() {
    let text = |joint: &str, tool: &str, k: &str| {
        format!(
            "joints: [{{id: x, residue: {{alloy: Sn63Pb37, mg: 1}}{joint}}}]\n\
             steps: [{{id: s, do: solder, joint: x, alloy: Sn63Pb37, mg: 1, tool: {tool}{k}}}]\n"
        )
    };
    let strict = ", count: 40, must: stay_solid";
    let rows = [
        (strict, "iron", "", Some(Unknown)),
        (strict, "tweezers", "", Some(Unknown)),
        (strict, "air", "", None),
        (", must: stay_solid", "iron", "", None),
        (", count: 40", "iron", "", None),
        (
            ", count: 40, must: may_melt, strained: true",
            "iron",
            "",
            None,
        ),
        (", count: 40, strained: true", "iron", "", Some(Unknown)),
        // 178 is 153 of the 178 K of rise: 0.8595.
        (strict, "iron", ", k: {x: 0.8595}", Some(Holds)),
        (strict, "iron", ", k: {x: 0.8596}", Some(Close)),
        (strict, "iron", ", k: {x: 0.8876}", Some(Close)),
        (strict, "iron", ", k: {x: 0.8877}", Some(Melts)),
        (strict, "iron", ", sees_c: {x: 178}", Some(Holds)),
        (strict, "iron", ", sees_c: {x: 183}", Some(Melts)),
        (", count: 40", "iron", ", k: {x: 0.9}", Some(Melts)),
        // The rest are other things.
        (strict, "iron", ", k: {rest: 0.1}", Some(Unknown)),
    ];
    for (joint, tool, k, want) in rows {
        assert_eq!(
            verdict_of(&text(joint, tool, k), Rule::Members),
            want,
            "{joint} {tool} {k}"
        );
    }
    let told = found(
        &Desk::new(&text(strict, "iron", ", sees_c: {x: 180}")).last(),
        Rule::Members,
    )[0];
    assert_eq!(told.margin, Some(KelvinStep::whole(3)));
    assert_eq!(
        (told.of, told.by),
        (Subject::Joint(JointIx(0)), Subject::Step)
    );
}

#[test]
fn a_moist_part_is_dried_before_it_is_hot() {
    let text = |dry: &str, peak: &str, bake: &str| {
        format!(
            "parts: [{{id: u, balls: {{count: 1, diameter_um: 300, alloy: Sn63Pb37}}{dry}}}]\n\
             joints: [{{id: t, at: u}}]\n\
             steps:\n{bake}  - {{id: s, do: place, part: u, on: t, peak_c: {peak}, tool: air}}\n"
        )
    };
    let bake = |t: u32, hours: &str| {
        format!("  - {{id: dry, do: bake, part: u, peak_c: {t}, hours: {hours}, tool: oven}}\n")
    };
    let moist = ", dry: false";
    let rows = [
        (moist, "199.999", String::new(), None),
        (moist, "200", String::new(), Some(Limit)),
        (moist, "230", String::new(), Some(Limit)),
        (", dry: true", "230", String::new(), None),
        ("", "230", String::new(), None),
        (moist, "230", bake(125, "24"), None),
        (moist, "230", bake(125, "23.9"), Some(Limit)),
        (moist, "230", bake(124, "24"), Some(Limit)),
    ];
    for (dry, peak, bake, want) in rows {
        assert_eq!(
            verdict_of(&text(dry, peak, &bake), Rule::Dry),
            want,
            "{dry} {peak} {bake}"
        );
    }
    let beside = beside("", NOBODY, "parts: [{id: u, on: b, dry: false}]\n");
    assert_eq!(verdict_of(&beside, Rule::Dry), Some(Unknown));
}

#[test]
fn a_part_with_the_data_has_a_stated_limit_where_it_is_really_heated() {
    let part = |more: &str, want: &str| format!("{want}parts: [{{id: u, on: b{more}}}]\n");
    let vital = ", vital: true";
    let rows = [
        (part(vital, ""), "sees_c: {b: 199.999}", None),
        (part(vital, ""), "sees_c: {b: 200}", Some(Unknown)),
        (part(vital, ""), NOBODY, Some(Unknown)),
        (
            part(vital, "want: {counts_from_c: 100}\n"),
            "sees_c: {b: 150}",
            None,
        ),
        (
            part(", vital: true, limit_c: 260", ""),
            "sees_c: {b: 200}",
            None,
        ),
        (part("", ""), "sees_c: {b: 200}", None),
    ];
    for (parts, more, want) in rows {
        assert_eq!(
            verdict_of(&beside("", more, &parts), Rule::LimitStated),
            want,
            "{parts} {more}"
        );
    }
}

/// A wire that the job does not list pulls at the joint all the same.
#[test]
fn what_pulls_floats_as_a_wire_does() {
    let glue = "guards: [{id: g, kind: glue, limit_c: 300, over: b}]\n";
    let pulled = ", strained: true, must: may_melt";
    for (joint, more, rest, want) in [
        (pulled, AT_182, "", None),
        (pulled, AT_183, "", Some(Limit)),
        (pulled, NOBODY, "", Some(Unknown)),
        (pulled, AT_183, glue, None),
        (", must: may_melt", AT_183, "", None),
    ] {
        assert_eq!(
            verdict_of(&beside(joint, more, rest), Rule::WireStays),
            want,
            "{joint} {more}"
        );
    }
    // A listed wire is what pulls: told once.
    let wire = "wires: [{id: w, from: b, to: c, diameter_um: 50}]\n";
    let listed = Desk::new(&beside(pulled, AT_183, wire)).last();
    assert_eq!(found(&listed, Rule::WireStays).len(), 1);
    let target = |joint: &str, rest: &str| {
        format!(
            "{rest}joints: [{{id: b{joint}}}]\nsteps: [{{id: s, do: solder, joint: b, alloy: Sn63Pb37, mg: 1, tool: iron}}]\n"
        )
    };
    let standing = ", alloy: Sn63Pb37, mg: 1";
    let strained = ", strained: true, alloy: Sn63Pb37, mg: 1";
    assert_eq!(
        verdict_of(&target(strained, ""), Rule::WireStays),
        Some(Close)
    );
    assert_eq!(verdict_of(&target(standing, ""), Rule::WireStays), None);
    assert_eq!(
        verdict_of(&target(", strained: true", ""), Rule::WireStays),
        None,
        "pads only"
    );
    assert_eq!(
        verdict_of(&target(strained, glue), Rule::WireStays),
        None,
        "glue holds it"
    );
}

#[test]
fn a_tip_that_is_too_cold_leaves_the_enamel_on() {
    let text = |way: &str| {
        format!(
            "joints: [{{id: a, alloy: Sn63Pb37}}]\nsteps: [{{id: s, do: strip, {way}, k: {{a: 0}}}}]\n"
        )
    };
    for (way, want) in [
        ("tool: iron, set_c: 369.999", Some(Close)),
        ("tool: iron, set_c: 370", None),
        ("tool: iron, peak_c: 369", Some(Close)),
        ("tool: iron, peak_c: 370", None),
        ("tool: iron, set_c: 370, peak_c: 100", None),
        ("tool: air, set_c: 300", None),
    ] {
        assert_eq!(verdict_of(&text(way), Rule::Strips), want, "{way}");
    }
}

/// By hand, by the rates of `thins.rs`: at 350 °C tin-lead takes 0.104 · e^(5800 (1/505 − 1/623.15)) = 0.920 µm/s; half of
/// 50 µm is gone 7.322 µm deep, after 7.95 s, and is close from 3.98 s on. Tin-silver-copper takes it in 3.18 s.
#[test]
fn a_fine_wire_goes_into_solder_that_stays_molten_on_it() {
    let text = |alloy: &str, um: u32, way: &str| {
        format!(
            "joints: [{{id: a, count: 2, pad_um: 300}}, {{id: b, alloy: Sn63Pb37, mg: 1}}]\n\
             wires: [{{id: w, from: a, to: b, diameter_um: {um}, held: true}}]\n\
             steps: [{{id: s, do: wire, wire: w, joint: a, alloy: {alloy}, mg: 0.1, k: {{a: 0, b: 0}}, {way}}}]\n"
        )
    };
    for (alloy, um, way, want) in [
        ("Sn63Pb37", 50, "tool: iron, set_c: 350, seconds: 3", None),
        (
            "Sn63Pb37",
            50,
            "tool: iron, set_c: 350, seconds: 4",
            Some(Close),
        ),
        (
            "Sn63Pb37",
            50,
            "tool: iron, set_c: 350, seconds: 7",
            Some(Close),
        ),
        (
            "Sn63Pb37",
            50,
            "tool: iron, set_c: 350, seconds: 8",
            Some(Limit),
        ),
        // A tip that nobody set is one of 350 °C.
        ("Sn63Pb37", 50, "tool: iron, seconds: 4", Some(Close)),
        ("Sn63Pb37", 50, "tool: iron, seconds: 8", Some(Limit)),
        (
            "Sn96.5Ag3Cu0.5",
            50,
            "tool: iron, set_c: 350, seconds: 1",
            None,
        ),
        (
            "Sn96.5Ag3Cu0.5",
            50,
            "tool: iron, set_c: 350, seconds: 2",
            Some(Close),
        ),
        (
            "Sn96.5Ag3Cu0.5",
            50,
            "tool: iron, set_c: 350, seconds: 4",
            Some(Limit),
        ),
        // Ten times as thick, ten times as long.
        ("Sn63Pb37", 500, "tool: iron, set_c: 350, seconds: 39", None),
        // No tip: as hot as the joint, 203 °C.
        ("Sn63Pb37", 50, "tool: air, seconds: 8", None),
        // Nobody said how long: told, not judged.
        ("Sn63Pb37", 50, "tool: iron, set_c: 350", None),
    ] {
        let text = text(alloy, um, way);
        assert_eq!(verdict_of(&text, Rule::WireThins), want, "{text}");
    }
    let told = |way: &str, um: u32| {
        let passage = Desk::new(&text("Sn63Pb37", um, way)).last();
        let notes = passage.notes.into_iter();
        notes
            .filter_map(|note| match note {
                Note::WireThins(thins) => Some(thins.half_gone_ms),
                _ => None,
            })
            .collect::<Vec<_>>()
    };
    let ms = told("tool: iron", 50);
    assert!(ms.len() == 1 && (7_900..8_000).contains(&ms[0]), "{ms:?}");
    assert!(told("tool: iron", 500).is_empty());
    assert!(told("tool: air", 50).is_empty());
    // Another joint has no such wire.
    let other = "joints: [{id: a}, {id: b, alloy: Sn63Pb37, mg: 1}, {id: c, alloy: Sn63Pb37, mg: 1}]\n\
         wires: [{id: w, from: b, to: c, diameter_um: 20, held: true}]\n\
         steps: [{id: s, do: solder, joint: a, alloy: Sn63Pb37, mg: 0.1, k: {a: 0, b: 0, c: 0}, tool: iron, seconds: 9}]\n";
    assert_eq!(verdict_of(other, Rule::WireThins), None);
}

/// Bismuth solder is liquid at 138 °C, long before tin-silver-copper paste melts; the other way round the paste is first.
#[test]
fn balls_that_are_liquid_before_their_paste_are_told() {
    let told = |ball: &str, paste: &str| {
        let text = format!(
            "parts: [{{id: u, balls: {{count: 1, diameter_um: 450, alloy: {ball}}}}}]\n\
             joints: [{{id: t, at: u, pad: {{diameter_um: 400, finish: {{element: Ni, um: 3}}}}}}]\n\
             steps: [{{id: s, do: place, part: u, on: t, alloy: {paste}, mg: 0.05, peak_c: 245, tool: air}}]\n"
        );
        let notes = Desk::new(&text).last().notes.into_iter();
        notes
            .filter_map(|note| match note {
                Note::BallsFirst(_, paste, balls) => Some((paste, balls)),
                _ => None,
            })
            .collect::<Vec<_>>()
    };
    let (sac, bismuth) = (Celsius::whole(217), Celsius::whole(138));
    assert_eq!(told("Bi58Sn42", "Sn96.5Ag3Cu0.5"), [(sac, bismuth)]);
    assert_eq!(told("Sn96.5Ag3Cu0.5", "Bi58Sn42"), []);
    assert_eq!(told("Sn63Pb37", "Sn63Pb37"), []);
}

#[test]
fn bismuth_paste_below_a_ball_that_stays_solid_tears() {
    let text = |ball: &str, paste: &str, peak: u32| {
        format!(
            "parts: [{{id: u, balls: {{count: 1, diameter_um: 450, alloy: {ball}}}}}]\n\
             joints: [{{id: t, at: u, pad: {{diameter_um: 400, finish: {{element: Ni, um: 3}}}}}}]\n\
             steps: [{{id: s, do: place, part: u, on: t, alloy: {paste}, mg: 0.05, peak_c: {peak}, tool: air}}]\n"
        )
    };
    assert_eq!(
        verdict_of(&text("Sn96.5Ag3Cu0.5", "Bi58Sn42", 175), Rule::HotTear),
        Some(Close)
    );
    assert_eq!(
        verdict_of(&text("Sn96.5Ag3Cu0.5", "Bi58Sn42", 240), Rule::HotTear),
        None,
        "one alloy"
    );
    assert_eq!(
        verdict_of(&text("Sn96.5Ag3Cu0.5", "Sn63Pb37", 200), Rule::HotTear),
        None,
        "no bismuth"
    );
    assert_eq!(
        verdict_of(&text("Bi58Sn42", "Bi57Sn42Ag1", 120), Rule::HotTear),
        None,
        "bismuth in both"
    );
    // From a tenth of bismuth on; below 138 °C nothing of it has flowed, and nothing became one.
    assert_eq!(
        verdict_of(&text("Sn96.5Ag3Cu0.5", "Sn90Bi10", 120), Rule::HotTear),
        Some(Close)
    );
    assert_eq!(
        verdict_of(&text("Sn96.5Ag3Cu0.5", "Sn90.1Bi9.9", 120), Rule::HotTear),
        None
    );
}

#[test]
fn soft_and_molten_neighbours_count_unless_they_may_melt() {
    let passage = |must: &str| Desk::new(&beside(must, AT_183, "")).last();
    assert_eq!(passage("").verdict(), Melts);
    let told = found(&passage(", must: may_melt"), Rule::Survives);
    assert!(
        told.iter().all(|f| f.verdict == Holds || !f.counts),
        "{told:?}"
    );
    assert_eq!(passage("").tightest(), Some(KelvinStep::ZERO));
    // c sees 25: 158 K.
    assert_eq!(
        passage(", must: may_melt").tightest(),
        Some(KelvinStep::whole(158))
    );
}

/// What failed did nothing: a bake dries nothing, a wick takes nothing, what was to come off is still on.
#[test]
fn what_failed_did_nothing() {
    let text = |failed: &str| {
        format!(
            "guards: [{{id: m, kind: mask, limit_c: 300, over: w}}]\n\
             parts: [{{id: u, balls: {{count: 1, diameter_um: 300, alloy: Sn63Pb37}}, dry: false}}]\n\
             joints: [{{id: a, alloy: Sn63Pb37, mg: 1, pad_um: 300}}, {{id: w, alloy: Sn63Pb37, mg: 1}}, {{id: t, at: u}}]\n\
             steps:\n  \
             - {{id: bake, do: bake, part: u, peak_c: 125, hours: 24, tool: oven}}\n  \
             - {{id: wick, do: clean, joint: a, rounds: 1, flood: {{alloy: Bi58Sn42, mg: 0.2}}, tool: iron, k: {{rest: 0}}}}\n  \
             - {{id: off, do: uncover, guard: m}}\n\
             done:\n  - {{step: bake{failed}}}\n  - {{step: wick{failed}}}\n  - {{step: off{failed}}}\n"
        )
    };
    let end = |failed: &str| Desk::new(&text(failed)).last().next;
    let (well, failed) = (end(""), end(", failed: cold"));
    assert!(well.parts[0].dry && !failed.parts[0].dry);
    assert!(!well.guards[0].exists && failed.guards[0].exists);
    assert_eq!(well.joints[0].layers.len(), 1);
    // Old and fresh solder side by side, none of it gone.
    assert_eq!(failed.joints[0].layers.len(), 2);
    assert!(failed.joints[0].standing && failed.joints[0].doubtful);
    assert!(failed.joints[0].mass() > well.joints[0].mass());
}

/// A part that comes off carries remnants of its balls; dressed and balled anew it is whole again.
#[test]
fn torn_balls_are_no_balls() {
    let text = |between: &str| {
        format!(
            "parts: [{{id: u, on: a, balls: {{count: 4, diameter_um: 300, alloy: Sn63Pb37}}}}]\n\
             joints: [{{id: a, count: 4, pad_um: 300}}, {{id: b, count: 4, pad_um: 300}}]\n\
             steps:\n  - {{id: off, do: remove, part: u, tool: air}}\n{between}  \
             - {{id: s, do: place, part: u, on: b, tool: air}}\n"
        )
    };
    let balls = |between: &str| verdict_of(&text(between), Rule::Balls);
    assert_eq!(balls(""), Some(Unknown));
    let dress = "  - {id: w, do: clean, part: u, tool: air}\n";
    let ball = "  - {id: r, do: reball, part: u, alloy: Sn63Pb37, tool: air}\n";
    assert_eq!(balls(&format!("{dress}{ball}")), None);
}

/// A clean-up of a part that failed leaves its balls on, and gold where it was.
#[test]
fn balls_stay_on_where_a_wick_failed() {
    let end = |failed: &str| {
        Desk::new(&format!(
            "parts: [{{id: u, balls: {{count: 1, diameter_um: 300, alloy: Sn63Pb37}}}}]\n\
             joints: [{{id: a, pad: {{diameter_um: 300, finish: {{element: Au, um: 0.1}}}}}}]\n\
             steps:\n  - {{id: w, do: clean, part: u, tool: air}}\n  \
             - {{id: c, do: clean, joint: a, rounds: 1, flood: {{alloy: Sn63Pb37, mg: 0.2}}, tool: iron}}\n\
             done:\n  - {{step: w{failed}}}\n  - {{step: c{failed}}}\n"
        ))
        .last()
        .next
    };
    let (well, failed) = (end(""), end(", failed: cold"));
    assert!(!well.parts[0].balled && failed.parts[0].balled);
    assert!(!well.joints[0].finish_left && failed.joints[0].finish_left);
}

/// Work on the underside turns the board, and what stands on top hangs by what gets soft.
#[test]
fn what_stands_on_top_hangs_while_the_underside_is_worked_on() {
    let told = |side: &str, hangs: &str, k: &str| {
        let text = format!(
            "parts: [{{id: h, on: hs, limit_c: 260{hangs}}}]\njoints: [{{id: a{side}}}, {{id: hs, at: h, alloy: Bi58Sn42, mg: 1, must: may_melt}}]\n\
             steps: [{{id: s, do: solder, joint: a, alloy: Sn63Pb37, mg: 1, tool: air, peak_c: 225, k: {{hs: {k}, h: 0.1}}}}]\n"
        );
        verdict_of(&text, Rule::Hangs)
    };
    assert_eq!(told(", side: under", "", "0.9"), Some(Unknown));
    assert_eq!(told("", "", "0.9"), None);
    assert_eq!(told(", side: under", "", "0.1"), None, "stays solid");
    let light = ", hangs: {weight_mg: 1, pad_area_mm2: 1}";
    assert_eq!(told(", side: under", light, "0.9"), None);
}
