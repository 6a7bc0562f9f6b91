//! `new`, `schema`, `did`, `undo`: verbs that write or describe job files.

use std::path::{Path, PathBuf};

use serde_json::json;

use crate::job::log::{self, Entry};
use crate::quantity::Celsius;
use crate::yaml;

use super::args::DidArgs;
use super::{Desk, Said, WrongInput, files, said};

/// `new [FILE]`: a commented job to start from; never over an existing file.
pub(super) fn new(to: Option<&PathBuf>) -> Result<Said, WrongInput> {
    let text = crate::job::example();
    let Some(to) = to else {
        return Ok(Said { text, code: 0 });
    };
    if to.exists() {
        return Err(WrongInput::new(format!(
            "{}: is there already, nothing written",
            to.display()
        )));
    }
    files::write(to, text.as_bytes())?;
    Ok(Said {
        text: format!("written: {}", to.display()),
        code: 0,
    })
}

/// `did JOB STEP`.
pub(super) fn did(desk: &mut Desk, args: &DidArgs) -> Result<Said, WrongInput> {
    let peak = args
        .peak
        .map(Celsius::new)
        .transpose()
        .map_err(WrongInput::new)?;
    let sees: Result<Vec<(String, Celsius)>, WrongInput> =
        args.sees.iter().map(|s| seen(s)).collect();
    let entry = Entry {
        step: args.step.clone(),
        peak,
        sees: sees?,
        failed: args.failed.clone(),
        alloy: args.alloy.clone(),
        tool: args.tool.map(Into::into),
        rounds: args.rounds,
    };
    let line = entry.to_string();
    let text = text_of(&args.job)?;
    let longer = log::append_event(&text, &line).map_err(WrongInput::new)?;
    keep(desk, &args.job, &longer)?;
    let told = format!("logged: {line}");
    Ok(said(
        desk,
        0,
        || told,
        || json!({"meltstair": "did/1", "line": "logged", "event": line}),
    ))
}

/// `undo JOB`.
pub(super) fn undo(desk: &mut Desk, job: &Path) -> Result<Said, WrongInput> {
    let text = text_of(job)?;
    let shorter = log::drop_last_event(&text).map_err(WrongInput::new)?;
    keep(desk, job, &shorter)?;
    let told = "the last line of the log is taken off";
    Ok(said(
        desk,
        0,
        || told.to_owned(),
        || json!({"meltstair": "undo/1", "line": told}),
    ))
}

/// `PLACE:C`.
fn seen(text: &str) -> Result<(String, Celsius), WrongInput> {
    let wrong = || {
        WrongInput::new(format!(
            "`{text}`: want PLACE:DEGREES, for example `tails:172`"
        ))
    };
    let (place, degrees) = text.rsplit_once(':').ok_or_else(wrong)?;
    let degrees: f64 = degrees.trim().parse().map_err(|_| wrong())?;
    Ok((
        place.trim().to_owned(),
        Celsius::new(degrees).map_err(WrongInput::new)?,
    ))
}

fn text_of(job: &Path) -> Result<String, WrongInput> {
    let bytes = files::read(job)?;
    let shown = job.display().to_string();
    let text = yaml::decode(&bytes).map_err(|fault| {
        WrongInput::new(yaml::render_all(std::slice::from_ref(&fault), &shown, ""))
    })?;
    Ok(text.to_owned())
}

/// Writes a job file, once the new text reads as strictly as any other.
fn keep(desk: &mut Desk, job: &Path, text: &str) -> Result<(), WrongInput> {
    let shown = job.display().to_string();
    crate::job::read(text, &shown, &desk.book)
        .map_err(|faults| WrongInput::new(format!("{faults}\n\nnothing written")))?;
    files::write(job, text.as_bytes())
}

/// `schema`.
pub(super) fn schema() -> Said {
    Said {
        text: crate::job::schema(),
        code: 0,
    }
}
