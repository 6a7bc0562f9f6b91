//! Cautions, chosen by what a job does.
//!
//! The words and their sources are data (`alloys/limits/safety.yaml`, group `cautions`); which of
//! them apply is decided here. They defer to local rules and to qualified people.

use std::fmt::Write as _;
use std::sync::OnceLock;

use serde::Deserialize;
use serde_json::{Value, json};

use crate::alloy::{Composition, Element, limits};
use crate::bench::{Bench, Doing, solder_choice};
use crate::job::{Adhesive, Content, GuardKind, Job, Solder, Tool, Work};
use crate::plan::{Checked, CheckedStep};
use crate::quantity::Share;
use crate::yaml;

/// One caution as it is printed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Caution {
    /// What it is about: "Lead".
    pub topic: String,
    /// What to do.
    pub say: String,
    /// Where it comes from, as printed: `S43`, `S64, from memory`, `common practice, no source`.
    pub mark: String,
}

/// What a job does that calls for a caution.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Deserialize)]
#[serde(rename_all = "snake_case")]
enum When {
    /// Whatever it does.
    Always,
    /// It heats anything.
    Heat,
    /// It heats in an oven or on a plate.
    Food,
    /// It blows hot air.
    Air,
    /// It heats with an infra-red head.
    Rays,
    /// A joint, ball, residue or reel holds or may hold lead.
    Lead,
    /// Cadmium is present.
    Cadmium,
    /// Indium is present.
    Indium,
    /// Gallium or mercury is present.
    Gallium,
    /// Some alloy is not known.
    UnknownAlloy,
    /// Enamel or glue gets warm.
    Organic,
    /// A part is held by glue that heat does not soften.
    Mill,
    /// A mask is cured.
    Lamp,
    /// Parts are handled.
    Handling,
    /// The board gets power.
    Power,
    /// A part holds the data.
    Vital,
    /// The job is to stay lead-free.
    LeadFree,
}

#[derive(Debug, Deserialize)]
struct Row {
    when: When,
    topic: String,
    say: String,
    from: Vec<String>,
    mark: String,
}

#[derive(Debug, Deserialize)]
struct File {
    cautions: Vec<Row>,
}

#[expect(
    clippy::expect_used,
    reason = "embedded data; `every_caution_can_be_called_for` reads it"
)]
fn rows() -> &'static [Row] {
    static ROWS: OnceLock<Vec<Row>> = OnceLock::new();
    ROWS.get_or_init(|| {
        let file: File = yaml::read(limits::SAFETY).expect("the shipped cautions are readable");
        file.cautions
    })
}

impl Row {
    fn caution(&self) -> Caution {
        let documents: Vec<&str> = self
            .from
            .iter()
            .map(String::as_str)
            .filter(|id| *id != "practice")
            .collect();
        let mark = match (self.mark.as_str(), documents.as_slice()) {
            ("practice", _) | (_, []) => "common practice, no source".to_owned(),
            ("memory", documents) => format!("{}, from memory", documents.join(", ")),
            (_, documents) => documents.join(", "),
        };
        Caution {
            topic: self.topic.clone(),
            say: self.say.clone(),
            mark,
        }
    }
}

/// The cautions that apply to this job as it is checked, in the order in which they are printed.
pub fn cautions_of(job: &Job, checked: &Checked) -> Vec<Caution> {
    let metal = metal(job, checked);
    rows()
        .iter()
        .filter(|row| applies(row.when, job, checked, &metal))
        .map(Row::caution)
        .collect()
}

/// The cautions that belong beside one step, since only such a step calls for them.
pub(super) fn beside(job: &Job, step: &CheckedStep) -> Vec<Caution> {
    let belongs = |when: When| match when {
        When::Lamp => cures_mask(job, step),
        When::Power => step.planned.step.work == Work::Power,
        When::Rays => tool(step) == Some(Tool::Infrared),
        When::Food => matches!(tool(step), Some(Tool::Oven | Tool::Plate)),
        _ => false,
    };
    let rows = rows().iter().filter(|row| belongs(row.when));
    rows.map(Row::caution).collect()
}

/// Everything that the program may ever say, for the README and the manual.
pub fn all_cautions() -> Vec<Caution> {
    rows().iter().map(Row::caution).collect()
}

