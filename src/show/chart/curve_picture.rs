//! The melting curve as a picture.

use super::Scale;
use super::axes::{Axes, Pen, percent_ticks};
use super::curve::{Curve, CurvePoint};
use super::inks::{ALARM, GREY, HEAT, HEAT_TEXT, INK, METAL};
use super::lettering::{fit, plain, width, wrap};
use super::picture::{Anchor, HALO, Ink, Label, Picture, Point};
use super::place::{Placer, Rect};

pub(super) const WIDTH: f64 = 860.0;
pub(super) const LEFT: f64 = 58.0;
pub(super) const RIGHT: f64 = WIDTH - 26.0;
pub(super) const SMALL: f64 = 11.0;
pub(super) const NORMAL: f64 = 12.0;

pub(super) const EQUILIBRIUM: Pen = Pen {
    width: 2.5,
    ink: METAL,
    dashes: None,
};
pub(super) const FROZEN: Pen = Pen {
    width: 2.5,
    ink: HEAT,
    dashes: Some((8.0, 4.0)),
};
/// Title, line below it, key; returns where the field may begin.
pub(super) fn head(
    picture: &mut Picture,
    title: &str,
    line: &str,
    key: &[(Pen, &str, Ink)],
) -> f64 {
    let room = WIDTH - 32.0;
    let title = fit(&plain(title), 19.0, true, room);
    picture.label(Label::new(title, (16.0, 26.0), 19.0, INK).bold());
    let mut y = 51.0;
    for text in wrap(&plain(line), 13.0, false, room, 2) {
        picture.label(Label::new(text, (16.0, y), 13.0, INK));
        y += 18.0;
    }
    let mut x = 16.0;
    y += 6.0;
    for (pen, words, ink) in key {
        pen.sample(picture, (x, y));
        picture.label(Label::new(*words, (x + 37.0, y), NORMAL, *ink));
        x += 37.0 + width(words, NORMAL, false) + 24.0;
    }
    y + 42.0
}

pub(super) fn notes(picture: &mut Picture, notes: &[String], top: f64) -> f64 {
    let mut y = top;
    for note in notes {
        for text in wrap(&plain(note), SMALL, false, RIGHT - LEFT, 3) {
            picture.label(Label::new(text, (LEFT, y), SMALL, GREY));
            y += 14.0;
        }
    }
    y
}

impl Curve {
    /// The curve as a picture: temperature to the right, liquid upwards.
    pub fn picture(&self, scale: Scale) -> Picture {
        let mut picture = Picture::new(&self.title);
        picture.width = WIDTH;
        let mut key: Vec<(Pen, &str, Ink)> = Vec::new();
        if !self.as_frozen.is_empty() {
            key.push((FROZEN, "as the joint froze", HEAT_TEXT));
        }
        if !self.equilibrium.is_empty() {
            key.push((EQUILIBRIUM, "in equilibrium (long annealed)", METAL));
        }
        let top = head(&mut picture, &self.title, &self.line, &key);
        let plot = Rect {
            left: LEFT,
            top,
            right: RIGHT,
            bottom: top + 330.0,
        };
        let axes = Axes {
            plot,
            across: self.range(),
            up: (0.0, 104.0),
        };
        axes.rows(
            &mut picture,
            &percent_ticks(0.0, 100.0, 5.0),
            "% of the mass liquid",
        );
        axes.columns(
            &mut picture,
            &scale.ticks(axes.across.0, axes.across.1),
            scale.unit(),
        );
        let mut placer = Placer::new(Rect {
            left: LEFT + 2.0,
            right: RIGHT,
            ..plot
        });
        self.obstacles(&axes, &mut placer);
        self.landmarks(&mut picture, &axes, &mut placer, scale);
        axes.path(
            &mut picture,
            &points(&self.equilibrium, axes.across),
            EQUILIBRIUM,
        );
        axes.path(&mut picture, &points(&self.as_frozen, axes.across), FROZEN);
        picture.height = notes(&mut picture, &self.notes, plot.bottom + 52.0) + 6.0;
        picture.description = self.description(scale);
        picture
    }

    /// The temperatures that are shown: from a little below the first landmark to a little above the
    /// last, or else all of the curves.
    fn range(&self) -> (f64, f64) {
        let marks = self.landmarks.iter().map(|mark| mark.at.degrees());
        let curves = self.equilibrium.iter().chain(&self.as_frozen);
        let moving = curves
            .clone()
            .filter(|point| (0.001..0.9999).contains(&point.liquid.fraction()));
        let mut all: Vec<f64> = marks
            .chain(moving.map(|point| point.at.degrees()))
            .collect();
        if all.is_empty() {
            all = curves.map(|point| point.at.degrees()).collect();
        }
        let low = all.iter().copied().fold(f64::INFINITY, f64::min);
        let high = all.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        if !low.is_finite() {
            return (0.0, 300.0);
        }
        (
            ((low - 15.0) / 25.0).floor() * 25.0,
            ((high + 15.0) / 25.0).ceil() * 25.0,
        )
    }

