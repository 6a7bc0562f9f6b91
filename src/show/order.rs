//! What `order` says: the best order and what it is worth, or that there is none.

use std::fmt::Write as _;

use serde_json::{Map, Value, json};

use crate::bench::{Doing, Verdict, solder_choice};
use crate::job::{Choice, Job, Work};
use crate::plan::{Answer, Checked, Chosen, FindOut, POWER_CHECK, Plan, Worth};

use super::answer::{Assumption, Frame};
use super::check;
use super::find_out;
use super::fold::Fold;
use super::say::{Say, first_line_of, harmless, tool_word};

/// An answer of `order`, with everything that is told of it.
#[derive(Clone, Copy, Debug)]
pub struct Ordered<'a> {
    /// What the search says.
    pub answer: &'a Answer,
    /// The plan (with what was done before it) folded over the transition; `None` where there is no
    /// plan.
    pub checked: Option<&'a Checked>,
    /// What is worth finding out first.
    pub find_out: Option<&'a FindOut>,
}

/// The frame of an answer.
pub fn frame(job: &Job, ordered: Ordered, assumptions: Vec<Assumption>, say: Say) -> Frame {
    let mut frame = match ordered.checked {
        Some(checked) => check::frame("order", job, checked, assumptions, say),
        None => Frame {
            verb: "order",
            assumptions,
            ..Frame::default()
        },
    };
    frame.verdict = Some(verdict(ordered));
    frame.line = first_line_of(job, &harmless(&line(job, ordered, say)));
    frame
}

/// The verdict of the plan; without one `limit broken`, or `unknown` where that decides.
pub fn verdict(ordered: Ordered) -> Verdict {
    match (ordered.answer, ordered.checked) {
        _ if ordered.find_out.is_some() => Verdict::Unknown,
        (Answer::Proven { .. } | Answer::Unproven { .. }, Some(checked)) => checked.verdict,
        (Answer::Impossible { .. }, _) => Verdict::Limit,
        _ => Verdict::Unknown,
    }
}

fn line(job: &Job, ordered: Ordered, say: Say) -> String {
    if let Some(test) = ordered.find_out {
        let words = find_out::sentence(job, test, say);
        return format!("unknown: first {words}: the order hangs on it");
    }
    let held = ordered.answer.plan();
    if let (Some(_), Some(checked)) = (
        held.filter(|(plan, _)| plan.steps.is_empty()),
        ordered.checked,
    ) && checked.verdict <= Verdict::Close
    {
        return format!("{}: everything is done", checked.verdict);
    }
    let told = ordered.checked.map_or_else(String::new, |checked| {
        check::verdict_line(job, checked, say)
    });
    match ordered.answer {
        Answer::Proven { .. } => told,
        // No order is wider; which of the equal ones is taken changes nothing of that.
        Answer::Unproven { .. } if margin_is_proven(ordered.answer) => told,
        Answer::Unproven { .. } => format!("{told} (best found, not proven)"),
        Answer::Impossible { .. } => "no order keeps every demand".to_owned(),
        Answer::Undecided { .. } => {
            "unknown: whether any order holds hangs on what is not known".to_owned()
        }
        Answer::Unknown { visited } => {
            format!("unknown: stopped after {visited} benches with no order found")
        }
    }
}

/// The whole answer as text; `clash` is why there is no order, where there is none.
pub fn text(job: &Job, ordered: Ordered, clash: Option<&str>, frame: &Frame, say: Say) -> String {
    let find_out = ordered.find_out.map_or_else(String::new, |test| {
        format!("\n{}", find_out::text(job, test, say))
    });
    let Some(checked) = ordered.checked else {
        let clash = clash.unwrap_or_default();
        return harmless(&format!(
            "{}\n{find_out}{clash}{}",
            frame.line,
            frame.end(say.full)
        ));
    };
    // What nobody could judge stays on the first page, right below the verdict.
    let fold = Fold::of(job);
    let mut plan = String::new();
    if let Some((found, worth)) = ordered.answer.plan() {
        plan.push_str(&worth_text(job, found, worth, say, &fold));
    }
    plan.push_str(&proof_text(ordered.answer, say));
    let (head, body) = check::parts(job, checked, frame, (say, &fold), &plan);
    harmless(&format!("{head}{find_out}{body}"))
}

fn worth_text(job: &Job, plan: &Plan, worth: &Worth, say: Say, fold: &Fold) -> String {
    if plan.steps.is_empty() {
        return "Nothing is left to do\n".to_owned();
    }
    let ids: Vec<&str> = plan.steps.iter().map(|chosen| id(job, chosen)).collect();
    let mut out = format!("Order: {}\n", fold.sequence(&ids));
    let mut chosen_lines = String::new();
    for chosen in &plan.steps {
        let taken = choices(job, chosen);
        if !taken.is_empty() {
            let words: Vec<String> = taken
                .iter()
                .map(|(what, v)| format!("{what} {v}"))
                .collect();
            let words = words.join(", ");
            let _ = writeln!(chosen_lines, "  {}: {words}", id(job, chosen));
        }
    }
    out.push_str(&fold.lines(&chosen_lines));
    // A check before power that was added to be chosen, and is not needed, is no news.
    let ids: Vec<&str> = plan
        .left_out
        .iter()
        .map(|step| job.steps[step.0].id.as_str())
        .filter(|id| !id.ends_with(POWER_CHECK))
        .collect();
    if !ids.is_empty() {
        let _ = writeln!(out, "Left out: {}", fold.sequence(&ids));
    }
    if !say.full {
        return out;
    }
    let margin = worth
        .margin
        .map_or_else(|| "nothing at risk".to_owned(), |m| say.dt(m));
    let peak = worth
        .vital_peak
        .map_or_else(String::new, |t| format!(", hottest {}", say.t(t)));
    let _ = writeln!(
        out,
        "Tightest margin {margin}; heats on vital parts {}{peak}; changes of tool or alloy {}",
        worth.vital_heats, worth.changes
    );
    out
}

