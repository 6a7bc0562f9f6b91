//! A sweep over mixtures as a picture: the first per cents drawn wide, all of it beside them.

use super::Scale;
use super::axes::{Axes, Pen, percent_ticks};
use super::curve::{Sweep, SweepMark, SweepPoint};
use super::curve_picture::{EQUILIBRIUM, FROZEN, LEFT, NORMAL, RIGHT, SMALL, WIDTH, head, notes};
use super::inks::{ALARM, FAINT, GREY, HEAT_TEXT, METAL};
use super::lettering::{fit, plain, width};
use super::numbers::short;
use super::picture::{Anchor, HALO, Ink, Label, Picture, Point};
use super::place::{Placer, Rect};
use crate::quantity::{Celsius, Share};

const FLOW: Pen = Pen {
    width: 1.5,
    ink: GREY,
    dashes: Some((2.0, 3.0)),
};
const LIQUID: Pen = Pen {
    dashes: None,
    ..FROZEN
};
/// Room between two fields, for the numbers of the right one.
const BETWEEN: f64 = 56.0;
/// What the left field may show, mass %.
const FIRST: [f64; 5] = [1.0, 2.0, 5.0, 10.0, 20.0];

/// Two fields above each other over the same shares.
struct Field {
    temperatures: Axes,
    liquid: Axes,
    /// What its axis counts.
    what: String,
}

impl Sweep {
    /// The sweep as a picture: temperatures above, liquid share below, one share axis for both; where the
    /// first per cents decide, they have a field of their own at the left.
    pub fn picture(&self, scale: Scale) -> Picture {
        let mut picture = Picture::new(&self.title);
        picture.width = WIDTH;
        let top = head(&mut picture, &self.title, &self.line, &self.key());
        let fields = self.fields(top);
        for (i, field) in fields.iter().enumerate() {
            let say = |what: &'static str| if i == 0 { what } else { "" };
            let up = field.temperatures.up;
            let ticks = scale.ticks_every(up.0, up.1, 10.0);
            field
                .temperatures
                .rows(&mut picture, &ticks, say(scale.unit()));
            let what = say("% of the mass liquid just above the first melt");
            let ticks = percent_ticks(0.0, field.liquid.up.1, 5.0);
            field.liquid.rows(&mut picture, &ticks, what);
            field.columns(&mut picture, 20.0 / fields_f64(&fields));
            self.curves(&mut picture, field);
        }
        self.marks(&mut picture, &fields);
        let bottom = fields.first().map_or(top, |field| field.liquid.plot.bottom);
        picture.height = notes(&mut picture, &self.notes, bottom + 52.0) + 6.0;
        picture.description = self.description(scale);
        picture
    }

    fn key(&self) -> Vec<(Pen, &'static str, Ink)> {
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
        key
    }

    /// One field over all shares, and one over the first of them where many were looked at there.
    fn fields(&self, top: f64) -> Vec<Field> {
        let whole = self.across();
        let of = fit(&plain(&self.of), SMALL, false, 300.0);
        let Some(first) = self.first(whole) else {
            let what = format!("mass % {of}");
            return vec![self.field(top, (LEFT, RIGHT), whole, what)];
        };
        let middle = f64::midpoint(LEFT, RIGHT - BETWEEN);
        let what = format!("mass % {of}, the first {} %", short(first));
        vec![
            self.field(top, (LEFT, middle), (0.0, first), what),
            self.field(
                top,
                (middle + BETWEEN, RIGHT),
                whole,
                "all of it, mass %".to_owned(),
            ),
        ]
    }

    /// Where the left field ends.
    fn first(&self, whole: (f64, f64)) -> Option<f64> {
        let near = |end: f64| self.points.iter().filter(|p| p.x.percent() <= end).count();
        if whole.1 < 50.0 || near(5.0) < 5 {
            return None;
        }
        let last = self.marks.iter().map(|mark| mark.x.percent());
        let last = last.filter(|x| *x <= 18.0).fold(0.0, f64::max);
        FIRST.into_iter().find(|end| *end >= 1.04 * last)
    }

    fn field(
        &self,
        top: f64,
        (left, right): (f64, f64),
        across: (f64, f64),
        what: String,
    ) -> Field {
        let plot = Rect {
            left,
            right,
            top,
            bottom: top + 250.0,
        };
        let below = Rect {
            top: plot.bottom + 46.0,
            bottom: plot.bottom + 46.0 + 120.0,
            ..plot
        };
        Field {
            temperatures: Axes {
                plot,
                across,
                up: self.temperatures(),
            },
            liquid: Axes {
                plot: below,
                across,
                up: (0.0, self.most_liquid(across.1)),
            },
            what,
        }
    }

    fn curves(&self, picture: &mut Picture, field: &Field) {
        let upper = &field.temperatures;
        upper.path(picture, &self.curve(field, |point| point.flow), FLOW);
        upper.path(
            picture,
            &self.curve(field, |point| point.solidus),
            EQUILIBRIUM,
        );
        upper.path(
            picture,
            &self.curve(field, |point| point.first_melt),
            FROZEN,
        );
        let liquid = self.inside(field, |point| point.liquid.map(Share::percent));
        field.liquid.path(picture, &liquid, LIQUID);
    }

    fn curve(
        &self,
        field: &Field,
        of: impl Fn(&SweepPoint) -> Option<Celsius>,
    ) -> Vec<Option<(f64, f64)>> {
        self.inside(field, |point| of(point).map(Celsius::degrees))
    }

