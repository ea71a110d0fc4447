//! A passage while it is edited: a place among its notes, and each change that can be made there. Knows no window: keys and
//! mouse send it [`Edit`]s. What it holds is a whole passage at any time.

mod bars;
mod contour;
mod pitches;
#[cfg(test)]
mod tests;

use std::ops::Range;

use thiserror::Error;
use tuning::{Cents, Hz};

pub use contour::Along;
pub use pitches::Step;

use super::intention::Intention;
use super::note::{BeatUnit, Beats, Dynamic, Pitch, Place, PlanNote, Spelling};
use super::passage::{Clef, Key, Meter, Pace, Passage, PlanFault};

/// Lengths that a note is made longer and shorter by, in beats.
const LENGTHS: [(u32, u32); 16] = [
    (1, 8),
    (1, 6),
    (1, 4),
    (1, 3),
    (1, 2),
    (2, 3),
    (3, 4),
    (1, 1),
    (3, 2),
    (2, 1),
    (3, 1),
    (4, 1),
    (6, 1),
    (8, 1),
    (12, 1),
    (16, 1),
];
/// What can be undone: so many steps, and so many notes in them at most.
const MOST_STEPS: usize = 200;
const MOST_NOTES_KEPT: usize = 200_000;

/// Where to go.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Go {
    /// To the note before.
    Back,
    /// To the next note.
    On,
    /// To the first note.
    First,
    /// To the last note.
    Last,
    /// To the note with this number in [`Passage::notes`].
    To(usize),
}

/// A change of a passage, or of the place in it.
#[derive(Clone, Debug, PartialEq)]
pub enum Edit {
    /// Goes to another note; `extend` keeps what was chosen and adds the way there.
    Go {
        /// Where to.
        to: Go,
        /// More notes are chosen.
        extend: bool,
    },
    /// A note like this one before it, and goes there.
    InsertBefore,
    /// A note like this one behind it, and goes there.
    InsertAfter,
    /// Takes the chosen notes out; those behind them move up.
    Delete,
    /// Makes rests of the chosen notes, and of rests notes.
    Rest,
    /// Moves the chosen notes up or down.
    Move(Step),
    /// Gives the chosen notes this pitch.
    Pitch(Pitch),
    /// The next longer usual length.
    Longer,
    /// The next shorter usual length.
    Shorter,
    /// This length.
    Length(Beats),
    /// Under one bow, or no longer: one note with the one before it, several with each other.
    Slur,
    /// Holds the note over into the next of its pitch, or parts it from it again.
    Tie,
    /// The finger, 0 for an open string.
    Finger(Option<u8>),
    /// The string.
    OnString(Option<String>),
    /// How loud from here on.
    Dynamic(Option<Dynamic>),
    /// What vibrato the chosen notes are to have.
    Intend(Intention),
    /// The width at one place of the note, or on all of it where it was the same all along.
    Width(Along, Cents),
    /// The rate, likewise; `None` leaves it free on the whole note.
    Rate(Along, Option<Hz>),
    /// All rates faster, or slower below 0.
    RateBy(Hz),
    /// All widths wider, or narrower below 0.
    WidthBy(Cents),
    /// Where the peak lies: 0 is the start of the note, 1 its end.
    PeakAt(f64),
    /// The peak later by a share of the note, or earlier below 0.
    PeakBy(f64),
    /// Keeps what vibrato this note is to have, for the brush.
    Copy,
    /// Gives the chosen notes what was copied.
    Brush,
    /// Notes before this one are an upbeat: a bar line stands before it.
    BarLine,
    /// What the passage is called.
    Title(String),
    /// For which instrument.
    Instrument(String),
    /// How fast.
    Pace(Pace),
    /// Beats of a bar.
    Meter(Meter),
    /// The key.
    Key(Key),
    /// The clef.
    Clef(Clef),
    /// The vibrato of every note, in the order of [`Passage::notes`], as of a model that was played; `None` leaves a note as
    /// it is.
    IntendAll(Vec<Option<Intention>>),
    /// Takes the last change back.
    Undo,
    /// Makes it once more.
    Redo,
}

