//! A round jet of hot air on a plate: how much heat each ring of the board takes.
//!
//! Mean heat transfer over a disc by H. Martin, *Advances in Heat Transfer* 13 (1977) 1–60, read in
//! a secondary form (notes on external flow; Incropera & DeWitt, ch. 7):
//! `Nu/Pr^0.42 = G·F`, `G = (D/r)(1 − 1.1 D/r)/(1 + 0.1 (H/D − 6) D/r)`,
//! `F = 2 Re^½ (1 + 0.005 Re^0.55)^½`; for 2000 ≤ Re ≤ 400 000, 2 ≤ H/D ≤ 12, 2.5 ≤ r/D ≤ 7.9.
//!
//! Derived here: the local value is `(1/2r) d(r² h)/dr`. Inside 2.5 D, where Martin gives only the
//! mean, a bell that meets the local value at 2.5 D and keeps Martin's mean over the disc (our
//! judgement). The air mixes with the room on its way: see [`Jet::gas_share`].

use std::f64::consts::PI;

use serde::Serialize;

use super::units::{AirFlow, Factor};
use crate::quantity::{Celsius, Length};

/// Radius over diameter where Martin's range begins and ends.
const RING: (f64, f64) = (2.5, 7.9);
/// The temperature at which the flow is metered.
const METERED_AT_K: f64 = 298.15;
const PRESSURE_PA: f64 = 101_325.0;
const GAS_CONSTANT_J_KGK: f64 = 287.05;

/// Decay of the excess temperature on the axis of a free round jet past its core,
/// `θ/θ₀ = c (ρ₀/ρ)^½ D/s` with c = 5.0 (C. J. Chen and W. Rodi, *Vertical Turbulent Buoyant Jets*,
/// Pergamon 1980; from memory). The wall jet decays with the same power, so the path is `s = H + r`.
/// The middle between no density factor (1) and that of air at 350 °C (0.69) is taken as nominal, and
/// both ends lie within the band.
const MIXING: f64 = 4.15;

/// Air at one temperature and 101 325 Pa.
#[derive(Clone, Copy, Debug)]
struct Air {
    density_kg_m3: f64,
    viscosity_pa_s: f64,
    conductivity_w_mk: f64,
    prandtl: f64,
}

impl Air {
    /// Ideal gas; Sutherland's law for viscosity (1.716e-5 Pa·s at 273.15 K, 110.4 K) and
    /// conductivity (0.02414 W/mK, 194 K) after F. M. White, *Viscous Fluid Flow* (from memory);
    /// specific heat by straight lines between the table of Incropera & DeWitt (from memory).
    fn at(kelvin: f64) -> Air {
        let sutherland = |at_273: f64, s: f64| {
            at_273 * (kelvin / 273.15).powf(1.5) * (273.15 + s) / (kelvin + s)
        };
        let viscosity = sutherland(1.716e-5, 110.4);
        let conductivity = sutherland(0.02414, 194.0);
        Air {
            density_kg_m3: PRESSURE_PA / (GAS_CONSTANT_J_KGK * kelvin),
            viscosity_pa_s: viscosity,
            conductivity_w_mk: conductivity,
            prandtl: viscosity * specific_heat_j_kgk(kelvin) / conductivity,
        }
    }
}

fn specific_heat_j_kgk(kelvin: f64) -> f64 {
    const TABLE: [(f64, f64); 7] = [
        (300.0, 1007.0),
        (400.0, 1014.0),
        (500.0, 1030.0),
        (600.0, 1051.0),
        (700.0, 1075.0),
        (800.0, 1099.0),
        (1000.0, 1141.0),
    ];
    let mut below = TABLE[0];
    for point in TABLE {
        if kelvin <= point.0 {
            let span = (point.0 - below.0).max(1e-9);
            return below.1 + (point.1 - below.1) * ((kelvin - below.0) / span).clamp(0.0, 1.0);
        }
        below = point;
    }
    below.1
}

/// Where a jet leaves the range for which its formula was published.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub enum OutsideRange {
    /// Re below 2000: small nozzle or little air.
    ReynoldsLow,
    /// Re above 400 000.
    ReynoldsHigh,
    /// Nozzle nearer than two diameters: counted as two.
    Near,
    /// Nozzle farther than twelve diameters: counted as twelve.
    Far,
}

