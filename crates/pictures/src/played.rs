//! What was played, as it is drawn: the pitch frame by frame, its crests and troughs, the notes, what is lost.

use pitch::Frame;
use std::collections::VecDeque;
use tuning::{Cents, Hz, Secs};
use vibrato::{Note, Oscillation, PitchCourse};

/// Below this confidence the trace is left open.
pub const OPEN_BELOW: f64 = 0.25;

/// Two frames further apart than this do not belong to one line; frames come every 5 ms.
pub const FRAME_APART: Secs = Secs(0.0075);

/// One frame of the trace.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Point {
    /// When.
    pub time: Secs,
    /// The pitch as a distance from A4; `None` where there is none.
    pub pitch: Option<Cents>,
    /// How sure the pitch is, 0 to 1.
    pub confidence: f64,
    /// How loud it is.
    pub level_dbfs: f64,
    /// It follows the point before without a missing frame.
    pub joined: bool,
}

impl Point {
    /// A frame as a point, after the frame at `before`.
    pub fn of(frame: &Frame, before: Option<Secs>, a4: Hz) -> Self {
        Self {
            time: frame.time,
            pitch: frame.drawn().map(|f0| f0.cents_above(a4)),
            confidence: frame.confidence,
            level_dbfs: frame.level_dbfs,
            joined: joined(before, frame.time),
        }
    }
}

/// Whether a frame follows the one before without a missing frame between.
pub(crate) fn joined(before: Option<Secs>, time: Secs) -> bool {
    before.is_some_and(|before| time > before && time.0 - before.0 < FRAME_APART.0)
}

/// A crest or a trough.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Turn {
    /// When.
    pub time: Secs,
    /// Where, as a distance from A4.
    pub pitch: Cents,
    /// A crest; otherwise a trough.
    pub crest: bool,
}

/// Where a note stands on the sheet.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Placed {
    /// Where it starts.
    pub start: Secs,
    /// Where it ends; `None` while it sounds.
    pub end: Option<Secs>,
    /// Its MIDI number.
    pub midi: i32,
    /// Frequency of that note in the tuning.
    pub reference: Hz,
    /// It is straight or glides, as far as is known: its crests and troughs are chance, not vibrato.
    pub straight: bool,
}

impl Placed {
    /// Whether the note sounds at `time`.
    pub fn holds(&self, time: Secs) -> bool {
        time >= self.start && self.end.is_none_or(|end| time <= end)
    }
}

/// What was played, all of it in the order of time. Nothing in it was made up: where there is no pitch there is no
/// point, and where samples are missing the place is kept.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Played {
    /// The frames.
    pub points: VecDeque<Point>,
    /// Crests and troughs.
    pub turns: VecDeque<Turn>,
    /// Where the bow started anew.
    pub rebows: VecDeque<Secs>,
    /// The notes.
    pub notes: VecDeque<Placed>,
    /// Where samples are missing, and for how long.
    pub lost: VecDeque<(Secs, Secs)>,
    /// The oscillations.
    pub oscillations: VecDeque<Oscillation>,
}

impl Played {
    /// What was played, from its frames and notes.
    pub fn of(frames: &[Frame], notes: &[Note], lost: &[(f64, f64)], a4: Hz) -> Self {
        let mut before = None;
        let points: VecDeque<Point> = frames
            .iter()
            .map(|frame| {
                let point = Point::of(frame, before, a4);
                before = Some(frame.time);
                point
            })
            .collect();
        let mut turns: Vec<Turn> = notes
            .iter()
            .flat_map(|note| note.vibrato.iter().flat_map(|vibrato| &vibrato.oscillations))
            .flat_map(|one| {
                let (start, period) = (one.start.0, one.period.0);
                [
                    turn(frames, (start - 0.25 * period, start + 0.25 * period), false, a4),
                    turn(frames, (start, start + period), true, a4),
                ]
            })
            .flatten()
            .collect();
        turns.sort_by(|a, b| a.time.0.total_cmp(&b.time.0));
        Self {
            points,
            turns: turns.into(),
            rebows: notes.iter().flat_map(|note| note.rebows.iter().copied()).collect(),
            notes: notes
                .iter()
                .map(|note| Placed {
                    start: note.start,
                    end: Some(note.end),
                    midi: note.midi,
                    reference: note.reference,
                    straight: matches!(note.course, PitchCourse::Straight | PitchCourse::Glides(_)),
                })
                .collect(),
            lost: lost.iter().map(|&(at, length)| (Secs(at), Secs(length))).collect(),
            oscillations: notes
                .iter()
                .flat_map(|note| note.vibrato.iter().flat_map(|vibrato| &vibrato.oscillations))
                .copied()
                .collect(),
        }
    }

    /// Whether a note sounds or sounded at `time`.
    pub fn in_note(&self, time: Secs) -> bool {
        self.notes.iter().rev().any(|note| note.holds(time))
    }

    /// Finds the note that sounds or sounded at a time, for one time after another.
    pub fn notes_in_order<'a>(&'a self) -> impl FnMut(Secs) -> Option<&'a Placed> {
        let mut notes = self.notes.iter().peekable();
        move |time| {
            while notes.next_if(|note| note.end.is_some_and(|end| end < time)).is_some() {}
            notes.peek().copied().filter(|note| note.holds(time))
        }
    }
}

/// The highest or lowest pitch heard between two times.
fn turn(frames: &[Frame], (from, to): (f64, f64), crest: bool, a4: Hz) -> Option<Turn> {
    let first = frames.partition_point(|frame| frame.time.0 < from);
    let last = frames.partition_point(|frame| frame.time.0 < to);
    let sure = frames[first..last.max(first)]
        .iter()
        .filter(|frame| frame.confidence >= OPEN_BELOW)
        .filter_map(|frame| Some((frame.time, frame.drawn()?)));
    let farther = |best: Hz, next: Hz| if crest { next.0 > best.0 } else { next.0 < best.0 };
    let (time, f0) = sure.reduce(|best, next| if farther(best.1, next.1) { next } else { best })?;
    Some(Turn { time, pitch: f0.cents_above(a4), crest })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn notes_are_found_in_the_order_of_time() {
        let placed = |start, end| Placed {
            start: Secs(start),
            end,
            midi: 57,
            reference: Hz(220.0),
            straight: false,
        };
        let notes = [placed(1.0, Some(Secs(2.0))), placed(3.0, None)];
        let played = Played { notes: notes.into(), ..Played::default() };
        let mut note_at = played.notes_in_order();
        let found: Vec<bool> = [0.5, 1.5, 2.0, 2.5, 3.0, 9.0]
            .into_iter()
            .map(|time| note_at(Secs(time)).is_some())
            .collect();
        assert_eq!(found, [false, true, true, false, true, true]);
        assert!([1.5, 3.5].iter().all(|&time| played.in_note(Secs(time))));
    }
}
