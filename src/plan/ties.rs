//! Among plans with the widest margin: fewest heats on vital parts, lowest peak on them, fewest
//! changes and steps, first ids.
//!
//! Heats and peak come first, by themselves: of two ways to a node the one with fewer heats, then
//! with the lower peak, is never worse. With the peak as a limit on every leg, heats, changes and
//! steps only add up, and are minimised together over nodes with the tool and alloy in hand, best
//! first, with what must still come as the bound. The first ids with that cost are found last: the
//! lowest move at each node from which the cost can still be met.
//!
//! A task that is free (it may be done now in any plan) and needs no change is done at once: taken
//! out of its later place it spares changes there or costs none. Of the free tasks with one tool and
//! alloy one stands for all. Where ids are compared, every move is looked at.

use std::cmp::Reverse;
use std::collections::BinaryHeap;

use rustc_hash::FxHashMap as HashMap;

use crate::quantity::{Celsius, KelvinStep};

use super::answer::{Budget, Progress};
use super::done::Done;
use super::search::{
    Ground, Last, Leg, Move, Outlook, StateId, WATCH_EVERY, Watch, after, ends, legs, wide,
};
use super::task::Tasks;

/// What a comparison of equal plans comes to.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Tied {
    /// The best.
    Best(Vec<Move>),
    /// Not all were compared; one that is no worse than others that were, where one was met.
    Stopped(Option<Vec<Move>>),
}

/// Heats on vital parts, changes, steps.
type Cost = (u32, u32, u32);

fn sum(one: Cost, other: Cost) -> Cost {
    (one.0 + other.0, one.1 + other.1, one.2 + other.2)
}

/// The best plan of those with a margin, which one plan at least keeps; also how many nodes were
/// looked at.
pub fn best<G: Ground>(
    tasks: &Tasks,
    ground: &mut G,
    margin: Option<KelvinStep>,
    budget: Budget,
    watch: Watch,
) -> (Tied, u64) {
    let mut ties = Ties {
        tasks,
        ground,
        margin,
        peak: None,
        known: Known::of(tasks),
        budget,
        watch,
        looked: 0,
        stopped: false,
        failed: HashMap::default(),
        met: HashMap::default(),
        hopeful: HashMap::default(),
    };
    let best = ties.best();
    (best, ties.looked as u64)
}

/// What every task that must be done takes, whatever is chosen.
struct Known {
    tool: Vec<Option<usize>>,
    alloy: Vec<Option<usize>>,
}

impl Known {
    fn of(tasks: &Tasks) -> Self {
        let same = |of: &dyn Fn(&super::task::Variant) -> Option<usize>| {
            let each = tasks.all.iter().enumerate().map(|(t, task)| {
                let first = of(task.variants.first()?)?;
                let all = task.variants.iter().all(|v| of(v) == Some(first));
                (all && tasks.mandatory.has(t)).then_some(first)
            });
            each.collect()
        };
        Known {
            tool: same(&|variant| variant.tool.map(|tool| tool as usize)),
            alloy: same(&|variant| variant.alloy),
        }
    }

    /// Changes that must still come.
    fn changes(&self, left: Done, last: Last) -> u32 {
        changes(&self.tool, left, last.0.map(|tool| tool as usize))
            + changes(&self.alloy, left, last.1)
    }
}

fn changes(of: &[Option<usize>], left: Done, last: Option<usize>) -> u32 {
    let mut kinds = Done::NONE;
    for t in left.members() {
        if let Some(kind) = of[t] {
            kinds = kinds.with(kind);
        }
    }
    let in_hand = last.is_some_and(|last| kinds.has(last));
    let free = in_hand || last.is_none();
    kinds.count().saturating_sub(u32::from(free))
}

/// A node with what is in hand.
type Node = (Done, StateId, Last);

const EMPTY: Last = (None, None);

struct Ties<'t, 'w, G> {
    tasks: &'t Tasks,
    ground: &'t mut G,
    margin: Option<KelvinStep>,
    /// No heat on a vital part may be hotter.
    #[expect(clippy::option_option, reason = "the inner one is: no vital heat")]
    peak: Option<Option<Celsius>>,
    known: Known,
    budget: Budget,
    watch: Watch<'w>,
    looked: usize,
    stopped: bool,
    /// Nodes from which the cost cannot be met if so much is spent.
    failed: HashMap<Node, Cost>,
    /// Nodes from which it can.
    met: HashMap<Node, Cost>,
    hopeful: HashMap<(Done, StateId), bool>,
}

/// A node on the queue of a stage.
#[derive(PartialEq, Eq, PartialOrd, Ord)]
struct Queued<C> {
    cost: Reverse<C>,
    done: u32,
    turn: Reverse<usize>,
    at: usize,
}

