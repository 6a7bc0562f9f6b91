//! Planted mistakes: each is told in the line in which it was made, with what was probably meant.

use meltstair::alloy::AlloyBook;
use meltstair::job::{JobFaults, read};

/// A job without a fault.
const SOUND: &str = "\
job: demo
want: {margin_c: 5, service_c: 60}
board:
  size_mm: [84, 52]
  thickness_mm: 1.6
  layers: 4
zones: [edge]
parts:
  - {id: U1, balls: {count: 49, diameter_um: 300, alloy: Sn63Pb37}, vital: true, limit_c: 245, size_mm: [8, 8, 1]}
joints:
  - {id: pads, at: U1, count: 49, residue: {alloy: Sn63Pb37, mg: 0.05}}
  - {id: rim, alloy: Sn63Pb37, mg: 2, at_mm: [20, 12]}
wires: []
steps:
  - id: lift
    do: remove
    part: U1
    tool: air
    k: {rim: 0.6}
  - id: ball
    do: reball
    part: U1
    alloy: Bi58Sn42
    tool: air
  - id: set
    do: place
    part: U1
    on: pads
    tool: air
    k: {rim: 0.6}
    after: [lift, ball]
";

/// What stands there, the mistake, its line, and words of which the advice holds one.
const SLIPS: &[(&str, &str, usize, &[&str])] = &[
    // decimal comma list count off
    ("[84, 52]", "[84,5, 52]", 4, &["84.5"]),
    // decimal comma flow number
    ("thickness_mm: 1.6", "thickness_mm: 1,6", 5, &["1.6"]),
    // decimal comma in flow map
    ("mg: 2,", "mg: 2,5,", 12, &["2.5"]),
    // decimal comma size of part
    ("size_mm: [8, 8, 1]", "size_mm: [8,5, 8, 1]", 9, &["8.5"]),
    // decimal comma coupling
    (
        "k: {rim: 0.6}\n  - id: ball",
        "k: {rim: 0,6}\n  - id: ball",
        19,
        &["0.6"],
    ),
    // tab indent
    (
        "    part: U1\n    tool: air\n    k",
        "\tpart: U1\n    tool: air\n    k",
        17,
        &["space"],
    ),
    // tab before value list
    ("  layers: 4", "\tlayers: 4", 6, &["space"]),
    // missing space after colon
    (
        "thickness_mm: 1.6",
        "thickness_mm:1.6",
        5,
        &["thickness_mm: 1.6", "space after the colon"],
    ),
    // missing space after colon flow
    ("{id: pads,", "{id:pads,", 11, &["id: pads"]),
    // missing space block step
    ("    do: reball", "    do:reball", 21, &["do: reball"]),
    // missing colon
    (
        "    tool: air\n    k: {rim: 0.6}\n  - id: ball",
        "    tool air\n    k: {rim: 0.6}\n  - id: ball",
        18,
        &["tool: air"],
    ),
    // NBSP indent
    (
        "    part: U1\n    tool: air\n    k",
        " \u{a0}  part: U1\n    tool: air\n    k",
        17,
        &["non-breaking"],
    ),
    // NBSP after colon
    (
        "tool: air\n    k",
        "tool:\u{a0}air\n    k",
        18,
        &["non-breaking", "space after the colon"],
    ),
    // NBSP in value
    (
        "do: remove",
        "do: remove\u{a0}",
        16,
        &["non-breaking", "remove"],
    ),
    // unclosed brace
    (
        "residue: {alloy: Sn63Pb37, mg: 0.05}}",
        "residue: {alloy: Sn63Pb37, mg: 0.05}",
        11,
        &["not closed"],
    ),
    // unclosed bracket
    ("[84, 52]", "[84, 52", 4, &["not closed"]),
    // extra closing brace
    (
        "k: {rim: 0.6}\n    after",
        "k: {rim: 0.6}}\n    after",
        30,
        &["brace", "closes", "`}`"],
    ),
    // coupling 60
    (
        "k: {rim: 0.6}\n  - id: ball",
        "k: {rim: 60}\n  - id: ball",
        19,
        &["0.6"],
    ),
    // mm for um
    ("diameter_um: 300", "diameter_um: 0.3", 9, &["300"]),
    // um for mm
    ("thickness_mm: 1.6", "thickness_mm: 1600", 5, &["1.6"]),
    // wrong indent deeper
    (
        "    tool: air\n    k: {rim: 0.6}\n  - id: ball",
        "      tool: air\n    k: {rim: 0.6}\n  - id: ball",
        18,
        &["indent", "set in"],
    ),
    // wrong indent shallower
    (
        "    part: U1\n    alloy",
        "   part: U1\n    alloy",
        22,
        &["indent", "set in"],
    ),
    // duplicate key
    (
        "  layers: 4",
        "  layers: 4\n  layers: 6",
        7,
        &["twice", "line 6"],
    ),
    // typo key
    ("thickness_mm", "thicknes_mm", 5, &["thickness_mm"]),
    // typo id
    (
        "k: {rim: 0.6}\n  - id: ball",
        "k: {rmi: 0.6}\n  - id: ball",
        19,
        &["rim"],
    ),
    // typo step id
    ("after: [lift, ball]", "after: [lfit, ball]", 31, &["lift"]),
    // typo verb
    ("do: remove", "do: remvoe", 16, &["remove"]),
    // typo alloy
    ("alloy: Bi58Sn42", "alloy: Bi58Sn43", 23, &["Bi58Sn42"]),
    // typo part
    ("    part: U1\n    on", "    part: U2\n    on", 27, &["U1"]),
    // wrong unit key
    ("limit_c: 245", "limit_f: 473", 9, &["limit_c"]),
    // unit in number
    ("mg: 2,", "mg: 2mg,", 12, &["`2`", "without"]),
    // unit mm in number
    (
        "thickness_mm: 1.6",
        "thickness_mm: 1.6mm",
        5,
        &["`1.6`", "without"],
    ),
    // fahrenheit limit
    ("limit_c: 245", "limit_c: 473", 9, &["245"]),
    // balls that cannot fit below their body
    (
        "count: 49, diameter_um: 300",
        "count: 4900, diameter_um: 300",
        9,
        &["do not fit", "8 × 8"],
    ),
    // word of another bench
    ("do: remove", "do: desolder", 16, &["`remove`"]),
    // a heat that counts for nothing
    ("service_c: 60", "counts_from_c: 300", 2, &["300"]),
    // unclosed double quote
    ("job: demo", "job: \"demo", 1, &["quote"]),
    // unclosed single quote
    ("alloy: Bi58Sn42", "alloy: 'Bi58Sn42", 23, &["quote"]),
    // slip of unit g
    ("mg: 2,", "mg: 0.002g,", 12, &["`2`"]),
    // percent coupling
    (
        "k: {rim: 0.6}\n  - id: ball",
        "k: {rim: 60%}\n  - id: ball",
        19,
        &["0.6"],
    ),
    // yes for true
    ("vital: true", "vital: yes", 9, &["true"]),
    // equals sign
    (
        "thickness_mm: 1.6",
        "thickness_mm = 1.6",
        5,
        &["thickness_mm: 1.6", "colon"],
    ),
    // missing dash
    (
        "  - id: set\n    do",
        "    id: set\n    do",
        25,
        &["- id", "dash"],
    ),
    // missing comma in flow
    ("{id: rim, alloy", "{id: rim alloy", 12, &["comma"]),
    // semicolon in list
    ("[84, 52]", "[84; 52]", 4, &["comma", ","]),
    // negative count
    (
        "count: 49, diameter",
        "count: -49, diameter",
        9,
        &["want a whole number"],
    ),
    // capital key
    (
        "  - id: ball\n    do: reball",
        "  - id: ball\n    Do: reball",
        21,
        &["`do`"],
    ),
    // key of another verb
    ("    alloy: Bi58Sn42", "    joint: pads", 23, &["solder"]),
];

