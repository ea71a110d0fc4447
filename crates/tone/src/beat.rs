//! A metronome's beats as a stream of samples, each at its place to the sample.

use std::f64::consts::{PI, TAU};

/// A click is a short burst in a narrow band: above 3 kHz, below which periods are looked for, so that one
/// that leaks into the microphone does not disturb the pitch of a string; and not much higher, so
/// that ears that have lost the highest tones hear it well.
const CLICK_HZ: f64 = 3_500.0;
const STRESS_HZ: f64 = 4_500.0;
const CLICK_SECS: f64 = 0.012;
/// Level of its peak, in dB below full scale, of a plain and of a stressed beat.
const CLICK_DB: f64 = -24.0;
const STRESS_DB: f64 = -18.0;

/// Slowest and fastest, in beats per minute.
const BPM: (f64, f64) = (20.0, 208.0);

/// How it is to beat.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BeatWish {
    /// Beats per minute, 20 to 208; others count as the nearest of these.
    pub bpm: f64,
    /// Each so manyth beat is stressed; 1 or 0 stresses none.
    pub bar: u32,
    /// The clicks are heard; otherwise only their times are told.
    pub audible: bool,
}

/// One beat.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Beaten {
    /// The sample on which its click starts to rise, from the start of the stream.
    pub sample: u64,
    /// Its place in the bar, from 0.
    pub place: u32,
}

/// A metronome. The first beat comes at once, a change holds from the next beat on. Beats are counted by
/// exact arithmetic from the first one of a tempo, so that no rounding adds up.
#[derive(Clone, Debug)]
pub struct Beat {
    rate_hz: f64,
    wish: Option<BeatWish>,
    /// The next sample of the stream.
    now: u64,
    /// Where beats of this tempo are counted from, in samples; how many there were since.
    origin: f64,
    beats: u64,
    bpm: f64,
    /// The sample of the next beat, and its place in the bar.
    next: u64,
    place: u32,
    /// The click that is sounding.
    click: Option<Click>,
}

impl Beat {
    /// A metronome at rest, at `rate_hz` samples a second.
    pub fn new(rate_hz: u32) -> Self {
        Self {
            rate_hz: f64::from(rate_hz),
            wish: None,
            now: 0,
            origin: 0.0,
            beats: 0,
            bpm: BPM.0,
            next: 0,
            place: 0,
            click: None,
        }
    }

    /// From now on it beats like this, or not at all. A tempo that is not a number is none.
    pub fn set(&mut self, wish: Option<BeatWish>) {
        let wish = wish.filter(|wish| is_tempo(wish.bpm));
        if self.wish.is_none() {
            (self.next, self.place) = (self.now, 0);
            (self.origin, self.beats) = (self.now as f64, 0);
        }
        self.wish = wish;
    }

    /// Adds its next samples to `out`, and tells the beats that begin in them.
    pub fn add(&mut self, out: &mut [f32], mut tell: impl FnMut(Beaten)) {
        for sample in out {
            if let Some(wish) = self.wish
                && self.now >= self.next
            {
                tell(self.beat(wish));
            }
            if let Some(click) = self.click {
                match click.at((self.now - click.start) as f64 / self.rate_hz) {
                    Some(value) => *sample += value,
                    None => self.click = None,
                }
            }
            self.now += 1;
        }
    }

    /// Begins a beat now, and says when the next one is due.
    fn beat(&mut self, wish: BeatWish) -> Beaten {
        let bpm = wish.bpm.clamp(BPM.0, BPM.1);
        if bpm != self.bpm {
            self.origin = self.due(self.beats);
            (self.bpm, self.beats) = (bpm, 0);
        }
        let place = if self.place < wish.bar { self.place } else { 0 };
        if wish.audible {
            self.click = Some(Click { start: self.now, stressed: wish.bar > 1 && place == 0 });
        }
        self.beats += 1;
        self.next = self.due(self.beats).round() as u64;
        self.place = place + 1;
        Beaten { sample: self.now, place }
    }

    /// Where the beat of this number lies in the present tempo, in samples.
    fn due(&self, beat: u64) -> f64 {
        self.origin + beat as f64 * 60.0 * self.rate_hz / self.bpm
    }

