//! Why there is no plan: a set of demands that cannot hold together, each of them needed for that.

use std::collections::BTreeSet;

use crate::bench::{Bench, Doing, LimitOf, Refusal, Rule, Setting, Subject, pass, picks};
use crate::job::{Adhesive, GuardIx, Job, JointIx, Must, PartIx, StepIx, WireIx, Work};

use super::answer::{Budget, TooManySteps};
use super::cells::lies_over;
use super::demands::{Demand, Terms};
use super::history::{Start, start};
use super::hunt::{Any, Hunt};
use super::order::{all_worlds, heat_was_cut};
use super::touch::{Thing, belonging, touches};

/// Demands that no plan keeps together.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Conflict {
    /// In the order steps, precedence, access, joints, limits, the rest.
    pub demands: Vec<Demand>,
    /// Proven: without any one of them there is a plan that keeps the others. Not proven where a
    /// search was cut off.
    pub proven: bool,
    /// Where one step is all of it: what keeps it from being done on the bench as it is now.
    pub refusals: Vec<Refusal>,
}

/// A smallest conflict of a job that has no plan; `None` where it has one, or where that is not
/// known within the budget.
///
/// A step that is not demanded may be left out; where it touches nothing that a demanded step
/// touches and nothing that a demand hangs on, it is left out, since its heat could only take
/// margin. Several ways of taking demands
/// away are tried and the smallest result is told; each result is irreducible.
///
/// # Errors
/// [`TooManySteps`] if more are left to do than the search keeps books of.
pub fn conflict(setting: &Setting, budget: Budget) -> Result<Option<Conflict>, TooManySteps> {
    let worlds = all_worlds(setting);
    let starts: Vec<Start> = worlds.iter().map(start).collect();
    let mut hunt = Hunt::new(&worlds, &starts, budget);
    let all = demands(setting.job(), &starts[0]);
    let mut court = Court {
        job: setting.job(),
        start: &starts[0].bench,
        hunt: &mut hunt,
        all: all.iter().copied().collect(),
        sure: true,
    };
    if !court.clash(&court.all.clone())? {
        return Ok(None);
    }
    let mut best: Option<Conflict> = None;
    for order in orders(&all) {
        court.sure = true;
        let demands = court.reduce(order)?;
        let proven = court.sure;
        let rank = |conflict: &Conflict| (!conflict.proven, conflict.demands.len());
        let found = Conflict {
            demands,
            proven,
            refusals: Vec::new(),
        };
        if best.as_ref().is_none_or(|best| rank(&found) < rank(best)) {
            best = Some(found);
        }
    }
    if heat_was_cut(setting.job(), budget) {
        return Ok(None);
    }
    if let Some(conflict) = &mut best {
        conflict
            .demands
            .sort_by_key(|demand| sort_key(setting.job(), *demand));
        conflict.refusals = refusals(&worlds[0], &starts[0].bench, &conflict.demands);
    }
    Ok(best)
}

/// What keeps a step that nothing else stands against from being done now.
fn refusals(setting: &Setting, bench: &Bench, demands: &[Demand]) -> Vec<Refusal> {
    let [Demand::Done(at)] = demands else {
        return Vec::new();
    };
    let step = &setting.job().steps[at.0];
    let pick = picks(step).into_iter().next();
    pick.map_or_else(Vec::new, |pick| {
        pass(setting, bench, &Doing::planned(step, pick)).refusals
    })
}

/// Steps, then precedence, access, joints, limits, the rest; by ids and not by places in the file.
fn sort_key(job: &Job, demand: Demand) -> (u8, String, String) {
    let step = |at: StepIx| job.steps[at.0].id.clone();
    let joint = |at: JointIx| job.joints[at.0].id.clone();
    let part = |at: PartIx| job.parts[at.0].id.clone();
    let one = |rank: u8, id: String| (rank, id, String::new());
    match demand {
        Demand::Done(at) => one(0, step(at)),
        Demand::Before(first, then) => (1, step(first), step(then)),
        Demand::Access(at) => one(2, joint(at)),
        Demand::Keep(at) => one(3, joint(at)),
        Demand::Limit(LimitOf::Part(at) | LimitOf::Heats(at)) => one(4, part(at)),
        Demand::Limit(LimitOf::Guard(at)) => one(5, job.guards[at.0].id.clone()),
        Demand::Limit(LimitOf::Wire(at)) => one(6, job.wires[at.0].id.clone()),
        Demand::Flow(at) => one(7, step(at)),
        Demand::Heats(at) => one(8, part(at)),
        Demand::Glue(at) => one(9, part(at)),
        Demand::Checked => one(10, String::new()),
        Demand::LeadFree => one(11, String::new()),
        Demand::CadmiumFree => one(12, String::new()),
        Demand::Service => one(13, String::new()),
        Demand::Cover(at) => one(14, joint(at)),
        Demand::Tied(at) => one(15, job.wires[at.0].id.clone()),
        Demand::Made(at) => one(16, joint(at)),
        Demand::Safe(rule, of) => (17, format!("{rule:?}"), subject_id(job, of)),
    }
}

