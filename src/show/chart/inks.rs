//! The few colours, and the shape that each verdict has beside its colour.
//!
//! Every colour that letters are written in stands at least 7 to 1 against white paper.

use super::Mark;
use super::picture::{Ink, Picture, Point};

/// Letters and frames.
pub(super) const INK: Ink = Ink(0x22, 0x26, 0x2E);
/// Letters of less weight.
pub(super) const GREY: Ink = Ink(0x4C, 0x51, 0x5B);
/// Lines that only help the eye.
pub(super) const FAINT: Ink = Ink(0xE3, 0xE1, 0xDC);
/// Stems from a dot to its line.
pub(super) const STEM: Ink = Ink(0xC4, 0xC0, 0xB8);
/// Paper.
pub(super) const PAPER: Ink = Ink(0xFF, 0xFF, 0xFF);
/// Solder that stands: its line, and letters about it.
pub(super) const METAL: Ink = Ink(0x1D, 0x44, 0x6E);
/// The pasty band.
pub(super) const PASTE: Ink = Ink(0xC9, 0xD9, 0xEA);
/// Slanting lines over the pasty band.
pub(super) const PASTE_HATCH: Ink = Ink(0x8F, 0xAD, 0xCC);
/// The edge of a tread.
pub(super) const HEAT: Ink = Ink(0xB8, 0x6A, 0x12);
/// Letters about heat.
pub(super) const HEAT_TEXT: Ink = Ink(0x6E, 0x3C, 0x06);
/// The body of a tread.
pub(super) const GLOW: Ink = Ink(0xFB, 0xEE, 0xD8);
/// Hatching of a removal.
pub(super) const GLOW_HATCH: Ink = Ink(0xE6, 0xC0, 0x86);
/// Limits of things that are no joints.
pub(super) const LIMIT: Ink = Ink(0x5B, 0x33, 0x74);
/// The service band and letters about it.
pub(super) const SERVICE: Ink = Ink(0x1C, 0x54, 0x48);
/// The body of the service band.
pub(super) const SERVICE_PALE: Ink = Ink(0xDF, 0xEE, 0xE8);
/// What is wrong, and the tightest place.
pub(super) const ALARM: Ink = Ink(0x9A, 0x14, 0x14);
/// What is close.
pub(super) const WARN: Ink = Ink(0x7A, 0x45, 0x00);

/// The colour of a verdict's shape and word.
pub(super) const fn ink(mark: Mark) -> Ink {
    match mark {
        Mark::Holds => SERVICE,
        Mark::Close | Mark::Softens => WARN,
        Mark::Melts | Mark::DoesNotFlow | Mark::Limit | Mark::Refused => ALARM,
        Mark::Unknown => GREY,
    }
}

/// Draws the shape of a verdict: disc, diamond, half drop, cross, hollow bowl, barred square, struck
/// ring, question mark. Each is told from the others without colour.
pub(super) fn draw(picture: &mut Picture, mark: Mark, (x, y): Point, radius: f64) {
    let r = radius;
    let ink = ink(mark);
    match mark {
        Mark::Holds => {
            picture.disc((x, y), r + 1.2, PAPER);
            picture.disc((x, y), r, ink);
        }
        Mark::Close => {
            let diamond = |r: f64| vec![(x, y - r), (x + r, y), (x, y + r), (x - r, y)];
            picture.fill(diamond(r * 1.5 + 1.6), PAPER);
            picture.fill(diamond(r * 1.5), ink);
        }
        Mark::Softens => {
            picture.disc((x, y), r * 1.25 + 1.2, PAPER);
            picture.disc((x, y), r * 1.25, ink);
            picture.disc((x, y), r * 0.85, PAPER);
            let bowl = (0..=8).map(|step| {
                let turn = std::f64::consts::PI * f64::from(step) / 8.0;
                (x + r * turn.cos(), y + r * turn.sin())
            });
            picture.fill(bowl.collect(), ink);
        }
        Mark::Melts => {
            let r = r * 1.25;
            picture.disc((x, y), r * 1.5, PAPER);
            picture.line((x - r, y - r), (x + r, y + r), r * 0.62, ink);
            picture.line((x - r, y + r), (x + r, y - r), r * 0.62, ink);
        }
        Mark::DoesNotFlow => {
            let wedge = |r: f64| vec![(x - r, y - r * 0.8), (x + r, y - r * 0.8), (x, y + r)];
            picture.fill(wedge(r * 1.6), ink);
            picture.fill(wedge(r * 0.75), PAPER);
        }
        Mark::Limit => {
            let square = |r: f64| {
                vec![
                    (x - r, y - r),
                    (x + r, y - r),
                    (x + r, y + r),
                    (x - r, y + r),
                ]
            };
            picture.fill(square(r * 1.2 + 1.2), PAPER);
            picture.fill(square(r * 1.2), ink);
            picture.line((x - r * 0.75, y), (x + r * 0.75, y), r * 0.5, PAPER);
        }
        Mark::Refused => {
            picture.disc((x, y), r * 1.4, PAPER);
            picture.disc((x, y), r * 1.25, ink);
            picture.disc((x, y), r * 0.8, PAPER);
            picture.line(
                (x - r * 0.7, y + r * 0.7),
                (x + r * 0.7, y - r * 0.7),
                r * 0.45,
                ink,
            );
        }
        Mark::Unknown => question(picture, (x, y), r * 1.35, ink),
    }
}

