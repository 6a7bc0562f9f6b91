//! How a joint really freezes: nothing moves in what is solid (E. Scheil, Z. Metallkd. 34 (1942) 70;
//! G.H. Gulliver, J. Inst. Met. 9 (1913) 120; memory).
//!
//! At each moment the remaining liquid is in equilibrium with what crystallises from it, and
//! `d(f x) = −Σ x_s dN_s`. That is the slope of an equilibrium in which the solids have no amount; it is
//! followed by the classical fourth-order method of Runge and Kutta, and after each step the remaining
//! liquid is put back into exact equilibrium. The independent variable is neither temperature nor
//! liquid but a mixture of both, so that neither a long faint tail nor an invariant stops it.

use super::path::{
    COLDEST_K, Change, MOST_STEPS, Mark, Missed, PATIENCE, Path, Stretch, Walker, hold_for,
    longest, moved, stuck,
};
use super::phase::{N, Vector};
use super::solver::{Hold, LIQUID, Node, Pace, Slope, State, Stuck};

/// Less liquid than this (mass share) no longer counts, where equilibrium has none either.
const LEAST: f64 = 1e-4;
/// Below this nothing counts at all.
const NOTHING: f64 = 1e-9;
/// A phase this near the plane (over RT) is on it.
const TOUCHES: f64 = 1e-6;
const BELOW: f64 = -1e-7;
/// So near that the rest of the way, a hundredth of a kelvin, is that of an equilibrium.
const LANDS: f64 = 1e-5;
/// The same at the end of so short a step.
const CLOSE: f64 = 1e-4;
const NO_WAY: f64 = 1e-4;
/// Compositions of one phase nearer than this (mole fractions) may have become one.
const SLID: f64 = 0.02;
/// A step may be so many times the usual one,
const LONGEST: f64 = 2.5;
/// and wrong by so many kelvins, and by this part of the liquid and of each of its fractions.
const ERROR_K: f64 = 5e-4;
const ERROR: f64 = 3e-5;
/// Between the ends of a step the share of liquid may be wrong by this part, or its temperature by this, in K.
const CURVE: f64 = 3e-4;
const CURVE_K: f64 = 0.01;
/// What remains does not warm up while it freezes, but for rounding, in K.
const RISE_K: f64 = 1e-3;

/// A walk under way.
struct Freezing {
    path: Path,
    mark: Mark,
    /// Whether it is to be found out what crystallises from here on.
    choose: bool,
    /// Of the last step at its end.
    slope: Option<Slope>,
    /// How long a step may be, by the error of the last.
    reach: f64,
}

impl Freezing {
    fn back_to_mark(&mut self) {
        self.path.stretches.truncate(self.mark.stretches);
        self.path.changes.truncate(self.mark.changes);
        self.choose = true;
        self.slope = None;
    }
}

/// A step of freezing: where it ends, whether at a change, and the slope there, as yet of the old phases.
struct Step {
    to: State,
    changed: bool,
    slope: Slope,
}

