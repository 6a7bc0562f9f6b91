//! The bench, and the one transition that a step makes on it.
//!
//! [`pass`] takes a [`Bench`] and a step and returns the next bench together with what every
//! standing joint and everything with a limit goes through. Checking, ordering, picking,
//! re-planning and comparing are folds and searches over it; nothing else decides what melts.

mod bodies;
mod computed;
mod copper;
mod doing;
pub mod electric;
mod exposure;
mod facts;
mod finding;
mod hazards;
mod in_hand;
mod judge;
mod metal;
mod notes;
mod passage;
mod prepare;
mod ramp;
mod rules;
mod setting;
mod settle;
mod stages;
mod state;
#[cfg(test)]
mod tables;
mod thins;
mod transition;
mod verdict;
mod window;

pub use bodies::{bodies_over, groups_of};
pub use computed::{
    Field, LONGEST_S, Model, Spot, TARGET, TOP, WATCH_S, known, may_shine, of_guard, of_joint,
    of_part, on_board, scene, spot_id, target_reach, target_scene, toward_tool,
};
pub use copper::TakenUp;
pub use doing::{Doing, Pick, picks, solder_choice};
pub use exposure::{Aim, Heat, Seen, SeenBy, field, source, tool_spread, top};
pub use finding::{Finding, Rule, Subject, worst};
pub use judge::allowance;
pub use passage::{
    Flow, LimitOf, LimitSight, Note, Passage, Refusal, SetBy, Sight, Target, Window,
};
pub use rules::{
    Breach, Law, Service, ServiceLimit, breaches, falls, hang_limit, is_brittle, limits_in_service,
    service, service_verdict,
};
pub use setting::{Setting, World};
pub use stages::{level_at_target, ramps, seconds_above};
pub use state::{Bench, GuardNow, JointNow, PartNow};
pub use thins::Thinning;
pub use transition::{aim_of, heat_of, pass};
pub use verdict::Verdict;
