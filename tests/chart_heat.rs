//! Heat map, temperature traces, and routes side by side.

use std::time::Duration;

use meltstair::quantity::{Celsius, KelvinStep, Length};
use meltstair::show::chart::{
    Footprint, Happening, HeatMap, Landmark, Mark, Placed, RouteBar, Routes, Scale, Trace,
    TracePoint, Traces,
};

use crate::chart_samples::{some_map, some_routes, some_traces};
use crate::chart_tools::{assert_labels_apart, count, decoded, has};

#[test]
fn a_map_names_its_places_with_what_they_see() {
    for scale in [Scale::Celsius, Scale::Fahrenheit] {
        assert_labels_apart(&some_map().picture(scale), "map");
    }
    let picture = some_map().picture(Scale::Celsius);
    for text in [
        "U4 215",
        "tails 143",
        "tails 181",
        "board 84 × 52 mm · dashes: under the tool",
        "°C",
    ] {
        assert!(
            has(&picture, text),
            "`{text}` is missing in {:?}",
            picture.texts()
        );
    }
    decoded(&picture.png().expect("png")).assert_letters(&picture, &[]);
    assert!(
        picture.description().contains("tails 143, holds"),
        "{}",
        picture.description()
    );
}

/// Vertical strokes of an isotherm: where a field that rises to the right passes a temperature.
#[test]
fn an_isotherm_lies_where_the_field_has_its_temperature() {
    let mm = |at: f64| Length::from_mm(at).expect("a length");
    let map = HeatMap {
        across: (0..=50).map(|at| mm(f64::from(at) * 2.0)).collect(),
        up: (0..=20).map(|at| mm(f64::from(at) * 2.0)).collect(),
        // 100 °C at the left edge, 200 °C at the right: 2 K in each column.
        cells: (0..20)
            .flat_map(|_| (0..50).map(|at| Celsius::whole(101 + 2 * at)))
            .collect(),
        isotherms: vec![Landmark {
            name: "tails".to_owned(),
            at: Celsius::whole(150),
        }],
        ..HeatMap::default()
    };
    let svg = map.picture(Scale::Celsius).svg().expect("svg");
    let xs: Vec<f64> = svg
        .lines()
        .filter(|line| line.contains("stroke=\"#1D446E\""))
        .flat_map(|line| {
            line.split("points=\"")
                .nth(1)
                .expect("points")
                .split([' ', '"'])
        })
        .filter_map(|pair| pair.split_once(',')?.0.parse().ok())
        .collect();
    assert!(xs.len() > 40);
    // The board begins at 30 px and is 620 px wide; four units a px; a cell of 2 mm is 50 units.
    let middle = (30.0 + 310.0) * 4.0;
    for x in xs {
        assert!((x - middle).abs() < 26.0, "{x} is not near {middle}");
    }
}

#[test]
fn the_map_lies_like_the_board_with_its_lower_left_corner_below() {
    let mut map = some_map();
    map.places.truncate(1);
    map.places[0].y = Length::from_mm(2.0).expect("a length");
    let place = |map: &HeatMap| {
        let texts = map.picture(Scale::Celsius).texts();
        let found = texts
            .iter()
            .find(|text| text.text.starts_with("U4"))
            .expect("U4");
        f64::midpoint(found.rect.top, found.rect.bottom)
    };
    let low = place(&map);
    map.places[0].y = Length::from_mm(48.0).expect("a length");
    assert!(place(&map) < low - 100.0);
}

