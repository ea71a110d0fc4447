//! What the player thread does at each look: it keeps the loudspeaker, feeds it, and tells the beats.

use std::collections::VecDeque;
use std::time::{Duration, Instant};

use sound::{OutputClock, Playback, Sink, secs_between};

use super::clip::Clip;
use super::mixer::{Falls, Mark, Mixer};
use super::{FromPlayer, Playing};

/// So much sound waits for the device: enough for a busy machine, and soon changed.
const QUEUE_SECS: f64 = 0.06;
/// Samples made at a time.
const BLOCK: usize = 240;
/// A device whose clock does not settle in so long is believed as it is.
const SETTLING: Duration = Duration::from_millis(500);
/// The rate at which beats are counted before a loudspeaker has told its own.
const SILENT_RATE_HZ: u32 = 48_000;

/// What falls on places whose instants have not been told.
type Marks = VecDeque<(i64, Falls)>;

/// The work of the player thread; `T` tells the window.
pub(super) struct Work<S, T> {
    tell: T,
    wish: Playing,
    playback: Playback<S>,
    mixer: Mixer,
    fed: Option<Fed>,
    /// What has been made and whose instant has not been told, with the place it sounds at.
    marks: Marks,
    /// Where nothing plays, while there is a beat: a sample of the mixer's and when it would sound.
    unheard: Option<(u64, Instant)>,
    trouble: Option<String>,
}

/// How an open loudspeaker is fed.
struct Fed {
    clock: OutputClock,
    opened: Instant,
    /// Places given so far: samples, and silence the device put in where none waited.
    played: u64,
    starved: u64,
    /// The mixer is heard; before, it is given silence until its clock can be believed.
    begun: bool,
    /// Samples of silence to come before the mixer goes on.
    hold: u64,
}

impl Fed {
    fn next_place(&self) -> i64 {
        (self.played + self.starved) as i64
    }

    /// The place of the mixer's sample 0, if its sample `now` comes next.
    fn first(&self, now: u64) -> i64 {
        self.next_place() + self.hold as i64 - now as i64
    }

    /// Follows the device's clock. What sounds later than it was made for is left out, so that the beats stay on the beat.
    fn follow(
        &mut self,
        position: Option<(u64, Instant)>,
        starved: u64,
        mixer: &mut Mixer,
        marks: &mut Marks,
    ) {
        let lost = self.clock.follow(position) + starved - self.starved;
        if self.begun {
            let first = self.first(mixer.now());
            mixer.owe(lost);
            mixer.catch_up(|mark| marks.push_back((first + mark.sample as i64, mark.what)));
        }
        self.starved = starved;
    }

    /// The mixer is heard from now on. Beats that went on unheard, with a sample that would have sounded at its instant,
    /// keep their time.
    fn begin(&mut self, unheard: Option<(u64, Instant)>, mixer: &mut Mixer, marks: &mut Marks) {
        self.begun = true;
        let Some((sample, at)) = unheard else { return };
        let Some(next_at) = self.clock.sounds_at(self.next_place()) else { return };
        let due = sample as f64 + f64::from(mixer.rate_hz()) * secs_between(at, next_at);
        let due = due.round().max(0.0) as u64;
        self.hold = mixer.now().saturating_sub(due);
        let passes = due.saturating_sub(mixer.now());
        let first = self.first(due.max(mixer.now()));
        mixer.pass(passes, |mark| marks.push_back((first + mark.sample as i64, mark.what)));
    }

    /// Gives the device as much sound as is to wait there; silence until the mixer is heard.
    fn fill(&mut self, sink: &mut impl Sink, mixer: &mut Mixer, marks: &mut Marks) {
        let queue = (QUEUE_SECS * f64::from(mixer.rate_hz())) as usize;
        while sink.waiting() < queue {
            let mut block = [0.0; BLOCK];
            if self.begun {
                let first = self.first(mixer.now());
                mixer.catch_up(|mark| marks.push_back((first + mark.sample as i64, mark.what)));
                let first = self.first(mixer.now());
                let held = self.hold.min(BLOCK as u64);
                self.hold -= held;
                mixer.fill(&mut block[held as usize..], |mark| {
                    marks.push_back((first + mark.sample as i64, mark.what));
                });
            }
            self.played += BLOCK as u64;
            if sink.play(&block) < BLOCK {
                break;
            }
        }
    }

