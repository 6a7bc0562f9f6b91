//! What is looked up while a job is written: the keys of a thing, and the words that the program uses.

use serde_json::{Value, json};

use crate::job::KeyLine;

use super::table::Rows;

/// Words of the program, and trade words that it uses in one sense only.
const WORDS: &[(&str, &str)] = &[
    (
        "as frozen",
        "melted and frozen on a bench: it starts to melt lower than the same metal as bought",
    ),
    ("ball", "solder sphere below a part"),
    (
        "best",
        "the order with the widest margin; then fewest heats on the data, lowest peak, fewest changes",
    ),
    (
        "check before power",
        "`gate`: looking, cleaning and measuring; any later heat shuts it again",
    ),
    ("clash", "demands of the job that cannot all be kept"),
    (
        "close",
        "keeps something, but less than the wanted margin, or it is not proven",
    ),
    (
        "coupling, k",
        "share of the rise over the preheat, at the target, that arrives at a place",
    ),
    (
        "does not flow",
        "the target does not get hot enough to be liquid",
    ),
    ("film", "what a wick leaves on a pad"),
    ("first melt", "where the first 1 % of a joint is liquid"),
    (
        "flood",
        "fresh solder put on a pad to take old solder up, then wicked off",
    ),
    (
        "flows",
        "98 % liquid: a joint that is made or taken off must get there",
    ),
    (
        "gap",
        "from what flows now up to where the earlier joint starts to melt",
    ),
    (
        "guard",
        "mask, glue, enamel, plastic: a thing with a limit that is no part",
    ),
    (
        "holds",
        "every rule was looked at, and each is kept with the wanted margin",
    ),
    (
        "joint",
        "one pad with its solder, or a group of like ones (`count`)",
    ),
    (
        "least left",
        "what comes nearest to its limit in a step, and by how much",
    ),
    (
        "limit broken",
        "something gets hotter, heavier or richer in lead than it may",
    ),
    (
        "margin",
        "kelvins that are left below first melt, or below a limit",
    ),
    (
        "may melt",
        "`must: may_melt`: nobody needs it solid in between",
    ),
    (
        "melts",
        "more liquid than a joint may hold and stay where it is",
    ),
    ("not assessed", "nobody stated enough to judge it"),
    (
        "part",
        "a chip, a connector, a shield: what stands on joints and bears so much heat",
    ),
    ("peak", "how hot the target gets"),
    (
        "preheat",
        "how hot the whole board, or an area of it, is before the tool comes",
    ),
    ("residue", "old solder on a pad"),
    ("round", "flooding and wicking once"),
    ("service", "how hot the finished board gets in use"),
    (
        "softens",
        "some liquid, within what a joint may hold and stay where it is",
    ),
    (
        "solid up to",
        "first melt less what the data may be wrong by: from this the margin is counted",
    ),
    (
        "solidus, liquidus",
        "where an alloy starts to melt, and where its last crystal is gone",
    ),
    (
        "stay put",
        "`must: stay_put`: a little liquid is allowed, it must not move",
    ),
    ("strained", "a wire or spring pulls at the joint"),
    ("target", "what a step heats on purpose"),
    (
        "tread, staircase",
        "the peak of a step in the picture; steps of a job from left to right",
    ),
    (
        "unknown",
        "something that decides is not known: never taken as safe",
    ),
    ("vital", "a part that holds the data"),
    (
        "window",
        "from where to where the tool may bring the target",
    ),
    (
        "zone",
        "a name for a place, to state `k` for all that is there",
    ),
];

/// All words as a table.
pub fn words(width: usize) -> String {
    let rows = WORDS.iter();
    let rows = rows.map(|(word, means)| vec![(*word).to_owned(), (*means).to_owned()]);
    let rows = Rows {
        head: vec!["word", "what it means here"],
        rows: rows.collect(),
    };
    rows.text(width)
}

/// Each word with what it means.
pub const fn glossary() -> &'static [(&'static str, &'static str)] {
    WORDS
}

/// The same as JSON.
pub fn words_json() -> Value {
    let all = WORDS.iter();
    all.map(|(word, means)| json!({"word": word, "means": means}))
        .collect()
}

/// The keys of a thing as a table; those that must stand are marked.
pub fn keys(lines: &[KeyLine], width: usize) -> String {
    let rows = lines.iter().map(|key| {
        let must = if key.must { "must" } else { "" };
        vec![
            key.name.to_owned(),
            must.to_owned(),
            key.value.clone(),
            key.about.to_owned(),
        ]
    });
    let rows = Rows {
        head: vec!["key", "", "value", "what it says"],
        rows: rows.collect(),
    };
    rows.text(width)
}

/// The same as JSON.
pub fn keys_json(lines: &[KeyLine]) -> Value {
    let all = lines.iter();
    all.map(
        |key| json!({"key": key.name, "must": key.must, "value": key.value, "about": key.about}),
    )
    .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_glossary_is_short_and_in_order() {
        assert!(WORDS.len() <= 40, "{}", WORDS.len());
        assert!(WORDS.is_sorted_by_key(|(word, _)| *word));
    }
}
