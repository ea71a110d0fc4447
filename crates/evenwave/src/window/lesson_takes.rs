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
    /// The phrase is all of it.
    whole: bool,
    /// Where the take begins on the same clock.
    begins: Secs,
}

/// The takes of the phrases that stand.
#[derive(Default)]
pub(super) struct LessonTakes {
    of_phrases: Vec<OfPhrase>,
    /// Phrases of a clock that is no more: no take that is kept now holds them.
    former: Vec<Secs>,
    /// So many takes were brought from the journal.
    brought: u32,
    /// One of them was brought just now.
    anew: bool,
}

/// No take is so long.
const APART: Secs = Secs(1e6);

impl LessonTakes {
    /// The ear's clock begins again; these phrases stand.
    pub(super) fn anew(&mut self, phrases: impl Iterator<Item = Secs>) {
        self.former = phrases.collect();
    }

    /// A take is brought from the journal: where it begins, before the ear's clock began and apart from all others.
    pub(super) fn beginning(&mut self) -> Secs {
        self.brought += 1;
        Secs(-APART.0 * f64::from(self.brought))
    }

    /// The phrase that begins at `start` is of this take, which begins at `begins`.
    pub(super) fn bring(&mut self, phrase: Secs, take: TakeId, whole: bool, begins: Secs) {
        self.of_phrases.push(OfPhrase { phrase, take, whole, begins });
        self.anew = true;
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
        changed |= std::mem::take(&mut self.anew);
        let mut of_now = phrases.rev().filter(|start| !self.former.contains(start));
        let held = of_now.find_map(|start| Some((start, recent.holding(start)?)));
        if let Some((phrase, (take, begins))) = held
            && !self.of_phrases.iter().any(|of| of.phrase == phrase || of.take == *take)
        {
            self.of_phrases.push(OfPhrase { phrase, take: take.clone(), whole: true, begins });
            changed = true;
        }
        changed
    }

    /// The take of the phrase that begins at `start`, once it is kept.
    pub(super) fn of(&self, start: Secs) -> Option<&TakeId> {
        self.placed(start).map(|(take, _)| take)
    }

    /// The same, where the phrase is all of it.
    fn whole(&self, start: Secs) -> Option<&TakeId> {
        let of = self.of_phrases.iter().find(|of| of.phrase == start && of.whole)?;
        Some(&of.take)
    }

    /// The same, and where the take begins on the clock on which the phrase begins at `start`.
    pub(super) fn placed(&self, start: Secs) -> Option<(&TakeId, Secs)> {
        let of = self.of_phrases.iter().find(|of| of.phrase == start)?;
        Some((&of.take, of.begins))
    }

    /// The takes as the room knows them: that of the model, which begins at `model`, and those of the echoes. A report is
    /// of whole takes: those of which a part is used are none of them.
    pub(super) fn shown(&self, model: Option<Secs>, echoes: impl Iterator<Item = Secs>) -> Takes {
        Takes {
            model: model.and_then(|start| self.whole(start)).cloned(),
            echoes: echoes.filter_map(|start| self.whole(start)).cloned().collect(),
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
    fn a_take_that_is_brought_lies_before_the_clock_and_a_part_of_one_is_in_no_report() {
        let (mut lesson, mut recent) = (LessonTakes::default(), RecentTakes::default());
        let id =
            |time: &str| -> TakeId { format!("2026-11-20/10-00-{time}").parse().expect("a name") };
        let begins = lesson.beginning();
        let model = Secs(begins.0 + 0.5);
        lesson.bring(model, id("00"), true, begins);
        assert!(lesson.pair(std::iter::once(model), &recent), "it is told");
        assert!(!lesson.pair(std::iter::once(model), &recent), "once");
        let begins = lesson.beginning();
        let part = Secs(begins.0 + 900.0);
        assert!(part.0 < model.0 && part.0 < 0.0);
        lesson.bring(part, id("30"), false, begins);
        // An echo that is played answers it, too.
        let played = keep(&mut recent, 1.0);
        let stand = [model, part, Secs(2.0)].into_iter();
        assert!(lesson.pair(stand, &recent));
        let shown = lesson.shown(Some(model), [part, Secs(2.0)].into_iter());
        assert_eq!(shown, Takes { model: Some(id("00")), echoes: vec![played] });
        assert_eq!(lesson.placed(part), Some((&id("30"), begins)), "it can be heard all the same");
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
