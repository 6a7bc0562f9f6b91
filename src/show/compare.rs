//! What `compare` says: routes side by side.

use std::fmt::Write as _;
use std::time::Duration;

use serde_json::{Value, json};

use crate::bench::Verdict;
use crate::job::Job;
use crate::plan::{Answer, Route, best_route};

use super::answer::{Assumption, Frame};
use super::chart::{RouteBar, Routes};
use super::say::{Names, Say, first_line, harmless, tenth};
use super::staircase::mark;
use super::table::Rows;

/// The frame of an answer.
pub fn frame(routes: &[Route], mut assumptions: Vec<Assumption>, say: Say) -> Frame {
    let best = best_route(routes).map(|at| &routes[at]);
    let none = |route: &Route| matches!(route.answer, Answer::Impossible { .. });
    let line = match best {
        Some(best) => format!("{}: {}, {}", best.verdict, best.name, why(best, say)),
        None if routes.iter().all(none) => "no route has an order that holds".to_owned(),
        None => "unknown: no route has an order that is known to hold".to_owned(),
    };
    let worst = if routes.iter().all(none) {
        Verdict::Limit
    } else {
        Verdict::Unknown
    };
    if routes.iter().any(|route| route.minutes.usual > 0.0) {
        assumptions.push(Assumption {
            what: "minutes of steps that state none, by kind of step".to_owned(),
            value: "2 to 30".to_owned(),
            unit: "min".to_owned(),
            mark: "common practice, no source".to_owned(),
        });
    }
    Frame {
        verb: "compare",
        verdict: Some(best.map_or(worst, |best| best.verdict)),
        line: first_line(&harmless(&line)),
        assumptions,
        warnings: Vec::new(),
    }
}

/// What speaks for the best route.
pub fn why(route: &Route, say: Say) -> String {
    let heats: u32 = route.vital.iter().map(|vital| vital.heats).sum();
    let peak = route.vital.iter().filter_map(|vital| vital.peak).max();
    let peak = peak.map_or_else(String::new, |t| format!(" up to {}", say.t(t)));
    let margin = margin(route, say);
    let word = if heats == 1 { "heat" } else { "heats" };
    format!("{heats} {word} on the data{peak}, {margin} left")
}

fn margin(route: &Route, say: Say) -> String {
    match route.answer.plan() {
        Some((_, worth)) => worth
            .margin
            .map_or_else(|| "everything".to_owned(), |margin| say.dt(margin)),
        None => "no order".to_owned(),
    }
}

/// The whole answer as text. `jobs` are those of the routes, in the same order.
pub fn text(routes: &[Route], jobs: &[Job], frame: &Frame, say: Say) -> String {
    let rows = routes.iter().map(|route| {
        let vital: Vec<String> = route
            .vital
            .iter()
            .map(|vital| {
                let peak = vital
                    .peak
                    .map_or_else(String::new, |t| format!(" ≤ {}", say.t_bare(t)));
                format!("{} {}×{peak}", vital.part, vital.heats)
            })
            .collect();
        vec![
            route.name.clone(),
            route.verdict.to_string(),
            margin(route, say),
            vital.join(", "),
            route.steps.to_string(),
            tenth(route.minutes.minutes),
            route.unknowns.len().to_string(),
        ]
    });
    let rows = Rows {
        head: vec![
            "route", "verdict", "margin", "data", "steps", "minutes", "unknown",
        ],
        rows: rows.collect(),
    };
    let mut out = format!("{}\n\n{}", frame.line, rows.text(say.width));
    for (route, job) in routes.iter().zip(jobs) {
        if !route.unknowns.is_empty() {
            let _ = writeln!(
                out,
                "\n{}: not known: {}",
                route.name,
                route.unknowns.join("; ")
            );
        }
        for narrow in &route.must_go_right {
            let _ = writeln!(
                out,
                "{}: must go right: {}, {} keeps {}",
                route.name,
                narrow.step,
                Names(job).place(narrow.place),
                say.dt(narrow.margin)
            );
        }
    }
    out.push_str(&frame.tail());
    harmless(&out)
}

