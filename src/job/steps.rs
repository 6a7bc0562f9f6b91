//! What is to be done: the steps, each with its work and its ways to heat.

use super::alloys::Shelf;
use super::deposits;
use super::desk::{Desk, Mark};
use super::fields::{self, Fields, list};
use super::keys::{self, Key, Verb};
use super::names::Names;
use super::node::Node;
use super::shape::{
    Amount, Balls, Choice, Content, Joint, JointIx, Part, PartIx, Solder, Step, StepIx, Wire,
    WireIx, Work,
};
use super::things;
use super::ways::{self, Aim};
use crate::quantity::{Area, Celsius, Length, Mass, Minutes};
use crate::yaml::Placed;

/// What steps refer to.
pub(super) struct Things<'t> {
    pub(super) names: &'t Names,
    pub(super) joints: &'t [Option<Joint>],
    pub(super) parts: &'t [Option<Part>],
    pub(super) ambient: Celsius,
    /// Wires that have their own entry.
    pub(super) wires: usize,
}

impl Things<'_> {
    fn pad(&self, joint: Option<JointIx>) -> Option<Area> {
        let joint = self.joints.get(joint?.0)?.as_ref()?;
        joint.pad.map(|pad| pad.area)
    }

    fn balls(&self, part: Option<PartIx>) -> Option<&Balls> {
        self.parts.get(part?.0)?.as_ref()?.balls.as_ref()
    }
}

/// The steps, and the wires that they bring.
pub(super) fn steps(
    job: &Fields,
    things: &Things,
    shelf: &mut Shelf,
    desk: &mut Desk,
) -> (Vec<Option<Step>>, Vec<Option<Wire>>) {
    let items = job.items("steps");
    let mut reader = Reader {
        things,
        shelf,
        desk,
        brought: Vec::new(),
        reballed: things.names.reballed(items),
        at: StepIx(0),
        after_all: Vec::new(),
    };
    let mut steps: Vec<Option<Step>> = Vec::new();
    for item in items {
        reader.at = StepIx(steps.len());
        steps.push(reader.step(item));
    }
    // All from the same picture: two steps that both wait for all must show as a ring.
    let waits: Vec<Vec<StepIx>> = reader
        .after_all
        .iter()
        .map(|last| all_but_later(&steps, *last))
        .collect();
    for (last, earlier) in reader.after_all.iter().zip(waits) {
        if let Some(Some(step)) = steps.get_mut(last.0) {
            step.after = earlier.into_iter().map(|ix| (ix, None)).collect();
        }
    }
    (steps, reader.brought)
}

struct Reader<'r, 'b> {
    things: &'r Things<'r>,
    shelf: &'r mut Shelf<'b>,
    desk: &'r mut Desk,
    brought: Vec<Option<Wire>>,
    /// Parts that get new balls in some step.
    reballed: Vec<PartIx>,
    /// The step that is being read.
    at: StepIx,
    /// Steps that say `after: all`.
    after_all: Vec<StepIx>,
}

/// Every other step, except those that wait for this one themselves.
fn all_but_later(steps: &[Option<Step>], last: StepIx) -> Vec<StepIx> {
    let mut later = vec![last];
    let mut seen = 0;
    while let Some(&earlier) = later.get(seen) {
        seen += 1;
        for (at, step) in steps.iter().enumerate() {
            let waits = step
                .as_ref()
                .is_some_and(|step| step.after.iter().any(|(ix, _)| *ix == earlier));
            if waits && !later.contains(&StepIx(at)) {
                later.push(StepIx(at));
            }
        }
    }
    (0..steps.len())
        .map(StepIx)
        .filter(|at| !later.contains(at))
        .collect()
}

