//! The alloy ladder, the melting curve and the sweep.

use meltstair::quantity::{Celsius, Share};
use meltstair::show::chart::{
    Bar, Curve, CurvePoint, Group, Ladder, Landmark, NeverMeet, Paper, Picture, Rect, Scale, Sweep,
    SweepMark, SweepPoint,
};

use crate::chart_tools::{assert_labels_apart, count, decoded, has};

const PAPERS: [Paper; 4] = [Paper::A4, Paper::A4Landscape, Paper::A3, Paper::A3Landscape];

fn ladder(alloys: i32) -> Ladder {
    let names = [
        "Sn96.5Ag3Cu0.5",
        "Sn63Pb37",
        "Bi58Sn42",
        "In52Sn48",
        "Bi49.1In20.9Pb17.9Sn11.6Cd0.5",
    ];
    let mut ladder = Ladder {
        title: "Alloys on our shelf".to_owned(),
        ..Ladder::default()
    };
    for at in 0..alloys {
        if at % 20 == 0 {
            ladder.groups.push(Group {
                name: format!("group {}", at / 20 + 1),
                rows: Vec::new(),
            });
        }
        let solidus = 320 - at * 260 / alloys;
        let bar = Bar {
            alloy: names[usize::try_from(at).expect("a number") % names.len()].to_owned(),
            solidus: Celsius::whole(solidus),
            liquidus: Celsius::whole(solidus + (at % 4) * 9),
            flags: match at % 5 {
                1 => vec!["lead".to_owned()],
                4 => vec![
                    "lead".to_owned(),
                    "cadmium".to_owned(),
                    "single_source".to_owned(),
                ],
                _ => Vec::new(),
            },
            note: if at % 3 == 0 {
                "for parts that must come off again some day".to_owned()
            } else {
                String::new()
            },
            in_stock: at % 5 == 2,
        };
        ladder.groups.last_mut().expect("a group").rows.push(bar);
    }
    ladder.never_meet = vec![NeverMeet {
        one: "Bi58Sn42".to_owned(),
        other: "Sn63Pb37".to_owned(),
        melts_at: Celsius::nearest(95.3),
        reason: "bismuth, lead and tin together".to_owned(),
    }];
    ladder.notes = vec!["Temperatures as planned with, not as printed on spools".to_owned()];
    ladder
}

#[test]
fn labels_of_a_ladder_never_overlap_on_any_paper() {
    for alloys in [1, 7, 30, 90, 170] {
        for paper in PAPERS {
            for scale in [Scale::Celsius, Scale::Fahrenheit] {
                assert_labels_apart(
                    &ladder(alloys).picture(paper, scale),
                    &format!("{alloys} on {paper:?}"),
                );
            }
        }
    }
}

#[test]
fn a_ladder_has_the_size_of_its_paper() {
    let svg = ladder(60)
        .picture(Paper::A4, Scale::Celsius)
        .svg()
        .expect("svg");
    assert!(
        svg.contains("width=\"210mm\" height=\"297mm\""),
        "{}",
        &svg[..300]
    );
    let pixels = decoded(
        &ladder(60)
            .picture(Paper::A4Landscape, Scale::Celsius)
            .png()
            .expect("png"),
    );
    // 297 mm at 192 pixels to the inch.
    assert_eq!(pixels.width, 2246);
}

#[test]
fn every_alloy_of_the_table_stands_on_the_ladder_with_its_numbers() {
    let data = ladder(170);
    let picture = data.picture(Paper::A3, Scale::Celsius);
    for bar in data.groups.iter().flat_map(|group| &group.rows) {
        let low = bar.solidus.degrees();
        let high = bar.liquidus.degrees();
        let range = if bar.solidus == bar.liquidus {
            format!("{low}")
        } else {
            format!("{low}–{high}")
        };
        assert!(has(&picture, &range), "{range}");
    }
    let rows = picture
        .texts()
        .into_iter()
        .filter(|text| text.text.contains("Sn"))
        .count();
    assert!(rows >= 170, "{rows}");
    assert_eq!(count(&picture, "group 3"), 1);
    assert!(has(&picture, "95.3 °C") && has(&picture, "Bi58Sn42 + Sn63Pb37"));
    assert!(has(&picture, "Cd") && count(&picture, "Cd: contains cadmium") == 1);
}

#[test]
fn letters_are_called_legible_only_where_they_are() {
    assert!(ladder(60).is_legible(Paper::A4));
    assert!(!ladder(170).is_legible(Paper::A4));
    assert!(ladder(170).is_legible(Paper::A3));
}

#[test]
fn a_ladder_is_written_into_its_pixels() {
    let picture = ladder(30).picture(Paper::A4, Scale::Celsius);
    let pixels = decoded(&picture.png().expect("png"));
    pixels.assert_letters(&picture, &["Cd"]);
}

