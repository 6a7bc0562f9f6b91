//! From a picture to bytes: one function draws it on either backend.

use std::fmt::Write as _;

use plotters::backend::{BitMapBackend, DrawingBackend, RGBPixel, SVGBackend};
use plotters::style::{Color as _, RGBAColor, RGBColor, ShapeStyle};
use plotters_backend::{BackendCoord, DrawingErrorKind};

use super::indexed::{Indexed, indexed};
use super::lettering::Lettering;
use super::picture::{Ink, Label, Picture, Point, Shape};
use super::place::Rect;

/// Why a picture did not become bytes.
#[derive(Debug, thiserror::Error)]
pub enum NotDrawn {
    /// The picture has more pixels than one can look at.
    #[error("the picture would be {width} × {height} px, more than can be drawn")]
    TooLarge {
        /// px across
        width: u32,
        /// px down
        height: u32,
    },
    /// A backend gave up.
    #[error("the picture could not be drawn: {0}")]
    Backend(String),
    /// The encoder gave up.
    #[error("the picture could not be written as PNG: {0}")]
    Png(#[from] png::EncodingError),
}

/// Both backends count in whole numbers: so many of them make one px in a vector picture,
const VECTOR: f64 = 4.0;
/// and in one of pixels.
const PIXELS: f64 = 2.0;

/// Units of a picture: 300 MB as pixels.
const MOST_PIXELS: u64 = 100_000_000;

impl Picture {
    /// The picture as a standing SVG document, which can also be put into an HTML page as it is: it takes
    /// the width that it is given, and carries its title and a description in words.
    ///
    /// # Errors
    /// [`NotDrawn`] if it is too large.
    pub fn svg(&self) -> Result<String, NotDrawn> {
        let (width, height) = self.units(VECTOR)?;
        let mut text = String::new();
        let mut backend = SVGBackend::with_string(&mut text, (width, height));
        draw(self, VECTOR, &mut backend)?;
        backend
            .present()
            .map_err(|error| NotDrawn::Backend(error.to_string()))?;
        drop(backend);
        Ok(dressed(&text, self, width, height))
    }

    /// The picture as PNG at two pixels a px (192 to the inch), with that density and its title inside.
    ///
    /// # Errors
    /// [`NotDrawn`] if it is too large, or cannot be encoded.
    pub fn png(&self) -> Result<Vec<u8>, NotDrawn> {
        let (width, height) = self.units(PIXELS)?;
        let length = u64::from(width) * u64::from(height) * 3;
        let length = usize::try_from(length).map_err(|_| NotDrawn::TooLarge { width, height })?;
        let mut pixels = vec![255; length];
        let mut backend: BitMapBackend<RGBPixel> =
            BitMapBackend::with_buffer_and_format(&mut pixels, (width, height))
                .map_err(|error| NotDrawn::Backend(error.to_string()))?;
        draw(self, PIXELS, &mut backend)?;
        drop(backend);
        encoded(&pixels, width, height, &self.title)
    }

    /// Width and height in backend units, so many of them a px.
    fn units(&self, unit: f64) -> Result<(u32, u32), NotDrawn> {
        let (width, height) = (units(self.width * unit), units(self.height * unit));
        if u64::from(width) * u64::from(height) > MOST_PIXELS {
            return Err(NotDrawn::TooLarge { width, height });
        }
        Ok((width, height))
    }
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "clamped to the range first"
)]
fn units(length: f64) -> u32 {
    length.ceil().clamp(1.0, 1e6) as u32
}

fn color(Ink(red, green, blue): Ink, alpha: f64) -> RGBAColor {
    RGBColor(red, green, blue).mix(alpha)
}

fn draw<B: DrawingBackend>(picture: &Picture, unit: f64, backend: &mut B) -> Result<(), NotDrawn> {
    let all = Rect {
        left: 0.0,
        top: 0.0,
        right: picture.width,
        bottom: picture.height,
    };
    let paper = Shape::Box {
        rect: all,
        ink: Ink(255, 255, 255),
        alpha: 1.0,
    };
    let drawn = std::iter::once(&paper)
        .chain(&picture.shapes)
        .try_for_each(|shape| draw_shape(unit, shape, backend))
        .and_then(|()| {
            picture
                .labels
                .iter()
                .try_for_each(|label| draw_label(unit, label, backend))
        });
    drawn.map_err(|error| NotDrawn::Backend(error.to_string()))
}

type Drawn<B> = Result<(), DrawingErrorKind<<B as DrawingBackend>::ErrorType>>;

