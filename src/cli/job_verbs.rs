//! Verbs that read a job.

use std::path::Path;

use crate::job::{Job, JointIx, StepIx};
use crate::planner::Planner;
use crate::show::answer::{Assumption, Frame};
use crate::show::bench as show_bench;
use crate::show::check as show;
use crate::show::say::harmless;

use super::{Desk, Said, WrongInput, said};

/// Reads a job file; notices go to standard error.
pub(super) fn read(desk: &mut Desk, path: &Path) -> Result<Planner, WrongInput> {
    let bytes = desk.disk.read(path)?;
    let shown = path.display().to_string();
    let planner = Planner::read(&bytes, &shown, &desk.book).map_err(WrongInput::new)?;
    let planner = planner.stopped_by(desk.reins.stop());
    for notice in planner.notices() {
        let at = notice
            .place
            .map_or_else(String::new, |p| format!(":{}:{}", p.line, p.column));
        let line = format!("{shown}{at}: {}", notice.message);
        let _ = writeln!(desk.err, "{}", harmless(&line));
    }
    Ok(planner)
}

/// Defaults that a job left alone.
pub(super) fn assumptions(planner: &Planner) -> Vec<Assumption> {
    let assumed = planner.assumed().iter();
    assumed
        .map(|a| Assumption {
            what: a.what.clone(),
            value: a.value.to_string(),
            unit: a.unit.to_owned(),
            mark: a.mark.to_string(),
        })
        .collect()
}

/// The same, whatever the order of lines: those of a thing after those of the job, things by their
/// names.
pub(super) fn sorted_assumptions(planner: &Planner) -> Vec<Assumption> {
    let mut all = assumptions(planner);
    for assumption in &mut all {
        if let Some((what, of)) = assumption.what.split_once(" of `") {
            let mut of: Vec<&str> = of.trim_end_matches('`').split("`, `").collect();
            of.sort_unstable();
            assumption.what = format!("{what} of `{}`", of.join("`, `"));
        }
    }
    // A stable sort: what holds for the whole job keeps its order.
    all.sort_by_key(|assumption| {
        let of_a_thing = assumption.what.contains(" of `");
        of_a_thing.then(|| (assumption.what.clone(), assumption.value.clone()))
    });
    all
}

/// A joint by its id, or the nearest one.
pub(super) fn joint(job: &Job, id: &str) -> Result<JointIx, WrongInput> {
    let found = job.joints.iter().position(|joint| joint.id == id);
    found.map(JointIx).ok_or_else(|| {
        let ids = job.joints.iter().map(|joint| joint.id.as_str());
        let near = crate::nearest::nearest(id, ids, 1);
        let near = near
            .first()
            .map_or_else(String::new, |near| format!("; the nearest is `{near}`"));
        WrongInput::new(format!("no joint of the job is called `{id}`{near}"))
    })
}

/// A step by its id, or the nearest one.
pub(super) fn step(job: &Job, id: &str) -> Result<StepIx, WrongInput> {
    let found = job.steps.iter().position(|step| step.id == id);
    found.map(StepIx).ok_or_else(|| {
        let ids = job.steps.iter().map(|step| step.id.as_str());
        let near = crate::nearest::nearest(id, ids, 1);
        let near = near
            .first()
            .map_or_else(String::new, |near| format!("; the nearest is `{near}`"));
        WrongInput::new(format!("no step of the job is called `{id}`{near}"))
    })
}

/// `check JOB`.
pub(super) fn check(desk: &mut Desk, path: &Path) -> Result<Said, WrongInput> {
    let planner = read(desk, path)?;
    let case = planner.written();
    let job = case.job();
    let (written, checked) = case.check();
    let mut frame = show::frame("check", job, &checked, assumptions(&planner), desk.say);
    for id in &written.moved {
        frame.warnings.push(format!(
            "step `{id}` must come later than it is written: moved"
        ));
    }
    if !written.open.is_empty() {
        frame.warnings.push(format!(
            "choices left open ({}): checked with the first; `order` finds the best",
            written.open.join(", ")
        ));
    }
    Ok(said(
        desk,
        checked.verdict.exit_code(),
        || show::text(job, &checked, &frame, desk.say),
        || frame.json(show::json(job, &checked)),
    ))
}

/// `bench JOB`.
pub(super) fn bench(desk: &mut Desk, path: &Path) -> Result<Said, WrongInput> {
    let planner = read(desk, path)?;
    let case = planner.planned();
    let told = show_bench::of(&case.setting());
    let frame = Frame {
        verb: "bench",
        line: told.line(),
        warnings: told.look_at.clone(),
        ..Frame::default()
    };
    Ok(said(
        desk,
        u8::from(!told.look_at.is_empty()),
        || told.text(&frame, desk.say),
        || frame.json(told.json()),
    ))
}
