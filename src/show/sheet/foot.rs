//! The foot of a sheet: what is not said step by step.

use crate::alloy::Element;
use crate::bench::{JointNow, Note, ServiceLimit, Setting};
use crate::job::{Adhesive, Job, JointIx, PartIx, Work};
use crate::melt::Melt;
use crate::plan::Checked;
use crate::policy;
use crate::quantity::{Celsius, KelvinStep};
use std::sync::Arc;

use super::page::short;
use crate::show::answer::Frame;
use crate::show::chart::Scale;
use crate::show::check::worlds_lines;
use crate::show::electric;
use crate::show::say::{Names, Say, tenth};

/// Lines under a heading.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Block {
    /// What it is about.
    pub heading: &'static str,
    /// In order; never empty.
    pub lines: Vec<String>,
}

/// All blocks that have something to say.
pub(super) fn blocks(setting: &Setting, checked: &Checked, frame: &Frame, say: Say) -> Vec<Block> {
    let job = setting.job();
    let end = End::of(setting, checked);
    let all = [
        ("Depends on", worlds_lines(job, checked)),
        ("Mind", mind(job, checked, say)),
        ("Clean-up", clean_up(job, checked)),
        ("Heats", heats(job, checked, say)),
        ("Wires", electric::wire_lines(job)),
        ("Before power", electric::check_lines(job, checked)),
        ("Never again on this board", never(job, &end, say)),
        ("In use", service(job, &end, say)),
        ("If a step goes wrong", gone_wrong(setting, checked, say)),
        ("Know as well", frame.warnings.clone()),
        ("Taken for granted", assumed(frame)),
    ];
    let all = all.into_iter().filter(|(_, lines)| !lines.is_empty());
    let scaled = |line: &String| in_scale(line, say);
    all.map(|(heading, lines)| Block {
        heading,
        lines: lines.iter().map(scaled).collect(),
    })
    .collect()
}

/// Words of ours that name a temperature, in the scale of the sheet.
pub(super) fn in_scale(text: &str, say: Say) -> String {
    if say.scale == Scale::Celsius {
        return text.to_owned();
    }
    let mut out = String::new();
    let mut rest = text;
    while let Some(at) = rest.find(" °C") {
        let (before, after) = rest.split_at(at);
        let number = before
            .rfind(|c: char| !(c.is_ascii_digit() || c == '.'))
            .map_or(0, |last| {
                last + before[last..].chars().next().map_or(1, char::len_utf8)
            });
        let (words, number) = before.split_at(number);
        out.push_str(words);
        if let Ok(number) = number.parse::<f64>() {
            out.push_str(&say.t(Celsius::nearest(number)));
        } else {
            out.push_str(number);
            out.push_str(" °C");
        }
        rest = &after[" °C".len()..];
    }
    out + rest
}

/// Standing joints at the end of the plan.
struct End<'a> {
    joints: Vec<(JointIx, &'a JointNow, Arc<Melt>)>,
    margin: KelvinStep,
    superheat: KelvinStep,
    parts: Vec<(PartIx, JointIx)>,
}

impl<'a> End<'a> {
    fn of(setting: &Setting, checked: &'a Checked) -> Self {
        let joints = checked.end.joints.iter().enumerate();
        let standing = joints.filter(|(_, joint)| joint.standing && !joint.layers.is_empty());
        let parts = checked.end.parts.iter().enumerate();
        End {
            joints: standing
                .map(|(j, joint)| {
                    let melt = setting.melt(&joint.layers, joint.contact);
                    (JointIx(j), joint, melt)
                })
                .collect(),
            margin: setting.job().want.margin,
            superheat: setting.job().want.superheat,
            parts: parts
                .filter_map(|(p, part)| Some((PartIx(p), *part.on.first()?)))
                .collect(),
        }
    }
}

fn numbers(steps: &[usize]) -> String {
    let all: Vec<String> = steps.iter().map(|at| (at + 1).to_string()).collect();
    all.join(", ")
}

/// Notes of open steps, each once with the steps that it holds for. Gaps are left to `check`: what
/// each joint really sees stands in the rows.
fn mind(job: &Job, checked: &Checked, say: Say) -> Vec<String> {
    let mut told: Vec<(String, Vec<usize>)> = Vec::new();
    for (at, step) in checked.steps.iter().enumerate() {
        if step.planned.log.is_some() {
            continue;
        }
        for note in &step.passage.notes {
            if matches!(note, Note::SmallGap(..)) {
                continue;
            }
            let words = Names(job).note(say, note);
            match told.iter_mut().find(|(of, _)| *of == words) {
                Some((_, steps)) => steps.push(at),
                None => told.push((words, vec![at])),
            }
        }
    }
    told.into_iter()
        .map(|(words, steps)| format!("step {}: {words}", numbers(&steps)))
        .collect()
}

