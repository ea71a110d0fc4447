//! What was played, as it is drawn: the pitch frame by frame, its crests and troughs, the notes, what is lost.

use pitch::Frame;
use std::collections::VecDeque;
use tuning::{Cents, Hz, Secs};
use vibrato::{Note, Oscillation, PitchCourse};

/// Below this confidence the trace is left open.
pub const OPEN_BELOW: f64 = 0.25;

/// Two frames further apart than this do not belong to one line; frames come every 5 ms.
pub const FRAME_APART: Secs = Secs(0.0075);

/// At the edges of a note the bow catches or leaves the string for so long. A pitch that leaps there more than within the
/// note, and by more than this in one frame, is the edge's own.
const EDGE: Secs = Secs(0.045);
const LEAPS: f64 = 1.5;
const LEAST_LEAP_CENTS: f64 = 2.0;

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
        let mut played = Self {
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
        };
        notes.iter().for_each(|note| played.clear_edges(note.start, note.end));
        played
    }

    /// A note lies here, and is over: what leaps at its edges is drawn no more.
    pub fn clear_edges(&mut self, start: Secs, end: Secs) {
        let first = self.points.partition_point(|point| point.time < start);
        let last = self.points.partition_point(|point| point.time <= end);
        let within = |from: f64, to: f64| {
            let place = |time: f64| self.points.partition_point(|point| point.time.0 < time);
            place(from).max(first + 1)..place(to).min(last)
        };
        let leap = |at: usize| {
            let both = self.points[at - 1].pitch.zip(self.points[at].pitch);
            both.map_or(0.0, |(before, now)| (now.0 - before.0).abs())
        };
        let inner = within(start.0 + EDGE.0, end.0 - EDGE.0).map(leap).fold(0.0, f64::max);
        if inner == 0.0 {
            return;
        }
        let most = (LEAPS * inner).max(LEAST_LEAP_CENTS);
        let opens = within(start.0, start.0 + EDGE.0).rev().find(|at| leap(*at) > most);
        let closes = within(end.0 - EDGE.0, end.0 + EDGE.0).find(|at| leap(*at) > most);
        let edges = (first..opens.unwrap_or(first)).chain(closes.unwrap_or(last)..last);
        edges.for_each(|at| self.points[at].pitch = None);
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
    fn what_leaps_at_the_edges_of_a_note_is_not_drawn_and_its_swing_is() {
        let drawn = |edges: [f64; 2]| {
            let swing = |hop: i32| 20.0 * (0.005 * f64::from(hop) * 31.4).sin();
            let frames: Vec<Frame> = (0..400)
                .map(|hop| {
                    let by = match hop {
                        0..5 => edges[0],
                        396.. => edges[1],
                        _ => 0.0,
                    };
                    let f0 = Hz(220.0).raised(Cents(swing(hop) + by));
                    Frame::plain(Secs(0.005 * f64::from(hop)), Some(f0), -20.0)
                })
                .collect();
            let note = Note::plain(57, Hz(220.0), Secs(0.0), Secs(1.996));
            let points = Played::of(&frames, &[note], &[], Hz(440.0)).points;
            let open = |point: &Point| point.pitch.is_none();
            (
                points.iter().take(20).filter(|p| open(p)).count(),
                points.iter().filter(|p| open(p)).count(),
            )
        };
        assert_eq!(drawn([0.0, 0.0]), (0, 0));
        assert_eq!(drawn([30.0, 0.0]), (5, 5));
        assert_eq!(drawn([0.0, -25.0]), (0, 4));
    }

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
