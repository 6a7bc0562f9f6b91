//! What the program says: pictures, and everything else a person reads.

pub mod chart;
