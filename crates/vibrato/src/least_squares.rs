//! Fits by least squares, gathered value by value.

/// A fit of `N` unknowns.
#[derive(Clone, Debug)]
pub struct LeastSquares<const N: usize> {
    /// Upper triangle of the normal equations; what is added to its diagonal beforehand keeps an unknown near 0.
    pub(crate) normal: [[f64; N]; N],
    sums: [f64; N],
    squares: f64,
    count: usize,
}

/// What was found.
#[derive(Clone, Copy, Debug)]
pub struct Solved<const N: usize> {
    /// The unknowns.
    pub values: [f64; N],
    /// The diagonal of the inverse of the normal equations: a variance of the values times these are the variances of the
    /// unknowns.
    pub inverse: [f64; N],
    /// The squares that are left.
    pub left: f64,
}

impl<const N: usize> LeastSquares<N> {
    /// Nothing is known yet.
    pub(crate) fn new() -> Self {
        Self::pulled([0.0; N])
    }

    /// The same; each unknown is pulled to 0 as if by so many values.
    pub fn pulled(pull: [f64; N]) -> Self {
        let mut normal = [[0.0; N]; N];
        (0..N).for_each(|i| normal[i][i] = pull[i]);
        Self { normal, sums: [0.0; N], squares: 0.0, count: 0 }
    }

    /// Takes in a value `y` that is made of the unknowns, each times its number in `row`.
    pub fn add(&mut self, row: &[f64; N], y: f64) {
        for a in 0..N {
            self.sums[a] += row[a] * y;
            for b in a..N {
                self.normal[a][b] += row[a] * row[b];
            }
        }
        self.squares += y * y;
        self.count += 1;
    }

    /// How many values were taken in.
    pub fn count(&self) -> usize {
        self.count
    }

    /// The first `size` unknowns, and how much of the squares of all values they explain; `None` if there are too few.
    pub(crate) fn solve(&self, size: usize) -> Option<([f64; N], f64)> {
        let found = solve_normal(self.normal, self.sums, size)?;
        Some((found, (0..size).map(|i| found[i] * self.sums[i]).sum()))
    }

    /// All unknowns, how well they are known, and what is left; `None` where the values do not tell them.
    pub fn solved(&self) -> Option<Solved<N>> {
        let (values, explained) = self.solve(N)?;
        let mut inverse = [0.0; N];
        for (i, diagonal) in inverse.iter_mut().enumerate() {
            let mut unit = [0.0; N];
            unit[i] = 1.0;
            *diagonal = solve_normal(self.normal, unit, N)?[i];
        }
        Some(Solved { values, inverse, left: (self.squares - explained).max(0.0) })
    }
}

/// Solves the first `size` rows of the symmetric system whose upper triangle is given, by
/// Cholesky; `None` if it is singular.
pub(crate) fn solve_normal<const N: usize>(
    upper: [[f64; N]; N],
    right: [f64; N],
    size: usize,
) -> Option<[f64; N]> {
    let mut low = [[0.0; N]; N];
    for i in 0..size {
        for j in 0..=i {
            let dot: f64 = (0..j).map(|k| low[i][k] * low[j][k]).sum();
            let rest = upper[j][i] - dot;
            low[i][j] = if i == j {
                if rest <= 1e-12 {
                    return None;
                }
                rest.sqrt()
            } else {
                rest / low[j][j]
            };
        }
    }
    let mut x = [0.0; N];
    for i in 0..size {
        let dot: f64 = (0..i).map(|k| low[i][k] * x[k]).sum();
        x[i] = (right[i] - dot) / low[i][i];
    }
    for i in (0..size).rev() {
        let dot: f64 = (i + 1..size).map(|k| low[k][i] * x[k]).sum();
        x[i] = (x[i] - dot) / low[i][i];
    }
    Some(x)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_is_found_with_what_it_leaves_and_how_well_it_is_known() {
        let mut line = LeastSquares::<2>::pulled([0.0; 2]);
        for (x, y) in [(0.0, 1.0), (1.0, 3.5), (2.0, 4.5), (3.0, 7.0)] {
            line.add(&[1.0, x], y);
        }
        // By hand: slope 1.9, start 1.15, left 2 · 0.15² + 2 · 0.45²; inverse of [[4, 6], [6, 14]].
        let solved = line.solved().expect("two unknowns of four rows");
        assert!((solved.values[0] - 1.15).abs() < 1e-9 && (solved.values[1] - 1.9).abs() < 1e-9);
        assert!((solved.left - 0.45).abs() < 1e-9, "{}", solved.left);
        assert!((solved.inverse[0] - 0.7).abs() < 1e-9 && (solved.inverse[1] - 0.2).abs() < 1e-9);
    }

    #[test]
    fn what_the_rows_do_not_tell_is_not_told() {
        let mut line = LeastSquares::<2>::pulled([0.0; 2]);
        line.add(&[1.0, 2.0], 1.0);
        assert!(line.solved().is_none());
    }
}
