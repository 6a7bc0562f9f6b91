//! Names at the right end of the lines that stand when the work is done.

use super::super::Scale;
use super::super::inks::{GREY, METAL};
use super::super::lettering::{fit, plain, width};
use super::super::picture::Label;
use super::super::place;
use super::frame::{LEADER, NAMES};
use super::scene::{NORMAL, SMALL, Scene};
use super::{Basis, Segment, Staircase, Standing};

/// One or more joints that end alike.
pub(super) struct Name {
    line: usize,
    joints: Vec<String>,
    head: String,
    detail: String,
}

impl Name {
    pub(super) fn width(&self) -> f64 {
        width(&self.head, NORMAL, true).max(width(&self.detail, SMALL, false))
    }
}

pub(super) fn of(stairs: &Staircase, scale: Scale) -> Vec<Name> {
    let mut groups: Vec<(&Segment, Name)> = Vec::new();
    for (line, life) in stairs.lines.iter().enumerate() {
        let Some(last) = life.segments.last().filter(|last| last.to_step.is_none()) else {
            continue;
        };
        let joint = plain(&life.joint);
        let twin = groups
            .iter_mut()
            .find(|(other, _)| last.first_melt.is_some() && alike(other, last));
        if let Some((_, name)) = twin {
            name.joints.push(joint);
            continue;
        }
        let detail = detail(last, scale);
        groups.push((
            last,
            Name {
                line,
                joints: vec![joint],
                head: String::new(),
                detail,
            },
        ));
    }
    groups
        .into_iter()
        .map(|(_, name)| {
            let head = fit(&name.joints.join(", "), NORMAL, true, NAMES);
            Name { head, ..name }
        })
        .collect()
}

fn alike(one: &Segment, other: &Segment) -> bool {
    (one.first_melt, one.flow, one.kind, one.basis, &one.alloy)
        == (
            other.first_melt,
            other.flow,
            other.kind,
            other.basis,
            &other.alloy,
        )
}

fn detail(segment: &Segment, scale: Scale) -> String {
    let melts = match (segment.first_melt, segment.flow) {
        (None, _) => "melts where?".to_owned(),
        (Some(melt), flow) => {
            let floor = if segment.basis == Basis::Floor {
                "≥ "
            } else {
                ""
            };
            let flow = flow.unwrap_or(melt);
            format!(
                "{floor}{} {}",
                scale.range(melt, flow.max(melt)),
                scale.unit()
            )
        }
    };
    let residue = if segment.kind == Standing::Residue {
        "residue, "
    } else {
        ""
    };
    let alloy = plain(&segment.alloy);
    let text = if alloy.is_empty() {
        format!("{residue}{melts}")
    } else {
        format!("{residue}{melts}, {alloy}")
    };
    fit(&text, SMALL, false, NAMES)
}

const HEIGHT: f64 = 29.0;

pub(super) fn draw(scene: &mut Scene<'_>, names: &[Name]) {
    let stairs = scene.stairs;
    let right = scene.frame.plot.right;
    let height = |name: &Name| {
        let last = stairs.lines.get(name.line)?.segments.last()?;
        scene.frame.segment_y(name.line, last)
    };
    let wanted: Vec<(f64, f64)> = names
        .iter()
        .map(|name| (height(name).unwrap_or(scene.frame.plot.top), HEIGHT))
        .collect();
    let room = (scene.frame.plot.top - 14.0, scene.frame.floor() + 60.0);
    for ((name, (y, _)), place) in names.iter().zip(&wanted).zip(place::spread(&wanted, room)) {
        let x = right + LEADER;
        let path = vec![
            (right, *y),
            (right + 4.0, *y),
            (x - 6.0, place),
            (x - 3.0, place),
        ];
        scene.picture.stroke(path, 1.0, METAL);
        scene
            .picture
            .label(Label::new(&name.head, (x, place - 6.5), NORMAL, METAL).bold());
        scene
            .picture
            .label(Label::new(&name.detail, (x, place + 7.0), SMALL, GREY));
    }
}