impl Walker<'_> {
    /// The Scheil–Gulliver walk from the state in which the first crystal forms. It goes on until an
    /// invariant eats the liquid, or less than 10⁻⁴ is left and the equilibrium solidus is passed.
    pub(super) fn scheil(&mut self, start: &State, solidus_k: f64) -> Result<Path, Stuck> {
        let mut state = start.clone();
        let path = Path {
            liquidus_k: state.t_k,
            ..Path::default()
        };
        self.take_liquid(&state);
        let mut walk = Freezing {
            mark: Mark::of(&path, None, &state),
            path,
            choose: true,
            slope: None,
            reach: 1.0,
        };
        for steps in 0..MOST_STEPS {
            let left = self.liquid_share(&state);
            if is_over(left, state.t_k, solidus_k) {
                walk.path.end_k = state.t_k;
                walk.path.end_liquid = left;
                return Ok(walk.path);
            }
            let went = if steps % PATIENCE == PATIENCE - 1 {
                Err(stuck(&state, steps))
            } else {
                self.descend(&mut state, &mut walk, solidus_k)
            };
            match went {
                Ok(false) => self.leaps = 0,
                Ok(true) => return Ok(frozen_at_once(walk.path, state.t_k, left)),
                Err(fault) => {
                    // A step fails where something is missing.
                    if let Ok(true) = self.look_around(&mut state, &mut walk) {
                        continue;
                    }
                    let above_k = state.t_k;
                    if self.leap_frozen(&mut state, &mut walk.path).ok_or(fault)? {
                        return Ok(walk.path);
                    }
                    walk.choose = state.t_k < above_k;
                    walk.slope = None;
                    walk.mark = Mark::of(&walk.path, None, &state);
                }
            }
            if state.t_k < COLDEST_K {
                return Err(stuck(&state, steps));
            }
        }
        Err(stuck(&state, MOST_STEPS))
    }

    /// One step of freezing; true if all that was left froze at one temperature.
    fn descend(
        &mut self,
        state: &mut State,
        walk: &mut Freezing,
        solidus_k: f64,
    ) -> Result<bool, Stuck> {
        if walk.choose {
            self.crystals(state, walk)?;
        }
        let unit = pace(state);
        let slope = match walk.slope.take() {
            Some(last) => at_pace(last, state, unit),
            None => (self.solver.freezing(state, unit)).ok_or(stuck(state, 0))?,
        };
        walk.choose = true;
        if still(state, &slope, unit) {
            if self.stand(state, &slope) {
                let seen = walk.mark.is_here(state);
                return Ok(seen || !self.look_around(state, walk)?);
            }
        } else {
            let step = self.freeze(state, &slope, unit, &mut walk.reach)?;
            let mut upper = self.end(state, Some(&slope));
            let above = walk.path.stretches.last().map_or(1.0, |s| s.lower.liquid);
            upper.liquid = upper.liquid.min(above);
            let mut own = step.to.clone();
            own.active.truncate(state.active.len());
            let mut lower = self.end(&own, Some(&step.slope));
            // Putting the rest back into equilibrium may move it by rounding.
            lower.liquid = lower.liquid.min(upper.liquid);
            walk.path.stretches.push(Stretch { upper, lower });
            walk.choose = step.changed;
            walk.slope = (!step.changed).then_some(step.slope);
            *state = step.to;
        }
        let over = is_over(self.liquid_share(state), state.t_k, solidus_k);
        if over || walk.mark.due(state, walk.choose) {
            self.look_around(state, walk)?;
        }
        Ok(false)
    }

    /// Finds out what crystallises from here on, and tells of it.
    fn crystals(&mut self, state: &mut State, walk: &mut Freezing) -> Result<(), Stuck> {
        let kept = state.clone();
        let Some(told) = self.choose(state) else {
            *state = kept;
            return Err(stuck(state, 0));
        };
        walk.slope = None;
        if (walk.path.changes.last()).is_none_or(|last| phases(last) != phases(&told)) {
            walk.path.changes.push(told);
        }
        Ok(())
    }

    /// Looks for phases anew; goes back (true) for what should have been there before.
    fn look_around(&mut self, state: &mut State, walk: &mut Freezing) -> Result<bool, Stuck> {
        self.reseed(state);
        let Some(missed) = walk.mark.missed(state) else {
            walk.mark = Mark::of(&walk.path, None, state);
            return Ok(false);
        };
        walk.back_to_mark();
        let Missed::Found(back) = missed else {
            *state = walk.mark.state.clone();
            self.take_liquid(state);
            return Err(stuck(state, 0));
        };
        *state = back;
        self.take_liquid(state);
        self.relax_all(state);
        Ok(true)
    }

    /// Where freezing is stuck: the liquid's equilibrium a little below, found from nothing, and its
    /// crystals set aside. True if nothing liquid is left.
    fn leap_frozen(&mut self, state: &mut State, path: &mut Path) -> Option<bool> {
        self.take_liquid(state);
        let kept = self.liquid_share(state);
        let mut next = self.below(state, |walker, found| {
            walker.liquid_share(found) > 1e-6 * kept
        })?;
        let left = self.liquid_share(&next);
        let gone = left <= 1e-6 * kept;
        let above = path.stretches.last().map_or(1.0, |s| s.lower.liquid);
        let mut upper = self.end(state, None);
        upper.liquid = upper.liquid.min(above);
        let mut lower = self.end(&next, None);
        lower.liquid = if gone {
            upper.liquid
        } else {
            left.min(upper.liquid)
        };
        path.stretches.push(Stretch { upper, lower });
        let formed: Vec<(usize, Vector)> = (next.active.iter())
            .filter(|node| node.phase != LIQUID)
            .map(|node| (node.phase, self.solver.composition(node)))
            .collect();
        let change = Change {
            t_k: next.t_k,
            liquid: (upper.liquid, if gone { 0.0 } else { upper.liquid }),
            formed,
            used: Vec::new(),
            invariant: gone,
        };
        if gone || (path.changes.last()).is_none_or(|last| phases(last) != phases(&change)) {
            path.changes.push(change);
        }
        if gone {
            path.end_k = next.t_k;
            path.end_liquid = upper.liquid;
            return Some(true);
        }
        self.drop_solids(&mut next);
        self.reseed(&mut next);
        *state = next;
        Some(false)
    }

    /// Which of the phases on the plane crystallise from here on: those that grow while no other sinks
    /// below the plane.
    fn choose(&mut self, state: &mut State) -> Option<Change> {
        let mut on_plane: Vec<Node> = Vec::new();
        let mut liquids: Vec<Node> = Vec::new();
        for node in state.active.drain(..) {
            if node.phase == LIQUID && node.amount > 0.0 {
                liquids.push(node);
            } else {
                on_plane.push(node);
            }
        }
        let mut idle = Vec::new();
        for node in state.idle.drain(..) {
            if node.above < TOUCHES {
                on_plane.push(node);
            } else {
                idle.push(node);
            }
        }
        state.idle = idle;
        let n = self.solver.system.n();
        let mut sets: Vec<u32> = (1..1_u32 << on_plane.len().min(12)).collect();
        sets.sort_by_key(|set| std::cmp::Reverse(set.count_ones()));
        let count = liquids.len();
        for set in sets {
            if count + set.count_ones() as usize > n + 1 {
                continue;
            }
            state.active.clone_from(&liquids);
            state.active.extend(picked(&on_plane, set, true));
            let Some(slope) = self.solver.freezing(state, pace(state)) else {
                continue;
            };
            let grow = slope.amount[count..].iter().all(|rate| *rate > -1e-12);
            let rest: Vec<Node> = picked(&on_plane, set, false).collect();
            let rise = rest
                .iter()
                .all(|node| self.solver.rise(node, state, &slope) > -1e-7);
            if grow && rise && slope.t_k <= 1e-9 {
                state.idle.extend(rest);
                let share = self.liquid_share(state);
                let formed = state.active[count..].iter();
                return Some(Change {
                    t_k: state.t_k,
                    liquid: (share, share),
                    formed: formed
                        .map(|node| (node.phase, self.solver.composition(node)))
                        .collect(),
                    used: Vec::new(),
                    invariant: false,
                });
            }
        }
        None
    }

    /// One step of freezing, up to the first change of the phases on the plane.
    fn freeze(
        &mut self,
        state: &State,
        slope: &Slope,
        pace: Pace,
        reach: &mut f64,
    ) -> Result<Step, Stuck> {
        let mut h = reach.min(longest(state, slope, self.stride * LONGEST));
        let mut last = stuck(state, 0);
        // A whole step, which shorter ones are then read off, and the phase that it went past.
        let mut whole: Option<(f64, Step)> = None;
        let mut aim: Option<Aim> = None;
        for tries in 0..40 {
            last.iterations = tries;
            let (trial, fourth) = match &whole {
                Some((length, to)) => (Some(between(state, slope, to, *length, h)), None),
                None => self.runge_kutta(state, slope, pace, h).unzip(),
            };
            let ended = trial.and_then(|trial| self.ended(state, slope, pace, h, trial));
            let Some((step, mut cut)) = ended else {
                (whole, aim) = (None, None);
                h *= 0.5;
                continue;
            };
            if let Some(fourth) = fourth {
                // The errors grow with the fourth and the third power of the length.
                let error = error(&fourth, &step, h).max(1e-6);
                let bend = self.bend_of(state, slope, &step).max(1e-6);
                let better = 0.9 * error.powf(-0.25).min(bend.powf(-1.0 / 3.0));
                if better < 0.8 && h > 0.05 {
                    h *= better.max(0.2);
                    continue;
                }
                *reach = (h * better.clamp(0.5, 1.5)).clamp(0.1, LONGEST);
            }
            if let (Some(aim), Some((length, to))) = (&mut aim, &whole)
                && let Some((hit, miss)) = aim.at(&step.to, cut)
            {
                if hit.done {
                    cut = Some(hit);
                } else if tries < 8 {
                    aim.off += miss;
                    if let Some(touch) = self.touch(state, slope, to, *length, aim) {
                        h = touch;
                        continue;
                    }
                }
            }
            let Some(cut) = cut else {
                return Ok(step);
            };
            if cut.done || cut.share > 0.999 || cut.close && h < NO_WAY {
                if let Some(found) = self.land(&step.to, cut)
                    && let Some(slope) = self.old_slope(&found, state.active.len(), cut, step.slope)
                {
                    return Ok(Step {
                        to: found,
                        changed: true,
                        slope,
                    });
                }
                (whole, aim) = (None, None);
                h *= 0.5;
                continue;
            }
            let (length, to) = match &whole {
                Some((length, to)) => (*length, to),
                None => (h, &whole.insert((h, step)).1),
            };
            h *= cut.share.max(1e-6);
            if let What::Enters(i) = cut.what
                && aim.is_none()
            {
                let new = Aim {
                    node: to.to.idle[i].clone(),
                    off: 0.0,
                };
                h = (self.touch(state, slope, to, length, &new)).unwrap_or(h);
                aim = Some(new);
            }
        }
        Err(last)
    }

    /// How far along a step, by its cubic, a phase that is below the plane at its end touches it.
    fn touch(
        &mut self,
        from: &State,
        slope: &Slope,
        step: &Step,
        length: f64,
        aim: &Aim,
    ) -> Option<f64> {
        let mut node = aim.node.clone();
        let mut at = from.clone();
        at.idle.clear();
        let mut above = |walker: &mut Self, h: f64| {
            (at.t_k, at.mu) = plane_between(from, slope, step, length, h);
            walker.solver.relax(&mut node, &at, 60) + aim.off
        };
        let mut high = (length, aim.node.above + aim.off);
        let mut low = (0.0, above(self, 0.0));
        if low.1 <= 0.0 || high.1 >= 0.0 {
            return None;
        }
        // False position, the end that stays counted half (Illinois; M. Dowell, P. Jarratt, BIT 11 (1971) 168;
        // memory).
        let mut kept = 0;
        for _ in 0..20 {
            let h = (low.0 * high.1 - high.0 * low.1) / (high.1 - low.1);
            let here = above(self, h);
            if here.abs() < 0.1 * LANDS {
                // One that has slid onto what crystallises already touches the plane anywhere.
                let slid = |own: &Node| own.phase == node.phase && gap(own, &node) < SLID;
                let mut own = from.active.iter().chain(&step.to.active);
                return (!own.any(slid)).then_some(h);
            }
            if here > 0.0 {
                low = (h, here);
                high.1 *= if kept > 0 { 0.5 } else { 1.0 };
                kept = 1;
            } else {
                high = (h, here);
                low.1 *= if kept < 0 { 0.5 } else { 1.0 };
                kept = -1;
            }
        }
        None
    }

    /// The end of a step, in exact equilibrium, and what it passed on the way.
    fn ended(
        &mut self,
        from: &State,
        slope: &Slope,
        pace: Pace,
        h: f64,
        mut to: State,
    ) -> Option<(Step, Option<Cut>)> {
        self.take_liquid(&to);
        // By whichever of temperature and liquid moves.
        let hold = match hold_for(from, slope, pace, h) {
            Hold::Temperature(_) => Hold::Temperature(to.t_k),
            Hold::Amount(k, _) => Hold::Amount(k, to.active[k].amount),
        };
        let (want_k, most_k) = (to.t_k, 0.1 + 0.1 * (h * slope.t_k).abs());
        self.solver.settle(&mut to, hold).ok()?;
        // One that moves away is about to part into two: something is missing.
        if (to.t_k - want_k).abs() > most_k || to.t_k > from.t_k + RISE_K {
            return None;
        }
        self.drop_solids(&mut to);
        self.relax_all(&mut to);
        let after = self.solver.freezing(&to, pace)?;
        let cut = overshoot(from, slope, &to, &after, pace);
        let step = Step {
            to,
            changed: false,
            slope: after,
        };
        Some((step, cut))
    }

    /// How much the share of liquid over a step is more than a cubic, as a part of what is allowed: by its
    /// third derivative, which makes about a tenth of the whole in a curve that is nearly a power.
    fn bend_of(&self, from: &State, slope: &Slope, step: &Step) -> f64 {
        let ends = [
            self.end(from, Some(slope)),
            self.end(&step.to, Some(&step.slope)),
        ];
        if ends.iter().any(|end| end.liquid <= 0.0) {
            return 0.0;
        }
        let fall = (ends[0].liquid / ends[1].liquid).ln();
        let per_k = ends.map(|end| (end.slope / end.liquid).abs());
        let width = ends[0].t_k - ends[1].t_k;
        let off = 0.1 * (fall - 0.5 * (per_k[0] + per_k[1]) * width).abs();
        (off / CURVE).min(off / (per_k[0].min(per_k[1]) * CURVE_K))
    }

    /// The end of a step and the last of its four slopes.
    fn runge_kutta(
        &mut self,
        state: &State,
        k1: &Slope,
        pace: Pace,
        h: f64,
    ) -> Option<(State, Slope)> {
        let k2 = self.solver.freezing(&moved(state, k1, 0.5 * h), pace)?;
        let k3 = self.solver.freezing(&moved(state, &k2, 0.5 * h), pace)?;
        let k4 = self.solver.freezing(&moved(state, &k3, h), pace)?;
        let sum = k1.clone().plus(2.0, &k2).plus(2.0, &k3).plus(1.0, &k4);
        let slope = sum.scaled(1.0 / 6.0);
        let mut next = moved(state, &slope, h);
        for node in &mut next.active {
            if node.phase != LIQUID {
                node.amount = 0.0;
            }
        }
        let liquids = next.active.iter().filter(|node| node.phase == LIQUID);
        (liquids.clone().count() > 1 || liquids.clone().all(|node| node.amount > 0.0))
            .then_some((next, k4))
    }

    /// From here on only the liquid takes part.
    fn take_liquid(&mut self, state: &State) {
        let mut z = [0.0; N];
        for node in &state.active {
            if node.phase == LIQUID {
                for (z, x) in z.iter_mut().zip(node.x) {
                    *z += node.amount * x;
                }
            }
        }
        self.solver.z = z;
    }

    fn drop_solids(&mut self, state: &mut State) {
        for node in &mut state.active {
            if node.phase != LIQUID {
                node.amount = 0.0;
            }
        }
        self.take_liquid(state);
    }

    /// Puts the state exactly onto the change that it has come to.
    fn land(&mut self, near: &State, cut: Cut) -> Option<State> {
        let mut state = near.clone();
        let k = match cut.what {
            What::Stops => return Some(state),
            What::Leaves(k) => k,
            What::Enters(i) => {
                let mut node = state.idle.remove(i);
                node.amount = 0.0;
                state.active.push(node);
                state.active.len() - 1
            }
        };
        if state.active.len() > self.solver.system.n() {
            // An invariant: the temperature follows from the phases alone; all solids have no amount.
            let liquid = state.active.iter().position(|node| node.phase == LIQUID)?;
            let amount = state.active[liquid].amount;
            self.solver
                .equilibrate(&mut state, Hold::Amount(liquid, amount))
                .or_else(|_| {
                    state = near.clone();
                    let mut node = state.idle.remove(match cut.what {
                        What::Enters(i) => i,
                        _ => return Err(()),
                    });
                    node.amount = 0.0;
                    state.active.push(node);
                    self.solver
                        .equilibrate(&mut state, Hold::Amount(k, 0.0))
                        .map_err(|_| ())
                })
                .ok()?;
        } else {
            self.solver
                .equilibrate(&mut state, Hold::Amount(k, 0.0))
                .ok()?;
        }
        self.drop_solids(&mut state);
        if let What::Leaves(k) = cut.what {
            state.active.remove(k);
            self.take_liquid(&state);
        }
        self.relax_all(&mut state);
        ((state.t_k - near.t_k).abs() < 2.0).then_some(state)
    }

    /// The slope of what froze up to a change.
    fn old_slope(&mut self, at: &State, count: usize, cut: Cut, near: Slope) -> Option<Slope> {
        if let What::Enters(_) = cut.what {
            let mut own = at.clone();
            own.active.truncate(count);
            return self.solver.freezing(&own, pace(&own));
        }
        Some(near)
    }

    /// At one temperature: the liquid freezes away (true), or one liquid turns into another.
    fn stand(&mut self, state: &mut State, slope: &Slope) -> bool {
        let liquids: Vec<usize> = (0..state.active.len())
            .filter(|&k| state.active[k].phase == LIQUID)
            .collect();
        let (mut extent, mut gone) = (f64::INFINITY, None);
        for &k in &liquids {
            let own = state.active[k].amount / -slope.amount[k];
            if slope.amount[k] < 0.0 && own < extent {
                (extent, gone) = (own, Some(k));
            }
        }
        let Some(gone) = gone.filter(|_| liquids.len() > 1) else {
            return true;
        };
        for &k in &liquids {
            state.active[k].amount += extent * slope.amount[k];
        }
        state.active.remove(gone);
        self.drop_solids(state);
        false
    }
}

