//! What heat is computed from: the board, tools in physical terms, and what readings taught.

use super::desk::{Desk, Mark, Notice};
use super::fields::{self, Fields};
use super::learned::{self, Kind};
use super::node::Node;
use super::shape::{Board, Guard, Job, Learned, ReadingFile, Tool, Work};
use super::{kept, keys};
use crate::heat::{self, AirFlow, ContactResistance, Jet, Kept, Knowledge, Patch, Rect, Stack};
use crate::quantity::{Celsius, KelvinStep, Length, Point, Share};
use crate::yaml::{Place, Placed};

/// What a board must say before heat is computed on it.
const NEEDED: [&str; 2] = ["size_mm", "thickness_mm"];
/// What is guessed where a board does not say it, with a wider band (four times the copper is four times the
/// conduction).
const GUESSED: [&str; 3] = ["layers", "copper_um", "coverage"];

/// The keys that heat needs and a board leaves out.
pub(super) fn lacking(board: &Fields) -> Vec<&'static str> {
    NEEDED.into_iter().filter(|key| !board.has(key)).collect()
}

/// The keys that are guessed.
pub(super) fn guessed(board: &Fields) -> Vec<&'static str> {
    GUESSED.into_iter().filter(|key| !board.has(key)).collect()
}

/// The board as heat knows it; `None` where it leaves out what heat needs. Copper that does not fit
/// in the board is put on the desk in any case.
pub(super) fn plate(fields: &Fields, board: &Board, desk: &mut Desk) -> Option<heat::Board> {
    let place = fields.place;
    let layers = u8::try_from(board.layers).unwrap_or(u8::MAX);
    let stack = match Stack::new(board.thickness, layers, board.copper, board.coverage) {
        Ok(stack) => stack,
        Err(no) => {
            desk.fault(place, no.to_string());
            return None;
        }
    };
    let pours: Vec<_> = fields
        .items("pours")
        .iter()
        .filter_map(|node| pour(&Fields::open(node, &keys::POUR, desk)?, desk))
        .collect();
    if !board.lacks.is_empty() {
        return None;
    }
    let (wide, tall) = board.size?;
    match heat::Board::new(wide, tall, stack) {
        Ok(plate) => Some(pours.into_iter().fold(plate, heat::Board::with_patch)),
        Err(no) => {
            desk.notice(place, format!("no heat is computed on this board: {no}"));
            None
        }
    }
}

fn pour(fields: &Fields, desk: &mut Desk) -> Option<Patch> {
    let area = rect(fields, "area_mm", desk);
    let coverage = fields.number("coverage", desk)?;
    Some(Patch::Copper {
        area: area?,
        coverage: fields::accept(Share::new(coverage.value), coverage.place, desk)?,
    })
}

/// A rectangle of the board by two corners.
pub(super) fn rect(fields: &Fields, key: &str, desk: &mut Desk) -> Option<Rect> {
    let corners = fields.numbers(key, desk)?;
    let [x0, y0, x1, y1] = corners.as_slice() else {
        return None;
    };
    let place = fields.place_of(key);
    let from = fields::accept(heat::Point::from_mm(*x0, *y0), place, desk)?;
    let to = fields::accept(heat::Point::from_mm(*x1, *y1), place, desk)?;
    Some(Rect::between(from, to))
}

/// A tool in physical terms, and how far the corners of its nozzle reach beyond the round one that stands for it.
pub(super) type Described = (heat::Tool, Option<Length>);

/// A nozzle as the round one of its area, which blows the same air as fast, and how far the corners of one that
/// is not round reach beyond that. One that encloses the part is such a one: what it keeps from the neighbours
/// is not counted.
fn nozzle((wide, tall): (f64, f64), is_round: bool) -> (f64, Option<f64>) {
    if is_round {
        return (wide, None);
    }
    let across = 2.0 * (wide * tall / std::f64::consts::PI).sqrt();
    (across, Some((wide.hypot(tall) - across) / 2.0))
}

