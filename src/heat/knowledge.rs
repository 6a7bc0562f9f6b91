//! What is known of the guessed factors, and what follows from it: predictions with a cool and a
//! hot edge.

use rayon::prelude::*;
use serde::{Deserialize, Serialize};

use super::board::Patch;
use super::plate::{Fineness, Outcome, Place, PlaceHeat, Program, RunFault, Until, run_each};
use super::scene::{FACTORS, Scene, Tool, Tuning};
use super::steady::{Bound, Face, NoBound};
use super::units::Point;
use crate::quantity::{Celsius, KelvinStep, Ramp};

/// How many standard deviations an edge of the band lies from its middle.
const EDGE: f64 = 2.0;

/// A number for each factor.
pub type Each = [f64; FACTORS];
/// A number for each pair of factors.
pub type Matrix = [Each; FACTORS];

/// The factors of [`Tuning`] by their logarithms, with their covariance, and how far boards are from their
/// description besides.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "Kept", into = "Kept")]
pub struct Knowledge {
    logs: Each,
    covariance: Matrix,
    structure: f64,
}

/// Standard deviations of the logarithms before anything was measured, in the order of [`Tuning`]:
///
/// * losses 0.25: natural convection 5 to 10 W/m²K around 8, from memory of Incropera & DeWitt;
/// * coupling 0.35: hand-held jets outside the published range, flow off by a quarter; tip contact 2 to
///   10 K/W around 5, common practice;
/// * conduction 0.20: within 20 %, frigprim.com "Thermal properties for PCBs", and coverage as guessed;
/// * mixing 0.15: see [`super::jet`], and a standoff held by hand to a quarter;
/// * dial 0.15: readings of 280 to 420 °C at a dial of 300 were reported from benches (hearsay, no
///   source): two deviations hold 229 to 396;
/// * body 0.35: filled epoxy 0.6 to 1 W/mK around 0.8, 700 to 1000 J/kgK around 900 (handbook values, from
///   memory), what lies between body and board left out;
/// * preheater 0.40: 11 to 56 W/m²K around 25 (our judgement).
///
/// The coupling of rays is half to twice that of a grey board of 0.9 below a black emitter: laminate, mask and
/// moulded bodies take 0.8 to 0.95, emitters give 0.8 to 1 (handbook emissivities, from memory), reflectors beside
/// them and the warm air below them are not described (our judgement). Bright metal takes 0.05 to 0.3 (likewise from
/// memory): less than is counted, which is why nobody may be stopped by a target below a lid.
const UNMEASURED: Each = [0.25, 0.35, 0.20, 0.15, 0.15, 0.35, 0.40];

/// Where the dial of an iron stands: within a tenth (common practice, no source).
const IRON_DIAL: f64 = 0.05;

/// What a board is off its description, as a share of the rise of each place by itself: copper cut into
/// tracks, holes, parts that nobody named (our judgement; `tests/heat_learn.rs` holds it against boards that
/// differ).
pub(crate) const STRUCTURE: f64 = 0.08;

/// Knowledge as a job keeps it.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Kept {
    /// In the order of [`Tuning`].
    pub factors: Each,
    /// Of their logarithms.
    pub covariance: Matrix,
    /// How far the board is off its description besides, as a share of the rise.
    pub structure: f64,
}

/// Numbers in the upper triangle of the covariance.
pub const TRIANGLE: usize = FACTORS * (FACTORS + 1) / 2;

/// Row and column of the upper triangle, row by row.
fn triangle() -> impl Iterator<Item = (usize, usize)> {
    (0..FACTORS).flat_map(|row| (row..FACTORS).map(move |column| (row, column)))
}

impl Kept {
    /// From the upper triangle of the covariance, row by row.
    pub fn from_triangle(factors: Each, numbers: [f64; TRIANGLE], structure: f64) -> Self {
        let mut covariance = [[0.0; FACTORS]; FACTORS];
        for ((row, column), value) in triangle().zip(numbers) {
            covariance[row][column] = value;
            covariance[column][row] = value;
        }
        Kept {
            factors,
            covariance,
            structure,
        }
    }

    /// The upper triangle of the covariance, row by row.
    pub fn triangle(&self) -> Vec<f64> {
        triangle()
            .map(|(row, column)| self.covariance[row][column])
            .collect()
    }
}

