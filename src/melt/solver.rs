//! Equilibrium of phases: local by Newton's method, global by the driving force of every phase that
//! is not there.
//!
//! At equilibrium all phases touch one plane `Σ μᵢ xᵢ`; no other phase lies below it. A step of
//! Newton's method on chemical potentials μ, amounts, and temperature solves, for n components and p
//! phases, the mass balances `Σ_α a_α x_α = z` and the planes `Σ xᵢ μᵢ = G_α`, with the composition of
//! each phase eliminated by its own `Δx = E (μ − ∇G − ∇G_T ΔT)`, where E inverts the second derivatives
//! on the plane `Σ Δx = 0` (B. Sundman, X.-G. Lu, H. Ohtani, Comput. Mater. Sci. 101 (2015) 127, after
//! M. Hillert; memory). Compositions step in logarithms, so that traces stay positive.

#![expect(clippy::needless_range_loop, reason = "the formulas run over indices")]

use super::gibbs::Powers;
use super::linear;
use super::phase::{AtT, Local, Model, N, Vector};
use super::system::System;

/// The solver gave up.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Stuck {
    pub(super) t_k: f64,
    pub(super) iterations: usize,
    /// Largest relative change in the last step.
    pub(super) residual: f64,
}

/// Where to look for a phase from.
struct Start {
    x: Vector,
    /// The member near whose corner it lies.
    corner: Option<usize>,
}

/// A phase at a composition of its members.
#[derive(Clone, Debug)]
pub(super) struct Node {
    /// Place in the system.
    pub(super) phase: usize,
    pub(super) x: Vector,
    /// In moles of atoms; of the whole, 1 at the start.
    pub(super) amount: f64,
    /// `(G − Σ μᵢ xᵢ)/RT`: how far it lies above the plane.
    pub(super) above: f64,
    /// What is known of it while it lies far above.
    pub(super) afar: Option<Afar>,
}

/// A phase that was found far above the plane, and what went before.
#[derive(Clone, Copy, Debug)]
pub(super) struct Afar {
    above: f64,
    t_k: f64,
    mu: Vector,
    /// d(G/RT)/dT, of it and of each of its members alone.
    per_k: f64,
    of_member: Vector,
}

/// Temperature, plane, the phases on it and those above it.
#[derive(Clone, Debug)]
pub(super) struct State {
    pub(super) t_k: f64,
    /// Chemical potentials over RT.
    pub(super) mu: Vector,
    pub(super) active: Vec<Node>,
    pub(super) idle: Vec<Node>,
}

/// What is held while the balances are solved.
#[derive(Clone, Copy, Debug)]
pub(super) enum Hold {
    /// The temperature, in K.
    Temperature(f64),
    /// The amount of an active phase; the temperature follows.
    Amount(usize, f64),
}

/// How everything moves along a path, a unit of which is set by a [`Pace`].
#[derive(Clone, Debug, Default)]
pub(super) struct Slope {
    pub(super) t_k: f64,
    pub(super) mu: Vector,
    /// d ln x of each active phase.
    pub(super) ln_x: Vec<Vector>,
    pub(super) amount: Vec<f64>,
}

impl Slope {
    /// The same way, so many times as fast.
    pub(super) fn scaled(mut self, by: f64) -> Self {
        self.t_k *= by;
        self.mu = self.mu.map(|mu| mu * by);
        for ln_x in &mut self.ln_x {
            *ln_x = ln_x.map(|x| x * by);
        }
        for amount in &mut self.amount {
            *amount *= by;
        }
        self
    }

    /// This way and so many times another one.
    pub(super) fn plus(mut self, times: f64, other: &Slope) -> Self {
        self.t_k += times * other.t_k;
        for (mu, more) in self.mu.iter_mut().zip(&other.mu) {
            *mu += times * more;
        }
        for (ln_x, more) in self.ln_x.iter_mut().zip(&other.ln_x) {
            for (x, more) in ln_x.iter_mut().zip(more) {
                *x += times * more;
            }
        }
        for (amount, more) in self.amount.iter_mut().zip(&other.amount) {
            *amount += times * more;
        }
        self
    }
}

/// A unit of path: so many kelvins down, or so much less liquid, or a mixture of both.
#[derive(Clone, Copy, Debug)]
pub(super) struct Pace {
    pub(super) kelvin: f64,
    pub(super) liquid: f64,
    /// Solids once frozen take no further part (Scheil–Gulliver).
    pub(super) frozen: bool,
}

/// The curvature of a phase, ready for the balances.
#[derive(Clone, Debug)]
pub(super) struct Bend {
    pub(super) local: Local,
    e: [Vector; N],
}

