//! What a drill asks: which fingers, how many oscillations, how fast, and when a round holds.

use std::collections::BTreeMap;

use tuning::{Cents, Hz, Secs};
use vibrato::Awaited;

/// Oscillations per beat that can be asked for: 1, 2, 3, 4 and 6 are those of counted drills (Castleman
/// 2001, J. American Viola Society 17(2)); a half is one oscillation over two beats.
pub const PER_BEAT: [f64; 6] = [0.5, 1.0, 2.0, 3.0, 4.0, 6.0];
/// Beats per minute that can be asked for.
pub const BPM: (f64, f64) = (20.0, 208.0);
/// Rates that can be asked for, in Hz.
pub const RATES_HZ: (f64, f64) = (0.3, 12.0);
/// Widths that can be asked for, in cents: what can be counted.
pub const WIDTHS: (f64, f64) = (6.0, 250.0);
/// Oscillations of a turn.
pub const OSCILLATIONS: (u32, u32) = (1, 16);

/// So many shuffles are tried for another order; of two regions each second one is another.
const SHUFFLES: u64 = 64;

/// A drill, ready to be played.
#[derive(Clone, Debug, PartialEq)]
pub struct Drill {
    /// The name it is called by: that of its file.
    pub name: String,
    /// What it is, in a few words.
    pub title: String,
    /// What to do, in a sentence or two.
    pub about: String,
    /// What is practised.
    pub kind: Kind,
    /// Where it is played, by instrument.
    pub places: BTreeMap<String, Fingering>,
    /// What each finger is to make.
    pub count: Count,
    /// How fast.
    pub pace: Pace,
    /// Beats that are counted in.
    pub count_in: u32,
    /// How one finger follows another.
    pub join: Join,
    /// When a round holds.
    pub rules: Rules,
}

/// What is practised.
#[derive(Clone, Debug, PartialEq)]
pub enum Kind {
    /// Counted oscillations, carried from finger to finger.
    Transfer,
    /// The same figure, faster by steps.
    PaceLadder {
        /// Beats per minute of the steps, rising.
        bpm: Vec<f64>,
        /// Whether the level changes by itself.
        moves: Moves,
    },
    /// Width by steps, at a held rate.
    WidthLadder {
        /// The rate to be held.
        rate: Hz,
        /// Widths of the steps.
        widths: Vec<Cents>,
    },
    /// Rate by steps, at a held width.
    RateLadder {
        /// The width to be held.
        width: Cents,
        /// Rates of the steps.
        rates: Vec<Hz>,
    },
    /// Regions of rate and width, one after the other.
    FieldWalk {
        /// The regions.
        regions: Vec<Region>,
        /// In which order.
        order: Order,
    },
    /// From straight to a width and back.
    Bloom {
        /// The width at its fullest.
        width: Cents,
        /// Beats to grow, to hold and to fade.
        beats: [f64; 3],
    },
    /// Another number of oscillations to each beat, one after the other on one bow: 1, 2, 3, 4, 6 and back (Castleman 2001,
    /// J. American Viola Society 17(2)).
    OneBow {
        /// Oscillations to the beat, step by step.
        per_beat: Vec<f64>,
    },
    /// Vibrate, be still, and so on, on each finger.
    StartAndStop {
        /// How often each finger starts.
        times: u32,
    },
    /// Hold still, in tune.
    Straight {
        /// Beats of each finger.
        beats: f64,
        /// How far the pitch may rise, sink or waver.
        within: Cents,
        /// How far it may lie beside its note.
        beside: Cents,
    },
}

/// Whether the level of a ladder changes by itself.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Moves {
    /// It stays until the player changes it.
    #[default]
    Stay,
    /// Up after a round that held, down after one that did not.
    WithRounds,
}