    /// When a place sounds: by its clock, or by what the device tells while that has not settled.
    fn sounds_at(
        &self,
        place: i64,
        position: Option<(u64, Instant)>,
        rate_hz: u32,
    ) -> Option<Instant> {
        self.clock.sounds_at(place).or_else(|| {
            let (known, at) = position?;
            Some(moved(at, (place - known as i64) as f64 / f64::from(rate_hz)))
        })
    }
}

impl<S: Sink, T: Fn(FromPlayer)> Work<S, T> {
    /// Nothing is to sound yet.
    pub(super) fn new(tell: T) -> Self {
        Self {
            tell,
            wish: Playing::default(),
            playback: Playback::of(None),
            mixer: Mixer::new(SILENT_RATE_HZ),
            fed: None,
            marks: VecDeque::with_capacity(64),
            unheard: None,
            trouble: None,
        }
    }

    /// From now on this is to sound, and nothing else.
    pub(super) fn wish(&mut self, wish: Playing) {
        self.playback.choose(wish.loudspeaker.clone());
        self.mixer.set(&wish);
        self.wish = wish;
    }

    /// Plays this clip instead of the one that plays.
    pub(super) fn play(&mut self, clip: Clip) {
        let number = clip.number;
        if let Err(why) = self.mixer.play(clip) {
            (self.tell)(FromPlayer::ClipOver {
                clip: number,
                at: Instant::now(),
                why: Some(why.to_string()),
            });
        }
    }

    /// The clip that plays fades out.
    pub(super) fn stop_clip(&mut self) {
        self.mixer.stop_clip();
    }

    /// Plays so many chirps.
    pub(super) fn chirp(&mut self, count: u32) {
        self.mixer.chirp(count);
    }

    /// From now on nothing is to sound.
    pub(super) fn hush(&mut self) {
        self.mixer.stop_clip();
        self.mixer.chirp(0);
        self.wish(Playing { loudspeaker: self.wish.loudspeaker.clone(), ..Playing::default() });
    }

    /// There is nothing to do until the next wish.
    pub(super) fn is_at_rest(&mut self) -> bool {
        self.mixer.is_silent() && self.playback.sink().is_none() && self.trouble.is_none()
    }

    /// All that was to sound has sounded.
    pub(super) fn is_played_out(&mut self) -> bool {
        match self.playback.sink() {
            Some(sink) => self.mixer.is_silent() && sink.waiting() == 0,
            None => true,
        }
    }

    /// One look, at `now`.
    pub(super) fn step(&mut self, now: Instant) {
        let kept = self.playback.poll(now, !self.mixer.is_silent());
        if kept.changed {
            let status = self.playback.status();
            let trouble = status.is_trouble().then(|| status.to_string());
            if trouble != self.trouble {
                self.trouble.clone_from(&trouble);
                (self.tell)(FromPlayer::Loudspeaker(trouble));
            }
        }
        if kept.opened {
            self.begin(now);
        }
        if self.playback.sink().is_some() {
            self.feed(now);
        } else {
            self.pass_unheard(now);
        }
    }

    /// A loudspeaker was opened.
    fn begin(&mut self, now: Instant) {
        let Some(sink) = self.playback.sink() else {
            return;
        };
        let rate_hz = sink.sample_rate_hz();
        if rate_hz != self.mixer.rate_hz() {
            let before = std::mem::replace(&mut self.mixer, Mixer::new(rate_hz));
            self.mixer.set(&self.wish);
            self.mixer.chirp(before.chirps_left());
            self.unheard = None;
            if let Some(clip) = before.rest_of_clip() {
                self.play(clip);
            }
        }
        self.marks.clear();
        self.fed = Some(Fed {
            clock: OutputClock::new(rate_hz, now),
            opened: now,
            played: 0,
            starved: 0,
            begun: false,
            hold: 0,
        });
    }

    /// Makes as much sound as is wanted now, and tells the beats in it.
    fn feed(&mut self, now: Instant) {
        let (Some(sink), Some(fed)) = (self.playback.sink(), &mut self.fed) else {
            return;
        };
        let (mixer, marks) = (&mut self.mixer, &mut self.marks);
        let position = sink.position();
        fed.follow(position, sink.starved(), mixer, marks);
        let late = now.saturating_duration_since(fed.opened) >= SETTLING;
        if !fed.begun && (fed.clock.is_settled() || late && position.is_some()) {
            fed.begin(self.unheard.take(), mixer, marks);
        }
        fed.fill(sink, mixer, marks);
        while let Some(&(place, what)) = marks.front() {
            let Some(at) = fed.sounds_at(place, position, mixer.rate_hz()) else { break };
            marks.pop_front();
            (self.tell)(FromPlayer::of(what, at));
        }
    }

