//! What a step sets up before heat comes: where it aims, which metal meets, what cannot be done.

use crate::job::{
    Adhesive, Amount, Balls, Choice, GuardIx, GuardKind, Job, JointIx, Must, Pad, PartIx, Probe,
    Solder, WireIx, Work,
};
use crate::melt::{Contact, History, Layer};
use crate::policy;
use crate::quantity::{Area, Length, Mass};

use super::doing::Doing;
use super::electric;
use super::exposure::Aim;
use super::metal;
use super::passage::Refusal;
use super::setting::{Setting, sphere};
use super::state::{Bench, PartNow};

/// A step about to be heated.
#[derive(Clone, Debug)]
pub struct Prepared<'a> {
    /// The bench after it, but for what the heat decides.
    pub next: Bench,
    /// What it heats, if it heats.
    pub aim: Option<Aim>,
    /// The groups of joints that it heats.
    pub joints: &'a [JointIx],
    /// The part that is set, taken off, balled or baked.
    pub part: Option<PartIx>,
    /// The metal that must flow, for each group of joints that is heated.
    pub metals: Vec<Metal>,
    /// Why it cannot be done.
    pub refusals: Vec<Refusal>,
}

/// Metal that must flow in a step.
#[derive(Clone, Debug)]
pub struct Metal {
    /// The joints it is in.
    pub joint: Option<JointIx>,
    /// The part that is set, taken off or balled.
    pub part: Option<PartIx>,
    /// Everything that touches, lowest first.
    pub layers: Vec<Layer>,
    /// Whether it has become one before.
    pub contact: Contact,
    /// What is new in it, the metal that must flow on its own first: ball, then paste.
    pub fresh: Vec<Layer>,
    /// What must flow besides: old balls that new ones are set over.
    pub old: Vec<Layer>,
    /// The pad was bare: all that is there is the first puddle of a clean-up.
    pub is_only_flood: bool,
    /// Where it ends up.
    pub outcome: Outcome,
}

/// Where the metal of a step ends up.
#[derive(Clone, Debug)]
pub enum Outcome {
    /// On the joint.
    StaysOn(JointIx),
    /// On the loose part.
    GoesWith(PartIx),
    /// Some on the pads, some on the part; each may have all of it.
    Parts(JointIx, PartIx),
    /// A film on the pads.
    WickedJoint(JointIx, Cleaning),
    /// A film on the pads of the part.
    WickedPart(PartIx, Cleaning),
    /// Nothing surely came off the pads: what was there, and beside it what flooded it.
    JointAsWas(JointIx),
    /// The same on the pads of the part.
    PartAsWas(PartIx),
}

/// Rounds of flood-and-wick over one pad.
#[derive(Clone, Debug)]
pub struct Cleaning {
    rounds: u32,
    flood: Option<(Solder, Mass)>,
    area: Option<Area>,
    film: Option<Length>,
    /// The first round finds only what a wick leaves.
    wicked_first: bool,
    /// A bare pad whose finish goes into the first puddle.
    bare: Option<Pad>,
}

impl Cleaning {
    /// What is left on the pad. A round floods all that is there and wicks it off again; without rounds it
    /// is wicked alone.
    pub fn done_to(&self, layers: &[Layer]) -> Vec<Layer> {
        let flood = self.flood.as_ref().filter(|_| self.rounds > 0);
        let all = metal::mixed(layers);
        let wicked = |all: Layer| metal::film(&all, self.area, self.thickness(policy::WICKED_FILM));
        let Some((solder, mass)) = flood else {
            return all.map(wicked).into_iter().collect();
        };
        let mut left = if self.wicked_first {
            all.map(wicked)
        } else {
            all
        };
        for _ in 0..self.rounds {
            let puddle = if let Some(left) = left {
                metal::flooded(&left, solder, *mass)
            } else {
                let mut puddle = metal::layer(solder, Amount::Mass(*mass), History::Frozen);
                metal::take_finish(self.bare, &mut puddle);
                puddle
            };
            let thickness = self.thickness(policy::FLOODED_FILM);
            left = Some(metal::film(&puddle, self.area, thickness));
        }
        left.into_iter().collect()
    }

    /// The fresh solder of a round.
    fn fresh(&self) -> Option<Layer> {
        let (solder, mass) = self.flood.as_ref().filter(|_| self.rounds > 0)?;
        Some(metal::layer(solder, Amount::Mass(*mass), History::Frozen))
    }

    fn thickness(&self, usual: Length) -> Length {
        self.film.unwrap_or(usual)
    }
}

