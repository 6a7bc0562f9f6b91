//! Whether a part's own temperature profile is one that parts are made for: rise, fall, time liquid, peak
//! against its body size, number of heats.
//!
//! The published limits are those of J-STD-020 as restated in a solder profile note (dtsheet.com/doc/1654354)
//! and two data sheets (datasheetbank.com B57820M; onlinedocs.microchip.com); the standard itself was not
//! read. What is a rule of the trade says so.

use std::fmt;

use serde::Serialize;

use super::plate::PlaceHeat;
use crate::quantity::{Celsius, KelvinStep, Length};

const PACKAGE_NOTE: &str = "J-STD-020C as restated at dtsheet.com/doc/1654354";
const PACKAGE_D: &str = "J-STD-020D as restated at datasheetbank.com B57820M";
const TIN_LEAD_E: &str = "J-STD-020E, from memory";
const PASSES: &str = "three reflow passes, onlinedocs.microchip.com and a white paper on package rework (techonline.com)";
const WETTING: &str = "at least 20 K above melting, indium.com on step soldering";
const PRACTICE: &str = "common practice, no source";

/// What the solder is made of, as far as part limits go.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Solder {
    /// Tin and lead: parts are classified for 220 or 235 °C.
    TinLead,
    /// Lead-free: parts are classified for 245 to 260 °C.
    LeadFree,
}

/// The body of a part, by its outside.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Body {
    /// One side.
    pub wide: Length,
    /// The other.
    pub tall: Length,
    /// Height over the board without balls.
    pub thick: Length,
}

impl Body {
    /// The temperature on top of the body up to which the part is classified, by thickness and volume.
    ///
    /// Lead-free: 260 °C under 1.6 mm; 260, 250, 245 °C from 1.6 to 2.5 mm and 250, 245, 245 °C above, for
    /// volumes under 350, up to 2000 and above 2000 mm³. Tin-lead: 235 °C under 2.5 mm and 350 mm³, else
    /// 220 °C. The part's own data sheet wins.
    pub fn classified(self, solder: Solder) -> Celsius {
        let (thick, volume) = (
            self.thick.mm(),
            self.wide.mm() * self.tall.mm() * self.thick.mm(),
        );
        let step = if volume < 350.0 {
            0
        } else {
            1 + usize::from(volume > 2000.0)
        };
        let row = match solder {
            Solder::TinLead if thick < 2.5 => [235, 220, 220],
            Solder::TinLead => [220, 220, 220],
            Solder::LeadFree if thick < 1.6 => [260, 260, 260],
            Solder::LeadFree if thick <= 2.5 => [260, 250, 245],
            Solder::LeadFree => [250, 245, 245],
        };
        Celsius::whole(row[step])
    }
}

/// How a number stands to its limit.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Standing {
    /// Within.
    Within,
    /// Above the most.
    Above,
    /// Below the least.
    Below,
}

/// One number of the profile against one limit.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Finding {
    /// What was looked at.
    pub what: &'static str,
    /// The number.
    pub found: f64,
    /// The least, if there is one.
    pub least: Option<f64>,
    /// The most, if there is one.
    pub most: Option<f64>,
    /// Of all three.
    pub unit: &'static str,
    /// The verdict.
    pub standing: Standing,
    /// Where the limit is from, or "common practice, no source".
    pub source: &'static str,
}

impl Finding {
    fn new(
        what: &'static str,
        found: f64,
        (least, most): (Option<f64>, Option<f64>),
        unit: &'static str,
        source: &'static str,
    ) -> Self {
        let standing = if most.is_some_and(|most| found > most) {
            Standing::Above
        } else if least.is_some_and(|least| found < least) {
            Standing::Below
        } else {
            Standing::Within
        };
        Finding {
            what,
            found,
            least,
            most,
            unit,
            standing,
            source,
        }
    }
}

impl fmt::Display for Finding {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} {:.1} {}", self.what, self.found, self.unit)?;
        match self.standing {
            Standing::Within => f.write_str(", within")?,
            Standing::Above => f.write_str(", above")?,
            Standing::Below => f.write_str(", below")?,
        }
        match (self.least, self.most) {
            (Some(least), Some(most)) => write!(f, " {least} to {most}")?,
            (None, Some(most)) => write!(f, " at most {most}")?,
            (Some(least), None) => write!(f, " at least {least}")?,
            (None, None) => {}
        }
        write!(f, " ({})", self.source)
    }
}