fn subject_id(job: &Job, of: Subject) -> String {
    match of {
        Subject::Step => String::new(),
        Subject::Joint(at) => job.joints[at.0].id.clone(),
        Subject::Part(at) => job.parts[at.0].id.clone(),
        Subject::Guard(at) => job.guards[at.0].id.clone(),
        Subject::Wire(at) => job.wires[at.0].id.clone(),
    }
}

/// What hazards a job may meet besides melting and limits.
fn hazards(job: &Job) -> Vec<Demand> {
    let mut all = Vec::new();
    for (j, joint) in job.joints.iter().enumerate() {
        let of = Subject::Joint(JointIx(j));
        if joint.covered || may_be_covered(job, JointIx(j)) || may_be_glued(job, JointIx(j)) {
            all.push(Demand::Safe(Rule::UnderCover, of));
        }
        if joint.covered || may_be_covered(job, JointIx(j)) {
            all.push(Demand::Cover(JointIx(j)));
        }
        let mut works = job.steps.iter().map(|step| &step.work);
        if works.any(|work| matches!(work, Work::Solder { joint, .. } if joint.0 == j)) {
            all.push(Demand::Made(JointIx(j)));
        }
        all.push(Demand::Safe(Rule::Amount, of));
        if joint.count > 1 {
            all.push(Demand::Safe(Rule::Members, of));
        }
        if joint.strained {
            all.push(Demand::Safe(Rule::WireStays, of));
        }
    }
    for (p, part) in job.parts.iter().enumerate() {
        let of = Subject::Part(PartIx(p));
        let hangs = part.hang.is_some().then_some(Rule::Hangs);
        let silent = part.dry.is_none() && part.vital;
        let moist = (part.dry == Some(false) || silent).then_some(Rule::Dry);
        all.extend(
            part.balls
                .is_some()
                .then_some(Demand::Safe(Rule::Balls, of)),
        );
        all.push(Demand::Safe(Rule::AtOnce, of));
        let unstated = (part.vital && part.limit.is_none()).then_some(Rule::LimitStated);
        let ramp = part.ramp.is_some().then_some(Rule::Ramp);
        let rules = [hangs, moist, unstated, ramp].into_iter().flatten();
        all.extend(rules.map(|rule| Demand::Safe(rule, of)));
    }
    for (w, _) in job.wires.iter().enumerate() {
        all.push(Demand::Safe(Rule::WireStays, Subject::Wire(WireIx(w))));
        all.push(Demand::Tied(WireIx(w)));
    }
    all
}

/// Whether a glued part stands on a joint at any time.
fn may_be_glued(job: &Job, joint: JointIx) -> bool {
    job.parts.iter().enumerate().any(|(p, part)| {
        let sets = |work: &Work| {
            matches!(work, Work::Place { part, on, .. } if part.0 == p && on.contains(&joint))
        };
        let stands = part.on.contains(&joint) || job.steps.iter().any(|step| sets(&step.work));
        part.adhesive != Adhesive::None && stands
    })
}

fn may_be_covered(job: &Job, joint: JointIx) -> bool {
    (0..job.guards.len()).any(|guard| lies_over(job, guard).contains(&joint))
}

/// The things of a subject.
fn subject(job: &Job, of: Subject, joint: &dyn Fn(JointIx) -> Vec<Thing>) -> Vec<Thing> {
    match of {
        Subject::Step => Vec::new(),
        Subject::Joint(at) => joint(at),
        Subject::Part(at) => vec![Thing::Part(at)],
        Subject::Guard(at) => vec![Thing::Guard(at)],
        Subject::Wire(at) => {
            let wire = &job.wires[at.0];
            [wire.from, wire.to].into_iter().flat_map(joint).collect()
        }
    }
}

