//! What people type at a bench, and what is meant.

use super::formula::{self, Formula, Parts};
use super::words::Meaning;
use super::{Alloy, AlloyBook, Composition, Element, NotAComposition, element_set};
use crate::nearest::nearest;
use crate::policy;
use crate::quantity::Celsius;

/// A name understood.
#[derive(Clone, Debug)]
pub struct Understood {
    /// What was meant.
    pub composition: Composition,
    /// Canonical name of the table's alloy that it counts as, if any.
    pub alloy: Option<String>,
    /// What was assumed or changed: to be shown.
    pub notices: Vec<String>,
}

impl Understood {
    fn plainly(alloy: &Alloy) -> Self {
        Understood {
            composition: alloy.composition,
            alloy: Some(alloy.name.clone()),
            notices: Vec::new(),
        }
    }
}

/// A name not understood, or not one thing only.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum NameFault {
    /// It fits several, or one that must not be guessed: ask.
    #[error("`{typed}`: {why} {}", or_list(candidates))]
    Ask {
        /// As typed.
        typed: String,
        /// What has to be decided.
        why: String,
        /// Canonical names to choose from.
        candidates: Vec<String>,
    },
    /// It fits nothing: a trade name, or a slip.
    #[error(
        "`{typed}` is not known: give the composition, as `Sn63Pb37`{}",
        near_list(nearest)
    )]
    Unknown {
        /// As typed.
        typed: String,
        /// The nearest names that would be understood, at most three.
        nearest: Vec<String>,
    },
    /// Shares that sum to something else than 100.
    #[error("the shares in `{typed}` sum to {sum:.2} mass%: want 100{}", meant(suggestion.as_ref()))]
    BadSum {
        /// As typed.
        typed: String,
        /// Their sum, mass%.
        sum: f64,
        /// The nearest alloy of the table with these elements.
        suggestion: Option<String>,
    },
    /// A share below 0 or above 100, an element twice, or the like.
    #[error("`{typed}`: {why}")]
    Wrong {
        /// As typed.
        typed: String,
        /// What is wrong.
        why: String,
    },
}

impl NameFault {
    /// Canonical names that may have been meant.
    pub fn candidates(&self) -> &[String] {
        match self {
            NameFault::Ask { candidates, .. } => candidates,
            NameFault::BadSum { suggestion, .. } => suggestion.as_slice(),
            NameFault::Unknown { nearest, .. } => nearest,
            NameFault::Wrong { .. } => &[],
        }
    }
}

fn or_list(names: &[String]) -> String {
    match names {
        [] => "write the composition".to_owned(),
        [one] => format!("if that is meant, write `{one}`"),
        [first @ .., last] => format!("`{}` or `{last}`", first.join("`, `")),
    }
}

fn near_list(names: &[String]) -> String {
    if names.is_empty() {
        String::new()
    } else {
        format!(" (nearest: {})", names.join(", "))
    }
}

fn meant(suggestion: Option<&String>) -> String {
    suggestion.map_or(String::new(), |name| format!("; did you mean `{name}`?"))
}

/// Closer than this to 100 is 100 written in decimals.
const EXACT: f64 = 1e-6;

/// Longer than any name; the rest is not looked at.
const MAX_TYPED: usize = 120;

pub(super) fn find(book: &AlloyBook, typed: &str) -> Result<Understood, NameFault> {
    let typed = typed.trim();
    let asked = Asked {
        book,
        typed: typed.chars().take(MAX_TYPED).collect(),
    };
    if typed.chars().count() > MAX_TYPED {
        return Err(asked.unknown());
    }
    if let Some(alloy) = book.get(typed) {
        return Ok(Understood::plainly(alloy));
    }
    if let Some(meaning) = book.names().meaning(typed) {
        return asked.meaning(meaning);
    }
    match formula::read(typed) {
        Some(read) => asked.formula(read),
        None => Err(asked.unknown()),
    }
}

/// One question to the book.
struct Asked<'a> {
    book: &'a AlloyBook,
    typed: String,
}

