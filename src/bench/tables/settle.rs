//! What layers become, at, below and above what each of them flows at.

use super::{Desk, milli};
use crate::bench::metal;
use crate::bench::settle::settle;
use crate::job::Amount;
use crate::melt::{Contact, History, Layer};
use crate::quantity::Mass;

struct Metal {
    desk: Desk,
}

impl Metal {
    fn new() -> Self {
        Metal {
            desk: Desk::new("stock: [63/37, 42/58]\njoints: [{id: a}]\n"),
        }
    }

    /// As bought, so that what was molten shows.
    fn layer(&self, stock: usize, mg: Option<f64>) -> Layer {
        let amount = mg.map_or(Amount::Unstated, |mg| {
            Amount::Mass(Mass::from_mg(mg).unwrap())
        });
        metal::layer(&self.desk.job.stock[stock], amount, History::AsBought)
    }

    fn settled(
        &self,
        layers: &[Layer],
        contact: Contact,
        millidegrees: i32,
    ) -> (Vec<Layer>, Contact) {
        settle(&self.desk.setting(), layers, contact, milli(millidegrees))
    }
}

fn frozen(layer: &Layer) -> Layer {
    Layer {
        history: History::Frozen,
        ..layer.clone()
    }
}

#[test]
fn one_metal_is_frozen_anew_from_its_flow_on() {
    let metal = Metal::new();
    let lead = metal.layer(0, Some(1.0));
    let one = std::slice::from_ref(&lead);
    assert_eq!(
        metal.settled(one, Contact::Layers, 182_999),
        (vec![lead.clone()], Contact::Layers)
    );
    assert_eq!(
        metal.settled(one, Contact::Layers, 183_000),
        (vec![frozen(&lead)], Contact::Layers)
    );
    assert_eq!(
        metal.settled(&[], Contact::Dissolved, 300_000),
        (vec![], Contact::Layers)
    );
}

#[test]
fn layers_become_one_where_each_of_them_was_liquid() {
    let metal = Metal::new();
    let (lead, bismuth) = (metal.layer(0, Some(0.01)), metal.layer(1, Some(1.0)));
    let both = [lead.clone(), bismuth.clone()];
    let mix = metal::mixed(&both).unwrap();
    let flow = metal
        .desk
        .setting()
        .melt(std::slice::from_ref(&mix), Contact::Layers)
        .flow
        .unwrap();
    // Tin and bismuth with 0.4 % of lead flow a little off 138 °C, surely below 183.
    assert!(flow > milli(138_000) && flow < milli(183_000), "{flow:?}");
    let to = flow.millidegrees();
    // Nothing flowed: all as before, the contact too.
    for contact in [Contact::Layers, Contact::Dissolved] {
        assert_eq!(
            metal.settled(&both, contact, 137_999),
            (both.to_vec(), contact)
        );
    }
    // One flowed, their mixture not: they touch as before.
    let refrozen = vec![lead.clone(), frozen(&bismuth)];
    assert_eq!(
        metal.settled(&both, Contact::Layers, 138_000),
        (refrozen.clone(), Contact::Layers)
    );
    assert_eq!(
        metal.settled(&both, Contact::Layers, to - 1),
        (refrozen.clone(), Contact::Layers)
    );
    // One flowed, and their mixture: the other dissolves, given time.
    assert_eq!(
        metal.settled(&both, Contact::Layers, to),
        (refrozen.clone(), Contact::Dissolved)
    );
    assert_eq!(
        metal.settled(&both, Contact::Layers, 182_999),
        (refrozen, Contact::Dissolved)
    );
    // Both flowed.
    assert_eq!(
        metal.settled(&both, Contact::Layers, 183_000),
        (vec![mix], Contact::Layers)
    );
}

#[test]
fn nothing_dissolves_where_masses_or_metals_are_not_known() {
    let metal = Metal::new();
    let (lead, bismuth) = (metal.layer(0, None), metal.layer(1, Some(1.0)));
    let both = [lead.clone(), bismuth.clone()];
    let each = vec![frozen(&lead), frozen(&bismuth)];
    assert_eq!(
        metal.settled(&both, Contact::Layers, 182_000),
        (vec![lead.clone(), frozen(&bismuth)], Contact::Layers)
    );
    assert_eq!(
        metal.settled(&both, Contact::Layers, 250_000),
        (each, Contact::Layers)
    );
    // Of one metal the ratio does not matter.
    let same = [lead.clone(), metal.layer(0, Some(1.0))];
    let (left, contact) = metal.settled(&same, Contact::Layers, 250_000);
    assert_eq!((left.len(), contact), (1, Contact::Layers));
    assert!(left[0].unstated);
    // What nobody knows never becomes part of an alloy.
    let strange = Layer {
        unknown: true,
        ..lead.clone()
    };
    let (left, contact) = metal.settled(&[strange, lead], Contact::Layers, 250_000);
    assert_eq!((left.len(), contact), (2, Contact::Layers));
}
