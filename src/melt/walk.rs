//! Walks from the melt down: what freezes when, in equilibrium.
//!
//! A walk goes from one change of the phase set to the next. Between them everything moves along a
//! smooth path; the changes themselves are solved for exactly, as the temperature at which a phase has
//! the amount nought.

#![expect(clippy::needless_range_loop, reason = "the formulas run over indices")]

use super::linear;
use super::mark::{Mark, Missed};
use super::path::{Change, End, Path, Stretch};
use super::phase::{N, Vector};
use super::solver::{Hold, LIQUID, Node, Pace, Slope, Solver, State, Stuck};

/// A share that turns by less within a step is followed well enough.
const TURN: f64 = 1e-6;
/// A phase this far below the plane (over RT) is there.
const BELOW: f64 = -1e-8;
/// No walk takes so many.
pub(super) const MOST_STEPS: usize = 1000;
/// Functions jump by 10⁻³ J/mol where their pieces meet: a change may be found this much higher.
const BREAK_K: f64 = 1e-3;
/// Less than this (moles of the whole) is rounding.
const NOUGHT: f64 = 1e-12;
/// Less liquid than this is none.
const NO_LIQUID: f64 = 1e-6;
/// Lengths of a step from nothing, in K, as far as one succeeds.
const LEAPS_K: [f64; 5] = [0.4, 0.7, 1.5, 3.0, 6.0];
/// A walk of so many steps makes no way: it goes on from nothing.
pub(super) const PATIENCE: usize = 200;
/// In the melt phases are looked for anew after so many kelvins, in K.
const MOLTEN_EVERY_K: f64 = 240.0;
/// No walk goes below this: liquid here is a fault of the data.
pub(super) const COLDEST_K: f64 = 200.0;

const EQUILIBRIUM: Pace = Pace {
    kelvin: 10.0,
    liquid: 0.25,
    frozen: false,
};

pub(super) fn stuck(state: &State, iterations: usize) -> Stuck {
    Stuck {
        t_k: state.t_k,
        iterations,
        residual: f64::INFINITY,
    }
}

/// A walker: the solver with the mass of the whole.
pub(super) struct Walker<'a> {
    pub(super) solver: Solver<'a>,
    /// Grams of the whole: one mole of atoms.
    grams: f64,
    /// The longest step of freezing, as a part of the usual one.
    pub(super) stride: f64,
    /// Length of the last step of the equilibrium walk.
    last: f64,
    /// Steps from nothing since the last ordinary one.
    pub(super) leaps: i32,
}

impl<'a> Walker<'a> {
    pub(super) fn new(solver: Solver<'a>) -> Self {
        let grams = (solver.z.iter())
            .zip(&solver.system.molar_mass)
            .map(|(x, m)| x * m)
            .sum();
        Walker {
            solver,
            grams,
            stride: 1.0,
            last: 1.0,
            leaps: 0,
        }
    }

    pub(super) fn liquid_share(&self, state: &State) -> f64 {
        let grams: f64 = (state.active.iter())
            .filter(|node| node.phase == LIQUID)
            .map(|node| node.amount * self.solver.molar_mass(node))
            .sum();
        grams / self.grams
    }

    /// d(mass share liquid)/dT along a slope; 0 where the temperature stands still.
    fn share_slope(&self, state: &State, slope: &Slope) -> f64 {
        if slope.t_k.abs() < 1e-9 {
            return 0.0;
        }
        let mut grams = 0.0;
        for (k, node) in state.active.iter().enumerate() {
            if node.phase == LIQUID {
                grams += slope.amount[k] * self.solver.molar_mass(node);
                let masses = &self.solver.system.molar_mass;
                grams += (0..self.solver.system.n())
                    .map(|i| node.amount * node.x[i] * slope.ln_x[k][i] * masses[i])
                    .sum::<f64>();
            }
        }
        grams / self.grams / slope.t_k
    }

    pub(super) fn end(&self, state: &State, slope: Option<&Slope>) -> End {
        End {
            t_k: state.t_k,
            liquid: self.liquid_share(state),
            slope: slope.map_or(0.0, |slope| self.share_slope(state, slope)),
        }
    }

