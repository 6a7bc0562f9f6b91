//! Rules that are not melting: law, service, hanging weight, gold. Kept apart from the verdict on
//! melting, and each with its source.

use crate::alloy::Element;
use crate::job::{GuardIx, Hang, JointIx, PartIx, WireIx};
use crate::melt::{Basis, Melt};
use crate::policy;
use crate::quantity::{Celsius, KelvinStep, Mass, Share};

use super::finding::Subject;
use super::metal;
use super::setting::Setting;
use super::state::Bench;
use super::verdict::Verdict;

/// The heaviest that the molten solder of a hanging part may hold: the stricter of both rules.
pub fn hang_limit(hang: &Hang) -> Mass {
    let by_area = hang.area.mm2() * policy::HOLDS_BY_AREA;
    let by_edge = hang
        .edge
        .map_or(f64::INFINITY, |edge| edge.mm() * policy::HOLDS_BY_EDGE);
    Mass::from_mg(by_area.min(by_edge)).unwrap_or(Mass::ZERO)
}

/// Whether a hanging part falls once its solder is molten: it is heavier than the solder holds, and
/// nothing supports it.
pub fn falls(setting: &Setting, part: PartIx) -> bool {
    setting.job().parts[part.0]
        .hang
        .is_some_and(|hang| !hang.supported && hang.weight > hang_limit(&hang))
}

/// Hottest use of a joint by both rules; the stricter counts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ServiceLimit {
    /// First melt less 50 K (solder maker's rule, process.yaml S88).
    pub minus_50: Celsius,
    /// 0.9 × first melt in kelvin (solder maker's rule, process.yaml S89).
    pub ninety_percent: Celsius,
}

impl ServiceLimit {
    /// Both rules for a first melt.
    pub fn of(first_melt: Celsius) -> Self {
        ServiceLimit {
            minus_50: first_melt - policy::SERVICE_BELOW,
            ninety_percent: Celsius::from_kelvin(policy::SERVICE_SHARE * first_melt.kelvin()),
        }
    }

    /// The stricter of the two.
    pub fn stricter(&self) -> Celsius {
        self.minus_50.min(self.ninety_percent)
    }
}

/// What service means for one joint.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Service {
    /// Which.
    pub joint: JointIx,
    /// Its first melt.
    pub first_melt: Option<Celsius>,
    /// Both rules, for the first melt.
    pub limit: Option<ServiceLimit>,
    /// Holds within the stricter rule with more than the wanted margin; close with less, where only less
    /// than 1 mass% would be liquid, or where it hangs on what is known of some of the elements; limit beyond;
    /// unknown where nothing is known.
    pub verdict: Verdict,
}

/// Parts, guards and enamel that are there at the end and bear less than the board gets in use.
pub fn limits_in_service(setting: &Setting, end: &Bench) -> Vec<(Subject, Verdict)> {
    let job = setting.job();
    let Some(hottest) = job.want.service else {
        return Vec::new();
    };
    let parts = job.parts.iter().enumerate().filter(|(p, _)| {
        let now = &end.parts[*p];
        !now.on.is_empty() || now.lies
    });
    let parts = parts.map(|(p, part)| (Subject::Part(PartIx(p)), part.limit));
    let guards = job.guards.iter().enumerate();
    let guards = guards.filter(|(g, _)| end.guards[*g].exists);
    let guards = guards.map(|(g, guard)| (Subject::Guard(GuardIx(g)), Some(guard.limit)));
    let wires = job.wires.iter().enumerate();
    let wires = wires.filter(|(_, wire)| !wire.crosses.is_empty());
    let wires = wires.map(|(w, wire)| (Subject::Wire(WireIx(w)), wire.enamel_limit));
    let all = parts.chain(guards).chain(wires);
    let kept = |limit: Celsius| match limit - hottest {
        left if left.millikelvin() < 0 => Some(Verdict::Limit),
        // A limit is kept with the wanted margin, as in every step.
        left if left < job.want.margin => Some(Verdict::Close),
        _ => None,
    };
    all.filter_map(|(of, limit)| Some((of, kept(limit?)?)))
        .collect()
}

