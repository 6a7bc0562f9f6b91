//! One line for many: what an answer says alike of the members of a family (`w01`, `w02`, …) is told once.
//!
//! Lines are alike where all but the names of members is the same word for word, every number and verdict too;
//! of a list of members only how long it is may differ.

use std::collections::BTreeMap;

use crate::job::Job;

/// From so many on they are told as one (our judgement: fewer are read faster than a summary).
const MANY: usize = 6;

/// Folds what is alike.
pub fn folded(job: &Job, text: &str) -> String {
    let families = families(job);
    if families.is_empty() {
        return text.to_owned();
    }
    let blocks: Vec<&str> = text.split("\n\n").collect();
    let shapes = blocks.iter().map(|block| shape_of_block(block, &families));
    let shapes: Vec<String> = shapes.collect();
    let mut out: Vec<String> = Vec::new();
    for run in runs(&shapes) {
        let alike = &blocks[run.clone()];
        match alike {
            [first, .., last] if alike.len() >= MANY => {
                let name = |block: &str| block.lines().next().unwrap_or_default().to_owned();
                out.push(format!(
                    "{}\n  - {} alike: {} … {}",
                    block_folded(last, &families),
                    alike.len(),
                    name(first),
                    name(last)
                ));
            }
            _ => out.extend(alike.iter().map(|block| block_folded(block, &families))),
        }
    }
    out.join("\n\n")
}

/// The stem of each name that many share: letters before a number.
type Families = BTreeMap<String, String>;

fn families(job: &Job) -> Families {
    let ids = job.steps.iter().map(|step| &step.id);
    let ids = ids.chain(job.joints.iter().map(|joint| &joint.id));
    let ids = ids.chain(job.wires.iter().map(|wire| &wire.id));
    let ids = ids.chain(job.parts.iter().map(|part| &part.id));
    let mut by_stem: BTreeMap<&str, Vec<&String>> = BTreeMap::new();
    for id in ids {
        let stem = id.trim_end_matches(|c: char| c.is_ascii_digit());
        if !stem.is_empty() && stem.len() < id.len() {
            by_stem.entry(stem).or_default().push(id);
        }
    }
    by_stem
        .into_iter()
        .filter(|(_, ids)| ids.len() >= MANY)
        .flat_map(|(stem, ids)| {
            ids.into_iter()
                .map(move |id| (id.clone(), format!("{stem}#")))
        })
        .collect()
}

/// Consecutive equal items, as ranges.
fn runs<T: PartialEq>(items: &[T]) -> Vec<std::ops::Range<usize>> {
    let mut all: Vec<std::ops::Range<usize>> = Vec::new();
    for (at, item) in items.iter().enumerate() {
        match all.last_mut() {
            Some(run) if items[run.start] == *item => run.end = at + 1,
            _ => all.push(at..at + 1),
        }
    }
    all
}

fn shape_of_block(block: &str, families: &Families) -> String {
    let lines = block.lines().map(|line| shape(line, families));
    lines.collect::<Vec<_>>().join("\n")
}

/// A line with names of families for names of members; its number in a list and widths of columns left out, and of a list
/// of members one.
fn shape(line: &str, families: &Families) -> String {
    let segments: Vec<String> = line
        .split(", ")
        .map(|segment| named(segment, families))
        .collect();
    let mut kept: Vec<&String> = Vec::with_capacity(segments.len());
    for segment in &segments {
        let again = segment.contains('#')
            && kept
                .last()
                .is_some_and(|last| last.ends_with(segment.as_str()));
        if !again {
            kept.push(segment);
        }
    }
    let words: Vec<&str> = kept
        .iter()
        .flat_map(|segment| segment.split_whitespace())
        .collect();
    let numbered = |word: &&str| {
        let digits = word.strip_suffix('.').unwrap_or(word);
        !digits.is_empty() && digits.bytes().all(|b| b.is_ascii_digit())
    };
    let in_list = line.starts_with(' ') && words.first().is_some_and(numbered);
    words[usize::from(in_list)..].join(" ")
}

