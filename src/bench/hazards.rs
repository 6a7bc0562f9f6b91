//! What a step does to things besides melting and limits: what falls, floats, tears, bursts, and what
//! nobody stated. Each of them is a finding with a verdict of its own.

use crate::alloy::Element;
use crate::job::{GuardIx, JointIx, Must, PartIx, Tool, WireIx, Work};
use crate::melt::{Contact, Layer};
use crate::policy;
use crate::quantity::Share;

use super::doing::Doing;
use super::exposure::{self, Heat, Seen};
use super::finding::{Finding, Rule, Subject};
use super::in_hand;
use super::judge;
use super::metal;
use super::passage::{LimitOf, Passage, Sight};
use super::prepare::{Metal, Outcome, Prepared, pad_area};
use super::ramp;
use super::rules;
use super::setting::Setting;
use super::settle::settle;
use super::state::Bench;
use super::thins;
use super::verdict::Verdict;

/// All of them, for a step that heats.
pub fn of(
    setting: &Setting,
    bench: &Bench,
    doing: &Doing,
    prepared: &Prepared,
    heat: &Heat,
    passage: &Passage,
) -> Vec<Finding> {
    let mut all = Vec::new();
    for sight in &passage.sights {
        beside_soft_solder(setting, bench, heat, sight, &mut all);
    }
    for metal in &prepared.metals {
        all.extend(target_falls(setting, bench, prepared, metal));
        all.extend(target_wires(setting, bench, doing, metal));
        all.extend(reflowed_in_glue(setting, bench, doing, metal));
        all.extend(amount(setting, doing, metal));
        all.extend(members(setting, bench, doing, prepared, heat, metal));
        all.extend(hot_tear(setting, doing, heat, metal));
        all.extend(thins::findings(setting, doing, prepared, heat, metal));
    }
    for p in 0..setting.job().parts.len() {
        all.extend(part_stated(setting, bench, heat, PartIx(p)));
        all.extend(part_dry(setting, bench, heat, PartIx(p)));
        all.extend(ramp::of(setting, bench, heat, PartIx(p)));
        all.extend(in_hand::loose_balls(
            setting,
            bench,
            prepared,
            heat,
            PartIx(p),
        ));
    }
    all.extend(in_hand::torn_balls(setting, bench, doing, prepared));
    all.extend(placed_hanging(setting, doing, prepared, heat));
    all.extend(in_hand::reaches_all(setting, bench, doing, prepared, heat));
    all.extend(strips(doing, heat));
    all.extend(enamel_stays(setting, doing, heat));
    all
}

/// Whether a joint that is no target holds or may hold liquid.
fn is_soft(sight: &Sight) -> bool {
    matches!(
        sight.verdict,
        Verdict::Softens | Verdict::Melts | Verdict::Unknown
    )
}

fn unless_unknown(sight: &Sight, otherwise: Verdict) -> Verdict {
    match sight.verdict {
        Verdict::Unknown => Verdict::Unknown,
        _ => otherwise,
    }
}

/// What hangs on, is tied to or lies over solder that gets soft.
fn beside_soft_solder(
    setting: &Setting,
    bench: &Bench,
    heat: &Heat,
    sight: &Sight,
    all: &mut Vec<Finding>,
) {
    if !is_soft(sight) {
        return;
    }
    let (job, at) = (setting.job(), sight.joint);
    let now = &bench.joints[at.0];
    let by = Subject::Joint(at);
    for part in now
        .parts
        .iter()
        .filter(|part| rules::falls(setting, **part))
    {
        let verdict = unless_unknown(sight, Verdict::Limit);
        all.push(Finding::new(Rule::Hangs, Subject::Part(*part), verdict).by(by));
    }
    // Nobody said what a part on the underside weighs, or that anything holds it. Whoever works on the underside
    // turns the board: then what stands on its upper side hangs.
    let turned = heat.joints.iter().any(|joint| job.joints[joint.0].under);
    let hangs = turned || job.joints[at.0].under;
    let unsaid = |part: &&PartIx| hangs && job.parts[part.0].hang.is_none();
    for part in now.parts.iter().filter(unsaid) {
        let of = Subject::Part(*part);
        all.push(Finding::new(Rule::Hangs, of, Verdict::Unknown).by(by));
    }
    for wire in now
        .wires
        .iter()
        .filter(|wire| floats(setting, now.under.as_slice(), **wire))
    {
        let verdict = unless_unknown(sight, Verdict::Limit);
        all.push(Finding::new(Rule::WireStays, Subject::Wire(*wire), verdict).by(by));
    }
    if job.joints[at.0].strained && now.wires.is_empty() && now.under.is_empty() {
        let verdict = unless_unknown(sight, Verdict::Limit);
        all.push(Finding::new(Rule::WireStays, by, verdict));
    }
    let under = job.joints[at.0].covered || !now.under.is_empty();
    if under && sight.may_melt {
        let verdict = unless_unknown(sight, Verdict::Limit);
        all.push(Finding::new(Rule::UnderCover, by, verdict));
    } else if sight.may_melt && judge::is_glued(setting, now) {
        all.push(Finding::new(Rule::UnderCover, by, Verdict::Unknown));
    }
}

