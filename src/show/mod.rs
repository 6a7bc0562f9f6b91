//! What the program says: pictures, and everything else a person reads.

pub mod alloys;
pub mod answer;
pub mod bench;
mod brief;
pub mod cautions;
pub mod chart;
pub mod check;
pub mod clash;
pub mod compare;
pub mod drill;
pub mod electric;
pub mod find_out;
mod findings;
mod fold;
pub mod heat;
pub mod heat_pictures;
pub mod ladder;
pub mod mix;
pub mod order;
pub mod own;
pub mod pick;
pub mod say;
pub mod sheet;
pub mod staged;
pub mod staircase;
pub mod sweep;
mod table;
pub mod version;
pub mod wall;
pub mod why;
pub mod words;

pub use table::Rows;
