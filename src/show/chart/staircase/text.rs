//! The staircase in plain characters, for a terminal: the same lines, treads and dots on a grid, and
//! under it the kelvins left as a table, since a grid is too coarse to read them from.

use unicode_width::{UnicodeWidthChar as _, UnicodeWidthStr as _};

use super::super::lettering::plain;
use super::super::{Mark, Scale};
use super::frame::extent;
use super::{Basis, Dot, Over, Segment, Staircase, Standing, Tread, TreadKind};
use crate::quantity::Celsius;

/// Columns before the first step of the grid.
const AXIS: usize = 6;
/// The least columns that a step takes.
const NARROWEST: usize = 6;
/// The most that it takes.
const WIDEST: usize = 11;
/// Columns for what stands at the right end of a line.
const NAMES: usize = 20;
/// Rows of the grid.
const ROWS: usize = 24;

/// The characters of one picture.
struct Glyphs {
    tread: char,
    whole_board: char,
    removal: [char; 3],
    line: char,
    residue: char,
    floor: char,
    unknown: char,
    ceiling: char,
    service: char,
    drop: [char; 3],
    ends: char,
    none: char,
}

const DRAWN: Glyphs = Glyphs {
    tread: '▀',
    whole_board: '█',
    removal: ['╱', '▲', '╲'],
    line: '━',
    residue: '┄',
    floor: '╍',
    unknown: '?',
    ceiling: '╌',
    service: '░',
    drop: ['┃', '▼', '▲'],
    ends: '┫',
    none: '·',
};

const ASCII: Glyphs = Glyphs {
    tread: '=',
    whole_board: '#',
    removal: ['/', '^', '\\'],
    line: '-',
    residue: '.',
    floor: '~',
    unknown: '?',
    ceiling: '\'',
    service: ':',
    drop: ['|', 'v', '^'],
    ends: '|',
    none: '.',
};

const fn sign(mark: Mark, ascii: bool) -> char {
    match (mark, ascii) {
        (Mark::Holds, false) => '●',
        (Mark::Close, false) => '◆',
        (Mark::Softens, false) => '◒',
        (Mark::Melts, false) => '✗',
        (Mark::DoesNotFlow, false) => '▽',
        (Mark::Limit, false) => '■',
        (Mark::Refused, false) => '⊘',
        (Mark::Unknown, _) => '?',
        (Mark::Holds, true) => 'o',
        (Mark::Close, true) => '*',
        (Mark::Softens, true) => '%',
        (Mark::Melts, true) => 'X',
        (Mark::DoesNotFlow, true) => '_',
        (Mark::Limit, true) => '!',
        (Mark::Refused, true) => '#',
    }
}

impl Staircase {
    /// The same job in plain characters, in lines of at most `width` columns (40 at least); with
    /// `ascii` in ASCII alone. More steps than fit side by side go into further grids below.
    pub fn text(&self, scale: Scale, width: usize, ascii: bool) -> String {
        let width = width.max(40);
        let mut page = Page {
            stairs: self,
            scale,
            ascii,
            to_read: false,
            width,
            lines: Vec::new(),
        };
        page.push(&plain(&self.title));
        page.push(&plain(&self.line));
        let (ends, names) = if width >= 72 { (NAMES, 16) } else { (0, 10) };
        let room = width - AXIS - ends;
        let side_by_side = (room / NARROWEST).min((width - names) / NARROWEST).max(1);
        let steps = self.steps.len();
        let mut from = 0;
        while from < steps {
            let to = (from + side_by_side).min(steps);
            let column = (room / (to - from)).clamp(NARROWEST, WIDEST);
            page.blank();
            page.grid(from, to, column, ends);
            page.blank();
            let column = ((width - names) / (to - from)).clamp(NARROWEST, WIDEST);
            page.table(from, to, column, names);
            from = to;
        }
        page.blank();
        page.steps();
        page.legend();
        page.finish()
    }
}

