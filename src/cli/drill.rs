//! `drill`: asks on the terminal, judges, keeps the score; or prints a test.

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::io::{BufRead, Write};
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};
use serde_json::json;

use crate::plan::Budget;
use crate::planner::Planner;
use crate::show::chart::Scale;
use crate::show::drill::{Drill, LEVELS, Lab, Question, about, level_name, read_reason};
use crate::show::say::{harmless, wrapped};

use super::args::DrillArgs;
use super::disk::Disk;
use super::{Around, WRONG_INPUT, WrongInput, files};

/// Questions of one sitting at one level, unless said.
const SITTING: u16 = 5;

/// What the score file holds.
#[derive(Debug, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Score {
    meltstair: String,
    levels: BTreeMap<u8, Tally>,
}

#[derive(Clone, Copy, Debug, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Tally {
    asked: u32,
    answers: u32,
    reasons: u32,
}

/// A job to learn with is looked at no longer than that: some seconds.
const BUDGET: Budget = Budget {
    nodes: 200_000,
    pulse: None,
    all_orders: false,
};

/// Columns of a printed test.
const SHEET: usize = 88;

const FORMAT: &str = "score/1";

/// What surrounds a sitting: where files are, the user's own alloys, the terminal.
#[derive(Clone, Copy, Debug)]
pub(super) struct Given<'a> {
    pub(super) disk: Disk<'a>,
    pub(super) own: Option<&'a Path>,
    pub(super) around: &'a Around,
}

/// The verb; returns the exit code.
pub(super) fn drill(
    args: &DrillArgs,
    json: bool,
    given: Given,
    keys: &mut dyn BufRead,
    out: &mut dyn Write,
    err: &mut dyn Write,
) -> u8 {
    match run(args, json, given, keys, out) {
        Ok(()) => 0,
        Err(wrong) => {
            let _ = writeln!(err, "{wrong}");
            WRONG_INPUT
        }
    }
}

fn run(
    args: &DrillArgs,
    json: bool,
    given: Given,
    keys: &mut dyn BufRead,
    out: &mut dyn Write,
) -> Result<(), WrongInput> {
    // Small, so that it can be read out and typed again.
    let seed = args.seed.unwrap_or_else(|| fastrand::u64(1..100_000));
    let questions = match &args.job {
        Some(job) => of_job(args, job, given, seed)?,
        None => draw(args, &Lab::new(), seed),
    };
    if json {
        let all: Vec<_> = questions.iter().map(told).collect();
        let answer = json!({"meltstair": "drill/1", "line": title(args, seed), "seed": seed, "questions": all});
        return printed(writeln!(out, "{answer:#}"), out);
    }
    if args.paper {
        let paper = paper(&title(args, seed), &questions, args.ascii);
        return printed(write!(out, "{paper}"), out);
    }
    let file = args.score.clone().or_else(|| given.around.score.clone());
    let mut sitting = Sitting {
        score: read_score(file.as_deref())?,
        file,
        width: given.around.width,
        ascii: args.ascii,
        keys,
        out,
    };
    sitting.say(&format!(
        "{}\nAnswer, then say why. An empty line ends it.\n",
        title(args, seed)
    ));
    sitting.all(&questions)
}

/// Whether it is out; a reader that went away is no fault of ours.
fn printed(written: std::io::Result<()>, out: &mut dyn Write) -> Result<(), WrongInput> {
    match written.and_then(|()| out.flush()) {
        Err(why) if why.kind() != std::io::ErrorKind::BrokenPipe => Err(WrongInput::new(format!(
            "the answer could not be written: {why}"
        ))),
        _ => Ok(()),
    }
}

