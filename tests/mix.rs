//! What `mix` says, as a technician asks it. Masses and shares are worked out beside the values.

use serde_json::Value;

use crate::acceptance_said::said_in;

/// Exit code, and what stands on both streams.
fn said(args: &[&str]) -> (u8, String) {
    said_in(100, &[&["mix"], args].concat())
}

fn text(args: &[&str]) -> String {
    said(args).1
}

fn json(args: &[&str]) -> Value {
    let said = text(&[args, &["--json"]].concat());
    serde_json::from_str(&said).unwrap_or_else(|_| panic!("{args:?}: {said}"))
}

fn number(value: &Value) -> f64 {
    value
        .as_f64()
        .unwrap_or_else(|| panic!("{value} is no number"))
}

const BALL_ON_FILM: &str = "ball 0.3 snbi + film 10um 63/37 on 0.3";

/// The curve starts at 95.3 °C, a printed solidus at 138 where the curve says 138.8: what is asked at
/// the number that counts is liquid there, whatever the curve has.
#[test]
fn at_the_first_melt_something_is_liquid() {
    for (spec, at) in [
        (BALL_ON_FILM, "95"),
        ("snbi", "138"),
        ("63/37", "181"),
        ("insn", "118"),
        ("SAC305 0.3514mg + 63/37 0.0478mg", "177"),
    ] {
        let answer = json(&[spec, "--at", at]);
        assert!(number(&answer["at"][0]["counts"]) >= 0.001, "{spec}");
        let words = text(&[spec, "--at", at]);
        let line = words
            .lines()
            .find(|line| line.starts_with("At "))
            .expect("a line");
        assert!(
            !line.contains("none of it") && !line.contains(": 0 %"),
            "{line}"
        );
    }
    let below = json(&[BALL_ON_FILM, "--at", "94.9"]);
    assert_eq!(below["at"][0]["counts"], 0.0);
    assert!(text(&["insn 1mg + snbi 1mg", "--at", "100"]).contains("take it as molten"));
}

#[test]
fn temperatures_are_read_with_their_unit_or_asked_for() {
    assert_eq!(
        json(&[BALL_ON_FILM, "--at", "302F"])["at"],
        json(&[BALL_ON_FILM, "--at", "150"])["at"]
    );
    for (at, why) in [
        ("hot", "`hot` is not a temperature"),
        ("-300", "out of all bounds"),
        ("95,3", "write a decimal point: `95.3`"),
    ] {
        let (code, words) = said(&[BALL_ON_FILM, "--at", at]);
        assert!(code == 2 && words.contains(why), "{words}");
    }
}

#[test]
fn with_fahrenheit_bare_numbers_that_go_in_are_fahrenheit_too() {
    let at = |more: &[&str]| json(&[&[BALL_ON_FILM, "--at"], more].concat())["at"].clone();
    assert_eq!(at(&["302", "--fahrenheit"]), at(&["150"]));
    assert_eq!(at(&["150C", "--fahrenheit"]), at(&["150"]));
    let pinned = |pin: &[&str]| json(&[&["snbi", "--pin"], pin].concat())["first_melt_c"].clone();
    assert_eq!(
        pinned(&["snbi:284/302", "--fahrenheit"]),
        pinned(&["snbi:140/150"])
    );
    let (_, fahrenheit) = said_in(100, &["alloys", "280-300", "--fahrenheit"]);
    let (_, celsius) = said_in(100, &["alloys", "137.778-148.889", "--fahrenheit"]);
    assert_ne!(fahrenheit, celsius, "bare numbers are Fahrenheit");
    let (_, celsius) = said_in(100, &["alloys", "137.778c-148.889c", "--fahrenheit"]);
    assert_eq!(fahrenheit, celsius);
}

#[test]
fn two_metals_without_amounts_are_answered_for_any_share() {
    let both = json(&["63/37 + snbi"]);
    let swept = json(&["63/37 90% + snbi 10%", "--sweep"]);
    for key in [
        "host",
        "added",
        "costs_margin",
        "too_much",
        "melts",
        "sweep",
    ] {
        assert_eq!(both[key], swept[key], "{key}");
    }
    assert!(both["described"].is_null() && !swept["described"].is_null());
    assert!(!text(&["63/37 + snbi"]).contains("as described"));
}