impl Staircase {
    /// The same as a picture to read from: lines, treads and dots, without what is left, without verdicts, and
    /// each dot under the letter of its joint.
    pub fn text_to_read(&self, scale: Scale, width: usize, ascii: bool) -> String {
        let bare = Staircase {
            tightest: None,
            dots: self
                .dots
                .iter()
                .map(|dot| Dot {
                    mark: Mark::Holds,
                    ..dot.clone()
                })
                .collect(),
            ..self.clone()
        };
        let width = width.max(40);
        let mut page = Page {
            stairs: &bare,
            scale,
            ascii,
            to_read: true,
            width,
            lines: Vec::new(),
        };
        let room = width - AXIS - NAMES;
        let column = (room / bare.steps.len().max(1)).clamp(NARROWEST, WIDEST);
        page.grid(0, bare.steps.len(), column, NAMES);
        let names = bare.lines.iter().enumerate();
        let names = names.map(|(at, line)| format!("{} {}", letter(at), plain(&line.joint)));
        page.push(&names.collect::<Vec<_>>().join("  "));
        let (line, tread) = (page.glyphs().line, page.glyphs().tread);
        page.push(&format!(
            "{line}{line} first melt  a, b … what it sees  {tread}{tread} peak"
        ));
        page.finish()
    }
}

/// The letter that a joint has in the grid.
fn letter(line: usize) -> String {
    let alphabet = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz";
    alphabet
        .chars()
        .nth(line)
        .map_or_else(|| format!("#{}", line + 1), String::from)
}

struct Page<'a> {
    stairs: &'a Staircase,
    scale: Scale,
    ascii: bool,
    to_read: bool,
    width: usize,
    lines: Vec<String>,
}

/// A field of characters that forgives what lies outside of it.
struct Grid {
    rows: Vec<Vec<char>>,
}

impl Grid {
    fn put(&mut self, row: usize, column: usize, c: char) {
        if let Some(cell) = self.rows.get_mut(row).and_then(|row| row.get_mut(column)) {
            *cell = c;
        }
    }

    fn run(&mut self, row: usize, columns: std::ops::Range<usize>, c: char) {
        for column in columns {
            self.put(row, column, c);
        }
    }

    /// The first place of a row from a column on where only a line runs.
    fn free(&self, row: usize, from: usize, glyphs: &Glyphs) -> Option<usize> {
        let runs = [
            ' ',
            glyphs.line,
            glyphs.floor,
            glyphs.ceiling,
            glyphs.service,
        ];
        let cells = self.rows.get(row)?.get(from..)?;
        Some(from + cells.iter().position(|c| runs.contains(c))?)
    }

    fn word(&mut self, row: usize, column: usize, word: &str) {
        for (at, c) in word.chars().enumerate() {
            self.put(row, column + at, c);
        }
    }
}

/// Where the steps of one grid lie.
struct Window {
    from: usize,
    to: usize,
    column: usize,
    low: f64,
    high: f64,
}

impl Window {
    fn row(&self, at: Celsius) -> usize {
        let share = (self.high - at.degrees()) / (self.high - self.low);
        whole(share * (ROWS - 1) as f64)
    }

    fn left(&self, step: usize) -> usize {
        AXIS + (step - self.from.min(step)) * self.column
    }

    fn middle(&self, step: usize) -> usize {
        self.left(step) + self.column / 2
    }

    fn shows(&self, step: usize) -> bool {
        (self.from..self.to).contains(&step)
    }

    /// The columns of a stretch, if any of it is in this grid.
    fn span(&self, from: Option<usize>, to: Option<usize>) -> Option<std::ops::Range<usize>> {
        let end = AXIS + (self.to - self.from) * self.column;
        if from.is_some_and(|from| from >= self.to) || to.is_some_and(|to| to < self.from) {
            return None;
        }
        let start = from
            .filter(|from| self.shows(*from))
            .map_or(AXIS, |from| self.middle(from));
        let stop = to
            .filter(|to| self.shows(*to))
            .map_or(end, |to| self.middle(to) + 1);
        Some(start..stop)
    }
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a row of a small grid; what lies outside is not drawn"
)]
fn whole(row: f64) -> usize {
    row.round().clamp(0.0, 1000.0) as usize
}

