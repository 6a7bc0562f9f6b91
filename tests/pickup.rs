//! Metal that a joint takes up from its pad, and what a wick leaves, through whole jobs.

use std::ffi::OsString;
use std::sync::Arc;

use meltstair::alloy::{AlloyBook, Element};
use meltstair::cli::{Around, run};
use meltstair::melt::{History, MeltBook};
use serde_json::Value;

fn checked(job: &str, json: bool) -> String {
    let file = tempfile::Builder::new()
        .suffix(".yaml")
        .tempfile()
        .expect("a file");
    std::fs::write(file.path(), job).expect("written");
    let path = file.path().to_str().expect("a plain path");
    let args = ["meltstair", "check", "--full", path]
        .into_iter()
        .chain(json.then_some("--json"));
    let around = Around {
        width: 160,
        own_alloys: None,
        score: None,
    };
    let (mut out, mut err) = (Vec::new(), Vec::new());
    run(args.map(OsString::from), &around, &mut out, &mut err);
    out.extend(err);
    String::from_utf8(out).expect("text")
}

fn answer(job: &str) -> Value {
    let text = checked(job, true);
    serde_json::from_str(&text).unwrap_or_else(|_| panic!("{text}"))
}

/// Half a milligram of an alloy soldered to a round pad of 1 mm, then the board warmed.
fn joint(alloy: &str, pad: &str, mg: &str) -> String {
    format!(
        "job: rim\njoints:\n  - {{id: rim{pad}}}\nsteps:\n  - {{id: make, do: solder, joint: rim, alloy: {alloy}{mg}, tool: iron}}\n  - {{id: warm, do: preheat, tool: plate, peak_c: 50, after: make}}\n"
    )
}

fn finish(element: &str, um: f64) -> String {
    format!(", pad: {{diameter_um: 1000, finish: {{element: {element}, um: {um}}}}}")
}

fn survival(alloy: &str, pad: &str) -> Option<f64> {
    let answer = answer(&joint(alloy, pad, ", mg: 0.5"));
    answer["steps"][1]["sees"][0]["survival_c"].as_f64()
}

/// Sources: eutectics of tin with copper (227 °C), of tin with silver and copper (217 °C), of tin with
/// silver (221 °C) in `alloys/invariants.yaml`; 2 K taken off. Tolerance: 0.5 K for what is computed.
#[test]
fn tin_on_a_pad_takes_up_copper_and_survives_less() {
    let near = |found: Option<f64>, want: f64| (found.expect("known") - want).abs() <= 0.5;
    let copper = finish("Cu", 35.0);
    for pad in ["", copper.as_str(), finish("Ag", 0.1).as_str()] {
        let found = survival("Sn96.5Ag3.5", pad);
        assert!(near(found, 217.0 - 2.0), "`{pad}`: {found:?}");
        let found = survival("Sn100", pad);
        assert!(
            pad.contains("Ag") || near(found, 227.0 - 2.0),
            "`{pad}`: {found:?}"
        );
    }
    // Nickel stops it.
    assert!(near(
        survival("Sn96.5Ag3.5", &finish("Ni", 5.0)),
        221.0 - 2.0
    ));
    let text = checked(&joint("Sn96.5Ag3.5", "", ", mg: 0.5"), false);
    assert!(
        text.contains(
            "rim: may take up 1.0 % of copper from its pad and then survives 4.2 K less: counted"
        ),
        "{text}"
    );
    let text = checked(
        &joint("Sn96.5Ag3.5", &finish("Ni", 5.0), ", mg: 0.5"),
        false,
    );
    assert!(!text.contains("copper"), "{text}");
}

/// A joint that stood before the job was named as its spool: it lies on its pad just the same. Not where the
/// job says that it was never melted, or pins what it melts at.
#[test]
fn a_standing_joint_has_taken_up_copper_before() {
    let survival = |more: &str, pins: &str| {
        let job = format!(
            "job: old rim\n{pins}joints:\n  - {{id: rim, alloy: Sn96.5Ag3.5, mg: 0.5{more}}}\nsteps:\n  - {{id: warm, do: preheat, tool: plate, peak_c: 50}}\n"
        );
        let told = checked(&job, false).contains("rim: may take up 1.0 % of copper");
        let survival = answer(&job)["steps"][0]["sees"][0]["survival_c"].as_f64();
        (survival.expect("known"), told)
    };
    let (found, told) = survival("", "");
    assert!((found - 215.0).abs() <= 0.5 && told, "{found}");
    assert_eq!(survival(", state: as_bought", ""), (219.0, false));
    assert_eq!(survival(&finish("Ni", 5.0), ""), (219.0, false));
    assert_eq!(
        survival("", "readings: {Sn96.5Ag3.5: [221, 221]}\n"),
        (221.0, false)
    );
}

