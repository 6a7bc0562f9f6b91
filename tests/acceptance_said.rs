//! Jobs and questions whose answer is a sentence, or a refusal, and not one value of an answer.

use std::ffi::OsString;
use std::sync::Arc;

use meltstair::alloy::{AlloyBook, Blend};
use meltstair::bench::hang_limit;
use meltstair::cli::{Around, run};
use meltstair::job::Hang;
use meltstair::melt::{Contact, Doubt, History, Layer, MeltBook, NoReadings, Pin};
use meltstair::quantity::{Area, Celsius, Length, Mass};

fn said(args: &[&str]) -> (u8, String) {
    said_in(160, args)
}

/// What the program prints in so many columns, to both streams, and its exit code.
pub(crate) fn said_in(width: usize, args: &[&str]) -> (u8, String) {
    let all = std::iter::once("meltstair").chain(args.iter().copied());
    let around = Around {
        width,
        own_alloys: None,
        score: None,
    };
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let code = run(all.map(OsString::from), &around, &mut out, &mut err);
    out.extend(err);
    (code, String::from_utf8(out).expect("text"))
}

fn job(peak: &str) -> tempfile::NamedTempFile {
    let text = format!(
        "job: fog horn\njoints:\n  - {{id: foot}}\nsteps:\n  - {{id: warm, do: solder, joint: foot, alloy: snbi, mg: 0.4, tool: iron, {peak}}}\n"
    );
    let file = tempfile::Builder::new()
        .suffix(".yaml")
        .tempfile()
        .expect("a file");
    std::fs::write(file.path(), text).expect("written");
    file
}

fn checked(peak: &str) -> (u8, String) {
    let file = job(peak);
    said(&["check", file.path().to_str().expect("a plain path")])
}

/// By hand with 46.5 mg/mm² (S29) and 4 mg/mm (S30): 95 mg on 12.81 mm² and 54 mm of edge holds under both rules,
/// 595.7 mg and 216 mg; 1900 mg on two pads of 2 × 3 mm (area rule 558 mg, edge rule 80 mg) does not.
#[test]
fn a_hanging_part_is_held_by_the_stricter_of_area_and_edge() {
    let hang = |weight, area, edge: Option<f64>| Hang {
        weight: Mass::from_mg(weight).unwrap(),
        area: Area::from_mm2(area).unwrap(),
        edge: edge.map(|edge| Length::from_mm(edge).unwrap()),
        supported: false,
    };
    let limit = |hang: &Hang| (hang_limit(hang).mg() * 10.0).round() / 10.0;
    let small = hang(95.0, 12.81, Some(54.0));
    assert!((limit(&small) - 216.0).abs() < 0.05);
    assert!((limit(&hang(95.0, 12.81, None)) - 595.7).abs() < 0.05);
    let choke = hang(1900.0, 12.0, Some(20.0));
    assert!((limit(&choke) - 80.0).abs() < 0.05);
    assert!((limit(&hang(1900.0, 12.0, None)) - 558.0).abs() < 0.05);
}

/// Cadmium: 0.01 mass% by law (S84), fume and waste: the cadmium alloy is never proposed, the reason is told, and an alloy of
/// bismuth, indium and tin stands in its place; only long words open it.
#[test]
fn a_cadmium_alloy_on_the_shelf_is_refused_with_the_reason() {
    let shelf = ["Bi50Pb26.7Sn13.3Cd10", "Bi57In26Sn17", "snbi"];
    let args = [&["pick", "--over", "snbi", "--json", "--stock"][..], &shelf].concat();
    let (_, text) = said(&args);
    let answer: serde_json::Value = serde_json::from_str(&text).expect("JSON");
    let offers = answer["choices"].as_array().expect("choices");
    let of = |name: &str| offers.iter().find(|o| o["alloy"] == name).expect(name);
    let cadmium = of("Bi50Pb26.7Sn13.3Cd10");
    assert_eq!(cadmium["verdict"], "limit", "{cadmium}");
    assert!(cadmium["why"][0].as_str().expect("why").contains("fume"));
    assert_eq!(of("Bi57In26Sn17")["verdict"], "holds");
    let usable = offers.iter().filter(|o| o["verdict"] == "holds");
    let mut flags = usable.flat_map(|o| o["flags"].as_array().expect("flags"));
    assert!(!flags.any(|flag| flag == "cadmium"));
}

