//! Solder alloy and reflow-order planner for people who repair boards and recover data from them.
//!
//! A chip was torn off; its pads are rebuilt with soldered wire, it gets new balls, and is set down again. Each
//! heat asks the same: what is every joint made of *now*, how hot does it get, what melts, and which alloy and
//! which order leave the widest margin? The way in is a [`Planner`]: the text of a job goes in, answers come out.
//!
//! ```
//! use meltstair::{Planner, bench::Verdict, plan::Budget};
//!
//! // Invented: a chip goes back beside tails that stand with 63/37, on pads with a trace of it.
//! let planner = Planner::new(
//!     "job: tide gauge
//! parts: [{id: log, balls: {count: 49, diameter_um: 300, alloy: Bi58Sn42}, limit_c: 245, dry: true}]
//! joints:
//! - {id: tails, count: 12, alloy: Sn63Pb37, mg: 0.3}
//! - {id: site, at: log, count: 49, pad_um: 300, residue: {alloy: Sn63Pb37, film_um: 10}}
//! steps:
//! - {id: set, do: place, part: log, on: site, tool: air, peak_c: 165, preheat_c: 100, k: {tails: 0.9}}
//! ",
//! )?;
//! let case = planner.sorted();
//! let best = case.order(Budget::default(), &mut |_| true)?;
//! let checked = best.checked.ok_or("no order")?;
//! // 63/37 starts to melt at 183 °C (181 is counted); 0.9 of the way from 100 to 165 is 158.5.
//! assert_eq!(checked.verdict, Verdict::Holds);
//!
//! // And what the chip then stands on: balls and film have become one metal, with lead in it.
//! let site = &checked.end.joints[case.job().joints.iter().position(|j| j.id == "site").ok_or("gone")?];
//! let melt = planner.melts().of_joint(&site.layers, site.contact);
//! assert_eq!(melt.survival.ok_or("not known")?.to_string(), "95 °C");
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! Three whole programs stand in `examples/`: what a joint melts at, a job checked, the best order of one.
//!
//! Data flow one way: [`alloy`] → [`melt`] and [`job`] → [`mod@bench`] → [`plan`] → [`planner`] → [`show`];
//! [`heat`] feeds [`mod@bench`]. A joint is not an alloy name: the bench keeps the books of what melted together
//! on each pad. The library never prints, exits, reads the clock or the environment.

pub mod alloy;
pub mod bench;
pub mod cli;
pub mod heat;
pub mod job;
pub mod melt;
pub mod nearest;
pub mod plan;
pub mod planner;
pub mod policy;
pub mod quantity;
pub mod show;
pub mod yaml;

pub use planner::Planner;
