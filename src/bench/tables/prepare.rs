//! What can be done at all, and what flows.

use super::{Desk, found, milli, verdict_of};
use crate::alloy::Element;
use crate::bench::{Flow, Refusal, Rule, Verdict};
use crate::job::{JointIx, PartIx, WireIx};
use crate::melt::Contact;
use Verdict::{Close, DoesNotFlow, Holds, Unknown};

fn refused(text: &str) -> Vec<Refusal> {
    Desk::new(text).last().refusals
}

/// A wire of 1 mm on a pad that nobody measured: a film of 10 um below its end is 0.066 mg.
#[test]
fn a_thick_wire_is_not_soldered_with_next_to_nothing() {
    let text = |mg: &str| {
        format!(
            "joints: [{{id: a}}, {{id: b}}]\nwires: [{{id: w, from: a, to: b, diameter_um: 1000}}]\n\
             steps: [{{id: s, do: wire, wire: w, joint: a, alloy: Sn63Pb37, mg: {mg}, tool: iron}}]\n"
        )
    };
    assert_eq!(refused(&text("0.060")), [Refusal::TooLittle(JointIx(0))]);
    assert_eq!(refused(&text("0.072")), []);
}

#[test]
fn a_part_on_a_wire_that_is_soldered_at_both_ends_is_not_moved() {
    let text = |other: &str, to: &str| {
        format!(
            "parts: [{{id: u}}]\njoints: [{{id: p, at: u, alloy: Sn63Pb37, mg: 1}}, {{id: q, at: u, alloy: Sn63Pb37, mg: 1}}, \
             {{id: e{other}}}]\nwires: [{{id: w, from: p, to: {to}, diameter_um: 80}}]\nsteps: [{{id: m, do: move, part: u}}]\n"
        )
    };
    let stands = ", alloy: Sn63Pb37, mg: 1";
    assert_eq!(
        refused(&text(stands, "e")),
        [Refusal::Wired(PartIx(0), WireIx(0))]
    );
    assert_eq!(refused(&text("", "e")), []);
    assert_eq!(refused(&text(stands, "q")), [], "both ends go with it");
}

const BALLS: &str = "balls: {count: 1, diameter_um: 300, alloy: Sn63Pb37}";

#[test]
fn a_part_is_set_where_there_is_room_and_solder() {
    let text = |parts: &str, step: &str| {
        format!(
            "parts: [{parts}]\njoints: [{{id: a}}, {{id: b}}]\nsteps: [{{id: s, {step}, tool: air}}]\n"
        )
    };
    let set = "do: place, part: u, on: b";
    let loose = format!("{{id: u, {BALLS}}}");
    assert_eq!(refused(&text(&loose, set)), []);
    assert_eq!(
        refused(&text("{id: u}", set)),
        [Refusal::NoSolder(PartIx(0)), Refusal::NoMetal(JointIx(1))]
    );
    assert_eq!(
        refused(&text("{id: u}", &format!("{set}, alloy: Sn63Pb37, mg: 1"))),
        []
    );
    let on = format!("{{id: u, on: a, {BALLS}}}");
    assert_eq!(refused(&text(&on, "do: remove, part: u")), []);
    assert_eq!(
        refused(&text(&loose, "do: remove, part: u")),
        [Refusal::NotOnBoard(PartIx(0))]
    );
    assert!(
        refused(&text(&on, &format!("{set}, alloy: Sn63Pb37, mg: 1")))
            .contains(&Refusal::StillOnBoard(PartIx(0)))
    );
    let other = format!("{loose}, {{id: v, on: b, {BALLS}}}");
    assert_eq!(
        refused(&text(&other, set)),
        [Refusal::Taken(JointIx(1), PartIx(1))]
    );
    let still = [Refusal::StillOnBoard(PartIx(0))];
    assert_eq!(
        refused(&text(&on, "do: reball, part: u, alloy: Sn63Pb37")),
        still
    );
    assert_eq!(refused(&text(&on, "do: clean, part: u")), still);
    assert_eq!(refused(&text(&on, "do: clean, joint: a")), still);
    assert_eq!(refused(&text(&on, "do: bake, part: u, peak_c: 125")), still);
    assert_eq!(refused(&text(&on, "do: clean, joint: b")), []);
    let moved = text(&on, "do: move, part: u").replace(", tool: air", "");
    assert_eq!(refused(&moved), still);
}

