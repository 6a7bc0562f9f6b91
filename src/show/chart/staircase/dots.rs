//! Dots, the stems up to their lines, the kelvins left, and the call-out of the tightest place.

use super::super::inks::{self, ALARM, INK, PAPER, STEM};
use super::super::lettering::{fit, plain, width};
use super::super::picture::{Anchor, Ink, Label, Point};
use super::super::place::Rect;
use super::super::{Mark, Scale};
use super::frame::Size;
use super::scene::{NORMAL, SMALL, Scene};
use super::{Dot, Over, Staircase, lines, treads};
use crate::quantity::{Celsius, KelvinStep};

/// Dots of one step that are alike, at their place.
struct Spot<'a> {
    dot: &'a Dot,
    count: usize,
    line: Option<Celsius>,
    at: Point,
    /// The least margin of its step.
    tightest_of_step: bool,
    /// The least margin of the job.
    weakest: bool,
    /// Whether the way to its line is drawn; in a crowd only where it matters.
    shows_stem: bool,
}

impl Spot<'_> {
    /// Whether the way to the line is short enough to look at.
    fn is_near(&self) -> bool {
        self.dot.margin.is_some_and(|margin| margin < NEAR)
    }

    fn melts_above(&self, y: impl Fn(Celsius) -> f64) -> Option<f64> {
        self.line.map(y)
    }
}

const RADIUS: f64 = 3.6;
/// With more dots than these in a step, the stems of those that are safe are left out.
const CROWD: f64 = 5.0;
/// Margins from here on need no second look.
const NEAR: KelvinStep = KelvinStep::whole(40);

pub(super) fn draw(scene: &mut Scene<'_>) {
    let spots = spots(scene);
    for spot in &spots {
        stem(scene, spot);
    }
    // What is wrong lies over what holds.
    let mut upwards: Vec<&Spot<'_>> = spots.iter().collect();
    upwards.sort_by_key(|spot| spot.dot.mark);
    for spot in upwards {
        spread(scene, spot);
        inks::draw(&mut scene.picture, spot.dot.mark, spot.at, RADIUS);
        scene.placer.draw(Rect::around(spot.at, 9.0, 9.0), 14.0);
    }
    callout(scene, &spots);
    treads::peaks(scene);
    lines::labels(scene);
    if scene.size == Size::Whole {
        margins(scene, &spots);
    }
    scene.service_label();
}

fn spots<'a>(scene: &Scene<'a>) -> Vec<Spot<'a>> {
    let stairs = scene.stairs;
    let mut spots = Vec::new();
    for step in 0..stairs.steps.len() {
        spots.extend(spots_of_step(scene, step));
    }
    spots
}

fn spots_of_step<'a>(scene: &Scene<'a>, step: usize) -> Vec<Spot<'a>> {
    let stairs = scene.stairs;
    let mut spots: Vec<Spot<'a>> = Vec::new();
    for dot in stairs.dots.iter().filter(|dot| dot.step == step) {
        let line = stairs.line_at(step, dot.over);
        let weakest = stairs
            .tightest
            .is_some_and(|it| it.step == step && it.over == dot.over);
        let kind = |over: Over| matches!(over, Over::Ceiling(_));
        let twin = spots.iter_mut().find(|spot| {
            (
                spot.line,
                spot.dot.at,
                spot.dot.band,
                spot.dot.margin,
                spot.dot.mark,
            ) == (line, dot.at, dot.band, dot.margin, dot.mark)
                && kind(spot.dot.over) == kind(dot.over)
        });
        match twin {
            Some(twin) => {
                twin.count += 1;
                if weakest {
                    (twin.dot, twin.weakest) = (dot, true);
                }
            }
            None => spots.push(Spot {
                dot,
                count: 1,
                line,
                at: (0.0, 0.0),
                tightest_of_step: false,
                weakest,
                shows_stem: true,
            }),
        }
    }
    spots.sort_by_key(|spot| (std::cmp::Reverse(spot.dot.at), spot.line, spot.dot.over));
    let lanes = spots.len() as f64;
    let room = scene.frame.column - 22.0;
    let pitch = (room / (lanes - 1.0).max(1.0)).min(15.0);
    let least = spots.iter().filter_map(|spot| spot.dot.margin).min();
    for (lane, spot) in spots.iter_mut().enumerate() {
        let x = scene.frame.middle(step) + (lane as f64 - (lanes - 1.0) / 2.0) * pitch;
        spot.at = (x, scene.frame.y(spot.dot.at));
        spot.shows_stem = (lanes <= CROWD && scene.size == Size::Whole)
            || spot.dot.mark != Mark::Holds
            || spot.dot.margin.is_some_and(|margin| margin < NEAR);
        spot.tightest_of_step = spot.dot.margin.is_some() && spot.dot.margin == least;
    }
    spots
}

