//! How fast a part is heated and cooled, against what it bears.

use super::verdict_of;
use crate::bench::{Rule, Verdict};
use Verdict::{Close, Limit, Unknown};

/// A capacitor that bears 2 K/s, on the target or beside it, at 225 °C from 25, and what MORE says.
fn text(on: &str, more: &str) -> String {
    format!(
        "parts: [{{id: u, on: {on}, ramp_k_s: 2}}]\n\
         joints:\n  - {{id: t, alloy: Sn63Pb37, mg: 1}}\n  - {{id: b, alloy: Sn96.5Ag3Cu0.5, mg: 1}}\n\
         steps: [{{id: s, do: heat, joint: t, peak_c: 225, tool: air, k: {{rest: 0}}, {more}}}]\n"
    )
}

fn stages(up: u32, down: u32, to: u32) -> String {
    format!("stages: [{{to_c: 225, seconds: {up}}}, {{to_c: {to}, seconds: {down}}}]")
}

/// 200 K up and 150 K down: four fifths of 2 K/s are 1.6.
#[test]
fn a_part_on_the_target_goes_as_fast_as_the_stages() {
    let rows = [
        (stages(125, 200, 75), None),
        (stages(124, 200, 75), Some(Close)),
        (stages(100, 200, 75), Some(Close)),
        (stages(99, 200, 75), Some(Limit)),
        (stages(125, 94, 75), None),
        (stages(125, 93, 75), Some(Close)),
        (stages(125, 75, 75), Some(Close)),
        (stages(125, 74, 75), Some(Limit)),
    ];
    for (more, want) in rows {
        assert_eq!(verdict_of(&text("t", &more), Rule::Ramp), want, "{more}");
    }
}

/// 50 K over the room are harmless; above that somebody must say how it cools.
#[test]
fn stages_that_do_not_come_down_leave_it_open() {
    for (to, want) in [(75, None), (76, Some(Unknown))] {
        let more = stages(125, 200, to);
        assert_eq!(verdict_of(&text("t", &more), Rule::Ramp), want, "{to}");
    }
    assert_eq!(
        verdict_of(&text("t", "seconds: 60"), Rule::Ramp),
        Some(Unknown)
    );
}

/// A place that sees 1.3 of the rise goes 1.3 times as fast: 1.25 K/s there, 1.625 here, and 1.2 of it 1.5.
#[test]
fn a_neighbour_goes_with_what_it_sees() {
    let at = |k: &str, up: u32| {
        let more = stages(up, 200, 75).replace("stages", &format!("sees_c: {{b: {k}}}, stages"));
        verdict_of(&text("b", &more), Rule::Ramp)
    };
    assert_eq!(at("285", 160), Some(Close));
    assert_eq!(at("265", 160), None);
    // Less of the rise is no slower: the board below may be preheated with it.
    assert_eq!(at("150", 99), Some(Limit));
    // 50 K in all break nothing, 51 may.
    assert_eq!(at("75", 99), None);
    assert_eq!(at("76", 99), Some(Limit));
    // Nobody knows what it sees.
    let open = text("b", &stages(160, 200, 75)).replace("k: {rest: 0}, ", "");
    assert_eq!(verdict_of(&open, Rule::Ramp), Some(Unknown));
}

/// Over a preheated board a rise of 50 K is harmless however fast, and nobody said how fast.
#[test]
fn a_small_step_over_the_preheat_is_harmless() {
    let at = |sees: u32| {
        let more = format!("preheat_c: 120, sees_c: {{b: {sees}}}");
        verdict_of(&text("b", &more), Rule::Ramp)
    };
    assert_eq!(at(170), None);
    assert_eq!(at(171), Some(Unknown));
}

#[test]
fn a_part_that_is_not_there_or_states_nothing_is_not_judged() {
    let off = text("t", "seconds: 60").replace("on: t, ", "");
    assert_eq!(verdict_of(&off, Rule::Ramp), None);
    let silent = text("t", "seconds: 60").replace(", ramp_k_s: 2", "");
    assert_eq!(verdict_of(&silent, Rule::Ramp), None);
}

/// What was read at the peak lifts the profile: 1.125 of the rise in the same time.
#[test]
fn a_peak_that_was_read_higher_went_faster() {
    let at = |read: u32| {
        let log = format!("done:\n  - {{step: s, peak_c: {read}}}\n");
        let job = format!("{}{log}", text("t", &stages(125, 200, 75)));
        verdict_of(&job, Rule::Ramp)
    };
    assert_eq!(at(225), None);
    assert_eq!(at(250), Some(Close));
    assert_eq!(at(300), Some(Limit));
}
