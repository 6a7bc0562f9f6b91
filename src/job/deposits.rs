//! What one member of a joint holds, and what it stands on: alloy, amount, pad.

use std::f64::consts::PI;

use super::alloys::Shelf;
use super::desk::{Desk, Mark};
use super::fields::{self, Fields};
use super::keys;
use super::node::Node;
use super::shape::{Amount, Deposit, Finish, Pad};
use crate::alloy::{Element, geometry};
use crate::policy;
use crate::quantity::{Area, Length, Mass, Share, Volume};
use crate::yaml::{Place, Placed};

const AMOUNT_KEYS: [&str; 6] = ["mg", "ball_um", "ball_mm", "film_um", "dome_um", "paste_mm"];

/// How much, from the one amount key that stands there; `Unstated` without one.
pub(super) fn amount(
    fields: &Fields,
    pad: Option<Area>,
    holder: &str,
    desk: &mut Desk,
) -> Option<Amount> {
    fields.at_most_one(&AMOUNT_KEYS, desk);
    paste_keys_need_paste(fields, desk);
    let Some(said) = AMOUNT_KEYS.into_iter().find(|key| fields.has(key)) else {
        return Some(Amount::Unstated);
    };
    if said == "paste_mm" {
        return paste(fields, holder, desk);
    }
    let number = fields.number(said, desk)?;
    let place = number.place;
    if said == "mg" {
        return fields::accept(Mass::from_mg(number.value), place, desk).map(Amount::Mass);
    }
    let mm = if said == "ball_mm" {
        number.value
    } else {
        number.value / 1000.0
    };
    let length = fields::accept(Length::from_mm(mm), place, desk)?;
    let volume_mm3 = match said {
        "film_um" => pad_below(pad, said, place, desk)?.mm2() * mm,
        "dome_um" => {
            let base = pad_below(pad, said, place, desk)?;
            let across = fields::accept(Length::from_mm(round_mm(base)), place, desk)?;
            geometry::dome(across, length).mm3()
        }
        _ => geometry::ball(length).mm3(),
    };
    fields::accept(Volume::from_mm3(volume_mm3), place, desk).map(Amount::Metal)
}

fn pad_below(pad: Option<Area>, said: &str, place: Place, desk: &mut Desk) -> Option<Area> {
    if pad.is_none() {
        desk.fault_with(
            place,
            format!("`{said}` needs the pad below: its area is not known"),
            Some("write `pad_um: 300` (diameter) or `pad_mm2: 0.07` at the joint".to_owned()),
        );
    }
    pad
}

fn paste_keys_need_paste(fields: &Fields, desk: &mut Desk) {
    for key in ["transfer", "metal_percent"] {
        if fields.has(key) && !fields.has("paste_mm") {
            desk.fault(
                fields.place_of(key),
                format!("`{key}` is of paste: want `paste_mm` beside it"),
            );
        }
    }
}

/// Area of a round pad, mm²: `A = π d² / 4`.
fn round_mm2(diameter_mm: f64) -> f64 {
    PI * diameter_mm * diameter_mm / 4.0
}

/// Diameter of the round pad of that area, mm: `d = √(4 A / π)`.
fn round_mm(area: Area) -> f64 {
    (4.0 * area.mm2() / PI).sqrt()
}

fn paste(fields: &Fields, holder: &str, desk: &mut Desk) -> Option<Amount> {
    let numbers = fields.numbers("paste_mm", desk);
    let transfer = fields.number("transfer", desk);
    let metal = fields.number("metal_percent", desk);
    if !fields.has("transfer") {
        desk.assume_of(
            "paste that reaches the pad",
            holder,
            1.0,
            "share of the opening",
            Mark::OurJudgement,
        );
    }
    if !fields.has("metal_percent") {
        desk.assume_of(
            "metal in paste",
            holder,
            policy::PASTE_METAL.percent(),
            "mass%",
            Mark::CommonPractice,
        );
    }
    let opening = match numbers?.as_slice() {
        [diameter, thickness] => round_mm2(*diameter) * thickness,
        [length, width, thickness] => length * width * thickness,
        _ => return None,
    };
    let place = fields.place_of("paste_mm");
    let reaches = transfer.map_or(1.0, |t| t.value);
    let volume = fields::accept(Volume::from_mm3(opening * reaches), place, desk)?;
    let percent = metal.map_or(policy::PASTE_METAL.percent(), |m| m.value);
    let metal = fields::accept(Share::from_percent(percent), place, desk)?;
    Some(Amount::Paste { volume, metal })
}

