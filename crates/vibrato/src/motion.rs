//! A motion as a chain of half cycles and rests.

/// The form of half a cycle.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) enum Form {
    /// A cosine.
    #[default]
    Sine,
    /// One flattened by a hyperbolic tangent of this gain.
    Flat(f64),
}

/// Where a piece ends.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Place {
    /// At a crest.
    Crest,
    /// At a trough.
    Trough,
    /// In the middle, where a rest may follow.
    Rest,
    /// In the middle, where the motion may set out.
    Ready,
    /// At the edge of the sound.
    Edge,
}

/// One end of a piece.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Knot {
    /// In frames.
    pub at: f64,
    /// What it is.
    pub place: Place,
    /// Cycles since the knot before it.
    pub cycles: f64,
    /// Middle and half width of the piece that ends here, in cents.
    pub middle: f64,
    /// See `middle`.
    pub height: f64,
}

/// The chain that was found.
#[derive(Clone, Debug, Default)]
pub(crate) struct Chain {
    /// Its knots; the first is the start of the sound.
    pub knots: Vec<Knot>,
    /// What it costs.
    pub cost: f64,
    /// Form of its half cycles.
    pub form: Form,
    /// Root mean square of what it leaves, in cents.
    pub left: f64,
}
