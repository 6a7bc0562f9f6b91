//! How far the phase data of an element set are trusted.

use std::collections::BTreeMap;
use std::sync::OnceLock;

use serde::Deserialize;

use super::book::TrustClass;
use crate::alloy::{Composition, Element};
use crate::quantity::{KelvinStep, Share};
use crate::yaml::{self, Fault};

const CLASSES: &str = include_str!(concat!(env!("OUT_DIR"), "/alloys/phases/classes.yaml.json"));

/// Uncertainty of class A: 2 K at the first melt, 4 K at flow (design value, from the comparison
/// in `alloys/phases/classes.yaml`).
pub(super) const A: (KelvinStep, KelvinStep) = (KelvinStep::whole(2), KelvinStep::whole(4));
/// Of class B: 8 K both ways, unless a row says more. Also what a reading alone is worth where the
/// phase data have no say.
pub(super) const B: (KelvinStep, KelvinStep) = (KelvinStep::whole(8), KelvinStep::whole(8));
/// Of class C, unless a row says more: no answer, a lower bound (our judgement: the worst error of class B and a
/// margin).
const C: (KelvinStep, KelvinStep) = (KelvinStep::whole(16), KelvinStep::whole(16));
/// Beyond the limits of its row a blend is trusted less by so many kelvins each mass%, so that no class begins
/// with a jump (our judgement: the worst of class B is reached within two per cent).
const EACH_PERCENT: f64 = 8.0;
/// So far beyond a limit (mass%) it is still the row's class: rounding, and what a supplier's alloy may be off.
const ROUNDING: f64 = 0.05;

/// Class and uncertainties.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Trust {
    pub(super) class: TrustClass,
    pub(super) u_first_melt: KelvinStep,
    pub(super) u_flow: KelvinStep,
    /// Every published invariant of the elements is in the data and was met by them: none is needed as a floor.
    pub(super) checked: bool,
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
    #[serde(default)]
    checked: bool,
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

/// The trust in the phase data for a composition of which these elements take part. Shares are those of the
/// whole: what is left out lifts none of the others over a limit. Of all rows for the elements the one that
/// trusts them most counts; class C where all trust them less than that class does.
pub(super) fn of(composition: &Composition, set: &[Element]) -> Trust {
    let (computed, weak): (Vec<&Rule>, Vec<&Rule>) = (rules().iter())
        .filter(|rule| rule.is_for(set))
        .partition(|rule| rule.trust.class != TrustClass::C);
    let best = computed
        .into_iter()
        .map(|rule| rule.trust.beyond(rule.beyond(composition)))
        .min_by_key(|trust| trust.u_first_melt)
        .filter(|trust| trust.u_first_melt <= C.0);
    let weak = weak.first().map(|rule| rule.trust);
    best.or(weak).unwrap_or(Trust {
        class: TrustClass::C,
        u_first_melt: C.0,
        u_flow: C.1,
        checked: false,
    })
}

impl Trust {
    /// So many mass% beyond the limits of a row.
    fn beyond(self, percent: f64) -> Self {
        if percent <= 0.0 {
            return self;
        }
        let more = KelvinStep::new(EACH_PERCENT * percent).unwrap_or(C.0);
        let rounds = percent <= ROUNDING;
        Trust {
            class: if rounds {
                self.class
            } else {
                self.class.max(TrustClass::B)
            },
            u_first_melt: self.u_first_melt + more,
            u_flow: self.u_flow + more,
            checked: self.checked,
        }
    }
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
    let file: ClassFile = yaml::read_built(CLASSES)?;
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
            "C" => (TrustClass::C, C),
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
                checked: self.checked || class == TrustClass::A,
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
    /// Whether it speaks of these elements.
    fn is_for(&self, set: &[Element]) -> bool {
        let there = |element: &Element| set.contains(element);
        (self.within.is_empty() || set.iter().all(|element| self.within.contains(element)))
            && self.has.iter().all(there)
            && (self.has_any.is_empty() || self.has_any.iter().any(there))
    }

    /// How far a composition lies beyond the limits, in mass%; 0 within them.
    fn beyond(&self, composition: &Composition) -> f64 {
        let percent = |element: Element| composition.share(element).percent();
        let over = (self.most.iter()).map(|(e, most)| percent(*e) - most.percent());
        let under = (self.least.iter()).map(|(e, least)| least.percent() - percent(*e));
        over.chain(under).fold(0.0, f64::max)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn trust(parts: &[(Element, f64)]) -> Trust {
        let composition = Composition::from_parts(parts).unwrap();
        of(&composition, &crate::alloy::element_set(&composition))
    }

    fn class(parts: &[(Element, f64)]) -> TrustClass {
        trust(parts).class
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
