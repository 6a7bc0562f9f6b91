//! Steps that nobody wrote: repairs after what failed, inspections after what got too hot.
//!
//! The log is folded event by event, so that repairs of repairs come about, and a line of the log
//! may name a repair. Ids are those of the failed step with `~remove`, `~dress`, `~reball`,
//! `~again`, `~inspect`, or of the step that made a mask with `~cover`; from the second failure on
//! with a number (`set~again2`).

use crate::bench::{Bench, Doing, Setting, pass};
use crate::job::{
    self, Choice, Content, Event, GuardIx, GuardKind, Job, JointIx, PartIx, Solder, Step, StepIx,
    Tool, Way, Work,
};
use crate::melt::MeltBook;
use crate::policy;

use super::change::added;
use super::check::{is_to_be_looked_at, leaves_harm};
use super::history::{logged_pick, logged_step, stem, undone};

/// Rounds of clean-up that are offered; the planner takes the best, then the fewest.
const ROUNDS: [u32; 3] = [1, 2, 3];

/// Why a step failed that was read colder than its solder flows.
pub const IN_VAIN: &str = "read colder than its solder flows: nothing was joined";

/// The job with the steps that its log makes necessary, added last. A line that was read colder than its
/// solder flows is marked as failed.
pub fn repaired(job: &Job, melts: &MeltBook) -> Job {
    followed(job, melts).0
}

/// The first line of the log that names no step: neither one of the job, nor one that the lines before it had made
/// necessary.
pub fn names_nothing(job: &Job, melts: &MeltBook) -> Option<usize> {
    let own = |id: &str| !id.contains('~');
    let all_own = job.done.iter().all(|event| own(&event.step));
    if all_own {
        None
    } else {
        followed(job, melts).1
    }
}

fn followed(job: &Job, melts: &MeltBook) -> (Job, Option<usize>) {
    let mut job = job.clone();
    let mut nothing = None;
    let mut bench = Bench::at_start(&Setting::new(&job, melts));
    for line in 0..job.done.len() {
        let event = job.done[line].clone();
        let Some(at) = logged_step(&job, line) else {
            nothing = nothing.or(Some(line));
            continue;
        };
        let before = bench.clone();
        let setting = Setting::new(&job, melts);
        let doing = Doing {
            log: Some(&event),
            ..Doing::planned(&job.steps[at.0], logged_pick(&job, at, &event))
        };
        let passage = pass(&setting, &bench, &doing);
        let work = &job.steps[at.0].work;
        let harmed = passage
            .findings
            .iter()
            .any(|finding| leaves_harm(work, finding))
            || (!passage.in_vain && is_to_be_looked_at(work, &event));
        bench = passage.next;
        if passage.in_vain && event.failed.is_none() {
            job.done[line].failed = Some(IN_VAIN.to_owned());
            // What had to wait for it has come too early.
            job::mark_order(&mut job);
        }
        if event.failed.is_some() || passage.in_vain {
            repair(&mut job, at, &event, &bench, passage.in_vain);
        } else if let Some((set, before)) = undone(&job, line) {
            let was = job.done[before].clone();
            repair(&mut job, set, &was, &bench, false);
        }
        inspect(&mut job, (at, line), harmed, &before, &bench);
    }
    (job, nothing)
}

/// Steps that lead from a failed step to the same step done again. What waited for the step waits
/// for that.
///
/// What was done in vain, so cold that nothing flowed, is as it was before: it is only done again.
fn repair(job: &mut Job, failed: StepIx, event: &Event, bench: &Bench, in_vain: bool) {
    let name = Namer::new(job, failed);
    let again = job.steps[failed.0].clone();
    let mut last: Option<StepIx> = None;
    let chain =
        |job: &mut Job, id: String, work: Work, ways: Vec<Way>, last: &mut Option<StepIx>| {
            let after = last.map(|before| (before, None)).into_iter().collect();
            *last = Some(added(job, id, work, ways, after));
        };
    match again.work.clone() {
        Work::Place { part, on, .. } if !in_vain => {
            if !bench.parts[part.0].on.is_empty() {
                let (work, ways) = removal(job, part, &again);
                chain(job, name.of("remove"), work, ways, &mut last);
            }
            let fresh = ball_alloy(job, part);
            for (nth, joint) in on.into_iter().enumerate() {
                if let Some((work, ways)) = dressing(job, joint, fresh.as_ref(), &again) {
                    let id = format!("{}{}", name.of("dress"), lettered(nth));
                    chain(job, id, work, ways, &mut last);
                }
            }
            if let Some((work, ways)) = reballing(job, part, fresh, &again) {
                chain(job, name.of("reball"), work, ways, &mut last);
            }
        }
        Work::Solder { joint, .. } if !in_vain && bench.joints[joint.0].parts.is_empty() => {
            let fresh = bench_alloy(&again, event);
            if let Some((work, ways)) = dressing(job, joint, fresh.as_ref(), &again) {
                chain(job, name.of("dress"), work, ways, &mut last);
            }
        }
        _ => {}
    }
    let mut repeat = again;
    repeat.id = name.of("again");
    repeat.after.extend(last.map(|before| (before, None)));
    repeat.optional = false;
    repeat.line = 0;
    let at = StepIx(job.steps.len());
    job.steps.push(repeat);
    for step in &mut job.steps {
        let waits = step.after.iter().find(|(before, _)| *before == failed);
        if let Some((_, reason)) = waits {
            let reason = reason.clone();
            step.after.push((at, reason));
        }
    }
}

