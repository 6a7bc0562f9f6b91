//! The numeric kernel, the rings, the jet and the board against closed forms and published
//! benchmarks: every row of `tests/heat/published_cases.csv`, a source beside each value.
//!
//! Fields must come within 0.5 % of the driving temperature at the mesh and steps used by default;
//! closed forms within the rounding of the printed value.

use std::f64::consts::PI;

use meltstair::heat::mesh::Mesh;
use meltstair::heat::rings::{Beyond, Ring, Rings};
use meltstair::heat::sheet::{Cell, Edge, EdgeOf, Sheet};
use meltstair::heat::{AirFlow, Jet, Stack};
use meltstair::quantity::{Celsius, Length, Share};
use serde_json::Value;

const CASES: &str = include_str!("heat/published_cases.csv");
/// Of the driving temperature.
const GOAL: f64 = 0.005;

#[derive(serde::Deserialize)]
struct Case {
    id: String,
    group: String,
    quantity: String,
    params: String,
    value: f64,
    unit: String,
    source: String,
}

impl Case {
    fn number(&self, key: &str) -> f64 {
        self.maybe(key)
            .unwrap_or_else(|| panic!("{}: no {key}", self.id))
    }

    fn maybe(&self, key: &str) -> Option<f64> {
        let params: Value = serde_json::from_str(&self.params).unwrap();
        params.get(key).and_then(Value::as_f64)
    }

    /// `found` lies within `share` of `scale`.
    fn near(&self, found: f64, scale: f64, share: f64) {
        assert!(!self.source.is_empty(), "{} has no source", self.id);
        assert!(
            (found - self.value).abs() <= share * scale.abs(),
            "{}: {} is {found} {unit}, published {} {unit} ({:.3} % of {scale})",
            self.id,
            self.quantity,
            self.value,
            100.0 * (found - self.value).abs() / scale.abs(),
            unit = self.unit,
        );
    }
}

fn cases(groups: &[&str]) -> Vec<Case> {
    let all: Vec<Case> = csv::Reader::from_reader(CASES.as_bytes())
        .deserialize()
        .map(Result::unwrap)
        .collect();
    let found: Vec<Case> = all
        .into_iter()
        .filter(|case| groups.contains(&case.group.as_str()))
        .collect();
    assert!(!found.is_empty(), "no cases of {groups:?}");
    found
}

/// Every group of the table is looked at by one of the tests below.
#[test]
fn no_case_is_left_out() {
    let seen = [
        "fin",
        "plate_disk",
        "annular_fin",
        "plate_line_source",
        "plate_gauss",
        "semi_inf",
        "lumped",
        "plane_wall",
        "nafems_T3",
        "nafems_T4",
        "laplace",
        "diffusion2d",
        "anisotropic",
        "pcb_effective_k",
        "radiation",
        "jet_martin",
    ];
    for case in csv::Reader::from_reader(CASES.as_bytes()).deserialize::<Case>() {
        let case = case.unwrap();
        assert!(
            seen.contains(&case.group.as_str()),
            "{} of {} is never run",
            case.id,
            case.group
        );
    }
}

fn bare(sheet_w_k: f64, store_j_m2k: f64) -> Cell {
    Cell {
        sheet_w_k,
        store_j_m2k,
        film_w_m2k: 0.0,
        drive_w_m2: 0.0,
        rays_w_m2k4: 0.0,
    }
}

fn held(at: f64) -> Edge {
    Edge {
        film_w_mk: f64::INFINITY,
        beyond: vec![at],
    }
}

fn open(film: f64, gas: f64) -> Edge {
    Edge {
        film_w_mk: film,
        beyond: vec![gas],
    }
}

/// Steps as a run takes them: short after the start, growing, at least 120.
fn march(sheet: &mut Sheet, seconds: f64) {
    march_with(sheet, seconds, 120.0, |_, _| ());
}

fn march_with(
    sheet: &mut Sheet,
    seconds: f64,
    steps: f64,
    mut before: impl FnMut(&mut Sheet, f64),
) {
    let (mut now, mut dt) = (0.0, seconds / steps / 100.0);
    while now < seconds * (1.0 - 1e-12) {
        let step = dt.min(seconds - now);
        before(sheet, now + 0.5 * step);
        sheet.step(step);
        now += step;
        dt = (dt * 1.2).min(seconds / steps);
    }
}

