//! Small dense systems of linear equations.

/// Solves `a · x = b` in place by elimination with partial pivoting; `a` is n × n by rows and is
/// destroyed, `b` becomes x. `None` if it is singular to working accuracy.
pub(super) fn solve(a: &mut [f64], b: &mut [f64]) -> Option<()> {
    // A size known beforehand is twice as fast: as many as there are balances, planes and a condition.
    macro_rules! by_size {
        ($($n:literal)*) => {
            match b.len() {
                0 => Some(()),
                $($n => sized::<$n>(a, b),)*
                _ => None,
            }
        };
    }
    by_size!(1 2 3 4 5 6 7 8 9 10 11 12 13 14 15 16 17 18 19 20)
}

fn sized<const M: usize>(a: &mut [f64], b: &mut [f64]) -> Option<()> {
    let (a, _) = a.as_chunks_mut::<M>();
    let b: &mut [f64; M] = b.try_into().ok()?;
    let a: &mut [[f64; M]; M] = a.try_into().ok()?;
    for column in 0..M {
        let mut pivot = column;
        for row in column + 1..M {
            if a[row][column].abs() > a[pivot][column].abs() {
                pivot = row;
            }
        }
        let head = a[pivot][column];
        if head.abs() <= 1e-300 || head.is_nan() {
            return None;
        }
        a.swap(pivot, column);
        b.swap(pivot, column);
        let (inverse, own) = (1.0 / head, a[column]);
        for row in column + 1..M {
            let factor = a[row][column] * inverse;
            if factor != 0.0 {
                for k in column + 1..M {
                    a[row][k] -= factor * own[k];
                }
                b[row] -= factor * b[column];
            }
        }
    }
    for row in (0..M).rev() {
        let mut sum = b[row];
        for k in row + 1..M {
            sum -= a[row][k] * b[k];
        }
        b[row] = sum / a[row][row];
    }
    b.iter().all(|x| x.is_finite()).then_some(())
}

#[cfg(test)]
mod tests {
    use super::solve;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn what_is_solved_solves(values in prop::collection::vec(-1.0f64..1.0, 30)) {
            let n = 5;
            let a: Vec<f64> = values[..25].to_vec();
            let b: Vec<f64> = values[25..].to_vec();
            let (mut work, mut x) = (a.clone(), b.clone());
            if solve(&mut work, &mut x).is_some() && x.iter().all(|v| v.abs() < 1e4) {
                for row in 0..n {
                    let got: f64 = (0..n).map(|k| a[row * n + k] * x[k]).sum();
                    prop_assert!((got - b[row]).abs() < 1e-8, "row {row}: {got} for {}", b[row]);
                }
            }
        }
    }

    #[test]
    fn a_singular_system_is_refused() {
        assert_eq!(solve(&mut [1.0, 2.0, 2.0, 4.0], &mut [1.0, 1.0]), None);
    }
}
