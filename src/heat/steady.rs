//! The most that a place of the board can ever see from one tool, in closed form.
//!
//! Three fields are each never below the true one, and the least of them is the answer (derived here by
//! the comparison principle for `K ∇²T + f(T) = 0`, `f` falling with `T`; the proof is in
//! DEVELOPERS.md):
//!
//! * the endless plate (thin-plate fin with a ring source, modified Bessel functions), with the heat
//!   that leaves over the edges sent back by mirror images of the tool in them, and what the images
//!   beyond the last counted one could add;
//! * a round plate with an insulated rim at the nearest edge, that rim's temperature beyond it;
//! * the tool's own temperature, or what the preheater brings the board to when the tool's gas lies
//!   over it instead of the room's air.
//!
//! All stand on the field of the preheater, bounded by what the board settles at over it. Convection
//! and radiation count with their slope there, the least that they have above it.

use std::f64::consts::PI;

use spec_math::Bessel;

use super::rings::{Beyond, Ring, Rings};
use super::scene::{Heater, Losses, Scene, SceneFault};
use super::units::Point;
use crate::quantity::Celsius;

/// Ring edges for a jet, in nozzle diameters; the last ring ends at the farthest corner.
const JET_RINGS: [f64; 17] = [
    0.4, 0.8, 1.2, 1.6, 2.0, 2.5, 3.0, 3.6, 4.4, 5.4, 6.6, 8.0, 10.0, 13.0, 18.0, 28.0, 50.0,
];
/// Images farther than this, in healing lengths, are not counted singly.
const COUNTED_LENGTHS: f64 = 7.0;
/// About how many images are counted singly.
const COUNTED_IMAGES: f64 = 150.0;

/// Why there is no closed form.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum NoBound {
    /// Copper pours: the plate does not conduct alike everywhere.
    #[error("no closed form on a board with copper pours: want the field instead")]
    Uneven,
    /// The place is not on the board.
    #[error(transparent)]
    Scene(#[from] SceneFault),
}

/// Which face of the board a place is on.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Face {
    /// The face that the tool works on.
    #[default]
    Tool,
    /// The other face: over a preheater, hotter than what was stated of the upper one.
    Far,
    /// The top of a body that lies over the board there, in the tool's stream.
    Body,
}

/// Upper bounds for one scene.
#[derive(Clone, Debug)]
pub struct Bound {
    base_k: f64,
    /// No place can get hotter than this, K.
    most_k: f64,
    wide_m: f64,
    tall_m: f64,
    tool_m: (f64, f64),
    heater: Heater,
    /// Film and source of the preheater.
    under: Option<(f64, f64)>,
    /// Through the board, m²K/W.
    through_m2k_w: f64,
    /// None if nothing takes heat away: then only the tool bounds.
    fields: Option<Fields>,
}

#[derive(Clone, Debug)]
struct Fields {
    /// Endless plate, heated by what the tool would give it.
    free: Rings,
    rate: f64,
    /// Round plate inside the board; none if the tool stands on an edge.
    round: Option<Rings>,
}

impl Bound {
    /// Works out the rings of `scene`.
    ///
    /// # Errors
    /// [`NoBound::Uneven`] on a board with copper pours.
    pub fn of(scene: &Scene) -> Result<Self, NoBound> {
        if !scene.board().conducts_alike() {
            return Err(NoBound::Uneven);
        }
        let (wide_m, tall_m) = scene.board().metres();
        let base_k = scene.base().kelvin();
        let heater = scene.heater();
        Ok(Bound {
            base_k,
            most_k: most_of_all(scene, base_k),
            wide_m,
            tall_m,
            tool_m: scene.at().metres(),
            heater,
            under: scene
                .losses()
                .preheater
                .map(|under| (under.film_w_m2k, under.source_k)),
            through_m2k_w: 3.0 * scene.board().stack().face_m2k_w(),
            fields: Fields::of(scene, &heater, base_k),
        })
    }

    /// The most that `point` can see on that face, however long the tool stays.
    ///
    /// # Errors
    /// [`NoBound::Scene`] if the point is not on the board.
    pub fn at(&self, point: Point, face: Face) -> Result<Celsius, NoBound> {
        let (x, y) = point.metres();
        if !(0.0..=self.wide_m).contains(&x) || !(0.0..=self.tall_m).contains(&y) {
            return Err(NoBound::Scene(SceneFault::OffBoard {
                what: "a place".to_owned(),
                x_mm: point.x.mm(),
                y_mm: point.y.mm(),
                wide_mm: self.wide_m * 1000.0,
                tall_mm: self.tall_m * 1000.0,
            }));
        }
        // Half a millikelvin up: what is kept as whole millikelvin must not round below the bound.
        Ok(Celsius::from_kelvin(self.kelvin((x, y), face) + 5e-4))
    }

