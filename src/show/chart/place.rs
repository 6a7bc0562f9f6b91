//! Finding room: rectangles, and a placer that never lets two labels touch.

/// A rectangle in px, y downwards.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rect {
    /// px from the left edge of the picture.
    pub left: f64,
    /// px from its upper edge.
    pub top: f64,
    /// px from the left edge.
    pub right: f64,
    /// px from the upper edge.
    pub bottom: f64,
}

impl Rect {
    /// Whether the two share any area.
    pub fn overlaps(&self, other: &Rect) -> bool {
        self.left < other.right
            && other.left < self.right
            && self.top < other.bottom
            && other.top < self.bottom
    }

    /// Whether the other lies wholly inside.
    pub fn contains(&self, other: &Rect) -> bool {
        self.left <= other.left
            && self.top <= other.top
            && self.right >= other.right
            && self.bottom >= other.bottom
    }

    pub(super) fn around(center: (f64, f64), width: f64, height: f64) -> Self {
        Rect {
            left: center.0 - width / 2.0,
            right: center.0 + width / 2.0,
            top: center.1 - height / 2.0,
            bottom: center.1 + height / 2.0,
        }
    }

    pub(super) fn grown(self, by: f64) -> Self {
        Rect {
            left: self.left - by,
            top: self.top - by,
            right: self.right + by,
            bottom: self.bottom + by,
        }
    }

    pub(super) fn width(&self) -> f64 {
        self.right - self.left
    }

    pub(super) fn height(&self) -> f64 {
        self.bottom - self.top
    }

    pub(super) fn center(&self) -> (f64, f64) {
        (
            f64::midpoint(self.left, self.right),
            f64::midpoint(self.top, self.bottom),
        )
    }
}

/// Keeps what is taken. Labels never overlap labels; they may lie over drawing at a price.
pub(super) struct Placer {
    bounds: Rect,
    taken: Vec<Vec<Rect>>,
    drawn: Vec<Vec<(Rect, f64)>>,
}

/// Rectangles are kept in columns of so many px, so that a look-up touches few of them.
const COLUMN: f64 = 48.0;
/// The least distance between two labels, in px, beside and above each other.
const AIR: (f64, f64) = (5.0, 1.0);

impl Placer {
    pub(super) fn new(bounds: Rect) -> Self {
        let columns = column(bounds.width()) + 1;
        Placer {
            bounds,
            taken: vec![Vec::new(); columns],
            drawn: vec![Vec::new(); columns],
        }
    }

    fn columns(&self, rect: &Rect) -> std::ops::Range<usize> {
        let last = self.taken.len() - 1;
        let from = column(rect.left - self.bounds.left).min(last);
        from..column(rect.right - self.bounds.left).min(last) + 1
    }

    /// Marks room as used by a label, wherever it lies.
    pub(super) fn take(&mut self, rect: Rect) {
        for column in self.columns(&rect) {
            if let Some(taken) = self.taken.get_mut(column) {
                taken.push(rect);
            }
        }
    }

    /// Marks room as drawn upon: a label over all of it costs `price` px of distance.
    pub(super) fn draw(&mut self, rect: Rect, price: f64) {
        for column in self.columns(&rect) {
            if let Some(drawn) = self.drawn.get_mut(column) {
                drawn.push((rect, price));
            }
        }
    }

    pub(super) fn is_free(&self, rect: &Rect) -> bool {
        let wide = Rect {
            left: rect.left - AIR.0,
            right: rect.right + AIR.0,
            top: rect.top - AIR.1,
            bottom: rect.bottom + AIR.1,
        };
        self.bounds.contains(rect)
            && self
                .columns(&wide)
                .filter_map(|column| self.taken.get(column))
                .all(|taken| taken.iter().all(|other| !wide.overlaps(other)))
    }

    fn price(&self, rect: &Rect) -> f64 {
        let mut price = 0.0;
        for column in self.columns(rect) {
            for (other, full) in self.drawn.get(column).into_iter().flatten() {
                // A rectangle kept in several columns counts where its overlap begins.
                let first = column_of(rect.left.max(other.left), self.bounds.left);
                if rect.overlaps(other) && first == column {
                    price += full;
                }
            }
        }
        price
    }

    /// The free centre that costs least, of those offered with their own price, and takes it.
    pub(super) fn place(
        &mut self,
        (width, height): (f64, f64),
        offers: impl IntoIterator<Item = ((f64, f64), f64)>,
    ) -> Option<Rect> {
        let mut best: Option<(f64, Rect)> = None;
        for (center, own) in offers {
            let rect = Rect::around(center, width, height);
            if best.as_ref().is_some_and(|(least, _)| own >= *least) || !self.is_free(&rect) {
                continue;
            }
            let price = own + self.price(&rect);
            if best.as_ref().is_none_or(|(least, _)| price < *least) {
                best = Some((price, rect));
            }
        }
        let (_, rect) = best?;
        self.take(rect);
        Some(rect)
    }
}

