//! Temperatures over the time of a step as a picture.

use super::axes::{Axes, Pen};
use super::heat::{Trace, TracePoint, Traces};
use super::inks::{self, ALARM, FAINT, GREY, HEAT, INK, METAL};
use super::lettering::{fit, plain, width, wrap};
use super::picture::{Anchor, HALO, Ink, Label, Picture};
use super::place::{self, Placer, Rect};
use super::{Mark, Scale};
use crate::quantity::Celsius;

const PLOT: f64 = 640.0;
const LEFT: f64 = 54.0;
const NAMES: f64 = 190.0;
const SMALL: f64 = 11.0;
const NORMAL: f64 = 12.0;
const ROW: f64 = 29.0;

impl Traces {
    /// The traces as a picture: time to the right, each place named at its end with its peak.
    pub fn picture(&self, scale: Scale) -> Picture {
        let mut picture = Picture::new(&self.title);
        picture.width = LEFT + PLOT + 20.0 + NAMES + 14.0;
        let room = picture.width - 32.0;
        let title = fit(&plain(&self.title), 19.0, true, room);
        picture.label(Label::new(title, (16.0, 26.0), 19.0, INK).bold());
        let line = fit(&plain(&self.line), 13.0, false, room);
        picture.label(Label::new(line, (16.0, 51.0), 13.0, INK));
        let height = (ROW * self.traces.len() as f64).clamp(340.0, 1200.0);
        let plot = Rect {
            left: LEFT,
            right: LEFT + PLOT,
            top: 92.0,
            bottom: 92.0 + height,
        };
        let axes = Axes {
            plot,
            across: (0.0, self.seconds()),
            up: self.range(),
        };
        axes.rows(
            &mut picture,
            &scale.ticks(axes.up.0, axes.up.1),
            scale.unit(),
        );
        axes.columns(&mut picture, &time_ticks(axes.across.1), "s");
        let mut placer = Placer::new(Rect {
            left: LEFT + 1.0,
            top: 78.0,
            ..plot
        });
        self.happenings(&mut picture, &axes, &mut placer);
        for (nth, trace) in self.traces.iter().enumerate() {
            line_of(&mut picture, &axes, trace, style(nth));
            // Names of limits keep off the lines, and off the peaks above all.
            for point in &trace.points {
                let at = axes.point(point.after.as_secs_f64(), point.at.degrees());
                placer.draw(Rect::around(at, 10.0, 10.0), 25.0);
            }
        }
        self.limits(&mut picture, &axes, &mut placer, scale);
        self.names(&mut picture, &axes, scale);
        let mut y = plot.bottom + 48.0;
        for note in &self.notes {
            for text in wrap(&plain(note), SMALL, false, room - LEFT, 3) {
                picture.label(Label::new(text, (LEFT, y), SMALL, GREY));
                y += 14.0;
            }
        }
        picture.height = y;
        picture.description = self.description(scale);
        picture
    }

    fn seconds(&self) -> f64 {
        let points = self.traces.iter().flat_map(|trace| &trace.points);
        let last = points
            .map(|point| point.after.as_secs_f64())
            .fold(1.0, f64::max);
        self.moments
            .iter()
            .map(|moment| moment.after.as_secs_f64())
            .fold(last, f64::max)
    }

    fn range(&self) -> (f64, f64) {
        let points = self.traces.iter().flat_map(|trace| &trace.points);
        let all: Vec<f64> = points
            .flat_map(|point| {
                [
                    Some(point.at),
                    point.band.map(|band| band.0),
                    point.band.map(|band| band.1),
                ]
            })
            .chain(self.traces.iter().map(|trace| trace.first_melt))
            .flatten()
            .map(Celsius::degrees)
            .collect();
        let low = all.iter().copied().fold(f64::INFINITY, f64::min);
        let high = all.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        if !low.is_finite() {
            return (0.0, 250.0);
        }
        let low = (low / 25.0).floor() * 25.0;
        (low, (((high + 10.0) / 25.0).ceil() * 25.0).max(low + 50.0))
    }

