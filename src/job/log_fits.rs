//! Whether a line of the log can be honoured: what it says was done must be something that the step does.

use super::desk::Desk;
use super::fields::Fields;
use super::shape::{Event, Job, Step, StepIx, Tool, Way, Where, Work};
use super::ways::word_of;
use crate::quantity::Celsius;

/// Puts on the desk what the lines of the log say and their steps cannot take up.
pub(super) fn check(job: &Job, fields: &Fields, desk: &mut Desk) {
    for (event, item) in job.done.iter().zip(fields.items("done")) {
        let plain = event.step.split('#').next().unwrap_or(&event.step);
        let Some(step) = job.steps.iter().find(|step| step.id == plain) else {
            continue; // a repair that the log itself brings about: looked at once it exists
        };
        if let Some(why) = misfit(step, event) {
            desk.fault(item.place, why);
        }
    }
}

/// What really brought the heat, where a step has no way with that tool.
pub(super) fn take_other_tools(job: &mut Job) {
    for event in &mut job.done {
        let plain = event.step.split('#').next().unwrap_or(&event.step);
        let step = job.steps.iter().find(|step| step.id == plain);
        let planned = |tool| step.is_none_or(|step| step.ways.iter().any(|way| way.tool == tool));
        if let Some(tool) = event.tool.filter(|tool| !planned(*tool)) {
            event.other_way = Some(Way::with(tool, job.ambient));
        }
    }
}

/// Marks lines of the log that came before a step which, as the job is written, had to come first.
pub fn mark_order(job: &mut Job) {
    let stem = |id: &str| id.split(['#', '~']).next().unwrap_or(id).to_owned();
    for line in 0..job.done.len() {
        // A look, and what mends something before its step comes again, wait for nothing.
        if !is_step_itself(&job.done[line].step) {
            continue;
        }
        let id = stem(&job.done[line].step);
        let Some(step) = job.steps.iter().find(|step| step.id == id) else {
            continue;
        };
        let is_done = |before: StepIx| {
            let wanted = &job.steps[before.0].id;
            let mut earlier = job.done[..line].iter();
            earlier.any(|event| {
                let same = is_step_itself(&event.step) && stem(&event.step) == *wanted;
                same && event.failed.is_none()
            })
        };
        let missing = step.after.iter().map(|(before, _)| *before);
        let missing = missing
            .filter(|before| !job.steps[before.0].optional)
            .find(|before| !is_done(*before));
        job.done[line].too_early = missing;
    }
}

/// Whether a line tells of a step of the job, or of its repetition, and not of a look at it or of a repair.
fn is_step_itself(id: &str) -> bool {
    id.split_once('~')
        .is_none_or(|(_, what)| what.starts_with("again"))
}

/// Why a line of the log cannot be honoured for its step; `None` where all of it can.
pub fn misfit(step: &Step, event: &Event) -> Option<String> {
    let id = &step.id;
    if step.ways.is_empty() && event.tool.is_some_and(|tool| tool != Tool::None) {
        return Some(format!(
            "`{id}` brings no heat: a tool used in it belongs to another step, or want `tool` at the step"
        ));
    }
    let cold = step.ways.iter().all(|way| way.tool == Tool::None) && event.other_way.is_none();
    if cold && (event.peak.is_some() || !event.sees.is_empty()) {
        return Some(format!(
            "`{id}` brings no heat: a temperature read in it belongs to another step, or want `tool` and `peak_c` at the step"
        ));
    }
    if let Some(cold) = below_preheat(step, event) {
        return Some(format!(
            "a place that reads {cold} on a board preheated to more: the thermocouple has come off, or want the reading of the preheat too"
        ));
    }
    if event.alloy.is_some() && !uses_solder(&step.work) {
        return Some(format!(
            "`{id}` puts no solder on: the alloy belongs to the step that does"
        ));
    }
    if event.mass.is_some() && !uses_solder(&step.work) {
        return Some(format!(
            "`{id}` puts no solder on: the mass belongs to the step that does"
        ));
    }
    match (&step.work, event.rounds) {
        (Work::Clean { flood: None, .. }, Some(rounds)) if rounds > 0 => Some(format!(
            "`{id}` names no fresh solder for rounds: want `flood: {{alloy: …, mg: …}}` at the step"
        )),
        (Work::Clean { .. }, _) | (_, None) => None,
        (_, Some(_)) => Some(format!("`{id}` is no clean-up: it has no rounds")),
    }
}

/// Why a line that is written now must say with which tool: the step may be done with several. Of a line that
/// stands in a file already, the first of them is taken.
pub fn tool_unsaid(step: &Step, event: &Event) -> Option<String> {
    let mut tools: Vec<Tool> = step.ways.iter().map(|way| way.tool).collect();
    tools.dedup();
    let [first, _, ..] = tools.as_slice() else {
        return None;
    };
    let words: Vec<&str> = tools.iter().copied().map(word_of).collect();
    event.tool.is_none().then(|| {
        format!(
            "`{}` leaves its tool open: say which was used, as `--tool {}` (one of {})",
            step.id,
            word_of(*first),
            words.join(", ")
        )
    })
}

/// A reading that is colder than every preheat of the step. Off the board nothing is preheated.
fn below_preheat(step: &Step, event: &Event) -> Option<Celsius> {
    let off = matches!(
        step.work,
        Work::Reball { .. } | Work::Clean { part: Some(_), .. }
    );
    let whole = |way: &&Way| way.preheat_area.is_none();
    let preheat = step
        .ways
        .iter()
        .filter(whole)
        .map(|way| way.preheat)
        .min()?;
    let all = step.ways.iter().all(|way| whole(&way));
    let colder = |(_, t): &&(Where, Celsius)| *t < preheat && preheat >= WARM && all && !off;
    event.sees.iter().find(colder).map(|(_, t)| *t)
}

/// A board this warm has been preheated: a room is not (our judgement).
const WARM: Celsius = Celsius::whole(45);

/// Whether a step brings solder of which alloy and mass may be logged.
fn uses_solder(work: &Work) -> bool {
    match work {
        Work::Solder { .. } | Work::Reball { .. } => true,
        Work::Place { paste, .. } => paste.is_some(),
        Work::Remove { flood, .. } => flood.is_some(),
        Work::Clean { flood, .. } => flood.is_some(),
        _ => false,
    }
}
