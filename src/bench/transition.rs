//! The one transition: a bench and a step make the next bench, and tell what everything on it goes
//! through. Nothing else in the program decides whether a joint melts.

use std::sync::Arc;

use crate::alloy::Element;
use crate::job::{Amount, GuardIx, JointIx, PartIx, Tool, Way, WireIx, Work};
use crate::melt::{Contact, Layer, Melt};
use crate::policy;
use crate::quantity::{Celsius, Length};

use super::copper;
use super::doing::Doing;
use super::exposure::{self, Aim, Heat, Seen};
use super::hazards;
use super::judge;
use super::metal;
use super::notes;
use super::passage::{Flow, LimitOf, LimitSight, Passage, Sight, Target, Window};
use super::prepare::{Metal, Outcome, Prepared, failed, prepare};
use super::setting::Setting;
use super::settle::settle;
use super::state::Bench;
use super::verdict::Verdict;
use super::window;

/// Does a step on a bench.
pub fn pass(setting: &Setting, bench: &Bench, doing: &Doing) -> Passage {
    let prepared = prepare(setting, bench, doing);
    let peak = peak(setting, doing, &prepared);
    let heat = heat(setting, doing, &prepared, peak);
    let mut target = target(setting, bench, &prepared, heat.as_ref());
    if let (Some(heat), Some(target)) = (&heat, &mut target) {
        within_reach(setting, heat, target);
    }
    let mut passage = Passage {
        next: prepared.next.clone(),
        peak,
        heats: heat
            .as_ref()
            .map_or_else(Vec::new, |heat| heats(setting, bench, heat)),
        sights: heat
            .as_ref()
            .map_or_else(Vec::new, |heat| sights(setting, bench, heat, &prepared)),
        limits: heat
            .as_ref()
            .map_or_else(Vec::new, |heat| limits(setting, bench, heat)),
        window: Window {
            from: None,
            to: None,
            set_by: None,
        },
        notes: Vec::new(),
        refusals: prepared.refusals.clone(),
        findings: Vec::new(),
        in_vain: false,
        target,
    };
    passage.window = window::of(setting, bench, heat.as_ref(), &passage);
    passage.findings = hazards::judged(&passage);
    if let Some(heat) = &heat {
        let more = hazards::of(setting, bench, doing, &prepared, heat, &passage);
        passage.findings.extend(more);
    }
    notes::add(
        (setting, doing),
        bench,
        &prepared,
        heat.as_ref(),
        &mut passage,
    );
    finish(
        setting,
        bench,
        doing,
        &prepared,
        heat.as_ref(),
        &mut passage,
    );
    passage
}

/// The heat of a step on a bench, as [`pass`] brings it; `None` where it brings none, or nobody knows how
/// hot it is.
pub fn heat_of<'a>(setting: &Setting, bench: &'a Bench, doing: &Doing<'a>) -> Option<Heat<'a>> {
    let prepared = prepare(setting, bench, doing);
    let peak = peak(setting, doing, &prepared);
    heat(setting, doing, &prepared, peak).filter(|heat| !heat.blind)
}

/// The peak that a step asks for on a bench, before any other bench is asked.
pub fn aim_of(setting: &Setting, bench: &Bench, doing: &Doing) -> Option<Celsius> {
    let own = Doing {
        aim: None,
        ..*doing
    };
    let prepared = prepare(setting, bench, &own);
    peak(setting, &own, &prepared)
}

fn heat<'a>(
    setting: &Setting,
    doing: &Doing<'a>,
    prepared: &Prepared<'a>,
    peak: Option<Celsius>,
) -> Option<Heat<'a>> {
    let way = doing.way()?;
    // A lamp, a hand, a meter: no heat.
    if peak.is_none() && way.tool == Tool::None {
        return None;
    }
    Some(Heat {
        aim: prepared.aim?,
        joints: prepared.joints,
        part: prepared.part,
        peak: peak.unwrap_or(setting.job().ambient),
        blind: peak.is_none(),
        at_once: matches!(doing.step.work, Work::Remove { .. }),
        way,
        log: doing.log,
    })
}

/// Peak at the target: as read, as stated, else what one hand goes to for all that the unknown may be,
/// else flow + superheat. A step that only bakes or preheats goes to the temperature it names; one that
/// melts nothing known is no hotter than its tool is set.
fn peak(setting: &Setting, doing: &Doing, prepared: &Prepared) -> Option<Celsius> {
    let way = doing.way()?;
    prepared.aim?;
    if let Some(read) = doing.log.and_then(|log| log.peak) {
        return Some(read);
    }
    if let Some(stated) = way.peak {
        return Some(stated);
    }
    if matches!(doing.step.work, Work::WholeBoard { .. }) {
        return Some(way.preheat);
    }
    if prepared.metals.is_empty() {
        return way.set;
    }
    doing.aim.or_else(|| own_aim(setting, way, prepared))
}