    /// The lower end of a stretch and the slope there; what has just come in, after the first `count`
    /// phases, has no say in its slope.
    fn lower_end(&mut self, state: &State, count: usize, pace: Pace) -> (End, Option<Slope>) {
        let mut own = state.clone();
        own.active.truncate(count);
        let slope = self.solver.slope(&own, pace);
        (self.end(&own, slope.as_ref()), slope)
    }

    /// A melt hot enough that nothing but one liquid is there.
    pub(super) fn melt(&mut self) -> Result<State, Stuck> {
        // A guess: an element that is scarce raises the liquidus by less than its melting point.
        let mut hot_k = 500.0_f64;
        for (element, z) in self.solver.system.elements.iter().zip(self.solver.z) {
            let rise = melting_point_k(*element) - 500.0;
            hot_k = hot_k.max(500.0 + rise * (3.0 * z).sqrt().min(1.0));
        }
        hot_k += 15.0;
        for _ in 0..12 {
            let mut liquid = Node::at(LIQUID, self.solver.z);
            liquid.amount = 1.0;
            let mut state = State {
                t_k: hot_k,
                mu: [0.0; N],
                active: vec![liquid],
                idle: Vec::new(),
            };
            let found = self
                .solver
                .equilibrate(&mut state, Hold::Temperature(hot_k));
            if found.is_ok() {
                self.solver.seed(&mut state);
                self.relax_all(&mut state);
                if state.idle.iter().all(|node| node.above > BELOW) {
                    return Ok(state);
                }
            }
            hot_k += 150.0;
        }
        self.molten(hot_k)
    }

    /// Two liquids that never become one, at the least temperature asked for where nothing is solid.
    fn molten(&mut self, hottest_k: f64) -> Result<State, Stuck> {
        let mut hot_k = 600.0;
        while hot_k < hottest_k {
            if let Some(state) = self.solver.lowest(hot_k, &[])
                && state.active.iter().all(|node| node.phase == LIQUID)
            {
                return Ok(state);
            }
            hot_k += 100.0;
        }
        Err(Stuck {
            t_k: hot_k,
            iterations: 12,
            residual: f64::INFINITY,
        })
    }

    pub(super) fn relax_all(&mut self, state: &mut State) {
        let same = |a: &Node, b: &Node| {
            a.phase == b.phase && (0..N).all(|i| (a.x[i] - b.x[i]).abs() < 1e-3)
        };
        // What has slid onto another tells nothing of its own.
        for mut node in std::mem::take(&mut state.idle) {
            let moved = self.solver.watch(&mut node, state);
            if !moved || !(state.active.iter().chain(&state.idle)).any(|other| same(other, &node)) {
                state.idle.push(node);
            }
        }
    }

    pub(super) fn reseed(&mut self, state: &mut State) {
        self.solver.seed(state);
        self.relax_all(state);
    }

    /// The equilibrium walk, and the state in which the first crystal forms.
    pub(super) fn equilibrium(&mut self) -> Result<(Path, State), Stuck> {
        self.cool(false)
    }

    /// Where the first crystal forms, in K.
    pub(super) fn first_crystal(&mut self) -> Result<f64, Stuck> {
        self.cool(true).map(|(path, _)| path.liquidus_k)
    }

    /// Down from the melt to the last liquid, or only to the first crystal.
    fn cool(&mut self, to_first: bool) -> Result<(Path, State), Stuck> {
        let mut state = self.melt()?;
        let mut walk = Descent::default();
        // In the melt most often nothing turns up that is not watched; where it does, a step fails or the
        // first crystal tells, and the way is gone again with more care.
        let mut mark = Mark {
            every_k: MOLTEN_EVERY_K,
            ..Mark::of(&walk.path, walk.first.as_ref(), &state)
        };
        for steps in 0..MOST_STEPS {
            let went = if steps % PATIENCE == PATIENCE - 1 {
                Err(stuck(&state, steps))
            } else {
                self.advance(&mut state, &mut walk, &mut mark)
            };
            if went.is_ok() {
                self.leaps = 0;
            }
            if let Err(fault) = went {
                // A step fails where something is missing.
                self.reseed(&mut state);
                if let Some(Missed::Found(back)) = mark.missed(&state) {
                    walk.back_to(&mark);
                    state = back;
                    self.relax_all(&mut state);
                    continue;
                }
                (walk.slope, walk.earlier) = (None, None);
                state = self.leap(&state, &mut walk).ok_or(fault)?;
                mark = Mark::of(&walk.path, walk.first.as_ref(), &state);
            }
            if to_first && let Some(first) = &walk.first {
                return Ok((walk.path, first.clone()));
            }
            if self.liquid_share(&state) < NO_LIQUID {
                return walk.finish(&state).ok_or(stuck(&state, steps));
            }
            if state.t_k < COLDEST_K {
                return Err(stuck(&state, steps));
            }
        }
        Err(stuck(&state, MOST_STEPS))
    }

