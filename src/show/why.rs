//! What `order --why` and `order --all` say.

use std::fmt::Write as _;

use serde_json::{Value, json};

use crate::job::Job;
use crate::plan::{How, Other, Outcome, Plan, WhyThere, Worth};

use super::clash::demand_words;
use super::say::{Say, harmless};
use super::table::Rows;

/// Why a step stands where it does, as text.
pub fn text(job: &Job, why: Option<&WhyThere>, say: Say) -> String {
    let Some(why) = why else {
        return "there is no order with that step in it\n".to_owned();
    };
    let mut out = format!(
        "{} is step {} of the best order{}, which keeps {}\n",
        job.steps[why.step.0].id,
        why.at + 1,
        if why.proven {
            ""
        } else {
            " found (not proven: a search was cut off)"
        },
        margin(&why.worth, say)
    );
    for other in &why.others {
        let _ = writeln!(
            out,
            "  - {}: {}",
            how(job, why, other),
            outcome(job, why, other, say)
        );
    }
    if why.others.is_empty() {
        out.push_str("  - it could stand nowhere else and be done in no other way\n");
    }
    harmless(&out)
}

fn how(job: &Job, why: &WhyThere, other: &Other) -> String {
    let id = &job.steps[why.step.0].id;
    match other.how {
        How::BeforeThat(that) => format!("{id} before {}", job.steps[that.0].id),
        How::AfterThat(that) => format!("{id} after {}", job.steps[that.0].id),
        How::OtherChoice => format!("{id} done otherwise"),
        How::LeftOut => format!("without {id}"),
    }
}

fn outcome(job: &Job, why: &WhyThere, other: &Other, say: Say) -> String {
    match &other.outcome {
        Outcome::Plan(plan, worth) => {
            let order = ids(job, plan).join(" ");
            format!("{} ({order})", cost(&why.worth, worth, say))
        }
        Outcome::Asked(chain) => {
            let chain: Vec<&str> = chain.iter().map(|s| job.steps[s.0].id.as_str()).collect();
            format!("the job asks for {} (`after`)", chain.join(" before "))
        }
        Outcome::Clash(asked, Some(conflict)) => {
            let demands: Vec<String> = conflict
                .demands
                .iter()
                .map(|demand| demand_words(asked, *demand, say))
                .collect();
            format!("no order keeps all of: {}", demands.join("; "))
        }
        Outcome::Clash(_, None) => "no order; not known what is in the way".to_owned(),
        Outcome::Unknown => "not known".to_owned(),
    }
}

/// What a plan costs against the best.
fn cost(best: &Worth, other: &Worth, say: Say) -> String {
    let mut costs = Vec::new();
    if let (Some(before), Some(now)) = (best.margin, other.margin)
        && before != now
    {
        costs.push(format!("{} of margin less", say.dt(before - now)));
    }
    if best.margin.is_none() && other.margin.is_some() {
        costs.push(format!("only {} left", margin(other, say)));
    }
    let more = |was: u32, is: u32, what: &str| {
        let word = if is > was { "more" } else { "fewer" };
        (was != is).then(|| format!("{} {word} {what}", was.abs_diff(is)))
    };
    costs.extend(more(
        best.vital_heats,
        other.vital_heats,
        "heats on vital parts",
    ));
    if best.vital_peak != other.vital_peak {
        let peak = other
            .vital_peak
            .map_or_else(|| "none".to_owned(), |t| say.t(t));
        costs.push(format!("hottest vital heat {peak}"));
    }
    costs.extend(more(
        best.changes,
        other.changes,
        "changes of tool or alloy",
    ));
    costs.extend(more(best.steps, other.steps, "steps"));
    if costs.is_empty() {
        "costs nothing; the order of the ids decided".to_owned()
    } else {
        costs.join(", ")
    }
}

fn margin(worth: &Worth, say: Say) -> String {
    worth
        .margin
        .map_or_else(|| "everything".to_owned(), |m| say.dt(m))
}

fn ids<'j>(job: &'j Job, plan: &Plan) -> Vec<&'j str> {
    let steps = plan.steps.iter();
    steps
        .map(|chosen| job.steps[chosen.step.0].id.as_str())
        .collect()
}

/// Why a step stands where it does, as JSON.
pub fn json(job: &Job, why: Option<&WhyThere>) -> Value {
    let say = Say::default();
    let Some(why) = why else {
        return json!({ "why": null });
    };
    let one = |other: &Other| {
        let (plan, worth) = match &other.outcome {
            Outcome::Plan(plan, worth) => (Some(plan), Some(worth)),
            _ => (None, None),
        };
        json!({
            "otherwise": how(job, why, other),
            "line": outcome(job, why, other, say),
            "order": plan.map(|plan| ids(job, plan)),
            "margin_k": worth.and_then(|worth| worth.margin),
        })
    };
    json!({ "why": {
        "step": job.steps[why.step.0].id,
        "at": why.at + 1,
        "margin_k": why.worth.margin,
        "proven": why.proven,
        "others": why.others.iter().map(one).collect::<Vec<_>>(),
    }})
}

/// Every trade between margin, vital heats and steps, as text.
pub fn trades_text(job: &Job, trades: &[(Plan, Worth)], say: Say) -> String {
    let rows = trades.iter().map(|(plan, worth)| {
        vec![
            margin(worth, say),
            worth.vital_heats.to_string(),
            worth.vital_peak.map_or_else(String::new, |t| say.t_bare(t)),
            worth.steps.to_string(),
            ids(job, plan).join(" "),
        ]
    });
    let rows = Rows {
        head: vec!["margin", "vital heats", "hottest", "steps", "order"],
        rows: rows.collect(),
    };
    harmless(&rows.text(say.width))
}

/// The same as JSON.
pub fn trades_json(job: &Job, trades: &[(Plan, Worth)]) -> Value {
    let one = |(plan, worth): &(Plan, Worth)| {
        json!({
            "order": ids(job, plan),
            "margin_k": worth.margin,
            "vital_heats": worth.vital_heats,
            "vital_peak_c": worth.vital_peak,
            "steps": worth.steps,
        })
    };
    json!({ "all": trades.iter().map(one).collect::<Vec<_>>() })
}
