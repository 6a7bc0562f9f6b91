//! The map of a board at its hottest: bands of temperature, lines where something melts, places with
//! their verdicts.

use super::Scale;
use super::heat::{HeatMap, Placed};
use super::inks::{self, GREY, INK, PAPER};
use super::lettering::{fit, plain, width, wrap};
use super::picture::{Anchor, HALO, Ink, Label, Picture, Point};
use super::place::{Placer, Rect};
use crate::quantity::{Celsius, Length};

const LEFT: f64 = 30.0;
const SMALL: f64 = 11.0;
const NORMAL: f64 = 12.0;
/// The longer side of the board in px.
const LONG: f64 = 620.0;
/// Cells of the picture, whatever the grid has.
const FINE: usize = 110;
/// Room at the right for the key of the bands.
const KEY: f64 = 120.0;

/// From cool to hot; each is darker than the one before, so that grey paper shows the same.
const BANDS: [Ink; 9] = [
    Ink(0xFF, 0xFC, 0xF5),
    Ink(0xFE, 0xF3, 0xDE),
    Ink(0xFB, 0xE4, 0xBD),
    Ink(0xF6, 0xD0, 0x98),
    Ink(0xEE, 0xB8, 0x74),
    Ink(0xE3, 0x9D, 0x55),
    Ink(0xD2, 0x80, 0x3C),
    Ink(0xBA, 0x63, 0x2A),
    Ink(0x98, 0x49, 0x1F),
];

/// The grid of the picture: temperatures at even places, or nothing where none are known.
struct Field {
    wide: usize,
    tall: usize,
    values: Vec<Option<f64>>,
    low: f64,
    step: f64,
}

/// How board and picture lie to each other.
struct Frame {
    board: Rect,
    wide_mm: f64,
    tall_mm: f64,
}

impl Frame {
    fn point(&self, x_mm: f64, y_mm: f64) -> Point {
        (
            self.board.left + x_mm / self.wide_mm * self.board.width(),
            self.board.bottom - y_mm / self.tall_mm * self.board.height(),
        )
    }
}

impl HeatMap {
    /// The map as a picture, the board the way it lies on the bench: lower left corner at the lower left.
    pub fn picture(&self, scale: Scale) -> Picture {
        let mut picture = Picture::new(&self.title);
        let (wide, tall) = (side(&self.across), side(&self.up));
        let unit = LONG / wide.max(tall);
        let (across, down) = ((wide * unit).max(180.0), (tall * unit).max(120.0));
        picture.width = (LEFT + across + KEY + 16.0).max(520.0);
        let top = self.head(&mut picture);
        let board = Rect {
            left: LEFT,
            top,
            right: LEFT + across,
            bottom: top + down,
        };
        let frame = Frame {
            board,
            wide_mm: wide,
            tall_mm: tall,
        };
        let field = self.field(wide, tall);
        bands(&mut picture, &frame, &field);
        outline(&mut picture, board, 1.5, INK);
        self.tool(&mut picture, &frame);
        let mut placer = Placer::new(board);
        self.isotherms(&mut picture, &frame, &field);
        self.places(&mut picture, &frame, &mut placer, scale);
        self.isotherm_names(&mut picture, &frame, &field, &mut placer, scale);
        key(&mut picture, board, &field, scale);
        ruler(&mut picture, &frame);
        picture.height = self.foot(&mut picture, board.bottom);
        picture.description = self.description(scale);
        picture
    }

    fn head(&self, picture: &mut Picture) -> f64 {
        let room = picture.width - 32.0;
        let title = fit(&plain(&self.title), 19.0, true, room);
        picture.label(Label::new(title, (16.0, 26.0), 19.0, INK).bold());
        let mut y = 51.0;
        for text in wrap(&plain(&self.line), 13.0, false, room, 2) {
            picture.label(Label::new(text, (16.0, y), 13.0, INK));
            y += 18.0;
        }
        y + 4.0
    }

