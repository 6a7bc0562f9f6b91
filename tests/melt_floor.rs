//! No answer hides an early melt: neither a printed solidus, nor a class that jumps, nor a floor of some
//! elements stands above what the elements are known to do.

use std::sync::Arc;

use meltstair::alloy::{AlloyBook, Composition, Element, Invariant, InvariantKind, element_set};
use meltstair::melt::{Basis, Doubt, History, Melt, MeltBook, TrustClass, curve};
use meltstair::quantity::{Celsius, KelvinStep};
use proptest::strategy::{Strategy, ValueTree};

/// Bismuth, lead and tin are counted from 95 °C, measured at 95.3 ± 0.5; with silver or copper the data say down to
/// 94.97.
const ROUNDED: KelvinStep = KelvinStep::from_millikelvin(50);

fn composition(name: &str) -> Composition {
    AlloyBook::shipped().find(name).unwrap().composition
}

fn book() -> MeltBook {
    MeltBook::new(Arc::new(AlloyBook::shipped().clone()), Vec::new())
}

fn frozen(name: &str) -> Arc<Melt> {
    book().of_composition(&composition(name), History::Frozen)
}

/// First liquid as frozen by whatever data there are, of the elements that have some.
fn by_data(composition: &Composition) -> Option<Celsius> {
    let set = element_set(composition);
    if !set.iter().all(|element| element.is_covered()) {
        return None;
    }
    let parts: Vec<(Element, f64)> = (composition.parts())
        .filter(|(element, _)| set.contains(element))
        .map(|(element, share)| (element, share.fraction()))
        .collect();
    let curve = curve(&Composition::from_parts(&parts).unwrap()).ok()?;
    Some(curve.first_melt.min(curve.solidus))
}

