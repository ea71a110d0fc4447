//! What the Stand knows: plain data. [`Stand::apply`] is the only place it changes.

use super::picture::{Picture, Sounding};
use super::spoken_summary::SpokenSummary;
use crate::shell::Shell;
use crate::shell::action::{About, Action, Command, Heard};
use crate::shell::options::{ZOOMS, Zoom};
use crate::shell::room::Room;
use coach::{
    Against, Answered, Around, Change, Curtain, Ears, OwnNote, Rounds, SinceRest, Slid, Slides,
    Steadiness, Steady, around, just_above,
};
use tuning::{Cents, Hz, Secs, Tuning};
use vibrato::Event;

/// How far the trace of a note without vibrato reaches.
const STRAIGHT_REACH: Cents = Cents(30.0);

/// What a note is measured against.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reference {
    /// Its frequency.
    pub f0: Hz,
    /// Where it comes from.
    pub from: From,
}

/// Where a reference comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum From {
    /// The temperament of the settings.
    Temperament,
    /// Pure fifths from the player's own open string.
    OpenString,
    /// A just interval above the drone.
    Drone,
    /// The player's own straight note.
    Own,
}

/// The first room: play and watch. It listens whichever room is looked at, and stands on the shell, which it tells what
/// it is told itself.
#[derive(Clone, Debug)]
pub struct Stand {
    /// What all rooms stand on.
    pub shell: Shell,
    /// MIDI numbers of the instrument's open strings, from low to high.
    pub(super) strings: Vec<i32>,
    /// Straight practice: vibrato is off, and how true and still a note is comes to the front.
    pub straight: bool,
    /// The ear before the eye.
    pub(super) ears: Ears,
    pub(super) rounds: Rounds,
    /// How long was played since the last rest, in whichever room.
    pub(super) since_rest: SinceRest,
    /// It was told that it is time to rest.
    pub(super) told_of_rest: bool,
    pub(super) steadiness: Steadiness,
    pub(super) slides: Slides,
    /// The straight note taken for a reference.
    pub(super) own: Option<OwnNote>,
    /// What was heard, up to now.
    pub(super) live: Picture,
    /// What is looked at instead while the picture is held.
    pub(super) held: Option<Box<(Picture, Steadiness)>>,
    /// What a screen reader is told, at a calm pace.
    pub(super) spoken_summary: SpokenSummary,
}

impl Stand {
    /// What an action changes on the Stand itself.
    pub(super) fn follow(&mut self, action: &Action) {
        match action {
            Action::Heard(heard) => self.hear(heard),
            Action::Do(command) => self.obey(*command),
            Action::Answer(answer) => {
                self.ears.answer(*answer);
            }
            _ => {}
        }
    }

    fn hear(&mut self, heard: &Heard) {
        match heard {
            Heard::Event(event) => self.hear_event(event),
            Heard::Note(note) => {
                self.rounds.note_ended(note.end);
                self.since_rest.note(note.start, note.end);
                let reference = self.reference(note.midi).f0;
                // A piece of a slide is no note to ask about.
                match self.slides.slid() {
                    Some(slid) if note.start.0 < slid.end.0 => self.ears.slide_ended(),
                    _ => self.ears.note_ended(note, reference),
                }
                self.live.end((**note).clone(), reference);
                if note.straight() {
                    self.shell.tell_about(About::Reference, None);
                }
            }
            Heard::Settled(note) => {
                let reference = self.reference(note.midi).f0;
                self.ears.note_settled(note, reference);
                self.live.settle(note);
            }
            Heard::Level { peak_dbfs, clipped } => self.live.level.take(*peak_dbfs, *clipped),
            Heard::Source(source) if source.is_silent() => {
                self.live.fall_silent();
                let change = self.rounds.break_off();
                self.round_changed(change);
            }
            Heard::Anew => {
                let change = self.rounds.break_off();
                self.round_changed(change);
                self.live = Picture::default();
                self.since_rest.anew();
                self.slides = Slides::default();
                self.ears.anew();
                self.held = None;
            }
            _ => {}
        }
    }

