//! Whether oscillations fall on the beat: how early or late they come beside the wanted ones.
//!
//! To be asked only where the time of the sound and that of the beats are known to agree, by a measured delay.

use std::f64::consts::TAU;

use tuning::{Secs, figure};
use vibrato::Measure;

use crate::ears::Swing;
use crate::finding::{Finding, FindingKind};
use crate::pacer::Pacer;
use crate::told::beyond_doubt;

/// Fewer oscillations say nothing.
const LEAST: usize = 4;
/// They keep together with the beat if `count · resultant²` is at least this: by Rayleigh's test, the chance
/// that oscillations at any times look so is then about exp(-3), 5 % (Mardia and Jupp, *Directional
/// Statistics*, 2000, section 6.3.1; from memory).
const TOGETHER: f64 = 3.0;
/// An oscillation is near its beat within this share of a period; by chance a quarter of them are.
const NEAR_SHARE: f64 = 0.125;

/// What a player lets fall on the beat. Taught are all three: to start on the note and go below it (J. American Viola
/// Society 1998, 43), and to let the high point click with the beat.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum OnStart {
    /// The note, on the way down from it.
    #[default]
    Note,
    /// A crest.
    Crest,
    /// A trough.
    Trough,
}

impl OnStart {
    /// Where in an oscillation the beat falls, as a share of it from a trough on. A motion below the note touches it with
    /// its crests.
    pub fn phase(self, swing: Swing) -> f64 {
        match (self, swing) {
            (Self::Trough, _) => 0.0,
            (Self::Crest, _) | (Self::Note, Swing::Below) => 0.5,
            (Self::Note, Swing::Around) => 0.75,
        }
    }
}

/// How the oscillations of a round lie beside the beat.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OnBeat {
    /// How much later than wanted they come on average; earlier is negative. `None` where they do not keep
    /// together with the beat, so that there is no such average.
    pub offset: Option<Measure<Secs>>,
    /// Standard deviation of their offsets.
    pub spread: Secs,
    /// Share of them that comes within an eighth of a period of its wanted instant, 0 to 1; by chance a quarter.
    pub near: f64,
    /// Oscillations that were compared.
    pub count: usize,
    /// How long a wanted one is.
    pub period: Secs,
}

impl OnBeat {
    /// Compares the turns of the motion (time, and `true` for a crest), in order of time, with what `pacer` wants, where the
    /// beat is meant to fall at `phase` ([`OnStart::phase`]). Both are in the time of the sound. What is played while
    /// nothing is wanted does not count; `None` with fewer than 4 oscillations.
    pub fn of(pacer: &Pacer, turns: &[(Secs, bool)], phase: f64) -> Option<Self> {
        let period = 1.0 / pacer.rate(0).get();
        // Crests where they are on the beat, else the first trough after it.
        let wants_crest = phase == 0.5;
        let after = if wants_crest { 0.0 } else { (1.0 - phase).fract() * period };
        let played = turns.iter().filter(|(_, crest)| *crest == wants_crest);
        let offsets: Vec<f64> =
            played.filter_map(|(time, _)| offset(pacer, time.get() - after, period)).collect();
        if offsets.len() < LEAST {
            return None;
        }
        Some(Self::of_offsets(&offsets, period))
    }

    /// From offsets that are known up to whole periods.
    fn of_offsets(offsets: &[f64], period: f64) -> Self {
        let count = offsets.len() as f64;
        let angle = |offset: &f64| TAU * offset / period;
        let east: f64 = offsets.iter().map(|o| angle(o).cos()).sum::<f64>() / count;
        let north: f64 = offsets.iter().map(|o| angle(o).sin()).sum::<f64>() / count;
        let together = count * (east * east + north * north) >= TOGETHER;
        let middle = north.atan2(east) / TAU * period;
        // On the circle each lies within half a period of their middle.
        let around: Vec<f64> =
            offsets.iter().map(|offset| within_half(offset - middle, period)).collect();
        let beside = around.iter().sum::<f64>() / count;
        let squares: f64 = around.iter().map(|a| (a - beside).powi(2)).sum();
        let spread = (squares / (count - 1.0).max(1.0)).sqrt();
        let near = offsets
            .iter()
            .filter(|offset| within_half(**offset, period).abs() <= NEAR_SHARE * period);
        Self {
            offset: together.then(|| Measure {
                value: Secs(middle + beside),
                se: Some(Secs(spread / effective_count(&around, beside).sqrt())),
            }),
            spread: Secs(spread),
            near: near.count() as f64 / count,
            count: offsets.len(),
            period: Secs(period),
        }
    }
}

