//! What `mix --sweep` says: how much of the second metal is too much in the first.

use std::fmt::Write as _;
use std::sync::Arc;

use rayon::prelude::*;
use serde_json::{Value, json};

use crate::alloy::spec::Spec;
use crate::alloy::{Blend, Composition};
use crate::melt::{Doubt, History, Melt, MeltBook};
use crate::policy;
use crate::quantity::{Celsius, KelvinStep, Length, Mass, Share};

use super::answer::Frame;
use super::chart::{Sweep as SweepPicture, SweepMark, SweepPoint};
use super::mix::{assumptions, digits, doubt_words, exact_percent, hazards, mass_words, name_of};
use super::say::{Say, first_line, harmless, percent};
use super::table::table;

/// A fall of the survival temperature that costs margin: what a job keeps by default.
const FALL: KelvinStep = KelvinStep::whole(5);
/// Mixtures are told apart to this mass.
const WHOLE: Mass = Mass::from_picograms(1_000_000_000);
/// Below this share nothing is looked for, mass %: less than any wick leaves.
const LEAST_PERCENT: f64 = 1e-4;
/// Most characters of a first line.
const LINE: usize = 80;
/// How often the gap between two shares is halved when a threshold is looked for.
const HALVINGS: usize = 12;

/// How much of the second metal is in the first, and what comes of it.
#[derive(Clone, Debug)]
pub struct Swept {
    spec: Spec,
    names: (String, String),
    start: Arc<Melt>,
    points: Vec<(Share, Arc<Melt>)>,
    /// The mixture that was described.
    asked: Option<(Share, Arc<Melt>)>,
    at: Vec<Celsius>,
    found: Vec<Threshold>,
}

/// The least share of the added metal from which something is lost.
#[derive(Clone, Debug)]
struct Threshold {
    loses: Loses,
    share: Share,
    melt: Arc<Melt>,
}

/// What is lost.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Loses {
    /// The joint survives more than [`FALL`] less.
    Margin,
    /// At least 1 mass% of it is liquid at the lower first melt.
    Service,
    /// More than the allowance of a joint that may soften is liquid there.
    Allowance,
    /// Something is liquid at a temperature that was asked about, or more than the allowance.
    SolidAt(Celsius),
    StandsAt(Celsius),
}

impl Loses {
    fn by(self, start: &Melt, melt: &Melt) -> bool {
        let lower = match (start.survival, melt.survival) {
            (Some(start), Some(now)) => start - now > FALL,
            _ => true,
        };
        let at_once = |least: Share| {
            let share = melt.first_melt_share;
            lower && share.is_none_or(|share| share >= least)
        };
        let liquid = |at| melt.liquid_at(at);
        match self {
            Loses::Margin => lower,
            Loses::Service => at_once(policy::SERVICE_LIQUID),
            Loses::Allowance => at_once(policy::MOVES_FROM),
            Loses::SolidAt(at) => liquid(at).is_none_or(|share| share > Share::NONE),
            Loses::StandsAt(at) => liquid(at).is_none_or(|share| share > policy::MOVES_FROM),
        }
    }
}

/// Shares of the added metal that a sweep looks at, mass %: dense where a trace decides.
fn sweep_percents() -> Vec<f64> {
    let fine = (1..=20).map(|i| f64::from(i) * 0.1);
    let coarse = (5..=200)
        .map(|i| f64::from(i) * 0.5)
        .filter(|&x| x > 2.0 && x < 100.0);
    std::iter::once(0.02).chain(fine).chain(coarse).collect()
}

/// Why a blend cannot be swept.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NotSwept {
    /// Not two terms.
    #[error("want two terms, the host first: `snbi 90% + 63/37 10%`")]
    NotTwo,
    /// Both terms are one metal.
    #[error("both terms are the same metal: there is nothing to mix in")]
    SameMetal,
}

/// Mixes more and more of the second deposit's metal into the first's, and tells the liquid share at
/// these temperatures too.
///
/// # Errors
/// [`NotSwept`] unless there are two metals.
pub fn sweep(melts: &MeltBook, spec: Spec, at: Vec<Celsius>) -> Result<Swept, NotSwept> {
    swept(melts, spec, at, true)
}

/// The same of two metals of which nobody said how much ([`crate::alloy::spec::pair`]).
///
/// # Errors
/// [`NotSwept`] unless there are two metals.
pub fn any_share(melts: &MeltBook, pair: Spec, at: Vec<Celsius>) -> Result<Swept, NotSwept> {
    swept(melts, pair, at, false)
}

