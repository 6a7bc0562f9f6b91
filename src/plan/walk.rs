//! What the search walks over: benches (one for each assumption about unknown alloys) with the
//! heats of parts that may run out of them.

use std::collections::HashMap;

use crate::bench::{Bench, Doing, Passage, Setting, pass};
use crate::job::PartIx;
use crate::quantity::{Celsius, KelvinStep};

use super::demands::{faults, least_margin};
use super::search::{Ground, Leg, StateId};
use super::task::Tasks;

/// Benches as they are at one point of a plan.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct State {
    /// One for each world.
    pub benches: Vec<Bench>,
    /// Heats taken so far by each part that may run out of them.
    pub heats: Vec<u32>,
}

/// Whether what is not known keeps a step out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Unknowns {
    /// It does: an unknown is never assumed safe.
    Fail,
    /// It does not: to find out whether an unknown decides.
    Pass,
}

/// The ground of one search: every bench met, and what each step does on it.
#[derive(Debug)]
pub struct Walk<'a> {
    worlds: &'a [Setting<'a>],
    tasks: &'a Tasks,
    unknowns: Unknowns,
    /// Parts that may run out of heats, with how many they may take.
    ledger: Vec<(PartIx, u32)>,
    states: Vec<State>,
    ids: HashMap<State, StateId>,
    legs: HashMap<(StateId, usize, usize), Option<Leg>>,
}

impl<'a> Walk<'a> {
    /// A ground that starts at these benches, one for each world, with heats taken before.
    pub fn new(
        worlds: &'a [Setting<'a>],
        tasks: &'a Tasks,
        unknowns: Unknowns,
        benches: Vec<Bench>,
        taken: &[u32],
    ) -> Self {
        let ledger = ledger(worlds, tasks, taken);
        let start = State {
            benches,
            heats: ledger.iter().map(|(part, _)| taken[part.0]).collect(),
        };
        let mut walk = Walk {
            worlds,
            tasks,
            unknowns,
            ledger,
            states: Vec::new(),
            ids: HashMap::new(),
            legs: HashMap::new(),
        };
        walk.intern(start);
        walk
    }

    fn intern(&mut self, state: State) -> StateId {
        if let Some(&id) = self.ids.get(&state) {
            return id;
        }
        let id = StateId(self.states.len());
        self.states.push(state.clone());
        self.ids.insert(state, id);
        id
    }

    fn walk_anew(&mut self, from: StateId, task: usize, variant: usize) -> Option<Leg> {
        let worlds = self.worlds;
        let task = &self.tasks.all[task];
        let state = &self.states[from.0];
        let mut next = State {
            benches: Vec::with_capacity(worlds.len()),
            heats: state.heats.clone(),
        };
        let mut toll = Toll::default();
        for (setting, bench) in worlds.iter().zip(&state.benches) {
            let step = &setting.job().steps[task.step.0];
            let doing = Doing::planned(step, task.variants[variant].pick);
            let passage = pass(setting, bench, &doing);
            if !self.keeps_demands(setting, &passage) {
                return None;
            }
            toll.add(setting, &self.ledger, &passage);
            next.benches.push(passage.next);
        }
        for (heats, (more, (_, most))) in next
            .heats
            .iter_mut()
            .zip(toll.ledger.iter().zip(&self.ledger))
        {
            *heats += more;
            if *more > 0 && *heats > *most {
                return None;
            }
        }
        Some(Leg {
            to: self.intern(next),
            margin: toll.margin,
            vital_heats: toll.vital_heats,
            vital_peak: toll.vital_peak,
        })
    }

    fn keeps_demands(&self, setting: &Setting, passage: &Passage) -> bool {
        faults(&setting.job().want, passage)
            .all(|fault| self.unknowns == Unknowns::Pass && fault.is_unknown())
    }
}

impl Ground for Walk<'_> {
    fn start(&self) -> StateId {
        StateId(0)
    }

    fn walk(&mut self, from: StateId, task: usize, variant: usize) -> Option<Leg> {
        let key = (from, task, variant);
        if let Some(leg) = self.legs.get(&key) {
            return *leg;
        }
        let leg = self.walk_anew(from, task, variant);
        self.legs.insert(key, leg);
        leg
    }
}

/// What one step costs, the worst over all worlds.
#[derive(Debug, Default)]
struct Toll {
    margin: Option<KelvinStep>,
    vital_heats: u32,
    vital_peak: Option<Celsius>,
    ledger: Vec<u32>,
}

impl Toll {
    fn add(&mut self, setting: &Setting, ledger: &[(PartIx, u32)], passage: &Passage) {
        let parts = &setting.job().parts;
        let vital = passage.heats.iter().filter(|(part, _)| parts[part.0].vital);
        let count = u32::try_from(vital.clone().count()).unwrap_or(u32::MAX);
        self.vital_heats = self.vital_heats.max(count);
        self.vital_peak = self.vital_peak.max(vital.map(|(_, t)| *t).max());
        self.margin = [self.margin, least_margin(passage)]
            .into_iter()
            .flatten()
            .min();
        self.ledger.resize(ledger.len(), 0);
        for (sum, (part, _)) in self.ledger.iter_mut().zip(ledger) {
            let heats = passage.heats.iter().filter(|(hot, _)| hot == part).count();
            *sum = (*sum).max(u32::try_from(heats).unwrap_or(u32::MAX));
        }
    }
}

/// Parts whose heats could run out even if every step that is left heated them.
fn ledger(worlds: &[Setting], tasks: &Tasks, taken: &[u32]) -> Vec<(PartIx, u32)> {
    let Some(setting) = worlds.first() else {
        return Vec::new();
    };
    let hot = |task: &&super::task::Task| !setting.job().steps[task.step.0].ways.is_empty();
    let hot = u32::try_from(tasks.all.iter().filter(hot).count()).unwrap_or(u32::MAX);
    let parts = setting.job().parts.iter().enumerate();
    parts
        .filter_map(|(p, part)| Some((PartIx(p), part.heats_left?)))
        .filter(|(part, left)| taken[part.0].saturating_add(hot) > *left)
        .collect()
}