/// Everything that a job demands, in a fixed order.
pub fn demands(job: &Job, start: &Start) -> Vec<Demand> {
    let left = |step: &StepIx| !start.done.contains(step);
    let steps: Vec<StepIx> = (0..job.steps.len()).map(StepIx).filter(left).collect();
    let mut all: Vec<Demand> = Vec::new();
    for &at in &steps {
        let step = &job.steps[at.0];
        if !step.optional {
            all.push(Demand::Done(at));
        }
        let before = step.after.iter().map(|(before, _)| *before);
        all.extend(before.filter(left).map(|before| Demand::Before(before, at)));
        if !matches!(
            step.work,
            Work::Gate { .. }
                | Work::Power
                | Work::Cover { .. }
                | Work::Uncover { .. }
                | Work::Move { .. }
        ) {
            all.push(Demand::Flow(at));
        }
        if step.work == Work::Power {
            all.push(Demand::Checked);
        }
        all.extend(step.closes.iter().map(|joint| Demand::Access(*joint)));
    }
    for (j, joint) in job.joints.iter().enumerate() {
        if joint.must != Must::MayMelt {
            all.push(Demand::Keep(JointIx(j)));
        }
        if start.bench.joints[j].closed {
            all.push(Demand::Access(JointIx(j)));
        }
    }
    for (p, part) in job.parts.iter().enumerate() {
        let at = PartIx(p);
        all.extend(part.limit.map(|_| Demand::Limit(LimitOf::Part(at))));
        all.extend(part.heats_left.map(|_| Demand::Heats(at)));
        all.push(Demand::Glue(at));
    }
    let guards = (0..job.guards.len()).map(|g| Demand::Limit(LimitOf::Guard(GuardIx(g))));
    all.extend(guards);
    for (w, wire) in job.wires.iter().enumerate() {
        let limit = Demand::Limit(LimitOf::Wire(WireIx(w)));
        all.extend(wire.enamel_limit.map(|_| limit));
    }
    all.extend(hazards(job));
    all.extend([Demand::LeadFree, Demand::CadmiumFree, Demand::Service]);
    all.sort_by_key(|demand| sort_key(job, *demand));
    all.dedup();
    all
}

/// Orders in which demands are taken away: steps first, since fewer steps are searched faster, from
/// either end.
fn orders(all: &[Demand]) -> [Vec<Demand>; 2] {
    let (steps, rest): (Vec<Demand>, Vec<Demand>) = all
        .iter()
        .partition(|demand| matches!(demand, Demand::Done(_)));
    let backwards = steps.iter().rev().chain(&rest).copied().collect();
    [[steps, rest].concat(), backwards]
}

/// Who says whether demands clash.
struct Court<'c, 'a> {
    job: &'c Job,
    start: &'c Bench,
    hunt: &'c mut Hunt<'a>,
    all: BTreeSet<Demand>,
    sure: bool,
}

impl Court<'_, '_> {
    /// Whether no plan keeps these demands. Where the search is cut off they are said not to, so
    /// that nothing is left out of a conflict unproven.
    fn clash(&mut self, kept: &BTreeSet<Demand>) -> Result<bool, TooManySteps> {
        let terms = Terms {
            dropped: self.all.difference(kept).copied().collect(),
            gone: unrelated(self.job, self.start, kept),
            ..Terms::default()
        };
        Ok(match self.hunt.any(&terms)? {
            Any::Plan(..) => false,
            Any::Nothing => true,
            Any::CutOff => {
                self.sure = false;
                false
            }
        })
    }

    /// Takes demands away, many at once where that leaves a clash, until each is needed.
    fn reduce(&mut self, order: Vec<Demand>) -> Result<Vec<Demand>, TooManySteps> {
        let mut kept: BTreeSet<Demand> = order.iter().copied().collect();
        let mut open = order;
        let mut size = open.len().div_ceil(2);
        while !open.is_empty() {
            let mut needed = Vec::new();
            for chunk in open.chunks(size) {
                let chunk: BTreeSet<Demand> = chunk.iter().copied().collect();
                let fewer = kept.difference(&chunk).copied().collect();
                if self.clash(&fewer)? {
                    kept = fewer;
                } else {
                    needed.extend(chunk);
                }
            }
            if size == 1 {
                break;
            }
            open.retain(|demand| needed.contains(demand));
            size = size.div_ceil(2).min(open.len().max(1));
        }
        Ok(kept.into_iter().collect())
    }
}

