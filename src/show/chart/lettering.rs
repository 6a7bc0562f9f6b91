//! Letters: how wide a text is, how it is cut, and how it is drawn without any font on the machine.

use std::convert::Infallible;
use std::fmt::Write as _;
use std::sync::LazyLock;

use ab_glyph::{Font as _, FontRef, ScaleFont as _, point};
use plotters_backend::text_anchor::{HPos, Pos, VPos};
use plotters_backend::{BackendColor, BackendCoord, BackendTextStyle, FontFamily, FontStyle};

use super::picture::Anchor;

static REGULAR: LazyLock<Option<FontRef<'static>>> = LazyLock::new(|| {
    FontRef::try_from_slice(include_bytes!("../fonts/DejaVuSans-subset.ttf")).ok()
});
static BOLD: LazyLock<Option<FontRef<'static>>> = LazyLock::new(|| {
    FontRef::try_from_slice(include_bytes!("../fonts/DejaVuSans-Bold-subset.ttf")).ok()
});

/// Half the height of a small letter, as a share of the font size: the middle line of a text.
pub(super) const HALF_X_HEIGHT: f64 = 0.273;

/// Viewers without DejaVu Sans take a narrower letter, so a label never grows by it.
const FAMILY: &str = "DejaVu Sans, Verdana, Helvetica, Arial, sans-serif";

/// Whether our font has a picture of every letter.
pub(super) fn can_draw(text: &str) -> bool {
    let text = plain(text);
    face(false).is_none_or(|face| text.chars().all(|c| c == ' ' || face.glyph_id(c).0 != 0))
}

fn face(bold: bool) -> Option<&'static FontRef<'static>> {
    if bold {
        BOLD.as_ref()
    } else {
        REGULAR.as_ref()
    }
}

/// The width of a text in px at a font size in px.
pub(super) fn width(text: &str, size: f64, bold: bool) -> f64 {
    let Some(face) = face(bold) else {
        return 0.7 * size * text.chars().count() as f64;
    };
    let em = f64::from(face.units_per_em().unwrap_or(2048.0));
    let units: f64 = text
        .chars()
        .map(|c| f64::from(face.h_advance_unscaled(face.glyph_id(c))))
        .sum();
    units * size / em
}

/// A text of anybody's, made harmless to show on one line: control characters, marks that turn the
/// direction of reading, and invisible ones are written out as `<U+202E>`; a line break or a tab
/// becomes a blank, and a pile of combining accents is cut at two.
pub fn plain(text: &str) -> String {
    let mut shown = String::with_capacity(text.len());
    let mut accents = 0;
    for c in text.chars() {
        accents = if is_accent(c) { accents + 1 } else { 0 };
        if matches!(c, '\n' | '\r' | '\t') {
            shown.push(' ');
        } else if is_hidden(c) || accents > 2 {
            // Writing to a String cannot fail.
            let _ = write!(shown, "<U+{:04X}>", u32::from(c));
        } else {
            shown.push(c);
        }
    }
    shown
}

fn is_accent(c: char) -> bool {
    matches!(c, '\u{300}'..='\u{36F}' | '\u{1AB0}'..='\u{1AFF}' | '\u{1DC0}'..='\u{1DFF}' | '\u{20D0}'..='\u{20FF}')
}

/// Characters that have no picture of their own, or change how their neighbours are shown.
fn is_hidden(c: char) -> bool {
    c.is_control()
        || matches!(c,
            '\u{AD}' | '\u{34F}' | '\u{61C}' | '\u{115F}' | '\u{1160}' | '\u{17B4}' | '\u{17B5}'
            | '\u{180B}'..='\u{180F}' | '\u{200B}'..='\u{200F}' | '\u{2028}'..='\u{202E}'
            | '\u{2060}'..='\u{206F}' | '\u{3164}' | '\u{FE00}'..='\u{FE0F}' | '\u{FEFF}'
            | '\u{FFA0}' | '\u{FFF0}'..='\u{FFFC}' | '\u{FFFE}' | '\u{FFFF}'
            | '\u{1D173}'..='\u{1D17A}' | '\u{E0000}'..='\u{E0FFF}')
        // The last two places of every plane are no characters at all and break XML readers.
        || u32::from(c) & 0xFFFE == 0xFFFE
}

