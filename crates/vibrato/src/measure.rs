//! A value with its standard error.

/// A value with its standard error, in the same unit; `se` is `None` where it cannot be told.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Measure<T> {
    /// The value.
    pub value: T,
    /// One standard error, 0 or more.
    pub se: Option<T>,
}

impl<T: Into<f64>> Measure<T> {
    /// The bare numbers.
    pub fn bare(self) -> Measure<f64> {
        Measure { value: self.value.into(), se: self.se.map(Into::into) }
    }
}

impl Measure<f64> {
    /// The same in a unit.
    pub fn in_unit<T: From<f64>>(self) -> Measure<T> {
        Measure { value: self.value.into(), se: self.se.map(Into::into) }
    }
}

/// Fewer values than this scatter too little by chance to say how far they can be trusted, where one of them has no
/// standard error of its own.
const LEAST_SCATTERING: usize = 3;

impl Measure<f64> {
    /// How much it lies above `other`, with the standard error of both; unknown where one of them is.
    pub fn above(self, other: Self) -> Self {
        let se = self.se.zip(other.se).map(|(own, other)| own.hypot(other));
        Self { value: self.value - other.value, se }
    }

    /// Mean of some measures of the same thing, `None` of none.
    ///
    /// Its standard error is the larger of two: what their own standard errors leave, `√(Σ se²) / n`, and what their
    /// scatter says, `√(Σ (x − mean)² / (n − 1) / n)`, for measures that are each sure may still differ, and few that
    /// are unsure may agree by chance (R. T. Birge, "The calculation of errors by the method of least squares", Phys.
    /// Rev. 40 (1932), 207, external and internal consistency; here with equal weights; from memory).
    ///
    /// A measure without a standard error is no sure one: it counts as one as doubtful as the others, and only the
    /// scatter of three or more can speak for it. Where there are fewer, the standard error of the mean is unknown.
    pub fn mean(measures: impl IntoIterator<Item = Self>) -> Option<Self> {
        let measures: Vec<Self> = measures.into_iter().collect();
        let n = measures.len() as f64;
        if measures.is_empty() {
            return None;
        }
        let value = measures.iter().map(|one| one.value).sum::<f64>() / n;
        let known: Vec<f64> = measures.iter().filter_map(|one| one.se).collect();
        if known.len() < measures.len() && measures.len() < LEAST_SCATTERING {
            return Some(Self { value, se: None });
        }
        let squares: f64 = measures.iter().map(|one| (one.value - value).powi(2)).sum();
        let scatter = (squares / (n - 1.0).max(1.0) / n).sqrt();
        let own_squares = known.iter().map(|se| se * se).sum::<f64>() / known.len().max(1) as f64;
        Some(Self { value, se: Some(scatter.max((own_squares / n).sqrt())) })
    }
}

/// The value in the middle, the mean of both where there are two; `None` of none.
pub fn median(mut values: Vec<f64>) -> Option<f64> {
    values.sort_by(f64::total_cmp);
    let count = values.len();
    (count > 0).then(|| 0.5 * (values[(count - 1) / 2] + values[count / 2]))
}

/// The value in the middle, the greater of both where there are two; `None` of none.
pub fn upper_median(mut values: Vec<f64>) -> Option<f64> {
    values.sort_by(f64::total_cmp);
    values.get(values.len() / 2).copied()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_mean_is_as_doubtful_as_its_scatter_and_as_its_measures() {
        let of = |measures: &[(f64, Option<f64>)]| {
            Measure::mean(measures.iter().map(|&(value, se)| Measure { value, se }))
        };
        let near = |measures: &[(f64, Option<f64>)], value: f64, se: f64| {
            let mean = of(measures).expect("there are some");
            let known = mean.se.expect("known");
            assert!((mean.value - value).abs() < 1e-12 && (known - se).abs() < 1e-12, "{mean:?}");
        };
        assert_eq!(of(&[]), None);
        near(&[(5.0, Some(0.1))], 5.0, 0.1);
        // Alike by chance: 0.2/√2, not the 0.01 of the scatter.
        near(&[(5.60, Some(0.2)), (5.62, Some(0.2))], 5.61, 0.2 / 2f64.sqrt());
        // Each sure, and yet apart: a deviation of 1, of three.
        near(&[(4.0, Some(0.1)), (5.0, Some(0.1)), (6.0, Some(0.1))], 5.0, 1.0 / 3f64.sqrt());
        // Of unequal ones: √(0.3² + 0.4²)/2.
        near(&[(5.0, Some(0.3)), (5.0, Some(0.4))], 5.0, 0.25);
    }

    #[test]
    fn a_measure_without_a_doubt_makes_no_mean_surer() {
        let of = |measures: &[(f64, Option<f64>)]| {
            Measure::mean(measures.iter().map(|&(value, se)| Measure { value, se }))
                .expect("there are some")
                .se
        };
        assert_eq!(of(&[(5.0, None)]), None);
        assert_eq!(of(&[(5.0, None), (5.0, None)]), None);
        assert_eq!(of(&[(5.0, Some(0.1)), (5.0, None)]), None);
        // Three can speak by their scatter...
        let alone = of(&[(4.0, None), (5.0, None), (6.0, None)]).expect("they scatter");
        assert!((alone - 1.0 / 3f64.sqrt()).abs() < 1e-12, "{alone}");
        // ...and where they agree, the unknown one is as doubtful as the rest, not sure: 0.3/√3.
        let alike = of(&[(5.0, Some(0.3)), (5.0, None), (5.0, Some(0.3))]).expect("two are known");
        assert!((alike - 0.3 / 3f64.sqrt()).abs() < 1e-12, "{alike}");
    }
}
