//! What is known of the four guessed factors, and what follows from it: predictions with a cool and a
//! hot edge.

use serde::{Deserialize, Serialize};

use super::plate::{Fineness, Outcome, Place, PlaceHeat, Program, RunFault, run};
use super::scene::{Scene, Tuning};
use super::steady::{Bound, Face, NoBound};
use super::units::Point;
use crate::quantity::{Celsius, KelvinStep};

/// How many standard deviations an edge of the band lies from its middle.
const EDGE: f64 = 2.0;

/// The four factors of [`Tuning`] by their logarithms, with their covariance.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "Kept", into = "Kept")]
pub struct Knowledge {
    logs: [f64; 4],
    covariance: [[f64; 4]; 4],
}

/// Standard deviations of the logarithms before anything was measured: losses (natural convection 5 to
/// 10 W/m²K around 8, from memory of Incropera & DeWitt), coupling (tip contact 2 to 10 K/W around 5,
/// common practice; hand-held jets outside the published range), conduction (within 20 %,
/// frigprim.com "Thermal properties for PCBs"), mixing (see [`super::jet`]).
const UNMEASURED: [f64; 4] = [0.25, 0.35, 0.20, 0.10];

/// Knowledge as a job keeps it.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Kept {
    /// Losses, coupling, conduction, mixing.
    pub factors: [f64; 4],
    /// Of their logarithms.
    pub covariance: [[f64; 4]; 4],
}

/// Row and column of the upper triangle, row by row.
const TRIANGLE: [(usize, usize); 10] = [
    (0, 0),
    (0, 1),
    (0, 2),
    (0, 3),
    (1, 1),
    (1, 2),
    (1, 3),
    (2, 2),
    (2, 3),
    (3, 3),
];

impl Kept {
    /// From the upper triangle of the covariance, row by row.
    pub fn from_triangle(factors: [f64; 4], triangle: [f64; 10]) -> Self {
        let mut covariance = [[0.0; 4]; 4];
        for ((row, column), value) in TRIANGLE.into_iter().zip(triangle) {
            covariance[row][column] = value;
            covariance[column][row] = value;
        }
        Kept {
            factors,
            covariance,
        }
    }

    /// The upper triangle of the covariance, row by row.
    pub fn triangle(&self) -> [f64; 10] {
        TRIANGLE.map(|(row, column)| self.covariance[row][column])
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
        Ok(Knowledge {
            logs: kept.factors.map(f64::ln),
            covariance: kept.covariance,
        })
    }
}

/// Symmetric, variances above 0 and at most 4, no correlation above 1; NaN is none.
fn is_covariance(matrix: &[[f64; 4]; 4]) -> bool {
    matrix.iter().enumerate().all(|(i, row)| {
        row.iter().enumerate().all(|(j, value)| {
            let (own, other) = (matrix[i][i], matrix[j][j]);
            let possible = own > 0.0 && own <= 4.0 && other > 0.0 && other <= 4.0;
            possible
                && (value - matrix[j][i]).abs() <= 1e-9
                && value.abs() <= (own * other).sqrt() * (1.0 + 1e-6)
        })
    })
}

impl From<Knowledge> for Kept {
    fn from(known: Knowledge) -> Kept {
        Kept {
            factors: known.logs.map(f64::exp),
            covariance: known.covariance,
        }
    }
}

impl Knowledge {
    /// Nothing was measured on this bench.
    pub fn unmeasured() -> Self {
        let mut covariance = [[0.0; 4]; 4];
        for (i, deviation) in UNMEASURED.iter().enumerate() {
            covariance[i][i] = deviation * deviation;
        }
        Knowledge {
            logs: [0.0; 4],
            covariance,
        }
    }

    pub(crate) fn from_fit(logs: [f64; 4], covariance: [[f64; 4]; 4]) -> Self {
        Knowledge { logs, covariance }
    }

    pub(crate) fn logs(&self) -> [f64; 4] {
        self.logs
    }

    pub(crate) fn covariance(&self) -> [[f64; 4]; 4] {
        self.covariance
    }

    /// The likeliest factors.
    pub fn tuning(&self) -> Tuning {
        Tuning::from_logs(self.logs)
    }

    /// Standard deviation of each factor's logarithm: about its relative uncertainty.
    pub fn deviations(&self) -> [f64; 4] {
        [0, 1, 2, 3].map(|i| self.covariance[i][i].sqrt())
    }

    /// The factors with the logarithm of the `which`th moved by so many standard deviations.
    fn moved(&self, which: usize, deviations: f64) -> Tuning {
        let mut logs = self.logs;
        logs[which] += deviations * self.covariance[which][which].sqrt();
        Tuning::from_logs(logs)
    }

    /// The scene with each factor so many standard deviations from its likeliest value.
    fn edge(&self, scene: &Scene, by: [f64; 4]) -> Scene {
        let deviations = self.deviations();
        let mut logs = self.logs;
        for i in 0..4 {
            logs[i] += by[i] * deviations[i];
        }
        scene.clone().tuned(Tuning::from_logs(logs))
    }

