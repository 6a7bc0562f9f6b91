//! Blends as people say them: `"ball 0.3 snbi + film 10um 63/37 on 0.3"`.
//!
//! Terms are parted by `+` (or `on`, `onto` before another term). A term is an alloy with how much
//! of it there is: a mass (`0.1209mg`), a share of the whole (`60%`), or a thing of the bench:
//!
//! | term | meaning |
//! |---|---|
//! | `ball 0.3 snbi` | ball of 0.3 mm |
//! | `film 10um 63/37 on 0.3` | film of 10 µm on a round pad of 0.3 mm |
//! | `dome 0.3 h 0.05 63/37` | dome on a base of 0.3 mm, 0.05 mm high |
//! | `paste 0.36x0.12 63/37 transfer 0.9 metal 90%` | paste through a round aperture of 0.36 mm in a stencil of 0.12 mm; `0.3x0.4x0.12` is a rectangular one |

use super::geometry::{self, Paste, Volume};
use super::{AlloyBook, Blend, Composition, NameFault};
use crate::quantity::{Length, Mass, NotAQuantity, Share};

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
}

/// Why a description is not understood.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum SpecFault {
    /// The alloy of a term.
    #[error("in `{term}`: {fault}")]
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

/// Longest description that is read, in characters.
const MAX_TYPED: usize = 2000;
/// Most terms.
const MAX_TERMS: usize = 40;

/// Loading of paste where none is given, mass% metal (common practice, no source).
const PASTE_METAL_PERCENT: f64 = 90.0;

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
    let terms = terms_of(typed);
    if terms.is_empty() {
        return Err(SpecFault::Whole(
            "nothing is described: want for example `ball 0.3 snbi + film 10um 63/37 on 0.3`"
                .to_owned(),
        ));
    }
    if terms.len() > MAX_TERMS {
        return Err(SpecFault::Whole(format!("more than {MAX_TERMS} terms")));
    }
    let terms: Vec<Term> = terms
        .iter()
        .map(|words| Term::read(words))
        .collect::<Result<_, _>>()?;
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
    terms.retain(|t| !t.is_empty());
    terms
}

fn is_on(word: &str) -> bool {
    matches!(word, "on" | "onto" | "over")
}

fn is_size(word: &str) -> bool {
    word.starts_with(|c: char| c.is_ascii_digit() || matches!(c, '.' | ','))
}

#[derive(Clone, Copy, Debug, PartialEq)]
enum Shape {
    Ball,
    Film,
    Dome,
    Paste,
}

impl Shape {
    fn of(word: &str) -> Option<Self> {
        Some(match word {
            "ball" | "balls" | "sphere" => Shape::Ball,
            "film" | "residue" | "layer" => Shape::Film,
            "dome" | "cap" | "bump" => Shape::Dome,
            "paste" | "print" => Shape::Paste,
            _ => return None,
        })
    }
}

#[derive(Clone, Copy, Debug, PartialEq)]
enum Amount {
    /// A share of the whole, %.
    Percent(f64),
    Mass(Mass),
    Ball(Length),
    Film {
        thickness: Length,
        on: Option<Length>,
    },
    Dome {
        base: Length,
        height: Length,
    },
    Paste {
        aperture: Aperture,
        transfer: Option<Share>,
        metal: Option<Share>,
    },
    /// Nothing said: all of it.
    All,
}

#[derive(Clone, Copy, Debug, PartialEq)]
enum Aperture {
    Round(Length, Length),
    Rectangular(Length, Length, Length),
}

impl Aperture {
    fn volume(self) -> Volume {
        match self {
            Aperture::Round(diameter, stencil) => geometry::disc(diameter, stencil),
            Aperture::Rectangular(a, b, stencil) => geometry::slab(a, b, stencil),
        }
    }
}

/// A term, taken apart.
struct Term {
    typed: String,
    amount: Amount,
    alloy: String,
}

/// Words of a term that wait to be taken.
struct Words<'a> {
    typed: String,
    left: Vec<&'a str>,
}

impl<'a> Words<'a> {
    fn fault(&self, why: impl Into<String>) -> SpecFault {
        SpecFault::Term {
            term: self.typed.clone(),
            why: why.into(),
        }
    }

