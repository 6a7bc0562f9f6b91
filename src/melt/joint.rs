//! The book: answers for blends and for joints of touching layers, remembered.

use std::hash::Hash;
use std::sync::{Arc, Mutex, PoisonError};

use super::blend;
use super::book::{Basis, Doubt, Melt, Pin, Readings};
use super::layer::{Contact, History, Layer};
use super::mixing::PathFlows;
use rustc_hash::FxHashMap as HashMap;

use crate::alloy::{Blend, Composition, Element};
use crate::quantity::{Celsius, Mass, Share};

/// Answers melting questions, and remembers the answers. Shared freely between threads.
pub struct MeltBook {
    pub(super) table: Arc<dyn Readings>,
    pub(super) pins: Vec<Pin>,
    blends: Memory<(Blend, History), Melt>,
    liquidi: Memory<Blend, Option<Celsius>>,
    joints: Memory<(Vec<Layer>, Contact), Melt>,
    pub(super) lowest: Memory<(Blend, Blend), Arc<Melt>>,
    pub(super) flows: Memory<(Blend, Blend), PathFlows>,
}

/// Answers given before, by question.
pub(super) type Memory<K, V> = Mutex<HashMap<K, Arc<V>>>;

impl std::fmt::Debug for MeltBook {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("MeltBook")
            .field("pins", &self.pins)
            .finish_non_exhaustive()
    }
}

/// Compositions of a path are told apart to this mass: 1 part in 10⁹.
pub(super) const PATH_UNIT: Mass = Mass::from_picograms(1_000_000_000);

impl MeltBook {
    /// A book over a table, with what the job pins.
    pub fn new(table: Arc<dyn Readings>, pins: Vec<Pin>) -> Self {
        MeltBook {
            table,
            pins,
            blends: Mutex::default(),
            liquidi: Mutex::default(),
            joints: Mutex::default(),
            lowest: Mutex::default(),
            flows: Mutex::default(),
        }
    }

    /// Whether the job takes the readings of that metal as exact.
    pub(super) fn pins(&self, composition: &Composition) -> bool {
        blend::pin_of(&self.pins, composition).is_some()
    }

    /// When one blend melts. Nothing at all is [`Melt::unknown`].
    pub fn of(&self, blend: &Blend, history: History) -> Arc<Melt> {
        remembered(&self.blends, &(*blend, history), || {
            self.answer(blend, history)
        })
    }

    /// The same, not remembered.
    pub(super) fn answer(&self, blend: &Blend, history: History) -> Melt {
        match blend.composition() {
            Some(composition) => {
                blend::answer(self.table.as_ref(), &self.pins, &composition, history)
            }
            None => Melt::unknown(),
        }
    }

    /// When the last crystal of a blend goes: [`Melt::liquidus`], for a fraction of the work of a whole answer.
    pub fn liquidus_of(&self, blend: &Blend) -> Option<Celsius> {
        *remembered(&self.liquidi, blend, || {
            blend::liquidus(self.table.as_ref(), &self.pins, &blend.composition()?)
        })
    }

    /// When a composition melts.
    pub fn of_composition(&self, composition: &Composition, history: History) -> Arc<Melt> {
        self.of(&Blend::of(composition, PATH_UNIT), history)
    }

    /// When everything of these layers, molten together and frozen, melts. An answer that cannot be
    /// true is not given: see [`Doubt::DoesNotAddUp`].
    pub fn of_mixed(&self, layers: &[Layer]) -> Arc<Melt> {
        let all = together(layers);
        let mix = self.of(&all, History::Frozen);
        let highest = highest(
            layers
                .iter()
                .map(|layer| self.of(&layer.blend, layer.history).liquidus),
        );
        match (mix.survival, highest) {
            (Some(survival), Some(highest)) if survival > highest && is_solder(&all) => {
                let doubt = Doubt::DoesNotAddUp { survival, highest };
                Arc::new(Melt {
                    doubts: vec![doubt],
                    ..Melt::unknown()
                })
            }
            _ => mix,
        }
    }

