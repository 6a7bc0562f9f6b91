//! What a step sets up before heat comes: where it aims, which metal meets, what cannot be done.

use crate::alloy::Element;
use crate::job::{
    Adhesive, Amount, Balls, Choice, Finish, GuardIx, GuardKind, JointIx, PartIx, Solder, Work,
};
use crate::melt::{Contact, Layer};
use crate::quantity::{Area, Length, Mass};

use super::doing::Doing;
use super::electric;
use super::exposure::Aim;
use super::metal;
use super::passage::Refusal;
use super::setting::{Setting, sphere};
use super::state::Bench;

/// A step about to be heated.
#[derive(Clone, Debug)]
pub struct Prepared {
    /// The bench after it, but for what the heat decides.
    pub next: Bench,
    /// What it heats, if it heats.
    pub aim: Option<Aim>,
    /// The part that takes a heat in any case.
    pub part: Option<PartIx>,
    /// The metal that must flow.
    pub metal: Option<Metal>,
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
}

/// Rounds of flood-and-wick over one pad.
#[derive(Clone, Debug)]
pub struct Cleaning {
    rounds: u32,
    flood: Option<(Solder, Mass)>,
    area: Option<Area>,
    film: Option<Length>,
}

impl Cleaning {
    /// What is left on the pad. Wicked first, then each round flooded and wicked again.
    pub fn done_to(&self, layers: &[Layer]) -> Vec<Layer> {
        let Some(all) = metal::mixed(layers) else {
            return Vec::new();
        };
        let mut film = metal::film(&all, self.area, self.thickness(metal::WICKED_UM));
        let Some((solder, mass)) = &self.flood else {
            return vec![film];
        };
        for _ in 0..self.rounds {
            let puddle = metal::flooded(&film, solder, *mass);
            film = metal::film(&puddle, self.area, self.thickness(metal::FLOODED_UM));
        }
        vec![film]
    }

    fn thickness(&self, usual_um: f64) -> Length {
        self.film.unwrap_or_else(|| Length::nearest_um(usual_um))
    }
}

/// Sets a step up.
pub fn prepare(setting: &Setting, bench: &Bench, doing: &Doing) -> Prepared {
    let mut prepared = Prepared {
        next: bench.clone(),
        aim: None,
        part: None,
        metal: None,
        refusals: Vec::new(),
    };
    match &doing.step.work {
        Work::Solder {
            joint,
            solder,
            amount,
            wire,
        } => {
            put_solder(
                setting,
                doing,
                &mut prepared,
                *joint,
                solder,
                *amount,
                wire.is_some(),
            );
        }
        Work::Place { part, on, paste } => {
            place(setting, doing, &mut prepared, *part, *on, paste.as_ref());
        }
        Work::Remove { part, flood } => {
            remove(setting, doing, &mut prepared, *part, flood.as_ref());
        }
        Work::Reball {
            part,
            solder,
            diameter,
        } => {
            reball(setting, doing, &mut prepared, *part, solder, *diameter);
        }
        Work::Clean {
            joint,
            part,
            rounds,
            flood,
            film,
        } => {
            let cleaning = |area| Cleaning {
                rounds: doing.rounds(rounds),
                flood: flood.clone(),
                area,
                film: *film,
            };
            clean(setting, &mut prepared, *joint, *part, cleaning);
        }
        Work::Cover { guard, over } => cover(setting, &mut prepared, *guard, over),
        Work::Move { part, zone } => move_part(&mut prepared, *part, *zone),
        Work::WholeBoard { .. } => prepared.aim = Some(Aim::Board),
        Work::OtherHeat { joint, .. } => {
            prepared.aim = Some(joint.map_or(Aim::Nowhere, Aim::Joint));
        }
        // A check that did not pass opens nothing.
        Work::Gate { .. } if failed(doing) || misread(setting, doing) => {
            prepared.next.checked = false;
        }
        Work::Gate { short_check } => open_gate(&mut prepared, *short_check),
        Work::Power => power(&mut prepared),
    }
    for joint in &doing.step.closes {
        prepared.next.joints[joint.0].closed = true;
    }
    prepared
}

