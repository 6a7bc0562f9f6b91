//! An infra-red emitter above a board: how much of its rays each ring of the board takes.
//!
//! Seen from a small face of the board, a flat round emitter of radius `R` parallel to it at the height `H` and `r`
//! off its axis fills the share `F = ½ (1 − (H² + r² − R²)/√((H² + r² + R²)² − 4 R² r²))` of all directions (view factor
//! from a plane element to a coaxial disc; J. R. Howell, *A Catalog of Radiation Heat Transfer Configuration Factors*;
//! from memory, checked below against a sum over the disc). Of `σ T⁴` from there it takes what its emissivity says, and
//! what it sees of the room beside the emitter it trades with the room as before: so the emitter adds
//! `ε F σ (T_e⁴ − T_room⁴)`, whatever the board is at.

use serde::Serialize;

use crate::quantity::{Celsius, Length};

/// A flat round emitter parallel to the board.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Emitter {
    /// Its diameter.
    pub across: Length,
    /// From its face to the board.
    pub standoff: Length,
    /// Of its face.
    pub face: Celsius,
}

impl Emitter {
    pub(crate) fn view(&self) -> View {
        View {
            radius_m: self.across.mm() / 2000.0,
            height_m: self.standoff.mm() / 1000.0,
        }
    }
}

/// An emitter as the board sees it.
#[derive(Clone, Copy, Debug)]
pub(crate) struct View {
    radius_m: f64,
    height_m: f64,
}

impl View {
    pub(crate) fn diameter_m(&self) -> f64 {
        2.0 * self.radius_m
    }

    /// Share of all directions of a face of the board in which the emitter stands; falls with the distance from its
    /// axis.
    pub(crate) fn share(&self, off_axis_m: f64) -> f64 {
        let (h2, r2) = (self.height_m * self.height_m, self.radius_m * self.radius_m);
        let a2 = off_axis_m * off_axis_m;
        let all = h2 + a2 + r2;
        let root = (all * all - 4.0 * r2 * a2).max(0.0).sqrt();
        (0.5 * (1.0 - (h2 + a2 - r2) / root.max(1e-18))).clamp(0.0, 1.0)
    }
}

/// Heat that a surface takes from an emitter and gives to the room by air and rays.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Trade {
    pub(crate) taken_w_m2: f64,
    pub(crate) film_w_m2k: f64,
    /// Emissivity times Stefan–Boltzmann constant.
    pub(crate) face_w_m2k4: f64,
    pub(crate) room_k: f64,
}

impl Trade {
    fn net_w_m2(&self, kelvin: f64) -> f64 {
        self.taken_w_m2
            - self.film_w_m2k * (kelvin - self.room_k)
            - self.face_w_m2k4 * (kelvin.powi(4) - self.room_k.powi(4))
    }

    /// Where what it gives is all that it takes, K, with nothing behind it: the hottest that it can get.
    pub(crate) fn settles_k(&self) -> f64 {
        settle_k(self.room_k, self.most_k(), |kelvin| self.net_w_m2(kelvin))
    }

    /// Losses for each kelvin there, W/m²K: below that temperature it loses at least as much as the straight line
    /// through that point says.
    pub(crate) fn slope_w_m2k(&self, settled_k: f64) -> f64 {
        self.film_w_m2k + 4.0 * self.face_w_m2k4 * settled_k.powi(3)
    }

    /// Surely above where it settles.
    fn most_k(&self) -> f64 {
        self.room_k + self.taken_w_m2.max(0.0) / self.film_w_m2k.max(1e-3)
    }

    /// The same where a preheater, or the room below, trades with the other face: the hotter of both.
    pub(crate) fn settles_over_k(&self, below_w_m2k: f64, under: Option<(f64, f64)>) -> f64 {
        let open = |kelvin: f64| {
            self.net_w_m2(kelvin)
                - below_w_m2k * (kelvin - self.room_k)
                - self.face_w_m2k4 * (kelvin.powi(4) - self.room_k.powi(4))
        };
        let beside = settle_k(self.room_k, self.most_k(), open);
        let Some((film, source_k)) = under else {
            return beside;
        };
        let over = |kelvin: f64| self.net_w_m2(kelvin) + film * (source_k - kelvin);
        beside.max(settle_k(self.room_k, self.most_k().max(source_k), over))
    }
}

/// Where a falling function is nought, from above.
fn settle_k(low: f64, high: f64, net: impl Fn(f64) -> f64) -> f64 {
    let (mut low, mut high) = (low, high.max(low));
    for _ in 0..40 {
        let middle = f64::midpoint(low, high);
        if net(middle) > 0.0 {
            low = middle;
        } else {
            high = middle;
        }
    }
    high
}

