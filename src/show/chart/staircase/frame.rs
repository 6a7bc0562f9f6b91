//! Where everything of a staircase goes: one column a step, one scale of temperature.

use super::super::place::Rect;
use super::{Over, Segment, Staircase};
use crate::quantity::Celsius;

/// Room left of the plot, for the axis.
const LEFT: f64 = 54.0;
/// How much of a job a picture has room for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Size {
    /// A picture of its own.
    Whole,
    /// A picture beside a text that says the rest.
    Small,
}

impl Size {
    /// The widest room for names right of the plot.
    pub(super) const fn names(self) -> f64 {
        match self {
            Size::Whole => 190.0,
            Size::Small => 130.0,
        }
    }
}

/// From the end of a line to its name.
pub(super) const LEADER: f64 = 20.0;
/// Height of a lane for a joint whose melting is not known.
const LANE: f64 = 18.0;
/// No picture of a job gets wider than this.
const WIDEST: f64 = 3600.0;

/// The scales of one staircase.
pub(super) struct Frame {
    /// The field of temperatures.
    pub plot: Rect,
    /// The width of a column.
    pub column: f64,
    /// The whole width.
    pub width: f64,
    /// Lines (by index) that need a lane below the field, in order.
    pub lanes: Vec<usize>,
    low: f64,
    high: f64,
}

impl Frame {
    /// `top` is where the head ends; `names` the room for names at the right.
    pub(super) fn of(stairs: &Staircase, top: f64, names: f64, size: Size) -> Self {
        let steps = stairs.steps.len().max(1) as f64;
        let (low, high) = extent(stairs);
        let joints = stairs.lines.len() as f64;
        let (left, column, least, height) = match size {
            // A short job still has room for its head.
            Size::Whole => {
                let column = (960.0 / steps).clamp(64.0, 136.0).min(WIDEST / steps);
                (
                    LEFT,
                    column,
                    420.0,
                    (400.0 + 12.0 * joints).clamp(430.0, 640.0),
                )
            }
            Size::Small => (
                38.0,
                (320.0 / steps).clamp(22.0, 60.0).min(WIDEST / steps),
                240.0,
                200.0,
            ),
        };
        let width = (column * steps).max(least);
        let column = width / steps;
        let plot = Rect {
            left,
            top,
            right: left + width,
            bottom: top + height,
        };
        Frame {
            plot,
            column,
            width: plot.right + LEADER + names + 14.0,
            lanes: lanes(stairs),
            low,
            high,
        }
    }

    pub(super) fn y(&self, at: Celsius) -> f64 {
        self.y_of(at.degrees())
    }

    pub(super) fn y_of(&self, degrees: f64) -> f64 {
        let share = (degrees - self.low) / (self.high - self.low);
        self.plot.bottom - share * self.plot.height()
    }

    pub(super) fn range(&self) -> (f64, f64) {
        (self.low, self.high)
    }

    /// The left edge of a column.
    pub(super) fn left(&self, step: usize) -> f64 {
        self.plot.left + self.column * step as f64
    }

    /// The middle of a column.
    pub(super) fn middle(&self, step: usize) -> f64 {
        self.left(step) + self.column / 2.0
    }

    /// From where to where a stretch between two steps goes, its ends in the middle of their columns.
    pub(super) fn span(&self, from: Option<usize>, to: Option<usize>) -> (f64, f64) {
        let place = |step: usize| self.middle(step).min(self.plot.right);
        (
            from.map_or(self.plot.left, place),
            to.map_or(self.plot.right, place),
        )
    }

    /// The bottom of everything that has a height: field and lanes.
    pub(super) fn floor(&self) -> f64 {
        self.plot.bottom + LANE * self.lanes.len() as f64
    }

    /// The middle of a line's lane.
    pub(super) fn lane(&self, line: usize) -> Option<f64> {
        let lane = self.lanes.iter().position(|other| *other == line)?;
        Some(self.plot.bottom + LANE * (lane as f64 + 0.5) + 2.0)
    }

    /// The height at which a segment is drawn: its first melt, or its lane.
    pub(super) fn segment_y(&self, line: usize, segment: &Segment) -> Option<f64> {
        match segment.first_melt {
            Some(at) => Some(self.y(at)),
            None => self.lane(line),
        }
    }
}

fn lanes(stairs: &Staircase) -> Vec<usize> {
    let unknown =
        |segments: &[Segment]| segments.iter().any(|segment| segment.first_melt.is_none());
    (0..stairs.lines.len())
        .filter(|line| {
            stairs
                .lines
                .get(*line)
                .is_some_and(|line| unknown(&line.segments))
        })
        .collect()
}

/// Lowest and highest temperature of the axis, in °C, with room for labels.
pub(super) fn extent(stairs: &Staircase) -> (f64, f64) {
    let segments = stairs.lines.iter().flat_map(|line| &line.segments);
    let all: Vec<f64> = segments
        .flat_map(|segment| [segment.first_melt, segment.flow])
        .chain(
            stairs
                .steps
                .iter()
                .flat_map(|step| [step.peak, step.must_reach]),
        )
        .chain(stairs.dots.iter().flat_map(|dot| {
            [
                Some(dot.at),
                dot.band.map(|band| band.0),
                dot.band.map(|band| band.1),
            ]
        }))
        .chain(stairs.ceilings.iter().map(|ceiling| Some(ceiling.limit)))
        .chain([stairs.service])
        .flatten()
        .map(Celsius::degrees)
        .collect();
    let least = all.iter().copied().fold(f64::INFINITY, f64::min);
    let most = all.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    if !least.is_finite() {
        return (0.0, 250.0);
    }
    let low = ((least - 12.0) / 25.0).floor() * 25.0;
    let high = ((most + 16.0) / 25.0).ceil() * 25.0;
    (low, high.max(low + 100.0))
}

impl Staircase {
    /// The temperature that a dot is judged against, if it is known.
    pub(super) fn line_at(&self, step: usize, over: Over) -> Option<Celsius> {
        match over {
            Over::Line(line) => self.segment_before(line, step)?.first_melt,
            Over::Ceiling(ceiling) => Some(self.ceilings.get(ceiling)?.limit),
        }
    }

    /// What a joint is when a step begins; if the step makes it, what it is then.
    pub(super) fn segment_before(&self, line: usize, step: usize) -> Option<&Segment> {
        let segments = &self.lines.get(line)?.segments;
        let stands = |segment: &&Segment| {
            segment.from_step.is_none_or(|from| from < step)
                && segment.to_step.is_none_or(|to| to >= step)
        };
        segments.iter().find(stands).or_else(|| {
            segments
                .iter()
                .find(|segment| segment.from_step == Some(step))
        })
    }

    /// The name of a joint or of a guarded thing.
    pub(super) fn name(&self, over: Over) -> &str {
        match over {
            Over::Line(line) => self.lines.get(line).map_or("", |line| &line.joint),
            Over::Ceiling(ceiling) => self
                .ceilings
                .get(ceiling)
                .map_or("", |ceiling| &ceiling.name),
        }
    }
}
