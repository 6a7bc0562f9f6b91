//! The bench sheet: one page of HTML to print, tick off and write on.
//!
//! Needs no network and no script; black on white, nothing said by colour. What cannot be done does
//! not print as a plan: a step without a window, a joint that melts or a broken rule makes the page
//! a refusal, and an unknown that decides makes it a condition.

mod foot;
mod head;
mod page;
mod rows;

use crate::bench::{Setting, Verdict};
use crate::job::Job;
use crate::plan::{Checked, CheckedStep};

use super::answer::Frame;
use super::cautions::{self, Caution, cautions_of};
use super::chart::Staircase;
use super::say::Say;
use super::staircase;

pub use foot::Block;
pub use rows::{AsDone, Row, Until};

/// What a page may be used for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Use {
    /// To work by.
    Plan,
    /// Only once something that is not known has been found out.
    Condition,
    /// Not at all: it says why.
    Refusal,
}

/// A bench sheet as plain data; [`Sheet::html`] writes it.
#[derive(Clone, Debug)]
pub struct Sheet {
    /// What it may be used for.
    pub use_for: Use,
    /// The job.
    pub title: String,
    /// First line of the answer.
    pub line: String,
    /// Verdict in one word.
    pub verdict: &'static str,
    /// The weakest place in one sentence.
    pub weakest: String,
    /// The board, where it is described.
    pub board: String,
    /// Alloys as they arrived, and how they are known.
    pub arrived: Vec<String>,
    /// A row a step.
    pub rows: Vec<Row>,
    /// Why it is no plan; empty where it is one.
    pub why_not: Vec<String>,
    /// What is to be found out first, as lines; filled in by who has asked for the test that decides.
    pub find_out: Vec<String>,
    /// The foot, block by block.
    pub foot: Vec<Block>,
    /// Cautions that apply.
    pub cautions: Vec<Caution>,
    /// Small print: units, data version.
    pub small: Vec<String>,
    /// The staircase as SVG; none where it could not be drawn.
    pub staircase: Option<String>,
}

/// The sheet of a checked plan; `setting` must be that of the check, `data` says on which data the
/// answer rests ([`super::version::data_version`]).
pub fn of(setting: &Setting, checked: &Checked, frame: &Frame, say: Say, data: &str) -> Sheet {
    // A page has room for all of it.
    let say = Say { full: true, ..say };
    let job = setting.job();
    let use_for = use_for(checked);
    let (rows, cautions) = beside(
        job,
        checked,
        rows::rows(setting, checked, say),
        cautions_of(job, checked),
        say,
    );
    Sheet {
        use_for,
        title: job.title.clone(),
        line: frame.line.clone(),
        verdict: checked.verdict.word(),
        weakest: head::weakest(job, checked, say),
        board: head::board(job),
        arrived: head::arrived(job),
        rows,
        why_not: head::why_not(job, checked, say),
        find_out: Vec::new(),
        foot: foot::blocks(setting, checked, frame, say),
        cautions,
        small: foot::small(say, data),
        staircase: picture(setting, checked, frame, say),
    }
}

/// Cautions that belong to one kind of step go beside the first such step that is still to be done; the others are
/// left for the foot. All numbers in the scale of the sheet.
fn beside(
    job: &Job,
    checked: &Checked,
    mut rows: Vec<Row>,
    mut all: Vec<Caution>,
    say: Say,
) -> (Vec<Row>, Vec<Caution>) {
    for caution in &mut all {
        caution.say = foot::in_scale(&caution.say, say);
    }
    for (row, step) in rows.iter_mut().zip(&checked.steps) {
        if row.done.is_some() {
            continue;
        }
        for belongs in cautions::beside(job, step) {
            if let Some(at) = all.iter().position(|c| c.topic == belongs.topic) {
                row.cautions.push(all.remove(at));
            }
        }
    }
    (rows, all)
}

/// The staircase without title and verdict, which stand in the head of the page.
fn picture(setting: &Setting, checked: &Checked, frame: &Frame, say: Say) -> Option<String> {
    let stairs = Staircase {
        title: String::new(),
        line: String::new(),
        verdict: None,
        ..staircase::of(setting, checked, frame)
    };
    stairs.picture(say.scale).svg().ok()
}

fn use_for(checked: &Checked) -> Use {
    let closed = open_steps(checked).any(is_closed);
    match checked.verdict {
        _ if closed => Use::Refusal,
        Verdict::Holds | Verdict::Close | Verdict::Softens => Use::Plan,
        Verdict::Unknown => Use::Condition,
        Verdict::DoesNotFlow | Verdict::Limit | Verdict::Melts => Use::Refusal,
    }
}

/// Steps that are still to be done.
fn open_steps(checked: &Checked) -> impl Iterator<Item = &CheckedStep> {
    checked
        .steps
        .iter()
        .filter(|step| step.planned.log.is_none())
}

/// No peak exists that melts the target and spares everything else.
fn is_closed(step: &CheckedStep) -> bool {
    let window = step.passage.window;
    window
        .from
        .zip(window.to)
        .is_some_and(|(from, to)| to < from)
}
