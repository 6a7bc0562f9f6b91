//! What is counted for a neighbour is never cooler than what is likely, over random boards and through the job file.

use std::fmt::Write as _;
use std::sync::Arc;

use meltstair::alloy::AlloyBook;
use meltstair::bench::{Seen, Setting, tool_spread};
use meltstair::heat::presets::{plate_under, still_air};
use meltstair::heat::{
    Face, Fineness, HeatCapacity, Patch, Place, Point, Program, Rect, Scene, Seconds, Until, run,
};
use meltstair::job::{self, Job, Tool};
use meltstair::melt::MeltBook;
use meltstair::plan;
use meltstair::quantity::{Celsius, Length};

/// Boards looked at; all 2,000 take some minutes.
fn boards() -> u64 {
    let asked = std::env::var("MELTSTAIR_BOARDS");
    asked.ok().and_then(|n| n.parse().ok()).unwrap_or(24)
}

/// A small generator with a fixed start (linear congruential, constants of D. E. Knuth's MMIX, from memory).
struct Dice(u64);

impl Dice {
    fn of(seed: u64) -> Self {
        let mut dice = Dice(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15));
        dice.unit();
        dice
    }

    fn unit(&mut self) -> f64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 11) as f64 / (1_u64 << 53) as f64
    }

    fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.unit()
    }

    fn chance(&mut self, share: f64) -> bool {
        self.unit() < share
    }
}

/// A job on a board that nobody has: a chip off it, joints, bodies and labels around. Wide and narrow nozzles, thin
/// and thick boards, tools at edges, with and without a time, bodies known and not.
struct Drawn {
    text: String,
    wide: f64,
    tall: f64,
    chip: (f64, f64),
    body: (f64, f64),
    mass_mg: Option<f64>,
    thick: Option<f64>,
    neighbours: Vec<(f64, f64)>,
}

fn draw(seed: u64) -> Drawn {
    let mut dice = Dice::of(seed);
    let (wide, tall) = (dice.between(40.0, 110.0), dice.between(30.0, 90.0));
    let chip = (dice.between(0.1, 0.9) * wide, dice.between(0.1, 0.9) * tall);
    let side = dice.between(4.0, 25.0);
    let body = (side, side * dice.between(0.6, 1.0));
    let thick = dice.chance(0.85).then(|| dice.between(0.6, 3.5));
    let mass_mg = dice
        .chance(0.7)
        .then(|| body.0 * body.1 * thick.unwrap_or(1.0) * dice.between(1.5, 5.0));
    let mut text = String::from("job: drawn at random, invented\nstock: [Sn63Pb37]\n");
    let _ = writeln!(
        text,
        "board: {{size_mm: [{wide:.2}, {tall:.2}], thickness_mm: {:.2}, layers: {:.0}, copper_um: {:.0}, coverage: {:.2}{}}}",
        dice.between(0.8, 2.4),
        dice.between(2.0, 10.0),
        dice.between(15.0, 70.0),
        dice.between(0.1, 0.9),
        if dice.chance(0.2) {
            ", pours: [{area_mm: [2, 2, 30, 25], coverage: 0.9}]"
        } else {
            ""
        }
    );
    let size = match thick {
        Some(thick) => format!("[{:.2}, {:.2}, {thick:.2}]", body.0, body.1),
        None => format!("[{:.2}, {:.2}]", body.0, body.1),
    };
    let mass = mass_mg.map_or_else(String::new, |mg| format!(", mass_mg: {mg:.0}"));
    let mut neighbours = Vec::new();
    for _ in 0..5 {
        neighbours.push((dice.between(0.0, wide), dice.between(0.0, tall)));
    }
    let _ = writeln!(
        text,
        "guards:\n  - {{id: label, kind: laminate, limit_c: 150, at_mm: [{:.2}, {:.2}], reach_mm: 2}}\n  - {{id: jack, kind: plastic, limit_c: 150, at_mm: [{:.2}, {:.2}], reach_mm: 3}}",
        neighbours[0].0, neighbours[0].1, neighbours[1].0, neighbours[1].1
    );
    let _ = writeln!(
        text,
        "parts:\n  - {{id: chip, balls: {{count: 49, diameter_um: 300, alloy: Sn63Pb37}}, on: site, dry: true, limit_c: 250, at_mm: [{:.2}, {:.2}], size_mm: {size}{mass}}}",
        chip.0, chip.1
    );
    text.push_str("joints:\n  - {id: site, at: chip, pad_um: 300}\n");
    for (k, at) in neighbours.iter().enumerate().skip(2) {
        let _ = writeln!(
            text,
            "  - {{id: n{k}, alloy: Sn63Pb37, mg: 0.3, at_mm: [{:.2}, {:.2}], reach_mm: {:.1}}}",
            at.0,
            at.1,
            dice.between(0.0, 3.0)
        );
    }
    let nozzle = dice.between(3.0, 25.0);
    let _ = writeln!(
        text,
        "steps:\n  - {{id: go, do: remove, part: chip, tool: air, nozzle_mm: {nozzle:.1}, flow_l_min: {:.0}, standoff_mm: {:.1}, set_c: {:.0}{}{}}}",
        dice.between(10.0, 120.0),
        nozzle * dice.between(1.0, 5.0),
        dice.between(250.0, 450.0),
        if dice.chance(0.7) {
            format!(", preheat_c: {:.0}", dice.between(60.0, 150.0))
        } else {
            String::new()
        },
        if dice.chance(0.8) {
            format!(", seconds: {:.0}", dice.between(15.0, 120.0))
        } else {
            String::new()
        }
    );
    Drawn {
        text,
        wide,
        tall,
        chip,
        body,
        mass_mg,
        thick,
        neighbours,
    }
}