/// 0.99 mass % on a ball of 0.1209 mg is 0.1209 · 0.0099 / 0.9901 = 0.001209 mg, which is
/// 10 µm · 0.001209 / 0.005938 = 2.0 µm of the film described.
#[test]
fn a_sweep_says_from_where_residue_costs_and_how_thick_that_is() {
    let words = text(&[BALL_ON_FILM, "--sweep"]);
    let first = words.lines().next().expect("a line");
    assert_eq!(
        first,
        "0.014 % of Sn63Pb37 in Bi58Sn42 costs margin, 0.99 % is too much: 95 °C"
    );
    for part in [
        "Bi58Sn42 alone: first melt 138 °C",
        "from 0.99 % (0.001209 mg, a film of 2 µm) on it is too much for service: 1.0 % liquid at 95 °C",
        "however free it lies (allowed 5.0 %): 5.0 % liquid at 95 °C",
        "as described: 4.7 % of it (0.005938 mg, a film of 10 µm), first melt 95 °C, 4.9 % liquid",
        "bismuth, lead and tin together: counted as melting from 95 °C",
        "temperatures in °C",
    ] {
        assert!(words.contains(part), "`{part}` is missing:\n{words}");
    }
}

/// Each threshold is where the numbers of the blend itself say: a little less does not lose it, that
/// much does. A threshold found at the grid or rounded up would miss the lower side.
#[test]
fn thresholds_of_a_sweep_are_those_of_the_blends() {
    for (host, guest) in [("snbi", "63/37"), ("sac305", "snbi"), ("63/37", "sac305")] {
        let sweep = json(&[&format!("{host} 90% + {guest} 10%"), "--sweep"]);
        let alone = number(&json(&[host])["survival_c"]);
        let at = |x: f64| {
            let share = x * 100.0;
            json(&[&format!(
                "{host} {:.6}% + {guest} {share:.6}%",
                100.0 - share
            )])
        };
        let found = |key: &str| number(&sweep[key]);
        let fall = |x: f64| alone - number(&at(x)["survival_c"]);
        let liquid = |x: f64| number(&at(x)["first_melt_share"]);
        let (costs, much, melts) = (found("costs_margin"), found("too_much"), found("melts"));
        assert!(
            0.0 < costs && costs < much && much < melts,
            "{host}: {costs} {much} {melts}"
        );
        // Two digits, rounded down: at most a tenth too low, never too high.
        assert!(
            fall(costs * 0.9) <= 5.0 && fall(costs * 1.11) > 5.0,
            "{host}: {costs}"
        );
        assert!(
            liquid(much * 0.95) < 0.01 && liquid(much * 1.11) >= 0.01,
            "{host}: {much}"
        );
        assert!(
            liquid(melts * 0.95) < 0.05 && liquid(melts * 1.11) >= 0.05,
            "{host}: {melts}"
        );
    }
}

#[test]
fn a_sweep_at_a_temperature_says_what_is_liquid_there() {
    let sweep = json(&["snbi 90% + 63/37 10%", "--sweep", "--at", "120"]);
    let rows = sweep["sweep"].as_array().expect("rows");
    let ten = rows
        .iter()
        .find(|row| row["x"] == 0.1)
        .expect("ten per cent");
    let alone = json(&["snbi 90% + 63/37 10%", "--at", "120"]);
    assert_eq!(ten["at"][0]["counts"], alone["at"][0]["counts"]);
    let words = text(&["snbi 90% + 63/37 10%", "--sweep", "--at", "120"]);
    assert!(words.contains("liquid at 120"), "{words}");
    assert!(
        words.contains("on more than 5.0 % of it is liquid at 120 °C"),
        "{words}"
    );
}