/// Every standing joint against a service temperature.
pub fn service(setting: &Setting, bench: &Bench, hottest: Celsius) -> Vec<Service> {
    let joints = bench.joints.iter().enumerate();
    joints
        .filter(|(_, joint)| joint.standing && !joint.layers.is_empty())
        .map(|(j, joint)| {
            let melt = setting.melt(&joint.layers, joint.contact);
            Service {
                joint: JointIx(j),
                first_melt: melt.first_melt,
                limit: melt.first_melt.map(ServiceLimit::of),
                verdict: service_verdict(setting.job().want.margin, &melt, hottest),
            }
        })
        .collect()
}

/// The verdict of both rules on one joint or alloy.
pub fn service_verdict(margin: KelvinStep, melt: &Melt, hottest: Celsius) -> Verdict {
    // What the data may be wrong by is no margin.
    let Some(first_melt) = melt
        .first_melt
        .map(|t| melt.survival.map_or(t, |s| t.min(s)))
    else {
        return Verdict::Unknown;
    };
    let left = ServiceLimit::of(first_melt).stricter() - hottest;
    // A rule of thumb that is just kept is not kept with a margin, and a floor of some of the elements proves nothing.
    if left > margin && !melt.is_of_subset() {
        return Verdict::Holds;
    }
    if left.millikelvin() >= 0 {
        return Verdict::Close;
    }
    let serious = ServiceLimit::of(much_liquid_from(melt, first_melt)).stricter();
    if hottest <= serious {
        Verdict::Close
    } else {
        Verdict::Limit
    }
}

/// Where 1 mass% is liquid: the first melt itself unless the curve shows that less melts there.
fn much_liquid_from(melt: &Melt, first_melt: Celsius) -> Celsius {
    let weak = matches!(melt.basis, Basis::Floor | Basis::Unknown);
    let much = |t| {
        melt.liquid_at(t)
            .is_none_or(|share| share >= policy::SERVICE_LIQUID)
    };
    if weak || much(first_melt) {
        return first_melt;
    }
    let (mut below, mut above) = (first_melt, melt.flow_point.unwrap_or(first_melt));
    while above - below > KelvinStep::from_millikelvin(10) {
        let middle = below + (above - below).scaled(0.5);
        if much(middle) {
            above = middle;
        } else {
            below = middle;
        }
    }
    below
}

/// Which law or embrittlement rule a joint touches.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Law {
    /// Lead in a job that must stay lead-free.
    Lead,
    /// Cadmium.
    Cadmium,
    /// Gold enough to embrittle.
    Gold,
}

impl Law {
    /// The element and its limit.
    pub const fn limit(self) -> (Element, Share) {
        match self {
            Law::Lead => (Element::Pb, policy::LEAD_LIMIT),
            Law::Cadmium => (Element::Cd, policy::CADMIUM_LIMIT),
            Law::Gold => (Element::Au, policy::GOLD_LIMIT),
        }
    }
}

/// A joint that holds more of something than a rule allows.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Breach {
    /// Which joint.
    pub joint: JointIx,
    /// Which rule.
    pub rule: Law,
    /// What it holds.
    pub share: Share,
}

impl Breach {
    /// What a breach makes of a plan: law is a limit (cadmium unless the job accepts it), gold a
    /// caution.
    pub fn verdict(&self, setting: &Setting) -> Verdict {
        match self.rule {
            Law::Cadmium if setting.job().want.cadmium_accepted => Verdict::Holds,
            Law::Lead | Law::Cadmium => Verdict::Limit,
            Law::Gold => Verdict::Close,
        }
    }
}

/// Whether that much gold embrittles a metal with that much tin: above [`policy::GOLD_LIMIT`].
pub fn is_brittle(gold: Share, tin: Share) -> bool {
    gold > policy::GOLD_LIMIT && tin >= policy::TIN_RICH
}

/// Every breach on a bench; unmixed layers count as the joint that they are in.
pub fn breaches(setting: &Setting, bench: &Bench) -> Vec<Breach> {
    let mut breaches = Vec::new();
    for (j, joint) in bench.joints.iter().enumerate() {
        for rule in [Law::Lead, Law::Cadmium, Law::Gold] {
            if rule == Law::Lead && !setting.job().want.lead_free {
                continue;
            }
            let (element, limit) = rule.limit();
            let share = metal::share_of(&joint.layers, element);
            let tin = metal::share_of(&joint.layers, Element::Sn);
            let broken = match rule {
                Law::Gold => is_brittle(share, tin),
                Law::Lead | Law::Cadmium => share > limit,
            };
            if broken {
                breaches.push(Breach {
                    joint: JointIx(j),
                    rule,
                    share,
                });
            }
        }
    }
    breaches
}
