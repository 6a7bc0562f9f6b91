//! What a checked plan could not judge because nobody stated it.

use crate::bench::{Note, Passage, Setting, solder_choice};
use crate::job::{Choice, JointIx, PartIx, StepIx, Tool, Work};

use super::check::{Checked, CheckedStep};

/// Something that no rule could look at.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum NotAssessed {
    /// A part that is heated, and whose limit nobody stated.
    LimitOf(PartIx),
    /// Whether it is dry before it gets hot.
    DryOf(PartIx),
    /// Members of a group that is soldered one by one.
    Members(JointIx),
    /// Whether its solder is at hand: a step names one that is not in the job's stock.
    AtHand(StepIx),
    /// The finished board in use.
    Service,
    /// What is measured before power.
    Power,
}

/// All of it, in a fixed order.
pub fn not_assessed(setting: &Setting, checked: &Checked) -> Vec<NotAssessed> {
    let job = setting.job();
    let open = || {
        checked
            .steps
            .iter()
            .filter(|step| step.planned.log.is_none())
    };
    let mut all = Vec::new();
    for step in open() {
        all.extend(of_parts(setting, &step.passage));
        all.extend(of_members(setting, step));
        all.extend(at_hand(setting, step));
    }
    let heats = open().any(|step| step.passage.peak.is_some());
    if heats && job.want.service.is_none() {
        all.push(NotAssessed::Service);
    }
    let checks = |work: &Work| matches!(work, Work::Power | Work::Gate { short_check: true });
    if heats
        && !checked
            .steps
            .iter()
            .any(|step| checks(&step.planned.step.work))
    {
        all.push(NotAssessed::Power);
    }
    all.sort();
    all.dedup();
    all
}

fn of_parts(setting: &Setting, passage: &Passage) -> Vec<NotAssessed> {
    let unlimited = |part: &PartIx| setting.job().parts[part.0].limit.is_none();
    let heated = passage.heats.iter().map(|(part, _)| *part);
    let moist = passage.notes.iter().filter_map(|note| match note {
        Note::Moisture(part) => Some(NotAssessed::DryOf(*part)),
        _ => None,
    });
    heated
        .filter(unlimited)
        .map(NotAssessed::LimitOf)
        .chain(moist)
        .collect()
}

fn at_hand(setting: &Setting, step: &CheckedStep) -> Option<NotAssessed> {
    let stock = &setting.job().stock;
    let Choice::Fixed(named) = solder_choice(&step.planned.step.work)? else {
        return None;
    };
    let at = setting
        .job()
        .steps
        .iter()
        .position(|own| own.id == step.planned.step.id)?;
    (!stock.is_empty() && !stock.contains(named)).then_some(NotAssessed::AtHand(StepIx(at)))
}

fn of_members(setting: &Setting, step: &CheckedStep) -> Option<NotAssessed> {
    let Work::Solder { joint, .. } = step.planned.step.work else {
        return None;
    };
    let way = step.way()?;
    let local = matches!(way.tool, Tool::Iron | Tool::Tweezers);
    let many = setting.job().joints[joint.0].count > 1;
    let stated = |place: crate::job::Where| place == crate::job::Where::Joint(joint);
    let said = way.couplings.iter().any(|(place, _)| stated(*place))
        || way.sees.iter().any(|(place, _)| stated(*place));
    (local && many && !said).then_some(NotAssessed::Members(joint))
}
