//! Steps that wait for each other in a ring.

use super::desk::Desk;
use super::shape::{Step, StepIx};
use crate::yaml::Place;

/// Puts each ring of `after` on the desk once, named by its steps.
pub(super) fn check(steps: &[Option<Step>], places: &[Place], desk: &mut Desk) {
    let mut state = vec![Mark::New; steps.len()];
    let before = desk.faults.len();
    for start in 0..steps.len() {
        if state[start] == Mark::New && desk.faults.len() < before + MOST_RINGS {
            walk(start, steps, places, &mut state, desk);
        }
    }
}

/// Rings told at most: many share their steps, and each may be long.
const MOST_RINGS: usize = 10;

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Mark {
    New,
    OnPath,
    Done,
}

/// Depth first without recursion: a job may hold thousands of steps in one chain.
fn walk(
    start: usize,
    steps: &[Option<Step>],
    places: &[Place],
    state: &mut [Mark],
    desk: &mut Desk,
) {
    let mut path = vec![(start, 0)];
    let mut told = 0;
    state[start] = Mark::OnPath;
    while let Some(top) = path.last_mut() {
        let (at, turn) = *top;
        let earlier = steps[at].as_ref().and_then(|step| step.after.get(turn));
        let Some(&(StepIx(next), _)) = earlier else {
            state[at] = Mark::Done;
            path.pop();
            continue;
        };
        top.1 += 1;
        match state.get(next) {
            Some(Mark::New) => {
                state[next] = Mark::OnPath;
                path.push((next, 0));
            }
            Some(Mark::OnPath) => {
                if told == MOST_RINGS {
                    return;
                }
                told += 1;
                tell(&path, next, steps, places, desk);
            }
            _ => {}
        }
    }
}

fn tell(
    path: &[(usize, usize)],
    ring_from: usize,
    steps: &[Option<Step>],
    places: &[Place],
    desk: &mut Desk,
) {
    let id = |at: usize| steps[at].as_ref().map_or("?", |step| step.id.as_str());
    let ring: Vec<&str> = path
        .iter()
        .map(|(at, _)| *at)
        .skip_while(|at| *at != ring_from)
        .chain([ring_from])
        .map(id)
        .collect();
    let words: Vec<String> = ring.iter().map(|id| format!("`{id}`")).collect();
    if let Some(place) = places.get(ring_from) {
        desk.fault(
            *place,
            format!("steps wait for each other: {}", words.join(" waits for ")),
        );
    }
}