    /// So many samples pass unplayed; beats that would have begun in them are told.
    pub fn pass(&mut self, samples: u64, mut tell: impl FnMut(Beaten)) {
        let end = self.now + samples;
        self.click = None;
        while let Some(wish) = self.wish
            && self.next < end
        {
            self.now = self.next;
            tell(self.beat(wish));
            self.click = None;
        }
        self.now = end;
    }

    /// Samples until the next beat begins; `None` if none will.
    pub fn until_next(&self) -> Option<u64> {
        self.wish.map(|_| self.next.saturating_sub(self.now))
    }

    /// A click has begun and is not over.
    pub fn is_sounding(&self) -> bool {
        self.click.is_some()
    }

    /// Neither beats nor sounds.
    pub fn is_silent(&self) -> bool {
        self.wish.is_none() && self.click.is_none()
    }
}

/// A click that has begun.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Click {
    /// The sample on which it starts to rise.
    pub start: u64,
    pub stressed: bool,
}

impl Click {
    /// Its value `secs` after its start; `None` once it is over.
    pub(crate) fn at(self, secs: f64) -> Option<f32> {
        (secs < CLICK_SECS).then(|| click(secs, self.stressed) as f32)
    }
}

/// Whether one can beat at this tempo.
pub(crate) fn is_tempo(bpm: f64) -> bool {
    !bpm.is_nan()
}

/// Where beat number `beat` lies in this tempo, in samples from beat 0 on.
pub(crate) fn due_sample(rate_hz: f64, bpm: f64, beat: u32) -> u64 {
    (f64::from(beat) * 60.0 * rate_hz / bpm.clamp(BPM.0, BPM.1)).round() as u64
}

/// A burst under a squared-sine (Hann) window: its spectrum lies within `2 / CLICK_SECS` of its middle.
fn click(secs: f64, stressed: bool) -> f64 {
    let (hz, db) = if stressed { (STRESS_HZ, STRESS_DB) } else { (CLICK_HZ, CLICK_DB) };
    let window = (PI * secs / CLICK_SECS).sin().powi(2);
    10f64.powf(db / 20.0) * window * (TAU * hz * secs).sin()
}

#[cfg(test)]
mod tests {
    use super::*;

    const RATE_HZ: u32 = 48_000;

    fn wish(bpm: f64) -> Option<BeatWish> {
        Some(BeatWish { bpm, bar: 3, audible: true })
    }

    fn run(beat: &mut Beat, samples: usize) -> (Vec<f32>, Vec<Beaten>) {
        let mut out = vec![0.0; samples];
        let mut beats = Vec::new();
        for block in out.chunks_mut(251) {
            beat.add(block, |beaten| beats.push(beaten));
        }
        (out, beats)
    }

    #[test]
    fn beats_stay_in_place_to_the_sample_over_ten_minutes() {
        for bpm in [20.0, 61.0, 97.0, 208.0] {
            let mut beat = Beat::new(RATE_HZ);
            beat.set(wish(bpm));
            let (_, beats) = run(&mut beat, 600 * RATE_HZ as usize);
            assert_eq!(beats.len(), (10.0 * bpm) as usize, "{bpm}");
            for (number, beaten) in beats.iter().enumerate() {
                let due = number as f64 * 60.0 * f64::from(RATE_HZ) / bpm;
                assert!((beaten.sample as f64 - due).abs() <= 0.5, "{bpm}: beat {number}");
                assert_eq!(beaten.place, number as u32 % 3);
            }
        }
    }

    #[test]
    fn a_new_tempo_holds_from_the_next_beat_on() {
        let mut beat = Beat::new(RATE_HZ);
        beat.set(wish(60.0));
        let (_, before) = run(&mut beat, 100_000);
        assert_eq!(before.len(), 3);
        beat.set(wish(97.0));
        beat.set(wish(120.0));
        let (_, after) = run(&mut beat, 100_000);
        // The beat that was due at 144 000 comes then, and half a second later the next.
        let samples: Vec<u64> = after.iter().map(|beaten| beaten.sample).collect();
        assert_eq!(samples, [144_000, 168_000, 192_000]);
        assert_eq!(after[0].place, 0, "the bar goes on");
    }

