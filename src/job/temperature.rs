//! Temperatures as people write them: °C, with a unit where they say one, and Fahrenheit slips
//! asked about instead of believed.

use crate::quantity::Celsius;

/// Coldest and hottest that any key of a job may say, whatever the unit (our judgement).
const ABSURD: (f64, f64) = (-80.0, 1500.0);

/// A temperature as written.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Written {
    /// In °C.
    pub(super) celsius: Celsius,
    /// The unit was written beside the number.
    pub(super) with_unit: bool,
}

/// Why a text is no usable temperature.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct NotWarm {
    pub(super) message: String,
    pub(super) help: Option<String>,
}

/// Reads `205`, `205 C`, `205 °C`, `401F`, `401 °F`, `478 K`; a bare number outside the usual range
/// is not believed.
///
/// # Errors
/// [`NotWarm`] if it is no temperature, absurd, or likely meant in another unit.
pub(super) fn read(text: &str, key: &str, usual: (f64, f64)) -> Result<Written, NotWarm> {
    let (number, unit) = split(text);
    let Some(value) = super::fields::number_in(number) else {
        return Err(NotWarm {
            message: format!(
                "`{text}` is not a temperature: want a number of °C, or one with its unit such as `428F`"
            ),
            help: decimal_comma(number),
        });
    };
    let degrees = match unit {
        Unit::None | Unit::Celsius => value,
        Unit::Fahrenheit => (value - 32.0) / 1.8,
        Unit::Kelvin => value - 273.15,
    };
    let celsius = within(degrees, text)?;
    if matches!(unit, Unit::None) && !(usual.0..=usual.1).contains(&degrees) {
        return Err(unusual(value, key, usual));
    }
    Ok(Written {
        celsius,
        with_unit: !matches!(unit, Unit::None),
    })
}

/// A temperature as typed beside a command: `150`, `150c`, `302F`; a bare number is °C, or °F if so asked.
///
/// # Errors
/// What is wrong and what is expected, in one sentence.
pub fn typed_celsius(text: &str, fahrenheit: bool) -> Result<Celsius, String> {
    let bare = super::fields::number_in(text.trim()).is_some();
    let in_unit = if fahrenheit && bare {
        format!("{text}F")
    } else {
        text.to_owned()
    };
    let written = read(&in_unit, "", ABSURD);
    written.map(|written| written.celsius).map_err(|why| {
        let help = why
            .help
            .map_or_else(String::new, |help| format!("; {help}"));
        format!("{}{help}", why.message)
    })
}

fn within(degrees: f64, text: &str) -> Result<Celsius, NotWarm> {
    let absurd = || NotWarm {
        message: format!(
            "`{text}` is out of all bounds: want {} to {} °C",
            ABSURD.0, ABSURD.1
        ),
        help: None,
    };
    if !(ABSURD.0..=ABSURD.1).contains(&degrees) {
        return Err(absurd());
    }
    Celsius::new(degrees).map_err(|_| absurd())
}

fn unusual(value: f64, key: &str, usual: (f64, f64)) -> NotWarm {
    let message = format!(
        "{value} °C would be unusual for `{key}`: want {} to {} °C",
        usual.0, usual.1
    );
    NotWarm {
        message,
        help: Some(ask(value, usual)),
    }
}

/// The question to ask about a number that may be Fahrenheit.
pub(super) fn ask(value: f64, usual: (f64, f64)) -> String {
    let read_as_f = (value - 32.0) / 1.8;
    if (usual.0..=usual.1).contains(&read_as_f) {
        format!(
            "as Fahrenheit it would be {read_as_f:.1} °C: write `{value}F` or `{read_as_f:.1}`; \
             write `{value}C` if it is meant"
        )
    } else {
        format!("write `{value}C` if it is meant")
    }
}

pub(super) fn decimal_comma(number: &str) -> Option<String> {
    let dotted = number.replace(',', ".");
    (dotted != number && super::fields::number_in(&dotted).is_some())
        .then(|| format!("write a decimal point: `{dotted}`"))
}

enum Unit {
    None,
    Celsius,
    Fahrenheit,
    Kelvin,
}

fn split(text: &str) -> (&str, Unit) {
    let text = text.trim();
    for (letters, unit) in [
        (['C', 'c'], Unit::Celsius),
        (['F', 'f'], Unit::Fahrenheit),
        (['K', 'k'], Unit::Kelvin),
    ] {
        if let Some(rest) = text.strip_suffix(letters) {
            let rest = rest.trim_end();
            let rest = rest
                .strip_suffix('°')
                .or_else(|| rest.strip_suffix("deg"))
                .unwrap_or(rest);
            return (rest.trim_end(), unit);
        }
    }
    (text, Unit::None)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn degrees(text: &str) -> f64 {
        read(text, "peak_c", (40.0, 380.0))
            .unwrap()
            .celsius
            .degrees()
    }

    #[test]
    fn what_is_typed_beside_a_command_is_read_or_refused_with_a_reason() {
        let celsius = |text| typed_celsius(text, false);
        assert_eq!(celsius("302F"), Ok(Celsius::whole(150)));
        assert_eq!(celsius("150c"), Ok(Celsius::whole(150)));
        assert_eq!(celsius("390"), Ok(Celsius::whole(390)));
        assert_eq!(typed_celsius("302", true), Ok(Celsius::whole(150)));
        assert_eq!(typed_celsius(" -40 ", true), Ok(Celsius::whole(-40)));
        assert_eq!(typed_celsius("150 C", true), Ok(Celsius::whole(150)));
        for (text, why) in [
            (
                "snbi 1mg",
                "`snbi 1mg` is not a temperature: want a number of °C",
            ),
            ("95,3", "write a decimal point: `95.3`"),
            ("-300", "out of all bounds: want -80 to 1500 °C"),
            ("NaN", "is not a temperature"),
        ] {
            let said = celsius(text).unwrap_err();
            assert!(said.contains(why), "{said}");
        }
    }

    #[test]
    fn units_beside_the_number_are_converted() {
        for (text, want) in [
            ("220", 220.0),
            ("220 C", 220.0),
            ("220°C", 220.0),
            ("428F", 220.0),
            ("428 °F", 220.0),
            ("428 degF", 220.0),
            ("493.15 K", 220.0),
            ("2.2e2", 220.0),
        ] {
            approx::assert_abs_diff_eq!(degrees(text), want, epsilon = 0.001);
        }
    }

    /// 428 °F = 220.0 °C.
    #[test]
    fn a_bare_number_that_looks_like_fahrenheit_is_asked_about() {
        let asked = read("428", "peak_c", (40.0, 380.0)).unwrap_err();
        assert!(asked.help.unwrap().contains("220.0 °C"));
        approx::assert_abs_diff_eq!(degrees("428C"), 428.0);
    }

    #[test]
    fn what_is_no_temperature_is_refused() {
        for text in [
            "hot", "", "F", "nan", "inf", "-300", "1e9", "1_000", "0x80", "12 34", "9999F",
        ] {
            assert!(read(text, "peak_c", (40.0, 380.0)).is_err(), "{text}");
        }
        let comma = read("220,5", "peak_c", (40.0, 380.0)).unwrap_err();
        assert_eq!(
            comma.help.as_deref(),
            Some("write a decimal point: `220.5`")
        );
    }
}
