//! The gains of the copies of the sound that a room adds, and how likely they make what was heard.

use num_complex::Complex64;
use std::ops::Range;

/// Normal equations of the gains, scaled by what is expected of each: `a` = S MᴴM S + η I (its upper half, row by row)
/// and `b` = S Mᴴy.
pub(crate) struct Gains {
    pub(crate) count: usize,
    pub(crate) a: Vec<Complex64>,
    pub(crate) b: Vec<Complex64>,
}

impl Gains {
    pub(crate) fn new(count: usize) -> Self {
        let zero = Complex64::ZERO;
        Self { count, a: vec![zero; count * count], b: vec![zero; count] }
    }

    /// Of the columns `m` (row by row, `count` in a row) against `y`. Single precision is enough beside the noise that is
    /// added, and twice as fast.
    pub(crate) fn of(m: &[Complex64], y: &[Complex64], count: usize) -> Self {
        let mut gains = Self::new(count);
        let mut sums = Split::zeros(count * count);
        for (row, y) in m.chunks_exact(count).zip(y) {
            let split = Split::of(row);
            for (l, column) in row.iter().enumerate() {
                gains.b[l] += column.conj() * y;
                sums.add(l * count + l, &split, l..count, *column);
            }
        }
        gains.a.iter_mut().enumerate().for_each(|(i, a)| *a = sums.at(i));
        gains
    }

    /// Scales by the deviations expected of each gain and adds the noise.
    pub(crate) fn weigh(&mut self, deviations: &[f64], noise: f64) {
        for l in 0..self.count {
            for m in l..self.count {
                self.a[l * self.count + m] *= deviations[l] * deviations[m];
            }
            let own = &mut self.a[l * self.count + l];
            *own = Complex64::new(own.re + noise, 0.0);
            self.b[l] *= deviations[l];
        }
    }

    /// Cholesky's decomposition in place and the forward substitution: `ln det A` and bᴴA⁻¹b.
    pub(crate) fn reduce(&mut self) -> (f64, f64) {
        let n = self.count;
        let (mut log_det, mut explained) = (0.0, 0.0);
        for i in 0..n {
            let pivot = self.a[i * n + i].re.max(1e-12);
            log_det += pivot.ln();
            let scale = 1.0 / pivot.sqrt();
            self.a[i * n + i..(i + 1) * n].iter_mut().for_each(|value| *value *= scale);
            self.b[i] *= scale;
            explained += self.b[i].norm_sqr();
            let (above, below) = self.a.split_at_mut((i + 1) * n);
            let row = &above[i * n..];
            for p in i + 1..n {
                let c = row[p].conj();
                let start = (p - i - 1) * n;
                for (value, top) in below[start + p..start + n].iter_mut().zip(&row[p..]) {
                    *value -= c * top;
                }
                let known = c * self.b[i];
                self.b[p] -= known;
            }
        }
        (log_det, explained)
    }

    /// The gains themselves, in units of what is expected of each.
    pub(crate) fn solve(mut self) -> Vec<Complex64> {
        self.reduce();
        let n = self.count;
        for i in (0..n).rev() {
            let known: Complex64 = (i + 1..n).map(|j| self.a[i * n + j] * self.b[j]).sum();
            self.b[i] = (self.b[i] - known) / self.a[i * n + i].re;
        }
        self.b
    }
}

/// Complex values with their parts in two rows, on which a processor works several at a time.
pub(crate) struct Split {
    re: Vec<f32>,
    im: Vec<f32>,
}

impl Split {
    pub(crate) fn zeros(count: usize) -> Self {
        Self { re: vec![0.0; count], im: vec![0.0; count] }
    }

    pub(crate) fn of(values: &[Complex64]) -> Self {
        let (re, im) = values.iter().map(|value| (value.re as f32, value.im as f32)).unzip();
        Self { re, im }
    }

    pub(crate) fn at(&self, i: usize) -> Complex64 {
        Complex64::new(self.re[i].into(), self.im[i].into())
    }

    /// Adds those `values` times the conjugate of `by`, from place `to` on.
    pub(crate) fn add(&mut self, to: usize, values: &Self, those: Range<usize>, by: Complex64) {
        let (x, y) = (by.re as f32, by.im as f32);
        let (re, im) = (&mut self.re[to..], &mut self.im[to..]);
        let values = values.re[those.clone()].iter().zip(&values.im[those]);
        for ((re, im), (a, b)) in re.iter_mut().zip(im).zip(values) {
            *re += x * a + y * b;
            *im += x * b - y * a;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn gains_that_made_a_sound_are_found_in_it() {
        let column =
            |n: usize, l: usize| Complex64::cis((n * n) as f64 * 0.01 + (n * l) as f64 * 0.37);
        let truth =
            [Complex64::new(1.0, 0.2), Complex64::new(-0.3, 0.4), Complex64::new(0.1, -0.2)];
        let m: Vec<Complex64> = (0..80).flat_map(|n| (0..3).map(move |l| column(n, l))).collect();
        let y: Vec<Complex64> =
            m.chunks_exact(3).map(|row| row.iter().zip(truth).map(|(m, g)| m * g).sum()).collect();
        let mut gains = Gains::of(&m, &y, 3);
        gains.weigh(&[1.0, 1.0, 1.0], 1e-9);
        for (found, truth) in gains.solve().iter().zip(truth) {
            assert!((found - truth).norm() < 1e-6, "{found} for {truth}");
        }
    }
}
