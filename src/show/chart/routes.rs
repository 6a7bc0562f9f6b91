//! Routes side by side: margin, heats, peak and time of each, as plain data and as a picture.

use std::time::Duration;

use super::inks::{self, ALARM, FAINT, GREY, HEAT, HEAT_TEXT, INK, METAL, PASTE};
use super::lettering::{fit, plain, width, wrap};
use super::picture::{Anchor, Ink, Label, Picture};
use super::place::Rect;
use super::{Mark, Scale};
use crate::quantity::{Celsius, KelvinStep};

/// Several ways to the same data.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Routes {
    /// Heading.
    pub title: String,
    /// The answer in one line.
    pub line: String,
    /// In the order in which they are drawn.
    pub routes: Vec<RouteBar>,
    /// The best of them, by its index, if there is one.
    pub best: Option<usize>,
    /// Small print, a line each.
    pub notes: Vec<String>,
}

/// One way.
#[derive(Clone, Debug, PartialEq)]
pub struct RouteBar {
    /// Its name.
    pub name: String,
    /// Its verdict.
    pub mark: Mark,
    /// Least margin of the whole way, if known.
    pub margin: Option<KelvinStep>,
    /// Where that is: "tails in step 4".
    pub weakest: String,
    /// Heats on parts that hold the data.
    pub heats: u32,
    /// The hottest that these parts get.
    pub peak: Option<Celsius>,
    /// Number of steps.
    pub steps: usize,
    /// How long it takes, if known.
    pub takes: Option<Duration>,
    /// What is not known, in a few words each.
    pub unknowns: Vec<String>,
}

const WIDTH: f64 = 900.0;
const LEFT: f64 = 16.0;
const SMALL: f64 = 11.0;
const NORMAL: f64 = 12.0;
const ROW: f64 = 74.0;
/// The four columns of bars: left edge and width.
const COLUMNS: [(f64, f64); 4] = [
    (240.0, 200.0),
    (462.0, 120.0),
    (604.0, 140.0),
    (766.0, 118.0),
];

impl Routes {
    /// The routes as a picture: one row each, one column for each thing that counts.
    pub fn picture(&self, scale: Scale) -> Picture {
        let mut picture = Picture::new(&self.title);
        picture.width = WIDTH;
        let title = fit(&plain(&self.title), 19.0, true, WIDTH - 32.0);
        picture.label(Label::new(title, (LEFT, 26.0), 19.0, INK).bold());
        let line = fit(&plain(&self.line), 13.0, false, WIDTH - 32.0);
        picture.label(Label::new(line, (LEFT, 51.0), 13.0, INK));
        let unit = scale.step_unit();
        let heads = [
            format!("{unit} left at the weakest place"),
            "heats on the data".to_owned(),
            "hottest there".to_owned(),
            "minutes".to_owned(),
        ];
        for (head, (x, room)) in heads.iter().zip(COLUMNS) {
            let head = fit(head, SMALL, false, room);
            picture.label(Label::new(head, (x, 84.0), SMALL, GREY));
        }
        for (index, route) in self.routes.iter().enumerate() {
            self.row(&mut picture, index, route, scale);
        }
        let mut y = 98.0 + ROW * self.routes.len() as f64 + 16.0;
        for note in &self.notes {
            for text in wrap(&plain(note), SMALL, false, WIDTH - 32.0, 3) {
                picture.label(Label::new(text, (LEFT, y), SMALL, GREY));
                y += 14.0;
            }
        }
        picture.height = y;
        picture.description = self.description(scale);
        picture
    }

    fn row(&self, picture: &mut Picture, index: usize, route: &RouteBar, scale: Scale) {
        let top = 98.0 + ROW * index as f64;
        picture.line((LEFT, top), (WIDTH - 16.0, top), 0.75, FAINT);
        if self.best == Some(index) {
            picture.rect(
                Rect {
                    left: 0.0,
                    right: 7.0,
                    top: top + 4.0,
                    bottom: top + ROW - 4.0,
                },
                METAL,
            );
        }
        let name = fit(&plain(&route.name), 13.0, true, 200.0);
        picture.label(Label::new(name, (LEFT, top + 16.0), 13.0, INK).bold());
        inks::draw(picture, route.mark, (LEFT + 5.0, top + 34.0), 4.2);
        let best = if self.best == Some(index) {
            ", best"
        } else {
            ""
        };
        let verdict = format!("{}{best}", route.mark.word());
        picture.label(
            Label::new(
                verdict,
                (LEFT + 16.0, top + 34.0),
                NORMAL,
                inks::ink(route.mark),
            )
            .bold(),
        );
        let steps = match route.steps {
            0 => "no step".to_owned(),
            1 => "1 step".to_owned(),
            many => format!("{many} steps"),
        };
        picture.label(Label::new(steps, (LEFT, top + 50.0), SMALL, GREY));
        self.margin(picture, top, route, scale);
        self.costs(picture, top, route, scale);
        let unknown = route
            .unknowns
            .iter()
            .map(|text| plain(text))
            .collect::<Vec<_>>()
            .join(", ");
        if !unknown.is_empty() {
            let text = fit(
                &format!("not known: {unknown}"),
                SMALL,
                true,
                WIDTH - 16.0 - COLUMNS[1].0,
            );
            picture.label(Label::new(text, (COLUMNS[1].0, top + 59.0), SMALL, inks::WARN).bold());
        }
    }

