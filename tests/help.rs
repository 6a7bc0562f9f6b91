//! Every verb shows one real example, and every example does what it says.

use std::collections::BTreeSet;
use std::path::Path;
use std::process::{Command, Output, Stdio};

fn meltstair(folder: &Path, args: &[String]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_meltstair"))
        .args(args)
        .current_dir(folder)
        .env("XDG_CONFIG_HOME", folder.join("config"))
        .stdin(Stdio::null())
        .output()
        .expect("the binary runs")
}

/// Verbs that `--help` lists.
fn verbs(folder: &Path) -> Vec<String> {
    let help = meltstair(folder, &["--help".into()]);
    let help = String::from_utf8(help.stdout).expect("text");
    let list = help.split("Commands:\n").nth(1).expect("a list of verbs");
    list.lines()
        .take_while(|line| !line.is_empty())
        .filter(|line| line.starts_with("  ") && !line.starts_with("   "))
        .filter_map(|line| line.split_whitespace().next())
        .filter(|verb| *verb != "help")
        .map(str::to_owned)
        .collect()
}

/// The examples of a verb, as lines.
fn examples(folder: &Path, verb: &str) -> Vec<String> {
    let help = meltstair(folder, &[verb.to_owned(), "--help".to_owned()]);
    let help = String::from_utf8(help.stdout).expect("text");
    let from = help.find("Example").unwrap_or(help.len());
    help[from..]
        .lines()
        .filter_map(|line| {
            line.find("meltstair ")
                .map(|at| line[at..].trim().to_owned())
        })
        .collect()
}

/// Words of a line as a shell takes them: `"…"` keeps blanks, `> file` is left out.
fn words(line: &str) -> Vec<String> {
    let line = line.split(" > ").next().unwrap_or(line);
    let pieces = line.split('"').enumerate();
    let words = pieces.flat_map(|(i, piece)| match i % 2 {
        0 => piece.split_whitespace().map(str::to_owned).collect(),
        _ => vec![piece.to_owned()],
    });
    words.skip(1).collect()
}

/// A folder with what the examples name.
fn bench() -> tempfile::TempDir {
    let folder = tempfile::tempdir().expect("a folder");
    let charts = folder.path().join("charts");
    std::fs::create_dir(&charts).expect("a folder");
    let shipped = Path::new(env!("CARGO_MANIFEST_DIR")).join("charts");
    for entry in std::fs::read_dir(shipped).expect("the gallery") {
        let path = entry.expect("an entry").path();
        if path.extension().is_some_and(|ending| ending == "yaml") {
            std::fs::copy(&path, charts.join(path.file_name().expect("a name"))).expect("copied");
        }
    }
    std::fs::copy(
        charts.join("tide_gauge.yaml"),
        folder.path().join("job.yaml"),
    )
    .expect("copied");
    std::fs::write(
        folder.path().join("run1.csv"),
        "seconds,place,celsius\n10,tails,125\n20,tails,140\npeak,clock,113\n",
    )
    .expect("written");
    std::fs::write(
        folder.path().join("my_alloys.yaml"),
        "stock: [{alloy: 63/37}]\n",
    )
    .expect("written");
    folder
}

#[test]
fn every_verb_has_an_example_and_every_example_works() {
    let folder = bench();
    let verbs = verbs(folder.path());
    assert!(verbs.len() >= 14, "{verbs:?}");
    let mut tried = BTreeSet::new();
    // `undo` takes back what `did` wrote, so in the order of the help.
    for verb in &verbs {
        let examples = examples(folder.path(), verb);
        assert!(!examples.is_empty(), "`{verb} --help` has no example");
        for example in examples {
            // Each log line starts from a fresh job, one with wires where it reads some.
            if verb == "did" {
                let wires = example.contains("--reads");
                let job = if wires {
                    "tests/acceptance/52_wires.yaml"
                } else {
                    "charts/tide_gauge.yaml"
                };
                let job = Path::new(env!("CARGO_MANIFEST_DIR")).join(job);
                std::fs::copy(job, folder.path().join("job.yaml")).expect("copied");
            }
            let args = words(&example);
            assert!(
                args.contains(verb),
                "an example of `{verb}` shows {example}"
            );
            let output = meltstair(folder.path(), &args);
            let code = output.status.code().expect("it ended");
            let err = String::from_utf8_lossy(&output.stderr).into_owned();
            assert!([0, 1, 3].contains(&code), "{example}: {code}: {err}");
            assert!(!output.stdout.is_empty(), "{example} says nothing: {err}");
            if let Some(at) = args.iter().position(|word| word == "-o") {
                let file = folder.path().join(&args[at + 1]);
                assert!(
                    file.metadata().is_ok_and(|facts| facts.len() > 1000),
                    "{example}"
                );
            }
            tried.insert(example);
        }
    }
    assert!(tried.len() >= 20, "{tried:?}");
}
