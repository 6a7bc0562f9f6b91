//! What `heat` says of a step: what is likely at every place, with its band, beside what verdicts count.

use std::fmt::Write as _;

use serde_json::{Value, json};

use crate::bench::{Seen, Verdict};
use crate::heat::{Standing, Tool};
use crate::job::Job;
use crate::plan::{PlaceHeat, StepHeat};
use crate::quantity::Celsius;

use super::say::{Names, Say, first_line, harmless, seen_by, tenth};
use super::table::Rows;

/// Verdict, number, place.
pub fn line(job: &Job, heat: &StepHeat, verdict: Verdict, say: Say) -> String {
    let names = Names(job);
    let worst = heat
        .places
        .iter()
        .filter(|place| !place.may_melt && place.verdict == verdict)
        .min_by_key(|place| margin(place));
    let place = worst.map(|place| {
        let name = names.place(place.of);
        match (place.counted, place.limit) {
            (Seen::At(t, _), Some(limit)) => {
                format!(
                    "{} left, {name} sees {} at most",
                    say.dt(limit - t),
                    say.t(t)
                )
            }
            (seen, _) => format!("{name} sees {}", say.seen(seen)),
        }
    });
    let told = match (verdict, place) {
        (Verdict::DoesNotFlow | Verdict::Unknown, _) if heat.target.flows != Some(true) => {
            format!(
                "{} reaches {} surely, must reach {}",
                heat.target.id,
                say.t(heat.target.reached.low),
                say.t_or_unknown(heat.target.must_reach)
            )
        }
        (_, Some(place)) => place,
        (_, None) => format!(
            "{} reaches {}",
            heat.target.id,
            say.t(heat.target.reached.mid)
        ),
    };
    first_line(&harmless(&format!("{verdict}: {told}")))
}

fn margin(place: &PlaceHeat) -> Option<i32> {
    match (place.counted, place.limit) {
        (Seen::At(t, _), Some(limit)) => Some((limit - t).millikelvin()),
        _ => None,
    }
}

/// The answer as text, without its first line.
pub fn text(job: &Job, heat: &StepHeat, say: Say) -> String {
    let mut text = format!("{}\n\n", set_up(heat, say));
    let _ = writeln!(text, "{}", target_line(heat, say));
    text.push('\n');
    text.push_str(&table(job, heat, say).text(say.width));
    if heat.places.iter().any(|place| place.peak.is_none()) {
        text.push_str("\n?: not in the field; or nobody says where it is (`at_mm`) or how far it reaches (`reach_mm`, `size_mm`)\n");
    }
    if !heat.findings.is_empty() {
        text.push_str("\nProfile of the part\n");
        for finding in &heat.findings {
            let mark = match finding.standing {
                Standing::Within => "  ",
                Standing::Above | Standing::Below => "! ",
            };
            let _ = writeln!(text, "{mark}{finding}");
        }
    }
    text
}

/// What stands where, in one line.
pub fn set_up(heat: &StepHeat, say: Say) -> String {
    let (x, y) = (heat.target.at.x.mm(), heat.target.at.y.mm());
    let tool = match heat.scene.tool() {
        Tool::Air(jet) => format!(
            "air of {} from {} mm, {} L/min, {} mm above",
            say.t(jet.air),
            match heat.corners {
                Some(_) => tenth(jet.nozzle.mm()),
                None => jet.nozzle.mm().to_string(),
            },
            jet.flow.l_min(),
            jet.standoff.mm()
        ),
        Tool::Iron { tip, contact, .. } if heat.tweezers => format!(
            "tweezers of {}, counted all over {} mm, on",
            say.t(*tip),
            tenth(contact.mm())
        ),
        Tool::Iron { tip, contact, .. } => {
            format!("iron of {}, {} mm wide, on", say.t(*tip), contact.mm())
        }
        Tool::Rays(emitter) => format!(
            "infra-red emitter of {}, {} mm across, {} mm above",
            say.t(emitter.face),
            tenth(emitter.across.mm()),
            emitter.standoff.mm()
        ),
    };
    format!(
        "{tool} {} at ({x}, {y}) mm; board at {}; the tool goes when all of it is at {}, after {} s at most",
        harmless(&heat.target.id),
        say.t(heat.scene.base()),
        say.t(heat.peak),
        heat.seconds
    )
}

