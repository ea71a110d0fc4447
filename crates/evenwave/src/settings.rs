//! The player's settings on disk: RON, in the platform's configuration folder.

use std::collections::BTreeMap;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use coach::{Against, Care, Limits, Showing, Swing};
use directories::ProjectDirs;
use panels::keys::KeyMap;
use panels::options::{
    BPM, BeatOptions, DRONE_DB, Delay, DeviceWish, DroneOptions, ENDS_AFTER, KEEPS_BEFORE, Options,
    Region, SOUND_DAYS, SPANS, Side, TEXT_SCALES, TakeOptions, Wanted, ZOOMS, Zoom,
};
use panels::theme::Paper;
use serde::{Deserialize, Serialize};
use tuning::{Cents, Hz, Naming, Secs, Temperament, Tuning};

/// The version of settings files that is read and written.
const VERSION: u32 = 1;

/// Rates and widths that a band or region may reach to.
const RATES_HZ: std::ops::RangeInclusive<f64> = 0.0..=20.0;
const WIDTHS_CENTS: std::ops::RangeInclusive<f64> = 0.0..=400.0;

/// Delays from loudspeaker to microphone that are believed, in ms; below 0 the system tells them too long.
const DELAYS_MS: std::ops::RangeInclusive<f64> = -500.0..=1000.0;

/// What stands at the head of the file.
const HEAD: &str = "\
// Settings of evenwave, written by the program when something is set in its window. Edit them while it
// is closed. A file that cannot be read is kept aside beside this one, and nothing of it is lost.
// `keys` gives commands other keys than those shown on `?`, as in {\"hold\": [\"Space\", \"PageDown\"]}.
";

/// The settings as they are written, version 1. What is left out has its usual value.
#[derive(Debug, Deserialize, PartialEq, Serialize)]
#[serde(default, deny_unknown_fields)]
struct Written {
    version: u32,
    a4_hz: f64,
    temperament: WrittenTemperament,
    instrument: Option<String>,
    names: WrittenNaming,
    paper: WrittenPaper,
    text_scale_pct: u32,
    field_side: WrittenSide,
    still: bool,
    span_s: f64,
    zoom_cents: Option<f64>,
    showing: WrittenShowing,
    questions: bool,
    uneven_from_pct: f64,
    on_it_within_cents: f64,
    swing: WrittenSwing,
    straight_against: WrittenAgainst,
    wanted_rate_hz: Option<(f64, f64)>,
    wanted_width_cents: Option<(f64, f64)>,
    regions: Vec<WrittenRegion>,
    drone: WrittenDrone,
    beat: WrittenBeat,
    take: WrittenTake,
    microphone: Option<String>,
    channel: Option<usize>,
    loudspeaker: Option<String>,
    player: String,
    journal: Option<String>,
    sound_kept_days: Option<u32>,
    point_out_tiring: bool,
    suggest_rests: bool,
    delays: Vec<WrittenDelay>,
    keys: BTreeMap<String, Vec<String>>,
}

/// An enum as it is written, converted by hand to the live one and back.
macro_rules! written {
    ($written:ident, $live:ty, $($name:ident = $value:path),+) => {
        #[derive(Clone, Copy, Debug, Deserialize, PartialEq, Serialize)]
        #[serde(rename_all = "kebab-case")]
        enum $written {
            $($name),+
        }

        impl From<$live> for $written {
            fn from(live: $live) -> Self {
                match live {
                    $($value => Self::$name),+
                }
            }
        }

        impl From<$written> for $live {
            fn from(written: $written) -> Self {
                match written {
                    $($written::$name => $value),+
                }
            }
        }
    };
}

