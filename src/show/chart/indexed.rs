//! Fewer bytes for the same picture: at most 256 colours, each pixel the number of its colour.
//!
//! A picture is made of a score of colours and of the blends at the edges of letters. Colours that are
//! alike to five bits a channel become the most common of them; what is left over beyond 256
//! becomes the nearest of those kept.

/// A picture in numbered colours.
pub(super) struct Indexed {
    /// Red, green, blue of each colour.
    pub palette: Vec<u8>,
    /// A byte a pixel.
    pub pixels: Vec<u8>,
}

/// Cells of like colours, five bits a channel.
const CELLS: usize = 1 << 15;

#[derive(Clone, Copy, Default)]
struct Cell {
    pixels: u32,
    /// The candidate of a majority vote, and its lead.
    color: [u8; 3],
    lead: u32,
}

fn cell(color: [u8; 3]) -> usize {
    color
        .iter()
        .fold(0, |cell, channel| cell << 5 | usize::from(channel >> 3))
}

/// Red, green, blue of each pixel in; anything behind the last whole pixel is left out.
pub(super) fn indexed(rgb: &[u8]) -> Indexed {
    let (colors, _) = rgb.as_chunks::<3>();
    let mut cells = vec![Cell::default(); CELLS];
    for color in colors {
        if let Some(cell) = cells.get_mut(cell(*color)) {
            vote(cell, *color);
        }
    }
    let mut used: Vec<usize> = (0..CELLS).filter(|at| pixels(&cells, *at) > 0).collect();
    used.sort_by_key(|at| (std::cmp::Reverse(pixels(&cells, *at)), *at));
    let kept: Vec<[u8; 3]> = used
        .iter()
        .take(256)
        .filter_map(|at| cells.get(*at))
        .map(|cell| cell.color)
        .collect();
    let mut numbers = vec![0_u8; CELLS];
    for (rank, at) in used.into_iter().enumerate() {
        let number = u8::try_from(rank)
            .unwrap_or_else(|_| cells.get(at).map_or(0, |cell| nearest(&kept, cell.color)));
        if let Some(slot) = numbers.get_mut(at) {
            *slot = number;
        }
    }
    Indexed {
        palette: kept.concat(),
        pixels: colors
            .iter()
            .map(|color| numbers.get(cell(*color)).copied().unwrap_or(0))
            .collect(),
    }
}

/// The majority vote of Boyer and Moore: one candidate and its lead.
fn vote(cell: &mut Cell, color: [u8; 3]) {
    cell.pixels = cell.pixels.saturating_add(1);
    if cell.lead == 0 {
        cell.color = color;
        cell.lead = 1;
    } else if cell.color == color {
        cell.lead = cell.lead.saturating_add(1);
    } else {
        cell.lead -= 1;
    }
}

fn pixels(cells: &[Cell], at: usize) -> u32 {
    cells.get(at).map_or(0, |cell| cell.pixels)
}

fn nearest(kept: &[[u8; 3]], color: [u8; 3]) -> u8 {
    let far = |other: &[u8; 3]| -> u32 {
        other
            .iter()
            .zip(color)
            .map(|(a, b)| u32::from(a.abs_diff(b)).pow(2))
            .sum()
    };
    let number = (0_u8..=u8::MAX)
        .zip(kept)
        .min_by_key(|(_, other)| far(other));
    number.map_or(0, |(number, _)| number)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn back(picture: &Indexed) -> Vec<[u8; 3]> {
        let color = |number: &u8| {
            let at = usize::from(*number) * 3;
            [
                picture.palette[at],
                picture.palette[at + 1],
                picture.palette[at + 2],
            ]
        };
        picture.pixels.iter().map(color).collect()
    }

    #[test]
    fn a_few_colours_stay_exactly_what_they_are() {
        let colors = [
            [255, 255, 255],
            [154, 20, 20],
            [251, 238, 216],
            [255, 255, 255],
        ];
        assert_eq!(back(&indexed(&colors.concat())), colors);
    }

    #[test]
    fn the_common_one_of_like_colours_wins() {
        let colors = [
            [250, 250, 250],
            [255, 255, 255],
            [255, 255, 255],
            [255, 255, 255],
        ];
        assert!(
            back(&indexed(&colors.concat()))
                .iter()
                .all(|color| *color == [255, 255, 255])
        );
    }

    #[test]
    fn more_than_256_colours_become_near_ones() {
        let colors: Vec<[u8; 3]> = (0..=255)
            .flat_map(|r| [[r, 0, 0], [r, 128, 0], [0, r, 200]])
            .collect();
        let colors: Vec<[u8; 3]> = colors
            .iter()
            .copied()
            .chain((0..=255).map(|g| [64, g, 96]))
            .collect();
        let picture = indexed(&colors.concat());
        assert!(picture.palette.len() <= 768);
        for (before, after) in colors.iter().zip(back(&picture)) {
            let off = before.iter().zip(after).map(|(a, b)| a.abs_diff(b)).max();
            assert!(off <= Some(16), "{before:?} became {after:?}");
        }
    }
}
