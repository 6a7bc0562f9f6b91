//! What `mix` says: what a blend is, when it melts, and on what that rests.

use std::fmt::Write as _;

use serde_json::{Value, json};

use crate::alloy::spec::{Deposit, Spec};
use crate::alloy::{Composition, Element};
use crate::bench::is_brittle;
use crate::melt::{
    Basis, Contact, Doubt, History, Impure, Layer, Melt, MeltBook, Reaction, TableEntry, TrustClass,
};
use crate::policy;
use crate::quantity::{Celsius, KelvinStep, Mass, Share};

use super::answer::{Assumption, Frame};
use super::chart::{Curve as CurvePicture, CurvePoint, Landmark};
use super::check::basis_word;
use super::say::{Say, first_line, harmless, percent};
use super::table::table;

/// A blend, asked.
#[derive(Clone, Debug)]
pub struct Mixed {
    spec: Spec,
    /// Everything molten together and frozen.
    pub melt: std::sync::Arc<Melt>,
    /// The deposits while they only touch; `None` where there is only one.
    touching: Option<std::sync::Arc<Melt>>,
    at: Vec<Celsius>,
    /// With each impurity that metal as sold may hold; `None` where that was not asked.
    as_sold: Option<Vec<Impure>>,
}

impl Mixed {
    /// Asks as well what the blend does with each impurity that the standard allows.
    pub fn ask_as_sold(&mut self, melts: &MeltBook) {
        let composition = self.spec.blend().composition();
        self.as_sold = composition.map(|composition| melts.as_sold(&composition));
    }
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
    let alike = |pair: &[Deposit]| pair[0].composition == pair[1].composition;
    let touch = !spec.deposits.windows(2).all(alike);
    let touching = touch.then(|| melts.of_joint(&layers, Contact::Layers));
    Mixed {
        spec,
        melt,
        touching,
        at,
        as_sold: None,
    }
}

/// The frame of the answer.
pub fn frame(mixed: &Mixed, say: Say) -> Frame {
    let mut warnings: Vec<String> = mixed
        .melt
        .doubts
        .iter()
        .map(|doubt| match doubt {
            Doubt::NotCovered { element } if mixed.melt.survival.is_none() => format!(
                "{}: not assessed, no phase data and no published eutectic",
                element.english()
            ),
            doubt => doubt_words(doubt, say),
        })
        .collect();
    warnings.extend(mixed.spec.notices.iter().cloned());
    warnings.extend(mixed.spec.blend().composition().iter().flat_map(hazards));
    Frame {
        verb: "mix",
        line: first_line(&harmless(&line(&mixed.melt, say))),
        assumptions: assumptions(&mixed.spec, mixed.touching.is_some()),
        warnings,
        ..Frame::default()
    }
}

/// What a technician must know of a metal, whenever it melts.
pub(super) fn hazards(shares: &Composition) -> Vec<String> {
    let mut said = Vec::new();
    let lead = shares.share(Element::Pb);
    if lead > policy::LEAD_LIMIT {
        said.push(format!(
            "lead, {}: more than the {} that lead-free work allows (2011/65/EU)",
            percent(lead),
            percent(policy::LEAD_LIMIT)
        ));
    }
    if shares.share(Element::Cd) > Share::NONE {
        said.push(format!("{}: a job refuses it", super::pick::CADMIUM));
    }
    let gold = shares.share(Element::Au);
    if is_brittle(gold, shares.share(Element::Sn)) {
        said.push(format!(
            "gold, {}: above {} a joint of tin gets brittle",
            percent(gold),
            percent(policy::GOLD_LIMIT)
        ));
    }
    // Bi–In–Sn and Bi–In–Pb–Sn eutectics (`alloys/invariants.yaml`).
    if shares.share(Element::In).fraction() > 0.001 && shares.share(Element::Bi).fraction() > 0.001
    {
        said.push(
            "indium with bismuth: melts from about 57 °C, fit for taking parts off and nothing else"
                .to_owned(),
        );
    }
    said
}

