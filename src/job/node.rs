//! A file as a tree in which every key and value knows where it stands, so that all that is wrong
//! can be told at once.

use std::fmt;

use serde::de::{Deserialize, Deserializer, MapAccess, SeqAccess, Visitor};

use crate::yaml::{self, Fault, Place, Placed};

/// A value of the file.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Node {
    /// A word, number or text, as written; quotes taken off.
    Scalar(String),
    /// Nothing, or `null`.
    Nothing,
    /// A list.
    List(Vec<Placed<Node>>),
    /// Keys and values, in the order of the file.
    Map(Vec<(Placed<String>, Placed<Node>)>),
}

impl Node {
    /// What it is, for messages: "a list".
    pub(super) fn kind(&self) -> &'static str {
        match self {
            Node::Scalar(_) => "a word or number",
            Node::Nothing => "nothing",
            Node::List(_) => "a list",
            Node::Map(_) => "a block of keys",
        }
    }
}

/// Longest list and most keys of one block (our judgement: no bench sheet holds more).
const MOST_ITEMS: usize = 500;
/// Longest word, in bytes (our judgement).
const LONGEST_WORD: usize = 400;

/// The tree of a text.
///
/// # Errors
/// The [`Fault`] of the strict reader, since what is no YAML has no tree; or the first list or word
/// that is longer than any job needs.
pub(super) fn tree(text: &str) -> Result<Placed<Node>, Fault> {
    let mut root: Placed<Node> = yaml::read(text)?;
    settle(&mut root, text)?;
    Ok(root)
}

/// What keeps a text from being YAML; that a list is too long for a job is no fault of form.
pub(super) fn form(text: &str) -> Option<Fault> {
    yaml::read::<Placed<Node>>(text).err()
}

/// Unquoted words are taken as they stand: `017` and `1e3` are names as good as any, and what is
/// meant as a number is read as one later. What is too long is refused.
fn settle(node: &mut Placed<Node>, text: &str) -> Result<(), Fault> {
    let place = node.place;
    match &mut node.value {
        Node::Scalar(word) => {
            if let Some(written) = as_written(place, text) {
                written.clone_into(word);
            }
            check_length(word.len(), place)
        }
        Node::Nothing => Ok(()),
        Node::List(items) => {
            check_count(items.len(), place)?;
            items.iter_mut().try_for_each(|item| settle(item, text))
        }
        Node::Map(pairs) => {
            check_count(pairs.len(), place)?;
            pairs.iter_mut().try_for_each(|(key, value)| {
                check_length(key.value.len(), key.place)?;
                settle(value, text)
            })
        }
    }
}

fn check_length(bytes: usize, place: Place) -> Result<(), Fault> {
    if bytes <= LONGEST_WORD {
        return Ok(());
    }
    let message = format!("a text of {bytes} bytes stands here: want at most {LONGEST_WORD}");
    Err(Fault::at(place, message))
}

fn check_count(items: usize, place: Place) -> Result<(), Fault> {
    if items <= MOST_ITEMS {
        return Ok(());
    }
    let message = format!("{items} entries stand here: want at most {MOST_ITEMS}");
    Err(Fault::at(place, message))
}

fn as_written(place: Place, text: &str) -> Option<&str> {
    let written = text.get(place.bytes())?;
    let plain = !written.is_empty()
        && !written.starts_with(['"', '\'', '|', '>', '!'])
        && !written.contains(['\n', '\r']);
    plain.then_some(written)
}

impl<'de> Deserialize<'de> for Node {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        from.deserialize_any(NodeVisitor)
    }
}

struct NodeVisitor;

impl<'de> Visitor<'de> for NodeVisitor {
    type Value = Node;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a word, a number, a list or keys")
    }
    fn visit_bool<E>(self, value: bool) -> Result<Node, E> {
        Ok(Node::Scalar(value.to_string()))
    }
    fn visit_i64<E>(self, value: i64) -> Result<Node, E> {
        Ok(Node::Scalar(value.to_string()))
    }
    fn visit_u64<E>(self, value: u64) -> Result<Node, E> {
        Ok(Node::Scalar(value.to_string()))
    }
    fn visit_i128<E>(self, value: i128) -> Result<Node, E> {
        Ok(Node::Scalar(value.to_string()))
    }
    fn visit_u128<E>(self, value: u128) -> Result<Node, E> {
        Ok(Node::Scalar(value.to_string()))
    }
    fn visit_f64<E>(self, value: f64) -> Result<Node, E> {
        Ok(Node::Scalar(value.to_string()))
    }
    fn visit_str<E>(self, value: &str) -> Result<Node, E> {
        Ok(Node::Scalar(value.to_owned()))
    }
    fn visit_unit<E>(self) -> Result<Node, E> {
        Ok(Node::Nothing)
    }
    fn visit_none<E>(self) -> Result<Node, E> {
        Ok(Node::Nothing)
    }
    fn visit_some<D: Deserializer<'de>>(self, from: D) -> Result<Node, D::Error> {
        Node::deserialize(from)
    }
    fn visit_seq<A: SeqAccess<'de>>(self, mut seq: A) -> Result<Node, A::Error> {
        let mut items = Vec::new();
        while let Some(item) = seq.next_element()? {
            items.push(item);
        }
        Ok(Node::List(items))
    }
    fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<Node, A::Error> {
        let mut pairs = Vec::new();
        while let Some(pair) = map.next_entry()? {
            pairs.push(pair);
        }
        Ok(Node::Map(pairs))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The plain words of a tree, depth first.
    fn words(node: &Placed<Node>, found: &mut Vec<String>) {
        match &node.value {
            Node::Scalar(word) => found.push(word.clone()),
            Node::Nothing => found.push("-".to_owned()),
            Node::List(items) => items.iter().for_each(|item| words(item, found)),
            Node::Map(pairs) => pairs.iter().for_each(|(_, value)| words(value, found)),
        }
    }

    #[test]
    fn words_are_kept_as_they_are_written() {
        let text = "a: 017\nb: [1e3, \"4 x\", 2.50, NO, true]\nc: {d: 0x1F, e: }\nf: ~\ng: >-\n  to\n  be\n";
        let mut found = Vec::new();
        words(&tree(text).unwrap(), &mut found);
        assert_eq!(
            found,
            [
                "017", "1e3", "4 x", "2.50", "NO", "true", "0x1F", "-", "-", "to be"
            ]
        );
    }

    #[test]
    fn keys_and_values_know_where_they_stand() {
        let Node::Map(pairs) = tree("# µ\na: {b: c}\n").unwrap().value else {
            panic!("no keys");
        };
        let Node::Map(inner) = &pairs[0].1.value else {
            panic!("no keys");
        };
        assert_eq!((pairs[0].0.place.line, pairs[0].0.place.column), (2, 1));
        assert_eq!((inner[0].1.place.line, inner[0].1.place.column), (2, 8));
    }
}