/// The way from the dot to its line; the tightest of each step like a dimension on a drawing.
fn stem(scene: &mut Scene<'_>, spot: &Spot<'_>) {
    let Some(line) = spot.melts_above(|at| scene.frame.y(at)) else {
        return;
    };
    let (x, y) = spot.at;
    if spot.tightest_of_step && spot.is_near() && !spot.weakest {
        scene.picture.line((x, y), (x, line), 1.75, INK);
        scene
            .picture
            .line((x - 4.0, line), (x + 4.0, line), 1.75, INK);
    } else if spot.shows_stem {
        scene.picture.line((x, y), (x, line), 1.0, STEM);
    } else {
        return;
    }
    let stem = Rect {
        left: x - 0.5,
        right: x + 0.5,
        top: y.min(line),
        bottom: y.max(line),
    };
    scene.placer.draw(stem, 3.0);
}

/// Between what an estimated temperature may lie: a band, never a sharp line.
fn spread(scene: &mut Scene<'_>, spot: &Spot<'_>) {
    let Some((low, high)) = spot.dot.band else {
        return;
    };
    let (x, _) = spot.at;
    let (top, bottom) = (scene.frame.y(high), scene.frame.y(low));
    let band = Rect {
        left: x - 3.5,
        right: x + 3.5,
        top,
        bottom,
    };
    scene.picture.tint(band, inks::ink(spot.dot.mark), 0.28);
    scene.picture.line(
        (x - 5.0, top),
        (x + 5.0, top),
        1.0,
        inks::ink(spot.dot.mark),
    );
    scene.picture.line(
        (x - 5.0, bottom),
        (x + 5.0, bottom),
        1.0,
        inks::ink(spot.dot.mark),
    );
}

/// The numbers, the most worrying first so that they get the best places.
fn margins(scene: &mut Scene<'_>, spots: &[Spot<'_>]) {
    let mut order: Vec<&Spot<'_>> = spots.iter().filter(|spot| !spot.weakest).collect();
    order.sort_by_key(|spot| {
        let calm = spot.dot.mark == Mark::Holds;
        (calm, !spot.tightest_of_step, spot.dot.margin, spot.dot.step)
    });
    for spot in order {
        let Some(short) = caption(spot, scene.scale) else {
            continue;
        };
        let bold = spot.tightest_of_step || spot.dot.mark != Mark::Holds;
        let long = named(scene.stairs, spot, &short);
        let placed = long.into_iter().chain([short]).find_map(|text| {
            let size = (width(&text, SMALL, bold), SMALL);
            let offers = around(scene, spot, size.0);
            Some((scene.placer.place(size, offers)?, text))
        });
        match placed {
            Some((rect, text)) => {
                leader(scene, spot.at, rect);
                let ink = if spot.dot.mark == Mark::Holds {
                    INK
                } else {
                    inks::ink(spot.dot.mark)
                };
                scene.write(&text, rect, SMALL, bold, ink);
            }
            None => scene.unprinted += 1,
        }
    }
}

/// The caption with the name before it, where a reader would ask which line is meant: what is wrong, and
/// the tightest of a step.
fn named(stairs: &Staircase, spot: &Spot<'_>, caption: &str) -> Option<String> {
    let name = plain(stairs.name(spot.dot.over));
    let pressing = spot.dot.mark != Mark::Holds || spot.is_near();
    let asked = spot.dot.mark != Mark::Holds || spot.tightest_of_step;
    // Half a name says little: where nothing presses it is the whole one or none.
    let room = if pressing { 110.0 } else { 52.0 };
    let fits = pressing || width(&name, SMALL, true) <= room;
    (asked && fits && spot.count == 1)
        .then(|| format!("{} {caption}", fit(&name, SMALL, true, room)))
}

