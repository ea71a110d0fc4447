//! Which note of a passage is played, while it is played and, exactly, afterwards.

mod beginnings;
mod follower;
mod heard;
mod model;
mod places;
mod row;
mod unslip;
mod viterbi;

use tuning::{Secs, Tuning};
use vibrato::{FRAME, median};

pub use follower::{Follower, Now};
pub use heard::Heard;
pub(crate) use heard::{cents_of, frame_at, time_of};
use model::{AFTER, Model, Way};
use places::{Onset, places};
pub use row::played_once;
use viterbi::{Found, Lattice};

use crate::plan::Passage;

/// A note of a passage as it was found in what was heard.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Aligned {
    /// Its number in the plan, from 0, rests counted; `None` for sound that is no note of the plan.
    pub note: Option<usize>,
    /// Where it begins; of a note that was left out, where it would be.
    pub start: Secs,
    /// Where it ends.
    pub end: Secs,
    /// How it was played.
    pub how: How,
}

/// How a note of the plan was played.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum How {
    /// As planned.
    Played,
    /// At another pitch.
    OtherPitch,
    /// Once more, right after the first time.
    Repeated,
    /// Not at all.
    LeftOut,
    /// Something was played that is not in the plan.
    Extra,
    /// Two strings: it is not heard which, so nothing is said of it.
    Unheard,
}

impl How {
    /// In a word or two, as tables and files have it.
    pub fn word(self) -> &'static str {
        match self {
            Self::Played => "played",
            Self::OtherPitch => "another pitch",
            Self::Repeated => "repeated",
            Self::LeftOut => "left out",
            Self::Extra => "extra",
            Self::Unheard => "unheard",
        }
    }
}

/// Sound between notes is told as an extra note from this length on.
const EXTRA_SECS: f64 = 0.12;
/// The beat at a time is the middle of so many notes next to it; fewer than so many tell nothing.
const BEAT_NOTES: usize = 9;
const LEAST_BEAT_NOTES: usize = 3;
/// So often the way is looked for, each time by the beat of the way before.
const PASSES: usize = 3;
/// Pauses make the whole longer than its notes.
const FIRST_BEAT: f64 = 1.05;

/// Aligns all that was heard with the plan.
pub fn align(passage: &Passage, heard: &mut Heard, tuning: &Tuning) -> Vec<Aligned> {
    aligned(&Model::new(passage, tuning), heard)
}

fn aligned(model: &Model, heard: &mut Heard) -> Vec<Aligned> {
    heard.settle();
    heard.unslip(|told, right| model.goes(told, right));
    let places = places(heard, 0..heard.len() + 1);
    let sounding = heard.sums(0, heard.len()).count * FRAME.get();
    let first = FIRST_BEAT * sounding / model.beats();
    let mut beat = Beat(vec![first]);
    let mut found = Vec::new();
    for _ in 0..PASSES {
        found = pass(model, heard, &places, |time| beat.at(time));
        beat = Beat::of(model, &found, first);
    }
    told(model, heard, &found, &places)
}

/// One way through all places.
fn pass(model: &Model, heard: &Heard, places: &[Onset], beat: impl Fn(f64) -> f64) -> Vec<Found> {
    let mut lattice = Lattice::default();
    for onset in places {
        lattice.push((model, &AFTER), heard, *onset, &beat);
    }
    let mut found: Vec<Found> = lattice.back().collect();
    found.reverse();
    found
}

/// Seconds a beat through the take, from notes that follow each other as planned; one each half second.
struct Beat(Vec<f64>);

const GRID_SECS: f64 = 0.5;