/// More solder on a pad than a ball of three times its width: nobody knows where that goes.
fn amount(setting: &Setting, doing: &Doing, metal: &Metal) -> Option<Finding> {
    let at = metal.joint?;
    let puts_on = matches!(doing.step.work, Work::Solder { .. } | Work::Place { .. });
    let pad = pad_area(setting, at).filter(|_| puts_on)?;
    let mut volume = 0.0;
    for layer in metal.layers.iter().filter(|layer| !layer.unstated) {
        let density = layer.blend.composition()?.density().ok()?;
        volume += layer.blend.total().mg() / density.g_cm3();
    }
    let width = 2.0 * (pad.mm2() / std::f64::consts::PI).sqrt();
    let most = std::f64::consts::PI / 6.0 * (policy::PAD_HOLDS * width).powi(3);
    (volume > most)
        .then(|| Finding::new(Rule::Amount, Subject::Joint(at), Verdict::Unknown).by(Subject::Step))
}

/// A joint that is reflowed below a part that is glued.
fn reflowed_in_glue(
    setting: &Setting,
    bench: &Bench,
    doing: &Doing,
    metal: &Metal,
) -> Option<Finding> {
    let at = metal.joint?;
    let is_heat = matches!(doing.step.work, Work::OtherHeat { .. });
    (is_heat && judge::is_glued(setting, &bench.joints[at.0])).then(|| {
        Finding::new(Rule::UnderCover, Subject::Joint(at), Verdict::Unknown).by(Subject::Step)
    })
}

/// A wire floats off molten solder unless something holds it: a fact of the job, or a guard over the joint.
fn floats(setting: &Setting, under: &[GuardIx], wire: WireIx) -> bool {
    !setting.job().wires[wire.0].held && under.is_empty()
}

/// A part that hangs on joints which the step melts, and is not what the step takes in hand.
fn target_falls(
    setting: &Setting,
    bench: &Bench,
    prepared: &Prepared,
    metal: &Metal,
) -> Vec<Finding> {
    let Some(at) = metal.joint else {
        return Vec::new();
    };
    let hanging = bench.joints[at.0].parts.iter();
    hanging
        .filter(|part| prepared.part != Some(**part) && rules::falls(setting, **part))
        .map(|part| {
            Finding::new(Rule::Hangs, Subject::Part(*part), Verdict::Limit).by(Subject::Step)
        })
        .collect()
}

/// A part that hangs and is heavier than its solder holds, while the step that sets it or takes it off melts
/// that: a hand may hold it, or the board lie on its back; below an emitter, on a plate or in an oven neither is
/// sure.
fn placed_hanging(
    setting: &Setting,
    doing: &Doing,
    prepared: &Prepared,
    heat: &Heat,
) -> Option<Finding> {
    let handles = matches!(doing.step.work, Work::Place { .. } | Work::Remove { .. });
    let part = prepared
        .part
        .filter(|part| handles && rules::falls(setting, *part))?;
    let alone = matches!(heat.way.tool, Tool::Plate | Tool::Oven | Tool::Infrared);
    let verdict = if alone {
        Verdict::Limit
    } else {
        Verdict::Close
    };
    Some(Finding::new(Rule::Hangs, Subject::Part(part), verdict).by(Subject::Step))
}

