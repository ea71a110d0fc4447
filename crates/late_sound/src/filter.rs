//! Filters without delay, and values between samples.

use std::f64::consts::{PI, SQRT_2};
use std::ops::{Add, Mul, Sub};

/// What can be filtered: real and complex values.
pub(crate) trait Signal:
    Copy + Add<Output = Self> + Sub<Output = Self> + Mul<f64, Output = Self>
{
}
impl<T: Copy + Add<Output = T> + Sub<Output = T> + Mul<f64, Output = T>> Signal for T {}

/// Gain of [`low_pass`] at a frequency of `ratio` times its cut-off: 1 / (1 + ratio⁴).
pub(crate) fn low_pass_gain(ratio: f64) -> f64 {
    1.0 / (1.0 + ratio.powi(4))
}

/// A Butterworth low-pass of second order, run forwards and backwards. `cut` is its cut-off as a share of the sampling
/// rate; the ends are continued by `reach` samples, turned about the first and the last value.
pub(crate) fn low_pass<T: Signal>(values: &[T], cut: f64, reach: usize) -> Vec<T> {
    let (Some(&first), Some(&last)) = (values.first(), values.last()) else {
        return Vec::new();
    };
    let biquad = Biquad::low_pass(cut.min(0.45));
    let reach = reach.min(values.len() - 1);
    let mut long = Vec::with_capacity(values.len() + 2 * reach);
    long.extend(values[1..=reach].iter().rev().map(|&value| first * 2.0 - value));
    long.extend_from_slice(values);
    let behind = &values[values.len() - 1 - reach..values.len() - 1];
    long.extend(behind.iter().rev().map(|&value| last * 2.0 - value));
    for _ in 0..2 {
        biquad.run(&mut long);
        long.reverse();
    }
    long.drain(..reach);
    long.truncate(values.len());
    long
}

struct Biquad {
    b: [f64; 3],
    a: [f64; 2],
}

impl Biquad {
    fn low_pass(cut: f64) -> Self {
        let k = (PI * cut).tan();
        let norm = 1.0 / (1.0 + SQRT_2 * k + k * k);
        let b = k * k * norm;
        Self {
            b: [b, 2.0 * b, b],
            a: [2.0 * (k * k - 1.0) * norm, (1.0 - SQRT_2 * k + k * k) * norm],
        }
    }

    /// Filters in place, as if the first value had stood there for ever.
    fn run<T: Signal>(&self, values: &mut [T]) {
        let (b, a) = (self.b, self.a);
        let at_rest = (b[1] - a[0] * b[0] + b[2] - a[1] * b[0]) / (1.0 + a[0] + a[1]);
        let first = values[0];
        let (mut one, mut two) =
            (first * at_rest, first * ((1.0 + a[0]) * at_rest - (b[1] - a[0] * b[0])));
        for value in values {
            let out = *value * b[0] + one;
            one = *value * b[1] - out * a[0] + two;
            two = *value * b[2] - out * a[1];
            *value = out;
        }
    }
}

/// A linear-phase low-pass of `taps` (odd) weights that sum to 1: a sine cardinal under a Kaiser window of shape 5;
/// `cut` is its cut-off as a share of the sampling rate.
pub(crate) fn kaiser_low_pass(taps: usize, cut: f64) -> Vec<f64> {
    const SHAPE: f64 = 5.0;
    let middle = (taps / 2) as f64;
    let weight = |i: usize| {
        let x = i as f64 - middle;
        let sinc = if x == 0.0 { 2.0 * cut } else { (2.0 * PI * cut * x).sin() / (PI * x) };
        let r = x / middle.max(1.0);
        sinc * bessel_i0(SHAPE * (1.0 - r * r).max(0.0).sqrt())
    };
    let mut weights: Vec<f64> = (0..taps).map(weight).collect();
    let sum: f64 = weights.iter().sum();
    weights.iter_mut().for_each(|weight| *weight /= sum);
    weights
}

/// The modified Bessel function of the first kind and order 0, by its power series.
fn bessel_i0(x: f64) -> f64 {
    let (mut sum, mut term) = (1.0, 1.0);
    for n in 1..40 {
        term *= (x / (2.0 * f64::from(n))).powi(2);
        sum += term;
    }
    sum
}

/// The value at the fractional index `at`; beyond the ends that of the end.
pub(crate) fn between(values: &[f64], at: f64) -> f64 {
    let last = values.len() - 1;
    if at <= 0.0 {
        return values[0];
    }
    if at >= last as f64 {
        return values[last];
    }
    let i = at as usize;
    values[i] + (at - i as f64) * (values[i + 1] - values[i])
}

/// Running integral by trapezia of `step` width, 0 at the first value.
pub(crate) fn integral(values: &[f64], step: f64) -> Vec<f64> {
    let mut sum = 0.0;
    let rest = values.windows(2).map(|pair| {
        sum += 0.5 * (pair[0] + pair[1]) * step;
        sum
    });
    std::iter::once(0.0).chain(rest).collect()
}

/// Mean of the squares.
pub(crate) fn power(values: impl ExactSizeIterator<Item = f64>) -> f64 {
    let count = values.len().max(1) as f64;
    values.map(|value| value * value).sum::<f64>() / count
}
