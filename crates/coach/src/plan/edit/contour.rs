//! Changes of one note's vibrato.

use tuning::{Cents, Hz};

use super::EditFault;
use crate::plan::intention::{FASTEST, Intention, WIDEST};

/// Where along a note.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[allow(missing_docs, reason = "the names say it")]
pub enum Along {
    Start,
    Peak,
    End,
}

/// A rate to begin with where none was planned; from here it is made faster and slower.
const FIRST_RATE: Hz = Hz(5.0);
/// The slowest that a rate is made step by step.
const SLOWEST: Hz = Hz(0.5);

/// Sets one of three values. The first of all of a level row sets the whole row.
fn set<T: Copy + PartialEq>(three: Option<[T; 3]>, at: Along, value: T) -> [T; 3] {
    let Some(mut three) = three else { return [value; 3] };
    match at {
        Along::Start if three == [three[0]; 3] => return [value; 3],
        Along::Start => three[0] = value,
        Along::Peak => three[1] = value,
        Along::End => three[2] = value,
    }
    three
}

pub(super) fn with_width(old: Intention, at: Along, width: Cents) -> Intention {
    match old {
        Intention::Straight => Intention::level(width, None),
        Intention::Contour { width: was, rate, peak_at } => {
            Intention::Contour { width: set(Some(was), at, width), rate, peak_at }
        }
    }
}

pub(super) fn width_by(old: Intention, by: Cents) -> Intention {
    let moved = |width: Cents| Cents((width.0 + by.0).clamp(0.0, WIDEST.0));
    match old {
        Intention::Straight if by.0 <= 0.0 => old,
        Intention::Straight => Intention::level(moved(Cents(0.0)), None),
        Intention::Contour { width, rate, peak_at } => {
            Intention::Contour { width: width.map(moved), rate, peak_at }
        }
    }
}

pub(super) fn with_rate(
    old: Intention,
    at: Along,
    rate: Option<Hz>,
) -> Result<Intention, EditFault> {
    let Intention::Contour { width, rate: was, peak_at } = old else {
        return Err(EditFault::NoWidth);
    };
    Ok(Intention::Contour { width, rate: rate.map(|rate| set(was, at, rate)), peak_at })
}

pub(super) fn rate_by(old: Intention, by: Hz) -> Result<Intention, EditFault> {
    let Intention::Contour { width, rate, peak_at } = old else { return Err(EditFault::NoWidth) };
    let moved = |rate: Hz| Hz((rate.0 + by.0).clamp(SLOWEST.0, FASTEST.0));
    let rate = rate.map_or([FIRST_RATE; 3], |rate| rate.map(moved));
    Ok(Intention::Contour { width, rate: Some(rate), peak_at })
}

/// Moves the peak; it stays within the note.
pub(super) fn with_peak(old: Intention, new: impl Fn(f64) -> f64) -> Result<Intention, EditFault> {
    let Intention::Contour { width, rate, peak_at } = old else { return Err(EditFault::NoWidth) };
    // To hundredths of a percent, as the text has it.
    let peak_at = (new(peak_at).clamp(0.0, 1.0) * 10_000.0).round() / 10_000.0;
    Ok(Intention::Contour { width, rate, peak_at })
}
