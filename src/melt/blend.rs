//! The answer for one blend: pinned, measured, computed, floor, or unknown.

use std::sync::Arc;

use super::book::{Basis, Doubt, Melt, Pin, Readings, TableEntry, TrustClass};
use super::curve::{self, Curve, CurveFault, curve_at_once};
use super::floor::{self, U_FLOOR};
use super::layer::History;
use super::trust::{self, Trust};
use crate::alloy::{Composition, Element, TRACE_PERCENT, element_set, is_neutral};
use crate::policy;
use crate::quantity::{Celsius, KelvinStep, Share};

/// Computed first melts up to here are that eutectic or lie below it (published 95–98).
const EUTECTIC_UP_TO: KelvinStep = KelvinStep::from_millikelvin(3500);
/// Of data of class B a tenth of the liquid that counts may be all of it (our judgement).
const MAY_BE_MORE: f64 = 1e-4;
/// Crystals left above the flow point are told from this distance on.
const TELL_CRYSTALS: KelvinStep = KelvinStep::whole(10);

/// The answer for a composition that froze like that.
pub(super) fn answer(
    table: &dyn Readings,
    pins: &[Pin],
    composition: &Composition,
    history: History,
) -> Melt {
    if let Some(pin) = pin_of(pins, composition) {
        return pinned(composition, pin, history);
    }
    let set = element_set(composition);
    let liquid_metal = |e: &Element| matches!(e, Element::Ga | Element::Hg);
    if let Some(element) =
        Element::all().find(|e| liquid_metal(e) && composition.share(*e) > Share::NONE)
    {
        return Melt {
            doubts: vec![Doubt::LiquidMetal { element }],
            ..Melt::unknown()
        };
    }
    let plain = of_set(table, composition, &set, history);
    let lowered = with_traces(table, composition, &set, history)
        .and_then(|counted| Some((counted.of.clone(), lower(&plain, counted)?)));
    let (set, mut melt) = lowered.unwrap_or((set, plain));
    melt.doubts
        .extend(dropped(composition, &set, melt.class.is_some()));
    melt
}

/// The answer with traces counted.
struct WithTraces {
    /// Of these elements.
    of: Vec<Element>,
    melt: Melt,
    /// How near the largest trace comes to the share from which it counts by itself: 0 to 1.
    near: f64,
}

/// The same metal with traces of elements counted as well, where there are data of all. Below the trace that counts by itself an element is no part of an alloy, and all the same
/// 0.009 % of gold makes tin melt 10 K earlier.
fn with_traces(
    table: &dyn Readings,
    composition: &Composition,
    set: &[Element],
    history: History,
) -> Option<WithTraces> {
    let is_trace = |e: &Element| {
        e.is_covered()
            && !set.contains(e)
            && !BEST_KNOWN.contains(e)
            && !is_neutral(*e, composition.share(*e))
    };
    let traces: Vec<(Element, Share)> =
        (composition.parts().filter(|(e, _)| is_trace(e))).collect();
    let most = traces.iter().map(|(_, share)| share.percent());
    let most = most.reduce(f64::max)?;
    let mut all = set.to_vec();
    all.extend(traces.iter().map(|(e, _)| *e));
    all.sort_unstable();
    let counted = of_set(table, composition, &all, history);
    // What nobody knows of a trace makes no early melt.
    counted.class.is_some().then_some(WithTraces {
        of: all,
        melt: counted,
        near: (most / TRACE_PERCENT).min(1.0),
    })
}

/// The answer by what the data say with the traces, where it is the lower one. Their u comes in with their share, so that
/// nothing jumps where they count by themselves.
fn lower(plain: &Melt, WithTraces { melt, near, .. }: WithTraces) -> Option<Melt> {
    let (first, survival) = (melt.first_melt?, plain.survival?);
    let more = (melt.u - plain.u).scaled(near);
    let by_traces = first - (plain.u + more);
    if by_traces >= survival {
        return None;
    }
    let first_melt = plain.first_melt.map_or(first, |plain| plain.min(first));
    Some(Melt {
        u: first_melt - by_traces,
        first_melt: Some(first_melt),
        first_melt_share: melt.first_melt_share,
        trace: melt.trace,
        survival: Some(by_traces),
        curve: melt.curve.or(plain.curve.clone()),
        ..plain.clone()
    })
}

