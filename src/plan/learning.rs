//! Learning from the readings of a job: where they were taken, and what the fit makes of all that stand.
//!
//! The fit starts from what is known of any bench, not from an earlier fit: a reading that is taken back is
//! gone, one that is told twice counts once.

use crate::bench::{self, LimitOf, Setting};
use crate::heat::learn::usual_uncertainty;
use crate::heat::{
    self, Face, Fit, LearnFault, Place as HeatPlace, Point, Program, Reading, Seconds, Trial,
    Until, When,
};
use crate::job::learned::{Kind, step_read, step_with};
use crate::job::{GuardIx, Job, JointIx, Learned, ReadingFile, Where};
use crate::melt::MeltBook;
use crate::quantity::{Celsius, Length, NotAQuantity};

use super::check::{Checked, CheckedStep, Place, check};
use super::step_heat::{NoField, SetUp, is_cooled};
use super::written::as_written;

/// One reading as it was written down.
#[derive(Clone, Debug, PartialEq)]
pub struct Read {
    /// Id of a joint or guard, or a point of the board in mm: `40 26`.
    pub place: String,
    /// Seconds since the tool came; `None` for the hottest of the run.
    pub after_s: Option<f64>,
    /// What the thermocouple showed.
    pub read: Celsius,
}

/// What was learned of one kind of tool.
#[derive(Clone, Debug)]
pub struct Learning {
    /// Of which.
    pub kind: Kind,
    /// What is known of any bench.
    pub before: heat::Knowledge,
    /// The fit.
    pub fit: Fit,
    /// How many readings.
    pub readings: usize,
    /// In how many runs.
    pub runs: usize,
}

/// What all readings of a job teach.
#[derive(Clone, Debug, Default)]
pub struct Learnt {
    /// For each kind of tool that was read.
    pub of: Vec<Learning>,
    /// Lines of the log and files that teach nothing, and why.
    pub silent: Vec<Silent>,
}

/// Readings that teach nothing.
#[derive(Clone, Debug)]
pub struct Silent {
    /// What they are known by: of a file it ends with its hash.
    pub key: String,
    /// Of which step.
    pub step: String,
    /// Why they teach nothing.
    pub why: NotLearned,
}

