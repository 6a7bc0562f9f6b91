//! Tools and helps besides a round nozzle and one iron: tweezers, nozzles that are not round, shields, stages, ramps.

use std::f64::consts::PI;
use std::ffi::OsString;

use meltstair::cli::{Around, run};
use meltstair::heat::Stack;
use meltstair::heat::mesh::Mesh;
use meltstair::heat::sheet::{Cell, Sheet};
use meltstair::quantity::{Length, Share};
use serde_json::Value;

/// Exit code and what is said of a job.
fn said(args: &[&str], text: &str) -> (u8, String) {
    let folder = tempfile::tempdir().expect("a folder");
    let job = folder.path().join("job.yaml");
    std::fs::write(&job, text).expect("written");
    let around = Around {
        width: 140,
        own_alloys: None,
        score: None,
    };
    let path = job.to_string_lossy().into_owned();
    let (verb, more) = args.split_first().expect("a verb");
    let mut all = vec!["meltstair"];
    let json = more.contains(&"--json");
    all.extend(json.then_some("--json"));
    all.extend([*verb, &path]);
    all.extend(more.iter().filter(|word| **word != "--json"));
    let all: Vec<OsString> = all.into_iter().map(OsString::from).collect();
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let code = run(all, &around, &mut out, &mut err);
    out.extend(err);
    (code, String::from_utf8(out).expect("text"))
}

fn heat(text: &str) -> Value {
    let (code, told) = said(&["heat", "go", "--json"], text);
    assert!(code < 2 || code == 3, "{code}: {told}\n{text}");
    serde_json::from_str(&told).expect("JSON")
}

/// A number of one place.
fn of(heat: &Value, place: &str, key: &str) -> Option<f64> {
    let places = heat["places"].as_array().expect("places");
    let found = places.iter().find(|p| p["of"] == place);
    found.unwrap_or_else(|| panic!("{place}: {heat}"))[key].as_f64()
}

const BOARD: &str =
    "board: {size_mm: [60, 40], thickness_mm: 1.0, layers: 4, copper_um: 35, coverage: 0.3}";

/// A chip of two joints 4 mm apart, taken off, with neighbours at 6, 10 and 20 mm.
fn two_joints(tool: &str) -> String {
    format!(
        "job: two tips, invented\n{BOARD}\n\
         parts: [{{id: chip, on: pads, dry: true, limit_c: 300}}]\n\
         joints:\n  - {{id: pads, count: 2, alloy: Sn63Pb37, mg: 0.5, at_mm: [30, 20], reach_mm: 2}}\n\
         \x20 - {{id: n6, alloy: Sn63Pb37, mg: 0.5, at_mm: [36, 20]}}\n\
         \x20 - {{id: n10, alloy: Sn63Pb37, mg: 0.5, at_mm: [30, 30]}}\n\
         \x20 - {{id: n20, alloy: Sn63Pb37, mg: 0.5, at_mm: [50, 20]}}\n\
         steps:\n  - {{id: go, do: remove, part: chip, tool: {tool}, k: {{}}, seconds: 6, set_c: 330, tip_mm: 1, contact_k_w: 6}}\n"
    )
    .replace(" k: {},", "")
}

