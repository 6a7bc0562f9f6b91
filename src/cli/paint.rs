//! Colour for a terminal, put on at the very end: text is laid out without it, and nothing hangs on it, since the
//! words and signs stay what they are.

use std::fmt::Write as _;

use anstyle::{AnsiColor, Color, Style};

/// Whether the text of an answer is for eyes that see colour.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Colour {
    /// Plain text.
    #[default]
    Plain,
    /// Verdict words are painted.
    Painted,
}

/// Words that are painted where they stand for a verdict, longest first: bad ones, doubtful ones, good ones.
const WORDS: [(&str, AnsiColor); 11] = [
    ("limit broken", AnsiColor::Red),
    ("does not flow", AnsiColor::Red),
    ("no order", AnsiColor::Red),
    ("refused", AnsiColor::Red),
    ("unknown", AnsiColor::Magenta),
    ("softens", AnsiColor::Yellow),
    ("failed", AnsiColor::Red),
    ("melts", AnsiColor::Red),
    ("clash", AnsiColor::Red),
    ("close", AnsiColor::Yellow),
    ("holds", AnsiColor::Green),
];

/// The same text with its verdict words painted.
pub(super) fn painted(text: &str) -> String {
    let lines = text.split('\n').map(line);
    lines.collect::<Vec<_>>().join("\n")
}

fn line(line: &str) -> String {
    let mut out = String::with_capacity(line.len());
    let mut at = 0;
    while let Some(rest) = line.get(at..) {
        let Some((word, colour)) = verdict_at(line, at) else {
            let Some(next) = rest.chars().next() else {
                break;
            };
            out.push(next);
            at += next.len_utf8();
            continue;
        };
        let style = Style::new().bold().fg_color(Some(Color::Ansi(colour)));
        let _ = write!(out, "{style}{word}{style:#}");
        at += word.len();
    }
    out
}

/// The verdict word that stands here, if it is one of a verdict and not of a sentence.
fn verdict_at(line: &str, at: usize) -> Option<(&'static str, AnsiColor)> {
    let (before, rest) = line.split_at_checked(at)?;
    let (word, colour) = WORDS.into_iter().find(|(word, _)| rest.starts_with(word))?;
    let after = &rest[word.len()..];
    let begins = before.is_empty();
    // A cell of a table, or all that follows a colon.
    let cell = (before.ends_with("  ") || before.ends_with(": ")) && ends_a_cell(after);
    // `holds, 9 K left`, `melts: tails was molten`.
    let heads = begins && (after.starts_with([':', ',']) || after.is_empty() || word == "no order");
    // `  - tails melts: sees 186 °C`.
    let finding = before.starts_with("  - ") && before.ends_with(' ') && after.starts_with(':');
    (cell || heads || finding).then_some((word, colour))
}

fn ends_a_cell(after: &str) -> bool {
    after.is_empty()
        || after.starts_with("  ")
        || after.trim().is_empty()
        || after.starts_with(" (")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn bare(text: &str) -> String {
        let mut out = String::new();
        let mut rest = text;
        while let Some((before, after)) = rest.split_once('\u{1b}') {
            out.push_str(before);
            rest = after.split_once('m').map_or("", |(_, rest)| rest);
        }
        out + rest
    }

    #[test]
    fn verdicts_are_painted_and_sentences_are_not() {
        for verdict in [
            "holds, 9 K left: body of store in step strip",
            "unknown: first touch old with a tip at 150 °C",
            " Bi58Sn42  holds    21.7 K  43.7 K",
            " 4   set           place store on pads   air 205     143.3–245  -5 K: tails     failed",
            "  - tails melts: sees 186 °C, solid up to 181 °C",
            "  3 clean pads of store, air, peak 241 °C: limit broken",
            "no order keeps every demand",
        ] {
            let painted = painted(verdict);
            assert!(painted.contains('\u{1b}'), "{verdict}");
            assert_eq!(bare(&painted), verdict);
        }
        for sentence in [
            "Heats of store (holds the data): 3 here",
            "starts to melt at 95 °C, 4.9 % of it at once",
            "what holds it, melts it",
            "Refused (1)",
        ] {
            assert_eq!(painted(sentence), sentence);
        }
    }
}
