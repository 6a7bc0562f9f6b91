//! Many alike: what `many` writes out is what somebody would have written by hand.

use std::fmt::Write as _;

use meltstair::alloy::AlloyBook;
use meltstair::job::{Job, read};

fn job(text: &str) -> Job {
    let read = read(text, "job.yaml", AlloyBook::shipped());
    let mut job = read.unwrap_or_else(|faults| panic!("{faults}")).job;
    // Where a step or an event stands in the file is all that differs.
    for step in &mut job.steps {
        step.line = 0;
    }
    for event in &mut job.done {
        event.line = 0;
    }
    job
}

const MANY: &str = "job: a
parts:
  - {id: U1, on: pad, balls: {count: 11, diameter_um: 300, alloy: Sn63Pb37}}
joints:
  - {id: pad, many: {count: 11, pitch_mm: [0.8, -0.1]}, at_mm: [10, 5], count: 1}
  - {id: rim, alloy: Sn63Pb37, mg: 1}
  - {id: end*, many: {mg: [1, 2, 3]}, alloy: Sn63Pb37}
wires:
  - {id: w, many: {count: 3, length_mm: [12, 13, 14.5]}, from: pad0*, to: end*, diameter_um: 100}
guards:
  - {id: m, kind: mask, limit_c: 150, over: [rim, end]}
steps:
  - {id: x, many: 3, do: solder, joint: end*, alloy: Sn63Pb37, mg: 1, tool: iron, k: {pad: 0.3, rim: 0.1}}
  - {id: z, do: inspect, after: [x]}
done:
  - {step: x2, sees_c: {rim: 40}}
";

fn by_hand() -> String {
    let mut text = "job: a\nparts:\n  - {id: U1, on: [".to_owned();
    let pads: Vec<String> = (1..=11).map(|n| format!("pad{n:02}")).collect();
    text += &pads.join(", ");
    text += "], balls: {count: 11, diameter_um: 300, alloy: Sn63Pb37}}\njoints:\n";
    for (n, pad) in pads.iter().enumerate() {
        let (x, y) = (100 + 8 * n, 50 - n);
        let (x, y) = (
            format!("{}.{}", x / 10, x % 10),
            format!("{}.{}", y / 10, y % 10),
        );
        let _ = writeln!(text, "  - {{id: {pad}, at_mm: [{x}, {y}], count: 1}}");
    }
    text += "  - {id: rim, alloy: Sn63Pb37, mg: 1}\n";
    for n in 1..=3 {
        let _ = writeln!(text, "  - {{id: end{n}, alloy: Sn63Pb37, mg: {n}}}");
    }
    text += "wires:\n";
    for (n, long) in [(1, "12"), (2, "13"), (3, "14.5")] {
        let _ = writeln!(
            text,
            "  - {{id: w{n}, from: pad0{n}, to: end{n}, diameter_um: 100, length_mm: {long}}}"
        );
    }
    text +=
        "guards:\n  - {id: m, kind: mask, limit_c: 150, over: [rim, end1, end2, end3]}\nsteps:\n";
    let k: Vec<String> = pads.iter().map(|pad| format!("{pad}: 0.3")).collect();
    let k = k.join(", ");
    for n in 1..=3 {
        let _ = writeln!(
            text,
            "  - {{id: x{n}, do: solder, joint: end{n}, alloy: Sn63Pb37, mg: 1, tool: iron, k: {{{k}, rim: 0.1}}}}"
        );
    }
    text + "  - {id: z, do: inspect, after: [x1, x2, x3]}\ndone:\n  - {step: x2, sees_c: {rim: 40}}\n"
}

#[test]
fn many_are_what_somebody_would_have_written_out() {
    assert_eq!(job(MANY), job(&by_hand()));
}

#[test]
fn what_does_not_add_up_is_told() {
    for (there, slip, why) in [
        (
            "[12, 13, 14.5]",
            "[12, 13]",
            "`length_mm` has 2 entries: want 3",
        ),
        (
            "many: 3,",
            "many: many,",
            "`many` after `many`: want a whole number from 1 to 200",
        ),
        (
            "many: 3,",
            "many: 201,",
            "want a whole number from 1 to 200",
        ),
        ("many: 3,", "many: {},", "`many` without a `count`"),
        (
            "many: 3,",
            "many: {count: 3, mg: [1, 2, 3]},",
            "`mg` stands in `many` and beside it",
        ),
        (
            "many: 3,",
            "many: {count: 3, mg: 1},",
            "want a list with one entry for each member",
        ),
        (
            "many: 3,",
            "many: {count: 3, pitch_mm: [1, 1]},",
            "`pitch_mm` wants `at_mm`",
        ),
        (
            "pitch_mm: [0.8, -0.1]",
            "pitch_mm: [0.8]",
            "`pitch_mm`: want two numbers",
        ),
        (
            "many: {count: 11, pitch_mm: [0.8, -0.1]}",
            "many: 10",
            "has 11 balls and stands on 10 pads",
        ),
        ("from: pad0*", "from: pad*", "no joint is called `pad1`"),
        ("{rim: 40}", "{pad: 40}", "is called `pad`"),
        (
            "kind: mask,",
            "kind: mask, many: 2,",
            "`many` is not a key of a guard",
        ),
    ] {
        assert!(MANY.contains(there), "{there}");
        let text = MANY.replacen(there, slip, 1);
        let told = read(&text, "job.yaml", AlloyBook::shipped())
            .unwrap_err()
            .to_string();
        assert!(told.contains(why), "{slip}: {told}");
    }
}

/// A list of a job cannot be blown up by a few lines of it.
#[test]
fn what_is_written_out_is_bounded() {
    let mut text = "job: a\njoints:\n".to_owned();
    for n in 0..400 {
        let _ = writeln!(text, "  - {{id: j{n}x, many: 200}}");
    }
    let told = read(&text, "job.yaml", AlloyBook::shipped())
        .unwrap_err()
        .to_string();
    assert!(
        told.contains("written out, more than 500 entries stand here"),
        "{told}"
    );
}

/// A forty-wire job in eighteen lines is answered in 54 lines and not in 604: one line where one rule covers many.
#[test]
fn forty_wires_are_answered_in_a_few_lines() {
    let job = concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/tests/jobs/good/forty_wires.yaml"
    );
    assert!(std::fs::read_to_string(job).unwrap().lines().count() <= 30);
    let mut out = Vec::new();
    let around = meltstair::cli::Around {
        width: 100,
        own_alloys: None,
        score: None,
    };
    let args = ["meltstair", "order", "--full", job].map(Into::into);
    let code = meltstair::cli::run(args, &around, &mut out, &mut Vec::new());
    let said = String::from_utf8(out).unwrap();
    assert!(said.contains("Proven: no order is better"), "{said}");
    assert!(
        said.lines().count() <= 60,
        "{}\n{said}",
        said.lines().count()
    );
    // Whoever is not named stands between two ends.
    for told in [
        "Order: a01 … a40 b01 … b40 meter power",
        "2–40   a02 … a40  wire p02 … p40",
        "w01 … w40: in this solder, as hot as 350 °C",
        "44–83. w01 … w40 end to end: at most 0.50 Ω",
    ] {
        assert!(said.contains(told), "{told}: {said}");
    }
    assert_eq!(code, 0, "{said}");
}
