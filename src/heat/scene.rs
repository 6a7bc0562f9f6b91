//! What stands on the bench: the board, the air around it, the tool over it, the preheater under it,
//! and how far each of the guessed numbers is scaled.

use serde::Serialize;

use super::board::Board;
use super::jet::{Jet, JetProfile, OutsideRange};
use super::rays::{Emitter, Trade, View};
use super::units::{ContactResistance, Factor, FilmCoefficient, Point, Rect};
use crate::quantity::{Celsius, Length, Share};

/// Stefan–Boltzmann constant, W/m²K⁴ (CODATA).
pub(crate) const STEFAN_BOLTZMANN: f64 = 5.670_374_419e-8;

/// Why a bench set-up is refused.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum SceneFault {
    /// The tool's or a place's centre is not on the board.
    #[error(
        "{what} at ({x_mm}, {y_mm}) mm lies off the board: want 0 to {wide_mm} by 0 to {tall_mm} mm"
    )]
    OffBoard {
        /// Which point.
        what: String,
        /// As stated.
        x_mm: f64,
        /// As stated.
        y_mm: f64,
        /// Of the board.
        wide_mm: f64,
        /// Of the board.
        tall_mm: f64,
    },
    /// A temperature that does not go with the others.
    #[error("{what} of {found}: want {want}")]
    Temperature {
        /// Whose.
        what: &'static str,
        /// As stated.
        found: Celsius,
        /// What is allowed.
        want: String,
    },
    /// A size that the tool cannot have.
    #[error("{what} of {found_mm} mm: want {want}")]
    Size {
        /// Which.
        what: &'static str,
        /// As stated.
        found_mm: f64,
        /// What is allowed.
        want: &'static str,
    },
}

/// What heats.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Tool {
    /// Hot air from a round nozzle.
    Air(Jet),
    /// An iron held on a joint.
    Iron {
        /// Of the tip.
        tip: Celsius,
        /// Of the round patch through which heat enters the board: the pad, or the tip's face.
        contact: Length,
        /// From tip to joint: 2 to 10 K/W (common practice, no source).
        resistance: ContactResistance,
    },
    /// Rays of a flat emitter above the board.
    Rays(Emitter),
}

impl Tool {
    /// The hottest thing of it that could touch the board.
    pub fn hottest(&self) -> Celsius {
        match self {
            Tool::Air(jet) => jet.air,
            Tool::Iron { tip, .. } => *tip,
            Tool::Rays(emitter) => emitter.face,
        }
    }

    /// Radius of nozzle, contact or emitter.
    pub fn footprint(&self) -> Length {
        let across = match self {
            Tool::Air(jet) => jet.nozzle,
            Tool::Iron { contact, .. } => *contact,
            Tool::Rays(emitter) => emitter.across,
        };
        Length::from_mm(across.mm() / 2.0).unwrap_or(across)
    }

    /// Whether only the tool's own temperature bounds what a joint sees below it: what rays bring is known there as
    /// everywhere.
    pub fn hides(&self) -> bool {
        !matches!(self, Tool::Rays(_))
    }

    /// Which limits of published formulas it oversteps.
    pub fn outside(&self) -> Vec<OutsideRange> {
        match self {
            Tool::Air(jet) => jet.outside(),
            Tool::Iron { .. } | Tool::Rays(_) => Vec::new(),
        }
    }
}

/// The air in the room and how freely the board gives heat to it.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Room {
    /// Of the air and of what surrounds the board.
    pub air: Celsius,
    /// Natural convection from the upper face.
    pub above: FilmCoefficient,
    /// Natural convection from the lower face.
    pub below: FilmCoefficient,
    /// Emissivity of both faces.
    pub emissivity: Share,
}

/// What warms the board from below, already settled when the tool comes.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Preheat {
    /// What the board settles at over the preheater, measured on its upper face.
    pub board: Celsius,
    /// The part of the board over the preheater; the whole board if not given.
    pub area: Option<Rect>,
    /// Between preheater and board.
    pub film: FilmCoefficient,
}

