//! The alloy table as the melt book asks it.

use crate::alloy::{AlloyBook, Composition, Element, Standing};

use super::book::{Reading, Readings, SetFloor, TableEntry};

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

    fn floor(&self, composition: &Composition, elements: &[Element]) -> Option<SetFloor> {
        let floor = self.floor_in(composition, elements)?;
        Some(SetFloor {
            temperature: floor.temperature,
            of: floor.invariant.elements.clone(),
            whole: (floor.whole_set)
                .then(|| self.floor_of(elements))
                .flatten()
                .map(|lowest| lowest.temperature),
        })
    }
}