#[test]
fn glue_below_a_part_is_asked_about_or_refused() {
    let text = |glue: &str| {
        format!(
            "parts: [{{id: u, on: a, {BALLS}{glue}}}]\njoints: [{{id: a}}]\n\
             steps: [{{id: s, do: remove, part: u, tool: air}}]\n"
        )
    };
    assert_eq!(refused(&text("")), []);
    assert_eq!(refused(&text(", glue: reworkable")), []);
    assert_eq!(
        refused(&text(", glue: not_reworkable")),
        [Refusal::GlueHolds(PartIx(0))]
    );
    assert_eq!(
        refused(&text(", glue: unknown")),
        [Refusal::GlueUnknown(PartIx(0))]
    );
    assert_eq!(
        verdict_of(&text(", glue: unknown"), Rule::Possible),
        Some(Unknown)
    );
    assert_eq!(
        verdict_of(&text(", glue: not_reworkable"), Rule::Possible),
        Some(Verdict::Limit)
    );
}

#[test]
fn nobody_reaches_a_joint_that_is_closed_or_covered() {
    let text = |kind: &str, joint: &str, steps: &str| {
        format!(
            "guards: [{{id: g, kind: {kind}, limit_c: 300}}]\njoints: [{{id: a{joint}}}, {{id: b}}]\nsteps:\n{steps}  \
             - {{id: s, do: solder, joint: a, alloy: Sn63Pb37, mg: 1, tool: iron}}\n"
        )
    };
    let cure = "  - {id: c, do: cure, guard: g, over: a}\n";
    for kind in ["mask", "glue", "other", "plastic", "laminate"] {
        let said = refused(&text(kind, "", cure));
        assert_eq!(
            said,
            [Refusal::Covered(JointIx(0), Some(crate::job::GuardIx(0)))],
            "{kind}"
        );
    }
    // Enamel is on the wire.
    assert_eq!(refused(&text("enamel", "", cure)), []);
    assert_eq!(
        refused(&text("mask", ", covered: true", "")),
        [Refusal::Covered(JointIx(0), None)]
    );
    assert_eq!(refused(&text("mask", "", "")), []);
    let freed = format!("{cure}  - {{id: d, do: uncover, guard: g}}\n");
    assert_eq!(refused(&text("mask", "", &freed)), []);
    let close = "  - {id: c, do: inspect, closes: a}\n";
    assert_eq!(
        refused(&text("mask", "", close)),
        [Refusal::OutOfReach(JointIx(0))]
    );
    let other = "  - {id: c, do: cure, guard: g, over: b}\n";
    assert_eq!(refused(&text("mask", "", other)), []);
    let twice = "guards: [{id: g, kind: mask, limit_c: 300}]\njoints: [{id: a}]\nsteps:\n  \
                 - {id: c, do: cure, guard: g, over: a}\n  - {id: d, do: uncover, guard: g}\n  \
                 - {id: e, do: uncover, guard: g}\n";
    assert_eq!(
        refused(twice),
        [Refusal::NothingThere(crate::job::GuardIx(0))]
    );
}

