//! The head of a sheet: board, alloys as they arrived, the weakest place, and why it is no plan.

use crate::job::{Content, Deposit, Job, Start};
use crate::plan::Checked;

use super::{is_closed, open_steps};
use crate::show::check::{troubles, verdict_line};
use crate::show::say::{Names, Say, step_words, tenth};

/// Size, thickness and copper, where the job says them.
pub(super) fn board(job: &Job) -> String {
    let Some(board) = &job.board else {
        return String::new();
    };
    let size = board.size.map_or_else(String::new, |(length, width)| {
        format!("{} × {} × ", tenth(length.mm()), tenth(width.mm()))
    });
    format!(
        "{size}{} mm, {} copper layers of {} µm",
        tenth(board.thickness.mm()),
        board.layers,
        tenth(board.copper.um())
    )
}

/// What is on the board and on the parts at the start, each alloy with those who hold it.
pub(super) fn arrived(job: &Job) -> Vec<String> {
    let mut lines: Vec<(String, Vec<String>)> = Vec::new();
    let mut add =
        |metal: String, holder: String| match lines.iter_mut().find(|(of, _)| *of == metal) {
            Some((_, holders)) => holders.push(holder),
            None => lines.push((metal, vec![holder])),
        };
    for joint in &job.joints {
        let residue = joint.start == Start::Bare;
        for deposit in &joint.each {
            let left = if residue { " (residue)" } else { "" };
            add(content(job, deposit), format!("{}{left}", joint.id));
        }
    }
    for part in &job.parts {
        if let Some(balls) = &part.balls {
            add(known(job, &balls.content), format!("balls of {}", part.id));
        }
    }
    let told = |(metal, holders): (String, Vec<String>)| format!("{metal}: {}", holders.join(", "));
    lines.into_iter().map(told).collect()
}

fn content(job: &Job, deposit: &Deposit) -> String {
    known(job, &deposit.content)
}

fn known(job: &Job, content: &Content) -> String {
    match content {
        Content::Known(solder) => {
            let pinned = job.pins.iter().any(|pin| pin.solder.name == solder.name);
            let how = if pinned {
                "readings given in the job"
            } else {
                "as the job says"
            };
            format!("{} ({how})", solder.name)
        }
        Content::Reel(reel) => match job.reels.get(reel.0) {
            Some(reel) => {
                let candidates: Vec<&str> =
                    reel.candidates.iter().map(|s| s.name.as_str()).collect();
                let open = if reel.closed {
                    ""
                } else {
                    ", or something else"
                };
                format!("NOT KNOWN, assumed {}{open}", candidates.join(" or "))
            }
            None => "NOT KNOWN".to_owned(),
        },
    }
}

/// "weakest: tails in step 4, place store on pads, 22.4 K left".
pub(super) fn weakest(job: &Job, checked: &Checked, say: Say) -> String {
    let Some(tightest) = checked.tightest else {
        let heats = open_steps(checked).any(|step| step.passage.peak.is_some());
        return if heats {
            "weakest: nothing that stands sees any heat whose margin is known".to_owned()
        } else {
            "weakest: no heat is left to come".to_owned()
        };
    };
    let step = &checked.steps[tightest.step].planned.step;
    let place = Names(job).place(tightest.place);
    let left = if tightest.margin.millikelvin() < 0 {
        // Rounded as everywhere, away from the safe side; only the sign is words.
        let margin = say.dt(tightest.margin);
        format!("{} too hot", margin.trim_start_matches(['-', '−']))
    } else {
        format!("{} left", say.dt(tightest.margin))
    };
    format!(
        "weakest: {place} in step {} ({}), {left}",
        tightest.step + 1,
        step_words(job, step)
    )
}

/// Every reason why the page is no plan, or hangs on something; empty where it is one.
pub(super) fn why_not(job: &Job, checked: &Checked, say: Say) -> Vec<String> {
    let mut why = Vec::new();
    if super::use_for(checked) == super::Use::Plan {
        return why;
    }
    why.push(verdict_line(job, checked, say));
    for (at, step) in checked.steps.iter().enumerate() {
        if step.planned.log.is_some() {
            continue;
        }
        let named = format!("step {} {}", at + 1, step.planned.step.id);
        if is_closed(step)
            && let Some((from, to)) = step.passage.window.from.zip(step.passage.window.to)
        {
            let by = step.passage.window.set_by;
            let by = by.map_or_else(String::new, |by| {
                format!(", set by {}", Names(job).set_by(by))
            });
            why.push(format!(
                "{named}: no window: it flows from {}, and must stay below {}{by}",
                say.t(from),
                say.t(to)
            ));
        }
        for trouble in troubles(job, step, say) {
            why.push(format!("{named}: {trouble}"));
        }
    }
    why.dedup();
    let open = open_steps(checked).count();
    if open == 0 {
        why.push("every step is done: what is wrong is wrong with the board as it is".to_owned());
    }
    why
}