impl Page<'_> {
    const fn glyphs(&self) -> &'static Glyphs {
        if self.ascii { &ASCII } else { &DRAWN }
    }

    /// A unit, without its degree sign where that cannot be shown.
    fn unit(&self, unit: &'static str) -> &'static str {
        if self.ascii {
            unit.trim_start_matches('°')
        } else {
            unit
        }
    }

    fn blank(&mut self) {
        self.lines.push(String::new());
    }

    /// A line, cut to the width.
    fn push(&mut self, line: &str) {
        let line = if self.ascii {
            to_ascii(line)
        } else {
            line.to_owned()
        };
        self.lines.push(cut(line.trim_end(), self.width));
    }

    fn finish(self) -> String {
        let mut text = self.lines.join("\n");
        text.push('\n');
        text
    }

    fn grid(&mut self, from: usize, to: usize, column: usize, names: usize) {
        let (low, high) = extent(self.stairs);
        let window = Window {
            from,
            to,
            column,
            low,
            high,
        };
        let wide = AXIS + (to - from) * column;
        let mut grid = Grid {
            rows: vec![vec![' '; wide]; ROWS],
        };
        self.draw_service(&mut grid, &window);
        self.draw_ceilings(&mut grid, &window);
        self.draw_lines(&mut grid, &window);
        self.draw_treads(&mut grid, &window);
        self.draw_dots(&mut grid, &window);
        self.draw_starts(&mut grid, &window);
        let ends = self.right_ends(&window, names);
        self.push(&self.numbers(from, to, column));
        let ticks = self.scale.ticks(low, high);
        for (row, cells) in grid.rows.iter().enumerate() {
            let tick = ticks
                .iter()
                .find(|(at, _)| window.row(Celsius::nearest(*at)) == row);
            let number = tick.map_or("", |(_, number)| number.as_str());
            let cells: String = cells.iter().skip(AXIS).collect();
            let end = ends.get(row).map_or("", String::as_str);
            self.push(&format!("{} {cells} {end}", right(number, AXIS - 1)));
        }
    }

    /// The head of a grid or table: the numbers of the steps over the middle of their columns.
    fn numbers(&self, from: usize, to: usize, column: usize) -> String {
        let mut head = right(self.unit(self.scale.unit()), AXIS - 1);
        head.push(' ');
        for tread in self.stairs.steps.get(from..to).unwrap_or_default() {
            head.push_str(&middle(&tread.number.to_string(), column));
        }
        head
    }

    fn draw_service(&self, grid: &mut Grid, window: &Window) {
        if let Some(service) = self.stairs.service {
            let wide = AXIS..AXIS + (window.to - window.from) * window.column;
            for row in window.row(service)..ROWS {
                grid.run(row, wide.clone(), self.glyphs().service);
            }
        }
    }

    fn draw_ceilings(&self, grid: &mut Grid, window: &Window) {
        for ceiling in &self.stairs.ceilings {
            if let Some(span) = window.span(ceiling.from_step, ceiling.to_step) {
                grid.run(window.row(ceiling.limit), span, self.glyphs().ceiling);
            }
        }
    }

    fn draw_treads(&self, grid: &mut Grid, window: &Window) {
        let glyphs = self.glyphs();
        for step in window.from..window.to {
            let Some(tread) = self.stairs.steps.get(step) else {
                continue;
            };
            let Some(peak) = tread.peak.filter(|_| tread.kind != TreadKind::NoHeat) else {
                continue;
            };
            let row = window.row(peak);
            let (left, right) = (window.left(step), window.left(step) + window.column - 1);
            match tread.kind {
                TreadKind::Removal => {
                    let at = window.middle(step);
                    for (shift, c) in glyphs.removal.into_iter().enumerate() {
                        grid.put(row, at + shift - 1, c);
                    }
                }
                TreadKind::WholeBoard => grid.run(row, left..right + 1, glyphs.whole_board),
                TreadKind::Heat | TreadKind::NoHeat => grid.run(row, left..right, glyphs.tread),
            }
        }
    }

    fn draw_lines(&self, grid: &mut Grid, window: &Window) {
        for life in &self.stairs.lines {
            for segment in &life.segments {
                self.draw_segment(grid, window, segment);
            }
        }
        for life in &self.stairs.lines {
            for drop in life.drops.iter().filter(|drop| window.shows(drop.at_step)) {
                if let (Some(from), Some(to)) = (drop.from, drop.to) {
                    self.draw_drop(
                        grid,
                        window.middle(drop.at_step),
                        (window.row(from), window.row(to)),
                    );
                }
            }
        }
    }

    fn draw_segment(&self, grid: &mut Grid, window: &Window, segment: &Segment) {
        let glyphs = self.glyphs();
        let (Some(melt), Some(span)) = (
            segment.first_melt,
            window.span(segment.from_step, segment.to_step),
        ) else {
            return;
        };
        let row = window.row(melt);
        let c = match (segment.kind, segment.basis) {
            (Standing::Residue, _) => glyphs.residue,
            (_, Basis::Unknown) => glyphs.unknown,
            (_, Basis::Floor) => glyphs.floor,
            _ => glyphs.line,
        };
        let last = span.end.saturating_sub(1);
        grid.run(row, span, c);
        if segment.to_step.is_some_and(|to| window.shows(to)) {
            grid.put(row, last, glyphs.ends);
        }
    }

    fn draw_drop(&self, grid: &mut Grid, column: usize, (from, to): (usize, usize)) {
        let [shaft, down, up] = self.glyphs().drop;
        for row in from.min(to)..=from.max(to) {
            grid.put(row, column, shaft);
        }
        grid.put(to, column, if to >= from { down } else { up });
    }

    /// The letter of each joint where its line begins, or as soon after it as there is room.
    fn draw_starts(&self, grid: &mut Grid, window: &Window) {
        for (line, life) in self.stairs.lines.iter().enumerate() {
            let Some(first) = life.segments.first() else {
                continue;
            };
            let begins_here = first
                .from_step
                .map_or(window.from == 0, |from| window.shows(from));
            let (Some(melt), true) = (first.first_melt, begins_here) else {
                continue;
            };
            let row = window.row(melt);
            let start = first.from_step.map_or(AXIS, |from| window.middle(from));
            if let Some(column) = grid.free(row, start, self.glyphs()) {
                grid.word(row, column, &letter(line));
            }
        }
    }

    fn draw_dots(&self, grid: &mut Grid, window: &Window) {
        for step in window.from..window.to {
            let mut dots: Vec<&Dot> = self
                .stairs
                .dots
                .iter()
                .filter(|dot| dot.step == step)
                .collect();
            dots.sort_by_key(|dot| (window.row(dot.at), std::cmp::Reverse(dot.mark), dot.over));
            let mut rows: Vec<(usize, String, bool)> = Vec::new();
            for dot in dots {
                let row = window.row(dot.at);
                let c = self.dot(dot);
                let tightest = self.is_tightest(dot);
                match rows.last_mut().filter(|last| last.0 == row) {
                    Some((_, signs, marked)) => {
                        if signs.chars().count() + 2 < window.column && !signs.contains(c) {
                            signs.push(c);
                        }
                        *marked |= tightest;
                    }
                    None => rows.push((row, c.to_string(), tightest)),
                }
            }
            for (row, signs, tightest) in rows {
                let signs = if tightest {
                    format!("[{signs}]")
                } else {
                    signs
                };
                let at = window.left(step)
                    + (window.column - signs.chars().count().min(window.column)) / 2;
                grid.word(row, at, &signs);
            }
        }
    }

    /// A dot by its verdict, or in a picture to read from by whose it is: the letter of its line, small.
    fn dot(&self, dot: &Dot) -> char {
        match dot.over {
            Over::Line(line) if self.to_read => {
                let letter = letter(line).to_lowercase();
                letter.chars().next().unwrap_or('#')
            }
            _ => sign(dot.mark, self.ascii),
        }
    }

    fn is_tightest(&self, dot: &Dot) -> bool {
        self.stairs
            .tightest
            .is_some_and(|it| it.step == dot.step && it.over == dot.over)
    }

    /// What stands at the right end of each row: letters of the lines that go on, names of ceilings.
    fn right_ends(&self, window: &Window, room: usize) -> Vec<String> {
        let mut ends = vec![String::new(); ROWS];
        let mut add = |at: Celsius, text: String| {
            if let Some(end) = ends.get_mut(window.row(at)) {
                if !end.is_empty() {
                    end.push_str("  ");
                }
                end.push_str(&text);
            }
        };
        for (melt, letters) in self.going_on(window.to) {
            add(melt, format!("{letters} {}", self.scale.number(melt)));
        }
        for ceiling in &self.stairs.ceilings {
            if ceiling.to_step.is_none_or(|to| to >= window.to)
                && ceiling.from_step.is_none_or(|from| from < window.to)
            {
                add(
                    ceiling.limit,
                    format!(
                        "{} {}",
                        plain(&ceiling.name),
                        self.scale.number(ceiling.limit)
                    ),
                );
            }
        }
        if let Some(service) = self.stairs.service {
            add(service, format!("in use {}", self.scale.number(service)));
        }
        ends.into_iter()
            .map(|end| cut(&end, room.saturating_sub(1)))
            .collect()
    }

    /// The lines that go on beyond a step, those at one temperature together.
    fn going_on(&self, to: usize) -> Vec<(Celsius, String)> {
        let mut together: Vec<(Celsius, String)> = Vec::new();
        for (line, life) in self.stairs.lines.iter().enumerate() {
            let goes_on = |segment: &&Segment| {
                segment.from_step.is_none_or(|from| from < to)
                    && segment.to_step.is_none_or(|end| end >= to)
            };
            let Some(melt) = life
                .segments
                .iter()
                .find(goes_on)
                .and_then(|segment| segment.first_melt)
            else {
                continue;
            };
            match together.iter_mut().find(|(other, _)| *other == melt) {
                Some((_, letters)) => letters.push_str(&letter(line)),
                None => together.push((melt, letter(line))),
            }
        }
        together.sort_by_key(|(melt, _)| std::cmp::Reverse(*melt));
        together
    }

    /// Kelvins left, a row a joint, a column a step.
    fn table(&mut self, from: usize, to: usize, column: usize, names: usize) {
        let stairs = self.stairs;
        let steps = stairs.steps.get(from..to).unwrap_or_default();
        let unit = self.unit(self.scale.step_unit());
        self.push(&format!("{unit} left up to the line, the tightest in [ ]:"));
        self.row(
            "step",
            names,
            steps
                .iter()
                .map(|step| right(&step.number.to_string(), column)),
        );
        for (line, life) in stairs.lines.iter().enumerate() {
            let name = format!("{} {}", letter(line), plain(&life.joint));
            let cells: Vec<String> = (from..to)
                .map(|step| right(&self.cell(step, Over::Line(line), column), column))
                .collect();
            self.row(&name, names, cells);
        }
        for (ceiling, thing) in stairs.ceilings.iter().enumerate() {
            let over = Over::Ceiling(ceiling);
            if stairs.dots.iter().any(|dot| dot.over == over) {
                let cells: Vec<String> = (from..to)
                    .map(|step| right(&self.cell(step, over, column), column))
                    .collect();
                self.row(&plain(&thing.name), names, cells);
            }
        }
        let scale = self.scale;
        self.row(
            "peak",
            names,
            steps.iter().map(|step| {
                let peak = step.peak.filter(|_| step.kind != TreadKind::NoHeat);
                right(
                    &peak.map_or_else(String::new, |peak| scale.number(peak)),
                    column,
                )
            }),
        );
    }

    fn row(&mut self, name: &str, room: usize, cells: impl IntoIterator<Item = String>) {
        let cells: String = cells.into_iter().collect();
        let name = if name.width() < room {
            name.to_owned()
        } else {
            format!("{}~", cut(name, room - 2))
        };
        self.push(&format!("{}{cells}", left(&name, room)));
    }

    fn cell(&self, step: usize, over: Over, column: usize) -> String {
        let dots = &self.stairs.dots;
        let Some(dot) = dots.iter().find(|dot| dot.step == step && dot.over == over) else {
            return self.event(step, over);
        };
        let exact = dot.margin.map(|margin| self.scale.margin(margin));
        let text = self.framed(dot, exact.as_deref());
        if text.width() < column {
            return text;
        }
        let whole = dot.margin.map(|margin| self.scale.whole_margin(margin));
        self.framed(dot, whole.as_deref())
    }

    fn framed(&self, dot: &Dot, number: Option<&str>) -> String {
        let text = match (dot.mark, number) {
            (Mark::Holds, Some(number)) => number.to_owned(),
            (mark, number) => format!("{}{}", sign(mark, self.ascii), number.unwrap_or_default()),
        };
        if self.is_tightest(dot) {
            format!("[{text}]")
        } else {
            text
        }
    }

    /// What else happens to a joint in a step: it is made, it changes, it goes.
    fn event(&self, step: usize, over: Over) -> String {
        let none = self.glyphs().none.to_string();
        let Over::Line(line) = over else { return none };
        let Some(life) = self.stairs.lines.get(line) else {
            return none;
        };
        let first = life.segments.first();
        if first.is_some_and(|first| first.from_step == Some(step)) {
            return "made".to_owned();
        }
        if life.drops.iter().any(|drop| drop.at_step == step) {
            return "mixed".to_owned();
        }
        let goes =
            |segment: &Segment| segment.kind == Standing::Joint && segment.to_step == Some(step);
        let comes =
            |segment: &Segment| segment.kind == Standing::Joint && segment.from_step == Some(step);
        match (
            life.segments.iter().any(goes),
            life.segments.iter().any(comes),
        ) {
            (true, false) => "off".to_owned(),
            (_, true) => "made".to_owned(),
            (false, false) => none,
        }
    }

    fn steps(&mut self) {
        let stairs = self.stairs;
        for tread in &stairs.steps {
            let line = step_line(tread, self.scale);
            self.push(&line);
        }
        for (line, life) in stairs.lines.iter().enumerate() {
            for drop in &life.drops {
                let number = |at: Option<Celsius>| {
                    at.map_or_else(|| "?".to_owned(), |at| self.scale.number(at))
                };
                let step = stairs.steps.get(drop.at_step).map_or(0, |step| step.number);
                let change = format!("{} to {}", number(drop.from), number(drop.to));
                let text = format!(
                    "{} changes in step {step} from {change}: {}",
                    letter(line),
                    plain(&drop.reason)
                );
                self.push(&text);
            }
        }
        for note in &stairs.notes {
            self.push(&plain(note));
        }
    }

    fn legend(&mut self) {
        let mut marks: Vec<Mark> = self.stairs.dots.iter().map(|dot| dot.mark).collect();
        marks.sort_unstable();
        marks.dedup();
        let words = marks
            .into_iter()
            .map(|mark| format!("{} {}", sign(mark, self.ascii), mark.word()));
        let words: Vec<String> = words.collect();
        let glyphs = self.glyphs();
        let lines = format!(
            "{0}{0} first melt  {1}{1} floor  {2}{2} residue  {3}{3} limit  {4}{4} peak",
            glyphs.line, glyphs.floor, glyphs.residue, glyphs.ceiling, glyphs.tread
        );
        if !words.is_empty() {
            self.push(&words.join("  "));
        }
        self.push(&lines);
    }
}

