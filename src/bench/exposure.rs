//! How hot a place gets while a step heats its target.
//!
//! Stated temperatures win, then couplings, then the steady bound of a described board and tool
//! ([`computed`]), then the worst case. Inside the footprint of the tool, or where no distance is known, nothing is known
//! but the tool's own temperature.

use crate::heat::Reach;
use crate::job::{Coupling, Event, GuardIx, JointIx, PartIx, Tool, Way, Where, ZoneIx};
use crate::quantity::{Celsius, KelvinStep, Length, Point};

use super::computed::{self, Found, Model, Spot};
use super::setting::Setting;
use super::state::{Bench, GuardNow};

/// What a step heats.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Aim {
    /// A group of joints, and the part on it.
    Joint(JointIx),
    /// A part that is off the board: nothing on the board is heated.
    LoosePart(PartIx),
    /// A guard that is cured with heat.
    Guard(GuardIx),
    /// The whole board.
    Board,
    /// A place that is no joint.
    Nowhere,
}

/// The heat of one step.
#[derive(Clone, Copy, Debug)]
pub struct Heat<'a> {
    /// What is heated.
    pub aim: Aim,
    /// The part that is set, taken off or balled: its body is as hot as the target.
    pub part: Option<PartIx>,
    /// Peak at the target.
    pub peak: Celsius,
    /// How.
    pub way: &'a Way,
    /// What was read while it was done, if it has been done.
    pub log: Option<&'a Event>,
}

/// How hot a place gets, and how that is known.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Seen {
    /// So hot at most.
    At(Celsius, SeenBy),
    /// Not known; anything up to the tool's own temperature, where that is stated.
    UpTo(Option<Celsius>),
}

/// How a temperature is known.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum SeenBy {
    /// Read while the step was done.
    Log,
    /// Stated in the job.
    Stated,
    /// Preheat plus the coupling's share of the rise.
    Coupling(Coupling),
    /// It is the target, or the whole board is heated.
    Target,
    /// Farther from the source than the target: peak plus what the tool may overshoot.
    WorstCase,
    /// By the heat of the described board and tool, at the hot edge.
    Computed {
        /// How.
        by: Model,
        /// The same however hot the target gets.
        free: Celsius,
        /// Cool edge, where the field in time decides.
        low: Option<Celsius>,
        /// The board before the tool comes.
        base: Celsius,
    },
    /// Off the board: not heated.
    NotHeated,
}

/// How far a tool's peak may be off at the target: iron 5 K, hot air 15 K (common practice, no
/// source; process notes name ±15 °C for hand air).
pub const fn tool_spread(tool: Tool) -> KelvinStep {
    match tool {
        Tool::Iron | Tool::Tweezers => KelvinStep::whole(5),
        Tool::Air | Tool::Plate | Tool::Oven => KelvinStep::whole(15),
        Tool::None => KelvinStep::ZERO,
    }
}

/// Radius around the target inside which the tool itself heats: a 10 mm nozzle, a 3 mm tip (our
/// judgement).
fn footprint_mm(tool: Tool) -> f64 {
    match tool {
        Tool::Iron => 1.5,
        Tool::Tweezers => 2.0,
        Tool::Air => 5.0,
        Tool::Plate | Tool::Oven => f64::INFINITY,
        Tool::None => 0.0,
    }
}

/// What a group of joints sees.
pub fn of_joint(setting: &Setting, bench: &Bench, heat: &Heat, joint: JointIx) -> Seen {
    if heat.aim == Aim::Joint(joint) {
        return Seen::At(heat.peak, SeenBy::Target);
    }
    let keys = joint_keys(setting, bench, joint);
    of_place(
        setting,
        heat,
        &keys,
        computed::of_joint(setting.job(), joint),
    )
}

