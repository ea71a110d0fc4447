//! Scores: plain functions from what was heard and what is true to figures.
//!
//! Pitches are in cents against any one reference; `None` is no pitch.

/// Frames further off than this are wrong, in cents.
pub const WRONG_CENTS: f64 = 50.0;

/// The middle of sorted values (mean of the two middle ones); `None` if there are none.
pub fn median(values: &[f64]) -> Option<f64> {
    quantile(values, 0.5)
}

/// The value below which the share `q` of `values` lies, linear between neighbours.
pub fn quantile(values: &[f64], q: f64) -> Option<f64> {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let last = sorted.len().checked_sub(1)?;
    let at = q.clamp(0.0, 1.0) * last as f64;
    let (i, part) = (at.floor() as usize, at.fract());
    let next = sorted[(i + 1).min(last)];
    Some(if part > 0.0 { sorted[i] + part * (next - sorted[i]) } else { sorted[i] })
}

/// Mean; `None` if there are no values.
pub fn mean(values: &[f64]) -> Option<f64> {
    (!values.is_empty()).then(|| values.iter().sum::<f64>() / values.len() as f64)
}

/// Share of `values` of which `good` holds, in percent; 100 if there are none.
pub fn percent<T>(values: &[T], good: impl Fn(&T) -> bool) -> f64 {
    if values.is_empty() {
        return 100.0;
    }
    100.0 * values.iter().filter(|value| good(value)).count() as f64 / values.len() as f64
}

/// Frames scored together.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct FrameScore {
    /// Frames that have a true pitch.
    pub frames: usize,
    /// Of them, without an estimate or off by 50 cents or more.
    pub wrong: usize,
    /// Sum of the squared errors of the others.
    pub squares: f64,
}

impl FrameScore {
    /// Scores pairs of estimate and truth.
    pub fn of(pairs: impl Iterator<Item = (Option<f64>, Option<f64>)>) -> Self {
        let mut score = Self::default();
        for (estimate, truth) in pairs {
            let Some(truth) = truth else { continue };
            score.frames += 1;
            match estimate.map(|estimate| (estimate - truth).abs()) {
                Some(off) if off < WRONG_CENTS => score.squares += off * off,
                _ => score.wrong += 1,
            }
        }
        score
    }

    /// Both together.
    pub fn and(self, other: Self) -> Self {
        Self {
            frames: self.frames + other.frames,
            wrong: self.wrong + other.wrong,
            squares: self.squares + other.squares,
        }
    }

    /// Root mean square error of the frames that are not wrong, in cents.
    pub fn rms(&self) -> f64 {
        let good = (self.frames - self.wrong).max(1);
        (self.squares / good as f64).sqrt()
    }

    /// Share of wrong or missing frames, in percent.
    pub fn wrong_pct(&self) -> f64 {
        100.0 * self.wrong as f64 / self.frames.max(1) as f64
    }
}

/// Whether a whole note was heard in a wrong octave: more than half of its estimates lie more than
/// 600 cents off.
pub fn octave_off(pairs: impl Iterator<Item = (Option<f64>, Option<f64>)>) -> bool {
    let (mut far, mut all) = (0usize, 0usize);
    for (estimate, truth) in pairs {
        if let Some((estimate, truth)) = estimate.zip(truth) {
            all += 1;
            far += usize::from((estimate - truth).abs() > 600.0);
        }
    }
    2 * far > all
}

/// Pairs each true time with the nearest heard one within `early` before and `late` behind it, each
/// heard one at most once, in the order of time. Returns for each true one the index of the heard.
pub fn matched(truth: &[f64], heard: &[f64], early: f64, late: f64) -> Vec<Option<usize>> {
    let mut free = vec![true; heard.len()];
    truth
        .iter()
        .map(|&at| {
            let near = heard
                .iter()
                .enumerate()
                .filter(|&(i, &time)| free[i] && time > at - early && time < at + late);
            let best = near.min_by(|(_, a), (_, b)| (*a - at).abs().total_cmp(&(*b - at).abs()))?.0;
            free[best] = false;
            Some(best)
        })
        .collect()
}

/// How many true ones were missed, and how many heard ones are extra.
pub fn missed_and_extra(matches: &[Option<usize>], heard: usize) -> (usize, usize) {
    let found = matches.iter().flatten().count();
    (matches.len() - found, heard - found)
}

/// How sure frames were and how often they were right, by tenths of confidence.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Tenth {
    /// Frames with a confidence within this tenth.
    pub frames: usize,
    /// Sum of their confidences.
    pub claimed: f64,
    /// How many were right.
    pub right: usize,
}

/// The calibration table of pairs of confidence (0 to 1) and "was right".
pub fn calibration(frames: impl Iterator<Item = (f64, bool)>) -> [Tenth; 10] {
    let mut tenths = [Tenth::default(); 10];
    for (confidence, right) in frames {
        let tenth = &mut tenths[((10.0 * confidence) as usize).min(9)];
        tenth.frames += 1;
        tenth.claimed += confidence;
        tenth.right += usize::from(right);
    }
    tenths
}

