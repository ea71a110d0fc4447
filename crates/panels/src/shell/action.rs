//! What reaches the Stand: what the player did, what was heard, what the program tells.

use crate::shell::manual::ManualPage;
use crate::shell::options::Options;
use crate::shell::report::{ReportOf, ReportState};
use crate::shell::room::Room;
use crate::shell::source::Source;
use coach::Answer;
use journal::TakeId;
use std::collections::BTreeMap;
use std::path::PathBuf;
use tuning::Secs;
use vibrato::{Event, Note};

/// What the player did, or what was heard.
#[derive(Clone, Debug, PartialEq)]
pub enum Action {
    /// Something reached the ear, or the program tells how it stands.
    Heard(Heard),
    /// What a key or a button of the window does.
    Do(Command),
    /// The options are to be these.
    Set(Box<Options>),
    /// What the ear heard, before the eye.
    Answer(Answer),
    /// A sheet is opened, or closed if it was open.
    Turn(Overlay),
    /// Read the page of the manual at this place.
    ManualPage(usize),
    /// What the program said was read.
    Dismiss,
    /// A report of this is wanted: its sheet is opened.
    Report(ReportOf),
    /// It is to be written. The program does it.
    WriteReport,
    /// It is to be opened in a browser. The program does it.
    OpenReport,
    /// This is looked for in the system's own dialog. The program opens it.
    Find(Sought),
}

/// A place that can be typed, or chosen in the system's own dialog.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sought {
    /// The file of an instrument.
    Instrument,
    /// The folder of the takes.
    Takes,
    /// The folder of the reports.
    Reports,
    /// A new file for a task.
    NewTask,
    /// The file of a task.
    Task,
}

/// What a key or a button of the window does.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Command {
    /// Keep the picture as it is, or let it go on.
    Hold,
    /// The next way of showing: live, after the note, after the round.
    Showing,
    /// Show what is hidden, without an answer.
    Reveal,
    /// Give the answer in this place, from 0, to the question that is asked.
    Answer(usize),
    /// Straight practice, or back.
    Straight,
    /// Take the straight note that ended last for a reference.
    TakeReference,
    /// Measure against the temperament again.
    DropReference,
    /// The drone, on or off.
    Drone,
    /// The drone a semitone higher.
    DroneUp,
    /// The drone a semitone lower.
    DroneDown,
    /// The metronome, on or off.
    Beat,
    /// Keep takes, or do not.
    Take,
    /// Keep the last take that did not sound bowed. The program does it.
    BringBack,
    /// As many cents as the motion needs.
    ZoomByItself,
    /// Show fewer cents, larger.
    ZoomIn,
    /// Show more cents, smaller.
    ZoomOut,
    /// Show 4, 8, 16 seconds.
    Span,
    /// Turn from light to dark paper and back.
    Paper,
    /// Fill the screen, or stop doing so.
    FullScreen,
    /// Leave the demo session, listen to the microphone; back where there is none.
    TakeMicrophone,
    /// Play the task that the last lesson ended with, or leave off.
    Task,
    /// Show or hide devices, drone and metronome.
    Sound,
    /// Show or hide all that can be set.
    Settings,
    /// Show or hide the list of keys.
    Keys,
    /// Show or hide the manual.
    Manual,
    /// Close what lies over the Stand.
    Close,
    /// Show or hide how late the picture is and what it costs.
    Figures,
    /// Go to this room.
    Room(Room),
}

/// A sheet that lies over the Stand.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Overlay {
    /// The list of keys.
    Keys,
    /// All that can be set.
    Settings,
    /// Devices, drone, metronome.
    Sound,
    /// A report that is to be written.
    Report,
    /// The manual.
    Manual,
}

/// What the listener and the program hand on, in the order of time.
#[derive(Clone, Debug, PartialEq)]
pub enum Heard {
    /// Anything but the end of a note.
    Event(Event),
    /// A note ended with these measures.
    Note(Box<Note>),
    /// A note that ended a moment ago was looked at again, and has these.
    Settled(Box<Note>),
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
    /// The player chose this place.
    Found(Sought, PathBuf),
    /// How it stands with the take.
    Take(Take),
    /// So many takes did not sound bowed and can be brought back.
    Aside(usize),
    /// A beat of the metronome sounds now: its place in the bar, from 0.
    Beat(u32),
    /// How it stands with the loudspeaker; `None` where all is well.
    Loudspeaker(Option<String>),
    /// The devices that work.
    Devices(Devices),
    /// Something the player should know, such as settings that could not be read.
    Word(String),
    /// The same about something that may change: it takes the place of what was said of it before; `None` where there is
    /// nothing to be said of it any more.
    About(About, Option<String>),
    /// What drills are called, by the names of their files.
    Drills(BTreeMap<String, String>),
    /// The pages of the manual.
    Manual(Vec<ManualPage>),
    /// How late the picture is and what it costs.
    Figures(Figures),
    /// How it stands with the report.
    Report(ReportState),
}

/// What a word may be about, which goes with its cause.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum About {
    /// The straight note that is to become the reference.
    Reference,
    /// The task that stands, or that there is none.
    Task,
    /// Settings that cannot be written.
    Settings,
    /// That it is time to rest.
    Rest,
}

/// What a take of the journal is to be in the lesson.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum UseAs {
    /// What is to be imitated, in place of what was.
    Model,
    /// An answer to the model that stands.
    Echo,
}

/// How it stands with the take.
#[derive(Clone, Debug, Default, PartialEq)]
pub enum Take {
    /// Nothing is kept.
    #[default]
    Off,
    /// The next note starts one.
    Ready,
    /// One is being written.
    Running,
    /// The last one was kept, under this name.
    Kept {
        /// Which it is.
        id: TakeId,
        /// How long it is.
        length: Secs,
    },
    /// What was heard last did not sound bowed: it is not kept unless it is brought back.
    SetAside,
    /// It cannot be written, for this reason.
    Trouble(String),
}

impl Take {
    /// That what was heard last is not kept, and the key that keeps it.
    pub(crate) fn set_aside_words(key: Option<&str>) -> String {
        match key {
            Some(key) => format!("That did not sound bowed. {key} keeps it all the same."),
            None => "That did not sound bowed, and is not kept.".to_owned(),
        }
    }
}

/// A device that can be chosen.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Device {
    /// Its name, as the system has it.
    pub name: String,
    /// What names it for good.
    pub id: String,
    /// How many channels it has.
    pub channels: usize,
}

/// The devices that work.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Devices {
    /// Microphones.
    pub inputs: Vec<Device>,
    /// Loudspeakers.
    pub outputs: Vec<Device>,
}

/// How late the picture is and what it costs, over the last seconds.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Figures {
    /// From the sound of the newest frame to its drawing: the median, in ms.
    pub delay_median_ms: f64,
    /// The longest.
    pub delay_most_ms: f64,
    /// The window's own work on a picture: the 99th percentile, in ms.
    pub work_p99_ms: f64,
    /// Pictures a second.
    pub pictures_per_sec: f64,
}
