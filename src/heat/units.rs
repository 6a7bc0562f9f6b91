//! Quantities that only heat needs: film coefficients, times, air flows, contact resistances,
//! factors and points of a board. Each refuses what cannot be one.

use serde::Serialize;

use crate::quantity::{Length, NotAQuantity};

/// A positive quantity of heat: one number, its unit, and the range in which it makes sense.
macro_rules! quantity {
    ($(#[$doc:meta])* $name:ident, $from:ident, $get:ident, $low:expr, $high:expr, $what:literal, $want:literal) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, PartialOrd, Serialize)]
        pub struct $name(f64);

        impl $name {
            /// # Errors
            /// [`NotAQuantity`] outside the range in which it makes sense.
            pub fn $from(value: f64) -> Result<Self, NotAQuantity> {
                if ($low..=$high).contains(&value) {
                    Ok($name(value))
                } else {
                    Err(NotAQuantity { found: value, what: $what, want: $want })
                }
            }

            /// The number in that unit.
            pub const fn $get(self) -> f64 {
                self.0
            }
        }
    };
}

quantity!(
    /// A film coefficient, W/m²K: heat that crosses a square metre of surface for each kelvin
    /// between the surface and the gas (or tip, or plate) that it faces.
    FilmCoefficient, from_w_m2k, w_m2k, 0.0, 1.0e7, "a film coefficient", "0 to 10 000 000 W/m²K"
);
quantity!(
    /// A duration, in seconds; up to one day.
    Seconds, from_s, s, 0.0, 86_400.0, "a duration", "0 to 86 400 s"
);
quantity!(
    /// Air through a nozzle, litres a minute metered at 25 °C.
    AirFlow, from_l_min, l_min, 0.1, 1000.0, "an air flow", "0.1 to 1000 L/min"
);
quantity!(
    /// A contact between tip and joint, in kelvin per watt.
    ContactResistance, from_k_w, k_w, 0.01, 10_000.0, "a contact resistance", "0.01 to 10 000 K/W"
);
quantity!(
    /// A heat capacity of a whole body, in joules per kelvin.
    HeatCapacity, from_j_k, j_k, 0.0, 10_000.0, "a heat capacity", "0 to 10 000 J/K"
);
quantity!(
    /// A positive number that scales another, near one.
    Factor, new, value, 0.02, 50.0, "a factor", "0.02 to 50"
);

impl Factor {
    /// Leaves the other number as it is.
    pub const ONE: Factor = Factor(1.0);

    /// `e^x` cut to the allowed range: factors are fitted by their logarithm.
    pub(crate) fn from_log(log: f64) -> Self {
        Factor(log.exp().clamp(0.02, 50.0))
    }
}

/// A point of the board, from its lower left corner.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Point {
    /// To the right of the left edge.
    pub x: Length,
    /// Above the lower edge.
    pub y: Length,
}

impl Point {
    /// # Errors
    /// [`NotAQuantity`] if a coordinate is negative or no length.
    pub fn from_mm(x_mm: f64, y_mm: f64) -> Result<Self, NotAQuantity> {
        Ok(Point {
            x: Length::from_mm(x_mm)?,
            y: Length::from_mm(y_mm)?,
        })
    }

    pub(crate) fn metres(self) -> (f64, f64) {
        (self.x.mm() / 1000.0, self.y.mm() / 1000.0)
    }
}

/// A rectangle of the board.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Rect {
    /// Its corner nearest the board's lower left corner.
    pub from: Point,
    /// The corner across.
    pub to: Point,
}

impl Rect {
    /// The rectangle between two opposite corners, given in either order.
    pub fn between(a: Point, b: Point) -> Self {
        let least = |p: Length, q: Length| if p.mm() <= q.mm() { p } else { q };
        let most = |p: Length, q: Length| if p.mm() <= q.mm() { q } else { p };
        Rect {
            from: Point {
                x: least(a.x, b.x),
                y: least(a.y, b.y),
            },
            to: Point {
                x: most(a.x, b.x),
                y: most(a.y, b.y),
            },
        }
    }

    /// Whether a point (metres) lies inside or on its rim.
    pub(crate) fn holds(self, (x, y): (f64, f64)) -> bool {
        let (left, low) = self.from.metres();
        let (right, high) = self.to.metres();
        (left..=right).contains(&x) && (low..=high).contains(&y)
    }

    /// In m².
    pub(crate) fn area_m2(self) -> f64 {
        let (x0, y0) = self.from.metres();
        let (x1, y1) = self.to.metres();
        (x1 - x0) * (y1 - y0)
    }

    /// The share of the cell `[x0, x1] × [y0, y1]` (metres) that lies inside.
    pub(crate) fn share_of(self, x: (f64, f64), y: (f64, f64)) -> f64 {
        let (left, low) = self.from.metres();
        let (right, high) = self.to.metres();
        let wide = (x.1.min(right) - x.0.max(left)).max(0.0);
        let tall = (y.1.min(high) - y.0.max(low)).max(0.0);
        (wide * tall) / ((x.1 - x.0) * (y.1 - y.0))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_makes_no_sense_is_refused_with_the_range() {
        assert!(FilmCoefficient::from_w_m2k(-1.0).is_err());
        assert!(Seconds::from_s(f64::NAN).is_err());
        assert!(Factor::new(0.0).is_err());
        let said = AirFlow::from_l_min(5000.0).unwrap_err().to_string();
        assert_eq!(said, "5000 is not an air flow: want 0.1 to 1000 L/min");
    }

    #[test]
    fn corners_in_either_order_make_the_same_rectangle() {
        let a = Point::from_mm(1.0, 8.0).unwrap();
        let b = Point::from_mm(5.0, 2.0).unwrap();
        assert_eq!(Rect::between(a, b), Rect::between(b, a));
        assert!((Rect::between(a, b).area_m2() - 24e-6).abs() < 1e-12);
    }
}
