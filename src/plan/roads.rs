//! Every bench met in a search, and what each step does on it: asked of the transition once.

use std::collections::HashMap;
use std::rc::Rc;

use crate::bench::{Bench, Doing, Pick, Setting, pass};
use crate::job::{PartIx, StepIx};
use crate::quantity::{Celsius, KelvinStep};

use super::check::Place;
use super::demands::{Fault, end_faults, faults, margins};

/// A bench that was met (one for each world), by number.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct BenchId(usize);

/// What a step does on a bench, the worst over all worlds.
#[derive(Clone, Debug, Default)]
pub struct Road {
    /// The benches after it.
    pub next: Option<BenchId>,
    /// Demands that it breaks.
    pub faults: Vec<Fault>,
    /// Known margins.
    pub margins: Vec<(Place, KelvinStep)>,
    /// Parts that take a heat.
    pub heats: Vec<PartIx>,
    /// Heats on vital parts.
    pub vital_heats: u32,
    /// The hottest of them.
    pub vital_peak: Option<Celsius>,
}

/// All that was asked so far.
#[derive(Debug)]
pub struct Roads<'a> {
    worlds: &'a [Setting<'a>],
    benches: Vec<Rc<Vec<Bench>>>,
    ids: HashMap<Rc<Vec<Bench>>, BenchId>,
    asked: HashMap<(BenchId, StepIx, Pick), Rc<Road>>,
    ends: HashMap<BenchId, Rc<Vec<Fault>>>,
}

impl<'a> Roads<'a> {
    /// Nothing asked yet. All worlds are of one job.
    pub fn new(worlds: &'a [Setting<'a>]) -> Self {
        Roads {
            worlds,
            benches: Vec::new(),
            ids: HashMap::new(),
            asked: HashMap::new(),
            ends: HashMap::new(),
        }
    }

    /// The number of these benches, one for each world.
    pub fn id(&mut self, benches: Vec<Bench>) -> BenchId {
        if let Some(&id) = self.ids.get(&benches) {
            return id;
        }
        let id = BenchId(self.benches.len());
        let benches = Rc::new(benches);
        self.benches.push(Rc::clone(&benches));
        self.ids.insert(benches, id);
        id
    }

    /// A step in one of its variants.
    pub fn road(&mut self, from: BenchId, step: StepIx, pick: Pick) -> Rc<Road> {
        let key = (from, step, pick);
        if let Some(road) = self.asked.get(&key) {
            return Rc::clone(road);
        }
        let road = Rc::new(self.ask(from, step, pick));
        self.asked.insert(key, Rc::clone(&road));
        road
    }

    fn ask(&mut self, from: BenchId, step: StepIx, pick: Pick) -> Road {
        let benches = Rc::clone(&self.benches[from.0]);
        let mut road = Road::default();
        let mut next = Vec::with_capacity(benches.len());
        for (setting, bench) in self.worlds.iter().zip(benches.iter()) {
            let parts = &setting.job().parts;
            let doing = Doing::planned(&setting.job().steps[step.0], pick);
            let passage = pass(setting, bench, &doing);
            road.faults.extend(faults(setting, step, &passage));
            road.margins.extend(margins(&passage));
            let mut vital = 0;
            for (part, t) in &passage.heats {
                if !road.heats.contains(part) {
                    road.heats.push(*part);
                }
                if parts[part.0].vital {
                    vital += 1;
                    road.vital_peak = road.vital_peak.max(Some(*t));
                }
            }
            road.vital_heats = road.vital_heats.max(vital);
            next.push(passage.next);
        }
        road.next = Some(self.id(next));
        road
    }

    /// Demands that the board would break if it were left like this.
    pub fn end(&mut self, at: BenchId) -> Rc<Vec<Fault>> {
        if let Some(faults) = self.ends.get(&at) {
            return Rc::clone(faults);
        }
        let benches = self.worlds.iter().zip(self.benches[at.0].iter());
        let faults = benches.flat_map(|(setting, bench)| end_faults(setting, bench));
        let faults = Rc::new(faults.collect::<Vec<_>>());
        self.ends.insert(at, Rc::clone(&faults));
        faults
    }
}
