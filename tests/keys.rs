//! Every key that a job states is used or refused: with the key taken out, `check` or `order` says something
//! else, or the reader refuses the job. Kinds of keys that rightly change nothing in some job stand below, each
//! with its reason; each of them must change something in another.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use serde_json::Value;

use crate::never_holds::{ask, jobs};

/// Where a key stands: names of keys, and positions in lists.
type Place = Vec<String>;

/// The folders and what is asked of each job there.
const FOLDERS: [&str; 3] = ["charts", "tests/never_holds", "tests/not_refused"];

/// Kinds of keys without which some job says the same, and why that is right there. In some other job each of
/// them changes the answer: that is asked too.
const MAY_SAY_THE_SAME: &[(&str, &str)] = &[
    (
        "guards.kind",
        "its name says it, or the kind of cover makes no difference where nothing is covered",
    ),
    ("joints.alloy", "what has the same `source` says the same"),
    (
        "joints.at",
        "the part or the step that sets it says the same",
    ),
    ("joints.count", "one member stands for all of them"),
    (
        "joints.mg",
        "one metal melts where it melts, however much of it there is",
    ),
    (
        "joints.pad",
        "no film, no finish and no copper that would count",
    ),
    (
        "joints.pad.finish",
        "nickel stays, and copper in its place would cost nothing there",
    ),
    (
        "joints.pad_um",
        "no film, no finish and no copper that would count",
    ),
    (
        "joints.residue",
        "a film of nothing, or the metal that is put on it",
    ),
    ("joints.side", "it was read there"),
    (
        "parts.balls.alloy",
        "what has the same `source` says the same",
    ),
    ("parts.dry", "never near 200 °C"),
    ("parts.hangs", "lighter than its molten solder holds"),
    (
        "parts.hangs.edge_mm",
        "the same side of the limit by its area alone",
    ),
    ("parts.on", "the joints say the same with `at`"),
    ("parts.ramp_k_s", "the profile is gentle"),
    (
        "readings.*",
        "no such alloy in the job, or the shipped reading is the same",
    ),
    ("steps.after", "the order is that in any case"),
    (
        "steps.k",
        "a reading of the log, or what stands alone on the board",
    ),
    (
        "steps.k.*",
        "a reading of the log, a hotter joint below a cover, or nothing else on the board",
    ),
    (
        "steps.mg",
        "one metal melts where it melts, however much of it there is",
    ),
    ("steps.on", "the site of the part says the same"),
    (
        "steps.over",
        "what lies below bears it with its full margin, or it was never cured",
    ),
    (
        "steps.preheat_c",
        "a stated peak, or nothing else on the board",
    ),
    (
        "steps.rounds",
        "one round of flood and wick is what is taken without it",
    ),
    ("stock", "every step names its alloy"),
    ("zones", "the zones that are used count without it"),
];

/// The kind of a key: its path without positions, and without the names below maps.
fn kind(place: &Place) -> String {
    let mut kind: Vec<&str> = Vec::new();
    for name in place.iter().filter(|name| name.parse::<usize>().is_err()) {
        let below_a_map = matches!(
            kind.last(),
            Some(&("k" | "sees_c" | "readings" | "after" | "reads_ohm"))
        );
        kind.push(if below_a_map { "*" } else { name });
    }
    kind.join(".")
}

/// A job as text with its keys in the order in which they stood; the log as lines, as the reader wants it.
fn written(job: &Value, order: &[String]) -> String {
    let mut text = String::new();
    for key in order {
        match job.get(key) {
            None => {}
            Some(Value::Array(list)) => {
                text = [text.as_str(), &format!("{key}:\n")].concat();
                for item in list {
                    text = [text.as_str(), &format!("  - {item}\n")].concat();
                }
            }
            Some(value) => text = [text.as_str(), &format!("{key}: {value}\n")].concat(),
        }
    }
    text
}

/// The keys of a job in the order in which they stand.
fn order_of(text: &str) -> Vec<String> {
    let lines = text
        .lines()
        .filter(|line| line.starts_with(char::is_alphabetic));
    lines
        .filter_map(|line| Some(line.split_once(':')?.0.to_owned()))
        .collect()
}

