//! Life-lines with their pasty bands and drops, and ceilings.

use super::super::inks::{GREY, LIMIT, METAL, PAPER, PASTE, PASTE_HATCH};
use super::super::lettering::{fit, plain, width};
use super::super::place::Rect;
use super::frame::Size;
use super::scene::{SMALL, Scene};
use super::{Basis, Segment, Standing, treads};

pub(super) fn draw(scene: &mut Scene<'_>) {
    let segments = segments(scene);
    for (_, segment) in &segments {
        band(scene, segment);
    }
    ceilings(scene);
    treads::edges(scene);
    for (line, segment) in &segments {
        edge(scene, *line, segment);
    }
    drops(scene);
    ends(scene);
}

/// All segments; one drawn twice is drawn once.
fn segments<'a>(scene: &Scene<'a>) -> Vec<(usize, &'a Segment)> {
    let mut all: Vec<(usize, &Segment)> = Vec::new();
    for (line, life) in scene.stairs.lines.iter().enumerate() {
        for segment in &life.segments {
            let twin = |other: &(usize, &Segment)| same_drawing(other.1, segment);
            if segment.first_melt.is_none() || !all.iter().any(twin) {
                all.push((line, segment));
            }
        }
    }
    all
}

fn same_drawing(one: &Segment, other: &Segment) -> bool {
    (
        one.from_step,
        one.to_step,
        one.first_melt,
        one.flow,
        one.kind,
        one.basis,
    ) == (
        other.from_step,
        other.to_step,
        other.first_melt,
        other.flow,
        other.kind,
        other.basis,
    )
}

fn band(scene: &mut Scene<'_>, segment: &Segment) {
    let (Some(melt), Some(flow)) = (segment.first_melt, segment.flow) else {
        return;
    };
    if segment.kind == Standing::Residue || flow <= melt {
        return;
    }
    let (left, right) = scene.frame.span(segment.from_step, segment.to_step);
    let band = Rect {
        left,
        right,
        top: scene.frame.y(flow),
        bottom: scene.frame.y(melt),
    };
    scene.picture.tint(band, PASTE, 0.35);
    let gap = if segment.basis == Basis::Floor {
        22.0
    } else {
        11.0
    };
    scene.picture.hatch(band, gap, 0.75, PASTE_HATCH);
    if band.height() > 4.0 {
        scene.picture.dashes(
            (left, band.top),
            (right, band.top),
            (5.0, 4.0),
            1.0,
            PASTE_HATCH,
        );
    }
}

fn edge(scene: &mut Scene<'_>, line: usize, segment: &Segment) {
    let Some(y) = scene.frame.segment_y(line, segment) else {
        return;
    };
    let (left, right) = scene.frame.span(segment.from_step, segment.to_step);
    let picture = &mut scene.picture;
    let unknown = segment.first_melt.is_none() || segment.basis == Basis::Unknown;
    match (segment.kind, segment.basis) {
        _ if unknown => picture.dashes((left, y), (right, y), (2.0, 4.0), 2.0, GREY),
        (Standing::Residue, _) => picture.line((left, y), (right, y), 1.0, METAL),
        (Standing::Joint, Basis::Floor) => {
            picture.dashes((left, y), (right, y), (9.0, 4.0), 2.5, METAL);
        }
        (Standing::Joint, _) => picture.line((left, y), (right, y), 2.5, METAL),
    }
    scene.placer.draw(
        Rect {
            left,
            right,
            top: y - 1.5,
            bottom: y + 1.5,
        },
        7.0,
    );
}

/// A bar across where a life ends, and a dot where one begins.
fn ends(scene: &mut Scene<'_>) {
    let stairs = scene.stairs;
    for (line, life) in stairs.lines.iter().enumerate() {
        for (index, segment) in life.segments.iter().enumerate() {
            let Some(y) = scene.frame.segment_y(line, segment) else {
                continue;
            };
            let (left, right) = scene.frame.span(segment.from_step, segment.to_step);
            if index == 0 {
                scene.picture.disc((left, y), 4.0, METAL);
                scene.picture.disc((left, y), 1.8, PAPER);
            }
            let goes_on = life
                .segments
                .get(index + 1)
                .is_some_and(|next| next.kind == segment.kind);
            if segment.to_step.is_some() && !goes_on {
                scene
                    .picture
                    .line((right, y - 6.0), (right, y + 6.0), 3.0, METAL);
            }
        }
    }
}