    fn happenings(&self, picture: &mut Picture, axes: &Axes, placer: &mut Placer) {
        for moment in &self.moments {
            let x = axes.x(moment.after.as_secs_f64());
            picture.line((x, axes.plot.top), (x, axes.plot.bottom), 1.0, FAINT);
            let text = fit(&plain(&moment.name), SMALL, false, 150.0);
            let wide = width(&text, SMALL, false);
            let offers = (0_u8..8).flat_map(|row| {
                let y = axes.plot.bottom - 9.0 - 14.0 * f64::from(row);
                let price = f64::from(row);
                [
                    ((x + 5.0 + wide / 2.0, y), price),
                    ((x - 5.0 - wide / 2.0, y), price + 0.5),
                ]
            });
            if let Some(rect) = placer.place((wide, SMALL), offers) {
                let label = Label::new(text, rect.center(), SMALL, GREY).on(HALO);
                picture.label(label.anchored(Anchor::Middle));
            }
        }
    }

    /// The first melt of each place, once where several have the same.
    fn limits(&self, picture: &mut Picture, axes: &Axes, placer: &mut Placer, scale: Scale) {
        let mut limits: Vec<(Celsius, bool, Vec<String>)> = Vec::new();
        for trace in &self.traces {
            let Some(melt) = trace.first_melt else {
                continue;
            };
            let name = plain(&trace.name);
            match limits
                .iter_mut()
                .find(|(at, target, _)| (*at, *target) == (melt, trace.target))
            {
                Some((_, _, names)) => names.push(name),
                None => limits.push((melt, trace.target, vec![name])),
            }
        }
        for (melt, target, names) in limits {
            let y = axes.y(melt.degrees());
            let ink = if target { inks::HEAT_TEXT } else { METAL };
            let dashes = if target { (3.0, 3.0) } else { (9.0, 4.0) };
            picture.dashes((axes.plot.left, y), (axes.plot.right, y), dashes, 1.5, ink);
            let does = if target {
                "flows at"
            } else {
                "must stay below"
            };
            let names = fit(&names.join(", "), SMALL, true, 260.0);
            let text = format!("{names}: {does} {}", scale.number(melt));
            let wide = width(&text, SMALL, true);
            let offers = (0_u8..30).flat_map(|along| {
                let x = axes.plot.left + 8.0 + wide / 2.0 + 14.0 * f64::from(along);
                [
                    ((x, y - 9.0), f64::from(along)),
                    ((x, y + 10.0), f64::from(along) + 0.5),
                ]
            });
            if let Some(rect) = placer.place((wide, SMALL), offers) {
                let label = Label::new(text, rect.center(), SMALL, ink).bold().on(HALO);
                picture.label(label.anchored(Anchor::Middle));
            }
        }
    }

    fn names(&self, picture: &mut Picture, axes: &Axes, scale: Scale) {
        let ends: Vec<f64> = self
            .traces
            .iter()
            .map(|trace| {
                trace
                    .points
                    .last()
                    .map_or(axes.plot.top, |point| axes.y(point.at.degrees()))
            })
            .collect();
        let wanted: Vec<(f64, f64)> = ends.iter().map(|y| (*y, ROW)).collect();
        let room = (axes.plot.top - 10.0, axes.plot.bottom + 26.0);
        for (nth, ((trace, y), place)) in self
            .traces
            .iter()
            .zip(&ends)
            .zip(place::spread(&wanted, room))
            .enumerate()
        {
            let right = trace
                .points
                .last()
                .map_or(axes.plot.right, |point| axes.x(point.after.as_secs_f64()));
            let x = axes.plot.right + 20.0;
            let path = vec![
                (right, *y),
                (axes.plot.right + 3.0, *y),
                (x - 8.0, place),
                (x - 4.0, place),
            ];
            picture.stroke(path, 1.0, ink_of(trace));
            inks::draw(picture, trace.mark, (x + 4.0, place - 6.5), 3.6);
            let name = fit(&plain(&trace.name), NORMAL, true, NAMES - 16.0);
            picture.label(Label::new(name, (x + 13.0, place - 6.5), NORMAL, INK).bold());
            let sample = ((x - 8.0, place + 7.0), (x + 9.0, place + 7.0));
            match style(nth) {
                Some(dashes) => picture.dashes(sample.0, sample.1, dashes, 1.75, ink_of(trace)),
                None => picture.line(sample.0, sample.1, 1.75, ink_of(trace)),
            }
            let detail = fit(&peak_words(trace, scale), SMALL, false, NAMES - 16.0);
            picture.label(Label::new(detail, (x + 13.0, place + 7.0), SMALL, GREY));
        }
    }

