//! Numbers as they are written: sign, decimals, and how sure they are.

/// A doubt is told with at most so many decimals more than its measure usually has.
const MORE_DECIMALS: usize = 2;
/// Where even these would not show it, a hundredth is the least that is told.
const LEAST_DECIMALS: usize = 2;

/// A number with so many decimals, `?` where it is not known. With a sign where that is its direction; a minus is a
/// true one, and nothing is written as −0.
pub fn number(value: Option<f64>, decimals: usize, signed: bool) -> String {
    let Some(value) = value else {
        return "?".to_owned();
    };
    let unit = 10_f64.powi(decimals as i32);
    let value = (value * unit).round() / unit + 0.0;
    let plus = if signed && value > 0.0 { "+" } else { "" };
    format!("{plus}{value:.decimals$}").replace('-', "−")
}

/// A number that lies above or below something, with the sign of its direction.
pub fn signed(value: f64, decimals: usize) -> String {
    number(Some(value), decimals, true)
}

/// The number of decimals at which one figure of the doubt counts; the `usual` ones where it is not known.
pub fn decimals(se: Option<f64>, usual: usize) -> usize {
    let shows = |decimals: &usize| {
        let least = 0.95 * 0.1_f64.powi(*decimals as i32);
        se.is_some_and(|se| se >= least)
    };
    let too_small = || se.map_or(usual, |_| usual.max(LEAST_DECIMALS));
    (0..=usual + MORE_DECIMALS).find(shows).unwrap_or_else(too_small)
}

/// One standard error: `±0.03`, `±2`; `±?` where it is not known. It is never written as 0: what is rounded is not
/// known better than to its last figure.
pub fn doubt(se: Option<f64>, usual: usize) -> String {
    let decimals = decimals(se, usual);
    let least = 0.1_f64.powi(decimals as i32);
    format!("±{}", number(se.map(|se| se.max(least)), decimals, false))
}

/// A number with its doubt, each with the decimals that the doubt leaves: `5.62 ±0.04`, `−12 ±2`, `5.62 ±?`.
pub fn with_doubt(value: f64, se: Option<f64>, usual: usize, signed: bool) -> String {
    let number = number(Some(value), decimals(se, usual), signed);
    format!("{number} {}", doubt(se, usual))
}

/// `words` with a capital at their start.
pub fn capital(words: &str) -> String {
    let mut letters = words.trim().chars();
    let first: String = letters.next().map_or_else(String::new, |c| c.to_uppercase().collect());
    first + letters.as_str()
}

/// `words` as a sentence: a capital at its start, a full stop at its end.
pub fn sentence(words: &str) -> String {
    let end = if words.trim_end().ends_with(['.', '!', '?']) { "" } else { "." };
    capital(words) + end
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sign_is_shown_only_where_there_is_a_direction() {
        assert_eq!(signed(4.4, 0), "+4");
        assert_eq!(signed(-11.6, 0), "−12");
        assert_eq!(signed(-0.3, 0), "0");
        assert_eq!(signed(0.04, 1), "0.0");
        assert_eq!(signed(-0.06, 1), "−0.1");
        assert_eq!(number(Some(4.4), 0, false), "4");
        assert_eq!(number(None, 2, true), "?");
    }

    #[test]
    fn a_value_has_the_decimals_that_its_doubt_leaves() {
        let rate = |se| with_doubt(5.624, se, 2, false);
        assert_eq!(rate(Some(0.04)), "5.62 ±0.04");
        assert_eq!(rate(Some(0.3)), "5.6 ±0.3");
        assert_eq!(rate(Some(2.0)), "6 ±2");
        assert_eq!(rate(Some(0.097)), "5.6 ±0.1", "and not ±0.10");
        assert_eq!(rate(None), "5.62 ±?");
        assert_eq!(with_doubt(-4.21, Some(0.3), 1, true), "−4.2 ±0.3");
    }

    #[test]
    fn a_doubt_is_never_shown_as_0() {
        assert_eq!(with_doubt(4.4, Some(0.02), 2, false), "4.40 ±0.02");
        assert_eq!(with_doubt(4.4, Some(0.003), 2, false), "4.400 ±0.003");
        assert_eq!(with_doubt(4.4, Some(0.0), 2, false), "4.40 ±0.01");
        assert_eq!(with_doubt(4.4, Some(1e-7), 2, false), "4.40 ±0.01");
        assert_eq!(with_doubt(31.0, Some(0.2), 0, false), "31.0 ±0.2");
        assert_eq!(with_doubt(0.04, Some(0.001), 0, false), "0.04 ±0.01", "and not 0 ±1");
    }

    #[test]
    fn a_sentence_has_one_full_stop() {
        assert_eq!(sentence("the disk is full"), "The disk is full.");
        assert_eq!(sentence(" is it? "), "Is it?");
    }
}