#[test]
fn odd_maps_do_no_harm() {
    let mm = |at: f64| Length::from_mm(at).expect("a length");
    assert!(HeatMap::default().picture(Scale::Celsius).png().is_ok());
    let mut map = some_map();
    map.cells.truncate(100);
    map.places.push(Placed {
        name: "<b>\u{202E}".repeat(40),
        x: mm(9000.0),
        y: mm(0.0),
        at: None,
        reach: Some(mm(40.0)),
        mark: Mark::Unknown,
    });
    map.tool = Some(Footprint {
        across: (mm(500.0), mm(0.0)),
        up: (mm(0.0), mm(0.0)),
    });
    map.isotherms.push(Landmark {
        name: "nowhere".to_owned(),
        at: Celsius::whole(900),
    });
    map.up = vec![mm(0.0), mm(0.0)];
    let svg = map.picture(Scale::Celsius).svg().expect("svg");
    assert!(!svg.contains("<b>") && !svg.contains('\u{202E}'));
}

#[test]
fn traces_are_named_with_peak_and_verdict() {
    for scale in [Scale::Celsius, Scale::Fahrenheit] {
        assert_labels_apart(&some_traces().picture(scale), "traces");
    }
    let picture = some_traces().picture(Scale::Celsius);
    for text in [
        "U4",
        "peak 215.1 °C, holds",
        "U4: flows at 183",
        "tails, rim: must stay below 181",
        "air off",
        "s",
        "30",
    ] {
        assert!(
            has(&picture, text),
            "`{text}` is missing in {:?}",
            picture.texts()
        );
    }
    assert_eq!(count(&picture, "must stay below 95"), 1);
    decoded(&picture.png().expect("png")).assert_letters(&picture, &[]);
}

#[test]
fn many_traces_and_odd_ones_still_part_their_names() {
    let mut traces = some_traces();
    for copy in 0..30 {
        let mut trace = traces.traces[copy % 3].clone();
        trace.name = format!("joint {copy}");
        traces.traces.push(trace);
    }
    traces.traces.push(Trace {
        name: "empty".to_owned(),
        points: Vec::new(),
        first_melt: None,
        target: false,
        mark: Mark::Unknown,
    });
    traces.moments.push(Happening {
        name: "x".repeat(200),
        after: Duration::from_secs(90_000),
    });
    assert_labels_apart(&traces.picture(Scale::Celsius), "many traces");
    assert!(Traces::default().picture(Scale::Celsius).png().is_ok());
    let flat = TracePoint {
        after: Duration::ZERO,
        at: Celsius::whole(20),
        band: None,
    };
    traces.traces[0].points = vec![flat; 3];
    assert!(traces.picture(Scale::Celsius).png().is_ok());
}

#[test]
fn routes_say_what_is_left_and_what_it_costs() {
    for scale in [Scale::Celsius, Scale::Fahrenheit] {
        assert_labels_apart(&some_routes().picture(scale), "routes");
    }
    let picture = some_routes().picture(Scale::Celsius);
    for text in [
        "18 K",
        "−5.3 K",
        "not known",
        "holds, best",
        "165 °C",
        "tails in step 4",
        "75",
        "6 steps",
        "not known: glue under U4",
    ] {
        assert!(
            has(&picture, text),
            "`{text}` is missing in {:?}",
            picture.texts()
        );
    }
    assert_eq!(count(&picture, ", best"), 1);
    decoded(&picture.png().expect("png")).assert_letters(&picture, &[]);
}

#[test]
fn odd_routes_do_no_harm() {
    assert!(Routes::default().picture(Scale::Celsius).png().is_ok());
    let mut routes = some_routes();
    routes.best = Some(99);
    routes.routes.push(RouteBar {
        name: "<script>".repeat(30),
        mark: Mark::Unknown,
        margin: Some(KelvinStep::whole(-20_000)),
        weakest: "w".repeat(300),
        heats: u32::MAX,
        peak: Some(Celsius::whole(-200)),
        steps: usize::MAX,
        takes: Some(Duration::from_secs(u64::from(u32::MAX))),
        unknowns: vec!["u".repeat(300); 30],
    });
    let picture = routes.picture(Scale::Celsius);
    assert_labels_apart(&picture, "odd routes");
    assert!(!picture.svg().expect("svg").contains("<script"));
}
