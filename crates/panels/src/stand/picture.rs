//! The last seconds as they were heard: what the trace, the gauges and the head are drawn from.

use crate::shell::options::{ZOOMS, Zoom};
pub use pictures::field::FieldPoint;
use pictures::gauge::MARKS;
pub use pictures::played::{Placed, Played, Point, Turn};
use std::collections::VecDeque;
use tuning::{Cents, Hz, Secs};
use vibrato::{Event, Live, Measure, Motion, Note, Oscillation, PitchCourse};

/// How much time is kept: the longest the trace may show.
pub const SPAN: Secs = Secs(16.0);
/// How many cents are shown before there was a note: an index into [`ZOOMS`].
const USUAL_ZOOM: usize = 2;
/// Time constant of the trace's glide to another note.
const GLIDE_SECS: f64 = 0.12;
/// The view stays while the note's line lies within this share of its reach.
const QUIET_SHARE: f64 = 0.4;
/// How fast the level meter falls, so that it can be read, per report of 50 ms.
const LEVEL_FALL_DB: f64 = 1.2;
/// The view by itself looks back so far for how much the motion needs, and so often, in frames.
const LOOKS_BACK: Secs = Secs(3.0);
const LOOKS_EVERY: u32 = 20;
/// It shows more as soon as the motion needs this share of its reach, and fewer once the motion
/// would need less than this share of the closer one.
const FULL_SHARE: f64 = 0.9;
const ROOMY_SHARE: f64 = 0.65;
/// What this share of the frames needs, in percent, is the motion.
const MOTION_PCT: usize = 96;
/// It does not come closer than this by itself, an index into [`ZOOMS`]: a straight note should look
/// straight.
const CLOSEST_BY_ITSELF: usize = 1;
/// The tail of the field has a point so often, and so many of them.
const TAIL_EVERY: Secs = Secs(0.1);
const TAIL: usize = 40;
/// So many notes that ended are kept: the last one, and two before it.
const PAST: usize = 3;
/// How many reports the word about clipping stays: 2 s.
const CLIPPED_REPORTS: u32 = 40;

/// A straight note that has ended.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Straight {
    /// Its MIDI number.
    pub midi: i32,
    /// Its mean pitch above what it was held against then.
    pub offset: Measure<Cents>,
}

/// What sounds now.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub enum Sounding {
    /// No note.
    #[default]
    Silence,
    /// A note that began, and nothing more is known.
    Begun(Placed),
    /// A note and its state.
    Note(Live),
}

/// How loud the sound is, slowed down to be read.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Level {
    /// Peak in dB below full scale, rising at once and falling slowly; `None` before the first.
    pub peak_dbfs: Option<f64>,
    clipped_reports: u32,
}

impl Level {
    /// Takes the peak of another 50 ms.
    pub(crate) fn take(&mut self, peak_dbfs: f64, clipped: bool) {
        let fallen = self.peak_dbfs.map_or(peak_dbfs, |peak| peak - LEVEL_FALL_DB);
        self.peak_dbfs = Some(peak_dbfs.max(fallen));
        self.clipped_reports =
            if clipped { CLIPPED_REPORTS } else { self.clipped_reports.saturating_sub(1) };
    }

    /// Full scale was reached within the last 2 s.
    pub fn clipped(&self) -> bool {
        self.clipped_reports > 0
    }
}

/// The vertical view of the trace: the pitch in its middle, as a distance from A4.
#[derive(Clone, Copy, Debug, PartialEq)]
struct View {
    middle: Cents,
    target: Cents,
}

/// The last seconds as they were heard. Nothing in it was made up: where there is no pitch there is
/// no point, and where samples are missing the place is kept.
#[derive(Clone, Debug, Default)]
pub struct Picture {
    /// The newest instant; `None` before the first frame.
    pub time: Option<Secs>,
    /// What was played in the last seconds.
    pub played: Played,
    /// The last oscillations of the note that sounds or sounded last, oldest first.
    pub oscillations: VecDeque<Oscillation>,
    /// Where the vibrato of the sounding or last note was in the field, oldest first.
    pub tail: VecDeque<(Secs, FieldPoint)>,
    /// The last straight notes, oldest first.
    pub straights: VecDeque<Straight>,
    /// What sounds now.
    pub sounding: Sounding,
    /// The note that ended last, until the next one begins.
    pub last: Option<Note>,
    /// The last notes that ended, oldest first.
    pub past: VecDeque<Note>,
    /// A note has ended since the start.
    pub begun: bool,
    /// Start of the note with which the room was spoken of: that is said once.
    room_told: Option<Secs>,
    /// How loud it is.
    pub level: Level,
    view: Option<View>,
    /// How many cents are shown where that follows the motion: an index into [`ZOOMS`].
    zoom: Option<usize>,
    frames: u32,
    /// The note before the one that sounds, in case that turns out to be none.
    set_aside: Option<Note>,
}

