//! What `check` says: the verdict and its place first, then the steps, then everything else.

use std::fmt::Write as _;

use serde_json::{Value, json};

use crate::bench::{
    Bench, Breach, Finding, Flow, Law, LimitOf, LimitSight, Note, Passage, Rule, Seen, SeenBy,
    Service, Sight, Subject, Verdict, Window,
};
use crate::job::{Job, Where, Work};
use crate::melt::{Basis, Doubt, Melt};
use crate::plan::{Checked, CheckedStep, Place, Told};
use crate::quantity::{Celsius, KelvinStep};

use super::answer::{Assumption, Frame};
use super::cautions::{self, cautions_of};
use super::electric;
use super::fold::Fold;
use super::say::{Names, Say, first_line_of, harmless, percent, seen_by, step_words, tool_word};
use super::table::Rows;

/// The frame of a checked plan.
pub fn frame(
    verb: &'static str,
    job: &Job,
    checked: &Checked,
    assumptions: Vec<Assumption>,
    say: Say,
) -> Frame {
    Frame {
        verb,
        verdict: Some(checked.verdict),
        line: first_line_of(job, &harmless(&verdict_line(job, checked, say))),
        assumptions,
        warnings: warnings(job, checked, say),
    }
}

/// Verdict, number, place.
pub fn verdict_line(job: &Job, checked: &Checked, say: Say) -> String {
    let verdict = checked.verdict;
    // Where unknown alloys decide, the verdict is that of no single step.
    let decides =
        |step: &&CheckedStep| step.passage.verdict() == verdict || !checked.worlds.is_empty();
    let whole = worst_of_whole(checked);
    if let Some(told) = worst_step(checked).filter(decides) {
        return told_of_step(job, told, verdict, say);
    }
    if let Some(finding) = whole.filter(|finding| finding.verdict == verdict) {
        return format!("{verdict}: {}", whole_words(job, checked, finding, say));
    }
    let told = checked
        .findings
        .iter()
        .filter(|t| t.step.is_some() && t.finding.counts);
    let mut told = told.filter(|t| t.finding.verdict == verdict && verdict > Verdict::Holds);
    let enamel = |t: &&Told| {
        matches!(
            (t.finding.rule, t.finding.of),
            (Rule::Limit, Subject::Wire(_))
        )
    };
    if let Some(told) = told.clone().find(enamel) {
        let of = Names(job).subject(told.finding.of);
        return format!("{verdict}: enamel of {of} was too hot: inspect it, log that");
    }
    if let Some(words) = told.find_map(|t| Names(job).finding(say, &t.finding)) {
        return format!("{verdict}: {words}");
    }
    match checked.tightest {
        Some(tightest) => {
            let step = &checked.steps[tightest.step].planned.step.id;
            let place = Names(job).place(tightest.place);
            format!(
                "{verdict}, {} left: {place} in step {step}",
                say.dt(tightest.margin)
            )
        }
        None if checked.steps.is_empty() => format!("{verdict}: there is nothing to do"),
        None => format!("{verdict}: nothing that stands sees any heat"),
    }
}

/// The first of the worst findings of the whole, where any does not hold.
fn worst_of_whole(checked: &Checked) -> Option<&Finding> {
    let whole = checked.findings.iter().filter(|told| told.step.is_none());
    let whole = whole.map(|told| &told.finding).filter(|f| f.counts);
    let worst = whole.clone().map(|finding| finding.verdict).max()?;
    whole
        .filter(|finding| finding.verdict > Verdict::Holds)
        .find(|finding| finding.verdict == worst)
}

/// What a finding of the whole says.
fn whole_words(job: &Job, checked: &Checked, finding: &Finding, say: Say) -> String {
    let of = |joint| finding.of == Subject::Joint(joint);
    match finding.rule {
        Rule::Heats => ledger_line(job, checked),
        Rule::Service => {
            let service = checked.service.iter().find(|s| of(s.joint));
            service.map_or_else(
                || Names(job).finding(say, finding).unwrap_or_default(),
                |service| service_head(job, service, say),
            )
        }
        Rule::Law(law) => {
            let mut breaches = checked.breaches.iter();
            let breach = breaches.find(|b| b.rule == law && of(b.joint));
            breach.map_or_else(String::new, |breach| breach_line(job, breach))
        }
        _ => Names(job).finding(say, finding).unwrap_or_default(),
    }
}

