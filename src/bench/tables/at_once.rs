//! What is lifted, lies in glue, stands beside hot air or is tied member by member.

use super::{Desk, found, verdict_of};
use crate::bench::Rule;
use crate::bench::Verdict::{Close, DoesNotFlow, Holds, Limit, Unknown};

/// A part on so many leads, lifted. An iron at one of them goes to 203 °C; at the others arrive 25 + k · 178.
#[test]
fn an_iron_lifts_leads_that_are_flooded_or_said_to_be_liquid_all_at_once() {
    let text = |count: u32, step: &str| {
        format!(
            "parts: [{{id: c, on: a}}]\n\
             joints: [{{id: a, count: {count}, alloy: Sn63Pb37, mg: 1}}]\n\
             steps: [{{id: off, do: remove, part: c, {step}}}]\n"
        )
    };
    let flood = "flood: {alloy: Sn63Pb37, mg: 5}, tool: iron";
    let rows = [
        (4, "tool: iron", None, Some(Holds)),
        (5, "tool: iron", Some(Unknown), Some(Holds)),
        (5, "tool: tweezers", None, Some(Holds)),
        (5, "tool: air", None, Some(Holds)),
        (5, flood, None, Some(Holds)),
        // 158 of 178 K bring them to 183 °C: 0.8876.
        (5, "tool: iron, k: {a: 0.8877}", None, Some(Holds)),
        (5, "tool: iron, k: {a: 0.8875}", None, Some(DoesNotFlow)),
        (5, "tool: tweezers, k: {a: 0.8875}", None, Some(DoesNotFlow)),
        (5, "tool: iron, sees_c: {a: 182}", None, Some(DoesNotFlow)),
    ];
    for (count, step, reach, flows) in rows {
        let text = text(count, step);
        assert_eq!(verdict_of(&text, Rule::AtOnce), reach, "{count} {step}");
        assert_eq!(verdict_of(&text, Rule::Flows), flows, "{count} {step}");
    }
}

/// Molten solder below a part that is glued has nowhere to go, or finds a way that nobody wants.
#[test]
fn solder_below_a_glued_part_stays_solid_or_nobody_knows() {
    let text = |glue: &str, must: &str, seen: u32| {
        format!(
            "parts: [{{id: v, on: b{glue}, limit_c: 260}}]\n\
             joints: [{{id: x, pad_um: 500}}, {{id: b, at: v, alloy: Sn63Pb37, mg: 1{must}}}]\n\
             steps: [{{id: s, do: solder, joint: x, alloy: Sn63Pb37, mg: 1, tool: iron, sees_c: {{b: {seen}, v: 60}}}}]\n"
        )
    };
    let rows = [
        ("", 183, None),
        (", glue: none", 183, None),
        (", glue: not_reworkable", 183, Some(Unknown)),
        (", glue: reworkable", 183, Some(Unknown)),
        (", glue: unknown", 183, Some(Unknown)),
        (", glue: not_reworkable", 182, None),
    ];
    for (glue, seen, want) in rows {
        let text = text(glue, ", must: may_melt", seen);
        assert_eq!(verdict_of(&text, Rule::UnderCover), want, "{glue} {seen}");
    }
    let reflow = |glue: &str, peak: u32| {
        format!(
            "parts: [{{id: v, on: b{glue}, limit_c: 260}}]\n\
             joints: [{{id: b, at: v, alloy: Sn63Pb37, mg: 1}}]\n\
             steps: [{{id: s, do: heat, joint: b, peak_c: {peak}, tool: air}}]\n"
        )
    };
    assert_eq!(verdict_of(&reflow("", 200), Rule::UnderCover), None);
    let glued = reflow(", glue: not_reworkable", 200);
    assert_eq!(verdict_of(&glued, Rule::UnderCover), Some(Unknown));
    let cool = reflow(", glue: not_reworkable", 150);
    assert_eq!(verdict_of(&cool, Rule::UnderCover), None);
}

/// The target gets 203 °C. What arrives at the pins of a neighbour says nothing of its body in the stream of air.
#[test]
fn a_body_beside_hot_air_may_get_as_hot_as_the_target_unless_something_is_said_of_it() {
    let text = |limit: u32, part: &str, tool: &str, k: &str| {
        format!(
            "zones: [far]\n\
             parts: [{{id: d, on: n, limit_c: {limit}{part}}}]\n\
             joints: [{{id: x, pad_um: 500}}, {{id: n, at: d, count: 4, alloy: Sn96.5Ag3Cu0.5, mg: 1}}]\n\
             steps: [{{id: s, do: solder, joint: x, alloy: Sn63Pb37, mg: 1, tool: {tool}, k: {{{k}}}}}]\n"
        )
    };
    let rows = [
        (85, "", "air", "n: 0.2", Some(Unknown)),
        (202, "", "air", "n: 0.2", Some(Unknown)),
        (203, "", "air", "n: 0.2", Some(Holds)),
        (85, "", "iron", "n: 0.2", Some(Holds)),
        (85, "", "air", "n: 0.2, d: 0.2", Some(Holds)),
        (85, "", "air", "n: 0.2, rest: 0.2", Some(Holds)),
        (85, ", zone: far", "air", "n: 0.2, far: 0.2", Some(Holds)),
        (85, ", zone: far", "air", "n: 0.2", Some(Unknown)),
        // 25 + 0.4 · 178 = 96.2.
        (85, "", "air", "n: 0.2, d: 0.4", Some(Limit)),
    ];
    for (limit, part, tool, k, want) in rows {
        let text = text(limit, part, tool, k);
        assert_eq!(
            verdict_of(&text, Rule::Limit),
            want,
            "{limit} {part} {tool} {k}"
        );
    }
}

