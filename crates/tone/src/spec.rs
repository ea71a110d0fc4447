//! What to play: plain data, read from and written to RON.

use serde::{Deserialize, Serialize};
use tuning::{Cents, Hz, Secs};

/// The version of [`Spec`] this crate reads and writes.
pub const VERSION: u32 = 1;

/// A sound to be made: what is played, on what, where. Every field but `lines` has a default.
///
/// Same specification, same samples: all chance comes from `seed`, and each part (body, noise,
/// vibrato, room) draws from a stream of its own, so that changing one leaves the others alone.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Spec {
    /// Version of this form: 1.
    #[serde(default = "version")]
    pub version: u32,
    /// Where all chance comes from. Default 1.
    #[serde(default = "seed")]
    pub seed: u64,
    /// Samples per second, 8 000 to 192 000. Default 48 000.
    #[serde(default = "sample_rate_hz")]
    pub sample_rate_hz: u32,
    /// Length of the sound; by default it ends 0.5 s after the last note.
    #[serde(default)]
    pub length: Option<Secs>,
    /// Level of the tone (root mean square while a string is bowed), −80 to 0 dBFS. Default −23.
    #[serde(default = "level_dbfs")]
    pub level_dbfs: f64,
    /// The strings that are bowed, 1 to 4; each plays one note at a time.
    pub lines: Vec<Line>,
    /// The bow.
    #[serde(default)]
    pub bow: Bow,
    /// The resonances of the instrument; `None` gives the bare harmonics. Default: 40 of them.
    #[serde(default = "some_body")]
    pub body: Option<Body>,
    /// The room; by default there is none.
    #[serde(default)]
    pub room: Option<Room>,
    /// Open strings that sound along. Default: none.
    #[serde(default)]
    pub open_strings: Vec<OpenString>,
    /// Mains hum; by default there is none.
    #[serde(default)]
    pub hum: Option<Hum>,
    /// A metronome that is heard along; by default there is none.
    #[serde(default)]
    pub clicks: Option<Clicks>,
    /// Steady white noise of the microphone, −140 to 0 dBFS; by default there is none.
    #[serde(default)]
    pub floor_dbfs: Option<f64>,
    /// Samples beyond this are cut off, −60 to 0 dBFS; by default nothing is cut, and peaks may
    /// exceed full scale.
    #[serde(default)]
    pub clip_dbfs: Option<f64>,
}

/// One string: notes in the order of time that do not overlap.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Line {
    /// Its notes.
    pub notes: Vec<NoteSpec>,
    /// Level against the first line, −60 to 20 dB. Default 0.
    #[serde(default)]
    pub level_db: f64,
}

/// How a note follows the one before it on the same string.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub enum Join {
    /// It has an attack of its own, and the note before it a release.
    #[default]
    Detached,
    /// The bow goes on and the pitch glides; the note must start where the last one ends.
    Legato,
}

/// One note.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct NoteSpec {
    /// Where it starts, from the first sample.
    pub start: Secs,
    /// How long it is bowed, 0.02 to 3 600 s.
    pub length: Secs,
    /// The pitch the finger is put down for, 20 to 4 000 Hz.
    pub f0: Hz,
    /// How it follows the note before it. Default `Detached`.
    #[serde(default)]
    pub join: Join,
    /// How long the pitch glides after a `Legato` join, 0.001 to 0.5 s. Default 0.012 s.
    #[serde(default = "glide")]
    pub glide: Secs,
    /// Rise of the level at the start, 0.001 s up. Default 0.05 s.
    #[serde(default = "attack")]
    pub attack: Secs,
    /// Fall of the level before the end, 0.001 s up. Default 0.04 s.
    #[serde(default = "release")]
    pub release: Secs,
    /// How long the string rings on after the bow has left, as the time to fall by 60 dB; 0 (the
    /// default) is a string that is stopped with the bow.
    #[serde(default)]
    pub ring: Secs,
    /// How far below the bowed note the ringing starts, 0 to 60 dB. Default 10 dB.
    #[serde(default = "ring_drop_db")]
    pub ring_drop_db: f64,
    /// Level against the line's, −60 to 20 dB. Default 0.
    #[serde(default)]
    pub level_db: f64,
    /// Times, from the start of the note, at which the bow changes its direction on it.
    #[serde(default)]
    pub bow_changes: Vec<Secs>,
    /// How far the level dips at a bow change, 0 to 60 dB. Default 14 dB.
    #[serde(default = "dip_db")]
    pub dip_db: f64,
    /// The vibrato; by default the note is straight.
    #[serde(default)]
    pub vibrato: Option<VibratoSpec>,
    /// Steady change of the pitch from the start of the note to its end, −200 to 200 cents. Default 0.
    #[serde(default)]
    pub drift: Cents,
    /// Unintended wandering of the pitch below 3 Hz, root mean square, 0 to 50 cents. Default 0.
    #[serde(default)]
    pub wander: Cents,
}

