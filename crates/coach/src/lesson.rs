//! A lesson: a model is played, echoes answer it, and each is laid over it.

use tuning::{Hz, Secs};
use vibrato::{Event, Note, Quantity};

use crate::bowing::Bowing;
use crate::comparison::{Comparison, Difference};
use crate::round_bounds::{Change, Rounds};

/// The longest phrase whose course is kept.
pub const LONGEST_PHRASE: Secs = Secs(120.0);
/// So many frames of 5 ms those are.
const MOST_FRAMES: usize = (LONGEST_PHRASE.0 * 200.0) as usize;
/// Frames kept from before the first note.
const BEFORE: Secs = Secs(0.1);
/// Frames that may come before a beginning is told: 1 s.
const EARLIER: usize = 200;
/// Echoes that are kept; the oldest but the first go.
const MOST_ECHOES: usize = 40;
/// Phrases that did not sound bowed and can still be brought back; the oldest go.
const MOST_ASIDE: usize = 4;

/// The pitch at one instant.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Instant {
    /// When.
    pub time: Secs,
    /// The pitch; `None` where there is none.
    pub f0: Option<Hz>,
    /// How sure it is, 0 to 1.
    pub confidence: f64,
}

/// A stretch of playing, ended by silence.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Phrase {
    /// Its notes, in the order of time; times count from the start of the sound.
    pub notes: Vec<Note>,
    /// The course of the pitch.
    pub course: Vec<Instant>,
}

impl Phrase {
    /// Start of the first note and end of the last.
    pub fn span(&self) -> Option<(Secs, Secs)> {
        Some((self.notes.first()?.start, self.notes.last()?.end))
    }

    /// The same on a clock that is `by` ahead.
    pub fn later(mut self, by: Secs) -> Self {
        self.notes.iter_mut().for_each(|note| *note = note.later(by));
        self.course.iter_mut().for_each(|instant| instant.time.0 += by.0);
        self
    }
}

/// An answer to the model.
#[derive(Clone, Debug, PartialEq)]
pub struct Echo {
    /// What was played.
    pub phrase: Phrase,
    /// It beside the model.
    pub comparison: Comparison,
}

/// What became of what was played.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LessonEvent {
    /// A phrase has begun.
    Began,
    /// It became the model.
    Model,
    /// It became an echo.
    Echo,
    /// It is hardly an echo of the model, or lies in an octave in which there was none yet, and waits for an answer whether it
    /// is one.
    Unlike,
    /// It did not sound bowed: it is set aside, and can be brought back.
    SetAside,
    /// It was no phrase.
    Nothing,
}

/// A model, its echoes, and what is being played.
#[derive(Clone, Debug)]
pub struct Lesson {
    rounds: Rounds,
    /// What is played now; `None` in silence.
    current: Option<Phrase>,
    /// The last frames before it.
    before: Vec<Instant>,
    model: Option<Phrase>,
    echoes: Vec<Echo>,
    /// What is hardly an echo, and may be one all the same.
    doubtful: Option<Echo>,
    /// Phrases that did not sound bowed, the newest last.
    aside: Vec<Phrase>,
    /// Echoes so far, those included that are no longer kept.
    count: usize,
}

impl Lesson {
    /// A lesson that waits for its model; so much silence ends a phrase.
    pub fn new(ends_after: Secs) -> Self {
        Self {
            rounds: Rounds::new(ends_after),
            current: None,
            before: Vec::new(),
            model: None,
            echoes: Vec::new(),
            doubtful: None,
            aside: Vec::new(),
            count: 0,
        }
    }

    /// So much silence ends a phrase from now on.
    pub fn end_after(&mut self, silence: Secs) {
        self.rounds.ends_after = silence;
    }

