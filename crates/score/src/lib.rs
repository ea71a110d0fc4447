//! Scores that come as MusicXML or MIDI, read into passages: bytes in, notes out. Opens no file.
//!
//! What is read may come from anyone. So sizes, depths and numbers have limits, bytes of a zip are counted as they come
//! out, and what cannot be read is told in words.

mod error;
mod midi;
mod musicxml;
mod mxl;
mod passage;
mod quarters;
mod unfold;
mod written;
mod xml;

pub use error::ScoreError;
pub use midi::Midi;
pub use musicxml::{MusicXml, PartName};
pub use passage::{Choice, PartContents, ReadPassage};
pub use quarters::Quarters;
pub use written::{Bar, Leap, Part, Repeat, Sound, Transposition, Written};