    #[test]
    fn a_tempo_that_changes_at_each_beat_loses_no_fraction_of_a_sample() {
        let mut beat = Beat::new(RATE_HZ);
        let mut due = 0.0;
        let mut out = vec![0.0; 512];
        for round in 0..2_000 {
            let bpm = if round % 2 == 0 { 61.0 } else { 97.0 };
            beat.set(wish(bpm));
            let mut begun = None;
            while begun.is_none() {
                beat.add(&mut out, |beaten| begun = Some(beaten.sample));
            }
            let begun = begun.expect("it goes on until there is one") as f64;
            assert!((begun - due).abs() <= 0.5, "beat {round}: {begun}, {due}");
            due += 60.0 * f64::from(RATE_HZ) / bpm;
        }
    }

    #[test]
    fn a_bar_that_is_made_shorter_begins_anew() {
        let mut beat = Beat::new(RATE_HZ);
        let of = |bar| wish(60.0).map(|wish| BeatWish { bar, ..wish });
        beat.set(of(4));
        run(&mut beat, 3 * 48_000);
        beat.set(of(2));
        let (_, beats) = run(&mut beat, 4 * 48_000);
        let places: Vec<u32> = beats.iter().map(|beaten| beaten.place).collect();
        assert_eq!(places, [0, 1, 0, 1]);
    }

    #[test]
    fn what_passes_unplayed_keeps_the_beats_in_place() {
        let mut beat = Beat::new(RATE_HZ);
        beat.set(wish(97.0));
        run(&mut beat, 48_000);
        let mut told = Vec::new();
        beat.pass(48_000 * 600 - 48_000, |beaten| told.push(beaten));
        assert_eq!(told.len(), 970 - 2);
        let (out, beats) = run(&mut beat, 48_000);
        assert_eq!(beats[0].sample, 48_000 * 600);
        assert!(out.iter().any(|s| *s != 0.0), "and sounds again");
    }

    #[test]
    fn a_tempo_beyond_reason_does_no_harm() {
        for bpm in [0.0, -7.0, f64::NAN, f64::INFINITY, 1e300, 1e-300] {
            let mut beat = Beat::new(RATE_HZ);
            beat.set(wish(bpm));
            let (out, beats) = run(&mut beat, 480_000);
            assert!(out.iter().all(|s| s.abs() < 0.3));
            assert!(beats.len() <= 35, "{bpm}: {} beats in 10 s", beats.len());
        }
    }

    #[test]
    fn a_click_lies_in_its_narrow_band() {
        let mut beat = Beat::new(RATE_HZ);
        beat.set(wish(20.0));
        let (mut out, _) = run(&mut beat, 4_800);
        let plan = realfft::RealFftPlanner::<f32>::new().plan_fft_forward(out.len());
        let mut spectrum = plan.make_output_vec();
        plan.process(&mut out, &mut spectrum).expect("lengths fit");
        let power = |low: usize, high: usize| -> f64 {
            // 10 Hz from line to line.
            let lines = spectrum[low / 10..high / 10].iter();
            lines.map(|line| f64::from(line.norm_sqr())).sum()
        };
        let inside = power(4_100, 4_900);
        for outside in [power(0, 3_000), power(3_000, 4_100), power(4_900, 24_000)] {
            let db = 10.0 * (outside / inside).log10();
            assert!(db < -40.0, "{db} dB");
        }
        let low_db = 10.0 * (power(0, 3_000) / inside).log10();
        assert!(low_db < -70.0, "where periods are looked for: {low_db} dB");
    }

    #[test]
    fn an_inaudible_metronome_tells_its_beats_and_is_silent() {
        let mut beat = Beat::new(RATE_HZ);
        beat.set(wish(60.0).map(|wish| BeatWish { audible: false, ..wish }));
        let (out, beats) = run(&mut beat, 100_000);
        assert_eq!(beats.len(), 3);
        assert!(out.iter().all(|s| *s == 0.0));
        beat.set(None);
        assert!(beat.is_silent());
    }
}
