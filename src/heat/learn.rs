//! Learning from a thermocouple: readings of one tool run move the four guessed factors and narrow
//! them.
//!
//! Least squares on the logarithms of the factors with what was known before as one more reading of each
//! (Gauss–Newton with step halving; C. D. Rodgers, *Inverse Methods for Atmospheric Sounding*, World
//! Scientific 2000, ch. 5; from memory). One reading is enough: it moves what it depends on and leaves
//! the rest as uncertain as it was.

use super::knowledge::Knowledge;
use super::plate::{Fineness, Outcome, Place, Program, RunFault, run};
use super::scene::{Scene, Tuning};
use super::units::Seconds;
use crate::quantity::{Celsius, KelvinStep};

/// One thermocouple is wrong in the same way all along a run, and so is the model: however many
/// readings of one place there are, they count as so many (our judgement).
const INDEPENDENT: f64 = 12.0;
/// Change of a factor's logarithm for its derivative.
const NUDGE: f64 = 0.02;
/// Steps before giving up.
const MOST_STEPS: usize = 20;

/// What was read.
#[derive(Clone, Debug, PartialEq)]
pub struct Reading {
    /// Of a place.
    pub place: String,
    /// When.
    pub when: When,
    /// What the thermocouple showed.
    pub read: Celsius,
}

/// When a reading was taken.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum When {
    /// So long after the tool came.
    At(Seconds),
    /// The highest of the whole run.
    Peak,
}

/// Why nothing can be learned.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum LearnFault {
    /// No readings.
    #[error("no readings to learn from")]
    NoReadings,
    /// A reading of a place that is not there.
    #[error("reading {row}: no place `{found}`, want one of {known}")]
    NoSuchPlace {
        /// From 1.
        row: usize,
        /// As stated.
        found: String,
        /// What there is.
        known: String,
    },
    /// After the run ended.
    #[error("reading {row}: taken {at_s} s after the tool came, but the run lasts {run_s} s")]
    AfterTheEnd {
        /// From 1.
        row: usize,
        /// As stated.
        at_s: f64,
        /// Of tool and watching together.
        run_s: f64,
    },
    /// Colder than the room or hotter than anything there.
    #[error(
        "reading {row}: {found} is not between the room, {room}, and the hottest thing there, {hottest}"
    )]
    Impossible {
        /// From 1.
        row: usize,
        /// As read.
        found: Celsius,
        /// The room.
        room: Celsius,
        /// Tool or preheated board.
        hottest: Celsius,
    },
    /// No uncertainty.
    #[error("a reading uncertain by {found}: want more than 0 K")]
    Certain {
        /// As stated.
        found: KelvinStep,
    },
    /// The fit did not come to rest.
    #[error("the fit did not settle: the readings and the set-up described do not go together")]
    Unsettled,
    /// The run itself is refused.
    #[error(transparent)]
    Run(#[from] RunFault),
}

/// What was learned.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Fit {
    /// Factors and how well they are now known.
    pub known: Knowledge,
    /// Root mean square of what is left between readings and run, before and after.
    pub left_before: KelvinStep,
    /// After.
    pub left: KelvinStep,
    /// Which factors the readings told something of: their uncertainty shrank by a tenth or more. In the
    /// order losses, coupling, conduction, mixing.
    pub told: [bool; 4],
}

/// A thermocouple's own uncertainty and how closely it touches, together: 3 K (IEC 60584 class 2 allows
/// 2.5 K below 333 °C, from memory; the rest our judgement).
pub fn usual_uncertainty() -> KelvinStep {
    KelvinStep::whole(3)
}

/// Fits the four factors to `readings` of one run of `program` on `scene`, starting from `before`.
///
/// # Errors
/// [`LearnFault`], with the row of the reading where one is at fault.
pub fn learn(
    scene: &Scene,
    program: &Program,
    places: &[Place],
    readings: &[Reading],
    uncertain: KelvinStep,
    before: &Knowledge,
) -> Result<Fit, LearnFault> {
    if uncertain <= KelvinStep::ZERO {
        return Err(LearnFault::Certain { found: uncertain });
    }
    let problem = Problem {
        scene,
        program,
        places,
        readings: check(scene, program, places, readings)?,
        sigma_k: uncertain.kelvin(),
        before: *before,
        prior: inverse(before.covariance()).ok_or(LearnFault::Unsettled)?,
    };
    problem.fit()
}

/// A checked reading: index of its place, when, K, and its weight.
struct Checked {
    place: usize,
    when: When,
    read: Celsius,
    weight: f64,
}

