//! What stands on the board: the board itself, guards, parts, joints, wires.

use super::alloys::Shelf;
use super::deposits::{self, Holder};
use super::desk::{Desk, Mark};
use super::fields::{self, Fields};
use super::heat;
use super::keys;
use super::names::Names;
use super::node::Node;
use super::shape::{
    Adhesive, Amount, Balls, Board, Deposit, Guard, GuardKind, Hang, Joint, JointIx, Must, Part,
    Purity, Start, Want, Wire, WireIx, ZoneIx,
};
use crate::policy;
use crate::quantity::{Amps, Area, Celsius, KelvinStep, Length, Mass, Ramp, Share};
use crate::yaml::Placed;

/// What the result must reach.
pub(super) fn want(job: &Fields, desk: &mut Desk) -> Want {
    let mut want = Want::default();
    let fields = job
        .get("want")
        .and_then(|node| Fields::open(node, &keys::WANT, desk));
    let rules = [
        (
            "margin_c",
            "margin below first melt",
            &mut want.margin,
            Mark::OurJudgement,
        ),
        (
            "gap_c",
            "gap between earlier solidus and later liquidus",
            &mut want.gap,
            Mark::Source("S28"),
        ),
        (
            "superheat_c",
            "process peak above flow",
            &mut want.superheat,
            Mark::Source("S28"),
        ),
    ];
    for (key, what, value, mark) in rules {
        match fields.and_then(|f| f.number(key, desk)) {
            Some(said) => {
                if let Some(step) = fields::accept(KelvinStep::new(said.value), said.place, desk) {
                    *value = step;
                }
            }
            None => desk.assume(what, value.kelvin(), "K", mark),
        }
    }
    if let Some(fields) = fields {
        if let Some(said) = fields.temperature("counts_from_c", desk) {
            want.counts_from = said.value;
        }
        want.service = fields.temperature("service_c", desk).map(|t| t.value);
        if fields.word("purity", desk) == Some("as_sold") {
            want.purity = Purity::AsSold;
            let what = "of one impurity in what is named by its alloy";
            desk.assume(
                what,
                "as much as J-STD-006C allows (memory)",
                "",
                Mark::OurJudgement,
            );
        }
        want.lead_free = fields.flag("lead_free", desk).unwrap_or(false);
        want.cadmium_accepted = fields.word("accept_cadmium", desk).is_some();
    }
    if fields.is_none_or(|f| !f.has("counts_from_c")) {
        let from = want.counts_from.degrees();
        let what = "a heat counts for a part from";
        desk.assume(what, from, "°C", Mark::OurJudgement);
    }
    want
}

/// Room temperature.
pub(super) fn ambient(job: &Fields, desk: &mut Desk) -> Celsius {
    if let Some(said) = job.temperature("ambient_c", desk) {
        return said.value;
    }
    if !job.has("ambient_c") {
        let room = policy::ROOM.degrees();
        desk.assume("room temperature", room, "°C", Mark::CommonPractice);
    }
    policy::ROOM
}

/// The bare board.
pub(super) fn board(job: &Fields, desk: &mut Desk) -> Option<Board> {
    let fields = Fields::open(job.get("board")?, &keys::BOARD, desk)?;
    let mut number = |key: &str, what: &str, default: f64, unit| {
        if let Some(said) = fields.number(key, desk) {
            said.value
        } else {
            desk.assume(what, default, unit, Mark::CommonPractice);
            default
        }
    };
    let thickness = number("thickness_mm", "board thickness", 1.6, "mm");
    let copper = number("copper_um", "copper of a layer", 35.0, "µm");
    let coverage = number("coverage", "copper coverage of a layer", 0.5, "share");
    let layers = fields.whole("layers", desk).unwrap_or_else(|| {
        desk.assume("copper layers", 4.0, "", Mark::CommonPractice);
        4
    });
    let place = fields.place;
    let size = fields.numbers("size_mm", desk).and_then(|pair| {
        let length = fields::accept(Length::from_mm(*pair.first()?), place, desk)?;
        let width = fields::accept(Length::from_mm(*pair.get(1)?), place, desk)?;
        Some((length, width))
    });
    let mut board = Board {
        size,
        thickness: fields::accept(Length::from_mm(thickness), place, desk)?,
        layers,
        copper: fields::accept(Length::from_um(copper), place, desk)?,
        coverage: fields::accept(Share::new(coverage), place, desk)?,
        plate: None,
        lacks: heat::lacking(&fields),
        guessed: heat::guessed(&fields),
    };
    board.plate = heat::plate(&fields, &board, desk);
    Some(board)
}

