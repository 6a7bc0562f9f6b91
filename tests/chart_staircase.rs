//! The staircase: geometry of the labels, what must be written, harmless text, honest bytes.

use std::collections::BTreeSet;
use std::sync::Arc;

use meltstair::alloy::AlloyBook;
use meltstair::bench::Setting;
use meltstair::job;
use meltstair::melt::MeltBook;
use meltstair::plan;
use meltstair::quantity::{Celsius, KelvinStep};
use meltstair::show::answer::Frame;
use meltstair::show::chart::{
    Basis, Dot, Drop, Mark, Over, Picture, Scale, Staircase, Tightest, Tread, TreadKind,
};

use meltstair::show::staircase;

use crate::chart_samples::{crowd, expose, life, sees, segment, tide_gauge, tread};
use crate::chart_tools::{assert_labels_apart, count, decoded, has};

/// A name that the font of a PNG lacks stands as a number, and that is said; one that it has stays.
#[test]
fn names_that_a_png_cannot_draw_become_numbers() {
    let tide_gauge = tide_gauge();
    assert_eq!(tide_gauge.drawable(), tide_gauge, "nothing to replace");
    let mut foreign = tide_gauge.clone();
    foreign.title = "לוח מד".to_owned();
    foreign.line = "holds, 9 K left: קצה in step 接合".to_owned();
    foreign.lines[1].joint = "קצה".to_owned();
    foreign.steps[2].id = "接合".to_owned();
    let drawn = foreign.drawable();
    assert_eq!(drawn.lines[1].joint, "joint 2");
    assert_eq!(drawn.steps[2].id, "step 3");
    assert_eq!(drawn.line, "holds, 9 K left: joint 2 in step 3");
    assert_eq!(drawn.title, "…");
    assert_eq!(drawn.lines[0], foreign.lines[0]);
    assert!(
        drawn.notes.iter().any(|note| note.contains("scripts")),
        "{:?}",
        drawn.notes
    );
}

#[test]
fn labels_never_overlap_with_eight_joints_in_twelve_steps() {
    assert_labels_apart(&crowd(8, 12).picture(Scale::Celsius), "8 × 12");
}

#[test]
fn labels_never_overlap_with_twenty_joints_in_twenty_four_steps() {
    assert_labels_apart(&crowd(20, 24).picture(Scale::Celsius), "20 × 24");
    assert_labels_apart(&crowd(20, 24).picture(Scale::Fahrenheit), "20 × 24 in °F");
}

#[test]
fn labels_never_overlap_in_any_smaller_crowd() {
    for joints in 1..=9 {
        for steps in [5, 6, 9, 13, 17] {
            assert_labels_apart(
                &crowd(joints, steps).picture(Scale::Celsius),
                &format!("{joints} × {steps}"),
            );
        }
    }
    assert_labels_apart(&tide_gauge().picture(Scale::Celsius), "tide gauge");
}

#[test]
fn every_margin_of_eight_joints_in_twelve_steps_is_printed() {
    let stairs = crowd(8, 12);
    let picture = stairs.picture(Scale::Celsius);
    assert_eq!(count(&picture, "not printed"), 0);
    // A label may stand for several dots, and the tightest is on the plate.
    let columns: BTreeSet<(usize, String)> = stairs
        .dots
        .iter()
        .filter_map(|dot| Some((dot.step, format!("{:?}", dot.margin?))))
        .collect();
    let numbers = picture
        .texts()
        .iter()
        .filter(|text| text.rect.top < 560.0)
        .count();
    assert!(
        numbers >= columns.len(),
        "{numbers} labels for {} different margins",
        columns.len()
    );
}

#[test]
fn the_tightest_place_is_called_out_once_with_number_place_and_step() {
    let picture = tide_gauge().picture(Scale::Celsius);
    assert_eq!(count(&picture, "tightest"), 1);
    assert!(has(&picture, "tightest: 18 K left"));
    assert!(has(&picture, "jumper ends, step 5"));
    assert!(
        picture
            .description()
            .contains("tightest: 18 K left: jumper ends in step 5")
    );
}

