//! How measures are written: one record a note, as JSON, as CSV or as a table to read.

pub(crate) mod cell;
mod comparison;
mod passage;
mod record;
mod round;
mod student;
mod table;
mod take;

pub(crate) use comparison::{ComparisonRecord, comparison_lines};
pub(crate) use passage::{PASSAGE_HEAD, passage_cells, passage_lines};
pub(crate) use record::written;
pub(crate) use record::{LostRecord, NoteRecord, SCHEMA, SoundRecord};
pub(crate) use round::pace_said;
pub(crate) use round::{RoundRecord, round_lines};
pub(crate) use student::{StudentRecord, days_of, student_lines, student_rows};
pub(crate) use table::{FrameRows, NoteRows, frame_row, heading, note_lines, sound_lines};
pub(crate) use take::{TakeRecord, TakeRows, take_heading, take_line};

#[cfg(test)]
pub(crate) use record::tests as record_tests;