impl<G: Ground> Ties<'_, '_, G> {
    fn best(&mut self) -> Tied {
        if self.ground.has_vital() {
            match self.lowest_peak() {
                Some(peak) => self.peak = Some(peak),
                None => return Tied::Stopped(None),
            }
        }
        let Some((way, cost)) = self.cheapest() else {
            return Tied::Stopped(None);
        };
        match self.first_by_ids(&way, cost) {
            Some(first) => Tied::Best(first),
            None => Tied::Stopped(Some(way)),
        }
    }

    /// One node more; `false` where it is enough.
    fn look(&mut self) -> bool {
        self.looked += 1;
        self.budget.looked_at(1);
        let progress = Progress {
            visited: self.looked as u64,
            bound: self.margin,
            ties: true,
        };
        let asked = self.looked.is_multiple_of(WATCH_EVERY);
        if self.looked > self.budget.nodes
            || self.budget.is_over()
            || (asked && !(self.watch)(&progress))
        {
            self.stopped = true;
        }
        !self.stopped
    }

    /// Legs of some tasks that keep the margin and lead on.
    fn legs(&mut self, done: Done, state: StateId, among: Done) -> Vec<(Move, Leg)> {
        let mut legs = legs(self.tasks, self.ground, state, among, self.budget);
        legs.retain(|(step, leg)| {
            let cool = self.peak.is_none_or(|most| leg.vital_peak <= most);
            cool && wide(leg.margin) >= wide(self.margin)
                && self.is_hopeful(done.with(step.task), leg.to)
        });
        legs
    }

    fn is_hopeful(&mut self, done: Done, state: StateId) -> bool {
        if let Some(&known) = self.hopeful.get(&(done, state)) {
            return known;
        }
        let hopeful = match self.ground.outlook(state, done) {
            Outlook::Dead => false,
            Outlook::AtMost(margin) => wide(margin) >= wide(self.margin),
        };
        self.hopeful.insert((done, state), hopeful);
        hopeful
    }

    /// The lowest peak on vital parts of all plans with the fewest heats on them.
    #[expect(clippy::option_option, reason = "the inner one is: nothing at risk")]
    fn lowest_peak(&mut self) -> Option<Option<Celsius>> {
        type Heat = (u32, Option<Celsius>);
        let mut best: HashMap<(Done, StateId), (Heat, bool)> = HashMap::default();
        let mut queue = BinaryHeap::new();
        let mut nodes = vec![(Done::NONE, self.ground.start())];
        best.insert(nodes[0], ((0, None), false));
        queue.push(Queued {
            cost: Reverse((0, None)),
            done: 0,
            turn: Reverse(0),
            at: 0,
        });
        while let Some(Queued { cost, at, .. }) = queue.pop() {
            let (done, state) = nodes[at];
            let Some((_, settled)) = best.get_mut(&(done, state)).filter(|(_, s)| !*s) else {
                continue;
            };
            *settled = true;
            let (heats, peak) = cost.0;
            if ends(self.tasks, self.ground, done, state) {
                return Some(peak);
            }
            if !self.look() {
                return None;
            }
            let margin = self.margin;
            let among = self
                .ground
                .narrowed(state, done, margin)
                .unwrap_or_else(|| self.tasks.open(done).collect());
            for (step, leg) in self.legs(done, state, among) {
                let node = (done.with(step.task), leg.to);
                let cost = (heats + leg.vital_heats, peak.max(leg.vital_peak));
                if best.get(&node).is_some_and(|(known, _)| *known <= cost) {
                    continue;
                }
                best.insert(node, (cost, false));
                nodes.push(node);
                queue.push(Queued {
                    cost: Reverse(cost),
                    done: node.0.count(),
                    turn: Reverse(nodes.len()),
                    at: nodes.len() - 1,
                });
            }
        }
        None
    }

    /// What must still be spent from a node, at least.
    fn to_go(&self, (done, _, last): Node) -> Cost {
        let left = self.tasks.mandatory.without(done);
        (0, self.known.changes(left, last), left.count())
    }

    /// Moves from a node with what they cost; where ids do not matter, no more than are needed to
    /// find the least cost.
    fn moves(&mut self, (done, state, last): Node, all: bool) -> Vec<(Move, Node, Cost)> {
        let mut among: Done = self.tasks.open(done).collect();
        if !all {
            among = self.fewest(done, state, last, among);
        }
        let legs = self.legs(done, state, among);
        let each = legs.into_iter().map(|(step, leg)| {
            let (next, changes) = after(last, self.tasks, step);
            let node = (done.with(step.task), leg.to, next);
            (step, node, (leg.vital_heats, changes, 1))
        });
        each.collect()
    }