/// The tool of a way in physical terms, where it is described. `of` finds the block that says a key.
pub(super) fn tool<'f>(
    tool: Tool,
    of: &impl Fn(&str) -> &'f Fields<'f>,
    set: Option<Celsius>,
    step: Place,
    desk: &mut Desk,
) -> Option<Described> {
    const AIR: [&str; 3] = ["nozzle_mm", "flow_l_min", "standoff_mm"];
    const IRON: [&str; 2] = ["tip_mm", "contact_k_w"];
    const RAYS: [&str; 3] = ["emitter_mm", "standoff_mm", "emitter_c"];
    let blows = tool == Tool::Air;
    let shines = tool == Tool::Infrared;
    let said = |keys: &[&'static str]| keys.iter().copied().find(|key| of(key).has(key));
    for (keys, right, words) in [
        (&AIR[..2], blows, "air"),
        (&AIR[2..], blows || shines, "air` or `tool: infrared"),
        (&[RAYS[0], RAYS[2]][..], shines, "infrared"),
        (
            &IRON[..],
            matches!(tool, Tool::Iron | Tool::Tweezers),
            "iron` or `tool: tweezers",
        ),
    ] {
        if let Some(key) = said(keys).filter(|_| !right) {
            let place = of(key).place_of(key);
            desk.fault(place, format!("`{key}` describes `tool: {words}`"));
            return None;
        }
    }
    let number = |key: &str, desk: &mut Desk| {
        let said = of(key).number(key, desk);
        said.map(|said| said.value)
    };
    match tool {
        Tool::Air => {
            let sides = of(AIR[0]).one_or_two(AIR[0], desk);
            let (flow, standoff) = (number(AIR[1], desk), number(AIR[2], desk));
            let first = said(&AIR)?;
            let missing: Vec<&str> = AIR
                .into_iter()
                .filter(|key| !of(key).has(key))
                .chain(set.is_none().then_some("set_c"))
                .collect();
            complete(first, &missing, of(first).place_of(first), desk)?;
            let said = of(AIR[0]).get(AIR[0])?;
            let (across, corners) = nozzle(sides?, fields::items(said).len() == 1);
            let corners = match corners {
                Some(mm) => Some(fields::accept(Length::from_mm(mm), step, desk)?),
                None => None,
            };
            let jet = Jet {
                nozzle: fields::accept(Length::from_mm(across), step, desk)?,
                air: set?,
                flow: fields::accept(AirFlow::from_l_min(flow?), step, desk)?,
                standoff: fields::accept(Length::from_mm(standoff?), step, desk)?,
            };
            Some((heat::Tool::Air(jet), corners))
        }
        Tool::Infrared => {
            let sides = of(RAYS[0]).one_or_two(RAYS[0], desk);
            let standoff = number(RAYS[1], desk);
            // A temperature alone bounds what it heats, and describes nothing.
            let first = said(&RAYS[..2])?;
            let lacks = |key: &&str| !of(key).has(key);
            let missing: Vec<&str> = RAYS.into_iter().filter(lacks).collect();
            complete(first, &missing, of(first).place_of(first), desk)?;
            let said = of(RAYS[0]).get(RAYS[0])?;
            let (across, corners) = nozzle(sides?, fields::items(said).len() == 1);
            let corners = match corners {
                Some(mm) => Some(fields::accept(Length::from_mm(mm), step, desk)?),
                None => None,
            };
            let emitter = heat::Emitter {
                across: fields::accept(Length::from_mm(across), step, desk)?,
                standoff: fields::accept(Length::from_mm(standoff?), step, desk)?,
                face: set?,
            };
            Some((heat::Tool::Rays(emitter), corners))
        }
        Tool::Iron | Tool::Tweezers => {
            let (tip, contact) = (number(IRON[0], desk), number(IRON[1], desk));
            let first = said(&IRON)?;
            let missing: Vec<&str> = (!of(IRON[0]).has(IRON[0]))
                .then_some(IRON[0])
                .into_iter()
                .chain(set.is_none().then_some("set_c"))
                .collect();
            complete(first, &missing, of(first).place_of(first), desk)?;
            let contact = contact.unwrap_or_else(|| {
                desk.assume("from tip to joint", 5.0, "K/W", Mark::CommonPractice);
                5.0
            });
            let iron = heat::Tool::Iron {
                tip: set?,
                contact: fields::accept(Length::from_mm(tip?), step, desk)?,
                resistance: fields::accept(ContactResistance::from_k_w(contact), step, desk)?,
            };
            Some((iron, None))
        }
        _ => None,
    }
}

/// Half a description computes nothing, and somebody believes that it does.
fn complete(first: &str, missing: &[&str], place: Place, desk: &mut Desk) -> Option<()> {
    if missing.is_empty() {
        return Some(());
    }
    let missing = fields::list(missing.iter().copied());
    desk.fault(
        place,
        format!("`{first}` describes the tool only in part: want {missing} beside it"),
    );
    None
}

/// What readings taught, as the job keeps it, and from what: see [`check_learned`].
pub(super) fn learned(job: &Fields, desk: &mut Desk) -> (Learned, Marks) {
    let Some(fields) = job
        .get("learned")
        .and_then(|node| Fields::open(node, &keys::LEARNED, desk))
    else {
        return (Learned::default(), [None, None]);
    };
    let mut of = |kind: Kind| {
        let node = fields.get(kind.key())?;
        let fields = Fields::open(node, &keys::FACTORS, desk)?;
        let known = knowledge(&fields, desk)?;
        Some((
            known,
            fields.text("from", desk)?.value.to_owned(),
            node.place,
        ))
    };
    let [air, iron] = Kind::ALL.map(&mut of);
    let mut files = Vec::new();
    for item in fields.items("files") {
        files.extend(reading_file(item, desk));
    }
    let mark = |found: &Option<(Knowledge, String, Place)>| {
        found
            .as_ref()
            .map(|(_, from, place)| (from.clone(), *place))
    };
    let marks = [mark(&air), mark(&iron)];
    let learned = Learned {
        air: air.map(|(known, ..)| known),
        iron: iron.map(|(known, ..)| known),
        files,
    };
    (learned, marks)
}

/// What each kind of tool says it was fitted to, and where it stands.
pub(super) type Marks = [Option<(String, Place)>; 2];

fn reading_file(node: &Placed<Node>, desk: &mut Desk) -> Option<ReadingFile> {
    let fields = Fields::open(node, &keys::READINGS, desk)?;
    let uncertain = fields.number("uncertain_k", desk);
    Some(ReadingFile {
        file: fields.text("file", desk)?.value.to_owned(),
        hash: fields.text("hash", desk)?.value.to_owned(),
        step: fields.text("step", desk)?.value.to_owned(),
        seconds: fields.whole("seconds", desk),
        uncertain: match uncertain {
            Some(said) => Some(fields::accept(
                KelvinStep::new(said.value),
                said.place,
                desk,
            )?),
            None => None,
        },
    })
}

/// What was fitted to other readings than those that stand, or to another set-up, is not used.
pub(super) fn check_learned(job: &mut Job, marks: &Marks, desk: &mut Desk) {
    for (kind, mark) in Kind::ALL.into_iter().zip(marks) {
        let Some((from, place)) = mark else { continue };
        if learned::standing(job, kind).as_ref() == Some(from) {
            continue;
        }
        match kind {
            Kind::Air => job.learned.air = None,
            Kind::Iron => job.learned.iron = None,
        }
        desk.notice(
            *place,
            format!(
                "what was learned with {} is not of the readings and the set-up that stand now: not used; `meltstair learn JOB` fits it anew",
                kind.key()
            ),
        );
    }
}

fn knowledge(fields: &Fields, desk: &mut Desk) -> Option<Knowledge> {
    let mut factors = [0.0; heat::FACTORS];
    for (factor, key) in factors.iter_mut().zip(kept::FACTORS) {
        *factor = fields.number(key, desk)?.value;
    }
    let structure = fields.number("structure", desk)?.value;
    let triangle = fields.numbers("covariance", desk)?;
    let triangle: [f64; heat::TRIANGLE] = triangle.try_into().ok()?;
    let kept = Kept::from_triangle(factors, triangle, structure);
    Knowledge::try_from(kept)
        .map_err(|no| desk.fault(fields.place_of("covariance"), no.to_string()))
        .ok()
}

/// A described tool must stand on the board, and be hotter than the room; what else lies off the
/// board is told, since no heat is computed for it.
pub(super) fn check_places(job: &Job, steps: &[Place], desk: &mut Desk) {
    let Some(plate) = job.board.as_ref().and_then(|board| board.plate.as_ref()) else {
        return;
    };
    let (wide, tall) = plate.sides();
    let off = |point: Point| {
        let (x, y) = point.mm();
        !(0.0..=wide.mm()).contains(&x) || !(0.0..=tall.mm()).contains(&y)
    };
    let want = format!("want 0 to {} by 0 to {} mm", wide.mm(), tall.mm());
    for (step, place) in job.steps.iter().zip(steps) {
        for way in &step.ways {
            let Some(tool) = &way.described else { continue };
            if tool.hottest() <= job.ambient.max(way.preheat) {
                desk.fault(
                    *place,
                    format!(
                        "the tool of `{}` at {} is no hotter than the board before it comes",
                        step.id,
                        tool.hottest()
                    ),
                );
            }
            if let Some(at) = aim(job, &step.work).filter(|at| off(*at)) {
                let (x, y) = at.mm();
                desk.fault(
                    *place,
                    format!(
                        "`{}` works at ({x}, {y}) mm, off the board: {want}",
                        step.id
                    ),
                );
            }
        }
    }
    if !job
        .steps
        .iter()
        .any(|step| step.ways.iter().any(|way| way.described.is_some()))
    {
        return;
    }
    let joints = job.joints.iter().map(|j| (&j.id, j.at));
    let parts = job.parts.iter().map(|p| (&p.id, p.at));
    let guards = job.guards.iter().map(|g: &Guard| (&g.id, g.at));
    for (id, at) in joints.chain(parts).chain(guards) {
        if let Some((x, y)) = at.filter(|at| off(*at)).map(Point::mm) {
            desk.notices.push(Notice {
                message: format!(
                    "`{id}` at ({x}, {y}) mm lies off the board: no heat is computed for it; {want}"
                ),
                place: None,
            });
        }
    }
}

/// Where a step works, as far as the job alone says it.
fn aim(job: &Job, work: &Work) -> Option<Point> {
    let joint = match work {
        Work::Solder { joint, .. } => *joint,
        Work::Place { on, .. } => *on.first()?,
        Work::OtherHeat { joint, .. } | Work::Clean { joint, .. } => (*joint)?,
        Work::Remove { part, .. } => *job.parts.get(part.0)?.on.first()?,
        _ => return None,
    };
    let joint = job.joints.get(joint.0)?;
    let site = joint.site_of.and_then(|part| job.parts.get(part.0));
    joint.at.or_else(|| site?.at)
}