fn zone(fields: &Fields, names: &Names, desk: &mut Desk) -> Option<ZoneIx> {
    let id = fields.text("zone", desk)?;
    names.zone(&id, desk)
}

/// Joints of a key that holds one id or several.
pub(super) fn joints(fields: &Fields, key: &str, names: &Names, desk: &mut Desk) -> Vec<JointIx> {
    let mut found = Vec::new();
    for node in fields.items(key) {
        let Some(id) = fields::text(node, key, desk) else {
            continue;
        };
        match names.joint(&id, desk) {
            Some(joint) if found.contains(&joint) => {
                desk.fault(id.place, format!("`{}` stands twice in `{key}`", id.value));
            }
            Some(joint) => found.push(joint),
            None => {}
        }
    }
    found
}

/// A thing with a limit.
pub(super) fn guard(node: &Placed<Node>, names: &Names, desk: &mut Desk) -> Option<Guard> {
    let fields = Fields::open(node, &keys::GUARD, desk)?;
    let id = fields.text("id", desk);
    let limit = fields.temperature("limit_c", desk);
    let kind = fields.word("kind", desk);
    let by_name = id.and_then(|id| keys::GUARD_KINDS.iter().find(|k| **k == id.value).copied());
    let guard = Guard {
        id: id?.value.to_owned(),
        kind: guard_kind(kind.or(by_name)),
        limit: limit.map_or(Celsius::whole(0), |l| l.value),
        zone: zone(&fields, names, desk),
        at: fields.point("at_mm", desk),
        reach: reach(&fields, desk),
        under: fields.word("side", desk) == Some("under"),
        over: joints(&fields, "over", names, desk),
    };
    limit.map(|_| guard)
}

fn guard_kind(word: Option<&str>) -> GuardKind {
    match word {
        Some("mask") => GuardKind::Mask,
        Some("glue") => GuardKind::Glue,
        Some("enamel") => GuardKind::Enamel,
        Some("laminate") => GuardKind::Laminate,
        Some("plastic") => GuardKind::Plastic,
        _ => GuardKind::Other,
    }
}