/// Whether the log says that it did not succeed.
fn failed(doing: &Doing) -> bool {
    doing.log.is_some_and(|log| log.failed.is_some())
}

/// A reading that does not pass, whether or not anybody wrote that the step failed.
fn misread(setting: &Setting, doing: &Doing) -> bool {
    let reads = doing.log.iter().flat_map(|log| &log.reads);
    let mut judged = reads.map(|(probe, ohms)| electric::judge(setting.job(), *probe, *ohms));
    judged.any(|reading| !reading.passes)
}

fn put_solder(
    setting: &Setting,
    doing: &Doing,
    prepared: &mut Prepared,
    at: JointIx,
    solder: &Choice<Solder>,
    amount: Amount,
    ties_wire: bool,
) {
    let fresh = doing.fresh(solder, amount);
    let now = &mut prepared.next.joints[at.0];
    let mut layers = now.layers.clone();
    layers.extend(fresh.clone());
    add_finish(setting, at, now.finish_left, &mut layers);
    now.finish_left = false;
    now.standing = true;
    now.wired |= ties_wire;
    refuse_if_closed(prepared, at);
    let fresh = fresh.into_iter().collect();
    aim_at(prepared, at, None, layers, fresh, Outcome::StaysOn(at));
    prepared.part = prepared.next.joints[at.0].part;
}

fn place(
    setting: &Setting,
    doing: &Doing,
    prepared: &mut Prepared,
    part: PartIx,
    on: JointIx,
    paste: Option<&(Choice<Solder>, Amount)>,
) {
    let pasted = paste.and_then(|(solder, amount)| doing.fresh(solder, *amount));
    let carried = prepared.next.parts[part.0].carries.clone();
    refuse_place(prepared, part, on, carried.is_empty() && pasted.is_none());
    let now = &mut prepared.next.joints[on.0];
    let mut layers = now.layers.clone();
    layers.extend(pasted.clone());
    layers.extend(carried.iter().cloned());
    add_finish(setting, on, now.finish_left, &mut layers);
    now.finish_left = false;
    now.standing = true;
    now.part = Some(part);
    let fresh = carried.last().cloned().into_iter().chain(pasted).collect();
    let moved = &mut prepared.next.parts[part.0];
    moved.on = Some(on);
    moved.balled = false;
    moved.set_metal(Vec::new(), Contact::Layers);
    aim_at(
        prepared,
        on,
        Some(part),
        layers,
        fresh,
        Outcome::StaysOn(on),
    );
    prepared.part = Some(part);
}

fn refuse_place(prepared: &mut Prepared, part: PartIx, on: JointIx, no_solder: bool) {
    if prepared.next.parts[part.0].on.is_some() {
        prepared.refusals.push(Refusal::StillOnBoard(part));
    }
    if let Some(other) = prepared.next.joints[on.0]
        .part
        .filter(|other| *other != part)
    {
        prepared.refusals.push(Refusal::Taken(on, other));
    }
    if no_solder && prepared.next.joints[on.0].layers.is_empty() {
        prepared.refusals.push(Refusal::NoSolder(part));
    }
    refuse_if_closed(prepared, on);
}

