//! Listening before looking: when measures are shown, and what the player is asked before they are.

use tuning::{Cents, Hz, Secs};
use vibrato::{Measure, Note, Quantity, Vibrato};

use crate::reference::around;
use crate::told::beyond_doubt;

/// When measures are shown.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Showing {
    /// All the time.
    #[default]
    Live,
    /// Once a note has ended.
    AfterNote,
    /// Once a round has ended in silence.
    AfterRound,
}

impl Showing {
    /// The next way, in a circle.
    pub fn next(self) -> Self {
        match self {
            Self::Live => Self::AfterNote,
            Self::AfterNote => Self::AfterRound,
            Self::AfterRound => Self::Live,
        }
    }
}

/// Where a vibrato is meant to lie: teachers differ, and neither is wrong.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Swing {
    /// Around the note: the centre is on it.
    #[default]
    Around,
    /// Below the note: the crests touch it.
    Below,
}

/// What may be asked before measures are shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Question {
    /// Was it even or uneven?
    Evenness,
    /// Was it wider or narrower than the last one?
    Width,
    /// Was the centre high, low, on it?
    Centre,
}

impl Question {
    /// All, in the order they take turns.
    pub const ALL: [Self; 3] = [Self::Evenness, Self::Width, Self::Centre];

    /// Its word on the screen and on disk.
    pub fn word(self) -> &'static str {
        match self {
            Self::Evenness => "evenness",
            Self::Width => "width",
            Self::Centre => "centre",
        }
    }
}

/// What may be answered.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Answer {
    /// The oscillations were alike.
    Even,
    /// They were not.
    Uneven,
    /// Wider than the last vibrato.
    Wider,
    /// Narrower than the last vibrato.
    Narrower,
    /// Sharp.
    High,
    /// Flat.
    Low,
    /// Neither.
    OnIt,
}

impl Answer {
    /// As it is said to the player.
    pub fn said(self) -> &'static str {
        match self {
            Self::High => "sharp",
            Self::Low => "flat",
            Self::OnIt => "in tune",
            _ => self.word(),
        }
    }

    /// Its word on disk.
    pub fn word(self) -> &'static str {
        match self {
            Self::Even => "even",
            Self::Uneven => "uneven",
            Self::Wider => "wider",
            Self::Narrower => "narrower",
            Self::High => "high",
            Self::Low => "low",
            Self::OnIt => "on it",
        }
    }
}

/// The answers to a question, in the order they are offered.
pub fn answers(question: Question) -> &'static [Answer] {
    match question {
        Question::Evenness => &[Answer::Even, Answer::Uneven],
        Question::Width => &[Answer::Wider, Answer::Narrower],
        Question::Centre => &[Answer::Low, Answer::OnIt, Answer::High],
    }
}

/// Where the lines between the answers lie. The player may set them, since nothing published does.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Limits {
    /// Oscillations whose periods spread by more than this, in percent, are called uneven.
    pub uneven_pct: f64,
    /// A centre within this of the reference is called on it.
    pub on_it: Cents,
}

impl Default for Limits {
    /// 16 %: the spread of cycles that differ from the next by 18 % on average, as those of recorded
    /// artists do (A. M. Small, in C. E. Seashore (ed.), studies of the 1930s), if only chance makes them
    /// differ (18 / 1.128). 5 cents: about what is just heard between two steady tones (from memory).
    fn default() -> Self {
        Self { uneven_pct: 16.0, on_it: Cents(5.0) }
    }
}

/// A question that was answered.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Answered {
    /// What was asked.
    pub question: Question,
    /// What the player heard.
    pub answer: Answer,
    /// What was measured; `None` where it lies too near to the line between two answers.
    pub truth: Option<Answer>,
    /// End of the note it is about, on the ear's clock.
    pub note_end: Secs,
    /// What was measured of that note, and of the one before it.
    pub measured: Numbers,
}

/// What a note was measured by when it was asked about; `None` where that is not known.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Numbers {
    /// Spreads of rate and width, in percent.
    pub spreads: (Option<f64>, Option<f64>),
    /// Widths of the vibrato before and of this one.
    pub widths: [Option<Cents>; 2],
    /// How far the centre, or where it is meant below the note the crests, lies above the reference.
    pub centre: Option<Cents>,
}

