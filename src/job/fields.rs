//! The keys of one block, taken out as values; what does not fit is put on the desk.

use super::desk::Desk;
use super::keys::{self, Key, Section, Shape};
use super::node::Node;
use super::slips;
use super::temperature;
use crate::quantity::{Celsius, Point};
use crate::yaml::{Place, Placed};

/// A number of decimal digits, sign, point and exponent; finite. Nothing else is one here: no hex,
/// no underscores, no `nan`.
pub(super) fn number_in(text: &str) -> Option<f64> {
    let plain = text
        .bytes()
        .all(|b| b.is_ascii_digit() || matches!(b, b'+' | b'-' | b'.' | b'e' | b'E'))
        && text.bytes().any(|b| b.is_ascii_digit());
    if !plain {
        return None;
    }
    text.parse().ok().filter(|n: &f64| n.is_finite())
}

/// The keys of one block.
#[derive(Clone, Copy, Debug)]
pub(super) struct Fields<'n> {
    what: &'static str,
    keys: &'n [Key],
    pub(super) place: Place,
    pairs: &'n [(Placed<String>, Placed<Node>)],
}

impl<'n> Fields<'n> {
    /// Opens a block of a section: unknown keys, missing ones and empty ones are put on the desk.
    pub(super) fn open(
        node: &'n Placed<Node>,
        section: &'static Section,
        desk: &mut Desk,
    ) -> Option<Self> {
        Fields::open_as(node, section.what, section.keys, desk)
    }

    /// The same with the keys given.
    pub(super) fn open_as(
        node: &'n Placed<Node>,
        what: &'static str,
        keys: &'n [Key],
        desk: &mut Desk,
    ) -> Option<Self> {
        let Node::Map(pairs) = &node.value else {
            let names = keys.iter().map(|k| k.name);
            desk.fault(
                node.place,
                format!(
                    "found {}: want {what} as keys ({})",
                    node.value.kind(),
                    list(names)
                ),
            );
            return None;
        };
        let place = pairs.first().map_or(node.place, |(key, _)| key.place);
        let fields = Fields {
            what,
            keys,
            place,
            pairs,
        };
        fields.check_keys(desk);
        Some(fields)
    }

    fn check_keys(&self, desk: &mut Desk) {
        for (at, (name, value)) in self.pairs.iter().enumerate() {
            match self.keys.iter().find(|k| k.name == name.value) {
                None => self.unknown_key(at, desk),
                Some(key) if value.value == Node::Nothing && !may_be_empty(key.shape) => desk
                    .fault(
                        name.place,
                        format!("nothing stands after `{}`: want {}", key.name, key.about),
                    ),
                Some(_) => {}
            }
        }
        for key in self.keys.iter().filter(|k| k.must) {
            if !self.has(key.name) {
                desk.fault(
                    self.place,
                    format!("{} lacks the key `{}`: {}", self.what, key.name, key.about),
                );
            }
        }
    }

    fn unknown_key(&self, at: usize, desk: &mut Desk) {
        let name = &self.pairs[at].0;
        let names = self.keys.iter().map(|k| k.name);
        let before = at.checked_sub(1).map(|before| &self.pairs[before]);
        if let Some(slip) = slips::of_key(&name.value, names.clone(), before) {
            let message = format!("`{}` is not a key of {}", name.value, self.what);
            desk.fault_with(name.place, message, Some(slip));
            return;
        }
        let near = desk.near(&name.value, names.clone());
        let elsewhere = keys::verbs_with(&name.value);
        let mut message = format!("`{}` is not a key of {}", name.value, self.what);
        let help = if near.is_none() && self.is_step() && !elsewhere.is_empty() {
            Some(format!("it is a key of {}", list(elsewhere)))
        } else {
            if near.is_none() {
                message.push_str(": want one of ");
                message.push_str(&list(names));
            }
            near
        };
        desk.fault_with(name.place, message, help);
    }

    fn is_step(&self) -> bool {
        self.keys.iter().any(|key| key.name == "do")
    }

    /// Whether the key stands there, with or without a value.
    pub(super) fn has(&self, name: &str) -> bool {
        self.pairs.iter().any(|(key, _)| key.value == name)
    }

