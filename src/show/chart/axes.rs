//! A field with two even scales, for curves.

use super::inks::{FAINT, GREY, INK};
use super::picture::{Anchor, Ink, Label, Picture, Point};
use super::place::Rect;

/// A field and what its edges stand for.
pub(super) struct Axes {
    pub plot: Rect,
    /// At the left and at the right edge.
    pub across: (f64, f64),
    /// At the lower and at the upper edge.
    pub up: (f64, f64),
}

const SMALL: f64 = 11.0;

impl Axes {
    pub(super) fn x(&self, value: f64) -> f64 {
        let (low, high) = self.across;
        self.plot.left + (value - low) / (high - low) * self.plot.width()
    }

    pub(super) fn y(&self, value: f64) -> f64 {
        let (low, high) = self.up;
        self.plot.bottom - (value - low) / (high - low) * self.plot.height()
    }

    pub(super) fn point(&self, x: f64, y: f64) -> Point {
        (self.x(x), self.y(y))
    }

    /// Horizontal lines with their numbers at the left, and what they count above them.
    pub(super) fn rows(&self, picture: &mut Picture, ticks: &[(f64, String)], what: &str) {
        for (at, text) in ticks {
            let y = self.y(*at);
            picture.line((self.plot.left, y), (self.plot.right, y), 0.75, FAINT);
            let label = Label::new(text, (self.plot.left - 8.0, y), SMALL, GREY);
            picture.label(label.anchored(Anchor::End));
        }
        let at = (self.plot.left - 8.0 - 26.0, self.plot.top - 17.0);
        picture.label(Label::new(what, at, SMALL, GREY));
    }

    /// Numbers along the lower edge with short strokes, and what they count at its right end.
    pub(super) fn columns(&self, picture: &mut Picture, ticks: &[(f64, String)], what: &str) {
        let Rect {
            left,
            right,
            bottom,
            ..
        } = self.plot;
        picture.line((left, bottom), (right, bottom), 1.25, INK);
        for (at, text) in ticks {
            let x = self.x(*at);
            picture.line((x, bottom), (x, bottom + 4.0), 1.0, INK);
            let label = Label::new(text, (x, bottom + 14.0), SMALL, GREY);
            picture.label(label.anchored(Anchor::Middle));
        }
        let label = Label::new(what, (right, bottom + 31.0), SMALL, GREY);
        picture.label(label.anchored(Anchor::End));
    }

    /// A line through points; a missing one leaves a gap, a lonely one becomes a dot.
    pub(super) fn path(&self, picture: &mut Picture, points: &[Option<(f64, f64)>], pen: Pen) {
        for run in points.split(Option::is_none) {
            let run: Vec<Point> = run
                .iter()
                .flatten()
                .map(|(x, y)| self.point(*x, *y))
                .collect();
            pen.draw(picture, &simpler(&run));
        }
    }
}

/// How far a point may lie off the stroke that replaces it, in px.
const TOLERANCE: f64 = 0.25;

/// The path without the points that nobody would see: pixels are whole, and strokes shorter than
/// one get ragged edges.
fn simpler(run: &[Point]) -> Vec<Point> {
    let (Some(first), Some(last)) = (run.first(), run.last()) else {
        return Vec::new();
    };
    let mut kept = vec![*first];
    // Stretches still to be looked at, the next one on top: the way of Douglas and Peucker.
    let mut stretches = vec![run];
    while let Some(stretch) = stretches.pop() {
        let (Some(from), Some(to)) = (stretch.first(), stretch.last()) else {
            continue;
        };
        let off = |point: &Point| distance(*point, *from, *to);
        let inner = stretch
            .iter()
            .enumerate()
            .skip(1)
            .take(stretch.len().saturating_sub(2));
        let far = inner.max_by(|a, b| off(a.1).total_cmp(&off(b.1)));
        match far {
            Some((at, point)) if off(point) > TOLERANCE => {
                stretches.extend(
                    [stretch.get(at..), stretch.get(..=at)]
                        .into_iter()
                        .flatten(),
                );
            }
            _ => kept.push(*to),
        }
    }
    if run.len() == 1 {
        return vec![*last];
    }
    kept
}

