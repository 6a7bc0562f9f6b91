//! Alloys in a job: names, compositions, choices, alloys that are not known, and cadmium.

use std::collections::BTreeMap;

use super::desk::{Desk, Mark};
use super::fields::{self, Fields};
use super::keys::{self, CADMIUM_WORDS};
use super::node::Node;
use super::shape::{Choice, Content, Pin, Reel, ReelIx, Solder};
use crate::alloy::{AlloyBook, Composition, Element, element_set};
use crate::policy;
use crate::quantity::Celsius;
use crate::yaml::{Place, Placed};

/// What an alloy on arrival usually is, where nothing is known (our judgement: the three kinds that
/// a plan must tell apart).
const USUAL: [&str; 3] = ["Sn63Pb37", "Sn96.5Ag3Cu0.5", "Bi58Sn42"];

/// The alloys of one job.
#[derive(Debug)]
pub(super) struct Shelf<'b> {
    book: &'b AlloyBook,
    cadmium_accepted: bool,
    pub(super) stock: Vec<Solder>,
    /// The job names a stock, and nothing of it may be used.
    nothing_is_left: bool,
    pub(super) pins: Vec<Pin>,
    reels: Vec<OpenReel>,
    any: Option<Vec<Solder>>,
    /// By name; kept, since a job may ask for the whole table at every step.
    liquidus_of_table: BTreeMap<String, Option<Celsius>>,
}

/// A reel of which not all is read yet.
#[derive(Debug)]
struct OpenReel {
    id: String,
    candidates: Option<Vec<Solder>>,
}

fn solder_of(composition: Composition) -> Solder {
    Solder {
        name: composition.to_string(),
        composition,
    }
}

fn has_cadmium(composition: &Composition) -> bool {
    composition.share(Element::Cd) > policy::CADMIUM_LIMIT
}

impl<'b> Shelf<'b> {
    pub(super) fn new(book: &'b AlloyBook, cadmium_accepted: bool) -> Self {
        Shelf {
            book,
            cadmium_accepted,
            stock: Vec::new(),
            nothing_is_left: false,
            pins: Vec::new(),
            reels: Vec::new(),
            any: None,
            liquidus_of_table: BTreeMap::new(),
        }
    }

    /// The stock; cadmium alloys are left out, with the reason, unless they are accepted.
    pub(super) fn read_stock(&mut self, job: &Fields, desk: &mut Desk) {
        for node in job.items("stock") {
            let Some(solder) = self.understand(node, "stock", desk) else {
                continue;
            };
            if has_cadmium(&solder.composition) && !self.cadmium_accepted {
                let why = self.why_no_cadmium(&solder);
                desk.notice(
                    node.place,
                    format!("`{}` stays on the shelf: {why}", solder.name),
                );
            } else if self.stock.contains(&solder) {
                desk.fault(
                    node.place,
                    format!("`{}` stands twice in `stock`", solder.name),
                );
            } else {
                self.stock.push(solder);
            }
        }
        self.nothing_is_left = job.has("stock") && self.stock.is_empty();
        if !job.has("stock") {
            self.take_shelf_of_the_book(desk);
        }
    }

    fn take_shelf_of_the_book(&mut self, desk: &mut Desk) {
        let own: Vec<Solder> = self
            .book
            .stock()
            .iter()
            .filter_map(|item| self.book.get(&item.alloy))
            .map(|alloy| solder_of(alloy.composition))
            .filter(|s| self.cadmium_accepted || !has_cadmium(&s.composition))
            .collect();
        if !own.is_empty() {
            let names = own.iter().map(|s| s.name.as_str());
            let words = names.collect::<Vec<_>>().join(", ");
            desk.assume(
                "stock, from your own list",
                words.as_str(),
                "",
                Mark::OurJudgement,
            );
            self.stock = own;
        }
    }

