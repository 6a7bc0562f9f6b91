//! What a logged reading says of the next heat of its kind: a share of the rise that was read at a place counts there
//! from then on, where the job states a smaller one.

use crate::bench::Doing;
use crate::job::{Coupling, Job, PartIx, Sink, StepIx, Way, Where};
use crate::quantity::Celsius;

use super::history::history;
use super::touch::{Thing, works_on};

/// Couplings of steps that are still to be done, raised to what was read in a step with the same tool on the same
/// target: the last reading of its kind counts. Computed heat learns otherwise (`learn`), and a smaller share that
/// was read lowers nothing: the next hand may be another one.
pub(super) fn teach(job: &mut Job) {
    let read = readings(job);
    let done: Vec<String> = job.done.iter().map(|event| event.step.clone()).collect();
    for s in 0..job.steps.len() {
        if done.contains(&job.steps[s].id) {
            continue;
        }
        let works_on = targets(job, StepIx(s));
        for reading in &read {
            let alike = reading.targets.iter().any(|at| works_on.contains(at));
            let names = names_of(job, reading.place);
            let ways = job.steps[s].ways.iter_mut();
            let counts =
                |way: &&mut Way| alike && way.tool == reading.way.tool && reading.says_of(way);
            for way in ways.filter(counts) {
                disbelieve(way, reading);
                raise(way, &names, reading.place, reading.share);
            }
        }
    }
}

/// A share of the rise that was read.
struct Reading {
    targets: Vec<Thing>,
    way: Way,
    place: Where,
    share: Coupling,
    /// What was read there, and at which peak of the target.
    read: Celsius,
    peak: Celsius,
}

impl Reading {
    /// What was read of a bare place says nothing of one that was measured with a heat sink on it; what was read with
    /// a shield or a sink is the least that the place gets without.
    fn says_of(&self, way: &Way) -> bool {
        let measured = |sink: &Sink| sink.on == self.place && sink.measured;
        has_sink(&self.way, self.place) || !way.sinks.iter().any(measured)
    }
}

fn has_sink(way: &Way, place: Where) -> bool {
    way.sinks.iter().any(|sink| sink.on == place)
}

/// Whether something keeps or draws heat from a place, by any of its names.
fn is_cooled(job: &Job, way: &Way, place: Where) -> bool {
    let names = names_of(job, place);
    let mut names = names.iter().flatten();
    names.any(|name| way.shielded.contains(name) || has_sink(way, *name))
}

fn readings(job: &Job) -> Vec<Reading> {
    let mut all = Vec::new();
    for planned in history(job) {
        let doing: Doing = planned.doing();
        let (Some(log), Some(way)) = (&planned.log, doing.way()) else {
            continue;
        };
        let Some(peak) = log.peak.or(way.peak) else {
            continue;
        };
        let at = job.steps.iter().position(|step| step.id == planned.step.id);
        let rise = (peak - way.preheat).kelvin();
        let Some(at) = at.filter(|_| rise > 0.0 && way.described.is_none()) else {
            continue;
        };
        for (place, t) in &log.sees {
            let share = (*t - way.preheat).kelvin() / rise;
            if let Ok(share) = Coupling::new(share) {
                let targets = targets(job, StepIx(at));
                // The last of its kind counts: whoever reads again knows better.
                all.retain(|earlier: &Reading| {
                    let alike = earlier.targets.iter().any(|at| targets.contains(at));
                    let as_cooled =
                        is_cooled(job, &earlier.way, *place) == is_cooled(job, way, *place);
                    !alike || earlier.place != *place || earlier.way.tool != way.tool || !as_cooled
                });
                all.push(Reading {
                    targets,
                    way: way.clone(),
                    place: *place,
                    share,
                    read: *t,
                    peak,
                });
            }
        }
    }
    all
}

/// The joints and parts that a step heats as its target.
fn targets(job: &Job, step: StepIx) -> Vec<Thing> {
    let things = works_on(job, step.0).into_iter();
    things
        .filter(|thing| matches!(thing, Thing::Joint(_) | Thing::Part(_)))
        .collect()
}