/// Shares within half a per cent of a hundred are scaled (our judgement); a per cent off is asked about, and the
/// nearest alloy named.
#[test]
fn shares_that_do_not_sum_are_scaled_with_a_notice_or_refused() {
    let (code, text) = said(&["mix", "Sn96.5 Ag3.0 Cu0.7"]);
    assert!(
        code == 0 && text.contains("sum to 100.2: scaled to 100"),
        "{text}"
    );
    let (code, text) = said(&["mix", "Sn62 Pb36 Ag3"]);
    assert!(
        code == 2 && text.contains("did you mean `Sn62Pb36Ag2`"),
        "{text}"
    );
    for (typed, tin) in [
        ("Sn-58Bi", "Sn 42.00 %"),
        ("Sn balance, Ag3 Cu0.5", "Sn 96.50 %"),
    ] {
        let (code, text) = said(&["mix", typed]);
        assert!(code == 0 && text.contains(tin), "{text}");
    }
    for typed in ["Sn-5 Pb105", "Sn120Pb-20", "Sn140Pb0"] {
        assert_eq!(said(&["mix", typed]).0, 2, "{typed}");
    }
}

/// By arithmetic: 428 °F is 220 °C; 281 °F is 138.3 °C, which is what a peak of 281 over tin-bismuth must have meant.
#[test]
fn fahrenheit_is_read_or_asked_about_never_believed() {
    let (code, text) = checked("peak_c: 428F");
    assert!(
        code == 0 && text.contains("`428F` read as 220.0 °C"),
        "{text}"
    );
    let (_, text) = checked("peak_c: 361F");
    assert!(text.contains("read as 182.8 °C"), "{text}");
    let (code, text) = checked("peak_c: 281");
    assert!(
        code == 2 && text.contains("as Fahrenheit it would be 138.3 °C"),
        "{text}"
    );
    // A tip at 350 is nothing unusual.
    assert_eq!(checked("set_c: 350, peak_c: 165").0, 0);
}

/// Both readings are solders that are sold: Sn90Pb10 (183/213) and Pb90Sn10 (268/302); 37/63 is none.
#[test]
fn names_with_two_meanings_are_asked_about() {
    for (typed, asks) in [
        ("37/63", "`Sn63Pb37`"),
        ("90/10", "`Sn90Pb10` or `Pb90Sn10`"),
        ("183", "`Sn63Pb37` or `Sn60Pb40`"),
        ("low melt", "`Bi58Sn42`"),
        ("lead free", "`Sn96.5Ag3Cu0.5`"),
    ] {
        let (code, text) = said(&["mix", typed]);
        assert!(
            code == 2 && text.contains(asks) && text.contains('?'),
            "{text}"
        );
    }
}

/// A law: a mixture of solders without compounds that melts only above all that is in it is an
/// internal error, and never an answer. Readings that cannot be true bring it about.
#[test]
fn a_mixture_that_melts_above_its_parts_is_never_an_answer() {
    let book = AlloyBook::shipped();
    let composition = |name: &str| book.find(name).unwrap().composition;
    let layer = |name: &str| Layer {
        blend: Blend::of(&composition(name), Mass::from_mg(1.0).unwrap()),
        history: History::Frozen,
        unstated: false,
        unknown: false,
    };
    let pin = |of: &meltstair::alloy::Composition, t: i32| Pin {
        composition: *of,
        solidus: Celsius::whole(t),
        liquidus: Celsius::whole(t),
    };
    let layers = [layer("snbi"), layer("63/37")];
    let both = layers[0]
        .blend
        .with(&layers[1].blend)
        .composition()
        .unwrap();
    let of = |t: i32| {
        let pins = vec![
            pin(&composition("snbi"), 138),
            pin(&composition("63/37"), 183),
            pin(&both, t),
        ];
        MeltBook::new(Arc::new(NoReadings), pins)
    };
    assert_eq!(of(96).of_mixed(&layers).survival, Some(Celsius::whole(96)));
    let wrong = of(200).of_mixed(&layers);
    assert_eq!((wrong.survival, wrong.flow), (None, None));
    assert!(matches!(wrong.doubts[..], [Doubt::DoesNotAddUp { .. }]));
    assert_eq!(of(200).of_joint(&layers, Contact::Dissolved).survival, None);
}

