//! Alloys: elements, compositions, what people call them, and the table of published readings.

mod composition;
mod element;

pub use composition::{Blend, Composition, NotAComposition};
pub use element::{Element, UnknownElement};
