//! The bench as it is now: joints with their metal and history, parts, guards, gates.
//!
//! Everything is an integer or a flag, so that equal benches compare equal and merge in the search.
//! What only adds up along a plan (heats, peaks, changes of tool) is not here.

use crate::job::{
    Deposit, GuardIx, GuardKind, Job, JointIx, Part, PartIx, Start, Step, WireIx, Work, ZoneIx,
};
use crate::melt::{Contact, History, Layer};
use crate::quantity::Mass;

use super::copper::{self, TakenUp};
use super::metal;
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
    /// The log has a step that was done before one that had to come first, and nobody has looked since.
    pub disordered: bool,
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
    /// The parts that stand on it, in the order of the job.
    pub parts: Vec<PartIx>,
    /// The guards that lie over it, in the order of the job.
    pub under: Vec<GuardIx>,
    /// The wires that are tied to it, in the order of the job.
    pub wires: Vec<WireIx>,
    /// It stands as it was found: nothing has been put on it or taken off.
    pub as_found: bool,
    /// Its pad finish has not yet dissolved into a joint.
    pub finish_left: bool,
    /// Nobody can reach it any more.
    pub closed: bool,
    /// It held liquid that it should not have held, or may have, and has not been inspected since.
    pub was_molten: bool,
    /// It did not surely flow when it was made, and has not been inspected since.
    pub doubtful: bool,
}

/// One part.
#[derive(Clone, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
#[expect(
    clippy::struct_excessive_bools,
    reason = "independent facts of one part, no states"
)]
pub struct PartNow {
    /// The groups of joints it stands on; none while it is off the board.
    pub on: Vec<JointIx>,
    /// Solder on each of its pads while it is off the board.
    pub carries: Vec<Layer>,
    /// Whether what it carries has become one.
    pub contact: Contact,
    /// The finish of its own pads has not yet gone into solder.
    pub finish_left: bool,
    /// New balls have been put on, and it has not been set down since.
    pub balled: bool,
    /// Where it was moved to.
    pub zone: Option<ZoneIx>,
    /// It lies on the board though it stands on no joints: on its back, glued, or nobody says where.
    pub lies: bool,
    /// It is known to be dry: stated, or baked long enough.
    pub dry: bool,
    /// It was hotter than its limit, or may have been, and has not been inspected since.
    pub suspect: bool,
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
            disordered: false,
        }
    }
}

