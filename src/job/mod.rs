//! The job file: what a technician writes down, read into types that cannot be wrong.
//!
//! Everything here has been checked: ids are resolved to positions, units to quantities, alloys to
//! compositions. Reading and pointing at what is wrong lives in the files beside this one.

mod alloys;
mod cycles;
mod deposits;
mod desk;
mod done;
mod each;
mod example;
mod fields;
mod groups;
mod heat;
pub mod kept;
mod key_list;
mod keys;
pub mod learned;
pub mod log;
mod log_fits;
mod mend;
mod names;
mod node;
mod plausible;
mod read;
mod schema;
mod shape;
mod slips;
mod steps;
mod temperature;
mod things;
mod ways;

pub use desk::{AssumedValue, Assumption, Mark, Notice};
pub use example::example;
pub use key_list::{KeyLine, keys_of, things};
pub(crate) use log_fits::mark_order;
pub use log_fits::{misfit, tool_unsaid};
pub(crate) use read::logs_nothing;
pub use read::{JobFaults, ReadJob, read, read_bytes};
pub use schema::schema;
pub use shape::{
    Adhesive, Amount, Balls, Board, Choice, Content, Coupling, Deposit, Event, Finish, Guard,
    GuardIx, GuardKind, Hang, Job, Joint, JointIx, Learned, Must, Pad, Part, PartIx, Pin, Probe,
    Purity, ReadingFile, Reel, ReelIx, Sink, Solder, Stage, Start, Step, StepIx, Tool, Want, Way,
    Where, Wire, WireIx, Work, Zone, ZoneIx,
};
pub use temperature::typed_celsius;