/// The course of one oscillation from trough to crest and back.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub enum Shape {
    /// A sine.
    #[default]
    Sine,
    /// A sine whose rise takes this share of the cycle, 0.15 to 0.85.
    Skewed(f64),
    /// A sine flattened at crest and trough: `tanh(g · sine)`, g from 0.1 to 10.
    Flattened(f64),
}

/// A factor that holds from some time on; between two points it changes linearly.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Factor {
    /// Time from the start of the note.
    pub time: Secs,
    /// Factor on the width, 0 to 10. Default 1.
    #[serde(default = "one")]
    pub width: f64,
    /// Factor on the rate, 0.1 to 10. Default 1.
    #[serde(default = "one")]
    pub rate: f64,
}

/// The vibrato of a note.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct VibratoSpec {
    /// Oscillations per second, 0.1 to 20 Hz.
    pub rate: Hz,
    /// Crest to trough, 0 to 600 cents.
    pub width: Cents,
    /// The course of one oscillation. Default `Sine`.
    #[serde(default)]
    pub shape: Shape,
    /// Standard deviation over mean of the period from cycle to cycle, 0 to 40 %. Default 0.
    #[serde(default)]
    pub rate_jitter_pct: f64,
    /// Standard deviation over mean of the width from cycle to cycle, 0 to 60 %. Default 0.
    #[serde(default)]
    pub width_jitter_pct: f64,
    /// Time from the start of the note to the first oscillation. Default 0.
    #[serde(default)]
    pub delay: Secs,
    /// Where in its cycle (0 trough, 0.5 crest; below 1) the oscillation is when it sets in; by
    /// default it sets out from the straight pitch. Not together with a delay.
    #[serde(default)]
    pub phase: Option<f64>,
    /// Whether the first motion is upward; otherwise it is downward. Default false.
    #[serde(default)]
    pub upward: bool,
    /// Where the swing lies: −1 all below the note, 0 around it (the default), 1 all above it.
    #[serde(default)]
    pub lean: f64,
    /// How width and rate run through the note, in the order of time. Default: they stay.
    #[serde(default)]
    pub contour: Vec<Factor>,
}

/// The bow on the string.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Bow {
    /// Harmonic `k` has the amplitude `k^-tilt`, 0.3 to 3. Default 1.
    pub tilt: f64,
    /// Standard deviation of the harmonics' levels around that, 0 to 20 dB. Default 2 dB.
    pub level_spread_db: f64,
    /// Standard deviation of the harmonics' phases around those of a sawtooth, 0 to 4 rad. Default 0.3.
    pub phase_spread_rad: f64,
    /// Harmonics fade out below this frequency, 500 to 40 000 Hz, and below 0.45 of the sample
    /// rate. Default 12 000 Hz.
    pub band: Hz,
    /// Power of the tone over the power of the steady bow noise, both as they leave the body, −20 to
    /// 120 dB; `None` for no noise. Default 35 dB. Noise of attacks and bow changes comes on top.
    pub snr_db: Option<f64>,
    /// Share of the noise's power that comes in bursts, one each period, 0 to 1. Default 0.5.
    pub pulsed_share: f64,
    /// The broad part of the noise falls by 6 dB an octave above this, 50 to 40 000 Hz. Default 1 000 Hz.
    pub noise_band: Hz,
    /// The bursts do so above this: they bunch at the low harmonics. Default 800 Hz.
    pub burst_band: Hz,
    /// Noise of attacks and bow changes against the tone, −80 to 0 dB. Default −26 dB.
    pub scratch_db: f64,
}

/// The resonances of the instrument, drawn by chance from the seed.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Body {
    /// How many, 1 to 200, spaced evenly in the logarithm of frequency (with some chance). Default 40.
    pub modes: usize,
    /// The lowest, 20 Hz up. Default 80 Hz.
    pub low: Hz,
    /// The highest. Default 6 000 Hz.
    pub high: Hz,
    /// Least quality factor, 1 up. Default 10.
    pub q_low: f64,
    /// Greatest quality factor, to 200. Default 30.
    pub q_high: f64,
    /// Standard deviation of their gains, 0 to 20 dB. Default 4 dB.
    pub gain_spread_db: f64,
    /// What passes the body without a resonance, against one average resonance, −80 to 20 dB.
    /// Default 0 dB.
    pub direct_db: f64,
}

