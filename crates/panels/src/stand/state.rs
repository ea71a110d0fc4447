//! What the Stand knows: plain data. [`Stand::apply`] is the only place it changes.

use super::calm::Calm;
use super::picture::{Picture, Sounding};
use crate::shell::action::{Action, Command, Devices, Figures, Heard, Leaf, Take};
use crate::shell::options::{Options, SPANS, ZOOMS, Zoom};
use crate::shell::report::{Report, ReportState};
use crate::shell::rooms::Room;
use crate::shell::words::Source;
use coach::{
    Against, Answered, Around, Change, Curtain, Ears, OwnNote, Rounds, Steadiness, Steady, around,
    just_above,
};
use std::collections::BTreeMap;
use tuning::{Cents, Hz, Naming, Secs, Tuning};
use vibrato::Event;

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

/// The first room: play and watch.
#[derive(Clone, Debug)]
pub struct Stand {
    options: Options,
    /// MIDI numbers of the instrument's open strings, from low to high.
    strings: Vec<i32>,
    /// The room of the window that is looked at; the Stand listens in all of them.
    pub room: Room,
    /// Which sheet lies over it.
    pub leaf: Option<Leaf>,
    /// The window fills the screen.
    pub full_screen: bool,
    /// Straight practice: vibrato is off, and how true and still a note is comes to the front.
    pub straight: bool,
    /// The drone sounds.
    pub drone_on: bool,
    /// The metronome beats.
    pub beat_on: bool,
    /// Place in the bar of the last beat, from 0, and how many beats there were.
    pub beat: Option<(u32, u64)>,
    /// What is listened to.
    pub source: Source,
    /// What the writer of takes told last.
    take: Take,
    /// What is wrong with the loudspeaker.
    pub loudspeaker: Option<String>,
    /// The devices that can be chosen, once they are known.
    pub devices: Option<Devices>,
    /// What the player has not yet been told.
    pub words: Vec<String>,
    /// What drills are called, by the names of their files.
    drill_titles: BTreeMap<String, String>,
    /// The report that is wanted, or was last.
    pub report: Option<Report>,
    /// How late the picture is; `None` while that is not asked for.
    pub figures: Option<Figures>,
    /// The ear before the eye.
    ears: Ears,
    rounds: Rounds,
    steadiness: Steadiness,
    /// The straight note taken for a reference.
    own: Option<OwnNote>,
    /// The open string taken for a reference.
    own_string: Option<OwnNote>,
    /// What was heard, up to now.
    live: Picture,
    /// What is looked at instead while the picture is held.
    held: Option<Box<(Picture, Steadiness)>>,
    /// What a screen reader is told, at a calm pace.
    calm: Calm,
}

impl Stand {
    /// Nothing heard yet.
    pub fn new(options: Options) -> Self {
        let mut stand = Self {
            ears: Ears::default(),
            rounds: Rounds::new(options.take.ends_after),
            strings: Vec::new(),
            room: Room::Stand,
            leaf: None,
            full_screen: false,
            straight: false,
            drone_on: false,
            beat_on: false,
            beat: None,
            source: Source::Opening,
            take: Take::Off,
            loudspeaker: None,
            devices: None,
            words: Vec::new(),
            drill_titles: BTreeMap::new(),
            report: None,
            figures: None,
            steadiness: Steadiness::default(),
            own: None,
            own_string: None,
            live: Picture::default(),
            held: None,
            calm: Calm::default(),
            options,
        };
        stand.ears.show(stand.options.showing);
        stand.take_options();
        stand.calm = Calm::of(&stand);
        stand
    }

    /// What the drill of this name is called: the name itself where there is no such drill any more.
    pub fn drill_title<'a>(&'a self, name: &'a str) -> &'a str {
        self.drill_titles.get(name).map_or(name, String::as_str)
    }

    /// The one place where the Stand changes.
    pub fn apply(&mut self, action: Action) {
        match action {
            Action::Heard(heard) => self.hear(heard),
            Action::Do(command) => self.obey(command),
            Action::Set(options) => {
                self.options = *options;
                self.take_options();
            }
            Action::Answer(answer) => {
                self.ears.answer(answer);
            }
            Action::Turn(leaf) => {
                self.leaf = (self.leaf != Some(leaf)).then_some(leaf);
            }
            Action::Dismiss => {
                if !self.words.is_empty() {
                    self.words.remove(0);
                }
            }
            Action::Report(of) => {
                let state = ReportState::Asked;
                self.report = Some(Report { of, state });
                self.leaf = Some(Leaf::Report);
            }
            Action::WriteReport => self.report_is(ReportState::Coming),
            Action::OpenReport => {}
        }
        if self.calm.is_due(self) {
            self.calm = Calm::of(self);
        }
    }

