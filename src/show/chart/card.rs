//! The card for the wall as a picture: letters that are read from three metres.

use crate::quantity::Celsius;

use super::inks::{ALARM, GREY, INK, STEM};
use super::lettering::fit;
use super::picture::{Anchor, Label, Picture};
use super::{Paper, Scale};

/// Pixels in a millimetre, at 96 to the inch.
const PX: f64 = 96.0 / 25.4;
/// Capitals of 10 mm are read from three metres (a minute of arc is 0.9 mm there, a letter has five; twice that for
/// bad light: our judgement).
const ROW: f64 = 40.0;
const HEAD: f64 = 34.0;
const MARGIN: f64 = 34.0;
const PITCH: f64 = 60.0;

/// A line of the card: what it is, and from where it melts.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CardRow {
    /// By the name that it has at a bench.
    pub what: String,
    /// Where the first of it is liquid.
    pub from: Celsius,
}

/// What hangs at the wall.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Card {
    /// Everyday alloys, highest first.
    pub alloys: Vec<CardRow>,
    /// Metals that must not meet.
    pub meetings: Vec<CardRow>,
}

impl Card {
    /// On a sheet of A4.
    pub fn picture(&self, scale: Scale) -> Picture {
        let mut picture = Picture::new("What solders melt at");
        let (wide, tall) = Paper::A4.mm();
        (picture.width, picture.height) = (wide * PX, tall * PX);
        picture.paper_mm = Some((wide, tall));
        picture.description = self.description(scale);
        let unit = scale.unit();
        let mut y = MARGIN + 18.0;
        head(&mut picture, &format!("Solder melts from, {unit}"), y);
        y += PITCH;
        for row in &self.alloys {
            line(&mut picture, row, y, scale, false);
            y += PITCH;
        }
        y += 4.0;
        head(&mut picture, "Where they meet, it melts from", y);
        y += PITCH;
        for row in &self.meetings {
            line(&mut picture, row, y, scale, true);
            y += PITCH;
        }
        let last = Label::new("Not listed is not safe.", (MARGIN, y), HEAD, INK);
        picture.label(last.bold());
        picture
    }

    fn description(&self, scale: Scale) -> String {
        let told = |rows: &[CardRow]| {
            let rows = rows.iter();
            let rows = rows.map(|row| format!("{} {}", row.what, scale.number(row.from)));
            rows.collect::<Vec<_>>().join(", ")
        };
        format!(
            "{}. Where they meet: {}",
            told(&self.alloys),
            told(&self.meetings)
        )
    }
}

fn head(picture: &mut Picture, text: &str, y: f64) {
    picture.label(Label::new(text, (MARGIN, y), HEAD, GREY));
}

fn line(picture: &mut Picture, row: &CardRow, y: f64, scale: Scale, warns: bool) {
    let ink = if warns { ALARM } else { INK };
    let right = picture.width - MARGIN;
    let room = right - MARGIN - 110.0;
    let what = fit(&row.what, ROW, warns, room);
    let label = Label::new(what, (MARGIN, y), ROW, ink);
    picture.label(if warns { label.bold() } else { label });
    let from = Label::new(scale.number(row.from), (right, y), ROW, ink).anchored(Anchor::End);
    picture.label(from.bold());
    let below = y + PITCH / 2.0;
    picture.line((MARGIN, below), (right, below), 1.0, STEM);
}
