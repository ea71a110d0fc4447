//! Whether a straight note swells and recedes as the drill asks: by the level at the microphone.
//!
//! That level is relative. How far a player is from the microphone, and what the sound card does to the level, are
//! unknown, so only its course within one turn is told, never how loud anything was.

use std::collections::VecDeque;

use tuning::{Secs, figure};
use vibrato::{Event, upper_median};

use crate::drill::Asked;
use crate::finding::{Finding, FindingKind, named};
use crate::turns::Played;

/// What is heard is kept for so many frames: 5 min.
const KEPT: usize = 60_000;
/// At either end of a turn so much is left out: the bow sets in, the string rings on.
const ENDS: Secs = Secs(0.2);
/// The rest is looked at in so many slices; shorter than this it tells nothing.
const SLICES: usize = 12;
const LEAST: Secs = Secs(0.6);
/// Frames of a slice at least.
const LEAST_FRAMES: usize = 5;
/// Levels between these can be used, in dBFS: below lies the noise of sound cards, above what may be cut off.
const USABLE_DBFS: (f64, f64) = (-70.0, -3.0);
/// It swells, or recedes, by this much at least, in dB: more than the unrest of a held bow. Set by hand.
const TOLD_DB: f64 = 3.0;

/// The level of the sound through a round, frame by frame.
#[derive(Clone, Debug, Default)]
pub(crate) struct Levels {
    /// Time in seconds and level in dBFS, in order.
    frames: VecDeque<(f64, f64)>,
}

/// How the level goes within a turn, in dB.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Swell {
    /// From its start to its loudest.
    rise: f64,
    /// From its loudest to its end.
    fall: f64,
}

impl Levels {
    /// Takes in what the ear reports.
    pub(crate) fn hear(&mut self, event: &Event) {
        if let Event::Frame(frame) = event {
            if self.frames.len() == KEPT {
                self.frames.pop_front();
            }
            self.frames.push_back((frame.time.get(), frame.level_dbfs));
        }
    }

    /// The course of the level in a turn; `None` where it cannot be used.
    fn swell(&self, turn: &Played) -> Option<Swell> {
        let from = turn.start.get() + ENDS.get();
        let length = turn.end.get() - ENDS.get() - from;
        if length < LEAST.get() {
            return None;
        }
        let level = |slice: usize| {
            let edge = |slice: usize| {
                let time = from + length * slice as f64 / SLICES as f64;
                self.frames.partition_point(|frame| frame.0 < time)
            };
            let frames = self.frames.range(edge(slice)..edge(slice + 1));
            let levels: Vec<f64> = frames.map(|frame| frame.1).collect();
            let enough = levels.len() >= LEAST_FRAMES;
            let middle = upper_median(levels).filter(|_| enough)?;
            (USABLE_DBFS.0..=USABLE_DBFS.1).contains(&middle).then_some(middle)
        };
        let levels: Vec<f64> = (0..SLICES).map(level).collect::<Option<_>>()?;
        let pairs = levels.windows(2).map(|pair| 0.5 * (pair[0] + pair[1]));
        let loudest = pairs.fold(f64::MIN, f64::max);
        Some(Swell {
            rise: (loudest - levels[0]).max(0.0),
            fall: (loudest - levels[SLICES - 1]).max(0.0),
        })
    }