    /// Nobody hears it: the beats go on by the clock, and the drone waits.
    fn pass_unheard(&mut self, now: Instant) {
        if let Some(fed) = self.fed.take() {
            self.marks.clear();
            let next = fed.clock.sounds_at(fed.next_place() + fed.hold as i64);
            if fed.begun
                && let Some(at) = next
            {
                self.unheard = Some((self.mixer.now(), at));
            }
        }
        self.mixer.cut(&self.wish);
        if self.wish.beat.is_none() && self.wish.run.is_none() {
            self.unheard = None;
            // A click that was cut off is over.
            self.mixer.pass(BLOCK as u64, |_| {});
            return;
        }
        let rate = f64::from(self.mixer.rate_hz());
        let (sample, at) = *self.unheard.get_or_insert((self.mixer.now(), now));
        let due = sample as f64 + rate * (secs_between(at, now) + QUEUE_SECS);
        let passes = (due as u64).saturating_sub(self.mixer.now());
        let tell = &self.tell;
        self.mixer.pass(passes, |mark: Mark| {
            let after = (mark.sample as f64 - sample as f64) / rate;
            tell(FromPlayer::of(mark.what, moved(at, after)));
        });
    }
}

/// The instant `secs` after `at`, or before it.
fn moved(at: Instant, secs: f64) -> Instant {
    let by = Duration::from_secs_f64(secs.abs());
    if secs < 0.0 { at.checked_sub(by).unwrap_or(at) } else { at + by }
}

#[cfg(test)]
mod heard;
#[cfg(test)]
mod stage;

#[cfg(test)]
mod tests {
    use sound::LoudspeakerError;
    use tone::{BeatWish, DroneWish};
    use tuning::Hz;

    use super::stage::{NEAR_SECS, Session, clicks, world};
    use super::*;

    fn beating(bpm: f64) -> Playing {
        Playing { beat: Some(BeatWish { bpm, bar: 4, audible: true }), ..Playing::default() }
    }

    fn droning() -> Playing {
        Playing {
            drone: Some(DroneWish { root: Hz(110.0), fifth: false, level_db: -36.0 }),
            ..Playing::default()
        }
    }

    #[test]
    fn beats_are_told_at_the_instant_at_which_they_sound() {
        for rate_hz in [44_100, 48_000, 96_000] {
            let mut session = Session::new(rate_hz);
            session.work.wish(beating(120.0));
            session.run(10.0);
            let (beats, clicks) = (session.beats(), clicks());
            assert!(clicks.len() >= 19, "{} clicks", clicks.len());
            assert!(beats.len() >= clicks.len());
            for (beat, click) in beats.iter().zip(&clicks) {
                assert!((beat - click).abs() < NEAR_SECS, "{beat} {click}");
            }
            assert!(beats[0] < 0.3, "the first one soon: {} s", beats[0]);
            assert!(session.troubles().is_empty());
        }
    }

    #[test]
    fn beats_are_told_before_they_sound() {
        let mut session = Session::new(48_000);
        session.work.wish(beating(60.0));
        for _ in 0..2_000 {
            let told = session.told.borrow().len();
            session.run(0.005);
            let now = session.now;
            for told in &session.told.borrow()[told..] {
                if let FromPlayer::Beat { at, .. } = told {
                    assert!(*at > now, "{:?} late", now - *at);
                }
            }
        }
    }

    #[test]
    fn lost_time_puts_no_later_beat_off_the_beat() {
        let mut session = Session::new(48_000);
        session.work.wish(beating(120.0));
        session.run(3.2);
        // The thread is kept away for longer than the queue lasts; later the device makes a gap itself.
        session.pass(0.2);
        session.run(3.0);
        world(|world| world.gap(512));
        session.run(4.0);
        let (beats, clicks) = (session.beats(), clicks());
        assert!(world(|world| world.starved) > 5_000);
        assert!(clicks.len() >= 19, "{} clicks", clicks.len());
        for (number, click) in clicks.iter().enumerate() {
            let due = clicks[0] + 0.5 * number as f64;
            assert!((click - due).abs() < 0.002, "click {number}: {click} {due}");
            let beat = beats[number];
            assert!((beat - click).abs() < 0.002, "{beat} {click}");
        }
    }

