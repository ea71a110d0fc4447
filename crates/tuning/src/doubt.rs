//! How sure a number is, as it is written beside it.

/// A standard error with as many decimals as its value has: "±0.03", "±2". It is never less than one in its last
/// figure: what is rounded to that figure is not known better, and nothing is known without any doubt.
pub fn doubt(se: f64, decimals: usize) -> String {
    let least = 0.1_f64.powi(i32::try_from(decimals).unwrap_or(i32::MAX));
    format!("±{:.decimals$}", se.max(least))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_doubt_is_written_as_none() {
        for se in [0.0, 1e-9, 0.004, 0.005, 0.0051] {
            assert_eq!(doubt(se, 2), "±0.01", "{se}");
        }
        assert_eq!(doubt(0.5, 0), "±1");
        assert_eq!(doubt(0.04, 1), "±0.1");
        assert_eq!(doubt(2.4, 0), "±2");
        assert_eq!(doubt(0.034, 2), "±0.03");
    }
}
