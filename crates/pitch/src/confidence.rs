//! How sure a frame is.

/// What is known about a frame beside its pitch.
pub struct Evidence {
    /// Similarity of neighbouring periods, up to 1.
    pub similarity: f64,
    /// Weighted mean absolute deviation of the harmonics, in cents.
    pub disagreement_cents: f64,
    /// How far the level has fallen from its highest within the last 0.12 s, in dB.
    pub fallen_db: f64,
}

/// Probability that the pitch is within 10 cents of what is bowed, 0 to 1.
///
/// A logistic function, fitted to 96 000 frames of made sound of known pitch (four registers, with
/// and without noise, irregular vibrato and rooms, attacks and rests included; frames after the
/// bow has left count as wrong), raised to a power that sets right its middle. `cargo xtask
/// accuracy` prints the calibration on other sounds.
pub fn confidence(evidence: &Evidence) -> f64 {
    let aperiodic = (1.0 - evidence.similarity).max(1e-4).ln();
    let apart = evidence.disagreement_cents.max(0.02).ln();
    // A vibrato across a resonance swings the level by up to 10 dB.
    let fallen = (evidence.fallen_db - 10.0).clamp(0.0, 15.0);
    let score = 3.06 - 0.18 * aperiodic - 1.12 * apart - 0.405 * apart * apart - 1.57 * fallen;
    (1.0 + (-score).exp()).powf(-1.4)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_sign_of_trouble_lowers_the_confidence() {
        let of = |similarity, disagreement_cents, fallen_db| {
            confidence(&Evidence {
                similarity,
                disagreement_cents,
                fallen_db,
            })
        };
        let good = of(0.999, 0.5, 0.0);
        assert!(good > 0.95, "a clean frame has {good}");
        assert!(of(0.7, 0.5, 0.0) < good);
        assert!(of(0.999, 15.0, 0.0) < 0.7 * good);
        assert!(of(0.999, 0.5, 15.0) < 0.1 * good);
    }
}
