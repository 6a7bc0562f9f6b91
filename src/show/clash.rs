//! What `clash` says: which demands cannot hold together, and what would open the job.

use std::fmt::Write as _;

use serde_json::{Value, json};

use crate::bench::Verdict;
use crate::job::{Job, StepIx, Where};
use crate::plan::{Change, Conflict, Demand, Opening};

use super::answer::{Assumption, Frame};
use super::say::{Names, Say, first_line, harmless, step_words, tool_word};

/// The frame of an answer.
pub fn frame(
    job: &Job,
    conflict: Option<&Conflict>,
    assumptions: Vec<Assumption>,
    _: Say,
) -> Frame {
    let line = match conflict {
        None => "nothing clashes: there is an order that keeps every demand".to_owned(),
        Some(conflict) => format!(
            "{} demands clash{}: {}",
            conflict.demands.len(),
            if conflict.proven {
                ""
            } else {
                " (perhaps fewer)"
            },
            short(job, conflict)
        ),
    };
    Frame {
        verb: "clash",
        verdict: Some(conflict.map_or(Verdict::Holds, |_| Verdict::Limit)),
        line: first_line(&harmless(&line)),
        assumptions,
        warnings: conflict
            .filter(|conflict| !conflict.proven)
            .map(|_| "not proven that each of them is needed: a search was cut off".to_owned())
            .into_iter()
            .collect(),
    }
}

fn short(job: &Job, conflict: &Conflict) -> String {
    let names = Names(job);
    let of = |demand: &Demand| match demand {
        Demand::Done(step) => id(job, *step).to_owned(),
        Demand::Before(first, then) => format!("{} before {}", id(job, *first), id(job, *then)),
        Demand::Access(joint) => format!("the way to {}", names.joint(*joint)),
        Demand::Keep(joint) => names.joint(*joint).to_owned(),
        Demand::Limit(of) => names.limit(*of),
        Demand::Flow(step) => format!("flow in {}", id(job, *step)),
        Demand::Heats(part) => format!("heats of {}", names.part(*part)),
        Demand::Glue(part) => format!("glue of {}", names.part(*part)),
        Demand::Checked => "short check".to_owned(),
        Demand::LeadFree => "lead-free".to_owned(),
        Demand::CadmiumFree => "cadmium".to_owned(),
        Demand::Service => "service".to_owned(),
        Demand::Cover(joint) => format!("cover of {}", names.joint(*joint)),
        Demand::Tied(wire) => format!("ends of {}", names.wire(*wire)),
        Demand::Made(joint) => format!("solder of {} at power", names.joint(*joint)),
        Demand::Safe(rule, of) => names.rule_of(*rule, *of),
    };
    let all: Vec<String> = conflict.demands.iter().map(of).collect();
    all.join(", ")
}

fn id(job: &Job, step: StepIx) -> &str {
    &job.steps[step.0].id
}

/// One demand in a sentence.
pub fn demand_words(job: &Job, demand: Demand, say: Say) -> String {
    let names = Names(job);
    match demand {
        Demand::Done(step) => {
            let step = &job.steps[step.0];
            format!("step {} is done: {}", step.id, how(job, step, say))
        }
        Demand::Before(first, then) => {
            let reason = job.steps[then.0]
                .after
                .iter()
                .find(|(before, _)| *before == first)
                .and_then(|(_, reason)| reason.as_deref());
            let why = reason.map_or_else(String::new, |reason| format!(" ({reason})"));
            format!("{} comes before {}{why}", id(job, first), id(job, then))
        }
        Demand::Access(joint) => {
            let closers: Vec<&str> = job
                .steps
                .iter()
                .filter(|step| step.closes.contains(&joint))
                .map(|step| step.id.as_str())
                .collect();
            format!(
                "nobody reaches {} any more after {}",
                names.joint(joint),
                closers.join(" or ")
            )
        }
        Demand::Keep(joint) => format!(
            "{} keeps {} in every step",
            names.joint(joint),
            say.dt(job.want.margin)
        ),
        Demand::Limit(of) => format!("{} stays within its limit", names.limit(of)),
        Demand::Flow(step) => format!("what step {} melts flows", id(job, step)),
        Demand::Heats(part) => format!(
            "{} takes no more than {} heats",
            names.part(part),
            job.parts[part.0].heats_left.unwrap_or(0)
        ),
        Demand::Glue(part) => format!("the glue of {} holds it", names.part(part)),
        Demand::Checked => "no power without a short check since the last heat".to_owned(),
        Demand::LeadFree => "the board stays lead-free (0.1 % a joint)".to_owned(),
        Demand::CadmiumFree => "no joint holds cadmium (0.01 %)".to_owned(),
        Demand::Service => job.want.service.map_or_else(
            || "every joint bears service".to_owned(),
            |t| format!("every joint bears {} in service", say.t(t)),
        ),
        Demand::Cover(joint) => format!(
            "nobody reaches {} through mask, glue or coat",
            names.joint(joint)
        ),
        Demand::Tied(wire) => format!(
            "{} is soldered at both ends before power (an end that stands from the start: `strained: true` at its joint)",
            names.wire(wire)
        ),
        Demand::Made(joint) => format!("{} is soldered when power comes", names.joint(joint)),
        Demand::Safe(rule, of) => names.rule_of(rule, of),
    }
}

