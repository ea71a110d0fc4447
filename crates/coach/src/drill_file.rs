//! Drills as they are written: RON, version 1. See `assets/drills/README.md` for the form.

mod fields;
mod mistake;

use std::collections::BTreeMap;

use serde::Deserialize;
use tuning::{Cents, Hz, Secs};

use crate::drill::{
    Count, Drill, Fingering, GapLimit, Join, Kind, Moves, Order, Pace, RATES_HZ, Region, Rules,
};
use crate::intonation::BESIDE_CENTS;
use fields::{
    Beats, Bpm, FINGERS, Finger, InstrumentName, NoteName, PerBeat, Rate, Times, Width, Within,
    WrittenGap, beside, count_in, four, gap, gap_secs, given, outside, pace_off, points,
    some_words,
};
use mistake::{place_of, start, words};

pub use mistake::DrillFileError;

/// The version of drill files that is read.
pub const DRILL_VERSION: u32 = 1;

/// How many times as wide as the drill says a place may have its widths.
const WIDTH_SHARES: (f64, f64) = (0.25, 4.0);
/// Turns of a round and steps of a ladder, at most.
const MOST: usize = 64;

impl Drill {
    /// Reads a drill; `name` is what it is called and `file` how its file is named.
    pub fn from_ron(text: &str, name: &str, file: &str) -> Result<Self, DrillFileError> {
        let told = |(line, column): (usize, usize), what: String| DrillFileError {
            file: file.to_owned(),
            line,
            column,
            what,
        };
        // The version first: what follows may be written in another form.
        let version: Version = ron::Options::default()
            .from_str(text)
            .map_err(|error| told(start(&error), words(&error)))?;
        if version.version != DRILL_VERSION {
            let what = format!(
                "version {} is not known; this program reads version {DRILL_VERSION}: write `version: {DRILL_VERSION}` and compare with the shipped drills",
                version.version
            );
            return Err(told(place_of(text, "version"), what));
        }
        let written: Written =
            ron::from_str(text).map_err(|error| told(start(&error), words(&error)))?;
        written.drill(name).map_err(|(key, what)| told(place_of(text, key), what))
    }
}

#[derive(Deserialize)]
struct Version {
    version: u32,
}

#[derive(Deserialize)]
#[serde(rename = "Drill", deny_unknown_fields)]
struct Written {
    #[serde(rename = "version")]
    _version: u32,
    #[serde(deserialize_with = "some_words")]
    title: String,
    #[serde(default)]
    about: String,
    kind: WrittenKind,
    on: BTreeMap<InstrumentName, WrittenPlace>,
    count: WrittenCount,
    pace: WrittenPace,
    #[serde(default = "four", deserialize_with = "count_in")]
    count_in: u32,
    #[serde(default)]
    join: WrittenJoin,
    #[serde(default)]
    rules: WrittenRules,
}

#[derive(Deserialize, Default, Clone, Copy)]
enum WrittenJoin {
    #[default]
    Legato,
    Stop,
}

#[derive(Deserialize)]
#[serde(rename = "Kind")]
enum WrittenKind {
    Transfer,
    PaceLadder {
        bpm: Vec<Bpm>,
        #[serde(default)]
        moves: WrittenMoves,
    },
    WidthLadder {
        rate_hz: Rate,
        widths_cents: Vec<Width>,
    },
    RateLadder {
        width_cents: Width,
        rates_hz: Vec<Rate>,
    },
    FieldWalk {
        regions: Vec<WrittenRegion>,
        #[serde(default)]
        order: WrittenOrder,
    },
    Bloom {
        width_cents: Width,
        grow_beats: Beats,
        hold_beats: Beats,
        fade_beats: Beats,
    },
    OneBow {
        per_beat: Vec<PerBeat>,
    },
    StartAndStop {
        times: Times,
    },
    Straight {
        beats: Beats,
        within_cents: Within,
        #[serde(default, deserialize_with = "given")]
        beside_cents: Option<Within>,
    },
}

