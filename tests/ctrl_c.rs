//! Ctrl-C: the best so far within half a second, the second one ends at once.
//!
//! The times that are asked for here leave room for a loaded machine; without an answer to Ctrl-C each of these
//! would go on for longer than that.
#![cfg(unix)]

use std::io::{BufRead as _, BufReader, Read as _};
use std::os::unix::process::ExitStatusExt as _;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use crate::plan_cut::LONG;

const PROGRAM: &str = env!("CARGO_BIN_EXE_meltstair");
/// Half a second on a quiet machine.
const AT_MOST: Duration = Duration::from_secs(6);

/// Sixteen steps that may take any alloy: minutes of search, and a first plan soon.
fn many_plans() -> String {
    let each = |line: &dyn Fn(usize) -> String| (0..16).map(line).collect::<String>();
    format!(
        "job: any alloy sixteen times\njoints:\n{}steps:\n{}",
        each(&|n| format!("  - {{id: j{n}}}\n")),
        each(&|n| format!(
            "  - {{id: s{n}, do: solder, joint: j{n}, alloy: any, mg: 1, tool: iron, k: {{rest: 0.3}}}}\n"
        ))
    )
}

fn start(folder: &Path, job: &str, args: &[&str]) -> Child {
    std::fs::write(folder.join("job.yaml"), job).unwrap();
    let mut command = Command::new(PROGRAM);
    command.args(args).current_dir(folder);
    command.stdout(Stdio::piped()).stderr(Stdio::piped());
    command.spawn().unwrap()
}

fn press(child: &Child, times: u32) {
    let press = format!("kill -INT {}", child.id());
    let presses = vec![press; times as usize].join("; sleep 0.01; ");
    Command::new("sh").args(["-c", &presses]).status().unwrap();
}

/// Waits until the program says something of that kind on standard error.
fn wait_for(child: &mut Child, words: &str) {
    let said = BufReader::new(child.stderr.take().unwrap());
    let mut lines = said.lines().map_while(Result::ok);
    assert!(
        lines.any(|line| line.contains(words)),
        "over before `{words}`"
    );
    // Whatever else it says there must not block it.
    std::thread::spawn(move || lines.count());
}

/// What it says, its exit code, and how long that took from now on.
fn answer(child: &mut Child) -> (String, Option<i32>, Duration) {
    let begun = Instant::now();
    let mut out = String::new();
    child
        .stdout
        .take()
        .unwrap()
        .read_to_string(&mut out)
        .unwrap();
    let code = child.wait().unwrap().code();
    (out, code, begun.elapsed())
}

#[test]
fn the_best_so_far_is_told_at_once() {
    let folder = tempfile::tempdir().unwrap();
    let mut child = start(folder.path(), &many_plans(), &["order", "job.yaml"]);
    wait_for(&mut child, "no order keeps more than");
    press(&child, 1);
    let (text, code, taken) = answer(&mut child);
    println!("order: {taken:?}");
    assert_eq!(code, Some(0), "{text}");
    let first = text.lines().next().unwrap();
    let is_open = first.ends_with("(best found, not proven)") || text.contains("Margin proven;");
    assert!(first.starts_with("holds") && is_open, "{text}");
    assert!(text.contains("\nOrder: "), "{text}");
    assert!(taken < AT_MOST, "{taken:?}");
}

#[test]
fn what_is_not_known_yet_is_told_as_unknown() {
    for verb in ["order", "clash"] {
        let folder = tempfile::tempdir().unwrap();
        let mut child = start(folder.path(), LONG, &[verb, "job.yaml"]);
        wait_for(&mut child, "(Ctrl-C: best so far, twice: end)");
        press(&child, 1);
        let (text, code, taken) = answer(&mut child);
        println!("{verb}: {taken:?}");
        assert_eq!(code, Some(3), "{text}");
        assert!(text.starts_with("unknown: "), "{text}");
        assert!(taken < AT_MOST, "{verb}: {taken:?}");
    }
}

#[test]
fn the_second_one_ends_at_once() {
    // The first one may be answered before the second one comes.
    let ended = (0..10).any(|_| {
        let folder = tempfile::tempdir().unwrap();
        let mut child = start(folder.path(), LONG, &["order", "job.yaml"]);
        wait_for(&mut child, "(Ctrl-C: best so far, twice: end)");
        press(&child, 2);
        let (text, code, taken) = answer(&mut child);
        assert!(taken < AT_MOST, "{taken:?}");
        code == Some(130) && text.is_empty()
    });
    assert!(ended);
}

/// What plans nothing has no best so far: it ends.
#[test]
fn other_verbs_end_at_once() {
    let folder = tempfile::tempdir().unwrap();
    let job = std::fs::read_to_string(concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/charts/bell_buoy.yaml"
    ));
    let mut child = start(folder.path(), &job.unwrap(), &["check", "job.yaml"]);
    std::thread::sleep(Duration::from_millis(150));
    assert!(child.try_wait().unwrap().is_none(), "over before Ctrl-C");
    press(&child, 1);
    let begun = Instant::now();
    let status = child.wait().unwrap();
    assert_eq!(status.signal(), Some(2), "{status}");
    assert!(begun.elapsed() < Duration::from_secs(1));
}
