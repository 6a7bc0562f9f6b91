//! The mixtures between two metals that touch: every one of them exists somewhere.
//!
//! Where two solders bring bismuth, lead and tin together, most mixtures start to melt at the same ternary
//! eutectic, and that none of them starts earlier is known beforehand. Such a mixture is worked out only if it
//! could still be the lowest, so that a path of thirteen curves takes three or four of them.

use std::sync::Arc;

use rayon::prelude::*;

use super::blend;
use super::book::Melt;
use super::joint::{MeltBook, PATH_UNIT, highest, remembered};
use super::layer::History;
use crate::alloy::{Blend, Element};
use crate::quantity::{Celsius, Mass, Share};

/// Mass shares of the second metal that are looked at first: dense at both ends, where a trace of
/// one in the other does the most. Below 0.05 % a trace of liquid is all that it can make.
const PATH: [f64; 13] = [
    0.0005, 0.002, 0.006, 0.02, 0.06, 0.15, 0.35, 0.65, 0.85, 0.94, 0.98, 0.994, 0.998,
];
/// How often the neighbourhood of the lowest mixture is halved.
const REFINEMENTS: usize = 4;
/// The two ends of a path are told apart to 1 part in 10⁶, so that metals which differ by the rounding
/// of their masses share one: so little makes no more than a trace of liquid.
const END_UNIT: Mass = Mass::from_picograms(1_000_000);
/// Where no element differs by more (mass share), a mixture holds at most a trace of liquid more than
/// an end, and one mixture stands for all.
const ALIKE: f64 = 1e-4;

/// When all mixtures of two metals flow.
#[derive(Debug, Default)]
pub(super) struct PathFlows {
    /// Highest flow of any mixture; `None` where one is not known.
    pub(super) flow: Option<Celsius>,
    /// The same without u.
    pub(super) flow_point: Option<Celsius>,
}

/// A mixture on the way from one metal to the other.
struct Point {
    /// Mass share of the other.
    x: f64,
    /// It is known beforehand to survive as much.
    bound: Option<Celsius>,
    /// `None` as long as it need not be worked out.
    melt: Option<Arc<Melt>>,
}

/// The two ends of a path, in one order whichever lies below, in whole units.
type Ends = (Blend, Blend);

impl MeltBook {
    /// The mixture of two metals that survives least, whatever their masses.
    pub(super) fn lowest_between(&self, one: &Blend, other: &Blend) -> Arc<Melt> {
        let Some(ends) = ends(one, other) else {
            return Arc::new(Melt::unknown());
        };
        let found = remembered(&self.lowest, &ends, || {
            let points = self.mixtures(&ends, true);
            let lowest = lowest(&points).and_then(|i| points[i].melt.as_deref());
            // When it starts to melt is asked, how much of it is liquid is not.
            Arc::new(lowest.map_or_else(Melt::unknown, Melt::without_curve))
        });
        Arc::clone(&found)
    }

    /// When the last of all mixtures of two metals flows.
    pub(super) fn flows_between(&self, one: &Blend, other: &Blend) -> Arc<PathFlows> {
        let Some(ends) = ends(one, other) else {
            return Arc::default();
        };
        remembered(&self.flows, &ends, || {
            let points = self.mixtures(&ends, false);
            let melts = || points.iter().filter_map(|point| point.melt.as_ref());
            PathFlows {
                flow: highest(melts().map(|melt| melt.flow)),
                flow_point: highest(melts().map(|melt| melt.flow_point)),
            }
        })
    }

    /// Mixtures all along a path, closer where one survives least. If only the lowest is wanted, what cannot be
    /// it is not worked out.
    fn mixtures(&self, ends: &Ends, only_lowest: bool) -> Vec<Point> {
        let mixture = |x: f64| {
            let (one, other) = (Share::nearest(1.0 - x), Share::nearest(x));
            ends.0.part(one).with(&ends.1.part(other))
        };
        // Hardly ever asked again, and a curve takes 10 kB: not remembered.
        let melt = |x: f64| Arc::new(self.answer(&mixture(x), History::Frozen));
        let point = |x: f64| Point {
            x,
            bound: only_lowest.then(|| self.at_least(&mixture(x))).flatten(),
            melt: None,
        };
        let looked_at = if alike(&ends.0, &ends.1) {
            &[0.5][..]
        } else {
            &PATH
        };
        let mut points: Vec<Point> = looked_at.iter().map(|&x| point(x)).collect();
        (points.par_iter_mut())
            .filter(|point| point.bound.is_none())
            .for_each(|point| point.melt = Some(melt(point.x)));
        for i in 0..points.len() {
            if points[i].melt.is_none() && may_be_lowest(&points, &points[i]) {
                points[i].melt = Some(melt(points[i].x));
            }
        }
        for _ in 0..REFINEMENTS {
            let Some(middle) = lowest(&points) else {
                break;
            };
            let mut between = Vec::new();
            for side in neighbours(middle, points.len()) {
                let new = point(f64::midpoint(points[side].x, points[middle].x));
                if new.bound.is_some() && !may_be_lowest(&points, &new) {
                    between.push(new);
                    continue;
                }
                let at = points[side].x;
                let there = points[side].melt.get_or_insert_with(|| melt(at)).survival;
                // A flat stretch is an invariant: nothing lower lies between its points.
                if Some(there) != points[middle].melt.as_ref().map(|melt| melt.survival) {
                    between.push(Point { bound: None, ..new });
                }
            }
            (between.par_iter_mut())
                .filter(|point| point.bound.is_none())
                .for_each(|point| point.melt = Some(melt(point.x)));
            points.extend(between);
            points.sort_by(|a, b| a.x.total_cmp(&b.x));
        }
        points
    }

