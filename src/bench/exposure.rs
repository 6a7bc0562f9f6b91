//! How hot a place gets while a step heats its target.
//!
//! Stated temperatures win, then couplings, then what is computed of a described board and tool
//! ([`computed`]). Else nothing is known but the tool's own temperature: a distance alone says nothing, since a
//! target under a body lags and bare joints run ahead of it.

use std::sync::Arc;

use crate::heat::{Band, Face, Reach};
use crate::job::{Coupling, Event, GuardIx, JointIx, PartIx, Tool, Way, Where, WireIx, ZoneIx};
use crate::policy;
use crate::quantity::{Celsius, KelvinStep, Point, Ramp};

use super::computed::{self, Field, Found, Model, Spot};
use super::electric;
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
    /// The groups of joints that are heated.
    pub joints: &'a [JointIx],
    /// The part that is set, taken off or balled: its body is as hot as the target.
    pub part: Option<PartIx>,
    /// Peak at the target.
    pub peak: Celsius,
    /// Nobody knows the peak: only what is read or stated of a place is known there.
    pub blind: bool,
    /// All members of the target must be liquid at once: a part is lifted.
    pub at_once: bool,
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
    /// The top of the target's own body, by the same field at its hot edge; this much of it above the target's
    /// peak.
    Top(KelvinStep),
    /// Off the board: not heated.
    NotHeated,
}

/// How far a hand overshoots the peak at the target before the tool goes: iron 5 K, hot air 15 K (common practice, no
/// source; process notes name ±15 °C for hand air). An infra-red head is not stopped by its target's peak.
pub const fn tool_spread(tool: Tool) -> KelvinStep {
    match tool {
        Tool::Iron | Tool::Tweezers => KelvinStep::whole(5),
        Tool::Air | Tool::Infrared | Tool::Plate | Tool::Oven => KelvinStep::whole(15),
        Tool::None => KelvinStep::ZERO,
    }
}

impl Heat<'_> {
    /// Whether the tool goes from member to member of its target, so that one of them is hot at a time.
    pub(super) fn goes_round(&self, setting: &Setting) -> bool {
        let local = matches!(self.way.tool, Tool::Iron | Tool::Tweezers);
        let many = |joint: &JointIx| setting.job().joints[joint.0].count > 1;
        local && !self.at_once && self.joints.len() == 1 && self.joints.iter().all(many)
    }

    /// Rays heat what is dark more than what shines, and from above: a body more than the joints below it.
    fn by_rays(&self) -> bool {
        self.way.tool == Tool::Infrared
    }

    /// A plate or an oven heats all that stands on it.
    fn heats_all(&self) -> bool {
        self.aim == Aim::Board || matches!(self.way.tool, Tool::Plate | Tool::Oven)
    }

    /// Whether a part is heated with the target: it is set, taken off or balled, stands on the joints that
    /// are heated, or carries them on its own body.
    pub(super) fn heats_body(&self, setting: &Setting, bench: &Bench, part: PartIx) -> bool {
        let on = &bench.parts[part.0].on;
        let carries = |joint: JointIx| setting.facts().carrier(joint) == Some(part);
        let mut heated = self.heated(setting);
        self.part == Some(part) || heated.any(|joint| on.contains(&joint) || carries(joint))
    }

    /// The groups of joints that are heated: the target, or what lies below a guard that is cured hot.
    fn heated(&self, setting: &Setting) -> impl Iterator<Item = JointIx> {
        let below = match self.aim {
            Aim::Guard(guard) => GuardNow::over(setting, guard),
            _ => Vec::new(),
        };
        self.joints.iter().copied().chain(below)
    }
}

/// What a group of joints sees.
pub fn of_joint(setting: &Setting, bench: &Bench, heat: &Heat, joint: JointIx) -> Seen {
    if heat.heated(setting).any(|heated| heated == joint) {
        return of_target(setting, heat, joint);
    }
    if let Aim::LoosePart(_) = heat.aim {
        return Seen::At(setting.job().ambient, SeenBy::NotHeated);
    }
    let seen = around_joint(setting, bench, heat, joint);
    match (along_a_wire(setting, bench, heat, joint), seen) {
        // The wire makes nothing cooler than what is said of all else around.
        (Some(top), Seen::At(t, _)) if t > top => seen,
        (Some(top), _) => Seen::UpTo(Some(top)),
        (None, _) => seen,
    }
}

