//! The settings as they stand in the file: shapes of their own, converted by hand from the live ones.

use std::collections::BTreeMap;

use coach::{Against, Hints, Limits, OnStart, Showing, Swing};
use panels::commands;
use panels::keys::KeyMap;
use panels::shell::options::{
    BPM, BeatOptions, DRONE_DB, Delay, DeviceWish, DroneOptions, ENDS_AFTER, KEEPS_BEFORE, Options,
    Practised, Region, SOUND_DAYS, SPANS, Side, TEXT_SCALES, TakeOptions, WANTED_CENTS, WANTED_HZ,
    Wanted, ZOOMS, Zoom,
};
use panels::theme::Paper;
use serde::{Deserialize, Serialize};
use tuning::{Cents, Hz, Naming, Secs, Temperament, Tuning};

/// The version of settings files that is read and written.
const VERSION: u32 = 1;

/// Delays from loudspeaker to microphone that are believed, in ms; below 0 the system tells them too long.
const DELAYS_MS: std::ops::RangeInclusive<f64> = -500.0..=1000.0;

/// The settings as they are written, version 1. What is left out has its usual value.
#[derive(Debug, Deserialize, PartialEq, Serialize)]
#[serde(default, deny_unknown_fields)]
pub(super) struct Written {
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
    on_the_beat: WrittenOnStart,
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
    players: Vec<String>,
    practised: Option<WrittenPractised>,
    journal: Option<String>,
    reports: Option<String>,
    teacher: String,
    sound_kept_days: Option<u32>,
    point_out_tiring: bool,
    suggest_rests: bool,
    delays: Vec<WrittenDelay>,
    keys: BTreeMap<String, Vec<String>>,
}

/// An enum as it is written, converted by hand to the live one and back.
macro_rules! written {
    ($written:ident, $live:ident: $($name:ident),+) => {
        #[derive(Clone, Copy, Debug, Deserialize, PartialEq, Serialize)]
        #[serde(rename_all = "kebab-case")]
        enum $written {
            $($name),+
        }

        impl From<$live> for $written {
            fn from(live: $live) -> Self {
                match live {
                    $($live::$name => Self::$name),+
                }
            }
        }

        impl From<$written> for $live {
            fn from(written: $written) -> Self {
                match written {
                    $($written::$name => Self::$name),+
                }
            }
        }
    };
}

written!(WrittenTemperament, Temperament: Equal, PureFifths);
written!(WrittenNaming, Naming: Scientific, Helmholtz, German, FixedDo);
written!(WrittenPaper, Paper: Light, Dark);
written!(WrittenSide, Side: Left, Right);
written!(WrittenShowing, Showing: Live, AfterNote, AfterRound);
written!(WrittenSwing, Swing: Around, Below);
written!(WrittenOnStart, OnStart: Note, Crest, Trough);
written!(WrittenAgainst, Against: Equal, OpenStrings, Drone);

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

#[derive(Clone, Debug, Deserialize, PartialEq, Serialize)]
#[serde(deny_unknown_fields)]
struct WrittenPractised {
    player: String,
    passage: String,
}

impl Default for Written {
    fn default() -> Self {
        Self::of(&Options::default())
    }
}

impl Written {
    pub(super) fn of(options: &Options) -> Self {
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
            on_the_beat: options.on_start.into(),
            straight_against: options.against.into(),
            wanted_rate_hz: options.wanted.rate.map(|(from, to)| (from.0, to.0)),
            wanted_width_cents: options.wanted.width.map(|(from, to)| (from.0, to.0)),
            regions: options.regions.iter().map(WrittenRegion::of).collect(),
            drone: WrittenDrone::of(&options.drone),
            beat: WrittenBeat::of(&options.beat),
            take: WrittenTake::of(&options.take),
            microphone: options.input.name.clone(),
            channel: options.input.channel,
            loudspeaker: options.output.name.clone(),
            player: options.player.clone(),
            players: options.players.clone(),
            practised: options
                .practised
                .clone()
                .map(|Practised { player, passage }| WrittenPractised { player, passage }),
            journal: options.journal.clone(),
            reports: options.reports.clone(),
            teacher: options.teacher.clone(),
            sound_kept_days: options.sound_days,
            point_out_tiring: options.hints.tiring,
            suggest_rests: options.hints.rest,
            delays: options.delays.iter().map(WrittenDelay::of).collect(),
            keys: options.keys.changed().map(|(name, keys)| (name.to_owned(), keys)).collect(),
        }
    }

    /// The options, or in words what cannot be.
    pub(super) fn options(self) -> Result<Options, String> {
        if self.version != VERSION {
            return Err(format!(
                "version {} is not known to this evenwave, which reads version {VERSION}",
                self.version
            ));
        }
        let temperament = self.temperament.into();
        let tuning = Tuning::new(Hz(self.a4_hz), temperament).map_err(|error| error.to_string())?;
        let text_scale = self.text_scale()?;
        let span = place_of("span_s", self.span_s, &SPANS.map(Secs::get))?;
        let zoom = match self.zoom_cents {
            None => Zoom::ByItself,
            Some(cents) => Zoom::Fixed(place_of("zoom_cents", cents, &ZOOMS.map(Cents::get))?),
        };
        self.check_ranges()?;
        let drone = self.drone.live()?;
        let keys = KeyMap::chosen(&commands::all(), &self.keys)
            .map_err(|words| format!("keys: {words}"))?;
        let rate = |wish| rates("wanted_rate_hz", wish);
        let width = |wish| widths("wanted_width_cents", wish);
        let wanted = Wanted {
            rate: self.wanted_rate_hz.map(rate).transpose()?,
            width: self.wanted_width_cents.map(width).transpose()?,
        };
        let regions = self.regions.into_iter().map(WrittenRegion::live);
        let regions = regions.collect::<Result<_, String>>()?;
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
            on_start: self.on_the_beat.into(),
            against: self.straight_against.into(),
            wanted,
            regions,
            drone,
            beat: self.beat.live(),
            take: self.take.live(),
            input: DeviceWish { name: self.microphone, channel: self.channel },
            output: DeviceWish { name: self.loudspeaker, channel: None },
            player: self.player,
            players: self.players,
            practised: self
                .practised
                .map(|WrittenPractised { player, passage }| Practised { player, passage }),
            journal: self.journal,
            reports: self.reports,
            teacher: self.teacher,
            sound_days: self.sound_kept_days,
            hints: Hints { tiring: self.point_out_tiring, rest: self.suggest_rests },
            delays: self.delays.into_iter().map(WrittenDelay::live).collect(),
            keys,
        })
    }

    fn text_scale(&self) -> Result<f32, String> {
        let text_scale = self.text_scale_pct as f32 / 100.0;
        let (least, most) = (TEXT_SCALES[0], TEXT_SCALES[TEXT_SCALES.len() - 1]);
        if (least..=most).contains(&text_scale) {
            return Ok(text_scale);
        }
        let (least, most) = (100.0 * least, 100.0 * most);
        Err(format!("text_scale_pct {} is outside {least:.0} to {most:.0}", self.text_scale_pct))
    }

    fn check_ranges(&self) -> Result<(), String> {
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
        self.sound_kept_days.map_or(Ok(()), |days| within("sound_kept_days", days, &SOUND_DAYS))?;
        let mut delays = self.delays.iter();
        delays.try_for_each(|delay| within("delays: delay_ms", delay.delay_ms, &DELAYS_MS))
    }
}

