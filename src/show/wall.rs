//! The card for the wall: everyday solders by the names that they have at a bench, and what must not meet.

use crate::alloy::{AlloyBook, Blend, Composition, Element};
use crate::melt::{Contact, History, Layer, MeltBook};
use crate::quantity::{Celsius, Mass};

use super::chart::{Card, CardRow};

/// What lies on most benches, by trade name (common practice, no source).
pub const EVERYDAY: [(&str, &str); 10] = [
    ("high lead 90/10", "Pb90Sn10"),
    ("tin-copper 99.3/0.7", "Sn99.3Cu0.7"),
    ("tin-silver 96.5/3.5", "Sn96.5Ag3.5"),
    ("SAC305", "Sn96.5Ag3Cu0.5"),
    ("60/40", "Sn60Pb40"),
    ("63/37", "Sn63Pb37"),
    ("62/36/2 silver", "Sn62Pb36Ag2"),
    ("bismuth 58/42", "Bi58Sn42"),
    ("bismuth-silver 57/42/1", "Bi57Sn42Ag1"),
    ("indium 52/48", "In52Sn48"),
];

/// What touches where metals must not meet, in mass percent.
type Meeting = (&'static str, [&'static [(Element, f64)]; 2]);

const TIN_BISMUTH: &[(Element, f64)] = &[(Element::Bi, 58.0), (Element::Sn, 42.0)];
const TIN_LEAD: &[(Element, f64)] = &[(Element::Sn, 63.0), (Element::Pb, 37.0)];
const SAC305: &[(Element, f64)] = &[(Element::Sn, 96.5), (Element::Ag, 3.0), (Element::Cu, 0.5)];

/// Metals that must not meet.
const MEETINGS: [Meeting; 4] = [
    (
        "bismuth + indium",
        [TIN_BISMUTH, &[(Element::In, 52.0), (Element::Sn, 48.0)]],
    ),
    ("bismuth + lead", [TIN_BISMUTH, TIN_LEAD]),
    (
        "indium + tin",
        [&[(Element::In, 100.0)], &[(Element::Sn, 100.0)]],
    ),
    ("lead + SAC305", [TIN_LEAD, SAC305]),
];

/// The card, from the table and from what the melting knowledge says of each meeting.
pub fn of(book: &AlloyBook, melts: &MeltBook) -> Card {
    let mut alloys: Vec<CardRow> = EVERYDAY
        .iter()
        .filter_map(|(trade, name)| {
            Some(CardRow {
                what: (*trade).to_owned(),
                from: book.get(name)?.in_use.solidus,
            })
        })
        .collect();
    alloys.sort_by_key(|row| std::cmp::Reverse(row.from));
    let meetings = MEETINGS.iter().filter_map(|(metals, [one, other])| {
        let layers = [layer(one)?, layer(other)?];
        let from = melts.of_joint(&layers, Contact::Layers).first_melt?;
        Some(CardRow {
            what: (*metals).to_owned(),
            from: whole_below(from),
        })
    });
    Card {
        alloys,
        meetings: meetings.collect(),
    }
}

/// Metal of which nobody says how much there is: every mixture with what it touches is reckoned with.
fn layer(parts: &[(Element, f64)]) -> Option<Layer> {
    let composition = Composition::from_parts(parts).ok()?;
    Some(Layer {
        blend: Blend::of(&composition, Mass::from_picograms(1_000_000_000)),
        history: History::Frozen,
        unstated: true,
        unknown: false,
    })
}

/// A card has no room for tenths, and none may be rounded up.
fn whole_below(t: Celsius) -> Celsius {
    Celsius::whole(t.millidegrees().div_euclid(1000))
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::Arc;

    /// Ternary and binary eutectics of `alloys/invariants.yaml`: Bi-In-Sn 59 (published near 60), Bi-Pb-Sn 95, In-Sn
    /// 118 (published 117 to 120), Ag-Pb-Sn 177 to 178.
    #[test]
    fn the_card_says_what_the_handbooks_say() {
        let book = AlloyBook::shipped();
        let card = of(book, &MeltBook::new(Arc::new(book.clone()), Vec::new()));
        assert_eq!(card.alloys.len(), EVERYDAY.len());
        let met: Vec<f64> = card.meetings.iter().map(|row| row.from.degrees()).collect();
        for (met, want) in met.iter().zip([59.0, 95.0, 118.0, 177.0]) {
            assert!((met - want).abs() <= 1.0, "{met} for {want}");
        }
        assert_eq!(met.len(), 4);
    }
}
