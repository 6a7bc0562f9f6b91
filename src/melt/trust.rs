//! How far the phase data of an element set are trusted.

use std::collections::BTreeMap;
use std::sync::OnceLock;

use serde::Deserialize;

use super::book::TrustClass;
use crate::alloy::{Composition, Element};
use crate::quantity::{KelvinStep, Share};
use crate::yaml::{self, Fault};

const CLASSES: &str = include_str!("../../alloys/phases/classes.yaml");

/// Uncertainty of class A: 2 K at the first melt, 4 K at flow (design value, from the comparison
/// in `alloys/phases/classes.yaml`).
const A: (KelvinStep, KelvinStep) = (KelvinStep::whole(2), KelvinStep::whole(4));
/// Of class B: 8 K both ways, unless a row says more. Also what a reading alone is worth where the
/// phase data have no say.
pub(super) const B: (KelvinStep, KelvinStep) = (KelvinStep::whole(8), KelvinStep::whole(8));

/// Class and uncertainties.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Trust {
    pub(super) class: TrustClass,
    pub(super) u_first_melt: KelvinStep,
    pub(super) u_flow: KelvinStep,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct ClassFile {
    format: u32,
    classes: Vec<Row>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Row {
    #[serde(default)]
    within: Vec<String>,
    #[serde(default)]
    has: Vec<String>,
    #[serde(default)]
    has_any: Vec<String>,
    #[serde(default)]
    most: BTreeMap<String, f64>,
    #[serde(default)]
    least: BTreeMap<String, f64>,
    class: String,
    u_first_melt: Option<f64>,
    u_flow: Option<f64>,
    why: String,
}

#[derive(Debug)]
struct Rule {
    within: Vec<Element>,
    has: Vec<Element>,
    has_any: Vec<Element>,
    most: Vec<(Element, Share)>,
    least: Vec<(Element, Share)>,
    trust: Trust,
}

/// The trust in the phase data for a composition; class C where no row matches.
pub(super) fn of(composition: &Composition) -> Trust {
    let rule = rules().iter().find(|rule| rule.matches(composition));
    rule.map_or(
        Trust {
            class: TrustClass::C,
            u_first_melt: B.0,
            u_flow: B.1,
        },
        |rule| rule.trust,
    )
}

#[expect(
    clippy::expect_used,
    reason = "embedded data; `the_classes_are_readable` reads it"
)]
fn rules() -> &'static [Rule] {
    static RULES: OnceLock<Vec<Rule>> = OnceLock::new();
    RULES.get_or_init(|| read().expect("the trust classes are readable"))
}

fn read() -> Result<Vec<Rule>, Fault> {
    let file: ClassFile = yaml::read(CLASSES)?;
    if file.format != 1 {
        return Err(Fault::of_file(format!(
            "format {} is not understood",
            file.format
        )));
    }
    file.classes.iter().map(Row::rule).collect()
}

impl Row {
    fn rule(&self) -> Result<Rule, Fault> {
        let (class, (u_first_melt, u_flow)) = match self.class.as_str() {
            "A" => (TrustClass::A, A),
            "B" => (TrustClass::B, B),
            "C" => (TrustClass::C, B),
            other => return Err(Fault::of_file(format!("class `{other}` ({})", self.why))),
        };
        let more = |said: Option<f64>, usual: KelvinStep| match said {
            Some(kelvin) => KelvinStep::new(kelvin).map(|said| said.max(usual)),
            None => Ok(usual),
        };
        let wrong = |why: crate::quantity::NotAQuantity| Fault::of_file(why.to_string());
        Ok(Rule {
            within: elements(&self.within)?,
            has: elements(&self.has)?,
            has_any: elements(&self.has_any)?,
            most: limits(&self.most)?,
            least: limits(&self.least)?,
            trust: Trust {
                class,
                u_first_melt: more(self.u_first_melt, u_first_melt).map_err(wrong)?,
                u_flow: more(self.u_flow, u_flow).map_err(wrong)?,
            },
        })
    }
}

fn element(symbol: &str) -> Result<Element, Fault> {
    symbol
        .parse()
        .map_err(|why: crate::alloy::UnknownElement| Fault::of_file(why.to_string()))
}

fn elements(symbols: &[String]) -> Result<Vec<Element>, Fault> {
    symbols.iter().map(|symbol| element(symbol)).collect()
}

fn limits(limits: &BTreeMap<String, f64>) -> Result<Vec<(Element, Share)>, Fault> {
    let limits = limits.iter().map(|(symbol, percent)| {
        let share = Share::from_percent(*percent).map_err(|why| Fault::of_file(why.to_string()))?;
        Ok((element(symbol)?, share))
    });
    limits.collect()
}

impl Rule {
    fn matches(&self, composition: &Composition) -> bool {
        let there = |element: Element| composition.share(element) > Share::NONE;
        let within = self.within.is_empty()
            || composition
                .parts()
                .all(|(element, _)| self.within.contains(&element));
        let has = self.has.iter().all(|&element| there(element));
        let has_any = self.has_any.is_empty() || self.has_any.iter().any(|&e| there(e));
        let most = self
            .most
            .iter()
            .all(|(e, most)| composition.share(*e) <= *most);
        let least = self
            .least
            .iter()
            .all(|(e, least)| composition.share(*e) >= *least);
        within && has && has_any && most && least
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn class(parts: &[(Element, f64)]) -> TrustClass {
        of(&Composition::from_parts(parts).unwrap()).class
    }

    #[test]
    fn the_classes_are_readable() {
        assert!(read().unwrap().len() > 20);
    }

    #[test]
    fn what_no_row_covers_has_no_computed_answer() {
        use Element::{Ag, Bi, In, Pb, Sn, Zn};
        assert_eq!(class(&[(Sn, 63.0), (Pb, 37.0)]), TrustClass::A);
        assert_eq!(class(&[(Sn, 50.0), (In, 40.0), (Bi, 10.0)]), TrustClass::C);
        assert_eq!(class(&[(Sn, 90.0), (Zn, 9.0), (Ag, 1.0)]), TrustClass::C);
        assert_eq!(class(&[(Sn, 80.0), (Ag, 20.0)]), TrustClass::C);
    }
}