/// Why a change was not made, in words.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum EditFault {
    /// There is nothing to undo or to redo.
    #[error("there is nothing more to take back")]
    NothingBack,
    /// Nothing was taken back.
    #[error("nothing was taken back that could be made again")]
    NothingAgain,
    /// The last note that sounds would go.
    #[error("a passage keeps at least one note; change this one instead")]
    LastNote,
    /// The pitch would lie beyond C0 or B8.
    #[error("pitches run from C0 to B8")]
    NoPitch,
    /// No usual length beyond this.
    #[error("there is no longer or shorter length; type it in the text")]
    NoLength,
    /// Bars would hold fractions that cannot be counted.
    #[error(
        "these lengths do not fit into bars together; choose halves, thirds or quarters of a beat"
    )]
    NoBars,
    /// Nothing can be slurred.
    #[error("a slur wants a note before this one")]
    NoSlur,
    /// Nothing can be tied.
    #[error("a tie wants a next note of the same pitch")]
    NoTie,
    /// Open strings and rests alone are chosen.
    #[error("an open string or a rest has no vibrato; choose a finger first")]
    NoVibrato,
    /// A straight note has neither rate nor peak.
    #[error("this note is straight; give it a width first")]
    NoWidth,
    /// Nothing was copied.
    #[error("nothing is copied yet; go to a note and copy its vibrato first")]
    NothingCopied,
    /// The bar line would stand elsewhere than in the first bar.
    #[error("an upbeat ends within the first bar; go to a note of it, behind its first one")]
    NoUpbeat,
    /// What was asked for is no passage.
    #[error("{0}")]
    Plan(#[from] PlanFault),
}

/// A state that can be gone back to.
#[derive(Clone, Debug)]
struct Kept {
    passage: Passage,
    cursor: usize,
    anchor: usize,
}

/// A passage that is being edited.
#[derive(Clone, Debug)]
pub struct Editor {
    passage: Passage,
    /// Number of the note one is at: never one that is tied to the note before it.
    cursor: usize,
    /// The other end of what is chosen.
    anchor: usize,
    copied: Option<Intention>,
    done: Vec<Kept>,
    undone: Vec<Kept>,
}

impl Passage {
    /// A passage to begin with: one straight quarter, on the middle line of the instrument's usual clef.
    pub fn begun(instrument: &str) -> Result<Self, PlanFault> {
        let clef = Clef::usual(instrument);
        let (letter, octave) = match clef {
            Clef::Treble => ('B', 4),
            Clef::Alto => ('C', 4),
            Clef::Tenor => ('A', 3),
            Clef::Bass => ('D', 3),
        };
        let pitch =
            Spelling::new(letter, 0, octave).map_err(|fault| PlanFault::Head(fault.to_string()))?;
        let pace = Pace { bpm: 60.0, unit: BeatUnit::Quarter, free: false };
        let meter = Meter { beats: 4, of: BeatUnit::Quarter };
        let whole = Beats::new(1, 1).unwrap_or(Beats::ZERO);
        let at = Place { bar: 1, beat: Beats::ZERO };
        let note = PlanNote::plain(at, whole, Pitch::Single(pitch));
        Self::new("", instrument, (pace, meter, clef), vec![note])
    }
}

impl Editor {
    /// Goes to the first note.
    pub fn new(passage: Passage) -> Self {
        Self { passage, cursor: 0, anchor: 0, copied: None, done: Vec::new(), undone: Vec::new() }
    }

    /// The passage as it stands.
    pub fn passage(&self) -> &Passage {
        &self.passage
    }

    /// Number of the note one is at.
    pub fn cursor(&self) -> usize {
        self.cursor
    }

    /// What was copied for the brush.
    pub fn copied(&self) -> Option<Intention> {
        self.copied
    }

    /// Numbers of the chosen notes, with what is tied to them: at least the one one is at.
    pub fn chosen(&self) -> Range<usize> {
        let (first, last) = (self.cursor.min(self.anchor), self.cursor.max(self.anchor));
        first..end_of(self.passage.notes(), last)
    }

    /// Whether there is something to take back.
    pub fn changed(&self) -> bool {
        !self.done.is_empty()
    }