impl OnBeat {
    /// How the oscillations of a round lie beside the beat, without a capital and a full stop.
    pub fn wording(&self) -> String {
        let rounded = |value: f64| figure::number(Some(value), 0, false);
        let near = format!(
            "{} of {} were on the beat",
            rounded(self.near * self.count as f64),
            self.count
        );
        let Some(offset) = self.offset else {
            return format!(
                "the oscillations do not keep together with the beat: {near}, by chance a quarter would"
            );
        };
        let ms = |secs: Secs| 1e3 * secs.get();
        let late = ms(offset.value);
        let side = |late: f64| if late < 0.0 { "before" } else { "after" };
        let by = figure::with_doubt(late.abs(), offset.se.map(ms), 0, false);
        let spread = rounded(ms(self.spread));
        format!(
            "the oscillations begin {by} ms {} the beat’s, with a spread of {spread} ms; {near}",
            side(late)
        )
    }
}

/// Neighbours hang together by no more than this: of a few values nobody can tell whether they do by more.
const MOST_TOGETHER: f64 = 0.9;

/// As how many independent values these count for their mean: one that comes late is followed by others that do. With
/// the correlation `r` of neighbours that is `n · (1 − r) / (1 + r)` (G. V. Bayley and J. M. Hammersley, J. R. Stat. Soc.
/// Suppl. 8 (1946), 184, for a first-order process), with `r` freed of the `(1 + 4 r) / n` by which few values show too
/// little of it (M. G. Kendall, Biometrika 41 (1954), 403); both from memory.
fn effective_count(values: &[f64], mean: f64) -> f64 {
    let count = values.len() as f64;
    let squares: f64 = values.iter().map(|value| (value - mean).powi(2)).sum();
    let pairs: f64 = values.windows(2).map(|pair| (pair[0] - mean) * (pair[1] - mean)).sum();
    if squares <= 0.0 {
        return count;
    }
    let together = (count * pairs / squares + 1.0) / (count - 4.0).max(1.0);
    let together = together.clamp(0.0, MOST_TOGETHER);
    (count * (1.0 - together) / (1.0 + together)).max(1.0)
}

/// What is to be told of it: oscillations that come early, or late, or with no regard to the beat. Nothing
/// where they are near it.
pub(crate) fn beside_beat(found: &OnBeat) -> Option<Finding> {
    let near = NEAR_SHARE * found.period.get();
    let finding =
        |measure, value| Finding::new(FindingKind::Beat, None, found.wording(), measure, value);
    let Some(offset) = found.offset else {
        return Some(finding(("near_beat", "share"), found.near));
    };
    let late = offset.value.get();
    let told = late.abs() > near && beyond_doubt(offset.bare(), 1);
    told.then(|| finding(("beat_offset", "s"), late))
}

/// How much later than the nearest wanted one something comes; `None` where none is wanted within half a
/// period.
fn offset(pacer: &Pacer, time: f64, period: f64) -> Option<f64> {
    let (from, to) = (time - 1.5 * period, time + 1.5 * period);
    let wanted = pacer.between(Secs(from), Secs(to));
    let offsets = wanted.iter().map(|wanted| time - wanted.start.get());
    offsets
        .min_by(|a, b| a.abs().total_cmp(&b.abs()))
        .filter(|offset| offset.abs() <= 0.5 * period + 1e-9)
}

