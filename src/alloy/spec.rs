//! Blends as people say them: `"ball 0.3 snbi + film 10um 63/37 on 0.3"`.
//!
//! Terms are parted by `+` (or `on`, `onto` before another term). A term is an alloy with how much
//! of it there is: a mass (`0.1209mg`), a share of the whole (`60%`), or a thing of the bench:
//!
//! | term | meaning |
//! |---|---|
//! | `ball 0.3 snbi` | ball of 0.3 mm |
//! | `film 10um 63/37 on 0.3` | film of 10 µm on a round pad of 0.3 mm |
//! | `dome 0.3 h 0.05 63/37` | dome on a base of 0.3 mm, 0.05 mm high; also `dome 0.05 63/37 on 0.3` |
//! | `paste 0.36x0.12 63/37 transfer 0.9 metal 90%` | paste through a round aperture of 0.36 mm in a stencil of 0.12 mm; `0.3x0.4x0.12` is a rectangular one |

use super::geometry::{self, Paste};
use super::term::{Amount, Shape, Term, is_on, is_size};
use super::{AlloyBook, Blend, Composition, NameFault};
use crate::policy;
use crate::quantity::{Length, Mass, Share};

/// What a description comes to.
#[derive(Clone, Debug)]
pub struct Spec {
    /// The deposits in the order typed.
    pub deposits: Vec<Deposit>,
    /// What was assumed: to be shown.
    pub notices: Vec<String>,
}

impl Spec {
    /// All of it, molten together.
    pub fn blend(&self) -> Blend {
        self.deposits
            .iter()
            .fold(Blend::default(), |all, one| all.with(&one.blend))
    }
}

/// One metal and how much of it.
#[derive(Clone, Debug)]
pub struct Deposit {
    /// As understood: `ball of 0.3 mm`, `0.1209 mg`, `60 %`.
    pub what: String,
    /// Its metal.
    pub composition: Composition,
    /// Canonical name, if it is an alloy of the table.
    pub alloy: Option<String>,
    /// Masses of its elements; where only shares are given, the whole is 1 mg.
    pub blend: Blend,
    /// Its mass is a share of a whole that is not stated.
    pub share_only: bool,
    /// Thickness, if it is a film.
    pub film: Option<Length>,
}

/// Why a description is not understood.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum SpecFault {
    /// The alloy of a term.
    #[error("{}", in_term(term, fault))]
    Name {
        /// The term.
        term: String,
        /// What about its alloy.
        fault: NameFault,
    },
    /// Anything else in a term.
    #[error("in `{term}`: {why}")]
    Term {
        /// The term.
        term: String,
        /// What is wrong and what is expected.
        why: String,
    },
    /// The description as a whole.
    #[error("{0}")]
    Whole(String),
}

/// Where a term is but a name, the fault has already said it.
fn in_term(term: &str, fault: &NameFault) -> String {
    let fault = fault.to_string();
    if fault.contains(&format!("`{term}`")) {
        fault
    } else {
        format!("in `{term}`: {fault}")
    }
}

/// Longest description that is read, in characters.
const MAX_TYPED: usize = 2000;
/// Most terms.
const MAX_TERMS: usize = 40;

/// Reads a description.
///
/// # Errors
/// [`SpecFault`] with the term, what is wrong in it and what is expected.
pub fn parse(book: &AlloyBook, typed: &str) -> Result<Spec, SpecFault> {
    if typed.chars().count() > MAX_TYPED {
        return Err(SpecFault::Whole(format!(
            "the description is longer than {MAX_TYPED} characters"
        )));
    }
    let mut terms = terms_of(typed);
    if terms.len() > 1 && terms.iter().any(Vec::is_empty) {
        return Err(SpecFault::Whole(
            "nothing stands on one side of a `+`: want a metal and how much of it".to_owned(),
        ));
    }
    terms.retain(|term| !term.is_empty());
    if terms.is_empty() {
        return Err(SpecFault::Whole(
            "nothing is described: want for example `ball 0.3 snbi + film 10um 63/37 on 0.3`"
                .to_owned(),
        ));
    }
    if terms.len() > MAX_TERMS {
        return Err(SpecFault::Whole(format!("more than {MAX_TERMS} terms")));
    }
    let terms = read_terms(book, &terms)?;
    let mut spec = Spec {
        deposits: Vec::new(),
        notices: Vec::new(),
    };
    let scale = scale_of(&terms, &mut spec.notices)?;
    let ball = terms.iter().find_map(|t| match t.amount {
        Amount::Ball(diameter) => Some(diameter),
        _ => None,
    });
    for term in terms {
        let deposit = term.deposit(book, ball, scale, &mut spec.notices)?;
        spec.deposits.push(deposit);
    }
    Ok(spec)
}