pub(super) struct Solver<'a> {
    pub(super) system: &'a System,
    /// Moles of each component that take part.
    pub(super) z: Vector,
    prepared: Vec<(f64, AtT)>,
    powers: Powers,
    powers_t: f64,
    /// While set, pieces are those of this temperature.
    pieces_k: Option<f64>,
    pub(super) bends: Vec<Bend>,
    matrix: Vec<f64>,
    rhs: Vec<f64>,
    /// Work done so far, in steps of Newton's method times the square of their size; and the most that is done.
    work: u64,
    pub(super) most_work: u64,
}

const MOST_ITERATIONS: usize = 60;
/// A step that has not converged by then goes to and fro over a break of the functions.
const STUCK_AT_A_BREAK: usize = 25;
/// Steps of Newton's method smaller than this leave an error of their square: 10⁻⁹ of a balance.
const SMALL: f64 = 2e-5;
/// Near enough on the way of freezing, where nothing adds up but what is really there.
const ON_THE_WAY: f64 = 1e-3;
/// Traces of 10⁻⁹ are known to this accuracy only.
const NOISE: f64 = 3e-5;
/// From this mole fraction on a member decides in which valley a composition lies.
const MAJOR: f64 = 0.02;
/// A composition that has moved so far (mole fractions) from where it was put has left that valley.
const LEFT_THE_VALLEY: f64 = 0.45;
/// Lowest points of one phase nearer than this (mole fractions) are one.
const ONE: f64 = 0.01;
/// A lowest point with more of a member than this watches its corner.
const WATCHED: f64 = 0.6;
/// A phase so far above the plane (over RT) need not be looked at again before most of that may be gone,
const FAR: f64 = 0.02;
/// or so many kelvins are.
const FAR_K: f64 = 15.0;
/// What the interaction over RT may change (a heat of mixing of 5 kJ/mol at 450 K).
const SLACK_PER_K: f64 = 3e-3;
/// Most change of ln x a step: to stay in a valley, and to go anywhere.
const VALLEY: f64 = 0.4;
const ANYWHERE: f64 = 2.0;
/// Less than this of all others is near the corner.
const DILUTE: f64 = 0.3;
/// A smaller mole fraction cannot be told from none.
const TINY: f64 = 1e-250;

/// The liquid is the first phase of every system.
pub(super) const LIQUID: usize = 0;

impl<'a> Solver<'a> {
    pub(super) fn new(system: &'a System, z: Vector) -> Self {
        Solver {
            system,
            z,
            prepared: vec![(0.0, AtT::default()); system.phases.len()],
            powers: Powers::at(300.0),
            powers_t: 300.0,
            pieces_k: None,
            bends: Vec::new(),
            matrix: Vec::new(),
            rhs: Vec::new(),
            work: 0,
            most_work: u64::MAX,
        }
    }

    /// Whether so much work has been done that the blend is given up.
    pub(super) fn is_worn_out(&self) -> bool {
        self.work > self.most_work
    }

    fn worked(&mut self, steps: u64, size: usize) {
        self.work += steps * (size * size) as u64;
    }

    #[expect(clippy::float_cmp, reason = "the same temperature, bit for bit")]
    fn prepare(&mut self, phase: usize, t_k: f64) {
        if self.powers_t != t_k {
            self.powers = Powers::with_pieces_of(t_k, self.pieces_k.unwrap_or(t_k));
            self.powers_t = t_k;
        }
        let (at_k, at) = &mut self.prepared[phase];
        if *at_k != t_k {
            *at_k = t_k;
            self.system.phases[phase]
                .model
                .prepare(&self.powers, t_k, at);
        }
    }

    fn eval(&mut self, node: &Node, t_k: f64, out: &mut Local) {
        self.prepare(node.phase, t_k);
        let model = &self.system.phases[node.phase].model;
        model.eval(&self.prepared[node.phase].1, &node.x, out);
    }

