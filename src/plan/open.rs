//! What opens a job that has no plan: each opening was solved with, and has a plan.

use std::collections::BTreeSet;

use crate::bench::{Bench, Doing, Passage, SeenBy, Setting, pass, picks, solder_choice};
use crate::bench::{LimitOf, Seen};
use crate::job::{Choice, Coupling, Job, JointIx, PartIx, Solder, StepIx, Tool, Where, Work};
use crate::quantity::{Celsius, KelvinStep};

use super::answer::{Budget, Plan, TooManySteps};
use super::change::{Change, exchange_alloy};
use super::check::Place;
use super::clash::{Conflict, demands};
use super::demands::{Demand, Terms};
use super::history::{Start, start};
use super::hunt::{Any, Hunt};
use super::order::all_worlds;
use super::pick::Candidate;

/// Changes that open a job.
#[derive(Clone, Debug)]
pub struct Opening {
    /// One, or two that only open it together.
    pub changes: Vec<Change>,
    /// The widest margin that a plan of the changed job keeps.
    pub margin: Option<KelvinStep>,
    /// Such a plan.
    pub plan: Plan,
    /// The changed job.
    pub job: Job,
}

/// Openings that are told (our judgement: more is no help).
const MOST_OPENINGS: usize = 12;
/// Pairs that are tried (our judgement: keeps a clash of 16 steps under a second).
const MOST_PAIRS: usize = 30;

/// The cheapest changes that open a job, each verified by solving with it; pairs only where neither
/// of both opens it alone. `shelf` is what could be bought or stands there.
///
/// # Errors
/// [`TooManySteps`] if more are left to do than the search keeps books of.
pub fn openings(
    setting: &Setting,
    conflict: &Conflict,
    shelf: &[Candidate],
    budget: Budget,
) -> Result<Vec<Opening>, TooManySteps> {
    let bent = bent(setting, budget)?;
    let mut open = Vec::new();
    let mut shut = Vec::new();
    for change in candidates(setting, conflict, &bent) {
        // Of more heats for a part the fewest that do are told.
        let more_than_enough = |opening: &Opening| match (&opening.changes[..], &change) {
            ([Change::MoreHeats { part, .. }], Change::MoreHeats { part: same, .. }) => {
                part == same
            }
            _ => false,
        };
        if open.iter().any(more_than_enough) {
            continue;
        }
        match tried(setting, vec![change.clone()], budget)? {
            Some(opening) => open.push(opening),
            None => shut.push(change),
        }
    }
    for step in alloy_steps(setting.job(), conflict, &bent) {
        open.extend(other_alloys(setting, step, shelf, budget)?);
    }
    for joint in joints_of(conflict) {
        open.extend(cleaning(setting, joint, budget)?);
    }
    let pairs = (0..shut.len()).flat_map(|a| (a + 1..shut.len()).map(move |b| (a, b)));
    for (a, b) in pairs.take(MOST_PAIRS) {
        if open.len() >= MOST_OPENINGS {
            break;
        }
        let both = vec![shut[a].clone(), shut[b].clone()];
        open.extend(tried(setting, both, budget)?);
    }
    let names = |opening: &Opening| format!("{:?}", opening.changes);
    open.sort_by(|a, b| {
        let key = |o: &Opening| {
            let cost: u32 = o.changes.iter().map(|c| u32::from(c.cost())).sum();
            (o.changes.len(), cost)
        };
        key(a)
            .cmp(&key(b))
            .then(b.margin.is_none().cmp(&a.margin.is_none()))
            .then(b.margin.cmp(&a.margin))
            .then_with(|| names(a).cmp(&names(b)))
    });
    open.truncate(MOST_OPENINGS);
    Ok(open)
}

/// A plan that bends margins and limits as little as can be, and where it does.
struct Bent {
    margin: Option<KelvinStep>,
    broken: Vec<Broken>,
}

/// A place that gets too hot in a step.
struct Broken {
    step: StepIx,
    way: usize,
    place: Place,
    seen: Seen,
    peak: Celsius,
    /// Hottest that it may see, margin taken off.
    most: Celsius,
    before: Bench,
}

