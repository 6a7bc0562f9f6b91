//! The log in the job: what really happened.

use super::alloys::Shelf;
use super::desk::Desk;
use super::fields::{self, Fields};
use super::keys;
use super::names::Names;
use super::node::Node;
use super::shape::{Event, Probe};
use super::ways;
use crate::quantity::{Mass, Ohms};
use crate::yaml::Placed;

/// What stands where the meter shows no reading.
pub(super) const OPEN: &str = "open";

/// The events, in the order of the file.
pub(super) fn events(
    root: &Placed<Node>,
    job: &Fields,
    names: &Names,
    shelf: &Shelf,
    text: &str,
    desk: &mut Desk,
) -> Vec<Option<Event>> {
    check_layout(root, text, desk);
    job.items("done")
        .iter()
        .map(|item| event(item, names, shelf, desk))
        .collect()
}

/// `done` must be the last key, in block form, so that a line can be added to it.
fn check_layout(root: &Placed<Node>, text: &str, desk: &mut Desk) {
    let Node::Map(pairs) = &root.value else {
        return;
    };
    let Some(at) = pairs.iter().position(|(key, _)| key.value == "done") else {
        return;
    };
    if let Some((later, _)) = pairs.get(at + 1) {
        desk.fault(
            later.place,
            format!(
                "`{}` stands after `done`: want `done` last, so that the log can grow",
                later.value
            ),
        );
    }
    let log = &pairs[at].1;
    let in_flow = text
        .get(log.place.bytes())
        .is_some_and(|found| found.starts_with(['[', '{']));
    if in_flow || matches!(log.value, Node::Map(_) | Node::Scalar(_)) {
        desk.fault_with(
            log.place,
            "`done` must be a list with a line for each event, so that the log can grow",
            Some(
                "write `done:` and below it lines such as `  - {step: set, peak_c: 165}`"
                    .to_owned(),
            ),
        );
    }
}

fn event(node: &Placed<Node>, names: &Names, shelf: &Shelf, desk: &mut Desk) -> Option<Event> {
    let fields = Fields::open(node, &keys::EVENT, desk)?;
    let step = fields.text("step", desk);
    let known = step.is_some_and(|step| names.logged(&step, desk));
    let sees = fields
        .get("sees_c")
        .map(|node| ways::temperatures(node, names, desk));
    let alloy = fields
        .get("alloy")
        .and_then(|node| shelf.solder(node, "alloy", desk));
    let event = Event {
        step: step?.value.to_owned(),
        peak: fields.temperature("peak_c", desk).map(|t| t.value),
        sees: sees.unwrap_or_default(),
        reads: fields
            .get("reads_ohm")
            .map_or_else(Vec::new, |node| readings(node, names, desk)),
        failed: failed(&fields, desk),
        alloy,
        tool: fields.word("tool", desk).map(ways::tool_of),
        rounds: fields.whole("rounds", desk),
        mass: fields
            .number("mg", desk)
            .and_then(|m| fields::accept(Mass::from_mg(m.value), m.place, desk)),
        other_way: None,
        too_early: None,
        line: u32::try_from(fields.place.line).unwrap_or(u32::MAX),
    };
    known.then_some(event)
}

fn readings(node: &Placed<Node>, names: &Names, desk: &mut Desk) -> Vec<(Probe, Ohms)> {
    let Node::Map(pairs) = &node.value else {
        desk.fault(
            node.place,
            format!(
                "found {} after `reads_ohm`: want readings such as `{{bus: 0.12, \"bus:ground\": 230}}`",
                node.value.kind()
            ),
        );
        return Vec::new();
    };
    let mut found: Vec<(Probe, Ohms)> = Vec::new();
    for (held, value) in pairs {
        let probe = probe(&held.with(held.value.as_str()), names, desk);
        let ohms = ohms(value, &held.value, desk);
        found.extend(probe.zip(ohms));
    }
    found
}

fn probe(held: &Placed<&str>, names: &Names, desk: &mut Desk) -> Option<Probe> {
    let Some((one, other)) = held.value.split_once(':') else {
        return names.wire(held, desk).map(Probe::EndToEnd);
    };
    let one = names.wire(&held.with(one.trim()), desk)?;
    match other.trim() {
        "ground" => Some(Probe::ToGround(one)),
        other => {
            let other = names.wire(&held.with(other), desk)?;
            Some(Probe::Between(one.min(other), one.max(other)))
        }
    }
}

fn ohms(node: &Placed<Node>, held: &str, desk: &mut Desk) -> Option<Ohms> {
    let is_open = |node: &Node| matches!(node, Node::Scalar(said) if said == OPEN);
    if is_open(&node.value) {
        return Some(Ohms::OPEN);
    }
    let said = fields::number(node, held, (0.0, Ohms::OPEN.ohms()), "Ω", desk)?;
    fields::accept(Ohms::from_ohms(said.value), said.place, desk)
}

/// Why it failed; `false` and `true` say no reason.
fn failed(fields: &Fields, desk: &mut Desk) -> Option<String> {
    let said = fields::text(fields.get("failed")?, "failed", desk)?;
    if matches!(said.value, "true" | "false") {
        desk.fault(
            said.place,
            format!(
                "`failed: {}` gives no reason: want words such as `two balls open`, or no such key",
                said.value
            ),
        );
        return None;
    }
    Some(said.value.to_owned())
}
