//! What a technician should know beside the verdict of a step.

use crate::alloy::Element;
use crate::job::{Finish, JointIx, Tool, Work};
use crate::melt::{Contact, Doubt, Layer};
use crate::quantity::{Celsius, Share};

use super::copper;
use super::doing::Doing;
use super::exposure::{self, Heat, Seen, SeenBy};
use super::metal;
use super::passage::{Flow, LimitOf, Note, Passage, SetBy};
use super::prepare::Prepared;
use super::rules;
use super::setting::Setting;
use super::settle::settle;
use super::state::{Bench, layers_at_start};
use super::verdict::Verdict;

/// Tip temperature below which solderable enamel stays on the wire: 370 °C (winding wire makers'
/// tables, limits.yaml S12 and S13: 370–390 for polyurethane).
pub const STRIPS_ENAMEL: Celsius = Celsius::whole(370);
/// Body temperature above which a part must be dry: 200 °C (J-STD-033D, from memory).
pub const NEEDS_DRY: Celsius = Celsius::whole(200);

/// Bismuth that makes a solder low-melting, mass share (our judgement).
const TEARS_FROM: f64 = 0.1;

/// Adds all notes to a passage.
pub fn add(
    setting: &Setting,
    bench: &Bench,
    doing: &Doing,
    prepared: &Prepared,
    heat: Option<&Heat>,
    passage: &mut Passage,
) {
    let mut notes = Vec::new();
    if let (Some(heat), Some(metal)) = (heat, &prepared.metal) {
        target_notes(setting, bench, prepared, heat, passage, &mut notes);
        gaps(setting, passage, &mut notes);
        if let Some(joint) = metal.joint {
            lead_in_bismuth(setting, joint, &metal.layers, &mut notes);
            let (mut layers, contact) = settle(setting, &metal.layers, metal.contact, heat.peak);
            let taken = copper::take_up(setting, joint, &mut layers, heat.peak);
            notes.extend(taken.map(|taken| Note::CopperTaken(joint, taken)));
            if matches!(doing.step.work, Work::Place { .. }) && tears_hot(&layers, contact) {
                notes.push(Note::TearsHot(joint));
            }
        }
    }
    if let Some((metal, joint)) = prepared.metal.as_ref().and_then(|m| Some((m, m.joint?))) {
        let left = bench.joints[joint.0].finish_left && !prepared.next.joints[joint.0].finish_left;
        finish_note(setting, left, joint, &metal.layers, &mut notes);
    }
    for sight in &passage.sights {
        let melts = matches!(sight.verdict, Verdict::Melts | Verdict::Softens);
        if melts && bench.joints[sight.joint.0].covered {
            notes.push(Note::UnderMask(sight.joint));
        }
        let (at_start, taken) = layers_at_start(setting, sight.joint);
        let as_it_was = at_start == bench.joints[sight.joint.0].layers;
        let taken = taken.filter(|_| as_it_was);
        notes.extend(taken.map(|taken| Note::CopperTaken(sight.joint, taken)));
        let part = bench.joints[sight.joint.0].part;
        notes.extend(
            part.filter(|part| melts && rules::falls(setting, *part))
                .map(Note::Falls),
        );
    }
    step_notes(setting, doing, heat, passage, &mut notes);
    if let Some(heat) = heat.filter(|heat| heat.way.described.is_some()) {
        model_notes(setting, bench, heat, passage, &mut notes);
    }
    passage.notes = notes;
}

/// Where what is stated wins over the model, and where the tool as described falls short.
fn model_notes(
    setting: &Setting,
    bench: &Bench,
    heat: &Heat,
    passage: &Passage,
    notes: &mut Vec<Note>,
) {
    let joints = passage.sights.iter().map(|sight| {
        let model = exposure::modelled_joint(setting, heat, sight.joint);
        (SetBy::Joint(sight.joint), sight.seen, model)
    });
    let limits = passage.limits.iter().filter_map(|sight| {
        let model = match sight.of {
            LimitOf::Part(part) => exposure::modelled_part(setting, bench, heat, part),
            LimitOf::Guard(guard) => exposure::modelled_guard(setting, heat, guard),
            LimitOf::Wire(_) | LimitOf::Heats(_) => return None,
        };
        Some((SetBy::Limit(sight.of), sight.seen, model))
    });
    for (place, seen, model) in joints.chain(limits) {
        let Seen::At(stated, SeenBy::Log | SeenBy::Stated | SeenBy::Coupling(_)) = seen else {
            continue;
        };
        let agrees = matches!(model, Some(Seen::At(t, _)) if t == stated);
        notes.extend(
            model
                .filter(|_| !agrees)
                .map(|model| Note::ModelDiffers(place, stated, model)),
        );
    }
    let must = passage.target.as_ref().and_then(|target| target.must_reach);
    if let (Some(reach), Some(must)) = (exposure::reach(setting, heat), must)
        && reach.cool < must
    {
        notes.push(Note::FallsShort(reach.likeliest, reach.cool, must));
    }
}