    #[test]
    fn a_gap_of_the_device_swallows_no_click() {
        let mut session = Session::new(48_000);
        session.work.wish(beating(200.0));
        session.run(1.0);
        for _ in 0..60 {
            session.run(0.317);
            world(|world| world.gap(700));
        }
        let clicks = clicks();
        let due = ((clicks[clicks.len() - 1] - clicks[0]) / 0.3).round() as usize;
        assert_eq!(clicks.len(), due + 1);
        for (number, click) in clicks.iter().enumerate() {
            let late = click - clicks[0] - 0.3 * number as f64;
            assert!((-0.002..0.017).contains(&late), "click {number}: {late} s");
        }
    }

    #[test]
    fn without_a_loudspeaker_the_beats_go_on_by_the_clock() {
        let mut session = Session::new(48_000);
        world(|world| world.refuses = true);
        session.work.wish(beating(120.0));
        session.run(5.0);
        assert_eq!(session.troubles(), [Some(LoudspeakerError::Taken.to_string())]);
        let beats = session.beats();
        assert!((10..=11).contains(&beats.len()), "{} beats", beats.len());
        for (number, beat) in beats.iter().enumerate() {
            assert!((beat - beats[0] - 0.5 * number as f64).abs() < 1e-4);
        }
        world(|world| world.refuses = false);
        session.run(5.0);
        assert_eq!(session.troubles().last(), Some(&None));
        assert!(clicks().len() >= 7, "and are heard when it is back");
        stays_on_the_beat(&session.beats(), 20);
    }

    fn stays_on_the_beat(beats: &[f64], least: usize) {
        assert!(beats.len() >= least, "{} beats", beats.len());
        for (number, beat) in beats.iter().enumerate() {
            let due = beats[0] + 0.5 * number as f64;
            assert!((beat - due).abs() < 1e-3, "beat {number}: {beat} {due}");
        }
    }

    #[test]
    fn a_lost_loudspeaker_is_told_and_found_again() {
        let mut session = Session::new(48_000);
        session.work.wish(beating(120.0));
        session.run(3.0);
        world(|world| {
            world.failure = Some(LoudspeakerError::Broken { reason: "pulled".to_owned() });
            world.refuses = true;
        });
        session.run(0.5);
        world(|world| (world.failure, world.refuses) = (None, false));
        session.run(3.0);
        let troubles = session.troubles();
        assert_eq!(troubles.len(), 2, "{troubles:?}");
        assert!(troubles[0].is_some());
        assert_eq!(troubles[1], None);
        assert_eq!(world(|world| world.opened), 2);
        let (beats, clicks) = (session.beats(), clicks());
        stays_on_the_beat(&beats, 12);
        assert!(clicks.len() >= 3);
        for click in clicks {
            let near = beats.iter().any(|beat| (beat - click).abs() < NEAR_SECS);
            assert!(near, "{click}: {beats:?}");
        }
    }

    #[test]
    fn the_loudspeaker_is_let_go_when_nothing_is_wanted() {
        let mut session = Session::new(48_000);
        assert!(session.work.is_at_rest());
        session.work.wish(droning());
        session.run(3.0);
        assert!(!session.work.is_at_rest());
        session.work.wish(Playing::default());
        session.run(5.0);
        assert!(session.work.is_at_rest());
        assert!(session.work.playback.sink().is_none());
    }

    #[test]
    fn hushed_it_fades_out_and_is_played_out_within_a_second() {
        let mut session = Session::new(48_000);
        session.work.wish(droning());
        session.run(3.0);
        session.work.hush();
        assert!(!session.work.is_played_out());
        session.run(0.9);
        let steepest = world(|world| {
            let steps = world.sounded.windows(2).map(|pair| pair[1] - pair[0]);
            steps.fold(0.0, |most: f32, step| most.max(step.abs()))
        });
        assert!(steepest < 0.002, "no click: {steepest}");
        assert!(session.work.mixer.is_silent());
    }

    #[test]
    fn trouble_is_over_when_nothing_is_wanted_any_more() {
        let mut session = Session::new(48_000);
        world(|world| world.refuses = true);
        session.work.wish(droning());
        session.run(1.0);
        session.work.wish(Playing::default());
        session.run(1.0);
        assert_eq!(session.troubles().last(), Some(&None));
        assert!(session.work.is_at_rest());
    }
}
