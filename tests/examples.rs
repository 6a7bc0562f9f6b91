//! The programs of `examples/` as somebody runs them.

use std::path::PathBuf;
use std::process::Command;

/// What an example prints; `cargo test` has built it beside the program.
fn said(example: &str, args: &[&str]) -> String {
    let program = PathBuf::from(env!("CARGO_BIN_EXE_meltstair"));
    let folder = program.parent().expect("a folder").join("examples");
    let output = Command::new(folder.join(example))
        .args(args)
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .output()
        .expect("an example that runs");
    assert!(output.status.success(), "{output:?}");
    String::from_utf8(output.stdout).expect("text")
}

#[test]
fn a_trace_of_lead_is_seen_in_what_melts() {
    let said = said("what_melts", &[]);
    let lines: Vec<&str> = said.lines().collect();
    assert!(
        lines[0].starts_with("the ball alone: solid below 136 °C"),
        "{said}"
    );
    assert!(
        lines[1].starts_with("ball and film: solid below 95 °C"),
        "{said}"
    );
}

/// As written the step that leaves its alloy open takes the first: `order` finds the one that holds.
#[test]
fn a_job_is_checked_and_another_one_ordered() {
    let checked = said("check_job", &["charts/tide_gauge.yaml"]);
    assert!(
        checked.contains("\nset: melts, -2.444 K left\n"),
        "{checked}"
    );
    let ordered = said("best_order", &[]);
    let steps = "tin_horn: holds\ntin_lamp: holds\nholds, 109.244 K left\n";
    assert_eq!(ordered, steps);
}
