//! What was heard a while ago, from which an ended note is looked at once more.

use crate::harmonics::Heard;
use crate::refine::{Refined, refine};
use crate::two_strings::TwoStrings;
use pitch::{Frame, HOP_SECS, SAMPLE_RATE};
use std::collections::VecDeque;
use tuning::{Cents, Hz, Secs};
use vibrato::{Ear, Measure, Note, Quantity, Vibrato};

/// What lies around the oscillations is looked at for so long on either side, and of a longer note its end.
const AROUND_SECS: f64 = 0.6;
const LONGEST_SECS: f64 = 6.0;
/// Two strings are heard again until so long after their end.
const BEHIND_SECS: f64 = 0.1;
/// What is remembered.
const KEPT_SECS: f64 = 10.0;
/// What the program plays has faded so long after its end.
const FADES_SECS: f64 = 1.0;
/// Where the direct sound lies so many dB above the late sound a width stays as it was heard.
const DRY_DB: f64 = 8.0;
/// A narrower swing is told as it was heard, in cents.
const NARROWEST_CENTS: f64 = 4.0;
/// So few oscillations do not show what each of them left in the room: they stay as they were heard.
const LEAST_OSCILLATIONS: usize = 4;
/// Standard error of the ratio of direct to late sound.
const RATIO_DOUBT_DB: f64 = 3.0;
/// The room is spoken of where it leaves the width in doubt by more than this share.
const WIDE_DOUBT: f64 = 0.05;

/// Remembers samples and frames of the last 10 s.
#[derive(Default)]
pub struct Recall {
    samples: VecDeque<f32>,
    /// Number of the next sample.
    next: u64,
    track: VecDeque<Option<Hz>>,
    /// Number of the first frame.
    first: i64,
    /// The sample from which on the program itself has played nothing.
    undisturbed_from: u64,
    playing: bool,
}

/// A note that has ended, as it was heard, and what is needed to look at it once more, on any thread.
pub struct Excerpt {
    note: Note,
    again: Again,
}

/// What there is to look at again.
enum Again {
    Nothing,
    /// A vibrato in a room.
    Vibrato(Sound),
    /// Two strings at once.
    TwoStrings(TwoStrings),
}

struct Sound {
    samples: Vec<f32>,
    start: Secs,
    track: Vec<Option<Hz>>,
    track_start: Secs,
    from: Secs,
    to: Secs,
}

impl Recall {
    /// Remembers samples at 48 kHz.
    pub fn hear(&mut self, samples: &[f32]) {
        self.samples.extend(samples);
        self.next += samples.len() as u64;
        if self.playing {
            self.undisturbed_from = self.next + (FADES_SECS * f64::from(SAMPLE_RATE)) as u64;
        }
        self.forget();
    }

    /// Whether the program itself plays from here on: a note that may have heard that is not looked at again, for what
    /// leaks of it is no late sound.
    pub fn expect(&mut self, playing: bool) {
        self.playing = playing;
    }

    /// So many samples are missing here.
    pub fn skip(&mut self, lost: u64) {
        let most = (KEPT_SECS * f64::from(SAMPLE_RATE)) as u64;
        self.samples.extend(std::iter::repeat_n(0.0, lost.min(most) as usize));
        self.next += lost;
        self.forget();
    }

    /// Remembers a frame; they come in the order of time.
    pub fn frame(&mut self, frame: &Frame) {
        let number = (frame.time.get() / HOP_SECS).round() as i64;
        if self.first + self.track.len() as i64 != number {
            self.track.clear();
            self.first = number;
        }
        self.track.push_back(frame.f0);
        if self.track.len() > (KEPT_SECS / HOP_SECS) as usize {
            self.track.pop_front();
            self.first += 1;
        }
    }

    fn forget(&mut self) {
        let most = (KEPT_SECS * f64::from(SAMPLE_RATE)) as usize;
        self.samples.drain(..self.samples.len().saturating_sub(most));
    }

    /// What belongs to the note that has just ended, if one has.
    pub fn excerpt(&self, ear: &Ear) -> Option<Excerpt> {
        let note = ear.note()?.clone();
        let undisturbed = note.start.get() * f64::from(SAMPLE_RATE) >= self.undisturbed_from as f64;
        let still: Vec<Hz> = ear.still_strings().collect();
        let again = match note.vibrato.as_ref().and_then(|vibrato| self.sound(vibrato)) {
            _ if !undisturbed => Again::Nothing,
            Some(sound) => Again::Vibrato(sound),
            None if !still.is_empty() => {
                let (samples, start) =
                    self.samples_within(note.start.get(), note.end.get() + BEHIND_SECS);
                Again::TwoStrings(TwoStrings { samples, start, still, settings: ear.settings() })
            }
            None => Again::Nothing,
        };
        let mut excerpt = Excerpt { note, again };
        // Whether the room leaves the width in doubt is known once that was looked at.
        excerpt.note.remarks.room &= !excerpt.is_open();
        Some(excerpt)
    }

