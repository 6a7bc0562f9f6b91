//! Any blend of the covered elements has a curve, or says why not.

use meltstair::alloy::{Composition, Element};
use meltstair::melt::{CurveFault, History, curve};
use meltstair::quantity::Share;
use proptest::prelude::*;

/// Nickel is in the data as far as tin takes it up, and has a test of its own.
fn covered() -> Vec<Element> {
    (Element::all())
        .filter(|e| e.is_covered() && *e != Element::Ni)
        .collect()
}

/// Shares of ordinary size, small ones, and traces down to 10⁻⁹.
fn share() -> impl Strategy<Value = f64> {
    prop_oneof![5 => 0.01..1.0_f64, 1 => (-9.0..-2.0_f64).prop_map(|p| 10_f64.powf(p)), 1 => Just(1e-9)]
}

fn blend(of: Vec<Element>) -> impl Strategy<Value = Composition> {
    let most = of.len().min(5);
    let elements = proptest::sample::subsequence(of, 1..=most);
    (elements, proptest::collection::vec(share(), 5)).prop_map(|(elements, shares)| {
        let parts: Vec<_> = elements.into_iter().zip(shares).collect();
        Composition::from_parts(&parts).unwrap()
    })
}

/// Order of the temperatures and of the shares. The share as frozen may step back on heating by rounding
/// alone; that in equilibrium does so where tin or silver takes up liquid (`melt_reference`), by a few per cent.
/// One that does not converge, or comes out as what cannot be, says where: how many do is another test.
fn is_sound(composition: &Composition) -> Result<(), TestCaseError> {
    let curve = match curve(composition) {
        Ok(curve) => curve,
        Err(CurveFault::NotConverged { at, .. }) => {
            prop_assert!(at.degrees() > -73.2, "{at}");
            return Ok(());
        }
        Err(CurveFault::OutOfOrder { .. } | CurveFault::Shrinks { .. }) => return Ok(()),
        Err(fault) => return Err(TestCaseError::fail(format!("{composition}: {fault}"))),
    };
    let (end, left) = (curve.trace_melt).unwrap_or((curve.first_melt, Share::ALL));
    // Here and below: what a curve lets through, and the rounding of what is told.
    if left.fraction() > NO_LIQUID {
        prop_assert!(
            end.degrees() < curve.solidus.degrees() + 0.052,
            "{composition}"
        );
    }
    prop_assert!(curve.solidus <= curve.liquidus, "{composition}");
    prop_assert!(curve.solidus <= curve.flow_point && curve.flow_point <= curve.liquidus);
    prop_assert!(end <= curve.liquidus, "{composition}");
    for history in [History::AsBought, History::Frozen] {
        for (t, share) in curve.points(history) {
            prop_assert!(share.fraction().is_finite(), "{composition} at {t}");
        }
    }
    let mut last = 0.0;
    for (t, share) in curve.points(History::Frozen) {
        prop_assert!(share.fraction() > last - 1e-5, "{composition} at {t}");
        last = share.fraction();
    }
    let mut most = 0.0_f64;
    for (t, share) in curve.points(History::AsBought) {
        prop_assert!(share.fraction() > most - 0.0501, "{composition} at {t}");
        most = most.max(share.fraction());
    }
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 1500, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_blend_has_a_sound_curve_or_says_why_not(composition in blend(covered())) {
        is_sound(&composition)?;
    }

    /// Where the data are trusted most, there is no way out: it converges, and what freezes last
    /// freezes no higher than the equilibrium solidus.
    #[test]
    fn every_blend_of_class_a_converges(
        tin in 40.0..100.0_f64, lead in share(), bismuth in share(), silver in 0.0..4.0_f64,
        copper in 0.0..1.0_f64, which in 0..16_u8,
    ) {
        use Element::{Ag, Bi, Cu, Pb, Sn};
        let mut parts = vec![(Sn, tin)];
        for (bit, part) in [(Pb, lead * 50.0), (Bi, bismuth * 50.0), (Ag, silver), (Cu, copper)].into_iter().enumerate() {
            if which >> bit & 1 == 1 {
                parts.push(part);
            }
        }
        let composition = Composition::from_parts(&parts).unwrap();
        let curve = curve(&composition);
        prop_assert!(curve.is_ok(), "{composition}: {:?}", curve.err());
        if let Ok(curve) = curve {
            let end = curve.trace_melt.map_or(curve.first_melt, |t| t.0);
            prop_assert!(end.degrees() <= curve.solidus.degrees() + 0.005, "{composition}: {end}");
            is_sound(&composition)?;
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 200, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn tin_with_nickel_has_a_sound_curve(
        nickel in 0.001..2.0_f64, lead in share(), silver in 0.0..5.0_f64, copper in 0.0..2.0_f64, which in 0..8_u8,
    ) {
        use Element::{Ag, Cu, Ni, Pb, Sn};
        let mut parts = vec![(Sn, 80.0), (Ni, nickel)];
        for (bit, part) in [(Pb, lead * 50.0), (Ag, silver), (Cu, copper)].into_iter().enumerate() {
            if which >> bit & 1 == 1 {
                parts.push(part);
            }
        }
        is_sound(&Composition::from_parts(&parts).unwrap())?;
    }
}

/// Where this one's last traces freeze, an equilibrium found from nothing held a hundred thousand times
/// too much liquid, and the walk went on from it.
#[test]
fn no_liquid_comes_out_of_nothing() {
    let composition = Composition::from_parts(&[
        (Element::Ag, 0.197_559_999_193_260_56),
        (Element::Au, 2.476_485_475_687_77e-7),
        (Element::Cu, 0.291_397_688_546_867_15),
        (Element::Sb, 0.000_118_848_144_612_271_25),
        (Element::Zn, 0.510_923_216_466_712_5),
    ])
    .unwrap();
    // It may give up and say where; it may not say that a trace is all of the joint.
    match curve(&composition) {
        Ok(curve) => {
            let (_, share) = curve.trace_melt.unwrap();
            assert!(share.fraction() < 4e-4, "{}", share.fraction());
        }
        Err(fault) => assert!(matches!(fault, CurveFault::NotConverged { .. }), "{fault}"),
    }
}

/// The first crystal forms where the lowest Gibbs energy says, also where the walk was stuck in the melt near a
/// gap of the liquid. Source: pycalphad 0.11.2 on the same data, start grids of 200 and 500, both within
/// 0.05 K; the tolerance is that of all such comparisons.
#[test]
fn the_first_crystal_near_a_gap_of_the_liquid() {
    use Element::{Ag, Au, Bi, Cu, In, Sb, Sn, Zn};
    for (parts, want) in [
        (
            vec![
                (Ag, 27.45),
                (Au, 13.02),
                (Bi, 27.7),
                (Cu, 12.08),
                (Zn, 19.76),
            ],
            657.316,
        ),
        (
            vec![
                (Au, 11.52),
                (In, 22.65),
                (Sb, 4.23),
                (Sn, 30.16),
                (Zn, 31.43),
            ],
            355.453,
        ),
    ] {
        let composition = Composition::from_parts(&parts).unwrap();
        let got = curve(&composition).unwrap().liquidus.degrees();
        assert!(
            (got - want).abs() < 0.1,
            "{composition}: {got}, want {want}"
        );
    }
}

/// Counted were none given up and one that contradicts itself; another machine's rounding may tip one or two more.
const MOST: usize = 3;
/// A walk that ends with less is out of liquid: the equilibrium, which stops at so much, need not end higher.
const NO_LIQUID: f64 = 1e-6;

/// Of a thousand blends of any elements, the same on every run, hardly any does not converge, and hardly any is
/// refused because its walks contradict each other.
#[test]
fn hardly_any_blend_is_given_up() {
    use proptest::strategy::ValueTree;
    let mut runner = proptest::test_runner::TestRunner::deterministic();
    let (mut given_up, mut refused) = (Vec::new(), Vec::new());
    for _ in 0..1000 {
        let composition = blend(covered()).new_tree(&mut runner).unwrap().current();
        match curve(&composition) {
            Ok(_) => is_sound(&composition).unwrap(),
            Err(fault @ CurveFault::NotConverged { .. }) => {
                given_up.push(format!("{composition}: {fault}"));
            }
            Err(fault) => refused.push(format!("{composition}: {fault}")),
        }
    }
    assert!(given_up.len() <= MOST, "{}", given_up.join("\n"));
    assert!(refused.len() <= MOST, "{}", refused.join("\n"));
}
