//! How hot a place gets by the heat of a described board and tool; each worked out once.
//!
//! What counts is the hot edge of the field in time: the tool goes when the coldest joint of the target is at its
//! peak and as much more as a hand overshoots it, or when its time is up. Bare joints run ahead of a target
//! under a body, so nothing else bounds a neighbour but the steady state of the same set-up. Where
//! anything that heat needs is not said, there is no answer, and nothing is known.

use std::collections::BTreeMap;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, OnceLock};

use crate::heat::presets::{plate_under, still_air};
use crate::heat::{
    self, Band, ContactResistance, Face, Forecast, HeatCapacity, HotBound, Knowledge, Patch, Place,
    Preheat, Program, Reach, Rect, Scene, Seconds, Until, forecast_each,
};
use crate::job::{Guard, GuardIx, GuardKind, Job, JointIx, Part, PartIx, Tool, Work};
use crate::quantity::{Celsius, Length, Mass, Point, Ramp};

use super::exposure::{Aim, Heat, tool_spread};

/// A place as heat sees it.
#[derive(Clone, Copy, Debug)]
pub struct Spot {
    /// Its middle.
    pub at: Option<Point>,
    /// How far it reaches around that; `None`: not known.
    pub reach: Option<Length>,
    /// What of the board it is.
    pub face: Face,
}

/// What is computed for a place.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Found {
    /// It lies under the tool: only the tool's own temperature bounds it.
    UnderTool(Celsius),
    /// It can see no more than this.
    AtMost(Most),
}

/// The most that a place can see.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Most {
    /// Hot edge where the tool goes once the target is at its peak, or its time is up.
    pub hot: Celsius,
    /// Hot edge however long the tool stays.
    pub free: Celsius,
    /// On what the first rests.
    pub by: Model,
    /// Cool edge, where the field decides.
    pub low: Option<Celsius>,
    /// The board before the tool comes.
    pub base: Celsius,
}

/// How a temperature is computed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Model {
    /// The most that can ever be.
    SteadyBound,
    /// The field in time, until the target is at its peak or the time is up.
    Field,
}

/// The bounds of one job that were asked for so far.
#[derive(Debug, Default)]
pub struct Bounds {
    tools: Mutex<BTreeMap<SetUpKey, Option<Arc<HotBound>>>>,
    spots: Mutex<BTreeMap<SpotKey, Option<Found>>>,
    reaches: Mutex<BTreeMap<SetUpKey, Option<Reach>>>,
    fields: Mutex<BTreeMap<SetUpKey, Option<Arc<Field>>>>,
    stop: OnceLock<&'static AtomicBool>,
}

impl Bounds {
    /// From now on no field is worked out once that is set: what was not worked out before is not known.
    pub fn stop_by(&self, stop: &'static AtomicBool) {
        // Set once: whoever holds the answer holds all of it.
        let _ = self.stop.set(stop);
    }

    pub(super) fn stop(&self) -> Option<&'static AtomicBool> {
        self.stop.get().copied()
    }

    fn is_stopped(&self) -> bool {
        let stop = self.stop();
        stop.is_some_and(|stop| stop.load(Ordering::Relaxed))
    }
}

/// How long what lies farther off is watched after the tool has gone, s (our judgement: heat needs some
/// ten seconds for two centimetres of board).
pub const WATCH_S: f64 = 60.0;

/// Longest that a tool is followed where nobody says how long it stays, s (common practice, no source: five
/// minutes of air on one part). A target that does not get there by then has no field.
pub const LONGEST_S: u32 = 300;

/// Tool, its corners, its place, preheat, what it heats, how hot and how long, as whole numbers.
type SetUpKey = [i64; 18];
/// The same, the place, its reach, and whether it is a body.
type SpotKey = (SetUpKey, [i64; 4]);

/// The field of one step with its three ends.
#[derive(Clone, Debug)]
pub struct Field {
    /// The tool goes when all of the target is at its peak: what is likely.
    pub at_peak: Forecast,
    /// The same with the peak as much higher as the hand may overshoot it.
    pub beyond_peak: Forecast,
    /// The tool stays all its time, whatever the target does.
    pub all_time: Forecast,
    /// Whether the target is described well enough for the hand to be stopped by it.
    pub stops: bool,
}

