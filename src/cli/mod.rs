//! The command line: reads arguments and files, calls the library, says the answer.
//!
//! [`run`] is all that the program does; it can be called twice in one process. It is given what a
//! terminal or an environment would say ([`Around`]), so that nothing else reads them.

mod alloy_verbs;
mod args;
mod clash;
mod compare;
mod disk;
mod drill;
mod files;
mod heat;
mod job_verbs;
mod learn;
mod log;
mod look_up;
mod mix;
mod order;
mod paint;
mod pictures;
mod reins;
mod sheet;
mod typed;

use std::ffi::OsString;
use std::io::{BufRead, Write};
use std::path::PathBuf;
use std::sync::Arc;

use clap::{CommandFactory, Parser};

use crate::alloy::AlloyBook;
use crate::show::chart::Scale;
use crate::show::say::{Say, harmless, harmless_json, wrapped};
use args::{Args, Verb};
use disk::Disk;
pub use disk::{Enclosed, Files};
pub use paint::Colour;
use reins::Reins;
pub use reins::tell_progress;

/// What the surroundings say.
#[derive(Clone, Debug)]
pub struct Around {
    /// Columns of the terminal.
    pub width: usize,
    /// The user's own alloy file, where there is one in the configuration folder.
    pub own_alloys: Option<PathBuf>,
    /// Where the score of the drill is kept unless said; none: nowhere.
    pub score: Option<PathBuf>,
}

/// What a verb says.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Said {
    /// For standard output.
    pub text: String,
    /// Exit code: 0 holds, 1 anything worse or no order, 3 an unknown decides.
    pub code: u8,
}

/// Why a verb could not answer: the input is wrong, exit code 2.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{0}")]
pub struct WrongInput(pub String);

impl WrongInput {
    /// From anything that says what is wrong.
    pub fn new(why: impl std::fmt::Display) -> Self {
        WrongInput(why.to_string())
    }
}

/// Exit code for wrong input, wrong arguments too.
pub const WRONG_INPUT: u8 = 2;

/// Does what the arguments ask, in plain text; returns the exit code.
pub fn run(
    args: impl IntoIterator<Item = OsString>,
    around: &Around,
    out: &mut dyn Write,
    err: &mut dyn Write,
) -> u8 {
    run_on(Colour::Plain, args, around, None, out, err)
}

/// The same with or without colour: it goes to `out` alone, and never into JSON or what another program reads.
pub fn run_in(
    colour: Colour,
    args: impl IntoIterator<Item = OsString>,
    around: &Around,
    out: &mut dyn Write,
    err: &mut dyn Write,
) -> u8 {
    run_on(colour, args, around, None, out, err)
}

/// The same without disk, threads, keyboard and clock: files come and go in memory, and nothing is asked back.
pub fn run_enclosed(
    args: impl IntoIterator<Item = OsString>,
    around: &Around,
    enclosed: Enclosed,
    out: &mut dyn Write,
    err: &mut dyn Write,
) -> u8 {
    run_on(Colour::Plain, args, around, Some(enclosed), out, err)
}

fn run_on(
    colour: Colour,
    args: impl IntoIterator<Item = OsString>,
    around: &Around,
    enclosed: Option<Enclosed>,
    out: &mut dyn Write,
    err: &mut dyn Write,
) -> u8 {
    let args = match Args::try_parse_from(args) {
        Ok(args) => args,
        Err(fault) => return refuse_arguments(&fault, out, err),
    };
    if let Verb::Drill(asked) = &args.verb {
        let own = args.alloys_file.as_ref().or(around.own_alloys.as_ref());
        let own = own.map(PathBuf::as_path);
        let mut keys: Box<dyn BufRead> = match enclosed {
            Some(_) => Box::new(std::io::empty()),
            None => Box::new(std::io::stdin().lock()),
        };
        let disk = enclosed.map_or(Disk::Real, |enclosed| Disk::Memory(enclosed.files));
        let given = drill::Given { disk, own, around };
        return drill::drill(asked, args.json, given, &mut *keys, out, err);
    }
    match answer(&args, around, enclosed, err) {
        Ok(said) => {
            let text = on_terminal(&args, around.width, said.text);
            let text = text.trim_end_matches('\n');
            let text = match colour {
                Colour::Painted if !args.json && args.verb.judges() => paint::painted(text),
                _ => text.to_owned(),
            };
            let written = writeln!(out, "{text}").and_then(|()| out.flush());
            code_of(written, said.code, err)
        }
        Err(wrong) => {
            let text = harmless(wrong.0.trim_end_matches('\n'));
            if args.json {
                let told = format!("{:#}", wrong_json(&text));
                let _ = writeln!(out, "{}", harmless_json(&told));
            }
            let _ = writeln!(err, "{text}");
            WRONG_INPUT
        }
    }
}

