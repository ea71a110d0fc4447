//! Units, note names, temperaments and instruments: the ground under all the other crates.

pub mod figure;
mod instrument;
mod pitch_names;
mod temperament;
mod units;

pub use instrument::{Instrument, InstrumentError, SHIPPED_INSTRUMENTS, StringOf, Strings};
pub use pitch_names::{Naming, NoSuchPitch, midi_from_name, pitch_name};
pub use temperament::{A4_RANGE_HZ, Nearest, Temperament, Tuning, TuningError};
pub use units::{Cents, Hz, Secs};