/// Factors on the numbers that nobody can read off; all 1 until something was measured.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Tuning {
    /// On convection and radiation to the room.
    pub losses: Factor,
    /// On the film coefficient of the tool.
    pub coupling: Factor,
    /// On conduction along the board.
    pub conduction: Factor,
    /// On how far the jet stays hot.
    pub mixing: Factor,
    /// On how far the tool really stands above the room, for what its dial says.
    pub dial: Factor,
    /// On what a body stores, and on how badly it conducts.
    pub body: Factor,
    /// On the film between preheater and board.
    pub preheater: Factor,
}

/// How many factors there are.
pub const FACTORS: usize = 7;

impl Tuning {
    /// Nothing scaled.
    pub const NONE: Tuning = Tuning {
        losses: Factor::ONE,
        coupling: Factor::ONE,
        conduction: Factor::ONE,
        mixing: Factor::ONE,
        dial: Factor::ONE,
        body: Factor::ONE,
        preheater: Factor::ONE,
    };

    /// From the logarithms of the factors, in the order of the fields.
    pub(crate) fn from_logs(logs: [f64; FACTORS]) -> Tuning {
        let [losses, coupling, conduction, mixing, dial, body, preheater] =
            logs.map(Factor::from_log);
        Tuning {
            losses,
            coupling,
            conduction,
            mixing,
            dial,
            body,
            preheater,
        }
    }
}

/// One tool over one board: everything that the temperatures depend on but time.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Scene {
    board: Board,
    room: Room,
    tool: Tool,
    at: Point,
    preheat: Option<Preheat>,
    tuning: Tuning,
}

impl Scene {
    /// `tool` over the point `at` of `board`.
    ///
    /// # Errors
    /// [`SceneFault`] if the tool is not over the board, colder than the room, hotter than 1000 °C, or
    /// of a size that none has; or the preheat is colder than the room or above 300 °C.
    pub fn new(
        board: Board,
        room: Room,
        tool: Tool,
        at: Point,
        preheat: Option<Preheat>,
    ) -> Result<Self, SceneFault> {
        on_board(&board, "the tool", at)?;
        possible_room(room)?;
        possible_tool(&tool, room)?;
        if let Some(preheat) = preheat {
            within("a preheat", preheat.board, room.air, Celsius::whole(300))?;
        }
        Ok(Scene {
            board,
            room,
            tool,
            at,
            preheat,
            tuning: Tuning::NONE,
        })
    }

    /// The same scene with scaled numbers.
    pub fn tuned(mut self, tuning: Tuning) -> Self {
        self.tuning = tuning;
        self
    }

    /// The board.
    pub fn board(&self) -> &Board {
        &self.board
    }

    /// The tool.
    pub fn tool(&self) -> &Tool {
        &self.tool
    }

    /// Where the tool stands.
    pub fn at(&self) -> Point {
        self.at
    }

    /// The room.
    pub fn room(&self) -> Room {
        self.room
    }

    /// The preheater.
    pub fn preheat(&self) -> Option<Preheat> {
        self.preheat
    }

    /// What is scaled.
    pub fn tuning(&self) -> Tuning {
        self.tuning
    }

    /// What the board is at before the tool comes, at most: nowhere hotter than this.
    pub fn base(&self) -> Celsius {
        self.preheat.map_or(self.room.air, |preheat| preheat.board)
    }

    /// The hottest thing of the tool, as far as its dial can be trusted: what it stands above the room, scaled.
    pub fn hottest(&self) -> Celsius {
        Celsius::from_kelvin(self.source_k(self.tool.hottest()))
    }

    fn source_k(&self, dialled: Celsius) -> f64 {
        let room_k = self.room.air.kelvin();
        room_k + self.tuning.dial.value() * (dialled.kelvin() - room_k)
    }

