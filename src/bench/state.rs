//! The bench as it is now: joints with their metal and history, parts, guards, gates.
//!
//! Everything is an integer or a flag, so that equal benches compare equal and merge in the search.
//! What only adds up along a plan (heats, peaks, changes of tool) is not here.

use crate::job::{Deposit, GuardIx, GuardKind, Job, JointIx, PartIx, Start, Work, ZoneIx};
use crate::melt::{Contact, History, Layer};
use crate::quantity::Mass;

use super::copper::{self, TakenUp};
use super::setting::Setting;

/// All that matters for what later steps do and meet.
#[derive(Clone, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Bench {
    /// In the order of the job.
    pub joints: Vec<JointNow>,
    /// In the order of the job.
    pub parts: Vec<PartNow>,
    /// In the order of the job.
    pub guards: Vec<GuardNow>,
    /// The short check has passed since the last heat.
    pub checked: bool,
    /// The board has been powered.
    pub powered: bool,
}

/// One group of joints, as each of its members is (the worst of them).
#[derive(Clone, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
#[expect(
    clippy::struct_excessive_bools,
    reason = "independent facts of one joint, no states"
)]
pub struct JointNow {
    /// Soldered and standing; otherwise pads, with or without residue.
    pub standing: bool,
    /// Metal in it, lowest first.
    pub layers: Vec<Layer>,
    /// Whether the layers have become one.
    pub contact: Contact,
    /// The part that stands on it.
    pub part: Option<PartIx>,
    /// A cured mask lies over it.
    pub covered: bool,
    /// A wire is tied to it.
    pub wired: bool,
    /// Its pad finish has not yet dissolved into a joint.
    pub finish_left: bool,
    /// Nobody can reach it any more.
    pub closed: bool,
    /// It held liquid that it should not have held, and has not been inspected since.
    pub was_molten: bool,
}

/// One part.
#[derive(Clone, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct PartNow {
    /// The joints it stands on; `None` while it is off the board.
    pub on: Option<JointIx>,
    /// Solder on each of its pads while it is off the board.
    pub carries: Vec<Layer>,
    /// Whether what it carries has become one.
    pub contact: Contact,
    /// New balls have been put on, and it has not been set down since.
    pub balled: bool,
    /// Where it was moved to.
    pub zone: Option<ZoneIx>,
}

/// One guard.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct GuardNow {
    /// It is there.
    pub exists: bool,
    /// It saw more than its limit, or a joint below it melted; not inspected since.
    pub suspect: bool,
}

impl Bench {
    /// The bench before the first step.
    pub fn at_start(setting: &Setting) -> Self {
        let job = setting.job();
        Bench {
            joints: (0..job.joints.len())
                .map(|j| joint_at_start(setting, JointIx(j)))
                .collect(),
            parts: (0..job.parts.len())
                .map(|p| part_at_start(setting, PartIx(p)))
                .collect(),
            guards: (0..job.guards.len())
                .map(|g| GuardNow {
                    exists: !is_made_by_a_step(job, g),
                    suspect: false,
                })
                .collect(),
            checked: false,
            powered: false,
        }
    }
}

fn joint_at_start(setting: &Setting, at: JointIx) -> JointNow {
    let job = setting.job();
    let joint = &job.joints[at.0];
    let part = job.parts.iter().position(|part| part.on == Some(at));
    let standing = joint.start == Start::Standing || part.is_some();
    let (layers, _) = layers_at_start(setting, at);
    JointNow {
        standing,
        contact: Contact::Layers,
        layers,
        part: part.map(PartIx),
        covered: joint.covered || is_covered_at_start(job, at),
        wired: joint.strained || (standing && is_wired_at_start(job, at)),
        finish_left: !standing,
        closed: false,
        was_molten: false,
    }
}

/// The metal of a joint before the first step. What was frozen on its pad was named as the spool was: it
/// has taken up what it could of copper.
pub(super) fn layers_at_start(setting: &Setting, at: JointIx) -> (Vec<Layer>, Option<TakenUp>) {
    let job = setting.job();
    let joint = &job.joints[at.0];
    let mut layers: Vec<Layer> = joint
        .each
        .iter()
        .map(|deposit| layer_of(setting, deposit))
        .collect();
    let part = job.parts.iter().find(|part| part.on == Some(at));
    if let Some(balls) = part.and_then(|part| part.balls.as_ref()) {
        layers.push(setting.ball(balls, History::Frozen));
    }
    let standing = joint.start == Start::Standing || part.is_some();
    let lowest = layers
        .first()
        .filter(|layer| layer.history == History::Frozen);
    let peak = lowest
        .filter(|layer| standing && !layer.unknown)
        .and_then(|layer| {
            setting
                .melt(std::slice::from_ref(layer), Contact::Layers)
                .flow_point
        })
        .map(|flow| flow + job.want.superheat);
    let taken = peak.and_then(|peak| copper::take_up(setting, at, &mut layers, peak));
    (layers, taken)
}

fn layer_of(setting: &Setting, deposit: &Deposit) -> Layer {
    let history = if deposit.as_bought {
        History::AsBought
    } else {
        History::Frozen
    };
    setting.layer(&deposit.content, deposit.amount, history)
}

fn part_at_start(setting: &Setting, at: PartIx) -> PartNow {
    let part = &setting.job().parts[at.0];
    let carries = match (&part.balls, part.on) {
        (Some(balls), None) => vec![setting.ball(balls, History::Frozen)],
        _ => Vec::new(),
    };
    PartNow {
        on: part.on,
        balled: !carries.is_empty(),
        carries,
        contact: Contact::Layers,
        zone: part.zone,
    }
}

fn is_made_by_a_step(job: &Job, guard: usize) -> bool {
    job.steps
        .iter()
        .any(|step| matches!(&step.work, Work::Cover { guard: made, .. } if made.0 == guard))
}

fn is_wired_at_start(job: &Job, joint: JointIx) -> bool {
    job.wires.iter().enumerate().any(|(w, wire)| {
        let is_tied_by_a_step = job
            .steps
            .iter()
            .any(|step| matches!(&step.work, Work::Solder { wire: Some(tied), .. } if tied.0 == w));
        (wire.from == joint || wire.to == joint) && !is_tied_by_a_step
    })
}

fn is_covered_at_start(job: &Job, joint: JointIx) -> bool {
    job.guards.iter().enumerate().any(|(g, guard)| {
        guard.kind == GuardKind::Mask && guard.over.contains(&joint) && !is_made_by_a_step(job, g)
    })
}

impl JointNow {
    /// Metal in one member.
    pub fn mass(&self) -> Mass {
        self.layers
            .iter()
            .fold(Mass::ZERO, |sum, layer| sum + layer.blend.total())
    }

    /// Other metal than before.
    pub(super) fn set_metal(&mut self, layers: Vec<Layer>, contact: Contact) {
        self.layers = layers;
        self.contact = contact;
    }
}

impl PartNow {
    /// Other metal than before on each of its pads.
    pub(super) fn set_metal(&mut self, layers: Vec<Layer>, contact: Contact) {
        self.carries = layers;
        self.contact = contact;
    }
}

impl GuardNow {
    /// The joints that a guard lies over: those of the job, and those that a step puts it over.
    pub(super) fn over(setting: &Setting, guard: GuardIx) -> Vec<JointIx> {
        let job = setting.job();
        let mut over = job.guards[guard.0].over.clone();
        for step in &job.steps {
            if let Work::Cover {
                guard: made,
                over: by_step,
            } = &step.work
                && *made == guard
            {
                over.extend(by_step);
            }
        }
        over
    }
}
