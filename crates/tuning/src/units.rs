//! Hz, cents and seconds as types, so that one cannot be taken for another.

use serde::{Deserialize, Serialize};

/// A frequency in hertz.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Hz(pub f64);

/// A musical interval, 1200 to the octave; positive is sharp.
#[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Cents(pub f64);

/// A time or a length of time in seconds, counted in samples, never by the wall clock.
#[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Secs(pub f64);

impl Hz {
    /// The bare number, in Hz.
    pub fn get(self) -> f64 {
        self.0
    }

    /// How far `self` lies above `reference`: `1200 · log2(self / reference)`.
    /// Both must be above 0; otherwise the result is not finite.
    pub fn cents_above(self, reference: Self) -> Cents {
        Cents(1200.0 * (self.0 / reference.0).log2())
    }

    /// The frequency `by` above `self` (below, if `by` is negative): `self · 2^(by / 1200)`.
    pub fn raised(self, by: Cents) -> Self {
        Self(self.0 * (by.0 / 1200.0).exp2())
    }
}

impl Cents {
    /// The bare number, in cents.
    pub fn get(self) -> f64 {
        self.0
    }
}

impl Secs {
    /// The bare number, in seconds.
    pub fn get(self) -> f64 {
        self.0
    }
}

macro_rules! bare {
    ($($unit:ident),*) => {$(
        impl From<$unit> for f64 {
            fn from(unit: $unit) -> Self {
                unit.0
            }
        }

        impl From<f64> for $unit {
            fn from(value: f64) -> Self {
                Self(value)
            }
        }
    )*};
}

bare!(Hz, Cents, Secs);