    /// Readings that the job takes as given.
    pub(super) fn read_pins(&mut self, job: &Fields, desk: &mut Desk) {
        let Some(node) = job.get("readings") else {
            return;
        };
        let Node::Map(pairs) = &node.value else {
            desk.fault(
                node.place,
                format!(
                    "found {} after `readings`: want alloys such as `{{Sn63Pb37: [183, 183]}}`",
                    node.value.kind()
                ),
            );
            return;
        };
        for (name, value) in pairs {
            let typed = name.with(Node::Scalar(name.value.clone()));
            let solder = self.understand(&typed, "readings", desk);
            let pair = read_pin(value, desk);
            if let (Some(solder), Some((solidus, liquidus))) = (solder, pair) {
                self.ask_about_pin(&solder, solidus, value.place, desk);
                self.refuse_early_flow(&solder, liquidus, value.place, desk);
                self.add_pin(
                    Pin {
                        solder,
                        solidus,
                        liquidus,
                    },
                    name.place,
                    desk,
                );
            }
        }
    }

    fn add_pin(&mut self, pin: Pin, place: Place, desk: &mut Desk) {
        if self.pins.iter().any(|p| p.solder == pin.solder) {
            desk.fault(
                place,
                format!("`{}` stands twice in `readings`", pin.solder.name),
            );
        } else {
            self.pins.push(pin);
        }
    }

    /// A pinned liquidus far below the table's would have a joint flow that does not.
    fn refuse_early_flow(&self, solder: &Solder, liquidus: Celsius, place: Place, desk: &mut Desk) {
        let table = self.book.matching(&solder.composition);
        let Some(table) = table.map(|alloy| alloy.in_use.liquidus.degrees()) else {
            return;
        };
        let said = liquidus.degrees();
        if table - said > policy::PIN_ABOVE_TABLE.kelvin() {
            desk.fault_with(
                place,
                format!(
                    "{said} °C is no liquidus of `{}`: the table says {table}",
                    solder.name
                ),
                Some("name the alloy that was read, or leave its reading out".to_owned()),
            );
        }
    }

    /// A pinned solidus far above the table's is of another alloy, or a slip: believed, it would hide a melt. One
    /// far from it and near it as Fahrenheit is asked about.
    fn ask_about_pin(&self, solder: &Solder, solidus: Celsius, place: Place, desk: &mut Desk) {
        let Some(alloy) = self.book.matching(&solder.composition) else {
            return;
        };
        let table = alloy.in_use.solidus.degrees();
        let said = solidus.degrees();
        let as_fahrenheit = (said - 32.0) / 1.8;
        if (said - table).abs() > 25.0 && (as_fahrenheit - table).abs() < 10.0 {
            desk.fault_with(
                place,
                format!(
                    "{said} °C is no solidus of `{}`: the table says {table}",
                    solder.name
                ),
                Some(format!(
                    "as Fahrenheit it would be {as_fahrenheit:.1} °C: write `{said}F`"
                )),
            );
        } else if said - table > policy::PIN_ABOVE_TABLE.kelvin() {
            desk.fault_with(
                place,
                format!(
                    "{said} °C is no solidus of `{}`: the table says {table}",
                    solder.name
                ),
                Some("name the alloy that was read, or leave its reading out".to_owned()),
            );
        }
    }

    /// An alloy that is put on or that stands there; cadmium only where it is accepted.
    pub(super) fn solder(&self, node: &Placed<Node>, key: &str, desk: &mut Desk) -> Option<Solder> {
        let solder = self.understand(node, key, desk)?;
        if has_cadmium(&solder.composition) && !self.cadmium_accepted {
            desk.fault_with(
                node.place,
                format!(
                    "`{}` is refused: {}",
                    solder.name,
                    self.why_no_cadmium(&solder)
                ),
                Some(format!(
                    "if it must be, write `accept_cadmium: {CADMIUM_WORDS}` under `want`"
                )),
            );
            return None;
        }
        Some(solder)
    }

