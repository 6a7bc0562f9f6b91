//! Verdicts: what a temperature means for a joint, and for a limit.

use std::sync::Arc;

use crate::job::{JointIx, Must};
use crate::melt::{Basis, Doubt, Melt};
use crate::quantity::{Celsius, Share};

use super::exposure::Seen;
use super::passage::{LimitOf, LimitSight, Sight};
use super::setting::Setting;
use super::state::Bench;
use super::verdict::Verdict;

/// Liquid that a light, free, upright joint may hold without letting its part move: 5 mass% (our
/// judgement, design value).
pub const ALLOWANCE: f64 = 0.05;

/// What a joint goes through at a temperature.
pub fn joint(setting: &Setting, bench: &Bench, at: JointIx, seen: Seen, melt: Arc<Melt>) -> Sight {
    let must = setting.job().joints[at.0].must;
    let allowance = allowance(setting, bench, at);
    let hottest = match seen {
        Seen::At(t, _) => Some(t),
        Seen::UpTo(_) => None,
    };
    let margin = hottest.zip(melt.survival).map(|(t, survival)| survival - t);
    let liquid = hottest.and_then(|t| melt.liquid_at(t));
    let verdict = match seen {
        Seen::At(t, _) => at_temperature(setting, &melt, t, allowance),
        Seen::UpTo(top) => if_holds_at_all(setting, &melt, top),
    };
    Sight {
        joint: at,
        seen,
        melt,
        margin,
        liquid,
        verdict,
        may_melt: must == Must::MayMelt,
    }
}

fn at_temperature(setting: &Setting, melt: &Melt, t: Celsius, allowance: Share) -> Verdict {
    let Some(survival) = melt.survival else {
        return Verdict::Unknown;
    };
    let margin = survival - t;
    if margin >= setting.job().want.margin {
        return capped(
            melt,
            if trace_at(melt, t) {
                Verdict::Close
            } else {
                Verdict::Holds
            },
        );
    }
    if margin.millikelvin() >= 0 {
        return Verdict::Close;
    }
    match melt.liquid_at(t) {
        Some(share) if share <= allowance => Verdict::Softens,
        _ => Verdict::Melts,
    }
}

/// Where only the tool's own temperature bounds what a joint sees.
fn if_holds_at_all(setting: &Setting, melt: &Melt, top: Option<Celsius>) -> Verdict {
    match (top, melt.survival) {
        (Some(t), Some(survival)) if survival - t >= setting.job().want.margin => {
            capped(melt, Verdict::Holds)
        }
        _ => Verdict::Unknown,
    }
}

fn trace_at(melt: &Melt, t: Celsius) -> bool {
    melt.trace.is_some_and(|(from, _)| t >= from)
}

/// A floor taken from a subset of the elements is no proof: at best `close`.
fn capped(melt: &Melt, verdict: Verdict) -> Verdict {
    let subset = melt.basis == Basis::Floor && melt.doubts.contains(&Doubt::FloorOfSubset);
    if subset {
        verdict.max(Verdict::Close)
    } else {
        verdict
    }
}

/// Liquid that a joint may hold: none when covered, under pull, hanging, or when it must stay solid.
pub fn allowance(setting: &Setting, bench: &Bench, at: JointIx) -> Share {
    let now = &bench.joints[at.0];
    let hangs = now
        .part
        .is_some_and(|part| setting.job().parts[part.0].hang.is_some());
    let solid = setting.job().joints[at.0].must == Must::StaySolid;
    let strained = setting.job().joints[at.0].strained;
    if now.covered || strained || hangs || solid {
        Share::NONE
    } else {
        Share::nearest(ALLOWANCE)
    }
}

/// What a part, guard or wire goes through.
pub fn limit(setting: &Setting, of: LimitOf, seen: Seen, limit: Celsius) -> LimitSight {
    let margin = match seen {
        Seen::At(t, _) => Some(limit - t),
        Seen::UpTo(_) => None,
    };
    let verdict = match (margin, seen) {
        (Some(margin), _) if margin >= setting.job().want.margin => Verdict::Holds,
        (Some(margin), _) if margin.millikelvin() >= 0 => Verdict::Close,
        (Some(_), _) => Verdict::Limit,
        (None, Seen::UpTo(Some(top))) if limit >= top => Verdict::Holds,
        (None, _) => Verdict::Unknown,
    };
    LimitSight {
        of,
        seen,
        limit,
        margin,
        verdict,
    }
}
