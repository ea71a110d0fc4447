//! What all rooms share: plain data. [`Shell::apply`] is the only place it changes.

use super::action::{About, Action, Command, Devices, Figures, Heard, Overlay, Take};
use super::manual::Manual;
use super::options::{Options, SPANS, ZOOMS, Zoom};
use super::place::Place;
use super::report::{Report, ReportState};
use super::room::Room;
use super::source::Source;
use coach::{Against, Aim, OwnNote};
use std::collections::BTreeMap;
use tuning::{Naming, Secs, Temperament, Tuning};
use vibrato::Event;

/// So long a word stands, unless it is closed before.
const TOLD_FOR: Secs = Secs(20.0);

/// The frame of the window: what is set, which room is looked at, what lies over it, what the program tells. Each room
/// stands on it.
#[derive(Clone, Debug)]
pub struct Shell {
    options: Options,
    /// The room of the window that is looked at.
    pub room: Room,
    /// Which sheet lies over it.
    pub overlay: Option<Overlay>,
    /// Since when the first of the words has stood there, in the time of the sound.
    told_since: Option<Secs>,
    /// The window fills the screen.
    pub full_screen: bool,
    /// The open string the player took for a reference of all notes.
    pub own_string: Option<OwnNote>,
    /// The drone sounds.
    pub drone_on: bool,
    /// The metronome beats.
    pub beat_on: bool,
    /// Place in the bar of the last beat, from 0, and how many beats there were.
    pub beat: Option<(u32, u64)>,
    /// What is listened to.
    pub source: Source,
    /// How loud the room is beside the instrument.
    pub place: Place,
    /// What the writer of takes told last.
    take: Take,
    /// So many takes did not sound bowed and can be brought back.
    pub aside: usize,
    /// What is wrong with the loudspeaker.
    pub loudspeaker: Option<String>,
    /// The devices that can be chosen, once they are known.
    pub devices: Option<Devices>,
    /// What the player has not yet been told.
    pub words: Vec<String>,
    /// Those of them that go with their cause.
    of_causes: Vec<(About, String)>,
    /// What drills are called, by the names of their files.
    drill_titles: BTreeMap<String, String>,
    /// The manual, and where it is read.
    pub manual: Manual,
    /// The report that is wanted, or was last.
    pub report: Option<Report>,
    /// How late the picture is; `None` while that is not asked for.
    pub figures: Option<Figures>,
}

impl Shell {
    /// The tuning that notes are held against: the settings', or pure fifths from an open string.
    pub fn tuning(&self) -> Tuning {
        let tuning = self.options.tuning;
        match (self.options.against, self.own_string) {
            (Against::OpenStrings, Some(own)) => own.pure_fifths(&tuning),
            (Against::OpenStrings, None) => {
                Tuning { temperament: Temperament::PureFifths, ..tuning }
            }
            (Against::Equal | Against::Drone, _) => tuning,
        }
    }

    /// Where notes are meant to lie.
    pub fn aim(&self) -> Aim {
        let tuned_to_drone = self.drone_on && self.options.against == Against::Drone;
        Aim {
            on_start: self.options.on_start,
            swing: self.options.swing,
            drone: tuned_to_drone.then_some(self.options.drone.midi),
        }
    }

    /// Nothing told yet.
    pub fn new(options: Options) -> Self {
        Self {
            options,
            room: Room::Stand,
            overlay: None,
            told_since: None,
            full_screen: false,
            own_string: None,
            drone_on: false,
            beat_on: false,
            beat: None,
            source: Source::Opening,
            place: Place::default(),
            take: Take::Off,
            aside: 0,
            loudspeaker: None,
            devices: None,
            words: Vec::new(),
            of_causes: Vec::new(),
            drill_titles: BTreeMap::new(),
            manual: Manual::default(),
            report: None,
            figures: None,
        }
    }

    /// The one place where the shell changes. What concerns the ear and the picture alone is the Stand's.
    pub fn apply(&mut self, action: Action) {
        match action {
            Action::Heard(heard) => self.hear(heard),
            Action::Do(command) => self.obey(command),
            Action::Set(options) => self.options = *options,
            Action::Turn(overlay) => {
                self.overlay = (self.overlay != Some(overlay)).then_some(overlay)
            }
            Action::ManualPage(place) => self.manual.at = place,
            Action::Dismiss => self.dismiss(),
            Action::Report(of) => {
                self.report = Some(Report { of, state: ReportState::Asked });
                self.overlay = Some(Overlay::Report);
            }
            Action::WriteReport => self.report_is(ReportState::Coming),
            Action::OpenReport | Action::Find(_) | Action::Answer(_) => {}
        }
    }

    /// Something the player should know now; what stands there already is not said twice.
    pub(crate) fn tell(&mut self, word: &str) {
        if !self.words.iter().any(|told| told == word) {
            self.words.push(word.to_owned());
        }
    }

    /// The same of something that may change, in place of what was said of it before; `None` where nothing is to be said.
    pub(crate) fn tell_about(&mut self, about: About, word: Option<&str>) {
        let first = self.words.first().cloned();
        let former = self.of_causes.extract_if(.., |(of, _)| *of == about);
        let former: Vec<String> = former.map(|(_, word)| word).collect();
        self.words.retain(|told| Some(told.as_str()) == word || !former.contains(told));
        if self.words.first() != first.as_ref() {
            self.told_since = None;
        }
        if let Some(word) = word {
            self.tell(word);
            self.of_causes.push((about, word.to_owned()));
        }
    }