fn within_half(offset: f64, period: f64) -> f64 {
    offset - period * (offset / period).round()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::drill::Drill;

    const TROUGH: f64 = 0.0;

    /// Three turns of so many oscillations at 4 Hz, from 12.0 s on.
    fn pacer(count: &str, join: &str) -> Pacer {
        let text = format!(
            "(version: 1, title: \"t\", kind: Transfer, on: {{\"cello\": (place: \"\", hand: {{2: \"F3\"}}, fingers: [2, 2, 2])}}, count: {count}, pace: Beat(bpm: 60.0, per_beat: 4.0), count_in: 2, join: {join})"
        );
        let drill = Drill::from_ron(&text, "t", "t.ron").expect("well written");
        let turns = drill.turns(&drill.places["cello"]);
        Pacer::new(&drill, &turns, Secs(10.0)).expect("paced")
    }

    /// Troughs and crests at `rate` Hz from `from` to `to`, each trough moved by `beside` of its number.
    fn turns(from: f64, to: f64, rate: f64, beside: impl Fn(u32) -> f64) -> Vec<(Secs, bool)> {
        let count = ((to - from) * rate) as u32;
        (0..count)
            .flat_map(|number| {
                let at = from + f64::from(number) / rate + beside(number);
                [(Secs(at), false), (Secs(at + 0.5 / rate), true)]
            })
            .collect()
    }

    /// Even between -1 and 1, the same each time.
    fn chance(number: u32) -> f64 {
        let mixed = number.wrapping_mul(2_654_435_761) ^ 0x9E37_79B9;
        f64::from(mixed.wrapping_mul(2_246_822_519) >> 8) / f64::from(1 << 23) - 1.0
    }

    #[test]
    fn early_and_late_are_told_with_their_doubt() {
        let pacer = pacer("Oscillations(8)", "Legato");
        for late in [-0.08, -0.02, 0.0, 0.03, 0.1] {
            let played = turns(12.0, 18.0, 4.0, |number| late + 0.02 * chance(number));
            let told = OnBeat::of(&pacer, &played, TROUGH).expect("enough");
            let offset = told.offset.expect("together with the beat");
            let se = offset.se.expect("known").get();
            let off = offset.value.get() - late;
            assert!(off.abs() < 3.0 * se && se < 0.004, "{late}: {told:?}");
            assert!((0.008..0.016).contains(&told.spread.get()), "{told:?}");
            assert!((23..=24).contains(&told.count), "{told:?}");
            if late == 0.0 {
                assert_eq!(told.near, 1.0, "{told:?}");
            } else if late.abs() > 0.07 {
                assert_eq!(told.near, 0.0, "{told:?}");
            }
        }
    }

    #[test]
    fn crests_count_where_crests_are_wanted() {
        let pacer = pacer("Oscillations(8)", "Legato");
        let played = turns(12.0, 18.0, 4.0, |_| 0.01);
        let told = OnBeat::of(&pacer, &played, 0.5).expect("enough");
        let offset = told.offset.expect("together with the beat").value.get();
        // Half a period beside: the one side is as near as the other.
        assert!((offset.abs() - 0.115).abs() < 0.006, "{told:?}");
        assert_eq!(told.near, 0.0);
    }

    #[test]
    fn a_motion_at_a_pace_of_its_own_has_no_offset() {
        let pacer = pacer("Oscillations(8)", "Legato");
        for rate in [3.3, 4.7, 5.2] {
            let played = turns(12.0, 18.0, rate, |_| 0.0);
            let told = OnBeat::of(&pacer, &played, TROUGH).expect("enough");
            assert_eq!(told.offset, None, "{rate} Hz: {told:?}");
            assert!((0.1..0.45).contains(&told.near), "{rate} Hz: {told:?}");
        }
    }

    #[test]
    fn what_is_not_wanted_does_not_count() {
        let pacer = pacer("Oscillations(4)", "Stop");
        // Played on through the beat in which the bow should stop, and before and after the round.
        let played = turns(8.0, 22.0, 4.0, |_| 0.0);
        let told = OnBeat::of(&pacer, &played, TROUGH).expect("enough");
        assert_eq!(told.count, 12, "{told:?}");
        let few = turns(12.0, 12.75, 4.0, |_| 0.0);
        assert_eq!(OnBeat::of(&pacer, &few, TROUGH), None);
    }

    #[test]
    fn the_beat_is_told_with_its_side_and_doubt() {
        let found = OnBeat {
            offset: Some(Measure { value: Secs(-0.0312), se: Some(Secs(0.004)) }),
            spread: Secs(0.022),
            near: 0.75,
            count: 12,
            period: Secs(0.5),
        };
        let said = found.wording();
        assert!(said.contains("31 ±4 ms before the beat’s"), "{said}");
        let none = OnBeat { offset: None, ..found };
        assert!(none.wording().contains("do not keep together"));
    }

    #[test]
    fn what_is_told_is_late_early_or_apart_and_nothing_where_all_is_near() {
        let pacer = pacer("Oscillations(8)", "Legato");
        let told = |rate: f64, late: f64| {
            let played = turns(12.0, 18.0, rate, |n| late + 0.01 * chance(n));
            beside_beat(&OnBeat::of(&pacer, &played, TROUGH).expect("enough"))
        };
        assert_eq!(told(4.0, 0.01), None);
        let late = told(4.0, 0.05).expect("late");
        assert!(late.words.contains("after") && (late.value - 0.05).abs() < 0.01, "{late:?}");
        let early = told(4.0, -0.05).expect("early");
        assert!(early.words.contains("before") && early.value < -0.04, "{early:?}");
        let apart = told(4.7, 0.0).expect("apart");
        assert!(apart.words.contains("do not keep together"), "{apart:?}");
    }

    #[test]
    fn what_is_meant_to_fall_on_the_beat_is_on_it_and_what_is_not_lies_beside() {
        let pacer = pacer("Oscillations(8)", "Legato");
        // Of 250 ms: troughs so long after the beat.
        for (after, on_start, swing) in [
            (0.0, OnStart::Trough, Swing::Around),
            (0.125, OnStart::Crest, Swing::Around),
            (0.125, OnStart::Note, Swing::Below),
            (0.0625, OnStart::Note, Swing::Around),
        ] {
            let played = turns(12.0, 18.0, 4.0, |n| after + 0.005 * chance(n));
            let late_ms = |on_start: OnStart, swing| {
                let found = OnBeat::of(&pacer, &played, on_start.phase(swing)).expect("enough");
                1e3 * found.offset.expect("together").value.get()
            };
            assert!(late_ms(on_start, swing).abs() < 3.0, "{on_start:?} {swing:?}");
            let other = if on_start == OnStart::Trough { OnStart::Note } else { OnStart::Trough };
            assert!(late_ms(other, swing).abs() > 55.0, "{on_start:?} {swing:?}");
        }
    }

    #[test]
    fn the_doubt_of_an_average_knows_that_neighbours_come_late_together() {
        const TRIES: u32 = 500;
        let mut number = 0;
        let mut covered = 0;
        for _ in 0..TRIES {
            let mut last = 0.0;
            let offsets: Vec<f64> = (0..40)
                .map(|_| {
                    number += 1;
                    // Each holds seven tenths of the one before.
                    last = 0.7 * last + 0.005 * chance(number);
                    last
                })
                .collect();
            let offset = OnBeat::of_offsets(&offsets, 0.25).offset.expect("together");
            let se = offset.se.expect("known").get();
            covered += u32::from(offset.value.get().abs() < 2.0 * se);
        }
        let share = f64::from(covered) / f64::from(TRIES);
        assert!(share > 0.88, "two standard errors hold the truth in {share} of all tries");
    }
}