fn draw_shape<B: DrawingBackend>(unit: f64, shape: &Shape, backend: &mut B) -> Drawn<B> {
    match shape {
        Shape::Stroke { points, width, ink } => {
            let mut path: Vec<BackendCoord> =
                points.iter().map(|point| coord(unit, *point)).collect();
            path.dedup();
            // The backend wants two different points at least.
            if path.len() < 2 {
                return Ok(());
            }
            let style = ShapeStyle {
                color: color(*ink, 1.0),
                filled: false,
                stroke_width: unsigned(unit * *width),
            };
            backend.draw_path(path, &style)
        }
        Shape::Fill { points, ink } => backend.fill_polygon(
            points.iter().map(|point| coord(unit, *point)),
            &color(*ink, 1.0),
        ),
        Shape::Box { rect, ink, alpha } => draw_box(unit, rect, *ink, *alpha, backend),
        Shape::Disc {
            center,
            radius,
            ink,
        } => backend.draw_circle(
            coord(unit, *center),
            unsigned(unit * *radius),
            &color(*ink, 1.0),
            true,
        ),
    }
}

fn draw_box<B: DrawingBackend>(
    unit: f64,
    rect: &Rect,
    ink: Ink,
    alpha: f64,
    backend: &mut B,
) -> Drawn<B> {
    let (from, to) = (
        coord(unit, (rect.left, rect.top)),
        coord(unit, (rect.right, rect.bottom)),
    );
    if from.0 >= to.0 || from.1 >= to.1 {
        return Ok(());
    }
    backend.draw_rect(from, to, &color(ink, alpha), true)
}

fn draw_label<B: DrawingBackend>(unit: f64, label: &Label, backend: &mut B) -> Drawn<B> {
    if let Some(ground) = label.ground {
        draw_box(
            unit,
            &label.rect().grown(1.0),
            ground.ink,
            ground.alpha,
            backend,
        )?;
    }
    let style = Lettering {
        size: label.size * unit,
        bold: label.bold,
        anchor: label.anchor,
        color: color(label.ink, 1.0).to_backend_color(),
    };
    backend.draw_text(&label.text, &style, coord(unit, label.at))
}

fn coord(unit: f64, (x, y): Point) -> BackendCoord {
    (whole(x * unit), whole(y * unit))
}

#[expect(
    clippy::cast_possible_truncation,
    reason = "clamped to the range first"
)]
fn whole(value: f64) -> i32 {
    value.round().clamp(-1e6, 1e6) as i32
}

fn unsigned(width: f64) -> u32 {
    u32::try_from(whole(width)).unwrap_or(0).max(1)
}

/// The document with a head that fits any page, and each text on one line with its tag.
fn dressed(text: &str, picture: &Picture, width: u32, height: u32) -> String {
    let body = text
        .split_once('>')
        .map_or("", |(_, body)| body.trim_start());
    let (across, down) = match picture.paper_mm {
        Some((width, height)) => (format!("{width}mm"), format!("{height}mm")),
        None => (
            format!("{}", picture.width.ceil()),
            format!("{}", picture.height.ceil()),
        ),
    };
    let mut dressed = String::with_capacity(text.len() + 1024);
    // Writing to a String cannot fail.
    let _ = writeln!(
        dressed,
        "<svg xmlns=\"http://www.w3.org/2000/svg\" role=\"img\" viewBox=\"0 0 {width} {height}\" \
         width=\"{across}\" height=\"{down}\" style=\"max-width:100%;height:auto\">\n\
         <title>{}</title>\n<desc>{}</desc>",
        escaped(&picture.title),
        escaped(&picture.description)
    );
    for line in body.lines() {
        dressed.push_str(line);
        // A text stands on a line of its own between its tags: pull the three together.
        let opens = line.starts_with("<text");
        let closes_next = !line.starts_with('<');
        if !opens && !closes_next {
            dressed.push('\n');
        }
    }
    dressed
}

fn escaped(text: &str) -> String {
    let mut safe = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '<' => safe.push_str("&lt;"),
            '>' => safe.push_str("&gt;"),
            '&' => safe.push_str("&amp;"),
            '"' => safe.push_str("&quot;"),
            '\'' => safe.push_str("&#39;"),
            other => safe.push(other),
        }
    }
    safe
}

/// Pixels a metre at 192 to the inch.
const DENSITY: u32 = 7559;

fn encoded(rgb: &[u8], width: u32, height: u32, title: &str) -> Result<Vec<u8>, NotDrawn> {
    let mut bytes = Vec::new();
    let mut encoder = png::Encoder::new(&mut bytes, width, height);
    let Indexed { palette, pixels } = indexed(rgb);
    encoder.set_color(png::ColorType::Indexed);
    encoder.set_palette(palette);
    encoder.set_depth(png::BitDepth::Eight);
    // Long runs of one number: no filter helps, and a light compression does nearly all of the work.
    encoder.set_filter(png::Filter::NoFilter);
    encoder.set_deflate_compression(png::DeflateCompression::Level(2));
    encoder.set_pixel_dims(Some(png::PixelDimensions {
        xppu: DENSITY,
        yppu: DENSITY,
        unit: png::Unit::Meter,
    }));
    encoder.add_itxt_chunk("Title".to_owned(), title.to_owned())?;
    encoder.add_text_chunk("Software".to_owned(), "meltstair".to_owned())?;
    let mut writer = encoder.write_header()?;
    writer.write_image_data(&pixels)?;
    writer.finish()?;
    Ok(bytes)
}