fn applies(when: When, job: &Job, checked: &Checked, metal: &[Composition]) -> bool {
    let any_step = |does: &dyn Fn(&CheckedStep) -> bool| checked.steps.iter().any(does);
    match when {
        When::Always => true,
        When::Heat => any_step(&heats),
        When::Food => any_step(&|step| matches!(tool(step), Some(Tool::Oven | Tool::Plate))),
        When::Air => any_step(&|step| tool(step) == Some(Tool::Air)),
        When::Rays => any_step(&|step| tool(step) == Some(Tool::Infrared)),
        When::Lead => holds(metal, Element::Pb),
        When::Cadmium => holds(metal, Element::Cd),
        When::Indium => holds(metal, Element::In),
        When::Gallium => holds(metal, Element::Ga) || holds(metal, Element::Hg),
        When::UnknownAlloy => !job.reels.is_empty(),
        When::Organic => any_step(&heats) && has_organics(job),
        When::Mill => job
            .parts
            .iter()
            .any(|part| part.adhesive == Adhesive::NotReworkable),
        When::Lamp => any_step(&|step| cures_mask(job, step)),
        When::Handling => any_step(&|step| {
            matches!(
                step.planned.step.work,
                Work::Place { .. } | Work::Remove { .. } | Work::Reball { .. } | Work::Move { .. }
            )
        }),
        When::Power => any_step(&|step| step.planned.step.work == Work::Power),
        When::Vital => job.parts.iter().any(|part| part.vital),
        When::LeadFree => job.want.lead_free,
    }
}

/// Presence that calls for care: 0.01 mass%, the smallest share that any rule names (cadmium).
fn holds(metal: &[Composition], element: Element) -> bool {
    let enough = Share::nearest(0.0001);
    metal.iter().any(|c| c.share(element) >= enough)
}

fn tool(step: &CheckedStep) -> Option<Tool> {
    let way = step.planned.step.ways.get(step.planned.pick.way)?;
    let logged = step.planned.log.as_ref().and_then(|log| log.tool);
    Some(logged.unwrap_or(way.tool))
}

fn heats(step: &CheckedStep) -> bool {
    tool(step).is_some_and(|tool| tool != Tool::None)
}

fn has_organics(job: &Job) -> bool {
    let glued = |part: &crate::job::Part| part.adhesive != Adhesive::None;
    let wired = job.wires.iter().any(|wire| wire.enamel_limit.is_some());
    let strips = |step: &crate::job::Step| matches!(step.work, Work::OtherHeat { strip: true, .. });
    let soft = |guard: &crate::job::Guard| {
        matches!(
            guard.kind,
            GuardKind::Mask | GuardKind::Glue | GuardKind::Enamel
        )
    };
    wired
        || job.parts.iter().any(glued)
        || job.steps.iter().any(strips)
        || job.guards.iter().any(soft)
}

fn cures_mask(job: &Job, step: &CheckedStep) -> bool {
    let Work::Cover { guard, .. } = step.planned.step.work else {
        return false;
    };
    job.guards
        .get(guard.0)
        .is_some_and(|guard| guard.kind == GuardKind::Mask)
}

/// All metal that is on the bench at some time, is used up in a step, or may be what is not known.
fn metal(job: &Job, checked: &Checked) -> Vec<Composition> {
    let benches = checked.steps.iter().map(|step| &step.before);
    let mut all: Vec<Composition> = benches.chain([&checked.end]).flat_map(on_bench).collect();
    all.extend(
        checked
            .steps
            .iter()
            .flat_map(used_up)
            .map(|s| s.composition),
    );
    let may_be = job.reels.iter().flat_map(|reel| &reel.candidates);
    all.extend(may_be.map(|s| s.composition));
    let balls = job.parts.iter().filter_map(|part| part.balls.as_ref());
    let of_balls = balls.filter_map(|balls| match &balls.content {
        Content::Known(solder) => Some(solder.composition),
        Content::Reel(_) => None,
    });
    all.extend(of_balls);
    all
}

fn on_bench(bench: &Bench) -> impl Iterator<Item = Composition> + '_ {
    let joints = bench.joints.iter().flat_map(|joint| &joint.layers);
    let parts = bench.parts.iter().flat_map(|part| &part.carries);
    joints
        .chain(parts)
        .filter_map(|layer| layer.blend.composition())
}

