//! Law, service, weight and gold at their edges.

use super::{Desk, milli, sharp};
use crate::alloy::{Blend, Composition, Element};
use crate::bench::rules::{
    Law, ServiceLimit, breaches, falls, hang_limit, limits_in_service, service, service_verdict,
};
use crate::bench::{Bench, Setting, Verdict};
use crate::job::{JointIx, PartIx};
use crate::melt::{Basis, Contact, Doubt, History, Layer, Melt};
use crate::quantity::{Celsius, KelvinStep, Mass};
use Verdict::{Close, Holds, Limit, Unknown};

/// By hand: 12.81 mm² times 46.5 mg is 595.665 mg, 54 mm times 4 mg is 216 mg.
#[test]
fn the_stricter_rule_of_weight_counts_and_the_limit_itself_holds() {
    let part = |mg: &str, more: &str| {
        let hang = format!("{{weight_mg: {mg}, pad_area_mm2: 12.81{more}}}");
        Desk::new(&format!(
            "parts: [{{id: u, on: a, hangs: {hang}}}]\njoints: [{{id: a, alloy: 63/37, mg: 1}}]\n"
        ))
    };
    let limit = |more: &str| hang_limit(&part("1", more).job.parts[0].hang.unwrap()).mg();
    assert!((limit("") - 595.665).abs() < 1e-6);
    assert!((limit(", edge_mm: 54") - 216.0).abs() < 1e-6);
    assert!((limit(", edge_mm: 540") - 595.665).abs() < 1e-6);
    for (mg, more, want) in [
        ("216", ", edge_mm: 54", false),
        ("216.000001", ", edge_mm: 54", true),
        ("215.999999", ", edge_mm: 54", false),
        ("595.6", "", false),
        ("595.7", "", true),
        ("9000", ", supported: true", false),
    ] {
        let desk = part(mg, more);
        assert_eq!(falls(&desk.setting(), PartIx(0)), want, "{mg}{more}");
    }
    let plain = Desk::new("parts: [{id: u, on: a}]\njoints: [{id: a, alloy: 63/37, mg: 1}]\n");
    assert!(!falls(&plain.setting(), PartIx(0)));
}

/// A limit of 90 with the wanted margin of 5: kept at 85, just kept up to 90, broken above.
#[test]
fn limits_are_kept_with_the_margin_in_service_too() {
    for (service, want) in [(85, Holds), (86, Close), (90, Close), (91, Limit)] {
        let desk = Desk::new(&format!(
            "want: {{service_c: {service}}}\nparts: [{{id: u, on: a, limit_c: 90}}]\njoints: [{{id: a, alloy: 63/37, mg: 1}}]\n"
        ));
        let end = Bench::at_start(&desk.setting());
        let found = limits_in_service(&desk.setting(), &end);
        let worst = found.iter().map(|(_, verdict)| *verdict).max();
        assert_eq!(worst.unwrap_or(Holds), want, "{service}");
    }
}

/// What is not there, and enamel that nothing crosses, has nothing to bear.
#[test]
fn in_service_only_what_is_there_has_a_limit() {
    let worst = |text: &str| {
        let desk = Desk::new(&format!("want: {{service_c: 90}}\n{text}"));
        let end = Bench::at_start(&desk.setting());
        let found = limits_in_service(&desk.setting(), &end);
        found.iter().map(|(_, verdict)| *verdict).max()
    };
    let balls = "balls: {count: 1, diameter_um: 300, alloy: 63/37}";
    assert_eq!(
        worst(&format!(
            "parts: [{{id: u, limit_c: 60, {balls}}}]\njoints: [{{id: a, at: u, pad_um: 300}}]\n"
        )),
        None,
        "it lies in a drawer"
    );
    let lying = "parts: [{id: u, limit_c: 60}]\njoints: [{id: a}]\n";
    assert_eq!(worst(lying), Some(Limit), "it lies on the board");
    let wires = |crosses: &str| {
        format!(
            "joints: [{{id: a}}, {{id: b}}]\nwires: [{{id: v, from: a, to: b, diameter_um: 100}}, \
             {{id: w, from: a, to: b, diameter_um: 100, enamel_limit_c: 80{crosses}}}]\n"
        )
    };
    assert_eq!(worst(&wires("")), None);
    assert_eq!(worst(&wires(", crosses: v")), Some(Limit));
    let guard = "guards: [{id: g, kind: plastic, limit_c: 80}]\njoints: [{id: a}]\n";
    assert_eq!(worst(guard), Some(Limit));
}

