//! What the player has set: plain data, kept by the program from one day to the next.

use crate::keys::KeyMap;
use crate::theme::Paper;
use coach::{Against, Care, Limits, Showing, Swing};
pub use coach::{Region, TakeOptions};
use tuning::{Cents, Hz, Instrument, InstrumentError, Naming, Secs, Tuning};

/// How large type may be, as a share of the usual size.
pub const TEXT_SCALES: [f32; 7] = [1.0, 1.25, 1.5, 1.75, 2.0, 2.25, 2.5];
/// How much time the trace may show.
pub const SPANS: [Secs; 3] = [Secs(4.0), Secs(8.0), Secs(16.0)];
/// How far the trace may reach up and down from its middle line, from close to wide.
pub const ZOOMS: [Cents; 5] = [
    Cents(30.0),
    Cents(60.0),
    Cents(130.0),
    Cents(250.0),
    Cents(600.0),
];
/// What the metronome may beat, in beats per minute.
pub const BPM: std::ops::RangeInclusive<u32> = coach::BPM.0 as u32..=coach::BPM.1 as u32;
/// How loud the drone may be, in dB below full scale.
pub const DRONE_DB: std::ops::RangeInclusive<f64> = -60.0..=-12.0;
/// Silence that may end a take.
pub const ENDS_AFTER: std::ops::RangeInclusive<f64> = 0.5..=10.0;
/// Sound that may be kept from before the first note of a take.
pub const KEEPS_BEFORE: std::ops::RangeInclusive<f64> = 0.0..=5.0;

/// Days after which the sound of takes may go.
pub const SOUND_DAYS: std::ops::RangeInclusive<u32> = 1..=3_650;

/// On which side of the trace the field stands.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Side {
    /// Left of it.
    Left,
    /// Right of it.
    #[default]
    Right,
}

/// How many cents the trace shows.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Zoom {
    /// As many as the motion needs.
    #[default]
    ByItself,
    /// Always as many; an index into [`ZOOMS`].
    Fixed(usize),
}

/// The bands the player wants to stay in; `None` for no wish.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Wanted {
    /// From the slowest to the fastest rate.
    pub rate: Option<(Hz, Hz)>,
    /// From the least to the greatest width.
    pub width: Option<(Cents, Cents)>,
}

/// The drone. It is never on when the program starts.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DroneOptions {
    /// MIDI number of its note.
    pub midi: i32,
    /// A pure fifth sounds with it.
    pub fifth: bool,
    /// Its level in dB below full scale, within [`DRONE_DB`].
    pub level_db: f64,
}

/// The metronome. It is never on when the program starts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct BeatOptions {
    /// Beats per minute, within [`BPM`].
    pub bpm: u32,
    /// Each so manyth beat is stressed; 1 stresses none.
    pub bar: u32,
    /// It is heard and not only seen.
    pub audible: bool,
}

/// A microphone or loudspeaker; `None` for the system's own choice.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct DeviceWish {
    /// Its name or lasting id.
    pub name: Option<String>,
    /// The channel that is heard, counted from 1; `None` for the mean of all.
    pub channel: Option<usize>,
}

/// How much later than it is told a sound of the loudspeaker comes back by the microphone: measured once
/// for each pair of devices.
#[derive(Clone, Debug, PartialEq)]
pub struct Delay {
    /// The microphone; `None` for the system's own choice.
    pub input: Option<String>,
    /// The loudspeaker; `None` for the system's own choice.
    pub output: Option<String>,
    /// The delay.
    pub delay: Secs,
}

