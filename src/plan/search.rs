//! The exact search: over nodes (set of done tasks, bench), in two phases.
//!
//! Phase one finds the widest bottleneck: nodes leave the queue in the order of the tightest margin
//! on the best way to them, or of what can still come of them if that is less, so that the first
//! finished node that leaves is the widest (Dijkstra's argument with `min` in the place of `+`: a
//! longer way is never wider). Ties go to the node with more done, which makes it a dive where
//! nothing is at risk. A node from which a task that must be done would break a demand whatever
//! comes before it is dead at once. A short dive before it gives a plan
//! to start from: nodes that are no wider are left out, and if the search is cut off, that plan and
//! the margin of the node that was next are the answer.
//!
//! Phase two keeps only legs no worse than that and finds, one after another, the fewest heats on
//! vital parts, the lowest peak on them, the fewest changes and steps, and the first sequence of
//! ids. Each of these keeps exactly the legs that some best way uses; a done set only grows, so the
//! nodes have an order and each stage is one pass from the ends to the start.

use std::cmp::Reverse;
use std::collections::{BTreeMap, BTreeSet, BinaryHeap};

use rustc_hash::{FxHashMap as HashMap, FxHashSet as HashSet};

use crate::job::Tool;
use crate::quantity::{Celsius, KelvinStep};

use super::answer::{Budget, Progress};
use super::done::Done;
use super::first::First;
use super::task::Tasks;
use super::ties::{self, Tied};

/// A bench that was met, by number.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct StateId(pub usize);

/// What a task does where it keeps all demands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Leg {
    /// The bench after it.
    pub to: StateId,
    /// The tightest margin in it; `None` where nothing is at risk.
    pub margin: Option<KelvinStep>,
    /// Heats on vital parts.
    pub vital_heats: u32,
    /// The hottest of them.
    pub vital_peak: Option<Celsius>,
}

/// Where a search walks.
pub trait Ground {
    /// The bench before the first step.
    fn start(&self) -> StateId;
    /// A task done in one of its variants; `None` where that breaks a demand.
    fn walk(&mut self, from: StateId, task: usize, variant: usize) -> Option<Leg>;
    /// Whether the board may be left like this once all tasks are done.
    fn may_end(&mut self, at: StateId) -> bool;
    /// What can still come of a bench on which some tasks are done: no more than this.
    fn outlook(&mut self, at: StateId, done: Done) -> Outlook;
    /// Tasks one of which may come next without loss, if nothing that is left keeps more than this;
    /// `None` where all must be looked at.
    fn narrowed(&mut self, _: StateId, _: Done, _: Option<KelvinStep>) -> Option<Done> {
        None
    }
    /// Whether a task may be done now instead of later in any plan that keeps this much.
    fn is_free(&mut self, _: StateId, _: Done, _: usize, _: Option<KelvinStep>) -> bool {
        false
    }
    /// What pairs of tasks say of the margin, beyond what is known to be kept.
    #[expect(clippy::option_option, reason = "the inner one is: nothing at risk")]
    fn first(&mut self, _: Option<Option<KelvinStep>>) -> First {
        First::nothing()
    }
    /// Whether heats on vital parts can differ.
    fn has_vital(&self) -> bool {
        true
    }
}

/// What can still come of a node; never less than what does.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Outlook {
    /// No plan: a task that must be done breaks a demand however the rest goes.
    Dead,
    /// At most this margin from here on; `None`: no bound.
    AtMost(Option<KelvinStep>),
}

/// Asked now and then; `false` stops the search.
pub type Watch<'w> = &'w mut dyn FnMut(&Progress) -> bool;

/// A task in one of its variants.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Move {
    /// Which task.
    pub task: usize,
    /// Which variant.
    pub variant: usize,
}

/// What a search found.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Found {
    /// The best there is.
    Best(Vec<Move>),
    /// Cut off: the best met, and the widest margin that may still be possible.
    Unproven(Vec<Move>, Option<KelvinStep>),
    /// Every way breaks a demand.
    Nothing,
    /// Cut off with no way found.
    CutOff,
}

/// Orders margins with "nothing at risk" as the widest.
pub(super) type Wide = Reverse<Option<Reverse<KelvinStep>>>;

pub(super) const fn wide(margin: Option<KelvinStep>) -> Wide {
    match margin {
        Some(margin) => Reverse(Some(Reverse(margin))),
        None => Reverse(None),
    }
}

/// Below every margin.
const NO_MARGIN: KelvinStep = KelvinStep::from_millikelvin(i32::MIN);

