//! The transition, asked once for each thing and not once for each bench.
//!
//! What a step does to a joint hangs on the step, on what it works on (its joint, its part, the
//! gate), and on that joint alone; the same for parts, guards and wires. So a bench is kept as a row
//! of numbers, one for each state that a thing was met in, and what a step does is put together from
//! answers given before. Where one is missing, the transition is asked for the whole bench and every
//! answer in it is kept. A test compares rows with the transition on random jobs, step by step.

use std::hash::Hash;

use rustc_hash::FxHashMap as HashMap;

use crate::bench::{
    Bench, Doing, GuardNow, JointNow, LimitOf, LimitSight, PartNow, Passage, Pick, Setting, pass,
};
use crate::job::{GuardIx, Job, JointIx, PartIx, StepIx, Work, ZoneIx};
use crate::quantity::{Celsius, KelvinStep};

use super::check::Place;
use super::demands::{
    Fault, Kept, Terms, faults, joint_fault, limit_fault, margins, refusal_faults,
};
use super::roads::Road;

/// A bench as numbers: joints, parts, guards, flags.
pub type Row = Vec<u32>;

/// A joint with all that what it sees hangs on.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
struct JointCell {
    now: JointNow,
    /// Zone of the part that stands on it.
    part_zone: Option<ZoneIx>,
    /// Zone of the part whose site it is.
    site_zone: Option<ZoneIx>,
}

/// States that one thing was met in.
#[derive(Debug)]
struct Shelf<T> {
    all: Vec<T>,
    ids: HashMap<T, u32>,
}

impl<T: Clone + Eq + Hash> Shelf<T> {
    fn new() -> Self {
        Shelf {
            all: Vec::new(),
            ids: HashMap::default(),
        }
    }

    fn id(&mut self, state: T) -> u32 {
        if let Some(&id) = self.ids.get(&state) {
            return id;
        }
        // A bench has far fewer than 2³² states: the node budget ends long before.
        let id = u32::try_from(self.all.len()).unwrap_or(u32::MAX);
        self.all.push(state.clone());
        self.ids.insert(state, id);
        id
    }
}

/// What becomes of one thing.
#[derive(Clone, Copy, Debug)]
struct Fate {
    next: u32,
    fault: Option<Fault>,
    margin: Option<KelvinStep>,
    /// Of a part: the heat it takes.
    heat: Option<Celsius>,
}

/// A step on what it works on.
#[derive(Debug)]
struct Scene {
    faults: Vec<Fault>,
    flags: u32,
    joints: Vec<Vec<Option<Fate>>>,
    parts: Vec<Vec<Option<Fate>>>,
    guards: HashMap<(usize, Vec<u32>), Fate>,
    wires: HashMap<(usize, u32, u32), Fate>,
}

/// What a step works on: two states at most, and the flags.
type Local = [u32; 3];

const NOTHING: u32 = u32::MAX;

/// All answers of one world.
#[derive(Debug)]
pub struct Cells<'a> {
    setting: &'a Setting<'a>,
    joints: Vec<Shelf<JointCell>>,
    parts: Vec<Shelf<PartNow>>,
    guards: Vec<Shelf<GuardNow>>,
    /// Joints that each guard may lie over.
    over: Vec<Vec<JointIx>>,
    scene_ids: HashMap<(StepIx, Pick, Local), usize>,
    scenes: Vec<Scene>,
    /// Something that is not known stood in the way of a step.
    pub met_unknown: bool,
}

impl<'a> Cells<'a> {
    /// Nothing asked yet.
    pub fn new(setting: &'a Setting<'a>) -> Self {
        let job = setting.job();
        Cells {
            setting,
            joints: job.joints.iter().map(|_| Shelf::new()).collect(),
            parts: job.parts.iter().map(|_| Shelf::new()).collect(),
            guards: job.guards.iter().map(|_| Shelf::new()).collect(),
            over: (0..job.guards.len()).map(|g| lies_over(job, g)).collect(),
            scene_ids: HashMap::default(),
            scenes: Vec::new(),
            met_unknown: false,
        }
    }

