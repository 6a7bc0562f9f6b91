//! Temperatures as typed beside a command. What a bare number means hangs on `--fahrenheit`, which may
//! stand after it: so that the words are kept until all arguments are read.

use crate::job;
use crate::quantity::Celsius;
use crate::show::chart::Scale;

use super::WrongInput;

/// A temperature: `150`, `150C`, `302F`.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Typed(String);

impl Typed {
    /// Keeps what was typed, if it is a temperature in one of the scales.
    pub(super) fn keep(text: &str) -> Result<Typed, String> {
        job::typed_celsius(text, false)
            .or_else(|why| job::typed_celsius(text, true).map_err(|_| why))
            .map(|_| Typed(text.to_owned()))
    }

    /// What it means.
    pub(super) fn read(&self, scale: Scale) -> Result<Celsius, WrongInput> {
        celsius(&self.0, scale)
    }
}

/// A temperature where a bare number is of this scale.
pub(super) fn celsius(text: &str, scale: Scale) -> Result<Celsius, WrongInput> {
    job::typed_celsius(text, scale == Scale::Fahrenheit).map_err(WrongInput)
}

/// `LEAST..MOST`.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct TypedRange(Typed, Typed);

impl TypedRange {
    /// Keeps what was typed, if it is a range.
    pub(super) fn keep(text: &str) -> Result<TypedRange, String> {
        let wrong = || format!("`{text}`: want LEAST..MOST, for example 60..140");
        let (least, most) = text.split_once("..").ok_or_else(wrong)?;
        let kept = TypedRange(
            Typed::keep(least).map_err(|_| wrong())?,
            Typed::keep(most).map_err(|_| wrong())?,
        );
        match kept.read(Scale::Celsius) {
            Err(_) if kept.read(Scale::Fahrenheit).is_err() => Err(wrong()),
            _ => Ok(kept),
        }
    }

    /// What it means.
    pub(super) fn read(&self, scale: Scale) -> Result<(Celsius, Celsius), WrongInput> {
        let (least, most) = (self.0.read(scale)?, self.1.read(scale)?);
        if least > most {
            let (least, most) = (&self.0.0, &self.1.0);
            return Err(WrongInput::new(format!(
                "`{least}..{most}`: the least lies above the most"
            )));
        }
        Ok((least, most))
    }
}