/// Whether a step went past a change, and after what share of it the first came.
fn overshoot(from: &State, slope: &Slope, to: &State, after: &Slope, pace: Pace) -> Option<Cut> {
    let mut first: Option<Cut> = None;
    let mut offer = |cut: Cut| {
        if first.is_none_or(|f| cut.share < f.share) {
            first = Some(cut);
        }
    };
    for (i, node) in to.idle.iter().enumerate() {
        if node.above < BELOW {
            let before = (from.idle.iter())
                .filter(|old| old.phase == node.phase)
                .min_by(|a, b| gap(a, node).total_cmp(&gap(b, node)))
                .map_or(0.0, |old| old.above.max(0.0));
            offer(Cut {
                share: before / (before - node.above),
                done: node.above > -LANDS,
                close: node.above > -CLOSE,
                what: What::Enters(i),
            });
        }
    }
    for (k, node) in to.active.iter().enumerate() {
        if node.phase == LIQUID {
            if node.amount < 0.0 {
                let before = from.active[k].amount;
                offer(Cut {
                    share: before / (before - node.amount),
                    done: node.amount > -1e-7,
                    close: false,
                    what: What::Leaves(k),
                });
            }
        } else if after.amount[k] < -1e-9 * pace.liquid {
            let before = slope.amount[k].max(0.0);
            let ratio = before / (before - after.amount[k]);
            offer(Cut {
                share: ratio,
                done: after.amount[k] > -1e-4 * pace.liquid,
                close: false,
                what: What::Stops,
            });
        }
    }
    first
}