/// Sets a step up.
pub fn prepare<'a>(setting: &Setting, bench: &'a Bench, doing: &Doing<'a>) -> Prepared<'a> {
    let mut prepared = Prepared {
        next: bench.clone(),
        aim: None,
        joints: &[],
        part: None,
        metals: Vec::new(),
        refusals: Vec::new(),
    };
    let above = setting.bodies_over(doing.step).iter();
    let standing = above.filter(|part| !bench.parts[part.0].on.is_empty());
    prepared
        .refusals
        .extend(standing.copied().map(Refusal::InTheWay));
    set_up(setting, bench, doing, &mut prepared);
    for joint in &doing.step.closes {
        prepared.next.joints[joint.0].closed = true;
    }
    prepared
}

fn set_up<'a>(setting: &Setting, bench: &'a Bench, doing: &Doing<'a>, prepared: &mut Prepared<'a>) {
    match &doing.step.work {
        Work::Solder { joint, .. } => put_solder(setting, doing, prepared, joint),
        Work::Place { part, on, paste } => {
            place(setting, doing, prepared, *part, on, paste.as_ref());
        }
        Work::Remove { part, flood } => {
            remove(setting, bench, doing, prepared, *part, flood.as_ref());
        }
        Work::Reball {
            part,
            solder,
            diameter,
        } => reball(setting, doing, prepared, *part, solder, *diameter),
        Work::Clean { joint, part, .. } => match (joint, part) {
            (Some(joint), _) => clean_pads(setting, doing, prepared, joint),
            (None, Some(part)) => clean_part(setting, doing, prepared, *part),
            (None, None) => {}
        },
        // What did not come off is still there.
        Work::Uncover { .. } if failed(doing) => {}
        Work::Cover { guard, over } => cover(setting, prepared, *guard, over),
        Work::Uncover { guard } => uncover(prepared, *guard),
        Work::Move { part, zone } => move_part(setting, prepared, *part, *zone),
        Work::WholeBoard { part: None, .. } => prepared.aim = Some(Aim::Board),
        Work::WholeBoard {
            part: Some(part), ..
        } => bake_alone(prepared, *part),
        Work::OtherHeat { joint, strip } => {
            prepared.aim = Some(joint.map_or(Aim::Nowhere, Aim::Joint));
            prepared.joints = joint.as_slice();
            if let Some(at) = joint.filter(|_| !*strip) {
                reflow(setting, doing, prepared, at);
            }
            match joint {
                Some(at) if *strip => {
                    refuse_if_shut(setting, prepared, *at);
                    refuse_below_part(setting, prepared, *at);
                }
                // Heat alone goes through mask.
                Some(at) if prepared.next.joints[at.0].closed => {
                    prepared.refusals.push(Refusal::OutOfReach(*at));
                }
                _ => {}
            }
        }
        // A check that did not pass opens nothing.
        Work::Gate { .. } if failed(doing) || misread(setting, doing) => {
            prepared.next.checked = false;
            doubt_open_wires(setting, doing, prepared);
        }
        Work::Gate { short_check } => open_gate(prepared, *short_check),
        Work::Power => power(setting, doing, prepared),
    }
}

/// Whether the log says that it did not succeed.
pub(super) fn failed(doing: &Doing) -> bool {
    doing.log.is_some_and(|log| log.failed.is_some())
}

/// A wire that reads open, or too much, is not soldered at one of its ends: both are looked at.
fn doubt_open_wires(setting: &Setting, doing: &Doing, prepared: &mut Prepared) {
    for (probe, ohms) in doing.log.iter().flat_map(|log| &log.reads) {
        let Probe::EndToEnd(wire) = probe else {
            continue;
        };
        if electric::judge(setting.job(), *probe, *ohms).passes {
            continue;
        }
        let wire = &setting.job().wires[wire.0];
        for end in [wire.from, wire.to] {
            let joint = &mut prepared.next.joints[end.0];
            joint.doubtful |= joint.standing;
        }
    }
}

/// A reading that does not pass, whether or not anybody wrote that the step failed.
fn misread(setting: &Setting, doing: &Doing) -> bool {
    let reads = doing.log.iter().flat_map(|log| &log.reads);
    let mut judged = reads.map(|(probe, ohms)| electric::judge(setting.job(), *probe, *ohms));
    judged.any(|reading| !reading.passes)
}

