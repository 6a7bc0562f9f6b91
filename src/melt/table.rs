//! The alloy table as the melt book asks it.

use crate::alloy::{AlloyBook, Composition, Element, Standing};

use crate::quantity::{Celsius, KelvinStep};

use super::book::{Reading, Readings, SetFloor, TableEntry};

/// A reading loosens by so much for each mass% that a metal is off the alloy it was printed for, beyond what still counts as
/// that alloy (our judgement: no impurity is known that lifts the first melt of a solder by more).
const LOOSENS: KelvinStep = KelvinStep::whole(100);

impl Readings for AlloyBook {
    fn near(&self, composition: &Composition) -> Option<TableEntry> {
        let alloy = self.matching(composition)?;
        let readings = alloy
            .readings
            .iter()
            .filter(|r| r.standing != Standing::Refuted);
        Some(TableEntry {
            name: alloy.name.clone(),
            readings: readings
                .map(|reading| Reading {
                    source: reading.source.clone(),
                    solidus: reading.solidus,
                    liquidus: reading.liquidus,
                })
                .collect(),
            solidus: alloy.lowest_credible(),
            liquidus: alloy.in_use.liquidus,
        })
    }

    fn nearly(&self, composition: &Composition) -> Option<Celsius> {
        self.nearly_matching(composition)
            .map(|(beyond, alloy)| alloy.lowest_credible() + LOOSENS.scaled(beyond))
            .min()
    }

    fn floor(&self, composition: &Composition, elements: &[Element]) -> Option<SetFloor> {
        let floor = self.floor_in(composition, elements)?;
        Some(SetFloor {
            temperature: floor.temperature,
            of: floor.invariant.elements.clone(),
            whole: (floor.whole_set)
                .then(|| self.floor_of(elements))
                .flatten()
                .filter(|lowest| self.settles(lowest.invariant, composition, elements))
                .map(|lowest| lowest.temperature),
        })
    }
}
