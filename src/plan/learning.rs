//! Learning from readings of one step of a job: where they were taken, and what the fit makes of them.

use crate::bench::{self, For, Setting};
use crate::heat::learn::usual_uncertainty;
use crate::heat::{
    self, Face, Fit, LearnFault, Place as HeatPlace, Point, Program, Reading, Seconds, Until, When,
};
use crate::job::{GuardIx, Job, JointIx};
use crate::quantity::{Celsius, KelvinStep, Length, NotAQuantity};

use super::check::Checked;
use super::step_heat::{NoField, SetUp};

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

/// What was learned from a step.
#[derive(Clone, Debug)]
pub struct Learning {
    /// With what it was heated.
    pub tool: heat::Tool,
    /// What was known before.
    pub before: heat::Knowledge,
    /// The fit.
    pub fit: Fit,
    /// How many readings.
    pub readings: usize,
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

/// Fits the factors of the tool of step `at` to what was read.
///
/// The tool stayed `seconds`, else as long as the step says; and no longer than until all of the target
/// was at `peak`, where that was read.
///
/// # Errors
/// [`NotLearned`].
pub fn learn_from(
    setting: &Setting,
    checked: &Checked,
    at: usize,
    (seconds, peak): (Option<u32>, Option<Celsius>),
    readings: &[Read],
    uncertain: Option<KelvinStep>,
) -> Result<Learning, NotLearned> {
    /// Longest that a tool stays where only the peak at its target was read, s.
    const LONGEST_S: u32 = 300;
    let step = &checked.steps[at];
    let set_up = SetUp::of(setting, step)?;
    let longest = seconds.or(set_up.heat.way.seconds);
    let longest = longest
        .or(peak.map(|_| LONGEST_S))
        .ok_or(NotLearned::NoTime)?;
    let target = set_up.target_place();
    let mut places = vec![target.clone()];
    let mut told = Vec::with_capacity(readings.len());
    for (row, reading) in (1..).zip(readings) {
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
    let last = readings
        .iter()
        .filter_map(|r| r.after_s)
        .fold(0.0, f64::max);
    let program = Program {
        heat_for: Seconds::from_s(f64::from(longest))?,
        until: peak.map(|coolest| Until {
            id: target.id,
            coolest,
        }),
        then_watch: Seconds::from_s((last - f64::from(longest) + 1.0).max(bench::WATCH_S))?,
    };
    let tool = *set_up.scene.tool();
    let before = setting.job().learned.of(&tool);
    let uncertain = uncertain.unwrap_or_else(usual_uncertainty);
    let scene = bench::scene(setting.job(), &set_up.heat, set_up.point(), For::Target);
    let fit = heat::learn(
        scene.as_ref().unwrap_or(&set_up.scene),
        &program,
        &places,
        &told,
        uncertain,
        &before,
    )?;
    Ok(Learning {
        tool,
        before,
        fit,
        readings: readings.len(),
    })
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