impl Answered {
    /// Whether the ear was right; `None` where that cannot be said.
    pub fn right(&self) -> Option<bool> {
        self.truth.map(|truth| truth == self.answer)
    }
}

/// How often the ear was right.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Tally {
    /// Answers that could be judged.
    pub asked: u32,
    /// Those that were right.
    pub right: u32,
    /// How often each answer would have been right, in the order they are offered.
    pub truths: [u32; 3],
}

impl Tally {
    /// How often one and the same answer, given each time, would have been right at best.
    pub fn always(&self) -> u32 {
        self.truths.into_iter().max().unwrap_or(0)
    }
}

/// What stands before the measures.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub enum Curtain {
    /// Nothing: they are to be seen.
    #[default]
    Open,
    /// They are hidden while the player listens.
    Drawn,
    /// They are hidden until this is answered or passed over.
    Asking(Question),
}

/// Hides measures until the player has listened, and asks what was heard.
#[derive(Clone, Debug, Default)]
pub struct Ears {
    /// When measures are shown; change it by [`Ears::show`].
    showing: Showing,
    /// Whether a question is asked before measures are shown.
    pub asks: bool,
    /// Where the vibrato is meant to lie.
    pub swing: Swing,
    /// Where the lines between the answers lie.
    pub limits: Limits,
    curtain: Curtain,
    numbers: Numbers,
    /// How each question would be answered by the measures of the note that ended last.
    truths: [Option<Truth>; 3],
    /// Widths of the last two vibratos, the newest last.
    widths: [Option<Measure<Cents>>; 2],
    next: usize,
    tallies: [Tally; 3],
    last: Option<Answered>,
    /// End of the note that ended last.
    note_end: Secs,
    /// A note sounds.
    sounds: bool,
}

/// How the measures would answer a question.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Truth {
    /// With this answer, beyond doubt.
    Plain(Answer),
    /// Not at all: the measure lies too near to the line between two answers.
    TooClose,
}

impl Ears {
    /// Ears that show live.
    pub fn new(asks: bool) -> Self {
        Self { asks, ..Self::default() }
    }

    /// When measures are shown.
    pub fn showing(&self) -> Showing {
        self.showing
    }

    /// Shows measures at another time; if that is live, what is hidden now is shown.
    pub fn show(&mut self, showing: Showing) {
        self.showing = showing;
        if showing == Showing::Live {
            self.curtain = Curtain::Open;
        }
    }

    /// What stands before the measures.
    pub fn curtain(&self) -> Curtain {
        self.curtain
    }

    /// The answer that was given last, while its note is still the last one.
    pub fn last(&self) -> Option<Answered> {
        self.last
    }

    /// How often the ear was right about this, since the start.
    pub fn tally(&self, question: Question) -> Tally {
        self.tallies[question as usize]
    }

    /// Something else is listened to: nothing is asked of a note that was heard before. The tallies stay.
    pub fn anew(&mut self) {
        (self.curtain, self.sounds) = (Curtain::Open, false);
        (self.truths, self.widths, self.last) = ([None; 3], [None; 2], None);
    }

    /// A note began. What is asked of the note before may still be answered by one who plays on, until this one
    /// has ended.
    pub fn note_began(&mut self) {
        self.sounds = true;
        // What was answered is about the note before.
        self.last = None;
        let asked = matches!(self.curtain, Curtain::Asking(_));
        let stays = asked && self.showing == Showing::AfterNote;
        if self.showing != Showing::Live && !stays {
            self.curtain = Curtain::Drawn;
        }
    }

    /// The player has read what became of the answer. Whether there was one.
    pub fn close_answer(&mut self) -> bool {
        self.last.take().is_some()
    }

    /// What had begun was no note, and no note had come before it in this round.
    pub fn nothing_began(&mut self) {
        self.sounds = false;
        if self.curtain == Curtain::Drawn {
            self.curtain = Curtain::Open;
        }
    }

    /// A note ended.
    pub fn note_ended(&mut self, note: &Note, reference: Hz) {
        if let Some(vibrato) = &note.vibrato {
            self.widths = [self.widths[1], Some(vibrato.width)];
        }
        self.truths = self.truths_of(note, reference);
        self.numbers = self.numbers_of(note, reference);
        self.note_end = note.end;
        self.sounds = false;
        if self.showing == Showing::AfterNote && self.curtain != Curtain::Open {
            self.come_to_an_end();
        }
    }