/// Where the stroke of the solidus of the only bar lies, in units of the picture.
fn solidus_stroke(solidus: i32) -> f64 {
    let mut data = ladder(2);
    // One that melts at once, drawn as a diamond, holds the axis still.
    (
        data.groups[0].rows[0].solidus,
        data.groups[0].rows[0].liquidus,
    ) = (Celsius::whole(60), Celsius::whole(60));
    data.groups[0].rows[1].solidus = Celsius::whole(solidus);
    data.groups[0].rows[1].liquidus = Celsius::whole(250);
    let svg = data.picture(Paper::A4, Scale::Celsius).svg().expect("svg");
    let strokes: Vec<&str> = svg
        .lines()
        .filter(|line| line.contains("stroke=\"#1D446E\" stroke-width=\"8\""))
        .collect();
    assert_eq!(strokes.len(), 1, "{strokes:?}");
    let (_, points) = strokes[0].split_once("points=\"").expect("points");
    let (x, _) = points.split_once(',').expect("x,y");
    x.parse().expect("a number")
}

#[test]
fn a_bar_lies_where_its_temperatures_are() {
    let [a, b, c] = [200, 215, 230].map(solidus_stroke);
    assert!(a < b && b < c);
    // A unit is a quarter of a px: rounding moves each end by half of it at most.
    assert!(((b - a) - (c - b)).abs() <= 2.0, "{a} {b} {c}");
}

#[test]
fn hostile_alloy_names_are_text() {
    let mut data = ladder(12);
    data.groups[0].name = "<script>x</script>\u{202E}".to_owned();
    data.groups[0].rows[0].alloy = "</svg><b>&".to_owned();
    data.groups[0].rows[0].flags = vec!["\u{7}<i>".to_owned()];
    data.never_meet[0].reason = "<img src=x>".to_owned();
    let svg = data.picture(Paper::A4, Scale::Celsius).svg().expect("svg");
    assert!(
        !svg.contains("<script")
            && !svg.contains("<b>")
            && !svg.contains("<i")
            && !svg.contains('\u{202E}')
    );
    assert_eq!(svg.matches("</svg>").count(), 1);
}

fn curve() -> Curve {
    let point = |at: f64, liquid: f64| CurvePoint {
        at: Celsius::nearest(at),
        liquid: Share::nearest(liquid),
    };
    let mark = |name: &str, at: f64| Landmark {
        name: name.to_owned(),
        at: Celsius::nearest(at),
    };
    Curve {
        title: "Bi58Sn42 ball on a leaded film".to_owned(),
        line: "starts to melt at 95 °C, 4.9 % of it at once; flows at 142.8 °C".to_owned(),
        equilibrium: vec![
            point(95.3, 0.04),
            point(110.0, 0.05),
            point(130.0, 0.25),
            point(136.0, 0.95),
            point(140.7, 1.0),
        ],
        as_frozen: vec![
            point(95.3, 0.05),
            point(110.0, 0.06),
            point(130.0, 0.26),
            point(136.0, 0.95),
            point(140.7, 1.0),
        ],
        landmarks: vec![
            mark("first melt", 95.0),
            mark("solidus", 95.3),
            mark("flow", 142.8),
            mark("liquidus", 140.7),
        ],
        notes: vec!["Phase data class A".to_owned()],
    }
}

#[test]
fn a_curve_names_its_temperatures_without_overlap() {
    for scale in [Scale::Celsius, Scale::Fahrenheit] {
        assert_labels_apart(&curve().picture(scale), "curve");
    }
    let picture = curve().picture(Scale::Celsius);
    for text in [
        "first melt 95 °C",
        "solidus 95.3 °C",
        "flow 142.8 °C",
        "liquidus 140.7 °C",
        "as the joint froze",
        "100",
        "°C",
    ] {
        assert!(has(&picture, text), "`{text}` is missing");
    }
    decoded(&picture.png().expect("png")).assert_letters(&picture, &[]);
}

#[test]
fn below_its_first_point_a_curve_is_solid() {
    let svg = curve().picture(Scale::Celsius).svg().expect("svg");
    let paths: Vec<&str> = svg
        .lines()
        .filter(|line| line.contains("stroke=\"#1D446E\"") && line.contains("stroke-width=\"10\""))
        .collect();
    let curve = paths.last().expect("the equilibrium curve");
    let points: Vec<(f64, f64)> = curve
        .split("points=\"")
        .nth(1)
        .expect("points")
        .trim_end_matches("\"/>")
        .split_whitespace()
        .map(|pair| pair.split_once(',').expect("x,y"))
        .map(|(x, y)| (x.parse().expect("x"), y.parse().expect("y")))
        .collect();
    let (first, second) = (points[0], points[1]);
    assert!(
        (first.1 - second.1).abs() < 0.5 && second.0 > first.0,
        "flat at nothing, {points:?}"
    );
    assert!(
        (points[2].0 - second.0).abs() < 2.0 && points[2].1 < second.1,
        "then a jump, {points:?}"
    );
}