/// Tie-triangle arithmetic on the invariants of bismuth, lead and tin (NIST, model of Yoon and Lee, Calphad 22,
/// 1998); 10.1 and 44.4 and 36.3 stand in `cases.csv`. Shares liquid
/// in equilibrium at the ternary eutectic; 4.8 is printed without a tolerance: one unit is allowed.
#[test]
fn the_threshold_sweep_has_its_corners_where_they_belong() {
    let (_, text) = said(&["mix", "snbi 90% + 63/37 10%", "--sweep", "--json"]);
    let answer: serde_json::Value = serde_json::from_str(&text).expect("JSON");
    let number = |value: &serde_json::Value| value.as_f64().expect("a number");
    let rows: Vec<(f64, f64, f64, f64, f64)> = (answer["sweep"].as_array().expect("rows").iter())
        .map(|row| {
            let share = 100.0 * number(&row["solidus_share"]);
            let frozen = 100.0 * number(&row["first_melt_share"]);
            let (x, solidus) = (100.0 * number(&row["x"]), number(&row["solidus_c"]));
            (x, solidus, share, number(&row["first_melt_c"]), frozen)
        })
        .collect();
    let at_eutectic = |solidus: f64| (94.5..=98.5).contains(&solidus) && solidus < 95.5;
    let reaches = rows
        .iter()
        .find(|row| at_eutectic(row.1))
        .expect("it is reached");
    assert!((0.8..=1.6).contains(&reaches.0), "reached at {}", reaches.0);
    let leaves = rows
        .iter()
        .rfind(|row| at_eutectic(row.1))
        .expect("it is left");
    assert!((58.5..=60.5).contains(&leaves.0), "left after {}", leaves.0);
    let peak = rows
        .iter()
        .filter(|row| at_eutectic(row.1))
        .max_by(|a, b| a.2.total_cmp(&b.2));
    let peak = peak.expect("a peak");
    assert!(
        (43.0..=48.0).contains(&peak.0) && (peak.2 - 50.0).abs() <= 3.0,
        "{peak:?}"
    );
    let late = rows
        .iter()
        .find(|row| (row.0 - 58.5).abs() < 1e-6)
        .expect("58.5");
    assert!((late.2 - 4.8).abs() <= 1.0, "{late:?}");
    for row in rows.iter().filter(|row| (0.5..=60.0).contains(&row.0)) {
        assert!(
            (94.5..=98.5).contains(&row.3) && row.4 >= 0.1,
            "as frozen: {row:?}"
        );
    }
}

/// Hot tear (Badwe 2020, Harris 2019, abstracts), a wire end that floats (common practice, no source), balls of which
/// not all melts (a solder maker's page on lead-free spheres in leaded paste), pads that tear, a state that must be
/// stated or asked.
#[test]
fn what_a_placed_part_may_suffer_is_said() {
    let job = |name: &str| {
        let path = format!(
            "{}/tests/acceptance/{name}.yaml",
            env!("CARGO_MANIFEST_DIR")
        );
        said(&["check", "--full", &path]).1
    };
    for (name, sentence) in [
        (
            "10_layered",
            "site: hot tear: the bismuth solder freezes last",
        ),
        (
            "10_layered",
            "melts only part of the new solder, collapse is not assured",
        ),
        (
            "20_shared_pad",
            "pad: the wire tied there floats off unless mask or hand holds it",
        ),
        (
            "20_shared_pad",
            "pad: the liquid dissolves what has not melted",
        ),
        (
            "08_hybrid_205",
            "only part of the new solder flows: collapse is not assured, it needs time",
        ),
        (
            "11_sac_paste",
            "site: the liquid dissolves what has not melted; give it time, a hard core may stay",
        ),
        ("24_cold", "lifted colder it tears pads off"),
        (
            "34_ball_frozen",
            "site: taken as melted and frozen on a bench; if it never was, say `state: as_bought` (printed solidus 268 °C)",
        ),
    ] {
        let text = job(name);
        assert!(
            text.contains(sentence),
            "{name} does not say `{sentence}`:\n{text}"
        );
    }
    for name in [
        "08_hybrid_205",
        "08_hybrid_235",
        "20_shared_pad",
        "24_place_then_remove",
    ] {
        assert!(!job(name).contains("hot tear"), "{name}");
    }
}
