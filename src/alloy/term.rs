//! The words of one term of a blend: a thing, its sizes, its alloy.

use super::geometry::{self, Volume};
use super::spec::SpecFault;
use crate::quantity::{Length, Mass, NotAQuantity, Share};

pub(super) fn is_on(word: &str) -> bool {
    matches!(word, "on" | "onto" | "over")
}

pub(super) fn is_size(word: &str) -> bool {
    word.starts_with(|c: char| c.is_ascii_digit() || matches!(c, '.' | ','))
}

#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Shape {
    Ball,
    Film,
    Dome,
    Paste,
}

impl Shape {
    pub(super) fn of(word: &str) -> Option<Self> {
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
pub(super) enum Amount {
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
pub(super) enum Aperture {
    Round(Length, Length),
    Rectangular(Length, Length, Length),
}

impl Aperture {
    pub(super) fn volume(self) -> Volume {
        match self {
            Aperture::Round(diameter, stencil) => geometry::disc(diameter, stencil),
            Aperture::Rectangular(a, b, stencil) => geometry::slab(a, b, stencil),
        }
    }
}

/// A term, taken apart.
pub(super) struct Term {
    pub(super) typed: String,
    pub(super) amount: Amount,
    pub(super) alloy: String,
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
    pub(super) fn read(words: &[String]) -> Result<Term, SpecFault> {
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
            Some(Shape::Dome) => dome(&mut words)?,
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
}

/// `dome 0.3 h 0.05`, or `dome 0.05 … on 0.3` as films are said.
fn dome(words: &mut Words<'_>) -> Result<Amount, SpecFault> {
    let on = words.length_after(&["on", "onto", "over", "pad"])?;
    let height = words.length_after(&["h", "height", "high"])?;
    let sized = usize::from(on.is_none()) + usize::from(height.is_none());
    let sizes = words.sizes("dome", sized, 1.0)?;
    let base = on.or(sizes.first().copied());
    let height = height.or(sizes.last().copied());
    match base.zip(height) {
        Some((base, height)) => Ok(Amount::Dome { base, height }),
        None => Err(words.fault(format!("the dome has no size: want {}", want("dome")))),
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

pub(super) fn decimal(text: &str) -> Option<f64> {
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
