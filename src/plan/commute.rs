//! Which tasks may change places: what a step may change, what others do to that, and so what may
//! be done at once without loss. The proof stands in DEVELOPERS.md.
//!
//! Steps that share nothing that either changes form one *family* each. What the tasks of a family
//! may meet is walked through, whatever stands around; what a task of one family does to what
//! another one leaves is then asked once for each pair.

use rustc_hash::FxHashSet as HashSet;

use crate::bench::{LimitOf, groups_of};
use crate::job::{Job, JointIx, PartIx, StepIx, Work};
use crate::quantity::KelvinStep;

use super::answer::Budget;
use super::cells::{Harm, Places, lies_over};
use super::demands::{Demand, Fault, Kept, Terms};
use super::done::Done;
use super::roads::{BenchId, Roads};
use super::search::Move;
use super::task::Tasks;
use super::touch::{Thing, touches};

/// Legs that are walked to find what a family may meet (our judgement: families of a repaired part
/// have some dozens).
const MOST_LEGS: usize = 1_000;
/// Pairs that are asked (our judgement: a second at the very most).
const MOST_PAIRS: usize = 2_000_000;

/// What is kept: nothing at risk, or a margin in mK, or a demand broken.
pub type Level = i64;
/// Nothing is at risk.
pub const AT_EASE: Level = Level::MAX;
/// A demand is broken, or it is not known what happens.
pub const BROKEN: Level = Level::MIN;

/// A margin as a level.
pub fn level(margin: Option<KelvinStep>) -> Level {
    margin.map_or(AT_EASE, |margin| Level::from(margin.millikelvin()))
}

fn kept(kept: Kept) -> Level {
    match kept {
        Kept::Broken => BROKEN,
        Kept::Margin(margin) => level(margin),
    }
}

/// What is known of the tasks of one search.
#[derive(Debug)]
pub struct Commute {
    /// What each task may change by itself.
    changes: Vec<Places>,
    /// What its whole family may change: a task may melt what another one of its family works on.
    reach: Vec<Places>,
    /// Tasks of the same family, itself among them.
    family: Vec<Done>,
    /// Tasks that each must come before.
    later: Vec<Done>,
    /// Tasks of which nothing is known: gates, and whatever could not be walked through.
    wild: Done,
    /// Gates that open power, and power.
    gates: Done,
    /// What every task keeps, in any variant, of what a task leaves: row by row.
    keeps: Vec<Vec<Level>>,
    /// Tasks that are a family of their own, done in each variant in one way, and must be done.
    pub single: Done,
    /// For single tasks: what comes of the pair in this order, by variants.
    pairs: Pairs,
    /// The last level asked, and who may not be overtaken at it.
    masks: Option<(Level, Vec<Done>)>,
}

/// For moves of single tasks, in the order of the tasks: what is kept where the first comes before
/// the second.
#[derive(Debug, Default)]
pub struct Pairs {
    /// Where the moves of each task begin.
    pub first: Vec<usize>,
    /// What a move keeps of what no task changes.
    pub own: Vec<Level>,
    /// One row for each move that comes first.
    pub before: Vec<Vec<Level>>,
}

impl Pairs {
    /// The number of a move.
    pub fn number(&self, step: Move) -> usize {
        self.first[step.task] + step.variant
    }
}

/// A task, a variant of it, and a bench that it left.
type Left = (usize, usize, BenchId);

/// What each task was seen to do within its family.
struct Seen {
    /// Rows on which each variant of each task was done.
    from: Vec<Vec<Vec<BenchId>>>,
    /// Rows that each variant of each task left.
    to: Vec<Vec<Vec<BenchId>>>,
    /// No family was too large.
    whole: bool,
}