fn faults(text: &str) -> JobFaults {
    match read(text, "job.yaml", AlloyBook::shipped()) {
        Ok(_) => panic!("taken as it is:\n{text}"),
        Err(faults) => faults,
    }
}

#[test]
fn each_mistake_is_told_where_it_was_made_with_what_was_meant() {
    assert!(read(SOUND, "job.yaml", AlloyBook::shipped()).is_ok());
    for (there, slip, line, meant) in SLIPS {
        assert!(SOUND.contains(there), "{there}");
        let text = SOUND.replacen(there, slip, 1);
        let told = faults(&text);
        let right = told.faults.iter().any(|fault| {
            let words = format!("{} {}", fault.message, fault.help.as_deref().unwrap_or(""));
            fault.place.is_some_and(|place| place.line == *line)
                && meant.iter().any(|meant| words.contains(meant))
        });
        assert!(right, "line {line}, {slip:?}:\n{told}");
    }
}

/// Every two mistakes of form in different lines: both are told in one round.
#[test]
fn several_faults_are_told_in_one_round() {
    let form = [
        ("thickness_mm: 1.6", "thickness_mm:1.6", 5),
        (
            "residue: {alloy: Sn63Pb37, mg: 0.05}}",
            "residue: {alloy: Sn63Pb37, mg: 0.05}",
            11,
        ),
        (
            "    tool: air\n    k: {rim: 0.6}\n  - id: ball",
            "\ttool: air\n    k: {rim: 0.6}\n  - id: ball",
            18,
        ),
        ("    alloy: Bi58Sn42", "    alloy Bi58Sn42", 23),
        ("on: pads", "on: [pads", 28),
        ("k: {rim: 0.6}\n    after", "k: {rim: 60}\n    after", 30),
    ];
    let mut all = SOUND.to_owned();
    for (there, slip, _) in form {
        assert!(all.contains(there), "{there}");
        all = all.replacen(there, slip, 1);
    }
    let told = faults(&all);
    for (_, slip, line) in form {
        let found = told
            .faults
            .iter()
            .any(|f| f.place.is_some_and(|place| place.line == line));
        assert!(found, "line {line}, {slip:?}:\n{told}");
    }
    // What was mended is told once and nothing is made up beside it.
    assert_eq!(told.faults.len(), form.len(), "{told}");
}

/// Whatever a hand does to one place of the file, the reader ends, and says where.
#[test]
fn a_sound_job_with_any_bytes_struck_out_or_doubled_is_read_or_refused_in_its_lines() {
    let lines = SOUND.lines().count();
    let strange = [
        "", "{", "}", "[", "\"", "'", ":", "- ", "\t", "\u{a0}", "\n", "#", ",", "*", "&a ", "|",
        "%",
    ];
    for at in (0..SOUND.len()).filter(|at| SOUND.is_char_boundary(*at)) {
        let put = strange[at % strange.len()];
        for until in [at, (at + 1 + at % 7).min(SOUND.len())] {
            let text = format!("{}{put}{}", &SOUND[..at], &SOUND[until..]);
            if let Err(told) = read(&text, "job.yaml", AlloyBook::shipped()) {
                let _ = told.to_string();
                for fault in &told.faults {
                    let line = fault.place.map_or(1, |place| place.line);
                    assert!((1..=lines + 2).contains(&line), "{told}");
                }
            }
        }
    }
}