#[test]
fn a_joint_that_melts_is_said_in_words_and_never_called_left() {
    let picture = crowd(8, 12).picture(Scale::Celsius);
    assert_eq!(count(&picture, "left") - count(&picture, "kelvins left"), 0);
    assert!(
        count(&picture, "too hot: melts") == 1,
        "{:?}",
        picture.texts()
    );
}

#[test]
fn the_words_of_the_job_are_all_there() {
    let picture = tide_gauge().picture(Scale::Celsius);
    for text in [
        "Tide gauge logger, torn pads under the pump driver",
        "holds: 18 K left, jumper ends in step 5 (chip down at 165 °C)",
        "183 → 95.3",
        "lead in bismuth alloy",
        "in use up to 45 °C",
        "mask 200",
        "217–220 °C, Sn96.5Ag3Cu0.5",
        "165",
        "203",
        "set U4",
        "°C",
        "100",
    ] {
        assert!(has(&picture, text), "`{text}` is missing");
    }
}

#[test]
fn fahrenheit_changes_every_number_and_no_place_in_time() {
    let picture = tide_gauge().picture(Scale::Fahrenheit);
    for text in [
        "tightest: 32.4 °F left",
        "361.4 → 203.5",
        "in use up to 113 °F",
        "mask 392",
        "329",
        "°F",
    ] {
        assert!(has(&picture, text), "`{text}` is missing");
    }
    assert!(
        !picture
            .texts()
            .iter()
            .any(|placed| placed.text.contains("°C") && !placed.text.starts_with("holds:"))
    );
}

/// The vertical place of a number on the axis; the text ends left of the field.
fn tick(picture: &Picture, number: &str) -> f64 {
    let texts = picture.texts();
    let found = texts
        .iter()
        .find(|placed| placed.text == number && placed.rect.right < 50.0);
    let rect = found.expect("a tick").rect;
    f64::midpoint(rect.top, rect.bottom)
}

#[test]
fn the_axis_is_one_even_scale_that_begins_below_everything() {
    let picture = tide_gauge().picture(Scale::Celsius);
    let (a, b, c) = (
        tick(&picture, "25"),
        tick(&picture, "125"),
        tick(&picture, "225"),
    );
    assert!(a > b && b > c);
    assert!(((a - b) - (b - c)).abs() < 1e-6);
    assert!(
        !has(&picture, "0"),
        "the axis does not begin at nothing when nothing is there"
    );
}

#[test]
fn an_unknown_line_lies_in_a_lane_below_the_field_and_is_never_drawn_as_a_temperature() {
    let mut stairs = tide_gauge();
    stairs.lines[0].segments[0].first_melt = None;
    stairs.lines[0].segments[0].flow = None;
    stairs.lines[0].segments[0].basis = Basis::Unknown;
    stairs.dots.clear();
    expose(&mut stairs, 25.0, |_, _| 0.5);
    let picture = stairs.picture(Scale::Celsius);
    let texts = picture.texts();
    let name = texts
        .iter()
        .find(|placed| placed.text == "melts where?, Sn96.5Ag3Cu0.5")
        .expect("a name");
    assert!(name.rect.top > tick(&picture, "25"));
    assert!(count(&picture, "not known") > 0);
    assert_labels_apart(&picture, "unknown");
}

#[test]
fn a_floor_says_that_it_is_one() {
    let mut stairs = tide_gauge();
    stairs.lines[1].segments[1].basis = Basis::Floor;
    assert_eq!(count(&stairs.picture(Scale::Celsius), "≥ 95.3–146.6 °C"), 1);
}