/// What is stated or worked out of a joint, or of what is around it.
fn around_joint(setting: &Setting, bench: &Bench, heat: &Heat, joint: JointIx) -> Seen {
    match stated_of_joint(setting, bench, heat, joint) {
        Some(seen) => {
            let seen = from_below(setting, heat, is_below(setting, joint), seen);
            let field = || modelled(setting, heat, computed::of_joint(setting.job(), joint));
            // Where heat is worked out it is known at the joint, whatever is said of the body on it.
            let field = (!is_said_of_joints(setting, bench, heat, joint)).then(field);
            [seen]
                .into_iter()
                .chain(field.flatten())
                .max_by(hotter)
                .unwrap_or(seen)
        }
        None => unstated(setting, heat, computed::of_joint(setting.job(), joint)),
    }
}

/// Whether anything is said of a group of joints but of the bodies that stand on it.
fn is_said_of_joints(setting: &Setting, bench: &Bench, heat: &Heat, joint: JointIx) -> bool {
    let zones = zones_of_joint(setting, bench, joint).map(Where::Zone);
    let mut names = [Where::Joint(joint), Where::Rest].into_iter().chain(zones);
    names.any(|key| of_keys(heat, &[key]).is_some())
}

/// A joint that a short thick wire joins to the target, and of which itself nothing is stated: what is said of all
/// else around says nothing of it, and it may get as hot as the target or the tip.
fn along_a_wire(setting: &Setting, bench: &Bench, heat: &Heat, joint: JointIx) -> Option<Celsius> {
    let wires = &setting.job().wires;
    let conducts = |wire: &WireIx| {
        let facts = &wires[wire.0];
        let ends = [facts.from, facts.to];
        let heated = heat.heated(setting).any(|at| ends.contains(&at));
        heated && electric::conducts(facts).is_some_and(|w_k| w_k >= policy::WIRE_CONDUCTS)
    };
    let named = || of_keys(heat, &[Where::Joint(joint)]).is_some();
    let tied = bench.joints[joint.0].wires.iter().any(conducts);
    let top = heat.way.set.map_or(heat.peak, |set| set.max(heat.peak));
    (tied && !named()).then_some(top)
}

/// A preheater is nearer to what is on the underside: of a share, the board's own preheat is told at its upper face.
fn from_below(setting: &Setting, heat: &Heat, under: bool, seen: Seen) -> Seen {
    match seen {
        Seen::At(t, by @ SeenBy::Coupling(_)) if under && !heat.heats_all() => {
            let over = (heat.way.preheat - setting.job().ambient).scaled(policy::UNDERSIDE_SHARE);
            Seen::At(t + over, by)
        }
        seen => seen,
    }
}

/// What is stated of a group of joints: of itself, else of the parts on it, of its zone, of the rest; of
/// several the hottest.
fn stated_of_joint(setting: &Setting, bench: &Bench, heat: &Heat, joint: JointIx) -> Option<Seen> {
    let parts = parts_at(setting, bench, joint).map(Where::Part).collect();
    let zones = zones_of_joint(setting, bench, joint).map(Where::Zone);
    said(
        heat,
        &[
            vec![Where::Joint(joint)],
            parts,
            zones.collect(),
            vec![Where::Rest],
        ],
    )
}

/// What is said of a place, from the narrowest name that it goes by to the widest: the first that anything is
/// stated for; of several the hottest. A temperature that was read or is stated of something wider wins where
/// it is the hotter one: a share of the rise that somebody estimated does not.
fn said(heat: &Heat, names: &[Vec<Where>]) -> Option<Seen> {
    let hottest = |keys: &Vec<Where>| {
        let stated = keys.iter().filter_map(|key| of_keys(heat, &[*key]));
        stated.max_by(hotter)
    };
    let (at, own) = names
        .iter()
        .enumerate()
        .find_map(|(at, keys)| Some((at, hottest(keys)?)))?;
    let wider = names[at + 1..].iter().flatten();
    let own = with_wider(heat, own, wider.copied());
    // What is said of a body is not said of the joints below it: a can that shines stays cooler than its feet.
    let of_body = at > 0 && names[at].iter().any(|key| matches!(key, Where::Part(_)));
    let around = || names[at + 1..].iter().find_map(hottest);
    let around = of_body.then(around).flatten();
    [own].into_iter().chain(around).max_by(hotter)
}

