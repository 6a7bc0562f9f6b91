//! `new`, `schema`, `did`, `undo`: verbs that write or describe job files.

use std::path::{Path, PathBuf};

use serde_json::json;

use crate::bench::{Setting, Verdict, electric};
use crate::job::learned::{self, Kind};
use crate::job::log::{self, Entry};
use crate::job::{Job, StepIx, Where, Work};
use crate::melt::MeltBook;
use crate::plan::{self, Answer, Budget, CheckedStep};
use crate::planner::Planner;
use crate::quantity::{Celsius, Mass, Ohms};
use crate::show::chart::Scale;
use crate::show::check as show_check;
use crate::show::electric as show;
use crate::show::say::Say;
use crate::yaml;

use super::args::DidArgs;
use super::disk::InHand;
use super::{Desk, Said, WrongInput, learn, said, typed};

/// `new [FILE]`: a commented job to start from; never over an existing file.
pub(super) fn new(desk: &Desk, to: Option<&PathBuf>) -> Result<Said, WrongInput> {
    let text = crate::job::example();
    let Some(to) = to else {
        return Ok(Said { text, code: 0 });
    };
    if desk.disk.has(to) {
        return Err(WrongInput::new(format!(
            "{}: is there already, nothing written",
            to.display()
        )));
    }
    desk.disk.write(to, text.as_bytes())?;
    Ok(Said {
        text: format!("written: {}", to.display()),
        code: 0,
    })
}

/// `did JOB STEP`.
pub(super) fn did(desk: &mut Desk, args: &DidArgs) -> Result<Said, WrongInput> {
    let peak = args
        .peak
        .as_ref()
        .map(|peak| peak.read(desk.say.scale))
        .transpose()?;
    let mass = args
        .mg
        .map(Mass::from_mg)
        .transpose()
        .map_err(WrongInput::new)?;
    let sees: Result<Vec<(String, Celsius)>, WrongInput> =
        args.sees.iter().map(|s| seen(s, desk.say.scale)).collect();
    let reads: Result<Vec<_>, WrongInput> = args.reads.iter().map(|s| read_as(s)).collect();
    let reads = reads?;
    let entry = Entry {
        step: args.step.clone(),
        peak,
        sees: sees?,
        reads,
        failed: args.failed.clone(),
        alloy: args.alloy.clone(),
        tool: args.tool.map(Into::into),
        rounds: args.rounds,
        mass,
    };
    let held = desk.disk.take(&args.job)?;
    let text = text_of(&held)?;
    let entry = failing(desk, &args.job, &text, entry)?;
    let line = entry.to_string();
    let longer = log::append_event(&text, &line).map_err(WrongInput::new)?;
    alloy_is_known(desk, args, &longer)?;
    let_be(desk, args, &longer)?;
    let (longer, learned) = with_learned(desk, args, &entry, longer)?;
    let planner = keep(desk, &held, &longer)?;
    let mut after = told_after(desk, &planner);
    after.extend(implied(planner.job()));
    after.extend(learned);
    Ok(said(
        desk,
        0,
        || {
            let mut all = vec![format!("logged: {line}")];
            all.extend(after.clone());
            all.join("\n")
        },
        || json!({"meltstair": "did/1", "line": "logged", "event": line, "after": after}),
    ))
}

/// What a joint is made of is never guessed: where a step leaves its alloy open, the log must say it.
fn alloy_is_known(desk: &mut Desk, args: &DidArgs, longer: &str) -> Result<(), WrongInput> {
    let planner = parsed(desk, &args.job, longer)?;
    let case = planner.planned();
    let among = plan::unsaid_alloys(case.job());
    if among.is_empty() {
        return Ok(());
    }
    let named: Vec<&str> = among.iter().take(4).map(|s| s.name.as_str()).collect();
    let more = if among.len() > named.len() {
        ", …"
    } else {
        ""
    };
    Err(WrongInput::new(format!(
        "`{}` leaves its alloy open: say which was used, as `--alloy {}` (one of {}{more})",
        args.step,
        named[0],
        named.join(", ")
    )))
}

