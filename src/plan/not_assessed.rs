//! What a checked plan could not judge because nobody stated it.

use crate::bench::{LimitOf, Note, Passage, Seen, SeenBy, Setting, electric, solder_choice};
use crate::job::{Choice, JointIx, PartIx, StepIx, Tool, Way, Where, WireIx, Work};

use super::check::{Checked, CheckedStep, Ledger};

/// Something that no rule could look at.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum NotAssessed {
    /// A part that is heated, and whose limit nobody stated.
    LimitOf(PartIx),
    /// Whether it is dry before it gets hot.
    DryOf(PartIx),
    /// How many heats it still takes: it holds the data and has had more than a few.
    HeatsOf(PartIx),
    /// How much hotter than its joints the top of the body gets that the air blows at.
    TopOf(PartIx),
    /// Whether a wire is wanted off: no step ties it, and both of its ends are wicked.
    WantedOff(WireIx),
    /// How little a wick leaves on a part: nobody said how wide its pads are, so all that was there counts.
    PadsOf(PartIx),
    /// Whether the tip that solders an enamelled wire strips it: no step does, and nobody said how hot the tip is.
    Strips(WireIx),
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
        all.extend(of_top(setting, step));
        all.extend(of_members(setting, step));
        all.extend(at_hand(setting, step));
        all.extend(strips(setting, step));
        all.extend(of_pads(setting, step));
    }
    all.extend(of_heats(setting, checked));
    let wires = (0..job.wires.len()).map(WireIx);
    let off = wires.filter(|wire| electric::is_wanted_off(job, *wire));
    all.extend(off.map(NotAssessed::WantedOff));
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

/// Three reflow heats are what a plastic body is tested for (J-STD-020E, from memory).
const TESTED_HEATS: u32 = 3;

fn of_heats<'c>(
    setting: &'c Setting,
    checked: &'c Checked,
) -> impl Iterator<Item = NotAssessed> + 'c {
    let unsaid = |ledger: &&Ledger| {
        let facts = &setting.job().parts[ledger.part.0];
        let all = ledger.before.saturating_add(ledger.heats);
        facts.vital && facts.heats_left.is_none() && ledger.heats > 0 && all > TESTED_HEATS
    };
    let ledgers = checked.ledgers.iter().filter(unsaid);
    ledgers.map(|ledger| NotAssessed::HeatsOf(ledger.part))
}

/// Air meets the top of a body before it warms its joints; where neither a field nor a reading nor the job says
/// by how much, the body is counted as hot as they are.
fn of_top(setting: &Setting, step: &CheckedStep) -> Option<NotAssessed> {
    let part = match &step.planned.step.work {
        Work::Remove { part, .. } | Work::Place { part, .. } | Work::Reball { part, .. } => *part,
        _ => return None,
    };
    let way = step.way().filter(|way| way.tool == Tool::Air)?;
    setting.job().parts[part.0].limit?;
    let of = LimitOf::Part(part);
    let limit = step.passage.limits.iter().find(|limit| limit.of == of)?;
    let by_its_joints = matches!(limit.seen, Seen::At(_, SeenBy::Target));
    (!says(way, Where::Part(part)) && by_its_joints).then_some(NotAssessed::TopOf(part))
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

fn of_pads(setting: &Setting, step: &CheckedStep) -> Option<NotAssessed> {
    let Work::Clean {
        part: Some(part), ..
    } = step.planned.step.work
    else {
        return None;
    };
    let facts = &setting.job().parts[part.0];
    let carries = !step.before.parts[part.0].carries.is_empty();
    (carries && facts.pad.is_none() && facts.balls.is_none()).then_some(NotAssessed::PadsOf(part))
}

fn strips(setting: &Setting, step: &CheckedStep) -> Vec<NotAssessed> {
    let job = setting.job();
    let Work::Solder { joint, .. } = step.planned.step.work else {
        return Vec::new();
    };
    let mut works = job.steps.iter().map(|step| &step.work);
    let stripped = works.any(|work| matches!(work, Work::OtherHeat { strip: true, .. }));
    let unsaid = |way: &Way| way.tool == Tool::Iron && way.set.is_none() && way.described.is_none();
    if stripped || !step.way().is_some_and(unsaid) {
        return Vec::new();
    }
    let before = &step.before.joints[joint.0].wires;
    let tied = step.passage.next.joints[joint.0].wires.iter();
    let new =
        tied.filter(|wire| !before.contains(wire) && job.wires[wire.0].enamel_limit.is_some());
    new.map(|wire| NotAssessed::Strips(*wire)).collect()
}

fn of_members(setting: &Setting, step: &CheckedStep) -> Option<NotAssessed> {
    let Work::Solder { joint, .. } = step.planned.step.work else {
        return None;
    };
    let way = step.way()?;
    let local = matches!(way.tool, Tool::Iron | Tool::Tweezers);
    let many = setting.job().joints[joint.0].count > 1;
    (local && many && !says(way, Where::Joint(joint))).then_some(NotAssessed::Members(joint))
}

/// Whether something is stated of that very place.
fn says(way: &Way, place: Where) -> bool {
    let is_it = |key: &Where| *key == place;
    way.couplings.iter().any(|(key, _)| is_it(key)) || way.sees.iter().any(|(key, _)| is_it(key))
}