fn used_up(step: &CheckedStep) -> Vec<Solder> {
    let work = &step.planned.step.work;
    let doing = Doing {
        log: step.planned.log.as_ref(),
        ..Doing::planned(&step.planned.step, step.planned.pick)
    };
    let logged = step.planned.log.as_ref().and_then(|log| log.alloy.clone());
    let chosen = solder_choice(work).and_then(|choice| doing.solder(choice).cloned());
    let flood = match work {
        Work::Clean { flood, .. } => flood.as_ref().map(|(solder, _)| solder.clone()),
        _ => None,
    };
    logged.into_iter().chain(chosen).chain(flood).collect()
}

/// As the end of a text answer.
pub fn text(cautions: &[Caution]) -> String {
    let mut text = String::from("\nTake care\n");
    for caution in cautions {
        let _ = writeln!(
            text,
            "  - {}: {} ({})",
            caution.topic, caution.say, caution.mark
        );
    }
    text
}

/// As JSON.
pub fn json(cautions: &[Caution]) -> Value {
    let all = cautions.iter();
    all.map(|c| json!({"topic": c.topic, "say": c.say, "mark": c.mark}))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::alloy::AlloyBook;
    use crate::bench::Setting;
    use crate::job;
    use crate::melt::MeltBook;
    use crate::plan;
    use std::sync::Arc;

    fn topics(text: &str) -> Vec<String> {
        let book = AlloyBook::shipped();
        let read = job::read(text, "job.yaml", book).expect("a job");
        let melts = MeltBook::new(Arc::new(book.clone()), Vec::new());
        let setting = Setting::new(&read.job, &melts);
        let checked = plan::check(&setting, &plan::as_written(&read.job).plan);
        let cautions = cautions_of(&read.job, &checked);
        cautions.into_iter().map(|c| c.topic).collect()
    }

    const LEADED: &str = "
job: bell-ringing counter
joints:
  - {id: a}
steps:
  - {id: one, do: solder, joint: a, alloy: Sn63Pb37, mg: 0.1, tool: iron}
";

    #[test]
    fn a_hand_soldered_leaded_joint_calls_for_what_it_needs_and_no_more() {
        let topics = topics(LEADED);
        let want = [
            "Cells and capacitors",
            "Lead",
            "Flux fume",
            "Eyes",
            "Hot metal",
            "Solvent",
            "This plan",
        ];
        assert_eq!(topics, want);
    }

    #[test]
    fn lead_left_on_a_pad_counts() {
        let text = LEADED.replace("{id: a}", "{id: a, residue: {alloy: Sn63Pb37, mg: 0.001}}");
        assert!(
            topics(&text.replace("alloy: Sn63Pb37, mg: 0.1", "alloy: Bi58Sn42, mg: 0.1"))
                .contains(&"Lead".to_owned())
        );
        let clean = LEADED.replace("Sn63Pb37", "Bi58Sn42");
        assert!(!topics(&clean).contains(&"Lead".to_owned()));
    }

    /// One job for each thing that is done, so that no row of the data is never printed.
    #[test]
    fn every_caution_can_be_called_for() {
        let jobs = [
            LEADED,
            "
job: a bit of everything
want: {lead_free: true, accept_cadmium: I have extraction and I accept cadmium fume}
guards: [{id: mask, limit_c: 200}]
parts:
  - {id: U1, balls: {count: 4, diameter_um: 300, alloy: unknown}, glue: not_reworkable, vital: true}
joints:
  - {id: site, at: U1}
  - {id: b, alloy: In52Sn48}
  - {id: c, alloy: Ga75.5In24.5}
  - {id: d, alloy: Bi50Pb26.7Sn13.3Cd10}
steps:
  - {id: lamp, do: cure, guard: mask, over: b}
  - {id: set, do: place, part: U1, on: site, tool: air}
  - {id: rays, do: heat, joint: b, tool: infrared, peak_c: 150, after: set}
  - {id: on, do: power, after: set}
",
            "
job: baked
parts: [{id: U1}]
steps: [{id: dry, do: bake, part: U1, tool: oven, peak_c: 125, hours: 24}]
",
        ];
        let said: Vec<String> = jobs.iter().flat_map(|job| topics(job)).collect();
        for caution in all_cautions() {
            assert!(said.contains(&caution.topic), "{}", caution.topic);
            assert!(!caution.mark.is_empty());
        }
    }
}
