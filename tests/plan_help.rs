//! What the planning tests share.

use std::path::Path;
use std::sync::Arc;

use meltstair::alloy::{AlloyBook, Composition, Element};
use meltstair::job::{self, Job};
use meltstair::melt::{MeltBook, NoReadings, Pin, Readings, SetFloor, TableEntry};
use meltstair::quantity::Celsius;

/// A job of `tests/jobs`.
pub fn read_job(name: &str) -> Job {
    let path = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("tests/jobs")
        .join(name);
    read_text(&std::fs::read_to_string(path).unwrap())
}

/// A job from its text.
pub fn read_text(text: &str) -> Job {
    job::read(text, "test.yaml", AlloyBook::shipped())
        .unwrap_or_else(|faults| panic!("{faults}"))
        .job
}

/// What is known of melting, with nothing but the readings of the job and the phase data.
pub fn book(job: &Job) -> MeltBook {
    MeltBook::new(Arc::new(NoReadings), pins(job))
}

/// Made-up metal, for thousands of random jobs: with 1 mass% of palladium in everything no phase data
/// apply, so that this table decides, at once. What holds lead and bismuth melts from 103 °C.
#[derive(Debug)]
struct MadeUp;

impl Readings for MadeUp {
    fn near(&self, composition: &Composition) -> Option<TableEntry> {
        let has = |element| composition.share(element).percent() >= 0.02;
        let (solidus, liquidus) = match (has(Element::Pb), has(Element::Bi)) {
            (true, true) => (103, 134),
            (true, false) => (185, 205),
            (false, true) => (140, 190),
            (false, false) => (217, 220),
        };
        Some(TableEntry {
            name: "made up".to_owned(),
            readings: Vec::new(),
            solidus: Celsius::whole(solidus),
            liquidus: Celsius::whole(liquidus),
        })
    }

    fn floor(&self, composition: &Composition, elements: &[Element]) -> Option<SetFloor> {
        let entry = self.near(composition)?;
        Some(SetFloor {
            temperature: entry.solidus,
            of: elements.to_vec(),
            whole: Some(entry.solidus),
        })
    }
}

/// The knowledge of made-up metal, with what a job pins.
pub fn made_up_book(job: &Job) -> MeltBook {
    MeltBook::new(Arc::new(MadeUp), pins(job))
}

pub fn pins(job: &Job) -> Vec<Pin> {
    let pins = job.pins.iter().map(|pin| Pin {
        composition: pin.solder.composition,
        solidus: pin.solidus,
        liquidus: pin.liquidus,
    });
    pins.collect()
}
