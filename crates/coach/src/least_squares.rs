//! Small sums of least squares, gathered row by row.

/// The normal equations of `N` unknowns.
#[derive(Clone, Debug)]
pub(crate) struct LeastSquares<const N: usize> {
    normal: [[f64; N]; N],
    right: [f64; N],
    squares: f64,
    count: usize,
}

/// What was found.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Solved<const N: usize> {
    /// The unknowns.
    pub(crate) values: [f64; N],
    /// The diagonal of the inverse: a variance of the rows times these are the variances of the unknowns.
    pub(crate) inverse: [f64; N],
    /// Squares that are left.
    pub(crate) left: f64,
}

impl<const N: usize> LeastSquares<N> {
    /// Each unknown is pulled to 0 by so much.
    pub(crate) fn pulled(pull: [f64; N]) -> Self {
        let mut normal = [[0.0; N]; N];
        (0..N).for_each(|i| normal[i][i] = pull[i]);
        Self { normal, right: [0.0; N], squares: 0.0, count: 0 }
    }

    pub(crate) fn add(&mut self, row: [f64; N], value: f64) {
        for i in 0..N {
            self.right[i] += row[i] * value;
            for k in 0..N {
                self.normal[i][k] += row[i] * row[k];
            }
        }
        self.squares += value * value;
        self.count += 1;
    }

    /// How many rows there are.
    pub(crate) fn count(&self) -> usize {
        self.count
    }

    /// The unknowns; `None` where the rows do not tell them.
    pub(crate) fn solve(&self) -> Option<Solved<N>> {
        let mut low = [[0.0; N]; N];
        for i in 0..N {
            for k in 0..=i {
                let dot: f64 = (0..k).map(|m| low[i][m] * low[k][m]).sum();
                let rest = self.normal[i][k] - dot;
                if i == k && rest <= 1e-12 * self.normal[i][i] {
                    return None;
                }
                low[i][k] = if i == k { rest.sqrt() } else { rest / low[k][k] };
            }
        }
        let forward = |right: &[f64; N]| {
            let mut z = [0.0; N];
            for i in 0..N {
                let dot: f64 = (0..i).map(|m| low[i][m] * z[m]).sum();
                z[i] = (right[i] - dot) / low[i][i];
            }
            z
        };
        let z = forward(&self.right);
        let mut values = [0.0; N];
        for i in (0..N).rev() {
            let dot: f64 = (i + 1..N).map(|m| low[m][i] * values[m]).sum();
            values[i] = (z[i] - dot) / low[i][i];
        }
        let unit = |i| std::array::from_fn(|k| f64::from(u8::from(k == i)));
        let inverse = std::array::from_fn(|i| forward(&unit(i)).iter().map(|z: &f64| z * z).sum());
        let explained: f64 = z.iter().map(|z| z * z).sum();
        Some(Solved { values, inverse, left: (self.squares - explained).max(0.0) })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_is_found_with_what_it_leaves_and_how_well_it_is_known() {
        let mut line = LeastSquares::<2>::pulled([0.0; 2]);
        for (x, y) in [(0.0, 1.0), (1.0, 3.5), (2.0, 4.5), (3.0, 7.0)] {
            line.add([1.0, x], y);
        }
        // By hand: slope 1.9, start 1.15, left 2 · 0.15² + 2 · 0.45²; inverse of [[4, 6], [6, 14]].
        let solved = line.solve().expect("two unknowns of four rows");
        assert!((solved.values[0] - 1.15).abs() < 1e-9 && (solved.values[1] - 1.9).abs() < 1e-9);
        assert!((solved.left - 0.45).abs() < 1e-9, "{}", solved.left);
        assert!((solved.inverse[0] - 0.7).abs() < 1e-9 && (solved.inverse[1] - 0.2).abs() < 1e-9);
    }

    #[test]
    fn what_the_rows_do_not_tell_is_not_told() {
        let mut line = LeastSquares::<2>::pulled([0.0; 2]);
        line.add([1.0, 2.0], 1.0);
        assert!(line.solve().is_none());
    }
}
