//! A picture before it is drawn: shapes and labels at places, in px at 96 to the inch, y downwards.

use super::lettering::{self, HALF_X_HEIGHT};
use super::place::Rect;

/// A colour, as red, green and blue.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Ink(pub u8, pub u8, pub u8);

/// A place in px.
pub(super) type Point = (f64, f64);

/// What is drawn under the labels.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Shape {
    /// An open path with a width.
    Stroke {
        points: Vec<Point>,
        width: f64,
        ink: Ink,
    },
    /// A filled convex polygon.
    Fill { points: Vec<Point>, ink: Ink },
    /// A filled rectangle, less than opaque if wanted.
    Box { rect: Rect, ink: Ink, alpha: f64 },
    /// A filled circle.
    Disc {
        center: Point,
        radius: f64,
        ink: Ink,
    },
}

/// Which end of a text lies at its place.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Anchor {
    Start,
    Middle,
    End,
}

/// One line of text; its place is at its anchor, at half the height of a small letter.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Label {
    pub text: String,
    pub at: Point,
    pub anchor: Anchor,
    pub size: f64,
    pub bold: bool,
    pub ink: Ink,
    /// What is laid under the text so that no line strikes it through.
    pub ground: Option<Ground>,
}

/// What is laid under a text.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Ground {
    pub ink: Ink,
    pub alpha: f64,
}

/// Paper shining through a little.
pub(super) const HALO: Ground = Ground {
    ink: Ink(255, 255, 255),
    alpha: 0.85,
};

impl Label {
    pub(super) fn new(text: impl Into<String>, at: Point, size: f64, ink: Ink) -> Self {
        Label {
            text: text.into(),
            at,
            anchor: Anchor::Start,
            size,
            bold: false,
            ink,
            ground: None,
        }
    }

    pub(super) fn bold(self) -> Self {
        Label { bold: true, ..self }
    }

    pub(super) fn anchored(self, anchor: Anchor) -> Self {
        Label { anchor, ..self }
    }

    pub(super) fn on(self, ground: Ground) -> Self {
        Label {
            ground: Some(ground),
            ..self
        }
    }

    /// What the letters cover.
    pub(super) fn rect(&self) -> Rect {
        let width = lettering::width(&self.text, self.size, self.bold);
        let left = match self.anchor {
            Anchor::Start => self.at.0,
            Anchor::Middle => self.at.0 - width / 2.0,
            Anchor::End => self.at.0 - width,
        };
        let baseline = self.at.1 + HALF_X_HEIGHT * self.size;
        Rect {
            left,
            top: baseline - ASCENT * self.size,
            right: left + width,
            bottom: baseline + DESCENT * self.size,
        }
    }
}

/// The reach of a letter above and below its baseline, as shares of the size (capitals, commas).
const ASCENT: f64 = 0.76;
const DESCENT: f64 = 0.24;

/// Something to look at, ready to be drawn as SVG or PNG.
#[derive(Clone, Debug, PartialEq)]
pub struct Picture {
    pub(super) width: f64,
    pub(super) height: f64,
    pub(super) title: String,
    pub(super) description: String,
    /// A physical size in mm, where the picture is made for paper.
    pub(super) paper_mm: Option<(f64, f64)>,
    pub(super) shapes: Vec<Shape>,
    pub(super) labels: Vec<Label>,
}

/// A label of a finished picture, for checks of the layout.
#[derive(Clone, Debug, PartialEq)]
pub struct PlacedText {
    /// What it says.
    pub text: String,
    /// Where it is.
    pub rect: Rect,
}

impl Picture {
    pub(super) fn new(title: &str) -> Self {
        Picture {
            width: 0.0,
            height: 0.0,
            title: lettering::plain(title),
            description: String::new(),
            paper_mm: None,
            shapes: Vec::new(),
            labels: Vec::new(),
        }
    }

    /// Every text of the picture and the place that it covers, in px.
    pub fn texts(&self) -> Vec<PlacedText> {
        self.labels
            .iter()
            .map(|label| PlacedText {
                text: label.text.clone(),
                rect: label.rect(),
            })
            .collect()
    }

    /// Width and height in px.
    pub fn size(&self) -> (f64, f64) {
        (self.width, self.height)
    }

    /// The picture in words, for who cannot see it.
    pub fn description(&self) -> &str {
        &self.description
    }

    pub(super) fn label(&mut self, label: Label) {
        if !label.text.is_empty() {
            self.labels.push(label);
        }
    }

    pub(super) fn stroke(&mut self, points: Vec<Point>, width: f64, ink: Ink) {
        self.shapes.push(Shape::Stroke { points, width, ink });
    }

    pub(super) fn line(&mut self, from: Point, to: Point, width: f64, ink: Ink) {
        self.stroke(vec![from, to], width, ink);
    }

    pub(super) fn fill(&mut self, points: Vec<Point>, ink: Ink) {
        self.shapes.push(Shape::Fill { points, ink });
    }

    pub(super) fn rect(&mut self, rect: Rect, ink: Ink) {
        self.tint(rect, ink, 1.0);
    }

    pub(super) fn tint(&mut self, rect: Rect, ink: Ink, alpha: f64) {
        self.shapes.push(Shape::Box { rect, ink, alpha });
    }

    pub(super) fn disc(&mut self, center: Point, radius: f64, ink: Ink) {
        self.shapes.push(Shape::Disc {
            center,
            radius,
            ink,
        });
    }

    /// A straight line of dashes, each `on` px long with `off` px between.
    pub(super) fn dashes(
        &mut self,
        from: Point,
        to: Point,
        (on, off): (f64, f64),
        width: f64,
        ink: Ink,
    ) {
        let (dx, dy) = (to.0 - from.0, to.1 - from.1);
        let length = dx.hypot(dy);
        let mut done = 0.0;
        while done < length {
            let end = (done + on).min(length);
            let point = |along: f64| (from.0 + dx * along / length, from.1 + dy * along / length);
            self.line(point(done), point(end), width, ink);
            done += on + off;
        }
    }

    /// Slanting lines over a rectangle, as one path that turns at its upper and lower edge.
    pub(super) fn hatch(&mut self, rect: Rect, gap: f64, width: f64, ink: Ink) {
        let height = rect.bottom - rect.top;
        let mut points = Vec::new();
        let mut x = rect.left - height;
        let mut upwards = true;
        while x < rect.right {
            let ends = clipped(x, height, rect);
            if let Some((low, high)) = ends {
                points.extend(if upwards { [low, high] } else { [high, low] });
                upwards = !upwards;
            }
            x += gap;
        }
        if points.len() > 1 {
            self.stroke(points, width, ink);
        }
    }
}

/// The part inside of the rectangle of a line that leaves its lower edge at `x` and rises at 45°.
fn clipped(x: f64, height: f64, rect: Rect) -> Option<(Point, Point)> {
    let from = (rect.left - x).max(0.0);
    let to = (rect.right - x).min(height);
    (to > from).then_some(((x + from, rect.bottom - from), (x + to, rect.bottom - to)))
}