/// What every answer about a blend takes for granted.
pub(super) fn assumptions(spec: &Spec, several: bool) -> Vec<Assumption> {
    let mut all = Vec::new();
    if several {
        all.push(Assumption {
            what: "state".to_owned(),
            value: "all of it molten together once, then frozen on the bench".to_owned(),
            unit: String::new(),
            mark: "our judgement; while the metals only touch, the numbers differ".to_owned(),
        });
    }
    if spec.deposits.iter().any(|d| d.what.contains(" of ")) {
        all.push(Assumption {
            what: "densities".to_owned(),
            value: "by the rule of mixtures; printed ones differ by 1 to 2 %".to_owned(),
            unit: String::new(),
            mark: "elements: CRC Handbook, from memory".to_owned(),
        });
    }
    all
}

fn line(melt: &Melt, say: Say) -> String {
    let Some(first_melt) = melt.first_melt else {
        return "nobody knows when this melts: take it as molten".to_owned();
    };
    let flow = melt.flow.map_or_else(
        || "nobody knows when it flows".to_owned(),
        |t| format!("flows at {}", say.t(t)),
    );
    if melt.basis == Basis::Floor {
        return format!(
            "may melt from {} on (published floor); {flow}",
            say.t(first_melt)
        );
    }
    let share = match (melt.first_melt_share, melt.trace) {
        (None, _) => String::new(),
        (Some(share), None) => format!(", {} of it at once", percent(share)),
        (Some(share), Some(_)) => format!(", {} of it by then", percent(share)),
    };
    format!("starts to melt at {}{share}; {flow}", say.t(first_melt))
}

/// The answer as text.
pub fn text(mixed: &Mixed, frame: &Frame, say: Say) -> String {
    let mut out = format!("{}\n\n", frame.line);
    let blend = mixed.spec.blend();
    for deposit in &mixed.spec.deposits {
        let _ = writeln!(out, "{}", deposit_words(deposit));
    }
    if let Some(composition) = blend.composition() {
        let mass = if mixed.spec.deposits.iter().any(|d| d.share_only) {
            String::new()
        } else {
            format!(" {}", mass_words(blend.total()))
        };
        let _ = writeln!(out, "together{mass}: {}\n", mass_percent(&composition));
    }
    if mixed.touching.is_some() {
        out.push_str("All molten together, then frozen\n");
    }
    out.push_str(&numbers(&mixed.melt, say));
    out.push_str(&months_text(&mixed.melt, say));
    out.push_str(&touching_text(mixed, say));
    out.push_str(&as_sold_text(mixed, say));
    out.push_str(&readings_text(&mixed.melt, say));
    out.push_str(&at_text(mixed, say));
    out.push_str(&way_text(&mixed.melt, say));
    out.push_str(&frame.tail());
    harmless(&out)
}

/// Canonical name, or the composition as typed.
pub(super) fn name_of(deposit: &Deposit) -> String {
    deposit
        .alloy
        .clone()
        .unwrap_or_else(|| deposit.composition.to_string())
}

/// `Sn63Pb37, film of 10 µm on 0.3 mm: 0.005938 mg`; a share or a mass is said once.
fn deposit_words(deposit: &Deposit) -> String {
    let name = name_of(deposit);
    if deposit.share_only {
        let whole = deposit.what == "all";
        return if whole {
            name
        } else {
            format!("{name}: {}", deposit.what)
        };
    }
    let mass = mass_words(deposit.blend.total());
    if deposit.what.ends_with(" mg") {
        format!("{name}: {mass}")
    } else {
        format!("{name}, {}: {mass}", deposit.what)
    }
}

/// Four digits that matter.
pub(super) fn mass_words(mass: Mass) -> String {
    let mg = mass.mg();
    if mg >= 1000.0 {
        return format!("{} g", digits(mg / 1000.0, 4));
    }
    format!("{} mg", digits(mg, 4))
}