    /// The samples between these times in seconds, as far as they are remembered, and the time of the first.
    fn samples_within(&self, from: f64, to: f64) -> (Vec<f32>, Secs) {
        let rate = f64::from(SAMPLE_RATE);
        let begin = self.next - self.samples.len() as u64;
        let first = ((from.max(0.0) * rate) as u64).clamp(begin, self.next);
        let last = ((to.max(0.0) * rate) as u64).clamp(first, self.next);
        let samples = self.samples.range((first - begin) as usize..(last - begin) as usize);
        (samples.copied().collect(), Secs(first as f64 / rate))
    }

    /// The sound of a vibrato. `None` where it is known to be as wide as it was heard, or too narrow to tell.
    fn sound(&self, vibrato: &Vibrato) -> Option<Sound> {
        let dry = vibrato.get(Quantity::Widened).is_some_and(|pct| pct.value <= 0.0);
        let few = vibrato.oscillations.len() < LEAST_OSCILLATIONS;
        if dry || few || vibrato.width.value.get() < NARROWEST_CENTS {
            return None;
        }
        let (first, last) = (vibrato.oscillations.first()?, vibrato.oscillations.last()?);
        let to = last.start.get() + last.period.get();
        let from = first.start.get().max(to - LONGEST_SECS);
        let (early, late) = (from - AROUND_SECS, to + AROUND_SECS);
        let (samples, start) = self.samples_within(early, late);
        let frame = |secs: f64| {
            let at = (secs / HOP_SECS).round() as i64 - self.first;
            at.clamp(0, self.track.len() as i64) as usize
        };
        let (first_frame, last_frame) = (frame(early), frame(late));
        Some(Sound {
            samples,
            start,
            track: self.track.range(first_frame..last_frame).copied().collect(),
            track_start: Secs((self.first + first_frame as i64) as f64 * HOP_SECS),
            from: Secs(from),
            to: Secs(to),
        })
    }
}

/// Ended notes in their order, each handed on once it is settled: looked at again where that was open.
#[derive(Default)]
pub struct Settling(VecDeque<(Note, bool)>);

impl Settling {
    /// A note ended.
    pub fn push(&mut self, note: Note, settled: bool) {
        self.0.push_back((note, settled));
    }

    /// A note was looked at again.
    pub fn settle(&mut self, note: &Note) {
        if let Some(open) = self.0.iter_mut().find(|(open, _)| open.start == note.start) {
            *open = (note.clone(), true);
        }
    }

    /// The next note, if it is settled, or in any case.
    pub fn next(&mut self, in_any_case: bool) -> Option<Note> {
        Some(self.0.pop_front_if(|(_, settled)| in_any_case || *settled)?.0)
    }
}

impl Excerpt {
    /// The note as it was heard.
    pub fn note(&self) -> &Note {
        &self.note
    }

    /// Whether there is anything to look at again.
    pub fn is_open(&self) -> bool {
        !matches!(self.again, Again::Nothing)
    }