#[test]
fn power_waits_for_a_check_after_every_heat_and_for_both_ends_of_every_wire() {
    let text = |wire: &str, steps: &str| {
        format!(
            "joints: [{{id: a, alloy: Sn63Pb37, mg: 1}}, {{id: b, alloy: Sn63Pb37, mg: 1}}, {{id: c}}]\n{wire}steps:\n{steps}  \
             - {{id: on, do: power}}\n"
        )
    };
    let gate = "  - {id: g, do: gate}\n";
    let look = "  - {id: g, do: inspect}\n";
    let heat =
        "  - {id: h, do: solder, joint: c, alloy: Sn63Pb37, mg: 1, tool: iron, k: {rest: 0}}\n";
    assert_eq!(refused(&text("", gate)), []);
    assert_eq!(refused(&text("", "")), [Refusal::NotChecked]);
    assert_eq!(refused(&text("", look)), [Refusal::NotChecked]);
    assert_eq!(
        refused(&text("", &format!("{gate}{heat}"))),
        [Refusal::NotChecked]
    );
    assert_eq!(refused(&text("", &format!("{heat}{gate}"))), []);
    assert_eq!(verdict_of(&text("", ""), Rule::Possible), Some(Close));
    let wire = "wires: [{id: w, from: a, to: b, diameter_um: 50}]\n";
    assert_eq!(
        refused(&text(wire, gate)),
        [],
        "no step ties it: it was tied before"
    );
    let to_pad = "wires: [{id: w, from: a, to: c, diameter_um: 50}]\n";
    assert_eq!(
        refused(&text(to_pad, gate)),
        [Refusal::Loose(WireIx(0), JointIx(2))]
    );
    let from_pad = "wires: [{id: w, from: c, to: a, diameter_um: 50}]\n";
    assert_eq!(
        refused(&text(from_pad, gate)),
        [Refusal::Loose(WireIx(0), JointIx(2))]
    );
    let tie = |at: &str| {
        format!(
            "  - {{id: tie_{at}, do: wire, wire: w, joint: {at}, alloy: Sn63Pb37, mg: 1, tool: iron, k: {{rest: 0}}}}\n"
        )
    };
    // A step ties one end: nobody says that the other was ever soldered.
    let one = format!("{}{gate}", tie("c"));
    assert_eq!(
        refused(&text(to_pad, &one)),
        [Refusal::Loose(WireIx(0), JointIx(0))]
    );
    let both = format!("{}{}{gate}", tie("c"), tie("a"));
    assert_eq!(refused(&text(to_pad, &both)), []);
}

#[test]
fn a_target_flows_at_what_it_must_reach_and_not_a_thousandth_below() {
    let text = |peak: &str, joint: &str| {
        format!(
            "joints: [{{id: a, pad: {{diameter_um: 400, finish: {{element: Ni, um: 3}}}}{joint}}}]\n\
             steps: [{{id: s, do: solder, joint: a, alloy: Sn63Pb37, mg: 1, tool: iron, {peak}}}]\n"
        )
    };
    let flows = |peak: &str, joint: &str| verdict_of(&text(peak, joint), Rule::Flows);
    assert_eq!(flows("peak_c: 182.999", ""), Some(DoesNotFlow));
    // Just reached is close: there is nothing over it.
    assert_eq!(flows("peak_c: 183", ""), Some(Close));
    assert_eq!(flows("peak_c: 183.001", ""), Some(Holds));
    // An iron that goes round: `k` of the group is what arrives at the others, not at the one it is at.
    let round = text("peak_c: 184, k: {a: 0.5}", ", count: 40");
    assert_eq!(verdict_of(&round, Rule::Flows), Some(Holds));
    let planned = Desk::new(&text("seconds: 3", "")).last();
    assert_eq!(
        planned.peak,
        Some(milli(203_000)),
        "flow and 20 K of superheat"
    );
    assert_eq!(planned.window.from, Some(milli(183_000)));
    // What nobody knows never surely flows.
    let old = Desk::new(
        "parts: [{id: u, on: a, balls: {count: 1, diameter_um: 300, alloy: unknown}}]\njoints: [{id: a}]\n\
         steps: [{id: s, do: remove, part: u, peak_c: 250, tool: air}]\n",
    )
    .last();
    assert_eq!(found(&old, Rule::Flows)[0].verdict, Unknown);
    assert_eq!(old.target.unwrap().flow, Flow::Unknown);
}