/// A sine on a slow trend, fitted to a stretch of pitch.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Fit {
    /// Oscillations per second.
    pub rate_hz: f64,
    /// Crest to trough, in cents.
    pub width: f64,
    /// Value of the trend in the middle, in cents.
    pub centre: f64,
}

/// Rates that are tried in a fit, in Hz.
const FIT_HZ: (f64, f64) = (3.0, 9.5);

/// Least-squares fit of a sine and a polynomial of this order (1 or 2) to pairs of time (s) and
/// cents; `None` with fewer than 20 points. The rate is searched on a grid and then by golden section.
pub fn fitted(points: &[(f64, f64)], order: usize) -> Option<Fit> {
    if points.len() < 20 {
        return None;
    }
    let middle = 0.5 * (points[0].0 + points[points.len() - 1].0);
    let level = points.iter().map(|p| p.1).sum::<f64>() / points.len() as f64;
    let rest = |hz: f64| solve(points, middle, level, order, hz).map_or(f64::INFINITY, |s| s.1);
    let steps = 26;
    let step = (FIT_HZ.1 - FIT_HZ.0) / f64::from(steps);
    let best = (0..=steps)
        .map(|i| FIT_HZ.0 + step * f64::from(i))
        .min_by(|a, b| rest(*a).total_cmp(&rest(*b)))?;
    let golden = 0.5 * (5f64.sqrt() - 1.0);
    let (mut low, mut high) = ((best - step).max(FIT_HZ.0), (best + step).min(FIT_HZ.1));
    let (mut a, mut b) = (high - golden * (high - low), low + golden * (high - low));
    let (mut at_a, mut at_b) = (rest(a), rest(b));
    while high - low > 1e-4 {
        if at_a < at_b {
            (high, b, at_b) = (b, a, at_a);
            a = high - golden * (high - low);
            at_a = rest(a);
        } else {
            (low, a, at_a) = (a, b, at_b);
            b = low + golden * (high - low);
            at_b = rest(b);
        }
    }
    let rate_hz = 0.5 * (low + high);
    let (weights, _) = solve(points, middle, level, order, rate_hz)?;
    Some(Fit { rate_hz, width: 2.0 * weights[0].hypot(weights[1]), centre: level + weights[2] })
}

/// Weights of cosine, sine, 1, t, t² and the sum of squares left over.
fn solve(
    points: &[(f64, f64)],
    middle: f64,
    level: f64,
    order: usize,
    hz: f64,
) -> Option<([f64; 5], f64)> {
    let size = 3 + order;
    let mut matrix = [[0.0; 6]; 5];
    let mut squares = 0.0;
    for &(time, cents) in points {
        let (t, y) = (time - middle, cents - level);
        let (sin, cos) = (std::f64::consts::TAU * hz * t).sin_cos();
        let row = [cos, sin, 1.0, t, t * t];
        for i in 0..size {
            for j in 0..size {
                matrix[i][j] += row[i] * row[j];
            }
            matrix[i][5] += row[i] * y;
        }
        squares += y * y;
    }
    let right: [f64; 5] = std::array::from_fn(|i| matrix[i][5]);
    for i in 0..size {
        let pivot = (i..size).max_by(|&a, &b| matrix[a][i].abs().total_cmp(&matrix[b][i].abs()))?;
        matrix.swap(i, pivot);
        if matrix[i][i].abs() < 1e-12 {
            return None;
        }
        let top = matrix[i];
        for lower in &mut matrix[i + 1..size] {
            let factor = lower[i] / top[i];
            for (value, above) in lower.iter_mut().zip(&top) {
                *value -= factor * above;
            }
        }
    }
    let mut weights = [0.0; 5];
    for i in (0..size).rev() {
        let known: f64 = (i + 1..size).map(|j| matrix[i][j] * weights[j]).sum();
        weights[i] = (matrix[i][5] - known) / matrix[i][i];
    }
    let explained: f64 = weights.iter().zip(&right).map(|(w, r)| w * r).sum();
    Some((weights, (squares - explained).max(0.0)))
}

/// Windows of a note's fit: length and step, in seconds.
const WINDOW_SECS: f64 = 0.6;
const STEP_SECS: f64 = 0.1;

/// Medians of the fits over windows of 0.6 s, 0.1 s apart, from `from` to `to`, on the points
/// themselves. Windows that lack more than a fifth of their points (one per 5 ms) are left out.
pub fn fitted_note(points: &[(f64, f64)], from: f64, to: f64) -> Option<Fit> {
    let mut fits = Vec::new();
    let mut start = from;
    while start + WINDOW_SECS <= to + 1e-9 {
        let first = points.partition_point(|p| p.0 < start - 1e-9);
        let last = points.partition_point(|p| p.0 <= start + WINDOW_SECS + 1e-9);
        if (last - first) as f64 > 0.8 * WINDOW_SECS / 0.005 {
            fits.extend(fitted(&points[first..last], 1));
        }
        start += STEP_SECS;
    }
    let of = |value: fn(&Fit) -> f64| median(&fits.iter().map(value).collect::<Vec<f64>>());
    Some(Fit { rate_hz: of(|f| f.rate_hz)?, width: of(|f| f.width)?, centre: of(|f| f.centre)? })
}