impl Commute {
    /// Walks through the families and asks what they do to each other.
    pub fn of(
        job: &Job,
        roads: &mut Roads,
        tasks: &Tasks,
        terms: &Terms,
        start: BenchId,
        budget: Budget,
    ) -> Self {
        let count = tasks.all.len();
        let changes: Vec<Places> = tasks.all.iter().map(|t| changes(job, t.step)).collect();
        let uses: Vec<Places> = (0..count)
            .map(|t| uses(job, tasks.all[t].step, &changes[t]))
            .collect();
        let gates: Done = (0..count)
            .filter(|t| is_gate(&job.steps[tasks.all[*t].step.0].work))
            .collect();
        let family = families(&changes, &uses, gates);
        let later = (0..count)
            .map(|t| (0..count).filter(|u| tasks.all[*u].needs.has(t)).collect())
            .collect();
        let reach = (0..count)
            .map(|t| union(family[t].members().map(|k| &changes[k])))
            .collect();
        let mut commute = Commute {
            changes,
            reach,
            family,
            later,
            wild: Done::ALL,
            gates,
            keeps: vec![vec![BROKEN; count]; count],
            single: Done::NONE,
            pairs: Pairs::default(),
            masks: None,
        };
        // Where demands are given up, a step may melt or break what it does not work on: nothing is cut.
        let given_up = |demand: &Demand| {
            matches!(
                demand,
                Demand::Keep(_) | Demand::Limit(_) | Demand::Safe(..)
            )
        };
        if terms.unknown_is_fine || terms.dropped.iter().any(given_up) {
            return commute;
        }
        let seen = commute.seen(roads, tasks, terms, start, budget);
        let inspections = (0..count).filter(|t| {
            matches!(
                job.steps[tasks.all[*t].step.0].work,
                Work::Gate { short_check: false }
            )
        });
        if !seen.whole {
            return commute;
        }
        commute.wild = inspections.collect();
        commute.ask(job, roads, tasks, terms, budget, &seen);
        commute.single = commute.single.without(commute.wild);
        commute
    }

    /// What the tasks of each family may meet and leave, whatever the others have done.
    fn seen(
        &self,
        roads: &mut Roads,
        tasks: &Tasks,
        terms: &Terms,
        start: BenchId,
        budget: Budget,
    ) -> Seen {
        let none = |t: &super::task::Task| vec![Vec::new(); t.variants.len()];
        let mut seen = Seen {
            from: tasks.all.iter().map(none).collect(),
            to: tasks.all.iter().map(none).collect(),
            whole: true,
        };
        let mut walked = Done::NONE;
        for t in 0..tasks.all.len() {
            if !walked.has(t) && !self.gates.has(t) {
                walked |= self.family[t];
                seen.whole = seen.whole
                    && walk_family(
                        (self.family[t], start),
                        roads,
                        tasks,
                        terms,
                        budget,
                        &mut seen,
                    );
            }
        }
        seen
    }

    /// Asks every pair of tasks of different families.
    fn ask(
        &mut self,
        job: &Job,
        roads: &mut Roads,
        tasks: &Tasks,
        terms: &Terms,
        budget: Budget,
        seen: &Seen,
    ) {
        let count = tasks.all.len();
        let left: Vec<usize> = seen
            .to
            .iter()
            .map(|v| v.iter().map(Vec::len).sum())
            .collect();
        let met: usize = seen.from.iter().flatten().map(Vec::len).sum();
        if met.saturating_mul(left.iter().sum()) > MOST_PAIRS {
            self.wild = Done::ALL;
            return;
        }
        self.single = (0..count)
            .filter(|t| self.is_single(*t, tasks, seen))
            .collect();
        self.pairs = Pairs::new(tasks);
        for t in 0..count {
            for u in 0..count {
                if self.relates(t, u) {
                    self.keeps[t][u] = AT_EASE;
                }
            }
        }
        let fixed = self.fixed(job);
        for (u, v, from) in each_act(tasks, seen) {
            if budget.is_over() {
                self.wild = Done::ALL;
            }
            if self.wild == Done::ALL {
                return;
            }
            // A bench that was met, whole: of a part that was moved its joints say where it is too.
            let own = roads.row(from);
            self.ask_after(roads, tasks, terms, (u, v), &own, seen);
            self.ask_before(&fixed, roads, tasks, terms, (u, v), &own, seen);
        }
    }

