//! What `mix` says: what a blend is, when it melts, on what that rests, and how much is too much.

use std::fmt::Write as _;

use serde_json::{Value, json};

use crate::alloy::spec::{Deposit, Spec};
use crate::alloy::{Blend, Composition, Element};
use crate::melt::{Contact, Doubt, History, Layer, Melt, MeltBook, TrustClass};
use crate::quantity::{Celsius, KelvinStep, Share};

use super::answer::Frame;
use super::chart::{
    Curve as CurvePicture, CurvePoint, Landmark, Sweep as SweepPicture, SweepPoint,
};
use super::check::basis_word;
use super::say::{Say, first_line, harmless, percent};
use super::table::Rows;

/// A blend, asked.
#[derive(Clone, Debug)]
pub struct Mixed {
    spec: Spec,
    /// Everything molten together and frozen.
    pub melt: std::sync::Arc<Melt>,
    /// The deposits while they only touch; `None` where there is only one.
    touching: Option<std::sync::Arc<Melt>>,
    at: Vec<Celsius>,
}

/// Asks the book about a blend, and about these temperatures.
pub fn ask(melts: &MeltBook, spec: Spec, at: Vec<Celsius>) -> Mixed {
    let layers: Vec<Layer> = spec
        .deposits
        .iter()
        .map(|deposit| Layer {
            blend: deposit.blend,
            history: History::Frozen,
            unstated: false,
            unknown: false,
        })
        .collect();
    let melt = melts.of_mixed(&layers);
    let touching = (layers.len() > 1).then(|| melts.of_joint(&layers, Contact::Layers));
    Mixed {
        spec,
        melt,
        touching,
        at,
    }
}

/// The frame of the answer.
pub fn frame(mixed: &Mixed, say: Say) -> Frame {
    let mut warnings: Vec<String> = mixed
        .melt
        .doubts
        .iter()
        .map(|doubt| doubt_words(doubt, say))
        .collect();
    warnings.extend(mixed.spec.notices.iter().cloned());
    let shares = mixed.spec.blend().composition();
    if shares.is_some_and(|shares| shares.share(Element::Cd) > Share::NONE) {
        warnings.push(format!("{}: a job refuses it", super::pick::CADMIUM));
    }
    Frame {
        verb: "mix",
        line: first_line(&harmless(&line(&mixed.melt, say))),
        warnings,
        ..Frame::default()
    }
}

fn line(melt: &Melt, say: Say) -> String {
    let Some(first_melt) = melt.first_melt else {
        return "nobody knows when this melts: take it as molten".to_owned();
    };
    let share = melt.first_melt_share.map_or_else(String::new, |share| {
        format!(", {} of it at once", percent(share))
    });
    let flow = melt.flow.map_or_else(
        || "nobody knows when it flows".to_owned(),
        |t| format!("flows at {}", say.t(t)),
    );
    format!("starts to melt at {}{share}; {flow}", say.t(first_melt))
}

/// The answer as text.
pub fn text(mixed: &Mixed, frame: &Frame, say: Say) -> String {
    let mut out = format!("{}\n\n", frame.line);
    let blend = mixed.spec.blend();
    for deposit in &mixed.spec.deposits {
        let name = deposit
            .alloy
            .clone()
            .unwrap_or_else(|| deposit.composition.to_string());
        let _ = writeln!(
            out,
            "{}: {name}, {:.4} mg",
            deposit.what,
            deposit.blend.total().mg()
        );
    }
    if let Some(composition) = blend.composition() {
        let _ = writeln!(
            out,
            "together {:.4} mg: {}\n",
            blend.total().mg(),
            mass_percent(&composition)
        );
    }
    out.push_str(&numbers(&mixed.melt, say).text(say.width));
    out.push_str(&touching_text(mixed, say));
    out.push_str(&readings_text(&mixed.melt, say));
    out.push_str(&at_text(mixed, say));
    out.push_str(&way_text(&mixed.melt));
    out.push_str(&frame.tail());
    harmless(&out)
}