/// Looks at the run of one part, its joints and the top of its body, whose solder is liquid from `liquidus` on, and which this heat makes the
/// `heats`th of.
pub fn profile(
    (heat, top): (&PlaceHeat, &PlaceHeat),
    liquidus: Celsius,
    solder: Solder,
    body: Option<Body>,
    heats: u32,
) -> Vec<Finding> {
    // Skins that face the air jump by some kelvins as it comes and goes; what parts are made for is the run below
    // them.
    let below = heat.of_the_coolest();
    let peak = heat.peak();
    let liquid_s = heat.seconds_above(liquidus);
    let near_peak_s = heat.seconds_above(peak - KelvinStep::whole(5));
    let hold = if solder == Solder::TinLead {
        20.0
    } else {
        30.0
    };
    let mut findings = vec![
        Finding::new(
            "rise",
            below.fastest_rise_k_s(),
            (None, Some(3.0)),
            "K/s",
            PACKAGE_NOTE,
        ),
        Finding::new(
            "fall",
            below.fastest_fall_k_s(),
            (None, Some(6.0)),
            "K/s",
            PACKAGE_NOTE,
        ),
        Finding::new(
            "time liquid",
            liquid_s,
            (None, Some(150.0)),
            "s",
            PACKAGE_NOTE,
        ),
        Finding::new(
            "time liquid, as aimed at",
            liquid_s,
            (Some(30.0), Some(90.0)),
            "s",
            PRACTICE,
        ),
        Finding::new(
            "time within 5 K of the peak",
            near_peak_s,
            (None, Some(hold)),
            "s",
            PACKAGE_D,
        ),
        Finding::new(
            "peak above liquidus",
            (peak - liquidus).kelvin(),
            (Some(20.0), None),
            "K",
            WETTING,
        ),
        Finding::new(
            "heats of the part",
            f64::from(heats),
            (None, Some(3.0)),
            "",
            PASSES,
        ),
    ];
    if let Some(body) = body {
        let source = if solder == Solder::TinLead {
            TIN_LEAD_E
        } else {
            PACKAGE_NOTE
        };
        let most = body.classified(solder).degrees();
        findings.push(Finding::new(
            "peak on the body",
            top.peak().degrees(),
            (None, Some(most)),
            "°C",
            source,
        ));
    }
    findings
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::heat::plate::Moment;

    fn body(wide: f64, tall: f64, thick: f64) -> Body {
        let mm = |value| Length::from_mm(value).unwrap();
        Body {
            wide: mm(wide),
            tall: mm(tall),
            thick: mm(thick),
        }
    }

    /// Values of the table in the profile note.
    #[test]
    fn bodies_are_classified_by_thickness_and_volume() {
        for (sizes, lead_free, tin_lead) in [
            ((10.0, 10.0, 1.0), 260, 235),
            ((30.0, 30.0, 1.5), 260, 220),
            ((10.0, 10.0, 2.0), 260, 235),
            ((20.0, 20.0, 2.0), 250, 220),
            ((40.0, 40.0, 2.0), 245, 220),
            ((10.0, 10.0, 3.0), 250, 220),
            ((30.0, 30.0, 3.0), 245, 220),
        ] {
            let body = body(sizes.0, sizes.1, sizes.2);
            assert_eq!(
                body.classified(Solder::LeadFree),
                Celsius::whole(lead_free),
                "{sizes:?}"
            );
            assert_eq!(
                body.classified(Solder::TinLead),
                Celsius::whole(tin_lead),
                "{sizes:?}"
            );
        }
    }

    /// 2 K/s up to 240 °C, 20 s there, 4 K/s down.
    #[test]
    fn a_drawn_profile_is_measured_as_drawn() {
        let at = |s: f64| {
            if s <= 100.0 {
                40.0 + 2.0 * s
            } else {
                240.0 - 4.0 * (s - 120.0).max(0.0)
            }
        };
        let trace = (0..=340)
            .map(|half| f64::from(half) / 2.0)
            .map(|s| Moment {
                after_s: s,
                hottest: Celsius::nearest(at(s)),
                coolest: Celsius::nearest(at(s)),
            })
            .collect();
        let heat = PlaceHeat {
            id: "U1".to_owned(),
            trace,
        };
        let found = profile(
            (&heat, &heat),
            Celsius::whole(217),
            Solder::LeadFree,
            Some(body(20.0, 20.0, 3.0)),
            4,
        );
        let number = |what: &str| found.iter().find(|f| f.what == what).unwrap();
        assert!((number("rise").found - 2.0).abs() < 1e-6);
        assert!((number("fall").found - 4.0).abs() < 1e-6);
        // 23 K at 2 K/s, 20 s, 23 K at 4 K/s.
        assert!((number("time liquid").found - (11.5 + 20.0 + 5.75)).abs() < 1e-6);
        assert_eq!(number("peak on the body").standing, Standing::Within);
        assert_eq!(number("heats of the part").standing, Standing::Above);
        assert_eq!(
            number("rise").to_string(),
            format!("rise 2.0 K/s, within at most 3 ({PACKAGE_NOTE})")
        );
    }
}
