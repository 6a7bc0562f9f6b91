//! A question and how an answer to it is judged.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;

use super::beliefs;
use crate::show::chart::Staircase;

/// What is asked for.
#[derive(Clone, Debug, PartialEq)]
pub enum Answer {
    /// A number.
    Number {
        /// The right one.
        value: f64,
        /// What still counts as right.
        tolerance: f64,
        /// `°C`, `K`, `%`, `heats`; empty for a bare number.
        unit: &'static str,
    },
    /// Any number of a span.
    Between {
        /// Lowest that is right.
        low: f64,
        /// Highest that is right.
        high: f64,
        /// As above.
        unit: &'static str,
    },
    /// One of the options.
    One(usize),
    /// Those of the options, none or all of them.
    Some(BTreeSet<usize>),
}

/// What somebody answered.
#[derive(Clone, Debug, PartialEq)]
pub enum Given {
    /// A number.
    Number(f64),
    /// Options by their position; empty for "none".
    Options(BTreeSet<usize>),
}

/// A wrong answer that people give, and what they have in mind.
#[derive(Clone, Debug, PartialEq)]
pub struct Slip {
    /// The answer.
    pub given: Given,
    /// What is wrong with it.
    pub why: String,
}

/// One question of the drill.
#[derive(Clone, Debug, PartialEq)]
pub struct Question {
    /// Step of the ladder, from 1 up; 0 for a question about a job of one's own.
    pub level: u8,
    /// The name of its form: no two forms have the same.
    pub kind: &'static str,
    /// Which form of question, by its number among the twenty that a bench needs; 0 for the reading
    /// of a staircase.
    pub form: u8,
    /// The board and what is asked.
    pub text: String,
    /// What to choose from, where the answer is a choice.
    pub options: Vec<String>,
    /// The right answer.
    pub answer: Answer,
    /// Reasons to choose from.
    pub reasons: Vec<String>,
    /// The right one.
    pub reason: usize,
    /// Known wrong answers.
    pub slips: Vec<Slip>,
    /// How the answer is found, with the numbers.
    pub rule: String,
    /// The job behind it, answer and all; none where there is no board.
    pub stairs: Option<Staircase>,
    /// It is about a staircase: this one, which is shown before it is answered.
    pub shown: Option<Staircase>,
    /// The numbers that the text states, by name: enough to work the answer out again.
    pub given: BTreeMap<String, f64>,
}

/// How an answer was judged.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Judged {
    /// The answer is right.
    pub answer: bool,
    /// The reason is right.
    pub reason: bool,
    /// What to learn from it.
    pub told: String,
}

/// Letters of options and reasons.
fn letter(at: usize) -> char {
    char::from(b'a' + u8::try_from(at.min(25)).unwrap_or(25))
}

fn lettered(options: &[String]) -> String {
    let mut text = String::new();
    for (at, option) in options.iter().enumerate() {
        let _ = writeln!(text, "  {}) {option}", letter(at));
    }
    text
}

impl Question {
    /// The board, what is asked, and the options.
    pub fn asked(&self) -> String {
        format!("{}\n{}", self.text, lettered(&self.options))
    }

