//! One line for many: what an answer says alike of the members of a family (`w01`, `w02`, …) is told once.
//!
//! Lines are alike where all but the names of members is the same word for word, every number and verdict too;
//! of a list of members only who is in it may differ, and then all that are in any of them are named. Nobody is
//! left out: between two ends stand only those that are meant.

use std::collections::{BTreeMap, BTreeSet};

use crate::job::Job;
use crate::plan::natural;

use super::table::Rows;

/// A family has so many members at least (our judgement: fewer are read faster than a summary).
const FAMILY: usize = 6;
/// From so many alike on they are told as one.
const MANY: usize = 3;

/// What may be told as one in the answers about a job.
#[derive(Clone, Debug, Default)]
pub struct Fold {
    /// The stem of each member's name (what stands before its number), and its place among its like.
    members: BTreeMap<String, (String, usize)>,
}

/// A text with the names in it taken out: `texts` has one more than `names`; a list of like members is one.
#[derive(Clone, Debug, PartialEq, Eq)]
struct Pattern {
    texts: Vec<String>,
    names: Vec<Vec<String>>,
}

impl Fold {
    /// The families of a job.
    pub fn of(job: &Job) -> Fold {
        let ids = job.steps.iter().map(|step| &step.id);
        let ids = ids.chain(job.joints.iter().map(|joint| &joint.id));
        let ids = ids.chain(job.wires.iter().map(|wire| &wire.id));
        let ids = ids.chain(job.parts.iter().map(|part| &part.id));
        Fold::of_names(ids.map(String::as_str))
    }

