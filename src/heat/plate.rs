//! The board in time: tool on, tool off, and what every named place sees.

use serde::Serialize;

use super::board::{BODY_J_M3K, BODY_W_MK, Board, Patch};
use super::jet::OutsideRange;
use super::mesh::Mesh;
use super::scene::{Heater, Losses, Scene, SceneFault};
use super::sheet::{Cell, Sheet};
use super::steady::Face;
use super::units::{Point, Seconds};
use crate::quantity::{Celsius, Length};

/// First step after a sudden change, s; it takes in what a joint under an iron does first.
const FIRST_STEP_S: f64 = 0.005;
/// Shortest step before the place to stop by is hot enough, s.
const SHORT_STEP_S: f64 = 0.02;
/// How fast steps grow.
const STEP_GROWTH: f64 = 1.2;
/// Steps in a run once they have grown: short runs take at least so many, and no step is longer than
/// half a second unless the run has more than so many of them.
const LEAST_STEPS: f64 = 120.0;
const MOST_STEPS: f64 = 300.0;
const LONG_STEP_S: f64 = 0.5;
/// Widest cell after halving, m.
const WIDEST_M: f64 = 0.002;

/// A place whose temperature is asked for.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Place {
    /// What it is called in the answer.
    pub id: String,
    /// Its middle.
    pub at: Point,
    /// How far it reaches around its middle: half the body of a part, zero for one joint.
    pub reach: Length,
    /// The face that it is on.
    pub face: Face,
}

/// What the hand does.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Program {
    /// The longest that the tool stays.
    pub heat_for: Seconds,
    /// The tool goes as soon as all of this place is this hot.
    pub until: Option<Until>,
    /// How long to watch after the tool has gone: what lies farther off peaks later.
    pub then_watch: Seconds,
}

/// When the tool goes before its time is up.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Until {
    /// Of [`Place`].
    pub id: String,
    /// Its coolest point.
    pub coolest: Celsius,
}

/// Why a run is refused.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum RunFault {
    /// A place lies off the board.
    #[error(transparent)]
    Scene(#[from] SceneFault),
    /// The tool is to go by a place that is not among those asked for.
    #[error("no place `{found}` to stop the tool by: want one of {known}")]
    NoSuchPlace {
        /// As stated.
        found: String,
        /// What there is.
        known: String,
    },
    /// Whoever asked wants no answer any more.
    #[error("stopped before the heat was worked out")]
    Stopped,
}

/// One moment of one place.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Moment {
    /// Since the tool came, s.
    pub after_s: f64,
    /// Of the hottest point of the place.
    pub hottest: Celsius,
    /// Of its coolest point, without the lead that a bare joint has on the blown-on face.
    pub coolest: Celsius,
}

/// What one place went through.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PlaceHeat {
    /// Of the place.
    pub id: String,
    /// From the moment the tool came.
    pub trace: Vec<Moment>,
}

impl PlaceHeat {
    /// The hottest that any point of it got.
    pub fn peak(&self) -> Celsius {
        self.most(|moment| moment.hottest)
    }

    /// The hottest that all of it got at once, counted as if under a body: what decides whether it flows.
    pub fn all_reached(&self) -> Celsius {
        self.most(|moment| moment.coolest)
    }

    fn most(&self, of: fn(&Moment) -> Celsius) -> Celsius {
        self.trace
            .iter()
            .map(of)
            .max()
            .unwrap_or(Celsius::nearest(f64::NAN))
    }

    /// How long its hottest point stood above `limit`, s.
    pub fn seconds_above(&self, limit: Celsius) -> f64 {
        let excess = |moment: &Moment| moment.hottest.degrees() - limit.degrees();
        self.trace
            .windows(2)
            .map(|pair| {
                let (a, b) = (excess(&pair[0]), excess(&pair[1]));
                let span = pair[1].after_s - pair[0].after_s;
                match (a > 0.0, b > 0.0) {
                    (true, true) => span,
                    (false, false) => 0.0,
                    _ => span * a.max(b) / (a - b).abs(),
                }
            })
            .sum()
    }

    /// When all of it first reached `goal`, s; none if it never did.
    pub fn reached_after(&self, goal: Celsius) -> Option<f64> {
        self.trace
            .iter()
            .find(|moment| moment.coolest >= goal)
            .map(|moment| moment.after_s)
    }