/// A reading that does not pass makes the step a failed one, unless why it failed is said.
fn failing(
    desk: &mut Desk,
    path: &Path,
    text: &str,
    mut entry: Entry,
) -> Result<Entry, WrongInput> {
    if entry.failed.is_some() || entry.reads.is_empty() {
        return Ok(entry);
    }
    let longer = log::append_event(text, &entry.to_string()).map_err(WrongInput::new)?;
    let planner = parsed(desk, path, &longer)?;
    let job = planner.job();
    let reads = job.done.last().map_or(&[][..], |event| &event.reads);
    let bad: Vec<String> = reads
        .iter()
        .map(|(probe, ohms)| electric::judge(job, *probe, *ohms))
        .filter(|reading| !reading.passes)
        .map(|reading| show::reading_words(job, &reading))
        .collect();
    entry.failed = (!bad.is_empty()).then(|| bad.join(", "));
    Ok(entry)
}

/// A line that this bench cannot follow is no line: refused in its own words.
fn let_be(desk: &mut Desk, args: &DidArgs, longer: &str) -> Result<(), WrongInput> {
    let planner = parsed(desk, &args.job, longer)?;
    let case = planner.planned();
    let (job, setting) = (case.job(), case.setting());
    let Some(last) = plan::last_done(&setting) else {
        return Ok(());
    };
    let step = &last.planned.step;
    let misfit = last.planned.log.as_ref().and_then(|event| {
        crate::job::misfit(step, event).or_else(|| crate::job::tool_unsaid(step, event))
    });
    let why = misfit.or_else(|| show_check::impossible(job, &last));
    match why {
        Some(why) => Err(WrongInput::new(format!(
            "`{}` cannot be logged: {why}; nothing written",
            args.step
        ))),
        None => Ok(()),
    }
}

/// What the line says at once: what did not flow, what got too hot, by how much, what came out of order,
/// what was done twice.
fn said_of_line(job: &Job, setting: &Setting, say: Say) -> Vec<String> {
    let Some(last) = plan::last_done(setting) else {
        return Vec::new();
    };
    let mut all = show_check::done_words(job, &last, say);
    let Some(event) = &last.planned.log else {
        return all;
    };
    if let Some(before) = event.too_early {
        all.push(format!(
            "out of order: {} was to come before {}, and is not logged",
            job.steps[before.0].id, event.step
        ));
    }
    let earlier = job.done.len().saturating_sub(1);
    let again = job.done[..earlier]
        .iter()
        .filter(|other| other.step == event.step && other.failed.is_none())
        .count();
    if again > 0 {
        all.push(format!(
            "{} is in the log {} times now: its solder and its heats count each time",
            event.step,
            again + 1
        ));
    }
    all
}

/// What the line did to the bench: what melted that should not have, what is to be looked at, and
/// whether power may come.
fn told_after(desk: &Desk, planner: &Planner) -> Vec<String> {
    let case = planner.planned();
    let (job, setting) = (case.job(), case.setting());
    let start = plan::start(&setting);
    let mut all = said_of_line(job, &setting, desk.say);
    all.extend(show_check::suspicions(job, &start.bench));
    if let Some(event) = job.done.last()
        && let Some(why) = &event.failed
    {
        all.push(format!(
            "{} failed: {why}; `order` plans on from here",
            event.step
        ));
    }
    let put_in: Vec<&str> = job
        .steps
        .iter()
        .enumerate()
        .filter(|(s, step)| step.line == 0 && !start.done.contains(&StepIx(*s)))
        .map(|(_, step)| step.id.as_str())
        .filter(|id| !id.ends_with(plan::POWER_CHECK))
        .collect();
    if !put_in.is_empty() {
        all.push(format!("put in, `order` tells when: {}", put_in.join(" ")));
    }
    all.extend(gate_words(job, planner.melts(), &start).map(str::to_owned));
    all.extend(next_words(planner, desk.say));
    all
}