fn worst_step(checked: &Checked) -> Option<&CheckedStep> {
    let open = checked
        .steps
        .iter()
        .filter(|step| step.planned.log.is_none());
    // The first of the worst: what goes wrong first is told.
    let worst = open.clone().map(|step| step.passage.verdict()).max()?;
    open.into_iter()
        .find(|step| step.passage.verdict() == worst && worst > Verdict::Holds)
}

fn told_of_step(job: &Job, step: &CheckedStep, verdict: Verdict, say: Say) -> String {
    let names = Names(job);
    let id = &step.planned.step.id;
    let passage = &step.passage;
    let worst = passage.verdict();
    let sights = passage.sights.iter();
    let bad = sights.filter(|s| s.verdict == worst && !s.may_melt);
    // One of which nobody knows what is left comes before all of which it is known.
    if let Some(sight) = bad.min_by_key(|s| s.margin) {
        let margin = sight
            .margin
            .map_or_else(String::new, |m| format!(", {}", say.dt(m)));
        return format!(
            "{verdict}{margin}: {} in step {id}, {}",
            names.joint(sight.joint),
            sight_words(sight, say)
        );
    }
    if let Some(refusal) = passage.refusals.iter().find(|r| r.verdict() == worst) {
        return format!("{verdict}: step {id}: {}", names.refusal(refusal));
    }
    if let Some(limit) = passage.limits.iter().find(|l| l.verdict == worst) {
        return format!(
            "{verdict}: {} in step {id} sees {}, limit {}",
            names.limit(limit.of),
            say.seen(limit.seen),
            say.t(limit.limit)
        );
    }
    let target = passage.target.as_ref();
    if target.is_some_and(|target| target.flow == Flow::PartOfNewMetal) {
        return format!(
            "{verdict}: step {id} melts only part of the new solder, collapse is not assured"
        );
    }
    let mut hazards = passage
        .findings
        .iter()
        .filter(|f| f.counts && f.verdict == worst);
    if let Some(words) = hazards.find_map(|f| names.finding(say, f)) {
        return format!("{verdict}: step {id}: {words}");
    }
    match (passage.peak, target.and_then(|target| target.must_reach)) {
        (Some(peak), Some(reach)) => format!(
            "{verdict}: step {id} reaches {}, its target flows at {}",
            say.t(peak),
            say.t(reach)
        ),
        _ => format!("{verdict}: nobody knows when the target of step {id} flows"),
    }
}

fn sight_words(sight: &Sight, say: Say) -> String {
    if sight.seen == Seen::UpTo(None) {
        return "nobody knows how hot it gets: state a coupling or a distance".to_owned();
    }
    // The temperature that the margin is counted from: the first melt less what the data may be wrong by.
    match sight.melt.survival {
        Some(survival) => format!(
            "sees {}, solid up to {}",
            say.seen(sight.seen),
            say.t(survival)
        ),
        None => format!(
            "sees {}, {}",
            say.seen(sight.seen),
            not_known(&sight.melt, say)
        ),
    }
}

/// Why nobody knows when a metal melts: what cannot be answered is named. Only where nobody said what the metal
/// is, it is not known.
fn not_known(melt: &Melt, say: Say) -> String {
    let first = |why: &dyn Fn(&Doubt) -> bool| melt.doubts.iter().find(|doubt| why(doubt));
    let told = first(&|d| matches!(d, Doubt::LiquidMetal { .. }))
        .or_else(|| first(&|d| matches!(d, Doubt::NotCovered { .. })))
        .or_else(|| first(&|d| matches!(d, Doubt::NotConverged { .. } | Doubt::WeakData)))
        .or_else(|| first(&|d| matches!(d, Doubt::DoesNotAddUp { .. })));
    match told {
        Some(Doubt::NotCovered { element }) => format!(
            "{}: not assessed, no phase data and no published eutectic",
            element.english()
        ),
        Some(doubt) => super::mix::doubt_words(doubt, say),
        None => "its metal is not known".to_owned(),
    }
}

