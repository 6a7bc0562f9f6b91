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
/// So finely it is looked for: to 40 ppm of the joint.
const GRID: u32 = 256;
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
    let all_liquid = |share: f64| setting.liquidus(&with_copper(lowest, share).blend);
    let low = most_dissolved(most, (without.liquidus?, holds), all_liquid);
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

/// The most copper, up to `most` and to a part in [`GRID`] of that, of which the last crystal goes at `holds`; what is
/// there without it goes at `bare`. More copper never goes earlier, so it is looked for between shares that dissolve and
/// shares that do not: where a straight line between them puts it, and in the middle every other time.
fn most_dissolved(
    most: f64,
    (bare, holds): (Celsius, Celsius),
    all_liquid: impl Fn(f64) -> Option<Celsius>,
) -> f64 {
    let share = |part: u32| most * f64::from(part) / f64::from(GRID);
    let dissolves = |at: Option<Celsius>| at.is_some_and(|t| t <= holds);
    let whole = all_liquid(most);
    if dissolves(whole) {
        return most;
    }
    let (mut low, mut high) = ((0, bare), (GRID, whole));
    let mut by_line = true;
    while high.0 - low.0 > 1 {
        let between = high.0 - low.0;
        let line = high.1.filter(|_| by_line).map(|hot| {
            let part = (holds - low.1).kelvin() / (hot - low.1).kelvin();
            (part * f64::from(between)).clamp(0.0, f64::from(GRID))
        });
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "held to the grid"
        )]
        let ahead = line.map_or(between / 2, |part| part as u32);
        let middle = low.0 + ahead.clamp(1, between - 1);
        by_line = !by_line;
        match all_liquid(share(middle)) {
            Some(t) if t <= holds => low = (middle, t),
            at => high = (middle, at),
        }
    }
    share(low.0)
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

#[cfg(test)]
mod tests {
    use super::*;

    /// The same share as trying every one, and asked for a few times.
    #[test]
    fn the_most_that_dissolves_is_found() {
        let at = |t: f64| Some(Celsius::nearest(t));
        let steep = |x: f64| at(227.0 - 300.0 * x + 6e5 * x.powi(2));
        let flat = |x: f64| {
            at(if x < 0.004 {
                221.0
            } else {
                221.0 + 9e3 * (x - 0.004)
            })
        };
        let blind = |x: f64| at(230.0 + x).filter(|_| x < 0.003);
        let curves: [&dyn Fn(f64) -> Option<Celsius>; 3] = [&steep, &flat, &blind];
        for (i, curve) in curves.into_iter().enumerate() {
            for holds in [228.0, 231.0, 240.0, 270.0, 300.0] {
                let holds = Celsius::nearest(holds);
                let Some(bare) = curve(0.0).filter(|bare| *bare <= holds) else {
                    continue;
                };
                let asked = std::cell::Cell::new(0);
                let found = most_dissolved(MOST, (bare, holds), |x| {
                    asked.set(asked.get() + 1);
                    curve(x)
                });
                let parts = (0..=GRID).map(|part| MOST * f64::from(part) / f64::from(GRID));
                let tried = parts.filter(|x| curve(*x).is_some_and(|t| t <= holds));
                let tried = tried.fold(0.0, f64::max);
                assert!((found - tried).abs() < 1e-9, "{i} {holds}: {found} {tried}");
                assert!(asked.get() <= 17, "{i} {holds}: {}", asked.get());
            }
        }
    }
}