/// Ids of one round of repairs.
struct Namer {
    stem: String,
    count: String,
}

impl Namer {
    fn new(job: &Job, failed: StepIx) -> Self {
        let id = &job.steps[failed.0].id;
        let stem = stem(id).to_owned();
        let round = (1..=job.steps.len() + 1).find(|n| {
            let id = format!("{stem}~again{}", suffix(*n));
            !job.steps.iter().any(|step| step.id == id)
        });
        Namer {
            stem,
            count: suffix(round.unwrap_or(1)),
        }
    }

    fn of(&self, word: &str) -> String {
        format!("{}~{word}{}", self.stem, self.count)
    }
}

/// The second group of joints below a part gets a letter: `set~dress`, `set~dressb`.
fn lettered(nth: usize) -> String {
    let letters = ('a'..='z').nth(nth).filter(|_| nth > 0);
    letters.map_or_else(String::new, String::from)
}

fn suffix(round: usize) -> String {
    if round == 1 {
        String::new()
    } else {
        round.to_string()
    }
}

/// The job's own step of that kind, as a pattern.
fn like<T>(job: &Job, pattern: impl Fn(&Step) -> Option<T>) -> Option<T> {
    job.steps.iter().find_map(pattern)
}

/// Off again, with the heat that set it down, as hot as its joints now need.
fn removal(job: &Job, part: PartIx, set: &Step) -> (Work, Vec<Way>) {
    let own = like(job, |step| match &step.work {
        Work::Remove { part: off, .. } if *off == part => {
            Some((step.work.clone(), step.ways.clone()))
        }
        _ => None,
    });
    own.unwrap_or_else(|| (Work::Remove { part, flood: None }, without_peak(&set.ways)))
}

fn without_peak(ways: &[Way]) -> Vec<Way> {
    let ways = ways.iter().map(|way| Way {
        peak: None,
        ..way.clone()
    });
    ways.collect()
}

/// Pads flooded and wicked: as the job does it elsewhere on this joint, else by iron on a cold board,
/// coupled like the step that failed (an iron couples less than air: our judgement).
fn dressing(
    job: &Job,
    joint: JointIx,
    fresh: Option<&Solder>,
    failed: &Step,
) -> Option<(Work, Vec<Way>)> {
    let own = like(job, |step| match &step.work {
        Work::Clean {
            joint: Some(at), ..
        } if *at == joint => Some((step.work.clone(), step.ways.clone())),
        _ => None,
    });
    if own.is_some() {
        return own;
    }
    let iron = |way: &Way| Way {
        couplings: way.couplings.clone(),
        ..Way::with(Tool::Iron, job.ambient)
    };
    let ways = failed.ways.first().map(iron)?;
    let work = Work::Clean {
        joint: Some(joint),
        part: None,
        rounds: fresh.map_or(Choice::Fixed(0), |_| Choice::OneOf(ROUNDS.to_vec())),
        flood: fresh.map(|solder| (solder.clone(), policy::FLOOD_MASS)),
        film: None,
    };
    Some((work, vec![ways]))
}

/// New balls of the alloy it had, away from the board; `None` for a part without balls.
fn reballing(
    job: &Job,
    part: PartIx,
    fresh: Option<Solder>,
    set: &Step,
) -> Option<(Work, Vec<Way>)> {
    job.parts[part.0].balls.as_ref()?;
    let own = like(job, |step| match &step.work {
        Work::Reball { part: balled, .. } if *balled == part => {
            Some((step.work.clone(), step.ways.clone()))
        }
        _ => None,
    });
    if let Some((
        Work::Reball {
            part,
            solder,
            diameter,
        },
        ways,
    )) = own
    {
        let solder = fresh.map_or(solder, Choice::Fixed);
        let work = Work::Reball {
            part,
            solder,
            diameter,
        };
        return Some((work, ways));
    }
    let solder = match fresh {
        Some(solder) => Choice::Fixed(solder),
        None if job.stock.is_empty() => return None,
        None => Choice::OneOf(job.stock.clone()),
    };
    let work = Work::Reball {
        part,
        solder,
        diameter: None,
    };
    Some((work, without_peak(&set.ways)))
}