impl OutsideRange {
    /// In words, for the assumptions block.
    pub fn words(self) -> &'static str {
        match self {
            OutsideRange::ReynoldsLow => {
                "air flow below the range of the jet formula (Re < 2000): extrapolated"
            }
            OutsideRange::ReynoldsHigh => {
                "air flow above the range of the jet formula (Re > 400 000): extrapolated"
            }
            OutsideRange::Near => "nozzle nearer than 2 diameters: counted as 2",
            OutsideRange::Far => "nozzle farther than 12 diameters: counted as 12",
        }
    }
}

/// A round nozzle blowing hot air straight down on a board.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Jet {
    /// Inner diameter of the nozzle.
    pub nozzle: Length,
    /// Of the air where it leaves the nozzle.
    pub air: Celsius,
    /// Metered at 25 °C.
    pub flow: AirFlow,
    /// From nozzle to board.
    pub standoff: Length,
}

impl Jet {
    fn diameter_m(&self) -> f64 {
        self.nozzle.mm() / 1000.0
    }

    fn distance(&self) -> f64 {
        (self.standoff.mm() / self.nozzle.mm()).clamp(2.0, 12.0)
    }

    /// Mass flow, kg/s.
    fn mass_kg_s(&self) -> f64 {
        self.flow.l_min() / 60_000.0 * Air::at(METERED_AT_K).density_kg_m3
    }

    /// Velocity where the air leaves the nozzle, m/s.
    pub fn exit_m_s(&self) -> f64 {
        let d = self.diameter_m();
        self.mass_kg_s() / (Air::at(self.air.kelvin()).density_kg_m3 * PI * d * d / 4.0)
    }

    /// `Re = 4 ṁ / (π D µ)` at the nozzle.
    pub fn reynolds(&self) -> f64 {
        4.0 * self.mass_kg_s()
            / (PI * self.diameter_m() * Air::at(self.air.kelvin()).viscosity_pa_s)
    }

    /// Heat that the air carries above the room, W: `ṁ c_p (T_air − T_room)`. Only part of it
    /// reaches the board.
    pub fn carries_w(&self, room: Celsius) -> f64 {
        self.mass_kg_s() * specific_heat_j_kgk(self.air.kelvin()) * (self.air - room).kelvin()
    }

    /// Which limits of the published formula this jet oversteps.
    pub fn outside(&self) -> Vec<OutsideRange> {
        let re = self.reynolds();
        let ratio = self.standoff.mm() / self.nozzle.mm();
        [
            (re < 2000.0, OutsideRange::ReynoldsLow),
            (re > 4.0e5, OutsideRange::ReynoldsHigh),
            (ratio < 2.0, OutsideRange::Near),
            (ratio > 12.0, OutsideRange::Far),
        ]
        .into_iter()
        .filter_map(|(oversteps, which)| oversteps.then_some(which))
        .collect()
    }

    /// Mean Nusselt number over the disc of `radius_over_d` diameters, by Martin.
    pub fn mean_nusselt(&self, radius_over_d: f64) -> f64 {
        self.strength() * mean_shape(radius_over_d, self.spacing())
    }

    /// Mean film coefficient over that disc, W/m²K.
    pub fn mean_film_w_m2k(&self, radius_over_d: f64) -> f64 {
        self.mean_nusselt(radius_over_d) * self.film_of_nusselt()
    }

    fn spacing(&self) -> f64 {
        0.1 * (self.distance() - 6.0)
    }

    fn strength(&self) -> f64 {
        let re = self.reynolds();
        let f = 2.0 * re.sqrt() * (1.0 + 0.005 * re.powf(0.55)).sqrt();
        f * Air::at(self.air.kelvin()).prandtl.powf(0.42)
    }

    fn film_of_nusselt(&self) -> f64 {
        Air::at(self.air.kelvin()).conductivity_w_mk / self.diameter_m()
    }

    /// The profile with everything that does not depend on the radius worked out.
    pub(crate) fn profile(&self, mixing: Factor) -> JetProfile {
        JetProfile {
            diameter_m: self.diameter_m(),
            scale_w_m2k: self.strength() * self.film_of_nusselt(),
            spacing: self.spacing(),
            distance: self.standoff.mm() / self.nozzle.mm(),
            mixing: MIXING * mixing.value(),
        }
    }

