//! What stays the same while a plan is walked through: the job, what is known of melting and heat,
//! and one assumption for every unknown alloy.

use std::sync::Arc;
use std::sync::atomic::AtomicBool;

use crate::alloy::Blend;
use crate::job::{Amount, Balls, Content, Job, PartIx, Purity, ReelIx, Solder, Step};
use crate::melt::{Contact, History, Layer, Melt, MeltBook};
use crate::quantity::{Celsius, Length, Volume};

use super::computed::Bounds;
use super::facts::Facts;
use super::metal;

/// One assumption for every unknown alloy of a job: which of its candidates it is, or `None` for
/// "something else".
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct World(pub Vec<Option<usize>>);

/// Job, melting and heat knowledge, and the world that is assumed.
#[derive(Clone, Debug)]
pub struct Setting<'a> {
    job: &'a Job,
    melts: &'a MeltBook,
    world: World,
    bounds: Arc<Bounds>,
    facts: Arc<Facts>,
}

impl<'a> Setting<'a> {
    /// A setting in which every unknown alloy stays unknown.
    pub fn new(job: &'a Job, melts: &'a MeltBook) -> Self {
        let world = World(vec![None; job.reels.len()]);
        Setting {
            job,
            melts,
            world,
            bounds: Arc::default(),
            facts: Arc::new(Facts::of(job)),
        }
    }

    /// The same, and no heat is worked out any more once that is set: what is not known by then stays unknown.
    pub fn stopped_by(self, stop: &'static AtomicBool) -> Self {
        self.bounds.stop_by(stop);
        self
    }

    /// Another job, with the same knowledge of melting, stopped by the same.
    pub fn with_job<'j>(&self, job: &'j Job) -> Setting<'j>
    where
        'a: 'j,
    {
        let setting = Setting::new(job, self.melts);
        match self.bounds.stop() {
            Some(stop) => setting.stopped_by(stop),
            None => setting,
        }
    }

    /// The same with another world.
    pub fn in_world(&self, world: World) -> Self {
        Setting {
            world,
            ..self.clone()
        }
    }

    /// The job.
    pub fn job(&self) -> &'a Job {
        self.job
    }

    /// The knowledge of melting.
    pub fn melts(&self) -> &'a MeltBook {
        self.melts
    }

    /// What was computed of heat so far.
    pub(super) fn bounds(&self) -> &Bounds {
        &self.bounds
    }

    /// What follows from the job alone.
    pub(super) fn facts(&self) -> &Facts {
        &self.facts
    }

    /// Parts whose bodies, where they stand, keep a step from the place where it works.
    pub fn bodies_over(&self, step: &Step) -> &[PartIx] {
        self.facts.bodies_over(&step.id)
    }

    /// What is assumed of the unknown alloys.
    pub fn world(&self) -> &World {
        &self.world
    }

    /// The alloy, where it is known or assumed.
    pub fn solder<'c>(&self, content: &'c Content) -> Option<&'c Solder>
    where
        'a: 'c,
    {
        match content {
            Content::Known(solder) => Some(solder),
            Content::Reel(reel) => self.assumed(*reel),
        }
    }

    fn assumed(&self, reel: ReelIx) -> Option<&'a Solder> {
        let candidate = (*self.world.0.get(reel.0)?)?;
        self.job.reels.get(reel.0)?.candidates.get(candidate)
    }

    /// Metal of that content and amount.
    pub fn layer(&self, content: &Content, amount: Amount, history: History) -> Layer {
        match self.solder(content) {
            Some(solder) => metal::layer(&self.as_it_is(solder), amount, history),
            None => metal::unknown_layer(),
        }
    }

    /// A solder as it may be: where the job takes metal as sold, with the allowed impurity that costs it most.
    pub fn as_it_is(&self, solder: &Solder) -> Solder {
        let impure = (self.job.want.purity == Purity::AsSold)
            .then(|| self.melts.worst_as_sold(&solder.composition));
        Solder {
            composition: impure.flatten().unwrap_or(solder.composition),
            name: solder.name.clone(),
        }
    }

    /// One ball.
    pub fn ball(&self, balls: &Balls, history: History) -> Layer {
        self.layer(&balls.content, sphere(balls.diameter), history)
    }

    /// When the last crystal of a metal goes.
    pub(super) fn liquidus(&self, blend: &Blend) -> Option<Celsius> {
        self.melts.liquidus_of(blend)
    }

    /// When those layers melt.
    pub fn melt(&self, layers: &[Layer], contact: Contact) -> Arc<Melt> {
        self.melts.of_joint(layers, contact)
    }
}

/// Metal of a ball: `V = π d³ / 6`.
pub fn sphere(diameter: Length) -> Amount {
    let volume = std::f64::consts::PI * diameter.mm().powi(3) / 6.0;
    Volume::from_mm3(volume).map_or(Amount::Unstated, Amount::Metal)
}
