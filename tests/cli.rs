//! The real binary: exit codes, what goes to which stream, and that bad input changes no file.

use std::process::{Command, Output};

fn meltstair(args: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_meltstair"))
        .args(args)
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .env("XDG_CONFIG_HOME", "/nonexistent")
        .output()
        .expect("the binary runs")
}

fn code(args: &[&str]) -> Option<i32> {
    meltstair(args).status.code()
}

#[test]
fn exit_codes_tell_holds_from_worse_from_wrong_from_unknown() {
    assert_eq!(code(&["order", "charts/tide_gauge.yaml"]), Some(0));
    assert_eq!(code(&["order", "charts/seismometer.yaml"]), Some(1));
    assert_eq!(code(&["check", "charts/seismometer.yaml"]), Some(1));
    assert_eq!(code(&["check", "charts/no_such_job.yaml"]), Some(2));
    assert_eq!(code(&["alloys", "90/10"]), Some(2));
    assert_eq!(code(&["no_such_verb"]), Some(2));
    assert_eq!(
        code(&["check", "tests/acceptance/48_unknown.yaml"]),
        Some(3)
    );
}

#[test]
fn answers_go_to_standard_output_and_faults_to_standard_error() {
    let good = meltstair(&["--json", "check", "charts/tide_gauge.yaml"]);
    let json: serde_json::Value = serde_json::from_slice(&good.stdout).expect("JSON alone");
    assert_eq!(json["meltstair"], "check/1");
    let bad = meltstair(&["check", "tests/jobs/broken/alloy_unknown_name.yaml"]);
    assert!(bad.stdout.is_empty());
    let said = String::from_utf8_lossy(&bad.stderr).into_owned();
    assert!(said.contains("alloy_unknown_name.yaml:3:22"), "{said}");
    assert!(said.contains("Sn63Pb37"), "{said}");
}

#[test]
fn a_log_line_that_does_not_fit_changes_no_file() {
    let folder = tempfile::tempdir().expect("a folder");
    let job = folder.path().join("job.yaml");
    let before = std::fs::read("charts/tide_gauge.yaml").expect("the demo job");
    std::fs::write(&job, &before).expect("written");
    let job = job.to_str().expect("a plain path");
    assert_eq!(code(&["did", job, "no_such_step"]), Some(2));
    assert_eq!(std::fs::read(job).expect("still there"), before);
    assert_eq!(code(&["did", job, "rebuild", "--peak", "206"]), Some(0));
    let logged = std::fs::read_to_string(job).expect("still there");
    assert!(logged.contains("{step: rebuild, peak_c: 206}"), "{logged}");
    assert_eq!(code(&["undo", job]), Some(0));
}

#[test]
fn completions_and_manual_page_are_printed() {
    let page = meltstair(&["man"]).stdout;
    assert!(String::from_utf8_lossy(&page).contains("meltstair"));
    let shell = meltstair(&["completions", "bash"]).stdout;
    assert!(String::from_utf8_lossy(&shell).contains("complete -F"));
}
