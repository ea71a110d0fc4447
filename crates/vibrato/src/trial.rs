//! Steps taken out of a pitch on trial, and how well a motion explains what is left.

use crate::chain_search::{ChainInput, cell_of, likeliest_chain};
use crate::expectation::{Expectation, initial};
use crate::motion::{Chain, CycleShape};

/// Shapes of half a cycle by which two ways of taking steps out are compared.
const SHAPES: [CycleShape; 2] = [CycleShape::Sine, CycleShape::Flat(2.2)];
/// What a step explains is told by so many half cycles on either side of it.
pub(crate) const REACH_HALVES: f64 = 8.0;

/// A pitch, one value a frame, with the steps that are taken out of it.
pub(crate) struct Trial {
    /// In cents.
    flat: Vec<f64>,
    /// Frames that count.
    heard: Vec<bool>,
    /// Where steps were taken out.
    cuts: Vec<usize>,
}

impl Trial {
    /// The pitch with all its steps.
    pub(crate) fn new(cents: &[f64], heard: &[bool]) -> Self {
        Self { flat: cents.to_vec(), heard: heard.to_vec(), cuts: Vec::new() }
    }

    /// The same without the step up by `cents` at a frame. In `guard` frames on either side the finger is on its
    /// way: they say nothing of the motion.
    pub(crate) fn without(mut self, at: usize, cents: f64, guard: usize) -> Self {
        self.flat[at..].iter_mut().for_each(|pitch| *pitch -= cents);
        let way = at.saturating_sub(guard)..(at + guard).min(self.heard.len());
        self.heard[way].fill(false);
        self.cuts.push(at);
        self
    }

    /// What is usual at each frame of a motion of this rate.
    pub(crate) fn expected(&self, rate_hz: f64) -> Vec<Expectation> {
        initial(&self.flat, &self.heard, &self.cuts, &vec![rate_hz; self.flat.len()])
    }

    /// The likeliest chain of half cycles of one shape.
    pub(crate) fn chain(&self, expected: &[Expectation], noise: f64, shape: CycleShape) -> Chain {
        let known = ChainInput {
            flat: &self.flat,
            heard: &self.heard,
            cuts: &self.cuts,
            noise,
            shape,
            cell: cell_of(expected),
            start: None,
        };
        likeliest_chain(&known, expected)
    }

    /// What the cheapest chain of any of [`SHAPES`] costs.
    pub(crate) fn least_cost(&self, expected: &[Expectation], noise: f64) -> f64 {
        let costs = SHAPES.iter().map(|shape| self.chain(expected, noise, *shape).cost);
        costs.fold(f64::INFINITY, f64::min)
    }
}

/// The least half width that is usual at any frame. A step that is not taken out makes the motion around it look
/// wider than it is, and this it does not reach.
pub(crate) fn least_height(expected: &[Expectation]) -> f64 {
    expected.iter().map(|expected| expected.height).fold(f64::INFINITY, f64::min)
}

/// Lets the same half width be usual at each frame.
pub(crate) fn set_heights(expected: &mut [Expectation], height: f64) {
    expected.iter_mut().for_each(|expected| expected.height = height);
}
