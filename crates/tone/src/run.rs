//! A run of beats: a metronome that is started when it is asked for, beats so many times, and has a guide
//! sounding with it, both in place to the sample.

use crate::beat::{Click, due_sample, is_tempo};
use crate::guide::{Guide, GuideWish};

/// A run that is to be played.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct RunWish {
    /// Another number starts another run; the same one goes on.
    pub number: u64,
    /// Beats per minute, 20 to 208; others count as the nearest of these.
    pub bpm: f64,
    /// So many beats in all, those of the count-in included.
    pub beats: u32,
    /// So many of them come first, as a count-in.
    pub count_in: u32,
    /// After the count-in each so manyth beat is stressed, the first of them too; 1 or 0 stresses none.
    pub bar: u32,
    /// The clicks are heard; otherwise only their times are told.
    pub audible: bool,
    /// A tone that sounds with it, its times counted from the first beat.
    pub guide: Option<GuideWish>,
}

/// One beat of a run.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct RunBeat {
    /// The sample on which its click starts to rise, from the start of the stream.
    pub sample: u64,
    /// Which run.
    pub run: u64,
    /// Which beat of it, from 0.
    pub beat: u32,
}

/// Plays one run after the other. The first beat comes at once.
#[derive(Clone, Debug)]
pub struct Run {
    rate_hz: f64,
    wish: Option<RunWish>,
    /// The next sample of the stream.
    now: u64,
    /// The sample of the first beat.
    origin: u64,
    /// Beats begun.
    beats: u32,
    click: Option<Click>,
    guide: Option<Guide>,
    /// A guide that is no longer wanted and fades out.
    leaving: Option<Guide>,
}

impl Run {
    /// Nothing runs yet, at `rate_hz` samples a second.
    pub fn new(rate_hz: u32) -> Self {
        Self {
            rate_hz: f64::from(rate_hz),
            wish: None,
            now: 0,
            origin: 0,
            beats: 0,
            click: None,
            guide: None,
            leaving: None,
        }
    }

    /// From now on this run is played, or none. One that is played already goes on as it is, except that its
    /// clicks may become silent or heard, and its guide may go or come. A tempo that is no number is none.
    pub fn set(&mut self, wish: Option<&RunWish>) {
        let wish = wish.filter(|wish| is_tempo(wish.bpm));
        let same = wish.map(|wish| wish.number) == self.wish.as_ref().map(|wish| wish.number);
        let guide = |run: &Option<RunWish>| run.as_ref().and_then(|run| run.guide.clone());
        match (wish, &mut self.wish) {
            (Some(wish), Some(now)) if same => {
                let changed = now.guide != wish.guide;
                (now.audible, now.guide) = (wish.audible, wish.guide.clone());
                if !changed {
                    return;
                }
            }
            (wish, _) => {
                self.wish = wish.cloned();
                (self.origin, self.beats) = (self.now, 0);
            }
        }
        let next = guide(&self.wish).map(|guide| Guide::new(self.rate_hz, &guide));
        self.leaving = std::mem::replace(&mut self.guide, next).or(self.leaving.take());
    }

    /// Adds its next samples to `out`, and tells the beats that begin in them.
    pub fn add(&mut self, out: &mut [f32], mut tell: impl FnMut(RunBeat)) {
        for sample in out {
            if self.next().is_some_and(|next| self.now >= next) {
                self.begin(&mut tell);
            }
            if let Some(click) = self.click {
                match click.at((self.now - click.start) as f64 / self.rate_hz) {
                    Some(value) => *sample += value,
                    None => self.click = None,
                }
            }
            if let Some(guide) = &mut self.guide {
                guide.add(sample, Some((self.now - self.origin) as f64 / self.rate_hz));
            }
            if let Some(leaving) = &mut self.leaving {
                leaving.add(sample, None);
                if leaving.is_silent(true) {
                    self.leaving = None;
                }
            }
            self.now += 1;
        }
    }

    fn begin(&mut self, tell: &mut impl FnMut(RunBeat)) {
        let Some(wish) = &self.wish else { return };
        if wish.audible {
            let after = self.beats.checked_sub(wish.count_in);
            let stressed = wish.bar > 1 && after.is_some_and(|beat| beat % wish.bar == 0);
            self.click = Some(Click { start: self.now, stressed });
        }
        tell(RunBeat { sample: self.now, run: wish.number, beat: self.beats });
        self.beats += 1;
    }

    /// The sample of the next beat; `None` if there is none.
    fn next(&self) -> Option<u64> {
        let wish = self.wish.as_ref()?;
        (self.beats < wish.beats)
            .then(|| self.origin + due_sample(self.rate_hz, wish.bpm, self.beats))
    }

    /// So many samples pass unplayed; beats that would have begun in them are told.
    pub fn pass(&mut self, samples: u64, mut tell: impl FnMut(RunBeat)) {
        let end = self.now + samples;
        while let Some(next) = self.next()
            && next < end
        {
            self.now = self.now.max(next);
            self.begin(&mut tell);
        }
        self.click = None;
        self.now = end;
    }

    /// What sounds was cut off: the guide is to be faded in anew.
    pub fn cut(&mut self) {
        (self.click, self.leaving) = (None, None);
        if let Some(guide) = &mut self.guide {
            guide.cut();
        }
    }

    /// Samples until the next beat begins; `None` if none will.
    pub fn until_next(&self) -> Option<u64> {
        Some(self.next()?.saturating_sub(self.now))
    }

