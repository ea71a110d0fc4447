//! The notes of a take that no plan is known of.

use vibrato::FRAME;

use super::heard::{Heard, frame_at};
use super::places::places;
use crate::plan::PlayedOnce;

/// A note follows under the same bow if no longer a silence lies before it, in frames, and the bow says less than this about
/// its beginning, in dB, so many frames around it.
const AT_ONCE: f64 = 12.0;
const BOW_DB: f64 = 3.0;
const AROUND: usize = 8;

/// The notes that were heard, in order of time; a new bow on one pitch begins another.
pub fn played_once(heard: &mut Heard) -> Vec<PlayedOnce> {
    heard.settle();
    let places = places(heard, 0..heard.len() + 1);
    let mut row: Vec<PlayedOnce> = Vec::new();
    for note in heard.notes() {
        let mut start = note.start;
        for end in note.rebows.iter().copied().chain([note.end]) {
            row.push(PlayedOnce { start, end, midi: note.midi, slur: false });
            start = end;
        }
    }
    for i in 1..row.len() {
        let (before, note) = (row[i - 1], row[i]);
        let at = frame_at(note.start);
        let first = places.partition_point(|place| place.frame + AROUND < at);
        let near = places[first..].iter().take_while(|place| place.frame <= at + AROUND);
        let sign_db = near.map(|place| place.sign_db).fold(0.0, f64::max);
        let at_once = note.start.get() - before.end.get() < AT_ONCE * FRAME.get();
        row[i].slur = at_once && note.midi != before.midi && sign_db < BOW_DB;
    }
    row
}