    /// Standard deviation of something that moves by `by_deviation[i]` when factor `i` moves by one of
    /// its own.
    fn deviation_of(&self, by_deviation: [f64; 4]) -> f64 {
        let deviations = self.deviations();
        let mut variance = 0.0;
        for i in 0..4 {
            for j in 0..4 {
                let correlation = self.covariance[i][j] / (deviations[i] * deviations[j]);
                variance += by_deviation[i] * by_deviation[j] * correlation;
            }
        }
        variance.max(0.0).sqrt()
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
    fn around(mid: Celsius, half: KelvinStep) -> Self {
        Band {
            low: mid - half,
            mid,
            high: mid + half,
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
}

/// A run with its band.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Forecast {
    /// The likeliest run.
    pub outcome: Outcome,
    /// In the order asked for.
    pub places: Vec<PlaceForecast>,
}

/// Runs the likeliest factors on the fine mesh, and each factor one standard deviation either way on the
/// coarse one.
///
/// # Errors
/// As [`run`].
pub fn forecast(
    scene: &Scene,
    program: &Program,
    places: &[Place],
    known: &Knowledge,
) -> Result<Forecast, RunFault> {
    let likeliest = scene.clone().tuned(known.tuning());
    let outcome = run(&likeliest, program, places, Fineness::Fine)?;
    let coarse = run(&likeliest, program, places, Fineness::Coarse)?;
    let mut moved = Vec::with_capacity(8);
    for which in 0..4 {
        for way in [1.0, -1.0] {
            let scene = scene.clone().tuned(known.moved(which, way));
            moved.push(run(&scene, program, places, Fineness::Coarse)?);
        }
    }
    let places = (0..places.len())
        .map(|k| place_forecast(k, &outcome, &coarse, &moved, known))
        .collect();
    Ok(Forecast { outcome, places })
}

fn place_forecast(
    k: usize,
    outcome: &Outcome,
    coarse: &Outcome,
    moved: &[Outcome],
    known: &Knowledge,
) -> PlaceForecast {
    let heat = outcome.places[k].clone();
    let half = |of: fn(&PlaceHeat) -> Celsius| {
        let middle = of(&coarse.places[k]);
        let mesh = (of(&heat) - middle).kelvin().abs();
        let by_deviation = [0, 1, 2, 3].map(|which| {
            let up = (of(&moved[2 * which].places[k]) - middle).kelvin();
            let down = (middle - of(&moved[2 * which + 1].places[k])).kelvin();
            // The larger of the two ways, so that a bend never narrows the band.
            if up.abs() >= down.abs() { up } else { down }
        });
        (mesh, EDGE * known.deviation_of(by_deviation) + mesh)
    };
    let (mesh, peak_half) = half(PlaceHeat::peak);
    let (_, reached_half) = half(PlaceHeat::all_reached);
    PlaceForecast {
        peak: Band::around(heat.peak(), step_up(peak_half)),
        all_reached: Band::around(heat.all_reached(), step_up(reached_half)),
        mesh: step_up(mesh),
        heat,
    }
}

fn step_up(kelvin: f64) -> KelvinStep {
    KelvinStep::whole(1).scaled(kelvin)
}

/// The closed-form bound at the hot edge of what is known.
#[derive(Clone, Debug)]
pub struct HotBound(Vec<Bound>);

impl HotBound {
    /// Least losses, most coupling, least mixing; conduction at both edges and in the middle, since more
    /// of it warms what is far and cools what is near.
    ///
    /// # Errors
    /// As [`Bound::of`].
    pub fn of(scene: &Scene, known: &Knowledge) -> Result<Self, NoBound> {
        HotBound::each(scene, known, Bound::of)
    }

    /// The same where the tool goes as soon as its target, the hottest place, is at `hottest`.
    ///
    /// # Errors
    /// As [`Bound::of`].
    pub fn stopped_at(scene: &Scene, known: &Knowledge, hottest: Celsius) -> Result<Self, NoBound> {
        HotBound::each(scene, known, |scene| Bound::stopped_at(scene, hottest))
    }

    fn each(
        scene: &Scene,
        known: &Knowledge,
        bound: impl Fn(&Scene) -> Result<Bound, NoBound>,
    ) -> Result<Self, NoBound> {
        [-EDGE, 0.0, EDGE]
            .into_iter()
            .map(|conduction| bound(&known.edge(scene, [-EDGE, EDGE, conduction, EDGE])))
            .collect::<Result<Vec<_>, _>>()
            .map(HotBound)
    }

    /// The most that `point` can see on that face.
    ///
    /// # Errors
    /// As [`Bound::at`].
    pub fn at(&self, point: Point, face: Face) -> Result<Celsius, NoBound> {
        let mut most = Celsius::nearest(f64::NAN);
        for bound in &self.0 {
            most = most.max(bound.at(point, face)?);
        }
        Ok(most)
    }

    /// What the body of a part can see there.
    ///
    /// # Errors
    /// As [`Bound::at`].
    pub fn of_body(&self, point: Point) -> Result<Celsius, NoBound> {
        let mut most = Celsius::nearest(f64::NAN);
        for bound in &self.0 {
            most = most.max(bound.of_body(point)?);
        }
        Ok(most)
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
            cool: at(&known.edge(scene, [EDGE, -EDGE, EDGE, -EDGE]))?,
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
        let loose = Knowledge::unmeasured().deviation_of([-1.0, 1.0, 0.0, 0.0]);
        assert!((loose - 2.0_f64.sqrt()).abs() < 1e-12);
        assert!(known.deviation_of([-1.0, 1.0, 0.0, 0.0]) < 0.5);
        assert!(known.deviation_of([1.0, 1.0, 0.0, 0.0]) > 1.9);
    }
}