    /// One step of the equilibrium walk, up to the first change, and the change itself.
    fn advance(
        &mut self,
        state: &mut State,
        walk: &mut Descent,
        mark: &mut Mark,
    ) -> Result<(), Stuck> {
        let molten = state.active.iter().all(|node| node.phase == LIQUID);
        let mut pace = EQUILIBRIUM;
        if molten {
            pace.kelvin = self.drop_to_first(state).min(2.0 * mark.every_k);
        }
        let known = walk.slope.take();
        let earlier = known.as_ref().and_then(|_| walk.earlier.take());
        let slope = known.or_else(|| self.solver.slope(state, pace));
        let slope = slope.ok_or(stuck(state, 0))?;
        let step = self.step(state, &slope, earlier.as_ref(), pace)?;
        let changed = step.change.is_some();
        if !molten {
            let upper = self.end(state, Some(&slope));
            let lower = step.lower;
            walk.path.stretches.push(Stretch { upper, lower });
            if !changed {
                walk.slope = step.slope;
                walk.earlier = Some((step.length, slope));
            }
        }
        *state = step.to;
        let mut first = false;
        if let Some(change) = step.change {
            if let Happens::Enters(k) = change
                && walk.first.is_none()
                && state.active[k].phase != LIQUID
            {
                first = true;
                self.reseed(state);
                walk.path.liquidus_k = state.t_k;
                walk.first = Some(state.clone());
            }
            let told = (self.apply(state, change)).ok_or(stuck(state, 0))?;
            walk.path.changes.push(told);
        }
        let gone = self.liquid_share(state) < NO_LIQUID;
        if first {
            self.relax_all(state);
        } else if gone || mark.due(state, changed) {
            self.reseed(state);
        } else {
            return Ok(());
        }
        match mark.missed(state) {
            Some(missed) => {
                walk.back_to(mark);
                if let Missed::Found(back) = missed {
                    *state = back;
                    self.relax_all(state);
                } else {
                    *state = mark.state.clone();
                    return Err(stuck(state, 0));
                }
            }
            None => *mark = Mark::of(&walk.path, walk.first.as_ref(), state),
        }
        Ok(())
    }

    /// Where a walk is stuck: the equilibrium a little below, found from nothing. A first crystal that
    /// forms in between, and liquid that goes, are followed to a thousandth of a kelvin.
    fn leap(&mut self, state: &State, walk: &mut Descent) -> Option<State> {
        let in_the_melt = walk.first.is_none();
        let next = self.below(state, |walker, found| {
            if in_the_melt {
                found.active.iter().all(|node| node.phase == LIQUID)
            } else {
                walker.liquid_share(found) >= NO_LIQUID
            }
        })?;
        let crystals = |state: &State| -> Vec<(usize, Vector)> {
            (state.active.iter())
                .filter(|node| node.phase != LIQUID)
                .map(|node| (node.phase, self.solver.composition(node)))
                .collect()
        };
        let (before, after) = (crystals(state), crystals(&next));
        let only = |of: &[(usize, Vector)], not: &[(usize, Vector)]| -> Vec<(usize, Vector)> {
            let known = |phase: usize| not.iter().any(|other| other.0 == phase);
            of.iter().filter(|one| !known(one.0)).copied().collect()
        };
        let (left, stays) = (self.liquid_share(state), self.liquid_share(&next));
        if in_the_melt && !after.is_empty() {
            walk.path.liquidus_k = next.t_k;
            let mut first = next.clone();
            self.reseed(&mut first);
            walk.first = Some(first);
        }
        if !in_the_melt {
            let (upper, mut lower) = (self.end(state, None), self.end(&next, None));
            lower.liquid = if stays < NO_LIQUID { left } else { stays };
            walk.path.stretches.push(Stretch { upper, lower });
        }
        let told = Change {
            t_k: next.t_k,
            liquid: (left, if stays < NO_LIQUID { 0.0 } else { left }),
            formed: only(&after, &before),
            used: only(&before, &after),
            invariant: stays < NO_LIQUID && left > 1e-4,
        };
        if !(told.formed.is_empty() && told.used.is_empty()) || told.invariant {
            walk.path.changes.push(told);
        }
        Some(next)
    }