    /// Components that a phase takes, and the model's own order of them.
    pub(super) fn members(&self, phase: usize) -> &'a [usize] {
        self.system.phases[phase].model.members()
    }

    /// Mole fraction of each component of the system in a phase.
    pub(super) fn composition(&self, node: &Node) -> Vector {
        composition(&self.system.phases[node.phase].model, &node.x)
    }

    /// Grams of one mole of atoms of a phase.
    pub(super) fn molar_mass(&self, node: &Node) -> f64 {
        let x = self.composition(node);
        x.iter()
            .zip(&self.system.molar_mass)
            .map(|(x, m)| x * m)
            .sum()
    }

    fn bend_all(&mut self, active: &[Node], t_k: f64) -> Option<()> {
        self.bend(active, t_k, true)
    }

    /// The same, but of the liquid no more than the derivatives.
    pub(super) fn bend_crystals(&mut self, active: &[Node], t_k: f64) -> Option<()> {
        self.bend(active, t_k, false)
    }

    fn bend(&mut self, active: &[Node], t_k: f64, liquid_too: bool) -> Option<()> {
        while self.bends.len() < active.len() {
            self.bends.push(Bend {
                local: Local::ZERO,
                e: [[0.0; N]; N],
            });
        }
        for (k, node) in active.iter().enumerate() {
            self.prepare(node.phase, t_k);
            let model = &self.system.phases[node.phase].model;
            let Bend { local, e } = &mut self.bends[k];
            model.eval(&self.prepared[node.phase].1, &node.x, local);
            if liquid_too || node.phase != LIQUID {
                invert(&local.excess, &node.x, model.members().len(), e)?;
            }
        }
        Some(())
    }

    /// Keeps to the pieces that hold at a temperature, or lets go of them.
    fn keep_pieces(&mut self, pieces_k: Option<f64>) {
        if self.pieces_k != pieces_k {
            self.pieces_k = pieces_k;
            self.powers_t = 0.0;
            for (at_k, _) in &mut self.prepared {
                *at_k = 0.0;
            }
        }
    }

    /// Finds the equilibrium of the active phases. Idle phases are not looked at.
    pub(super) fn equilibrate(&mut self, state: &mut State, hold: Hold) -> Result<(), Stuck> {
        let found = self.newton(state, hold, SMALL);
        self.keep_pieces(None);
        found
    }

    /// The same from nearby, to 10⁻⁶ of a composition.
    pub(super) fn settle(&mut self, state: &mut State, hold: Hold) -> Result<(), Stuck> {
        let found = self.newton(state, hold, ON_THE_WAY);
        self.keep_pieces(None);
        found
    }

    fn newton(&mut self, state: &mut State, hold: Hold, small: f64) -> Result<(), Stuck> {
        let (n, p) = (self.system.n(), state.active.len());
        if let Hold::Temperature(t_k) = hold {
            state.t_k = t_k;
        }
        let mut residual = f64::INFINITY;
        for iterations in 0..MOST_ITERATIONS {
            let stuck = Stuck {
                t_k: state.t_k,
                iterations,
                residual,
            };
            self.worked(1, n + p);
            if self.is_worn_out() {
                return Err(stuck);
            }
            if iterations == STUCK_AT_A_BREAK {
                self.keep_pieces(Some(state.t_k));
            }
            self.bend_all(&state.active, state.t_k).ok_or(stuck)?;
            self.balances(state, n, p, hold);
            linear::solve(&mut self.matrix, &mut self.rhs).ok_or(stuck)?;
            let dt = self.rhs[n + p].clamp(-60.0, 60.0);
            residual = dt.abs() / 10.0;
            for (k, node) in state.active.iter_mut().enumerate() {
                residual = residual.max((self.rhs[n + k] - node.amount).abs());
                node.amount = self.rhs[n + k];
                let members = self.members(node.phase);
                let bend = &self.bends[k];
                let step = bend.step(&self.rhs[..n], members, dt);
                residual = residual.max(node.shift(&step, members.len(), 2.0));
            }
            let rt_ratio = state.t_k / (state.t_k + dt);
            for (mu, new) in state.mu.iter_mut().zip(&self.rhs[..n]) {
                *mu = new * rt_ratio;
            }
            state.t_k += dt;
            if !(residual.is_finite() && (100.0..6000.0).contains(&state.t_k)) {
                return Err(Stuck { residual, ..stuck });
            }
            if residual < small || (iterations > STUCK_AT_A_BREAK && residual < NOISE) {
                return Ok(());
            }
        }
        Err(Stuck {
            t_k: state.t_k,
            iterations: MOST_ITERATIONS,
            residual,
        })
    }

    /// The balances, linear in μ/RT, amounts and ΔT.
    fn balances(&mut self, state: &State, n: usize, p: usize, hold: Hold) {
        let size = n + p + 1;
        self.matrix.clear();
        self.matrix.resize(size * size, 0.0);
        self.rhs.clear();
        self.rhs.resize(size, 0.0);
        self.rhs[..n].copy_from_slice(&self.z[..n]);
        for (k, node) in state.active.iter().enumerate() {
            let full = self.composition(node);
            let members = self.members(node.phase);
            let Bend { local, e } = &self.bends[k];
            for (a, &i) in members.iter().enumerate() {
                let (mut along, mut along_t) = (0.0, 0.0);
                for (b, &j) in members.iter().enumerate() {
                    self.matrix[i * size + j] += node.amount * e[a][b];
                    along += e[a][b] * local.grad[b];
                    along_t += e[a][b] * local.grad_t[b];
                }
                self.rhs[i] += node.amount * along;
                self.matrix[i * size + n + p] -= node.amount * along_t;
            }
            for i in 0..n {
                self.matrix[i * size + n + k] = full[i];
                self.matrix[(n + k) * size + i] = full[i];
            }
            self.matrix[(n + k) * size + n + p] = -local.g_t;
            self.rhs[n + k] = local.g;
        }
        for i in 0..n {
            let scale = 1.0 / self.z[i].max(1e-30);
            for entry in &mut self.matrix[i * size..(i + 1) * size] {
                *entry *= scale;
            }
            self.rhs[i] *= scale;
        }
        let last = (n + p) * size;
        match hold {
            Hold::Temperature(_) => self.matrix[last + n + p] = 1.0,
            Hold::Amount(k, amount) => {
                self.matrix[last + n + k] = 1.0;
                self.rhs[n + p] = amount;
            }
        }
    }

    /// How temperature, plane, compositions and amounts move together from an equilibrium.
    pub(super) fn slope(&mut self, state: &State, pace: Pace) -> Option<Slope> {
        let (n, p) = (self.system.n(), state.active.len());
        self.bend_all(&state.active, state.t_k)?;
        let size = n + p + 1;
        self.matrix.clear();
        self.matrix.resize(size * size, 0.0);
        self.rhs.clear();
        self.rhs.resize(size, 0.0);
        let last = (n + p) * size;
        for (k, node) in state.active.iter().enumerate() {
            let full = self.composition(node);
            let members = self.members(node.phase);
            let Bend { local, e } = &self.bends[k];
            let liquid = node.phase == LIQUID;
            if liquid {
                self.matrix[last + n + k] = -1.0 / pace.liquid;
            }
            let amount = if pace.frozen && !liquid {
                0.0
            } else {
                node.amount
            };
            for (a, &i) in members.iter().enumerate() {
                let mut along_t = 0.0;
                for (b, &j) in members.iter().enumerate() {
                    self.matrix[i * size + j] += amount * e[a][b];
                    along_t += e[a][b] * local.grad_t[b];
                }
                self.matrix[i * size + n + p] -= amount * along_t;
            }
            for i in 0..n {
                self.matrix[i * size + n + k] = full[i];
                self.matrix[(n + k) * size + i] = full[i];
            }
            self.matrix[(n + k) * size + n + p] = -local.g_t;
        }
        for i in 0..n {
            let scale = 1.0 / self.z[i].max(1e-30);
            for entry in &mut self.matrix[i * size..(i + 1) * size] {
                *entry *= scale;
            }
        }
        self.matrix[last + n + p] = -1.0 / pace.kelvin;
        self.rhs[n + p] = 1.0;
        linear::solve(&mut self.matrix, &mut self.rhs)?;
        let mut slope = Slope {
            t_k: self.rhs[n + p],
            ..Slope::default()
        };
        slope.mu[..n].copy_from_slice(&self.rhs[..n]);
        for (k, node) in state.active.iter().enumerate() {
            slope.amount.push(self.rhs[n + k]);
            let members = self.members(node.phase);
            let ln_x = self.bends[k].along(node, members, &slope.mu, slope.t_k);
            slope.ln_x.push(ln_x);
        }
        Some(slope)
    }

    /// Gibbs energy of a phase at its composition, over RT.
    pub(super) fn energy(&mut self, node: &Node, t_k: f64) -> f64 {
        self.prepare(node.phase, t_k);
        let model = &self.system.phases[node.phase].model;
        model.energy(&self.prepared[node.phase].1, &node.x).0
    }

    /// Keeps an idle phase at its lowest point above the plane. One that lies far above is left where it
    /// is as long as no composition of it can have come near. True if it was moved.
    ///
    /// At a composition y the distance changes by `Σ yᵢ (cᵢ ΔT − Δμᵢ)`, cᵢ = d(Gᵢ/RT)/dT, and by what the
    /// interaction changes with T; that is no less than the least of the brackets.
    pub(super) fn watch(&mut self, node: &mut Node, state: &State) -> bool {
        if let Some(afar) = &node.afar {
            let kelvins = state.t_k - afar.t_k;
            let full = self.composition(node);
            let mut here = afar.per_k * kelvins;
            for i in 0..self.system.n() {
                here -= full[i] * (state.mu[i] - afar.mu[i]);
            }
            let members = self.members(node.phase);
            let brackets = members.iter().zip(&afar.of_member);
            let least = brackets
                .map(|(&i, c)| c * kelvins - (state.mu[i] - afar.mu[i]))
                .fold(if members.is_empty() { here } else { 0.0 }, f64::min);
            if least - SLACK_PER_K * kelvins.abs() > -0.8 * afar.above && kelvins.abs() < FAR_K {
                node.above = afar.above + here;
                return false;
            }
        }
        self.relax(node, state, 60);
        node.afar = (node.above > FAR).then(|| self.afar(node, state));
        true
    }

    fn afar(&self, node: &Node, state: &State) -> Afar {
        let at = &self.prepared[node.phase].1;
        let (g, g_t) = self.system.phases[node.phase].model.energy(at, &node.x);
        Afar {
            above: node.above,
            t_k: state.t_k,
            mu: state.mu,
            per_k: g_t - g / state.t_k,
            of_member: at.members_per_k(state.t_k),
        }
    }

    /// Moves an idle phase toward its lowest point above the plane; tells how far above it lies.
    pub(super) fn relax(&mut self, node: &mut Node, state: &State, most: usize) -> f64 {
        self.relax_within(node, state, most, 2.0, &[])
    }

    /// The same, with at most so much change of ln x a step: small steps stay in their own valley. It
    /// ends early near one of the compositions that are known.
    fn relax_within(
        &mut self,
        node: &mut Node,
        state: &State,
        most: usize,
        reach: f64,
        known: &[Vector],
    ) -> f64 {
        self.prepare(node.phase, state.t_k);
        let model = &self.system.phases[node.phase].model;
        let at = &self.prepared[node.phase].1;
        let mut local = Local::ZERO;
        let members = model.members();
        if members.is_empty() {
            model.eval_isothermal(at, &node.x, &mut local);
            let full = self.composition(node);
            let plane: f64 = full.iter().zip(&state.mu).map(|(x, mu)| x * mu).sum();
            node.above = local.g - plane;
            return node.above;
        }
        let m = members.len();
        let (start, mut before) = (node.x, node.x);
        // What a step must come down to, and how often it did not.
        let (mut enough, mut rejected) = (f64::INFINITY, 0);
        let (mut step, mut pull) = ([0.0; N], [0.0; N]);
        let mut steps = 0;
        for _ in 0..most {
            steps += 1;
            model.eval_isothermal(at, &node.x, &mut local);
            let mut above = local.g;
            for a in 0..m {
                above -= node.x[a] * state.mu[members[a]];
            }
            node.above = above;
            if above > enough + 1e-9 {
                rejected += 1;
                node.x = before;
                if rejected == 3 {
                    step = along_the_fall(&before, m, &pull);
                }
                node.shift(&step, m, reach * 0.3_f64.powi(rejected));
                continue;
            }
            for a in 0..m {
                pull[a] = state.mu[members[a]] - local.grad[a];
            }
            (before, rejected) = (node.x, 0);
            step = downhill(&mut local.excess, &node.x, m, &pull);
            let gain: f64 = (0..m).map(|a| step[a] * pull[a]).sum();
            let left = (0..m).any(|a| (start[a] - node.x[a]).abs() > LEFT_THE_VALLEY);
            let shift = node.shift(&step, m, if left { reach.max(1.5) } else { reach });
            let first_order: f64 = (0..m).map(|a| pull[a] * (node.x[a] - before[a])).sum();
            enough = above - 0.05 * first_order.max(0.0);
            if shift < 0.05 {
                // Near the lowest point the rest of the way is known to third order.
                node.above = above - 0.5 * gain;
            }
            // Far above, the lowest point itself is no matter.
            let enough_known = shift < if node.above > FAR { 0.05 } else { 2e-3 };
            if enough_known || shift < 0.5 && near(&node.x[..m], known) {
                break;
            }
        }
        self.worked(steps, m);
        node.above
    }

    /// How fast a phase rises above the plane along a slope (over RT, a unit of path).
    pub(super) fn rise(&mut self, node: &Node, state: &State, slope: &Slope) -> f64 {
        let mut local = Local::ZERO;
        self.eval(node, state.t_k, &mut local);
        let full = self.composition(node);
        let plane: f64 = full.iter().zip(&slope.mu).map(|(x, mu)| x * mu).sum();
        local.g_t * slope.t_k - plane
    }

    /// Looks for phases from many starts and keeps every lowest point not yet known.
    pub(super) fn seed(&mut self, state: &mut State) {
        for phase in 0..self.system.phases.len() {
            let members = self.members(phase);
            if members.is_empty() {
                let known = (state.active.iter().chain(&state.idle)).any(|n| n.phase == phase);
                if !known {
                    state.idle.push(Node::at(phase, [1.0; N]));
                }
                continue;
            }
            let mut found: Vec<Vector> = (state.active.iter().chain(&state.idle))
                .filter(|node| node.phase == phase)
                .map(|node| node.x)
                .collect();
            for start in self.starts(state, phase) {
                let mut node = Node::at(phase, start.x);
                let mut reach = VALLEY;
                if let Some(a) = start.corner {
                    match self.dilute(&node, state, a) {
                        Some(x) => node.x = x,
                        None => reach = ANYWHERE,
                    }
                }
                self.relax_within(&mut node, state, 60, reach, &found);
                if node.above.is_finite() && !near(&node.x[..members.len()], &found) {
                    found.push(node.x);
                    state.idle.push(node);
                }
            }
        }
    }

    /// The lowest point near the corner of a member, where the others interact with that member alone
    /// (Henry's law): each as much as its potential asks. None if that is no longer near the corner.
    fn dilute(&mut self, node: &Node, state: &State, a: usize) -> Option<Vector> {
        let members = self.members(node.phase);
        let m = members.len();
        let (model, at) = (
            &self.system.phases[node.phase].model,
            &self.prepared[node.phase].1,
        );
        let mut local = Local::ZERO;
        let mut x = node.x;
        let rest = 1.0 - x[a];
        for b in 0..m {
            x[b] = if b == a {
                1.0
            } else {
                x[b] * 1e-3 / rest.max(1e-9)
            };
        }
        for _ in 0..2 {
            model.eval_isothermal(at, &x, &mut local);
            let own = state.mu[members[a]] - local.grad[a];
            let mut others = 0.0;
            for b in (0..m).filter(|&b| b != a) {
                let pull = state.mu[members[b]] - local.grad[b] - own;
                x[b] = (x[b] * pull.exp()).max(TINY);
                others += x[b];
            }
            if others.is_nan() || others >= DILUTE {
                return None;
            }
            x[a] = 1.0;
            let per_all = 1.0 / (1.0 + others);
            for x in &mut x[..m] {
                *x *= per_all;
            }
        }
        Some(x)
    }

    /// Where to look for a solution phase: near each of its members, and between two that attract each
    /// other strongly.
    fn starts(&mut self, state: &State, phase: usize) -> Vec<Start> {
        self.prepare(phase, state.t_k);
        let members = self.members(phase);
        let total = self.total();
        let share = |a: usize| self.z[members[a]] / total;
        let counts = |a: usize| members.len() == 1 || share(a) > 1e-8;
        let mix = |parts: &[usize]| {
            let mut x = [0.0; N];
            for a in 0..members.len() {
                x[a] = (0.1 * share(a)).max(TINY);
            }
            for &a in parts {
                x[a] += 0.9 / parts.len() as f64;
            }
            let sum: f64 = x[..members.len()].iter().sum();
            x.map(|x| x / sum)
        };
        let watched = |a: usize| {
            (state.active.iter().chain(&state.idle))
                .any(|node| node.phase == phase && node.x[a] > WATCHED)
        };
        let mut starts: Vec<Start> = (0..members.len())
            .filter(|&a| counts(a) && !watched(a))
            .map(|a| Start {
                x: mix(&[a]),
                corner: Some(a),
            })
            .collect();
        if let Model::Solution(s) = &self.system.phases[phase].model {
            let attracted = self.prepared[phase].1.attracted(s);
            let counted = attracted.filter(|&(i, j)| counts(i) && counts(j));
            starts.extend(counted.map(|(i, j)| Start {
                x: mix(&[i, j]),
                corner: None,
            }));
        }
        starts
    }

    fn total(&self) -> f64 {
        self.z.iter().sum()
    }
}

