//! When phases are looked for anew, and what is gone back for.

use super::path::Path;
use super::solver::{LIQUID, Node, State};

/// A phase this far below was missed on the way.
const MISSED: f64 = -1e-6;
/// Phases are looked for anew after so many kelvins, in K.
const EVERY_K: f64 = 60.0;
/// Or when at a change the liquid (ln x) is no longer what it was.
const DRIFT: f64 = 0.5;
/// Or anywhere once it is something else.
const FAR_DRIFT: f64 = 2.5;

/// Where phases were last looked for from all starts: what turns up later than it should is gone
/// back for.
pub(super) struct Mark {
    pub(super) state: State,
    pub(super) stretches: usize,
    pub(super) changes: usize,
    pub(super) first: Option<State>,
    /// Look again after so many kelvins.
    pub(super) every_k: f64,
}

pub(super) enum Missed {
    Found(State),
    TooLate,
}

impl Mark {
    pub(super) fn of(path: &Path, first: Option<&State>, state: &State) -> Self {
        Mark {
            state: state.clone(),
            stretches: path.stretches.len(),
            changes: path.changes.len(),
            first: first.cloned(),
            every_k: EVERY_K,
        }
    }

    /// Whether so much has changed since that phases should be looked for anew.
    pub(super) fn due(&self, state: &State, changed: bool) -> bool {
        let fallen_k = self.state.t_k - state.t_k;
        let drift = drift(&self.state, state);
        fallen_k > self.every_k
            || drift > FAR_DRIFT
            || changed && (fallen_k > 0.2 * self.every_k || drift > DRIFT)
    }

    /// Whether phases were last looked for at this very place.
    pub(super) fn is_here(&self, state: &State) -> bool {
        (self.state.t_k - state.t_k).abs() < 1e-9 && drift(&self.state, state) < 1e-9
    }

    /// A phase that lies far below the plane was there before it was looked for: the mark again, with
    /// that phase to be watched, and looking more often.
    pub(super) fn missed(&mut self, state: &State) -> Option<Missed> {
        let late: Vec<&Node> = (state.idle.iter())
            .filter(|node| node.above < MISSED)
            .collect();
        if late.is_empty() {
            return None;
        }
        self.every_k *= 0.25;
        if self.every_k < 0.1 {
            return Some(Missed::TooLate);
        }
        let mut back = self.state.clone();
        back.idle.extend(late.into_iter().cloned());
        Some(Missed::Found(back))
    }
}

/// The largest change of ln x in the liquid, traces left out.
fn drift(from: &State, to: &State) -> f64 {
    let liquid = |state: &State| {
        (state.active.iter())
            .find(|node| node.phase == LIQUID)
            .map(|node| node.x)
    };
    let (Some(from), Some(to)) = (liquid(from), liquid(to)) else {
        return f64::INFINITY;
    };
    (from.iter().zip(&to))
        .filter(|(from, to)| from.max(**to) > 1e-3)
        .map(|(from, to)| (from / to).ln().abs())
        .fold(0.0, f64::max)
}
