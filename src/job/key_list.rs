//! The keys of one thing of a job as a person looks them up: from the same table that the reader checks against.

use super::keys::{self, Key, Section, Shape};

/// A key as it is looked up.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct KeyLine {
    /// Its name.
    pub name: &'static str,
    /// Whether it must stand.
    pub must: bool,
    /// What may stand after it: `5 to 10000 µm`, `above | under`.
    pub value: String,
    /// What it means.
    pub about: &'static str,
}

/// Sections that are looked up by name, besides the verbs of steps.
const SECTIONS: &[(&str, &Section)] = &[
    ("job", &keys::JOB),
    ("want", &keys::WANT),
    ("board", &keys::BOARD),
    ("guard", &keys::GUARD),
    ("part", &keys::PART),
    ("balls", &keys::BALLS),
    ("hangs", &keys::HANGS),
    ("joint", &keys::JOINT),
    ("each", &keys::DEPOSIT),
    ("pad", &keys::PAD),
    ("finish", &keys::FINISH),
    ("wire_between", &keys::WIRE),
    ("flood", &keys::FLOOD),
    ("way", &keys::WAY),
    ("stage", &keys::STAGE),
    ("done", &keys::EVENT),
];

/// All names that [`keys_of`] knows.
pub fn things() -> impl Iterator<Item = &'static str> {
    let sections = SECTIONS.iter().map(|(name, _)| *name);
    sections.chain(keys::WORK.iter().map(|verb| verb.0))
}

/// The keys of a thing, or of a step by its verb; `None` where there is no such thing.
pub fn keys_of(thing: &str) -> Option<Vec<KeyLine>> {
    let section = SECTIONS.iter().find(|(name, _)| *name == thing);
    let verb = || keys::WORK.iter().find(|verb| verb.0 == thing);
    let found = match section {
        Some((_, section)) => section.keys.to_vec(),
        None => keys::of_verb(verb()?),
    };
    let is_verb = section.is_none();
    let lines = found.iter().map(|key| match key.name {
        "do" if is_verb => KeyLine {
            value: thing.to_owned(),
            ..line(key)
        },
        _ => line(key),
    });
    Some(lines.collect())
}

fn line(key: &Key) -> KeyLine {
    KeyLine {
        name: key.name,
        must: key.must,
        value: value(key.shape),
        about: key.about,
    }
}

fn value(shape: Shape) -> String {
    match shape {
        Shape::Id => "a name".to_owned(),
        Shape::Text => "words".to_owned(),
        Shape::Name => "an id".to_owned(),
        Shape::Names => "an id, or several: [a, b]".to_owned(),
        Shape::Word(words) => words.join(" | "),
        Shape::Flag => "true | false".to_owned(),
        Shape::Number(unit, from, to) => format!("{from} to {to} {unit}"),
        Shape::Whole(from, to) => format!("{from} to {to}"),
        Shape::Rounds => "0, 1, 2 …, or some: [1, 2]".to_owned(),
        Shape::Temperature(from, to) => format!("{from} to {to} °C, or 428F"),
        Shape::OneOrTwo(unit, from, to) => format!("{from} to {to} {unit}, or two: [14, 12]"),
        Shape::Numbers(unit, least, most, ..) if least == most => {
            format!("{least} numbers, {unit}")
        }
        Shape::Numbers(unit, least, most, ..) => format!("{least} to {most} numbers, {unit}"),
        Shape::Alloy => "an alloy".to_owned(),
        Shape::Alloys => "alloys: [63/37, snbi]".to_owned(),
        Shape::AlloyChoice => "an alloy, some: [63/37, snbi], or any".to_owned(),
        Shape::Content => "an alloy, what it may be: [63/37, snbi], or unknown".to_owned(),
        Shape::Pins => "{alloy: [solidus, liquidus]} °C".to_owned(),
        Shape::Couplings => format!("{{id: share}}, 0 to {}", keys::MOST_COUPLING),
        Shape::Temperatures => "{id: °C}".to_owned(),
        Shape::Readings => "{wire: Ω}".to_owned(),
        Shape::After => "an id, several, {id: reason}, or all".to_owned(),
        Shape::Block(_) => "{…}".to_owned(),
        Shape::Blocks(_) | Shape::Steps => "a list of {…}".to_owned(),
        Shape::Deposits(_) => "an alloy, {…}, or a list of them".to_owned(),
        Shape::Each => "how many, or {count: …}".to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_thing_can_be_looked_up_and_nothing_else() {
        for thing in things() {
            assert!(keys_of(thing).is_some(), "{thing}");
        }
        assert_eq!(keys_of("plaice"), None);
        let place = keys_of("place").expect("a verb");
        let of = |name: &str| place.iter().find(|key| key.name == name).expect("a key");
        assert!(of("part").must && !of("on").must);
        assert_eq!(of("peak_c").value, "40 to 380 °C, or 428F");
        assert_eq!(of("k").value, "{id: share}, 0 to 2");
    }
}
