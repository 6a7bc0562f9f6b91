//! The log under many hands: nothing lost, nothing counted twice, nothing replaced that is not a file.
#![cfg(unix)]

use std::os::unix::fs::{PermissionsExt, symlink};
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

const PROGRAM: &str = env!("CARGO_BIN_EXE_meltstair");
const JOB: &str = "job: eight\nreadings: {Sn63Pb37: [183, 183]}\njoints:\n  - {id: a}\n  - {id: b}\n  - {id: c}\n  - {id: d}\n  - {id: e}\n  - {id: f}\n  - {id: g}\n  - {id: h}\nsteps:\n  - {id: sa, do: solder, joint: a, alloy: Sn63Pb37, mg: 1, tool: iron, k: {rest: 0.1}}\n  - {id: sb, do: solder, joint: b, alloy: Sn63Pb37, mg: 1, tool: iron, k: {rest: 0.1}}\n  - {id: sc, do: solder, joint: c, alloy: Sn63Pb37, mg: 1, tool: iron, k: {rest: 0.1}}\n  - {id: sd, do: solder, joint: d, alloy: Sn63Pb37, mg: 1, tool: iron, k: {rest: 0.1}}\n  - {id: se, do: solder, joint: e, alloy: Sn63Pb37, mg: 1, tool: iron, k: {rest: 0.1}}\n  - {id: sf, do: solder, joint: f, alloy: Sn63Pb37, mg: 1, tool: iron, k: {rest: 0.1}}\n  - {id: sg, do: solder, joint: g, alloy: Sn63Pb37, mg: 1, tool: iron, k: {rest: 0.1}}\n  - {id: sh, do: solder, joint: h, alloy: Sn63Pb37, mg: 1, tool: iron, k: {rest: 0.1}}\n";
const STEPS: [&str; 8] = ["sa", "sb", "sc", "sd", "se", "sf", "sg", "sh"];

fn folder() -> (tempfile::TempDir, PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("job.yaml");
    std::fs::write(&file, JOB).unwrap();
    (folder, file)
}

fn run(file: &Path, args: &[&str]) -> Output {
    let mut command = Command::new(PROGRAM);
    command.arg(args[0]).arg(file).args(&args[1..]);
    command.output().unwrap()
}

fn only_the_job_is_left(folder: &Path, files: usize) {
    let names: Vec<_> = std::fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().file_name())
        .collect();
    assert_eq!(names.len(), files, "{names:?}");
}

/// Eight at once, and some killed: every line that was told as logged is there, once.
#[test]
fn eight_at_once_leave_eight_lines() {
    // By hand: MELTSTAIR_KILLS=500 (three of eight in each round).
    let kills = std::env::var("MELTSTAIR_KILLS").ok();
    let kills: u64 = kills.and_then(|n| n.parse().ok()).unwrap_or(9);
    for round in 0..3 + kills.div_ceil(3) {
        let (folder, file) = folder();
        let children: Vec<_> = STEPS
            .iter()
            .map(|step| {
                let mut command = Command::new(PROGRAM);
                command.arg("did").arg(&file).arg(step);
                command.stdout(Stdio::piped()).stderr(Stdio::null());
                command.spawn().unwrap()
            })
            .collect();
        let kill = round >= 3;
        let mut told = Vec::new();
        for (nth, mut child) in children.into_iter().enumerate() {
            if kill && nth % 3 == 0 {
                std::thread::sleep(std::time::Duration::from_millis(7 * (round % 6)));
                let _ = child.kill();
            }
            let out = child.wait_with_output().unwrap();
            if out.status.success() {
                told.push(STEPS[nth]);
            }
        }
        let text = std::fs::read_to_string(&file).unwrap();
        for step in STEPS {
            let lines = text.matches(&format!("- {{step: {step}")).count();
            assert!(lines <= 1, "{text}");
            assert!(
                lines == 1 || !told.contains(&step),
                "{step} told and lost: {text}"
            );
        }
        assert!(kill || told.len() == 8, "{told:?}");
        // What a killed run left goes with the next.
        let next = STEPS
            .iter()
            .find(|step| !text.contains(&format!("- {{step: {step}")));
        match next {
            Some(step) => assert!(run(&file, &["did", step]).status.success()),
            None => assert!(run(&file, &["undo"]).status.success()),
        }
        only_the_job_is_left(folder.path(), 1);
    }
}

