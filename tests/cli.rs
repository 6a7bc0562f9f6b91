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
    // An alloy that the step leaves open is never guessed.
    assert_eq!(code(&["did", job, "ball"]), Some(2));
    assert_eq!(std::fs::read(job).expect("still there"), before);
    assert_eq!(code(&["did", job, "rebuild", "--peak", "206"]), Some(0));
    let logged = std::fs::read_to_string(job).expect("still there");
    assert!(logged.contains("{step: rebuild, peak_c: 206}"), "{logged}");
    assert_eq!(code(&["undo", job]), Some(0));
}

/// What a line of the log leads to is said at once; what no order can mend is no `nothing clashes`.
#[test]
fn a_log_line_is_answered_with_what_comes_next() {
    let folder = tempfile::tempdir().expect("a folder");
    let job = folder.path().join("job.yaml");
    let text = "job: a mast light\nreadings: {Sn63Pb37: [183, 183], Sn96.5Ag3Cu0.5: [217, 220]}\n\
                joints: [{id: a, pad_um: 500}, {id: b, pad_um: 500}, {id: n, alloy: Sn63Pb37, mg: 1, must: stay_solid}]\n\
                steps:\n- {id: one, do: solder, joint: a, alloy: Sn63Pb37, mg: 0.2, tool: iron, k: {rest: 0.1}}\n\
                - {id: two, do: solder, joint: b, alloy: Sn63Pb37, mg: 0.2, tool: iron, k: {rest: 0.1}, after: one}\n";
    std::fs::write(&job, text).expect("written");
    let job = job.to_str().expect("a plain path");
    let said = |args: &[&str]| {
        let answer = meltstair(args);
        let out = String::from_utf8_lossy(&answer.stdout).into_owned();
        (answer.status.code(), out)
    };
    let (_, next) = said(&["did", job, "one", "--peak", "205"]);
    assert!(
        next.contains("next: two, solder b, iron, aim 203"),
        "{next}"
    );
    assert_eq!(said(&["clash", job]).0, Some(0));
    let (_, next) = said(&["did", job, "one", "--peak", "205", "--sees", "n:190"]);
    assert!(next.contains("next: one~inspect, inspect (melts"), "{next}");
    let (code, clash) = said(&["clash", job]);
    assert_eq!(code, Some(1), "{clash}");
    assert!(clash.starts_with("melts: no demand clashes"), "{clash}");
}

/// What must be bought is no answer for whoever asks of a shelf.
#[test]
fn a_shelf_of_which_nothing_can_be_used_does_not_hold() {
    let over = |shelf: &str| code(&["pick", "--over", "Bi58Sn42", "--stock", shelf]);
    assert_eq!(over("Sn63Pb37"), Some(1));
    let above = ["pick", "--over", "Sn96.5Ag3Cu0.5", "--stock", "Bi58Sn42"];
    assert_eq!(code(&above), Some(0));
}

/// A false "holds" otherwise: balls of a lower alloy than the one that comes first among the open ones.
#[test]
fn a_log_that_is_silent_about_the_alloy_leaves_it_unknown() {
    let folder = tempfile::tempdir().expect("a folder");
    let job = folder.path().join("job.yaml");
    let demo = std::fs::read_to_string("charts/tide_gauge.yaml").expect("the demo job");
    let ordered = |alloy: &str| {
        let log = format!(
            "done:\n  - {{step: rebuild}}\n  - {{step: shield}}\n  - {{step: strip}}\n  - {{step: ball{alloy}}}\n"
        );
        std::fs::write(&job, format!("{demo}{log}")).expect("written");
        let answer = meltstair(&["order", job.to_str().expect("a plain path")]);
        let said = String::from_utf8_lossy(&answer.stdout).into_owned();
        (answer.status.code(), said)
    };
    let (code, said) = ordered(", alloy: Bi58Sn42");
    assert_eq!(code, Some(0), "{said}");
    let (code, said) = ordered("");
    assert_eq!(code, Some(3), "{said}");
    // Stripped, balls on, to be set down: nobody knows how hot it got, and each is a heat.
    assert!(
        said.contains("Heats of store (holds the data): 3 here"),
        "{said}"
    );
}

#[test]
fn completions_and_manual_page_are_printed() {
    let page = meltstair(&["man"]).stdout;
    assert!(String::from_utf8_lossy(&page).contains("meltstair"));
    let shell = meltstair(&["completions", "bash"]).stdout;
    assert!(String::from_utf8_lossy(&shell).contains("complete -F"));
}

