//! The ids of a job: who is called what, and whom a word means.

use std::collections::BTreeMap;

use super::desk::Desk;
use super::fields::{self, Fields, list};
use super::node::Node;
use super::shape::{GuardIx, JointIx, PartIx, StepIx, Where, WireIx, Zone, ZoneIx};
use crate::yaml::{Place, Placed};

/// Words that mean something by themselves.
const RESERVED: [&str; 5] = ["rest", "all", "any", "unknown", "none"];

/// Longest id (our judgement: it must fit a column of the bench sheet).
const LONGEST: usize = 32;

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Thing {
    Joint(JointIx),
    Part(PartIx),
    Guard(GuardIx),
    Wire(WireIx),
    Zone(ZoneIx),
}

impl Thing {
    fn what(self) -> &'static str {
        match self {
            Thing::Joint(_) => "a joint",
            Thing::Part(_) => "a part",
            Thing::Guard(_) => "a guard",
            Thing::Wire(_) => "a wire",
            Thing::Zone(_) => "a zone",
        }
    }
}

/// All ids of a job.
#[derive(Debug, Default)]
pub(super) struct Names {
    things: BTreeMap<String, (Thing, Place)>,
    steps: BTreeMap<String, (StepIx, Place)>,
    pub(super) zones: Vec<Zone>,
}

impl Names {
    /// Gathers the ids of a job before anything refers to them.
    pub(super) fn gather(job: &Fields, desk: &mut Desk) -> Self {
        let mut names = Names::default();
        names.gather_things(job, "joints", |at| Thing::Joint(JointIx(at)), desk);
        names.gather_things(job, "parts", |at| Thing::Part(PartIx(at)), desk);
        names.gather_things(job, "guards", |at| Thing::Guard(GuardIx(at)), desk);
        names.gather_things(job, "wires", |at| Thing::Wire(WireIx(at)), desk);
        let wires = job.items("wires").len();
        let new_wires = job.items("steps").iter().filter(|step| brings_wire(step));
        for (at, step) in new_wires.enumerate() {
            if let Some(id) = id_of(step, desk) {
                names.add(&id, Thing::Wire(WireIx(wires + at)), desk);
            }
        }
        names.gather_zones(job, desk);
        for (at, step) in job.items("steps").iter().enumerate() {
            if let Some(id) = id_of(step, desk) {
                names.add_step(&id, StepIx(at), desk);
            }
        }
        names
    }

    fn gather_things(
        &mut self,
        job: &Fields,
        key: &str,
        thing: fn(usize) -> Thing,
        desk: &mut Desk,
    ) {
        for (at, item) in job.items(key).iter().enumerate() {
            if let Some(id) = id_of(item, desk) {
                check_id(&id, desk);
                self.add(&id, thing(at), desk);
            }
        }
    }

    /// Listed zones; without a list, every `zone` that is used.
    fn gather_zones(&mut self, job: &Fields, desk: &mut Desk) {
        if job.has("zones") {
            for node in job.items("zones") {
                if let Some(id) = fields::text(node, "zones", desk) {
                    let id = id.with(id.value.to_owned());
                    check_id(&id, desk);
                    self.add_zone(&id, desk);
                }
            }
            return;
        }
        for key in ["joints", "parts", "guards", "steps"] {
            for item in job.items(key) {
                let Some(Placed {
                    value: Node::Scalar(id),
                    place,
                }) = value_in(item, "zone")
                else {
                    continue;
                };
                if !self.zones.iter().any(|zone| zone.id == *id) {
                    let id = Placed {
                        value: id.clone(),
                        place: *place,
                    };
                    check_id(&id, desk);
                    self.add_zone(&id, desk);
                }
            }
        }
    }

    fn add_zone(&mut self, id: &Placed<String>, desk: &mut Desk) {
        self.add(id, Thing::Zone(ZoneIx(self.zones.len())), desk);
        self.zones.push(Zone {
            id: id.value.clone(),
        });
    }

