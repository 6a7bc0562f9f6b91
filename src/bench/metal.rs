//! Moving metal about: mixing layers, films that a wick leaves, rounds of flood-and-wick.

use crate::alloy::{Blend, Composition, Element};
use crate::job::{Amount, Finish, Pad, Solder};
use crate::melt::{Contact, History, Layer};
use crate::quantity::{Area, Density, Length, Mass, Share};

/// Mass that stands for "not said": only ratios to it are ever used, and every ratio is reckoned with.
pub const UNSTATED: Mass = Mass::from_picograms(1_000_000_000);

/// What flows by itself of layers: each of them, or where one has dissolved the others all as one.
pub fn flowing(layers: &[Layer], contact: Contact) -> Vec<Layer> {
    match contact {
        Contact::Layers => layers.to_vec(),
        Contact::Dissolved => mixed(layers).into_iter().collect(),
    }
}

/// The layers melted together and frozen; `None` where there is no metal.
pub fn mixed(layers: &[Layer]) -> Option<Layer> {
    let first = layers.first()?;
    if let [only] = layers {
        return Some(Layer {
            history: History::Frozen,
            ..only.clone()
        });
    }
    let blend = layers
        .iter()
        .skip(1)
        .fold(first.blend, |sum, layer| sum.with(&layer.blend));
    Some(Layer {
        blend,
        history: History::Frozen,
        unstated: layers.iter().any(|layer| layer.unstated),
        unknown: layers.iter().any(|layer| layer.unknown),
    })
}

/// Mass of solder in an amount of it.
pub fn mass_of(amount: Amount, composition: &Composition) -> Option<Mass> {
    let density = composition.density().ok()?;
    match amount {
        Amount::Mass(mass) => Some(mass),
        Amount::Metal(volume) => density.times_mm3(volume.mm3()).ok(),
        Amount::Paste { volume, metal } => {
            let paste = paste_density(density, metal)?;
            paste.times_mm3(volume.mm3() * metal.fraction()).ok()
        }
        Amount::Unstated => None,
    }
}

/// Density of a paste: `1 / (w/ρ_metal + (1−w)/ρ_flux)` with flux at 1.0 g/cm³ (common
/// practice, no source).
fn paste_density(metal_density: Density, metal: Share) -> Option<Density> {
    let volume = metal.fraction() / metal_density.g_cm3() + (1.0 - metal.fraction());
    Density::from_g_cm3(1.0 / volume).ok()
}

/// Solder as a layer; an amount that was not said becomes [`UNSTATED`].
pub fn layer(solder: &Solder, amount: Amount, history: History) -> Layer {
    let mass = mass_of(amount, &solder.composition);
    Layer {
        blend: Blend::of(&solder.composition, mass.unwrap_or(UNSTATED)),
        history,
        unstated: mass.is_none(),
        unknown: false,
    }
}

/// Metal whose composition nobody knows.
pub fn unknown_layer() -> Layer {
    Layer {
        blend: Blend::default(),
        history: History::Frozen,
        unstated: true,
        unknown: true,
    }
}

/// What stays of a layer as a film on a pad. Never more than there was; where the pad or the mass
/// is not known, all of it in an unstated amount.
pub fn film(layer: &Layer, area: Option<Area>, thickness: Length) -> Layer {
    let kept = area
        .filter(|_| !layer.unstated)
        .and_then(|area| film_mass(&layer.blend, area, thickness))
        .map(|mass| share_kept(mass, layer.blend.total()));
    match kept {
        Some(share) => Layer {
            blend: layer.blend.part(share),
            history: History::Frozen,
            ..layer.clone()
        },
        None => Layer {
            history: History::Frozen,
            unstated: true,
            ..layer.clone()
        },
    }
}

fn film_mass(blend: &Blend, area: Area, thickness: Length) -> Option<Mass> {
    let density = blend.composition()?.density().ok()?;
    density.times_mm3(area.mm2() * thickness.mm()).ok()
}

fn share_kept(kept: Mass, total: Mass) -> Share {
    if total == Mass::ZERO {
        return Share::ALL;
    }
    Share::nearest(kept.mg() / total.mg())
}

/// Fresh solder of a clean-up round.
pub fn flooded(residue: &Layer, solder: &Solder, mass: Mass) -> Layer {
    Layer {
        blend: residue.blend.with(&Blend::of(&solder.composition, mass)),
        ..residue.clone()
    }
}