    /// The points of a field; what is not known is a gap.
    fn inside(
        &self,
        field: &Field,
        of: impl Fn(&SweepPoint) -> Option<f64>,
    ) -> Vec<Option<(f64, f64)>> {
        let end = field.liquid.across.1 + 1e-9;
        let points = self.points.iter();
        points
            .filter(|point| point.x.percent() <= end)
            .map(|point| Some((point.x.percent(), of(point)?)))
            .collect()
    }

    /// A line through both fields at each share with a name; in the first field that shows it.
    fn marks(&self, picture: &mut Picture, fields: &[Field]) {
        for (i, field) in fields.iter().enumerate() {
            let before = fields.get(..i).unwrap_or_default();
            let shown = self.marks.iter().filter(|mark| {
                field.shows(mark) && !before.iter().any(|earlier| earlier.shows(mark))
            });
            let shown: Vec<&SweepMark> = shown.collect();
            let mut placer = self.placer(field, &shown);
            for mark in shown {
                field.mark(picture, &mut placer, mark);
            }
        }
    }

    /// Where names may stand: anywhere in the upper field, at a price over what is drawn.
    fn placer(&self, field: &Field, marks: &[&SweepMark]) -> Placer {
        let upper = &field.temperatures;
        let mut placer = Placer::new(Rect {
            left: upper.plot.left + 2.0,
            ..upper.plot
        });
        for of in [
            |point: &SweepPoint| point.first_melt,
            |point: &SweepPoint| point.solidus,
            |point: &SweepPoint| point.flow,
        ] {
            let points: Vec<Point> = self
                .curve(field, of)
                .into_iter()
                .flatten()
                .map(|(x, y)| upper.point(x, y))
                .collect();
            for pair in points.windows(2) {
                if let [a, b] = pair {
                    placer.draw(between(*a, *b), 30.0);
                }
            }
        }
        for mark in marks {
            let x = upper.x(mark.x.percent());
            let line = Rect {
                left: x - 1.0,
                right: x + 1.0,
                ..upper.plot
            };
            placer.draw(line, 12.0);
        }
        placer
    }

    fn across(&self) -> (f64, f64) {
        let shares = self.points.iter().map(|point| point.x.percent());
        let low = shares.clone().fold(f64::INFINITY, f64::min);
        let high = shares.fold(f64::NEG_INFINITY, f64::max);
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

    /// The upper edge of the liquid shares up to there.
    fn most_liquid(&self, end: f64) -> f64 {
        let shown = self.points.iter().filter(|p| p.x.percent() <= end + 1e-9);
        let most = shown.filter_map(|point| point.liquid).max();
        let most = most.map_or(100.0, Share::percent);
        [2.0, 5.0, 6.0, 10.0, 20.0, 25.0, 50.0, 60.0]
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
            let x = short(low.x.percent());
            sentences.push(format!(
                "lowest first melt {} at {x} % {}",
                scale.temperature(melt),
                plain(&self.of)
            ));
        }
        let marks = self.marks.iter().map(mark_words);
        sentences.extend(marks);
        sentences.retain(|sentence| !sentence.is_empty());
        sentences.join(". ")
    }
}

/// `too much 0.94 %`.
fn mark_words(mark: &SweepMark) -> String {
    let two_digits = format!("{:.1e}", mark.x.percent());
    let number = two_digits.parse::<f64>().unwrap_or_default();
    format!(
        "{} {number} %",
        fit(&plain(&mark.name), NORMAL, false, 160.0)
    )
}

fn between(a: Point, b: Point) -> Rect {
    Rect {
        left: a.0.min(b.0),
        right: a.0.max(b.0) + 2.0,
        top: a.1.min(b.1),
        bottom: a.1.max(b.1) + 2.0,
    }
}

fn fields_f64(fields: &[Field]) -> f64 {
    if fields.len() > 1 { 2.0 } else { 1.0 }
}

impl Field {
    fn shows(&self, mark: &SweepMark) -> bool {
        (self.liquid.across.0..=self.liquid.across.1).contains(&mark.x.percent())
    }

    fn columns(&self, picture: &mut Picture, most: f64) {
        let across = self.liquid.across;
        let ticks = percent_ticks(across.0, across.1, most / 2.0);
        self.liquid.columns(picture, &ticks, &self.what);
        for (at, _) in &ticks {
            for axes in [&self.temperatures, &self.liquid] {
                let x = axes.x(*at);
                picture.line((x, axes.plot.top), (x, axes.plot.bottom), 0.75, FAINT);
            }
        }
    }

    fn mark(&self, picture: &mut Picture, placer: &mut Placer, mark: &SweepMark) {
        for axes in [&self.temperatures, &self.liquid] {
            let x = axes.x(mark.x.percent());
            let (from, to) = ((x, axes.plot.top), (x, axes.plot.bottom));
            picture.dashes(from, to, (2.0, 3.0), 1.0, ALARM);
        }
        let text = mark_words(mark);
        let wide = width(&text, NORMAL, true);
        let plot = &self.temperatures.plot;
        let x = self.temperatures.x(mark.x.percent());
        let offers = (0_u8..13).flat_map(|row| {
            let y = plot.top + 12.0 + 18.0 * f64::from(row);
            let price = f64::from(row);
            [
                ((x + 6.0 + wide / 2.0, y), price),
                ((x - 6.0 - wide / 2.0, y), price + 1.0),
            ]
        });
        if let Some(rect) = placer.place((wide, NORMAL), offers) {
            let label = Label::new(text, rect.center(), NORMAL, ALARM);
            picture.label(label.bold().on(HALO).anchored(Anchor::Middle));
        }
    }
}
