//! `learn JOB READINGS`: factors fitted to all readings that stand, kept in the job file.

use std::fmt::Write as _;
use std::path::{Path, PathBuf};

use serde_json::{Value, json};

use crate::heat::{Kept, Knowledge};
use crate::job::kept::{self, Block, FACTORS};
use crate::job::learned::{hash, standing};
use crate::job::{Job, ReadingFile};
use crate::plan::{self, Learning, Learnt, Read};
use crate::planner::melts_of;
use crate::quantity::{Celsius, KelvinStep};
use crate::yaml;

use super::args::LearnArgs;
use super::{Desk, Said, WrongInput, job_verbs, log, said};

/// `learn JOB [READINGS]`.
pub(super) fn learn(desk: &mut Desk, args: &LearnArgs) -> Result<Said, WrongInput> {
    let held = desk.disk.take(&args.job)?;
    let text = log::text_of(&held)?;
    let mut job = job_verbs::read(desk, &args.job)?.job().clone();
    let added = match &args.readings {
        Some(file) => Some(add(desk, args, &mut job, file)?),
        None => None,
    };
    if let Some(name) = &args.forget {
        let before = job.learned.files.len();
        let meant = whole(Path::new(name));
        let at = |file: &ReadingFile| whole(&folder(&args.job).join(&file.file));
        let files = &mut job.learned.files;
        files.retain(|file| &file.file != name && at(file) != meant);
        if job.learned.files.len() == before {
            let known: Vec<&str> = job.learned.files.iter().map(|f| f.file.as_str()).collect();
            return Err(WrongInput::new(format!(
                "no readings of `{name}` stand under `learned`: want one of {}",
                known.join(", ")
            )));
        }
    }
    let (longer, learnt) = fitted(desk, &args.job, &text, &job)?;
    if let Some(added) = &added
        && let Some(silent) = learnt.silent.iter().find(|s| s.key.ends_with(added))
    {
        return Err(WrongInput::new(format!("{}", silent.why)));
    }
    log::keep(desk, &held, &longer)?;
    let line = match learnt.of.as_slice() {
        [] => "nothing is learned: no readings stand".to_owned(),
        of => of.iter().map(line).collect::<Vec<_>>().join("; "),
    };
    Ok(said(
        desk,
        0,
        || {
            let mut text = line.clone();
            for learned in &learnt.of {
                let _ = write!(text, "\n\n{}", told(learned));
            }
            for silent in &learnt.silent {
                let _ = write!(text, "\nnot used: {}: {}", silent.step, silent.why);
            }
            let _ = write!(
                text,
                "\nkept in {} under `learned`; `learn --forget FILE` and `undo` take readings back",
                args.job.display()
            );
            text
        },
        || {
            // Beside the list of all kinds, the keys of the first as they stood before there was a list.
            let mut keys = learnt.of.first().map_or_else(|| json!({}), json_of);
            if let Some(keys) = keys.as_object_mut() {
                let of: Vec<Value> = learnt.of.iter().map(json_of).collect();
                keys.insert("meltstair".to_owned(), json!("learn/1"));
                keys.insert("line".to_owned(), json!(line));
                keys.insert("of".to_owned(), json!(of));
            }
            keys
        },
    ))
}

fn line(learned: &Learning) -> String {
    format!(
        "learned from {} readings with {}: {:.1} K off before, {:.1} K after{}",
        learned.readings,
        learned.kind.key(),
        learned.fit.left_before.kelvin(),
        learned.fit.left.kelvin(),
        if learned.fit.misfit {
            "; the description does not fit the board"
        } else {
            ""
        }
    )
}

fn json_of(learned: &Learning) -> Value {
    let kept = Kept::from(learned.fit.known);
    json!({
        "tool": learned.kind.key(),
        "readings": learned.readings,
        "runs": learned.runs,
        "off_before_k": learned.fit.left_before,
        "left_k": learned.fit.left,
        "misfit": learned.fit.misfit,
        "structure": kept.structure,
        "factors": FACTORS.iter().enumerate().map(|(at, name)| json!({
            "factor": name,
            "value": kept.factors[at],
            "deviation": learned.fit.known.deviations()[at],
            "deviation_before": learned.before.deviations()[at],
            "told": learned.fit.told[at],
        })).collect::<Vec<_>>(),
    })
}

/// Names a file of readings in the job; the mark of its contents. The same contents of the same step are named
/// once.
fn add(
    desk: &mut Desk,
    args: &LearnArgs,
    job: &mut Job,
    file: &Path,
) -> Result<String, WrongInput> {
    desk.disk.is_kept(file)?;
    if file.to_str().is_none() {
        let shown = file.display();
        return Err(WrongInput::new(format!(
            "{shown}: the name is no UTF-8 and cannot stand in a job: give the file another"
        )));
    }
    let bytes = desk.disk.read(file)?;
    readings(file, &bytes)?;
    let step = step(desk, args)?;
    job_verbs::step(job, &step)?;
    let uncertain = args
        .uncertain
        .map(KelvinStep::new)
        .transpose()
        .map_err(WrongInput::new)?;
    let hash = hash(&bytes);
    let named = &mut job.learned.files;
    let name = from_folder(&args.job, file);
    named.retain(|old| (&old.hash, &old.step) != (&hash, &step) && old.file != name);
    named.push(ReadingFile {
        file: name,
        hash: hash.clone(),
        step,
        seconds: args.seconds,
        uncertain,
    });
    named.sort_by(|one, other| one.file.cmp(&other.file));
    Ok(hash)
}