fn check(
    scene: &Scene,
    program: &Program,
    places: &[Place],
    readings: &[Reading],
) -> Result<Vec<Checked>, LearnFault> {
    if readings.is_empty() {
        return Err(LearnFault::NoReadings);
    }
    let run_s = program.heat_for.s() + program.then_watch.s();
    let room = scene.room().air;
    let hottest = scene.tool().hottest().max(scene.base());
    let slack = KelvinStep::whole(5);
    let mut checked = Vec::with_capacity(readings.len());
    for (row, reading) in (1..).zip(readings) {
        let place = places
            .iter()
            .position(|place| place.id == reading.place)
            .ok_or_else(|| LearnFault::NoSuchPlace {
                row,
                found: reading.place.clone(),
                known: places
                    .iter()
                    .map(|p| format!("`{}`", p.id))
                    .collect::<Vec<_>>()
                    .join(", "),
            })?;
        if let When::At(at) = reading.when
            && at.s() > run_s
        {
            return Err(LearnFault::AfterTheEnd {
                row,
                at_s: at.s(),
                run_s,
            });
        }
        if !(room - slack..=hottest + slack).contains(&reading.read) {
            return Err(LearnFault::Impossible {
                row,
                found: reading.read,
                room,
                hottest,
            });
        }
        let same = readings
            .iter()
            .filter(|other| other.place == reading.place)
            .count() as f64;
        checked.push(Checked {
            place,
            when: reading.when,
            read: reading.read,
            weight: (INDEPENDENT / same).min(1.0).sqrt(),
        });
    }
    Ok(checked)
}

struct Problem<'a> {
    scene: &'a Scene,
    program: &'a Program,
    places: &'a [Place],
    readings: Vec<Checked>,
    sigma_k: f64,
    before: Knowledge,
    prior: [[f64; 4]; 4],
}

type Matrix = [[f64; 4]; 4];
/// Where a step led, and what was left there.
type Taken = ([f64; 4], Vec<f64>);

impl Problem<'_> {
    fn fit(&self) -> Result<Fit, LearnFault> {
        let mut logs = self.before.logs();
        let mut residuals = self.residuals(logs)?;
        let left_before = self.left(&residuals);
        let mut normal = self.normal(logs, &residuals)?;
        let mut settled = false;
        for _ in 0..MOST_STEPS {
            let step = self.step(logs, &normal)?;
            let Some((next, found)) = self.try_step(logs, step, &residuals)? else {
                settled = true;
                break;
            };
            let moved = (0..4).fold(0.0_f64, |most, i| most.max((next[i] - logs[i]).abs()));
            (logs, residuals) = (next, found);
            normal = self.normal(logs, &residuals)?;
            if moved < 1e-3 {
                settled = true;
                break;
            }
        }
        if !settled {
            return Err(LearnFault::Unsettled);
        }
        self.learned(logs, &residuals, &normal, left_before)
    }

    fn learned(
        &self,
        logs: [f64; 4],
        residuals: &[f64],
        normal: &Normal,
        left_before: f64,
    ) -> Result<Fit, LearnFault> {
        // Readings that scatter more than they should are believed less.
        let effective: f64 = self.readings.iter().map(|r| r.weight * r.weight).sum();
        let scatter = residuals.iter().map(|r| r * r).sum::<f64>() / effective;
        let mut information = self.prior;
        for (i, row) in information.iter_mut().enumerate() {
            for (j, value) in row.iter_mut().enumerate() {
                *value += normal.matrix[i][j] / scatter.max(1.0);
            }
        }
        let covariance = inverse(information).ok_or(LearnFault::Unsettled)?;
        let known = Knowledge::from_fit(logs, covariance);
        let (was, is) = (self.before.deviations(), known.deviations());
        Ok(Fit {
            known,
            left_before: KelvinStep::whole(1).scaled(left_before),
            left: KelvinStep::whole(1).scaled(self.left(residuals)),
            told: [0, 1, 2, 3].map(|i| is[i] <= 0.9 * was[i]),
        })
    }

    /// Halves the step until it helps; none if none does.
    fn try_step(
        &self,
        logs: [f64; 4],
        step: [f64; 4],
        residuals: &[f64],
    ) -> Result<Option<Taken>, LearnFault> {
        let cost = self.cost(logs, residuals);
        let mut share = 1.0;
        for _ in 0..8 {
            let next = [0, 1, 2, 3].map(|i| logs[i] + share * step[i].clamp(-1.0, 1.0));
            let found = self.residuals(next)?;
            if self.cost(next, &found) < cost {
                return Ok(Some((next, found)));
            }
            share *= 0.5;
        }
        Ok(None)
    }

    fn outcome(&self, logs: [f64; 4]) -> Result<Outcome, RunFault> {
        let scene = self.scene.clone().tuned(Tuning::from_logs(logs));
        run(&scene, self.program, self.places, Fineness::Fine)
    }

    /// Run minus reading, in standard deviations, weighted.
    fn residuals(&self, logs: [f64; 4]) -> Result<Vec<f64>, RunFault> {
        let outcome = self.outcome(logs)?;
        Ok(self
            .readings
            .iter()
            .map(|reading| {
                let heat = &outcome.places[reading.place];
                let run = match reading.when {
                    When::At(at) => heat.hottest_at(at),
                    When::Peak => heat.peak(),
                };
                reading.weight * (run - reading.read).kelvin() / self.sigma_k
            })
            .collect())
    }

    fn left(&self, residuals: &[f64]) -> f64 {
        let sum: f64 = residuals
            .iter()
            .zip(&self.readings)
            .map(|(r, reading)| (r / reading.weight * self.sigma_k).powi(2))
            .sum();
        (sum / residuals.len() as f64).sqrt()
    }

    fn cost(&self, logs: [f64; 4], residuals: &[f64]) -> f64 {
        let start = self.before.logs();
        let mut cost: f64 = residuals.iter().map(|r| r * r).sum();
        for i in 0..4 {
            for j in 0..4 {
                cost += (logs[i] - start[i]) * self.prior[i][j] * (logs[j] - start[j]);
            }
        }
        cost
    }

    fn normal(&self, logs: [f64; 4], residuals: &[f64]) -> Result<Normal, RunFault> {
        let mut columns = Vec::with_capacity(4);
        for i in 0..4 {
            let mut nudged = logs;
            nudged[i] += NUDGE;
            let moved = self.residuals(nudged)?;
            columns.push(
                moved
                    .iter()
                    .zip(residuals)
                    .map(|(a, b)| (a - b) / NUDGE)
                    .collect::<Vec<_>>(),
            );
        }
        let dot = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(x, y)| x * y).sum::<f64>();
        let mut normal = Normal {
            matrix: [[0.0; 4]; 4],
            right: [0.0; 4],
        };
        for i in 0..4 {
            normal.right[i] = dot(&columns[i], residuals);
            for j in 0..4 {
                normal.matrix[i][j] = dot(&columns[i], &columns[j]);
            }
        }
        Ok(normal)
    }

    fn step(&self, logs: [f64; 4], normal: &Normal) -> Result<[f64; 4], LearnFault> {
        let start = self.before.logs();
        let mut matrix = self.prior;
        let mut right = normal.right;
        for i in 0..4 {
            for j in 0..4 {
                right[i] += self.prior[i][j] * (logs[j] - start[j]);
                matrix[i][j] += normal.matrix[i][j];
            }
        }
        let inverse = inverse(matrix).ok_or(LearnFault::Unsettled)?;
        Ok([0, 1, 2, 3].map(|i| -(0..4).map(|j| inverse[i][j] * right[j]).sum::<f64>()))
    }
}