fn mass_percent(composition: &Composition) -> String {
    let parts: Vec<String> = composition
        .parts_by_share()
        .iter()
        .map(|(element, share)| format!("{element} {} %", four_figures(share.percent())))
        .collect();
    parts.join(", ")
}

fn four_figures(percent: f64) -> String {
    if percent >= 9.9995 {
        format!("{percent:.2}")
    } else {
        format!("{percent:.4}")
    }
}

fn numbers(melt: &Melt, say: Say) -> Rows {
    let t = |t: Option<Celsius>| t.map_or_else(|| "not known".to_owned(), |t| say.t(t));
    let share =
        |share: Option<Share>| share.map_or_else(String::new, |s| format!("{} liquid", percent(s)));
    let row = |what: &str, value: String, more: String| vec![what.to_owned(), value, more];
    let mut rows = vec![
        row(
            "first melt as frozen",
            t(melt.first_melt),
            share(melt.first_melt_share),
        ),
        row(
            "survives up to",
            t(melt.survival),
            format!("u {} taken off", say.dt(melt.u)),
        ),
        row(
            "equilibrium solidus",
            t(melt.solidus),
            share(melt.curve.as_ref().map(|curve| curve.solidus_share)),
        ),
        row(
            "flow point",
            t(melt.flow_point),
            "98 mass % liquid".to_owned(),
        ),
        row(
            "flows surely at",
            t(melt.flow),
            format!("u {} put on", say.dt(melt.u_flow)),
        ),
        row(
            "strict liquidus",
            t(melt.liquidus),
            "upper bound".to_owned(),
        ),
    ];
    if let Some((at, trace)) = melt.trace {
        rows.insert(1, row("trace", say.t(at), share(Some(trace))));
    }
    rows.push(row(
        "basis",
        basis_word(melt.basis).to_owned(),
        class_words(melt.class),
    ));
    Rows {
        head: vec!["", "", ""],
        rows,
    }
}

fn class_words(class: Option<TrustClass>) -> String {
    class.map_or_else(String::new, |class| {
        format!("phase data of class {}", class_letter(class))
    })
}

const fn class_letter(class: TrustClass) -> &'static str {
    match class {
        TrustClass::A => "A",
        TrustClass::B => "B",
        TrustClass::C => "C",
    }
}

fn touching_text(mixed: &Mixed, say: Say) -> String {
    mixed.touching.as_ref().map_or_else(String::new, |melt| {
        format!(
            "\nWhile they only touch: first melt {}, {}\n",
            melt.first_melt
                .map_or_else(|| "not known".to_owned(), |t| say.t(t)),
            melt.flow.map_or_else(
                || "flow not known".to_owned(),
                |t| format!("all of it flows at {}", say.t(t))
            ),
        )
    })
}

fn readings_text(melt: &Melt, say: Say) -> String {
    let Some(entry) = &melt.table else {
        return String::new();
    };
    format!(
        "\nIn the table as {}: {} to {} in use, {} readings (`meltstair alloys {}`)\n",
        entry.name,
        say.t_bare(entry.solidus),
        say.t(entry.liquidus),
        entry.readings.len(),
        entry.name
    )
}

fn at_text(mixed: &Mixed, say: Say) -> String {
    let mut out = String::new();
    for &t in &mixed.at {
        let share = |history| {
            let curve = mixed.melt.curve.as_ref();
            curve.map_or_else(
                || "not known".to_owned(),
                |c| percent(c.liquid_at(t, history)),
            )
        };
        let _ = writeln!(
            out,
            "\nAt {}: {} liquid as frozen, {} in equilibrium",
            say.t(t),
            share(History::Frozen),
            share(History::AsBought)
        );
    }
    out
}

/// What happens on cooling, as frozen.
fn way_text(melt: &Melt) -> String {
    let Some(curve) = &melt.curve else {
        return String::new();
    };
    let mut out = String::from("\nAs it freezes\n");
    for reaction in curve.reactions(History::Frozen) {
        let _ = writeln!(out, "  - {reaction}");
    }
    out
}