/// A phase that a step went past, and by how much its cubic has been found too low.
struct Aim {
    node: Node,
    off: f64,
}

impl Aim {
    /// The phase where a step now ends, and how far above the plane; none if something else comes first.
    fn at(&self, to: &State, cut: Option<Cut>) -> Option<(Cut, f64)> {
        let (place, miss) = (to.idle.iter().enumerate())
            .filter(|(_, node)| node.phase == self.node.phase)
            .map(|(place, node)| (place, node.above))
            .min_by(|a, b| a.1.total_cmp(&b.1))?;
        let first = cut.is_none_or(|cut| matches!(cut.what, What::Enters(i) if i == place));
        let hit = Cut {
            share: 1.0,
            done: miss.abs() < LANDS,
            close: miss.abs() < CLOSE,
            what: What::Enters(place),
        };
        first.then_some((hit, miss))
    }
}

/// The error of a step, as a part of what is allowed: what the slope at its end, in place of the fourth
/// of Runge and Kutta, would make of it, to third order.
fn error(fourth: &Slope, step: &Step, h: f64) -> f64 {
    let after = &step.slope;
    let off = |a: f64, b: f64, allowed: f64| (h / 6.0 * (a - b)).abs() / allowed;
    let mut most = off(fourth.t_k, after.t_k, ERROR_K);
    for (k, node) in step.to.active.iter().enumerate() {
        if node.phase == LIQUID {
            most = most.max(off(fourth.amount[k], after.amount[k], ERROR * node.amount));
            for i in (0..N).filter(|&i| node.x[i] > 1e-6) {
                most = most.max(off(fourth.ln_x[k][i], after.ln_x[k][i], ERROR));
            }
        }
    }
    most
}

