//! The treads: one a step, at its process peak, in a shape that tells what kind of heat it is.

use super::super::inks::{self, GLOW, GLOW_HATCH, GREY, HEAT, HEAT_TEXT};
use super::super::lettering::width;
use super::super::picture::Point;
use super::super::place::Rect;
use super::scene::{SMALL, Scene};
use super::{Tread, TreadKind};

/// The room between two treads.
const GAP: f64 = 3.0;

/// The treads with a temperature, and its height.
fn hot<'a>(scene: &Scene<'a>) -> Vec<(usize, &'a Tread, f64)> {
    let steps = scene.stairs.steps.iter().enumerate();
    steps
        .filter(|(_, tread)| tread.kind != TreadKind::NoHeat)
        .filter_map(|(step, tread)| Some((step, tread, scene.frame.y(tread.peak?))))
        .collect()
}

/// What lies under everything else: the body of each tread.
pub(super) fn bodies(scene: &mut Scene<'_>) {
    let bottom = scene.frame.plot.bottom;
    for (step, tread, y) in hot(scene) {
        let (left, right) = sides(scene, step, tread.kind);
        let picture = &mut scene.picture;
        if tread.kind == TreadKind::Removal {
            let body = Rect {
                left,
                right,
                top: y + RIDGE,
                bottom,
            };
            picture.hatch(body, 13.0, 1.0, GLOW_HATCH);
            picture.line((left, body.top), (left, bottom), 1.0, GLOW_HATCH);
            picture.line((right, body.top), (right, bottom), 1.0, GLOW_HATCH);
        } else {
            picture.rect(
                Rect {
                    left,
                    right,
                    top: y,
                    bottom,
                },
                GLOW,
            );
        }
    }
}

/// How far the slopes of a lifted tread fall from its ridge.
const RIDGE: f64 = 8.0;

/// The upper edge of each tread, and the temperature that its target must reach.
pub(super) fn edges(scene: &mut Scene<'_>) {
    for (step, tread, y) in hot(scene) {
        let (left, right) = sides(scene, step, tread.kind);
        let picture = &mut scene.picture;
        match tread.kind {
            TreadKind::Removal => {
                // Lifted off: two slopes to a ridge instead of a flat top.
                let middle = f64::midpoint(left, right);
                let slopes = vec![(left, y + RIDGE), (middle, y), (right, y + RIDGE)];
                picture.stroke(slopes, 3.0, HEAT);
                up_arrow(scene, (middle, y + 13.0));
            }
            TreadKind::WholeBoard => {
                picture.line((left, y), (right, y), 3.0, HEAT);
                picture.line((left, y + 4.5), (right, y + 4.5), 1.25, HEAT);
            }
            TreadKind::Heat | TreadKind::NoHeat => picture.line((left, y), (right, y), 3.0, HEAT),
        }
        if let Some(reach) = tread.must_reach {
            let reach = scene.frame.y(reach);
            scene
                .picture
                .dashes((left, reach), (right, reach), (3.0, 3.0), 1.0, HEAT);
        }
        scene.placer.draw(
            Rect {
                left,
                right,
                top: y - 2.0,
                bottom: y + 2.0,
            },
            9.0,
        );
    }
    let stairs = scene.stairs;
    for (step, tread) in stairs.steps.iter().enumerate() {
        if tread.kind == TreadKind::NoHeat || tread.peak.is_none() {
            rest(scene, step);
        }
    }
}

fn sides(scene: &Scene<'_>, step: usize, kind: TreadKind) -> (f64, f64) {
    let (left, column) = (scene.frame.left(step), scene.frame.column);
    let inset = match kind {
        TreadKind::WholeBoard => 0.0,
        TreadKind::Removal => (column * 0.2).max(GAP),
        _ => GAP,
    };
    (left + inset, left + column - inset)
}

fn up_arrow(scene: &mut Scene<'_>, (x, y): Point) {
    scene.picture.line((x, y + 16.0), (x, y + 4.0), 2.0, HEAT);
    scene.picture.fill(
        vec![(x - 5.0, y + 6.0), (x, y - 2.0), (x + 5.0, y + 6.0)],
        HEAT,
    );
}

/// A step without heat: a short bar on the floor.
fn rest(scene: &mut Scene<'_>, step: usize) {
    let (left, right) = sides(scene, step, TreadKind::Heat);
    let y = scene.frame.plot.bottom;
    scene
        .picture
        .line((left + 6.0, y - 2.0), (right - 6.0, y - 2.0), 3.0, GREY);
}

/// The number of each peak, at its tread.
pub(super) fn peaks(scene: &mut Scene<'_>) {
    let stairs = scene.stairs;
    for (step, tread) in stairs.steps.iter().enumerate() {
        let Some(peak) = tread.peak else { continue };
        if tread.kind == TreadKind::NoHeat {
            continue;
        }
        let text = scene.scale.number(peak);
        let size = (width(&text, SMALL, true), SMALL);
        let y = scene.frame.y(peak);
        let (left, right) = sides(scene, step, TreadKind::Heat);
        let middle = scene.frame.middle(step);
        let sides = [
            left + size.0 / 2.0 + 1.0,
            right - size.0 / 2.0 - 1.0,
            middle,
        ];
        let offers = (0_u8..8).flat_map(|ring| {
            let away = 9.0 + 5.0 * f64::from(ring);
            let price = 4.0 * f64::from(ring);
            sides.into_iter().enumerate().flat_map(move |(side, x)| {
                let price = price + side as f64;
                [((x, y - away), price), ((x, y + away), price + 1.5)]
            })
        });
        if let Some(rect) = scene.placer.place(size, offers) {
            scene.write(&text, rect, SMALL, true, HEAT_TEXT);
        }
        if tread.mark == super::super::Mark::DoesNotFlow {
            inks::draw(&mut scene.picture, tread.mark, (middle, y - 8.0), 5.0);
        }
    }
}