/// What a place sees; `None` where something that heat needs is not said or lies out of range.
pub fn at(
    job: &Job,
    bounds: &Bounds,
    heat: &Heat,
    target: Option<Point>,
    spot: Spot,
) -> Option<Found> {
    let tool = heat.way.described.as_ref()?;
    let target = target?;
    let spot = toward_tool(job, heat, spot)?;
    let (middle, reach) = (spot.at?, spot.reach?);
    let set_up_key = key(heat, target)?;
    let (x, y) = middle.mm();
    let spot_key = (
        set_up_key,
        [whole(x), whole(y), whole(reach.mm()), spot.face as i64],
    );
    remembered(&bounds.spots, spot_key, || {
        let scene = scene(job, heat, target)?;
        let known = known(job, heat, tool);
        let hottest = known.hottest(&scene).max(scene.base());
        let below = middle.distance(target).mm() - reach.mm() <= scene.tool().footprint().mm();
        if below && scene.tool().hides() {
            return Some(Found::UnderTool(hottest));
        }
        let bound = remembered(&bounds.tools, set_up_key, || {
            HotBound::of(&scene, &known).ok().map(Arc::new)
        });
        let points = points(&scene, middle, reach, target)?;
        let steady = bound.and_then(|bound| most(&bound, &points, spot.face));
        let band = field_peak(job, bounds, heat, target, spot);
        // What nobody waited for is not known: the most that could ever be is no finding.
        if band.is_none() && bounds.is_stopped() {
            return None;
        }
        // Where no closed form bounds it: the tool itself does, or the board that it comes to.
        let free = steady.unwrap_or(hottest);
        let most = match band {
            Some(band) if band.high < free || steady.is_none() => Most {
                hot: band.high,
                free: free.max(band.high),
                by: Model::Field,
                low: Some(band.low),
                base: scene.base(),
            },
            band => Most {
                // The bound is exact; what is cut into cells is not, and is never undercut.
                hot: steady?.max(band.map_or(scene.base(), |band| band.mid)),
                free,
                by: Model::SteadyBound,
                low: None,
                base: scene.base(),
            },
        };
        Some(Found::AtMost(most))
    })
}

/// The band of the hottest that a place sees: no less than where the hand stops at the very peak.
fn field_peak(job: &Job, bounds: &Bounds, heat: &Heat, target: Point, spot: Spot) -> Option<Band> {
    let field = field(job, bounds, heat, target)?;
    let id = spot_id(spot)?;
    let counted = field.counted(heat)?;
    let of = |forecast: &Forecast| {
        let mut places = forecast.places.iter();
        places.find(|place| place.heat.id == id).map(|p| p.peak)
    };
    let (beyond, likely) = (of(counted)?, of(&field.at_peak)?);
    Some(Band {
        high: beyond.high.max(likely.high),
        ..beyond
    })
}

impl Field {
    /// The end that verdicts count; none where nobody says how long the tool stays, and nothing surely stops it.
    pub fn counted(&self, heat: &Heat) -> Option<&Forecast> {
        if !self.stops {
            return heat.way.seconds.is_some().then_some(&self.all_time);
        }
        let goal = heat.peak + tool_spread(heat.way.tool);
        let surely = || Some(self.all_time.places.first()?.all_reached.low >= goal);
        (heat.way.seconds.is_some() || surely()?).then_some(&self.beyond_peak)
    }
}

/// What the target is called in a field.
pub const TARGET: &str = "target";

/// What the top of the target's own body is called in a field.
pub const TOP: &str = "top";

/// The field of a step at every place of the job that heat knows. An iron goes from member to member: as if it
/// stayed at one of them for all.
pub fn field(job: &Job, bounds: &Bounds, heat: &Heat, target: Point) -> Option<Arc<Field>> {
    remembered(&bounds.fields, key(heat, target)?, || {
        let tool = heat.way.described.as_ref()?;
        let each = heat.way.seconds.unwrap_or(LONGEST_S);
        let seconds = each.saturating_mul(members(job, heat));
        let scene = scene(job, heat, target)?;
        let program = Program {
            heat_for: Seconds::from_s(f64::from(seconds)).ok()?,
            until: None,
            then_watch: Seconds::from_s(WATCH_S).ok()?,
        };
        let places = places(job, &scene, heat, target)?;
        let at = |coolest: Celsius| {
            Some(Until {
                id: TARGET.to_owned(),
                coolest,
            })
        };
        let stops = stops(job, heat);
        let ends = if stops {
            let spread = tool_spread(heat.way.tool);
            vec![at(heat.peak), at(heat.peak + spread), None]
        } else {
            vec![at(heat.peak), None]
        };
        let known = known(job, heat, tool);
        let go_on = || !bounds.is_stopped();
        let mut ends = forecast_each(&scene, &program, &ends, &places, &known, &go_on).ok()?;
        let all_time = ends.pop()?;
        let beyond_peak = if stops { ends.pop()? } else { all_time.clone() };
        Some(Arc::new(Field {
            at_peak: ends.pop()?,
            beyond_peak,
            all_time,
            stops,
        }))
    })
}