    /// The note with the width of the string's own motion, or that of the one of two strings that was not still, and what
    /// was found of the room. Where the place is dry, or nothing can be told, the note is as it was.
    pub fn look_again(self) -> (Note, Option<Refined>) {
        let Self { mut note, again } = self;
        let sound = match again {
            Again::Nothing => return (note, None),
            Again::Vibrato(sound) => sound,
            Again::TwoStrings(strings) => return (strings.follow(note), None),
        };
        let Some(vibrato) = note.vibrato.as_mut() else { return (note, None) };
        // What the first look made of it stands where late sound does not show.
        let first =
            vibrato.get(Quantity::Widened).map_or(Measure { value: 1.0, se: Some(0.0) }, |pct| {
                Measure { value: 1.0 + pct.value / 100.0, se: pct.se.map(|se| se / 100.0) }
            });
        let looked_at = vibrato.oscillations.iter().filter(|o| o.start >= sound.from);
        let widths: Vec<f64> = looked_at.map(|o| o.crest.get() - o.trough.get()).collect();
        let width = widths.iter().sum::<f64>() / widths.len().max(1) as f64;
        let refined = refine(&Heard {
            samples: &sound.samples,
            start: sound.start,
            track: &sound.track,
            track_start: sound.track_start,
            from: sound.from,
            to: sound.to,
            rate: vibrato.rate.value,
            width: Cents(width / first.value),
        });
        let by = refined.map_or(first, |refined| {
            let by = if refined.ratio_db > DRY_DB {
                Measure { value: 1.0, se: Some(0.0) }
            } else if refined.shows {
                refined.factor
            } else {
                first
            };
            vibrato.widen(by);
            let ratio = Measure { value: refined.ratio_db, se: Some(RATIO_DOUBT_DB) };
            vibrato.others.set(Quantity::DirectSound, Some(ratio));
            by
        });
        if let Some(se) = vibrato.centre.se {
            note.doubt_pitch(se);
        }
        note.remarks.room = by.se.is_none_or(|doubt| doubt > WIDE_DOUBT * by.value);
        (note, refined)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use tone::{Line, NoteSpec, Room, Spec, VibratoSpec};
    use vibrato::{Event, Settings};

    const WIDTH_CENTS: f64 = 40.0;

    /// What belongs to the only note of A3 with this vibrato in a room.
    fn played(room: Option<Room>, width: f64) -> Excerpt {
        let note = NoteSpec::straight(Secs(0.3), Secs(2.2), Hz(220.0));
        let vibrato = VibratoSpec::regular(Hz(5.5), Cents(width));
        let notes = vec![if width > 0.0 { note.with(vibrato) } else { note }];
        let spec = Spec { lines: vec![Line { notes, level_db: 0.0 }], room, ..Spec::default() };
        let sound = spec.render().expect("playable");
        let mut ear = Ear::new(Settings::default());
        let mut recall = Recall::default();
        recall.hear(&sound.samples);
        let mut ended = Vec::new();
        let mut keep = |event, ear: &Ear| {
            if let Event::Frame(frame) = event {
                recall.frame(&frame);
            }
            ended.extend(recall.excerpt(ear));
        };
        ear.hear(&sound.samples, &mut keep);
        ear.finish();
        ear.hear(&[], &mut keep);
        assert_eq!(ended.len(), 1, "one note");
        ended.remove(0)
    }

    fn width(note: &Note) -> Measure<Cents> {
        note.vibrato.as_ref().expect("a vibrato").width
    }

    #[test]
    fn in_a_room_the_width_is_that_of_the_string() {
        for (drr_db, near) in [(4.0, 0.01), (1.0, 0.01), (-1.5, 0.01)] {
            let ended = played(Some(Room { t60: Secs(0.5), drr_db }), WIDTH_CENTS);
            assert!(ended.is_open(), "{drr_db} dB");
            let mut heard = ended.note().clone();
            let as_heard = Measure { value: 1.0, se: Some(0.0) };
            heard.vibrato.as_mut().expect("a vibrato").widen(as_heard);
            let (note, found) = ended.look_again();
            let (heard, settled) = (width(&heard), width(&note));
            let error = (settled.value.get() / WIDTH_CENTS - 1.0).abs();
            assert!(error < near, "{drr_db} dB: {settled:?}, heard {heard:?}");
            assert!(heard.value.get() < settled.value.get(), "{drr_db} dB: {heard:?}");
            let doubt = settled.se.expect("it has one").get();
            assert!(error * WIDTH_CENTS < 2.0 * doubt, "{drr_db} dB: {settled:?}");
            let found = found.expect("something was found");
            assert!(found.explained && (found.ratio_db - drr_db).abs() < 5.0, "{found:?}");
            let of = |note: &Note| note.vibrato.clone().expect("a vibrato").oscillations;
            let mean = |note: &Note| {
                let widths = of(note).iter().map(|o| o.crest.get() - o.trough.get()).sum::<f64>();
                widths / of(note).len() as f64
            };
            assert!((mean(&note) - settled.value.get()).abs() < 0.01, "each oscillation, too");
        }
    }

    #[test]
    fn a_dry_note_and_a_straight_one_stay_as_they_were_heard() {
        for (room, width) in
            [(None, WIDTH_CENTS), (None, 0.0), (Some(Room { t60: Secs(0.5), drr_db: 0.0 }), 0.0)]
        {
            let ended = played(room, width);
            let heard = ended.note().clone();
            assert!(!ended.is_open(), "{width} cents in {room:?}");
            assert_eq!(ended.look_again(), (heard, None));
        }
    }

    #[test]
    fn notes_come_out_in_order_once_each_is_settled() {
        let note = played(None, 0.0).note().clone();
        let later = note.later(Secs(5.0));
        let mut settling = Settling::default();
        settling.push(note.clone(), false);
        settling.push(later.clone(), true);
        assert_eq!(settling.next(false), None, "the first is still looked at");
        let wider = Note { confidence: 0.5, ..note };
        settling.settle(&wider);
        assert_eq!(
            [settling.next(false), settling.next(false)],
            [Some(wider.clone()), Some(later)]
        );
        settling.push(wider.clone(), false);
        assert_eq!(settling.next(true), Some(wider), "its take ends");
    }
}
