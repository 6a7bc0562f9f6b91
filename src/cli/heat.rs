//! `heat JOB STEP`: the field of one step.

use std::fmt::Write as _;

use crate::bench::{Setting, Verdict};
use crate::job::Job;
use crate::melt::MeltBook;
use crate::plan::{self, Checked, Lowest, NoField, Staged, StepHeat, Vary};
use crate::show::answer::{Assumption, Frame};
use crate::show::chart::Scale;
use crate::show::{heat as show, heat_pictures, staged as show_staged};

use super::args::HeatArgs;
use super::{Desk, Said, WrongInput, job_verbs, pictures, said};

/// `heat JOB STEP`.
pub(super) fn heat(desk: &mut Desk, args: &HeatArgs) -> Result<Said, WrongInput> {
    let planner = job_verbs::read(desk, &args.job)?;
    let case = planner.written();
    job_verbs::step(case.job(), &args.step)?;
    let job = with_way(case.job(), &args.step, args.way, args.seconds)?;
    let setting = Setting::new(&job, planner.melts());
    let checked = plan::check(&setting, &plan::as_written(&job).plan);
    let at = position(&checked, &args.step)?;
    if let Some(staged) = plan::staged(&setting, &checked, at) {
        let verdict = checked.steps[at].passage.verdict();
        return by_stages(
            desk,
            args,
            (&job, &staged),
            verdict,
            job_verbs::assumptions(&planner),
        );
    }
    let found = plan::step_heat(&setting, &checked, at).map_err(|no| not_computed(&no))?;
    let verdict = checked.steps[at].passage.verdict();
    let line = show::line(&job, &found, verdict, desk.say);
    draw(desk, args, &job, &found, &line)?;
    let lowest = lowest(&setting, &checked, at, args, desk.say.scale)?;
    let lowest: Vec<(String, serde_json::Value)> = lowest
        .iter()
        .map(|(vary, lowest)| told(desk, planner.melts(), args, *vary, lowest))
        .collect::<Result<_, _>>()?;
    let mut warnings = show::warnings(&job, &found);
    if !found.seconds_stated {
        warnings.push(format!(
            "how long the tool stays is not said: followed for {} s at most (common practice, no source); where the target is not surely at its peak by then, the steady bound counts",
            found.seconds
        ));
    }
    let frame = Frame {
        verb: "heat",
        verdict: Some(verdict),
        line,
        assumptions: job_verbs::assumptions(&planner),
        warnings,
    };
    Ok(said(
        desk,
        verdict.exit_code(),
        || {
            let mut text = format!("{}\n\n", frame.line);
            for (line, _) in &lowest {
                text.push_str(line);
                text.push('\n');
            }
            if !lowest.is_empty() {
                text.push('\n');
            }
            text.push_str(&show::text(&job, &found, desk.say));
            for file in [&args.map, &args.trace].into_iter().flatten() {
                let _ = writeln!(text, "\nwritten: {}", file.display());
            }
            text.push_str(&frame.tail());
            text
        },
        || {
            let mut keys = show::json(&job, &found);
            if let Some(keys) = keys.as_object_mut() {
                let lowest = lowest.iter().map(|(_, json)| json.clone()).collect();
                keys.insert("lowest".to_owned(), serde_json::Value::Array(lowest));
            }
            frame.json(keys)
        },
    ))
}

/// What a step does whose profile is stated: there is no field to draw, and nothing to look for.
fn by_stages(
    desk: &Desk,
    args: &HeatArgs,
    (job, staged): (&Job, &Staged),
    verdict: Verdict,
    assumptions: Vec<Assumption>,
) -> Result<Said, WrongInput> {
    if args.map.is_some()
        || args.trace.is_some()
        || args.lowest_preheat.is_some()
        || args.lowest_tool.is_some()
    {
        return Err(WrongInput::new(format!(
            "`{}` states its `stages`: there is no field to draw, and no setting to look for; describe the tool instead",
            args.step
        )));
    }
    let frame = Frame {
        verb: "heat",
        verdict: Some(verdict),
        line: show_staged::line(job, staged, verdict, desk.say),
        assumptions,
        warnings: show_staged::warnings(),
    };
    Ok(said(
        desk,
        verdict.exit_code(),
        || {
            let text = show_staged::text(job, staged, desk.say);
            format!("{}\n\n{text}{}", frame.line, frame.tail())
        },
        || frame.json(show_staged::json(job, staged)),
    ))
}