/// Whether the hand can be taken to stop at the target's peak: how far it reaches is known, and of a body on it
/// how high it is, so that its lag is in the field. An iron that goes from member to member stops at each, not at the
/// first. Tweezers bring more heat here than they do, so that their target is at its peak too soon. Of rays nobody knows
/// how much the target takes: a bright lid turns most of them away, and all the rest gets hotter meanwhile.
fn stops(job: &Job, heat: &Heat) -> bool {
    if members(job, heat) > 1 || matches!(heat.way.tool, Tool::Tweezers | Tool::Infrared) {
        return false;
    }
    let spread_out = matches!(heat.way.described, Some(heat::Tool::Air(_)));
    let reach = match heat.aim {
        Aim::Joint(joint) => of_joint(job, joint).reach.is_some(),
        Aim::Guard(guard) => of_guard(job, guard).reach.is_some(),
        Aim::LoosePart(_) | Aim::Board | Aim::Nowhere => false,
    };
    let body = heat.part.is_none_or(|part| {
        let part = &job.parts[part.0];
        part.size.is_some() && part.thick.is_some()
    });
    (reach || !spread_out) && body
}

/// The band of the top of the target's own body: no less than where the hand stops at the very peak. Its height
/// not being known, the air itself; `None` where there is no field.
pub fn top(job: &Job, bounds: &Bounds, heat: &Heat, target: Option<Point>) -> Option<Band> {
    let field = field(job, bounds, heat, target?)?;
    let of = |forecast: &Forecast| {
        let mut places = forecast.places.iter();
        places.find(|place| place.heat.id == TOP).map(|p| p.peak)
    };
    let likely = of(&field.at_peak)?;
    let high = match field.counted(heat) {
        Some(counted) => of(counted)?.high.max(likely.high),
        None => of(&field.all_time)?.high,
    };
    Some(Band { high, ..likely })
}

/// The fastest that a body is heated or cooled, at the hot edge of each end of the heating; `None` where there is no
/// field, or it is not in it.
pub fn fastest(
    job: &Job,
    bounds: &Bounds,
    heat: &Heat,
    target: Option<Point>,
    (part, spot): (PartIx, Spot),
) -> Option<Ramp> {
    let field = field(job, bounds, heat, target?)?;
    let id = if heat.part == Some(part) {
        TOP.to_owned()
    } else {
        spot_id(toward_tool(job, heat, spot)?)?
    };
    let of = |forecast: &Forecast| {
        let mut places = forecast.places.iter();
        places.find(|place| place.heat.id == id).map(|p| p.fastest)
    };
    let ends = [&field.at_peak, &field.beyond_peak, &field.all_time];
    ends.into_iter().map(of).max()?
}

/// How many times an iron comes to the target.
fn members(job: &Job, heat: &Heat) -> u32 {
    match (heat.aim, heat.way.described) {
        (Aim::Joint(joint), Some(heat::Tool::Iron { .. })) => job.joints[joint.0].count,
        _ => 1,
    }
}

/// How far the target reaches that must flow at once: an iron flows one member at a time.
pub fn target_reach(job: &Job, heat: &Heat) -> Length {
    if matches!(heat.way.described, Some(heat::Tool::Iron { .. })) {
        return Length::nearest_um(0.0);
    }
    aim_reach(job, heat)
}

fn aim_reach(job: &Job, heat: &Heat) -> Length {
    let reach = match heat.aim {
        Aim::Joint(joint) => of_joint(job, joint).reach,
        Aim::Guard(guard) => of_guard(job, guard).reach,
        Aim::LoosePart(_) | Aim::Board | Aim::Nowhere => None,
    };
    // Several groups below one body are all of it.
    let body = heat.part.and_then(|part| job.parts[part.0].reach());
    let widest = |one: Length, other: Length| if one.mm() < other.mm() { other } else { one };
    let reach = match (reach, body) {
        (Some(reach), Some(body)) => Some(widest(reach, body)),
        (reach, body) => reach.or(body),
    };
    reach.unwrap_or_else(|| Length::nearest_um(0.0))
}