/// The narrower of two margins.
fn narrower(one: Option<KelvinStep>, other: Option<KelvinStep>) -> Option<KelvinStep> {
    match (one, other) {
        (Some(one), Some(other)) => Some(one.min(other)),
        (one, other) => one.or(other),
    }
}

/// How often the caller is asked whether to go on.
pub(super) const WATCH_EVERY: usize = 16;

/// Searches with both phases; also tells how many nodes were looked at.
pub fn search<G: Ground>(
    tasks: &Tasks,
    ground: &mut G,
    budget: Budget,
    watch: Watch,
) -> (Found, u64) {
    let (outcome, visited) = opened(tasks, ground, budget, watch);
    let (way, margin) = match outcome {
        Outcome::Widest(Some(known)) => known,
        Outcome::Widest(None) => return (Found::Nothing, visited),
        Outcome::Stopped(known, bound) => {
            let found = known.map_or(Found::CutOff, |(way, _)| Found::Unproven(way, bound));
            return (found, visited);
        }
    };
    let (tied, more) = ties::best(tasks, ground, margin, budget, watch);
    let found = match tied {
        Tied::Best(best) => Found::Best(best),
        Tied::Stopped(better) => Found::Unproven(better.unwrap_or(way), margin),
    };
    (found, visited.max(more))
}

/// Only phase one: a way with the widest bottleneck.
pub fn widest<G: Ground>(tasks: &Tasks, ground: &mut G, budget: Budget) -> Reached {
    match opened(tasks, ground, budget, &mut |_| true).0 {
        Outcome::Widest(Some((way, margin))) => Reached::End(way, margin),
        Outcome::Widest(None) => Reached::Nothing,
        Outcome::Stopped(..) => Reached::CutOff,
    }
}

/// What a search without the second phase comes to.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Reached {
    /// An end, by this way, with this margin.
    End(Vec<Move>, Option<KelvinStep>),
    /// Every way breaks a demand.
    Nothing,
    /// Cut off before that was known.
    CutOff,
}

/// A way and its margin.
type Known = (Vec<Move>, Option<KelvinStep>);

/// Nodes that the dive before a search may look at.
const DIVE: usize = 2_000;

/// Phase one: a dive, what pairs say, an order after that, and what is left is searched.
fn opened<G: Ground>(
    tasks: &Tasks,
    ground: &mut G,
    budget: Budget,
    watch: Watch,
) -> (Outcome, u64) {
    let most = DIVE.min(budget.nodes);
    let (reached, dived) = dive(tasks, ground, most, budget);
    let mut known = match reached {
        Reached::Nothing => return (Outcome::Widest(None), dived),
        Reached::End(way, margin) => Some((way, margin)),
        Reached::CutOff => None,
    };
    let first = ground.first(known.as_ref().map(|(_, margin)| *margin));
    let Some(bound) = first.margin() else {
        // Whatever comes first breaks a demand.
        return (Outcome::Widest(known), dived);
    };
    if let Some((order, _)) = &first.order
        && let Some((way, margin)) = along(tasks, ground, order)
        && known
            .as_ref()
            .is_none_or(|(_, known)| wide(margin) > wide(*known))
    {
        known = Some((way, margin));
    }
    let enough = |known: &Option<Known>| {
        let best = known.as_ref();
        best.is_some_and(|(_, margin)| wide(*margin) >= wide(bound))
    };
    if !enough(&known) {
        let better = with_one_alloy(tasks, ground, budget);
        known = better
            .into_iter()
            .chain(known)
            .max_by_key(|(_, margin)| wide(*margin));
    }
    if enough(&known) {
        return (Outcome::Widest(known), dived);
    }
    let mut widest = Widest::new(tasks, ground.start(), bound);
    widest.known = known;
    let outcome = widest.run(ground, budget, watch);
    (outcome, widest.nodes.len() as u64)
}