    /// What ended was a piece of a slide along the string: there is nothing to ask of it.
    pub fn slide_ended(&mut self) {
        self.truths = [None; 3];
        self.sounds = false;
        if self.showing == Showing::AfterNote {
            self.curtain = Curtain::Open;
        }
    }

    /// The note that ended last was looked at again: what is still to be asked is asked of what is known now.
    pub fn note_settled(&mut self, note: &Note, reference: Hz) {
        if note.end == self.note_end
            && let Some(vibrato) = &note.vibrato
        {
            self.widths[1] = Some(vibrato.width);
            self.truths = self.truths_of(note, reference);
            self.numbers = self.numbers_of(note, reference);
        }
    }

    /// A round ended in silence.
    pub fn round_ended(&mut self) {
        self.sounds = false;
        if self.showing == Showing::AfterRound && self.curtain == Curtain::Drawn {
            self.come_to_an_end();
        }
    }

    /// The player says what was heard, and the measures are shown. `None` if that does not answer the question.
    pub fn answer(&mut self, answer: Answer) -> Option<Answered> {
        let Curtain::Asking(question) = self.curtain else {
            return None;
        };
        if !answers(question).contains(&answer) {
            return None;
        }
        let truth = match self.truths[question as usize] {
            Some(Truth::Plain(truth)) => Some(truth),
            _ => None,
        };
        let answered =
            Answered { question, answer, truth, note_end: self.note_end, measured: self.numbers };
        if let Some((right, truth)) = answered.right().zip(truth) {
            let tally = &mut self.tallies[question as usize];
            tally.asked += 1;
            tally.right += u32::from(right);
            let place = answers(question).iter().position(|answer| *answer == truth);
            tally.truths[place.unwrap_or(0)] += 1;
        }
        self.last = Some(answered);
        self.asked();
        Some(answered)
    }

    /// The player wants to see without an answer.
    pub fn reveal(&mut self) {
        if matches!(self.curtain, Curtain::Asking(_)) {
            self.asked();
        }
    }

    /// What was asked is done with: the measures are seen, but not those of a note that sounds.
    fn asked(&mut self) {
        self.curtain = if self.sounds { Curtain::Drawn } else { Curtain::Open };
    }

    fn come_to_an_end(&mut self) {
        self.curtain = match self.next_question() {
            Some(question) => Curtain::Asking(question),
            None => Curtain::Open,
        };
    }

    /// The next question, in turn, that the last note can answer.
    fn next_question(&mut self) -> Option<Question> {
        if !self.asks {
            return None;
        }
        let from = self.next;
        let turn = (0..Question::ALL.len())
            .map(|step| (from + step) % Question::ALL.len())
            .find(|&index| self.truths[index].is_some())?;
        self.next = turn + 1;
        Some(Question::ALL[turn])
    }

    fn truths_of(&self, note: &Note, reference: Hz) -> [Option<Truth>; 3] {
        let evenness = note.vibrato.as_ref().and_then(|vibrato| self.evenness_of(vibrato));
        let width = match (&note.vibrato, self.widths) {
            (Some(_), [Some(before), Some(now)]) => {
                let more = now.bare().above(before.bare());
                Some(Truth::beside(more, 1, Answer::Narrower, Answer::Wider))
            }
            _ => None,
        };
        [evenness, width, Some(self.centre_of(note, reference))]
    }

    /// Even where neither rate nor width spreads by more than the limit, uneven where either does.
    fn evenness_of(&self, vibrato: &Vibrato) -> Option<Truth> {
        let spreads = [Quantity::RateSpread, Quantity::WidthSpread].map(|of| vibrato.get(of));
        let known: Vec<Measure<f64>> = spreads.into_iter().flatten().collect();
        let beside = |spread: &Measure<f64>| {
            let over = Measure { value: spread.value - self.limits.uneven_pct, ..*spread };
            Truth::beside(over, known.len(), Answer::Even, Answer::Uneven)
        };
        let each: Vec<Truth> = known.iter().map(beside).collect();
        let uneven = Truth::Plain(Answer::Uneven);
        Some(match each.first()? {
            _ if each.contains(&uneven) => uneven,
            first if each.iter().all(|truth| truth == first) => *first,
            _ => Truth::TooClose,
        })
    }

