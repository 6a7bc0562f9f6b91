//! The least setting that still does the job: "lowest preheat that reaches flow in 60 s".

use super::knowledge::{Knowledge, forecast};
use super::plate::{Place, Program, RunFault};
use super::scene::Scene;
use crate::quantity::{Celsius, KelvinStep};

/// What is to be reached.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Goal<'a> {
    /// Of one of the places.
    pub id: &'a str,
    /// All of it, at the cool edge of the band.
    pub flow: Celsius,
}

/// The lowest setting from `least` to `most`, to one kelvin, with which all of the goal's place surely
/// reaches its flow temperature within the program; none if even `most` is too little.
///
/// `scene` makes the bench for a setting: of the preheat, or of the air. More of it must never cool the
/// place, which holds for both.
///
/// # Errors
/// As [`forecast`], or whatever `scene` refuses.
pub fn lowest_that_flows<E: From<RunFault>>(
    (least, most): (Celsius, Celsius),
    scene: impl Fn(Celsius) -> Result<Scene, E>,
    program: &Program,
    places: &[Place],
    goal: Goal<'_>,
    known: &Knowledge,
) -> Result<Option<Celsius>, E> {
    let index = places
        .iter()
        .position(|place| place.id == goal.id)
        .ok_or_else(|| RunFault::NoSuchPlace {
            found: goal.id.to_owned(),
            known: places
                .iter()
                .map(|p| format!("`{}`", p.id))
                .collect::<Vec<_>>()
                .join(", "),
        })?;
    let flows = |setting: Celsius| -> Result<bool, E> {
        let found = forecast(&scene(setting)?, program, places, known)?;
        Ok(found.places[index].surely_flows(goal.flow))
    };
    if flows(least)? {
        return Ok(Some(least));
    }
    if most <= least || !flows(most)? {
        return Ok(None);
    }
    let (mut short, mut enough) = (least, most);
    while enough - short > KelvinStep::whole(1) {
        let middle = short + (enough - short).scaled(0.5);
        if flows(middle)? {
            enough = middle;
        } else {
            short = middle;
        }
    }
    Ok(Some(enough))
}
