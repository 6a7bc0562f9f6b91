//! The bench as it is after all that the log tells: what stands, of what, from where it melts, what it must bear.
//!
//! Where an alloy is not known, a joint is told with the lowest first melt and the highest flow of all that it may
//! be, and one that is not known in any of them is not known at all.

use std::fmt::Write as _;

use serde_json::{Value, json};

use crate::bench::{Bench, JointNow, PartNow, Setting};
use crate::job::{Job, JointIx, Must, PartIx};
use crate::melt::{Layer, Melt};
use crate::plan::{Start, start, worlds};
use crate::quantity::Celsius;

use super::answer::Frame;
use super::check::suspicions;
use super::say::{Names, Say, harmless};
use super::staircase::metal_name;
use super::table::table;

/// A group of joints now.
#[derive(Clone, Debug, PartialEq)]
pub struct JointNowTold {
    /// Which.
    pub joint: JointIx,
    /// As written.
    pub id: String,
    /// Members.
    pub count: u32,
    /// Soldered and standing; otherwise pads, bare or with old solder.
    pub standing: bool,
    /// What is there, in a word or two.
    pub is: &'static str,
    /// Its metal; empty where there is none.
    pub made_of: String,
    /// It has metal, and what that is or how much of it there is somebody has to find out.
    pub unsure: bool,
    /// Counted as solid up to there; none: no metal, or not known.
    pub solid_to: Option<Celsius>,
    /// All of it flows there; none as above.
    pub flows_at: Option<Celsius>,
    /// What it must withstand.
    pub must: &'static str,
    /// Guards over it, wires at it, parts on it, and whether anybody reaches it.
    pub about: Vec<String>,
}

/// A part now.
#[derive(Clone, Debug, PartialEq)]
pub struct PartNowTold {
    /// As written.
    pub id: String,
    /// Where it is.
    pub is: String,
    /// What it carries below it while it is off the board; empty where nothing.
    pub carries: String,
    /// It holds the data.
    pub vital: bool,
    /// Hottest that its body may see; none: nobody said.
    pub limit: Option<Celsius>,
    /// Heats it has taken, before the job and in it.
    pub heats: u32,
    /// Heats that it may still take, where that is known.
    pub heats_left: Option<i64>,
}

/// A thing with a limit now.
#[derive(Clone, Debug, PartialEq)]
pub struct GuardNowTold {
    /// As written.
    pub id: String,
    /// It is there.
    pub is_there: bool,
    /// Hottest it may see.
    pub limit: Celsius,
}

/// All that stands and lies there.
#[derive(Clone, Debug, PartialEq)]
pub struct BenchTold {
    /// In the order of the job.
    pub joints: Vec<JointNowTold>,
    /// In the order of the job.
    pub parts: Vec<PartNowTold>,
    /// In the order of the job.
    pub guards: Vec<GuardNowTold>,
    /// Lines of the log.
    pub logged: usize,
    /// What must be looked at.
    pub look_at: Vec<String>,
    /// The check before power has passed since the last heat.
    pub checked: bool,
}

/// The bench after the log of the setting's job.
pub fn of(setting: &Setting) -> BenchTold {
    let job = setting.job();
    let all: Vec<(Setting, Start)> = worlds(setting)
        .into_iter()
        .map(|world| {
            let setting = setting.in_world(world);
            let now = start(&setting);
            (setting, now)
        })
        .collect();
    let benches: Vec<(&Setting, &Bench)> = all.iter().map(|(s, now)| (s, &now.bench)).collect();
    let joints = (0..job.joints.len()).map(|j| joint_told(job, JointIx(j), &benches));
    let parts = (0..job.parts.len()).map(|p| part_told(job, PartIx(p), &all));
    let guards = job
        .guards
        .iter()
        .enumerate()
        .map(|(g, guard)| GuardNowTold {
            id: harmless(&guard.id),
            is_there: benches.iter().any(|(_, bench)| bench.guards[g].exists),
            limit: guard.limit,
        });
    let mut look_at: Vec<String> = Vec::new();
    for line in benches.iter().flat_map(|(_, bench)| suspicions(job, bench)) {
        if !look_at.contains(&line) {
            look_at.push(line);
        }
    }
    BenchTold {
        joints: joints.collect(),
        parts: parts.collect(),
        guards: guards.collect(),
        logged: job.done.len(),
        look_at,
        checked: benches.iter().all(|(_, bench)| bench.checked),
    }
}

