//! Quantities that cross module borders: temperatures, temperature differences, masses, shares,
//! lengths. No bare `f64` does.
//!
//! Temperatures and masses are kept as integers (millidegrees, picograms), so that two benches that
//! are equal compare equal, hash equal and merge in the search.

use std::fmt;
use std::ops::{Add, Neg, Sub};

use serde::Serialize;

/// A number that cannot be the quantity it was offered as.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[error("{found} is not {what}: want {want}")]
pub struct NotAQuantity {
    /// The number as offered.
    pub found: f64,
    /// What it should have been, with its article: "a temperature".
    pub what: &'static str,
    /// What is allowed, with the unit.
    pub want: &'static str,
}

/// A point on the Celsius scale, kept in millidegrees; −273.15 °C to 20 000 °C.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Celsius(i32);

/// A distance between two temperatures, kept in millikelvin.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct KelvinStep(i32);

const ABSOLUTE_ZERO_MILLI: i32 = -273_150;

impl Celsius {
    /// # Errors
    /// [`NotAQuantity`] if `degrees` is not finite, not above absolute zero, or above 20 000.
    pub fn new(degrees: f64) -> Result<Self, NotAQuantity> {
        if degrees.is_finite() && degrees > -273.15 && degrees <= 20_000.0 {
            Ok(Celsius(to_milli(degrees)))
        } else {
            Err(NotAQuantity {
                found: degrees,
                what: "a temperature",
                want: "a finite number of °C above -273.15",
            })
        }
    }

    /// A temperature written in the program itself, in whole °C.
    pub const fn whole(degrees: i32) -> Self {
        Celsius(degrees * 1000)
    }

    /// The nearest temperature to a computed value; anything that is none (NaN, out of range) is
    /// moved to the nearest end, NaN to absolute zero, so that an unknown moves toward "melts".
    pub fn nearest(degrees: f64) -> Self {
        if degrees.is_nan() {
            return Celsius(ABSOLUTE_ZERO_MILLI);
        }
        Celsius(to_milli(degrees.clamp(-273.15, 20_000.0)))
    }

    /// From a thermodynamic temperature in K; see [`Celsius::nearest`].
    pub fn from_kelvin(kelvin: f64) -> Self {
        Celsius::nearest(kelvin - 273.15)
    }

    /// In °C.
    pub fn degrees(self) -> f64 {
        f64::from(self.0) / 1000.0
    }

    /// In K.
    pub fn kelvin(self) -> f64 {
        self.degrees() + 273.15
    }

    /// In thousandths of a degree Celsius.
    pub const fn millidegrees(self) -> i32 {
        self.0
    }

    /// The same temperature in °F, for output only: `F = C · 9/5 + 32`.
    pub fn fahrenheit(self) -> f64 {
        self.degrees() * 1.8 + 32.0
    }
}

impl KelvinStep {
    /// No difference.
    pub const ZERO: KelvinStep = KelvinStep(0);

    /// # Errors
    /// [`NotAQuantity`] if `kelvin` is not finite or larger than 20 000 either way.
    pub fn new(kelvin: f64) -> Result<Self, NotAQuantity> {
        if kelvin.is_finite() && kelvin.abs() <= 20_000.0 {
            Ok(KelvinStep(to_milli(kelvin)))
        } else {
            Err(NotAQuantity {
                found: kelvin,
                what: "a temperature difference",
                want: "a finite number of K",
            })
        }
    }

    /// A difference written in the program itself, in whole K.
    pub const fn whole(kelvin: i32) -> Self {
        KelvinStep(kelvin * 1000)
    }

    /// A difference of so many thousandths of a kelvin.
    pub const fn from_millikelvin(millikelvin: i32) -> Self {
        KelvinStep(millikelvin)
    }

    /// In K.
    pub fn kelvin(self) -> f64 {
        f64::from(self.0) / 1000.0
    }

    /// In thousandths of a kelvin.
    pub const fn millikelvin(self) -> i32 {
        self.0
    }

    /// `factor` times this difference, rounded to the next millikelvin away from zero, so that a
    /// scaled rise is never too small.
    pub fn scaled(self, factor: f64) -> Self {
        let scaled = f64::from(self.0) * factor;
        let away = if scaled < 0.0 {
            (scaled + 1e-6).floor()
        } else {
            (scaled - 1e-6).ceil()
        };
        KelvinStep(clamp_to_i32(away))
    }
}

/// How fast something is heated or cooled: what it moves in a second, either way.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Ramp(KelvinStep);

