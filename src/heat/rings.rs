//! A thin plate heated alike around one axis, solved exactly ring by ring with modified Bessel
//! functions.
//!
//! In each ring `K (θ'' + θ'/r) = g θ − q` with constant sheet conduction `K`, loss `g` and heat `q`, so
//! `θ = q/g + A I₀(M r) + B K₀(M r)`, `M² = g/K` (Carslaw & Jaeger, *Conduction of Heat in Solids*, 2nd
//! ed. 1959; from memory). Temperature and flux are continuous at each edge: a tridiagonal system for
//! the temperatures there. Exponentially scaled functions keep wide rings from overflowing.

use spec_math::Bessel;

/// One ring: everything inside `to_m` that no ring before it covers.
#[derive(Clone, Copy, Debug)]
pub struct Ring {
    /// Outer radius, m.
    pub to_m: f64,
    /// Heat into it at θ = 0, W/m².
    pub heat_w_m2: f64,
    /// Loss for each kelvin, W/m²K.
    pub loss_w_m2k: f64,
}

/// What lies beyond the last ring.
#[derive(Clone, Copy, Debug)]
pub enum Beyond {
    /// Nothing: an insulated rim.
    Rim,
    /// An endless plate with this loss, W/m²K, and no heat.
    Plate {
        /// Loss for each kelvin, W/m²K.
        loss_w_m2k: f64,
    },
}

/// Scaled Bessel functions at one argument.
#[derive(Clone, Copy, Debug)]
struct At {
    x: f64,
    i0: f64,
    i1: f64,
    k0: f64,
    k1: f64,
}

impl At {
    fn new(x: f64) -> Self {
        At {
            x,
            i0: x.bessel_i0e(),
            i1: x.bessel_i1e(),
            k0: x.bessel_k0e(),
            k1: x.bessel_k1e(),
        }
    }
}

#[derive(Clone, Copy, Debug)]
struct Zone {
    from_m: f64,
    to_m: f64,
    /// `M`, 1/m.
    rate: f64,
    /// `q/g`, K: where the ring would settle by itself.
    level: f64,
    inner: At,
    outer: At,
    /// `[I₀(x₂)K₀(x₁) − K₀(x₂)I₀(x₁)] e^(x₁−x₂)`.
    span: f64,
}

impl Zone {
    fn new(from_m: f64, ring: &Ring, sheet_w_k: f64) -> Self {
        let rate = (ring.loss_w_m2k / sheet_w_k).sqrt();
        let inner = At::new((rate * from_m).max(f64::MIN_POSITIVE));
        let outer = At::new(rate * ring.to_m);
        let fade = (2.0 * (inner.x - outer.x)).exp();
        Zone {
            from_m,
            to_m: ring.to_m,
            rate,
            level: ring.heat_w_m2 / ring.loss_w_m2k,
            inner,
            outer,
            span: outer.i0 * inner.k0 - outer.k0 * inner.i0 * fade,
        }
    }

    fn fade(&self) -> f64 {
        (self.inner.x - self.outer.x).exp()
    }

    /// Of `dθ/dr` at the inner edge: factors of `θ_in − level` and `θ_out − level`.
    fn slope_inside(&self) -> (f64, f64) {
        let (a, b, fade) = (&self.inner, &self.outer, self.fade());
        let own = self.rate * (a.i1 * b.k0 * fade * fade + a.k1 * b.i0) / self.span;
        (-own, fade / (self.from_m * self.span))
    }

    /// The same at the outer edge.
    fn slope_outside(&self) -> (f64, f64) {
        let (a, b, fade) = (&self.inner, &self.outer, self.fade());
        let own = self.rate * (b.i1 * a.k0 + b.k1 * a.i0 * fade * fade) / self.span;
        (-fade / (self.to_m * self.span), own)
    }

    /// θ at `r`, from θ at both edges.
    fn theta(&self, r: f64, inner: f64, outer: f64) -> f64 {
        let x = self.rate * r;
        if self.from_m <= 0.0 {
            let ratio = x.bessel_i0e() / self.outer.i0 * (x - self.outer.x).exp();
            return self.level + (outer - self.level) * ratio;
        }
        let (a, b) = (&self.inner, &self.outer);
        let (i0, k0) = (x.bessel_i0e(), x.bessel_k0e());
        let near = (k0 * b.i0 - i0 * b.k0 * (2.0 * (x - b.x)).exp()) * (a.x - x).exp() / self.span;
        let far = (i0 * a.k0 - k0 * a.i0 * (2.0 * (a.x - x)).exp()) * (x - b.x).exp() / self.span;
        self.level + (inner - self.level) * near + (outer - self.level) * far
    }
}

/// The solved plate.
#[derive(Clone, Debug)]
pub struct Rings {
    zones: Vec<Zone>,
    /// θ at the outer edge of each zone, K.
    edges: Vec<f64>,
    /// `m` beyond the last ring and `K₀(m r_N)` scaled; none with a rim.
    beyond: Option<At>,
    beyond_rate: f64,
}

impl Rings {
    /// `rings` from the axis outward, at least one, radii rising, every loss positive.
    pub fn solve(rings: &[Ring], beyond: Beyond, sheet_w_k: f64) -> Self {
        let mut zones = Vec::with_capacity(rings.len());
        let mut from = 0.0;
        for ring in rings {
            zones.push(Zone::new(from, ring, sheet_w_k));
            from = ring.to_m;
        }
        let (beyond_rate, outside) = match beyond {
            Beyond::Rim => (0.0, None),
            Beyond::Plate { loss_w_m2k } => {
                let rate = (loss_w_m2k / sheet_w_k).sqrt();
                (rate, Some(At::new(rate * from)))
            }
        };
        let edges = edge_temperatures(&zones, beyond_rate, outside);
        Rings {
            zones,
            edges,
            beyond: outside,
            beyond_rate,
        }
    }