    fn hear_event(&mut self, event: &Event) {
        if let Event::Frame(frame) = event {
            self.slides.push(frame.time, frame.f0, frame.confidence);
        }
        match *event {
            Event::NoteBegan { start, .. } => {
                self.steadiness.begin(start);
                self.ears.note_began();
            }
            Event::Frame(frame) if self.live.sounding != Sounding::Silence => {
                self.steadiness.push(frame.time, frame.f0, frame.confidence);
            }
            _ => {}
        }
        self.live.hear(event, self.shell.options().tuning.a4, self.shell.options().zoom);
        let change = self.rounds.hear(event);
        self.round_changed(change);
    }

    fn round_changed(&mut self, change: Option<Change>) {
        match change {
            Some(Change::Ended { .. }) => {
                self.ears.round_ended();
                self.tell_of_rest();
            }
            Some(Change::Dropped) => self.ears.nothing_began(),
            Some(Change::Began { .. }) | None => {}
        }
    }

    /// Says once, in a room whose findings do not, that it is time to rest.
    fn tell_of_rest(&mut self) {
        let hinted = self.shell.options().hints.rest;
        let words = self.since_rest.time_to_rest().filter(|_| hinted);
        let silent = matches!(self.shell.room, Room::Lesson | Room::Passage);
        match words {
            Some(words) if silent && !self.told_of_rest => {
                self.told_of_rest = true;
                self.shell.tell_about(About::Rest, Some(&format!("{words}.")));
            }
            Some(_) => {}
            None => self.told_of_rest = false,
        }
    }

    fn obey(&mut self, command: Command) {
        match command {
            Command::Hold => {
                self.held = match self.held {
                    Some(_) => None,
                    None => Some(Box::new((self.live.clone(), self.steadiness.clone()))),
                }
            }
            Command::Straight => self.straight = !self.straight,
            Command::TakeReference => self.take_reference(),
            Command::DropReference => (self.own, self.shell.own_string) = (None, None),
            Command::ZoomIn => self.shell.zoom(self.zoom().saturating_sub(1)),
            Command::ZoomOut => self.shell.zoom(self.zoom() + 1),
            Command::Reveal => self.ears.reveal(),
            Command::Close => {
                self.ears.close_answer();
            }
            Command::Answer(place) => {
                if let Curtain::Asking(question) = self.ears.curtain()
                    && let Some(&answer) = coach::answers(question).get(place)
                {
                    self.ears.answer(answer);
                }
            }
            _ => {}
        }
    }

    /// The options changed: what depends on them follows.
    pub(super) fn take_options(&mut self) {
        let options = self.shell.options();
        self.rounds.ends_after = options.take.ends_after;
        self.ears.asks = options.asks;
        self.ears.swing = options.swing;
        self.ears.limits = options.limits;
        if self.ears.showing() != options.showing {
            self.ears.show(options.showing);
        }
        // A file that cannot be read is told where it is chosen; there are no strings then.
        let instrument = options.instrument().ok().flatten();
        let strings = instrument.map(|instrument| instrument.strings);
        self.strings = strings.into_iter().flatten().map(|string| string.midi).collect();
    }

    /// The straight note that ended last becomes the reference; an open string that of all notes. Asked for once more,
    /// without another straight note since, it is none any more.
    fn take_reference(&mut self) {
        let silent = self.live.sounding == Sounding::Silence;
        if self.own.is_some() && silent && !self.can_take_reference() {
            (self.own, self.shell.own_string) = (None, None);
            return;
        }
        let Some(note) = self.live.last.as_ref().filter(|note| note.straight()) else {
            let words = match self.live.sounding {
                Sounding::Silence => "play a note without vibrato first: it becomes the reference",
                _ => "let the note end first: then it can become the reference",
            };
            self.shell.tell_about(About::Reference, Some(words));
            return;
        };
        let own = OwnNote { midi: note.midi, f0: note.f0.value, time: note.end };
        if self.strings.contains(&own.midi) && self.shell.options().against == Against::OpenStrings
        {
            self.shell.own_string = Some(own);
        }
        self.own = Some(own);
    }

    /// Whether a straight note has just been heard that can become the reference, and is not yet.
    pub fn can_take_reference(&self) -> bool {
        let taken = self.own.map(|own| own.time);
        self.live.last.as_ref().is_some_and(|note| note.straight() && Some(note.end) != taken)
    }

    /// The straight note the player took for a reference.
    pub fn own(&self) -> Option<OwnNote> {
        self.own
    }

    /// The open string the player took for a reference of all notes.
    pub fn own_string(&self) -> Option<OwnNote> {
        self.shell.own_string
    }