/// A region of the field of rates and widths.
#[derive(Clone, Debug, PartialEq)]
pub struct Region {
    /// What it is called.
    pub name: String,
    /// Its slowest and fastest rate.
    pub rate: (Hz, Hz),
    /// Its narrowest and widest width.
    pub width: (Cents, Cents),
}

/// The order in which regions are asked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Order {
    /// As they are written: blocked practice.
    Given,
    /// By chance from this seed: interleaved practice.
    Shuffled(u64),
}

/// Where a drill is played.
#[derive(Clone, Debug, PartialEq)]
pub struct Fingering {
    /// String and position, in words.
    pub place: String,
    /// The note under each finger, by MIDI number; the thumb is finger 0.
    pub hand: BTreeMap<u8, i32>,
    /// The fingers in order.
    pub fingers: Vec<u8>,
    /// All widths of the drill are this many times as wide here: on a long string the same width is far for a finger.
    pub width_share: f64,
}

/// What each finger is to make.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Count {
    /// So many oscillations.
    Oscillations(u32),
    /// So many oscillations for each finger, the thumb first; `None` for a finger that no hand of the drill has.
    Fingers([Option<u32>; 5]),
    /// Oscillations for so many beats.
    Beats(u32),
}

/// How fast.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Pace {
    /// As the player likes.
    Free,
    /// With the beat.
    Beat {
        /// Beats per minute, 20 to 208.
        bpm: f64,
        /// Oscillations per beat, one of [`PER_BEAT`].
        per_beat: f64,
    },
}

/// How one finger follows another.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Join {
    /// The bow goes on.
    Legato,
    /// The bow stops.
    Stop,
}

/// When a round holds. What is `None` is not asked for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rules {
    /// Each count may be off by so many oscillations.
    pub count_off: Option<u32>,
    /// No change of finger leaves a gap as long as this.
    pub gap_below: Option<GapLimit>,
    /// No finger's rate spread is above the best finger's by more than so many points of percent.
    pub spread_above_best: Option<f64>,
    /// Where oscillations are counted to a beat, the rate lies within so many percent of what the beat asks for.
    pub pace_off_pct: Option<f64>,
    /// No finger lies so far beside its note, in cents.
    pub beside_cents: Option<f64>,
}

/// How long the motion may rest at a change of finger.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub enum GapLimit {
    /// Less than half an oscillation, or than 0.35 s where that is longer: slurring at full speed, an artist's vibrato
    /// rested for about 0.33 s (Allen, Geringer and MacLeod 2009, J. of String Research 4, 27).
    #[default]
    Usual,
    /// Less than so many oscillations.
    Oscillations(f64),
    /// Less than this.
    Secs(Secs),
}

/// See [`GapLimit::Usual`].
const USUAL_GAP: (f64, Secs) = (0.5, Secs(0.35));

impl GapLimit {
    /// The limit as a time, for a motion of `rate`; the time of an artist where no rate is known.
    pub fn at(self, rate: Option<Hz>) -> Secs {
        let long = |count: f64| rate.map(|rate| count / rate.get());
        match self {
            Self::Usual => {
                let (count, secs) = USUAL_GAP;
                Secs(long(count).unwrap_or(0.0).max(secs.get()))
            }
            Self::Oscillations(count) => long(count).map_or(USUAL_GAP.1, Secs),
            Self::Secs(secs) => secs,
        }
    }
}

/// One finger's turn, as it is asked for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Asked {
    /// The finger.
    pub finger: u8,
    /// Its note.
    pub midi: i32,
    /// Oscillations to be made; `None` where they are not counted.
    pub count: Option<u32>,
    /// Rate, if one is asked for.
    pub rate: Option<(Hz, Hz)>,
    /// Width, if one is asked for.
    pub width: Option<(Cents, Cents)>,
    /// Index of the step or region this turn belongs to.
    pub step: usize,
}

#[cfg(test)]
impl Asked {
    /// A turn of which no more is asked than to be played.
    pub(crate) fn plain(finger: u8, midi: i32) -> Self {
        Self { finger, midi, count: None, rate: None, width: None, step: 0 }
    }
}