impl Ramp {
    /// # Errors
    /// [`NotAQuantity`] if `k_s` is not finite, below zero or above 20 000 K/s.
    pub fn new(k_s: f64) -> Result<Self, NotAQuantity> {
        let step = KelvinStep::new(k_s)?;
        if step < KelvinStep::ZERO {
            return Err(NotAQuantity {
                found: k_s,
                what: "a ramp",
                want: "0 K/s or more, whichever way it goes",
            });
        }
        Ok(Ramp(step))
    }

    /// The nearest ramp to a computed one, whichever way it goes; what is none (NaN) is the fastest there is, so that
    /// an unknown moves toward harm.
    pub fn nearest(k_s: f64) -> Self {
        if k_s.is_nan() {
            return Ramp(KelvinStep(i32::MAX));
        }
        Ramp(KelvinStep(clamp_to_i32((k_s.abs() * 1000.0).ceil())))
    }

    /// So much in so many seconds, rounded up; none in no time.
    pub fn over(step: KelvinStep, seconds: u32) -> Self {
        Ramp::nearest(step.kelvin() / f64::from(seconds))
    }

    /// In K/s.
    pub fn k_s(self) -> f64 {
        self.0.kelvin()
    }

    /// `factor` times as fast, rounded up.
    pub fn scaled(self, factor: f64) -> Self {
        Ramp(self.0.scaled(factor))
    }
}

fn to_milli(value: f64) -> i32 {
    clamp_to_i32((value * 1000.0).round())
}

#[expect(
    clippy::cast_possible_truncation,
    reason = "clamped to the range first"
)]
fn clamp_to_i32(value: f64) -> i32 {
    value.clamp(-2.0e9, 2.0e9) as i32
}

impl Sub for Celsius {
    type Output = KelvinStep;
    fn sub(self, other: Celsius) -> KelvinStep {
        KelvinStep(self.0.saturating_sub(other.0))
    }
}

impl Add<KelvinStep> for Celsius {
    type Output = Celsius;
    fn add(self, step: KelvinStep) -> Celsius {
        Celsius(self.0.saturating_add(step.0).max(ABSOLUTE_ZERO_MILLI))
    }
}

impl Sub<KelvinStep> for Celsius {
    type Output = Celsius;
    fn sub(self, step: KelvinStep) -> Celsius {
        Celsius(self.0.saturating_sub(step.0).max(ABSOLUTE_ZERO_MILLI))
    }
}

impl Add for KelvinStep {
    type Output = KelvinStep;
    fn add(self, other: KelvinStep) -> KelvinStep {
        KelvinStep(self.0.saturating_add(other.0))
    }
}

impl Sub for KelvinStep {
    type Output = KelvinStep;
    fn sub(self, other: KelvinStep) -> KelvinStep {
        KelvinStep(self.0.saturating_sub(other.0))
    }
}

impl Neg for KelvinStep {
    type Output = KelvinStep;
    fn neg(self) -> KelvinStep {
        KelvinStep(-self.0)
    }
}

impl fmt::Display for Celsius {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Display::fmt(&self.degrees(), f)?;
        f.write_str(" °C")
    }
}

impl fmt::Display for KelvinStep {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Display::fmt(&self.kelvin(), f)?;
        f.write_str(" K")
    }
}

/// In JSON a temperature is its number of °C.
impl Serialize for Celsius {
    fn serialize<S: serde::Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        to.serialize_f64(self.degrees())
    }
}

/// In JSON a difference is its number of K.
impl Serialize for Ramp {
    fn serialize<S: serde::Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        to.serialize_f64(self.k_s())
    }
}

impl Serialize for KelvinStep {
    fn serialize<S: serde::Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        to.serialize_f64(self.kelvin())
    }
}

/// A mass, kept in whole picograms; at most 1 kg.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Mass(u64);

const PICOGRAMS_PER_MILLIGRAM: f64 = 1e9;

impl Mass {
    /// Nothing.
    pub const ZERO: Mass = Mass(0);

    /// # Errors
    /// [`NotAQuantity`] if `milligrams` is negative, not finite, or above 1 kg.
    pub fn from_mg(milligrams: f64) -> Result<Self, NotAQuantity> {
        if milligrams.is_finite() && (0.0..=1e6).contains(&milligrams) {
            Ok(Mass(to_picograms(milligrams)))
        } else {
            Err(NotAQuantity {
                found: milligrams,
                what: "a mass",
                want: "0 to 1 000 000 mg",
            })
        }
    }

    /// A mass of so many picograms.
    pub const fn from_picograms(picograms: u64) -> Self {
        Mass(picograms)
    }