/// Two tips at the ends of the chip, put together here cell by cell: no neighbour gets hotter than what is
/// counted, nor than what is likely, since the heat is counted all over the chip.
#[test]
fn two_tips_heat_no_neighbour_beyond_what_is_counted() {
    let heat = heat(&two_joints("tweezers"));
    let stack = Stack::new(
        Length::from_mm(1.0).unwrap(),
        4,
        Length::from_mm(0.035).unwrap(),
        Share::new(0.3).unwrap(),
    )
    .unwrap();
    let radius = 0.5e-3;
    let film = 1.0 / (6.0 * PI * radius * radius);
    let (room, tip) = (298.15, 603.15);
    let rays = 2.0 * 0.9 * 5.670_374_419e-8;
    let mut board = Sheet::new(&Mesh::even(0.06, 0.04, 240, 160), room, room, |x, y| {
        // The share of the cell below a tip, by sixteen points a side.
        let mut below = 0.0;
        for i in 0..16 {
            for j in 0..16 {
                let at = |span: (f64, f64), k: u32| {
                    span.0 + (span.1 - span.0) * (f64::from(k) + 0.5) / 16.0
                };
                let (px, py) = (at(x, i), at(y, j));
                let under = [0.028, 0.032]
                    .iter()
                    .any(|tip_x| (px - tip_x).hypot(py - 0.02) <= radius);
                below += if under { 1.0 / 256.0 } else { 0.0 };
            }
        }
        Cell {
            sheet_w_k: stack.along_w_mk() * 1e-3,
            store_j_m2k: stack.areal_j_m2k(),
            film_w_m2k: 16.0 + below * film,
            drive_w_m2: 16.0 * room + below * film * tip,
            rays_w_m2k4: rays,
        }
    });
    // Twice the time of one tip: a step with two joints is counted as if the tool came twice.
    for _ in 0..240 {
        board.step(0.05);
    }
    for (place, x, y) in [
        ("n6", 0.036, 0.02),
        ("n10", 0.03, 0.03),
        ("n20", 0.05, 0.02),
    ] {
        let really = board.at(x, y) - 273.15;
        let counted = of(&heat, place, "counted_c").expect("counted");
        assert!(counted >= really, "{place}: {counted} {really}");
        assert!(really > 25.5, "{place}: {really}");
    }
    assert_eq!(heat["stops_at_peak"], false);
    // Both tips lie in the circle: 4 mm from joint to joint, and half a tip on either side.
    let set_up = heat["set_up"].as_str().expect("a line");
    assert!(set_up.contains("counted all over 5 mm"), "{set_up}");
}

/// Neighbours see more of tweezers than of an iron at the same place; the target is no surer to flow.
#[test]
fn tweezers_are_bounded_from_either_side() {
    let (tweezers, iron) = (heat(&two_joints("tweezers")), heat(&two_joints("iron")));
    for place in ["n6", "n10", "n20"] {
        let counted = |heat: &Value| of(heat, place, "counted_c");
        assert!(counted(&tweezers) >= counted(&iron), "{place}");
        assert!(
            of(&tweezers, place, "counted_c") >= of(&tweezers, place, "t_c"),
            "{place}"
        );
    }
    for key in ["t_c", "low_c", "high_c"] {
        assert_eq!(tweezers["target"][key], iron["target"][key], "{key}");
    }
    // The circle is one iron as wide as it, with as much film below: 6 K/W over 1 mm are 0.24 over 5.
    let circle = two_joints("iron")
        .replace("reach_mm: 2", "reach_mm: 0")
        .replace("tip_mm: 1, contact_k_w: 6", "tip_mm: 5, contact_k_w: 0.24");
    let circle = heat(&circle);
    for place in ["n6", "n10", "n20"] {
        let counted = |heat: &Value| of(heat, place, "counted_c").expect("counted");
        assert!(
            (counted(&tweezers) - counted(&circle)).abs() < 0.05,
            "{place}"
        );
    }
    // A body of known height keeps no tip off its joints.
    let tall = "limit_c: 300, at_mm: [30, 20], size_mm: [3.4, 2, 1.5], mass_mg: 40";
    let tall = heat(&two_joints("tweezers").replace("limit_c: 300", tall));
    for place in ["n6", "n10", "n20"] {
        assert_eq!(
            of(&tall, place, "counted_c"),
            of(&tweezers, place, "counted_c"),
            "{place}"
        );
    }
    let at = |heat: &Value| heat["target"]["t_c"].as_f64().expect("known");
    assert!(at(&tall) < at(&tweezers) && at(&tall) > 0.6 * at(&tweezers));
    // Nobody says how far the joints lie apart: nothing is known.
    let (_, told) = said(
        &["heat", "go"],
        &two_joints("tweezers").replace(", reach_mm: 2", ""),
    );
    assert!(
        told.contains("tool, preheat and room of `go` do not go together"),
        "{told}"
    );
}