#[expect(
    clippy::trivially_copy_pass_by_ref,
    reason = "what is heated is a slice of the step itself"
)]
fn put_solder<'a>(
    setting: &Setting,
    doing: &Doing<'a>,
    prepared: &mut Prepared<'a>,
    joint: &'a JointIx,
) {
    let Work::Solder {
        solder,
        amount,
        wire,
        ..
    } = &doing.step.work
    else {
        return;
    };
    let at = *joint;
    let fresh = doing.fresh(setting, solder, *amount);
    refuse_if_shut(setting, prepared, at);
    refuse_below_part(setting, prepared, at);
    let now = &mut prepared.next.joints[at.0];
    let mut layers = now.layers.clone();
    layers.extend(fresh.clone());
    let ties = wire.is_some()
        || setting
            .facts()
            .ends_untied(setting.job(), at)
            .next()
            .is_some();
    let area = pad_area(setting, at).or_else(|| widest_end(setting.job(), at));
    if ties && fresh.is_some() && joins_nothing(&layers, area) {
        prepared.refusals.push(Refusal::TooLittle(at));
    }
    let now = &mut prepared.next.joints[at.0];
    add_finish(setting, at, now.finish_left, &mut layers);
    now.made();
    now.wires.extend(*wire);
    if wire.is_none() {
        now.wires
            .extend(setting.facts().ends_untied(setting.job(), at));
    }
    now.wires.sort();
    now.wires.dedup();
    // A chip on its back lies on the board once its pads are wired.
    if let Some(part) = setting.facts().carrier(at) {
        prepared.next.parts[part.0].lies |= prepared.next.parts[part.0].on.is_empty();
    }
    prepared.joints = std::slice::from_ref(joint);
    let fresh = fresh.into_iter().collect();
    aim_at(prepared, at, None, layers, fresh, Outcome::StaysOn(at));
}

fn place<'a>(
    setting: &Setting,
    doing: &Doing<'a>,
    prepared: &mut Prepared<'a>,
    part: PartIx,
    on: &'a [JointIx],
    paste: Option<&(Choice<Solder>, Amount)>,
) {
    let mut pasted = paste.and_then(|(solder, amount)| doing.fresh(setting, solder, *amount));
    add_part_finish(setting, prepared, part, pasted.as_mut());
    let carried = prepared.next.parts[part.0].carries.clone();
    if !prepared.next.parts[part.0].on.is_empty() {
        prepared.refusals.push(Refusal::StillOnBoard(part));
    }
    prepared.joints = on;
    prepared.part = Some(part);
    for &at in on {
        refuse_site(
            setting,
            prepared,
            part,
            at,
            joins_nothing(pasted.as_slice(), pad_area(setting, at))
                && joins_nothing(&carried, own_pad_area(setting, part)),
        );
        let now = &mut prepared.next.joints[at.0];
        let mut layers = now.layers.clone();
        layers.extend(pasted.clone());
        layers.extend(carried.iter().cloned());
        add_finish(setting, at, now.finish_left, &mut layers);
        now.made();
        now.parts.push(part);
        now.parts.sort();
        let fresh = carried.last().cloned().into_iter().chain(pasted.clone());
        let fresh = fresh.collect();
        aim_at(
            prepared,
            at,
            Some(part),
            layers,
            fresh,
            Outcome::StaysOn(at),
        );
        // What was never balled anew came off several groups of joints, or has cores: all of it must flow.
        let balled = prepared.next.parts[part.0].balled;
        if let (Some(metal), false, [others @ .., _]) =
            (prepared.metals.last_mut(), balled, carried.as_slice())
        {
            metal.old = others.to_vec();
        }
    }
    let moved = &mut prepared.next.parts[part.0];
    moved.on = on.to_vec();
    moved.lies = false;
    moved.balled = false;
    moved.set_metal(Vec::new(), Contact::Layers);
}

fn refuse_site(
    setting: &Setting,
    prepared: &mut Prepared,
    part: PartIx,
    at: JointIx,
    no_solder: bool,
) {
    let now = &prepared.next.joints[at.0];
    let other = now.parts.iter().find(|other| **other != part).copied();
    if let Some(other) = other {
        prepared.refusals.push(Refusal::Taken(at, other));
    }
    if no_solder && joins_nothing(&now.layers, pad_area(setting, at)) {
        prepared.refusals.push(Refusal::NoSolder(part));
    }
    refuse_if_shut(setting, prepared, at);
}

