//! Compositions as people write them: `Sn63Pb37`, `58bi42sn`, `Sn-58Bi`, `Sn balance, Ag3 Cu0,5`,
//! `SnPb 63/37`, `96.5/3/.5`.
//!
//! Nothing is decided here that the text leaves open: where a number may belong to the metal before
//! or after it, both readings are handed on.

use super::Element;

/// Elements with their mass %, one of them possibly the balance.
pub(super) type Parts = Vec<(Element, f64)>;

/// What a text says as a composition.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Formula {
    /// Each number has its metal. More than one reading where the text leaves it open; the first is
    /// the plainer one if `plain` is set.
    Shares {
        /// The readings.
        readings: Vec<Parts>,
        /// Whether the first reading is the usual one.
        plain: bool,
    },
    /// Numbers, with fewer metals than numbers or none: `63/37`, `80/20 au`.
    Numbers {
        /// The numbers in the order typed.
        numbers: Vec<f64>,
        /// Metals named beside them.
        elements: Vec<Element>,
    },
    /// Metals without numbers: `sn ag cu`.
    Elements(Vec<Element>),
}

/// A formula, and whether the text says that it is in atomic per cent.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Read {
    pub(super) formula: Formula,
    pub(super) atomic: bool,
}

#[derive(Clone, Copy, Debug, PartialEq)]
enum Amount {
    Percent(f64),
    Balance,
}

#[derive(Clone, Copy, Debug, PartialEq)]
enum What {
    Metal(Element),
    Amount(Amount),
}

/// A metal or an amount, and whether it stands right behind what comes before it.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Item {
    what: What,
    glued: bool,
}

/// Longer texts are no composition.
const MAX_ITEMS: usize = 2 * Element::COUNT;

/// Reads the text as a composition; `None` if it holds a word that is no metal.
pub(super) fn read(text: &str) -> Option<Read> {
    let (items, atomic) = items_of(text)?;
    let metals: Vec<Element> = items
        .iter()
        .filter_map(|i| match i.what {
            What::Metal(e) => Some(e),
            What::Amount(_) => None,
        })
        .collect();
    let amounts: Vec<Amount> = items
        .iter()
        .filter_map(|i| match i.what {
            What::Amount(a) => Some(a),
            What::Metal(_) => None,
        })
        .collect();
    let formula = match (metals.len(), amounts.len()) {
        (0, 0) => return None,
        (_, 0) => Formula::Elements(metals),
        (m, a) if m < a => Formula::Numbers {
            numbers: percents(&amounts)?,
            elements: metals,
        },
        (m, a) if m == a && in_blocks(&items) => Formula::Shares {
            readings: vec![with_balance(
                metals.into_iter().zip(amounts.into_iter().map(Some)),
            )?],
            plain: true,
        },
        _ => shares(&items)?,
    };
    Some(Read { formula, atomic })
}

/// The metals that a text names and nothing else: `sn bi`, `snagcu`, `tin`.
pub fn elements_of(text: &str) -> Option<Vec<Element>> {
    match read(text)?.formula {
        Formula::Elements(elements) => Some(elements),
        _ => None,
    }
}

fn percents(amounts: &[Amount]) -> Option<Vec<f64>> {
    amounts
        .iter()
        .map(|a| match a {
            Amount::Percent(p) => Some(*p),
            Amount::Balance => None,
        })
        .collect()
}

/// All metals first and then all amounts, or the other way round, at least two of each.
fn in_blocks(items: &[Item]) -> bool {
    let is_metal = |i: &Item| matches!(i.what, What::Metal(_));
    let changes = items
        .windows(2)
        .filter(|w| is_metal(&w[0]) != is_metal(&w[1]))
        .count();
    changes == 1 && items.len() >= 4
}

/// Which side the numbers belong to: the metal they are glued to; if that leaves it open, the ends
/// of the text tell; if these do too, both readings.
fn shares(items: &[Item]) -> Option<Formula> {
    let is_metal = |i: &Item| matches!(i.what, What::Metal(_));
    let (mut left, mut right) = (0, 0);
    for pair in items.windows(2).filter(|w| w[1].glued) {
        match (is_metal(&pair[0]), is_metal(&pair[1])) {
            (true, false) => left += 1,
            (false, true) => right += 1,
            _ => {}
        }
    }
    let starts_with_amount = items.first().is_some_and(|i| !is_metal(i));
    let ends_with_amount = items.last().is_some_and(|i| !is_metal(i));
    let before = || metal_first(items);
    let behind = || {
        let mirrored: Vec<Item> = items.iter().rev().copied().collect();
        metal_first(&mirrored)
    };
    // `SnBi58`: metals in one run and a number behind the last may still mean the first.
    let first_of_run = || first_takes_it(items);
    let (readings, plain): (Vec<Option<Parts>>, bool) = match (left, right) {
        (1.., 0) => (vec![before(), first_of_run()], true),
        (0, 1..) => (vec![behind()], true),
        _ if starts_with_amount => (vec![behind()], true),
        _ if ends_with_amount => (vec![before(), first_of_run()], true),
        _ => (vec![before(), behind()], false),
    };
    let mut readings: Vec<Parts> = readings.into_iter().flatten().collect();
    readings.dedup();
    (!readings.is_empty()).then_some(Formula::Shares { readings, plain })
}