/// By hand: first melt less 50, and 0.9 of it in kelvin: 0.9 (t + 273.15) − 273.15.
#[test]
fn service_takes_the_stricter_of_two_rules() {
    for (first, minus_50, ninety) in [
        (95, 45_000, 58_185),
        (138, 88_000, 96_885),
        (183, 133_000, 137_385),
        // From 226.85 °C up the share of the kelvins is the stricter one.
        (280, 230_000, 224_685),
        (300, 250_000, 242_685),
    ] {
        let limit = ServiceLimit::of(Celsius::whole(first));
        assert_eq!(limit.minus_50, milli(minus_50));
        assert_eq!(limit.ninety_percent, milli(ninety));
        assert_eq!(limit.stricter(), milli(minus_50.min(ninety)));
    }
}

#[test]
fn service_holds_with_more_than_the_margin_is_close_up_to_the_rule_and_breaks_it_beyond() {
    let margin = KelvinStep::whole(5);
    let rows = [
        (82_999, Holds),
        (83_000, Close),
        (88_000, Close),
        (88_001, Limit),
    ];
    for (hottest, want) in rows {
        assert_eq!(
            service_verdict(margin, &sharp(138), milli(hottest)),
            want,
            "{hottest}"
        );
    }
    // What the data may be wrong by is no margin: 2 K of it move every edge.
    let mut unsure = sharp(138);
    unsure.survival = Some(Celsius::whole(136));
    let rows = [
        (80_999, Holds),
        (81_000, Close),
        (86_000, Close),
        (86_001, Limit),
    ];
    for (hottest, want) in rows {
        assert_eq!(
            service_verdict(margin, &unsure, milli(hottest)),
            want,
            "{hottest}"
        );
    }
    // What is known of some of the elements proves nothing, however far away: never more than close.
    let mut of_subset = sharp(138);
    of_subset.doubts.push(Doubt::FloorOfSubset);
    for basis in [Basis::Floor, Basis::Computed] {
        of_subset.basis = basis;
        for (hottest, want) in [
            (25_000, Close),
            (82_999, Close),
            (88_000, Close),
            (88_001, Limit),
        ] {
            assert_eq!(
                service_verdict(margin, &of_subset, milli(hottest)),
                want,
                "{basis:?} {hottest}"
            );
        }
    }
    // A survival above the first melt (pinned, or taken as exact) makes nothing safer.
    unsure.survival = Some(Celsius::whole(150));
    assert_eq!(service_verdict(margin, &unsure, milli(83_000)), Close);
    assert_eq!(
        service_verdict(margin, &Melt::unknown(), milli(25_000)),
        Unknown
    );
    let mut only_survival = Melt::unknown();
    only_survival.survival = Some(Celsius::whole(138));
    assert_eq!(
        service_verdict(margin, &only_survival, milli(25_000)),
        Unknown
    );
}

/// Bi58Sn42 with half a per cent of Sn63Pb37 starts at 95 °C with far less than 1 mass% liquid.
#[test]
fn service_above_the_rule_is_close_while_less_than_one_per_cent_would_be_liquid() {
    let desk = Desk::new("joints: [{id: a, alloy: Bi57.71Sn42.105Pb0.185, mg: 1}]\n");
    let bench = Bench::at_start(&desk.setting());
    let melt = (*desk
        .setting()
        .melt(&bench.joints[0].layers, Contact::Layers))
    .clone();
    let first = melt.first_melt.unwrap();
    assert_eq!(first, Celsius::whole(95));
    let much = |t: Celsius| melt.liquid_at(t).unwrap().fraction() >= 0.01;
    assert!(!much(first));
    let (mut below, mut above) = (first, melt.flow_point.unwrap());
    while above - below > KelvinStep::from_millikelvin(1) {
        let middle = below + (above - below).scaled(0.5);
        if much(middle) {
            above = middle;
        } else {
            below = middle;
        }
    }
    let rule = ServiceLimit::of(below).stricter();
    let verdict = |melt: &Melt, t| service_verdict(KelvinStep::whole(5), melt, t);
    assert!(rule > milli(47_000));
    assert_eq!(verdict(&melt, milli(39_999)), Holds);
    assert_eq!(verdict(&melt, milli(40_000)), Close);
    assert_eq!(verdict(&melt, milli(45_001)), Close);
    // The edge is found to a hundredth of a kelvin, from below.
    assert_eq!(
        verdict(&melt, rule - KelvinStep::from_millikelvin(11)),
        Close
    );
    assert_eq!(
        verdict(&melt, rule + KelvinStep::from_millikelvin(1)),
        Limit
    );
    // A floor has no curve that could be believed.
    let mut floor = melt.clone();
    floor.basis = Basis::Floor;
    assert_eq!(verdict(&floor, milli(45_001)), Limit);
    let mut unknown = melt.clone();
    unknown.basis = Basis::Unknown;
    assert_eq!(verdict(&unknown, milli(45_001)), Limit);
}