    /// Takes in what the ear reports; `note` is the ear's note where one has just ended.
    pub fn hear(&mut self, event: &Event, note: Option<&Note>) -> Option<LessonEvent> {
        if let Event::Frame(frame) = event {
            let instant =
                Instant { time: frame.time, f0: frame.drawn(), confidence: frame.confidence };
            match &mut self.current {
                Some(phrase) if phrase.course.len() < MOST_FRAMES => phrase.course.push(instant),
                Some(_) => {}
                None => {
                    if self.before.len() == EARLIER {
                        self.before.remove(0);
                    }
                    self.before.push(instant);
                }
            }
        }
        if let (Event::NoteEnded, Some(note)) = (event, note) {
            self.rounds.note_ended(note.end);
            if let Some(phrase) = &mut self.current {
                phrase.notes.push(note.clone());
            }
        }
        match self.rounds.hear(event)? {
            Change::Began { start } => {
                let from = start.0 - BEFORE.0;
                let mut course = std::mem::take(&mut self.before);
                course.retain(|instant| instant.time.0 >= from);
                self.current = Some(Phrase { notes: Vec::new(), course });
                Some(LessonEvent::Began)
            }
            Change::Ended { end } => Some(self.ended(end)),
            Change::Dropped => {
                self.current = None;
                Some(LessonEvent::Nothing)
            }
        }
    }

    /// A note of the running phrase was looked at again.
    pub fn settle(&mut self, note: &Note) {
        let notes = self.current.iter_mut().flat_map(|phrase| &mut phrase.notes);
        notes.filter(|heard| heard.start == note.start).for_each(|heard| heard.clone_from(note));
    }

    fn ended(&mut self, end: Secs) -> LessonEvent {
        let Some(mut phrase) = self.current.take().filter(|phrase| !phrase.notes.is_empty()) else {
            return LessonEvent::Nothing;
        };
        phrase.course.retain(|instant| instant.time.0 <= end.0 + BEFORE.0);
        if Bowing::of(&phrase.notes).is_bowed() {
            return self.take_up(phrase);
        }
        if self.aside.len() == MOST_ASIDE {
            self.aside.remove(0);
        }
        self.aside.push(phrase);
        LessonEvent::SetAside
    }

    /// A phrase becomes the model, or an echo, or it is asked about. What was asked before is answered by it: who plays on
    /// has not taken that for an echo.
    fn take_up(&mut self, phrase: Phrase) -> LessonEvent {
        let asked = self.doubtful.take();
        let Some(model) = &self.model else {
            self.model = Some(phrase);
            return LessonEvent::Model;
        };
        let echo = Echo { comparison: Comparison::new(&model.notes, &phrase.notes), phrase };
        let octave = echo.comparison.transposed;
        // In another octave the teacher may have sung it; who does so again, or says that it was an echo, plays there.
        let so_before =
            |echo: &Echo| echo.comparison.transposed == octave && echo.comparison.answers();
        let usual = octave == 0 || self.echoes.iter().chain(&asked).any(so_before);
        if usual && echo.comparison.answers() {
            self.keep(echo);
            return LessonEvent::Echo;
        }
        self.doubtful = Some(echo);
        LessonEvent::Unlike
    }

    /// The last phrase that did not sound bowed and has not been brought back.
    pub fn set_aside(&self) -> Option<&Phrase> {
        self.aside.last()
    }

    /// That phrase was meant all the same: it becomes the model, or an echo, however unlike.
    pub fn bring_back(&mut self) -> Option<LessonEvent> {
        let phrase = self.aside.pop()?;
        if self.model.is_none() {
            return Some(self.take_up(phrase));
        }
        self.bring_echo(phrase);
        Some(LessonEvent::Echo)
    }

    /// A phrase that was kept before is the model from now on; the echoes of another one go.
    pub fn bring_model(&mut self, phrase: Phrase) {
        self.again();
        self.model = Some(phrase);
    }

    /// A phrase that was kept before is an echo, however unlike the model. `false` where there is no model.
    pub fn bring_echo(&mut self, phrase: Phrase) -> bool {
        let Some(model) = &self.model else { return false };
        let comparison = Comparison::new(&model.notes, &phrase.notes);
        self.doubtful = None;
        self.keep(Echo { phrase, comparison });
        true
    }

    fn keep(&mut self, echo: Echo) {
        if self.echoes.len() == MOST_ECHOES {
            self.echoes.remove(1);
        }
        self.echoes.push(echo);
        self.count += 1;
    }

