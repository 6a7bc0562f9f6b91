//! The engine behind the questions: a job in its own file format, read and checked as any other.

use std::sync::Arc;

use crate::alloy::{AlloyBook, Blend, Composition};
use crate::bench::{Setting, Sight};
use crate::job::{self, Job, JointIx};
use crate::melt::{Contact, History, Layer, Melt, MeltBook, Pin};
use crate::plan::{self, Budget, Checked, CheckedStep, Planned};
use crate::quantity::{Celsius, KelvinStep, Mass};

use crate::show::answer::Frame;
use crate::show::chart::Staircase;
use crate::show::staircase;

/// An alloy of the drill: name, solidus, liquidus in whole °C.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Known(pub &'static str, pub i32, pub i32);

impl Known {
    /// `Sn63Pb37 (183)`, `Sn60Pb40 (183 to 191)`.
    pub fn told(self) -> String {
        let Known(name, solidus, liquidus) = self;
        if solidus == liquidus {
            format!("{name} ({solidus} °C)")
        } else {
            format!("{name} ({solidus} to {liquidus} °C)")
        }
    }
}

pub(super) const SAC: Known = Known("Sn96.5Ag3Cu0.5", 217, 221);
pub(super) const LEADED: Known = Known("Sn63Pb37", 183, 183);
pub(super) const BISMUTH: Known = Known("Bi58Sn42", 138, 139);
pub(super) const INDIUM: Known = Known("In52Sn48", 118, 120);

/// Alloys that questions draw from, as the shipped table plans with them (a test compares). The readings are
/// pinned in each job, so that every number of a question is the one that it states.
pub(super) const ALLOYS: [Known; 10] = [
    SAC,
    LEADED,
    BISMUTH,
    INDIUM,
    Known("Sn99.3Cu0.7", 227, 227),
    Known("Sn50Pb50", 183, 216),
    Known("Sn96.5Ag3.5", 221, 221),
    Known("Sn60Pb40", 183, 191),
    Known("Sn62Pb36Ag2", 179, 189),
    Known("Bi57Sn42Ag1", 137, 140),
];

/// The hottest that any question brings a part or a joint to, or takes for an answer: the highest class of
/// bodies in J-STD-020 (from memory) is 260 °C.
pub(super) const BEARS: f64 = 260.0;
/// Most chips bear that (the classes of J-STD-020 begin there, from memory).
pub(super) const CHIP_BEARS: f64 = 245.0;

/// Reads jobs and asks the engine.
#[derive(Debug)]
pub struct Lab {
    book: &'static AlloyBook,
    melts: MeltBook,
}

/// A job that was asked.
#[derive(Debug)]
pub(super) struct Asked {
    pub job: Job,
    pub checked: Checked,
}

impl Default for Lab {
    fn default() -> Self {
        Lab::new()
    }
}

impl Lab {
    /// Over the shipped table, with the readings that the questions state.
    pub fn new() -> Self {
        let book = AlloyBook::shipped();
        let pins = ALLOYS.iter().filter_map(|Known(name, solidus, liquidus)| {
            Some(Pin {
                composition: book.get(name)?.composition,
                solidus: Celsius::whole(*solidus),
                liquidus: Celsius::whole(*liquidus),
            })
        });
        let melts = MeltBook::new(Arc::new(book.clone()), pins.collect());
        Lab { book, melts }
    }

    pub(super) fn book(&self) -> &'static AlloyBook {
        self.book
    }

    /// The job, its steps checked as they are written; none if it cannot be read.
    pub(super) fn ask(&self, text: &str) -> Option<Asked> {
        let job = job::read(text, "drill", self.book).ok()?.job;
        let checked = {
            let setting = Setting::new(&job, &self.melts);
            plan::check(&setting, &plan::as_written(&job).plan)
        };
        Some(Asked { job, checked })
    }

    /// The tightest margin of the best order; none where there is no proven one.
    pub(super) fn best_margin(&self, job: &Job) -> Option<(Checked, KelvinStep)> {
        let setting = Setting::new(job, &self.melts);
        let answer = plan::order(&setting, Budget::default(), &mut |_| true).ok()?;
        let plan::Answer::Proven { plan, worth, .. } = answer else {
            return None;
        };
        let planned: Vec<Planned> = plan::whole_plan(job, &plan);
        Some((plan::check(&setting, &planned), worth.margin?))
    }

    /// When an alloy melts.
    pub(super) fn melt(&self, alloy: Known) -> Option<Arc<Melt>> {
        let blend = Blend::of(&self.composition(alloy)?, Mass::from_mg(1.0).ok()?);
        Some(self.melts.of(&blend, History::Frozen))
    }

    /// When two alloys that touch melt, in every mixture of them.
    pub(super) fn meeting(&self, a: Known, b: Known) -> Option<Arc<Melt>> {
        let layer = |alloy: Known| {
            Some(Layer {
                blend: Blend::of(&self.composition(alloy)?, Mass::from_mg(1.0).ok()?),
                history: History::Frozen,
                unstated: true,
                unknown: false,
            })
        };
        Some(
            self.melts
                .of_joint(&[layer(a)?, layer(b)?], Contact::Layers),
        )
    }

    /// When a joint melts after the last step.
    pub(super) fn end_melt(&self, asked: &Asked, joint: usize) -> Option<Arc<Melt>> {
        let setting = Setting::new(&asked.job, &self.melts);
        let joint = asked.checked.end.joints.get(joint)?;
        Some(setting.melt(&joint.layers, joint.contact))
    }

    fn composition(&self, alloy: Known) -> Option<Composition> {
        Some(self.book.get(alloy.0)?.composition)
    }

    /// The staircase of a checked job.
    pub(super) fn stairs(&self, asked: &Asked) -> Staircase {
        let setting = Setting::new(&asked.job, &self.melts);
        staircase::of(&setting, &asked.checked, &Frame::default())
    }
}

impl Asked {
    /// The last step.
    pub fn last(&self) -> Option<&CheckedStep> {
        self.checked.steps.last()
    }

    /// What a joint went through in the last step.
    pub fn sight(&self, id: &str) -> Option<&Sight> {
        let joint = self.job.joints.iter().position(|joint| joint.id == id)?;
        let sights = &self.last()?.passage.sights;
        sights.iter().find(|sight| sight.joint == JointIx(joint))
    }

    /// Degrees left for a joint in the last step.
    pub fn margin(&self, id: &str) -> Option<f64> {
        Some(self.sight(id)?.margin?.kelvin())
    }
}

/// The line of a job that pins the readings of some alloys.
pub(super) fn readings(alloys: &[Known]) -> String {
    let mut told: Vec<Known> = Vec::new();
    for alloy in alloys {
        if !told.contains(alloy) {
            told.push(*alloy);
        }
    }
    let all: Vec<String> = told
        .iter()
        .map(|Known(name, solidus, liquidus)| format!("{name}: [{solidus}, {liquidus}]"))
        .collect();
    format!("readings: {{{}}}", all.join(", "))
}

/// A peak in degrees; none where nothing bears it.
pub(super) fn bearable(peak: Celsius) -> Option<f64> {
    let peak = peak.degrees();
    (peak <= BEARS).then_some(peak)
}
