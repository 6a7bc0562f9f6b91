//! Phase models: the Gibbs energy of a phase at a temperature and composition, with its exact first
//! and second derivatives.
//!
//! Solutions are substitutional:
//! `G = Σ xᵢ Gᵢ + RT Σ xᵢ ln xᵢ + Σ_{i<j} xᵢ xⱼ Σ_k L_k (xᵢ − xⱼ)^k + ternary`, the Redlich–Kister
//! series with Muggianu's extrapolation (O. Redlich, A.T. Kister, Ind. Eng. Chem. 40 (1948) 345;
//! Y.-M. Muggianu, M. Gambino, J.-P. Bros, J. Chim. Phys. 72 (1975) 83; memory). A ternary
//! parameter adds `xᵢ xⱼ x_k L`, or with three orders `xᵢ xⱼ x_k Σ L_n v_n` where
//! `v_n = x_n + (1 − xᵢ − xⱼ − x_k)/3`. Elements in the order of their symbols fix the sign of odd k.

#![expect(clippy::needless_range_loop, reason = "the formulas run over indices")]

use super::gibbs::{Gibbs, Powers};

/// Gas constant in J/(mol·K), the value that the phase data were assessed with.
pub(super) const R: f64 = 8.3145;

/// Most components a system can have: the covered elements.
pub(super) const N: usize = 10;

/// One number a component.
pub(super) type Vector = [f64; N];

#[derive(Clone, Debug)]
pub(super) struct Pair {
    pub(super) i: usize,
    pub(super) j: usize,
    /// `L_k(T) = a + b·T + c·T·ln T` for k = 0 to 3.
    pub(super) abc: [[f64; 3]; 4],
    /// From this k on all are nought.
    pub(super) orders: usize,
}

#[derive(Clone, Debug)]
pub(super) struct Triple {
    pub(super) ijk: [usize; 3],
    /// Three equal ones where the parameter is symmetric, since then `Σ v_n = 1`.
    pub(super) abc: [[f64; 3]; 3],
}

/// A substitutional solution over some components. Places in `pairs` and `triples` are places in
/// `members`.
#[derive(Clone, Debug)]
pub(super) struct Solution {
    pub(super) members: Vec<usize>,
    pub(super) unary: Vec<Gibbs>,
    pub(super) pairs: Vec<Pair>,
    pub(super) triples: Vec<Triple>,
}

/// A phase of fixed composition.
#[derive(Clone, Debug)]
pub(super) struct Compound {
    /// Atom fraction of each component of the system.
    pub(super) atoms: Vector,
    pub(super) g: Gibbs,
}

#[derive(Clone, Debug)]
pub(super) enum Model {
    Solution(Solution),
    Compound(Compound),
}

/// What a model needs of the temperature, worked out once for each.
#[derive(Clone, Debug, Default)]
pub(super) struct AtT {
    rt: f64,
    unary: Vec<(f64, f64)>,
    pairs: Vec<[(f64, f64); 4]>,
    triples: Vec<[(f64, f64); 3]>,
}

/// A phase at a temperature and composition, all divided by RT.
#[derive(Clone, Debug)]
pub(super) struct Local {
    /// Gibbs energy of a mole of atoms.
    pub(super) g: f64,
    /// Its derivative to T, times one kelvin.
    pub(super) g_t: f64,
    /// Derivatives to the amounts fractions of the members, taken as independent.
    pub(super) grad: Vector,
    /// Their derivatives to T.
    pub(super) grad_t: Vector,
    /// Second derivatives of the excess part alone: the ideal part is `1/xᵢ` on the diagonal.
    pub(super) excess: [Vector; N],
}

impl Local {
    pub(super) const ZERO: Local = Local {
        g: 0.0,
        g_t: 0.0,
        grad: [0.0; N],
        grad_t: [0.0; N],
        excess: [[0.0; N]; N],
    };
}