impl Beat {
    fn of(model: &Model, found: &[Found], otherwise: f64) -> Self {
        let pairs = found.windows(2).filter(|two| two[1].way == Way::Next && !two[0].other_pitch);
        // Time, and the logarithm of the beat there.
        let told: Vec<(f64, f64)> = pairs
            .map(|two| {
                let secs = (two[1].start - two[0].start) as f64 * FRAME.get();
                let middle = (two[1].start + two[0].start) as f64 * FRAME.get() / 2.0;
                (middle, (secs / model.notes[two[0].note].beats).ln())
            })
            .collect();
        let last = told.last().map_or(0.0, |told| told.0);
        if told.len() < LEAST_BEAT_NOTES {
            return Self(vec![otherwise]);
        }
        let at = |i: usize| {
            let time = i as f64 * GRID_SECS;
            let mut near: Vec<(f64, f64)> =
                told.iter().map(|told| ((told.0 - time).abs(), told.1)).collect();
            near.sort_by(|a, b| a.0.total_cmp(&b.0));
            let logs = near.into_iter().take(BEAT_NOTES).map(|near| near.1).collect();
            median(logs).map_or(otherwise, f64::exp)
        };
        Self((0..=(last / GRID_SECS) as usize + 1).map(at).collect())
    }

    fn at(&self, time: f64) -> f64 {
        self.0[((time / GRID_SECS).round() as usize).min(self.0.len() - 1)]
    }
}

/// What was found, in the plan's own numbers and in seconds, with what was left out and what came besides.
fn told(model: &Model, heard: &Heard, found: &[Found], places: &[Onset]) -> Vec<Aligned> {
    let bounds = beginnings::place(heard, model, found, places);
    let time = |frame: f64| Secs((time_of(frame).get() - beginnings::LATE_SECS).max(0.0));
    let mut all: Vec<Aligned> = Vec::new();
    let mut ended = 0.0;
    for (one, bounds) in found.iter().zip(&bounds) {
        let (start, end) = (time(bounds.start), time(bounds.end));
        all.extend(extra(heard, ended, bounds.start));
        if let Way::Skip(skipped) = one.way {
            let left_out = one.note - usize::from(skipped)..one.note;
            all.extend(left_out.map(|note| Aligned {
                note: Some(model.notes[note].number),
                start,
                end: start,
                how: How::LeftOut,
            }));
        }
        let how = match one.way {
            _ if model.double(one.note) => How::Unheard,
            _ if one.other_pitch => How::OtherPitch,
            Way::Again => How::Repeated,
            _ => How::Played,
        };
        all.push(Aligned { note: Some(model.notes[one.note].number), start, end, how });
        ended = one.end as f64;
    }
    all.extend(extra(heard, ended, heard.len() as f64));
    all
}

