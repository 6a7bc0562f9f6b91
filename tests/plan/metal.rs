//! Metal of the naive bench: deposits, balls, what a wick leaves, what freezes together.

use meltstair::alloy::Blend;
use meltstair::job::{Amount, Content, Solder};
use meltstair::melt::{Contact, History, Layer, MeltBook};
use meltstair::quantity::{Celsius, Mass, Share};

pub fn known(content: &Content) -> &Solder {
    match content {
        Content::Known(solder) => solder,
        Content::Reel(_) => panic!("the naive bench knows no reels"),
    }
}

pub fn fresh(solder: &Solder, amount: Amount) -> Layer {
    let Amount::Mass(mass) = amount else {
        panic!("the naive bench wants masses");
    };
    Layer {
        blend: Blend::of(&solder.composition, mass),
        history: History::Frozen,
        unstated: false,
        unknown: false,
    }
}

pub fn ball(solder: &Solder, diameter_mm: f64) -> Layer {
    let volume = std::f64::consts::PI * diameter_mm.powi(3) / 6.0;
    let density = solder.composition.density().unwrap().g_cm3();
    fresh(
        solder,
        Amount::Mass(Mass::from_mg(volume * density).unwrap()),
    )
}

pub fn together(metal: &[Layer]) -> Layer {
    let blend = metal
        .iter()
        .skip(1)
        .fold(metal[0].blend, |sum, layer| sum.with(&layer.blend));
    Layer {
        blend,
        ..metal[0].clone()
    }
}

/// What a wick leaves on a pad.
fn film(layer: &Layer, area_mm2: f64, um: f64) -> Layer {
    let density = layer
        .blend
        .composition()
        .unwrap()
        .density()
        .unwrap()
        .g_cm3();
    let kept = Mass::from_mg(density * (area_mm2 * (um / 1000.0)))
        .unwrap()
        .mg();
    let share = Share::nearest(kept / layer.blend.total().mg());
    Layer {
        blend: layer.blend.part(share),
        ..layer.clone()
    }
}

/// Flooded and wicked as often as said, each round mixing with all that is there; without a round
/// wicked only.
pub fn wicked(
    metal: &[Layer],
    rounds: u32,
    flood: Option<&(Solder, Mass)>,
    area_mm2: f64,
    film_um: Option<f64>,
) -> Option<Layer> {
    let there = (!metal.is_empty()).then(|| together(metal));
    let Some((solder, mass)) = flood.filter(|_| rounds > 0) else {
        return there.map(|layer| film(&layer, area_mm2, film_um.unwrap_or(10.0)));
    };
    let fresh = fresh(solder, Amount::Mass(*mass));
    let mut left = there;
    for _ in 0..rounds {
        let puddle = match &left {
            Some(left) => together(&[left.clone(), fresh.clone()]),
            None => fresh.clone(),
        };
        left = Some(film(&puddle, area_mm2, film_um.unwrap_or(2.0)));
    }
    left
}

pub fn flow(melts: &MeltBook, metal: &[Layer], contact: Contact) -> Option<i32> {
    let melt = melts.of_joint(metal, contact);
    melt.flow.map(Celsius::millidegrees)
}

pub fn flow_point(melts: &MeltBook, metal: &[Layer], contact: Contact) -> Option<i32> {
    let melt = melts.of_joint(metal, contact);
    melt.flow_point.map(Celsius::millidegrees)
}

/// What metal is after it was at a temperature.
pub fn frozen(
    melts: &MeltBook,
    metal: &[Layer],
    contact: Contact,
    t: i32,
) -> (Vec<Layer>, Contact) {
    if metal.len() <= 1 {
        return (metal.to_vec(), Contact::Layers);
    }
    let melted = |layer: &Layer| {
        flow(melts, std::slice::from_ref(layer), Contact::Layers).is_some_and(|flow| flow <= t)
    };
    let one = together(metal);
    if metal.iter().all(melted) {
        return (vec![one], Contact::Layers);
    }
    if metal.iter().any(melted) && melted(&one) {
        return (metal.to_vec(), Contact::Dissolved);
    }
    (metal.to_vec(), contact)
}

/// How a joint comes out of what it sees.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Fate {
    Solid,
    /// No more than a trace is liquid.
    Trace,
    Liquid,
    Unknown,
}

/// Survival less what it sees, and how it comes out.
pub fn fate(
    melts: &MeltBook,
    metal: &[Layer],
    contact: Contact,
    t: Option<i32>,
) -> (Option<i32>, Fate) {
    let melt = melts.of_joint(metal, contact);
    let (Some(survival), Some(t)) = (melt.survival, t) else {
        return (None, Fate::Unknown);
    };
    let seen = Celsius::nearest(f64::from(t) / 1000.0);
    let kept = survival.millidegrees() - t;
    let fate = match melt.liquid_at(seen) {
        _ if kept > 0 => Fate::Solid,
        Some(share) if share.fraction() == 0.0 => Fate::Solid,
        Some(share) if share.fraction() < 0.001 => Fate::Trace,
        // From its survival temperature on it melts, and nobody knows how little of it.
        _ => Fate::Liquid,
    };
    (Some(kept), fate)
}
