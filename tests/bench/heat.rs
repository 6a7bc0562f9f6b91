//! How long heat takes: a bound for one step (goal 50 µs), a field of a 60 × 80 mm board over 90 s
//! (goal 50 ms on one core). `cargo bench --bench heat`.

#![allow(
    clippy::unwrap_used,
    reason = "a measurement that cannot go on has failed"
)]

use divan::{Bencher, black_box};
use meltstair::heat::presets::{hand_air, iron, plate_under, still_air};
use meltstair::heat::{
    Board, Bound, Face, Fineness, HotBound, Knowledge, Place, Point, Program, Scene, Seconds,
    Stack, Tool, run,
};
use meltstair::quantity::{Celsius, Length, Share};

fn main() {
    divan::main();
}

const TOOLS: [&str; 3] = ["air 8 mm", "air 4 mm", "iron 2 mm"];

fn tool(name: &str) -> Tool {
    match name {
        "air 8 mm" => hand_air(8.0, 350.0, 40.0, 16.0),
        "air 4 mm" => hand_air(4.0, 350.0, 20.0, 16.0),
        _ => iron(350.0, 2.0),
    }
    .unwrap()
}

fn scene(name: &str) -> Scene {
    let mm = |value| Length::from_mm(value).unwrap();
    let stack = Stack::new(mm(1.6), 4, mm(0.035), Share::new(0.6).unwrap()).unwrap();
    let board = Board::new(mm(60.0), mm(80.0), stack).unwrap();
    let at = Point::from_mm(25.0, 35.0).unwrap();
    let warm = plate_under(Celsius::whole(120));
    Scene::new(
        board,
        still_air(Celsius::whole(25)),
        tool(name),
        at,
        Some(warm),
    )
    .unwrap()
}

fn places() -> Vec<Place> {
    (0..10)
        .map(|k| Place {
            id: format!("p{k}"),
            at: Point::from_mm(25.0 + 3.0 * f64::from(k), 35.0).unwrap(),
            reach: Length::from_mm(0.0).unwrap(),
            face: Face::Tool,
        })
        .collect()
}

#[divan::bench(args = TOOLS)]
fn bound_of_a_step_with_ten_places(bencher: Bencher, name: &str) {
    let (scene, places) = (scene(name), places());
    bencher.bench(|| {
        let bound = Bound::of(black_box(&scene)).unwrap();
        places
            .iter()
            .map(|place| bound.at(place.at, place.face).unwrap())
            .max()
    });
}

/// As the bench asks it: at the hot edge of what is known. Asked once a tool, place and peak.
#[divan::bench(args = TOOLS)]
fn hot_edges_of_a_step_with_ten_places(bencher: Bencher, name: &str) {
    let (scene, places, known) = (scene(name), places(), Knowledge::unmeasured());
    bencher.bench(|| {
        let free = HotBound::of(black_box(&scene), &known).unwrap();
        places
            .iter()
            .map(|place| free.at(place.at, place.face).unwrap())
            .max()
    });
}

#[divan::bench(args = TOOLS, sample_count = 20)]
fn field_of_90_s(bencher: Bencher, name: &str) {
    let (scene, places) = (scene(name), places());
    let program = Program {
        heat_for: Seconds::from_s(90.0).unwrap(),
        until: None,
        then_watch: Seconds::from_s(0.0).unwrap(),
    };
    bencher.bench(|| run(black_box(&scene), &program, &places, Fineness::Fine).unwrap());
}
