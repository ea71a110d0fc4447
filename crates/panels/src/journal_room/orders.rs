//! What the program tells the room, and what the room orders of it.

use crate::shell::action::UseAs;
use crate::shell::report::ReportOf;
use coach::plan::Passage;
use coach::{Aim, Drill, Hints};
use journal::{Context, Entry, Label, Student, TakeFile, TakeId, Weighed};
use pitch::Frame;
use std::path::PathBuf;
use std::sync::Arc;
use tuning::Secs;

/// Whether takes may be changed.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub enum Writing {
    /// The journal is being opened.
    #[default]
    Opening,
    /// They may.
    Allowed,
    /// They can only be read, for this reason.
    OnlyReading(String),
}

/// What a take can be judged as.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Judges {
    /// The drills that can be used.
    pub drills: Vec<Drill>,
    /// The passages that can be used, with the names of their files.
    pub passages: Vec<(String, Passage)>,
}

/// What a take is judged by.
#[derive(Clone, Debug, PartialEq)]
pub enum JudgedBy {
    /// The rules of a drill.
    Drill {
        /// The drill.
        drill: Box<Drill>,
        /// Where notes are meant to lie.
        aim: Aim,
        /// What is pointed out beside.
        hints: Hints,
    },
    /// The plan of a passage.
    Passage {
        /// The name of its file.
        name: String,
        /// The plan.
        passage: Box<Passage>,
    },
}

/// What the program's thread tells.
#[derive(Clone, Debug)]
pub enum JournalHeard {
    /// All takes, in the order of time, as they are now.
    Entries {
        /// What is known of them.
        entries: Arc<Vec<Arc<Entry>>>,
        /// Those that cannot be understood, and why.
        unread: Vec<(TakeId, String)>,
    },
    /// Whether they may be changed.
    Writing(Writing),
    /// There is no journal to be read, for this reason.
    NoJournal(String),
    /// All but the sound of a take that was asked for.
    Take {
        /// Which.
        id: TakeId,
        /// What stands in its file.
        file: Arc<TakeFile>,
    },
    /// A take that was asked for cannot be read, for this reason.
    NoTake {
        /// Which.
        id: TakeId,
        /// Why.
        words: String,
    },
    /// The pitch of a take, measured again from its sound.
    Trace {
        /// Which.
        id: TakeId,
        /// In the order of time.
        frames: Vec<Frame>,
    },
    /// Its sound cannot be read, for this reason.
    NoTrace {
        /// Which.
        id: TakeId,
        /// Why.
        words: String,
    },
    /// The sound that is heard now, counted from the start of the take.
    At(Secs),
    /// Nothing is played any more.
    Stopped,
    /// What lies in a place that may be taken in.
    Found(Found),
    /// The studio sheet, as it is now.
    Studio(Vec<Student>),
    /// The player chose this place in the system's dialog.
    Picked(PathBuf),
    /// What takes can be judged as, as it is now.
    Judges(Arc<Judges>),
    /// A recording is this take now, and is to be seen.
    CameIn(TakeId),
    /// Something goes on, and how far it is.
    Doing(Doing),
    /// Something was done.
    Done(String),
    /// Something could not be done.
    Trouble(String),
}

/// What goes on.
#[derive(Clone, Debug, PartialEq)]
pub struct Doing {
    /// In words.
    pub words: String,
    /// The share of it that is done, from 0 to 1.
    pub share: f32,
    /// The player may stop it.
    pub may_stop: bool,
}

/// What lies in a place that may be taken in.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Found {
    /// The place: the folder of a journal, or a zip.
    pub from: PathBuf,
    /// What would become of it.
    pub weighed: Weighed,
}

/// What is chosen in the system's dialog.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Pick {
    /// A zip that is not there yet.
    NewZip,
    /// A zip that is there.
    Zip,
    /// A folder.
    Folder,
    /// Recordings that are to become takes.
    Recordings,
}

/// What the program is to do.
#[derive(Clone, Debug, PartialEq)]
pub enum JournalOrder {
    /// Look at all takes anew.
    Look,
    /// Read this take, and measure its sound.
    Read(TakeId),
    /// The same of one of two takes that are compared: it is read whatever is to be read next.
    ReadToCompare(TakeId),
    /// Mark it as kept for ever, or take the mark away.
    Keep(TakeId, bool),
    /// Say this of it from now on.
    Label(TakeId, Label),
    /// Put it into the system's trash.
    Delete(TakeId),
    /// Delete it for good.
    DeleteForGood(TakeId),
    /// The studio sheet is wanted: a line of each player, and of these, who may have no take yet.
    Studio(Vec<String>),
    /// Copy the takes of a player, or of all, into a new folder or zip.
    Export {
        /// Whose; `None` for all.
        player: Option<String>,
        /// Where to.
        into: PathBuf,
    },
    /// Let the player choose a place in the system's dialog.
    Pick(Pick),
    /// Look what lies in a folder or zip that may be taken in.
    Weigh(PathBuf),
    /// Take in what lies there.
    Import {
        /// Where.
        from: PathBuf,
        /// Takes that are here already, but differ, become as they are there; else they stay as they are here.
        replace: bool,
    },
    /// Make takes of these recordings, and of those in these folders.
    Add {
        /// Files and folders.
        files: Vec<PathBuf>,
        /// What is written with each of these takes.
        context: Box<Context>,
    },
    /// No further recording is to become a take.
    StopAdding,
    /// Delete all takes of a player for good.
    Erase(String),
    /// New takes belong to this player.
    Player(String),
    /// Play this take.
    Play {
        /// Which.
        id: TakeId,
        /// From here on, counted from the start of the take.
        from: Secs,
        /// The part that is played, or that is played again and again.
        part: (Secs, Secs),
        /// Again and again.
        looped: bool,
        /// 1, or 0.5 for half speed at the same pitch.
        speed: f64,
    },
    /// Bring a part of this take into the lesson.
    ToLesson {
        /// Which.
        id: TakeId,
        /// The part, from and to in seconds from the start of the take.
        part: (Secs, Secs),
        /// As what.
        use_as: UseAs,
    },
    /// Judge a part of this take, and keep with it what is found.
    Judge {
        /// Which.
        id: TakeId,
        /// The part, from and to in seconds from the start of the take.
        part: (Secs, Secs),
        /// By what.
        by: Box<JudgedBy>,
    },
    /// Go on from here.
    Seek(Secs),
    /// Play nothing.
    Stop,
    /// A report of this is wanted.
    Report(ReportOf),
}

impl JournalOrder {
    /// It does something, of which it is told how it went; the others only look and listen.
    pub(super) fn changes(&self) -> bool {
        !matches!(
            self,
            Self::Read(_)
                | Self::ReadToCompare(_)
                | Self::Studio(_)
                | Self::Pick(_)
                | Self::Play { .. }
                | Self::Seek(_)
                | Self::Stop
        )
    }
}
