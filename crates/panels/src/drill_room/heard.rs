//! What was heard of a round: the course of the pitch and the notes it belongs to, for drawing.

use pictures::played::Point;
use std::collections::VecDeque;
use tuning::{Cents, Hz, Secs};
use vibrato::{Event, Note};

/// What distances of pitch are counted from.
const ORIGIN: Hz = Hz(440.0);
/// The longest round that is drawn: 5 min of frames.
const MOST: usize = 60_000;
/// Two frames further apart than this do not belong to one line; frames come every 5 ms.
const FRAME_APART: f64 = 0.0075;
/// A note is told so late at most; what came before it began is kept for as long.
const TOLD_LATE: Secs = Secs(0.4);
/// A finger that takes over from another is on its way from so long before the note's start to so long
/// after it.
const BEFORE: Secs = Secs(0.025);
const WAY: Secs = Secs(0.035);

/// A note and where its line lies.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Span {
    start: Secs,
    end: Option<Secs>,
    midi: i32,
    line: Cents,
}

/// What was heard of a round.
#[derive(Clone, Debug, Default)]
pub(super) struct Course {
    points: VecDeque<Point>,
    notes: Vec<Span>,
}

impl Course {
    /// Nothing was heard yet; a note that sounds already goes on.
    pub(super) fn from(sounding: Option<(i32, Hz)>, now: Secs) -> Self {
        let notes = sounding.map(|(midi, reference)| Span {
            start: now,
            end: None,
            midi,
            line: reference.cents_above(ORIGIN),
        });
        Self { points: VecDeque::new(), notes: notes.into_iter().collect() }
    }

    /// Takes in one event; `note` is the ear's note where one has just ended.
    pub(super) fn hear(&mut self, event: &Event, note: Option<&Note>) {
        match *event {
            Event::Frame(frame) => {
                let before = self.points.back().map(|point| point.time.0);
                self.points.push_back(Point {
                    time: frame.time,
                    pitch: frame.drawn().map(|f0| f0.cents_above(ORIGIN)),
                    confidence: frame.confidence,
                    level_dbfs: frame.level_dbfs,
                    joined: before.is_some_and(|before| {
                        frame.time.0 > before && frame.time.0 - before < FRAME_APART
                    }),
                });
                if self.points.len() > MOST {
                    self.points.pop_front();
                }
                if self.notes.is_empty() {
                    let oldest = frame.time.0 - TOLD_LATE.0;
                    while self.points.front().is_some_and(|p| p.time.0 < oldest) {
                        self.points.pop_front();
                    }
                }
            }
            Event::NoteBegan { start, midi, reference } => {
                // A note that goes on at another pitch ends where the next one starts.
                if let Some(last) = self.notes.last_mut() {
                    last.end.get_or_insert(start);
                }
                self.notes.push(Span {
                    start,
                    end: None,
                    midi,
                    line: reference.cents_above(ORIGIN),
                });
            }
            Event::Live(live) => {
                if let Some(last) = self.notes.last_mut().filter(|last| last.end.is_none()) {
                    (last.midi, last.line) = (live.midi, live.reference.cents_above(ORIGIN));
                }
            }
            Event::NoteEnded => {
                if let (Some(last), Some(note)) = (self.notes.last_mut(), note) {
                    *last = Span {
                        start: note.start,
                        end: Some(note.end),
                        midi: note.midi,
                        line: note.reference.cents_above(ORIGIN),
                    };
                }
            }
            Event::NoteDropped if self.notes.last().is_some_and(|last| last.end.is_none()) => {
                self.notes.pop();
            }
            _ => {}
        }
    }

    /// The frames, in order of time.
    pub(super) fn points(&self) -> &VecDeque<Point> {
        &self.points
    }

    /// Semitones by which the notes `asked` have to be moved for most of the notes that were played to be among
    /// them: the least such move.
    pub(super) fn away(&self, asked: &[i32]) -> i32 {
        let among = |by: i32| {
            let there = |note: &&Span| asked.contains(&(note.midi - by));
            self.notes.iter().filter(there).count()
        };
        let moves =
            self.notes.iter().flat_map(|note| asked.iter().map(move |midi| note.midi - midi));
        let most = |by: &i32| (among(*by), std::cmp::Reverse(by.abs()));
        moves.max_by_key(most).unwrap_or(0)
    }

