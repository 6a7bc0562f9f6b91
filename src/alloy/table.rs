//! The shapes of the table: alloys, readings, sources, invariants.

use super::{Composition, Element};
use crate::policy;
use crate::quantity::{Celsius, Density, Share};

/// One alloy of the table or of the user's own file.
#[derive(Clone, Debug)]
pub struct Alloy {
    /// Canonical name: `Sn63Pb37`.
    pub name: String,
    /// Mass shares.
    pub composition: Composition,
    /// Every published reading, also those that are not used.
    pub readings: Vec<Reading>,
    /// The pair that the program plans with.
    pub in_use: InUse,
    /// Stated, or computed by the rule of mixtures.
    pub density: AlloyDensity,
    /// What it is usually used for.
    pub uses: Option<String>,
    /// What to beware of.
    pub cautions: Vec<String>,
    /// Whether all its readings go back to one origin.
    pub single_source: bool,
    /// Whether the user's own file brought it.
    pub own: bool,
}

impl Alloy {
    /// Above the legal limit for "lead-free", 0.1 mass%.
    pub fn has_lead(&self) -> bool {
        self.percent(Element::Pb) > policy::LEAD_LIMIT.percent()
    }

    /// Above the legal limit of 0.01 mass%.
    pub fn has_cadmium(&self) -> bool {
        self.percent(Element::Cd) > policy::CADMIUM_LIMIT.percent()
    }

    /// Any gold as a constituent.
    pub fn has_gold(&self) -> bool {
        self.percent(Element::Au) > 0.0
    }

    /// Flags for output: `lead`, `cadmium`, `mercury`, `gold`, `single_source`, `own`.
    pub fn flags(&self) -> Vec<&'static str> {
        [
            ("lead", self.has_lead()),
            ("cadmium", self.has_cadmium()),
            ("mercury", self.percent(Element::Hg) > 0.0),
            ("gold", self.has_gold()),
            ("single_source", self.single_source),
            ("own", self.own),
        ]
        .into_iter()
        .filter_map(|(flag, set)| set.then_some(flag))
        .collect()
    }

    /// The lowest solidus of the readings that are not refuted, or the one in use if lower: what a
    /// survival temperature may not exceed.
    pub fn lowest_credible(&self) -> Celsius {
        self.credible()
            .filter_map(|r| r.solidus)
            .fold(self.in_use.solidus, Celsius::min)
    }

    /// The highest liquidus of the readings that are not refuted, or the one in use if higher.
    pub fn highest_credible(&self) -> Celsius {
        self.credible()
            .filter_map(|r| r.liquidus)
            .fold(self.in_use.liquidus, Celsius::max)
    }

    fn credible(&self) -> impl Iterator<Item = &Reading> {
        self.readings
            .iter()
            .filter(|r| r.standing != Standing::Refuted)
    }

    fn percent(&self, element: Element) -> f64 {
        self.composition.share(element).percent()
    }
}

/// What one document prints for an alloy.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Reading {
    /// First liquid on heating.
    pub solidus: Option<Celsius>,
    /// Last solid gone.
    pub liquidus: Option<Celsius>,
    /// Key into the sources.
    pub source: String,
    /// `false`: recalled from the publication, not read.
    pub seen: bool,
    /// How far it is believed.
    pub standing: Standing,
    /// What is odd about it; for a refuted one the reason.
    pub note: Option<String>,
}

impl Reading {
    /// Whether it counts as a source of this alloy.
    pub fn counts(&self) -> bool {
        matches!(self.standing, Standing::Used | Standing::Shown)
    }
}

/// How far a reading is believed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Standing {
    /// The pair in use spans it.
    Used,
    /// Shown, but says less than it seems: a single value, a copy, a family.
    Shown,
    /// Shown; printed for a family, the composition was assigned by us: no source of its own.
    Family,
    /// Shown, and known to be wrong; never used.
    Refuted,
}

/// The solidus and liquidus that the program plans with, and why these.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct InUse {
    /// The lowest that is credible.
    pub solidus: Celsius,
    /// The highest that is credible.
    pub liquidus: Celsius,
    /// One sentence.
    pub why: String,
}

/// Density of the solid near room temperature, and where it comes from.
#[derive(Clone, Debug, PartialEq)]
pub struct AlloyDensity {
    /// The value.
    pub value: Density,
    /// Key into the sources; `None`: computed, `1 / Σ (w_i / ρ_i)`.
    pub source: Option<String>,
}

/// A document.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Source {
    /// Key, as readings cite it.
    pub id: String,
    /// Title or what was read of it.
    pub title: String,
    /// Who published it.
    pub publisher: String,
    /// Year or years, `n.d.` where none is printed.
    pub year: String,
    /// Web address, or `memory`.
    pub address: String,
    /// Datasheet, handbook, paper, standard, encyclopedia.
    pub kind: SourceKind,
    /// Documents of one origin copy from each other and count once.
    pub origin: String,
    /// Whether it reports own measurements, own product or own standard.
    pub primary: bool,
    /// `false`: recalled, not read.
    pub seen: bool,
}