fn remove(
    setting: &Setting,
    doing: &Doing,
    prepared: &mut Prepared,
    part: PartIx,
    flood: Option<&(Choice<Solder>, Amount)>,
) {
    let Some(joint) = prepared.next.parts[part.0].on else {
        prepared.refusals.push(Refusal::NotOnBoard(part));
        return;
    };
    match setting.job().parts[part.0].adhesive {
        Adhesive::NotReworkable => prepared.refusals.push(Refusal::GlueHolds(part)),
        Adhesive::Unknown => prepared.refusals.push(Refusal::GlueUnknown(part)),
        Adhesive::None | Adhesive::Reworkable => {}
    }
    refuse_if_closed(prepared, joint);
    if failed(doing) {
        // It was heated and did not come off.
        let layers = prepared.next.joints[joint.0].layers.clone();
        let stays = Outcome::StaysOn(joint);
        aim_at(prepared, joint, Some(part), layers, Vec::new(), stays);
        prepared.part = Some(part);
        return;
    }
    let now = &mut prepared.next.joints[joint.0];
    let mut layers = now.layers.clone();
    let flooded = flood.and_then(|(solder, amount)| doing.fresh(solder, *amount));
    layers.extend(flooded.clone());
    now.part = None;
    // What is left on the pads still holds the wires that are tied there.
    now.standing = now.wired;
    now.was_molten = false;
    prepared.next.parts[part.0].on = None;
    // Flooding dissolves the old joint: what must flow is the mixture.
    aim_at(
        prepared,
        joint,
        Some(part),
        layers,
        Vec::new(),
        Outcome::Parts(joint, part),
    );
    if let (Some(_), Some(metal)) = (flooded, &mut prepared.metal) {
        metal.contact = Contact::Dissolved;
    }
    prepared.part = Some(part);
}

fn reball(
    setting: &Setting,
    doing: &Doing,
    prepared: &mut Prepared,
    part: PartIx,
    solder: &Choice<Solder>,
    diameter: Option<Length>,
) {
    if prepared.next.parts[part.0].on.is_some() {
        prepared.refusals.push(Refusal::StillOnBoard(part));
    }
    let own = setting.job().parts[part.0].balls.as_ref();
    let diameter = diameter.or(own.map(|balls: &Balls| balls.diameter));
    let amount = diameter.map_or(Amount::Unstated, sphere);
    let ball = doing.fresh(solder, amount);
    let wick = Cleaning {
        rounds: 0,
        flood: None,
        area: ball_pad_area(setting, part),
        film: None,
    };
    let now = &mut prepared.next.parts[part.0];
    // Balls that are already there are wicked off by whoever puts new ones on, and leave a film;
    // a cleaning step of the part before it leaves less.
    let mut layers = if now.balled {
        wick.done_to(&now.carries)
    } else {
        now.carries.clone()
    };
    layers.extend(ball.clone());
    now.balled = true;
    prepared.aim = Some(Aim::LoosePart(part));
    prepared.part = Some(part);
    prepared.metal = Some(Metal {
        joint: None,
        part: Some(part),
        layers,
        contact: Contact::Layers,
        fresh: ball.into_iter().collect(),
        outcome: Outcome::GoesWith(part),
    });
}

fn clean(
    setting: &Setting,
    prepared: &mut Prepared,
    joint: Option<JointIx>,
    part: Option<PartIx>,
    cleaning: impl Fn(Option<Area>) -> Cleaning,
) {
    if let Some(at) = joint {
        refuse_if_closed(prepared, at);
        if let Some(on_it) = prepared.next.joints[at.0].part {
            prepared.refusals.push(Refusal::StillOnBoard(on_it));
        }
        let now = &mut prepared.next.joints[at.0];
        let (layers, contact) = (now.layers.clone(), now.contact);
        now.standing = now.wired;
        let outcome = Outcome::WickedJoint(at, cleaning(pad_area(setting, at)));
        if layers.is_empty() {
            prepared.aim = Some(Aim::Joint(at));
        } else {
            aim_at(prepared, at, None, layers, Vec::new(), outcome);
            if let Some(metal) = &mut prepared.metal {
                metal.contact = contact;
            }
        }
    } else if let Some(part) = part {
        if prepared.next.parts[part.0].on.is_some() {
            prepared.refusals.push(Refusal::StillOnBoard(part));
        }
        let area = ball_pad_area(setting, part);
        let now = &mut prepared.next.parts[part.0];
        now.balled = false;
        prepared.aim = Some(Aim::LoosePart(part));
        prepared.part = Some(part);
        prepared.metal = (!now.carries.is_empty()).then(|| Metal {
            joint: None,
            part: Some(part),
            layers: now.carries.clone(),
            contact: now.contact,
            fresh: Vec::new(),
            outcome: Outcome::WickedPart(part, cleaning(area)),
        });
    }
}

