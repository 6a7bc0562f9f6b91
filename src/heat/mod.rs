//! How hot the neighbours get: from board, tool, preheater, distance and time to temperatures.
//!
//! [`board`] turns layers, copper and thickness into conduction and heat capacity; [`jet`] turns nozzle,
//! air and flow into heat transfer, [`rays`] an infra-red emitter; [`scene`] puts tool, preheater and board together. [`steady`] bounds
//! in closed form what a neighbour can ever see; [`plate`] follows the board in time on the numeric kernel
//! [`sheet`] and its [`mesh`]. [`knowledge`] holds what is known of the guessed numbers and puts a band on
//! every prediction; [`learn()`] narrows it with a thermocouple; [`profile()`] holds a part's run against what
//! parts are made for; [`presets`] are starting values in physical terms, [`search`]
//! finds the least of them that still does the job.
//!
//! The board is a thin plate: one temperature through its thickness, with a correction for the face
//! that the air blows on. Nothing here was measured on a bench; a measured run replaces the guesses.

pub mod board;
pub mod jet;
pub mod knowledge;
pub mod learn;
pub mod mesh;
pub mod plate;
pub mod presets;
pub mod profile;
pub mod rays;
pub mod rings;
pub mod scene;
pub mod search;
pub mod sheet;
pub mod steady;
pub mod units;

pub use board::{Board, BoardFault, Patch, Stack};
pub use jet::{Jet, OutsideRange};
pub use knowledge::{
    Band, Forecast, HotBound, Kept, Knowledge, NoKnowledge, PlaceForecast, Reach, TRIANGLE,
    forecast, forecast_each,
};
pub use learn::{Fit, LearnFault, Reading, Trial, When, learn};
pub use plate::{Fineness, Outcome, Place, PlaceHeat, Program, RunFault, Until, run, run_each};
pub use profile::{Body, Finding, Solder, Standing, profile};
pub use rays::Emitter;
pub use scene::{FACTORS, Preheat, Room, Scene, SceneFault, Tool, Tuning};
pub use steady::{Bound, Face, NoBound};
pub use units::{
    AirFlow, ContactResistance, Factor, FilmCoefficient, HeatCapacity, Point, Rect, Seconds,
};