/// The whole answer as text.
pub fn text(job: &Job, checked: &Checked, frame: &Frame, say: Say) -> String {
    let (head, body) = parts(job, checked, frame, (say, &Fold::default()), "");
    head + &body
}

/// The lines of the verdict, and everything after them; what is alike as one. `plan` is what `order` says of the
/// plan itself.
pub(super) fn parts(
    job: &Job,
    checked: &Checked,
    frame: &Frame,
    (say, fold): (Say, &Fold),
    plan: &str,
) -> (String, String) {
    let head = format!("{}\n{}", frame.line, not_assessed_line(job, checked));
    let body = if say.full {
        let table = fold.numbered_rows(step_table(job, checked, say));
        let mut out = format!("\n{plan}\n{}", table.text(say.width));
        if plan.is_empty() {
            out.remove(0);
        }
        out.push_str(&details(job, checked, say, fold));
        out.push_str(&fold.lines(&results(job, checked, say)));
        out.push_str(&electric::text(job, checked, say, fold));
        out.push_str(&cautions::text(&cautions_of(job, checked)));
        out.push_str(&fold.lines(&frame.tail()));
        out
    } else {
        super::brief::body(job, checked, frame, (say, fold), plan)
    };
    (harmless(&head), harmless(&body))
}

/// What the plan as a whole comes to.
pub(super) fn results(job: &Job, checked: &Checked, say: Say) -> String {
    let mut out = ledger_text(job, checked, say);
    let told = |service: &&Service| say.full || service.verdict > Verdict::Holds;
    for service in checked.service.iter().filter(told) {
        let _ = writeln!(
            out,
            "Service: {} {}",
            service.verdict,
            service_line(job, service, say)
        );
    }
    for breach in &checked.breaches {
        let _ = writeln!(out, "Rule: {}", breach_line(job, breach));
    }
    for told in checked.findings.iter().filter(|told| told.step.is_none()) {
        let finding = &told.finding;
        let words = Names(job).finding(say, finding);
        if let Some(words) = words.filter(|_| finding.verdict > Verdict::Holds) {
            let _ = writeln!(out, "Found: {} {words}", finding.verdict);
        }
    }
    out.push_str(&worlds_text(job, checked, say));
    out
}

/// What nobody could judge, in one line; empty where all was.
fn not_assessed_line(job: &Job, checked: &Checked) -> String {
    let names = Names(job);
    let all = checked.not_assessed.iter();
    let all: Vec<String> = all.map(|what| names.not_assessed(*what)).collect();
    if all.is_empty() {
        String::new()
    } else {
        format!("Not assessed: {}\n", all.join("; "))
    }
}

fn step_table(job: &Job, checked: &Checked, say: Say) -> Rows {
    let rows = checked.steps.iter().enumerate().map(|(i, step)| {
        let passage = &step.passage;
        let tool = step
            .planned
            .step
            .ways
            .get(step.planned.pick.way)
            .map_or("", |w| tool_word(w.tool));
        vec![
            (i + 1).to_string(),
            step.planned.step.id.clone(),
            step_words(job, &step.planned.step),
            tool.to_owned(),
            passage
                .peak
                .map_or_else(String::new, |peak| say.t_bare(peak)),
            window_words(passage.window, say),
            tightest_words(job, step, say),
            done_word(step).map_or_else(|| passage.verdict().to_string(), str::to_owned),
        ]
    });
    Rows {
        head: vec![
            "no",
            "step",
            "what",
            "tool",
            "peak",
            "window",
            "weakest neighbour",
            "verdict",
        ],
        rows: rows.collect(),
    }
}

/// What the log says of a step, in a word; `None` where it is still to be done.
pub(super) fn done_word(step: &CheckedStep) -> Option<&'static str> {
    let log = step.planned.log.as_ref()?;
    Some(if log.failed.is_some() {
        "failed"
    } else {
        "done"
    })
}

/// A step that comes next, in a line: what, with which tool, where to aim and between what.
pub fn next_words(job: &Job, step: &CheckedStep, say: Say) -> String {
    let own = &step.planned.step;
    let mut words = format!("{}, {}", own.id, step_words(job, own));
    if let (Some(way), Some(peak)) = (step.way(), step.passage.peak) {
        let _ = write!(words, ", {}, aim {}", tool_word(way.tool), say.t(peak));
    }
    let window = window_words(step.passage.window, say);
    if !window.is_empty() {
        let _ = write!(words, " ({window})");
    }
    words
}