    fn add(&mut self, id: &Placed<String>, thing: Thing, desk: &mut Desk) {
        if let Some((earlier, place)) = self.things.get(&id.value) {
            desk.fault(
                id.place,
                format!(
                    "`{}` is already the name of {} (line {})",
                    id.value,
                    earlier.what(),
                    place.line
                ),
            );
        } else {
            self.things.insert(id.value.clone(), (thing, id.place));
        }
    }

    fn add_step(&mut self, id: &Placed<String>, step: StepIx, desk: &mut Desk) {
        check_id(id, desk);
        if let Some((_, place)) = self.steps.get(&id.value) {
            desk.fault(
                id.place,
                format!(
                    "`{}` is already the name of a step (line {})",
                    id.value, place.line
                ),
            );
        } else {
            self.steps.insert(id.value.clone(), (step, id.place));
        }
    }

    /// What a word means, if it is what is wanted here.
    fn resolve<T>(
        &self,
        id: &Placed<&str>,
        wanted: &str,
        pick: impl Fn(Thing) -> Option<T>,
        desk: &mut Desk,
    ) -> Option<T> {
        let known = self.things.get(id.value).map(|(thing, _)| *thing);
        if let Some(found) = known.and_then(&pick) {
            return Some(found);
        }
        let message = match known {
            Some(thing) => format!("`{}` is {}: want {wanted}", id.value, thing.what()),
            None => format!(
                "no {} is called `{}`",
                wanted.trim_start_matches("a "),
                id.value
            ),
        };
        let fitting = self
            .things
            .iter()
            .filter(|(_, (thing, _))| pick(*thing).is_some())
            .map(|(name, _)| name.as_str());
        let help = near(id.value, fitting, desk);
        desk.fault_with(id.place, message, help);
        None
    }

    pub(super) fn joint(&self, id: &Placed<&str>, desk: &mut Desk) -> Option<JointIx> {
        self.resolve(
            id,
            "a joint",
            |t| {
                if let Thing::Joint(ix) = t {
                    Some(ix)
                } else {
                    None
                }
            },
            desk,
        )
    }

    pub(super) fn part(&self, id: &Placed<&str>, desk: &mut Desk) -> Option<PartIx> {
        self.resolve(
            id,
            "a part",
            |t| {
                if let Thing::Part(ix) = t {
                    Some(ix)
                } else {
                    None
                }
            },
            desk,
        )
    }

    pub(super) fn guard(&self, id: &Placed<&str>, desk: &mut Desk) -> Option<GuardIx> {
        self.resolve(
            id,
            "a guard",
            |t| {
                if let Thing::Guard(ix) = t {
                    Some(ix)
                } else {
                    None
                }
            },
            desk,
        )
    }

    pub(super) fn wire(&self, id: &Placed<&str>, desk: &mut Desk) -> Option<WireIx> {
        self.resolve(
            id,
            "a wire",
            |t| {
                if let Thing::Wire(ix) = t {
                    Some(ix)
                } else {
                    None
                }
            },
            desk,
        )
    }

    pub(super) fn zone(&self, id: &Placed<&str>, desk: &mut Desk) -> Option<ZoneIx> {
        self.resolve(
            id,
            "a zone",
            |t| {
                if let Thing::Zone(ix) = t {
                    Some(ix)
                } else {
                    None
                }
            },
            desk,
        )
    }

    /// Where a coupling or a temperature holds.
    pub(super) fn place(&self, id: &Placed<&str>, desk: &mut Desk) -> Option<Where> {
        if id.value == "rest" {
            return Some(Where::Rest);
        }
        let pick = |thing| match thing {
            Thing::Joint(ix) => Some(Where::Joint(ix)),
            Thing::Part(ix) => Some(Where::Part(ix)),
            Thing::Guard(ix) => Some(Where::Guard(ix)),
            Thing::Zone(ix) => Some(Where::Zone(ix)),
            Thing::Wire(_) => None,
        };
        self.resolve(id, "a joint, part, guard or zone", pick, desk)
    }