/// The hotter of what is said of a place and of what was read of something wider. What the job itself states
/// of the rest is of what it does not name.
fn with_wider(heat: &Heat, own: Seen, wider: impl Iterator<Item = Where>) -> Seen {
    let by = match own {
        Seen::At(_, by) => by,
        Seen::UpTo(_) => return own,
    };
    let read = wider.filter_map(|key| {
        let log = heat.log.and_then(|log| lookup(&log.sees, key));
        let log = log.filter(|_| by != SeenBy::Log);
        let stated = lookup(&heat.way.sees, key);
        let stated = stated.filter(|_| matches!(by, SeenBy::Coupling(_)) && key != Where::Rest);
        log.map(|t| Seen::At(t, SeenBy::Log))
            .or(stated.map(|t| Seen::At(t, SeenBy::Stated)))
    });
    read.chain([own]).max_by(hotter).unwrap_or(own)
}

/// What is heated is at its peak, unless something else is stated of that very group: a reading, or the
/// share that arrives at one of several groups below one part. Where a tool goes from member to member,
/// `k` of the group is what arrives at the others.
fn of_target(setting: &Setting, heat: &Heat, joint: JointIx) -> Seen {
    let key = [Where::Joint(joint)];
    let stated = of_keys(heat, &key).filter(|seen| match seen {
        Seen::At(_, SeenBy::Coupling(_)) => !heat.goes_round(setting),
        _ => true,
    });
    stated.unwrap_or(at_peak(heat))
}

fn at_peak(heat: &Heat) -> Seen {
    if heat.blind {
        Seen::UpTo(heat.way.set)
    } else {
        Seen::At(heat.peak, SeenBy::Target)
    }
}

/// What the other members of a target see while the tool is at one of them; `None` where nobody said.
pub(super) fn of_other_members(heat: &Heat, joint: JointIx) -> Option<Seen> {
    of_keys(heat, &[Where::Joint(joint)])
}

/// Whether the job states what arrives around a group of joints that is heated: of its part or its zone. What
/// is said of the rest is said of other things.
pub(super) fn is_spoken_for(setting: &Setting, bench: &Bench, heat: &Heat, joint: JointIx) -> bool {
    let parts = parts_at(setting, bench, joint).map(Where::Part);
    let zones = zones_of_joint(setting, bench, joint).map(Where::Zone);
    parts
        .chain(zones)
        .any(|key| of_keys(heat, &[key]).is_some())
}

/// What the body of a part sees: what is stated of it, else as hot as the hottest of the joints that it
/// stands on or is set on, of those on its own body, and where a field is worked out as its own top, which air
/// heats first.
pub fn of_part(setting: &Setting, bench: &Bench, heat: &Heat, part: PartIx) -> Seen {
    let now = &bench.parts[part.0];
    let heated = heat.heats_body(setting, bench, part);
    let off = now.on.is_empty() && !now.lies;
    if !heated && (off || matches!(heat.aim, Aim::LoosePart(_))) {
        return Seen::At(setting.job().ambient, SeenBy::NotHeated);
    }
    if let Some(seen) = of_keys(heat, &[Where::Part(part)]) {
        return stated_body(setting, bench, heat, part, seen);
    }
    let (mut seen, mut is_open) = (Vec::new(), false);
    if let Aim::LoosePart(_) = heat.aim {
        seen.push(at_peak(heat));
    } else {
        is_open = around_body(setting, bench, heat, part, &mut seen);
    }
    let own = heat.part == Some(part);
    if let Some(top) = own.then(|| top(setting, heat)).flatten() {
        seen.push(Seen::At(top.high, SeenBy::Top(top.high - heat.peak)));
    } else {
        is_open |= heated && (heat.by_rays() || heat.heats_all());
    }
    if is_open || seen.is_empty() {
        let spot = computed::of_part(setting.job(), part, now.on.first().copied());
        let below = now.on.iter().any(|joint| is_below(setting, *joint));
        let hidden = below.then(|| over_a_plate(heat)).flatten();
        seen.push(hidden.unwrap_or_else(|| unstated(setting, heat, spot)));
    }
    let all = seen.into_iter().max_by(hotter);
    all.unwrap_or(Seen::UpTo(heat.way.set))
}

