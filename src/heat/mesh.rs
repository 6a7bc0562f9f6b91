//! Cells of a plate: fine under the tool, coarser away from it, each halved once more for the
//! answer, so that the same mesh before halving tells how far the answer depends on it.

/// Lines of a rectangular mesh, m.
#[derive(Clone, Debug, PartialEq)]
pub struct Mesh {
    x_m: Vec<f64>,
    y_m: Vec<f64>,
}

/// How fast cells grow from one to the next.
const GROWTH: f64 = 1.3;

impl Mesh {
    /// `nx` by `ny` equal cells, at least one each way.
    pub fn even(wide_m: f64, tall_m: f64, nx: usize, ny: usize) -> Self {
        let lines = |length: f64, count: usize| {
            let count = count.max(1);
            (0..=count)
                .map(|i| length * i as f64 / count as f64)
                .collect()
        };
        Mesh {
            x_m: lines(wide_m, nx),
            y_m: lines(tall_m, ny),
        }
    }

    /// Cells of `fine_m` within `core_m` of the point, growing to `coarse_m` beyond.
    pub fn graded(
        (wide_m, tall_m): (f64, f64),
        (x_m, y_m): (f64, f64),
        core_m: f64,
        fine_m: f64,
        coarse_m: f64,
    ) -> Self {
        Mesh {
            x_m: graded_lines(wide_m, x_m, core_m, fine_m, coarse_m),
            y_m: graded_lines(tall_m, y_m, core_m, fine_m, coarse_m),
        }
    }

    /// Every cell cut in four.
    pub fn halved(&self) -> Self {
        Mesh {
            x_m: halved_lines(&self.x_m),
            y_m: halved_lines(&self.y_m),
        }
    }

    /// Cells along x and y.
    pub fn counts(&self) -> (usize, usize) {
        (self.x_m.len() - 1, self.y_m.len() - 1)
    }

    pub(crate) fn columns(&self) -> impl Iterator<Item = (f64, f64)> + '_ {
        self.x_m.windows(2).map(|pair| (pair[0], pair[1]))
    }

    pub(crate) fn rows(&self) -> impl Iterator<Item = (f64, f64)> + '_ {
        self.y_m.windows(2).map(|pair| (pair[0], pair[1]))
    }
}

fn graded_lines(length: f64, centre: f64, core: f64, fine: f64, coarse: f64) -> Vec<f64> {
    let left = steps(centre, core, fine, coarse);
    let right = steps(length - centre, core, fine, coarse);
    let mut lines = vec![0.0];
    let mut at = 0.0;
    for step in left.iter().rev().chain(&right) {
        at += step;
        lines.push(at);
    }
    if let Some(last) = lines.last_mut() {
        *last = length;
    }
    lines
}

/// Growing steps from the centre outward which fill `length` exactly.
fn steps(length: f64, core: f64, fine: f64, coarse: f64) -> Vec<f64> {
    if length < 1e-9 {
        return Vec::new();
    }
    let mut steps = Vec::new();
    let (mut sum, mut step) = (0.0, fine);
    while sum < length {
        steps.push(step);
        sum += step;
        if sum >= core {
            step = (step * GROWTH).min(coarse);
        }
    }
    for step in &mut steps {
        *step *= length / sum;
    }
    steps
}

fn halved_lines(lines: &[f64]) -> Vec<f64> {
    let mut halved = Vec::with_capacity(2 * lines.len());
    for pair in lines.windows(2) {
        halved.push(pair[0]);
        halved.push(f64::midpoint(pair[0], pair[1]));
    }
    halved.extend(lines.last());
    halved
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_rise_and_fill_the_board() {
        for centre in [0.0, 0.0001, 0.03, 0.08] {
            let mesh = Mesh::graded((0.08, 0.06), (centre, 0.02), 0.002, 0.0005, 0.004).halved();
            let widths: Vec<f64> = mesh.columns().map(|(a, b)| b - a).collect();
            assert!(widths.iter().all(|w| *w > 0.0));
            assert!((widths.iter().sum::<f64>() - 0.08).abs() < 1e-12);
        }
    }
}