/// What a step does and with which heat.
fn how(job: &Job, step: &crate::job::Step, say: Say) -> String {
    let mut words = step_words(job, step);
    if let Some(choice) = crate::bench::solder_choice(&step.work) {
        match choice {
            crate::job::Choice::Fixed(solder) => {
                let _ = write!(words, " with {}", solder.name);
            }
            crate::job::Choice::OneOf(many) => {
                let _ = write!(words, " with one of {} alloys", many.len());
            }
        }
    }
    for (i, way) in step.ways.iter().enumerate() {
        let or = if i > 0 { " or" } else { "," };
        let _ = write!(words, "{or} {}", tool_word(way.tool));
        if let Some(peak) = way.peak {
            let _ = write!(words, " {}", say.t(peak));
        }
        if way.preheat > job.ambient {
            let _ = write!(words, " over a board at {}", say.t(way.preheat));
        }
    }
    words
}

/// One change in a sentence.
pub fn change_words(job: &Job, change: &Change, say: Say) -> String {
    let names = Names(job);
    match change {
        Change::Preheat { step, to } => {
            format!(
                "preheat the board only to {} in {}",
                say.t(*to),
                id(job, *step)
            )
        }
        Change::Alloy {
            step,
            solder,
            in_stock,
        } => {
            let buy = if *in_stock { "" } else { " (to buy)" };
            format!("{}{buy} in {}", solder.name, id(job, *step))
        }
        Change::Coupling {
            step,
            place,
            at_most,
        } => format!(
            "distance or a shield: no more than {} of the rise of {} at {}",
            at_most.factor(),
            id(job, *step),
            place_words(names, *place)
        ),
        Change::LocalTool {
            step,
            tool,
            place,
            at_most,
        } => format!(
            "{} or an iron on the cold board for {}, if no more than {} of the rise arrives at {}",
            tool_word(*tool),
            id(job, *step),
            at_most.factor(),
            place_words(names, *place)
        ),
        Change::Clean {
            joint,
            before,
            flood,
            rounds,
        } => format!(
            "flood {} with {} and wick it, {rounds} {}, before {} (coupled like it)",
            names.joint(*joint),
            flood.name,
            if *rounds == 1 { "round" } else { "rounds" },
            id(job, *before)
        ),
        Change::PartOff { part, on, during } => format!(
            "take {} off {} before {} and set it back after",
            names.part(*part),
            names.joint(*on),
            id(job, *during)
        ),
        Change::KeepOpen { step, joint } => format!(
            "leave the way to {} open after {}",
            names.joint(*joint),
            id(job, *step)
        ),
        Change::Free { first, then } => {
            format!("let {} come before {}", id(job, *then), id(job, *first))
        }
        Change::MoreHeats { part, heats } => {
            format!("let {} take {heats} heats", names.part(*part))
        }
        Change::Margin(margin) => format!("be content with {}", say.dt(*margin)),
        Change::LeaveOut(step) => format!("do without {} (or do it without heat)", id(job, *step)),
    }
}

