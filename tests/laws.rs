//! Laws that hold for every answer.

use std::sync::Arc;

use meltstair::alloy::{AlloyBook, Blend, Composition, Element};
use meltstair::bench::Setting;
use meltstair::job;
use meltstair::melt::{Contact, History, Layer, MeltBook, curve};
use meltstair::plan;
use meltstair::quantity::{KelvinStep, Mass, Share};

fn melts() -> (AlloyBook, MeltBook) {
    let book = AlloyBook::shipped().clone();
    let melts = MeltBook::new(Arc::new(book.clone()), Vec::new());
    (book, melts)
}

/// A law: the survival of touching deposits is never above the lowest of their
/// own; never an average.
#[test]
fn touching_metals_never_survive_more_than_the_weaker_of_them() {
    let (book, melts) = melts();
    let all: Vec<_> = book.alloys().iter().collect();
    let layer = |i: usize| Layer {
        blend: Blend::of(
            &all[i % all.len()].composition,
            Mass::from_picograms(1_000_000_000),
        ),
        history: History::Frozen,
        unstated: false,
        unknown: false,
    };
    // Every alloy of the table with two others.
    for (i, j) in (0..all.len()).flat_map(|i| [(i, i * 7 + 3), (i, i * 31 + 11)]) {
        let pair = [layer(i), layer(j)];
        let joint = melts.of_joint(&pair, Contact::Layers).survival;
        let dissolved = melts.of_joint(&pair, Contact::Dissolved).survival;
        assert_eq!(
            joint, dissolved,
            "survival hangs on every mixture between them"
        );
        for one in &pair {
            let own = melts.of(&one.blend, History::Frozen).survival;
            assert!(
                joint <= own,
                "{} with another: {joint:?} above {own:?}",
                one.blend.composition().unwrap()
            );
        }
    }
}

/// A law of this ternary system: adding Sn63Pb37 to Bi58Sn42, 0–60 mass%, never raises the as-frozen
/// first melt by more than 0.5 K.
#[test]
fn more_lead_never_raises_the_first_melt() {
    let (book, melts) = melts();
    let metal = |name: &str| {
        Blend::of(
            &book.get(name).expect("in the table").composition,
            Mass::from_picograms(1_000_000_000),
        )
    };
    let mut least = None;
    for x in 0..=120 {
        let x = Share::nearest(f64::from(x) * 0.005);
        let rest = Share::nearest(1.0 - x.fraction());
        let blend = metal("Bi58Sn42")
            .part(rest)
            .with(&metal("Sn63Pb37").part(x));
        let now = melts
            .of(&blend, History::Frozen)
            .first_melt
            .expect("assessed");
        // Against the lowest so far: half a kelvin at every step would climb unseen.
        let lowest = least.unwrap_or(now);
        assert!(
            now - lowest <= KelvinStep::from_millikelvin(500),
            "at {x:?}: {lowest} to {now}"
        );
        least = Some(lowest.min(now));
    }
}

/// A mixture of two table alloys, as mass shares of the second.
fn mixture(one: &Composition, other: &Composition, share: f64) -> Composition {
    let part = |c: &Composition, share: f64| {
        Blend::of(c, Mass::from_picograms(1_000_000_000)).part(Share::nearest(share))
    };
    let blend = part(one, 1.0 - share).with(&part(other, share));
    blend.composition().expect("something")
}

/// A law of solders without compounds: the mixed curve alone, within tin, lead, bismuth, silver and copper: as
/// frozen it starts to melt at most 2 K above the lower of the two solidus values of the curves.
#[test]
fn mixtures_of_the_best_known_elements_start_below_the_lower_alloy() {
    use Element::{Ag, Bi, Cu, Pb, Sn};
    let (book, _) = melts();
    // Pure metals are left out: a few per cent of an alloy dissolve in them and freeze without a last drop.
    let known = |c: &Composition| {
        c.parts().count() > 1 && c.parts().all(|(e, _)| [Sn, Pb, Bi, Ag, Cu].contains(&e))
    };
    let mut misses = Vec::new();
    let all: Vec<_> = (book.alloys().iter())
        .filter(|alloy| known(&alloy.composition))
        .collect();
    assert!(all.len() > 15, "{} alloys", all.len());
    let mut looked_at = 0;
    for (i, one) in all.iter().enumerate() {
        for other in &all[i + 1..] {
            let solidus = |c: &Composition| curve(c).expect("a curve").solidus;
            let lower = solidus(&one.composition).min(solidus(&other.composition));
            for share in [0.1, 0.5, 0.9] {
                let Ok(curve) = curve(&mixture(&one.composition, &other.composition, share)) else {
                    panic!("{} with {}: no curve", one.name, other.name);
                };
                looked_at += 1;
                // Less than 0.1 % is no first melt, and still the end of the path.
                let first = curve.trace_melt.map_or(curve.first_melt, |(at, _)| at);
                if first - lower > KelvinStep::whole(2) {
                    misses.push(format!(
                        "{share} of {} in {}: {first} above {lower}",
                        other.name, one.name
                    ));
                }
            }
        }
    }
    assert!(looked_at > 300, "{looked_at}");
    assert!(
        misses.is_empty(),
        "{} of {looked_at}:\n{}",
        misses.len(),
        misses.join("\n")
    );
}

/// Gold-tin once enriched does not melt again at 280 (a die bonder maker's page): gold makes compounds that stop the path: Au80Sn20 with a trace of a
/// lead-free solder stays near 278 to 280 (5 K allowed for "near"), far above the 217 of that solder.
#[test]
fn gold_tin_with_a_trace_of_solder_stays_where_gold_tin_melts() {
    let (book, _) = melts();
    let metal = |name: &str| book.get(name).expect("in the table").composition;
    let curve = curve(&mixture(
        &metal("Au80Sn20"),
        &metal("Sn96.5Ag3Cu0.5"),
        0.002,
    ))
    .expect("a curve");
    let t = curve.first_melt.degrees();
    assert!((273.0..=285.0).contains(&t), "{t}");
}

/// Indium–lead diagram (memory: Massalski, Binary Alloy Phase Diagrams, 1990): peritectics of indium and lead raise the solidus above that of indium.
#[test]
fn lead_raises_the_solidus_of_indium() {
    let pure = |e| Composition::pure(e);
    let of = |share: f64| {
        curve(&mixture(&pure(Element::In), &pure(Element::Pb), share)).expect("a curve")
    };
    assert!(of(0.3).solidus - of(0.0).solidus > KelvinStep::whole(2));
    assert!(of(0.3).first_melt > of(0.0).solidus - KelvinStep::whole(2));
}

/// A law: lowering a neighbour's coupling never lowers a margin.
#[test]
fn less_coupling_never_costs_margin() {
    let book = AlloyBook::shipped();
    let mut last = None;
    for tenths in (0..=10).rev() {
        let text = format!(
            "job: bat recorder\njoints:\n  - {{id: old, alloy: Sn63Pb37}}\n  - {{id: new}}\nsteps:\n  - {{id: make, do: solder, joint: new, alloy: Bi58Sn42, tool: air, k: {{old: {}}}}}\n",
            f64::from(tenths) / 10.0
        );
        let job = job::read(&text, "job.yaml", book).expect("it reads").job;
        let melts = MeltBook::new(Arc::new(book.clone()), Vec::new());
        let checked = plan::check(&Setting::new(&job, &melts), &plan::as_written(&job).plan);
        let margin = checked.tightest.expect("a neighbour").margin;
        assert!(
            last.is_none_or(|last| margin >= last),
            "k {tenths}: {margin} below {last:?}"
        );
        last = Some(margin);
    }
}