    /// The equilibrium a little below, by way of [`Solver::lowest`]; if that is not `alive`, the first
    /// below which it is not, to a thousandth of a kelvin.
    pub(super) fn below(
        &mut self,
        state: &State,
        alive: impl Fn(&Self, &State) -> bool,
    ) -> Option<State> {
        let known: Vec<&Node> = state.active.iter().chain(&state.idle).collect();
        let mut found = None;
        let longer = 1.5_f64.powi(self.leaps.min(5));
        for step_k in LEAPS_K {
            let t_k = state.t_k - longer * step_k;
            found = self.solver.lowest(t_k, &known);
            found = found.or_else(|| self.solver.lowest(t_k, &[]));
            if found.is_some() {
                break;
            }
        }
        self.leaps += 1;
        let mut found = found?;
        if alive(self, &found) {
            return Some(found);
        }
        let mut high_k = state.t_k;
        while high_k - found.t_k > 1e-3 {
            let middle = (self.solver).lowest(0.5 * (high_k + found.t_k), &known)?;
            if alive(self, &middle) {
                high_k = middle.t_k;
            } else {
                found = middle;
            }
        }
        Some(found)
    }

    /// How far down, from a melt, the first crystal may be: a step in K.
    fn drop_to_first(&mut self, state: &State) -> f64 {
        let pace = Pace {
            kelvin: 1.0,
            ..EQUILIBRIUM
        };
        let Some(slope) = self.solver.slope(state, pace) else {
            return 10.0;
        };
        let mut nearest = 60.0_f64;
        for node in &state.idle {
            let fall = -self.solver.rise(node, state, &slope);
            if fall > 0.0 {
                nearest = nearest.min(1.02 * node.above / fall + 0.2);
            }
        }
        nearest.max(0.5)
    }

    /// One step down a path, or up to the first change on it.
    fn step(
        &mut self,
        state: &State,
        slope: &Slope,
        earlier: Option<&(f64, Slope)>,
        pace: Pace,
    ) -> Result<Stage, Stuck> {
        let mut h = longest(state, slope, 1.0).min(2.0 * self.last);
        let mut last = stuck(state, 0);
        for halvings in 0..40 {
            last.iterations = halvings;
            // The slope of the middle, as far as the step before tells of it.
            let ahead = earlier.map(|(length, before)| {
                let more = 0.5 * h / length;
                slope.clone().scaled(1.0 + more).plus(-more, before)
            });
            let ahead = ahead.as_ref().unwrap_or(slope);
            let mut trial = moved(state, ahead, h);
            let hold = hold_for(state, ahead, pace, h);
            match self.solver.equilibrate(&mut trial, hold) {
                Err(fault) => last = fault,
                Ok(()) if trial.t_k > state.t_k + 1e-6 => {}
                Ok(()) => {
                    self.relax_all(&mut trial);
                    let happens = violations(&trial);
                    let found = if happens.is_empty() {
                        Some((trial, None))
                    } else {
                        self.first_change(state, &trial, &happens)
                    };
                    if let Some((to, change)) = found {
                        let (lower, end) = self.lower_end(&to, state.active.len(), pace);
                        if h > 0.05 && self.bends_much(state, slope, lower) {
                            h *= 0.4;
                            continue;
                        }
                        self.last = if change.is_some() { 1.0 } else { h };
                        return Ok(Stage {
                            to,
                            change,
                            length: h,
                            lower,
                            slope: end,
                        });
                    }
                }
            }
            h *= 0.5;
        }
        Err(last)
    }