/// Benches for the step that comes next: a line of the log is answered at once, or says nothing of it (our judgement).
const NEXT_NODES: usize = 5_000;

/// The step that the best order has next, and whether that order still holds. Nothing where heat is worked out, which
/// takes longer than a hand waits.
fn next_words(planner: &Planner, say: Say) -> Option<String> {
    let mut ways = planner.job().steps.iter().flat_map(|step| &step.ways);
    if ways.any(|way| way.described.is_some()) {
        return None;
    }
    let case = planner.sorted();
    let best = case.order(Budget::of(NEXT_NODES), &mut |_| true).ok()?;
    if matches!(best.answer, Answer::Impossible { .. }) {
        return Some("no order keeps every demand any more: `order` tells why".to_owned());
    }
    let checked = best.checked?;
    let open = |step: &&CheckedStep| step.planned.log.is_none();
    let next = checked.steps.iter().find(open)?;
    let words = show_check::next_words(case.job(), next, say);
    Some(match checked.verdict {
        Verdict::Holds => format!("next: {words}"),
        worse => format!("next: {words} ({}: `order` tells why)", worse.word()),
    })
}

/// Readings beside the target of a step whose board and tool are described teach something: the text with
/// what all readings that stand teach, and what to say of it.
fn with_learned(
    desk: &mut Desk,
    args: &DidArgs,
    entry: &Entry,
    text: String,
) -> Result<(String, Vec<String>), WrongInput> {
    if entry.sees.is_empty() {
        return Ok((text, Vec::new()));
    }
    let planner = parsed(desk, &args.job, &text)?;
    let job = planner.job();
    let last = job.done.last();
    let teaches =
        |kind: Kind| last.is_some_and(|event| learned::step_read(job, event, kind).is_some());
    if Kind::ALL.into_iter().any(teaches) {
        learn::refitted(desk, &args.job, text)
    } else {
        Ok((text, Vec::new()))
    }
}

/// The coupling that each reading beside the target implies: what may be stated for the next run of that kind,
/// without any field.
fn implied(job: &Job) -> Vec<String> {
    let told = || -> Option<Vec<String>> {
        let last = plan::history(job).pop()?;
        let (event, way) = (last.log.as_ref()?, last.step.ways.get(last.pick.way)?);
        let rise = (event.peak? - way.preheat).kelvin();
        let share = |(place, read): &(Where, Celsius)| {
            let id = match *place {
                Where::Joint(joint) => &job.joints.get(joint.0)?.id,
                Where::Part(part) => &job.parts.get(part.0)?.id,
                Where::Guard(guard) => &job.guards.get(guard.0)?.id,
                Where::Zone(zone) => &job.zones.get(zone.0)?.id,
                Where::Rest => "rest",
            };
            let k = (*read - way.preheat).kelvin() / rise;
            // Rounded up: a coupling is never stated smaller than it was read.
            let k = (k * 100.0).ceil() / 100.0;
            (0.0..=2.0).contains(&k).then(|| format!("{id}: {k}"))
        };
        (rise > 0.0).then(|| event.sees.iter().filter_map(share).collect())
    };
    let shares = told().unwrap_or_default();
    if shares.is_empty() {
        return Vec::new();
    }
    vec![format!(
        "coupling read: k: {{{}}} of the rise over the preheat; it counts from here on in steps heated alike that state less",
        shares.join(", ")
    )]
}

/// Whether power may come, where the last line of the log has to do with that.
fn gate_words(job: &Job, melts: &MeltBook, now: &plan::Start) -> Option<&'static str> {
    let gate = |work: &Work| matches!(work, Work::Gate { short_check: true });
    let last = plan::history(job).pop()?;
    let mut before = job.clone();
    before.done.pop();
    let was_open = plan::start(&Setting::new(&before, melts)).bench.checked;
    match (was_open, now.bench.checked) {
        (_, true) if gate(&last.step.work) => {
            Some("the check before power is passed, until the next heat")
        }
        (_, false) if gate(&last.step.work) => Some("no power: the check is not passed"),
        (true, false) => Some("no power: the check does not stand any more, do it again"),
        (false, false) if last.step.work == Work::Power => {
            Some("power came without a check after the last heat")
        }
        _ => None,
    }
}