/// The answer for a composition of which these elements take part.
fn of_set(
    table: &dyn Readings,
    composition: &Composition,
    set: &[Element],
    history: History,
) -> Melt {
    let entry = table.near(composition);
    // With the eutectic of all elements published, what is known of some of them adds nothing.
    let settled = || {
        table
            .floor(composition, set)
            .is_some_and(|floor| floor.whole.is_some())
    };
    match computed(composition, set, settled) {
        Ok(data) if data.left_out.is_empty() && data.trust.class != TrustClass::C => {
            with_curve(table, (composition, set), entry, data, history)
        }
        Ok(data) => {
            let doubts = match data.left_out.as_slice() {
                [] => vec![Doubt::WeakData],
                without => (without.iter())
                    .map(|&element| Doubt::NotCovered { element })
                    .collect(),
            };
            without_curve(
                table,
                (composition, set),
                entry,
                (Source::Curve(&data), doubts),
                history,
            )
        }
        Err(without) => without_curve(
            table,
            (composition, set),
            entry,
            (Source::Nothing(without.given_up), vec![without.doubt]),
            history,
        ),
    }
}

/// [`Melt::liquidus`] of [`answer`], without the rest of the curve where it is not needed.
pub(super) fn liquidus(
    table: &dyn Readings,
    pins: &[Pin],
    composition: &Composition,
) -> Option<Celsius> {
    let whole = || answer(table, pins, composition, History::Frozen).liquidus;
    let set = element_set(composition);
    let covered = set.iter().all(|element| element.is_covered());
    if pin_of(pins, composition).is_some()
        || !covered
        || trust::of(composition, &set).class == TrustClass::C
    {
        return whole();
    }
    let kept = only(composition, |e| takes_part(&set, e))?;
    let Ok(own) = curve::liquidus(&kept) else {
        return whole();
    };
    let printed = table.near(composition).map(|entry| entry.liquidus);
    Some(printed.map_or(own, |printed| printed.max(own)))
}

/// Elements of a curve: those of the set, and traces of the best-known.
fn takes_part(covered: &[Element], element: Element) -> bool {
    covered.contains(&element) || BEST_KNOWN.contains(&element)
}

/// What a frozen blend surely survives, known without its curve: bismuth, lead and tin, with silver and copper at
/// most, start at their ternary eutectic or above it. By data of class A only, where nothing is printed or
/// pinned; a test draws blends and works them out.
pub(super) fn at_least(
    table: &dyn Readings,
    pins: &[Pin],
    composition: &Composition,
) -> Option<Celsius> {
    if !bismuth_lead_tin(composition) || !composition.parts().all(|(e, _)| BEST_KNOWN.contains(&e))
    {
        return None;
    }
    let trust = trust::of(composition, &element_set(composition));
    let best = trust.class == TrustClass::A && trust.u_first_melt == trust::A.0;
    let said = || pin_of(pins, composition).is_some() || table.near(composition).is_some();
    (best && !said()).then_some(policy::BISMUTH_LEAD_TIN)
}

/// Elements that have no say in the answer.
fn dropped(composition: &Composition, set: &[Element], by_data: bool) -> Vec<Doubt> {
    // Traces of the best-known stay in a curve.
    let in_curve = |element: &Element| by_data && BEST_KNOWN.contains(element);
    (composition.parts())
        .filter(|(element, _)| !set.contains(element) && !in_curve(element))
        .map(|(element, share)| Doubt::Dropped { element, share })
        .collect()
}