fn target_line(heat: &StepHeat, say: Say) -> String {
    let target = &heat.target;
    let reached = format!(
        "{} can reach {} ({} to {}) in that time",
        harmless(&target.id),
        say.t(target.reached.mid),
        say.t_bare(target.reached.low),
        say.t_bare(target.reached.high)
    );
    let Some(must) = target.must_reach else {
        return format!("{reached}; nobody knows when it flows");
    };
    let flows = format!("{reached}; flows from {}", say.t(must));
    match (target.after_s, target.likely_after_s) {
        (Some(surely), Some(likely)) => {
            format!("{flows}: likely after {likely:.0} s, surely after {surely:.0} s")
        }
        (None, Some(likely)) => format!("{flows}: likely after {likely:.0} s, not surely"),
        _ => format!("{flows}: it is not likely to get there"),
    }
}

fn table(job: &Job, heat: &StepHeat, say: Say) -> Rows {
    let names = Names(job);
    Rows {
        head: vec![
            "place",
            "likely",
            "band",
            "first melt or limit",
            "above it",
            "counted",
            "by",
            "verdict",
        ],
        rows: heat
            .places
            .iter()
            .map(|place| {
                let band = place.peak.map_or_else(String::new, |peak| {
                    format!("{}–{}", say.t_bare(peak.low), say.t_bare(peak.high))
                });
                let above = place.seconds_above.map_or_else(String::new, |seconds| {
                    if seconds > 0.0 {
                        format!("{seconds:.0} s")
                    } else {
                        "never".to_owned()
                    }
                });
                vec![
                    harmless(&names.place(place.of)),
                    say.t_or_unknown(place.peak.map(|peak| peak.mid)),
                    band,
                    say.t_or_unknown(place.limit),
                    above,
                    counted(place.counted, say),
                    seen_by(place.counted),
                    place.verdict.word().to_owned(),
                ]
            })
            .collect(),
    }
}

fn counted(seen: Seen, say: Say) -> String {
    match seen {
        Seen::At(t, _) => say.t_bare(t),
        Seen::UpTo(Some(t)) => format!("≤ {}", say.t_bare(t)),
        Seen::UpTo(None) => "?".to_owned(),
    }
}

/// What is to be known besides.
pub fn warnings(job: &Job, heat: &StepHeat) -> Vec<String> {
    let names = Names(job);
    let mut all: Vec<String> = heat
        .outside
        .iter()
        .map(|outside| outside.words().to_owned())
        .collect();
    if !heat.learned {
        all.push(
            "nothing was read on this bench yet: the factors are guesses, the band is theirs; `learn` narrows it"
                .to_owned(),
        );
    }
    if !heat.guessed.is_empty() {
        all.push(format!(
            "guessed, since the board does not say it: {}; conduction may be a third or three times that, and every band is wider for it",
            heat.guessed.join(", ")
        ));
    }
    if heat.misfits {
        all.push(
            "what was read does not fit the board as described: every band is wider for it"
                .to_owned(),
        );
    }
    if heat.places.iter().any(|place| place.shielded) {
        all.push(
            "what is shielded is likely cooler by some per cent, and is counted, and drawn, as if bare: shields lowered a neighbour's peak by at most 8.2 %, and nobody measured by how much at least (Scientific Reports 12 (2022) 15118, abstract)"
                .to_owned(),
        );
    }
    let shines = matches!(heat.scene.tool(), Tool::Rays(_));
    if shines {
        all.push(
            "every place takes rays as a dark board does, half to twice of 0.9; bright metal takes a twentieth to a third of that (handbook emissivities, from memory), which is not counted for a neighbour, and the target may be as bright: no peak at it ends the heat, its time does; nothing was learned of it"
                .to_owned(),
        );
    }
    if heat.corners.is_some() && shines {
        all.push(
            "an emitter that is not round shines here as the round one of its area, and every place counts as so much nearer as its corners reach out"
                .to_owned(),
        );
    } else if heat.corners.is_some() {
        all.push(
            "a nozzle that is not round blows here as the round one of its area, and every place counts as so much nearer as its corners reach out; one that encloses the part counts as open"
                .to_owned(),
        );
    }
    if heat.tweezers {
        all.push(
            "neighbours see the heat of tweezers all over the target, and the target that of one tip; what is likely ends as soon as the middle of the target is at its peak, which is too early: go by what is counted; nothing was learned of them"
                .to_owned(),
        );
    }
    all.push(stopping(heat));
    all.extend(Some(where_to_read(heat, names)).filter(|words| !words.is_empty()));
    all
}