    /// The margin as a bar from a line that must not be passed: to the right what is left, to the
    /// left what is too much.
    fn margin(&self, picture: &mut Picture, top: f64, route: &RouteBar, scale: Scale) {
        let (left, room) = COLUMNS[0];
        let all = || {
            self.routes
                .iter()
                .filter_map(|route| route.margin)
                .map(KelvinStep::kelvin)
        };
        let (low, high) = (all().fold(0.0, f64::min), all().fold(10.0, f64::max));
        let x = |kelvin: f64| left + (kelvin - low) / (high - low) * (room - 78.0);
        let (zero, y) = (x(0.0), top + 24.0);
        picture.line((zero, top + 8.0), (zero, top + 40.0), 2.0, INK);
        let weakest = fit(&plain(&route.weakest), SMALL, false, room);
        picture.label(Label::new(weakest, (left, top + 50.0), SMALL, GREY));
        let Some(margin) = route.margin else {
            // What stands below says why there is none.
            let text = if route.weakest.is_empty() {
                "not known"
            } else {
                "–"
            };
            picture.label(Label::new(text, (zero + 8.0, y), NORMAL, GREY).bold());
            return;
        };
        let end = x(margin.kelvin());
        let bar = Rect {
            left: zero.min(end),
            right: zero.max(end),
            top: y - 8.0,
            bottom: y + 8.0,
        };
        let too_hot = margin < KelvinStep::ZERO;
        picture.rect(bar, if too_hot { ALARM } else { METAL });
        if too_hot {
            picture.hatch(bar, 6.0, 1.25, inks::PAPER);
        }
        let text = format!("{} {}", scale.margin(margin), scale.step_unit());
        let ink = if too_hot { ALARM } else { INK };
        picture.label(Label::new(text, (bar.right + 6.0, y), NORMAL, ink).bold());
    }

    fn costs(&self, picture: &mut Picture, top: f64, route: &RouteBar, scale: Scale) {
        let most_heats = self
            .routes
            .iter()
            .map(|route| route.heats)
            .max()
            .unwrap_or(1)
            .max(1);
        // Without a plan nothing is heated, and that speaks for nothing.
        let planned = route.takes.is_some();
        let heats = f64::from(route.heats) / f64::from(most_heats);
        let count = if planned {
            route.heats.to_string()
        } else {
            "–".to_owned()
        };
        cost(
            picture,
            1,
            top,
            planned.then_some(heats),
            &count,
            (HEAT, HEAT_TEXT),
        );
        let degrees = |at: Celsius| (at.degrees() - 20.0).max(0.0);
        let hottest = self
            .routes
            .iter()
            .filter_map(|route| route.peak)
            .map(degrees)
            .fold(1.0, f64::max);
        let text = match route.peak {
            Some(peak) => scale.temperature(peak),
            None if planned => "not heated".to_owned(),
            None => "–".to_owned(),
        };
        cost(
            picture,
            2,
            top,
            route.peak.map(|peak| degrees(peak) / hottest),
            &text,
            (HEAT, HEAT_TEXT),
        );
        let longest = self
            .routes
            .iter()
            .filter_map(|route| route.takes)
            .map(|takes| takes.as_secs_f64())
            .fold(1.0, f64::max);
        let minutes = |takes: Duration| super::numbers::short((takes.as_secs_f64() / 60.0).round());
        let text = route.takes.map_or_else(|| "–".to_owned(), minutes);
        cost(
            picture,
            3,
            top,
            route.takes.map(|takes| takes.as_secs_f64() / longest),
            &text,
            (PASTE, INK),
        );
    }

    fn description(&self, scale: Scale) -> String {
        let mut sentences = vec![plain(&self.line)];
        for route in &self.routes {
            let margin = route.margin.map_or_else(
                || "margin not known".to_owned(),
                |margin| format!("{} {} left", scale.margin(margin), scale.step_unit()),
            );
            sentences.push(format!(
                "{}: {}, {margin}, {} heats",
                plain(&route.name),
                route.mark.word(),
                route.heats
            ));
        }
        sentences.retain(|sentence| !sentence.is_empty());
        sentences.join(". ")
    }
}

/// A bar of something of which less is better.
fn cost(
    picture: &mut Picture,
    column: usize,
    top: f64,
    share: Option<f64>,
    text: &str,
    (fill, ink): (Ink, Ink),
) {
    let Some((left, room)) = COLUMNS.get(column).copied() else {
        return;
    };
    let letters = width(text, NORMAL, true) + 8.0;
    let y = top + 24.0;
    let length = share.map_or(0.0, |share| {
        share.clamp(0.0, 1.0) * (room - letters).max(10.0)
    });
    if length > 0.0 {
        picture.rect(
            Rect {
                left,
                right: left + length,
                top: y - 8.0,
                bottom: y + 8.0,
            },
            fill,
        );
    }
    let label = Label::new(text, (left + length + 6.0, y), NORMAL, ink).bold();
    picture.label(label.anchored(Anchor::Start));
}
