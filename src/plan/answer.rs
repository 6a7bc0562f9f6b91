//! What a search may say. Each answer says how much it is worth, so that a search that was cut off
//! cannot be taken for one that was finished.

use crate::bench::Pick;
use crate::job::StepIx;
use crate::quantity::{Celsius, KelvinStep};

/// A step of the job that is still to be done, with the choices taken.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Chosen {
    /// Which step of the job.
    pub step: StepIx,
    /// The choices.
    pub pick: Pick,
}

/// Steps in the order in which they are to be done.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Plan {
    /// What is to be done, first to last; steps already done are not in it.
    pub steps: Vec<Chosen>,
    /// Optional steps that are not done at all.
    pub left_out: Vec<StepIx>,
}

/// What a plan is worth, most important first.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Worth {
    /// The tightest margin of a joint or limit; `None` where nothing is ever at risk.
    pub margin: Option<KelvinStep>,
    /// Heats on vital parts, all together.
    pub vital_heats: u32,
    /// Hottest that a vital part gets in one of them.
    pub vital_peak: Option<Celsius>,
    /// Changes of tool, and of alloy, from one step to the next that needs one.
    pub changes: u32,
    /// Steps done.
    pub steps: u32,
}

impl Worth {
    /// Better plans come first: wider margin, then fewer vital heats, lower vital peak, fewer
    /// changes, fewer steps.
    pub fn compare(&self, other: &Worth) -> std::cmp::Ordering {
        margin_key(other.margin)
            .cmp(&margin_key(self.margin))
            .then(self.rest().cmp(&other.rest()))
    }

    fn rest(&self) -> (u32, Option<Celsius>, u32, u32) {
        (self.vital_heats, self.vital_peak, self.changes, self.steps)
    }
}

/// Nothing at risk is wider than any margin.
fn margin_key(margin: Option<KelvinStep>) -> (bool, Option<KelvinStep>) {
    (margin.is_none(), margin)
}

/// The answer of a search.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Answer {
    /// Nothing better exists.
    Proven {
        /// The best plan.
        plan: Plan,
        /// What it is worth.
        worth: Worth,
        /// Benches looked at.
        visited: u64,
    },
    /// The search was cut off: this is the best found.
    Unproven {
        /// The best plan found.
        plan: Plan,
        /// What it is worth.
        worth: Worth,
        /// No plan has a wider margin than this; `None`: no bound but that nothing is at risk.
        bound: Option<KelvinStep>,
        /// Benches looked at.
        visited: u64,
    },
    /// The search was finished: no plan keeps all demands, whatever the unknown things are.
    Impossible {
        /// Benches looked at.
        visited: u64,
    },
    /// No plan is known to hold, and only because something is not known: one that breaks no
    /// demand as far as anything is known.
    Undecided {
        /// A plan in which nothing known is broken.
        plan: Plan,
        /// Benches looked at.
        visited: u64,
    },
    /// The search was cut off before any plan was found: says nothing about whether one exists.
    Unknown {
        /// Benches looked at.
        visited: u64,
    },
}

impl Answer {
    /// A plan that holds, if there is one.
    pub fn plan(&self) -> Option<(&Plan, &Worth)> {
        match self {
            Answer::Proven { plan, worth, .. } | Answer::Unproven { plan, worth, .. } => {
                Some((plan, worth))
            }
            Answer::Impossible { .. } | Answer::Undecided { .. } | Answer::Unknown { .. } => None,
        }
    }

    /// Benches looked at.
    pub const fn visited(&self) -> u64 {
        match self {
            Answer::Proven { visited, .. }
            | Answer::Unproven { visited, .. }
            | Answer::Impossible { visited }
            | Answer::Undecided { visited, .. }
            | Answer::Unknown { visited } => *visited,
        }
    }
}

/// How much a search may look at.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Budget {
    /// Benches, each with its set of done steps.
    pub nodes: usize,
}

impl Default for Budget {
    /// Two million: about a minute and 2 GB at the very worst (our judgement).
    fn default() -> Self {
        Budget { nodes: 2_000_000 }
    }
}

/// How far a search is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Progress {
    /// Benches looked at.
    pub visited: u64,
    /// No plan has a wider margin than this, as far as proven; `None`: no bound yet.
    pub bound: Option<KelvinStep>,
}

/// More steps than the search keeps books of.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{found} steps are left to do, the planner keeps books of {most} at most: split the job")]
pub struct TooManySteps {
    /// How many there are.
    pub found: usize,
    /// How many there may be.
    pub most: usize,
}