    /// What to type.
    pub fn prompt(&self) -> &'static str {
        match self.answer {
            Answer::Number { unit: "", .. } => "number",
            Answer::Number { unit, .. } | Answer::Between { unit, .. } => unit,
            Answer::One(_) => "letter",
            Answer::Some(_) => "letters, or none",
        }
    }

    /// The reasons to choose from.
    pub fn why_asked(&self) -> String {
        format!("Why?\n{}", lettered(&self.reasons))
    }

    /// The right answer in words.
    pub fn right(&self) -> String {
        match &self.answer {
            Answer::Number { value, unit, .. } => match *unit {
                "" => told(*value),
                "step" => format!("step {}", told(*value)),
                unit => format!("{} {unit}", told(*value)),
            },
            Answer::Between { low, high, unit } => {
                format!("anything from {} to {} {unit}", told(*low), told(*high))
            }
            Answer::One(at) => self.option(*at),
            Answer::Some(all) if all.is_empty() => "none".to_owned(),
            Answer::Some(all) => {
                let all: Vec<String> = all.iter().map(|at| self.option(*at)).collect();
                all.join(", ")
            }
        }
    }

    fn option(&self, at: usize) -> String {
        let words = self.options.get(at).map_or("?", String::as_str);
        format!("{}) {words}", letter(at))
    }

    /// The right reason in words.
    pub fn right_reason(&self) -> String {
        let words = self.reasons.get(self.reason).map_or("?", String::as_str);
        format!("{}) {words}", letter(self.reason))
    }

    /// What was typed, understood; the fault says what is wanted.
    ///
    /// # Errors
    /// What cannot be an answer to this question.
    pub fn read(&self, typed: &str) -> Result<Given, String> {
        match self.answer {
            Answer::Number { unit, .. } | Answer::Between { unit, .. } => {
                number(typed, unit).map(Given::Number)
            }
            Answer::One(_) | Answer::Some(_) => letters(typed, self.options.len())
                .and_then(|all| match (&self.answer, all.len()) {
                    (Answer::One(_), n) if n != 1 => Err("want one letter".to_owned()),
                    _ => Ok(all),
                })
                .map(Given::Options),
        }
    }

    /// Whether an answer is right.
    pub fn is_right(&self, given: &Given) -> bool {
        match (&self.answer, given) {
            (
                Answer::Number {
                    value, tolerance, ..
                },
                Given::Number(given),
            ) => (given - value).abs() <= tolerance + 1e-9,
            (Answer::Between { low, high, .. }, Given::Number(given)) => {
                (*low..=*high).contains(given)
            }
            (Answer::One(at), Given::Options(given)) => given.len() == 1 && given.contains(at),
            (Answer::Some(all), Given::Options(given)) => all == given,
            _ => false,
        }
    }

    /// Answer and reason judged, with the mistake behind a wrong one.
    pub fn judge(&self, given: &Given, reason: usize) -> Judged {
        let answer = self.is_right(given);
        let against = self.against(reason);
        let reason = reason == self.reason;
        let mut told = String::new();
        let _ = writeln!(
            told,
            "{}; the reason is {}.",
            if answer { "Right" } else { "Not right" },
            if reason { "right" } else { "not" }
        );
        if !answer {
            let _ = writeln!(told, "It is: {}", self.right());
            if let Some(slip) = self.slip(given) {
                let _ = writeln!(told, "What you may have had in mind: {}", slip.why);
            } else if let (Answer::Some(right), Given::Options(given)) = (&self.answer, given) {
                told += &self.taken(given.difference(right), "does not belong there");
                told += &self.taken(right.difference(given), "is missing");
            }
        }
        if !reason {
            let _ = writeln!(told, "The reason: {}", self.right_reason());
            if let Some(against) = against {
                let _ = writeln!(told, "What speaks against yours: {against}");
            }
        }
        let _ = writeln!(told, "How: {}", self.rule);
        Judged {
            answer,
            reason,
            told,
        }
    }

    /// What speaks against one of the wrong reasons.
    pub fn against(&self, reason: usize) -> Option<&'static str> {
        beliefs::against(self.reasons.get(reason)?)
    }

    /// A line for each option that was wrongly taken, or wrongly left.
    fn taken<'a>(&self, options: impl Iterator<Item = &'a usize>, what: &str) -> String {
        options.fold(String::new(), |mut text, at| {
            let _ = writeln!(text, "  {what}: {}", self.option(*at));
            text
        })
    }

    /// The known mistake that leads to this answer.
    pub fn slip(&self, given: &Given) -> Option<&Slip> {
        let near = |slip: &&Slip| match (&slip.given, given) {
            (Given::Number(a), Given::Number(b)) => {
                (a - b).abs() <= self.tolerance().max(0.005 * a.abs())
            }
            (a, b) => a == b,
        };
        self.slips.iter().find(near)
    }

    fn tolerance(&self) -> f64 {
        match self.answer {
            Answer::Number { tolerance, .. } => tolerance,
            _ => 0.0,
        }
    }
}

/// A letter of the reasons.
///
/// # Errors
/// Anything but one letter.
pub fn read_reason(typed: &str, of: usize) -> Result<usize, String> {
    let all = letters(typed, of)?;
    match all.first() {
        Some(only) if all.len() == 1 => Ok(*only),
        _ => Err("want one letter".to_owned()),
    }
}

/// Four figures that matter, no zeros behind them.
pub(super) fn told(value: f64) -> String {
    if value.abs() < 1e-12 {
        return "0".to_owned();
    }
    let size = value.abs().log10().floor();
    let scale = 10_f64.powf((3.0 - size).max(0.0));
    format!("{}", (value * scale).round() / scale)
}

fn number(typed: &str, unit: &str) -> Result<f64, String> {
    let bare = typed.trim().replace(',', ".").replace('−', "-");
    let bare = bare.strip_suffix(unit).unwrap_or(&bare);
    let bare = bare.trim_end_matches(['°', 'C', 'c', 'K', 'k', '%', ' ']);
    match bare.trim().parse::<f64>() {
        Ok(number) if number.is_finite() => Ok(number),
        _ if unit.is_empty() => Err("want a number".to_owned()),
        _ => Err(format!("want a number in {unit}")),
    }
}

fn letters(typed: &str, of: usize) -> Result<BTreeSet<usize>, String> {
    let typed = typed.trim().to_lowercase();
    if typed == "none" || typed == "-" {
        return Ok(BTreeSet::new());
    }
    let last = letter(of.saturating_sub(1));
    let mut all = BTreeSet::new();
    for c in typed.chars().filter(|c| !c.is_whitespace() && *c != ',') {
        let at = (0..of).find(|at| letter(*at) == c);
        all.insert(at.ok_or_else(|| format!("want letters from a to {last}"))?);
    }
    if all.is_empty() {
        return Err(format!("want letters from a to {last}, or none"));
    }
    Ok(all)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn answers_are_read_as_people_type_them() {
        assert_eq!(number(" 139,0 °C", "°C"), Ok(139.0));
        assert_eq!(number("−12 K", "K"), Ok(-12.0));
        assert_eq!(number("1.7%", "%"), Ok(1.7));
        assert!(number("warm", "°C").is_err());
        assert!(number("inf", "°C").is_err());
        assert_eq!(letters("A, c", 3), Ok(BTreeSet::from([0, 2])));
        assert_eq!(letters("none", 3), Ok(BTreeSet::new()));
        assert!(letters("d", 3).is_err());
        assert!(letters("", 3).is_err());
        assert!(read_reason("ab", 3).is_err());
    }

    #[test]
    fn four_figures_are_told() {
        assert_eq!(told(1.067_432), "1.067");
        assert_eq!(told(139.0), "139");
        assert_eq!(told(0.000_307_6), "0.0003076");
        assert_eq!(told(-5.32), "-5.32");
    }
}