    fn description(&self, scale: Scale) -> String {
        let mut sentences = vec![plain(&self.line)];
        sentences.extend(
            self.traces
                .iter()
                .map(|trace| format!("{}: {}", plain(&trace.name), peak_words(trace, scale))),
        );
        sentences.retain(|sentence| !sentence.is_empty());
        sentences.join(". ")
    }
}

fn peak_words(trace: &Trace, scale: Scale) -> String {
    let peak = trace.points.iter().map(|point| point.at).max();
    let peak = peak.map_or_else(
        || "no trace".to_owned(),
        |peak| format!("peak {}", scale.temperature(peak)),
    );
    format!("{peak}, {}", trace.mark.word())
}

const fn ink_of(trace: &Trace) -> Ink {
    match (trace.target, trace.mark) {
        (true, _) => HEAT,
        (false, Mark::Melts | Mark::Limit | Mark::Refused | Mark::DoesNotFlow) => ALARM,
        (false, Mark::Softens | Mark::Close) => inks::WARN,
        (false, Mark::Unknown) => GREY,
        (false, Mark::Holds) => METAL,
    }
}

/// A line style for each trace, so that neighbours of one colour can be told apart; whole for the first.
fn style(nth: usize) -> Option<(f64, f64)> {
    const STYLES: [(f64, f64); 8] = [
        (9.0, 3.0),
        (5.0, 3.0),
        (2.0, 2.5),
        (14.0, 4.0),
        (3.0, 6.0),
        (8.0, 8.0),
        (18.0, 6.0),
        (1.5, 5.0),
    ];
    let last = nth.checked_sub(1)?;
    STYLES.get(last % STYLES.len()).copied()
}

fn line_of(picture: &mut Picture, axes: &Axes, trace: &Trace, dashes: Option<(f64, f64)>) {
    let ink = ink_of(trace);
    // A trace may have more moments than pixels: its band is drawn between those that are apart.
    let mut from: Option<&TracePoint> = None;
    for to in &trace.points {
        let apart = |from: &TracePoint| {
            axes.x(to.after.as_secs_f64()) - axes.x(from.after.as_secs_f64()) >= 2.0
        };
        match from {
            Some(last) if apart(last) => spread(picture, axes, (last, to), ink),
            Some(_) => continue,
            None => {}
        }
        from = Some(to);
    }
    let points: Vec<Option<(f64, f64)>> = trace
        .points
        .iter()
        .map(|point| Some((point.after.as_secs_f64(), point.at.degrees())))
        .collect();
    let width = if trace.target { 3.0 } else { 1.75 };
    axes.path(picture, &points, Pen { width, ink, dashes });
}

/// The band between two moments, in upright strips of a few px.
fn spread(picture: &mut Picture, axes: &Axes, (a, b): (&TracePoint, &TracePoint), ink: Ink) {
    let (Some((low, high)), Some((low_next, high_next))) = (a.band, b.band) else {
        return;
    };
    let (left, right) = (axes.x(a.after.as_secs_f64()), axes.x(b.after.as_secs_f64()));
    let strips = ((right - left) / 3.0).ceil().clamp(0.0, 400.0);
    let mut strip = 0.0;
    while strip < strips {
        let at = |share: f64| left + (right - left) * share;
        let middle = (strip + 0.5) / strips;
        let mix =
            |a: Celsius, b: Celsius| axes.y(a.degrees() + (b.degrees() - a.degrees()) * middle);
        let rect = Rect {
            left: at(strip / strips),
            top: mix(high, high_next),
            right: at((strip + 1.0) / strips),
            bottom: mix(low, low_next),
        };
        picture.tint(rect, ink, 0.15);
        strip += 1.0;
    }
}

fn time_ticks(seconds: f64) -> Vec<(f64, String)> {
    let steps = [
        0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 30.0, 60.0, 120.0, 300.0, 600.0, 1800.0, 3600.0, 36_000.0,
        360_000.0,
    ];
    let step = steps
        .into_iter()
        .find(|step| seconds / step <= 12.0)
        .unwrap_or(seconds);
    let mut ticks = Vec::new();
    let mut at = 0.0;
    while at <= seconds + 1e-9 && ticks.len() < 20 {
        ticks.push((at, super::numbers::short(at)));
        at += step;
    }
    ticks
}