/// The plan with the widest margin when no margin is demanded.
fn bent(setting: &Setting, budget: Budget) -> Result<Bent, TooManySteps> {
    let worlds = all_worlds(setting);
    let starts: Vec<Start> = worlds.iter().map(start).collect();
    let heat = |demand: &Demand| matches!(demand, Demand::Keep(_) | Demand::Limit(_));
    let terms = Terms {
        dropped: demands(setting.job(), &starts[0])
            .into_iter()
            .filter(heat)
            .collect(),
        count_dropped: true,
        ..Terms::default()
    };
    let mut hunt = Hunt::new(&worlds, &starts, budget);
    let Any::Plan(plan, margin) = hunt.widest(&terms)? else {
        return Ok(Bent {
            margin: None,
            broken: Vec::new(),
        });
    };
    let mut broken = Vec::new();
    for (world, start) in worlds.iter().zip(&starts) {
        let mut bench = start.bench.clone();
        for chosen in &plan.steps {
            let step = &world.job().steps[chosen.step.0];
            let passage = pass(world, &bench, &Doing::planned(step, chosen.pick));
            broken.extend(too_hot(
                world,
                chosen.step,
                chosen.pick.way,
                &passage,
                &bench,
            ));
            bench = passage.next;
        }
    }
    broken.sort_by_key(|b| (b.step, b.place, b.most));
    broken.dedup_by_key(|b| (b.step, b.place));
    Ok(Bent { margin, broken })
}

fn too_hot(
    setting: &Setting,
    step: StepIx,
    way: usize,
    passage: &Passage,
    before: &Bench,
) -> Vec<Broken> {
    let want = setting.job().want.margin;
    let Some(peak) = passage.peak else {
        return Vec::new();
    };
    let one = |place, seen, most| Broken {
        step,
        way,
        place,
        seen,
        peak,
        most,
        before: before.clone(),
    };
    let joints = passage.sights.iter().filter(|s| !s.may_melt);
    let joints = joints
        .filter(|s| s.margin.is_none_or(|kept| kept < want))
        .filter_map(|s| Some(one(Place::Joint(s.joint), s.seen, s.melt.survival? - want)));
    let limits = passage.limits.iter();
    let limits = limits
        .filter(|l| l.margin.is_none_or(|kept| kept < KelvinStep::ZERO))
        .map(|l| one(Place::Limit(l.of), l.seen, l.limit));
    joints.chain(limits).collect()
}

/// Solves the job with changes; `None` where that opens nothing.
fn tried(
    setting: &Setting,
    changes: Vec<Change>,
    budget: Budget,
) -> Result<Option<Opening>, TooManySteps> {
    let mut job = setting.job().clone();
    let mut ordered: Vec<&Change> = changes.iter().collect();
    // Steps are taken out last, and from the end, so that positions hold.
    ordered.sort_by_key(|change| match change {
        Change::LeaveOut(step) => (1, std::cmp::Reverse(step.0)),
        _ => (0, std::cmp::Reverse(0)),
    });
    for change in ordered {
        match change.made_in(&job) {
            Some(changed) => job = changed,
            None => return Ok(None),
        }
    }
    Ok(
        solved(setting, &job, budget)?.map(|(plan, margin)| Opening {
            changes,
            margin,
            plan,
            job: job.clone(),
        }),
    )
}

fn solved(
    setting: &Setting,
    job: &Job,
    budget: Budget,
) -> Result<Option<(Plan, Option<KelvinStep>)>, TooManySteps> {
    let changed = setting.with_job(job);
    let worlds = all_worlds(&changed);
    let starts: Vec<Start> = worlds.iter().map(start).collect();
    let mut hunt = Hunt::new(&worlds, &starts, budget);
    // As `order` has it: what holds comes before what is close.
    for must_hold in [true, false] {
        let terms = Terms {
            must_hold,
            ..Terms::default()
        };
        if let Any::Plan(plan, margin) = hunt.widest(&terms)? {
            return Ok(Some((plan, margin)));
        }
        if !hunt.roads().met_close() {
            break;
        }
    }
    Ok(None)
}

/// Single changes that may open a job, from what clashes and from where the bent plan bends.
fn candidates(setting: &Setting, conflict: &Conflict, bent: &Bent) -> Vec<Change> {
    let job = setting.job();
    let mut all = Vec::new();
    for broken in &bent.broken {
        all.extend(cooler(job, broken));
        all.extend(off_meanwhile(broken));
    }
    if let Some(margin) = bent.margin.filter(|m| *m >= KelvinStep::ZERO) {
        all.push(Change::Margin(margin));
    }
    for demand in &conflict.demands {
        match *demand {
            Demand::Access(joint) => all.extend(
                (0..job.steps.len())
                    .map(StepIx)
                    .filter(|step| job.steps[step.0].closes.contains(&joint))
                    .map(|step| Change::KeepOpen { step, joint }),
            ),
            Demand::Before(first, then) => all.push(Change::Free { first, then }),
            Demand::Done(step) => all.push(Change::LeaveOut(step)),
            Demand::Heats(part) => all.extend(more_heats(job, part)),
            _ => {}
        }
    }
    all
}

