//! The table's files, read strictly: `alloys.yaml`, `sources.yaml`, `invariants.yaml`,
//! `names.yaml`, and the user's own file, which may hold `alloys`, `sources` and `stock`.

use std::collections::BTreeMap;

use serde::Deserialize;

use super::table::{
    Alloy, AlloyDensity, InUse, Invariant, InvariantKind, Reading, Source, SourceKind, Standing,
};
use super::words::{exact_formula, written_name};
use super::{Composition, Element};
use crate::nearest::nearest;
use crate::policy;
use crate::quantity::{Celsius, Density};
use crate::yaml::{Fault, Number, Placed};

/// One alloy as written.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct AlloyRow {
    alloy: Placed<String>,
    use_c: Placed<String>,
    why: String,
    readings_c: BTreeMap<String, Placed<String>>,
    density_g_cm3: Option<Placed<Number>>,
    density_from: Option<Placed<String>>,
    uses: Option<String>,
    #[serde(default)]
    cautions: Vec<String>,
}

/// A file of alloys.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct AlloyFile {
    pub(super) alloys: Vec<AlloyRow>,
}

/// The user's own file.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub(super) struct OwnFile {
    pub(super) alloys: Vec<AlloyRow>,
    pub(super) sources: BTreeMap<String, SourceRow>,
    pub(super) stock: Vec<StockRow>,
}

/// An alloy on the shelf: a name, or a name with a note.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct StockRow {
    pub(super) alloy: Placed<String>,
    pub(super) note: Option<String>,
}

/// The file of sources.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct SourceFile {
    pub(super) sources: BTreeMap<String, SourceRow>,
}

/// One document as written.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct SourceRow {
    pub(super) title: Placed<String>,
    publisher: String,
    year: String,
    address: String,
    kind: SourceKind,
    origin: Option<String>,
    #[serde(default)]
    primary: bool,
    #[serde(default = "yes")]
    seen: bool,
}

fn yes() -> bool {
    true
}

impl SourceRow {
    pub(super) fn into_source(self, id: &str) -> Source {
        Source {
            id: id.to_owned(),
            origin: self.origin.unwrap_or_else(|| id.to_owned()),
            title: self.title.value,
            publisher: self.publisher,
            year: self.year,
            address: self.address,
            kind: self.kind,
            primary: self.primary,
            seen: self.seen,
        }
    }
}

/// The file of invariants.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct InvariantFile {
    pub(super) invariants: Vec<InvariantRow>,
}

/// One invariant as written: a composition, or only the elements.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct InvariantRow {
    at: Option<Placed<String>>,
    of: Option<Vec<Placed<String>>>,
    t_c: Placed<Number>,
    #[serde(default = "eutectic")]
    kind: InvariantKind,
    from: Placed<String>,
    refuted: Option<String>,
    note: Option<String>,
}

fn eutectic() -> InvariantKind {
    InvariantKind::Eutectic
}

pub(super) type Sources = BTreeMap<String, Source>;

impl InvariantRow {
    pub(super) fn into_invariant(self, sources: &Sources) -> Result<Invariant, Fault> {
        let source = source_of(&self.from.value, sources).map_err(|why| self.from.fault(why))?;
        let (elements, composition) = match (&self.at, self.of) {
            (Some(at), None) => {
                let composition = composition_of(at)?;
                let elements = composition.parts().map(|(e, _)| e).collect();
                (elements, Some(composition))
            }
            (None, Some(of)) => (elements_of(&of)?, None),
            _ => {
                return Err(self
                    .t_c
                    .fault("want either `at` (a composition) or `of` (elements)"));
            }
        };
        Ok(Invariant {
            elements,
            composition,
            temperature: Celsius::new(self.t_c.value.0)
                .map_err(|why| self.t_c.fault(why.to_string()))?,
            kind: self.kind,
            seen: source.seen,
            source: source.id.clone(),
            refuted: self.refuted.is_some(),
            note: self.refuted.or(self.note),
        })
    }
}