    /// Numbers in a row.
    pub fn len(&self) -> usize {
        self.joints.len() + self.parts.len() + self.guards.len() + 1
    }

    /// A bench as a row.
    pub fn row(&mut self, bench: &Bench) -> Row {
        let job = self.setting.job();
        let mut row = Row::with_capacity(self.len());
        for (j, now) in bench.joints.iter().enumerate() {
            let cell = joint_cell(job, bench, j, now);
            row.push(self.joints[j].id(cell));
        }
        for (p, now) in bench.parts.iter().enumerate() {
            row.push(self.parts[p].id(now.clone()));
        }
        for (g, now) in bench.guards.iter().enumerate() {
            row.push(self.guards[g].id(*now));
        }
        row.push(flags(bench));
        row
    }

    /// A row as a bench.
    pub fn bench(&self, row: &[u32]) -> Bench {
        let (joints, rest) = row.split_at(self.joints.len());
        let (parts, rest) = rest.split_at(self.parts.len());
        let (guards, rest) = rest.split_at(self.guards.len());
        let flags = rest.first().copied().unwrap_or(0);
        Bench {
            joints: joints
                .iter()
                .zip(&self.joints)
                .map(|(id, shelf)| shelf.all[*id as usize].now.clone())
                .collect(),
            parts: parts
                .iter()
                .zip(&self.parts)
                .map(|(id, shelf)| shelf.all[*id as usize].clone())
                .collect(),
            guards: guards
                .iter()
                .zip(&self.guards)
                .map(|(id, shelf)| shelf.all[*id as usize])
                .collect(),
            checked: flags & 1 != 0,
            powered: flags & 2 != 0,
        }
    }

    /// What a step does: adds it to a road, and the row after it to `next`.
    pub fn walk(&mut self, row: &[u32], step: StepIx, pick: Pick, road: &mut Road, next: &mut Row) {
        let local = self.local(row, step);
        let key = (step, pick, local);
        let told = (road.faults.len(), road.margins.len(), next.len());
        if let Some(&scene) = self.scene_ids.get(&key)
            && self.put_together(scene, row, road, next)
        {
            return;
        }
        road.faults.truncate(told.0);
        road.margins.truncate(told.1);
        next.truncate(told.2);
        let scene = self.ask(row, step, pick, key);
        let whole = self.put_together(scene, row, road, next);
        debug_assert!(whole, "every answer of this bench was just given");
    }

    /// What some joints keep in a step.
    pub fn threat(
        &mut self,
        row: &[u32],
        step: StepIx,
        pick: Pick,
        joints: &[usize],
        terms: &Terms,
    ) -> Kept {
        let key = (step, pick, self.local(row, step));
        let scene = self.scene_ids.get(&key).copied();
        let told = |cells: &Self, scene: usize, j: usize| {
            let fates = &cells.scenes[scene].joints[j];
            fates.get(row[j] as usize).copied().flatten()
        };
        let whole = scene.filter(|&scene| joints.iter().all(|&j| told(self, scene, j).is_some()));
        let scene = whole.unwrap_or_else(|| self.ask(row, step, pick, key));
        let mut tightest: Option<KelvinStep> = None;
        for &j in joints {
            let Some(fate) = told(self, scene, j) else {
                continue;
            };
            if fate.fault.is_some_and(|fault| !terms.allow(fault)) {
                return Kept::Broken;
            }
            if let Some(margin) = fate.margin
                && terms.count(Place::Joint(JointIx(j)))
            {
                tightest = Some(tightest.map_or(margin, |tightest| tightest.min(margin)));
            }
        }
        Kept::Margin(tightest)
    }