fn swept(
    melts: &MeltBook,
    spec: Spec,
    at: Vec<Celsius>,
    described: bool,
) -> Result<Swept, NotSwept> {
    let [host, guest] = spec.deposits.as_slice() else {
        return Err(NotSwept::NotTwo);
    };
    let (one, other) = (host.composition, guest.composition);
    if one == other {
        return Err(NotSwept::SameMetal);
    }
    let mixture = |x: f64| mixture(melts, &one, &other, x);
    let part = guest.blend.total().mg() / spec.blend().total().mg();
    let mut swept = Swept {
        names: (name_of(host), name_of(guest)),
        start: mixture(0.0).1,
        points: (sweep_percents().into_par_iter())
            .map(|percent| mixture(percent / 100.0))
            .collect(),
        asked: described.then(|| mixture(part)),
        found: Vec::new(),
        at,
        spec,
    };
    let asked_about = swept.at.iter();
    let asked_about = asked_about.flat_map(|&t| [Loses::SolidAt(t), Loses::StandsAt(t)]);
    let sought = [Loses::Margin, Loses::Service, Loses::Allowance];
    swept.found = (sought.into_iter().chain(asked_about))
        .filter_map(|loses| swept.threshold(loses, &mixture))
        .collect();
    Ok(swept)
}

fn mixture(
    melts: &MeltBook,
    host: &Composition,
    guest: &Composition,
    x: f64,
) -> (Share, Arc<Melt>) {
    let share = Share::nearest(x);
    let rest = Share::nearest(1.0 - share.fraction());
    let part = |metal: &Composition, share| Blend::of(metal, WHOLE).part(share);
    let blend = part(host, rest).with(&part(guest, share));
    (share, melts.of(&blend, History::Frozen))
}

/// Two figures, rounded down, so that what is said to be too much is never less than what is.
fn down(share: Share) -> Share {
    let percent = share.percent();
    let unit = 10_f64.powf(percent.max(LEAST_PERCENT).log10().floor() - 1.0);
    Share::nearest((percent / unit + 1e-9).floor() * unit / 100.0)
}

/// A share of the added metal: two digits that matter, however small.
fn of_it(share: Share) -> String {
    if share.percent() <= LEAST_PERCENT * 1.01 {
        return "any amount".to_owned();
    }
    format!("{} %", digits(share.percent(), 2))
}

impl Swept {
    /// The least share that loses this; `None` where none does, or where even the first metal alone does.
    fn threshold(
        &self,
        loses: Loses,
        mixture: &impl Fn(f64) -> (Share, Arc<Melt>),
    ) -> Option<Threshold> {
        let lost = |melt: &Melt| loses.by(&self.start, melt);
        if lost(&self.start) {
            return None;
        }
        let first = self.points.iter().position(|(_, melt)| lost(melt))?;
        let below = first.checked_sub(1).and_then(|i| self.points.get(i));
        let mut low = below.map_or(LEAST_PERCENT / 100.0, |(share, _)| share.fraction());
        let mut found = self.points.get(first)?.clone();
        for _ in 0..HALVINGS {
            let middle = mixture((low * found.0.fraction()).sqrt());
            if lost(&middle.1) {
                found = middle;
            } else {
                low = middle.0.fraction();
            }
        }
        Some(Threshold {
            loses,
            share: down(found.0),
            melt: found.1,
        })
    }

    fn found(&self, loses: Loses) -> Option<&Threshold> {
        self.found.iter().find(|found| found.loses == loses)
    }

    fn line(&self, say: Say) -> String {
        let (host, guest) = &self.names;
        let melts = |at: &Threshold| {
            let t = at.melt.first_melt;
            t.map_or_else(|| "nobody knows when it melts".to_owned(), |t| say.t(t))
        };
        match (self.found(Loses::Margin), self.found(Loses::Service)) {
            _ if self.start.survival.is_none() => {
                format!("nobody knows when {host} melts, with or without {guest}")
            }
            (None, _) => format!(
                "no amount of {guest} brings {host} down by more than {}",
                say.dt(FALL)
            ),
            (Some(costs), None) => format!(
                "{} of {guest} in {host} costs margin: {}",
                of_it(costs.share),
                melts(costs)
            ),
            (Some(costs), Some(much)) if costs.share == much.share => format!(
                "{} of {guest} in {host} is too much: {}",
                of_it(much.share),
                melts(much)
            ),
            (Some(costs), Some(much)) => {
                let line = format!(
                    "{} of {guest} in {host} costs margin, {} is too much",
                    of_it(costs.share),
                    of_it(much.share)
                );
                let with_melts = format!("{line}: {}", melts(much));
                if with_melts.chars().count() <= LINE {
                    with_melts
                } else {
                    line
                }
            }
        }
    }

