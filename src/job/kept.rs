//! Keeping what was learned in the text of a job file: comments and layout stay as they are.
//!
//! What comes out says the same as before but for one line under `learned`; that is checked on the text
//! itself, and the caller reads the result strictly before writing it.

use std::fmt::Write as _;

use super::log::placeless;
use super::node::{self, Node};
use crate::heat::{Kept, Tool};
use crate::yaml::{Fault, Placed};

/// Why nothing was kept.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum NotKept {
    /// The file is no YAML as it stands.
    #[error("the job file cannot be read: {0}")]
    Unreadable(Fault),
    /// The line cannot be put there.
    #[error("{why}: write this under `learned` yourself:\n{line}")]
    Closed {
        /// What is in the way.
        why: &'static str,
        /// The line to paste.
        line: String,
    },
}

/// The key of a tool under `learned`.
pub fn key_of(tool: &Tool) -> &'static str {
    match tool {
        Tool::Air(_) => "air",
        Tool::Iron { .. } => "iron",
    }
}

/// The factors as they stand in a job: `{losses: 1.12, …}`.
pub fn written(kept: &Kept) -> String {
    let mut text = String::from("{");
    for (key, factor) in ["losses", "coupling", "conduction", "mixing"]
        .iter()
        .zip(kept.factors)
    {
        let _ = write!(text, "{key}: {}, ", rounded(factor, 4));
    }
    let triangle: Vec<String> = kept
        .triangle()
        .iter()
        .map(|value| rounded(*value, 6))
        .collect();
    let _ = write!(text, "covariance: [{}]}}", triangle.join(", "));
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

/// The text with what was learned of a tool in place of what stood there; before `done`, where there was
/// nothing.
///
/// # Errors
/// [`NotKept`]; the text is never changed halfway.
pub fn keep(text: &str, tool: &str, kept: &Kept) -> Result<String, NotKept> {
    let value = written(kept);
    let closed = |why| NotKept::Closed {
        why,
        line: format!("  {tool}: {value}"),
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
    let find = |pairs: &[(Placed<String>, Placed<Node>)], name: &str| {
        pairs.iter().position(|(key, _)| key.value == name)
    };
    let end_of_line = if text.contains("\r\n") { "\r\n" } else { "\n" };
    let after = match find(pairs, "learned").map(|at| &pairs[at]) {
        None => {
            let block = format!("learned:{end_of_line}  {tool}: {value}{end_of_line}");
            if let Some(at) = find(pairs, "done") {
                insert_line(text, pairs[at].0.place.line - 1, &block)
            } else {
                format!("{}{end_of_line}{block}", text.trim_end())
            }
        }
        Some((key, learned)) => {
            let entries: &[_] = match &learned.value {
                Node::Map(entries) if !starts_flow(text, learned) => entries,
                Node::Nothing => &[],
                _ => return Err(closed("`learned` is not in block form")),
            };
            if let Some(old) = find(entries, tool).map(|at| &entries[at].1) {
                let Some(bytes) = braces(text, old.place.bytes().start) else {
                    return Err(closed("what was learned is not on one line in braces"));
                };
                format!("{}{value}{}", &text[..bytes.start], &text[bytes.end..])
            } else {
                let indent = entries.first().map_or(2, |(key, _)| key.place.column - 1);
                let line = format!("{}{tool}: {value}{end_of_line}", " ".repeat(indent));
                insert_line(text, key.place.line, &line)
            }
        }
    };
    if says(&after, &before, tool, &value) {
        Ok(after)
    } else {
        Err(closed("a line there would not be read as what was learned"))
    }
}

fn starts_flow(text: &str, node: &Placed<Node>) -> bool {
    text.get(node.place.bytes().start..)
        .is_some_and(|written| written.starts_with('{'))
}

/// From an opening brace to the one that closes it on the same line, where nothing between is quoted.
fn braces(text: &str, start: usize) -> Option<std::ops::Range<usize>> {
    let line = text.get(start..)?.lines().next()?;
    let end = line.find('}')? + 1;
    let inside = &line[..end];
    let plain = inside.starts_with('{') && !inside[1..].contains(['{', '"', '\'', '#']);
    plain.then_some(start..start + end)
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

/// Whether a text says all that the tree said, with this learned of that tool.
fn says(text: &str, before: &Placed<Node>, tool: &str, value: &str) -> bool {
    let (Ok(after), Ok(wanted)) = (node::tree(text), node::tree(value)) else {
        return false;
    };
    let split = |root: &Placed<Node>| {
        let Node::Map(pairs) = placeless(&root.value) else {
            return (Vec::new(), Vec::new());
        };
        let (learned, others): (Vec<_>, Vec<_>) = pairs
            .into_iter()
            .partition(|(key, _)| key.value == "learned");
        let learned = learned
            .into_iter()
            .flat_map(|(_, value)| match value.value {
                Node::Map(entries) => entries,
                _ => Vec::new(),
            })
            .collect::<Vec<_>>();
        (others, learned)
    };
    let ((old, mut kept), (new, now)) = (split(before), split(&after));
    kept.retain(|(key, _)| key.value != tool);
    let (mine, rest): (Vec<_>, Vec<_>) = now.into_iter().partition(|(key, _)| key.value == tool);
    old == new
        && rest == kept
        && matches!(mine.as_slice(), [(_, only)] if only.value == placeless(&wanted.value))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::heat::Knowledge;

    const VALUE: &str = "{losses: 1, coupling: 1, conduction: 1, mixing: 1, covariance: [0.0625, 0, 0, 0, 0.1225, 0, 0, 0.04, 0, 0.01]}";

    #[test]
    fn what_is_learned_goes_in_and_nothing_else_changes() {
        let kept = Kept::from(Knowledge::unmeasured());
        let old = "{losses: 2, coupling: 1, conduction: 1, mixing: 1, covariance: [1, 0, 0, 0, 1, 0, 0, 1, 0, 1]}";
        for (before, after) in [
            (
                "job: a\n".to_owned(),
                format!("job: a\nlearned:\n  air: {VALUE}\n"),
            ),
            (
                "job: a\n# log\ndone:\n  - {step: s}\n".to_owned(),
                format!("job: a\n# log\nlearned:\n  air: {VALUE}\ndone:\n  - {{step: s}}\n"),
            ),
            (
                format!("job: a\nlearned: # kept\n    iron: {old}\ndone:\n"),
                format!("job: a\nlearned: # kept\n    air: {VALUE}\n    iron: {old}\ndone:\n"),
            ),
            (
                format!("job: a\nlearned:\n  air: {old} # from Monday\nstock: []\n"),
                format!("job: a\nlearned:\n  air: {VALUE} # from Monday\nstock: []\n"),
            ),
            (
                "job: a\r\nstock: []\r\n".to_owned(),
                format!("job: a\r\nstock: []\r\nlearned:\r\n  air: {VALUE}\r\n"),
            ),
        ] {
            assert_eq!(keep(&before, "air", &kept), Ok(after), "{before}");
        }
    }

    #[test]
    fn where_it_cannot_go_it_is_shown_for_pasting() {
        let kept = Kept::from(Knowledge::unmeasured());
        for text in [
            "{job: a}",
            "job: a\nlearned: {iron: {losses: 1}}\n",
            "job: a\nlearned:\n  air:\n    losses: 1\n",
            "- a\n",
        ] {
            let no = keep(text, "air", &kept).unwrap_err();
            assert!(no.to_string().contains(VALUE), "{no}");
        }
    }
}
