//! A board from facts that can be read off or measured: size, thickness, layers, copper weight and
//! coverage give how it conducts along and through, and how much heat it stores.

use serde::Serialize;

use super::units::{HeatCapacity, Rect};
use crate::quantity::{Length, Share};

/// Conductivity of copper foil, W/mK (Incropera & DeWitt, *Fundamentals of Heat and Mass Transfer*,
/// Wiley, tables of properties give 385 to 401; from memory).
pub const COPPER_W_MK: f64 = 385.0;
/// Conductivity of resin and glass, W/mK: published 0.23 to 0.5 (frigprim.com "Thermal properties
/// for PCBs" 0.23; excelcalcs.com note 0.2 to 0.5), the middle of handbook values 0.29 to 0.35.
pub const RESIN_GLASS_W_MK: f64 = 0.30;
/// Density times specific heat of copper, J/m³K: 8930 kg/m³ (frigprim.com) × 385 J/kgK.
pub const COPPER_J_M3K: f64 = 8930.0 * 385.0;
/// Density times specific heat of resin and glass, J/m³K: 1900 kg/m³ (frigprim.com) × 1100 J/kgK
/// (handbook range 1100 to 1200, no single source; the low end warms faster).
pub const RESIN_GLASS_J_M3K: f64 = 1900.0 * 1100.0;

/// Conductivity of moulded bodies, W/mK: filled epoxy 0.6 to 1 (handbook values, from memory).
pub const BODY_W_MK: f64 = 0.8;

/// Density times specific heat of moulded bodies, J/m³K: 1900 kg/m³ × 900 J/kgK (handbook values, from memory).
pub(crate) const BODY_J_M3K: f64 = 1900.0 * 900.0;

/// Why a board is refused.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum BoardFault {
    /// The copper alone would be thicker than the board.
    #[error(
        "{layers} layers of {copper_um} µm copper do not fit in a board of {thickness_mm} mm: want at most {fit} layers"
    )]
    TooMuchCopper {
        /// As stated.
        layers: u8,
        /// As stated.
        copper_um: f64,
        /// As stated.
        thickness_mm: f64,
        /// How many fit.
        fit: u8,
    },
    /// A size that no board has.
    #[error("{what} of {found_mm} mm: want {want}")]
    Size {
        /// Which size.
        what: &'static str,
        /// As stated.
        found_mm: f64,
        /// What is allowed.
        want: &'static str,
    },
}

/// What lies between the two faces of a board.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Stack {
    thickness: Length,
    layers: u8,
    copper: Length,
    coverage: Share,
}

impl Stack {
    /// A board `thickness` thick with `layers` copper layers, each `copper` thick and covering the
    /// share `coverage` of the area.
    ///
    /// # Errors
    /// [`BoardFault`] if the thickness is not 0.05 to 10 mm, the copper not up to 500 µm, or the
    /// copper fills the board.
    pub fn new(
        thickness: Length,
        layers: u8,
        copper: Length,
        coverage: Share,
    ) -> Result<Self, BoardFault> {
        if !(0.05..=10.0).contains(&thickness.mm()) {
            return Err(BoardFault::Size {
                what: "a board thickness",
                found_mm: thickness.mm(),
                want: "0.05 to 10 mm",
            });
        }
        if copper.um() > 500.0 {
            return Err(BoardFault::Size {
                what: "a copper layer",
                found_mm: copper.mm(),
                want: "at most 0.5 mm (500 µm)",
            });
        }
        let fit = layers_that_fit(thickness, copper);
        if layers > fit {
            return Err(BoardFault::TooMuchCopper {
                layers,
                copper_um: copper.um(),
                thickness_mm: thickness.mm(),
                fit,
            });
        }
        Ok(Stack {
            thickness,
            layers,
            copper,
            coverage,
        })
    }

    /// The same stack with another copper coverage: a pour, or a bare area.
    pub fn with_coverage(self, coverage: Share) -> Self {
        Stack { coverage, ..self }
    }

    /// Between the faces.
    pub fn thickness(self) -> Length {
        self.thickness
    }

    fn thickness_m(self) -> f64 {
        self.thickness.mm() / 1000.0
    }

    fn copper_m(self) -> f64 {
        f64::from(self.layers) * self.copper.mm() / 1000.0
    }

    /// Conductivity of one copper layer, W/mK: copper and the resin between it, by area:
    /// `k_l = c·k_cu + (1 − c)·k_d`.
    fn layer_w_mk(self) -> f64 {
        let c = self.coverage.fraction();
        c * COPPER_W_MK + (1.0 - c) * RESIN_GLASS_W_MK
    }

    /// Conductivity along the board, W/mK: `Σ k_i t_i / Σ t_i` (layers in parallel; volume average,
    /// frigprim.com "Thermal properties for PCBs" and excelcalcs.com "PCB Equivalent Conductivity").
    ///
    /// It is the most that the copper can conduct: copper cut into tracks conducts less, so
    /// neighbours come out hotter than they are, and the place under the tool cooler.
    pub fn along_w_mk(self) -> f64 {
        let copper = self.copper_m();
        let resin = self.thickness_m() - copper;
        (copper * self.layer_w_mk() + resin * RESIN_GLASS_W_MK) / self.thickness_m()
    }

    /// Conductivity through the board, W/mK: `Σ t_i / Σ (t_i / k_i)` (layers in series; Incropera &
    /// DeWitt, from memory). Without vias: plated holes conduct beside it, see
    /// [`Stack::vias_k_w`]. Fits to measured boards give about 0.6 W/mK, twice this.
    pub fn through_w_mk(self) -> f64 {
        let copper = self.copper_m();
        let resin = self.thickness_m() - copper;
        self.thickness_m() / (copper / self.layer_w_mk() + resin / RESIN_GLASS_W_MK)
    }

