//! From a composition to when it melts: phase data, equilibrium, freezing, and what may be relied on.
//!
//! A [`MeltBook`] answers what a technician may rely on; [`curve()`] is the bare computation below it.
//!
//! ```
//! use std::sync::Arc;
//! use meltstair::alloy::{AlloyBook, spec};
//! use meltstair::melt::{Basis, History, MeltBook};
//! use meltstair::quantity::Celsius;
//!
//! let book = AlloyBook::shipped();
//! let melts = MeltBook::new(Arc::new(book.clone()), Vec::new());
//! // A tin-bismuth ball on a pad that was wicked, but held leaded solder.
//! let mix = spec::parse(book, "ball 0.3 snbi + film 10um 63/37 on 0.3")?;
//! let melt = melts.of(&mix.blend(), History::Frozen);
//! assert_eq!(melt.basis, Basis::Computed);
//! assert_eq!(melt.survival, Some(Celsius::whole(95)));
//! assert!(melt.liquid_at(Celsius::whole(95)).is_some_and(|share| share.percent() > 4.0));
//! # Ok::<(), meltstair::alloy::spec::SpecFault>(())
//! ```

mod blend;
mod book;
mod curve;
mod data;
mod floor;
mod freezing;
mod gibbs;
mod hull;
mod joint;
mod layer;
mod linear;
mod mark;
mod mixing;
mod path;
mod phase;
mod purity;
mod reaction;
mod scheil;
mod solver;
mod stride;
mod system;
mod table;
mod trust;
mod walk;

pub use book::{
    Basis, Doubt, Melt, NoReadings, Pin, Reading, Readings, SetFloor, TableEntry, TrustClass,
};
pub use curve::{Curve, CurveFault, curve};
pub use data::{DataFault, phase_files};
pub use joint::MeltBook;
pub use layer::{Contact, History, Layer};
pub use purity::Impure;
pub use reaction::Reaction;