/// The body of a part that stands beside hot air, of which only what arrives at its joints is stated: air that
/// runs off the target meets bodies before it warms the board below them, so a share that was read or guessed
/// at joints says little of the body.
pub fn beside_the_air(setting: &Setting, bench: &Bench, heat: &Heat, part: PartIx) -> Option<Seen> {
    let now = &bench.parts[part.0];
    let is_local = matches!(heat.aim, Aim::Joint(_) | Aim::Guard(_) | Aim::Nowhere);
    if heat.way.tool != Tool::Air || !is_local || heat.heats_body(setting, bench, part) {
        return None;
    }
    let said_of = |key: Where| of_keys(heat, &[key]).is_some();
    let zone = now.zone.map(Where::Zone);
    let mut wider = [Where::Part(part), Where::Rest].into_iter().chain(zone);
    let by_joints = now.on.iter().any(|joint| said_of(Where::Joint(*joint)));
    let only_joints = by_joints && !wider.any(said_of);
    let open = only_joints && modelled_part(setting, bench, heat, part).is_none();
    open.then_some(Seen::UpTo(None))
}

/// A body of which something is stated: as hot as that, as anything wider that was read, and as what was read
/// of the joints below it. What brings heat from outside, or to everything, brings it to the body before it
/// comes to its joints: only an iron or tweezers leave it cooler.
fn stated_body(setting: &Setting, bench: &Bench, heat: &Heat, part: PartIx, own: Seen) -> Seen {
    let now = &bench.parts[part.0];
    let zone = now.zone.map(Where::Zone);
    let mut seen = vec![with_wider(heat, own, zone.into_iter().chain([Where::Rest]))];
    let is_temperature = |seen: &Seen| matches!(seen, Seen::At(_, SeenBy::Log | SeenBy::Stated));
    let below = now.on.iter().map(|joint| Where::Joint(*joint));
    seen.extend(
        below
            .filter_map(|key| of_keys(heat, &[key]))
            .filter(is_temperature),
    );
    let from_outside = !matches!(heat.way.tool, Tool::Iron | Tool::Tweezers);
    if from_outside {
        let below = now.on.iter().map(|joint| Where::Joint(*joint));
        seen.extend(below.filter_map(|key| of_keys(heat, &[key])));
    }
    if from_outside && heat.heats_body(setting, bench, part) {
        seen.push(at_peak(heat));
        let heated = heat.heated(setting).filter(|joint| now.on.contains(joint));
        seen.extend(heated.map(|joint| of_target(setting, heat, joint)));
    }
    seen.into_iter().max_by(hotter).unwrap_or(own)
}

/// What is known of the heat around a body; true where it stands on something of which nothing is stated.
fn around_body(
    setting: &Setting,
    bench: &Bench,
    heat: &Heat,
    part: PartIx,
    seen: &mut Vec<Seen>,
) -> bool {
    let now = &bench.parts[part.0];
    let heated: Vec<JointIx> = heat.heated(setting).collect();
    let mut is_open = false;
    for &joint in &heated {
        let is_below = heat.part == Some(part) || now.on.contains(&joint);
        if is_below || setting.facts().carrier(joint) == Some(part) {
            seen.push(of_target(setting, heat, joint));
        }
    }
    for &joint in now.on.iter().filter(|joint| !heated.contains(joint)) {
        match stated_of_joint(setting, bench, heat, joint) {
            Some(stated) => {
                seen.push(from_below(setting, heat, is_below(setting, joint), stated));
                is_open |= heat.by_rays() && !is_said_of_all(heat, now.zone, seen);
            }
            None => is_open = true,
        }
    }
    let carried = setting.facts().carried_by(part);
    let named = |joint: &JointIx| of_keys(heat, &[Where::Joint(*joint)]).is_some();
    let carried = carried.filter(named);
    seen.extend(carried.filter_map(|joint| stated_of_joint(setting, bench, heat, joint)));
    if now.on.is_empty() && now.lies {
        let zone = now.zone.map(Where::Zone);
        let keys: Vec<Where> = zone.into_iter().chain([Where::Rest]).collect();
        match of_keys(heat, &keys) {
            Some(stated) => seen.push(stated),
            None => is_open |= heat.heats_all(),
        }
    }
    is_open
}

