//! What heat pictures show, as plain data: a map of the board, and temperatures over time.

use super::{Landmark, Mark};
use crate::quantity::{Celsius, Length};

/// The hottest that each place of a board gets in one step.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct HeatMap {
    /// Heading.
    pub title: String,
    /// The answer in one line.
    pub line: String,
    /// Edges of the columns of the grid from the left edge of the board, ascending; one more than columns.
    pub across: Vec<Length>,
    /// Edges of the rows from the lower edge of the board, ascending; one more than rows.
    pub up: Vec<Length>,
    /// Row by row from the lower left corner; missing ones are left blank.
    pub cells: Vec<Celsius>,
    /// Lines of one temperature that matter: "tails 181".
    pub isotherms: Vec<Landmark>,
    /// Joints and other places of interest.
    pub places: Vec<Placed>,
    /// Where the tool is, as a rectangle of the board; unset where the whole board is heated.
    pub tool: Option<Footprint>,
    /// Small print, a line each.
    pub notes: Vec<String>,
}

/// One place of a board.
#[derive(Clone, Debug, PartialEq)]
pub struct Placed {
    /// Its name.
    pub name: String,
    /// From the left edge.
    pub x: Length,
    /// From the lower edge.
    pub y: Length,
    /// What it sees at the hottest.
    pub at: Option<Celsius>,
    /// How far it reaches around that point: drawn as a circle.
    pub reach: Option<Length>,
    /// The verdict on it.
    pub mark: Mark,
}

/// A rectangle of a board.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Footprint {
    /// Left and right, from the left edge.
    pub across: (Length, Length),
    /// Lower and upper, from the lower edge.
    pub up: (Length, Length),
}

/// Temperatures of several places over the time of one step.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Traces {
    /// Heading.
    pub title: String,
    /// The answer in one line.
    pub line: String,
    /// One for every place.
    pub traces: Vec<Trace>,
    /// When something happens: "air on 0 s", "tool off 75 s".
    pub moments: Vec<Happening>,
    /// Small print, a line each.
    pub notes: Vec<String>,
}

/// How warm one place gets.
#[derive(Clone, Debug, PartialEq)]
pub struct Trace {
    /// Its name.
    pub name: String,
    /// In order of time.
    pub points: Vec<TracePoint>,
    /// The temperature that it must stay below, if it has one.
    pub first_melt: Option<Celsius>,
    /// Whether it is what the step is about: drawn stronger, and `first_melt` is what it must reach.
    pub target: bool,
    /// The verdict on it.
    pub mark: Mark,
}

/// One moment of a trace.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TracePoint {
    /// Since the beginning of the step.
    pub after: std::time::Duration,
    /// The temperature.
    pub at: Celsius,
    /// Between what it may lie, where it is an estimate.
    pub band: Option<(Celsius, Celsius)>,
}

/// Something that happens.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Happening {
    /// What.
    pub name: String,
    /// When.
    pub after: std::time::Duration,
}
