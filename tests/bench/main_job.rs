//! How long the main job takes: the alloy table, a check, an order, a melting curve.

#![allow(
    clippy::expect_used,
    reason = "a measurement that cannot go on has failed"
)]

use std::sync::Arc;

use divan::Bencher;
use meltstair::alloy::{AlloyBook, Composition, Element};
use meltstair::bench::Setting;
use meltstair::job;
use meltstair::melt::{MeltBook, curve};
use meltstair::plan::{self, Budget};

fn main() {
    divan::main();
}

const HARD: &str = include_str!("../../charts/organ_console.yaml");

fn hard_job() -> (job::Job, MeltBook) {
    let book = AlloyBook::shipped();
    let read = job::read(HARD, "organ_console.yaml", book).expect("the demo job reads");
    let melts = MeltBook::new(Arc::new(book.clone()), Vec::new());
    (plan::whole(&read.job, &melts), melts)
}

#[divan::bench]
fn read_the_hard_job() {
    let _ = divan::black_box(hard_job());
}

#[divan::bench]
fn check_the_hard_job_with_nothing_remembered(bencher: Bencher) {
    bencher.with_inputs(hard_job).bench_refs(|(job, melts)| {
        plan::check(&Setting::new(job, melts), &plan::as_written(job).plan).verdict
    });
}

#[divan::bench]
fn order_the_hard_job_with_nothing_remembered(bencher: Bencher) {
    bencher.with_inputs(hard_job).bench_refs(|(job, melts)| {
        plan::order(&Setting::new(job, melts), Budget::default(), &mut |_| true)
    });
}

#[divan::bench]
fn curve_of_four_elements(bencher: Bencher) {
    use Element::{Ag, Bi, Pb, Sn};
    let blend = Composition::from_parts(&[(Sn, 45.0), (Bi, 50.0), (Pb, 4.5), (Ag, 0.5)]);
    let blend = blend.expect("four elements");
    bencher.bench(|| curve(&blend));
}