/// A doubt in one sentence.
pub fn doubt_words(doubt: &Doubt, say: Say) -> String {
    match doubt {
        Doubt::BismuthLeadTin => format!(
            "bismuth, lead and tin together: counted as melting from {}, measured at 95.3 ± 0.5",
            say.t(Celsius::whole(95))
        ),
        Doubt::ReadingBelowComputed { reading, computed } => format!(
            "printed solidus {} lies below the computed {}: the lower counts",
            say.t(*reading),
            say.t(*computed)
        ),
        Doubt::ComputedBelowReading { reading, computed } => format!(
            "printed solidus {} lies above the computed {}: the listing disagrees, the lower counts",
            say.t(*reading),
            say.t(*computed)
        ),
        Doubt::ExtrapolatedClass => {
            "the phase data of these elements are of class B: wider uncertainty".to_owned()
        }
        Doubt::FloorOfSubset => {
            "floor taken from a subset of the elements: at best close".to_owned()
        }
        Doubt::NotCovered { element } => {
            format!("no assessed phase data for {element}: published invariants are the floor")
        }
        Doubt::LiquidMetal => "gallium or mercury: nothing may be assumed".to_owned(),
        Doubt::WeakData => {
            "the phase data of these elements are too weak to be used: readings or a floor only"
                .to_owned()
        }
        Doubt::CrystalsAboveFlow { share, liquidus } => format!(
            "{} stays crystals up to {}",
            percent(*share),
            say.t(*liquidus)
        ),
        Doubt::MixLowerThanLayers => "the mixture melts lower than either metal".to_owned(),
        Doubt::DoesNotAddUp { survival, highest } => format!(
            "internal error, please report it: the mixture came out as solid up to {} though all that is in it is molten at {}; taken as not known",
            say.t(*survival),
            say.t(*highest)
        ),
        Doubt::NotConverged { why } => format!("no curve: {why}"),
    }
}

/// The keys of `mix`, as `json.md` of the design has them, and a few more.
pub fn json(mixed: &Mixed) -> Value {
    let melt = &mixed.melt;
    let blend = mixed.spec.blend();
    let percents: serde_json::Map<String, Value> = blend
        .composition()
        .iter()
        .flat_map(Composition::parts_by_share)
        .map(|(element, share)| (element.symbol().to_owned(), json!(share.percent())))
        .collect();
    json!({
        "mass_percent": percents,
        "mass_mg": blend.total().mg(),
        "basis": basis_word(melt.basis),
        "class": melt.class.map(class_letter),
        "uncertainty_k": melt.u,
        "uncertainty_flow_k": melt.u_flow,
        "first_melt_c": melt.first_melt,
        "first_melt_share": melt.first_melt_share,
        "trace_melt_c": melt.trace.map(|trace| trace.0),
        "trace_share": melt.trace.map(|trace| trace.1),
        "survival_c": melt.survival,
        "solidus_c": melt.solidus,
        "flow_point_c": melt.flow_point,
        "flow_c": melt.flow,
        "liquidus_c": melt.liquidus,
        "readings_c": melt.table.as_ref().map(|entry| json!({
            "alloy": entry.name,
            "solidus_c": entry.solidus,
            "liquidus_c": entry.liquidus,
        })),
        "computed": melt.curve.as_ref().map(|curve| json!({
            "first_melt_c": curve.first_melt,
            "first_melt_share": curve.first_melt_share,
            "solidus_c": curve.solidus,
            "solidus_share": curve.solidus_share,
            "flow_c": curve.flow_point,
            "liquidus_c": curve.liquidus,
        })),
        "touching": mixed.touching.as_ref().map(|melt| json!({
            "first_melt_c": melt.first_melt,
            "survival_c": melt.survival,
            "flow_c": melt.flow,
        })),
        "curve": curve_json(melt),
        "at": mixed.at.iter().map(|&t| json!({
            "t_c": t,
            "equilibrium": melt.curve.as_ref().map(|c| c.liquid_at(t, History::AsBought)),
            "as_frozen": melt.curve.as_ref().map(|c| c.liquid_at(t, History::Frozen)),
        })).collect::<Vec<_>>(),
        "way": melt.curve.as_ref().map(|curve| {
            curve.reactions(History::Frozen).iter().map(ToString::to_string).collect::<Vec<_>>()
        }),
        "why": melt.first_melt.is_none().then_some("no phase data, no reading, no published invariant"),
    })
}