/// What the body of a part sees.
pub fn of_part(setting: &Setting, bench: &Bench, heat: &Heat, part: PartIx) -> Seen {
    let now = &bench.parts[part.0];
    if heat.part == Some(part) {
        return stated_or_target(heat, part);
    }
    match (heat.aim, now.on) {
        (Aim::Joint(aim), Some(on)) if aim == on => stated_or_target(heat, part),
        (_, None) => Seen::At(setting.job().ambient, SeenBy::NotHeated),
        (_, Some(on)) => {
            let mut keys = vec![Where::Part(part), Where::Joint(on)];
            keys.extend(zone_of_joint(setting, bench, on).map(Where::Zone));
            of_place(
                setting,
                heat,
                &keys,
                computed::of_part(setting.job(), part, on),
            )
        }
    }
}

/// The body of the part that is being set or taken off: as hot as its joints unless stated.
fn stated_or_target(heat: &Heat, part: PartIx) -> Seen {
    let logged = heat
        .log
        .and_then(|log| lookup(&log.sees, Where::Part(part)));
    match (logged, lookup(&heat.way.sees, Where::Part(part))) {
        (Some(t), _) => Seen::At(t, SeenBy::Log),
        (None, Some(t)) => Seen::At(t, SeenBy::Stated),
        (None, None) => Seen::At(heat.peak, SeenBy::Target),
    }
}

/// What a guard sees.
pub fn of_guard(setting: &Setting, bench: &Bench, heat: &Heat, guard: GuardIx) -> Seen {
    if heat.aim == Aim::Guard(guard) {
        return Seen::At(heat.peak, SeenBy::Target);
    }
    let facts = &setting.job().guards[guard.0];
    let mut keys = vec![Where::Guard(guard)];
    keys.extend(facts.zone.map(Where::Zone));
    let named = of_keys(heat, &keys);
    // A guard that lies over joints is as hot as the hottest of them.
    let over = GuardNow::over(setting, guard);
    let hottest = over
        .into_iter()
        .map(|joint| of_joint(setting, bench, heat, joint))
        .max_by(hotter);
    match (named, hottest) {
        (Some(seen), _) | (None, Some(seen)) => seen,
        (None, None) => {
            keys.push(Where::Rest);
            of_place(
                setting,
                heat,
                &keys,
                computed::of_guard(setting.job(), guard),
            )
        }
    }
}

/// Unknown is hotter than anything known.
pub fn hotter(a: &Seen, b: &Seen) -> std::cmp::Ordering {
    rank(a).cmp(&rank(b))
}

fn rank(seen: &Seen) -> (bool, Celsius) {
    match seen {
        Seen::At(t, _) => (false, *t),
        Seen::UpTo(t) => (true, t.unwrap_or(Celsius::whole(20_000))),
    }
}

fn joint_keys(setting: &Setting, bench: &Bench, joint: JointIx) -> Vec<Where> {
    let mut keys = vec![Where::Joint(joint)];
    let part = bench.joints[joint.0]
        .part
        .or(setting.job().joints[joint.0].site_of);
    keys.extend(part.map(Where::Part));
    keys.extend(zone_of_joint(setting, bench, joint).map(Where::Zone));
    keys
}

fn zone_of_joint(setting: &Setting, bench: &Bench, joint: JointIx) -> Option<ZoneIx> {
    let facts = &setting.job().joints[joint.0];
    let part = bench.joints[joint.0].part.or(facts.site_of);
    facts
        .zone
        .or_else(|| part.and_then(|part| bench.parts[part.0].zone))
}

/// Where a group of joints lies: its own place, or that of its part.
pub fn joint_point(setting: &Setting, joint: JointIx) -> Option<Point> {
    computed::of_joint(setting.job(), joint).at
}

/// What heat computes for a group of joints, whatever is stated of it.
pub fn modelled_joint(setting: &Setting, heat: &Heat, joint: JointIx) -> Option<Seen> {
    modelled(setting, heat, computed::of_joint(setting.job(), joint))
}