impl Pace {
    /// Oscillations per second; `None` if the pace is free.
    pub fn rate(self) -> Option<Hz> {
        match self {
            Self::Free => None,
            Self::Beat { per_beat, .. } => self.at(per_beat),
        }
    }

    /// The same with so many oscillations to a beat.
    pub fn at(self, per_beat: f64) -> Option<Hz> {
        Some(Hz(per_beat / self.beat()?.get()))
    }

    /// Length of a beat; `None` if the pace is free.
    pub fn beat(self) -> Option<Secs> {
        match self {
            Self::Free => None,
            Self::Beat { bpm, .. } => Some(Secs(60.0 / bpm)),
        }
    }
}

impl Drill {
    /// Where it is played on `instrument`, a name or the path of an instrument's file; a kind of it is played
    /// where it is (`double-bass-five`). The cello's place, or the first, where the drill has none for it.
    pub fn place(&self, instrument: Option<&str>) -> Option<&Fingering> {
        let of = |asked: &str| {
            let file = asked.rsplit(['/', '\\']).next().unwrap_or(asked);
            let name = file.strip_suffix(".ron").unwrap_or(file);
            let kind = |known: &str| {
                let rest = name.strip_prefix(known);
                rest.is_some_and(|rest| rest.is_empty() || rest.starts_with('-'))
            };
            let exact = self.places.get(name);
            exact.or_else(|| Some(self.places.iter().find(|(known, _)| kind(known))?.1))
        };
        instrument
            .and_then(of)
            .or_else(|| self.places.get("cello"))
            .or_else(|| self.places.values().next())
    }

    /// Oscillations are counted.
    pub fn counts(&self) -> bool {
        let moves = !matches!(self.kind, Kind::Straight { .. } | Kind::Bloom { .. });
        moves && !matches!((self.count, self.pace), (Count::Beats(_), Pace::Free))
    }

    /// Oscillations of a turn of `finger`; `None` where they are not counted.
    pub fn oscillations(&self, finger: u8) -> Option<u32> {
        match (self.count, self.pace) {
            _ if !self.counts() => None,
            (Count::Oscillations(count), _) => Some(count),
            (Count::Fingers(each), _) => each.get(usize::from(finger)).copied().flatten(),
            (Count::Beats(beats), Pace::Beat { per_beat, .. }) => {
                Some((f64::from(beats) * per_beat).round().max(1.0) as u32)
            }
            (Count::Beats(_), Pace::Free) => None,
        }
    }

    /// The same drill with its widths as they are asked for at a place that has them so many times as wide.
    pub(crate) fn widened(mut self, share: f64) -> Self {
        let wide = |width: &mut Cents| width.0 *= share;
        match &mut self.kind {
            Kind::WidthLadder { widths, .. } => widths.iter_mut().for_each(wide),
            Kind::RateLadder { width, .. } | Kind::Bloom { width, .. } => wide(width),
            Kind::FieldWalk { regions, .. } => regions.iter_mut().for_each(|region| {
                wide(&mut region.width.0);
                wide(&mut region.width.1);
            }),
            _ => {}
        }
        self
    }