/// Two metals of which nobody said how much (`sac305 + 63/37`): each of them whole, to be mixed in any
/// share. `None` where it is anything else.
pub fn pair(book: &AlloyBook, typed: &str) -> Option<Spec> {
    if typed.chars().count() > MAX_TYPED {
        return None;
    }
    let terms = read_terms(book, &terms_of(typed)).ok()?;
    let bare = terms.iter().all(|term| term.amount == Amount::All);
    if terms.len() != 2 || !bare {
        return None;
    }
    let mut notices = Vec::new();
    let deposits = terms
        .iter()
        .map(|term| term.deposit(book, None, 1.0, &mut notices));
    let deposits = deposits.collect::<Result<_, _>>().ok()?;
    Some(Spec { deposits, notices })
}

fn read_terms(book: &AlloyBook, terms: &[Vec<String>]) -> Result<Vec<Term>, SpecFault> {
    terms
        .iter()
        .map(|words| {
            let term = Term::read(words)?;
            match bare_number(book, &term) {
                Some(why) => Err(term.fault(why)),
                None => Ok(term),
            }
        })
        .collect()
}

/// Largest bare number that is asked about: balls in mm and traces in % are smaller, alloys are hardly
/// written so (our judgement).
const ASKED_UP_TO: f64 = 5.0;

/// `0.3 snbi` is the name of no alloy, though it can be read as so much of its first metal: asked about.
fn bare_number(book: &AlloyBook, term: &Term) -> Option<String> {
    if term.amount != Amount::All {
        return None;
    }
    let words: Vec<&str> = term.alloy.split_whitespace().collect();
    let [first, last] = words[..] else {
        return None;
    };
    let (number, name) = if is_size(first) {
        (first, last)
    } else {
        (last, first)
    };
    let small = super::term::decimal(number).is_some_and(|value| value <= ASKED_UP_TO);
    let known = || book.find(name).is_ok_and(|found| found.alloy.is_some());
    let whole = || {
        book.find(&term.alloy)
            .is_ok_and(|found| found.alloy.is_some())
    };
    (small && known() && !whole()).then(|| {
        format!(
            "a ball of {number} mm, or {number} % ? want `ball {number} {name}` or `{number}% {name}`"
        )
    })
}

/// The words of each term, in lower case, `0.36 x 0.12` joined.
fn terms_of(typed: &str) -> Vec<Vec<String>> {
    let spaced = typed.to_lowercase().replace('×', "x").replace('+', " + ");
    let words: Vec<&str> = spaced.split_whitespace().collect();
    let mut terms: Vec<Vec<String>> = vec![Vec::new()];
    let mut place = 0;
    while let Some(&word) = words.get(place) {
        let next = words.get(place + 1).copied().unwrap_or("");
        let starts_term = word == "+" || (is_on(word) && Shape::of(next).is_some());
        if starts_term {
            terms.push(Vec::new());
        } else if let Some(term) = terms.last_mut() {
            match term.last_mut() {
                Some(last) if word == "x" || (last.ends_with('x') && is_size(last)) => {
                    last.push_str(word);
                }
                _ => term.push(word.to_owned()),
            }
        }
        place += 1;
    }
    terms
}

impl Term {
    fn fault(&self, why: impl Into<String>) -> SpecFault {
        SpecFault::Term {
            term: self.typed.clone(),
            why: why.into(),
        }
    }

