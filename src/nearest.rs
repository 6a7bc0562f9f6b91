//! The nearest valid words to a mistyped one, for messages that help.

/// Up to `count` of the candidates, nearest first, as far as they are near at all: at most one
/// slip (insertion, deletion, replacement, swap) for every two letters of the longer word.
///
/// Case does not count; ties keep the order of the candidates.
pub fn nearest<'a>(
    word: &str,
    candidates: impl IntoIterator<Item = &'a str>,
    count: usize,
) -> Vec<&'a str> {
    let word = word.to_lowercase();
    let mut near: Vec<(usize, &str)> = candidates
        .into_iter()
        .filter_map(|candidate| {
            let slips = strsim::damerau_levenshtein(&word, &candidate.to_lowercase());
            let longer = word.chars().count().max(candidate.chars().count());
            (slips * 2 <= longer).then_some((slips, candidate))
        })
        .collect();
    near.sort_by_key(|&(slips, _)| slips);
    near.truncate(count);
    near.into_iter().map(|(_, candidate)| candidate).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_slip_is_near_and_another_word_is_not() {
        let verbs = ["solder", "place", "remove", "reball"];
        assert_eq!(nearest("sodler", verbs, 3), ["solder"]);
        assert_eq!(nearest("PLACES", verbs, 1), ["place"]);
        assert_eq!(nearest("remvoe", verbs, 1), ["remove"]);
        assert!(nearest("quench", verbs, 3).is_empty());
    }
}
