//! Adding a line to the log of a job file and taking the last one off, as text: comments and layout
//! stay as they are.
//!
//! What comes out says the same as before and one event more (or less); that is checked on the text
//! itself, and the caller reads the result strictly before writing it.

use std::fmt::{self, Write as _};

use super::done::OPEN;
use super::node::{self, Node};
use super::shape::Tool;
use super::{fields, ways};
use crate::quantity::{Celsius, Mass, Ohms};
use crate::yaml::{Fault, Placed};

/// One line for the log, from its parts; as text it is `{step: set, peak_c: 165}`.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Entry {
    /// Id of the step.
    pub step: String,
    /// Peak as read.
    pub peak: Option<Celsius>,
    /// Temperatures as read elsewhere: id of joint, part, guard or zone.
    pub sees: Vec<(String, Celsius)>,
    /// Resistances as read: `bus`, `bus:ground`, `bus:clock`; `None` for an open line.
    pub reads: Vec<(String, Option<Ohms>)>,
    /// Why it failed, where it did.
    pub failed: Option<String>,
    /// Alloy that was used, whatever was planned.
    pub alloy: Option<String>,
    /// Tool that was used, whatever was planned.
    pub tool: Option<Tool>,
    /// Rounds that were done, whatever was planned.
    pub rounds: Option<u32>,
    /// Solder that each member got, whatever was planned.
    pub mass: Option<Mass>,
}