fn nozzle(mm: &str) -> String {
    format!(
        "job: a nozzle, invented\n{BOARD}\n\
         parts: [{{id: chip, balls: {{count: 49, diameter_um: 300, alloy: Bi58Sn42}}, on: site, dry: true, limit_c: 300, at_mm: [30, 20], size_mm: [8, 8, 1]}}]\n\
         joints:\n  - {{id: site, at: chip, pad_um: 300}}\n\
         \x20 - {{id: corner, alloy: Sn63Pb37, mg: 0.5, at_mm: [36.1, 26.1]}}\n\
         \x20 - {{id: n15, alloy: Sn63Pb37, mg: 0.5, at_mm: [45, 20]}}\n\
         \x20 - {{id: n25, alloy: Sn63Pb37, mg: 0.5, at_mm: [55, 20]}}\n\
         steps:\n  - {{id: go, do: remove, part: chip, tool: air, seconds: 60, set_c: 300, preheat_c: 100, nozzle_mm: {mm}, flow_l_min: 40, standoff_mm: 20}}\n"
    )
}

/// A square of 14 mm: as the round one of its area, 15.8 mm across, and its corners 2 mm farther out.
#[test]
fn a_square_nozzle_reaches_as_far_as_its_corners() {
    let (square, round) = (heat(&nozzle("[14, 14]")), heat(&nozzle("15.797308")));
    // 8.6 mm off: beside the round one, below the corner of the square one.
    assert!(of(&round, "corner", "counted_c").is_some());
    assert_eq!(of(&square, "corner", "counted_c"), None);
    for place in ["n15", "n25"] {
        let counted = |heat: &Value| of(heat, place, "counted_c").expect("counted");
        assert!(counted(&square) > counted(&round) + 0.1, "{place}");
    }
    // Two equal sides in a list are a square, one number is a bore.
    let (list, bore) = (heat(&nozzle("[14]")), heat(&nozzle("14")));
    assert_eq!(list["places"], bore["places"]);
    let (code, told) = said(&["check"], &nozzle("[14, 14, 3]"));
    assert!(
        code == 2 && told.contains("`nozzle_mm` holds 3 numbers: want 1 or 2"),
        "{told}"
    );
    let (code, told) = said(&["check"], &nozzle("[14, 140]"));
    assert!(
        code == 2 && told.contains("140 after `nozzle_mm` is out of range"),
        "{told}"
    );
}

#[test]
fn a_shield_lowers_what_is_likely_and_nothing_that_counts() {
    let bare = nozzle("8");
    let with = bare.replace("nozzle_mm", "shielded: [n15, chip], nozzle_mm");
    let (bare, with) = (heat(&bare), heat(&with));
    let likely = |heat: &Value, key: &str| of(heat, "n15", key).expect("known");
    // Half of 8.2 % of the rise over 100 °C, and all of it at the cool edge.
    let less = |key: &str, share: f64| {
        let rise = likely(&bare, key) - 100.0;
        let want = likely(&bare, key) - share * rise;
        assert!((likely(&with, key) - want).abs() < 0.01, "{key}");
    };
    less("t_c", 0.041);
    less("low_c", 0.082);
    less("high_c", 0.0);
    for place in ["n15", "n25", "corner", "body of chip"] {
        assert_eq!(
            of(&bare, place, "counted_c"),
            of(&with, place, "counted_c"),
            "{place}"
        );
        assert!(
            of(&with, place, "counted_c") >= of(&with, place, "t_c"),
            "{place}"
        );
    }
    let shielded = |place: &str| {
        let places = with["places"].as_array().expect("places");
        places.iter().find(|p| p["of"] == place).expect("there")["shielded"] == true
    };
    assert!(shielded("n15") && shielded("body of chip") && !shielded("n25"));
}