    /// What a joint, part or guard is called.
    pub(super) fn called(&self, of: Where) -> &str {
        let is_it = |thing: Thing| match thing {
            Thing::Joint(ix) => of == Where::Joint(ix),
            Thing::Part(ix) => of == Where::Part(ix),
            Thing::Guard(ix) => of == Where::Guard(ix),
            Thing::Zone(ix) => of == Where::Zone(ix),
            Thing::Wire(_) => false,
        };
        let mut things = self.things.iter();
        things
            .find(|(_, (thing, _))| is_it(*thing))
            .map_or("rest", |(id, _)| id)
    }

    pub(super) fn step(&self, id: &Placed<&str>, desk: &mut Desk) -> Option<StepIx> {
        let known = self.steps.get(id.value).map(|(ix, _)| *ix);
        if known.is_none() {
            let help = near(id.value, self.steps.keys().map(String::as_str), desk);
            desk.fault_with(id.place, format!("no step is called `{}`", id.value), help);
        }
        known
    }

    /// Parts that get new balls in some step.
    pub(super) fn reballed(&self, steps: &[Placed<Node>]) -> Vec<PartIx> {
        let is_part = |id: &str| match self.things.get(id) {
            Some((Thing::Part(part), _)) => Some(*part),
            _ => None,
        };
        steps
            .iter()
            .filter(|step| word_in(step, "do") == Some("reball"))
            .filter_map(|step| is_part(word_in(step, "part")?))
            .collect()
    }

    /// Whether a logged id is that of a step, perhaps done again (`set#2`), or of one that a repair
    /// put in before it (`set~remove`).
    pub(super) fn logged(&self, id: &Placed<&str>, desk: &mut Desk) -> bool {
        let once = match id.value.rsplit_once('#') {
            Some((once, count)) if count.parse::<u32>().is_ok_and(|n| n > 0) => once,
            _ => id.value,
        };
        let stem = once.split('~').next().unwrap_or(once);
        self.step(&id.with(stem), desk).is_some()
    }
}

fn near<'w>(word: &str, valid: impl Iterator<Item = &'w str>, desk: &Desk) -> Option<String> {
    if desk.is_full() {
        return None;
    }
    let valid: Vec<&str> = valid.collect();
    let few = (1..=8).contains(&valid.len());
    desk.near(word, valid.iter().copied())
        .or_else(|| few.then(|| format!("there is {}", list(valid))))
}

fn check_id(id: &Placed<String>, desk: &mut Desk) {
    let word = id.value.as_str();
    let fine = |c: char| c.is_alphanumeric() || matches!(c, '_' | '-' | '.' | '+' | '/');
    if word.is_empty() || !word.chars().all(fine) || word.chars().count() > LONGEST {
        desk.fault(
            id.place,
            format!("`{word}` is no name: want 1 to {LONGEST} letters, digits or `_ - . + /`"),
        );
    } else if RESERVED.contains(&word) {
        desk.fault(
            id.place,
            format!("`{word}` has a meaning of its own here: want another name"),
        );
    }
}

fn value_in<'n>(item: &'n Placed<Node>, name: &str) -> Option<&'n Placed<Node>> {
    let Node::Map(pairs) = &item.value else {
        return None;
    };
    pairs
        .iter()
        .find(|(key, _)| key.value == name)
        .map(|(_, value)| value)
}

/// Id of an item; what is no id is told when the item itself is read.
fn id_of(item: &Placed<Node>, desk: &mut Desk) -> Option<Placed<String>> {
    match value_in(item, "id")? {
        Placed {
            value: Node::Scalar(id),
            place,
        } => Some(Placed {
            value: id.clone(),
            place: *place,
        }),
        Placed {
            value: Node::Nothing,
            ..
        } => None,
        other => {
            desk.fault(
                other.place,
                format!("found {} after `id`: want a name", other.value.kind()),
            );
            None
        }
    }
}

/// Whether a step says its own wire: `{do: wire, from: …, to: …}`.
pub(super) fn brings_wire(step: &Placed<Node>) -> bool {
    word_in(step, "do") == Some("wire") && value_in(step, "wire").is_none()
}

fn word_in<'n>(item: &'n Placed<Node>, name: &str) -> Option<&'n str> {
    match &value_in(item, name)?.value {
        Node::Scalar(word) => Some(word),
        _ => None,
    }
}