/// Questions about a job of one's own.
fn of_job(
    args: &DrillArgs,
    job: &Path,
    given: Given,
    seed: u64,
) -> Result<Vec<Question>, WrongInput> {
    let bytes = given.disk.read(job)?;
    let book = files::book(given.disk, given.own)?;
    let planner =
        Planner::read(&bytes, &job.display().to_string(), &book).map_err(WrongInput::new)?;
    let case = planner.sorted();
    let best = case.order(BUDGET, &mut |_| true).map_err(WrongInput::new)?;
    let Some(checked) = best.checked else {
        return Err(WrongInput::new(format!(
            "{}: no order can be done, so there is nothing to ask about it; `meltstair clash` says what is in the way",
            job.display()
        )));
    };
    let written = planner.written().check().1.verdict;
    let count = usize::from(args.count.unwrap_or(SITTING));
    let questions = about(&case, &checked, written, seed, count);
    if questions.is_empty() {
        return Err(WrongInput::new(format!(
            "{}: the job has nothing that can be asked with one clear answer",
            job.display()
        )));
    }
    Ok(questions)
}

fn draw(args: &DrillArgs, lab: &Lab, seed: u64) -> Vec<Question> {
    let mut drill = Drill::new(lab, seed);
    let usual = if args.level.is_some() {
        SITTING
    } else {
        u16::from(LEVELS)
    };
    let count = args.count.unwrap_or(usual);
    (0..count)
        .filter_map(|at| {
            let ladder = u8::try_from(at % u16::from(LEVELS)).unwrap_or(0) + 1;
            drill.question(args.level.unwrap_or(ladder))
        })
        .collect()
}

fn title(args: &DrillArgs, seed: u64) -> String {
    let about = match (&args.job, args.level) {
        (Some(job), _) => harmless(&job.display().to_string()),
        (None, Some(level)) => format!("level {level}, {}", level_name(level)),
        (None, None) => "all levels".to_owned(),
    };
    format!("Drill: {about} (seed {seed})")
}

struct Sitting<'a> {
    score: Score,
    file: Option<PathBuf>,
    width: usize,
    ascii: bool,
    keys: &'a mut dyn BufRead,
    out: &'a mut dyn Write,
}

impl Sitting<'_> {
    fn say(&mut self, text: &str) {
        let text = wrapped(text, self.width);
        let _ = write!(self.out, "{text}");
        let _ = self.out.flush();
    }

    /// A line; none at the end of input or where it is empty.
    fn line(&mut self, prompt: &str) -> Option<String> {
        self.say(prompt);
        let mut line = String::new();
        let read = self.keys.read_line(&mut line).ok()?;
        let line = line.trim();
        (read > 0 && !line.is_empty()).then(|| line.to_owned())
    }

    /// Asks until the line is understood.
    fn until<T>(&mut self, prompt: &str, read: impl Fn(&str) -> Result<T, String>) -> Option<T> {
        loop {
            let line = self.line(prompt)?;
            match read(&line) {
                Ok(understood) => return Some(understood),
                Err(why) => self.say(&format!("{why}\n")),
            }
        }
    }

    fn all(&mut self, questions: &[Question]) -> Result<(), WrongInput> {
        let mut here = Tally::default();
        for (at, question) in questions.iter().enumerate() {
            self.say(&format!("\n{}. {}", at + 1, question.asked()));
            if let Some(shown) = &question.shown {
                let picture = shown.text_to_read(Scale::Celsius, self.width, self.ascii);
                let _ = write!(self.out, "\n{picture}\n");
            }
            let prompt = format!("{}> ", question.prompt());
            let Some(given) = self.until(&prompt, |line| question.read(line)) else {
                break;
            };
            self.say(&question.why_asked());
            let reasons = question.reasons.len();
            let Some(reason) = self.until("letter> ", |line| read_reason(line, reasons)) else {
                break;
            };
            let judged = question.judge(&given, reason);
            let drawn = question.stairs.as_ref().map_or_else(String::new, |stairs| {
                format!(
                    "\n{}\n",
                    stairs.text(Scale::Celsius, self.width, self.ascii)
                )
            });
            self.say(&format!("\n{}{drawn}", judged.told));
            here.count(judged.answer, judged.reason);
            // A job of one's own is no step of the ladder.
            if question.level > 0 {
                let level = self.score.levels.entry(question.level).or_default();
                level.count(judged.answer, judged.reason);
                self.keep()?;
            }
        }
        let mut text = format!("\nHere: {}\n", here.told());
        for (level, tally) in &self.score.levels {
            let name = level_name(*level);
            let _ = writeln!(text, "Level {level}, {name}, so far: {}", tally.told());
        }
        self.say(&text);
        Ok(())
    }

    fn keep(&self) -> Result<(), WrongInput> {
        let Some(file) = &self.file else {
            return Ok(());
        };
        if let Some(folder) = file.parent() {
            std::fs::create_dir_all(folder)
                .map_err(|why| WrongInput::new(format!("{}: {why}", folder.display())))?;
        }
        let text = serde_json::to_string_pretty(&self.score).map_err(WrongInput::new)?;
        files::write(file, format!("{text}\n").as_bytes())
    }
}