    /// Makes a change, or says why it cannot be made; then nothing has changed.
    pub fn apply(&mut self, edit: &Edit) -> Result<(), EditFault> {
        match edit {
            Edit::Undo => {
                let kept = self.done.pop().ok_or(EditFault::NothingBack)?;
                self.undone.push(self.kept());
                self.return_to(kept);
                return Ok(());
            }
            Edit::Redo => {
                let kept = self.undone.pop().ok_or(EditFault::NothingAgain)?;
                self.done.push(self.kept());
                self.return_to(kept);
                return Ok(());
            }
            _ => {}
        }
        let before = self.kept();
        self.change(edit)?;
        if self.passage != before.passage {
            self.undone.clear();
            self.done.push(before);
            let mut notes: usize = self.done.iter().map(|kept| kept.passage.notes().len()).sum();
            while self.done.len() > MOST_STEPS || (notes > MOST_NOTES_KEPT && self.done.len() > 1) {
                notes -= self.done.remove(0).passage.notes().len();
            }
        }
        Ok(())
    }

    fn kept(&self) -> Kept {
        Kept { passage: self.passage.clone(), cursor: self.cursor, anchor: self.anchor }
    }

    fn return_to(&mut self, kept: Kept) {
        (self.passage, self.cursor, self.anchor) = (kept.passage, kept.cursor, kept.anchor);
    }

    fn change(&mut self, edit: &Edit) -> Result<(), EditFault> {
        match edit {
            Edit::Go { to, extend } => {
                self.go(*to, *extend);
                Ok(())
            }
            Edit::InsertBefore => self.insert(self.cursor),
            Edit::InsertAfter => self.insert(end_of(self.passage.notes(), self.cursor)),
            Edit::Delete => self.delete(),
            Edit::Rest => self.rest(),
            Edit::Move(by) => {
                let key = self.passage.key;
                self.each(|note| {
                    note.pitch = pitches::moved(note.pitch, *by, key).ok_or(EditFault::NoPitch)?;
                    Ok(())
                })
            }
            Edit::Pitch(pitch) => self.each(|note| {
                note.pitch = *pitch;
                Ok(())
            }),
            Edit::Longer => self.lengths(|beats| next_length(beats, true)),
            Edit::Shorter => self.lengths(|beats| next_length(beats, false)),
            Edit::Length(beats) => self.lengths(|_| Some(*beats)),
            Edit::Slur => self.slur(),
            Edit::Tie => self.tie(),
            Edit::Finger(finger) => self.heads(|note| {
                note.finger = *finger;
                if note.open() {
                    note.intention = Intention::Straight;
                }
            }),
            Edit::OnString(string) => self.heads(|note| note.string.clone_from(string)),
            Edit::Dynamic(dynamic) => self.heads(|note| note.dynamic = *dynamic),
            Edit::Intend(intention) => self.intend(|_| Ok(*intention)),
            Edit::Width(at, width) => self.intend(|old| Ok(contour::with_width(old, *at, *width))),
            Edit::Rate(at, rate) => self.intend(|old| contour::with_rate(old, *at, *rate)),
            Edit::RateBy(by) => self.intend(|old| contour::rate_by(old, *by)),
            Edit::WidthBy(by) => self.intend(|old| Ok(contour::width_by(old, *by))),
            Edit::PeakAt(peak_at) => self.intend(|old| contour::with_peak(old, |_| *peak_at)),
            Edit::PeakBy(by) => self.intend(|old| contour::with_peak(old, |at| at + by)),
            Edit::Copy => {
                self.copied = Some(self.passage.notes()[self.cursor].intention);
                Ok(())
            }
            Edit::Brush => {
                let copied = self.copied.ok_or(EditFault::NothingCopied)?;
                self.intend(|_| Ok(copied))
            }
            Edit::IntendAll(intentions) => self.intend_all(intentions),
            Edit::BarLine => self.bar_line(),
            _ => self.head(edit),
        }
    }

    fn go(&mut self, to: Go, extend: bool) {
        let notes = self.passage.notes();
        let to = match to {
            Go::Back => self.cursor.saturating_sub(1),
            Go::On => match end_of(notes, self.cursor) {
                end if end < notes.len() => end,
                _ => self.cursor,
            },
            Go::First => 0,
            Go::Last => notes.len() - 1,
            Go::To(note) => note.min(notes.len() - 1),
        };
        self.cursor = head_of(notes, to);
        if !extend {
            self.anchor = self.cursor;
        }
    }