    /// In mg.
    pub fn mg(self) -> f64 {
        self.0 as f64 / PICOGRAMS_PER_MILLIGRAM
    }

    /// In picograms.
    pub const fn picograms(self) -> u64 {
        self.0
    }
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "callers pass 0 to 1e6 mg"
)]
fn to_picograms(milligrams: f64) -> u64 {
    (milligrams * PICOGRAMS_PER_MILLIGRAM).round() as u64
}

impl Add for Mass {
    type Output = Mass;
    fn add(self, other: Mass) -> Mass {
        Mass(self.0.saturating_add(other.0))
    }
}

/// A share of a whole, 0 to 1; mass share unless a name says otherwise. Never NaN.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Share(f64);

impl Share {
    /// Nothing of it.
    pub const NONE: Share = Share(0.0);
    /// All of it.
    pub const ALL: Share = Share(1.0);
    /// 0.1 %.
    pub const THOUSANDTH: Share = Share(0.001);

    /// # Errors
    /// [`NotAQuantity`] if `fraction` is not between 0 and 1.
    pub fn new(fraction: f64) -> Result<Self, NotAQuantity> {
        if (0.0..=1.0).contains(&fraction) {
            Ok(Share(fraction))
        } else {
            Err(NotAQuantity {
                found: fraction,
                what: "a share",
                want: "0 to 1",
            })
        }
    }

    /// A share in per cent, written 0 to 100.
    ///
    /// # Errors
    /// As [`Share::new`].
    pub fn from_percent(percent: f64) -> Result<Self, NotAQuantity> {
        Share::new(percent / 100.0)
    }

    /// A share written in the program's own data, 0 to 100.
    pub(crate) const fn of_percent(percent: f64) -> Self {
        Share(percent / 100.0)
    }

    /// The nearest share to a computed value (rounding noise cut off); NaN becomes all, since
    /// "liquid" is the cautious reading.
    pub fn nearest(fraction: f64) -> Self {
        if fraction.is_nan() {
            Share::ALL
        } else {
            Share(fraction.clamp(0.0, 1.0))
        }
    }

    /// 0 to 1.
    pub const fn fraction(self) -> f64 {
        self.0
    }

    /// 0 to 100.
    pub fn percent(self) -> f64 {
        self.0 * 100.0
    }
}

impl Eq for Share {}

impl PartialOrd for Share {
    fn partial_cmp(&self, other: &Self) -> Option<std::cmp::Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Share {
    fn cmp(&self, other: &Self) -> std::cmp::Ordering {
        self.0.total_cmp(&other.0)
    }
}

/// A length, in mm; finite and not negative.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd, Serialize)]
pub struct Length(f64);

impl Length {
    /// # Errors
    /// [`NotAQuantity`] if `mm` is negative, not finite, or above 10 m.
    pub fn from_mm(mm: f64) -> Result<Self, NotAQuantity> {
        if mm.is_finite() && (0.0..=10_000.0).contains(&mm) {
            Ok(Length(mm))
        } else {
            Err(NotAQuantity {
                found: mm,
                what: "a length",
                want: "0 to 10 000 mm",
            })
        }
    }

    /// # Errors
    /// As [`Length::from_mm`].
    pub fn from_um(um: f64) -> Result<Self, NotAQuantity> {
        Length::from_mm(um / 1000.0)
    }

    /// A length written in the program's own data.
    pub(crate) const fn of_um(um: f64) -> Self {
        Length(um / 1000.0)
    }

    /// A length written in the program itself; what is no length becomes none.
    pub fn nearest_um(um: f64) -> Self {
        Length::from_um(um).unwrap_or(Length(0.0))
    }

    /// In mm.
    pub const fn mm(self) -> f64 {
        self.0
    }

    /// In µm.
    pub fn um(self) -> f64 {
        self.0 * 1000.0
    }
}

/// A density, in g/cm³ (which is also mg/mm³); between 0.1 and 30.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd, Serialize)]
pub struct Density(f64);

impl Density {
    /// # Errors
    /// [`NotAQuantity`] outside 0.1 to 30 g/cm³.
    pub fn from_g_cm3(value: f64) -> Result<Self, NotAQuantity> {
        if (0.1..=30.0).contains(&value) {
            Ok(Density(value))
        } else {
            Err(NotAQuantity {
                found: value,
                what: "a density",
                want: "0.1 to 30 g/cm³",
            })
        }
    }

    /// In g/cm³, which is mg/mm³.
    pub const fn g_cm3(self) -> f64 {
        self.0
    }

