//! A part of a score as it is written: bars, and what stands in them.

use coach::plan::{Clef, Dynamic, Key};

use crate::quarters::Quarters;

/// One part: what one player has on the stand.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Part {
    /// What it is called.
    pub name: String,
    /// Its bars, each once, in the order of the page.
    pub bars: Vec<Bar>,
    /// Slurs: the notes at which they begin and end, each as the number of its bar and of its sound in it, from 0.
    pub slurs: Vec<[(usize, usize); 2]>,
    /// What stands in the score and could not be read, in words.
    pub left_out: Vec<String>,
}

/// One bar as it is written.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Bar {
    /// Its number as it stands in the score.
    pub number: String,
    /// It goes on with the bar before it, or is an upbeat: it has no number of its own.
    pub implicit: bool,
    /// How long it is.
    pub length: Option<Quarters>,
    /// A new time from here on: beats, and what one of them is as a share of a whole note.
    pub time: Option<(u32, u32)>,
    /// A new key from here on, as it is written.
    pub key: Option<Key>,
    /// A new clef from here on.
    pub clef: Option<Clef>,
    /// A new pace from here on, in quarters a minute.
    pub pace_bpm: Option<f64>,
    /// How far what sounds lies above what is written, in octaves, steps and semitones beyond these.
    pub transposed: Transposition,
    /// Where repeats lead.
    pub repeat: Repeat,
    /// Notes and rests in the order of the page.
    pub sounds: Vec<Sound>,
}

/// How far what sounds lies above what is written.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Transposition {
    /// Steps of the staff.
    pub steps: i32,
    /// Semitones.
    pub semitones: i32,
}

/// Where repeats lead from a bar, and to it.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Repeat {
    /// A repeat begins with this bar.
    pub begins: bool,
    /// A repeat ends with this bar: it is played so many times in all.
    pub ends: Option<u32>,
    /// The bar belongs to these endings.
    pub endings: Vec<u32>,
    /// A leap that is asked for behind this bar.
    pub leap: Option<Leap>,
    /// A sign in this bar.
    pub segno: bool,
    /// The coda begins with this bar.
    pub coda: bool,
    /// Behind a leap the music ends with this bar.
    pub fine: bool,
    /// Behind a leap the music goes on from this bar to the coda.
    pub to_coda: bool,
}

/// A leap back.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Leap {
    /// To the beginning.
    DaCapo,
    /// To the sign.
    DalSegno,
}

/// A note, a chord or a rest.
#[derive(Clone, Debug, PartialEq)]
pub struct Sound {
    /// How far behind the start of its bar it begins.
    pub at: Quarters,
    /// How long it is; none of a grace note.
    pub length: Quarters,
    /// Its voice.
    pub voice: String,
    /// Its staff, from 1.
    pub staff: u32,
    /// A small note that takes its time from its neighbours.
    pub grace: bool,
    /// A cue: what another part plays.
    pub cue: bool,
    /// What is to sound; none of a rest.
    pub pitches: Vec<Written>,
    /// It has no pitch, and is no rest: a drum.
    pub unpitched: bool,
    /// So many notes, in the time of so many.
    pub tuplet: Option<(u32, u32)>,
    /// The finger.
    pub finger: Option<u8>,
    /// The string, from 1, the highest.
    pub string: Option<u32>,
    /// How loud from here on.
    pub dynamic: Option<Dynamic>,
    /// It goes on under the bow of the note before it in its voice.
    pub slurred: bool,
}

/// A pitch as it is written.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Written {
    /// C to B.
    pub letter: char,
    /// Sharps, flats below 0; some scores write halves.
    pub alter: f64,
    /// C4 is middle C.
    pub octave: i32,
    /// It goes on from the note before it.
    pub tied_from: bool,
    /// The note behind it goes on with it.
    pub tied_on: bool,
}

const STEPS: [(char, i32); 7] =
    [('C', 0), ('D', 2), ('E', 4), ('F', 5), ('G', 7), ('A', 9), ('B', 11)];

impl Written {
    /// MIDI number of the written pitch (A4 = 69), with halves.
    pub fn midi(&self) -> f64 {
        f64::from(12 * (self.octave + 1) + semitones(self.letter)) + self.alter
    }

    /// What sounds where this is written.
    pub fn sounding(&self, by: Transposition) -> Self {
        let step = STEPS.iter().position(|step| step.0 == self.letter).unwrap_or(0) as i32;
        let step = step + by.steps;
        let (letter, _) = STEPS[step.rem_euclid(7) as usize];
        let octave = self.octave + step.div_euclid(7);
        let plain = Self { letter, octave, alter: 0.0, ..*self };
        let alter = self.midi() + f64::from(by.semitones) - plain.midi();
        Self { alter, ..plain }
    }
}

fn semitones(letter: char) -> i32 {
    STEPS.iter().find(|step| step.0 == letter).map_or(0, |step| step.1)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_part_for_a_clarinet_sounds_as_it_is_spelt_a_tone_lower() {
        let written =
            Written { letter: 'C', alter: 0.0, octave: 4, tied_from: false, tied_on: false };
        let sounding = written.sounding(Transposition { steps: -1, semitones: -2 });
        assert_eq!((sounding.letter, sounding.alter, sounding.octave), ('B', -1.0, 3));
        assert_eq!(sounding.midi(), 58.0);
        let up = written.sounding(Transposition { steps: 2, semitones: 3 });
        assert_eq!((up.letter, up.alter, up.octave), ('E', -1.0, 4));
    }
}