    /// Its hottest point at one moment, straight lines between steps; the nearest end outside.
    pub fn hottest_at(&self, after: Seconds) -> Celsius {
        let s = after.s();
        let next = self.trace.partition_point(|moment| moment.after_s < s);
        let (Some(b), Some(a)) = (
            self.trace.get(next).or(self.trace.last()),
            self.trace.get(next.saturating_sub(1)),
        ) else {
            return Celsius::nearest(f64::NAN);
        };
        let span = b.after_s - a.after_s;
        let share = if span > 0.0 {
            ((s - a.after_s) / span).clamp(0.0, 1.0)
        } else {
            0.0
        };
        Celsius::nearest(a.hottest.degrees() + share * (b.hottest - a.hottest).kelvin())
    }

    /// The same run with its coolest point, without any face's lead, in place of the hottest.
    pub fn of_the_coolest(&self) -> PlaceHeat {
        let below = |moment: &Moment| Moment {
            hottest: moment.coolest,
            ..*moment
        };
        PlaceHeat {
            id: self.id.clone(),
            trace: self.trace.iter().map(below).collect(),
        }
    }

    /// Fastest rise of its hottest point over any span of at least one second, K/s.
    pub fn fastest_rise_k_s(&self) -> f64 {
        self.fastest(1.0)
    }

    /// Fastest fall of its hottest point over any span of at least one second, K/s.
    pub fn fastest_fall_k_s(&self) -> f64 {
        self.fastest(-1.0)
    }

    /// Fastest that its hottest or its coolest point moves, up or down, K/s.
    pub fn fastest_k_s(&self) -> f64 {
        let below = self.of_the_coolest();
        [self, &below].into_iter().fold(0.0_f64, |most, heat| {
            most.max(heat.fastest_rise_k_s())
                .max(heat.fastest_fall_k_s())
        })
    }

    fn fastest(&self, sign: f64) -> f64 {
        let mut first = 0;
        let mut most = 0.0_f64;
        for late in &self.trace {
            while self.trace[first + 1..]
                .first()
                .is_some_and(|next| late.after_s - next.after_s >= 1.0)
            {
                first += 1;
            }
            let early = &self.trace[first];
            let span = late.after_s - early.after_s;
            if span >= 1.0 {
                most = most.max(sign * (late.hottest - early.hottest).kelvin() / span);
            }
        }
        most
    }
}

/// How the heat adds up over a run.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct Balance {
    /// Stored in the board at the end more than at the start, J.
    pub stored_j: f64,
    /// In minus out through all faces, summed over time from the true fluxes, J.
    pub crossed_j: f64,
    /// Heat that went through any cell's faces, in or out, J.
    pub gross_j: f64,
}

impl Balance {
    /// What does not add up, as a share of all heat that crossed.
    pub fn gap(&self) -> f64 {
        (self.stored_j - self.crossed_j).abs() / self.gross_j.max(1e-9)
    }
}

/// The hottest that each cell of the board got, for a map.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct PeakMap {
    /// Middles of the columns, mm from the left edge.
    pub x_mm: Vec<f64>,
    /// Middles of the rows, mm from the lower edge.
    pub y_mm: Vec<f64>,
    /// Row by row, of a bare joint on the tool's face.
    pub peak: Vec<Celsius>,
}

/// What a run gives.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Outcome {
    /// In the order asked for.
    pub places: Vec<PlaceHeat>,
    /// When the tool went, s.
    pub tool_left_s: f64,
    /// Whether the place that should end it did, or the time ran out; none if no place should.
    pub reached: Option<bool>,
    /// Heat accounts.
    pub balance: Balance,
    /// Peaks over the board.
    pub map: PeakMap,
    /// Where published formulas were overstepped.
    pub outside: Vec<OutsideRange>,
}

/// How fine a run is cut, in space and time.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Fineness {
    /// The default.
    Fine,
    /// Cells and steps twice as long: an eighth of the work, about four times the error.
    Coarse,
}

/// Runs `program` on `scene` and watches `places`.
///
/// # Errors
/// [`RunFault`] if a place is off the board or the place to stop by is not among them.
pub fn run(
    scene: &Scene,
    program: &Program,
    places: &[Place],
    fineness: Fineness,
) -> Result<Outcome, RunFault> {
    let ends = std::slice::from_ref(&program.until);
    let mut outcomes = run_each(scene, program, ends, places, fineness)?;
    // One end in, one outcome out.
    Ok(outcomes.swap_remove(0))
}