/// A number rounded to so many digits that matter.
pub(super) fn digits(value: f64, count: usize) -> String {
    let rounded = format!("{value:.*e}", count.saturating_sub(1));
    rounded.parse().unwrap_or(value).to_string()
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

/// The numbers of the design's table; beside a table alloy with what was computed and what is printed.
fn numbers(melt: &Melt, say: Say) -> String {
    let rows = number_rows(melt, say);
    let beside = melt.table.is_some() && melt.curve.is_some();
    let cells: Vec<Vec<String>> = rows
        .into_iter()
        .map(|[what, counts, computed, printed, more]| {
            if beside {
                vec![what, counts, computed, printed, more]
            } else {
                vec![what, counts, more]
            }
        })
        .collect();
    if beside {
        let head = ["", "counts", "computed", "printed", "know"];
        table(&head, &cells, say.width)
    } else {
        table(&["", "", ""], &cells, say.width)
    }
}

/// What, the number that counts, what was computed, what is printed, and more.
fn number_rows(melt: &Melt, say: Say) -> Vec<[String; 5]> {
    let known = |t: Option<Celsius>| t.map_or_else(|| "not known".to_owned(), |t| say.t(t));
    let bare = |t: Option<Celsius>| t.map_or_else(String::new, |t| say.t_bare(t));
    let share = |share: Option<Share>| match share {
        Some(share) if share > Share::NONE => format!("{} liquid", percent(share)),
        _ => String::new(),
    };
    let row = |what: &str, counts: Option<Celsius>, more: String| {
        let none = String::new;
        [what.to_owned(), known(counts), none(), none(), more]
    };
    let curve = melt.curve.as_ref();
    let entry = melt.table.as_ref();
    let beside = |mut row: [String; 5], computed: Option<Celsius>, printed: Option<Celsius>| {
        row[2] = bare(computed);
        row[3] = bare(printed);
        row
    };
    let floor = melt.basis == Basis::Floor;
    let first = if floor {
        "may melt from"
    } else {
        "first melt as frozen"
    };
    let mut rows = vec![beside(
        row(first, melt.first_melt, share(melt.first_melt_share)),
        curve.map(|c| c.first_melt),
        None,
    )];
    if let Some((at, trace)) = melt.trace {
        rows.push(row("trace", Some(at), share(Some(trace))));
    }
    rows.push(row("survives up to", melt.survival, taken_off(melt, say)));
    rows.push(beside(
        row(
            "equilibrium solidus",
            melt.solidus,
            share(curve.map(|curve| curve.solidus_share)),
        ),
        curve.map(|c| c.solidus),
        entry.map(|e| e.solidus),
    ));
    rows.push(beside(
        row("flow point", melt.flow_point, "98 mass % liquid".to_owned()),
        curve.map(|c| c.flow_point),
        None,
    ));
    rows.push(row("flows surely at", melt.flow, put_on(melt, say)));
    rows.push(beside(
        row("strict liquidus", melt.liquidus, "upper bound".to_owned()),
        curve.map(|c| c.liquidus),
        entry.map(|e| e.liquidus),
    ));
    let mut basis = row("basis", None, class_words(melt, say));
    basis_word(melt.basis).clone_into(&mut basis[1]);
    rows.push(basis);
    rows
}

/// How far the survival temperature lies below the first melt, and why.
fn taken_off(melt: &Melt, say: Say) -> String {
    match melt.survival {
        None => "take it as molten".to_owned(),
        Some(_) if melt.u == KelvinStep::ZERO => "nothing taken off".to_owned(),
        Some(_) => format!("u {} taken off", say.dt(melt.u)),
    }
}

/// How the flow temperature comes about: the flow point and u, or the printed liquidus if higher.
fn put_on(melt: &Melt, say: Say) -> String {
    let (Some(flow), Some(_)) = (melt.flow, melt.flow_point) else {
        return String::new();
    };
    let computed = melt.curve.as_ref().map(|c| c.flow_point + melt.u_flow);
    if computed.is_some_and(|computed| computed < flow) {
        "printed liquidus".to_owned()
    } else if melt.u_flow == KelvinStep::ZERO {
        String::new()
    } else {
        format!("u {} put on", say.dt(melt.u_flow))
    }
}

fn class_words(melt: &Melt, say: Say) -> String {
    if melt.basis == Basis::Measured && melt.table.is_none() {
        return "pinned, taken as exact".to_owned();
    }
    melt.class.map_or_else(String::new, |class| {
        if class == TrustClass::C {
            return "phase data of class C: a lower bound, no more".to_owned();
        }
        let u = if melt.u == KelvinStep::ZERO {
            String::new()
        } else {
            format!(
                ": ± {} at first melt, {} at flow",
                say.dt(melt.u),
                say.dt(melt.u_flow)
            )
        };
        format!("phase data of class {}{u}", class_letter(class))
    })
}

const fn class_letter(class: TrustClass) -> &'static str {
    match class {
        TrustClass::A => "A",
        TrustClass::B => "B",
        TrustClass::C => "C",
    }
}