    /// The frame of the answer.
    pub fn frame(&self, say: Say) -> Frame {
        let mut warnings: Vec<String> = Vec::new();
        let asked = self.asked.iter().map(|(_, melt)| melt);
        let points = std::iter::once(&self.start).chain(asked);
        let points = points.chain(self.points.iter().map(|(_, melt)| melt));
        for doubt in points
            .flat_map(|melt| &melt.doubts)
            .filter(|d| is_of_metals(d))
        {
            let words = doubt_words(doubt, say);
            if !warnings.contains(&words) {
                warnings.push(words);
            }
        }
        warnings.extend(self.spec.notices.iter().cloned());
        warnings.extend(self.spec.blend().composition().iter().flat_map(hazards));
        Frame {
            verb: "mix",
            line: first_line(&harmless(&self.line(say))),
            assumptions: assumptions(&self.spec, true),
            warnings,
            ..Frame::default()
        }
    }

    /// As text: what is too much, and a table of some of the shares.
    pub fn text(&self, frame: &Frame, say: Say) -> String {
        let (host, guest) = &self.names;
        let mut out = format!(
            "{}\n\nHow much {guest} is too much in {host}?\n",
            frame.line
        );
        let alone = self.start.first_melt;
        let _ = writeln!(
            out,
            "  - {host} alone: first melt {}",
            alone.map_or_else(|| "not known".to_owned(), |t| say.t(t))
        );
        for found in &self.found {
            let _ = writeln!(out, "  - {}", self.threshold_words(found, say));
        }
        if let Some(asked) = &self.asked {
            let _ = writeln!(out, "  - {}", self.described_words(asked, say));
        }
        let _ = writeln!(
            out,
            "\n{guest} added to {host}, mass %; temperatures in {}\n",
            say.unit()
        );
        out.push_str(&self.table(say));
        out.push_str(&frame.tail());
        harmless(&out)
    }

    fn described_words(&self, (share, melt): &(Share, Arc<Melt>), say: Say) -> String {
        let liquid = melt.first_melt_share;
        format!(
            "as described: {} of it{}, first melt {}{}",
            of_it(*share),
            self.amount(*share)
                .map_or_else(String::new, |a| format!(" ({a})")),
            melt.first_melt
                .map_or_else(|| "not known".to_owned(), |t| say.t(t)),
            liquid.map_or_else(String::new, |s| format!(", {} liquid there", percent(s)))
        )
    }

    fn threshold_words(&self, found: &Threshold, say: Say) -> String {
        let amount = self.amount(found.share);
        let amount = amount.map_or_else(String::new, |a| format!(" ({a})"));
        let from = format!("from {}{amount}", of_it(found.share));
        let there = match (found.melt.first_melt, found.melt.first_melt_share) {
            (Some(t), Some(share)) => format!("{} liquid at {}", percent(share), say.t(t)),
            (Some(t), None) => format!("may melt from {}", say.t(t)),
            (None, _) => "nobody knows when it melts".to_owned(),
        };
        match found.loses {
            Loses::Margin => format!(
                "{from} on it costs margin, more than {}: {there}. Too much where nothing may move (covered, under pull, hanging)",
                say.dt(FALL)
            ),
            Loses::Service => format!("{from} on it is too much for service: {there}"),
            Loses::Allowance => format!(
                "{from} on it melts, however free it lies (allowed {}): {there}",
                percent(policy::MOVES_FROM)
            ),
            Loses::SolidAt(at) => format!("{from} on some of it is liquid at {}", say.t(at)),
            Loses::StandsAt(at) => format!(
                "{from} on more than {} of it is liquid at {}",
                percent(policy::MOVES_FROM),
                say.t(at)
            ),
        }
    }

    /// What that share comes to on the first deposit as described: a mass, and a thickness if a film was.
    fn amount(&self, share: Share) -> Option<String> {
        let [host, guest] = self.spec.deposits.as_slice() else {
            return None;
        };
        if host.share_only {
            return None;
        }
        let x = share.fraction();
        let mg = host.blend.total().mg() * x / (1.0 - x);
        let mass = mass_words(Mass::from_mg(mg).ok()?);
        let thickness = guest
            .film
            .map(|film: Length| film.um() * mg / guest.blend.total().mg());
        Some(thickness.map_or(mass.clone(), |um| {
            format!("{mass}, a film of {} µm", digits(um, 2))
        }))
    }