    fn at_least(&self, mixture: &Blend) -> Option<Celsius> {
        blend::at_least(self.table.as_ref(), &self.pins, &mixture.composition()?)
    }
}

/// Both metals in whole units.
fn ends(one: &Blend, other: &Blend) -> Option<Ends> {
    let unit = |blend: &Blend| {
        let rounded = Blend::of(&blend.composition()?, END_UNIT);
        Some(Blend::of(&rounded.composition()?, PATH_UNIT))
    };
    let (one, other) = (unit(one)?, unit(other)?);
    Some(if one <= other {
        (one, other)
    } else {
        (other, one)
    })
}

fn alike(one: &Blend, other: &Blend) -> bool {
    let share = |blend: &Blend, element| blend.mass_of(element).mg() / blend.total().mg();
    Element::all().all(|e| (share(one, e) - share(other, e)).abs() <= ALIKE)
}

/// The first of those that survive least, among what was worked out; unknown is less than anything known.
fn lowest(points: &[Point]) -> Option<usize> {
    let known = points.iter().enumerate();
    let known = known.filter_map(|(i, point)| Some((i, point.melt.as_ref()?.survival)));
    known.min_by_key(|(_, survival)| *survival).map(|(i, _)| i)
}

/// Whether a mixture of which a bound is known could survive less than the lowest so far, or as little and come
/// before it.
fn may_be_lowest(points: &[Point], new: &Point) -> bool {
    let Some(lowest) = lowest(points).map(|i| &points[i]) else {
        return true;
    };
    let least = lowest.melt.as_ref().and_then(|melt| melt.survival);
    new.bound < least || (new.bound == least && new.x < lowest.x)
}

fn neighbours(of: usize, count: usize) -> impl Iterator<Item = usize> {
    let before = of.checked_sub(1);
    let after = Some(of + 1).filter(|&after| after < count);
    before.into_iter().chain(after)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::alloy::AlloyBook;

    /// Looking at fewer mixtures finds the same lowest: of pairs of alloys drawn from the whole table.
    #[test]
    fn what_is_not_looked_at_is_never_the_lowest() {
        let book = AlloyBook::shipped();
        let melts = MeltBook::new(Arc::new(book.clone()), Vec::new());
        let known = |blend: &Blend| {
            use Element::{Ag, Bi, Cu, Pb, Sn};
            let others = |e: &Element| ![Ag, Bi, Cu, Pb, Sn].contains(e);
            !Element::all().any(|e| others(&e) && blend.mass_of(e) > Mass::default())
        };
        let blends: Vec<Blend> = (book.alloys().iter())
            .map(|alloy| Blend::of(&alloy.composition, PATH_UNIT))
            .filter(known)
            .collect();
        let mut dice = fastrand::Rng::with_seed(3);
        let (mut compared, mut spared) = (0, 0);
        while compared < 60 {
            let one = &blends[dice.usize(..blends.len())];
            let other = &blends[dice.usize(..blends.len())];
            let mixed = one.part(Share::nearest(0.5)).with(other);
            let has = |e| mixed.mass_of(e) > Mass::default();
            if ![Element::Bi, Element::Pb, Element::Sn].into_iter().all(has) {
                continue;
            }
            let ends = ends(one, &mixed).unwrap();
            let (few, all) = (melts.mixtures(&ends, true), melts.mixtures(&ends, false));
            let of = |points: &[Point]| points[lowest(points).unwrap()].melt.clone().unwrap();
            assert_eq!(of(&few), of(&all), "{ends:?}");
            compared += 1;
            spared += few.iter().filter(|point| point.melt.is_none()).count();
        }
        assert!(spared > 5 * compared, "{spared}");
    }
}
