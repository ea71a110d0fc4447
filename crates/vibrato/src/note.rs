//! A note and its vibrato: plain values, each with its standard error.

use tuning::{Cents, Hz, Secs};

use crate::measure::Measure;
use crate::quantity::{Measures, Quantity};

/// One full cycle of vibrato, trough to trough.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Oscillation {
    /// Time of the trough it starts from.
    pub start: Secs,
    /// Trough to trough.
    pub period: Secs,
    /// Highest pitch in it, against the note's reference.
    pub crest: Cents,
    /// Mean of its two troughs, against the note's reference.
    pub trough: Cents,
}

/// How width and rate run through the note: one point each 0.1 s.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ContourPoint {
    /// Time the point stands for.
    pub time: Secs,
    /// Oscillations per second around that time.
    pub rate: Hz,
    /// Crest to trough around that time.
    pub width: Cents,
}

/// The vibrato of one note.
#[derive(Clone, Debug, PartialEq)]
pub struct Vibrato {
    /// Oscillations per second.
    pub rate: Measure<Hz>,
    /// Crest to trough, peak to peak.
    pub width: Measure<Cents>,
    /// Mean pitch over whole oscillations, against the note's reference.
    pub centre: Measure<Cents>,
    /// From the start of the note to the start of its first oscillation.
    pub onset: Measure<Secs>,
    /// All others, which may be unknown: spreads need 3 oscillations.
    pub others: Measures,
    /// Width and rate through the note.
    pub contour: Vec<ContourPoint>,
    /// The oscillations one by one, in order of time.
    pub oscillations: Vec<Oscillation>,
}

impl Vibrato {
    /// What each vibrato has, known to some doubt.
    pub const ALWAYS: [Quantity; 4] =
        [Quantity::Rate, Quantity::Width, Quantity::Centre, Quantity::Onset];

    /// A vibrato from all its measures; `None` where one is missing that every vibrato has.
    pub fn of(
        measures: Measures,
        contour: Vec<ContourPoint>,
        oscillations: Vec<Oscillation>,
    ) -> Option<Self> {
        let mut others = measures;
        let mut take = |quantity| {
            let measure = others.get(quantity);
            others.set(quantity, None);
            measure
        };
        let rate = take(Quantity::Rate)?.in_unit();
        let width = take(Quantity::Width)?.in_unit();
        let centre = take(Quantity::Centre)?.in_unit();
        let onset = take(Quantity::Onset)?.in_unit();
        Some(Self { rate, width, centre, onset, others, contour, oscillations })
    }
}

impl Oscillation {
    /// The same about its own middle, `by` times as wide.
    #[must_use]
    pub fn widened(self, by: f64) -> Self {
        let (middle, half) = (
            0.5 * (self.crest.get() + self.trough.get()),
            0.5 * by * (self.crest.get() - self.trough.get()),
        );
        Self { crest: Cents(middle + half), trough: Cents(middle - half), ..self }
    }
}

/// A room that narrows the swing moves its middle, too, by chance: by this share of what it took, and by this share of what it
/// may have taken. And it leaves the rate in doubt by this share of the share it took (made notes in rooms of 10 and 5 dB).
const ROOM_CENTRE: f64 = 0.06;
const ROOM_CENTRE_DOUBT: f64 = 0.3;
const ROOM_RATE: f64 = 0.02;
/// Late sound moves each oscillation in its own way: this share of the width stays in doubt wherever there is any.
const ROOM_WIDTH: f64 = 0.007;

/// Standard error of how wide a room leaves a swing, as a share of the width that was heard.
fn room_doubt(by: Measure<f64>) -> Option<f64> {
    by.se.map(|se| if se > 0.0 { se.hypot(ROOM_WIDTH) } else { se })
}

