//! One difference with its doubt, and how large it has to be to matter.

use tuning::{Cents, Hz};
use vibrato::{Measure, Note, Oscillation, Vibrato};

use super::REST_SECS;

/// What is compared.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Quantity {
    /// Oscillations per second.
    Rate,
    /// Crest to trough, in cents.
    Width,
    /// Mean pitch, in cents against the note the model plays.
    Centre,
    /// From the start of the note to its first oscillation, in seconds.
    Onset,
    /// Spread of the periods, in percent.
    Spread,
    /// Spread of the widths, in percent.
    WidthSpread,
    /// Share of the motion's power outside its fundamental, in percent; 0 is a sine.
    Smoothness,
    /// Time without motion since the note before, in seconds.
    Gap,
    /// How far the width grows through the note, in percent of its mean.
    Growth,
}

impl Quantity {
    /// All of them, in the order they are written.
    pub const ALL: [Self; 9] = [
        Self::Rate,
        Self::Width,
        Self::Centre,
        Self::Onset,
        Self::Spread,
        Self::WidthSpread,
        Self::Smoothness,
        Self::Gap,
        Self::Growth,
    ];

    /// It in a word or two.
    pub fn word(self) -> &'static str {
        match self {
            Self::Rate => "rate",
            Self::Width => "width",
            Self::Centre => "centre",
            Self::Onset => "onset",
            Self::Spread => "spread of rate",
            Self::WidthSpread => "spread of width",
            Self::Smoothness => "smoothness",
            Self::Gap => "gap",
            Self::Growth => "contour",
        }
    }

    /// Its unit.
    pub fn unit(self) -> &'static str {
        match self {
            Self::Rate => "Hz",
            Self::Width | Self::Centre => "cents",
            Self::Onset | Self::Gap => "s",
            Self::Spread | Self::WidthSpread | Self::Smoothness | Self::Growth => "%",
        }
    }
}

/// The smallest difference in rate that is spoken of, as a share of the model's: about what is just
/// noticed of pulses below 20 Hz (Weber fraction of about 5 %, Front. Psychol. 5 (2014), 1453); for
/// vibrato by analogy only, no published value being at hand.
const RATE_SHARE: f64 = 0.05;
/// The same for the width: an artist's own successive cycles differ by 10 % in extent (A. M. Small, in
/// C. E. Seashore (ed.), studies of the 1930s). What is just heard has no published value at hand.
const WIDTH_SHARE: f64 = 0.10;
/// ...and no less than the unsteadiness of a straight tone, 2 cents (Brown and Vaughn, J. Acoust. Soc.
/// Am. 100 (1996), 1728).
const WIDTH_LEAST: f64 = 2.0;
/// The same for the centre, in cents: between the 2 to 3 that the best trained just hear (Micheyl et al.
/// 2006, Hear. Res. 219, from memory) and the mean of 50 musicians, 10 (Arndt et al. 2020, Exp. Brain Res.
/// 238).
const CENTRE_LEAST: f64 = 5.0;
/// The rest is ours, for nothing published draws such lines: times of about half an oscillation, in
/// seconds...
const TIME_LEAST: f64 = 0.1;
/// ...and shares by which one note of a steady player differs from the next, in points of percent.
const SPREAD_LEAST: f64 = 4.0;
const SMOOTHNESS_LEAST: f64 = 4.0;
const GROWTH_LEAST: f64 = 20.0;
/// So many standard errors are taken for the doubt of a difference: 95 of 100 chance errors are smaller.
const DOUBTS: f64 = 2.0;

/// An oscillation that a change of note cuts is counted or is not: each end of a gap is known to this share
/// of a period (one standard error of what is even over one period).
const CUT_SHARE: f64 = 0.29;
/// A motion is seen over so many of its last cycles.
const SEEN_CYCLES: f64 = 1.5;
/// Least cycles of which a growth can be told.
const GROWTH_CYCLES: usize = 5;

/// Echo minus model.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Difference {
    /// What differs.
    pub quantity: Quantity,
    /// Echo minus model, in the unit of the quantity.
    pub value: f64,
    /// One standard error, both notes' together; `None` where one of them cannot be told.
    pub se: Option<f64>,
    /// The smallest difference that is worth a word, in the same unit.
    pub least: f64,
}

impl Difference {
    /// How large it is in units of what can be told: above 1 it is more than its doubt and more than
    /// the least that matters. 0 where the doubt is not known.
    pub fn units(&self) -> f64 {
        self.se.map_or(0.0, |se| self.value.abs() / self.least.hypot(DOUBTS * se))
    }
}

