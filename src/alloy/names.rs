//! What people type at a bench, and what is meant.

use super::{AlloyBook, Composition, Element};

/// A name understood.
#[derive(Clone, Debug)]
pub struct Understood {
    /// What was meant.
    pub composition: Composition,
    /// Canonical name of the table's alloy that it counts as, if any.
    pub alloy: Option<String>,
    /// What was assumed or changed: to be shown.
    pub notices: Vec<String>,
}

/// A name not understood, or not one thing only.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum NameFault {
    /// It fits several: ask.
    #[error("`{typed}` fits several: {why}")]
    Ask {
        /// As typed.
        typed: String,
        /// What has to be decided.
        why: String,
        /// Canonical names to choose from.
        candidates: Vec<String>,
    },
    /// It fits nothing.
    #[error("`{typed}` is not an alloy known here: give its composition, as `Sn63Pb37`")]
    Unknown {
        /// As typed.
        typed: String,
        /// The nearest names that would be understood, at most three.
        nearest: Vec<String>,
    },
    /// Shares that sum to something else than 100.
    #[error("the shares in `{typed}` sum to {sum:.2} mass%: want 100")]
    BadSum {
        /// As typed.
        typed: String,
        /// Their sum, mass%.
        sum: f64,
        /// The nearest alloy of the table with these elements.
        suggestion: Option<String>,
    },
    /// A share below 0 or above 100, an element twice, or the like.
    #[error("`{typed}`: {why}")]
    Wrong {
        /// As typed.
        typed: String,
        /// What is wrong.
        why: String,
    },
}

/// `Sn63Pb37`: symbols as they are written, each with mass %, nothing else.
pub(super) fn exact_formula(text: &str) -> Option<Vec<(Element, f64)>> {
    let mut parts = Vec::new();
    let mut rest = text;
    while !rest.is_empty() {
        let digits = rest.find(|c: char| c.is_ascii_digit())?;
        let element: Element = rest[..digits].parse().ok()?;
        if element.symbol() != &rest[..digits] {
            return None;
        }
        rest = &rest[digits..];
        let end = rest
            .find(|c: char| !(c.is_ascii_digit() || c == '.'))
            .unwrap_or(rest.len());
        parts.push((element, rest[..end].parse().ok()?));
        rest = &rest[end..];
    }
    (!parts.is_empty()).then_some(parts)
}

/// The canonical name of shares as they are written: largest first, ties in the naming order.
pub(super) fn written_name(parts: &[(Element, f64)]) -> String {
    let mut sorted = parts.to_vec();
    sorted.sort_by(|a, b| {
        b.1.total_cmp(&a.1)
            .then(a.0.naming_rank().cmp(&b.0.naming_rank()))
    });
    let mut name = String::new();
    for (element, percent) in sorted {
        name.push_str(element.symbol());
        name.push_str(&percent.to_string());
    }
    name
}

pub(super) fn find(book: &AlloyBook, typed: &str) -> Result<Understood, NameFault> {
    let composition = exact_formula(typed.trim())
        .and_then(|parts| Composition::from_parts(&parts).ok())
        .ok_or_else(|| NameFault::Unknown {
            typed: typed.to_owned(),
            nearest: crate::nearest::nearest(
                typed,
                book.alloys().iter().map(|a| a.name.as_str()),
                3,
            )
            .into_iter()
            .map(str::to_owned)
            .collect(),
        })?;
    let sum = exact_formula(typed.trim())
        .unwrap_or_default()
        .iter()
        .map(|p| p.1)
        .sum::<f64>();
    if (sum - 100.0).abs() > 0.5 {
        return Err(NameFault::BadSum {
            typed: typed.to_owned(),
            sum,
            suggestion: None,
        });
    }
    Ok(Understood {
        alloy: book.matching(&composition).map(|a| a.name.clone()),
        composition,
        notices: Vec::new(),
    })
}
