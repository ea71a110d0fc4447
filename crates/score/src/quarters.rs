//! Times of a score: whole fractions of a quarter note.

use std::cmp::Ordering;

/// A whole fraction of a quarter note in its lowest terms; below 0 it lies before where one counts from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Quarters {
    parts: i64,
    of: i64,
}

/// Beyond these a time is no time of a score; so far sums and products are exact.
const MOST_PARTS: u64 = 1 << 31;
const FINEST: i64 = 1 << 20;

impl Quarters {
    /// None.
    pub const ZERO: Self = Self { parts: 0, of: 1 };

    /// `parts / of` quarters; `None` where that is no fraction, too long or too fine.
    pub fn new(parts: i64, of: i64) -> Option<Self> {
        Self::lowest(i128::from(parts), i128::from(of))
    }

    fn lowest(parts: i128, of: i128) -> Option<Self> {
        let (mut a, mut b) = (parts.unsigned_abs(), of.unsigned_abs());
        while b > 0 {
            (a, b) = (b, a % b);
        }
        let common = i128::try_from(a).ok().filter(|a| *a > 0)? * of.signum();
        let (parts, of) = (parts.checked_div(common)?, of.checked_div(common)?);
        let (parts, of) = (i64::try_from(parts).ok()?, i64::try_from(of).ok()?);
        (parts.unsigned_abs() <= MOST_PARTS && of <= FINEST).then_some(Self { parts, of })
    }

    /// The sum.
    pub fn plus(self, other: Self) -> Option<Self> {
        let parts = |a: Self, b: Self| i128::from(a.parts) * i128::from(b.of);
        let of = i128::from(self.of) * i128::from(other.of);
        Self::lowest(parts(self, other) + parts(other, self), of)
    }

    /// The difference.
    pub fn minus(self, other: Self) -> Option<Self> {
        self.plus(Self { parts: -other.parts, of: other.of })
    }

    /// `parts / of` times as long.
    pub fn times(self, parts: i64, of: i64) -> Option<Self> {
        Self::lowest(
            i128::from(self.parts) * i128::from(parts),
            i128::from(self.of) * i128::from(of),
        )
    }

    /// The two numbers of the fraction.
    pub fn fraction(self) -> (i64, i64) {
        (self.parts, self.of)
    }
}

impl PartialOrd for Quarters {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Quarters {
    fn cmp(&self, other: &Self) -> Ordering {
        (self.parts * other.of).cmp(&(other.parts * self.of))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn fractions_are_reckoned_without_loss_and_refused_where_they_are_none() {
        let third = Quarters::new(1, 3).expect("a third");
        let sum = third.plus(third).and_then(|two| two.plus(third));
        assert_eq!(sum, Quarters::new(1, 1));
        assert_eq!(third.minus(third), Some(Quarters::ZERO));
        assert_eq!(third.times(6, 4), Quarters::new(1, 2));
        assert_eq!(Quarters::new(-4, -6).map(Quarters::fraction), Some((2, 3)));
        assert!(Quarters::new(-1, 2) < Some(Quarters::ZERO));
        for (parts, of) in [(1, 0), (0, 0), (i64::MIN, 3), (i64::MAX, 2), (1, i64::MAX)] {
            assert_eq!(Quarters::new(parts, of), None, "{parts}/{of}");
        }
    }
}