/// Wires that are tied to what the step melts. A wire that is soldered again is in the hand; others float
/// unless each has a member of its own.
fn target_wires(setting: &Setting, bench: &Bench, doing: &Doing, metal: &Metal) -> Vec<Finding> {
    let Some(at) = metal.joint else {
        return Vec::new();
    };
    let (in_hand, one_by_one) = match doing.step.work {
        Work::Solder { wire, .. } => (wire, wire.is_some() && setting.job().joints[at.0].count > 1),
        _ => (None, false),
    };
    let now = &bench.joints[at.0];
    let facts = &setting.job().joints[at.0];
    let mut all = Vec::new();
    if facts.strained && now.standing && now.wires.is_empty() && now.under.is_empty() {
        let of = Subject::Joint(at);
        all.push(Finding::new(Rule::WireStays, of, Verdict::Close).by(Subject::Step));
    }
    let tied = now.wires.iter().filter(|wire| Some(**wire) != in_hand);
    let float = tied.filter(|wire| !one_by_one && floats(setting, &now.under, **wire));
    all.extend(float.map(|wire| {
        Finding::new(Rule::WireStays, Subject::Wire(*wire), Verdict::Close).by(Subject::Step)
    }));
    all
}

/// Where a group is soldered member by member, those that are done stand beside the next one. Joints that
/// may hold no liquid are judged by the share of the rise that the job states for the group itself; where
/// it states nothing of what arrives there, nobody knows.
fn members(
    setting: &Setting,
    bench: &Bench,
    doing: &Doing,
    prepared: &Prepared,
    heat: &Heat,
    metal: &Metal,
) -> Option<Finding> {
    let at = metal.joint.filter(|_| heat.goes_round(setting))?;
    // What comes off or is wicked does not stand beside the next one, unless it still holds something.
    let stands = prepared.next.joints[at.0].standing;
    if !stands || setting.job().joints[at.0].must == Must::MayMelt {
        return None;
    }
    let must_stay = judge::allowance(setting, bench, at) == Share::NONE
        || ties_loose_wires(setting, doing, bench, at);
    let seen = exposure::of_other_members(heat, at);
    // Who says what arrives in its zone or at its part has looked there: told as not assessed.
    if seen.is_none() && (!must_stay || exposure::is_spoken_for(setting, bench, heat, at)) {
        return None;
    }
    let of = Subject::Joint(at);
    let Some(Seen::At(t, _)) = seen else {
        return Some(Finding::new(Rule::Members, of, Verdict::Unknown).by(Subject::Step));
    };
    let (layers, contact) = settle(setting, &metal.layers, metal.contact, heat.peak);
    let (layers, contact) = match &metal.outcome {
        Outcome::WickedJoint(_, cleaning) => (cleaning.done_to(&layers), Contact::Layers),
        _ => (layers, contact),
    };
    let melt = setting.melt(&layers, contact);
    let sight = judge::joint(
        setting,
        bench,
        at,
        Seen::At(t, exposure::SeenBy::Stated),
        melt,
    );
    let mut finding = Finding::new(Rule::Members, of, sight.verdict).by(Subject::Step);
    finding.margin = sight.margin;
    Some(finding)
}

/// Whether a step ties wires, one to each member, that nothing holds: those that are tied float off as soon as
/// their member melts beside the next one.
fn ties_loose_wires(setting: &Setting, doing: &Doing, bench: &Bench, at: JointIx) -> bool {
    let Work::Solder {
        wire: Some(wire), ..
    } = doing.step.work
    else {
        return false;
    };
    floats(setting, &bench.joints[at.0].under, wire)
}

/// Low-melting bismuth solder below a ball that stays solid freezes last, while the package springs back:
/// it tears (K. Badwe and others, Circuits Assembly, February 2020; R. Harris and others, SMTA
/// International 2019; abstracts).
fn hot_tear(setting: &Setting, doing: &Doing, heat: &Heat, metal: &Metal) -> Option<Finding> {
    let at = metal.joint?;
    if !matches!(doing.step.work, Work::Place { .. }) {
        return None;
    }
    let (layers, contact) = settle(setting, &metal.layers, metal.contact, heat.peak);
    let bismuth = |layer: &Layer| metal::share_of(std::slice::from_ref(layer), Element::Bi);
    let some = |layer: &Layer| bismuth(layer) >= policy::TEARS_FROM;
    let tears = contact == Contact::Layers && layers.iter().any(some) && !layers.iter().all(some);
    tears.then(|| Finding::new(Rule::HotTear, Subject::Joint(at), Verdict::Close).by(Subject::Step))
}

