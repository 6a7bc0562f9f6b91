//! What the rest of the program asks about melting: one answer a blend or joint, with its basis.
//!
//! The curve of a composition ([`super::curve`]) is computed; what a technician may rely on also
//! depends on published readings, on how well the phase data are known, on what a job pins, and on
//! how the joint froze. All of that is decided here, once.

use std::sync::Arc;

use crate::alloy::{Composition, Element};
use crate::quantity::{Celsius, KelvinStep, Share};

use super::curve::Curve;
use super::layer::History;

/// On what an answer rests.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Basis {
    /// A table alloy: its readings, together with the computed curve.
    Measured,
    /// The curve from assessed phase data, widened by their uncertainty.
    Computed,
    /// Only a published invariant of the elements, or of the lowest of their subsets.
    Floor,
    /// Nothing to rest on: never assumed safe.
    Unknown,
}

/// How well the phase data of an element set are known.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum TrustClass {
    /// Published or fitted, and checked: 2 K at first melt, 4 K at the liquidus.
    A,
    /// Usable: 8 K.
    B,
    /// Not to be trusted: no computed answer.
    C,
}

/// Readings that a job pins for an alloy.
#[derive(Clone, Debug, PartialEq)]
pub struct Pin {
    /// For a clean deposit of this composition (every share within 0.01 mass%).
    pub composition: Composition,
    /// Taken as exact.
    pub solidus: Celsius,
    /// Taken as exact.
    pub liquidus: Celsius,
}

/// A published reading of a table alloy.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Reading {
    /// Where it was read: key of a source.
    pub source: String,
    /// As published.
    pub solidus: Option<Celsius>,
    /// As published.
    pub liquidus: Option<Celsius>,
}

/// What the table knows of an alloy near a composition.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TableEntry {
    /// Canonical name.
    pub name: String,
    /// All readings, refuted ones too.
    pub readings: Vec<Reading>,
    /// Solidus in use.
    pub solidus: Celsius,
    /// Liquidus in use.
    pub liquidus: Celsius,
}

/// The published facts that the book rests on; the alloy table offers them.
pub trait Readings: Send + Sync {
    /// The table alloy of the same element set, each listed element within 0.3 mass%, every other
    /// at most 0.01 mass%.
    fn near(&self, composition: &Composition) -> Option<TableEntry>;
    /// The lowest that readings say of alloys which it is not, but nearly: each loosened by how far it is off, so that no
    /// rounding takes a reading away.
    fn nearly(&self, _composition: &Composition) -> Option<Celsius> {
        None
    }
    /// The lowest published eutectic of these elements (in the order of [`Element::all`]) or of any subset
    /// of them, as far as the blend holds enough of each to make liquid that counts of it.
    fn floor(&self, composition: &Composition, elements: &[Element]) -> Option<SetFloor>;
}

/// The lowest published eutectic among some elements.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SetFloor {
    /// As published, u not taken off.
    pub temperature: Celsius,
    /// Whose it is.
    pub of: Vec<Element>,
    /// Lowest published eutectic of *all* the elements or any of them, whether the blend can hold liquid of it or
    /// not; `None` where none of all is published, or only one far above that of a subset: then theirs may
    /// lie lower than any.
    pub whole: Option<Celsius>,
}

/// A table without entries.
#[derive(Clone, Copy, Debug, Default)]
pub struct NoReadings;

impl Readings for NoReadings {
    fn near(&self, _: &Composition) -> Option<TableEntry> {
        None
    }
    fn floor(&self, _: &Composition, _: &[Element]) -> Option<SetFloor> {
        None
    }
}

/// What moved an answer, or should be told beside it.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Doubt {
    /// Bismuth, lead and tin together, each at least 0.02 mass%: melts from about 95 °C.
    BismuthLeadTin,
    /// A published solidus lies below the computed one and is used.
    ReadingBelowComputed {
        /// The reading.
        reading: Celsius,
        /// The computed value.
        computed: Celsius,
    },
    /// The computed first melt lies more than u below the published solidus.
    ComputedBelowReading {
        /// The reading.
        reading: Celsius,
        /// The computed value.
        computed: Celsius,
    },
    /// The published solidus and the computed one agree, and the alloy as frozen on a bench starts to melt
    /// more than u below them: it is segregated.
    FrozenBelowReading {
        /// The reading.
        reading: Celsius,
        /// First melt as frozen.
        frozen: Celsius,
    },
    /// The class of the element set is an extrapolation (B).
    ExtrapolatedClass,
    /// The floor is that of a subset of the elements: a verdict is at best `close`.
    FloorOfSubset,
    /// So much was taken off what is known of a subset, since the others may melt lower with it.
    Distance {
        /// What is known: a published eutectic, or the first melt of those that have phase data.
        known: Celsius,
        /// Elements that stand in none of it.
        left_out: Vec<Element>,
        /// How much.
        off: KelvinStep,
    },
    /// A published eutectic of some of the elements lies lower than all else and counts.
    FloorCounts {
        /// The eutectic.
        floor: Celsius,
        /// Whose.
        of: Vec<Element>,
    },
    /// Weak phase data (class C) put the first melt lower than what is printed; as a lower bound they count.
    WeakBound {
        /// First melt by them.
        bound: Celsius,
        /// Mass share liquid there.
        share: Share,
        /// Their uncertainty.
        u: KelvinStep,
    },
    /// An element that took no part: too little of it, or an addition taken as neutral.
    Dropped {
        /// Which one.
        element: Element,
        /// How much of it there is.
        share: Share,
    },
    /// No assessed data for this element.
    NotCovered {
        /// Which one.
        element: Element,
    },
    /// Gallium or mercury: nothing may be assumed.
    LiquidMetal {
        /// Which of them.
        element: Element,
    },
    /// The assessed data of this element set are too weak to be used.
    WeakData,
    /// Crystals remain far above the flow point.
    CrystalsAboveFlow {
        /// Mass share not yet liquid at the flow temperature.
        share: Share,
        /// The flow temperature.
        flow: Celsius,
        /// Strict liquidus.
        liquidus: Celsius,
    },
    /// Two deposits of the joint mix on the way to something lower than both.
    MixLowerThanLayers,
    /// A mixture of solders came out as melting only above all that went into it. That cannot be, so
    /// something in the data or the engine is wrong and the answer is thrown away.
    DoesNotAddUp {
        /// What came out, u taken off.
        survival: Celsius,
        /// The highest liquidus of what went in.
        highest: Celsius,
    },
    /// The solver gave up; the floor is used.
    NotConverged {
        /// What it said.
        why: String,
    },
}

