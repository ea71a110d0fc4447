//! What can be measured, and a set of measures, each by what it is of. What else is said of each measure stands in
//! its row, in `rows.rs`.

use crate::measure::Measure;

/// What is measured.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Quantity {
    /// Mean pitch, over whole oscillations where there are any.
    F0,
    /// The same as a distance from the note's reference.
    Offset,
    /// Mean level.
    Level,
    /// Mean confidence of the frames, 0 to 1.
    Confidence,
    /// Standard deviation of the pitch around its mean: how still a straight note is.
    Unsteadiness,
    /// How fast the pitch rises where it glides.
    Glide,
    /// Oscillations per second.
    #[default]
    Rate,
    /// Crest to trough, peak to peak.
    Width,
    /// Mean pitch over whole oscillations, against the note's reference.
    Centre,
    /// Cycle-to-cycle standard deviation over mean of the period.
    RateSpread,
    /// Cycle-to-cycle standard deviation over mean of the width.
    WidthSpread,
    /// Share of the motion's power outside its fundamental: 0 is a sine, a perfectly round oscillation.
    OutOfRound,
    /// Share of an oscillation that goes up, from trough to crest: 50 % is as long up as down.
    TimeUp,
    /// Change of the centre from the first third of the note to the last.
    Drift,
    /// From the start of the note to the start of its first oscillation.
    Onset,
    /// How far the width grows from the first oscillation to the last, of its mean.
    Growth,
    /// How far the rate grows from the first oscillation to the last, of its mean.
    RateGrowth,
    /// By how much the width was widened, because a room's late sound narrows it as it is heard.
    Widened,
    /// How far the direct sound lies above the late sound of the room, where a note was looked at again.
    DirectSound,
    /// How far the finger goes along the string from trough to crest, where it is known which instrument is played.
    Travel,
    /// Time without motion at the change from one note to the next. It stays the last ([`Quantity::COUNT`]).
    Gap,
}

impl Quantity {
    /// How many there are.
    pub const COUNT: usize = Self::Gap as usize + 1;
}

/// Some measures, each by what it is of.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Measures([Option<Measure<f64>>; Quantity::COUNT]);

impl Measures {
    /// A measure; `None` where it is not known.
    pub fn get(&self, quantity: Quantity) -> Option<Measure<f64>> {
        self.0[quantity as usize]
    }

    /// Sets a measure, or forgets it.
    pub fn set(&mut self, quantity: Quantity, measure: Option<Measure<f64>>) {
        self.0[quantity as usize] = measure;
    }

    /// The same with one more.
    #[must_use]
    pub fn with(mut self, quantity: Quantity, value: f64, se: Option<f64>) -> Self {
        self.set(quantity, Some(Measure { value, se }));
        self
    }
}

impl FromIterator<(Quantity, Option<Measure<f64>>)> for Measures {
    fn from_iter<I: IntoIterator<Item = (Quantity, Option<Measure<f64>>)>>(all: I) -> Self {
        let mut measures = Self::default();
        for (quantity, measure) in all {
            measures.set(quantity, measure);
        }
        measures
    }
}
