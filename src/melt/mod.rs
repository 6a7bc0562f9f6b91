//! When a blend starts to melt, how much of it is liquid, and when it flows.

mod layer;

pub use layer::{Contact, History, Layer};
