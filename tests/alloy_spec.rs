//! Blends as people say them, against the worked arithmetic.

use meltstair::alloy::{AlloyBook, Element, spec};
use proptest::prelude::*;
use serde::Deserialize;

/// Source of every row: arithmetic by hand on element densities (CRC Handbook, from memory): shares to four digits,
/// or to ± 0.05.
#[derive(Deserialize)]
struct Row {
    spec: String,
    mg: f64,
    shares: String,
}

#[test]
fn blends_are_those_of_the_worked_arithmetic() {
    let book = AlloyBook::shipped();
    let mut reader = csv::Reader::from_path(concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/tests/alloys/specs.csv"
    ))
    .unwrap();
    for row in reader.deserialize() {
        let row: Row = row.unwrap();
        let blend = spec::parse(book, &row.spec)
            .unwrap_or_else(|why| panic!("{}: {why}", row.spec))
            .blend();
        let mg = blend.total().mg();
        assert!((mg / row.mg - 1.0).abs() < 6e-4, "{}: {mg} mg", row.spec);
        let composition = blend.composition().unwrap();
        let mut words = row.shares.split(' ');
        while let (Some(element), Some(want)) = (words.next(), words.next()) {
            // Half a unit of the last digit printed, and 0.04 % for rounded masses that went in.
            let decimals = want.split_once('.').map_or(0, |(_, d)| d.len());
            let want: f64 = want.parse().unwrap();
            let tolerance = 0.55 * 0.1_f64.powi(i32::try_from(decimals).unwrap()) + want * 4e-4;
            let element: Element = element.parse().unwrap();
            let got = composition.share(element).percent();
            assert!(
                (got - want).abs() < tolerance,
                "{}: {element} {got}",
                row.spec
            );
        }
    }
}

#[test]
fn what_is_missing_or_unbelievable_is_said() {
    let book = AlloyBook::shipped();
    for (typed, want) in [
        ("", "nothing is described"),
        ("snbi + 63/37", "how much of each?"),
        ("ball snbi", "the ball has no size: want a diameter in mm"),
        ("ball 0.3", "no alloy is named"),
        (
            "ball 300 snbi",
            "a size of 300 mm is not believable here: want a diameter in mm, or as `300um`",
        ),
        ("film 10um 63/37", "the film has no pad: want `on 0.3` (mm)"),
        (
            "dome 0.3 63/37",
            "the dome has no size: want base and height in mm",
        ),
        (
            "paste 0.3 63/37",
            "the paste has no size: want aperture and stencil in mm",
        ),
        ("paste 0.3x0.1 63/37 transfer 9", "`9` is not a share"),
        ("paste 0.3x0.1 63/37 transfer", "nothing follows `transfer`"),
        ("60% snbi + 30% 63/37", "the shares sum to 90 %: want 100"),
        ("60% snbi + 30mg 63/37", "shares in % and masses do not mix"),
        ("ball 0.3 90/10", "which metal is the 90?"),
        ("0mg snbi", "there is nothing of it"),
        ("9999999mg snbi", "is not a mass"),
        (
            "ball 0.3 quickmelt",
            "`quickmelt` is not known: give the composition",
        ),
    ] {
        let said = spec::parse(book, typed).unwrap_err().to_string();
        assert!(said.contains(want), "`{typed}`: {said}");
    }
}

#[test]
fn what_is_assumed_is_said() {
    let book = AlloyBook::shipped();
    let notices = |typed: &str| spec::parse(book, typed).unwrap().notices.join("; ");
    assert!(notices("ball .3 snbi on film 10 63/37").contains("as wide as the ball, 0.3 mm"));
    assert!(notices("paste 0.3x0.1 snbi").contains("89 mass% metal"));
    assert!(notices("50% snbi + 49.9% 63/37").contains("sum to 99.9 %: scaled"));
    assert_eq!(notices("ball 0.3 snbi"), "");
}

proptest! {
    #[test]
    fn no_description_makes_it_panic(
        typed in "\\PC{0,60}|((ball|film|dome|paste|on|\\+|snbi|63/37|0\\.3|10um|x|h|transfer|metal|90%|1mg|mg) ?){0,14}"
    ) {
        if let Ok(spec) = spec::parse(AlloyBook::shipped(), &typed) {
            prop_assert!(spec.blend().composition().is_some());
        }
    }
}
