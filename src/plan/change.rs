//! Changes to a job that may open one that has no plan.

use crate::bench::Pick;
use crate::job::{
    Choice, Coupling, Job, JointIx, PartIx, Solder, Step, StepIx, Tool, Way, Where, Work,
};
use crate::policy;
use crate::quantity::{Celsius, KelvinStep};

/// One thing done otherwise.
#[derive(Clone, Debug, PartialEq)]
pub enum Change {
    /// The board is preheated less in a step.
    Preheat {
        /// Which step.
        step: StepIx,
        /// To this.
        to: Celsius,
    },
    /// Another alloy in a step; its peak follows.
    Alloy {
        /// Which step.
        step: StepIx,
        /// Which alloy.
        solder: Solder,
        /// It is on the shelf; otherwise it must be bought.
        in_stock: bool,
    },
    /// Less of a step's heat arrives somewhere: distance or a shield.
    Coupling {
        /// Which step.
        step: StepIx,
        /// Where.
        place: Where,
        /// At most this share of the rise.
        at_most: Coupling,
    },
    /// A step is done with a local tool on a cold board.
    LocalTool {
        /// Which step.
        step: StepIx,
        /// With what.
        tool: Tool,
        /// Where little may arrive.
        place: Where,
        /// At most this share of the rise.
        at_most: Coupling,
    },
    /// Pads are flooded and wicked before a step.
    Clean {
        /// Which pads.
        joint: JointIx,
        /// Before which step.
        before: StepIx,
        /// With which fresh solder.
        flood: Solder,
        /// How often.
        rounds: u32,
    },
    /// A part comes off for a step, and is set back after it.
    PartOff {
        /// Which part.
        part: PartIx,
        /// Its joints.
        on: JointIx,
        /// During which step.
        during: StepIx,
    },
    /// A step leaves the way to a joint open.
    KeepOpen {
        /// Which step.
        step: StepIx,
        /// Which joint.
        joint: JointIx,
    },
    /// A precedence is given up.
    Free {
        /// What had to come first.
        first: StepIx,
        /// What had to come later.
        then: StepIx,
    },
    /// A part may take more heats.
    MoreHeats {
        /// Which part.
        part: PartIx,
        /// How many in all.
        heats: u32,
    },
    /// Joints keep less margin.
    Margin(KelvinStep),
    /// A step is not done.
    LeaveOut(StepIx),
}

impl Change {
    /// What it costs, by our judgement: a setting, a tool or shield, work or money, a risk, a wish
    /// given up.
    pub const fn cost(&self) -> u8 {
        match self {
            Change::Preheat { .. } | Change::Alloy { in_stock: true, .. } => 1,
            Change::Coupling { .. } | Change::LocalTool { .. } => 2,
            Change::Clean { .. }
            | Change::Alloy { .. }
            | Change::Free { .. }
            | Change::KeepOpen { .. } => 3,
            Change::PartOff { .. } | Change::MoreHeats { .. } | Change::Margin(_) => 4,
            Change::LeaveOut(_) => 5,
        }
    }

    /// The job with this change; `None` where it cannot be made. Leaving a step out moves the
    /// positions of those behind it, so it is to be the last change.
    pub fn made_in(&self, job: &Job) -> Option<Job> {
        let mut job = job.clone();
        match self {
            Change::Preheat { step, to } => {
                for way in &mut job.steps[step.0].ways {
                    way.preheat = way.preheat.min(*to);
                }
            }
            Change::Alloy { step, solder, .. } => {
                exchange_alloy(&mut job, *step, Choice::Fixed(solder.clone()));
            }
            Change::Coupling {
                step,
                place,
                at_most,
            } => {
                for way in &mut job.steps[step.0].ways {
                    couple(way, *place, *at_most);
                }
            }
            Change::LocalTool {
                step,
                tool,
                place,
                at_most,
            } => {
                let ambient = job.ambient;
                for way in &mut job.steps[step.0].ways {
                    way.tool = *tool;
                    way.preheat = ambient;
                    couple(way, *place, *at_most);
                }
            }
            Change::Clean {
                joint,
                before,
                flood,
                rounds,
            } => clean_before(&mut job, *joint, *before, flood, *rounds)?,
            Change::PartOff { part, on, during } => part_off(&mut job, *part, *on, *during)?,
            Change::KeepOpen { step, joint } => {
                job.steps[step.0].closes.retain(|closed| closed != joint);
            }
            Change::Free { first, then } => {
                job.steps[then.0]
                    .after
                    .retain(|(before, _)| before != first);
            }
            Change::MoreHeats { part, heats } => job.parts[part.0].heats_left = Some(*heats),
            Change::Margin(margin) => job.want.margin = *margin,
            Change::LeaveOut(step) => leave_out(&mut job, *step),
        }
        Some(job)
    }
}

/// Takes a step out; what had to wait for it waits for what it waited for.
fn leave_out(job: &mut Job, gone: StepIx) {
    let inherited = job.steps.remove(gone.0).after;
    for step in &mut job.steps {
        let waited = step.after.iter().any(|(before, _)| *before == gone);
        step.after.retain(|(before, _)| *before != gone);
        if waited {
            step.after.extend(inherited.iter().cloned());
        }
        for (before, _) in &mut step.after {
            if before.0 > gone.0 {
                before.0 -= 1;
            }
        }
    }
}

