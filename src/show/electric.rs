//! What is said of wires, and what the short check before power measures.

use std::fmt::Write as _;

use serde_json::{Value, json};

use crate::bench::electric::{
    Measure, Reading, USUAL_RAIL_OHM, WireFacts, first_power, judge, most_ohm, short_check, wires,
};
use crate::job::{Event, Job, Probe, WireIx, Work};
use crate::plan::{Checked, CheckedStep};
use crate::policy;
use crate::quantity::Ohms;

use super::fold::Fold;
use super::say::{Say, harmless, tenth};
use super::table::Rows;

/// What the columns of the wire table rest on.
const SOURCES: &str = "copper at 20 °C, 1.7241e-8 Ω·m (S61, from memory); warms: the middle, ends on copper, no loss \
     to air (derived); fuses: long wire in free air, Preece (S52); carries: a fifth of that (common \
     practice, no source)";

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
            "{} to ground, both polarities: above 1 Ω, and as a good board or an earlier note has it",
            id(job, *wire)
        ),
        Measure::OtherRails => {
            format!(
                "every other rail to ground, both polarities: a main rail usually above {USUAL_RAIL_OHM} Ω"
            )
        }
        Measure::EndToEnd(wire, most) => {
            let unsaid = job.wires[wire.0].length.is_none();
            let why = if unsaid {
                " (its length is not said)"
            } else {
                ""
            };
            format!("{} end to end: at most {most:.2} Ω{why}", id(job, *wire))
        }
        Measure::Apart(one, other) => format!(
            "{} against {}: above 1 MΩ, cleaned and dry",
            id(job, *one),
            id(job, *other)
        ),
    }
}

/// A reading in a few words: where, how much, and what would pass.
pub fn reading_words(job: &Job, reading: &Reading) -> String {
    let held = match reading.probe {
        Probe::EndToEnd(wire) => format!("{} end to end", id(job, wire)),
        Probe::ToGround(wire) => format!("{} to ground", id(job, wire)),
        Probe::Between(one, other) => format!("{} to {}", id(job, one), id(job, other)),
    };
    let want = if reading.most.is_finite() {
        format!("at most {:.2} Ω", reading.most)
    } else {
        format!("at least {}", ohm_words(reading.least))
    };
    let read = if reading.ohms == Ohms::OPEN {
        "is open".to_owned()
    } else {
        format!("reads {}", ohm_words(reading.ohms.ohms()))
    };
    let word = if reading.passes {
        "passes"
    } else {
        "does not pass"
    };
    format!("{held} {read}, {word}: {want}")
}

fn ohm_words(ohms: f64) -> String {
    if ohms >= 1e6 {
        format!("{} MΩ", tenth(ohms / 1e6))
    } else if ohms >= 1e3 {
        format!("{} kΩ", tenth(ohms / 1e3))
    } else {
        format!("{} Ω", (ohms * 100.0).round() / 100.0)
    }
}

/// Steps still to be done that are checks before power, or power.
fn power_ahead(checked: &Checked) -> Vec<&CheckedStep> {
    let is_gate = |step: &&CheckedStep| {
        let work = &step.planned.step.work;
        let gate = matches!(work, Work::Gate { short_check: true } | Work::Power);
        gate && step.planned.log.is_none()
    };
    checked.steps.iter().filter(is_gate).collect()
}

/// The short check, a line each; empty where neither a check nor power is ahead.
pub fn check_lines(job: &Job, checked: &Checked) -> Vec<String> {
    if power_ahead(checked).is_empty() {
        return Vec::new();
    }
    let measures = short_check(job);
    let numbered = measures.iter().enumerate();
    let mut lines: Vec<String> = numbered
        .map(|(i, measure)| format!("{}. {}", i + 1, measure_words(job, measure)))
        .collect();
    let first = first_power(job);
    let why = if first.from_job {
        "10 to 20 % of what the rails are stated to draw"
    } else {
        "usual; the job states no current"
    };
    lines.push(format!(
        "then current limit {} mA, raised to {} mA while watching ({why}); stop where the limit is reached with \
         the voltage near 0",
        milli(first.from_amps),
        milli(first.to_amps)
    ));
    lines
}

/// Wires, readings and the short check as text; empty where nothing electrical is ahead.
pub fn text(job: &Job, checked: &Checked, say: Say, fold: &Fold) -> String {
    let wires = wires_text(job, say.width, fold);
    let mut out = String::new();
    for line in readings(job, checked) {
        let _ = writeln!(out, "Read: {line}");
    }
    let lines = check_lines(job, checked);
    if !lines.is_empty() {
        let ids: Vec<&str> = power_ahead(checked)
            .iter()
            .map(|step| step.planned.step.id.as_str())
            .collect();
        let _ = writeln!(
            out,
            "\nBefore power ({}), shut again by any later heat (common practice, no source)",
            ids.join(", ")
        );
        for line in lines {
            let _ = writeln!(out, "  {line}");
        }
    }
    wires + &harmless(&fold.lines(&out))
}