    /// Changes what is chosen, but neither lengths nor places.
    fn each(
        &mut self,
        mut change: impl FnMut(&mut PlanNote) -> Result<(), EditFault>,
    ) -> Result<(), EditFault> {
        let mut notes = self.passage.notes().to_vec();
        notes[self.chosen()].iter_mut().try_for_each(&mut change)?;
        mended(&mut notes);
        self.put(notes)
    }

    /// Changes the chosen notes that sound; what is tied to them goes with them.
    fn heads(&mut self, mut change: impl FnMut(&mut PlanNote)) -> Result<(), EditFault> {
        let mut notes = self.passage.notes().to_vec();
        let chosen = notes[self.chosen()].iter_mut();
        chosen.filter(|note| note.pitch != Pitch::Rest && !note.tie).for_each(&mut change);
        mended(&mut notes);
        self.put(notes)
    }

    /// Gives every chosen note that can have a vibrato another one.
    fn intend(
        &mut self,
        mut new: impl FnMut(Intention) -> Result<Intention, EditFault>,
    ) -> Result<(), EditFault> {
        let mut notes = self.passage.notes().to_vec();
        let mut any = Err(EditFault::NoVibrato);
        for note in &mut notes[self.chosen()] {
            if note.pitch == Pitch::Rest || note.open() || note.tie {
                continue;
            }
            note.intention = new(note.intention)?;
            any = Ok(());
        }
        any?;
        mended(&mut notes);
        self.put(notes)
    }

    fn intend_all(&mut self, intentions: &[Option<Intention>]) -> Result<(), EditFault> {
        let mut notes = self.passage.notes().to_vec();
        for (note, intention) in notes.iter_mut().zip(intentions) {
            if let Some(intention) = intention.filter(|_| note.pitch != Pitch::Rest && !note.open())
            {
                note.intention = intention;
            }
        }
        mended(&mut notes);
        self.put(notes)
    }

    fn put(&mut self, notes: Vec<PlanNote>) -> Result<(), EditFault> {
        if notes.iter().all(|note| note.pitch == Pitch::Rest) {
            return Err(EditFault::LastNote);
        }
        self.passage = self.passage.clone().with_notes(notes)?;
        Ok(())
    }

    /// Changes lengths, or which notes there are, and lays them into bars anew. `change` is given the notes and the numbers
    /// of the one one is at and of the other end of what is chosen, and may move these.
    fn lay(
        &mut self,
        change: impl FnOnce(&mut Vec<PlanNote>, [&mut usize; 2]) -> Result<(), EditFault>,
    ) -> Result<(), EditFault> {
        let bars = bars::bars(&self.passage).ok_or(EditFault::NoBars)?;
        self.lay_into(&bars, change)
    }

    fn lay_into(
        &mut self,
        bars: &[bars::Bar],
        change: impl FnOnce(&mut Vec<PlanNote>, [&mut usize; 2]) -> Result<(), EditFault>,
    ) -> Result<(), EditFault> {
        let (mut notes, now) = bars::in_one_piece(self.passage.notes()).ok_or(EditFault::NoBars)?;
        let (mut cursor, mut anchor) = (now[self.cursor], now[self.anchor]);
        change(&mut notes, [&mut cursor, &mut anchor])?;
        mended(&mut notes);
        if notes.iter().all(|note| note.pitch == Pitch::Rest) {
            return Err(EditFault::LastNote);
        }
        let (notes, now) = bars::laid(&self.passage, bars, notes).ok_or(EditFault::NoBars)?;
        let last = now.len() - 1;
        let at = |note: usize| head_of(&notes, now[note.min(last)]);
        (cursor, anchor) = (at(cursor), at(anchor));
        self.put(notes)?;
        (self.cursor, self.anchor) = (cursor, anchor);
        Ok(())
    }