    /// Whether two tasks are of different families and both known.
    fn relates(&self, t: usize, u: usize) -> bool {
        !self.family[t].has(u)
            && !(self.wild | self.gates).has(t)
            && !(self.wild | self.gates).has(u)
    }

    fn is_single(&self, t: usize, tasks: &Tasks, seen: &Seen) -> bool {
        let alone = self.family[t] == Done::one(t);
        let once = |benches: &Vec<BenchId>| benches.len() <= 1;
        alone
            && tasks.mandatory.has(t)
            && !(self.wild | self.gates).has(t)
            && seen.from[t].iter().all(once)
    }

    /// What a variant of a task does to what the others leave.
    fn ask_after(
        &mut self,
        roads: &mut Roads,
        tasks: &Tasks,
        terms: &Terms,
        (u, v): (usize, usize),
        own: &[u32],
        seen: &Seen,
    ) {
        let others: Vec<usize> = (0..tasks.all.len())
            .filter(|t| self.relates(*t, u))
            .collect();
        // Of each family one bench at a time, of all families at once: the transition is asked for
        // whole benches.
        let mut open: Vec<Left> = others
            .iter()
            .flat_map(|t| {
                let variants = seen.to[*t].iter().enumerate();
                variants.flat_map(move |(v, all)| all.iter().map(move |to| (*t, v, *to)))
            })
            .collect();
        while !open.is_empty() {
            let mut taken = Done::NONE;
            let (now, later) = open.into_iter().partition(|(t, ..)| {
                let free = !taken.has(*t);
                if free {
                    taken |= self.family[*t];
                }
                free
            });
            self.ask_together(roads, tasks, terms, (u, v), own, now);
            open = later;
        }
    }

    /// What becomes something else without breaking a demand (it may melt) is not found again as it was
    /// seen, and what it has become may change again under a heat that left it alone before: then nothing is
    /// known of any task.
    fn mark_soft(&mut self, harm: Harm) {
        if harm.changed && harm.kept != Kept::Broken {
            self.wild = Done::ALL;
        }
    }

    fn ask_together(
        &mut self,
        roads: &mut Roads,
        tasks: &Tasks,
        terms: &Terms,
        (u, v): (usize, usize),
        own: &[u32],
        left: Vec<Left>,
    ) {
        let (step, pick) = (tasks.all[u].step, tasks.all[u].variants[v].pick);
        let mut row = own.to_vec();
        for (t, _, to) in &left {
            roads.overlay(&mut row, &roads.row(*to), &self.reach[*t]);
        }
        for (t, other, _) in left {
            let harm = roads.harm(&row, step, pick, &self.reach[t], terms);
            self.mark_soft(harm);
            let here = if harm.changed || harm.heated {
                BROKEN
            } else {
                kept(harm.kept)
            };
            let least = &mut self.keeps[t][u];
            *least = (*least).min(here);
            if self.single.has(t) && self.single.has(u) {
                let (first, then) = (self.pairs.first[t] + other, self.pairs.first[u] + v);
                self.pairs.lower(first, then, kept(harm.kept));
            }
        }
    }