impl AtT {
    /// d(G/RT)/dT of each member alone.
    pub(super) fn members_per_k(&self, t_k: f64) -> Vector {
        let mut per_k = [0.0; N];
        for (per_k, (g, g_t)) in per_k.iter_mut().zip(&self.unary) {
            *per_k = (g_t - g / t_k) / self.rt;
        }
        per_k
    }

    /// Pairs of members that attract each other so strongly that they may part from the others.
    pub(super) fn attracted<'a>(
        &'a self,
        solution: &'a Solution,
    ) -> impl Iterator<Item = (usize, usize)> + 'a {
        (solution.pairs.iter().zip(&self.pairs))
            .filter(|(_, l)| l[0].0 < -2.0 * self.rt)
            .map(|(pair, _)| (pair.i, pair.j))
    }
}

impl Model {
    /// Components of the system that a solution takes; none for a compound.
    pub(super) fn members(&self) -> &[usize] {
        match self {
            Model::Solution(s) => &s.members,
            Model::Compound(_) => &[],
        }
    }

    /// Prepares the model for a temperature.
    pub(super) fn prepare(&self, powers: &Powers, t_k: f64, at: &mut AtT) {
        at.rt = R * t_k;
        match self {
            Model::Compound(c) => {
                at.unary.clear();
                at.unary.push(c.g.at(powers));
            }
            Model::Solution(s) => {
                at.unary.resize(s.unary.len(), (0.0, 0.0));
                for (at, g) in at.unary.iter_mut().zip(&s.unary) {
                    *at = g.at(powers);
                }
                at.pairs.resize(s.pairs.len(), [(0.0, 0.0); 4]);
                for (at, pair) in at.pairs.iter_mut().zip(&s.pairs) {
                    for (at, abc) in at.iter_mut().zip(&pair.abc).take(pair.orders) {
                        *at = powers.short(*abc);
                    }
                }
                at.triples.resize(s.triples.len(), [(0.0, 0.0); 3]);
                for (at, triple) in at.triples.iter_mut().zip(&s.triples) {
                    for (at, abc) in at.iter_mut().zip(&triple.abc) {
                        *at = powers.short(*abc);
                    }
                }
            }
        }
    }

    /// Evaluates it at a composition of its members.
    pub(super) fn eval(&self, at: &AtT, x: &Vector, out: &mut Local) {
        self.eval_with::<true>(at, x, out);
    }

    /// The same without the derivatives to T, which keep their old values.
    pub(super) fn eval_isothermal(&self, at: &AtT, x: &Vector, out: &mut Local) {
        self.eval_with::<false>(at, x, out);
    }

    /// The Gibbs energy and its derivative to T alone, over RT.
    pub(super) fn energy(&self, at: &AtT, x: &Vector) -> (f64, f64) {
        let (g, g_t) = match self {
            Model::Compound(_) => at.unary.first().copied().unwrap_or_default(),
            Model::Solution(s) => s.energy(at, x),
        };
        (g / at.rt, g_t / at.rt)
    }

    fn eval_with<const WITH_T: bool>(&self, at: &AtT, x: &Vector, out: &mut Local) {
        match self {
            Model::Compound(_) => {
                let (g, g_t) = at.unary.first().copied().unwrap_or_default();
                out.g = g / at.rt;
                out.g_t = g_t / at.rt;
            }
            Model::Solution(s) => s.eval::<WITH_T>(at, x, out),
        }
    }
}

