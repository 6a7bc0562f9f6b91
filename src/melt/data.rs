//! The phase data as they stand in `alloys/phases`: read strictly, one file a system, each on first
//! use, so that a question about tin and lead does not read what is known of gold.

use std::collections::BTreeMap;
use std::sync::OnceLock;

use serde::Deserialize;

use super::gibbs::{Gibbs, TERMS};
use crate::alloy::Element;

/// A file of phase data that is not understood.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("phase data `{file}`, line {line}: {what}")]
pub struct DataFault {
    /// Name under `alloys/phases`.
    pub file: &'static str,
    /// From 1; 0 where no line can be named.
    pub line: u64,
    /// What is wrong.
    pub what: String,
}

/// How a parameter came to be.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
enum Status {
    /// Read in a document.
    Seen,
    /// Recalled.
    Memory,
    /// Fitted for this data set.
    Fitted,
    /// A guess, where nothing is published.
    Estimate,
}

/// Coefficients in J/mol and K, as SGTE orders them.
#[derive(Clone, Copy, Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
struct Piece {
    from_k: f64,
    to_k: f64,
    #[serde(default)]
    r#const: f64,
    #[serde(default)]
    t: f64,
    #[serde(default)]
    t_ln_t: f64,
    #[serde(default)]
    t2: f64,
    #[serde(default)]
    t3: f64,
    #[serde(default)]
    t_inv: f64,
    #[serde(default)]
    t7: f64,
    #[serde(default)]
    t_inv9: f64,
}

