//! What the planning tests share.

use std::path::Path;
use std::sync::Arc;

use meltstair::alloy::AlloyBook;
use meltstair::job::{self, Job};
use meltstair::melt::{MeltBook, NoReadings, Pin};

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
    let pins = job.pins.iter().map(|pin| Pin {
        composition: pin.solder.composition,
        solidus: pin.solidus,
        liquidus: pin.liquidus,
    });
    MeltBook::new(Arc::new(NoReadings), pins.collect())
}