/// Each amount belongs to the metal before it.
fn metal_first(items: &[Item]) -> Option<Parts> {
    let mut parts: Vec<(Element, Option<Amount>)> = Vec::new();
    for item in items {
        match item.what {
            What::Metal(element) => parts.push((element, None)),
            What::Amount(amount) => {
                let last = parts.last_mut()?;
                if last.1.replace(amount).is_some() {
                    return None;
                }
            }
        }
    }
    with_balance(parts)
}

/// Two metals and one number behind them: the number may be meant for the first.
fn first_takes_it(items: &[Item]) -> Option<Parts> {
    match items {
        [
            Item {
                what: What::Metal(first),
                ..
            },
            Item {
                what: What::Metal(second),
                ..
            },
            Item {
                what: What::Amount(amount),
                ..
            },
        ] => with_balance([(*first, Some(*amount)), (*second, None)]),
        _ => None,
    }
}

/// Fills in the one share that is not given; `None` if more than one is missing.
fn with_balance(parts: impl IntoIterator<Item = (Element, Option<Amount>)>) -> Option<Parts> {
    let mut given = Vec::new();
    let mut open = Vec::new();
    for (element, amount) in parts {
        match amount {
            Some(Amount::Percent(percent)) => given.push((element, percent)),
            Some(Amount::Balance) | None => open.push((given.len(), element)),
        }
    }
    match open.as_slice() {
        [] => {}
        [(place, element)] => {
            let rest = 100.0 - given.iter().map(|p| p.1).sum::<f64>();
            given.insert(*place, (*element, rounded(rest)));
        }
        _ => return None,
    }
    Some(given)
}

/// So that 100 − 3 − 0.5 is 96.5 also in print.
fn rounded(percent: f64) -> f64 {
    (percent * 1e6).round() / 1e6
}

fn items_of(text: &str) -> Option<(Vec<Item>, bool)> {
    let mut items = Vec::new();
    let mut atomic = false;
    let mut glued = false;
    let mut rest = text;
    while let Some(next) = rest.chars().next() {
        let len = if next.is_ascii_alphabetic() {
            let run = run_of(rest, |c| c.is_ascii_alphabetic());
            let word = run.to_ascii_lowercase();
            match word.as_str() {
                "at" | "atomic" | "atom" | "mol" => atomic = true,
                "wt" | "weight" | "mass" | "percent" | "pct" | "and" | "by" | "with" => {}
                "bal" | "balance" | "rest" | "remainder" => {
                    items.push(Item {
                        what: What::Amount(Amount::Balance),
                        glued: false,
                    });
                }
                _ => {
                    for (nth, element) in metals_of(&word)?.into_iter().enumerate() {
                        items.push(Item {
                            what: What::Metal(element),
                            glued: glued || nth > 0,
                        });
                    }
                }
            }
            glued = true;
            run.len()
        } else if let Some((percent, len)) = number(rest) {
            items.push(Item {
                what: What::Amount(Amount::Percent(percent)),
                glued,
            });
            glued = true;
            len
        } else {
            // A per cent sign keeps its number glued to the metal behind it.
            glued = glued && next == '%';
            if next.is_alphabetic() {
                return None;
            }
            next.len_utf8()
        };
        rest = &rest[len..];
        if items.len() > MAX_ITEMS {
            return None;
        }
    }
    Some((items, atomic))
}

fn run_of(text: &str, keep: impl Fn(char) -> bool) -> &str {
    let end = text.find(|c| !keep(c)).unwrap_or(text.len());
    &text[..end]
}

/// A number with decimal point or comma, and its length; a comma is decimal only between digits or
/// before one at the start.
fn number(text: &str) -> Option<(f64, usize)> {
    let whole = run_of(text, |c| c.is_ascii_digit()).len();
    let behind = &text[whole..];
    let decimals = match behind.chars().next() {
        Some('.' | ',') => run_of(&behind[1..], |c| c.is_ascii_digit()).len(),
        _ => 0,
    };
    let len = match (whole, decimals) {
        (0, 0) => return None,
        (_, 0) => whole,
        _ => whole + 1 + decimals,
    };
    let percent = text[..len].replace(',', ".").parse().ok()?;
    Some((percent, len))
}