    /// What a variant of a task does to what the others have not changed yet, and to what nobody
    /// changes.
    #[expect(clippy::too_many_arguments, reason = "all that a search knows")]
    fn ask_before(
        &mut self,
        fixed: &Places,
        roads: &mut Roads,
        tasks: &Tasks,
        terms: &Terms,
        (t, v): (usize, usize),
        own: &[u32],
        seen: &Seen,
    ) {
        let (step, pick) = (tasks.all[t].step, tasks.all[t].variants[v].pick);
        for u in 0..tasks.all.len() {
            if !self.relates(t, u) {
                continue;
            }
            // A part that may be on the board or off it takes a heat in one case only.
            let parts = Places {
                parts: self.changes[u].parts.clone(),
                ..Places::default()
            };
            if !parts.parts.is_empty() {
                let mut met: Vec<BenchId> = Vec::new();
                for k in self.family[u].members() {
                    met.extend(seen.from[k].iter().chain(&seen.to[k]).flatten());
                }
                let heats = met.into_iter().any(|bench| {
                    let mut row = own.to_vec();
                    roads.overlay(&mut row, &roads.row(bench), &parts);
                    roads.harm(&row, step, pick, &parts, terms).heated
                });
                if heats {
                    self.keeps[t][u] = BROKEN;
                    self.keeps[u][t] = BROKEN;
                }
            }
            let harm = roads.harm(own, step, pick, &self.reach[u], terms);
            self.mark_soft(harm);
            if self.single.has(t) && self.single.has(u) {
                let first = self.pairs.first[t] + v;
                for w in 0..tasks.all[u].variants.len() {
                    let then = self.pairs.first[u] + w;
                    self.pairs.lower(first, then, kept(harm.kept));
                }
            }
        }
        let harm = roads.harm(own, step, pick, fixed, terms);
        self.mark_soft(harm);
        if self.single.has(t) {
            self.pairs.own[self.pairs.first[t] + v] = kept(harm.kept);
        }
    }

    /// What no task of a family changes. Gates and power are none: what only they close stands as it did.
    fn fixed(&self, job: &Job) -> Places {
        let of_families: Vec<&Places> = (0..self.changes.len())
            .filter(|t| !(self.wild | self.gates).has(*t))
            .map(|t| &self.changes[t])
            .collect();
        let free = |of: fn(&Places) -> &Vec<usize>, count: usize| {
            let changed = |at: &usize| of_families.iter().any(|places| of(places).contains(at));
            (0..count).filter(|at| !changed(at)).collect()
        };
        Places {
            joints: free(|p| &p.joints, job.joints.len()),
            parts: free(|p| &p.parts, job.parts.len()),
            guards: free(|p| &p.guards, job.guards.len()),
            wires: free(|p| &p.wires, job.wires.len()),
        }
    }

    /// Tasks that may not be overtaken by a task, if all that is kept is to stay at a level.
    pub fn held_by(&mut self, task: usize, at: Level, checked: bool) -> Done {
        let current = self.masks.as_ref().is_some_and(|(level, _)| *level == at);
        if !current {
            self.masks = Some((
                at,
                (0..self.keeps.len()).map(|t| self.mask(t, at)).collect(),
            ));
        }
        let mask = self
            .masks
            .as_ref()
            .map_or(Done::ALL, |(_, masks)| masks[task]);
        // Heat that comes before a check instead of after it does no harm; before power that was
        // checked for, it would.
        let gates = if checked { self.gates } else { Done::NONE };
        (mask | gates).without(Done::one(task) | self.later[task])
    }

    fn mask(&self, t: usize, at: Level) -> Done {
        if (self.wild | self.gates).has(t) {
            return Done::ALL;
        }
        let held = (0..self.keeps.len()).filter(|u| self.keeps[t][*u] < at);
        held.collect::<Done>().without(self.gates) | self.family[t] | self.wild
    }

    /// What a task may change, where it is known.
    pub fn may_change(&self, task: usize) -> Option<&Places> {
        (!self.wild.has(task)).then(|| &self.reach[task])
    }

    /// Whether something is known at all.
    pub fn is_known(&self) -> bool {
        self.wild != Done::ALL
    }

    /// What comes of pairs of single tasks.
    pub fn pairs(&self) -> &Pairs {
        &self.pairs
    }