    /// The tuning of the lines of the trace: the settings', or pure fifths from an open string.
    pub fn lines(&self) -> Tuning {
        self.shell.tuning()
    }

    /// What the note of this MIDI number is measured against.
    pub fn reference(&self, midi: i32) -> Reference {
        if let Some(own) = self.own.filter(|own| own.midi == midi) {
            return Reference { f0: own.f0, from: From::Own };
        }
        let drone = self.shell.options().drone.midi;
        match self.shell.options().against {
            Against::Drone if self.shell.drone_on => Reference {
                f0: just_above(self.shell.options().tuning.frequency(drone), midi - drone),
                from: From::Drone,
            },
            Against::OpenStrings => {
                Reference { f0: self.lines().frequency(midi), from: From::OpenString }
            }
            Against::Equal | Against::Drone => Reference {
                f0: self.shell.options().tuning.frequency(midi),
                from: From::Temperament,
            },
        }
    }

    /// How the vibrato of the last note lies around its reference.
    pub fn around(&self) -> Option<Around> {
        let note = self.picture().last.as_ref()?;
        around(note, self.reference(note.midi).f0)
    }

    /// How true and how still the note is held that sounds now or sounded last.
    pub fn steady(&self) -> Option<Steady> {
        let picture = self.picture();
        let midi = match picture.sounding {
            Sounding::Note(live) => live.midi,
            Sounding::Begun(begun) => begun.midi,
            Sounding::Silence => picture.last.as_ref()?.midi,
        };
        let steadiness = self.held.as_ref().map_or(&self.steadiness, |held| &held.1);
        steadiness.steady(self.reference(midi).f0)
    }

    /// Slides along the string, where nothing was played after them.
    pub fn slid(&self) -> Option<Slid> {
        let slid = self.slides.slid()?;
        let last = self.live.last.as_ref();
        last.is_none_or(|note| note.start.0 < slid.end.0).then_some(slid)
    }

    /// What stands before the measures.
    pub fn curtain(&self) -> Curtain {
        self.ears.curtain()
    }

    /// The measures are to be seen.
    pub fn revealed(&self) -> bool {
        self.ears.curtain() == Curtain::Open
    }

    /// The ear before the eye.
    pub fn ears(&self) -> &Ears {
        &self.ears
    }

    /// The answer given last, with what was measured.
    pub fn answered(&self) -> Option<Answered> {
        self.ears.last()
    }

    /// What is to be looked at: the held picture, or else the live one.
    pub fn picture(&self) -> &Picture {
        self.held.as_ref().map_or(&self.live, |held| &held.0)
    }

    /// The sound itself goes on while the picture is held: level and clipping are read here.
    pub fn live(&self) -> &Picture {
        &self.live
    }

    /// The picture is held.
    pub fn holding(&self) -> bool {
        self.held.is_some()
    }

    /// What a screen reader is told, at a calm pace.
    pub fn spoken_summary(&self) -> &SpokenSummary {
        &self.spoken_summary
    }

    /// How far the trace reaches up and down from its middle line.
    pub fn reach(&self) -> Cents {
        ZOOMS[self.zoom()]
    }

    /// How far it reaches as it is drawn: a note without vibrato is held against what lies near it.
    pub(super) fn drawn_reach(&self) -> Cents {
        if self.without_vibrato() { STRAIGHT_REACH } else { self.reach() }
    }

    /// The note has no vibrato, or vibrato is off: offset and drift stand in the place of the gauges.
    pub fn without_vibrato(&self) -> bool {
        self.straight || self.picture().is_straight()
    }

    fn zoom(&self) -> usize {
        match self.shell.options().zoom {
            Zoom::ByItself => self.picture().zoom(),
            Zoom::Fixed(index) => index.min(ZOOMS.len() - 1),
        }
    }

    /// How much time the trace shows.
    pub fn span(&self) -> Secs {
        self.shell.options().span()
    }

    /// The instant at the right edge of the trace: the newest, or the end of the page where nothing
    /// is to flow.
    pub fn right_edge(&self) -> Secs {
        let newest = self.picture().time.unwrap_or_default();
        if self.shell.options().still {
            let span = self.span().0;
            Secs(((newest.0 / span).floor() + 1.0) * span)
        } else {
            newest
        }
    }
}