    /// A note like the one one is at, before the note of this number.
    fn insert(&mut self, at: usize) -> Result<(), EditFault> {
        let behind = at > self.cursor;
        self.lay(|notes, [cursor, anchor]| {
            let own = &notes[*cursor];
            let beats = length(notes, *cursor).ok_or(EditFault::NoLength)?;
            // What was written of the vibrato holds for the notes after it; an open string wrote nothing.
            let stopped = notes[..=*cursor]
                .iter()
                .rev()
                .find(|note| note.pitch != Pitch::Rest && !note.open());
            let intention = stopped.map_or_else(Intention::default, |note| note.intention);
            let pitch = near_pitch(notes, *cursor);
            let new = PlanNote { intention, ..PlanNote::plain(own.at, beats, pitch) };
            let to = if behind { end_of(notes, *cursor) } else { *cursor };
            notes.insert(to, new);
            (*cursor, *anchor) = (to, to);
            Ok(())
        })
    }

    fn delete(&mut self) -> Result<(), EditFault> {
        self.lay(|notes, [cursor, anchor]| {
            let (first, last) = ((*cursor).min(*anchor), (*cursor).max(*anchor));
            notes.drain(first..end_of(notes, last));
            (*cursor, *anchor) = (first, first);
            Ok(())
        })
    }

    fn rest(&mut self) -> Result<(), EditFault> {
        let chosen = self.chosen();
        let sounds = self.passage.notes()[chosen].iter().any(|note| note.pitch != Pitch::Rest);
        if sounds {
            return self.each(|note| {
                *note = PlanNote::plain(note.at, note.beats, Pitch::Rest);
                Ok(())
            });
        }
        let pitch = near_pitch(self.passage.notes(), self.cursor);
        self.each(|note| {
            note.pitch = pitch;
            Ok(())
        })
    }

    /// Gives each chosen note another length, with what was tied to it.
    fn lengths(&mut self, new: impl Fn(Beats) -> Option<Beats>) -> Result<(), EditFault> {
        self.lay(|notes, [cursor, anchor]| {
            let mut at = (*cursor).min(*anchor);
            let mut left = heads_in(notes, at..=(*cursor).max(*anchor));
            while left > 0 {
                let end = end_of(notes, at);
                let beats = length(notes, at).and_then(&new).ok_or(EditFault::NoLength)?;
                notes[at].beats = beats;
                notes.drain(at + 1..end);
                for place in [&mut *cursor, &mut *anchor] {
                    if *place > at {
                        *place -= end - at - 1;
                    }
                }
                (at, left) = (at + 1, left - 1);
            }
            Ok(())
        })
    }

    fn slur(&mut self) -> Result<(), EditFault> {
        let chosen = self.chosen();
        let mut notes = self.passage.notes().to_vec();
        let can = |notes: &[PlanNote], at: usize| {
            at > 0
                && !notes[at].tie
                && [at - 1, at].iter().all(|at| notes[*at].pitch != Pitch::Rest)
        };
        let several = heads_in(&notes, chosen.start..=chosen.end - 1) > 1;
        let first = chosen.start + usize::from(several);
        let heads: Vec<usize> = (first..chosen.end).filter(|at| can(&notes, *at)).collect();
        if heads.is_empty() {
            return Err(EditFault::NoSlur);
        }
        let slur = !heads.iter().all(|at| notes[*at].slur);
        heads.into_iter().for_each(|at| notes[at].slur = slur);
        self.put(notes)
    }

    fn tie(&mut self) -> Result<(), EditFault> {
        self.lay(|notes, [cursor, _]| {
            let end = end_of(notes, *cursor);
            if end > *cursor + 1 {
                notes[*cursor + 1..end].iter_mut().for_each(|note| note.tie = false);
                return Ok(());
            }
            let pitch = notes[*cursor].pitch;
            let next =
                notes.get_mut(end).filter(|next| next.pitch == pitch && pitch != Pitch::Rest);
            let next = next.ok_or(EditFault::NoTie)?;
            (next.tie, next.slur) = (true, false);
            Ok(())
        })
    }

    fn bar_line(&mut self) -> Result<(), EditFault> {
        let notes = self.passage.notes();
        let (first, here) = (notes[0].at, notes[self.cursor].at);
        let within = here.bar == first.bar && here.beat > first.beat;
        let upbeat = within.then(|| here.beat.minus(first.beat)).flatten();
        let upbeat = upbeat.ok_or(EditFault::NoUpbeat)?;
        let bars = bars::with_upbeat(&self.passage, upbeat).ok_or(EditFault::NoBars)?;
        self.lay_into(&bars, |_, _| Ok(()))
    }

