//! Speed and robustness of the melt engine, in figures of its own.
//!
//! `cargo bench --bench melt` – curves of the blends of `tests/reference/blends.csv`, and a ternary map.
//! `cargo bench --bench melt -- blends` – the curves alone, as CSV (`tests/bench/beside.py` reads it).
//! `cargo bench --bench melt -- random 100000` – random blends: what does not converge, and what is not sound.

#![expect(clippy::print_stdout, reason = "a bench tells what it measured")]
#![expect(clippy::unwrap_used, reason = "a bench may stop at a fault")]

use std::time::{Duration, Instant};

use meltstair::alloy::{Composition, Element};
use meltstair::melt::{Curve, CurveFault, History, curve};
use meltstair::quantity::Share;
use rayon::prelude::*;

fn main() {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let number = words.iter().find_map(|word| word.parse().ok());
    match words.first().map(String::as_str) {
        Some("blends") => blends(),
        Some("random") => random(number.unwrap_or(100_000)),
        _ => {
            blends();
            map();
        }
    }
}

/// Least of several runs, since the machine may be shared.
fn least<T>(runs: usize, mut work: impl FnMut() -> T) -> Duration {
    let times = (0..runs).map(|_| {
        let start = Instant::now();
        std::hint::black_box(work());
        start.elapsed()
    });
    times.min().unwrap()
}

/// Whole equilibrium and Scheil curves, one core.
fn blends() {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/reference/blends.csv");
    let mut reader = csv::Reader::from_path(path).unwrap();
    let heads = reader.headers().unwrap().clone();
    println!("blend,elements,microseconds");
    for record in reader.records() {
        let record = record.unwrap();
        let parts: Vec<(Element, f64)> = (heads.iter().zip(&record).skip(1))
            .map(|(head, share)| (head.parse().unwrap(), share.parse().unwrap()))
            .filter(|part: &(Element, f64)| part.1 > 0.0)
            .collect();
        let composition = Composition::from_parts(&parts).unwrap();
        let took = least(30, || curve(&composition).unwrap());
        println!("{},{},{}", &record[0], parts.len(), took.as_micros());
    }
}

/// 20,000 blends over the triangle bismuth, lead, tin, on all cores.
fn map() {
    let side = 199;
    let points: Vec<Composition> = (0..=side)
        .flat_map(|a| (0..=side - a).map(move |b| (a, b)))
        .filter_map(|(a, b)| {
            let parts = [
                (Element::Bi, f64::from(a)),
                (Element::Pb, f64::from(b)),
                (Element::Sn, f64::from(side - a - b)),
            ];
            let parts: Vec<_> = parts.into_iter().filter(|part| part.1 > 0.0).collect();
            Composition::from_parts(&parts).ok()
        })
        .collect();
    let took = least(2, || {
        let found = points.par_iter().filter(|c| curve(c).is_ok()).count();
        assert_eq!(found, points.len());
    });
    println!(
        "ternary map of {} blends on {} cores: {took:.2?}",
        points.len(),
        rayon::current_num_threads()
    );
}

/// Xorshift (G. Marsaglia, J. Stat. Softw. 8 (2003) no. 14; memory): the same blends on every machine.
struct Dice(u64);

