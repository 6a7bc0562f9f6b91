//! What is said of wires, and what the short check before power measures.

use std::fmt::Write as _;

use serde_json::{Value, json};

use crate::job::{Job, WireIx};
use crate::plan::electric::{DROP_SHARE, Measure, first_power, short_check, wires};

use super::say::{harmless, tenth};
use super::table::Rows;

fn id(job: &Job, wire: WireIx) -> &str {
    &job.wires[wire.0].id
}

fn milli(value: f64) -> String {
    tenth(value * 1000.0)
}

/// One measurement in a sentence.
pub fn measure_words(job: &Job, measure: &Measure) -> String {
    match measure {
        Measure::Look => {
            "look under magnification: bridges, loose balls, tilted parts, lifted pads".to_owned()
        }
        Measure::CleanAndCold => "flux cleaned off, board dry and below 40 °C".to_owned(),
        Measure::RailToGround(wire) => format!(
            "{} to ground, both polarities: compare with a good board or an earlier note",
            id(job, *wire)
        ),
        Measure::OtherRails => {
            "every other rail to ground, both polarities: a main rail usually above 100 Ω"
                .to_owned()
        }
        Measure::EndToEnd(wire, Some(most)) => {
            format!("{} end to end: at most {most:.2} Ω", id(job, *wire))
        }
        Measure::EndToEnd(wire, None) => {
            format!(
                "{} end to end: its length is not said, so below 1 Ω",
                id(job, *wire)
            )
        }
        Measure::Apart(one, other) => format!(
            "{} against {}: above 1 MΩ, cleaned and dry",
            id(job, *one),
            id(job, *other)
        ),
    }
}

/// The short check as text.
pub fn check_text(job: &Job) -> String {
    let mut out = "Before power\n".to_owned();
    for (i, measure) in short_check(job).iter().enumerate() {
        let _ = writeln!(out, "  {}. {}", i + 1, measure_words(job, measure));
    }
    let first = first_power(job);
    let why = if first.from_job {
        "10 to 20 % of what the rails are stated to draw"
    } else {
        "usual; the job states no current"
    };
    let _ = writeln!(
        out,
        "  Then current limit {} mA, raised to {} mA while watching ({why}); stop where the limit is \
         reached with the voltage near 0",
        milli(first.from_amps),
        milli(first.to_amps)
    );
    harmless(&out)
}

/// The wires as a table; empty where the job has none.
pub fn wires_text(job: &Job, width: usize) -> String {
    if job.wires.is_empty() {
        return String::new();
    }
    let some = |value: Option<f64>| value.map_or_else(String::new, milli);
    let rows = wires(job).into_iter().map(|facts| {
        vec![
            id(job, facts.wire).to_owned(),
            some(facts.ohm),
            some(facts.drop_volt),
            facts.rise_kelvin.map_or_else(String::new, tenth),
            milli(facts.carries_amps),
            milli(facts.fuses_amps),
            if facts.overloaded { "too thin" } else { "" }.to_owned(),
        ]
    });
    let rows = Rows {
        head: vec![
            "wire",
            "mΩ",
            "drop mV",
            "warms K",
            "carries mA",
            "fuses mA",
            "",
        ],
        rows: rows.collect(),
    };
    harmless(&rows.text(width))
}

/// Wires and short check as JSON.
pub fn json(job: &Job) -> Value {
    let first = first_power(job);
    json!({
        "wires": wires(job).iter().map(|facts| json!({
            "wire": id(job, facts.wire),
            "ohm": facts.ohm,
            "drop_v": facts.drop_volt,
            "drop_limit_share": DROP_SHARE,
            "heat_w": facts.heat_watt,
            "rise_k": facts.rise_kelvin,
            "carries_a": facts.carries_amps,
            "fuses_a": facts.fuses_amps,
            "overloaded": facts.overloaded,
        })).collect::<Vec<_>>(),
        "short_check": short_check(job).iter().map(|m| measure_words(job, m)).collect::<Vec<_>>(),
        "first_power_a": {
            "from": first.from_amps,
            "to": first.to_amps,
            "from_job": first.from_job,
        },
    })
}
