//! The book of alloys: the shipped table, with the user's own alloys and stock if given.

use std::collections::BTreeMap;
use std::sync::{Arc, OnceLock};

use super::load::{AlloyFile, InvariantFile, OwnFile, SourceFile, Sources};
use super::names::{self, NameFault, Understood};
use super::table::{Alloy, Floor, Invariant, InvariantKind, Source, StockItem, beyond, distance};
use super::words::{NameFile, Names};
use super::{Composition, Element};
use crate::quantity::KelvinStep;
use crate::yaml::{self, Fault};

const ALLOYS: &str = include_str!("../../alloys/alloys.yaml");
const SOURCES: &str = include_str!("../../alloys/sources.yaml");
const NAMES: &str = include_str!("../../alloys/names.yaml");
const INVARIANTS: &str = include_str!("../../alloys/invariants.yaml");

/// The same as the build put them down.
const BUILT: [&str; 4] = [
    include_str!(concat!(env!("OUT_DIR"), "/alloys/alloys.yaml.json")),
    include_str!(concat!(env!("OUT_DIR"), "/alloys/sources.yaml.json")),
    include_str!(concat!(env!("OUT_DIR"), "/alloys/names.yaml.json")),
    include_str!(concat!(env!("OUT_DIR"), "/alloys/invariants.yaml.json")),
];

/// Tolerance that one maker states for the values of its own chart (source `indium_dsc`).
const CHART_TOLERANCE: KelvinStep = KelvinStep::whole(3);

/// Invariants of the same elements no further apart are one reaction (our judgement: prints of one spread by as much).
const SAME_REACTION: KelvinStep = KelvinStep::whole(4);
/// A blend is at a eutectic where no share is further from it, mass% (our judgement: prints of one eutectic differ by
/// as much).
const AT_A_EUTECTIC: f64 = 1.0;

fn is_at(composition: &Composition, liquid: &Composition) -> bool {
    let off = |e| (composition.share(e).percent() - liquid.share(e).percent()).abs();
    Element::all().all(|e| off(e) <= AT_A_EUTECTIC)
}

/// From here on liquid counts: 0.1 mass%, the share that defines first melt (design value).
const LIQUID_THAT_COUNTS: f64 = 1e-3;

/// Everything known of alloys: the shipped table, and the user's own file if there is one.
#[derive(Clone, Debug)]
pub struct AlloyBook {
    alloys: Vec<Alloy>,
    places: BTreeMap<String, usize>,
    sources: Sources,
    invariants: Vec<Invariant>,
    stock: Vec<StockItem>,
    names: Names,
}

/// The shipped files of the alloy table, as text.
pub const TABLE_FILES: [&str; 4] = [ALLOYS, SOURCES, NAMES, INVARIANTS];

