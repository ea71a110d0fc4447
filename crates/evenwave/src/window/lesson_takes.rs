//! Which take is the model's and which are those of the echoes: found by when they were played, for a take is kept some
//! time after its phrase, and a phrase may be taken back before.

use journal::TakeId;
use panels::lesson_room::Takes;
use tuning::Secs;

use crate::takes::RecentTakes;

/// The take of a phrase.
struct OfPhrase {
    /// The start of the phrase on the ear's clock.
    phrase: Secs,
    take: TakeId,
    /// Where the take begins on the same clock.
    begins: Secs,
}

/// The takes of the phrases that stand.
#[derive(Default)]
pub(super) struct LessonTakes {
    of_phrases: Vec<OfPhrase>,
    /// Phrases of a clock that is no more: no take that is kept now holds them.
    former: Vec<Secs>,
}

impl LessonTakes {
    /// The ear's clock begins again; these phrases stand.
    pub(super) fn anew(&mut self, phrases: impl Iterator<Item = Secs>) {
        self.former = phrases.collect();
    }

    /// These phrases stand now, by their starts, in the order in which they were played: the take that was kept last is
    /// given to the phrase that it holds. `true` where that changed something.
    pub(super) fn pair(
        &mut self,
        phrases: impl DoubleEndedIterator<Item = Secs> + Clone,
        recent: &RecentTakes,
    ) -> bool {
        let before = self.of_phrases.len();
        self.of_phrases.retain(|of| phrases.clone().any(|phrase| phrase == of.phrase));
        let mut changed = self.of_phrases.len() < before;
        let mut of_now = phrases.rev().filter(|start| !self.former.contains(start));
        let held = of_now.find_map(|start| Some((start, recent.holding(start)?)));
        if let Some((phrase, (take, begins))) = held
            && !self.of_phrases.iter().any(|of| of.phrase == phrase || of.take == *take)
        {
            self.of_phrases.push(OfPhrase { phrase, take: take.clone(), begins });
            changed = true;
        }
        changed
    }

    /// The take of the phrase that begins at `start`, once it is kept.
    pub(super) fn of(&self, start: Secs) -> Option<&TakeId> {
        self.placed(start).map(|(take, _)| take)
    }

    /// The same, and where the take begins on the clock on which the phrase begins at `start`.
    pub(super) fn placed(&self, start: Secs) -> Option<(&TakeId, Secs)> {
        let of = self.of_phrases.iter().find(|of| of.phrase == start)?;
        Some((&of.take, of.begins))
    }

    /// The takes as the room knows them: that of the model, which begins at `model`, and those of the echoes.
    pub(super) fn shown(&self, model: Option<Secs>, echoes: impl Iterator<Item = Secs>) -> Takes {
        Takes {
            model: model.and_then(|start| self.of(start)).cloned(),
            echoes: echoes.filter_map(|start| self.of(start)).cloned().collect(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::takes::TakeState;

    /// A take of three seconds from `start` on, which is kept at last.
    fn keep(recent: &mut RecentTakes, start: f64) -> TakeId {
        let id: TakeId = format!("2026-11-25/17-41-{:02}", start as u32).parse().expect("a name");
        let (start, length) = (Secs(start), Secs(3.0));
        recent.hear(&TakeState::Running { start });
        recent.hear(&TakeState::Kept { id: id.clone(), start, length });
        id
    }

    fn starts(all: &[f64]) -> impl DoubleEndedIterator<Item = Secs> + Clone {
        all.iter().copied().map(Secs)
    }

    #[test]
    fn an_echo_that_is_dropped_before_its_take_is_kept_takes_no_other_take_with_it() {
        let (mut lesson, mut recent) = (LessonTakes::default(), RecentTakes::default());
        let model = keep(&mut recent, 1.0);
        assert!(lesson.pair(starts(&[2.0]), &recent));
        let first = keep(&mut recent, 11.0);
        assert!(lesson.pair(starts(&[2.0, 12.0]), &recent));
        // A second echo was heard at 22 s, and is dropped before its take is kept.
        assert!(!lesson.pair(starts(&[2.0, 12.0]), &recent));
        keep(&mut recent, 21.0);
        assert!(!lesson.pair(starts(&[2.0, 12.0]), &recent));
        let third = keep(&mut recent, 31.0);
        assert!(lesson.pair(starts(&[2.0, 12.0, 32.0]), &recent));
        let shown = lesson.shown(Some(Secs(2.0)), starts(&[12.0, 32.0]));
        assert_eq!(shown, Takes { model: Some(model), echoes: vec![first, third] });
    }

    #[test]
    fn an_echo_that_becomes_the_model_brings_its_take_along() {
        let (mut lesson, mut recent) = (LessonTakes::default(), RecentTakes::default());
        keep(&mut recent, 1.0);
        lesson.pair(starts(&[2.0]), &recent);
        let echo = keep(&mut recent, 11.0);
        lesson.pair(starts(&[2.0, 12.0]), &recent);
        assert!(lesson.pair(starts(&[12.0]), &recent), "the model of before is none any more");
        assert_eq!(lesson.shown(Some(Secs(12.0)), starts(&[])).model, Some(echo));
    }

    #[test]
    fn a_phrase_of_a_clock_that_is_no_more_is_given_no_take_of_now() {
        let (mut lesson, mut recent) = (LessonTakes::default(), RecentTakes::default());
        lesson.anew(starts(&[2.0]));
        recent.anew();
        let now = keep(&mut recent, 1.0);
        assert!(!lesson.pair(starts(&[2.0]), &recent));
        assert!(lesson.pair(starts(&[2.0, 3.0]), &recent));
        assert_eq!((lesson.of(Secs(2.0)), lesson.of(Secs(3.0))), (None, Some(&now)));
    }
}
