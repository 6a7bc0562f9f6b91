//! A staircase for a picture in pixels: names in a script that our font lacks become numbers, and that is said.

use super::super::lettering::can_draw;
use super::{Ceiling, LifeLine, Staircase, Tread};

/// What is said where names were left out.
const SAID: &str =
    "names in scripts that the font of this picture lacks stand as numbers; the .svg has them";

impl Staircase {
    /// The same where every letter can be drawn; else joints, steps and limits by their numbers.
    pub fn drawable(&self) -> Staircase {
        let mut named: Vec<(String, String)> = Vec::new();
        let mut number = |name: &str, what: &str, at: usize| {
            if can_draw(name) {
                return name.to_owned();
            }
            let new = format!("{what} {}", at + 1);
            named.push((name.to_owned(), new.clone()));
            new
        };
        let lines: Vec<LifeLine> = self
            .lines
            .iter()
            .enumerate()
            .map(|(at, line)| LifeLine {
                joint: number(&line.joint, "joint", at),
                ..line.clone()
            })
            .collect();
        let ceilings: Vec<Ceiling> = self
            .ceilings
            .iter()
            .enumerate()
            .map(|(at, ceiling)| Ceiling {
                name: number(&ceiling.name, "limit", at),
                ..ceiling.clone()
            })
            .collect();
        let ids: Vec<String> = self
            .steps
            .iter()
            .enumerate()
            .map(|(at, step)| number(&step.id, "step", at))
            .collect();
        // A longer name first, so that no shorter one tears it.
        named.sort_by_key(|(name, _)| std::cmp::Reverse(name.len()));
        let told = |text: &str| spelled(text, &named);
        let steps: Vec<Tread> = self
            .steps
            .iter()
            .zip(ids)
            .map(|(step, id)| Tread {
                id,
                label: told(&step.label),
                ..step.clone()
            })
            .collect();
        let mut whole = Staircase {
            title: told(&self.title),
            line: told(&self.line).replace("step step ", "step "),
            steps,
            lines,
            ceilings,
            notes: self.notes.iter().map(|note| told(note)).collect(),
            ..self.clone()
        };
        if whole != *self {
            whole.notes.push(SAID.to_owned());
        }
        whole
    }
}

/// Words with names put as numbers; what still cannot be drawn is an ellipsis.
fn spelled(text: &str, named: &[(String, String)]) -> String {
    if can_draw(text) {
        return text.to_owned();
    }
    let mut text = text.to_owned();
    for (name, number) in named {
        text = text.replace(name, number);
    }
    let words = text.split(' ');
    let words: Vec<&str> = words
        .map(|word| if can_draw(word) { word } else { "…" })
        .collect();
    let mut words = words;
    words.dedup_by(|a, b| *a == "…" && *b == "…");
    words.join(" ")
}
