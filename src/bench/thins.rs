//! Copper that molten solder takes from a fine wire for as long as it stays molten.
//!
//! Rates of a copper face in still solder. What is taken slows the rest down, a tip that moves speeds it up:
//! neither is reckoned with, so that the answer is an order of magnitude and its limits stand well inside it.

use crate::alloy::Element;
use crate::job::{JointIx, Tool, WireIx, Work};
use crate::melt::Layer;
use crate::quantity::{Celsius, Length, Share};

use super::doing::Doing;
use super::exposure::Heat;
use super::finding::{Finding, Rule, Subject};
use super::metal;
use super::passage::Note;
use super::prepare::{Metal, Prepared};
use super::setting::Setting;
use super::verdict::Verdict;

/// Copper that tin with 40 % lead takes from a face at 232 °C: 0.10 µm/s (W.G. Bader, *Welding Journal* 48 (1969)
/// 551-s, from memory: 4.1 µin/s).
const AT_232_UM_S: f64 = 0.104;
const KELVIN_232: f64 = 505.0;
/// Activation energy over R, from the same (21 µin/s at 316 °C, from memory): 48 kJ/mol.
const ACTIVATION_K: f64 = 5800.0;
/// Tin-rich solders take more than twice as much (S39); two and a half times counts.
const TIN_RICH_TIMES: f64 = 2.5;
/// So much tin makes a solder tin-rich, mass share (our judgement: with a third of lead, bismuth or indium the older
/// rates hold).
const TIN_RICH_FROM: f64 = 0.7;
/// An iron that nobody set: 350 °C (tips at 300 to 360 °C: S58, from memory).
const USUAL_TIP: Celsius = Celsius::whole(350);
/// Longer than 10 s no tip stays on a joint (S58, from memory): what bears that needs no word.
const NEVER_LONGER_S: f64 = 10.0;

/// How long the solder of a joint may stay molten on a wire.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Thinning {
    /// Which wire.
    pub wire: WireIx,
    /// How hot the solder at it is, at most.
    pub at: Celsius,
    /// Until half of its section is gone, in milliseconds.
    pub half_gone_ms: u32,
}

impl Thinning {
    /// The verdict on a time in seconds: half of the section is too much, and from half of that time on it is close,
    /// since the rates may be wrong by a factor of two.
    pub fn verdict(&self, seconds: u32) -> Verdict {
        let ms = seconds.saturating_mul(1000);
        if ms >= self.half_gone_ms {
            Verdict::Limit
        } else if ms >= self.half_gone_ms / 2 {
            Verdict::Close
        } else {
            Verdict::Holds
        }
    }
}

/// Rate at which a copper face goes, µm/s.
fn rate_um_s(at: Celsius, tin_rich: bool) -> f64 {
    let hotter = ACTIVATION_K * (1.0 / KELVIN_232 - 1.0 / at.kelvin());
    AT_232_UM_S * hotter.exp() * if tin_rich { TIN_RICH_TIMES } else { 1.0 }
}

/// Half of a round section is gone when its radius is down to 1/√2.
fn half_gone_ms(diameter: Length, rate_um_s: f64) -> u32 {
    let depth = diameter.um() / 2.0 * (1.0 - std::f64::consts::FRAC_1_SQRT_2);
    let ms = (depth / rate_um_s * 1000.0).floor();
    if ms >= f64::from(u32::MAX) {
        u32::MAX
    } else {
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "between nought and the largest"
        )]
        let ms = ms as u32;
        ms
    }
}

/// The hottest that the solder is: beside a tip nearly as hot as the tip.
fn hottest(heat: &Heat) -> Celsius {
    match heat.way.tool {
        Tool::Iron | Tool::Tweezers => heat.peak.max(heat.way.set.unwrap_or(USUAL_TIP)),
        _ => heat.peak,
    }
}