fn joint_at_start(setting: &Setting, at: JointIx) -> JointNow {
    let job = setting.job();
    let joint = &job.joints[at.0];
    let parts: Vec<PartIx> = standing_on(job, at).collect();
    let standing = joint.start == Start::Standing || !parts.is_empty();
    let (layers, _) = layers_at_start(setting, at);
    JointNow {
        standing,
        contact: Contact::Layers,
        layers,
        parts,
        under: covers_at_start(job, at),
        wires: wires_at_start(setting, at, standing),
        as_found: standing,
        finish_left: !standing,
        closed: false,
        was_molten: false,
        doubtful: false,
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
    let parts = || standing_on(job, at).map(|part| &job.parts[part.0]);
    let balled = parts().find(|part| part.balls.is_some() && !part.lugs.contains(&at));
    layers.extend(balled.and_then(|part| ball_of(setting, part)));
    let standing = joint.start == Start::Standing || parts().next().is_some();
    // Whoever made the joint froze it on the finish of its pad.
    let frozen = layers
        .first_mut()
        .filter(|layer| standing && layer.history == History::Frozen);
    if let Some(lowest) = frozen {
        metal::take_finish(joint.pad, lowest);
    }
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

fn standing_on(job: &Job, at: JointIx) -> impl Iterator<Item = PartIx> + '_ {
    let parts = job.parts.iter().enumerate();
    parts
        .filter(move |(_, part)| part.on.contains(&at))
        .map(|(p, _)| PartIx(p))
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
    let ball = ball_of(setting, part).filter(|_| part.on.is_empty());
    let carries: Vec<Layer> = ball.into_iter().collect();
    PartNow {
        finish_left: part.on.is_empty() && carries.is_empty(),
        on: part.on.clone(),
        lies: part.on.is_empty() && setting.facts().lies_about(at),
        dry: part.dry == Some(true),
        suspect: false,
        balled: !carries.is_empty(),
        carries,
        contact: Contact::Layers,
        zone: part.zone,
    }
}

/// One ball that a part carries: the finish of the pad that it was melted on is in it.
fn ball_of(setting: &Setting, part: &Part) -> Option<Layer> {
    let mut ball = setting.ball(part.balls.as_ref()?, History::Frozen);
    metal::take_finish(part.pad, &mut ball);
    Some(ball)
}

/// Whether a guard is not there before a step that somebody wrote puts it on. What the planner adds puts it on
/// anew: it lay there before. So does a guard that the job says lies over joints, where steps take it off or say
/// for themselves what they put it over.
fn is_made_by_a_step(job: &Job, guard: usize) -> bool {
    let of = |step: &&Step| !step.is_added();
    let covers = |step: &Step| match &step.work {
        Work::Cover { guard: made, over } if made.0 == guard => Some(!over.is_empty()),
        _ => None,
    };
    let mut made = job.steps.iter().filter(of).filter_map(covers).peekable();
    if made.peek().is_none() {
        return false;
    }
    let off = |step: &Step| matches!(step.work, Work::Uncover { guard: off } if off.0 == guard);
    let lies_there = !job.guards[guard].over.is_empty();
    !(lies_there && (made.all(|says| says) || job.steps.iter().any(off)))
}

/// Wires that are tied to a joint before the first step: those that no step ties at all, those that end
/// at a joint at which a wire pulls, as the job says, and those whose other end alone is still to be tied
/// at another joint are not: nobody said that this end was ever soldered.
fn wires_at_start(setting: &Setting, joint: JointIx, standing: bool) -> Vec<WireIx> {
    let job = setting.job();
    let strained = job.joints[joint.0].strained;
    let ends_here = (0..job.wires.len()).map(WireIx).filter(|wire| {
        let wire = &job.wires[wire.0];
        wire.from == joint || wire.to == joint
    });
    ends_here
        .filter(|wire| {
            let by_a_step = setting.facts().is_tied_by_a_step(*wire, joint);
            let untouched = !setting.facts().is_tied_anywhere(*wire);
            standing && !by_a_step && (untouched || strained)
        })
        .collect()
}

fn covers_at_start(job: &Job, joint: JointIx) -> Vec<GuardIx> {
    let guards = job.guards.iter().enumerate();
    guards
        .filter(|(g, guard)| guard.over.contains(&joint) && !is_made_by_a_step(job, *g))
        .map(|(g, _)| GuardIx(g))
        .collect()
}

impl JointNow {
    /// Cured mask lies over it, by the job or by a step.
    pub fn is_covered(&self, job: &Job, at: JointIx) -> bool {
        let is_mask = |guard: &GuardIx| job.guards[guard.0].kind == GuardKind::Mask;
        job.joints[at.0].covered || self.under.iter().any(is_mask)
    }

    /// What keeps every tool from it: whatever lies over it, until it is taken off. Enamel is on the wire.
    pub fn shut_by(&self, job: &Job) -> Option<GuardIx> {
        let shuts = |guard: &&GuardIx| job.guards[guard.0].kind != GuardKind::Enamel;
        self.under.iter().find(shuts).copied()
    }

    /// It is soldered: new metal is on it, and what was wrong with it before is over.
    pub(super) fn made(&mut self) {
        self.standing = true;
        self.as_found = false;
        self.finish_left = false;
        self.was_molten = false;
        self.doubtful = false;
    }

    /// Something pulls at it: a tied wire, or as the job says.
    pub fn is_pulled(&self, job: &Job, at: JointIx) -> bool {
        job.joints[at.0].strained || !self.wires.is_empty()
    }

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
    /// Metal of one more group of joints that it comes off. Which pad carries which is not kept: what it is
    /// set on next must bear any of it.
    pub(super) fn take_along(&mut self, layers: Vec<Layer>, contact: Contact) {
        if self.carries.is_empty() {
            self.set_metal(layers, contact);
            return;
        }
        for layer in layers {
            if !self.carries.contains(&layer) {
                self.carries.push(layer);
                self.contact = Contact::Layers;
            }
        }
    }

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