/// The same with several ends of one heating, each with its own cooling; `program.until` is not looked at.
/// One outcome for each end, in their order.
///
/// # Errors
/// As [`run`].
pub fn run_each(
    scene: &Scene,
    program: &Program,
    ends: &[Option<Until>],
    places: &[Place],
    fineness: Fineness,
) -> Result<Vec<Outcome>, RunFault> {
    for place in places {
        scene.holds(&format!("`{}`", place.id), place.at)?;
    }
    let mut open = Vec::with_capacity(ends.len());
    for end in ends {
        open.push(match end {
            Some(until) => Some(stop_place(until, places)?),
            None => None,
        });
    }
    let slack = if fineness == Fineness::Fine { 1.0 } else { 2.0 };
    let watch_s = program.then_watch.s();
    let mut plate = Plate::new(scene, places, fineness);
    let mut done: Vec<Option<Outcome>> = vec![None; ends.len()];
    plate.heat(program.heat_for.s(), slack, |now, coolest| {
        for (stop, done) in open.iter().zip(&mut done) {
            if let (Some((place, goal)), None) = (stop, &done)
                && coolest.get(*place).is_some_and(|here| here >= goal)
            {
                *done = Some(now.clone().left(scene, watch_s, slack, Some(true)));
            }
        }
        let still = open.iter().zip(&done).filter(|(_, done)| done.is_none());
        still.map(|(stop, _)| *stop).collect()
    });
    let late: Vec<Option<bool>> = open.iter().map(|stop| stop.map(|_| false)).collect();
    let mut last: Option<Outcome> = None;
    Ok(done
        .into_iter()
        .zip(late)
        .map(|(done, late)| {
            done.unwrap_or_else(|| Outcome {
                reached: late,
                ..last
                    .get_or_insert_with(|| plate.clone().left(scene, watch_s, slack, None))
                    .clone()
            })
        })
        .collect())
}

fn stop_place(until: &Until, places: &[Place]) -> Result<(usize, f64), RunFault> {
    places
        .iter()
        .position(|place| place.id == until.id)
        .map(|index| (index, until.coolest.kelvin()))
        .ok_or_else(|| RunFault::NoSuchPlace {
            found: until.id.clone(),
            known: places
                .iter()
                .map(|place| format!("`{}`", place.id))
                .collect::<Vec<_>>()
                .join(", "),
        })
}

/// What the sheet trades with, tool on and tool off.
#[derive(Clone)]
struct Faces {
    on: Vec<(f64, f64)>,
    off: Vec<(f64, f64)>,
}

#[derive(Clone)]
struct Plate {
    sheet: Sheet,
    faces: Faces,
    heater: Heater,
    tool_m: (f64, f64),
    tool_is_on: bool,
    under: Option<super::scene::Preheater>,
    /// Through the board, m²K/W.
    through_m2k_w: f64,
    /// Time in which heat goes through the board, `t² ρc / k`, s.
    through_s: f64,
    watched: Vec<Watched>,
    /// For each cell how much of gas less board a bare joint stands above the mean, and the gas, K.
    leads: Vec<(f64, f64)>,
    map: PeakMap,
    map_k: Vec<f64>,
    now_s: f64,
    start_j: f64,
    balance: Balance,
}

#[derive(Clone)]
struct Watched {
    heat: PlaceHeat,
    face: Face,
    /// Through the body that lies over it, m²K/W, and the time that heat needs for that, s; none where no such body
    /// is described.
    through: Option<(f64, f64)>,
    points: Vec<(f64, f64)>,
}