impl Reader<'_, '_> {
    fn step(&mut self, node: &Placed<Node>) -> Option<Step> {
        let brings_wire = super::names::brings_wire(node);
        let verb = verb_of(node, self.desk);
        let keys = verb.map_or_else(every_key, keys::of_verb);
        let what = verb.map_or("a step", |verb| verb.2.what);
        let fields = Fields::open_as(node, what, &keys, self.desk);
        let (Some(fields), Some(verb)) = (fields, verb) else {
            if brings_wire {
                self.brought.push(None);
            }
            return None;
        };
        let id = fields.text("id", self.desk).map_or("", |id| id.value);
        let work = self.work(&fields, verb.0, id, brings_wire);
        let aim = work.as_ref().map_or(Aim::default(), |work| self.aim(work));
        let ways = ways::ways(&fields, verb, id, aim, self.things, self.desk);
        let after = self.after(&fields);
        let minutes = fields.number("minutes", self.desk).and_then(|said| {
            fields::accept(Minutes::from_minutes(said.value), said.place, self.desk)
        });
        Some(Step {
            id: id.to_owned(),
            work: work?,
            ways: ways?,
            after,
            closes: things::joints(&fields, "closes", self.things.names, self.desk),
            optional: fields.flag("optional", self.desk).unwrap_or(false),
            minutes,
            line: line_of(&fields),
        })
    }

    fn work(&mut self, fields: &Fields, verb: &str, id: &str, brings_wire: bool) -> Option<Work> {
        match verb {
            "solder" => self.solder(fields, id),
            "wire" => self.wiring(fields, id, brings_wire),
            "place" => self.place(fields, id),
            "remove" => {
                let part = self.part(fields);
                let flood = self.flood(fields, id, None);
                Some(Work::Remove {
                    part: part?,
                    flood: flood?,
                })
            }
            "reball" => self.reball(fields),
            "clean" => self.clean(fields, id),
            "glue" | "cure" => {
                let guard = fields.text("guard", self.desk);
                let guard = guard.and_then(|g| self.things.names.guard(&g, self.desk));
                let over = things::joints(fields, "over", self.things.names, self.desk);
                Some(Work::Cover {
                    guard: guard?,
                    over,
                })
            }
            "uncover" => {
                let guard = fields.text("guard", self.desk)?;
                let guard = self.things.names.guard(&guard, self.desk)?;
                Some(Work::Uncover { guard })
            }
            "preheat" | "bake" => self.whole_board(fields, verb == "bake"),
            "move" => {
                let part = self.part(fields);
                let zone = fields.text("zone", self.desk);
                let zone = zone.and_then(|z| self.things.names.zone(&z, self.desk));
                Some(Work::Move { part: part?, zone })
            }
            "heat" | "strip" => self.other_heat(fields, verb == "strip"),
            "power" => Some(Work::Power),
            _ => Some(Work::Gate {
                short_check: verb == "gate",
            }),
        }
    }

    fn joint(&mut self, fields: &Fields, key: &str) -> Option<JointIx> {
        let id = fields.text(key, self.desk)?;
        self.things.names.joint(&id, self.desk)
    }

    fn part(&mut self, fields: &Fields) -> Option<PartIx> {
        let id = fields.text("part", self.desk)?;
        self.things.names.part(&id, self.desk)
    }

    fn alloy(&mut self, fields: &Fields) -> Option<Choice<Solder>> {
        self.shelf.choice(fields.get("alloy")?, "alloy", self.desk)
    }

    fn amount(&mut self, fields: &Fields, joint: Option<JointIx>, id: &str) -> Option<Amount> {
        deposits::amount(fields, self.things.pad(joint), id, self.desk)
    }

    fn solder(&mut self, fields: &Fields, id: &str) -> Option<Work> {
        let joint = self.joint(fields, "joint");
        let solder = self.alloy(fields);
        let amount = self.amount(fields, joint, id);
        let wire = fields.text("wire", self.desk);
        let wire = match wire {
            Some(wire) => Some(self.things.names.wire(&wire, self.desk)?),
            None => None,
        };
        Some(Work::Solder {
            joint: joint?,
            solder: solder?,
            amount: amount?,
            wire,
        })
    }

    /// One end of a wire is soldered.
    fn wiring(&mut self, fields: &Fields, id: &str, brings_wire: bool) -> Option<Work> {
        let wire = if brings_wire {
            self.bring_wire(fields, id)
        } else {
            refuse_wire_keys(fields, self.desk);
            let wire = fields.text("wire", self.desk);
            wire.and_then(|wire| self.things.names.wire(&wire, self.desk))
        };
        let joint = self.joint(fields, "joint");
        if !fields.has("joint") {
            self.desk.fault(
                fields.place,
                "a wire has two ends: want `joint`, the end that is soldered in this step",
            );
        }
        let solder = self.alloy(fields);
        let amount = self.amount(fields, joint, id);
        Some(Work::Solder {
            joint: joint?,
            solder: solder?,
            amount: amount?,
            wire: Some(wire?),
        })
    }