struct Normal {
    matrix: Matrix,
    right: [f64; 4],
}

/// Inverse by elimination with pivots; none if singular. Made symmetric again at the end.
fn inverse(mut a: Matrix) -> Option<Matrix> {
    let mut b: Matrix = [[0.0; 4]; 4];
    for (i, row) in b.iter_mut().enumerate() {
        row[i] = 1.0;
    }
    for column in 0..4 {
        let pivot =
            (column..4).max_by(|p, q| a[*p][column].abs().total_cmp(&a[*q][column].abs()))?;
        a.swap(column, pivot);
        b.swap(column, pivot);
        let head = a[column][column];
        if !head.is_finite() || head.abs() < 1e-12 {
            return None;
        }
        for k in 0..4 {
            a[column][k] /= head;
            b[column][k] /= head;
        }
        for row in (0..4).filter(|row| *row != column) {
            let factor = a[row][column];
            for k in 0..4 {
                a[row][k] -= factor * a[column][k];
                b[row][k] -= factor * b[column][k];
            }
        }
    }
    let mut symmetric = b;
    for i in 0..4 {
        for j in 0..4 {
            symmetric[i][j] = f64::midpoint(b[i][j], b[j][i]);
        }
    }
    Some(symmetric)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn inverse_times_matrix_is_one() {
        let a = [
            [4.0, 1.0, 0.5, 0.0],
            [1.0, 3.0, 0.2, 0.1],
            [0.5, 0.2, 2.0, 0.3],
            [0.0, 0.1, 0.3, 1.0],
        ];
        let b = inverse(a).unwrap();
        for (i, row) in a.iter().enumerate() {
            for j in 0..4 {
                let product: f64 = row.iter().zip(&b).map(|(x, other)| x * other[j]).sum();
                assert!((product - f64::from(u8::from(i == j))).abs() < 1e-12);
            }
        }
        assert!(inverse([[1.0; 4]; 4]).is_none());
    }
}
