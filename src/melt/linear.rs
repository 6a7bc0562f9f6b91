//! Small dense systems of linear equations.

/// Solves `a · x = b` in place by elimination with partial pivoting; `a` is n × n with rows `stride`
/// apart and is destroyed, `b` becomes x. `None` if it is singular to working accuracy.
pub(super) fn solve(a: &mut [f64], stride: usize, b: &mut [f64]) -> Option<()> {
    let n = b.len();
    for column in 0..n {
        let mut pivot = column;
        for row in column + 1..n {
            if a[row * stride + column].abs() > a[pivot * stride + column].abs() {
                pivot = row;
            }
        }
        let head = a[pivot * stride + column];
        if head.abs() <= 1e-300 || head.is_nan() {
            return None;
        }
        if pivot != column {
            for k in column..n {
                a.swap(pivot * stride + k, column * stride + k);
            }
            b.swap(pivot, column);
        }
        let inverse = 1.0 / head;
        for row in column + 1..n {
            let factor = a[row * stride + column] * inverse;
            if factor != 0.0 {
                for k in column + 1..n {
                    a[row * stride + k] -= factor * a[column * stride + k];
                }
                b[row] -= factor * b[column];
            }
        }
    }
    for row in (0..n).rev() {
        let mut sum = b[row];
        for k in row + 1..n {
            sum -= a[row * stride + k] * b[k];
        }
        b[row] = sum / a[row * stride + row];
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
            if solve(&mut work, n, &mut x).is_some() && x.iter().all(|v| v.abs() < 1e4) {
                for row in 0..n {
                    let got: f64 = (0..n).map(|k| a[row * n + k] * x[k]).sum();
                    prop_assert!((got - b[row]).abs() < 1e-8, "row {row}: {got} for {}", b[row]);
                }
            }
        }
    }

    #[test]
    fn a_singular_system_is_refused() {
        assert_eq!(solve(&mut [1.0, 2.0, 2.0, 4.0], 2, &mut [1.0, 1.0]), None);
    }
}