/// When a blend, or a joint, melts, and how sure that is.
#[derive(Clone, Debug, PartialEq)]
pub struct Melt {
    /// On what it rests.
    pub basis: Basis,
    /// Class of the phase data; `None` where they have no say.
    pub class: Option<TrustClass>,
    /// Uncertainty at the first melt; subtracted once in [`Melt::survival`].
    pub u: KelvinStep,
    /// Uncertainty at flow; added once in [`Melt::flow`].
    pub u_flow: KelvinStep,
    /// Credible first melt, without u.
    pub first_melt: Option<Celsius>,
    /// Mass share liquid there, at once, where known.
    pub first_melt_share: Option<Share>,
    /// Less than 0.1 mass% that melts lower: temperature and share.
    pub trace: Option<(Celsius, Share)>,
    /// Below it nothing that counts is liquid. `None`: unknown, never assumed safe.
    pub survival: Option<Celsius>,
    /// Equilibrium solidus, or the reading in use if lower.
    pub solidus: Option<Celsius>,
    /// At least 98 mass% liquid, uncertainty added. `None`: unknown.
    pub flow: Option<Celsius>,
    /// The same without u.
    pub flow_point: Option<Celsius>,
    /// Strict liquidus: an upper bound.
    pub liquidus: Option<Celsius>,
    /// The computed curve, where there is one.
    pub curve: Option<Arc<Curve>>,
    /// The table alloy that it is near to.
    pub table: Option<TableEntry>,
    /// What moved the answer.
    pub doubts: Vec<Doubt>,
    /// Of a joint of layers: each layer's mass share and its own answer, for the liquid share while
    /// they have not become one. Empty for one blend, and where masses are not known.
    pub(super) layers: Vec<(Share, Arc<Melt>)>,
    /// How it froze.
    pub(super) history: History,
}

impl Melt {
    /// Nothing known: the answer for a composition that is not.
    pub fn unknown() -> Self {
        Melt {
            basis: Basis::Unknown,
            class: None,
            u: KelvinStep::ZERO,
            u_flow: KelvinStep::ZERO,
            first_melt: None,
            first_melt_share: None,
            trace: None,
            survival: None,
            solidus: None,
            flow: None,
            flow_point: None,
            liquidus: None,
            curve: None,
            table: None,
            doubts: Vec::new(),
            layers: Vec::new(),
            history: History::Frozen,
        }
    }

    /// The same answer, and no more how much is liquid when.
    pub(super) fn without_curve(&self) -> Self {
        Melt {
            curve: None,
            ..self.clone()
        }
    }

    /// Whether it, or metal of the joint that it is of, rests on what is known of some of its elements only: no
    /// proof of anything, at best `close`.
    pub fn is_of_subset(&self) -> bool {
        self.doubts.contains(&Doubt::FloorOfSubset)
    }

    /// Largest credible mass share liquid at a temperature; `None` where it is not known.
    ///
    /// The curve is moved down so that it starts at [`Melt::survival`]: below that the share is
    /// none, from there on never none. Traces below the first melt are not counted here; see
    /// [`Melt::trace`]. For layers that may not have become one, the larger of the full mixture's
    /// share and the sum of the layers'.
    pub fn liquid_at(&self, t: Celsius) -> Option<Share> {
        let survival = self.survival?;
        if t < survival {
            return Some(Share::NONE);
        }
        if self.layers.is_empty() {
            return self.share_from(survival, t);
        }
        let mut sum = 0.0;
        for (share, layer) in &self.layers {
            sum += share.fraction() * layer.liquid_at(t)?.fraction();
        }
        let whole = self.share_from(survival, t)?;
        Some(whole.max(Share::nearest(sum)))
    }

    /// Share of the curve as if it started at the survival temperature; a curve whose pair of
    /// readings is a single temperature is liquid at once.
    fn share_from(&self, survival: Celsius, t: Celsius) -> Option<Share> {
        let Some(curve) = &self.curve else {
            return (self.solidus == self.liquidus && self.solidus.is_some()).then_some(Share::ALL);
        };
        let start = match self.history {
            History::AsBought => curve.solidus,
            History::Frozen => curve.first_melt.min(curve.solidus),
        };
        let moved = t + (start - survival).max(KelvinStep::ZERO);
        let share = curve.liquid_at(moved, self.history);
        let share = share.max(curve.liquid_at(moved, History::AsBought));
        Some(share.max(LEAST_LIQUID))
    }
}

/// What is liquid from the survival temperature on, at least: the share that defines first melt.
const LEAST_LIQUID: Share = Share::THOUSANDTH;
