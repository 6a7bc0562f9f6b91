//! Every key that a job states is used or refused: with the key taken out, `check` or `order` says something
//! else, or the reader refuses the job. Keys that rightly change nothing stand below, each with its reason.

use std::path::Path;

use serde_json::Value;

use crate::never_holds::{ask, jobs};

/// Where a key stands: names of keys, and positions in lists.
type Place = Vec<String>;

/// The folders and what is asked of each job there.
const FOLDERS: [&str; 3] = ["charts", "tests/never_holds", "tests/not_refused"];

/// Keys without which a job says the same: where, and why that is right. A `*` stands for any file.
const SAYS_THE_SAME: &[(&str, &str, &str)] = &[];

/// A job as text with its keys in the order in which they stood; the log as lines, as the reader wants it.
fn written(job: &Value, order: &[String]) -> String {
    let mut text = String::new();
    for key in order {
        match job.get(key) {
            None => {}
            Some(Value::Array(list)) => {
                text += &format!("{key}:\n");
                for item in list {
                    text += &format!("  - {item}\n");
                }
            }
            Some(value) => text += &format!("{key}: {value}\n"),
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

/// The keys of one job that change nothing.
fn silent(path: &Path) -> Vec<String> {
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
    let same = |place: &&Place| {
        let text = written(&without(&job, place), &order);
        said(&file, &text, "check") == with[0] && said(&file, &text, "order") == with[1]
    };
    all.iter()
        .filter(same)
        .map(|place| place.join("."))
        .collect()
}

#[test]
fn every_key_of_every_job_is_used_or_refused() {
    let mut unused = Vec::new();
    let mut met = vec![false; SAYS_THE_SAME.len()];
    for path in FOLDERS.iter().flat_map(|folder| jobs(folder)) {
        let name = path
            .file_stem()
            .expect("a name")
            .to_string_lossy()
            .into_owned();
        for key in silent(&path) {
            let mut known = SAYS_THE_SAME.iter();
            match known
                .position(|(file, place, _)| (*file == name || *file == "*") && *place == key)
            {
                Some(at) => met[at] = true,
                None => unused.push(format!("{name}: {key}")),
            }
        }
    }
    let idle = SAYS_THE_SAME.iter().zip(&met).filter(|(_, met)| !**met);
    let idle: Vec<_> = idle
        .map(|((file, key, _), _)| format!("{file}: {key}"))
        .collect();
    assert!(
        unused.is_empty(),
        "{} keys change nothing:\n{}",
        unused.len(),
        unused.join("\n")
    );
    assert!(
        idle.is_empty(),
        "these change something after all:\n{}",
        idle.join("\n")
    );
}