/// A rod or wall: one row of cells along x.
fn rod(length: f64, cells: usize, start: f64, cell: Cell) -> Sheet {
    Sheet::new(&Mesh::even(length, 1.0, cells, 1), 0.0, start, |_, _| cell)
}

#[test]
fn fins() {
    for case in cases(&["fin"]) {
        let (area, perimeter) = match case.maybe("d_m") {
            Some(d) => (PI * d * d / 4.0, PI * d),
            None => (case.number("A"), case.number("P")),
        };
        let (k, h) = (case.number("k"), case.number("h"));
        let room = case.maybe("Tinf").unwrap_or(0.0);
        let base = case.maybe("Tb").or(case.maybe("theta_base_K")).unwrap();
        let rate = (h * perimeter / (k * area)).sqrt();
        let length = case.maybe("L_m").or(case.maybe("L")).unwrap_or(12.0 / rate);
        let film = h * perimeter;
        let mut fin = rod(
            length,
            100,
            room,
            Cell {
                film_w_m2k: film,
                drive_w_m2: film * room,
                ..bare(k * area, 1.0)
            },
        );
        fin.set_edge(EdgeOf::Left, held(base));
        let tip = if case.id.starts_with("A3") {
            h * area
        } else {
            0.0
        };
        if tip > 0.0 {
            fin.set_edge(EdgeOf::Right, open(tip, room));
        }
        assert!(fin.settle(1e-9));
        let drive = base - room;
        match case.quantity.as_str() {
            "theta at x=0.01 m" => case.near(fin.at(0.01, 0.5), drive, GOAL),
            "theta at tip" | "tip temperature" => case.near(fin.at(length, 0.5), drive, GOAL),
            "heat rate at base" | "heat loss" => {
                let cell = length / 100.0;
                let sides: f64 = fin
                    .temperatures()
                    .iter()
                    .map(|t| film * (t - room) * cell)
                    .sum();
                let heat = sides + tip * (fin.at(length, 0.5) - room);
                case.near(heat, case.value, GOAL);
            }
            other => panic!("{}: {other}", case.id),
        }
    }
}

struct Plate {
    sheet_w_k: f64,
    loss: f64,
    source_m: f64,
    heat_w_m2: f64,
}

impl Plate {
    fn of(case: &Case) -> Self {
        let source_m = case.number("a_m");
        Plate {
            sheet_w_k: case.number("k_inplane") * case.number("t_m"),
            loss: 2.0 * case.number("h_each_face"),
            source_m,
            heat_w_m2: case.number("Q_W") / (PI * source_m * source_m),
        }
    }

    fn rings(&self, rim: Option<f64>) -> Rings {
        let disc = Ring {
            to_m: self.source_m,
            heat_w_m2: self.heat_w_m2,
            loss_w_m2k: self.loss,
        };
        match rim {
            None => Rings::solve(
                &[disc],
                Beyond::Plate {
                    loss_w_m2k: self.loss,
                },
                self.sheet_w_k,
            ),
            Some(to_m) => {
                let outer = Ring {
                    to_m,
                    heat_w_m2: 0.0,
                    loss_w_m2k: self.loss,
                };
                Rings::solve(&[disc, outer], Beyond::Rim, self.sheet_w_k)
            }
        }
    }

    /// A quarter of the plate, the source's middle in the corner, cells as a run makes them.
    fn quarter(&self, side: f64) -> Sheet {
        let mesh = Mesh::graded(
            (side, side),
            (0.0, 0.0),
            1.5 * self.source_m,
            self.source_m / 3.0,
            0.004,
        )
        .halved();
        Sheet::new(&mesh, 0.0, 0.0, |x, y| Cell {
            film_w_m2k: self.loss,
            drive_w_m2: self.heat_w_m2 * share_within(self.source_m, x, y),
            ..bare(self.sheet_w_k, 1.0)
        })
    }
}

