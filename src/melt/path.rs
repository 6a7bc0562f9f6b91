//! Liquid share against temperature along a walk, and what was met on the way.

use super::phase::Vector;

/// A smooth stretch of the liquid share, from its upper to its lower end.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Stretch {
    pub(super) upper: End,
    pub(super) lower: End,
}

/// Temperature, mass share liquid, and its slope in 1/K.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct End {
    pub(super) t_k: f64,
    pub(super) liquid: f64,
    pub(super) slope: f64,
}

/// A change of the phase set, met on the way down.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Change {
    pub(super) t_k: f64,
    /// Mass shares liquid before and after; they differ where it happens at one temperature.
    pub(super) liquid: (f64, f64),
    /// Phases (with their compositions) that grow from here on, or are formed at once.
    pub(super) formed: Vec<(usize, Vector)>,
    /// Phases used up here.
    pub(super) used: Vec<(usize, Vector)>,
    /// At one temperature: all that took part beside the liquid, for its name.
    pub(super) invariant: bool,
}

/// A whole walk.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Path {
    pub(super) stretches: Vec<Stretch>,
    pub(super) changes: Vec<Change>,
    /// All liquid above.
    pub(super) liquidus_k: f64,
    /// The last liquid goes here, and how much it is (mass share).
    pub(super) end_k: f64,
    pub(super) end_liquid: f64,
}

impl Stretch {
    /// Cubic between the ends, with their slopes, kept from overshooting (F.N. Fritsch, R.E. Carlson,
    /// SIAM J. Numer. Anal. 17 (1980) 238; memory), of the share or of its logarithm, whichever is nearer to one.
    pub(super) fn liquid_at(&self, t_k: f64) -> f64 {
        let (liquid, slope) = (
            [self.upper.liquid, self.lower.liquid],
            [self.upper.slope, self.lower.slope],
        );
        if liquid[1] > 0.0 && liquid[0] > liquid[1] {
            let (ln, ln_slope) = self.logarithm();
            let bend = |of: [f64; 2], slope| (self.off_parabola(of, slope) / (of[0] - of[1])).abs();
            if bend(ln, ln_slope) < bend(liquid, slope) {
                return self.between(t_k, ln, ln_slope).exp();
            }
        }
        self.between(t_k, liquid, slope)
    }

    /// The logarithm of the share at both ends, and its slopes.
    pub(super) fn logarithm(&self) -> ([f64; 2], [f64; 2]) {
        let ends = [self.upper, self.lower];
        (
            ends.map(|end| end.liquid.ln()),
            ends.map(|end| end.slope / end.liquid),
        )
    }

    /// How far what rises so over the stretch is from a parabola with those slopes: its third derivative.
    pub(super) fn off_parabola(&self, of: [f64; 2], slope: [f64; 2]) -> f64 {
        0.5 * (slope[0] + slope[1]) * (self.upper.t_k - self.lower.t_k) - (of[0] - of[1])
    }

    fn between(&self, t_k: f64, [above, below]: [f64; 2], slope: [f64; 2]) -> f64 {
        let (width, rise) = (self.upper.t_k - self.lower.t_k, above - below);
        if width <= 0.0 {
            return above;
        }
        let s = ((t_k - self.lower.t_k) / width).clamp(0.0, 1.0);
        let bound = |slope: f64| {
            let own = slope * width;
            if own * rise <= 0.0 {
                0.0
            } else {
                own.abs().min(3.0 * rise.abs()) * rise.signum()
            }
        };
        let [m1, m0] = slope.map(bound);
        let (s2, s3) = (s * s, s * s * s);
        below + rise * (3.0 * s2 - 2.0 * s3) + m0 * (s3 - 2.0 * s2 + s) + m1 * (s3 - s2)
    }
}

impl Path {
    /// Mass share liquid at a temperature; at a jump, the share above it.
    pub(super) fn liquid_at(&self, t_k: f64) -> f64 {
        if t_k >= self.liquidus_k {
            return 1.0;
        }
        if t_k < self.end_k {
            return 0.0;
        }
        let place = self.stretches.partition_point(|s| s.lower.t_k > t_k);
        self.stretches
            .get(place)
            .map_or(self.end_liquid, |s| s.liquid_at(t_k))
    }

    /// Lowest temperature from which on, downward from the melt, less than this share is liquid.
    pub(super) fn reaches(&self, share: f64) -> f64 {
        for stretch in &self.stretches {
            if stretch.upper.liquid < share {
                return stretch.upper.t_k;
            }
            if stretch.lower.liquid < share {
                let (mut low, mut high) = (stretch.lower.t_k, stretch.upper.t_k);
                for _ in 0..60 {
                    let middle = 0.5 * (low + high);
                    if stretch.liquid_at(middle) < share {
                        low = middle;
                    } else {
                        high = middle;
                    }
                }
                return high;
            }
        }
        self.end_k
    }
}