/// The readings that a job takes as exact for a metal.
pub(super) fn pin_of<'p>(pins: &'p [Pin], composition: &Composition) -> Option<&'p Pin> {
    pins.iter()
        .find(|pin| is_clean(composition, &pin.composition))
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
        curve: computed(composition, &element_set(composition), || true)
            .ok()
            .filter(|data| data.left_out.is_empty() && data.trust.class != TrustClass::C)
            .map(|data| data.curve),
        history,
        ..Melt::unknown()
    }
}

/// Traces of these stay in a computed curve: they make traces of liquid.
const BEST_KNOWN: [Element; 5] = [
    Element::Sn,
    Element::Pb,
    Element::Bi,
    Element::Ag,
    Element::Cu,
];

/// What the phase data say of a blend, however far they are trusted.
#[derive(Debug)]
pub(super) struct Data {
    curve: Arc<Curve>,
    pub(super) trust: Trust,
    /// Elements without phase data: the curve is that of the others.
    pub(super) left_out: Vec<Element>,
}

impl Data {
    /// Where the first liquid that counts is.
    pub(super) fn first_melt(&self, history: History) -> Celsius {
        match history {
            History::AsBought => self.curve.solidus,
            History::Frozen => self.curve.first_melt.min(self.curve.solidus),
        }
    }

    /// How much there is at once.
    pub(super) fn first_share(&self, history: History) -> Share {
        match history {
            History::AsBought => self.curve.solidus_share,
            History::Frozen => self.curve.first_melt_share,
        }
    }
}

/// Why there is no curve.
#[derive(Debug)]
struct NoCurve {
    doubt: Doubt,
    /// There are data, and a curve was given up: what the data would have been wrong by.
    given_up: Option<KelvinStep>,
}

impl NoCurve {
    fn of(doubt: Doubt) -> Self {
        NoCurve {
            doubt,
            given_up: None,
        }
    }
}

/// What phase data give where they are not trusted.
#[derive(Clone, Copy, Debug)]
pub(super) enum Source<'d> {
    /// A curve, as a lower bound.
    Curve(&'d Data),
    /// None; where one was given up, what it would have been wrong by.
    Nothing(Option<KelvinStep>),
}

impl<'d> Source<'d> {
    pub(super) fn curve(self) -> Option<&'d Data> {
        match self {
            Source::Curve(data) => Some(data),
            Source::Nothing(_) => None,
        }
    }
}