#[derive(Clone, Copy, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Above {
    r#const: f64,
    #[serde(default)]
    t: f64,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Unary {
    source: String,
    status: Status,
    /// Absolute, referred to the stable element at 298.15 K (SGTE SER).
    pieces: Option<Vec<Piece>>,
    /// Or above the function of the phase that the element is stable in.
    above_stable: Option<Above>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct ElementFile {
    element: String,
    molar_mass_g: f64,
    stable_in: String,
    phases: BTreeMap<String, Unary>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Interaction {
    phase: String,
    order: Option<usize>,
    #[serde(default)]
    r#const: f64,
    #[serde(default)]
    t: f64,
    #[serde(default)]
    t_ln_t: f64,
    source: String,
    status: Status,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct CompoundEntry {
    phase: String,
    name: String,
    atoms: BTreeMap<String, f64>,
    source: String,
    status: Status,
    pieces: Option<Vec<Piece>>,
    /// Above the sum of its elements in their stable phases.
    above_elements: Option<Vec<Piece>>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct SystemFile {
    system: Vec<String>,
    #[serde(default)]
    interactions: Vec<Interaction>,
    #[serde(default)]
    compounds: Vec<CompoundEntry>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct PhaseEntry {
    phase: String,
    #[serde(default)]
    needs: Vec<Vec<String>>,
    called: BTreeMap<String, String>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct PhasesFile {
    phases: Vec<PhaseEntry>,
}

/// A solution phase: when it is a candidate and what it is called.
#[derive(Debug)]
pub(super) struct PhaseInfo {
    pub(super) name: String,
    /// Candidate if one of these sets is present; empty: always.
    pub(super) needs: Vec<Vec<Element>>,
    /// What a technician calls it, by its main element; `None` stands for any other.
    pub(super) called: Vec<(Option<Element>, String)>,
}

/// One element: its molar mass and Gibbs energy in each phase that takes it.
#[derive(Debug)]
pub(super) struct ElementData {
    pub(super) molar_mass_g: f64,
    pub(super) stable: Gibbs,
    /// By the place of the phase in [`phases`].
    pub(super) unary: Vec<Option<Gibbs>>,
}

/// A Redlich–Kister or ternary parameter `a + b·T + c·T·ln T` of one order.
#[derive(Clone, Debug)]
pub(super) struct Parameter {
    /// Place of the phase in [`phases`].
    pub(super) phase: usize,
    /// `None` in a ternary: symmetric, without the weights.
    pub(super) order: Option<usize>,
    pub(super) abc: [f64; 3],
}

/// A stoichiometric compound.
#[derive(Clone, Debug)]
pub(super) struct CompoundData {
    pub(super) name: String,
    /// Atom fractions.
    pub(super) atoms: Vec<(Element, f64)>,
    /// Absolute, once the functions of the elements are added where the file says so.
    pub(super) own: Gibbs,
    pub(super) add_elements: bool,
}

/// What is particular to a set of two or three elements.
#[derive(Debug)]
pub(super) struct SystemData {
    pub(super) elements: Vec<Element>,
    pub(super) parameters: Vec<Parameter>,
    pub(super) compounds: Vec<CompoundData>,
}

struct Source<T> {
    file: &'static str,
    text: &'static str,
    /// As the build put it down.
    built: &'static str,
    read: OnceLock<Result<T, DataFault>>,
}

impl<T> Source<T> {
    const fn new(file: &'static str, text: &'static str, built: &'static str) -> Self {
        Source {
            file,
            text,
            built,
            read: OnceLock::new(),
        }
    }
}

macro_rules! sources {
    ($($file:literal)*) => {
        [$(Source::new(
            $file,
            include_str!(concat!("../../alloys/phases/", $file)),
            include_str!(concat!(env!("OUT_DIR"), "/alloys/phases/", $file, ".json")),
        )),*]
    };
}

static PHASES: [Source<Vec<PhaseInfo>>; 1] = sources!("phases.yaml");

static ELEMENTS: [Source<ElementData>; 10] = sources!(
    "ag.yaml" "au.yaml" "bi.yaml" "cu.yaml" "in.yaml" "ni.yaml" "pb.yaml" "sb.yaml" "sn.yaml"
    "zn.yaml"
);

static SYSTEMS: [Source<SystemData>; 49] = sources!(
    "ag-au.yaml" "ag-bi-sn.yaml" "ag-bi.yaml" "ag-cu-pb.yaml" "ag-cu-sn.yaml" "ag-cu.yaml"
    "ag-in-sn.yaml" "ag-in.yaml" "ag-ni.yaml" "ag-pb-sn.yaml" "ag-pb.yaml" "ag-sb-sn.yaml" "ag-sb.yaml"
    "ag-sn.yaml" "ag-zn.yaml" "au-bi.yaml" "au-cu.yaml" "au-in.yaml" "au-pb.yaml" "au-sb.yaml"
    "au-sn.yaml" "bi-cu.yaml" "bi-in-sn.yaml" "bi-in.yaml" "bi-pb-sn.yaml" "bi-pb.yaml"
    "bi-sb.yaml" "bi-sn-zn.yaml" "bi-sn.yaml" "bi-zn.yaml" "cu-in.yaml" "cu-ni.yaml" "cu-pb.yaml"
    "cu-sb.yaml" "cu-sn.yaml" "cu-zn.yaml" "in-pb-sn.yaml" "in-pb.yaml" "in-sb.yaml"
    "in-sn.yaml" "in-zn.yaml" "ni-pb.yaml" "ni-sn.yaml" "pb-sb.yaml" "pb-sn.yaml" "pb-zn.yaml" "sb-sn.yaml" "sb-zn.yaml"
    "sn-zn.yaml"
);

/// The shipped files of phase data, as text.
pub fn phase_files() -> impl Iterator<Item = &'static str> {
    let elements = ELEMENTS.iter().map(|source| source.text);
    let systems = SYSTEMS.iter().map(|source| source.text);
    [PHASES[0].text].into_iter().chain(elements).chain(systems)
}

/// Elements in the order of their symbols; it fixes the sign of odd Redlich–Kister orders.
const COVERED: [Element; 10] = {
    use Element::{Ag, Au, Bi, Cu, In, Ni, Pb, Sb, Sn, Zn};
    [Ag, Au, Bi, Cu, In, Ni, Pb, Sb, Sn, Zn]
};

/// From what the build put down, or strictly from the text.
fn parse<T: serde::de::DeserializeOwned>(
    file: &'static str,
    text: &str,
    built: Option<&str>,
) -> Result<T, DataFault> {
    if let Some(built) = built {
        return serde_json::from_str(built).map_err(|e| DataFault {
            file,
            line: 0,
            what: e.to_string(),
        });
    }
    let options = serde_saphyr::options! { strict_booleans: true, with_snippet: false };
    serde_saphyr::from_str_with_options(text, options).map_err(|e| DataFault {
        file,
        line: e.location().map_or(0, |l| l.line()),
        what: e.to_string(),
    })
}

/// A fault about a word in a file: the line is the first that holds the word.
fn fault(file: &'static str, text: &str, word: &str, what: String) -> DataFault {
    let line = text.lines().position(|line| line.contains(word));
    DataFault {
        file,
        line: line.map_or(0, |n| n as u64 + 1),
        what,
    }
}

/// The solution phases.
pub(super) fn phases() -> Result<&'static [PhaseInfo], DataFault> {
    let [source] = &PHASES;
    let read = source
        .read
        .get_or_init(|| read_phases(source.file, source.text, Some(source.built)));
    read.as_deref().map_err(Clone::clone)
}

/// What is known of one covered element; `None` for the others.
pub(super) fn element(element: Element) -> Option<Result<&'static ElementData, DataFault>> {
    let place = COVERED.iter().position(|&e| e == element)?;
    let source = &ELEMENTS[place];
    let read = source
        .read
        .get_or_init(|| read_element(source.file, source.text, Some(source.built), element));
    Some(read.as_ref().map_err(Clone::clone))
}

/// The systems whose elements are all among these.
pub(super) fn systems(among: &[Element]) -> Result<Vec<&'static SystemData>, DataFault> {
    let has = |symbol: &str| {
        among
            .iter()
            .any(|e| e.symbol().eq_ignore_ascii_case(symbol))
    };
    SYSTEMS
        .iter()
        .filter(|s| s.file.trim_end_matches(".yaml").split('-').all(has))
        .map(|source| {
            let read = source
                .read
                .get_or_init(|| read_system(source.file, source.text, Some(source.built)));
            read.as_ref().map_err(Clone::clone)
        })
        .collect()
}

fn read_phases(
    file: &'static str,
    text: &str,
    built: Option<&str>,
) -> Result<Vec<PhaseInfo>, DataFault> {
    let read: PhasesFile = parse(file, text, built)?;
    let element = |word: &str| {
        word.parse::<Element>()
            .map_err(|e| fault(file, text, word, e.to_string()))
    };
    let mut phases = Vec::new();
    for entry in read.phases {
        let needs: Result<Vec<Vec<Element>>, _> = (entry.needs.iter())
            .map(|set| set.iter().map(|word| element(word)).collect())
            .collect();
        let called: Result<Vec<_>, _> = (entry.called.into_iter())
            .map(|(of, name)| match of.as_str() {
                "any" => Ok((None, name)),
                word => element(word).map(|e| (Some(e), name)),
            })
            .collect();
        phases.push(PhaseInfo {
            name: entry.phase,
            needs: needs?,
            called: called?,
        });
    }
    Ok(phases)
}

fn phase_place(file: &'static str, text: &str, name: &str) -> Result<usize, DataFault> {
    phases()?
        .iter()
        .position(|p| p.name == name)
        .ok_or_else(|| {
            fault(
                file,
                text,
                name,
                format!("`{name}` is not a solution phase of `phases.yaml`"),
            )
        })
}

fn gibbs(file: &'static str, text: &str, pieces: &[Piece]) -> Result<Gibbs, DataFault> {
    let mut last = f64::NEG_INFINITY;
    let mut out = Vec::with_capacity(pieces.len());
    for piece in pieces {
        let Piece { from_k, to_k, .. } = *piece;
        if !(from_k < to_k && (last.is_infinite() || (from_k - last).abs() < 1e-9)) {
            let what =
                format!("pieces must follow each other: {from_k} to {to_k} K after {last} K");
            return Err(fault(file, text, &format!("from_k: {from_k}"), what));
        }
        last = to_k;
        out.push((from_k, coefficients(piece)));
    }
    if out.is_empty() {
        return Err(fault(file, text, "pieces", "no piece is given".to_owned()));
    }
    Ok(Gibbs::from_pieces(out))
}

fn coefficients(p: &Piece) -> [f64; TERMS] {
    [
        p.r#const, p.t, p.t_ln_t, p.t2, p.t3, p.t_inv, p.t7, p.t_inv9,
    ]
}

fn read_element(
    file: &'static str,
    text: &str,
    built: Option<&str>,
    element: Element,
) -> Result<ElementData, DataFault> {
    let read: ElementFile = parse(file, text, built)?;
    if read.element != element.symbol() {
        let what = format!("holds `{}`, want `{element}`", read.element);
        return Err(fault(file, text, "element", what));
    }
    let stable_entry = read.phases.get(&read.stable_in);
    let Some(stable) = stable_entry.and_then(|u| u.pieces.as_deref()) else {
        let what = format!("`{}` has no `pieces`", read.stable_in);
        return Err(fault(file, text, "stable_in", what));
    };
    let stable = gibbs(file, text, stable)?;
    let mut unary: Vec<Option<Gibbs>> = phases()?.iter().map(|_| None).collect();
    for (phase, entry) in &read.phases {
        let place = phase_place(file, text, phase)?;
        known(file, text, &entry.source, entry.status)?;
        let g = match (&entry.pieces, entry.above_stable) {
            (Some(pieces), None) => gibbs(file, text, pieces)?,
            (None, Some(above)) => {
                let mut c = [0.0; TERMS];
                (c[0], c[1]) = (above.r#const, above.t);
                stable.plus(1.0, &Gibbs::from_pieces(vec![(0.0, c)]))
            }
            _ => {
                let what = format!("`{phase}` wants either `pieces` or `above_stable`");
                return Err(fault(file, text, phase, what));
            }
        };
        unary[place] = Some(g);
    }
    Ok(ElementData {
        molar_mass_g: read.molar_mass_g,
        stable,
        unary,
    })
}

/// A parameter without a documented source is not used.
fn known(file: &'static str, text: &str, source: &str, _: Status) -> Result<(), DataFault> {
    let listed = SOURCES.lines().any(|line| {
        line.strip_prefix(source)
            .is_some_and(|rest| rest.starts_with(':'))
    });
    if listed {
        return Ok(());
    }
    let what = format!("source `{source}` does not stand in `sources.yaml`");
    Err(fault(file, text, source, what))
}

/// Key of each source at the start of a line.
const SOURCES: &str = include_str!("../../alloys/phases/sources.yaml");

fn read_system(
    file: &'static str,
    text: &str,
    built: Option<&str>,
) -> Result<SystemData, DataFault> {
    let read: SystemFile = parse(file, text, built)?;
    let mut elements = Vec::new();
    for word in &read.system {
        let element: Element = word
            .parse()
            .map_err(|e| fault(file, text, word, format!("{e}")))?;
        elements.push(element);
    }
    if !(elements.len() == 2 || elements.len() == 3) || !elements.is_sorted() {
        let what = "want two or three elements in the order of their symbols".to_owned();
        return Err(fault(file, text, "system", what));
    }
    let mut parameters = Vec::new();
    for i in &read.interactions {
        known(file, text, &i.source, i.status)?;
        let fits = matches!(
            (elements.len(), i.order),
            (2, Some(0..=3)) | (3, None | Some(0..=2))
        );
        if !fits {
            let what = format!(
                "order {:?} does not fit {} elements",
                i.order,
                elements.len()
            );
            return Err(fault(file, text, &i.phase, what));
        }
        parameters.push(Parameter {
            phase: phase_place(file, text, &i.phase)?,
            order: i.order,
            abc: [i.r#const, i.t, i.t_ln_t],
        });
    }
    let compounds: Result<Vec<_>, _> = (read.compounds.iter())
        .map(|c| read_compound(file, text, &elements, c))
        .collect();
    Ok(SystemData {
        compounds: compounds?,
        elements,
        parameters,
    })
}

fn read_compound(
    file: &'static str,
    text: &str,
    elements: &[Element],
    entry: &CompoundEntry,
) -> Result<CompoundData, DataFault> {
    known(file, text, &entry.source, entry.status)?;
    let bad = |what: String| fault(file, text, &entry.phase, what);
    let mut atoms = Vec::new();
    for (word, &share) in &entry.atoms {
        let element: Element = word.parse().map_err(|e| bad(format!("{e}")))?;
        if !(elements.contains(&element) && share > 0.0 && share < 1.0) {
            return Err(bad(format!("`{word}: {share}` is no atom fraction here")));
        }
        atoms.push((element, share));
    }
    if (atoms.iter().map(|a| a.1).sum::<f64>() - 1.0).abs() > 1e-9 {
        return Err(bad("atom fractions must sum to 1".to_owned()));
    }
    let (pieces, add_elements) = match (&entry.pieces, &entry.above_elements) {
        (Some(pieces), None) => (pieces, false),
        (None, Some(pieces)) => (pieces, true),
        _ => return Err(bad("want either `pieces` or `above_elements`".to_owned())),
    };
    Ok(CompoundData {
        name: entry.name.clone(),
        atoms,
        own: gibbs(file, text, pieces)?,
        add_elements,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_file_is_understood() {
        for source in &SYSTEMS {
            let read = read_system(source.file, source.text, None).unwrap();
            let built = read_system(source.file, source.text, Some(source.built)).unwrap();
            assert_eq!(format!("{read:?}"), format!("{built:?}"));
            let name: Vec<String> = (read.elements.iter())
                .map(|e| e.symbol().to_lowercase())
                .collect();
            assert_eq!(format!("{}.yaml", name.join("-")), source.file);
        }
        for (source, &element) in ELEMENTS.iter().zip(&COVERED) {
            let read = read_element(source.file, source.text, None, element).unwrap();
            let built =
                read_element(source.file, source.text, Some(source.built), element).unwrap();
            assert_eq!(format!("{read:?}"), format!("{built:?}"));
        }
    }

    #[test]
    fn what_is_not_understood_is_refused_by_file_and_line() {
        let good = "system: [Pb, Sn]\ninteractions:\n  - {phase: LIQUID, order: 0, const: 1.0, source: fit, status: fitted}\n";
        assert!(read_system("x.yaml", good, None).is_ok());
        for (from, to, line, says) in [
            ("order: 0", "odrer: 0", 3, "odrer"),
            ("order: 0", "order: 4", 3, "order"),
            ("LIQUID", "LIQUOR", 3, "LIQUOR"),
            ("source: fit", "source: hearsay", 3, "hearsay"),
            ("status: fitted", "status: guessed", 3, "guessed"),
            ("const: 1.0", "const: one", 3, ""),
            ("[Pb, Sn]", "[Sn, Pb]", 1, "order"),
            ("[Pb, Sn]", "[Pb, Qq]", 1, "Qq"),
        ] {
            let bad = good.replace(from, to);
            let fault = read_system("x.yaml", &bad, None).unwrap_err();
            assert_eq!((fault.file, fault.line), ("x.yaml", line), "{fault}");
            assert!(fault.what.contains(says), "{fault}");
        }
    }
}