/// Steps that are not demanded and cannot help: they touch nothing that a demanded step touches,
/// directly or through other steps, and nothing whose state a demand hangs on. (A joint that is
/// cleaned away can no longer melt, so its cleaning may help.)
fn unrelated(job: &Job, start: &Bench, kept: &BTreeSet<Demand>) -> BTreeSet<StepIx> {
    // Whether a part gets too hot to be moist, or hot too fast, hangs on when its joints flow, which any heat may
    // change; so does whether layers flow as they are: another heat may have made one alloy of them.
    let hangs_on_heat = |demand: &Demand| match demand {
        Demand::Safe(Rule::Dry | Rule::Ramp, _) => true,
        Demand::Flow(step) => flows_as_it_is(&job.steps[step.0].work),
        _ => false,
    };
    if kept.iter().any(hangs_on_heat) {
        return BTreeSet::new();
    }
    let things: Vec<Vec<Thing>> = (0..job.steps.len()).map(|s| touches(job, s)).collect();
    let mut related: BTreeSet<StepIx> = kept
        .iter()
        .filter_map(|demand| match demand {
            Demand::Done(step) => Some(*step),
            _ => None,
        })
        .collect();
    let mut touched: BTreeSet<Thing> = BTreeSet::new();
    loop {
        let before = (related.len(), touched.len());
        let worked_on = related.iter().flat_map(|step| &things[step.0]);
        touched.extend(worked_on.copied());
        for demand in kept {
            touched.extend(hangs_on(job, start, *demand, &touched));
        }
        let steps = (0..job.steps.len()).map(StepIx);
        related.extend(steps.filter(|s| things[s.0].iter().any(|thing| touched.contains(thing))));
        if (related.len(), touched.len()) == before {
            break;
        }
    }
    let steps = (0..job.steps.len()).map(StepIx);
    steps.filter(|step| !related.contains(step)).collect()
}

/// Whether a step melts what other steps have put there.
const fn flows_as_it_is(work: &Work) -> bool {
    matches!(
        work,
        Work::Clean { .. } | Work::Remove { .. } | Work::OtherHeat { .. }
    )
}

/// What a demand hangs on, if it can be broken at all by steps that touch certain things: what is
/// not there and is not made by them cannot be harmed.
fn hangs_on(job: &Job, start: &Bench, demand: Demand, touched: &BTreeSet<Thing>) -> Vec<Thing> {
    let stands = |at: JointIx| {
        start.joints[at.0].standing || belonging(job, at).iter().any(|t| touched.contains(t))
    };
    let joint = |at: JointIx| {
        if stands(at) {
            belonging(job, at)
        } else {
            Vec::new()
        }
    };
    match demand {
        Demand::Keep(at) | Demand::Access(at) | Demand::Cover(at) => joint(at),
        Demand::Limit(LimitOf::Part(at) | LimitOf::Heats(at))
        | Demand::Heats(at)
        | Demand::Safe(_, Subject::Part(at))
        | Demand::Glue(at) => {
            // Its body is as hot as the joints below it, whatever else stands on them. A part that stands nowhere
            // may lie about, and see heat all the same.
            let below = start.parts[at.0].on.iter();
            let below = below.map(|joint| Thing::Joint(*joint));
            std::iter::once(Thing::Part(at)).chain(below).collect()
        }
        Demand::Safe(_, of) => subject(job, of, &joint),
        Demand::Limit(LimitOf::Guard(at)) => {
            let there = start.guards[at.0].exists || touched.contains(&Thing::Guard(at));
            let over = lies_over(job, at.0).into_iter().filter(|_| there);
            // It may be taken off, whatever lies below it.
            let own = Some(Thing::Guard(at)).filter(|_| there);
            over.flat_map(joint).chain(own).collect()
        }
        Demand::Limit(LimitOf::Wire(at)) => {
            let wire = &job.wires[at.0];
            [wire.from, wire.to].into_iter().flat_map(joint).collect()
        }
        Demand::LeadFree | Demand::CadmiumFree | Demand::Service => {
            let all = (0..job.joints.len()).map(JointIx);
            let with_metal = all.filter(|at| !start.joints[at.0].layers.is_empty());
            with_metal.flat_map(|at| belonging(job, at)).collect()
        }
        Demand::Done(_)
        | Demand::Before(..)
        | Demand::Flow(_)
        | Demand::Checked
        | Demand::Made(_)
        | Demand::Tied(_) => Vec::new(),
    }
}