/// Wetted area of a pad: as stated, else that of a pad as wide as the ball of the part there.
fn pad_area(setting: &Setting, joint: JointIx) -> Option<Area> {
    let facts = &setting.job().joints[joint.0];
    let of_part = || facts.site_of.and_then(|part| ball_pad_area(setting, part));
    facts.pad.map(|pad| pad.area).or_else(of_part)
}

fn ball_pad_area(setting: &Setting, part: PartIx) -> Option<Area> {
    let diameter = setting.job().parts[part.0].balls.as_ref()?.diameter.mm();
    Area::from_mm2(std::f64::consts::PI * diameter * diameter / 4.0).ok()
}

fn cover(setting: &Setting, prepared: &mut Prepared, guard: GuardIx, over: &[JointIx]) {
    let now = &mut prepared.next.guards[guard.0];
    now.exists = true;
    now.suspect = false;
    let is_mask = setting.job().guards[guard.0].kind == GuardKind::Mask;
    for joint in over.iter().chain(&setting.job().guards[guard.0].over) {
        prepared.next.joints[joint.0].covered |= is_mask;
    }
    prepared.aim = Some(Aim::Guard(guard));
}

fn move_part(prepared: &mut Prepared, part: PartIx, zone: Option<crate::job::ZoneIx>) {
    if prepared.next.parts[part.0].on.is_some() {
        prepared.refusals.push(Refusal::StillOnBoard(part));
    }
    prepared.next.parts[part.0].zone = zone;
}

fn open_gate(prepared: &mut Prepared, short_check: bool) {
    if short_check {
        prepared.next.checked = true;
        return;
    }
    for joint in &mut prepared.next.joints {
        joint.was_molten = false;
    }
    for guard in &mut prepared.next.guards {
        guard.suspect = false;
    }
}

fn power(prepared: &mut Prepared) {
    if !prepared.next.checked {
        prepared.refusals.push(Refusal::NotChecked);
    }
    prepared.next.powered = true;
}

fn refuse_if_closed(prepared: &mut Prepared, joint: JointIx) {
    if prepared.next.joints[joint.0].closed {
        prepared.refusals.push(Refusal::OutOfReach(joint));
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
    prepared.aim = Some(Aim::Joint(joint));
    prepared.metal = (!layers.is_empty()).then_some(Metal {
        joint: Some(joint),
        part,
        layers,
        contact,
        fresh,
        outcome,
    });
}

/// The finish of the pad goes into the first joint that is made on it (all of it: our judgement,
/// on the side of more foreign metal). Where nobody said how much solder there is, nobody knows what it
/// becomes.
///
/// Copper goes in as far as the liquid takes it: [`super::copper`]. Nickel hardly goes in (tin and nickel
/// melt at 231 °C, a kelvin below tin; memory: Massalski, Binary Alloy Phase Diagrams, 1990) and is no
/// other element set up to 0.1 mass% (design).
fn add_finish(setting: &Setting, joint: JointIx, finish_left: bool, layers: &mut [Layer]) {
    let pad = setting.job().joints[joint.0].pad.filter(|_| finish_left);
    let dissolves = |finish: &Finish| !matches!(finish.element, Element::Cu | Element::Ni);
    let Some((pad, finish)) = pad.and_then(|pad| Some((pad, pad.finish.filter(dissolves)?))) else {
        return;
    };
    let Some(lowest) = layers.first_mut() else {
        return;
    };
    lowest.blend = lowest.blend.with(&metal::finish_blend(&pad, &finish));
    lowest.unknown |= lowest.unstated && finish.thickness.um() > 0.0;
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::alloy::Composition;
    use crate::melt::History;
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