fn remove<'a>(
    setting: &Setting,
    bench: &'a Bench,
    doing: &Doing<'a>,
    prepared: &mut Prepared<'a>,
    part: PartIx,
    flood: Option<&(Choice<Solder>, Amount)>,
) {
    let on = bench.parts[part.0].on.as_slice();
    if on.is_empty() {
        prepared.refusals.push(Refusal::NotOnBoard(part));
        return;
    }
    match setting.job().parts[part.0].adhesive {
        Adhesive::NotReworkable => prepared.refusals.push(Refusal::GlueHolds(part)),
        Adhesive::Unknown => prepared.refusals.push(Refusal::GlueUnknown(part)),
        Adhesive::None | Adhesive::Reworkable => {}
    }
    prepared.joints = on;
    prepared.part = Some(part);
    refuse_while_others_stand(setting, prepared, part, on);
    let flooded = flood.and_then(|(solder, amount)| doing.fresh(setting, solder, *amount));
    for &at in on {
        refuse_if_shut(setting, prepared, at);
        let mut layers = prepared.next.joints[at.0].layers.clone();
        if failed(doing) {
            // It was heated and did not come off.
            let stays = Outcome::StaysOn(at);
            aim_at(prepared, at, Some(part), layers, Vec::new(), stays);
            continue;
        }
        layers.extend(flooded.clone());
        let now = &mut prepared.next.joints[at.0];
        now.parts.retain(|other| *other != part);
        now.as_found = false;
        // What is left on the pads still holds the wires that are tied there, and other parts.
        now.standing = now.is_pulled(setting.job(), at) || !now.parts.is_empty();
        now.was_molten = false;
        now.doubtful = false;
        // Flooding dissolves the old joint: what must flow is the flood, and the mixture.
        let parts = Outcome::Parts(at, part);
        let fresh = flooded.clone().into_iter().collect();
        aim_at(prepared, at, Some(part), layers, fresh, parts);
        if let (Some(_), Some(metal)) = (&flooded, prepared.metals.last_mut()) {
            metal.contact = Contact::Dissolved;
        }
    }
    if !failed(doing) {
        prepared.next.parts[part.0].on.clear();
    }
}

fn reball(
    setting: &Setting,
    doing: &Doing,
    prepared: &mut Prepared,
    part: PartIx,
    solder: &Choice<Solder>,
    diameter: Option<Length>,
) {
    if !prepared.next.parts[part.0].on.is_empty() {
        prepared.refusals.push(Refusal::StillOnBoard(part));
    }
    let own = setting.job().parts[part.0].balls.as_ref();
    let diameter = diameter.or(own.map(|balls: &Balls| balls.diameter));
    let amount = diameter.map_or(Amount::Unstated, sphere);
    let mut ball = doing.fresh(setting, solder, amount);
    add_part_finish(setting, prepared, part, ball.as_mut());
    let wick = Cleaning {
        rounds: 0,
        flood: None,
        area: own_pad_area(setting, part),
        film: None,
        wicked_first: false,
        bare: None,
    };
    let torn = is_torn(setting, &prepared.next.parts[part.0], part);
    let now = &mut prepared.next.parts[part.0];
    // Balls that are already there, or what is left of them, are wicked off by whoever puts new ones on, and
    // leave a film; for that they must flow. A cleaning step of the part before it leaves less.
    let is_wicked = now.balled || torn;
    let old = if is_wicked {
        metal::flowing(&now.carries, now.contact)
    } else {
        Vec::new()
    };
    let mut layers = if is_wicked {
        wick.done_to(&now.carries)
    } else {
        now.carries.clone()
    };
    layers.extend(ball.clone());
    now.balled = true;
    prepared.aim = Some(Aim::LoosePart(part));
    prepared.part = Some(part);
    prepared.metals = vec![Metal {
        joint: None,
        part: Some(part),
        layers,
        contact: Contact::Layers,
        fresh: ball.into_iter().collect(),
        old,
        is_only_flood: false,
        outcome: Outcome::GoesWith(part),
    }];
}

/// The rounds of a clean-up, on pads of that area.
fn cleaning((setting, doing): (&Setting, &Doing), area: Option<Area>) -> Cleaning {
    let Work::Clean {
        rounds,
        flood,
        film,
        ..
    } = &doing.step.work
    else {
        return Cleaning {
            rounds: 0,
            flood: None,
            area,
            film: None,
            wicked_first: false,
            bare: None,
        };
    };
    let used = doing.log.and_then(|log| log.alloy.clone());
    let mass = doing.log.and_then(|log| log.mass);
    let flood = flood
        .clone()
        .map(|(solder, planned)| (used.unwrap_or(solder), mass.unwrap_or(planned)))
        .map(|(solder, mass)| (setting.as_it_is(&solder), mass));
    Cleaning {
        rounds: doing.rounds(rounds),
        flood,
        area,
        film: *film,
        wicked_first: false,
        bare: None,
    }
}