/// Whether a composition is one of those known.
fn near(x: &[f64], known: &[Vector]) -> bool {
    known
        .iter()
        .any(|other| x.iter().zip(other).all(|(a, b)| (a - b).abs() < ONE))
}

/// Multiplies every fraction by what it is pulled with: downhill whatever the curvature.
fn along_the_fall(x: &Vector, m: usize, pull: &Vector) -> Vector {
    let mean: f64 = (0..m).map(|a| x[a] * pull[a]).sum();
    let steepest = (0..m).map(|a| (pull[a] - mean).abs()).fold(1.0, f64::max);
    let mut step = [0.0; N];
    for a in 0..m {
        step[a] = x[a] * (pull[a] - mean) / steepest;
    }
    step
}

fn composition(model: &Model, x: &Vector) -> Vector {
    match model {
        Model::Compound(c) => c.atoms,
        Model::Solution(s) => {
            let mut full = [0.0; N];
            for (local, &i) in s.members.iter().enumerate() {
                full[i] = x[local];
            }
            full
        }
    }
}

impl Node {
    pub(super) fn at(phase: usize, x: Vector) -> Self {
        Node {
            phase,
            x,
            amount: 0.0,
            above: 0.0,
            afar: None,
        }
    }

    /// Moves the composition by a step, in logarithms; returns the largest relative change asked.
    fn shift(&mut self, step: &Vector, m: usize, reach: f64) -> f64 {
        let (mut largest, mut scale) = (0.0_f64, 1.0_f64);
        for a in 0..m {
            let (x, step) = (self.x[a], step[a]);
            largest = largest.max((step / x).abs());
            if x > MAJOR && step < -reach * x {
                scale = scale.min(reach * x / -step);
            } else if x > MAJOR && step > 0.0 {
                scale = scale.min((x * reach.exp_m1()).max(0.2 * reach) / step);
            }
        }
        // As a whole for those that matter, so that downhill stays downhill; one by one for the rest.
        let most = if reach < 0.3 {
            2.5 * reach
        } else {
            reach.max(2.5)
        };
        let mut sum = 0.0;
        for a in 0..m {
            let relative = scale * step[a] / self.x[a];
            let ratio = if self.x[a] > MAJOR && relative > 0.0 {
                1.0 + relative
            } else {
                relative.clamp(-most, most).exp()
            };
            self.x[a] = (self.x[a] * ratio).max(TINY);
            sum += self.x[a];
        }
        if m > 0 {
            for x in &mut self.x[..m] {
                *x /= sum;
            }
        }
        if largest.is_nan() {
            f64::INFINITY
        } else {
            largest
        }
    }
}