    /// A click has begun and is not over.
    pub fn is_sounding(&self) -> bool {
        self.click.is_some()
    }

    /// Neither beats nor sounds, nor will.
    pub fn is_silent(&self) -> bool {
        self.next().is_none() && self.click.is_none() && self.leaving.is_none() && {
            let secs = (self.now - self.origin) as f64 / self.rate_hz;
            self.guide.as_ref().is_none_or(|guide| guide.is_silent(guide.is_over(secs)))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::GuideTurn;
    use tuning::{Cents, Hz, Secs};

    const RATE_HZ: u32 = 48_000;

    fn wish(number: u64) -> RunWish {
        RunWish { number, bpm: 97.0, beats: 10, count_in: 2, bar: 4, audible: true, guide: None }
    }

    fn guide() -> GuideWish {
        GuideWish {
            turns: vec![GuideTurn {
                f0: Hz(220.0),
                start: Secs(1.0),
                end: Secs(5.0),
                rate: Hz(4.0),
                width: (Cents(40.0), Cents(40.0)),
                phase: 0.5,
                below: false,
            }],
            level_db: -40.0,
        }
    }

    fn play(run: &mut Run, samples: usize) -> (Vec<f32>, Vec<RunBeat>) {
        let mut out = vec![0.0; samples];
        let mut beats = Vec::new();
        for block in out.chunks_mut(251) {
            run.add(block, |beat| beats.push(beat));
        }
        (out, beats)
    }

    #[test]
    fn it_begins_when_asked_and_beats_as_often_as_asked_to_the_sample() {
        let mut run = Run::new(RATE_HZ);
        assert!(run.is_silent());
        play(&mut run, 10_007);
        run.set(Some(&wish(7)));
        let (_, beats) = play(&mut run, 480_000);
        assert_eq!(beats.len(), 10);
        for (number, beat) in beats.iter().enumerate() {
            let due = 10_007.0 + number as f64 * 60.0 * f64::from(RATE_HZ) / 97.0;
            assert!((beat.sample as f64 - due).abs() <= 0.5, "{beat:?} {due}");
            assert_eq!((beat.run, beat.beat), (7, number as u32));
        }
        assert!(run.is_silent());
        run.set(Some(&wish(7)));
        assert!(play(&mut run, 48_000).1.is_empty(), "the same one is over");
        run.set(Some(&wish(8)));
        assert_eq!(play(&mut run, 240).1.len(), 1, "another one begins");
    }

    #[test]
    fn the_guide_starts_in_its_place_after_the_first_beat() {
        let mut run = Run::new(RATE_HZ);
        play(&mut run, 1_234);
        run.set(Some(&RunWish { audible: false, guide: Some(guide()), ..wish(1) }));
        let (out, beats) = play(&mut run, 300_000);
        assert_eq!(beats[0].sample, 1_234);
        let first = out.iter().position(|s| *s != 0.0).expect("it sounds");
        let last = out.iter().rposition(|s| *s != 0.0).expect("it sounds");
        assert!((48_000..48_010).contains(&first), "{first}");
        assert!((239_900..240_000).contains(&last), "{last}");
        assert!(run.is_silent() || beats.len() < 10);
    }

    #[test]
    fn lost_time_keeps_beats_and_guide_in_place_without_a_click() {
        let mut run = Run::new(RATE_HZ);
        run.set(Some(&RunWish { audible: false, guide: Some(guide()), ..wish(1) }));
        let (mut out, mut beats) = play(&mut run, 100_000);
        run.pass(3_000, |beat| beats.push(beat));
        let (more, later) = play(&mut run, 197_000);
        out.extend(more);
        beats.extend(later);
        assert_eq!(beats.len(), 10);
        assert_eq!(beats[9].sample, (9.0 * 60.0 * 48e3 / 97.0_f64).round() as u64);
        let last = out.iter().rposition(|s| *s != 0.0).expect("it sounds");
        assert!((236_900..237_000).contains(&last), "{last}");
        let bend = |[a, b, c]: &[f32; 3]| (a - 2.0 * b + c).abs();
        let sharpest = |part: &[f32]| part.array_windows().map(bend).fold(0.0, f32::max);
        assert!(sharpest(&out) < 1.6 * sharpest(&out[60_000..90_000]));
    }

    #[test]
    fn a_run_that_is_stopped_is_silent_at_once_but_for_a_fade() {
        let mut run = Run::new(RATE_HZ);
        run.set(Some(&RunWish { guide: Some(guide()), ..wish(1) }));
        play(&mut run, 100_000);
        run.set(None);
        let (out, beats) = play(&mut run, 10_000);
        assert!(beats.is_empty() && run.is_silent());
        assert!(out[..100].iter().any(|s| *s != 0.0), "it fades");
        assert!(out[3_000..].iter().all(|s| *s == 0.0));
    }

    #[test]
    fn only_the_first_beat_of_a_bar_is_stressed_and_none_of_the_count_in() {
        let mut run = Run::new(RATE_HZ);
        run.set(Some(&wish(1)));
        let (out, beats) = play(&mut run, 300_000);
        let loud = |beat: &RunBeat| {
            let from = beat.sample as usize;
            out[from..from + 576].iter().fold(0.0_f32, |m, s| m.max(s.abs())) > 0.1
        };
        let stressed: Vec<u32> = beats.iter().filter(|b| loud(b)).map(|b| b.beat).collect();
        assert_eq!(stressed, [2, 6]);
    }
}
