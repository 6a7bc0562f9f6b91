//! A row a step.

use std::fmt::Write as _;

use crate::bench::{Doing, LimitOf, SetBy, Sight, solder_choice};
use crate::job::{Choice, Event, GuardKind, Job, Where, Work};
use crate::plan::{Checked, CheckedStep, Place, margins};
use crate::quantity::Celsius;

use crate::show::cautions::Caution;
use crate::show::say::{Names, Say, step_words, tool_word};
use crate::show::staircase::metal_name;

/// One step as it is printed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Row {
    /// From 1.
    pub number: usize,
    /// Id in the job.
    pub id: String,
    /// What is done, and where.
    pub what: String,
    /// Solder that is used or melted.
    pub alloy: String,
    /// Empty where there is no heat.
    pub tool: &'static str,
    /// How warm the board is before the tool comes; empty at room temperature.
    pub preheat: String,
    /// Tool setting as stated; empty where it is to be written in by hand.
    pub set: String,
    /// Lowest and highest peak at the joint, as text; none where nothing must flow.
    pub window: Option<String>,
    /// The peak that was reckoned with.
    pub aim: String,
    /// Where the window ends, and who sets that.
    pub until: Option<Until>,
    /// Who comes nearest to harm, where that is not [`Until::who`], and how much is left there.
    pub danger: String,
    /// Of temperatures.
    pub unit: &'static str,
    /// The neighbour at which to read, where the job knows one that may be named in the log.
    pub read_at: Option<String>,
    /// What to type when it is done; none where it is.
    pub to_type: Option<String>,
    /// Cautions that only a step like this calls for.
    pub cautions: Vec<Caution>,
    /// The check to pass before the next step.
    pub gate: String,
    /// What the log says.
    pub done: Option<AsDone>,
    /// The verdict in a word.
    pub verdict: &'static str,
    /// The weakest place of the job is in this step.
    pub weakest: bool,
}

/// The upper end of a window.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Until {
    /// Not to be exceeded.
    pub value: String,
    /// Who sets it, and from what number.
    pub who: String,
}

/// What the log says of a step.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct AsDone {
    /// Readings and what differed.
    pub read: Vec<String>,
    /// Why it failed, where it did.
    pub failed: Option<String>,
}

/// All rows, in order.
pub(super) fn rows(setting: &crate::bench::Setting, checked: &Checked, say: Say) -> Vec<Row> {
    let job = setting.job();
    let steps = checked.steps.iter().enumerate();
    steps
        .map(|(at, step)| Row {
            number: at + 1,
            id: step.planned.step.id.clone(),
            what: what(job, step),
            alloy: alloy(step),
            tool: tool(step),
            preheat: preheat(step, say),
            set: step
                .way()
                .and_then(|way| way.set)
                .map_or_else(String::new, |t| say.t(t)),
            window: window(step, say),
            aim: step
                .passage
                .peak
                .map_or_else(String::new, |t| say.t_bare(t)),
            until: until(job, step, say),
            danger: danger(job, step, say),
            unit: say.unit(),
            read_at: read_at(job, step),
            to_type: to_type(job, step),
            cautions: Vec::new(),
            gate: gate(job, &step.planned.step.work).to_owned(),
            done: step.planned.log.as_ref().map(|log| as_done(job, log, say)),
            verdict: step.passage.verdict().word(),
            weakest: checked.tightest.is_some_and(|tightest| tightest.step == at),
        })
        .collect()
}

fn what(job: &Job, step: &CheckedStep) -> String {
    let words = step_words(job, &step.planned.step);
    match &step.planned.step.work {
        Work::Cover { over, .. } if !over.is_empty() => {
            let over: Vec<&str> = over.iter().map(|j| Names(job).joint(*j)).collect();
            format!("{words} over {}", over.join(", "))
        }
        Work::Solder {
            wire: Some(wire), ..
        } => {
            let id = job.wires.get(wire.0).map_or("?", |wire| &wire.id);
            format!("{words}, ties {id}")
        }
        _ => words,
    }
}

