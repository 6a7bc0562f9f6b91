//! What layers of metal have become after they were at a temperature.

use crate::melt::{Contact, History, Layer};
use crate::quantity::Celsius;

use super::metal;
use super::setting::Setting;

/// Layers after a peak: one alloy where all of it was liquid, dissolved where their mixture was
/// liquid and at least one of them melted (given time), as before where neither is sure.
pub fn settle(
    setting: &Setting,
    layers: &[Layer],
    contact: Contact,
    peak: Celsius,
) -> (Vec<Layer>, Contact) {
    let melted = |layer: &Layer| {
        let melt = setting.melt(std::slice::from_ref(layer), Contact::Layers);
        melt.flow.is_some_and(|flow| peak >= flow)
    };
    let Some(mix) = metal::mixed(layers) else {
        return (Vec::new(), Contact::Layers);
    };
    let refrozen = layers.iter().map(|layer| {
        if melted(layer) {
            frozen(layer)
        } else {
            layer.clone()
        }
    });
    if layers.len() == 1 {
        return (refrozen.collect(), Contact::Layers);
    }
    if layers.iter().all(melted) {
        return after_all_melted(layers, mix);
    }
    let known = !mix.unstated && !mix.unknown;
    if known && layers.iter().any(melted) && melted(&mix) {
        return (refrozen.collect(), Contact::Dissolved);
    }
    (refrozen.collect(), contact)
}

/// All of it was liquid. Where masses are not known, every mixture must still be reckoned with.
fn after_all_melted(layers: &[Layer], mix: Layer) -> (Vec<Layer>, Contact) {
    let same = layers
        .windows(2)
        .all(|pair| pair[0].blend.composition() == pair[1].blend.composition());
    if mix.unknown || (mix.unstated && !same) {
        (layers.iter().map(frozen).collect(), Contact::Layers)
    } else {
        (vec![mix], Contact::Layers)
    }
}

fn frozen(layer: &Layer) -> Layer {
    Layer {
        history: History::Frozen,
        ..layer.clone()
    }
}