/// All that can be set.
#[derive(Clone, Debug, PartialEq)]
pub struct Options {
    /// A4 and the temperament of the reference.
    pub tuning: Tuning,
    /// The instrument: one that is shipped, or the path of a file; `None` for any bowed string.
    pub instrument: Option<String>,
    /// How notes are called.
    pub naming: Naming,
    /// The sheet drawn on.
    pub paper: Paper,
    /// Size of type, one of [`TEXT_SCALES`] or between.
    pub text_scale: f32,
    /// Where the field stands.
    pub side: Side,
    /// Nothing flows or fades: the trace is written page by page.
    pub still: bool,
    /// Index into [`SPANS`].
    pub span: usize,
    /// How many cents the trace shows.
    pub zoom: Zoom,
    /// When measures are shown at the start.
    pub showing: Showing,
    /// A question comes before a reveal.
    pub asks: bool,
    /// From where on its words fit.
    pub limits: Limits,
    /// Where a vibrato is meant to lie.
    pub swing: Swing,
    /// What straight notes are held against.
    pub against: Against,
    /// The bands wanted.
    pub wanted: Wanted,
    /// The named regions of the field.
    pub regions: Vec<Region>,
    /// The drone.
    pub drone: DroneOptions,
    /// The metronome.
    pub beat: BeatOptions,
    /// How takes are kept.
    pub take: TakeOptions,
    /// The microphone.
    pub input: DeviceWish,
    /// The loudspeaker; its channel is not used.
    pub output: DeviceWish,
    /// Whose takes are kept; empty where nobody is named.
    pub player: String,
    /// The folder of the takes; `None` for the usual one.
    pub journal: Option<String>,
    /// The folder of the reports; `None` for that of the documents.
    pub reports: Option<String>,
    /// After so many days the sound of takes that are not marked goes, and their measures stay; `None` if it
    /// stays too.
    pub sound_days: Option<u32>,
    /// What drills point out for the player's good.
    pub care: Care,
    /// The delays that were measured.
    pub delays: Vec<Delay>,
    /// Which key does what.
    pub keys: KeyMap,
}

impl Default for Options {
    fn default() -> Self {
        Self {
            tuning: Tuning::default(),
            instrument: None,
            naming: Naming::default(),
            paper: Paper::default(),
            text_scale: 1.0,
            side: Side::default(),
            still: false,
            span: 1,
            zoom: Zoom::default(),
            showing: Showing::default(),
            asks: true,
            limits: Limits::default(),
            swing: Swing::default(),
            against: Against::default(),
            wanted: Wanted::default(),
            regions: shipped_regions(),
            drone: DroneOptions {
                midi: 45,
                fifth: false,
                level_db: -36.0,
            },
            beat: BeatOptions {
                bpm: 60,
                bar: 4,
                audible: true,
            },
            take: TakeOptions {
                kept: true,
                ends_after: Secs(2.0),
                before: Secs(1.0),
            },
            input: DeviceWish::default(),
            output: DeviceWish::default(),
            player: String::new(),
            journal: None,
            reports: None,
            sound_days: None,
            care: Care::default(),
            delays: Vec::new(),
            keys: KeyMap::default(),
        }
    }
}

impl Options {
    /// How much time the trace shows.
    pub fn span(&self) -> Secs {
        SPANS[self.span.min(SPANS.len() - 1)]
    }

    /// The delay that was measured for the devices that are chosen now.
    pub fn delay(&self) -> Option<Secs> {
        let here =
            |delay: &&Delay| delay.input == self.input.name && delay.output == self.output.name;
        self.delays.iter().find(here).map(|delay| delay.delay)
    }

    /// Keeps a delay for the devices that are chosen now; `None` forgets the one there is.
    pub fn set_delay(&mut self, delay: Option<Secs>) {
        let (input, output) = (self.input.name.clone(), self.output.name.clone());
        self.delays
            .retain(|old| old.input != input || old.output != output);
        self.delays.extend(delay.map(|delay| Delay {
            input,
            output,
            delay,
        }));
    }

    /// The instrument with its strings; `None` for any bowed string. Reads a file if it is a player's own.
    pub fn instrument(&self) -> Result<Option<Instrument>, InstrumentError> {
        self.instrument.as_deref().map(Instrument::find).transpose()
    }
}

/// The regions the program comes with: ordinary musical words as a starting point, not a norm. Their
/// bounds are invented.
pub fn shipped_regions() -> Vec<Region> {
    [
        ("calm", (3.5, 5.0), (8.0, 25.0)),
        ("singing", (4.5, 6.0), (25.0, 55.0)),
        ("shimmering", (6.0, 7.5), (8.0, 25.0)),
        ("passionate", (5.5, 7.5), (55.0, 110.0)),
    ]
    .into_iter()
    .map(|(name, rate, width)| Region {
        name: name.to_owned(),
        rate: (Hz(rate.0), Hz(rate.1)),
        width: (Cents(width.0), Cents(width.1)),
    })
    .collect()
}
