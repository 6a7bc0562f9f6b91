//! The one transition: a bench and a step make the next bench, and tell what everything on it goes
//! through. Nothing else in the program decides whether a joint melts.

use std::sync::Arc;

use crate::job::{GuardIx, JointIx, PartIx, WireIx, Work};
use crate::melt::{Contact, Layer, Melt};
use crate::quantity::Celsius;

use super::copper;
use super::doing::Doing;
use super::exposure::{self, Aim, Heat, Seen};
use super::judge;
use super::metal;
use super::notes;
use super::passage::{Flow, LimitOf, LimitSight, Passage, Sight, Target, Window};
use super::prepare::{Metal, Outcome, Prepared, prepare};
use super::setting::Setting;
use super::settle::settle;
use super::state::Bench;
use super::verdict::Verdict;
use super::window;

/// Hottest body temperature that does not count as a heat on a part that is not the target: 150 °C
/// (our judgement; below the preheat of every soldering profile's soak).
pub const COUNTS_AS_HEAT: Celsius = Celsius::whole(150);

/// Does a step on a bench.
pub fn pass(setting: &Setting, bench: &Bench, doing: &Doing) -> Passage {
    let prepared = prepare(setting, bench, doing);
    let target_melt = prepared
        .metal
        .as_ref()
        .map(|m| setting.melt(&m.layers, m.contact));
    let peak = peak(setting, doing, &prepared, target_melt.as_deref());
    let heat = heat(doing, &prepared, peak);
    let sights = heat.map_or_else(Vec::new, |heat| sights(setting, bench, &heat, &prepared));
    let limits = heat.map_or_else(Vec::new, |heat| limits(setting, bench, &heat));
    let mut target = target(setting, &prepared, target_melt, peak);
    if let (Some(heat), Some(target)) = (&heat, &mut target) {
        within_reach(setting, heat, target);
    }
    let mut passage = Passage {
        next: prepared.next.clone(),
        peak,
        heats: heat.map_or_else(
            || unmeasured(setting, doing, &prepared),
            |heat| heats(setting, bench, &heat),
        ),
        window: Window {
            from: None,
            to: None,
            set_by: None,
        },
        notes: Vec::new(),
        refusals: prepared.refusals.clone(),
        target,
        sights,
        limits,
    };
    passage.window = window::of(setting, heat.as_ref(), &passage);
    notes::add(
        setting,
        bench,
        doing,
        &prepared,
        heat.as_ref(),
        &mut passage,
    );
    finish(setting, &prepared, heat.as_ref(), &mut passage);
    passage
}

/// The heat of a step on a bench, as [`pass`] brings it; `None` where it brings none.
pub fn heat_of<'a>(setting: &Setting, bench: &Bench, doing: &Doing<'a>) -> Option<Heat<'a>> {
    let prepared = prepare(setting, bench, doing);
    let melt = prepared
        .metal
        .as_ref()
        .map(|m| setting.melt(&m.layers, m.contact));
    let peak = peak(setting, doing, &prepared, melt.as_deref());
    heat(doing, &prepared, peak)
}

fn heat<'a>(doing: &Doing<'a>, prepared: &Prepared, peak: Option<Celsius>) -> Option<Heat<'a>> {
    Some(Heat {
        aim: prepared.aim?,
        part: prepared.part,
        peak: peak?,
        way: doing.way()?,
        log: doing.log,
    })
}

/// Peak at the target: as read, as stated, else flow + superheat. A step that only bakes or
/// preheats goes to the temperature it names.
fn peak(
    setting: &Setting,
    doing: &Doing,
    prepared: &Prepared,
    melt: Option<&Melt>,
) -> Option<Celsius> {
    let way = doing.way()?;
    prepared.aim?;
    if let Some(read) = doing.log.and_then(|log| log.peak) {
        return Some(read);
    }
    if let Some(stated) = way.peak {
        return Some(stated);
    }
    match (&doing.step.work, melt) {
        (Work::WholeBoard { .. }, _) => Some(way.preheat),
        (_, Some(melt)) => aim_point(setting, prepared.metal.as_ref()?, melt),
        _ => None,
    }
}

/// Flow point (the uncertainty is what the superheat is for) + superheat, and never below what the
/// target must reach.
fn aim_point(setting: &Setting, metal: &Metal, melt: &Melt) -> Option<Celsius> {
    let must = must_reach(setting, metal, melt)?;
    let point = flow_point(setting, metal, melt)?;
    Some((point + setting.job().want.superheat).max(must))
}

/// Where the target flows, without uncertainty: new metal and, where masses are known, what it
/// makes of the joint; a joint that gets no new metal as it is.
fn flow_point(setting: &Setting, metal: &Metal, melt: &Melt) -> Option<Celsius> {
    if metal.fresh.is_empty() {
        return melt.flow_point;
    }
    let own = fresh_flow(setting, metal, |melt| melt.flow_point)?;
    match whole_melt(setting, &metal.layers) {
        Some(mix) => Some(own.max(mix.flow_point?)),
        None => Some(own),
    }
}