    fn hear(&mut self, heard: Heard) {
        match heard {
            Heard::Event(event) => self.hear_event(&event),
            Heard::Note(note) => {
                self.rounds.note_ended(note.end);
                let reference = self.reference(note.midi).f0;
                self.ears.note_ended(&note, reference);
                self.live.end(*note, reference);
            }
            Heard::Level { peak_dbfs, clipped } => self.live.level.take(peak_dbfs, clipped),
            Heard::Source(source) => {
                if source.trouble().is_some() {
                    self.live.fall_silent();
                    let change = self.rounds.break_off();
                    self.round_changed(change);
                }
                self.source = source;
            }
            Heard::Anew => {
                let change = self.rounds.break_off();
                self.round_changed(change);
                self.live = Picture::default();
                self.held = None;
            }
            Heard::Take(take) => self.take = take,
            Heard::Beat(place) => {
                let count = self.beat.map_or(0, |(_, count)| count + 1);
                self.beat = Some((place, count));
            }
            Heard::Loudspeaker(words) => self.loudspeaker = words,
            Heard::Devices(devices) => self.devices = Some(devices),
            Heard::Word(word) => self.words.push(word),
            Heard::Drills(titles) => self.drill_titles = titles,
            Heard::Report(state) => self.report_is(state),
            Heard::Figures(figures) => {
                if self.figures.is_some() {
                    self.figures = Some(figures);
                }
            }
        }
    }

    /// Told as a word where its sheet does not lie open.
    fn report_is(&mut self, state: ReportState) {
        if self.leaf != Some(Leaf::Report) {
            self.words.extend(state.told());
        }
        if let Some(report) = &mut self.report {
            report.state = state;
        }
    }

    fn hear_event(&mut self, event: &Event) {
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
        self.live.hear(event, self.options.tuning.a4, self.options.zoom);
        let change = self.rounds.hear(event);
        self.round_changed(change);
    }

    fn round_changed(&mut self, change: Option<Change>) {
        match change {
            Some(Change::Ended { .. }) => self.ears.round_ended(),
            Some(Change::Dropped) => self.ears.nothing_began(),
            Some(Change::Began { .. }) | None => {}
        }
    }

    fn obey(&mut self, command: Command) {
        match command {
            // Which source is listened to is the program's affair; it tells by `Heard::Source`.
            Command::TakeMicrophone | Command::Task => {}
            Command::Room(room) => (self.room, self.leaf) = (room, None),
            Command::Hold => {
                self.held = match self.held {
                    Some(_) => None,
                    None => Some(Box::new((self.live.clone(), self.steadiness.clone()))),
                }
            }
            Command::Showing => {
                self.options.showing = self.options.showing.next();
                self.ears.show(self.options.showing);
            }
            Command::Straight => self.straight = !self.straight,
            Command::TakeReference => self.take_reference(),
            Command::DropReference => (self.own, self.own_string) = (None, None),
            Command::Drone => self.drone_on = !self.drone_on,
            Command::DroneUp => self.options.drone.midi = (self.options.drone.midi + 1).min(88),
            Command::DroneDown => self.options.drone.midi = (self.options.drone.midi - 1).max(24),
            Command::Beat => {
                self.beat_on = !self.beat_on;
                self.beat = None;
            }
            Command::Take => self.options.take.kept = !self.options.take.kept,
            Command::Paper => self.options.paper = self.options.paper.turned(),
            Command::ZoomIn => {
                let zoom = self.zoom().saturating_sub(1);
                self.options.zoom = Zoom::Fixed(zoom);
            }
            Command::ZoomOut => {
                let zoom = (self.zoom() + 1).min(ZOOMS.len() - 1);
                self.options.zoom = Zoom::Fixed(zoom);
            }
            Command::ZoomByItself => self.options.zoom = Zoom::ByItself,
            Command::Span => self.options.span = (self.options.span + 1) % SPANS.len(),
            Command::FullScreen => self.full_screen = !self.full_screen,
            Command::Reveal => self.ears.reveal(),
            Command::Answer(place) => {
                if let Curtain::Asking(question) = self.ears.curtain()
                    && let Some(&answer) = coach::answers(question).get(place)
                {
                    self.ears.answer(answer);
                }
            }
            Command::Keys => self.apply(Action::Turn(Leaf::Keys)),
            Command::Settings => self.apply(Action::Turn(Leaf::Settings)),
            Command::Sound => self.apply(Action::Turn(Leaf::Sound)),
            Command::Close if self.leaf.is_none() => self.apply(Action::Dismiss),
            Command::Close => self.leaf = None,
            Command::Figures => {
                self.figures = match self.figures {
                    Some(_) => None,
                    None => Some(Figures::default()),
                }
            }
        }
    }