/// The band around a model's rate and width in which an echo counts as near to it: the least that
/// matters and the doubt to either side.
pub fn band(vibrato: &Vibrato) -> ((Hz, Hz), (Cents, Cents)) {
    let around = |value: f64, least: f64, se: Option<f64>| {
        let half = least.hypot(DOUBTS * se.unwrap_or(0.0));
        ((value - half).max(0.0), value + half)
    };
    let (rate, width) = (vibrato.rate.value.0, vibrato.width.value.0);
    let rates = around(rate, RATE_SHARE * rate, vibrato.rate.se.map(Hz::get));
    let widths = around(width, least_width(width), vibrato.width.se.map(Cents::get));
    ((Hz(rates.0), Hz(rates.1)), (Cents(widths.0), Cents(widths.1)))
}

fn least_width(width: f64) -> f64 {
    (WIDTH_SHARE * width).max(WIDTH_LEAST)
}

fn bare<T: Copy>(measure: Measure<T>, bare: fn(T) -> f64) -> Measure<f64> {
    Measure { value: bare(measure.value), se: measure.se.map(bare) }
}

/// What differs between two notes; each comes with the one before it.
pub(super) fn differences(
    (model, before_model): (&Note, Option<&Note>),
    (echo, before_echo): (&Note, Option<&Note>),
    transposed: i32,
) -> Vec<Difference> {
    let difference = |quantity, a: Option<Measure<f64>>, b: Option<Measure<f64>>, least| {
        let (a, b) = (a?, b?);
        Some(Difference {
            quantity,
            value: b.value - a.value,
            se: a.se.zip(b.se).map(|(a, b)| a.hypot(b)),
            least,
        })
    };
    // Both are cents above the note of the model, wherever on the fingerboard the echo is played.
    let astray = 100.0 * f64::from(echo.midi - model.midi - transposed);
    let echoed = centre(echo).map(|centre| Measure { value: centre.value + astray, ..centre });
    let centres = difference(Quantity::Centre, centre(model), echoed, CENTRE_LEAST);
    let gaps =
        difference(Quantity::Gap, gap(before_model, model), gap(before_echo, echo), TIME_LEAST);
    let (Some(a), Some(b)) = (&model.vibrato, &echo.vibrato) else {
        return centres.into_iter().collect();
    };
    let (rate, width) = (a.rate.value.0, a.width.value.0);
    let both = |of: &dyn Fn(&Vibrato) -> Option<Measure<f64>>| (of(a), of(b));
    let of = |quantity, (a, b): (Option<_>, Option<_>), least| difference(quantity, a, b, least);
    [
        of(Quantity::Rate, both(&|v| Some(rate_of(v))), RATE_SHARE * rate),
        of(Quantity::Width, both(&|v| Some(bare(v.width, Cents::get))), least_width(width)),
        centres,
        of(Quantity::Onset, both(&|v| Some(onset_of(v))), TIME_LEAST),
        of(Quantity::Spread, both(&|v| v.rate_spread_pct), SPREAD_LEAST),
        of(Quantity::WidthSpread, both(&|v| v.width_spread_pct), SPREAD_LEAST),
        of(Quantity::Smoothness, both(&|v| v.smoothness_pct), SMOOTHNESS_LEAST),
        gaps,
        of(Quantity::Growth, both(&growth), GROWTH_LEAST),
    ]
    .into_iter()
    .flatten()
    .collect()
}

/// The rate; its doubt is that of the measuring and, as that of a width is, what chance makes of so many
/// cycles that are not alike: a fit through all turns and a count from the first to the last differ by it.
fn rate_of(vibrato: &Vibrato) -> Measure<f64> {
    let rate = bare(vibrato.rate, Hz::get);
    let cycles = vibrato.oscillations.len().max(1) as f64;
    let spread = vibrato.rate_spread_pct.map_or(0.0, |spread| spread.value);
    let chance = rate.value * 0.01 * spread / cycles.sqrt();
    Measure { value: rate.value, se: rate.se.map(|se| se.hypot(chance)) }
}

/// The onset. Where the ear saw the motion well before the first oscillation that it counts, as where the
/// first ones are out of step with the rest, the doubt reaches back to there.
fn onset_of(vibrato: &Vibrato) -> Measure<f64> {
    let onset = bare(vibrato.onset, |secs| secs.0);
    let earlier = || {
        let (first, seen) = (vibrato.oscillations.first()?, vibrato.contour.first()?);
        Some(first.start.0 - (seen.time.0 - SEEN_CYCLES * first.period.0))
    };
    let back = earlier().map_or(0.0, |earlier| earlier.max(0.0));
    Measure { value: onset.value, se: onset.se.map(|se| se.hypot(back / DOUBTS)) }
}