    fn numbers_of(&self, note: &Note, reference: Hz) -> Numbers {
        let spread = |of| Some(note.vibrato.as_ref()?.get(of)?.value);
        Numbers {
            spreads: (spread(Quantity::RateSpread), spread(Quantity::WidthSpread)),
            widths: self.widths.map(|width| width.map(|width| width.value)),
            centre: Some(Cents(self.lies(note, reference))),
        }
    }

    /// How far what is meant to be on the note lies above it, in cents.
    fn lies(&self, note: &Note, reference: Hz) -> f64 {
        let shift = note.reference.cents_above(reference).0;
        let centre = note.vibrato.as_ref().map_or(note.offset, |v| v.centre);
        match (self.swing, around(note, reference)) {
            (Swing::Below, Some(around)) => around.above.0,
            _ => centre.value.0 + shift,
        }
    }

    fn centre_of(&self, note: &Note, reference: Hz) -> Truth {
        let centre = note.vibrato.as_ref().map_or(note.offset, |v| v.centre).bare();
        let lies = self.lies(note, reference);
        let outside = if lies > 0.0 { Answer::High } else { Answer::Low };
        let over = Measure { value: lies.abs() - self.limits.on_it.0, ..centre };
        Truth::beside(over, 1, Answer::OnIt, outside)
    }
}

