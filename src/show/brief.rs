//! The short answer of `check` and `order`: what fits on a screen. What is left out is counted, and `--full`
//! and the bench sheet tell it; nothing that does not hold is ever left out.

use std::fmt::Write as _;

use crate::bench::{LimitOf, Verdict};
use crate::job::Job;
use crate::plan::{Checked, CheckedStep, Place, margins};

use super::answer::Frame;
use super::cautions::cautions_of;
use super::check;
use super::electric;
use super::fold::Fold;
use super::say::{Names, Say, step_words, tool_word};
use super::table::Rows;

/// Cautions that are named.
const NAMED: usize = 3;

/// Everything below the first lines; `plan` is what `order` says of the plan itself.
pub(super) fn body(
    job: &Job,
    checked: &Checked,
    frame: &Frame,
    (say, fold): (Say, &Fold),
    plan: &str,
) -> String {
    let table = fold.numbered_rows(steps(job, checked, say));
    let mut out = format!("\n{}", table.text(say.width));
    out.push_str(plan);
    out.push_str(&check::details(job, checked, say, fold));
    let results = fold.lines(&check::results(job, checked, say));
    let power = fold.lines(&electric::brief(job, checked));
    let _ = write!(out, "\n{}{power}", results.trim_start_matches('\n'));
    for warning in &frame.warnings {
        let _ = writeln!(out, "Note: {warning}");
    }
    out.push_str(&left_out(job, checked, frame));
    out
}

/// The steps in columns that fit on 80; a verdict only where one does not hold, since the first line says it
/// of all.
fn steps(job: &Job, checked: &Checked, say: Say) -> Rows {
    let verdict = |step: &CheckedStep| match (check::done_word(step), step.passage.verdict()) {
        (Some(word), _) => word.to_owned(),
        (None, Verdict::Holds) => String::new(),
        (None, verdict) => verdict.to_string(),
    };
    let told = checked.steps.iter().any(|step| !verdict(step).is_empty());
    let row = |(i, step): (usize, &CheckedStep)| {
        let way = step.planned.step.ways.get(step.planned.pick.way);
        let tool = way.map_or("", |way| tool_word(way.tool));
        let peak = step.passage.peak.map(|peak| say.t_bare(peak));
        let mut cells = vec![
            (i + 1).to_string(),
            step.planned.step.id.clone(),
            step_words(job, &step.planned.step),
            format!("{tool} {}", peak.unwrap_or_default())
                .trim()
                .to_owned(),
            check::window_words(step.passage.window, say),
            least_left(job, step, say),
        ];
        cells.extend(told.then(|| verdict(step)));
        cells
    };
    let mut head = vec!["", "step", "what", "tool", "window", "least left"];
    head.extend(told.then_some("verdict"));
    Rows {
        head,
        rows: checked.steps.iter().enumerate().map(row).collect(),
    }
}

/// The least that anything keeps, and what; a body by the name of its part.
fn least_left(job: &Job, step: &CheckedStep, say: Say) -> String {
    let least = margins(&step.passage).min_by_key(|(_, margin)| *margin);
    least.map_or_else(String::new, |(place, margin)| {
        let of = match place {
            Place::Limit(LimitOf::Part(part)) => Names(job).part(part).to_owned(),
            place => Names(job).place(place),
        };
        format!("{}: {of}", say.dt(margin))
    })
}

/// The cautions that matter most by their heads, and how much `--full` tells beside.
fn left_out(job: &Job, checked: &Checked, frame: &Frame) -> String {
    let cautions = cautions_of(job, checked);
    let heads = cautions.iter().take(NAMED).map(|c| c.topic.to_lowercase());
    let heads: Vec<String> = heads.collect();
    let more = match cautions.len().saturating_sub(NAMED) {
        0 => String::new(),
        more => format!("; {more} more"),
    };
    format!(
        "Take care: {}{more}. Taken for granted: {}. `--full` tells all of it\n",
        heads.join(", "),
        frame.assumptions.len()
    )
}
