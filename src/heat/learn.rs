//! Learning from thermocouples: readings of runs with one tool move the guessed factors and narrow
//! them.
//!
//! Least squares on the logarithms of the factors with what was known before as one more reading of each
//! (Gauss–Newton with step halving; C. D. Rodgers, *Inverse Methods for Atmospheric Sounding*, World
//! Scientific 2000, ch. 5; from memory). One reading is enough: it moves what it depends on and leaves
//! the rest as uncertain as it was.
//!
//! No board is as it is described. So each place that was read has an unknown of its own, a share of its rise
//! by which the board is off there: readings of one place never say more of the factors than that leaves.
//! Where readings scatter more than thermocouples and such shares explain, the description does not fit:
//! the band widens with what is left, and [`Fit::misfit`] says so.
//!
//! The fit is a function of the set of runs: their order means nothing, and nothing is remembered from an
//! earlier fit.

use std::collections::BTreeMap;

use rayon::prelude::*;

use super::knowledge::{Each, Knowledge, Matrix, STRUCTURE};
use super::plate::{Fineness, Outcome, Place, Program, RunFault, run};
use super::scene::{FACTORS, Scene, Tuning};
use super::units::Seconds;
use crate::quantity::{Celsius, KelvinStep};

/// One thermocouple is wrong in the same way all along a run, and so is the model: however many
/// readings of one place there are, they count as so many (our judgement).
const INDEPENDENT: f64 = 12.0;
/// Change of a factor's logarithm for its derivative.
const NUDGE: f64 = 0.02;
/// Steps before giving up.
const MOST_STEPS: usize = 20;

/// One run of a tool, and what was read meanwhile.
#[derive(Clone, Debug, PartialEq)]
pub struct Trial {
    /// Board, room, tool, preheat.
    pub scene: Scene,
    /// What the hand did.
    pub program: Program,
    /// Where thermocouples were, and the place that the tool went by.
    pub places: Vec<Place>,
    /// What they showed.
    pub readings: Vec<Reading>,
    /// How uncertain each reading is, with how closely it touched.
    pub uncertain: KelvinStep,
}

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
    /// Root mean square of what is left between readings and runs, before and after.
    pub left_before: KelvinStep,
    /// After.
    pub left: KelvinStep,
    /// Which factors the readings told something of: their uncertainty shrank by a tenth or more. In the
    /// order of [`Tuning`].
    pub told: [bool; FACTORS],
    /// What is left is beyond what thermocouples and the usual doubt about boards explain: the description
    /// does not fit the board.
    pub misfit: bool,
}

/// A thermocouple's own uncertainty and how closely it touches, together: 3 K (IEC 60584 class 2 allows
/// 2.5 K below 333 °C, from memory; the rest our judgement).
pub fn usual_uncertainty() -> KelvinStep {
    KelvinStep::whole(3)
}

/// Fits the factors to `trials`, all with one kind of tool, starting from `before`.
///
/// # Errors
/// [`LearnFault`], with the row of the reading in its trial where one is at fault.
pub fn learn(trials: &[Trial], before: &Knowledge) -> Result<Fit, LearnFault> {
    let mut shares: BTreeMap<String, usize> = BTreeMap::new();
    let mut runs = Vec::with_capacity(trials.len());
    for trial in trials {
        let readings = check(trial)?
            .into_iter()
            .map(|reading| Checked {
                share: {
                    let next = shares.len();
                    let at = &trial.places[reading.place].at;
                    *shares.entry(format!("{at:?}")).or_insert(next)
                },
                ..reading
            })
            .collect();
        runs.push(Run { trial, readings });
    }
    let mut readings_of = vec![0.0; shares.len()];
    for reading in runs.iter().flat_map(|run| &run.readings) {
        readings_of[reading.share] += 1.0;
    }
    if readings_of.is_empty() {
        return Err(LearnFault::NoReadings);
    }
    let problem = Problem {
        runs,
        weights: readings_of
            .iter()
            .map(|of| (INDEPENDENT / of).min(1.0).sqrt())
            .collect(),
        before: *before,
        prior: inverse(&rows(&before.covariance())).ok_or(LearnFault::Unsettled)?,
    };
    problem.fit()
}

