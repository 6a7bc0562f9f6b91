//! How one liquid moves while what crystallises from it is set aside.
//!
//! With f the amount of liquid x, `d(f x) = −Σ x_s dN_s` gives `dx = −Σ (x_s − x) dN_s/f`. Each crystal s
//! stays on the liquid's plane: `x_s · dμ = ∂G_s/∂T dT`, with `dμ = H dx + ∂μ/∂T dT` and H the second
//! derivatives of the liquid's Gibbs energy. So for p crystals there are p equations,
//! `Σ_r (D_s·H D_r) dN_r/f = b_s dT`, `D_s = x_s − x`, and b_s the entropy that s gives off, and one more
//! for the pace. It is what [`Solver::slope`] solves for crystals without amount, written out.

use super::linear;
use super::phase::{N, Vector};
use super::solver::{LIQUID, Pace, Slope, Solver, State};

/// Liquid, crystals, and the condition for the pace.
const MOST: usize = N + 2;

impl Solver<'_> {
    /// The slope of freezing. Two liquids at once are a matter for the general [`Solver::slope`].
    pub(super) fn freezing(&mut self, state: &State, pace: Pace) -> Option<Slope> {
        let mut liquids = (0..state.active.len()).filter(|&k| state.active[k].phase == LIQUID);
        let liquid = liquids.next()?;
        if liquids.next().is_some() || state.active.len() > MOST {
            return self.slope(state, pace);
        }
        self.bend_crystals(&state.active, state.t_k)?;
        let n = self.system.n();
        let (f, x) = (state.active[liquid].amount, &state.active[liquid].x);
        let crystals: Vec<usize> = (0..state.active.len()).filter(|&k| k != liquid).collect();
        let p = crystals.len();
        let size = p + 1;
        let (mut apart, mut bent) = ([[0.0; N]; MOST], [[0.0; N]; MOST]);
        let mut matrix = [0.0; MOST * MOST];
        let mut rates = [0.0; MOST];
        let melt = &self.bends[liquid].local;
        for (s, &k) in crystals.iter().enumerate() {
            let full = self.composition(&state.active[k]);
            let mut entropy = melt.g_t - self.bends[k].local.g_t;
            for i in 0..n {
                apart[s][i] = full[i] - x[i];
                entropy += apart[s][i] * melt.grad_t[i];
            }
            for i in 0..n {
                let mixed: f64 = (0..n).map(|j| melt.excess[i][j] * apart[s][j]).sum();
                bent[s][i] = mixed + apart[s][i] / x[i];
            }
            for r in 0..=s {
                let both: f64 = (0..n).map(|i| apart[r][i] * bent[s][i]).sum();
                matrix[s * size + r] = -both;
                matrix[r * size + s] = -both;
            }
            matrix[s * size + p] = entropy;
            matrix[p * size + s] = f / pace.liquid;
        }
        matrix[p * size + p] = -1.0 / pace.kelvin;
        rates[p] = 1.0;
        linear::solve(&mut matrix[..size * size], &mut rates[..size])?;
        let dt = rates[p];
        let (mut dx, mut mu) = (Vector::default(), Vector::default());
        for i in 0..n {
            dx[i] = -(0..p).map(|s| apart[s][i] * rates[s]).sum::<f64>();
            mu[i] = melt.grad_t[i] * dt - (0..p).map(|s| bent[s][i] * rates[s]).sum::<f64>();
        }
        // Gibbs and Duhem: the liquid itself stays on its plane.
        let off = melt.g_t * dt - (0..n).map(|i| x[i] * mu[i]).sum::<f64>();
        for mu in &mut mu[..n] {
            *mu += off;
        }
        let mut slope = Slope {
            t_k: dt,
            mu,
            ..Slope::default()
        };
        for (k, node) in state.active.iter().enumerate() {
            if k == liquid {
                slope.amount.push(-f * rates[..p].iter().sum::<f64>());
                let mut ln_x = [0.0; N];
                for i in 0..n {
                    ln_x[i] = dx[i] / x[i];
                }
                slope.ln_x.push(ln_x);
            } else {
                let s = if k < liquid { k } else { k - 1 };
                slope.amount.push(f * rates[s]);
                slope
                    .ln_x
                    .push(self.bends[k].along(node, self.members(node.phase), &mu, dt));
            }
        }
        Some(slope)
    }
}