#[derive(Deserialize, Default)]
enum WrittenMoves {
    #[default]
    Stay,
    WithRounds,
}

#[derive(Deserialize, Default)]
enum WrittenOrder {
    #[default]
    Given,
    Shuffled(u64),
}

#[derive(Deserialize)]
#[serde(rename = "Region", deny_unknown_fields)]
struct WrittenRegion {
    name: String,
    rate_hz: (Rate, Rate),
    width_cents: (Width, Width),
}

#[derive(Deserialize)]
#[serde(rename = "Place", deny_unknown_fields)]
struct WrittenPlace {
    place: String,
    hand: BTreeMap<Finger, NoteName>,
    fingers: Vec<Finger>,
    #[serde(default = "one")]
    width_share: f64,
}

fn one() -> f64 {
    1.0
}

#[derive(Deserialize)]
#[serde(rename = "Count")]
enum WrittenCount {
    Oscillations(Times),
    Fingers(BTreeMap<Finger, Times>),
    Beats(Times),
}

#[derive(Deserialize)]
#[serde(rename = "Pace")]
enum WrittenPace {
    Free,
    Beat { bpm: Bpm, per_beat: PerBeat },
}

#[derive(Deserialize)]
#[serde(rename = "Rules", default, deny_unknown_fields)]
struct WrittenRules {
    count_off: Option<u32>,
    #[serde(deserialize_with = "gap")]
    gap_below_oscillations: WrittenGap,
    #[serde(deserialize_with = "gap_secs")]
    gap_below_s: WrittenGap,
    #[serde(deserialize_with = "points")]
    spread_above_best_pct: Option<f64>,
    #[serde(deserialize_with = "pace_off")]
    pace_off_pct: Option<f64>,
    #[serde(deserialize_with = "beside")]
    beside_cents: Option<f64>,
}

impl Default for WrittenRules {
    fn default() -> Self {
        Self {
            count_off: Some(0),
            gap_below_oscillations: WrittenGap::Unsaid,
            gap_below_s: WrittenGap::Unsaid,
            spread_above_best_pct: Some(10.0),
            pace_off_pct: Some(PACE_OFF_PCT),
            beside_cents: Some(BESIDE_CENTS),
        }
    }
}

/// A rate may lie so far from what the beat asks for, in percent, where a file says nothing else.
const PACE_OFF_PCT: f64 = 10.0;

