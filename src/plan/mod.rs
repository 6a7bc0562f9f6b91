//! Plans: folds and searches over the one transition.
//!
//! [`check`] folds it over an order, [`order`] finds the best order and choices; nothing here
//! decides whether a joint melts.

mod answer;
mod cells;
mod chain;
mod change;
mod check;
mod clash;
mod commute;
mod compare;
mod demands;
mod done;
mod find_out;
mod first;
mod history;
mod hunt;
mod learning;
mod not_assessed;
mod open;
mod order;
mod pick;
mod replan;
mod roads;
mod search;
mod sorted;
mod staged;
mod step_heat;
#[cfg(test)]
mod tables;
mod task;
mod taught;
mod ties;
mod touch;
mod twins;
mod walk;
mod whole;
mod why;
mod written;

pub use answer::{Answer, Budget, Chosen, Plan, Progress, Pulse, TooManySteps, Worth};
pub use chain::{Chain, Chains, chains};
pub use change::Change;
pub use check::{
    Checked, CheckedStep, Ledger, Place, Planned, Tightest, Told, check, margins, worlds,
};
pub use clash::{Conflict, conflict, demands};
pub use compare::{Narrow, Route, Time, Vital, best_route, route, usual_minutes};
pub use demands::{Demand, Fault, Terms, end_faults, faults};
pub use find_out::{Branch, FindOut, Shows, Test, find_out};
pub use history::{Start, history, last_done, start, unsaid_alloys, whole_plan};
pub use learning::{Learning, Learnt, NotLearned, Read, Silent, learn_all};
pub use not_assessed::NotAssessed;
pub use open::{Opening, openings};
pub use order::{order, order_all};
pub use pick::{Ask, Candidate, CannotPick, Offer, Picked, Why, pick_joint, pick_over};
pub use replan::{names_nothing, repaired};
pub use sorted::{natural, sorted};
pub use staged::{Above, Staged, StagedPlace, staged};
pub use step_heat::{Lowest, NoField, PlaceHeat, StepHeat, TargetHeat, Vary, lowest, step_heat};
pub use whole::{POWER_CHECK, logged, whole};
pub use why::{How, Other, Outcome, WhyThere, why};
pub use written::{Written, as_written};