#[test]
fn an_estimate_is_drawn_as_a_band() {
    let mut stairs = tide_gauge();
    let sharp = stairs.picture(Scale::Celsius).svg().expect("a picture");
    stairs.dots[0].band = Some((Celsius::whole(80), Celsius::whole(120)));
    let band = stairs.picture(Scale::Celsius).svg().expect("a picture");
    assert_eq!(band.matches("opacity=\"0.28\"").count(), 1);
    assert_eq!(sharp.matches("opacity=\"0.28\"").count(), 0);
}

#[test]
fn what_is_done_is_parted_from_what_is_planned() {
    let mut stairs = tide_gauge();
    for step in &mut stairs.steps[..3] {
        step.done = true;
    }
    let picture = stairs.picture(Scale::Celsius);
    assert!(has(&picture, "to do") && has(&picture, "iron, done"));
    assert_labels_apart(&picture, "half done");
}

#[test]
fn a_step_whose_target_does_not_flow_says_so() {
    let mut stairs = tide_gauge();
    stairs.steps[4].mark = Mark::DoesNotFlow;
    stairs.steps[4].must_reach = Some(Celsius::whole(172));
    assert!(has(&stairs.picture(Scale::Celsius), "does not flow"));
}

#[test]
fn hostile_names_are_shown_as_text_and_never_run() {
    let mut stairs = tide_gauge();
    let evil = "</text><script>alert(1)</script><b \u{202E}onload='x'\u{0}\u{7}&amp; ]]>";
    stairs.title = evil.to_owned();
    stairs.line = evil.to_owned();
    stairs.notes = vec![evil.to_owned()];
    stairs.steps[0].label = evil.to_owned();
    stairs.steps[0].tool = evil.to_owned();
    stairs.lines[0].joint = evil.to_owned();
    stairs.lines[0].segments[0].alloy = evil.to_owned();
    stairs.lines[1].drops[0].reason = evil.to_owned();
    stairs.ceilings[0].name = evil.to_owned();
    stairs.tightest = Some(Tightest {
        step: 3,
        over: Over::Line(0),
    });
    let picture = stairs.picture(Scale::Celsius);
    let svg = picture.svg().expect("a picture");
    assert!(!svg.contains("<script") && !svg.contains("<b "));
    assert!(!svg.contains(['\u{202E}', '\u{0}', '\u{7}']));
    assert!(svg.contains("&lt;script&gt;"));
    assert!(svg.contains("&lt;U+202E&gt;"));
    assert_eq!(svg.matches('<').count(), svg.matches('>').count());
    assert_labels_apart(&picture, "hostile");
    assert!(picture.png().is_ok());
}

#[test]
fn very_long_names_are_cut_and_stay_inside() {
    let mut stairs = crowd(8, 12);
    for line in &mut stairs.lines {
        line.joint = format!(
            "{} under the second manual of the great organ console",
            line.joint
        );
    }
    for step in &mut stairs.steps {
        step.label = "Donaudampfschifffahrtskapitänsmützenlötung with hot air from below and above"
            .to_owned();
    }
    stairs.title = "x".repeat(400);
    stairs.line = "y ".repeat(400);
    assert_labels_apart(&stairs.picture(Scale::Celsius), "long names");
}

#[test]
fn data_that_point_nowhere_are_not_drawn_and_do_no_harm() {
    let mut stairs = tide_gauge();
    stairs.tightest = Some(Tightest {
        step: 99,
        over: Over::Line(99),
    });
    stairs.dots.push(sees(99, Over::Line(99), 100.0, 120.0));
    stairs.dots.push(sees(1, Over::Ceiling(99), 100.0, 120.0));
    stairs.lines[0].segments[0].to_step = Some(77);
    stairs.lines[0].drops.push(Drop {
        at_step: 50,
        from: None,
        to: None,
        reason: String::new(),
    });
    stairs.ceilings[0].from_step = Some(usize::MAX);
    assert!(stairs.picture(Scale::Celsius).png().is_ok());
    let empty = Staircase::default().picture(Scale::Celsius);
    assert!(empty.png().is_ok() && empty.svg().is_ok());
}