#[test]
fn own_alloys_are_checked_with_line_and_column_or_called_understood() {
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("own.yaml");
    let path = file.to_str().expect("a plain path");
    let good = "\
sources:
  spool: {title: label of our spool, publisher: ours, year: '2024', address: shelf, kind: own}
alloys:
  - {alloy: Sn63Pb37, use_c: 183/183, why: ours, readings_c: {spool: 183/183}}
stock: [{alloy: 63/37}]
";
    std::fs::write(&file, good).expect("written");
    let fine = meltstair(&["alloys", "--check", path]);
    assert_eq!(fine.status.code(), Some(0));
    let said = String::from_utf8_lossy(&fine.stdout).into_owned();
    assert!(
        said.starts_with("own alloys: 1, on the shelf: 1, all understood; nothing disagrees"),
        "{said}"
    );
    // All faults at once, each where it stands.
    let bad = good
        .replace("use_c: 183/183", "use_c: 192/182")
        .replace("63/37", "63/38");
    std::fs::write(&file, bad).expect("written");
    let wrong = meltstair(&["alloys", "--check", path]);
    assert_eq!(wrong.status.code(), Some(2));
    assert!(wrong.stdout.is_empty());
    let said = String::from_utf8_lossy(&wrong.stderr).into_owned();
    assert!(
        said.contains("own.yaml:4:30") && said.contains("own.yaml:5:17"),
        "{said}"
    );
    assert!(said.contains("lies above the liquidus"), "{said}");
}

/// Standard output of the program, and its file where one is written, with some of the environment.
fn coloured(args: &[&str], environment: &[(&str, &str)]) -> String {
    let mut command = Command::new(env!("CARGO_BIN_EXE_meltstair"));
    command.args(args).env("XDG_CONFIG_HOME", "/nonexistent");
    for name in ["NO_COLOR", "CLICOLOR_FORCE", "CLICOLOR"] {
        command.env_remove(name);
    }
    let output = command
        .envs(environment.iter().copied())
        .output()
        .expect("the binary runs");
    String::from_utf8(output.stdout).expect("text")
}

/// What a terminal shows: the text without its escape codes.
fn without_codes(text: &str) -> String {
    let mut parts = text.split('\u{1b}');
    let mut out = parts.next().unwrap_or_default().to_owned();
    for part in parts {
        out += part.split_once('m').expect("a code that ends").1;
    }
    out
}

#[test]
fn colour_is_forced_forbidden_and_never_anything_but_colour() {
    let force = ("CLICOLOR_FORCE", "1");
    for verb in ["order", "check", "clash"] {
        for file in ["tide_gauge", "organ_console", "seismometer", "bell_buoy"] {
            let file = format!("{}/charts/{file}.yaml", env!("CARGO_MANIFEST_DIR"));
            let args = [verb, &file];
            let plain = coloured(&args, &[]);
            assert!(!plain.contains('\u{1b}'), "no terminal, no colour: {plain}");
            let painted = coloured(&args, &[force]);
            assert!(
                painted.contains('\u{1b}') || verb == "clash",
                "{verb}: {painted}"
            );
            assert_eq!(
                without_codes(&painted),
                plain,
                "the same words in the same columns"
            );
            assert_eq!(coloured(&args, &[force, ("NO_COLOR", "1")]), plain);
            assert_eq!(
                coloured(&args, &[force, ("NO_COLOR", "")]),
                painted,
                "empty is not set"
            );
            assert_eq!(coloured(&args, &[("CLICOLOR_FORCE", "0")]), plain);
            assert_eq!(coloured(&args, &[("CLICOLOR_FORCE", "")]), plain);
            let json = coloured(&[verb, &file, "--json"], &[force]);
            assert!(
                !json.contains("\\u001b") && !json.contains('\u{1b}'),
                "{json}"
            );
        }
    }
    let folder = tempfile::tempdir().expect("a folder");
    let tide_gauge = concat!(env!("CARGO_MANIFEST_DIR"), "/charts/tide_gauge.yaml");
    for (verb, name) in [("sheet", "s.html"), ("chart", "c.svg")] {
        let to = folder.path().join(name);
        let to = to.to_str().expect("a plain path");
        coloured(&[verb, tide_gauge, "-o", to], &[force]);
        let written = std::fs::read_to_string(to).expect("written");
        assert!(!written.contains('\u{1b}'), "{name}");
    }
}

