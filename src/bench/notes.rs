//! What a technician should know beside the verdict of a step.

use crate::alloy::Element;
use crate::job::{JointIx, Work};
use crate::melt::{Contact, Doubt, History, Layer};
use crate::policy;
use crate::quantity::Share;

use super::copper;
use super::doing::Doing;
use super::exposure::{self, Heat, Seen, SeenBy};
use super::metal;
use super::passage::{Flow, LimitOf, Note, Passage, SetBy, Target};
use super::prepare::{Metal, Prepared};
use super::setting::Setting;
use super::settle::settle;
use super::state::{Bench, layers_at_start};
use super::thins;

/// Adds all notes to a passage.
pub fn add(
    (setting, doing): (&Setting, &Doing),
    bench: &Bench,
    prepared: &Prepared,
    heat: Option<&Heat>,
    passage: &mut Passage,
) {
    let mut notes = Vec::new();
    if let Some(heat) = heat.filter(|heat| !heat.blind && !prepared.metals.is_empty()) {
        for metal in &prepared.metals {
            target_notes(setting, heat, passage, metal, &mut notes);
            notes.extend(thins::notes(setting, doing, prepared, heat, metal));
        }
        gaps(setting, passage, &mut notes);
    }
    for metal in &prepared.metals {
        if let Some(joint) = metal.joint {
            let left =
                bench.joints[joint.0].finish_left && !prepared.next.joints[joint.0].finish_left;
            finish_note(setting, left, joint, &metal.layers, &mut notes);
        }
    }
    notes.extend(part_finish(setting, doing, prepared));
    for sight in &passage.sights {
        let (at_start, taken) = layers_at_start(setting, sight.joint);
        let as_it_was = at_start == bench.joints[sight.joint.0].layers;
        let taken = taken.filter(|_| as_it_was);
        notes.extend(taken.map(|taken| Note::CopperTaken(sight.joint, taken)));
    }
    if heat.is_some() {
        moisture(setting, bench, passage, &mut notes);
    }
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
    heat: &Heat,
    passage: &Passage,
    metal: &Metal,
    notes: &mut Vec<Note>,
) {
    let Some(joint) = metal.joint else { return };
    let stay = |target: &Target| target.flow == Flow::NewMetalOnly;
    if passage.target.as_ref().is_some_and(stay) {
        notes.push(Note::LayersStay(joint));
    }
    let (mut layers, contact) = settle(setting, &metal.layers, metal.contact, heat.peak);
    if contact == Contact::Dissolved {
        notes.push(Note::Dissolves(joint));
    }
    lead_in_bismuth(setting, joint, &metal.layers, notes);
    notes.extend(balls_first(setting, joint, metal));
    let taken = copper::take_up(setting, joint, &mut layers, heat.peak);
    notes.extend(taken.map(|taken| Note::CopperTaken(joint, taken)));
}

/// A ball that is all liquid before its paste has begun to melt closes over the paste while flux still boils out
/// of it (IPC-7095, from memory).
fn balls_first(setting: &Setting, joint: JointIx, metal: &Metal) -> Option<Note> {
    let [ball, paste] = metal.fresh.as_slice() else {
        return None;
    };
    let powder = Layer {
        history: History::AsBought,
        ..paste.clone()
    };
    let melt = |layer: &Layer| setting.melt(std::slice::from_ref(layer), Contact::Layers);
    let (balls, paste) = (melt(ball).flow_point?, melt(&powder).first_melt?);
    (balls < paste).then_some(Note::BallsFirst(joint, paste, balls))
}

fn finish_note(
    setting: &Setting,
    dissolves_now: bool,
    joint: JointIx,
    layers: &[Layer],
    notes: &mut Vec<Note>,
) {
    let finish = setting.job().joints[joint.0].pad.and_then(|pad| pad.finish);
    if let Some(finish) = finish.filter(|finish| dissolves_now && metal::dissolves(finish)) {
        let known = !layers.iter().any(|layer| layer.unstated);
        let share = known.then(|| metal::share_of(layers, finish.element));
        notes.push(Note::FinishDissolves(joint, share));
    }
}

/// What the pads of a part that is set or balled give to its solder.
fn part_finish(setting: &Setting, doing: &Doing, prepared: &Prepared) -> Option<Note> {
    let (Work::Place { part, .. } | Work::Reball { part, .. }) = doing.step.work else {
        return None;
    };
    let finish = setting.job().parts[part.0].pad?.finish?;
    let layers = &prepared.metals.first()?.layers;
    let share = metal::share_of(layers, finish.element);
    let known = !layers.iter().any(|layer| layer.unstated);
    let there = metal::dissolves(&finish) && share > Share::NONE;
    there.then_some(Note::PartFinish(part, known.then_some(share)))
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
        .all(|&element| metal::share_of(layers, element) >= policy::BISMUTH_LEAD_COUNTS);
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

/// A part that gets hot and of which nobody said whether it is dry.
fn moisture(setting: &Setting, bench: &Bench, passage: &Passage, notes: &mut Vec<Note>) {
    for (part, t) in &passage.heats {
        let stated = setting.job().parts[part.0].dry.is_some();
        if *t >= policy::NEEDS_DRY && !stated && !bench.parts[part.0].dry {
            notes.push(Note::Moisture(*part));
        }
    }
}