    /// Whether the slope of the liquid share changes so much over a step that a cubic would not do.
    fn bends_much(&self, from: &State, slope: &Slope, lower: End) -> bool {
        let (a, b) = (self.share_slope(from, slope), lower.slope);
        let fall = self.liquid_share(from) - lower.liquid;
        // A cubic kept from overshooting has no lowest point: where liquid shrinks on heating, short steps.
        let turn = a.abs().min(b.abs()) * (from.t_k - lower.t_k);
        a * b < 0.0 && turn > TURN || fall > 0.01 && (a > 1.8 * b || b > 1.8 * a)
    }

    /// Solves for every change that a trial step passed and takes the first, the hottest.
    fn first_change(
        &mut self,
        state: &State,
        trial: &State,
        happens: &[Happens],
    ) -> Option<(State, Option<Happens>)> {
        let mut hottest: Option<(State, Happens)> = None;
        for &change in happens {
            let mut at = trial.clone();
            let (k, place) = match change {
                Happens::Leaves(k) => (k, change),
                Happens::Enters(i) => {
                    let mut node = at.idle.remove(i);
                    node.amount = 0.0;
                    at.active.push(node);
                    let k = at.active.len() - 1;
                    (k, Happens::Enters(k))
                }
            };
            let found = self.solver.equilibrate(&mut at, Hold::Amount(k, 0.0));
            let inside = at.t_k >= trial.t_k - 1e-6 && at.t_k <= state.t_k + BREAK_K;
            if found.is_ok() && inside && hottest.as_ref().is_none_or(|(h, _)| at.t_k > h.t_k) {
                hottest = Some((at, place));
            }
        }
        let (mut at, change) = hottest?;
        self.relax_all(&mut at);
        // Something else came first and was not seen at the end of the step: take a shorter one.
        let early = |h: &Happens| match (h, change) {
            (Happens::Leaves(k), Happens::Leaves(own) | Happens::Enters(own)) => *k != own,
            (Happens::Enters(_), _) => true,
        };
        let unseen = violations(&at).iter().any(early);
        let fresh = (at.t_k - state.t_k).abs() > 1e-7;
        (!(unseen && fresh)).then_some((at, Some(change)))
    }

    /// Changes the phase set. At an invariant the amounts jump until a phase is used up.
    fn apply(&mut self, state: &mut State, change: Happens) -> Option<Change> {
        let before = self.liquid_share(state);
        let describe = |walker: &Walker, node: &Node| (node.phase, walker.solver.composition(node));
        let mut told = Change {
            t_k: state.t_k,
            liquid: (before, before),
            formed: Vec::new(),
            used: Vec::new(),
            invariant: false,
        };
        match change {
            Happens::Leaves(k) => {
                let mut node = state.active.remove(k);
                node.amount = 0.0;
                told.used.push(describe(self, &node));
                state.idle.push(node);
            }
            Happens::Enters(k) => {
                told.formed.push(describe(self, &state.active[k]));
                if state.active.len() > self.solver.system.n() {
                    told.invariant = true;
                    self.jump(state, k, &mut told)?;
                }
            }
        }
        told.liquid.1 = self.liquid_share(state);
        Some(told)
    }

