//! What all forms share: drawing, and putting a question together.

use std::collections::BTreeMap;

use fastrand::Rng;

use super::lab::Known;
use super::question::{Answer, Given, Question, Slip};

/// Boards of the questions, all invented.
const BOARDS: [&str; 10] = [
    "tide gauge",
    "beehive scale",
    "carillon clock",
    "organ console",
    "seismometer",
    "star projector",
    "tram ticket validator",
    "greenhouse logger",
    "glacier mast",
    "bat recorder",
];

pub(super) fn board(dice: &mut Rng) -> &'static str {
    BOARDS[dice.usize(..BOARDS.len())]
}

/// A whole number of a span, in steps.
pub(super) fn whole(dice: &mut Rng, low: i32, high: i32, step: i32) -> i32 {
    low + step * dice.i32(0..=(high - low) / step)
}

/// A coupling from 0.05 to 1 in steps of 0.05.
pub(super) fn coupling(dice: &mut Rng, low: i32, high: i32) -> f64 {
    f64::from(dice.i32(low..=high)) / 20.0
}

/// So many different ones.
pub(super) fn some_of<T: Copy>(dice: &mut Rng, from: &[T], count: usize) -> Vec<T> {
    dice.choose_multiple(from.iter().copied(), count)
}

/// Lines of a job, one behind the other.
pub(super) fn lines(all: impl Iterator<Item = String>) -> String {
    all.collect::<Vec<_>>().concat()
}

/// A question in the making.
pub(super) struct Draft {
    level: u8,
    form: u8,
    text: String,
    options: Vec<String>,
    given: BTreeMap<String, f64>,
    slips: Vec<Slip>,
}

impl Draft {
    pub fn new(level: u8, form: u8) -> Self {
        Draft {
            level,
            form,
            text: String::new(),
            options: Vec::new(),
            given: BTreeMap::new(),
            slips: Vec::new(),
        }
    }

    /// A line of the text.
    pub fn line(mut self, line: impl AsRef<str>) -> Self {
        if !self.text.is_empty() {
            self.text.push('\n');
        }
        self.text.push_str(line.as_ref());
        self
    }

    pub fn options(mut self, options: impl IntoIterator<Item = impl Into<String>>) -> Self {
        self.options = options.into_iter().map(Into::into).collect();
        self
    }

    /// A number that the text states.
    pub fn given(mut self, name: impl Into<String>, value: impl Into<f64>) -> Self {
        self.given.insert(name.into(), value.into());
        self
    }

    /// Both readings of an alloy.
    pub fn alloy(self, suffix: &str, alloy: Known) -> Self {
        self.given(format!("solidus{suffix}"), alloy.1)
            .given(format!("liquidus{suffix}"), alloy.2)
    }

    /// A wrong number and what is behind it.
    pub fn slip(mut self, value: f64, why: impl Into<String>) -> Self {
        self.slips.push(Slip {
            given: Given::Number(value),
            why: why.into(),
        });
        self
    }

    /// A wrong choice and what is behind it.
    pub fn slip_option(mut self, at: usize, why: impl Into<String>) -> Self {
        self.slips.push(Slip {
            given: Given::Options([at].into()),
            why: why.into(),
        });
        self
    }

    /// The question; `reasons` has the right one first, and is shuffled.
    pub fn done(
        mut self,
        dice: &mut Rng,
        answer: Answer,
        reasons: &[&str],
        rule: impl Into<String>,
    ) -> Question {
        let mut shuffled: Vec<(usize, &str)> = reasons.iter().copied().enumerate().collect();
        dice.shuffle(&mut shuffled);
        let reason = shuffled.iter().position(|(at, _)| *at == 0).unwrap_or(0);
        let mut question = Question {
            level: self.level,
            kind: "",
            form: self.form,
            text: self.text,
            options: self.options,
            reasons: shuffled.into_iter().map(|(_, r)| r.to_owned()).collect(),
            reason,
            slips: Vec::new(),
            rule: rule.into(),
            stairs: None,
            shown: None,
            given: self.given,
            answer,
        };
        // A mistake that happens to lead to the right answer is none.
        self.slips.retain(|slip| !question.is_right(&slip.given));
        question.slips = self.slips;
        question
    }
}

/// A number of degrees, to half a kelvin.
pub(super) const fn degrees(value: f64) -> Answer {
    Answer::Number {
        value,
        tolerance: 0.5,
        unit: "°C",
    }
}

/// A number of kelvins, to half of one.
pub(super) const fn kelvins(value: f64) -> Answer {
    Answer::Number {
        value,
        tolerance: 0.5,
        unit: "K",
    }
}