impl Vibrato {
    /// Makes it `by` times as wide as its pitch was heard, for that is how much wider the string swung: its width, each
    /// oscillation and its contour. The standard error of `by` goes into that of the width, and a share of what the room took
    /// into those of centre and rate. What it was widened by before ([`Quantity::Widened`]) no longer counts.
    pub fn widen(&mut self, by: Measure<f64>) {
        let before =
            self.get(Quantity::Widened).map_or(Measure { value: 1.0, se: Some(0.0) }, |pct| {
                Measure { value: 1.0 + pct.value / 100.0, se: pct.se.map(|se| se / 100.0) }
            });
        let heard = self.width.value.get() / before.value;
        let heard_se = self.width.se.map(|se| {
            let of_room = heard * room_doubt(before).unwrap_or(0.0);
            (se.get().powi(2) - of_room.powi(2)).max(0.0).sqrt() / before.value
        });
        self.stretch(by.value / before.value);
        let width_se = heard_se.zip(room_doubt(by));
        self.doubt_width(width_se.map(|(se, room)| Cents((se * by.value).hypot(heard * room))));
        let again =
            |se: f64, (was, is): (f64, f64)| (se * se - was * was).max(0.0).sqrt().hypot(is);
        let of_centre = |by: Measure<f64>| {
            let may_have = ROOM_CENTRE_DOUBT * by.se.unwrap_or(0.0);
            heard * (ROOM_CENTRE * (by.value - 1.0)).hypot(may_have)
        };
        let moved = (of_centre(before), of_centre(by));
        self.centre.se = self.centre.se.map(|se| Cents(again(se.get(), moved)));
        let of_rate = |by: Measure<f64>| ROOM_RATE * self.rate.value.get() * (by.value - 1.0);
        let moved = (of_rate(before), of_rate(by));
        self.rate.se = self.rate.se.map(|se| Hz(again(se.get(), moved)));
        let pct = Measure { value: 100.0 * (by.value - 1.0), se: by.se.map(|se| 100.0 * se) };
        self.others.set(Quantity::Widened, Some(pct));
    }

    /// Its width, and with it its travel, has this standard error.
    pub fn doubt_width(&mut self, se: Option<Cents>) {
        self.width.se = se;
        if let Some(travel) = self.get(Quantity::Travel) {
            self.set_travel(travel.value);
        }
    }

    /// Makes its width, each oscillation, its contour and its travel so many times as wide, and the width as surely known.
    pub fn stretch(&mut self, more: f64) {
        self.width.value.0 *= more;
        self.width.se = self.width.se.map(|se| Cents(more * se.get()));
        for oscillation in &mut self.oscillations {
            *oscillation = oscillation.widened(more);
        }
        self.contour.iter_mut().for_each(|point| point.width.0 *= more);
        if let Some(travel) = self.get(Quantity::Travel) {
            self.set_travel(more * travel.value);
        }
    }

    /// From trough to crest the finger goes so far, in mm, as surely as the width is known.
    pub fn set_travel(&mut self, mm: f64) {
        let share = |se: Cents| mm * se.get() / self.width.value.get();
        let travel = Measure { value: mm, se: self.width.se.map(share) };
        self.others.set(Quantity::Travel, Some(travel));
    }
}

/// What the pitch of a note does.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum PitchCourse {
    /// It swings: see [`Note::vibrato`].
    Vibrato,
    /// It stays: its mean over each tenth of a second keeps within 24 cents from the lowest to the highest.
    Straight,
    /// It leaves its place and rises (or falls, below 0) evenly, by so many cents a second.
    Glides(Measure<Cents>),
    /// It leaves its place in another way: a step, a swing too slow or too short to be a vibrato, a slide that stops.
    Moves,
    /// The note is too short to tell: shorter than [`LEAST`](Self::LEAST), or so short that it may be a vibrato's beginning.
    TooShort,
}

impl PitchCourse {
    /// A shorter note is too short to tell.
    pub const LEAST: Secs = Secs(0.25);

    /// The word by which it is written and read back.
    pub fn word(self) -> &'static str {
        match self {
            Self::Vibrato => "vibrato",
            Self::Straight => "straight",
            Self::Glides(_) => "glides",
            Self::Moves => "moves",
            Self::TooShort => "too short",
        }
    }
}

