//! On the listener's thread: arms a take, starts it with sound, ends it after silence, and hands the
//! writer what belongs to it. Never waits for the disk.

use std::collections::VecDeque;
use std::sync::atomic::Ordering::Relaxed;

use coach::{Bowing, Change, Rounds};
use late_sound::Settling;
use tuning::Secs;
use vibrato::{Event, Note};

use super::queue::Jobs;
use super::{Job, TakeState, Tell, Wish};

/// A note is known as one this long after it began at most; so much more is held back.
const LATE: Secs = Secs(0.5);

/// What is told when the writer is so far behind that there is no room for more sound.
const TOO_SLOW: &str =
    "the disk is too slow: part of this take is missing in it; its notes are kept";

/// Follows one source.
pub struct Keeper {
    wish: Wish,
    jobs: Jobs,
    tell: Tell,
    rounds: Rounds,
    rate_hz: u32,
    device: String,
    /// Where the next sample lies on the ear's clock.
    now: Secs,
    /// The sound before it, as much as a take may begin with.
    before: VecDeque<f32>,
    /// Where the running take begins on the ear's clock; `None` while there is none.
    zero: Option<Secs>,
    /// Samples that are missing before the next ones: the microphone lost them, or the writer had no room for them.
    dropped: u64,
    /// It was told that sound is missing in this take.
    told: bool,
    /// Notes of this take that are not written yet.
    notes: Settling,
    /// Whether this take was bowed, and whether it was asked for by key: else it is set aside.
    bowing: Bowing,
    asked: bool,
}

impl Keeper {
    /// A keeper that follows `wish`.
    pub(super) fn new(wish: Wish, jobs: Jobs, tell: Tell) -> Self {
        Self {
            rounds: Rounds::new(wish.options().ends_after),
            wish,
            jobs,
            tell,
            rate_hz: 0,
            device: String::new(),
            now: Secs(0.0),
            before: VecDeque::new(),
            zero: None,
            dropped: 0,
            told: false,
            notes: Settling::default(),
            bowing: Bowing::default(),
            asked: false,
        }
    }

    /// The source is this device from now on.
    pub fn device(&mut self, name: &str) {
        name.clone_into(&mut self.device);
    }

    /// Samples at `rate_hz`, before which `lost_before` are missing. Call it before the ear hears
    /// them.
    pub fn sound(&mut self, lost_before: u64, samples: &[f32], rate_hz: u32) {
        if rate_hz != self.rate_hz {
            self.break_off();
            self.before.clear();
            self.rate_hz = rate_hz;
        }
        let secs = |count: u64| count as f64 / f64::from(rate_hz);
        if lost_before > 0 {
            self.before.clear();
            self.dropped += lost_before;
        }
        self.now.0 += secs(lost_before) + secs(samples.len() as u64);
        if self.zero.is_some() && !self.wish.options().kept {
            // What is not wanted any more ends here; what was played until then is kept.
            self.end(Job::Finish);
        }
        if self.zero.is_some() {
            self.asked |= self.wish.asked.load(Relaxed);
            self.hand_on(samples.to_vec());
        } else {
            self.dropped = 0;
        }
        self.before.extend(samples);
        let kept = self.wish.options().before.0 + LATE.0;
        let most = (kept * f64::from(rate_hz)) as usize;
        let spare = self.before.len().saturating_sub(most);
        self.before.drain(..spare);
    }

    fn hand_on(&mut self, samples: Vec<f32>) {
        let count = samples.len() as u64;
        if self.jobs.send_sound(self.dropped, samples) {
            self.dropped = 0;
            return;
        }
        self.dropped += count;
        if !std::mem::replace(&mut self.told, true) {
            (self.tell)(TakeState::Word(TOO_SLOW.to_owned()));
        }
    }

    /// What the ear reported.
    pub fn hear(&mut self, event: &Event) {
        self.rounds.ends_after = self.wish.options().ends_after;
        let change = self.rounds.hear(event);
        self.changed(change);
    }

    /// A note ended. It is written once it is settled, or as it is where its take ends before.
    pub fn note(&mut self, note: &Note, settled: bool) {
        self.rounds.note_ended(note.end);
        if self.zero.is_some() {
            self.bowing.add(note);
            self.notes.push(note.clone(), settled);
            self.write_notes(false);
        }
    }

    /// A note that ended a moment ago is settled.
    pub fn settled(&mut self, note: &Note) {
        self.notes.settle(note);
        self.write_notes(false);
    }