    /// Resistance of `count` plated holes through the board, K/W:
    /// `R = L / (k n π (r_o² − r_i²))`, `r_o` half the drilled hole, `r_i` that less the wall. Infinite
    /// without any copper.
    pub fn vias_k_w(self, count: u32, drilled: Length, wall: Length) -> f64 {
        let outer = drilled.mm() / 2000.0;
        let inner = (outer - wall.mm() / 1000.0).max(0.0);
        let metal = std::f64::consts::PI * (outer * outer - inner * inner) * f64::from(count);
        self.thickness_m() / (COPPER_W_MK * metal)
    }

    /// Heat stored by a square metre for each kelvin, J/m²K.
    pub fn areal_j_m2k(self) -> f64 {
        let copper = self.copper_m() * self.coverage.fraction();
        copper * COPPER_J_M3K + (self.thickness_m() - copper) * RESIN_GLASS_J_M3K
    }

    /// Conductivity along times thickness, W/K: what the plate equation needs.
    pub(crate) fn sheet_w_k(self) -> f64 {
        self.along_w_mk() * self.thickness_m()
    }

    /// Time in which heat goes through, s: `t² ρc / k`.
    pub(crate) fn through_s(self) -> f64 {
        self.thickness_m() * self.areal_j_m2k() / self.through_w_mk()
    }

    /// Between a heated face and the mean of the thickness, m²K/W: `t / 3k`, the lasting part of the
    /// slab heated at one face and closed at the other (Carslaw & Jaeger, *Conduction of Heat in
    /// Solids*, 2nd ed. 1959; from memory).
    pub(crate) fn face_m2k_w(self) -> f64 {
        self.thickness_m() / (3.0 * self.through_w_mk())
    }
}

fn layers_that_fit(thickness: Length, copper: Length) -> u8 {
    if copper.um() <= 0.0 {
        return u8::MAX;
    }
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "clamped to the range first"
    )]
    let fit = (thickness.um() / copper.um() * 0.999)
        .floor()
        .clamp(0.0, 255.0) as u8;
    fit
}

/// A rectangle of the board that differs from the rest.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub enum Patch {
    /// All its layers have this copper coverage instead.
    Copper {
        /// Where.
        area: Rect,
        /// How much of every layer.
        coverage: Share,
    },
    /// A body sits on it and stores heat, spread over the area: mass times specific heat.
    Body {
        /// Where.
        area: Rect,
        /// Of the whole body.
        capacity: HeatCapacity,
    },
    /// A moulded body lies between the tool's air and the board: heat goes through it.
    Cover {
        /// Where.
        area: Rect,
        /// Of the body.
        thick: Length,
    },
}

/// A board: its outline, its stack, and where it differs.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Board {
    wide: Length,
    tall: Length,
    stack: Stack,
    patches: Vec<Patch>,
}

impl Board {
    /// # Errors
    /// [`BoardFault`] if a side is not 2 to 600 mm.
    pub fn new(wide: Length, tall: Length, stack: Stack) -> Result<Self, BoardFault> {
        for side in [wide, tall] {
            if !(2.0..=600.0).contains(&side.mm()) {
                return Err(BoardFault::Size {
                    what: "a board side",
                    found_mm: side.mm(),
                    want: "2 to 600 mm",
                });
            }
        }
        Ok(Board {
            wide,
            tall,
            stack,
            patches: Vec::new(),
        })
    }

    /// The same board with one more rectangle that differs; later ones lie over earlier ones.
    pub fn with_patch(mut self, patch: Patch) -> Self {
        self.patches.push(patch);
        self
    }

    /// What it is made of.
    pub fn stack(&self) -> Stack {
        self.stack
    }

    /// Width and height.
    pub fn sides(&self) -> (Length, Length) {
        (self.wide, self.tall)
    }

    /// Where it differs.
    pub fn patches(&self) -> &[Patch] {
        &self.patches
    }

    /// Whether it conducts alike everywhere.
    pub fn conducts_alike(&self) -> bool {
        !self
            .patches
            .iter()
            .any(|patch| matches!(patch, Patch::Copper { .. }))
    }

    pub(crate) fn metres(&self) -> (f64, f64) {
        (self.wide.mm() / 1000.0, self.tall.mm() / 1000.0)
    }

    pub(crate) fn holds(&self, (x, y): (f64, f64)) -> bool {
        let (wide, tall) = self.metres();
        (0.0..=wide).contains(&x) && (0.0..=tall).contains(&y)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mm(value: f64) -> Length {
        Length::from_mm(value).unwrap()
    }

    #[test]
    fn copper_that_does_not_fit_is_refused_with_what_does() {
        let fault = Stack::new(mm(0.1), 4, mm(0.035), Share::ALL).unwrap_err();
        assert!(
            fault.to_string().ends_with("want at most 2 layers"),
            "{fault}"
        );
        assert!(Stack::new(mm(0.0), 2, mm(0.035), Share::ALL).is_err());
        assert!(Stack::new(mm(1.6), 2, mm(0.9), Share::ALL).is_err());
    }

    #[test]
    fn bare_board_is_resin_and_glass_both_ways() {
        let bare = Stack::new(mm(1.6), 4, mm(0.035), Share::NONE).unwrap();
        assert!((bare.along_w_mk() - RESIN_GLASS_W_MK).abs() < 1e-12);
        assert!((bare.through_w_mk() - RESIN_GLASS_W_MK).abs() < 1e-12);
        assert!((bare.areal_j_m2k() - 1.6e-3 * RESIN_GLASS_J_M3K).abs() < 1e-9);
    }
}