/// Mean pitch above the note's reference: over whole oscillations where there are any.
fn centre(note: &Note) -> Option<Measure<f64>> {
    let centre = match &note.vibrato {
        Some(vibrato) => vibrato.centre,
        None => note.offset,
    };
    Some(bare(centre, Cents::get))
}

/// From the end of the last oscillation of the note before to the first of this one; `None` where one of them has
/// none, or where a rest lies between them.
pub fn gap(before: Option<&Note>, note: &Note) -> Option<Measure<f64>> {
    let before = before?;
    if note.start.0 - before.end.0 > REST_SECS {
        return None;
    }
    let last = before.vibrato.as_ref()?.oscillations.last()?;
    let first = note.vibrato.as_ref()?.oscillations.first()?;
    let ends = |o: &Oscillation| CUT_SHARE * o.period.0;
    Some(Measure {
        value: (first.start.0 - last.start.0 - last.period.0).max(0.0),
        se: Some(ends(last).hypot(ends(first))),
    })
}

/// How far the width grows from the first oscillation of a note to its last, in percent of its mean:
/// the slope of the line that fits the widths best. `None` of fewer than five.
pub fn growth(vibrato: &Vibrato) -> Option<Measure<f64>> {
    let points: Vec<(f64, f64)> = vibrato
        .oscillations
        .iter()
        .map(|o| (o.start.0 + 0.5 * o.period.0, o.crest.0 - o.trough.0))
        .collect();
    let count = points.len() as f64;
    if points.len() < GROWTH_CYCLES {
        return None;
    }
    let (mean_t, mean_w) =
        points.iter().fold((0.0, 0.0), |(t, w), point| (t + point.0 / count, w + point.1 / count));
    let (mut tt, mut tw) = (0.0, 0.0);
    for &(t, w) in &points {
        tt += (t - mean_t) * (t - mean_t);
        tw += (t - mean_t) * (w - mean_w);
    }
    if tt <= 0.0 || mean_w <= 0.0 {
        return None;
    }
    let slope = tw / tt;
    let left: f64 = points.iter().map(|&(t, w)| (w - mean_w - slope * (t - mean_t)).powi(2)).sum();
    let span = points[points.len() - 1].0 - points[0].0;
    // No single cycle is known better than the width as a whole is.
    let floor = vibrato.width.se.map_or(0.0, Cents::get) * (12.0 / count).sqrt();
    let se = (left / (count - 2.0) / tt).sqrt() * span;
    Some(Measure {
        value: 100.0 * slope * span / mean_w,
        se: Some(100.0 * se.hypot(floor) / mean_w),
    })
}

#[cfg(test)]
mod tests {
    use super::super::tests::vibrated;
    use super::*;

    #[test]
    fn a_width_that_doubles_grows_by_two_thirds_of_its_mean() {
        let mut note = vibrated(57, 0.0, 5.0, 40.0);
        let vibrato = note.vibrato.as_mut().expect("it has one");
        let last = vibrato.oscillations.len() as f64 - 1.0;
        for (i, oscillation) in vibrato.oscillations.iter_mut().enumerate() {
            let width = 20.0 + 20.0 * i as f64 / last;
            (oscillation.crest, oscillation.trough) = (Cents(width), Cents(0.0));
        }
        let grown = growth(vibrato).expect("cycles enough");
        assert!((grown.value - 100.0 * 20.0 / 30.0).abs() < 1e-6, "{grown:?}");
        vibrato.oscillations.truncate(GROWTH_CYCLES - 1);
        assert_eq!(growth(vibrato), None);
    }

    #[test]
    fn the_band_of_a_model_holds_the_model_and_what_cannot_be_told_from_it() {
        let note = vibrated(57, 0.0, 5.0, 40.0);
        let ((slow, fast), (narrow, wide)) = band(note.vibrato.as_ref().expect("it has one"));
        assert!((slow.0 - (5.0 - 0.25_f64.hypot(0.04))).abs() < 1e-9);
        assert!((fast.0 - (5.0 + 0.25_f64.hypot(0.04))).abs() < 1e-9);
        assert!((wide.0 - narrow.0 - 2.0 * 4.0_f64.hypot(1.0)).abs() < 1e-9);
    }

    #[test]
    fn an_unknown_doubt_is_never_told() {
        let difference =
            Difference { quantity: Quantity::Width, value: 90.0, se: None, least: 4.0 };
        assert_eq!(difference.units(), 0.0);
    }
}
