//! How hot a place gets by the heat of a described board and tool: steady bounds, and where the step says
//! how long the tool stays, the field in time; each worked out once.
//!
//! Where anything that heat needs is not said, there is no answer, and the worst case stands.

use std::collections::BTreeMap;
use std::sync::{Arc, Mutex};

use crate::heat::presets::{plate_under, still_air};
use crate::heat::{
    self, Band, Face, Forecast, HeatCapacity, HotBound, Patch, Place, Preheat, Program, Reach,
    Rect, Scene, Seconds, forecast,
};
use crate::job::{GuardIx, GuardKind, Job, JointIx, Part, PartIx};
use crate::quantity::{Celsius, Length, Point};

use super::exposure::{Aim, Heat, tool_spread};

/// A place as heat sees it.
#[derive(Clone, Copy, Debug)]
pub struct Spot {
    /// Its middle.
    pub at: Option<Point>,
    /// How far it reaches around that; `None`: not known.
    pub reach: Option<Length>,
    /// It is a body that stands in the tool's stream, not a part of the board's face.
    pub body: bool,
}

/// What is computed for a place.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Found {
    /// It lies under the tool: only the tool's own temperature bounds it.
    UnderTool(Celsius),
    /// It can see no more than this.
    AtMost {
        /// Hot edge where the tool goes once the target is at its peak.
        stopped: Celsius,
        /// Hot edge however long the tool stays.
        free: Celsius,
        /// On what the first rests.
        by: Model,
        /// Cool edge, where the field decides.
        low: Option<Celsius>,
        /// The board before the tool comes.
        base: Celsius,
    },
}

/// How a temperature is computed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Model {
    /// The most that can ever be.
    SteadyBound,
    /// The field in time, as long as the tool stays.
    Field,
}

/// The bounds of one job that were asked for so far.
#[derive(Debug, Default)]
pub struct Bounds {
    tools: Mutex<BTreeMap<ToolKey, Option<Arc<Pair>>>>,
    spots: Mutex<BTreeMap<SpotKey, Option<Found>>>,
    reaches: Mutex<BTreeMap<ToolKey, Option<Reach>>>,
    fields: Mutex<BTreeMap<FieldKey, Option<Field>>>,
}

/// How long what lies farther off is watched after the tool has gone, s (our judgement: heat needs some
/// ten seconds for two centimetres of board).
pub const WATCH_S: f64 = 60.0;

/// Tool, its place, preheat and how hot the target may get, as whole numbers.
type ToolKey = [i64; 13];
/// The same, the place, its reach, and whether it is a body.
type SpotKey = (ToolKey, [i64; 4]);

type Field = Arc<Forecast>;
/// The tool, how long it stays, and for whom.
type FieldKey = (ToolKey, (u32, For));

/// Bounds of one tool with and without the stop at the target's peak.
#[derive(Debug)]
struct Pair {
    free: HotBound,
    stopped: HotBound,
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
    let spot = toward_members(job, heat, spot)?;
    let (middle, reach) = (spot.at?, spot.reach?);
    if middle.distance(target).mm() - reach.mm() <= tool.footprint().mm() {
        return Some(Found::UnderTool(tool.hottest().max(heat.way.preheat)));
    }
    let hottest = heat.peak + tool_spread(heat.way.tool);
    let tool_key = key(tool, target, heat, Some(hottest));
    let (x, y) = middle.mm();
    let spot_key = (
        tool_key,
        [whole(x), whole(y), whole(reach.mm()), i64::from(spot.body)],
    );
    remembered(&bounds.spots, spot_key, || {
        let scene = scene(job, heat, target, For::Neighbours)?;
        let pair = remembered(&bounds.tools, tool_key, || {
            let known = job.learned.of(tool);
            Some(Arc::new(Pair {
                free: HotBound::of(&scene, &known).ok()?,
                stopped: HotBound::stopped_at(&scene, &known, hottest).ok()?,
            }))
        });
        let points = points(&scene, middle, reach, target)?;
        let steady = |of: fn(&Pair) -> &HotBound| most(of(pair.as_deref()?), &points, spot.body);
        let free = steady(|pair| &pair.free);
        let stopped = steady(|pair| &pair.stopped).min(free);
        // A body in the stream is not in the field.
        let field = (!spot.body).then(|| field_peak(job, bounds, heat, target, spot));
        let band = field.flatten();
        let field = band.map(|peak| peak.high);
        let (stopped, by) = match (stopped, field) {
            (Some(steady), Some(field)) if steady <= field => (steady, Model::SteadyBound),
            (_, Some(field)) => (field, Model::Field),
            (steady, None) => (steady?, Model::SteadyBound),
        };
        // Where no closed form bounds it: the tool itself does, or the board that it comes to.
        let most = free.unwrap_or_else(|| tool.hottest().max(scene.base()));
        Some(Found::AtMost {
            stopped,
            free: field.map_or(most, |field| field.min(most)),
            by,
            low: band.filter(|_| by == Model::Field).map(|peak| peak.low),
            base: scene.base(),
        })
    })
}