/// A checked reading.
#[derive(Clone, Copy)]
struct Checked {
    /// Index of its place in the trial.
    place: usize,
    /// Index of the share by which the board is off at that point, the same in all trials.
    share: usize,
    when: When,
    read: Celsius,
}

impl Trial {
    /// Whether it can be learned from at all.
    ///
    /// # Errors
    /// [`LearnFault`], with the row of the reading where one is at fault.
    pub fn check(&self) -> Result<(), LearnFault> {
        check(self).map(|_| ())
    }
}

fn check(trial: &Trial) -> Result<Vec<Checked>, LearnFault> {
    let Trial {
        scene,
        program,
        places,
        readings,
        uncertain,
    } = trial;
    if *uncertain <= KelvinStep::ZERO {
        return Err(LearnFault::Certain { found: *uncertain });
    }
    for place in places {
        let held = scene.holds(&format!("`{}`", place.id), place.at);
        held.map_err(RunFault::from)?;
    }
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
        checked.push(Checked {
            place,
            share: 0,
            when: reading.when,
            read: reading.read,
        });
    }
    Ok(checked)
}

struct Run<'a> {
    trial: &'a Trial,
    readings: Vec<Checked>,
}

struct Problem<'a> {
    runs: Vec<Run<'a>>,
    /// Of a reading, by its share.
    weights: Vec<f64>,
    before: Knowledge,
    /// Inverse of what was known before.
    prior: Rows,
}

type Rows = Vec<Vec<f64>>;

/// The unknowns: logarithms of the factors, and the share by which the board is off at each point.
#[derive(Clone)]
struct Unknowns {
    logs: Each,
    shares: Vec<f64>,
}

/// Run minus room or preheat for each reading, and what was read less the same.
type Rises = Vec<f64>;