impl Solution {
    fn energy(&self, at: &AtT, x: &Vector) -> (f64, f64) {
        let (mut g, mut g_t) = (0.0, 0.0);
        for (x, unary) in x.iter().zip(&at.unary) {
            let ln = x.ln();
            g += x * (unary.0 + at.rt * ln);
            g_t += x * (unary.1 + R * ln);
        }
        for (pair, l) in self.pairs.iter().zip(&at.pairs) {
            let (xx, d) = (x[pair.i] * x[pair.j], x[pair.i] - x[pair.j]);
            let series = |of: [f64; 4]| of[0] + d * (of[1] + d * (of[2] + d * of[3]));
            g += xx * series(l.map(|l| l.0));
            g_t += xx * series(l.map(|l| l.1));
        }
        for (triple, l) in self.triples.iter().zip(&at.triples) {
            let xs = triple.ijk.map(|n| x[n]);
            let rest = (1.0 - xs[0] - xs[1] - xs[2]) / 3.0;
            let product = xs[0] * xs[1] * xs[2];
            for (x, l) in xs.iter().zip(l) {
                g += product * l.0 * (x + rest);
                g_t += product * l.1 * (x + rest);
            }
        }
        (g, g_t)
    }

    fn eval<const WITH_T: bool>(&self, at: &AtT, x: &Vector, out: &mut Local) {
        let m = self.members.len();
        for row in &mut out.excess[..m] {
            row[..m].fill(0.0);
        }
        (out.g, out.g_t) = (0.0, 0.0);
        for i in 0..m {
            let (g, g_t) = at.unary[i];
            let ln = x[i].ln();
            out.g += x[i] * (g + at.rt * ln);
            out.grad[i] = g + at.rt * (ln + 1.0);
            if WITH_T {
                out.g_t += x[i] * (g_t + R * ln);
                out.grad_t[i] = g_t + R * (ln + 1.0);
            }
        }
        for (pair, l) in self.pairs.iter().zip(&at.pairs) {
            add_pair::<WITH_T>(pair, l, x, out);
        }
        for (triple, l) in self.triples.iter().zip(&at.triples) {
            add_triple::<WITH_T>(triple, l, x, out);
        }
        let per_rt = 1.0 / at.rt;
        out.g *= per_rt;
        for i in 0..m {
            out.grad[i] *= per_rt;
            for j in 0..m {
                out.excess[i][j] *= per_rt;
            }
        }
        if WITH_T {
            out.g_t *= per_rt;
            for grad_t in &mut out.grad_t[..m] {
                *grad_t *= per_rt;
            }
        }
    }
}

/// `xᵢ xⱼ P(d)` with `P = Σ L_k d^k`, `d = xᵢ − xⱼ`.
fn add_pair<const WITH_T: bool>(pair: &Pair, l: &[(f64, f64); 4], x: &Vector, out: &mut Local) {
    let (i, j) = (pair.i, pair.j);
    let (xi, xj) = (x[i], x[j]);
    let d = xi - xj;
    let p = l[0].0 + d * (l[1].0 + d * (l[2].0 + d * l[3].0));
    let p1 = l[1].0 + d * (2.0 * l[2].0 + d * 3.0 * l[3].0);
    let p2 = 2.0 * l[2].0 + d * 6.0 * l[3].0;
    let xx = xi * xj;
    out.g += xx * p;
    out.grad[i] += xj * p + xx * p1;
    out.grad[j] += xi * p - xx * p1;
    if WITH_T {
        let p_t = l[0].1 + d * (l[1].1 + d * (l[2].1 + d * l[3].1));
        let p1_t = l[1].1 + d * (2.0 * l[2].1 + d * 3.0 * l[3].1);
        out.g_t += xx * p_t;
        out.grad_t[i] += xj * p_t + xx * p1_t;
        out.grad_t[j] += xi * p_t - xx * p1_t;
    }
    out.excess[i][i] += 2.0 * xj * p1 + xx * p2;
    out.excess[j][j] += -2.0 * xi * p1 + xx * p2;
    let mixed = p + d * p1 - xx * p2;
    out.excess[i][j] += mixed;
    out.excess[j][i] += mixed;
}

