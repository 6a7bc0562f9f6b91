//! Between what temperatures the peak of a step must lie, and who sets the upper end.

use crate::quantity::{Celsius, KelvinStep};

use super::exposure::{Heat, Seen, SeenBy, tool_spread};
use super::passage::{Passage, SetBy, Window};
use super::setting::Setting;

/// Above this an upper end says nothing: 480 °C is the hottest that hand air is set to (heat.yaml,
/// S79).
const HOTTEST_TOOL: Celsius = Celsius::whole(480);

/// The window of a step.
pub fn of(setting: &Setting, heat: Option<&Heat>, passage: &Passage) -> Window {
    let from = passage.target.as_ref().and_then(|target| target.must_reach);
    let Some(heat) = heat else {
        return Window {
            from,
            to: None,
            set_by: None,
        };
    };
    let margin = setting.job().want.margin;
    let joints = passage
        .sights
        .iter()
        .filter(|sight| !sight.may_melt)
        .filter_map(|sight| {
            let highest = sight.melt.survival? - margin;
            Some((
                highest_peak(heat, sight.seen, highest)?,
                SetBy::Joint(sight.joint),
            ))
        });
    let limits = passage.limits.iter().filter_map(|sight| {
        Some((
            highest_peak(heat, sight.seen, sight.limit - margin)?,
            SetBy::Limit(sight.of),
        ))
    });
    let lowest = joints
        .chain(limits)
        .min_by_key(|(to, _)| *to)
        .filter(|(to, _)| *to < HOTTEST_TOOL);
    Window {
        from,
        to: lowest.map(|(to, _)| to),
        set_by: lowest.map(|(_, by)| by),
    }
}

/// The peak at which a place would just see `highest`; `None` where what it sees does not follow
/// the peak.
fn highest_peak(heat: &Heat, seen: Seen, highest: Celsius) -> Option<Celsius> {
    let preheat = heat.way.preheat;
    match seen {
        Seen::At(_, SeenBy::Target) => Some(highest),
        Seen::At(_, SeenBy::WorstCase) => Some(highest - tool_spread(heat.way.tool)),
        Seen::At(_, SeenBy::Coupling(k)) if k.factor() > 0.0 => {
            let rise = (highest - preheat).kelvin() / k.factor();
            // Rounded down: a window must never be too wide.
            KelvinStep::new((rise * 1000.0).floor() / 1000.0)
                .ok()
                .map(|rise| preheat + rise)
        }
        Seen::At(t, SeenBy::Computed { free, base, .. }) if free > highest => {
            let spread = tool_spread(heat.way.tool);
            // No place gets hotter than the target may; and from a lower peak on, what arrives
            // grows at most in proportion.
            let surely = highest - spread;
            if t > highest || t <= base {
                return Some(surely);
            }

            let share = (highest - base).kelvin() / (t - base).kelvin();
            let hottest = base + (heat.peak + spread - base).scaled(share);
            Some((hottest - spread - KelvinStep::from_millikelvin(1)).max(surely))
        }
        _ => None,
    }
}
