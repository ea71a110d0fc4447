//! When something is beyond doubt: the one rule for findings, changes between rounds, comparisons and the ear's test.

use vibrato::Measure;

/// So many standard errors are taken for the doubt of a value that is looked at by itself: of 100 chance errors 95
/// are smaller.
pub(crate) const DOUBTS: f64 = 2.0;

/// How often chance alone makes as much as that.
const CHANCE: f64 = 0.0455;

/// Whether `measure` lies beyond its doubt from 0 where it is one of `asked` that are looked at, any of which would be
/// told. Never where its doubt is unknown.
pub fn beyond_doubt(measure: Measure<f64>, asked: usize) -> bool {
    measure.se.is_some_and(|se| measure.value.abs() > doubts(asked) * se)
}

/// Whether chance alone, which makes this with `probability`, tells one of `asked` no more often than is allowed.
pub(crate) fn beyond_chance(probability: f64, asked: usize) -> bool {
    probability < CHANCE / asked.max(1) as f64
}

/// A value whose standard error was itself estimated from few values, `free` beyond the means: the error is made so much
/// greater that [`beyond_doubt`] asks for Student's deviate (Abramowitz and Stegun, 26.7.5; from memory). Its doubt is
/// unknown for fewer than three.
pub(crate) fn of_few(measure: Measure<f64>, free: usize, asked: usize) -> Measure<f64> {
    let (z, n) = (doubts(asked), free as f64);
    let first = (z.powi(3) + z) / 4.0;
    let second = (5.0 * z.powi(5) + 16.0 * z.powi(3) + 3.0 * z) / 96.0;
    let third = (3.0 * z.powi(7) + 19.0 * z.powi(5) + 17.0 * z.powi(3) - 15.0 * z) / 384.0;
    let student = z + first / n + second / (n * n) + third / n.powi(3);
    Measure { se: measure.se.filter(|_| free >= 3).map(|se| se * student / z), ..measure }
}

/// Standard errors by which one of `asked` values must lie from 0, so that chance tells any of them no more often than
/// it tells a single one at [`DOUBTS`]: each has its share of that chance (Bonferroni's inequality; O. J. Dunn,
/// "Multiple comparisons among means", J. Am. Stat. Assoc. 56 (1961), 52; from memory).
pub(crate) fn doubts(asked: usize) -> f64 {
    if asked <= 1 { DOUBTS } else { normal_beyond(0.5 * CHANCE / asked as f64) }
}

/// The standard normal deviate that is exceeded with this probability, below one half; within 0.0005 (Abramowitz and
/// Stegun, *Handbook of Mathematical Functions*, 26.2.23; from memory).
fn normal_beyond(probability: f64) -> f64 {
    let t = (-2.0 * probability.ln()).sqrt();
    let above = 2.515_517 + t * (0.802_853 + t * 0.010_328);
    let below = 1.0 + t * (1.432_788 + t * (0.189_269 + t * 0.001_308));
    t - above / below
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;

    #[test]
    fn the_normal_deviates_are_those_of_the_tables() {
        // Any table of the normal distribution.
        for (probability, due) in [(0.025, 1.960), (0.0125, 2.241), (0.005, 2.576), (0.001, 3.090)]
        {
            let z = normal_beyond(probability);
            assert!((z - due).abs() < 0.001, "{probability}: {z}, not {due}");
        }
        assert!((normal_beyond(0.5 * CHANCE) - DOUBTS).abs() < 0.001, "of one it is the same rule");
    }

    /// Normally distributed numbers, the same each time.
    pub(crate) fn chance() -> impl Iterator<Item = f64> {
        let mut state = 0x9E37_79B9_7F4A_7C15_u64;
        std::iter::repeat_with(move || {
            let mut even = || {
                state = state
                    .wrapping_mul(6_364_136_223_846_793_005)
                    .wrapping_add(1_442_695_040_888_963_407);
                ((state >> 11) as f64 + 0.5) / (1_u64 << 53) as f64
            };
            (-2.0 * even().ln()).sqrt() * (std::f64::consts::TAU * even()).cos()
        })
    }

    #[test]
    fn chance_tells_one_of_many_no_more_often_than_one_alone() {
        const TRIES: usize = 20_000;
        for asked in [1, 2, 5, 10] {
            let mut values = chance();
            let told = (0..TRIES)
                .filter(|_| {
                    let each: Vec<f64> = values.by_ref().take(asked).collect();
                    each.iter().any(|&value| beyond_doubt(Measure { value, se: Some(1.0) }, asked))
                })
                .count();
            let share = told as f64 / TRIES as f64;
            assert!((0.038..0.052).contains(&share), "{asked} asked: {share}");
        }
    }

    #[test]
    fn chance_tells_one_of_many_no_more_often_where_each_doubt_comes_from_few_values() {
        const TRIES: usize = 20_000;
        for (asked, count) in [(1, 5), (10, 9), (40, 16)] {
            let mut values = chance();
            let told = (0..TRIES)
                .filter(|_| {
                    (0..asked).any(|_| {
                        let each: Vec<f64> = values.by_ref().take(count).collect();
                        let mean = each.iter().sum::<f64>() / count as f64;
                        let squares: f64 = each.iter().map(|value| (value - mean).powi(2)).sum();
                        let se = (squares / (count * (count - 1)) as f64).sqrt();
                        let few = of_few(Measure { value: mean, se: Some(se) }, count - 1, asked);
                        beyond_doubt(few, asked)
                    })
                })
                .count();
            let share = told as f64 / TRIES as f64;
            assert!((0.035..0.055).contains(&share), "{asked} asked of {count}: {share}");
        }
        assert!(beyond_chance(0.004, 10) && !beyond_chance(0.005, 10));
    }

    #[test]
    fn what_nobody_knows_the_doubt_of_is_never_beyond_it() {
        assert!(!beyond_doubt(Measure { value: 1e9, se: None }, 1));
        assert!(beyond_doubt(Measure { value: 2.1, se: Some(1.0) }, 1));
        assert!(!beyond_doubt(Measure { value: 2.1, se: Some(1.0) }, 5));
    }
}