pub(super) fn window_words(window: Window, say: Say) -> String {
    match (window.from, window.to) {
        (None, None) => String::new(),
        (from, None) => format!("{} up", say.t_or_unknown(from)),
        (Some(from), Some(to)) if to < from => {
            format!("none: {} > {}", say.t_bare(from), say.t_bare(to))
        }
        (Some(from), Some(to)) => format!("{}–{}", say.t_bare(from), say.t_bare(to)),
        (None, Some(to)) => format!("up to {}", say.t_bare(to)),
    }
}

fn tightest_words(job: &Job, step: &CheckedStep, say: Say) -> String {
    let margins = crate::plan::margins(&step.passage);
    match margins.min_by_key(|(_, margin)| *margin) {
        Some((place, margin)) => format!("{}: {}", say.dt(margin), Names(job).place(place)),
        None => String::new(),
    }
}

/// Sentences for what does not simply hold in each step, and for its notes; what many steps say alike comes first.
pub(super) fn details(job: &Job, checked: &Checked, say: Say, fold: &Fold) -> String {
    let mut told = Vec::new();
    let said = checked.steps.iter().map(|step| {
        let mut lines = troubles(job, step, say);
        if say.full {
            lines.extend(notes(job, step, say, fold, &mut told));
        }
        (step.planned.step.id.as_str(), lines)
    });
    let mut said: Vec<(&str, Vec<String>)> = said.collect();
    let alike = fold.alike(&mut said);
    let mut text = String::new();
    if !alike.is_empty() {
        text.push_str("\nAlike in several steps\n");
    }
    for line in alike {
        let _ = writeln!(text, "  - {line}");
    }
    for (id, lines) in said.iter().filter(|(_, lines)| !lines.is_empty()) {
        let _ = writeln!(text, "\n{id}");
        for line in lines {
            let _ = writeln!(text, "  - {line}");
        }
    }
    text
}

/// Joints that do not hold because they are taken as frozen on a bench, where a homogenised piece would.
fn states_to_say(job: &Job, step: &CheckedStep, say: Say) -> Vec<String> {
    let sights = step.passage.sights.iter();
    let short = sights.filter(|sight| sight.verdict != Verdict::Holds);
    let said = short.filter_map(|sight| {
        let bought = sight.melt.doubts.iter().find_map(|doubt| match doubt {
            Doubt::FrozenBelowReading { reading, .. } => Some(*reading),
            _ => None,
        })?;
        Some(format!(
            "{}: taken as melted and frozen on a bench; if it never was, say `state: as_bought` (printed solidus {})",
            Names(job).joint(sight.joint),
            say.t(bought)
        ))
    });
    said.collect()
}

/// What a step that was done came to, where it does not simply hold: what did not flow, and by how much
/// what got too hot.
pub fn done_words(job: &Job, step: &CheckedStep, say: Say) -> Vec<String> {
    let mut lines = Vec::new();
    if step.passage.in_vain {
        lines.push(
            "read too cold for its solder to flow, or its mask to cure: it is to be done again"
                .to_owned(),
        );
    }
    lines.extend(not_believed(job, step, say));
    for limit in &step.passage.limits {
        let over = limit.margin.filter(|margin| margin.millikelvin() < 0);
        lines.extend(over.map(|margin| {
            let over = say.dt(KelvinStep::ZERO - margin);
            format!("{} was {over} too hot", Names(job).limit(limit.of))
        }));
    }
    lines.extend(troubles(job, step, say));
    lines
}

/// Readings that are colder than what counts at that joint: of something that stands on a plate or in an oven.
fn not_believed(job: &Job, step: &CheckedStep, say: Say) -> Vec<String> {
    let reads = step.planned.log.iter().flat_map(|log| &log.sees);
    let counted = |read: &(Where, Celsius)| {
        let Where::Joint(joint) = read.0 else {
            return None;
        };
        let sight = step.passage.sights.iter().find(|s| s.joint == joint)?;
        match sight.seen {
            Seen::At(t, SeenBy::Log) if t > read.1 => Some((joint, read.1, t)),
            _ => None,
        }
    };
    let told = reads.filter_map(counted).map(|(joint, read, t)| {
        let (joint, read, t) = (Names(job).joint(joint), say.t(read), say.t(t));
        format!("{joint} was read at {read} on a plate or in an oven of {t}: {t} counts, the thermocouple has come off")
    });
    told.collect()
}

