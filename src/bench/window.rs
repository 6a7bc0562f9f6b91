//! Between what temperatures the peak of a step must lie, and who sets the upper end.

use crate::policy;
use crate::quantity::{Celsius, KelvinStep};

use super::exposure::{self, Heat, Seen, SeenBy};
use super::passage::{LimitOf, Passage, SetBy, Window};
use super::setting::Setting;
use super::state::Bench;

/// The window of a step.
pub fn of(setting: &Setting, bench: &Bench, heat: Option<&Heat>, passage: &Passage) -> Window {
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
            let of = SetBy::Joint(sight.joint);
            let at = |heat: &Heat| field_at(setting, bench, heat, of);
            Some((highest_peak(heat, sight.seen, highest, from, at)?, of))
        });
    let limits = passage.limits.iter().filter_map(|sight| {
        let of = SetBy::Limit(sight.of);
        let at = |heat: &Heat| field_at(setting, bench, heat, of);
        Some((
            highest_peak(heat, sight.seen, sight.limit - margin, from, at)?,
            of,
        ))
    });
    let lowest = joints
        .chain(limits)
        .min_by_key(|(to, _)| *to)
        .filter(|(to, _)| *to < policy::HOTTEST_TOOL);
    Window {
        from,
        to: lowest.map(|(to, _)| to),
        set_by: lowest.map(|(_, by)| by),
    }
}

/// The peak at which a place would just see `highest`; `None` where what it sees does not follow
/// the peak.
fn highest_peak(
    heat: &Heat,
    seen: Seen,
    highest: Celsius,
    from: Option<Celsius>,
    at: impl Fn(&Heat) -> Option<Celsius>,
) -> Option<Celsius> {
    let preheat = heat.way.preheat;
    match seen {
        Seen::At(_, SeenBy::Target) => Some(highest),
        Seen::At(_, SeenBy::Coupling(k)) if k.factor() > 0.0 => {
            let rise = (highest - preheat).kelvin() / k.factor();
            // Rounded down: a window must never be too wide.
            KelvinStep::new((rise * 1000.0).floor() / 1000.0)
                .ok()
                .map(|rise| preheat + rise)
        }
        Seen::At(t, SeenBy::Computed { free, .. }) if free > highest => {
            Some(proven(heat, (t, highest), from, at))
        }
        Seen::At(t, SeenBy::Top(_)) => Some(proven(heat, (t, highest), from, at)),
        _ => None,
    }
}

/// A place in the field, which is worked out for one peak at a time: up to that peak, where what is seen there is
/// low enough. Else the lowest peak at which the target flows, if it is low enough there; and if not, no peak is:
/// the board before the tool.
fn proven(
    heat: &Heat,
    (seen, highest): (Celsius, Celsius),
    from: Option<Celsius>,
    at: impl Fn(&Heat) -> Option<Celsius>,
) -> Celsius {
    if seen <= highest {
        return heat.peak;
    }
    let lowest = from.filter(|from| *from < heat.peak);
    let holds = |peak: &Celsius| {
        at(&Heat {
            peak: *peak,
            ..*heat
        })
        .is_some_and(|t| t <= highest)
    };
    lowest.filter(holds).unwrap_or(heat.way.preheat)
}

/// What the field says of a place at another peak.
fn field_at(setting: &Setting, bench: &Bench, heat: &Heat, of: SetBy) -> Option<Celsius> {
    let seen = match of {
        SetBy::Joint(joint) => exposure::modelled_joint(setting, heat, joint),
        SetBy::Limit(LimitOf::Part(part)) if heat.part == Some(part) => {
            return exposure::top(setting, heat).map(|top| top.high.max(heat.peak));
        }
        SetBy::Limit(LimitOf::Part(part)) => exposure::modelled_part(setting, bench, heat, part),
        SetBy::Limit(LimitOf::Guard(guard)) => exposure::modelled_guard(setting, heat, guard),
        SetBy::Limit(LimitOf::Wire(_) | LimitOf::Heats(_)) => None,
    };
    match seen? {
        Seen::At(t, _) => Some(t),
        Seen::UpTo(_) => None,
    }
}
