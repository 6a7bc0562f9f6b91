//! Copper that a molten joint takes up from the pad below it.
//!
//! Liquid solder dissolves copper until it is saturated; a closed joint holds so little that this takes
//! seconds (rates: `alloys/limits/process.yaml`, group `copper`). How much it really takes is not known, so
//! it is an upper bound: all that the liquid holds at the peak, by the liquidus of the engine, and only
//! where that makes the joint survive less. Nickel under gold stops it.

use crate::alloy::{Blend, Composition, Element};
use crate::job::JointIx;
use crate::melt::{Contact, Layer};
use crate::quantity::{Celsius, KelvinStep, Mass, Share};

use super::metal;
use super::setting::Setting;

/// More is not looked at: from 0.9 mass% on copper makes crystals of Cu6Sn5 that lower no first melt
/// (eutectic of tin and copper; `alloys/invariants.yaml`), and the phase data are of class A up to here.
const MOST: f64 = 0.01;
/// How often the gap below it is halved: to 40 ppm of the joint.
const HALVINGS: usize = 8;
/// Where no finish is stated the pad is taken as copper, and what it takes up is counted where that costs more
/// than the uncertainty already taken off. Looked at are tin, and indium without tin, with hardly any copper in
/// them: all others lose less (a test looks at every alloy of the table).
const TIN_FROM: f64 = 0.9;
const COPPER_BELOW: f64 = 0.003;
const TRACE: f64 = 0.01;

/// What a joint took up: copper as a mass share of its lowest layer, and what that costs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct TakenUp {
    /// Copper in the layer on the pad.
    pub share: Share,
    /// How much less it survives.
    pub costs: KelvinStep,
}

/// Layers that were at a peak on their pad, as [`super::settle::settle`] left them, with the copper that the
/// lowest of them took up. Nothing where it stayed solid.
pub fn take_up(
    setting: &Setting,
    joint: JointIx,
    layers: &mut [Layer],
    peak: Celsius,
) -> Option<TakenUp> {
    let lowest = layers.first_mut().filter(|layer| !layer.unknown)?;
    let most = most(setting, joint, lowest).filter(|most| *most > 0.0)?;
    let melt = |layer: &Layer| setting.melt(std::slice::from_ref(layer), Contact::Layers);
    let without = melt(lowest);
    // Of a pinned pair nothing more is known, and without a curve no saturation.
    without.class.filter(|_| without.curve.is_some())?;
    if without.flow_point.is_none_or(|flow| peak < flow) {
        return None;
    }
    let holds = peak.max(without.liquidus?);
    let dissolved = |share: f64| {
        let with = with_copper(lowest, share);
        melt(&with).liquidus.is_some_and(|t| t <= holds)
    };
    let (mut low, mut high) = (0.0, most);
    if dissolved(high) {
        low = high;
    }
    for _ in 0..HALVINGS {
        let middle = f64::midpoint(low, high);
        if dissolved(middle) {
            low = middle;
        } else {
            high = middle;
        }
    }
    let with = with_copper(lowest, low);
    let costs = without.survival? - melt(&with).survival?;
    let covered = if is_copper(setting, joint) {
        KelvinStep::ZERO
    } else {
        without.u
    };
    if costs <= covered {
        return None;
    }
    *lowest = with;
    let share = metal::share_of(std::slice::from_ref(lowest), Element::Cu);
    Some(TakenUp { share, costs })
}

/// Whether the job says that the pad is copper.
fn is_copper(setting: &Setting, joint: JointIx) -> bool {
    let pad = setting.job().joints[joint.0].pad;
    pad.and_then(|pad| pad.finish)
        .is_some_and(|finish| finish.element == Element::Cu)
}

/// The most copper that the pad can give, as a share of what is there; `None` where it gives none.
fn most(setting: &Setting, joint: JointIx, layer: &Layer) -> Option<f64> {
    let pad = setting.job().joints[joint.0].pad;
    let finish = pad.and_then(|pad| Some((pad, pad.finish?)));
    let share = |element| metal::share_of(std::slice::from_ref(layer), element).fraction();
    let room = MOST - share(Element::Cu);
    match finish {
        Some((pad, finish)) if finish.element == Element::Cu => {
            let all = metal::finish_blend(&pad, &finish).total().mg() / layer.blend.total().mg();
            Some(if layer.unstated { room } else { all.min(room) })
        }
        // Silver and tin lie on copper.
        Some((_, finish)) if !matches!(finish.element, Element::Ag | Element::Sn) => None,
        _ => {
            let tin = share(Element::Sn);
            let prone = tin >= TIN_FROM || (tin <= TRACE && share(Element::In) > TRACE);
            (prone && share(Element::Cu) < COPPER_BELOW).then_some(room)
        }
    }
}

fn with_copper(layer: &Layer, share: f64) -> Layer {
    let mg = layer.blend.total().mg() * share / (1.0 - share);
    let copper = Blend::of(
        &Composition::pure(Element::Cu),
        Mass::from_mg(mg).unwrap_or(Mass::ZERO),
    );
    Layer {
        blend: layer.blend.with(&copper),
        ..layer.clone()
    }
}