/// The solder that is brought, else that of the balls that flow.
fn alloy(step: &CheckedStep) -> String {
    let work = &step.planned.step.work;
    let doing = Doing {
        log: step.planned.log.as_ref(),
        ..Doing::planned(&step.planned.step, step.planned.pick)
    };
    let logged = step.planned.log.as_ref().and_then(|log| log.alloy.as_ref());
    let brought = logged.or_else(|| solder_choice(work).and_then(|choice| doing.solder(choice)));
    let mut words: Vec<String> = brought
        .map(|solder| solder.name.clone())
        .into_iter()
        .collect();
    match work {
        Work::Place { part, .. } => {
            let balls = step.before.parts.get(part.0);
            let balls = balls.and_then(|part| part.carries.last());
            let name = balls.map(|layer| {
                let name = layer.blend.composition().map(|c| metal_name(&c));
                format!("balls {}", name.unwrap_or_else(|| "not known".to_owned()))
            });
            words.extend(name);
        }
        Work::Clean {
            rounds,
            flood: Some((solder, mass)),
            ..
        } => {
            let rounds = doing.rounds(rounds);
            words.push(format!("{rounds} × {} {} mg", solder.name, mass.mg()));
        }
        _ => {}
    }
    words.join(" + ")
}

fn tool(step: &CheckedStep) -> &'static str {
    let logged = step.planned.log.as_ref().and_then(|log| log.tool);
    let way = step.way().map(|way| way.tool);
    logged.or(way).map_or("", tool_word)
}

/// Hand-warm is no preheat: 40 °C is above any room that people solder in (our judgement).
fn preheat(step: &CheckedStep, say: Say) -> String {
    let warm = step
        .way()
        .map(|way| way.preheat)
        .filter(|t| *t > Celsius::whole(40));
    warm.map_or_else(String::new, |t| say.t(t))
}

fn window(step: &CheckedStep, say: Say) -> Option<String> {
    let window = step.passage.window;
    let must_flow = step.passage.target.is_some();
    match (window.from, window.to) {
        (Some(from), Some(to)) => Some(format!("{}–{}", say.t_bare(from), say.t_bare(to))),
        (Some(from), None) => Some(format!("{} up", say.t_bare(from))),
        (None, Some(to)) if !must_flow => Some(format!("up to {}", say.t_bare(to))),
        (None, Some(to)) => Some(format!("?–{}", say.t_bare(to))),
        (None, None) => must_flow.then(|| "?".to_owned()),
    }
}

fn until(job: &Job, step: &CheckedStep, say: Say) -> Option<Until> {
    let window = step.passage.window;
    let (to, by) = window.to.zip(window.set_by)?;
    let who = match by {
        SetBy::Joint(joint) => {
            let sight = step.passage.sights.iter().find(|s| s.joint == joint);
            format!("{}{}", Names(job).joint(joint), holds_to(sight, say))
        }
        SetBy::Limit(of) => {
            let limit = step.passage.limits.iter().find(|limit| limit.of == of);
            let limit = limit.map_or_else(String::new, |l| {
                format!(" (may see {})", say.t_bare(l.limit))
            });
            format!("{}{limit}", Names(job).limit(of))
        }
    };
    Some(Until {
        value: say.t(to),
        who,
    })
}

fn holds_to(sight: Option<&Sight>, say: Say) -> String {
    let survival = sight.and_then(|sight| sight.melt.survival);
    survival.map_or_else(String::new, |t| format!(" (solid to {})", say.t_bare(t)))
}

fn nearest(step: &CheckedStep) -> Option<(Place, crate::quantity::KelvinStep)> {
    margins(&step.passage).min_by_key(|(_, margin)| *margin)
}

fn danger(job: &Job, step: &CheckedStep, say: Say) -> String {
    let unknown: Vec<&str> = step
        .passage
        .sights
        .iter()
        .filter(|sight| sight.margin.is_none() && !sight.may_melt)
        .map(|sight| Names(job).joint(sight.joint))
        .collect();
    if !unknown.is_empty() {
        return format!("not known: {}", unknown.join(", "));
    }
    let Some((place, margin)) = nearest(step) else {
        return String::new();
    };
    let left = format!("{} left", say.dt(margin));
    let sets_the_end = step.passage.window.set_by.is_some_and(|by| match by {
        SetBy::Joint(joint) => place == Place::Joint(joint),
        SetBy::Limit(of) => place == Place::Limit(of),
    });
    if sets_the_end {
        left
    } else {
        format!("{} {left}", Names(job).place(place))
    }
}