/// Share of a cell within a radius of the origin.
fn share_within(radius: f64, x: (f64, f64), y: (f64, f64)) -> f64 {
    let count = 40;
    let mut inside = 0;
    for j in 0..count {
        for i in 0..count {
            let at = |span: (f64, f64), k: i32| {
                span.0 + (span.1 - span.0) * (f64::from(k) + 0.5) / f64::from(count)
            };
            inside += i32::from(at(x, i).hypot(at(y, j)) <= radius);
        }
    }
    f64::from(inside) / f64::from(count * count)
}

#[test]
fn discs_on_plates_in_closed_form() {
    for case in cases(&["plate_disk"]) {
        if let Some(r1) = case.maybe("r1_m") {
            let (loss, sheet) = (
                2.0 * case.number("h_each_face"),
                case.number("k") * case.number("t_m"),
            );
            let base = case.number("theta_base");
            let tip = Ring {
                to_m: r1,
                heat_w_m2: 1e16 * base,
                loss_w_m2k: 1e16,
            };
            let plate = Rings::solve(&[tip], Beyond::Plate { loss_w_m2k: loss }, sheet);
            match case.maybe("r_m") {
                Some(r) => case.near(plate.theta(r), base, 1e-6),
                None => case.near(heat_lost(&plate, loss, r1, 1.2), case.value, 1e-4),
            }
            continue;
        }
        let plate = Plate::of(&case);
        let rings = plate.rings(case.maybe("R_m"));
        match case.maybe("r_m") {
            Some(r) => case.near(rings.theta(r), case.value, 1e-8),
            None => case.near(heat_lost(&rings, plate.loss, 0.0, 1.2), 5.0, 1e-5),
        }
    }
}

/// `∫ loss θ 2π r dr`, by the trapezoid.
fn heat_lost(rings: &Rings, loss: f64, from: f64, to: f64) -> f64 {
    let count = 200_000;
    let step = (to - from) / f64::from(count);
    (0..count)
        .map(|k| from + (f64::from(k) + 0.5) * step)
        .map(|r| loss * rings.theta(r) * 2.0 * PI * r * step)
        .sum()
}

/// A round rim in square cells is only followed by area, so the plates with a rim are left to the
/// closed form.
#[test]
fn discs_on_plates_in_the_kernel() {
    for case in cases(&["plate_disk"]) {
        if case.maybe("a_m").is_none() || case.maybe("R_m").is_some() {
            continue;
        }
        let plate = Plate::of(&case);
        let mut quarter = plate.quarter(0.3);
        assert!(quarter.settle(1e-7));
        let hottest = plate.rings(None).theta(0.0);
        if let Some(r) = case.maybe("r_m") {
            case.near(quarter.at(r, 0.0), hottest, GOAL);
        } else {
            // A square metre stores 1 J for each kelvin here, so this is the integral of the rise.
            case.near(4.0 * plate.loss * quarter.stored_j(), case.value, GOAL);
        }
    }
}

#[test]
fn annular_fins() {
    for case in cases(&["annular_fin"]) {
        let (loss, sheet) = (
            2.0 * case.number("h_each_face"),
            case.number("k") * case.number("t_m"),
        );
        let (r1, r2, base) = (
            case.number("r1_m"),
            case.number("r2_m"),
            case.number("theta_base"),
        );
        let rings = [
            Ring {
                to_m: r1,
                heat_w_m2: 1e16 * base,
                loss_w_m2k: 1e16,
            },
            Ring {
                to_m: r2,
                heat_w_m2: 0.0,
                loss_w_m2k: loss,
            },
        ];
        let fin = Rings::solve(&rings, Beyond::Rim, sheet);
        let heat = heat_lost(&fin, loss, r1, r2);
        match case.quantity.as_str() {
            "theta at r2" => case.near(fin.theta(r2), base, 1e-6),
            "heat rate at base" => case.near(heat, case.value, 1e-5),
            "fin efficiency" => {
                case.near(heat / (PI * (r2 * r2 - r1 * r1) * loss * base), 1.0, 1e-5);
            }
            other => panic!("{}: {other}", case.id),
        }
    }
}

