//! Metal that lies in a joint: layers that touch, and what is known of each.

use crate::alloy::Blend;

/// How a piece of metal came to be solid; decides which start of melting counts.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum History {
    /// As bought: homogenised, the equilibrium solidus counts.
    AsBought,
    /// Melted and frozen on a bench: segregated, the as-frozen (Scheil–Gulliver) curve counts.
    Frozen,
}

/// One deposit of metal in a joint, in one member of it.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Layer {
    /// Its elements, in picograms.
    pub blend: Blend,
    /// How it froze.
    pub history: History,
    /// Its mass was not said: every ratio to what it touches must be reckoned with.
    pub unstated: bool,
    /// Nobody knows what it is.
    pub unknown: bool,
}

/// Whether layers that touch have become one liquid.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Contact {
    /// They touch; between them every mixture exists. A single layer is this too.
    Layers,
    /// The lower-melting one has dissolved the other below its own melting point: the joint flows
    /// as the full mixture, cores may be left.
    Dissolved,
}
