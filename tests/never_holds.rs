//! Small jobs with a trap in each: those of `never_holds/` must not be answered with `holds`, those of
//! `not_refused/` must not be refused. Why stands at the top of each file; boards and numbers are invented.
//!
//! Lines of the comment that begin with one of these words are read by the tests:
//! `did:` a line that is logged before anything is asked; `first:` how the first line of `order` begins, `/`
//! between what may stand there; `says:` a line of the answer; `right:` a line with which `holds` is earned
//! all the same; `refused:` words of the message with which the reader refuses the job.

use std::ffi::OsString;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};

use meltstair::cli::{Around, run};

/// A job with its trap.
struct Trap {
    name: String,
    text: String,
}

/// What the program says.
pub struct Answer {
    pub code: u8,
    pub text: String,
}

impl Trap {
    /// What the comment says after a word.
    fn said(&self, word: &str) -> Vec<&str> {
        let comments = self.comments();
        let lines = comments.filter_map(|line| line.strip_prefix(word)?.strip_prefix(':'));
        lines.map(str::trim).collect()
    }

    fn comments(&self) -> impl Iterator<Item = &str> {
        let lines = self.text.lines();
        lines
            .map_while(|line| line.strip_prefix('#'))
            .map(str::trim)
    }

    /// Words of why, without the lines that tests read.
    fn reason(&self) -> usize {
        let told = ["did:", "first:", "says:", "right:", "refused:"];
        let lines = self.comments();
        let why = lines.filter(|line| !told.iter().any(|word| line.starts_with(word)));
        why.flat_map(str::split_whitespace).count()
    }
}

/// Every job of a folder of `tests/`, sorted by name.
pub fn jobs(folder: &str) -> Vec<PathBuf> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join(folder);
    let files = std::fs::read_dir(folder).expect("the folder");
    let mut files: Vec<PathBuf> = files
        .map(|file| file.expect("a file").path())
        .filter(|path| path.extension().is_some_and(|end| end == "yaml"))
        .collect();
    files.sort();
    files
}

fn traps(folder: &str) -> Vec<Trap> {
    let read = |path: PathBuf| Trap {
        name: path
            .file_stem()
            .expect("a name")
            .to_string_lossy()
            .into_owned(),
        text: std::fs::read_to_string(path).expect("a job"),
    };
    jobs(folder).into_iter().map(read).collect()
}

/// Runs the program in this process: a panic is an answer too, the worst one.
pub fn ask(args: &[&str]) -> Answer {
    let around = Around {
        width: 200,
        own_alloys: None,
        score: None,
    };
    let args: Vec<OsString> = ["meltstair"].iter().chain(args).map(Into::into).collect();
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let code = catch_unwind(AssertUnwindSafe(|| run(args, &around, &mut out, &mut err)));
    out.extend(err);
    Answer {
        code: code.unwrap_or(101),
        text: String::from_utf8_lossy(&out).into_owned(),
    }
}

/// The job in a file of its own, with its log; `Err`: a line of the log was refused, and with what.
fn on_the_bench(trap: &Trap, folder: &Path) -> Result<String, String> {
    let path = folder.join(format!("{}.yaml", trap.name));
    std::fs::write(&path, &trap.text).expect("written");
    let path = path.to_string_lossy().into_owned();
    for line in trap.said("did") {
        let words = line.split_whitespace();
        let args: Vec<&str> = ["did", &path].into_iter().chain(words).collect();
        let answer = ask(&args);
        match answer.code {
            0 => {}
            2 => return Err(answer.text),
            code => panic!(
                "{}: `did {line}` ends with {code}: {}",
                trap.name, answer.text
            ),
        }
    }
    Ok(path)
}