#[test]
fn line_sources_and_spreading_spots() {
    for case in cases(&["plate_line_source", "plate_gauss"]) {
        let k = case.number("k");
        let store = case.maybe("rho").map_or(1.0, |rho| rho * case.number("cp"));
        let thick = case.maybe("t_m").unwrap_or(1.0);
        let mesh = Mesh::graded((0.25, 0.25), (0.0, 0.0), 0.0, 0.001, 0.004).halved();
        let mut first = true;
        let mut quarter = Sheet::new(&mesh, 0.0, 0.0, |x, y| {
            let area = (x.1 - x.0) * (y.1 - y.0);
            let source = if std::mem::take(&mut first) {
                case.maybe("Q_W").unwrap_or(0.0) / 4.0 / area
            } else {
                0.0
            };
            Cell {
                film_w_m2k: 2.0 * case.maybe("h_each_face").unwrap_or(0.0),
                drive_w_m2: source,
                ..bare(k * thick, store * thick)
            }
        });
        if let Some(s) = case.maybe("s_m") {
            quarter.set_temperatures(|x, y| 100.0 * (-(x * x + y * y) / (2.0 * s * s)).exp());
        }
        match case.maybe("time_s") {
            Some(seconds) => march(&mut quarter, seconds),
            None => assert!(quarter.settle(1e-8)),
        }
        // What drives is the spot's start, or the rise at the edge of a 5 mm source of that power.
        let drive = if case.group == "plate_gauss" {
            100.0
        } else {
            60.0
        };
        case.near(
            quarter.at(case.maybe("r_m").unwrap_or(0.0), 0.0),
            drive,
            GOAL,
        );
    }
}

#[test]
fn half_spaces() {
    for case in cases(&["semi_inf"]) {
        match case.id.as_str() {
            "C4" => two_bodies(&case),
            "C5" => frost_depth(&case),
            _ => half_space(&case),
        }
    }
}

fn half_space(case: &Case) {
    let (k, store) = (case.number("k"), case.number("rho") * case.number("cp"));
    let (start, seconds) = (case.number("Ti"), case.number("t_s"));
    let depth = 8.0 * (k / store * seconds).sqrt();
    let mut solid = rod(depth, 200, start, bare(k, store));
    let mut drive = 0.0;
    if let Some(surface) = case.maybe("Ts") {
        solid.set_edge(EdgeOf::Left, held(surface));
        drive = surface - start;
    } else if let Some(gas) = case.maybe("Tgas") {
        solid.set_edge(EdgeOf::Left, open(case.number("h"), gas));
        drive = gas - start;
    } else if let Some(flux) = case.maybe("q") {
        // A film so thin and a gas so hot that the flux does not depend on the surface.
        solid.set_edge(EdgeOf::Left, open(1e-6, flux / 1e-6));
        drive = 63.7;
    }
    march(&mut solid, seconds);
    if let Some(x) = case.maybe("x_m") {
        case.near(solid.at(x, 0.5), drive, GOAL);
    } else {
        let cell = depth / 200.0;
        let flux = k * (case.number("Ts") - solid.temperatures()[0]) / (cell / 2.0);
        case.near(flux, case.value, GOAL);
    }
}

fn two_bodies(case: &Case) {
    let (hot, cold) = (case.number("Ta"), case.number("Tb"));
    let metal = bare(case.number("ka"), case.number("rhoa") * case.number("cpa"));
    let resin = bare(case.number("kb"), case.number("rhob") * case.number("cpb"));
    // Each body as deep in its own diffusion length: widths differ, so x is scaled in the metal.
    let scale =
        ((metal.sheet_w_k / metal.store_j_m2k) / (resin.sheet_w_k / resin.store_j_m2k)).sqrt();
    let scaled = bare(metal.sheet_w_k / scale, metal.store_j_m2k * scale);
    let depth = 8.0 * (resin.sheet_w_k / resin.store_j_m2k).sqrt();
    let mut pair = Sheet::new(&Mesh::even(2.0 * depth, 1.0, 400, 1), 0.0, cold, |x, _| {
        if x.1 <= depth * 1.000_001 {
            scaled
        } else {
            resin
        }
    });
    pair.set_temperatures(|x, _| if x < depth { hot } else { cold });
    march(&mut pair, 1.0);
    // The interface lies between two cells of unlike conductance.
    let (left, right) = (pair.temperatures()[199], pair.temperatures()[200]);
    let found =
        (scaled.sheet_w_k * left + resin.sheet_w_k * right) / (scaled.sheet_w_k + resin.sheet_w_k);
    case.near(found, hot - cold, GOAL);
}

