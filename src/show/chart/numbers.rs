//! Temperatures and differences as a picture writes them.

use super::Scale;
use crate::quantity::{Celsius, KelvinStep};

impl Scale {
    /// The unit of a temperature.
    pub(super) const fn unit(self) -> &'static str {
        match self {
            Scale::Celsius => "°C",
            Scale::Fahrenheit => "°F",
        }
    }

    /// The unit of a difference.
    pub(super) const fn step_unit(self) -> &'static str {
        match self {
            Scale::Celsius => "K",
            Scale::Fahrenheit => "°F",
        }
    }

    /// The number of a temperature, to a tenth.
    pub(super) fn number(self, at: Celsius) -> String {
        let value = match self {
            Scale::Celsius => at.degrees(),
            Scale::Fahrenheit => at.fahrenheit(),
        };
        short((value * 10.0).round() / 10.0)
    }

    /// A temperature with its unit.
    pub(super) fn temperature(self, at: Celsius) -> String {
        format!("{} {}", self.number(at), self.unit())
    }

    /// From–to, or one number where both are the same.
    pub(super) fn range(self, from: Celsius, to: Celsius) -> String {
        let (low, high) = (self.number(from), self.number(to));
        if low == high {
            low
        } else {
            format!("{low}–{high}")
        }
    }

    /// The number of a margin, always rounded down: what is printed is really left. Tenths are
    /// kept below a hundred.
    pub(super) fn margin(self, margin: KelvinStep) -> String {
        let value = match self {
            Scale::Celsius => margin.kelvin(),
            Scale::Fahrenheit => margin.kelvin() * 1.8,
        };
        let places = if value.abs() < 100.0 { 10.0 } else { 1.0 };
        // Less than a hundred-thousandth is noise of the conversion, not a margin.
        short((value * places + 1e-5).floor() / places).replace('-', "−")
    }

    /// The number of a margin in whole degrees, rounded down, for where room is short.
    pub(super) fn whole_margin(self, margin: KelvinStep) -> String {
        let value = match self {
            Scale::Celsius => margin.kelvin(),
            Scale::Fahrenheit => margin.kelvin() * 1.8,
        };
        short((value + 1e-5).floor()).replace('-', "−")
    }

    /// Ticks of an axis, not more than 20: the place in degrees Celsius, and what is written beside it.
    pub(super) fn ticks(self, low: f64, high: f64) -> Vec<(f64, String)> {
        self.ticks_every(low, high, 20.0)
    }

    /// Ticks of an axis that has room for so many.
    pub(super) fn ticks_every(self, low: f64, high: f64, most: f64) -> Vec<(f64, String)> {
        let (least, to_axis): (f64, fn(f64) -> f64) = match self {
            Scale::Celsius => (25.0, |at| at),
            Scale::Fahrenheit => (50.0, |at| at * 1.8 + 32.0),
        };
        let span = to_axis(high) - to_axis(low);
        let step = [1.0, 2.0, 4.0, 10.0, 20.0, 40.0, 100.0]
            .map(|times| least * times)
            .into_iter()
            .find(|step| span / step <= most)
            .unwrap_or(span);
        let mut tick = (to_axis(low) / step - 1e-9).ceil() * step;
        let mut ticks = Vec::new();
        while tick <= to_axis(high) + 1e-9 {
            let at = match self {
                Scale::Celsius => tick,
                Scale::Fahrenheit => (tick - 32.0) / 1.8,
            };
            ticks.push((at, short(tick).replace('-', "−")));
            tick += step;
        }
        ticks
    }
}

/// A number without a tail of zeros.
pub(super) fn short(value: f64) -> String {
    let value = (value * 100.0).round() / 100.0;
    // No "-0".
    format!("{}", value + 0.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_margin_is_never_rounded_up() {
        for (kelvin, shown) in [
            (2.758, "2.7"),
            (18.0, "18"),
            (86.59, "86.5"),
            (-0.004, "−0.1"),
            (-16.0, "−16"),
        ] {
            let step = KelvinStep::new(kelvin).expect("a step");
            assert_eq!(Scale::Celsius.margin(step), shown);
        }
        assert_eq!(Scale::Fahrenheit.margin(KelvinStep::whole(5)), "9");
    }

    #[test]
    fn temperatures_are_written_shortly() {
        assert_eq!(Scale::Celsius.number(Celsius::nearest(95.3)), "95.3");
        assert_eq!(Scale::Celsius.temperature(Celsius::whole(183)), "183 °C");
        assert_eq!(Scale::Fahrenheit.temperature(Celsius::whole(100)), "212 °F");
        assert_eq!(
            Scale::Celsius.range(Celsius::whole(217), Celsius::whole(220)),
            "217–220"
        );
        assert_eq!(
            Scale::Celsius.range(Celsius::whole(138), Celsius::whole(138)),
            "138"
        );
    }

    #[test]
    fn ticks_are_round_in_the_scale_that_is_shown() {
        let celsius: Vec<String> = Scale::Celsius
            .ticks(25.0, 110.0)
            .into_iter()
            .map(|tick| tick.1)
            .collect();
        assert_eq!(celsius, ["25", "50", "75", "100"]);
        let fahrenheit = Scale::Fahrenheit.ticks(25.0, 110.0);
        assert_eq!(
            fahrenheit
                .iter()
                .map(|tick| tick.1.as_str())
                .collect::<Vec<_>>(),
            ["100", "150", "200"]
        );
        assert!((fahrenheit[2].0 - 93.333).abs() < 0.01);
    }
}