    /// Takes the first word that `meaning` understands.
    fn take<T>(&mut self, meaning: impl Fn(&str) -> Option<T>) -> Option<T> {
        let place = self.left.iter().position(|w| meaning(w).is_some())?;
        meaning(self.left.remove(place))
    }

    /// Takes the word behind one of these keywords, and the keyword.
    fn take_after(&mut self, keywords: &[&str]) -> Result<Option<&'a str>, SpecFault> {
        let Some(place) = self.left.iter().position(|w| keywords.contains(w)) else {
            return Ok(None);
        };
        let keyword = self.left.remove(place);
        if place < self.left.len() {
            Ok(Some(self.left.remove(place)))
        } else {
            Err(self.fault(format!("nothing follows `{keyword}`")))
        }
    }

    fn length_after(&mut self, keywords: &[&str]) -> Result<Option<Length>, SpecFault> {
        match self.take_after(keywords)? {
            None => Ok(None),
            Some(word) => match length(word, 1.0) {
                Some(length) => Ok(Some(length.map_err(|why| self.fault(why.to_string()))?)),
                None => Err(self.fault(format!("`{word}` is not a length: want mm, or `300um`"))),
            },
        }
    }

    fn share_after(&mut self, keyword: &str) -> Result<Option<Share>, SpecFault> {
        match self.take_after(&[keyword])? {
            None => Ok(None),
            Some(word) => share(word)
                .map(Some)
                .ok_or_else(|| self.fault(format!("`{word}` is not a share: want `0.9` or `90%`"))),
        }
    }

    /// The sizes of the first word like `0.36x0.12`, or `count` single lengths.
    fn sizes(&mut self, shape: &str, count: usize, bare_mm: f64) -> Result<Vec<Length>, SpecFault> {
        let parse = |word: &str| -> Option<Vec<Result<Length, NotAQuantity>>> {
            word.split('x').map(|w| length(w, bare_mm)).collect()
        };
        let mut sizes = Vec::new();
        while sizes.len() < count {
            let Some(found) = self.take(parse) else {
                return Err(self.fault(format!("the {shape} has no size: want {}", want(shape))));
            };
            for size in found {
                sizes.push(size.map_err(|why| self.fault(why.to_string()))?);
            }
        }
        if let Some(size) = sizes.iter().find(|s| !(0.0001..=5.0).contains(&s.mm())) {
            return Err(self.fault(format!(
                "a size of {} mm is not believable here: want {}",
                size.mm(),
                want(shape)
            )));
        }
        Ok(sizes)
    }
}

fn want(shape: &str) -> &'static str {
    match shape {
        "ball" => "a diameter in mm, or as `300um`",
        "film" => "a thickness in µm, as `10um`",
        "dome" => "base and height in mm, as `0.3 h 0.05`",
        _ => "aperture and stencil in mm, as `0.36x0.12`",
    }
}

impl Term {
    fn read(words: &[String]) -> Result<Term, SpecFault> {
        let mut words = Words {
            typed: words.join(" "),
            left: words.iter().map(String::as_str).collect(),
        };
        let typed = words.typed.clone();
        let amount = match words.take(Shape::of) {
            Some(Shape::Ball) => Amount::Ball(words.sizes("ball", 1, 1.0)?[0]),
            Some(Shape::Film) => {
                let on = words.length_after(&["on", "onto", "over", "pad"])?;
                Amount::Film {
                    thickness: words.sizes("film", 1, 1e-3)?[0],
                    on,
                }
            }
            Some(Shape::Dome) => {
                let height = words.length_after(&["h", "height", "high"])?;
                let sizes = words.sizes("dome", if height.is_some() { 1 } else { 2 }, 1.0)?;
                Amount::Dome {
                    base: sizes[0],
                    height: height.unwrap_or_else(|| sizes[sizes.len() - 1]),
                }
            }
            Some(Shape::Paste) => paste(&mut words)?,
            None => plain_amount(&mut words)?,
        };
        words
            .left
            .retain(|w| !matches!(*w, "of" | "a" | "an" | "the"));
        let alloy = words.left.join(" ");
        if alloy.is_empty() {
            return Err(words.fault("no alloy is named"));
        }
        Ok(Term {
            typed,
            amount,
            alloy,
        })
    }

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
        Ok(Deposit {
            what,
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

fn paste(words: &mut Words<'_>) -> Result<Amount, SpecFault> {
    let transfer = words.share_after("transfer")?;
    let metal = words.share_after("metal")?;
    let sizes = words.sizes("paste", 2, 1.0)?;
    let aperture = match *sizes.as_slice() {
        [diameter, stencil] => Aperture::Round(diameter, stencil),
        [a, b, stencil] => Aperture::Rectangular(a, b, stencil),
        _ => return Err(words.fault(format!("too many sizes: want {}", want("paste")))),
    };
    Ok(Amount::Paste {
        aperture,
        transfer,
        metal,
    })
}

/// Shares of a print, said or assumed: all paste comes off, 90 mass% of it metal.
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
            "the paste is taken to hold {PASTE_METAL_PERCENT} mass% metal"
        ));
        Share::nearest(PASTE_METAL_PERCENT / 100.0)
    });
    (transfer, metal)
}