    /// The temperatures at even points, the outermost on the edges of the board.
    fn field(&self, wide: f64, tall: f64) -> Field {
        let (nx, ny) = if wide >= tall {
            (FINE, fine(tall / wide))
        } else {
            (fine(wide / tall), FINE)
        };
        let (middles_x, middles_y) = (middles(&self.across), middles(&self.up));
        let mut values = Vec::with_capacity(nx * ny);
        for row in 0..ny {
            let y = between(&middles_y, row as f64 / (ny - 1) as f64 * tall);
            for column in 0..nx {
                let x = between(&middles_x, column as f64 / (nx - 1) as f64 * wide);
                values.push(x.zip(y).and_then(|(x, y)| self.value(x, y)));
            }
        }
        let known = || values.iter().flatten().copied();
        let low = known().fold(f64::INFINITY, f64::min);
        let high = known().fold(f64::NEG_INFINITY, f64::max);
        let (low, high) = if low.is_finite() {
            (low, high)
        } else {
            (0.0, 100.0)
        };
        let steps = [
            5.0, 10.0, 20.0, 25.0, 50.0, 100.0, 250.0, 500.0, 1000.0, 2500.0,
        ];
        let most = BANDS.len() as f64;
        let step = steps
            .into_iter()
            .find(|step| (high / step).floor() - (low / step).floor() < most)
            .unwrap_or(5000.0);
        Field {
            wide: nx,
            tall: ny,
            low: (low / step).floor() * step,
            step,
            values,
        }
    }

    /// The temperature between the middles of four cells, if all of them are known.
    fn value(&self, (x, x_next, dx): Between, (y, y_next, dy): Between) -> Option<f64> {
        let columns = self.across.len().saturating_sub(1);
        let cell = |x: usize, y: usize| Some(self.cells.get(y * columns + x)?.degrees());
        let lower = cell(x, y)? * (1.0 - dx) + cell(x_next, y)? * dx;
        let upper = cell(x, y_next)? * (1.0 - dx) + cell(x_next, y_next)? * dx;
        Some(lower * (1.0 - dy) + upper * dy)
    }

    fn tool(&self, picture: &mut Picture, frame: &Frame) {
        let Some(tool) = self.tool else { return };
        let (left, bottom) = frame.point(tool.across.0.mm(), tool.up.0.mm());
        let (right, top) = frame.point(tool.across.1.mm(), tool.up.1.mm());
        for (from, to) in edges(Rect {
            left,
            top,
            right,
            bottom,
        }) {
            picture.dashes(from, to, (6.0, 4.0), 1.5, INK);
        }
    }

    fn isotherms(&self, picture: &mut Picture, frame: &Frame, field: &Field) {
        for isotherm in &self.isotherms {
            for (a, b) in contour(frame, field, isotherm.at.degrees()) {
                picture.line(a, b, 4.0, PAPER);
            }
        }
        for isotherm in &self.isotherms {
            for (a, b) in contour(frame, field, isotherm.at.degrees()) {
                picture.line(a, b, 2.0, inks::METAL);
            }
        }
    }

    fn isotherm_names(
        &self,
        picture: &mut Picture,
        frame: &Frame,
        field: &Field,
        placer: &mut Placer,
        scale: Scale,
    ) {
        for isotherm in &self.isotherms {
            let name = fit(&plain(&isotherm.name), SMALL, false, 130.0);
            let text = format!("{name} {}", scale.number(isotherm.at));
            let strokes = contour(frame, field, isotherm.at.degrees());
            let wide = width(&text, SMALL, true);
            let every = (strokes.len() / 60).max(1);
            // Lowest first: names of nested lines read like a list from the bottom.
            let offers = strokes
                .iter()
                .step_by(every)
                .map(|(a, _)| (*a, frame.board.bottom - a.1));
            let offers: Vec<_> = offers.collect();
            if let Some(rect) = placer.place((wide, SMALL), offers) {
                let label = Label::new(text, rect.center(), SMALL, inks::METAL)
                    .bold()
                    .on(HALO);
                picture.label(label.anchored(Anchor::Middle));
            }
        }
    }

