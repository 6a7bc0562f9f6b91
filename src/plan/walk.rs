//! The ground of one search: benches with the heats of parts that may run out of them.

use rustc_hash::FxHashMap as HashMap;

use crate::job::{Job, JointIx, PartIx};
use crate::quantity::KelvinStep;

use super::answer::Budget;
use super::check::Place;
use super::commute::{BROKEN, Commute, Level, level};
use super::demands::{Demand, Kept, Terms};
use super::done::Done;
use super::first::{First, first};
use super::roads::{BenchId, Road, Roads};
use super::search::{Ground, Leg, Outlook, StateId};
use super::task::Tasks;
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
    job: &'r Job,
    roads: &'r mut Roads<'a>,
    tasks: &'r Tasks,
    terms: &'r Terms,
    /// Parts that may run out of heats, with how many they may take.
    ledger: Vec<(PartIx, u32)>,
    states: Vec<State>,
    ids: HashMap<State, StateId>,
    reach: Reach,
    settled: Vec<usize>,
    /// What may change places, once it was asked for.
    commute: Option<Commute>,
    budget: Budget,
}

impl<'r, 'a> Walk<'r, 'a> {
    /// A ground that starts at these benches, with heats taken before by each part of the job.
    pub fn new(
        job: &'r Job,
        roads: &'r mut Roads<'a>,
        tasks: &'r Tasks,
        terms: &'r Terms,
        (bench, taken): (BenchId, &[u32]),
        budget: Budget,
    ) -> Self {
        let ledger = ledger(job, tasks, terms, taken);
        let heats = ledger.iter().map(|(part, _)| taken[part.0]).collect();
        let mut walk = Walk {
            job,
            roads,
            tasks,
            terms,
            ledger,
            states: Vec::new(),
            ids: HashMap::default(),
            reach: Reach::new(job, tasks),
            settled: Vec::new(),
            commute: None,
            budget,
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

/// What a leg at a bench means for doing it at once.
enum Leave {
    /// It keeps what is asked and changes nothing but what it works on.
    Clean,
    /// It does not: only these may change that.
    Held(Done),
}

impl Walk<'_, '_> {
    fn commute(&mut self) -> &mut Commute {
        self.commute.get_or_insert_with(|| {
            let start = self.states[0].bench;
            let budget = self.budget;
            Commute::of(self.job, self.roads, self.tasks, self.terms, start, budget)
        })
    }

    /// Whether a task in one of its variants can be done here and keeps a level.
    fn leave(&mut self, at: StateId, task: usize, variant: usize, least: Level) -> Leave {
        let bench = self.states[at.0].bench;
        let step = &self.tasks.all[task];
        let terms = self.terms;
        let (road, next) = self
            .roads
            .road(bench, step.step, step.variants[variant].pick);
        let fault = road.faults.iter().find(|fault| !terms.allow(**fault));
        // Of what is too tight the tightest: where nobody may mend it first, no plan that does this keeps
        // more, and nothing else that is tight now is worse for being met now.
        let tight = road.margins.iter();
        let tight = tight
            .filter(|(place, margin)| terms.count(*place) && level(Some(*margin)) < least)
            .min_by_key(|(_, margin)| *margin)
            .map(|(place, _)| match place {
                Place::Joint(joint) => Demand::Keep(*joint),
                Place::Limit(of) => Demand::Limit(*of),
            });
        if let Some(fault) = fault {
            let (job, demand) = (self.job, fault.demand);
            return Leave::Held(self.commute().may_help(job, demand));
        }
        let job = self.job;
        let helped = tight.map(|demand| self.commute().may_help(job, Some(demand)));
        let (before, after) = (self.roads.row(bench), self.roads.row(next));
        let own = self
            .commute
            .as_ref()
            .and_then(|commute| commute.may_change(task));
        if own.is_some_and(|own| self.roads.differ_only(&before, &after, own)) {
            helped.map_or(Leave::Clean, Leave::Held)
        } else {
            Leave::Held(Done::ALL)
        }
    }

    /// Tasks of which the first to be done, of any plan that keeps a level, may come at once; among
    /// them one that must be done. `None` where that is no fewer than all.
    fn closed(
        &mut self,
        at: StateId,
        done: Done,
        key: usize,
        open: Done,
        least: Level,
    ) -> Option<Done> {
        let left = self.tasks.left(done);
        let checked = self.roads.checked(self.states[at.0].bench);
        let mut set = Done::one(key);
        let mut todo = vec![key];
        while let Some(t) = todo.pop() {
            let more = if open.has(t) {
                let mut more =
                    self.commute().held_by(t, least, checked) | self.tasks.all[t].forgoes;
                for variant in 0..self.tasks.all[t].variants.len() {
                    if !(more & left).without(set).is_empty() && more == Done::ALL {
                        break;
                    }
                    if let Leave::Held(by) = self.leave(at, t, variant, least) {
                        more |= by;
                    }
                }
                more
            } else {
                // Nothing that comes before it is left: it never comes.
                let before = self.tasks.all[t].needs.without(done);
                let known = (before & set).members().next();
                known
                    .or(before.members().next())
                    .map_or(Done::ALL, Done::one)
            };
            let fresh = (more & left).without(set);
            set |= fresh;
            if open.without(set).is_empty() {
                return None;
            }
            todo.extend(fresh.members());
        }
        Some(set & open)
    }
}

impl Ground for Walk<'_, '_> {
    fn narrowed(&mut self, at: StateId, done: Done, bound: Option<KelvinStep>) -> Option<Done> {
        if self.budget.all_orders || !self.commute().is_known() {
            return None;
        }
        let open: Done = self.tasks.open(done).collect();
        let least = level(bound);
        let mut best: Option<(usize, Done)> = None;
        for key in (open & self.tasks.mandatory).members() {
            let Some(set) = self.closed(at, done, key, open, least) else {
                continue;
            };
            let legs = set
                .members()
                .map(|t| self.tasks.all[t].variants.len())
                .sum();
            if best.is_none_or(|(fewest, _)| legs < fewest) {
                best = Some((legs, set));
            }
            if legs == 1 {
                break;
            }
        }
        best.map(|(_, set)| set)
    }

    fn is_free(&mut self, at: StateId, done: Done, task: usize, bound: Option<KelvinStep>) -> bool {
        let least = level(bound);
        let left = self.tasks.left(done);
        let checked = self.roads.checked(self.states[at.0].bench);
        let one = self.tasks.mandatory.has(task) && self.tasks.all[task].variants.len() == 1;
        one && !self.budget.all_orders
            && self.commute().is_known()
            && (self.tasks.all[task].forgoes & left).is_empty()
            && (self.commute().held_by(task, least, checked) & left).is_empty()
            && matches!(self.leave(at, task, 0, least), Leave::Clean)
    }

    fn first(&mut self, known: Option<Option<KelvinStep>>) -> First {
        if self.budget.all_orders {
            return First::nothing();
        }
        let known = known.map_or(BROKEN, level);
        let commute = self.commute();
        let single = commute.single;
        if single.is_empty() {
            return First::nothing();
        }
        first(self.tasks, self.commute().pairs(), single, known)
    }

    fn has_vital(&self) -> bool {
        self.job.parts.iter().any(|part| part.vital)
    }

    fn start(&self) -> StateId {
        StateId(0)
    }

    fn walk(&mut self, from: StateId, task: usize, variant: usize) -> Option<Leg> {
        let number = task;
        let task = &self.tasks.all[number];
        let bench = self.states[from.0].bench;
        let pick = task.variants[variant].pick;
        let (road, bench) = self.roads.road(bench, task.step, pick);
        if !road.faults.iter().all(|fault| self.terms.allow(*fault)) {
            return None;
        }
        let heats = heated(&self.ledger, &self.states[from.0].heats, road)?;
        let (vital_heats, vital_peak) = (road.vital_heats, road.vital_peak);
        let margin = margin(self.terms, road);
        let before = self.states[from.0].bench;
        if let Some(commute) = &self.commute {
            let own = commute.may_change(number);
            debug_assert!(
                own.is_none_or(|own| self.roads.stays(before, bench, own)),
                "a step changed what it was not to change: {:?}",
                task.step
            );
        }
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
        let left = Done::first(self.tasks.all.len()).without(done);
        self.settled.clear();
        let joints = self.reach.joints.iter().enumerate();
        // A joint that may be given up can melt, and be another one then.
        let given_up = |j: usize| self.terms.dropped.contains(&Demand::Keep(JointIx(j)));
        let settled = joints
            .filter(|(j, by)| (**by & left).is_empty() && !given_up(*j))
            .map(|(j, _)| j);
        self.settled.extend(settled);
        if self.settled.is_empty() {
            return Outlook::AtMost(None);
        }
        let bench = self.states[at.0].bench;
        let mut bound: Option<KelvinStep> = None;
        for t in (left & self.reach.sure).members() {
            if !(self.reach.tasks[t] & left).is_empty() {
                continue;
            }
            let task = &self.tasks.all[t];
            let mut best = Kept::Broken;
            for variant in &task.variants {
                // It is no narrower than what bounds already.
                if let Kept::Margin(kept) = best
                    && bound.is_some_and(|bound| kept.is_none_or(|kept| kept >= bound))
                {
                    break;
                }
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
        let touching = |wanted: &[Thing]| -> Done {
            let touch = things
                .iter()
                .enumerate()
                .filter(|(_, things)| things.iter().any(|thing| wanted.contains(thing)));
            touch.map(|(t, _)| t).collect()
        };
        let hot =
            tasks.all.iter().enumerate().filter(|(t, task)| {
                tasks.mandatory.has(*t) && !job.steps[task.step.0].ways.is_empty()
            });
        Reach {
            sure: hot.map(|(t, _)| t).collect(),
            tasks: (0..things.len())
                .map(|t| touching(&things[t]).without(Done::one(t)))
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