/// A board preheated to 125 °C from below: the underside is counted 0.12 of 100 K hotter.
#[test]
fn what_is_on_the_underside_is_nearer_to_the_preheater() {
    let text = |side: &str, preheat: u32, k: &str| {
        format!(
            "guards: [{{id: lens, kind: plastic, limit_c: 142{side}}}]\n\
             joints: [{{id: x, pad_um: 500}}]\n\
             steps: [{{id: s, do: solder, joint: x, alloy: Sn63Pb37, mg: 1, tool: iron, preheat_c: {preheat}, k: {{{k}}}}}]\n"
        )
    };
    let rows = [
        ("", 125, "lens: 0", Holds),
        (", side: under", 125, "lens: 0", Holds),
        (", side: under", 126, "lens: 0", Close),
        (", side: under", 130, "lens: 0", Limit),
        ("", 130, "lens: 0", Holds),
    ];
    for (side, preheat, k, want) in rows {
        assert_eq!(
            verdict_of(&text(side, preheat, k), Rule::Limit),
            Some(want),
            "{side} {preheat}"
        );
    }
}

/// Air or a tip that is set below the peak that is aimed at, 203 °C; an oven comes to what it is set to.
#[test]
fn a_tool_that_is_set_below_its_aim_does_not_surely_bring_it() {
    let text = |tool: &str, set: u32| {
        format!(
            "joints: [{{id: x, pad_um: 500}}]\n\
             steps: [{{id: s, do: solder, joint: x, alloy: Sn63Pb37, mg: 1, tool: {tool}, set_c: {set}}}]\n"
        )
    };
    let rows = [
        ("air", 203, Holds),
        ("air", 202, Unknown),
        ("iron", 202, Unknown),
        ("air", 182, DoesNotFlow),
        ("oven", 202, Close),
        ("oven", 203, Holds),
    ];
    for (tool, set, want) in rows {
        let flows = verdict_of(&text(tool, set), Rule::Flows);
        assert_eq!(flows, Some(want), "{tool} {set}");
    }
}

/// Two wires, one at each of two pads; the first floats off where its pad melts beside the second.
#[test]
fn wires_that_nothing_holds_are_tied_where_the_done_ones_stay_solid() {
    let text = |count: u32, wire: &str, step: &str| {
        format!(
            "joints: [{{id: x, count: {count}, pad_um: 300}}, {{id: y, count: {count}, alloy: Sn96.5Ag3Cu0.5, mg: 1}}]\n\
             wires: [{{id: w, from: x, to: y, diameter_um: 100{wire}}}]\n\
             steps: [{{id: s, do: wire, wire: w, joint: x, alloy: Sn63Pb37, mg: 1, {step}}}]\n"
        )
    };
    let rows = [
        (40, "", "tool: iron, k: {y: 0.1}", Some(Unknown)),
        (40, "", "tool: iron, k: {rest: 0.1}", Some(Unknown)),
        (1, "", "tool: iron, k: {y: 0.1}", None),
        (40, ", held: true", "tool: iron, k: {y: 0.1}", None),
        (40, "", "tool: iron, k: {y: 0.1, x: 0.5}", Some(Holds)),
        (40, "", "tool: iron, k: {y: 0.1, x: 0.87}", Some(Close)),
        (40, "", "tool: air, k: {y: 0.1}", None),
    ];
    for (count, wire, step, want) in rows {
        let text = text(count, wire, step);
        assert_eq!(
            verdict_of(&text, Rule::Members),
            want,
            "{count} {wire} {step}"
        );
    }
}

/// Balls of bismuth solder on what a lead-free removal left: that is wicked first, and for that it must flow.
#[test]
fn what_is_left_of_balls_flows_before_new_ones_are_set() {
    let last = |between: &str, more: &str| {
        let text = format!(
            "parts: [{{id: u, on: a, balls: {{count: 4, diameter_um: 300, alloy: Sn96.5Ag3Cu0.5}}}}]\n\
             joints: [{{id: a, count: 4, pad_um: 300}}]\n\
             steps:\n  - {{id: off, do: remove, part: u, tool: air}}\n{between}  \
             - {{id: r, do: reball, part: u, alloy: Bi58Sn42, tool: air{more}}}\n"
        );
        Desk::new(&text).last()
    };
    let flows = |more: &str| found(&last("", more), Rule::Flows)[0].verdict;
    assert_eq!(flows(", peak_c: 165"), DoesNotFlow);
    assert_eq!(flows(", peak_c: 240"), Holds);
    // No more of the old balls stays below the new ones than where they were wicked before.
    let dress = "  - {id: w, do: clean, part: u, tool: air}\n";
    let mass = |between: &str| {
        let passage = last(between, ", peak_c: 240");
        let carried = passage.next.parts[0].carries.iter();
        carried.fold(0.0, |sum, layer| sum + layer.blend.total().mg())
    };
    assert!((mass("") - mass(dress)).abs() < 1e-9);
}