    /// θ at distance `r` from the axis, K; beyond a rim, that of the rim.
    pub fn theta(&self, r: f64) -> f64 {
        let Some(index) = self.zones.iter().position(|zone| r <= zone.to_m) else {
            return self.edge() * self.beyond.map_or(1.0, |edge| self.fall(&edge, r));
        };
        let inner = if index == 0 {
            0.0
        } else {
            self.edges[index - 1]
        };
        self.zones[index].theta(r, inner, self.edges[index])
    }

    fn fall(&self, edge: &At, r: f64) -> f64 {
        let x = self.beyond_rate * r;
        x.bessel_k0e() / edge.k0 * (edge.x - x).exp()
    }

    fn edge(&self) -> f64 {
        self.edges.last().copied().unwrap_or(0.0)
    }

    /// Radius of the last ring, m.
    pub(crate) fn reach_m(&self) -> f64 {
        self.zones.last().map_or(0.0, |zone| zone.to_m)
    }

    /// `B` of `θ = B K₀(m r)` beyond the last ring, as `B e^(−m r_N)`, and `m r_N`.
    pub(crate) fn tail(&self) -> Option<(f64, f64)> {
        self.beyond.map(|edge| (self.edge() / edge.k0, edge.x))
    }

    /// The least θ in each ring, K.
    pub(crate) fn least(&self) -> impl Iterator<Item = f64> + '_ {
        let mut inner = f64::INFINITY;
        self.zones
            .iter()
            .zip(&self.edges)
            .map(move |(zone, &outer)| {
                let least = inner.min(outer).min(zone.level);
                inner = outer;
                least
            })
    }
}

/// One equation an edge: the flux that leaves one ring enters the next.
fn edge_temperatures(zones: &[Zone], beyond_rate: f64, beyond: Option<At>) -> Vec<f64> {
    let count = zones.len();
    let mut lower = vec![0.0; count];
    let mut diagonal = vec![0.0; count];
    let mut upper = vec![0.0; count];
    let mut right = vec![0.0; count];
    for (i, zone) in zones.iter().enumerate() {
        if i == 0 {
            let own = zone.rate * zone.outer.i1 / zone.outer.i0;
            diagonal[0] += own;
            right[0] += own * zone.level;
        } else {
            let (inner, own) = zone.slope_outside();
            lower[i] = inner;
            diagonal[i] += own;
            right[i] += (inner + own) * zone.level;
            let (own, outer) = zone.slope_inside();
            diagonal[i - 1] -= own;
            upper[i - 1] = -outer;
            right[i - 1] -= (own + outer) * zone.level;
        }
    }
    if let (Some(edge), Some(last)) = (beyond, diagonal.last_mut()) {
        *last += beyond_rate * edge.k1 / edge.k0;
    }
    solve_tridiagonal(&lower, &mut diagonal, &upper, &mut right);
    right
}

/// Elimination without pivoting: the system is diagonally dominant.
fn solve_tridiagonal(lower: &[f64], diagonal: &mut [f64], upper: &[f64], right: &mut [f64]) {
    for i in 1..right.len() {
        let factor = lower[i] / diagonal[i - 1];
        diagonal[i] -= factor * upper[i - 1];
        right[i] -= factor * right[i - 1];
    }
    for i in (0..right.len()).rev() {
        let next = right.get(i + 1).copied().unwrap_or(0.0);
        right[i] = (right[i] - upper[i] * next) / diagonal[i];
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const SHEET: f64 = 20.0 * 0.0016;
    const LOSS: f64 = 24.0;

    fn disc() -> Ring {
        let area = std::f64::consts::PI * 0.005 * 0.005;
        Ring {
            to_m: 0.005,
            heat_w_m2: 5.0 / area,
            loss_w_m2k: LOSS,
        }
    }

    /// Cutting a ring into many changes nothing.
    #[test]
    fn more_rings_of_the_same_kind_give_the_same_plate() {
        let plate = Beyond::Plate { loss_w_m2k: LOSS };
        let one = Rings::solve(&[disc()], plate, SHEET);
        let mut cut: Vec<Ring> = (1..=5)
            .map(|k| Ring {
                to_m: f64::from(k) * 0.001,
                ..disc()
            })
            .collect();
        cut.extend((1..=8).map(|k| Ring {
            to_m: 0.005 + f64::from(k) * 0.01,
            heat_w_m2: 0.0,
            loss_w_m2k: LOSS,
        }));
        let many = Rings::solve(&cut, plate, SHEET);
        for r in [0.0, 0.0013, 0.003, 0.005, 0.011, 0.04, 0.085, 0.2] {
            let (a, b) = (one.theta(r), many.theta(r));
            assert!(
                (a - b).abs() < 1e-9 * one.theta(0.0),
                "{a} against {b} at {r}"
            );
        }
    }

    #[test]
    fn very_wide_rings_do_not_overflow() {
        let rings = [
            disc(),
            Ring {
                to_m: 80.0,
                heat_w_m2: 0.0,
                loss_w_m2k: LOSS,
            },
        ];
        let solved = Rings::solve(&rings, Beyond::Rim, SHEET);
        let free = Rings::solve(&[disc()], Beyond::Plate { loss_w_m2k: LOSS }, SHEET);
        for r in [0.0, 0.004, 0.05, 1.0] {
            assert!((solved.theta(r) - free.theta(r)).abs() < 1e-9);
        }
    }
}