/// Paste of tin-bismuth flows at 138 and the lead-free ball on it from 220: between them only part of what
/// is new is liquid.
#[test]
fn part_of_the_new_metal_is_close_and_all_groups_must_flow() {
    let text = |peak: &str| {
        format!(
            "parts: [{{id: u, balls: {{count: 1, diameter_um: 450, alloy: Sn96.5Ag3Cu0.5}}}}]\n\
             joints: [{{id: t, at: u, pad: {{diameter_um: 400, finish: {{element: Ni, um: 3}}}}}}]\n\
             steps: [{{id: s, do: place, part: u, on: t, alloy: Bi58Sn42, mg: 0.05, peak_c: {peak}, tool: air}}]\n"
        )
    };
    let flows = |peak: &str| verdict_of(&text(peak), Rule::Flows);
    assert_eq!(flows("137.999"), Some(DoesNotFlow));
    assert_eq!(flows("138"), Some(Close));
    assert_eq!(flows("219.999"), Some(Close));
    assert_eq!(flows("220"), Some(Close));
    assert_eq!(flows("220.001"), Some(Holds));
    let two = |peak: &str, k: &str| {
        format!(
            "parts: [{{id: u, on: [pins, slug]}}]\njoints: [{{id: pins, alloy: Bi58Sn42, mg: 1}}, {{id: slug, alloy: Sn63Pb37, mg: 1}}]\n\
             steps: [{{id: s, do: remove, part: u, tool: air{peak}{k}}}]\n"
        )
    };
    let all = |peak: &str, k: &str| verdict_of(&two(peak, k), Rule::Flows);
    assert_eq!(all(", peak_c: 182.999", ""), Some(DoesNotFlow));
    assert_eq!(all(", peak_c: 183", ""), Some(Close));
    assert_eq!(all(", peak_c: 183.001", ""), Some(Holds));
    // Nine tenths of the rise arrive at the slug: 25 + 0.9 · (p − 25) is 183 at 200.556.
    assert_eq!(
        all(", peak_c: 200.55", ", k: {slug: 0.9}"),
        Some(DoesNotFlow)
    );
    assert_eq!(all(", peak_c: 200.56", ", k: {slug: 0.9}"), Some(Holds));
    assert_eq!(all("", ", k: {slug: 0.9}"), Some(Holds));
    assert_eq!(
        all(", peak_c: 230", ", sees_c: {slug: 182}"),
        Some(DoesNotFlow)
    );
    assert_eq!(
        all("", ", k: {slug: 0}"),
        Some(DoesNotFlow),
        "no peak makes it flow"
    );
}

/// By hand: a ball of 450 µm of Sn63Pb37 is 0.0477 mm³; 0.1 µm of gold on a pad of 0.4 mm is 1.2566e-5 mm³ or 2.425e-4 mg.
/// It is there once, whichever solder comes first, and flooding the pads takes it off.
#[test]
fn the_finish_of_a_parts_own_pads_goes_into_its_first_solder() {
    let text = |part: &str, steps: &str| {
        format!(
            "parts: [{{id: u, pad: {{diameter_um: 400, finish: {{element: Au, um: 0.1}}}}{part}}}]\n\
             joints: [{{id: t, at: u, pad: {{diameter_um: 400, finish: {{element: Ni, um: 3}}}}}}]\nsteps: [{steps}]\n"
        )
    };
    let balled = ", balls: {count: 1, diameter_um: 450, alloy: Sn63Pb37}";
    let place = "{id: p, do: place, part: u, on: t, tool: air, peak_c: 240}";
    let pasted =
        "{id: p, do: place, part: u, on: t, tool: air, peak_c: 240, alloy: Sn63Pb37, mg: 0.1}";
    let reball = "{id: r, do: reball, part: u, alloy: Sn63Pb37, ball_um: 450, tool: oven}, ";
    let clean =
        "{id: c, do: clean, part: u, rounds: 1, flood: {alloy: Sn63Pb37, mg: 0.1}, tool: iron}, ";
    let gold = |text: &str| {
        let passage = Desk::new(text).last();
        let layers = &passage.next.joints[0].layers;
        let of = |layer: &crate::melt::Layer| layer.blend.mass_of(Element::Au).mg();
        layers.iter().map(of).sum::<f64>()
    };
    let all = 2.425e-4;
    for (part, steps, want) in [
        (balled, place.to_owned(), all),
        ("", pasted.to_owned(), all),
        ("", [reball, place].concat(), all),
        ("", [reball, pasted].concat(), all),
        ("", [clean, reball, place].concat(), 0.0),
    ] {
        let text = text(part, &steps);
        let gold = gold(&text);
        assert!((gold - want).abs() < 2e-6, "{text}: {gold}");
    }
    // On a joint that it stands on from the start it is in the ball.
    let desk = Desk::new(&text(&format!(", on: t{balled}"), ""));
    let bench = crate::bench::Bench::at_start(&desk.setting());
    let of = bench.joints[0].layers[0].blend.mass_of(Element::Au).mg();
    assert!((of - all).abs() < 2e-6, "{of}");
}

