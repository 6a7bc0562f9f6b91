//! Pictures: plain data in, SVG, PNG or plain characters out. Nothing here does physics.
//!
//! Every picture is made in two moves: its data become a [`Picture`] (shapes and labels at places, none
//! of the labels over another), and the picture is drawn by one function on either backend. No
//! font, display or clock is needed, and the same data give the same bytes.

mod axes;
mod bars;
mod card;
mod curve;
mod curve_picture;
mod draw;
mod heat;
mod heat_map;
mod indexed;
mod inks;
mod ladder;
mod lettering;
mod numbers;
mod picture;
mod place;
mod routes;
mod staircase;
mod sweep_picture;
mod traces;

pub use bars::{Bar, Group, Ladder, NeverMeet, Paper};
pub use card::{Card, CardRow};
pub use curve::{Curve, CurvePoint, Landmark, Sweep, SweepMark, SweepPoint};
pub use draw::NotDrawn;
pub use heat::{Footprint, Happening, HeatMap, Placed, Trace, TracePoint, Traces};
pub use lettering::plain;
pub use picture::{Picture, PlacedText};
pub use place::Rect;
pub use routes::{RouteBar, Routes};
pub use staircase::{
    Basis, Ceiling, Dot, Drop, LifeLine, Over, Segment, Staircase, Standing, Tightest, Tread,
    TreadKind,
};

/// The temperature scale of labels; data always come as [`crate::quantity::Celsius`].
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Scale {
    /// °C; differences in K.
    #[default]
    Celsius,
    /// °F; differences in °F.
    Fahrenheit,
}

/// A verdict as a picture shows it: each has a shape, a word and a colour of its own.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Mark {
    /// No liquid, with the wanted margin.
    Holds,
    /// No liquid, or a trace of it, but less than the wanted margin.
    Close,
    /// Some liquid, within what the joint may bear.
    Softens,
    /// More liquid than the joint may bear.
    Melts,
    /// The target of the step does not get hot enough.
    DoesNotFlow,
    /// Something that is no joint gets hotter than it may.
    Limit,
    /// The step cannot be done at all: no way to it, nothing there.
    Refused,
    /// Not known; never to be read as safe.
    Unknown,
}

impl Mark {
    /// The word that stands beside the shape.
    pub const fn word(self) -> &'static str {
        match self {
            Mark::Holds => "holds",
            Mark::Close => "close",
            Mark::Softens => "softens",
            Mark::Melts => "melts",
            Mark::DoesNotFlow => "does not flow",
            Mark::Limit => "over limit",
            Mark::Refused => "cannot be done",
            Mark::Unknown => "not known",
        }
    }
}