/// Why kept knowledge is refused.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum NoKnowledge {
    /// A factor out of range.
    #[error("a learned factor of {found}: want 0.02 to 50")]
    Factor {
        /// As kept.
        found: f64,
    },
    /// Not a covariance.
    #[error(
        "the learned covariance is none: want a symmetric matrix with variances above 0 and at most 4"
    )]
    Covariance,
    /// Not a share.
    #[error("a board off its description by {found}: want 0 to 2 as a share of the rise")]
    Structure {
        /// As kept.
        found: f64,
    },
}

impl TryFrom<Kept> for Knowledge {
    type Error = NoKnowledge;

    fn try_from(kept: Kept) -> Result<Self, NoKnowledge> {
        if let Some(&found) = kept.factors.iter().find(|f| !(0.02..=50.0).contains(*f)) {
            return Err(NoKnowledge::Factor { found });
        }
        if !is_covariance(&kept.covariance) {
            return Err(NoKnowledge::Covariance);
        }
        if !(0.0..=2.0).contains(&kept.structure) {
            return Err(NoKnowledge::Structure {
                found: kept.structure,
            });
        }
        Ok(Knowledge {
            logs: kept.factors.map(f64::ln),
            covariance: kept.covariance,
            structure: kept.structure,
        })
    }
}

/// Symmetric, variances above 0 and at most 4, no correlation above 1; NaN is none.
fn is_covariance(matrix: &Matrix) -> bool {
    matrix.iter().enumerate().all(|(i, row)| {
        row.iter().enumerate().all(|(j, value)| {
            let (own, other) = (matrix[i][i], matrix[j][j]);
            let possible = own > 0.0 && own <= 4.0 && other > 0.0 && other <= 4.0;
            possible
                && (value - matrix[j][i]).abs() <= 1e-9
                && value.abs() <= (own * other).sqrt() * (1.0 + 1e-6) + 1e-6
        })
    })
}

impl From<Knowledge> for Kept {
    fn from(known: Knowledge) -> Kept {
        Kept {
            factors: known.logs.map(f64::exp),
            covariance: known.covariance,
            structure: known.structure,
        }
    }
}

impl Knowledge {
    /// Nothing was measured on this bench; with air.
    pub fn unmeasured() -> Self {
        Knowledge::with_deviations(UNMEASURED)
    }

    /// Nothing was measured on this bench, with a tool of this kind.
    pub fn unmeasured_with(tool: &Tool) -> Self {
        let mut deviations = UNMEASURED;
        if let Tool::Iron { .. } = tool {
            deviations[4] = IRON_DIAL;
        }
        Knowledge::with_deviations(deviations)
    }

    /// The same where layers, copper or coverage of the board are guessed: two layers of 0.3 to eight of 0.8 make a
    /// third to three times the conduction of four of a half (our judgement).
    #[must_use]
    pub fn with_guessed_copper(mut self) -> Self {
        const GUESSED: f64 = 0.6;
        self.covariance[2][2] = self.covariance[2][2].max(GUESSED * GUESSED);
        self
    }

    fn with_deviations(deviations: Each) -> Self {
        let mut covariance = [[0.0; FACTORS]; FACTORS];
        for (i, deviation) in deviations.iter().enumerate() {
            covariance[i][i] = deviation * deviation;
        }
        Knowledge {
            logs: [0.0; FACTORS],
            covariance,
            structure: STRUCTURE,
        }
    }

    pub(crate) fn from_fit(logs: Each, covariance: &Matrix, structure: f64) -> Self {
        Knowledge {
            logs,
            covariance: *covariance,
            structure,
        }
    }

    pub(crate) fn logs(&self) -> Each {
        self.logs
    }

    pub(crate) fn covariance(&self) -> Matrix {
        self.covariance
    }

    /// How far boards are off their description besides, as a share of the rise: one standard deviation of
    /// each place by itself.
    pub fn structure(&self) -> f64 {
        self.structure
    }

    /// Whether the readings speak against the board as described.
    pub fn misfits(&self) -> bool {
        self.structure > STRUCTURE * 1.001
    }

    /// The likeliest factors.
    pub fn tuning(&self) -> Tuning {
        Tuning::from_logs(self.logs)
    }