    /// The turns of one round at `place`.
    pub fn turns(&self, place: &Fingering) -> Vec<Asked> {
        let paced = self.pace.rate().map(|rate| (rate, rate));
        let turn = |finger: u8, step: usize| {
            let (rate, width) = match &self.kind {
                Kind::WidthLadder { rate, widths } => {
                    (Some((*rate, *rate)), Some((widths[step], widths[step])))
                }
                Kind::RateLadder { width, rates } => {
                    (Some((rates[step], rates[step])), Some((*width, *width)))
                }
                Kind::FieldWalk { regions, .. } => {
                    (Some(regions[step].rate), Some(regions[step].width))
                }
                Kind::Bloom { width, .. } => (paced, Some((*width, *width))),
                Kind::OneBow { per_beat } => {
                    let rate = self.pace.at(per_beat[step]);
                    (rate.map(|rate| (rate, rate)), None)
                }
                _ => (paced, None),
            };
            let midi = place.hand.get(&finger).copied().unwrap_or(57);
            let count = match (&self.kind, self.count) {
                (Kind::OneBow { per_beat }, Count::Beats(beats)) => {
                    Some((f64::from(beats) * per_beat[step]).round().max(1.0) as u32)
                }
                _ => self.oscillations(finger),
            };
            Asked { finger, midi, count, rate, width, step }
        };
        let steps = match &self.kind {
            Kind::WidthLadder { widths, .. } => shuffled(widths.len(), Order::Given),
            Kind::RateLadder { rates, .. } => shuffled(rates.len(), Order::Given),
            Kind::FieldWalk { regions, order } => shuffled(regions.len(), *order),
            Kind::OneBow { per_beat } => shuffled(per_beat.len(), Order::Given),
            // Each finger makes all its starts before the next one plays.
            Kind::StartAndStop { times } => {
                let starts = |f| (0..*times as usize).map(move |step| (f, step));
                let all = place.fingers.iter().copied().flat_map(starts);
                return all.map(|(finger, step)| turn(finger, step)).collect();
            }
            _ => vec![0],
        };
        let each = steps.into_iter().flat_map(|step| place.fingers.iter().map(move |f| (*f, step)));
        each.map(|(finger, step)| turn(finger, step)).collect()
    }

    /// How long a turn of `finger` is to last; `None` if the pace is free.
    pub fn turn_length(&self, finger: u8) -> Option<Secs> {
        let beat = self.pace.beat()?.get();
        Some(Secs(match (&self.kind, self.count) {
            (Kind::Straight { beats, .. }, _) => beats * beat,
            (Kind::Bloom { beats, .. }, _) => beats.iter().sum::<f64>() * beat,
            (_, Count::Beats(beats)) => f64::from(beats) * beat,
            (_, Count::Oscillations(_) | Count::Fingers(_)) => {
                f64::from(self.oscillations(finger)?) / self.pace.rate()?.get()
            }
        }))
    }

    /// The changes of finger within a round, for the ear.
    pub fn awaited(&self, turns: &[Asked]) -> Vec<Awaited> {
        // The finger stays where it is, and only its pace changes.
        if matches!(self.kind, Kind::OneBow { .. }) {
            return Vec::new();
        }
        turns
            .windows(2)
            .map(|pair| Awaited {
                step: Cents(100.0 * f64::from(pair[1].midi - pair[0].midi)),
                cycles: f64::from(pair[0].count.unwrap_or(1)),
            })
            .collect()
    }

    /// The beat of a turn to which a bloom swells, from 1; `None` where it is full between two beats, and for other
    /// drills.
    pub fn strong_beat(&self) -> Option<u32> {
        match self.kind {
            Kind::Bloom { beats: [grow, ..], .. } if grow.fract() == 0.0 => Some(grow as u32 + 1),
            _ => None,
        }
    }

    /// What its regions are shuffled by; `None` where they come as they are written.
    pub fn shuffle(&self) -> Option<u64> {
        match self.kind {
            Kind::FieldWalk { order: Order::Shuffled(seed), .. } => Some(seed),
            _ => None,
        }
    }

    /// The same drill with its regions shuffled by this seed, where they are shuffled.
    pub fn shuffled_by(mut self, with: u64) -> Self {
        if let Kind::FieldWalk { order: Order::Shuffled(seed), .. } = &mut self.kind {
            *seed = with;
        }
        self
    }