#[test]
fn undo_to_the_start_gives_the_original_bytes() {
    for end in ["\n", "", "\n\n\n", "  ", "\n# a note", "\n# a note\n"] {
        for line in ["\n", "\r\n"] {
            let (_folder, file) = folder();
            let original = format!("{}{end}", JOB.trim_end()).replace('\n', line);
            std::fs::write(&file, &original).unwrap();
            for step in &STEPS[..3] {
                let out = run(&file, &["did", step]);
                assert!(out.status.success(), "{out:?}");
            }
            for _ in 0..3 {
                assert!(run(&file, &["undo"]).status.success());
            }
            let now = std::fs::read_to_string(&file).unwrap();
            assert_eq!(now, original);
        }
    }
}

#[test]
fn a_link_stays_a_link_and_its_file_keeps_its_mode() {
    let (folder, file) = folder();
    let link = folder.path().join("link.yaml");
    symlink("job.yaml", &link).unwrap();
    std::fs::set_permissions(&file, std::fs::Permissions::from_mode(0o640)).unwrap();
    assert!(run(&link, &["did", "sa"]).status.success());
    assert!(std::fs::symlink_metadata(&link).unwrap().is_symlink());
    let mode = std::fs::metadata(&file).unwrap().permissions().mode();
    assert_eq!(mode & 0o777, 0o640);
    assert!(
        std::fs::read_to_string(&file)
            .unwrap()
            .contains("- {step: sa}")
    );
    only_the_job_is_left(folder.path(), 2);
}

#[test]
fn what_is_no_ordinary_file_is_refused_and_left() {
    let (folder, file) = folder();
    let pipe = folder.path().join("pipe.yaml");
    assert!(
        Command::new("mkfifo")
            .arg(&pipe)
            .status()
            .unwrap()
            .success()
    );
    let to_stdin = folder.path().join("stdin.yaml");
    symlink("/dev/stdin", &to_stdin).unwrap();
    // An ordinary file behind a name of what is open is still nothing to replace.
    for bad in [Path::new("/dev/stdin"), Path::new("/dev/fd/0"), &to_stdin] {
        for verb in [&["did", "sa"][..], &["undo"], &["learn"]] {
            let mut command = Command::new(PROGRAM);
            command.arg(verb[0]).arg(bad).args(&verb[1..]);
            command.stdin(std::fs::File::open(&file).unwrap());
            let out = command.output().unwrap();
            assert_eq!(out.status.code(), Some(2), "{}: {out:?}", bad.display());
            let told = String::from_utf8_lossy(&out.stderr).into_owned();
            assert!(told.contains("is no ordinary file"), "{told}");
        }
    }
    for bad in [pipe.as_path(), Path::new("/dev/null"), folder.path()] {
        for args in [&["did", "sa"][..], &["undo"]] {
            let out = run(bad, args);
            assert_eq!(out.status.code(), Some(2), "{}: {out:?}", bad.display());
        }
        let link = folder.path().join("out.html");
        let _ = std::fs::remove_file(&link);
        symlink(bad, &link).unwrap();
        let mut command = Command::new(PROGRAM);
        command.arg("sheet").arg(&file).arg("-o").arg(&link);
        let out = command.output().unwrap();
        assert_eq!(out.status.code(), Some(2), "{}: {out:?}", bad.display());
    }
    std::fs::set_permissions(&file, std::fs::Permissions::from_mode(0o444)).unwrap();
    let out = run(&file, &["did", "sa"]);
    assert_eq!(out.status.code(), Some(2));
    assert!(
        String::from_utf8_lossy(&out.stderr).contains("read-only"),
        "{out:?}"
    );
    assert_eq!(std::fs::read_to_string(&file).unwrap(), JOB);
}

#[test]
fn an_answer_that_cannot_be_written_is_no_success() {
    let (_folder, file) = folder();
    let full = std::fs::OpenOptions::new()
        .write(true)
        .open("/dev/full")
        .unwrap();
    let job = file.to_str().unwrap();
    for args in [
        &["check", job][..],
        &["order", job],
        &["--help"],
        &["--version"],
        &["schema"],
        &["drill", "--level", "1", "--paper"],
        &["drill", "--level", "1", "--json"],
    ] {
        let mut command = Command::new(PROGRAM);
        command.args(args).stdout(full.try_clone().unwrap());
        let code = command.output().unwrap().status.code();
        assert_eq!(code, Some(2), "{args:?}");
    }
}