    /// Hands the writer the notes that are settled, or all of them.
    fn write_notes(&mut self, all: bool) {
        let Some(zero) = self.zero else { return };
        while let Some(note) = self.notes.next(all) {
            self.jobs.send(Job::Note(Box::new(note.later(Secs(-zero.0)))));
        }
    }

    /// The sound broke off: a running take ends here.
    pub fn break_off(&mut self) {
        let change = self.rounds.break_off();
        self.changed(change);
    }

    fn changed(&mut self, change: Option<Change>) {
        match change {
            Some(Change::Began { start }) => self.begin(start),
            Some(Change::Ended { .. }) if self.asked || self.bowing.is_bowed() => {
                self.end(Job::Finish);
            }
            Some(Change::Ended { .. }) => self.end(Job::SetAside),
            Some(Change::Dropped) => self.end(Job::Discard),
            None => {}
        }
    }

    fn begin(&mut self, start: Secs) {
        let options = self.wish.options();
        if !options.kept || self.rate_hz == 0 {
            return;
        }
        let rate = f64::from(self.rate_hz);
        let held = self.before.len() as f64 / rate;
        let wanted = (self.now.0 - start.0 + options.before.0).clamp(0.0, held);
        let count = ((wanted * rate).round() as usize).min(self.before.len());
        let zero = Secs(self.now.0 - count as f64 / rate);
        let device = self.device.clone();
        self.jobs.send(Job::Begin { rate_hz: self.rate_hz, device, zero });
        self.zero = Some(zero);
        (self.dropped, self.told) = (0, false);
        (self.bowing, self.asked) = (Bowing::default(), false);
        let first = self.before.len() - count;
        self.hand_on(self.before.range(first..).copied().collect());
    }

    fn end(&mut self, job: Job) {
        self.write_notes(true);
        if self.zero.take().is_some() {
            let lost = std::mem::take(&mut self.dropped);
            if lost > 0 {
                self.jobs.send(Job::Lost(lost));
            }
            self.jobs.send(job);
        }
    }
}

impl Drop for Keeper {
    /// The window closes or another source is chosen.
    fn drop(&mut self) {
        self.break_off();
    }
}

#[cfg(test)]
mod tests {
    use std::sync::{Arc, Mutex};

    use coach::TakeOptions;
    use tuning::Hz;

    use super::super::queue::{JobQueue, queue};
    use super::*;

    const RATE_HZ: u32 = 48_000;
    const BLOCK: usize = 240;

    fn keeper(kept: bool) -> (Keeper, JobQueue) {
        let (jobs, waiting) = queue();
        let wish = Wish::new(TakeOptions { kept, ends_after: Secs(2.0), before: Secs(1.0) });
        (Keeper::new(wish, jobs, Arc::new(|_| {})), waiting)
    }

    fn frame(time: f64) -> Event {
        Event::Frame(pitch::Frame::plain(Secs(time), None, -90.0))
    }

    /// Blocks whose samples count up, so that each says where it belongs; frames as the ear would.
    fn play(keeper: &mut Keeper, from: f64, to: f64) {
        let first = (from * f64::from(RATE_HZ)).round() as usize / BLOCK;
        let last = (to * f64::from(RATE_HZ)).round() as usize / BLOCK;
        for block in first..last {
            let samples: Vec<f32> = (0..BLOCK).map(|i| (block * BLOCK + i) as f32).collect();
            keeper.sound(0, &samples, RATE_HZ);
            keeper.hear(&frame((block * BLOCK) as f64 / f64::from(RATE_HZ)));
        }
    }

    fn began(at: f64) -> Event {
        Event::NoteBegan { start: Secs(at), midi: 57, reference: Hz(220.0) }
    }

    fn sound_of(jobs: &[Job]) -> Vec<f32> {
        let parts = jobs.iter().filter_map(|job| match job {
            Job::Sound(samples) => Some(samples.clone()),
            _ => None,
        });
        parts.flatten().collect()
    }

    #[test]
    fn a_take_starts_a_second_before_its_first_note_and_ends_after_silence() {
        let (mut keeper, jobs) = keeper(true);
        play(&mut keeper, 0.0, 5.05);
        assert_eq!(jobs.all(), [], "silence starts nothing");
        // The ear knows of the note 50 ms late.
        keeper.hear(&began(5.0));
        play(&mut keeper, 5.05, 7.0);
        keeper.rounds.note_ended(Secs(6.9));
        play(&mut keeper, 7.0, 12.0);
        let jobs = jobs.all();
        assert!(matches!(jobs.first(), Some(Job::Begin { rate_hz, .. }) if *rate_hz == RATE_HZ));
        assert!(matches!(jobs.last(), Some(Job::Finish)), "{:?}", jobs.last());
        let sound = sound_of(&jobs);
        let rate = f64::from(RATE_HZ);
        assert_eq!(f64::from(sound[0]), 4.0 * rate, "one second before");
        assert!(sound.windows(2).all(|pair| pair[1] == pair[0] + 1.0), "no sample is lost");
        let secs = sound.len() as f64 / rate;
        assert!((secs - (6.9 + 2.0 - 4.0)).abs() < 0.02, "{secs} s");
    }