fn proof_text(answer: &Answer, say: Say) -> String {
    match answer {
        Answer::Proven { visited, .. } => {
            let benches = if *visited == 1 { "bench" } else { "benches" };
            format!("Proven: no order is better ({visited} {benches} looked at)\n")
        }
        Answer::Unproven { visited, .. } if margin_is_proven(answer) => format!(
            "Margin proven; among equal orders not all were compared ({visited} benches looked at)\n"
        ),
        Answer::Unproven { bound, visited, .. } => {
            let bound = bound.map_or_else(
                || "no bound is known".to_owned(),
                |bound| format!("no order keeps more than {}", say.dt(bound)),
            );
            format!("NOT PROVEN: stopped after {visited} benches; {bound}\n")
        }
        Answer::Undecided { .. } => {
            "This order breaks nothing that is known; it is no plan before the unknown is found out\n"
                .to_owned()
        }
        Answer::Impossible { .. } | Answer::Unknown { .. } => String::new(),
    }
}

/// Whether no order keeps more, though equal ones were not all compared.
fn margin_is_proven(answer: &Answer) -> bool {
    match answer {
        Answer::Unproven { worth, bound, .. } => bound.is_some() && *bound == worth.margin,
        Answer::Proven { .. } => true,
        _ => false,
    }
}

fn id<'j>(job: &'j Job, chosen: &Chosen) -> &'j str {
    &job.steps[chosen.step.0].id
}

/// Choices that the job left open, as taken: what and value.
pub fn choices(job: &Job, chosen: &Chosen) -> Vec<(&'static str, String)> {
    let step = &job.steps[chosen.step.0];
    let doing = Doing::planned(step, chosen.pick);
    let mut taken = Vec::new();
    if let Some(choice @ Choice::OneOf(_)) = solder_choice(&step.work) {
        taken.extend(doing.solder(choice).map(|s| ("alloy", s.name.clone())));
    }
    if step.ways.len() > 1 {
        taken.extend(doing.way().map(|way| {
            let preheat = super::say::tenth(way.preheat.degrees());
            (
                "tool",
                format!("{} (board at {preheat} °C)", tool_word(way.tool)),
            )
        }));
    }
    if let Work::Clean {
        rounds: rounds @ Choice::OneOf(_),
        ..
    } = &step.work
    {
        taken.push(("rounds", doing.rounds(rounds).to_string()));
    }
    taken
}

/// The keys of `order`, as `json.md` of the design has them, but for `clash`.
pub fn json(job: &Job, ordered: Ordered) -> Value {
    let answer = ordered.answer;
    let plan = match answer {
        Answer::Undecided { plan, .. } => Some(plan),
        _ => answer.plan().map(|(plan, _)| plan),
    };
    let ids =
        |plan: &Plan| -> Vec<String> { plan.steps.iter().map(|c| id(job, c).to_owned()).collect() };
    let mut taken = Map::new();
    for chosen in plan.iter().flat_map(|plan| &plan.steps) {
        let choices = choices_json(job, chosen);
        if !choices.is_empty() {
            taken.insert(id(job, chosen).to_owned(), Value::Object(choices));
        }
    }
    let worth = answer.plan().map(|(_, worth)| worth);
    let held = answer.plan().is_some();
    json!({
        "order": plan.filter(|_| held).map(ids),
        "order_if_unknowns_are_harmless": plan.filter(|_| !held).map(ids),
        "choices": taken,
        "left_out": plan.map(|plan| plan.left_out.iter().map(|s| &job.steps[s.0].id).collect::<Vec<_>>()),
        "margin_k": worth.and_then(|worth| worth.margin),
        "vital_heats": worth.map(|worth| worth.vital_heats),
        "vital_peak_c": worth.and_then(|worth| worth.vital_peak),
        "changes": worth.map(|worth| worth.changes),
        "proven": matches!(answer, Answer::Proven { .. } | Answer::Impossible { .. }),
        "margin_proven": margin_is_proven(answer),
        "bound_k": match answer {
            Answer::Unproven { bound, .. } => *bound,
            _ => worth.and_then(|worth| worth.margin),
        },
        "visited": answer.visited(),
        "find_out": ordered.find_out.map(|test| find_out::json(job, test)),
        "check": ordered.checked.map(|checked| check::json(job, checked)),
    })
}

fn choices_json(job: &Job, chosen: &Chosen) -> Map<String, Value> {
    let step = &job.steps[chosen.step.0];
    let doing = Doing::planned(step, chosen.pick);
    let mut taken = Map::new();
    if let Some(choice @ Choice::OneOf(_)) = solder_choice(&step.work) {
        taken.insert("alloy".into(), json!(doing.solder(choice).map(|s| &s.name)));
    }
    if let (Some(way), true) = (doing.way(), step.ways.len() > 1) {
        taken.insert("tool".into(), json!(tool_word(way.tool)));
        taken.insert("preheat_c".into(), json!(way.preheat));
        taken.insert("way".into(), json!(chosen.pick.way));
    }
    if let Work::Clean {
        rounds: rounds @ Choice::OneOf(_),
        ..
    } = &step.work
    {
        taken.insert("rounds".into(), json!(doing.rounds(rounds)));
    }
    taken
}