fn clean_up(job: &Job, checked: &Checked) -> Vec<String> {
    let mut lines = Vec::new();
    for (at, step) in checked.steps.iter().enumerate() {
        let Work::Clean {
            rounds,
            flood,
            film,
            ..
        } = &step.planned.step.work
        else {
            continue;
        };
        let doing = crate::bench::Doing {
            log: step.planned.log.as_ref(),
            ..crate::bench::Doing::planned(&step.planned.step, step.planned.pick)
        };
        let how = match (doing.rounds(rounds), flood) {
            (0, _) => "wick only".to_owned(),
            (rounds, Some((solder, mass))) => format!(
                "{rounds} × {} mg {} on each pad, wick after each",
                tenth(mass.mg()),
                solder.name
            ),
            (rounds, None) => format!("{rounds} rounds"),
        };
        let film = film.map_or_else(String::new, |film| {
            format!(", {} µm taken to stay", tenth(film.um()))
        });
        let target = Names(job).target(&step.planned.step.work);
        lines.push(format!("step {}: {target}: {how}{film}", at + 1));
    }
    lines
}

fn heats(job: &Job, checked: &Checked, say: Say) -> Vec<String> {
    let mut lines = Vec::new();
    for ledger in checked.ledgers.iter().filter(|ledger| ledger.heats > 0) {
        let taken = |part: PartIx| {
            let steps = checked.steps.iter().enumerate();
            steps
                .filter(|(_, step)| step.passage.heats.iter().any(|(of, _)| *of == part))
                .map(|(at, _)| at)
                .collect::<Vec<_>>()
        };
        let vital = if job.parts[ledger.part.0].vital {
            " (holds the data)"
        } else {
            ""
        };
        let left = ledger.left.map_or_else(
            || "no limit stated".to_owned(),
            |left| format!("{left} left after"),
        );
        let peak = ledger
            .peak
            .map_or_else(String::new, |t| format!(", hottest {}", say.t(t)));
        lines.push(format!(
            "{}{vital}: {} before, {} here (steps {}), {left}{peak}",
            Names(job).part(ledger.part),
            ledger.before,
            ledger.heats,
            numbers(&taken(ledger.part))
        ));
    }
    lines
}

/// What the finished board may never see again.
fn never(job: &Job, end: &End, say: Say) -> Vec<String> {
    let mut lines = Vec::new();
    lines.extend(lowest_heat(job, end, say));
    lines.extend(mixing(job, end, say));
    for (part, joint) in &end.parts {
        lines.push(removal(job, end, *part, *joint, say));
    }
    lines
}

fn lowest_heat(job: &Job, end: &End, say: Say) -> Option<String> {
    let unknown = end
        .joints
        .iter()
        .find(|(_, _, melt)| melt.survival.is_none());
    if let Some((joint, ..)) = unknown {
        let joint = Names(job).joint(*joint);
        return Some(format!(
            "no bake, oven or plate before it is known when {joint} melts"
        ));
    }
    let lowest = end
        .joints
        .iter()
        .filter_map(|(joint, _, melt)| Some((melt.survival?, *joint)))
        .min()?;
    Some(format!(
        "no bake, oven or plate above {} ({} is solid up to {}, {} kept)",
        say.t(lowest.0 - end.margin),
        Names(job).joint(lowest.1),
        say.t(lowest.0),
        say.dt(end.margin)
    ))
}

fn holds(joint: &JointNow, element: Element) -> bool {
    let total: f64 = joint.layers.iter().map(|l| l.blend.total().mg()).sum();
    let of: f64 = joint
        .layers
        .iter()
        .map(|l| l.blend.mass_of(element).mg())
        .sum();
    of >= policy::BISMUTH_LEAD_COUNTS.fraction() * total && of > 0.0
}

fn mixing(job: &Job, end: &End, say: Say) -> Vec<String> {
    let with = |has: Element, lacks: Element| -> Vec<&str> {
        let joints = end.joints.iter();
        joints
            .filter(|(_, joint, _)| holds(joint, has) && !holds(joint, lacks))
            .map(|(joint, ..)| Names(job).joint(*joint))
            .collect()
    };
    let near = say.t(policy::BISMUTH_LEAD_TIN);
    let mut lines = Vec::new();
    let bismuth = with(Element::Bi, Element::Pb);
    if !bismuth.is_empty() {
        lines.push(format!(
            "no leaded solder, wick or tip on {}: bismuth and lead melt near {near}",
            bismuth.join(", ")
        ));
    }
    let leaded = with(Element::Pb, Element::Bi);
    if !leaded.is_empty() {
        lines.push(format!(
            "no bismuth solder or tip on {}: lead and bismuth melt near {near}",
            leaded.join(", ")
        ));
    }
    lines
}