#[test]
fn service_judges_every_standing_joint_with_metal_and_no_other() {
    let desk = Desk::new(
        "joints:\n  - {id: a, alloy: Bi58Sn42, mg: 1}\n  - {id: b}\n  - {id: c, residue: {alloy: 63/37, mg: 1}}\n  \
         - {id: d, alloy: [SAC305, 63/37], mg: 1}\n",
    );
    let setting = desk.setting();
    let mut bench = Bench::at_start(&setting);
    let of = |bench: &Bench, t| {
        let all = service(&setting, bench, Celsius::whole(t)).into_iter();
        all.map(|one| (one.joint.0, one.verdict))
            .collect::<Vec<_>>()
    };
    // d is one of two, and nobody knows which.
    assert_eq!(of(&bench, 82), [(0, Holds), (3, Unknown)]);
    let told = service(&setting, &bench, Celsius::whole(82));
    assert_eq!(told[0].limit.unwrap().stricter(), Celsius::whole(88));
    assert_eq!((told[1].limit, told[1].first_melt), (None, None));
    assert_eq!(of(&bench, 89), [(0, Limit), (3, Unknown)]);
    bench.joints[0].standing = false;
    bench.joints[3].layers.clear();
    assert_eq!(of(&bench, 89), []);
}

fn layer(parts: &[(Element, u64)]) -> Vec<Layer> {
    let blend = parts
        .iter()
        .fold(Blend::default(), |sum, (element, picograms)| {
            sum.with(&Blend::of(
                &Composition::pure(*element),
                Mass::from_picograms(*picograms),
            ))
        });
    vec![Layer {
        blend,
        history: History::Frozen,
        unstated: false,
        unknown: false,
    }]
}

/// What it is, of what, and what the law says.
type Row<'r> = (&'r str, Vec<(Element, u64)>, &'r [(Law, Verdict)]);

/// Shares of a million picograms: the limit itself is kept, a picogram more breaks it.
#[test]
fn law_and_gold_break_above_their_limit_and_not_at_it() {
    use Element::{Au, Cd, Pb, Sn};
    let lead_free = "want: {lead_free: true}\n";
    let accepted = "want: {accept_cadmium: \"I have extraction and I accept cadmium fume\"}\n";
    let none: &[(Law, Verdict)] = &[];
    let rows: Vec<Row> = vec![
        (lead_free, vec![(Pb, 1_000), (Sn, 999_000)], none),
        (
            lead_free,
            vec![(Pb, 1_001), (Sn, 998_999)],
            &[(Law::Lead, Limit)],
        ),
        ("", vec![(Pb, 500_000), (Sn, 500_000)], none),
        ("", vec![(Cd, 100), (Sn, 999_900)], none),
        ("", vec![(Cd, 101), (Sn, 999_899)], &[(Law::Cadmium, Limit)]),
        (
            accepted,
            vec![(Cd, 101), (Sn, 999_899)],
            &[(Law::Cadmium, Holds)],
        ),
        ("", vec![(Au, 30_000), (Sn, 970_000)], none),
        ("", vec![(Au, 30_001), (Sn, 969_999)], &[(Law::Gold, Close)]),
        // Gold makes tin-rich joints brittle: from 30 % of tin on.
        (
            "",
            vec![(Au, 40_000), (Sn, 300_000), (Pb, 660_000)],
            &[(Law::Gold, Close)],
        ),
        ("", vec![(Au, 40_000), (Sn, 299_999), (Pb, 660_001)], none),
        (
            lead_free,
            vec![(Pb, 600_000), (Cd, 50_000), (Au, 50_000), (Sn, 300_000)],
            &[
                (Law::Lead, Limit),
                (Law::Cadmium, Limit),
                (Law::Gold, Close),
            ],
        ),
    ];
    for (want, parts, expected) in rows {
        let desk = Desk::new(&format!("{want}joints: [{{id: b}}, {{id: a}}]\n"));
        let setting: Setting = desk.setting();
        let mut bench = Bench::at_start(&setting);
        bench.joints[1].layers = layer(&parts);
        let found = breaches(&setting, &bench);
        let told: Vec<(Law, Verdict)> = found
            .iter()
            .map(|b| (b.rule, b.verdict(&setting)))
            .collect();
        assert_eq!(told, expected, "{want}{parts:?}");
        assert!(found.iter().all(|breach| breach.joint == JointIx(1)));
    }
}