    fn places(&self, picture: &mut Picture, frame: &Frame, placer: &mut Placer, scale: Scale) {
        for place in &self.places {
            let at = frame.point(place.x.mm(), place.y.mm());
            if let Some(reach) = place.reach {
                circle(picture, frame, at, reach.mm());
            }
            inks::draw(picture, place.mark, at, 4.2);
            placer.take(Rect::around(at, 11.0, 11.0));
        }
        let mut order: Vec<&Placed> = self.places.iter().collect();
        order.sort_by_key(|place| std::cmp::Reverse((place.mark, place.at)));
        for place in order {
            let (x, y) = frame.point(place.x.mm(), place.y.mm());
            let text = place_words(place, scale);
            let wide = width(&text, SMALL, true);
            let offers = (0_u8..16).flat_map(|ring| {
                let away = 9.0 * f64::from(ring);
                let price = 6.0 * f64::from(ring);
                let side = 9.0 + wide / 2.0 + away * 0.6;
                [
                    ((x + side, y), price),
                    ((x - side, y), price + 1.0),
                    ((x, y - 13.0 - away), price + 2.0),
                    ((x, y + 13.0 + away), price + 2.5),
                    ((x + side, y - away), price + 3.0),
                    ((x - side, y + away), price + 3.5),
                ]
            });
            if let Some(rect) = placer.place((wide, SMALL), offers) {
                let near = (
                    x.clamp(rect.left, rect.right),
                    y.clamp(rect.top, rect.bottom),
                );
                if (near.0 - x).hypot(near.1 - y) > 12.0 {
                    picture.line((x, y), near, 0.75, INK);
                }
                let ink = if place.mark == super::Mark::Holds {
                    INK
                } else {
                    inks::ink(place.mark)
                };
                let label = Label::new(text, rect.center(), SMALL, ink).bold().on(HALO);
                picture.label(label.anchored(Anchor::Middle));
            }
        }
    }

    fn foot(&self, picture: &mut Picture, top: f64) -> f64 {
        let size = format!(
            "board {} × {} mm",
            super::numbers::short(side(&self.across)),
            super::numbers::short(side(&self.up))
        );
        let tool = self.tool.map(|_| "dashes: under the tool".to_owned());
        let mut y = top + 18.0;
        let lines = std::iter::once(size).chain(tool);
        let line = lines.collect::<Vec<_>>().join(" · ");
        for text in std::iter::once(line).chain(self.notes.iter().map(|note| plain(note))) {
            for text in wrap(&text, SMALL, false, picture.width - LEFT - 16.0, 3) {
                picture.label(Label::new(text, (LEFT, y), SMALL, GREY));
                y += 15.0;
            }
        }
        y
    }

    fn description(&self, scale: Scale) -> String {
        let mut sentences = vec![plain(&self.line)];
        sentences.extend(
            self.places
                .iter()
                .map(|place| format!("{}, {}", place_words(place, scale), place.mark.word())),
        );
        sentences.retain(|sentence| !sentence.is_empty());
        sentences.join(". ")
    }
}

fn place_words(place: &Placed, scale: Scale) -> String {
    let name = fit(&plain(&place.name), SMALL, true, 120.0);
    place.at.map_or_else(
        || format!("{name} ?"),
        |at| format!("{name} {}", scale.number(at)),
    )
}

fn side(edges: &[Length]) -> f64 {
    edges.last().map_or(1.0, |edge| edge.mm()).max(0.1)
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a share of a small number"
)]
fn fine(share: f64) -> usize {
    (share * FINE as f64).round().clamp(8.0, FINE as f64) as usize
}

/// Two neighbours, and the share of the way from one to the other.
type Between = (usize, usize, f64);

/// The middles of the cells between these edges, in mm.
fn middles(edges: &[Length]) -> Vec<f64> {
    let pairs = edges.iter().zip(edges.iter().skip(1));
    pairs.map(|(a, b)| f64::midpoint(a.mm(), b.mm())).collect()
}

