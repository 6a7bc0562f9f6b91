//! The acceptance jobs: each row of `cases.csv` runs the program and looks at one value of its JSON
//! answer. The source stands beside each value.

use std::ffi::OsString;

use meltstair::cli::{Around, run};
use serde_json::Value;

/// One value of one answer.
#[derive(Debug, serde::Deserialize)]
#[serde(deny_unknown_fields)]
struct Row {
    case: String,
    /// A verb and its arguments; a word that names a job of this folder is its path.
    args: String,
    /// JSON pointer into the answer.
    pointer: String,
    want: String,
    tolerance: Option<f64>,
    source: String,
}

const FOLDER: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/acceptance");

fn answer(args: &str) -> Result<Value, String> {
    let mut all: Vec<OsString> = vec!["meltstair".into(), "--json".into()];
    for arg in shell_words(args) {
        let job = format!("{FOLDER}/{arg}.yaml");
        let is_job = std::path::Path::new(&job).is_file();
        all.push(if is_job { job.into() } else { arg.into() });
    }
    let around = Around {
        width: 100,
        own_alloys: None,
        score: None,
    };
    let (mut out, mut err) = (Vec::new(), Vec::new());
    run(all, &around, &mut out, &mut err);
    serde_json::from_slice(&out).map_err(|_| String::from_utf8_lossy(&err).into_owned())
}

/// Words apart by blanks; `'…'` keeps blanks.
fn shell_words(line: &str) -> Vec<String> {
    let quoted = line.split('\'').enumerate();
    quoted
        .flat_map(|(i, piece)| match i % 2 {
            0 => piece
                .split_whitespace()
                .map(str::to_owned)
                .collect::<Vec<_>>(),
            _ => vec![piece.to_owned()],
        })
        .collect()
}

fn miss(row: &Row) -> Option<String> {
    let found = match answer(&row.args) {
        Ok(json) => json.pointer(&row.pointer).cloned().unwrap_or(Value::Null),
        Err(said) => return Some(format!("no answer: {said}")),
    };
    let fits = match (row.tolerance, found.as_f64(), row.want.parse::<f64>()) {
        (Some(tolerance), Some(found), Ok(want)) => (found - want).abs() <= tolerance + 1e-9,
        (None, _, _) => found.as_str().map_or(found.to_string(), str::to_owned) == row.want,
        _ => false,
    };
    (!fits).then(|| format!("found {found}"))
}

#[test]
fn the_acceptance_jobs_get_their_answers() {
    let mut reader = csv::Reader::from_path(format!("{FOLDER}/cases.csv")).expect("table is there");
    let mut misses = Vec::new();
    let mut rows = 0;
    for row in reader.deserialize::<Row>() {
        let row = row.expect("a row of the table");
        assert!(
            !row.source.trim().is_empty(),
            "case {} names no source",
            row.case
        );
        rows += 1;
        if let Some(why) = miss(&row) {
            misses.push(format!(
                "case {} `{}` {}: want {} ± {:?}, {why} [{}]",
                row.case, row.args, row.pointer, row.want, row.tolerance, row.source
            ));
        }
    }
    assert!(rows > 50, "the table has shrunk to {rows} rows");
    assert!(
        misses.is_empty(),
        "{} of {rows} rows miss:\n{}",
        misses.len(),
        misses.join("\n")
    );
}
