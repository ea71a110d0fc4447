//! Units, note names, temperaments and instruments: the ground under all the other crates.

mod units;

pub use units::{Cents, Hz, Secs};