    fn of_names<'a>(ids: impl Iterator<Item = &'a str>) -> Fold {
        let mut by_stem: BTreeMap<&str, BTreeSet<&str>> = BTreeMap::new();
        for id in ids {
            let stem = id.trim_end_matches(|c: char| c.is_ascii_digit());
            if !stem.is_empty() && stem.len() < id.len() {
                by_stem.entry(stem).or_default().insert(id);
            }
        }
        let families = by_stem.into_iter().filter(|(_, ids)| ids.len() >= FAMILY);
        let members = families.flat_map(|(stem, ids)| {
            let mut ids: Vec<&str> = ids.into_iter().collect();
            ids.sort_by(|a, b| natural(a, b));
            let placed = ids.into_iter().enumerate();
            placed.map(move |(at, id)| (id.to_owned(), (stem.to_owned(), at)))
        });
        Fold {
            members: members.collect(),
        }
    }

    /// Whether the job has no families: everything is told one by one.
    pub fn is_nothing(&self) -> bool {
        self.members.is_empty()
    }

    /// Lines, alike ones of a section (up to an empty line) as one where the first of them stands.
    pub fn lines(&self, text: &str) -> String {
        if self.is_nothing() {
            return text.to_owned();
        }
        let sections: Vec<String> = text.split("\n\n").map(|s| self.section(s)).collect();
        sections.join("\n\n")
    }

    /// Takes out of the lines of many steps what many of them say alike, and tells it with their names behind.
    pub fn alike(&self, said: &mut [(&str, Vec<String>)]) -> Vec<String> {
        if self.is_nothing() {
            return Vec::new();
        }
        let all = said.iter().enumerate();
        let all = all.flat_map(|(step, (_, lines))| lines.iter().map(move |line| (step, line)));
        let (steps, patterns): (Vec<usize>, Vec<Pattern>) =
            all.map(|(step, line)| (step, self.pattern(line))).unzip();
        let many = groups(&patterns).into_iter();
        let many = many.filter(|group| group.len() >= MANY);
        let mut taken = BTreeSet::new();
        let mut told = Vec::new();
        for group in many {
            let alike: Vec<&Pattern> = group.iter().map(|at| &patterns[*at]).collect();
            let ids = self.names(group.iter().map(|at| said[steps[*at]].0));
            told.push(format!("{} ({ids})", self.merged(&alike)));
            taken.extend(group);
        }
        let mut at = 0;
        for (_, lines) in said {
            lines.retain(|_| {
                at += 1;
                !taken.contains(&(at - 1))
            });
            for line in lines {
                *line = self.merged(&[&self.pattern(line)]);
            }
        }
        told
    }

    fn section(&self, text: &str) -> String {
        let lines: Vec<(Option<usize>, &str)> = text.split('\n').map(numbered).collect();
        let patterns: Vec<Pattern> = lines.iter().map(|(_, line)| self.pattern(line)).collect();
        let mut told: Vec<Option<String>> = vec![None; lines.len()];
        for group in groups(&patterns) {
            let alike: Vec<&Pattern> = group.iter().map(|at| &patterns[*at]).collect();
            let is_one = group.len() >= MANY && alike.iter().all(|pattern| pattern.has_names());
            if is_one {
                let numbers: Vec<usize> = group.iter().filter_map(|at| lines[*at].0).collect();
                told[group[0]] = Some(with_numbers(&numbers, &self.merged(&alike)));
            } else {
                for at in group {
                    let numbers: Vec<usize> = lines[at].0.into_iter().collect();
                    told[at] = Some(with_numbers(&numbers, &self.merged(&[&patterns[at]])));
                }
            }
        }
        told.into_iter().flatten().collect::<Vec<_>>().join("\n")
    }

    /// Rows of a table that has no order: alike ones as one.
    pub fn rows(&self, table: Rows) -> Rows {
        if self.is_nothing() {
            return table;
        }
        let patterns = self.row_patterns(&table, 0);
        let groups = groups(&patterns).into_iter();
        let groups = groups.flat_map(|group| {
            let alone = group.len() < MANY || !patterns[group[0]].has_names();
            if alone {
                group.into_iter().map(|at| vec![at]).collect()
            } else {
                vec![group]
            }
        });
        let mut groups: Vec<Vec<usize>> = groups.collect();
        groups.sort_by_key(|group| group[0]);
        self.rows_of(&table, &groups, false)
    }

    /// Rows that are numbered and come one after the other, named in the second column: those that follow each
    /// other in the order of their names, and are alike, as one.
    pub fn numbered_rows(&self, table: Rows) -> Rows {
        if self.is_nothing() {
            return table;
        }
        let patterns = self.row_patterns(&table, 1);
        let follows = |at: usize| {
            patterns[at].key() == patterns[at - 1].key()
                && self.follow(&table.rows[at - 1][1], &table.rows[at][1])
        };
        let groups = runs(table.rows.len(), follows);
        self.rows_of(&table, &groups, true)
    }

    fn row_patterns(&self, table: &Rows, from: usize) -> Vec<Pattern> {
        let one = |row: &Vec<String>| self.pattern(&row[from..].join("\t"));
        table.rows.iter().map(one).collect()
    }

    fn rows_of(&self, table: &Rows, groups: &[Vec<usize>], numbers: bool) -> Rows {
        let cell = |group: &[usize], column: usize| {
            let of = |at: &usize| table.rows[*at][column].as_str();
            if let ([first, .., last], true) = (group, numbers && column == 0) {
                return format!("{}–{}", of(first), of(last));
            }
            let cells: Vec<Pattern> = group.iter().map(|at| self.pattern(of(at))).collect();
            self.merged(&cells.iter().collect::<Vec<_>>())
        };
        let columns = table.head.len();
        let row = |group: &Vec<usize>| (0..columns).map(|column| cell(group, column)).collect();
        Rows {
            rows: groups.iter().map(row).collect(),
            head: table.head.clone(),
        }
    }

    /// Names one after the other as they are to be done: those that follow each other by their ends.
    pub fn sequence(&self, ids: &[&str]) -> String {
        self.by_ends(ids).join(" ")
    }

    /// Names in no order: each family by the ends of what follows without a gap.
    pub fn names<'a>(&self, ids: impl IntoIterator<Item = &'a str>) -> String {
        let ids: BTreeSet<&str> = ids.into_iter().collect();
        let mut ids: Vec<&str> = ids.into_iter().collect();
        ids.sort_by(|a, b| natural(a, b));
        self.by_ends(&ids).join(", ")
    }

    fn by_ends(&self, ids: &[&str]) -> Vec<String> {
        let follows = |at: usize| self.follow(ids[at - 1], ids[at]);
        let told = runs(ids.len(), follows).into_iter();
        let told = told.map(|run| match run.as_slice() {
            [first, .., last] => format!("{} … {}", ids[*first], ids[*last]),
            _ => run.iter().map(|at| ids[*at]).collect(),
        });
        told.collect()
    }

    /// Whether one member is the next of its family after another.
    fn follow(&self, first: &str, then: &str) -> bool {
        match (self.members.get(first), self.members.get(then)) {
            (Some((stem, at)), Some((other, next))) => stem == other && *next == at + 1,
            _ => false,
        }
    }

    fn pattern(&self, text: &str) -> Pattern {
        let is_word = |c: char| c.is_alphanumeric() || matches!(c, '_' | '-' | '.' | '+' | '/');
        let mut pattern = Pattern {
            texts: vec![String::new()],
            names: Vec::new(),
        };
        let mut rest = text;
        while let Some(start) = rest.find(is_word) {
            let (before, from) = rest.split_at(start);
            let (word, after) = from.split_at(from.find(|c| !is_word(c)).unwrap_or(from.len()));
            pattern.add(before);
            if self.members.contains_key(word) {
                pattern.names.push(vec![word.to_owned()]);
                pattern.texts.push(String::new());
            } else {
                pattern.add(word);
            }
            rest = after;
        }
        pattern.add(rest);
        pattern.with_lists()
    }

    /// Alike patterns as one text.
    fn merged(&self, alike: &[&Pattern]) -> String {
        let Some(first) = alike.first() else {
            return String::new();
        };
        let mut out = first.texts[0].clone();
        for (at, text) in first.texts.iter().enumerate().skip(1) {
            let all = alike.iter().flat_map(|pattern| &pattern.names[at - 1]);
            out.push_str(&self.names(all.map(String::as_str)));
            out.push_str(text);
        }
        out
    }
}