/// The drill with lines typed into it.
fn drilled(args: &[&str], typed: &str) -> (Option<i32>, String) {
    use std::io::Write as _;
    let mut child = Command::new(env!("CARGO_BIN_EXE_meltstair"))
        .arg("drill")
        .args(args)
        .env("XDG_CONFIG_HOME", "/nonexistent")
        .stdin(std::process::Stdio::piped())
        .stdout(std::process::Stdio::piped())
        .stderr(std::process::Stdio::piped())
        .spawn()
        .expect("the binary runs");
    // It may have ended before it read everything.
    let _ = child
        .stdin
        .take()
        .expect("piped")
        .write_all(typed.as_bytes());
    let output = child.wait_with_output().expect("it ends");
    let mut said = String::from_utf8_lossy(&output.stdout).into_owned();
    said += &String::from_utf8_lossy(&output.stderr);
    (output.status.code(), said)
}

#[test]
fn a_drill_asks_again_what_it_does_not_understand_judges_and_keeps_the_score() {
    let folder = tempfile::tempdir().expect("a folder");
    let score = folder.path().join("score.json");
    let score = score.to_str().expect("a plain path");
    let args = [
        "--level", "2", "--seed", "68", "--count", "2", "--score", score,
    ];
    // Question 1 of this seed asks for a limit of 88 °C, question 2 for 58 K where the gap is 88 K.
    let (code, said) = drilled(&args, "warm\n88 °C\nz\na\n88\nb\n");
    assert_eq!(code, Some(0), "{said}");
    assert!(said.contains("want a number in °C"), "{said}");
    assert!(said.contains("want letters from a to c"), "{said}");
    assert!(said.contains("Right; the reason is not."), "{said}");
    assert!(
        said.contains("that is the gap between the two alloys"),
        "{said}"
    );
    assert!(
        said.contains("Here: 1 of 2 answers and 0 of 2 reasons right"),
        "{said}"
    );
    // An empty line, or the end of input, ends it; what was answered counts.
    let (code, said) = drilled(&args, "88\nc\n\n");
    assert_eq!(code, Some(0));
    assert!(
        said.contains("so far: 2 of 3 answers and 1 of 3 reasons"),
        "{said}"
    );
    std::fs::write(score, "not a score").expect("written");
    let (code, said) = drilled(&args, "88\nc\n");
    assert_eq!(code, Some(2), "{said}");
    assert_eq!(
        std::fs::read_to_string(score).expect("there"),
        "not a score"
    );
}

#[test]
fn a_paper_test_keeps_its_answers_on_a_page_of_their_own() {
    let args = ["--level", "2", "--seed", "68", "--paper"];
    let (code, said) = drilled(&args, "");
    assert_eq!(code, Some(0));
    let (questions, answers) = said.split_once('\u{c}').expect("a page break");
    assert!(questions.contains("How warm may it get in use?") && questions.contains("reason ____"));
    assert!(!questions.contains("how: ") && !questions.contains("88"));
    assert!(answers.contains("1. 88 °C\n   reason c)"), "{answers}");
    assert_eq!(drilled(&args, "").1, said, "the same seed, the same test");
}

#[test]
fn every_answer_fits_a_terminal_of_40_columns() {
    use meltstair::cli::{Around, run};
    let around = Around {
        width: 40,
        own_alloys: None,
        score: None,
    };
    for line in [
        "check|charts/organ_console.yaml",
        "order|charts/tide_gauge.yaml",
        "order|charts/organ_console.yaml|--all",
        "order|charts/tide_gauge.yaml|--why|set",
        "clash|charts/seismometer.yaml",
        "alloys|--check|tests/alloys/own.yaml",
        "alloys|lead-free|100-150",
        "pick|charts/tide_gauge.yaml|--joint|site",
        "chart|charts/tide_gauge.yaml|--text",
        "alloys",
        "alloys|sac305",
        "pick|--over|sac305|63/37|--service|60",
        "mix|snbi 90% + 63/37 10%|--sweep",
        "mix|ball 0.3 snbi + film 10um 63/37 on 0.3|--sweep|--at|120|150",
        "mix|ball 0.3 snbi + film 10um 63/37 on 0.3|--at|120|150",
        "mix|Sn43Pb43Bi14",
        "compare|charts/tide_gauge.yaml|charts/organ_console.yaml",
    ] {
        let args = ["meltstair"].into_iter().chain(line.split('|'));
        let (mut out, mut err) = (Vec::new(), Vec::new());
        run(args.map(Into::into), &around, &mut out, &mut err);
        let text = String::from_utf8(out).expect("text");
        let long = text.lines().find(|line| line.chars().count() > 40);
        assert_eq!(long, None, "{line}");
        assert!(text.len() > 40, "{line}: {}", String::from_utf8_lossy(&err));
    }
}
