//! The drill: a question by level and seed, and what an answer to it is worth.

use std::collections::BTreeSet;

use maud::{Markup, PreEscaped, html};
use meltstair::show::chart::Scale;
use meltstair::show::drill::{Answer, Drill, Given as Answered, LEVELS, Lab, Question, level_name};
use serde::Deserialize;
use serde_json::{Value, json};

/// Which question. The same seed and place in its row give the same question.
#[derive(Clone, Copy, Debug, Deserialize)]
pub struct Asked {
    level: u8,
    seed: u64,
    at: u16,
}

/// An answer.
#[derive(Clone, Debug, Deserialize)]
pub struct Given {
    #[serde(flatten)]
    of: Asked,
    /// A number as typed.
    #[serde(default)]
    number: String,
    /// Options by their place.
    #[serde(default)]
    options: BTreeSet<usize>,
    /// The reason by its place; none given.
    #[serde(default)]
    reason: Option<usize>,
}

/// Farther along a row nobody asks.
const LONGEST_ROW: u16 = 500;

fn drawn(asked: Asked) -> Option<Question> {
    let lab = Lab::new();
    let mut drill = Drill::new(&lab, asked.seed);
    let mut question = None;
    for _ in 0..=asked.at.min(LONGEST_ROW) {
        question = drill.question(asked.level);
    }
    question
}

/// The levels to choose from.
pub fn levels() -> Markup {
    html! {
        h2 { "What do you want to practise?" }
        div .choices {
            @for level in 1..=LEVELS {
                button type="button" data-level=(level) {
                    b .rank { (level) } " " (level_name(level))
                }
            }
        }
    }
}

/// A question as HTML.
pub fn question(asked: Asked) -> Value {
    let Some(question) = drawn(asked) else {
        return json!({"wrong": "no question could be made"});
    };
    let many = matches!(question.answer, Answer::Some(_));
    let kind = if many { "checkbox" } else { "radio" };
    let told = html! {
        p .over { "Level " (asked.level) ", " (level_name(asked.level)) }
        form #question {
            p .asked { (question.text) }
            @if question.options.is_empty() {
                label .field {
                    span { "Your answer" }
                    span .with-unit {
                        input name="number" inputmode="decimal" autocomplete="off" required;
                        span .unit { (unit(&question)) }
                    }
                }
            } @else {
                fieldset {
                    legend { "Your answer" @if many { ", none or several" } }
                    @for (at, option) in question.options.iter().enumerate() {
                        label .pick { input type=(kind) name="option" value=(at) required[!many]; span { (option) } }
                    }
                }
            }
            fieldset {
                legend { (question.why_asked().lines().next().unwrap_or("Why?")) }
                @for (at, reason) in question.reasons.iter().enumerate() {
                    label .pick { input type="radio" name="reason" value=(at) required; span { (reason) } }
                }
            }
            button .main type="submit" { "Is that right?" }
        }
    };
    json!({"html": told.into_string()})
}

fn unit(question: &Question) -> &'static str {
    match question.answer {
        Answer::Number { unit, .. } | Answer::Between { unit, .. } => unit,
        _ => "",
    }
}

/// What an answer is worth, with the staircase behind the question.
pub fn judge(given: &Given) -> Value {
    let Some(question) = drawn(given.of) else {
        return json!({"wrong": "no question could be made"});
    };
    let answered = if question.options.is_empty() {
        match question.read(&given.number) {
            Ok(answered) => answered,
            Err(why) => return json!({"wrong": why}),
        }
    } else {
        Answered::Options(given.options.clone())
    };
    let judged = question.judge(&answered, given.reason.unwrap_or(usize::MAX));
    let picture = question.stairs.as_ref();
    let picture = picture.and_then(|stairs| stairs.picture(Scale::Celsius).svg().ok());
    let right = judged.answer && judged.reason;
    let told = html! {
        div .verdict-box data-verdict=(if right { "holds" } else { "melts" }) {
            p .word {
                @match (judged.answer, judged.reason) {
                    (true, true) => "Right",
                    (true, false) => "Right, for another reason",
                    (false, true) => "Not so, though the reason is right",
                    (false, false) => "Not so",
                }
            }
        }
        @for line in judged.told.lines().filter(|line| !line.trim().is_empty()) { p { (line) } }
        @if let Some(svg) = picture { figure .paper { (PreEscaped(svg)) } }
        div .choices {
            button .main type="button" data-next-question { "The next one" }
            button type="button" data-other-level { "Another level" }
        }
    };
    json!({"html": told.into_string(), "right": right})
}
