//! The engine against the outside world: published invariants (`tests/melt/verify.csv`, with the role
//! each played when the data were put together) and measured joints (`tests/melt/measured.csv`).

use meltstair::alloy::{Composition, Element};
use meltstair::melt::{Curve, curve};

#[derive(Debug, serde::Deserialize)]
struct Row {
    point: String,
    kind: String,
    #[serde(rename = "published_C")]
    published_c: String,
    computed_compositions_wt: String,
    role: String,
}

/// `Pb38.03 Sn61.97` in mass per cent.
fn composition(text: &str) -> Composition {
    let parts: Vec<(Element, f64)> = (text.split_whitespace())
        .map(|part| {
            let digits = part.find(|c: char| c.is_ascii_digit()).unwrap();
            (
                part[..digits].parse().unwrap(),
                part[digits..].parse().unwrap(),
            )
        })
        .collect();
    Composition::from_parts(&parts).unwrap()
}

/// `183` or `138-139`.
fn range(text: &str) -> (f64, f64) {
    let ends: Vec<f64> = text.split('-').map(|end| end.parse().unwrap()).collect();
    (ends[0], ends[ends.len() - 1])
}

/// Class A of `alloys/phases/classes.yaml`: these elements alone, without the silver and copper ends.
fn is_class_a(composition: &Composition) -> bool {
    use Element::{Ag, Bi, Cu, Pb, Sn};
    let share = |e| composition.share(e).percent();
    composition
        .parts()
        .all(|(e, _)| [Ag, Bi, Cu, Pb, Sn].contains(&e))
        && (share(Sn) > 0.0 || share(Ag) + share(Cu) == 0.0)
        && share(Ag) <= 10.0
        && share(Cu) <= 3.0
}

/// The liquid of an invariant starts to freeze there: its liquidus is the invariant's temperature,
/// but for the 0.01 % to which its composition is printed (0.5 K on the steepest liquidus surface).
#[test]
fn published_invariants_are_met() {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/melt/verify.csv");
    let mut reader = csv::Reader::from_path(path).unwrap();
    let (mut wrong, mut independent, mut fitted, mut others) = (Vec::new(), 0, 0, Vec::new());
    for row in reader.deserialize() {
        let row: Row = row.unwrap();
        let parts: Vec<&str> = row.computed_compositions_wt.split('|').collect();
        if row.kind != "invariant" || row.role.starts_with("METASTABLE") || parts[0].is_empty() {
            continue;
        }
        let liquid = composition(parts[0].trim().trim_start_matches("LIQUID"));
        let (low, high) = range(&row.published_c);
        let Ok(curve) = curve(&liquid) else {
            wrong.push(format!("{}: no curve", row.point));
            continue;
        };
        let got = curve.liquidus.degrees();
        let error = (low - got).max(got - high).max(0.0);
        let elements = liquid.parts().count();
        if !is_class_a(&liquid) {
            others.push((row.point.clone(), error));
            continue;
        }
        if row.role.contains("fitted target") {
            fitted += 1;
        } else {
            independent += 1;
        }
        let allowed = if elements == 2 { 1.0 } else { 3.0 };
        if error > allowed + 0.5 {
            wrong.push(format!(
                "{}: {got:.2}, published {}",
                row.point, row.published_c
            ));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    assert!(
        independent >= 8,
        "{independent} independent, {fitted} fitted"
    );
    // Of other classes nothing is promised but that the list is there, and no row is far off.
    assert!(others.len() >= 20);
    for (point, error) in others {
        assert!(error < 8.0, "{point}: {error:.1} K");
    }
}

fn first_of(curve: &Curve) -> f64 {
    let trace = curve.trace_melt.map_or(curve.first_melt, |t| t.0);
    trace.min(curve.first_melt).degrees()
}

/// Measured onsets of joints in which two solders met. Sources: rows `Bi-Sn + Pb contamination`
/// (95.3 ± 0.5), `SAC305 + Sn37Pb` (178 in every mix that holds lead), of `tests/melt/measured.csv`.
#[test]
fn mixed_joints_start_no_later_than_measured() {
    use Element::{Ag, Bi, Cu, Pb, Sn};
    let mut cases = Vec::new();
    for bismuth in [5.0, 10.0, 58.0] {
        for lead in [1.0, 2.0, 6.0] {
            cases.push((
                vec![(Sn, 100.0 - bismuth - lead), (Bi, bismuth), (Pb, lead)],
                95.3,
            ));
        }
    }
    for sac in [0.25, 0.5, 0.75] {
        let rest = 1.0 - sac;
        let parts = vec![
            (Sn, 96.5 * sac + 63.0 * rest),
            (Ag, 3.0 * sac),
            (Cu, 0.5 * sac),
            (Pb, 37.0 * rest),
        ];
        cases.push((parts, 178.0));
    }
    for (parts, onset) in cases {
        let curve = curve(&Composition::from_parts(&parts).unwrap()).unwrap();
        let first = first_of(&curve);
        assert!(first <= onset + 3.0, "{parts:?}: {first}, measured {onset}");
        // Nor absurdly early: the data put the eutectic within 3 K.
        assert!(first >= onset - 3.0, "{parts:?}: {first}, measured {onset}");
    }
}
