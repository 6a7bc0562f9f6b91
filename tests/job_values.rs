//! What a job file says is what the program gets: values read out of the shared jobs.

use std::collections::BTreeSet;
use std::fs;

use approx::{assert_abs_diff_eq, assert_relative_eq};
use meltstair::alloy::AlloyBook;
use meltstair::job::{
    self, Adhesive, Amount, Choice, Content, GuardKind, Job, Joint, Must, ReadJob, Start, Step,
    Tool, Where, Work,
};
use meltstair::quantity::Celsius;
use serde_json::Value;

fn read(name: &str) -> ReadJob {
    let path = format!("{}/tests/jobs/{name}", env!("CARGO_MANIFEST_DIR"));
    let text = fs::read_to_string(path).unwrap();
    job::read(&text, name, AlloyBook::shipped()).unwrap()
}

fn seismometer() -> ReadJob {
    read("good/seismometer.yaml")
}

fn step<'j>(job: &'j Job, id: &str) -> &'j Step {
    job.steps.iter().find(|step| step.id == id).unwrap()
}

fn joint<'j>(job: &'j Job, id: &str) -> &'j Joint {
    job.joints.iter().find(|joint| joint.id == id).unwrap()
}

/// Mass in mg of the one deposit of a joint; of paste the volume in mm³.
fn held(job: &Job, id: &str, deposit: usize) -> f64 {
    let deposit = &joint(job, id).each[deposit];
    match (deposit.amount, &deposit.content) {
        (Amount::Metal(volume), Content::Known(solder)) => {
            let density = solder.composition.density().unwrap();
            density.times_mm3(volume.mm3()).unwrap().mg()
        }
        (Amount::Paste { volume, .. }, _) => volume.mm3(),
        (Amount::Mass(mass), _) => mass.mg(),
        (amount, _) => panic!("{id}: {amount:?}"),
    }
}

/// By hand, with element densities:
/// 10 µm film of Sn63Pb37 on 0.30 mm 0.005938 mg, 2 µm of Bi58Sn42 there 0.001209 mg (by density
/// 8.553), dome 0.05 mm high 0.01539 mg, 0.30 mm ball 0.1188 mg; opening 0.36 × 0.12 mm at 0.90
/// 0.01099 mm³ (π/4 · 0.36² · 0.12 · 0.9).
#[test]
fn amounts_are_those_worked_by_hand() {
    let job = seismometer().job;
    for (id, deposit, want) in [
        ("site", 0, 0.005_938),
        ("site", 1, 0.001_209),
        ("dome", 0, 0.015_39),
        ("ball", 0, 0.1188),
        ("mixed", 1, 0.010_993),
        ("slab", 0, 0.008),
    ] {
        assert_relative_eq!(held(&job, id, deposit), want, max_relative = 1e-3);
    }
    let Amount::Paste { metal, .. } = joint(&job, "mixed").each[1].amount else {
        panic!("no paste");
    };
    assert_abs_diff_eq!(metal.percent(), 90.0, epsilon = 1e-9);
    assert!(joint(&job, "mixed").each[0].as_bought && !joint(&job, "mixed").each[1].as_bought);
}

