//! `compare JOB JOB…`: routes side by side.

use std::path::{Path, PathBuf};

use crate::bench::Verdict;
use crate::plan::{self, Budget};
use crate::show::compare as show;

use super::{Desk, Said, WrongInput, job_verbs, pictures, said};

/// `compare JOB JOB… [-o FILE]`.
pub(super) fn compare(
    desk: &mut Desk,
    paths: &[PathBuf],
    out: Option<&Path>,
) -> Result<Said, WrongInput> {
    let (mut jobs, mut routes, mut assumed) = (Vec::new(), Vec::new(), Vec::new());
    for path in paths {
        let planner = job_verbs::read(desk, path)?;
        let case = planner.sorted();
        let name = path.display().to_string();
        let route = plan::route(
            &name,
            &case.setting(),
            desk.reins.budget(Budget::default().nodes),
        );
        routes.push(route.map_err(WrongInput::new)?);
        for assumption in job_verbs::sorted_assumptions(&planner) {
            if !assumed.contains(&assumption) {
                assumed.push(assumption);
            }
        }
        jobs.push(case.job().clone());
    }
    let frame = show::frame(&routes, assumed, desk.say);
    if let Some(out) = out {
        let picture = show::chart(&routes, &jobs, &frame, desk.say);
        pictures::save(desk.disk, &picture.picture(desk.say.scale), out)?;
    }
    let code = frame.verdict.map_or(1, Verdict::exit_code);
    Ok(said(
        desk,
        code,
        || {
            let text = show::text(&routes, &jobs, &frame, desk.say);
            out.map_or(text.clone(), |out| {
                format!("{text}\nwritten: {}", out.display())
            })
        },
        || {
            let mut keys = show::json(&routes, &jobs);
            if let (Some(out), Some(keys)) = (out, keys.as_object_mut()) {
                keys.insert(
                    "file".to_owned(),
                    serde_json::json!(out.display().to_string()),
                );
            }
            frame.json(keys)
        },
    ))
}
