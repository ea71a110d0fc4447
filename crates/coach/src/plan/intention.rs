//! What vibrato a note is to have.

use serde::{Deserialize, Serialize};
use tuning::{Cents, Hz};

/// The widest and fastest vibrato that can be planned.
pub(crate) const WIDEST: Cents = Cents(400.0);
pub(crate) const FASTEST: Hz = Hz(12.0);

/// What vibrato a note is to have.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub enum Intention {
    /// None, on purpose.
    #[default]
    Straight,
    /// A vibrato that grows and fades: two straight lines that meet at the peak.
    Contour {
        /// Crest to trough at the start of the note, at the peak and at its end.
        width: [Cents; 3],
        /// Oscillations per second at the same three places, where that matters.
        #[serde(default)]
        rate: Option<[Hz; 3]>,
        /// Where the peak lies: 0 is the start of the note, 1 its end.
        peak_at: f64,
    },
}

impl Intention {
    /// The same vibrato from the start of the note to its end.
    pub fn level(width: Cents, rate: Option<Hz>) -> Self {
        Self::Contour { width: [width; 3], rate: rate.map(|rate| [rate; 3]), peak_at: 0.5 }
    }

    /// What is wrong with it, in words.
    pub(super) fn fault(&self) -> Option<String> {
        let Self::Contour { width, rate, peak_at } = self else { return None };
        if !(0.0..=1.0).contains(peak_at) {
            return Some(format!("the peak lies at {peak_at} of the note; write 0 to 1"));
        }
        if let Some(width) = width.iter().find(|width| !(0.0..=WIDEST.0).contains(&width.0)) {
            return Some(format!("a width of {} cents; write 0 to {}", width.0, WIDEST.0));
        }
        let rate = rate.iter().flatten().find(|rate| !(rate.0 > 0.0 && rate.0 <= FASTEST.0));
        rate.map(|rate| {
            format!("a rate of {} Hz; write more than 0, at most {}", rate.0, FASTEST.0)
        })
    }

    /// Crest to trough in the mean over the note; 0 of a straight one.
    pub fn mean_width(&self) -> Cents {
        match self {
            Self::Straight => Cents(0.0),
            Self::Contour { width, peak_at, .. } => Cents(mean(width.map(Cents::get), *peak_at)),
        }
    }

    /// Oscillations per second in the mean over the note, where that is planned.
    pub fn mean_rate(&self) -> Option<Hz> {
        match self {
            Self::Contour { rate: Some(rate), peak_at, .. } => {
                Some(Hz(mean(rate.map(Hz::get), *peak_at)))
            }
            _ => None,
        }
    }
}

/// The mean over two lines that meet at `peak_at`.
fn mean([start, peak, end]: [f64; 3], peak_at: f64) -> f64 {
    0.5 * (peak_at * (start + peak) + (1.0 - peak_at) * (peak + end))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_mean_width_is_that_of_the_two_lines() {
        let width = [Cents(0.0), Cents(60.0), Cents(20.0)];
        let contour = Intention::Contour { width, rate: None, peak_at: 0.5 };
        assert_eq!(contour.mean_width(), Cents(35.0));
        assert_eq!(Intention::Straight.mean_width(), Cents(0.0));
        assert_eq!(Intention::level(Cents(30.0), Some(Hz(5.0))).mean_rate(), Some(Hz(5.0)));
    }

    #[test]
    fn what_no_hand_can_do_is_refused_in_words() {
        let contour = |width, rate: f64, peak_at| Intention::Contour {
            width: [Cents(width); 3],
            rate: Some([Hz(rate); 3]),
            peak_at,
        };
        assert_eq!(contour(30.0, 5.0, 0.4).fault(), None);
        for (wrong, word) in [
            (contour(-1.0, 5.0, 0.4), "width"),
            (contour(f64::NAN, 5.0, 0.4), "width"),
            (contour(30.0, 0.0, 0.4), "rate"),
            (contour(30.0, 5.0, 1.4), "peak"),
        ] {
            assert!(wrong.fault().is_some_and(|words| words.contains(word)), "{wrong:?}");
        }
    }
}
