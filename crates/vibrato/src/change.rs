//! A change of finger: heard as a step of the pitch, or asked for.

use tuning::Cents;

/// A change of finger that is heard as a step of the pitch.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Cut {
    /// In frames from the first of the stretch: the first of the new finger.
    pub at: usize,
    /// How far the pitch steps up, in cents.
    pub cents: f64,
    /// How many times better the pitch is explained with the step than without.
    pub gain: f64,
}

/// A change of finger that is asked for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Awaited {
    /// How far the pitch is to step up; 0 for another finger on the same pitch.
    pub step: Cents,
    /// Oscillations the finger before it is to make.
    pub cycles: f64,
}
