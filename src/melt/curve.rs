//! Liquid share of one blend against temperature.

use std::sync::Arc;

use super::data::DataFault;
use super::layer::History;
use super::path::Path;
use super::phase::{N, Vector};
use super::reaction::Reaction;
use super::solver::{Solver, Stuck};
use super::system::{NoSystem, System};
use super::walk::Walker;
use crate::alloy::{Composition, Element};
use crate::quantity::{Celsius, Share};

/// Liquid share against temperature for one composition, in equilibrium and as it really froze.
#[derive(Clone, Debug, PartialEq)]
pub struct Curve {
    /// Lowest temperature at which the joint as frozen holds at least 0.1 mass% liquid.
    pub first_melt: Celsius,
    /// Mass share liquid there.
    pub first_melt_share: Share,
    /// What melts below that, if anything: temperature and mass share.
    pub trace_melt: Option<(Celsius, Share)>,
    /// Lowest temperature with liquid in equilibrium.
    pub solidus: Celsius,
    /// Mass share that is liquid there, at once.
    pub solidus_share: Share,
    /// Above it at least 98 mass% is liquid, in equilibrium.
    pub flow_point: Celsius,
    /// Above it all is liquid.
    pub liquidus: Celsius,
    reactions: Vec<Reaction>,
    frozen_reactions: Vec<Reaction>,
    equilibrium: Path,
    frozen: Path,
}

/// Why there is no curve.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum CurveFault {
    /// An element without assessed phase data.
    #[error("no phase data for {0}")]
    NotCovered(Element),
    /// The embedded phase data are not understood.
    #[error(transparent)]
    Data(#[from] DataFault),
    /// The solver gave up.
    #[error("no equilibrium found at {at} after {iterations} steps (last change {residual:.1e})")]
    NotConverged {
        /// Where.
        at: Celsius,
        /// How many steps were made.
        iterations: usize,
        /// Largest relative change in the last step.
        residual: f64,
    },
    /// Nothing that has frozen unevenly melts later than the same metal evened out: one of the walks has missed
    /// a phase.
    #[error(
        "as frozen the last liquid goes at {frozen}, above the solidus {solidus}: a phase was missed"
    )]
    OutOfOrder {
        /// End of the Scheil–Gulliver walk.
        frozen: Celsius,
        /// End of the equilibrium walk.
        solidus: Celsius,
    },
    /// More liquid would go on heating than retrograde melting takes.
    #[error("{:.1} % of it would freeze on heating to {at}: a phase was missed", by.percent())]
    Shrinks {
        /// Where there is least of it.
        at: Celsius,
        /// How much more there is below.
        by: Share,
    },
}

impl From<Stuck> for CurveFault {
    fn from(stuck: Stuck) -> Self {
        CurveFault::NotConverged {
            at: Celsius::from_kelvin(stuck.t_k),
            iterations: stuck.iterations,
            residual: stuck.residual,
        }
    }
}

impl From<NoSystem> for CurveFault {
    fn from(none: NoSystem) -> Self {
        match none {
            NoSystem::NotCovered(element) => CurveFault::NotCovered(element),
            NoSystem::Data(fault) => CurveFault::Data(fault),
        }
    }
}

impl Curve {
    /// Mass share liquid at a temperature: in equilibrium for a homogenised joint, from the
    /// Scheil–Gulliver walk for one that was melted and frozen.
    pub fn liquid_at(&self, t: Celsius, history: History) -> Share {
        // Temperatures are rounded to a thousandth; at a printed one the share is that above it.
        Share::nearest(self.walk(history).liquid_at(t.kelvin() + ROUNDING_K))
    }

    /// The curve as points for a picture, rising in temperature; a jump is two points.
    pub fn points(&self, history: History) -> Vec<(Celsius, Share)> {
        let walk = self.walk(history);
        let mut points = vec![(walk.end_k, 0.0), (walk.end_k, walk.end_liquid)];
        for stretch in walk.stretches.iter().rev() {
            for step in 0..=PARTS {
                let t_k = stretch.lower.t_k
                    + f64::from(step) / f64::from(PARTS) * (stretch.upper.t_k - stretch.lower.t_k);
                points.push((t_k, stretch.liquid_at(t_k)));
            }
        }
        points.push((walk.liquidus_k, 1.0));
        let round = |(t_k, liquid)| (Celsius::from_kelvin(t_k), Share::nearest(liquid));
        let mut points: Vec<_> = points.into_iter().map(round).collect();
        points.dedup();
        points
    }

