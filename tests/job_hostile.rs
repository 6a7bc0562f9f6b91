//! Job files that nobody means well with: an answer comes in bounded time, and never a panic.

use std::fmt::Write as _;
use std::fs;
use std::time::{Duration, Instant};

use meltstair::alloy::AlloyBook;
use meltstair::job;
use proptest::prelude::*;

/// The limit that the design sets.
const LONGEST: Duration = Duration::from_secs(1);

fn refused(bytes: &[u8]) -> String {
    let start = Instant::now();
    let Err(faults) = job::read_bytes(bytes, "job.yaml", AlloyBook::shipped()) else {
        panic!("it was read");
    };
    let took = start.elapsed();
    let shown = faults.to_string();
    assert!(
        took < LONGEST,
        "{took:?}: {}",
        &shown[..shown.len().min(300)]
    );
    assert!(shown.len() < 500_000, "{} bytes of message", shown.len());
    shown
}

fn many(count: usize, item: impl Fn(usize) -> String) -> String {
    (0..count).map(item).collect()
}

#[test]
fn what_is_no_job_is_refused_in_time() {
    AlloyBook::shipped();
    let bomb = many(9, |n| {
        format!("a{n}: &a{n} [*a{}, *a{}]\n", n.max(1) - 1, n.max(1) - 1)
    });
    let names = many(490, |n| format!("  - {{id: joint{n}, zone: z{n}}}\n"));
    for (what, text, says) in [
        ("aliases", bomb, "anchors"),
        ("deep flow", "[".repeat(100_000), "nested deeper"),
        (
            "deep keys",
            format!("job: {}", "{a: ".repeat(20_000)),
            "nested deeper",
        ),
        (
            "one word",
            format!("job: {}", "x".repeat(900_000)),
            "want at most",
        ),
        (
            "one key",
            format!("job: a\n? {}\n: b\n", "x".repeat(900_000)),
            "",
        ),
        ("too long", "x".repeat(100_000_000), "want at most 1048576"),
        (
            "keys",
            many(3_000, |n| format!("k{n}: 1\n")),
            "want at most 500",
        ),
        (
            "more keys",
            many(40_000, |n| format!("k{n}: 1\n")),
            "more than any job needs",
        ),
        (
            "steps that all wait for all",
            format!(
                "job: a\nsteps:\n{}",
                many(500, |n| format!("  - {{id: s{n}, do: gate, after: all}}\n"))
            ),
            "wait for each other",
        ),
        (
            "many unknown names",
            format!(
                "job: a\njoints:\n{names}steps:\n{}",
                many(490, |n| format!(
                    "  - {{id: s{n}, do: heat, peak_c: 99, closes: [{}]}}\n",
                    many(60, |m| format!("jiont{m}, "))
                ))
            ),
            "more faults",
        ),
        (
            "many unknown alloys",
            format!(
                "job: a\nstock: [{}]\n",
                many(500, |n| format!("Quicksolder{n}, "))
            ),
            "more faults",
        ),
        (
            "a list of alloys for every step",
            format!(
                "job: a\njoints: [{{id: j}}]\nsteps:\n{}",
                many(500, |n| format!(
                    "  - {{id: s{n}, do: solder, joint: j, alloy: any, after: s{n}}}\n"
                ))
            ),
            "waits for itself",
        ),
        ("nothing", String::new(), "empty"),
        ("a nul", "job: \0\n".to_owned(), ""),
    ] {
        let shown = refused(text.as_bytes());
        assert!(
            shown.contains(says),
            "{what}: {}",
            &shown[..shown.len().min(500)]
        );
    }
    assert!(refused(b"job: a\nwant: {\xff}\n").contains("not UTF-8"));
    assert!(refused(b"\xff\xfej\0o\0b\0").contains("not UTF-8"));
}

/// BOM, CRLF and words that other readers take for yes and no change nothing.
#[test]
fn bom_and_crlf_are_read_as_if_they_were_not_there() {
    let text = job::example();
    let plain = job::read(&text, "job.yaml", AlloyBook::shipped()).unwrap();
    let odd = format!("\u{feff}{}", text.replace('\n', "\r\n"));
    let read = job::read(&odd, "job.yaml", AlloyBook::shipped()).unwrap();
    assert_eq!(read.job, plain.job);
    let named = text.replace("far_ends", "NO").replace("rim", "on");
    let read = job::read(&named, "job.yaml", AlloyBook::shipped()).unwrap();
    assert_eq!(read.job.joints[1].id, "NO");
    assert_eq!(read.job.joints[2].id, "on");
}

fn good_jobs() -> Vec<String> {
    let root = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/jobs");
    let mut texts = vec![job::example()];
    for folder in [root.to_owned(), format!("{root}/good")] {
        let mut paths: Vec<_> = fs::read_dir(folder)
            .unwrap()
            .map(|e| e.unwrap().path())
            .collect();
        paths.sort();
        for path in paths
            .iter()
            .filter(|p| p.extension().is_some_and(|e| e == "yaml"))
        {
            texts.push(fs::read_to_string(path).unwrap());
        }
    }
    texts
}

/// What a slip of the fingers or of an editor puts in.
const SNIPPETS: [&str; 24] = [
    "", " ", "\n", "\t", "{", "}", "[", "]", ":", ",", "#", "-", "\"", "'", "&a", "*a", "!!int",
    "~", "null", "1e999", "-1", "µ", "\u{2028}", "any",
];

proptest! {
    #![proptest_config(ProptestConfig::with_cases(512))]

    #[test]
    fn random_bytes_never_panic(bytes in proptest::collection::vec(any::<u8>(), 0..400)) {
        if let Err(faults) = job::read_bytes(&bytes, "job.yaml", AlloyBook::shipped()) {
            prop_assert!(!faults.to_string().is_empty());
        }
    }

    #[test]
    fn mutated_jobs_never_panic(
        which in any::<prop::sample::Index>(),
        slips in proptest::collection::vec((any::<prop::sample::Index>(), 0_usize..12, 0_usize..24), 1..5),
    ) {
        let jobs = good_jobs();
        let mut text = which.get(&jobs).clone();
        for (at, cut, snippet) in slips {
            let places: Vec<usize> = text.char_indices().map(|(at, _)| at).collect();
            if places.is_empty() {
                break;
            }
            let from = *at.get(&places);
            let to = text[from..].char_indices().nth(cut).map_or(text.len(), |(n, _)| from + n);
            text.replace_range(from..to, SNIPPETS[snippet]);
        }
        match job::read(&text, "job.yaml", AlloyBook::shipped()) {
            Ok(read) => {
                // What was read holds no position that leads nowhere.
                for step in &read.job.steps {
                    prop_assert!(step.after.iter().all(|(ix, _)| ix.0 < read.job.steps.len()));
                    prop_assert!(step.closes.iter().all(|ix| ix.0 < read.job.joints.len()));
                }
                for wire in &read.job.wires {
                    prop_assert!(wire.from.0 < read.job.joints.len() && wire.to.0 < read.job.joints.len());
                }
            }
            Err(faults) => prop_assert!(!faults.faults.is_empty()),
        }
        let mut shown = String::new();
        let _ = write!(shown, "{:?}", job::log::append_event(&text, "{step: set}"));
        let _ = write!(shown, "{:?}", job::log::drop_last_event(&text));
        prop_assert!(!shown.is_empty());
    }
}