written!(
    WrittenTemperament,
    Temperament,
    Equal = Temperament::Equal,
    PureFifths = Temperament::PureFifths
);
written!(
    WrittenNaming,
    Naming,
    Scientific = Naming::Scientific,
    Helmholtz = Naming::Helmholtz,
    German = Naming::German,
    FixedDo = Naming::FixedDo
);
written!(
    WrittenPaper,
    Paper,
    Light = Paper::Light,
    Dark = Paper::Dark
);
written!(WrittenSide, Side, Left = Side::Left, Right = Side::Right);
written!(
    WrittenShowing,
    Showing,
    Live = Showing::Live,
    AfterNote = Showing::AfterNote,
    AfterRound = Showing::AfterRound
);
written!(
    WrittenSwing,
    Swing,
    Around = Swing::Around,
    Below = Swing::Below
);
written!(
    WrittenAgainst,
    Against,
    Equal = Against::Equal,
    OpenStrings = Against::OpenStrings,
    Drone = Against::Drone
);

#[derive(Clone, Debug, Deserialize, PartialEq, Serialize)]
#[serde(deny_unknown_fields)]
struct WrittenRegion {
    name: String,
    rate_hz: (f64, f64),
    width_cents: (f64, f64),
}

#[derive(Clone, Debug, Deserialize, PartialEq, Serialize)]
#[serde(deny_unknown_fields)]
struct WrittenDrone {
    note: String,
    fifth: bool,
    level_dbfs: f64,
}

#[derive(Clone, Debug, Deserialize, PartialEq, Serialize)]
#[serde(deny_unknown_fields)]
struct WrittenBeat {
    bpm: u32,
    bar: u32,
    audible: bool,
}

#[derive(Clone, Debug, Deserialize, PartialEq, Serialize)]
#[serde(deny_unknown_fields)]
struct WrittenTake {
    kept: bool,
    ends_after_s: f64,
    before_s: f64,
}

#[derive(Clone, Debug, Deserialize, PartialEq, Serialize)]
#[serde(deny_unknown_fields)]
struct WrittenDelay {
    microphone: Option<String>,
    loudspeaker: Option<String>,
    delay_ms: f64,
}

impl Default for Written {
    fn default() -> Self {
        Self::of(&Options::default())
    }
}

impl Written {
    fn of(options: &Options) -> Self {
        let span = options.span();
        Self {
            version: VERSION,
            a4_hz: options.tuning.a4.0,
            temperament: options.tuning.temperament.into(),
            instrument: options.instrument.clone(),
            names: options.naming.into(),
            paper: options.paper.into(),
            text_scale_pct: (options.text_scale * 100.0).round() as u32,
            field_side: options.side.into(),
            still: options.still,
            span_s: span.0,
            zoom_cents: match options.zoom {
                Zoom::ByItself => None,
                Zoom::Fixed(index) => ZOOMS.get(index).map(|reach| reach.0),
            },
            showing: options.showing.into(),
            questions: options.asks,
            uneven_from_pct: options.limits.uneven_pct,
            on_it_within_cents: options.limits.on_it.0,
            swing: options.swing.into(),
            straight_against: options.against.into(),
            wanted_rate_hz: options.wanted.rate.map(|(from, to)| (from.0, to.0)),
            wanted_width_cents: options.wanted.width.map(|(from, to)| (from.0, to.0)),
            regions: options
                .regions
                .iter()
                .map(|region| WrittenRegion {
                    name: region.name.clone(),
                    rate_hz: (region.rate.0.0, region.rate.1.0),
                    width_cents: (region.width.0.0, region.width.1.0),
                })
                .collect(),
            drone: WrittenDrone {
                note: tuning::pitch_name(options.drone.midi, Naming::Scientific),
                fifth: options.drone.fifth,
                level_dbfs: options.drone.level_db,
            },
            beat: WrittenBeat {
                bpm: options.beat.bpm,
                bar: options.beat.bar,
                audible: options.beat.audible,
            },
            take: WrittenTake {
                kept: options.take.kept,
                ends_after_s: options.take.ends_after.0,
                before_s: options.take.before.0,
            },
            microphone: options.input.name.clone(),
            channel: options.input.channel,
            loudspeaker: options.output.name.clone(),
            player: options.player.clone(),
            journal: options.journal.clone(),
            sound_kept_days: options.sound_days,
            point_out_tiring: options.care.tiring,
            suggest_rests: options.care.rest,
            delays: options
                .delays
                .iter()
                .map(|delay| WrittenDelay {
                    microphone: delay.input.clone(),
                    loudspeaker: delay.output.clone(),
                    delay_ms: 1e3 * delay.delay.0,
                })
                .collect(),
            keys: options
                .keys
                .changed()
                .into_iter()
                .map(|(name, keys)| (name.to_owned(), keys))
                .collect(),
        }
    }