/// A part.
pub(super) fn part(
    node: &Placed<Node>,
    names: &Names,
    shelf: &mut Shelf,
    desk: &mut Desk,
) -> Option<Part> {
    let fields = Fields::open(node, &keys::PART, desk)?;
    let id = fields.text("id", desk)?.value;
    let adhesive = match fields.word("glue", desk) {
        Some("reworkable") => Adhesive::Reworkable,
        Some("not_reworkable") => Adhesive::NotReworkable,
        Some("unknown") => Adhesive::Unknown,
        Some(_) => Adhesive::None,
        None => {
            desk.assume_of("glue below or beside", id, "none", "", Mark::CommonPractice);
            Adhesive::None
        }
    };
    let pad = deposits::pad(&fields, desk);
    if pad.is_none_or(|pad| pad.finish.is_none()) {
        // What the engine says of Sn96.5Ag3Cu0.5 and Sn63Pb37 with 0.1 mass% of gold: a test asks again.
        let cost = "none; 0.1 % of gold would melt tin-silver-copper 13 K earlier, tin-lead 7 K";
        desk.assume_of(
            "gold or silver on its own pads",
            id,
            cost,
            "",
            Mark::OurJudgement,
        );
    }
    let sides = fields.numbers("size_mm", desk).unwrap_or_default();
    let side = |at: usize| Length::from_mm(*sides.get(at)?).ok();
    Some(Part {
        id: id.to_owned(),
        on: in_order(joints(&fields, "on", names, desk)),
        lugs: Vec::new(),
        balls: fields
            .get("balls")
            .and_then(|node| balls(node, id, shelf, desk)),
        pad,
        limit: fields.temperature("limit_c", desk).map(|t| t.value),
        heats_left: fields.whole("heats_left", desk),
        heats_before: fields.whole("heats_before", desk).unwrap_or_else(|| {
            desk.assume_of("heats before this job", id, 0.0, "", Mark::OurJudgement);
            0
        }),
        vital: fields.flag("vital", desk).unwrap_or(false),
        hang: fields.get("hangs").and_then(|node| hang(node, desk)),
        adhesive,
        dry: fields.flag("dry", desk),
        zone: zone(&fields, names, desk),
        at: fields.point("at_mm", desk),
        size: side(0).zip(side(1)),
        thick: side(2),
        mass: fields
            .number("mass_mg", desk)
            .and_then(|m| fields::accept(Mass::from_mg(m.value), m.place, desk)),
        ramp: fields
            .number("ramp_k_s", desk)
            .and_then(|said| fields::accept(Ramp::new(said.value), said.place, desk)),
    })
}

/// Groups of joints in the order of the job: a part that stands on them names none first.
pub(super) fn in_order(mut joints: Vec<JointIx>) -> Vec<JointIx> {
    joints.sort();
    joints
}

/// How far something reaches around its coordinates.
fn reach(fields: &Fields, desk: &mut Desk) -> Option<Length> {
    let said = fields.number("reach_mm", desk)?;
    fields::accept(Length::from_mm(said.value), said.place, desk)
}

fn balls(node: &Placed<Node>, part: &str, shelf: &mut Shelf, desk: &mut Desk) -> Option<Balls> {
    let fields = Fields::open(node, &keys::BALLS, desk)?;
    let count = fields.whole("count", desk);
    let diameter = ball_diameter(&fields, "diameter_um", "diameter_mm", desk);
    if diameter.is_none() && !fields.has("diameter_um") && !fields.has("diameter_mm") {
        desk.fault(
            fields.place,
            "`balls` lacks its size: want `diameter_um` or `diameter_mm`",
        );
    }
    let content = shelf.content(&fields, part, desk);
    Some(Balls {
        count: count?,
        diameter: diameter?,
        content: content?,
    })
}

/// A diameter in one of two units.
pub(super) fn ball_diameter(
    fields: &Fields,
    um: &str,
    mm: &str,
    desk: &mut Desk,
) -> Option<Length> {
    fields.at_most_one(&[um, mm], desk);
    if let Some(said) = fields.number(um, desk) {
        return fields::accept(Length::from_um(said.value), said.place, desk);
    }
    let said = fields.number(mm, desk)?;
    fields::accept(Length::from_mm(said.value), said.place, desk)
}

fn hang(node: &Placed<Node>, desk: &mut Desk) -> Option<Hang> {
    let fields = Fields::open(node, &keys::HANGS, desk)?;
    let weight = fields.number("weight_mg", desk);
    let area = fields.number("pad_area_mm2", desk);
    let edge = fields.number("edge_mm", desk);
    let place = fields.place;
    Some(Hang {
        weight: fields::accept(Mass::from_mg(weight?.value), place, desk)?,
        area: fields::accept(Area::from_mm2(area?.value), place, desk)?,
        edge: edge.and_then(|e| fields::accept(Length::from_mm(e.value), e.place, desk)),
        supported: fields.flag("supported", desk).unwrap_or(false),
    })
}