    /// Changes of the phases met on the way down.
    pub fn reactions(&self, history: History) -> &[Reaction] {
        match history {
            History::AsBought => &self.reactions,
            History::Frozen => &self.frozen_reactions,
        }
    }

    fn walk(&self, history: History) -> &Path {
        match history {
            History::AsBought => &self.equilibrium,
            History::Frozen => &self.frozen,
        }
    }
}

/// A stretch is so many pieces of a picture.
const PARTS: u32 = 8;
/// Half the step to which temperatures are rounded.
const ROUNDING_K: f64 = 0.0006;
/// A joint with this much liquid melts (design).
const FIRST_MELT: f64 = 1e-3;
/// A joint with this much liquid flows (design).
const FLOWS: f64 = 0.98;
/// So much later may the walks say that the last liquid goes as frozen, by rounding, in K,
const LATER_K: f64 = 0.05;
/// if there is more of it than the equilibrium walk still sees.
const SEEN: f64 = 1e-6;
/// More than this is not believed of retrograde melting (our judgement: by the energy 2 % was proved,
/// `tests/reference/retrograde.py`; silver, indium and tin were seen to reach 3 %).
const MOST_SHRINKS: f64 = 0.05;
/// Work (steps of the solver times the square of their size, so that it is the same on every machine) of about 100 ms
/// on one core.
const MOST_WORK: u64 = 6_000_000;
/// Of about 10 ms, where the data are of class C and give a lower bound at best: of mixtures of table alloys of
/// that class 98 in 100 take less, and what takes more mostly fails in the end (gold and lead, which part).
const MOST_WORK_IF_WEAK: u64 = 400_000;
/// Mole shares below it do not take part: they could not keep 10⁻⁴ of a joint liquid, but in a liquid
/// with so little of them that they hardly lower its melting point.
const TRACE: f64 = 1e-8;

/// The curve of a composition.
///
/// Elements with less than 10⁻⁸ mole share do not take part.
///
/// ```
/// use meltstair::alloy::{Composition, Element};
/// use meltstair::melt::{CurveFault, History, curve};
/// use meltstair::quantity::Celsius;
///
/// let leaded = Composition::from_parts(&[(Element::Sn, 60.0), (Element::Pb, 40.0)]).expect("shares");
/// let curve = curve(&leaded)?;
/// assert!((curve.solidus.degrees() - 183.0).abs() < 0.5);
/// assert!((185.0..195.0).contains(&curve.liquidus.degrees()));
/// let liquid = |t: i32| curve.liquid_at(Celsius::whole(t), History::AsBought).percent();
/// assert_eq!((liquid(182), liquid(200)), (0.0, 100.0));
/// # Ok::<(), CurveFault>(())
/// ```
///
/// # Errors
/// [`CurveFault`] says why there is none.
pub fn curve(composition: &Composition) -> Result<Curve, CurveFault> {
    with_work(composition, u64::MAX)
}

/// The same, but a blend that takes more than about 100 ms on one core is given up; one of weak data after 10 ms.
pub(super) fn curve_at_once(composition: &Composition, weak: bool) -> Result<Curve, CurveFault> {
    with_work(
        composition,
        if weak { MOST_WORK_IF_WEAK } else { MOST_WORK },
    )
}

/// [`Curve::liquidus`] alone, for a tenth of the work: the walk ends at the first crystal.
pub(super) fn liquidus(composition: &Composition) -> Result<Celsius, CurveFault> {
    let (system, shares) = system_of(composition)?;
    let mut solver = Solver::new(&system, shares);
    solver.most_work = MOST_WORK;
    Ok(Celsius::from_kelvin(Walker::new(solver).first_crystal()?))
}

/// The elements that take part, and their mole shares.
fn system_of(composition: &Composition) -> Result<(Arc<System>, Vector), CurveFault> {
    let moles = composition.mole_shares();
    let elements: Vec<Element> = Element::all()
        .filter(|e| moles[e.index()].fraction() > TRACE)
        .collect();
    let system = System::of(&elements)?;
    let mut z = [0.0; N];
    for (z, element) in z.iter_mut().zip(&elements) {
        *z = moles[element.index()].fraction();
    }
    let sum: f64 = z.iter().sum();
    Ok((system, z.map(|z| z / sum)))
}