fn step_line(tread: &Tread, scale: Scale) -> String {
    let heat = match (tread.kind, tread.peak) {
        (TreadKind::NoHeat, _) | (_, None) => String::new(),
        (TreadKind::WholeBoard, Some(peak)) => {
            format!(", whole board at {}", scale.temperature(peak))
        }
        (TreadKind::Removal, Some(peak)) => format!(", off at {}", scale.temperature(peak)),
        (TreadKind::Heat, Some(peak)) => format!(", peak {}", scale.temperature(peak)),
    };
    let tool = plain(&tread.tool);
    let tool = if tool.is_empty() {
        tool
    } else {
        format!(", {tool}")
    };
    let done = if tread.done { " (done)" } else { "" };
    format!(
        "{:>3} {}{tool}{heat}: {}{done}",
        tread.number,
        plain(&tread.label),
        tread.mark.word()
    )
}

fn right(text: &str, columns: usize) -> String {
    format!("{}{text}", " ".repeat(columns.saturating_sub(text.width())))
}

fn left(text: &str, columns: usize) -> String {
    format!("{text}{}", " ".repeat(columns.saturating_sub(text.width())))
}

fn middle(text: &str, columns: usize) -> String {
    let before = (columns / 2).saturating_sub(text.width() / 2);
    left(&format!("{}{text}", " ".repeat(before)), columns)
}

fn cut(text: &str, columns: usize) -> String {
    let mut kept = String::new();
    let mut used = 0;
    for c in text.chars() {
        used += c.width().unwrap_or(0);
        if used > columns {
            break;
        }
        kept.push(c);
    }
    kept
}

/// What a terminal without Unicode can show; a question mark for the rest.
fn to_ascii(text: &str) -> String {
    let mut plain = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '°' => {}
            '−' | '–' => plain.push('-'),
            '→' => plain.push_str("->"),
            '≥' => plain.push_str(">="),
            '×' => plain.push('x'),
            'µ' => plain.push('u'),
            c if c.is_ascii() => plain.push(c),
            _ => plain.push('?'),
        }
    }
    plain
}