/// A mass, a share of the whole, or nothing.
fn plain_amount(words: &mut Words<'_>) -> Result<Amount, SpecFault> {
    // `0.12 mg` in two words.
    let unit = |w: &str| matches!(w, "mg" | "ug" | "µg" | "μg" | "g");
    if let Some(place) = words.left.iter().position(|w| unit(w))
        && place > 0
        && let Some(mass) = mass(&format!("{}{}", words.left[place - 1], words.left[place]))
    {
        words.left.drain(place - 1..=place);
        return Ok(Amount::Mass(
            mass.map_err(|why| words.fault(why.to_string()))?,
        ));
    }
    if let Some(mass) = words.take(mass) {
        return Ok(Amount::Mass(
            mass.map_err(|why| words.fault(why.to_string()))?,
        ));
    }
    // Per cent belong to the alloy where that is written with them: `63% sn 37% pb`.
    let percents = words.left.iter().filter(|w| percent(w).is_some()).count();
    if percents == 1
        && let Some(percent) = words.take(percent)
    {
        return Ok(Amount::Percent(percent));
    }
    Ok(Amount::All)
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

fn decimal(text: &str) -> Option<f64> {
    let plain = text
        .chars()
        .all(|c| c.is_ascii_digit() || matches!(c, '.' | ','));
    plain.then(|| text.replace(',', ".").parse().ok()).flatten()
}

/// `0.3`, `0.3mm`, `300um`, `300u`, `12mil`; a bare number counts as so many mm.
fn length(word: &str, bare_mm: f64) -> Option<Result<Length, NotAQuantity>> {
    let units = [
        ("mil", 0.0254),
        ("um", 1e-3),
        ("µm", 1e-3),
        ("μm", 1e-3),
        ("mm", 1.0),
        ("u", 1e-3),
        ("µ", 1e-3),
    ];
    let (number, mm) = units
        .iter()
        .find_map(|(unit, mm)| Some((word.strip_suffix(unit)?, *mm)))
        .unwrap_or((word, bare_mm));
    Some(Length::from_mm(decimal(number)? * mm))
}

/// `0.12mg`, `3ug`, `0.2g`.
fn mass(word: &str) -> Option<Result<Mass, NotAQuantity>> {
    let units = [
        ("mg", 1.0),
        ("ug", 1e-3),
        ("µg", 1e-3),
        ("μg", 1e-3),
        ("g", 1e3),
    ];
    let (number, mg) = units
        .iter()
        .find_map(|(unit, mg)| Some((word.strip_suffix(unit)?, *mg)))?;
    Some(Mass::from_mg(decimal(number)? * mg))
}

/// `60%`.
fn percent(word: &str) -> Option<f64> {
    decimal(word.strip_suffix('%')?)
}

/// `0.9` or `90%`.
fn share(word: &str) -> Option<Share> {
    match percent(word) {
        Some(percent) => Share::from_percent(percent).ok(),
        None => Share::new(decimal(word)?).ok(),
    }
}