fn read(text: &str) -> Job {
    match job::read(text, "job.yaml", AlloyBook::shipped()) {
        Ok(read) => read.job,
        Err(faults) => panic!("{faults}\n{text}"),
    }
}

/// Every row of `heat`: what is counted against what is likely, and the hot edge of the same run.
#[test]
fn what_is_counted_is_never_cooler_than_what_is_likely() {
    let (mut rows, mut unknown, mut edges, mut no_field) = (0, 0, 0, 0);
    for seed in 1..=boards() {
        let drawn = draw(seed);
        let job = read(&drawn.text);
        let melts = MeltBook::new(Arc::new(AlloyBook::shipped().clone()), Vec::new());
        let setting = Setting::new(&job, &melts);
        let checked = plan::check(&setting, &plan::as_written(&job).plan);
        let Ok(heat) = plan::step_heat(&setting, &checked, 0) else {
            no_field += 1;
            continue;
        };
        for place in &heat.places {
            let Some(band) = place.peak else { continue };
            rows += 1;
            match place.counted {
                Seen::At(t, by) => {
                    assert!(
                        t >= band.mid,
                        "seed {seed}, {:?}: counted {t} by {by:?}, likely {band:?}\n{}",
                        place.of,
                        drawn.text
                    );
                    edges += usize::from(t >= band.high);
                }
                Seen::UpTo(top) => {
                    assert!(top.is_none_or(|top| top >= band.mid), "seed {seed}");
                    unknown += 1;
                }
            }
        }
    }
    println!(
        "{rows} rows of {} boards, {unknown} not known, {edges} at or above the hot edge of the same run, {no_field} boards without a field",
        boards()
    );
    assert!(
        rows > 5 * boards() && unknown * 2 < rows,
        "{rows} {unknown}"
    );
    assert_eq!(no_field, 0);
}

