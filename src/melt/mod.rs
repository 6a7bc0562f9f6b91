//! From a composition to when it melts: phase data, equilibrium, freezing, and what may be relied on.

mod book;
mod curve;
mod data;
mod gibbs;
mod layer;
mod linear;
mod path;
mod phase;
mod reaction;
mod scheil;
mod solver;
mod system;
mod table;

pub use book::{
    Basis, Doubt, Melt, MeltBook, NoReadings, Pin, Reading, Readings, TableEntry, TrustClass,
};
pub use curve::{Curve, CurveFault, curve};
pub use data::DataFault;
pub use layer::{Contact, History, Layer};
pub use reaction::Reaction;