impl Plate {
    fn new(scene: &Scene, places: &[Place], fineness: Fineness) -> Self {
        let (losses, heater) = (scene.losses(), scene.heater());
        let mesh = mesh_for(scene, &losses, fineness);
        let tool_m = scene.at().metres();
        let base_k = scene.base().kelvin();
        let body = scene.tuning().body.value();
        let on = upper_faces(&mesh, &heater, &losses, tool_m, (scene.board(), body));
        let conduction = scene.tuning().conduction.value();
        let mut off = Vec::with_capacity(on.len());
        let mut sheet = Sheet::new(&mesh, losses.room_k, base_k, |x, y| {
            let cell = bare_cell((scene.board(), body), &losses, conduction, x, y);
            off.push((cell.film_w_m2k, cell.drive_w_m2));
            cell
        });
        if losses.preheater.is_some_and(|under| under.area.is_some()) {
            sheet.settle(1e-5);
        }
        let on = on
            .iter()
            .zip(&off)
            .map(|(upper, bare)| {
                let film = bare.0 - losses.above_w_m2k + upper.0;
                (film, bare.1 - losses.above_w_m2k * losses.room_k + upper.1)
            })
            .collect();
        let start_j = sheet.stored_j();
        let map_k = sheet.temperatures().to_vec();
        let mut plate = Plate {
            sheet,
            faces: Faces { on, off },
            heater,
            tool_m,
            tool_is_on: false,
            under: losses.preheater,
            through_m2k_w: 3.0 * scene.board().stack().face_m2k_w(),
            through_s: scene.board().stack().through_s(),
            watched: places
                .iter()
                .map(|place| watched(place, scene.board(), body))
                .collect(),
            leads: face_leads(&mesh, &heater, tool_m),
            map: PeakMap {
                x_mm: mesh.columns().map(|(a, b)| 500.0 * (a + b)).collect(),
                y_mm: mesh.rows().map(|(a, b)| 500.0 * (a + b)).collect(),
                peak: Vec::new(),
            },
            map_k,
            now_s: 0.0,
            start_j,
            balance: Balance::default(),
        };
        plate.note();
        plate.switch(true);
        plate
    }

    fn switch(&mut self, on: bool) {
        self.tool_is_on = on;
        let faces = if on { &self.faces.on } else { &self.faces.off };
        self.sheet
            .set_faces(|at, cell| (cell.film_w_m2k, cell.drive_w_m2) = faces[at]);
        self.sheet.forget_rate();
    }

    /// The tool goes, and the board is watched; what came of it all.
    fn left(mut self, scene: &Scene, watch_s: f64, slack: f64, reached: Option<bool>) -> Outcome {
        let left_s = self.now_s;
        self.switch(false);
        self.heat(watch_s, slack, |_, _| vec![None]);
        self.outcome(scene, left_s, reached)
    }

    /// Steps for `span` seconds. After each step `look` sees the plate and the coolest point of each place, K, and
    /// says which places and temperatures it still waits for, and `None` for the end of the time; it ends
    /// where it waits for nothing.
    fn heat(
        &mut self,
        span: f64,
        slack: f64,
        mut look: impl FnMut(&Plate, &[f64]) -> Vec<Option<(usize, f64)>>,
    ) {
        let end = self.now_s + span;
        let longest = slack * longest_step_s(span);
        let mut dt = slack * FIRST_STEP_S;
        let mut before: Vec<f64> = Vec::new();
        while self.now_s < end - 1e-9 {
            let step = dt.min(end - self.now_s);
            self.sheet.step(step);
            self.now_s += step;
            let flow = self.sheet.flow_during(step);
            self.balance.crossed_j += step * flow.net_w;
            self.balance.gross_j += step * flow.gross_w;
            let coolest = self.note();
            dt = (dt * STEP_GROWTH.powf(slack)).min(longest);
            let waits = look(self, &coolest);
            if waits.is_empty() {
                return;
            }
            for (place, goal) in waits.into_iter().flatten() {
                let (Some(here), Some(was)) = (coolest.get(place), before.get(place)) else {
                    continue;
                };
                // The step that crosses the goal must not carry far beyond it.
                let rise = (here - was) / step;
                if rise > 0.0 {
                    dt = dt.min(((goal - here) / rise).max(slack * SHORT_STEP_S));
                }
            }
            before = coolest;
        }
    }