/// What stands beside a dot: a bare number where all is well, a word where it is not.
fn caption(spot: &Spot<'_>, scale: Scale) -> Option<String> {
    let number = spot.dot.margin.map(|margin| scale.margin(margin));
    let text = match (spot.dot.mark, number) {
        (Mark::Holds, Some(number)) if spot.tightest_of_step => {
            format!("{number} {}", scale.step_unit())
        }
        (Mark::Holds, number) => number?,
        (mark, Some(number)) => format!("{} {number}", mark.word()),
        (mark, None) => mark.word().to_owned(),
    };
    Some(if spot.count > 1 {
        format!("{text} ×{}", spot.count)
    } else {
        text
    })
}

/// Places for a label of a width, near its dot first.
fn around(scene: &Scene<'_>, spot: &Spot<'_>, wide: f64) -> Vec<(Point, f64)> {
    let (x, y) = spot.at;
    let side = RADIUS + 3.0 + wide / 2.0;
    let above = RADIUS + 3.0 + SMALL / 2.0;
    let mut offers = vec![
        ((x + side, y), 0.0),
        ((x - side, y), 1.0),
        ((x, y + above), 2.0),
        ((x, y - above), 3.0),
        ((x + side, y + 8.0), 3.0),
        ((x - side, y + 8.0), 4.0),
        ((x + side, y - 8.0), 3.5),
        ((x - side, y - 8.0), 4.5),
    ];
    for ring in 2_u8..34 {
        let away = f64::from(ring) * 6.5;
        for (across, extra) in [
            (0.0, 0.0),
            (wide / 2.0 + 5.0, 1.0),
            (-wide / 2.0 - 5.0, 1.5),
            (wide + 8.0, 6.0),
            (-wide - 8.0, 6.5),
        ] {
            offers.push(((x + across, y + away), 4.0 + away * 0.5 + extra));
            offers.push(((x + across, y - away), 4.5 + away * 0.5 + extra));
        }
    }
    // A number is read in its own column.
    let (left, right) = (
        scene.frame.left(spot.dot.step),
        scene.frame.left(spot.dot.step + 1),
    );
    for (center, price) in &mut offers {
        if center.0 - wide / 2.0 < left || center.0 + wide / 2.0 > right {
            *price += 16.0;
        }
    }
    offers
}

/// A hair line from the dot to a label that had to move away.
fn leader(scene: &mut Scene<'_>, (x, y): Point, rect: Rect) {
    let near = (
        x.clamp(rect.left, rect.right),
        y.clamp(rect.top, rect.bottom),
    );
    if (near.0 - x).hypot(near.1 - y) > 12.0 {
        scene.picture.line((x, y), near, 0.75, INK);
    }
}

/// The tightest place: a heavy bracket between dot and line, a frame around both, a plate with words.
fn callout(scene: &mut Scene<'_>, spots: &[Spot<'_>]) {
    let Some(spot) = spots.iter().find(|spot| spot.weakest) else {
        return;
    };
    let (x, y) = spot.at;
    let line = spot.melts_above(|at| scene.frame.y(at)).unwrap_or(y);
    let frame = Rect {
        left: x - 12.0,
        right: x + 12.0,
        top: y.min(line) - 12.0,
        bottom: y.max(line) + 12.0,
    };
    outline(scene, frame, 6.0, PAPER);
    let ink = callout_ink(spot.dot.mark);
    outline(scene, frame, 3.0, ink);
    bracket(scene, spot.at, line, ink);
    inks::draw(&mut scene.picture, spot.dot.mark, spot.at, RADIUS + 0.6);
    scene.placer.take(frame);

    let [head, place] = callout_words(scene.stairs, spot, scene.scale);
    let (call, words, tall) = match scene.size {
        Size::Whole => (14.0, NORMAL, 42.0),
        Size::Small => (NORMAL, SMALL, 35.0),
    };
    let wide = width(&head, call, true).max(width(&place, words, false)) + 16.0;
    let offers = callout_offers(frame, wide, tall);
    let Some(rect) = scene.placer.place((wide, tall), offers) else {
        return;
    };
    join(scene, frame, rect, ink);
    scene.plate(rect, ink);
    let (middle, center) = rect.center();
    let lines = [
        (head, call, true, -tall * 0.19),
        (place, words, false, tall * 0.225),
    ];
    for (text, size, bold, down) in lines {
        let label = Label::new(text, (middle, center + down), size, PAPER).anchored(Anchor::Middle);
        scene.picture.label(Label { bold, ..label });
    }
}

