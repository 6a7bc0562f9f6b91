//! The field of a step as plain data of two pictures: a map of peaks, and temperatures over time.

use std::time::Duration;

use crate::heat::{PlaceForecast, Tool};
use crate::job::Job;
use crate::plan::{PlaceHeat, StepHeat};
use crate::quantity::{Celsius, KelvinStep, Length};

use super::chart::{
    Footprint, Happening, HeatMap, Landmark, Mark, Placed, Trace, TracePoint, Traces,
};
use super::heat::{marks, set_up};
use super::say::{Names, Say};
use super::staircase::mark;

/// Traces that a picture has room for, the target besides.
const MOST_TRACES: usize = 9;
/// Points of a trace: more are not seen.
const MOST_POINTS: usize = 160;

/// The likeliest peaks over the board.
pub fn map(job: &Job, heat: &StepHeat, line: &str, step: &str, say: Say) -> HeatMap {
    let names = Names(job);
    let field = &heat.forecast.outcome.map;
    let (low, high) = (field.peak.iter().min(), field.peak.iter().max());
    let inside =
        |at: Celsius| low.is_some_and(|low| at > *low) && high.is_some_and(|high| at < *high);
    let isotherms = marks(&heat.places, names)
        .into_iter()
        .filter(|(_, at)| inside(*at))
        .map(|(name, at)| Landmark { name, at })
        .collect();
    let target = Placed {
        name: heat.target.id.clone(),
        x: heat.target.at.x,
        y: heat.target.at.y,
        at: heat.forecast.places.first().map(|run| run.peak.mid),
        reach: None,
        mark: target_mark(heat),
    };
    let places = heat.places.iter().filter_map(|place| {
        let at = place.at?;
        Some(Placed {
            name: names.place(place.of),
            x: at.x,
            y: at.y,
            at: place.peak.map(|peak| peak.mid),
            reach: place.reach.filter(|reach| reach.mm() > 0.0),
            mark: mark(place.verdict),
        })
    });
    HeatMap {
        title: format!("{step}: likely peaks"),
        line: line.to_owned(),
        across: edges(&field.x_mm),
        up: edges(&field.y_mm),
        cells: field.peak.clone(),
        isotherms,
        places: std::iter::once(target).chain(places).collect(),
        tool: footprint(heat),
        notes: vec![
            set_up(heat, say),
            "colours and numbers: what a bare joint there is likely to see at its hottest; circles: how far a place reaches"
                .to_owned(),
            super::heat::where_to_read(heat, names),
            "likeliest run, never measured here; verdicts count the hot edge".to_owned(),
        ]
        .into_iter()
        .filter(|note| !note.is_empty())
        .collect(),
    }
}

fn target_mark(heat: &StepHeat) -> Mark {
    match (heat.target.flows, heat.target.likely_after_s) {
        (Some(true), _) => Mark::Holds,
        (Some(false), None) => Mark::DoesNotFlow,
        _ => Mark::Unknown,
    }
}

/// Edges of cells from their middles, the first at zero.
fn edges(middles: &[f64]) -> Vec<Length> {
    let mut edge = 0.0_f64;
    let mut edges = vec![Length::nearest_um(0.0)];
    for middle in middles {
        edge = 2.0 * middle - edge;
        edges.push(Length::nearest_um(edge.max(0.0) * 1000.0));
    }
    edges
}

fn footprint(heat: &StepHeat) -> Option<Footprint> {
    let reach = match heat.scene.tool() {
        Tool::Air(jet) => jet.nozzle.mm() / 2.0,
        Tool::Iron { contact, .. } => contact.mm() / 2.0,
        Tool::Rays(emitter) => emitter.across.mm() / 2.0,
    };
    let (wide, tall) = heat.scene.board().sides();
    let span = |middle: Length, side: Length| {
        let from = Length::from_mm((middle.mm() - reach).max(0.0)).ok()?;
        let to = Length::from_mm((middle.mm() + reach).min(side.mm())).ok()?;
        Some((from, to))
    };
    Some(Footprint {
        across: span(heat.target.at.x, wide)?,
        up: span(heat.target.at.y, tall)?,
    })
}

/// The likeliest run of the target and of the places that come nearest to their limit.
pub fn traces(job: &Job, heat: &StepHeat, line: &str, step: &str, say: Say) -> Traces {
    let names = Names(job);
    let base = heat.scene.base();
    let runs = &heat.forecast.places;
    let mut traces = vec![Trace {
        name: heat.target.id.clone(),
        points: points(&runs[0], base, |moment| moment.coolest, KelvinStep::ZERO),
        first_melt: heat.target.must_reach,
        target: true,
        mark: target_mark(heat),
    }];
    let mut watched: Vec<(&PlaceHeat, &PlaceForecast)> = heat
        .places
        .iter()
        .filter(|place| place.peak.is_some())
        .zip(&runs[1..])
        .collect();
    watched.sort_by_key(|(place, run)| {
        place
            .limit
            .map_or(i32::MAX, |limit| (limit - run.peak.high).millikelvin())
    });
    let left_out = watched.len().saturating_sub(MOST_TRACES);
    traces.extend(watched.iter().take(MOST_TRACES).map(|(place, run)| Trace {
        name: names.place(place.of),
        points: points(
            run,
            base,
            |moment| moment.hottest,
            run.peak.high - run.peak.mid,
        ),
        first_melt: place.limit,
        target: false,
        mark: mark(place.verdict),
    }));
    let mut notes = vec![
        set_up(heat, say),
        "likeliest run, never measured here; bands: two standard deviations of the peak, scaled with the rise; verdicts count the hot edge".to_owned(),
    ];
    if left_out > 0 {
        notes.push(format!("{left_out} more places, farther from their limit"));
    }
    Traces {
        title: format!("{step}: temperatures in time"),
        line: line.to_owned(),
        traces,
        moments: vec![
            happening("tool comes", 0.0),
            happening("tool goes", heat.forecast.outcome.tool_left_s),
        ],
        notes,
    }
}

fn happening(name: &str, after_s: f64) -> Happening {
    Happening {
        name: format!("{name}, {after_s:.0} s"),
        after: Duration::from_secs_f64(after_s.max(0.0)),
    }
}

/// A trace with a band that grows with the rise over the board before the tool came.
fn points(
    run: &PlaceForecast,
    base: Celsius,
    of: fn(&crate::heat::plate::Moment) -> Celsius,
    half: KelvinStep,
) -> Vec<TracePoint> {
    let trace = &run.heat.trace;
    let every = trace.len().div_ceil(MOST_POINTS).max(1);
    let most = trace
        .iter()
        .map(|moment| (of(moment) - base).kelvin())
        .fold(0.0_f64, f64::max);
    let last = trace.len().saturating_sub(1);
    trace
        .iter()
        .enumerate()
        .filter(|(at, _)| at % every == 0 || *at == last)
        .map(|(_, moment)| {
            let at = of(moment);
            let share = if most > 0.0 {
                ((at - base).kelvin() / most).clamp(0.0, 1.0)
            } else {
                0.0
            };
            let half = half.scaled(share);
            TracePoint {
                after: Duration::from_secs_f64(moment.after_s.max(0.0)),
                at,
                band: Some((at - half, at + half)),
            }
        })
        .collect()
}
