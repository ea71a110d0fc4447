//! How sure a frame is.

/// What is known about a frame beside its pitch.
pub struct Evidence {
    /// Similarity of neighbouring periods, up to 1.
    pub similarity: f64,
    /// Weighted mean absolute deviation of the harmonics, in cents.
    pub disagreement_cents: f64,
    /// The pitch, in Hz.
    pub hz: f64,
}

/// Probability that the pitch is within 10 cents of the truth, 0 to 1.
pub fn confidence(evidence: &Evidence) -> f64 {
    let aperiodic = (1.0 - evidence.similarity).max(1e-4).ln();
    let apart = evidence.disagreement_cents.max(0.02).ln();
    let score = 3.0 - 0.6 * aperiodic - 1.2 * apart;
    1.0 / (1.0 + (-score).exp())
}