    /// The value of a key; `None` also where nothing stands after it.
    pub(super) fn get(&self, name: &str) -> Option<&'n Placed<Node>> {
        debug_assert!(
            self.keys.iter().any(|k| k.name == name),
            "`{name}` is not in the table of {}",
            self.what
        );
        self.pairs
            .iter()
            .find(|(key, _)| key.value == name)
            .map(|(_, value)| value)
            .filter(|value| value.value != Node::Nothing)
    }

    /// Where the value stands; the block, where there is none.
    pub(super) fn place_of(&self, name: &str) -> Place {
        self.get(name).map_or(self.place, |node| node.place)
    }

    fn shape(&self, name: &str) -> Option<Shape> {
        self.keys.iter().find(|k| k.name == name).map(|k| k.shape)
    }

    /// Items of a list; one item alone counts as a list of one.
    pub(super) fn items(&self, name: &str) -> &'n [Placed<Node>] {
        match self.get(name) {
            None => &[],
            Some(node) => items(node),
        }
    }

    pub(super) fn text(&self, name: &str, desk: &mut Desk) -> Option<Placed<&'n str>> {
        text(self.get(name)?, name, desk)
    }

    pub(super) fn number(&self, name: &str, desk: &mut Desk) -> Option<Placed<f64>> {
        let Some(Shape::Number(unit, from, to)) = self.shape(name) else {
            return None;
        };
        number(self.get(name)?, name, (from, to), unit, desk)
    }

    pub(super) fn whole(&self, name: &str, desk: &mut Desk) -> Option<u32> {
        let Some(Shape::Whole(from, to)) = self.shape(name) else {
            return None;
        };
        whole(self.get(name)?, name, (from, to), desk)
    }

    pub(super) fn flag(&self, name: &str, desk: &mut Desk) -> Option<bool> {
        let said = text(self.get(name)?, name, desk)?;
        match said.value {
            "true" => Some(true),
            "false" => Some(false),
            other => {
                desk.fault(
                    said.place,
                    format!("`{other}` after `{name}`: want `true` or `false`"),
                );
                None
            }
        }
    }

    /// One of the words in the table.
    pub(super) fn word(&self, name: &str, desk: &mut Desk) -> Option<&'static str> {
        let Some(Shape::Word(words)) = self.shape(name) else {
            return None;
        };
        let said = text(self.get(name)?, name, desk)?;
        let known = words.iter().find(|w| **w == said.value);
        if known.is_none() {
            let help = desk.near(said.value, words.iter().copied());
            desk.fault_with(
                said.place,
                format!(
                    "`{}` is no word for `{name}`: want {}",
                    said.value,
                    list(words.iter().copied())
                ),
                help,
            );
        }
        known.copied()
    }

    pub(super) fn temperature(&self, name: &str, desk: &mut Desk) -> Option<Placed<Celsius>> {
        self.written_temperature(name, desk)
            .map(|written| written.with(written.value.celsius))
    }

    /// The same, with whether a unit was written.
    pub(super) fn written_temperature(
        &self,
        name: &str,
        desk: &mut Desk,
    ) -> Option<Placed<temperature::Written>> {
        let Some(Shape::Temperature(from, to)) = self.shape(name) else {
            return None;
        };
        temperature(self.get(name)?, name, (from, to), desk)
    }

    /// So many numbers.
    pub(super) fn numbers(&self, name: &str, desk: &mut Desk) -> Option<Vec<f64>> {
        let Some(Shape::Numbers(unit, least, most, from, to)) = self.shape(name) else {
            return None;
        };
        let node = self.get(name)?;
        let Node::List(items) = &node.value else {
            desk.fault(
                node.place,
                format!(
                    "found {} after `{name}`: want numbers such as `[84, 52]`",
                    node.value.kind()
                ),
            );
            return None;
        };
        let range = (from, to);
        let read: Vec<f64> = items
            .iter()
            .filter_map(|item| number(item, name, range, unit, desk).map(|n| n.value))
            .collect();
        if items.len() < least || items.len() > most {
            let many = if least == most {
                least.to_string()
            } else {
                format!("{least} or {most}")
            };
            desk.fault_with(
                node.place,
                format!("`{name}` holds {} numbers: want {many}", items.len()),
                slips::of_list(items),
            );
            return None;
        }
        if let Some((at, how)) = slips::may_be_one(items) {
            desk.notice(at.place, format!("`{name}`: {how}"));
        }
        (read.len() == items.len()).then_some(read)
    }

    /// One number, or two in a list; one alone stands for both.
    pub(super) fn one_or_two(&self, name: &str, desk: &mut Desk) -> Option<(f64, f64)> {
        let Some(Shape::OneOrTwo(unit, from, to)) = self.shape(name) else {
            return None;
        };
        let node = self.get(name)?;
        let items = items(node);
        let read = |item, desk: &mut Desk| {
            number(item, name, (from, to), unit, desk).map(|said| said.value)
        };
        match items {
            [one] => read(one, desk).map(|one| (one, one)),
            [one, other] => read(one, desk).zip(read(other, desk)),
            _ => {
                desk.fault(
                    node.place,
                    format!("`{name}` holds {} numbers: want 1 or 2", items.len()),
                );
                None
            }
        }
    }

    /// Coordinates.
    pub(super) fn point(&self, name: &str, desk: &mut Desk) -> Option<Point> {
        let pair = self.numbers(name, desk)?;
        let (x, y) = (*pair.first()?, *pair.get(1)?);
        accept(Point::from_mm(x, y), self.place_of(name), desk)
    }

    /// Puts the two keys on the desk if both stand there: they say the same thing.
    pub(super) fn at_most_one(&self, names: &[&str], desk: &mut Desk) {
        let said: Vec<&str> = names.iter().copied().filter(|n| self.has(n)).collect();
        if let [first, .., last] = said.as_slice() {
            desk.fault(
                self.place_of(last),
                format!("`{first}` and `{last}` say the same thing: want one of them"),
            );
        }
    }
}