/// The hottest that any group of joints asks for, at its own share of the rise.
fn own_aim(setting: &Setting, way: &Way, prepared: &Prepared) -> Option<Celsius> {
    // A plate or an oven brings all of its rise to everything.
    let many = prepared.metals.len() > 1 && !matches!(way.tool, Tool::Plate | Tool::Oven);
    let mut aim: Option<Celsius> = None;
    for metal in &prepared.metals {
        let point = aim_point(setting, metal)?;
        let share = metal.joint.filter(|_| many).and_then(|joint| {
            let here =
                |(place, _): &&(crate::job::Where, _)| *place == crate::job::Where::Joint(joint);
            way.couplings.iter().find(here).map(|(_, k)| k.factor())
        });
        let peak = match share {
            Some(k) if k > 0.0 => way.preheat + (point - way.preheat).scaled(1.0 / k),
            Some(_) => return None,
            None => point,
        };
        aim = aim.max(Some(peak));
    }
    aim
}

/// Flow point (the uncertainty is what the superheat is for) + superheat, and never below what the
/// target must reach.
fn aim_point(setting: &Setting, metal: &Metal) -> Option<Celsius> {
    let must = must_reach(setting, metal)?;
    let point = flow_point(setting, metal)?;
    Some((point + setting.job().want.superheat).max(must))
}

/// A joint as it is. A part is lifted off or with its high-lead balls and columns: what joins them must flow.
fn own_melt(setting: &Setting, metal: &Metal) -> Arc<Melt> {
    let lifted = matches!(metal.outcome, Outcome::Parts(..)) && metal.contact == Contact::Layers;
    let joins: Vec<Layer> = metal
        .layers
        .iter()
        .filter(|layer| !lifted || !is_high_lead(layer))
        .cloned()
        .collect();
    if joins.is_empty() {
        return setting.melt(&metal.layers, metal.contact);
    }
    setting.melt(&joins, metal.contact)
}

/// Where the target flows, without uncertainty: new metal and, where masses are known, what it
/// makes of the joint; a joint that gets no new metal as it is.
fn flow_point(setting: &Setting, metal: &Metal) -> Option<Celsius> {
    if metal.fresh.is_empty() {
        return own_melt(setting, metal).flow_point;
    }
    let own = fresh_flow(setting, metal, |melt| melt.flow_point)?;
    let own = with_old(setting, metal, own, |melt| melt.flow_point)?;
    match whole_melt(setting, &metal.layers) {
        _ if stays_solid(metal) => Some(own),
        Some(mix) if mix.flow_point.is_none() && only_finish_is_unknown(&metal.layers) => Some(own),
        Some(mix) => Some(own.max(mix.flow_point?)),
        None => Some(own),
    }
}

/// What the target must reach: the flow of the new metal where some is added, else of the joint as
/// it is, unmixed cores included.
fn must_reach(setting: &Setting, metal: &Metal) -> Option<Celsius> {
    if metal.fresh.is_empty() {
        return own_melt(setting, metal).flow;
    }
    let fresh = fresh_flow(setting, metal, |melt| melt.flow)?;
    with_old(setting, metal, fresh, |melt| melt.flow)
}

/// What must flow besides the new metal: old balls below new ones, and what a round of clean-up or a removal
/// floods, unless only a finish that has gone into it keeps anybody from knowing when that flows.
fn with_old(
    setting: &Setting,
    metal: &Metal,
    fresh: Celsius,
    of: impl Fn(&Melt) -> Option<Celsius>,
) -> Option<Celsius> {
    let floods = floods(metal);
    let (layers, contact) = if floods {
        (&metal.layers, metal.contact)
    } else {
        (&metal.old, Contact::Layers)
    };
    if layers.is_empty() {
        return Some(fresh);
    }
    match of(&setting.melt(layers, contact)) {
        Some(old) => Some(fresh.max(old)),
        None if only_finish_is_unknown(layers) => Some(fresh),
        None => None,
    }
}

/// Whether all that keeps a mixture from being known is a little finish that has dissolved into it.
fn only_finish_is_unknown(layers: &[Layer]) -> bool {
    let share = |element| metal::share_of(layers, element).fraction();
    let finish = share(Element::Au) + share(Element::Pd);
    let known = !layers.iter().any(|layer| layer.unknown || layer.unstated);
    known && finish > 0.0 && finish <= policy::DISSOLVES.fraction()
}

