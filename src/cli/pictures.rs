//! Verbs that draw, and where pictures go.

use std::path::Path;

use crate::bench::Setting;
use crate::plan::{self, Checked};
use crate::show::chart::Picture;
use crate::show::{check as show, staircase};

use super::{Desk, Said, WrongInput, files, job_verbs, order, said};

/// `chart JOB -o FILE`.
pub(super) fn chart(desk: &mut Desk, path: &Path, to: &Path) -> Result<Said, WrongInput> {
    let read = job_verbs::read(desk, path)?;
    let melts = job_verbs::melts(desk, &read.job);
    let job = plan::whole(&read.job, &melts);
    let setting = Setting::new(&job, &melts);
    let checked = best_or_written(desk, &setting)?;
    let frame = show::frame(
        "chart",
        &read.job,
        &checked,
        job_verbs::assumptions(&read),
        desk.say,
    );
    let picture = staircase::of(&setting, &checked, &frame).picture(desk.say.scale);
    save(&picture, to)?;
    let line = format!("{}\nwritten: {}", frame.line, to.display());
    Ok(said(
        desk,
        checked.verdict.exit_code(),
        || line,
        || frame.json(serde_json::json!({"file": to})),
    ))
}

/// The best order where there is one; else the steps as they are written, which shows what is in
/// the way.
pub(super) fn best_or_written(desk: &mut Desk, setting: &Setting) -> Result<Checked, WrongInput> {
    let best = order::best(desk, setting)?.1;
    Ok(best.unwrap_or_else(|| plan::check(setting, &plan::as_written(setting.job()).plan)))
}

/// Writes a picture as its ending says.
pub(super) fn save(picture: &Picture, to: &Path) -> Result<(), WrongInput> {
    let ending = to
        .extension()
        .and_then(|e| e.to_str())
        .unwrap_or("")
        .to_ascii_lowercase();
    let bytes = match ending.as_str() {
        "svg" => picture.svg().map(String::into_bytes),
        "png" => picture.png(),
        _ => {
            let shown = to.display();
            return Err(WrongInput::new(format!(
                "{shown}: want a name that ends in .svg or .png"
            )));
        }
    };
    files::write(to, &bytes.map_err(WrongInput::new)?)
}