fn more_heats(job: &Job, part: PartIx) -> impl Iterator<Item = Change> {
    let left = job.parts[part.0].heats_left;
    (1..=3).filter_map(move |more| {
        let heats = left? + more;
        Some(Change::MoreHeats { part, heats })
    })
}

/// Less heat where it is too hot: preheat, distance or shield, another tool.
fn cooler(job: &Job, broken: &Broken) -> Vec<Change> {
    let step = broken.step;
    let Some(way) = job.steps[step.0].ways.get(broken.way) else {
        return Vec::new();
    };
    let place = match broken.place {
        Place::Joint(joint) => Where::Joint(joint),
        Place::Limit(LimitOf::Part(part)) => Where::Part(part),
        Place::Limit(LimitOf::Guard(guard)) => Where::Guard(guard),
        Place::Limit(LimitOf::Wire(_) | LimitOf::Heats(_)) => return Vec::new(),
    };
    let mut changes = Vec::new();
    let share = |preheat: Celsius| coupling_for(broken.peak - preheat, broken.most - preheat);
    changes.extend(share(way.preheat).map(|at_most| Change::Coupling {
        step,
        place,
        at_most,
    }));
    if let Seen::At(_, SeenBy::Coupling(k)) = broken.seen {
        changes.extend(preheat_for(job, broken, k).map(|to| Change::Preheat { step, to }));
    }
    let local = matches!(way.tool, Tool::Iron | Tool::Tweezers);
    let at_board = matches!(job.steps[step.0].work, Work::WholeBoard { .. });
    if !local && !at_board {
        changes.extend(share(job.ambient).map(|at_most| Change::LocalTool {
            step,
            tool: Tool::Tweezers,
            place,
            at_most,
        }));
    }
    changes
}

/// The largest coupling, rounded down to 0.01, that keeps a place within its share of the rise.
fn coupling_for(rise: KelvinStep, allowed: KelvinStep) -> Option<Coupling> {
    if rise <= KelvinStep::ZERO || allowed < KelvinStep::ZERO {
        return None;
    }
    let share = (allowed.kelvin() / rise.kelvin() * 100.0 + 1e-9).floor() / 100.0;
    Coupling::new(share).ok()
}

/// The highest preheat, in whole degrees, with which `preheat + k · (peak − preheat)` stays within.
fn preheat_for(job: &Job, broken: &Broken, k: Coupling) -> Option<Celsius> {
    let k = k.factor();
    if k >= 1.0 {
        return None;
    }
    let most = (broken.most.degrees() - k * broken.peak.degrees()) / (1.0 - k);
    let to = Celsius::new((most + 1e-9).floor()).ok()?;
    let now = job.steps[broken.step.0].ways.get(broken.way)?.preheat;
    (to >= job.ambient && to < now).then_some(to)
}

/// The part whose joints get too hot comes off meanwhile.
fn off_meanwhile(broken: &Broken) -> Option<Change> {
    let Place::Joint(on) = broken.place else {
        return None;
    };
    let part = *broken.before.joints[on.0].parts.first()?;
    Some(Change::PartOff {
        part,
        on,
        during: broken.step,
    })
}

fn joints_of(conflict: &Conflict) -> BTreeSet<JointIx> {
    let joint = |demand: &Demand| match demand {
        Demand::Keep(joint) => Some(*joint),
        _ => None,
    };
    conflict.demands.iter().filter_map(joint).collect()
}

/// Steps whose alloy may be the trouble: those that clash, and those that make what clashes.
fn alloy_steps(job: &Job, conflict: &Conflict, bent: &Bent) -> Vec<StepIx> {
    let joints = joints_of(conflict);
    let clashing = |at: StepIx| {
        conflict.demands.contains(&Demand::Done(at))
            || conflict.demands.contains(&Demand::Flow(at))
            || bent.broken.iter().any(|broken| broken.step == at)
    };
    let set_there = |part: PartIx| {
        job.steps.iter().any(|step| {
            matches!(&step.work, Work::Place { part: set, on, .. }
                if *set == part && on.iter().any(|at| joints.contains(at)))
        })
    };
    let makes = |work: &Work| match work {
        Work::Solder { joint, .. } => joints.contains(joint),
        Work::Place { on, .. } => on.iter().any(|at| joints.contains(at)),
        Work::Reball { part, .. } => set_there(*part),
        _ => false,
    };
    (0..job.steps.len())
        .map(StepIx)
        .filter(|at| solder_choice(&job.steps[at.0].work).is_some())
        .filter(|at| clashing(*at) || makes(&job.steps[at.0].work))
        .collect()
}

