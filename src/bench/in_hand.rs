//! Hazards of parts that are off the board or in hand: loose balls, and a tool that reaches one joint at a time.

use crate::job::{PartIx, Tool, Work};
use crate::policy;
use crate::quantity::Share;

use super::doing::Doing;
use super::exposure::{self, Heat, Seen, SeenBy};
use super::finding::{Finding, Rule, Subject};
use super::judge;
use super::prepare::{Prepared, is_torn};
use super::setting::Setting;
use super::state::Bench;
use super::verdict::Verdict;

/// Balls on a part that is off the board are solder too: they see what its body sees, and may hold no
/// liquid. Those that the step balls, wicks or sets down are its target.
pub(super) fn loose_balls(
    setting: &Setting,
    bench: &Bench,
    prepared: &Prepared,
    heat: &Heat,
    part: PartIx,
) -> Option<Finding> {
    let now = &bench.parts[part.0];
    let is_target = prepared.metals.iter().any(|m| m.part == Some(part));
    if now.carries.is_empty() || !now.on.is_empty() || is_target {
        return None;
    }
    let seen = exposure::of_part(setting, bench, heat, part);
    if matches!(seen, Seen::At(_, SeenBy::NotHeated)) {
        return None;
    }
    let melt = setting.melt(&now.carries, now.contact);
    let (margin, verdict) = judge::metal(setting, seen, &melt, Share::NONE);
    let mut finding = Finding::new(Rule::Balls, Subject::Part(part), verdict);
    finding.margin = margin;
    Some(finding)
}

/// Whether an iron or tweezers can do what all balls below a body must do at once: let it be lifted, or
/// collapse. A part that was moved lies on its back or is wired by hand: its balls are in the open. Leads stand
/// outside the body, where solder flooded along them reaches; else the job must say what share of the rise
/// arrives at all of them.
pub(super) fn reaches_all(
    setting: &Setting,
    bench: &Bench,
    doing: &Doing,
    prepared: &Prepared,
    heat: &Heat,
) -> Option<Finding> {
    // Solder that is flooded along leads does not get below a body either.
    let floods = matches!(doing.step.work, Work::Remove { flood: Some(_), .. });
    let local = floods || matches!(heat.way.tool, Tool::Iron | Tool::Tweezers);
    let part = prepared.part?;
    let at_once = matches!(doing.step.work, Work::Remove { .. } | Work::Place { .. });
    let below = setting.job().parts[part.0].balls.is_some() && !was_moved(setting, bench, part);
    let members = prepared.joints.iter().fold(0_u32, |sum, joint| {
        sum.saturating_add(setting.job().joints[joint.0].count)
    });
    // Hot tweezers take a body from two sides, over all of its leads.
    let lifts =
        matches!(doing.step.work, Work::Remove { flood: None, .. }) && heat.way.tool == Tool::Iron;
    let mut joints = prepared.joints.iter();
    let is_said = joints.all(|joint| exposure::of_other_members(heat, *joint).is_some());
    let beside = lifts && setting.job().parts[part.0].balls.is_none() && !is_said;
    (local && at_once && (below || beside) && members > policy::AT_ONCE).then(|| {
        Finding::new(Rule::AtOnce, Subject::Part(part), Verdict::Unknown).by(Subject::Step)
    })
}

/// Whether a part was taken elsewhere by a step: it lies on its back since, or where it was put.
fn was_moved(setting: &Setting, bench: &Bench, part: PartIx) -> bool {
    let now = &bench.parts[part.0];
    now.lies || now.zone != setting.job().parts[part.0].zone
}

/// A part that is set down with what is left of its balls: some are too low to touch, and nobody knows which
/// (common practice, no source: a lifted part is dressed and balled anew).
pub(super) fn torn_balls(
    setting: &Setting,
    bench: &Bench,
    doing: &Doing,
    prepared: &Prepared,
) -> Option<Finding> {
    let part = prepared.part?;
    let sets = matches!(doing.step.work, Work::Place { .. });
    let torn = sets && is_torn(setting, &bench.parts[part.0], part);
    torn.then(|| Finding::new(Rule::Balls, Subject::Part(part), Verdict::Unknown).by(Subject::Step))
}