/// Why a line of the log is none that this bench allows; `None` where it can have been.
pub fn impossible(job: &Job, step: &CheckedStep) -> Option<String> {
    let refusals = step.passage.refusals.iter();
    let told = refusals.filter(|refusal| refusal.is_impossible());
    told.map(|refusal| Names(job).refusal(refusal)).next()
}

/// What does not simply hold in a step, a sentence each.
pub(super) fn troubles(job: &Job, step: &CheckedStep, say: Say) -> Vec<String> {
    let names = Names(job);
    let mut lines = Vec::new();
    for refusal in &step.passage.refusals {
        lines.push(names.refusal(refusal));
    }
    if let Some(target) = &step.passage.target {
        match target.flow {
            Flow::Not => {
                let must = target
                    .must_reach
                    .map_or_else(|| "?".to_owned(), |t| say.t(t));
                let lifts = matches!(step.planned.step.work, Work::Remove { .. });
                let tears = if lifts {
                    "; lifted colder it tears pads off"
                } else {
                    ""
                };
                lines.push(format!("does not flow: needs {must}{tears}"));
            }
            Flow::Unknown if target.must_reach.is_some() && step.passage.peak.is_some() => {
                lines.push("it does not surely get hot enough to flow".to_owned());
            }
            Flow::Unknown => lines.push("nobody knows when it flows".to_owned()),
            Flow::Barely => lines.push("it just reaches its flow, with nothing over it".to_owned()),
            Flow::PartOfNewMetal => lines.push(
                "only part of the new solder flows: collapse is not assured, it needs time"
                    .to_owned(),
            ),
            Flow::Whole | Flow::NewMetalOnly => {}
        }
    }
    lines.extend(states_to_say(job, step, say));
    lines.extend(
        step.passage
            .sights
            .iter()
            .filter(|s| s.verdict != Verdict::Holds && (say.full || !s.may_melt))
            .map(|sight| {
                let liquid = sight.liquid.filter(|share| share.fraction() > 0.0);
                let liquid =
                    liquid.map_or_else(String::new, |l| format!(", {} liquid", percent(l)));
                let allowed = if sight.may_melt { " (it may)" } else { "" };
                format!(
                    "{} {}{allowed}: {}{liquid} ({}; metal {})",
                    names.joint(sight.joint),
                    sight.verdict,
                    sight_words(sight, say),
                    seen_by(sight.seen),
                    basis_word(sight.melt.basis)
                )
            }),
    );
    lines.extend(
        step.passage
            .limits
            .iter()
            .filter(|l| l.verdict != Verdict::Holds)
            .map(|limit| {
                format!(
                    "{} {}: sees {}, limit {}{}",
                    names.limit(limit.of),
                    limit.verdict,
                    say.seen(limit.seen),
                    say.t(limit.limit),
                    what_to_state(names, limit)
                )
            }),
    );
    let hazards = step.passage.findings.iter();
    let hazards = hazards.filter(|f| f.verdict > Verdict::Holds);
    lines.extend(hazards.filter_map(|f| names.finding(say, f)));
    lines
}

/// The notes of a step: gaps in one line, and what holds for many steps only once.
fn notes(
    job: &Job,
    step: &CheckedStep,
    say: Say,
    fold: &Fold,
    told: &mut Vec<Note>,
) -> Vec<String> {
    let names = Names(job);
    let mut lines = Vec::new();
    let mut gaps: Vec<(KelvinStep, String)> = Vec::new();
    for note in &step.passage.notes {
        match note {
            Note::SmallGap(joint, gap) => {
                let words = format!("{} {}", names.joint(*joint), say.dt(*gap));
                gaps.push((*gap, words));
            }
            Note::Moisture(_) | Note::CopperTaken(..) if told.contains(note) => {}
            note => lines.push(names.note(say, note)),
        }
        told.push(note.clone());
    }
    if !fold.is_nothing() {
        // Equal ones beside each other are told as one.
        gaps.sort_by_key(|(gap, _)| *gap);
    }
    if !gaps.is_empty() {
        let gaps: Vec<String> = gaps.into_iter().map(|(_, words)| words).collect();
        lines.push(format!(
            "gaps below {}: {}; what each really sees decides, not the gap",
            say.dt(job.want.gap),
            gaps.join(", ")
        ));
    }
    lines
}