impl Picture {
    /// Takes in one event.
    pub(super) fn hear(&mut self, event: &Event, a4: Hz, zoom: Zoom) {
        let reach = match zoom {
            Zoom::ByItself => ZOOMS[self.zoom()],
            Zoom::Fixed(index) => ZOOMS[index.min(ZOOMS.len() - 1)],
        };
        match *event {
            Event::Frame(frame) => {
                let elapsed = self.time.map_or(0.0, |before| frame.time.0 - before.0);
                self.played.points.push_back(Point::of(&frame, self.time, a4));
                self.time = Some(frame.time);
                self.glide(elapsed);
                self.forget();
                self.frames += 1;
                if self.frames.is_multiple_of(LOOKS_EVERY) {
                    self.fit();
                }
            }
            Event::NoteBegan { start, midi, reference } => {
                let begun = Placed { start, end: None, midi, reference, straight: false };
                self.played.notes.push_back(begun);
                self.sounding = Sounding::Begun(begun);
                self.set_aside = self.last.take();
                self.oscillations.clear();
                self.tail.clear();
                self.follow(reference.cents_above(a4), reach);
            }
            Event::Live(live) => {
                self.sounding = Sounding::Note(live);
                if self.played.notes.back().is_none_or(|note| note.end.is_some()) {
                    // It began before anybody listened here.
                    let start = self.played.points.front().map_or(live.time, |point| point.time);
                    let ended = self.played.notes.back().and_then(|note| note.end);
                    self.played.notes.push_back(Placed {
                        start: ended.unwrap_or(start),
                        end: None,
                        midi: live.midi,
                        reference: live.reference,
                        straight: false,
                    });
                }
                if let Some(placed) = self.played.notes.back_mut() {
                    (placed.midi, placed.reference) = (live.midi, live.reference);
                    placed.straight = matches!(live.motion, Motion::Straight | Motion::Glides(_));
                }
                self.wander(live);
                self.follow(live.reference.cents_above(a4), reach);
            }
            Event::Oscillation(oscillation) => {
                self.played.oscillations.push_back(oscillation);
                self.oscillations.push_back(oscillation);
                if self.oscillations.len() > MARKS {
                    self.oscillations.pop_front();
                }
            }
            Event::Turn { time, f0, crest } => {
                self.played.turns.push_back(Turn { time, pitch: f0.cents_above(a4), crest })
            }
            Event::Rebowed { time } => self.played.rebows.push_back(time),
            Event::NoteEnded => self.sounding = Sounding::Silence,
            Event::NoteDropped => {
                // What was taken for a note was none: its name leaves the sheet.
                self.sounding = Sounding::Silence;
                self.played.notes.pop_back();
                self.last = self.set_aside.take();
            }
            Event::Lost { time, length } => self.played.lost.push_back((time, length)),
        }
    }

    /// A note ended with these measures; what it was held against is `reference`.
    pub(super) fn end(&mut self, note: Note, reference: Hz) {
        if note.straight() {
            let shift = note.reference.cents_above(reference).0;
            self.straights.push_back(Straight {
                midi: note.midi,
                offset: Measure { value: Cents(note.offset.value.0 + shift), se: note.offset.se },
            });
            if self.straights.len() > MARKS {
                self.straights.pop_front();
            }
        }
        self.sounding = Sounding::Silence;
        if let Some(placed) = self.played.notes.back_mut() {
            *placed = Placed {
                start: note.start,
                end: Some(note.end),
                midi: note.midi,
                reference: note.reference,
                straight: matches!(note.course, PitchCourse::Straight | PitchCourse::Glides(_)),
            };
        }
        self.played.clear_edges(note.start, note.end);
        self.begun = true;
        self.tell_room(&note);
        self.past.push_back(note.clone());
        if self.past.len() > PAST {
            self.past.pop_front();
        }
        self.last = Some(note);
    }