/// An iron may stand on any member of its target, and the corners of a nozzle that is not round reach beyond the round
/// one that stands for it: as if every neighbour reached so much farther.
pub fn toward_tool(job: &Job, heat: &Heat, spot: Spot) -> Option<Spot> {
    let wander = match heat.way.described? {
        // What they bring is spread over all members as it is.
        heat::Tool::Iron { .. } if heat.way.tool == Tool::Tweezers => Length::nearest_um(0.0),
        heat::Tool::Iron { .. } => match heat.aim {
            // Nobody says how far the members lie apart.
            Aim::Joint(joint) => of_joint(job, joint).reach?,
            _ => aim_reach(job, heat),
        },
        heat::Tool::Air(_) | heat::Tool::Rays(_) => {
            heat.way.corners.unwrap_or(Length::nearest_um(0.0))
        }
    };
    let reach = Length::from_mm(spot.reach?.mm() + wander.mm()).ok()?;
    Some(Spot {
        reach: Some(reach),
        ..spot
    })
}

/// The target, the top of its body, and every place of a job that lies on the board and of which its reach is
/// known.
fn places(job: &Job, scene: &Scene, heat: &Heat, target: Point) -> Option<Vec<Place>> {
    let (at, reach) = (on_board(target)?, target_reach(job, heat));
    let mut places = vec![Place {
        id: TARGET.to_owned(),
        at,
        reach,
        face: Face::Tool,
    }];
    if heat.part.is_some() {
        places.push(Place {
            id: TOP.to_owned(),
            at,
            reach,
            face: Face::Body,
        });
    }
    for spot in spots(job).filter_map(|spot| toward_tool(job, heat, spot)) {
        let at = spot.at.and_then(on_board);
        if let (Some(id), Some(at), Some(reach)) = (spot_id(spot), at, spot.reach)
            && scene.holds_point(at)
            && !places.iter().any(|place| place.id == id)
        {
            places.push(Place {
                id,
                at,
                reach,
                face: spot.face,
            });
        }
    }
    Some(places)
}

/// Every place of a job, as far as the job alone says where it is.
fn spots(job: &Job) -> impl Iterator<Item = Spot> + '_ {
    let joints = (0..job.joints.len()).map(|j| of_joint(job, JointIx(j)));
    let guards = (0..job.guards.len()).map(|g| of_guard(job, GuardIx(g)));
    let parts = (0..job.parts.len()).flat_map(move |p| {
        let on = (0..job.joints.len()).map(JointIx);
        on.filter(move |joint| may_stand(job, PartIx(p), *joint))
            .map(move |joint| of_part(job, PartIx(p), Some(joint)))
    });
    joints.chain(guards).chain(parts)
}

/// Whether a part stands on these joints at the start, or comes to them.
fn may_stand(job: &Job, part: PartIx, joint: JointIx) -> bool {
    let placed = |work: &Work| matches!(work, Work::Place { part: p, on, .. } if *p == part && on.contains(&joint));
    job.parts[part.0].on.contains(&joint)
        || job.joints[joint.0].site_of == Some(part)
        || job.steps.iter().any(|step| placed(&step.work))
}

/// A place is the same place if it is as large and lies there.
pub fn spot_id(spot: Spot) -> Option<String> {
    let (x, y) = spot.at?.mm();
    Some(format!("{x} {y} {} {:?}", spot.reach?.mm(), spot.face))
}

/// A group of joints as heat sees it. A group of which nobody says how far it reaches is no point.
pub fn of_joint(job: &Job, joint: JointIx) -> Spot {
    let facts = &job.joints[joint.0];
    let site = facts.site_of.map(|part| &job.parts[part.0]);
    let alone = (facts.count == 1 && site.is_none()).then(|| Length::nearest_um(0.0));
    Spot {
        at: facts.at.or_else(|| site?.at),
        reach: facts.reach.or_else(|| site?.reach()).or(alone),
        face: if facts.under { Face::Far } else { Face::Tool },
    }
}

/// A part that stands on these joints, or lies somewhere.
pub fn of_part(job: &Job, part: PartIx, on: Option<JointIx>) -> Spot {
    let facts = &job.parts[part.0];
    Spot {
        at: facts.at.or_else(|| of_joint(job, on?).at),
        reach: facts.reach(),
        face: Face::Body,
    }
}