#[expect(
    clippy::trivially_copy_pass_by_ref,
    reason = "what is heated is a slice of the step itself"
)]
fn clean_pads<'a>(
    setting: &Setting,
    doing: &Doing<'a>,
    prepared: &mut Prepared<'a>,
    joint: &'a JointIx,
) {
    let at = *joint;
    refuse_if_shut(setting, prepared, at);
    let on_it = prepared.next.joints[at.0].parts.first().copied();
    if let Some(part) = on_it {
        prepared.refusals.push(Refusal::StillOnBoard(part));
    }
    prepared.joints = std::slice::from_ref(joint);
    prepared.aim = Some(Aim::Joint(at));
    let mut cleaning = cleaning((setting, doing), pad_area(setting, at));
    let now = &mut prepared.next.joints[at.0];
    let (mut layers, contact) = (now.layers.clone(), now.contact);
    if failed(doing) {
        now.doubtful |= now.standing;
    } else {
        // The wick takes the solder that holds them: wires come off with it.
        now.standing = false;
        now.wires.clear();
    }
    now.as_found = false;
    let fresh: Vec<Layer> = cleaning.fresh().into_iter().collect();
    let wets = !fresh.is_empty() && !failed(doing);
    add_finish(setting, at, now.finish_left && wets, &mut layers);
    let pad = setting.job().joints[at.0].pad;
    cleaning.bare = pad.filter(|_| now.finish_left && layers.is_empty());
    now.finish_left &= !wets;
    if layers.is_empty() && fresh.is_empty() {
        return;
    }
    let bare = layers.is_empty();
    let outcome = if failed(doing) {
        Outcome::JointAsWas(at)
    } else {
        Outcome::WickedJoint(at, cleaning)
    };
    prepared.metals = vec![Metal {
        joint: Some(at),
        part: None,
        layers: if bare { fresh.clone() } else { layers },
        contact,
        // Fresh solder that floods a pad takes what is there into it.
        fresh,
        old: Vec::new(),
        is_only_flood: bare,
        outcome,
    }];
}

fn clean_part(setting: &Setting, doing: &Doing, prepared: &mut Prepared, part: PartIx) {
    if !prepared.next.parts[part.0].on.is_empty() {
        prepared.refusals.push(Refusal::StillOnBoard(part));
    }
    let cleaning = cleaning((setting, doing), own_pad_area(setting, part));
    let now = &mut prepared.next.parts[part.0];
    now.balled &= failed(doing);
    prepared.aim = Some(Aim::LoosePart(part));
    prepared.part = Some(part);
    let fresh: Vec<Layer> = cleaning.fresh().into_iter().collect();
    // What floods it takes the finish, and is wicked off again.
    now.finish_left &= fresh.is_empty() || failed(doing);
    if now.carries.is_empty() && fresh.is_empty() {
        return;
    }
    let bare = now.carries.is_empty();
    // Balls come off before pads of a part are dressed: the first round finds the film that is left.
    let cleaning = Cleaning {
        wicked_first: true,
        ..cleaning
    };
    prepared.metals = vec![Metal {
        joint: None,
        part: Some(part),
        layers: if bare {
            fresh.clone()
        } else {
            now.carries.clone()
        },
        contact: now.contact,
        fresh,
        old: Vec::new(),
        is_only_flood: bare,
        outcome: if failed(doing) {
            Outcome::PartAsWas(part)
        } else {
            Outcome::WickedPart(part, cleaning)
        },
    }];
}

/// Heat that is stated to go to a joint's flow point is meant to melt it: what is free to flow is reflowed. What
/// lies under something, is pulled at or must stay solid is not.
fn reflow(setting: &Setting, doing: &Doing, prepared: &mut Prepared, at: JointIx) {
    let job = setting.job();
    let now = &prepared.next.joints[at.0];
    let read = doing.log.and_then(|log| log.peak);
    let stated = doing.way().and_then(|way| way.peak);
    let shut = now.closed || job.joints[at.0].covered || !now.under.is_empty();
    let kept = job.joints[at.0].must == Must::StaySolid || job.joints[at.0].strained;
    let flow = setting.melt(&now.layers, now.contact).flow;
    let melts = read
        .or(stated)
        .zip(flow)
        .is_some_and(|(peak, flow)| peak >= flow);
    if now.layers.is_empty() || !now.standing || shut || kept || !melts {
        return;
    }
    let layers = now.layers.clone();
    let next = &mut prepared.next.joints[at.0];
    next.as_found = false;
    next.was_molten = false;
    next.doubtful = false;
    aim_at(prepared, at, None, layers, Vec::new(), Outcome::StaysOn(at));
}

