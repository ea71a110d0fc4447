//! What the player has set: plain data, kept by the program from one day to the next.

use crate::shell::keys::KeyMap;
use crate::shell::room::Room;
use crate::theme::Paper;
use coach::{Against, Hints, Limits, OnStart, Showing, Swing, Task};
pub use coach::{Region, TakeOptions};
use journal::Context;
use std::collections::BTreeSet;
use std::ops::RangeInclusive;
use tuning::{Cents, Hz, Instrument, InstrumentError, Naming, Secs, Tuning};

/// How large type may be, as a share of the usual size.
pub const TEXT_SCALES: [f32; 7] = [1.0, 1.25, 1.5, 1.75, 2.0, 2.25, 2.5];
/// How much time the trace may show.
pub const SPANS: [Secs; 3] = [Secs(4.0), Secs(8.0), Secs(16.0)];
/// How far the trace may reach up and down from its middle line, from close to wide.
pub const ZOOMS: [Cents; 5] = [Cents(30.0), Cents(60.0), Cents(130.0), Cents(250.0), Cents(600.0)];
/// What the metronome may beat, in beats per minute.
pub const BPM: RangeInclusive<u32> = coach::BPM.0 as u32..=coach::BPM.1 as u32;
/// How loud the drone may be, in dB below full scale.
pub const DRONE_DB: RangeInclusive<f64> = -60.0..=-12.0;
/// Silence that may end a take.
pub const ENDS_AFTER: RangeInclusive<f64> = 0.5..=10.0;
/// Sound that may be kept from before the first note of a take.
pub const KEEPS_BEFORE: RangeInclusive<f64> = 0.0..=5.0;

/// Where wanted bands and regions of the field may reach to, in Hz and cents.
pub const WANTED_HZ: RangeInclusive<f64> = 0.0..=20.0;
/// The same for the width.
pub const WANTED_CENTS: RangeInclusive<f64> = 0.0..=400.0;

/// Days after which the sound of takes may go.
pub const SOUND_DAYS: RangeInclusive<u32> = 1..=3_650;

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

impl Wanted {
    /// The bands of a task; `None` where it has none. A band of a task may be a single value, which is widened by a
    /// step, and may lie where no wanted band does.
    pub fn of(task: &Task) -> Option<Self> {
        let band = |(from, to): (f64, f64), step: f64, within: &RangeInclusive<f64>| {
            let (from, to) = if from < to { (from, to) } else { (from - step, from + step) };
            let [from, to] = [from, to].map(|end| end.clamp(*within.start(), *within.end()));
            (from < to).then_some((from, to))
        };
        let rate = task.rate.and_then(|(from, to)| band((from.0, to.0), 0.1, &WANTED_HZ));
        let width = task.width.and_then(|(from, to)| band((from.0, to.0), 1.0, &WANTED_CENTS));
        let wanted = Self {
            rate: rate.map(|(from, to)| (Hz(from), Hz(to))),
            width: width.map(|(from, to)| (Cents(from), Cents(to))),
        };
        (wanted != Self::default()).then_some(wanted)
    }
}

/// A passage that is practised: the takes of the Stand are of it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Practised {
    /// Who practises it.
    pub player: String,
    /// What it is, in the teacher's words.
    pub passage: String,
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
    /// What of it falls on the beat.
    pub on_start: OnStart,
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
    /// Who was named so far, in the order of names: they stay although they have no take yet.
    pub players: Vec<String>,
    /// The passage of a task that is practised at the Stand.
    pub practised: Option<Practised>,
    /// The folder of the takes; `None` for the usual one.
    pub journal: Option<String>,
    /// The folder of the reports; `None` for that of the documents.
    pub reports: Option<String>,
    /// The player whose takes the models of a lesson are.
    pub teacher: String,
    /// After so many days the sound of takes that are not marked goes to the trash, and their measures stay; `None` if it
    /// stays too.
    pub sound_days: Option<u32>,
    /// What drills point out for the player's good.
    pub hints: Hints,
    /// The delays that were measured.
    pub delays: Vec<Delay>,
    /// Which key does what.
    pub keys: KeyMap,
}

impl Options {
    /// Those of somebody who has set nothing yet: the ear comes first, and the measures after the note.
    pub fn of_new_player() -> Self {
        Self { showing: Showing::AfterNote, ..Self::default() }
    }
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
            on_start: OnStart::default(),
            against: Against::default(),
            wanted: Wanted::default(),
            regions: shipped_regions(None),
            drone: DroneOptions { midi: 45, fifth: false, level_db: -36.0 },
            beat: BeatOptions { bpm: 60, bar: 4, audible: true },
            take: TakeOptions { kept: true, ends_after: Secs(2.0), before: Secs(1.0) },
            input: DeviceWish::default(),
            output: DeviceWish::default(),
            player: String::new(),
            players: Vec::new(),
            practised: None,
            journal: None,
            reports: None,
            teacher: "Teacher".to_owned(),
            sound_days: None,
            hints: Hints::default(),
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

    /// What is written with each take that is played in this room.
    pub fn take_context(&self, room: Room) -> Context {
        Context {
            room: room.name().to_owned(),
            player: self.player.clone(),
            instrument: self.instrument.clone(),
            tuning: self.tuning,
            ..Context::default()
        }
    }