impl Truth {
    /// The answer on that side of a line on which a measure lies, `over` it or under it, if that is beyond doubt where
    /// so many are looked at.
    fn beside(over: Measure<f64>, asked: usize, below: Answer, above: Answer) -> Self {
        match beyond_doubt(over, asked) {
            true if over.value > 0.0 => Self::Plain(above),
            true => Self::Plain(below),
            false => Self::TooClose,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use tuning::Secs;
    use vibrato::{Measures, Oscillation};

    const A3: Hz = Hz(220.0);

    fn note(width: f64, centre: f64, spread: f64) -> Note {
        let centred = Measure::known(Cents(centre), Cents(0.5));
        let even = Vibrato::even(Hz(5.0), Cents(width), Secs(0.3), 6);
        let oscillations = even.oscillations.iter().map(|even| Oscillation {
            crest: Cents(even.crest.0 + centre),
            trough: Cents(even.trough.0 + centre),
            ..*even
        });
        let plain = Note::plain(57, A3, Secs(0.0), Secs(2.0));
        Note { offset: centred, ..plain }.vibrated(Vibrato {
            rate: Measure::known(Hz(5.0), Hz(0.05)),
            width: Measure::known(Cents(width), Cents(1.0)),
            centre: centred,
            others: Measures::default().with(Quantity::RateSpread, spread, Some(1.0)),
            oscillations: oscillations.collect(),
            ..even
        })
    }

    fn hidden() -> Ears {
        let mut ears = Ears::new(true);
        ears.show(Showing::AfterNote);
        ears
    }

    fn play(ears: &mut Ears, note: &Note) -> Curtain {
        ears.note_began();
        assert_ne!(ears.curtain(), Curtain::Open);
        ears.note_ended(note, A3);
        ears.curtain()
    }

    #[test]
    fn shown_live_nothing_is_hidden_or_asked() {
        let mut ears = Ears::new(true);
        ears.note_began();
        assert_eq!(ears.curtain(), Curtain::Open);
        ears.note_ended(&note(30.0, 0.0, 5.0), A3);
        ears.round_ended();
        assert_eq!(ears.curtain(), Curtain::Open);
    }

    #[test]
    fn questions_take_turns_and_none_is_asked_that_has_no_answer() {
        let mut ears = hidden();
        let first = play(&mut ears, &note(30.0, 0.0, 5.0));
        assert_eq!(first, Curtain::Asking(Question::Evenness));
        // Nothing to compare the first width with until now.
        let second = play(&mut ears, &note(50.0, 0.0, 5.0));
        assert_eq!(second, Curtain::Asking(Question::Width));
        let third = play(&mut ears, &note(50.0, 0.0, 5.0));
        assert_eq!(third, Curtain::Asking(Question::Centre));
        let straight =
            Note { vibrato: None, course: vibrato::PitchCourse::Straight, ..note(0.0, 0.0, 0.0) };
        let fourth = play(&mut ears, &straight);
        assert_eq!(fourth, Curtain::Asking(Question::Centre));
    }

    #[test]
    fn the_ear_is_told_right_or_wrong_and_the_tally_keeps_both() {
        let mut ears = hidden();
        play(&mut ears, &note(30.0, 0.0, 25.0));
        assert_eq!(ears.answer(Answer::Wider), None, "that was not asked");
        let wrong = ears.answer(Answer::Even).expect("it was asked");
        assert_eq!((wrong.right(), wrong.truth), (Some(false), Some(Answer::Uneven)));
        assert_eq!(ears.curtain(), Curtain::Open);
        play(&mut ears, &note(50.0, 0.0, 25.0));
        let right = ears.answer(Answer::Wider).expect("it was asked");
        assert_eq!(right.right(), Some(true));
        assert_eq!(ears.tally(Question::Evenness), Tally { asked: 1, right: 0, truths: [0, 1, 0] });
        assert_eq!(ears.tally(Question::Width), Tally { asked: 1, right: 1, truths: [1, 0, 0] });
        assert_eq!(right.measured.widths, [Some(Cents(30.0)), Some(Cents(50.0))]);
    }

    #[test]
    fn what_is_too_close_to_call_is_kept_but_not_held_against_the_ear() {
        let mut ears = hidden();
        play(&mut ears, &note(30.0, 0.0, 16.4));
        let answered = ears.answer(Answer::Even).expect("it was asked");
        assert_eq!(answered.right(), None);
        assert_eq!(ears.tally(Question::Evenness), Tally::default());
    }

    #[test]
    fn an_ear_is_not_called_wrong_on_what_chance_may_make_or_nobody_knows() {
        let mut ears = hidden();
        let truth = |ears: &Ears, note: &Note| ears.truths_of(note, A3)[0];
        // The line is at 16 %, the standard error 1.0.
        assert_eq!(truth(&ears, &note(30.0, 0.0, 17.5)), Some(Truth::TooClose));
        assert_eq!(truth(&ears, &note(30.0, 0.0, 18.1)), Some(Truth::Plain(Answer::Uneven)));
        let mut unsure = note(30.0, 20.0, 90.0);
        if let Some(vibrato) = &mut unsure.vibrato {
            let spread = Measure { value: 90.0, se: None };
            vibrato.others.set(Quantity::RateSpread, Some(spread));
            (vibrato.width.se, vibrato.centre.se) = (None, None);
        }
        ears.note_ended(&note(60.0, 0.0, 5.0), A3);
        ears.note_ended(&unsure, A3);
        assert_eq!(ears.truths, [Some(Truth::TooClose); 3]);
    }

    #[test]
    fn who_plays_on_may_still_answer_and_the_next_note_is_not_seen_by_it() {
        let mut ears = hidden();
        play(&mut ears, &note(30.0, 0.0, 25.0));
        ears.note_began();
        assert_eq!(ears.curtain(), Curtain::Asking(Question::Evenness), "of the note before");
        let answered = ears.answer(Answer::Uneven).expect("it was asked");
        assert_eq!(answered.right(), Some(true));
        assert_eq!((ears.curtain(), ears.last()), (Curtain::Drawn, Some(answered)));
        // Not answered by the end of the next note: that is asked about.
        ears.note_ended(&note(50.0, 0.0, 5.0), A3);
        assert_eq!(ears.curtain(), Curtain::Asking(Question::Width));
        ears.note_began();
        ears.note_ended(&note(50.0, 0.0, 5.0), A3);
        assert_eq!(ears.curtain(), Curtain::Asking(Question::Centre));
        // Passed over while the next note sounds.
        ears.note_began();
        ears.reveal();
        assert_eq!(ears.curtain(), Curtain::Drawn);
        // A knock does not take a question away.
        ears.note_ended(&note(30.0, 0.0, 25.0), A3);
        let asked = ears.curtain();
        assert!(matches!(asked, Curtain::Asking(_)));
        ears.note_began();
        ears.nothing_began();
        assert_eq!(ears.curtain(), asked);
        ears.reveal();
        assert_eq!(ears.curtain(), Curtain::Open);
        // After a round, a new round is listened to.
        ears.show(Showing::AfterRound);
        ears.note_began();
        ears.note_ended(&note(50.0, 0.0, 5.0), A3);
        ears.round_ended();
        assert!(matches!(ears.curtain(), Curtain::Asking(_)));
        ears.note_began();
        assert_eq!(ears.curtain(), Curtain::Drawn);
    }

    #[test]
    fn of_a_slide_nothing_is_asked_and_a_round_that_goes_on_stays_hidden() {
        let mut ears = hidden();
        play(&mut ears, &note(30.0, 0.0, 25.0));
        ears.note_began();
        ears.slide_ended();
        assert_eq!(ears.curtain(), Curtain::Open);
        ears.show(Showing::AfterRound);
        ears.note_began();
        ears.note_ended(&note(30.0, 0.0, 25.0), A3);
        ears.note_began();
        ears.slide_ended();
        assert_eq!(ears.curtain(), Curtain::Drawn);
        ears.round_ended();
        assert_eq!(ears.curtain(), Curtain::Open);
    }

    #[test]
    fn an_answer_goes_with_its_note_and_can_be_closed() {
        let mut ears = hidden();
        play(&mut ears, &note(30.0, 0.0, 25.0));
        ears.answer(Answer::Even).expect("it was asked");
        // Shown live from here on: the next note has nothing to do with what was answered.
        ears.show(Showing::Live);
        assert!(ears.last().is_some());
        ears.note_began();
        assert_eq!(ears.last(), None);
        ears.show(Showing::AfterNote);
        play(&mut ears, &note(30.0, 0.0, 25.0));
        ears.answer(Answer::Wider).expect("it was asked");
        assert!(ears.close_answer() && !ears.close_answer());
    }

    #[test]
    fn a_vibrato_is_uneven_in_rate_or_in_width() {
        let ears = hidden();
        let truth = |rate: f64, width: f64| {
            let mut played = note(30.0, 0.0, rate);
            if let Some(vibrato) = &mut played.vibrato {
                let spread = Measure { value: width, se: Some(2.0) };
                vibrato.others.set(Quantity::WidthSpread, Some(spread));
            }
            ears.truths_of(&played, A3)[0]
        };
        assert_eq!(truth(5.0, 34.0), Some(Truth::Plain(Answer::Uneven)));
        assert_eq!(truth(25.0, 6.0), Some(Truth::Plain(Answer::Uneven)));
        assert_eq!(truth(5.0, 6.0), Some(Truth::Plain(Answer::Even)));
        assert_eq!(truth(5.0, 15.0), Some(Truth::TooClose));
    }

    #[test]
    fn one_answer_given_each_time_is_scored_beside_the_ear() {
        let mut ears = hidden();
        for (width, said) in [(30.0, Answer::Even), (50.0, Answer::Wider), (70.0, Answer::Low)] {
            play(&mut ears, &note(width, 0.0, 5.0));
            ears.answer(said);
        }
        let tally = ears.tally(Question::Centre);
        assert_eq!((tally.asked, tally.right, tally.always()), (1, 0, 1));
    }

    #[test]
    fn a_swing_meant_below_the_note_is_not_low() {
        let mut ears = hidden();
        ears.swing = Swing::Below;
        let below = note(30.0, -15.0, 5.0);
        assert_eq!(ears.truths_of(&below, A3)[2], Some(Truth::Plain(Answer::OnIt)));
        ears.swing = Swing::Around;
        assert_eq!(ears.truths_of(&below, A3)[2], Some(Truth::Plain(Answer::Low)));
    }

    #[test]
    fn after_the_round_nothing_is_revealed_between_notes() {
        let mut ears = Ears::new(false);
        ears.show(Showing::AfterRound);
        assert_eq!(play(&mut ears, &note(30.0, 0.0, 5.0)), Curtain::Drawn);
        assert_eq!(play(&mut ears, &note(30.0, 0.0, 5.0)), Curtain::Drawn);
        ears.round_ended();
        assert_eq!(ears.curtain(), Curtain::Open);
    }
}