    /// What is hardly an echo of the model, until it is said whether it is one or something else is played.
    pub fn doubtful(&self) -> Option<&Echo> {
        self.doubtful.as_ref()
    }

    /// Says whether what is hardly an echo is one. `false` if nothing was asked.
    pub fn answer(&mut self, is_echo: bool) -> bool {
        let Some(echo) = self.doubtful.take() else { return false };
        if is_echo {
            self.keep(echo);
        }
        true
    }

    /// The sound breaks off, as when another source begins: what is being played is no phrase, and what waits for a word or a
    /// key waits no longer, for its times are those of that source.
    pub fn break_off(&mut self) {
        self.rounds.break_off();
        (self.current, self.doubtful) = (None, None);
        self.before.clear();
        self.aside.clear();
    }

    /// All is taken back: the next phrase becomes the model.
    pub fn again(&mut self) {
        self.model = None;
        self.echoes.clear();
        self.count = 0;
        self.break_off();
    }

    /// What was played last was the model: it takes the place of the one there is, and the echoes go.
    /// `false` if there is no echo.
    pub fn last_was_model(&mut self) -> bool {
        let Some(last) = self.echoes.pop() else {
            return false;
        };
        self.echoes.clear();
        self.count = 0;
        self.model = Some(last.phrase);
        true
    }

    /// The last echo is taken back. `false` if there is none.
    pub fn drop_echo(&mut self) -> bool {
        let dropped = self.echoes.pop().is_some();
        self.count -= usize::from(dropped);
        dropped
    }

    /// What was played to be imitated.
    pub fn model(&self) -> Option<&Phrase> {
        self.model.as_ref()
    }

    /// The answers, in the order of time.
    pub fn echoes(&self) -> &[Echo] {
        &self.echoes
    }

    /// How many answers there were, those included that are no longer kept.
    pub fn count(&self) -> usize {
        self.count
    }

    /// What is being played.
    pub fn current(&self) -> Option<&Phrase> {
        self.current.as_ref()
    }

    /// The way from the first echo to the last in one quantity: the mean difference over the notes of each;
    /// `None` where it is not known.
    pub fn way(&self, quantity: Quantity) -> Vec<Option<Difference>> {
        self.echoes.iter().map(|echo| echo.comparison.mean(quantity)).collect()
    }

