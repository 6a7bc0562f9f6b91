//! A step as it is done: with the choices taken, and with what the log says if it has been done.

use crate::job::{Amount, Choice, Event, Solder, Step, Way, Work};
use crate::melt::{History, Layer};
use crate::quantity::Celsius;

use super::metal;
use super::setting::Setting;

/// Which of the open choices of a step are taken; 0 where nothing is open.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Pick {
    /// Position in [`Step::ways`].
    pub way: usize,
    /// Position among the alloys of the step.
    pub solder: usize,
    /// Position among the rounds of a clean-up.
    pub rounds: usize,
}

/// A step with its choices.
#[derive(Clone, Copy, Debug)]
pub struct Doing<'a> {
    /// The step.
    pub step: &'a Step,
    /// The choices.
    pub pick: Pick,
    /// What was logged, if it has been done.
    pub log: Option<&'a Event>,
    /// The peak that one hand goes to where an alloy is not known: the highest that any of those it may
    /// be asks for. `None`: what this bench asks for.
    pub aim: Option<Celsius>,
}

impl<'a> Doing<'a> {
    /// The step with these choices, not yet done.
    pub fn planned(step: &'a Step, pick: Pick) -> Self {
        Doing {
            step,
            pick,
            log: None,
            aim: None,
        }
    }

    /// The same with one peak for all that the unknown may be.
    pub fn aimed(self, aim: Option<Celsius>) -> Self {
        Doing { aim, ..self }
    }

    /// How heat is brought, if the step heats at all: as it really was, where it is done.
    pub fn way(&self) -> Option<&'a Way> {
        let other = self.log.and_then(|log| log.other_way.as_ref());
        other.or_else(|| self.step.ways.get(self.pick.way))
    }

    /// The alloy that is chosen among these.
    pub fn solder<'c>(&self, choice: &'c Choice<Solder>) -> Option<&'c Solder> {
        chosen(choice, self.pick.solder)
    }

    /// Fresh metal of the alloy that is chosen. Where the step was done and the log does not say which
    /// of several alloys was used, nobody knows what it is made of.
    pub(super) fn fresh(
        &self,
        setting: &Setting,
        choice: &Choice<Solder>,
        amount: Amount,
    ) -> Option<Layer> {
        let used = self.log.and_then(|log| log.alloy.as_ref());
        let amount = self.amount(amount);
        let solder = setting.as_it_is(used.or_else(|| self.solder(choice))?);
        let layer = metal::layer(&solder, amount, History::Frozen);
        Some(Layer {
            unknown: self.log.is_some_and(|log| leaves_open(log, choice)),
            ..layer
        })
    }

    /// What was really put on, where the log says it; else as planned.
    pub(super) fn amount(&self, planned: Amount) -> Amount {
        let logged = self.log.and_then(|log| log.mass);
        logged.map_or(planned, Amount::Mass)
    }

    /// The alloys among which the log does not say; empty where it says, or nothing is logged.
    pub fn unsaid(&self) -> &'a [Solder] {
        match (self.log, solder_choice(&self.step.work)) {
            (Some(log), Some(choice @ Choice::OneOf(many))) if leaves_open(log, choice) => many,
            _ => &[],
        }
    }

    /// The rounds that were done, where the log says it; else those that are chosen among these.
    pub fn rounds(&self, choice: &Choice<u32>) -> u32 {
        if let Some(rounds) = self.log.and_then(|log| log.rounds) {
            return rounds;
        }
        chosen(choice, self.pick.rounds).copied().unwrap_or(0)
    }
}

fn leaves_open(log: &Event, choice: &Choice<Solder>) -> bool {
    log.alloy.is_none() && how_many(choice) > 1
}

fn chosen<T>(choice: &Choice<T>, at: usize) -> Option<&T> {
    match choice {
        Choice::Fixed(only) => Some(only),
        Choice::OneOf(many) => many.get(at),
    }
}

fn how_many<T>(choice: &Choice<T>) -> usize {
    match choice {
        Choice::Fixed(_) => 1,
        Choice::OneOf(many) => many.len(),
    }
}

/// The alloy choice of a step, where it has one.
pub fn solder_choice(work: &Work) -> Option<&Choice<Solder>> {
    match work {
        Work::Solder { solder, .. }
        | Work::Reball { solder, .. }
        | Work::Place {
            paste: Some((solder, _)),
            ..
        }
        | Work::Remove {
            flood: Some((solder, _)),
            ..
        } => Some(solder),
        _ => None,
    }
}

/// Every combination of choices of a step, in a fixed order. Empty where a choice has no member.
pub fn picks(step: &Step) -> Vec<Pick> {
    let solders = solder_choice(&step.work).map_or(1, how_many);
    let rounds = match &step.work {
        Work::Clean { rounds, .. } => how_many(rounds),
        _ => 1,
    };
    let mut all = Vec::new();
    for way in 0..step.ways.len().max(1) {
        for solder in 0..solders {
            for rounds in 0..rounds {
                all.push(Pick {
                    way,
                    solder,
                    rounds,
                });
            }
        }
    }
    all
}