    /// The isothermal reaction of n + 1 phases: along the one combination that keeps every element,
    /// the new phase grows until another is used up.
    fn jump(&mut self, state: &mut State, new: usize, told: &mut Change) -> Option<()> {
        let n = self.solver.system.n();
        let others: Vec<usize> = (0..state.active.len()).filter(|&k| k != new).collect();
        let mut matrix = vec![0.0; n * n];
        let grown = self.solver.composition(&state.active[new]);
        let mut rates: Vec<f64> = grown[..n].iter().map(|x| -x).collect();
        for (column, &k) in others.iter().enumerate() {
            let full = self.solver.composition(&state.active[k]);
            for i in 0..n {
                matrix[i * n + column] = full[i] / self.solver.z[i].max(1e-30);
            }
        }
        for i in 0..n {
            rates[i] /= self.solver.z[i].max(1e-30);
        }
        linear::solve(&mut matrix, &mut rates)?;
        let mut extent = f64::INFINITY;
        for (rate, &k) in rates.iter().zip(&others) {
            if *rate < 0.0 {
                extent = extent.min(state.active[k].amount.max(0.0) / -rate);
            }
        }
        if !extent.is_finite() {
            return None;
        }
        state.active[new].amount = extent;
        for (rate, &k) in rates.iter().zip(&others) {
            let node = &mut state.active[k];
            node.amount += rate * extent;
            let named = (node.phase, self.solver.composition(node));
            if node.phase != LIQUID && *rate > 0.0 {
                told.formed.push(named);
            } else if *rate < 0.0 && node.phase != LIQUID {
                told.used.push(named);
            }
            if *rate < 0.0 && node.amount <= NOUGHT {
                node.amount = f64::NEG_INFINITY;
            }
        }
        let (gone, stay) = (state.active.drain(..)).partition(|node| node.amount.is_infinite());
        state.active = stay;
        state
            .idle
            .extend(Vec::into_iter(gone).map(|node: Node| Node {
                amount: 0.0,
                ..node
            }));
        Some(())
    }
}

/// An equilibrium walk under way.
#[derive(Clone, Debug, Default)]
struct Descent {
    path: Path,
    /// At the end of the last step, and that at its beginning with its length, if nothing has changed.
    slope: Option<Slope>,
    earlier: Option<(f64, Slope)>,
    /// With the first crystal.
    first: Option<State>,
}

/// A step: where it ends, the change met there, and the way at its end as yet without that change.
struct Stage {
    to: State,
    change: Option<Happens>,
    length: f64,
    lower: End,
    slope: Option<Slope>,
}

impl Descent {
    fn back_to(&mut self, mark: &Mark) {
        (self.slope, self.earlier) = (None, None);
        self.path.stretches.truncate(mark.stretches);
        self.path.changes.truncate(mark.changes);
        self.first.clone_from(&mark.first);
    }

    fn finish(mut self, state: &State) -> Option<(Path, State)> {
        self.path.end_k = state.t_k;
        if let Some(last) = self.path.changes.last()
            && last.invariant
            && (last.t_k - state.t_k).abs() < 1e-9
        {
            self.path.end_liquid = last.liquid.0;
        }
        self.first.map(|first| (self.path, first))
    }
}

/// Something that changes the phase set.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Happens {
    /// An active phase is used up.
    Leaves(usize),
    /// An idle phase touches the plane (once solved for: the place it has among the active).
    Enters(usize),
}

fn violations(trial: &State) -> Vec<Happens> {
    let gone = (trial.active.iter().enumerate())
        .filter(|(_, node)| node.amount < -NOUGHT)
        .map(|(k, _)| Happens::Leaves(k));
    let new = (trial.idle.iter().enumerate())
        .filter(|(_, node)| node.above < BELOW)
        .map(|(i, _)| Happens::Enters(i));
    gone.chain(new).collect()
}

/// So many units of path, less where a composition moves fast.
pub(super) fn longest(state: &State, slope: &Slope, most: f64) -> f64 {
    let mut h = most;
    for (k, node) in state.active.iter().enumerate() {
        for (x, rate) in node.x.iter().zip(&slope.ln_x[k]) {
            if *x > 1e-5 && rate.abs() * h > 1.0 {
                h = 1.0 / rate.abs();
            }
        }
    }
    h
}

/// Follows the temperature where it moves, else the liquid.
pub(super) fn hold_for(state: &State, slope: &Slope, pace: Pace, h: f64) -> Hold {
    if -slope.t_k / pace.kelvin > 0.2 {
        return Hold::Temperature(state.t_k + h * slope.t_k);
    }
    let fastest = (state.active.iter().enumerate())
        .filter(|(_, node)| node.phase == LIQUID)
        .min_by(|a, b| slope.amount[a.0].total_cmp(&slope.amount[b.0]));
    fastest.map_or(Hold::Temperature(state.t_k + h * slope.t_k), |(k, node)| {
        Hold::Amount(k, node.amount + h * slope.amount[k])
    })
}

