//! Equilibrium at one temperature from nothing: the lowest plane that carries the blend.
//!
//! Where a walk loses its way (a critical point, a phase that turns up late, a set of phases that cannot
//! be solved for), it is put back on its feet here. Among all compositions of all phases, those that a
//! blend falls into have the least energy: `min Σ a g, Σ a x = z, a ≥ 0`. The simplex method keeps n of
//! them; the plane through them tells, phase by phase, which composition lies furthest below it and
//! comes in next (G.B. Dantzig, P. Wolfe, Oper. Res. 8 (1960) 101; memory). Newton's method finishes.

use super::linear;
use super::phase::{N, Vector};
use super::solver::{Hold, LIQUID, Node, Solver, State};

/// A composition this far below the plane (over RT) still comes in.
const BELOW: f64 = -1e-9;
/// An element may be out by this part of all there is.
const KEPT: f64 = 1e-6;
/// Less than this (over RT) is no matter.
const NEAR: f64 = -1e-5;
/// In each, every composition known may come in once.
const MOST_ROUNDS: usize = 60;
/// Compositions of one phase nearer than this are one, as a first guess and on second thoughts.
const ONE: [f64; 2] = [0.12, 0.02];

impl Solver<'_> {
    /// The equilibrium at a temperature, whatever was there before; what is known of another
    /// temperature shortens the way. It holds as much of every element as there is: amounts below nought
    /// are cut off on the way, and what a walk goes on from must not have made liquid out of nothing.
    pub(super) fn lowest(&mut self, t_k: f64, known: &[&Node]) -> Option<State> {
        self.cheapest(t_k, known)
            .filter(|state| self.adds_up(state))
    }

    fn cheapest(&mut self, t_k: f64, known: &[&Node]) -> Option<State> {
        let mut state = self.all_apart(t_k)?;
        state.idle = known.iter().copied().cloned().collect();
        for round in 1..=MOST_ROUNDS {
            if self.is_worn_out() {
                return None;
            }
            // First what is known to be low, and only then everything.
            let more = self.exchange(&mut state)?;
            if more && round % 3 != 1 {
                continue;
            }
            if let Some(solved) = self.merged(&mut state) {
                return Some(solved);
            }
            self.seed(&mut state);
            if !self.exchange(&mut state)? && !more {
                return Some(state);
            }
        }
        // So near that it makes no difference.
        state
            .idle
            .iter()
            .all(|node| node.above > NEAR)
            .then_some(state)
    }

    fn adds_up(&self, state: &State) -> bool {
        let mut over = self.z.map(|z| -z);
        for node in &state.active {
            for (over, x) in over.iter_mut().zip(self.composition(node)) {
                *over += node.amount * x;
            }
        }
        let total: f64 = self.z.iter().sum();
        over.iter().all(|over| over.abs() < KEPT * total)
    }

    /// Every element a liquid of its own.
    fn all_apart(&mut self, t_k: f64) -> Option<State> {
        let n = self.system.n();
        let mut state = State {
            t_k,
            mu: [0.0; N],
            active: Vec::new(),
            idle: Vec::new(),
        };
        for i in 0..n {
            let mut x = [0.0; N];
            x[..n].fill(1e-12);
            x[i] = 1.0;
            state.active.push(Node::at(LIQUID, x));
        }
        self.weigh(&mut state)?;
        Some(state)
    }

    /// Amounts and plane of n compositions.
    fn weigh(&mut self, state: &mut State) -> Option<()> {
        let n = self.system.n();
        let mut planes = vec![0.0; n * n];
        let mut balances = vec![0.0; n * n];
        let (mut mu, mut amounts) = (vec![0.0; n], vec![1.0; n]);
        for (k, node) in state.active.iter().enumerate() {
            let full = self.composition(node);
            mu[k] = self.energy(node, state.t_k);
            for i in 0..n {
                planes[k * n + i] = full[i];
                balances[i * n + k] = full[i] / self.z[i].max(1e-300);
            }
        }
        linear::solve(&mut planes, &mut mu)?;
        linear::solve(&mut balances, &mut amounts)?;
        state.mu[..n].copy_from_slice(&mu);
        for (node, amount) in state.active.iter_mut().zip(amounts) {
            node.amount = amount.max(0.0);
        }
        state.mu[..n].iter().all(|mu| mu.is_finite()).then_some(())
    }

    /// Lets in what lies below the plane, each in place of another; tells whether anything did.
    fn exchange(&mut self, state: &mut State) -> Option<bool> {
        let mut found: Vec<Node> = Vec::new();
        let known = std::mem::take(&mut state.idle);
        for mut node in known.into_iter().chain(state.active.iter().cloned()) {
            self.relax(&mut node, state, 20);
            node.above = self.energy(&node, state.t_k) - dot(&self.composition(&node), &state.mu);
            if node.above.is_finite() && !found.iter().any(|other| same(other, &node)) {
                found.push(node);
            }
        }
        found.sort_by(|a, b| a.above.total_cmp(&b.above));
        let mut any = false;
        for node in found {
            let above = self.energy(&node, state.t_k) - dot(&self.composition(&node), &state.mu);
            if above < BELOW {
                let old = self.replace(state, node)?;
                state.idle.push(old);
                any = true;
            } else {
                state.idle.push(node);
            }
        }
        Some(any)
    }

    /// One in place of the one that is used up first; gives that back.
    fn replace(&mut self, state: &mut State, node: Node) -> Option<Node> {
        let n = self.system.n();
        let full = self.composition(&node);
        let mut columns = vec![0.0; n * n];
        let mut rates: Vec<f64> = (0..n).map(|i| full[i] / self.z[i].max(1e-300)).collect();
        for (k, old) in state.active.iter().enumerate() {
            let x = self.composition(old);
            for i in 0..n {
                columns[i * n + k] = x[i] / self.z[i].max(1e-300);
            }
        }
        linear::solve(&mut columns, &mut rates)?;
        let room = |k: usize| state.active[k].amount / rates[k];
        let leaving = (0..n)
            .filter(|&k| rates[k] > 1e-14)
            .min_by(|&a, &b| room(a).total_cmp(&room(b)))?;
        let old = std::mem::replace(&mut state.active[leaving], node);
        self.weigh(state)?;
        Some(old)
    }

    /// Takes neighbours of one phase for one, solves exactly, and looks whether anything lies lower:
    /// if so, that is known from now on.
    fn merged(&mut self, state: &mut State) -> Option<State> {
        for one in ONE {
            let mut solved = State {
                active: self.neighbours_as_one(&state.active, one),
                ..state.clone()
            };
            while self
                .equilibrate(&mut solved, Hold::Temperature(state.t_k))
                .is_ok()
            {
                let least = (0..solved.active.len())
                    .min_by(|&a, &b| solved.active[a].amount.total_cmp(&solved.active[b].amount))?;
                if solved.active[least].amount < 0.0 {
                    solved.active.remove(least);
                    continue;
                }
                self.seed(&mut solved);
                let mut idle: Vec<Node> = Vec::new();
                for mut node in std::mem::take(&mut solved.idle) {
                    self.relax(&mut node, &solved, 60);
                    if !(solved.active.iter().chain(&idle)).any(|other| same(other, &node)) {
                        idle.push(node);
                    }
                }
                if idle.iter().all(|node| node.above > 10.0 * BELOW) {
                    solved.idle = idle;
                    return Some(solved);
                }
                state.idle.extend(solved.active.into_iter().chain(idle));
                break;
            }
        }
        None
    }

    fn neighbours_as_one(&self, nodes: &[Node], one: f64) -> Vec<Node> {
        let mut groups: Vec<Node> = Vec::new();
        let total: f64 = self.z.iter().sum();
        for node in nodes.iter().filter(|node| node.amount > 1e-13 * total) {
            let near = groups.iter_mut().find(|g| {
                g.phase == node.phase && (0..N).all(|i| (g.x[i] - node.x[i]).abs() < one)
            });
            let Some(group) = near else {
                groups.push(node.clone());
                continue;
            };
            let sum = group.amount + node.amount;
            for i in 0..N {
                group.x[i] = (group.x[i] * group.amount + node.x[i] * node.amount) / sum;
            }
            group.amount = sum;
        }
        groups
    }
}

fn dot(a: &Vector, b: &Vector) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

fn same(a: &Node, b: &Node) -> bool {
    a.phase == b.phase && (0..N).all(|i| (a.x[i] - b.x[i]).abs() < 1e-3)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::alloy::Element::{Pb, Sn};
    use crate::melt::system::System;

    /// Once 0.0006 of a joint came out as 119 times all of it, and a walk went on from there.
    #[test]
    fn liquid_out_of_nothing_does_not_add_up() {
        let system = System::of(&[Pb, Sn]).unwrap();
        let mut z = Vector::default();
        (z[0], z[1]) = (0.3, 0.7);
        let solver = Solver::new(&system, z);
        let of = |amount: f64| {
            let mut liquid = Node::at(LIQUID, z);
            liquid.amount = amount;
            State {
                t_k: 500.0,
                mu: Vector::default(),
                active: vec![liquid],
                idle: Vec::new(),
            }
        };
        assert!(solver.adds_up(&of(1.0)));
        assert!(!solver.adds_up(&of(119.0)));
        assert!(!solver.adds_up(&of(0.999)));
    }
}
