//! What somebody probably meant: slips of the hand that the reader knows, as advice beside the fault.

use crate::yaml::Placed;

use super::fields::number_in;
use super::node::Node;

/// Spaces that look like one and are none to YAML (copied from a page or typed with a thumb).
pub(super) fn is_odd_space(c: char) -> bool {
    c.is_whitespace() && !matches!(c, ' ' | '\t' | '\n' | '\r')
}

/// About a key that there is not; `valid` are those that there are, `before` is the pair before it.
#[expect(
    clippy::needless_pass_by_value,
    reason = "an iterator that is cloned for each look"
)]
pub(super) fn of_key<'w>(
    key: &str,
    valid: impl Iterator<Item = &'w str> + Clone,
    before: Option<&(Placed<String>, Placed<Node>)>,
) -> Option<String> {
    let is_valid = |word: &str| valid.clone().any(|v| v == word);
    if key.contains(is_odd_space) {
        let plain = key.replace(is_odd_space, "");
        return Some(format!(
            "a non-breaking space stands before or in `{plain}`: write an ordinary one"
        ));
    }
    if let Some((word, value)) = key.split_once(':')
        && is_valid(word)
    {
        return Some(format!("want a space after the colon: `{word}: {value}`"));
    }
    if let Some((word, value)) = key.split_once(' ')
        && is_valid(word)
    {
        return Some(format!("want a colon after `{word}`: `{word}: {value}`"));
    }
    let digits = |text: &str| !text.is_empty() && text.bytes().all(|b| b.is_ascii_digit());
    let number = before.and_then(|(name, value)| match &value.value {
        Node::Scalar(whole) if digits(whole) && digits(key) => Some((name, whole)),
        _ => None,
    });
    number.map(|(name, whole)| {
        format!(
            "a decimal comma? want a point: `{}: {whole}.{key}`",
            name.value
        )
    })
}

/// About a number that is out of its range: another unit, or per cent for a share.
pub(super) fn of_number(value: f64, name: &str, range: (f64, f64), unit: &str) -> Option<String> {
    let fits = |value: f64| (range.0..=range.1).contains(&value);
    let shown = |value: f64| {
        let text = format!("{value:.4}");
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    };
    if name.ends_with("_um") && fits(value * 1000.0) {
        return Some(format!(
            "is that mm? {value} mm are {} µm",
            shown(value * 1000.0)
        ));
    }
    if name.ends_with("_mm") && fits(value / 1000.0) {
        return Some(format!(
            "is that µm? {value} µm are {} mm",
            shown(value / 1000.0)
        ));
    }
    let is_share = unit.is_empty() && range.0 >= 0.0 && range.1 <= 2.0;
    (is_share && value > range.1 && value <= 100.0).then(|| {
        format!(
            "a share, not per cent: did you mean {}?",
            shown(value / 100.0)
        )
    })
}

/// About a number with its unit behind it: the key has said the unit.
pub(super) fn of_unit(text: &str, name: &str, unit: &str) -> Option<String> {
    let at = text.find(|c: char| c.is_alphabetic() || matches!(c, '%' | 'µ'))?;
    let (number, written) = text.split_at(at);
    let value = number_in(number.trim())?;
    let shown = |value: f64| {
        let text = format!("{value:.6}");
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    };
    if written == "%" {
        return unit.is_empty().then(|| {
            format!(
                "a share, not per cent: did you mean {}?",
                shown(value / 100.0)
            )
        });
    }
    let size = |unit: &str| match unit {
        "mm" | "mg" | "mΩ" => Some(1e-3),
        "um" | "µm" | "μm" | "u" | "ug" | "µg" | "μg" => Some(1e-6),
        "g" | "m" => Some(1.0),
        _ => None,
    };
    let kind = |unit: &str| unit.chars().last();
    let factor = match (size(written), size(unit)) {
        _ if written == unit => Some(1.0),
        (Some(from), Some(to)) if kind(written) == kind(unit) || written == "u" => Some(from / to),
        _ => None,
    };
    factor.map(|factor| {
        format!(
            "`{name}` says the unit: write the number without one, `{}`",
            shown(value * factor)
        )
    })
}

/// About a list with a number too many: two that stand as one with a decimal comma.
pub(super) fn of_list(items: &[Placed<Node>]) -> Option<String> {
    let touching = items.windows(2).find(|pair| is_comma_pair(pair));
    touching.map(|pair| {
        let [one, other] = [&pair[0].value, &pair[1].value].map(word);
        format!("a decimal comma? want a point: `{one}.{other}`")
    })
}

/// Where some commas of a list have a space after them and one between whole numbers has none, it may be
/// meant as a point; the pair as it was read.
pub(super) fn may_be_one(items: &[Placed<Node>]) -> Option<(&Placed<Node>, String)> {
    let spaced = items
        .windows(2)
        .any(|pair| pair[1].place.bytes().start > pair[0].place.bytes().end + 1);
    let touching = items.windows(2).find(|pair| is_comma_pair(pair));
    let pair = touching.filter(|_| spaced)?;
    let [one, other] = [&pair[0].value, &pair[1].value].map(word);
    Some((
        &pair[0],
        format!("read as two numbers, {one} and {other}; for a decimal write `{one}.{other}`"),
    ))
}

fn is_comma_pair(pair: &[Placed<Node>]) -> bool {
    let whole = |node: &Placed<Node>| {
        let text = word(&node.value);
        number_in(text).is_some() && text.bytes().all(|b| b.is_ascii_digit())
    };
    pair[1].place.bytes().start == pair[0].place.bytes().end + 1
        && whole(&pair[0])
        && whole(&pair[1])
}

fn word(node: &Node) -> &str {
    match node {
        Node::Scalar(text) => text,
        _ => "",
    }
}
