//! A search that is cut off, by its benches, its time or its memory: what it says is never more than it knows.

use std::sync::{Arc, LazyLock};

use meltstair::alloy::AlloyBook;
use meltstair::bench::Setting;
use meltstair::job::Job;
use meltstair::melt::MeltBook;
use meltstair::plan::{self, Budget, Conflict, Pulse};

use crate::plan_help::{book, pins, read_job, read_text};

/// A chip with unknown balls, pads tinned with any alloy: longer than any test waits.
pub const LONG: &str = "job: chip of unknown balls comes off and goes back\nparts:\n  - {id: U1, balls: {count: 49, diameter_um: 300, alloy: unknown}}\njoints:\n  - {id: pads, at: U1, residue: {alloy: Sn62Pb36Ag2, mg: 0.05}}\nsteps:\n  - {id: tin, do: solder, joint: pads, alloy: any, mg: 0.01, tool: iron}\n  - {id: ball, do: reball, part: U1, alloy: [Bi58Sn42, Sn96.5Ag3Cu0.5], tool: air, optional: true}\n  - {id: set, do: place, part: U1, on: pads, tool: air, after: ball}\n  - {id: lift, do: remove, part: U1, tool: plate, after: ball}\n  - {id: again, do: remove, part: U1, tool: plate, peak_c: 380}\n";

fn called_off() -> &'static Pulse {
    static OVER: LazyLock<Pulse> = LazyLock::new(Pulse::default);
    OVER.call_off();
    &OVER
}

fn clash(job: &Job, melts: &MeltBook, budget: Budget) -> Option<Conflict> {
    plan::conflict(&Setting::new(job, melts), budget).unwrap()
}

/// Jobs without an order, and with demands that a short search cannot take away.
fn clashing() -> Vec<Job> {
    let texts = [
        include_str!("jobs/tower_chime_frame.yaml"),
        include_str!("never_holds/chip_on_its_back.yaml"),
        include_str!("acceptance/52_gate_reopened.yaml"),
    ];
    texts.map(read_text).iter().map(plan::sorted).collect()
}

fn shipped(job: &Job) -> MeltBook {
    MeltBook::new(Arc::new(AlloyBook::shipped().clone()), pins(job))
}

/// What is called proven is what the whole search proves; what was cut off may name more, and says so.
#[test]
fn a_clash_that_was_cut_off_is_never_called_proven() {
    let (mut unknown, mut larger, mut proven) = (0, 0, 0);
    for job in clashing() {
        let melts = shipped(&job);
        let whole = clash(&job, &melts, Budget::default()).unwrap();
        assert!(whole.proven);
        for nodes in (0..40).chain((40..400).step_by(20)).chain([1_000, 10_000]) {
            match clash(&job, &melts, Budget::of(nodes)) {
                None => unknown += 1,
                Some(found) if found.proven => {
                    assert_eq!(found, whole, "{nodes} benches");
                    proven += 1;
                }
                Some(found) => {
                    assert!(
                        found.demands.len() >= whole.demands.len(),
                        "{nodes} benches"
                    );
                    larger += usize::from(found.demands.len() > whole.demands.len());
                }
            }
        }
        let over = Budget {
            pulse: Some(called_off()),
            ..Budget::default()
        };
        let found = clash(&job, &melts, over);
        assert!(found.is_none_or(|found| !found.proven));
    }
    // Were one of the larger ones called proven, it would not be what the whole search proves.
    let met = [unknown, larger, proven].into_iter().all(|n| n > 2);
    assert!(met, "{unknown} unknown, {larger} larger, {proven} proven");
}

/// Where there is an order no search finds a clash, however early it is cut off.
#[test]
fn a_job_that_can_be_done_never_clashes() {
    let job = read_job("tower_chime.yaml");
    let melts = book(&job);
    for nodes in (0..60).step_by(3) {
        assert_eq!(
            clash(&job, &melts, Budget::of(nodes)),
            None,
            "{nodes} benches"
        );
    }
}

fn said(args: &[&str]) -> (u8, String) {
    let around = meltstair::cli::Around {
        width: 100,
        own_alloys: None,
        score: None,
    };
    let mut out = Vec::new();
    let args = std::iter::once("meltstair").chain(args.iter().copied());
    let code = meltstair::cli::run(args.map(Into::into), &around, &mut out, &mut Vec::new());
    (code, String::from_utf8(out).unwrap())
}

/// Time or memory gone: unknown, in the first line, the exit code and the JSON; no cause is named.
#[test]
fn time_and_memory_that_are_gone_are_told() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("job.yaml");
    std::fs::write(&file, LONG).unwrap();
    let file = file.to_str().unwrap();
    for limit in [["--seconds", "1"], ["--memory-mb", "20"]] {
        let (code, text) = said(&["clash", file, limit[0], limit[1]]);
        assert_eq!(code, 3, "{text}");
        assert!(
            text.starts_with("unknown: neither a clash nor an order"),
            "{text}"
        );
        assert!(!text.contains("cannot all be"), "{text}");
        let (code, text) = said(&["clash", file, limit[0], limit[1], "--json"]);
        let told: serde_json::Value = serde_json::from_str(&text).unwrap();
        assert_eq!(code, 3, "{text}");
        assert_eq!(told["proven"], false, "{text}");
        assert_eq!(told["conflict"], serde_json::Value::Null, "{text}");
    }
}

/// A clash of which not each member was shown to be needed says so wherever it is told.
#[test]
fn what_is_not_proven_says_so() {
    let job = read_job("tower_chime_frame.yaml");
    let melts = book(&job);
    let mut found = clash(&job, &melts, Budget::default()).unwrap();
    let say = meltstair::show::say::Say::default();
    let told = |found: &Conflict| {
        let body = meltstair::show::clash::body(&job, Some(found), &[], say);
        let line = meltstair::show::clash::frame(&job, Some(found), Vec::new(), say).line;
        let json = meltstair::show::clash::json(&job, Some(found), &[]);
        (line, body, json["proven"].clone())
    };
    let (line, body, proven) = told(&found);
    assert!(line.starts_with("4 demands clash: "), "{line}");
    assert!(
        body.contains("without any one of them the others can"),
        "{body}"
    );
    assert_eq!(proven, true);
    found.proven = false;
    let (line, body, proven) = told(&found);
    assert!(
        line.starts_with("4 demands clash (perhaps fewer): "),
        "{line}"
    );
    assert!(
        body.contains("NOT PROVEN") && !body.contains("the others can"),
        "{body}"
    );
    assert_eq!(proven, false);
}
