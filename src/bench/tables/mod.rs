//! Verdict tables: every rule at its limit, just below it, just above it, and where nobody knows.
//!
//! Alloys are pinned, so that limits are whole numbers; what is expected follows from the rule by arithmetic
//! that stands beside the row. All boards are invented.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    reason = "a test that cannot go on has failed"
)]

mod at_once;
mod exposure;
mod hazards;
mod judge;
mod prepare;
mod ramp;
mod rules;
mod settle;
mod window;

use std::sync::Arc;

use crate::alloy::AlloyBook;
use crate::bench::{Bench, Doing, Finding, Passage, Pick, Rule, Setting, Verdict, pass};
use crate::job::{self, Job};
use crate::melt::{Melt, MeltBook, NoReadings, Pin};
use crate::quantity::{Celsius, KelvinStep};

/// Readings that the tables take as given.
pub const PINS: &str =
    "readings: {Sn96.5Ag3Cu0.5: [217, 220], Sn63Pb37: [183, 183], Bi58Sn42: [138, 138]}\n";

/// A job and what is known of melting.
pub struct Desk {
    pub job: Job,
    melts: MeltBook,
}

impl Desk {
    /// From the text below the title and the pins.
    pub fn new(text: &str) -> Self {
        let text = format!("job: a table\n{PINS}{text}");
        let read = job::read(&text, "table.yaml", AlloyBook::shipped());
        let job = read.unwrap_or_else(|faults| panic!("{faults}")).job;
        let pins = job.pins.iter().map(|pin| Pin {
            composition: pin.solder.composition,
            solidus: pin.solidus,
            liquidus: pin.liquidus,
        });
        let melts = MeltBook::new(Arc::new(NoReadings), pins.collect());
        Desk { job, melts }
    }

    pub fn setting(&self) -> Setting<'_> {
        Setting::new(&self.job, &self.melts)
    }

    /// Every step in the order of the file; what was logged counts as logged.
    pub fn passages(&self) -> Vec<Passage> {
        let setting = self.setting();
        let mut bench = Bench::at_start(&setting);
        let steps = self.job.steps.iter().map(|step| {
            let log = self.job.done.iter().find(|event| event.step == step.id);
            let doing = Doing {
                log,
                ..Doing::planned(step, Pick::default())
            };
            let passage = pass(&setting, &bench, &doing);
            bench = passage.next.clone();
            passage
        });
        steps.collect()
    }

    /// The last step.
    pub fn last(&self) -> Passage {
        self.passages().pop().expect("a step")
    }
}

/// What a rule says, worst first.
pub fn found(passage: &Passage, rule: Rule) -> Vec<Finding> {
    let mut all: Vec<Finding> = passage
        .findings
        .iter()
        .filter(|f| f.rule == rule)
        .copied()
        .collect();
    all.sort_by_key(|finding| std::cmp::Reverse(finding.verdict));
    all
}

/// The verdict of a rule: of the last step of a job, and none where it has nothing to say.
pub fn verdict_of(text: &str, rule: Rule) -> Option<Verdict> {
    found(&Desk::new(text).last(), rule)
        .first()
        .map(|finding| finding.verdict)
}

/// A temperature in thousandths of a degree.
pub fn milli(millidegrees: i32) -> Celsius {
    Celsius::whole(0) + KelvinStep::from_millikelvin(millidegrees)
}

/// Something that melts all at once at a temperature.
pub fn sharp(at: i32) -> Melt {
    let at = Some(Celsius::whole(at));
    let mut melt = Melt::unknown();
    melt.basis = crate::melt::Basis::Measured;
    (melt.first_melt, melt.survival, melt.solidus, melt.liquidus) = (at, at, at, at);
    (melt.flow, melt.flow_point) = (at, at);
    melt
}