/// Whether something is said of all that is dark around: of the zone that a body is in, or of the rest. It goes with
/// what is seen.
fn is_said_of_all(heat: &Heat, zone: Option<ZoneIx>, seen: &mut Vec<Seen>) -> bool {
    let keys: Vec<Where> = zone
        .map(Where::Zone)
        .into_iter()
        .chain([Where::Rest])
        .collect();
    let said = of_keys(heat, &keys);
    seen.extend(said);
    said.is_some()
}

/// The top of the target's own body by the field, with its band.
pub fn top(setting: &Setting, heat: &Heat) -> Option<Band> {
    let at = source(setting, heat);
    computed::top(setting.job(), setting.bounds(), heat, at)
}

/// The field of a step, where all that it needs is described.
pub fn field(setting: &Setting, heat: &Heat) -> Option<Arc<Field>> {
    let at = source(setting, heat)?;
    computed::field(setting.job(), setting.bounds(), heat, at)
}

/// The fastest that the body of a part is heated or cooled, by the field of the step.
pub fn fastest(setting: &Setting, bench: &Bench, heat: &Heat, part: PartIx) -> Option<Ramp> {
    let on = bench.parts[part.0].on.first().copied();
    let spot = computed::of_part(setting.job(), part, on);
    let at = source(setting, heat);
    computed::fastest(setting.job(), setting.bounds(), heat, at, (part, spot))
}

/// What a guard sees.
pub fn of_guard(setting: &Setting, bench: &Bench, heat: &Heat, guard: GuardIx) -> Seen {
    if heat.aim == Aim::Guard(guard) && !heat.blind {
        return Seen::At(heat.peak, SeenBy::Target);
    }
    let facts = &setting.job().guards[guard.0];
    let mut keys = vec![Where::Guard(guard)];
    keys.extend(facts.zone.map(Where::Zone));
    let names: Vec<Vec<Where>> = keys.iter().map(|key| vec![*key]).collect();
    let named = said(heat, &names).map(|own| with_wider(heat, own, [Where::Rest].into_iter()));
    // What lies over joints of the underside is as hot as they are counted.
    let own = |seen| from_below(setting, heat, facts.under, seen);
    let named = named.map(own);
    // A guard that lies over joints is as hot as the hottest of them.
    let over = GuardNow::over(setting, guard);
    let over = over.into_iter().filter(|at| lies_there(bench, guard, *at));
    let hottest = over
        .map(|joint| of_joint(setting, bench, heat, joint))
        .max_by(hotter);
    match (named, hottest) {
        // What lies over a joint is as hot as that, whatever is stated of it.
        (Some(named), Some(hottest)) => std::cmp::max_by(named, hottest, hotter),
        // What stands up from the board takes rays of its own.
        (None, Some(hottest)) if heat.by_rays() && computed::stands_up(facts) => {
            keys.push(Where::Rest);
            let spot = computed::of_guard(setting.job(), guard);
            std::cmp::max_by(of_place(setting, heat, &keys, spot), hottest, hotter)
        }
        (Some(seen), None) | (None, Some(seen)) => seen,
        (None, None) => {
            keys.push(Where::Rest);
            let spot = computed::of_guard(setting.job(), guard);
            own(of_place(setting, heat, &keys, spot))
        }
    }
}

/// A guard that steps put on lies over its joints from then on; below one that lies there from the start
/// nothing changes.
fn lies_there(bench: &Bench, guard: GuardIx, joint: JointIx) -> bool {
    bench.joints[joint.0].under.contains(&guard)
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

/// The parts that stand on a group of joints, else the part whose site it is.
fn parts_at<'b>(
    setting: &Setting,
    bench: &'b Bench,
    joint: JointIx,
) -> impl Iterator<Item = PartIx> + 'b {
    let parts = &bench.joints[joint.0].parts;
    let site = setting.job().joints[joint.0].site_of;
    let site = site.filter(|_| parts.is_empty());
    parts.iter().copied().chain(site)
}

