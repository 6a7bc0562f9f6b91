//! What the README shows is what the program says: every console block is run, and each line of it
//! must stand in the answer, in that order. `…` stands for the rest.

use std::ffi::OsString;

use meltstair::cli::{Around, run};

/// Blocks of `$ meltstair …` with the lines shown under them.
fn blocks(text: &str) -> Vec<(String, Vec<String>)> {
    let console = text
        .split("```console\n")
        .skip(1)
        .filter_map(|rest| rest.split("```").next());
    console
        .filter_map(|block| {
            let (command, shown) = block.split_once('\n')?;
            let command = command.strip_prefix("$ meltstair ")?;
            Some((
                command.to_owned(),
                shown.lines().map(str::to_owned).collect(),
            ))
        })
        .collect()
}

/// Words apart by blanks; `"…"` keeps blanks.
fn words(line: &str) -> Vec<OsString> {
    let quoted = line.split('"').enumerate();
    quoted
        .flat_map(|(i, piece)| match i % 2 {
            0 => piece
                .split_whitespace()
                .map(OsString::from)
                .collect::<Vec<_>>(),
            _ => vec![piece.into()],
        })
        .collect()
}

#[test]
fn the_readme_shows_what_the_program_says() {
    let readme = include_str!("../README.md");
    let blocks = blocks(readme);
    assert!(
        blocks.len() >= 4,
        "the tour has shrunk to {} blocks",
        blocks.len()
    );
    let around = Around {
        width: 100,
        own_alloys: None,
        score: None,
    };
    for (command, shown) in blocks {
        let args = [OsString::from("meltstair")]
            .into_iter()
            .chain(words(&command));
        let (mut out, mut err) = (Vec::new(), Vec::new());
        run(args, &around, &mut out, &mut err);
        let said = String::from_utf8(out).expect("text");
        let mut said = said.lines();
        for line in shown
            .iter()
            .filter(|line| *line != "…" && !line.trim().is_empty())
        {
            assert!(
                said.any(|found| found.trim_end() == line.trim_end()),
                "`meltstair {command}` does not say, or not in this order: {line}"
            );
        }
    }
}