/// A hand that stops when the coldest joint of the target is at its peak, or when its time is up, on a scene that is put
/// together here once more: no neighbour gets hotter than what is counted for it.
#[test]
fn a_hand_that_stops_at_the_coldest_joint_heats_no_neighbour_beyond_what_is_counted() {
    let mut compared = 0_u64;
    for seed in 1..=boards() {
        let drawn = draw(seed);
        let job = read(&drawn.text);
        let melts = MeltBook::new(Arc::new(AlloyBook::shipped().clone()), Vec::new());
        let setting = Setting::new(&job, &melts);
        let checked = plan::check(&setting, &plan::as_written(&job).plan);
        let passage = &checked.steps[0].passage;
        let way = &job.steps[0].ways[0];
        let peak = passage.peak.expect("it is heated");
        let Some(places) = hand(&drawn, &job, peak) else {
            continue;
        };
        for sight in &passage.sights {
            let Seen::At(counted, by) = sight.seen else {
                continue;
            };
            let id = &job.joints[sight.joint.0].id;
            let Some(field) = places.iter().find(|(of, _)| of == id) else {
                continue;
            };
            compared += 1;
            assert!(
                field.1 <= counted,
                "seed {seed}, {id}: counted {counted} by {by:?}, field {}, peak {peak} and {} more\n{}",
                field.1,
                tool_spread(Tool::Air),
                drawn.text
            );
        }
        assert_eq!(way.tool, Tool::Air);
    }
    println!("{compared} places");
    assert!(compared > boards());
}

/// The run of that hand by itself: the body stores heat and lies in the way of the air.
fn hand(drawn: &Drawn, job: &Job, peak: Celsius) -> Option<Vec<(String, Celsius)>> {
    let way = &job.steps[0].ways[0];
    let mut board = job.board.as_ref()?.plate.clone()?;
    let point = |x: f64, y: f64| Point::from_mm(x.max(0.0), y.max(0.0)).ok();
    let (half_x, half_y) = (drawn.body.0 / 2.0, drawn.body.1 / 2.0);
    let area = Rect::between(
        point(drawn.chip.0 - half_x, drawn.chip.1 - half_y)?,
        point(drawn.chip.0 + half_x, drawn.chip.1 + half_y)?,
    );
    let thick = drawn.thick?;
    let mg = drawn
        .mass_mg
        .unwrap_or(drawn.body.0 * drawn.body.1 * thick * 1.9);
    board = board.with_patch(Patch::Body {
        area,
        capacity: HeatCapacity::from_j_k(mg.round() * 1e-6 * 900.0).ok()?,
    });
    board = board.with_patch(Patch::Cover {
        area,
        thick: Length::from_mm(thick).ok()?,
    });
    let warm = (way.preheat > job.ambient).then(|| plate_under(way.preheat));
    let at = point(drawn.chip.0, drawn.chip.1)?;
    let scene = Scene::new(board, still_air(job.ambient), way.described?, at, warm).ok()?;
    let place = |id: &str, at: Point, reach: f64| Place {
        id: id.to_owned(),
        at,
        reach: Length::from_mm(reach).unwrap(),
        face: Face::Tool,
    };
    let mut places = vec![place("chip", at, drawn.body.0.hypot(drawn.body.1) / 2.0)];
    for joint in job.joints.iter().skip(1) {
        let (x, y) = joint.at?.mm();
        if (0.0..=drawn.wide).contains(&x) && (0.0..=drawn.tall).contains(&y) {
            places.push(place(&joint.id, point(x, y)?, joint.reach?.mm()));
        }
    }
    let program = Program {
        heat_for: Seconds::from_s(f64::from(way.seconds.unwrap_or(300))).ok()?,
        until: Some(Until {
            id: "chip".to_owned(),
            coolest: peak,
        }),
        then_watch: Seconds::from_s(90.0).ok()?,
    };
    let outcome = run(&scene, &program, &places, Fineness::Fine).ok()?;
    assert!(drawn.neighbours.len() >= places.len() - 1);
    Some(
        outcome
            .places
            .iter()
            .skip(1)
            .map(|heat| (heat.id.clone(), heat.peak()))
            .collect(),
    )
}