/// Tin-rich, or nobody knows.
fn is_tin_rich(layers: &[Layer]) -> bool {
    let unknown = layers.iter().any(|layer| layer.unknown);
    unknown
        || layers.iter().any(|layer| {
            metal::share_of(std::slice::from_ref(layer), Element::Sn)
                >= Share::nearest(TIN_RICH_FROM)
        })
}

/// The wires that are tied to what a step solders or melts.
fn of_metal(
    setting: &Setting,
    doing: &Doing,
    prepared: &Prepared,
    heat: &Heat,
    metal: &Metal,
) -> Vec<Thinning> {
    let Some(JointIx(at)) = metal.joint.filter(|_| heat.way.tool != Tool::None) else {
        return Vec::new();
    };
    let mut wires = prepared.next.joints[at].wires.clone();
    if let Work::Solder {
        wire: Some(wire), ..
    } = doing.step.work
        && !wires.contains(&wire)
    {
        wires.push(wire);
    }
    let hottest = hottest(heat);
    let rate = rate_um_s(hottest, is_tin_rich(&metal.layers));
    let thins = |wire: WireIx| Thinning {
        wire,
        at: hottest,
        half_gone_ms: half_gone_ms(setting.job().wires[wire.0].diameter, rate),
    };
    wires.into_iter().map(thins).collect()
}

/// What a stated time does to each wire.
pub(super) fn findings(
    setting: &Setting,
    doing: &Doing,
    prepared: &Prepared,
    heat: &Heat,
    metal: &Metal,
) -> Vec<Finding> {
    let Some(seconds) = heat.way.seconds else {
        return Vec::new();
    };
    let all = of_metal(setting, doing, prepared, heat, metal).into_iter();
    all.filter_map(|thins| {
        let verdict = thins.verdict(seconds);
        let of = Subject::Wire(thins.wire);
        (verdict != Verdict::Holds)
            .then(|| Finding::new(Rule::WireThins, of, verdict).by(Subject::Step))
    })
    .collect()
}

/// What is told where nobody said how long, or too long: thick wires and cool solder need no word.
pub(super) fn notes<'n>(
    setting: &'n Setting,
    doing: &'n Doing,
    prepared: &'n Prepared,
    heat: &'n Heat,
    metal: &'n Metal,
) -> impl Iterator<Item = Note> + 'n {
    let all = of_metal(setting, doing, prepared, heat, metal).into_iter();
    all.filter(|thins| f64::from(thins.half_gone_ms / 2) < NEVER_LONGER_S * 1000.0)
        .map(Note::WireThins)
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    /// Source: Bader 1969 (memory), 4.1 and 21 µin/s at 232 and 316 °C.
    #[test]
    fn rates_are_those_in_print() {
        let um_s = |microinch: f64| microinch * 0.0254;
        let rate = |t| rate_um_s(Celsius::whole(t), false);
        assert_relative_eq!(rate(232), um_s(4.1), max_relative = 0.02);
        assert_relative_eq!(rate(316), um_s(21.0), max_relative = 0.05);
        assert_relative_eq!(rate_um_s(Celsius::whole(232), true), 2.5 * rate(232));
    }

    /// By hand: of 20 µm half is gone 2.929 µm deep; at 0.1 µm/s that takes 29.29 s.
    #[test]
    fn half_of_a_wire_goes_before_its_radius_does() {
        let wire = Length::from_um(20.0).unwrap();
        assert_eq!(half_gone_ms(wire, 0.1), 29_289);
        assert_eq!(half_gone_ms(wire, 0.0), u32::MAX);
        let thins = Thinning {
            wire: WireIx(0),
            at: Celsius::whole(300),
            half_gone_ms: 8000,
        };
        for (seconds, want) in [
            (3, Verdict::Holds),
            (4, Verdict::Close),
            (7, Verdict::Close),
            (8, Verdict::Limit),
        ] {
            assert_eq!(thins.verdict(seconds), want, "{seconds}");
        }
    }
}