/// A temperature that is stated of a place, and is colder than the same heat was read to make it, at a peak that is
/// no lower: what was read is believed.
fn disbelieve(way: &mut Way, reading: &Reading) {
    let as_hot = way.peak.is_none_or(|peak| peak >= reading.peak);
    let belied = |(key, t): &(Where, Celsius)| *key == reading.place && *t < reading.read && as_hot;
    if way.sees.iter().any(belied) {
        way.sees.retain(|stated| !belied(stated));
        // A larger share that is stated besides stays.
        let own = way.couplings.iter().find(|(key, _)| *key == reading.place);
        if own.is_none_or(|(_, k)| k.factor() < reading.share.factor()) {
            way.couplings.retain(|(key, _)| *key != reading.place);
            way.couplings.push((reading.place, reading.share));
        }
    }
}

/// States the share, where something smaller is stated of the place, or of the narrowest that it lies in.
fn raise(way: &mut Way, names: &[Vec<Where>], place: Where, share: Coupling) {
    let stated = |keys: &Vec<Where>| {
        let of_keys = way.couplings.iter().filter(|(key, _)| keys.contains(key));
        of_keys.map(|(_, k)| k.factor()).reduce(f64::max)
    };
    let narrowest = names.iter().find_map(stated);
    if narrowest.is_some_and(|k| share.factor() > k) {
        way.couplings.retain(|(key, _)| *key != place);
        way.couplings.push((place, share));
    }
}