fn removal(job: &Job, end: &End, part: PartIx, joint: JointIx, say: Say) -> String {
    let name = Names(job).part(part);
    match job.parts[part.0].adhesive {
        Adhesive::NotReworkable => {
            return format!("{name} does not come off by heat: its glue must be milled away");
        }
        Adhesive::Unknown => return format!("find out what glue holds {name} before any removal"),
        Adhesive::None | Adhesive::Reworkable => {}
    }
    let melt = end.joints.iter().find(|(of, ..)| *of == joint);
    match melt.and_then(|(_, _, melt)| melt.flow) {
        Some(flow) => format!(
            "{name} comes off at {} (all liquid from {}), not at its first melt",
            say.t(flow + end.superheat),
            say.t(flow)
        ),
        None => format!("nobody knows when {name} comes off"),
    }
}

/// The lowest service limit of all joints.
fn service(job: &Job, end: &End, say: Say) -> Vec<String> {
    let unknown = end
        .joints
        .iter()
        .find(|(_, _, melt)| melt.first_melt.is_none());
    if let Some((joint, ..)) = unknown {
        return vec![format!(
            "no limit can be given: nobody knows when {} melts",
            Names(job).joint(*joint)
        )];
    }
    let limits = end.joints.iter().filter_map(|(joint, _, melt)| {
        let limit = ServiceLimit::of(melt.first_melt?);
        Some((limit.stricter(), limit, *joint))
    });
    let Some((stricter, limit, joint)) = limits.min_by_key(|(stricter, ..)| *stricter) else {
        return Vec::new();
    };
    let wanted = job
        .want
        .service
        .map_or_else(String::new, |t| format!("; the job asks for {}", say.t(t)));
    vec![format!(
        "up to {} ({}: stricter of first melt − {} = {} and 0.9 × kelvin = {}){wanted}",
        say.t(stricter),
        Names(job).joint(joint),
        say.dt(KelvinStep::whole(50)),
        say.t_bare(limit.minus_50),
        say.t_bare(limit.ninety_percent)
    )]
}

fn gone_wrong(setting: &Setting, checked: &Checked, say: Say) -> Vec<String> {
    let job = setting.job();
    let mut lines = vec![
        "stop, let it cool, write the peak you read and what you see; log it (did JOB STEP --failed \"why\") and ask for a new order. Never simply repeat it: metal and heats have changed".to_owned(),
    ];
    for (at, step) in checked.steps.iter().enumerate() {
        let Work::Place { part, on, .. } = &step.planned.step.work else {
            continue;
        };
        // Where a part stands in the end is told among what may never be done again.
        let stays = checked.end.parts[part.0].on == *on;
        if step.planned.log.is_some() || stays {
            continue;
        }
        let flows = on.iter().map(|at| {
            let after = &step.passage.next.joints[at.0];
            setting.melt(&after.layers, after.contact).flow
        });
        // All of its groups must be liquid.
        let flow = flows.reduce(|one, other| Some(one?.max(other?))).flatten();
        let name = Names(job).part(*part);
        lines.push(match flow {
            Some(flow) => format!(
                "after step {}: {name} comes off again at {} (all liquid from {})",
                at + 1,
                say.t(flow + job.want.superheat),
                say.t(flow)
            ),
            None => format!(
                "after step {}: nobody knows when {name} comes off again",
                at + 1
            ),
        });
    }
    lines
}

fn assumed(frame: &Frame) -> Vec<String> {
    let all = frame.assumptions.iter();
    let all: Vec<String> = all
        .map(|a| {
            let unit = if a.unit.is_empty() {
                String::new()
            } else {
                format!(" {}", a.unit)
            };
            // On paper a name needs no mark of its own.
            let what = a.what.replace('`', "");
            format!("{what}: {}{unit} ({})", a.value, short(&a.mark))
        })
        .collect();
    if all.is_empty() {
        all
    } else {
        vec![all.join("; ")]
    }
}

/// Units and data.
pub(super) fn small(say: Say, data: &str) -> Vec<String> {
    let degrees = match say.scale {
        Scale::Celsius => "Temperatures in °C, differences in K",
        Scale::Fahrenheit => "Temperatures and differences in °F",
    };
    vec![
        format!("{degrees}, at the joint and not at the tool; alloys in mass per cent."),
        "S…: sources.yaml of the limits; practice: common practice, no source; judgement: ours."
            .to_owned(),
        format!("{data}."),
    ]
}