    /// When a joint of touching layers melts: the minimum over its layers, the full mix, and the
    /// mixing path of each touching pair; flow never below that of a layer, unless dissolved.
    ///
    /// ```
    /// use std::sync::Arc;
    /// use meltstair::alloy::{AlloyBook, spec};
    /// use meltstair::melt::{Contact, History, Layer, MeltBook};
    /// use meltstair::quantity::Celsius;
    ///
    /// let book = AlloyBook::shipped();
    /// let melts = MeltBook::new(Arc::new(book.clone()), Vec::new());
    /// let mix = spec::parse(book, "63/37 0.0154mg + ball 0.3 snbi")?;
    /// let layers: Vec<Layer> = (mix.deposits.iter())
    ///     .map(|deposit| Layer {
    ///         blend: deposit.blend,
    ///         history: History::Frozen,
    ///         unstated: false,
    ///         unknown: false,
    ///     })
    ///     .collect();
    /// // Between the two metals a mixture melts at the ternary eutectic; the leaded one flows by itself
    /// // only above 183 °C, or is dissolved below it.
    /// let touching = melts.of_joint(&layers, Contact::Layers);
    /// assert_eq!(touching.survival, Some(Celsius::whole(95)));
    /// assert!(touching.flow > Some(Celsius::whole(183)));
    /// let dissolved = melts.of_joint(&layers, Contact::Dissolved);
    /// assert_eq!(dissolved.survival, touching.survival);
    /// assert!(dissolved.flow < Some(Celsius::whole(155)));
    /// # Ok::<(), meltstair::alloy::spec::SpecFault>(())
    /// ```
    pub fn of_joint(&self, layers: &[Layer], contact: Contact) -> Arc<Melt> {
        match layers {
            [] => Arc::new(Melt::unknown()),
            [only] if only.unknown => Arc::new(Melt::unknown()),
            [only] => self.of(&only.blend, only.history),
            _ => {
                let key = (layers.to_vec(), contact);
                remembered(&self.joints, &key, || self.joint(layers, contact))
            }
        }
    }

    fn joint(&self, layers: &[Layer], contact: Contact) -> Melt {
        if layers.iter().any(|layer| layer.unknown) {
            return Melt::unknown();
        }
        let own: Vec<Arc<Melt>> = layers
            .iter()
            .map(|layer| self.of(&layer.blend, layer.history))
            .collect();
        let stated = !layers.iter().any(|layer| layer.unstated);
        let pairs = || layers.windows(2).map(|two| (&two[0].blend, &two[1].blend));
        let paths: Vec<Arc<Melt>> = pairs().map(|(a, b)| self.lowest_between(a, b)).collect();
        // Of a full mix of known masses the flow is known, and how the others flow is not asked.
        let flows: Vec<Arc<PathFlows>> = if stated {
            Vec::new()
        } else {
            pairs().map(|(a, b)| self.flows_between(a, b)).collect()
        };
        let all = together(layers);
        let mix = self.of_mixed(layers);
        let mut candidates: Vec<&Arc<Melt>> = own.iter().collect();
        candidates.extend(&paths);
        if stated {
            candidates.push(&mix);
        }
        let lowest = least_surviving(&candidates);
        let mut joint = if stated {
            (*mix).clone()
        } else {
            Melt::unknown()
        };
        take_survival(&mut joint, lowest, &candidates);
        take_flow(&mut joint, &own, &flows, (stated, &mix), contact);
        take_layers(&mut joint, layers, &own, stated, all.total());
        if let (Some(whole), Some(layer)) = (lowest.survival, least_surviving_of(&own))
            && whole < layer
        {
            joint.doubts.push(Doubt::MixLowerThanLayers);
        }
        joint.doubts.sort();
        joint.doubts.dedup();
        joint
    }
}

fn together(layers: &[Layer]) -> Blend {
    layers
        .iter()
        .fold(Blend::default(), |sum, layer| sum.with(&layer.blend))
}

/// Whether mixing may not raise the first melt above all that is mixed: gold and others form compounds
/// that melt higher than either metal.
fn is_solder(blend: &Blend) -> bool {
    use Element::{Ag, Bi, Cu, In, Pb, Sn};
    let stranger = |e: &Element| ![Sn, Pb, Bi, In, Ag, Cu].contains(e);
    !Element::all().any(|e| stranger(&e) && blend.mass_of(e) > Mass::default())
}

