//! The planner against a general-purpose constraint solver: `tests/plan/cpsat/solve.py` gave
//! `reference.csv`, run by hand.

#[path = "plan/instances.rs"]
pub mod instances;

use std::path::Path;
use std::time::Instant;

use meltstair::bench::Setting;
use meltstair::job::{Choice, Job, Where, Work};
use meltstair::plan::{self, Answer, Budget};
use meltstair::quantity::KelvinStep;
use serde_json::{Value, json};

use self::instances::{READINGS, Size, alloys, instance};
use crate::plan_brute::dice;
use crate::plan_help::made_up_book;

/// 60 instances of 8 to 14 steps.
fn sizes() -> impl Iterator<Item = (u64, Size)> {
    (0..60_u64).map(|seed| {
        let nth = usize::try_from(seed).unwrap();
        let size = Size {
            steps: 8 + nth % 7,
            open: nth % 5,
            alloys: 2 + nth % 3,
            most_coupled: [30, 40, 50, 60][nth % 4],
        };
        (seed, size)
    })
}

fn hundredths(k: f64) -> u32 {
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "couplings of instances are 0.05 to 1"
    )]
    let whole = (k * 100.0).round() as u32;
    whole
}

fn told(seed: u64, size: Size, job: &Job) -> Value {
    let names: Vec<String> = alloys().into_iter().map(|solder| solder.name).collect();
    let number = |name: &str| names.iter().position(|n| n == name).unwrap();
    let steps = job.steps.iter().enumerate().map(|(s, step)| {
        let Work::Solder { solder, .. } = &step.work else {
            panic!("instances only solder")
        };
        let alloys: Vec<usize> = match solder {
            Choice::Fixed(only) => vec![number(&only.name)],
            Choice::OneOf(many) => many.iter().map(|solder| number(&solder.name)).collect(),
        };
        let way = &step.ways[0];
        let coupling: Vec<u32> = (0..job.joints.len())
            .map(|j| {
                let here = way
                    .couplings
                    .iter()
                    .find(|(place, _)| *place == Where::Joint(meltstair::job::JointIx(j)));
                here.map_or_else(
                    || {
                        assert_eq!(j, s);
                        0
                    },
                    |(_, k)| hundredths(k.factor()),
                )
            })
            .collect();
        json!({
            "alloys": alloys,
            "after": step.after.iter().map(|(before, _)| before.0).collect::<Vec<_>>(),
            "preheat_c": way.preheat.millidegrees() / 1000,
            "coupling": coupling,
        })
    });
    json!({
        "seed": seed,
        "open": size.open,
        "most_coupled": size.most_coupled,
        "readings": READINGS,
        "planner_ms": planner_ms(job),
        "steps": steps.collect::<Vec<_>>(),
    })
}

/// Least time of five runs from the job to the proven answer, the melting of everything included.
fn planner_ms(job: &Job) -> f64 {
    let run = || {
        let begun = Instant::now();
        let melts = made_up_book(job);
        let setting = Setting::new(job, &melts);
        let answer = plan::order(&setting, Budget::default(), &mut |_| true).unwrap();
        assert!(!matches!(answer, Answer::Unknown { .. }));
        begun.elapsed().as_secs_f64() * 1000.0
    };
    (0..5).map(|_| run()).fold(f64::INFINITY, f64::min)
}

/// Writes the instances for the solver, with how long the planner took for each.
#[test]
#[ignore = "only before the solver is run by hand"]
fn write_instances() {
    let all: Vec<Value> = sizes()
        .map(|(seed, size)| told(seed, size, &instance(seed, size)))
        .collect();
    let path = Path::new(env!("CARGO_TARGET_TMPDIR")).join("instances.json");
    std::fs::write(&path, serde_json::to_string(&all).unwrap()).unwrap();
    println!("{}", path.display());
}

/// A line of the reference; the times that stand beside were measured once by hand, and are not judged here.
#[derive(serde::Deserialize)]
struct Row {
    seed: u64,
    steps: usize,
    open: usize,
    most_coupled: usize,
    margin_mk: String,
}

#[test]
fn planner_equals_a_constraint_solver() {
    let text = include_str!("plan/cpsat/reference.csv");
    let mut reader = csv::ReaderBuilder::new()
        .comment(Some(b'#'))
        .from_reader(text.as_bytes());
    let rows: Vec<Row> = reader.deserialize().map(Result::unwrap).collect();
    assert!(rows.len() >= 50);
    let mut solved = 0;
    for (row, (seed, size)) in rows.iter().zip(sizes()) {
        assert_eq!(
            (row.seed, row.steps, row.open, row.most_coupled),
            (seed, size.steps, size.open, size.most_coupled)
        );
        let job = instance(seed, size);
        let melts = made_up_book(&job);
        let setting = Setting::new(&job, &melts);
        let answer = plan::order(&setting, Budget::default(), &mut |_| true).unwrap();
        let got = match &answer {
            Answer::Proven { worth, .. } => {
                solved += 1;
                worth.margin.map_or(0, KelvinStep::millikelvin).to_string()
            }
            Answer::Impossible { .. } => "none".to_owned(),
            other => panic!("seed {seed}: {other:?}"),
        };
        assert_eq!(got, row.margin_mk, "seed {seed}");
    }
    assert!(solved > 20, "{solved} have a plan");
}