    fn table(&self, say: Say) -> String {
        let told = |share: Share| {
            let percent = share.percent();
            percent < 1.05 || (percent / 5.0).fract() < 1e-6 || (percent - 2.0).abs() < 1e-6
        };
        let at: Vec<String> = (self.at.iter())
            .map(|&t| format!("liquid at {}", say.t_bare(t)))
            .collect();
        let mut head = vec![
            "added",
            "first melt",
            "liquid there",
            "solidus",
            "flow point",
        ];
        head.extend(at.iter().map(String::as_str));
        let share = |share: Option<Share>| share.map_or_else(|| "?".to_owned(), exact_percent);
        let rows: Vec<Vec<String>> = self
            .points
            .iter()
            .filter(|(share, _)| told(*share))
            .map(|(x, melt)| {
                let mut row = vec![
                    percent(*x),
                    say.t_or_unknown(melt.first_melt),
                    share(melt.first_melt_share),
                    say.t_or_unknown(melt.solidus),
                    say.t_or_unknown(melt.flow_point),
                ];
                row.extend(self.at.iter().map(|&t| share(melt.liquid_at(t))));
                row
            })
            .collect();
        table(&head, &rows, say.width)
    }

    /// As JSON.
    pub fn json(&self) -> Value {
        let row = |(share, melt): &(Share, Arc<Melt>)| {
            json!({
                "x": share,
                "first_melt_c": melt.first_melt,
                "first_melt_share": melt.first_melt_share,
                "survival_c": melt.survival,
                "trace_melt_c": melt.trace.map(|trace| trace.0),
                "trace_share": melt.trace.map(|trace| trace.1),
                "solidus_c": melt.solidus,
                "solidus_share": melt.curve.as_ref().map(|curve| curve.solidus_share),
                "flow_point_c": melt.flow_point,
                "liquidus_c": melt.liquidus,
                "at": self.at.iter().map(|&t| json!({"t_c": t, "counts": melt.liquid_at(t)})).collect::<Vec<_>>(),
            })
        };
        let from = |loses| self.found(loses).map(|found| found.share);
        json!({
            "host": self.names.0,
            "added": self.names.1,
            "costs_margin": from(Loses::Margin),
            "too_much": from(Loses::Service),
            "melts": from(Loses::Allowance),
            "described": self.asked.as_ref().map(row),
            "sweep": self.points.iter().map(row).collect::<Vec<_>>(),
        })
    }

    /// What a line that is not there means.
    fn gap_words(&self) -> Option<String> {
        let unknown = |melt: &Melt| {
            melt.first_melt.is_none() || melt.solidus.is_none() || melt.flow_point.is_none()
        };
        let gap = self.points.iter().any(|(_, melt)| unknown(melt));
        gap.then(|| "where a line is missing nothing is known: take it as molten".to_owned())
    }

    /// As picture data.
    pub fn picture(&self, frame: &Frame) -> SweepPicture {
        let (host, guest) = &self.names;
        let mark = |name: String, x: Share| SweepMark { name, x };
        let marks = self.found.iter().filter_map(|found| {
            let name = match found.loses {
                Loses::Margin => "costs margin",
                Loses::Service => "too much",
                Loses::Allowance => "melts",
                Loses::SolidAt(_) | Loses::StandsAt(_) => return None,
            };
            Some(mark(name.to_owned(), found.share))
        });
        let described = self.asked.as_ref();
        let described = described.map(|(x, _)| mark("as described".to_owned(), *x));
        SweepPicture {
            title: harmless(&format!("How much {guest} is too much in {host}?")),
            line: frame.line.clone(),
            of: harmless(&format!("{guest} in {host}")),
            points: std::iter::once(SweepPoint {
                x: Share::NONE,
                first_melt: self.start.first_melt,
                solidus: self.start.solidus,
                flow: self.start.flow_point,
                liquid: Some(Share::NONE),
            })
            .chain(self.points.iter().map(|(x, melt)| SweepPoint {
                x: *x,
                first_melt: melt.first_melt,
                solidus: melt.solidus,
                flow: melt.flow_point,
                liquid: melt.first_melt_share,
            }))
            .collect(),
            marks: marks.chain(described).collect(),
            notes: (self.gap_words().into_iter())
                .chain(frame.warnings.iter().cloned())
                .collect(),
        }
    }
}

/// Whether a doubt is of the metals, and not of one mixture of them.
fn is_of_metals(doubt: &Doubt) -> bool {
    matches!(
        doubt,
        Doubt::BismuthLeadTin
            | Doubt::ExtrapolatedClass
            | Doubt::FloorOfSubset
            | Doubt::NotCovered { .. }
            | Doubt::LiquidMetal { .. }
            | Doubt::WeakData
            | Doubt::NotConverged { .. }
    )
}
