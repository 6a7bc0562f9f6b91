//! What is known of a blend that the phase data do not settle: lower bounds of its first melt, each with its
//! own uncertainty, and what is taken off where only some of its elements are known together.

use super::blend::{Data, Source};
use super::book::{Doubt, Readings, SetFloor, TableEntry};
use super::layer::History;
use super::trust;
use crate::alloy::{Composition, Element};
use crate::quantity::{Celsius, KelvinStep};

/// A published floor may be off by so much (spread of the invariants in print).
pub(super) const U_FLOOR: KelvinStep = KelvinStep::whole(2);
/// One element more lowers what a set melts at by no more than this, K. The most in print among solders is
/// 35 K (cadmium in tin and bismuth: 138 to 103), which a test looks for in `alloys/invariants.yaml`; our
/// judgement beyond that.
const ONE_ELEMENT_MORE: KelvinStep = KelvinStep::whole(40);
/// The distance is one of solders: what melts higher than tin may be lowered by anything (gold by silicon: 700 K).
const SOLDERS_UP_TO: Celsius = Celsius::whole(240);

/// Lower bounds of a first melt.
#[derive(Debug, Default)]
pub(super) struct Bounds {
    /// Each with what is to be taken off.
    all: Vec<(Celsius, KelvinStep)>,
    /// What must be told of them.
    pub(super) doubts: Vec<Doubt>,
    /// What was taken off, and what is left: only the most is told.
    distance: Option<(Celsius, Doubt)>,
    /// Taken off a part too, where a curve of all was given up.
    given_up: KelvinStep,
    /// Whether what is known is known of all elements together.
    pub(super) whole: bool,
}

impl Bounds {
    /// The lowest of all, and what is left of it when everybody's own u is taken off.
    pub(super) fn lowest(&self) -> Option<(Celsius, Celsius)> {
        let first = self.all.iter().map(|bound| bound.0).min()?;
        let survival = self.all.iter().map(|bound| bound.0 - bound.1).min()?;
        Some((first, survival))
    }

    fn add(&mut self, at: Celsius, u: KelvinStep) {
        self.all.push((at, u));
    }

    /// A bound of some of the elements, less what the others may do.
    fn add_part(&mut self, known: Celsius, u: KelvinStep, left_out: Vec<Element>) {
        // At least one element is not known together with the others, or the whole set would be.
        let off = ONE_ELEMENT_MORE.scaled(left_out.len().max(1) as f64) + self.given_up;
        let at = known - off;
        self.add(at, u);
        if self.distance.as_ref().is_none_or(|told| at < told.0) {
            let doubt = Doubt::Distance {
                known,
                left_out,
                off,
            };
            self.distance = Some((at, doubt));
        }
    }
}

/// Everything known of when a blend without trusted data starts to melt.
pub(super) fn bounds(
    table: &dyn Readings,
    composition: &Composition,
    set: &[Element],
    entry: Option<&TableEntry>,
    source: Source,
    history: History,
) -> Bounds {
    let mut bounds = Bounds::default();
    let printed = entry.map(|entry| entry.solidus);
    if let Some(printed) = printed {
        bounds.add(printed, trust::B.0);
    } else if let Some(nearly) = table.nearly(composition) {
        bounds.add(nearly, trust::B.0);
    }
    let floor = table.floor(composition, set);
    bounds.whole = floor.as_ref().is_some_and(|floor| floor.whole.is_some());
    match source {
        Source::Curve(data) => by_data(&mut bounds, data, floor.as_ref(), history),
        // A curve that was given up could have said no less than that.
        Source::Nothing(Some(u)) => {
            if let Some(whole) = floor.as_ref().and_then(|floor| floor.whole) {
                bounds.add(whole, u);
            }
            bounds.given_up = u;
        }
        Source::Nothing(None) => {}
    }
    if let Some(floor) = floor {
        by_floor(&mut bounds, &floor, set, source.curve());
        let others = bounds.lowest().map(|lowest| lowest.0);
        if printed.is_some() && others == Some(floor.temperature) && printed > others {
            bounds.doubts.push(Doubt::FloorCounts {
                floor: floor.temperature,
                of: floor.of,
            });
        }
    }
    let told = bounds.distance.take().map(|(_, doubt)| doubt);
    bounds.doubts.extend(told);
    bounds
}

/// Phase data of class C, or of some of the elements only.
fn by_data(bounds: &mut Bounds, data: &Data, floor: Option<&SetFloor>, history: History) {
    let own = data.first_melt(history);
    let u = data.trust.u_first_melt;
    if data.left_out.is_empty() {
        // Nothing made of these elements melts below their own lowest eutectic, where that is published.
        let lowest = floor.and_then(|floor| floor.whole);
        bounds.add(lowest.map_or(own, |lowest| own.max(lowest)), u);
        bounds.doubts.push(Doubt::WeakBound {
            bound: own,
            share: data.first_share(history),
            u,
        });
    } else if !bounds.whole && own <= SOLDERS_UP_TO {
        bounds.add_part(own, u, data.left_out.clone());
    }
}

fn by_floor(bounds: &mut Bounds, floor: &SetFloor, set: &[Element], data: Option<&Data>) {
    let covered = data.is_some_and(|data| data.left_out.is_empty());
    if floor.whole.is_some() || covered {
        bounds.add(floor.temperature, U_FLOOR);
        return;
    }
    if floor.temperature > SOLDERS_UP_TO {
        return;
    }
    let has_data =
        |e: &Element| data.is_some_and(|data| set.contains(e) && !data.left_out.contains(e));
    let left_out: Vec<Element> = (set.iter().copied())
        .filter(|e| !floor.of.contains(e) && !has_data(e))
        .collect();
    bounds.add_part(floor.temperature, U_FLOOR, left_out);
}