    /// The options, or in words what cannot be.
    fn options(self) -> Result<Options, String> {
        if self.version != VERSION {
            return Err(format!(
                "version {} is not known to this evenwave, which reads version {VERSION}",
                self.version
            ));
        }
        let temperament = self.temperament.into();
        let tuning = Tuning::new(Hz(self.a4_hz), temperament).map_err(|error| error.to_string())?;
        let text_scale = self.text_scale_pct as f32 / 100.0;
        let (least, most) = (TEXT_SCALES[0], TEXT_SCALES[TEXT_SCALES.len() - 1]);
        if !(least..=most).contains(&text_scale) {
            return Err(format!(
                "text_scale_pct {} is outside {:.0} to {:.0}",
                self.text_scale_pct,
                100.0 * least,
                100.0 * most
            ));
        }
        let span = SPANS.iter().position(|span| span.0 == self.span_s);
        let span = span.ok_or_else(|| format!("span_s {} is none of 4, 8, 16", self.span_s))?;
        let zoom = match self.zoom_cents {
            None => Zoom::ByItself,
            Some(cents) => {
                let place = ZOOMS.iter().position(|reach| reach.0 == cents);
                Zoom::Fixed(place.ok_or_else(|| {
                    format!("zoom_cents {cents} is none of 30, 60, 130, 250, 600")
                })?)
            }
        };
        within("uneven_from_pct", self.uneven_from_pct, &(1.0..=100.0))?;
        within("on_it_within_cents", self.on_it_within_cents, &(1.0..=50.0))?;
        within("drone: level_dbfs", self.drone.level_dbfs, &DRONE_DB)?;
        within("take: ends_after_s", self.take.ends_after_s, &ENDS_AFTER)?;
        within("take: before_s", self.take.before_s, &KEEPS_BEFORE)?;
        within("beat: bpm", self.beat.bpm, &BPM)?;
        within("beat: bar", self.beat.bar, &(1..=16))?;
        if self.channel == Some(0) {
            return Err("channel 0 is none: channels are counted from 1".to_owned());
        }
        if let Some(days) = self.sound_kept_days {
            within("sound_kept_days", days, &SOUND_DAYS)?;
        }
        for delay in &self.delays {
            within("delays: delay_ms", delay.delay_ms, &DELAYS_MS)?;
        }
        let midi =
            tuning::midi_from_name(&self.drone.note).map_err(|error| format!("drone: {error}"))?;
        let mut keys = KeyMap::default();
        for (name, chosen) in &self.keys {
            keys.set(name, chosen)
                .map_err(|words| format!("keys: {words}"))?;
        }
        let rate = |name: &str, (from, to)| -> Result<(Hz, Hz), String> {
            band(name, (from, to), &RATES_HZ)?;
            Ok((Hz(from), Hz(to)))
        };
        let width = |name: &str, (from, to)| -> Result<(Cents, Cents), String> {
            band(name, (from, to), &WIDTHS_CENTS)?;
            Ok((Cents(from), Cents(to)))
        };
        let wanted = Wanted {
            rate: match self.wanted_rate_hz {
                None => None,
                Some(wish) => Some(rate("wanted_rate_hz", wish)?),
            },
            width: match self.wanted_width_cents {
                None => None,
                Some(wish) => Some(width("wanted_width_cents", wish)?),
            },
        };
        let regions = self
            .regions
            .into_iter()
            .map(|region| {
                let name = format!("region \"{}\"", region.name);
                Ok(Region {
                    rate: rate(&name, region.rate_hz)?,
                    width: width(&name, region.width_cents)?,
                    name: region.name,
                })
            })
            .collect::<Result<_, String>>()?;
        Ok(Options {
            tuning,
            instrument: self.instrument,
            naming: self.names.into(),
            paper: self.paper.into(),
            text_scale,
            side: self.field_side.into(),
            still: self.still,
            span,
            zoom,
            showing: self.showing.into(),
            asks: self.questions,
            limits: Limits {
                uneven_pct: self.uneven_from_pct,
                on_it: Cents(self.on_it_within_cents),
            },
            swing: self.swing.into(),
            against: self.straight_against.into(),
            wanted,
            regions,
            drone: DroneOptions {
                midi,
                fifth: self.drone.fifth,
                level_db: self.drone.level_dbfs,
            },
            beat: BeatOptions {
                bpm: self.beat.bpm,
                bar: self.beat.bar,
                audible: self.beat.audible,
            },
            take: TakeOptions {
                kept: self.take.kept,
                ends_after: Secs(self.take.ends_after_s),
                before: Secs(self.take.before_s),
            },
            input: DeviceWish {
                name: self.microphone,
                channel: self.channel,
            },
            output: DeviceWish {
                name: self.loudspeaker,
                channel: None,
            },
            player: self.player,
            journal: self.journal,
            sound_days: self.sound_kept_days,
            care: Care {
                tiring: self.point_out_tiring,
                rest: self.suggest_rests,
            },
            delays: self
                .delays
                .into_iter()
                .map(|delay| Delay {
                    input: delay.microphone,
                    output: delay.loudspeaker,
                    delay: Secs(1e-3 * delay.delay_ms),
                })
                .collect(),
            keys,
        })
    }
}