    /// Standard deviation of each factor's logarithm: about its relative uncertainty.
    pub fn deviations(&self) -> Each {
        let mut deviations = [0.0; FACTORS];
        for (i, deviation) in deviations.iter_mut().enumerate() {
            *deviation = self.covariance[i][i].sqrt();
        }
        deviations
    }

    /// The factors with the logarithm of the `which`th moved by so many standard deviations.
    fn moved(&self, which: usize, deviations: f64) -> Tuning {
        let mut logs = self.logs;
        logs[which] += deviations * self.covariance[which][which].sqrt();
        Tuning::from_logs(logs)
    }

    /// The scene with each factor so many standard deviations from its likeliest value.
    fn edge(&self, scene: &Scene, by: Each) -> Scene {
        let deviations = self.deviations();
        let mut logs = self.logs;
        for i in 0..FACTORS {
            logs[i] += by[i] * deviations[i];
        }
        scene.clone().tuned(Tuning::from_logs(logs))
    }

    /// Square of how far something moves that moves by `by[i]` when factor `i` moves to its edge.
    fn variance_of(&self, by: &Each) -> f64 {
        let deviations = self.deviations();
        let mut variance = 0.0;
        for i in 0..FACTORS {
            for j in 0..FACTORS {
                let correlation = self.covariance[i][j] / (deviations[i] * deviations[j]);
                variance += by[i] * by[j] * correlation;
            }
        }
        variance.max(0.0)
    }

    /// The hottest that the tool itself may be, at the hot edge of its dial.
    pub fn hottest(&self, scene: &Scene) -> Celsius {
        let mut by = [0.0; FACTORS];
        by[4] = EDGE;
        self.edge(scene, by).hottest()
    }
}

/// Whether a factor can matter on a scene at all.
pub(crate) fn matters(scene: &Scene, which: usize) -> bool {
    let air = matches!(scene.tool(), Tool::Air(_));
    let body = |patch: &Patch| matches!(patch, Patch::Body { .. } | Patch::Cover { .. });
    match which {
        3 => air,
        5 => scene.board().patches().iter().any(body),
        6 => scene.preheat().is_some(),
        _ => true,
    }
}

/// A predicted temperature with its edges.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Band {
    /// Cool edge: two standard deviations and the mesh's own estimate below.
    pub low: Celsius,
    /// Likeliest.
    pub mid: Celsius,
    /// Hot edge.
    pub high: Celsius,
}

impl Band {
    fn around(mid: Celsius, (low, high): (f64, f64)) -> Self {
        let kelvin = |half: f64| KelvinStep::whole(1).scaled(half);
        Band {
            low: mid - kelvin(low),
            mid,
            high: mid + kelvin(high),
        }
    }
}

/// What one place is predicted to see.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PlaceForecast {
    /// The likeliest run.
    pub heat: PlaceHeat,
    /// Of its hottest point: what must stay below a first melt.
    pub peak: Band,
    /// Of its coolest point: what must get above a flow temperature.
    pub all_reached: Band,
    /// How much the answer depends on the mesh: the difference to cells and steps twice as long.
    pub mesh: KelvinStep,
    /// Fastest that any point of it is heated or cooled, at the hot edge.
    pub fastest: Ramp,
}

impl PlaceForecast {
    /// Whether all of the place flows at `flow`: as sure as the cool edge is.
    pub fn surely_flows(&self, flow: Celsius) -> bool {
        self.all_reached.low >= flow
    }

    /// How long its hottest point could stand above `limit`, s: the likeliest trace raised to the hot
    /// edge.
    pub fn seconds_above_at_most(&self, limit: Celsius) -> f64 {
        self.heat
            .seconds_above(limit - (self.peak.high - self.peak.mid))
    }

    /// When all of it surely flows at `flow`, s: the likeliest trace lowered to the cool edge. None where it
    /// does not surely.
    pub fn surely_after(&self, flow: Celsius) -> Option<f64> {
        self.heat
            .reached_after(flow + (self.all_reached.mid - self.all_reached.low))
    }
}

/// A run with its band.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Forecast {
    /// The likeliest run.
    pub outcome: Outcome,
    /// In the order asked for.
    pub places: Vec<PlaceForecast>,
}