    /// Writes down what every place and cell is at; the coolest point of each place, K.
    fn note(&mut self) -> Vec<f64> {
        let risen = built_up(self.now_s / self.through_s);
        let mut faces = self.leads.iter();
        for (most, now) in self.map_k.iter_mut().zip(self.sheet.temperatures()) {
            let lead = match faces.next() {
                Some((share, gas)) if self.tool_is_on => share * risen * (gas - now).max(0.0),
                _ => 0.0,
            };
            *most = most.max(now + lead);
        }
        let mut coolest_of_all = Vec::with_capacity(self.watched.len());
        for index in 0..self.watched.len() {
            let (mut hottest, mut coolest) = (f64::NEG_INFINITY, f64::INFINITY);
            for &point in &self.watched[index].points {
                let (cool, hot) = self.edges_k(point, &self.watched[index]);
                hottest = hottest.max(hot);
                coolest = coolest.min(cool);
            }
            coolest_of_all.push(coolest);
            self.watched[index].heat.trace.push(Moment {
                after_s: self.now_s,
                hottest: Celsius::from_kelvin(hottest),
                coolest: Celsius::from_kelvin(coolest),
            });
        }
        coolest_of_all
    }

    /// Coolest and hottest that a joint at this point may be. A bare joint on the blown-on face is above the
    /// mean of the thickness, one under a body is not, and one on the far face is below it: so the hottest
    /// has the face's lead and the coolest never has.
    ///
    /// The top of a body stands in the air: between it and the board below lies the body, `R = t/k`, so of
    /// `gas − board` it has the share `h R / (1 + h R)`, with the slab's own build-up; all of it where nobody says
    /// how thick the body is.
    fn edges_k(&self, (x, y): (f64, f64), watched: &Watched) -> (f64, f64) {
        let mean = self.sheet.at(x, y);
        let radius = (x - self.tool_m.0).hypot(y - self.tool_m.1);
        if watched.face == Face::Body {
            let lead = match self.heater.bare_film(radius) {
                Some((film, gas)) if self.tool_is_on => {
                    let share = watched.through.map_or(1.0, |(resists, needs_s)| {
                        let risen = built_up(self.now_s / needs_s);
                        risen * film * resists / (1.0 + film * resists)
                    });
                    share * (gas - mean).max(0.0)
                }
                _ => 0.0,
            };
            return (mean, mean + lead);
        }
        let lead = match self.heater.film(radius) {
            Some((_, gas)) if self.tool_is_on => {
                let share = self.heater.face_share(radius) * built_up(self.now_s / self.through_s);
                share * (gas - mean)
            }
            _ => 0.0,
        };
        match watched.face {
            Face::Tool | Face::Body => (mean + lead.min(0.0), mean + lead.max(0.0)),
            Face::Far => {
                let warmth = self.warmth_below_k((x, y), mean);
                (mean - 0.5 * lead.max(0.0), mean + warmth)
            }
        }
    }

    /// How far the face over the preheater stands above the other one, K: what comes in below goes through the
    /// board, `q t/k` with `q = h_p (T_p − T)`. The preheat is stated of the upper face.
    fn warmth_below_k(&self, (x, y): (f64, f64), mean: f64) -> f64 {
        let Some(under) = self.under else { return 0.0 };
        if under.area.is_some_and(|area| !area.holds((x, y))) {
            return 0.0;
        }
        under.film_w_m2k * (under.source_k - mean).max(0.0) * self.through_m2k_w
    }

    fn outcome(mut self, scene: &Scene, left: f64, reached: Option<bool>) -> Outcome {
        self.balance.stored_j = self.sheet.stored_j() - self.start_j;
        self.map.peak = self
            .map_k
            .iter()
            .map(|k| Celsius::from_kelvin(*k))
            .collect();
        Outcome {
            places: self
                .watched
                .into_iter()
                .map(|watched| watched.heat)
                .collect(),
            tool_left_s: left,
            reached,
            balance: self.balance,
            map: self.map,
            outside: scene.tool().outside(),
        }
    }
}

/// Share of its lasting height to which the heated face has risen above the mean, by `Fo = time / through`:
/// slab with constant flux at one face, closed at the other (Carslaw & Jaeger, *Conduction of Heat in
/// Solids*, 2nd ed. 1959; from memory); early on that of a half space less the mean.
fn built_up(fo: f64) -> f64 {
    use std::f64::consts::PI;
    if fo < 0.1 {
        return 3.0 * (2.0 * (fo.max(0.0) / PI).sqrt() - fo.max(0.0));
    }
    let term = |n: f64| (-n * n * PI * PI * fo).exp() / (n * n);
    1.0 - 6.0 / (PI * PI) * (term(1.0) + term(2.0) + term(3.0))
}