    fn obstacles(&self, axes: &Axes, placer: &mut Placer) {
        for curve in [&self.equilibrium, &self.as_frozen] {
            let points: Vec<Point> = points(curve, axes.across)
                .into_iter()
                .flatten()
                .map(|(x, y)| axes.point(x, y))
                .collect();
            for pair in points.windows(2) {
                if let [a, b] = pair {
                    let rect = Rect {
                        left: a.0.min(b.0),
                        right: a.0.max(b.0) + 2.0,
                        top: a.1.min(b.1),
                        bottom: a.1.max(b.1) + 2.0,
                    };
                    placer.draw(rect, 6.0);
                }
            }
        }
    }

    /// A line down from each landmark's name.
    fn landmarks(&self, picture: &mut Picture, axes: &Axes, placer: &mut Placer, scale: Scale) {
        for mark in &self.landmarks {
            let x = axes.x(mark.at.degrees());
            picture.dashes(
                (x, axes.plot.top),
                (x, axes.plot.bottom),
                (2.0, 3.0),
                1.0,
                ALARM,
            );
            let line = Rect {
                left: x - 1.0,
                right: x + 1.0,
                ..axes.plot
            };
            placer.draw(line, 5.0);
        }
        for mark in &self.landmarks {
            let name = fit(&plain(&mark.name), NORMAL, false, 220.0);
            let text = format!("{name} {}", scale.temperature(mark.at));
            let wide = width(&text, NORMAL, true);
            let x = axes.x(mark.at.degrees());
            // Where another line stands close by, a name keeps to its own side of it.
            let crowded = self.landmarks.iter().any(|other| {
                let beside = axes.x(other.at.degrees()) - x;
                beside > 0.0 && beside < wide
            });
            let (right, left) = if crowded { (1.0, 0.0) } else { (0.0, 1.0) };
            let offers = (0_u8..17).flat_map(|row| {
                // Below the stroke along which all is liquid.
                let y = axes.plot.top + 28.0 + 17.0 * f64::from(row);
                let price = f64::from(row) * 4.0;
                [
                    ((x + 6.0 + wide / 2.0, y), price + right),
                    ((x - 6.0 - wide / 2.0, y), price + left),
                ]
            });
            if let Some(rect) = placer.place((wide, NORMAL), offers) {
                let label = Label::new(text, rect.center(), NORMAL, ALARM)
                    .bold()
                    .on(HALO);
                picture.label(label.anchored(Anchor::Middle));
            }
        }
    }

    fn description(&self, scale: Scale) -> String {
        let mut sentences = vec![plain(&self.line)];
        let marks = self.landmarks.iter();
        sentences.extend(
            marks.map(|mark| format!("{} {}", plain(&mark.name), scale.temperature(mark.at))),
        );
        sentences.retain(|sentence| !sentence.is_empty());
        sentences.join(". ")
    }
}

/// Points in °C and per cent inside of a range, led on to both ends of it: solid below the first
/// point, as liquid as the last above it.
fn points(curve: &[CurvePoint], (low, high): (f64, f64)) -> Vec<Option<(f64, f64)>> {
    let point = |point: &CurvePoint| (point.at.degrees(), point.liquid.percent());
    let mut inside: Vec<Option<(f64, f64)>> = Vec::new();
    let (Some(first), Some(last)) = (curve.first(), curve.last()) else {
        return inside;
    };
    if point(first).0 > low {
        inside.extend([Some((low, 0.0)), Some((point(first).0, 0.0))]);
    }
    for pair in curve.windows(2) {
        if let [a, b] = pair {
            let (a, b) = (point(a), point(b));
            inside.extend(clip(a, b, (low, high)).into_iter().flatten().map(Some));
        }
    }
    if curve.len() == 1 {
        inside.push(Some(point(first)));
    }
    if point(last).0 < high {
        inside.push(Some((high, point(last).1)));
    }
    inside
}

/// The part of a stroke between two temperatures.
fn clip(a: (f64, f64), b: (f64, f64), (low, high): (f64, f64)) -> Option<[(f64, f64); 2]> {
    if b.0 < low || a.0 > high {
        return None;
    }
    let at = |x: f64| {
        let share = if b.0 > a.0 {
            (x - a.0) / (b.0 - a.0)
        } else {
            0.0
        };
        (x, a.1 + (b.1 - a.1) * share)
    };
    let from = if a.0 < low { at(low) } else { a };
    let to = if b.0 > high { at(high) } else { b };
    Some([from, to])
}