    fn why_no_cadmium(&self, solder: &Solder) -> String {
        let melting = self
            .book
            .matching(&solder.composition)
            .map(|alloy| alloy.in_use.solidus);
        let near = self.without_cadmium_near(melting);
        let instead = if near.is_empty() {
            String::new()
        } else {
            format!(
                "; without it: {}",
                fields::list(near.iter().map(String::as_str))
            )
        };
        format!(
            "cadmium fume harms, its waste is special and law allows 0.01 mass% (2011/65/EU){instead}"
        )
    }

    /// The three alloys of the table without cadmium that melt nearest, each of other elements; the
    /// lowest, where nothing is known of its melting.
    fn without_cadmium_near(&self, melting: Option<Celsius>) -> Vec<String> {
        let melting = melting.unwrap_or(Celsius::whole(70));
        let mut near: Vec<_> = self
            .book
            .alloys()
            .iter()
            .filter(|a| !a.has_cadmium() && a.composition.share(Element::Hg).fraction() <= 0.0)
            .map(|a| {
                let off = (a.in_use.solidus - melting).millikelvin().unsigned_abs();
                ((off, a.name.as_str()), a)
            })
            .collect();
        near.sort_by_key(|(rank, _)| *rank);
        let mut kinds = Vec::new();
        near.into_iter()
            .filter(|(_, alloy)| {
                let kind = element_set(&alloy.composition);
                let new = !kinds.contains(&kind);
                kinds.push(kind);
                new
            })
            .map(|(_, alloy)| alloy.name.clone())
            .take(3)
            .collect()
    }

    /// A name or a composition, with what was changed told.
    fn understand(&self, node: &Placed<Node>, key: &str, desk: &mut Desk) -> Option<Solder> {
        match &node.value {
            Node::Scalar(typed) => match self.book.find(typed) {
                Ok(understood) => {
                    let solder = solder_of(understood.composition);
                    for notice in understood.notices {
                        desk.notice(
                            node.place,
                            format!("`{typed}` read as {}: {notice}", solder.name),
                        );
                    }
                    Some(solder)
                }
                Err(why) => {
                    desk.fault(node.place, why.to_string());
                    None
                }
            },
            Node::Map(pairs) => composition(pairs, node.place, desk).map(solder_of),
            other => {
                desk.fault(
                    node.place,
                    format!(
                        "found {} after `{key}`: want an alloy such as `Sn63Pb37`",
                        other.kind()
                    ),
                );
                None
            }
        }
    }

    /// An alloy, a list to choose from, or `any`.
    pub(super) fn choice(
        &mut self,
        node: &Placed<Node>,
        key: &str,
        desk: &mut Desk,
    ) -> Option<Choice<Solder>> {
        match &node.value {
            Node::Scalar(word) if word == "any" && self.nothing_is_left => {
                desk.fault(
                    node.place,
                    "nothing of the `stock` may be used: want an alloy there that may, or the name of one to buy",
                );
                None
            }
            Node::Scalar(word) if word == "any" => Some(Choice::OneOf(self.any())),
            Node::Scalar(word) if word == "unknown" => {
                desk.fault(
                    node.place,
                    "what you put on must be known: want an alloy, a list of alloys, or `any`",
                );
                None
            }
            Node::List(items) => {
                let read: Vec<Solder> = items
                    .iter()
                    .filter_map(|item| self.solder(item, key, desk))
                    .collect();
                distinct(read, items, node.place, desk).map(Choice::OneOf)
            }
            _ => self.solder(node, key, desk).map(Choice::Fixed),
        }
    }

    fn any(&mut self) -> Vec<Solder> {
        if !self.stock.is_empty() {
            return self.stock.clone();
        }
        self.any
            .get_or_insert_with(|| {
                self.book
                    .alloys()
                    .iter()
                    .filter(|a| !a.has_cadmium())
                    .map(|a| solder_of(a.composition))
                    .collect()
            })
            .clone()
    }