/// What heat computes for the body of a part that stands on the board.
pub fn modelled_part(setting: &Setting, bench: &Bench, heat: &Heat, part: PartIx) -> Option<Seen> {
    let on = bench.parts[part.0].on?;
    modelled(setting, heat, computed::of_part(setting.job(), part, on))
}

/// What heat computes for a guard that has a place of its own.
pub fn modelled_guard(setting: &Setting, heat: &Heat, guard: GuardIx) -> Option<Seen> {
    modelled(setting, heat, computed::of_guard(setting.job(), guard))
}

/// What the described tool can bring its target to, at most.
pub fn reach(setting: &Setting, heat: &Heat) -> Option<Reach> {
    computed::reach(setting.job(), setting.bounds(), heat, source(setting, heat))
}

fn modelled(setting: &Setting, heat: &Heat, spot: Spot) -> Option<Seen> {
    let target = source(setting, heat);
    let found = computed::at(setting.job(), setting.bounds(), heat, target, spot)?;
    Some(match found {
        Found::UnderTool(hottest) => Seen::UpTo(Some(hottest)),
        // No place away from the tool gets hotter than the target may.
        Found::AtMost {
            stopped,
            free,
            by,
            low,
            base,
        } => {
            let worst = heat.peak + tool_spread(heat.way.tool);
            let hot = stopped.min(free);
            if hot < worst {
                Seen::At(
                    hot,
                    SeenBy::Computed {
                        by,
                        free,
                        low,
                        base,
                    },
                )
            } else {
                Seen::At(worst, SeenBy::WorstCase)
            }
        }
    })
}

fn of_place(setting: &Setting, heat: &Heat, keys: &[Where], spot: Spot) -> Seen {
    if let Aim::LoosePart(_) = heat.aim {
        return Seen::At(setting.job().ambient, SeenBy::NotHeated);
    }
    if let Some(seen) = of_keys(heat, keys).or_else(|| of_keys(heat, &[Where::Rest])) {
        return seen;
    }
    if heat.aim == Aim::Board {
        return Seen::At(heat.peak, SeenBy::Target);
    }
    modelled(setting, heat, spot).unwrap_or_else(|| worst_case(setting, heat, spot.at))
}

/// The first key that anything is stated for; the log before the job, temperatures before
/// couplings.
fn of_keys(heat: &Heat, keys: &[Where]) -> Option<Seen> {
    for &key in keys {
        if let Some(t) = heat.log.and_then(|log| lookup(&log.sees, key)) {
            return Some(Seen::At(t, SeenBy::Log));
        }
        if let Some(t) = lookup(&heat.way.sees, key) {
            return Some(Seen::At(t, SeenBy::Stated));
        }
        if let Some(k) = lookup(&heat.way.couplings, key) {
            let rise = (heat.peak - heat.way.preheat).scaled(k.factor());
            return Some(Seen::At(heat.way.preheat + rise, SeenBy::Coupling(k)));
        }
    }
    None
}

fn lookup<T: Copy>(stated: &[(Where, T)], key: Where) -> Option<T> {
    stated
        .iter()
        .find(|(place, _)| *place == key)
        .map(|(_, value)| *value)
}

/// Where the tool works.
pub fn source(setting: &Setting, heat: &Heat) -> Option<Point> {
    match heat.aim {
        Aim::Joint(joint) => joint_point(setting, joint),
        Aim::Guard(guard) => setting.job().guards[guard.0].at,
        Aim::LoosePart(_) | Aim::Board | Aim::Nowhere => None,
    }
}

fn worst_case(setting: &Setting, heat: &Heat, place: Option<Point>) -> Seen {
    let outside = match (source(setting, heat), place) {
        (Some(source), Some(place)) => is_outside(source.distance(place), heat.way.tool),
        _ => false,
    };
    if outside {
        Seen::At(heat.peak + tool_spread(heat.way.tool), SeenBy::WorstCase)
    } else {
        Seen::UpTo(heat.way.set)
    }
}

fn is_outside(distance: Length, tool: Tool) -> bool {
    distance.mm() > footprint_mm(tool)
}