#[test]
fn a_job_of_hundreds_of_steps_is_still_a_picture_or_a_clear_error() {
    let picture = crowd(12, 300).picture(Scale::Celsius);
    let (width, _) = picture.size();
    assert!(width < 4000.0);
    assert!(picture.png().is_ok());
}

#[test]
fn temperatures_far_out_do_not_break_the_scale() {
    let mut stairs = tide_gauge();
    stairs.steps[0].peak = Some(Celsius::whole(20_000));
    stairs.dots.push(Dot {
        at: Celsius::whole(-273),
        ..sees(1, Over::Line(0), 0.0, 217.0)
    });
    let picture = stairs.picture(Scale::Celsius);
    assert!(
        picture.texts().len() < 80,
        "a tick for every 25 K is too many"
    );
    assert!(picture.png().is_ok());
}

#[test]
fn the_same_job_gives_the_same_bytes() {
    let (one, other) = (
        crowd(8, 12).picture(Scale::Celsius),
        crowd(8, 12).picture(Scale::Celsius),
    );
    assert_eq!(one.svg().expect("svg"), other.svg().expect("svg"));
    assert_eq!(one.png().expect("png"), other.png().expect("png"));
}

#[test]
fn the_svg_fits_any_page_and_can_be_read_aloud() {
    let svg = tide_gauge()
        .picture(Scale::Celsius)
        .svg()
        .expect("a picture");
    assert!(
        svg.starts_with("<svg xmlns=\"http://www.w3.org/2000/svg\" role=\"img\" viewBox=\"0 0 ")
    );
    assert!(svg.contains("<title>Tide gauge logger, torn pads under the pump driver</title>"));
    assert!(svg.contains("<desc>holds: 18 K left"));
    assert!(svg.contains(">tightest: 18 K left</text>"));
    assert!(svg.contains("Step 5, set U4: peak 165 °C, holds"));
    assert!(svg.trim_end().ends_with("</svg>"));
}

#[test]
fn the_png_has_letters_where_the_layout_says_density_and_title() {
    let stairs = tide_gauge();
    let picture = stairs.picture(Scale::Celsius);
    let pixels = decoded(&picture.png().expect("a PNG"));
    pixels.assert_letters(&picture, &["tightest: 18 K left", "jumper ends, step 5"]);
    let density = pixels.density.expect("a density");
    assert_eq!((density.xppu, density.yppu), (7559, 7559));
    assert_eq!(pixels.titles, [stairs.title]);
    let (width, _) = picture.size();
    assert!((pixels.width as f64 - width * 2.0).abs() <= 1.0);
}

#[test]
fn a_small_margin_still_shows_its_frame_and_its_number() {
    for margin in [0.0, 0.4, 2.0, 5.0] {
        let mut stairs = Staircase {
            title: "Bat recorder".to_owned(),
            steps: vec![
                tread(1, "solder rim", 240, "air"),
                Tread {
                    kind: TreadKind::Removal,
                    ..tread(2, "lift U2", 212, "air")
                },
            ],
            lines: vec![life(
                "rim",
                vec![segment(Some(0), None, "Sn96.5Ag3Cu0.5", 217.0, 220.0)],
            )],
            ..Staircase::default()
        };
        stairs
            .dots
            .push(sees(1, Over::Line(0), 217.0 - margin, 217.0));
        stairs.tightest = Some(Tightest {
            step: 1,
            over: Over::Line(0),
        });
        let picture = stairs.picture(Scale::Celsius);
        assert_labels_apart(&picture, "small margin");
        assert_eq!(count(&picture, "tightest:"), 1, "margin {margin}");
    }
}

