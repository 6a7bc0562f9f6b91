//! The phases that one set of elements can form, put together from the files, once for each set.

use std::collections::HashMap;
use std::sync::{Arc, OnceLock, RwLock};

use super::data::{self, DataFault, PhaseInfo, SystemData};
use super::gibbs::Gibbs;
use super::phase::{Compound, Model, N, Pair, Solution, Triple, Vector};
use crate::alloy::Element;

/// A phase and what it is called.
#[derive(Debug)]
pub(super) struct Candidate {
    pub(super) model: Model,
    /// Name in the data, or formula of a compound.
    pub(super) name: String,
    info: Option<&'static PhaseInfo>,
}

/// A set of elements with every phase that may appear. The first is the liquid.
#[derive(Debug)]
pub(super) struct System {
    pub(super) elements: Vec<Element>,
    /// In g/mol.
    pub(super) molar_mass: Vector,
    /// Gibbs energy of each element in its stable phase.
    pub(super) phases: Vec<Candidate>,
}

/// Why a set of elements has no system.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum NoSystem {
    NotCovered(Element),
    Data(DataFault),
}

impl From<DataFault> for NoSystem {
    fn from(fault: DataFault) -> Self {
        NoSystem::Data(fault)
    }
}

type Kept = HashMap<Vec<Element>, Result<Arc<System>, NoSystem>>;

impl System {
    /// The system of these elements, in the order of their symbols.
    pub(super) fn of(elements: &[Element]) -> Result<Arc<System>, NoSystem> {
        static KEPT: OnceLock<RwLock<Kept>> = OnceLock::new();
        let kept = KEPT.get_or_init(RwLock::default);
        if let Ok(known) = kept.read()
            && let Some(system) = known.get(elements)
        {
            return system.clone();
        }
        let built = System::build(elements).map(Arc::new);
        if let Ok(mut known) = kept.write() {
            known.insert(elements.to_vec(), built.clone());
        }
        built
    }

    fn build(elements: &[Element]) -> Result<System, NoSystem> {
        let mut molar_mass = [1.0; N];
        let mut known = Vec::new();
        for (i, &element) in elements.iter().enumerate() {
            let data = data::element(element).ok_or(NoSystem::NotCovered(element))??;
            molar_mass[i] = data.molar_mass_g;
            known.push(data);
        }
        let systems = data::systems(elements)?;
        let mut phases = Vec::new();
        for (place, info) in data::phases()?.iter().enumerate() {
            let has = |set: &Vec<Element>| set.iter().all(|e| elements.contains(e));
            if !(info.needs.is_empty() || info.needs.iter().any(has)) {
                continue;
            }
            let unary: Vec<(usize, Gibbs)> = (known.iter().enumerate())
                .filter_map(|(i, data)| Some((i, data.unary[place].clone()?)))
                .collect();
            if !unary.is_empty() {
                phases.push(Candidate {
                    model: Model::Solution(solution(place, unary, elements, &systems)),
                    name: info.name.clone(),
                    info: Some(info),
                });
            }
        }
        for compound in systems.iter().flat_map(|s| &s.compounds) {
            let mut atoms = [0.0; N];
            let mut g = compound.own.clone();
            for &(element, share) in &compound.atoms {
                if let Some(i) = elements.iter().position(|&e| e == element) {
                    atoms[i] = share;
                    if compound.add_elements {
                        g = g.plus(share, &known[i].stable);
                    }
                }
            }
            phases.push(Candidate {
                model: Model::Compound(Compound { atoms, g }),
                name: compound.name.clone(),
                info: None,
            });
        }
        Ok(System {
            elements: elements.to_vec(),
            molar_mass,
            phases,
        })
    }

    /// How many elements.
    pub(super) fn n(&self) -> usize {
        self.elements.len()
    }

    /// What a technician calls a phase whose main element is this.
    pub(super) fn called(&self, phase: usize, main: Option<Element>) -> &str {
        let candidate = &self.phases[phase];
        let Some(info) = candidate.info else {
            return &candidate.name;
        };
        let by = |of: Option<Element>| info.called.iter().find(|c| c.0 == of);
        main.and_then(|e| by(Some(e)))
            .or_else(|| by(None))
            .map_or(&candidate.name, |c| &c.1)
    }
}

/// A solution of the members that take part in it, with the parameters between them.
fn solution(
    phase: usize,
    unary: Vec<(usize, Gibbs)>,
    elements: &[Element],
    systems: &[&SystemData],
) -> Solution {
    let (members, unary): (Vec<usize>, Vec<Gibbs>) = unary.into_iter().unzip();
    let place = |element: &Element| {
        let i = elements.iter().position(|e| e == element)?;
        members.iter().position(|&m| m == i)
    };
    let (mut pairs, mut triples) = (Vec::new(), Vec::new());
    for system in systems {
        let Some(places) = (system.elements.iter().map(place)).collect::<Option<Vec<_>>>() else {
            continue;
        };
        let own: Vec<_> = (system.parameters.iter())
            .filter(|p| p.phase == phase)
            .collect();
        if own.is_empty() {
            continue;
        }
        match places[..] {
            [i, j] => {
                let mut abc = [[0.0; 3]; 4];
                for p in own {
                    abc[p.order.unwrap_or(0)] = p.abc;
                }
                let orders = (0..4).rev().find(|&k| abc[k].iter().any(|c| c.abs() > 0.0));
                pairs.push(Pair {
                    i,
                    j,
                    abc,
                    orders: orders.map_or(0, |k| k + 1),
                });
            }
            [i, j, k] => {
                let mut abc = [[0.0; 3]; 3];
                for p in own {
                    match p.order {
                        Some(order) => abc[order] = p.abc,
                        None => abc = [p.abc; 3],
                    }
                }
                triples.push(Triple {
                    ijk: [i, j, k],
                    abc,
                });
            }
            _ => {}
        }
    }
    Solution {
        members,
        unary,
        pairs,
        triples,
    }
}