fn longest_step_s(span: f64) -> f64 {
    (span / LEAST_STEPS)
        .min(LONG_STEP_S.max(span / MOST_STEPS))
        .max(FIRST_STEP_S)
}

/// Points that stand for a place: its middle and two rings around it, kept on the board.
fn watched(place: &Place, board: &Board, body: f64) -> Watched {
    let (x, y) = place.at.metres();
    let (wide, tall) = board.metres();
    let reach = place.reach.mm() / 1000.0;
    let mut points = vec![(x, y)];
    if reach > 0.0 {
        for (ring, turn) in (0..16).map(|k| (if k < 8 { 0.5 } else { 1.0 }, f64::from(k))) {
            let angle = turn * std::f64::consts::FRAC_PI_4;
            points.push((
                (x + ring * reach * angle.cos()).clamp(0.0, wide),
                (y + ring * reach * angle.sin()).clamp(0.0, tall),
            ));
        }
    }
    Watched {
        heat: PlaceHeat {
            id: place.id.clone(),
            trace: Vec::new(),
        },
        face: place.face,
        through: board.patches().iter().rev().find_map(|patch| match patch {
            Patch::Cover { area, thick } if area.holds((x, y)) => {
                let thick_m = thick.mm() / 1000.0;
                let resists = body * thick_m / BODY_W_MK;
                Some((resists, resists * thick_m * BODY_J_M3K))
            }
            _ => None,
        }),
        points,
    }
}

/// Cells a sixth of the footprint's radius, at most a quarter of the healing length, out to one and a
/// half times that radius; then growing to 2 mm.
fn mesh_for(scene: &Scene, losses: &Losses, fineness: Fineness) -> Mesh {
    let footprint = scene.tool().footprint().mm() / 1000.0;
    let sheet = scene.board().stack().sheet_w_k() * scene.tuning().conduction.value();
    let loss = losses.above_w_m2k + losses.below_w_m2k + 10.0;
    let healing = (sheet / loss).sqrt();
    let fine = (footprint / 6.0).min(healing / 4.0).clamp(1.5e-4, 1e-3);
    let mesh = Mesh::graded(
        scene.board().metres(),
        scene.at().metres(),
        1.5 * footprint,
        2.0 * fine,
        2.0 * WIDEST_M,
    );
    match fineness {
        Fineness::Fine => mesh.halved(),
        Fineness::Coarse => mesh,
    }
}

/// A cell of the board with no tool over it.
fn bare_cell(
    (board, body): (&Board, f64),
    losses: &Losses,
    conduction: f64,
    x: (f64, f64),
    y: (f64, f64),
) -> Cell {
    let stack = board.stack();
    let (mut sheet, mut store) = (stack.sheet_w_k(), stack.areal_j_m2k());
    let mut bodies = 0.0;
    for patch in board.patches() {
        match patch {
            Patch::Copper { area, coverage } => {
                let (share, pour) = (area.share_of(x, y), stack.with_coverage(*coverage));
                sheet += share * (pour.sheet_w_k() - sheet);
                store += share * (pour.areal_j_m2k() - store);
            }
            Patch::Body { area, capacity } => {
                bodies += body * area.share_of(x, y) * capacity.j_k() / area.area_m2().max(1e-8);
            }
            Patch::Cover { .. } => {}
        }
    }
    let mut film = losses.above_w_m2k + losses.below_w_m2k;
    let mut drive = film * losses.room_k;
    let mut rays = 2.0 * losses.face_w_m2k4;
    if let Some(under) = losses.preheater {
        let share = under.area.map_or(1.0, |area| area.share_of(x, y));
        film += share * (under.film_w_m2k - losses.below_w_m2k);
        drive += share * (under.film_w_m2k * under.source_k - losses.below_w_m2k * losses.room_k);
        rays -= share * losses.face_w_m2k4;
    }
    Cell {
        sheet_w_k: sheet * conduction,
        store_j_m2k: store + bodies,
        film_w_m2k: film,
        drive_w_m2: drive,
        rays_w_m2k4: rays,
    }
}

