//! What an alloy ladder shows, as plain data.

use crate::quantity::Celsius;

/// Alloys by what they melt at, for the wall.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Ladder {
    /// Heading.
    pub title: String,
    /// In the order in which they are drawn, top first.
    pub groups: Vec<Group>,
    /// Pairs that make something which melts lower than either; may be empty.
    pub never_meet: Vec<NeverMeet>,
    /// Small print, a line each.
    pub notes: Vec<String>,
}

/// Alloys that belong together: "tin and lead".
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Group {
    /// Heading of the group.
    pub name: String,
    /// In the order in which they are drawn.
    pub rows: Vec<Bar>,
}

/// One alloy, from solidus to liquidus.
#[derive(Clone, Debug, PartialEq)]
pub struct Bar {
    /// Canonical name.
    pub alloy: String,
    /// Where it starts to melt.
    pub solidus: Celsius,
    /// Where the last crystal is gone.
    pub liquidus: Celsius,
    /// "lead", "cadmium", "gold": each also gets a letter in a box.
    pub flags: Vec<String>,
    /// A few words: "one source", "removal only"; may be empty.
    pub note: String,
    /// Whether it is on the user's shelf.
    pub in_stock: bool,
}

/// Two alloys that must not touch.
#[derive(Clone, Debug, PartialEq)]
pub struct NeverMeet {
    /// One of them.
    pub one: String,
    /// The other.
    pub other: String,
    /// Where the lowest mixture of them starts to melt.
    pub melts_at: Celsius,
    /// Why, in a few words.
    pub reason: String,
}

/// The sheet that a ladder is printed on.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Paper {
    /// 210 × 297 mm, upright.
    #[default]
    A4,
    /// 297 × 210 mm.
    A4Landscape,
    /// 297 × 420 mm, upright.
    A3,
    /// 420 × 297 mm.
    A3Landscape,
}
