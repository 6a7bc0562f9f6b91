//! What the verb `alloys` says.

use meltstair::alloy::{AlloyBook, Element};
use meltstair::quantity::Celsius;
use meltstair::show::alloys::{self, Filter, What};
use meltstair::show::chart::Scale;
use meltstair::show::say::Say;

fn filter(typed: &str) -> Filter {
    match alloys::what(AlloyBook::shipped(), typed, Scale::Celsius) {
        Ok(What::Part(filter)) => filter,
        other => panic!("{typed}: {other:?}"),
    }
}

fn one(typed: &str, say: Say) -> String {
    let book = AlloyBook::shipped();
    match alloys::what(book, typed, Scale::Celsius) {
        Ok(What::One(found)) => alloys::one_text(book, &found, say),
        other => panic!("{typed}: {other:?}"),
    }
}

#[test]
fn words_choose_a_part_of_the_table() {
    let both = Filter {
        with: vec![Element::Sn, Element::Bi],
        ..Filter::default()
    };
    assert_eq!(filter("sn bi"), both);
    assert_eq!(filter(""), Filter::default());
    assert_eq!(
        filter("lead free 120-140"),
        Filter {
            lead_free: true,
            from: Some(Celsius::whole(120)),
            to: Some(Celsius::whole(140)),
            ..Filter::default()
        }
    );
    assert_eq!(filter("<100 bi").to, Some(Celsius::whole(100)));
    assert!(filter("stock").in_stock);
    assert!(alloys::what(AlloyBook::shipped(), "90/10", Scale::Celsius).is_err());
    assert!(alloys::what(AlloyBook::shipped(), "140-120", Scale::Celsius).is_err());
}

#[test]
fn a_part_holds_what_is_wanted_and_all_of_it() {
    let book = AlloyBook::shipped();
    let wanted = filter("lead-free bi <150");
    let part = alloys::part(book, &wanted);
    for alloy in book.alloys() {
        let fits = !alloy.has_lead()
            && alloy.name.contains("Bi")
            && alloy.in_use.liquidus <= Celsius::whole(150);
        assert_eq!(
            part.iter().any(|a| a.name == alloy.name),
            fits,
            "{}",
            alloy.name
        );
    }
    assert!(
        part.windows(2)
            .all(|w| w[0].in_use.solidus <= w[1].in_use.solidus)
    );
}

#[test]
fn the_shelf_is_a_part_too() {
    let shelf = "stock:\n  - {alloy: 63/37}\n  - {alloy: sac305, note: balls}\n";
    let book = AlloyBook::shipped().with_user_file(shelf).unwrap();
    let part = alloys::part(&book, &filter("stock"));
    let names: Vec<&str> = part.iter().map(|a| a.name.as_str()).collect();
    assert_eq!(names, ["Sn63Pb37", "Sn96.5Ag3Cu0.5"]);
    let text = alloys::list_text(&book, &part, Say::default());
    assert!(
        text.starts_with("2 alloys, from Sn63Pb37 melts at 183 °C\n"),
        "{text}"
    );
    assert!(text.contains("lead, in_stock"));
}

/// Every reading with its source; disagreement and refuted values are visible.
#[test]
fn one_alloy_shows_every_reading_and_its_source() {
    let book = AlloyBook::shipped();
    let text = one("snbi", Say::default());
    assert!(
        text.starts_with("Bi58Sn42 melts from 138 to 139 °C\n"),
        "{text}"
    );
    for reading in &book.get("Bi58Sn42").unwrap().readings {
        assert!(text.contains(&reading.source), "{}", reading.source);
        let source = book.source(&reading.source).unwrap();
        assert!(text.contains(&source.address), "{}", source.address);
    }
    assert!(
        text.contains("they disagree: solidus 138 to 139 °C"),
        "{text}"
    );
    assert!(text.contains("REFUTED: a digit error"), "{text}");
    assert!(
        text.contains("any lead brings first liquid down to 95"),
        "{text}"
    );
}

#[test]
fn fahrenheit_is_only_a_way_of_writing() {
    let say = Say {
        scale: Scale::Fahrenheit,
        full: false,
        width: 100,
    };
    assert!(one("63/37", say).starts_with("Sn63Pb37 melts at 361.4 °F\n"));
}

#[test]
fn narrow_terminals_get_blocks() {
    let say = Say {
        width: 60,
        ..Say::default()
    };
    assert!(one("63/37", say).contains("solidus: 183\nliquidus: 183\n"));
}

#[test]
fn a_composition_outside_the_table_gets_its_floor() {
    let text = one("Sn50Bi40Pb10", Say::default());
    assert!(
        text.starts_with("Sn50Bi40Pb10 is not in the table\n"),
        "{text}"
    );
    assert!(
        text.contains("may melt from 95 °C, their published eutectic"),
        "{text}"
    );
}

#[test]
fn json_has_the_documented_shape() {
    let book = AlloyBook::shipped();
    let part = alloys::part(book, &filter(""));
    let all = alloys::list_json(book, &part);
    assert_eq!(all["meltstair"], "alloys/1");
    assert!(all["line"].as_str().unwrap().chars().count() <= 80);
    let listed = all["alloys"].as_array().unwrap();
    assert_eq!(listed.len(), book.alloys().len());
    let leaded = listed.iter().find(|a| a["id"] == "Sn60Pb40").unwrap();
    assert_eq!(leaded["mass_percent"]["Sn"], 60.0);
    assert_eq!(leaded["solidus_c"]["use"], 183.0);
    assert_eq!(leaded["liquidus_c"]["low"], 188.0);
    assert_eq!(leaded["liquidus_c"]["high"], 191.0);
    assert_eq!(leaded["flags"][0], "lead");
    assert!(leaded["use_why"].is_string());
    let reading = &leaded["readings"][0];
    for key in ["solidus_c", "liquidus_c", "source", "seen"] {
        assert!(!reading[key].is_null(), "{key}");
    }
}