    /// What is told of it: of all turns at once where each swells and recedes, else of each that does not.
    pub(crate) fn findings(&self, asked: &[Asked], played: &[Played]) -> Vec<Finding> {
        let swells = played.iter().map(|turn| self.swell(turn)).enumerate();
        let known: Vec<(usize, Swell)> = swells.filter_map(|(i, s)| Some((i, s?))).collect();
        let told = |turn, words, swell: Swell| {
            let least = swell.rise.min(swell.fall);
            Finding::new(FindingKind::Swell, turn, words, ("swell", "dB"), least)
        };
        let rounded = |Swell { rise, fall }: Swell| {
            (figure::number(Some(rise), 0, false), figure::number(Some(fall), 0, false))
        };
        let well = |swell: &Swell| swell.rise >= TOLD_DB && swell.fall >= TOLD_DB;
        let least = known
            .iter()
            .map(|(_, swell)| *swell)
            .reduce(|a, b| Swell { rise: a.rise.min(b.rise), fall: a.fall.min(b.fall) });
        if let Some(least) = least.filter(|least| well(least) && known.len() == played.len()) {
            let (rise, fall) = rounded(least);
            let words = if played.len() > 1 {
                format!(
                    "every note grows louder by {rise} dB or more and softer again by {fall} dB or more"
                )
            } else {
                format!("the note grows louder by {rise} dB and softer again by {fall} dB")
            };
            return vec![told(None, words, least)];
        }
        let each = known.into_iter().filter(|(_, swell)| !well(swell));
        each.map(|(number, swell)| {
            let (rise, fall) = rounded(swell);
            let course = match (swell.rise >= TOLD_DB, swell.fall >= TOLD_DB) {
                (true, _) => {
                    format!("grows louder by {rise} dB and hardly softer again ({fall} dB)")
                }
                (_, true) => format!("hardly grows louder ({rise} dB), then softer by {fall} dB"),
                _ => "hardly any swell".to_owned(),
            };
            let who = named(played[number].asked, asked);
            let words = format!("{who}: {course}");
            told(Some(number), words, swell)
        })
        .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use pitch::Frame;

    /// Levels of turns of 3 s, each after 1 s of silence, which run as `course` of the turn and the share of it.
    fn heard(
        turns: usize,
        course: impl Fn(usize, f64) -> f64,
    ) -> (Levels, Vec<Played>, Vec<Asked>) {
        let mut levels = Levels::default();
        for frame in 0..turns * 800 {
            let time = frame as f64 * 0.005;
            let share = (time % 4.0 - 1.0) / 3.0;
            let level = if share < 0.0 { -80.0 } else { course(frame / 800, share) };
            levels.hear(&Event::Frame(Frame::plain(Secs(time), None, level)));
        }
        let played = (0..turns).map(|turn| {
            let start = 4.0 * turn as f64 + 1.0;
            Played::unmeasured(turn, Secs(start), Secs(start + 3.0))
        });
        let asked = (0..turns).map(|turn| Asked::plain(2 + turn as u8 % 2, 53));
        (levels, played.collect(), asked.collect())
    }

    fn words(turns: usize, course: impl Fn(usize, f64) -> f64) -> Vec<String> {
        let (levels, played, asked) = heard(turns, course);
        let found = levels.findings(&asked, &played);
        found.into_iter().map(|finding| finding.words).collect()
    }

    /// Up by `rise` dB to the middle and down by `fall`.
    fn bow(rise: f64, fall: f64, share: f64) -> f64 {
        let up = share.min(1.0 - share) * 2.0;
        let by = if share < 0.5 { rise } else { fall };
        -30.0 + rise + by * (up - 1.0)
    }

    #[test]
    fn a_bow_that_swells_and_recedes_is_told_once_with_the_least() {
        let (levels, played, asked) =
            heard(3, |turn, share| bow(12.0 + turn as f64, 14.0 - turn as f64, share));
        let found = levels.findings(&asked, &played);
        assert_eq!(found.len(), 1, "{found:?}");
        // Of 12 dB, 1.6 lie in the end that is left out, and half a slice at the start and at the top smooths away 1.5.
        assert!((8.0..9.5).contains(&found[0].value), "{found:?}");
        assert!(found[0].words.starts_with("every note grows louder"), "{found:?}");
        assert_eq!((found[0].measure, found[0].turn), (("swell", "dB").into(), None));
    }

    #[test]
    fn a_bow_that_does_half_of_it_is_told_by_its_turn() {
        let told = words(3, |turn, share| match turn {
            0 => bow(10.0, 10.0, share),
            1 => -20.0 + 9.0 * share,
            _ => -22.0 + 0.8 * (40.0 * share).sin(),
        });
        assert_eq!(told.len(), 2, "{told:?}");
        let starts = [
            "note 2 (finger 3): grows louder by 7 dB and hardly softer again (0 dB)",
            "note 3 (finger 2): hardly any swell",
        ];
        for (told, start) in told.iter().zip(starts) {
            assert!(told.starts_with(start), "{told}");
        }
        let falls = words(1, |_, share| -20.0 - 12.0 * share);
        assert!(falls[0].contains("hardly grows louder (0 dB), then softer by"), "{falls:?}");
    }

    #[test]
    fn what_cannot_be_used_is_not_told() {
        assert!(words(2, |_, share| bow(10.0, 10.0, share) - 60.0).is_empty(), "too soft");
        assert!(words(2, |_, share| bow(10.0, 10.0, share) + 19.0).is_empty(), "cut off");
        let (mut levels, played, asked) = heard(1, |_, share| bow(10.0, 10.0, share));
        levels.frames.retain(|frame| frame.0 < 2.0 || frame.0 > 2.6);
        assert!(levels.findings(&asked, &played).is_empty(), "sound was lost");
    }
}