/// A guard that has a place of its own.
pub fn of_guard(job: &Job, guard: GuardIx) -> Spot {
    let facts = &job.guards[guard.0];
    Spot {
        at: facts.at,
        reach: facts.reach,
        face: if facts.under {
            Face::Far
        } else if stands_up(facts) {
            Face::Body
        } else {
            Face::Tool
        },
    }
}

/// Whether a guard is no film on the board, but a thing on it.
pub fn stands_up(guard: &Guard) -> bool {
    matches!(guard.kind, GuardKind::Plastic | GuardKind::Other)
}

/// What the described tool can bring its target to: at most, or where the step says how long the tool
/// stays, by then.
pub fn reach(job: &Job, bounds: &Bounds, heat: &Heat, target: Option<Point>) -> Option<Reach> {
    let reach = dark_reach(job, bounds, heat, target)?;
    Some(if may_shine(heat) {
        Reach {
            cool: reach.cool.min(heat.way.preheat),
            ..reach
        }
    } else {
        reach
    })
}

/// Whether a bright lid may turn the heat of a step away from its target: of rays that fall on a part nobody says.
pub fn may_shine(heat: &Heat) -> bool {
    heat.way.tool == Tool::Infrared && heat.part.is_some()
}

/// The same of a target that takes all that the tool brings.
fn dark_reach(job: &Job, bounds: &Bounds, heat: &Heat, target: Option<Point>) -> Option<Reach> {
    let tool = heat.way.described.as_ref()?;
    let target = target?;
    // An iron stays its time at each member, and for the neighbours as if at one of them for all.
    let alone = members(job, heat) == 1 && heat.way.tool != Tool::Tweezers;
    if heat.way.seconds.is_some() && alone {
        let field = field(job, bounds, heat, target)?;
        return field.all_time.places.first().map(reached);
    }
    if let Some(each) = heat.way.seconds {
        return member_reach(job, bounds, heat, target, each);
    }
    remembered(&bounds.reaches, key(heat, target)?, || {
        Reach::of(&target_scene(job, heat, target)?, &known(job, heat, tool)).ok()
    })
}

fn reached(place: &heat::PlaceForecast) -> Reach {
    Reach {
        cool: place.all_reached.low,
        likeliest: place.all_reached.mid,
    }
}

/// What one member of the target reaches in the time of one.
fn member_reach(
    job: &Job,
    bounds: &Bounds,
    heat: &Heat,
    target: Point,
    each: u32,
) -> Option<Reach> {
    let tool = heat.way.described.as_ref()?;
    remembered(&bounds.reaches, key(heat, target)?, || {
        let program = Program {
            heat_for: Seconds::from_s(f64::from(each)).ok()?,
            until: None,
            then_watch: Seconds::from_s(0.0).ok()?,
        };
        let scene = target_scene(job, heat, target)?;
        let place = Place {
            id: TARGET.to_owned(),
            at: on_board(target)?,
            reach: target_reach(job, heat),
            face: Face::Tool,
        };
        let known = known(job, heat, tool);
        let found = heat::forecast(&scene, &program, &[place], &known).ok()?;
        found.places.first().map(reached)
    })
}

/// What is known of the tool of a step. Nothing is learned with tweezers, and what was with an iron is not of them.
pub fn known(job: &Job, heat: &Heat, tool: &heat::Tool) -> Knowledge {
    match heat.way.tool {
        Tool::Tweezers => job.unread_of(tool),
        _ => job.known_of(tool),
    }
}

/// The tool as its neighbours see it. Tips of tweezers stand somewhere on the target: heat enters as fast as below
/// a tip all over the circle that holds them. More film to something hotter makes no place cooler, so this bounds what
/// neighbours see from above, wherever the tips stand and whatever lies between them.
fn for_neighbours(job: &Job, heat: &Heat) -> Option<heat::Tool> {
    let tool = heat.way.described?;
    let heat::Tool::Iron {
        tip,
        contact,
        resistance,
    } = tool
    else {
        return Some(tool);
    };
    if heat.way.tool != Tool::Tweezers {
        return Some(tool);
    }
    let reach = match heat.aim {
        Aim::Joint(joint) => of_joint(job, joint).reach?,
        Aim::Guard(guard) => of_guard(job, guard).reach?,
        Aim::LoosePart(_) | Aim::Board | Aim::Nowhere => return None,
    };
    let reach = reach.mm().max(aim_reach(job, heat).mm());
    let across = contact.mm() + 2.0 * reach;
    let resistance = resistance.k_w() * (contact.mm() / across).powi(2);
    Some(heat::Tool::Iron {
        tip,
        contact: Length::from_mm(across).ok()?,
        resistance: ContactResistance::from_k_w(resistance).ok()?,
    })
}

