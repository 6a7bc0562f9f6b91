//! The elements that a solder joint may hold.

use std::fmt;
use std::str::FromStr;

/// An element that the program can name. Only the *covered* ones have assessed phase data.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[expect(missing_docs, reason = "each variant is a chemical symbol")]
pub enum Element {
    Ag,
    Al,
    As,
    Au,
    Bi,
    Cd,
    Co,
    Cu,
    Fe,
    Ga,
    Ge,
    Hg,
    In,
    Ni,
    P,
    Pb,
    Pd,
    Pt,
    Sb,
    Si,
    Sn,
    Zn,
}

/// Symbol, density in g/cm³ near 20 °C, molar mass in g/mol.
///
/// Densities: CRC Handbook of Chemistry and Physics, physical constants of the elements (memory).
/// Molar masses: IUPAC standard atomic weights, abridged (memory); those of the nine covered
/// elements are the ones of the phase data.
const FACTS: [(Element, &str, f64, f64); Element::COUNT] = [
    (Element::Ag, "Ag", 10.49, 107.8682),
    (Element::Al, "Al", 2.70, 26.982),
    (Element::As, "As", 5.75, 74.922),
    (Element::Au, "Au", 19.30, 196.966_57),
    (Element::Bi, "Bi", 9.78, 208.9804),
    (Element::Cd, "Cd", 8.69, 112.414),
    (Element::Co, "Co", 8.86, 58.933),
    (Element::Cu, "Cu", 8.96, 63.546),
    (Element::Fe, "Fe", 7.87, 55.845),
    (Element::Ga, "Ga", 5.91, 69.723),
    (Element::Ge, "Ge", 5.32, 72.630),
    (Element::Hg, "Hg", 13.53, 200.592),
    (Element::In, "In", 7.31, 114.818),
    (Element::Ni, "Ni", 8.90, 58.693),
    (Element::P, "P", 1.82, 30.974),
    (Element::Pb, "Pb", 11.34, 207.2),
    (Element::Pd, "Pd", 12.0, 106.42),
    (Element::Pt, "Pt", 21.5, 195.084),
    (Element::Sb, "Sb", 6.68, 121.76),
    (Element::Si, "Si", 2.33, 28.085),
    (Element::Sn, "Sn", 7.29, 118.71),
    (Element::Zn, "Zn", 7.134, 65.38),
];

impl Element {
    /// How many there are.
    pub const COUNT: usize = 22;

    /// All of them, in the order of their symbols.
    pub fn all() -> impl Iterator<Item = Element> {
        FACTS.iter().map(|facts| facts.0)
    }

    /// Position in [`Element::all`].
    pub const fn index(self) -> usize {
        self as usize
    }

    /// `Sn`, `Pb`, …
    pub fn symbol(self) -> &'static str {
        FACTS[self.index()].1
    }

    /// What it is called: `tin`, `lead`, …
    pub const fn english(self) -> &'static str {
        match self {
            Element::Ag => "silver",
            Element::Al => "aluminium",
            Element::As => "arsenic",
            Element::Au => "gold",
            Element::Bi => "bismuth",
            Element::Cd => "cadmium",
            Element::Co => "cobalt",
            Element::Cu => "copper",
            Element::Fe => "iron",
            Element::Ga => "gallium",
            Element::Ge => "germanium",
            Element::Hg => "mercury",
            Element::In => "indium",
            Element::Ni => "nickel",
            Element::P => "phosphorus",
            Element::Pb => "lead",
            Element::Pd => "palladium",
            Element::Pt => "platinum",
            Element::Sb => "antimony",
            Element::Si => "silicon",
            Element::Sn => "tin",
            Element::Zn => "zinc",
        }
    }

    /// In g/cm³ near 20 °C.
    pub fn density_g_cm3(self) -> f64 {
        FACTS[self.index()].2
    }

    /// In g/mol.
    pub fn molar_mass_g(self) -> f64 {
        FACTS[self.index()].3
    }

    /// Place in a canonical alloy name where shares tie: Sn Pb Bi In Ag Cu Sb Zn Cd Au Ni Ge, then
    /// the rest by symbol.
    pub fn naming_rank(self) -> usize {
        use Element::{Ag, Au, Bi, Cd, Cu, Ge, In, Ni, Pb, Sb, Sn, Zn};
        const ORDER: [Element; 12] = [Sn, Pb, Bi, In, Ag, Cu, Sb, Zn, Cd, Au, Ni, Ge];
        ORDER
            .iter()
            .position(|&e| e == self)
            .unwrap_or(ORDER.len() + self.index())
    }

    /// Whether the phase data handle it: nine metals that solder is made of, and nickel as far as solder takes it up.
    pub fn is_covered(self) -> bool {
        use Element::{Ag, Au, Bi, Cu, In, Ni, Pb, Sb, Sn, Zn};
        matches!(self, Ag | Au | Bi | Cu | In | Ni | Pb | Sb | Sn | Zn)
    }
}

impl fmt::Display for Element {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.symbol())
    }
}

/// Not the symbol of an element that solder may hold.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("`{0}` is not the symbol of an element known in solder")]
pub struct UnknownElement(pub String);

impl FromStr for Element {
    type Err = UnknownElement;

    /// Any case: `sn`, `SN`, `Sn`.
    fn from_str(text: &str) -> Result<Self, UnknownElement> {
        FACTS
            .iter()
            .find(|facts| facts.1.eq_ignore_ascii_case(text))
            .map(|facts| facts.0)
            .ok_or_else(|| UnknownElement(text.to_owned()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_table_stands_in_the_order_of_the_enum() {
        for (place, element) in Element::all().enumerate() {
            assert_eq!(element.index(), place, "{element}");
            assert_eq!(element.symbol().parse(), Ok(element));
        }
    }
}