impl Asked<'_> {
    fn alloy_named(&self, name: &str, notice: Option<String>) -> Result<Understood, NameFault> {
        let alloy = self.book.get(name).ok_or_else(|| self.unknown())?;
        Ok(Understood {
            notices: notice.into_iter().collect(),
            ..Understood::plainly(alloy)
        })
    }

    fn unknown(&self) -> NameFault {
        let words = self.book.names().words();
        let alloys = self.book.alloys().iter().map(|a| a.name.as_str());
        NameFault::Unknown {
            typed: self.typed.clone(),
            nearest: nearest(&self.typed, words.chain(alloys), 3)
                .into_iter()
                .map(str::to_owned)
                .collect(),
        }
    }

    fn ask(&self, why: impl Into<String>, candidates: Vec<String>) -> NameFault {
        NameFault::Ask {
            typed: self.typed.clone(),
            why: why.into(),
            candidates,
        }
    }

    fn wrong(&self, why: impl Into<String>) -> NameFault {
        NameFault::Wrong {
            typed: self.typed.clone(),
            why: why.into(),
        }
    }

    fn meaning(&self, meaning: &Meaning) -> Result<Understood, NameFault> {
        match meaning {
            Meaning::Alloy(name) => self.alloy_named(name, None),
            Meaning::Ask { why, among } => Err(self.ask(why, among.clone())),
            Meaning::Taken(taken) => {
                let on_shelf = |name: &String| self.book.stock().iter().any(|s| s.alloy == *name);
                if taken.or.iter().any(on_shelf) {
                    let mut among: Vec<String> = vec![taken.means.clone()];
                    among.extend(taken.or.iter().filter(|n| on_shelf(n)).cloned());
                    return Err(self.ask("the shelf holds more than one that fits:", among));
                }
                let notice = format!("`{}` is taken as {}", self.typed, taken.means);
                self.alloy_named(&taken.means, Some(notice))
            }
        }
    }

    fn formula(&self, read: formula::Read) -> Result<Understood, NameFault> {
        match read.formula {
            Formula::Shares { readings, plain } => self.shares(&readings, plain, read.atomic),
            Formula::Numbers { numbers, elements } => self.numbers(&numbers, &elements),
            Formula::Elements(elements) => match elements[..] {
                [pure] => self.pure(pure),
                _ => Err(self.elements(&elements)),
            },
        }
    }

    /// A metal by itself, as gold that a joint picks up; those that are also loose words for solders
    /// are asked about before.
    fn pure(&self, element: Element) -> Result<Understood, NameFault> {
        let composition = Composition::from_parts(&[(element, 100.0)])
            .map_err(|why| self.wrong(why.to_string()))?;
        Ok(Understood {
            composition,
            alloy: None,
            notices: vec![format!("`{}` is taken as pure {element}", self.typed)],
        })
    }

    /// The plain reading if it is in the table or the only one; a reading that only the table
    /// speaks for with a notice; otherwise ask.
    fn shares(
        &self,
        readings: &[Parts],
        plain: bool,
        atomic: bool,
    ) -> Result<Understood, NameFault> {
        let mut understood = Vec::new();
        let mut fault = None;
        for parts in readings {
            match self.one_reading(parts, atomic) {
                Ok(found) => understood.push(found),
                Err(why) => fault = fault.or(Some(why)),
            }
        }
        let listed: Vec<usize> = (0..understood.len())
            .filter(|&i| understood[i].alloy.is_some())
            .collect();
        match (understood.len(), listed.as_slice()) {
            (0, _) => Err(fault.unwrap_or_else(|| self.unknown())),
            (1, _) if plain || readings.len() == 1 => Ok(understood.remove(0)),
            (_, [] | [0, ..]) if plain => Ok(understood.remove(0)),
            (_, [only]) if !plain => {
                let mut found = understood.remove(*only);
                let notice = format!("`{}` is taken as {}", self.typed, found.composition);
                found.notices.insert(0, notice);
                Ok(found)
            }
            _ => {
                let names = understood
                    .iter()
                    .map(|u| u.alloy.clone().unwrap_or(u.composition.to_string()))
                    .collect();
                Err(self.ask("which metal does the number belong to?", names))
            }
        }
    }

    /// The table name that is one slip away from what was typed.
    fn nearest_name(&self) -> Option<String> {
        let names = self.book.alloys().iter().map(|alloy| alloy.name.as_str());
        let near = nearest(&self.typed, names, 1).first().copied()?;
        (strsim::damerau_levenshtein(&self.typed, near) <= 1).then(|| near.to_owned())
    }

    fn one_reading(&self, parts: &Parts, atomic: bool) -> Result<Understood, NameFault> {
        let unit = if atomic { "at%" } else { "mass%" };
        if let Some((element, share)) = parts.iter().find(|p| !(0.0..=100.0).contains(&p.1)) {
            return Err(self.wrong(format!("{element} would be {share} {unit}: want 0 to 100")));
        }
        let sum: f64 = parts.iter().map(|p| p.1).sum();
        if (sum - 100.0).abs() > policy::SUM_TOLERANCE + EXACT {
            return Err(NameFault::BadSum {
                typed: self.typed.clone(),
                sum,
                // A swapped digit is the likelier slip: names as typed first, then shares.
                suggestion: self.nearest_name().or_else(|| self.nearest_with(parts)),
            });
        }
        let mut notices = Vec::new();
        if (sum - 100.0).abs() > EXACT {
            notices.push(format!(
                "the shares sum to {}: scaled to 100",
                (sum * 1000.0).round() / 1000.0
            ));
        }
        let composition = if atomic {
            let (composition, notice) = self.by_atoms(parts)?;
            notices.extend(notice);
            composition
        } else {
            self.composition(parts)?
        };
        let alloy = self.book.matching(&composition);
        if let (None, Some(swapped)) = (alloy, self.swapped(parts)) {
            notices.push(format!(
                "the table has {swapped}, with these shares the other way round"
            ));
        }
        Ok(Understood {
            alloy: alloy.map(|a| a.name.clone()),
            composition,
            notices,
        })
    }

    fn composition(&self, parts: &[(Element, f64)]) -> Result<Composition, NameFault> {
        Composition::from_parts(parts).map_err(|why| match why {
            NotAComposition::Twice(element) => self.wrong(format!("{element} stands twice")),
            other => self.wrong(other.to_string()),
        })
    }

    /// Mass shares from amount shares: `w_i = x_i M_i / Σ x_j M_j`.
    fn by_atoms(&self, parts: &Parts) -> Result<(Composition, Vec<String>), NameFault> {
        let masses: Parts = parts
            .iter()
            .map(|&(element, share)| (element, share * element.molar_mass_g()))
            .collect();
        let composition = self.composition(&masses)?;
        let mut notices = vec![format!("at% is {composition} in mass%")];
        if let Some(alloy) = self.book.matching(&self.composition(parts)?) {
            notices.push(format!(
                "{} of the table is in mass%, and is another alloy",
                alloy.name
            ));
        }
        Ok((composition, notices))
    }

    /// The alloy with the same elements whose shares are nearest to those typed.
    fn nearest_with(&self, parts: &Parts) -> Option<String> {
        let typed = self.composition(parts).ok()?;
        let set = element_set(&typed);
        let off = |alloy: &Alloy| -> f64 {
            parts
                .iter()
                .map(|&(e, percent)| (alloy.composition.share(e).percent() - percent).abs())
                .sum()
        };
        self.book
            .alloys()
            .iter()
            .filter(|alloy| element_set(&alloy.composition) == set)
            .min_by(|a, b| off(a).total_cmp(&off(b)))
            .map(|alloy| alloy.name.clone())
    }

    /// The table's alloy of two metals with their shares exchanged.
    fn swapped(&self, parts: &Parts) -> Option<&str> {
        let &[(first, a), (second, b)] = parts.as_slice() else {
            return None;
        };
        let other = Composition::from_parts(&[(first, b), (second, a)]).ok()?;
        self.book.matching(&other).map(|a| a.name.as_str())
    }

    /// Numbers alone: never guessed, but for three and more that only one alloy has.
    fn numbers(&self, numbers: &[f64], elements: &[Element]) -> Result<Understood, NameFault> {
        if let ([number], []) = (numbers, elements) {
            return Err(self.temperature(*number));
        }
        let fits: Vec<&Alloy> = self
            .book
            .alloys()
            .iter()
            .filter(|alloy| has_shares(&alloy.composition, numbers))
            .filter(|alloy| {
                elements
                    .iter()
                    .all(|&e| alloy.composition.share(e).fraction() > 0.0)
            })
            .collect();
        match fits.as_slice() {
            [] => Err(match numbers.iter().sum::<f64>() {
                sum if (sum - 100.0).abs() > policy::SUM_TOLERANCE => NameFault::BadSum {
                    typed: self.typed.clone(),
                    sum,
                    suggestion: None,
                },
                _ => self.ask(
                    "which metals? No alloy of the table has these shares",
                    vec![],
                ),
            }),
            [only] if numbers.len() > 2 || !elements.is_empty() => {
                let notice = format!("`{}` is taken as {}", self.typed, only.name);
                self.alloy_named(&only.name, Some(notice))
            }
            several => Err(self.ask(
                "which metals?",
                several.iter().map(|a| a.name.clone()).collect(),
            )),
        }
    }

    /// A lone number: what melts there, in °C or, as some trade numbers are, in °F.
    fn temperature(&self, number: f64) -> NameFault {
        let near = |t: Celsius, degrees: f64| (t.degrees() - degrees).abs() <= 1.0;
        let melts_at = |degrees: f64| {
            let mut found: Vec<&Alloy> = self
                .book
                .alloys()
                .iter()
                .filter(|a| near(a.in_use.solidus, degrees) || near(a.in_use.liquidus, degrees))
                .collect();
            likely_first(&mut found, MAX_CANDIDATES / 2);
            found
        };
        let mut among = melts_at(number);
        among.extend(melts_at((number - 32.0) / 1.8));
        if among.is_empty() {
            return self.unknown();
        }
        let names = among.into_iter().map(|a| a.name.clone()).collect();
        self.ask("a melting point in °C or °F: of which alloy?", names)
    }

    /// Metals without shares: the alloys of the table made of just these.
    fn elements(&self, elements: &[Element]) -> NameFault {
        let mut set = elements.to_vec();
        set.sort_unstable();
        set.dedup();
        let mut among: Vec<&Alloy> = self
            .book
            .alloys()
            .iter()
            .filter(|alloy| element_set(&alloy.composition) == set)
            .collect();
        if among.is_empty() {
            return self.unknown();
        }
        likely_first(&mut among, MAX_CANDIDATES);
        self.ask(
            "in which shares?",
            among.iter().map(|a| a.name.clone()).collect(),
        )
    }
}

/// More are no help when asked.
const MAX_CANDIDATES: usize = 6;

/// What more documents print is more likely on the shelf: that first, and no more than `count`.
fn likely_first(alloys: &mut Vec<&Alloy>, count: usize) {
    alloys.sort_by_key(|alloy| std::cmp::Reverse(alloy.readings.len()));
    alloys.truncate(count);
}

/// Whether the numbers are the alloy's shares in any order, each within 0.05.
fn has_shares(composition: &Composition, numbers: &[f64]) -> bool {
    let mut shares: Vec<f64> = composition.parts().map(|(_, s)| s.percent()).collect();
    let mut numbers = numbers.to_vec();
    shares.sort_by(f64::total_cmp);
    numbers.sort_by(f64::total_cmp);
    shares.len() == numbers.len()
        && shares
            .iter()
            .zip(&numbers)
            .all(|(share, number)| (share - number).abs() <= 0.05 + EXACT)
}