/// What sounds between two notes, if it is long enough.
fn extra(heard: &Heard, from: f64, to: f64) -> Option<Aligned> {
    let frames = from.max(0.0) as usize..to.max(0.0) as usize;
    let mut sounds = frames.filter(|frame| heard.cents(*frame).is_some());
    let first = sounds.next()?;
    let last = sounds.next_back()?;
    let (start, end) = (time_of(first as f64), time_of(last as f64));
    let long = end.get() - start.get() >= EXTRA_SECS;
    long.then_some(Aligned { note: None, start, end, how: How::Extra })
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;
    use crate::plan::{BeatUnit, Beats, Clef, Meter, Pace, Pitch, Place, PlanNote, Spelling};
    use pitch::Frame;
    use tuning::{Naming, pitch_name};
    use vibrato::Event;

    pub(crate) const BEAT_SECS: f64 = 0.8;

    fn spelt(midi: i32) -> Spelling {
        Spelling::named(&pitch_name(midi, Naming::Scientific)).expect("a name")
    }

    /// Quarters of these pitches, four to a bar; 0 is a rest.
    pub(crate) fn passage(midis: &[i32]) -> Passage {
        let note = |(i, midi): (usize, &i32)| {
            let at = Place { bar: i as u32 / 4, beat: Beats::whole(i as u32 % 4).expect("short") };
            let pitch = if *midi == 0 { Pitch::Rest } else { Pitch::Single(spelt(*midi)) };
            PlanNote::plain(at, Beats::whole(1).expect("short"), pitch)
        };
        let pace = Pace { bpm: 60.0 / BEAT_SECS, unit: BeatUnit::Quarter, free: true };
        let meter = Meter { beats: 4, of: BeatUnit::Quarter };
        let notes = midis.iter().enumerate().map(note).collect();
        Passage::new("made", "cello", (pace, meter, Clef::Bass), notes).expect("a passage")
    }

    /// Frames of notes in bows of their own, each a beat long with a vibrato of 40 cents; 0 is silence.
    pub(crate) fn frames(midis: &[i32]) -> Vec<Event> {
        let each = (BEAT_SECS / FRAME.get()) as usize;
        let frame = |i: usize| {
            let time = i as f64 * FRAME.get();
            let (midi, within) = (midis[i / each], i % each);
            let swing = 20.0 * (std::f64::consts::TAU * 5.0 * time).sin();
            let f0 = Tuning::default().frequency(midi).raised(tuning::Cents(swing));
            let level_db = if within < 4 { -40.0 } else { -20.0 };
            let sounds = midi != 0;
            let level_db = if sounds { level_db } else { -80.0 };
            Event::Frame(Frame::plain(Secs(time), sounds.then_some(f0), level_db))
        };
        (0..each * midis.len()).map(frame).collect()
    }

    fn aligned(planned: &[i32], played: &[i32]) -> Vec<(Option<usize>, How)> {
        let mut heard = Heard::default();
        frames(played).iter().for_each(|event| heard.push(event, None));
        let aligned = align(&passage(planned), &mut heard, &Tuning::default());
        aligned.into_iter().map(|one| (one.note, one.how)).collect()
    }

    /// These notes aligned to themselves, after each frame was changed: by which note's it is and how far within.
    fn changed(midis: &[i32], mut change: impl FnMut(usize, usize, &mut Frame)) -> Vec<Aligned> {
        let each = (BEAT_SECS / FRAME.get()) as usize;
        let mut heard = Heard::default();
        for (i, event) in frames(midis).into_iter().enumerate() {
            let Event::Frame(mut frame) = event else { continue };
            change(i / each, i % each, &mut frame);
            heard.push(&Event::Frame(frame), None);
        }
        align(&passage(midis), &mut heard, &Tuning::default())
    }

    fn all_begin_within(secs: f64, aligned: &[Aligned]) {
        for (i, one) in aligned.iter().enumerate().skip(1) {
            assert!((one.start.get() - i as f64 * BEAT_SECS).abs() < secs, "{i}: {one:?}");
        }
    }

    const SCALE: [i32; 8] = [48, 50, 52, 53, 55, 57, 59, 60];

    #[test]
    fn a_scale_played_as_planned_is_found_note_by_note_in_its_place() {
        let mut heard = Heard::default();
        frames(&SCALE).iter().for_each(|event| heard.push(event, None));
        let aligned = align(&passage(&SCALE), &mut heard, &Tuning::default());
        assert_eq!(aligned.len(), SCALE.len());
        for (i, one) in aligned.iter().enumerate() {
            assert_eq!((one.note, one.how), (Some(i), How::Played));
            assert!((one.start.get() - i as f64 * BEAT_SECS).abs() < 0.03, "{one:?}");
        }
    }

    #[test]
    fn a_stray_pitch_while_the_bow_is_lifted_begins_no_note() {
        let each = (BEAT_SECS / FRAME.get()) as usize;
        let aligned = changed(&SCALE, |note, within, frame| {
            let left = each - within;
            if left <= 14 {
                let next = SCALE.get(note + 1).filter(|_| left == 7);
                frame.f0 = next.map(|midi| Tuning::default().frequency(*midi));
                frame.level_dbfs = -60.0;
            }
        });
        all_begin_within(0.02, &aligned);
    }

    #[test]
    fn a_soft_bow_is_heard_before_its_pitch() {
        let aligned = changed(&SCALE, |_, within, frame| {
            if within < 16 {
                frame.f0 = None;
                frame.level_dbfs = -38.0 + within as f64;
            }
        });
        all_begin_within(0.02, &aligned);
    }

    #[test]
    fn a_leap_in_a_room_begins_where_the_pitch_before_is_sure_no_more() {
        // While both sound a pitch of neither is heard, for 0.1 s; the new bow is quieter at first.
        let aligned = changed(&SCALE, |note, within, frame| {
            if note > 0 && within < 20 {
                frame.f0 = frame.f0.map(|f0| f0.raised(tuning::Cents(-880.0)));
                frame.level_dbfs = if within < 4 { -27.0 } else { -25.0 };
            }
        });
        all_begin_within(0.02, &aligned);
    }

    #[test]
    fn a_note_ends_where_the_bow_leaves_and_not_where_the_room_falls_silent() {
        // The direct sound is 6 dB of the whole; the room goes on at the same pitch and falls by 75 dB a second.
        let bowed = 0.6;
        let aligned = changed(&SCALE[..1], |_, _, frame| {
            let since = frame.time.get() - bowed;
            if since > 0.0 {
                frame.level_dbfs -= 6.0 + 75.0 * since;
            }
        });
        assert!((aligned[0].end.get() - bowed).abs() < 0.02, "{aligned:?}");
    }

    #[test]
    fn a_note_that_dies_away_under_the_bow_lasts_to_its_end() {
        let aligned = changed(&SCALE[..1], |_, _, frame| {
            // Swelling and falling with the vibrato, and 8 dB softer over the last 0.4 s.
            let time = frame.time.get();
            frame.level_dbfs += 0.8 * (std::f64::consts::TAU * 5.0 * time).sin();
            frame.level_dbfs -= 20.0 * (time - BEAT_SECS + 0.4).max(0.0);
        });
        assert!((aligned[0].end.get() - BEAT_SECS).abs() < 0.02, "{aligned:?}");
    }

    #[test]
    fn slips_are_told_as_what_they_are() {
        let found = aligned(&SCALE, &[48, 50, 53, 55, 55, 56, 59, 60]);
        let played = |note: usize| (Some(note), How::Played);
        let expected = [
            played(0),
            played(1),
            (Some(2), How::LeftOut),
            played(3),
            played(4),
            (Some(4), How::Repeated),
            (Some(5), How::OtherPitch),
            played(6),
            played(7),
        ];
        assert_eq!(found, expected);
    }

    #[test]
    fn a_note_that_is_heard_an_octave_too_low_at_first_begins_where_it_begins() {
        let begins = 2.0 * BEAT_SECS;
        let aligned = changed(&[48, 52, 45, 50], |_, _, frame| {
            if (begins..begins + 0.15).contains(&frame.time.get()) {
                frame.f0 = frame.f0.map(|f0| f0.raised(tuning::Cents(-1200.0)));
            }
        });
        let found: Vec<_> = aligned.iter().map(|one| (one.note, one.how)).collect();
        assert_eq!(found, [0, 1, 2, 3].map(|note| (Some(note), How::Played)));
        assert!((aligned[2].start.get() - begins).abs() < 0.03, "{:?}", aligned[2]);
    }

    #[test]
    fn a_bar_that_is_played_again_is_found_again() {
        let found = aligned(&SCALE, &[48, 50, 52, 53, 55, 57, 0, 55, 57, 59, 60]);
        let notes: Vec<_> = found.iter().filter_map(|one| one.0).collect();
        assert_eq!(notes, [0, 1, 2, 3, 4, 5, 4, 5, 6, 7]);
    }

    #[test]
    fn a_pitch_of_a_frame_or_two_hides_no_silence() {
        let each = (BEAT_SECS / FRAME.get()) as usize;
        let mut heard = Heard::default();
        for (i, event) in frames(&[48, 0, 48]).into_iter().enumerate() {
            let Event::Frame(mut frame) = event else { continue };
            if (each..2 * each - 1).contains(&i) && i % 4 < 2 {
                frame = Frame::plain(frame.time, Some(Tuning::default().frequency(48)), -20.0);
            }
            // No dip of the level says it.
            (frame.level_dbfs, frame.upper_dbfs) = (-20.0, -20.0);
            heard.push(&Event::Frame(frame), None);
        }
        heard.settle();
        assert_eq!(viterbi::silent_secs(&heard, 2 * each), 0.6);
        let at = |place: &&places::Onset| place.frame == 2 * each;
        let places = places::places(&heard, 0..heard.len() + 1);
        assert!(places.iter().find(at).expect("a note begins there").sign_db > 5.0);
    }

    #[test]
    fn samples_that_are_lost_before_a_note_are_not_taken_for_it() {
        let begins = 0.5 * BEAT_SECS;
        let mut heard = Heard::default();
        for event in frames(&[0, 48]) {
            let Event::Frame(mut frame) = event else { continue };
            frame.time = Secs(frame.time.get() - BEAT_SECS + begins);
            if frame.time.get() >= 0.0 && !(begins - 0.14..begins).contains(&frame.time.get()) {
                heard.push(&Event::Frame(frame), None);
            }
        }
        let aligned = align(&passage(&[48]), &mut heard, &Tuning::default());
        assert!((aligned[0].start.get() - begins).abs() < 0.02, "{aligned:?}");
    }

    #[test]
    fn two_strings_are_never_judged() {
        let plain = passage(&SCALE);
        let mut notes = plain.notes().to_vec();
        notes[3].pitch = Pitch::Double(spelt(53), spelt(57));
        let passage = plain.with_notes(notes).expect("a passage");
        // The ear leaps between both.
        let mut events = frames(&SCALE);
        for (i, event) in events.iter_mut().enumerate() {
            let (first, last) = (3.0 * BEAT_SECS, 4.0 * BEAT_SECS);
            if let Event::Frame(frame) = event
                && (first..last).contains(&frame.time.get())
                && i % 20 < 10
            {
                frame.f0 = frame.f0.map(|f0| f0.raised(tuning::Cents(400.0)));
            }
        }
        let mut heard = Heard::default();
        events.iter().for_each(|event| heard.push(event, None));
        let aligned = align(&passage, &mut heard, &Tuning::default());
        let found: Vec<_> = aligned.iter().map(|one| (one.note, one.how)).collect();
        assert_eq!(found[3], (Some(3), How::Unheard), "{found:?}");
        assert_eq!(found.len(), SCALE.len(), "{found:?}");
    }

    #[test]
    fn the_note_that_sounds_is_known_within_an_eighth_of_a_second_and_nothing_before_the_first() {
        let mut follower = Follower::new(&passage(&SCALE), &Tuning::default());
        assert_eq!(follower.now(), None);
        let each = (BEAT_SECS / FRAME.get()) as usize;
        for (i, event) in frames(&SCALE).iter().enumerate() {
            follower.push(event, None);
            if i % each > 25 {
                assert_eq!(follower.now().map(|now| now.note), Some(i / each), "frame {i}");
            }
        }
        assert_eq!(follower.finish().0.len(), SCALE.len());
    }

    #[test]
    fn three_hundred_bars_are_followed_to_their_end() {
        let next = |midi: &i32| Some((midi * 1_103 + 12_345) % 10_007);
        let midis = std::iter::successors(Some(1), next).map(|chance| 40 + chance % 29);
        let midis: Vec<i32> = midis.take(1_200).collect();
        // The player sets in near the end.
        let played = &midis[1_100..1_180];
        let found = aligned(&midis, played);
        let right = found.iter().zip(1_100..).filter(|(one, note)| one.0 == Some(*note)).count();
        assert!(right > 70, "{right}: {found:?}");
    }
}