fn target_notes(
    setting: &Setting,
    bench: &Bench,
    prepared: &Prepared,
    heat: &Heat,
    passage: &Passage,
    notes: &mut Vec<Note>,
) {
    let Some((metal, joint)) = prepared.metal.as_ref().and_then(|m| Some((m, m.joint?))) else {
        return;
    };
    let before = &bench.joints[joint.0];
    if before.wired && before.standing {
        notes.push(Note::WireFloats(joint));
    }
    if let Some(target) = &passage.target
        && target.flow == Flow::NewMetalOnly
    {
        notes.push(Note::LayersStay(joint));
    }
    let (_, contact) = settle(setting, &metal.layers, metal.contact, heat.peak);
    if contact == Contact::Dissolved {
        notes.push(Note::Dissolves(joint));
    }
}

/// Whether low-melting bismuth solder below a ball that stays solid is left to freeze last, while the
/// package springs back: it tears (K. Badwe and others, Circuits Assembly, February 2020; R. Harris and
/// others, SMTA International 2019; abstracts).
fn tears_hot(layers: &[Layer], contact: Contact) -> bool {
    let bismuth = |layer: &Layer| metal::share_of(std::slice::from_ref(layer), Element::Bi);
    let some = |layer: &Layer| bismuth(layer) >= Share::nearest(TEARS_FROM);
    contact == Contact::Layers && layers.iter().any(some) && !layers.iter().all(some)
}

fn finish_note(
    setting: &Setting,
    dissolves_now: bool,
    joint: JointIx,
    layers: &[Layer],
    notes: &mut Vec<Note>,
) {
    let finish = setting.job().joints[joint.0].pad.and_then(|pad| pad.finish);
    let dissolves = |finish: &Finish| !matches!(finish.element, Element::Cu | Element::Ni);
    if let Some(finish) = finish.filter(|finish| dissolves_now && dissolves(finish)) {
        let known = !layers.iter().any(|layer| layer.unstated);
        let share = known.then(|| metal::share_of(layers, finish.element));
        notes.push(Note::FinishDissolves(joint, share));
    }
}

/// Survival of what stands less liquidus of the new metal, below the wanted gap.
fn gaps(setting: &Setting, passage: &Passage, notes: &mut Vec<Note>) {
    let Some(flow) = passage.target.as_ref().and_then(|target| target.flow_point) else {
        return;
    };
    for sight in &passage.sights {
        if let Some(first_melt) = sight.melt.first_melt {
            let gap = first_melt - flow;
            if gap < setting.job().want.gap {
                notes.push(Note::SmallGap(sight.joint, gap));
            }
        }
    }
}

fn lead_in_bismuth(setting: &Setting, joint: JointIx, layers: &[Layer], notes: &mut Vec<Note>) {
    let all_three = [Element::Bi, Element::Pb, Element::Sn]
        .iter()
        .all(|&element| metal::share_of(layers, element) >= Share::nearest(0.0002));
    if !all_three {
        return;
    }
    let known = !layers.iter().any(|layer| layer.unstated);
    let melt = metal::mixed(layers).map(|mix| setting.melt(&[mix], Contact::Layers));
    let share = melt
        .filter(|melt| known && melt.doubts.contains(&Doubt::BismuthLeadTin))
        .and_then(|melt| melt.first_melt_share);
    notes.push(Note::BismuthMeetsLead(joint, share));
}

fn step_notes(
    setting: &Setting,
    doing: &Doing,
    heat: Option<&Heat>,
    passage: &Passage,
    notes: &mut Vec<Note>,
) {
    if let Work::OtherHeat { strip: true, .. } = doing.step.work
        && let Some(way) = doing.way()
    {
        let tip = way.set.or(way.peak);
        if way.tool == Tool::Iron && tip.is_none_or(|tip| tip < STRIPS_ENAMEL) {
            notes.push(Note::EnamelStays(tip));
        }
    }
    if let Work::Clean {
        rounds,
        flood: None,
        ..
    } = &doing.step.work
        && doing.rounds(rounds) > 0
    {
        notes.push(Note::NoFreshSolder);
    }
    if let Work::Place { part, on, .. } = doing.step.work {
        let balls = setting.job().parts[part.0]
            .balls
            .as_ref()
            .map(|balls| balls.count);
        if balls.is_some_and(|count| count != setting.job().joints[on.0].count) {
            notes.push(Note::CountsDiffer(part, on));
        }
    }
    if heat.is_some() {
        moisture(setting, passage, notes);
    }
}

fn moisture(setting: &Setting, passage: &Passage, notes: &mut Vec<Note>) {
    for (part, t) in &passage.heats {
        if *t >= NEEDS_DRY && setting.job().parts[part.0].dry != Some(true) {
            notes.push(Note::Moisture(*part));
        }
    }
}