#[test]
fn joints_and_parts_are_what_is_written() {
    let job = seismometer().job;
    let site = joint(&job, "site");
    assert_eq!(
        (site.start, site.count, site.site_of.map(|p| p.0)),
        (Start::Bare, 64, Some(0))
    );
    // Stands on its part's balls, which the bench adds.
    let site2 = joint(&job, "site2");
    assert_eq!((site2.start, site2.each.len()), (Start::Standing, 0));
    assert_abs_diff_eq!(
        site2.pad.unwrap().finish.unwrap().thickness.um(),
        0.05,
        epsilon = 1e-9
    );
    let rim = joint(&job, "rim");
    assert!(rim.covered && rim.strained && rim.must == Must::StaySolid);
    assert_eq!(joint(&job, "bare").start, Start::Bare);
    let part = &job.parts[0];
    assert_eq!(
        (part.heats_left, part.heats_before, part.vital),
        (Some(3), 2, true)
    );
    assert_eq!(
        (part.adhesive, part.dry),
        (Adhesive::Reworkable, Some(false))
    );
    assert_abs_diff_eq!(
        job.parts[2].hang.unwrap().weight.mg(),
        1900.0,
        epsilon = 1e-6
    );
    let kinds: Vec<GuardKind> = job.guards.iter().map(|g| g.kind).collect();
    assert_eq!(kinds, [GuardKind::Mask, GuardKind::Other, GuardKind::Glue]);
    assert_eq!(job.wires[1].crosses[0].0, 0);
    assert_eq!(job.wires[0].enamel_limit, Some(Celsius::whole(225)));
    assert_eq!(job.wires[2].id, "W3");
    assert_abs_diff_eq!(job.wires[0].diameter.um(), 39.9, epsilon = 0.1);
}

/// One source is one answer, wherever it stands; what nobody knows gets the usual candidates.
#[test]
fn unknown_alloys_are_shared_by_source() {
    let job = seismometer().job;
    let reels: Vec<(&str, usize, bool)> = job
        .reels
        .iter()
        .map(|reel| (reel.id.as_str(), reel.candidates.len(), reel.closed))
        .collect();
    assert_eq!(
        reels,
        [("reel A", 2, true), ("U2", 3, false), ("legs", 2, true)]
    );
    let Content::Reel(ix) = joint(&job, "rim").each[0].content else {
        panic!("rim is known");
    };
    assert_eq!(ix.0, 0);
}

#[test]
fn readings_take_units_and_shorthands() {
    let job = seismometer().job;
    let pins: Vec<(&str, i32, i32)> = job
        .pins
        .iter()
        .map(|pin| {
            (
                pin.solder.name.as_str(),
                pin.solidus.millidegrees(),
                pin.liquidus.millidegrees(),
            )
        })
        .collect();
    assert_eq!(
        pins,
        [
            ("Sn63Pb37", 183_000, 183_000),
            ("Sn60Pb40", 183_000, 191_000),
            ("Bi58Sn42", 138_000, 138_000)
        ]
    );
    let told: Vec<String> = seismometer()
        .notices
        .into_iter()
        .map(|n| n.message)
        .collect();
    assert!(
        told.contains(&"`280.4F` read as 138.0 °C".to_owned()),
        "{told:?}"
    );
}

#[test]
fn steps_choices_and_ways_are_what_is_written() {
    let job = seismometer().job;
    let Work::Remove {
        flood: Some((Choice::OneOf(any), _)),
        ..
    } = &step(&job, "off").work
    else {
        panic!("no flood");
    };
    // The shelf, with the cadmium alloy that the long words let in.
    assert_eq!(any.len(), 3);
    let Work::Clean {
        rounds,
        flood: Some((_, mass)),
        ..
    } = &step(&job, "wick").work
    else {
        panic!("no cleaning");
    };
    assert_eq!(*rounds, Choice::OneOf(vec![1, 2, 3]));
    assert_abs_diff_eq!(mass.mg(), 0.2, epsilon = 1e-9);
    let ways = &step(&job, "set").ways;
    assert_eq!((ways[0].tool, ways[1].tool), (Tool::Air, Tool::Tweezers));
    assert_eq!(
        (ways[0].preheat, ways[1].preheat),
        (Celsius::whole(90), Celsius::whole(22))
    );
    assert_eq!(ways[1].peak, Some(Celsius::whole(170)));
    assert!(
        ways[0]
            .couplings
            .iter()
            .any(|(place, k)| *place == Where::Rest && k.factor() < 0.11)
    );
    assert_eq!((ways[1].couplings.len(), ways[1].sees.len()), (1, 1));
    let balls = step(&job, "balls");
    assert_eq!(balls.after[0].1.as_deref(), Some("clean pads first"));
    assert!(balls.ways.is_empty());
    assert_eq!(step(&job, "set").line, 62);
}