    /// Whether a point is on the board.
    pub fn holds_point(&self, point: Point) -> bool {
        self.board.holds(point.metres())
    }

    /// # Errors
    /// [`SceneFault::OffBoard`].
    pub(crate) fn holds(&self, what: &str, point: Point) -> Result<(), SceneFault> {
        on_board(&self.board, what, point)
    }

    pub(crate) fn losses(&self) -> Losses {
        let scale = self.tuning.losses.value();
        let film = self.tuning.preheater.value();
        let preheater = self
            .preheat
            .map(|preheat| Preheater::new(&preheat, self.room, scale, film));
        Losses {
            room_k: self.room.air.kelvin(),
            above_w_m2k: self.room.above.w_m2k() * scale,
            below_w_m2k: self.room.below.w_m2k() * scale,
            face_w_m2k4: self.room.emissivity.fraction() * STEFAN_BOLTZMANN * scale,
            preheater,
        }
    }

    pub(crate) fn heater(&self) -> Heater {
        let coupling = self.tuning.coupling.value();
        let room_k = self.room.air.kelvin();
        match self.tool {
            Tool::Air(jet) => Heater::Air {
                profile: jet.profile(self.tuning.mixing),
                coupling,
                room_k,
                excess_k: self.source_k(jet.air) - room_k,
                face_m2k_w: self.board.stack().face_m2k_w(),
            },
            Tool::Iron {
                tip,
                contact,
                resistance,
            } => {
                let radius_m = contact.mm() / 2000.0;
                let area = std::f64::consts::PI * radius_m * radius_m;
                Heater::Iron {
                    radius_m,
                    film_w_m2k: coupling / (resistance.k_w() * area),
                    tip_k: self.source_k(tip),
                }
            }
            Tool::Rays(emitter) => {
                let losses = self.losses();
                let rays = |kelvin: f64| STEFAN_BOLTZMANN * kelvin.powi(4);
                let all = rays(self.source_k(emitter.face)) - rays(room_k);
                Heater::Rays {
                    view: emitter.view(),
                    most: Trade {
                        taken_w_m2: coupling * self.room.emissivity.fraction() * all,
                        // Nothing that divides by it may meet nought.
                        film_w_m2k: losses.above_w_m2k.max(1e-3),
                        face_w_m2k4: losses.face_w_m2k4,
                        room_k,
                    },
                    face_m2k_w: self.board.stack().face_m2k_w(),
                }
            }
        }
    }
}

fn on_board(board: &Board, what: &str, point: Point) -> Result<(), SceneFault> {
    if board.holds(point.metres()) {
        return Ok(());
    }
    let (wide, tall) = board.sides();
    Err(SceneFault::OffBoard {
        what: what.to_owned(),
        x_mm: point.x.mm(),
        y_mm: point.y.mm(),
        wide_mm: wide.mm(),
        tall_mm: tall.mm(),
    })
}

fn within(
    what: &'static str,
    found: Celsius,
    low: Celsius,
    high: Celsius,
) -> Result<(), SceneFault> {
    if (low..=high).contains(&found) {
        return Ok(());
    }
    Err(SceneFault::Temperature {
        what,
        found,
        want: format!("{low} to {high}"),
    })
}

fn possible_room(room: Room) -> Result<(), SceneFault> {
    within("a room", room.air, Celsius::whole(-40), Celsius::whole(80))
}