fn joint_told(job: &Job, at: JointIx, benches: &[(&Setting, &Bench)]) -> JointNowTold {
    let joint = &job.joints[at.0];
    let now: Vec<(&Setting, &JointNow)> = benches
        .iter()
        .map(|(setting, bench)| (*setting, &bench.joints[at.0]))
        .collect();
    let melts: Vec<_> = now
        .iter()
        .map(|(setting, joint)| setting.melt(&joint.layers, joint.contact))
        .collect();
    let has_metal = now.iter().any(|(_, joint)| !joint.layers.is_empty());
    let standing = now.iter().any(|(_, joint)| joint.standing);
    let names: Vec<String> = now.iter().map(|(_, joint)| metals(&joint.layers)).collect();
    let known = |of: &dyn Fn(&Melt) -> Option<Celsius>| -> Option<Vec<Celsius>> {
        has_metal.then(|| melts.iter().map(|melt| of(melt)).collect())?
    };
    let unsure = |layer: &Layer| layer.unknown || layer.unstated;
    JointNowTold {
        joint: at,
        id: harmless(&joint.id),
        count: joint.count,
        standing,
        is: match (standing, has_metal) {
            (true, _) => "stands",
            (false, true) => "pads with old solder",
            (false, false) => "bare pads",
        },
        made_of: either(names),
        unsure: benches.len() > 1 || now.iter().any(|(_, joint)| joint.layers.iter().any(unsure)),
        solid_to: known(&|melt| melt.survival).and_then(|all| all.into_iter().min()),
        flows_at: known(&|melt| melt.flow).and_then(|all| all.into_iter().max()),
        must: match joint.must {
            Must::StaySolid => "stay solid",
            Must::StayPut => "stay put",
            Must::MayMelt => "may melt",
        },
        about: now
            .first()
            .map_or_else(Vec::new, |(_, now)| about(job, now)),
    }
}

/// What is over it, on it and tied to it.
fn about(job: &Job, now: &JointNow) -> Vec<String> {
    let names = Names(job);
    let mut all = Vec::new();
    all.extend(
        now.parts
            .iter()
            .map(|p| format!("below {}", names.part(*p))),
    );
    all.extend(
        now.under
            .iter()
            .map(|g| format!("under {}", names.guard(*g))),
    );
    all.extend(
        now.wires
            .iter()
            .map(|w| format!("holds {}", names.wire(*w))),
    );
    if now.closed {
        all.push("out of reach".to_owned());
    }
    all.iter().map(|text| harmless(text)).collect()
}

fn part_told(job: &Job, at: PartIx, all: &[(Setting, Start)]) -> PartNowTold {
    let part = &job.parts[at.0];
    let now: Vec<&PartNow> = all.iter().map(|(_, now)| &now.bench.parts[at.0]).collect();
    let here = all.iter().map(|(_, now)| now.heats[at.0]).max();
    let here = here.unwrap_or_default();
    let first = now.first();
    let on: Vec<&str> = first
        .map(|part| part.on.iter().map(|j| Names(job).joint(*j)).collect())
        .unwrap_or_default();
    let is = if !on.is_empty() {
        format!("stands on {}", on.join(", "))
    } else if first.is_some_and(|part| part.lies) {
        "lies on the board".to_owned()
    } else {
        "off the board".to_owned()
    };
    PartNowTold {
        id: harmless(&part.id),
        is: harmless(&is),
        carries: either(now.iter().map(|part| metals(&part.carries)).collect()),
        vital: part.vital,
        limit: part.limit,
        heats: part.heats_before + here,
        heats_left: part
            .heats_left
            .map(|left| i64::from(left) - i64::from(here)),
    }
}

/// Names of layers, lowest first.
fn metals(layers: &[Layer]) -> String {
    let mut names: Vec<String> = Vec::new();
    for layer in layers {
        let known = layer.blend.composition().filter(|_| !layer.unknown);
        let name = known.map_or_else(|| "not known".to_owned(), |c| metal_name(&c));
        if names.last() != Some(&name) {
            names.push(name);
        }
    }
    names.join(" + ")
}

