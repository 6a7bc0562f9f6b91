//! How a joint really freezes: nothing moves in what is solid (E. Scheil, Z. Metallkd. 34 (1942) 70;
//! G.H. Gulliver, J. Inst. Met. 9 (1913) 120; memory).
//!
//! At each moment the remaining liquid is in equilibrium with what crystallises from it, and
//! `d(f x) = −Σ x_s dN_s`. That is the slope of an equilibrium in which the solids have no amount; it is
//! followed step by step (`stride.rs`), and after each step the remaining liquid is put back into
//! equilibrium. The independent variable is neither temperature nor liquid but a mixture of both, so that
//! neither a long faint tail nor an invariant stops it.

use super::mark::{Mark, Missed};
use super::path::{Change, Path, Stretch};
use super::phase::{N, Vector};
use super::solver::{LIQUID, Node, Pace, Slope, State, Stuck};
use super::walk::{COLDEST_K, MOST_STEPS, PATIENCE, Walker, stuck};

/// Less liquid than this (mass share) no longer counts, where equilibrium has none either.
const LEAST: f64 = 1e-4;
/// Below this nothing counts at all.
const NOTHING: f64 = 1e-9;
/// A phase this near the plane (over RT) is on it.
const TOUCHES: f64 = 1e-6;

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

    /// From here on only the liquid takes part.
    pub(super) fn take_liquid(&mut self, state: &State) {
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

    pub(super) fn drop_solids(&mut self, state: &mut State) {
        for node in &mut state.active {
            if node.phase != LIQUID {
                node.amount = 0.0;
            }
        }
        self.take_liquid(state);
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
pub(super) fn pace(state: &State) -> Pace {
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

/// The slope for a unit of path as it is here.
fn at_pace(slope: Slope, state: &State, pace: Pace) -> Slope {
    let liquid: f64 = (state.active.iter().zip(&slope.amount))
        .filter(|(node, _)| node.phase == LIQUID)
        .map(|(_, amount)| amount)
        .sum();
    let units = -liquid / pace.liquid - slope.t_k / pace.kelvin;
    slope.scaled(1.0 / units)
}

fn phases(change: &Change) -> Vec<usize> {
    change.formed.iter().map(|formed| formed.0).collect()
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::melt::path::End;

    /// Once it was more by 1.08e-5 of the joint (In45.47Bi43.21Cu6.82Zn4.51), where the rest had been put back
    /// into equilibrium in between.
    #[test]
    fn what_freezes_at_once_is_no_more_than_was_there() {
        let end = |t_k: f64, liquid: f64| End {
            t_k,
            liquid,
            slope: 0.0,
        };
        let path = Path {
            stretches: vec![Stretch {
                upper: end(400.0, 1.0),
                lower: end(360.0, 0.1),
            }],
            ..Path::default()
        };
        for (left, want) in [(0.1 + 1.08e-5, 0.1), (0.09, 0.09)] {
            let ended = frozen_at_once(path.clone(), 360.0, left);
            approx::assert_relative_eq!(ended.end_liquid, want);
        }
    }
}
