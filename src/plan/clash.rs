//! Why there is no plan: a set of demands that cannot hold together, each of them needed for that.

use std::collections::BTreeSet;

use crate::bench::{LimitOf, Setting};
use crate::job::{GuardIx, Job, JointIx, Must, PartIx, StepIx, WireIx, Work};

use super::answer::{Budget, TooManySteps};
use super::demands::{Demand, Terms};
use super::history::{Start, start};
use super::hunt::{Any, Hunt};
use super::order::all_worlds;
use super::touch::{Thing, touches};

/// Demands that no plan keeps together.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Conflict {
    /// In the order steps, precedence, access, joints, limits, the rest.
    pub demands: Vec<Demand>,
    /// Proven: without any one of them there is a plan that keeps the others. Not proven where a
    /// search was cut off.
    pub proven: bool,
}

/// A smallest conflict of a job that has no plan; `None` where it has one, or where that is not
/// known within the budget.
///
/// A step that is not demanded may be left out; where it touches nothing that a demanded step
/// touches, it is left out, since its heat could only take margin. Several ways of taking demands
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
        hunt: &mut hunt,
        all: all.iter().copied().collect(),
        sure: true,
    };
    if !court.clash(&court.all.clone())? {
        return Ok(None);
    }
    let mut best: Option<Vec<Demand>> = None;
    for order in orders(&all) {
        let kept = court.reduce(order)?;
        if best.as_ref().is_none_or(|best| kept.len() < best.len()) {
            best = Some(kept);
        }
    }
    let proven = court.sure;
    Ok(best.map(|mut demands| {
        demands.sort_by_key(|demand| sort_key(setting.job(), *demand));
        Conflict { demands, proven }
    }))
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
            Work::Gate { .. } | Work::Power | Work::Cover { .. } | Work::Move { .. }
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
    all.extend([Demand::LeadFree, Demand::CadmiumFree, Demand::Service]);
    all.sort_by_key(|demand| sort_key(job, *demand));
    all.dedup();
    all
}

/// Orders in which demands are taken away: the first ones tried are the least wanted in the answer.
fn orders(all: &[Demand]) -> Vec<Vec<Demand>> {
    let by = |rank: fn(&Demand) -> u8| {
        let mut order = all.to_vec();
        order.sort_by_key(rank);
        order
    };
    let is_step = |d: &Demand| u8::from(!matches!(d, Demand::Done(_)));
    let is_joint = |d: &Demand| match d {
        Demand::Flow(_) | Demand::Glue(_) => 0,
        Demand::Limit(_) | Demand::Heats(_) => 1,
        Demand::Keep(_) => 2,
        Demand::Before(..) => 3,
        Demand::Access(_) => 4,
        _ => 5,
    };
    let mut backwards = by(is_step);
    let steps = backwards.iter().filter(|d| is_step(d) == 0).count();
    backwards[..steps].reverse();
    vec![by(is_step), backwards, by(is_joint)]
}

/// Who says whether demands clash.
struct Court<'c, 'a> {
    job: &'c Job,
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
            gone: unrelated(self.job, kept),
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

/// Steps that are not demanded and touch nothing that a demanded step touches, directly or through
/// other steps.
fn unrelated(job: &Job, kept: &BTreeSet<Demand>) -> BTreeSet<StepIx> {
    let mut related: BTreeSet<StepIx> = kept
        .iter()
        .filter_map(|demand| match demand {
            Demand::Done(step) => Some(*step),
            _ => None,
        })
        .collect();
    let things: Vec<Vec<Thing>> = (0..job.steps.len()).map(|s| touches(job, s)).collect();
    loop {
        let touched: BTreeSet<Thing> = related
            .iter()
            .flat_map(|step| things[step.0].iter().copied())
            .collect();
        let more: Vec<StepIx> = (0..job.steps.len())
            .map(StepIx)
            .filter(|step| !related.contains(step))
            .filter(|step| things[step.0].iter().any(|thing| touched.contains(thing)))
            .collect();
        if more.is_empty() {
            break;
        }
        related.extend(more);
    }
    (0..job.steps.len())
        .map(StepIx)
        .filter(|step| !related.contains(step))
        .collect()
}