/// By the field. Beside an iron it is the board that heats a part; in a stream its body counts as hot as the air at once.
#[test]
fn the_field_says_how_fast_a_part_is_heated() {
    let verdict = |text: &str, on: &str, most: &str| {
        let cap = format!(
            "parts: [{{id: cap, on: {on}, dry: true, limit_c: 320, size_mm: [1.6, 0.8, 0.8], ramp_k_s: {most}}}, "
        );
        let (_, told) = said(&["check", "--json"], &text.replace("parts: [", &cap));
        let told: Value = serde_json::from_str(&told).expect("JSON");
        let found = told["findings"].as_array().expect("findings");
        let ramp = found.iter().find(|f| f["rule"] == "ramp");
        ramp.map_or("holds".to_owned(), |f| {
            f["verdict"].as_str().unwrap_or_default().to_owned()
        })
    };
    // As it stands, an iron heats its neighbours by less than 50 K: longer, they go on.
    let iron = two_joints("iron").replace("seconds: 6", "seconds: 60");
    assert_eq!(verdict(&iron, "n6", "0.2"), "limit");
    assert_eq!(verdict(&iron, "n6", "100"), "holds");
    assert_eq!(verdict(&iron, "n20", "0.1"), "limit");
    assert_eq!(verdict(&iron, "n20", "100"), "holds");
    assert_eq!(verdict(&nozzle("8"), "corner", "20"), "limit");
    // Where it is not said how large it is, it is not in the field.
    let text = nozzle("8").replace(
        "parts: [",
        "parts: [{id: cap, on: corner, dry: true, limit_c: 320, ramp_k_s: 100}, ",
    );
    let (_, told) = said(&["check"], &text);
    assert!(
        told.contains("cap bears 100 K/s, and nobody knows how fast"),
        "{told}"
    );
}

const STAGES: &str = "stages: [{to_c: 150, seconds: 90}, {to_c: 170, seconds: 60}, {to_c: 230, seconds: 30}, {to_c: 50, seconds: 90}]";

fn staged(more: &str) -> String {
    format!(
        "job: stages, invented\n\
         readings: {{Sn63Pb37: [183, 183]}}\n\
         parts: [{{id: chip, balls: {{count: 49, diameter_um: 300, alloy: Sn63Pb37}}, on: site, dry: true, limit_c: 250}}]\n\
         joints:\n  - {{id: site, at: chip, pad_um: 300}}\n\
         \x20 - {{id: near, alloy: Sn63Pb37, mg: 0.5, must: may_melt}}\n\
         \x20 - {{id: far, alloy: Sn63Pb37, mg: 0.5}}\n\
         steps:\n  - {{id: go, do: remove, part: chip, tool: air, {more}}}\n"
    )
}

/// By hand: 125 K in 90 s; the target is above 183 °C for 47 K at 2 K/s and 47 K down at 2 K/s; a neighbour that sees
/// 0.9 of the rise over 100 °C is at 183 with the target at 192.2: 37.8 K up and down. All of it is lead-tin, 183 °C.
#[test]
fn stages_tell_how_long_each_neighbour_is_above_its_first_melt() {
    let text = staged(&format!(
        "preheat_c: 100, k: {{near: 0.9, far: 0.2}}, {STAGES}"
    ));
    let told = heat(&text);
    let stages = told["stages"].as_array().expect("stages");
    let ramps: Vec<f64> = stages
        .iter()
        .map(|s| s["ramp_k_s"].as_f64().unwrap())
        .collect();
    assert_eq!(ramps, [1.389, 0.334, 2.0, 2.0]);
    let near = |a: &Value, want: f64| (a["above"]["s"].as_f64().unwrap() - want).abs() < 0.1;
    let first_melt = told["places"][0]["first_melt_or_limit_c"].as_f64().unwrap();
    let must = told["target"]["must_reach_c"].as_f64().unwrap();
    assert!(near(&told["target"], 230.0 - must), "{told}");
    let level = 100.0 + (first_melt - 100.0) / 0.9;
    assert!(near(&told["places"][0], 230.0 - level), "{told}");
    assert!(near(&told["places"][1], 0.0), "{told}");
    let (_, text_told) = said(&["heat", "go"], &text);
    assert!(
        text_told.contains("1.39 K/s") && text_told.contains("never"),
        "{text_told}"
    );
    // Without a cooling stage it goes on.
    let open = text.replace(", {to_c: 50, seconds: 90}", "");
    assert_eq!(heat(&open)["places"][0]["above"]["and_on"], true);
    let (code, told) = said(&["heat", "go", "--map", "x.svg"], &text);
    assert!(code == 2 && told.contains("states its `stages`"), "{told}");
}