/// Whether a finish goes into the solder whole.
pub fn dissolves(finish: &Finish) -> bool {
    !matches!(finish.element, Element::Cu | Element::Ni)
}

/// The finish of a pad goes into the first metal that is molten on it (all of it: our judgement, on the side of
/// more foreign metal). Where nobody said how much solder there is, nobody knows what it becomes.
///
/// Copper goes in as far as the liquid takes it: [`super::copper`]. Nickel hardly goes in (tin and nickel
/// melt at 231 °C, a kelvin below tin; memory: Massalski, Binary Alloy Phase Diagrams, 1990) and is no
/// other element set up to 0.1 mass% (design).
pub fn take_finish(pad: Option<Pad>, layer: &mut Layer) {
    let Some((pad, finish)) = pad.and_then(|pad| Some((pad, pad.finish.filter(dissolves)?))) else {
        return;
    };
    layer.blend = layer.blend.with(&finish_blend(&pad, &finish));
    layer.unknown |= layer.unstated && finish.thickness.um() > 0.0;
}

/// Metal of a pad finish that dissolves into the joint.
pub fn finish_blend(pad: &Pad, finish: &Finish) -> Blend {
    let element = Composition::pure(finish.element);
    let mass = Density::from_g_cm3(finish.element.density_g_cm3())
        .and_then(|density| density.times_mm3(pad.area.mm2() * finish.thickness.mm()));
    mass.map(|mass| Blend::of(&element, mass))
        .unwrap_or_default()
}

/// Mass share of an element in layers taken together.
pub fn share_of(layers: &[Layer], element: Element) -> Share {
    let total: u64 = layers.iter().map(|l| l.blend.total().picograms()).sum();
    let part: u64 = layers
        .iter()
        .map(|l| l.blend.mass_of(element).picograms())
        .sum();
    if total == 0 {
        Share::NONE
    } else {
        Share::nearest(part as f64 / total as f64)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::policy;
    use approx::assert_relative_eq;

    fn solder(parts: &[(Element, f64)]) -> Solder {
        let composition = Composition::from_parts(parts).unwrap();
        Solder {
            name: composition.to_string(),
            composition,
        }
    }

    /// By hand, with element densities: a 10 µm leaded film on a 0.30 mm pad weighs 0.005938 mg; flooded with
    /// 0.20 mg of clean Bi58Sn42 the puddle holds 1.067 % lead, then 0.03076 %, then 0.00089 %.
    #[test]
    fn rounds_of_flood_and_wick_dilute_as_computed_by_hand() {
        use Element::{Bi, Pb, Sn};
        let leaded = solder(&[(Sn, 63.0), (Pb, 37.0)]);
        let fresh = solder(&[(Bi, 58.0), (Sn, 42.0)]);
        let pad = Area::from_mm2(std::f64::consts::PI * 0.15 * 0.15).unwrap();
        let plenty = layer(
            &leaded,
            Amount::Mass(Mass::from_mg(1.0).unwrap()),
            History::Frozen,
        );
        let mut residue = film(&plenty, Some(pad), policy::WICKED_FILM);
        assert_relative_eq!(residue.blend.total().mg(), 0.005_938, max_relative = 0.001);
        for want in [1.067, 0.030_76, 0.000_89] {
            let puddle = flooded(&residue, &fresh, Mass::from_mg(0.2).unwrap());
            let lead = puddle.blend.composition().unwrap().share(Pb).percent();
            // The hand arithmetic keeps the mass of the film, we its thickness: the film of the
            // denser alloy is 1.9 % heavier, and that compounds over the rounds.
            assert_relative_eq!(lead, want, max_relative = 0.04);
            residue = film(&puddle, Some(pad), policy::WICKED_FILM);
        }
    }

    /// By hand, the same: leaded paste with 90 mass% metal has 4.828 g/cm³; 0.36 ×
    /// 0.12 mm aperture at 0.90 transfer gives 0.0478 mg of metal.
    #[test]
    fn paste_is_half_flux_by_volume() {
        let leaded = solder(&[(Element::Sn, 63.0), (Element::Pb, 37.0)]);
        let volume = std::f64::consts::PI * 0.18 * 0.18 * 0.12 * 0.9;
        let amount = Amount::Paste {
            volume: crate::quantity::Volume::from_mm3(volume).unwrap(),
            metal: Share::new(0.9).unwrap(),
        };
        assert_relative_eq!(
            mass_of(amount, &leaded.composition).unwrap().mg(),
            0.0478,
            max_relative = 0.002
        );
    }
}
