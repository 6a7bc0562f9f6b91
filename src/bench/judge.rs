//! Verdicts: what a temperature means for a joint, and for a limit.

use std::sync::Arc;

use crate::job::{Adhesive, GuardIx, GuardKind, JointIx, Must, PartIx};
use crate::melt::Melt;
use crate::policy;
use crate::quantity::{Celsius, KelvinStep, Share};

use super::exposure::Seen;
use super::passage::{LimitOf, LimitSight, Sight};
use super::setting::Setting;
use super::state::{Bench, JointNow};
use super::verdict::Verdict;

/// What a joint goes through at a temperature.
pub fn joint(setting: &Setting, bench: &Bench, at: JointIx, seen: Seen, melt: Arc<Melt>) -> Sight {
    let may_melt =
        setting.job().joints[at.0].must == Must::MayMelt || is_given_up(setting, bench, at);
    let allowance = allowance(setting, bench, at);
    let (margin, verdict) = metal(setting, seen, &melt, allowance);
    let liquid = match seen {
        Seen::At(t, _) => melt.liquid_at(t),
        Seen::UpTo(_) => None,
    };
    Sight {
        joint: at,
        seen,
        melt,
        margin,
        liquid,
        verdict,
        may_melt,
    }
}

/// What metal that may hold so much liquid goes through: what is left, where that is known, and the verdict.
pub(super) fn metal(
    setting: &Setting,
    seen: Seen,
    melt: &Melt,
    allowance: Share,
) -> (Option<KelvinStep>, Verdict) {
    match seen {
        Seen::At(t, _) => (
            melt.survival.map(|survival| survival - t),
            at_temperature(setting, melt, t, allowance),
        ),
        Seen::UpTo(top) => (None, if_holds_at_all(setting, melt, top)),
    }
}

/// Whether nobody needs a joint any more: it stands as it was found, and a step that must be done takes it
/// off. What is covered, pulled at or must stay solid is not given up.
fn is_given_up(setting: &Setting, bench: &Bench, at: JointIx) -> bool {
    let now = &bench.joints[at.0];
    let job = setting.job();
    setting.facts().comes_off(at)
        && now.as_found
        && !now.is_covered(job, at)
        && !now.is_pulled(job, at)
        && job.joints[at.0].must != Must::StaySolid
}

fn at_temperature(setting: &Setting, melt: &Melt, t: Celsius, allowance: Share) -> Verdict {
    let Some(survival) = melt.survival else {
        return Verdict::Unknown;
    };
    // At the survival temperature itself some of it is liquid, whatever margin is asked for.
    if t >= survival {
        return match melt.liquid_at(t) {
            Some(share) if share <= allowance => Verdict::Softens,
            _ => Verdict::Melts,
        };
    }
    let narrow = survival - t < setting.job().want.margin;
    if narrow || trace_at(melt, t) || melt.is_of_subset() {
        Verdict::Close
    } else {
        Verdict::Holds
    }
}

/// Where only the tool's own temperature bounds what a joint sees: what it would be there, if it keeps the
/// wanted margin; else nobody knows.
fn if_holds_at_all(setting: &Setting, melt: &Melt, top: Option<Celsius>) -> Verdict {
    let wanted = setting.job().want.margin;
    match (top, melt.survival) {
        (Some(t), Some(survival)) if t < survival && survival - t >= wanted => {
            at_temperature(setting, melt, t, Share::NONE)
        }
        _ => Verdict::Unknown,
    }
}

fn trace_at(melt: &Melt, t: Celsius) -> bool {
    melt.trace.is_some_and(|(from, _)| t >= from)
}

/// Liquid that a joint may hold: none when covered or glued over, under pull, hanging, or when it must stay solid.
pub fn allowance(setting: &Setting, bench: &Bench, at: JointIx) -> Share {
    let now = &bench.joints[at.0];
    let hanging = |part: &PartIx| {
        setting.job().parts[part.0]
            .hang
            .is_some_and(|h| !h.supported)
    };
    let hangs = now.parts.iter().any(hanging);
    let solid = setting.job().joints[at.0].must == Must::StaySolid;
    let strained = setting.job().joints[at.0].strained;
    // Glue below a body lets no solder out but along the board.
    let is_glue = |guard: &GuardIx| setting.job().guards[guard.0].kind == GuardKind::Glue;
    let glued = now.under.iter().any(is_glue);
    let glued = glued || is_glued(setting, now);
    if now.is_covered(setting.job(), at) || glued || strained || hangs || solid {
        Share::NONE
    } else {
        policy::MOVES_FROM
    }
}

/// Whether glue holds a part that stands on a joint, or may: nobody knows whether it fills the gap below the
/// body, where molten solder swells and finds its way along the glue into the next joint.
pub(super) fn is_glued(setting: &Setting, now: &JointNow) -> bool {
    let holds = |part: &PartIx| setting.job().parts[part.0].adhesive != Adhesive::None;
    now.parts.iter().any(holds)
}

/// What a part, guard or wire goes through.
pub fn limit(setting: &Setting, of: LimitOf, seen: Seen, limit: Celsius) -> LimitSight {
    let margin = match seen {
        Seen::At(t, _) => Some(limit - t),
        Seen::UpTo(_) => None,
    };
    let wanted = setting.job().want.margin;
    let verdict = match seen {
        Seen::At(t, _) | Seen::UpTo(Some(t)) if limit - t >= wanted => Verdict::Holds,
        Seen::At(t, _) | Seen::UpTo(Some(t)) if limit >= t => Verdict::Close,
        Seen::At(..) => Verdict::Limit,
        Seen::UpTo(_) => Verdict::Unknown,
    };
    LimitSight {
        of,
        seen,
        limit,
        margin,
        verdict,
    }
}
