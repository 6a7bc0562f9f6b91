//! A step whose profile is stated stage by stage: how fast each stage goes, how long the target is liquid, and how
//! long each neighbour is above its first melt.

use crate::bench::{self, Seen, Setting, Verdict};
use crate::job::Stage;
use crate::quantity::{Celsius, KelvinStep, Ramp};

use super::check::{Checked, Place};

/// How long something is above a temperature.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Above {
    /// So many seconds.
    pub seconds: f64,
    /// And on: it is above it still where the stages end.
    pub still: bool,
}

/// One place of it.
#[derive(Clone, Debug)]
pub struct StagedPlace {
    /// Of what.
    pub of: Place,
    /// What it sees at the peak.
    pub seen: Seen,
    /// First melt or limit.
    pub limit: Option<Celsius>,
    /// How long it is above that; not known where nobody knows what it sees or bears.
    pub above: Option<Above>,
    /// Of the step.
    pub verdict: Verdict,
    /// It is told and does not count.
    pub may_melt: bool,
}

/// The stages of one step.
#[derive(Clone, Debug)]
pub struct Staged {
    /// Where they begin.
    pub room: Celsius,
    /// With how fast each goes.
    pub stages: Vec<(Stage, Ramp)>,
    /// Hottest of the target.
    pub peak: Celsius,
    /// What the target must reach to flow, and how long it is above that.
    pub liquid: Option<(Celsius, Above)>,
    /// Every other place, in the order of the job.
    pub places: Vec<StagedPlace>,
}

/// The stages of step `at` of a checked plan; `None` where it states none.
pub fn staged(setting: &Setting, checked: &Checked, at: usize) -> Option<Staged> {
    let step = &checked.steps[at];
    let way = step.way()?;
    let room = setting.job().ambient;
    let hottest = way.stages.iter().map(|stage| stage.to).max()?;
    let peak = step.passage.peak.unwrap_or(hottest);
    // A peak that was read above the stages lifts all of them.
    let lift = (peak - hottest).max(KelvinStep::ZERO);
    let above = |level: Celsius| {
        let (seconds, still) = bench::seconds_above(room, &way.stages, level - lift);
        Above { seconds, still }
    };
    let of_place = |seen: Seen, limit: Option<Celsius>| {
        let Seen::At(t, _) = seen else { return None };
        let never = Above {
            seconds: 0.0,
            still: false,
        };
        let level = bench::level_at_target((way.preheat, peak), t, limit?);
        Some(level.map_or(never, above))
    };
    let joints = step.passage.sights.iter().map(|sight| StagedPlace {
        of: Place::Joint(sight.joint),
        seen: sight.seen,
        limit: sight.melt.survival,
        above: of_place(sight.seen, sight.melt.survival),
        verdict: sight.verdict,
        may_melt: sight.may_melt,
    });
    let limits = step.passage.limits.iter().map(|sight| StagedPlace {
        of: Place::Limit(sight.of),
        seen: sight.seen,
        limit: Some(sight.limit),
        above: of_place(sight.seen, Some(sight.limit)),
        verdict: sight.verdict,
        may_melt: false,
    });
    let must = step.passage.target.as_ref().and_then(|t| t.must_reach);
    Some(Staged {
        room,
        stages: way
            .stages
            .iter()
            .copied()
            .zip(bench::ramps(room, &way.stages))
            .collect(),
        peak,
        liquid: must.map(|must| (must, above(must))),
        places: joints.chain(limits).collect(),
    })
}