/// A group of joints. Parts come first: a joint below a standing part may hold its balls.
pub(super) fn joint(
    node: &Placed<Node>,
    position: JointIx,
    parts: &[Option<Part>],
    names: &Names,
    shelf: &mut Shelf,
    desk: &mut Desk,
) -> Option<Joint> {
    let fields = Fields::open(node, &keys::JOINT, desk)?;
    let id = fields.text("id", desk)?.value;
    let site_of = fields
        .text("at", desk)
        .and_then(|part| names.part(&part, desk));
    let pad = deposits::pad(&fields, desk);
    let holder = Holder {
        id,
        pad: pad.map(|p| p.area),
        as_bought: fields.word("state", desk) == Some("as_bought"),
    };
    let above = parts.iter().flatten().find(|p| p.on.contains(&position));
    let (start, each) = held(&fields, &holder, above, shelf, desk)?;
    let site_part = site_of.and_then(|ix| parts.get(ix.0)?.as_ref());
    let balls = above.or(site_part).and_then(|part| part.balls.as_ref());
    let count = fields.whole("count", desk);
    Some(Joint {
        id: id.to_owned(),
        count: count.or(balls.map(|b| b.count)).unwrap_or(1),
        site_of,
        start,
        each,
        pad,
        must: must(&fields, id, desk),
        covered: fields.flag("covered", desk).unwrap_or(false),
        strained: fields.flag("strained", desk).unwrap_or(false),
        under: fields.word("side", desk) == Some("under"),
        zone: zone(&fields, names, desk),
        at: fields.point("at_mm", desk),
        reach: reach(&fields, desk),
    })
}

fn must(fields: &Fields, id: &str, desk: &mut Desk) -> Must {
    match fields.word("must", desk) {
        Some("stay_solid") => Must::StaySolid,
        Some("may_melt") => Must::MayMelt,
        Some(_) => Must::StayPut,
        None => {
            if !fields.has("must") {
                desk.assume_of(
                    "what must be withstood",
                    id,
                    "stay_put",
                    "",
                    Mark::OurJudgement,
                );
            }
            Must::StayPut
        }
    }
}

/// Whether a joint stands, and what one member holds besides the balls of the part on it.
fn held(
    fields: &Fields,
    holder: &Holder,
    above: Option<&Part>,
    shelf: &mut Shelf,
    desk: &mut Desk,
) -> Option<(Start, Vec<Deposit>)> {
    fields.at_most_one(&["alloy", "each", "residue"], desk);
    if let Some(node) = fields.get("residue") {
        let left = deposits::deposits(node, "residue", holder, shelf, desk)?;
        return Some((Start::Bare, left));
    }
    if let Some(node) = fields.get("each") {
        let each = deposits::deposits(node, "each", holder, shelf, desk)?;
        return Some((Start::Standing, each));
    }
    if fields.has("alloy") || fields.has("source") {
        let one = deposits::deposit(fields, holder, shelf, desk)?;
        return Some((Start::Standing, vec![one]));
    }
    if let Amount::Unstated = deposits::amount(fields, holder.pad, holder.id, desk)? {
    } else {
        desk.fault(fields.place, "an amount without its `alloy`: want both");
    }
    let Some(part) = above else {
        return Some((Start::Bare, Vec::new()));
    };
    if part.balls.is_none() {
        desk.fault(
            fields.place,
            format!(
                "`{}` stands on `{}`: want `alloy` or `each` here, or `balls` there",
                part.id, holder.id
            ),
        );
        return None;
    }
    Some((Start::Standing, Vec::new()))
}

/// Diameter of a bare wire by gauge: `d = 0.127 mm · 92^((36 − n) / 39)`, the definition of the
/// American wire gauge (ASTM B258, memory).
fn awg_mm(gauge: u32) -> f64 {
    0.127 * 92_f64.powf((36.0 - f64::from(gauge)) / 39.0)
}