/// Depth first, at each node the widest leg first: a plan soon, if not the best; or the proof that
/// there is none.
pub fn dive<G: Ground>(
    tasks: &Tasks,
    ground: &mut G,
    most: usize,
    budget: Budget,
) -> (Reached, u64) {
    let mut met: HashSet<(Done, StateId)> = HashSet::default();
    let mut way: Vec<(Move, Option<KelvinStep>)> = Vec::new();
    let mut open: Vec<(usize, Done, Move, Leg)> = Vec::new();
    let (mut done, mut state) = (Done::NONE, ground.start());
    loop {
        if ends(tasks, ground, done, state) {
            let margin = way.iter().filter_map(|(_, margin)| *margin).min();
            let way = way.into_iter().map(|(step, _)| step).collect();
            return (Reached::End(way, margin), met.len() as u64);
        }
        if met.insert((done, state)) && ground.outlook(state, done) != Outlook::Dead {
            let among = first_of_twins(tasks, tasks.open(done).collect(), done, budget);
            let mut legs = legs(tasks, ground, state, among, budget);
            budget.looked_at(1);
            // The widest is taken first, so it goes on the stack last.
            legs.sort_by_key(|(step, leg)| (wide(leg.margin), Reverse(*step)));
            let depth = way.len();
            open.extend(legs.into_iter().map(|(step, leg)| (depth, done, step, leg)));
        }
        if met.len() >= most || budget.is_over() {
            return (Reached::CutOff, met.len() as u64);
        }
        let Some((depth, before, step, leg)) = open.pop() else {
            return (Reached::Nothing, met.len() as u64);
        };
        way.truncate(depth);
        way.push((step, leg.margin));
        (done, state) = (before.with(step.task), leg.to);
    }
}

/// Of tasks that are the same but for their names one stands for all, unless every order is asked for.
fn first_of_twins(tasks: &Tasks, among: Done, done: Done, budget: Budget) -> Done {
    if budget.all_orders {
        among
    } else {
        tasks.first_of_twins(among, done)
    }
}

/// Legs that are looked at for plans with one alloy throughout.
const ONE_ALLOY: usize = 20_000;

/// The best of the plans in which every step that may take some alloy takes it, the widest leg first: where alloys
/// are left open, one for all is often not far from the best, and a dive that takes each for itself never finds it.
fn with_one_alloy<G: Ground>(tasks: &Tasks, ground: &mut G, budget: Budget) -> Option<Known> {
    let mut uses: BTreeMap<usize, usize> = BTreeMap::new();
    let open = tasks.all.iter().filter(|task| task.variants.len() > 1);
    for task in open {
        let alloys: BTreeSet<usize> = task.variants.iter().filter_map(|v| v.alloy).collect();
        for alloy in alloys {
            *uses.entry(alloy).or_insert(0) += 1;
        }
    }
    let (mut best, mut left) = (None, ONE_ALLOY);
    for (alloy, _) in uses.into_iter().filter(|(_, steps)| *steps > 1) {
        if left == 0 || budget.is_over() {
            break;
        }
        let found = straight(tasks, ground, alloy, &mut left);
        best = found
            .into_iter()
            .chain(best)
            .max_by_key(|(_, margin): &Known| wide(*margin));
    }
    best
}

/// The widest leg first, without looking back; of steps that may take the alloy only with it.
fn straight<G: Ground>(
    tasks: &Tasks,
    ground: &mut G,
    alloy: usize,
    left: &mut usize,
) -> Option<Known> {
    let (mut done, mut state) = (Done::NONE, ground.start());
    let (mut way, mut margin) = (Vec::new(), None);
    while !ends(tasks, ground, done, state) {
        let among = tasks.first_of_twins(tasks.open(done).collect(), done);
        let mut widest: Option<(Move, Leg)> = None;
        for task in among.members() {
            let variants = &tasks.all[task].variants;
            let takes_it = variants.iter().any(|v| v.alloy == Some(alloy));
            for (variant, v) in variants.iter().enumerate() {
                if takes_it && v.alloy != Some(alloy) {
                    continue;
                }
                *left = left.checked_sub(1)?;
                let leg = ground.walk(state, task, variant);
                let wider = |leg: &Leg| {
                    let best = widest.as_ref();
                    best.is_none_or(|(_, best)| wide(leg.margin) > wide(best.margin))
                };
                if let Some(leg) = leg.filter(wider) {
                    widest = Some((Move { task, variant }, leg));
                }
            }
        }
        let (step, leg) = widest?;
        margin = narrower(margin, leg.margin);
        way.push(step);
        (done, state) = (done.with(step.task), leg.to);
    }
    Some((way, margin))
}

