//! What a metal consists of: shares ([`Composition`]) or masses ([`Blend`]).

use std::fmt;

use super::Element;
use crate::quantity::{Density, Mass, NotAQuantity, Share};

/// Mass shares of the elements; they sum to 1.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Composition {
    shares: [f64; Element::COUNT],
}

/// Why a list of shares is no composition.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum NotAComposition {
    /// Nothing in it.
    #[error("no element is named")]
    Empty,
    /// A share below zero, or not a number.
    #[error("{element} {percent} % is not a share: want a number from 0 to 100")]
    BadShare {
        /// Whose share.
        element: Element,
        /// As offered.
        percent: f64,
    },
    /// An element named twice.
    #[error("{0} is named twice")]
    Twice(Element),
}

impl Composition {
    /// From mass parts of any scale; they are divided by their sum.
    ///
    /// # Errors
    /// [`NotAComposition`] if empty, an element stands twice, or a part is negative or no number.
    pub fn from_parts(parts: &[(Element, f64)]) -> Result<Self, NotAComposition> {
        let mut shares = [0.0; Element::COUNT];
        let mut seen = [false; Element::COUNT];
        for &(element, part) in parts {
            if !(part.is_finite() && part >= 0.0) {
                return Err(NotAComposition::BadShare {
                    element,
                    percent: part,
                });
            }
            if seen[element.index()] {
                return Err(NotAComposition::Twice(element));
            }
            seen[element.index()] = true;
            shares[element.index()] = part;
        }
        let sum: f64 = shares.iter().sum();
        if !(sum > 0.0 && sum.is_finite()) {
            return Err(NotAComposition::Empty);
        }
        Ok(Composition {
            shares: shares.map(|s| s / sum),
        })
    }

    /// A pure element.
    pub fn pure(element: Element) -> Self {
        let mut shares = [0.0; Element::COUNT];
        shares[element.index()] = 1.0;
        Composition { shares }
    }

    /// Mass share of one element.
    pub fn share(&self, element: Element) -> Share {
        Share::nearest(self.shares[element.index()])
    }

    /// Elements with a share above zero, in the order of their symbols.
    pub fn parts(&self) -> impl Iterator<Item = (Element, Share)> + '_ {
        Element::all()
            .map(|e| (e, self.share(e)))
            .filter(|(_, share)| share.fraction() > 0.0)
    }

    /// The same, largest share first, ties in the naming order.
    pub fn parts_by_share(&self) -> Vec<(Element, Share)> {
        let mut parts: Vec<_> = self.parts().collect();
        parts.sort_by(|a, b| {
            b.1.cmp(&a.1)
                .then(a.0.naming_rank().cmp(&b.0.naming_rank()))
        });
        parts
    }

    /// Amount (mole) shares: `x_i = (w_i / M_i) / Σ (w_j / M_j)`, in the order of [`Element::all`].
    pub fn mole_shares(&self) -> [Share; Element::COUNT] {
        let mut moles = [0.0; Element::COUNT];
        for element in Element::all() {
            moles[element.index()] = self.shares[element.index()] / element.molar_mass_g();
        }
        let sum: f64 = moles.iter().sum();
        moles.map(|m| Share::nearest(m / sum))
    }

    /// Density from the rule of mixtures by volume, `1 / Σ (w_i / ρ_i)`; alloys deviate by 1–2 %.
    ///
    /// # Errors
    /// Never in practice: the elements' densities bound the result.
    pub fn density(&self) -> Result<Density, NotAQuantity> {
        let volume: f64 = Element::all()
            .map(|e| self.shares[e.index()] / e.density_g_cm3())
            .sum();
        Density::from_g_cm3(1.0 / volume)
    }
}

/// The canonical name: descending mass %, ties in the naming order: `Bi58Sn42`, `Sn43Pb43Bi14`.
/// Shares are printed to 0.01 %, trailing zeros cut; shares below 0.005 % are left out.
impl fmt::Display for Composition {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mut name = String::new();
        for (element, share) in self.parts_by_share() {
            let percent = (share.percent() * 100.0).round() / 100.0;
            if percent > 0.0 {
                name.push_str(element.symbol());
                name.push_str(&percent.to_string());
            }
        }
        f.pad(&name)
    }
}

/// Masses of the elements in whole picograms: what a deposit or a joint is made of.
///
/// Integers, so that mixing in any order gives the same blend, bit for bit.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Blend {
    picograms: [u64; Element::COUNT],
}

