//! The staircase in plain characters.

use meltstair::show::chart::{Over, Scale, Staircase, Tightest};
use unicode_width::UnicodeWidthStr as _;

use crate::chart_samples::{crowd, sees, tide_gauge};

fn row<'a>(text: &'a str, begins: &str) -> &'a str {
    let found = text.lines().find(|line| line.starts_with(begins));
    found.unwrap_or_else(|| panic!("no line begins with `{begins}` in\n{text}"))
}

fn assert_fits(text: &str, width: usize) {
    for line in text.lines() {
        assert!(line.width() <= width, "{} columns: {line}", line.width());
    }
}

#[test]
fn eight_joints_in_twelve_steps_fit_100_columns_with_every_margin() {
    let text = crowd(8, 12).text(Scale::Celsius, 100, false);
    assert_fits(&text, 100);
    let names: Vec<&str> = row(&text, "A J1").split_whitespace().collect();
    // Twelve cells after letter and name.
    assert_eq!(names.len(), 14, "{names:?}");
    assert!(row(&text, "E J5").contains("[✗−91]"), "{text}");
    assert!(row(&text, "peak").contains("240"));
}

#[test]
fn every_width_from_40_up_is_kept() {
    for width in [40, 60, 71, 72, 80, 100, 160] {
        for stairs in [tide_gauge(), crowd(8, 12), crowd(20, 24)] {
            assert_fits(&stairs.text(Scale::Celsius, width, false), width);
            assert_fits(&stairs.text(Scale::Fahrenheit, width, true), width);
        }
    }
}

#[test]
fn ascii_is_ascii() {
    let mut stairs = crowd(8, 12);
    stairs.lines[0].joint = "Lötstelle ×2".to_owned();
    let text = stairs.text(Scale::Celsius, 100, true);
    assert!(text.is_ascii(), "{text}");
    assert!(row(&text, "E J5").contains("[X-91]"), "{text}");
    assert!(text.contains("L?tstelle x2"));
}

#[test]
fn the_tightest_is_in_brackets_once_in_grid_and_table() {
    let text = tide_gauge().text(Scale::Celsius, 100, false);
    assert_eq!(text.matches("[●]").count(), 1, "{text}");
    assert_eq!(text.matches("[18]").count(), 1, "{text}");
    assert!(text.contains("B changes in step 5 from 183 to 95.3: lead in bismuth alloy"));
    assert!(text.contains("  5 set U4, air, peak 165 °C: holds"));
}

#[test]
fn a_joint_is_said_to_be_made_mixed_and_off() {
    let text = crowd(8, 12).text(Scale::Celsius, 100, false);
    assert!(row(&text, "B J2").contains("made") && row(&text, "B J2").contains("mixed"));
    assert!(row(&text, "C J3").contains("off"), "{text}");
}

#[test]
fn lines_lie_in_the_order_of_their_temperatures() {
    let text = tide_gauge().text(Scale::Celsius, 100, false);
    let at = |end: &str| text.lines().position(|line| line.ends_with(end));
    let order = [
        at("A 217"),
        at("mask 200"),
        at("C 183"),
        at("B 95.3"),
        at("in use 45"),
    ];
    assert!(
        order.iter().all(Option::is_some) && order.is_sorted(),
        "{order:?}\n{text}"
    );
}

#[test]
fn fahrenheit_is_said_in_full() {
    let text = tide_gauge().text(Scale::Fahrenheit, 100, false);
    assert!(text.contains("°F left up to the line") && text.contains("peak 329 °F"));
    assert!(
        text.contains("[32.4]") && text.contains("A 422.6"),
        "{text}"
    );
}

#[test]
fn hostile_text_and_wrong_places_do_no_harm() {
    let mut stairs = tide_gauge();
    stairs.title = "\u{1b}[2J\u{202E}evil\u{7}".to_owned();
    stairs.lines[0].joint = "\u{1b}]0;x\u{7}".to_owned();
    stairs.dots.push(sees(99, Over::Line(99), 100.0, 120.0));
    stairs.lines[0].segments[0].to_step = Some(77);
    stairs.lines[1].segments[0].from_step = Some(usize::MAX);
    stairs.tightest = Some(Tightest {
        step: 99,
        over: Over::Line(99),
    });
    let text = stairs.text(Scale::Celsius, 0, false);
    assert!(!text.contains(['\u{1b}', '\u{202E}', '\u{7}']));
    assert_fits(&text, 40);
    assert!(
        !Staircase::default()
            .text(Scale::Celsius, 100, false)
            .contains('0')
    );
}
