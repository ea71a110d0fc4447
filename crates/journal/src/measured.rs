//! A number as a take has it: rounded, with its doubt, and within what can be.

/// A value and its standard error; the second is `None` where it cannot be told.
pub type Measured = (f64, Option<f64>);

/// Decimals that are kept: 10 µs of time, 0.0001 Hz, 0.001 cents (and percent, decibels, confidence).
pub(crate) const SECS: i32 = 5;
pub(crate) const HERTZ: i32 = 4;
pub(crate) const REST: i32 = 3;

pub(crate) fn round(value: f64, decimals: i32) -> f64 {
    let unit = 10_f64.powi(decimals);
    (value * unit).round() / unit
}

/// No number in a take is larger: seconds, cents, Hz.
const MOST: f64 = 1e7;

/// Whether a hand may have written this number in earnest.
pub(crate) fn can_be(value: f64) -> bool {
    value.abs() <= MOST
}
