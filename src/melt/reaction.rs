//! What happens on the way, in words that a technician reads.

use std::fmt;

use super::path::Change;
use super::phase::Vector;
use super::system::System;
use crate::quantity::{Celsius, Share};

/// A change of the phases met on the way down in temperature.
#[derive(Clone, Debug, PartialEq)]
pub struct Reaction {
    /// Where.
    pub at: Celsius,
    /// Mass share liquid above it.
    pub liquid_above: Share,
    /// Mass share liquid below it; less than above only if it happens at one temperature.
    pub liquid_below: Share,
    /// Crystals that form there on cooling.
    pub formed: Vec<String>,
    /// Crystals used up there on cooling.
    pub used: Vec<String>,
    /// Whether it happens at one temperature.
    pub at_once: bool,
}

impl Reaction {
    pub(super) fn from_change(change: &Change, system: &System) -> Self {
        let names = |phases: &[(usize, Vector)]| {
            let mut names = Vec::new();
            for (phase, x) in phases.iter().filter(|p| p.0 != super::solver::LIQUID) {
                let main = (0..system.n()).max_by(|&a, &b| x[a].total_cmp(&x[b]));
                let name = system.called(*phase, main.map(|i| system.elements[i]));
                if !names.iter().any(|known| known == name) {
                    names.push(name.to_owned());
                }
            }
            names
        };
        Reaction {
            at: Celsius::from_kelvin(change.t_k),
            liquid_above: Share::nearest(change.liquid.0),
            liquid_below: Share::nearest(change.liquid.1),
            formed: names(&change.formed),
            used: names(&change.used),
            at_once: change.invariant,
        }
    }

    /// Mass share that turns liquid at this temperature on heating.
    pub fn at_once_share(&self) -> Share {
        Share::nearest(self.liquid_above.fraction() - self.liquid_below.fraction())
    }

    /// Its kind: `ternary eutectic`, `peritectic`, …; empty where a phase comes or goes gradually.
    pub fn kind(&self) -> &'static str {
        if !self.at_once {
            return "";
        }
        match (self.used.len(), self.formed.len()) {
            (0, 1) => "melting point",
            (0, 2) => "binary eutectic",
            (0, 3) => "ternary eutectic",
            (0, 4) => "quaternary eutectic",
            (0, _) => "eutectic",
            (1, 1) => "peritectic",
            _ => "transition reaction",
        }
    }
}

/// `tin`, `tin and lead`, `tin, lead and bismuth`.
fn list(names: &[String]) -> String {
    match names {
        [] => String::new(),
        [only] => only.clone(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}

/// One clause without an end: `ternary eutectic at 95.3 °C (tin, bismuth and lead-bismuth epsilon), 11 % of
/// the joint liquid at once`.
impl fmt::Display for Reaction {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let formed = list(&self.formed);
        if self.at_once {
            write!(f, "{} at {:.1} ({formed}", self.kind(), self.at)?;
            if !self.used.is_empty() {
                write!(f, " from {}", list(&self.used))?;
            }
            let percent = self.at_once_share().percent();
            let digits = usize::from(percent < 9.95);
            return write!(f, "), {percent:.digits$} % of the joint liquid at once");
        }
        match (self.formed.as_slice(), self.used.as_slice()) {
            ([_], _) => write!(f, "{formed} crystallises below {:.1}", self.at),
            ([_, ..], _) => write!(f, "{formed} crystallise below {:.1}", self.at),
            ([], [_, ..]) => write!(f, "{} gone below {:.1}", list(&self.used), self.at),
            ([], []) => write!(f, "the last liquid is gone at {:.1}", self.at),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn changes_are_said_as_a_technician_reads_them() {
        let names = |all: &[&str]| all.iter().map(|name| (*name).to_owned()).collect();
        let said = |formed: &[&str], used: &[&str], below: f64, at_once| {
            Reaction {
                at: Celsius::nearest(135.7),
                liquid_above: Share::nearest(0.115),
                liquid_below: Share::nearest(below),
                formed: names(formed),
                used: names(used),
                at_once,
            }
            .to_string()
        };
        let gradual = |formed: &[&str], used: &[&str]| said(formed, used, 0.115, false);
        assert_eq!(gradual(&["tin"], &[]), "tin crystallises below 135.7 °C");
        assert_eq!(
            gradual(&["tin", "lead"], &[]),
            "tin and lead crystallise below 135.7 °C"
        );
        assert_eq!(gradual(&[], &["lead"]), "lead gone below 135.7 °C");
        assert_eq!(
            said(&["tin", "Ag3Sn", "Cu6Sn5"], &[], 0.0, true),
            "ternary eutectic at 135.7 °C (tin, Ag3Sn and Cu6Sn5), 12 % of the joint liquid at once"
        );
        assert_eq!(
            said(&["tin", "lead-bismuth epsilon"], &["lead"], 0.1, true),
            "transition reaction at 135.7 °C (tin and lead-bismuth epsilon from lead), 1.5 % of the joint liquid at once"
        );
    }
}
