//! The user's own alloy file, looked at before it is relied on: what it holds, and where its numbers
//! disagree with the table or with what the phase data give.

use std::fmt::Write as _;

use serde_json::{Value, json};

use crate::alloy::{Alloy, AlloyBook, Blend};
use crate::melt::{History, MeltBook};
use crate::quantity::{Celsius, KelvinStep, Mass};

use super::answer::Frame;
use super::say::{Say, first_line, harmless};

/// Readings this close to the table are the same reading (rounding of lists; our judgement).
const SAME: KelvinStep = KelvinStep::whole(2);
/// Densities this close to the rule of mixtures are plausible: solders shrink or swell on mixing by
/// less than 3 % (our judgement, from the densities of the table).
const DENSITY: f64 = 0.03;

/// What was found.
#[derive(Clone, Debug, PartialEq)]
pub struct OwnFile {
    /// One an own alloy, in the order of the file.
    pub alloys: Vec<OwnAlloy>,
    /// Alloys of the stock list.
    pub stock: Vec<String>,
}

/// One own alloy.
#[derive(Clone, Debug, PartialEq)]
pub struct OwnAlloy {
    /// Canonical name.
    pub name: String,
    /// In use.
    pub solidus: Celsius,
    /// In use.
    pub liquidus: Celsius,
    /// What it is: `lead`, `cadmium`, `single_source`.
    pub flags: Vec<&'static str>,
    /// What should be looked at again.
    pub doubts: Vec<String>,
}

/// Looks at a file that has been read into `book`; `shipped` is the table without it.
pub fn of(book: &AlloyBook, shipped: &AlloyBook, melts: &MeltBook, say: Say) -> OwnFile {
    let own = book.alloys().iter().filter(|alloy| alloy.own);
    OwnFile {
        alloys: own
            .map(|alloy| OwnAlloy {
                name: alloy.name.clone(),
                solidus: alloy.in_use.solidus,
                liquidus: alloy.in_use.liquidus,
                flags: alloy.flags(),
                doubts: doubts(alloy, shipped, melts, say),
            })
            .collect(),
        stock: book.stock().iter().map(|item| item.alloy.clone()).collect(),
    }
}

fn doubts(alloy: &Alloy, shipped: &AlloyBook, melts: &MeltBook, say: Say) -> Vec<String> {
    let mut doubts = Vec::new();
    doubts.extend(against_table(alloy, shipped, say));
    doubts.extend(against_phases(alloy, melts, say));
    doubts.extend(density(alloy));
    doubts
}

fn against_table(alloy: &Alloy, shipped: &AlloyBook, say: Say) -> Vec<String> {
    let Some(table) = shipped.get(&alloy.name) else {
        return Vec::new();
    };
    let mut doubts = Vec::new();
    let pairs = [
        ("solidus", alloy.in_use.solidus, table.in_use.solidus),
        ("liquidus", alloy.in_use.liquidus, table.in_use.liquidus),
    ];
    for (what, own, theirs) in pairs {
        if own - theirs > SAME || theirs - own > SAME {
            doubts.push(format!(
                "it replaces the alloy of the table, whose {what} is {}, not {}",
                say.t(theirs),
                say.t(own)
            ));
        }
    }
    doubts
}

fn against_phases(alloy: &Alloy, melts: &MeltBook, say: Say) -> Vec<String> {
    let Ok(mass) = Mass::from_mg(1.0) else {
        return Vec::new();
    };
    let melt = melts.of(&Blend::of(&alloy.composition, mass), History::AsBought);
    if melt.curve.is_none() {
        return vec!["there are no phase data to check it against".to_owned()];
    }
    let mut doubts = Vec::new();
    if let Some(solidus) = melt.solidus
        && alloy.in_use.solidus - solidus > melt.u.max(SAME)
    {
        doubts.push(format!(
            "its solidus is {}, but it begins to melt at {}: the lower one is planned with",
            say.t(alloy.in_use.solidus),
            say.t(solidus)
        ));
    }
    if let Some(flow) = melt.flow_point
        && flow - alloy.in_use.liquidus > melt.u_flow.max(SAME)
    {
        doubts.push(format!(
            "its liquidus is {}, but it flows only at {}: the higher one is planned with",
            say.t(alloy.in_use.liquidus),
            say.t(flow)
        ));
    }
    doubts
}

fn density(alloy: &Alloy) -> Option<String> {
    let mixed = alloy.composition.density().ok()?.g_cm3();
    let stated = alloy.density.value.g_cm3();
    ((stated - mixed).abs() > DENSITY * mixed).then(|| {
        format!("its density is {stated:.2} g/cm³, the rule of mixtures gives {mixed:.2}: is it that of paste?")
    })
}

impl OwnFile {
    /// Whether anything should be looked at again.
    pub fn is_clean(&self) -> bool {
        self.alloys.iter().all(|alloy| alloy.doubts.is_empty())
    }

    /// First line.
    pub fn frame(&self) -> Frame {
        let doubtful = self.alloys.iter().filter(|a| !a.doubts.is_empty()).count();
        let found = if doubtful == 0 {
            "nothing disagrees".to_owned()
        } else {
            format!("look again at {doubtful}")
        };
        let line = format!(
            "own alloys: {}, on the shelf: {}, all understood; {found}",
            self.alloys.len(),
            self.stock.len()
        );
        Frame {
            verb: "alloys",
            line: first_line(&line),
            ..Frame::default()
        }
    }

    /// As text.
    pub fn text(&self, say: Say) -> String {
        let mut text = format!("{}\n", self.frame().line);
        for alloy in &self.alloys {
            let flags = if alloy.flags.is_empty() {
                String::new()
            } else {
                format!(", {}", alloy.flags.join(", "))
            };
            let _ = writeln!(
                text,
                "\n{}: {} to {}{flags}",
                alloy.name,
                say.t_bare(alloy.solidus),
                say.t(alloy.liquidus)
            );
            for doubt in &alloy.doubts {
                let _ = writeln!(text, "  - {doubt}");
            }
        }
        if !self.stock.is_empty() {
            let _ = writeln!(text, "\nOn the shelf: {}", self.stock.join(", "));
        }
        harmless(&text)
    }

    /// As JSON.
    pub fn json(&self) -> Value {
        json!({
            "alloys": self.alloys.iter().map(|alloy| json!({
                "id": alloy.name,
                "solidus_c": alloy.solidus,
                "liquidus_c": alloy.liquidus,
                "flags": alloy.flags,
                "doubts": alloy.doubts,
            })).collect::<Vec<_>>(),
            "stock": self.stock,
        })
    }
}