    fn dismiss(&mut self) {
        if !self.words.is_empty() {
            let word = self.words.remove(0);
            self.of_causes.retain(|(_, told)| *told != word);
        }
        self.told_since = None;
    }

    /// A word closes by itself once it could be read.
    fn close_what_was_read(&mut self, now: Secs) {
        if self.words.is_empty() {
            self.told_since = None;
            return;
        }
        let since = *self.told_since.get_or_insert(now);
        if !(0.0..TOLD_FOR.0).contains(&(now.0 - since.0)) {
            self.dismiss();
        }
    }

    fn hear(&mut self, heard: Heard) {
        match heard {
            Heard::Event(Event::Frame(frame)) => self.close_what_was_read(frame.time),
            Heard::Note(note) | Heard::Settled(note) => self.place.hear(&note),
            Heard::Anew => self.aside = 0,
            Heard::Event(_) | Heard::Level { .. } | Heard::Found(..) => {}
            Heard::Source(source) => self.source = source,
            Heard::Take(take) => self.take = take,
            Heard::Aside(count) => self.aside = count,
            Heard::Beat(place) => {
                let count = self.beat.map_or(0, |(_, count)| count + 1);
                self.beat = Some((place, count));
            }
            Heard::Loudspeaker(words) => self.loudspeaker = words,
            Heard::Devices(devices) => self.devices = Some(devices),
            Heard::Word(word) => self.tell(&word),
            Heard::About(about, word) => self.tell_about(about, word.as_deref()),
            Heard::Drills(titles) => self.drill_titles = titles,
            Heard::Manual(pages) => self.manual.pages = pages,
            Heard::Report(state) => self.report_is(state),
            Heard::Figures(figures) => {
                if self.figures.is_some() {
                    self.figures = Some(figures);
                }
            }
        }
    }

    /// How it stands with the report: told as a word where its sheet does not lie open.
    fn report_is(&mut self, state: ReportState) {
        if self.overlay != Some(Overlay::Report) {
            self.words.extend(state.told());
        }
        if let Some(report) = &mut self.report {
            report.state = state;
        }
    }

    fn obey(&mut self, command: Command) {
        let options = &mut self.options;
        match command {
            // Which source is listened to is the program's affair; it tells by `Heard::Source`.
            Command::TakeMicrophone | Command::Task | Command::BringBack => {}
            // These are the Stand's.
            Command::Hold
            | Command::Straight
            | Command::TakeReference
            | Command::DropReference
            | Command::ZoomIn
            | Command::ZoomOut
            | Command::Reveal
            | Command::Answer(_) => {}
            Command::Room(room) => {
                (self.room, self.overlay) = (room, None);
                // It was asked for on the Stand, and is of no use elsewhere.
                self.tell_about(About::Reference, None);
            }
            Command::Showing => options.showing = options.showing.next(),
            Command::Drone => self.drone_on = !self.drone_on,
            Command::DroneUp => options.drone.midi = (options.drone.midi + 1).min(88),
            Command::DroneDown => options.drone.midi = (options.drone.midi - 1).max(24),
            Command::Beat => {
                self.beat_on = !self.beat_on;
                self.beat = None;
            }
            Command::Take => options.take.kept = !options.take.kept,
            Command::Paper => options.paper = options.paper.turned(),
            Command::ZoomByItself => options.zoom = Zoom::ByItself,
            Command::Span => options.span = (options.span + 1) % SPANS.len(),
            Command::FullScreen => self.full_screen = !self.full_screen,
            Command::Keys => self.apply(Action::Turn(Overlay::Keys)),
            Command::Manual => {
                self.manual.turn_to(self.room);
                self.apply(Action::Turn(Overlay::Manual));
            }
            Command::Settings => self.apply(Action::Turn(Overlay::Settings)),
            Command::Sound => self.apply(Action::Turn(Overlay::Sound)),
            Command::Close if self.overlay.is_none() => self.apply(Action::Dismiss),
            Command::Close => self.overlay = None,
            Command::Figures => {
                self.figures = match self.figures {
                    Some(_) => None,
                    None => Some(Figures::default()),
                }
            }
        }
    }

    /// From now on as many cents are shown as this place among [`ZOOMS`] says, or the widest.
    pub(crate) fn zoom(&mut self, place: usize) {
        self.options.zoom = Zoom::Fixed(place.min(ZOOMS.len() - 1));
    }

    /// All that is set.
    pub fn options(&self) -> &Options {
        &self.options
    }

    /// How notes are called.
    pub fn naming(&self) -> Naming {
        self.options.naming
    }

    /// What the drill of this name is called: the name itself where there is no such drill any more.
    pub fn drill_title<'a>(&'a self, name: &'a str) -> &'a str {
        self.drill_titles.get(name).map_or(name, String::as_str)
    }

    /// How it stands with the take: the next note starts one only if takes are wanted and it is the
    /// microphone that is heard.
    pub fn take(&self) -> &Take {
        let may_start = self.options.take.kept && matches!(self.source, Source::Hearing { .. });
        match &self.take {
            Take::Ready | Take::SetAside if !may_start => &Take::Off,
            take => take,
        }
    }
}