/// What is wrong, for programs: the faults as they are shown, each with its place and advice where it has
/// them.
fn wrong_json(text: &str) -> serde_json::Value {
    let faults = text.split("\n\n").filter(|block| !block.trim().is_empty());
    let faults = faults.map(|block| {
        let mut lines = block.lines();
        let first = lines.next().unwrap_or_default();
        let message = first.strip_prefix("error: ").unwrap_or(first);
        let place = block
            .lines()
            .find_map(|line| line.trim_start().strip_prefix("--> "));
        let mut parts = place.unwrap_or_default().rsplitn(3, ':');
        let column = parts.next().and_then(|n| n.parse::<usize>().ok());
        let line = parts.next().and_then(|n| n.parse::<usize>().ok());
        let help = block.lines().find_map(|line| line.split_once("= help: "));
        serde_json::json!({
            "message": message,
            "line": line,
            "column": column,
            "help": help.map(|(_, help)| help),
        })
    });
    serde_json::json!({
        "meltstair": "wrong/1",
        "line": text.lines().next().unwrap_or_default(),
        "faults": faults.collect::<Vec<_>>(),
    })
}

/// From this width on lines are left whole: nobody wraps what a pipe gets.
const WIDE: usize = 100;

/// Words fit a narrow terminal; what other programs read is left as it is.
fn on_terminal(args: &Args, width: usize, text: String) -> String {
    let for_programs = matches!(
        args.verb,
        Verb::New { .. } | Verb::Schema | Verb::Completions { .. } | Verb::Man
    );
    if for_programs {
        text
    } else if args.json {
        harmless_json(&text)
    } else if width >= WIDE {
        harmless(&text)
    } else {
        wrapped(&harmless(&text), width)
    }
}

fn refuse_arguments(fault: &clap::Error, out: &mut dyn Write, err: &mut dyn Write) -> u8 {
    let text = harmless(&fault.render().to_string());
    if fault.use_stderr() {
        let _ = write!(err, "{text}");
        WRONG_INPUT
    } else {
        let written = write!(out, "{text}").and_then(|()| out.flush());
        code_of(written, 0, err)
    }
}

/// The code of an answer; an answer that could not be written is none.
fn code_of(written: std::io::Result<()>, code: u8, err: &mut dyn Write) -> u8 {
    match written {
        // A reader that went away (`| head`) is no fault of ours.
        Err(why) if why.kind() != std::io::ErrorKind::BrokenPipe => {
            let _ = writeln!(err, "the answer could not be written: {why}");
            WRONG_INPUT
        }
        _ => code,
    }
}

/// What every verb needs.
struct Desk<'a> {
    say: Say,
    json: bool,
    book: Arc<AlloyBook>,
    err: &'a mut dyn Write,
    disk: Disk<'a>,
    reins: Reins,
}