    #[test]
    fn what_was_no_note_is_thrown_away_and_what_is_not_wanted_not_begun() {
        let (mut keeper_on, jobs) = keeper(true);
        play(&mut keeper_on, 0.0, 1.0);
        keeper_on.hear(&began(0.9));
        keeper_on.hear(&Event::NoteDropped);
        assert_eq!(jobs.all().last(), Some(&Job::Discard));
        let (mut keeper_off, jobs) = keeper(false);
        play(&mut keeper_off, 0.0, 1.0);
        keeper_off.hear(&began(0.9));
        play(&mut keeper_off, 1.0, 2.0);
        assert_eq!(jobs.all(), []);
    }

    #[test]
    fn what_was_not_bowed_is_set_aside_unless_it_was_asked_for_by_key() {
        for (unlike_bow, asked, kept) in
            [(0.2, false, true), (1.8, false, false), (1.8, true, true)]
        {
            let (mut keeper, jobs) = keeper(true);
            keeper.wish.asked.store(asked, Relaxed);
            play(&mut keeper, 0.0, 1.0);
            keeper.hear(&began(0.9));
            play(&mut keeper, 1.0, 2.0);
            let mut note = Note::plain(57, Hz(220.0), Secs(0.9), Secs(1.9));
            note.remarks.unlike_bow = unlike_bow;
            keeper.note(&note, true);
            play(&mut keeper, 2.0, 4.5);
            let last = if kept { Job::Finish } else { Job::SetAside };
            assert_eq!(jobs.all().last(), Some(&last), "{unlike_bow}, asked for: {asked}");
        }
    }

    #[test]
    fn a_take_ends_at_once_when_takes_are_turned_off() {
        let (mut keeper, jobs) = keeper(true);
        play(&mut keeper, 0.0, 1.0);
        keeper.hear(&began(0.9));
        play(&mut keeper, 1.0, 1.5);
        keeper.wish.set(TakeOptions { kept: false, ..keeper.wish.options() });
        play(&mut keeper, 1.5, 3.0);
        let jobs = jobs.all();
        assert!(matches!(jobs.last(), Some(Job::Finish)), "{:?}", jobs.last());
        let secs = sound_of(&jobs).len() as f64 / f64::from(RATE_HZ);
        assert!((secs - 1.5).abs() < 0.02, "{secs} s");
    }

    #[test]
    fn a_take_is_kept_up_to_the_break_of_the_microphone() {
        let (mut keeper, jobs) = keeper(true);
        play(&mut keeper, 0.0, 1.0);
        keeper.hear(&began(0.9));
        play(&mut keeper, 1.0, 2.0);
        keeper.rounds.note_ended(Secs(2.0));
        keeper.break_off();
        let jobs = jobs.all();
        assert!(matches!(jobs.last(), Some(Job::Finish)));
        assert!(sound_of(&jobs).len() > RATE_HZ as usize);
    }

    #[test]
    fn what_the_writer_has_no_room_for_is_told_as_lost_and_nothing_waits() {
        let (sender, jobs) = queue();
        let wish = Wish::new(TakeOptions { kept: true, ends_after: Secs(2.0), before: Secs(0.0) });
        let words = Arc::new(Mutex::new(0));
        let told = Arc::clone(&words);
        let mut keeper =
            Keeper::new(wish, sender, Arc::new(move |_| *told.lock().expect("one thread") += 1));
        play(&mut keeper, 0.0, 1.0);
        keeper.hear(&began(1.0));
        play(&mut keeper, 1.0, 100.0);
        assert_eq!(*words.lock().expect("one thread"), 1);
        let before = sound_of(&jobs.all()).len();
        play(&mut keeper, 100.0, 100.005);
        let after = jobs.all();
        let Some(Job::Lost(lost)) = after.first() else {
            panic!("{after:?}");
        };
        let played = (99.0 * f64::from(RATE_HZ)) as usize;
        assert_eq!(before + *lost as usize, played);
        assert_eq!(sound_of(&after).len(), BLOCK);
    }
}
