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
    Bench, Doing, GuardNow, JointNow, LimitOf, LimitSight, PartNow, Passage, Pick, Setting,
    Subject, aim_of, pass,
};
use crate::job::{GuardIx, Job, JointIx, PartIx, StepIx, Work, ZoneIx};
use crate::quantity::{Celsius, KelvinStep};

use super::check::Place;
use super::demands::{
    Fault, Kept, Terms, faults, hazard_faults, joint_fault, limit_fault, margins, refusal_faults,
};
use super::roads::Road;
use super::touch::{asked_before_move, asked_before_power};

/// A bench as numbers: joints, parts, guards, flags.
pub type Row = Vec<u32>;

/// A joint with all that what it sees hangs on.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
struct JointCell {
    now: JointNow,
    /// Zones of the parts that stand on it.
    part_zones: Vec<Option<ZoneIx>>,
    /// Zone of the part whose site it is.
    site_zone: Option<ZoneIx>,
}

/// A part with all that what its body sees hangs on.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
struct PartCell {
    now: PartNow,
    /// Others that stand on the same joints, with their zones.
    beside: Vec<(JointIx, PartIx, Option<ZoneIx>)>,
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
#[derive(Clone, Debug)]
struct Fate {
    next: u32,
    faults: Box<[Fault]>,
    margin: Option<KelvinStep>,
    /// Of a part: the heat it takes.
    heat: Option<Celsius>,
}

/// Some things of a job, by their positions.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Places {
    /// Groups of joints.
    pub joints: Vec<usize>,
    /// Parts.
    pub parts: Vec<usize>,
    /// Guards.
    pub guards: Vec<usize>,
    /// Wires.
    pub wires: Vec<usize>,
}

/// What a step does to some places, the worst over all worlds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Harm {
    /// What they keep.
    pub kept: Kept,
    /// One of them is not what it was.
    pub changed: bool,
    /// A part among them takes a heat.
    pub heated: bool,
}

impl Harm {
    /// Nothing is done to them.
    pub const NONE: Harm = Harm {
        kept: Kept::Margin(None),
        changed: false,
        heated: false,
    };
    /// A demand is broken.
    pub const BROKEN: Harm = Harm {
        kept: Kept::Broken,
        changed: true,
        heated: true,
    };

    fn add(&mut self, fate: &Fate, cell: u32, place: Place, terms: &Terms) {
        self.changed |= fate.next != cell;
        self.heated |= fate.heat.is_some();
        let broken = fate.faults.iter().any(|fault| !terms.allow(*fault));
        let counted = fate.margin.filter(|_| terms.count(place));
        let here = if broken {
            Kept::Broken
        } else {
            Kept::Margin(counted)
        };
        self.kept = self.kept.and(here);
    }