fn curve_json(melt: &Melt) -> Value {
    let Some(curve) = &melt.curve else {
        return Value::Null;
    };
    let mut at: Vec<Celsius> = [History::AsBought, History::Frozen]
        .into_iter()
        .flat_map(|history| curve.points(history))
        .map(|(t, _)| t)
        .collect();
    at.sort_unstable();
    at.dedup();
    let row = |t: Celsius| {
        json!([
            t,
            curve.liquid_at(t, History::AsBought),
            curve.liquid_at(t, History::Frozen)
        ])
    };
    Value::Array(at.into_iter().map(row).collect())
}

/// The melting curve as picture data; `None` where there is no curve.
pub fn curve_picture(mixed: &Mixed, frame: &Frame) -> Option<CurvePicture> {
    let curve = mixed.melt.curve.as_ref()?;
    let points = |history| {
        let points = curve.points(history);
        points
            .into_iter()
            .map(|(at, liquid)| CurvePoint { at, liquid })
            .collect()
    };
    let landmark = |name: &str, at: Option<Celsius>| {
        at.map(|at| Landmark {
            name: name.to_owned(),
            at,
        })
    };
    Some(CurvePicture {
        title: harmless(
            &mixed
                .spec
                .blend()
                .composition()
                .map_or_else(String::new, |c| c.to_string()),
        ),
        line: frame.line.clone(),
        equilibrium: points(History::AsBought),
        as_frozen: points(History::Frozen),
        landmarks: [
            landmark("first melt", mixed.melt.first_melt),
            landmark("solidus", mixed.melt.solidus),
            landmark("98 % liquid", mixed.melt.flow_point),
            landmark("flows surely", mixed.melt.flow),
            landmark("liquidus", mixed.melt.liquidus),
        ]
        .into_iter()
        .flatten()
        .collect(),
        notes: frame.warnings.clone(),
    })
}

/// How much of the second metal is in the first, and what comes of it.
#[derive(Clone, Debug)]
pub struct Swept {
    names: (String, String),
    points: Vec<(Share, std::sync::Arc<Melt>)>,
    start: std::sync::Arc<Melt>,
}

/// Shares of the added metal that a sweep looks at, mass %: dense where a trace decides.
fn sweep_percents() -> Vec<f64> {
    let fine = (1..=20).map(|i| f64::from(i) * 0.1);
    let coarse = (5..=200)
        .map(|i| f64::from(i) * 0.5)
        .filter(|&x| x > 2.0 && x < 100.0);
    std::iter::once(0.02).chain(fine).chain(coarse).collect()
}

/// Mixes more and more of the second deposit's metal into the first's; `None` unless there are two.
pub fn sweep(melts: &MeltBook, spec: &Spec) -> Option<Swept> {
    use rayon::prelude::*;
    let [host, guest] = spec.deposits.as_slice() else {
        return None;
    };
    let at = |percent: f64| {
        let share = Share::nearest(percent / 100.0);
        let rest = Share::nearest(1.0 - share.fraction());
        let unit =
            |c: &Composition| Blend::of(c, crate::quantity::Mass::from_picograms(1_000_000_000));
        let blend = unit(&host.composition)
            .part(rest)
            .with(&unit(&guest.composition).part(share));
        (share, melts.of(&blend, History::Frozen))
    };
    let name = |deposit: &Deposit| {
        deposit
            .alloy
            .clone()
            .unwrap_or_else(|| deposit.composition.to_string())
    };
    Some(Swept {
        names: (name(host), name(guest)),
        start: at(0.0).1,
        points: sweep_percents().into_par_iter().map(at).collect(),
    })
}

