//! Keeping what was learned in the text of a job file: the rest of the file stays as it is. The block
//! under `learned` is the program's own and is written anew each time.
//!
//! What comes out says the same as before but for `learned`; that is checked on the text
//! itself, and the caller reads the result strictly before writing it.

use std::fmt::Write as _;

use super::learned::Kind;
use super::log::{placeless, quoted};
use super::node::{self, Node};
use super::shape::ReadingFile;
use crate::heat::Kept;
use crate::yaml::{Fault, Placed};

/// The keys of the factors, in their order.
pub const FACTORS: [&str; crate::heat::FACTORS] = [
    "losses",
    "coupling",
    "conduction",
    "mixing",
    "dial",
    "body",
    "preheater",
];

/// Why nothing was kept.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum NotKept {
    /// The file is no YAML as it stands.
    #[error("the job file cannot be read: {0}")]
    Unreadable(Fault),
    /// The line cannot be put there.
    #[error("{why}: write this under `learned` yourself:\n{lines}")]
    Closed {
        /// What is in the way.
        why: &'static str,
        /// The lines to paste.
        lines: String,
    },
}

/// All that stands under `learned`.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Block {
    /// Files of readings.
    pub files: Vec<ReadingFile>,
    /// What was fitted for each kind of tool, and the mark of the readings.
    pub fits: Vec<(Kind, Kept, String)>,
}

impl Block {
    /// Its lines, each ended.
    fn lines(&self, end_of_line: &str) -> String {
        let mut text = String::new();
        if !self.files.is_empty() {
            let _ = write!(text, "  files:{end_of_line}");
        }
        for file in &self.files {
            let _ = write!(
                text,
                "    - {{file: {}, hash: \"{}\", step: {}",
                quoted(&file.file),
                file.hash,
                quoted(&file.step)
            );
            if let Some(seconds) = file.seconds {
                let _ = write!(text, ", seconds: {seconds}");
            }
            if let Some(uncertain) = file.uncertain {
                let _ = write!(text, ", uncertain_k: {}", uncertain.kelvin());
            }
            let _ = write!(text, "}}{end_of_line}");
        }
        for (kind, kept, from) in &self.fits {
            let _ = write!(
                text,
                "  {}: {}{end_of_line}",
                kind.key(),
                written(kept, from)
            );
        }
        text
    }
}

/// The factors as they stand in a job: `{losses: 1.12, …}`.
fn written(kept: &Kept, from: &str) -> String {
    let mut text = String::from("{");
    for (key, factor) in FACTORS.iter().zip(kept.factors) {
        let _ = write!(text, "{key}: {}, ", rounded(factor, 4));
    }
    let triangle: Vec<String> = kept
        .triangle()
        .iter()
        .map(|value| rounded(*value, 6))
        .collect();
    let _ = write!(
        text,
        "structure: {}, covariance: [{}], from: \"{from}\"}}",
        rounded(kept.structure, 4),
        triangle.join(", ")
    );
    text
}