fn is_over(left: f64, t_k: f64, solidus_k: f64) -> bool {
    left < NOTHING || (left < LEAST && t_k <= solidus_k)
}

/// The end of a walk whose last liquid goes at one temperature.
fn frozen_at_once(mut path: Path, t_k: f64, left: f64) -> Path {
    path.end_k = t_k;
    // As for every step: putting the rest back into equilibrium may have moved it by rounding.
    path.end_liquid = (path.stretches.last()).map_or(left, |above| left.min(above.lower.liquid));
    if let Some(change) = path.changes.last_mut()
        && (change.t_k - t_k).abs() < 1e-9
    {
        change.liquid.1 = 0.0;
        change.invariant = true;
    }
    path
}

/// Ten kelvins, or three tenths of the liquid that is left.
fn pace(state: &State) -> Pace {
    let liquid: f64 = (state.active.iter())
        .filter(|node| node.phase == LIQUID)
        .map(|node| node.amount)
        .sum();
    Pace {
        kelvin: 10.0,
        liquid: 0.3 * liquid.max(1e-12),
        frozen: true,
    }
}

#[derive(Clone, Copy, Debug)]
enum What {
    Enters(usize),
    Leaves(usize),
    /// A phase stops crystallising.
    Stops,
}

#[derive(Clone, Copy, Debug)]
struct Cut {
    /// Of the step.
    share: f64,
    /// Near enough to land on it.
    done: bool,
    /// Near enough if the step is next to nothing: what is left then is the rounding of equilibria.
    close: bool,
    what: What,
}

