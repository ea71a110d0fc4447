//! The room in which takes are found again: by day, with their notes, over the weeks, beside each other.

mod action;
mod asking;
mod by_finger;
mod commands;
mod compare;
mod filtering;
mod heading;
mod judge;
mod labels;
mod lines;
mod list;
mod minutes;
mod offered;
mod opened;
mod orders;
mod players;
mod playing;
mod plots;
mod state;
mod take;
mod take_trace;
mod trends;
mod view;
mod wording;

pub use action::{Ask, Half, JournalAction, JudgeAs, Page, Span, Step};
pub(crate) use commands::{LEAPS, ROWS};
pub use opened::{Opened, Played, TraceOf};
pub use orders::{Doing, Found, JournalHeard, JournalOrder, JudgedBy, Judges, Pick, Writing};
pub use state::JournalRoom;
pub use view::journal_ui;
