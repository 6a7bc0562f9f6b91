//! Alloys: elements, compositions, what people call them, and the table of published readings.

mod book;
mod composition;
mod element;
mod formula;
pub mod geometry;
pub mod limits;
mod load;
mod names;
pub mod spec;
mod table;
mod term;
mod words;

pub use book::{AlloyBook, TABLE_FILES};
pub use composition::{Blend, Composition, NotAComposition};
pub use element::{Element, UnknownElement};
pub use formula::elements_of;
pub use names::{NameFault, Understood};
pub use table::{
    Alloy, AlloyDensity, Floor, InUse, Invariant, InvariantKind, Reading, Source, SourceKind,
    Standing, StockItem, TRACE_PERCENT, element_set, is_neutral,
};