fn column_of(x: f64, left: f64) -> usize {
    column(x - left)
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a negative place belongs to the first column"
)]
fn column(x: f64) -> usize {
    (x.max(0.0) / COLUMN) as usize
}

/// Moves labels of a margin apart: the wanted middles (ascending or not) and heights in, the places
/// out, in the same order, none overlapping, as near as may be, and inside of `from..to` as long as they fit.
pub(super) fn spread(wanted: &[(f64, f64)], (from, to): (f64, f64)) -> Vec<f64> {
    let mut order: Vec<usize> = (0..wanted.len()).collect();
    order.sort_by(|a, b| key(wanted, *a).total_cmp(&key(wanted, *b)).then(a.cmp(b)));
    // Blocks of labels that touch: each as near to the mean wish of its members as the edges allow.
    let mut blocks: Vec<Block> = Vec::new();
    for index in order {
        let (middle, height) = wanted.get(index).copied().unwrap_or((from, 0.0));
        let mut block = Block {
            members: vec![(index, height)],
            height,
            wish: middle - height / 2.0,
            top: 0.0,
        };
        block.settle(from, to);
        while let Some(above) = blocks.pop_if(|above| above.top + above.height > block.top) {
            block = above.joined(block);
            block.settle(from, to);
        }
        blocks.push(block);
    }
    let mut places = vec![from; wanted.len()];
    for block in blocks {
        let mut top = block.top;
        for (index, height) in block.members {
            if let Some(place) = places.get_mut(index) {
                *place = top + height / 2.0;
            }
            top += height;
        }
    }
    places
}

fn key(wanted: &[(f64, f64)], index: usize) -> f64 {
    wanted.get(index).map_or(0.0, |(middle, _)| *middle)
}

struct Block {
    members: Vec<(usize, f64)>,
    height: f64,
    wish: f64,
    top: f64,
}

impl Block {
    fn settle(&mut self, from: f64, to: f64) {
        self.top = self.wish.min(to - self.height).max(from);
    }

    fn joined(self, below: Block) -> Block {
        let (mine, its) = (self.members.len() as f64, below.members.len() as f64);
        let wish = (self.wish * mine + (below.wish - self.height) * its) / (mine + its);
        let mut members = self.members;
        members.extend(below.members);
        Block {
            members,
            height: self.height + below.height,
            wish,
            top: 0.0,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const SHEET: Rect = Rect {
        left: 0.0,
        top: 0.0,
        right: 200.0,
        bottom: 100.0,
    };

    #[test]
    fn a_taken_place_is_not_given_twice() {
        let mut placer = Placer::new(SHEET);
        let offers = [((50.0, 50.0), 0.0), ((100.0, 50.0), 5.0)];
        let first = placer.place((40.0, 10.0), offers);
        let second = placer.place((40.0, 10.0), offers);
        assert_eq!(first.map(|rect| rect.center()), Some((50.0, 50.0)));
        assert_eq!(second.map(|rect| rect.center()), Some((100.0, 50.0)));
        assert_eq!(placer.place((40.0, 10.0), offers), None);
    }

    #[test]
    fn drawing_is_avoided_at_its_price() {
        let mut placer = Placer::new(SHEET);
        placer.draw(Rect::around((50.0, 50.0), 120.0, 4.0), 20.0);
        let offers = [((50.0, 50.0), 0.0), ((50.0, 70.0), 12.0)];
        let got = placer.place((90.0, 10.0), offers);
        assert_eq!(got.map(|rect| rect.center()), Some((50.0, 70.0)));
    }

    #[test]
    fn nothing_leaves_the_bounds() {
        let mut placer = Placer::new(SHEET);
        assert_eq!(placer.place((40.0, 10.0), [((10.0, 50.0), 0.0)]), None);
    }

    #[test]
    fn spread_labels_keep_their_order_and_do_not_touch() {
        let wanted = [
            (50.0, 12.0),
            (52.0, 12.0),
            (51.0, 12.0),
            (95.0, 12.0),
            (2.0, 12.0),
        ];
        let places = spread(&wanted, (0.0, 100.0));
        let mut sorted: Vec<f64> = places.clone();
        sorted.sort_by(f64::total_cmp);
        assert!(
            sorted.windows(2).all(|two| two[1] - two[0] >= 12.0 - 1e-9),
            "{places:?}"
        );
        assert!(places[0] < places[2] && places[2] < places[1], "{places:?}");
        assert!(
            sorted[0] >= 6.0 - 1e-9 && sorted[4] <= 94.0 + 1e-9,
            "{places:?}"
        );
        assert!((places[2] - 51.0).abs() < 0.5, "{places:?}");
    }
}