fn within<T: PartialOrd + std::fmt::Display>(
    name: &str,
    value: T,
    range: &std::ops::RangeInclusive<T>,
) -> Result<(), String> {
    if range.contains(&value) {
        Ok(())
    } else {
        let (least, most) = (range.start(), range.end());
        Err(format!("{name} {value} is outside {least} to {most}"))
    }
}

fn band(
    name: &str,
    (from, to): (f64, f64),
    range: &std::ops::RangeInclusive<f64>,
) -> Result<(), String> {
    within(name, from, range)?;
    within(name, to, range)?;
    if from < to {
        Ok(())
    } else {
        Err(format!(
            "{name}: {from} to {to} is no band; write the lower end first"
        ))
    }
}

/// What was found on disk.
#[derive(Debug, PartialEq)]
pub struct Found {
    /// The options that hold now.
    pub options: Options,
    /// What the player should know: settings that could not be read, and where they are kept.
    pub word: Option<String>,
}

/// The settings file.
#[derive(Clone, Debug)]
pub struct Settings {
    path: Option<PathBuf>,
}

impl Settings {
    /// The file at `path`, or where the platform keeps settings. Without a home there is none, and
    /// nothing is kept.
    pub fn at(path: Option<&Path>) -> Self {
        let usual = || {
            let folders = ProjectDirs::from("", "", "evenwave")?;
            Some(folders.config_dir().join("settings.ron"))
        };
        Self {
            path: path.map(Path::to_owned).or_else(usual),
        }
    }

    /// Where it is; `None` where nothing is kept.
    pub fn path(&self) -> Option<&Path> {
        self.path.as_deref()
    }

    /// The folder of the player's own drills, beside the settings.
    pub fn drills(&self) -> Option<PathBuf> {
        Some(self.path.as_deref()?.with_file_name("drills"))
    }