    fn bring_wire(&mut self, fields: &Fields, id: &str) -> Option<WireIx> {
        let wire = things::wire(fields, id, self.things.names, self.desk);
        let position = WireIx(self.things.wires + self.brought.len());
        let whole = wire.is_some();
        self.brought.push(wire);
        whole.then_some(position)
    }

    fn place(&mut self, fields: &Fields, id: &str) -> Option<Work> {
        let part = self.part(fields);
        let on = if fields.has("on") {
            things::in_order(things::joints(fields, "on", self.things.names, self.desk))
        } else {
            part.map_or_else(Vec::new, |part| self.site_of(part, fields))
        };
        let first = on.first().copied();
        let paste = if fields.has("alloy") {
            let solder = self.alloy(fields);
            let amount = self.amount(fields, first, id);
            Some((solder?, amount?))
        } else {
            if self.amount(fields, first, id)? != Amount::Unstated {
                self.desk.fault(
                    fields.place,
                    "an amount without its `alloy`: want the alloy of the paste beside it",
                );
            }
            None
        };
        Some(Work::Place {
            part: part?,
            on: (!on.is_empty()).then_some(on)?,
            paste,
        })
    }

    /// The groups of joints whose site the part is, else those on which it stands at the start.
    fn site_of(&mut self, part: PartIx, fields: &Fields) -> Vec<JointIx> {
        let joints = self.things.joints.iter().enumerate();
        let sites: Vec<JointIx> = joints
            .filter(|(_, joint)| joint.as_ref().is_some_and(|j| j.site_of == Some(part)))
            .map(|(at, _)| JointIx(at))
            .collect();
        if !sites.is_empty() {
            return sites;
        }
        let stands = self.things.parts.get(part.0).and_then(Option::as_ref);
        let on = stands.map_or_else(Vec::new, |part| part.on.clone());
        if on.is_empty() {
            self.desk.fault(
                fields.place,
                "where it is set down is not said: want `on`, or `at` with the joint",
            );
        }
        on
    }

    /// Solder put in to bring melting down or residue out: `None` where there is none.
    #[expect(clippy::option_option, reason = "the outer one is failure")]
    fn flood(
        &mut self,
        fields: &Fields,
        id: &str,
        joint: Option<JointIx>,
    ) -> Option<Option<(Choice<Solder>, Amount)>> {
        let Some(node) = fields.get("flood") else {
            return Some(None);
        };
        let flood = Fields::open(node, &keys::FLOOD, self.desk)?;
        let solder = self.alloy(&flood);
        let amount = self.amount(&flood, joint, id);
        Some(Some((solder?, amount?)))
    }

    fn reball(&mut self, fields: &Fields) -> Option<Work> {
        let part = self.part(fields);
        let solder = self.alloy(fields);
        let diameter = things::ball_diameter(fields, "ball_um", "ball_mm", self.desk);
        if diameter.is_none() && part.is_some() && self.things.balls(part).is_none() {
            self.desk.fault(
                fields.place,
                "how big the new balls are is not said: want `ball_um`, or `balls` at the part",
            );
        }
        Some(Work::Reball {
            part: part?,
            solder: solder?,
            diameter,
        })
    }

    fn clean(&mut self, fields: &Fields, id: &str) -> Option<Work> {
        let joint = self.joint(fields, "joint");
        let part = self.part(fields);
        match (fields.has("joint"), fields.has("part")) {
            (true, true) => self.desk.fault(
                fields.place_of("part"),
                "pads of the board or of the part: want `joint` or `part`, not both",
            ),
            (false, false) => self.desk.fault(
                fields.place,
                "which pads is not said: want `joint` (on the board) or `part` (on the part)",
            ),
            _ => {}
        }
        let flood = self.flood(fields, id, joint)?;
        let flood = match flood {
            Some(flood) => Some(self.fresh(flood, fields)?),
            None => None,
        };
        let rounds = self.rounds(fields, flood.is_some())?;
        let film = if let Some(said) = fields.number("film_um", self.desk) {
            fields::accept(Length::from_um(said.value), said.place, self.desk)
        } else {
            let film = if flood.is_some() { 2.0 } else { 10.0 };
            self.desk
                .assume_of("film left by cleaning", id, film, "µm", Mark::OurJudgement);
            None
        };
        (joint.is_some() || part.is_some()).then_some(Work::Clean {
            joint,
            part,
            rounds,
            flood,
            film,
        })
    }

