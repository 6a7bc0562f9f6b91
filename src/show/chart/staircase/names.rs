//! Names at the right end of the lines that stand when the work is done.

use super::super::Scale;
use super::super::inks::{GREY, METAL};
use super::super::lettering::{fit, plain, width, wrap};
use super::super::picture::Label;
use super::super::place;
use super::frame::{LEADER, Size};
use super::scene::{NORMAL, SMALL, Scene};
use super::{Basis, Segment, Staircase, Standing};

/// One or more joints that end alike.
pub(super) struct Name {
    line: usize,
    joints: Vec<String>,
    head: String,
    detail: Vec<String>,
}

impl Name {
    /// Lines of detail after the first.
    fn more_lines(&self) -> f64 {
        self.detail.iter().skip(1).map(|_| 1.0).sum()
    }

    pub(super) fn width(&self, size: Size) -> f64 {
        match size {
            Size::Whole => {
                let details = self.detail.iter().map(|line| width(line, SMALL, false));
                details.fold(width(&self.head, NORMAL, true), f64::max)
            }
            Size::Small => size.names(),
        }
    }
}

pub(super) fn of(stairs: &Staircase, scale: Scale, size: Size) -> Vec<Name> {
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
        let detail = detail(last, scale, size);
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
            let head = fit(&name.joints.join(", "), NORMAL, true, size.names());
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

/// Where it melts, and its alloy: on a line of its own where both do not fit on one.
fn detail(segment: &Segment, scale: Scale, size: Size) -> Vec<String> {
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
    if size == Size::Small {
        return vec![fit(&melts, SMALL, false, size.names())];
    }
    let residue = if segment.kind == Standing::Residue {
        "residue, "
    } else {
        ""
    };
    let alloy = plain(&segment.alloy);
    let room = size.names();
    if alloy.is_empty() {
        return vec![fit(&format!("{residue}{melts}"), SMALL, false, room)];
    }
    let both = format!("{residue}{melts}, {alloy}");
    if width(&both, SMALL, false) <= room {
        return vec![both];
    }
    let mut lines = vec![fit(&format!("{residue}{melts}"), SMALL, false, room)];
    lines.extend(wrap(&alloy, SMALL, false, room, 2));
    lines
}

/// Room of a name with its detail below, or beside it in a small picture.
const HEIGHT: f64 = 29.0;
/// Room of each line of detail after the first.
const MORE: f64 = 12.0;
const SMALL_HEIGHT: f64 = 15.0;

pub(super) fn draw(scene: &mut Scene<'_>, names: &[Name]) {
    let stairs = scene.stairs;
    let right = scene.frame.plot.right;
    let height = |name: &Name| {
        let last = stairs.lines.get(name.line)?.segments.last()?;
        scene.frame.segment_y(name.line, last)
    };
    let (room, below) = match scene.size {
        Size::Whole => (HEIGHT, 60.0),
        Size::Small => (SMALL_HEIGHT, 24.0),
    };
    let wanted: Vec<(f64, f64)> = names
        .iter()
        .map(|name| {
            let more = MORE * name.more_lines();
            (height(name).unwrap_or(scene.frame.plot.top), room + more)
        })
        .collect();
    let ends = (scene.frame.plot.top - 14.0, scene.frame.floor() + below);
    for ((name, (y, _)), place) in names.iter().zip(&wanted).zip(place::spread(&wanted, ends)) {
        let x = right + LEADER;
        let path = vec![
            (right, *y),
            (right + 4.0, *y),
            (x - 6.0, place),
            (x - 3.0, place),
        ];
        scene.picture.stroke(path, 1.0, METAL);
        match scene.size {
            Size::Whole => {
                let mut y = place - 6.5 - MORE / 2.0 * name.more_lines();
                let head = Label::new(&name.head, (x, y), NORMAL, METAL);
                scene.picture.label(head.bold());
                y += 13.5;
                for line in &name.detail {
                    scene.picture.label(Label::new(line, (x, y), SMALL, GREY));
                    y += MORE;
                }
            }
            Size::Small => {
                let detail = name.detail.first().map_or("", String::as_str);
                let taken = width(detail, SMALL, false) + 6.0;
                let head = fit(&name.head, SMALL, true, scene.size.names() - taken);
                let after = x + width(&head, SMALL, true) + 6.0;
                scene
                    .picture
                    .label(Label::new(head, (x, place), SMALL, METAL).bold());
                scene
                    .picture
                    .label(Label::new(detail, (after, place), SMALL, GREY));
            }
        }
    }
}