    /// Reads the settings. A file that cannot be understood is moved aside, and the usual settings
    /// hold.
    pub fn read(&self) -> Found {
        let usual = |word| Found {
            options: Options::default(),
            word,
        };
        let Some(path) = &self.path else {
            return usual(Some(
                "there is no folder for settings on this system: what is set is not kept"
                    .to_owned(),
            ));
        };
        let text = match fs::read(path) {
            Ok(bytes) => String::from_utf8(bytes).map_err(|_| "it is not text".to_owned()),
            Err(error) if error.kind() == io::ErrorKind::NotFound => return usual(None),
            Err(error) => {
                return usual(Some(format!(
                    "the settings cannot be read ({error}); the usual ones hold: {}",
                    path.display()
                )));
            }
        };
        match text.and_then(|text| parsed(&text)) {
            Ok(options) => Found {
                options,
                word: None,
            },
            Err(why) => usual(Some(match set_aside(path) {
                Ok(aside) => format!(
                    "the settings cannot be understood ({why}); the usual ones hold, and the file is kept as {}",
                    aside.display()
                ),
                Err(error) => format!(
                    "the settings cannot be understood ({why}), and the file cannot be moved aside ({error}); \
                     nothing is written over it: {}",
                    path.display()
                ),
            })),
        }
    }

    /// Writes the settings: whole or not at all. Says in words what keeps it from being so.
    pub fn write(&self, options: &Options) -> Result<(), String> {
        let Some(path) = &self.path else {
            return Ok(());
        };
        let told = |why: String| format!("the settings cannot be kept ({why}): {}", path.display());
        // A file that could not be moved aside still holds what its player wrote.
        if let Ok(text) = fs::read_to_string(path)
            && let Err(why) = parsed(&text)
        {
            return Err(told(why));
        }
        let pretty = ron::ser::PrettyConfig::default().depth_limit(2);
        let body = ron::ser::to_string_pretty(&Written::of(options), pretty)
            .map_err(|error| told(error.to_string()))?;
        let folder = path.parent().unwrap_or(Path::new("."));
        let fresh = path.with_extension("ron.new");
        fs::create_dir_all(folder)
            .and_then(|()| fs::write(&fresh, format!("{HEAD}{body}\n")))
            .and_then(|()| fs::File::open(&fresh)?.sync_all())
            .and_then(|()| fs::rename(&fresh, path))
            .map_err(|error| told(error.to_string()))
    }
}

fn parsed(text: &str) -> Result<Options, String> {
    let written: Written = ron::from_str(text).map_err(|error| {
        format!(
            "line {}, column {}: {}",
            error.span.end.line, error.span.end.col, error.code
        )
    })?;
    written.options()
}