/// The answer that survives least; unknown is less than anything known.
fn least_surviving<'m>(melts: &[&'m Arc<Melt>]) -> &'m Arc<Melt> {
    let lowest = melts.iter().copied().min_by_key(|melt| melt.survival);
    // Callers pass at least one.
    lowest.unwrap_or(melts[0])
}

fn least_surviving_of(melts: &[Arc<Melt>]) -> Option<Celsius> {
    melts.iter().map(|melt| melt.survival).min().flatten()
}

/// The highest; unknown if any is.
pub(super) fn highest(of: impl Iterator<Item = Option<Celsius>>) -> Option<Celsius> {
    of.reduce(|a, b| Some(a?.max(b?))).flatten()
}

/// Survival, first melt, basis and doubts of the worst of all candidates.
fn take_survival(joint: &mut Melt, lowest: &Melt, candidates: &[&Arc<Melt>]) {
    joint.basis = lowest.basis;
    joint.class = lowest.class;
    joint.u = lowest.u;
    joint.survival = lowest.survival;
    joint.first_melt = candidates
        .iter()
        .map(|melt| melt.first_melt)
        .min()
        .flatten();
    joint.solidus = candidates.iter().map(|melt| melt.solidus).min().flatten();
    joint.table = None;
    joint.trace = candidates.iter().filter_map(|melt| melt.trace).min();
    joint.doubts = candidates
        .iter()
        .flat_map(|melt| melt.doubts.iter().cloned())
        .collect();
    if candidates.iter().any(|melt| melt.basis == Basis::Unknown) {
        joint.basis = Basis::Unknown;
        joint.survival = None;
    }
}

fn take_flow(
    joint: &mut Melt,
    own: &[Arc<Melt>],
    paths: &[Arc<PathFlows>],
    (stated, mix): (bool, &Melt),
    contact: Contact,
) {
    if contact == Contact::Dissolved && stated {
        joint.flow = mix.flow;
        joint.flow_point = mix.flow_point;
        joint.liquidus = mix.liquidus;
        return;
    }
    let mixed = |of: fn(&Melt) -> Option<Celsius>, path: fn(&PathFlows) -> Option<Celsius>| {
        if stated {
            of(mix)
        } else {
            highest(paths.iter().map(|p| path(p)))
        }
    };
    let layers = |of: fn(&Melt) -> Option<Celsius>| own.iter().map(move |melt| of(melt));
    joint.flow = highest(layers(|m| m.flow).chain([mixed(|m| m.flow, |p| p.flow)]));
    joint.flow_point =
        highest(layers(|m| m.flow_point).chain([mixed(|m| m.flow_point, |p| p.flow_point)]));
    joint.liquidus = highest(layers(|m| m.liquidus).chain([joint.flow]));
    joint.u_flow = own
        .iter()
        .map(|melt| melt.u_flow)
        .fold(mix.u_flow, Ord::max);
}

fn take_layers(joint: &mut Melt, layers: &[Layer], own: &[Arc<Melt>], stated: bool, total: Mass) {
    if !stated {
        joint.curve = None;
        joint.first_melt_share = None;
        return;
    }
    joint.layers = layers
        .iter()
        .zip(own)
        .map(|(layer, melt)| {
            let share = layer.blend.total().mg() / total.mg();
            (Share::nearest(share), Arc::clone(melt))
        })
        .collect();
}

/// Looks a key up, or works the answer out and keeps it.
pub(super) fn remembered<K: Eq + Hash + Clone, V>(
    memory: &Memory<K, V>,
    key: &K,
    work: impl FnOnce() -> V,
) -> Arc<V> {
    // A poisoned lock only means that a thread died while it held it; the entries are whole.
    if let Some(found) = memory
        .lock()
        .unwrap_or_else(PoisonError::into_inner)
        .get(key)
    {
        return Arc::clone(found);
    }
    let value = Arc::new(work());
    let mut memory = memory.lock().unwrap_or_else(PoisonError::into_inner);
    Arc::clone(memory.entry(key.clone()).or_insert(value))
}
