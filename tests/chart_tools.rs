//! What the tests of all pictures share: geometry of labels, and pixels of a PNG.

use meltstair::show::chart::{Picture, Rect};

/// No label over another, none outside of the sheet.
pub fn assert_labels_apart(picture: &Picture, what: &str) {
    let (right, bottom) = picture.size();
    let sheet = Rect {
        left: 0.0,
        top: 0.0,
        right,
        bottom,
    };
    let texts = picture.texts();
    for (index, one) in texts.iter().enumerate() {
        assert!(
            sheet.contains(&one.rect),
            "{what}: `{}` leaves the sheet: {:?}",
            one.text,
            one.rect
        );
        for other in &texts[index + 1..] {
            assert!(
                !one.rect.overlaps(&other.rect),
                "{what}: `{}` {:?} over `{}` {:?}",
                one.text,
                one.rect,
                other.text,
                other.rect
            );
        }
    }
}

/// Whether a label says exactly this.
pub fn has(picture: &Picture, text: &str) -> bool {
    picture.texts().iter().any(|placed| placed.text == text)
}

/// How many labels have this in them.
pub fn count(picture: &Picture, part: &str) -> usize {
    picture
        .texts()
        .iter()
        .filter(|placed| placed.text.contains(part))
        .count()
}

/// A PNG, decoded.
pub struct Pixels {
    /// Pixels across.
    pub width: usize,
    /// Pixels a metre, as the file says.
    pub density: Option<png::PixelDimensions>,
    /// Titles in the file.
    pub titles: Vec<String>,
    rgb: Vec<[u8; 3]>,
}

/// Reads a PNG.
pub fn decoded(bytes: &[u8]) -> Pixels {
    let mut decoder = png::Decoder::new(std::io::Cursor::new(bytes));
    decoder.set_transformations(png::Transformations::EXPAND);
    let mut reader = decoder.read_info().expect("a PNG");
    let mut buffer = vec![0; reader.output_buffer_size().expect("a size")];
    let frame = reader.next_frame(&mut buffer).expect("pixels");
    let info = reader.info();
    let texts = info.utf8_text.iter();
    Pixels {
        width: frame.width as usize,
        density: info.pixel_dims,
        titles: texts.map(|chunk| chunk.get_text().expect("text")).collect(),
        rgb: buffer[..frame.buffer_size()].as_chunks::<3>().0.to_vec(),
    }
}

impl Pixels {
    /// Pixels in a rectangle (in px, two pixels each) that differ strongly from the paper.
    fn dark(&self, rect: Rect) -> usize {
        let within = |at: usize, from: f64, to: f64| {
            let at = at as f64 / 2.0;
            at >= from && at < to
        };
        let rows = self.rgb.chunks_exact(self.width).enumerate();
        rows.filter(|(y, _)| within(*y, rect.top, rect.bottom))
            .flat_map(|(_, row)| row.iter().enumerate())
            .filter(|(x, _)| within(*x, rect.left, rect.right))
            .filter(|(_, color)| color.iter().map(|byte| u32::from(*byte)).sum::<u32>() < 450)
            .count()
    }

    /// Dark pixels where each label is, but for those that are written in white.
    pub fn assert_letters(&self, picture: &Picture, white: &[&str]) {
        for placed in picture.texts() {
            let dark = self.dark(placed.rect) as f64;
            // The thinnest letters cover about one pixel in six of their box of two by two pixels a px.
            let wanted = (placed.rect.right - placed.rect.left) * 0.6;
            let written = white.contains(&placed.text.as_str()) || dark > wanted;
            assert!(
                written,
                "`{}` has {dark} dark pixels, not {wanted}",
                placed.text
            );
        }
    }
}