impl Bend {
    /// d ln x of a phase that follows a plane and a temperature.
    pub(super) fn along(&self, node: &Node, members: &[usize], mu: &Vector, dt: f64) -> Vector {
        let m = members.len();
        let mut ln_x = [0.0; N];
        for a in 0..m {
            let along: f64 = (0..m)
                .map(|b| self.e[a][b] * (mu[members[b]] - self.local.grad_t[b] * dt))
                .sum();
            ln_x[a] = along / node.x[a];
        }
        ln_x
    }

    /// The step of the composition that goes with a plane and a change of temperature.
    fn step(&self, mu: &[f64], members: &[usize], dt: f64) -> Vector {
        let m = members.len();
        let mut step = [0.0; N];
        for a in 0..m {
            step[a] = (0..m)
                .map(|b| {
                    self.e[a][b] * (mu[members[b]] - self.local.grad[b] - self.local.grad_t[b] * dt)
                })
                .sum();
        }
        step
    }
}

/// The step of Newton's method on the plane `Σ Δx = 0`; inside a spinodal that with less of the excess
/// part, which still leads downhill; at worst that of the ideal part alone.
fn downhill(excess: &mut [Vector; N], x: &Vector, m: usize, pull: &Vector) -> Vector {
    for _ in 0..6 {
        if let Some(step) = newton_step(excess, x, m, pull) {
            return step;
        }
        for row in &mut excess[..m] {
            for entry in &mut row[..m] {
                *entry *= 0.5;
            }
        }
    }
    // Positive by itself.
    newton_step(&[[0.0; N]; N], x, m, pull).unwrap_or([0.0; N])
}

