//! What people type, and what is understood or asked.

use meltstair::alloy::{AlloyBook, Element, NameFault};
use proptest::prelude::*;
use serde::Deserialize;

#[derive(Deserialize)]
struct Row {
    typed: String,
    /// Canonical name, `-` for a composition of no table alloy, or what kind of question comes back.
    answer: String,
    /// What a notice or message holds; candidates parted by `|`.
    detail: String,
}

fn check(row: &Row) -> Result<(), String> {
    let found = AlloyBook::shipped().find(&row.typed);
    let details = row.detail.split('|').filter(|d| !d.is_empty());
    let said = match (&found, row.answer.as_str()) {
        (Ok(u), "-") if u.alloy.is_none() => u.notices.join("; "),
        (Ok(u), name) if u.alloy.as_deref() == Some(name) => {
            if row.detail.is_empty() && !u.notices.is_empty() {
                return Err(format!("said {:?}", u.notices));
            }
            u.notices.join("; ")
        }
        (Err(fault @ NameFault::Ask { .. }), "ask")
        | (Err(fault @ NameFault::Unknown { .. }), "unknown")
        | (Err(fault @ NameFault::BadSum { .. }), "badsum")
        | (Err(fault @ NameFault::Wrong { .. }), "wrong") => fault.to_string(),
        _ => return Err(format!("{found:?}")),
    };
    for detail in details {
        if !said.contains(detail) {
            return Err(format!("`{detail}` is not in `{said}`"));
        }
    }
    Ok(())
}

#[test]
fn names_are_understood_or_asked_about() {
    let mut reader = csv::Reader::from_path(concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/tests/alloys/names.csv"
    ))
    .unwrap();
    let mut wrong = Vec::new();
    for row in reader.deserialize() {
        let row: Row = row.unwrap();
        if let Err(why) = check(&row) {
            wrong.push(format!("`{}` → {}: {why}", row.typed, row.answer));
        }
    }
    assert!(wrong.is_empty(), "\n{}", wrong.join("\n"));
}

/// By hand, with 196.97 and 118.71 g/mol: 80/20 at% of gold and tin is 86.91/13.09 mass%.
#[test]
fn atomic_per_cent_only_when_said_and_then_with_a_warning() {
    let book = AlloyBook::shipped();
    let percent = |typed: &str, element: Element| {
        let found = book.find(typed).unwrap();
        (found.composition.share(element).percent(), found)
    };
    let (gold, found) = percent("Au80Sn20 at%", Element::Au);
    assert!((gold - 86.91).abs() < 0.01, "{gold}");
    assert_eq!(found.alloy, None);
    assert!(
        found.notices[1].contains("another alloy"),
        "{:?}",
        found.notices
    );
    let (tin, _) = percent("sn42 bi58 at.%", Element::Sn);
    assert!((tin - 29.2).abs() < 0.06, "{tin}");
    let (gold, found) = percent("Au80Sn20", Element::Au);
    assert!((gold - 80.0).abs() < 1e-9);
    assert!(found.notices.is_empty());
}

/// `leaded` is taken, unless the shelf holds 60/40 too.
#[test]
fn a_word_that_fits_two_spools_on_the_shelf_is_asked_about() {
    let shelf = "stock:\n  - {alloy: 63/37}\n  - {alloy: 60/40}\n";
    let book = AlloyBook::shipped().with_user_file(shelf).unwrap();
    let fault = book.find("leaded").unwrap_err();
    assert_eq!(fault.candidates(), ["Sn63Pb37", "Sn60Pb40"]);
}

#[test]
fn questions_are_readable() {
    let book = AlloyBook::shipped();
    let said = |typed: &str| book.find(typed).unwrap_err().to_string();
    assert_eq!(
        said("90/10"),
        "`90/10`: which metal is the 90? `Sn90Pb10` or `Pb90Sn10`"
    );
    assert_eq!(
        said("Sn62 Pb36 Ag3"),
        "the shares in `Sn62 Pb36 Ag3` sum to 101.00 mass%: want 100; did you mean `Sn62Pb36Ag2`?"
    );
}

proptest! {
    #[test]
    fn no_name_makes_it_panic(typed in "\\PC{0,40}|[snpbiagcu0-9.,/% \\-]{0,30}") {
        if let Ok(found) = AlloyBook::shipped().find(&typed) {
            let sum: f64 = found.composition.parts().map(|(_, s)| s.fraction()).sum();
            prop_assert!((sum - 1.0).abs() < 1e-9);
        }
    }

    /// What the program prints it reads.
    #[test]
    fn a_canonical_name_means_itself(a in 1u32..9900, b in 1u32..9900) {
        prop_assume!(a + b < 10_000);
        let parts = [
            (Element::Sn, f64::from(a)),
            (Element::Pb, f64::from(b)),
            (Element::Bi, f64::from(10_000 - a - b)),
        ];
        let composition = meltstair::alloy::Composition::from_parts(&parts).unwrap();
        let name = composition.to_string();
        let found = AlloyBook::shipped().find(&name).unwrap();
        prop_assert_eq!(found.composition.to_string(), name);
    }
}

/// As gold that a joint picks up from a finish; `tin` and `lead` are loose words for solders.
#[test]
fn a_metal_by_itself_is_taken_as_pure_and_said_back() {
    let book = AlloyBook::shipped();
    for (typed, name) in [("gold", "Au100"), ("Cu", "Cu100")] {
        let found = book.find(typed).unwrap();
        assert_eq!(found.composition.to_string(), name);
        assert!(found.notices[0].contains("is taken as pure"));
    }
    assert!(book.find("lead").is_err());
}