fn elements_of(words: &[Placed<String>]) -> Result<Vec<Element>, Fault> {
    let mut elements = words
        .iter()
        .map(|word| {
            word.value
                .parse()
                .map_err(|why| word.fault(format!("{why}")))
        })
        .collect::<Result<Vec<Element>, Fault>>()?;
    elements.sort_unstable();
    elements.dedup();
    Ok(elements)
}

fn source_of<'a>(id: &str, sources: &'a Sources) -> Result<&'a Source, String> {
    sources.get(id).ok_or_else(|| {
        let near = nearest(id, sources.keys().map(String::as_str), 1);
        let hint = near
            .first()
            .map_or(String::new(), |near| format!("; did you mean `{near}`?"));
        format!("`{id}` is not among the sources{hint}")
    })
}

/// A composition written canonically, the shares summing to 100 within 0.5.
fn composition_of(name: &Placed<String>) -> Result<Composition, Fault> {
    let parts = exact_formula(&name.value).ok_or_else(|| {
        name.fault(format!(
            "`{}` is not a composition: want symbols with mass %, as `Sn63Pb37`",
            name.value
        ))
    })?;
    let sum: f64 = parts.iter().map(|p| p.1).sum();
    if (sum - 100.0).abs() > policy::SUM_TOLERANCE {
        return Err(name.fault(format!("the shares sum to {sum:.2}: want 100")));
    }
    let composition = Composition::from_parts(&parts).map_err(|why| name.fault(why.to_string()))?;
    let canonical = written_name(&parts);
    if canonical != name.value {
        return Err(name.fault(format!("write it `{canonical}`: largest share first")));
    }
    Ok(composition)
}

impl AlloyRow {
    pub(super) fn into_alloy(self, sources: &Sources, own: bool) -> Result<Alloy, Fault> {
        let composition = composition_of(&self.alloy)?;
        let (Some(solidus), Some(liquidus), None, Standing::Used) = range_of(&self.use_c)? else {
            return Err(self
                .use_c
                .fault("want solidus/liquidus in °C, as `183/191`"));
        };
        check_plausible(&self.use_c, &composition, solidus)?;
        let readings = self
            .readings_c
            .iter()
            .map(|(source, text)| reading_of(source, text, sources))
            .collect::<Result<Vec<_>, Fault>>()?;
        let single_source = !from_two_origins(&readings, sources);
        Ok(Alloy {
            density: density_of(
                self.density_g_cm3.as_ref(),
                self.density_from.as_ref(),
                &composition,
                sources,
            )
            .map_err(|why| why.unwrap_or_else(|message| self.alloy.fault(message)))?,
            name: self.alloy.value,
            composition,
            readings,
            in_use: InUse {
                solidus,
                liquidus,
                why: self.why,
            },
            uses: self.uses,
            cautions: self.cautions,
            single_source,
            own,
        })
    }
}

fn from_two_origins(readings: &[Reading], sources: &Sources) -> bool {
    let mut origins: Vec<&str> = readings
        .iter()
        .filter(|r| r.counts())
        .filter_map(|r| sources.get(&r.source))
        .map(|s| s.origin.as_str())
        .collect();
    origins.sort_unstable();
    origins.dedup();
    origins.len() >= 2
}

fn reading_of(source: &str, text: &Placed<String>, sources: &Sources) -> Result<Reading, Fault> {
    let source = source_of(source, sources).map_err(|why| text.fault(why))?;
    let (solidus, liquidus, note, standing) = range_of(text)?;
    Ok(Reading {
        solidus,
        liquidus,
        source: source.id.clone(),
        seen: source.seen,
        standing,
        note,
    })
}

type Range = (Option<Celsius>, Option<Celsius>, Option<String>, Standing);