fn ledger_text(job: &Job, checked: &Checked, say: Say) -> String {
    let mut text = String::new();
    for ledger in checked.ledgers.iter().filter(|ledger| ledger.heats > 0) {
        let part = Names(job).part(ledger.part);
        let vital = if job.parts[ledger.part.0].vital {
            " (holds the data)"
        } else {
            ""
        };
        let peak = ledger
            .peak
            .map_or_else(String::new, |t| format!(", hottest {}", say.t(t)));
        let left = ledger
            .left
            .map_or_else(String::new, |left| format!(", {left} left"));
        let _ = writeln!(
            text,
            "Heats of {part}{vital}: {} here, {} before{left}{peak}",
            ledger.heats, ledger.before
        );
    }
    if text.is_empty() {
        text
    } else {
        format!("\n{text}")
    }
}

fn ledger_line(job: &Job, checked: &Checked) -> String {
    let over = checked
        .ledgers
        .iter()
        .find(|ledger| ledger.left.is_some_and(|left| left < 0));
    over.map_or_else(String::new, |ledger| {
        let allowed = job.parts[ledger.part.0].heats_left.unwrap_or(0);
        format!(
            "{} takes {} heats, {allowed} are left",
            Names(job).part(ledger.part),
            ledger.heats
        )
    })
}

fn service_line(job: &Job, service: &Service, say: Say) -> String {
    let joint = Names(job).joint(service.joint);
    let hottest = job.want.service.map_or_else(String::new, |t| say.t(t));
    match service.limit {
        Some(limit) => format!(
            "{joint} in use at {hottest}: stricter of {} (first melt − 50) and {} (0.9 of it in kelvin)",
            say.t(limit.minus_50),
            say.t(limit.ninety_percent)
        ),
        None => format!("{joint} in use at {hottest}: nobody knows when it melts"),
    }
}

/// The same for the first line: the stricter of both rules.
fn service_head(job: &Job, service: &Service, say: Say) -> String {
    let joint = Names(job).joint(service.joint);
    match (service.limit, job.want.service) {
        (Some(limit), Some(hottest)) => format!(
            "{joint} is in use at {}, and bears {} for years",
            say.t(hottest),
            say.t(limit.stricter())
        ),
        _ => service_line(job, service, say),
    }
}

fn breach_line(job: &Job, breach: &Breach) -> String {
    let (element, limit) = breach.rule.limit();
    let why = match breach.rule {
        Law::Lead => "the job is to be lead-free",
        Law::Cadmium => "hazard and waste law",
        Law::Gold => "the joint gets brittle",
    };
    format!(
        "{} holds {:.3} % {element}, limit {} %: {why}",
        Names(job).joint(breach.joint),
        breach.share.percent(),
        limit.percent()
    )
}

/// Cases of what is not known that are told one by one in a short answer.
const FEW_CASES: usize = 4;

fn worlds_text(job: &Job, checked: &Checked, say: Say) -> String {
    let mut lines = worlds_lines(job, checked);
    if !say.full && lines.len() > FEW_CASES {
        let worst = checked.worlds.iter().map(|(_, verdict)| *verdict).max();
        let worst = worst.unwrap_or(Verdict::Unknown);
        let as_bad = checked.worlds.iter().filter(|(_, v)| *v == worst).count();
        lines = vec![format!(
            "Of {} cases of what is not known {as_bad}: {worst}",
            lines.len()
        )];
    }
    if lines.is_empty() {
        String::new()
    } else {
        format!("\n{}\n", lines.join("\n"))
    }
}

