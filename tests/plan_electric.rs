//! Wires and the check before power: figures against the tables, readings through the program.

use std::ffi::OsString;
use std::path::Path;

use approx::assert_relative_eq;
use meltstair::bench::electric::{
    awg_diameter, ohm_per_metre, onderdonk_amps, preece_amps, rise_kelvin,
};
use meltstair::cli::{Around, run};
use meltstair::quantity::{Amps, Length};
use serde_json::Value;

/// A number of a row of `shorts.yaml`: `key: 1.5` up to the next comma.
fn number(row: &str, key: &str) -> Option<f64> {
    let (_, rest) = row.split_once(&format!("{key}: "))?;
    let end = rest.find([',', '}']).unwrap_or(rest.len());
    rest[..end].trim().parse().ok()
}

/// Source: `alloys/limits/shorts.yaml`, tables reckoned apart from its formulas (S76, S61, S52).
#[test]
fn every_row_of_the_wire_tables_is_met() {
    let text = include_str!("../alloys/limits/shorts.yaml");
    let mut rows = 0;
    for row in text.lines() {
        let Some(mm) = number(row, "d_mm") else {
            continue;
        };
        let diameter = Length::from_mm(mm).unwrap();
        if let Some(awg) = number(row, "awg") {
            #[expect(clippy::cast_possible_truncation, reason = "whole gauges")]
            let gauge = awg as i32;
            assert_relative_eq!(awg_diameter(gauge).mm(), mm, epsilon = 0.000_6);
        }
        if let Some(want) = number(row, "ohm_per_m") {
            assert_relative_eq!(ohm_per_metre(diameter), want, max_relative = 0.02);
        }
        if let Some(want) = number(row, "preece_A") {
            assert_relative_eq!(preece_amps(diameter), want, max_relative = 0.01);
        }
        if let Some(want) = number(row, "onderdonk_1s_A") {
            assert_relative_eq!(
                onderdonk_amps(diameter, 1.0, 25.0),
                want,
                max_relative = 0.01
            );
        }
        if let Some(want) = number(row, "dT_mid_no_air_K") {
            let amps = Amps::from_amps(number(row, "I_A").unwrap()).unwrap();
            let length = Length::from_mm(number(row, "L_mm").unwrap()).unwrap();
            assert_relative_eq!(
                rise_kelvin(amps, diameter, length),
                want,
                max_relative = 0.001
            );
        }
        rows += 1;
    }
    assert!(rows >= 28, "{rows}");
}

fn say(args: &[&str]) -> (u8, String) {
    let all = ["meltstair"].iter().chain(args).map(OsString::from);
    let around = Around {
        width: 100,
        own_alloys: None,
        score: None,
    };
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let code = run(all, &around, &mut out, &mut err);
    out.extend(err);
    (code, String::from_utf8(out).unwrap())
}

fn order(job: &str) -> Vec<String> {
    let (_, said) = say(&["--json", "order", job]);
    let json: Value = serde_json::from_str(&said).unwrap();
    let ids = json["order"].as_array().unwrap_or_else(|| panic!("{said}"));
    ids.iter()
        .map(|id| id.as_str().unwrap().to_owned())
        .collect()
}

/// A copy of the job with wires.
fn copied(folder: &Path) -> String {
    let from = concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/tests/acceptance/52_wires.yaml"
    );
    let to = folder.join("job.yaml");
    std::fs::copy(from, &to).unwrap();
    to.to_str().unwrap().to_owned()
}

/// Common practice, no source: the gate stays shut until it is passed, and any later heat shuts it
/// again. The clock may read twice its 0.549 Ω and 0.2 Ω of leads.
#[test]
fn readings_open_the_gate_and_later_heat_shuts_it() {
    let folder = tempfile::tempdir().unwrap();
    let job = &copied(folder.path());
    assert_eq!(order(job), ["tie", "meter", "on"]);
    assert_eq!(say(&["did", job, "tie"]).0, 0);
    let good = ["bus:0.2", "clock:1.1", "bus:ground:230", "clock:bus:open"];
    let did = ["did", job, "meter", "--reads"];
    let (code, said) = say(&[&did[..], &good[..]].concat());
    assert_eq!(code, 0, "{said}");
    assert!(said.contains("the check before power is passed"), "{said}");
    assert_eq!(order(job), ["on"]);
    let (_, said) = say(&["did", job, "more"]);
    assert!(
        said.contains("no power: the check does not stand any more, do it again"),
        "{said}"
    );
    assert_eq!(order(job), ["on~check", "on"]);
    let (_, said) = say(&["order", job]);
    assert!(said.contains("bus to clock is open, passes"), "{said}");
}

#[test]
fn a_reading_that_does_not_pass_keeps_the_gate_shut() {
    for (reading, why) in [
        (
            "clock:1.4",
            "clock end to end reads 1.4 Ω, does not pass: at most 1.30 Ω",
        ),
        (
            "bus:open",
            "bus end to end is open, does not pass: at most 0.38 Ω",
        ),
        (
            "bus:ground:0.4",
            "bus to ground reads 0.4 Ω, does not pass: at least 1 Ω",
        ),
        (
            "bus:clock:20000",
            "bus to clock reads 20 kΩ, does not pass: at least 1 MΩ",
        ),
    ] {
        let folder = tempfile::tempdir().unwrap();
        let job = &copied(folder.path());
        say(&["did", job, "tie"]);
        let (code, said) = say(&["did", job, "meter", "--reads", reading]);
        assert_eq!(code, 0, "{said}");
        assert!(said.contains(why), "{said}");
        let text = std::fs::read_to_string(job).unwrap();
        assert!(text.contains(", failed: \""), "{text}");
        // A wire that reads too much is looked at first: measuring again mends no joint.
        let looks: &[&str] = match reading {
            "clock:1.4" | "bus:open" => &["meter~inspect", "meter~again", "on"],
            _ => &["meter~again", "on"],
        };
        assert_eq!(order(job), looks, "{reading}");
        // Nobody can open the gate by taking the word out of the file.
        let (before, _) = text.split_once(", failed:").unwrap();
        std::fs::write(job, format!("{before}}}\n")).unwrap();
        let last = order(job);
        assert_eq!(last[last.len() - 2..], ["on~check", "on"], "{reading}");
    }
}

#[test]
fn a_reading_of_no_wire_writes_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let job = &copied(folder.path());
    let before = std::fs::read(job).unwrap();
    for reading in [
        "buss:0.2",
        "bus",
        "bus:x",
        "bus:earth:3",
        "bus:-1",
        "bus:nan",
    ] {
        let (code, said) = say(&["did", job, "meter", "--reads", reading]);
        assert_eq!(code, 2, "{reading}: {said}");
        assert_eq!(std::fs::read(job).unwrap(), before);
    }
}