    /// The mass of so many mm³ of it.
    ///
    /// # Errors
    /// [`NotAQuantity`] if the volume makes no mass.
    pub fn times_mm3(self, volume_mm3: f64) -> Result<Mass, NotAQuantity> {
        Mass::from_mg(self.0 * volume_mm3)
    }
}

macro_rules! positive {
    ($(#[$doc:meta])* $name:ident, $from:ident, $get:ident, $max:literal, $what:literal, $want:literal) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, PartialOrd, Serialize)]
        pub struct $name(f64);

        impl $name {
            /// # Errors
            /// [`NotAQuantity`] if the number is negative, not finite or absurdly large.
            pub fn $from(value: f64) -> Result<Self, NotAQuantity> {
                if value.is_finite() && (0.0..=$max).contains(&value) {
                    Ok($name(value))
                } else {
                    Err(NotAQuantity { found: value, what: $what, want: $want })
                }
            }

            /// The number in the unit of its name.
            pub const fn $get(self) -> f64 {
                self.0
            }
        }
    };
}

positive!(
    /// A volume, in mm³.
    Volume, from_mm3, mm3, 1e9, "a volume", "0 to 1e9 mm³"
);
positive!(
    /// An area, in mm².
    Area, from_mm2, mm2, 1e8, "an area", "0 to 1e8 mm²"
);
positive!(
    /// A current, in A.
    Amps, from_amps, amps, 1e4, "a current", "0 to 10 000 A"
);
positive!(
    /// A resistance, in Ω. An open line reads [`Ohms::OPEN`].
    Ohms, from_ohms, ohms, 1e12, "a resistance", "0 to 1e12 Ω"
);

impl Ohms {
    /// What a meter cannot measure any more: an open line.
    pub const OPEN: Ohms = Ohms(1e12);
}

positive!(
    /// A time, in minutes.
    Minutes, from_minutes, minutes, 1e6, "a time", "0 to 1 000 000 minutes"
);

/// A place on the board, in mm from the board's own origin; either sign.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Point {
    x_mm: f64,
    y_mm: f64,
}

impl Point {
    /// # Errors
    /// [`NotAQuantity`] if a coordinate is not finite or farther than 10 m.
    pub fn from_mm(x: f64, y: f64) -> Result<Self, NotAQuantity> {
        for found in [x, y] {
            if !(found.is_finite() && found.abs() <= 10_000.0) {
                return Err(NotAQuantity {
                    found,
                    what: "a coordinate",
                    want: "-10 000 to 10 000 mm",
                });
            }
        }
        Ok(Point { x_mm: x, y_mm: y })
    }

    /// Coordinates in mm.
    pub const fn mm(self) -> (f64, f64) {
        (self.x_mm, self.y_mm)
    }

    /// Straight distance between two places.
    pub fn distance(self, other: Point) -> Length {
        Length((self.x_mm - other.x_mm).hypot(self.y_mm - other.y_mm))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn difference_then_sum_gives_the_start_back() {
        let cold = Celsius::whole(138);
        let hot = Celsius::whole(217);
        assert_eq!(hot - cold, KelvinStep::whole(79));
        assert_eq!(cold + (hot - cold), hot);
        assert_eq!(format!("{hot:.1}, {:+.0}", hot - cold), "217.0 °C, +79 K");
    }

    #[test]
    fn what_is_no_temperature_is_refused() {
        for bad in [f64::NAN, f64::INFINITY, -273.15, -300.0, 1e9] {
            assert!(Celsius::new(bad).is_err(), "{bad} was let in");
        }
    }

    #[test]
    fn a_scaled_rise_is_exact_where_it_can_be_and_never_too_small() {
        let rise = Celsius::whole(205) - Celsius::whole(100);
        assert_eq!(rise.scaled(0.45), KelvinStep::from_millikelvin(47_250));
        assert_eq!(
            KelvinStep::from_millikelvin(1).scaled(0.5),
            KelvinStep::from_millikelvin(1)
        );
        assert_eq!(
            (Celsius::whole(25) + KelvinStep::whole(215).scaled(0.35)).millidegrees(),
            100_250
        );
    }

    #[test]
    fn masses_and_shares_refuse_nonsense() {
        assert!(Mass::from_mg(-1.0).is_err());
        assert!(Mass::from_mg(f64::NAN).is_err());
        assert!(Share::new(1.1).is_err());
        assert_eq!(Share::nearest(f64::NAN), Share::ALL);
        assert_eq!(Mass::from_mg(0.1209).map(Mass::picograms), Ok(120_900_000));
    }
}