fn frost_depth(case: &Case) {
    let seconds = case.number("days") * 86_400.0;
    let depth = 8.0 * (case.number("alpha") * seconds).sqrt();
    let mut soil = rod(
        depth,
        400,
        case.number("Ti"),
        bare(case.number("alpha"), 1.0),
    );
    soil.set_edge(EdgeOf::Left, held(case.number("Ts")));
    march(&mut soil, seconds);
    let (mut low, mut high) = (0.0, depth);
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if soil.at(middle, 0.5) < case.number("T") {
            low = middle;
        } else {
            high = middle;
        }
    }
    case.near(low, case.value, GOAL);
}

#[test]
fn lumped_bodies() {
    for case in cases(&["lumped"]) {
        let (gas, film, store) = match case.id.as_str() {
            "D4" => (0.0, 1.0, case.number("tau_s")),
            "D3t" => (
                200.0,
                case.number("h"),
                case.number("rho") * case.number("cp") * case.number("D") / 6.0,
            ),
            _ => (
                case.number("Tgas"),
                case.number("h"),
                case.number("rho") * case.number("cp") * case.number("d_m") / 6.0,
            ),
        };
        let mut body = rod(1.0, 1, 25.0, bare(1e9, store));
        body.set_edge(EdgeOf::Left, open(film, gas));
        let seconds = match case.quantity.as_str() {
            "T(1 s)" => 1.0,
            "T(60 s)" => 60.0,
            _ => case.value,
        };
        let mut ramp = |body: &mut Sheet, now: f64| {
            if case.id == "D4" {
                body.set_edge(
                    EdgeOf::Left,
                    open(film, 25.0 + case.number("ramp_K_s") * now),
                );
            }
        };
        march_with(&mut body, seconds, 120.0, &mut ramp);
        let found = body.temperatures()[0];
        match case.quantity.as_str() {
            "T(1 s)" => case.near(found, 275.0, GOAL),
            "T(60 s)" => case.near(found, 120.0, GOAL),
            // After the published time it must have reached the published temperature.
            "time to 217 C" => assert!((found - 217.0).abs() < GOAL * 275.0, "{found}"),
            "time" => assert!((found - 199.0).abs() < GOAL * 175.0, "{found}"),
            other => panic!("{}: {other}", case.id),
        }
    }
}

#[test]
fn walls_heated_at_a_face() {
    for case in cases(&["plane_wall"]) {
        let bi = case.maybe("Bi");
        let wall = |start: f64| match bi {
            Some(_) => rod(1.0, 40, start, bare(1.0, 1.0)),
            None => rod(
                case.number("L"),
                40,
                start,
                bare(case.number("k"), case.number("rho") * case.number("cp")),
            ),
        };
        if let Some(bi) = bi {
            let mut wall = wall(1.0);
            wall.set_edge(EdgeOf::Right, open(bi, 0.0));
            march(&mut wall, case.number("Fo"));
            case.near(wall.at(case.number("x_over_L"), 0.5), 1.0, GOAL);
            continue;
        }
        let start = case.maybe("Ti").unwrap_or(25.0);
        let mut wall = wall(start);
        let gas = case.maybe("Tgas").or(case.maybe("Tinf"));
        let drive = if let Some(gas) = gas {
            wall.set_edge(EdgeOf::Right, open(case.number("h"), gas));
            gas - start
        } else {
            wall.set_edge(EdgeOf::Right, open(1e-6, case.number("q") / 1e-6));
            50.0
        };
        march(&mut wall, case.number("t_s"));
        let heated = case.quantity.contains("heated");
        case.near(
            wall.at(if heated { case.number("L") } else { 0.0 }, 0.5),
            drive,
            GOAL,
        );
    }
}