fn answer(
    args: &Args,
    around: &Around,
    enclosed: Option<Enclosed>,
    err: &mut dyn Write,
) -> Result<Said, WrongInput> {
    if let Some(said) = without_data(&args.verb) {
        return Ok(said);
    }
    let disk = enclosed.map_or(Disk::Real, |enclosed| Disk::Memory(enclosed.files));
    args.verb.outputs_can_be_written(disk)?;
    let scale = if args.fahrenheit {
        Scale::Fahrenheit
    } else {
        Scale::Celsius
    };
    let own = args.alloys_file.as_ref().or(around.own_alloys.as_ref());
    let book = files::book(disk, own.map(PathBuf::as_path))?;
    let say = Say {
        scale,
        width: around.width,
        full: args.full,
    };
    let mut desk = Desk {
        say,
        reins: Reins::take(args.verb.limits(), args.verb.plans(), say, enclosed),
        json: args.json,
        book,
        err,
        disk,
    };
    match &args.verb {
        Verb::Did(args) => log::did(&mut desk, args),
        Verb::Undo { job } => log::undo(&mut desk, job),
        Verb::New { file } => log::new(&desk, file.as_ref()),
        Verb::Schema => Ok(log::schema()),
        Verb::Words => Ok(look_up::words(&desk)),
        Verb::Keys { thing } => look_up::keys(&desk, thing.as_deref()),
        Verb::Check { job } => job_verbs::check(&mut desk, job),
        Verb::Bench { job } => job_verbs::bench(&mut desk, job),
        Verb::Clash { job, .. } => clash::clash(&mut desk, job),
        Verb::Alloys {
            check: Some(file), ..
        } => alloy_verbs::check_own(&mut desk, file),
        Verb::Alloys { what, .. } => alloy_verbs::alloys(&mut desk, what),
        Verb::Mix {
            spec,
            at,
            curve,
            sweep,
            as_sold,
            pin,
        } => {
            let ask = mix::Ask {
                spec,
                at,
                curve: curve.as_deref(),
                sweep: sweep.as_deref(),
                as_sold: *as_sold,
                pin,
            };
            mix::mix(&mut desk, &ask)
        }
        Verb::Pick(args) => alloy_verbs::pick(&mut desk, args),
        Verb::Order {
            job,
            why: Some(step),
            nodes,
            ..
        } => {
            let budget = desk.reins.budget(*nodes);
            order::why(&mut desk, job, step, budget)
        }
        Verb::Order {
            job,
            all: true,
            nodes,
            ..
        } => {
            let budget = desk.reins.budget(*nodes);
            order::all(&mut desk, job, budget)
        }
        Verb::Order { job, nodes, .. } => {
            let budget = desk.reins.budget(*nodes);
            order::order(&mut desk, job, budget)
        }
        Verb::Chart(args) => pictures::chart(&mut desk, args),
        Verb::Learn(args) => learn::learn(&mut desk, args),
        Verb::Heat(args) => heat::heat(&mut desk, args),
        Verb::Compare { jobs, out, .. } => compare::compare(&mut desk, jobs, out.as_deref()),
        Verb::Sheet { job, out, .. } => sheet::sheet(&mut desk, job, out),
        Verb::Drill(_) | Verb::Completions { .. } | Verb::Man => Ok(Said::default()),
    }
}

impl Verb {
    /// Whether its words are about a bench: elsewhere "melts" is the head of a column.
    const fn judges(&self) -> bool {
        matches!(
            self,
            Verb::Check { .. }
                | Verb::Order { .. }
                | Verb::Pick(_)
                | Verb::Mix { .. }
                | Verb::Clash { .. }
                | Verb::Compare { .. }
                | Verb::Did(_)
                | Verb::Undo { .. }
                | Verb::Heat(_)
                | Verb::Chart { .. }
                | Verb::Sheet { .. }
        )
    }
}

/// Verbs that need no alloy table.
fn without_data(verb: &Verb) -> Option<Said> {
    let mut text = Vec::new();
    match verb {
        Verb::Completions { shell } => {
            clap_complete::generate(*shell, &mut Args::command(), "meltstair", &mut text);
        }
        Verb::Man => {
            clap_mangen::Man::new(Args::command())
                .render(&mut text)
                .ok()?;
        }
        _ => return None,
    }
    Some(Said {
        text: String::from_utf8_lossy(&text).into_owned(),
        code: 0,
    })
}

/// The text of an answer, or its JSON.
fn said(
    desk: &Desk,
    code: u8,
    text: impl FnOnce() -> String,
    json: impl FnOnce() -> serde_json::Value,
) -> Said {
    let text = if desk.json {
        format!("{:#}", json())
    } else {
        text()
    };
    Said { text, code }
}