    fn kelvin(&self, place: (f64, f64), face: Face) -> f64 {
        let most = self.most_k;
        let Some(fields) = &self.fields else {
            return most;
        };
        let distance = (place.0 - self.tool_m.0).hypot(place.1 - self.tool_m.1);
        let mut rise = self.mirrored(fields, place);
        if let Some(round) = &fields.round {
            rise = rise.min(round.theta(distance));
        }
        let plate = (self.base_k + rise.max(0.0)).min(most);
        plate + self.above_the_mean(plate, distance, face)
    }

    /// How far the blown-on face can stand above the plate's mean; a body over it can be as hot as the gas.
    fn above_the_mean(&self, plate_k: f64, distance: f64, face: Face) -> f64 {
        match (face, self.heater.film(distance)) {
            (Face::Far, _) => self.under.map_or(0.0, |(film, source_k)| {
                film * self.through_m2k_w * (source_k - plate_k).max(0.0)
            }),
            (Face::Body, Some(at_face)) => {
                let (_, gas_k) = self.heater.bare_film(distance).unwrap_or(at_face);
                (gas_k - plate_k).max(0.0)
            }
            (Face::Tool, Some((_, gas_k))) => {
                self.heater.face_share(distance) * (gas_k - plate_k).max(0.0)
            }
            _ => 0.0,
        }
    }

    /// The endless plate's field summed over the tool and its mirror images in the four edges.
    fn mirrored(&self, fields: &Fields, (x, y): (f64, f64)) -> f64 {
        let least_side = self.wide_m.min(self.tall_m);
        let cap = (COUNTED_IMAGES * self.wide_m * self.tall_m / PI).sqrt();
        let cut = (COUNTED_LENGTHS / fields.rate)
            .min(cap)
            .max(fields.free.reach_m() + least_side);
        let mut sum = 0.0;
        for dx in offsets(x, self.tool_m.0, self.wide_m, cut) {
            for dy in offsets(
                y,
                self.tool_m.1,
                self.tall_m,
                (cut * cut - dx * dx).max(0.0).sqrt(),
            ) {
                sum += fields.free.theta(dx.hypot(dy));
            }
        }
        sum + uncounted(fields, cut - least_side, least_side)
    }
}

/// Distances along one side from `place` to the tool's images, none farther than `cut`.
fn offsets(place: f64, tool: f64, side: f64, cut: f64) -> impl Iterator<Item = f64> {
    let period = 2.0 * side;
    [place - tool, place + tool]
        .into_iter()
        .flat_map(move |first| {
            let from = ((-cut - first) / period).ceil();
            let to = ((cut - first) / period).floor();
            #[expect(
                clippy::cast_possible_truncation,
                clippy::cast_sign_loss,
                reason = "a count of images, limited by the cut"
            )]
            let count = (to - from + 1.0).max(0.0) as u32;
            (0..count).map(move |k| first + (from + f64::from(k)) * period)
        })
}

/// What images farther than `start + side` add at most. `K₀` is below its mean over any disc; the
/// images of one kind own discs of radius `side` that do not overlap; so each of the four kinds adds no
/// more than `(1/π side²) ∫ K₀(m r) 2π r dr` from `start` on, which is `2 start K₁(m start)/(m side²)`.
fn uncounted(fields: &Fields, start: f64, side: f64) -> f64 {
    let Some((strength, edge)) = fields.free.tail() else {
        return 0.0;
    };
    let x = fields.rate * start;
    4.0 * strength * 2.0 * start * x.bessel_k1e() * (edge - x).exp() / (fields.rate * side * side)
}

impl Fields {
    fn of(scene: &Scene, heater: &Heater, base_k: f64) -> Option<Self> {
        let losses = scene.losses();
        let loss = loss_slope(&losses, base_k);
        if loss < 1e-6 {
            return None;
        }
        let sheet = scene.board().stack().sheet_w_k() * scene.tuning().conduction.value();
        let (wide, tall) = scene.board().metres();
        let (x, y) = scene.at().metres();
        let farthest = x.max(wide - x).hypot(y.max(tall - y));
        let nearest = x.min(wide - x).min(y).min(tall - y);
        let coupled = coupled_rings(heater, &losses, base_k, loss, farthest);
        let plate = Beyond::Plate { loss_w_m2k: loss };
        let free = Rings::solve(&coupled, plate, sheet);
        let free = Rings::solve(&given_heat(&coupled, &free, loss), plate, sheet);
        let round = (nearest > 1e-4)
            .then(|| Rings::solve(&cut_at(&coupled, nearest, loss), Beyond::Rim, sheet));
        Some(Fields {
            free,
            rate: (loss / sheet).sqrt(),
            round,
        })
    }
}