    /// The same drill with its regions in another order than now, where they are shuffled; `chance` is any number.
    pub fn shuffled_anew(self, chance: u64) -> Self {
        let (Kind::FieldWalk { regions, .. }, Some(seed)) = (&self.kind, self.shuffle()) else {
            return self;
        };
        let order = |seed| shuffled(regions.len(), Order::Shuffled(seed));
        let mut seeds = (0..SHUFFLES).map(|number| chance.wrapping_add(number));
        let other = seeds.find(|other| order(*other) != order(seed));
        self.shuffled_by(other.unwrap_or(chance))
    }

    /// Whether each turn ends with a stop of the bow.
    pub fn stops(&self) -> bool {
        self.join == Join::Stop
    }
}

/// Numbers from 0, in the order asked for.
fn shuffled(count: usize, order: Order) -> Vec<usize> {
    let mut numbers: Vec<usize> = (0..count).collect();
    if let Order::Shuffled(seed) = order {
        // Fisher and Yates's shuffle, over a generator that is the same everywhere.
        let mut state = seed;
        for last in (1..count).rev() {
            state = state
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            let at = (state >> 33) as usize % (last + 1);
            numbers.swap(last, at);
        }
    }
    numbers
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn beats_and_oscillations_make_the_rates_of_counted_drills() {
        // Castleman 2001: quarter = 60 with 1, 2, 3, 4, 6; 2 a beat at 120 and 192.
        for (bpm, per_beat, hz) in [
            (60.0, 1.0, 1.0),
            (60.0, 2.0, 2.0),
            (60.0, 3.0, 3.0),
            (60.0, 4.0, 4.0),
            (60.0, 6.0, 6.0),
            (120.0, 2.0, 4.0),
            (192.0, 2.0, 6.4),
            (60.0, 0.5, 0.5),
        ] {
            assert_eq!(Pace::Beat { bpm, per_beat }.rate(), Some(Hz(hz)));
        }
    }

    #[test]
    fn a_walk_is_shuffled_anew_into_another_order_that_its_seed_gives_again() {
        let region = |name: &str| Region {
            name: name.to_owned(),
            rate: (Hz(4.0), Hz(5.0)),
            width: (Cents(20.0), Cents(40.0)),
        };
        for count in [2, 4] {
            let text = include_str!("../../../assets/drills/field-walk.ron");
            let mut drill = Drill::from_ron(text, "walk", "walk.ron").expect("shipped");
            drill.kind = Kind::FieldWalk {
                regions: (0..count).map(|n| region(&n.to_string())).collect(),
                order: Order::Shuffled(7),
            };
            let order = |drill: &Drill| -> Vec<usize> {
                let turns = drill.turns(&drill.places["cello"]);
                turns.iter().map(|turn| turn.step).collect()
            };
            let written = drill.clone();
            let mut orders = vec![order(&drill)];
            for chance in 0..40 {
                drill = drill.shuffled_anew(chance);
                let seed = drill.shuffle().expect("it is shuffled");
                assert_eq!(order(&written.clone().shuffled_by(seed)), order(&drill));
                assert_ne!(orders.last(), Some(&order(&drill)), "another one");
                orders.push(order(&drill));
            }
            orders.sort();
            orders.dedup();
            assert!(orders.len() == 2 || orders.len() > 12, "{}", orders.len());
        }
        let text = include_str!("../../../assets/drills/bloom.ron");
        let bloom = Drill::from_ron(text, "bloom", "bloom.ron").expect("shipped");
        assert_eq!(bloom.clone().shuffled_anew(3), bloom);
        assert_eq!(bloom.strong_beat(), Some(3), "two beats to grow");
        assert_eq!(bloom.shuffle(), None);
    }

    #[test]
    fn a_shuffle_is_an_order_of_all_and_the_same_again() {
        let once = shuffled(9, Order::Shuffled(4));
        assert_eq!(once, shuffled(9, Order::Shuffled(4)));
        assert_ne!(once, shuffled(9, Order::Given));
        let mut all = once;
        all.sort_unstable();
        assert_eq!(all, shuffled(9, Order::Given));
    }
}