impl Pattern {
    fn add(&mut self, text: &str) {
        if let Some(last) = self.texts.last_mut() {
            last.push_str(text);
        }
    }

    fn has_names(&self) -> bool {
        !self.names.is_empty()
    }

    /// What must be the same word for word.
    fn key(&self) -> String {
        self.texts.join("\u{1}")
    }

    /// `of p1 9 K, p2 9 K, p3 9 K; so` is a list: what follows each of its names is the same, up to the comma.
    fn with_lists(self) -> Pattern {
        let mut joined = Pattern {
            texts: Vec::with_capacity(self.texts.len()),
            names: Vec::with_capacity(self.names.len()),
        };
        let next_of = |at: usize| self.texts.get(at + 1);
        for (at, text) in self.texts.iter().enumerate() {
            let before = joined.texts.last().cloned();
            let between = text.rsplit_once(", ").zip(before).zip(next_of(at));
            let goes_on = at > 0
                && between.is_some_and(|(((after, lead), before), next)| {
                    next.starts_with(after) && before.ends_with(lead) && ends(next, after)
                });
            match (goes_on, self.names.get(at), joined.names.last_mut()) {
                (true, Some(name), Some(list)) => list.extend(name.iter().cloned()),
                (_, name, _) => {
                    joined.texts.push(text.clone());
                    joined.names.extend(name.cloned());
                }
            }
        }
        joined
    }
}

/// Whether a number or word that a text begins with ends there.
fn ends(text: &str, start: &str) -> bool {
    let next = text[start.len()..].chars().next();
    !next.is_some_and(|c| c.is_alphanumeric() || c == '.')
}

/// Places of what is alike, each group where its first one stands.
fn groups(patterns: &[Pattern]) -> Vec<Vec<usize>> {
    let mut by_key: BTreeMap<String, usize> = BTreeMap::new();
    let mut groups: Vec<Vec<usize>> = Vec::new();
    for (at, pattern) in patterns.iter().enumerate() {
        let group = *by_key.entry(pattern.key()).or_insert(groups.len());
        match groups.get_mut(group) {
            Some(group) => group.push(at),
            None => groups.push(vec![at]),
        }
    }
    groups
}

/// Places up to `count` in runs of [`MANY`] at least in which each follows the one before it; the others alone.
fn runs(count: usize, follows: impl Fn(usize) -> bool) -> Vec<Vec<usize>> {
    let mut all: Vec<Vec<usize>> = Vec::new();
    for at in 0..count {
        match all.last_mut() {
            Some(run) if follows(at) => run.push(at),
            _ => all.push(vec![at]),
        }
    }
    let told = all.into_iter().flat_map(|run| {
        if run.len() < MANY {
            run.into_iter().map(|at| vec![at]).collect()
        } else {
            vec![run]
        }
    });
    told.collect()
}

/// The number that a line of a list begins with, and what comes after its point.
fn numbered(line: &str) -> (Option<usize>, &str) {
    let start = line.trim_start();
    let number = start.split_once(". ").filter(|_| start.len() < line.len());
    match number.and_then(|(number, text)| Some((number.parse().ok()?, text))) {
        Some((number, text)) => (Some(number), text),
        None => (None, line),
    }
}

