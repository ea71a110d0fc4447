//! Takes on disk.
//!
//! A journal is a folder; in it a folder for each day, and in that a folder for each take, whose name
//! is the time of its beginning. A take holds `sound.flac`, what was heard, and `take.ron`, its measures
//! and what belongs to them; both can be read without this program. While a take is being played
//! its folder has `.unfinished` at the end of its name; what a crash left so is mended when the journal
//! is opened next. An index makes opening quick, and can be made anew at any time.
//!
//! Beside the days lies `tasks.ron`: the task that each player's last lesson ended with (`Tasks`).
//!
//! One window writes (`Journal`), any number may read (`Shelf`). Knows no device and no window, and
//! starts no thread.

mod context;
mod error;
mod exchange;
mod file_format;
mod filter;
mod flac;
mod folder;
mod index;
mod index_entry;
mod journal;
mod leaving;
mod measured;
mod mending;
mod note_measures;
mod reader;
mod seen_time;
mod source;
mod studio;
mod take;
mod take_file;
mod take_id;
mod take_means;
mod tasks;
mod trend;
mod upkeep;
mod vibrato_measures;
mod zip_import;

pub use context::{Context, Fingering, LessonPart, Pace};
pub use error::JournalError;
pub use exchange::{Differing, Imported, Weighed};
pub use file_format::{
    Answer, Lost, NoteMeasures, PassNote, PassOf, SoundFile, TakeFile, Turn, WrittenLesson,
};
pub use filter::{Filter, Ready};
pub use flac::{FlacWriter, is_decoding};
pub use index_entry::{Ended, Entry, NoteEntry};
pub use journal::{Journal, Opened};
pub use measured::Measured;
pub use reader::Shelf;
pub use source::Exported;
pub use studio::Student;
pub use take::{Kept, TakeWriter};
pub use take_id::TakeId;
pub use take_means::OfNotes;
pub use tasks::{GREETING, GivenTask, Received, Tasks};
pub use trend::{
    Day, NoteGroup, Practised, Split, Trend, Trends, Week, day_of, monday_of, practised,
};
pub use upkeep::{Damage, Forgotten, Label};
pub use vibrato_measures::VibratoMeasures;
