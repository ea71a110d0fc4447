//! Notes that come one behind the other in time, laid into bars.

use super::note::{Beats, Pitch, Place, PlanNote};
use super::passage::Meter;

/// Parts of a beat that times are snapped to: halves, thirds and quarters of a beat all lie on them.
pub const TWELFTHS: u32 = 12;

/// A note in twelfths of a beat from the start of the first bar.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Laid {
    /// Where it begins.
    pub from: u32,
    /// Where it ends, after `from`.
    pub to: u32,
    /// What sounds.
    pub pitch: Pitch,
}

/// Notes in bars from bar 1, with rests between them; a note that crosses a bar line is tied. They come one behind the other,
/// and none begins before the one before it has ended.
pub fn in_bars(meter: Meter, row: &[Laid]) -> Vec<PlanNote> {
    let bar = meter.beats.max(1) * TWELFTHS;
    let mut notes = Vec::new();
    let mut at = 0;
    for laid in row.iter().filter(|laid| laid.from < laid.to) {
        stretch(bar, at, laid.from, Pitch::Rest, &mut notes);
        stretch(bar, laid.from.max(at), laid.to, laid.pitch, &mut notes);
        at = at.max(laid.to);
    }
    stretch(bar, at, at.next_multiple_of(bar), Pitch::Rest, &mut notes);
    notes
}

/// One pitch from one time to another, parted at bar lines.
fn stretch(bar: u32, from: u32, to: u32, pitch: Pitch, notes: &mut Vec<PlanNote>) {
    let mut at = from;
    while at < to {
        let end = to.min((at / bar + 1) * bar);
        let lengths = Beats::new(at % bar, TWELFTHS).zip(Beats::new(end - at, TWELFTHS));
        if let Some((beat, beats)) = lengths {
            let mut note = PlanNote::plain(Place { bar: at / bar + 1, beat }, beats, pitch);
            note.tie = at > from && pitch != Pitch::Rest;
            notes.push(note);
        }
        at = end;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::{BeatUnit, Spelling};

    #[test]
    fn a_note_over_a_bar_line_is_tied_and_gaps_are_rests() {
        let pitch = Pitch::Single(Spelling::named("C4").expect("a name"));
        let meter = Meter { beats: 3, of: BeatUnit::Quarter };
        let row = [Laid { from: 18, to: 42, pitch }, Laid { from: 48, to: 52, pitch }];
        let notes = in_bars(meter, &row);
        let shown: Vec<String> = notes
            .iter()
            .map(|note| {
                let sounds = if note.pitch == Pitch::Rest { "rest" } else { "C4" };
                format!("{} {} {sounds} {} {}", note.at.bar, note.at.beat, note.beats, note.tie)
            })
            .collect();
        assert_eq!(
            shown,
            [
                "1 0 rest 1+1/2 false",
                "1 1+1/2 C4 1+1/2 false",
                "2 0 C4 1/2 true",
                "2 1/2 rest 1/2 false",
                "2 1 C4 1/3 false",
                "2 1+1/3 rest 1+2/3 false",
            ]
        );
    }
}
