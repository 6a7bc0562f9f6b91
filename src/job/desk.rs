//! What a reading collects on its way: faults, notices and the defaults that were used.

use std::collections::BTreeMap;
use std::fmt;

use serde::Serialize;

use crate::nearest::nearest;
use crate::yaml::{Fault, Place};

/// Something to tell that is not wrong.
#[derive(Clone, Debug, PartialEq)]
pub struct Notice {
    /// In one line.
    pub message: String,
    /// What it is about.
    pub place: Option<Place>,
}

/// A default that the job did not say otherwise.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Assumption {
    /// What it is, and of what: "tool of `rebuild`, `set`".
    pub what: String,
    /// The value used.
    pub value: AssumedValue,
    /// Its unit; empty where it has none.
    pub unit: &'static str,
    /// On what it rests.
    pub mark: Mark,
}

/// The value of an assumption: a number where it has a unit, else a word.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(untagged)]
pub enum AssumedValue {
    /// In the unit beside it.
    Number(f64),
    /// As it would stand in the job.
    Word(String),
}

impl From<f64> for AssumedValue {
    fn from(number: f64) -> Self {
        AssumedValue::Number(number)
    }
}

impl From<&str> for AssumedValue {
    fn from(word: &str) -> Self {
        AssumedValue::Word(word.to_owned())
    }
}

impl fmt::Display for AssumedValue {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            AssumedValue::Number(number) => fmt::Display::fmt(number, f),
            AssumedValue::Word(word) => f.pad(word),
        }
    }
}

/// On what an assumption rests.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Mark {
    /// A document, by its id in the list of sources.
    Source(&'static str),
    /// A rule of the trade.
    CommonPractice,
    /// Ours.
    OurJudgement,
}

impl fmt::Display for Mark {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Mark::Source(source) => source,
            Mark::CommonPractice => "common practice, no source",
            Mark::OurJudgement => "our judgement",
        })
    }
}

impl Serialize for Mark {
    fn serialize<S: serde::Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        to.collect_str(self)
    }
}

/// Faults, notices and assumptions, in the order found.
#[derive(Debug, Default)]
pub(super) struct Desk {
    pub(super) faults: Vec<Fault>,
    pub(super) notices: Vec<Notice>,
    assumptions: Vec<Assumption>,
    /// Of what, by position in `assumptions`.
    holders: BTreeMap<usize, Vec<String>>,
}

/// Faults that are shown at once, and that are worth advice (our judgement: more than that is one
/// mistake many times).
pub(super) const MOST_SHOWN: usize = 50;

impl Desk {
    /// Whether there are more faults than are shown.
    pub(super) fn is_full(&self) -> bool {
        self.faults.len() > MOST_SHOWN
    }

    /// The nearest valid word, as advice.
    pub(super) fn near<'w>(
        &self,
        word: &str,
        valid: impl IntoIterator<Item = &'w str>,
    ) -> Option<String> {
        if self.is_full() || word.len() > 64 {
            return None;
        }
        let near = nearest(word, valid, 1);
        near.first().map(|near| format!("did you mean `{near}`?"))
    }

    pub(super) fn fault(&mut self, place: Place, message: impl Into<String>) {
        self.faults.push(Fault::at(place, message));
    }

    pub(super) fn fault_with(
        &mut self,
        place: Place,
        message: impl Into<String>,
        help: Option<String>,
    ) {
        let mut fault = Fault::at(place, message);
        fault.help = help;
        self.faults.push(fault);
    }

    pub(super) fn notice(&mut self, place: Place, message: impl Into<String>) {
        self.notices.push(Notice {
            message: message.into(),
            place: Some(place),
        });
    }

    /// A default of the job as a whole.
    pub(super) fn assume(
        &mut self,
        what: &str,
        value: impl Into<AssumedValue>,
        unit: &'static str,
        mark: Mark,
    ) {
        self.assumptions.push(Assumption {
            what: what.to_owned(),
            value: value.into(),
            unit,
            mark,
        });
    }

    /// A default of one thing; equal ones are told together.
    pub(super) fn assume_of(
        &mut self,
        what: &str,
        holder: &str,
        value: impl Into<AssumedValue>,
        unit: &'static str,
        mark: Mark,
    ) {
        let value = value.into();
        let known = self
            .assumptions
            .iter()
            .position(|a| a.what == what && a.value == value);
        let place = known.unwrap_or_else(|| {
            self.assume(what, value, unit, mark);
            self.assumptions.len() - 1
        });
        self.holders
            .entry(place)
            .or_default()
            .push(format!("`{holder}`"));
    }

    /// All assumptions, each with what it is of.
    pub(super) fn take_assumptions(&mut self) -> Vec<Assumption> {
        let mut all = std::mem::take(&mut self.assumptions);
        for (place, holders) in std::mem::take(&mut self.holders) {
            if let Some(assumption) = all.get_mut(place) {
                assumption.what = format!("{} of {}", assumption.what, holders.join(", "));
            }
        }
        all
    }
}
