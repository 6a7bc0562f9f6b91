//! Plans: folds and searches over the one transition.

mod check;

pub use check::{Checked, CheckedStep, Ledger, Place, Planned, Tightest, check, margins, worlds};
