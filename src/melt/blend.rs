//! The answer for one blend: pinned, measured, computed, floor, or unknown.

use std::sync::Arc;

use super::book::{Basis, Doubt, Melt, Pin, Readings, TableEntry, TrustClass};
use super::curve::{Curve, CurveFault, curve};
use super::layer::History;
use super::trust::{self, Trust};
use crate::alloy::{Composition, Element, element_set};
use crate::quantity::{Celsius, KelvinStep, Share};

/// First melt of any joint in which bismuth, lead and tin meet at their ternary eutectic: measured
/// 95.3 ± 0.5 °C (`tests/melt/measured.csv`), taken at 95 with the uncertainty in it.
pub(super) const BISMUTH_LEAD_TIN: Celsius = Celsius::whole(95);
/// The three count from 0.02 mass% each (design value, our judgement).
const COUNTS_FROM: f64 = 0.0002;
/// Computed first melts up to here are that eutectic or lie below it (published 95–98).
const EUTECTIC_UP_TO: KelvinStep = KelvinStep::from_millikelvin(3500);
/// A published floor may be off by so much (spread of the invariants in print).
const U_FLOOR: KelvinStep = KelvinStep::whole(2);
/// Crystals left above the flow point are told from this distance on.
const TELL_CRYSTALS: KelvinStep = KelvinStep::whole(10);

/// The answer for a composition that froze like that.
pub(super) fn answer(
    table: &dyn Readings,
    pins: &[Pin],
    composition: &Composition,
    history: History,
) -> Melt {
    if let Some(pin) = pins
        .iter()
        .find(|pin| is_clean(composition, &pin.composition))
    {
        return pinned(composition, pin, history);
    }
    let set = element_set(composition);
    let liquid_metal = |e: &Element| matches!(e, Element::Ga | Element::Hg);
    if Element::all().any(|e| liquid_metal(&e) && composition.share(e) > Share::NONE) {
        return Melt {
            doubts: vec![Doubt::LiquidMetal],
            ..Melt::unknown()
        };
    }
    let entry = table.near(composition);
    match computed(composition, &set) {
        Ok((curve, trust)) => with_curve(composition, entry, curve, trust, history),
        Err(doubt) => without_curve(table, &set, entry, doubt, history),
    }
}

/// Whether every share is that of the pinned alloy within 0.01 mass%.
fn is_clean(composition: &Composition, pinned: &Composition) -> bool {
    Element::all()
        .all(|e| (composition.share(e).fraction() - pinned.share(e).fraction()).abs() <= 1e-4)
}

fn pinned(composition: &Composition, pin: &Pin, history: History) -> Melt {
    Melt {
        basis: Basis::Measured,
        first_melt: Some(pin.solidus),
        survival: Some(pin.solidus),
        solidus: Some(pin.solidus),
        flow: Some(pin.liquidus),
        flow_point: Some(pin.liquidus),
        liquidus: Some(pin.liquidus),
        curve: computed(composition, &element_set(composition))
            .ok()
            .map(|(curve, _)| curve),
        history,
        ..Melt::unknown()
    }
}

/// The curve, where the data cover the elements and are trusted.
fn computed(composition: &Composition, set: &[Element]) -> Result<(Arc<Curve>, Trust), Doubt> {
    if let Some(&element) = set.iter().find(|element| !element.is_covered()) {
        return Err(Doubt::NotCovered { element });
    }
    let deciding = only(composition, |element| set.contains(&element)).ok_or(Doubt::WeakData)?;
    let trust = trust::of(&deciding);
    if trust.class == TrustClass::C {
        return Err(Doubt::WeakData);
    }
    // Traces of the best-known elements stay: they make traces of liquid.
    let best_known = [
        Element::Sn,
        Element::Pb,
        Element::Bi,
        Element::Ag,
        Element::Cu,
    ];
    let kept = only(composition, |e| set.contains(&e) || best_known.contains(&e));
    match curve(&kept.ok_or(Doubt::WeakData)?) {
        Ok(curve) => Ok((Arc::new(curve), trust)),
        Err(CurveFault::NotCovered(element)) => Err(Doubt::NotCovered { element }),
        Err(why) => Err(Doubt::NotConverged {
            why: why.to_string(),
        }),
    }
}

fn only(composition: &Composition, keep: impl Fn(Element) -> bool) -> Option<Composition> {
    let parts: Vec<(Element, f64)> = composition
        .parts()
        .filter(|(element, _)| keep(*element))
        .map(|(element, share)| (element, share.fraction()))
        .collect();
    Composition::from_parts(&parts).ok()
}