/// Runs the likeliest factors on the fine mesh, and each factor two standard deviations either way on the
/// coarse one.
///
/// # Errors
/// As [`super::run`].
pub fn forecast(
    scene: &Scene,
    program: &Program,
    places: &[Place],
    known: &Knowledge,
) -> Result<Forecast, RunFault> {
    let ends = std::slice::from_ref(&program.until);
    let mut all = forecast_each(scene, program, ends, places, known, &|| true)?;
    // One end in, one forecast out.
    Ok(all.swap_remove(0))
}

/// The same with several ends of one heating; `program.until` is not looked at.
///
/// # Errors
/// As [`super::run`].
pub fn forecast_each(
    scene: &Scene,
    program: &Program,
    ends: &[Option<Until>],
    places: &[Place],
    known: &Knowledge,
    go_on: &(dyn Fn() -> bool + Sync),
) -> Result<Vec<Forecast>, RunFault> {
    let which: Vec<usize> = (0..FACTORS)
        .filter(|which| matters(scene, *which))
        .collect();
    let mut runs = vec![
        (known.tuning(), Fineness::Fine),
        (known.tuning(), Fineness::Coarse),
    ];
    for which in &which {
        runs.push((known.moved(*which, EDGE), Fineness::Coarse));
        runs.push((known.moved(*which, -EDGE), Fineness::Coarse));
    }
    let mut outcomes = runs
        .into_par_iter()
        .map(|(tuning, fineness)| {
            if !go_on() {
                return Err(RunFault::Stopped);
            }
            let scene = scene.clone().tuned(tuning);
            run_each(&scene, program, ends, places, fineness)
        })
        .collect::<Result<Vec<_>, _>>()?;
    let moved = outcomes.split_off(2);
    let coarse = outcomes.pop().unwrap_or_default();
    let fine = outcomes.pop().unwrap_or_default();
    Ok(fine
        .into_iter()
        .enumerate()
        .map(|(end, outcome)| {
            let places = (0..places.len())
                .map(|k| {
                    let moved = moved.iter().map(|run| &run[end].places[k]).collect();
                    let around = Around {
                        which: &which,
                        moved,
                        coarse: &coarse[end].places[k],
                        base: scene.base(),
                    };
                    around.forecast(outcome.places[k].clone(), known)
                })
                .collect();
            Forecast { outcome, places }
        })
        .collect())
}

/// The coarse runs around the likeliest one, at one place.
struct Around<'a> {
    /// The factors that were moved.
    which: &'a [usize],
    /// Up and down for each.
    moved: Vec<&'a PlaceHeat>,
    coarse: &'a PlaceHeat,
    base: Celsius,
}

impl Around<'_> {
    fn forecast(&self, heat: PlaceHeat, known: &Knowledge) -> PlaceForecast {
        let base = self.base.degrees();
        let (mesh, peak) = self.halves(&heat, |heat| heat.peak().degrees(), base, known);
        let reached = |heat: &PlaceHeat| heat.all_reached().degrees();
        let (_, reached) = self.halves(&heat, reached, base, known);
        let (_, (_, faster)) = self.halves(&heat, PlaceHeat::fastest_k_s, 0.0, known);
        PlaceForecast {
            fastest: Ramp::nearest(heat.fastest_k_s() + faster),
            peak: Band::around(heat.peak(), peak),
            all_reached: Band::around(heat.all_reached(), reached),
            mesh: step_up(mesh),
            heat,
        }
    }

    /// What the mesh makes out, and how far the cool and the hot edge of a number lie from its middle; `base` is what
    /// it would be without the tool.
    ///
    /// Each factor was moved to its own edge either way, and each edge of the band counts the ways that lead
    /// there: a hand that stops at its target's peak is late with little coupling, but never early by as
    /// much.
    fn halves(
        &self,
        heat: &PlaceHeat,
        of: impl Fn(&PlaceHeat) -> f64,
        base: f64,
        known: &Knowledge,
    ) -> (f64, (f64, f64)) {
        let middle = of(self.coarse);
        let mesh = (of(heat) - middle).abs();
        let (mut cooler, mut hotter) = ([0.0; FACTORS], [0.0; FACTORS]);
        for (pair, which) in self.moved.chunks_exact(2).zip(self.which) {
            let up = of(pair[0]) - middle;
            let down = of(pair[1]) - middle;
            hotter[*which] = steeper(up, down);
            cooler[*which] = -steeper(-up, -down);
        }
        let structure = EDGE * known.structure * (of(heat) - base);
        let half = |by: &Each| (known.variance_of(by) + structure * structure).sqrt() + mesh;
        (mesh, (half(&cooler), half(&hotter)))
    }
}