/// The best other alloy for a step, from the shelf and from what could be bought.
fn other_alloys(
    setting: &Setting,
    step: StepIx,
    shelf: &[Candidate],
    budget: Budget,
) -> Result<Vec<Opening>, TooManySteps> {
    let job = setting.job();
    let used: Vec<String> = picks(&job.steps[step.0])
        .into_iter()
        .filter_map(|pick| {
            let doing = Doing::planned(&job.steps[step.0], pick);
            let choice = solder_choice(&job.steps[step.0].work)?;
            doing.solder(choice).map(|solder| solder.name.clone())
        })
        .collect();
    let mut open = Vec::new();
    for in_stock in [true, false] {
        let others: Vec<Solder> = shelf
            .iter()
            .filter(|c| (c.in_stock == Some(true)) == in_stock)
            .filter(|c| !c.flags.contains(&"cadmium") && !c.flags.contains(&"single_source"))
            .filter(|c| !job.want.lead_free || !c.flags.contains(&"lead"))
            .map(|c| c.solder.clone())
            .filter(|solder| !used.contains(&solder.name))
            .collect();
        if others.is_empty() {
            continue;
        }
        let mut wider = job.clone();
        exchange_alloy(&mut wider, step, Choice::OneOf(others.clone()));
        let Some((plan, _)) = solved(setting, &wider, budget)? else {
            continue;
        };
        let taken = plan.steps.iter().find(|chosen| chosen.step == step);
        let Some(solder) = taken.and_then(|chosen| others.get(chosen.pick.solder)) else {
            continue;
        };
        let change = Change::Alloy {
            step,
            solder: solder.clone(),
            in_stock,
        };
        open.extend(tried(setting, vec![change], budget)?);
    }
    Ok(open)
}

/// Rounds of flood-and-wick after which a plan exists (our judgement: nobody does more than three).
const MOST_ROUNDS: u32 = 3;

/// The fewest rounds of clean-up of pads with residue that open the job.
fn cleaning(
    setting: &Setting,
    joint: JointIx,
    budget: Budget,
) -> Result<Option<Opening>, TooManySteps> {
    let job = setting.job();
    let bench = start(setting).bench;
    let has_residue = !bench.joints[joint.0].layers.is_empty() && !bench.joints[joint.0].standing;
    let before = job.steps.iter().position(|step| match &step.work {
        Work::Place { on, .. } => on.contains(&joint),
        Work::Solder { joint: at, .. } => *at == joint,
        _ => false,
    });
    let (Some(before), true) = (before.map(StepIx), has_residue) else {
        return Ok(None);
    };
    let Some(flood) = comes_there(job, before) else {
        return Ok(None);
    };
    for rounds in 1..=MOST_ROUNDS {
        let change = Change::Clean {
            joint,
            before,
            flood: flood.clone(),
            rounds,
        };
        if let Some(opening) = tried(setting, vec![change], budget)? {
            return Ok(Some(opening));
        }
    }
    Ok(None)
}

/// The alloy that a step brings to its joint.
fn comes_there(job: &Job, at: StepIx) -> Option<Solder> {
    let fixed = |choice: &Choice<Solder>| match choice {
        Choice::Fixed(solder) => Some(solder.clone()),
        Choice::OneOf(many) => many.first().cloned(),
    };
    match &job.steps[at.0].work {
        Work::Solder { solder, .. }
        | Work::Place {
            paste: Some((solder, _)),
            ..
        } => fixed(solder),
        Work::Place { part, .. } => {
            let reball = job.steps.iter().find_map(|step| match &step.work {
                Work::Reball {
                    part: balled,
                    solder,
                    ..
                } if balled == part => fixed(solder),
                _ => None,
            });
            reball.or_else(|| match &job.parts[part.0].balls.as_ref()?.content {
                crate::job::Content::Known(solder) => Some(solder.clone()),
                crate::job::Content::Reel(_) => None,
            })
        }
        _ => None,
    }
}