fn nafems_t3(cells: usize, steps: f64, x: f64, seconds: f64) -> f64 {
    let mut bar = rod(0.1, cells, 0.0, bare(35.0, 7200.0 * 440.5));
    bar.set_edge(EdgeOf::Left, held(0.0));
    bar.set_edge(EdgeOf::Right, held(0.0));
    march_with(&mut bar, seconds, steps, |bar, now| {
        bar.set_edge(EdgeOf::Right, held(100.0 * (PI * now / 40.0).sin()));
    });
    bar.at(x, 0.5)
}

#[test]
fn nafems_1d_transient() {
    for case in cases(&["nafems_T3"]) {
        let x = case.number("x");
        case.near(nafems_t3(50, 120.0, x, case.number("t_s")), 100.0, GOAL);
    }
}

fn nafems_t4(nx: usize, ny: usize) -> Sheet {
    let mut plate = Sheet::new(&Mesh::even(0.6, 1.0, nx, ny), 0.0, 0.0, |_, _| {
        bare(52.0, 1.0)
    });
    plate.set_edge(
        EdgeOf::Bottom,
        Edge {
            film_w_mk: f64::INFINITY,
            beyond: vec![100.0; nx],
        },
    );
    plate.set_edge(
        EdgeOf::Right,
        Edge {
            film_w_mk: 750.0,
            beyond: vec![0.0; ny],
        },
    );
    plate.set_edge(
        EdgeOf::Top,
        Edge {
            film_w_mk: 750.0,
            beyond: vec![0.0; nx],
        },
    );
    assert!(plate.settle(1e-8));
    plate
}

#[test]
fn nafems_2d_convection() {
    let plate = nafems_t4(36, 60);
    for case in cases(&["nafems_T4"]) {
        case.near(plate.at(case.number("x"), case.number("y")), 100.0, GOAL);
    }
}

#[test]
fn squares() {
    for case in cases(&["laplace", "diffusion2d", "anisotropic"]) {
        let n = 40;
        let mut square = Sheet::new(&Mesh::even(1.0, 1.0, n, n), 0.0, 0.0, |_, _| bare(1.0, 1.0));
        let cold = || Edge {
            film_w_mk: f64::INFINITY,
            beyond: vec![0.0; n],
        };
        let middle = |i: usize| (i as f64 + 0.5) / n as f64;
        match case.id.as_str() {
            "H4" => square.set_temperatures(|x, _| (PI * x).cos()),
            "H5" => {
                orthotropic(&case);
                continue;
            }
            _ => {
                for edge in [EdgeOf::Left, EdgeOf::Right, EdgeOf::Bottom, EdgeOf::Top] {
                    square.set_edge(edge, cold());
                }
            }
        }
        if case.id.starts_with("H1") {
            square.set_edge(
                EdgeOf::Top,
                Edge {
                    beyond: vec![100.0; n],
                    ..cold()
                },
            );
        } else if case.id == "H2" {
            let sine = (0..n).map(|i| (PI * middle(i)).sin()).collect();
            square.set_edge(
                EdgeOf::Top,
                Edge {
                    beyond: sine,
                    ..cold()
                },
            );
        } else if case.id == "H3" {
            square.set_temperatures(|x, y| (PI * x).sin() * (PI * y).sin());
        }
        match case.maybe("t") {
            Some(seconds) => march(&mut square, seconds),
            None => assert!(square.settle(1e-9)),
        }
        let found = square.at(case.number("x"), case.maybe("y").unwrap_or(0.5));
        case.near(
            found,
            if case.id.starts_with("H1") {
                100.0
            } else {
                1.0
            },
            GOAL,
        );
    }
}

/// An orthotropic slab is an isotropic one with one side stretched by the root of the conductivities.
fn orthotropic(case: &Case) {
    let (kx, a) = (case.number("kx"), case.number("a"));
    let b = case.number("b") * (kx / case.number("kz")).sqrt();
    let n = 40;
    let mut slab = Sheet::new(&Mesh::even(a, b, n, n), 0.0, 0.0, |_, _| {
        bare(kx, case.number("rho_cp"))
    });
    for edge in [EdgeOf::Left, EdgeOf::Right, EdgeOf::Bottom, EdgeOf::Top] {
        slab.set_edge(
            edge,
            Edge {
                film_w_mk: f64::INFINITY,
                beyond: vec![0.0; n],
            },
        );
    }
    slab.set_temperatures(|x, y| (PI * x / a).sin() * (PI * y / b).sin());
    let before = slab.at(a / 2.0, b / 2.0);
    march(&mut slab, 1.0);
    case.near((before / slab.at(a / 2.0, b / 2.0)).ln(), case.value, GOAL);
}

