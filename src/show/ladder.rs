//! The alloy table as the plain data of a ladder for the wall, with the pairs that must never meet.

use rayon::prelude::*;

use crate::alloy::{Alloy, AlloyBook, Element};
use crate::melt::{Contact, Doubt, History, Layer, MeltBook};
use crate::policy;
use crate::quantity::{Celsius, KelvinStep, Mass};

use super::chart::{Bar, Group, Ladder, NeverMeet};
use super::say::Say;

/// Groups by what decides how an alloy melts, first match counts.
const GROUPS: [(&str, &[Element]); 8] = [
    (
        "with cadmium: refused unless a job accepts it",
        &[Element::Cd],
    ),
    ("gold", &[Element::Au]),
    ("indium and bismuth", &[Element::In, Element::Bi]),
    ("indium", &[Element::In]),
    ("bismuth", &[Element::Bi]),
    ("lead and tin", &[Element::Pb]),
    ("antimony or zinc", &[]),
    ("tin with silver or copper", &[Element::Sn]),
];

/// What lies on most benches; pairs are looked at among these (our judgement).
const COMMON: [&str; 12] = [
    "Sn63Pb37",
    "Sn62Pb36Ag2",
    "Sn60Pb40",
    "Pb90Sn10",
    "Sn96.5Ag3Cu0.5",
    "Sn96.5Ag3.5",
    "Sn99.3Cu0.7",
    "Bi58Sn42",
    "Bi57Sn42Ag1",
    "In52Sn48",
    "In97Ag3",
    "Sn95Sb5",
];

/// A pair is told when what it makes melts so much lower than both.
const TELL_FROM: KelvinStep = KelvinStep::whole(20);

/// Every alloy of at least two origins, grouped and sorted by solidus, and the pairs that must never
/// meet.
pub fn of(book: &AlloyBook, melts: &MeltBook, say: Say) -> Ladder {
    let mut groups: Vec<Group> = GROUPS
        .iter()
        .map(|(name, _)| Group {
            name: (*name).to_owned(),
            rows: Vec::new(),
        })
        .collect();
    let mut alloys: Vec<&Alloy> = book
        .alloys()
        .iter()
        .filter(|alloy| !alloy.single_source)
        .collect();
    alloys.sort_by_key(|alloy| {
        (
            alloy.in_use.solidus,
            alloy.in_use.liquidus,
            alloy.name.clone(),
        )
    });
    for alloy in alloys {
        groups[group_of(alloy)].rows.push(bar(book, alloy));
    }
    groups.retain(|group| !group.rows.is_empty());
    Ladder {
        title: "What solders melt at".to_owned(),
        groups,
        never_meet: never_meet(book, melts, say),
        notes: vec![
            "Bar: lowest credible solidus to highest liquidus of at least two printed origins; a joint is a mixture, and melts lower."
                .to_owned(),
        ],
    }
}

fn group_of(alloy: &Alloy) -> usize {
    let there = |element: Element| alloy.composition.share(element).percent() > 0.3;
    let other = there(Element::Sb) || there(Element::Zn);
    let fits = |(name, elements): &(&str, &[Element])| match *name {
        "antimony or zinc" => other,
        _ => elements.iter().all(|&element| there(element)),
    };
    GROUPS.iter().position(fits).unwrap_or(GROUPS.len() - 1)
}

fn bar(book: &AlloyBook, alloy: &Alloy) -> Bar {
    let flags = alloy
        .flags()
        .into_iter()
        .filter(|flag| matches!(*flag, "lead" | "cadmium" | "gold"));
    Bar {
        alloy: alloy.name.clone(),
        solidus: alloy.in_use.solidus,
        liquidus: alloy.in_use.liquidus,
        flags: flags.map(str::to_owned).collect(),
        note: String::new(),
        in_stock: book.stock().iter().any(|item| item.alloy == alloy.name),
    }
}

fn never_meet(book: &AlloyBook, melts: &MeltBook, say: Say) -> Vec<NeverMeet> {
    let common: Vec<&Alloy> = COMMON.iter().filter_map(|name| book.get(name)).collect();
    let pairs: Vec<(&Alloy, &Alloy)> = common
        .iter()
        .enumerate()
        .flat_map(|(i, one)| common[i + 1..].iter().map(move |other| (*one, *other)))
        .collect();
    let mut told: Vec<NeverMeet> = pairs
        .into_par_iter()
        .filter_map(|(one, other)| meeting(melts, one, other, say))
        .collect();
    told.sort_by(|a, b| (a.melts_at, &a.one, &a.other).cmp(&(b.melts_at, &b.one, &b.other)));
    told
}

/// What two alloys make where they touch, if it melts much lower than both.
fn meeting(melts: &MeltBook, one: &Alloy, other: &Alloy, say: Say) -> Option<NeverMeet> {
    let layer = |alloy: &Alloy| Layer {
        blend: crate::alloy::Blend::of(&alloy.composition, Mass::from_picograms(1_000_000_000)),
        history: History::Frozen,
        unstated: true,
        unknown: false,
    };
    let joint = melts.of_joint(&[layer(one), layer(other)], Contact::Layers);
    let own = one.in_use.solidus.min(other.in_use.solidus);
    let melts_at: Celsius = joint.first_melt?;
    (own - melts_at > TELL_FROM).then(|| NeverMeet {
        one: one.name.clone(),
        other: other.name.clone(),
        melts_at,
        reason: reason(&joint.doubts, melts_at, own, say),
    })
}

fn reason(doubts: &[Doubt], melts_at: Celsius, own: Celsius, say: Say) -> String {
    let why = if doubts.contains(&Doubt::BismuthLeadTin) {
        // What some mixtures hold beside the three may take it lower still.
        if melts_at < policy::BISMUTH_LEAD_TIN {
            "eutectic of Bi, Pb and Sn, or lower"
        } else {
            "eutectic of Bi, Pb and Sn"
        }
    } else if doubts
        .iter()
        .any(|d| matches!(d, Doubt::WeakData | Doubt::FloorOfSubset))
    {
        "published eutectic"
    } else {
        "lower than either"
    };
    format!("{why}; alone from {}", say.t(own))
}