fn question(picture: &mut Picture, (x, y): Point, r: f64, ink: Ink) {
    picture.disc((x, y), r * 1.25, PAPER);
    let mut hook: Vec<Point> = (0..=9)
        .map(|step| {
            let turn = std::f64::consts::PI * (1.0 + 1.5 * f64::from(step) / 9.0);
            (
                x + r * 0.55 * turn.cos(),
                y - r * 0.45 + r * 0.55 * turn.sin(),
            )
        })
        .collect();
    hook.push((x, y + r * 0.45));
    picture.stroke(hook, r * 0.34, ink);
    picture.disc((x, y + r * 0.9), r * 0.22, ink);
}

#[cfg(test)]
mod tests {
    use super::super::picture::Shape;
    use super::*;

    fn luminance(Ink(r, g, b): Ink) -> f64 {
        let linear = |byte: u8| {
            let share = f64::from(byte) / 255.0;
            if share <= 0.04045 {
                share / 12.92
            } else {
                ((share + 0.055) / 1.055).powf(2.4)
            }
        };
        0.2126 * linear(r) + 0.7152 * linear(g) + 0.0722 * linear(b)
    }

    /// Relative luminance and contrast as in the W3C's accessibility guidelines (WCAG 2.1).
    fn contrast(one: Ink, other: Ink) -> f64 {
        let (a, b) = (luminance(one) + 0.05, luminance(other) + 0.05);
        (a / b).max(b / a)
    }

    #[test]
    fn letters_stand_out_on_everything_they_are_written_on() {
        for letters in [INK, GREY, METAL, HEAT_TEXT, LIMIT, SERVICE, ALARM, WARN] {
            assert!(contrast(letters, PAPER) >= 7.0, "{letters:?}");
        }
        for (letters, ground) in [
            (HEAT_TEXT, GLOW),
            (SERVICE, SERVICE_PALE),
            (PAPER, ALARM),
            (METAL, GLOW),
        ] {
            assert!(
                contrast(letters, ground) >= 7.0,
                "{letters:?} on {ground:?}"
            );
        }
    }

    #[test]
    fn every_verdict_is_told_without_its_colour() {
        let all = [
            Mark::Holds,
            Mark::Close,
            Mark::Softens,
            Mark::Melts,
            Mark::DoesNotFlow,
            Mark::Limit,
            Mark::Refused,
            Mark::Unknown,
        ];
        let drawn = |mark: Mark| {
            let mut picture = Picture::new("");
            draw(&mut picture, mark, (10.0, 10.0), 4.0);
            // Every colour is the same ink; only paper stays paper.
            for shape in &mut picture.shapes {
                let (Shape::Stroke { ink, .. }
                | Shape::Fill { ink, .. }
                | Shape::Box { ink, .. }
                | Shape::Disc { ink, .. }) = shape;
                if *ink != PAPER {
                    *ink = INK;
                }
            }
            picture.shapes
        };
        for (at, mark) in all.iter().enumerate() {
            assert!(!drawn(*mark).is_empty());
            for other in &all[..at] {
                assert_ne!(drawn(*mark), drawn(*other), "{mark:?} and {other:?}");
                assert_ne!(mark.word(), other.word());
            }
        }
    }
}