/// Another choice of alloy for a step; a stated peak was for the old one.
pub fn exchange_alloy(job: &mut Job, step: StepIx, with: Choice<Solder>) {
    let step = &mut job.steps[step.0];
    match solder_choice_mut(&mut step.work) {
        Some(choice) => *choice = with,
        None => return,
    }
    for way in &mut step.ways {
        way.peak = None;
    }
    if let Work::Reball { part, .. } = step.work {
        // Its balls are melted again where it is set down.
        for other in &mut job.steps {
            if matches!(other.work, Work::Place { part: set, .. } if set == part) {
                for way in &mut other.ways {
                    way.peak = None;
                }
            }
        }
    }
}

/// The job in which a step is not done in one of its ways: the way that is taken where there are
/// several, else the alloy, else the rounds. `None` where nothing else is left.
pub fn without_choice(job: &Job, at: StepIx, taken: Pick) -> Option<Job> {
    let mut job = job.clone();
    let step = &mut job.steps[at.0];
    if let Some(choice) = solder_choice_mut(&mut step.work)
        && let Choice::OneOf(many) = choice
        && many.len() > 1
    {
        many.remove(taken.solder);
    } else if step.ways.len() > 1 {
        step.ways.remove(taken.way);
    } else if let Work::Clean {
        rounds: Choice::OneOf(many),
        ..
    } = &mut step.work
        && many.len() > 1
    {
        many.remove(taken.rounds);
    } else {
        return None;
    }
    Some(job)
}

fn solder_choice_mut(work: &mut Work) -> Option<&mut Choice<Solder>> {
    match work {
        Work::Solder { solder, .. }
        | Work::Reball { solder, .. }
        | Work::Place {
            paste: Some((solder, _)),
            ..
        }
        | Work::Remove {
            flood: Some((solder, _)),
            ..
        } => Some(solder),
        _ => None,
    }
}

/// Makes an optional step one with an empty choice: it can never be done, and positions stay.
pub fn never_done(job: &mut Job, at: StepIx) {
    let step = &mut job.steps[at.0];
    step.optional = true;
    step.work = Work::Clean {
        joint: None,
        part: None,
        rounds: Choice::OneOf(Vec::new()),
        flood: None,
        film: None,
    };
}

/// Less heat at a place; a stated temperature there no longer holds.
fn couple(way: &mut Way, place: Where, at_most: Coupling) {
    way.sees.retain(|(stated, _)| *stated != place);
    let found = way
        .couplings
        .iter_mut()
        .find(|(stated, _)| *stated == place);
    match found {
        Some((_, k)) if *k > at_most => *k = at_most,
        Some(_) => {}
        None => way.couplings.insert(0, (place, at_most)),
    }
}

fn clean_before(
    job: &mut Job,
    joint: JointIx,
    before: StepIx,
    flood: &Solder,
    rounds: u32,
) -> Option<()> {
    let like = job.steps[before.0].ways.first()?;
    let way = Way {
        couplings: like.couplings.clone(),
        ..Way::with(Tool::Iron, job.ambient)
    };
    let clean = added(
        job,
        format!("{}~clean", job.joints[joint.0].id),
        Work::Clean {
            joint: Some(joint),
            part: None,
            rounds: Choice::Fixed(rounds),
            flood: Some((flood.clone(), policy::FLOOD_MASS)),
            film: None,
        },
        vec![way],
        Vec::new(),
    );
    job.steps[before.0].after.push((clean, None));
    Some(())
}

fn part_off(job: &mut Job, part: PartIx, on: JointIx, during: StepIx) -> Option<()> {
    let sets = |step: &Step| matches!(step.work, Work::Place { part: set, .. } if set == part);
    let takes = |step: &Step| matches!(step.work, Work::Remove { part: off, .. } if off == part);
    let set = job.steps.iter().position(sets);
    let taken = job.steps.iter().position(takes);
    let like = set.or(taken)?;
    let ways = job.steps[taken.unwrap_or(like)].ways.clone();
    let back_ways = job.steps[set.unwrap_or(like)].ways.clone();
    let id = job.parts[part.0].id.clone();
    let first = set.map(|set| (StepIx(set), None)).into_iter().collect();
    let off = Work::Remove { part, flood: None };
    let off = added(job, format!("{id}~off"), off, ways, first);
    job.steps[during.0].after.push((off, None));
    let back = Work::Place {
        part,
        on: vec![on],
        paste: None,
    };
    let last = vec![(off, None), (during, None)];
    added(job, format!("{id}~back"), back, back_ways, last);
    Some(())
}

/// Adds a step that nobody wrote, last.
pub fn added(
    job: &mut Job,
    id: String,
    work: Work,
    ways: Vec<Way>,
    after: Vec<(StepIx, Option<String>)>,
) -> StepIx {
    let at = StepIx(job.steps.len());
    job.steps.push(Step {
        id,
        work,
        ways,
        after,
        closes: Vec::new(),
        optional: false,
        minutes: None,
        line: 0,
    });
    at
}