/// The state a piece further along a slope, compositions in logarithms.
pub(super) fn moved(state: &State, slope: &Slope, h: f64) -> State {
    let mut next = state.clone();
    next.t_k += h * slope.t_k;
    let ratio = state.t_k / next.t_k;
    for (mu, rate) in next.mu.iter_mut().zip(&slope.mu) {
        *mu = (*mu + h * rate) * ratio;
    }
    for (k, node) in next.active.iter_mut().enumerate() {
        node.amount += h * slope.amount[k];
        for (x, rate) in node.x.iter_mut().zip(&slope.ln_x[k]) {
            *x *= (h * rate).clamp(-3.0, 3.0).exp();
        }
    }
    next
}

/// Melting points in K, rounded up: from here down the search for the first crystal starts.
fn melting_point_k(element: crate::alloy::Element) -> f64 {
    use crate::alloy::Element as E;
    match element {
        E::Ag => 1236.0,
        E::Au => 1338.0,
        E::Cu => 1359.0,
        E::Sb => 905.0,
        E::Zn => 694.0,
        E::Pb => 602.0,
        E::Bi => 546.0,
        E::Sn => 506.0,
        _ => 460.0,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::alloy::Element::{self, Ag, Bi, Cu, Pb, Sb, Sn};
    use crate::melt::system::System;

    /// Mole fractions of a composition in mass per cent, elements in the order of their symbols.
    fn moles(parts: &[(Element, f64)]) -> (Vec<Element>, Vector) {
        let mut parts = parts.to_vec();
        parts.sort_by_key(|p| p.0);
        let mut z = [0.0; N];
        for (z, (element, mass)) in z.iter_mut().zip(&parts) {
            *z = mass / element.molar_mass_g();
        }
        let sum: f64 = z.iter().sum();
        (parts.iter().map(|p| p.0).collect(), z.map(|z| z / sum))
    }

    /// Every state that the equilibrium walk passes, down to a temperature.
    fn states(walker: &mut Walker, down_to_k: f64) -> Vec<State> {
        let mut state = walker.melt().unwrap();
        let mut passed = vec![state.clone()];
        while state.t_k > down_to_k && walker.liquid_share(&state) > NO_LIQUID {
            let molten = state.active.iter().all(|node| node.phase == LIQUID);
            let mut pace = EQUILIBRIUM;
            if molten {
                pace.kelvin = walker.drop_to_first(&state);
            }
            let slope = walker.solver.slope(&state, pace).unwrap();
            let step = walker.step(&state, &slope, None, pace).unwrap();
            let (next, change) = (step.to, step.change);
            if next.t_k < down_to_k {
                let mut last = state.clone();
                let hold = Hold::Temperature(down_to_k);
                walker.solver.equilibrate(&mut last, hold).unwrap();
                passed.push(last);
                return passed;
            }
            state = next;
            if let Some(change) = change {
                walker.apply(&mut state, change).unwrap();
            }
            walker.reseed(&mut state);
            passed.push(state.clone());
        }
        passed
    }

    #[test]
    fn no_atom_is_lost_on_the_way() {
        for parts in [
            vec![(Sn, 96.5), (Ag, 3.0), (Cu, 0.5)],
            vec![(Sn, 44.1), (Pb, 3.7), (Bi, 52.2)],
            vec![(Sn, 89.8), (Pb, 7.4), (Ag, 2.4), (Cu, 0.4)],
            vec![(Sn, 50.0), (Pb, 50.0), (Ag, 1e-4)],
        ] {
            let (elements, z) = moles(&parts);
            let system = System::of(&elements).unwrap();
            let mut walker = Walker::new(Solver::new(&system, z));
            let passed = states(&mut walker, 300.0);
            assert!(passed.len() > 5, "{parts:?}");
            for state in passed {
                for (i, want) in z[..elements.len()].iter().enumerate() {
                    let got: f64 = (state.active.iter())
                        .map(|node| node.amount * walker.solver.composition(node)[i])
                        .sum();
                    let lost = (got - want).abs();
                    assert!(lost < 1e-9, "{} at {} K: {lost}", elements[i], state.t_k);
                }
            }
        }
    }

    /// Golden row 110 (SAC305 with a tenth of Sn95Sb5) at 218.52 °C: the general-purpose minimiser
    /// found -26837.512 and -26853.349 J/mol on its two grids; the lower energy is right.
    #[test]
    fn where_grids_disagree_ours_is_the_lower_energy() {
        let parts = [(Sn, 96.35), (Ag, 2.7), (Cu, 0.45), (Sb, 0.5)];
        let (elements, z) = moles(&parts);
        let system = System::of(&elements).unwrap();
        let mut walker = Walker::new(Solver::new(&system, z));
        let t_k = 218.52 + 273.15;
        let passed = states(&mut walker, t_k);
        let last = passed.last().unwrap();
        assert!((last.t_k - t_k).abs() < 1e-9);
        let planes: f64 = z.iter().zip(&last.mu).map(|(z, mu)| z * mu).sum();
        let energy = planes * crate::melt::phase::R * t_k;
        // 0.05 J/mol for the temperature, which the row gives to 0.01 K.
        let entropy_of_rounding = 0.005 * 60.0;
        assert!(energy < -26_853.349 + entropy_of_rounding, "{energy}");
    }

    /// The slope of freezing, written out, is that of the general balances with crystals of no amount.
    #[test]
    fn freezing_is_the_general_slope_written_out() {
        for parts in [
            vec![(Sn, 96.5), (Ag, 3.0), (Cu, 0.5)],
            vec![(Sn, 44.1), (Pb, 3.7), (Bi, 52.2)],
            vec![(Sn, 89.8), (Pb, 7.4), (Ag, 2.4), (Cu, 0.4)],
        ] {
            let (elements, z) = moles(&parts);
            let system = System::of(&elements).unwrap();
            let mut walker = Walker::new(Solver::new(&system, z));
            let pace = Pace {
                frozen: true,
                ..EQUILIBRIUM
            };
            let mut compared = 0;
            for mut state in states(&mut walker, 350.0) {
                let liquids = state.active.iter().filter(|node| node.phase == LIQUID);
                if liquids.count() != 1 || state.active.len() < 2 {
                    continue;
                }
                for node in &mut state.active {
                    if node.phase != LIQUID {
                        node.amount = 0.0;
                    }
                }
                let Some(general) = walker.solver.slope(&state, pace) else {
                    continue;
                };
                let own = walker.solver.freezing(&state, pace).unwrap();
                let near = |a: f64, b: f64| (a - b).abs() < 1e-6 * (1.0 + a.abs().max(b.abs()));
                compared += 1;
                assert!(near(own.t_k, general.t_k), "{} {}", own.t_k, general.t_k);
                for i in 0..elements.len() {
                    assert!(near(own.mu[i], general.mu[i]), "μ of {}", elements[i]);
                }
                for k in 0..state.active.len() {
                    assert!(near(own.amount[k], general.amount[k]), "amount {k}");
                    for (a, b) in own.ln_x[k].iter().zip(&general.ln_x[k]) {
                        assert!(near(*a, *b), "ln x of {k}: {a} and {b}");
                    }
                }
            }
            assert!(compared >= 3, "{parts:?}: only {compared}");
        }
    }

    /// Steps of at most a tenth of the length change nothing that is printed.
    #[test]
    fn freezing_does_not_depend_on_the_steps() {
        for parts in [
            vec![(Sn, 95.0), (Sb, 5.0)],
            vec![(Sn, 43.0), (Pb, 43.0), (Bi, 14.0)],
            vec![(Sn, 92.5), (Pb, 4.43), (Ag, 2.64), (Cu, 0.44)],
        ] {
            let (elements, z) = moles(&parts);
            let system = System::of(&elements).unwrap();
            let walk = |stride: f64| {
                let mut walker = Walker::new(Solver::new(&system, z));
                walker.stride = stride;
                let (path, start) = walker.equilibrium().unwrap();
                walker.scheil(&start, path.end_k).unwrap()
            };
            let (usual, fine) = (walk(1.0), walk(0.1));
            assert!(fine.stretches.len() > 2 * usual.stretches.len());
            for share in [0.5, 0.1, 0.01, 0.001] {
                let off = usual.reaches(share) - fine.reaches(share);
                assert!(off.abs() < 0.05, "{parts:?}: {off} K at {share}");
            }
            assert!(
                (usual.end_liquid - fine.end_liquid).abs() < 1e-3,
                "{parts:?}"
            );
        }
    }
}