/// Source: J-STD-006C (memory) allows 0.07 % of lead: tin and bismuth then start at 95 °C, by `alloys/impurities.yaml`.
#[test]
fn metal_as_sold_holds_the_impurity_that_costs_most() {
    let lead = |want: &str, pin: &str| {
        let text = format!(
            "job: a table\n{want}{pin}joints: [{{id: a, pad: {{diameter_um: 400, finish: {{element: Ni, um: 3}}}}}}]\n\
             steps: [{{id: s, do: solder, joint: a, alloy: Bi58Sn42, mg: 1, tool: air, k: {{a: 0}}}}]\n"
        );
        let read = crate::job::read(&text, "t.yaml", crate::alloy::AlloyBook::shipped()).unwrap();
        let pins = read.job.pins.iter().map(|pin| crate::melt::Pin {
            composition: pin.solder.composition,
            solidus: pin.solidus,
            liquidus: pin.liquidus,
        });
        let table = std::sync::Arc::new(crate::melt::NoReadings);
        let melts = crate::melt::MeltBook::new(table, pins.collect());
        let setting = crate::bench::Setting::new(&read.job, &melts);
        let bench = crate::bench::Bench::at_start(&setting);
        let doing = crate::bench::Doing::planned(&read.job.steps[0], crate::bench::Pick::default());
        let passage = crate::bench::pass(&setting, &bench, &doing);
        let layer = &passage.next.joints[0].layers[0];
        let share = layer.blend.mass_of(Element::Pb).mg() / layer.blend.total().mg();
        (
            share,
            setting
                .melt(std::slice::from_ref(layer), Contact::Layers)
                .survival,
        )
    };
    let sold = "want: {purity: as_sold}\n";
    let (none, pure) = lead("", "");
    let (some, impure) = lead(sold, "");
    assert!(none.abs() < 1e-12);
    assert!((some - 0.0007).abs() < 1e-6, "{some}");
    assert!(
        impure <= Some(milli(95_300)) && pure > Some(milli(130_000)),
        "{impure:?} {pure:?}"
    );
    // Readings that are taken as exact speak of that very spool.
    let pin = "readings: {Bi58Sn42: [138, 138]}\n";
    assert!(lead(sold, pin).0.abs() < 1e-12);
    assert!(lead("want: {purity: as_named}\n", "").0.abs() < 1e-12);
}

/// What this round's rules refuse, each at its edge.
#[test]
fn what_is_open_or_a_mere_film_is_refused() {
    let power = |before: &str| {
        refused(&format!(
            "joints: [{{id: a, pad_um: 500}}]\nsteps:\n{before}  - {{id: g, do: gate}}\n  - {{id: p, do: power}}\n"
        ))
    };
    let solder = "  - {id: s, do: solder, joint: a, alloy: Sn63Pb37, mg: 1, tool: iron}\n";
    let wick = "  - {id: c, do: clean, joint: a, tool: iron}\n";
    assert_eq!(power(solder), []);
    assert_eq!(power(&format!("{wick}{solder}")), []);
    assert_eq!(
        power(&format!("{solder}{wick}")),
        [Refusal::Open(JointIx(0))]
    );
    // Wicked pads that no step solders are nobody's concern.
    assert_eq!(power(wick), []);
    // A pad of 0.3 mm: 10 µm of Sn63Pb37 (8.40 g/cm³) are 0.00594 mg.
    let set = |mg: &str| {
        refused(&format!(
            "parts: [{{id: u}}]\njoints: [{{id: a, pad_um: 300, alloy: Sn63Pb37, mg: {mg}}}]\n\
             steps: [{{id: s, do: place, part: u, on: a, tool: air}}]\n"
        ))
    };
    assert_eq!(set("0.0059"), [Refusal::NoSolder(PartIx(0))]);
    assert_eq!(set("0.0061"), []);
    // A tip that strips is kept off by mask; heat alone is not.
    let heat = |verb: &str| {
        refused(&format!(
            "guards: [{{id: m, kind: mask, limit_c: 300, over: a}}]\njoints: [{{id: a, alloy: Sn63Pb37, mg: 1}}]\n\
             steps: [{{id: s, do: {verb}, joint: a, peak_c: 150, tool: iron}}]\n"
        ))
    };
    assert_eq!(heat("heat"), []);
    assert_eq!(heat("strip").len(), 1);
}

