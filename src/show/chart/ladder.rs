//! The alloy ladder as a sheet for the wall: a bar from solidus to liquidus for every alloy, in groups.

use super::Scale;
use super::bars::{Bar, Group, Ladder, Paper};
use super::inks::{ALARM, FAINT, GREY, INK, METAL, PAPER, PASTE, PASTE_HATCH};
use super::lettering::{fit, plain, width, wrap};
use super::picture::{Anchor, HALO, Label, Picture};
use super::place::Rect;

/// Millimetres to px at 96 to the inch.
const PX: f64 = 96.0 / 25.4;
const MARGIN: f64 = 38.0;
/// Between two columns of alloys.
const GUTTER: f64 = 26.0;
/// A row is as high as the sheet allows, within these.
const LEAST_ROW: f64 = 9.6;
const MOST_ROW: f64 = 21.0;
const SMALL: f64 = 10.5;

impl Paper {
    /// Width and height in mm.
    pub const fn mm(self) -> (f64, f64) {
        match self {
            Paper::A4 => (210.0, 297.0),
            Paper::A4Landscape => (297.0, 210.0),
            Paper::A3 => (297.0, 420.0),
            Paper::A3Landscape => (420.0, 297.0),
        }
    }
}

/// One line of a column: the heading of a group, or an alloy.
enum Row<'a> {
    Heading(&'a str, bool),
    Alloy(&'a Bar),
}

/// The sizes that the number of rows and the paper lead to.
struct Sheet {
    width: f64,
    height: f64,
    columns: usize,
    rows: usize,
    row: f64,
    top: f64,
    low: f64,
    high: f64,
    scale: Scale,
}

impl Ladder {
    /// The sheet on a paper. If there are more alloys than can be read on it, it gets longer.
    pub fn picture(&self, paper: Paper, scale: Scale) -> Picture {
        let mut picture = Picture::new(&self.title);
        let columns = self.columns(paper);
        let sheet = self.sheet(paper, scale, &columns);
        picture.width = sheet.width;
        picture.paper_mm = Some((sheet.width / PX, sheet.height / PX));
        picture.height = sheet.height;
        picture.description = self.description(scale);
        let title = fit(&plain(&self.title), 22.0, true, sheet.width - 2.0 * MARGIN);
        picture.label(Label::new(title, (MARGIN, MARGIN + 6.0), 22.0, INK).bold());
        let key = "bar: solidus to liquidus · full: in stock · pale: not in stock · diamond: melts at one temperature";
        let key = fit(key, SMALL, false, sheet.width - 2.0 * MARGIN);
        picture.label(Label::new(key, (MARGIN, MARGIN + 28.0), SMALL, GREY));
        for (index, rows) in columns.iter().enumerate() {
            column(&mut picture, &sheet, index, rows);
        }
        self.foot(&mut picture, &sheet, &columns);
        picture
    }

    /// Whether its letters are at least 6.5 points high on this paper; if not, a larger paper or fewer
    /// alloys are called for.
    pub fn is_legible(&self, paper: Paper) -> bool {
        let sheet = self.sheet(paper, Scale::Celsius, &self.columns(paper));
        letters(sheet.row) / 96.0 * 72.0 >= 6.5 && sheet.height <= paper.mm().1 * PX + 1.0
    }

    /// The rows in columns: as few as leave a row of a good height, a group's heading never last.
    fn columns(&self, paper: Paper) -> Vec<Vec<Row<'_>>> {
        let count: usize = self.groups.iter().map(|group| group.rows.len() + 1).sum();
        let (width, height) = paper.mm();
        let room = height * PX - 230.0;
        let most = if width * PX > 1000.0 { 3 } else { 2 };
        let good = |columns: &usize| count as f64 / *columns as f64 * 15.0 <= room;
        let columns = (1..most).find(good).unwrap_or(most);
        split(&self.groups, columns)
    }

    fn sheet(&self, paper: Paper, scale: Scale, columns: &[Vec<Row<'_>>]) -> Sheet {
        let (width, height) = paper.mm();
        let (width, height) = (width * PX, height * PX);
        let rows = columns.iter().map(Vec::len).max().unwrap_or(0).max(1);
        let top = MARGIN + 68.0;
        let foot = foot_height(self, width) + MARGIN;
        let row = ((height - top - foot) / rows as f64).clamp(LEAST_ROW, MOST_ROW);
        let height = height.max(top + foot + row * rows as f64);
        let (low, high) = extent(&self.groups);
        Sheet {
            width,
            height,
            columns: columns.len().max(1),
            rows,
            row,
            top,
            low,
            high,
            scale,
        }
    }

    fn description(&self, scale: Scale) -> String {
        let mut sentences = Vec::new();
        for group in &self.groups {
            for bar in &group.rows {
                let range = scale.range(bar.solidus, bar.liquidus);
                let stock = if bar.in_stock { ", in stock" } else { "" };
                sentences.push(format!(
                    "{} {range} {}{stock}",
                    plain(&bar.alloy),
                    scale.unit()
                ));
            }
        }
        for pair in &self.never_meet {
            let at = scale.temperature(pair.melts_at);
            sentences.push(format!(
                "never {} with {}: {at}",
                plain(&pair.one),
                plain(&pair.other)
            ));
        }
        sentences.join(". ")
    }

    /// Pairs that must never meet, what the boxes mean, and the small print.
    fn foot(&self, picture: &mut Picture, sheet: &Sheet, columns: &[Vec<Row<'_>>]) {
        let mut y = sheet.top + sheet.row * sheet.rows as f64 + 26.0;
        if !self.never_meet.is_empty() {
            y = self.pairs(picture, sheet, y);
        }
        let room = sheet.width - 2.0 * MARGIN;
        for line in flags_key(columns)
            .into_iter()
            .chain(self.notes.iter().map(|note| plain(note)))
        {
            for text in wrap(&line, SMALL, false, room, 2) {
                picture.label(Label::new(text, (MARGIN, y), SMALL, GREY));
                y += 14.0;
            }
        }
    }

    fn pairs(&self, picture: &mut Picture, sheet: &Sheet, top: f64) -> f64 {
        let (left, right) = (MARGIN, sheet.width - MARGIN);
        let across = pair_columns(sheet.width);
        let rows = self.never_meet.len().div_ceil(across);
        let bottom = top + 24.0 + PAIR * rows as f64;
        let frame = Rect {
            left,
            right,
            top: top - 12.0,
            bottom: bottom - 8.0,
        };
        for (from, to) in [
            ((frame.left, frame.top), (frame.right, frame.top)),
            ((frame.left, frame.bottom), (frame.right, frame.bottom)),
            ((frame.left, frame.top), (frame.left, frame.bottom)),
            ((frame.right, frame.top), (frame.right, frame.bottom)),
        ] {
            picture.line(from, to, 1.5, ALARM);
        }
        let head = "Never let these meet on one pad: together they melt below both";
        let head = fit(head, 13.0, true, right - left - 24.0);
        picture.label(Label::new(head, (left + 12.0, top + 4.0), 13.0, ALARM).bold());
        let column = (right - left - 24.0) / across as f64;
        for (index, pair) in self.never_meet.iter().enumerate() {
            let x = left + 12.0 + column * (index / rows) as f64;
            let y = top + 24.0 + PAIR * (index % rows) as f64;
            let (x0, r) = (x + 4.0, 3.6);
            picture.line((x0 - r, y - r), (x0 + r, y + r), 2.0, ALARM);
            picture.line((x0 - r, y + r), (x0 + r, y - r), 2.0, ALARM);
            let names = format!("{} + {}", plain(&pair.one), plain(&pair.other));
            let at = sheet.scale.temperature(pair.melts_at);
            let at_width = width(&at, SMALL, true) + 8.0;
            let names = fit(&names, SMALL, false, (column - at_width - 20.0).min(220.0));
            let mut right_of = x + 14.0;
            let names_width = width(&names, SMALL, false).max(if across > 1 { 0.0 } else { 190.0 });
            picture.label(Label::new(names, (right_of, y), SMALL, INK));
            right_of += names_width + 8.0;
            picture.label(Label::new(at, (right_of, y), SMALL, ALARM).bold());
            right_of += at_width + 2.0;
            let reason = fit(
                &plain(&pair.reason),
                SMALL,
                false,
                x + column - right_of - 10.0,
            );
            if reason.chars().count() > 4 {
                picture.label(Label::new(reason, (right_of, y), SMALL, GREY));
            }
        }
        bottom + 12.0
    }
}

const PAIR: f64 = 15.0;

fn pair_columns(width: f64) -> usize {
    if width > 1000.0 { 2 } else { 1 }
}

fn foot_height(ladder: &Ladder, width: f64) -> f64 {
    let pairs = match ladder.never_meet.len() {
        0 => 0.0,
        count => 50.0 + PAIR * count.div_ceil(pair_columns(width)) as f64,
    };
    let notes: usize = ladder
        .notes
        .iter()
        .map(|note| wrap(&plain(note), SMALL, false, width - 2.0 * MARGIN, 2).len())
        .sum();
    26.0 + pairs + 14.0 * (notes + 2) as f64
}

fn split(groups: &[Group], columns: usize) -> Vec<Vec<Row<'_>>> {
    let count: usize = groups.iter().map(|group| group.rows.len() + 1).sum();
    let target = count.div_ceil(columns);
    let mut split = vec![Vec::new()];
    for group in groups {
        let mut again = false;
        for bar in &group.rows {
            let full = split
                .last()
                .is_some_and(|column| column.len() + 1 + usize::from(!again) > target + 1);
            if full && split.len() < columns {
                split.push(Vec::new());
                if again {
                    push(&mut split, Row::Heading(&group.name, true));
                }
            }
            if !again {
                push(&mut split, Row::Heading(&group.name, false));
                again = true;
            }
            push(&mut split, Row::Alloy(bar));
        }
    }
    split
}

fn push<'a>(columns: &mut [Vec<Row<'a>>], row: Row<'a>) {
    if let Some(column) = columns.last_mut() {
        column.push(row);
    }
}

