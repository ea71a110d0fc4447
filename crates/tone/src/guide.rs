//! A guide: a soft tone that vibrates as the player is asked to, turn after turn, for headphones.

use std::f64::consts::{PI, TAU};

use tuning::{Cents, Hz, Secs};

/// Amplitudes of its partials: enough of them to have a plain pitch on a small loudspeaker.
const PARTIALS: [f64; 5] = [1.0, 0.4, 0.2, 0.08, 0.04];
/// How long it takes to be heard at full, and to be gone.
const FADE_SECS: f64 = 0.06;
/// Turns that lie nearer to each other than this are bound together.
const BOUND_SECS: f64 = 1e-3;
/// Lowest and highest pitch, in Hz, fastest motion, in Hz, widest, in cents, loudest level, in dB below full scale.
const F0_HZ: (f64, f64) = (16.0, 4_200.0);
const MOST_RATE_HZ: f64 = 20.0;
const MOST_WIDTH_CENTS: f64 = 400.0;
const MOST_DB: f64 = -12.0;

/// One turn of a guide.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GuideTurn {
    /// The pitch around which it swings, 16 to 4 200 Hz.
    pub f0: Hz,
    /// Where it starts, from the first beat of the run on.
    pub start: Secs,
    /// Where it ends; one that ends where the next starts is bound to it.
    pub end: Secs,
    /// Oscillations per second, at most 20.
    pub rate: Hz,
    /// Crest to trough at its start and at its end, at most 400 cents; in between evenly from one to the other.
    pub width: (Cents, Cents),
    /// Where in its motion it starts, in cycles: a trough is 0, a crest 0.5, as in [`Phase`](crate::Phase).
    /// One that is bound to a turn of the same pitch and rate goes on in that turn's motion instead.
    pub phase: f64,
    /// Its crests lie on the pitch, and it swings below it.
    pub below: bool,
}

/// What a guide is to play.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct GuideWish {
    /// The turns, in order of time.
    pub turns: Vec<GuideTurn>,
    /// Its mean level in dB below full scale, as `20 · log10(rms)`; at most −12.
    pub level_db: f64,
}

/// A guide as a stream of samples.
#[derive(Clone, Debug)]
pub(crate) struct Guide {
    rate_hz: f64,
    /// Its turns, and the phase in which each starts.
    turns: Vec<(GuideTurn, f64)>,
    amplitude: f64,
    /// The turn looked at last.
    turn: usize,
    /// Position in the cycle of the pitch, 0 to 1, and pitch of the last sample.
    cycle: f64,
    f0_hz: f64,
    /// How much of it is heard, 0 to 1.
    share: f64,
}

impl GuideTurn {
    fn is_sound(&self) -> bool {
        let widths = [self.width.0.get(), self.width.1.get()];
        (F0_HZ.0..=F0_HZ.1).contains(&self.f0.get())
            && (0.0..=MOST_RATE_HZ).contains(&self.rate.get())
            && widths.iter().all(|w| (0.0..=MOST_WIDTH_CENTS).contains(w))
            && self.phase.is_finite()
            && self.start.get().is_finite()
            && self.end.get() > self.start.get()
    }

    fn is_bound_to(&self, next: &Self) -> bool {
        (next.start.get() - self.end.get()).abs() < BOUND_SECS
    }
}

impl Guide {
    /// A guide at `rate_hz` samples a second; turns that cannot sound are left out.
    pub(crate) fn new(rate_hz: f64, wish: &GuideWish) -> Self {
        let mut turns: Vec<(GuideTurn, f64)> = Vec::with_capacity(wish.turns.len());
        for turn in wish.turns.iter().filter(|turn| turn.is_sound()) {
            let phase = match turns.last() {
                Some((last, phase))
                    if last.is_bound_to(turn) && (last.f0, last.rate) == (turn.f0, turn.rate) =>
                {
                    phase + last.rate.get() * (turn.start.get() - last.start.get())
                }
                _ => turn.phase,
            };
            turns.push((*turn, phase.fract()));
        }
        let power: f64 = PARTIALS.iter().map(|a| a * a / 2.0).sum();
        let level_db = wish.level_db.min(MOST_DB);
        let amplitude =
            if level_db.is_finite() { 10f64.powf(level_db / 20.0) / power.sqrt() } else { 0.0 };
        Self { rate_hz, turns, amplitude, turn: 0, cycle: 0.0, f0_hz: F0_HZ.0, share: 0.0 }
    }

