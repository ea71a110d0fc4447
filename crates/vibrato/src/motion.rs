//! A motion in pieces: half cycles, rests, and what stands between them.

use std::f64::consts::PI;

/// A stretch of time in which the motion rests, in frames from the first of the stretch.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pause {
    /// End of the last oscillation.
    pub from: f64,
    /// Start of the next one.
    pub to: f64,
    /// Standard errors of both; 0 while the sound goes on.
    pub doubts: (f64, f64),
}

/// The shape of half a cycle.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) enum CycleShape {
    /// A cosine.
    #[default]
    Sine,
    /// One flattened by a hyperbolic tangent of this gain.
    Flat(f64),
}

/// Where a piece ends.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum PointKind {
    /// At a crest.
    Crest,
    /// At a trough.
    Trough,
    /// At a crest at which it has rested, and from which it may set out.
    CrestHeld,
    /// The same at a trough.
    TroughHeld,
    /// In the middle, where a rest may follow.
    Rest,
    /// In the middle, where the motion may set out.
    Ready,
    /// At the edge of the sound.
    Edge,
}

/// One end of a piece.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct ChainPoint {
    /// In frames.
    pub at: f64,
    /// What it is.
    pub kind: PointKind,
    /// Cycles since the point before it.
    pub cycles: f64,
    /// Middle of the piece that ends here, in cents.
    pub middle: f64,
    /// Half width of that piece, in cents.
    pub height: f64,
}

impl ChainPoint {
    /// Whether the motion has rested at a turn here.
    pub(crate) fn is_held(&self) -> bool {
        matches!(self.kind, PointKind::CrestHeld | PointKind::TroughHeld)
    }

    /// Whether it is at a turn here, rested or not.
    pub(crate) fn is_turn(&self) -> bool {
        matches!(self.kind, PointKind::Crest | PointKind::Trough) || self.is_held()
    }
}

/// The chain that was found.
#[derive(Clone, Debug, Default)]
pub(crate) struct Chain {
    /// Its points; the first is the start of the sound.
    pub points: Vec<ChainPoint>,
    /// What it costs.
    pub cost: f64,
    /// Shape of its half cycles.
    pub shape: CycleShape,
    /// Root mean square of what it leaves, in cents.
    pub left: f64,
}

/// Half a cycle from 1 to −1 at `x` from 0 to 1.
pub(crate) fn half_cycle(shape: CycleShape, x: f64) -> f64 {
    let sine = (PI * x).cos();
    match shape {
        CycleShape::Sine => sine,
        CycleShape::Flat(gain) => (gain * sine).tanh() / gain.tanh(),
    }
}