/// Halving cells and steps together quarters the error: order 2 in both.
#[test]
fn the_error_falls_with_the_square_of_the_cell() {
    let exact_t3 = cases(&["nafems_T3"])[0].value;
    let t3: Vec<f64> = [(10, 24.0), (20, 48.0), (40, 96.0)]
        .map(|(cells, steps)| (nafems_t3(cells, steps, 0.08, 32.0) - exact_t3).abs())
        .to_vec();
    let case = &cases(&["nafems_T4"])[2];
    assert_eq!(case.id, "G_T4_0.3_0.2");
    let t4: Vec<f64> = [1, 2, 4]
        .map(|n| (nafems_t4(6 * n, 10 * n).at(0.3, 0.2) - case.value).abs())
        .to_vec();
    for errors in [&t3, &t4] {
        for pair in errors.windows(2) {
            let order = (pair[0] / pair[1]).log2();
            assert!(
                (1.7..=2.6).contains(&order),
                "order {order}: errors {errors:?}"
            );
        }
    }
}

#[test]
fn boards_conduct_as_published() {
    for case in cases(&["pcb_effective_k"]) {
        let mm = |value| Length::from_mm(value).unwrap();
        if case.id == "I4" {
            let stack = Stack::new(mm(case.number("L_mm")), 2, mm(0.035), Share::ALL).unwrap();
            let wall = Length::from_um(case.number("wall_um")).unwrap();
            case.near(
                stack.vias_k_w(16, mm(case.number("d_mm")), wall),
                case.value,
                1e-9,
            );
            continue;
        }
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "2 to 10"
        )]
        let layers = case.number("layers") as u8;
        let copper = Length::from_um(case.number("t_cu_um")).unwrap();
        let coverage = Share::new(case.number("coverage")).unwrap();
        let stack = Stack::new(mm(case.number("t_board_mm")), layers, copper, coverage).unwrap();
        let found = if case.quantity == "k in-plane" {
            stack.along_w_mk()
        } else {
            stack.through_w_mk()
        };
        case.near(found, case.value, 1e-9);
    }
}

#[test]
fn faces_radiate() {
    for case in cases(&["radiation"]) {
        let rays = case.number("eps") * 5.670_374_419e-8;
        let (hot, room) = (case.number("T") + 273.15, case.number("Tsur") + 273.15);
        let cell = Cell {
            rays_w_m2k4: rays,
            ..bare(1.0, 1.0)
        };
        let face = Sheet::new(&Mesh::even(1.0, 1.0, 1, 1), room, hot, |_, _| cell);
        let flux = -face.flow().net_w;
        let found = if case.quantity == "net flux" {
            flux
        } else {
            flux / (hot - room)
        };
        case.near(found, case.value, 1e-6);
    }
}

/// The jet's own air properties differ a little from those of the published arithmetic: 0.5 %.
#[test]
fn jets_heat_as_published() {
    for case in cases(&["jet_martin"]) {
        let d = case.number("D_m");
        let jet = Jet {
            nozzle: Length::from_mm(d * 1000.0).unwrap(),
            air: Celsius::new(case.number("T_air_C")).unwrap(),
            flow: AirFlow::from_l_min(case.number("Q_L_min")).unwrap(),
            standoff: Length::from_mm(d * 1000.0 * case.number("H_over_D")).unwrap(),
        };
        let disc = case.number("r_m") / d;
        let found = match case.quantity.as_str() {
            "V_exit" => jet.exit_m_s(),
            "Re" => jet.reynolds(),
            "Nu_mean" => jet.mean_nusselt(disc),
            "h_mean" => jet.mean_film_w_m2k(disc),
            other => panic!("{}: {other}", case.id),
        };
        case.near(found, case.value, 0.005);
        assert_eq!(
            jet.outside().is_empty(),
            !case.source.contains("OUTSIDE"),
            "{}: {:?}",
            case.id,
            jet.outside()
        );
    }
}
