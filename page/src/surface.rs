//! What a page has instead of a computer: a clock, and somebody to tell how far a long answer is.

use std::time::Duration;

use meltstair::plan::{Budget, Progress, Pulse};

/// Clock and voice of the page.
#[derive(Clone, Copy, Debug)]
pub struct Surface {
    /// Time since whenever.
    pub clock: fn() -> Duration,
    /// Hears how far a long answer is.
    pub tell: fn(&str),
}

/// So long a search may take (as on the command line: who waits at a bench waits a minute).
const MOST: Duration = Duration::from_secs(60);
/// So long equal orders are compared once the margin is proven (the same).
const TIES: Duration = Duration::from_secs(2);
/// How often word is given.
const TELL_EVERY: Duration = Duration::from_secs(1);

/// What ends a search in time.
#[derive(Debug)]
pub struct Watch {
    surface: Surface,
    pulse: &'static Pulse,
    begun: Duration,
    told: Duration,
    ties: Option<Duration>,
}

impl Surface {
    /// Begins to look at the clock.
    pub fn watch(self) -> Watch {
        let now = (self.clock)();
        // One search's for good, as on the command line; a page gives some hundred answers.
        let pulse: &'static Pulse = Box::leak(Box::default());
        pulse.ends_at(self.clock, now + MOST);
        Watch {
            surface: self,
            pulse,
            begun: now,
            told: now,
            ties: None,
        }
    }
}

impl Watch {
    /// The budget of the search.
    pub fn budget(&self) -> Budget {
        Budget {
            pulse: Some(self.pulse),
            ..Budget::default()
        }
    }

    /// Asked by the search now and then.
    pub fn goes_on(&mut self, progress: &Progress) -> bool {
        let now = (self.surface.clock)();
        if now.saturating_sub(self.told) >= TELL_EVERY {
            self.told = now;
            let seconds = now.saturating_sub(self.begun).as_secs();
            (self.surface.tell)(&format!(
                "{seconds} s, {} benches looked at",
                progress.visited
            ));
        }
        if !progress.ties {
            self.ties = None;
            return true;
        }
        now.saturating_sub(*self.ties.get_or_insert(now)) < TIES
    }
}