    /// Tasks that may change what a demand hangs on that a fault breaks or a margin is kept at.
    pub fn may_help(&self, job: &Job, demand: Option<Demand>) -> Done {
        let mut places = Places::default();
        match demand {
            Some(Demand::Keep(at)) => places.joints.push(at.0),
            Some(Demand::Limit(LimitOf::Part(at))) => places.parts.push(at.0),
            Some(Demand::Limit(LimitOf::Guard(at))) => {
                places.guards.push(at.0);
                places.joints = lies_over(job, at.0).iter().map(|j| j.0).collect();
            }
            Some(Demand::Limit(LimitOf::Wire(at))) => {
                let wire = &job.wires[at.0];
                places.wires.push(at.0);
                places.joints = vec![wire.from.0, wire.to.0];
            }
            // What the step itself works on: only its own family changes that.
            None
            | Some(Demand::Flow(_) | Demand::Access(_) | Demand::Glue(_) | Demand::Cover(_)) => {
                return Done::NONE;
            }
            Some(_) => return Done::ALL,
        }
        let tasks = self.changes.iter().enumerate();
        let help = tasks.filter(|(_, own)| meet(own, &places)).map(|(t, _)| t);
        help.collect::<Done>() | self.wild
    }
}

impl Pairs {
    fn new(tasks: &Tasks) -> Self {
        let mut pairs = Pairs::default();
        for task in &tasks.all {
            pairs.first.push(pairs.own.len());
            pairs.own.extend(vec![AT_EASE; task.variants.len()]);
        }
        pairs.before = vec![vec![AT_EASE; pairs.own.len()]; pairs.own.len()];
        pairs
    }

    fn lower(&mut self, first: usize, then: usize, to: Level) {
        let least = &mut self.before[first][then];
        *least = (*least).min(to);
    }
}

fn each_act<'s>(
    tasks: &'s Tasks,
    seen: &'s Seen,
) -> impl Iterator<Item = (usize, usize, BenchId)> + use<'s> {
    (0..tasks.all.len()).flat_map(move |t| {
        let variants = seen.from[t].iter().enumerate();
        variants.flat_map(move |(v, all)| all.iter().map(move |from| (t, v, *from)))
    })
}

/// Every order of the tasks of a family; `false` where there are too many.
fn walk_family(
    (family, start): (Done, BenchId),
    roads: &mut Roads,
    tasks: &Tasks,
    terms: &Terms,
    budget: Budget,
    seen: &mut Seen,
) -> bool {
    let mut met: HashSet<(Done, BenchId)> = HashSet::default();
    let mut open = vec![(Done::NONE, start)];
    let mut legs = 0;
    while let Some((done, bench)) = open.pop() {
        for t in tasks.left(done).members().filter(|t| family.has(*t)) {
            let task = &tasks.all[t];
            if !(task.needs & family).without(done).is_empty() {
                continue;
            }
            for (v, variant) in task.variants.iter().enumerate() {
                legs += 1;
                if legs > MOST_LEGS || budget.is_over() {
                    return false;
                }
                let (road, next) = roads.road(bench, task.step, variant.pick);
                if !road
                    .faults
                    .iter()
                    .all(|f| hangs_on_others(*f) || terms.allow(*f))
                {
                    continue;
                }
                add(&mut seen.from[t][v], bench);
                add(&mut seen.to[t][v], next);
                let node = (done.with(t), next);
                if met.insert(node) {
                    open.push(node);
                }
            }
        }
    }
    true
}

/// All of them together.
fn union<'p>(all: impl Iterator<Item = &'p Places>) -> Places {
    let mut union = Places::default();
    for places in all {
        for (into, from) in [
            (&mut union.joints, &places.joints),
            (&mut union.parts, &places.parts),
            (&mut union.guards, &places.guards),
            (&mut union.wires, &places.wires),
        ] {
            into.extend(from);
            into.sort_unstable();
            into.dedup();
        }
    }
    union
}

fn add(all: &mut Vec<BenchId>, bench: BenchId) {
    if !all.contains(&bench) {
        all.push(bench);
    }
}

/// Whether a fault hangs on what the step does not work on.
fn hangs_on_others(fault: Fault) -> bool {
    matches!(
        fault.demand,
        Some(Demand::Keep(_) | Demand::Limit(_) | Demand::Checked | Demand::Safe(..))
    )
}

fn is_gate(work: &Work) -> bool {
    matches!(work, Work::Gate { .. } | Work::Power)
}

