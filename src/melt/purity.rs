//! Metal as sold: named for what it is meant to be, and with what the standard lets it hold beside that.

use std::collections::BTreeMap;
use std::sync::{Arc, OnceLock};

use serde::Deserialize;

use super::book::{Melt, TrustClass};
use super::joint::MeltBook;
use super::layer::History;
use crate::alloy::{Composition, Element, element_set};
use crate::quantity::Share;
use crate::yaml::{self, Fault};

const LIMITS: &str = include_str!(concat!(env!("OUT_DIR"), "/alloys/impurities.yaml.json"));

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    format: u32,
    /// The document.
    source: String,
    most: BTreeMap<String, f64>,
}

/// An alloy with as much of one element as the standard allows.
#[derive(Clone, Debug)]
pub struct Impure {
    /// Which element.
    pub element: Element,
    /// How much of it is allowed.
    pub most: Share,
    /// When that melts.
    pub melt: Arc<Melt>,
}

impl MeltBook {
    /// A fresh metal with each allowed impurity, one at a time, at its limit: what survives least first. Elements that it
    /// consists of are none.
    pub fn as_sold(&self, composition: &Composition) -> Vec<Impure> {
        let named = element_set(composition);
        let mut all: Vec<Impure> = (limits().iter())
            .filter(|(element, _)| !named.contains(element))
            .filter_map(|&(element, most)| {
                let with = with(composition, element, most)?;
                let melt = self.of_composition(&with, History::Frozen);
                Some(Impure {
                    element,
                    most,
                    melt,
                })
            })
            .collect();
        all.sort_by_key(|impure| impure.melt.survival);
        all
    }

    /// The same metal with the one impurity, at its limit, that makes it survive least. `None` where none does, where
    /// no data of class A or B say so, and for metal whose readings a job takes as exact: that spool is known.
    pub fn worst_as_sold(&self, composition: &Composition) -> Option<Composition> {
        let pure = self.of_composition(composition, History::Frozen);
        if self.pins(composition) {
            return None;
        }
        let all = self.as_sold(composition);
        let known =
            |impure: &&Impure| matches!(impure.melt.class, Some(TrustClass::A | TrustClass::B));
        let worst = all.iter().find(known)?;
        (worst.melt.survival < pure.survival)
            .then(|| with(composition, worst.element, worst.most))
            .flatten()
    }
}

/// So much of an element in place of as much of all others.
fn with(composition: &Composition, element: Element, share: Share) -> Option<Composition> {
    let rest = 1.0 - share.fraction();
    let others = composition.parts().filter(|part| part.0 != element);
    let parts: Vec<(Element, f64)> = others
        .map(|(other, part)| (other, part.fraction() * rest))
        .chain([(element, share.fraction())])
        .collect();
    Composition::from_parts(&parts).ok()
}

#[expect(
    clippy::expect_used,
    reason = "embedded data; `the_limits_are_readable` reads it"
)]
fn limits() -> &'static [(Element, Share)] {
    static LIMITS: OnceLock<Vec<(Element, Share)>> = OnceLock::new();
    LIMITS.get_or_init(|| read().expect("the limits of impurities are readable"))
}

fn read() -> Result<Vec<(Element, Share)>, Fault> {
    let file: File = yaml::read_built(LIMITS)?;
    if file.format != 1 || file.source.is_empty() {
        return Err(Fault::of_file(format!("format {}", file.format)));
    }
    let read = file.most.iter().map(|(symbol, &percent)| {
        let element = symbol.parse();
        let element = element.map_err(|why: crate::alloy::UnknownElement| why.to_string());
        let share = Share::from_percent(percent).map_err(|why| why.to_string());
        Ok((
            element.map_err(Fault::of_file)?,
            share.map_err(Fault::of_file)?,
        ))
    });
    read.collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_limits_are_readable() {
        assert!(read().unwrap().len() >= 9);
        let file: File = yaml::read_built(LIMITS).unwrap();
        assert!(file.source.contains("memory"));
    }
}