/// By how much time stamps are late, in seconds: the shift of `truth` (pairs of estimate and truth,
/// `step` seconds apart) that explains most of the error. `None` if the truth does not move.
pub fn lateness(pairs: &[(f64, f64)], step: f64) -> Option<f64> {
    let (mut along, mut steep) = (0.0, 0.0);
    for trio in pairs.windows(3) {
        let slope = (trio[2].1 - trio[0].1) / (2.0 * step);
        along += slope * (trio[1].0 - trio[1].1);
        steep += slope * slope;
    }
    (steep > 1.0).then(|| -along / steep)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::TAU;

    #[test]
    fn missing_frames_and_far_ones_are_wrong_and_do_not_enter_the_rms() {
        let pairs = [
            (Some(3.0), Some(0.0)),
            (Some(-4.0), Some(0.0)),
            (Some(50.0), Some(0.0)),
            (None, Some(0.0)),
            (Some(9.0), None),
        ];
        let score = FrameScore::of(pairs.into_iter());
        assert_eq!((score.frames, score.wrong), (4, 2));
        assert!((score.rms() - 12.5f64.sqrt()).abs() < 1e-12);
        assert_eq!(score.wrong_pct(), 50.0);
        assert_eq!(score.and(score).wrong, 4);
    }

    #[test]
    fn an_octave_error_is_told_by_more_than_half_of_the_note() {
        let note = |far: usize| {
            (0..10).map(move |i| (Some(if i < far { 1_200.0 } else { 0.0 }), Some(0.0)))
        };
        assert!(!octave_off(note(5)));
        assert!(octave_off(note(6)));
        assert!(!octave_off([(None, Some(0.0))].into_iter()));
    }

    #[test]
    fn notes_are_matched_once_each_and_the_rest_is_extra() {
        let matches = matched(&[1.0, 2.0, 3.0], &[1.02, 1.05, 2.3, 2.95], 0.1, 0.15);
        assert_eq!(matches, [Some(0), None, Some(3)]);
        assert_eq!(missed_and_extra(&matches, 4), (1, 2));
    }

    #[test]
    fn quantiles_lie_between_neighbours() {
        let values = [4.0, 1.0, 3.0, 2.0];
        assert_eq!(median(&values), Some(2.5));
        assert_eq!(quantile(&values, 1.0), Some(4.0));
        assert_eq!(quantile(&[], 0.5), None);
        assert_eq!(percent(&values, |v| *v > 1.5), 75.0);
        // A note without a value counts against, and does not spoil, the quantiles below it.
        assert_eq!(quantile(&[0.1, 0.2, f64::INFINITY], 0.5), Some(0.2));
    }

    #[test]
    fn a_calibration_table_has_what_was_claimed_and_what_came_true() {
        let table =
            calibration([(0.95, true), (0.91, false), (1.0, true), (0.05, false)].into_iter());
        assert_eq!((table[9].frames, table[9].right, table[0].frames), (3, 2, 1));
        assert!((table[9].claimed - 2.86).abs() < 1e-12);
    }

    #[test]
    fn a_fit_finds_rate_width_and_centre_under_drift() {
        let points: Vec<(f64, f64)> = (0..440)
            .map(|i| {
                let t = 0.3 + f64::from(i) * 0.005;
                (t, 12.0 - 9.0 * (t - 1.4) + 20.0 * (TAU * 5.37 * t + 1.0).sin())
            })
            .collect();
        let fit = fitted_note(&points, 0.6, 2.4).expect("points enough");
        assert!((fit.rate_hz - 5.37).abs() < 1e-3 && (fit.width - 40.0).abs() < 1e-3, "{fit:?}");
        let curved: Vec<(f64, f64)> =
            points.iter().take(200).map(|&(t, y)| (t, y + 30.0 * (t - 0.8) * (t - 0.8))).collect();
        let fit = fitted(&curved, 2).expect("points enough");
        assert!((fit.width - 40.0).abs() < 1e-3, "{fit:?}");
        assert_eq!(fitted(&points[..10], 1), None);
    }

    #[test]
    fn late_time_stamps_are_found_out() {
        let at = |t: f64| 30.0 * (TAU * 6.0 * t).sin();
        let pairs: Vec<(f64, f64)> =
            (0..200).map(|i| f64::from(i) * 0.005).map(|t| (at(t - 0.001), at(t))).collect();
        let late = lateness(&pairs, 0.005).expect("it moves");
        assert!((late - 0.001).abs() < 5e-5, "{late}");
        assert_eq!(lateness(&[(1.0, 0.0); 9], 0.005), None);
    }
}