/// A dome is said like a film too.
#[test]
fn a_dome_on_a_pad_is_the_dome_of_that_base() {
    let mass = |spec: &str| number(&json(&[spec])["mass_mg"]);
    let long = mass("dome 0.3 h 0.05 63/37");
    for spec in [
        "dome 0.05 63/37 on 0.3",
        "dome 50um 63/37 on 0.3mm",
        "dome h 0.05 63/37 on 0.3",
        "dome 0.3x0.05 63/37",
    ] {
        assert!((mass(spec) - long).abs() < 1e-9, "{spec}");
    }
    assert!(
        (long - 0.01539).abs() < 0.00001,
        "by hand: π h (3a² + h²)/6 at 8.400 mg/mm³"
    );
    assert!(text(&["dome 63/37 on 0.3"]).contains("the dome has no size"));
}

#[test]
fn every_answer_has_the_frame() {
    for args in [
        &["snbi 90% + 63/37 10%", "--sweep"][..],
        &["sac305 1mg + In80Pb15Ag5 1mg", "--sweep"],
        &["insn 1mg + snbi 1mg"],
        &["Ga 1mg + snbi 1mg", "--sweep"],
    ] {
        let answer = json(args);
        assert_eq!(answer["meltstair"], "mix/1");
        let line = answer["line"].as_str().expect("a line");
        assert!(line.chars().count() <= 80 && !line.contains('…'), "{line}");
        assert!(answer["assumptions"].is_array() && answer["warnings"].is_array());
    }
}

#[test]
fn what_cannot_be_asked_is_refused_in_a_sentence() {
    for (args, why) in [
        (&["snbi 1mg +"][..], "nothing stands on one side of a `+`"),
        (&["+ snbi 1mg"], "nothing stands on one side of a `+`"),
        (&["+"], "nothing stands on one side of a `+`"),
        (&[""], "nothing is described"),
        (
            &["snbi 1mg + snbi 2mg", "--sweep"],
            "both terms are the same metal",
        ),
        (&["snbi 1mg", "--sweep"], "want two terms, the host first"),
        (
            &["snbi 1mg + 63/37 1mg + sac305 1mg", "--sweep"],
            "want two terms",
        ),
        (
            &["snbi 1mg", "--curve", "no/such/folder/x.svg"],
            "x.svg: there is no folder `no/such/folder`",
        ),
        (
            &["snbi 1mg", "--curve", "x.jpg"],
            "want a name that ends in .svg or .png",
        ),
        (
            &["insn 1mg + snbi 1mg", "--curve", "x.svg"],
            "there is no computed curve",
        ),
        (&["snib 1mg"], "(nearest: snbi"),
        (&["snbi + 63/37 + sac305"], "how much of each?"),
        (
            &["snbi 1 + 63/37 2"],
            "in `snbi 1`: a ball of 1 mm, or 1 % ? want `ball 1 snbi` or `1% snbi`",
        ),
        (&["0,3 snbi"], "a ball of 0,3 mm, or 0,3 % ?"),
        (&["snbi + 63/37", "--curve", "x.svg"], "how much of each?"),
        (&["snbi -1mg"], "not known"),
    ] {
        let (code, words) = said(args);
        assert!(code == 2 && words.contains(why), "{args:?}: {words}");
        assert!(
            !words.contains(".meltstair-"),
            "a name that nobody knows: {words}"
        );
    }
}

#[test]
fn pictures_say_where_they_went_and_replace_what_was_there() {
    let home = tempfile::tempdir().expect("a folder");
    for (name, flag) in [("c.svg", "--curve"), ("s.png", "--sweep")] {
        let file = home.path().join(name);
        let path = file.to_str().expect("a plain path");
        std::fs::write(&file, "old").expect("written");
        let words = text(&["snbi 90% + 63/37 10%", flag, path]);
        assert!(words.contains(&format!("written: {path}")), "{words}");
        assert!(std::fs::metadata(&file).expect("it is there").len() > 1000);
        assert_eq!(json(&["snbi 90% + 63/37 10%", flag, path])["file"], path);
    }
}