/// What months of warmth make of a joint that froze unevenly, where that differs by more than u. Heats and service count
/// it as frozen: nobody knows how far it has evened out.
fn months_text(melt: &Melt, say: Say) -> String {
    let evened = evens_out_to(melt);
    evened.map_or_else(String::new, |t| {
        format!(
            "\nAfter months in service: evened out it would start at {}; as frozen counts, since nobody knows how far it got\n",
            say.t(t)
        )
    })
}

/// The equilibrium solidus of a joint that starts to melt far below it.
fn evens_out_to(melt: &Melt) -> Option<Celsius> {
    let (curve, first) = (melt.curve.as_ref()?, melt.first_melt?);
    (curve.solidus - first > melt.u.max(KelvinStep::whole(2))).then_some(curve.solidus)
}

/// What each allowed impurity costs, worst first; those that cost nothing together.
fn as_sold_text(mixed: &Mixed, say: Say) -> String {
    let Some(impure) = &mixed.as_sold else {
        return String::new();
    };
    let mut out = String::from(
        "\nAs impure as the standard allows, one at a time (J-STD-006, from memory)\n",
    );
    let pure = mixed.melt.survival;
    let mut harmless = Vec::new();
    for one in impure {
        let name = one.element.english();
        match (one.melt.first_melt, one.melt.survival, pure) {
            (Some(_), Some(survival), Some(pure)) if pure - survival < COSTS => harmless.push(name),
            (Some(first), Some(survival), _) => {
                let share = one.melt.first_melt_share;
                let share =
                    share.map_or_else(String::new, |share| format!(", {} liquid", percent(share)));
                let _ = writeln!(
                    out,
                    "  - {name} {}: starts at {}{share}; survives up to {}",
                    exact_percent(one.most),
                    say.t(first),
                    say.t(survival)
                );
            }
            _ => {
                let _ = writeln!(out, "  - {name} {}: nobody knows", exact_percent(one.most));
            }
        }
    }
    if !harmless.is_empty() {
        let _ = writeln!(
            out,
            "  - {}: less than {}",
            harmless.join(", "),
            say.dt(COSTS)
        );
    }
    out
}

/// An impurity that lowers survival by less is not listed by itself.
const COSTS: KelvinStep = KelvinStep::from_millikelvin(500);

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
    let read = |what: &str, of: fn(&crate::melt::Reading) -> Option<Celsius>| {
        let all = entry.readings.iter().filter_map(of);
        let (low, high) = (all.clone().min()?, all.max()?);
        Some(if low == high {
            format!("{what} {}", say.t_bare(low))
        } else {
            format!("{what} {} to {}", say.t_bare(low), say.t_bare(high))
        })
    };
    let read = [
        read("solidus", |r| r.solidus),
        read("liquidus", |r| r.liquidus),
    ];
    let read: Vec<String> = read.into_iter().flatten().collect();
    format!(
        "\nIn the table as {}: {} to {} in use; {} readings, {} (`meltstair alloys {}`)\n",
        entry.name,
        say.t_bare(entry.solidus),
        say.t(entry.liquidus),
        entry.readings.len(),
        read.join(", "),
        entry.name
    )
}