/// The slope for a unit of path as it is here.
fn at_pace(slope: Slope, state: &State, pace: Pace) -> Slope {
    let liquid: f64 = (state.active.iter().zip(&slope.amount))
        .filter(|(node, _)| node.phase == LIQUID)
        .map(|(_, amount)| amount)
        .sum();
    let units = -liquid / pace.liquid - slope.t_k / pace.kelvin;
    slope.scaled(1.0 / units)
}

/// A place on a step that was made, by the cubic through its ends with their slopes: a length h along one
/// of the length `whole`.
fn between(from: &State, slope: &Slope, step: &Step, whole: f64, h: f64) -> State {
    let (to, after) = (&step.to, &step.slope);
    let cubic = |a: f64, a1: f64, b: f64, b1: f64| cubic(a, a1, b, b1, whole, h);
    let mut state = from.clone();
    state.idle.clone_from(&to.idle);
    (state.t_k, state.mu) = plane_between(from, slope, step, whole, h);
    for (k, node) in state.active.iter_mut().enumerate() {
        let (a, b) = (&from.active[k], &to.active[k]);
        if node.phase == LIQUID {
            node.amount = cubic(a.amount, slope.amount[k], b.amount, after.amount[k]);
        }
        // A compound stays what it is.
        let moves = slope.ln_x[k].iter().any(|rate| *rate != 0.0);
        for i in (0..N).filter(|&i| moves && a.x[i] > 0.0 && b.x[i] > 0.0) {
            let (a1, b1) = (slope.ln_x[k][i], after.ln_x[k][i]);
            let (a, b) = (a.x[i].ln(), b.x[i].ln());
            // What goes out of a phase altogether has no smooth way.
            let ln = cubic(a, a1, b, b1).clamp(a.min(b) - 1.0, a.max(b) + 1.0);
            node.x[i] = ln.exp();
        }
    }
    state
}