/// What the target must reach: the flow of the new metal where some is added, else of the joint as
/// it is, unmixed cores included.
fn must_reach(setting: &Setting, metal: &Metal, melt: &Melt) -> Option<Celsius> {
    if metal.fresh.is_empty() {
        return melt.flow;
    }
    fresh_flow(setting, metal, |melt| melt.flow)
}

/// Flow of the ball, and of ball and paste as one: paste powder dissolves, a ball has a core.
fn fresh_flow(
    setting: &Setting,
    metal: &Metal,
    of: impl Fn(&Melt) -> Option<Celsius>,
) -> Option<Celsius> {
    let main = metal.fresh.first()?;
    let own = of(&setting.melt(std::slice::from_ref(main), Contact::Layers))?;
    if metal.fresh.len() == 1 {
        return Some(own);
    }
    match whole_melt(setting, &metal.fresh) {
        Some(mix) => Some(own.max(of(&mix)?)),
        None => metal
            .fresh
            .iter()
            .map(|layer| of(&setting.melt(std::slice::from_ref(layer), Contact::Layers)))
            .try_fold(own, |highest, flow| flow.map(|flow| highest.max(flow))),
    }
}

/// The layers as one liquid; `None` where masses are not known, so that no mixture is.
fn whole_melt(setting: &Setting, layers: &[Layer]) -> Option<Arc<Melt>> {
    if layers.iter().any(|layer| layer.unstated || layer.unknown) && layers.len() > 1 {
        return None;
    }
    metal::mixed(layers).map(|layer| setting.melt(&[layer], Contact::Layers))
}

fn target(
    setting: &Setting,
    prepared: &Prepared,
    melt: Option<Arc<Melt>>,
    peak: Option<Celsius>,
) -> Option<Target> {
    let metal = prepared.metal.as_ref()?;
    let melt = melt?;
    let must_reach = must_reach(setting, metal, &melt);
    let flow = flow(setting, metal, must_reach, peak);
    Some(Target {
        flow_point: flow_point(setting, metal, &melt),
        joint: metal.joint,
        part: metal.part,
        must_reach,
        flow,
        melt,
    })
}

/// A planned peak that the tool as described cannot bring about is no flow: surely not where even the
/// likeliest bound stays below, not known where only its cool edge does. A peak that was read or is
/// stated wins.
fn within_reach(setting: &Setting, heat: &Heat, target: &mut Target) {
    let planned = heat.way.peak.is_none() && heat.log.is_none_or(|log| log.peak.is_none());
    let reach = planned.then(|| exposure::reach(setting, heat)).flatten();
    let (Some(reach), Some(must)) = (reach, target.must_reach) else {
        return;
    };
    if reach.likeliest < must {
        target.flow = Flow::Not;
    } else if reach.cool < must && target.flow != Flow::Not {
        target.flow = Flow::Unknown;
    }
}

fn flow(
    setting: &Setting,
    metal: &Metal,
    must_reach: Option<Celsius>,
    peak: Option<Celsius>,
) -> Flow {
    let (Some(must), Some(peak)) = (must_reach, peak) else {
        return Flow::Unknown;
    };
    let flows = |layer: &Layer| {
        let melt = setting.melt(std::slice::from_ref(layer), Contact::Layers);
        melt.flow.is_some_and(|flow| peak >= flow)
    };
    if peak < must {
        return if metal.fresh.iter().any(flows) {
            Flow::PartOfNewMetal
        } else {
            Flow::Not
        };
    }
    let (layers, contact) = settle(setting, &metal.layers, metal.contact, peak);
    let layers_stay = contact == Contact::Layers && layers.len() > 1;
    if layers_stay && !metal.fresh.is_empty() {
        Flow::NewMetalOnly
    } else {
        Flow::Whole
    }
}

fn sights(setting: &Setting, bench: &Bench, heat: &Heat, prepared: &Prepared) -> Vec<Sight> {
    let mut sights = Vec::new();
    for (j, now) in bench.joints.iter().enumerate() {
        let joint = JointIx(j);
        let is_target = prepared
            .metal
            .as_ref()
            .is_some_and(|m| m.joint == Some(joint));
        if !now.standing || now.layers.is_empty() || is_target {
            continue;
        }
        if matches!(heat.aim, Aim::LoosePart(_)) {
            continue;
        }
        let seen = exposure::of_joint(setting, bench, heat, joint);
        let melt = setting.melt(&now.layers, now.contact);
        sights.push(judge::joint(setting, bench, joint, seen, melt));
    }
    sights
}

fn limits(setting: &Setting, bench: &Bench, heat: &Heat) -> Vec<LimitSight> {
    let job = setting.job();
    let mut limits = Vec::new();
    for (p, part) in job.parts.iter().enumerate() {
        let seen = exposure::of_part(setting, bench, heat, PartIx(p));
        let is_off = matches!(seen, Seen::At(_, exposure::SeenBy::NotHeated));
        if let (Some(limit), false) = (part.limit, is_off) {
            limits.push(judge::limit(setting, LimitOf::Part(PartIx(p)), seen, limit));
        }
    }
    if matches!(heat.aim, Aim::LoosePart(_)) {
        return limits;
    }
    for (g, guard) in job.guards.iter().enumerate() {
        let at = GuardIx(g);
        if bench.guards[g].exists && heat.aim != Aim::Guard(at) {
            let seen = exposure::of_guard(setting, bench, heat, at);
            limits.push(judge::limit(setting, LimitOf::Guard(at), seen, guard.limit));
        }
    }
    limits.extend(enamel(setting, bench, heat));
    limits
}