/// Lowest and highest temperature of the bars, in round °C.
fn extent(groups: &[Group]) -> (f64, f64) {
    let bars = || groups.iter().flat_map(|group| &group.rows);
    let low = bars()
        .map(|bar| bar.solidus.degrees())
        .fold(f64::INFINITY, f64::min);
    let high = bars()
        .map(|bar| bar.liquidus.max(bar.solidus).degrees())
        .fold(f64::NEG_INFINITY, f64::max);
    if !low.is_finite() {
        return (0.0, 300.0);
    }
    let low = ((low - 5.0) / 25.0).floor() * 25.0;
    (low, (((high + 5.0) / 25.0).ceil() * 25.0).max(low + 50.0))
}

/// The size of the letters in a row of a height.
fn letters(row: f64) -> f64 {
    (row * 0.74).min(12.0)
}

/// One column of alloys.
struct Field {
    left: f64,
    size: f64,
    names: f64,
    numbers: f64,
    bars: (f64, f64),
    flags: f64,
}

fn field(sheet: &Sheet, index: usize, rows: &[Row<'_>]) -> Field {
    let across = sheet.columns as f64;
    let wide = (sheet.width - 2.0 * MARGIN - GUTTER * (across - 1.0)) / across;
    let left = MARGIN + (wide + GUTTER) * index as f64;
    let size = letters(sheet.row);
    let alloys = || {
        rows.iter().filter_map(|row| {
            if let Row::Alloy(bar) = row {
                Some(*bar)
            } else {
                None
            }
        })
    };
    let names = alloys()
        .map(|bar| width(&plain(&bar.alloy), size, true))
        .fold(40.0, f64::max)
        .min(wide * 0.36);
    let numbers = alloys()
        .map(|bar| width(&sheet.scale.range(bar.solidus, bar.liquidus), size, false))
        .fold(20.0, f64::max);
    let flags = alloys()
        .map(|bar| flags_width(bar, size))
        .fold(0.0, f64::max);
    let bars_left = left + names + numbers + 22.0;
    Field {
        left,
        size,
        names,
        numbers,
        bars: (bars_left, left + wide - flags - 6.0),
        flags,
    }
}

fn column(picture: &mut Picture, sheet: &Sheet, index: usize, rows: &[Row<'_>]) {
    let field = field(sheet, index, rows);
    axis(picture, sheet, &field, rows.len());
    for (at, row) in rows.iter().enumerate() {
        let y = sheet.top + sheet.row * (at as f64 + 0.5);
        match row {
            Row::Heading(name, again) => heading(picture, sheet, &field, (name, *again), y),
            Row::Alloy(bar) => alloy(picture, sheet, &field, bar, y),
        }
    }
}

fn axis(picture: &mut Picture, sheet: &Sheet, field: &Field, rows: usize) {
    let bottom = sheet.top + sheet.row * rows as f64;
    let ticks =
        sheet
            .scale
            .ticks_every(sheet.low, sheet.high, (field.bars.1 - field.bars.0) / 34.0);
    for (at, text) in ticks {
        let x = place(sheet, field, at);
        picture.line((x, sheet.top - 4.0), (x, bottom), 0.75, FAINT);
        let label = Label::new(text, (x, sheet.top - 11.0), 9.5, GREY).anchored(Anchor::Middle);
        picture.label(label);
    }
    let unit = Label::new(
        sheet.scale.unit(),
        (
            field.left + field.names + field.numbers + 12.0,
            sheet.top - 11.0,
        ),
        9.5,
        GREY,
    );
    picture.label(unit.anchored(Anchor::End));
}

fn place(sheet: &Sheet, field: &Field, degrees: f64) -> f64 {
    let (left, right) = field.bars;
    left + (degrees - sheet.low) / (sheet.high - sheet.low) * (right - left)
}

fn heading(
    picture: &mut Picture,
    sheet: &Sheet,
    field: &Field,
    (name, again): (&str, bool),
    y: f64,
) {
    let right = field.bars.1 + 6.0 + field.flags;
    let size = field.size + 0.5;
    let name = if again {
        format!("{}, continued", plain(name))
    } else {
        plain(name)
    };
    let name = fit(&name, size, true, right - field.left);
    let below = y + sheet.row * 0.5 - 1.0;
    picture.line((field.left, below), (right, below), 1.0, INK);
    picture.label(Label::new(name, (field.left, y), size, INK).bold().on(HALO));
}

fn alloy(picture: &mut Picture, sheet: &Sheet, field: &Field, bar: &Bar, y: f64) {
    let name = fit(&plain(&bar.alloy), field.size, bar.in_stock, field.names);
    let name = Label::new(name, (field.left, y), field.size, INK);
    picture.label(if bar.in_stock { name.bold() } else { name });
    let range = sheet.scale.range(bar.solidus, bar.liquidus);
    let numbers_right = field.left + field.names + field.numbers + 10.0;
    picture.label(Label::new(range, (numbers_right, y), field.size, METAL).anchored(Anchor::End));
    let (from, to) = (
        place(sheet, field, bar.solidus.degrees()),
        place(sheet, field, bar.liquidus.degrees()),
    );
    draw_bar(picture, bar, (from, to), y, (sheet.row * 0.3).min(4.5));
    note(picture, field, bar, (from.min(to), from.max(to)), y);
    flags(picture, field, bar, y);
}

fn draw_bar(picture: &mut Picture, bar: &Bar, (from, to): (f64, f64), y: f64, half: f64) {
    let in_stock = bar.in_stock;
    if bar.solidus == bar.liquidus {
        let diamond = |r: f64| vec![(from, y - r), (from + r, y), (from, y + r), (from - r, y)];
        picture.fill(diamond(half * 1.35), METAL);
        if !in_stock {
            picture.fill(diamond(half * 0.7), PAPER);
        }
        return;
    }
    let rect = Rect {
        left: from,
        right: to,
        top: y - half,
        bottom: y + half,
    };
    picture.rect(rect, if in_stock { METAL } else { PASTE });
    if !in_stock {
        picture.line((from, rect.bottom), (to, rect.bottom), 0.75, PASTE_HATCH);
        picture.line((from, rect.top), (to, rect.top), 0.75, PASTE_HATCH);
    }
    // Solidus: where it starts to melt is the edge that matters.
    picture.line((from, y - half * 1.3), (from, y + half * 1.3), 2.0, METAL);
}

/// A few words where the bar leaves most room.
fn note(picture: &mut Picture, field: &Field, bar: &Bar, (from, to): (f64, f64), y: f64) {
    let text = plain(&bar.note);
    if text.is_empty() {
        return;
    }
    let size = field.size * 0.9;
    let (before, after) = (from - field.bars.0 - 10.0, field.bars.1 - to - 10.0);
    let (room, label) = if after >= before {
        (after, Label::new("", (to + 7.0, y), size, GREY))
    } else {
        (
            before,
            Label::new("", (from - 7.0, y), size, GREY).anchored(Anchor::End),
        )
    };
    let text = fit(&text, size, false, room);
    if text.chars().count() > 3 {
        picture.label(Label { text, ..label }.on(HALO));
    }
}

/// What stands in the box of a flag, and what it means.
fn sign(flag: &str) -> (String, String) {
    let (sign, meaning) = match flag {
        "lead" => ("Pb", "contains lead"),
        "cadmium" => ("Cd", "contains cadmium: not to be used"),
        "mercury" => ("Hg", "contains mercury"),
        "gold" => ("Au", "contains gold"),
        "single_source" => ("1", "one source only"),
        "own" => ("own", "from your own file"),
        other => return (plain(other).chars().take(4).collect(), plain(other)),
    };
    (sign.to_owned(), meaning.to_owned())
}

fn flags_width(bar: &Bar, size: f64) -> f64 {
    bar.flags
        .iter()
        .map(|flag| width(&sign(flag).0, size * 0.86, true) + 7.0)
        .sum()
}

fn flags(picture: &mut Picture, field: &Field, bar: &Bar, y: f64) {
    let size = field.size * 0.86;
    let mut x = field.bars.1 + 6.0;
    for flag in &bar.flags {
        let (text, _) = sign(flag);
        let wide = width(&text, size, true);
        let half = size * 0.56;
        let grave = matches!(flag.as_str(), "lead" | "cadmium" | "mercury");
        let ink = if grave { ALARM } else { GREY };
        let edge = Rect {
            left: x,
            right: x + wide + 4.0,
            top: y - half,
            bottom: y + half,
        };
        picture.rect(edge, ink);
        if flag != "cadmium" {
            picture.rect(edge.grown(-0.8), PAPER);
        }
        let letters = if flag == "cadmium" { PAPER } else { ink };
        picture.label(Label::new(text, (x + 2.0, y), size, letters).bold());
        x += wide + 7.0;
    }
}

/// What the signs in boxes stand for.
fn flags_key(columns: &[Vec<Row<'_>>]) -> Option<String> {
    let mut flags: Vec<&str> = columns
        .iter()
        .flatten()
        .filter_map(|row| {
            if let Row::Alloy(bar) = row {
                Some(*bar)
            } else {
                None
            }
        })
        .flat_map(|bar| bar.flags.iter().map(String::as_str))
        .collect();
    flags.sort_unstable();
    flags.dedup();
    let words = flags.into_iter().map(sign);
    let words: Vec<String> = words
        .map(|(sign, meaning)| format!("{sign}: {meaning}"))
        .collect();
    (!words.is_empty()).then(|| words.join(" · "))
}
