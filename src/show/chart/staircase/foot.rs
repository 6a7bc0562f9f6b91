//! Under the field: what each step is, what the shapes mean, and the small print.

use super::super::inks::{self, GREY, HEAT_TEXT, INK, METAL, PAPER};
use super::super::lettering::{fit, plain, width, wrap};
use super::super::picture::{Anchor, Label};
use super::super::{Mark, Scale};
use super::frame::Size;
use super::scene::{NORMAL, SMALL, Scene};
use super::{Staircase, Tread, TreadKind};

/// Draws the foot and returns where it ends.
pub(super) fn draw(scene: &mut Scene<'_>) -> f64 {
    let top = scene.frame.floor();
    let steps: &[Tread] = &scene.stairs.steps;
    let mut bottom = top;
    for (step, tread) in steps.iter().enumerate() {
        bottom = bottom.max(caption(scene, step, tread, top));
    }
    if scene.size == Size::Small {
        return bottom + 8.0;
    }
    let below = legend(scene, bottom + 20.0);
    notes(scene, below)
}

/// Number, verdict, words and tool of one step, under its column; returns where they end.
fn caption(scene: &mut Scene<'_>, step: usize, tread: &Tread, top: f64) -> f64 {
    let room = scene.frame.column - 6.0;
    let middle = scene.frame.middle(step);
    let mut y = top + 17.0;
    let number = tread.number.to_string();
    let badge = (width(&number, NORMAL, true) / 2.0 + 5.0)
        .max(9.5)
        .min(scene.frame.column / 2.0 - 1.0);
    if room > 16.0 {
        scene.picture.disc((middle, y), badge, INK);
        let ink = if tread.done { INK } else { PAPER };
        if tread.done {
            scene.picture.disc((middle, y), badge - 1.6, PAPER);
        }
        let label = Label::new(number, (middle, y), NORMAL, ink)
            .anchored(Anchor::Middle)
            .bold();
        scene.picture.label(label);
    } else if width(&number, SMALL, true) <= scene.frame.column - 2.0 {
        let ink = if tread.done { GREY } else { INK };
        let label = Label::new(number, (middle, y), SMALL, ink).anchored(Anchor::Middle);
        scene.picture.label(Label {
            bold: !tread.done,
            ..label
        });
    }
    if room < 40.0 || scene.size == Size::Small {
        return y + 12.0;
    }
    y += badge + 9.5;
    if tread.mark != Mark::Holds {
        y = verdict(scene, tread.mark, (middle, y), room);
    }
    // A long name breaks after an underscore: cut, `strip` and `strip_again` may look alike.
    let id = plain(&tread.id).replace('_', "_ ");
    for line in wrap(&id, SMALL, true, room, 3) {
        let line = line.replace("_ ", "_");
        let label = Label::new(line, (middle, y), SMALL, INK).anchored(Anchor::Middle);
        scene.picture.label(label.bold());
        y += 13.0;
    }
    for line in wrap(&plain(&tread.label), SMALL, false, room, 3) {
        scene
            .picture
            .label(Label::new(line, (middle, y), SMALL, INK).anchored(Anchor::Middle));
        y += 13.0;
    }
    let mut tool = plain(&tread.tool);
    if tread.done {
        tool = if tool.is_empty() {
            "done".to_owned()
        } else {
            format!("{tool}, done")
        };
    }
    if !tool.is_empty() {
        let tool = fit(&tool, SMALL, false, room);
        scene
            .picture
            .label(Label::new(tool, (middle, y), SMALL, HEAT_TEXT).anchored(Anchor::Middle));
        y += 13.0;
    }
    y - 7.0
}

/// A shape and a word for what does not simply hold.
fn verdict(scene: &mut Scene<'_>, mark: Mark, (middle, y): (f64, f64), room: f64) -> f64 {
    let lines = wrap(mark.word(), SMALL, true, room - 13.0, 2);
    let wide = lines
        .iter()
        .map(|line| width(line, SMALL, true))
        .fold(0.0, f64::max);
    let left = middle - f64::midpoint(wide, 13.0);
    inks::draw(&mut scene.picture, mark, (left + 4.0, y), 4.0);
    let mut y = y;
    for line in lines {
        scene
            .picture
            .label(Label::new(line, (left + 13.0, y), SMALL, inks::ink(mark)).bold());
        y += 13.0;
    }
    y + 1.0
}

/// The shapes that this very picture uses, each with its word.
fn legend(scene: &mut Scene<'_>, top: f64) -> f64 {
    let mut marks: Vec<Mark> = scene.stairs.dots.iter().map(|dot| dot.mark).collect();
    marks.extend(
        scene
            .stairs
            .steps
            .iter()
            .map(|step| step.mark)
            .filter(|mark| *mark != Mark::Holds),
    );
    marks.sort_unstable();
    marks.dedup();
    let right = scene.frame.width - 16.0;
    let (mut x, mut y) = (scene.frame.plot.left, top);
    for mark in marks {
        let wide = 13.0 + width(mark.word(), SMALL, false);
        if x + wide > right {
            (x, y) = (scene.frame.plot.left, y + 17.0);
        }
        inks::draw(&mut scene.picture, mark, (x + 4.0, y), 3.6);
        scene
            .picture
            .label(Label::new(mark.word(), (x + 13.0, y), SMALL, INK));
        x += wide + 18.0;
    }
    for (text, ink) in explanations(scene.stairs, scene.scale) {
        let wide = width(&text, SMALL, false);
        if x + wide > right {
            (x, y) = (scene.frame.plot.left, y + 17.0);
        }
        let text = fit(&text, SMALL, false, right - x);
        scene.picture.label(Label::new(text, (x, y), SMALL, ink));
        x += wide + 18.0;
    }
    y + 20.0
}

fn explanations(stairs: &Staircase, scale: Scale) -> Vec<(String, super::super::picture::Ink)> {
    let flows = stairs.steps.iter().any(|step| step.must_reach.is_some());
    let tread = if flows {
        "tread: process peak; dashes in it: here the target flows"
    } else {
        "tread: process peak"
    };
    let mut words = vec![
        (
            "line: first melt of a joint, pale band up to where it flows".to_owned(),
            METAL,
        ),
        (tread.to_owned(), HEAT_TEXT),
    ];
    let cold = |step: &Tread| step.kind == TreadKind::NoHeat;
    if stairs.steps.iter().any(cold) {
        words.push(("bar at the bottom: no heat".to_owned(), INK));
    }
    if !stairs.dots.is_empty() {
        let unit = if scale == Scale::Celsius {
            "kelvins"
        } else {
            "°F"
        };
        words.push((
            format!("dot: what a joint really sees; number: {unit} left up to its line"),
            INK,
        ));
    }
    words
}

fn notes(scene: &mut Scene<'_>, top: f64) -> f64 {
    let mut notes: Vec<String> = scene.stairs.notes.iter().map(|note| plain(note)).collect();
    if scene.unprinted > 0 {
        notes.push(format!(
            "{} of the wider margins are not printed for want of room",
            scene.unprinted
        ));
    }
    let left = scene.frame.plot.left;
    let room = scene.frame.width - left - 16.0;
    let mut y = top;
    for note in notes {
        for line in wrap(&note, SMALL, false, room, 2) {
            scene
                .picture
                .label(Label::new(line, (left, y), SMALL, GREY));
            y += 14.0;
        }
    }
    y
}