/// The text, cut with an ellipsis to fit a width in px.
pub(super) fn fit(text: &str, size: f64, bold: bool, room: f64) -> String {
    if width(text, size, bold) <= room {
        return text.to_owned();
    }
    let mut cut = String::new();
    let mut used = width("…", size, bold);
    for c in text.chars() {
        used += width(c.encode_utf8(&mut [0; 4]), size, bold);
        if used > room {
            break;
        }
        cut.push(c);
    }
    format!("{}…", cut.trim_end())
}

/// The text on at most `lines` lines of a width in px, broken between words, the last one cut.
pub(super) fn wrap(text: &str, size: f64, bold: bool, room: f64, lines: usize) -> Vec<String> {
    let mut wrapped: Vec<String> = Vec::new();
    let mut line = String::new();
    let mut words = text.split_whitespace().peekable();
    while let Some(word) = words.peek() {
        let longer = if line.is_empty() {
            (*word).to_owned()
        } else {
            format!("{line} {word}")
        };
        if width(&longer, size, bold) <= room {
            line = longer;
            words.next();
        } else if wrapped.len() + 1 >= lines {
            let rest = words
                .by_ref()
                .fold(line, |all, word| format!("{all} {word}"));
            line = fit(rest.trim_start(), size, bold, room);
        } else if line.is_empty() {
            wrapped.push(fit(word, size, bold, room));
            words.next();
        } else {
            wrapped.push(std::mem::take(&mut line));
        }
    }
    if !line.is_empty() {
        wrapped.push(line);
    }
    wrapped
}

/// One text as the backends want it: the vector one writes it down, the pixel one calls `draw`.
pub(super) struct Lettering {
    /// In units of the backend.
    pub size: f64,
    pub bold: bool,
    pub anchor: Anchor,
    pub color: BackendColor,
}

impl BackendTextStyle for Lettering {
    type FontError = Infallible;

    fn color(&self) -> BackendColor {
        self.color
    }

    fn size(&self) -> f64 {
        // The vector backend divides by 1.24 again.
        self.size * 1.24
    }

    fn style(&self) -> FontStyle {
        if self.bold {
            FontStyle::Bold
        } else {
            FontStyle::Normal
        }
    }

    fn anchor(&self) -> Pos {
        let across = match self.anchor {
            Anchor::Start => HPos::Left,
            Anchor::Middle => HPos::Center,
            Anchor::End => HPos::Right,
        };
        Pos::new(across, VPos::Center)
    }

    fn family(&self) -> FontFamily<'_> {
        FontFamily::Name(FAMILY)
    }

    /// An empty box around the anchor, so that `draw` alone decides where the letters go.
    fn layout_box(&self, _text: &str) -> Result<((i32, i32), (i32, i32)), Infallible> {
        Ok(((0, 0), (0, 0)))
    }

    fn draw<E, DrawFunc: FnMut(i32, i32, BackendColor) -> Result<(), E>>(
        &self,
        text: &str,
        _pos: BackendCoord,
        mut draw: DrawFunc,
    ) -> Result<Result<(), E>, Infallible> {
        let Some(face) = face(self.bold) else {
            return Ok(Ok(()));
        };
        let size = self.size;
        let full = width(text, size, self.bold);
        let mut x = match self.anchor {
            Anchor::Start => 0.0,
            Anchor::Middle => -full / 2.0,
            Anchor::End => -full,
        };
        let baseline = HALF_X_HEIGHT * size;
        let scaled = face.as_scaled(pixel_scale(face, size));
        for c in text.chars() {
            let mut glyph = scaled.scaled_glyph(c);
            glyph.position = point(single(x), single(baseline));
            x += f64::from(scaled.h_advance(glyph.id));
            if let Some(outline) = face.outline_glyph(glyph) {
                let corner = outline.px_bounds().min;
                let mut result = Ok(());
                outline.draw(|dx, dy, cover| {
                    if result.is_ok() && cover > 0.0 {
                        let at = (whole(corner.x) + small(dx), whole(corner.y) + small(dy));
                        result = draw(at.0, at.1, self.color.mix(f64::from(cover.min(1.0))));
                    }
                });
                if result.is_err() {
                    return Ok(result);
                }
            }
        }
        Ok(Ok(()))
    }
}