fn place_words(names: Names, place: Where) -> String {
    match place {
        Where::Joint(joint) => names.joint(joint).to_owned(),
        Where::Part(part) => names.part(part).to_owned(),
        Where::Guard(guard) => names.0.guards[guard.0].id.clone(),
        Where::Zone(zone) => format!("zone {}", names.0.zones[zone.0].id),
        Where::Rest => "everything else".to_owned(),
    }
}

/// One opening in a sentence.
pub fn opening_words(job: &Job, opening: &Opening, say: Say) -> String {
    let changes: Vec<String> = opening
        .changes
        .iter()
        .map(|change| change_words(job, change, say))
        .collect();
    let margin = opening.margin.map_or_else(
        || "nothing at risk".to_owned(),
        |margin| format!("{} left", say.dt(margin)),
    );
    format!("{}: {margin}", changes.join(", and "))
}

/// The whole answer as text.
pub fn text(
    job: &Job,
    conflict: Option<&Conflict>,
    openings: &[Opening],
    frame: &Frame,
    say: Say,
) -> String {
    let mut out = format!("{}\n", frame.line);
    out.push_str(&body(job, conflict, openings, say));
    out.push_str(&frame.end(say.full));
    harmless(&out)
}

/// The clash and what opens it, without first line and assumptions: also said by `order`.
pub fn body(job: &Job, conflict: Option<&Conflict>, openings: &[Opening], say: Say) -> String {
    let Some(conflict) = conflict else {
        return String::new();
    };
    let why = if conflict.proven {
        "without any one of them the others can"
    } else {
        "NOT PROVEN that each of them is needed: a search was cut off"
    };
    let mut out = format!("\nThese cannot all be ({why})\n");
    for demand in &conflict.demands {
        let _ = writeln!(out, "  - {}", demand_words(job, *demand, say));
    }
    for refusal in &conflict.refusals {
        let _ = writeln!(
            out,
            "    it cannot be done: {}",
            Names(job).refusal(refusal)
        );
    }
    if openings.is_empty() {
        out.push_str("\nNo single change or pair of changes that was tried opens the job\n");
    } else {
        out.push_str("\nEach of these opens the job (solved with it), cheapest first\n");
    }
    for opening in openings {
        let _ = writeln!(out, "  - {}", opening_words(job, opening, say));
    }
    harmless(&out)
}

/// The keys of `clash`, as `json.md` of the design has them.
pub fn json(job: &Job, conflict: Option<&Conflict>, openings: &[Opening]) -> Value {
    let say = Say::default();
    let demands = conflict.map(|conflict| {
        let one = |demand: &Demand| {
            json!({
                "demand": demand_kind(*demand),
                "line": demand_words(job, *demand, say),
            })
        };
        conflict.demands.iter().map(one).collect::<Vec<_>>()
    });
    json!({
        "conflict": demands,
        "proven": conflict.is_some_and(|conflict| conflict.proven),
        "openings": openings.iter().map(|opening| json!({
            "changes": opening.changes.iter().map(|c| change_words(job, c, say)).collect::<Vec<_>>(),
            "line": opening_words(job, opening, say),
            "margin_k": opening.margin,
            "order": opening.plan.steps.iter()
                .map(|chosen| &opening.job.steps[chosen.step.0].id)
                .collect::<Vec<_>>(),
        })).collect::<Vec<_>>(),
    })
}

const fn demand_kind(demand: Demand) -> &'static str {
    match demand {
        Demand::Done(_) => "step",
        Demand::Before(..) => "before",
        Demand::Access(_) => "access",
        Demand::Keep(_) => "joint",
        Demand::Limit(_) => "limit",
        Demand::Flow(_) => "flow",
        Demand::Heats(_) => "heats",
        Demand::Glue(_) => "glue",
        Demand::Checked => "short_check",
        Demand::LeadFree => "lead_free",
        Demand::CadmiumFree => "cadmium",
        Demand::Service => "service",
        Demand::Cover(_) => "cover",
        Demand::Tied(_) => "tied",
        Demand::Made(_) => "made",
        Demand::Safe(rule, _) => rule.word(),
    }
}
