//! How fast a part is heated and cooled, against what it bears: ceramics crack.

use crate::job::PartIx;
use crate::quantity::{KelvinStep, Ramp};

use super::exposure::{self, Heat, Seen, SeenBy};
use super::finding::{Finding, Rule, Subject};
use super::setting::Setting;
use super::stages;
use super::state::Bench;
use super::verdict::Verdict;

/// A stage is taken as a straight line, and no hand and no controller goes straight: more than this share of the limit is
/// close to it (our judgement).
const STRAIGHT: f64 = 0.8;

/// A rise or fall of the body by so much breaks nothing, however fast: a half of the 100 to 150 K that guides for ceramic
/// capacitors allow between preheat and solder (makers' soldering guides, from memory).
const HARMLESS: KelvinStep = KelvinStep::whole(50);

/// A part with a limit, where the step heats it. Where nobody knows how fast, that is unknown.
pub fn of(setting: &Setting, bench: &Bench, heat: &Heat, part: PartIx) -> Option<Finding> {
    let most = setting.job().parts[part.0].ramp?;
    let seen = exposure::of_part(setting, bench, heat, part);
    let rise = match seen {
        Seen::At(_, SeenBy::NotHeated) => return None,
        Seen::At(t, _) if t - setting.job().ambient <= HARMLESS => return None,
        Seen::At(t, _) => Some(t - heat.way.preheat),
        Seen::UpTo(_) => None,
    };
    let found = if heat.way.stages.is_empty() {
        exposure::fastest(setting, bench, heat, part)
    } else {
        by_stages(setting, heat, rise)
    };
    let verdict = match found {
        Some(found) if found > most => Verdict::Limit,
        Some(found) if found > most.scaled(STRAIGHT) => Verdict::Close,
        Some(_) => return None,
        None if rise.is_some_and(|rise| rise <= HARMLESS) => return None,
        None => Verdict::Unknown,
    };
    Some(Finding::new(Rule::Ramp, Subject::Part(part), verdict))
}

/// By the stages of the target: a place that sees more of the rise goes as much faster, and one that sees less no slower,
/// since the board below it may be preheated with it. None where they do not say how it cools, or it is not known
/// what the place sees.
fn by_stages(setting: &Setting, heat: &Heat, rise: Option<KelvinStep>) -> Option<Ramp> {
    let room = setting.job().ambient;
    let last = heat.way.stages.last()?;
    if heat.blind || last.to - room > HARMLESS {
        return None;
    }
    let hottest = heat.way.stages.iter().map(|stage| stage.to).max()?;
    let planned = (hottest - heat.way.preheat).kelvin();
    let arrives = rise?.kelvin();
    let share = if planned > 0.0 {
        arrives / planned
    } else {
        1.0
    };
    let fastest = stages::fastest_of(room, &heat.way.stages)?;
    Some(fastest.scaled(share.max(1.0)))
}