type Fault = (&'static str, String);

impl WrittenRules {
    fn rules(self) -> Result<Rules, Fault> {
        let gap_below = match (self.gap_below_oscillations, self.gap_below_s) {
            (WrittenGap::Unsaid, WrittenGap::Unsaid) => Some(GapLimit::Usual),
            (WrittenGap::Said(count), WrittenGap::Unsaid) => count.map(GapLimit::Oscillations),
            (WrittenGap::Unsaid, WrittenGap::Said(secs)) => secs.map(Secs).map(GapLimit::Secs),
            (WrittenGap::Said(_), WrittenGap::Said(_)) => {
                let what = "the gap is given twice; write it in oscillations or in seconds";
                return Err(("gap_below_s", what.to_owned()));
            }
        };
        Ok(Rules {
            count_off: self.count_off,
            gap_below,
            spread_above_best: self.spread_above_best_pct,
            pace_off_pct: self.pace_off_pct,
            beside_cents: self.beside_cents,
        })
    }
}

impl WrittenCount {
    fn count(self) -> Count {
        match self {
            Self::Oscillations(count) => Count::Oscillations(count.0),
            Self::Fingers(counts) => {
                let mut each = [None; FINGERS];
                for (finger, count) in counts {
                    each[usize::from(finger.0)] = Some(count.0);
                }
                Count::Fingers(each)
            }
            Self::Beats(count) => Count::Beats(count.0),
        }
    }
}

impl WrittenPace {
    fn pace(self) -> Result<Pace, Fault> {
        let pace = match self {
            Self::Free => Pace::Free,
            Self::Beat { bpm, per_beat } => Pace::Beat { bpm: bpm.0, per_beat: per_beat.0 },
        };
        let what = "the pace makes too slow or fast an oscillation: a rate of";
        let outside = |rate: Hz| outside(what, rate.get(), RATES_HZ, "Hz");
        pace.rate().and_then(outside).map_or(Ok(pace), |what| Err(("pace", what)))
    }
}

/// Whether these go together in one drill.
fn go_together(kind: &Kind, count: Count, pace: Pace) -> Result<(), Fault> {
    if matches!((count, pace), (Count::Beats(_), Pace::Free)) {
        let what = "beats cannot be counted at a free pace; write Oscillations(..), or a pace";
        return Err(("count", what.to_owned()));
    }
    let uncounted = matches!(kind, Kind::Bloom { .. } | Kind::Straight { .. });
    let needs_beat = uncounted || matches!(kind, Kind::PaceLadder { .. } | Kind::OneBow { .. });
    if needs_beat && pace == Pace::Free {
        let what = "this kind of drill needs a beat; write pace: Beat(bpm: 60, per_beat: 2)";
        return Err(("pace", what.to_owned()));
    }
    if let (Kind::OneBow { per_beat }, Pace::Beat { .. }) = (kind, pace) {
        if !matches!(count, Count::Beats(_)) {
            let what = "each step of this drill lasts so many beats; write count: Beats(1)";
            return Err(("count", what.to_owned()));
        }
        let what = "the pace makes too slow or fast an oscillation: a rate of";
        let rates = per_beat.iter().filter_map(|steps| pace.at(*steps));
        if let Some(what) =
            rates.filter_map(|rate| outside(what, rate.get(), RATES_HZ, "Hz")).next()
        {
            return Err(("per_beat", what));
        }
    }
    if matches!(count, Count::Fingers(_)) && uncounted {
        let what = "no oscillations are counted in this kind of drill; write Beats(..)";
        return Err(("count", what.to_owned()));
    }
    Ok(())
}

impl Written {
    /// The drill, or the field that does not go with the others and why.
    fn drill(self, name: &str) -> Result<Drill, Fault> {
        let (kind, count, pace) = (self.kind.kind()?, self.count.count(), self.pace.pace()?);
        go_together(&kind, count, pace)?;
        if self.on.is_empty() {
            let what = "the drill is for no instrument; write at least one place";
            return Err(("on", what.to_owned()));
        }
        let mut places = BTreeMap::new();
        for (instrument, place) in self.on {
            places.insert(instrument.0, place.place()?);
        }
        if let Count::Fingers(each) = count {
            let mut hands = places.values().flat_map(|place| place.hand.keys());
            if let Some(finger) = hands.find(|finger| each[usize::from(**finger)].is_none()) {
                let what = format!(
                    "finger {finger} of a hand has no count; write one for it, or Oscillations(..) for all"
                );
                return Err(("count", what));
            }
        }
        Ok(Drill {
            name: name.to_owned(),
            title: self.title,
            about: self.about,
            kind,
            places,
            count,
            pace,
            count_in: self.count_in,
            join: match self.join {
                WrittenJoin::Legato => Join::Legato,
                WrittenJoin::Stop => Join::Stop,
            },
            rules: self.rules.rules()?,
        })
    }
}

impl WrittenPlace {
    fn place(self) -> Result<Fingering, Fault> {
        if self.fingers.is_empty() || self.fingers.len() > MOST {
            let what = format!("{} fingers are no round; write 1 to {MOST}", self.fingers.len());
            return Err(("fingers", what));
        }
        let (least, most) = WIDTH_SHARES;
        if !(least..=most).contains(&self.width_share) {
            let what =
                format!("{} is no share of a width; write {least} to {most}", self.width_share);
            return Err(("width_share", what));
        }
        let hand: BTreeMap<u8, i32> =
            self.hand.into_iter().map(|(f, note)| (f.0, note.0)).collect();
        for finger in &self.fingers {
            if !hand.contains_key(&finger.0) {
                let what = format!("finger {} has no note; write one for it in hand", finger.0);
                return Err(("fingers", what));
            }
        }
        Ok(Fingering {
            place: self.place,
            hand,
            fingers: self.fingers.into_iter().map(|f| f.0).collect(),
            width_share: self.width_share,
        })
    }
}

impl WrittenRegion {
    fn region(self) -> Result<Region, Fault> {
        let (rate, width) = (self.rate_hz, self.width_cents);
        if rate.0 >= rate.1 || width.0 >= width.1 {
            let what = format!(
                "region \"{}\" has no extent; write the lower end first, then the upper",
                self.name
            );
            return Err(("regions", what));
        }
        Ok(Region {
            name: self.name,
            rate: (Hz(rate.0.0), Hz(rate.1.0)),
            width: (Cents(width.0.0), Cents(width.1.0)),
        })
    }
}

impl WrittenKind {
    fn kind(self) -> Result<Kind, Fault> {
        let steps = |key: &'static str, count: usize| {
            if (2..=MOST).contains(&count) {
                return Ok(());
            }
            Err((key, format!("{count} steps are no ladder; write 2 to {MOST}")))
        };
        Ok(match self {
            Self::Transfer => Kind::Transfer,
            Self::PaceLadder { bpm, moves } => {
                steps("kind", bpm.len())?;
                if bpm.windows(2).any(|pair| pair[1] <= pair[0]) {
                    let what = "the paces do not rise; write them from slow to fast";
                    return Err(("kind", what.to_owned()));
                }
                Kind::PaceLadder {
                    bpm: bpm.into_iter().map(|bpm| bpm.0).collect(),
                    moves: match moves {
                        WrittenMoves::Stay => Moves::Stay,
                        WrittenMoves::WithRounds => Moves::WithRounds,
                    },
                }
            }
            Self::WidthLadder { rate_hz, widths_cents } => {
                steps("widths_cents", widths_cents.len())?;
                Kind::WidthLadder {
                    rate: Hz(rate_hz.0),
                    widths: widths_cents.into_iter().map(|w| Cents(w.0)).collect(),
                }
            }
            Self::RateLadder { width_cents, rates_hz } => {
                steps("rates_hz", rates_hz.len())?;
                Kind::RateLadder {
                    width: Cents(width_cents.0),
                    rates: rates_hz.into_iter().map(|r| Hz(r.0)).collect(),
                }
            }
            Self::FieldWalk { regions, order } => {
                steps("regions", regions.len())?;
                let regions: Result<_, Fault> =
                    regions.into_iter().map(WrittenRegion::region).collect();
                Kind::FieldWalk {
                    regions: regions?,
                    order: match order {
                        WrittenOrder::Given => Order::Given,
                        WrittenOrder::Shuffled(seed) => Order::Shuffled(seed),
                    },
                }
            }
            Self::OneBow { per_beat } => {
                steps("per_beat", per_beat.len())?;
                Kind::OneBow { per_beat: per_beat.into_iter().map(|steps| steps.0).collect() }
            }
            Self::Bloom { width_cents, grow_beats, hold_beats, fade_beats } => Kind::Bloom {
                width: Cents(width_cents.0),
                beats: [grow_beats.0, hold_beats.0, fade_beats.0],
            },
            Self::StartAndStop { times } => Kind::StartAndStop { times: times.0 },
            Self::Straight { beats, within_cents, beside_cents } => {
                let beside = Cents(beside_cents.unwrap_or(within_cents).0);
                Kind::Straight { beats: beats.0, within: Cents(within_cents.0), beside }
            }
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const GOOD: &str = r#"(
    version: 1,
    // pace: a comment is no field
    title: "Two, three, two",
    kind: Transfer,
    on: {
        "cello": (
            place: "D string, first position",
            hand: {1: "E3", 2: "F3", 3: "F#3", 4: "G3"},
            fingers: [2, 3, 2],
        ),
    },
    count: Oscillations(4),
    pace: Beat(bpm: 60, per_beat: 2),
)"#;

    fn fault(from: &str, to: &str) -> DrillFileError {
        let text = GOOD.replacen(from, to, 1);
        assert_ne!(text, GOOD, "{from}");
        Drill::from_ron(&text, "mine", "mine.ron").expect_err(to)
    }

    #[test]
    fn a_drill_is_read_as_it_is_written() {
        let drill = Drill::from_ron(GOOD, "mine", "mine.ron").expect("well written");
        let place = drill.place(Some("violin")).expect("the cello's");
        assert_eq!(place.fingers, [2, 3, 2]);
        let turns = drill.turns(place);
        assert_eq!(turns[1].midi, 54);
        assert_eq!(turns[1].count, Some(4));
        assert_eq!(drill.turn_length(3), Some(Secs(2.0)));
        assert_eq!(drill.awaited(&turns)[1].step, Cents(-100.0));
        assert_eq!(drill.rules.gap_below, Some(GapLimit::Usual));
    }

    #[test]
    fn a_gap_is_read_in_oscillations_and_as_it_used_to_be_written_in_seconds() {
        let read = |rules: &str| {
            let text =
                GOOD.replace("kind: Transfer,", &format!("kind: Transfer, rules: ({rules}),"));
            Drill::from_ron(&text, "mine", "mine.ron").map(|drill| drill.rules.gap_below)
        };
        assert_eq!(read("gap_below_s: Some(0.2)").expect("old"), Some(GapLimit::Secs(Secs(0.2))));
        assert_eq!(read("gap_below_s: None").expect("old"), None);
        let oscillations = read("gap_below_oscillations: Some(1.5)").expect("new");
        assert_eq!(oscillations, Some(GapLimit::Oscillations(1.5)));
        assert_eq!(read("gap_below_oscillations: None").expect("new"), None);
        let twice = read("gap_below_oscillations: Some(1), gap_below_s: Some(0.2)");
        assert!(twice.expect_err("twice").what.contains("given twice"));
        let wrong = read("gap_below_oscillations: Some(40)").expect_err("too many");
        assert!(wrong.what.contains("outside 0.1 to 8 oscillations"), "{wrong}");
    }

    #[test]
    fn how_far_a_finger_may_lie_beside_its_note_is_read_and_may_be_left_open() {
        let read = |rules: &str| {
            let text =
                GOOD.replace("kind: Transfer,", &format!("kind: Transfer, rules: ({rules}),"));
            Drill::from_ron(&text, "mine", "mine.ron").map(|drill| drill.rules.beside_cents)
        };
        assert_eq!(read("count_off: None").expect("unsaid"), Some(10.0));
        assert_eq!(read("beside_cents: Some(15)").expect("said"), Some(15.0));
        assert_eq!(read("beside_cents: None").expect("open"), None);
        let wrong = read("beside_cents: Some(80)").expect_err("too many");
        assert!(wrong.what.contains("outside 2 to 50 cents"), "{wrong}");
    }

    #[test]
    fn each_finger_may_have_a_count_of_its_own_and_one_for_all_sets_it_aside() {
        let text = GOOD.replace("Oscillations(4)", "Fingers({1: 4, 2: 6, 3: 3, 4: 2})");
        let drill = Drill::from_ron(&text, "mine", "mine.ron").expect("well written");
        let place = drill.place(None).expect("the cello's");
        let asked = |drill: &Drill| -> Vec<Option<u32>> {
            drill.turns(place).iter().map(|turn| turn.count).collect()
        };
        assert_eq!(asked(&drill), [Some(6), Some(3), Some(6)]);
        let cycles: Vec<f64> =
            drill.awaited(&drill.turns(place)).iter().map(|change| change.cycles).collect();
        assert_eq!(cycles, [6.0, 3.0]);
        assert_eq!(drill.turn_length(2), Some(Secs(3.0)));
        assert_eq!(drill.turn_length(3), Some(Secs(1.5)));
        assert_eq!(asked(&drill.clone().counted(Some(5))), [Some(5); 3]);
        assert_eq!(asked(&drill.clone().counted(None)), [Some(6), Some(3), Some(6)]);
    }

    #[test]
    fn every_kind_of_mistake_is_told_with_its_place_and_how_to_mend_it() {
        for (from, to, line, column, words) in [
            ("[2, 3, 2]", "[2, 5, 2]", 10, 26, "no finger 5; write 1 to 4"),
            ("[2, 3, 2]", "[2, -1, 2]", 10, 27, "no finger -1"),
            ("[2, 3, 2]", "[]", 10, 22, "write 1 to 64"),
            ("3: \"F#3\", ", "", 10, 22, "finger 3 has no note"),
            ("Oscillations(4)", "Oscillations(0)", 13, 25, "count of 0 is outside 1 to 16"),
            ("Oscillations(4)", "Beats(99)", 13, 18, "count of 99"),
            (
                "Oscillations(4)",
                "Fingers({1: 4, 2: 0, 3: 4, 4: 4})",
                13,
                30,
                "count of 0 is outside 1 to 16",
            ),
            ("Oscillations(4)", "Fingers({1: 4, 7: 4})", 13, 27, "no finger 7; write 1 to 4"),
            (
                "Oscillations(4)",
                "Fingers({1: 4, 2: 4, 3: 4})",
                13,
                12,
                "finger 4 of a hand has no count",
            ),
            ("version: 1", "version: 3", 2, 14, "this program reads version 1"),
            ("bpm: 60", "bpm: 300", 14, 21, "outside 20 to 208 beats per minute"),
            ("per_beat: 2", "per_beat: 5", 14, 35, "write 1, 2, 3, 4, 6 or 0.5"),
            ("bpm: 60, per_beat: 2", "bpm: 208, per_beat: 6", 14, 11, "outside 0.3 to 12 Hz"),
            ("\"cello\"", "\"kazoo\"", 7, 10, "write violin, viola, cello"),
            ("\"F3\"", "\"X3\"", 9, 33, "is no note"),
            ("title: \"Two, three, two\"", "title: \" \"", 4, 13, "no title"),
            ("kind: Transfer", "kind: Tranfer", 5, 11, "ranfer"),
            ("count: Oscillations(4)", "counts: Oscillations(4)", 13, 5, "counts"),
            ("place: \"D string", "place: D string", 8, 22, ""),
            ("pace: Beat(bpm: 60, per_beat: 2)", "pace: Free, kind: Transfer", 14, 17, "kind"),
        ] {
            let error = fault(from, to);
            assert_eq!((error.line, error.column), (line, column), "{to}: {error}");
            let told = error.to_string();
            assert!(told.contains(words) && told.ends_with("mine.ron"), "{told}");
        }
    }

    #[test]
    fn fields_that_do_not_go_together_are_told_too() {
        let text = GOOD
            .replace("Oscillations(4)", "Beats(2)")
            .replace("Beat(bpm: 60, per_beat: 2)", "Free");
        let error = Drill::from_ron(&text, "mine", "mine.ron").expect_err("no beat");
        assert_eq!((error.line, error.column), (13, 12), "{error}");
        let text = GOOD
            .replace("Oscillations(4)", "Fingers({1: 4, 2: 4, 3: 4, 4: 2})")
            .replace("kind: Transfer", "kind: Straight(beats: 4, within_cents: 5)");
        let error = Drill::from_ron(&text, "mine", "mine.ron").expect_err("nothing to count");
        assert_eq!((error.line, error.column), (13, 12), "{error}");
        assert!(error.what.contains("write Beats(..)"), "{error}");
        let error = fault("kind: Transfer", "kind: PaceLadder(bpm: [60, 60])");
        assert!(error.what.contains("do not rise"), "{error}");
        assert_eq!((error.line, error.column), (5, 11), "{error}");
    }
}