    /// Share of the air's excess over the room that is left where it meets the board at this radius,
    /// nominal: 1 in the core, then `4.15 D/(H + r)`.
    pub fn gas_share(&self, radius: Length) -> f64 {
        self.profile(Factor::ONE).gas_share(radius.mm() / 1000.0)
    }

    /// Local film coefficient at this radius, W/m²K.
    pub fn local_film_w_m2k(&self, radius: Length) -> f64 {
        self.profile(Factor::ONE).film_w_m2k(radius.mm() / 1000.0)
    }
}

/// `G` over a disc of `u` diameters.
fn mean_shape(u: f64, b: f64) -> f64 {
    (u - 1.1) / (u * (u + b))
}

/// `(1/2u) d(u² G)/du`.
fn local_shape(u: f64, b: f64) -> f64 {
    (u * u + 2.0 * b * u - 1.1 * b) / (2.0 * u * (u + b) * (u + b))
}

/// A jet as a function of the radius alone; both falling with it.
#[derive(Clone, Copy, Debug)]
pub(crate) struct JetProfile {
    diameter_m: f64,
    scale_w_m2k: f64,
    spacing: f64,
    distance: f64,
    mixing: f64,
}

impl JetProfile {
    pub(crate) fn diameter_m(&self) -> f64 {
        self.diameter_m
    }

    pub(crate) fn film_w_m2k(&self, radius_m: f64) -> f64 {
        let u = radius_m / self.diameter_m;
        let shape = if u >= RING.0 {
            local_shape(u, self.spacing)
        } else {
            let rim = local_shape(RING.0, self.spacing);
            let lift = 3.0 * (mean_shape(RING.0, self.spacing) - rim);
            let inside = 1.0 - (u / RING.0).powi(2);
            rim + lift * inside * inside
        };
        self.scale_w_m2k * shape
    }

    pub(crate) fn gas_share(&self, radius_m: f64) -> f64 {
        let path = self.distance + radius_m / self.diameter_m;
        (self.mixing / path.max(1e-9)).min(1.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn jet(nozzle: f64, standoff: f64, flow: f64) -> Jet {
        Jet {
            nozzle: Length::from_mm(nozzle).unwrap(),
            air: Celsius::whole(350),
            flow: AirFlow::from_l_min(flow).unwrap(),
            standoff: Length::from_mm(standoff).unwrap(),
        }
    }

    /// The local profile, summed over the disc, gives Martin's mean back, inside and beyond 2.5 D.
    #[test]
    fn local_profile_keeps_the_published_mean() {
        for standoff in [10.0, 30.0, 60.0] {
            let jet = jet(5.0, standoff, 30.0);
            let profile = jet.profile(Factor::ONE);
            for edge in [2.5, 4.0, 7.9] {
                let rings = 20_000;
                let mut sum = 0.0;
                for ring in 0..rings {
                    let u = (f64::from(ring) + 0.5) / f64::from(rings) * edge;
                    sum += profile.film_w_m2k(u * 0.005) * 2.0 * u * edge / f64::from(rings);
                }
                let mean = sum / (edge * edge);
                let published = jet.mean_film_w_m2k(edge);
                assert!(
                    (mean / published - 1.0).abs() < 1e-6,
                    "{mean} against {published}"
                );
            }
        }
    }

    #[test]
    fn profile_falls_with_the_radius() {
        for standoff in [4.0, 10.0, 30.0, 60.0, 90.0] {
            let profile = jet(5.0, standoff, 20.0).profile(Factor::ONE);
            let mut before = (f64::INFINITY, f64::INFINITY);
            for step in 0..400 {
                let r = f64::from(step) * 2.5e-4;
                let now = (profile.film_w_m2k(r), profile.gas_share(r));
                assert!(now.0 < before.0 && now.1 <= before.1, "at {r} m");
                before = now;
            }
        }
    }

    #[test]
    fn a_jet_outside_the_published_range_says_so() {
        assert!(jet(8.0, 16.0, 40.0).outside().is_empty());
        assert_eq!(
            jet(4.0, 4.0, 6.0).outside(),
            [OutsideRange::ReynoldsLow, OutsideRange::Near]
        );
    }
}