    /// Fresh solder of a round: one alloy, and its mass.
    fn fresh(
        &mut self,
        (solder, amount): (Choice<Solder>, Amount),
        fields: &Fields,
    ) -> Option<(Solder, Mass)> {
        let place = fields.place_of("flood");
        let Choice::Fixed(solder) = solder else {
            self.desk
                .fault(place, "a round of cleaning takes one alloy: want its name");
            return None;
        };
        let mass = match amount {
            Amount::Mass(mass) => Some(mass),
            Amount::Metal(volume) => solder
                .composition
                .density()
                .and_then(|density| density.times_mm3(volume.mm3()))
                .ok(),
            Amount::Paste { .. } | Amount::Unstated => None,
        };
        if mass.is_none() {
            self.desk.fault(
                place,
                "how much fresh solder is not said: want `flood: {alloy: …, mg: …}`",
            );
        }
        Some((solder, mass?))
    }

    fn rounds(&mut self, fields: &Fields, flooded: bool) -> Option<Choice<u32>> {
        const MOST: u32 = 20;
        let Some(node) = fields.get("rounds") else {
            return Some(Choice::Fixed(u32::from(flooded)));
        };
        let read: Option<Vec<u32>> = fields::items(node)
            .iter()
            .map(|item| fields::whole(item, "rounds", (0, MOST), self.desk))
            .collect();
        let read = read?;
        if !flooded && read.iter().any(|&rounds| rounds > 0) {
            self.desk.fault(
                node.place,
                "rounds of fresh solder need the solder: want `flood: {alloy: …, mg: …}`",
            );
        }
        match (&node.value, read.as_slice()) {
            (Node::List(_), []) => {
                self.desk
                    .fault(node.place, "the list is empty: want numbers of rounds");
                None
            }
            (Node::List(_), _) => Some(Choice::OneOf(read)),
            (_, [rounds]) => Some(Choice::Fixed(*rounds)),
            _ => None,
        }
    }

    fn whole_board(&mut self, fields: &Fields, bake: bool) -> Option<Work> {
        let part = if fields.has("part") {
            Some(self.part(fields)?)
        } else {
            None
        };
        if !fields.has("peak_c") && !fields.has("ways") {
            self.desk.fault(
                fields.place,
                "how hot the board gets is not said: want `peak_c`",
            );
        }
        let hours = fields.number("hours", self.desk);
        if let Some(hours) = hours
            && fields.has("minutes")
        {
            self.desk.fault(
                hours.place,
                "`hours` and `minutes` say the same thing: want one of them",
            );
        }
        let minutes = match hours {
            Some(hours) => Some(hours.value * 60.0),
            None => fields.number("minutes", self.desk).map(|m| m.value),
        };
        let hours = minutes.and_then(|minutes| {
            fields::accept(Minutes::from_minutes(minutes), fields.place, self.desk)
        });
        Some(Work::WholeBoard { part, hours, bake })
    }

    fn other_heat(&mut self, fields: &Fields, strip: bool) -> Option<Work> {
        if !["peak_c", "set_c", "stages", "ways"]
            .iter()
            .any(|key| fields.has(key))
        {
            self.desk.fault(
                fields.place,
                "how hot it gets is not said: want `peak_c`, or `set_c` of the tip",
            );
        }
        let joint = if fields.has("joint") {
            Some(self.joint(fields, "joint")?)
        } else {
            None
        };
        Some(Work::OtherHeat { joint, strip })
    }