/// A part that holds the data and has no stated limit, where a step really heats it: above what a body is
/// brought to undried in rework ([`policy::NEEDS_DRY`]), or nobody knows how hot.
fn part_stated(setting: &Setting, bench: &Bench, heat: &Heat, part: PartIx) -> Option<Finding> {
    let facts = &setting.job().parts[part.0];
    if !facts.vital || facts.limit.is_some() {
        return None;
    }
    let heated = match exposure::of_part(setting, bench, heat, part) {
        Seen::At(t, _) => t >= policy::NEEDS_DRY,
        Seen::UpTo(_) => true,
    };
    heated.then(|| Finding::new(Rule::LimitStated, Subject::Part(part), Verdict::Unknown))
}

/// A part that is known to be moist bursts above [`policy::NEEDS_DRY`].
fn part_dry(setting: &Setting, bench: &Bench, heat: &Heat, part: PartIx) -> Option<Finding> {
    let facts = &setting.job().parts[part.0];
    // Of what holds the data nobody may be silent.
    let unstated = facts.dry.is_none() && facts.vital;
    if bench.parts[part.0].dry || (facts.dry != Some(false) && !unstated) {
        return None;
    }
    let verdict = match exposure::of_part(setting, bench, heat, part) {
        Seen::At(t, _) if t < policy::NEEDS_DRY => return None,
        Seen::At(..) if !unstated => Verdict::Limit,
        Seen::At(..) | Seen::UpTo(_) => Verdict::Unknown,
    };
    Some(Finding::new(Rule::Dry, Subject::Part(part), verdict))
}

/// A tip that is stated and too cold leaves the enamel on.
fn strips(doing: &Doing, heat: &Heat) -> Option<Finding> {
    if !matches!(doing.step.work, Work::OtherHeat { strip: true, .. }) {
        return None;
    }
    let tip = heat.way.set.or(heat.way.peak)?;
    let cold = heat.way.tool == Tool::Iron && tip < policy::STRIPS_ENAMEL;
    cold.then(|| Finding::new(Rule::Strips, Subject::Step, Verdict::Close))
}

/// An enamelled wire that no step strips is stripped by the tip that solders it, if that is hot enough. Of an
/// iron of which nobody says how hot its tip is, nothing is said.
fn enamel_stays(setting: &Setting, doing: &Doing, heat: &Heat) -> Option<Finding> {
    let Work::Solder { joint, wire, .. } = doing.step.work else {
        return None;
    };
    let job = setting.job();
    // A step that names no wire ties all that ends there and that no other step ties.
    let unnamed = setting.facts().ends_untied(job, joint);
    let unnamed = unnamed.filter(|_| wire.is_none());
    let mut tied = wire.into_iter().chain(unnamed);
    tied.find(|wire| job.wires[wire.0].enamel_limit.is_some())?;
    let strips = |work: &Work| matches!(work, Work::OtherHeat { strip: true, .. });
    if job.steps.iter().any(|step| strips(&step.work)) {
        return None;
    }
    let tip = match (heat.way.tool, heat.way.set) {
        (Tool::Iron, set) => set?,
        (_, set) => set.unwrap_or(heat.peak),
    };
    (tip < policy::STRIPS_ENAMEL).then(|| Finding::new(Rule::Strips, Subject::Step, Verdict::Close))
}

/// The findings that sights, limits, target and refusals of a step are.
pub fn judged(passage: &Passage) -> Vec<Finding> {
    let sights = passage.sights.iter().map(|sight| Finding {
        counts: !sight.may_melt,
        margin: sight.margin,
        ..Finding::new(Rule::Survives, Subject::Joint(sight.joint), sight.verdict)
    });
    let limits = passage.limits.iter().map(|limit| Finding {
        margin: limit.margin,
        ..Finding::new(Rule::Limit, subject(limit.of), limit.verdict)
    });
    let target = passage.target.iter();
    let target = target.map(|t| Finding::new(Rule::Flows, Subject::Step, t.verdict()));
    let refused = passage.refusals.iter();
    let refused = refused.map(|r| Finding::new(Rule::Possible, Subject::Step, r.verdict()));
    sights.chain(limits).chain(target).chain(refused).collect()
}

/// Whom a limit is of.
pub const fn subject(of: LimitOf) -> Subject {
    match of {
        LimitOf::Part(part) | LimitOf::Heats(part) => Subject::Part(part),
        LimitOf::Guard(guard) => Subject::Guard(guard),
        LimitOf::Wire(wire) => Subject::Wire(wire),
    }
}

/// Joints whose solder the step leaves in doubt: nobody knows whether it flowed, or only part of it did.
pub fn doubtful<'p>(prepared: &'p Prepared<'_>) -> impl Iterator<Item = JointIx> + 'p {
    prepared.metals.iter().filter_map(|metal| metal.joint)
}