    /// The notes before the one that sounds or sounded last, oldest first.
    pub fn before(&self) -> impl Iterator<Item = &Note> {
        let own = usize::from(self.last.is_some() && self.sounding == Sounding::Silence);
        let count = self.past.len() - own.min(self.past.len());
        self.past.iter().take(count).skip(count.saturating_sub(PAST - 1))
    }

    /// The note that sounds or sounded last has no vibrato.
    pub fn is_straight(&self) -> bool {
        match self.sounding {
            Sounding::Note(live) => matches!(live.motion, Motion::Straight),
            Sounding::Begun(_) => false,
            Sounding::Silence => self.last.as_ref().is_some_and(Note::straight),
        }
    }

    /// The note that sounds or sounded last has a vibrato.
    pub fn swings(&self) -> bool {
        match self.sounding {
            Sounding::Note(live) => matches!(live.motion, Motion::Vibrato { .. }),
            Sounding::Begun(_) => false,
            Sounding::Silence => self.last.as_ref().is_some_and(|note| note.vibrato.is_some()),
        }
    }

    /// The note that ended last was looked at again.
    pub(super) fn settle(&mut self, note: &Note) {
        for told in self.last.iter_mut().chain(&mut self.past) {
            if told.start == note.start {
                told.clone_from(note);
            }
        }
        self.tell_room(note);
    }

    /// Speaks of the room with the note that sounds or sounded last, if this note asks for it.
    fn tell_room(&mut self, note: &Note) {
        if note.remarks.room && self.room_told.is_none() {
            self.room_told = self.played.notes.back().map(|newest| newest.start);
        }
    }

    /// Whether the room is spoken of with the note that sounds, or sounded last.
    pub(super) fn tells_room(&self) -> bool {
        let note = self.played.notes.back().map(|note| note.start);
        note.is_some() && note == self.room_told
    }

    /// The sound broke off: nothing of it is live any more.
    pub(super) fn fall_silent(&mut self) {
        self.level = Level::default();
        self.sounding = Sounding::Silence;
    }

    /// How many cents are shown where that follows the motion: an index into [`ZOOMS`].
    pub(super) fn zoom(&self) -> usize {
        self.zoom.unwrap_or(USUAL_ZOOM)
    }

    /// Adds a place to the tail of the field.
    fn wander(&mut self, live: Live) {
        let Motion::Vibrato { rate, width } = live.motion else {
            return;
        };
        let due = self.tail.back().is_none_or(|last| live.time.0 - last.0.0 >= TAIL_EVERY.0);
        if due {
            self.tail.push_back((live.time, FieldPoint { rate: rate.value, width: width.value }));
            if self.tail.len() > TAIL {
                self.tail.pop_front();
            }
        }
    }

    /// Shows as many cents as the motion of the last seconds needs.
    fn fit(&mut self) {
        let (Some(view), Some(now)) = (self.view, self.time) else {
            return;
        };
        if self.sounding == Sounding::Silence {
            return;
        }
        let begun = self.played.notes.back().map_or(now, |note| note.start);
        let mut away = Vec::new();
        for point in self.played.points.iter().rev() {
            if now.0 - point.time.0 > LOOKS_BACK.0 || point.time < begun {
                break;
            }
            if let Some(pitch) = point.pitch
                && self.played.in_note(point.time)
            {
                away.push((pitch.0 - view.target.0).abs());
            }
        }
        // A few frames astray, as where two notes meet, are no motion.
        away.sort_by(f64::total_cmp);
        let most = away.get(away.len() * MOTION_PCT / 100).copied();
        let most = most.unwrap_or_default();
        let needs = |share: f64| {
            let fits = |reach: &Cents| share * reach.0 >= most;
            ZOOMS.iter().position(fits).unwrap_or(ZOOMS.len() - 1)
        };
        let zoom = self.zoom();
        let at_least = needs(FULL_SHARE);
        let closer = needs(ROOMY_SHARE).max(CLOSEST_BY_ITSELF);
        self.zoom = Some(if at_least > zoom {
            at_least
        } else if closer < zoom {
            closer
        } else {
            zoom
        });
    }

    /// The pitch in the middle of the trace, as a distance from A4; `None` before the first note.
    pub fn middle(&self) -> Option<Cents> {
        self.view.map(|view| view.middle)
    }