/// The curve of all elements that have phase data.
fn computed(
    composition: &Composition,
    set: &[Element],
    settled: impl Fn() -> bool,
) -> Result<Data, NoCurve> {
    let (covered, left_out): (Vec<Element>, Vec<Element>) =
        set.iter().partition(|element| element.is_covered());
    if let Some(&element) = left_out.first()
        && (covered.is_empty() || settled())
    {
        return Err(NoCurve::of(Doubt::NotCovered { element }));
    }
    let trust = trust::of(composition, &covered);
    let kept = only(composition, |e| takes_part(&covered, e));
    let kept = kept.ok_or(NoCurve::of(Doubt::WeakData))?;
    match curve_at_once(&kept, trust.class == TrustClass::C) {
        Ok(curve) => Ok(Data {
            curve: Arc::new(curve),
            trust,
            left_out,
        }),
        Err(CurveFault::NotCovered(element)) => Err(NoCurve::of(Doubt::NotCovered { element })),
        Err(why) => Err(NoCurve {
            doubt: Doubt::NotConverged {
                why: why.to_string(),
            },
            given_up: Some(trust.u_first_melt),
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
    table: &dyn Readings,
    (composition, set): (&Composition, &[Element]),
    entry: Option<TableEntry>,
    data: Data,
    history: History,
) -> Melt {
    let mut doubts = Vec::new();
    let own = data.first_melt(history);
    let first_share = data.first_share(history);
    let Data { curve, trust, .. } = data;
    let reading = entry.as_ref().map(|entry| entry.solidus);
    let mut first_melt = reading.map_or(own, |reading| reading.min(own));
    if let Some(reading) = reading {
        doubts.extend(disagreement(reading, own, &curve, trust));
    }
    if trust.class == TrustClass::B {
        doubts.push(Doubt::ExtrapolatedClass);
    }
    // Data that were checked against every published invariant of their elements tell themselves how much
    // of it there is; of others even a trace says that it may be more.
    let is_met = |at: Celsius| {
        let there = curve.liquid_at(at + trust.u_first_melt, History::Frozen);
        there.fraction() >= MAY_BE_MORE
    };
    let floor = (table.floor(composition, set))
        .filter(|floor| !trust.checked && history == History::Frozen && is_met(floor.temperature));
    let mut survives = first_melt - trust.u_first_melt;
    if let Some(nearly) = table.nearly(composition) {
        survives = survives.min(nearly - trust.u_first_melt);
    }
    let mut first_share = Some(first_share);
    if let Some(floor) = floor {
        survives = survives.min(floor.temperature - U_FLOOR);
        // Nearer than u it is the same reaction, computed.
        if first_melt - floor.temperature > trust.u_first_melt {
            first_melt = floor.temperature;
            first_share = None;
            doubts.push(Doubt::FloorCounts {
                floor: floor.temperature,
                of: floor.of,
            });
        }
    }
    let mut u = first_melt - survives;
    if bismuth_lead_tin(composition) {
        doubts.push(Doubt::BismuthLeadTin);
        let at_eutectic = own <= policy::BISMUTH_LEAD_TIN + EUTECTIC_UP_TO;
        if at_eutectic && first_melt >= policy::BISMUTH_LEAD_TIN - KelvinStep::whole(1) {
            first_melt = policy::BISMUTH_LEAD_TIN;
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
        first_melt_share: first_share,
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
        .all(|&element| composition.share(element) >= policy::BISMUTH_LEAD_COUNTS)
}

/// Where no data are trusted: the lowest of readings, published invariants of any of the elements, and
/// what weak data say.
fn without_curve(
    table: &dyn Readings,
    (composition, set): (&Composition, &[Element]),
    entry: Option<TableEntry>,
    (source, mut doubts): (Source, Vec<Doubt>),
    history: History,
) -> Melt {
    let bounds = floor::bounds(table, composition, set, entry.as_ref(), source, history);
    let Some((first_melt, survival)) = bounds.lowest() else {
        return Melt {
            doubts,
            history,
            ..Melt::unknown()
        };
    };
    doubts.extend(bounds.doubts);
    if !bounds.whole {
        doubts.push(Doubt::FloorOfSubset);
    }
    let whole = source.curve().filter(|data| data.left_out.is_empty());
    let flows = entry.as_ref().map(|entry| flow_of(entry, whole));
    Melt {
        basis: if entry.is_some() && bounds.whole {
            Basis::Measured
        } else {
            Basis::Floor
        },
        class: whole.map(|data| data.trust.class),
        u: first_melt - survival,
        u_flow: trust::B.1,
        first_melt: Some(first_melt),
        survival: Some(survival),
        solidus: (entry.as_ref()).map(|entry| entry.solidus.min(first_melt)),
        flow: flows.map(|flows| flows.flow),
        flow_point: flows.map(|flows| flows.flow_point),
        liquidus: flows.map(|flows| flows.liquidus),
        table: entry,
        doubts,
        history,
        ..Melt::unknown()
    }
}

#[derive(Clone, Copy)]
struct Flows {
    flow: Celsius,
    flow_point: Celsius,
    liquidus: Celsius,
}

/// When a table alloy flows: as printed; but where weak data say that it cannot be all liquid there, by more
/// than they may be off, as they say.
fn flow_of(entry: &TableEntry, data: Option<&Data>) -> Flows {
    let printed = Flows {
        flow: entry.liquidus + trust::B.1,
        flow_point: entry.liquidus,
        liquidus: entry.liquidus,
    };
    match data {
        Some(data) if data.curve.flow_point - data.trust.u_flow > entry.liquidus => Flows {
            flow: data.curve.flow_point + data.trust.u_flow,
            flow_point: data.curve.flow_point,
            liquidus: data.curve.liquidus,
        },
        _ => printed,
    }
}
