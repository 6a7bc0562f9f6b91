//! What `heat` says of a step whose profile is stated stage by stage.

use std::fmt::Write as _;

use serde_json::{Value, json};

use crate::bench::{Seen, Verdict};
use crate::job::Job;
use crate::plan::{Above, Staged, StagedPlace};

use super::say::{Names, Say, first_line, harmless, seen_by};
use super::table::Rows;

/// Verdict, number, place.
pub fn line(job: &Job, staged: &Staged, verdict: Verdict, say: Say) -> String {
    let names = Names(job);
    let counted = staged.places.iter().filter(|place| !place.may_melt);
    let worst = counted
        .filter(|place| place.verdict == verdict)
        .min_by_key(|place| margin(place));
    let told = worst.map_or_else(
        || format!("the target is at {} at most", say.t(staged.peak)),
        |place| {
            let name = names.place(place.of);
            match (place.seen, place.limit) {
                (Seen::At(t, _), Some(limit)) => {
                    format!("{} left, {name} sees {}", say.dt(limit - t), say.t(t))
                }
                (seen, _) => format!("{name} sees {}", say.seen(seen)),
            }
        },
    );
    first_line(&harmless(&format!("{verdict}: {told}")))
}

fn margin(place: &StagedPlace) -> Option<i32> {
    match (place.seen, place.limit) {
        (Seen::At(t, _), Some(limit)) => Some((limit - t).millikelvin()),
        _ => None,
    }
}

fn above(above: Option<Above>) -> String {
    match above {
        None => "?".to_owned(),
        Some(above) if above.still => format!("{:.0} s and on", above.seconds),
        Some(above) if above.seconds > 0.0 => format!("{:.0} s", above.seconds.ceil()),
        Some(_) => "never".to_owned(),
    }
}

/// The answer as text, without its first line.
pub fn text(job: &Job, staged: &Staged, say: Say) -> String {
    let names = Names(job);
    let stages = Rows {
        head: vec!["stage", "to", "in", "ramp"],
        rows: (1..)
            .zip(&staged.stages)
            .map(|(no, (stage, ramp))| {
                vec![
                    format!("{no}"),
                    say.t(stage.to),
                    format!("{} s", stage.seconds),
                    format!("{:.2} K/s", ramp.k_s()),
                ]
            })
            .collect(),
    };
    let mut text = format!("From {}\n{}", say.t(staged.room), stages.text(say.width));
    if let Some((must, liquid)) = staged.liquid {
        let _ = writeln!(
            text,
            "\nThe target is above {}, where it flows, for {}",
            say.t(must),
            above(Some(liquid))
        );
    }
    let places = Rows {
        head: vec![
            "place",
            "sees",
            "first melt or limit",
            "above it",
            "by",
            "verdict",
        ],
        rows: staged
            .places
            .iter()
            .map(|place| {
                let seen = match place.seen {
                    Seen::At(t, _) => say.t_bare(t),
                    Seen::UpTo(Some(t)) => format!("≤ {}", say.t_bare(t)),
                    Seen::UpTo(None) => "?".to_owned(),
                };
                vec![
                    harmless(&names.place(place.of)),
                    seen,
                    say.t_or_unknown(place.limit),
                    above(place.above),
                    seen_by(place.seen),
                    place.verdict.word().to_owned(),
                ]
            })
            .collect(),
    };
    let _ = write!(text, "\n{}", places.text(say.width));
    text
}

/// What is to be known besides.
pub fn warnings() -> Vec<String> {
    vec![
        "stages are taken as straight lines from room temperature, and a neighbour as following the target by what is stated of it: a thermocouple there says more"
            .to_owned(),
    ]
}

/// The keys of `heat`.
pub fn json(job: &Job, staged: &Staged) -> Value {
    let names = Names(job);
    let told = |above: Option<Above>| {
        above.map(|above| json!({"s": above.seconds, "and_on": above.still}))
    };
    json!({
        "peak_c": staged.peak,
        "stages": staged.stages.iter().map(|(stage, ramp)| json!({
            "to_c": stage.to,
            "seconds": stage.seconds,
            "ramp_k_s": ramp,
        })).collect::<Vec<_>>(),
        "target": staged.liquid.map(|(must, above)| json!({
            "must_reach_c": must,
            "above": told(Some(above)),
        })),
        "places": staged.places.iter().map(|place| json!({
            "of": names.place(place.of),
            "counted_c": match place.seen { Seen::At(t, _) => Some(t), Seen::UpTo(_) => None },
            "first_melt_or_limit_c": place.limit,
            "above": told(place.above),
            "basis": seen_by(place.seen),
            "verdict": place.verdict,
            "may_melt": place.may_melt,
        })).collect::<Vec<_>>(),
    })
}