/// `snagcu` → Sn, Ag, Cu; English names of metals count as one.
fn metals_of(word: &str) -> Option<Vec<Element>> {
    if let Some(&(_, element)) = ENGLISH.iter().find(|(name, _)| *name == word) {
        return Some(vec![element]);
    }
    if word.is_empty() {
        return Some(Vec::new());
    }
    if word.len() > 2 * MAX_ITEMS {
        return None;
    }
    for len in [2, 1] {
        let Some((symbol, rest)) = word.split_at_checked(len) else {
            continue;
        };
        if let Ok(element) = symbol.parse()
            && let Some(mut metals) = symbols_of(rest)
        {
            metals.insert(0, element);
            return Some(metals);
        }
    }
    None
}

/// Symbols only, longest first; one-letter symbols are rare enough that no backtracking is needed
/// beyond one letter.
fn symbols_of(word: &str) -> Option<Vec<Element>> {
    let mut metals = Vec::new();
    let mut rest = word;
    while !rest.is_empty() {
        let (element, len) = [2, 1].into_iter().find_map(|len| {
            let symbol = rest.get(..len)?;
            Some((symbol.parse::<Element>().ok()?, len))
        })?;
        metals.push(element);
        rest = &rest[len..];
    }
    Some(metals)
}

const ENGLISH: [(&str, Element); 14] = [
    ("tin", Element::Sn),
    ("lead", Element::Pb),
    ("bismuth", Element::Bi),
    ("indium", Element::In),
    ("silver", Element::Ag),
    ("copper", Element::Cu),
    ("antimony", Element::Sb),
    ("zinc", Element::Zn),
    ("cadmium", Element::Cd),
    ("gold", Element::Au),
    ("nickel", Element::Ni),
    ("germanium", Element::Ge),
    ("gallium", Element::Ga),
    ("mercury", Element::Hg),
];

#[cfg(test)]
mod tests {
    use super::*;
    use Element::{Ag, Bi, Cu, Pb, Sn};

    fn readings(text: &str) -> Vec<Parts> {
        match read(text).map(|r| r.formula) {
            Some(Formula::Shares { readings, .. }) => readings,
            other => panic!("{text}: {other:?}"),
        }
    }

    #[test]
    fn numbers_find_their_metals() {
        let sac = vec![(Sn, 96.5), (Ag, 3.0), (Cu, 0.5)];
        for text in [
            "Sn96.5Ag3Cu0.5",
            "sn 96,5 ag 3,0 cu 0,5",
            "Sn balance, Ag3 Cu0.5",
            "Sn-3.0Ag-0.5Cu",
            "SnAg3Cu0.5",
            "96.5Sn3Ag.5Cu",
            "96.5 % Sn, 3 % Ag, 0.5 % Cu",
            "Sn-Ag-Cu 96.5/3/0.5",
            "96.5-3-0.5 SnAgCu",
            "tin 96.5 silver 3 copper 0.5",
        ] {
            let mut found = readings(text)[0].clone();
            found.sort_by_key(|p| p.0.naming_rank());
            assert_eq!(found, sac, "{text}");
        }
    }

    #[test]
    fn open_readings_are_both_handed_on() {
        assert_eq!(
            readings("Sn3.5Ag"),
            [vec![(Sn, 3.5), (Ag, 96.5)], vec![(Ag, 3.5), (Sn, 96.5)]]
        );
        assert_eq!(
            readings("SnBi42"),
            [vec![(Sn, 58.0), (Bi, 42.0)], vec![(Sn, 42.0), (Bi, 58.0)]]
        );
    }

    #[test]
    fn numbers_without_metals_stay_numbers() {
        for text in ["63/37", "63-37", "63 : 37", " 63,0/37,0 "] {
            assert_eq!(
                read(text).map(|r| r.formula),
                Some(Formula::Numbers {
                    numbers: vec![63.0, 37.0],
                    elements: vec![],
                }),
                "{text}"
            );
        }
        assert_eq!(
            read("sn pb").map(|r| r.formula),
            Some(Formula::Elements(vec![Sn, Pb]))
        );
        assert!(read("at% Sn50Pb50").is_some_and(|r| r.atomic));
        assert_eq!(read("quickmelt 7"), None);
        assert_eq!(read("SnÄ63"), None);
    }
}