/// The routes as a picture.
pub fn chart(routes: &[Route], jobs: &[Job], frame: &Frame, say: Say) -> Routes {
    let bar = |(route, job): (&Route, &Job)| {
        let tightest = route.checked.as_ref().and_then(|checked| {
            let tightest = checked.tightest?;
            let step = &checked.steps[tightest.step].planned.step.id;
            Some(format!("{} in {step}", Names(job).place(tightest.place)))
        });
        let seconds = (route.minutes.minutes * 60.0).clamp(0.0, 1e9);
        RouteBar {
            name: short_name(&route.name).to_owned(),
            mark: mark(route.verdict),
            margin: route.answer.plan().and_then(|(_, worth)| worth.margin),
            weakest: tightest.unwrap_or_else(|| without_margin(route).to_owned()),
            heats: route.vital.iter().map(|vital| vital.heats).sum(),
            peak: route.vital.iter().filter_map(|vital| vital.peak).max(),
            steps: route.steps,
            takes: route
                .checked
                .is_some()
                .then(|| Duration::from_secs_f64(seconds)),
            unknowns: route.unknowns.clone(),
        }
    };
    let must_go_right = routes.iter().filter_map(|route| {
        let narrow = route.must_go_right.first()?;
        let left = say.dt(narrow.margin);
        let more = match route.must_go_right.len() - 1 {
            0 => String::new(),
            more => format!(" and {more} more"),
        };
        Some(format!(
            "{}: must go right: {} ({left}){more}",
            short_name(&route.name),
            narrow.step
        ))
    });
    let mut notes: Vec<String> = must_go_right.collect();
    if routes.iter().any(|route| route.minutes.usual > 0.0) {
        notes.push(
            "minutes of steps that state none: 2 to 30 by kind of step (common practice, no source)"
                .to_owned(),
        );
    }
    Routes {
        title: "Routes to the data".to_owned(),
        line: frame.line.clone(),
        routes: routes.iter().zip(jobs).map(bar).collect(),
        best: best_route(routes),
        notes,
    }
}

/// Why a route has no tightest place.
const fn without_margin(route: &Route) -> &'static str {
    match route.answer {
        Answer::Proven { .. } | Answer::Unproven { .. } => "nothing is at risk",
        Answer::Impossible { .. } => "no order keeps every demand",
        Answer::Undecided { .. } => "hangs on what is not known",
        Answer::Unknown { .. } => "",
    }
}

/// The file without its folders.
fn short_name(path: &str) -> &str {
    path.rsplit(['/', '\\']).next().unwrap_or(path)
}

/// The keys of `compare`, as `json.md` of the design has them.
pub fn json(routes: &[Route], jobs: &[Job]) -> Value {
    let best = best_route(routes).map(|at| &routes[at]);
    let one = |(route, job): (&Route, &Job)| {
        json!({
            "file": route.name,
            "verdict": route.verdict,
            "margin_k": route.answer.plan().and_then(|(_, worth)| worth.margin),
            "vital": route.vital.iter().map(|vital| json!({
                "part": vital.part,
                "heats": vital.heats,
                "peak_c": vital.peak,
            })).collect::<Vec<_>>(),
            "steps": route.steps,
            "minutes": route.minutes.minutes,
            "minutes_usual": route.minutes.usual,
            "unknowns": route.unknowns,
            "must_go_right": route.must_go_right.iter().map(|narrow| json!({
                "step": narrow.step,
                "place": Names(job).place(narrow.place),
                "margin_k": narrow.margin,
            })).collect::<Vec<_>>(),
        })
    };
    json!({
        "routes": routes.iter().zip(jobs).map(one).collect::<Vec<_>>(),
        "best": best.map(|best| &best.name),
        "why": best.map(|best| why(best, Say::default())),
    })
}