#[cfg(test)]
mod tests {
    use std::f64::consts::PI;

    use super::*;

    /// `∫ cos θ₁ cos θ₂ / (π s²) dA` over an emitter, by rings and spokes.
    fn summed(inside: impl Fn(f64, f64) -> bool, half: f64, height: f64, at: (f64, f64)) -> f64 {
        let cells = 400_u32;
        let side = 2.0 * half / f64::from(cells);
        let middle = |k: u32| (f64::from(k) + 0.5) * side - half;
        let mut sum = 0.0;
        for i in 0..cells {
            for j in 0..cells {
                let (x, y) = (middle(i), middle(j));
                if inside(x, y) {
                    let s2 = (x - at.0).powi(2) + (y - at.1).powi(2) + height * height;
                    sum += height * height / (PI * s2 * s2) * side * side;
                }
            }
        }
        sum
    }

    fn view(radius_m: f64, height_m: f64) -> View {
        View { radius_m, height_m }
    }

    #[test]
    fn the_view_of_a_disc_is_the_sum_over_it() {
        for (radius, height, off) in [
            (0.03, 0.04, 0.0),
            (0.03, 0.04, 0.02),
            (0.03, 0.02, 0.035),
            (0.01, 0.05, 0.08),
        ] {
            let disc = |x: f64, y: f64| x.hypot(y) <= radius;
            let (sum, closed) = (
                summed(disc, radius, height, (off, 0.0)),
                view(radius, height).share(off),
            );
            assert!(
                (sum - closed).abs() < 2e-3 * closed + 1e-5,
                "{radius} {height} {off}: {sum} {closed}"
            );
        }
        // On the axis, by hand: R²/(H² + R²).
        assert!((view(0.03, 0.04).share(0.0) - 0.36).abs() < 1e-12);
        assert!(view(0.03, 0.0005).share(0.0) > 0.999);
    }

    #[test]
    fn the_view_falls_with_the_distance() {
        for height in [0.001, 0.02, 0.2] {
            let view = view(0.03, height);
            let mut before = f64::INFINITY;
            for step in 0..300 {
                let now = view.share(f64::from(step) * 1e-3);
                assert!(now <= before, "{height} {step}");
                before = now;
            }
        }
    }

    /// An emitter with corners counts as the round one of its area, and every place as so much nearer as its corners
    /// reach out: no place sees more of the one with corners.
    #[test]
    fn corners_are_within_what_stands_for_them() {
        for (wide, tall) in [(0.06, 0.06), (0.12, 0.06), (0.24, 0.06), (0.03, 0.02)] {
            let radius = f64::sqrt(wide * tall / PI);
            let corners = f64::hypot(wide, tall) / 2.0 - radius;
            let inside = |x: f64, y: f64| x.abs() <= wide / 2.0 && y.abs() <= tall / 2.0;
            for height in [0.01, 0.03, 0.08] {
                for turn in 0..5 {
                    let angle = f64::from(turn) * PI / 8.0;
                    for step in 0..12 {
                        let off = f64::from(step) * 0.015;
                        let at = (off * angle.cos(), off * angle.sin());
                        let really = summed(inside, wide / 2.0, height, at);
                        let counted = view(radius, height).share((off - corners).max(0.0));
                        assert!(
                            really <= counted * 1.005 + 1e-4,
                            "{wide} {tall} {height} {at:?}: {really} {counted}"
                        );
                    }
                }
            }
        }
    }

    #[test]
    fn a_face_settles_where_it_gives_what_it_takes() {
        let trade = Trade {
            taken_w_m2: 9000.0,
            film_w_m2k: 8.0,
            face_w_m2k4: 0.9 * 5.670_374_419e-8,
            room_k: 298.15,
        };
        let settled = trade.settles_k();
        assert!(trade.net_w_m2(settled).abs() < 1e-3, "{settled}");
        // With the other face open to the room as well it stays cooler, over something hotter it does not.
        assert!(trade.settles_over_k(8.0, None) < settled - 50.0);
        assert!(trade.settles_over_k(8.0, Some((25.0, 1500.0))) > settled);
        let nothing = Trade {
            taken_w_m2: 0.0,
            ..trade
        };
        assert!((nothing.settles_k() - 298.15).abs() < 1e-6);
        // Below where it settles it takes no more than the straight line says.
        for kelvin in [300.0, 400.0, 500.0, 600.0] {
            let line = trade.slope_w_m2k(settled) * (settled - kelvin);
            assert!(trade.net_w_m2(kelvin) <= line + 1e-6);
        }
    }
}
