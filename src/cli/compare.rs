//! `compare JOB JOB…`: routes side by side.

use std::path::PathBuf;

use crate::bench::{Setting, Verdict};
use crate::plan::{self, Budget};
use crate::show::compare as show;

use super::{Desk, Said, WrongInput, job_verbs, said};

/// `compare JOB JOB…`.
pub(super) fn compare(desk: &mut Desk, paths: &[PathBuf]) -> Result<Said, WrongInput> {
    let (mut jobs, mut routes, mut assumed) = (Vec::new(), Vec::new(), Vec::new());
    for path in paths {
        let read = job_verbs::read(desk, path)?;
        let melts = job_verbs::melts(desk, &read.job);
        let job = plan::whole(&read.job, &melts);
        let name = path.display().to_string();
        let route = plan::route(&name, &Setting::new(&job, &melts), Budget::default());
        routes.push(route.map_err(WrongInput::new)?);
        for assumption in job_verbs::assumptions(&read) {
            if !assumed.contains(&assumption) {
                assumed.push(assumption);
            }
        }
        jobs.push(job);
    }
    let frame = show::frame(&routes, assumed, desk.say);
    let code = frame.verdict.map_or(1, Verdict::exit_code);
    Ok(said(
        desk,
        code,
        || show::text(&routes, &jobs, &frame, desk.say),
        || frame.json(show::json(&routes, &jobs)),
    ))
}
