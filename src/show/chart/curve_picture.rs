//! Melting curve and sweep as pictures.

use super::Scale;
use super::axes::{Axes, Pen, percent_ticks};
use super::curve::{Curve, CurvePoint, Sweep, SweepPoint};
use super::inks::{ALARM, FAINT, GREY, HEAT, HEAT_TEXT, INK, METAL};
use super::lettering::{fit, plain, width, wrap};
use super::picture::{Anchor, HALO, Ink, Label, Picture, Point};
use super::place::{Placer, Rect};
use crate::quantity::Celsius;

const WIDTH: f64 = 860.0;
const LEFT: f64 = 58.0;
const RIGHT: f64 = WIDTH - 26.0;
const SMALL: f64 = 11.0;
const NORMAL: f64 = 12.0;

const EQUILIBRIUM: Pen = Pen {
    width: 2.5,
    ink: METAL,
    dashes: None,
};
const FROZEN: Pen = Pen {
    width: 2.5,
    ink: HEAT,
    dashes: Some((8.0, 4.0)),
};
const FLOW: Pen = Pen {
    width: 1.5,
    ink: GREY,
    dashes: Some((2.0, 3.0)),
};

/// Title, line below it, key; returns where the field may begin.
fn head(picture: &mut Picture, title: &str, line: &str, key: &[(Pen, &str, Ink)]) -> f64 {
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

fn notes(picture: &mut Picture, notes: &[String], top: f64) -> f64 {
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
            let offers = (0_u8..18).flat_map(|row| {
                let y = axes.plot.top + 10.0 + 17.0 * f64::from(row);
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

impl Sweep {
    /// The sweep as a picture: temperatures above, liquid share below, one share axis for both.
    pub fn picture(&self, scale: Scale) -> Picture {
        let mut picture = Picture::new(&self.title);
        picture.width = WIDTH;
        let has = |of: fn(&SweepPoint) -> Option<Celsius>| {
            self.points.iter().any(|point| of(point).is_some())
        };
        let mut key: Vec<(Pen, &str, Ink)> = Vec::new();
        if has(|point| point.first_melt) {
            key.push((FROZEN, "first melt, as frozen", HEAT_TEXT));
        }
        if has(|point| point.solidus) {
            key.push((EQUILIBRIUM, "solidus, in equilibrium", METAL));
        }
        if has(|point| point.flow) {
            key.push((FLOW, "flows", GREY));
        }
        let top = head(&mut picture, &self.title, &self.line, &key);
        let across = self.across();
        let plot = Rect {
            left: LEFT,
            top,
            right: RIGHT,
            bottom: top + 250.0,
        };
        let upper = Axes {
            plot,
            across,
            up: self.temperatures(),
        };
        upper.rows(
            &mut picture,
            &scale.ticks_every(upper.up.0, upper.up.1, 10.0),
            scale.unit(),
        );
        let ticks = percent_ticks(across.0, across.1, 10.0);
        let plot = Rect {
            top: plot.bottom + 46.0,
            bottom: plot.bottom + 46.0 + 120.0,
            ..plot
        };
        let lower = Axes {
            plot,
            across,
            up: (0.0, self.most_liquid()),
        };
        lower.rows(
            &mut picture,
            &percent_ticks(0.0, lower.up.1, 5.0),
            "% of the mass liquid just above the first melt",
        );
        let what = format!("mass % {}", plain(&self.of));
        lower.columns(&mut picture, &ticks, &fit(&what, SMALL, false, 400.0));
        for (at, _) in &ticks {
            for axes in [&upper, &lower] {
                let x = axes.x(*at);
                picture.line((x, axes.plot.top), (x, axes.plot.bottom), 0.75, FAINT);
            }
        }
        self.curves(&mut picture, &upper, &lower);
        picture.height = notes(&mut picture, &self.notes, plot.bottom + 52.0) + 6.0;
        picture.description = self.description(scale);
        picture
    }

    fn curves(&self, picture: &mut Picture, upper: &Axes, lower: &Axes) {
        let curve = |of: fn(&SweepPoint) -> Option<Celsius>| -> Vec<Option<(f64, f64)>> {
            let points = self.points.iter();
            points
                .map(|point| Some((point.x.percent(), of(point)?.degrees())))
                .collect()
        };
        upper.path(picture, &curve(|point| point.flow), FLOW);
        upper.path(picture, &curve(|point| point.solidus), EQUILIBRIUM);
        upper.path(picture, &curve(|point| point.first_melt), FROZEN);
        let liquid = self.points.iter();
        let liquid: Vec<Option<(f64, f64)>> = liquid
            .map(|point| Some((point.x.percent(), point.liquid?.percent())))
            .collect();
        lower.path(
            picture,
            &liquid,
            Pen {
                dashes: None,
                ..FROZEN
            },
        );
    }

    fn across(&self) -> (f64, f64) {
        let low = self
            .points
            .iter()
            .map(|point| point.x.percent())
            .fold(f64::INFINITY, f64::min);
        let high = self
            .points
            .iter()
            .map(|point| point.x.percent())
            .fold(f64::NEG_INFINITY, f64::max);
        // A sweep that begins with a trace begins at nothing.
        let low = if low < high * 0.05 { 0.0 } else { low };
        if low < high {
            (low, high)
        } else {
            (0.0, 100.0)
        }
    }

    fn temperatures(&self) -> (f64, f64) {
        let all = self
            .points
            .iter()
            .flat_map(|point| [point.first_melt, point.solidus, point.flow]);
        let all: Vec<f64> = all.flatten().map(Celsius::degrees).collect();
        let low = all.iter().copied().fold(f64::INFINITY, f64::min);
        let high = all.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        if !low.is_finite() {
            return (0.0, 300.0);
        }
        (
            ((low - 5.0) / 25.0).floor() * 25.0,
            ((high + 5.0) / 25.0).ceil() * 25.0,
        )
    }

    fn most_liquid(&self) -> f64 {
        let most = self.points.iter().filter_map(|point| point.liquid).max();
        let most = most.map_or(100.0, crate::quantity::Share::percent);
        [2.0, 5.0, 10.0, 20.0, 25.0, 50.0]
            .into_iter()
            .find(|end| most <= *end)
            .unwrap_or(100.0)
    }

    fn description(&self, scale: Scale) -> String {
        let mut sentences = vec![plain(&self.line)];
        if let Some(low) = self
            .points
            .iter()
            .filter(|point| point.first_melt.is_some())
            .min_by_key(|point| point.first_melt)
            && let Some(melt) = low.first_melt
        {
            let x = super::numbers::short(low.x.percent());
            sentences.push(format!(
                "lowest first melt {} at {x} % {}",
                scale.temperature(melt),
                plain(&self.of)
            ));
        }
        sentences.retain(|sentence| !sentence.is_empty());
        sentences.join(". ")
    }
}