/// Copper only ever costs; and where it costs more than the uncertainty of the alloy without anybody having
/// stated a copper pad, it is counted all the same.
#[test]
fn copper_never_helps_and_is_never_forgotten_where_it_matters() {
    let book = Arc::new(AlloyBook::shipped().clone());
    let melts = MeltBook::new(book, Vec::new());
    let mut costs = 0;
    let mut forgotten = Vec::new();
    for alloy in AlloyBook::shipped().alloys() {
        if alloy.composition.share(Element::Cd).fraction() > 0.0 {
            continue;
        }
        let name = alloy.name.as_str();
        let nickel = survival(name, &finish("Ni", 5.0));
        let copper = survival(name, &finish("Cu", 35.0));
        let unsaid = survival(name, "");
        let (Some(nickel), Some(copper), Some(unsaid)) = (nickel, copper, unsaid) else {
            assert_eq!((copper, unsaid), (nickel, nickel), "{name}");
            continue;
        };
        assert!(
            copper <= nickel && unsaid <= nickel,
            "{name}: {nickel} {copper} {unsaid}"
        );
        let u = melts
            .of_composition(&alloy.composition, History::Frozen)
            .u
            .kelvin();
        if unsaid - copper > u {
            forgotten.push(format!(
                "{name}: {copper} on copper, {unsaid} where nobody said"
            ));
        }
        costs += u32::from(nickel - unsaid > 2.0);
    }
    assert!(costs >= 2, "no alloy loses anything");
    assert!(forgotten.is_empty(), "{}", forgotten.join("\n"));
}

/// The saturation follows the peak: what Bi58Sn42 dissolves at 160 °C is too little to count.
/// Source: `alloys/limits/process.yaml`, copper: about 0.1 to 0.2 mass% at 180 °C.
#[test]
fn cool_solder_takes_up_little_copper() {
    let text = checked(&joint("Bi58Sn42", &finish("Cu", 35.0), ", mg: 0.5"), false);
    assert!(!text.contains("may take up"), "{text}");
    let text = checked(&joint("Sn63Pb37", &finish("Cu", 35.0), ", mg: 0.5"), false);
    assert!(text.contains("rim: may take up 0.1 % of copper"), "{text}");
}

/// By hand: 0.7854 mm² of 0.05 µm gold at 19.3 g/cm³ is 0.000758 mg, 0.15 % of half a milligram.
/// Sources: eutectics of gold with lead and tin (177 °C) and with silver and tin (206 °C), class B: 8 K
/// taken off, and 2 K for what is computed.
#[test]
fn gold_of_a_finish_is_counted() {
    for (alloy, eutectic) in [("Sn63Pb37", 177.0), ("Sn96.5Ag3.5", 206.0)] {
        let found = survival(alloy, &finish("Au", 0.05)).expect("known");
        assert!((found - (eutectic - 8.0)).abs() <= 2.0, "{alloy}: {found}");
    }
    let text = checked(&joint("Sn63Pb37", &finish("Au", 0.05), ", mg: 0.5"), false);
    assert!(
        text.contains("rim: the pad finish makes 0.2 % of the joint"),
        "{text}"
    );
    let text = checked(&joint("Sn63Pb37", &finish("Au", 2.5), ", mg: 0.5"), false);
    assert!(text.contains("limit 3 %: the joint gets brittle"), "{text}");
}

/// A finish goes into a joint of which nobody said how much it is: nothing is known of it then.
#[test]
fn gold_in_an_unstated_mass_is_not_taken_for_none() {
    let job = joint("Sn63Pb37", &finish("Au", 0.05), "");
    assert_eq!(answer(&job)["verdict"], "unknown");
    assert!(checked(&job, false).contains("state `mg`, or nothing is known of the joint"));
    let job = joint("Sn63Pb37", &finish("Ni", 5.0), "");
    assert_eq!(answer(&job)["verdict"], "holds");
}

/// Lead that a wick left meets the ball: 95 °C after none, gone by rounds of flood-and-wick. The masses of each
/// round by hand: a round takes up all that is there, so 0.05 mg of Sn63Pb37 in 0.2 mg of Bi58Sn42 make
/// 7.4 % lead, of which 2 µm stay (0.00121 mg); another 0.2 mg on that make 0.044 %, of which as much stays.
#[test]
fn what_a_wick_leaves_stays_in_the_books() {
    let survival = |rounds: u32| {
        let job = format!(
            "job: wicked\nparts:\n  - {{id: U1, balls: {{count: 9, diameter_um: 300, alloy: Bi58Sn42}}}}\njoints:\n  - {{id: site, at: U1, count: 9, pad_um: 300, residue: {{alloy: Sn63Pb37, mg: 0.05}}}}\nsteps:\n  - {{id: wick, do: clean, joint: site, tool: iron, rounds: {rounds}, flood: {{alloy: Bi58Sn42, mg: 0.2}}}}\n  - {{id: set, do: place, part: U1, on: site, tool: air, after: wick}}\n  - {{id: warm, do: preheat, tool: plate, peak_c: 60, after: set}}\n"
        );
        let answer = answer(&job);
        let sees = &answer["steps"][2]["sees"][0];
        sees["survival_c"]
            .as_f64()
            .unwrap_or_else(|| panic!("{answer}"))
    };
    let found = [0, 1, 2].map(survival);
    let wicked = survival_of_mix("snbi 0.1209mg + 63/37 0.005938mg");
    let once = survival_of_mix("ball 0.3 snbi + Pb7.4Bi46.4Sn46.2 0.00121mg");
    let twice = survival_of_mix("snbi");
    for (found, by_hand) in found.iter().zip([wicked, once, twice]) {
        assert!(
            (found - by_hand).abs() <= 0.5,
            "{found} and by hand {by_hand}"
        );
    }
    assert!(found[0] <= found[1] && found[1] < found[2], "{found:?}");
}

/// What `mix` says of the same metal.
fn survival_of_mix(spec: &str) -> f64 {
    let around = Around {
        width: 100,
        own_alloys: None,
        score: None,
    };
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let args = ["meltstair", "mix", spec, "--json"];
    run(args.map(OsString::from), &around, &mut out, &mut err);
    let answer: Value = serde_json::from_slice(&out).expect("JSON");
    answer["survival_c"].as_f64().expect("known")
}
