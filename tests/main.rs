//! Checks against the outside world; one binary, one module a theme.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    reason = "a test that cannot go on has failed"
)]

mod acceptance;
mod acceptance_said;
mod alloy_geometry;
mod alloy_limits;
mod alloy_names;
mod alloy_show;
mod alloy_spec;
mod alloy_table;
mod chart_heat;
mod chart_samples;
mod chart_sheets;
mod chart_staircase;
mod chart_text;
mod chart_tools;
mod cli;
mod ctrl_c;
mod did_kill;
mod did_together;
mod drill;
mod enclosed;
mod examples;
mod gallery;
mod heat_bound;
mod heat_counted;
mod heat_job;
mod heat_learn;
mod heat_published;
mod heat_tools;
mod heat_verbs;
mod heat_ways;
mod help;
mod hostile;
mod job_each;
mod job_hostile;
mod job_read;
mod job_slips;
mod job_values;
mod keys;
mod laws;
mod melt_floor;
mod melt_golden;
mod melt_published;
mod melt_reference;
mod melt_robust;
mod mix;
mod never_holds;
mod one_screen;
mod own;
mod pickup;
mod plan_brute;
mod plan_commute;
mod plan_cut;
mod plan_electric;
mod plan_find_out;
mod plan_help;
mod plan_order;
mod plan_pick;
mod plan_relax;
mod plan_replan;
mod plan_shuffled;
mod plan_solver;
mod policy;
mod readme;
mod sheet;
mod sheet_print;