    /// One free task that needs no change; else all that are not free, and of the free ones one for
    /// each tool and alloy.
    fn fewest(&mut self, done: Done, state: StateId, last: Last, open: Done) -> Done {
        let margin = self.margin;
        let mut among = Done::NONE;
        let mut kinds: Vec<Last> = Vec::new();
        for t in open.members() {
            let variants = &self.tasks.all[t].variants;
            let [only] = variants[..] else {
                among = among.with(t);
                continue;
            };
            let kind = (only.tool, only.alloy);
            let in_hand =
                (kind.0.is_none() || kind.0 == last.0) && (kind.1.is_none() || kind.1 == last.1);
            if !self.ground.is_free(state, done, t, margin) {
                among = among.with(t);
                continue;
            }
            if in_hand {
                return Done::one(t);
            }
            if !kinds.contains(&kind) {
                kinds.push(kind);
                among = among.with(t);
            }
        }
        among
    }

    /// A way with the fewest heats, changes and steps, and what it costs.
    fn cheapest(&mut self) -> Option<(Vec<Move>, Cost)> {
        struct Met {
            node: Node,
            spent: Cost,
            from: Option<(usize, Move)>,
        }
        let start: Node = (Done::NONE, self.ground.start(), EMPTY);
        let mut nodes = vec![Met {
            node: start,
            spent: (0, 0, 0),
            from: None,
        }];
        let mut best: HashMap<Node, (Cost, bool)> = HashMap::default();
        best.insert(start, ((0, 0, 0), false));
        let mut queue = BinaryHeap::new();
        queue.push(Queued {
            cost: Reverse(self.to_go(start)),
            done: 0,
            turn: Reverse(0),
            at: 0,
        });
        while let Some(Queued { at, .. }) = queue.pop() {
            let Met { node, spent, .. } = nodes[at];
            let Some((_, settled)) = best
                .get_mut(&node)
                .filter(|(known, settled)| !*settled && *known == spent)
            else {
                continue;
            };
            *settled = true;
            if ends(self.tasks, self.ground, node.0, node.1) {
                let mut way = Vec::new();
                let mut at = at;
                while let Some((before, step)) = nodes[at].from {
                    way.push(step);
                    at = before;
                }
                way.reverse();
                return Some((way, spent));
            }
            if !self.look() {
                return None;
            }
            for (step, next, cost) in self.moves(node, false) {
                let spent = sum(spent, cost);
                if best.get(&next).is_some_and(|(known, _)| *known <= spent) {
                    continue;
                }
                best.insert(next, (spent, false));
                nodes.push(Met {
                    node: next,
                    spent,
                    from: Some((at, step)),
                });
                queue.push(Queued {
                    cost: Reverse(sum(spent, self.to_go(next))),
                    done: next.0.count(),
                    turn: Reverse(nodes.len()),
                    at: nodes.len() - 1,
                });
            }
        }
        None
    }

    /// The first sequence of ids with that cost.
    fn first_by_ids(&mut self, way: &[Move], most: Cost) -> Option<Vec<Move>> {
        let mut node: Node = (Done::NONE, self.ground.start(), EMPTY);
        self.remember(way, node);
        let mut spent = (0, 0, 0);
        let mut first = Vec::new();
        while !ends(self.tasks, self.ground, node.0, node.1) {
            let mut taken = None;
            for (step, next, cost) in self.moves(node, true) {
                let spent = sum(spent, cost);
                if self.can_meet(next, spent, most) {
                    taken = Some((step, next, spent));
                    break;
                }
                if self.stopped {
                    return None;
                }
            }
            // A way with that cost is known, so one move at least leads to one.
            let (step, next, now) = taken?;
            first.push(step);
            (node, spent) = (next, now);
        }
        Some(first)
    }

    /// Nodes of a way that meets the cost.
    fn remember(&mut self, way: &[Move], mut node: Node) {
        let mut spent = (0, 0, 0);
        for &step in way {
            let Some(leg) = self.ground.walk(node.1, step.task, step.variant) else {
                return;
            };
            let (next, changes) = after(node.2, self.tasks, step);
            spent = sum(spent, (leg.vital_heats, changes, 1));
            node = (node.0.with(step.task), leg.to, next);
            self.met.insert(node, spent);
        }
    }

    /// Whether an end can be reached from a node with no more than that in all.
    fn can_meet(&mut self, node: Node, spent: Cost, most: Cost) -> bool {
        if sum(spent, self.to_go(node)) > most {
            return false;
        }
        if ends(self.tasks, self.ground, node.0, node.1) {
            return true;
        }
        if self.met.get(&node).is_some_and(|known| spent <= *known) {
            return true;
        }
        if self.failed.get(&node).is_some_and(|known| spent >= *known) || !self.look() {
            return false;
        }
        let mut moves = self.moves(node, false);
        // Nearest first: what a change spares is worth most.
        moves.sort_by_key(|(step, next, cost)| (sum(*cost, self.to_go(*next)), *step));
        let can = moves
            .into_iter()
            .any(|(_, next, cost)| self.can_meet(next, sum(spent, cost), most));
        if can {
            let known = self.met.entry(node).or_insert(spent);
            *known = (*known).max(spent);
        } else if !self.stopped {
            let known = self.failed.entry(node).or_insert(spent);
            *known = (*known).min(spent);
        }
        can
    }
}