/// The scale at which one em is `size` px: the library counts from ascent to descent.
fn pixel_scale(face: &FontRef<'static>, size: f64) -> f32 {
    let em = face.units_per_em().unwrap_or(2048.0);
    single(size) * face.height_unscaled() / em
}

#[expect(clippy::cast_possible_truncation, reason = "pixels of one picture")]
const fn single(value: f64) -> f32 {
    value as f32
}

#[expect(clippy::cast_possible_truncation, reason = "pixels of one picture")]
const fn whole(value: f32) -> i32 {
    value as i32
}

fn small(value: u32) -> i32 {
    i32::try_from(value).unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn both_faces_can_be_read() {
        assert!(face(false).is_some() && face(true).is_some());
    }

    #[test]
    fn a_wide_letter_is_wider_than_a_narrow_one() {
        assert!(width("M", 10.0, false) > 2.0 * width("i", 10.0, false));
        // 0.636 em is the width of every figure of the face.
        assert!((width("183", 10.0, false) - 19.08).abs() < 0.05);
    }

    #[test]
    fn every_character_that_the_program_itself_writes_has_a_picture() {
        for bold in [false, true] {
            for c in "°±−→≤≥Δ≈…×·–µ₁²".chars() {
                let known = face(bold).map(|face| face.glyph_id(c).0 != 0);
                assert_eq!(known, Some(true), "{c}");
            }
        }
    }

    #[test]
    fn marks_that_turn_or_hide_text_are_written_out() {
        assert_eq!(
            plain("a\u{202E}b\u{0}\u{200B}\nc"),
            "a<U+202E>b<U+0000><U+200B> c"
        );
        assert_eq!(plain("e\u{301}\u{301}\u{301}"), "e\u{301}\u{301}<U+0301>");
        assert_eq!(plain("Lötstelle 5 <b>"), "Lötstelle 5 <b>");
        assert_eq!(plain("\u{1FFFE}"), "<U+1FFFE>");
    }

    #[test]
    fn cut_text_fits_and_shows_that_it_was_cut() {
        let cut = fit("pump driver pads", 11.0, false, 60.0);
        assert!(
            cut.ends_with('…') && width(&cut, 11.0, false) <= 60.0,
            "{cut}"
        );
        assert_eq!(fit("rim", 11.0, false, 60.0), "rim");
    }

    #[test]
    fn wrapped_text_loses_no_word_unless_it_must() {
        let lines = wrap("set the chip on its pads", 11.0, false, 60.0, 9);
        assert_eq!(lines.join(" "), "set the chip on its pads");
        assert!(lines.iter().all(|line| width(line, 11.0, false) <= 60.0));
        let lines = wrap("set the chip on its pads", 11.0, false, 60.0, 2);
        assert_eq!(lines.len(), 2);
        assert!(lines[1].ends_with('…'), "{lines:?}");
        let lines = wrap(
            "Donaudampfschifffahrtsgesellschaft a b",
            11.0,
            false,
            60.0,
            3,
        );
        assert!(lines.len() <= 3 && lines[0].ends_with('…'), "{lines:?}");
    }
}