/// Moves the file to a name that is free.
fn set_aside(path: &Path) -> io::Result<PathBuf> {
    let mut number = 1;
    loop {
        let aside = path.with_extension(format!("unread-{number}.ron"));
        if !aside.exists() {
            fs::rename(path, &aside)?;
            return Ok(aside);
        }
        number += 1;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A folder of its own for each test.
    fn settings(name: &str) -> Settings {
        let folder = std::env::temp_dir().join(format!("evenwave-{}-{name}", std::process::id()));
        fs::create_dir_all(&folder).expect("a folder for the test");
        let path = folder.join("settings.ron");
        fs::remove_file(&path).ok();
        Settings { path: Some(path) }
    }

    fn gone(settings: &Settings) {
        let folder = settings.path().and_then(Path::parent).expect("it has one");
        fs::remove_dir_all(folder).expect("the test's own folder");
    }

    fn changed() -> Options {
        let mut keys = KeyMap::default();
        keys.set("hold", &["PageDown".to_owned()]).expect("a key");
        Options {
            tuning: Tuning::new(Hz(442.0), Temperament::PureFifths).expect("allowed"),
            instrument: Some("viola".to_owned()),
            naming: Naming::German,
            paper: Paper::Dark,
            text_scale: 1.75,
            side: Side::Left,
            still: true,
            span: 2,
            zoom: Zoom::Fixed(3),
            showing: Showing::AfterRound,
            asks: false,
            limits: Limits {
                uneven_pct: 9.0,
                on_it: Cents(3.0),
            },
            swing: Swing::Below,
            against: Against::Drone,
            wanted: Wanted {
                rate: Some((Hz(4.5), Hz(5.5))),
                width: Some((Cents(20.0), Cents(40.0))),
            },
            regions: vec![Region {
                name: "molto \"largo\"".to_owned(),
                rate: (Hz(3.0), Hz(4.0)),
                width: (Cents(10.0), Cents(30.0)),
            }],
            drone: DroneOptions {
                midi: 54,
                fifth: true,
                level_db: -30.0,
            },
            beat: BeatOptions {
                bpm: 72,
                bar: 3,
                audible: false,
            },
            take: TakeOptions {
                kept: false,
                ends_after: Secs(3.5),
                before: Secs(0.5),
            },
            input: DeviceWish {
                name: Some("USB Audio".to_owned()),
                channel: Some(2),
            },
            output: DeviceWish {
                name: Some("Headphones".to_owned()),
                channel: None,
            },
            player: "Noor".to_owned(),
            journal: Some("somewhere/takes".to_owned()),
            sound_days: Some(90),
            care: Care {
                tiring: false,
                rest: false,
            },
            delays: vec![Delay {
                input: Some("Somebody's microphone".to_owned()),
                output: None,
                delay: Secs(0.0125),
            }],
            keys,
        }
    }

    #[test]
    fn what_is_set_is_read_again_to_the_last_field() {
        let settings = settings("again");
        assert_eq!(settings.read().options, Options::default());
        settings.write(&changed()).expect("it can be written");
        let found = settings.read();
        assert_eq!(
            found,
            Found {
                options: changed(),
                word: None
            }
        );
        gone(&settings);
    }

    #[test]
    fn a_file_with_one_line_leaves_the_rest_as_usual() {
        let settings = settings("one");
        fs::write(
            settings.path().expect("there"),
            "(version: 1, a4_hz: 443.0)",
        )
        .expect("written");
        let options = settings.read().options;
        assert_eq!(options.tuning.a4, Hz(443.0));
        assert_eq!(options.regions, Options::default().regions);
        gone(&settings);
    }

    #[test]
    fn a_broken_file_is_kept_aside_and_told_with_its_place() {
        let settings = settings("broken");
        let path = settings.path().expect("there").to_owned();
        for (number, (text, words)) in [
            ("(\n  version: 1,\n  a4_hz: \"high\",\n)", "line 3"),
            ("(version: 1, a4: 440.0)", "a4"),
            ("(version: 7)", "version 7"),
            ("(a4_hz: 500.0)", "392 to 466"),
            ("(wanted_rate_hz: Some((6.0, 5.0)))", "lower end first"),
            ("(keys: {\"hold\": [\"Spade\"]})", "Spade"),
            ("(keys: {\"dance\": []})", "dance"),
            ("(text_scale_pct: 20)", "100 to 250"),
            ("(on_it_within_cents: NaN)", "outside"),
            ("\u{1}\u{2}", "line 1"),
        ]
        .into_iter()
        .enumerate()
        {
            fs::write(&path, text).expect("written");
            let found = settings.read();
            assert_eq!(found.options, Options::default(), "{text}");
            let word = found.word.expect("it is told");
            assert!(word.contains(words), "{text}: {word}");
            let aside = path.with_extension(format!("unread-{}.ron", number + 1));
            assert_eq!(fs::read_to_string(&aside).expect("kept aside"), text);
            assert!(!path.exists());
            settings.write(&Options::default()).expect("free again");
        }
        gone(&settings);
    }

    #[test]
    fn arbitrary_bytes_never_make_it_panic() {
        let settings = settings("bytes");
        settings.write(&changed()).expect("written");
        let path = settings.path().expect("there").to_owned();
        let whole = fs::read(&path).expect("just written");
        let mut seed: u64 = 20_261_125;
        for _ in 0..1_000 {
            let mut bytes = whole.clone();
            seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
            let place = (seed >> 33) as usize % bytes.len();
            if seed & 1 == 0 {
                bytes[place] ^= 1 << ((seed >> 20) % 8);
            } else {
                bytes.truncate(place);
            }
            let _ = String::from_utf8(bytes).map(|text| parsed(&text));
        }
        gone(&settings);
    }
}
