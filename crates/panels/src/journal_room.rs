//! The room in which takes are found again: by day, with their notes, over the weeks, beside each other.

mod asking;
mod compare;
mod filtering;
mod heading;
mod keys;
mod list;
mod minutes;
mod players;
mod plots;
mod said;
mod state;
mod take;
mod take_trace;
mod trends;
mod view;

pub use state::{
    Ask, Found, Half, JournalAction, JournalHeard, JournalOrder, JournalRoom, Opened, Page, Played,
    Span, Step, TraceOf, Writing,
};
pub use view::journal_ui;