/// The cells between whose middles a place lies; beyond the outermost middle that cell alone.
fn between(middles: &[f64], mm: f64) -> Option<Between> {
    let last = middles.len().checked_sub(1)?;
    let above = middles.partition_point(|middle| *middle <= mm);
    let (from, to) = (above.saturating_sub(1), above.min(last));
    let (a, b) = (middles.get(from)?, middles.get(to)?);
    let share = if b > a {
        ((mm - a) / (b - a)).clamp(0.0, 1.0)
    } else {
        0.0
    };
    Some((from, to, share))
}

/// From cool to hot, each band over the one below it: squares that are hot enough all over side by side as one
/// rectangle, those that the edge of the band cuts through as the piece of them.
fn bands(picture: &mut Picture, frame: &Frame, field: &Field) {
    let most = field.values.iter().filter_map(|value| field.band(*value));
    let most = most.max().unwrap_or(0);
    for band in 0..=most {
        let Some(ink) = BANDS.get(band) else { break };
        // The coolest band holds everything that is known.
        let level = if band == 0 {
            f64::NEG_INFINITY
        } else {
            field.low + field.step * band as f64
        };
        for row in 0..field.tall.saturating_sub(1) {
            band_row(picture, frame, field, (row, level), *ink);
        }
    }
}

fn band_row(
    picture: &mut Picture,
    frame: &Frame,
    field: &Field,
    (row, level): (usize, f64),
    ink: Ink,
) {
    let mut whole: Option<usize> = None;
    for column in 0..field.wide {
        let corners = [
            (column, row),
            (column + 1, row),
            (column + 1, row + 1),
            (column, row + 1),
        ];
        let values = corners.map(|(column, row)| field.value(column, row));
        let full = values.iter().all(|value| value.is_some_and(|v| v >= level));
        if full {
            whole.get_or_insert(column);
            continue;
        }
        if let Some(from) = whole.take() {
            let (left, bottom) = field.point(frame, (from as f64, row as f64));
            let (right, top) = field.point(frame, (column as f64, row as f64 + 1.0));
            let rect = Rect {
                left,
                top,
                right,
                bottom,
            };
            picture.rect(rect, ink);
        }
        let piece = piece(corners, values, level);
        if piece.len() > 2 {
            let points = piece.into_iter().map(|at| field.point(frame, at));
            picture.fill(points.collect(), ink);
        }
    }
}

/// What of a square lies above a level; nothing where a corner is not known.
fn piece(corners: [(usize, usize); 4], values: [Option<f64>; 4], level: f64) -> Vec<(f64, f64)> {
    let mut points = Vec::with_capacity(6);
    for side in 0..4 {
        let next = (side + 1) % 4;
        let (Some(a), Some(b)) = (values[side], values[next]) else {
            return Vec::new();
        };
        let at = |(column, row): (usize, usize)| (column as f64, row as f64);
        let (from, to) = (at(corners[side]), at(corners[next]));
        if a >= level {
            points.push(from);
        }
        if (a < level) != (b < level) {
            let share = (level - a) / (b - a);
            points.push((
                from.0 + (to.0 - from.0) * share,
                from.1 + (to.1 - from.1) * share,
            ));
        }
    }
    points
}

impl Field {
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "not below the lowest"
    )]
    fn band(&self, value: Option<f64>) -> Option<usize> {
        value.map(|value| (((value - self.low) / self.step).max(0.0) as usize).min(BANDS.len() - 1))
    }

    /// Where a point of the grid lies in the picture.
    fn point(&self, frame: &Frame, (column, row): (f64, f64)) -> Point {
        let share = |at: f64, count: usize| at / (count.max(2) - 1) as f64;
        (
            frame.board.left + share(column, self.wide) * frame.board.width(),
            frame.board.bottom - share(row, self.tall) * frame.board.height(),
        )
    }

    fn value(&self, column: usize, row: usize) -> Option<f64> {
        (column < self.wide)
            .then(|| self.values.get(row * self.wide + column).copied().flatten())?
    }
}

