//! The table of what the program decides by: every row has a source that exists, is read by the program, and moves an
//! answer when it is edited.

use std::collections::BTreeSet;
use std::path::Path;
use std::process::Command;

const TABLE: &str = include_str!("../alloys/policy.yaml");

fn rows() -> Vec<serde_json::Value> {
    serde_saphyr::from_str(TABLE).unwrap()
}

#[test]
fn every_row_says_what_it_decides_and_where_it_is_from() {
    let sources = [
        include_str!("../alloys/limits/sources.yaml"),
        include_str!("../alloys/sources.yaml"),
    ];
    let known = |key: &str| {
        let head = format!("{key}:");
        sources.iter().any(|text| {
            text.lines()
                .any(|line| line.trim_start().starts_with(&head))
        })
    };
    let mut names = BTreeSet::new();
    for row in rows() {
        let word = |key: &str| row[key].as_str().unwrap_or_else(|| panic!("{row}: {key}"));
        assert!(names.insert(word("name").to_owned()), "{row}: twice");
        assert!(word("decides").len() > 10, "{row}");
        assert!(row["value"].is_number(), "{row}");
        let from = row["from"].as_array().cloned().unwrap_or_default();
        let marks = ["seen", "memory", "practice", "judgement", "derived"];
        assert!(marks.contains(&word("mark")), "{row}");
        // What was seen was seen somewhere.
        assert!(word("mark") != "seen" || !from.is_empty(), "{row}");
        // What is from memory names its publication.
        let names_a_year = word("decides")
            .split(|c: char| !c.is_ascii_digit())
            .any(|n| n.len() == 4);
        assert!(
            word("mark") != "memory" || !from.is_empty() || names_a_year,
            "{row}"
        );
        for key in from {
            assert!(known(key.as_str().unwrap()), "{row}: {key}");
        }
    }
    assert!(names.len() > 30);
}

#[test]
fn every_row_is_read() {
    let source = all_source(&Path::new(env!("CARGO_MANIFEST_DIR")).join("src"));
    for row in rows() {
        let used = format!("policy::{}", row["name"].as_str().unwrap().to_uppercase());
        let read = source.match_indices(&used).any(|(at, _)| {
            let next = source[at + used.len()..].chars().next();
            next.is_some_and(|c| !c.is_alphanumeric() && c != '_')
        });
        assert!(read, "{used} is read by nothing");
    }
}

fn all_source(folder: &Path) -> String {
    let mut text = String::new();
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            text += &all_source(&path);
        } else if path.extension().is_some_and(|ending| ending == "rs") {
            text += &std::fs::read_to_string(&path).unwrap();
        }
    }
    text
}

/// By hand, some minutes: `cargo test --test main -- --ignored edited`. The program is built from a copy in which one
/// number is another, and answers otherwise.
#[test]
#[ignore = "builds the program twice"]
fn an_edited_number_changes_the_answer() {
    let own = Path::new(env!("CARGO_MANIFEST_DIR"));
    let copy = tempfile::tempdir().unwrap();
    for name in [
        "Cargo.toml",
        "Cargo.lock",
        "build.rs",
        "README.md",
        "src",
        "alloys",
        "tests",
    ] {
        copied(&own.join(name), &copy.path().join(name));
    }
    let job = own.join("charts/tide_gauge.yaml");
    let answer = |edit: &dyn Fn(String) -> String| {
        let table = copy.path().join("alloys/policy.yaml");
        std::fs::write(&table, edit(TABLE.to_owned())).unwrap();
        let run = Command::new(env!("CARGO"))
            .args([
                "run",
                "--quiet",
                "--locked",
                "--bin",
                "meltstair",
                "--",
                "order",
            ])
            .arg(&job)
            .env("CARGO_TARGET_DIR", own.join("target/edited"))
            .current_dir(copy.path())
            .output()
            .unwrap();
        String::from_utf8(run.stdout).unwrap()
    };
    let as_it_is = answer(&|text| text);
    let more = "{name: superheat, value: 30,";
    let hotter = answer(&|text| text.replace("{name: superheat, value: 20,", more));
    assert!(as_it_is.starts_with("holds"), "{as_it_is}");
    assert_ne!(as_it_is, hotter);
}

fn copied(from: &Path, to: &Path) {
    if from.is_dir() {
        std::fs::create_dir_all(to).unwrap();
        for entry in std::fs::read_dir(from).unwrap() {
            let entry = entry.unwrap();
            copied(&entry.path(), &to.join(entry.file_name()));
        }
    } else {
        std::fs::copy(from, to).unwrap();
    }
}