/// Heat that is stated to reach the flow point of a free joint reflows it; a thousandth less does not.
#[test]
fn heat_to_the_flow_point_reflows_what_is_free() {
    let text = |peak: &str, more: &str| {
        format!(
            "joints: [{{id: a, alloy: Sn63Pb37, mg: 1{more}}}]\n\
             steps: [{{id: s, do: heat, joint: a, peak_c: {peak}, tool: air}}]\n"
        )
    };
    let verdict = |peak: &str, more: &str| Desk::new(&text(peak, more)).last().verdict();
    assert_eq!(verdict("184", ""), Holds);
    assert_eq!(verdict("183", ""), Close, "it just flows");
    assert_eq!(verdict("182.999", ""), Close, "solid, with no margin");
    assert_eq!(verdict("170", ""), Holds);
    assert_eq!(verdict("184", ", must: stay_solid"), Verdict::Melts);
    assert_eq!(verdict("184", ", strained: true"), Verdict::Melts);
}

/// Gold of a pad goes into a flood that wets it, and makes an unstated amount of solder unknown.
#[test]
fn a_finish_goes_into_what_wets_it() {
    let gold = |rounds: u32, um: &str| {
        let passage = Desk::new(&format!(
            "joints: [{{id: a, pad: {{diameter_um: 300, finish: {{element: Au, um: {um}}}}}}}]\n\
             steps: [{{id: s, do: clean, joint: a, rounds: {rounds}, flood: {{alloy: Sn63Pb37, mg: 0.2}}, tool: iron}}]\n"
        ))
        .last();
        let joint = &passage.next.joints[0];
        let held = joint
            .layers
            .iter()
            .any(|layer| layer.blend.mass_of(Element::Au) > crate::quantity::Mass::ZERO);
        (held, joint.finish_left)
    };
    assert_eq!(gold(1, "0.1"), (true, false));
    assert_eq!(gold(0, "0.1"), (false, true));
    let unknown = |um: &str| {
        let text = format!(
            "joints: [{{id: a, pad: {{diameter_um: 300, finish: {{element: Au, um: {um}}}}}}}]\n\
             steps: [{{id: s, do: solder, joint: a, alloy: Sn63Pb37, peak_c: 220, tool: iron}}]\n"
        );
        Desk::new(&text).last().next.joints[0].layers[0].unknown
    };
    assert!(unknown("0.1"));
}

/// A wire that is soldered at one end lies about with the other, even where a later step is to tie that.
#[test]
fn half_a_wire_is_loose_whatever_comes_later() {
    let power = |first: &str| {
        refused(&format!(
            "joints: [{{id: a, pad_um: 500}}, {{id: b, pad_um: 500}}]\n\
             wires: [{{id: w, from: a, to: b, diameter_um: 100}}]\n\
             steps:\n{first}  - {{id: g, do: gate}}\n  - {{id: p, do: power}}\n"
        ))
    };
    let tie = |id: &str, at: &str| {
        format!(
            "  - {{id: {id}, do: wire, wire: w, joint: {at}, alloy: Sn63Pb37, mg: 1, tool: iron}}\n"
        )
    };
    let both = format!("{}{}", tie("x", "a"), tie("y", "b"));
    assert_eq!(power(&both), []);
    assert_eq!(
        power(&tie("x", "a")),
        [Refusal::Loose(WireIx(0), JointIx(1))]
    );
}