fn newton_step(excess: &[Vector; N], x: &Vector, m: usize, pull: &Vector) -> Option<Vector> {
    match m {
        0 | 1 => Some([0.0; N]),
        2 => step_sized::<2>(excess, x, pull),
        3 => step_sized::<3>(excess, x, pull),
        4 => step_sized::<4>(excess, x, pull),
        5 => step_sized::<5>(excess, x, pull),
        6 => step_sized::<6>(excess, x, pull),
        7 => step_sized::<7>(excess, x, pull),
        8 => step_sized::<8>(excess, x, pull),
        _ => step_sized::<N>(excess, x, pull),
    }
}

/// `E · pull` without E: see [`invert`].
fn step_sized<const M: usize>(excess: &[Vector; N], x: &Vector, pull: &Vector) -> Option<Vector> {
    let (root, lift) = scale::<M>(excess, x);
    let (l, inverse_diagonal) = factor(&root, lift, excess)?;
    let solve = |of: &dyn Fn(usize) -> f64| {
        let mut y = [0.0; M];
        for a in 0..M {
            let mut sum = root[a] * of(a);
            for k in 0..a {
                sum -= l[a][k] * y[k];
            }
            y[a] = sum * inverse_diagonal[a];
        }
        for a in (0..M).rev() {
            let mut sum = y[a];
            for k in a + 1..M {
                sum -= l[k][a] * y[k];
            }
            y[a] = sum * inverse_diagonal[a];
        }
        for a in 0..M {
            y[a] *= root[a];
        }
        y
    };
    let along = solve(&|a| pull[a]);
    let rows = solve(&|_| 1.0);
    let out_of_plane = along.iter().sum::<f64>() / rows.iter().sum::<f64>();
    let mut step = [0.0; N];
    for a in 0..M {
        step[a] = along[a] - rows[a] * out_of_plane;
    }
    Some(step)
}