    /// The options changed: what depends on them follows.
    fn take_options(&mut self) {
        let options = &self.options;
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

    /// The straight note that ended last becomes the reference; an open string that of all notes.
    fn take_reference(&mut self) {
        let Some(note) = self.live.last.as_ref().filter(|note| note.straight()) else {
            return;
        };
        let own = OwnNote { midi: note.midi, f0: note.f0.value, time: note.end };
        if self.strings.contains(&own.midi) && self.options.against == Against::OpenStrings {
            self.own_string = Some(own);
        }
        self.own = Some(own);
    }

    /// Whether a straight note has just been heard that can become the reference.
    pub fn can_take_reference(&self) -> bool {
        self.live.last.as_ref().is_some_and(|note| note.straight())
    }

    /// The straight note the player took for a reference.
    pub fn own(&self) -> Option<OwnNote> {
        self.own
    }

    /// The open string the player took for a reference of all notes.
    pub fn own_string(&self) -> Option<OwnNote> {
        self.own_string
    }

    /// The tuning of the lines of the trace: the settings', or pure fifths from an open string.
    pub fn lines(&self) -> Tuning {
        let tuning = self.options.tuning;
        match (self.options.against, self.own_string) {
            (Against::OpenStrings, Some(own)) => own.pure_fifths(&tuning),
            (Against::OpenStrings, None) => {
                Tuning { temperament: tuning::Temperament::PureFifths, ..tuning }
            }
            (Against::Equal | Against::Drone, _) => tuning,
        }
    }

    /// What the note of this MIDI number is measured against.
    pub fn reference(&self, midi: i32) -> Reference {
        if let Some(own) = self.own.filter(|own| own.midi == midi) {
            return Reference { f0: own.f0, from: From::Own };
        }
        let drone = self.options.drone.midi;
        match self.options.against {
            Against::Drone if self.drone_on => Reference {
                f0: just_above(self.options.tuning.frequency(drone), midi - drone),
                from: From::Drone,
            },
            Against::OpenStrings => {
                Reference { f0: self.lines().frequency(midi), from: From::OpenString }
            }
            Against::Equal | Against::Drone => {
                Reference { f0: self.options.tuning.frequency(midi), from: From::Temperament }
            }
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

    /// All that is set.
    pub fn options(&self) -> &Options {
        &self.options
    }

    /// How notes are called.
    pub fn naming(&self) -> Naming {
        self.options.naming
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

    /// How it stands with the take: the next note starts one only if takes are wanted and it is the
    /// microphone that is heard.
    pub fn take(&self) -> &Take {
        let may_start = self.options.take.kept && matches!(self.source, Source::Hearing { .. });
        match &self.take {
            Take::Ready if !may_start => &Take::Off,
            take => take,
        }
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
    pub fn calm(&self) -> &Calm {
        &self.calm
    }

    /// How far the trace reaches up and down from its middle line.
    pub fn reach(&self) -> Cents {
        ZOOMS[self.zoom()]
    }

    fn zoom(&self) -> usize {
        match self.options.zoom {
            Zoom::ByItself => self.picture().zoom(),
            Zoom::Fixed(index) => index.min(ZOOMS.len() - 1),
        }
    }

    /// How much time the trace shows.
    pub fn span(&self) -> Secs {
        self.options.span()
    }

    /// The instant at the right edge of the trace: the newest, or the end of the page where nothing
    /// is to flow.
    pub fn right_edge(&self) -> Secs {
        let newest = self.picture().time.unwrap_or_default();
        if self.options.still {
            let span = self.span().0;
            Secs(((newest.0 / span).floor() + 1.0) * span)
        } else {
            newest
        }
    }
}