/// What kind of document a source is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Deserialize, serde::Serialize)]
#[serde(rename_all = "snake_case")]
pub enum SourceKind {
    /// A maker's or supplier's own page on its product.
    Datasheet,
    /// A table collected by somebody.
    Handbook,
    /// A measurement, or an assessment of measurements.
    Paper,
    /// A standard or a certified reference.
    Standard,
    /// An encyclopedia.
    Encyclopedia,
    /// The user's own word.
    Own,
}

/// A published temperature at which a set of elements melts without range.
#[derive(Clone, Debug, PartialEq)]
pub struct Invariant {
    /// The elements, in the order of their symbols.
    pub elements: Vec<Element>,
    /// Composition of the liquid, where it is printed.
    pub composition: Option<Composition>,
    /// At which it melts.
    pub temperature: Celsius,
    /// Eutectic or peritectic.
    pub kind: InvariantKind,
    /// Key into the sources.
    pub source: String,
    /// `false`: recalled, not read.
    pub seen: bool,
    /// Known to be wrong: shown, never a floor.
    pub refuted: bool,
    /// What is odd about it.
    pub note: Option<String>,
}

/// What happens at an invariant on heating.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Deserialize, serde::Serialize)]
#[serde(rename_all = "snake_case")]
pub enum InvariantKind {
    /// Solids melt into one liquid between them: a floor.
    Eutectic,
    /// A solid turns into liquid and another solid: no floor of the whole set.
    Peritectic,
}

/// The lowest temperature at which any blend of some elements is known to melt.
#[derive(Clone, Debug)]
pub struct Floor<'a> {
    /// The temperature.
    pub temperature: Celsius,
    /// Whether the invariant is one of *all* the elements; if not, the true floor may lie lower and
    /// a verdict is at best `close`.
    pub whole_set: bool,
    /// Where it comes from.
    pub invariant: &'a Invariant,
    /// Elements of the set that stand in none of its published invariants.
    pub uncovered: Vec<Element>,
}

/// A spool, jar or box of balls on the user's shelf.
#[derive(Clone, Debug, PartialEq)]
pub struct StockItem {
    /// Canonical name of the alloy.
    pub alloy: String,
    /// The user's words about it.
    pub note: Option<String>,
}

/// Elements that change neither name nor element set while below 0.1 mass%: Ni, Ge, P, Co, Fe.
///
/// Common practice of makers, who add them to tin-copper and tin-silver-copper; our judgement that
/// they move no invariant noticeably.
pub fn is_neutral(element: Element, share: Share) -> bool {
    use Element::{Co, Fe, Ge, Ni, P};
    matches!(element, Ni | Ge | P | Co | Fe) && share.percent() <= NEUTRAL_PERCENT + ROUNDING
}

/// Up to here an addition of [`is_neutral`] is neutral, mass%.
const NEUTRAL_PERCENT: f64 = 0.1;
/// Up to here an element that an alloy does not list is no part of it, mass%.
pub const TRACE_PERCENT: f64 = 0.01;
/// How far a listed element may be off, mass%.
const LISTED_PERCENT: f64 = 0.3;
/// So that limits written in decimals hold for their binary neighbours, mass%.
const ROUNDING: f64 = 1e-9;

/// The elements that decide how a composition melts: without traces up to 0.01 mass% and without
/// neutral additions.
pub fn element_set(composition: &Composition) -> Vec<Element> {
    composition
        .parts()
        .filter(|&(element, share)| {
            share.percent() > TRACE_PERCENT + ROUNDING && !is_neutral(element, share)
        })
        .map(|(element, _)| element)
        .collect()
}

/// How far (mass%) a composition lies beyond what still counts as an alloy, up to one per cent: of the elements that the
/// alloy lists beyond 0.3 %, of all others beyond a trace or what is neutral.
pub(super) fn beyond(composition: &Composition, alloy: &Composition) -> Option<f64> {
    let mut beyond = 0.0_f64;
    for element in Element::all() {
        let (share, listed) = (composition.share(element), alloy.share(element).percent());
        // What the alloy lists and the metal lacks makes it another one.
        if listed > TRACE_PERCENT && share.percent() <= TRACE_PERCENT {
            return None;
        }
        let allowed = if listed > 0.0 {
            LISTED_PERCENT
        } else if is_neutral(element, Share::nearest(0.0)) {
            NEUTRAL_PERCENT
        } else {
            TRACE_PERCENT
        };
        beyond = beyond.max((share.percent() - listed).abs() - allowed);
        if beyond > NEARLY_PERCENT {
            return None;
        }
    }
    Some(beyond)
}

/// So far beyond what counts as it a metal is still nearly an alloy, mass%.
const NEARLY_PERCENT: f64 = 1.0;

/// How far a composition is from an alloy's, in mass%, if it counts as that alloy: the same element
/// set, each listed element within 0.3 mass%, every other at most 0.01 mass% (neutral additions
/// 0.1 mass%).
pub(super) fn distance(composition: &Composition, alloy: &Composition) -> Option<f64> {
    let off = Element::all()
        .map(|e| (composition.share(e).percent() - alloy.share(e).percent()).abs())
        .fold(0.0, f64::max);
    // Nearly all of the table is told apart by its shares, which costs less than the sets.
    let near = off <= LISTED_PERCENT + ROUNDING;
    (near && element_set(composition) == element_set(alloy)).then_some(off)
}