fn may_be_empty(shape: Shape) -> bool {
    matches!(
        shape,
        Shape::Blocks(_) | Shape::Steps | Shape::Alloys | Shape::Names
    )
}

/// Items of a list; one item alone counts as a list of one.
pub(super) fn items(node: &Placed<Node>) -> &[Placed<Node>] {
    match &node.value {
        Node::Nothing => &[],
        Node::List(items) => items,
        _ => std::slice::from_ref(node),
    }
}

/// A word or text.
pub(super) fn text<'n>(
    node: &'n Placed<Node>,
    name: &str,
    desk: &mut Desk,
) -> Option<Placed<&'n str>> {
    match &node.value {
        Node::Scalar(text) => Some(node.with(text.as_str())),
        other => {
            desk.fault(
                node.place,
                format!("found {} after `{name}`: want a word", other.kind()),
            );
            None
        }
    }
}

/// A number in a range.
pub(super) fn number(
    node: &Placed<Node>,
    name: &str,
    range: (f64, f64),
    unit: &str,
    desk: &mut Desk,
) -> Option<Placed<f64>> {
    let said = text(node, name, desk)?;
    let want = format!("want a number from {} to {} {unit}", range.0, range.1);
    let Some(value) = number_in(said.value) else {
        desk.fault_with(
            said.place,
            format!(
                "`{}` after `{name}` is not a number: {}",
                said.value,
                want.trim_end()
            ),
            temperature::decimal_comma(said.value)
                .or_else(|| slips::of_unit(said.value, name, unit))
                .or_else(|| {
                    said.value
                        .contains(';')
                        .then(|| "want a comma between numbers".to_owned())
                }),
        );
        return None;
    };
    if !(range.0..=range.1).contains(&value) {
        desk.fault_with(
            said.place,
            format!(
                "{value} after `{name}` is out of range: {}",
                want.trim_end()
            ),
            slips::of_number(value, name, range, unit),
        );
        return None;
    }
    Some(said.with(value))
}

/// A whole number in a range.
pub(super) fn whole(
    node: &Placed<Node>,
    name: &str,
    range: (u32, u32),
    desk: &mut Desk,
) -> Option<u32> {
    let said = text(node, name, desk)?;
    let digits = !said.value.is_empty() && said.value.bytes().all(|b| b.is_ascii_digit());
    let value = said.value.parse().ok().filter(|_| digits);
    let fits = value.filter(|v| (range.0..=range.1).contains(v));
    if fits.is_none() {
        desk.fault(
            said.place,
            format!(
                "`{}` after `{name}`: want a whole number from {} to {}",
                said.value, range.0, range.1
            ),
        );
    }
    fits
}

/// A temperature; one with a unit is told back.
pub(super) fn temperature(
    node: &Placed<Node>,
    name: &str,
    usual: (f64, f64),
    desk: &mut Desk,
) -> Option<Placed<temperature::Written>> {
    let said = text(node, name, desk)?;
    match temperature::read(said.value, name, usual) {
        Ok(written) => {
            if written.with_unit {
                let celsius = written.celsius;
                desk.notice(said.place, format!("`{}` read as {celsius:.1}", said.value));
            }
            Some(said.with(written))
        }
        Err(cold) => {
            desk.fault_with(said.place, cold.message, cold.help);
            None
        }
    }
}

/// A quantity that was checked against the table's range before; what its type still refuses is put
/// on the desk.
pub(super) fn accept<T>(
    quantity: Result<T, crate::quantity::NotAQuantity>,
    place: Place,
    desk: &mut Desk,
) -> Option<T> {
    quantity
        .map_err(|no| desk.fault(place, no.to_string()))
        .ok()
}

/// Words in backticks, with commas.
pub(super) fn list<'w>(words: impl IntoIterator<Item = &'w str>) -> String {
    words
        .into_iter()
        .map(|w| format!("`{w}`"))
        .collect::<Vec<_>>()
        .join(", ")
}