fn drops(scene: &mut Scene<'_>) {
    let stairs = scene.stairs;
    for (line, life) in stairs.lines.iter().enumerate() {
        for drop in &life.drops {
            if drop.at_step >= stairs.steps.len() {
                continue;
            }
            let x = scene.frame.middle(drop.at_step);
            let lane = scene.frame.lane(line);
            let height =
                |at: Option<crate::quantity::Celsius>| at.map(|at| scene.frame.y(at)).or(lane);
            let (Some(from), Some(to)) = (height(drop.from), height(drop.to)) else {
                continue;
            };
            let tip = if to > from { to - 2.0 } else { to + 2.0 };
            let barb = if to > from { -8.0 } else { 8.0 };
            let picture = &mut scene.picture;
            picture.dashes((x, from), (x, tip + barb), (4.0, 2.5), 2.0, METAL);
            picture.fill(
                vec![(x - 4.5, tip + barb), (x + 4.5, tip + barb), (x, tip)],
                METAL,
            );
            let arrow = Rect {
                left: x - 3.0,
                right: x + 3.0,
                top: from.min(to),
                bottom: from.max(to),
            };
            scene.placer.draw(arrow, 18.0);
        }
    }
}

fn ceilings(scene: &mut Scene<'_>) {
    let stairs = scene.stairs;
    for ceiling in &stairs.ceilings {
        let y = scene.frame.y(ceiling.limit);
        let (left, right) = scene.frame.span(ceiling.from_step, ceiling.to_step);
        let picture = &mut scene.picture;
        picture.line((left, y), (right, y), 1.5, LIMIT);
        // Teeth upwards: nothing may come through from below.
        let mut x = left + 4.0;
        while x + 4.0 < right {
            picture.line((x, y), (x + 4.0, y - 5.0), 1.0, LIMIT);
            x += 9.0;
        }
        scene.placer.draw(
            Rect {
                left,
                right,
                top: y - 6.0,
                bottom: y + 1.5,
            },
            7.0,
        );
    }
}

/// What stands beside the lines inside of the field: where a joint begins, why a line drops, what a ceiling is.
pub(super) fn labels(scene: &mut Scene<'_>) {
    ceiling_names(scene);
    reasons(scene);
    beginnings(scene);
}

fn ceiling_names(scene: &mut Scene<'_>) {
    let stairs = scene.stairs;
    for ceiling in &stairs.ceilings {
        let text = format!(
            "{} {}",
            plain(&ceiling.name),
            scene.scale.number(ceiling.limit)
        );
        let text = fit(&text, SMALL, true, 150.0);
        let (left, right) = scene.frame.span(ceiling.from_step, ceiling.to_step);
        let y = scene.frame.y(ceiling.limit);
        beside(scene, &text, (left, right), y, LIMIT);
    }
}

/// The names of the joints that begin at one place are one label.
fn beginnings(scene: &mut Scene<'_>) {
    let stairs = scene.stairs;
    let mut places: Vec<(usize, &Segment, Vec<String>)> = Vec::new();
    for (line, life) in stairs.lines.iter().enumerate() {
        let Some(first) = life.segments.first() else {
            continue;
        };
        let name = plain(&life.joint);
        let here = |other: &Segment| {
            first.first_melt.is_some()
                && (other.from_step, other.first_melt) == (first.from_step, first.first_melt)
        };
        match places.iter_mut().find(|(_, other, _)| here(other)) {
            Some((_, _, names)) => names.push(name),
            None => places.push((line, first, vec![name])),
        }
    }
    for (line, first, names) in places {
        let Some(y) = scene.frame.segment_y(line, first) else {
            continue;
        };
        let room = if names.len() > 1 { 170.0 } else { 92.0 };
        let text = fit(&names.join(", "), SMALL, true, room);
        let (left, right) = scene.frame.span(first.from_step, first.to_step);
        beside(scene, &text, (left, right), y, METAL);
    }
}

/// What it costs a label to lie nearer to another line than to its own: a reader takes the nearest.
const OF_ANOTHER: f64 = 40.0;