    /// Changes the head.
    fn head(&mut self, edit: &Edit) -> Result<(), EditFault> {
        let mut passage = self.passage.clone();
        match edit {
            Edit::Title(title) => passage.title.clone_from(title),
            Edit::Instrument(instrument) => passage.instrument.clone_from(instrument),
            Edit::Pace(pace) => passage.pace = *pace,
            Edit::Key(key) => passage.key = *key,
            Edit::Clef(clef) => passage.clef = *clef,
            Edit::Meter(meter) => return self.meter(*meter),
            _ => {}
        }
        match passage.head_fault() {
            Some(fault) => Err(PlanFault::Head(fault).into()),
            None => {
                self.passage = passage;
                Ok(())
            }
        }
    }

    /// Another meter: what sounds is as long as before, counted in its beats.
    fn meter(&mut self, meter: Meter) -> Result<(), EditFault> {
        let before = self.passage.clone();
        let was = before.meter.of;
        let mut passage = before.clone();
        passage.meter = meter;
        if let Some(fault) = passage.head_fault() {
            return Err(PlanFault::Head(fault).into());
        }
        let counted = |beats: Beats| beats.counted(was, meter.of);
        let notes = passage.notes().iter().map(|note| {
            let at = Place { beat: counted(note.at.beat)?, ..note.at };
            Some(PlanNote { at, beats: counted(note.beats)?, ..note.clone() })
        });
        let notes: Option<Vec<PlanNote>> = notes.collect();
        passage = passage.with_notes(notes.ok_or(EditFault::NoBars)?)?;
        let bars = bars::by_meter(&passage).ok_or(EditFault::NoBars)?;
        self.passage = passage;
        let laid = self.lay_into(&bars, |_, _| Ok(()));
        if laid.is_err() {
            self.passage = before;
        }
        laid
    }
}

/// The note that this one is tied to, or itself.
fn head_of(notes: &[PlanNote], at: usize) -> usize {
    (0..=at).rev().find(|at| !notes[*at].tie).unwrap_or(at)
}

/// One behind the last note that is tied to this one.
fn end_of(notes: &[PlanNote], at: usize) -> usize {
    let tied = notes.get(at + 1..).unwrap_or_default().iter().take_while(|note| note.tie);
    at + 1 + tied.count()
}

fn heads_in(notes: &[PlanNote], range: std::ops::RangeInclusive<usize>) -> usize {
    notes[range].iter().filter(|note| !note.tie).count()
}

/// How long a note is with what is tied to it.
fn length(notes: &[PlanNote], at: usize) -> Option<Beats> {
    notes[at..end_of(notes, at)].iter().try_fold(Beats::ZERO, |sum, note| sum.plus(note.beats))
}

/// The pitch of this note; of a rest that of the nearest note before it, or else behind it.
fn near_pitch(notes: &[PlanNote], at: usize) -> Pitch {
    let (before, behind) = notes.split_at(at + 1);
    let mut near = before.iter().rev().chain(behind).map(|note| note.pitch);
    near.find(|pitch| *pitch != Pitch::Rest).unwrap_or(Pitch::Rest)
}

fn next_length(beats: Beats, longer: bool) -> Option<Beats> {
    let all = LENGTHS.iter().filter_map(|(parts, of)| Beats::new(*parts, *of));
    match longer {
        true => all.clone().find(|length| *length > beats),
        false => all.rev().find(|length| *length < beats),
    }
}

/// Takes joins away that have nothing to join, and lets what is tied have the vibrato of its note.
fn mended(notes: &mut [PlanNote]) {
    let mut before = (Pitch::Rest, Intention::Straight);
    for note in notes {
        let joins = before.0 != Pitch::Rest && note.pitch != Pitch::Rest;
        note.slur &= joins;
        note.tie &= joins && before.0 == note.pitch;
        if note.tie {
            note.intention = before.1;
        }
        before = (note.pitch, note.intention);
    }
}
