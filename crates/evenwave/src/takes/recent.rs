//! Which take holds what was played at some time: rounds and phrases are told apart from their times, for a take is
//! kept some time after they end.

use journal::TakeId;
use tuning::Secs;

use super::TakeState;

/// A take may begin with its first note, but for the rounding to whole samples and of the turns of a round.
const SLACK: Secs = Secs(0.05);

/// The take that is being written and the one that was kept last, with their times on the ear's clock.
#[derive(Clone, Debug, Default)]
pub struct RecentTakes {
    /// Where the running take begins.
    running: Option<Secs>,
    /// The last one, its start and its end.
    kept: Option<(TakeId, Secs, Secs)>,
}

impl RecentTakes {
    /// Takes in what the writer told.
    pub fn hear(&mut self, state: &TakeState) {
        match state {
            TakeState::Running { start } => self.running = Some(*start),
            TakeState::Kept { id, start, length } => {
                self.running = None;
                self.kept = Some((id.clone(), *start, Secs(start.0 + length.0)));
            }
            TakeState::Ready | TakeState::Trouble(_) => self.running = None,
            TakeState::Word(_) => {}
        }
    }

    /// The kept take that holds what was played at `time`; `None` while it is still being written, and where there is
    /// none.
    pub fn at(&self, time: Secs) -> Option<&TakeId> {
        if self.running.is_some_and(|start| start.0 - SLACK.0 <= time.0) {
            return None;
        }
        let (id, start, end) = self.kept.as_ref()?;
        (start.0 - SLACK.0 <= time.0 && time.0 < end.0).then_some(id)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_moment_is_held_by_the_take_that_was_written_then() {
        let id: TakeId = "2026-11-25/17-41-09".parse().expect("a name");
        let mut takes = RecentTakes::default();
        takes.hear(&TakeState::Running { start: Secs(4.0) });
        assert_eq!(takes.at(Secs(5.0)), None, "it is not kept yet");
        takes.hear(&TakeState::Kept { id: id.clone(), start: Secs(4.0), length: Secs(6.0) });
        assert_eq!(takes.at(Secs(5.0)), Some(&id));
        assert_eq!(takes.at(Secs(3.9)), None, "before it");
        assert_eq!(takes.at(Secs(10.0)), None, "after it");
        // Another source begins, and time with it.
        takes.hear(&TakeState::Running { start: Secs(1.0) });
        assert_eq!(takes.at(Secs(5.0)), None, "the running take holds it");
    }
}
