//! What the Stand knows: plain data. [`Stand::apply`] is the only place it changes.

use super::picture::Picture;
use crate::theme::Paper;
use crate::words::Source;
use tuning::{Cents, Naming, Secs, Tuning};
use vibrato::{Event, Note};

/// How far the trace reaches up and down from the middle line, from close to wide.
pub const ZOOMS: [Cents; 5] = [
    Cents(30.0),
    Cents(60.0),
    Cents(130.0),
    Cents(250.0),
    Cents(600.0),
];
const USUAL_ZOOM: usize = 2;

/// What the player did, or what was heard.
#[derive(Clone, Debug, PartialEq)]
pub enum Action {
    /// Something reached the ear.
    Heard(Heard),
    /// Keep the picture as it is, or let it go on.
    Hold,
    /// Turn from light to dark paper and back.
    TurnPaper,
    /// Show fewer cents, larger.
    ZoomIn,
    /// Show more cents, smaller.
    ZoomOut,
    /// Fill the screen, or stop doing so.
    FullScreen,
    /// Leave the demo session, listen to the microphone.
    TakeMicrophone,
    /// Show or hide the list of keys.
    Keys,
}

/// What the listener hands on, in the order of time.
#[derive(Clone, Debug, PartialEq)]
pub enum Heard {
    /// Anything but the end of a note.
    Event(Event),
    /// A note ended with these measures.
    Note(Box<Note>),
    /// How loud the last 50 ms were.
    Level {
        /// The largest sample, in dB below full scale.
        peak_dbfs: f64,
        /// Full scale was reached.
        clipped: bool,
    },
    /// What is listened to, or what keeps it from being so.
    Source(Source),
    /// Another source begins, and time with it: the sheet is empty again.
    Anew,
}

/// The first room: play and watch.
#[derive(Clone, Debug)]
pub struct Stand {
    /// Where the lines of the trace lie.
    pub tuning: Tuning,
    /// How notes are called.
    pub naming: Naming,
    /// The sheet drawn on.
    pub paper: Paper,
    /// Index into [`ZOOMS`].
    zoom: usize,
    /// The list of keys is open.
    pub keys_shown: bool,
    /// The window fills the screen.
    pub full_screen: bool,
    /// What is listened to.
    pub source: Source,
    /// What was heard, up to now.
    live: Picture,
    /// What is looked at instead while the picture is held.
    held: Option<Picture>,
}

impl Stand {
    /// Nothing heard yet.
    pub fn new(tuning: Tuning, naming: Naming) -> Self {
        Self {
            tuning,
            naming,
            paper: Paper::default(),
            zoom: USUAL_ZOOM,
            keys_shown: false,
            full_screen: false,
            source: Source::Opening,
            live: Picture::default(),
            held: None,
        }
    }

    /// The one place where the Stand changes.
    pub fn apply(&mut self, action: Action) {
        match action {
            Action::Heard(Heard::Event(event)) => {
                let reach = self.reach();
                self.live.hear(&event, self.tuning.a4, reach);
            }
            Action::Heard(Heard::Note(note)) => self.live.end(*note),
            Action::Heard(Heard::Level { peak_dbfs, clipped }) => {
                self.live.level.take(peak_dbfs, clipped);
            }
            Action::Heard(Heard::Source(source)) => {
                if source.trouble().is_some() {
                    self.live.fall_silent();
                }
                self.source = source;
            }
            Action::Heard(Heard::Anew) => {
                self.live = Picture::default();
                self.held = None;
            }
            // Which source is listened to is the program's affair; it tells by `Heard::Source`.
            Action::TakeMicrophone => {}
            Action::Hold => {
                self.held = match self.held {
                    Some(_) => None,
                    None => Some(self.live.clone()),
                }
            }
            Action::TurnPaper => self.paper = self.paper.turned(),
            Action::ZoomIn => self.zoom = self.zoom.saturating_sub(1),
            Action::ZoomOut => self.zoom = (self.zoom + 1).min(ZOOMS.len() - 1),
            Action::FullScreen => self.full_screen = !self.full_screen,
            Action::Keys => self.keys_shown = !self.keys_shown,
        }
    }

    /// What is to be looked at: the held picture, or else the live one.
    pub fn picture(&self) -> &Picture {
        self.held.as_ref().unwrap_or(&self.live)
    }

    /// The sound itself goes on while the picture is held: level and clipping are read here.
    pub fn live(&self) -> &Picture {
        &self.live
    }

    /// The picture is held.
    pub fn holding(&self) -> bool {
        self.held.is_some()
    }

    /// How far the trace reaches up and down from its middle line.
    pub fn reach(&self) -> Cents {
        ZOOMS[self.zoom]
    }

    /// How much time the trace shows.
    pub fn span(&self) -> Secs {
        super::picture::SPAN
    }
}
