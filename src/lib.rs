//! Solder alloy and reflow-order planner for people who repair boards and recover data from them.
//!
//! A joint is not an alloy name: it is what melted together on that pad. This crate keeps the books
//! of every joint ([`mod@bench`]), knows when such a blend starts to melt ([`melt`]), how hot it gets
//! in each step ([`heat`]), and searches alloys and orders for the plan with the widest margin
//! ([`plan`]). [`job`] reads the file that a technician writes; [`show`] says the answer.
//!
//! Data flow one way: [`alloy`] → [`melt`] and [`job`] → [`mod@bench`] → [`plan`] → [`show`];
//! [`heat`] feeds [`mod@bench`]. The library never prints, exits, reads the clock or the environment.

pub mod alloy;
pub mod bench;
pub mod cli;
pub mod heat;
pub mod job;
pub mod melt;
pub mod nearest;
pub mod plan;
pub mod policy;
pub mod quantity;
pub mod show;
pub mod yaml;