/// `183/191`, `-/172 shown, one value printed`, `148/148 refuted, digit error`.
fn range_of(text: &Placed<String>) -> Result<Range, Fault> {
    let bad = |why: String| text.fault(why).help(RANGE_HELP);
    let (pair, rest) = text
        .value
        .split_once(' ')
        .unwrap_or((text.value.as_str(), ""));
    let (standing, note) = match rest.split_once(", ") {
        None if rest.is_empty() => (Standing::Used, None),
        Some(("shown", note)) => (Standing::Shown, Some(note)),
        Some(("family", note)) => (Standing::Family, Some(note)),
        Some(("refuted", note)) => (Standing::Refuted, Some(note)),
        Some(("used", note)) => (Standing::Used, Some(note)),
        _ => return Err(bad(format!("`{rest}` is not understood"))),
    };
    let (low, high) = pair
        .split_once('/')
        .ok_or_else(|| bad(format!("`{pair}` is not a pair of temperatures")))?;
    let solidus = degrees(low).map_err(bad)?;
    let liquidus = degrees(high).map_err(bad)?;
    match (solidus, liquidus) {
        (None, None) => Err(bad("neither solidus nor liquidus is given".to_owned())),
        (Some(low), Some(high)) if low > high => Err(bad(format!(
            "the solidus {low} lies above the liquidus {high}"
        ))),
        _ => Ok((solidus, liquidus, note.map(str::to_owned), standing)),
    }
}

const RANGE_HELP: &str = "write `183/191`, `-/172` where only the liquidus is known, and after it \
                          `shown, …`, `family, …` or `refuted, …` with the reason";

fn degrees(text: &str) -> Result<Option<Celsius>, String> {
    if text == "-" {
        return Ok(None);
    }
    let number: f64 = text
        .parse()
        .map_err(|_| format!("`{text}` is not a temperature in °C"))?;
    Celsius::new(number)
        .map(Some)
        .map_err(|why| why.to_string())
}

/// No alloy of the trade starts to melt far above the melting point of the element it mostly
/// consists of (tin-antimony, which rises most, by 15 K): beyond 20 K it is a slip, mostly °F.
fn check_plausible(
    place: &Placed<String>,
    composition: &Composition,
    solidus: Celsius,
) -> Result<(), Fault> {
    let main = composition
        .parts_by_share()
        .into_iter()
        .enumerate()
        .filter(|(rank, (_, share))| *rank == 0 || share.percent() >= 40.0)
        .filter_map(|(_, (element, _))| melting_point(element))
        .max();
    match main {
        Some(main) if (solidus - main).kelvin() > 20.0 => {
            let from_fahrenheit = (solidus.degrees() - 32.0) / 1.8;
            Err(place
                .fault(format!(
                    "a solidus of {solidus} is not believable: its main metal melts at {main}"
                ))
                .help(format!(
                    "if {} is in °F, write {from_fahrenheit:.1}",
                    solidus.degrees()
                )))
        }
        _ => Ok(()),
    }
}

/// Melting points, °C. Ag Au Cu In Sn Zn: fixed points of the ITS-90 (its-90.com, table 1); the
/// rest: CRC Handbook of Chemistry and Physics (memory). Used only to catch slips.
fn melting_point(element: Element) -> Option<Celsius> {
    let degrees = match element {
        Element::Ag => 961.78,
        Element::Al => 660.3,
        Element::Au => 1064.18,
        Element::Bi => 271.4,
        Element::Cd => 321.1,
        Element::Cu => 1084.62,
        Element::In => 156.6,
        Element::Pb => 327.5,
        Element::Sb => 630.6,
        Element::Sn => 231.93,
        Element::Zn => 419.53,
        _ => return None,
    };
    Some(Celsius::nearest(degrees))
}

fn density_of(
    stated: Option<&Placed<Number>>,
    from: Option<&Placed<String>>,
    composition: &Composition,
    sources: &Sources,
) -> Result<AlloyDensity, Result<Fault, String>> {
    match (stated, from) {
        (None, None) => Ok(AlloyDensity {
            value: composition.density().map_err(|why| Err(why.to_string()))?,
            source: None,
        }),
        (Some(stated), Some(from)) => {
            let source = source_of(&from.value, sources).map_err(|why| Ok(from.fault(why)))?;
            let value = Density::from_g_cm3(stated.value.0)
                .map_err(|why| Ok(stated.fault(why.to_string())))?;
            Ok(AlloyDensity {
                value,
                source: Some(source.id.clone()),
            })
        }
        _ => Err(Err(
            "`density_g_cm3` and `density_from` belong together".to_owned()
        )),
    }
}