/// Readings of the log, and what comes before power in one line.
pub(super) fn brief(job: &Job, checked: &Checked) -> String {
    let mut out = String::new();
    for line in readings(job, checked) {
        let _ = writeln!(out, "Read: {line}");
    }
    let ahead = power_ahead(checked);
    if !ahead.is_empty() {
        let first = first_power(job);
        let _ = writeln!(
            out,
            "Before power: look, clean, {} to measure; current limit {} mA, then {} mA",
            short_check(job).len().saturating_sub(2),
            milli(first.from_amps),
            milli(first.to_amps)
        );
    }
    out
}

/// Readings of the log, judged.
fn readings(job: &Job, checked: &Checked) -> Vec<String> {
    logged(checked)
        .flat_map(|event| {
            event.reads.iter().map(|(probe, ohms)| {
                let reading = judge(job, *probe, *ohms);
                format!("{}: {}", event.step, reading_words(job, &reading))
            })
        })
        .collect()
}

fn logged(checked: &Checked) -> impl Iterator<Item = &Event> {
    let steps = checked.steps.iter();
    steps.filter_map(|step| step.planned.log.as_ref())
}

/// The wires as a table; empty where the job has none.
fn wires_text(job: &Job, width: usize, fold: &Fold) -> String {
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
    let rows = fold.rows(rows);
    harmless(&format!("\n{}  {SOURCES}\n", rows.text(width)))
}

/// The wires, a line each.
pub fn wire_lines(job: &Job) -> Vec<String> {
    let facts = wires(job);
    let mut lines: Vec<String> = facts.iter().map(|facts| wire_line(job, facts)).collect();
    if !lines.is_empty() {
        lines.push(SOURCES.to_owned());
    }
    lines
}

fn wire_line(job: &Job, facts: &WireFacts) -> String {
    let mut line = id(job, facts.wire).to_owned();
    if let Some(ohm) = facts.ohm {
        let _ = write!(line, ": {} mΩ", milli(ohm));
    }
    if let Some(drop) = facts.drop_volt {
        let _ = write!(line, ", {} mV lost", milli(drop));
    }
    let _ = write!(
        line,
        ", carries {} mA, fuses at {} mA",
        milli(facts.carries_amps),
        milli(facts.fuses_amps)
    );
    if facts.overloaded {
        line.push_str(": TOO THIN for its current");
    }
    line
}

/// Wires, short check and readings as JSON.
pub fn json(job: &Job, checked: &Checked) -> Value {
    let first = first_power(job);
    let reads = logged(checked).flat_map(|event| {
        event.reads.iter().map(|(probe, ohms)| {
            let reading = judge(job, *probe, *ohms);
            json!({
                "step": event.step,
                "line": reading_words(job, &reading),
                "ohm": (reading.ohms != Ohms::OPEN).then_some(reading.ohms.ohms()),
                "passes": reading.passes,
            })
        })
    });
    json!({
        "wires": wires(job).iter().map(|facts| wire_json(job, facts)).collect::<Vec<_>>(),
        "check_before": power_ahead(checked)
            .iter()
            .map(|step| &step.planned.step.id)
            .collect::<Vec<_>>(),
        "short_check": short_check(job).iter().map(|m| measure_json(job, m)).collect::<Vec<_>>(),
        "readings": reads.collect::<Vec<_>>(),
        "first_power_a": {
            "from": first.from_amps,
            "to": first.to_amps,
            "from_job": first.from_job,
        },
    })
}

fn wire_json(job: &Job, facts: &WireFacts) -> Value {
    json!({
        "wire": id(job, facts.wire),
        "ohm": facts.ohm,
        "most_ohm": most_ohm(facts),
        "drop_v": facts.drop_volt,
        "drop_limit_share": policy::RAIL_DROP,
        "heat_w": facts.heat_watt,
        "rise_k": facts.rise_kelvin,
        "carries_a": facts.carries_amps,
        "fuses_a": facts.fuses_amps,
        "overloaded": facts.overloaded,
        "mark": SOURCES,
    })
}

fn measure_json(job: &Job, measure: &Measure) -> Value {
    let (kind, of): (&str, Vec<&str>) = match measure {
        Measure::Look => ("look", Vec::new()),
        Measure::CleanAndCold => ("clean_and_cold", Vec::new()),
        Measure::RailToGround(wire) => ("rail_to_ground", vec![id(job, *wire)]),
        Measure::OtherRails => ("other_rails_to_ground", Vec::new()),
        Measure::EndToEnd(wire, _) => ("end_to_end", vec![id(job, *wire)]),
        Measure::Apart(one, other) => ("apart", vec![id(job, *one), id(job, *other)]),
    };
    json!({"measure": kind, "of": of, "line": measure_words(job, measure)})
}