/// Temperature and plane of that place alone.
fn plane_between(from: &State, slope: &Slope, step: &Step, whole: f64, h: f64) -> (f64, Vector) {
    let (to, after) = (&step.to, &step.slope);
    let t_k = cubic(from.t_k, slope.t_k, to.t_k, after.t_k, whole, h);
    let mu = std::array::from_fn(|i| {
        let own = |state: &State, slope: &Slope| (state.mu[i] * state.t_k, slope.mu[i] * state.t_k);
        let ((a, a1), (b, b1)) = (own(from, slope), own(to, after));
        cubic(a, a1, b, b1, whole, h) / t_k
    });
    (t_k, mu)
}

/// The cubic from a with the slope a1 to b with b1, a way h along the `whole`.
fn cubic(a: f64, a1: f64, b: f64, b1: f64, whole: f64, h: f64) -> f64 {
    let s = h / whole;
    let (up, off) = (s * s * (3.0 - 2.0 * s), s * (1.0 - s));
    a + (b - a) * up + whole * off * (a1 * (1.0 - s) - b1 * s)
}

fn phases(change: &Change) -> Vec<usize> {
    change.formed.iter().map(|formed| formed.0).collect()
}

fn gap(a: &Node, b: &Node) -> f64 {
    a.x.iter()
        .zip(&b.x)
        .map(|(x, y)| (x - y).abs())
        .fold(0.0, f64::max)
}

fn picked(nodes: &[Node], set: u32, inside: bool) -> impl Iterator<Item = Node> + '_ {
    (nodes.iter().enumerate())
        .filter(move |(k, _)| (set >> k & 1 == 1) == inside)
        .map(|(_, node)| Node {
            amount: 0.0,
            ..node.clone()
        })
}

/// Whether the rest freezes at one temperature: neither it nor a composition moves.
fn still(state: &State, slope: &Slope, pace: Pace) -> bool {
    let moves = |k: usize| {
        state.active[k]
            .x
            .iter()
            .zip(&slope.ln_x[k])
            .any(|(x, rate)| *x > 1e-9 && rate.abs() > 1e-7)
    };
    slope.t_k.abs() < 1e-8 * pace.kelvin
        && (0..state.active.len()).all(|k| state.active[k].phase != LIQUID || !moves(k))
}