#[test]
fn what_harms_or_never_may_stay_is_said() {
    for (spec, caution) in [
        (
            BALL_ON_FILM,
            "lead, 1.7 %: more than the 0.1 % that lead-free work allows",
        ),
        (
            "snbi 1mg + Bi50Pb26.7Sn13.3Cd10 1mg",
            "cadmium: its fume harms",
        ),
        (
            "sac305 90% + ausn 10%",
            "gold, 8.0 %: above 3.0 % a joint of tin gets brittle",
        ),
        (
            "insn 1mg + snbi 1mg",
            "indium with bismuth: melts from about 57 °C",
        ),
    ] {
        for args in [&[spec][..], &[spec, "--sweep"]] {
            assert!(text(args).contains(caution), "{spec}: {caution}");
        }
    }
    assert!(!text(&["snbi"]).contains("lead"));
}

/// Near a table alloy the printed pair stands beside the computed numbers. Source of the pairs in use:
/// `alloys.yaml`; a printed solidus that agrees with the equilibrium says nothing against a segregated
/// joint (Pb90Sn10: 268 to 275 printed, 275.3 computed, 183 as frozen), one that does not is a listing
/// that disagrees (Sn43Pb43Bi14: 144 printed, 135.7 computed).
#[test]
fn readings_stand_beside_the_computed_numbers() {
    let words = text(&["Pb90Sn10"]);
    assert!(words.contains("counts    computed  printed"), "{words}");
    assert!(
        words.contains("equilibrium solidus   268 °C    275.3     268"),
        "{words}"
    );
    assert!(words.contains("solidus 268 to 275"), "{words}");
    assert!(words.contains("as bought; melted and frozen on the bench it is segregated"));
    assert!(!words.contains("the listing disagrees"));
    let words = text(&["Sn43Pb43Bi14"]);
    assert!(words.contains("the listing disagrees"), "{words}");
    assert!(!words.contains("segregated"), "{words}");
    assert!(words.contains("In equilibrium (long annealed)\n  - transition reaction at 135.7 °C"));
}

#[test]
fn a_pinned_pair_is_said_to_be_pinned() {
    let words = text(&["63/37", "--pin", "63/37:183/183"]);
    assert!(
        words.contains("basis                 measured  pinned, taken as exact"),
        "{words}"
    );
    assert!(!text(&["63/37"]).contains("pinned"));
}

/// From the phase data: what is left above the flow point is 0.2 to 0.3 % of crystals, up to
/// about 203 °C; they are counted at the flow temperature, not at the 98 % that define the flow point.
#[test]
fn crystals_left_are_counted_where_it_flows() {
    let words = text(&["SAC305 0.5mg + snbi 1.0mg"]);
    let line = words
        .lines()
        .find(|line| line.contains("still crystals"))
        .expect("it is said");
    let share: f64 = line
        .trim_start_matches([' ', '-'])
        .split(' ')
        .next()
        .expect("a share")
        .parse()
        .expect("a number");
    assert!((0.2..=0.3).contains(&share), "{line}");
    assert!(line.contains("the last gone at 203"), "{line}");
}

#[test]
fn a_floor_is_not_said_as_a_melting_point() {
    let words = text(&["insn 1mg + snbi 1mg"]);
    assert!(
        words.starts_with("may melt from 59 °C on (published floor); nobody knows when it flows")
    );
    assert!(words.contains("may melt from        59 °C"), "{words}");
}

/// Source: the ternary eutectic of silver, gold and tin (`invariants.yaml`): a blend of them survives no
/// more than that, however weak its data; two binary eutectics alone would give 217.
#[test]
fn gold_with_silver_and_tin_is_not_taken_for_gold_with_tin() {
    for spec in ["ausn 1mg + Sn96.5Ag3.5 0.2mg", "ausn 1mg + sac305 0.2mg"] {
        let survival = number(&json(&[spec])["survival_c"]);
        assert!(survival <= 206.0, "{spec}: {survival}");
    }
}

#[test]
fn a_walk_that_does_not_end_at_once_says_where_it_ends() {
    let words = text(&["insn 0.1mg + 63/37 0.1mg"]);
    assert!(words.contains("0.1 % of it by then"), "{words}");
    assert!(
        words.contains("the last 0.01 % freezes at 120 °C"),
        "{words}"
    );
}