impl fmt::Display for Entry {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{{step: {}", quoted(&self.step))?;
        if let Some(peak) = self.peak {
            write!(f, ", peak_c: {}", peak.degrees())?;
        }
        if !self.sees.is_empty() {
            let sees: Vec<String> = self
                .sees
                .iter()
                .map(|(place, seen)| format!("{}: {}", quoted(place), seen.degrees()))
                .collect();
            write!(f, ", sees_c: {{{}}}", sees.join(", "))?;
        }
        if !self.reads.is_empty() {
            let reads = self.reads.iter().map(|(held, read)| {
                let read = read.map_or_else(|| OPEN.to_owned(), |r| r.ohms().to_string());
                format!("{}: {read}", quoted(held))
            });
            write!(
                f,
                ", reads_ohm: {{{}}}",
                reads.collect::<Vec<_>>().join(", ")
            )?;
        }
        if let Some(alloy) = &self.alloy {
            write!(f, ", alloy: {}", quoted(alloy))?;
        }
        if let Some(tool) = self.tool {
            write!(f, ", tool: {}", ways::word_of(tool))?;
        }
        if let Some(rounds) = self.rounds {
            write!(f, ", rounds: {rounds}")?;
        }
        if let Some(mass) = self.mass {
            write!(f, ", mg: {}", mass.mg())?;
        }
        if let Some(failed) = &self.failed {
            write!(f, ", failed: {}", quoted(failed))?;
        }
        f.write_str("}")
    }
}

/// A text as it can stand in the job: bare where that is safe, else in double quotes.
pub fn quoted(text: &str) -> String {
    let bare =
        |c: char| c.is_alphanumeric() || matches!(c, ' ' | '_' | '-' | '.' | '+' | '/' | '~');
    let starts_well = text.starts_with(char::is_alphabetic);
    let has_meaning = matches!(
        text.to_ascii_lowercase().as_str(),
        "true" | "false" | "null"
    );
    let safe = starts_well && !has_meaning && !text.ends_with(' ') && text.chars().all(bare);
    if safe {
        return text.to_owned();
    }
    let mut quoted = String::from("\"");
    for c in text.chars() {
        match c {
            '"' => quoted.push_str("\\\""),
            '\\' => quoted.push_str("\\\\"),
            '\n' => quoted.push_str("\\n"),
            '\t' => quoted.push_str("\\t"),
            c if c == ' ' || c.is_alphanumeric() || c.is_ascii_punctuation() => quoted.push(c),
            c => {
                let _ = write!(quoted, "\\U{:08x}", u32::from(c));
            }
        }
    }
    quoted.push('"');
    quoted
}

/// The heading that is added where a job has none, and taken off with the last line below it.
const HEADING: &str = "done: # kept by did and undo";

/// Why the log was left alone.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum LogFault {
    /// The file is no YAML as it stands.
    #[error("the job file cannot be read: {0}")]
    Unreadable(Fault),
    /// The event is not one line with keys in braces.
    #[error("`{0}` is no line for the log: want `{{step: …}}` on one line")]
    NotAnEvent(String),
    /// The log is not where or how a line can be added.
    #[error("{why}: write this under `done` yourself:\n{line}")]
    Closed {
        /// What is in the way.
        why: &'static str,
        /// The line to paste.
        line: String,
    },
    /// The last line cannot be told from the rest.
    #[error("the last event cannot be taken off here: {0}")]
    Stuck(&'static str),
    /// Nothing was logged yet.
    #[error("nothing is logged in `done`")]
    Empty,
}

/// The text with one event more at the end of `done`, which is added where there is none.
///
/// # Errors
/// [`LogFault`]; the text is never changed halfway.
pub fn append_event(text: &str, event: &str) -> Result<String, LogFault> {
    let event = event.trim();
    let added = match node::tree(event) {
        Ok(added) if is_event(&added, event) => added,
        _ => return Err(LogFault::NotAnEvent(event.to_owned())),
    };
    let closed = |why| LogFault::Closed {
        why,
        line: format!("  - {event}"),
    };
    let before = node::tree(text).map_err(LogFault::Unreadable)?;
    let log = log_of(&before, text).map_err(closed)?;
    let (indent, heading) = match log {
        Log::Missing => ("  ".to_owned(), true),
        Log::Blank => ("  ".to_owned(), false),
        Log::Lines(first) => {
            let line = text.lines().nth(first.place.line.saturating_sub(1));
            let indent = line
                .and_then(|line| line.split_once('-'))
                .map(|(before, _)| before);
            match indent.filter(|indent| indent.trim().is_empty()) {
                Some(indent) => (indent.to_owned(), false),
                None => return Err(closed("the events do not start with a dash on their line")),
            }
        }
    };
    let end_of_line = if text.contains("\r\n") { "\r\n" } else { "\n" };
    let body = text.trim_end();
    let mut after = String::with_capacity(text.len() + event.len() + 16);
    after.push_str(body);
    if heading {
        after.push_str(end_of_line);
        after.push_str(HEADING);
    }
    after.push_str(end_of_line);
    after.push_str(&indent);
    after.push_str("- ");
    after.push_str(event);
    // The file ends as it did, with or without a line break: what `undo` takes off is all that was added.
    after.push_str(&text[body.len()..]);

    let mut wanted = events(&before).to_vec();
    wanted.push(added);
    if says(&after, &before, &wanted) {
        Ok(after)
    } else {
        Err(closed(
            "a line at the end of this file would not be part of the log",
        ))
    }
}

/// The text without the last event of `done`.
///
/// # Errors
/// [`LogFault`]; the text is never changed halfway.
pub fn drop_last_event(text: &str) -> Result<String, LogFault> {
    let before = node::tree(text).map_err(LogFault::Unreadable)?;
    let Log::Lines(_) = log_of(&before, text).map_err(LogFault::Stuck)? else {
        return Err(LogFault::Empty);
    };
    let logged = events(&before);
    let Some((last, earlier)) = logged.split_last() else {
        return Err(LogFault::Empty);
    };
    let lines: Vec<&str> = text.split_inclusive('\n').collect();
    let first = last.place.line.saturating_sub(1);
    let is_content = |line: &&str| {
        let line = line.trim_start();
        !line.is_empty() && !line.starts_with('#')
    };
    let Some(end) = lines
        .iter()
        .rposition(is_content)
        .filter(|end| *end >= first)
    else {
        return Err(LogFault::Stuck("its line is not found"));
    };
    let heading = first.checked_sub(1).filter(|at| {
        let is_ours = lines[*at].trim_end() == HEADING;
        is_ours && earlier.is_empty()
    });
    let mut after = lines[..heading.unwrap_or(first)].concat();
    let rest = lines[end + 1..].concat();
    if !lines[end].ends_with('\n') {
        // The file ended here without a line break, and does so again.
        after.truncate(after.trim_end_matches(['\r', '\n']).len());
        let line = lines[end];
        after.push_str(&line[line.trim_end().len()..]);
    }
    after.push_str(&rest);
    if says(&after, &before, earlier) {
        Ok(after)
    } else {
        Err(LogFault::Stuck("it shares its lines with something else"))
    }
}

fn is_event(node: &Placed<Node>, event: &str) -> bool {
    event.starts_with('{')
        && !event.contains(['\n', '\r'])
        && matches!(&node.value, Node::Map(pairs) if pairs.iter().any(|(key, _)| key.value == "step"))
}

/// How the log stands in the file.
enum Log<'n> {
    Missing,
    Blank,
    /// In block form; the first event.
    Lines(&'n Placed<Node>),
}

fn log_of<'n>(root: &'n Placed<Node>, text: &str) -> Result<Log<'n>, &'static str> {
    let Node::Map(pairs) = &root.value else {
        return Err("the file holds no job");
    };
    let written = |node: &Placed<Node>| text.get(node.place.bytes()).unwrap_or("");
    if written(root).starts_with('{') {
        return Err("the whole job stands in braces");
    }
    if !pairs.iter().any(|(key, _)| key.value == "done") {
        return Ok(Log::Missing);
    }
    match pairs.last() {
        Some((key, log)) if key.value == "done" => match &log.value {
            Node::Nothing if written(log).is_empty() => Ok(Log::Blank),
            Node::List(items) if !written(log).starts_with('[') => {
                Ok(items.first().map_or(Log::Blank, Log::Lines))
            }
            _ => Err("`done` is not a list with a line for each event"),
        },
        _ => Err("`done` is not the last key of the file"),
    }
}