#[test]
fn stages_say_the_peak_and_nothing_else_may_say_another() {
    let check = |more: &str| said(&["check"], &staged(more));
    let (code, told) = check(&format!(
        "preheat_c: 100, peak_c: 240, k: {{rest: 0}}, {STAGES}"
    ));
    assert!(
        code == 2 && told.contains("the hottest of `stages` is 230 °C, and `peak_c` 240 °C"),
        "{told}"
    );
    let (with, without) = (
        check(&format!(
            "preheat_c: 100, peak_c: 230, k: {{rest: 0}}, {STAGES}"
        )),
        check(&format!("preheat_c: 100, k: {{rest: 0}}, {STAGES}")),
    );
    assert_eq!(with.0, without.0);
    assert!(without.1.contains("230"), "{}", without.1);
    let described = nozzle("8").replace("nozzle_mm", &format!("{STAGES}, nozzle_mm"));
    let (code, told) = said(&["check"], &described);
    assert!(code == 2 && told.contains("want one of them"), "{told}");
    // An oven brings all of it to everything; how fast, only the stages say.
    let unsaid = staged("peak_c: 230").replace("tool: air", "tool: oven");
    let (code, told) = said(&["heat", "go"], &unsaid);
    assert!(code == 2 && told.contains("state its `stages`"), "{told}");
    let oven = staged(STAGES).replace("tool: air", "tool: oven");
    let told = heat(&oven);
    assert_eq!(of(&told, "far", "counted_c"), Some(230.0));
    assert!(
        told["places"][1]["above"]["s"].as_f64().unwrap() > 40.0,
        "{told}"
    );
}

/// A joint below an infra-red head with neighbours at 6, 10, 20 and 28 mm and a plastic socket, no body.
fn below_an_emitter(more: &str) -> String {
    format!(
        "job: below an emitter, invented\n{BOARD}\n\
         guards: [{{id: socket, kind: plastic, limit_c: 150, at_mm: [36, 20], reach_mm: 0}}]\n\
         joints:\n  - {{id: pads, count: 2, alloy: Sn63Pb37, mg: 0.5, at_mm: [30, 20], reach_mm: 2}}\n\
         \x20 - {{id: n6, alloy: Sn63Pb37, mg: 0.5, at_mm: [36, 20]}}\n\
         \x20 - {{id: n10, alloy: Sn63Pb37, mg: 0.5, at_mm: [30, 30]}}\n\
         \x20 - {{id: n20, alloy: Sn63Pb37, mg: 0.5, at_mm: [50, 20]}}\n\
         \x20 - {{id: n28, alloy: Sn63Pb37, mg: 0.5, at_mm: [58, 20]}}\n\
         steps:\n  - {{id: go, do: heat, joint: pads, peak_c: 220, tool: infrared, standoff_mm: 30, emitter_c: 500{more}}}\n"
    )
}

