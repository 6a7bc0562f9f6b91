//! Words that are no formula: what they mean or what has to be asked, and how spellings are told
//! apart.

use std::collections::BTreeMap;

use serde::Deserialize;

use super::Element;
use super::formula::{self, Formula, Parts};

/// The file of names as written.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct NameFile {
    means: BTreeMap<String, Vec<String>>,
    taken: BTreeMap<String, Taken>,
    ask: Vec<AskRow>,
}

#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Taken {
    pub(super) means: String,
    pub(super) or: Vec<String>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct AskRow {
    words: Vec<String>,
    why: String,
    among: Vec<String>,
}

/// What a word that is no formula stands for.
#[derive(Clone, Debug)]
pub(super) enum Meaning {
    Alloy(String),
    Taken(Taken),
    Ask { why: String, among: Vec<String> },
}

/// Words that are no formula, by their key.
#[derive(Clone, Debug, Default)]
pub(super) struct Names {
    by_key: BTreeMap<String, (String, Meaning)>,
}

impl Names {
    /// # Errors
    /// A word that stands twice, or an alloy that `known` does not know.
    pub(super) fn new(file: NameFile, known: impl Fn(&str) -> bool) -> Result<Self, String> {
        let mut names = Names::default();
        for (alloy, words) in file.means {
            for word in words {
                names.add(word, Meaning::Alloy(alloy.clone()))?;
            }
        }
        for (word, taken) in file.taken {
            names.add(word, Meaning::Taken(taken))?;
        }
        for row in file.ask {
            for word in row.words {
                names.add(
                    word,
                    Meaning::Ask {
                        why: row.why.clone(),
                        among: row.among.clone(),
                    },
                )?;
            }
        }
        let all = names.by_key.values().flat_map(|(_, m)| match m {
            Meaning::Alloy(alloy) => vec![alloy],
            Meaning::Taken(taken) => taken.or.iter().chain([&taken.means]).collect(),
            Meaning::Ask { among, .. } => among.iter().collect(),
        });
        match all.into_iter().find(|alloy| !known(alloy)) {
            Some(stray) => Err(format!("names: `{stray}` is not in the table")),
            None => Ok(names),
        }
    }

    /// What a typed word means, if it is one of these.
    pub(super) fn meaning(&self, typed: &str) -> Option<&Meaning> {
        self.by_key.get(&key(typed)).map(|(_, meaning)| meaning)
    }

    /// All words, as they are written in the file.
    pub(super) fn words(&self) -> impl Iterator<Item = &str> {
        self.by_key.values().map(|(word, _)| word.as_str())
    }

    fn add(&mut self, word: String, meaning: Meaning) -> Result<(), String> {
        match self.by_key.insert(key(&word), (word, meaning)) {
            Some((word, _)) => Err(format!("names: `{word}` stands twice")),
            None => Ok(()),
        }
    }
}

/// What counts of a typed word: letters, digits, `.` and `/`, in lower case; numbers in one
/// spelling, so that `.5`, `0,5` and `0.50` are one.
fn key(typed: &str) -> String {
    if let Some(formula::Read {
        formula: Formula::Numbers { numbers, elements },
        atomic: false,
    }) = formula::read(typed)
        && elements.is_empty()
    {
        let numbers: Vec<String> = numbers.iter().map(f64::to_string).collect();
        return numbers.join("/");
    }
    typed
        .chars()
        .filter(|c| c.is_alphanumeric() || matches!(c, '.' | '/'))
        .flat_map(char::to_lowercase)
        .collect()
}

/// `Sn63Pb37`: symbols as they are written, each with mass %, nothing else.
pub(super) fn exact_formula(text: &str) -> Option<Parts> {
    let mut parts = Vec::new();
    let mut rest = text;
    while !rest.is_empty() {
        let digits = rest.find(|c: char| c.is_ascii_digit())?;
        let element: Element = rest[..digits].parse().ok()?;
        if element.symbol() != &rest[..digits] {
            return None;
        }
        rest = &rest[digits..];
        let end = rest
            .find(|c: char| !(c.is_ascii_digit() || c == '.'))
            .unwrap_or(rest.len());
        parts.push((element, rest[..end].parse().ok()?));
        rest = &rest[end..];
    }
    (!parts.is_empty()).then_some(parts)
}

/// The canonical name of shares as they are written: largest first, ties in the naming order.
pub(super) fn written_name(parts: &[(Element, f64)]) -> String {
    let mut sorted = parts.to_vec();
    sorted.sort_by(|a, b| {
        b.1.total_cmp(&a.1)
            .then(a.0.naming_rank().cmp(&b.0.naming_rank()))
    });
    let mut name = String::new();
    for (element, percent) in sorted {
        name.push_str(element.symbol());
        name.push_str(&percent.to_string());
    }
    name
}
