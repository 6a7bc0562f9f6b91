//! Levels of step soldering: alloys, each of which melts well below the one before.

use crate::alloy::Element;
use crate::job::Solder;
use crate::melt::{History, MeltBook};
use crate::quantity::{Celsius, KelvinStep, Mass};

/// Alloys from the first soldered to the last.
#[derive(Clone, Debug, PartialEq)]
pub struct Chain {
    /// Highest first.
    pub alloys: Vec<Solder>,
    /// The smallest gap between one and the next: solidus less liquidus.
    pub gap: KelvinStep,
    /// Two of them hold indium and bismuth: they must never meet, their mixtures melt near 60 °C.
    pub indium_meets_bismuth: bool,
}

/// Chains of some length out of a stock.
#[derive(Clone, Debug, PartialEq)]
pub struct Chains {
    /// Every chain that keeps the gap everywhere, in the order of the stock's melting points.
    pub keeping: Vec<Chain>,
    /// Where none does: the chain with the widest smallest gap.
    pub nearest: Option<Chain>,
}

/// Every chain of `levels` alloys out of `stock` in which each solidus lies at least `gap` above
/// the next liquidus; where there is none, the nearest. Alloys of which nobody knows when they melt
/// take no part.
///
/// The gap is a wish of process control and says nothing of what a neighbour sees; a job does.
pub fn chains(melts: &MeltBook, stock: &[Solder], levels: usize, gap: KelvinStep) -> Chains {
    let mut rungs: Vec<Rung> = stock.iter().filter_map(|s| rung(melts, s)).collect();
    rungs.sort_by(|a, b| {
        let key = |rung: &Rung| (std::cmp::Reverse(rung.solidus), rung.solder.name.clone());
        key(a).cmp(&key(b))
    });
    let mut found = Chains {
        keeping: Vec::new(),
        nearest: None,
    };
    grow(&rungs, levels, gap, &mut Vec::new(), &mut found);
    if !found.keeping.is_empty() {
        found.nearest = None;
    }
    found
}

struct Rung<'s> {
    solder: &'s Solder,
    solidus: Celsius,
    liquidus: Celsius,
}

fn rung<'s>(melts: &MeltBook, solder: &'s Solder) -> Option<Rung<'s>> {
    let one = Mass::from_picograms(1_000_000_000);
    let blend = crate::alloy::Blend::of(&solder.composition, one);
    let melt = melts.of(&blend, History::Frozen);
    Some(Rung {
        solder,
        solidus: melt.first_melt?,
        liquidus: melt.flow_point?,
    })
}

fn grow<'r>(
    rungs: &'r [Rung],
    levels: usize,
    gap: KelvinStep,
    chain: &mut Vec<&'r Rung<'r>>,
    found: &mut Chains,
) {
    let kept = smallest_gap(chain);
    // Neither a chain that keeps the gap nor one nearer to it grows out of this.
    let best = found.nearest.as_ref().map(|nearest| nearest.gap);
    let useless = |kept: KelvinStep| {
        kept < gap && (!found.keeping.is_empty() || best.is_some_and(|best| kept <= best))
    };
    if kept.is_some_and(useless) {
        return;
    }
    if chain.len() == levels {
        match finished(chain) {
            Some(whole) if whole.gap >= gap => found.keeping.push(whole),
            Some(whole) => found.nearest = Some(whole),
            None => {}
        }
        return;
    }
    let from = chain.last().map_or(0, |last| {
        let at = rungs.iter().position(|rung| std::ptr::eq(rung, *last));
        at.map_or(rungs.len(), |at| at + 1)
    });
    for rung in &rungs[from..] {
        chain.push(rung);
        grow(rungs, levels, gap, chain, found);
        chain.pop();
    }
}

fn smallest_gap(chain: &[&Rung]) -> Option<KelvinStep> {
    let gaps = chain
        .windows(2)
        .map(|pair| pair[0].solidus - pair[1].liquidus);
    gaps.min()
}

fn finished(chain: &[&Rung]) -> Option<Chain> {
    let gap = smallest_gap(chain)?;
    let holds = |element| {
        chain
            .iter()
            .any(|rung| rung.solder.composition.share(element).percent() > 0.0)
    };
    Some(Chain {
        alloys: chain.iter().map(|rung| rung.solder.clone()).collect(),
        gap,
        indium_meets_bismuth: holds(Element::In) && holds(Element::Bi),
    })
}