impl Dice {
    fn of(seed: u64) -> Self {
        let mut dice = Dice(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) ^ 0xD1B5_4A32_D192_ED03);
        for _ in 0..5 {
            dice.roll();
        }
        dice
    }

    fn roll(&mut self) -> f64 {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        (self.0.wrapping_mul(0x2545_F491_4F6C_DD1D) >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Traces of 10⁻⁹, small shares, ordinary ones.
    fn share(&mut self) -> f64 {
        match self.roll() {
            q if q < 0.12 => 1e-9,
            q if q < 0.3 => 10_f64.powf(-8.0 + 8.0 * self.roll()),
            _ => self.roll(),
        }
    }

    /// One to six of the covered elements, tin more often than not.
    fn any_blend(&mut self) -> Vec<(Element, f64)> {
        let covered: Vec<Element> = Element::all()
            .filter(|e| e.is_covered() && *e != Element::Ni)
            .collect();
        let mut count = 6.0 * self.roll() + 1.0;
        let mut parts: Vec<(Element, f64)> = Vec::new();
        if self.roll() < 0.6 {
            parts.push((Element::Sn, self.share()));
            count -= 1.0;
        }
        while count >= 1.0 {
            let place = (self.roll() * covered.len() as f64).floor();
            let element = *covered
                .iter()
                .enumerate()
                .find(|(n, _)| *n as f64 >= place)
                .unwrap()
                .1;
            if !parts.iter().any(|part| part.0 == element) {
                parts.push((element, self.share()));
                count -= 1.0;
            }
        }
        parts
    }

    /// Tin with any of lead, bismuth, silver and copper, as far as the data are trusted most.
    fn best_known(&mut self) -> Vec<(Element, f64)> {
        use Element::{Ag, Bi, Cu, Pb, Sn};
        let mut parts = vec![(Sn, 20.0 + 80.0 * self.roll())];
        for (element, most) in [(Pb, 60.0), (Bi, 60.0), (Ag, 4.0), (Cu, 1.0)] {
            if self.roll() < 0.6 {
                parts.push((element, most * self.share()));
            }
        }
        parts
    }
}

#[derive(Default)]
struct Tally {
    not_converged: usize,
    refused: usize,
    out_of_order: usize,
    falling: usize,
    steepest_fall: f64,
    slowest: Duration,
    total: Duration,
}

impl Tally {
    fn of(composition: &Composition) -> Self {
        let start = Instant::now();
        let found = curve(composition);
        let took = start.elapsed();
        let mut tally = Tally {
            slowest: took,
            total: took,
            ..Tally::default()
        };
        match found {
            Ok(curve) => tally.look_at(&curve),
            Err(CurveFault::NotConverged { .. }) => tally.not_converged = 1,
            Err(CurveFault::OutOfOrder { .. } | CurveFault::Shrinks { .. }) => tally.refused = 1,
            Err(fault) => unreachable!("{composition}: {fault}"),
        }
        tally
    }

    fn look_at(&mut self, curve: &Curve) {
        // A walk that ends with less than a millionth is out of liquid; the equilibrium stops at so much.
        let (end, left) = (curve.trace_melt).unwrap_or((curve.first_melt, Share::ALL));
        let out_of_liquid = left.fraction() <= 1e-6;
        let ordered = (out_of_liquid || end.degrees() <= curve.solidus.degrees() + 0.0025)
            && curve.solidus <= curve.flow_point
            && curve.flow_point <= curve.liquidus;
        self.out_of_order = usize::from(!ordered);
        let mut fall = 0.0_f64;
        for history in [History::AsBought, History::Frozen] {
            let mut last = 0.0;
            for (_, share) in curve.points(history) {
                assert!(share.fraction().is_finite());
                fall = fall.max(last - share.fraction());
                last = share.fraction();
            }
        }
        self.falling = usize::from(fall > 1e-6);
        self.steepest_fall = fall;
    }

    fn with(self, other: &Self) -> Self {
        Tally {
            not_converged: self.not_converged + other.not_converged,
            refused: self.refused + other.refused,
            out_of_order: self.out_of_order + other.out_of_order,
            falling: self.falling + other.falling,
            steepest_fall: self.steepest_fall.max(other.steepest_fall),
            slowest: self.slowest.max(other.slowest),
            total: self.total + other.total,
        }
    }
}

fn random(count: u64) {
    type Roll = fn(&mut Dice) -> Vec<(Element, f64)>;
    let kinds: [(&str, Roll); 2] = [
        ("best-known elements", Dice::best_known),
        ("all covered elements", Dice::any_blend),
    ];
    for (name, roll) in kinds {
        let tally = (0..count)
            .into_par_iter()
            .map(|seed| Tally::of(&Composition::from_parts(&roll(&mut Dice::of(seed))).unwrap()))
            .reduce(Tally::default, |one, other| one.with(&other));
        println!(
            "{name}, {count} blends: {} not converged, {} contradict themselves, {} out of order, {} with liquid that shrinks on heating \
             (at most by {:.1e}); mean {:.2?}, slowest {:.2?}",
            tally.not_converged,
            tally.refused,
            tally.out_of_order,
            tally.falling,
            tally.steepest_fall,
            tally.total / u32::try_from(count).unwrap_or(u32::MAX),
            tally.slowest
        );
    }
}