/// Of what a factor does moved up and moved down, what leads upward, with the sign of the move; none if both
/// lead down.
fn steeper(up: f64, down: f64) -> f64 {
    if up >= down {
        up.max(0.0)
    } else {
        -down.max(0.0)
    }
}

fn step_up(kelvin: f64) -> KelvinStep {
    KelvinStep::whole(1).scaled(kelvin)
}

/// The closed-form bound at the hot edge of what is known.
#[derive(Clone, Debug)]
pub struct HotBound {
    bounds: Vec<Bound>,
    base: Celsius,
    /// What the readings say beyond what any described board may be off.
    more: f64,
}

impl HotBound {
    /// Least losses, most coupling, least mixing, hottest tool, least film below; conduction at both edges and in the
    /// middle, since more of it warms what is far and cools what is near.
    ///
    /// # Errors
    /// As [`Bound::of`].
    pub fn of(scene: &Scene, known: &Knowledge) -> Result<Self, NoBound> {
        let bounds = [-EDGE, 0.0, EDGE]
            .into_iter()
            .map(|conduction| {
                let by = [-EDGE, EDGE, conduction, EDGE, EDGE, 0.0, -EDGE];
                Bound::of(&known.edge(scene, by))
            })
            .collect::<Result<Vec<_>, _>>()?;
        Ok(HotBound {
            bounds,
            base: scene.base(),
            more: EDGE * (known.structure - STRUCTURE).max(0.0),
        })
    }

    /// The most that `point` can see on that face.
    ///
    /// # Errors
    /// As [`Bound::at`].
    pub fn at(&self, point: Point, face: Face) -> Result<Celsius, NoBound> {
        let mut most = Celsius::nearest(f64::NAN);
        for bound in &self.bounds {
            most = most.max(bound.at(point, face)?);
        }
        Ok(most + (most - self.base).scaled(self.more))
    }
}

/// What the tool can bring its target to, at most: at the cool edge of what is known, and likeliest.
/// Below that it surely stays, however long the tool does.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reach {
    /// Most losses, least coupling, most conduction, most mixing.
    pub cool: Celsius,
    /// With the likeliest factors.
    pub likeliest: Celsius,
}

impl Reach {
    /// Of the mean of the board's thickness right under the tool.
    ///
    /// # Errors
    /// As [`Bound::of`].
    pub fn of(scene: &Scene, known: &Knowledge) -> Result<Self, NoBound> {
        let at = |scene: &Scene| Bound::of(scene)?.at(scene.at(), Face::Far);
        Ok(Reach {
            cool: at(&known.edge(scene, [EDGE, -EDGE, EDGE, -EDGE, -EDGE, 0.0, EDGE]))?,
            likeliest: at(&scene.clone().tuned(known.tuning()))?,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn kept_knowledge_comes_back_and_nonsense_does_not() {
        let known = Knowledge::unmeasured();
        let kept = Kept::from(known);
        assert_eq!(Knowledge::try_from(kept), Ok(known));
        let mut bad = kept;
        bad.factors[1] = f64::NAN;
        assert!(Knowledge::try_from(bad).is_err());
        let mut bad = kept;
        bad.covariance[0][1] = 0.2;
        assert_eq!(Knowledge::try_from(bad), Err(NoKnowledge::Covariance));
        let mut bad = kept;
        bad.covariance[2][2] = f64::NAN;
        assert_eq!(Knowledge::try_from(bad), Err(NoKnowledge::Covariance));
    }

    #[test]
    fn correlated_factors_widen_or_narrow_the_band() {
        let mut kept = Kept::from(Knowledge::unmeasured());
        let together = 0.9 * UNMEASURED[0] * UNMEASURED[1];
        kept.covariance[0][1] = together;
        kept.covariance[1][0] = together;
        let known = Knowledge::try_from(kept).unwrap();
        let by = |first: f64| {
            let mut by = [0.0; FACTORS];
            (by[0], by[1]) = (first, 1.0);
            by
        };
        assert!((Knowledge::unmeasured().variance_of(&by(-1.0)) - 2.0).abs() < 1e-12);
        assert!(known.variance_of(&by(-1.0)) < 0.25);
        assert!(known.variance_of(&by(1.0)) > 3.6);
    }
}