fn at_text(mixed: &Mixed, say: Say) -> String {
    let mut out = String::new();
    for &t in &mixed.at {
        let counts = match mixed.melt.liquid_at(t) {
            Some(share) if share == Share::NONE => "none of it liquid".to_owned(),
            Some(share) => format!("{} liquid", exact_percent(share)),
            None => "nobody knows how much is liquid, take it as molten".to_owned(),
        };
        let _ = write!(out, "\nAt {}: {counts}", say.t(t));
        if let Some(curve) = &mixed.melt.curve {
            let share = |history| exact_percent(curve.liquid_at(t, history));
            let _ = write!(
                out,
                " (computed {} as frozen, {} in equilibrium)",
                share(History::Frozen),
                share(History::AsBought)
            );
        }
        let touching = mixed.touching.as_ref().and_then(|m| m.liquid_at(t));
        if let Some(touching) = touching.filter(|share| Some(*share) != mixed.melt.liquid_at(t)) {
            let _ = write!(
                out,
                "; up to {} while they only touch",
                exact_percent(touching)
            );
        }
        out.push('\n');
    }
    out
}

/// None is none, and a trace is a trace.
pub(super) fn exact_percent(share: Share) -> String {
    match share.percent() {
        0.0 => "0 %".to_owned(),
        p if p < 0.005 => "less than 0.01 %".to_owned(),
        _ => percent(share),
    }
}

/// What happens on cooling, as frozen; and what happens at one temperature in equilibrium.
fn way_text(melt: &Melt, say: Say) -> String {
    let Some(curve) = &melt.curve else {
        return String::new();
    };
    let mut out = String::from("\nAs it freezes\n");
    let frozen = curve.reactions(History::Frozen);
    for reaction in frozen {
        let _ = writeln!(out, "  - {reaction}");
    }
    if !frozen.last().is_some_and(|last| last.at_once) {
        let (at, share) = curve
            .trace_melt
            .unwrap_or((curve.first_melt, curve.first_melt_share));
        let _ = writeln!(
            out,
            "  - the last {} freezes at {}",
            percent(share),
            say.t(at)
        );
    }
    let annealed = curve.reactions(History::AsBought);
    let at_once: Vec<_> = annealed.iter().filter(|r| r.at_once).collect();
    let as_frozen = |r: &Reaction| frozen.iter().any(|f| f.at_once && f.at == r.at);
    if !at_once.is_empty() && at_once.iter().any(|r| !as_frozen(r)) {
        out.push_str("\nIn equilibrium (long annealed)\n");
        for reaction in at_once {
            let _ = writeln!(out, "  - {reaction}");
        }
    }
    out
}

/// `tin`, `tin and lead`, `bismuth, lead and tin`.
fn metals(of: &[Element]) -> String {
    let names: Vec<&str> = of.iter().map(|element| element.english()).collect();
    match names.as_slice() {
        [] => String::new(),
        [one] => (*one).to_owned(),
        [most @ .., last] => format!("{} and {last}", most.join(", ")),
    }
}

/// Melting points: gallium 29.76 °C, a fixed point of the ITS-90; mercury −38.83 °C (CRC Handbook, memory).
fn liquid_metal(element: Element) -> String {
    let name = element.english();
    if element == Element::Ga {
        format!("{name}: not assessed, can be liquid below 30 °C: nothing may be assumed")
    } else {
        format!("{name}: not assessed, can be liquid at room temperature: nothing may be assumed")
    }
}