/// Follows an order as far as it goes, and does what is not in it as soon as it can be done.
fn along<G: Ground>(tasks: &Tasks, ground: &mut G, order: &[Move]) -> Option<Known> {
    let (mut done, mut state) = (Done::NONE, ground.start());
    let mut way = Vec::new();
    let mut margin = None;
    let named: Done = order.iter().map(|step| step.task).collect();
    while !ends(tasks, ground, done, state) {
        let open: Done = tasks.open(done).collect();
        let next = order.iter().filter(|step| open.has(step.task)).copied();
        let rest = open.without(named);
        let must = (rest & tasks.mandatory)
            .members()
            .chain(rest.without(tasks.mandatory).members());
        let other = must.flat_map(|task| {
            let variants = 0..tasks.all[task].variants.len();
            variants.map(move |variant| Move { task, variant })
        });
        let mut legs = next.chain(other).filter_map(|step| {
            let leg = ground.walk(state, step.task, step.variant)?;
            Some((step, leg))
        });
        let (step, leg) = legs.next()?;
        margin = narrower(margin, leg.margin);
        way.push(step);
        (done, state) = (done.with(step.task), leg.to);
    }
    Some((way, margin))
}

/// Whether a plan may end at a node.
pub(super) fn ends<G: Ground>(tasks: &Tasks, ground: &mut G, done: Done, state: StateId) -> bool {
    tasks.finished(done) && ground.may_end(state)
}

/// Everything of some tasks that can be done at a node, lowest ids first. Where the search was called
/// off, not all of it: whoever asks looks whether it was.
pub(super) fn legs<G: Ground>(
    tasks: &Tasks,
    ground: &mut G,
    state: StateId,
    among: Done,
    budget: Budget,
) -> Vec<(Move, Leg)> {
    let mut legs = Vec::new();
    for task in among.members() {
        for variant in 0..tasks.all[task].variants.len() {
            if budget.is_over() {
                return legs;
            }
            if let Some(leg) = ground.walk(state, task, variant) {
                legs.push((Move { task, variant }, leg));
            }
        }
    }
    legs
}

enum Outcome {
    Widest(Option<Known>),
    Stopped(Option<Known>, Option<KelvinStep>),
}

/// Phase one.
struct Widest<'t> {
    tasks: &'t Tasks,
    nodes: Vec<Node>,
    at: HashMap<(Done, StateId), usize>,
    queue: BinaryHeap<Queued>,
    turn: usize,
    /// The best way known from elsewhere: only wider ones are looked for.
    known: Option<Known>,
}

struct Node {
    done: Done,
    state: StateId,
    margin: Option<KelvinStep>,
    /// What can still come of it.
    outlook: Option<KelvinStep>,
    from: Option<(usize, Move)>,
    settled: bool,
    dead: bool,
}

/// Widest first, then most done, then first come.
#[derive(PartialEq, Eq, PartialOrd, Ord)]
struct Queued {
    margin: Wide,
    done: u32,
    turn: Reverse<usize>,
    node: usize,
}

impl<'t> Widest<'t> {
    fn new(tasks: &'t Tasks, start: StateId, bound: Option<KelvinStep>) -> Self {
        let mut search = Widest {
            tasks,
            nodes: Vec::new(),
            at: HashMap::default(),
            queue: BinaryHeap::new(),
            turn: 0,
            known: None,
        };
        search.push((Done::NONE, start), None, bound, None);
        search
    }

    /// Takes a way to a node if it is wider than what is known. Nothing that goes through it keeps
    /// more than `bound`.
    fn offer<G: Ground>(
        &mut self,
        ground: &mut G,
        (done, state): (Done, StateId),
        margin: Option<KelvinStep>,
        bound: Option<KelvinStep>,
        from: (usize, Move),
    ) {
        let known = self.known.as_ref();
        let useless = |margin| known.is_some_and(|(_, known)| wide(margin) <= wide(*known));
        if useless(margin) {
            return;
        }
        let outlook = match self.at.get(&(done, state)) {
            Some(&at) if self.nodes[at].dead || wide(margin) <= wide(self.nodes[at].margin) => {
                return;
            }
            Some(&at) => self.nodes[at].outlook,
            None => match ground.outlook(state, done) {
                Outlook::AtMost(outlook) => narrower(outlook, bound),
                Outlook::Dead => {
                    self.bury(done, state);
                    return;
                }
            },
        };
        let best = narrower(margin, outlook);
        if useless(best) {
            return;
        }
        self.push((done, state), margin, outlook, Some(from));
    }

    fn push(
        &mut self,
        (done, state): (Done, StateId),
        margin: Option<KelvinStep>,
        outlook: Option<KelvinStep>,
        from: Option<(usize, Move)>,
    ) {
        let node = Node {
            done,
            state,
            margin,
            outlook,
            from,
            settled: false,
            dead: false,
        };
        let at = self.place(done, state, node);
        self.turn += 1;
        self.queue.push(Queued {
            margin: wide(narrower(margin, outlook)),
            done: done.count(),
            turn: Reverse(self.turn),
            node: at,
        });
    }

