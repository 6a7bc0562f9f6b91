//! All screens of one job, from one search.

use maud::{Markup, PreEscaped, html};
use meltstair::bench::{Verdict, electric};
use meltstair::job::{Choice, Job, JobFaults, Work};
use meltstair::plan::{Answer, Checked, CheckedStep};
use meltstair::planner::Case;
use meltstair::show::answer::Assumption;
use meltstair::show::bench as show_bench;
use meltstair::show::cautions::{Caution, cautions_of};
use meltstair::show::chart::Scale;
use meltstair::show::order as show_order;
use meltstair::show::say::{Names, Say, harmless};
use meltstair::show::sheet::{self, Row, Sheet};
use meltstair::show::{find_out, version};
use meltstair::{Planner, bench::solder_choice};
use serde::Deserialize;
use serde_json::{Value, json};

use crate::Surface;
use crate::fragments::{heat_bar, verdict_box};

/// A job.
#[derive(Debug, Deserialize)]
pub struct Asked {
    text: String,
    #[serde(default)]
    fahrenheit: bool,
}

/// Columns of the sentences.
const WIDTH: usize = 100;

/// The screens, or what is wrong with the text.
pub fn look(asked: &Asked, surface: Surface) -> Value {
    let planner = match Planner::new(&asked.text) {
        Ok(planner) => planner,
        Err(faults) => return wrong(&faults),
    };
    let scale = if asked.fahrenheit {
        Scale::Fahrenheit
    } else {
        Scale::Celsius
    };
    let say = Say {
        scale,
        width: WIDTH,
        full: true,
    };
    let case = planner.sorted();
    let mut watch = surface.watch();
    let budget = watch.budget();
    let best = match case.order(budget, &mut |progress| watch.goes_on(progress)) {
        Ok(best) => best,
        Err(why) => return json!({"wrong": why.to_string()}),
    };
    let find_out = match case.find_out(&best, budget) {
        Ok(find_out) => find_out,
        Err(why) => return json!({"wrong": why.to_string()}),
    };
    let ordered = show_order::Ordered {
        answer: &best.answer,
        checked: best.checked.as_ref(),
        find_out: find_out.as_ref(),
    };
    let frame = show_order::frame(case.job(), ordered, assumed(&planner), say);
    // Without an order the steps as they are written show what is in the way.
    let written;
    let checked = if let Some(checked) = &best.checked {
        checked
    } else {
        written = case.check().1;
        &written
    };
    let sheet = sheet::of(
        &case.setting(),
        checked,
        &frame,
        say,
        &version::data_version(),
    );
    let screens = Screens {
        case: &case,
        checked,
        sheet: &sheet,
        line: &frame.line,
        verdict: show_order::verdict(ordered),
        has_order: best.checked.is_some(),
        impossible: matches!(best.answer, Answer::Impossible { .. }),
        find_out: find_out
            .as_ref()
            .map(|test| find_out::text(case.job(), test, say)),
        say,
    };
    let log: Vec<String> = case
        .job()
        .done
        .iter()
        .map(|event| event.step.clone())
        .collect();
    json!({
        "title": harmless(&case.job().title),
        "line": frame.line,
        "verdict": screens.verdict.word(),
        "now": screens.now().into_string(),
        "next": screens.next().into_string(),
        "plan": screens.plan().into_string(),
        "sheet": sheet.html(),
        "notices": planner.notices().iter().map(|notice| notice.message.clone()).collect::<Vec<_>>(),
        "ways_out": screens.impossible,
        "log": log,
    })
}

/// What is wrong, each at its line.
fn wrong(faults: &JobFaults) -> Value {
    let told = html! {
        div .verdict-box data-verdict="limit broken" {
            p .word { (faults.faults.len()) " to put right" }
        }
        ol .faults {
            @for fault in &faults.faults {
                li data-line=[fault.place.map(|place| place.line)] {
                    @if let Some(place) = fault.place { b { "Line " (place.line) } " " }
                    (harmless(&fault.message))
                    @if let Some(help) = &fault.help { p .help { (harmless(help)) } }
                }
            }
        }
    };
    let lines: Vec<_> = faults
        .faults
        .iter()
        .filter_map(|f| Some(f.place?.line))
        .collect();
    json!({"faults": told.into_string(), "lines": lines, "text": faults.to_string()})
}

