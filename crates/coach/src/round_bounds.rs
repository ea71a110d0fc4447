//! Where a round begins and ends: it begins with a note, and silence ends it.

use tuning::Secs;
use vibrato::Event;

/// How takes are kept.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TakeOptions {
    /// What is played is kept.
    pub kept: bool,
    /// Silence that ends a take.
    pub ends_after: Secs,
    /// Sound that is kept from before its first note.
    pub before: Secs,
}

/// What became of a round.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Change {
    /// A note began after silence.
    Began {
        /// Start of that note.
        start: Secs,
    },
    /// It has been silent for long enough.
    Ended {
        /// End of its last note.
        end: Secs,
    },
    /// What began was no note; there was no round.
    Dropped,
}

/// Tells rounds apart. A take holds one round.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rounds {
    /// Silence that ends a round.
    pub ends_after: Secs,
    state: RoundState,
}

/// How it stands with the round: how many notes have ended in it, and when it last sounded.
#[derive(Clone, Copy, Debug, PartialEq)]
enum RoundState {
    /// There is none.
    Silent,
    /// A note sounds.
    Sounding { notes: u32, last: Secs },
    /// Between two notes, or before the end.
    Waiting { notes: u32, last: Secs },
}

impl Rounds {
    /// Rounds that end after so much silence.
    pub fn new(ends_after: Secs) -> Self {
        Self { ends_after, state: RoundState::Silent }
    }

    /// A round is under way.
    pub fn under_way(&self) -> bool {
        self.state != RoundState::Silent
    }

    /// Takes in what the ear reported.
    pub fn hear(&mut self, event: &Event) -> Option<Change> {
        match (*event, self.state) {
            (Event::NoteBegan { start, .. }, RoundState::Silent) => {
                self.state = RoundState::Sounding { notes: 0, last: start };
                Some(Change::Began { start })
            }
            (Event::NoteBegan { start, .. }, RoundState::Waiting { notes, .. }) => {
                self.state = RoundState::Sounding { notes, last: start };
                None
            }
            (Event::NoteDropped, RoundState::Sounding { notes: 0, .. }) => {
                self.state = RoundState::Silent;
                Some(Change::Dropped)
            }
            (Event::NoteDropped, RoundState::Sounding { notes, last }) => {
                self.state = RoundState::Waiting { notes, last };
                None
            }
            (Event::Frame(frame), RoundState::Sounding { notes, .. }) => {
                self.state = RoundState::Sounding { notes, last: frame.time };
                None
            }
            (Event::Frame(frame), RoundState::Waiting { last, .. })
                if frame.time.0 - last.0 >= self.ends_after.0 =>
            {
                self.state = RoundState::Silent;
                Some(Change::Ended { end: last })
            }
            _ => None,
        }
    }

    /// A note ended at `end`.
    pub fn note_ended(&mut self, end: Secs) {
        if let RoundState::Sounding { notes, .. } = self.state {
            self.state = RoundState::Waiting { notes: notes + 1, last: end };
        }
    }

    /// No more sound comes: a round that is under way ends here.
    pub fn break_off(&mut self) -> Option<Change> {
        let state = std::mem::replace(&mut self.state, RoundState::Silent);
        match state {
            RoundState::Silent => None,
            RoundState::Sounding { notes: 0, .. } => Some(Change::Dropped),
            RoundState::Sounding { last, .. } | RoundState::Waiting { last, .. } => {
                Some(Change::Ended { end: last })
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use tuning::Hz;

    fn began(at: f64) -> Event {
        Event::NoteBegan { start: Secs(at), midi: 57, reference: Hz(220.0) }
    }

    fn silence(rounds: &mut Rounds, from: f64, to: f64) -> Option<Change> {
        let mut time = from;
        while time < to {
            if let Some(change) = rounds.hear(&crate::frame_at(time)) {
                return Some(change);
            }
            time += 0.005;
        }
        None
    }

    #[test]
    fn a_round_begins_with_a_note_and_ends_after_two_seconds_of_silence() {
        let mut rounds = Rounds::new(Secs(2.0));
        assert_eq!(silence(&mut rounds, 0.0, 5.0), None);
        assert_eq!(rounds.hear(&began(5.0)), Some(Change::Began { start: Secs(5.0) }));
        rounds.note_ended(Secs(6.0));
        assert_eq!(silence(&mut rounds, 6.0, 7.9), None, "a rest is no end");
        assert_eq!(rounds.hear(&began(7.9)), None, "the same round goes on");
        rounds.note_ended(Secs(8.5));
        assert_eq!(silence(&mut rounds, 8.5, 12.0), Some(Change::Ended { end: Secs(8.5) }));
        assert!(!rounds.under_way());
    }

    #[test]
    fn what_was_no_note_makes_no_round_but_ends_none_either() {
        let mut rounds = Rounds::new(Secs(2.0));
        rounds.hear(&began(1.0));
        assert_eq!(rounds.hear(&Event::NoteDropped), Some(Change::Dropped));
        rounds.hear(&began(2.0));
        rounds.note_ended(Secs(3.0));
        rounds.hear(&began(3.2));
        assert_eq!(rounds.hear(&Event::NoteDropped), None);
        assert!(rounds.under_way());
    }

    #[test]
    fn a_microphone_that_is_pulled_out_ends_the_round_where_it_broke() {
        let mut rounds = Rounds::new(Secs(2.0));
        assert_eq!(rounds.break_off(), None);
        rounds.hear(&began(1.0));
        rounds.note_ended(Secs(1.8));
        rounds.hear(&began(2.0));
        silence(&mut rounds, 2.0, 2.5);
        assert!(
            matches!(rounds.break_off(), Some(Change::Ended { end }) if (end.0 - 2.5).abs() < 0.01)
        );
    }
}