/// The verdict for each assumption about what is not known.
pub(super) fn worlds_lines(job: &Job, checked: &Checked) -> Vec<String> {
    let worlds = checked.worlds.iter();
    worlds
        .map(|(world, verdict)| {
            let what: Vec<String> = job
                .reels
                .iter()
                .zip(&world.0)
                .map(|(reel, choice)| {
                    let candidate = choice.and_then(|c| reel.candidates.get(c));
                    format!(
                        "{} is {}",
                        reel.id,
                        candidate.map_or("something else", |s| s.name.as_str())
                    )
                })
                .collect();
            format!("If {}: {verdict}", what.join(", "))
        })
        .collect()
}

fn warnings(job: &Job, checked: &Checked, _: Say) -> Vec<String> {
    suspicions(job, &checked.end)
}

/// What got too hot and has not been looked at since.
pub fn suspicions(job: &Job, bench: &Bench) -> Vec<String> {
    let mut warnings = Vec::new();
    for (j, joint) in bench.joints.iter().enumerate() {
        if joint.was_molten {
            warnings.push(format!(
                "{} was molten, or may have been: inspect it",
                harmless(&job.joints[j].id)
            ));
        }
        if joint.doubtful {
            warnings.push(format!(
                "{} did not surely flow: inspect it, or make it again",
                harmless(&job.joints[j].id)
            ));
        }
    }
    for (p, part) in bench.parts.iter().enumerate() {
        if part.suspect {
            warnings.push(format!(
                "{} was hotter than its limit, or may have been: inspect or replace it",
                harmless(&job.parts[p].id)
            ));
        }
    }
    for (g, guard) in bench.guards.iter().enumerate() {
        if guard.suspect {
            warnings.push(format!(
                "{} was too hot: inspect it",
                harmless(&job.guards[g].id)
            ));
        }
    }
    if bench.disordered {
        warnings.push("a step was done before one that had to come first: look at both".to_owned());
    }
    warnings
}

/// As written in every output.
pub const fn basis_word(basis: Basis) -> &'static str {
    match basis {
        Basis::Measured => "measured",
        Basis::Computed => "computed",
        Basis::Floor => "floor",
        Basis::Unknown => "unknown",
    }
}

/// The keys of `check`, as `json.md` of the design has them.
pub fn json(job: &Job, checked: &Checked) -> Value {
    let names = Names(job);
    json!({
        "steps": checked.steps.iter().map(|step| step_json(job, step)).collect::<Vec<_>>(),
        "tightest": checked.tightest.map(|tightest| json!({
            "step": checked.steps[tightest.step].planned.step.id,
            "joint": match tightest.place { Place::Joint(j) => Some(names.joint(j)), Place::Limit(_) => None },
            "place": names.place(tightest.place),
            "margin_k": tightest.margin,
        })),
        "heats": checked.ledgers.iter().map(|ledger| json!({
            "part": names.part(ledger.part),
            "count": ledger.heats,
            "before": ledger.before,
            "left": ledger.left,
            "peak_c": ledger.peak,
        })).collect::<Vec<_>>(),
        "service": checked.service.iter().map(|service| json!({
            "joint": names.joint(service.joint),
            "first_melt_c": service.first_melt,
            "limit_c": service.limit.map(|limit| limit.stricter()),
            "minus_50_c": service.limit.map(|limit| limit.minus_50),
            "ninety_percent_c": service.limit.map(|limit| limit.ninety_percent),
            "verdict": service.verdict,
        })).collect::<Vec<_>>(),
        "legal": checked.breaches.iter().map(|breach| json!({
            "joint": names.joint(breach.joint),
            "rule": breach_line(job, breach),
            "share": breach.share,
            "verdict": rule_verdict(checked, breach),
        })).collect::<Vec<_>>(),
        "findings": checked.findings.iter().map(|told| finding_json(job, checked, told)).collect::<Vec<_>>(),
        "not_assessed": checked.not_assessed.iter().map(|what| names.not_assessed(*what)).collect::<Vec<_>>(),
        "worlds": checked.worlds.iter().map(|(world, verdict)| json!({
            "assumes": job.reels.iter().zip(&world.0).map(|(reel, choice)| json!({
                "reel": reel.id,
                "alloy": choice.and_then(|c| reel.candidates.get(c)).map(|s| &s.name),
            })).collect::<Vec<_>>(),
            "verdict": verdict,
        })).collect::<Vec<_>>(),
        "electric": electric::json(job, checked),
        "cautions": cautions::json(&cautions_of(job, checked)),
    })
}

