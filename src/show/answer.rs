//! The frame that every answer shares: first line, verdict, assumptions, warnings; as text and JSON.

use std::fmt::Write as _;

use serde::Serialize;
use serde_json::{Map, Value, json};

use crate::bench::Verdict;

/// Something that was taken for granted, with where it comes from.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Assumption {
    /// What.
    pub what: String,
    /// Its value, as printed.
    pub value: String,
    /// Its unit; empty where it has none.
    pub unit: String,
    /// A source, "common practice, no source", "our judgement" or "stated in the job".
    pub mark: String,
}

/// What every answer has.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Frame {
    /// The verb.
    pub verb: &'static str,
    /// Where the verb gives one.
    pub verdict: Option<Verdict>,
    /// First line, at most 80 characters.
    pub line: String,
    /// What was taken for granted.
    pub assumptions: Vec<Assumption>,
    /// What does not change the verdict and should be known.
    pub warnings: Vec<String>,
}

impl Frame {
    /// The answer as JSON: the frame, then the keys of the verb.
    pub fn json(&self, keys: Value) -> Value {
        let mut all = Map::new();
        all.insert("meltstair".into(), json!(format!("{}/1", self.verb)));
        if let Some(verdict) = self.verdict {
            all.insert("verdict".into(), json!(verdict));
        }
        all.insert("line".into(), json!(self.line));
        all.insert("assumptions".into(), json!(self.assumptions));
        all.insert("warnings".into(), json!(self.warnings));
        if let Value::Object(keys) = keys {
            all.extend(keys);
        }
        Value::Object(all)
    }

    /// Warnings alone.
    pub fn warned(&self) -> String {
        let mut text = String::new();
        if !self.warnings.is_empty() {
            text.push_str("\nKnow as well\n");
            for warning in &self.warnings {
                let _ = writeln!(text, "  - {warning}");
            }
        }
        text
    }

    /// The end of an answer that fits on a screen: warnings, and how much was taken for granted.
    pub fn end(&self, full: bool) -> String {
        if full || self.assumptions.is_empty() {
            return self.tail();
        }
        let count = self.assumptions.len();
        let warned = self.warned();
        format!("{warned}\nTaken for granted: {count}. `--full` tells them\n")
    }

    /// Warnings and assumptions as the end of a text answer.
    pub fn tail(&self) -> String {
        let mut text = self.warned();
        if !self.assumptions.is_empty() {
            text.push_str("\nTaken for granted\n");
            for a in &self.assumptions {
                let unit = if a.unit.is_empty() {
                    String::new()
                } else {
                    format!(" {}", a.unit)
                };
                let _ = writeln!(text, "  - {}: {}{unit} ({})", a.what, a.value, a.mark);
            }
        }
        text
    }
}