impl Problem<'_> {
    fn fit(&self) -> Result<Fit, LearnFault> {
        let mut now = Unknowns {
            logs: self.before.logs(),
            shares: vec![0.0; self.weights.len()],
        };
        let mut rises = self.rises(now.logs, Fineness::Fine)?;
        let left_before = self.left(&now, &rises);
        let mut settled = false;
        for _ in 0..MOST_STEPS {
            let (matrix, right) = self.normal(&now, &rises)?;
            let step = solve(&matrix, &right).ok_or(LearnFault::Unsettled)?;
            let Some((next, found)) = self.try_step(&now, &step, &rises)? else {
                settled = true;
                break;
            };
            let moved = (0..FACTORS).fold(0.0_f64, |most, i| {
                most.max((next.logs[i] - now.logs[i]).abs())
            });
            (now, rises) = (next, found);
            if moved < 1e-3 {
                settled = true;
                break;
            }
        }
        if !settled {
            return Err(LearnFault::Unsettled);
        }
        self.learned(&now, &rises, left_before)
    }

    fn learned(&self, now: &Unknowns, rises: &Rises, left_before: f64) -> Result<Fit, LearnFault> {
        // What readings, shares and factors are off together, in their own deviations, is about the number of
        // readings where all of them are what they are taken for.
        let count: f64 = self
            .readings()
            .map(|(_, r)| self.weights[r.share].powi(2))
            .sum();
        let cost = self.cost(now, rises);
        let scatter = (cost / count).max(1.0);
        let (matrix, _) = self.normal(now, rises)?;
        let mut information = matrix;
        for (i, row) in information.iter_mut().enumerate() {
            for (j, value) in row.iter_mut().enumerate() {
                let prior = self.prior_of(i, j);
                *value = prior + (*value - prior) / scatter;
            }
        }
        let all = inverse(&information).ok_or(LearnFault::Unsettled)?;
        let mut covariance: Matrix = [[0.0; FACTORS]; FACTORS];
        for (i, row) in covariance.iter_mut().enumerate() {
            row.copy_from_slice(&all[i][..FACTORS]);
        }
        let structure = (self.before.structure() * scatter.sqrt()).min(1.0);
        let known = Knowledge::from_fit(now.logs, &covariance, structure);
        let (was, is) = (self.before.deviations(), known.deviations());
        let mut told = [false; FACTORS];
        for (i, told) in told.iter_mut().enumerate() {
            *told = is[i] <= 0.9 * was[i];
        }
        Ok(Fit {
            known,
            left_before: KelvinStep::whole(1).scaled(left_before),
            left: KelvinStep::whole(1).scaled(self.left(now, rises)),
            told,
            // Two deviations of that number.
            misfit: cost > count + 2.0 * (2.0 * count).sqrt(),
        })
    }

    fn readings(&self) -> impl Iterator<Item = (&Trial, &Checked)> {
        self.runs
            .iter()
            .flat_map(|run| run.readings.iter().map(|reading| (run.trial, reading)))
    }

    /// Halves the step until it helps; none if none does.
    fn try_step(
        &self,
        now: &Unknowns,
        step: &[f64],
        rises: &Rises,
    ) -> Result<Option<(Unknowns, Rises)>, LearnFault> {
        let cost = self.cost(now, rises);
        let mut share = 1.0;
        for _ in 0..8 {
            let mut next = now.clone();
            for (log, step) in next.logs.iter_mut().zip(step) {
                *log += share * step.clamp(-1.0, 1.0);
            }
            for (own, step) in next.shares.iter_mut().zip(&step[FACTORS..]) {
                *own += share * step;
            }
            let found = self.rises(next.logs, Fineness::Fine)?;
            if self.cost(&next, &found) < cost {
                return Ok(Some((next, found)));
            }
            share *= 0.5;
        }
        Ok(None)
    }

    /// How far the runs with these factors rise above the board before the tool, at each reading, K.
    fn rises(&self, logs: Each, fineness: Fineness) -> Result<Rises, RunFault> {
        let outcomes = self
            .runs
            .par_iter()
            .map(|run_of| {
                let trial = run_of.trial;
                let scene = trial.scene.clone().tuned(Tuning::from_logs(logs));
                run(&scene, &trial.program, &trial.places, fineness)
            })
            .collect::<Result<Vec<Outcome>, _>>()?;
        let mut rises = Vec::new();
        for (run, outcome) in self.runs.iter().zip(&outcomes) {
            for reading in &run.readings {
                let heat = &outcome.places[reading.place];
                let at = match reading.when {
                    When::At(at) => heat.hottest_at(at),
                    When::Peak => heat.peak(),
                };
                rises.push((at - run.trial.scene.base()).kelvin());
            }
        }
        Ok(rises)
    }

    /// Run minus reading, in standard deviations, weighted.
    fn residuals<'s>(
        &'s self,
        now: &'s Unknowns,
        rises: &'s Rises,
    ) -> impl Iterator<Item = f64> + 's {
        self.readings().zip(rises).map(|((trial, reading), rise)| {
            let read = (reading.read - trial.scene.base()).kelvin();
            let run = rise * (1.0 + now.shares[reading.share]);
            self.weights[reading.share] * (run - read) / trial.uncertain.kelvin()
        })
    }

    /// Root mean square of what the factors alone leave, K.
    fn left(&self, now: &Unknowns, rises: &Rises) -> f64 {
        let bare = Unknowns {
            logs: now.logs,
            shares: vec![0.0; now.shares.len()],
        };
        let sum: f64 = self
            .residuals(&bare, rises)
            .zip(self.readings())
            .map(|(residual, (trial, reading))| {
                (residual / self.weights[reading.share] * trial.uncertain.kelvin()).powi(2)
            })
            .sum();
        (sum / rises.len() as f64).sqrt()
    }

    fn prior_of(&self, i: usize, j: usize) -> f64 {
        if i < FACTORS && j < FACTORS {
            self.prior[i][j]
        } else if i == j {
            1.0 / (STRUCTURE * STRUCTURE)
        } else {
            0.0
        }
    }

    /// Distance of every unknown from what was known of it.
    fn off(&self, now: &Unknowns) -> Vec<f64> {
        let start = self.before.logs();
        let logs = now.logs.iter().zip(start).map(|(now, start)| now - start);
        logs.chain(now.shares.iter().copied()).collect()
    }

    fn cost(&self, now: &Unknowns, rises: &Rises) -> f64 {
        let off = self.off(now);
        let mut cost: f64 = self.residuals(now, rises).map(|r| r * r).sum();
        for (i, one) in off.iter().enumerate() {
            for (j, other) in off.iter().enumerate() {
                cost += one * self.prior_of(i, j) * other;
            }
        }
        cost
    }

    /// Normal matrix with what was known before, and the right side of the next step.
    fn normal(&self, now: &Unknowns, rises: &Rises) -> Result<(Rows, Vec<f64>), LearnFault> {
        let count = FACTORS + now.shares.len();
        let coarse = self.rises(now.logs, Fineness::Coarse)?;
        let slopes = (0..FACTORS)
            .into_par_iter()
            .map(|i| {
                let mut nudged = now.logs;
                nudged[i] += NUDGE;
                let moved = self.rises(nudged, Fineness::Coarse)?;
                let slopes = moved.iter().zip(&coarse).map(|(a, b)| (a - b) / NUDGE);
                Ok(slopes.collect::<Vec<f64>>())
            })
            .collect::<Result<Vec<_>, RunFault>>()?;
        let mut matrix = vec![vec![0.0; count]; count];
        let mut right = vec![0.0; count];
        let off = self.off(now);
        for i in 0..count {
            for j in 0..count {
                matrix[i][j] = self.prior_of(i, j);
                right[i] -= matrix[i][j] * off[j];
            }
        }
        let residuals = self.residuals(now, rises).collect::<Vec<_>>();
        for (at, (trial, reading)) in self.readings().enumerate() {
            let scale = self.weights[reading.share] / trial.uncertain.kelvin();
            let mut row = vec![0.0; count];
            for i in 0..FACTORS {
                row[i] = scale * slopes[i][at] * (1.0 + now.shares[reading.share]);
            }
            row[FACTORS + reading.share] = scale * rises[at];
            for i in 0..count {
                right[i] -= row[i] * residuals[at];
                for j in 0..count {
                    matrix[i][j] += row[i] * row[j];
                }
            }
        }
        Ok((matrix, right))
    }
}