/// Tasks that share what one of them changes, directly or through others.
fn families(changes: &[Places], uses: &[Places], gates: Done) -> Vec<Done> {
    let count = changes.len();
    let mut family: Vec<Done> = (0..count).map(Done::one).collect();
    for t in 0..count {
        for u in 0..t {
            let share = meet(&changes[t], &uses[u]) || meet(&changes[u], &uses[t]);
            if share && !gates.has(t) && !gates.has(u) && !family[t].has(u) {
                let both = family[t] | family[u];
                for k in both.members() {
                    family[k] = both;
                }
            }
        }
    }
    family
}

/// Whether two sets of places have one in common.
fn meet(one: &Places, other: &Places) -> bool {
    let common = |a: &[usize], b: &[usize]| a.iter().any(|at| b.contains(at));
    common(&one.joints, &other.joints)
        || common(&one.parts, &other.parts)
        || common(&one.guards, &other.guards)
        || common(&one.wires, &other.wires)
}

/// What a step may change, but for what melts.
pub fn changes(job: &Job, step: StepIx) -> Places {
    let work = &job.steps[step.0].work;
    let mut joints: Vec<JointIx> = job.steps[step.0].closes.clone();
    joints.extend(touches(job, step.0).iter().filter_map(|thing| match thing {
        Thing::Joint(at) => Some(*at),
        _ => None,
    }));
    let (mut parts, mut guards): (Vec<usize>, Vec<usize>) = (Vec::new(), Vec::new());
    if let Some(part) = handled(work) {
        parts.push(part.0);
        joints.extend(groups_of(job, part));
        // How hot a guard gets hangs on what stands on the joints below it.
        let under = |g: &usize| lies_over(job, *g).iter().any(|j| joints.contains(j));
        guards.extend((0..job.guards.len()).filter(under));
        // And how hot a body gets on what else stands there.
        let beside = |p: &usize| {
            groups_of(job, PartIx(*p))
                .iter()
                .any(|j| joints.contains(j))
        };
        parts.extend((0..job.parts.len()).filter(beside));
    }
    match work {
        Work::Solder { joint, .. } => {
            // Pads of a chip on its back: it lies on the board from then on.
            parts.extend(job.joints[joint.0].site_of.map(|part| part.0));
        }
        // A bake may dry every part that it heats.
        Work::WholeBoard { bake: true, .. } => parts.extend(0..job.parts.len()),
        Work::Cover { guard, .. } | Work::Uncover { guard } => {
            guards.push(guard.0);
            joints.extend(lies_over(job, guard.0));
        }
        _ => {}
    }
    let mut joints: Vec<usize> = joints.into_iter().map(|j| j.0).collect();
    for all in [&mut joints, &mut parts, &mut guards] {
        all.sort_unstable();
        all.dedup();
    }
    // Enamel that lies over other wires counts while both ends stand.
    let crossing = job.wires.iter().enumerate().filter(|(_, wire)| {
        wire.enamel_limit.is_some()
            && (joints.contains(&wire.from.0) || joints.contains(&wire.to.0))
    });
    let wires = crossing.map(|(w, _)| w).collect();
    Places {
        joints,
        parts,
        guards,
        wires,
    }
}

/// The part that a step takes in hand.
fn handled(work: &Work) -> Option<PartIx> {
    match work {
        Work::Place { part, .. }
        | Work::Remove { part, .. }
        | Work::Reball { part, .. }
        | Work::Move { part, .. } => Some(*part),
        Work::Clean { part, .. } | Work::WholeBoard { part, .. } => *part,
        _ => None,
    }
}

/// What a step works on, whether or not it changes it.
fn uses(job: &Job, step: StepIx, changes: &Places) -> Places {
    let mut all = changes.clone();
    for thing in touches(job, step.0) {
        match thing {
            Thing::Joint(at) => all.joints.push(at.0),
            Thing::Part(at) => all.parts.push(at.0),
            Thing::Guard(at) => all.guards.push(at.0),
            Thing::Power => {}
        }
    }
    all
}
