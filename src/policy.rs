//! What the program decides by: limits, thresholds and defaults, each once. The numbers stand in
//! `alloys/policy.yaml` with unit, meaning and source; the build makes these constants of them.

#![allow(clippy::unreadable_literal, reason = "written by the build")]

use crate::quantity::{Celsius, KelvinStep, Length, Mass, Share};

include!(concat!(env!("OUT_DIR"), "/policy.rs"));