    fn deposit(
        &self,
        book: &AlloyBook,
        ball: Option<Length>,
        scale: f64,
        notices: &mut Vec<String>,
    ) -> Result<Deposit, SpecFault> {
        let understood = book.find(&self.alloy).map_err(|fault| SpecFault::Name {
            term: self.typed.clone(),
            fault,
        })?;
        notices.extend(understood.notices);
        let composition = understood.composition;
        let density = composition
            .density()
            .map_err(|why| self.fault(why.to_string()))?;
        let (what, mass) = match self.amount {
            Amount::Percent(percent) => {
                let share = percent * scale;
                (format!("{share} %"), Mass::from_mg(share / 100.0))
            }
            Amount::All => ("all".to_owned(), Mass::from_mg(1.0)),
            Amount::Mass(mass) => (format!("{} mg", mass.mg()), Ok(mass)),
            Amount::Ball(d) => (
                format!("ball of {} mm", d.mm()),
                geometry::ball(d).of(density),
            ),
            Amount::Dome { base, height } => (
                format!("dome of {} mm, {} mm high", base.mm(), height.mm()),
                geometry::dome(base, height).of(density),
            ),
            Amount::Film { thickness, on } => {
                let pad = self.pad(on, ball, notices)?;
                (
                    format!("film of {} µm on {} mm", thickness.um(), pad.mm()),
                    geometry::disc(pad, thickness).of(density),
                )
            }
            Amount::Paste {
                aperture,
                transfer,
                metal,
            } => {
                let (transfer, loading) = paste_shares(transfer, metal, notices);
                let paste = Paste {
                    metal: density,
                    loading,
                };
                (
                    format!("paste, {} mm³ of aperture", four(aperture.volume().mm3())),
                    paste.printed(aperture.volume(), transfer),
                )
            }
        };
        let mass = mass.map_err(|why| self.fault(why.to_string()))?;
        if mass == Mass::ZERO {
            return Err(self.fault("there is nothing of it"));
        }
        let film = match self.amount {
            Amount::Film { thickness, .. } => Some(thickness),
            _ => None,
        };
        Ok(Deposit {
            what,
            share_only: matches!(self.amount, Amount::Percent(_) | Amount::All),
            film,
            blend: Blend::of(&composition, mass),
            composition,
            alloy: understood.alloy,
        })
    }

    /// The pad of a film: as said, or as wide as the ball that comes on it.
    fn pad(
        &self,
        on: Option<Length>,
        ball: Option<Length>,
        notices: &mut Vec<String>,
    ) -> Result<Length, SpecFault> {
        match (on, ball) {
            (Some(pad), _) => Ok(pad),
            (None, Some(ball)) => {
                notices.push(format!(
                    "the pad of the film is taken as wide as the ball, {} mm",
                    ball.mm()
                ));
                Ok(ball)
            }
            (None, None) => Err(self.fault("the film has no pad: want `on 0.3` (mm)")),
        }
    }
}

/// Shares of a print, said or assumed: all paste comes off, and of its metal as much as is usual.
fn paste_shares(
    transfer: Option<Share>,
    metal: Option<Share>,
    notices: &mut Vec<String>,
) -> (Share, Share) {
    let transfer = transfer.unwrap_or_else(|| {
        notices.push("all paste is taken to come off the stencil".to_owned());
        Share::ALL
    });
    let metal = metal.unwrap_or_else(|| {
        notices.push(format!(
            "the paste is taken to hold {} mass% metal",
            policy::PASTE_METAL.percent()
        ));
        policy::PASTE_METAL
    });
    (transfer, metal)
}

/// What shares of the whole are multiplied with so that they sum to 100.
fn scale_of(terms: &[Term], notices: &mut Vec<String>) -> Result<f64, SpecFault> {
    let percents: Vec<f64> = terms
        .iter()
        .filter_map(|t| match t.amount {
            Amount::Percent(percent) => Some(percent),
            _ => None,
        })
        .collect();
    let bare = terms.iter().any(|t| t.amount == Amount::All);
    if bare && terms.len() > 1 {
        return Err(SpecFault::Whole(
            "how much of each? want a mass, a share in %, or `ball`, `film`, `dome`, `paste`"
                .to_owned(),
        ));
    }
    if percents.is_empty() {
        return Ok(1.0);
    }
    if percents.len() < terms.len() {
        return Err(SpecFault::Whole(
            "shares in % and masses do not mix: give masses for all".to_owned(),
        ));
    }
    let sum: f64 = percents.iter().sum();
    if (sum - 100.0).abs() > 0.5 {
        return Err(SpecFault::Whole(format!(
            "the shares sum to {sum} %: want 100"
        )));
    }
    if (sum - 100.0).abs() > 1e-9 {
        notices.push(format!("the shares sum to {sum} %: scaled to 100"));
    }
    Ok(100.0 / sum)
}

/// Four digits, for people.
fn four(value: f64) -> String {
    let digits = 3.0 - value.abs().max(1e-12).log10().floor();
    let factor = 10_f64.powf(digits);
    ((value * factor).round() / factor).to_string()
}