/// Each alloy of the table, melted and frozen once: it starts no later than any published eutectic of which
/// it can hold liquid, and than the data say.
#[test]
fn no_row_of_the_table_starts_later_than_a_floor_of_its_elements() {
    let (table, melts) = (AlloyBook::shipped(), book());
    let mut wrong = Vec::new();
    let mut exempt = Vec::new();
    for alloy in table.alloys() {
        let melt = melts.of_composition(&alloy.composition, History::Frozen);
        let (first, survival) = (melt.first_melt.unwrap(), melt.survival.unwrap());
        let set = element_set(&alloy.composition);
        if let Some(floor) = table.floor_in(&alloy.composition, &set)
            && (survival > floor.temperature || first > floor.temperature + melt.u)
        {
            wrong.push(format!(
                "{}: {first}, floor {}",
                alloy.name, floor.temperature
            ));
        }
        // By its elements alone, whatever the shares.
        if let Some(floor) = table.floor_of(&set)
            && first > floor.temperature + melt.u
        {
            exempt.push(alloy.name.as_str());
        }
        if let Some(data) = by_data(&alloy.composition)
            && survival > data + ROUNDED
        {
            wrong.push(format!("{}: survives {survival}, data {data}", alloy.name));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    // These are published eutectics themselves; compounds or a saddle part them from the lower ones.
    assert_eq!(exempt, ["Pb97.5Ag1.5Sn1", "Au80.1Sn19.9", "Au80Sn20"]);
}

/// Sources: first liquid by the phase data (this project's, `tests/melt/verify.csv`: Ag–In–Sn 113.5, Bi–In–Sn
/// 59.6), the ternary eutectics of `alloys/invariants.yaml`, and for cadmium the handbooks (memory). Each of
/// these once stood at a printed solidus or at the eutectic of two of its elements, up to 140 K higher.
#[test]
fn what_was_hidden_by_a_printed_solidus_is_told() {
    for (name, at_most) in [
        ("Sn77.2In20Ag2.8", 113.6),
        ("Sn86.9In10Ag3.1", 113.6),
        ("Sn88.5In8Ag3Bi0.5", 60.0),
        ("Sn88.1In8Ag3Bi0.5Cu0.4", 60.0),
        ("Sn85.2In8Ag4.1Bi2.2Cu0.5", 60.0),
        ("Sn91.5In4Ag3.5Bi1", 60.0),
        ("Sn92.45Ag4Bi3Cu0.5Ni0.05", 137.2),
        ("Sn95.5Cu4Ag0.5", 217.2),
        ("Bi54Sn26Cd20", 103.0),
        ("Bi40Sn40Cd20", 103.0),
        ("Bi50Pb40Cd10", 91.5),
        ("Sn60Zn20Cd20", 163.0),
        ("Sn50In45Ag5", 114.0),
    ] {
        let melt = frozen(name);
        let first = melt.first_melt.unwrap().degrees();
        assert!(first <= at_most, "{name}: {first}");
        assert!(melt.survival < melt.first_melt, "{name}");
    }
}

/// Source: tin with a quarter silver is all liquid near 395 °C only (Ag–Sn diagram, memory; the data say 334 for
/// 98 %); lead with 5 % silver near 380 (the same, and the data).
#[test]
fn what_leaves_crystals_does_not_flow_at_its_solidus() {
    for (name, at_least) in [("Sn65Ag25Sb10", 395.0), ("Pb90Sn5Ag5", 375.0)] {
        let flow = frozen(name).flow.unwrap().degrees();
        assert!(flow >= at_least, "{name}: {flow}");
    }
}

/// Dropping 0.05 % of nickel once lifted 4 % of silver to 4.002 % and out of its class.
#[test]
fn no_class_begins_with_a_jump() {
    use Element::{Ag, Bi, Cu, Ni, Sn};
    let (melts, of) = (book(), |parts: &[(Element, f64)]| {
        Composition::from_parts(parts).unwrap()
    });
    let with = |nickel: f64| {
        let parts = [
            (Sn, 92.5 - nickel),
            (Ag, 4.0),
            (Bi, 3.0),
            (Cu, 0.5),
            (Ni, nickel),
        ];
        melts.of_composition(&of(&parts), History::Frozen)
    };
    let (none, some) = (with(0.0), with(0.05));
    assert_eq!(none.class, Some(TrustClass::A));
    assert_eq!(some.class, Some(TrustClass::A));
    assert!(
        (none.survival.unwrap() - some.survival.unwrap())
            .kelvin()
            .abs()
            < 0.5
    );
    // Over a limit u grows, and never by more than 8 K each per cent.
    let mut last: Option<KelvinStep> = None;
    for tenth in 0..40 {
        let silver = 3.0 + 0.1 * f64::from(tenth);
        let parts = [(Sn, 99.5 - silver), (Ag, silver), (Cu, 0.5)];
        let u = melts.of_composition(&of(&parts), History::Frozen).u;
        if let Some(last) = last {
            assert!(
                (u - last).kelvin() < 0.85 && u >= last,
                "{silver} %: {last} to {u}"
            );
        }
        last = Some(u);
    }
}

/// What is taken off the eutectic of some elements for each that it leaves out covers every published set of
/// solders that has one: of these nobody knows that they were looked at together.
#[test]
fn the_distance_of_a_subset_covers_every_published_set() {
    let eutectics = || {
        let all = AlloyBook::shipped().invariants().iter();
        all.filter(|i| !i.refuted && i.kind == InvariantKind::Eutectic)
    };
    let mut most = 0.0_f64;
    for whole in eutectics() {
        let is_part = |part: &&Invariant| {
            part.elements.len() < whole.elements.len()
                && part.elements.iter().all(|e| whole.elements.contains(e))
        };
        let lowest = eutectics().filter(is_part).min_by_key(|i| i.temperature);
        // Beyond tin nothing is said.
        if let Some(part) = lowest.filter(|part| part.temperature <= Celsius::whole(240)) {
            let left_out = whole.elements.len() - part.elements.len();
            let lowered = (part.temperature - whole.temperature).kelvin() / left_out as f64;
            most = most.max(lowered);
        }
    }
    assert!((30.0..40.0).contains(&most), "{most}");
}

/// What nobody has looked at together is at best close, and by how much is told.
#[test]
fn a_set_known_in_parts_only_is_a_floor_less_a_distance() {
    for (name, known) in [("Sn96.5Ag3Pd0.5", 221.0), ("Sn50Pb40In5Cd5", 93.0)] {
        let melt = frozen(name);
        assert_eq!(melt.basis, Basis::Floor, "{name}");
        assert!(melt.doubts.contains(&Doubt::FloorOfSubset), "{name}");
        assert!(melt.first_melt.unwrap().degrees() <= known - 39.0, "{name}");
        assert!(
            melt.doubts
                .iter()
                .any(|d| matches!(d, Doubt::Distance { .. }))
        );
    }
    // High-melting metals are lowered by anything: nothing is said of them.
    assert_eq!(frozen("Au90Pd10").survival, None);
}

#[test]
fn what_is_left_out_is_told() {
    let dropped = |name: &str| -> Vec<Element> {
        let told = frozen(name).doubts.clone().into_iter();
        told.filter_map(|doubt| match doubt {
            Doubt::Dropped { element, .. } => Some(element),
            _ => None,
        })
        .collect()
    };
    assert_eq!(dropped("Sn99.29Cu0.7Ge0.01"), [Element::Ge]);
    assert_eq!(dropped("Sn96.495Ag3Cu0.5Cd0.005"), [Element::Cd]);
    // There are data for zinc: so little of it counts by them.
    assert_eq!(dropped("Sn96.495Ag3Cu0.5Zn0.005"), []);
    assert_eq!(dropped("Sn63Pb37"), []);
    // Where no data answer, traces of the best-known take no part either.
    assert_eq!(dropped("Cd82.595Zn17.4Pb0.005"), [Element::Pb]);
    let gallium = frozen("Sn99Ga1");
    assert_eq!(gallium.survival, None);
    let told = Doubt::LiquidMetal {
        element: Element::Ga,
    };
    assert!(gallium.doubts.contains(&told));
}

/// Sources: J-STD-006 (memory) for the limits; the ternary eutectics of bismuth, lead and tin, 95.3 ± 0.5, and of silver, lead
/// and tin, 177 to 179 (`alloys/invariants.yaml`).
#[test]
fn metal_as_sold_may_hold_lead_enough_to_melt_early() {
    let with_lead = |name: &str| {
        let all = book().as_sold(&composition(name));
        let survivals: Vec<_> = all.iter().map(|i| i.melt.survival).collect();
        assert!(survivals.is_sorted(), "{name}: {survivals:?}");
        let lead = all.iter().find(|i| i.element == Element::Pb).unwrap();
        lead.melt.first_melt.unwrap().degrees()
    };
    let first = with_lead("Bi58Sn42");
    assert!(first <= 95.3, "{first}");
    let first = with_lead("Sn96.5Ag3Cu0.5");
    assert!((176.0..200.0).contains(&first), "{first}");
    // What an alloy is named for is no impurity of it.
    let named = book().as_sold(&composition("Sn63Pb37"));
    assert!(
        named
            .iter()
            .all(|i| i.element != Element::Pb && i.element != Element::Sn)
    );
}

/// What a job without `finish` at a part is told: 0.1 % of gold would melt tin-silver-copper 13 K earlier, tin-lead 7 K
/// (`src/job/things.rs`).
#[test]
fn gold_of_a_pad_costs_what_jobs_are_told() {
    for (name, cost) in [("Sn96.5Ag3Cu0.5", 13.0), ("Sn63Pb37", 7.0)] {
        let named = composition(name);
        let parts: Vec<(Element, f64)> = (named.parts())
            .map(|(element, share)| (element, share.percent() * 0.999))
            .chain([(Element::Au, 0.1)])
            .collect();
        let gold = Composition::from_parts(&parts).unwrap();
        let first = |of: &Composition| {
            book()
                .of_composition(of, History::Frozen)
                .first_melt
                .unwrap()
        };
        let earlier = (first(&named) - first(&gold)).kelvin();
        assert!((earlier - cost).abs() < 0.5, "{name}: {earlier}");
    }
}

/// Sources: L = Ni3Sn4 + (Sn) at 231 °C (P. Nash, A. Nash as quoted in `alloys/sources.yaml`), silver–nickel–tin at
/// 219 °C (DTA, Chen et al.), the six-element alloy for cars 206 to 218 (memory).
#[test]
fn nickel_is_answered() {
    for (name, low, high) in [
        ("Sn99.8Ni0.2", 230.0, 231.9),
        ("Sn96.2Ag3.5Ni0.3", 218.0, 221.0),
        ("Sn99.1Cu0.7Ni0.2", 225.0, 227.2),
        ("Sn62Pb37.8Ni0.2", 182.0, 183.1),
    ] {
        let melt = frozen(name);
        assert_eq!(melt.class, Some(TrustClass::B), "{name}");
        let first = melt.first_melt.unwrap().degrees();
        assert!((low..high).contains(&first), "{name}: {first}");
    }
    let melt = frozen("Sn90.95Ag3.8Bi3Sb1.4Cu0.7Ni0.15");
    let curve = melt.curve.as_ref().unwrap();
    assert!((curve.solidus.degrees() - 206.0).abs() < 3.0);
    assert!((curve.flow_point.degrees() - 218.0).abs() < 8.0);
}

/// Two to six elements of solders, small additions among them; one in eight holds an element without data.
fn blend() -> impl Strategy<Value = Vec<(Element, f64)>> {
    use Element::{Ag, Au, Bi, Cd, Cu, Ge, In, Pb, Pd, Sb, Sn, Zn};
    let covered = vec![Ag, Au, Bi, Cu, In, Pb, Sb, Zn];
    let share = proptest::prop_oneof![
        3 => 0.1..60.0_f64,
        3 => (-2.5..1.0_f64).prop_map(|p| 10_f64.powf(p)),
    ];
    let stranger = proptest::prop_oneof![
        7 => proptest::strategy::Just(None),
        1 => proptest::sample::select(vec![Cd, Ge, Pd]).prop_map(Some),
    ];
    (
        proptest::sample::subsequence(covered, 1..=5),
        proptest::collection::vec(share, 6),
        10.0..99.0_f64,
        stranger,
    )
        .prop_map(|(elements, shares, tin, stranger)| {
            let others = elements.into_iter().chain(stranger);
            let mut parts: Vec<(Element, f64)> = others.zip(shares).collect();
            parts.push((Sn, tin));
            parts
        })
}

/// Of 600 random blends none survives longer than the data say it starts to melt, and none survives
/// longer by a ten-thousandth of one of its elements more, but where the computed first melt itself does, or
/// an element passes the share from which it counts.
#[test]
fn no_trifle_makes_a_joint_survive_longer() {
    let melts = book();
    let mut runner = proptest::test_runner::TestRunner::deterministic();
    let (mut above, mut jumps, mut counted) = (Vec::new(), Vec::new(), 0);
    for round in 0..600 {
        let parts = blend().new_tree(&mut runner).unwrap().current();
        let mut moved = parts.clone();
        let place = round % moved.len();
        moved[place].1 *= 1.0001;
        let of = |parts: &[(Element, f64)]| {
            let composition = Composition::from_parts(parts).unwrap();
            let melt = melts.of_composition(&composition, History::Frozen);
            (composition, melt, by_data(&composition))
        };
        let (one, other) = (of(&parts), of(&moved));
        for (composition, melt, data) in [&one, &other] {
            if let (Some(survival), Some(data)) = (melt.survival, *data)
                && survival > data + ROUNDED
            {
                above.push(format!("{composition}: survives {survival}, data {data}"));
            }
        }
        if element_set(&one.0) != element_set(&other.0) {
            continue;
        }
        counted += 1;
        let (Some(a), Some(b)) = (one.1.survival, other.1.survival) else {
            if one.1.survival.is_some() != other.1.survival.is_some() {
                jumps.push(format!("{}: known or not", one.0));
            }
            continue;
        };
        let own = match (one.2, other.2) {
            (Some(a), Some(b)) => (b - a).kelvin().abs(),
            _ => 0.0,
        };
        let jump = (b - a).kelvin().abs();
        if jump > own + 0.5 {
            jumps.push(format!(
                "{}: {a} to {b}, data {:?} {:?}",
                one.0, one.2, other.2
            ));
        }
    }
    println!(
        "{counted} compared, {} above the data, {} jumps",
        above.len(),
        jumps.len()
    );
    assert!(above.is_empty(), "{}", above.join("\n"));
    assert!(jumps.len() <= MOST_JUMPS, "{}", jumps.join("\n"));
}

/// Counted; where a floor begins to count by the mass of one element, or a hard blend is given up.
const MOST_JUMPS: usize = 3;

/// Edges at which a rule counts an impurity, mass% (`src/alloy/table.rs`, `alloys/policy.yaml`, limits that laws and
/// standards print), and how far a rounding goes beyond them either way.
const EDGES: [f64; 13] = [
    0.01, 0.02, 0.05, 0.1, 0.2, 0.3, 0.5, 1.0, 1.5, 2.0, 3.0, 4.0, 5.0,
];
const BY_A_ROUNDING: f64 = 0.001;

/// A metal with so much of an element in place of as much of all others.
fn with_impurity(named: &Composition, element: Element, percent: f64) -> Composition {
    let others = || named.parts().filter(|(other, _)| *other != element);
    let rest: f64 = others().map(|(_, share)| share.percent()).sum();
    let parts: Vec<(Element, f64)> = others()
        .map(|(other, share)| (other, share.percent() * (100.0 - percent) / rest))
        .chain([(element, percent)])
        .collect();
    Composition::from_parts(&parts).unwrap()
}

/// More of an impurity by a rounding never makes a metal survive longer by more than 3 K: of alloys of the table
/// and of blends drawn, each with an element below and above a share at which some rule begins to count it.
#[test]
fn no_rounding_of_an_impurity_makes_a_metal_survive_longer() {
    use Element::{Ag, Au, Bi, Cd, Cu, Fe, Ge, In, Ni, Pb, Pd, Sb, Sn, Zn};
    let impurities = [Ag, Au, Bi, Cd, Cu, Fe, Ge, In, Ni, Pb, Pd, Sb, Sn, Zn];
    let melts = book();
    let table = AlloyBook::shipped().alloys();
    let mut dice = fastrand::Rng::with_seed(15);
    let mut runner = proptest::test_runner::TestRunner::deterministic();
    let (mut rises, mut compared) = (Vec::new(), 0);
    let pairs = std::env::var("MELTSTAIR_PAIRS").ok();
    let pairs: usize = pairs.and_then(|n| n.parse().ok()).unwrap_or(1_000);
    for round in 0..pairs {
        let named = if round % 2 == 0 {
            table[dice.usize(..table.len())].composition
        } else {
            Composition::from_parts(&blend().new_tree(&mut runner).unwrap().current()).unwrap()
        };
        let element = impurities[dice.usize(..impurities.len())];
        let edge = EDGES[dice.usize(..EDGES.len())];
        let of = |percent: f64| {
            let metal = with_impurity(&named, element, percent);
            (metal, melts.of_composition(&metal, History::Frozen))
        };
        let (less, more) = (of(edge - BY_A_ROUNDING), of(edge + BY_A_ROUNDING));
        let Some(above) = more.1.survival else {
            compared += 1;
            continue;
        };
        // Where a curve was given up, less is counted than it would have said.
        let given_up = |doubt: &Doubt| matches!(doubt, Doubt::NotConverged { .. });
        if less.1.doubts.iter().any(given_up) {
            continue;
        }
        compared += 1;
        let below = less.1.survival;
        if below.is_none_or(|below| (above - below).kelvin() > 3.0) {
            let doubts = [&less.1.doubts, &more.1.doubts];
            rises.push(format!(
                "{named} with {element} at {edge}: {below:?} to {above}; {doubts:?}"
            ));
        }
    }
    println!("{compared} compared, {} rise", rises.len());
    assert!(compared >= pairs * 9 / 10, "{compared}");
    assert!(rises.is_empty(), "{}", rises.join("\n"));
}

/// A trace of an element that has data counts by them, however little there is, and where it comes to count by itself
/// nothing jumps but what the data say. Source: gold and tin melt at 217 °C (`alloys/invariants.yaml`).
#[test]
fn a_trace_of_gold_counts_before_it_is_an_element_of_the_alloy() {
    let with = |percent: f64| {
        let metal = with_impurity(&composition("Sn97Ag3"), Element::Au, percent);
        book().of_composition(&metal, History::Frozen)
    };
    let (none, some, most, counted) = (with(0.0), with(0.005), with(0.009_9), with(0.010_1));
    let survival = |melt: &Melt| melt.survival.unwrap().degrees();
    assert!((survival(&none) - 219.0).abs() < 1e-9);
    assert!(survival(&some) < 216.0, "{:?}", some.survival);
    let jump = survival(&most) - survival(&counted);
    assert!((0.0..1.0).contains(&jump), "{jump}");
    assert!(most.survival < some.survival && some.first_melt <= none.first_melt);
    // Counted is not left out.
    let told = |melt: &Melt| {
        melt.doubts
            .iter()
            .any(|d| matches!(d, Doubt::Dropped { .. }))
    };
    assert!(!told(&most) && !told(&counted));
}

/// A reading is not lost by a rounding: what is nearly an alloy starts no later than what is printed of it, loosened by 1 K
/// for each hundredth of a per cent beyond what counts as the same.
#[test]
fn a_reading_is_not_lost_at_the_edge_of_its_alloy() {
    let with = |name: &str, element: Element, percent: f64| {
        let metal = with_impurity(&composition(name), element, percent);
        book()
            .of_composition(&metal, History::Frozen)
            .survival
            .unwrap()
    };
    for (name, element) in [("Sn50In50", Element::Cd), ("Bi50Pb27Sn13Cd10", Element::In)] {
        let (less, more) = (with(name, element, 0.009), with(name, element, 0.011));
        assert!((more - less).kelvin() < 0.3, "{name}: {less} to {more}");
    }
    // An alloy of its own is not held to the reading of one that holds silver too.
    let own = frozen("Sn99.3Cu0.7").survival.unwrap().degrees();
    assert!((224.5..225.0).contains(&own), "{own}");
}