/// Strokes along which the field has one temperature: each square of four neighbours is cut where
/// its sides pass it.
fn contour(frame: &Frame, field: &Field, level: f64) -> Vec<(Point, Point)> {
    let mut strokes = Vec::new();
    let place = |column: f64, row: f64| field.point(frame, (column, row));
    for row in 0..field.tall.saturating_sub(1) {
        for column in 0..field.wide.saturating_sub(1) {
            let corners = [
                (column, row),
                (column + 1, row),
                (column + 1, row + 1),
                (column, row + 1),
            ];
            let values = corners.map(|(column, row)| field.value(column, row));
            let mut crossings = Vec::new();
            for side in 0..4_usize {
                let (a, b) = (corners.get(side), corners.get((side + 1) % 4));
                let (va, vb) = (values.get(side), values.get((side + 1) % 4));
                let (Some(a), Some(b), Some(Some(va)), Some(Some(vb))) = (a, b, va, vb) else {
                    continue;
                };
                if (*va < level) != (*vb < level) {
                    let share = (level - va) / (vb - va);
                    let mix = |a: usize, b: usize| a as f64 + (b as f64 - a as f64) * share;
                    crossings.push(place(mix(a.0, b.0), mix(a.1, b.1)));
                }
            }
            for pair in crossings.chunks_exact(2) {
                if let [a, b] = pair {
                    strokes.push((*a, *b));
                }
            }
        }
    }
    strokes
}

/// A circle of so many mm, as far as it lies on the board.
fn circle(picture: &mut Picture, frame: &Frame, (x, y): Point, mm: f64) {
    let unit = frame.board.width() / frame.wide_mm;
    let on = |turn: u32| {
        let angle = f64::from(turn) * std::f64::consts::TAU / 36.0;
        (
            (x + mm * unit * angle.cos()).clamp(frame.board.left, frame.board.right),
            (y + mm * unit * angle.sin()).clamp(frame.board.top, frame.board.bottom),
        )
    };
    picture.stroke((0..=36).map(on).collect(), 1.0, INK);
}

/// A length of the board, to measure the picture by.
fn ruler(picture: &mut Picture, frame: &Frame) {
    let mm = [50.0, 20.0, 10.0, 5.0, 2.0, 1.0];
    let mm = mm.into_iter().find(|mm| *mm <= frame.wide_mm / 4.0);
    let mm = mm.unwrap_or(1.0);
    let y = frame.board.bottom + 13.0;
    let left = frame.board.right - mm / frame.wide_mm * frame.board.width();
    picture.line((left, y), (frame.board.right, y), 1.5, INK);
    for x in [left, frame.board.right] {
        picture.line((x, y - 4.0), (x, y + 4.0), 1.5, INK);
    }
    let text = format!("{mm:.0} mm");
    picture.label(Label::new(text, (left - 6.0, y), SMALL, INK).anchored(Anchor::End));
}

/// The bands with their temperatures, hottest above.
fn key(picture: &mut Picture, board: Rect, field: &Field, scale: Scale) {
    let most = field
        .values
        .iter()
        .filter_map(|value| field.band(*value))
        .max()
        .unwrap_or(0);
    let x = board.right + 18.0;
    picture.label(Label::new(scale.unit(), (x, board.top + 6.0), SMALL, GREY));
    for (row, band) in (0..=most).rev().enumerate() {
        let top = board.top + 18.0 + 20.0 * row as f64;
        let swatch = Rect {
            left: x,
            right: x + 22.0,
            top,
            bottom: top + 16.0,
        };
        if let Some(ink) = BANDS.get(band) {
            picture.rect(swatch, *ink);
        }
        outline(picture, swatch, 0.75, GREY);
        let from = field.low + field.step * band as f64;
        let text = scale.range(Celsius::nearest(from), Celsius::nearest(from + field.step));
        picture.label(Label::new(text, (x + 29.0, top + 8.0), NORMAL, INK));
    }
}

fn edges(
    Rect {
        left,
        top,
        right,
        bottom,
    }: Rect,
) -> [(Point, Point); 4] {
    [
        ((left, top), (right, top)),
        ((right, top), (right, bottom)),
        ((right, bottom), (left, bottom)),
        ((left, bottom), (left, top)),
    ]
}

fn outline(picture: &mut Picture, rect: Rect, width: f64, ink: Ink) {
    for (from, to) in edges(rect) {
        picture.line(from, to, width, ink);
    }
}
