//! What was not right in a file that could be read all the same.

/// Faults of a recording. Complete once [`Recording::next_block`](crate::Recording::next_block)
/// has returned `None`.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Remarks {
    /// The file ends before the length it states: seconds stated and seconds found.
    pub cut: Option<(f64, f64)>,
    /// The file ends before its sound does, after so many seconds, and does not say how long that was.
    pub breaks_off: Option<f64>,
    /// The file says that only a part is to be heard: seconds of that part and of the whole.
    pub left_out: Option<(f64, f64)>,
    /// The sound is not the one of which the file has the checksum.
    pub altered: bool,
    /// Damaged places that could not be decoded; each is a gap
    /// ([`Block::lost_before`](crate::Block::lost_before)).
    pub gaps: u64,
    /// Samples missing in all gaps.
    pub lost_samples: u64,
    /// Samples that were not a number, infinite or absurdly large, and were replaced by 0.
    pub bad_samples: u64,
    /// The file goes on after this with another sample rate or another stream, which was left out.
    pub changed: bool,
    /// Reading stopped in the middle for this reason.
    pub stopped: Option<String>,
}

impl Remarks {
    /// The remarks in words, one sentence each; empty for a file without faults.
    pub fn in_words(&self) -> Vec<String> {
        let mut words = Vec::new();
        if let Some((stated, found)) = self.cut {
            words.push(format!("the file is cut off: {found:.1} s of {stated:.1} s are there"));
        }
        if let Some(found) = self.breaks_off {
            words.push(format!(
                "the file is cut off: the sound breaks off after {found:.1} s; copy or export it again"
            ));
        }
        if let Some((heard, whole)) = self.left_out {
            words.push(format!(
                "of {whole:.1} s the file says that only {heard:.1} s are to be heard; if that is wrong, export it again"
            ));
        }
        if self.altered {
            words.push(
                "the sound is not what the file's checksum says: it was damaged or changed; copy or export it again"
                    .to_owned(),
            );
        }
        if self.gaps > 0 {
            words.push(format!(
                "the file is damaged in {} places, {} samples are lost",
                self.gaps, self.lost_samples
            ));
        }
        if self.bad_samples > 0 {
            words.push(format!(
                "{} samples were not numbers and were taken as silence",
                self.bad_samples
            ));
        }
        if self.changed {
            words.push("a second sound follows in the file and was left out".to_owned());
        }
        if let Some(reason) = &self.stopped {
            words.push(format!("reading stopped early: {reason}"));
        }
        words
    }
}