    /// Keeps books of a node from which nothing comes.
    fn bury(&mut self, done: Done, state: StateId) {
        let node = Node {
            done,
            state,
            margin: None,
            outlook: None,
            from: None,
            settled: true,
            dead: true,
        };
        self.place(done, state, node);
    }

    fn place(&mut self, done: Done, state: StateId, node: Node) -> usize {
        let at = *self.at.entry((done, state)).or_insert(self.nodes.len());
        if at == self.nodes.len() {
            self.nodes.push(node);
        } else {
            self.nodes[at] = node;
        }
        at
    }

    fn run<G: Ground>(&mut self, ground: &mut G, budget: Budget, watch: Watch) -> Outcome {
        let mut settled = 0_usize;
        while let Some(Queued { node, .. }) = self.queue.pop() {
            if self.nodes[node].settled {
                continue;
            }
            self.nodes[node].settled = true;
            let Node {
                done,
                state,
                margin,
                outlook,
                ..
            } = self.nodes[node];
            let bound = narrower(margin, outlook);
            if ends(self.tasks, ground, done, state) {
                return Outcome::Widest(Some((self.way_to(node), margin)));
            }
            settled += 1;
            budget.looked_at(1);
            let progress = Progress {
                visited: self.nodes.len() as u64,
                bound,
                ties: false,
            };
            let asked = settled.is_multiple_of(WATCH_EVERY);
            if self.nodes.len() > budget.nodes || (asked && !watch(&progress)) {
                return Outcome::Stopped(self.known.take(), bound);
            }
            self.expand(ground, node, bound, budget);
            if budget.is_over() {
                return Outcome::Stopped(self.known.take(), bound);
            }
        }
        Outcome::Widest(self.known.take())
    }

    fn expand<G: Ground>(
        &mut self,
        ground: &mut G,
        node: usize,
        bound: Option<KelvinStep>,
        budget: Budget,
    ) {
        let Node {
            done,
            state,
            margin,
            ..
        } = self.nodes[node];
        let among = ground
            .narrowed(state, done, bound)
            .unwrap_or_else(|| self.tasks.open(done).collect());
        let among = first_of_twins(self.tasks, among, done, budget);
        for (step, leg) in legs(self.tasks, ground, state, among, budget) {
            let margin = narrower(margin, leg.margin);
            let to = (done.with(step.task), leg.to);
            self.offer(ground, to, margin, bound, (node, step));
        }
    }

    fn way_to(&self, goal: usize) -> Vec<Move> {
        let mut way = Vec::new();
        let mut at = goal;
        while let Some((before, step)) = self.nodes[at].from {
            way.push(step);
            at = before;
        }
        way.reverse();
        way
    }
}

/// One of the ways that no other way beats in margin, heats on vital parts and number of steps at
/// once.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Trade {
    /// Its moves.
    pub way: Vec<Move>,
    /// Its tightest margin.
    pub margin: Option<KelvinStep>,
    /// Its heats on vital parts.
    pub vital_heats: u32,
}

/// Every trade between margin, heats on vital parts and number of steps that is not beaten, widest
/// margin first; of equal ones the first by ids. `None` if the budget was not enough.
pub fn trades<G: Ground>(
    tasks: &Tasks,
    ground: &mut G,
    budget: Budget,
    watch: Watch,
) -> Option<Vec<Trade>> {
    let web = Web::spun(tasks, ground, Some(NO_MARGIN), budget, watch);
    if web.threads.len() < web.nodes.len() {
        return None;
    }
    let mut labels: Vec<Vec<Label>> = vec![Vec::new(); web.nodes.len()];
    labels[0].push(Label {
        margin: None,
        heats: 0,
        way: Vec::new(),
    });
    for node in 0..web.nodes.len() {
        if web.ends[node] {
            continue;
        }
        for label in std::mem::take(&mut labels[node]) {
            for thread in &web.threads[node] {
                let longer = label.along(thread);
                offer_label(&mut labels[thread.to], longer);
            }
        }
    }
    let mut best: Vec<Label> = Vec::new();
    for (node, labels) in labels.into_iter().enumerate() {
        if web.ends[node] {
            for label in labels {
                offer_label(&mut best, label);
            }
        }
    }
    best.sort_by_key(|label| (Reverse(wide(label.margin)), label.heats, label.way.len()));
    let trade = |label: Label| Trade {
        way: label.way,
        margin: label.margin,
        vital_heats: label.heats,
    };
    Some(best.into_iter().map(trade).collect())
}