fn rows(matrix: &Matrix) -> Rows {
    matrix.iter().map(|row| row.to_vec()).collect()
}

fn solve(matrix: &Rows, right: &[f64]) -> Option<Vec<f64>> {
    let inverse = inverse(matrix)?;
    let dot = |row: &Vec<f64>| row.iter().zip(right).map(|(a, b)| a * b).sum();
    Some(inverse.iter().map(dot).collect())
}

/// Inverse by elimination with pivots; none if singular. Made symmetric again at the end.
fn inverse(matrix: &Rows) -> Option<Rows> {
    let count = matrix.len();
    let mut a = matrix.clone();
    let mut b = vec![vec![0.0; count]; count];
    for (i, row) in b.iter_mut().enumerate() {
        row[i] = 1.0;
    }
    for column in 0..count {
        let pivot =
            (column..count).max_by(|p, q| a[*p][column].abs().total_cmp(&a[*q][column].abs()))?;
        a.swap(column, pivot);
        b.swap(column, pivot);
        let head = a[column][column];
        if !head.is_finite() || head.abs() < 1e-12 {
            return None;
        }
        for k in 0..count {
            a[column][k] /= head;
            b[column][k] /= head;
        }
        for row in (0..count).filter(|row| *row != column) {
            let factor = a[row][column];
            for k in 0..count {
                a[row][k] -= factor * a[column][k];
                b[row][k] -= factor * b[column][k];
            }
        }
    }
    let mut symmetric = b.clone();
    for i in 0..count {
        for j in 0..count {
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
        let a = vec![
            vec![4.0, 1.0, 0.5, 0.0],
            vec![1.0, 3.0, 0.2, 0.1],
            vec![0.5, 0.2, 2.0, 0.3],
            vec![0.0, 0.1, 0.3, 1.0],
        ];
        let b = inverse(&a).unwrap();
        for (i, row) in a.iter().enumerate() {
            for j in 0..4 {
                let product: f64 = row.iter().zip(&b).map(|(x, other)| x * other[j]).sum();
                assert!((product - f64::from(u8::from(i == j))).abs() < 1e-12);
            }
        }
        assert!(inverse(&vec![vec![1.0; 4]; 4]).is_none());
    }
}