fn with_work(composition: &Composition, most_work: u64) -> Result<Curve, CurveFault> {
    let (system, shares) = system_of(composition)?;
    let mut solver = Solver::new(&system, shares);
    solver.most_work = most_work;
    let mut walker = Walker::new(solver);
    let (equilibrium, start) = walker.equilibrium()?;
    let frozen = walker.scheil(&start, equilibrium.end_k)?;
    credible(&equilibrium, &frozen)?;
    let told = |path: &Path| -> Vec<Reaction> {
        (path.changes.iter())
            .map(|change| Reaction::from_change(change, &system))
            .collect()
    };
    let celsius = Celsius::from_kelvin;
    let first_melt_k = frozen.reaches(FIRST_MELT);
    let trace = (frozen.end_k < first_melt_k - ROUNDING_K)
        .then(|| (celsius(frozen.end_k), Share::nearest(frozen.end_liquid)));
    Ok(Curve {
        first_melt: celsius(first_melt_k),
        first_melt_share: Share::nearest(frozen.liquid_at(first_melt_k).max(FIRST_MELT)),
        trace_melt: trace,
        solidus: celsius(equilibrium.end_k),
        solidus_share: Share::nearest(equilibrium.end_liquid),
        flow_point: celsius(equilibrium.reaches(FLOWS)),
        liquidus: celsius(equilibrium.liquidus_k),
        reactions: told(&equilibrium),
        frozen_reactions: told(&frozen),
        equilibrium,
        frozen,
    })
}

/// Refuses what cannot be.
fn credible(equilibrium: &Path, frozen: &Path) -> Result<(), CurveFault> {
    let celsius = Celsius::from_kelvin;
    if frozen.end_k > equilibrium.end_k + LATER_K && frozen.end_liquid > SEEN {
        return Err(CurveFault::OutOfOrder {
            frozen: celsius(frozen.end_k),
            solidus: celsius(equilibrium.end_k),
        });
    }
    let mut least = (equilibrium.liquidus_k, 1.0_f64);
    for stretch in &equilibrium.stretches {
        for end in [stretch.upper, stretch.lower] {
            let by = end.liquid - least.1;
            if by > MOST_SHRINKS {
                return Err(CurveFault::Shrinks {
                    at: celsius(least.0),
                    by: Share::nearest(by),
                });
            }
            if by < 0.0 {
                least = (end.t_k, end.liquid);
            }
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::melt::path::{End, Stretch};

    /// A walk through points from the hot end down.
    fn path(points: &[(f64, f64)]) -> Path {
        let end = |&(t_k, liquid): &(f64, f64)| End {
            t_k,
            liquid,
            slope: 0.0,
        };
        let last = points.last().unwrap();
        Path {
            liquidus_k: points[0].0,
            end_k: last.0,
            end_liquid: last.1,
            stretches: (points.windows(2))
                .map(|two| Stretch {
                    upper: end(&two[0]),
                    lower: end(&two[1]),
                })
                .collect(),
            ..Path::default()
        }
    }

    #[test]
    fn walks_that_contradict_each_other_are_refused() {
        let equilibrium = path(&[(500.0, 1.0), (450.0, 0.0)]);
        let lower = path(&[(500.0, 1.0), (440.0, 0.1)]);
        let higher = path(&[(500.0, 1.0), (450.1, 0.1)]);
        let faint = path(&[(500.0, 1.0), (450.1, 1e-7)]);
        assert!(credible(&equilibrium, &lower).is_ok());
        assert!(credible(&equilibrium, &faint).is_ok());
        let fault = credible(&equilibrium, &higher).unwrap_err();
        assert!(matches!(fault, CurveFault::OutOfOrder { .. }), "{fault}");
    }

    #[test]
    fn liquid_that_goes_on_heating_is_refused_but_for_retrograde_melting() {
        let frozen = path(&[(500.0, 1.0), (440.0, 0.1)]);
        let falls = |to: f64| path(&[(500.0, 1.0), (480.0, 0.3), (460.0, to), (450.0, 0.0)]);
        assert!(credible(&falls(0.2), &frozen).is_ok());
        assert!(credible(&falls(0.34), &frozen).is_ok());
        let fault = credible(&falls(0.36), &frozen).unwrap_err();
        assert_eq!(
            fault.to_string(),
            "6.0 % of it would freeze on heating to 206.85 °C: a phase was missed"
        );
    }
}