#[derive(Clone)]
struct Label {
    margin: Option<KelvinStep>,
    heats: u32,
    way: Vec<Move>,
}

impl Label {
    fn along(&self, thread: &Thread) -> Self {
        let mut way = self.way.clone();
        way.push(thread.step);
        Label {
            margin: narrower(self.margin, thread.margin),
            heats: self.heats + thread.heats,
            way,
        }
    }

    fn beats(&self, other: &Label) -> bool {
        let no_worse = wide(self.margin) >= wide(other.margin)
            && self.heats <= other.heats
            && self.way.len() <= other.way.len();
        let same = self.margin == other.margin
            && self.heats == other.heats
            && self.way.len() == other.way.len();
        no_worse && (!same || self.way <= other.way)
    }
}

fn offer_label(labels: &mut Vec<Label>, new: Label) {
    if labels.iter().any(|old| old.beats(&new)) {
        return;
    }
    labels.retain(|old| !new.beats(old));
    labels.push(new);
}

/// Every node that legs wide enough lead to, nodes with less done first.
struct Web {
    nodes: Vec<(Done, StateId)>,
    /// Where a plan may end.
    ends: Vec<bool>,
    threads: Vec<Vec<Thread>>,
}

/// A leg between two nodes of the web.
#[derive(Clone, Copy)]
struct Thread {
    step: Move,
    to: usize,
    margin: Option<KelvinStep>,
    heats: u32,
}

/// The tool and the alloy last used.
pub type Last = (Option<Tool>, Option<usize>);

impl Web {
    /// Has fewer threads than nodes if the budget or the caller stopped it.
    fn spun<G: Ground>(
        tasks: &Tasks,
        ground: &mut G,
        at_least: Option<KelvinStep>,
        budget: Budget,
        watch: Watch,
    ) -> Self {
        let mut web = Web {
            nodes: vec![(Done::NONE, ground.start())],
            ends: Vec::new(),
            threads: Vec::new(),
        };
        let mut at: HashMap<(Done, StateId), Option<usize>> = HashMap::default();
        // A finished node is left as it is: going on only costs more. Nodes are met breadth first,
        // so those with less done come first.
        while web.threads.len() < web.nodes.len() {
            let here = web.threads.len();
            let (done, state) = web.nodes[here];
            let progress = Progress {
                visited: web.nodes.len() as u64,
                bound: at_least,
                ties: false,
            };
            budget.looked_at(1);
            let asked = here % WATCH_EVERY == WATCH_EVERY - 1;
            let called_off = budget.is_over() || (asked && !watch(&progress));
            if web.nodes.len() > budget.nodes || called_off {
                break;
            }
            let mut threads = Vec::new();
            let is_end = ends(tasks, ground, done, state);
            if !is_end {
                let among = tasks.open(done).collect();
                for (step, leg) in legs(tasks, ground, state, among, budget) {
                    if wide(leg.margin) < wide(at_least) {
                        continue;
                    }
                    let node = (done.with(step.task), leg.to);
                    let Some(to) = web.met(ground, &mut at, node, at_least) else {
                        continue;
                    };
                    threads.push(Thread {
                        step,
                        to,
                        margin: leg.margin,
                        heats: leg.vital_heats,
                    });
                }
            }
            if budget.is_over() {
                break;
            }
            web.ends.push(is_end);
            web.threads.push(threads);
        }
        web
    }

    /// The number of a node; `None` for one from which nothing wide enough comes.
    fn met<G: Ground>(
        &mut self,
        ground: &mut G,
        at: &mut HashMap<(Done, StateId), Option<usize>>,
        node: (Done, StateId),
        at_least: Option<KelvinStep>,
    ) -> Option<usize> {
        if let Some(known) = at.get(&node) {
            return *known;
        }
        let hopeful = match ground.outlook(node.1, node.0) {
            Outlook::Dead => false,
            Outlook::AtMost(margin) => wide(margin) >= wide(at_least),
        };
        let number = hopeful.then_some(self.nodes.len());
        at.insert(node, number);
        self.nodes.extend(number.map(|_| node));
        number
    }
}

/// What is in hand after a move, and how many changes that took.
pub fn after(last: Last, tasks: &Tasks, step: Move) -> (Last, u32) {
    let variant = &tasks.all[step.task].variants[step.variant];
    let (tool, tool_change) = change(last.0, variant.tool);
    let (alloy, alloy_change) = change(last.1, variant.alloy);
    ((tool, alloy), tool_change + alloy_change)
}

