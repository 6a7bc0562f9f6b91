//! Gibbs energies as functions of temperature, in J per mole of atoms.

/// Terms of an SGTE polynomial: `1, T, T·ln T, T², T³, T⁻¹, T⁷, T⁻⁹`.
pub(super) const TERMS: usize = 8;

/// The terms at one temperature, and their derivatives to T.
#[derive(Clone, Debug)]
pub(super) struct Powers {
    value: [f64; TERMS],
    slope: [f64; TERMS],
    /// Decides which piece of a function holds.
    piece_k: f64,
}

impl Powers {
    pub(super) fn at(t_k: f64) -> Self {
        Powers::with_pieces_of(t_k, t_k)
    }

    /// The terms at one temperature, for the pieces that hold at another: what Newton's method needs
    /// close to a break, where the functions are continuous to 10⁻³ J/mol only.
    pub(super) fn with_pieces_of(t_k: f64, piece_k: f64) -> Self {
        let (t, ln, inverse) = (t_k, t_k.ln(), 1.0 / t_k);
        let (t2, inverse3) = (t * t, inverse * inverse * inverse);
        let (t6, inverse9) = (t2 * t2 * t2, inverse3 * inverse3 * inverse3);
        Powers {
            value: [1.0, t, t * ln, t2, t2 * t, inverse, t6 * t, inverse9],
            slope: [
                0.0,
                1.0,
                ln + 1.0,
                2.0 * t,
                3.0 * t2,
                -inverse * inverse,
                7.0 * t6,
                -9.0 * inverse9 * inverse,
            ],
            piece_k,
        }
    }

    /// Value and slope of a polynomial.
    pub(super) fn poly(&self, c: &[f64; TERMS]) -> (f64, f64) {
        let mut sum = (0.0, 0.0);
        for ((c, v), s) in c.iter().zip(&self.value).zip(&self.slope) {
            sum.0 += c * v;
            sum.1 += c * s;
        }
        sum
    }

    /// Value and slope of a polynomial of the first three terms: all that interactions use.
    pub(super) fn short(&self, c: [f64; 3]) -> (f64, f64) {
        (
            c[0] + c[1] * self.value[1] + c[2] * self.value[2],
            c[1] + c[2] * self.slope[2],
        )
    }
}

/// A Gibbs energy given piecewise. Below the first piece the first holds, above the last the last.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Gibbs {
    /// Lower end of each piece in K, ascending, and its coefficients.
    pieces: Vec<(f64, [f64; TERMS])>,
}

impl Gibbs {
    pub(super) fn from_pieces(pieces: Vec<(f64, [f64; TERMS])>) -> Self {
        Gibbs { pieces }
    }

    /// `self + factor · other`, with the breaks of both.
    pub(super) fn plus(&self, factor: f64, other: &Gibbs) -> Self {
        if self.pieces.is_empty() {
            return Gibbs::from_pieces(vec![(0.0, [0.0; TERMS])]).plus(factor, other);
        }
        let mut breaks: Vec<f64> = (self.pieces.iter().chain(&other.pieces))
            .map(|piece| piece.0)
            .collect();
        breaks.sort_by(f64::total_cmp);
        breaks.dedup();
        let pieces = breaks.into_iter().map(|from_k| {
            let (mut sum, add) = (*self.piece(from_k), other.piece(from_k));
            for (s, a) in sum.iter_mut().zip(add) {
                *s += factor * a;
            }
            (from_k, sum)
        });
        Gibbs::from_pieces(pieces.collect())
    }

    fn piece(&self, t_k: f64) -> &[f64; TERMS] {
        const NOTHING: [f64; TERMS] = [0.0; TERMS];
        let above = self.pieces.iter().rev().find(|piece| piece.0 <= t_k);
        above
            .or_else(|| self.pieces.first())
            .map_or(&NOTHING, |piece| &piece.1)
    }

    /// G and dG/dT.
    pub(super) fn at(&self, powers: &Powers) -> (f64, f64) {
        powers.poly(self.piece(powers.piece_k))
    }
}