/// Names of which one is right.
fn either(names: Vec<String>) -> String {
    let mut all: Vec<String> = Vec::new();
    for name in names {
        if !all.contains(&name) {
            all.push(name);
        }
    }
    all.join(", or ")
}

impl JointNowTold {
    /// From where it melts, in words; empty where there is no metal.
    pub fn melts(&self, say: Say) -> String {
        match self.solid_to {
            _ if self.made_of.is_empty() => String::new(),
            Some(t) => say.t(t),
            None => "not known".to_owned(),
        }
    }
}

impl BenchTold {
    /// What is where, in a line.
    pub fn line(&self) -> String {
        let standing = self.joints.iter().filter(|joint| joint.standing).count();
        let steps = match self.logged {
            0 => "as it arrived".to_owned(),
            1 => "after 1 line of the log".to_owned(),
            many => format!("after {many} lines of the log"),
        };
        let look = match self.look_at.len() {
            0 => String::new(),
            many => format!(", {many} to look at first"),
        };
        let of = self.joints.len();
        format!("the bench {steps}: {standing} of {of} groups of joints stand{look}")
    }

    /// As text.
    pub fn text(&self, frame: &Frame, say: Say) -> String {
        let rows: Vec<Vec<String>> = self
            .joints
            .iter()
            .map(|joint| {
                vec![
                    joint.id.clone(),
                    joint.count.to_string(),
                    joint.is.to_owned(),
                    joint.made_of.clone(),
                    joint.melts(say),
                    joint.must.to_owned(),
                    joint.about.join(", "),
                ]
            })
            .collect();
        let head = ["joint", "of", "", "metal", "solid to", "must", ""];
        let mut text = format!("{}\n\n{}\n", frame.line, table(&head, &rows, say.width));
        for part in &self.parts {
            text.push_str(&part.line(say));
            text.push('\n');
        }
        for guard in &self.guards {
            let is = if guard.is_there {
                "there"
            } else {
                "not there yet"
            };
            let _ = writeln!(text, "{}: {is}, bears {}", guard.id, say.t(guard.limit));
        }
        text.push_str(&frame.warned());
        text
    }

    /// As JSON.
    pub fn json(&self) -> Value {
        let degrees = |t: Option<Celsius>| t.map(Celsius::degrees);
        let joints = self.joints.iter().map(|joint| {
            json!({
                "id": joint.id, "count": joint.count, "is": joint.is, "made_of": joint.made_of, "unsure": joint.unsure,
                "solid_to_c": degrees(joint.solid_to), "flows_at_c": degrees(joint.flows_at),
                "must": joint.must, "about": joint.about,
            })
        });
        let parts = self.parts.iter().map(|part| {
            json!({
                "id": part.id, "is": part.is, "carries": part.carries, "vital": part.vital,
                "limit_c": degrees(part.limit), "heats": part.heats, "heats_left": part.heats_left,
            })
        });
        let guards = self.guards.iter().map(|guard| {
            json!({"id": guard.id, "is_there": guard.is_there, "limit_c": degrees(Some(guard.limit))})
        });
        json!({
            "joints": joints.collect::<Vec<_>>(),
            "parts": parts.collect::<Vec<_>>(),
            "guards": guards.collect::<Vec<_>>(),
            "power_check_passed": self.checked,
        })
    }
}

impl PartNowTold {
    /// In a line.
    pub fn line(&self, say: Say) -> String {
        let data = if self.vital { " (holds the data)" } else { "" };
        let carries = match self.carries.as_str() {
            "" => String::new(),
            metal => format!(" with {metal}"),
        };
        let limit = self.limit.map_or_else(
            || "limit not known".to_owned(),
            |t| format!("bears {}", say.t(t)),
        );
        let left = self
            .heats_left
            .map_or_else(String::new, |left| format!(", {left} left"));
        let many = if self.heats == 1 { "" } else { "s" };
        format!(
            "{}{data}: {}{carries}, {limit}, {} heat{many} so far{left}",
            self.id, self.is, self.heats
        )
    }
}
