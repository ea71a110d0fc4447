//! One note of a passage as it is planned.

use std::cmp::Ordering;
use std::fmt;

use serde::{Deserialize, Serialize};
use tuning::{NoSuchPitch, midi_from_name};

use super::intention::Intention;

/// The length that is counted as one beat.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[allow(missing_docs, reason = "the names are those of the trade")]
pub enum BeatUnit {
    Half,
    #[default]
    Quarter,
    Eighth,
}

impl BeatUnit {
    /// The lower figure of a time signature that counts in it.
    pub fn lower_figure(self) -> u32 {
        8 / self.eighths()
    }

    /// How many eighths it is.
    pub fn eighths(self) -> u32 {
        match self {
            Self::Half => 4,
            Self::Quarter => 2,
            Self::Eighth => 1,
        }
    }
}

/// A length in beats, as a whole fraction in its lowest terms.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(try_from = "(u32, u32)", into = "(u32, u32)")]
pub struct Beats {
    parts: u32,
    of: u32,
}

/// The finest and the longest that [`Beats`] hold, so that sums of a whole passage fit.
const FINEST: u32 = 960;
const LONGEST: u32 = 4_000;

impl Beats {
    /// No beat.
    pub const ZERO: Self = Self { parts: 0, of: 1 };

    /// `parts / of` of a beat; `None` where that is no fraction, too fine or too long.
    pub fn new(parts: u32, of: u32) -> Option<Self> {
        Self::lowest(u64::from(parts), u64::from(of))
    }

    /// So many whole beats; `None` where that is too long.
    pub fn whole(beats: u32) -> Option<Self> {
        Self::new(beats, 1)
    }

    fn lowest(parts: u64, of: u64) -> Option<Self> {
        let (mut a, mut b) = (parts, of);
        while b > 0 {
            (a, b) = (b, a % b);
        }
        let (parts, of) = (parts.checked_div(a)?, of.checked_div(a)?);
        let fits = (1..=u64::from(FINEST)).contains(&of) && parts <= u64::from(LONGEST) * of;
        fits.then_some(Self { parts: parts as u32, of: of as u32 })
    }

    /// The sum; `None` where it is too long or too fine.
    pub fn plus(self, other: Self) -> Option<Self> {
        let parts = |a: Self, b: Self| u64::from(a.parts) * u64::from(b.of);
        Self::lowest(
            parts(self, other) + parts(other, self),
            u64::from(self.of) * u64::from(other.of),
        )
    }

    /// The difference; `None` where the other is longer.
    pub fn minus(self, other: Self) -> Option<Self> {
        let parts = |a: Self, b: Self| u64::from(a.parts) * u64::from(b.of);
        let left = parts(self, other).checked_sub(parts(other, self))?;
        Self::lowest(left, u64::from(self.of) * u64::from(other.of))
    }

    /// The same length, given in beats of one kind, in beats of another.
    pub fn counted(self, from: BeatUnit, to: BeatUnit) -> Option<Self> {
        let (from, to) = (from.eighths(), to.eighths());
        Self::lowest(u64::from(self.parts) * u64::from(from), u64::from(self.of) * u64::from(to))
    }

    /// The two numbers of the fraction.
    pub fn fraction(self) -> (u32, u32) {
        (self.parts, self.of)
    }

    /// As a number, for reckoning with time.
    pub fn get(self) -> f64 {
        f64::from(self.parts) / f64::from(self.of)
    }
}

impl fmt::Display for Beats {
    /// As it is typed: 2, 1/2, 1+1/2.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (whole, rest) = (self.parts / self.of, self.parts % self.of);
        match (whole, rest) {
            (_, 0) => write!(f, "{whole}"),
            (0, _) => write!(f, "{rest}/{}", self.of),
            _ => write!(f, "{whole}+{rest}/{}", self.of),
        }
    }
}

impl TryFrom<(u32, u32)> for Beats {
    type Error = String;

    fn try_from((parts, of): (u32, u32)) -> Result<Self, String> {
        Self::new(parts, of).ok_or_else(|| {
            format!("({parts}, {of}) is no length in beats; write a fraction such as (3, 2)")
        })
    }
}

impl From<Beats> for (u32, u32) {
    fn from(beats: Beats) -> Self {
        beats.fraction()
    }
}

impl PartialOrd for Beats {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Beats {
    fn cmp(&self, other: &Self) -> Ordering {
        let parts = |a: &Self, b: &Self| u64::from(a.parts) * u64::from(b.of);
        parts(self, other).cmp(&parts(other, self))
    }
}

/// A pitch as it is spelt on the staff: B♭ is not A♯.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct Spelling {
    /// 0 is C, 6 is B.
    step: u8,
    /// Sharps, or flats below 0; two at most.
    alter: i8,
    octave: i8,
}

/// The seven letters from C, and how many semitones they lie above it.
const STEPS: [(char, i32); 7] =
    [('C', 0), ('D', 2), ('E', 4), ('F', 5), ('G', 7), ('A', 9), ('B', 11)];

impl Spelling {
    /// A pitch by its letter, its sharps (flats below 0) and its octave (C4 is middle C).
    pub fn new(letter: char, alter: i8, octave: i8) -> Result<Self, NoSuchPitch> {
        let sign = if alter < 0 { "b" } else { "#" };
        let name = format!("{letter}{}{octave}", sign.repeat(usize::from(alter.unsigned_abs())));
        Self::named(&name)
    }