impl WrittenRegion {
    fn of(region: &Region) -> Self {
        Self {
            name: region.name.clone(),
            rate_hz: (region.rate.0.0, region.rate.1.0),
            width_cents: (region.width.0.0, region.width.1.0),
        }
    }

    fn live(self) -> Result<Region, String> {
        let name = format!("region \"{}\"", self.name);
        let (rate, width) = (rates(&name, self.rate_hz)?, widths(&name, self.width_cents)?);
        Ok(Region { name: self.name, rate, width })
    }
}

impl WrittenDrone {
    fn of(drone: &DroneOptions) -> Self {
        let note = tuning::pitch_name(drone.midi, Naming::Scientific);
        Self { note, fifth: drone.fifth, level_dbfs: drone.level_db }
    }

    fn live(&self) -> Result<DroneOptions, String> {
        let midi = tuning::midi_from_name(&self.note).map_err(|error| format!("drone: {error}"))?;
        Ok(DroneOptions { midi, fifth: self.fifth, level_db: self.level_dbfs })
    }
}

impl WrittenBeat {
    fn of(&BeatOptions { bpm, bar, audible }: &BeatOptions) -> Self {
        Self { bpm, bar, audible }
    }

    fn live(self) -> BeatOptions {
        BeatOptions { bpm: self.bpm, bar: self.bar, audible: self.audible }
    }
}

impl WrittenTake {
    fn of(take: &TakeOptions) -> Self {
        Self { kept: take.kept, ends_after_s: take.ends_after.0, before_s: take.before.0 }
    }

    fn live(self) -> TakeOptions {
        let (ends_after, before) = (Secs(self.ends_after_s), Secs(self.before_s));
        TakeOptions { kept: self.kept, ends_after, before }
    }
}

impl WrittenDelay {
    fn of(delay: &Delay) -> Self {
        let (microphone, loudspeaker) = (delay.input.clone(), delay.output.clone());
        Self { microphone, loudspeaker, delay_ms: 1e3 * delay.delay.0 }
    }

    fn live(self) -> Delay {
        let delay = Secs(1e-3 * self.delay_ms);
        Delay { input: self.microphone, output: self.loudspeaker, delay }
    }
}

/// Where a value stands among those that can be chosen.
fn place_of(name: &str, value: f64, among: &[f64]) -> Result<usize, String> {
    among.iter().position(|other| *other == value).ok_or_else(|| {
        let all: Vec<String> = among.iter().map(f64::to_string).collect();
        format!("{name} {value} is none of {}", all.join(", "))
    })
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

fn rates(name: &str, wish: (f64, f64)) -> Result<(Hz, Hz), String> {
    band(name, wish, &WANTED_HZ, Hz)
}

fn widths(name: &str, wish: (f64, f64)) -> Result<(Cents, Cents), String> {
    band(name, wish, &WANTED_CENTS, Cents)
}

fn band<T>(
    name: &str,
    (from, to): (f64, f64),
    range: &std::ops::RangeInclusive<f64>,
    unit: fn(f64) -> T,
) -> Result<(T, T), String> {
    within(name, from, range)?;
    within(name, to, range)?;
    if from < to {
        Ok((unit(from), unit(to)))
    } else {
        Err(format!("{name}: {from} to {to} is no band; write the lower end first"))
    }
}