/// Flow of the ball, and of ball and paste as one: paste powder dissolves, a ball has a core. A high-lead
/// ball or column is not meant to melt: the paste alone must flow.
fn fresh_flow(
    setting: &Setting,
    metal: &Metal,
    of: impl Fn(&Melt) -> Option<Celsius>,
) -> Option<Celsius> {
    let main = metal.fresh.first()?;
    let alone = |layer: &Layer| of(&setting.melt(std::slice::from_ref(layer), Contact::Layers));
    if stays_solid(metal) {
        return alone(metal.fresh.last()?);
    }
    let own = alone(main)?;
    if metal.fresh.len() == 1 {
        return Some(own);
    }
    match whole_melt(setting, &metal.fresh) {
        Some(mix) => Some(own.max(of(&mix)?)),
        None => metal
            .fresh
            .iter()
            .map(alone)
            .try_fold(own, |highest, flow| flow.map(|flow| highest.max(flow))),
    }
}

/// Whether the ball is a high-lead one and paste is there to join it.
fn stays_solid(metal: &Metal) -> bool {
    let [ball, _paste] = metal.fresh.as_slice() else {
        return false;
    };
    is_high_lead(ball)
}

fn is_high_lead(ball: &Layer) -> bool {
    let lead = metal::share_of(std::slice::from_ref(ball), Element::Pb);
    !ball.unknown && lead >= policy::STAYS_SOLID_FROM
}

/// The layers as one liquid; `None` where masses are not known, so that no mixture is.
fn whole_melt(setting: &Setting, layers: &[Layer]) -> Option<Arc<Melt>> {
    if layers.iter().any(|layer| layer.unstated || layer.unknown) && layers.len() > 1 {
        return None;
    }
    metal::mixed(layers).map(|layer| setting.melt(&[layer], Contact::Layers))
}

/// What must flow: of several groups of joints the one that is farthest from it.
fn target(
    setting: &Setting,
    bench: &Bench,
    prepared: &Prepared,
    heat: Option<&Heat>,
) -> Option<Target> {
    let of_group = |metal: &Metal| {
        let peak = heat.and_then(|heat| group_peak(setting, bench, heat, metal));
        let must_reach = must_reach(setting, metal);
        Target {
            flow_point: flow_point(setting, metal),
            joint: metal.joint,
            part: metal.part,
            must_reach,
            flow: flow(setting, metal, must_reach, peak),
            melt: own_melt(setting, metal),
        }
    };
    let groups = prepared.metals.iter().map(of_group);
    // Of equals the first: `max_by_key` would take the last.
    groups.rev().max_by_key(|target| {
        let part = target.flow == Flow::PartOfNewMetal;
        (target.verdict(), part, target.must_reach)
    })
}

/// How hot a group of joints gets that is heated.
fn group_peak(setting: &Setting, bench: &Bench, heat: &Heat, metal: &Metal) -> Option<Celsius> {
    let seen = match metal.joint {
        Some(joint) => exposure::of_joint(setting, bench, heat, joint),
        None => return (!heat.blind).then_some(heat.peak),
    };
    match seen {
        Seen::At(t, _) => Some(t),
        Seen::UpTo(_) => None,
    }
}

/// A planned peak that the tool as described cannot bring about is no flow: surely not where even the
/// likeliest bound stays below, not known where only its cool edge does. A peak that was read or is
/// stated wins.
fn within_reach(setting: &Setting, heat: &Heat, target: &mut Target) {
    if heat.way.tool == Tool::None {
        target.flow = Flow::Not;
        return;
    }
    // Nothing gets hotter than the tool is set, unless the board is before it comes.
    let set = heat.way.set.map(|set| set.max(heat.way.preheat));
    let read = heat.log.is_some_and(|log| log.peak.is_some());
    if let (Some(set), Some(must)) = (set, target.must_reach)
        && !read
        && set < must
    {
        target.flow = Flow::Not;
        return;
    }
    let planned = heat.way.peak.is_none() && heat.log.is_none_or(|log| log.peak.is_none());
    // A plate and an oven bring what stands on them to what they are set to; a tip or air stays hotter than what it
    // heats.
    if planned && target.verdict() == Verdict::Holds && set.is_some_and(|set| set < heat.peak) {
        target.flow = match heat.way.tool {
            Tool::Plate | Tool::Oven => Flow::Barely,
            _ => Flow::Unknown,
        };
    }
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
        return if metal.fresh.iter().any(flows) && metal.old.is_empty() && !floods(metal) {
            Flow::PartOfNewMetal
        } else {
            Flow::Not
        };
    }
    if peak == must {
        return Flow::Barely;
    }
    let (layers, contact) = settle(setting, &metal.layers, metal.contact, peak);
    let layers_stay = contact == Contact::Layers && layers.len() > 1;
    if layers_stay && !metal.fresh.is_empty() {
        Flow::NewMetalOnly
    } else {
        Flow::Whole
    }
}