/// What is wrong with an answer that must not hold.
fn wrongly_held(trap: &Trap, verb: &str, answer: &Answer) -> Option<String> {
    let first = answer.text.lines().next().unwrap_or_default();
    let told = |why: &str| Some(format!("{} ({verb}): {why}: {first}", trap.name));
    let earned = trap.said("right");
    match answer.code {
        0 if verb == "order" && earned.iter().any(|line| answer.text.contains(line)) => None,
        0 => told("holds"),
        1 | 3 if first.starts_with("holds") => told("says holds, and ends with something else"),
        1 | 3 => begins(trap, verb, first).err(),
        2 if trap
            .said("refused")
            .iter()
            .any(|words| answer.text.contains(words)) =>
        {
            None
        }
        2 => told("refused by the reader, with other words than the file says"),
        code => told(&format!("ends with {code}")),
    }
}

/// Whether the first line of `order` begins as the file says.
fn begins(trap: &Trap, verb: &str, first: &str) -> Result<(), String> {
    let wanted = trap.said("first");
    let mut any = wanted.iter().flat_map(|words| words.split('/'));
    let fits = any.any(|word| first.starts_with(word.trim()));
    if verb != "order" || fits || wanted.is_empty() {
        return Ok(());
    }
    Err(format!(
        "{}: begins otherwise than {wanted:?}: {first}",
        trap.name
    ))
}

#[test]
fn no_job_with_a_trap_holds() {
    let traps = traps("tests/never_holds");
    assert!(
        traps.len() >= 28,
        "the folder has shrunk to {} jobs",
        traps.len()
    );
    let folder = tempfile::tempdir().expect("a folder");
    let mut wrong = Vec::new();
    for trap in &traps {
        match on_the_bench(trap, folder.path()) {
            Ok(job) => {
                let verbs = ["order", "check"].into_iter();
                wrong
                    .extend(verbs.filter_map(|verb| wrongly_held(trap, verb, &ask(&[verb, &job]))));
            }
            // A line that cannot be honoured is refused at once: nothing was taken silently.
            Err(said)
                if trap
                    .said("refused")
                    .iter()
                    .any(|words| said.contains(words)) => {}
            Err(said) => wrong.push(format!("{}: the log is refused: {said}", trap.name)),
        }
    }
    assert!(
        wrong.is_empty(),
        "{} of {}:\n{}",
        wrong.len(),
        traps.len(),
        wrong.join("\n")
    );
}

#[test]
fn what_can_be_done_is_not_refused() {
    let traps = traps("tests/not_refused");
    assert!(
        traps.len() >= 9,
        "the folder has shrunk to {} jobs",
        traps.len()
    );
    let folder = tempfile::tempdir().expect("a folder");
    let mut wrong = Vec::new();
    for trap in &traps {
        let job = on_the_bench(trap, folder.path()).expect("a log that fits");
        let answer = ask(&["order", "--full", &job]);
        let first = answer.text.lines().next().unwrap_or_default();
        if !matches!(answer.code, 0 | 1) || !answer.text.contains("Order: ") {
            wrong.push(format!("{}: ends with {}: {first}", trap.name, answer.code));
        }
        wrong.extend(begins(trap, "order", first).err());
        let missing = |line: &&&str| !answer.text.contains(**line);
        let says = trap.said("says");
        wrong.extend(
            says.iter()
                .filter(missing)
                .map(|line| format!("{}: does not say `{line}`: {}", trap.name, answer.text)),
        );
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn every_trap_says_why() {
    for folder in ["tests/never_holds", "tests/not_refused"] {
        for trap in traps(folder) {
            assert!(trap.reason() >= 12, "{}: no reason at its top", trap.name);
        }
    }
}

/// Text, JSON and exit code are of one mind.
#[test]
fn json_and_exit_code_agree_on_every_trap() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut wrong = Vec::new();
    for trap in traps("tests/never_holds")
        .iter()
        .chain(&traps("tests/not_refused"))
    {
        let Ok(job) = on_the_bench(trap, folder.path()) else {
            continue;
        };
        let answer = ask(&["--json", "order", &job]);
        if answer.code == 2 {
            continue;
        }
        let json: serde_json::Value = serde_json::from_str(&answer.text).expect("JSON");
        let holds = json["verdict"] == "holds";
        if holds != (answer.code == 0) {
            wrong.push(format!(
                "{}: {} and {}",
                trap.name, json["verdict"], answer.code
            ));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}