/// The names that a place goes by, from the narrowest to the widest.
fn names_of(job: &Job, place: Where) -> Vec<Vec<Where>> {
    let mut parts: Vec<PartIx> = Vec::new();
    let mut zones = Vec::new();
    match place {
        Where::Joint(at) => {
            let stands = |p: &usize| job.parts[*p].on.contains(&at);
            parts.extend((0..job.parts.len()).filter(stands).map(PartIx));
            parts.extend(job.joints[at.0].site_of);
            zones.extend(job.joints[at.0].zone);
        }
        Where::Part(at) => zones.extend(job.parts[at.0].zone),
        Where::Guard(at) => zones.extend(job.guards[at.0].zone),
        Where::Zone(_) | Where::Rest => {}
    }
    zones.extend(parts.iter().filter_map(|part| job.parts[part.0].zone));
    vec![
        vec![place],
        parts.into_iter().map(Where::Part).collect(),
        zones.into_iter().map(Where::Zone).collect(),
        vec![Where::Rest],
    ]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::alloy::AlloyBook;
    use crate::job::read;

    fn couplings(k: &str, tool: &str, done: &str) -> Vec<(Where, f64)> {
        cooled_couplings("", k, tool, done)
    }

    /// `first` is what more is said of the first step.
    fn cooled_couplings(first: &str, k: &str, tool: &str, done: &str) -> Vec<(Where, f64)> {
        let text = format!(
            "job: a table\njoints: [{{id: a}}, {{id: b}}, {{id: c, alloy: Sn63Pb37, mg: 1}}]\nsteps:\n  \
             - {{id: one, do: solder, joint: a, alloy: Sn63Pb37, mg: 1, tool: iron, k: {{c: 0.3}}{first}}}\n  \
             - {{id: two, do: solder, joint: a, alloy: Sn63Pb37, mg: 1, tool: {tool}, k: {{{k}}}}}\n  \
             - {{id: other, do: solder, joint: b, alloy: Sn63Pb37, mg: 1, tool: iron, k: {{c: 0.2}}}}\ndone:\n{done}"
        );
        let read = read(&text, "table.yaml", AlloyBook::shipped());
        let mut job = read.unwrap_or_else(|faults| panic!("{faults}")).job;
        teach(&mut job);
        // Nothing is said of another target.
        assert!((job.steps[2].ways[0].couplings[0].1.factor() - 0.2).abs() < 1e-9);
        let ways = job.steps[1].ways[0].couplings.iter();
        ways.map(|(place, k)| (*place, k.factor())).collect()
    }

    /// Read 125 °C at 225: 100 of 200 K of rise.
    #[test]
    fn what_was_read_counts_where_less_is_stated() {
        let c = Where::Joint(crate::job::JointIx(2));
        let line = "  - {step: one, peak_c: 225, sees_c: {c: 125}}\n";
        assert_eq!(couplings("c: 0.3", "iron", line), [(c, 0.5)]);
        assert_eq!(couplings("c: 0.6", "iron", line), [(c, 0.6)]);
        assert_eq!(couplings("c: 0.3", "air", line), [(c, 0.3)]);
        assert_eq!(
            couplings("rest: 0.3", "iron", line),
            [(Where::Rest, 0.3), (c, 0.5)]
        );
        assert_eq!(couplings("rest: 0.7", "iron", line), [(Where::Rest, 0.7)]);
        // What is said of another place says nothing of this one.
        let b = Where::Joint(crate::job::JointIx(1));
        assert_eq!(
            couplings("b: 0.9, rest: 0.3", "iron", line),
            [(b, 0.9), (Where::Rest, 0.3), (c, 0.5)]
        );
        // Without a peak nobody knows what share that was.
        let blind = "  - {step: one, sees_c: {c: 125}}\n";
        assert_eq!(couplings("c: 0.3", "iron", blind), [(c, 0.3)]);
        // The last reading of its kind counts.
        let twice = "  - {step: one, peak_c: 225, sees_c: {c: 165}}\n  - {step: one, peak_c: 225, sees_c: {c: 105}}\n";
        assert_eq!(couplings("c: 0.3", "iron", twice), [(c, 0.4)]);
    }

    /// Read 125 °C at 225: a step that is as hot does not leave it at 60.
    #[test]
    fn a_stated_temperature_that_a_reading_belies_does_not_count() {
        let stated = |t: u32, peak: u32, k: &str| {
            let step = |id: &str, more: &str| {
                format!(
                    "- {{id: {id}, do: solder, joint: a, alloy: Sn63Pb37, mg: 1, tool: iron{more}}}\n"
                )
            };
            let two = format!(", peak_c: {peak}, sees_c: {{c: {t}}}{k}");
            let text = format!(
                "job: a table\njoints: [{{id: a}}, {{id: c, alloy: Sn63Pb37, mg: 1}}]\nsteps:\n{}{}done:\n\
                 - {{step: one, peak_c: 225, sees_c: {{c: 125}}}}\n",
                step("one", ", k: {c: 0.3}"),
                step("two", &two)
            );
            let read = read(&text, "table.yaml", AlloyBook::shipped());
            let mut job = read.unwrap_or_else(|faults| panic!("{faults}")).job;
            teach(&mut job);
            let way = &job.steps[1].ways[0];
            let k = way.couplings.iter().map(|(_, k)| k.factor());
            (way.sees.len(), k.fold(0.0, f64::max))
        };
        assert_eq!(
            (stated(124, 225, ""), stated(60, 240, "")),
            ((0, 0.5), (0, 0.5))
        );
        assert_eq!(
            (stated(125, 225, ""), stated(60, 224, "")),
            ((1, 0.0), (1, 0.0))
        );
        // What is stated as a share besides, and is more, stays.
        assert_eq!(stated(60, 240, ", k: {c: 0.9}"), (0, 0.9));
        assert_eq!(stated(60, 240, ", k: {c: 0.1}"), (0, 0.5));
    }

    /// A place with a heat sink on it gets at least that much without; what a bare place got says nothing of one
    /// that was measured with a sink.
    #[test]
    fn a_heat_sink_hides_no_reading_of_a_bare_place() {
        let c = Where::Joint(crate::job::JointIx(2));
        let line = "  - {step: one, peak_c: 225, sees_c: {c: 125}}\n";
        let sink = ", sinks: c";
        assert_eq!(cooled_couplings(sink, "c: 0.3", "iron", line), [(c, 0.5)]);
        let measured = "iron, sinks: c, k_with_sink: {c: 0.2}";
        assert!(couplings("rest: 0.3", measured, line).contains(&(c, 0.2)));
        // Read bare first, then cooler with the sink on: the bare one still counts for the next bare heat.
        let step = |id: &str, more: &str| {
            format!(
                "- {{id: {id}, do: solder, joint: a, alloy: Sn63Pb37, mg: 1, tool: iron, k: {{c: 0.3}}{more}}}\n"
            )
        };
        let text = format!(
            "job: a table\njoints: [{{id: a}}, {{id: b}}, {{id: c, alloy: Sn63Pb37, mg: 1}}]\nsteps:\n{}{}{}done:\n\
             - {{step: one, peak_c: 225, sees_c: {{c: 165}}}}\n- {{step: two, peak_c: 225, sees_c: {{c: 105}}}}\n",
            step("one", ""),
            step("two", sink),
            step("three", "")
        );
        let read = read(&text, "table.yaml", AlloyBook::shipped());
        let mut job = read.unwrap_or_else(|faults| panic!("{faults}")).job;
        teach(&mut job);
        let (place, k) = job.steps[2].ways[0].couplings[0];
        assert!(place == c && (k.factor() - 0.7).abs() < 1e-9, "{k:?}");
    }
}