fn rule_verdict(checked: &Checked, breach: &Breach) -> Verdict {
    let is_it = |finding: &Finding| {
        finding.rule == Rule::Law(breach.rule) && finding.of == Subject::Joint(breach.joint)
    };
    let found = checked.findings.iter().find(|told| is_it(&told.finding));
    found.map_or(Verdict::Limit, |told| told.finding.verdict)
}

fn finding_json(job: &Job, checked: &Checked, told: &Told) -> Value {
    let finding = &told.finding;
    json!({
        "rule": finding.rule.word(),
        "of": Names(job).subject(finding.of),
        "step": told.step.map(|step| &checked.steps[step].planned.step.id),
        "verdict": finding.verdict,
        "counts": finding.counts,
        "margin_k": finding.margin,
        "source": finding.rule.source(),
    })
}

fn step_json(job: &Job, step: &CheckedStep) -> Value {
    let names = Names(job);
    let passage = &step.passage;
    let gates: Vec<String> = passage.refusals.iter().map(|r| names.refusal(r)).collect();
    let notes: Vec<String> = passage
        .notes
        .iter()
        .map(|note| names.note(Say::default(), note))
        .collect();
    json!({
        "id": step.planned.step.id,
        "do": super::say::work_word(&step.planned.step.work),
        "target": names.target(&step.planned.step.work),
        "done": step.planned.log.is_some(),
        "peak_c": passage.peak,
        "must_reach_c": passage.target.as_ref().and_then(|target| target.must_reach),
        "window_c": {
            "from": passage.window.from,
            "to": passage.window.to,
            "set_by": passage.window.set_by.map(|by| names.set_by(by)),
        },
        "verdict": passage.verdict(),
        "sees": passage.sights.iter().map(|sight| sight_json(names, sight, passage)).collect::<Vec<_>>(),
        "limits": passage.limits.iter().map(|limit| limit_json(names, limit)).collect::<Vec<_>>(),
        "gates": gates,
        "notes": notes,
    })
}

fn sight_json(names: Names, sight: &Sight, passage: &Passage) -> Value {
    let flow_point = passage.target.as_ref().and_then(|target| target.flow_point);
    let gap = sight
        .melt
        .first_melt
        .zip(flow_point)
        .map(|(earlier, later)| earlier - later);
    json!({
        "joint": names.joint(sight.joint),
        "t_c": known(sight.seen),
        "by": seen_by(sight.seen),
        "survival_c": sight.melt.survival,
        "first_melt_c": sight.melt.first_melt,
        "margin_k": sight.margin,
        "gap_k": gap,
        "liquid_share": sight.liquid,
        "basis": basis_word(sight.melt.basis),
        "may_melt": sight.may_melt,
        "verdict": sight.verdict,
        "why": why_unknown(sight),
    })
}

fn why_unknown(sight: &Sight) -> Option<&'static str> {
    match (sight.seen, sight.melt.survival) {
        (Seen::UpTo(_), _) => Some("no coupling, temperature or distance is stated"),
        (_, None) => Some("nobody knows what the joint is made of"),
        _ if sight.liquid.is_none() => Some("the liquid share of this metal is not known"),
        _ => None,
    }
}

fn limit_json(names: Names, limit: &LimitSight) -> Value {
    json!({
        "of": names.limit(limit.of),
        "t_c": known(limit.seen),
        "limit_c": limit.limit,
        "margin_k": limit.margin,
        "verdict": limit.verdict,
    })
}

fn known(seen: Seen) -> Option<Celsius> {
    match seen {
        Seen::At(t, _) => Some(t),
        Seen::UpTo(_) => None,
    }
}

/// What would settle it, where nobody knows what a body sees.
fn what_to_state(names: Names, limit: &LimitSight) -> String {
    match (limit.of, limit.seen) {
        (LimitOf::Part(part), Seen::UpTo(_)) => {
            format!(
                ": state what arrives at its body (`k: {{{}: …}}`)",
                names.part(part)
            )
        }
        _ => String::new(),
    }
}