/// Between two lines that lie close together a bare number would not say which of them it is about.
#[test]
fn what_is_wrong_or_near_names_its_joint_beside_the_number() {
    let mut stairs = Staircase {
        steps: vec![
            tread(1, "set U2", 203, "air"),
            tread(2, "set U3", 203, "air"),
        ],
        ..Staircase::default()
    };
    for (joint, melts) in [("plug", 181.0), ("coil", 176.0)] {
        stairs.lines.push(life(
            joint,
            vec![segment(None, None, "Sn63Pb37", melts, 191.0)],
        ));
    }
    stairs.dots.push(sees(0, Over::Line(1), 178.7, 176.0));
    stairs.dots.push(sees(1, Over::Line(0), 160.0, 181.0));
    let picture = stairs.picture(Scale::Celsius);
    assert!(has(&picture, "coil melts −2.7"), "{:?}", picture.texts());
    assert!(has(&picture, "plug 21 K"), "{:?}", picture.texts());
}

/// A reader takes a name for that of the nearest line: of two lines 5 K apart, each has its name on its
/// own side.
#[test]
fn a_name_lies_nearest_to_its_own_line() {
    let text = include_str!("jobs/lines_close_together.yaml");
    let read = job::read(text, "job.yaml", AlloyBook::shipped());
    let job = read.unwrap_or_else(|why| panic!("{why}")).job;
    let melts = MeltBook::new(Arc::new(AlloyBook::shipped().clone()), Vec::new());
    let setting = Setting::new(&job, &melts);
    let checked = plan::check(&setting, &plan::as_written(&job).plan);
    let stairs = staircase::of(&setting, &checked, &Frame::default());
    let picture = stairs.picture(Scale::Celsius);
    let begins = |name: &str| {
        let all = picture.texts();
        let of_name = all.iter().filter(|text| text.text == name);
        let left = of_name
            .map(|text| text.rect)
            .min_by(|a, b| a.left.total_cmp(&b.left));
        let rect = left.unwrap_or_else(|| panic!("`{name}` at the beginning of its line"));
        assert!(rect.left < 150.0, "{name}: {rect:?}");
        f64::midpoint(rect.top, rect.bottom)
    };
    for (upper, lower) in [("rim", "coil"), ("strap", "socket")] {
        let (upper, lower) = (begins(upper), begins(lower));
        assert!(
            lower - upper > 15.0,
            "{upper} {lower} {:?}",
            picture.texts()
        );
    }
}

#[test]
fn only_alike_dots_share_a_number() {
    let mut stairs = Staircase {
        steps: vec![tread(1, "set U2", 165, "air")],
        ..Staircase::default()
    };
    for joint in ["a", "b", "c"] {
        stairs.lines.push(life(
            joint,
            vec![segment(None, None, "Sn63Pb37", 183.0, 183.0)],
        ));
    }
    for (line, at) in [(0, 150.0), (1, 150.0), (2, 151.0)] {
        stairs.dots.push(Dot {
            margin: Some(KelvinStep::whole(33)),
            ..sees(0, Over::Line(line), at, 183.0)
        });
    }
    let picture = stairs.picture(Scale::Celsius);
    assert!(
        has(&picture, "33 K ×2") && has(&picture, "c 33 K"),
        "{:?}",
        picture.texts()
    );
}

#[test]
fn a_small_picture_is_small_and_still_says_where_it_is_tightest() {
    for stairs in [tide_gauge(), crowd(8, 12), crowd(20, 24)] {
        let picture = stairs.small_picture(Scale::Celsius);
        assert_labels_apart(&picture, "small");
        assert_eq!(count(&picture, ", step "), 1, "the call-out");
        let (width, height) = picture.size();
        assert!(width < 740.0 && height < 400.0, "{width} × {height}");
    }
    let picture = tide_gauge().small_picture(Scale::Celsius);
    assert!(has(&picture, "tightest: 18 K left") && has(&picture, "183 °C"));
    assert!(
        !has(&picture, "94") && !has(&picture, "set U4"),
        "the text beside it says that"
    );
}
