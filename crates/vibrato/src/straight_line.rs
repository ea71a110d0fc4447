//! The straight line that fits some points best, by least squares.

/// A straight line through points, each a place and a value.
#[derive(Clone, Copy, Debug)]
pub struct StraightLine {
    /// Mean of the places, and of the values.
    pub mean: (f64, f64),
    /// How far the line rises from one place to the next whole one; 0 where all points lie at one place.
    pub slope: f64,
    /// Sum of the squares of the places, around their mean.
    pub places: f64,
    /// Sum of the squares that the line leaves of the values.
    pub left: f64,
    /// How many points there are.
    pub count: f64,
}

impl StraightLine {
    /// The line through these points; there is at least one.
    pub fn through(points: impl Iterator<Item = (f64, f64)> + Clone) -> Self {
        let count = points.clone().count() as f64;
        let sum = points.clone().fold((0.0, 0.0), |sum, (x, y)| (sum.0 + x, sum.1 + y));
        let mean = (sum.0 / count, sum.1 / count);
        let (mut places, mut products) = (0.0, 0.0);
        for (x, y) in points.clone() {
            places += (x - mean.0) * (x - mean.0);
            products += (x - mean.0) * (y - mean.1);
        }
        let slope = if places > 0.0 { products / places } else { 0.0 };
        let left = points.map(|(x, y)| (y - mean.1 - slope * (x - mean.0)).powi(2)).sum();
        Self { mean, slope, places, left, count }
    }

    /// The line through values at the places 0, 1, 2 and so on.
    pub fn through_even(values: impl Iterator<Item = f64> + Clone) -> Self {
        Self::through(values.enumerate().map(|(i, y)| (i as f64, y)))
    }

    /// Standard error of the slope, as the points scatter around the line; of three points or more.
    pub fn slope_se(&self) -> f64 {
        (self.left / (self.count - 2.0) / self.places).sqrt()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_is_found_with_what_lies_beside_it() {
        // 2 + 3 x, every other value 1 above and below: the sums are those of the textbook.
        let line = StraightLine::through_even([3.0, 4.0, 9.0, 10.0].into_iter());
        assert_eq!((line.mean, line.places), ((1.5, 6.5), 5.0));
        assert!((line.slope - 2.6).abs() < 1e-12 && (line.left - 3.2).abs() < 1e-12, "{line:?}");
        assert!((line.slope_se() - (3.2_f64 / 2.0 / 5.0).sqrt()).abs() < 1e-12);
        assert_eq!(StraightLine::through([(4.0, 7.0)].into_iter()).slope, 0.0);
    }
}