/// The band of the hottest that a place sees while the tool stays as long as the step says.
fn field_peak(job: &Job, bounds: &Bounds, heat: &Heat, target: Point, spot: Spot) -> Option<Band> {
    let field = field(job, bounds, heat, target, For::Neighbours)?;
    let id = spot_id(spot)?;
    let found = field.places.iter().find(|place| place.heat.id == id)?;
    Some(found.peak)
}

/// What the target is called in a field.
const TARGET: &str = "target";

/// For whom a field is worked out.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum For {
    /// Nothing keeps the tool's heat from the board.
    Neighbours,
    /// The target's body stores heat and lies in the way of the air.
    Target,
}

/// The field of a step that says how long the tool stays, at every place of the job that heat knows: all
/// that time, whatever the target does. An iron goes from member to member: for the neighbours as if it stayed at one of them for all.
fn field(
    job: &Job,
    bounds: &Bounds,
    heat: &Heat,
    target: Point,
    whom: For,
) -> Option<Arc<Forecast>> {
    let tool = heat.way.described.as_ref()?;
    let each = heat.way.seconds?;
    let seconds = match whom {
        For::Neighbours => each.saturating_mul(members(job, heat)),
        For::Target => each,
    };
    let key = (key(tool, target, heat, None), (seconds, whom));
    remembered(&bounds.fields, key, || {
        let scene = scene(job, heat, target, whom)?;
        let program = Program {
            heat_for: Seconds::from_s(f64::from(seconds)).ok()?,
            until: None,
            then_watch: Seconds::from_s(WATCH_S).ok()?,
        };
        let places = places(job, &scene, heat, target)?;
        forecast(&scene, &program, &places, &job.learned.of(tool))
            .ok()
            .map(Arc::new)
    })
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
    reach.unwrap_or_else(|| Length::nearest_um(0.0))
}

/// An iron may stand on any member of its target: as if every neighbour reached so much farther.
fn toward_members(job: &Job, heat: &Heat, spot: Spot) -> Option<Spot> {
    let wander = match heat.way.described? {
        heat::Tool::Iron { .. } => match heat.aim {
            // Nobody says how far the members lie apart.
            Aim::Joint(joint) => of_joint(job, joint).reach?,
            _ => aim_reach(job, heat),
        },
        heat::Tool::Air(_) => Length::nearest_um(0.0),
    };
    let reach = Length::from_mm(spot.reach?.mm() + wander.mm()).ok()?;
    Some(Spot {
        reach: Some(reach),
        ..spot
    })
}

/// The target, and every place of a job that lies on the board and of which its reach is known.
fn places(job: &Job, scene: &Scene, heat: &Heat, target: Point) -> Option<Vec<Place>> {
    let reach = target_reach(job, heat);
    let mut places = vec![Place {
        id: TARGET.to_owned(),
        at: on_board(target)?,
        reach,
        face: Face::Tool,
    }];
    for spot in spots(job).filter_map(|spot| toward_members(job, heat, spot)) {
        let at = spot.at.and_then(on_board);
        if let (Some(id), Some(at), Some(reach)) = (spot_id(spot), at, spot.reach)
            && scene.holds_point(at)
            && !places.iter().any(|place| place.id == id)
        {
            let face = Face::Tool;
            places.push(Place {
                id,
                at,
                reach,
                face,
            });
        }
    }
    Some(places)
}

/// Every place of a job, as far as the job alone says where it is.
fn spots(job: &Job) -> impl Iterator<Item = Spot> + '_ {
    let joints = (0..job.joints.len()).map(|j| of_joint(job, JointIx(j)));
    let guards = (0..job.guards.len()).map(|g| of_guard(job, GuardIx(g)));
    joints.chain(guards)
}

/// A place is the same place if it is as large and lies there.
fn spot_id(spot: Spot) -> Option<String> {
    let (x, y) = spot.at?.mm();
    Some(format!("{x} {y} {}", spot.reach?.mm()))
}