/// Inverts the second derivatives of a solution on the plane `Σ Δx = 0`. `None` where they are not
/// positive there: inside a spinodal.
///
/// Scaled by √x so that traces do no harm: `B = 1 + √xᵢ (∂²Gᴱ + c) √xⱼ`; c lifts the direction out of
/// the plane, which the projection takes out again.
fn invert(excess: &[Vector; N], x: &Vector, m: usize, e: &mut [Vector; N]) -> Option<()> {
    // This is where most of the time goes: a size known beforehand is three times as fast.
    match m {
        0 | 1 => {
            e[0][0] = 0.0;
            Some(())
        }
        2 => invert_sized::<2>(excess, x, e),
        3 => invert_sized::<3>(excess, x, e),
        4 => invert_sized::<4>(excess, x, e),
        5 => invert_sized::<5>(excess, x, e),
        6 => invert_sized::<6>(excess, x, e),
        7 => invert_sized::<7>(excess, x, e),
        8 => invert_sized::<8>(excess, x, e),
        _ => invert_sized::<N>(excess, x, e),
    }
}

fn invert_sized<const M: usize>(
    excess: &[Vector; N],
    x: &Vector,
    e: &mut [Vector; N],
) -> Option<()> {
    let (root, lift) = scale::<M>(excess, x);
    let inverse = inverse_factor(&root, lift, excess)?;
    // B⁻¹ = L⁻ᵀ L⁻¹.
    let mut rows = [0.0; M];
    for a in 0..M {
        for b in 0..=a {
            let mut sum = 0.0;
            for k in a..M {
                sum += inverse[k][a] * inverse[k][b];
            }
            let entry = root[a] * sum * root[b];
            e[a][b] = entry;
            e[b][a] = entry;
        }
    }
    let mut all = 0.0;
    for a in 0..M {
        rows[a] = e[a][..M].iter().sum();
        all += rows[a];
    }
    let per_all = 1.0 / all;
    for a in 0..M {
        for b in 0..M {
            e[a][b] -= rows[a] * rows[b] * per_all;
        }
    }
    Some(())
}