    /// The line of the note that sounds or sounded last, as a distance from A4.
    pub fn line(&self, a4: Hz) -> Option<Cents> {
        let reference = match self.sounding {
            Sounding::Note(live) => Some(live.reference),
            Sounding::Begun(begun) => Some(begun.reference),
            Sounding::Silence => self.last.as_ref().map(|note| note.reference),
        };
        reference.map(|reference| reference.cents_above(a4))
    }

    /// Turns the view towards a note whose line no longer lies in its quiet middle.
    fn follow(&mut self, line: Cents, reach: Cents) {
        match &mut self.view {
            None => {
                self.view = Some(View { middle: line, target: line });
            }
            Some(view) => {
                if (line.0 - view.target.0).abs() > QUIET_SHARE * reach.0 {
                    view.target = line;
                }
                // A glide over more than a sheet would only blur.
                if (view.target.0 - view.middle.0).abs() > 2.0 * reach.0 {
                    view.middle = view.target;
                }
            }
        }
    }

    fn glide(&mut self, elapsed_secs: f64) {
        if let Some(view) = &mut self.view {
            let share = 1.0 - (-elapsed_secs.max(0.0) / GLIDE_SECS).exp();
            view.middle.0 += (view.target.0 - view.middle.0) * share;
        }
    }