fn outline(
    scene: &mut Scene<'_>,
    Rect {
        left,
        right,
        top,
        bottom,
    }: Rect,
    width: f64,
    ink: Ink,
) {
    let over = width / 2.0;
    for y in [top, bottom] {
        scene
            .picture
            .line((left - over, y), (right + over, y), width, ink);
    }
    for x in [left, right] {
        scene.picture.line((x, top), (x, bottom), width, ink);
    }
}

/// Red is for what fails: the tightest place of a plan that holds is no alarm.
fn callout_ink(mark: Mark) -> Ink {
    match mark {
        Mark::Holds | Mark::Close => INK,
        _ => ALARM,
    }
}

fn bracket(scene: &mut Scene<'_>, (x, y): Point, line: f64, ink: Ink) {
    scene.picture.line((x, y), (x, line), 3.0, ink);
    scene
        .picture
        .line((x - 6.0, line), (x + 6.0, line), 3.0, ink);
}

fn callout_words(stairs: &Staircase, spot: &Spot<'_>, scale: Scale) -> [String; 2] {
    let head = callout_head(spot.dot.margin, spot.dot.mark, scale);
    let name = fit(&plain(stairs.name(spot.dot.over)), NORMAL, false, 150.0);
    let number = stairs
        .steps
        .get(spot.dot.step)
        .map_or(0, |step| step.number);
    [head, format!("{name}, step {number}")]
}

/// The sentence of the tightest place.
pub(super) fn callout_head(margin: Option<KelvinStep>, mark: Mark, scale: Scale) -> String {
    let unit = scale.step_unit();
    match margin {
        None => format!("tightest: {}", mark.word()),
        Some(margin) if margin < KelvinStep::ZERO => {
            let over = scale.margin(margin);
            format!(
                "{} {unit} too hot: {}",
                over.trim_start_matches('−'),
                mark.word()
            )
        }
        Some(margin) => format!("tightest: {} {unit} left", scale.margin(margin)),
    }
}

fn callout_offers(frame: Rect, wide: f64, tall: f64) -> Vec<(Point, f64)> {
    let (x, y) = frame.center();
    let mut offers = Vec::new();
    for ring in 0_u8..24 {
        let away = 16.0 + f64::from(ring) * 12.0;
        let price = f64::from(ring) * 9.0;
        let (across, down) = (
            frame.width() / 2.0 + away + wide / 2.0,
            frame.height() / 2.0 + away + tall / 2.0,
        );
        for slide in [0.0, 0.5, -0.5, 1.0, -1.0] {
            let extra = f64::abs(slide) * 2.0;
            offers.push(((x + across, y + slide * down), price + extra));
            offers.push(((x - across, y + slide * down), price + extra + 1.0));
            offers.push(((x + slide * across, y - down), price + extra + 2.0));
            offers.push(((x + slide * across, y + down), price + extra + 2.0));
        }
    }
    offers
}

/// A strong line from the frame to its plate.
fn join(scene: &mut Scene<'_>, frame: Rect, plate: Rect, ink: Ink) {
    let (cx, cy) = plate.center();
    let from = (
        cx.clamp(frame.left, frame.right),
        cy.clamp(frame.top, frame.bottom),
    );
    let to = (
        from.0.clamp(plate.left, plate.right),
        from.1.clamp(plate.top, plate.bottom),
    );
    scene.picture.line(from, to, 3.0, ink);
}
