//! From a composition to when it melts: phase data, equilibrium, freezing, and what may be relied on.

mod book;
mod curve;
mod layer;
mod table;

pub use book::{
    Basis, Doubt, Melt, MeltBook, NoReadings, Pin, Reading, Readings, TableEntry, TrustClass,
};
pub use curve::{Curve, CurveFault, curve};
pub use layer::{Contact, History, Layer};
