//! The engine against a general-purpose minimiser on fresh blends: `tests/reference/results.csv`, made by
//! `tests/reference/make.py`, which writes its database from the same phase files that the engine reads.

use std::fmt::Write as _;

use meltstair::alloy::{Composition, Element};
use meltstair::melt::{Curve, History, curve};
use meltstair::quantity::Celsius;

struct Row(std::collections::BTreeMap<String, String>);

impl Row {
    fn number(&self, field: &str) -> Option<f64> {
        self.0[field].parse().ok()
    }

    fn composition(&self) -> Composition {
        let parts: Vec<(Element, f64)> = (self.0.iter())
            .filter_map(|(head, field)| {
                let element = head.strip_prefix("wt_")?.parse().ok()?;
                Some((element, field.parse().ok()?))
            })
            .filter(|part: &(Element, f64)| part.1 > 0.0)
            .collect();
        Composition::from_parts(&parts).unwrap()
    }
}

fn rows() -> Vec<Row> {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/reference/results.csv");
    let mut reader = csv::ReaderBuilder::new()
        .comment(Some(b'#'))
        .from_path(path)
        .unwrap();
    let heads = reader.headers().unwrap().clone();
    let rows: Vec<Row> = (reader.records())
        .map(|record| {
            let record = record.unwrap();
            let pairs = heads.iter().zip(&record);
            Row(pairs.map(|(h, f)| (h.to_owned(), f.to_owned())).collect())
        })
        .collect();
    assert!(rows.len() >= 25, "only {} rows", rows.len());
    rows
}

fn liquid(curve: &Curve, t_c: f64, history: History) -> f64 {
    let t = Celsius::new(t_c).unwrap();
    curve.liquid_at(t, history).fraction()
}

/// 0.1 K, or 1 K where liquid grows slower than 0.2 % a kelvin.
fn tolerance(curve: &Curve, t_c: f64) -> f64 {
    let grown =
        liquid(curve, t_c + 0.5, History::AsBought) - liquid(curve, t_c - 0.5, History::AsBought);
    if grown < 0.002 { 1.0 } else { 0.1 }
}

#[test]
fn fresh_blends_melt_as_the_minimiser_says() {
    let mut wrong = String::new();
    for row in rows() {
        let blend = &row.0["blend"];
        let curve = curve(&row.composition()).unwrap();
        for (what, ours, column) in [
            ("liquidus", curve.liquidus, "liquidus_C"),
            ("solidus", curve.solidus, "solidus_C"),
            ("flow", curve.flow_point, "flow_C"),
        ] {
            let (got, want) = (ours.degrees(), row.number(column).unwrap());
            if (got - want).abs() > tolerance(&curve, want) {
                let _ = writeln!(wrong, "{blend}: {what} {got:.3}, want {want:.3}");
            }
        }
        for n in 1..=4 {
            let t_c = row.number(&format!("T{n}_C")).unwrap();
            let want = row.number(&format!("liquid_T{n}")).unwrap();
            let got = liquid(&curve, t_c, History::AsBought);
            if (got - want).abs() > 0.005 {
                let _ = writeln!(wrong, "{blend}: at {t_c} liquid {got:.4}, want {want:.4}");
            }
        }
    }
    assert!(wrong.is_empty(), "{wrong}");
}

/// Walks of the other program that cannot be met, and why; ours end lower, the safe side.
/// Sn97Sb3, In85Pb15: a range of a few kelvins in steps of one, so that a step is nearly an equilibrium.
/// Sn63Pb37 with both: its step from 130.3 °C finds no liquid, though 0.6 % is left that is rich in bismuth
/// and can only end near 95 °C; a start grid that misses a dilute liquid, as in rows of the older table.
const COARSE: [&str; 3] = [
    "Sn97Sb3",
    "In85Pb15",
    "Sn63Pb37 with two hundredths of Bi58Sn42 and SAC305",
];

/// The other program's walk ends between its last two steps, some 0.2 K apart.
#[test]
fn fresh_blends_freeze_as_the_minimiser_says() {
    let (mut wrong, mut seen) = (String::new(), 0);
    for row in rows() {
        let blend = &row.0["blend"];
        let curve = curve(&row.composition()).unwrap();
        let (Some(end), Some(before), Some(left)) = (
            row.number("scheil_end_C"),
            row.number("scheil_before_end_C"),
            row.number("scheil_left_before_end"),
        ) else {
            continue;
        };
        let ours = curve.trace_melt.map_or(curve.first_melt, |t| t.0).degrees();
        if COARSE.contains(&blend.as_str()) {
            assert!(ours < end, "{blend}: {ours}");
            continue;
        }
        seen += 1;
        if ours < end - 0.2 || ours > before + 0.2 {
            let _ = writeln!(
                wrong,
                "{blend}: ends at {ours:.3}, want {end:.3} to {before:.3}"
            );
        }
        let shares =
            [-0.05, 0.0, 0.05, 0.2, 0.4].map(|more| liquid(&curve, before + more, History::Frozen));
        let low = shares
            .iter()
            .copied()
            .fold(f64::INFINITY, f64::min)
            .max(liquid(&curve, ours, History::Frozen));
        let high = shares.iter().copied().fold(0.0, f64::max);
        if left < low - 0.005 || left > high + 0.005 {
            let _ = writeln!(wrong, "{blend}: {low:.4} to {high:.4} left, want {left:.4}");
        }
    }
    assert!(seen >= 20, "only {seen} walks");
    assert!(wrong.is_empty(), "{wrong}");
}
