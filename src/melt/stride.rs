//! One step of freezing: as long as its error allows, up to the first change of the phases on the plane.
//!
//! A step is one of the classical fourth-order method of Runge and Kutta. The slope at its end, which the
//! next step begins with, tells its error. Where it went past a change, shorter ones are read off the cubic
//! through its ends, so that a change costs few further evaluations.

use super::path::Stretch;
use super::phase::{N, Vector};
use super::scheil::pace;
use super::solver::{Hold, LIQUID, Node, Pace, Slope, State, Stuck};
use super::walk::{Walker, hold_for, longest, moved, stuck};

/// A phase this far below the plane (over RT) has come in.
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

/// A step of freezing: where it ends, whether at a change, and the slope there, as yet of the old phases.
pub(super) struct Step {
    pub(super) to: State,
    pub(super) changed: bool,
    pub(super) slope: Slope,
}

impl Walker<'_> {
    /// One step, and how long the next may be.
    pub(super) fn freeze(
        &mut self,
        state: &State,
        slope: &Slope,
        pace: Pace,
        reach: &mut f64,
    ) -> Result<Step, Stuck> {
        let mut h = reach.min(longest(state, slope, self.stride * LONGEST));
        let mut last = stuck(state, 0);
        for tries in 0..40 {
            last.iterations = tries;
            let Some((step, cut, better)) = self.whole(state, slope, pace, h) else {
                h *= 0.5;
                continue;
            };
            if better < 0.8 && h > 0.05 {
                h *= better.max(0.2);
                continue;
            }
            *reach = (h * better.clamp(0.5, 1.5)).clamp(0.1, LONGEST);
            let Some(cut) = cut else {
                return Ok(step);
            };
            if let Some(shorter) = self.up_to(cut, state, slope, pace, (h, step)) {
                return Ok(shorter);
            }
            h *= 0.5;
        }
        Err(last)
    }

    /// A whole step, what it went past, and how many times as long it might have been.
    fn whole(
        &mut self,
        from: &State,
        slope: &Slope,
        pace: Pace,
        h: f64,
    ) -> Option<(Step, Option<Cut>, f64)> {
        let (to, fourth) = self.runge_kutta(from, slope, pace, h)?;
        let (step, cut) = self.ended(from, slope, pace, h, to)?;
        // The errors grow with the fourth and the third power of the length.
        let error = error(&fourth, &step, h).max(1e-6);
        let bend = self.bend_of(from, slope, &step).max(1e-6);
        let better = 0.9 * error.powf(-0.25).min(bend.powf(-1.0 / 3.0));
        Some((step, cut, better))
    }

    /// A shorter step, read off the whole one, up to the change that this went past.
    fn up_to(
        &mut self,
        cut: Cut,
        from: &State,
        slope: &Slope,
        pace: Pace,
        (length, whole): (f64, Step),
    ) -> Option<Step> {
        if cut.lands(length) {
            return self.landed(from, whole, cut.what);
        }
        let mut h = length * cut.share.max(1e-6);
        let mut aim = Aim::of(cut, &whole);
        if let Some(aim) = &aim {
            h = (self.touch(from, slope, &whole, length, aim)).unwrap_or(h);
        }
        for tries in 0..40 {
            let read = between(from, slope, &whole, length, h);
            let (step, cut) = self.ended(from, slope, pace, h, read)?;
            if let Some(aim) = &mut aim
                && let Some((place, miss)) = aim.at(&step.to, cut)
            {
                if miss.abs() < LANDS {
                    return self.landed(from, step, What::Enters(place));
                }
                aim.off += miss;
                if tries < 8
                    && let Some(touch) = self.touch(from, slope, &whole, length, aim)
                {
                    h = touch;
                    continue;
                }
            }
            let Some(cut) = cut else {
                return Some(step);
            };
            if cut.lands(h) {
                return self.landed(from, step, cut.what);
            }
            h *= cut.share.max(1e-6);
        }
        None
    }

    /// A step that ends exactly at the change that it has come to, with the slope of what froze up to there.
    fn landed(&mut self, from: &State, near: Step, what: What) -> Option<Step> {
        let to = self.land(&near.to, what)?;
        let slope = match what {
            What::Enters(_) => {
                let mut own = to.clone();
                own.active.truncate(from.active.len());
                self.solver.freezing(&own, pace(&own))?
            }
            What::Leaves(_) | What::Stops => near.slope,
        };
        Some(Step {
            to,
            changed: true,
            slope,
        })
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
        let stretch = Stretch {
            upper: self.end(from, Some(slope)),
            lower: self.end(&step.to, Some(&step.slope)),
        };
        // Where it falls at one temperature there is nothing between.
        let width = stretch.upper.t_k - stretch.lower.t_k;
        if width < CURVE_K || stretch.upper.liquid <= 0.0 || stretch.lower.liquid <= 0.0 {
            return 0.0;
        }
        let (ln, per_k) = stretch.logarithm();
        let off = 0.1 * stretch.off_parabola(ln, per_k).abs();
        (off / CURVE).min(off / (per_k[0].min(per_k[1]).abs() * CURVE_K))
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

    /// Puts the state exactly onto the change that it has come to.
    fn land(&mut self, near: &State, what: What) -> Option<State> {
        let mut state = near.clone();
        let k = match what {
            What::Stops => return Some(state),
            What::Leaves(k) => k,
            What::Enters(i) => {
                let mut node = state.idle.remove(i);
                node.amount = 0.0;
                state.active.push(node);
                state.active.len() - 1
            }
        };
        let there = state.clone();
        let mut landed = Err(());
        if state.active.len() > self.solver.system.n() {
            // An invariant: the temperature follows from the phases alone; all solids have no amount.
            let liquid = state.active.iter().position(|node| node.phase == LIQUID)?;
            let amount = state.active[liquid].amount;
            let hold = Hold::Amount(liquid, amount);
            landed = (self.solver.equilibrate(&mut state, hold)).map_err(|_| ());
        }
        if landed.is_err() {
            state = there;
            self.solver
                .equilibrate(&mut state, Hold::Amount(k, 0.0))
                .ok()?;
        }
        self.drop_solids(&mut state);
        if let What::Leaves(k) = what {
            state.active.remove(k);
            self.take_liquid(&state);
        }
        self.relax_all(&mut state);
        ((state.t_k - near.t_k).abs() < 2.0).then_some(state)
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
    fn of(cut: Cut, whole: &Step) -> Option<Self> {
        let What::Enters(i) = cut.what else {
            return None;
        };
        Some(Aim {
            node: whole.to.idle[i].clone(),
            off: 0.0,
        })
    }

    /// The place of the phase where a step now ends, and how far above the plane; none if something else
    /// comes first.
    fn at(&self, to: &State, cut: Option<Cut>) -> Option<(usize, f64)> {
        let (place, miss) = (to.idle.iter().enumerate())
            .filter(|(_, node)| node.phase == self.node.phase)
            .map(|(place, node)| (place, node.above))
            .min_by(|a, b| a.1.total_cmp(&b.1))?;
        let first = cut.is_none_or(|cut| matches!(cut.what, What::Enters(i) if i == place));
        first.then_some((place, miss))
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

impl Cut {
    /// Whether a step of this length may land on it.
    fn lands(self, h: f64) -> bool {
        self.done || self.share > 0.999 || self.close && h < NO_WAY
    }
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

fn gap(a: &Node, b: &Node) -> f64 {
    a.x.iter()
        .zip(&b.x)
        .map(|(x, y)| (x - y).abs())
        .fold(0.0, f64::max)
}