/// The set-up of a step as its neighbours see it; `None` where it is not described, or one that heat refuses.
pub fn scene(job: &Job, heat: &Heat, target: Point) -> Option<Scene> {
    // What the body between tips stores only keeps heat from the neighbours.
    let stores = heat.way.tool != Tool::Tweezers;
    with_tool(job, heat, target, (for_neighbours(job, heat)?, stores))
}

/// The same for whether the target flows: one tip at one place, the other one left out.
pub fn target_scene(job: &Job, heat: &Heat, target: Point) -> Option<Scene> {
    with_tool(job, heat, target, (for_target(heat)?, true))
}

/// The tool as its target sees it: of an emitter with corners the largest round one that lies within it.
fn for_target(heat: &Heat) -> Option<heat::Tool> {
    let tool = heat.way.described?;
    let (heat::Tool::Rays(emitter), Some(corners)) = (tool, heat.way.corners) else {
        return Some(tool);
    };
    // Sides from the area, which the round one has, and the diagonal.
    let across = emitter.across.mm();
    let diagonal = across + 2.0 * corners.mm();
    let twice_area = std::f64::consts::FRAC_PI_2 * across * across;
    let (sum, gap) = (
        (diagonal * diagonal + twice_area).sqrt(),
        (diagonal * diagonal - twice_area).max(0.0).sqrt(),
    );
    let across = Length::from_mm((sum - gap) / 2.0).ok()?;
    Some(heat::Tool::Rays(heat::Emitter { across, ..emitter }))
}

fn with_tool(
    job: &Job,
    heat: &Heat,
    target: Point,
    (tool, stores): (heat::Tool, bool),
) -> Option<Scene> {
    let mut plate = job.board.as_ref()?.plate.clone()?;
    if let Some(part) = heat.part {
        // A tip touches the joint beside the body; only air and rays have to go through it.
        let counts = |patch: &Patch| match patch {
            Patch::Cover { .. } => !matches!(tool, heat::Tool::Iron { .. }),
            _ => stores,
        };
        let patches = body(&job.parts[part.0], target).into_iter().flatten();
        for patch in patches.flatten().filter(counts) {
            plate = plate.with_patch(patch);
        }
    }
    let warm = (heat.way.preheat > job.ambient).then(|| Preheat {
        area: heat.way.preheat_area,
        ..plate_under(heat.way.preheat)
    });
    Scene::new(plate, still_air(job.ambient), tool, on_board(target)?, warm).ok()
}

/// Specific heat of moulded bodies, J/kgK: 800 to 1000 for filled epoxy, about 700 for silicon (handbook
/// values, from memory).
const BODY_J_KGK: f64 = 900.0;

/// Density of moulded bodies, mg/mm³: filled epoxy 1.8 to 2.0 (handbook values, from memory).
const BODY_MG_MM3: f64 = 1.9;

/// The target's body: what it stores, and that it lies in the way of air. A body of which only the size is known
/// weighs what filled epoxy does.
fn body(part: &Part, at: Point) -> Option<[Option<Patch>; 2]> {
    let (wide, tall) = part.size?;
    let (x, y) = at.mm();
    let corner = |sign: f64| {
        let side = |middle: f64, size: Length| (middle + sign * size.mm() / 2.0).max(0.0);
        heat::Point::from_mm(side(x, wide), side(y, tall)).ok()
    };
    let area = Rect::between(corner(-1.0)?, corner(1.0)?);
    let by_size = part
        .thick
        .map(|thick| wide.mm() * tall.mm() * thick.mm() * BODY_MG_MM3);
    let mg = part.mass.map(Mass::mg).or(by_size);
    let capacity = mg.and_then(|mg| HeatCapacity::from_j_k(mg * 1e-6 * BODY_J_KGK).ok());
    Some([
        capacity.map(|capacity| Patch::Body { area, capacity }),
        part.thick.map(|thick| Patch::Cover { area, thick }),
    ])
}