    /// Both.
    pub fn and(self, other: Harm) -> Harm {
        Harm {
            kept: self.kept.and(other.kept),
            changed: self.changed || other.changed,
            heated: self.heated || other.heated,
        }
    }
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

/// A step in one of its variants, with the peak that one hand goes to.
pub type Act = (StepIx, Pick, Option<Celsius>);

const NOTHING: u32 = u32::MAX;

/// All answers of one world.
#[derive(Debug)]
pub struct Cells<'a> {
    setting: &'a Setting<'a>,
    joints: Vec<Shelf<JointCell>>,
    parts: Vec<Shelf<PartCell>>,
    guards: Vec<Shelf<GuardNow>>,
    /// Joints that each guard may lie over.
    over: Vec<Vec<JointIx>>,
    /// By what is done, and the states of what that works on.
    scene_ids: HashMap<Act, HashMap<Row, usize>>,
    /// The peak that a step asks for, by the same.
    aims: HashMap<(StepIx, Pick), HashMap<Row, Option<Celsius>>>,
    /// Room for the states of what a step works on.
    local: Row,
    scenes: Vec<Scene>,
    /// Something that is not known stood in the way of a step.
    pub met_unknown: bool,
    /// A narrow escape stood in the way of a step.
    pub met_close: bool,
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
            aims: HashMap::default(),
            local: Row::new(),
            scenes: Vec::new(),
            met_unknown: false,
            met_close: false,
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
            row.push(self.parts[p].id(part_cell(bench, PartIx(p), now)));
        }
        for (g, now) in bench.guards.iter().enumerate() {
            row.push(self.guards[g].id(*now));
        }
        row.push(flags(bench));
        row
    }

    /// Whether the check before power is passed.
    pub fn is_checked(row: &[u32]) -> bool {
        row.last().is_some_and(|flags| flags & 1 != 0)
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
                .map(|(id, shelf)| shelf.all[*id as usize].now.clone())
                .collect(),
            guards: guards
                .iter()
                .zip(&self.guards)
                .map(|(id, shelf)| shelf.all[*id as usize])
                .collect(),
            checked: flags & 1 != 0,
            powered: flags & 2 != 0,
            disordered: flags & 4 != 0,
        }
    }

    /// The peak that a step asks for on a row, for itself alone.
    pub fn aim(&mut self, row: &[u32], step: StepIx, pick: Pick) -> Option<Celsius> {
        self.localize(row, step);
        let known = self
            .aims
            .get(&(step, pick))
            .and_then(|aims| aims.get(&self.local));
        if let Some(aim) = known {
            return *aim;
        }
        let bench = self.bench(row);
        let doing = Doing::planned(&self.setting.job().steps[step.0], pick);
        let aim = aim_of(self.setting, &bench, &doing);
        let aims = self.aims.entry((step, pick)).or_default();
        aims.insert(self.local.clone(), aim);
        aim
    }

    fn scene(&mut self, row: &[u32], act: Act) -> Option<usize> {
        self.localize(row, act.0);
        self.scene_ids.get(&act)?.get(&self.local).copied()
    }

    /// What a step does: adds it to a road, and the row after it to `next`.
    pub fn walk(&mut self, row: &[u32], act: Act, road: &mut Road, next: &mut Row) {
        let told = (road.faults.len(), road.margins.len(), next.len());
        if let Some(scene) = self.scene(row, act)
            && self.put_together(scene, row, road, next)
        {
            return;
        }
        road.faults.truncate(told.0);
        road.margins.truncate(told.1);
        next.truncate(told.2);
        let scene = self.ask(row, act);
        let whole = self.put_together(scene, row, road, next);
        debug_assert!(whole, "every answer of this bench was just given");
    }

    /// What some joints keep in a step.
    pub fn threat(&mut self, row: &[u32], act: Act, joints: &[usize], terms: &Terms) -> Kept {
        let scene = self.scene(row, act);
        let told = |cells: &Self, scene: usize, j: usize| {
            let fates = &cells.scenes[scene].joints[j];
            fates.get(row[j] as usize).is_some_and(Option::is_some)
        };
        let whole = scene.filter(|&scene| joints.iter().all(|&j| told(self, scene, j)));
        let scene = whole.unwrap_or_else(|| self.ask(row, act));
        let mut tightest: Option<KelvinStep> = None;
        for &j in joints {
            let fates = &self.scenes[scene].joints[j];
            let Some(Some(fate)) = fates.get(row[j] as usize) else {
                continue;
            };
            if fate.faults.iter().any(|fault| !terms.allow(*fault)) {
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

    /// What a step does to some places of a row.
    pub fn harm(&mut self, row: &[u32], act: Act, places: &Places, terms: &Terms) -> Harm {
        let known = self.scene(row, act);
        let told = known.and_then(|scene| self.harm_in(scene, row, places, terms));
        told.unwrap_or_else(|| {
            let scene = self.ask(row, act);
            self.harm_in(scene, row, places, terms)
                .unwrap_or(Harm::BROKEN)
        })
    }

    /// The same from a scene; `None` where an answer is missing.
    fn harm_in(&self, scene: usize, row: &[u32], places: &Places, terms: &Terms) -> Option<Harm> {
        let scene = &self.scenes[scene];
        let mut harm = Harm::NONE;
        for &j in &places.joints {
            let fate = scene.joints[j].get(row[j] as usize)?.as_ref()?;
            harm.add(fate, row[j], Place::Joint(JointIx(j)), terms);
        }
        for &p in &places.parts {
            let cell = row[self.joints.len() + p];
            let fate = scene.parts[p].get(cell as usize)?.as_ref()?;
            harm.add(fate, cell, Place::Limit(LimitOf::Part(PartIx(p))), terms);
        }
        for &g in &places.guards {
            let cell = row[self.joints.len() + self.parts.len() + g];
            let fate = scene.guards.get(&(g, self.guard_key(row, g)))?;
            harm.add(fate, cell, Place::Limit(LimitOf::Guard(GuardIx(g))), terms);
        }
        for &w in &places.wires {
            let wire = &self.setting.job().wires[w];
            let fate = scene.wires.get(&(w, row[wire.from.0], row[wire.to.0]))?;
            let place = Place::Limit(LimitOf::Wire(crate::job::WireIx(w)));
            harm.add(fate, NOTHING, place, terms);
        }
        Some(harm)
    }

    /// Where in a row some places stand; wires have none of their own.
    pub fn columns<'p>(&self, places: &'p Places) -> impl Iterator<Item = usize> + use<'p> {
        let (joints, parts) = (self.joints.len(), self.parts.len());
        let own_joints = places.joints.iter().copied();
        let own_parts = places.parts.iter().map(move |p| joints + p);
        let own_guards = places.guards.iter().map(move |g| joints + parts + g);
        own_joints.chain(own_parts).chain(own_guards)
    }

    /// Gathers the states of everything that a step works on, and the flags.
    fn localize(&mut self, row: &[u32], step: StepIx) {
        let mut local = std::mem::take(&mut self.local);
        local.clear();
        let joint = |at: &JointIx| row[at.0];
        let part = |at: &PartIx| row[self.joints.len() + at.0];
        let job = self.setting.job();
        match &job.steps[step.0].work {
            Work::Solder { joint: at, .. } => local.push(joint(at)),
            Work::Place { part: set, on, .. } => {
                local.push(part(set));
                local.extend(on.iter().map(joint));
            }
            Work::Remove { part: off, .. } => {
                let id = part(off);
                local.push(id);
                let on = &self.parts[off.0].all[id as usize].now.on;
                local.extend(on.iter().map(joint));
                // What stands on joints of the part's own body is asked too.
                let sites = job.joints.iter().enumerate();
                let own = sites.filter(|(_, site)| site.site_of == Some(*off));
                local.extend(own.map(|(at, _)| row[at]));
            }
            Work::Reball { part: at, .. } => local.push(part(at)),
            Work::Move { part: at, .. } => {
                local.push(part(at));
                local.extend(asked_before_move(job, *at).map(|end| joint(&end)));
            }
            Work::Clean {
                joint: at,
                part: of,
                ..
            } => {
                local.push(at.as_ref().map_or(NOTHING, joint));
                local.push(of.as_ref().map_or(NOTHING, part));
            }
            Work::OtherHeat { joint: at, .. } => local.extend(at.as_ref().map(joint)),
            Work::WholeBoard { part: at, .. } => local.extend(at.as_ref().map(part)),
            Work::Uncover { guard } => {
                local.push(row[self.joints.len() + self.parts.len() + guard.0]);
            }
            Work::Power => {
                local.extend(asked_before_power(job).map(|at| joint(&at)));
            }
            Work::Cover { over, .. } => local.extend(over.iter().map(joint)),
            Work::Gate { .. } => {}
        }
        let bodies = self.setting.bodies_over(&job.steps[step.0]);
        local.extend(bodies.iter().map(part));
        local.push(row[row.len() - 1]);
        self.local = local;
    }

    /// Puts the answers of a scene together; `false` where one is missing.
    fn put_together(&self, scene: usize, row: &[u32], road: &mut Road, next: &mut Row) -> bool {
        let scene = &self.scenes[scene];
        let (joints, parts) = (self.joints.len(), self.parts.len());
        road.faults.extend(&scene.faults);
        let mut take = |fate: &Fate, place: Option<Place>| {
            road.faults.extend(&fate.faults);
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
            road.faults.extend(&fate.faults);
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
    fn ask(&mut self, row: &[u32], act: Act) -> usize {
        let (step, pick, aim) = act;
        let bench = self.bench(row);
        let job = self.setting.job();
        let doing = Doing::planned(&job.steps[step.0], pick).aimed(aim);
        let passage = pass(self.setting, &bench, &doing);
        let after = self.row(&passage.next);
        let faults = faults(self.setting, step, &passage);
        self.met_unknown |= faults.iter().any(|fault| fault.unknown);
        self.met_close |= faults.iter().any(|fault| fault.close);
        let known = self.scene(row, act);
        let mut scene = match known {
            Some(id) => std::mem::replace(&mut self.scenes[id], Scene::empty()),
            None => Scene {
                faults: local_faults(step, &passage),
                flags: after[after.len() - 1],
                joints: vec![Vec::new(); self.joints.len()],
                parts: vec![Vec::new(); self.parts.len()],
                ..Scene::empty()
            },
        };
        self.keep_things(&mut scene, row, &after, &passage);
        self.keep_limits(&mut scene, row, &after, &passage);
        if let Some(id) = known {
            self.scenes[id] = scene;
            return id;
        }
        let id = self.scenes.len();
        self.scenes.push(scene);
        let ids = self.scene_ids.entry(act).or_default();
        ids.insert(self.local.clone(), id);
        id
    }

    fn keep_things(&self, scene: &mut Scene, row: &[u32], after: &[u32], passage: &Passage) {
        let want = self.setting.job().want.margin;
        for j in 0..self.joints.len() {
            let sight = passage.sights.iter().find(|s| s.joint.0 == j);
            let counts = sight.filter(|s| !s.may_melt);
            let own = counts.and_then(|sight| joint_fault(want, sight));
            let fate = Fate {
                next: after[j],
                faults: with_hazards(passage, Subject::Joint(JointIx(j)), own),
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
    let own = sight.and_then(limit_fault);
    Fate {
        next,
        faults: match of {
            LimitOf::Part(part) => with_hazards(passage, Subject::Part(part), own),
            _ => own.into_iter().collect(),
        },
        margin: margin_at(passage, Place::Limit(of)),
        heat: None,
    }
}

/// The fault of one thing, and every hazard that hangs on its state.
fn with_hazards(passage: &Passage, by: Subject, own: Option<Fault>) -> Box<[Fault]> {
    let hazards = hazard_faults(passage).filter(|(_, cause)| *cause == by);
    own.into_iter()
        .chain(hazards.map(|(fault, _)| fault))
        .collect()
}

/// What keeps a step out whatever stands around.
fn local_faults(step: StepIx, passage: &Passage) -> Vec<Fault> {
    let hazards = hazard_faults(passage).filter(|(_, cause)| *cause == Subject::Step);
    let mut all = refusal_faults(step, passage);
    all.extend(hazards.map(|(fault, _)| fault));
    all
}

fn margin_at(passage: &Passage, place: Place) -> Option<KelvinStep> {
    let here = margins(passage).filter(|(at, _)| *at == place);
    here.map(|(_, margin)| margin).min()
}

fn flags(bench: &Bench) -> u32 {
    u32::from(bench.checked) | u32::from(bench.powered) << 1 | u32::from(bench.disordered) << 2
}

fn joint_cell(job: &Job, bench: &Bench, joint: usize, now: &JointNow) -> JointCell {
    let zone = |part: PartIx| bench.parts[part.0].zone;
    JointCell {
        part_zones: now.parts.iter().copied().map(zone).collect(),
        site_zone: job.joints[joint].site_of.and_then(zone),
        now: now.clone(),
    }
}

fn part_cell(bench: &Bench, part: PartIx, now: &PartNow) -> PartCell {
    let mut beside = Vec::new();
    for &joint in &now.on {
        let others = bench.joints[joint.0]
            .parts
            .iter()
            .filter(|other| **other != part);
        beside.extend(others.map(|other| (joint, *other, bench.parts[other.0].zone)));
    }
    PartCell {
        now: now.clone(),
        beside,
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