    /// What changed most from the first echo to the last, in a sentence; `None` before the second and where
    /// no change can be told.
    pub fn way_said(&self) -> Option<String> {
        let (first, last) = (self.echoes.first()?, self.echoes.last()?);
        if self.echoes.len() < 2 {
            return None;
        }
        let change = |quantity: Quantity| {
            let (a, b) = (first.comparison.mean(quantity)?, last.comparison.mean(quantity)?);
            let nearer = a.value.abs() - b.value.abs();
            let change =
                Difference { value: nearer, se: a.se.zip(b.se).map(|(a, b)| a.hypot(b)), ..a };
            (change.units() > 1.0).then_some(change)
        };
        let most = Quantity::compared()
            .filter_map(change)
            .max_by(|a, b| a.units().total_cmp(&b.units()))?;
        let way = if most.value > 0.0 { "closer to" } else { "away from" };
        Some(format!(
            "From the first echo to the last the {} came {} {way} the model.",
            most.quantity.name(),
            crate::comparison::amount(&most)
        ))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::comparison::tests::vibrated;
    use crate::frame_at;

    /// Plays these notes, one after another, and so much silence.
    fn play(lesson: &mut Lesson, notes: &[Note], silence: f64) -> Vec<LessonEvent> {
        let mut heard = Vec::new();
        let mut now = 0.0;
        for note in notes {
            let began =
                Event::NoteBegan { start: note.start, midi: note.midi, reference: note.reference };
            heard.extend(lesson.hear(&began, None));
            for frame in 0..(200.0 * (note.end.0 - note.start.0)) as usize {
                let at = frame_at(note.start.0 + 0.005 * frame as f64);
                heard.extend(lesson.hear(&at, None));
            }
            heard.extend(lesson.hear(&Event::NoteEnded, Some(note)));
            now = note.end.0;
        }
        for frame in 1..=(200.0 * silence) as usize {
            heard.extend(lesson.hear(&frame_at(now + 0.005 * frame as f64), None));
        }
        heard
    }

    #[test]
    fn the_first_phrase_is_the_model_and_all_others_answer_it() {
        let mut lesson = Lesson::new(Secs(1.0));
        let model = [vibrated(57, 1.0, 5.0, 40.0), vibrated(59, 3.1, 5.0, 40.0)];
        let heard = play(&mut lesson, &model, 1.1);
        assert_eq!(heard, [LessonEvent::Began, LessonEvent::Model]);
        let echo = [vibrated(57, 10.0, 6.0, 40.0), vibrated(59, 12.1, 6.0, 40.0)];
        assert_eq!(play(&mut lesson, &echo, 0.5), [LessonEvent::Began]);
        assert!(lesson.echoes().is_empty(), "it is not silent for long enough");
        let kept = lesson.hear(&frame_at(16.0), None);
        assert_eq!(kept, Some(LessonEvent::Echo));
        let comparison = &lesson.echoes()[0].comparison;
        assert_eq!(comparison.pairs.len(), 2);
        let rate = comparison.mean(Quantity::Rate).expect("known");
        assert!((rate.value - 1.0).abs() < 1e-9);
    }

    #[test]
    fn talk_is_neither_model_nor_echo() {
        let mut lesson = Lesson::new(Secs(1.0));
        let said = |start| {
            let mut note = vibrated(57, start, 5.0, 40.0);
            note.remarks.unlike_bow = 1.7;
            note
        };
        assert_eq!(
            play(&mut lesson, &[said(1.0)], 1.1),
            [LessonEvent::Began, LessonEvent::SetAside]
        );
        play(&mut lesson, &[vibrated(57, 10.0, 5.0, 40.0)], 1.1);
        let heard = play(&mut lesson, &[said(20.0), said(22.1)], 1.1);
        assert_eq!(heard, [LessonEvent::Began, LessonEvent::SetAside]);
        assert!(lesson.model().is_some() && lesson.echoes().is_empty());
        // It was played all the same: first the last phrase comes back, then the one before it.
        for start in [20.0, 1.0] {
            assert_eq!(lesson.bring_back(), Some(LessonEvent::Echo));
            assert_eq!(lesson.echoes().last().expect("it").phrase.notes[0].start, Secs(start));
        }
        assert_eq!(lesson.bring_back(), None, "nothing waits any more");
    }

    #[test]
    fn a_model_that_did_not_sound_bowed_is_brought_back_as_the_model() {
        let mut lesson = Lesson::new(Secs(1.0));
        let mut note = vibrated(57, 1.0, 5.0, 40.0);
        note.remarks.unlike_bow = 1.7;
        play(&mut lesson, &[note], 1.1);
        assert_eq!(lesson.bring_back(), Some(LessonEvent::Model));
        play(&mut lesson, &[vibrated(57, 10.0, 5.0, 40.0)], 1.1);
        assert_eq!(lesson.echoes().len(), 1);
    }

    #[test]
    fn an_echo_in_another_octave_is_asked_about_until_one_there_was_an_echo() {
        let mut lesson = Lesson::new(Secs(1.0));
        let phrase = |from: i32, at: f64| {
            [(0, 0.0), (2, 2.1)].map(|(step, later)| vibrated(from + step, at + later, 5.0, 40.0))
        };
        play(&mut lesson, &phrase(57, 1.0), 1.1);
        let mut became = |from: i32, at: f64, is_echo: Option<bool>| {
            let heard = play(&mut lesson, &phrase(from, at), 1.1);
            let asked = lesson.doubtful().and_then(|echo| echo.comparison.unlike());
            is_echo.map(|is_echo| lesson.answer(is_echo));
            (heard[1], asked)
        };
        let above =
            || (LessonEvent::Unlike, Some("That was an octave above the model.".to_owned()));
        let below =
            || (LessonEvent::Unlike, Some("That was 2 octaves below the model.".to_owned()));
        let echo = || (LessonEvent::Echo, None);
        assert_eq!(became(57, 10.0, None), echo());
        assert_eq!(became(69, 20.0, Some(false)), above(), "it was sung");
        assert_eq!(became(69, 30.0, Some(true)), above(), "it is an echo");
        assert_eq!(became(69, 40.0, None), echo(), "as the one before");
        assert_eq!(became(33, 50.0, None), below());
        assert_eq!(became(57, 60.0, None), echo(), "as the model");
        assert_eq!(became(33, 70.0, None), below(), "a while ago, and not said to be one");
        assert_eq!(became(33, 80.0, None), echo(), "who plays there again is no singer");
        assert_eq!(lesson.echoes().len(), 5);
    }

    #[test]
    fn what_was_played_last_can_become_the_model_and_all_can_be_taken_back() {
        let mut lesson = Lesson::new(Secs(1.0));
        for start in [1.0, 10.0, 20.0] {
            play(&mut lesson, &[vibrated(57, start, 5.0, start)], 1.1);
        }
        assert_eq!(lesson.echoes().len(), 2);
        assert!(lesson.drop_echo());
        assert!(lesson.last_was_model());
        assert!(!lesson.last_was_model() && !lesson.drop_echo());
        let model = lesson.model().expect("the second phrase");
        assert_eq!(model.notes[0].start, Secs(10.0));
        lesson.again();
        assert_eq!(play(&mut lesson, &[vibrated(57, 30.0, 5.0, 9.0)], 1.1)[1], LessonEvent::Model);
    }

    #[test]
    fn what_was_kept_before_is_brought_as_the_model_or_as_an_echo() {
        let phrase = |start: f64, width: f64| {
            let note = vibrated(57, start, 5.0, width);
            let course = vec![Instant { time: Secs(start), f0: Some(Hz(220.0)), confidence: 0.9 }];
            Phrase { notes: vec![note], course }
        };
        let mut lesson = Lesson::new(Secs(1.0));
        assert!(!lesson.bring_echo(phrase(1.0, 30.0)), "there is nothing to answer");
        play(&mut lesson, &[vibrated(57, 1.0, 5.0, 40.0)], 1.1);
        play(&mut lesson, &[vibrated(57, 10.0, 5.0, 20.0)], 1.1);
        lesson.bring_model(phrase(2.0, 50.0).later(Secs(-100.0)));
        let model = lesson.model().expect("it was brought");
        assert_eq!((model.notes[0].start, model.course[0].time), (Secs(-98.0), Secs(-98.0)));
        assert!(lesson.echoes().is_empty(), "they answered another model");
        assert!(lesson.bring_echo(phrase(2.0, 30.0).later(Secs(-200.0))));
        // One that is played answers it, too.
        play(&mut lesson, &[vibrated(57, 30.0, 5.0, 45.0)], 1.1);
        let way: Vec<f64> = lesson
            .way(Quantity::Width)
            .into_iter()
            .map(|difference| difference.expect("known").value)
            .collect();
        assert_eq!(way, [-20.0, -5.0]);
    }

    #[test]
    fn the_way_from_the_first_echo_to_the_last_is_told() {
        let mut lesson = Lesson::new(Secs(1.0));
        for (number, width) in [40.0, 20.0, 28.0, 38.0].into_iter().enumerate() {
            let start = 10.0 * number as f64;
            play(&mut lesson, &[vibrated(57, start, 5.0, width)], 1.1);
        }
        let way: Vec<f64> = lesson
            .way(Quantity::Width)
            .into_iter()
            .map(|difference| difference.expect("known").value)
            .collect();
        assert_eq!(way, [-20.0, -12.0, -2.0]);
        let said = lesson.way_said().expect("18 cents can be told");
        assert_eq!(
            said,
            "From the first echo to the last the width came 18 ±1 cents closer to the model."
        );
    }

    #[test]
    fn a_sound_that_breaks_off_is_no_phrase() {
        let mut lesson = Lesson::new(Secs(1.0));
        play(&mut lesson, &[vibrated(57, 1.0, 5.0, 40.0)], 0.2);
        lesson.break_off();
        assert_eq!(lesson.hear(&frame_at(20.0), None), None);
        assert!(lesson.model().is_none() && lesson.current().is_none());
    }
}