/// Why nothing was learned.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum NotLearned {
    /// No heat is computed for the step.
    #[error(transparent)]
    Field(#[from] NoField),
    /// A place that is none.
    #[error(
        "reading {row}: `{found}` is no joint or guard with `at_mm`, and no point such as `40 26`{near}"
    )]
    NoPlace {
        /// From 1.
        row: usize,
        /// As written.
        found: String,
        /// The nearest valid word, with its introduction.
        near: String,
    },
    /// None of its places lies on the face of the board.
    #[error("none of it was read at a joint or guard with `at_mm`: bodies and zones teach nothing")]
    NothingOnBoard,
    /// Cooled places only.
    #[error(
        "all of it was read below a shield or with a heat sink in place, which says nothing of bare places"
    )]
    Cooled,
    /// Nobody says how long the tool stayed.
    #[error("how long the tool stayed is not said: want `seconds` in the step")]
    NoTime,
    /// The fit.
    #[error(transparent)]
    Fit(#[from] LearnFault),
    /// A time that is none.
    #[error(transparent)]
    Time(#[from] NotAQuantity),
}

/// Fits the factors of each kind of tool to all that was read: lines of the log, and files with what stands in
/// them.
///
/// # Errors
/// [`LearnFault`] where a fit does not come to rest.
pub fn learn_all(
    job: &Job,
    melts: &MeltBook,
    files: &[(ReadingFile, Vec<Read>)],
) -> Result<Learnt, LearnFault> {
    // What was learned must not shape what is learned from.
    let job = Job {
        learned: Learned::default(),
        ..job.clone()
    };
    let setting = Setting::new(&job, melts);
    let checked = check(&setting, &as_written(&job).plan);
    let mut learnt = Learnt::default();
    for kind in Kind::ALL {
        let mut trials: Vec<(String, Trial)> = Vec::new();
        // In the order of what was read, so that the order of the lines says nothing.
        let mut take = |key: String, step: &str, trial: Result<Trial, NotLearned>| match trial {
            Ok(trial) => trials.push((key, trial)),
            Err(why) => learnt.silent.push(Silent {
                key,
                step: step.to_owned(),
                why,
            }),
        };
        for (at, step) in checked.steps.iter().enumerate() {
            let Some(event) = &step.planned.log else {
                continue;
            };
            if step_read(&job, event, kind).is_some() {
                let named = named(&job, &event.sees);
                let trial = match named.as_slice() {
                    [] => Err(NotLearned::NothingOnBoard),
                    readings => trial(&setting, &checked, at, (None, event.peak), readings, None),
                };
                // The same line logged for another run is another run.
                take(
                    format!("log {} {named:?} {:?}", event.step, event.peak),
                    &event.step,
                    trial,
                );
            }
        }
        for (file, readings) in files {
            if step_with(&job, &file.step, kind).is_some() {
                let of = |step: &CheckedStep| step.planned.step.id == file.step;
                let Some(at) = checked.steps.iter().rposition(of) else {
                    continue;
                };
                let when = (file.seconds, None);
                let trial = trial(&setting, &checked, at, when, readings, Some(file));
                take(format!("file {}", file.hash), &file.step, trial);
            }
        }
        trials.sort_by(|(one, _), (other, _)| one.cmp(other));
        let trials: Vec<Trial> = trials.into_iter().map(|(_, trial)| trial).collect();
        let Some(first) = trials.first() else {
            continue;
        };
        let before = job.known_of(first.scene.tool());
        learnt.of.push(Learning {
            kind,
            before,
            fit: heat::learn(&trials, &before)?,
            readings: trials.iter().map(|trial| trial.readings.len()).sum(),
            runs: trials.len(),
        });
    }
    Ok(learnt)
}

/// Readings of a log line at joints and guards, in the order of the places.
fn named(job: &Job, sees: &[(Where, Celsius)]) -> Vec<Read> {
    let mut named: Vec<Read> = sees
        .iter()
        .filter_map(|(place, read)| {
            let id = match place {
                Where::Joint(joint) => &job.joints[joint.0].id,
                Where::Guard(guard) => &job.guards[guard.0].id,
                _ => return None,
            };
            Some(Read {
                place: id.clone(),
                after_s: None,
                read: *read,
            })
        })
        .collect();
    named.sort_by(|one, other| one.place.cmp(&other.place));
    named
}

/// A run of step `at` and what was read meanwhile, found fit to learn from.
///
/// The tool stayed so many seconds, else as long as the step says; and no longer than until all of the target
/// was at the peak, where that was read.
fn trial(
    setting: &Setting,
    checked: &Checked,
    at: usize,
    (seconds, peak): (Option<u32>, Option<Celsius>),
    readings: &[Read],
    file: Option<&ReadingFile>,
) -> Result<Trial, NotLearned> {
    let step = &checked.steps[at];
    let set_up = SetUp::of(setting, step)?;
    let longest = seconds.or(set_up.heat.way.seconds);
    let longest = longest
        .or(peak.map(|_| bench::LONGEST_S))
        .ok_or(NotLearned::NoTime)?;
    let bare =
        |(_, reading): &(usize, &Read)| !is_cooled_at(setting.job(), step, &set_up, &reading.place);
    let told_of_bare: Vec<(usize, &Read)> = (1..).zip(readings).filter(bare).collect();
    if told_of_bare.is_empty() && !readings.is_empty() {
        return Err(NotLearned::Cooled);
    }
    let target = set_up.target_place();
    let mut places = vec![target.clone()];
    let mut told = Vec::with_capacity(readings.len());
    for &(row, reading) in &told_of_bare {
        let point = point(setting.job(), row, &reading.place)?;
        if !places.iter().any(|place| place.id == reading.place) {
            places.push(HeatPlace {
                id: reading.place.clone(),
                at: point,
                reach: Length::nearest_um(0.0),
                face: Face::Tool,
            });
        }
        told.push(Reading {
            place: reading.place.clone(),
            when: match reading.after_s {
                Some(after) => When::At(Seconds::from_s(after)?),
                None => When::Peak,
            },
            read: reading.read,
        });
    }
    let last = told_of_bare
        .iter()
        .filter_map(|(_, reading)| reading.after_s)
        .fold(0.0, f64::max);
    let program = Program {
        heat_for: Seconds::from_s(f64::from(longest))?,
        until: peak.map(|coolest| Until {
            id: target.id,
            coolest,
        }),
        then_watch: Seconds::from_s((last - f64::from(longest) + 1.0).max(bench::WATCH_S))?,
    };
    let uncertain = file.and_then(|file| file.uncertain);
    let trial = Trial {
        scene: set_up.scene,
        program,
        places,
        readings: told,
        uncertain: uncertain.unwrap_or_else(usual_uncertainty),
    };
    trial.check()?;
    Ok(trial)
}

/// Whether a reading was taken where a shield keeps heat off or a heat sink draws it off.
fn is_cooled_at(job: &Job, step: &CheckedStep, set_up: &SetUp, place: &str) -> bool {
    let joint = job.joints.iter().position(|joint| joint.id == place);
    let guard = job.guards.iter().position(|guard| guard.id == place);
    let of = (joint.map(|joint| Place::Joint(JointIx(joint))))
        .or(guard.map(|guard| Place::Limit(LimitOf::Guard(GuardIx(guard)))));
    of.is_some_and(|of| is_cooled(job, step, &set_up.heat, of))
}

/// Where a reading was taken.
fn point(job: &Job, row: usize, place: &str) -> Result<Point, NotLearned> {
    let joint = job.joints.iter().position(|joint| joint.id == place);
    let guard = job.guards.iter().position(|guard| guard.id == place);
    let named = match (joint, guard) {
        (Some(joint), _) => bench::of_joint(job, JointIx(joint)).at,
        (None, Some(guard)) => bench::of_guard(job, GuardIx(guard)).at,
        (None, None) => None,
    };
    let numbers: Vec<f64> = place
        .split_whitespace()
        .filter_map(|number| number.parse().ok())
        .collect();
    let found = match (named, numbers.as_slice()) {
        (Some(point), _) => bench::on_board(point),
        (None, [x, y]) => Point::from_mm(*x, *y).ok(),
        _ => None,
    };
    found.ok_or_else(|| {
        let ids = job.joints.iter().map(|joint| joint.id.as_str());
        let ids = ids.chain(job.guards.iter().map(|guard| guard.id.as_str()));
        let near = crate::nearest::nearest(place, ids, 1);
        NotLearned::NoPlace {
            row,
            found: place.to_owned(),
            near: near
                .first()
                .map_or_else(String::new, |near| format!("; the nearest is `{near}`")),
        }
    })
}