#[test]
fn paths_that_are_no_utf8_work() {
    use std::os::unix::ffi::OsStrExt;
    let (folder, file) = folder();
    let odd = folder
        .path()
        .join(std::ffi::OsStr::from_bytes(b"j\xffb.yaml"));
    std::fs::copy(&file, &odd).unwrap();
    assert!(run(&odd, &["did", "sa"]).status.success());
    let odd = odd.as_os_str();
    let word = std::ffi::OsStr::new;
    for (args, flag, name) in [
        (&[word("sheet"), odd][..], "-o", &b"s\xff.html"[..]),
        (&[word("chart"), odd], "-o", b"c\xff.svg"),
        (&[word("compare"), odd, odd], "-o", b"v\xff.svg"),
        (&[word("mix"), word("snbi")], "--curve", b"m\xff.svg"),
        (
            &[word("mix"), word("snbi + sac305")],
            "--sweep",
            b"w\xff.png",
        ),
    ] {
        let to = folder.path().join(std::ffi::OsStr::from_bytes(name));
        let verb = args[0].display();
        let mut command = Command::new(PROGRAM);
        command.args(args).arg(flag).arg(&to).arg("--json");
        let out = command.output().unwrap();
        assert!(to.is_file(), "{verb}: {out:?}");
        let json: serde_json::Value = serde_json::from_slice(&out.stdout).unwrap();
        assert!(json["file"].is_string(), "{json}");
    }
}

/// Control characters of C1 and DEL reach no terminal, from the file or the command line, in text or JSON.
#[test]
fn control_characters_are_escaped() {
    let (_folder, file) = folder();
    let odd = JOB.replace("job: eight", "job: \"a\\u009bb\\u007fc\\u202e\"");
    std::fs::write(&file, &odd).unwrap();
    let job = file.to_str().unwrap();
    for args in [
        &["check", job][..],
        &["check", job, "--json"],
        &["order", job],
        &["order", job, "--json"],
        &["order", "\u{9b}31m\u{7f}"],
        &["order", "--\u{9b}31m\u{7f}"],
        &["mix", "\u{9b}31m\u{7f}"],
        &["mix", "\u{9b}31m\u{7f}", "--json"],
    ] {
        let out = Command::new(PROGRAM).args(args).output().unwrap();
        for said in [out.stdout, out.stderr] {
            let said = String::from_utf8(said).unwrap();
            let bad = |c: char| c.is_control() && c != '\n';
            assert!(!said.contains(bad), "{args:?}: {said:?}");
        }
    }
}

/// What cannot be written is told before the job is even read.
#[test]
fn a_place_that_cannot_be_written_is_told_before_the_work() {
    let (folder, _file) = folder();
    for args in [
        &["sheet", "no.yaml", "-o", "x.pdf"][..],
        &["sheet", "no.yaml", "-o", "none/x.html"],
        &["chart", "no.yaml", "-o", "x.jpg"],
        &["chart", "no.yaml", "-o", "none/x.svg"],
        &["compare", "no.yaml", "no.yaml", "-o", "none/x.svg"],
        &["mix", "nothing", "--curve", "none/x.svg"],
    ] {
        let mut command = Command::new(PROGRAM);
        let out = command
            .args(args)
            .current_dir(folder.path())
            .output()
            .unwrap();
        let told = String::from_utf8_lossy(&out.stderr).into_owned();
        assert_eq!(out.status.code(), Some(2), "{told}");
        assert!(
            told.contains("want a name") || told.contains("there is no folder"),
            "{told}"
        );
    }
}

/// A run that waits for a pipe has nothing to give: the first Ctrl-C ends it.
#[test]
fn the_first_interrupt_ends_what_waits_for_its_file() {
    let (folder, _file) = folder();
    let pipe = folder.path().join("pipe.yaml");
    let made = Command::new("mkfifo").arg(&pipe).status().unwrap();
    assert!(made.success());
    for verb in ["check", "order"] {
        let mut command = Command::new(PROGRAM);
        command
            .arg(verb)
            .arg(&pipe)
            .stdout(Stdio::null())
            .stderr(Stdio::null());
        let mut child = command.spawn().unwrap();
        std::thread::sleep(std::time::Duration::from_millis(400));
        let kill = Command::new("kill")
            .args(["-INT", &child.id().to_string()])
            .status();
        assert!(kill.unwrap().success());
        let begun = std::time::Instant::now();
        while child.try_wait().unwrap().is_none() {
            assert!(begun.elapsed().as_secs() < 20, "{verb} does not end");
            std::thread::sleep(std::time::Duration::from_millis(10));
        }
        assert_ne!(child.wait().unwrap().code(), Some(0), "{verb}");
    }
}