/// A part that is baked off the board: nothing else is heated.
fn bake_alone(prepared: &mut Prepared, part: PartIx) {
    if !prepared.next.parts[part.0].on.is_empty() {
        prepared.refusals.push(Refusal::StillOnBoard(part));
    }
    prepared.aim = Some(Aim::LoosePart(part));
    prepared.part = Some(part);
}

/// Wetted area of a pad: as stated, else that of a pad as wide as the ball of the part there.
pub(super) fn pad_area(setting: &Setting, joint: JointIx) -> Option<Area> {
    let facts = &setting.job().joints[joint.0];
    let of_part = || facts.site_of.and_then(|part| ball_pad_area(setting, part));
    facts.pad.map(|pad| pad.area).or_else(of_part)
}

/// Wetted area of a pad of a part: as stated, else as wide as its balls.
fn own_pad_area(setting: &Setting, part: PartIx) -> Option<Area> {
    let stated = setting.job().parts[part.0].pad.map(|pad| pad.area);
    stated.or_else(|| ball_pad_area(setting, part))
}

fn ball_pad_area(setting: &Setting, part: PartIx) -> Option<Area> {
    disc(setting.job().parts[part.0].balls.as_ref()?.diameter)
}

fn disc(diameter: Length) -> Option<Area> {
    Area::from_mm2(std::f64::consts::PI * diameter.mm() * diameter.mm() / 4.0).ok()
}

fn cover(setting: &Setting, prepared: &mut Prepared, guard: GuardIx, over: &[JointIx]) {
    let now = &mut prepared.next.guards[guard.0];
    now.exists = true;
    now.suspect = false;
    // Nobody covers what an earlier step closed.
    for joint in over
        .iter()
        .filter(|joint| prepared.next.joints[joint.0].closed)
    {
        prepared.refusals.push(Refusal::OutOfReach(*joint));
    }
    if setting.job().guards[guard.0].kind == GuardKind::Mask {
        for joint in over {
            refuse_below_part(setting, prepared, *joint);
        }
    }
    for joint in over.iter().chain(&setting.job().guards[guard.0].over) {
        let under = &mut prepared.next.joints[joint.0].under;
        if !under.contains(&guard) {
            under.push(guard);
            under.sort();
        }
    }
    prepared.aim = Some(Aim::Guard(guard));
}

fn uncover(prepared: &mut Prepared, guard: GuardIx) {
    if !prepared.next.guards[guard.0].exists {
        prepared.refusals.push(Refusal::NothingThere(guard));
    }
    prepared.next.guards[guard.0].exists = false;
    prepared.next.guards[guard.0].suspect = false;
    prepared.next.checked = false;
    for joint in &mut prepared.next.joints {
        joint.under.retain(|over| *over != guard);
    }
}

fn move_part(
    setting: &Setting,
    prepared: &mut Prepared,
    part: PartIx,
    zone: Option<crate::job::ZoneIx>,
) {
    if !prepared.next.parts[part.0].on.is_empty() {
        prepared.refusals.push(Refusal::StillOnBoard(part));
    }
    let by = leash(setting, &prepared.next, part);
    prepared
        .refusals
        .extend(by.map(|wire| Refusal::Wired(part, wire)));
    prepared.next.parts[part.0].zone = zone;
    prepared.next.parts[part.0].lies = true;
    prepared.next.checked = false;
}

/// A wire that is soldered to pads of the part's own body, and with its other end to something else.
fn leash(setting: &Setting, bench: &Bench, part: PartIx) -> Option<WireIx> {
    let own = |at: JointIx| setting.facts().carrier(at) == Some(part);
    let wires = setting.job().wires.iter().enumerate();
    let mut across = wires.filter(|(_, wire)| own(wire.from) != own(wire.to));
    let held = |w: usize, at: JointIx| bench.joints[at.0].wires.contains(&WireIx(w));
    across
        .find(|(w, wire)| held(*w, wire.from) && held(*w, wire.to))
        .map(|(w, _)| WireIx(w))
}

fn open_gate(prepared: &mut Prepared, short_check: bool) {
    if short_check {
        prepared.next.checked = true;
        return;
    }
    prepared.next.disordered = false;
    // Nobody looks at what an earlier step closed.
    let in_sight = prepared.next.joints.iter_mut();
    for joint in in_sight.filter(|joint| !joint.closed) {
        joint.was_molten = false;
        joint.doubtful = false;
    }
    for guard in &mut prepared.next.guards {
        guard.suspect = false;
    }
    for part in &mut prepared.next.parts {
        part.suspect = false;
    }
}