fn named(text: &str, families: &Families) -> String {
    let is_word = |c: char| c.is_alphanumeric() || matches!(c, '_' | '-' | '.' | '+' | '/');
    let mut out = String::with_capacity(text.len());
    let mut rest = text;
    while let Some(start) = rest.find(is_word) {
        let (before, from) = rest.split_at(start);
        let end = from.find(|c| !is_word(c)).unwrap_or(from.len());
        let (word, after) = from.split_at(end);
        out.push_str(before);
        out.push_str(families.get(word).map_or(word, String::as_str));
        rest = after;
    }
    out.push_str(rest);
    out
}

/// Alike lines of a block as the first, the last and how many between; long lists of members likewise.
fn block_folded(block: &str, families: &Families) -> String {
    let lines: Vec<&str> = block.lines().collect();
    let shapes: Vec<String> = lines.iter().map(|line| shape(line, families)).collect();
    let mut out: Vec<String> = Vec::new();
    for run in runs(&shapes) {
        let alike = &lines[run.clone()];
        match alike {
            [first, .., last] if alike.len() >= MANY && shapes[run.start].contains('#') => {
                out.push(list_folded(first, families));
                out.push(format!(" …   {} more alike", alike.len() - 2));
                out.push(list_folded(last, families));
            }
            _ => out.extend(alike.iter().map(|line| list_folded(line, families))),
        }
    }
    out.join("\n")
}

/// A list of members in a line as the first, the last and how many.
fn list_folded(line: &str, families: &Families) -> String {
    let by = if line.starts_with("Order: ") {
        " "
    } else {
        ", "
    };
    let segments: Vec<&str> = line.split(by).collect();
    let shapes: Vec<String> = segments
        .iter()
        .map(|segment| named(segment, families))
        .collect();
    let mut out: Vec<String> = Vec::new();
    for run in runs(&shapes) {
        let alike = &segments[run.clone()];
        match alike {
            [first, .., last] if alike.len() >= MANY && shapes[run.start].contains('#') => {
                out.push(format!("{first} … {last}"));
            }
            _ => out.extend(alike.iter().map(|segment| (*segment).to_owned())),
        }
    }
    out.join(by)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn families(stems: &[&str]) -> Families {
        let of = |stem: &&str| {
            let stem = (*stem).to_owned();
            (1..=40).map(move |n| (format!("{stem}{n:02}"), format!("{stem}#")))
        };
        stems.iter().flat_map(of).collect()
    }

    #[test]
    fn what_differs_in_a_number_or_a_verdict_is_never_folded() {
        let families = families(&["w", "p"]);
        let row = |n: usize, left: usize, verdict: &str| {
            format!(" {n}  w{n:02}  wire p{n:02}  iron  {left} K  {verdict}")
        };
        let alike: Vec<String> = (1..=8).map(|n| row(n, 9, "holds")).collect();
        let folded = block_folded(&alike.join("\n"), &families);
        assert_eq!(
            folded,
            format!(
                "{}\n …   6 more alike\n{}",
                row(1, 9, "holds"),
                row(8, 9, "holds")
            )
        );
        for (left, verdict) in [(8, "holds"), (9, "close")] {
            let mut rows = alike.clone();
            rows[3] = row(4, left, verdict);
            let folded = block_folded(&rows.join("\n"), &families);
            assert!(folded.contains(&rows[3]), "{folded}");
        }
        // Without a family nothing is alike.
        let text = alike.join("\n");
        assert_eq!(block_folded(&text, &Families::new()), text);
    }

    #[test]
    fn lists_of_members_are_told_by_their_ends() {
        let families = families(&["w"]);
        let ids: Vec<String> = (1..=9).map(|n| format!("w{n:02}")).collect();
        let order = format!("Order: meter {} power", ids.join(" "));
        assert_eq!(
            list_folded(&order, &families),
            "Order: meter w01 … w09 power"
        );
        let short = "gaps: w01 3 K, w02 3 K, w03 4 K";
        assert_eq!(list_folded(short, &families), short);
    }
}