/// A point of the job as one of the board; `None` to the left of it or below.
pub fn on_board(point: Point) -> Option<heat::Point> {
    let (x, y) = point.mm();
    heat::Point::from_mm(x, y).ok()
}

/// Answers are kept; a lock that a panic poisoned holds whole answers all the same.
fn remembered<K: Ord + Copy, V: Clone>(
    kept: &Mutex<BTreeMap<K, Option<V>>>,
    key: K,
    work_out: impl FnOnce() -> Option<V>,
) -> Option<V> {
    let lock = || {
        kept.lock()
            .unwrap_or_else(std::sync::PoisonError::into_inner)
    };
    if let Some(known) = lock().get(&key) {
        return known.clone();
    }
    let found = work_out();
    lock().insert(key, found.clone());
    found
}

/// In nanometres: places closer than that are the same.
fn whole(mm: f64) -> i64 {
    #[expect(
        clippy::cast_possible_truncation,
        reason = "quantities are finite and bounded, and `as` saturates"
    )]
    let whole = (mm * 1e6).round() as i64;
    whole
}

fn key(heat: &Heat, target: Point) -> Option<SetUpKey> {
    let own = match heat.way.described.as_ref()? {
        heat::Tool::Air(jet) => [
            0,
            whole(jet.nozzle.mm()),
            whole(jet.flow.l_min()),
            whole(jet.standoff.mm()),
            i64::from(jet.air.millidegrees()),
        ],
        heat::Tool::Iron {
            tip,
            contact,
            resistance,
        } => [
            if heat.way.tool == Tool::Tweezers {
                2
            } else {
                1
            },
            whole(contact.mm()),
            whole(resistance.k_w()),
            0,
            i64::from(tip.millidegrees()),
        ],
        heat::Tool::Rays(emitter) => [
            3,
            whole(emitter.across.mm()),
            whole(emitter.standoff.mm()),
            0,
            i64::from(emitter.face.millidegrees()),
        ],
    };
    let (x, y) = target.mm();
    let area = heat.way.preheat_area.map_or([-1; 4], |area| {
        [area.from.x, area.from.y, area.to.x, area.to.y].map(|side| whole(side.mm()))
    });
    let index = |at: usize| i64::try_from(at).unwrap_or(i64::MAX);
    let (kind, aim) = match heat.aim {
        Aim::Joint(joint) => (0, index(joint.0)),
        Aim::Guard(guard) => (1, index(guard.0)),
        Aim::LoosePart(_) | Aim::Board | Aim::Nowhere => return None,
    };
    Some([
        own[0],
        own[1],
        own[2],
        own[3],
        own[4],
        whole(x),
        whole(y),
        i64::from(heat.way.preheat.millidegrees()),
        area[0],
        area[1],
        area[2],
        area[3],
        i64::from(heat.peak.millidegrees()),
        kind,
        aim,
        heat.part.map_or(-1, |part| index(part.0)),
        heat.way.seconds.map_or(-1, i64::from),
        heat.way.corners.map_or(-1, |corners| whole(corners.mm())),
    ])
}

/// Points of a place that are asked: its middle, and around it where it reaches; the point nearest to
/// the tool is always among them. What lies off the board is left out, but not all of it.
fn points(scene: &Scene, middle: Point, reach: Length, tool: Point) -> Option<Vec<heat::Point>> {
    let (x, y) = middle.mm();
    let mut all = vec![on_board(middle)?];
    if reach.mm() > 0.0 {
        let (tool_x, tool_y) = tool.mm();
        let toward = (tool_y - y).atan2(tool_x - x);
        for eighth in 0..8 {
            let angle = toward + f64::from(eighth) * std::f64::consts::FRAC_PI_4;
            let (wide, tall) = scene.board().sides();
            // Onto the board, so that an edge that the place reaches over is asked.
            let (x, y) = (
                (x + reach.mm() * angle.cos()).clamp(0.0, wide.mm()),
                (y + reach.mm() * angle.sin()).clamp(0.0, tall.mm()),
            );
            all.push(heat::Point::from_mm(x, y).ok()?);
        }
    }
    Some(all)
}

fn most(bound: &HotBound, points: &[heat::Point], face: Face) -> Option<Celsius> {
    let mut most: Option<Celsius> = None;
    for point in points {
        most = most.max(Some(bound.at(*point, face).ok()?));
    }
    most
}
