//! The take of what was judged.

use journal::TakeId;
use tuning::Secs;

use crate::takes::RecentTakes;

/// The take of the round or pass that was judged last, which is kept some time after that is over.
#[derive(Default)]
pub(super) struct AwaitedTake {
    /// When its first note began on the ear's clock, until the take that holds it is found.
    pub(super) first: Option<Secs>,
}

impl AwaitedTake {
    /// The take, where it is kept now. Once the next one is `moving`, it comes too late to be told of.
    pub(super) fn find(&mut self, moving: bool, recent: &RecentTakes) -> Option<TakeId> {
        let first = self.first.take_if(|first| moving || recent.at(*first).is_some())?;
        recent.at(first).filter(|_| !moving).cloned()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::takes::TakeState;

    fn kept(name: &str, start: f64, length: f64) -> TakeState {
        let id = name.parse().expect("a name");
        TakeState::Kept { id, start: Secs(start), length: Secs(length) }
    }

    #[test]
    fn a_take_of_before_the_count_in_is_never_that_of_the_round() {
        let mut recent = RecentTakes::default();
        recent.hear(&TakeState::Running { start: Secs(1.0) });
        // The count-in begins at 5 s, and what was played before it is kept during it.
        recent.hear(&kept("2026-11-25/17-41-09", 1.0, 5.0));
        let mut awaited = AwaitedTake { first: Some(Secs(9.0)) };
        assert_eq!(awaited.find(false, &recent), None, "none of this round was kept");
        recent.hear(&TakeState::Running { start: Secs(8.0) });
        assert_eq!(awaited.find(false, &recent), None, "it is still written");
        let own = kept("2026-11-25/17-41-17", 8.0, 6.0);
        recent.hear(&own);
        let found = awaited.find(false, &recent);
        assert!(matches!(own, TakeState::Kept { id, .. } if found.as_ref() == Some(&id)));
        assert_eq!(awaited.find(false, &recent), None, "it is told once");
    }

    #[test]
    fn a_take_that_is_kept_once_the_next_round_is_played_is_not_taken_for_its_own() {
        let mut recent = RecentTakes::default();
        let mut awaited = AwaitedTake { first: Some(Secs(9.0)) };
        recent.hear(&kept("2026-11-25/17-41-17", 8.0, 6.0));
        assert_eq!(awaited.find(true, &recent), None);
        assert_eq!(awaited.find(false, &recent), None, "nor later");
    }
}
