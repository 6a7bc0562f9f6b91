//! Which alloy next: the cases that were reckoned by hand, with pinned readings.

use std::sync::Arc;

use meltstair::alloy::AlloyBook;
use meltstair::bench::Verdict;
use meltstair::job::{Solder, Want};
use meltstair::melt::{MeltBook, NoReadings, Pin};
use meltstair::plan::{Ask, Candidate, Offer, chains, pick_over};
use meltstair::quantity::{Celsius, KelvinStep};

fn solder(name: &str) -> Solder {
    let composition = AlloyBook::shipped().find(name).unwrap().composition;
    Solder {
        name: composition.to_string(),
        composition,
    }
}

/// Readings in °C as the cases give them.
fn book(pins: &[(&str, i32, i32)]) -> MeltBook {
    let pins = pins.iter().map(|(name, solidus, liquidus)| Pin {
        composition: solder(name).composition,
        solidus: Celsius::whole(*solidus),
        liquidus: Celsius::whole(*liquidus),
    });
    MeltBook::new(Arc::new(NoReadings), pins.collect())
}

fn usual() -> MeltBook {
    book(&[
        ("Sn96.5Ag3Cu0.5", 217, 220),
        ("Sn96.5Ag3.5", 221, 221),
        ("Sn63Pb37", 183, 183),
        ("Sn62Pb36Ag2", 179, 179),
        ("Sn60Pb40", 183, 191),
        ("Bi58Sn42", 138, 138),
        ("Sn42Bi57.6Ag0.4", 137, 139),
        ("In52Sn48", 118, 118),
    ])
}

fn candidate(name: &str, in_stock: Option<bool>) -> Candidate {
    Candidate {
        solder: solder(name),
        in_stock,
        flags: Vec::new(),
    }
}

fn ask(over: &[&str]) -> Ask {
    Ask {
        over: over.iter().map(|name| solder(name)).collect(),
        residue: None,
        want: Want::default(),
    }
}

fn over(melts: &MeltBook, stands: &str, next: &str) -> Offer {
    let picked = pick_over(melts, &ask(&[stands]), vec![candidate(next, None)]);
    picked.offers.into_iter().next().unwrap()
}

/// By hand from the pinned pairs: gap, margin with everything seen, verdict.
#[test]
fn gaps_and_margins_are_those_of_the_hand_arithmetic() {
    let melts = usual();
    for (stands, next, gap, margin, holds) in [
        ("Sn96.5Ag3Cu0.5", "Sn63Pb37", 34, 14, true),
        ("Sn63Pb37", "Bi58Sn42", 45, 25, true),
        ("Sn63Pb37", "Sn62Pb36Ag2", 4, -16, false),
        ("Sn96.5Ag3Cu0.5", "Sn60Pb40", 26, 6, true),
        ("Sn96.5Ag3.5", "Sn96.5Ag3Cu0.5", 1, -19, false),
    ] {
        let offer = over(&melts, stands, next);
        assert_eq!(offer.gap, Some(KelvinStep::whole(gap)), "{stands} {next}");
        assert_eq!(
            offer.margin,
            Some(KelvinStep::whole(margin)),
            "{stands} {next}"
        );
        assert_eq!(
            offer.verdict == Verdict::Holds,
            holds,
            "{stands} {next}: {:?}",
            offer.verdict
        );
        assert_eq!(offer.why.is_empty(), holds);
    }
}

/// Our judgement: over leaded joints the tin-bismuth alloy is best; with none left,
/// the indium alloy is named beside it and never put in its place.
#[test]
fn what_is_not_on_the_shelf_is_still_named_first() {
    let candidates = vec![
        candidate("In52Sn48", Some(true)),
        candidate("Bi58Sn42", Some(false)),
        candidate("Sn96.5Ag3Cu0.5", Some(true)),
    ];
    let picked = pick_over(&usual(), &ask(&["Sn63Pb37"]), candidates);
    let (best, shelf) = picked.best();
    assert_eq!(best.unwrap().candidate.solder.name, "Bi58Sn42");
    let shelf = shelf.unwrap();
    assert_eq!(shelf.candidate.solder.name, "In52Sn48");
    assert_eq!(shelf.first_melt, Some(Celsius::whole(118)));
    assert_eq!(
        picked.offers.last().unwrap().candidate.solder.name,
        "Sn96.5Ag3Cu0.5"
    );
}

/// By hand, with a gap of 25 K (S28): no three levels out of four lead-free alloys, the nearest misses by
/// 5 K; six with two leaded ones more, and never four levels.
#[test]
fn three_levels_need_lead() {
    let melts = usual();
    let gap = KelvinStep::whole(25);
    let mut stock: Vec<Solder> = ["Sn96.5Ag3Cu0.5", "Bi58Sn42", "Sn42Bi57.6Ag0.4", "In52Sn48"]
        .map(solder)
        .into();
    let none = chains(&melts, &stock, 3, gap);
    assert!(none.keeping.is_empty());
    let nearest = none.nearest.unwrap();
    let names: Vec<&str> = nearest.alloys.iter().map(|a| a.name.as_str()).collect();
    assert_eq!(names, ["Sn96.5Ag3Cu0.5", "Bi58Sn42", "In52Sn48"]);
    assert_eq!(nearest.gap, KelvinStep::whole(20));
    assert!(nearest.indium_meets_bismuth);

    stock.extend(["Sn63Pb37", "Sn62Pb36Ag2"].map(solder));
    assert_eq!(chains(&melts, &stock, 3, gap).keeping.len(), 6);
    assert!(chains(&melts, &stock, 4, gap).keeping.is_empty());
}

/// By hand from both rules (S88, S89): at 95 °C clean tin-bismuth fails the stricter rule (88),
/// leaded passes; at 130 °C leaded keeps 3 K (133), lead-free tin-silver-copper passes.
#[test]
fn service_takes_the_stricter_of_both_rules() {
    let melts = usual();
    let verdict = |service: i32, next: &str| {
        let mut ask = ask(&[]);
        ask.want.service = Some(Celsius::whole(service));
        let picked = pick_over(&melts, &ask, vec![candidate(next, None)]);
        picked.offers[0].service.unwrap().verdict
    };
    assert_eq!(verdict(95, "Bi58Sn42"), Verdict::Limit);
    assert_eq!(verdict(95, "Sn63Pb37"), Verdict::Holds);
    assert_eq!(verdict(130, "Sn63Pb37"), Verdict::Close);
    assert_eq!(verdict(130, "Sn96.5Ag3Cu0.5"), Verdict::Holds);
    assert_eq!(verdict(130, "In52Sn48"), Verdict::Limit);
}