    fn local(&self, row: &[u32], step: StepIx) -> Local {
        let flags = row[row.len() - 1];
        let joint = |at: JointIx| row[at.0];
        let part = |at: PartIx| row[self.joints.len() + at.0];
        let (first, second) = match &self.setting.job().steps[step.0].work {
            Work::Solder { joint: at, .. } => (joint(*at), NOTHING),
            Work::Place { part: set, on, .. } => (part(*set), joint(*on)),
            Work::Remove { part: off, .. } => {
                let id = part(*off);
                let on = self.parts[off.0].all[id as usize].on;
                (id, on.map_or(NOTHING, joint))
            }
            Work::Reball { part: at, .. } | Work::Move { part: at, .. } => (part(*at), NOTHING),
            Work::Clean {
                joint: at,
                part: of,
                ..
            } => (at.map_or(NOTHING, joint), of.map_or(NOTHING, part)),
            Work::OtherHeat { joint: at, .. } => (at.map_or(NOTHING, joint), NOTHING),
            Work::Cover { .. } | Work::WholeBoard { .. } | Work::Gate { .. } | Work::Power => {
                (NOTHING, NOTHING)
            }
        };
        [first, second, flags]
    }

    /// Puts the answers of a scene together; `false` where one is missing.
    fn put_together(&self, scene: usize, row: &[u32], road: &mut Road, next: &mut Row) -> bool {
        let scene = &self.scenes[scene];
        let (joints, parts) = (self.joints.len(), self.parts.len());
        road.faults.extend(&scene.faults);
        let mut take = |fate: &Fate, place: Option<Place>| {
            road.faults.extend(fate.fault);
            road.margins.extend(place.zip(fate.margin));
            next.push(fate.next);
        };
        for (j, &cell) in row.iter().enumerate().take(joints) {
            match scene.joints[j].get(cell as usize) {
                Some(Some(fate)) => take(fate, Some(Place::Joint(JointIx(j)))),
                _ => return false,
            }
        }
        let mut hot = Vec::new();
        for p in 0..parts {
            match scene.parts[p].get(row[joints + p] as usize) {
                Some(Some(fate)) => {
                    take(fate, Some(Place::Limit(LimitOf::Part(PartIx(p)))));
                    if let Some(t) = fate.heat {
                        hot.push((PartIx(p), t));
                    }
                }
                _ => return false,
            }
        }
        for g in 0..self.guards.len() {
            match scene.guards.get(&(g, self.guard_key(row, g))) {
                Some(fate) => take(fate, Some(Place::Limit(LimitOf::Guard(GuardIx(g))))),
                None => return false,
            }
        }
        for (w, wire) in self.setting.job().wires.iter().enumerate() {
            let Some(fate) = scene.wires.get(&(w, row[wire.from.0], row[wire.to.0])) else {
                return false;
            };
            road.faults.extend(fate.fault);
            let place = Place::Limit(LimitOf::Wire(crate::job::WireIx(w)));
            road.margins
                .extend(fate.margin.map(|margin| (place, margin)));
        }
        next.push(scene.flags);
        road.add_heats(self.setting.job(), &hot);
        true
    }

    fn guard_key(&self, row: &[u32], guard: usize) -> Vec<u32> {
        let own = row[self.joints.len() + self.parts.len() + guard];
        let over = self.over[guard].iter().map(|joint| row[joint.0]);
        std::iter::once(own).chain(over).collect()
    }

    /// Asks the transition for a whole bench and keeps every answer.
    fn ask(&mut self, row: &[u32], step: StepIx, pick: Pick, key: (StepIx, Pick, Local)) -> usize {
        let bench = self.bench(row);
        let job = self.setting.job();
        let doing = Doing::planned(&job.steps[step.0], pick);
        let passage = pass(self.setting, &bench, &doing);
        let after = self.row(&passage.next);
        self.met_unknown |= faults(self.setting, step, &passage)
            .iter()
            .any(|fault| fault.unknown);
        let mut scene = match self.scene_ids.get(&key) {
            Some(&id) => std::mem::replace(&mut self.scenes[id], Scene::empty()),
            None => Scene {
                faults: refusal_faults(step, &passage),
                flags: after[after.len() - 1],
                joints: vec![Vec::new(); self.joints.len()],
                parts: vec![Vec::new(); self.parts.len()],
                ..Scene::empty()
            },
        };
        self.keep_things(&mut scene, row, &after, &passage);
        self.keep_limits(&mut scene, row, &after, &passage);
        let fresh = self.scenes.len();
        let id = *self.scene_ids.entry(key).or_insert(fresh);
        if id == fresh {
            self.scenes.push(scene);
        } else {
            self.scenes[id] = scene;
        }
        id
    }