/// From a point to a stroke.
fn distance(point: Point, from: Point, to: Point) -> f64 {
    let (dx, dy) = (to.0 - from.0, to.1 - from.1);
    let length = dx.hypot(dy);
    if length < 1e-9 {
        return (point.0 - from.0).hypot(point.1 - from.1);
    }
    ((point.0 - from.0) * dy - (point.1 - from.1) * dx).abs() / length
}

/// How a curve is drawn.
#[derive(Clone, Copy)]
pub(super) struct Pen {
    pub width: f64,
    pub ink: Ink,
    pub dashes: Option<(f64, f64)>,
}

impl Pen {
    fn draw(self, picture: &mut Picture, run: &[Point]) {
        match (run, self.dashes) {
            ([], _) => {}
            ([only], _) => picture.disc(*only, self.width, self.ink),
            (_, None) => picture.stroke(run.to_vec(), self.width, self.ink),
            (_, Some(dashes)) => dashed(picture, run, dashes, self),
        }
    }

    /// A sample for the key, as long as a word.
    pub(super) fn sample(self, picture: &mut Picture, (x, y): Point) {
        self.draw(picture, &[(x, y), (x + 30.0, y)]);
    }
}

/// Dashes that run on over the corners of a path.
fn dashed(picture: &mut Picture, run: &[Point], (on, off): (f64, f64), pen: Pen) {
    let mut left = on;
    let mut drawing = true;
    let mut dash: Vec<Point> = run.first().copied().into_iter().collect();
    for pair in run.windows(2) {
        let [mut from, to] =
            [pair.first(), pair.last()].map(|end| end.copied().unwrap_or_default());
        loop {
            let length = (to.0 - from.0).hypot(to.1 - from.1);
            if length <= left {
                left -= length;
                if drawing {
                    dash.push(to);
                }
                break;
            }
            let share = left / length;
            from = (
                from.0 + (to.0 - from.0) * share,
                from.1 + (to.1 - from.1) * share,
            );
            if drawing {
                dash.push(from);
                picture.stroke(std::mem::take(&mut dash), pen.width, pen.ink);
            } else {
                dash = vec![from];
            }
            drawing = !drawing;
            left = if drawing { on } else { off };
        }
    }
    if drawing && dash.len() > 1 {
        picture.stroke(dash, pen.width, pen.ink);
    }
}

/// Ticks of a scale in per cent, about so many.
pub(super) fn percent_ticks(low: f64, high: f64, most: f64) -> Vec<(f64, String)> {
    let steps = [0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 25.0, 50.0];
    let step = steps
        .into_iter()
        .find(|step| (high - low) / step <= most)
        .unwrap_or(50.0);
    let mut ticks = Vec::new();
    let mut count = (low / step - 1e-9).ceil();
    while count * step <= high + 1e-9 {
        ticks.push((count * step, super::numbers::short(count * step)));
        count += 1.0;
    }
    ticks
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_simpler_path_keeps_corners_and_drops_what_lies_on_the_way() {
        let run = [
            (0.0, 0.0),
            (1.0, 0.0),
            (2.0, 0.1),
            (3.0, 0.0),
            (3.0, 5.0),
            (3.0, 9.0),
            (6.0, 9.0),
        ];
        assert_eq!(
            simpler(&run),
            [(0.0, 0.0), (3.0, 0.0), (3.0, 9.0), (6.0, 9.0)]
        );
        assert_eq!(simpler(&run[..1]), run[..1]);
        assert_eq!(simpler(&[]), []);
    }

    #[test]
    fn ticks_of_per_cent_are_round_and_few() {
        let texts = |low, high, most| -> Vec<String> {
            percent_ticks(low, high, most)
                .into_iter()
                .map(|tick| tick.1)
                .collect()
        };
        assert_eq!(texts(0.0, 100.0, 5.0), ["0", "20", "40", "60", "80", "100"]);
        assert_eq!(
            texts(0.0, 0.9, 10.0).last().map(String::as_str),
            Some("0.9")
        );
    }
}