/// The share of all directions that an emitter takes, by a sum over its cells.
fn view(inside: impl Fn(f64, f64) -> bool, half: f64, height: f64, at: (f64, f64)) -> f64 {
    let cells = 60_u32;
    let side = 2.0 * half / f64::from(cells);
    let middle = |k: u32| (f64::from(k) + 0.5) * side - half;
    let mut sum = 0.0;
    for i in 0..cells {
        for j in 0..cells {
            let (x, y) = (middle(i), middle(j));
            if inside(x, y) {
                let s2 = (x - at.0).powi(2) + (y - at.1).powi(2) + height * height;
                sum += height * height / (PI * s2 * s2) * side * side;
            }
        }
    }
    sum
}

/// The same board with rays put together cell by cell: what it is at after so many seconds at the four neighbours.
fn board_below(inside: impl Fn(f64, f64) -> bool, half: f64, seconds: u32) -> [f64; 4] {
    let stack = Stack::new(
        Length::from_mm(1.0).unwrap(),
        4,
        Length::from_mm(0.035).unwrap(),
        Share::new(0.3).unwrap(),
    )
    .unwrap();
    let (room, emitter): (f64, f64) = (298.15, 773.15);
    let grey = 0.9 * 5.670_374_419e-8;
    let full = grey * (emitter.powi(4) - room.powi(4));
    let mut board = Sheet::new(&Mesh::even(0.06, 0.04, 60, 40), room, room, |x, y| {
        let at = (0.5 * (x.0 + x.1) - 0.03, 0.5 * (y.0 + y.1) - 0.02);
        Cell {
            sheet_w_k: stack.along_w_mk() * 1e-3,
            store_j_m2k: stack.areal_j_m2k(),
            film_w_m2k: 16.0,
            drive_w_m2: 16.0 * room + full * view(&inside, half, 0.03, at),
            rays_w_m2k4: 2.0 * grey,
        }
    });
    for _ in 0..20 * seconds {
        board.step(0.05);
    }
    [(0.036, 0.02), (0.03, 0.03), (0.05, 0.02), (0.058, 0.02)].map(|(x, y)| board.at(x, y) - 273.15)
}

const NEIGHBOURS: [&str; 4] = ["n6", "n10", "n20", "n28"];

/// What is likely is that board, with the lead of the face that takes the rays, at most `q t/3k`; what is counted is above.
#[test]
fn rays_heat_as_a_board_put_together_cell_by_cell_says() {
    let heat = heat(&below_an_emitter(", emitter_mm: 30, seconds: 25"));
    let really = board_below(|x, y| x.hypot(y) <= 0.015, 0.015, 25);
    for (place, really) in NEIGHBOURS.into_iter().zip(really) {
        let likely = of(&heat, place, "t_c").expect("likely");
        let counted = of(&heat, place, "counted_c").expect("counted");
        assert!(
            (really - 1.0..really + 5.0).contains(&likely),
            "{place}: {likely} {really}"
        );
        assert!(
            counted - 25.0 > 1.4 * (likely - 25.0),
            "{place}: {counted} {likely}"
        );
        assert!(really > 26.0, "{place}: {really}");
    }
    // The body beside it takes rays with nothing behind it that anybody described.
    assert!(of(&heat, "socket", "t_c") > of(&heat, "n6", "t_c"));
    assert_eq!(heat["stops_at_peak"], false);
}

/// An emitter with corners: no neighbour gets hotter than what is counted, with more of it than of the round one.
#[test]
fn an_emitter_with_corners_is_bounded_from_either_side() {
    let (long, round) = (
        heat(&below_an_emitter(", emitter_mm: [50, 16], seconds: 25")),
        // The same area.
        heat(&below_an_emitter(", emitter_mm: 31.915, seconds: 25")),
    );
    let inside = |x: f64, y: f64| x.abs() <= 0.025 && y.abs() <= 0.008;
    let really = board_below(inside, 0.025, 25);
    for (place, really) in NEIGHBOURS.into_iter().zip(really) {
        let counted = of(&long, place, "counted_c").expect("counted");
        assert!(counted >= really, "{place}: {counted} {really}");
        assert!(of(&long, place, "counted_c") > of(&round, place, "counted_c"));
    }
    let target = |heat: &Value| heat["target"]["t_c"].as_f64();
    assert!(
        target(&long) < target(&round),
        "the largest round one within it"
    );
}

