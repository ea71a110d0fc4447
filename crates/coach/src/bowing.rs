//! Whether what was played was bowed, or was talk, a step, a piano next door: what is not bowed makes no take of itself,
//! no model, no echo and no round.

use tuning::Secs;
use vibrato::Note;

/// On the whole, notes are this unlike a bow where something else was heard: talk lies above 1.2, one slow and wide note that
/// is bowed at 0.83 at most. So many notes tell more: those that are bowed stay below 0.75, also short strokes, and a string
/// that is plucked or struck, note after note, lies above 0.8.
const UNLIKE: f64 = 0.95;
const SEVERAL: u32 = 3;
const SEVERAL_UNLIKE: f64 = 0.78;
/// What sounds so shortly, and no more, is a knock.
const LEAST: Secs = Secs(0.2);
/// Notes are bowed where they are less unlike a bow than this, and so much of them in a row is enough: a note that is played
/// between words. In talk at most 0.6 s sound bowed in a row.
const BOWED: f64 = 0.5;
const IN_A_ROW: Secs = Secs(1.0);

/// Weighs the notes of a stretch of playing, one after the other.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Bowing {
    notes: u32,
    secs: f64,
    /// How unlike a bow the notes were, times their lengths.
    unlike: f64,
    row_secs: f64,
    longest_row_secs: f64,
}

impl Bowing {
    /// A stretch of these notes.
    pub fn of<'a>(notes: impl IntoIterator<Item = &'a Note>) -> Self {
        let mut bowing = Self::default();
        notes.into_iter().for_each(|note| bowing.add(note));
        bowing
    }

    /// Another note was heard.
    pub fn add(&mut self, note: &Note) {
        let secs = note.end.0 - note.start.0;
        let unlike = note.remarks.unlike_bow;
        self.notes += 1;
        self.secs += secs;
        self.unlike += unlike * secs;
        self.row_secs = if unlike < BOWED { self.row_secs + secs } else { 0.0 };
        self.longest_row_secs = self.longest_row_secs.max(self.row_secs);
    }

    /// Whether it was bowed; where nothing was heard yet, nothing speaks against it.
    pub fn is_bowed(&self) -> bool {
        let short = self.secs > 0.0 && self.secs < LEAST.0;
        let most = if self.notes < SEVERAL { UNLIKE } else { SEVERAL_UNLIKE };
        !short && self.unlike <= most * self.secs || self.longest_row_secs >= IN_A_ROW.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use tuning::Hz;

    /// Notes one after the other, each so long and so unlike a bow.
    fn heard(notes: &[(f64, f64)]) -> Bowing {
        let mut bowing = Bowing::default();
        for &(secs, unlike) in notes {
            let mut note = Note::plain(57, Hz(220.0), Secs(1.0), Secs(1.0 + secs));
            note.remarks.unlike_bow = unlike;
            bowing.add(&note);
        }
        bowing
    }

    #[test]
    fn talk_is_not_bowed_and_one_played_note_between_words_is() {
        assert!(heard(&[]).is_bowed(), "nothing speaks against it");
        assert!(heard(&[(0.3, 0.2), (0.3, 0.9), (0.3, 0.4)]).is_bowed());
        assert!(
            !heard(&[(0.3, 0.8); 6]).is_bowed(),
            "each is loudest at once and falls from there"
        );
        assert!(heard(&[(8.0, 0.83)]).is_bowed(), "a slow and wide swing");
        assert!(!heard(&[(0.1, 0.0)]).is_bowed(), "a knock");
        let talk = [(0.2, 2.0), (0.1, 0.1), (0.4, 1.4), (0.2, 2.0), (0.3, 1.8)];
        assert!(!heard(&talk).is_bowed());
        let played = [&talk[..], &[(1.2, 0.1)], &talk].concat();
        assert!(heard(&played).is_bowed());
        let strokes = [&talk[..], &[(0.3, 0.1); 4], &talk].concat();
        assert!(heard(&strokes).is_bowed());
        let apart = [&talk[..], &[(0.3, 0.1)], &talk, &[(0.3, 0.1)], &talk].concat();
        assert!(!heard(&apart).is_bowed());
    }
}