    /// What stands there, from `alloy` and `source`.
    pub(super) fn content(
        &mut self,
        fields: &Fields,
        holder: &str,
        desk: &mut Desk,
    ) -> Option<Content> {
        let source = fields.text("source", desk);
        match fields.get("alloy") {
            Some(node) => self.content_of(node, source, holder, desk),
            None => match source {
                Some(source) => {
                    let reel = self.reel(source.value, None, source.place, desk);
                    Some(Content::Reel(reel))
                }
                None if fields.has("alloy") => None,
                None => {
                    desk.fault(
                        fields.place,
                        "no `alloy` is named here: want one, or `alloy: unknown`",
                    );
                    None
                }
            },
        }
    }

    /// What stands there: an alloy, `unknown`, or a list of what it may be.
    pub(super) fn content_of(
        &mut self,
        node: &Placed<Node>,
        source: Option<Placed<&str>>,
        holder: &str,
        desk: &mut Desk,
    ) -> Option<Content> {
        let reel = source.map_or(holder, |s| s.value);
        if matches!(&node.value, Node::Scalar(word) if word == "unknown") {
            return Some(Content::Reel(self.reel(reel, None, node.place, desk)));
        }
        if let Some(list) = what_it_may_be(node) {
            let read: Vec<Solder> = list
                .iter()
                .filter_map(|item| self.solder(item, "alloy", desk))
                .collect();
            let candidates = distinct(read, list, node.place, desk)?;
            let reel = self.reel(reel, Some(candidates), node.place, desk);
            return Some(Content::Reel(reel));
        }
        if let Some(source) = source {
            desk.fault(
                source.place,
                "`source` is for alloys that are not known: this one is",
            );
        }
        self.solder(node, "alloy", desk).map(Content::Known)
    }

    fn reel(
        &mut self,
        id: &str,
        candidates: Option<Vec<Solder>>,
        place: Place,
        desk: &mut Desk,
    ) -> ReelIx {
        let at = self
            .reels
            .iter()
            .position(|r| r.id == id)
            .unwrap_or_else(|| {
                self.reels.push(OpenReel {
                    id: id.to_owned(),
                    candidates: None,
                });
                self.reels.len() - 1
            });
        if let (Some(reel), Some(candidates)) = (self.reels.get_mut(at), candidates) {
            match &reel.candidates {
                Some(earlier) if *earlier != candidates => desk.fault(
                    place,
                    format!("`{id}` was said to be one of others before: want the same list, or only `source: {id}`"),
                ),
                _ => reel.candidates = Some(candidates),
            }
        }
        ReelIx(at)
    }

    /// The unknown alloys, with the usual candidates where none are named.
    pub(super) fn take_reels(&mut self, desk: &mut Desk) -> Vec<Reel> {
        let usual: Vec<Solder> = USUAL
            .iter()
            .filter_map(|name| self.book.find(name).ok())
            .map(|understood| solder_of(understood.composition))
            .collect();
        std::mem::take(&mut self.reels)
            .into_iter()
            .map(|reel| {
                if reel.candidates.is_none() {
                    desk.assume_of(
                        "usual alloys tried for what is not known",
                        &reel.id,
                        USUAL.join(", ").as_str(),
                        "",
                        Mark::OurJudgement,
                    );
                }
                Reel {
                    id: reel.id,
                    closed: reel.candidates.is_some(),
                    candidates: reel.candidates.unwrap_or_else(|| usual.clone()),
                }
            })
            .collect()
    }

    /// End of melting: as pinned, else of the table; `None` where neither knows it.
    pub(super) fn liquidus(&mut self, solder: &Solder) -> Option<Celsius> {
        if let Some(pin) = self.pins.iter().find(|p| p.solder == *solder) {
            return Some(pin.liquidus);
        }
        if let Some(known) = self.liquidus_of_table.get(&solder.name) {
            return *known;
        }
        let matching = self.book.matching(&solder.composition);
        let liquidus = matching.map(|alloy| alloy.in_use.liquidus);
        self.liquidus_of_table.insert(solder.name.clone(), liquidus);
        liquidus
    }
}

