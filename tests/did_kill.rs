//! `did` and `undo` killed at any moment: the job file is the old or the new one, whole.
#![cfg(unix)]

use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

const PROGRAM: &str = env!("CARGO_BIN_EXE_meltstair");
const JOB: &str = include_str!("acceptance/52_wires.yaml");

/// A job long enough to be written in many pieces.
fn long_job() -> String {
    let padding = "# the log of a long evening, line after line\n".repeat(400);
    format!("{padding}{JOB}done:\n  - {{step: tie, peak_c: 160}}\n")
}

fn verbs() -> [Vec<&'static str>; 2] {
    [
        vec!["did", "job.yaml", "meter", "--reads", "bus:0.2"],
        vec!["undo", "job.yaml"],
    ]
}

fn command(folder: &Path, args: &[&str]) -> Command {
    let mut command = Command::new(PROGRAM);
    command.args(args).current_dir(folder);
    command.stdout(Stdio::null()).stderr(Stdio::null());
    command
}

/// What the file says if nothing goes wrong, and how long that takes.
fn undisturbed(args: &[&str]) -> (String, Duration) {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("job.yaml");
    std::fs::write(&file, long_job()).unwrap();
    let begun = Instant::now();
    assert!(command(folder.path(), args).status().unwrap().success());
    let taken = begun.elapsed();
    (std::fs::read_to_string(&file).unwrap(), taken)
}

/// The system stops the program in the write that passes so many blocks: the first, the second, …
#[test]
fn a_crash_in_any_write_leaves_the_old_file_or_the_new_one() {
    for args in verbs() {
        let old = long_job();
        let (new, _) = undisturbed(&args);
        assert_ne!(old, new);
        let (mut kept, mut written) = (0, 0);
        for blocks in 0..48 {
            let folder = tempfile::tempdir().unwrap();
            let file = folder.path().join("job.yaml");
            std::fs::write(&file, &old).unwrap();
            let limited = format!("ulimit -f {blocks}; exec \"$0\" \"$@\"");
            let mut shell = Command::new("sh");
            shell.args(["-c", &limited, PROGRAM]).args(&args);
            shell.current_dir(folder.path());
            shell.stdout(Stdio::null()).stderr(Stdio::null());
            shell.status().unwrap();
            let now = std::fs::read_to_string(&file).unwrap();
            assert!(now == old || now == new, "{blocks} blocks: {now}");
            kept += usize::from(now == old);
            written += usize::from(now == new);
            if now == old {
                let again = command(folder.path(), &args).status().unwrap();
                assert!(again.success(), "what the crash left is in the way");
                assert_eq!(std::fs::read_to_string(&file).unwrap(), new);
            }
        }
        assert!(kept > 10 && written > 0, "{kept} kept, {written} written");
    }
}

/// Killed after some time, spread over twice what it takes undisturbed.
#[test]
fn killed_at_any_moment_the_file_is_whole() {
    for args in verbs() {
        let old = long_job();
        let (new, taken) = undisturbed(&args);
        // By hand: MELTSTAIR_KILLS=500.
        let kills = std::env::var("MELTSTAIR_KILLS").ok();
        let kills: u32 = kills.and_then(|n| n.parse().ok()).unwrap_or(40);
        for nth in 0..kills {
            let folder = tempfile::tempdir().unwrap();
            let file = folder.path().join("job.yaml");
            std::fs::write(&file, &old).unwrap();
            let mut child = command(folder.path(), &args).spawn().unwrap();
            std::thread::sleep(taken * nth * 2 / kills);
            // It may be through already.
            let _ = child.kill();
            child.wait().unwrap();
            let now = std::fs::read_to_string(&file).unwrap();
            assert!(now == old || now == new, "{nth}: {now}");
            if now == old {
                let again = command(folder.path(), &args).status().unwrap();
                assert!(again.success(), "what the kill left is in the way");
            }
            let left = std::fs::read_dir(folder.path()).unwrap().count();
            assert!(now == new || left == 1, "{nth}: a stray file");
        }
    }
}

/// A sheet or a picture stopped in the middle of its write: what it left goes with the next one that is written.
#[test]
fn what_a_killed_picture_left_goes_with_the_next_write() {
    for args in [
        ["sheet", "job.yaml", "-o", "out.html"],
        ["chart", "job.yaml", "-o", "out.svg"],
    ] {
        let folder = tempfile::tempdir().unwrap();
        std::fs::write(folder.path().join("job.yaml"), JOB).unwrap();
        let names = || {
            let entries = std::fs::read_dir(folder.path()).unwrap();
            let names = entries.map(|entry| entry.unwrap().file_name().into_string().unwrap());
            names
                .filter(|name| name.starts_with('.'))
                .collect::<Vec<_>>()
        };
        let mut shell = Command::new("sh");
        shell.args(["-c", "ulimit -f 1; exec \"$0\" \"$@\"", PROGRAM]);
        shell.args(args).current_dir(folder.path());
        shell.stdout(Stdio::null()).stderr(Stdio::null());
        assert_eq!(shell.status().unwrap().code(), None, "killed");
        assert_eq!(names().len(), 1, "{:?}", names());
        assert!(command(folder.path(), &args).status().unwrap().code() != Some(2));
        assert!(folder.path().join(args[3]).exists());
        assert_eq!(names(), Vec::<String>::new());
    }
}

/// A file that is no job, or has no log to take from: nothing changes, nothing is left behind.
#[test]
fn what_cannot_be_written_stays() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("job.yaml");
    for text in ["", "job: [", "done: {step: x}\njob: y\n", "\0\0"] {
        std::fs::write(&file, text).unwrap();
        for args in verbs() {
            let code = command(folder.path(), &args).status().unwrap().code();
            assert_eq!(code, Some(2), "{text}");
            assert_eq!(std::fs::read_to_string(&file).unwrap(), text);
        }
        let left = std::fs::read_dir(folder.path()).unwrap().count();
        assert_eq!(left, 1, "a stray file");
    }
}