/// The pad of one member, from `pad_um`, `pad_mm2` or `pad`.
pub(super) fn pad(joint: &Fields, desk: &mut Desk) -> Option<Pad> {
    joint.at_most_one(&["pad_um", "pad_mm2", "pad"], desk);
    if let Some(node) = joint.get("pad") {
        let fields = Fields::open(node, &keys::PAD, desk)?;
        fields.at_most_one(&["diameter_um", "area_mm2"], desk);
        let finish = fields.get("finish").and_then(|node| finish(node, desk));
        let Some(area) = area(&fields, "diameter_um", "area_mm2", desk) else {
            if !fields.has("diameter_um") && !fields.has("area_mm2") {
                desk.fault(
                    fields.place,
                    "`pad` lacks its size: want `diameter_um` or `area_mm2`",
                );
            }
            return None;
        };
        return Some(Pad { area, finish });
    }
    area(joint, "pad_um", "pad_mm2", desk).map(|area| Pad { area, finish: None })
}

fn area(fields: &Fields, diameter_um: &str, mm2: &str, desk: &mut Desk) -> Option<Area> {
    let (value, place) = if let Some(diameter) = fields.number(diameter_um, desk) {
        (round_mm2(diameter.value / 1000.0), diameter.place)
    } else {
        let area = fields.number(mm2, desk)?;
        (area.value, area.place)
    };
    fields::accept(Area::from_mm2(value), place, desk)
}

fn finish(node: &Placed<Node>, desk: &mut Desk) -> Option<Finish> {
    let fields = Fields::open(node, &keys::FINISH, desk)?;
    let symbol = fields.text("element", desk);
    let thickness = fields.number("um", desk);
    let symbol = symbol?;
    let element = symbol
        .value
        .parse::<Element>()
        .map_err(|unknown| desk.fault(symbol.place, unknown.to_string()))
        .ok()?;
    let thickness = thickness?;
    Some(Finish {
        element,
        thickness: fields::accept(Length::from_um(thickness.value), thickness.place, desk)?,
    })
}

/// What is needed to read the deposits of one joint.
pub(super) struct Holder<'h> {
    pub(super) id: &'h str,
    pub(super) pad: Option<Area>,
    pub(super) as_bought: bool,
}

/// Deposits: a list, one, or only the name of an alloy.
pub(super) fn deposits(
    node: &Placed<Node>,
    key: &str,
    holder: &Holder,
    shelf: &mut Shelf,
    desk: &mut Desk,
) -> Option<Vec<Deposit>> {
    let residue = key == "residue";
    let items = fields::items(node);
    let read: Vec<Deposit> = items
        .iter()
        .filter_map(|item| {
            let mut deposit = if let Node::Scalar(_) = &item.value {
                Deposit {
                    content: shelf.content_of(item, None, holder.id, desk)?,
                    amount: Amount::Unstated,
                    as_bought: holder.as_bought,
                }
            } else {
                let fields = Fields::open(item, &keys::DEPOSIT, desk)?;
                deposit(&fields, holder, shelf, desk)?
            };
            if residue && deposit.amount == Amount::Unstated {
                deposit.amount = wicked_film(holder, desk);
            }
            Some(deposit)
        })
        .collect();
    // Nothing of a metal is no metal: a film of 0 µm leaves the pad bare.
    let nothing = |deposit: &Deposit| match deposit.amount {
        Amount::Mass(mass) => mass == Mass::ZERO,
        Amount::Metal(volume) | Amount::Paste { volume, .. } => volume.mm3() <= 0.0,
        Amount::Unstated => false,
    };
    let whole = read.len() == items.len();
    whole.then(|| read.into_iter().filter(|d| !nothing(d)).collect())
}

/// One deposit from its own block of keys.
pub(super) fn deposit(
    fields: &Fields,
    holder: &Holder,
    shelf: &mut Shelf,
    desk: &mut Desk,
) -> Option<Deposit> {
    let content = shelf.content(fields, holder.id, desk);
    let amount = amount(fields, holder.pad, holder.id, desk);
    let as_bought = fields
        .word("state", desk)
        .map_or(holder.as_bought, |state| state == "as_bought");
    Some(Deposit {
        content: content?,
        amount: amount?,
        as_bought,
    })
}

/// Residue of unstated amount: a wicked film where the pad is known, else any amount.
fn wicked_film(holder: &Holder, desk: &mut Desk) -> Amount {
    let volume = holder
        .pad
        .and_then(|pad| Volume::from_mm3(pad.mm2() * policy::WICKED_FILM.um() / 1000.0).ok());
    match volume {
        Some(volume) => {
            desk.assume_of(
                "film left on the pads",
                holder.id,
                policy::WICKED_FILM.um(),
                "µm",
                Mark::OurJudgement,
            );
            Amount::Metal(volume)
        }
        None => Amount::Unstated,
    }
}