/// What stood out in the sound of a note, beside its vibrato.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Remarks {
    /// Two strings sounded at once for a good part of the note: its measures are not to be trusted, unless one is known to
    /// be still.
    pub two_strings: bool,
    /// MIDI number of that one of two strings which was still: the measures are those of the other.
    pub still: Option<i32>,
    /// The room's late sound leaves the width in doubt; come within about 60 cm.
    pub room: bool,
    /// The sound reached full scale.
    pub clipped: bool,
    /// Samples were lost within the note.
    pub lost: bool,
    /// The note was longer than the longest that is measured as one, and was cut here.
    pub cut: bool,
    /// How unlike a bowed note it is: 0 if nothing speaks against a bow, 1 if one clear sign does (the pitch of speech, the
    /// harmonics of a voice, a horn, a pipe or a stiff string, the level of something struck), at most 2.
    pub unlike_bow: f64,
}

/// One finished note with its measures.
#[derive(Clone, Debug, PartialEq)]
pub struct Note {
    /// Where the note starts.
    pub start: Secs,
    /// Where the note ends: the bow leaves the string.
    pub end: Secs,
    /// Until where its pitch is told, as the string and the room ring on; at least to its end.
    pub heard_until: Secs,
    /// MIDI number of the nearest note of the tuning (A4 = 69).
    pub midi: i32,
    /// What the cents are against: the frequency of that note.
    pub reference: Hz,
    /// Mean pitch, over whole oscillations where there are any.
    pub f0: Measure<Hz>,
    /// The same as a distance from the reference.
    pub offset: Measure<Cents>,
    /// Mean level of its frames, in dBFS.
    pub level_dbfs: f64,
    /// Mean confidence of its frames, 0 to 1.
    pub confidence: f64,
    /// Standard deviation of the pitch around its own mean, attack and release apart: how still a straight note is held.
    /// Where the note glides or moves, that is in it.
    pub unsteadiness: Cents,
    /// Its vibrato, if its pitch swings.
    pub vibrato: Option<Vibrato>,
    /// What its pitch does.
    pub course: PitchCourse,
    /// Times at which the bow started anew on the same pitch.
    pub rebows: Vec<Secs>,
    /// What else stood out.
    pub remarks: Remarks,
}

impl Remarks {
    /// Taken by itself, the note is not taken for a bowed one from here on.
    pub const UNLIKE: f64 = 1.0;
}

impl Note {
    /// How fast its pitch rises, in cents a second, if it glides.
    pub fn glide(&self) -> Option<Measure<Cents>> {
        match self.course {
            PitchCourse::Glides(per_sec) => Some(per_sec),
            _ => None,
        }
    }

    /// The note is long enough to tell, has no vibrato and stays at its pitch.
    pub fn straight(&self) -> bool {
        self.course == PitchCourse::Straight
    }

    /// What its pitch does, as it is told of a note that sounds.
    pub fn motion(&self) -> Motion {
        match (&self.vibrato, self.course) {
            (Some(vibrato), _) => Motion::Vibrato { rate: vibrato.rate, width: vibrato.width },
            (None, PitchCourse::Straight) => Motion::Straight,
            (None, PitchCourse::Glides(per_sec)) => Motion::Glides(per_sec),
            (None, PitchCourse::Moves) => Motion::Moves,
            (None, PitchCourse::Vibrato | PitchCourse::TooShort) => Motion::Unknown,
        }
    }

    /// Its pitch, and with it how far that lies beside the note, has this standard error.
    pub fn doubt_pitch(&mut self, se: Cents) {
        self.offset.se = Some(se);
        let share = se.get() * std::f64::consts::LN_2 / 1200.0;
        self.f0.se = Some(Hz(self.f0.value.get() * share));
    }

    /// The same note on a clock that is `by` ahead of its own: all its times grow by that.
    pub fn later(&self, by: Secs) -> Self {
        let mut note = self.clone();
        let later = |time: &mut Secs| time.0 += by.0;
        later(&mut note.start);
        later(&mut note.end);
        later(&mut note.heard_until);
        note.rebows.iter_mut().for_each(later);
        if let Some(vibrato) = &mut note.vibrato {
            vibrato.contour.iter_mut().for_each(|point| point.time.0 += by.0);
            vibrato.oscillations.iter_mut().for_each(|oscillation| oscillation.start.0 += by.0);
        }
        note
    }
}