    /// Lets go of what left the sheet.
    fn forget(&mut self) {
        let Some(time) = self.time else { return };
        let oldest = time.0 - SPAN.0;
        while self.played.points.front().is_some_and(|p| p.time.0 < oldest) {
            self.played.points.pop_front();
        }
        while self.played.turns.front().is_some_and(|t| t.time.0 < oldest) {
            self.played.turns.pop_front();
        }
        let over = |o: &Oscillation| o.start.0 + o.period.0 < oldest;
        while self.played.oscillations.front().is_some_and(over) {
            self.played.oscillations.pop_front();
        }
        while self.played.rebows.front().is_some_and(|t| t.0 < oldest) {
            self.played.rebows.pop_front();
        }
        while self.played.lost.front().is_some_and(|(t, length)| t.0 + length.0 < oldest) {
            self.played.lost.pop_front();
        }
        let gone = |note: &Placed| note.end.is_some_and(|end| end.0 < oldest);
        while self.played.notes.front().is_some_and(gone) {
            self.played.notes.pop_front();
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::shell::options::Options;
    use crate::stand::{Action, Heard, Stand};
    use pitch::Frame;
    use tone::{Line, NoteSpec, Spec, VibratoSpec};
    use tuning::Tuning;
    use vibrato::{Ear, Settings};

    const A3: i32 = 57;

    fn a3() -> Hz {
        Tuning::default().frequency(A3)
    }

    fn hear(stand: &mut Stand, event: Event) {
        stand.apply(Action::Heard(Heard::Event(event)));
    }

    fn begin(stand: &mut Stand, start: Secs) {
        let (midi, reference) = (A3, a3());
        hear(stand, Event::NoteBegan { start, midi, reference });
    }

    /// A note of this many seconds more, swinging at 2 Hz by `width` (of the seconds since `from`); the
    /// zooms it was seen at, one after another.
    fn swing(stand: &mut Stand, from: f64, secs: f64, width: impl Fn(f64) -> f64) -> Vec<usize> {
        let mut zooms = vec![stand.picture().zoom()];
        for frame in 0..(secs / 0.005) as u32 {
            let since = f64::from(frame) * 0.005;
            let cents = width(since) / 2.0 * (std::f64::consts::TAU * 2.0 * since).sin();
            hear(
                stand,
                Event::Frame(Frame::plain(
                    Secs(from + since),
                    Some(a3().raised(Cents(cents))),
                    -20.0,
                )),
            );
            let zoom = stand.picture().zoom();
            if zooms.last() != Some(&zoom) {
                zooms.push(zoom);
            }
        }
        zooms
    }

    #[test]
    fn a_wide_slow_swing_neither_moves_the_view_nor_changes_the_name() {
        // The last lies on the boundary of two notes and wanders from one side to the other.
        for (rate, centre, wander) in [(1.6, 0.0, 0.0), (2.5, 20.0, 0.0), (3.5, -50.0, 6.0)] {
            let start = Secs(0.4);
            let note = NoteSpec {
                wander: Cents(wander),
                ..NoteSpec::straight(start, Secs(6.0), a3().raised(Cents(centre)))
            };
            let note = note.with(VibratoSpec::regular(Hz(rate), Cents(200.0)));
            let spec = Spec {
                lines: vec![Line { notes: vec![note], level_db: 0.0 }],
                floor_dbfs: Some(-78.0),
                ..Spec::default()
            };
            let samples = spec.render().expect("a sound specification").samples;
            let mut stand = Stand::new(Options::default());
            let mut ear = Ear::new(Settings::default());
            // Once the swing is known: it is wider than the step to the next note from its start.
            let (mut names, mut views, mut zooms) = (Vec::new(), Vec::new(), Vec::new());
            ear.hear(&samples, |event, _| {
                stand.apply(Action::Heard(Heard::Event(event)));
                let picture = stand.picture();
                let Sounding::Note(live) = picture.sounding else {
                    return;
                };
                if live.time.0 < start.0 + 1.5 {
                    return;
                }
                names.push(live.midi);
                views.extend(picture.view.map(|view| view.target));
                zooms.push(picture.zoom());
            });
            assert!(names.len() > 600, "{rate} Hz: {} states", names.len());
            names.dedup();
            assert_eq!(names.len(), 1, "{rate} Hz, {centre} cents off: {names:?}");
            assert!(centre < -49.0 || names == [A3], "{rate} Hz: {names:?}");
            views.dedup();
            assert_eq!(views.len(), 1, "{rate} Hz: {views:?}");
            zooms.dedup();
            assert_eq!(zooms.len(), 1, "{rate} Hz: {zooms:?}");
        }
    }

    #[test]
    fn the_view_opens_for_a_growing_swing_and_closes_once_after_it() {
        let mut stand = Stand::new(Options::default());
        begin(&mut stand, Secs(0.0));
        let opened = swing(&mut stand, 0.0, 8.0, |since| 20.0 + 35.0 * since);
        assert_eq!(opened, [2, 1, 2, 3], "one step after the other");
        assert!(ZOOMS[3].0 * FULL_SHARE >= 150.0);
        let closed = swing(&mut stand, 8.0, 12.0, |_| 30.0);
        assert_eq!(closed, [3, 1], "all at once, and no closer than usual");
    }

    #[test]
    fn a_swing_at_the_edge_of_the_view_does_not_make_it_breathe() {
        for edge in [2.0 * FULL_SHARE * 60.0, 2.0 * ROOMY_SHARE * 60.0] {
            let mut stand = Stand::new(Options::default());
            begin(&mut stand, Secs(0.0));
            let zooms = swing(&mut stand, 0.0, 40.0, |since| edge + 8.0 * (0.9 * since).sin());
            assert!(zooms.len() <= 3, "{edge} cents wide: {zooms:?}");
        }
    }

    #[test]
    fn a_zoom_that_is_set_stays() {
        let mut stand = Stand::new(Options { zoom: Zoom::Fixed(0), ..Options::default() });
        begin(&mut stand, Secs(0.0));
        swing(&mut stand, 0.0, 4.0, |_| 300.0);
        assert_eq!(stand.reach(), ZOOMS[0]);
    }

    #[test]
    fn the_last_dozen_straight_notes_are_kept_with_what_they_were_held_against() {
        let mut stand = Stand::new(Options::default());
        for count in 0..20 {
            let (start, end) = (Secs(f64::from(count)), Secs(f64::from(count) + 0.9));
            begin(&mut stand, start);
            let offset = Measure::known(Cents(f64::from(count)), Cents(0.3));
            let f0 = Measure::doubtful(a3().raised(offset.value));
            let note = Note { f0, offset, ..Note::plain(A3, a3(), start, end) };
            stand.apply(Action::Heard(Heard::Note(Box::new(note))));
            if count == 15 {
                stand.apply(Action::Do(crate::stand::Command::TakeReference));
            }
        }
        let offsets: Vec<f64> = stand
            .picture()
            .straights
            .iter()
            .map(|straight| straight.offset.value.0.round())
            .collect();
        let own = [1.0, 2.0, 3.0, 4.0];
        assert_eq!(offsets.len(), MARKS);
        assert_eq!(offsets[MARKS - 4..], own, "against the player's own note");
        assert_eq!(offsets[0], 8.0);
    }
}