/// A room: noise with an exponential decay after the direct sound.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Room {
    /// Time in which the tail falls by 60 dB, 0.05 to 10 s.
    pub t60: Secs,
    /// Energy of the direct sound over the energy of the tail between 100 and 4 000 Hz, −30 to 60 dB.
    pub drr_db: f64,
}

/// An open string that sounds along at its own pitch while others are bowed.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct OpenString {
    /// Its pitch, 20 to 4 000 Hz.
    pub f0: Hz,
    /// Its power against the tone's, −90 to 0 dB.
    pub level_db: f64,
}

/// Mains hum: the frequency and its first harmonics, steadily.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Hum {
    /// 40 to 70 Hz.
    pub f0: Hz,
    /// −120 to 0 dBFS.
    pub level_dbfs: f64,
}

/// A metronome in the room.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Clicks {
    /// Beats per minute, 10 to 600.
    pub bpm: f64,
    /// Peak of a click, −120 to 0 dBFS.
    pub peak_dbfs: f64,
}

impl Default for Spec {
    fn default() -> Self {
        Self {
            version: VERSION,
            seed: seed(),
            sample_rate_hz: sample_rate_hz(),
            length: None,
            level_dbfs: level_dbfs(),
            lines: Vec::new(),
            bow: Bow::default(),
            body: some_body(),
            room: None,
            open_strings: Vec::new(),
            hum: None,
            clicks: None,
            floor_dbfs: None,
            clip_dbfs: None,
        }
    }
}

impl Default for Bow {
    fn default() -> Self {
        Self {
            tilt: 1.0,
            level_spread_db: 2.0,
            phase_spread_rad: 0.3,
            band: Hz(12_000.0),
            snr_db: Some(35.0),
            pulsed_share: 0.5,
            noise_band: Hz(1_000.0),
            burst_band: Hz(800.0),
            scratch_db: -26.0,
        }
    }
}

impl Default for Body {
    fn default() -> Self {
        Self {
            modes: 40,
            low: Hz(80.0),
            high: Hz(6_000.0),
            q_low: 10.0,
            q_high: 30.0,
            gain_spread_db: 4.0,
            direct_db: 0.0,
        }
    }
}

impl NoteSpec {
    /// A straight, detached note with everything else at its default.
    pub fn straight(start: Secs, length: Secs, f0: Hz) -> Self {
        Self {
            start,
            length,
            f0,
            join: Join::Detached,
            glide: glide(),
            attack: attack(),
            release: release(),
            ring: Secs(0.0),
            ring_drop_db: ring_drop_db(),
            level_db: 0.0,
            bow_changes: Vec::new(),
            dip_db: dip_db(),
            vibrato: None,
            drift: Cents(0.0),
            wander: Cents(0.0),
        }
    }

    /// The same note with this vibrato.
    pub fn with(mut self, vibrato: VibratoSpec) -> Self {
        self.vibrato = Some(vibrato);
        self
    }

    /// Where the bow leaves it.
    pub fn end(&self) -> Secs {
        Secs(self.start.get() + self.length.get())
    }
}

impl VibratoSpec {
    /// A regular sine of this rate and width that starts with the note.
    pub fn regular(rate: Hz, width: Cents) -> Self {
        Self {
            rate,
            width,
            shape: Shape::Sine,
            rate_jitter_pct: 0.0,
            width_jitter_pct: 0.0,
            delay: Secs(0.0),
            phase: None,
            upward: false,
            lean: 0.0,
            contour: Vec::new(),
        }
    }
}

fn version() -> u32 {
    VERSION
}
fn seed() -> u64 {
    1
}
fn sample_rate_hz() -> u32 {
    48_000
}
fn level_dbfs() -> f64 {
    -23.0
}
fn some_body() -> Option<Body> {
    Some(Body::default())
}
fn glide() -> Secs {
    Secs(0.012)
}
fn attack() -> Secs {
    Secs(0.05)
}
fn release() -> Secs {
    Secs(0.04)
}
fn ring_drop_db() -> f64 {
    10.0
}
fn dip_db() -> f64 {
    14.0
}
fn one() -> f64 {
    1.0
}