/// The place whose peak is least known, of those that a thermocouple can be put on: one reading there narrows
/// most.
pub(super) fn where_to_read(heat: &StepHeat, names: Names) -> String {
    let wide = |place: &&PlaceHeat| place.peak.map(|peak| peak.high - peak.low);
    let best = heat
        .places
        .iter()
        .filter(|place| place.at.is_some() && place.peak.is_some())
        .max_by_key(wide);
    best.zip(best.as_ref().and_then(wide))
        .map_or_else(String::new, |(place, wide)| {
            format!(
                "one thermocouple at {} would narrow most: its band is {:.0} K wide",
                names.place(place.of),
                wide.kelvin()
            )
        })
}

/// Under what the hand stops, in the words of the assumption.
fn stopping(heat: &StepHeat) -> String {
    if heat.stops {
        "counted is what `check` uses: the hot edge of the same run, with the tool on until the coldest joint below the body is at the peak and as much more as a hand overshoots, or its time is up. It bounds nothing if the tool stays longer, or goes by the hottest joint, the top of the body or the dial"
            .to_owned()
    } else {
        "counted is what `check` uses: the hot edge with the tool on for all its time; how far the target reaches and how high its body is are not known (or the iron goes from member to member), so that no peak ends it earlier"
            .to_owned()
    }
}

/// The keys of `heat`.
pub fn json(job: &Job, heat: &StepHeat) -> Value {
    let names = Names(job);
    let known = |seen: Seen| match seen {
        Seen::At(t, _) => Some(t),
        Seen::UpTo(_) => None,
    };
    json!({
        "set_up": set_up(heat, Say::default()),
        "seconds": heat.seconds,
        "tool_left_s": heat.forecast.outcome.tool_left_s,
        "target": {
            "of": heat.target.id,
            "t_c": heat.target.reached.mid,
            "low_c": heat.target.reached.low,
            "high_c": heat.target.reached.high,
            "must_reach_c": heat.target.must_reach,
            "after_s": heat.target.after_s,
            "likely_after_s": heat.target.likely_after_s,
            "flows": heat.target.flows,
        },
        "places": heat.places.iter().map(|place| json!({
            "of": names.place(place.of),
            "t_c": place.peak.map(|peak| peak.mid),
            "low_c": place.peak.map(|peak| peak.low),
            "high_c": place.peak.map(|peak| peak.high),
            "first_melt_or_limit_c": place.limit,
            "seconds_above_first_melt": place.seconds_above,
            "counted_c": known(place.counted),
            "basis": seen_by(place.counted),
            "verdict": place.verdict,
            "may_melt": place.may_melt,
            "shielded": place.shielded,
            "why": place.peak.is_none().then_some("nobody says where it is or how far it reaches"),
        })).collect::<Vec<_>>(),
        "stops_at_peak": heat.stops,
        "misfit": heat.misfits,
        "profile": heat.findings,
    })
}

/// Temperatures that a map marks: first melts and limits, each once.
pub(super) fn marks(places: &[PlaceHeat], names: Names) -> Vec<(String, Celsius)> {
    let mut found: Vec<(String, Celsius)> = Vec::new();
    for place in places {
        if let Some(limit) = place.limit
            && !found.iter().any(|(_, at)| *at == limit)
        {
            found.push((names.place(place.of), limit));
        }
    }
    found.sort_by_key(|(_, at)| *at);
    found
}