fn possible_tool(tool: &Tool, room: Room) -> Result<(), SceneFault> {
    within("a tool", tool.hottest(), room.air, Celsius::whole(1000))?;
    let sized = |what, length: Length, low: f64, high: f64, want| {
        if (low..=high).contains(&length.mm()) {
            Ok(())
        } else {
            Err(SceneFault::Size {
                what,
                found_mm: length.mm(),
                want,
            })
        }
    };
    match tool {
        Tool::Air(jet) => {
            sized("a nozzle", jet.nozzle, 0.5, 100.0, "0.5 to 100 mm")?;
            sized("a standoff", jet.standoff, 0.5, 500.0, "0.5 to 500 mm")
        }
        Tool::Iron { contact, .. } => sized("a contact", *contact, 0.05, 30.0, "0.05 to 30 mm"),
        Tool::Rays(emitter) => {
            sized("an emitter", emitter.across, 5.0, 400.0, "5 to 400 mm")?;
            sized("a standoff", emitter.standoff, 5.0, 500.0, "5 to 500 mm")
        }
    }
}

/// How the board loses heat where no tool is.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Losses {
    pub(crate) room_k: f64,
    pub(crate) above_w_m2k: f64,
    pub(crate) below_w_m2k: f64,
    /// Emissivity times Stefan–Boltzmann constant, of one face.
    pub(crate) face_w_m2k4: f64,
    pub(crate) preheater: Option<Preheater>,
}

/// A preheater as a film to something hotter, such that the board settles at what was stated.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Preheater {
    pub(crate) area: Option<Rect>,
    pub(crate) film_w_m2k: f64,
    pub(crate) source_k: f64,
}

impl Preheater {
    /// Over the preheater: what comes in below goes out above,
    /// `h_p (T_p − T_b) = h (T_b − T_room) + ε σ (T_b⁴ − T_room⁴)`.
    fn new(preheat: &Preheat, room: Room, scale: f64, film_factor: f64) -> Self {
        let board_k = preheat.board.kelvin();
        let room_k = room.air.kelvin();
        let film = (preheat.film.w_m2k() * film_factor).max(1e-3);
        let rays = room.emissivity.fraction() * STEFAN_BOLTZMANN;
        let out = scale
            * (room.above.w_m2k() * (board_k - room_k) + rays * (board_k.powi(4) - room_k.powi(4)));
        Preheater {
            area: preheat.area,
            film_w_m2k: film,
            source_k: board_k + out / film,
        }
    }
}

/// A tool as film coefficient and gas temperature against the distance from its axis; both fall.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Heater {
    Air {
        profile: JetProfile,
        coupling: f64,
        room_k: f64,
        excess_k: f64,
        face_m2k_w: f64,
    },
    Iron {
        radius_m: f64,
        film_w_m2k: f64,
        tip_k: f64,
    },
    Rays {
        view: View,
        /// What a face takes that sees nothing but the emitter.
        most: Trade,
        face_m2k_w: f64,
    },
}

impl Heater {
    /// What a face takes at this distance from the axis of an emitter; `None` where no rays come.
    pub(crate) fn trade(&self, radius_m: f64) -> Option<Trade> {
        match *self {
            Heater::Rays { view, most, .. } => Some(Trade {
                taken_w_m2: most.taken_w_m2 * view.share(radius_m),
                ..most
            }),
            Heater::Air { .. } | Heater::Iron { .. } => None,
        }
    }

    /// Film coefficient of the gas on whatever stands in it, W/m²K, and the gas, K; none where no gas comes. Below an
    /// emitter what a face with nothing behind it settles at, and how fast its losses grow there.
    pub(crate) fn bare_film(&self, radius_m: f64) -> Option<(f64, f64)> {
        match *self {
            Heater::Air {
                ref profile,
                coupling,
                room_k,
                excess_k,
                ..
            } => Some((
                coupling * profile.film_w_m2k(radius_m),
                room_k + excess_k * profile.gas_share(radius_m),
            )),
            Heater::Iron { .. } => None,
            Heater::Rays { .. } => self.trade(radius_m).map(|trade| {
                let settled = trade.settles_k();
                (trade.slope_w_m2k(settled), settled)
            }),
        }
    }