fn with_curve(
    composition: &Composition,
    entry: Option<TableEntry>,
    curve: Arc<Curve>,
    trust: Trust,
    history: History,
) -> Melt {
    let mut doubts = Vec::new();
    let own = match history {
        History::AsBought => curve.solidus,
        History::Frozen => curve.first_melt.min(curve.solidus),
    };
    let reading = entry.as_ref().map(|entry| entry.solidus);
    let mut first_melt = reading.map_or(own, |reading| reading.min(own));
    if let Some(reading) = reading {
        doubts.extend(disagreement(reading, own, &curve, trust));
    }
    if trust.class == TrustClass::B {
        doubts.push(Doubt::ExtrapolatedClass);
    }
    let mut u = trust.u_first_melt;
    if bismuth_lead_tin(composition) {
        doubts.push(Doubt::BismuthLeadTin);
        let at_eutectic = own <= BISMUTH_LEAD_TIN + EUTECTIC_UP_TO;
        if at_eutectic && first_melt >= BISMUTH_LEAD_TIN - KelvinStep::whole(1) {
            first_melt = BISMUTH_LEAD_TIN;
            u = KelvinStep::ZERO;
        }
    }
    let table_liquidus = entry.as_ref().map(|entry| entry.liquidus);
    let at_least = |t: Celsius| table_liquidus.map_or(t, |table| table.max(t));
    let flow = at_least(curve.flow_point + trust.u_flow);
    if curve.liquidus - curve.flow_point > TELL_CRYSTALS && curve.liquidus > flow {
        let liquid = curve.liquid_at(flow, History::AsBought);
        doubts.push(Doubt::CrystalsAboveFlow {
            share: Share::nearest(1.0 - liquid.fraction()),
            flow,
            liquidus: curve.liquidus,
        });
    }
    Melt {
        basis: if entry.is_some() {
            Basis::Measured
        } else {
            Basis::Computed
        },
        class: Some(trust.class),
        u,
        u_flow: trust.u_flow,
        first_melt: Some(first_melt),
        first_melt_share: Some(match history {
            History::AsBought => curve.solidus_share,
            History::Frozen => curve.first_melt_share,
        }),
        trace: (curve.trace_melt).filter(|(at, _)| history == History::Frozen && *at < first_melt),
        survival: Some(first_melt - u),
        solidus: Some(reading.map_or(curve.solidus, |reading| reading.min(curve.solidus))),
        flow: Some(flow),
        flow_point: Some(at_least(curve.flow_point)),
        liquidus: Some(at_least(curve.liquidus)),
        curve: Some(curve),
        table: entry,
        doubts,
        layers: Vec::new(),
        history,
    }
}

/// Where reading and curve disagree beyond the uncertainty.
fn disagreement(reading: Celsius, computed: Celsius, curve: &Curve, trust: Trust) -> Option<Doubt> {
    let apart = |one: Celsius, other: Celsius| one - other > trust.u_first_melt;
    if apart(computed, reading) {
        Some(Doubt::ReadingBelowComputed { reading, computed })
    } else if !apart(reading, computed) {
        None
    } else if apart(reading, curve.solidus) {
        Some(Doubt::ComputedBelowReading { reading, computed })
    } else {
        // What is printed is the solidus of a homogenised piece, and that is computed likewise.
        Some(Doubt::FrozenBelowReading {
            reading,
            frozen: computed,
        })
    }
}

fn bismuth_lead_tin(composition: &Composition) -> bool {
    [Element::Bi, Element::Pb, Element::Sn]
        .iter()
        .all(|&element| composition.share(element).fraction() >= COUNTS_FROM)
}

/// Readings alone, or the published invariant of the set or of the lowest of its subsets.
fn without_curve(
    table: &dyn Readings,
    set: &[Element],
    entry: Option<TableEntry>,
    doubt: Doubt,
    history: History,
) -> Melt {
    let mut doubts = vec![doubt];
    let (lowest, whole_set) = floor(table, set);
    if let Some(entry) = entry {
        let u = trust::B.0;
        return Melt {
            basis: Basis::Measured,
            u,
            u_flow: trust::B.1,
            first_melt: Some(entry.solidus),
            survival: Some(entry.solidus - u),
            solidus: Some(entry.solidus),
            flow: Some(entry.liquidus + trust::B.1),
            flow_point: Some(entry.liquidus),
            liquidus: Some(entry.liquidus),
            table: Some(entry),
            doubts,
            history,
            ..Melt::unknown()
        };
    }
    let Some(lowest) = lowest else {
        return Melt {
            doubts,
            history,
            ..Melt::unknown()
        };
    };
    if !whole_set {
        doubts.push(Doubt::FloorOfSubset);
    }
    Melt {
        basis: Basis::Floor,
        u: U_FLOOR,
        first_melt: Some(lowest),
        survival: Some(lowest - U_FLOOR),
        doubts,
        history,
        ..Melt::unknown()
    }
}

/// The lowest published invariant of any subset, and whether the whole set has one as low.
fn floor(table: &dyn Readings, set: &[Element]) -> (Option<Celsius>, bool) {
    let whole = table.invariant(set);
    let mut lowest = whole;
    let members = set.len().min(16);
    for chosen in 1_u32..(1 << members) {
        let subset: Vec<Element> = (0..members)
            .filter(|bit| chosen & (1 << bit) != 0)
            .map(|bit| set[bit])
            .collect();
        if let Some(t) = table.invariant(&subset) {
            lowest = Some(lowest.map_or(t, |lowest| lowest.min(t)));
        }
    }
    (lowest, whole.is_some() && whole == lowest)
}