/// A line of a list with its numbers in front.
fn with_numbers(numbers: &[usize], text: &str) -> String {
    if numbers.is_empty() {
        return text.to_owned();
    }
    let told = runs(numbers.len(), |at| numbers[at] == numbers[at - 1] + 1);
    let told = told.into_iter().map(|run| match run.as_slice() {
        [first, .., last] => format!("{}–{}", numbers[*first], numbers[*last]),
        _ => run.iter().map(|at| numbers[*at].to_string()).collect(),
    });
    format!("  {}. {text}", told.collect::<Vec<_>>().join(", "))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn fold(stems: &[&str]) -> Fold {
        let of = |stem: &&str| {
            (1..=40)
                .map(move |n| format!("{stem}{n}"))
                .collect::<Vec<_>>()
        };
        let ids: Vec<String> = stems.iter().flat_map(of).collect();
        Fold::of_names(ids.iter().map(String::as_str))
    }

    #[test]
    fn what_differs_in_a_number_or_a_verdict_is_never_folded() {
        let fold = fold(&["w", "p"]);
        let row = |n: usize, left: usize, verdict: &str| {
            format!("{verdict}: w{n} on p{n} keeps {left} K")
        };
        let alike: Vec<String> = (1..=12).map(|n| row(n, 9, "holds")).collect();
        assert_eq!(
            fold.lines(&alike.join("\n")),
            "holds: w1 … w12 on p1 … p12 keeps 9 K"
        );
        for (left, verdict) in [(8, "holds"), (9, "close")] {
            let mut rows = alike.clone();
            rows[3] = row(4, left, verdict);
            let folded = fold.lines(&rows.join("\n"));
            assert_eq!(
                folded,
                format!(
                    "holds: w1 … w3, w5 … w12 on p1 … p3, p5 … p12 keeps 9 K\n{}",
                    rows[3]
                )
            );
        }
        // Without a family nothing is alike.
        let text = alike.join("\n");
        assert_eq!(Fold::default().lines(&text), text);
    }

    #[test]
    fn an_order_is_told_as_it_is_to_be_done() {
        let fold = fold(&["w"]);
        let told = |ids: &[&str]| fold.sequence(ids);
        assert_eq!(told(&["m", "w1", "w2", "w3", "w4", "end"]), "m w1 … w4 end");
        assert_eq!(told(&["w1", "w3", "w2", "w4"]), "w1 w3 w2 w4");
        assert_eq!(told(&["w4", "w3", "w2", "w1"]), "w4 w3 w2 w1");
    }

    #[test]
    fn rows_that_come_one_after_the_other_are_not_told_in_another_order() {
        let fold = fold(&["w"]);
        let table = |ids: &[usize]| {
            let row = |(at, n): (usize, &usize)| {
                vec![(at + 1).to_string(), format!("w{n}"), "holds".to_owned()]
            };
            Rows {
                head: vec!["no", "step", "verdict"],
                rows: ids.iter().enumerate().map(row).collect(),
            }
        };
        let folded = fold.numbered_rows(table(&[1, 2, 3, 9, 7, 8]));
        let first: Vec<&str> = folded.rows.iter().map(|row| row[1].as_str()).collect();
        assert_eq!(first, ["w1 … w3", "w9", "w7", "w8"]);
        assert_eq!(folded.rows[0][0], "1–3");
    }

    #[test]
    fn lists_name_everybody_that_is_meant() {
        let fold = fold(&["p", "t"]);
        let text = "  - gaps: p1 -9 K, p2 -9 K, p3 -9 K, t1 -9 K, p4 -8 K; look";
        assert_eq!(
            fold.lines(text),
            "  - gaps: p1 … p3, t1 -9 K, p4 -8 K; look"
        );
        assert_eq!(fold.lines("of `p3`, `p1`, `p2`: 5"), "of `p1 … p3`: 5");
        // One number is no beginning of another one.
        assert_eq!(fold.lines("p1 -1 K, p2 -1 K5"), "p1 -1 K, p2 -1 K5");
    }

    #[test]
    fn numbers_of_a_list_are_kept() {
        let fold = fold(&["w"]);
        let text =
            "  1. look\n  2. w1 to ground\n  3. w2 to ground\n  4. w3 to ground\n  5. w4 apart";
        assert_eq!(
            fold.lines(text),
            "  1. look\n  2–4. w1 … w3 to ground\n  5. w4 apart"
        );
    }
}
