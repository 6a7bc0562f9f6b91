//! What a search may say. Each answer says how much it is worth, so that a search that was cut off
//! cannot be taken for one that was finished.

use std::sync::OnceLock;
use std::sync::atomic::{AtomicBool, AtomicI64, AtomicU64, Ordering};
use std::time::Duration;

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
    /// Who may call it off meanwhile, and hears how far it is.
    pub pulse: Option<&'static Pulse>,
    /// Look at every order, also of steps that commute: what tests compare with.
    pub all_orders: bool,
}

impl Default for Budget {
    /// Two million benches, and nobody calls it off (our judgement).
    fn default() -> Self {
        Budget {
            nodes: 2_000_000,
            pulse: None,
            all_orders: false,
        }
    }
}

impl Budget {
    /// So many benches, and nobody calls it off.
    pub const fn of(nodes: usize) -> Self {
        Budget {
            nodes,
            pulse: None,
            all_orders: false,
        }
    }

    /// The same with other benches.
    pub const fn with_nodes(self, nodes: usize) -> Self {
        Budget { nodes, ..self }
    }

    /// Whether it was called off.
    pub fn is_over(&self) -> bool {
        self.pulse.is_some_and(Pulse::is_over)
    }

    /// Benches more were looked at.
    pub(super) fn looked_at(&self, benches: u64) {
        if let Some(pulse) = self.pulse {
            pulse.benches.fetch_add(benches, Ordering::Relaxed);
        }
    }
}

/// Between a search and whoever waits for it, on another thread.
#[derive(Debug, Default)]
pub struct Pulse {
    over: AtomicBool,
    finished: AtomicBool,
    benches: AtomicU64,
    /// In mK; nought: none yet.
    bound: AtomicI64,
    ties: AtomicBool,
    /// Where no other thread looks at the clock: the clock, and until when.
    until: OnceLock<(fn() -> Duration, Duration)>,
}

impl Pulse {
    /// Calls itself off once that clock says so, where no thread can; the first time that is said counts.
    pub fn ends_at(&self, clock: fn() -> Duration, until: Duration) {
        let _ = self.until.set((clock, until));
    }

    /// Calls everything off.
    pub fn call_off(&self) {
        self.over.store(true, Ordering::Relaxed);
    }

    /// Set once everything is called off.
    pub fn stop(&self) -> &AtomicBool {
        &self.over
    }

    /// Whether it was called off.
    pub fn is_over(&self) -> bool {
        if let Some((clock, until)) = self.until.get()
            && clock() >= *until
        {
            self.call_off();
        }
        self.over.load(Ordering::Relaxed)
    }

    /// Says that the answer is there.
    pub fn finish(&self) {
        self.finished.store(true, Ordering::Relaxed);
    }

    /// Whether the answer is there.
    pub fn is_finished(&self) -> bool {
        self.finished.load(Ordering::Relaxed)
    }

    /// Notes how far a search is.
    pub fn note(&self, progress: &Progress) {
        let bound = progress.bound.map_or(0, |bound| bound.millikelvin().into());
        self.bound.store(bound, Ordering::Relaxed);
        self.ties.store(progress.ties, Ordering::Relaxed);
    }

    /// Benches looked at so far in all searches, the bound of the last, and whether it is proven.
    pub fn told(&self) -> (u64, Option<KelvinStep>, bool) {
        let bound = self.bound.load(Ordering::Relaxed);
        let bound = i32::try_from(bound).ok().filter(|bound| *bound != 0);
        (
            self.benches.load(Ordering::Relaxed),
            bound.map(KelvinStep::from_millikelvin),
            self.ties.load(Ordering::Relaxed),
        )
    }
}

impl PartialEq for Pulse {
    fn eq(&self, other: &Self) -> bool {
        std::ptr::eq(self, other)
    }
}

impl Eq for Pulse {}

/// How far a search is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Progress {
    /// Benches looked at.
    pub visited: u64,
    /// No plan has a wider margin than this, as far as proven; `None`: no bound yet.
    pub bound: Option<KelvinStep>,
    /// A plan with that margin is known: only equal ones are still compared.
    pub ties: bool,
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