impl Blend {
    /// So much of that.
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "shares are 0 to 1, masses at most 1 kg"
    )]
    pub fn of(composition: &Composition, mass: Mass) -> Self {
        let total = mass.picograms() as f64;
        Blend {
            picograms: composition.shares.map(|s| (s * total).round() as u64),
        }
    }

    /// Everything of both.
    #[must_use]
    pub fn with(&self, other: &Blend) -> Self {
        let mut picograms = self.picograms;
        for (mine, theirs) in picograms.iter_mut().zip(other.picograms) {
            *mine = mine.saturating_add(theirs);
        }
        Blend { picograms }
    }

    /// A share of it, in the same composition (each element rounded to a picogram).
    #[must_use]
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a share of a mass that fits"
    )]
    pub fn part(&self, share: Share) -> Self {
        Blend {
            picograms: self
                .picograms
                .map(|m| (m as f64 * share.fraction()).round() as u64),
        }
    }

    /// Mass of one element.
    pub fn mass_of(&self, element: Element) -> Mass {
        Mass::from_picograms(self.picograms[element.index()])
    }

    /// All of it.
    pub fn total(&self) -> Mass {
        Mass::from_picograms(self.picograms.iter().copied().fold(0, u64::saturating_add))
    }

    /// Its mass shares; `None` where there is nothing.
    pub fn composition(&self) -> Option<Composition> {
        let total = self.total().picograms();
        if total == 0 {
            return None;
        }
        Some(Composition {
            shares: self.picograms.map(|m| m as f64 / total as f64),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    fn percent(parts: &[(Element, f64)]) -> Composition {
        Composition::from_parts(parts).unwrap()
    }

    #[test]
    fn canonical_names_descend_and_ties_follow_the_trade() {
        use Element::{Bi, Pb, Sn};
        assert_eq!(percent(&[(Sn, 42.0), (Bi, 58.0)]).to_string(), "Bi58Sn42");
        assert_eq!(
            percent(&[(Bi, 14.0), (Pb, 43.0), (Sn, 43.0)]).to_string(),
            "Sn43Pb43Bi14"
        );
    }

    /// By hand: a 0.30 mm Bi58Sn42 ball (0.1209 mg) on a Sn63Pb37 dome (0.01539 mg); lead is
    /// 0.37 · 0.01539 of 0.1363 mg.
    #[test]
    fn a_blend_is_a_mass_balance() {
        use Element::{Bi, Pb, Sn};
        let ball = Blend::of(
            &percent(&[(Sn, 42.0), (Bi, 58.0)]),
            Mass::from_mg(0.1209).unwrap(),
        );
        let dome = Blend::of(
            &percent(&[(Sn, 63.0), (Pb, 37.0)]),
            Mass::from_mg(0.01539).unwrap(),
        );
        let joint = ball.with(&dome);
        assert_eq!(joint, dome.with(&ball));
        let shares = joint.composition().unwrap();
        assert_relative_eq!(shares.share(Sn).percent(), 44.37, epsilon = 0.01);
        assert_relative_eq!(shares.share(Bi).percent(), 51.45, epsilon = 0.01);
        assert_relative_eq!(shares.share(Pb).percent(), 4.179, epsilon = 0.003);
    }

    /// By hand, 1 / Σ (w/ρ) with the element densities of the CRC Handbook (from memory): 63/37 8.400
    /// (a solder list prints 8.40), 96.5/3/0.5 7.364 (7.38), 42/58 8.553, 80/20 Au-Sn 14.52.
    #[test]
    fn densities_follow_the_rule_of_mixtures() {
        use Element::{Ag, Au, Bi, Cu, Pb, Sn};
        for (parts, want) in [
            (vec![(Sn, 63.0), (Pb, 37.0)], 8.400),
            (vec![(Sn, 96.5), (Ag, 3.0), (Cu, 0.5)], 7.364),
            (vec![(Sn, 42.0), (Bi, 58.0)], 8.553),
            (vec![(Au, 80.0), (Sn, 20.0)], 14.52),
        ] {
            let got = percent(&parts).density().unwrap().g_cm3();
            assert_relative_eq!(got, want, max_relative = 0.001);
        }
    }

    /// By hand, with 118.71 and 208.98 g/mol: 42/58 Sn-Bi is 0.35380/0.27754 mol, 56.04/43.96 at%.
    #[test]
    fn mole_shares_convert_by_molar_mass() {
        use Element::{Bi, Sn};
        let moles = percent(&[(Sn, 42.0), (Bi, 58.0)]).mole_shares();
        assert_relative_eq!(moles[Sn.index()].percent(), 56.04, epsilon = 0.01);
    }
}