    /// Nothing of it is heard now, and with `over` nothing will be.
    pub(crate) fn is_silent(&self, over: bool) -> bool {
        self.share == 0.0 && (over || self.turns.is_empty())
    }

    /// All its turns lie before this time.
    pub(crate) fn is_over(&self, secs: f64) -> bool {
        self.turns.last().is_none_or(|(turn, _)| secs >= turn.end.get())
    }

    /// It was cut off: it is to be faded in anew.
    pub(crate) fn cut(&mut self) {
        self.share = 0.0;
    }

    /// Adds one sample, `secs` after the first beat; `None` lets it fade out.
    pub(crate) fn add(&mut self, sample: &mut f32, secs: Option<f64>) {
        let sounding = secs.and_then(|secs| self.pitch_at(secs));
        let step = 1.0 / (FADE_SECS * self.rate_hz);
        match sounding {
            Some((f0_hz, wanted)) => {
                // A pause in what was played must not make it jump in loudness.
                self.f0_hz = f0_hz;
                self.share = if wanted {
                    (self.share + step).min(1.0)
                } else {
                    (self.share - step).max(0.0)
                };
            }
            None => self.share = (self.share - step).max(0.0),
        }
        if self.share == 0.0 {
            return;
        }
        // A raised cosine has no corner at either end.
        let heard = 0.5 - 0.5 * (PI * self.share).cos();
        let mut sum = 0.0;
        for (number, amplitude) in (1..).zip(PARTIALS) {
            let number = f64::from(number);
            if number * self.f0_hz < 0.4 * self.rate_hz {
                sum += amplitude * (TAU * (number * self.cycle + 0.06 * number * number)).sin();
            }
        }
        *sample += (self.amplitude * heard * sum) as f32;
        self.cycle = (self.cycle + self.f0_hz / self.rate_hz).fract();
    }

