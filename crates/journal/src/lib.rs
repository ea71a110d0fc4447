//! Takes on disk.
//!
//! A journal is a folder; in it a folder for each day, and in that a folder for each take, whose name
//! is the time of its beginning. A take holds `sound.flac`, what was heard, and `take.ron`, its measures
//! and what belongs to them; both can be read without this program. While a take is being played
//! its folder has `.unfinished` at the end of its name; what a crash left so is mended when the journal
//! is opened next.
//!
//! Knows no device and no window, and starts no thread.

mod context;
mod error;
mod flac;
mod shelf;
mod take;
mod written;

pub use context::{Context, TakeId};
pub use error::JournalError;
pub use flac::FlacWriter;
pub use shelf::{Journal, Opened};
pub use take::{Kept, TakeWriter};
pub use written::{Answer, Lost, NoteMeasures, TakeFile};
