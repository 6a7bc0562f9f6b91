//! The ground of one search: benches with the heats of parts that may run out of them.

use rustc_hash::FxHashMap as HashMap;

use crate::job::{Job, JointIx, PartIx};
use crate::quantity::KelvinStep;

use super::demands::{Demand, Kept, Terms};
use super::roads::{BenchId, Road, Roads};
use super::search::{Ground, Leg, Outlook, StateId};
use super::task::{Done, Tasks};
use super::touch::{Thing, belonging, touches};

/// Benches and ledger at one point of a plan.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
struct State {
    bench: BenchId,
    /// Heats taken so far by each part that may run out of them.
    heats: Vec<u32>,
}

/// Where one search walks.
#[derive(Debug)]
pub struct Walk<'r, 'a> {
    roads: &'r mut Roads<'a>,
    tasks: &'r Tasks,
    terms: &'r Terms,
    /// Parts that may run out of heats, with how many they may take.
    ledger: Vec<(PartIx, u32)>,
    states: Vec<State>,
    ids: HashMap<State, StateId>,
    reach: Reach,
    settled: Vec<usize>,
}

impl<'r, 'a> Walk<'r, 'a> {
    /// A ground that starts at these benches, with heats taken before by each part of the job.
    pub fn new(
        job: &Job,
        roads: &'r mut Roads<'a>,
        tasks: &'r Tasks,
        terms: &'r Terms,
        bench: BenchId,
        taken: &[u32],
    ) -> Self {
        let ledger = ledger(job, tasks, terms, taken);
        let heats = ledger.iter().map(|(part, _)| taken[part.0]).collect();
        let mut walk = Walk {
            roads,
            tasks,
            terms,
            ledger,
            states: Vec::new(),
            ids: HashMap::default(),
            reach: Reach::new(job, tasks),
            settled: Vec::new(),
        };
        walk.intern(State { bench, heats });
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
}

impl Ground for Walk<'_, '_> {
    fn start(&self) -> StateId {
        StateId(0)
    }

    fn walk(&mut self, from: StateId, task: usize, variant: usize) -> Option<Leg> {
        let task = &self.tasks.all[task];
        let bench = self.states[from.0].bench;
        let pick = task.variants[variant].pick;
        let (road, bench) = self.roads.road(bench, task.step, pick);
        if !road.faults.iter().all(|fault| self.terms.allow(*fault)) {
            return None;
        }
        let heats = heated(&self.ledger, &self.states[from.0].heats, road)?;
        let (vital_heats, vital_peak) = (road.vital_heats, road.vital_peak);
        let margin = margin(self.terms, road);
        Some(Leg {
            to: self.intern(State { bench, heats }),
            margin,
            vital_heats,
            vital_peak,
        })
    }

    fn may_end(&mut self, at: StateId) -> bool {
        let faults = self.roads.end(self.states[at.0].bench);
        faults.iter().all(|fault| self.terms.allow(*fault))
    }

    /// Joints that no task left can change, against tasks that no other task left can change: what
    /// these do to those is known, whenever they are done.
    fn outlook(&mut self, at: StateId, done: Done) -> Outlook {
        let left = self.reach.all & !done;
        self.settled.clear();
        let joints = self.reach.joints.iter().enumerate();
        // A joint that may be given up can melt, and be another one then.
        let given_up = |j: usize| self.terms.dropped.contains(&Demand::Keep(JointIx(j)));
        let settled = joints
            .filter(|(j, by)| *by & left == 0 && !given_up(*j))
            .map(|(j, _)| j);
        self.settled.extend(settled);
        if self.settled.is_empty() {
            return Outlook::AtMost(None);
        }
        let bench = self.states[at.0].bench;
        let mut bound: Option<KelvinStep> = None;
        for t in self.tasks.members(left & self.reach.sure) {
            if self.reach.tasks[t] & left != 0 {
                continue;
            }
            let task = &self.tasks.all[t];
            let mut best = Kept::Broken;
            for variant in &task.variants {
                let (step, pick) = (task.step, variant.pick);
                let kept = self
                    .roads
                    .threat(bench, step, pick, &self.settled, self.terms);
                best = best.or_wider(kept);
            }
            match best {
                Kept::Broken => return Outlook::Dead,
                Kept::Margin(kept) => bound = [bound, kept].into_iter().flatten().min(),
            }
        }
        Outlook::AtMost(bound)
    }
}

/// Which tasks can change what.
#[derive(Debug)]
struct Reach {
    all: Done,
    /// Tasks that must be done and bring heat.
    sure: Done,
    /// For each task the others that touch something it works on.
    tasks: Vec<Done>,
    /// For each joint the tasks that touch it, or a part that may stand on it.
    joints: Vec<Done>,
}

impl Reach {
    fn new(job: &Job, tasks: &Tasks) -> Self {
        let things: Vec<Vec<Thing>> = tasks
            .all
            .iter()
            .map(|task| touches(job, task.step.0))
            .collect();
        let touching = |wanted: &[Thing]| {
            let touch = things
                .iter()
                .enumerate()
                .filter(|(_, things)| things.iter().any(|thing| wanted.contains(thing)));
            touch.fold(0, |set: Done, (t, _)| set | 1 << t)
        };
        let hot = tasks.all.iter().enumerate().filter(|(t, task)| {
            let must = tasks.mandatory & (1 << t) != 0;
            must && !job.steps[task.step.0].ways.is_empty()
        });
        Reach {
            all: (0..tasks.all.len()).fold(0, |set, t| set | 1 << t),
            sure: hot.fold(0, |set: Done, (t, _)| set | 1 << t),
            tasks: (0..things.len())
                .map(|t| touching(&things[t]) & !(1 << t))
                .collect(),
            joints: (0..job.joints.len())
                .map(|j| touching(&belonging(job, JointIx(j))))
                .collect(),
        }
    }
}

fn margin(terms: &Terms, road: &Road) -> Option<KelvinStep> {
    let counted = road.margins.iter().filter(|(place, _)| terms.count(*place));
    counted.map(|(_, margin)| *margin).min()
}

/// The ledger after a road; `None` where a part has no heat left.
fn heated(ledger: &[(PartIx, u32)], taken: &[u32], road: &Road) -> Option<Vec<u32>> {
    let mut heats = taken.to_vec();
    for (taken, (part, most)) in heats.iter_mut().zip(ledger) {
        if road.heats.contains(part) {
            *taken += 1;
            if *taken > *most {
                return None;
            }
        }
    }
    Some(heats)
}

/// Parts whose heats could run out if every step that is left heated them.
fn ledger(job: &Job, tasks: &Tasks, terms: &Terms, taken: &[u32]) -> Vec<(PartIx, u32)> {
    let hot = tasks
        .all
        .iter()
        .filter(|task| !job.steps[task.step.0].ways.is_empty());
    let hot = u32::try_from(hot.count()).unwrap_or(u32::MAX);
    let parts = job.parts.iter().enumerate();
    parts
        .filter_map(|(p, part)| Some((PartIx(p), part.heats_left?)))
        .filter(|(part, left)| taken[part.0].saturating_add(hot) > *left)
        .filter(|(part, _)| !terms.dropped.contains(&Demand::Heats(*part)))
        .collect()
}