impl Tally {
    fn count(&mut self, answer: bool, reason: bool) {
        self.asked += 1;
        self.answers += u32::from(answer);
        self.reasons += u32::from(reason);
    }

    fn told(self) -> String {
        format!(
            "{} of {} answers and {} of {} reasons right",
            self.answers, self.asked, self.reasons, self.asked
        )
    }
}

/// The score so far; a file that is not understood is not written over.
fn read_score(file: Option<&Path>) -> Result<Score, WrongInput> {
    let fresh = Score {
        meltstair: FORMAT.to_owned(),
        levels: BTreeMap::new(),
    };
    let Some(file) = file.filter(|file| file.exists()) else {
        return Ok(fresh);
    };
    let bytes = files::read(file)?;
    let shown = file.display();
    match serde_json::from_slice::<Score>(&bytes) {
        Ok(score) if score.meltstair == FORMAT => Ok(score),
        Ok(_) => Err(WrongInput::new(format!(
            "{shown}: want a score in the format `{FORMAT}`"
        ))),
        Err(why) => Err(WrongInput::new(format!("{shown}: no score file: {why}"))),
    }
}

fn told(question: &Question) -> serde_json::Value {
    json!({
        "level": question.level,
        "form": question.form,
        "kind": question.kind,
        "staircase": question.shown.as_ref().map(|shown| shown.text_to_read(Scale::Celsius, SHEET, false)),
        "text": question.text,
        "options": question.options,
        "reasons": question.reasons,
        "answer": question.right(),
        "reason": question.right_reason(),
        "rule": question.rule,
    })
}

/// Questions with the staircases that they are about, a page break, answers with the staircases behind them.
fn paper(title: &str, questions: &[Question], ascii: bool) -> String {
    let mut text = format!("{title}\n\nname ______________________   date ____________\n");
    for (at, question) in questions.iter().enumerate() {
        let asked = format!("\n{}. {}", at + 1, question.asked());
        text += &wrapped(&asked, SHEET);
        if let Some(shown) = &question.shown {
            let picture = shown.text_to_read(Scale::Celsius, SHEET, ascii);
            let _ = write!(text, "\n{picture}\n");
        }
        let asked = format!(
            "   answer ____________ {}\n{}   reason ____\n",
            question.prompt(),
            question.why_asked()
        );
        text += &wrapped(&asked, SHEET);
    }
    let _ = writeln!(text, "\u{c}{title}: answers");
    for (at, question) in questions.iter().enumerate() {
        let answer = format!(
            "\n{}. {}\n   reason {}\n   how: {}\n",
            at + 1,
            question.right(),
            question.right_reason(),
            question.rule
        );
        text += &wrapped(&answer, SHEET);
        // The first level is about reading a staircase.
        if let Some(stairs) = question.stairs.as_ref().filter(|_| question.level == 1) {
            let _ = write!(text, "\n{}", stairs.text(Scale::Celsius, SHEET, ascii));
        }
    }
    text
}
