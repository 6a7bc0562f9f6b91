//! Laws that hold for every answer: acceptance cases 16 and 43.

use std::sync::Arc;

use meltstair::alloy::{AlloyBook, Blend};
use meltstair::bench::Setting;
use meltstair::job;
use meltstair::melt::{Contact, History, Layer, MeltBook};
use meltstair::plan;
use meltstair::quantity::{KelvinStep, Mass, Share};

fn melts() -> (AlloyBook, MeltBook) {
    let book = AlloyBook::shipped().clone();
    let melts = MeltBook::new(Arc::new(book.clone()), Vec::new());
    (book, melts)
}

/// Source: acceptance case 16: the survival of touching deposits is never above the lowest of their
/// own; never an average.
#[test]
fn touching_metals_never_survive_more_than_the_weaker_of_them() {
    let (book, melts) = melts();
    let two_sources: Vec<_> = book.alloys().iter().filter(|a| !a.single_source).collect();
    let layer = |i: usize| Layer {
        blend: Blend::of(
            &two_sources[i % two_sources.len()].composition,
            Mass::from_picograms(1_000_000_000),
        ),
        history: History::Frozen,
        unstated: false,
        unknown: false,
    };
    for (i, j) in (0..two_sources.len()).flat_map(|i| [(i, i * 7 + 3), (i, i * 31 + 11)]) {
        let pair = [layer(i), layer(j)];
        let joint = melts.of_joint(&pair, Contact::Layers).survival;
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

/// Source: acceptance case 43: adding Sn63Pb37 to Bi58Sn42, 0–60 mass%, never raises the as-frozen
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
    let mut last = None;
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
        if let Some(last) = last {
            assert!(
                now - last <= KelvinStep::from_millikelvin(500),
                "at {x:?}: {last} to {now}"
            );
        }
        last = Some(now);
    }
}

/// Source: acceptance case 43: lowering a neighbour's coupling never lowers a margin.
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