/// So many places after the point, without trailing zeros.
fn rounded(value: f64, places: usize) -> String {
    let text = format!("{value:.places$}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" {
        "0".to_owned()
    } else {
        text.to_owned()
    }
}

/// The text with this under `learned` in place of what stood there; before `done`, where there was nothing;
/// without the key, where nothing is learned.
///
/// # Errors
/// [`NotKept`]; the text is never changed halfway.
pub fn keep(text: &str, block: &Block) -> Result<String, NotKept> {
    let end_of_line = if text.contains("\r\n") { "\r\n" } else { "\n" };
    let lines = block.lines(end_of_line);
    let closed = |why| NotKept::Closed {
        why,
        lines: lines.trim_end().to_owned(),
    };
    let before = node::tree(text).map_err(NotKept::Unreadable)?;
    let Node::Map(pairs) = &before.value else {
        return Err(closed("the file holds no job"));
    };
    if text
        .get(before.place.bytes())
        .is_some_and(|t| t.starts_with('{'))
    {
        return Err(closed("the whole job stands in braces"));
    }
    let find = |name: &str| pairs.iter().find(|(key, _)| key.value == name);
    let after = match (find("learned"), lines.is_empty()) {
        (None, true) => text.to_owned(),
        (None, false) => {
            let block = format!("learned:{end_of_line}{lines}");
            match find("done") {
                Some((done, _)) => insert_line(text, done.place.line - 1, &block),
                None => format!("{}{end_of_line}{block}", text.trim_end()),
            }
        }
        (Some((key, learned)), empty) => {
            if starts_flow(text, learned) || !matches!(learned.value, Node::Map(_) | Node::Nothing)
            {
                return Err(closed("`learned` is not in block form"));
            }
            let (from, to) = own_lines(text, key.place.line);
            let all: Vec<&str> = text.split_inclusive('\n').collect();
            let head: String = all[..from - usize::from(empty)].concat();
            let gap = if head.ends_with('\n') || head.is_empty() {
                ""
            } else {
                end_of_line
            };
            format!("{head}{gap}{lines}{}", all[to..].concat())
        }
    };
    if says(&after, &before, &lines) {
        Ok(after)
    } else {
        Err(closed("a line there would not be read as what was learned"))
    }
}

/// The lines below a key of the job that belong to it: those that are indented.
fn own_lines(text: &str, key_line: usize) -> (usize, usize) {
    let mut to = key_line;
    for (at, line) in text.split_inclusive('\n').enumerate().skip(key_line) {
        let blank = line.trim().is_empty();
        if !blank && !line.starts_with([' ', '\t']) {
            break;
        }
        if !blank {
            to = at + 1;
        }
    }
    (key_line, to)
}

fn starts_flow(text: &str, node: &Placed<Node>) -> bool {
    text.get(node.place.bytes().start..)
        .is_some_and(|written| written.starts_with('{'))
}

/// `block` after the first `lines` lines.
fn insert_line(text: &str, lines: usize, block: &str) -> String {
    let at: usize = text.split_inclusive('\n').take(lines).map(str::len).sum();
    let gap = if at > 0 && !text[..at].ends_with('\n') {
        "\n"
    } else {
        ""
    };
    format!("{}{gap}{block}{}", &text[..at], &text[at..])
}

/// Whether a text says all that the tree said, with these lines under `learned`.
fn says(text: &str, before: &Placed<Node>, lines: &str) -> bool {
    let (Ok(after), Ok(wanted)) = (node::tree(text), node::tree(lines)) else {
        return false;
    };
    let split = |root: &Placed<Node>| {
        let Node::Map(pairs) = placeless(&root.value) else {
            return (Vec::new(), Vec::new());
        };
        pairs
            .into_iter()
            .partition::<Vec<_>, _>(|(key, _)| key.value != "learned")
    };
    let ((old, _), (new, learned)) = (split(before), split(&after));
    let wanted = placeless(&wanted.value);
    old == new
        && match learned.as_slice() {
            [] => wanted == Node::Nothing,
            [(_, only)] => only.value == wanted,
            _ => false,
        }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::heat::Knowledge;

    const FIT: &str = "{losses: 1, coupling: 1, conduction: 1, mixing: 1, dial: 1, body: 1, preheater: 1, structure: 0.08, covariance: [0.0625, 0, 0, 0, 0, 0, 0, 0.1225, 0, 0, 0, 0, 0, 0.04, 0, 0, 0, 0, 0.0225, 0, 0, 0, 0.0225, 0, 0, 0.1225, 0, 0.16], from: \"ab\"}";

    fn block() -> Block {
        Block {
            files: vec![ReadingFile {
                file: "run 1.csv".to_owned(),
                hash: "00ff".to_owned(),
                step: "set".to_owned(),
                seconds: Some(20),
                uncertain: None,
            }],
            fits: vec![(
                Kind::Air,
                Kept::from(Knowledge::unmeasured()),
                "ab".to_owned(),
            )],
        }
    }

    #[test]
    fn what_is_learned_goes_in_and_out_and_nothing_else_changes() {
        let lines = format!(
            "  files:\n    - {{file: run 1.csv, hash: \"00ff\", step: set, seconds: 20}}\n  air: {FIT}\n"
        );
        for (before, after) in [
            ("job: a\n".to_owned(), format!("job: a\nlearned:\n{lines}")),
            (
                "job: a\n# log\ndone:\n  - {step: s}\n".to_owned(),
                format!("job: a\n# log\nlearned:\n{lines}done:\n  - {{step: s}}\n"),
            ),
            (
                "job: a\nlearned: # kept\n    iron: {losses: 2}\n\n    # more\n\ndone:\n"
                    .to_owned(),
                format!("job: a\nlearned: # kept\n{lines}\ndone:\n"),
            ),
            (
                "job: a\r\nstock: []\r\n".to_owned(),
                format!(
                    "job: a\r\nstock: []\r\nlearned:\r\n{}",
                    lines.replace('\n', "\r\n")
                ),
            ),
        ] {
            assert_eq!(keep(&before, &block()), Ok(after.clone()), "{before}");
            // Once more changes nothing; nothing learned leaves no trace.
            assert_eq!(keep(&after, &block()), Ok(after.clone()));
            let gone = keep(&after, &Block::default()).unwrap();
            assert!(!gone.contains("learned"), "{gone}");
            if !before.contains("learned") {
                assert_eq!(gone, before);
            }
        }
    }

    #[test]
    fn where_it_cannot_go_it_is_shown_for_pasting() {
        for text in [
            "{job: a}",
            "job: a\nlearned: {iron: {losses: 1}}\n",
            "- a\n",
        ] {
            let no = keep(text, &block()).unwrap_err();
            assert!(no.to_string().contains(FIT), "{no}");
        }
    }
}