/// `after: all` is every other step but the one that waits for it.
#[test]
fn all_leaves_out_what_comes_later() {
    let job = seismometer().job;
    let after = &step(&job, "short").after;
    assert_eq!(after.len(), job.steps.len() - 2);
    assert!(
        after
            .iter()
            .all(|(ix, _)| !["short", "on"].contains(&job.steps[ix.0].id.as_str()))
    );
}

#[test]
fn the_log_is_read_in_its_order() {
    let done = seismometer().job.done;
    let steps: Vec<&str> = done.iter().map(|event| event.step.as_str()).collect();
    assert_eq!(steps, ["off", "wick", "set", "set~remove", "set#2"]);
    assert_eq!((done[0].tool, done[1].rounds), (Some(Tool::Iron), Some(2)));
    assert_eq!(done[2].failed.as_deref(), Some("one ball open: corner"));
    assert_eq!(done[2].sees.len(), 2);
}

/// Without the long words a cadmium alloy stays on the shelf, told with its reason, and `any` is
/// never one; so it is when the whole table is the shelf.
#[test]
fn cadmium_is_never_among_any() {
    for stock in ["stock: [Bi50Pb26.7Sn13.3Cd10, Bi58Sn42]\n", ""] {
        let text = format!(
            "job: a\n{stock}joints: [{{id: j}}]\nsteps: [{{id: s, do: solder, joint: j, alloy: any}}]\n"
        );
        let read = job::read(&text, "job.yaml", AlloyBook::shipped()).unwrap();
        let Work::Solder {
            solder: Choice::OneOf(any),
            ..
        } = &read.job.steps[0].work
        else {
            panic!("no choice");
        };
        assert!(!any.is_empty() && any.iter().all(|solder| !solder.name.contains("Cd")));
        let told = read
            .notices
            .iter()
            .any(|n| n.message.contains("stays on the shelf"));
        assert_eq!(told, !stock.is_empty());
    }
}

#[test]
fn every_default_that_was_used_is_told_with_its_mark() {
    let read = read("good/minimal.yaml");
    let told: Vec<String> = read
        .assumed
        .iter()
        .map(|a| format!("{}: {} {} ({})", a.what, a.value, a.unit, a.mark))
        .collect();
    for want in [
        "margin below first melt: 5 K (our judgement)",
        "room temperature: 25 °C (common practice, no source)",
        "tool of `set`: air  (common practice, no source)",
        "what must be withstood of `site`, `rim`: stay_put  (our judgement)",
    ] {
        assert!(told.iter().any(|line| line == want), "{want}\n{told:#?}");
    }
    let said = seismometer();
    assert!(
        !said
            .assumed
            .iter()
            .any(|a| a.what.contains("room") || a.what.contains("margin"))
    );
}

/// The job with every key really has every key that the schema names.
#[test]
fn every_key_of_the_schema_is_tried() {
    let good = |name| {
        let folder = env!("CARGO_MANIFEST_DIR");
        fs::read_to_string(format!("{folder}/tests/jobs/good/{name}.yaml")).unwrap()
    };
    let text = good("seismometer") + &good("forty_wires") + &good("profile") + &good("infrared");
    let schema: Value = serde_json::from_str(&job::schema()).unwrap();
    let mut keys = BTreeSet::new();
    properties(&schema, &mut keys);
    assert!(keys.len() > 70, "{}", keys.len());
    let missing: Vec<&String> = keys
        .iter()
        .filter(|key| !text.contains(&format!("{key}:")))
        .collect();
    assert!(missing.is_empty(), "{missing:?}");
}

fn properties(value: &Value, keys: &mut BTreeSet<String>) {
    match value {
        Value::Object(map) => {
            if let Some(Value::Object(named)) = map.get("properties") {
                keys.extend(named.keys().cloned());
            }
            map.values().for_each(|inner| properties(inner, keys));
        }
        Value::Array(items) => items.iter().for_each(|inner| properties(inner, keys)),
        _ => {}
    }
}
