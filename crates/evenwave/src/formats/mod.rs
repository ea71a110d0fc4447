//! How measures are written: one record a note, as JSON, as CSV or as a table to read.

mod comparison;
mod record;
mod round;
mod table;
mod take;

pub use comparison::{COMPARISON_SCHEMA, ComparisonRecord, PairRecord, comparison_lines};
pub(crate) use record::written;
pub use record::{
    LostRecord, NoteRecord, OscillationRecord, SCHEMA, SoundRecord, Values, VibratoRecord,
};
pub(crate) use round::pace_said;
pub use round::{FindingRecord, ROUND_SCHEMA, RoundRecord, TurnRecord, round_lines};
pub use table::{FrameRows, NoteRows, heading, note_lines, sound_lines};
pub use take::{TAKE_SCHEMA, TakeRecord, TakeRows, take_heading, take_line};

#[cfg(test)]
pub(crate) use record::tests as record_tests;
