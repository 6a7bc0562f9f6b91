//! Starting values for a bench that nobody has measured yet: rooms, preheaters, tools, in physical
//! terms. Every one is common practice or a handbook range, and says so; a measured run replaces them.

use super::jet::Jet;
use super::scene::{Preheat, Room, Tool};
use super::units::{AirFlow, ContactResistance, FilmCoefficient};
use crate::quantity::{Celsius, Length, NotAQuantity, Share};

/// Still air: 8 W/m²K from each face (natural convection from a small board, 5 to 10, Incropera &
/// DeWitt, from memory), emissivity 0.9 (mask, resin and moulded bodies 0.85 to 0.95, handbook
/// values without a single source).
pub fn still_air(air: Celsius) -> Room {
    let natural = film(8.0);
    Room {
        air,
        above: natural,
        below: natural,
        emissivity: Share::nearest(0.9),
    }
}

/// A heated plate under the whole board which settles at `board`: 25 W/m²K between them, an air gap of
/// some millimetres and radiation (derived: k_air/5 mm ≈ 7 and 4 ε σ T³ ≈ 12 to 16 at 100 to 180 °C,
/// rounded up; no source).
pub fn plate_under(board: Celsius) -> Preheat {
    Preheat {
        board,
        area: None,
        film: film(25.0),
    }
}

/// A hand-held hot-air tool: nozzle 3 to 12 mm, 280 to 380 °C with preheat, 10 to 120 L/min (common
/// practice, no source), held two to five diameters away.
///
/// # Errors
/// [`NotAQuantity`] if a number is none.
pub fn hand_air(
    nozzle_mm: f64,
    air_c: f64,
    flow_l_min: f64,
    standoff_mm: f64,
) -> Result<Tool, NotAQuantity> {
    Ok(Tool::Air(Jet {
        nozzle: Length::from_mm(nozzle_mm)?,
        air: Celsius::new(air_c)?,
        flow: AirFlow::from_l_min(flow_l_min)?,
        standoff: Length::from_mm(standoff_mm)?,
    }))
}

/// An iron on a joint: tip 300 to 360 °C, 5 K/W from tip to joint (2 to 10; common practice, no
/// source), heat entering through a pad `contact_mm` across.
///
/// # Errors
/// [`NotAQuantity`] if a number is none.
pub fn iron(tip_c: f64, contact_mm: f64) -> Result<Tool, NotAQuantity> {
    Ok(Tool::Iron {
        tip: Celsius::new(tip_c)?,
        contact: Length::from_mm(contact_mm)?,
        resistance: ContactResistance::from_k_w(5.0)?,
    })
}

/// A disc of the board held at `peak`: for a step of which only the peak at its target is known. What the
/// target reaches bounds what leaves it, so the bound of its neighbours needs no tool. Air that blows past
/// the target is not in it.
///
/// # Errors
/// [`NotAQuantity`] if a constant of this function were none.
pub fn held_at(peak: Celsius, across: Length) -> Result<Tool, NotAQuantity> {
    Ok(Tool::Iron {
        tip: peak,
        contact: across,
        resistance: ContactResistance::from_k_w(0.01)?,
    })
}

#[expect(
    clippy::expect_used,
    reason = "constants of this file, each called by a test"
)]
fn film(w_m2k: f64) -> FilmCoefficient {
    FilmCoefficient::from_w_m2k(w_m2k).expect("a constant within range")
}

/// Sizes of nozzle and flow seen at benches, for a tool of which only the kind is known (common
/// practice, no source): small, middle and wide nozzle.
pub const HAND_AIR_NOZZLES_MM_L_MIN: [(f64, f64); 3] = [(4.0, 20.0), (8.0, 40.0), (12.0, 80.0)];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn constants_are_quantities() {
        assert!((still_air(Celsius::whole(25)).above.w_m2k() - 8.0).abs() < 1e-12);
        assert!((plate_under(Celsius::whole(120)).film.w_m2k() - 25.0).abs() < 1e-12);
        for (nozzle, flow) in HAND_AIR_NOZZLES_MM_L_MIN {
            assert!(hand_air(nozzle, 350.0, flow, 3.0 * nozzle).is_ok());
        }
        assert!(iron(350.0, 2.0).is_ok());
        assert!(hand_air(4.0, -300.0, 20.0, 10.0).is_err());
    }
}