/// Enamel of wires that are tied and cross others, as hot as the hotter of their ends.
fn enamel(setting: &Setting, bench: &Bench, heat: &Heat) -> Vec<LimitSight> {
    let mut limits = Vec::new();
    for (w, wire) in setting.job().wires.iter().enumerate() {
        let tied = bench.joints[wire.from.0].standing && bench.joints[wire.to.0].standing;
        let Some(limit) = wire
            .enamel_limit
            .filter(|_| tied && !wire.crosses.is_empty())
        else {
            continue;
        };
        let ends = [wire.from, wire.to].map(|end| exposure::of_joint(setting, bench, heat, end));
        if let Some(seen) = ends.into_iter().max_by(exposure::hotter) {
            limits.push(judge::limit(setting, LimitOf::Wire(WireIx(w)), seen, limit));
        }
    }
    limits
}

/// Parts that take a heat: the target part always, others from [`COUNTS_AS_HEAT`] on.
/// Metal that is molten at nobody knows what is a heat of its part all the same: it counts, and is not
/// the hottest.
fn unmeasured(setting: &Setting, doing: &Doing, prepared: &Prepared) -> Vec<(PartIx, Celsius)> {
    let melted = prepared.metal.is_some() && doing.way().is_some();
    let part = prepared.part.filter(|_| melted);
    part.map(|part| (part, setting.job().ambient))
        .into_iter()
        .collect()
}

fn heats(setting: &Setting, bench: &Bench, heat: &Heat) -> Vec<(PartIx, Celsius)> {
    let mut heats = Vec::new();
    for p in 0..setting.job().parts.len() {
        let part = PartIx(p);
        let is_target = heat.part == Some(part);
        match exposure::of_part(setting, bench, heat, part) {
            Seen::At(_, exposure::SeenBy::NotHeated) => {}
            Seen::At(t, _) if is_target || t >= COUNTS_AS_HEAT => heats.push((part, t)),
            Seen::At(..) => {}
            Seen::UpTo(top) => heats.push((part, top.unwrap_or(heat.peak))),
        }
    }
    heats
}

/// What the heat leaves behind: the target frozen anew, joints that melted, a shut gate.
fn finish(setting: &Setting, prepared: &Prepared, heat: Option<&Heat>, passage: &mut Passage) {
    // Where nobody knows how hot it gets, the metal meets all the same, and nothing becomes one.
    let peak = heat.map_or(setting.job().ambient, |heat| heat.peak);
    freeze_target(setting, prepared, peak, &mut passage.next);
    let Some(heat) = heat else {
        passage.next.checked &= prepared.metal.is_none();
        return;
    };
    if heat.peak > setting.job().ambient {
        passage.next.checked = false;
    }
    for sight in &passage.sights {
        let Seen::At(t, _) = sight.seen else { continue };
        if sight.melt.survival.is_none_or(|survival| t >= survival) {
            let joint = &mut passage.next.joints[sight.joint.0];
            (joint.layers, joint.contact) = settle(setting, &joint.layers, joint.contact, t);
            copper::take_up(setting, sight.joint, &mut joint.layers, t);
            joint.was_molten |= sight.verdict == Verdict::Melts && !sight.may_melt;
        }
    }
    for limit in &passage.limits {
        if let (LimitOf::Guard(guard), Verdict::Limit) = (limit.of, limit.verdict) {
            passage.next.guards[guard.0].suspect = true;
        }
    }
}

fn freeze_target(setting: &Setting, prepared: &Prepared, peak: Celsius, next: &mut Bench) {
    let Some(metal) = prepared.metal.as_ref() else {
        return;
    };
    let (mut layers, contact) = settle(setting, &metal.layers, metal.contact, peak);
    if let Some(joint) = metal.joint {
        copper::take_up(setting, joint, &mut layers, peak);
    }
    match &metal.outcome {
        Outcome::StaysOn(joint) => next.joints[joint.0].set_metal(layers, contact),
        Outcome::GoesWith(part) => next.parts[part.0].set_metal(layers, contact),
        Outcome::Parts(joint, part) => {
            // How the solder divides is not known: each side may keep all of it.
            next.joints[joint.0].set_metal(layers.clone(), contact);
            next.parts[part.0].set_metal(layers, contact);
        }
        Outcome::WickedJoint(joint, cleaning) => {
            next.joints[joint.0].set_metal(cleaning.done_to(&layers), Contact::Layers);
        }
        Outcome::WickedPart(part, cleaning) => {
            next.parts[part.0].set_metal(cleaning.done_to(&layers), Contact::Layers);
        }
    }
}
