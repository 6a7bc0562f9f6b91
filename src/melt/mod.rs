//! From a composition to when it melts: phase data, equilibrium, freezing, and what may be relied on.

mod blend;
mod book;
mod curve;
mod data;
mod freezing;
mod gibbs;
mod hull;
mod joint;
mod layer;
mod linear;
mod path;
mod phase;
mod reaction;
mod scheil;
mod solver;
mod system;
mod table;
mod trust;

pub use book::{Basis, Doubt, Melt, NoReadings, Pin, Reading, Readings, TableEntry, TrustClass};
pub use curve::{Curve, CurveFault, curve};
pub use data::{DataFault, phase_files};
pub use joint::MeltBook;
pub use layer::{Contact, History, Layer};
pub use reaction::Reaction;