/// Rays that fall on a part: a bright lid may turn them away, so that it is never sure to flow, and its peak ends nothing.
#[test]
fn a_part_below_an_emitter_is_never_sure_to_flow() {
    let part = "parts: [{id: chip, on: pads, dry: true, limit_c: 300, at_mm: [30, 20], size_mm: [4, 4, 1]}]\njoints:";
    let lid = |more: &str| {
        below_an_emitter(more)
            .replace(
                "do: heat, joint: pads, peak_c: 220",
                "do: remove, part: chip",
            )
            .replace("emitter_c: 500", "emitter_c: 800")
            .replace("joints:", part)
    };
    let hot = |more: &str| below_an_emitter(more).replace("emitter_c: 500", "emitter_c: 800");
    let more = ", emitter_mm: 60, preheat_c: 120, seconds: 200";
    let (bare, covered) = (heat(&hot(more)), heat(&lid(more)));
    let flows = |heat: &Value| heat["target"]["flows"].as_bool();
    assert_eq!((flows(&bare), flows(&covered)), (Some(true), Some(false)));
    assert_eq!(covered["target"]["low_c"].as_f64(), Some(120.0));
    let verdict = |text: &str| {
        let (_, told) = said(&["check", "--json"], text);
        let answer: Value = serde_json::from_str(&told).expect("JSON");
        let found = answer["findings"].as_array().expect("findings").clone();
        let flows = found.into_iter().find(|found| found["rule"] == "flows");
        flows.map(|found| found["verdict"].clone())
    };
    assert_eq!(verdict(&lid(more)), Some(Value::from("unknown")));
    // A peak that somebody reads at the target is one.
    let read = lid(", emitter_mm: 60, preheat_c: 120, seconds: 200, peak_c: 220");
    assert_ne!(verdict(&read), Some(Value::from("unknown")));
    // Without a time nothing ends it: the steady bound counts.
    let endless = heat(&hot(", emitter_mm: 60, preheat_c: 120"));
    for place in NEIGHBOURS {
        let (timed, ever) = (
            of(&bare, place, "counted_c"),
            of(&endless, place, "counted_c"),
        );
        assert!(
            ever >= timed && timed.is_some(),
            "{place}: {ever:?} {timed:?}"
        );
    }
}

#[test]
fn an_emitter_is_described_whole_and_by_its_own_temperature() {
    for (more, says) in [
        (", emitter_mm: 30, set_c: 220", "want `emitter_c`"),
        (", nozzle_mm: 8", "`nozzle_mm` describes `tool: air`"),
        (", tip_mm: 2", "`tip_mm` describes `tool: iron`"),
        ("", "want `emitter_mm` beside it"),
    ] {
        let (code, told) = said(&["check"], &below_an_emitter(more));
        assert!(code == 2 && told.contains(says), "{more}: {told}");
    }
    let text = below_an_emitter(", emitter_mm: 30");
    for (from, to, says) in [
        ("emitter_c: 500, ", "", "want `emitter_c` beside it"),
        ("standoff_mm: 30, ", "", "want `standoff_mm` beside it"),
        (
            "tool: infrared",
            "tool: air",
            "`emitter_mm` describes `tool: infrared`",
        ),
        (
            "tool: infrared, standoff_mm: 30, emitter_c: 500, emitter_mm: 30",
            "tool: iron, standoff_mm: 30",
            "`standoff_mm` describes `tool: air` or `tool: infrared`",
        ),
    ] {
        let text = text.replace(from, to);
        let (code, told) = said(&["check"], &text);
        assert!(code == 2 && told.contains(says), "{says}: {told}");
    }
}