/// What was logged and did not surely flow is looked at.
#[test]
fn a_logged_joint_that_flowed_in_part_is_doubtful() {
    let end = |peak: &str| {
        let text = format!(
            "parts: [{{id: u, balls: {{count: 1, diameter_um: 300, alloy: Sn96.5Ag3Cu0.5}}}}]\njoints: [{{id: a, at: u, pad_um: 300}}]\n\
             steps: [{{id: s, do: place, part: u, alloy: Bi58Sn42, mg: 0.05, tool: air, peak_c: {peak}}}]\n\
             done:\n  - {{step: s, peak_c: {peak}}}\n"
        );
        Desk::new(&text).last().next.joints[0].doubtful
    };
    assert!(end("175"));
    assert!(!end("240"));
}

/// A relay of 15 × 10 mm in the middle of the board.
fn relay(more: &str, steps: &str) -> String {
    format!(
        "parts: [{{id: relay, on: r, at_mm: [30, 30], size_mm: [15, 10, 9]}}, {{id: u, {more}}}]\n\
         joints: [{{id: r, alloy: Sn63Pb37, mg: 1}}, {{id: x, at_mm: [37, 30]}}, {{id: s, at: u}}]\nsteps: [{steps}]\n"
    )
}

#[test]
fn no_tip_gets_below_a_body() {
    let text = |x: &str, more: &str| {
        let solder = "{id: s, do: solder, joint: x, alloy: Sn63Pb37, mg: 1, tool: iron}";
        relay(BALLS, solder).replace(
            "id: x, at_mm: [37, 30]",
            &format!("id: x, at_mm: [{x}]{more}"),
        )
    };
    let way = [Refusal::InTheWay(PartIx(0))];
    // The edge is at 37.5 mm, less half a millimetre for the ruler.
    assert_eq!(refused(&text("36.9, 30", "")), way);
    assert_eq!(refused(&text("37, 30", "")), []);
    assert_eq!(refused(&text("30, 34.4", "")), way);
    assert_eq!(refused(&text("30, 34.6", "")), []);
    assert_eq!(refused(&text("30, 30", ", side: under")), [], "other side");
    assert_eq!(refused(&text("30, 30", ", at: relay")), [], "its own");
    let off =
        "{id: o, do: remove, part: relay, tool: air}, {id: s, do: clean, joint: x, tool: iron}";
    let clean = relay(BALLS, off).replace("[37, 30]", "[30, 30]");
    assert_eq!(refused(&clean), [], "taken off before");
    let first = clean.replace("{id: o, do: remove, part: relay, tool: air}, ", "");
    assert_eq!(refused(&first), way);
}

#[test]
fn two_bodies_have_no_room_at_one_place() {
    let text = |more: &str| {
        let set = "{id: p, do: place, part: u, on: s, alloy: Sn63Pb37, mg: 1, tool: air}";
        relay(more, set)
    };
    let way = [Refusal::InTheWay(PartIx(0))];
    let balls = format!("size_mm: [8, 8, 1], {BALLS}");
    // Edges at 37.5 and 34 mm meet where the middles are 11.5 and 9 mm apart.
    assert_eq!(refused(&text(&format!("at_mm: [40.9, 30], {balls}"))), way);
    assert_eq!(refused(&text(&format!("at_mm: [41, 30], {balls}"))), []);
    assert_eq!(refused(&text(&format!("at_mm: [30, 38.4], {balls}"))), way);
    assert_eq!(refused(&text(&format!("at_mm: [30, 38.5], {balls}"))), []);
    assert_eq!(refused(&text(&balls)), [], "nobody says where");
    // A lid has room for what it goes over; a part with balls has not.
    let lid = "at_mm: [30, 30], size_mm: [20, 15, 12]";
    assert_eq!(refused(&text(lid)), []);
    assert_eq!(refused(&text(&format!("{lid}, {BALLS}"))), way);
    let small = "at_mm: [30, 30], size_mm: [20, 9, 12]";
    assert_eq!(refused(&text(small)), way, "no room for it");
}