/// A fall of the first melt that counts as too much, the margin that a job keeps by default, once
/// so much of the joint is liquid there (the share from which service above the rule fails).
const TOO_MUCH: KelvinStep = KelvinStep::whole(5);
const TOO_MUCH_LIQUID: f64 = 0.01;

impl Swept {
    /// The smallest share looked at that brings the first melt down by more than 5 K, with at least
    /// 1 mass% liquid there.
    fn too_much(&self) -> Option<&(Share, std::sync::Arc<Melt>)> {
        let start = self.start.first_melt?;
        self.points.iter().find(|(_, melt)| {
            let much = |share: Share| share.fraction() >= TOO_MUCH_LIQUID;
            melt.first_melt.is_none_or(|t| start - t > TOO_MUCH)
                && melt.first_melt_share.is_none_or(much)
        })
    }

    /// The answer in one line.
    pub fn line(&self, say: Say) -> String {
        let (host, guest) = &self.names;
        match self.too_much() {
            Some((share, melt)) => format!(
                "{} of {guest} in {host} is too much: {} liquid at {}",
                percent(*share),
                melt.first_melt_share
                    .map_or_else(|| "nobody knows how much".to_owned(), percent),
                melt.first_melt
                    .map_or_else(|| "a temperature not known".to_owned(), |t| say.t(t))
            ),
            None => format!(
                "no amount of {guest} brings {host} down by more than {}",
                say.dt(TOO_MUCH)
            ),
        }
    }

    /// As text: a table of some of the shares.
    pub fn text(&self, say: Say) -> String {
        let (host, guest) = &self.names;
        let told = |share: Share| {
            let percent = share.percent();
            percent < 1.05 || (percent / 5.0).fract() < 1e-6 || (percent - 2.0).abs() < 1e-6
        };
        let rows = self
            .points
            .iter()
            .filter(|(share, _)| told(*share))
            .map(|(share, melt)| {
                vec![
                    percent(*share),
                    say.t_or_unknown(melt.first_melt),
                    melt.first_melt_share
                        .map_or_else(|| "?".to_owned(), percent),
                    say.t_or_unknown(melt.solidus),
                    say.t_or_unknown(melt.flow_point),
                ]
            });
        let rows = Rows {
            head: vec![
                "added",
                "first melt",
                "liquid there",
                "solidus",
                "flow point",
            ],
            rows: rows.collect(),
        };
        harmless(&format!(
            "{}\n\n{guest} added to {host}, mass %; {}\n\n{}",
            first_line(&self.line(say)),
            say.unit(),
            rows.text(say.width)
        ))
    }

    /// As JSON.
    pub fn json(&self) -> Value {
        let points = self.points.iter().map(|(share, melt)| {
            json!({
                "x": share,
                "first_melt_c": melt.first_melt,
                "first_melt_share": melt.first_melt_share,
                "trace_melt_c": melt.trace.map(|trace| trace.0),
                "trace_share": melt.trace.map(|trace| trace.1),
                "solidus_c": melt.solidus,
                "solidus_share": melt.curve.as_ref().map(|curve| curve.solidus_share),
                "flow_point_c": melt.flow_point,
                "liquidus_c": melt.liquidus,
            })
        });
        json!({
            "host": self.names.0,
            "added": self.names.1,
            "too_much": self.too_much().map(|(share, _)| share),
            "sweep": points.collect::<Vec<_>>(),
        })
    }

    /// As picture data.
    pub fn picture(&self, say: Say) -> SweepPicture {
        let (host, guest) = &self.names;
        SweepPicture {
            title: harmless(&format!("How much {guest} is too much in {host}?")),
            line: self.line(say),
            of: harmless(&format!("{guest} in {host}")),
            points: self
                .points
                .iter()
                .map(|(x, melt)| SweepPoint {
                    x: *x,
                    first_melt: melt.first_melt,
                    solidus: melt.solidus,
                    flow: melt.flow_point,
                    liquid: melt.first_melt_share,
                })
                .collect(),
            notes: Vec::new(),
        }
    }
}