    /// Film coefficient between the tool and the mean of the board's thickness, W/m²K, and
    /// temperature of the source, K. `None` where the tool does not reach.
    ///
    /// For air the way from the heated face to the mean is in series with the film,
    /// `1/h' = 1/h + t/3k`; an iron heats the copper itself, so nothing is put in series. What rays bring is given,
    /// `q = h (T − T_room)` with the room's own film and as much hotter a room.
    pub(crate) fn film(&self, radius_m: f64) -> Option<(f64, f64)> {
        match *self {
            Heater::Air {
                ref profile,
                coupling,
                room_k,
                excess_k,
                face_m2k_w,
            } => {
                let film = coupling * profile.film_w_m2k(radius_m);
                let gas = room_k + excess_k * profile.gas_share(radius_m);
                Some((film / (1.0 + film * face_m2k_w), gas))
            }
            Heater::Iron {
                radius_m: reach,
                film_w_m2k,
                tip_k,
            } => (radius_m <= reach).then_some((film_w_m2k, tip_k)),
            Heater::Rays { .. } => self.trade(radius_m).map(|trade| {
                let warmer = trade.taken_w_m2 / trade.film_w_m2k;
                (trade.film_w_m2k, trade.room_k + warmer)
            }),
        }
    }

    /// Film and gas of the upper face under the tool: never less film than still air gives.
    pub(crate) fn reaching(&self, losses: &Losses, radius_m: f64) -> (f64, f64) {
        self.film(radius_m)
            .map_or((losses.above_w_m2k, losses.room_k), |(film, gas)| {
                (film.max(losses.above_w_m2k), gas)
            })
    }

    /// How far the tool's face is from the mean of the thickness toward the gas: the share of
    /// `gas − mean` that the heated face stands above the mean, `h·t/3k / (1 + h·t/3k)`.
    pub(crate) fn face_share(&self, radius_m: f64) -> f64 {
        match *self {
            Heater::Air { face_m2k_w, .. } | Heater::Rays { face_m2k_w, .. } => self
                .film(radius_m)
                .map_or(0.0, |(film, _)| film * face_m2k_w),
            Heater::Iron { .. } => 0.0,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::heat::board::Stack;
    use crate::heat::units::AirFlow;

    fn board() -> Board {
        let mm = |value| Length::from_mm(value).unwrap();
        let stack = Stack::new(mm(1.6), 4, mm(0.035), Share::new(0.5).unwrap()).unwrap();
        Board::new(mm(80.0), mm(60.0), stack).unwrap()
    }

    fn room() -> Room {
        crate::heat::presets::still_air(Celsius::whole(25))
    }

    fn air(celsius: i32) -> Tool {
        Tool::Air(Jet {
            nozzle: Length::from_mm(8.0).unwrap(),
            air: Celsius::whole(celsius),
            flow: AirFlow::from_l_min(40.0).unwrap(),
            standoff: Length::from_mm(16.0).unwrap(),
        })
    }

    #[test]
    fn impossible_set_ups_are_refused_with_the_reason() {
        let middle = Point::from_mm(40.0, 30.0).unwrap();
        let off = Point::from_mm(90.0, 30.0).unwrap();
        let fault = Scene::new(board(), room(), air(350), off, None).unwrap_err();
        assert_eq!(
            fault.to_string(),
            "the tool at (90, 30) mm lies off the board: want 0 to 80 by 0 to 60 mm"
        );
        let fault = Scene::new(board(), room(), air(10), middle, None).unwrap_err();
        assert_eq!(fault.to_string(), "a tool of 10 °C: want 25 °C to 1000 °C");
        let preheat = crate::heat::presets::plate_under(Celsius::whole(20));
        assert!(Scene::new(board(), room(), air(350), middle, Some(preheat)).is_err());
        let mut small = air(350);
        if let Tool::Air(jet) = &mut small {
            jet.nozzle = Length::from_mm(0.0).unwrap();
        }
        assert!(Scene::new(board(), room(), small, middle, None).is_err());
    }
}
