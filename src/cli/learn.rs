//! `learn JOB READINGS`: factors fitted to a thermocouple's readings, kept in the job file.

use std::path::Path;

use serde_json::json;

use crate::bench::Setting;
use crate::heat::{Kept, Knowledge};
use crate::job::kept;
use crate::plan::{self, Learning, Read};
use crate::quantity::{Celsius, KelvinStep};
use crate::yaml;

use super::args::LearnArgs;
use super::{Desk, Said, WrongInput, files, heat, job_verbs, log, said};

/// The four factors, as they are told.
const FACTORS: [&str; 4] = ["losses", "coupling", "conduction", "mixing"];

/// `learn JOB READINGS`.
pub(super) fn learn(desk: &mut Desk, args: &LearnArgs) -> Result<Said, WrongInput> {
    let text = log::text_of(&args.job)?;
    let readings = readings(&args.readings)?;
    let uncertain = args
        .uncertain
        .map(KelvinStep::new)
        .transpose()
        .map_err(WrongInput::new)?;
    let step = step(desk, args)?;
    let asked = Asked {
        step: &step,
        seconds: args.seconds,
        peak: None,
        readings: &readings,
        uncertain,
    };
    let (longer, learned) = learned(desk, &args.job, &text, &asked)?.map_err(WrongInput::new)?;
    log::keep(desk, &args.job, &longer)?;
    let line = format!(
        "learned from {} readings of {step}: {:.1} K off before, {:.1} K after",
        learned.readings,
        learned.fit.left_before.kelvin(),
        learned.fit.left.kelvin()
    );
    Ok(said(
        desk,
        0,
        || {
            format!(
                "{line}\n\n{}\nkept in {} under `learned`; delete the line to forget it",
                told(&learned),
                args.job.display()
            )
        },
        || {
            json!({
                "meltstair": "learn/1",
                "line": line,
                "tool": kept::key_of(&learned.tool),
                "readings": learned.readings,
                "left_before_k": learned.fit.left_before,
                "left_k": learned.fit.left,
                "factors": FACTORS.iter().enumerate().map(|(at, name)| json!({
                    "factor": name,
                    "value": Kept::from(learned.fit.known).factors[at],
                    "deviation": learned.fit.known.deviations()[at],
                    "deviation_before": learned.before.deviations()[at],
                    "told": learned.fit.told[at],
                })).collect::<Vec<_>>(),
            })
        },
    ))
}

/// What is asked of a fit.
pub(super) struct Asked<'a> {
    pub(super) step: &'a str,
    pub(super) seconds: Option<u32>,
    pub(super) peak: Option<Celsius>,
    pub(super) readings: &'a [Read],
    pub(super) uncertain: Option<KelvinStep>,
}

/// The text of a job with what its readings taught, not yet written; the inner error says why they taught
/// nothing.
pub(super) fn learned(
    desk: &mut Desk,
    job: &Path,
    text: &str,
    asked: &Asked,
) -> Result<Result<(String, Learning), String>, WrongInput> {
    let shown = job.display().to_string();
    let read = crate::job::read(text, &shown, &desk.book).map_err(WrongInput::new)?;
    let melts = job_verbs::melts(desk, &read.job);
    job_verbs::step(&read.job, asked.step)?;
    let setting = Setting::new(&read.job, &melts);
    let checked = plan::check(&setting, &plan::as_written(&read.job).plan);
    let at = heat::position(&checked, asked.step)?;
    let when = (asked.seconds, asked.peak);
    let learned = match plan::learn_from(
        &setting,
        &checked,
        at,
        when,
        asked.readings,
        asked.uncertain,
    ) {
        Ok(learned) => learned,
        Err(no) => return Ok(Err(no.to_string())),
    };
    let kept = Kept::from(learned.fit.known);
    let longer = kept::keep(text, kept::key_of(&learned.tool), &kept);
    Ok(longer
        .map(|longer| (longer, learned))
        .map_err(|no| no.to_string()))
}

/// The factors, before and after, in lines.
fn told(learned: &Learning) -> String {
    let line = |at: usize| {
        let of = |known: &Knowledge| {
            let factor = Kept::from(*known).factors[at];
            format!("{factor:.2} (± {:.0} %)", known.deviations()[at] * 100.0)
        };
        let silent = if learned.fit.told[at] {
            ""
        } else {
            ": these readings say little of it"
        };
        format!(
            "  {:<10}  {} → {}{silent}\n",
            FACTORS[at],
            of(&learned.before),
            of(&learned.fit.known)
        )
    };
    (0..4).map(line).collect()
}

/// The step that was read: as asked, else the only one with a tool in physical terms.
fn step(desk: &mut Desk, args: &LearnArgs) -> Result<String, WrongInput> {
    if let Some(step) = &args.step {
        return Ok(step.clone());
    }
    let read = job_verbs::read(desk, &args.job)?;
    let described: Vec<&str> = read
        .job
        .steps
        .iter()
        .filter(|step| step.ways.iter().any(|way| way.described.is_some()))
        .map(|step| step.id.as_str())
        .collect();
    match described.as_slice() {
        [only] => Ok((*only).to_owned()),
        [] => Err(WrongInput::new(
            "no step of the job describes its tool: there is nothing to learn for",
        )),
        many => Err(WrongInput::new(format!(
            "which step was read is not said: want --step, one of {}",
            many.join(", ")
        ))),
    }
}

/// Readings from a file of lines `seconds,place,celsius`; a first line of words and `#` lines are passed
/// over; `peak` instead of seconds is the hottest of the run.
fn readings(path: &Path) -> Result<Vec<Read>, WrongInput> {
    let bytes = files::read(path)?;
    let shown = path.display();
    let text =
        yaml::decode(&bytes).map_err(|fault| WrongInput::new(format!("{shown}: {fault}")))?;
    let mut lines = csv::ReaderBuilder::new()
        .has_headers(false)
        .trim(csv::Trim::All)
        .comment(Some(b'#'))
        .flexible(true)
        .from_reader(text.as_bytes());
    let mut readings = Vec::new();
    for record in lines.records() {
        let record = record.map_err(|no| WrongInput::new(format!("{shown}: {no}")))?;
        let line = record.position().map_or(0, csv::Position::line);
        let wrong = |why: &str| {
            WrongInput::new(format!(
                "{shown}:{line}: {why}: want seconds,place,celsius such as `12.5,tails,96.4`"
            ))
        };
        let [when, place, read] = [0, 1, 2].map(|at| record.get(at).unwrap_or(""));
        let is_word = |value: &str| value.starts_with(char::is_alphabetic) && value != "peak";
        let first_words = line == 1 && is_word(when) && is_word(read);
        if first_words {
            continue;
        }
        if record.len() != 3 {
            return Err(wrong("not three values"));
        }
        let after_s = match when {
            "peak" => None,
            number => Some(
                number
                    .parse::<f64>()
                    .ok()
                    .filter(|s| s.is_finite() && *s >= 0.0)
                    .ok_or_else(|| wrong(&format!("`{number}` is no time")))?,
            ),
        };
        let degrees: f64 = read
            .parse()
            .map_err(|_| wrong(&format!("`{read}` is no temperature")))?;
        readings.push(Read {
            place: place.to_owned(),
            after_s,
            read: Celsius::new(degrees).map_err(|no| wrong(&no.to_string()))?,
        });
    }
    Ok(readings)
}
