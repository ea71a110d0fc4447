//! How sure a frame is.

/// What is known about a frame beside its pitch.
pub(crate) struct Evidence {
    /// Similarity of neighbouring periods, up to 1.
    pub similarity: f64,
    /// Weighted mean absolute deviation of the harmonics, in cents.
    pub disagreement_cents: f64,
    /// How far the level has fallen from its highest within the last 0.12 s, in dB.
    pub fallen_db: f64,
}

/// However little speaks for a frame, so many are right all the same.
const LEAST: f64 = 0.08;

/// Probability that the pitch is within 10 cents of what is bowed, from [`LEAST`] to 1.
///
/// A logistic function, fitted to frames of made sound of known pitch (four registers, with and
/// without noise, irregular vibrato and rooms, attacks and rests included; frames after the bow has
/// left count as wrong). `cargo xtask accuracy` prints the calibration on other sounds.
pub(crate) fn confidence(evidence: &Evidence) -> f64 {
    let aperiodic = (1.0 - evidence.similarity).max(1e-4).ln();
    let apart = evidence.disagreement_cents.max(0.02).ln();
    // A vibrato across a resonance swings the level by up to 10 dB.
    let fallen = (evidence.fallen_db - 10.0).clamp(0.0, 2.0);
    let score = 6.46 - 0.315 * aperiodic - 1.96 * apart - 0.71 * apart * apart - 2.75 * fallen;
    (1.0 / (1.0 + (-score).exp())).max(LEAST)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_sign_of_trouble_lowers_the_confidence() {
        let of = |similarity, disagreement_cents, fallen_db| {
            confidence(&Evidence { similarity, disagreement_cents, fallen_db })
        };
        let good = of(0.999, 0.5, 0.0);
        assert!(good > 0.95, "a clean frame has {good}");
        assert!(of(0.7, 0.5, 0.0) < good);
        assert!(of(0.999, 15.0, 0.0) < 0.7 * good);
        assert!(of(0.999, 0.5, 15.0) < good);
        assert_eq!(of(0.0, 100.0, 15.0), LEAST);
    }
}