fn power(setting: &Setting, doing: &Doing, prepared: &mut Prepared) {
    if !prepared.next.checked {
        prepared.refusals.push(Refusal::NotChecked);
    }
    for w in 0..setting.job().wires.len() {
        let open = loose_end(setting, doing, &prepared.next, WireIx(w));
        prepared
            .refusals
            .extend(open.map(|end| Refusal::Loose(WireIx(w), end)));
    }
    let open = setting.facts().made_by_steps().iter().filter(|at| {
        let later = setting.facts().soldered_after(&doing.step.id);
        !prepared.next.joints[at.0].standing && !later.contains(at)
    });
    prepared.refusals.extend(open.map(|at| Refusal::Open(*at)));
    prepared.next.powered = true;
    // What power found wrong is checked anew before it comes again.
    prepared.next.checked &= !failed(doing);
}

/// The end of a wire that is not soldered when power comes. One that is soldered at one end alone lies about
/// with the other; one that is not there yet is no matter where a step after this power puts it on.
fn loose_end(setting: &Setting, doing: &Doing, bench: &Bench, wire: WireIx) -> Option<JointIx> {
    let facts = &setting.job().wires[wire.0];
    let named = setting.facts().is_tied_anywhere(wire);
    if electric::is_wanted_off(setting.job(), wire) {
        let ends = [facts.from, facts.to];
        let tied = |end: &JointIx| bench.joints[end.0].wires.contains(&wire);
        let half = ends.iter().any(tied) && !ends.iter().all(tied);
        return ends.into_iter().find(|end| half && !tied(end));
    }
    let is_open = |end: &JointIx| {
        let joint = &bench.joints[end.0];
        !joint.standing || (named && !joint.wires.contains(&wire))
    };
    let open: Vec<JointIx> = [facts.from, facts.to].into_iter().filter(is_open).collect();
    let half = named && open.len() == 1;
    let comes_later = |end: &JointIx| {
        let later = setting.facts().soldered_after(&doing.step.id);
        later.contains(end)
    };
    open.into_iter().find(|end| half || !comes_later(end))
}

/// Another part on the same joints, or on joints that lie on this one, would come off with it or stand on
/// molten solder: it comes off first, unless it is to come off anyway and holds no data.
fn refuse_while_others_stand(
    setting: &Setting,
    prepared: &mut Prepared,
    part: PartIx,
    on: &[JointIx],
) {
    let carried = (0..setting.job().joints.len())
        .map(JointIx)
        .filter(|at| setting.facts().carrier(*at) == Some(part));
    let all: Vec<JointIx> = on.iter().copied().chain(carried).collect();
    for at in all {
        let others = prepared.next.joints[at.0].parts.iter().copied();
        let other = others
            .filter(|other| *other != part)
            .find(|other| !setting.facts().is_taken_off(*other));
        prepared
            .refusals
            .extend(other.map(|other| Refusal::Taken(at, other)));
    }
}

/// Whether a part with balls still carries what it came off the board with: remnants of balls, each of another
/// height.
pub(super) fn is_torn(setting: &Setting, now: &PartNow, part: PartIx) -> bool {
    let has_balls = setting.job().parts[part.0].balls.is_some();
    let off = now.on.is_empty() && !now.balled && !now.carries.is_empty();
    let whole = metal::mixed(&now.carries);
    has_balls
        && off
        && whole.is_some_and(|all| !is_within(&all, own_pad_area(setting, part), policy::TORN_FROM))
}

/// Whether no more metal lies on a pad than a film of that thickness. Where the pad or the mass is not known, it
/// may be more.
fn is_within(all: &Layer, area: Option<Area>, thickness: Length) -> bool {
    let film = metal::film(all, area, thickness);
    !film.unstated && film.blend.total() == all.blend.total()
}

/// Whether what lies there joins nothing: no metal, or no more than a wick leaves.
fn joins_nothing(layers: &[Layer], area: Option<Area>) -> bool {
    metal::mixed(layers).is_none_or(|all| is_within(&all, area, policy::WICKED_FILM))
}

/// A pad that nobody measured is at least as wide as a wire that ends on it.
fn widest_end(job: &Job, at: JointIx) -> Option<Area> {
    let ends = job
        .wires
        .iter()
        .filter(|wire| wire.from == at || wire.to == at);
    ends.filter_map(|wire| disc(wire.diameter))
        .reduce(|widest, pad| {
            if pad.mm2() > widest.mm2() {
                pad
            } else {
                widest
            }
        })
}