/// The share of gas less board by which a bare joint in the middle of each cell stands above the mean, and the
/// gas, K.
fn face_leads(mesh: &Mesh, heater: &Heater, tool_m: (f64, f64)) -> Vec<(f64, f64)> {
    let mut leads = Vec::new();
    for y in mesh.rows() {
        for x in mesh.columns() {
            let middle = (0.5 * (x.0 + x.1) - tool_m.0).hypot(0.5 * (y.0 + y.1) - tool_m.1);
            let gas = heater.film(middle).map_or(0.0, |(_, gas)| gas);
            leads.push((heater.face_share(middle), gas));
        }
    }
    leads
}

/// Film and film × gas temperature of the upper face of every cell under the tool.
fn upper_faces(
    mesh: &Mesh,
    heater: &Heater,
    losses: &Losses,
    tool_m: (f64, f64),
    board: (&Board, f64),
) -> Vec<(f64, f64)> {
    let mut upper = Vec::new();
    for y in mesh.rows() {
        for x in mesh.columns() {
            let samples = samples_for(heater, x, y, tool_m);
            let bare = cell_mean(heater, losses, x, y, tool_m, samples);
            upper.push(covered(board, bare, also_lost(heater), (x, y)));
        }
    }
    upper
}

/// What the top of a body below an emitter gives back by rays before its board does, W/m²K, at a usual reflow.
fn also_lost(heater: &Heater) -> f64 {
    const REFLOW_K: f64 = 500.0;
    let trade = heater.trade(0.0);
    trade.map_or(0.0, |trade| 4.0 * trade.face_w_m2k4 * REFLOW_K.powi(3))
}

/// Where a body lies between, its resistance stands in series with the film: `1/h' = 1/h + t/k`.
fn covered(
    (board, body): (&Board, f64),
    bare: (f64, f64),
    also_lost_w_m2k: f64,
    (x, y): ((f64, f64), (f64, f64)),
) -> (f64, f64) {
    let mut factor = 1.0;
    for patch in board.patches() {
        if let Patch::Cover { area, thick } = patch {
            let through = body * thick.mm() / 1000.0 / BODY_W_MK;
            let under = 1.0 / (1.0 + (bare.0 + also_lost_w_m2k) * through);
            factor *= 1.0 - area.share_of(x, y) * (1.0 - under);
        }
    }
    (bare.0 * factor, bare.1 * factor)
}

/// A tip's rim cuts through cells, so they are looked at closely; a jet is smooth.
fn samples_for(heater: &Heater, x: (f64, f64), y: (f64, f64), tool_m: (f64, f64)) -> u32 {
    match heater {
        Heater::Air { .. } | Heater::Rays { .. } => 3,
        Heater::Iron { radius_m, .. } => {
            let middle = (0.5 * (x.0 + x.1) - tool_m.0).hypot(0.5 * (y.0 + y.1) - tool_m.1);
            let half = 0.5 * (x.1 - x.0).hypot(y.1 - y.0);
            if (middle - radius_m).abs() <= half {
                24
            } else {
                1
            }
        }
    }
}

fn cell_mean(
    heater: &Heater,
    losses: &Losses,
    x: (f64, f64),
    y: (f64, f64),
    tool_m: (f64, f64),
    samples: u32,
) -> (f64, f64) {
    let (mut film_sum, mut drive_sum) = (0.0, 0.0);
    for j in 0..samples {
        for i in 0..samples {
            let along = |span: (f64, f64), k: u32| {
                span.0 + (span.1 - span.0) * (f64::from(k) + 0.5) / f64::from(samples)
            };
            let radius = (along(x, i) - tool_m.0).hypot(along(y, j) - tool_m.1);
            let (film, gas) = heater.reaching(losses, radius);
            film_sum += film;
            drive_sum += film * gas;
        }
    }
    let count = f64::from(samples * samples);
    (film_sum / count, drive_sum / count)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_face_builds_up_without_a_jump() {
        assert!(built_up(0.0).abs() < 1e-12 && (built_up(3.0) - 1.0).abs() < 1e-9);
        assert!((built_up(0.1 - 1e-12) - built_up(0.1)).abs() < 1e-3);
        // 0.25 of Fourier's number, from the series with forty terms.
        let exact = 1.0
            - 6.0 / std::f64::consts::PI.powi(2)
                * (1..40)
                    .map(f64::from)
                    .map(|n| (-n * n * 2.467_401_1).exp() / (n * n))
                    .sum::<f64>();
        assert!((built_up(0.25) - exact).abs() < 1e-7);
    }
}