/// The folder that a file lies in.
fn folder(path: &Path) -> PathBuf {
    match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder.to_path_buf(),
        _ => PathBuf::from("."),
    }
}

fn whole(path: &Path) -> PathBuf {
    path.canonicalize().unwrap_or_else(|_| path.to_path_buf())
}

/// A path as seen from the folder of the job.
fn from_folder(job: &Path, file: &Path) -> String {
    let (home, whole) = (whole(&folder(job)), whole(file));
    let same = home
        .components()
        .zip(whole.components())
        .take_while(|(one, other)| one == other)
        .count();
    let up = home.components().skip(same).map(|_| "..".to_owned());
    let down = whole.components().skip(same);
    let down = down.map(|part| part.as_os_str().to_string_lossy().into_owned());
    up.chain(down).collect::<Vec<_>>().join("/")
}

/// The text of a job, not yet written, with what all readings that stand teach. `files` of the job's own
/// `learned` are read from beside it and must be what they were.
///
/// # Errors
/// Where a file is gone or another, a fit does not settle, or there is no room in the text.
pub(super) fn fitted(
    desk: &mut Desk,
    path: &Path,
    text: &str,
    job: &Job,
) -> Result<(String, Learnt), WrongInput> {
    let melts = melts_of(job, &desk.book);
    let mut with = Vec::with_capacity(job.learned.files.len());
    for file in &job.learned.files {
        let beside = path.parent().map_or_else(PathBuf::new, Path::to_path_buf);
        let at = beside.join(&file.file);
        let bytes = desk.disk.read(&at)?;
        if hash(&bytes) != file.hash {
            return Err(WrongInput::new(format!(
                "{}: no longer what was learned from: `meltstair learn {} {} --step {}` learns from it as it is now, `--forget {}` takes it back",
                at.display(),
                path.display(),
                at.display(),
                file.step,
                file.file
            )));
        }
        with.push((file.clone(), readings(&at, &bytes)?));
    }
    let learnt = plan::learn_all(job, &melts, &with).map_err(WrongInput::new)?;
    let block = Block {
        files: job.learned.files.clone(),
        fits: learnt
            .of
            .iter()
            .filter_map(|of| Some((of.kind, Kept::from(of.fit.known), standing(job, of.kind)?)))
            .collect(),
    };
    let longer = kept::keep(text, &block).map_err(WrongInput::new)?;
    Ok((longer, learnt))
}

/// After the log changed: the text with the fit of what stands now, and what to say of it. Where no fit can be made the
/// text goes without one, and that is told.
pub(super) fn refitted(
    desk: &mut Desk,
    path: &Path,
    text: String,
) -> Result<(String, Vec<String>), WrongInput> {
    let shown = path.display().to_string();
    let read = crate::job::read(&text, &shown, &desk.book)
        .map_err(|faults| WrongInput::new(format!("{faults}\n\nnothing written")))?;
    let job = read.job;
    match fitted(desk, path, &text, &job) {
        Ok((longer, learnt)) => {
            let mut all: Vec<String> = learnt.of.iter().map(line).collect();
            let no = |silent: &plan::Silent| {
                format!("nothing learned from {}: {}", silent.step, silent.why)
            };
            all.extend(learnt.silent.iter().map(no));
            Ok((longer, all))
        }
        Err(no) => {
            let block = Block {
                files: job.learned.files.clone(),
                fits: Vec::new(),
            };
            let told = format!("nothing learned: {no}");
            Ok((kept::keep(&text, &block).unwrap_or(text), vec![told]))
        }
    }
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
    let mut text: String = (0..FACTORS.len()).map(line).collect();
    if learned.fit.misfit {
        let _ = writeln!(
            text,
            "  What is left is more than thermocouples and the usual doubt about boards explain: the description does\n  not fit the board. Every band is now {:.0} % of the rise wider on either side; look at layers, coverage,\n  pours, preheater and where the thermocouples were.",
            200.0 * learned.fit.known.structure()
        );
    }
    text
}

/// The step that was read: as asked, else the only one with a tool in physical terms.
fn step(desk: &mut Desk, args: &LearnArgs) -> Result<String, WrongInput> {
    if let Some(step) = &args.step {
        return Ok(step.clone());
    }
    let planner = job_verbs::read(desk, &args.job)?;
    let described: Vec<&str> = planner
        .job()
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
fn readings(path: &Path, bytes: &[u8]) -> Result<Vec<Read>, WrongInput> {
    let shown = path.display();
    let text = yaml::decode(bytes).map_err(|fault| WrongInput::new(format!("{shown}: {fault}")))?;
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
