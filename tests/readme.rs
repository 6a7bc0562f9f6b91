//! What the README shows is what the program says: every console block is run, and each line of it
//! must stand in the answer, in that order. `…` stands for the rest. Files that a block makes
//! (`cp`, `-o`) are made in a folder of their own; later commands find them there.

use std::ffi::OsString;
use std::path::Path;

use meltstair::cli::{Around, run};

/// A command with the lines shown under it.
struct Shown<'r> {
    command: &'r str,
    lines: Vec<&'r str>,
}

/// Every `$ …` of every console block.
fn commands(text: &str) -> Vec<Shown<'_>> {
    let consoles = text
        .split("```console\n")
        .skip(1)
        .filter_map(|rest| rest.split("```").next());
    let mut all: Vec<Shown> = Vec::new();
    for line in consoles.flat_map(str::lines) {
        if let Some(command) = line.strip_prefix("$ ") {
            let lines = Vec::new();
            all.push(Shown { command, lines });
        } else if let Some(last) = all.last_mut() {
            last.lines.push(line);
        }
    }
    all
}

/// Words apart by blanks; `"…"` keeps blanks.
fn words(line: &str) -> Vec<String> {
    let quoted = line.split('"').enumerate();
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

/// A file that stands in no folder is one of the tour's own.
fn at_home(word: &str, home: &Path) -> String {
    let is_file = [".yaml", ".svg", ".png", ".html"]
        .iter()
        .any(|ending| word.ends_with(ending));
    if is_file && !word.contains('/') {
        home.join(word).display().to_string()
    } else {
        word.to_owned()
    }
}

fn said(command: &str, home: &Path) -> String {
    let mut words = words(command).into_iter();
    let program = words.next().unwrap_or_default();
    let args: Vec<String> = words.map(|word| at_home(&word, home)).collect();
    if program == "cp" {
        std::fs::copy(&args[0], &args[1]).expect("copied");
        return String::new();
    }
    assert_eq!(program, "meltstair", "{command}");
    let around = Around {
        width: 100,
        own_alloys: None,
        score: None,
    };
    let all = std::iter::once(program).chain(args).map(OsString::from);
    let (mut out, mut err) = (Vec::new(), Vec::new());
    run(all, &around, &mut out, &mut err);
    let said = String::from_utf8(out).expect("text");
    said.replace(&format!("{}/", home.display()), "")
}

#[test]
fn the_readme_shows_what_the_program_says() {
    let commands = commands(include_str!("../README.md"));
    assert!(
        commands.len() >= 20,
        "the tour has shrunk to {} commands",
        commands.len()
    );
    let home = tempfile::tempdir().expect("a folder");
    for Shown { command, lines } in commands {
        // What a file holds is shown by `cat`: the reader types it, and so does this test.
        if let Some(file) = command.strip_prefix("cat ") {
            std::fs::write(home.path().join(file), lines.join("\n") + "\n").expect("written");
            continue;
        }
        let said = said(command, home.path());
        let mut said = said.lines();
        let shown = lines
            .iter()
            .filter(|line| **line != "…" && !line.trim().is_empty());
        for line in shown {
            assert!(
                said.any(|found| found.trim_end() == line.trim_end()),
                "`{command}` does not say, or not in this order: {line}"
            );
        }
    }
}