/// Every place at which a key stands.
fn places(value: &Value, at: &Place, all: &mut Vec<Place>) {
    let step = |name: String| {
        let mut longer = at.clone();
        longer.push(name);
        longer
    };
    match value {
        Value::Object(map) => {
            for (key, below) in map {
                all.push(step(key.clone()));
                places(below, &step(key.clone()), all);
            }
        }
        Value::Array(list) => {
            for (n, below) in list.iter().enumerate() {
                places(below, &step(n.to_string()), all);
            }
        }
        _ => {}
    }
}

fn without(job: &Value, place: &Place) -> Value {
    let mut job = job.clone();
    let (last, above) = place.split_last().expect("a key");
    let mut at = &mut job;
    for name in above {
        at = match at {
            Value::Array(list) => &mut list[name.parse::<usize>().expect("a position")],
            other => &mut other[name],
        };
    }
    at.as_object_mut().expect("keys").remove(last);
    job
}

/// What is said of a job: exit codes and JSON of `check` and, where asked, of `order`.
fn said(path: &Path, text: &str, verb: &str) -> (u8, String) {
    std::fs::write(path, text).expect("written");
    let answer = ask(&["--json", verb, &path.to_string_lossy()]);
    assert!(
        answer.code < 4,
        "{verb} of\n{text}\nends with {}",
        answer.code
    );
    (answer.code, answer.text)
}

/// Every key of one job, and whether it changes something.
fn looked_at(path: &Path) -> Vec<(Place, bool)> {
    let text = std::fs::read_to_string(path).expect("a job");
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("job.yaml");
    let order = order_of(&text);
    let job: Value = serde_saphyr::from_str(&text).expect("YAML");
    let whole = written(&job, &order);
    let with = ["check", "order"].map(|verb| said(&file, &whole, verb));
    if with[0].0 == 2 {
        return Vec::new();
    }
    let mut all = Vec::new();
    places(&job, &Vec::new(), &mut all);
    let changes = |place: &Place| {
        let text = written(&without(&job, place), &order);
        said(&file, &text, "check") != with[0] || said(&file, &text, "order") != with[1]
    };
    let all = all.into_iter();
    all.map(|place| (place.clone(), changes(&place))).collect()
}

#[test]
fn every_key_of_every_job_is_used_or_refused() {
    let mut used = BTreeSet::new();
    let mut unused = BTreeMap::new();
    for path in FOLDERS.iter().flat_map(|folder| jobs(folder)) {
        let name = path
            .file_stem()
            .expect("a name")
            .to_string_lossy()
            .into_owned();
        // Each answer about a field of heat takes seconds; their keys are those of the bell buoy.
        if name.starts_with("heat_") {
            continue;
        }
        // The organ console takes most of a minute. Looked at by hand: what it says of the zones of mask, store and
        // leads, of the joints below the mask and of the crossing of two enamelled wires changes nothing there, since
        // the couplings of its zones are wide and its wires share both joints.
        if name == "organ_console" {
            continue;
        }
        for (place, changes) in looked_at(&path) {
            if changes {
                used.insert(kind(&place));
            } else {
                let kept: &mut Vec<String> = unused.entry(kind(&place)).or_default();
                kept.push(format!("{name}: {}", place.join(".")));
            }
        }
    }
    let known = |kind: &str| MAY_SAY_THE_SAME.iter().any(|(name, _)| *name == kind);
    let new: Vec<_> = unused.iter().filter(|(kind, _)| !known(kind)).collect();
    assert!(new.is_empty(), "these change nothing: {new:#?}");
    // These two are heard of elsewhere: `acceptance_said` weighs by the edge, and a zone that is not listed is
    // refused (`jobs/broken/unlisted_zone`).
    let elsewhere = ["parts.hangs.edge_mm", "zones"];
    let silent = unused.keys().filter(|kind| !used.contains(*kind));
    let dropped: Vec<_> = silent
        .filter(|kind| !elsewhere.contains(&kind.as_str()))
        .collect();
    assert!(dropped.is_empty(), "no job hears of these: {dropped:?}");
    let idle = MAY_SAY_THE_SAME
        .iter()
        .filter(|(kind, _)| !unused.contains_key(*kind));
    let idle: Vec<_> = idle.collect();
    assert!(
        idle.is_empty(),
        "these change something everywhere: {idle:?}"
    );
}