#[test]
fn an_empty_curve_and_an_odd_one_do_no_harm() {
    assert!(Curve::default().picture(Scale::Celsius).png().is_ok());
    assert!(Sweep::default().picture(Scale::Celsius).png().is_ok());
    let mut odd = curve();
    odd.equilibrium.truncate(1);
    odd.as_frozen.reverse();
    odd.landmarks.push(Landmark {
        name: "x".repeat(500),
        at: Celsius::whole(20_000),
    });
    assert!(odd.picture(Scale::Celsius).png().is_ok());
    assert_labels_apart(&odd.picture(Scale::Celsius), "odd");
}

#[test]
fn a_sweep_shows_temperatures_and_liquid_over_one_axis() {
    let point = |x: f64, melt: f64, liquid: f64| SweepPoint {
        x: Share::nearest(x),
        first_melt: Some(Celsius::nearest(melt)),
        solidus: Some(Celsius::nearest(melt + 1.0)),
        flow: Some(Celsius::nearest(150.0)),
        liquid: Some(Share::nearest(liquid)),
    };
    let mut sweep = Sweep {
        title: "Sn63Pb37 into Bi58Sn42".to_owned(),
        line: "from 0.5 % on it starts to melt at 95.3 °C".to_owned(),
        of: "Sn63Pb37 in Bi58Sn42".to_owned(),
        points: vec![
            point(0.0, 138.0, 0.01),
            point(0.1, 95.3, 0.1),
            point(0.45, 95.3, 0.5),
            point(0.6, 95.3, 0.2),
        ],
        marks: Vec::new(),
        notes: Vec::new(),
    };
    let picture = sweep.picture(Scale::Celsius);
    assert_labels_apart(&picture, "sweep");
    for text in [
        "first melt, as frozen",
        "solidus, in equilibrium",
        "flows",
        "mass % Sn63Pb37 in Bi58Sn42",
        "30",
        "50",
    ] {
        assert!(has(&picture, text), "`{text}` is missing");
    }
    assert!(
        picture
            .description()
            .contains("lowest first melt 95.3 °C at 10 %"),
        "{}",
        picture.description()
    );
    decoded(&picture.png().expect("png")).assert_letters(&picture, &[]);
    // What is not known is a gap, and what stands alone beside it a dot.
    let dots = |picture: &Picture| picture.svg().expect("svg").matches("<circle").count();
    assert_eq!(dots(&picture), 0);
    sweep.points[1].solidus = None;
    assert_eq!(dots(&sweep.picture(Scale::Celsius)), 1);
}

/// Where a few per cent decide, they have a field of their own, and each share with a name stands there.
#[test]
fn the_first_per_cents_of_a_sweep_are_drawn_wide() {
    let shares = [0.0, 0.0002, 0.001, 0.005, 0.01, 0.02, 0.05, 0.3, 0.6, 0.995];
    let sweep = Sweep {
        of: "Sn63Pb37 in Bi58Sn42".to_owned(),
        points: shares
            .map(|x| SweepPoint {
                x: Share::nearest(x),
                first_melt: Some(Celsius::whole(95)),
                solidus: None,
                flow: Some(Celsius::whole(150)),
                liquid: Some(Share::nearest(x / 2.0)),
            })
            .to_vec(),
        marks: [
            ("costs margin", 0.000_14),
            ("too much", 0.0099),
            ("as described", 0.4),
        ]
        .map(|(name, x)| SweepMark {
            name: name.to_owned(),
            x: Share::nearest(x),
        })
        .to_vec(),
        ..Sweep::default()
    };
    let picture = sweep.picture(Scale::Celsius);
    assert_labels_apart(&picture, "wide sweep");
    for text in [
        "costs margin 0.014 %",
        "too much 0.99 %",
        "as described 40 %",
        "mass % Sn63Pb37 in Bi58Sn42, the first 2 %",
        "all of it, mass %",
    ] {
        assert!(has(&picture, text), "`{text}` is missing");
    }
    assert!(picture.description().contains("too much 0.99 %"));
    decoded(&picture.png().expect("png")).assert_letters(&picture, &[]);
}

#[test]
fn rectangles_that_only_touch_do_not_overlap() {
    let one = Rect {
        left: 0.0,
        top: 0.0,
        right: 1.0,
        bottom: 1.0,
    };
    assert!(!one.overlaps(&Rect {
        left: 1.0,
        right: 2.0,
        ..one
    }));
    assert!(one.overlaps(&Rect {
        left: 0.9,
        right: 2.0,
        ..one
    }));
}