/// What the balls of a part were last made of, as far as it is known.
fn ball_alloy(job: &Job, part: PartIx) -> Option<Solder> {
    let logged = job.done.iter().rev().find_map(|event| {
        let step = job.steps.iter().find(|step| step.id == event.step)?;
        match &step.work {
            Work::Reball {
                part: balled,
                solder,
                ..
            } if *balled == part => event.alloy.clone().or_else(|| only(solder)),
            _ => None,
        }
    });
    logged.or_else(|| match &job.parts[part.0].balls.as_ref()?.content {
        Content::Known(solder) => Some(solder.clone()),
        Content::Reel(_) => None,
    })
}

fn only(choice: &Choice<Solder>) -> Option<Solder> {
    match choice {
        Choice::Fixed(solder) => Some(solder.clone()),
        Choice::OneOf(_) => None,
    }
}

fn bench_alloy(step: &Step, event: &Event) -> Option<Solder> {
    let chosen = crate::bench::solder_choice(&step.work).and_then(only);
    event.alloy.clone().or(chosen)
}

/// An inspection that comes before everything else that is left, and masks put on anew, where a line
/// of the log made a joint melt or a guard too hot, or did other harm.
fn inspect(
    job: &mut Job,
    (at, line): (StepIx, usize),
    harmed: bool,
    before: &Bench,
    after: &Bench,
) {
    let bad = |bench: &Bench, j: usize| bench.joints[j].was_molten || bench.joints[j].doubtful;
    let molten = |j: &usize| bad(after, *j) && !bad(before, *j);
    let molten: Vec<usize> = (0..job.joints.len()).filter(molten).collect();
    let suspect = suspects(job, before, after, &molten);
    let mut parts = after.parts.iter().zip(&before.parts);
    let too_hot = parts.any(|(now, then)| now.suspect && !then.suspect);
    let disordered = after.disordered && !before.disordered;
    if molten.is_empty() && suspect.is_empty() && !too_hot && !disordered && !harmed {
        return;
    }
    let done: Vec<StepIx> = (0..=line)
        .filter_map(|line| logged_step(job, line))
        .collect();
    let left: Vec<usize> = (0..job.steps.len())
        .filter(|s| !done.contains(&StepIx(*s)))
        .collect();
    let id = free_id(job, &format!("{}~inspect", job.steps[at.0].id));
    let look = added(
        job,
        id,
        Work::Gate { short_check: false },
        Vec::new(),
        Vec::new(),
    );
    let mut first = vec![look];
    let mut anew = suspect;
    anew.retain(|guard| is_put_on_anew(job, *guard));
    for guard in anew {
        let (over, ways) = cover_of(job, guard);
        // By the id of a step, so that the log may name it.
        let made_by = cover_step(job, guard).unwrap_or(at);
        let id = free_id(job, &format!("{}~cover", stem(&job.steps[made_by.0].id)));
        let work = Work::Cover { guard, over };
        first.push(added(job, id, work, ways, vec![(look, None)]));
    }
    let reason = "what got too hot is looked at first";
    for step in left {
        let waits = first.iter().map(|at| (*at, Some(reason.to_owned())));
        job.steps[step].after.extend(waits);
    }
}

/// Guards that got too hot themselves, and masks over joints that melted.
fn suspects(job: &Job, before: &Bench, after: &Bench, molten: &[usize]) -> Vec<GuardIx> {
    let guards = 0..job.guards.len();
    guards
        .filter(|&g| {
            let hot = after.guards[g].suspect && !before.guards[g].suspect;
            let is_mask = job.guards[g].kind == GuardKind::Mask && after.guards[g].exists;
            let (over, _) = cover_of(job, GuardIx(g));
            hot || (is_mask && over.iter().any(|joint| molten.contains(&joint.0)))
        })
        .map(GuardIx)
        .collect()
}

/// Mask, and what a step of the job put on, is put on anew; plastic and laminate are only looked at.
fn is_put_on_anew(job: &Job, guard: GuardIx) -> bool {
    job.guards[guard.0].kind == GuardKind::Mask || cover_step(job, guard).is_some()
}

/// The step of the job that puts a guard on.
fn cover_step(job: &Job, guard: GuardIx) -> Option<StepIx> {
    let makes = |step: &Step| matches!(step.work, Work::Cover { guard: made, .. } if made == guard);
    job.steps.iter().position(makes).map(StepIx)
}

/// What a guard covers, and how it is cured.
fn cover_of(job: &Job, guard: GuardIx) -> (Vec<JointIx>, Vec<Way>) {
    let mut over = job.guards[guard.0].over.clone();
    let mut ways = Vec::new();
    for step in &job.steps {
        if let Work::Cover {
            guard: made,
            over: by,
        } = &step.work
            && *made == guard
        {
            over.extend(by);
            ways.clone_from(&step.ways);
        }
    }
    over.sort();
    over.dedup();
    (over, ways)
}

fn free_id(job: &Job, wanted: &str) -> String {
    let taken = |id: &str| job.steps.iter().any(|step| step.id == id);
    (1..=job.steps.len() + 1)
        .map(|n| format!("{wanted}{}", suffix(n)))
        .find(|id| !taken(id))
        .unwrap_or_else(|| wanted.to_owned())
}