fn change<T: PartialEq + Copy>(last: Option<T>, next: Option<T>) -> (Option<T>, u32) {
    match (last, next) {
        (last, None) => (last, 0),
        (None, next) => (next, 0),
        (Some(last), Some(next)) => (Some(next), u32::from(last != next)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bench::Pick;
    use crate::job::StepIx;
    use crate::plan::task::{Task, Variant};
    use proptest::prelude::*;
    use proptest::test_runner::{Config, TestRunner};

    /// A made-up ground: a handful of benches, and any leg between them.
    #[derive(Clone, Debug)]
    struct Table {
        legs: Vec<Vec<Vec<Option<Leg>>>>,
        ends: Vec<bool>,
    }

    impl Ground for Table {
        fn start(&self) -> StateId {
            StateId(0)
        }
        fn walk(&mut self, from: StateId, task: usize, variant: usize) -> Option<Leg> {
            self.legs[from.0][task][variant]
        }
        fn may_end(&mut self, at: StateId) -> bool {
            self.ends[at.0]
        }
        fn outlook(&mut self, _: StateId, _: Done) -> Outlook {
            Outlook::AtMost(None)
        }
    }

    const BENCHES: usize = 3;

    fn leg() -> impl Strategy<Value = Option<Leg>> {
        let margin = prop_oneof![
            1 => Just(None),
            3 => (0..4).prop_map(|k| Some(KelvinStep::whole(k))),
        ];
        let peak = prop_oneof![
            Just(None),
            (0..3).prop_map(|t| Some(Celsius::whole(200 + t)))
        ];
        prop_oneof![
            1 => Just(None),
            5 => (0..BENCHES, margin, 0..2_u32, peak).prop_map(|(to, margin, vital_heats, vital_peak)| {
                Some(Leg { to: StateId(to), margin, vital_heats, vital_peak })
            }),
        ]
    }

    fn variant() -> impl Strategy<Value = Variant> {
        let tool = prop_oneof![Just(None), Just(Some(Tool::Air)), Just(Some(Tool::Iron))];
        (tool, proptest::option::of(0..2_usize)).prop_map(|(tool, alloy)| Variant {
            pick: Pick::default(),
            tool,
            alloy,
        })
    }

    prop_compose! {
        fn problem()(count in 1..6_usize)(
            variants in prop::collection::vec(prop::collection::vec(variant(), 1..3), count),
            // Bit b of word t: task b must come before task t, for b < t.
            words in prop::collection::vec(any::<u8>(), count),
            thin in any::<u8>(),
            optional in prop::collection::vec(prop::bool::weighted(0.2), count),
            legs in prop::collection::vec(
                prop::collection::vec(prop::collection::vec(leg(), 2), count), BENCHES),
            ends in prop::collection::vec(prop::bool::weighted(0.7), BENCHES),
        ) -> (Tasks, Table) {
            let mut before: Vec<Done> = Vec::new();
            for (t, word) in words.iter().enumerate() {
                let direct = (0..8).filter(|b| word & thin & (1 << b) != 0).collect::<Done>() & Done::first(t);
                let all = direct.members().fold(direct, |all, b| all | before[b]);
                before.push(all);
            }
            let left_out = (0..variants.len()).filter(|t| optional[*t]).collect::<Done>();
            let mandatory = Done::first(variants.len()).without(left_out);
            let all = variants.into_iter().zip(before).enumerate().map(|(t, (variants, before))| Task {
                step: StepIx(t),
                needs: before.without(left_out),
                forgoes: before & left_out,
                variants,
            }).collect::<Vec<_>>();
            let twins = (0..all.len()).collect();
            let tasks = Tasks {
                all,
                mandatory,
                twins,
            };
            (tasks, Table { legs, ends })
        }
    }

    type Cost = (Wide, u32, Option<Celsius>, u32, usize, Vec<Move>);

    /// Every sequence, one after another, with nothing left out and nothing remembered.
    fn brute(tasks: &Tasks, table: &Table) -> Option<Vec<Move>> {
        let mut best: Option<Cost> = None;
        let mut way = Vec::new();
        try_all(
            tasks,
            table,
            StateId(0),
            &mut way,
            &mut Vec::new(),
            &mut best,
        );
        best.map(|best| best.5)
    }

    fn try_all(
        tasks: &Tasks,
        table: &Table,
        state: StateId,
        way: &mut Vec<Move>,
        legs: &mut Vec<Leg>,
        best: &mut Option<Cost>,
    ) {
        let done = way.iter().map(|step| step.task).collect::<Done>();
        let is_done = move |t: usize| done.has(t);
        let all_done = (0..tasks.all.len()).all(|t| !tasks.mandatory.has(t) || is_done(t));
        if all_done && table.ends[state.0] {
            let cost = cost(tasks, way, legs);
            let better = best.as_ref().is_none_or(|best| {
                (Reverse(cost.0), &cost.1, &cost.2, &cost.3, &cost.4, &cost.5)
                    < (Reverse(best.0), &best.1, &best.2, &best.3, &best.4, &best.5)
            });
            if better {
                *best = Some(cost);
            }
        }
        for t in 0..tasks.all.len() {
            let later = way.iter().any(|s| {
                let task = &tasks.all[s.task];
                (task.needs | task.forgoes).has(t)
            });
            let needs = (0..tasks.all.len()).all(|b| !tasks.all[t].needs.has(b) || is_done(b));
            if is_done(t) || later || !needs {
                continue;
            }
            for variant in 0..tasks.all[t].variants.len() {
                if let Some(leg) = table.legs[state.0][t][variant] {
                    way.push(Move { task: t, variant });
                    legs.push(leg);
                    try_all(tasks, table, leg.to, way, legs, best);
                    way.pop();
                    legs.pop();
                }
            }
        }
    }

    fn cost(tasks: &Tasks, way: &[Move], legs: &[Leg]) -> Cost {
        let margin = legs.iter().filter_map(|leg| leg.margin).min();
        let heats = legs.iter().map(|leg| leg.vital_heats).sum();
        let peak = legs.iter().filter_map(|leg| leg.vital_peak).max();
        let used = |step: &Move| tasks.all[step.task].variants[step.variant];
        let tools: Vec<Tool> = way.iter().filter_map(|s| used(s).tool).collect();
        let alloys: Vec<usize> = way.iter().filter_map(|s| used(s).alloy).collect();
        let changes = tools.windows(2).filter(|w| w[0] != w[1]).count()
            + alloys.windows(2).filter(|w| w[0] != w[1]).count();
        let changes = u32::try_from(changes).unwrap();
        (wide(margin), heats, peak, changes, way.len(), way.to_vec())
    }

    #[test]
    fn finds_what_trying_everything_finds() {
        let mut runner = TestRunner::new(Config {
            cases: 4_000,
            ..Config::default()
        });
        let solved = std::cell::Cell::new(0);
        runner
            .run(&problem(), |(tasks, table)| {
                let want = brute(&tasks, &table);
                let (found, _) =
                    search(&tasks, &mut table.clone(), Budget::default(), &mut |_| true);
                solved.set(solved.get() + usize::from(want.is_some()));
                prop_assert_eq!(found, want.map_or(Found::Nothing, Found::Best));
                Ok(())
            })
            .unwrap();
        assert!(
            solved.get() > 500,
            "only {} had a plan at all",
            solved.get()
        );
    }

    /// A search that is cut off says so, and its bound is none that the true optimum passes.
    #[test]
    fn cut_off_is_never_called_best() {
        let mut runner = TestRunner::new(Config {
            cases: 1_000,
            ..Config::default()
        });
        runner
            .run(&(problem(), 1..12_usize), |((tasks, table), nodes)| {
                let best = brute(&tasks, &table);
                let (found, _) =
                    search(&tasks, &mut table.clone(), Budget::of(nodes), &mut |_| true);
                match found {
                    Found::Best(way) => prop_assert_eq!(Some(way), best),
                    Found::Nothing => prop_assert_eq!(None, best),
                    Found::CutOff => {}
                    Found::Unproven(way, bound) => {
                        let legs = |way: &[Move]| {
                            let mut state = StateId(0);
                            way.iter()
                                .map(|s| {
                                    let leg = table.legs[state.0][s.task][s.variant].unwrap();
                                    state = leg.to;
                                    leg
                                })
                                .collect::<Vec<_>>()
                        };
                        let best = best.unwrap();
                        let (top, got) = (
                            cost(&tasks, &best, &legs(&best)),
                            cost(&tasks, &way, &legs(&way)),
                        );
                        prop_assert!(wide(bound) >= top.0);
                        prop_assert!(got.0 <= top.0);
                    }
                }
                Ok(())
            })
            .unwrap();
    }
}