fn events(root: &Placed<Node>) -> &[Placed<Node>] {
    let Node::Map(pairs) = &root.value else {
        return &[];
    };
    pairs
        .iter()
        .find(|(key, _)| key.value == "done")
        .map_or(&[], |(_, log)| fields::items(log))
}

/// Whether a text says all that the tree said, with these events.
fn says(text: &str, before: &Placed<Node>, wanted: &[Placed<Node>]) -> bool {
    let Ok(after) = node::tree(text) else {
        return false;
    };
    let (Node::Map(old), Node::Map(new)) = (&before.value, &after.value) else {
        return false;
    };
    let others = |pairs: &[(Placed<String>, Placed<Node>)]| -> Vec<(String, Node)> {
        pairs
            .iter()
            .filter(|(key, _)| key.value != "done")
            .map(|(key, value)| (key.value.clone(), placeless(&value.value)))
            .collect()
    };
    let plain = |events: &[Placed<Node>]| -> Vec<Node> {
        events.iter().map(|e| placeless(&e.value)).collect()
    };
    others(old) == others(new) && plain(events(&after)) == plain(wanted)
}

/// The same value with all places the same.
pub(super) fn placeless(node: &Node) -> Node {
    let at_start = |node: &Placed<Node>| Placed {
        value: placeless(&node.value),
        place: crate::yaml::START,
    };
    match node {
        Node::Scalar(word) => Node::Scalar(word.clone()),
        Node::Nothing => Node::Nothing,
        Node::List(items) => Node::List(items.iter().map(at_start).collect()),
        Node::Map(pairs) => Node::Map(
            pairs
                .iter()
                .map(|(key, value)| {
                    let key = Placed {
                        value: key.value.clone(),
                        place: crate::yaml::START,
                    };
                    (key, at_start(value))
                })
                .collect(),
        ),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const EVENT: &str = "{step: set, peak_c: 165}";

    #[test]
    fn a_line_is_added_and_taken_off_and_nothing_else_changes() {
        for (before, after) in [
            (
                "job: a\ndone:\n",
                "job: a\ndone:\n  - {step: set, peak_c: 165}\n",
            ),
            (
                "job: a\ndone:",
                "job: a\ndone:\n  - {step: set, peak_c: 165}",
            ),
            (
                "job: a",
                "job: a\ndone: # kept by did and undo\n  - {step: set, peak_c: 165}",
            ),
            (
                "job: a \t",
                "job: a\ndone: # kept by did and undo\n  - {step: set, peak_c: 165} \t",
            ),
            (
                "job: a\r\n\r\n",
                "job: a\r\ndone: # kept by did and undo\r\n  - {step: set, peak_c: 165}\r\n\r\n",
            ),
            (
                "# top\njob: a # here\ndone: # log\n  - {step: a}\n  # a note\n",
                "# top\njob: a # here\ndone: # log\n  - {step: a}\n  # a note\n  - {step: set, peak_c: 165}\n",
            ),
            (
                "job: a\ndone:\n- step: a\n  failed: no\n\n\n",
                "job: a\ndone:\n- step: a\n  failed: no\n- {step: set, peak_c: 165}\n\n\n",
            ),
            (
                "\u{feff}job: a\r\ndone:\r\n  - {step: a}\r\n",
                "\u{feff}job: a\r\ndone:\r\n  - {step: a}\r\n  - {step: set, peak_c: 165}\r\n",
            ),
        ] {
            assert_eq!(append_event(before, EVENT).as_deref(), Ok(after));
            let back = drop_last_event(after).unwrap();
            assert_eq!(back, before);
        }
        assert_eq!(
            append_event("job: a\n", EVENT).as_deref(),
            Ok("job: a\ndone: # kept by did and undo\n  - {step: set, peak_c: 165}\n")
        );
    }

    #[test]
    fn an_event_of_several_lines_goes_whole() {
        let text =
            "done:\n  - {step: a}\n  - step: b\n    failed: >\n      two\n      open\n# end\n";
        assert_eq!(
            drop_last_event(text).as_deref(),
            Ok("done:\n  - {step: a}\n# end\n")
        );
    }

    #[test]
    fn a_log_that_cannot_grow_is_left_alone_and_the_line_is_shown() {
        for text in [
            "job: a\ndone: []\n",
            "job: a\ndone: [{step: a}]\n",
            "done:\n  - {step: a}\njob: a\n",
            "{job: a, done: }\n",
            "job: a\ndone: ~\n",
            "job: a\ndone:\n...\n",
            "- a\n",
        ] {
            let fault = append_event(text, EVENT).unwrap_err();
            assert!(matches!(fault, LogFault::Closed { .. }), "{text}: {fault}");
            assert!(
                fault.to_string().ends_with("  - {step: set, peak_c: 165}"),
                "{fault}"
            );
        }
        for event in [
            "",
            "step: a",
            "{step: a}\njob: b",
            "{peak_c: 3}",
            "[1]",
            "{step: a",
        ] {
            let fault = append_event("job: a\n", event).unwrap_err();
            assert!(matches!(fault, LogFault::NotAnEvent(_)), "{event}: {fault}");
        }
        assert_eq!(drop_last_event("job: a\ndone:\n"), Err(LogFault::Empty));
        assert!(matches!(
            append_event("a: [", EVENT),
            Err(LogFault::Unreadable(_))
        ));
    }

    proptest::proptest! {
        #[test]
        fn any_words_can_be_logged(why in "\\PC{0,40}|[a-z\"'\\\\\\n\\t:#{}\\[\\],&*!|>%@`~ -]{0,40}") {
            let entry = Entry { step: "set".into(), failed: Some(why.clone()), ..Entry::default() };
            let text = append_event("job: a\ndone:\n", &entry.to_string()).unwrap();
            let root = node::tree(&text).unwrap();
            let Node::Map(pairs) = &events(&root)[0].value else { panic!("no event") };
            proptest::prop_assert_eq!(&pairs[1].1.value, &Node::Scalar(why));
        }
    }
}
