//! How long planning takes, and how it grows: 16 steps with 4 alloys on 6 of them (goal 0.1 s where
//! at most 20,000 benches are looked at), 24 steps (goal 2 s for 200,000). `cargo bench --bench plan`
//! prints the benches looked at beside each size.

#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::print_stdout,
    reason = "a measurement that cannot go on has failed; it tells what it measured"
)]

#[path = "../plan/dice.rs"]
mod dice;
#[path = "../plan/instances.rs"]
mod instances;

use std::sync::Arc;
use std::time::Instant;

use divan::{Bencher, black_box};
use meltstair::bench::Setting;
use meltstair::job::Job;
use meltstair::melt::{MeltBook, NoReadings, Pin};
use meltstair::plan::{Answer, Budget, conflict, openings, order};

use instances::{Size, instance};

/// Counts what is allocated.
#[global_allocator]
static ALLOC: divan::AllocProfiler = divan::AllocProfiler::system();

fn main() {
    table();
    scale();
    clashes();
    divan::main();
}

fn book(job: &Job) -> MeltBook {
    let pins = job.pins.iter().map(|pin| Pin {
        composition: pin.solder.composition,
        solidus: pin.solidus,
        liquidus: pin.liquidus,
    });
    MeltBook::new(Arc::new(NoReadings), pins.collect())
}

const SIZES: [(&str, Size); 6] = [
    (
        "8 steps, fixed",
        Size {
            steps: 8,
            open: 0,
            alloys: 4,
            most_coupled: 45,
        },
    ),
    (
        "12 steps, 3 open",
        Size {
            steps: 12,
            open: 3,
            alloys: 4,
            most_coupled: 45,
        },
    ),
    (
        "16 steps, fixed",
        Size {
            steps: 16,
            open: 0,
            alloys: 4,
            most_coupled: 45,
        },
    ),
    (
        "16 steps, 6 open",
        Size {
            steps: 16,
            open: 6,
            alloys: 4,
            most_coupled: 45,
        },
    ),
    (
        "24 steps, fixed",
        Size {
            steps: 24,
            open: 0,
            alloys: 4,
            most_coupled: 40,
        },
    ),
    (
        "24 steps, 4 open",
        Size {
            steps: 24,
            open: 4,
            alloys: 4,
            most_coupled: 40,
        },
    ),
];

/// One run of each of ten seeds: what came out, benches, milliseconds.
fn table() {
    for (name, size) in SIZES {
        let mut lines = Vec::new();
        for seed in 0..10 {
            let job = instance(seed, size);
            let melts = book(&job);
            let setting = Setting::new(&job, &melts);
            let begun = Instant::now();
            let answer = order(&setting, Budget::default(), &mut |_| true).unwrap();
            let taken = begun.elapsed().as_secs_f64() * 1000.0;
            let word = match answer {
                Answer::Proven { .. } => "proven",
                Answer::Impossible { .. } => "impossible",
                _ => "other",
            };
            lines.push(format!("{word} {} {taken:.1} ms", answer.visited()));
        }
        println!("{name}: {}", lines.join("; "));
    }
}

/// How time and benches grow with steps and with steps whose alloy is open: median and most of
/// twenty instances.
fn scale() {
    println!("steps open  benches median, most  ms median, most");
    for steps in [8, 12, 16, 20, 24] {
        for open in [0, 2, 4, 6] {
            let size = Size {
                steps,
                open,
                alloys: 4,
                most_coupled: 45,
            };
            let mut all: Vec<(u64, f64)> = (0..20)
                .map(|seed| {
                    let job = instance(seed, size);
                    let melts = book(&job);
                    let setting = Setting::new(&job, &melts);
                    let begun = Instant::now();
                    let answer = order(&setting, Budget::default(), &mut |_| true).unwrap();
                    (answer.visited(), begun.elapsed().as_secs_f64() * 1000.0)
                })
                .collect();
            all.sort_by_key(|(benches, _)| *benches);
            let (median, most) = (all[10], all[19]);
            all.sort_by(|a, b| a.1.total_cmp(&b.1));
            println!(
                "{steps:5} {open:4}  {:9}, {:9}  {:8.1}, {:8.1}",
                median.0, most.0, all[10].1, all[19].1
            );
        }
    }
}

/// What clashes in those of ten instances of 16 steps that have no plan, and what opens them.
fn clashes() {
    for (name, size, nodes) in [
        (SIZES[2].0, SIZES[2].1, 50_000),
        (SIZES[3].0, SIZES[3].1, 50_000),
        (SIZES[3].0, SIZES[3].1, 2_000_000),
    ] {
        let budget = Budget::of(nodes);
        let mut lines = Vec::new();
        for seed in 0..10 {
            let job = instance(seed, size);
            let melts = book(&job);
            let setting = Setting::new(&job, &melts);
            let begun = Instant::now();
            let Some(conflict) = conflict(&setting, budget).unwrap() else {
                continue;
            };
            let taken = begun.elapsed().as_secs_f64() * 1000.0;
            let open = openings(&setting, &conflict, &[], budget).unwrap();
            let all = begun.elapsed().as_secs_f64() * 1000.0;
            let word = if conflict.proven { "" } else { " not proven" };
            let size = conflict.demands.len();
            lines.push(format!(
                "{size}{word} {taken:.0} ms, {} open it {all:.0} ms",
                open.len()
            ));
        }
        println!("clash, {name}, {nodes} benches: {}", lines.join("; "));
    }
}

#[divan::bench(args = SIZES.map(|(name, _)| name), sample_count = 5)]
fn best_order(bencher: Bencher, name: &str) {
    let size = SIZES.iter().find(|(other, _)| *other == name).unwrap().1;
    let job = instance(3, size);
    let melts = book(&job);
    let setting = Setting::new(&job, &melts);
    bencher.bench_local(|| order(black_box(&setting), Budget::default(), &mut |_| true).unwrap());
}