impl AlloyBook {
    /// The shipped table; read once a process.
    pub fn shipped() -> &'static AlloyBook {
        AlloyBook::read_once()
    }

    /// The same, for whoever keeps it.
    pub fn shared() -> Arc<AlloyBook> {
        Arc::clone(AlloyBook::read_once())
    }

    #[expect(
        clippy::expect_used,
        reason = "embedded data; `the_shipped_table_is_readable` reads it"
    )]
    fn read_once() -> &'static Arc<AlloyBook> {
        static BOOK: OnceLock<Arc<AlloyBook>> = OnceLock::new();
        BOOK.get_or_init(|| {
            Arc::new(AlloyBook::read_built().expect("the shipped table is readable"))
        })
    }

    fn read_built() -> Result<AlloyBook, Fault> {
        let [alloys, sources, names, invariants] = BUILT;
        AlloyBook::of_files(
            yaml::read_built(alloys)?,
            yaml::read_built(sources)?,
            yaml::read_built(names)?,
            yaml::read_built(invariants)?,
        )
    }

    fn of_files(
        alloys: AlloyFile,
        sources: SourceFile,
        names: NameFile,
        invariants: InvariantFile,
    ) -> Result<AlloyBook, Fault> {
        let sources: Sources = (sources.sources.into_iter())
            .map(|(id, row)| (id.clone(), row.into_source(&id)))
            .collect();
        let invariants = invariants
            .invariants
            .into_iter()
            .map(|row| row.into_invariant(&sources))
            .collect::<Result<_, _>>()?;
        let mut book = AlloyBook {
            alloys: Vec::new(),
            places: BTreeMap::new(),
            sources,
            invariants,
            stock: Vec::new(),
            names: Names::default(),
        };
        for row in alloys.alloys {
            let alloy = row.into_alloy(&book.sources, false)?;
            book.add(alloy).map_err(Fault::of_file)?;
        }
        book.names =
            Names::new(names, |name| book.places.contains_key(name)).map_err(Fault::of_file)?;
        Ok(book)
    }

    /// This table with the user's own alloys, sources and stock, checked as strictly as the shipped
    /// one. An own alloy of a shipped name replaces it.
    ///
    /// # Errors
    /// All [`Fault`]s found in the text.
    pub fn with_user_file(&self, text: &str) -> Result<AlloyBook, Vec<Fault>> {
        let own: OwnFile = yaml::read(text).map_err(|fault| vec![fault])?;
        let mut book = self.clone();
        let mut faults = Vec::new();
        for (id, row) in own.sources {
            if book.sources.contains_key(&id) {
                faults.push(row.title.fault(format!(
                    "`{id}` is a source of the shipped table: give yours another name"
                )));
            } else {
                book.sources.insert(id.clone(), row.into_source(&id));
            }
        }
        for row in own.alloys {
            match row.into_alloy(&book.sources, true) {
                Ok(alloy) => book.replace(alloy),
                Err(fault) => faults.push(fault),
            }
        }
        for row in own.stock {
            match book.find(&row.alloy.value) {
                Ok(Understood {
                    alloy: Some(alloy), ..
                }) => book.stock.push(StockItem {
                    alloy,
                    note: row.note,
                }),
                Ok(understood) => faults.push(row.alloy.fault(format!(
                    "{} is not in the table: add it under `alloys`",
                    understood.composition
                ))),
                Err(why) => faults.push(row.alloy.fault(why.to_string())),
            }
        }
        if faults.is_empty() {
            Ok(book)
        } else {
            Err(faults)
        }
    }

    fn add(&mut self, alloy: Alloy) -> Result<(), String> {
        let name = alloy.name.clone();
        if self
            .places
            .insert(name.clone(), self.alloys.len())
            .is_some()
        {
            return Err(format!("`{name}` stands twice"));
        }
        self.alloys.push(alloy);
        Ok(())
    }

    fn replace(&mut self, alloy: Alloy) {
        if let Some(&place) = self.places.get(&alloy.name) {
            self.alloys[place] = alloy;
        } else {
            self.places.insert(alloy.name.clone(), self.alloys.len());
            self.alloys.push(alloy);
        }
    }

    /// All alloys, in the order of the file, own ones last.
    pub fn alloys(&self) -> &[Alloy] {
        &self.alloys
    }

    /// The alloy of that canonical name.
    pub fn get(&self, name: &str) -> Option<&Alloy> {
        self.places.get(name).map(|&place| &self.alloys[place])
    }

    /// The alloy that a composition counts as (basis `measured`): the same element set, each listed
    /// element within 0.3 mass%, every other at most 0.01 mass%; Ni, Ge, P, Co and Fe up to 0.1 %
    /// change nothing. Of several the nearest, then the first by name.
    pub fn matching(&self, composition: &Composition) -> Option<&Alloy> {
        self.alloys
            .iter()
            .filter_map(|alloy| Some((distance(composition, &alloy.composition)?, alloy)))
            .min_by(|a, b| a.0.total_cmp(&b.0).then_with(|| a.1.name.cmp(&b.1.name)))
            .map(|(_, alloy)| alloy)
    }

    /// Alloys that a composition nearly is, and by how many mass% it is off beyond what counts as the same.
    pub(crate) fn nearly_matching(
        &self,
        composition: &Composition,
    ) -> impl Iterator<Item = (f64, &Alloy)> {
        (self.alloys.iter())
            .filter_map(|alloy| Some((beyond(composition, &alloy.composition)?, alloy)))
    }

    /// Whether a published eutectic of all elements settles what a blend can do: it holds enough of each to make its
    /// liquid, or one of those that it holds enough of is published too.
    pub(crate) fn settles(
        &self,
        whole: &Invariant,
        composition: &Composition,
        elements: &[Element],
    ) -> bool {
        let Some(liquid) = self.liquid_of(whole) else {
            return true;
        };
        let enough = |e: &Element| {
            composition.share(*e).fraction() >= LIQUID_THAT_COUNTS * liquid.share(*e).fraction()
        };
        let plenty: Vec<Element> = elements.iter().copied().filter(enough).collect();
        plenty.len() == elements.len()
            || plenty.len() < 2
            || self.floor_of(&plenty).is_some_and(|floor| floor.whole_set)
    }

    /// The lowest published eutectic of the whole element set, else the lowest of its subsets;
    /// `None` with gallium or mercury, or where nothing is published.
    ///
    /// The set is what [`super::element_set`] gives for a composition: what is present in ppm must
    /// not pull a floor down.
    pub fn floor_of(&self, elements: &[Element]) -> Option<Floor<'_>> {
        self.lowest_of(elements, |_| true)
    }

    /// The same for a blend. A eutectic of which it cannot hold 0.1 mass% of liquid, by the mass of each
    /// element in it, is none of its floors; and where it is itself a published eutectic of all its elements,
    /// that one counts, and no other that lies beyond compounds.
    pub fn floor_in(&self, composition: &Composition, elements: &[Element]) -> Option<Floor<'_>> {
        let own = |invariant: &Invariant| {
            invariant.elements == elements
                && (invariant.composition).is_some_and(|liquid| is_at(composition, &liquid))
        };
        if let Some(floor) = self.lowest_of(elements, own) {
            return Some(floor);
        }
        self.lowest_of(elements, |invariant| {
            self.liquid_of(invariant).is_none_or(|liquid| {
                let most = liquid
                    .parts()
                    .map(|(e, share)| composition.share(e).fraction() / share.fraction());
                most.fold(f64::INFINITY, f64::min) >= LIQUID_THAT_COUNTS
            })
        })
    }

    /// What the liquid of an invariant consists of; where only the elements are printed, that of the one of
    /// the same elements that is nearest in temperature.
    fn liquid_of(&self, invariant: &Invariant) -> Option<Composition> {
        let apart = |other: &Invariant| {
            let between = invariant.temperature - other.temperature;
            between.max(other.temperature - invariant.temperature)
        };
        (self.invariants.iter())
            .filter(|other| other.elements == invariant.elements && !other.refuted)
            .filter_map(|other| Some((apart(other), other.composition?)))
            .filter(|(apart, _)| *apart <= SAME_REACTION)
            .min_by_key(|(apart, _)| *apart)
            .map(|(_, liquid)| liquid)
    }

    fn lowest_of(
        &self,
        elements: &[Element],
        counts: impl Fn(&Invariant) -> bool,
    ) -> Option<Floor<'_>> {
        if elements
            .iter()
            .any(|e| matches!(e, Element::Ga | Element::Hg))
        {
            return None;
        }
        let within: Vec<&Invariant> = self
            .invariants
            .iter()
            .filter(|i| i.kind == InvariantKind::Eutectic && !i.refuted)
            .filter(|i| i.elements.iter().all(|e| elements.contains(e)))
            .collect();
        let counted = || within.iter().filter(|i| counts(i));
        let is_whole = |i: &Invariant| elements.iter().all(|e| i.elements.contains(e));
        let lowest = *counted().min_by_key(|i| i.temperature)?;
        // A subset that melts far below the only invariant known of the whole set tells that the
        // set has a lower one elsewhere: then the set is not settled.
        let whole_set = within
            .iter()
            .any(|i| is_whole(i) && i.temperature - lowest.temperature <= CHART_TOLERANCE);
        Some(Floor {
            temperature: lowest.temperature,
            whole_set,
            invariant: lowest,
            uncovered: elements
                .iter()
                .copied()
                .filter(|e| !within.iter().any(|i| i.elements.contains(e)))
                .collect(),
        })
    }

    /// Everything published as melting without range, in the order of the file.
    pub fn invariants(&self) -> &[Invariant] {
        &self.invariants
    }

    /// The document of that key.
    pub fn source(&self, id: &str) -> Option<&Source> {
        self.sources.get(id)
    }

    /// All documents, by key.
    pub fn sources(&self) -> impl Iterator<Item = &Source> {
        self.sources.values()
    }

    /// What the user has on the shelf, in the order of the user's file.
    pub fn stock(&self) -> &[StockItem] {
        &self.stock
    }

    pub(super) fn names(&self) -> &Names {
        &self.names
    }

    /// What a typed name means; see [`NameFault`] for what is asked back.
    ///
    /// # Errors
    /// [`NameFault`], with candidates, near names or a suggestion; nothing is ever guessed.
    pub fn find(&self, typed: &str) -> Result<Understood, NameFault> {
        names::find(self, typed)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn composition(parts: &[(Element, f64)]) -> Composition {
        Composition::from_parts(parts).unwrap()
    }

    #[test]
    fn the_shipped_table_is_readable() {
        let built = AlloyBook::read_built().unwrap();
        let read = AlloyBook::of_files(
            yaml::read(ALLOYS).unwrap(),
            yaml::read(SOURCES).unwrap(),
            yaml::read(NAMES).unwrap(),
            yaml::read(INVARIANTS).unwrap(),
        )
        .unwrap();
        assert!(!built.alloys().is_empty());
        assert_eq!(format!("{built:?}"), format!("{read:?}"));
    }

    #[test]
    fn a_composition_counts_as_an_alloy_only_with_its_element_set_and_shares() {
        use Element::{Bi, Ni, Pb, Sn};
        let book = AlloyBook::shipped();
        let name =
            |parts: &[(Element, f64)]| book.matching(&composition(parts)).map(|a| a.name.as_str());
        assert_eq!(name(&[(Sn, 42.0), (Bi, 58.0)]), Some("Bi58Sn42"));
        assert_eq!(name(&[(Sn, 42.25), (Bi, 57.75)]), Some("Bi58Sn42"));
        assert_eq!(
            name(&[(Sn, 41.95), (Bi, 58.0), (Ni, 0.05)]),
            Some("Bi58Sn42")
        );
        assert_eq!(
            name(&[(Sn, 41.995), (Bi, 57.995), (Pb, 0.01)]),
            Some("Bi58Sn42")
        );
        assert_eq!(name(&[(Sn, 41.98), (Bi, 58.0), (Pb, 0.02)]), None);
        // 0.4 mass% from Bi58Sn42 and 0.6 from Bi57Sn43.
        assert_eq!(name(&[(Sn, 42.4), (Bi, 57.6)]), None);
        assert_eq!(name(&[(Sn, 50.0), (Bi, 50.0)]), None);
    }

    #[test]
    fn a_file_of_the_user_is_checked_as_strictly() {
        let book = AlloyBook::shipped();
        let text = "stock:\n  - {alloy: Sn63Pb37, note: two spools}\nalloys:\n  - alloy: \
                    Bi57Sn42.4Ag0.6\n    use_c: 138/141\n    why: label of the jar\n    \
                    readings_c: {own: 138/141}\n";
        let mine = book.with_user_file(text).unwrap();
        assert!(mine.get("Bi57Sn42.4Ag0.6").unwrap().own);
        assert_eq!(mine.stock()[0].alloy, "Sn63Pb37");
        for (bad, want) in [
            (
                "138/141",
                ("361/361", "a solidus of 361 °C is not believable"),
            ),
            (
                "138/141",
                (
                    "141/138",
                    "the solidus 141 °C lies above the liquidus 138 °C",
                ),
            ),
            ("own: 138", ("oven: 138", "`oven` is not among the sources")),
            (
                "Bi57Sn42.4Ag0.6",
                ("Bi57Sn44Ag0.6", "the shares sum to 101.60: want 100"),
            ),
            (
                "Bi57Sn42.4Ag0.6",
                ("Sn42.4Bi57Ag0.6", "write it `Bi57Sn42.4Ag0.6`"),
            ),
            (
                "Bi57Sn42.4Ag0.6",
                ("Bi57Sn43", "the key `why` stands twice"),
            ),
            ("alloy: Sn63Pb37", ("alloy: Sn36Pb37", "sum to 73.00")),
        ] {
            let mut bad_text = text.replacen(bad, want.0, 1);
            if want.1.contains("twice") {
                bad_text = text.replace("    why:", "    why: x\n    why:");
            }
            let faults = book.with_user_file(&bad_text).unwrap_err();
            assert!(faults[0].message.contains(want.1), "{faults:?}");
            assert!(faults[0].place.is_some());
        }
        let taken =
            "sources:\n  indium_blog: {title: t, publisher: p, year: y, address: a, kind: own}\n";
        let faults = book.with_user_file(taken).unwrap_err();
        assert!(faults[0].message.contains("another name"), "{faults:?}");
        assert!(faults[0].place.is_some());
    }
}