/// All lines of joints and limits: from where to where, and how high.
fn levels(scene: &Scene<'_>) -> Vec<(f64, f64, f64)> {
    let stairs = scene.stairs;
    let joints = stairs.lines.iter().enumerate().flat_map(|(line, life)| {
        let of_line = life.segments.iter();
        of_line.filter_map(move |segment| {
            let (from, to) = scene.frame.span(segment.from_step, segment.to_step);
            Some((from, to, scene.frame.segment_y(line, segment)?))
        })
    });
    let limits = stairs.ceilings.iter().map(|ceiling| {
        let (from, to) = scene.frame.span(ceiling.from_step, ceiling.to_step);
        (from, to, scene.frame.y(ceiling.limit))
    });
    joints.chain(limits).collect()
}

/// A label just over or under the beginning of a horizontal line, or further along it.
fn beside(
    scene: &mut Scene<'_>,
    text: &str,
    (left, right): (f64, f64),
    y: f64,
    ink: super::super::picture::Ink,
) {
    let size = (width(text, SMALL, true), SMALL);
    let levels = levels(scene);
    let nearer = |(x, at): (f64, f64)| {
        levels.iter().any(|(from, to, other)| {
            (*from..=*to).contains(&x) && (other - at).abs() + 0.5 < (y - at).abs()
        })
    };
    let offers = (0_u8..40).flat_map(|along| {
        let x = left + 7.0 + size.0 / 2.0 + f64::from(along) * 7.0;
        let price = f64::from(along) * 1.5 + if x + size.0 / 2.0 > right { 12.0 } else { 0.0 };
        [-12.0, 11.0, -22.0, 21.0].map(|up: f64| {
            let at = (x, y + up);
            let strange = if nearer(at) { OF_ANOTHER } else { 0.0 };
            (at, price + up.abs() / 4.0 + strange)
        })
    });
    let found = scene.placer.place(size, offers);
    if let Some(rect) = found {
        scene.write(text, rect, SMALL, true, ink);
    }
}

fn reasons(scene: &mut Scene<'_>) {
    let stairs = scene.stairs;
    for (line, life) in stairs.lines.iter().enumerate() {
        for drop in &life.drops {
            if drop.at_step >= stairs.steps.len() {
                continue;
            }
            let number = |at: Option<crate::quantity::Celsius>| {
                at.map_or_else(|| "?".to_owned(), |at| scene.scale.number(at))
            };
            let change = format!("{} → {}", number(drop.from), number(drop.to));
            let reason = match scene.size {
                Size::Whole => fit(&plain(&drop.reason), SMALL, false, 170.0),
                Size::Small => String::new(),
            };
            let (wide, x) = (
                width(&change, SMALL, true).max(width(&reason, SMALL, false)),
                scene.frame.middle(drop.at_step),
            );
            let lane = scene.frame.lane(line);
            let height =
                |at: Option<crate::quantity::Celsius>| at.map(|at| scene.frame.y(at)).or(lane);
            let (Some(from), Some(to)) = (height(drop.from), height(drop.to)) else {
                continue;
            };
            let lines = if reason.is_empty() { 1.0 } else { 2.0 };
            let offers = (0_u8..14).flat_map(|ring| {
                let ring = f64::from(ring);
                [0.5, 0.3, 0.7, 0.15, 0.85, 1.1, -0.1]
                    .into_iter()
                    .enumerate()
                    .flat_map(move |(rank, share)| {
                        let y = from + (to - from) * share;
                        let price = ring * 6.0 + rank as f64 * 2.0;
                        let away = wide / 2.0 + 7.0 + ring * 9.0;
                        [((x + away, y), price), ((x - away, y), price + 1.0)]
                    })
            });
            if let Some(rect) = scene.placer.place((wide, 13.0 * lines), offers) {
                let (middle, y) = rect.center();
                let upper = Rect::around((middle, y - 6.5 * (lines - 1.0)), wide, SMALL);
                scene.write(&change, upper, SMALL, true, METAL);
                if lines > 1.0 {
                    let lower = Rect::around((middle, y + 6.5), wide, SMALL);
                    scene.write(&reason, lower, SMALL, false, METAL);
                }
            }
        }
    }
}