/// Pads below a standing part with balls are out of reach of a tip.
fn refuse_below_part(setting: &Setting, prepared: &mut Prepared, at: JointIx) {
    let balled = |part: &PartIx| {
        let facts = &setting.job().parts[part.0];
        facts.balls.is_some() && !facts.lugs.contains(&at)
    };
    let above = prepared.next.joints[at.0]
        .parts
        .iter()
        .copied()
        .find(balled);
    prepared.refusals.extend(above.map(Refusal::StillOnBoard));
}

/// Nobody reaches a joint that an earlier step closed, or that lies under mask, glue or coat.
fn refuse_if_shut(setting: &Setting, prepared: &mut Prepared, at: JointIx) {
    let now = &prepared.next.joints[at.0];
    if now.closed {
        prepared.refusals.push(Refusal::OutOfReach(at));
    }
    let by = now.shut_by(setting.job());
    if by.is_some() || setting.job().joints[at.0].covered {
        prepared.refusals.push(Refusal::Covered(at, by));
    }
}

fn aim_at(
    prepared: &mut Prepared,
    joint: JointIx,
    part: Option<PartIx>,
    layers: Vec<Layer>,
    fresh: Vec<Layer>,
    outcome: Outcome,
) {
    if layers.is_empty() {
        prepared.refusals.push(Refusal::NoMetal(joint));
    }
    let contact = prepared.next.joints[joint.0].contact;
    prepared.aim.get_or_insert(Aim::Joint(joint));
    if !layers.is_empty() {
        prepared.metals.push(Metal {
            joint: Some(joint),
            part,
            layers,
            contact,
            fresh,
            old: Vec::new(),
            is_only_flood: false,
            outcome,
        });
    }
}

/// The finish of the pad goes into the first joint that is made on it.
fn add_finish(setting: &Setting, joint: JointIx, finish_left: bool, layers: &mut [Layer]) {
    let pad = setting.job().joints[joint.0].pad.filter(|_| finish_left);
    if let Some(lowest) = layers.first_mut() {
        metal::take_finish(pad, lowest);
    }
}

/// That of the part's own pads goes into the first solder on them, which lies next to the part.
fn add_part_finish(
    setting: &Setting,
    prepared: &mut Prepared,
    part: PartIx,
    on_it: Option<&mut Layer>,
) {
    let now = &mut prepared.next.parts[part.0];
    if let Some(layer) = on_it.filter(|_| now.finish_left) {
        metal::take_finish(setting.job().parts[part.0].pad, layer);
        now.finish_left = false;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::alloy::{Composition, Element};
    use approx::assert_relative_eq;

    /// By hand, on a pad of 0.3 mm: the wick leaves 10 µm of Sn63Pb37 (8.400 g/cm³), 0.005938 mg with
    /// 0.002197 mg of lead. 0.2 mg of Bi58Sn42 on it make 1.067 % lead; the wick leaves 2 µm of that, with
    /// 8.553 g/cm³ 0.001209 mg; 0.2 mg more make 0.006411 %, and so on, times 0.006009 a round. Half a per
    /// cent for the densities of what is between the two alloys.
    #[test]
    fn every_round_of_flood_and_wick_thins_what_is_left() {
        use Element::{Bi, Pb, Sn};
        let mix = |parts: &[(Element, f64)]| Composition::from_parts(parts).unwrap();
        let mg = |mg| Mass::from_mg(mg).unwrap();
        let old = Layer {
            blend: crate::alloy::Blend::of(&mix(&[(Sn, 63.0), (Pb, 37.0)]), mg(1.0)),
            history: History::Frozen,
            unstated: false,
            unknown: false,
        };
        let composition = mix(&[(Bi, 58.0), (Sn, 42.0)]);
        let fresh = Solder {
            name: composition.to_string(),
            composition,
        };
        let left = |rounds: u32| {
            let cleaning = Cleaning {
                rounds,
                flood: (rounds > 0).then(|| (fresh.clone(), mg(0.2))),
                area: Some(Area::from_mm2(std::f64::consts::PI * 0.15 * 0.15).unwrap()),
                film: None,
                wicked_first: true,
                bare: None,
            };
            let films = cleaning.done_to(std::slice::from_ref(&old));
            assert_eq!(films.len(), 1);
            let blend = films[0].blend;
            (
                blend.total().mg(),
                100.0 * blend.mass_of(Pb).mg() / blend.total().mg(),
            )
        };
        for (rounds, film_mg, lead) in [
            (0, 0.005_938, 37.0),
            (1, 0.001_209, 1.067),
            (2, 0.001_209, 0.006_411),
        ] {
            let (mass, percent) = left(rounds);
            assert_relative_eq!(mass, film_mg, max_relative = 0.005);
            assert_relative_eq!(percent, lead, max_relative = 0.01);
        }
    }
}