/// Why there is no field, and how to get a coupling without one.
fn not_computed(no: &NoField) -> WrongInput {
    let undescribed = matches!(
        no,
        NoField::NoBoard | NoField::BoardLacks(_) | NoField::NoTool(_) | NoField::NoPlace(_)
    );
    if !undescribed {
        return WrongInput::new(no);
    }
    WrongInput::new(format!(
        "{no}\n\nor measure: on a scrap board one thermocouple at the target and one at the neighbour, \
         k = (there − preheat) / (target − preheat), stated as `k: {{tails: 0.6}}`; `did --sees` works it out"
    ))
}

/// The job with one of the ways of a step alone, and with the time that the tool stays, where they are asked for:
/// what verdicts count is then of the same run as what is likely.
fn with_way(
    job: &Job,
    id: &str,
    way: Option<usize>,
    seconds: Option<u32>,
) -> Result<Job, WrongInput> {
    let mut job = job.clone();
    for step in job.steps.iter_mut().filter(|step| step.id == id) {
        for way in step.ways.iter_mut().filter(|_| seconds.is_some()) {
            way.seconds = seconds;
        }
        let Some(way) = way else { continue };
        let ways = step.ways.len();
        let Some(chosen) = way.checked_sub(1).and_then(|at| step.ways.get(at)) else {
            return Err(WrongInput::new(format!(
                "`{id}` has {ways} ways to heat: want 1 to {ways} after --way"
            )));
        };
        step.ways = vec![chosen.clone()];
    }
    Ok(job)
}

/// Where a step stands in the plan as it is written; the last time, if it was done more than once.
pub(super) fn position(checked: &Checked, id: &str) -> Result<usize, WrongInput> {
    let found = checked
        .steps
        .iter()
        .rposition(|step| step.planned.step.id == id);
    found.ok_or_else(|| WrongInput::new(format!("step `{id}` is not part of the plan as written")))
}

fn draw(
    desk: &Desk,
    args: &HeatArgs,
    job: &Job,
    found: &StepHeat,
    line: &str,
) -> Result<(), WrongInput> {
    if let Some(to) = &args.map {
        let map = heat_pictures::map(job, found, line, &args.step, desk.say);
        pictures::save(desk.disk, &map.picture(desk.say.scale), to)?;
    }
    if let Some(to) = &args.trace {
        let traces = heat_pictures::traces(job, found, line, &args.step, desk.say);
        pictures::save(desk.disk, &traces.picture(desk.say.scale), to)?;
    }
    Ok(())
}

fn lowest(
    setting: &Setting,
    checked: &Checked,
    at: usize,
    args: &HeatArgs,
    scale: Scale,
) -> Result<Vec<(Vary, Lowest)>, WrongInput> {
    let asked = [
        (Vary::Preheat, &args.lowest_preheat),
        (Vary::Tool, &args.lowest_tool),
    ];
    let mut found = Vec::new();
    for (vary, range) in asked {
        let Some(range) = range else { continue };
        let (least, most) = range.read(scale)?;
        let lowest = plan::lowest(setting, checked, at, (vary, least, most), args.within)
            .map_err(|no: NoField| WrongInput::new(no))?;
        found.push((vary, lowest));
    }
    Ok(found)
}

/// What a lowest setting is, and what the neighbours make of it.
fn told(
    desk: &Desk,
    melts: &MeltBook,
    args: &HeatArgs,
    vary: Vary,
    lowest: &Lowest,
) -> Result<(String, serde_json::Value), WrongInput> {
    let (what, key, range) = match vary {
        Vary::Preheat => ("preheat", "preheat", &args.lowest_preheat),
        Vary::Tool => ("tool setting", "tool", &args.lowest_tool),
    };
    let within = args.within;
    let top = match range {
        Some(range) => desk.say.t(range.read(desk.say.scale)?.1),
        None => String::new(),
    };
    let (Some(at), Some(job)) = (lowest.at, &lowest.job) else {
        let line = format!(
            "lowest {what}: even {top} does not surely bring the target to flow in {within} s"
        );
        let json = serde_json::json!({"of": key, "t_c": null, "within_s": within, "why": line});
        return Ok((line, json));
    };
    let setting = Setting::new(job, melts);
    let checked = plan::check(&setting, &plan::as_written(job).plan);
    let step = position(&checked, &args.step)?;
    let verdict = checked.steps[step].passage.verdict();
    let left = checked.steps[step]
        .passage
        .tightest()
        .map_or_else(String::new, |margin| {
            format!(", {} left", desk.say.dt(margin))
        });
    let line = format!(
        "lowest {what} that surely brings the target to flow in {within} s: {}; the step then {verdict}{left}",
        desk.say.t(at)
    );
    let json = serde_json::json!({"of": key, "t_c": at, "within_s": within, "verdict": verdict});
    Ok((line, json))
}