/// The state of the note that sounds now, from its last cycles.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Live {
    /// The instant the values hold for.
    pub time: Secs,
    /// MIDI number of the note; does not flicker while the pitch swings over a boundary.
    pub midi: i32,
    /// Frequency of that note in the tuning.
    pub reference: Hz,
    /// Mean pitch over the last whole cycles (over the last 0.3 s of a straight note).
    pub centre: Measure<Cents>,
    /// What is known of the vibrato by now.
    pub motion: Motion,
    /// Two strings sound at once.
    pub two_strings: bool,
}

/// What is known by now of what the pitch of a note does.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Motion {
    /// Too little has been heard to tell.
    Unknown,
    /// No vibrato, and it stays.
    Straight,
    /// No vibrato, but it rises (or falls, below 0) by so many cents a second.
    Glides(Measure<Cents>),
    /// No vibrato, but it does not stay.
    Moves,
    /// Vibrato over the last one and a half to two cycles.
    Vibrato {
        /// Oscillations per second.
        rate: Measure<Hz>,
        /// Crest to trough.
        width: Measure<Cents>,
    },
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_note_on_a_later_clock_differs_in_its_times_alone() {
        let plain = Note::plain(57, Hz(220.0), Secs(1.0), Secs(3.0));
        let note = Note { rebows: vec![Secs(2.0)], ..plain }.vibrated(Vibrato {
            onset: Measure::doubtful(Secs(0.3)),
            contour: vec![ContourPoint { time: Secs(1.5), rate: Hz(5.0), width: Cents(30.0) }],
            ..Vibrato::even(Hz(5.0), Cents(30.0), Secs(1.25), 1)
        });
        let later = note.later(Secs(10.0));
        assert_eq!((later.start, later.end), (Secs(11.0), Secs(13.0)));
        assert_eq!(later.rebows, [Secs(12.0)]);
        let vibrato = later.vibrato.as_ref().expect("as before");
        assert_eq!(vibrato.contour[0].time, Secs(11.5));
        assert_eq!(vibrato.oscillations[0].start, Secs(11.25));
        assert_eq!(vibrato.onset.value, Secs(0.3), "a length, not a time");
        assert_eq!(later.later(Secs(-10.0)), note);
    }

    #[test]
    fn what_a_width_was_widened_by_before_no_longer_counts() {
        let heard = Vibrato::even(Hz(5.0), Cents(30.0), Secs(0.2), 6);
        let by = |value, se| Measure { value, se: Some(se) };
        let (mut once, mut twice) = (heard.clone(), heard.clone());
        once.widen(by(1.2, 0.03));
        twice.widen(by(1.7, 0.4));
        twice.widen(by(1.2, 0.03));
        assert!((once.width.value.get() - 36.0).abs() < 1e-9, "{:?}", once.width);
        let near = |a: Cents, b: Cents| (a.get() - b.get()).abs() < 1e-9;
        assert!(near(once.width.value, twice.width.value), "{:?}", twice.width);
        let doubts = once.width.se.zip(twice.width.se);
        assert_eq!(doubts.is_some(), heard.width.se.is_some());
        assert!(doubts.is_none_or(|(once, twice)| near(once, twice)), "{doubts:?}");
        for (once, twice) in once.oscillations.iter().zip(&twice.oscillations) {
            assert!(near(once.crest, twice.crest) && near(once.trough, twice.trough));
        }
        let same = |one: Option<f64>, other: Option<f64>| {
            one.zip(other).is_some_and(|(one, other)| (one - other).abs() < 1e-9)
        };
        assert!(same(once.centre.se.map(Cents::get), twice.centre.se.map(Cents::get)));
        assert!(same(once.rate.se.map(Hz::get), twice.rate.se.map(Hz::get)));
        once.widen(by(1.0, 0.0));
        assert!(near(once.width.value, heard.width.value));
        let pct = once.get(Quantity::Widened).expect("it is said");
        assert_eq!((pct.value, pct.se), (0.0, Some(0.0)));
    }
}