/// A group of joints as heat sees it. A group of which nobody says how far it reaches is no point.
pub fn of_joint(job: &Job, joint: JointIx) -> Spot {
    let facts = &job.joints[joint.0];
    let site = facts.site_of.map(|part| &job.parts[part.0]);
    let alone = (facts.count == 1 && site.is_none()).then(|| Length::nearest_um(0.0));
    Spot {
        at: facts.at.or_else(|| site?.at),
        reach: facts.reach.or_else(|| site?.reach()).or(alone),
        body: false,
    }
}

/// A part that stands on these joints, or lies somewhere.
pub fn of_part(job: &Job, part: PartIx, on: Option<JointIx>) -> Spot {
    let facts = &job.parts[part.0];
    Spot {
        at: facts.at.or_else(|| of_joint(job, on?).at),
        reach: facts.reach(),
        body: true,
    }
}

/// A guard that has a place of its own.
pub fn of_guard(job: &Job, guard: GuardIx) -> Spot {
    let facts = &job.guards[guard.0];
    Spot {
        at: facts.at,
        reach: facts.reach,
        body: matches!(facts.kind, GuardKind::Plastic | GuardKind::Other),
    }
}

/// What the described tool can bring its target to: at most, or where the step says how long the tool
/// stays, by then.
pub fn reach(job: &Job, bounds: &Bounds, heat: &Heat, target: Option<Point>) -> Option<Reach> {
    let tool = heat.way.described.as_ref()?;
    let target = target?;
    if let Some(field) = field(job, bounds, heat, target, For::Target)
        && let Some(place) = field.places.first()
    {
        return Some(Reach {
            cool: place.all_reached.low,
            likeliest: place.all_reached.mid,
        });
    }
    remembered(&bounds.reaches, key(tool, target, heat, None), || {
        Reach::of(
            &scene(job, heat, target, For::Target)?,
            &job.learned.of(tool),
        )
        .ok()
    })
}

/// The set-up of a step; `None` where it is not described, or one that heat refuses.
pub fn scene(job: &Job, heat: &Heat, target: Point, whom: For) -> Option<Scene> {
    let mut plate = job.board.as_ref()?.plate.clone()?;
    if let (Some(part), For::Target) = (heat.part, whom) {
        for patch in body(&job.parts[part.0], target)
            .into_iter()
            .flatten()
            .flatten()
        {
            plate = plate.with_patch(patch);
        }
    }
    let tool = heat.way.described?;
    let warm = (heat.way.preheat > job.ambient).then(|| Preheat {
        area: heat.way.preheat_area,
        ..plate_under(heat.way.preheat)
    });
    Scene::new(plate, still_air(job.ambient), tool, on_board(target)?, warm).ok()
}

/// Specific heat of moulded bodies, J/kgK: 800 to 1000 for filled epoxy, about 700 for silicon (handbook
/// values, from memory).
const BODY_J_KGK: f64 = 900.0;

/// The target's body: what it stores, and that it lies in the way of air.
fn body(part: &Part, at: Point) -> Option<[Option<Patch>; 2]> {
    let (wide, tall) = part.size?;
    let (x, y) = at.mm();
    let corner = |sign: f64| {
        let side = |middle: f64, size: Length| (middle + sign * size.mm() / 2.0).max(0.0);
        heat::Point::from_mm(side(x, wide), side(y, tall)).ok()
    };
    let area = Rect::between(corner(-1.0)?, corner(1.0)?);
    let capacity = part
        .mass
        .and_then(|mass| HeatCapacity::from_j_k(mass.mg() * 1e-6 * BODY_J_KGK).ok());
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

fn key(tool: &heat::Tool, target: Point, heat: &Heat, hottest: Option<Celsius>) -> ToolKey {
    let own = match tool {
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
            1,
            whole(contact.mm()),
            whole(resistance.k_w()),
            0,
            i64::from(tip.millidegrees()),
        ],
    };
    let (x, y) = target.mm();
    let area = heat.way.preheat_area.map_or([-1; 4], |area| {
        [area.from.x, area.from.y, area.to.x, area.to.y].map(|side| whole(side.mm()))
    });
    [
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
        hottest.map_or(i64::MIN, |t| i64::from(t.millidegrees())),
    ]
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

fn most(bound: &HotBound, points: &[heat::Point], body: bool) -> Option<Celsius> {
    let mut most: Option<Celsius> = None;
    for point in points {
        let here = if body {
            bound.of_body(*point)
        } else {
            bound.at(*point, Face::Tool)
        };
        most = most.max(Some(here.ok()?));
    }
    most
}