/// The hottest that anything can get: the tool, or over a preheater where
/// `h (T_tool − T) + h_p (T_p − T) = ε σ (T⁴ − T_room⁴)` with the least film above; below an emitter where a face on its
/// axis would settle with nothing beside it.
fn most_of_all(scene: &Scene, base_k: f64) -> f64 {
    let tool_k = scene.hottest().kelvin();
    let losses = scene.losses();
    if let Some(trade) = scene.heater().trade(0.0) {
        let under = losses
            .preheater
            .map(|under| (under.film_w_m2k, under.source_k));
        return trade.settles_over_k(losses.below_w_m2k, under).max(base_k);
    }
    let Some(under) = losses.preheater else {
        return tool_k.max(base_k);
    };
    let gain = |t: f64| {
        losses.above_w_m2k * (tool_k - t) + under.film_w_m2k * (under.source_k - t)
            - losses.face_w_m2k4 * (t.powi(4) - losses.room_k.powi(4))
    };
    let (mut low, mut high) = (tool_k.min(under.source_k), tool_k.max(under.source_k));
    for _ in 0..40 {
        let middle = f64::midpoint(low, high);
        if gain(middle) > 0.0 {
            low = middle;
        } else {
            high = middle;
        }
    }
    high.max(tool_k).max(base_k)
}

/// Least loss of both faces for each kelvin above the base, W/m²K.
fn loss_slope(losses: &Losses, base_k: f64) -> f64 {
    let rays = 4.0 * losses.face_w_m2k4 * base_k.powi(3);
    let open_below = losses.below_w_m2k + rays;
    let below = match losses.preheater {
        None => open_below,
        Some(under) if under.area.is_none() => under.film_w_m2k,
        Some(under) => under.film_w_m2k.min(open_below),
    };
    losses.above_w_m2k + rays + below
}

/// Edges of rings, in diameters of what blows or shines, out to the farthest corner.
fn rings_out_to(diameter_m: f64, farthest: f64) -> Vec<f64> {
    JET_RINGS
        .iter()
        .map(|d| d * diameter_m)
        .filter(|edge| *edge < farthest)
        .chain([farthest])
        .collect()
}

/// The tool as rings: in each no less heat and no more damping than it has anywhere in it.
fn coupled_rings(
    heater: &Heater,
    losses: &Losses,
    base_k: f64,
    loss: f64,
    farthest: f64,
) -> Vec<Ring> {
    let edges: Vec<f64> = match heater {
        Heater::Iron { radius_m, .. } => vec![*radius_m],
        Heater::Air { profile, .. } => rings_out_to(profile.diameter_m(), farthest),
        Heater::Rays { view, .. } => rings_out_to(0.5 * view.diameter_m(), farthest),
    };
    let room_gap = losses.above_w_m2k * (base_k - losses.room_k);
    let mut from = 0.0;
    let mut rings = Vec::with_capacity(edges.len());
    for to in edges {
        let (film_in, gas) = heater.reaching(losses, from);
        let (film_out, _) = heater.reaching(losses, to);
        let drive = gas - base_k;
        let heat = (film_in * drive).max(film_out * drive) + room_gap;
        rings.push(Ring {
            to_m: to,
            heat_w_m2: heat.max(0.0),
            loss_w_m2k: loss + film_out - losses.above_w_m2k,
        });
        from = to;
    }
    falling_levels(&mut rings);
    rings
}

/// Raises heat where a ring would settle lower than the next one out, so that the field falls with
/// the distance, which the bounds rest on.
fn falling_levels(rings: &mut [Ring]) {
    let mut level = 0.0_f64;
    for ring in rings.iter_mut().rev() {
        level = level.max(ring.heat_w_m2 / ring.loss_w_m2k);
        ring.heat_w_m2 = level * ring.loss_w_m2k;
    }
}

/// The same rings with the heat that they take in the field `free` as given heat.
fn given_heat(coupled: &[Ring], free: &Rings, loss: f64) -> Vec<Ring> {
    coupled
        .iter()
        .zip(free.least())
        .map(|(ring, least)| Ring {
            to_m: ring.to_m,
            heat_w_m2: (ring.heat_w_m2 - (ring.loss_w_m2k - loss) * least).max(0.0),
            loss_w_m2k: loss,
        })
        .collect()
}

/// The rings inside radius `rim_m`, and bare board up to it.
fn cut_at(coupled: &[Ring], rim_m: f64, loss: f64) -> Vec<Ring> {
    let mut rings: Vec<Ring> = Vec::with_capacity(coupled.len() + 1);
    for ring in coupled {
        rings.push(Ring {
            to_m: ring.to_m.min(rim_m),
            ..*ring
        });
        if ring.to_m >= rim_m {
            return rings;
        }
    }
    rings.push(Ring {
        to_m: rim_m,
        heat_w_m2: 0.0,
        loss_w_m2k: loss,
    });
    rings
}
