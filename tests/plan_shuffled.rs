//! The order of lines in a job file decides nothing: shuffled, it gives the same bytes.

use std::ffi::OsString;

use meltstair::cli::{Around, run};

use crate::plan_brute::dice::Dice;

fn say(args: &[&str]) -> String {
    let all = ["meltstair"].iter().chain(args).map(OsString::from);
    let around = Around {
        width: 100,
        own_alloys: None,
        score: None,
    };
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let code = run(all, &around, &mut out, &mut err);
    assert!(code != 2, "{}", String::from_utf8_lossy(&err));
    String::from_utf8(out).unwrap()
}

/// The job with the lines of each list in another order.
fn shuffled(text: &str, dice: &mut Dice) -> String {
    let mut lines: Vec<&str> = text.lines().collect();
    let item = |line: &str| line.starts_with("  - ");
    let mut at = 0;
    while at < lines.len() {
        let end = (at..lines.len())
            .find(|i| !item(lines[*i]))
            .unwrap_or(lines.len());
        for i in (at + 1..end).rev() {
            lines.swap(i, at + dice.below(i - at + 1));
        }
        at = end.max(at + 1);
    }
    format!("{}\n", lines.join("\n"))
}

/// A law: the order of lines means nothing.
#[test]
fn shuffled_jobs_are_answered_with_the_same_bytes() {
    let root = env!("CARGO_MANIFEST_DIR");
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("job.yaml");
    let path = file.to_str().unwrap();
    for (name, verbs) in [
        ("charts/tide_gauge.yaml", &["order"][..]),
        ("charts/organ_console.yaml", &["order"]),
        ("charts/seismometer.yaml", &["order", "clash"]),
        ("tests/jobs/tower_chime.yaml", &["order", "clash"]),
        ("tests/jobs/tower_chime_frame.yaml", &["order", "clash"]),
        ("tests/acceptance/48_unknown.yaml", &["order", "clash"]),
        ("tests/acceptance/52_wires.yaml", &["order"]),
    ] {
        let text = std::fs::read_to_string(format!("{root}/{name}")).unwrap();
        let answers = |text: &str| -> Vec<String> {
            std::fs::write(&file, text).unwrap();
            let both = |verb: &&str| [say(&[verb, path]), say(&["--json", verb, path])];
            verbs.iter().flat_map(both).collect()
        };
        let want = answers(&text);
        let mut moved = 0;
        for seed in 0..6 {
            let other = shuffled(&text, &mut Dice(seed));
            moved += usize::from(other != text);
            for (want, found) in want.iter().zip(answers(&other)) {
                // The first lines that differ, rather than two whole answers.
                let differing = want.lines().zip(found.lines()).find(|(a, b)| a != b);
                assert!(*want == found, "{name}: {differing:?}");
            }
        }
        assert!(moved > 2, "{name} was not shuffled");
    }
}