/// `xᵢ xⱼ x_k W` with `W = Σ L_n v_n`; `∂W/∂x_n = L_n − (L₀+L₁+L₂)/3`.
fn add_triple<const WITH_T: bool>(
    triple: &Triple,
    l: &[(f64, f64); 3],
    x: &Vector,
    out: &mut Local,
) {
    let places = triple.ijk;
    let xs = places.map(|n| x[n]);
    let rest = (1.0 - xs[0] - xs[1] - xs[2]) / 3.0;
    let mean = (l[0].0 + l[1].0 + l[2].0) / 3.0;
    let mean_t = (l[0].1 + l[1].1 + l[2].1) / 3.0;
    let (mut w, mut w_t) = (0.0, 0.0);
    for n in 0..3 {
        w += l[n].0 * (xs[n] + rest);
        w_t += l[n].1 * (xs[n] + rest);
    }
    let product = xs[0] * xs[1] * xs[2];
    out.g += product * w;
    if WITH_T {
        out.g_t += product * w_t;
    }
    for a in 0..3 {
        let (b, c) = ((a + 1) % 3, (a + 2) % 3);
        let others = xs[b] * xs[c];
        let (wa, wb) = (l[a].0 - mean, l[b].0 - mean);
        out.grad[places[a]] += others * w + product * wa;
        if WITH_T {
            out.grad_t[places[a]] += others * w_t + product * (l[a].1 - mean_t);
        }
        out.excess[places[a]][places[a]] += 2.0 * others * wa;
        let mixed = xs[c] * w + others * wb + xs[a] * xs[c] * wa;
        out.excess[places[a]][places[b]] += mixed;
        out.excess[places[b]][places[a]] += mixed;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::alloy::Element;
    use crate::melt::gibbs::Powers;
    use crate::melt::system::System;
    use approx::assert_relative_eq;

    /// A reproducible number in 0 to 1.
    fn next(seed: &mut u64) -> f64 {
        *seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
        (*seed >> 11) as f64 / (1_u64 << 53) as f64
    }

    fn everything() -> std::sync::Arc<System> {
        let covered: Vec<Element> = Element::all().filter(|e| e.is_covered()).collect();
        System::of(&covered).unwrap()
    }

    fn at(model: &Model, x: &Vector, t_k: f64) -> Local {
        let (mut prepared, mut local) = (AtT::default(), Local::ZERO);
        model.prepare(&Powers::at(t_k), t_k, &mut prepared);
        model.eval(&prepared, x, &mut local);
        local
    }

    fn somewhere(seed: &mut u64, m: usize) -> Vector {
        let mut x = [0.0; N];
        for x in &mut x[..m] {
            *x = 0.02 + next(seed);
        }
        let sum: f64 = x.iter().sum();
        x.map(|x| x / sum)
    }

    /// First and second derivatives against central differences of the energy itself.
    #[test]
    fn derivatives_are_those_of_the_energy() {
        let system = everything();
        let mut seed = 7;
        for phase in &system.phases {
            let m = phase.model.members().len();
            for _ in 0..20 {
                let t_k = 350.0 + 500.0 * next(&mut seed);
                let x = somewhere(&mut seed, m.max(1));
                let here = at(&phase.model, &x, t_k);
                let mut prepared = AtT::default();
                phase.model.prepare(&Powers::at(t_k), t_k, &mut prepared);
                let (alone, alone_t) = phase.model.energy(&prepared, &x);
                assert_relative_eq!(alone, here.g, max_relative = 1e-12);
                assert_relative_eq!(alone_t, here.g_t, max_relative = 1e-12);
                let h = 1e-3;
                let g = |t: f64| at(&phase.model, &x, t).g * R * t;
                let slope = (g(t_k + h) - g(t_k - h)) / (2.0 * h);
                assert_relative_eq!(
                    here.g_t * R * t_k,
                    slope,
                    max_relative = 1e-5,
                    epsilon = 1e-3
                );
                for a in 0..m {
                    let moved = |by: f64| {
                        let mut y = x;
                        y[a] += by;
                        at(&phase.model, &y, t_k)
                    };
                    let (up, down) = (moved(1e-5), moved(-1e-5));
                    let first = (up.g - down.g) / 2e-5;
                    assert_relative_eq!(here.grad[a], first, max_relative = 1e-5, epsilon = 1e-5);
                    for b in 0..m {
                        let second = (up.grad[b] - down.grad[b]) / 2e-5;
                        let ideal = if a == b { 1.0 / x[a] } else { 0.0 };
                        let exact = here.excess[a][b] + ideal;
                        assert_relative_eq!(exact, second, max_relative = 1e-4, epsilon = 1e-4);
                    }
                }
            }
        }
    }

    /// Gibbs–Duhem: at constant temperature `Σ xᵢ dμᵢ = 0` along any change of composition.
    #[test]
    fn chemical_potentials_obey_gibbs_duhem() {
        let system = everything();
        let mut seed = 11;
        for phase in &system.phases {
            let m = phase.model.members().len();
            let mu = |x: &Vector, t_k: f64| {
                let local = at(&phase.model, x, t_k);
                let mean: f64 = (0..m).map(|a| x[a] * local.grad[a]).sum();
                local.grad.map(|grad| local.g + grad - mean)
            };
            for _ in 0..20 {
                let x = somewhere(&mut seed, m);
                let toward = somewhere(&mut seed, m);
                let shifted = |by: f64| {
                    let mut y = x;
                    for a in 0..m {
                        y[a] += by * (toward[a] - x[a]);
                    }
                    mu(&y, 480.0)
                };
                let (up, down) = (shifted(1e-5), shifted(-1e-5));
                let sum: f64 = (0..m).map(|a| x[a] * (up[a] - down[a]) / 2e-5).sum();
                assert!(sum.abs() < 1e-5, "{}: {sum}", phase.name);
            }
        }
    }

    /// Melting points and enthalpies of fusion in kJ/mol. Source: A.T. Dinsdale, Calphad 15 (1991) 317
    /// (values from memory; the melting points are those of ITS-90 to 0.1 K).
    #[test]
    fn pure_elements_melt_where_and_as_they_should() {
        use Element::{Ag, Au, Bi, Cu, In, Pb, Sb, Sn, Zn};
        for (element, melts_k, fusion_kj) in [
            (Ag, 1234.93, 11.297),
            (Au, 1337.33, 12.552),
            (Bi, 544.55, 11.297),
            (Cu, 1357.77, 13.263),
            (In, 429.75, 3.283),
            (Pb, 600.61, 4.774),
            (Sb, 903.78, 19.874),
            (Sn, 505.08, 7.029),
            (Zn, 692.68, 7.322),
        ] {
            let system = System::of(&[element]).unwrap();
            let mut pure = [0.0; N];
            pure[0] = 1.0;
            let energy = |phase: usize, t_k: f64| {
                let local = at(&system.phases[phase].model, &pure, t_k);
                (local.g * R * t_k, local.g_t * R * t_k)
            };
            // The crystal is the lowest phase just below the melting point.
            let below = melts_k - 2.0;
            let crystal = (1..system.phases.len())
                .min_by(|&a, &b| energy(a, below).0.total_cmp(&energy(b, below).0))
                .unwrap();
            let difference = |t_k: f64| energy(0, t_k).0 - energy(crystal, t_k).0;
            assert!(
                difference(melts_k - 0.1) > 0.0,
                "{element} is liquid too early"
            );
            assert!(
                difference(melts_k + 0.1) < 0.0,
                "{element} is solid too long"
            );
            let t_k = melts_k - 0.01;
            let (liquid, solid) = (energy(0, t_k), energy(crystal, t_k));
            let fusion = (liquid.0 - t_k * liquid.1) - (solid.0 - t_k * solid.1);
            assert!(
                (fusion / 1000.0 - fusion_kj).abs() < 0.02,
                "{element}: {fusion} J/mol"
            );
        }
    }
}