/// A doubt in one sentence.
pub fn doubt_words(doubt: &Doubt, say: Say) -> String {
    match doubt {
        Doubt::BismuthLeadTin => format!(
            "bismuth, lead and tin together: counted as melting from {}, measured at 95.3 ± 0.5 °C",
            say.t(policy::BISMUTH_LEAD_TIN)
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
        Doubt::FrozenBelowReading { reading, frozen } => format!(
            "printed solidus {} is that of the alloy as bought; melted and frozen on the bench it is segregated and starts at {}",
            say.t(*reading),
            say.t(*frozen)
        ),
        Doubt::ExtrapolatedClass => {
            "the phase data of these elements are of class B: wider uncertainty".to_owned()
        }
        Doubt::FloorOfSubset => {
            "floor taken from a subset of the elements: at best close".to_owned()
        }
        Doubt::NotCovered { element } => {
            format!("no assessed phase data for {}: published eutectics are the floor", element.english())
        }
        Doubt::LiquidMetal { element } => liquid_metal(*element),
        Doubt::Distance {
            known,
            left_out,
            off,
        } => match left_out.as_slice() {
            [] => format!(
                "nothing is known of all these elements together: {} is taken off {}, where some of them melt",
                say.dt(*off),
                say.t(*known)
            ),
            left_out => format!(
                "{} is taken off {}, which is known without {}",
                say.dt(*off),
                say.t(*known),
                metals(left_out)
            ),
        },
        Doubt::FloorCounts { floor, of } => format!(
            "{} together melt from {} on (published): as frozen that counts, whatever is printed for the alloy",
            metals(of),
            say.t(*floor)
        ),
        Doubt::WeakBound { bound, share, u } => format!(
            "by phase data of class C first liquid at {} ({}), ± {}: taken as a lower bound",
            say.t(*bound),
            exact_percent(*share),
            say.dt(*u)
        ),
        Doubt::Dropped { element, share } => format!(
            "{}, {}: left out, too little to change when it melts",
            element.english(),
            exact_percent(*share)
        ),
        Doubt::WeakData => {
            "the phase data of these elements are too weak for an answer: the lowest of readings, published floors and what the data say"
                .to_owned()
        }
        Doubt::CrystalsAboveFlow {
            share,
            flow,
            liquidus,
        } => format!(
            "{} of it is still crystals at {}, the last gone at {}",
            percent(*share),
            say.t(*flow),
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
        "readings_c": melt.table.as_ref().map(readings_json),
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
        "after_months_c": evens_out_to(melt),
        "as_sold": mixed.as_sold.as_ref().map(|all| all.iter().map(|one| json!({
            "element": one.element.symbol(),
            "percent": one.most.percent(),
            "first_melt_c": one.melt.first_melt,
            "first_melt_share": one.melt.first_melt_share,
            "survival_c": one.melt.survival,
        })).collect::<Vec<_>>()),
        "curve": curve_json(melt),
        "at": mixed.at.iter().map(|&t| json!({
            "t_c": t,
            "equilibrium": melt.curve.as_ref().map(|c| c.liquid_at(t, History::AsBought)),
            "as_frozen": melt.curve.as_ref().map(|c| c.liquid_at(t, History::Frozen)),
            "counts": melt.liquid_at(t),
            "touching": mixed.touching.as_ref().and_then(|melt| melt.liquid_at(t)),
        })).collect::<Vec<_>>(),
        "way": way_json(melt, History::Frozen),
        "way_in_equilibrium": way_json(melt, History::AsBought),
        "why": melt.first_melt.is_none().then_some("no phase data, no reading, no published invariant"),
    })
}

fn readings_json(entry: &TableEntry) -> Value {
    json!({
        "alloy": entry.name,
        "solidus_c": entry.solidus,
        "liquidus_c": entry.liquidus,
    })
}

fn way_json(melt: &Melt, history: History) -> Value {
    let Some(curve) = &melt.curve else {
        return Value::Null;
    };
    let reactions = curve.reactions(history).iter();
    reactions
        .map(|reaction| json!(reaction.to_string()))
        .collect()
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
        title: harmless(&title(&mixed.spec)),
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
        .chain(mixed.at.iter().map(|&at| asked(&mixed.melt, at)))
        .collect(),
        notes: frame.warnings.clone(),
    })
}

/// A temperature that was asked about, with what is liquid there.
fn asked(melt: &Melt, at: Celsius) -> Landmark {
    let name = melt.liquid_at(at).map_or_else(
        || "not known at".to_owned(),
        |share| format!("{} liquid at", exact_percent(share)),
    );
    Landmark { name, at }
}

/// The blend, and what it was made of where that is a few things.
fn title(spec: &Spec) -> String {
    let composition = spec.blend().composition();
    let composition = composition.map_or_else(String::new, |c| c.to_string());
    if (2..=3).contains(&spec.deposits.len()) {
        let names: Vec<String> = spec.deposits.iter().map(name_of).collect();
        format!("{}: {composition}", names.join(" + "))
    } else {
        composition
    }
}