    /// What the step melts, as far as the job says it: what is put on, and the balls of a part that
    /// no step gives other ones.
    fn aim(&mut self, work: &Work) -> Aim {
        let (put_on, part) = match work {
            Work::Solder { solder, .. } => (Some(solder), None),
            Work::Place { part, paste, .. } => (paste.as_ref().map(|p| &p.0), Some(*part)),
            _ => return Aim::default(),
        };
        let mut melts: Vec<Solder> = match put_on {
            Some(Choice::Fixed(solder)) => vec![solder.clone()],
            Some(Choice::OneOf(solders)) => solders.clone(),
            None => Vec::new(),
        };
        if part.is_some_and(|part| self.reballed.contains(&part)) {
            return Aim::default();
        }
        match self.things.balls(part).map(|balls| &balls.content) {
            Some(Content::Known(solder)) => melts.push(solder.clone()),
            Some(Content::Reel(_)) => return Aim::default(),
            None => {}
        }
        let ends: Option<Vec<Celsius>> = melts.iter().map(|s| self.shelf.liquidus(s)).collect();
        Aim {
            liquidus: ends.and_then(|ends| ends.into_iter().max()),
        }
    }

    fn after(&mut self, fields: &Fields) -> Vec<(StepIx, Option<String>)> {
        let Some(node) = fields.get("after") else {
            return Vec::new();
        };
        let own = fields.text("id", self.desk).map_or("", |id| id.value);
        match &node.value {
            Node::Scalar(word) if word == "all" => {
                self.after_all.push(self.at);
                Vec::new()
            }
            Node::Map(pairs) => pairs
                .iter()
                .filter_map(|(id, reason)| {
                    let step = self.earlier(&id.with(id.value.as_str()), own)?;
                    let reason = match reason.value {
                        Node::Nothing => None,
                        _ => fields::text(reason, "after", self.desk).map(|r| r.value.to_owned()),
                    };
                    Some((step, reason))
                })
                .collect(),
            _ => fields::items(node)
                .iter()
                .filter_map(|item| {
                    let id = fields::text(item, "after", self.desk)?;
                    Some((self.earlier(&id, own)?, None))
                })
                .collect(),
        }
    }

    fn earlier(&mut self, id: &Placed<&str>, own: &str) -> Option<StepIx> {
        if id.value == own {
            self.desk
                .fault(id.place, format!("`{own}` waits for itself"));
            return None;
        }
        self.things.names.step(id, self.desk)
    }
}

/// Keys that describe a wire have no place where the wire has its own entry.
fn refuse_wire_keys(fields: &Fields, desk: &mut Desk) {
    for key in keys::WIRE_KEYS.keys {
        if fields.has(key.name) {
            desk.fault(
                fields.place_of(key.name),
                format!(
                    "`{}` belongs where the wire is described, under `wires`",
                    key.name
                ),
            );
        }
    }
}

fn line_of(fields: &Fields) -> u32 {
    u32::try_from(fields.place.line).unwrap_or(u32::MAX)
}

/// The verb of a step; what is none is put on the desk.
fn verb_of(node: &Placed<Node>, desk: &mut Desk) -> Option<&'static Verb> {
    let Node::Map(pairs) = &node.value else {
        return None;
    };
    let (_, said) = pairs.iter().find(|(key, _)| key.value == "do")?;
    if said.value == Node::Nothing {
        return None;
    }
    let said = fields::text(said, "do", desk)?;
    let verb = keys::WORK.iter().find(|verb| verb.0 == said.value);
    if verb.is_none() {
        let help = meant(said.value)
            .map(|verb| format!("`{verb}` does that"))
            .or_else(|| desk.near(said.value, keys::VERBS.iter().copied()));
        desk.fault_with(
            said.place,
            format!(
                "`{}` is nothing that a step does: want {}",
                said.value,
                list(keys::VERBS.iter().copied())
            ),
            help,
        );
    }
    verb
}

/// What is called otherwise elsewhere.
fn meant(word: &str) -> Option<&'static str> {
    keys::OTHER_VERBS
        .iter()
        .find(|(others, _)| others.contains(&word))
        .map(|(_, verb)| *verb)
}

/// Without a verb any key of any step may be right, and none is missing but those of all.
fn every_key() -> Vec<Key> {
    let mut keys = keys::STEP.to_vec();
    for verb in keys::WORK {
        for key in keys::of_verb(verb) {
            if !keys.iter().any(|k| k.name == key.name) {
                keys.push(Key { must: false, ..key });
            }
        }
    }
    keys
}