/// Solidus and liquidus from `[183, 191]`, `183`, or keys.
fn read_pin(node: &Placed<Node>, desk: &mut Desk) -> Option<(Celsius, Celsius)> {
    let values: Vec<&Placed<Node>> = match &node.value {
        Node::Scalar(_) => vec![node, node],
        Node::List(items) if items.len() == 2 => items.iter().collect(),
        Node::Map(pairs) => ["solidus_c", "liquidus_c"]
            .iter()
            .filter_map(|name| pairs.iter().find(|(key, _)| key.value == *name))
            .map(|(_, value)| value)
            .collect(),
        _ => Vec::new(),
    };
    let known_keys = match &node.value {
        Node::Map(pairs) => pairs.len() == values.len(),
        _ => true,
    };
    let (Some(first), Some(second), true) = (values.first(), values.get(1), known_keys) else {
        desk.fault(
            node.place,
            "want `[solidus, liquidus]` in °C, or `{solidus_c: …, liquidus_c: …}`",
        );
        return None;
    };
    let solidus = fields::temperature(first, "solidus_c", keys::READING, desk)?
        .value
        .celsius;
    let liquidus = if matches!(node.value, Node::Scalar(_)) {
        solidus
    } else {
        fields::temperature(second, "liquidus_c", keys::READING, desk)?
            .value
            .celsius
    };
    if solidus > liquidus {
        desk.fault(
            node.place,
            format!("the solidus {solidus} lies above the liquidus {liquidus}"),
        );
        return None;
    }
    Some((solidus, liquidus))
}

/// The list in `[a, b]` or `{one_of: [a, b]}`.
fn what_it_may_be(node: &Placed<Node>) -> Option<&[Placed<Node>]> {
    match &node.value {
        Node::List(items) => Some(items),
        Node::Map(pairs) => match pairs.as_slice() {
            [(key, value)] if key.value == "one_of" => Some(fields::items(value)),
            _ => None,
        },
        _ => None,
    }
}

/// The alloys read from a list, if all were read, there are any, and none stands twice.
fn distinct(
    read: Vec<Solder>,
    items: &[Placed<Node>],
    place: Place,
    desk: &mut Desk,
) -> Option<Vec<Solder>> {
    if items.is_empty() {
        desk.fault(place, "the list is empty: want at least one alloy");
        return None;
    }
    if read.len() < items.len() {
        return None;
    }
    for (at, solder) in read.iter().enumerate() {
        if read[..at].contains(solder) {
            desk.fault(
                items[at].place,
                format!("`{}` stands twice in this list", solder.name),
            );
            return None;
        }
    }
    Some(read)
}

/// `{Sn: 63, Pb: 37}`, mass%.
fn composition(
    pairs: &[(Placed<String>, Placed<Node>)],
    place: Place,
    desk: &mut Desk,
) -> Option<Composition> {
    let mut parts = Vec::new();
    for (symbol, value) in pairs {
        let element = symbol.value.parse::<Element>();
        if let Err(unknown) = &element {
            desk.fault(symbol.place, unknown.to_string());
        }
        let percent = fields::number(value, &symbol.value, (0.0, 100.0), "mass %", desk);
        if let (Ok(element), Some(percent)) = (element, percent) {
            parts.push((element, percent.value));
        }
    }
    if parts.len() < pairs.len() {
        return None;
    }
    let sum: f64 = parts.iter().map(|p| p.1).sum();
    if (sum - 100.0).abs() > policy::SUM_TOLERANCE {
        desk.fault(place, format!("the shares sum to {sum:.2} mass%: want 100"));
        return None;
    }
    match Composition::from_parts(&parts) {
        Ok(composition) => {
            if (sum - 100.0).abs() > 1e-9 {
                desk.notice(
                    place,
                    format!("the shares sum to {sum:.2} mass%: scaled to 100"),
                );
            }
            Some(composition)
        }
        Err(why) => {
            desk.fault(place, why.to_string());
            None
        }
    }
}