/// A wire, from its own entry or from the step that brings it.
pub(super) fn wire(fields: &Fields, id: &str, names: &Names, desk: &mut Desk) -> Option<Wire> {
    let mut end = |key: &str| {
        if let Some(joint) = fields.text(key, desk) {
            names.joint(&joint, desk)
        } else {
            desk.fault(
                fields.place,
                format!("wire `{id}` lacks `{key}`: want the joint at its end"),
            );
            None
        }
    };
    let (from, to) = (end("from"), end("to"));
    if from.is_some() && from == to {
        desk.fault(
            fields.place_of("to"),
            format!("wire `{id}` ends where it begins: want another joint at `to`"),
        );
    }
    let diameter = wire_diameter(fields, id, desk);
    let length = fields
        .number("length_mm", desk)
        .and_then(|l| fields::accept(Length::from_mm(l.value), l.place, desk));
    let current = fields
        .number("current_a", desk)
        .and_then(|a| fields::accept(Amps::from_amps(a.value), a.place, desk));
    Some(Wire {
        id: id.to_owned(),
        enamel_limit: enamel_limit(fields, id, desk),
        crosses: crossed(fields, names, desk),
        rail: fields.flag("rail", desk).unwrap_or(false),
        held: fields.flag("held", desk).unwrap_or(false),
        from: from?,
        to: to?,
        diameter: diameter?,
        length,
        current,
    })
}

fn wire_diameter(fields: &Fields, id: &str, desk: &mut Desk) -> Option<Length> {
    fields.at_most_one(&["awg", "diameter_um"], desk);
    if let Some(gauge) = fields.whole("awg", desk) {
        let mm = awg_mm(gauge);
        desk.notice(
            fields.place_of("awg"),
            format!("gauge {gauge} is {:.0} µm of bare wire", mm * 1000.0),
        );
        return fields::accept(Length::from_mm(mm), fields.place, desk);
    }
    if let Some(said) = fields.number("diameter_um", desk) {
        return fields::accept(Length::from_um(said.value), said.place, desk);
    }
    if !fields.has("awg") && !fields.has("diameter_um") {
        desk.fault(
            fields.place,
            format!("wire `{id}` lacks its size: want `awg` or `diameter_um`"),
        );
    }
    None
}

/// Limits where wires cross: thermoplastic flow of polyurethane enamel, class 130 (S11) and class
/// 180 (S10), both seen; cut-through of class 155 (S60, memory). Without a class the lowest.
fn enamel_limit(fields: &Fields, id: &str, desk: &mut Desk) -> Option<Celsius> {
    if let Some(said) = fields.temperature("enamel_limit_c", desk) {
        return Some(said.value);
    }
    let (degrees, mark) = match fields.word("enamel", desk)? {
        "polyurethane_130" | "polyurethane" => (170, Mark::Source("S11")),
        "polyurethane_155" => (200, Mark::Source("S60")),
        "polyurethane_180" => (225, Mark::Source("S10")),
        _ => return None,
    };
    desk.assume_of(
        "enamel limit where wires cross",
        id,
        f64::from(degrees),
        "°C",
        mark,
    );
    Some(Celsius::whole(degrees))
}

fn crossed(fields: &Fields, names: &Names, desk: &mut Desk) -> Vec<WireIx> {
    let mut found = Vec::new();
    for node in fields.items("crosses") {
        if let Some(id) = fields::text(node, "crosses", desk)
            && let Some(wire) = names.wire(&id, desk)
            && !found.contains(&wire)
        {
            found.push(wire);
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: definition of the gauge; 50 AWG is 0.025 mm, 46 AWG 0.040 mm, 30 AWG 0.255 mm.
    #[test]
    fn gauges_are_diameters() {
        for (gauge, want) in [(30, 0.2546), (36, 0.127), (46, 0.0399), (50, 0.0251)] {
            approx::assert_relative_eq!(awg_mm(gauge), want, max_relative = 0.005);
        }
    }
}