fn assumed(planner: &Planner) -> Vec<Assumption> {
    let all = planner.assumed().iter();
    all.map(|one| Assumption {
        what: one.what.clone(),
        value: one.value.to_string(),
        unit: one.unit.to_owned(),
        mark: one.mark.to_string(),
    })
    .collect()
}

struct Screens<'a> {
    case: &'a Case<'a>,
    checked: &'a Checked,
    sheet: &'a Sheet,
    line: &'a str,
    verdict: Verdict,
    has_order: bool,
    impossible: bool,
    find_out: Option<String>,
    say: Say,
}

impl Screens<'_> {
    fn job(&self) -> &Job {
        self.case.job()
    }

    /// The bench as it is.
    fn now(&self) -> Markup {
        let now = show_bench::of(&self.case.setting());
        let say = self.say;
        html! {
            h2 { (now.line()) }
            @if !now.look_at.is_empty() {
                div .alarm role="alert" {
                    @for line in &now.look_at { p { (line) } }
                }
            }
            ul .joints {
                @for joint in &now.joints {
                    li .joint .stands[joint.standing] {
                        div .name { b { (joint.id) } @if joint.count > 1 { span .count { "× " (joint.count) } } }
                        div .metal {
                            @if joint.made_of.is_empty() { (joint.is) } @else {
                                b { (joint.made_of) }
                                @if !joint.standing { " · " (joint.is) }
                                @if joint.unsure { " · not sure" }
                            }
                        }
                        div .melts {
                            @if joint.made_of.is_empty() { span .none { "no metal" } } @else {
                                span .small { "solid to" } " " b { (joint.melts(say)) }
                            }
                        }
                        div .bears {
                            "must " (joint.must)
                            @if let Some(hottest) = self.hottest(joint.joint) { " · " (hottest) }
                            @for about in &joint.about { " · " (about) }
                        }
                    }
                }
            }
            ul .plain {
                @for part in &now.parts { li { (part.line(say)) } }
                @for guard in &now.guards {
                    li { (guard.id) ": " @if guard.is_there { "there" } @else { "not there yet" } ", bears " (say.t(guard.limit)) }
                }
                li { @if now.checked { "The check before power is passed." } @else { "The check before power is not passed." } }
            }
        }
    }

    /// The hottest that a joint is still to see, where it stands beside the heat.
    fn hottest(&self, joint: meltstair::job::JointIx) -> Option<String> {
        let to_come = self
            .checked
            .steps
            .iter()
            .filter(|step| step.planned.log.is_none());
        let seen = to_come.flat_map(|step| {
            let sights = step
                .passage
                .sights
                .iter()
                .filter(move |sight| sight.joint == joint);
            sights.map(move |sight| (step, sight))
        });
        let worst = seen.min_by(|(_, a), (_, b)| {
            let key = |margin: Option<meltstair::quantity::KelvinStep>| {
                margin.map_or(f64::NEG_INFINITY, meltstair::quantity::KelvinStep::kelvin)
            };
            key(a.margin).total_cmp(&key(b.margin))
        });
        let (step, sight) = worst?;
        let id = &step.planned.step.id;
        Some(harmless(&format!(
            "to come: {} in {id}",
            self.say.seen(sight.seen)
        )))
    }

    /// The first step that the log does not have.
    fn open(&self) -> Option<(&CheckedStep, &Row)> {
        let steps = self.checked.steps.iter().zip(&self.sheet.rows);
        steps
            .into_iter()
            .find(|(step, _)| step.planned.log.is_none())
    }

    /// The one step to do.
    fn next(&self) -> Markup {
        html! {
            (verdict_box(self.verdict, self.line))
            @if let Some(test) = &self.find_out {
                section .alarm { h2 { "Find this out first" } pre { (test) } }
            }
            @if !self.sheet.why_not.is_empty() {
                section .alarm {
                    h2 { @if self.sheet.use_for == sheet::Use::Condition { "Do not start before this is known" } @else { "Does not hold" } }
                    @for why in &self.sheet.why_not { p { (why) } }
                }
            }
            @if !self.checked.not_assessed.is_empty() {
                p .note { "Not assessed: "
                    (self.checked.not_assessed.iter().map(|what| harmless(&Names(self.job()).not_assessed(*what))).collect::<Vec<_>>().join("; ")) }
            }
            @if !self.has_order {
                p { "There is no order to follow yet. " a href="#plan" { "What is in the way stands under Plan." } }
            } @else if let Some((step, row)) = self.open() {
                (self.step(step, row))
            } @else {
                p .done { "Everything is done." }
            }
            @if !self.job().done.is_empty() {
                button type="button" data-undo { "Take the last tick back: " (last(self.job())) }
            }
        }
    }

    fn step(&self, step: &CheckedStep, row: &Row) -> Markup {
        let total = self.sheet.rows.len();
        html! {
            article .step {
                p .over { "Step " (row.number) " of " (total) " · " (row.id) }
                h2 .what { (row.what) }
                dl .numbers {
                    @if !row.alloy.is_empty() { div { dt { "Solder" } dd { (row.alloy) } } }
                    @if !row.tool.is_empty() { div { dt { "Tool" } dd { (row.tool) } } }
                    @if !row.preheat.is_empty() { div { dt { "Preheat" } dd { (row.preheat) } } }
                    @if !row.set.is_empty() { div { dt { "Set to" } dd { (row.set) } } }
                    @if !row.aim.is_empty() { div .aim { dt { "Aim, at the joint" } dd { (row.aim) "\u{a0}" (self.say.unit()) } } }
                    @if let Some(window) = &row.window { div .window { dt { "Window" } dd { (window) } } }
                }
                @if let Some(until) = &row.until {
                    p .not-hotter { "No hotter than " b { (until.value) } ": " (until.who) @if !row.danger.is_empty() { ", " (row.danger) } }
                }
                @if row.until.is_none() && !row.danger.is_empty() { p .not-hotter { (row.danger) } }
                (heat_bar(self.job(), step, self.say))
                @if let Work::Gate { short_check: false } = step.planned.step.work {
                    ul .plain { @for line in show_bench::of(&self.case.setting()).look_at { li { (line) } } }
                }
                @if !row.gate.is_empty() && row.gate != row.what { p .gate { (row.gate) } }
                @for why in self.harms(step) { p .alarm { (why) } }
                (cautions(&self.of_step(step)))
                (self.tick(step))
            }
        }
    }

    /// What does not hold in a step, in words.
    fn harms(&self, step: &CheckedStep) -> Vec<String> {
        let findings = step.passage.findings.iter();
        let bad = findings.filter(|finding| finding.counts && finding.verdict != Verdict::Holds);
        let mut all: Vec<String> = bad
            .filter_map(|finding| Names(self.job()).finding(self.say, finding))
            .map(|text| harmless(&text))
            .collect();
        all.dedup();
        all
    }

    /// Cautions that this step alone calls for.
    fn of_step(&self, step: &CheckedStep) -> Vec<Caution> {
        let alone = Checked {
            steps: vec![step.clone()],
            ..self.checked.clone()
        };
        cautions_of(self.job(), &alone)
    }

    /// What can be told of a step that was done.
    fn tick(&self, step: &CheckedStep) -> Markup {
        let work = &step.planned.step.work;
        let heats = step.passage.peak.is_some();
        let unit = self.say.unit();
        html! {
            form .tick data-step=(step.planned.step.id) {
                h3 { "Done? What was read is worth more than what was planned." }
                @if heats {
                    label .field { span { "Peak at the joint, as read" } span .with-unit {
                        input data-arg="--peak" inputmode="decimal" autocomplete="off"; span .unit { (unit) } } }
                    @if !step.passage.sights.is_empty() {
                        @for sight in step.passage.sights.iter().take(MOST_READ) {
                            @let id = Names(self.job()).joint(sight.joint);
                            label .field { span { "At " b { (harmless(id)) } ", as read" } span .with-unit {
                                input data-arg="--sees" data-before={ (id) ":" } inputmode="decimal" autocomplete="off"; span .unit { (unit) } } }
                        }
                    }
                }
                @if let Some(Choice::OneOf(among)) = solder_choice(work) {
                    @let planned = solder_choice(work).and_then(|choice| step.planned.doing().solder(choice)).map(|solder| solder.name.clone());
                    label .field { span { "Solder that was used" }
                        select data-arg="--alloy" {
                            @for solder in among { option value=(solder.name) selected[planned.as_ref() == Some(&solder.name)] { (solder.name) } }
                        }
                    }
                }
                @if let Work::Gate { short_check: true } = work { (self.meter()) }
                div .two {
                    button .main type="submit" { "Done, as planned or as read above" }
                    details {
                        summary { "It failed" }
                        label .field { span { "What went wrong" } input data-arg="--failed" autocomplete="off"; }
                        button .bad type="submit" data-failed { "Log the failure" }
                    }
                }
            }
        }
    }

    /// Readings of the meter, one field each.
    fn meter(&self) -> Markup {
        use electric::Measure;
        let names = Names(self.job());
        let asked = electric::short_check(self.job()).into_iter();
        let fields: Vec<(String, String)> = asked
            .filter_map(|measure| match measure {
                Measure::RailToGround(w) => {
                    let wire = names.wire(w);
                    Some((format!("{wire} to ground"), format!("{wire}:ground:")))
                }
                Measure::EndToEnd(w, most) => {
                    let wire = names.wire(w);
                    Some((
                        format!("{wire} end to end, at most {most:.2} Ω"),
                        format!("{wire}:"),
                    ))
                }
                Measure::Apart(a, b) => {
                    let (a, b) = (names.wire(a), names.wire(b));
                    Some((format!("{a} against {b}, or `open`"), format!("{a}:{b}:")))
                }
                Measure::Look | Measure::CleanAndCold | Measure::OtherRails => None,
            })
            .collect();
        html! {
            @for (label, before) in fields {
                label .field { span { (harmless(&label)) } span .with-unit {
                    input data-arg="--reads" data-before=(before) autocomplete="off"; span .unit { "Ω" } } }
            }
        }
    }

    /// The order, and the picture of it.
    fn plan(&self) -> Markup {
        html! {
            (verdict_box(self.verdict, self.line))
            @if !self.sheet.why_not.is_empty() {
                section .alarm { h2 { "In the way" } @for why in &self.sheet.why_not { p { (why) } } }
            }
            @if let Some(test) = &self.find_out { section .alarm { h2 { "Find out first" } pre { (test) } } }
            @if self.impossible { div #ways-out aria-live="polite" { button .main type="button" data-ways-out { "What would open it?" } } }
            ol .order {
                @for (step, row) in self.checked.steps.iter().zip(&self.sheet.rows) {
                    li .ticked[row.done.is_some()] .weakest[row.weakest] data-verdict=(row.verdict) {
                        span .number { @if row.done.is_some() { "✓" } @else { (row.number) } }
                        div .body {
                            b { (row.what) }
                            @if !row.alloy.is_empty() { " · " (row.alloy) }
                            @if !row.tool.is_empty() { " · " (row.tool) }
                            @if !row.aim.is_empty() { " · aim " (row.aim) " " (self.say.unit()) }
                            @if let Some(window) = &row.window { " · window " (window) }
                            @if row.weakest { p .note { "the weakest place of the job is in this step" } }
                            @if row.verdict != Verdict::Holds.word() { p .note .bad { (row.verdict) } }
                            @if let Some(done) = &row.done {
                                @for read in &done.read { p .note { (read) } }
                                @if let Some(why) = &done.failed { p .note .bad { "failed: " (why) } }
                            }
                            @if step.planned.step.line == 0 && row.done.is_none() { p .note { "put in by what the log tells" } }
                        }
                    }
                }
            }
            @if let Some(svg) = &self.sheet.staircase {
                figure .paper tabindex="0" aria-label="Staircase: steps from left to right, a line for each joint at its first melt, a dot at what it really sees" { (PreEscaped(svg)) }
            }
            @for block in &self.sheet.foot {
                details { summary { (block.heading) } @for line in &block.lines { p { (line) } } }
            }
        }
    }
}

/// So many readings beside the joint are asked for: more than anybody has thermocouples.
const MOST_READ: usize = 4;

fn last(job: &Job) -> String {
    job.done
        .last()
        .map_or_else(String::new, |event| harmless(&event.step))
}

fn cautions(all: &[Caution]) -> Markup {
    html! {
        @if !all.is_empty() {
            details .care {
                summary { "Take care: " (all.iter().map(|caution| caution.topic.as_str()).collect::<Vec<_>>().join(", ")) }
                @for caution in all { p { b { (caution.topic) } ": " (caution.say) " " span .mark { "(" (caution.mark) ")" } } }
            }
        }
    }
}
