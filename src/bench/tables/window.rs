//! Between what a peak must lie, and who sets the upper end.

use super::{Desk, milli};
use crate::bench::{LimitOf, SetBy, Window};
use crate::job::{JointIx, PartIx};

fn window(more: &str, joint: &str) -> Window {
    let text = format!(
        "parts: [{{id: u, on: c, limit_c: 245}}]\n\
         joints: [{{id: t}}, {{id: b, alloy: Sn63Pb37, mg: 1{joint}}}, {{id: c, alloy: Sn96.5Ag3Cu0.5, mg: 1}}]\n\
         steps: [{{id: s, do: solder, joint: t, alloy: Bi58Sn42, mg: 1, tool: air, {more}}}]\n"
    );
    Desk::new(&text).last().window
}

const B: Option<SetBy> = Some(SetBy::Joint(JointIx(1)));

/// The target flows at 138; b keeps 5 K below 183, so it may see 178: 153 K over a board at 25.
#[test]
fn the_upper_end_is_where_the_first_neighbour_would_lose_its_margin() {
    let rows = [
        // 25 + 153/0.5 = 331; 25 + 153/0.9 = 195.
        ("k: {b: 0.5, c: 0}", "", Some(331_000), B),
        ("k: {b: 0.9, c: 0}", "", Some(195_000), B),
        ("k: {b: 1, c: 0}", "", Some(178_000), B),
        // Rounded down: 25 + 153/0.7 = 243.571…
        ("k: {b: 0.7, c: 0}", "", Some(243_571), B),
        // Over a board at 100: 100 + 78/0.6 = 230.
        ("preheat_c: 100, k: {b: 0.6, c: 0}", "", Some(230_000), B),
        // No share, a stated temperature, a joint that may melt: nothing that follows the peak.
        ("k: {b: 0, c: 0}", "", None, None),
        ("sees_c: {b: 100, c: 30}", "", None, None),
        ("k: {b: 0.9, c: 0}", ", must: may_melt", None, None),
        // Above 480 °C, the hottest that hand air is set to, an end says nothing: 25 + 153/0.3 = 535.
        ("k: {b: 0.3, c: 0}", "", None, None),
        ("k: {b: 0.35, c: 0}", "", Some(462_142), B),
        ("seconds: 3", "", None, None),
    ];
    for (more, joint, to, by) in rows {
        let window = window(more, joint);
        assert_eq!(window.from, Some(milli(138_000)), "{more}");
        assert_eq!(window.to, to.map(milli), "{more}");
        assert_eq!(window.set_by, by, "{more}");
    }
}

/// The body may see 252.5 or 252.4 with its margin: at half the rise over 25 that is a peak of 480 and of 479.8.
#[test]
fn an_end_at_the_hottest_that_air_is_set_to_says_nothing() {
    let to = |limit: &str| {
        let text = format!(
            "parts: [{{id: u, on: c, limit_c: {limit}}}]\n\
             joints: [{{id: t}}, {{id: c, alloy: Sn96.5Ag3Cu0.5, mg: 1}}]\n\
             steps: [{{id: s, do: solder, joint: t, alloy: Bi58Sn42, mg: 1, tool: air, k: {{c: 0, u: 0.5}}}}]\n"
        );
        Desk::new(&text).last().window.to
    };
    assert_eq!(to("257.5"), None);
    assert_eq!(to("257.4"), Some(milli(479_800)));
}

/// The body may see 240 with its margin: 215 K of rise at a share of 1, while its joint keeps 212.
#[test]
fn limits_set_an_end_too_and_the_lowest_counts() {
    let body = Some(SetBy::Limit(LimitOf::Part(PartIx(0))));
    assert_eq!(window("k: {b: 0, c: 0.5, u: 1}", "").set_by, body);
    assert_eq!(
        window("k: {b: 0, c: 0.5, u: 1}", "").to,
        Some(milli(240_000))
    );
    assert_eq!(window("k: {b: 0.9, c: 0.5, u: 1}", "").set_by, B);
    // The whole board in an oven: what stands sees all of the peak.
    let text = "joints: [{id: b, alloy: Sn63Pb37, mg: 1}]\nsteps: [{id: s, do: bake, peak_c: 100, tool: oven}]\n";
    let oven = Desk::new(text).last().window;
    assert_eq!((oven.from, oven.to), (None, Some(milli(178_000))));
    let cold = "joints: [{id: b, alloy: Sn63Pb37, mg: 1}]\nsteps: [{id: s, do: inspect}]\n";
    let none = Desk::new(cold).last().window;
    assert_eq!((none.from, none.to, none.set_by), (None, None, None));
}