/// Where the window ends, or what comes nearest to harm: a joint, a part or a guard, by its id.
fn read_at(job: &Job, step: &CheckedStep) -> Option<String> {
    step.passage.peak?;
    let set_by = step.passage.window.set_by.map(|by| match by {
        SetBy::Joint(joint) => Place::Joint(joint),
        SetBy::Limit(of) => Place::Limit(of),
    });
    let place = set_by.or_else(|| nearest(step).map(|(place, _)| place))?;
    let names = Names(job);
    match place {
        Place::Joint(joint) => Some(names.joint(joint).to_owned()),
        Place::Limit(LimitOf::Part(part)) => Some(names.part(part).to_owned()),
        Place::Limit(LimitOf::Guard(guard)) => Some(names.guard(guard).to_owned()),
        // No log line names a wire.
        Place::Limit(_) => None,
    }
}

/// The line that puts a step into the log.
fn to_type(job: &Job, step: &CheckedStep) -> Option<String> {
    if step.planned.log.is_some() {
        return None;
    }
    let mut line = format!("did JOB {}", step.planned.step.id);
    let work = &step.planned.step.work;
    if let Some(choice @ Choice::OneOf(many)) = solder_choice(work)
        && many.len() > 1
        && let Some(solder) = step.planned.doing().solder(choice)
    {
        let _ = write!(line, " --alloy {}", solder.name);
    }
    if step.passage.peak.is_some() {
        line += " --peak ___";
    }
    if let Some(at) = read_at(job, step) {
        let _ = write!(line, " --sees {at}:___");
    }
    Some(line)
}

/// What to look at before the next step (common practice, no source).
fn gate(job: &Job, work: &Work) -> &'static str {
    match work {
        Work::Solder { wire: Some(_), .. } => "inspect; continuity",
        Work::Solder { .. } | Work::Gate { short_check: false } => "inspect",
        Work::Place { .. } => "inspect all sides",
        Work::Remove { .. } => "lift when all is liquid",
        Work::Reball { .. } => "count balls; inspect",
        Work::Clean { .. } => "flat, clean; inspect",
        Work::Cover { guard, .. } => match job.guards.get(guard.0).map(|guard| guard.kind) {
            Some(GuardKind::Mask) => "no bare metal left; hard",
            _ => "hard",
        },
        Work::Uncover { .. } => "bare metal clean",
        Work::OtherHeat { strip: true, .. } => "bright bare end",
        Work::Gate { short_check: true } => {
            "cold, flux off; each rail to ground, each wire to its neighbours"
        }
        Work::Power => "short check passed since last heat",
        Work::Move { .. } | Work::WholeBoard { .. } | Work::OtherHeat { .. } => "",
    }
}

fn as_done(job: &Job, log: &Event, say: Say) -> AsDone {
    let mut read = Vec::new();
    read.extend(log.peak.map(|t| format!("peak read {}", say.t(t))));
    for (place, t) in &log.sees {
        read.push(format!("{} read {}", place_name(job, *place), say.t(*t)));
    }
    read.extend(log.alloy.as_ref().map(|solder| solder.name.clone()));
    read.extend(log.rounds.map(|rounds| format!("{rounds} rounds")));
    AsDone {
        read,
        failed: log.failed.clone(),
    }
}

fn place_name(job: &Job, place: Where) -> &str {
    let names = Names(job);
    match place {
        Where::Joint(joint) => names.joint(joint),
        Where::Part(part) => names.part(part),
        Where::Guard(guard) => job.guards.get(guard.0).map_or("?", |guard| &guard.id),
        Where::Zone(zone) => job.zones.get(zone.0).map_or("?", |zone| &zone.id),
        Where::Rest => "the rest",
    }
}