    /// Tells for one time after another where the line of the note lies that sounded then; of a note
    /// whose name is not among `asked` the line of the nearest that is.
    pub(super) fn lines<'a>(&'a self, asked: &'a [i32]) -> impl FnMut(Secs) -> Option<Cents> + 'a {
        let mut notes = self.notes.iter().peekable();
        let goes_on: Vec<Secs> = self
            .notes
            .windows(2)
            .filter(|pair| pair[0].end.is_none_or(|end| pair[1].start.0 - end.0 < WAY.0))
            .map(|pair| pair[1].start)
            .collect();
        move |time| {
            while notes.next_if(|note| note.end.is_some_and(|end| end < time)).is_some() {}
            let note = notes.peek().filter(|note| time >= note.start)?;
            // On its way from finger to finger the pitch belongs to neither.
            let on_its_way = |start: &Secs| (start.0 - BEFORE.0..start.0 + WAY.0).contains(&time.0);
            if goes_on.iter().any(on_its_way) {
                return None;
            }
            let meant = asked.iter().copied().min_by_key(|midi| {
                let away = (midi - note.midi).abs();
                // Octaves apart is another note than the one asked for.
                if away > 6 { i32::MAX } else { away }
            });
            let away = meant.map_or(0, |midi| midi - note.midi);
            let away = if away.abs() > 6 { 0 } else { away };
            Some(Cents(note.line.0 + 100.0 * f64::from(away)))
        }
    }

    /// How far the pitch lies from the lines of its notes at most, slips left out.
    pub(super) fn reach(&self, asked: &[i32]) -> Cents {
        let mut line_at = self.lines(asked);
        let mut away: Vec<f64> = self
            .points
            .iter()
            .filter_map(|point| {
                let line = line_at(point.time)?;
                Some((point.pitch?.0 - line.0).abs())
            })
            .collect();
        away.sort_by(f64::total_cmp);
        let most = away.get(away.len() * 95 / 100).copied();
        Cents(most.unwrap_or_default())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use pitch::Frame;

    fn frame(time: f64, hz: f64) -> Event {
        Event::Frame(Frame::plain(Secs(time), Some(Hz(hz)), -20.0))
    }

    fn began(time: f64, midi: i32, hz: f64) -> Event {
        Event::NoteBegan { start: Secs(time), midi, reference: Hz(hz) }
    }

    #[test]
    fn each_time_has_the_line_of_its_note() {
        let mut course = Course::default();
        course.hear(&began(1.0, 69, 440.0), None);
        course.hear(&began(2.0, 70, 466.164), None);
        let mut line = course.lines(&[69, 70]);
        assert_eq!(line(Secs(0.5)), None);
        assert_eq!(line(Secs(1.5)), Some(Cents(0.0)));
        assert_eq!(line(Secs(2.01)), None, "on its way");
        let second = line(Secs(2.5)).expect("it sounds").0;
        assert!((second - 100.0).abs() < 0.01, "{second}");
    }

    #[test]
    fn a_wrong_note_is_held_against_the_one_that_was_asked_for() {
        let mut course = Course::default();
        course.hear(&began(1.0, 70, 466.164), None);
        let line = course.lines(&[69])(Secs(1.5)).expect("it sounds").0;
        assert!(line.abs() < 0.01, "{line}");
    }

    #[test]
    fn a_figure_on_another_string_is_drawn_there_and_a_brushed_string_moves_nothing() {
        let mut course = Course::default();
        assert_eq!(course.away(&[53, 54]), 0);
        for (time, midi) in [(1.0, 46), (2.0, 47), (3.0, 46)] {
            course.hear(&began(time, midi, 116.5), None);
        }
        assert_eq!(course.away(&[53, 54, 53]), -7);
        let mut course = Course::default();
        for (time, midi) in [(1.0, 50), (2.0, 53)] {
            course.hear(&began(time, midi, 146.8), None);
        }
        assert_eq!(course.away(&[53, 54, 53]), 0);
        // The next finger too early is a wrong note, not another place.
        let mut course = Course::default();
        course.hear(&began(1.0, 54, 185.0), None);
        assert_eq!(course.away(&[53, 54, 53]), 0);
    }

    #[test]
    fn frames_from_before_the_first_note_are_let_go_of() {
        let mut course = Course::default();
        for i in 0..400 {
            course.hear(&frame(f64::from(i) * 0.005, 440.0), None);
        }
        assert!(course.points().len() < 90, "{}", course.points().len());
    }
}