    /// This player plays from now on, and is remembered as the one before is.
    pub fn now_plays(&mut self, player: String) {
        let before = std::mem::replace(&mut self.player, player);
        let known = self.players.drain(..).chain([before, self.player.clone()]);
        let known: BTreeSet<String> = known.filter(|name| !name.is_empty()).collect();
        self.players = known.into_iter().collect();
    }

    /// Nothing remembers this player any more.
    pub fn forgets(&mut self, player: &str) {
        self.players.retain(|name| name != player);
    }

    /// The passage that the takes of the Stand are of: that of the player who plays.
    pub fn passage(&self) -> Option<&str> {
        let practised = self.practised.as_ref()?;
        (practised.player == self.player).then_some(&practised.passage)
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
        self.delays.retain(|old| old.input != input || old.output != output);
        self.delays.extend(delay.map(|delay| Delay { input, output, delay }));
    }

    /// The same with another instrument. Regions that were those of the one before are now those of this one.
    #[must_use]
    pub fn played_on(mut self, instrument: Option<String>) -> Self {
        if self.regions == shipped_regions(self.instrument.as_deref()) {
            self.regions = shipped_regions(instrument.as_deref());
        }
        self.instrument = instrument;
        self
    }

    /// The instrument with its strings; `None` for any bowed string. Reads a file if it is a player's own.
    pub fn instrument(&self) -> Result<Option<Instrument>, InstrumentError> {
        self.instrument.as_deref().map(Instrument::find).transpose()
    }
}

/// Strings longer than a cello's have regions so much narrower that a finger goes as far in them, in mm.
const CELLO_MM: f64 = 690.0;

/// The regions the program comes with for an instrument: ordinary musical words as a starting point, not a norm. Their
/// bounds are invented.
pub fn shipped_regions(instrument: Option<&str>) -> Vec<Region> {
    let string_mm = instrument.and_then(|name| Instrument::find(name).ok()?.string_mm);
    let share = string_mm.map_or(1.0, |mm| (CELLO_MM / mm).min(1.0));
    let wide = |cents: f64| Cents((share * cents).round());
    [
        ("calm", (3.5, 5.0), (8.0, 25.0)),
        ("singing", (4.5, 6.0), (25.0, 55.0)),
        ("quick", (6.0, 7.5), (8.0, 25.0)),
        ("passionate", (5.5, 7.5), (55.0, 110.0)),
    ]
    .into_iter()
    .map(|(name, rate, width)| Region {
        name: name.to_owned(),
        rate: (Hz(rate.0), Hz(rate.1)),
        width: (wide(width.0), wide(width.1)),
    })
    .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use coach::Work;

    #[test]
    fn regions_are_narrower_on_a_long_string_and_ones_own_stay() {
        let on = |options: Options, name: &str| options.played_on(Some(name.to_owned()));
        let widest = |options: &Options| options.regions[3].width.1;
        let cello = on(Options::default(), "cello");
        assert_eq!(widest(&cello), Cents(110.0));
        let bass = on(cello, "double-bass");
        assert_eq!(widest(&bass), Cents(72.0));
        assert_eq!(widest(&on(bass.clone(), "violin")), Cents(110.0));
        let mut own = bass;
        own.regions.pop();
        assert_eq!(on(own.clone(), "cello").regions, own.regions);
    }

    #[test]
    fn the_bands_of_a_task_become_bands_that_can_be_wanted() {
        let task = |rate: Option<(f64, f64)>, width: Option<(f64, f64)>| Task {
            rate: rate.map(|(from, to)| (Hz(from), Hz(to))),
            width: width.map(|(from, to)| (Cents(from), Cents(to))),
            ..Task::of_model(&[], Work::Passage("bars 12 to 20".to_owned()))
        };
        let wanted = Wanted::of(&task(Some((4.7, 5.3)), None));
        let rate = Some((Hz(4.7), Hz(5.3)));
        assert_eq!(wanted, Some(Wanted { rate, width: None }));
        let wanted = Wanted::of(&task(None, Some((35.0, 35.0)))).expect("a band");
        assert_eq!(wanted.width, Some((Cents(34.0), Cents(36.0))));
        let wanted = Wanted::of(&task(Some((0.0, 1e300)), None)).expect("a band");
        assert_eq!(wanted.rate, Some((Hz(0.0), Hz(20.0))));
        assert_eq!(Wanted::of(&task(Some((30.0, 40.0)), None)), None);
        assert_eq!(Wanted::of(&task(None, None)), None);
    }

    #[test]
    fn who_was_named_is_remembered_until_forgotten() {
        let mut options = Options::default();
        for name in ["Bea", "Anna", "", "Anna"] {
            options.now_plays(name.to_owned());
        }
        assert_eq!(
            (options.player.as_str(), &options.players[..]),
            ("Anna", &["Anna".to_owned(), "Bea".to_owned()][..])
        );
        options.forgets("Bea");
        assert_eq!(options.players, ["Anna"]);
    }

    #[test]
    fn takes_are_of_a_passage_only_while_its_player_plays() {
        let mut options = Options {
            player: "Ada".to_owned(),
            practised: Some(Practised { player: "Ada".to_owned(), passage: "the coda".to_owned() }),
            ..Options::default()
        };
        assert_eq!(options.passage(), Some("the coda"));
        options.player = "Bea".to_owned();
        assert_eq!(options.passage(), None);
    }
}
