//! The alloy table as the melt book asks it.

use crate::alloy::{AlloyBook, Composition, Element, Standing};
use crate::quantity::Celsius;

use super::book::{Reading, Readings, TableEntry};

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

    fn invariant(&self, elements: &[Element]) -> Option<Celsius> {
        let floor = self.floor_of(elements)?;
        floor.whole_set.then_some(floor.temperature)
    }
}
