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
    /// Where those begin that did not sound bowed and can be brought back, the newest last.
    aside: Vec<Secs>,
    /// The running take began on a clock that is no more.
    former: bool,
}

impl RecentTakes {
    /// Takes in what the writer told.
    pub fn hear(&mut self, state: &TakeState) {
        let of_running = !matches!(state, TakeState::Word(_) | TakeState::Gone { .. });
        if of_running && std::mem::take(&mut self.former) {
            self.running = None;
            if matches!(state, TakeState::Kept { .. } | TakeState::SetAside { .. }) {
                return;
            }
        }
        match state {
            TakeState::Running { start } => self.running = Some(*start),
            TakeState::Kept { id, start, length } => {
                self.running = None;
                self.aside.retain(|aside| aside != start);
                self.kept = Some((id.clone(), *start, Secs(start.0 + length.0)));
            }
            TakeState::Ready | TakeState::Trouble(_) => self.running = None,
            TakeState::SetAside { start } => {
                self.running = None;
                self.aside.push(*start);
            }
            TakeState::Gone { start } => self.aside.retain(|aside| aside != start),
            TakeState::Word(_) => {}
        }
    }

    /// How many takes did not sound bowed and can be brought back.
    pub fn count_aside(&self) -> usize {
        self.aside.len()
    }

    /// Where the newest of these begins.
    pub fn aside(&self) -> Option<Secs> {
        self.aside.last().copied()
    }

    /// Where the take begins that holds what was played at `time`, if it is written still or waits to be brought back.
    pub fn not_kept(&self, time: Secs) -> Option<Secs> {
        let holds = |start: &Secs| start.0 - SLACK.0 <= time.0;
        self.running.filter(holds).or_else(|| self.aside.iter().copied().rfind(holds))
    }

    /// The ear's clock begins again: what was played before lies on no time any more.
    pub fn anew(&mut self) {
        *self = Self { former: self.running.is_some(), ..Self::default() };
    }

    /// The kept take that holds what was played at `time`; `None` while it is still being written, and where there is
    /// none.
    pub fn at(&self, time: Secs) -> Option<&TakeId> {
        self.holding(time).map(|(id, _)| id)
    }

    /// The same, and where that take begins on the ear's clock.
    pub fn holding(&self, time: Secs) -> Option<(&TakeId, Secs)> {
        if self.running.is_some_and(|start| start.0 - SLACK.0 <= time.0) {
            return None;
        }
        let (id, start, end) = self.kept.as_ref()?;
        (start.0 - SLACK.0 <= time.0 && time.0 < end.0).then_some((id, *start))
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

    #[test]
    fn what_did_not_sound_bowed_is_found_until_it_is_kept_or_gone() {
        let mut takes = RecentTakes::default();
        for start in [1.0, 10.0] {
            takes.hear(&TakeState::Running { start: Secs(start) });
            takes.hear(&TakeState::SetAside { start: Secs(start) });
        }
        takes.hear(&TakeState::Running { start: Secs(20.0) });
        let found = [0.5, 2.0, 11.0, 21.0].map(|time| takes.not_kept(Secs(time)));
        assert_eq!(found, [None, Some(Secs(1.0)), Some(Secs(10.0)), Some(Secs(20.0))]);
        let id: TakeId = "2026-11-25/17-41-09".parse().expect("a name");
        takes.hear(&TakeState::Kept { id, start: Secs(10.0), length: Secs(4.0) });
        assert_eq!((takes.count_aside(), takes.aside()), (1, Some(Secs(1.0))));
        takes.hear(&TakeState::Gone { start: Secs(1.0) });
        assert_eq!(takes.aside(), None);
        takes.hear(&TakeState::SetAside { start: Secs(20.0) });
        takes.anew();
        assert_eq!(takes.not_kept(Secs(21.0)), None, "the clock began again");
    }

    #[test]
    fn a_take_of_a_clock_that_is_no_more_holds_nothing_that_is_played_now() {
        let id: TakeId = "2026-11-25/17-41-09".parse().expect("a name");
        let kept = TakeState::Kept { id: id.clone(), start: Secs(4.0), length: Secs(6.0) };
        let mut takes = RecentTakes::default();
        takes.hear(&TakeState::Running { start: Secs(4.0) });
        takes.hear(&kept);
        takes.anew();
        assert_eq!(takes.at(Secs(5.0)), None, "kept before");
        takes.hear(&TakeState::Running { start: Secs(4.0) });
        takes.anew();
        takes.hear(&kept);
        assert_eq!(takes.at(Secs(5.0)), None, "begun before, kept after");
        takes.hear(&TakeState::Running { start: Secs(4.0) });
        takes.hear(&kept);
        assert_eq!(takes.at(Secs(5.0)), Some(&id), "the clock of now");
    }
}