/// Whether what is new floods what is there, for it to go away together.
fn floods(metal: &Metal) -> bool {
    matches!(
        metal.outcome,
        Outcome::WickedJoint(..)
            | Outcome::WickedPart(..)
            | Outcome::JointAsWas(_)
            | Outcome::PartAsWas(_)
            | Outcome::Parts(..)
    )
}

fn sights(setting: &Setting, bench: &Bench, heat: &Heat, prepared: &Prepared) -> Vec<Sight> {
    let mut sights = Vec::new();
    if matches!(heat.aim, Aim::LoosePart(_)) {
        return sights;
    }
    for (j, now) in bench.joints.iter().enumerate() {
        let joint = JointIx(j);
        let is_target = prepared.metals.iter().any(|m| m.joint == Some(joint));
        if !now.standing || now.layers.is_empty() || is_target {
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
            // What bears all that the target gets need not be asked about.
            let beside = exposure::beside_the_air(setting, bench, heat, PartIx(p));
            let seen = beside.filter(|_| limit < heat.peak).unwrap_or(seen);
            limits.push(judge::limit(setting, LimitOf::Part(PartIx(p)), seen, limit));
        }
    }
    if matches!(heat.aim, Aim::LoosePart(_)) {
        return limits;
    }
    for (g, guard) in job.guards.iter().enumerate() {
        let at = GuardIx(g);
        // What is being cured bears no more than afterwards.
        if bench.guards[g].exists || heat.aim == Aim::Guard(at) {
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

/// Parts that take a heat: from `want.counts_from` on, and where nobody knows how hot they get.
fn heats(setting: &Setting, bench: &Bench, heat: &Heat) -> Vec<(PartIx, Celsius)> {
    let counts_from = setting.job().want.counts_from;
    let mut heats = Vec::new();
    for p in 0..setting.job().parts.len() {
        let part = PartIx(p);
        match exposure::of_part(setting, bench, heat, part) {
            Seen::At(_, exposure::SeenBy::NotHeated) => {}
            Seen::At(t, _) if t >= counts_from => heats.push((part, t)),
            Seen::At(..) => {}
            Seen::UpTo(top) => heats.push((part, top.unwrap_or(heat.peak))),
        }
    }
    heats
}

/// What the heat leaves behind: the target frozen anew, joints that melted, a shut gate.
fn finish(
    setting: &Setting,
    bench: &Bench,
    doing: &Doing,
    prepared: &Prepared,
    heat: Option<&Heat>,
    passage: &mut Passage,
) {
    let flow = passage.target.as_ref().map(|target| target.flow);
    let read_cold = doing.log.is_some_and(|log| log.peak.is_some()) && flow == Some(Flow::Not);
    let read_cold = read_cold || cured_cold(doing);
    passage.in_vain = read_cold;
    let too_early = doing.log.is_some_and(|log| log.too_early.is_some());
    if read_cold {
        passage.next = bench.clone();
    } else {
        freeze_target(setting, bench, prepared, heat, &mut passage.next);
        let in_doubt = matches!(flow, Some(Flow::PartOfNewMetal | Flow::Unknown | Flow::Not));
        if doing.log.is_some() && (in_doubt || is_starved(doing)) {
            for joint in hazards::doubtful(prepared) {
                let joint = &mut passage.next.joints[joint.0];
                joint.doubtful = joint.standing;
            }
        }
    }
    passage.next.disordered |= too_early;
    let Some(heat) = heat else {
        passage.next.checked &= prepared.metals.is_empty();
        return;
    };
    if heat.peak > setting.job().ambient || heat.blind {
        passage.next.checked = false;
    }
    after_heat(setting, doing, passage);
    dried(setting, bench, doing, heat, &mut passage.next);
}

/// Less than half of the solder that was planned is in the log: the joint may be starved (our judgement).
fn is_starved(doing: &Doing) -> bool {
    let used = doing.log.and_then(|log| log.mass);
    let planned = match &doing.step.work {
        Work::Solder { amount, .. } => Some(*amount),
        Work::Place { paste, .. } => paste.as_ref().map(|(_, amount)| *amount),
        _ => None,
    };
    match (used, planned) {
        (Some(used), Some(Amount::Mass(planned))) => {
            used.picograms().saturating_mul(2) < planned.picograms()
        }
        _ => false,
    }
}

/// A mask or glue that cures with heat, and was read colder than that: it is not cured.
fn cured_cold(doing: &Doing) -> bool {
    let read = doing.log.and_then(|log| log.peak);
    let wanted = doing.way().and_then(|way| way.peak);
    let cures = matches!(doing.step.work, Work::Cover { .. });
    cures && read.zip(wanted).is_some_and(|(read, wanted)| read < wanted)
}

/// What the heat did besides: joints frozen anew, what got too hot.
fn after_heat(setting: &Setting, doing: &Doing, passage: &mut Passage) {
    // What was planned is never left in doubt; what was done may be.
    let done = doing.log.is_some();
    for sight in &passage.sights {
        let joint = &mut passage.next.joints[sight.joint.0];
        joint.was_molten |= !sight.may_melt
            && (sight.verdict == Verdict::Melts || (done && sight.verdict == Verdict::Unknown));
        let Seen::At(t, _) = sight.seen else { continue };
        if sight.melt.survival.is_none_or(|survival| t >= survival) {
            (joint.layers, joint.contact) = settle(setting, &joint.layers, joint.contact, t);
            copper::take_up(setting, sight.joint, &mut joint.layers, t);
        }
    }
    for limit in &passage.limits {
        let too_hot =
            limit.verdict == Verdict::Limit || (done && limit.verdict == Verdict::Unknown);
        match limit.of {
            LimitOf::Guard(guard) if too_hot => passage.next.guards[guard.0].suspect = true,
            LimitOf::Part(part) if too_hot && done => passage.next.parts[part.0].suspect = true,
            _ => {}
        }
    }
}

/// And lasts so many hours: 24, as labels print it, for a body of up to 1.4 mm or of which nobody says how thick
/// it is, 27 up to 2 mm, 48 above (the same table, `limits.yaml`; it lets thin bodies of some classes off with 9,
/// and the class is not known here).
fn dries_after_hours(thick: Option<Length>) -> f64 {
    match thick.map(Length::mm) {
        Some(mm) if mm > 2.0 => 48.0,
        Some(mm) if mm > 1.4 => 27.0,
        _ => 24.0,
    }
}

fn dried(setting: &Setting, bench: &Bench, doing: &Doing, heat: &Heat, next: &mut Bench) {
    let Work::WholeBoard {
        bake: true,
        hours: Some(time),
        ..
    } = doing.step.work
    else {
        return;
    };
    if failed(doing) {
        return;
    }
    for p in 0..next.parts.len() {
        let seen = exposure::of_part(setting, bench, heat, PartIx(p));
        let hours = dries_after_hours(setting.job().parts[p].thick);
        let long_enough = time.minutes() >= hours * 60.0;
        if long_enough && matches!(seen, Seen::At(t, _) if t >= policy::DRIES_AT) {
            next.parts[p].dry = true;
        }
    }
}

fn freeze_target(
    setting: &Setting,
    bench: &Bench,
    prepared: &Prepared,
    heat: Option<&Heat>,
    next: &mut Bench,
) {
    for metal in &prepared.metals {
        // Where nobody knows how hot it gets, the metal meets all the same, and nothing becomes one.
        let peak = heat
            .and_then(|heat| group_peak(setting, bench, heat, metal))
            .unwrap_or(setting.job().ambient);
        freeze_group(setting, metal, peak, next);
    }
}

/// What a clean-up that failed leaves: nobody knows whether anything melted, so all of it lies there side by
/// side, and what survives is the least of every mixture.
fn unmixed(metal: &Metal) -> Vec<Layer> {
    let mut layers = metal.layers.clone();
    for fresh in &metal.fresh {
        if !layers.contains(fresh) {
            layers.push(fresh.clone());
        }
    }
    layers
}

fn freeze_group(setting: &Setting, metal: &Metal, peak: Celsius, next: &mut Bench) {
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
            next.parts[part.0].take_along(layers, contact);
        }
        Outcome::WickedJoint(joint, cleaning) => {
            let left = cleaning.done_to(if metal.is_only_flood { &[] } else { &layers });
            next.joints[joint.0].set_metal(left, Contact::Layers);
        }
        Outcome::WickedPart(part, cleaning) => {
            let left = cleaning.done_to(if metal.is_only_flood { &[] } else { &layers });
            next.parts[part.0].set_metal(left, Contact::Layers);
        }
        Outcome::JointAsWas(joint) => {
            next.joints[joint.0].set_metal(unmixed(metal), Contact::Layers);
        }
        Outcome::PartAsWas(part) => next.parts[part.0].set_metal(unmixed(metal), Contact::Layers),
    }
}