    /// The pitch at this time, and whether it is still to be heard at full there.
    fn pitch_at(&mut self, secs: f64) -> Option<(f64, bool)> {
        while self.turn > 0 && secs < self.turns[self.turn].0.start.get() {
            self.turn -= 1;
        }
        while self.turn + 1 < self.turns.len() && secs >= self.turns[self.turn + 1].0.start.get() {
            self.turn += 1;
        }
        let (turn, phase) = self.turns.get(self.turn)?;
        let (start, end) = (turn.start.get(), turn.end.get());
        if secs < start || secs >= end {
            return None;
        }
        let into = secs - start;
        let (from, to) = (turn.width.0.get(), turn.width.1.get());
        let width = from + (to - from) * into / (end - start);
        let middle = if turn.below { -0.5 * width } else { 0.0 };
        let swing = middle - 0.5 * width * (TAU * (phase + turn.rate.get() * into)).cos();
        let bound = self.turns.get(self.turn + 1).is_some_and(|(next, _)| turn.is_bound_to(next));
        let fades = !bound && end - secs < FADE_SECS;
        Some((turn.f0.get() * (swing / 1200.0).exp2(), !fades))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const RATE_HZ: f64 = 48_000.0;

    fn turn(f0: f64, start: f64, end: f64, width: (f64, f64)) -> GuideTurn {
        GuideTurn {
            f0: Hz(f0),
            start: Secs(start),
            end: Secs(end),
            rate: Hz(4.0),
            width: (Cents(width.0), Cents(width.1)),
            phase: 0.5,
            below: false,
        }
    }

    fn wish(turns: Vec<GuideTurn>) -> GuideWish {
        GuideWish { turns, level_db: -40.0 }
    }

    fn play(wish: &GuideWish, secs: f64) -> Vec<f32> {
        let mut guide = Guide::new(RATE_HZ, wish);
        let mut out = vec![0.0; (secs * RATE_HZ) as usize];
        for (number, sample) in out.iter_mut().enumerate() {
            guide.add(sample, Some(number as f64 / RATE_HZ));
        }
        out
    }

    fn level_db(samples: &[f32]) -> f64 {
        let power: f64 = samples.iter().map(|s| f64::from(s * s)).sum();
        10.0 * (power / samples.len() as f64).log10()
    }

    /// The largest bend from sample to sample.
    fn sharpest(samples: &[f32]) -> f32 {
        let bend = |[a, b, c]: &[f32; 3]| (a - 2.0 * b + c).abs();
        samples.array_windows().map(bend).fold(0.0, f32::max)
    }

    #[test]
    fn it_sounds_in_its_turns_at_its_level_and_nowhere_else() {
        let out = play(
            &wish(vec![turn(220.0, 0.5, 1.5, (40.0, 40.0)), turn(247.0, 2.0, 3.0, (40.0, 40.0))]),
            3.5,
        );
        let of = |from: f64, to: f64| &out[(from * RATE_HZ) as usize..(to * RATE_HZ) as usize];
        for quiet in [of(0.0, 0.5), of(1.5, 2.0), of(3.0, 3.5)] {
            assert!(quiet.iter().all(|s| *s == 0.0));
        }
        for held in [of(0.6, 1.4), of(2.1, 2.9)] {
            assert!((level_db(held) + 40.0).abs() < 0.2, "{}", level_db(held));
        }
        assert!(level_db(of(0.5, 0.51)) < -58.0, "quiet at first");
    }

    #[test]
    fn turns_that_are_bound_neither_pause_nor_click() {
        let bound =
            wish(vec![turn(220.0, 0.0, 1.0, (40.0, 40.0)), turn(247.0, 1.0, 2.0, (40.0, 40.0))]);
        let out = play(&bound, 2.5);
        let calm = sharpest(&out[24_000..40_000]);
        assert!(sharpest(&out) < 1.6 * calm, "{} {calm}", sharpest(&out));
        for part in out[4_800..90_000].chunks_exact(1_200) {
            assert!((level_db(part) + 40.0).abs() < 0.6, "{}", level_db(part));
        }
    }

    #[test]
    fn it_starts_where_it_is_told_to_and_a_bloom_goes_on_in_one_motion() {
        let rate = Hz(4.1);
        let bloom = wish(vec![
            GuideTurn { rate, ..turn(220.0, 0.0, 0.9, (0.0, 60.0)) },
            GuideTurn { rate, ..turn(220.0, 0.9, 1.8, (60.0, 60.0)) },
        ]);
        let mut guide = Guide::new(RATE_HZ, &bloom);
        let mut cents =
            |secs| guide.pitch_at(secs).map(|(f0, _)| Hz(f0).cents_above(Hz(220.0)).get());
        assert_eq!(cents(0.0), Some(0.0));
        let (before, after) = (cents(0.9 - 1e-6), cents(0.9 + 1e-6));
        let (before, after) = (before.expect("inside"), after.expect("inside"));
        assert!((before - after).abs() < 0.01, "{before} {after}");
        let crest = cents(8.0 / 4.1 - 0.5 / 4.1).is_none();
        assert!(crest, "it is over");
        let crest = cents(5.0 / 4.1).expect("inside");
        assert!((crest - 30.0).abs() < 1e-6, "a crest on the beat: {crest}");
    }

    #[test]
    fn what_cannot_sound_is_left_out() {
        let odd = [
            turn(f64::NAN, 0.0, 1.0, (40.0, 40.0)),
            turn(1e9, 0.0, 1.0, (40.0, 40.0)),
            turn(220.0, 1.0, 1.0, (40.0, 40.0)),
            turn(220.0, 0.0, f64::NAN, (40.0, 40.0)),
            turn(220.0, 0.0, 1.0, (f64::NAN, 40.0)),
            turn(220.0, 0.0, 1.0, (40.0, 1e6)),
        ];
        for turn in odd {
            let out = play(&wish(vec![turn]), 0.5);
            assert!(out.iter().all(|s| *s == 0.0), "{turn:?}");
        }
        let loud = GuideWish { level_db: 40.0, ..wish(vec![turn(220.0, 0.0, 1.0, (40.0, 40.0))]) };
        assert!(play(&loud, 1.0).iter().all(|s| s.abs() < 0.9));
    }
}