    /// A pitch by its name: `C2`, `F#3`, `B♭3`.
    pub fn named(name: &str) -> Result<Self, NoSuchPitch> {
        let name = name.trim();
        midi_from_name(name)?;
        let fault = || NoSuchPitch { given: name.to_owned() };
        let letter = name.chars().next().ok_or_else(fault)?.to_ascii_uppercase();
        let step = STEPS.iter().position(|step| step.0 == letter).ok_or_else(fault)? as u8;
        let alter = name.chars().skip(1).fold(0, |alter, sign| match sign {
            '#' | '♯' => alter + 1,
            'b' | '♭' => alter - 1,
            _ => alter,
        });
        let octave = name[1..].trim_start_matches(['#', '♯', 'b', '♭']);
        Ok(Self { step, alter, octave: octave.parse().map_err(|_| fault())? })
    }

    /// The letter, C to B.
    pub fn letter(self) -> char {
        STEPS[usize::from(self.step)].0
    }

    /// Its sharps, or its flats below 0.
    pub fn alter(self) -> i8 {
        self.alter
    }

    /// Its octave; C4 is middle C.
    pub fn octave(self) -> i8 {
        self.octave
    }

    /// MIDI number (A4 = 69).
    pub fn midi(self) -> i32 {
        12 * (i32::from(self.octave) + 1) + STEPS[usize::from(self.step)].1 + i32::from(self.alter)
    }
}

impl fmt::Display for Spelling {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let sign = if self.alter < 0 { "♭" } else { "♯" };
        let signs = sign.repeat(usize::from(self.alter.unsigned_abs()));
        write!(f, "{}{signs}{}", self.letter(), self.octave)
    }
}

impl TryFrom<String> for Spelling {
    type Error = NoSuchPitch;

    fn try_from(name: String) -> Result<Self, NoSuchPitch> {
        Self::named(&name)
    }
}

impl From<Spelling> for String {
    fn from(spelling: Spelling) -> Self {
        spelling.to_string().replace('♭', "b").replace('♯', "#")
    }
}

/// What sounds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Pitch {
    /// Nothing.
    Rest,
    /// One string.
    Single(Spelling),
    /// Two strings, which are not heard apart: such a note is never judged.
    Double(Spelling, Spelling),
}

/// How loud it is to be.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[allow(missing_docs, reason = "the names are the signs of the trade")]
pub enum Dynamic {
    Ppp,
    Pp,
    P,
    Mp,
    Mf,
    F,
    Ff,
    Fff,
    /// Growing until the next sign.
    Louder,
    /// Fading until the next sign.
    Softer,
}

/// Where in the passage a note begins.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct Place {
    /// Number of its bar.
    pub bar: u32,
    /// Beats of that bar before it.
    pub beat: Beats,
}

/// One note of a passage, or a rest in it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PlanNote {
    /// Where it begins.
    pub at: Place,
    /// How long it is.
    pub beats: Beats,
    /// What sounds.
    pub pitch: Pitch,
    /// It is under one bow with the note before it.
    #[serde(default)]
    pub slur: bool,
    /// It goes on with the note before it, of the same pitch, without a new beginning.
    #[serde(default)]
    pub tie: bool,
    /// The finger, 0 for an open string.
    #[serde(default)]
    pub finger: Option<u8>,
    /// What the string is called.
    #[serde(default)]
    pub string: Option<String>,
    /// How loud, from here on.
    #[serde(default)]
    pub dynamic: Option<Dynamic>,
    /// Small notes before it, which take their time from their neighbours and are not judged.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub grace: Vec<Spelling>,
    /// What vibrato it is to have. A tied note has that of the note it goes on with.
    #[serde(default)]
    pub intention: Intention,
}

impl PlanNote {
    /// A straight note of this pitch in a bow of its own.
    pub fn plain(at: Place, beats: Beats, pitch: Pitch) -> Self {
        Self {
            at,
            beats,
            pitch,
            slur: false,
            tie: false,
            finger: None,
            string: None,
            dynamic: None,
            grace: Vec::new(),
            intention: Intention::Straight,
        }
    }

    /// No finger is on its string.
    pub fn open(&self) -> bool {
        self.finger == Some(0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lengths_are_added_without_loss() {
        let third = Beats::new(1, 3).expect("a triplet");
        let sum = third.plus(third).and_then(|two| two.plus(third));
        assert_eq!(sum, Beats::whole(1));
        assert_eq!(Beats::new(6, 4).map(Beats::fraction), Some((3, 2)));
        assert!(Beats::new(1, 2) < Beats::new(2, 3));
        for (parts, of) in [(1, 0), (0, 0), (1, 7919), (9_000, 2)] {
            assert_eq!(Beats::new(parts, of), None, "{parts}/{of}");
        }
    }

    #[test]
    fn flats_stay_flats_and_sound_as_their_sharps() {
        let flat = Spelling::named("Bb3").expect("a name");
        let sharp = Spelling::new('A', 1, 3).expect("a name");
        assert_eq!((flat.midi(), sharp.midi()), (58, 58));
        assert_ne!(flat, sharp);
        assert_eq!((flat.to_string(), String::from(sharp)), ("B♭3".into(), "A#3".into()));
        assert_eq!(Spelling::named("Cb4").map(Spelling::midi), Ok(59));
        assert!(Spelling::named("H3").is_err() && Spelling::new('C', 3, 4).is_err());
    }
}
