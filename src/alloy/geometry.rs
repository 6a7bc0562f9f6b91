//! How much metal a ball, a film, a dome or a print of paste holds.
//!
//! Masses follow from the density by the rule of mixtures ([`Composition::density`]), which is
//! there for every composition; printed densities of alloys differ from it by 1–2 %.
//!
//! [`Composition::density`]: super::Composition::density

use std::f64::consts::PI;

use crate::quantity::{Density, Length, Mass, NotAQuantity, Share};

/// A volume, in mm³; finite and not negative.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct Volume(f64);

impl Volume {
    /// In mm³.
    pub const fn mm3(self) -> f64 {
        self.0
    }

    /// Its mass in a metal of that density.
    ///
    /// # Errors
    /// [`NotAQuantity`] above 1 kg.
    pub fn of(self, metal: Density) -> Result<Mass, NotAQuantity> {
        metal.times_mm3(self.0)
    }

    /// So much of it.
    pub fn part(self, share: Share) -> Self {
        Volume(self.0 * share.fraction())
    }
}

/// A ball: `π d³ / 6`.
pub fn ball(diameter: Length) -> Volume {
    Volume(PI * diameter.mm().powi(3) / 6.0)
}

/// A film of even thickness on a round pad: `π d² / 4 · t`. Also what a round aperture of a stencil
/// of that thickness holds.
pub fn disc(diameter: Length, thickness: Length) -> Volume {
    Volume(PI * diameter.mm().powi(2) / 4.0 * thickness.mm())
}

/// A film on a rectangular pad, or what a rectangular aperture holds: `a b t`.
pub fn slab(length: Length, width: Length, thickness: Length) -> Volume {
    Volume(length.mm() * width.mm() * thickness.mm())
}

/// A dome as a cap of a sphere on a base of radius `a`: `π h (3 a² + h²) / 6`.
pub fn dome(base_diameter: Length, height: Length) -> Volume {
    let (radius, height) = (base_diameter.mm() / 2.0, height.mm());
    Volume(PI * height * (3.0 * radius * radius + height * height) / 6.0)
}

/// Density taken for the flux in paste, g/cm³ (makers state 0.9 to 1.1; common practice,
/// no source).
pub const FLUX_G_CM3: f64 = 1.0;

/// Solder paste: powder of a metal in flux.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Paste {
    /// Of the metal.
    pub metal: Density,
    /// Mass share of metal.
    pub loading: Share,
}

impl Paste {
    /// Volume share of the metal: `(w/ρ) / (w/ρ + (1−w)/ρ_flux)`.
    pub fn metal_volume(self) -> Share {
        let metal = self.loading.fraction() / self.metal.g_cm3();
        let flux = (1.0 - self.loading.fraction()) / FLUX_G_CM3;
        Share::nearest(metal / (metal + flux))
    }

    /// Density of the paste: `1 / (w/ρ + (1−w)/ρ_flux)`.
    ///
    /// # Errors
    /// Never in practice: it lies between flux and metal.
    pub fn density(self) -> Result<Density, NotAQuantity> {
        let metal = self.loading.fraction() / self.metal.g_cm3();
        let flux = (1.0 - self.loading.fraction()) / FLUX_G_CM3;
        Density::from_g_cm3(1.0 / (metal + flux))
    }

    /// Metal that an aperture leaves: its volume, the share of it that comes off the stencil, the
    /// share of that which is metal.
    ///
    /// # Errors
    /// [`NotAQuantity`] above 1 kg.
    pub fn printed(self, aperture: Volume, transfer: Share) -> Result<Mass, NotAQuantity> {
        aperture
            .part(transfer)
            .part(self.metal_volume())
            .of(self.metal)
    }
}