    fn keep_things(&self, scene: &mut Scene, row: &[u32], after: &[u32], passage: &Passage) {
        let want = self.setting.job().want.margin;
        for j in 0..self.joints.len() {
            let sight = passage.sights.iter().find(|s| s.joint.0 == j);
            let counts = sight.filter(|s| !s.may_melt);
            let fate = Fate {
                next: after[j],
                fault: counts.and_then(|sight| joint_fault(want, sight)),
                margin: margin_at(passage, Place::Joint(JointIx(j))),
                heat: None,
            };
            put(&mut scene.joints[j], row[j], fate);
        }
        for p in 0..self.parts.len() {
            let (at, of) = (self.joints.len() + p, LimitOf::Part(PartIx(p)));
            let heats = passage.heats.iter();
            let fate = Fate {
                heat: heats.filter(|(part, _)| part.0 == p).map(|(_, t)| *t).max(),
                ..limit_fate(passage, of, after[at])
            };
            put(&mut scene.parts[p], row[at], fate);
        }
    }

    fn keep_limits(&self, scene: &mut Scene, row: &[u32], after: &[u32], passage: &Passage) {
        for g in 0..self.guards.len() {
            let at = self.joints.len() + self.parts.len() + g;
            let fate = limit_fate(passage, LimitOf::Guard(GuardIx(g)), after[at]);
            scene.guards.insert((g, self.guard_key(row, g)), fate);
        }
        for (w, wire) in self.setting.job().wires.iter().enumerate() {
            let of = LimitOf::Wire(crate::job::WireIx(w));
            let fate = limit_fate(passage, of, NOTHING);
            let key = (w, row[wire.from.0], row[wire.to.0]);
            scene.wires.insert(key, fate);
        }
    }
}

impl Scene {
    fn empty() -> Self {
        Scene {
            faults: Vec::new(),
            flags: 0,
            joints: Vec::new(),
            parts: Vec::new(),
            guards: HashMap::default(),
            wires: HashMap::default(),
        }
    }
}

fn put(fates: &mut Vec<Option<Fate>>, at: u32, fate: Fate) {
    let at = at as usize;
    if fates.len() <= at {
        fates.resize(at + 1, None);
    }
    fates[at] = Some(fate);
}

fn limit_fate(passage: &Passage, of: LimitOf, next: u32) -> Fate {
    let sight: Option<&LimitSight> = passage.limits.iter().find(|l| l.of == of);
    Fate {
        next,
        fault: sight.and_then(limit_fault),
        margin: margin_at(passage, Place::Limit(of)),
        heat: None,
    }
}

fn margin_at(passage: &Passage, place: Place) -> Option<KelvinStep> {
    let here = margins(passage).filter(|(at, _)| *at == place);
    here.map(|(_, margin)| margin).min()
}

fn flags(bench: &Bench) -> u32 {
    u32::from(bench.checked) | u32::from(bench.powered) << 1
}

fn joint_cell(job: &Job, bench: &Bench, joint: usize, now: &JointNow) -> JointCell {
    let zone = |part: PartIx| bench.parts[part.0].zone;
    JointCell {
        part_zone: now.part.and_then(zone),
        site_zone: job.joints[joint].site_of.and_then(zone),
        now: now.clone(),
    }
}

/// Joints that a guard may lie over.
pub fn lies_over(job: &Job, guard: usize) -> Vec<JointIx> {
    let mut over = job.guards[guard].over.clone();
    for step in &job.steps {
        if let Work::Cover {
            guard: made,
            over: by,
        } = &step.work
            && made.0 == guard
        {
            over.extend(by);
        }
    }
    over.sort();
    over.dedup();
    over
}