/// The zone that a group of joints is said to lie in, else those of its parts.
fn zones_of_joint<'b>(
    setting: &Setting,
    bench: &'b Bench,
    joint: JointIx,
) -> impl Iterator<Item = ZoneIx> + 'b {
    let own = setting.job().joints[joint.0].zone;
    let of_parts = parts_at(setting, bench, joint).filter_map(|part| bench.parts[part.0].zone);
    own.into_iter()
        .chain(of_parts.filter(move |_| own.is_none()))
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
    let on = bench.parts[part.0].on.first().copied()?;
    modelled(
        setting,
        heat,
        computed::of_part(setting.job(), part, Some(on)),
    )
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
        Found::AtMost(most) => Seen::At(
            most.hot,
            SeenBy::Computed {
                by: most.by,
                free: most.free,
                low: most.low,
                base: most.base,
            },
        ),
    })
}

fn of_place(setting: &Setting, heat: &Heat, keys: &[Where], spot: Spot) -> Seen {
    if let Aim::LoosePart(_) = heat.aim {
        return Seen::At(setting.job().ambient, SeenBy::NotHeated);
    }
    of_keys(heat, keys)
        .or_else(|| of_keys(heat, &[Where::Rest]))
        .unwrap_or_else(|| unstated(setting, heat, spot))
}

/// What stands on a plate or in an oven: its target is at the peak, and what is lighter gets there before it, up to
/// what plate or oven are set to.
fn all_of_it(heat: &Heat) -> Seen {
    match heat.way.set.filter(|set| *set > heat.peak) {
        Some(set) => Seen::At(set, SeenBy::Stated),
        None => Seen::At(heat.peak, SeenBy::Target),
    }
}

/// What hangs below the board over a plate is nearer to it than the target on top, by heat that goes through the board:
/// nobody knows by how much, and no more than the plate itself.
fn over_a_plate(heat: &Heat) -> Option<Seen> {
    let set = heat.way.set.map(|set| set.max(heat.peak));
    let told = set.map(|set| Seen::At(set, SeenBy::Stated));
    let plate = heat.way.tool == Tool::Plate && !heat.blind;
    plate.then(|| told.unwrap_or(Seen::UpTo(None)))
}

/// Whether a group of joints is on the underside.
fn is_below(setting: &Setting, joint: JointIx) -> bool {
    setting.job().joints[joint.0].under
}

/// What a place sees of which nothing is stated.
fn unstated(setting: &Setting, heat: &Heat, spot: Spot) -> Seen {
    if heat.blind {
        return Seen::UpTo(heat.way.set);
    }
    if spot.face == Face::Far
        && let Some(below) = over_a_plate(heat)
    {
        return below;
    }
    if heat.heats_all() {
        return all_of_it(heat);
    }
    modelled(setting, heat, spot).unwrap_or(Seen::UpTo(heat.way.set))
}

/// The first key that anything is stated for; the log before the job, temperatures before
/// couplings.
fn of_keys(heat: &Heat, keys: &[Where]) -> Option<Seen> {
    for &key in keys {
        // A thermocouple that reads less than the plate it stands on, or the oven it is in, has come off.
        let on_it = heat.heats_all() && !heat.blind;
        let at = |t: Celsius, by| Seen::At(if on_it { t.max(heat.peak) } else { t }, by);
        if let Some(t) = heat.log.and_then(|log| lookup(&log.sees, key)) {
            return Some(at(t, SeenBy::Log));
        }
        if let Some(t) = lookup(&heat.way.sees, key) {
            return Some(at(t, SeenBy::Stated));
        }
        if let Some(k) = lookup(&heat.way.couplings, key) {
            // A plate or an oven brings all of its rise to everything.
            let k = if heat.heats_all() && k.factor() < 1.0 {
                Coupling::FULL
            } else {
                k
            };
            if heat.blind && k.factor() > 0.0 {
                return Some(Seen::UpTo(heat.way.set));
            }
            // What lies on it may get as hot as it is set to, wherever its target is stopped.
            let set = heat.way.set.filter(|_| heat.heats_all());
            let top = set.map_or(heat.peak, |set| set.max(heat.peak));
            let rise = (top - heat.way.preheat).scaled(k.factor());
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