/// Roots of the fractions, and the lift.
fn scale<const M: usize>(excess: &[Vector; N], x: &Vector) -> ([f64; M], f64) {
    let mut root = [0.0; M];
    let mut lift = 2.0_f64;
    for a in 0..M {
        root[a] = x[a].sqrt();
        for b in 0..M {
            lift = lift.max(excess[a][b].abs());
        }
    }
    (root, lift)
}

/// The Cholesky factor of B, and the inverses of its diagonal.
fn factor<const M: usize>(
    root: &[f64; M],
    lift: f64,
    excess: &[Vector; N],
) -> Option<([[f64; M]; M], [f64; M])> {
    let mut l = [[0.0; M]; M];
    let mut inverse_diagonal = [0.0; M];
    for a in 0..M {
        for b in 0..=a {
            let mut sum = root[a] * (excess[a][b] + lift) * root[b];
            for k in 0..b {
                sum -= l[a][k] * l[b][k];
            }
            if a == b {
                sum += 1.0;
                if sum <= 1e-9 || sum.is_nan() {
                    return None;
                }
                l[a][a] = sum.sqrt();
                inverse_diagonal[a] = 1.0 / l[a][a];
            } else {
                l[a][b] = sum * inverse_diagonal[b];
            }
        }
    }
    Some((l, inverse_diagonal))
}

/// The inverse of the Cholesky factor of B.
fn inverse_factor<const M: usize>(
    root: &[f64; M],
    lift: f64,
    excess: &[Vector; N],
) -> Option<[[f64; M]; M]> {
    let (l, inverse_diagonal) = factor(root, lift, excess)?;
    let mut inverse = [[0.0; M]; M];
    for a in 0..M {
        inverse[a][a] = inverse_diagonal[a];
        for b in 0..a {
            let mut sum = 0.0;
            for k in b..a {
                sum -= l[a][k] * inverse[k][b];
            }
            inverse[a][b] = sum * inverse_diagonal[a];
        }
    }
    Some(inverse)
}