/// `undo JOB`.
pub(super) fn undo(desk: &mut Desk, job: &Path) -> Result<Said, WrongInput> {
    let held = desk.disk.take(job)?;
    let text = text_of(&held)?;
    let before = parsed(desk, job, &text)?;
    let shorter = log::drop_last_event(&text).map_err(WrongInput::new)?;
    let after = parsed(desk, job, &shorter)?;
    let (before, after) = (before.job(), after.job());
    let same = |kind: Kind| learned::standing(before, kind) == learned::standing(after, kind);
    let told = "the last line of the log is taken off";
    let (shorter, more) = if Kind::ALL.into_iter().all(same) {
        (shorter, Vec::new())
    } else {
        let (shorter, more) = learn::refitted(desk, job, shorter)?;
        let taught = "what it taught is taken back".to_owned();
        (shorter, std::iter::once(taught).chain(more).collect())
    };
    keep(desk, &held, &shorter)?;
    Ok(said(
        desk,
        0,
        || {
            let mut all = vec![told.to_owned()];
            all.extend(more.clone());
            all.join("\n")
        },
        || json!({"meltstair": "undo/1", "line": told, "after": more}),
    ))
}

/// `PLACE:C`.
fn seen(text: &str, scale: Scale) -> Result<(String, Celsius), WrongInput> {
    let wrong = || {
        WrongInput::new(format!(
            "`{text}`: want PLACE:DEGREES, for example `tails:172`"
        ))
    };
    let (place, degrees) = text.rsplit_once(':').ok_or_else(wrong)?;
    let degrees = typed::celsius(degrees, scale)
        .map_err(|why| WrongInput::new(format!("{}; {why}", wrong())))?;
    Ok((place.trim().to_owned(), degrees))
}

/// `WIRE:OHM`, `WIRE:ground:OHM` or `WIRE:WIRE:OHM`.
fn read_as(text: &str) -> Result<(String, Option<Ohms>), WrongInput> {
    let wrong = || {
        WrongInput::new(format!(
            "`{text}`: want WIRE:OHM, for example `bus:0.12`, `bus:ground:230` or `bus:clock:open`"
        ))
    };
    let (held, ohms) = text.rsplit_once(':').ok_or_else(wrong)?;
    let ohms = match ohms.trim() {
        "open" | "OL" | "ol" => None,
        number => {
            let number: f64 = number.parse().map_err(|_| wrong())?;
            Some(Ohms::from_ohms(number).map_err(WrongInput::new)?)
        }
    };
    Ok((held.trim().to_owned(), ohms))
}

pub(super) fn text_of(job: &InHand) -> Result<String, WrongInput> {
    let shown = job.path().display().to_string();
    let text = yaml::decode(job.bytes()).map_err(|fault| {
        WrongInput::new(yaml::render_all(std::slice::from_ref(&fault), &shown, ""))
    })?;
    Ok(text.to_owned())
}

/// Writes a job file, once the new text reads as strictly as any other.
pub(super) fn keep(desk: &mut Desk, job: &InHand, text: &str) -> Result<Planner, WrongInput> {
    let planner = parsed(desk, job.path(), text)?;
    job.replace(text.as_bytes())?;
    Ok(planner)
}

fn parsed(desk: &Desk, path: &Path, text: &str) -> Result<Planner, WrongInput> {
    let shown = path.display().to_string();
    Planner::read(text.as_bytes(), &shown, &desk.book)
        .map_err(|faults| WrongInput::new(format!("{faults}\n\nnothing written")))
}

/// `schema`.
pub(super) fn schema() -> Said {
    Said {
        text: crate::job::schema(),
        code: 0,
    }
}
