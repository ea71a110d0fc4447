//! Rounds of drills as a player might play them: made by seed, every turn's oscillations known.

use crate::corpus::Draw;
use coach::{Count, Drill, Fingering, GapLimit, Kind, Pace, Rules};
use std::collections::BTreeMap;
use tone::{Factor, Join, NoteSpec, Phase, Room, Shape, Spec, VibratoSpec};
use tuning::{Cents, Hz, Secs, Temperament, Tuning};

/// Orders of the fingers: those of the shipped transfers.
pub const ORDERS: [&[u8]; 5] = [&[2], &[2, 3, 2], &[2, 3, 4, 3, 2], &[2, 1, 2], &[1, 2, 3, 4]];
/// Rates and widths of the rounds, in Hz and cents.
const RATES_HZ: (f64, f64) = (0.5, 8.0);
const WIDTHS: (f64, f64) = (8.0, 120.0);
/// No turn is shorter or longer than this, in seconds: nobody changes fingers faster, and slower ones
/// only cost time.
const TURN_SECS: (f64, f64) = (0.35, 5.0);
/// Bow noise, and the room, as the bar asks for them.
const NOISE_DB: f64 = 25.0;
const ROOM_T60_SECS: f64 = 0.8;
/// Direct sound over the room's: a microphone within about 60 cm.
const ROOM_DRR_DB: f64 = 10.0;
/// An uneven player: successive cycles differ by 18 % in rate and 10 % in width on average (Small, in
/// Seashore). The mean difference of two normal values is 2/√π of their standard deviation.
pub const UNEVEN_PCT: (f64, f64) = (18.0 / 1.128, 10.0 / 1.128);
/// The finger changes so many cycles early or late at most.
const OFF_COUNT: f64 = 0.15;
/// Silence before the first note, in seconds.
const LEAD_SECS: f64 = 0.4;

/// How one finger follows another.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Change {
    /// The bow and the motion go on.
    Through,
    /// The bow goes on, the motion stops for so many seconds around the change.
    Gap(f64),
    /// The bow stops for so many seconds, and the motion with it.
    Stop(f64),
}

/// What one finger is to play.
#[derive(Clone, Debug)]
pub struct Wish {
    /// The finger.
    pub finger: u8,
    /// The note.
    pub midi: i32,
    /// Pressed beside the note, in cents.
    pub beside: f64,
    /// Oscillations per second.
    pub rate_hz: f64,
    /// Crest to trough, in cents.
    pub width: f64,
    /// Standard deviations of period and width, in percent.
    pub jitter_pct: (f64, f64),
    /// The course of an oscillation.
    pub shape: Shape,
    /// The centre rises by this much from the start of the turn to its end.
    pub rise: f64,
    /// Factors of rate and width from the start of the turn to its end, where they change within it.
    pub tightens: Option<(f64, f64)>,
    /// Oscillations made.
    pub cycles: f64,
    /// How it goes on to the next finger.
    pub then: Change,
}

/// One finger's turn, as it was played.
#[derive(Clone, Debug, PartialEq)]
pub struct TrueTurn {
    /// The finger.
    pub finger: u8,
    /// Its note.
    pub midi: i32,
    /// Start and end of its sound, in seconds.
    pub start: f64,
    /// See `start`.
    pub end: f64,
    /// Advance of the motion, in cycles.
    pub cycles: f64,
    /// Time without motion at the change to the next finger.
    pub gap: Option<f64>,
    /// When each of its whole oscillations ended.
    pub ends: Vec<f64>,
}

/// One round: what is played, and what is true of it.
#[derive(Clone, Debug)]
pub struct Round {
    /// The sound.
    pub spec: Spec,
    /// The turns.
    pub turns: Vec<TrueTurn>,
    /// Oscillations asked of each finger.
    pub asked: u32,
    /// Nominal rate and width.
    pub rate_hz: f64,
    /// See `rate_hz`.
    pub width: f64,
    /// How the fingers follow each other.
    pub change: Change,
    /// All fingers on the same note.
    pub same_pitch: bool,
    /// The pace it was asked at; `None`: free.
    pub pace_hz: Option<f64>,
    /// What the sound suffers from, in words.
    pub what: String,
}

impl Round {
    /// The drill that was played.
    pub fn drill(&self) -> Drill {
        drill(&self.turns, self.asked, self.pace_hz, matches!(self.change, Change::Stop(_)))
    }
}

/// A drill of these fingers on the notes of a hand, which asks for the count and for gaps below 0.2 s.
pub fn made_drill(
    kind: Kind,
    hand: impl IntoIterator<Item = (u8, i32)>,
    fingers: Vec<u8>,
    count: Count,
    pace: Pace,
    join: coach::Join,
) -> Drill {
    let hand: BTreeMap<u8, i32> = hand.into_iter().collect();
    let place = Fingering { place: String::new(), hand, fingers, width_share: 1.0 };
    Drill {
        name: "made".to_owned(),
        title: "Made".to_owned(),
        about: String::new(),
        kind,
        places: [("cello".to_owned(), place)].into(),
        count,
        pace,
        count_in: 4,
        join,
        rules: Rules {
            count_off: Some(0),
            gap_below: Some(GapLimit::Secs(Secs(0.2))),
            spread_above_best: None,
            pace_off_pct: Some(10.0),
            beside_cents: Some(10.0),
        },
    }
}

/// A transfer over these turns, with the usual rules.
fn drill(turns: &[TrueTurn], asked: u32, pace_hz: Option<f64>, stop: bool) -> Drill {
    let hand = turns.iter().map(|turn| (turn.finger, turn.midi));
    let fingers = turns.iter().map(|turn| turn.finger).collect();
    let pace = pace_hz.map_or(Pace::Free, |hz| {
        let fits = |n: &&f64| (coach::BPM.0..=coach::BPM.1).contains(&(60.0 * hz / **n));
        let per_beat = coach::PER_BEAT.iter().find(fits).copied().unwrap_or(1.0);
        Pace::Beat { bpm: 60.0 * hz / per_beat, per_beat }
    });
    let join = if stop { coach::Join::Stop } else { coach::Join::Legato };
    let mut drill =
        made_drill(Kind::Transfer, hand, fingers, Count::Oscillations(asked), pace, join);
    drill.rules.spread_above_best = Some(10.0);
    drill
}

/// Plays wishes one after the other, on one string.
pub(crate) struct Player<'a> {
    draw: &'a mut Draw,
    tuning: f64,
    /// The sound so far.
    pub spec: Spec,
    /// The turns so far.
    pub turns: Vec<TrueTurn>,
    time: f64,
    /// Where in its cycle the motion goes on; `None`: it sets out anew.
    phase: Option<f64>,
    /// Rest of the gap that lies in the next turn.
    delay: f64,
    detached: bool,
}

impl<'a> Player<'a> {
    /// A player before the first note.
    pub(crate) fn new(draw: &'a mut Draw, snr_db: f64) -> Self {
        let spec = draw.sound(Vec::new(), snr_db);
        Self {
            tuning: draw.tuning(),
            draw,
            spec,
            turns: Vec::new(),
            time: LEAD_SECS,
            phase: None,
            delay: 0.0,
            detached: true,
        }
    }

    /// Lets `secs` pass in silence; the next note is bowed anew.
    pub(crate) fn rest(&mut self, secs: f64) {
        self.time += secs;
        (self.phase, self.delay, self.detached) = (None, 0.0, true);
    }

    /// Plays one turn; the note is in tune with the player's own tuning to ±`beside` cents.
    pub(crate) fn play(&mut self, wish: &Wish) {
        let mut note = self.draw.note(self.time, 1.0, wish.midi, self.tuning);
        // The finger falls where it is asked to, not where chance would have it.
        let in_tune = 100.0 * f64::from(wish.midi - 69) + self.tuning;
        note.f0 = Hz(440.0).raised(Cents(in_tune + wish.beside - 0.5 * wish.rise));
        note.drift = Cents(wish.rise);
        note.wander = Cents(1.0);
        if !self.detached {
            note.join = Join::Legato;
        }
        let upward = self.draw.yes();
        note.vibrato = Some(VibratoSpec {
            shape: wish.shape,
            rate_jitter_pct: wish.jitter_pct.0,
            width_jitter_pct: wish.jitter_pct.1,
            phase: self.phase.map(|phase| share_of_period(wish.shape, phase)),
            delay: Secs(if self.phase.is_none() { self.delay } else { 0.0 }),
            upward,
            contour: wish.tightens.map_or_else(Vec::new, |(rate, width)| {
                let end = wish.cycles / (wish.rate_hz * 0.5 * (1.0 + rate));
                vec![
                    Factor { time: Secs(0.0), rate: 1.0, width: 1.0 },
                    Factor { time: Secs(end), rate, width },
                ]
            }),
            ..VibratoSpec::regular(Hz(wish.rate_hz), Cents(wish.width))
        });
        // Long enough to see where the motion will be; cut to length at once.
        note.length = Secs(2.5 * (wish.cycles + 2.0) / wish.rate_hz + self.delay);
        let number = self.spec.lines[0].notes.len();
        self.spec.lines[0].notes.push(note);
        let from = self.phase.unwrap_or(if upward { 0.25 } else { -0.25 });
        let to = match wish.then {
            Change::Through => from + wish.cycles,
            // The motion ends on the straight pitch.
            Change::Gap(_) | Change::Stop(_) => {
                (2.0 * (from + wish.cycles - 0.25)).round() / 2.0 + 0.25
            }
        };
        let phase = Phase::of(&self.spec, 0, number);
        let when = |cycles: f64| phase.as_ref().map_or(1.0, |phase| phase.when(cycles).get());
        let length = when(to);
        let whole = (to - from + 1e-6).floor() as u32;
        let ends = (1..=whole).map(|k| self.time + when(from + f64::from(k))).collect();
        let notes = &mut self.spec.lines[0].notes;
        notes[number].length = Secs(length);
        let (start, mut end) = (self.time, self.time + length);
        let gap = match wish.then {
            Change::Through => {
                (self.phase, self.delay, self.detached) = (Some(to.rem_euclid(1.0)), 0.0, false);
                None
            }
            Change::Gap(gap) => {
                let tail = gap * self.draw.even(0.25, 0.75);
                let straight = NoteSpec {
                    start: Secs(end),
                    length: Secs(tail),
                    f0: notes[number].f0.raised(Cents(wish.rise)),
                    join: Join::Legato,
                    attack: Secs(0.01),
                    release: Secs(0.01),
                    drift: Cents(0.0),
                    vibrato: None,
                    ..notes[number].clone()
                };
                notes.push(straight);
                end += tail;
                (self.phase, self.delay, self.detached) = (None, gap - tail, false);
                Some(gap)
            }
            Change::Stop(gap) => {
                (self.phase, self.delay, self.detached) = (None, 0.0, true);
                Some(gap)
            }
        };
        self.turns.push(TrueTurn {
            finger: wish.finger,
            midi: wish.midi,
            start,
            end,
            cycles: to - from,
            gap,
            ends,
        });
        self.time = end
            + match wish.then {
                Change::Stop(gap) => gap,
                _ => 0.0,
            };
    }

    /// The sound and the turns; nothing follows the last one.
    pub(crate) fn done(mut self) -> (Spec, Vec<TrueTurn>) {
        if let Some(last) = self.turns.last_mut() {
            last.gap = None;
        }
        (self.spec, self.turns)
    }
}

/// The share of its period after which a motion has come to a phase: a skewed one reaches its crest, half
/// a cycle behind its trough, sooner or later than half-way.
fn share_of_period(shape: Shape, phase: f64) -> f64 {
    let Shape::Skewed(rise) = shape else {
        return phase;
    };
    if phase < 0.5 { 2.0 * phase * rise } else { rise + (2.0 * phase - 1.0) * (1.0 - rise) }
}

/// Notes for fingers 1 to 4 from `lowest` up, a semitone or a whole tone apart each.
fn hand(draw: &mut Draw, lowest: i32) -> [i32; 4] {
    let mut midi = lowest;
    [0; 4].map(|_| {
        let here = midi;
        midi += draw.whole(1, 2);
        here
    })
}

/// `count` rounds to be counted: rates 0.5 to 8 Hz and widths 8 to 120 cents spread evenly over their
/// logarithms, 25 dB bow noise; half of the players uneven, a third jerky, a third in a room.
pub fn counted_rounds(seed: u64, count: usize) -> Vec<Round> {
    let mut draw = Draw::new(seed, "drill counted");
    (0..count).map(|index| counted_round(&mut draw, index)).collect()
}

fn counted_round(draw: &mut Draw, index: usize) -> Round {
    let log_even =
        |draw: &mut Draw, (low, high): (f64, f64)| low * (high / low).powf(draw.even(0.0, 1.0));
    let order = ORDERS[index % ORDERS.len()];
    let rate_hz = log_even(draw, RATES_HZ);
    let width = log_even(draw, WIDTHS);
    let least = (TURN_SECS.0 * rate_hz).ceil().max(1.0) as i32;
    let most = ((TURN_SECS.1 * rate_hz).floor() as i32).clamp(least, 12);
    let asked = draw.whole(least, most.max(least));
    let uneven = draw.yes();
    let jerky = draw.whole(0, 2) == 0;
    let room = draw.whole(0, 2) == 0;
    let shape = match (jerky, draw.yes()) {
        (false, _) => Shape::Sine,
        (true, true) => Shape::Flattened(draw.even(1.5, 3.0)),
        (true, false) => Shape::Skewed(if draw.yes() { 0.3 } else { 0.7 }),
    };
    let lowest = draw.whole(38, 79);
    // Only a change by the break in the motion, or by the bow, can be told on one note.
    let kind = draw.whole(0, 10);
    let gap = draw.even(0.15, 0.6);
    let gap_is_seen = gap * rate_hz > 1.0;
    let (change, same_pitch) = match kind {
        0..=4 => (Change::Through, false),
        5..=7 => (Change::Gap(gap), false),
        8 => (Change::Stop(gap), draw.yes()),
        // One note through, told apart by the beat that the player keeps to.
        9 => (Change::Through, true),
        _ if gap_is_seen => (Change::Gap(gap), true),
        _ => (Change::Gap(gap), false),
    };
    let to_the_beat = same_pitch && change == Change::Through;
    let uneven = uneven && !to_the_beat;
    let pace_hz =
        if to_the_beat { Some(rate_hz) } else { draw.yes().then(|| rate_hz * draw.even(0.9, 1.1)) };
    let hand = if same_pitch { [lowest; 4] } else { hand(draw, lowest) };
    let mut player = Player::new(draw, NOISE_DB);
    for (number, &finger) in order.iter().enumerate() {
        // One finger in ten miscounts.
        let miscount = match player.draw.whole(0, 19) {
            _ if to_the_beat => 0.0,
            0 => 1.0,
            1 if asked > 1 => -1.0,
            _ => 0.0,
        };
        let off = player.draw.even(-OFF_COUNT, OFF_COUNT);
        let off = if to_the_beat { 0.0 } else { off };
        let mut near = || (player.draw.even(0.8, 1.25) * gap).clamp(0.15, 0.6);
        let then = match change {
            Change::Gap(_) => Change::Gap(near()),
            Change::Stop(_) => Change::Stop(near()),
            Change::Through => Change::Through,
        };
        let last = number + 1 == order.len();
        let beside = player.draw.even(-8.0, 8.0);
        player.play(&Wish {
            finger,
            midi: hand[usize::from(finger) - 1],
            beside,
            rate_hz,
            width,
            jitter_pct: if uneven { UNEVEN_PCT } else { (2.0, 3.0) },
            shape,
            rise: 0.0,
            tightens: None,
            cycles: f64::from(asked) + miscount + off,
            then: if last { Change::Stop(0.2) } else { then },
        });
    }
    let (mut spec, turns) = player.done();
    if room {
        spec.room = Some(Room { t60: Secs(ROOM_T60_SECS), drr_db: ROOM_DRR_DB });
    }
    Round {
        spec,
        turns,
        asked: asked as u32,
        rate_hz,
        width,
        change,
        same_pitch,
        pace_hz,
        what: format!(
            "{}{}{}",
            if uneven { "uneven " } else { "" },
            if jerky { "jerky " } else { "" },
            if room { "room" } else { "" }
        ),
    }
}

/// Where in its course a motion rests at a change of finger, and how it comes to rest and sets out again.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum RestPlace {
    /// At a crest: it comes to rest and sets out without speed, as a swing turns.
    Crest,
    /// At a trough, likewise.
    Trough,
    /// In the middle: it slows down to rest over its last quarter, and sets out slowly over its first.
    Gentle,
    /// In the middle: it stops at full speed, and sets out at full speed.
    Sharp,
}

impl RestPlace {
    /// All of them.
    pub const ALL: [Self; 4] = [Self::Crest, Self::Trough, Self::Gentle, Self::Sharp];
}

/// Rates, widths and rests of [`resting_rounds`], in Hz, cents and seconds.
const RESTING_RATES_HZ: (f64, f64) = (1.0, 5.0);
const RESTING_WIDTHS: (f64, f64) = (20.0, 80.0);
const REST_SECS: (f64, f64) = (0.15, 0.6);
/// Oscillations asked of each finger there.
const RESTING_COUNT: u32 = 4;

/// `count` rounds in which the motion rests at each change of finger, and before the first turn and after the last, at
/// the place told with each.
pub fn resting_rounds(seed: u64, count: usize) -> Vec<(RestPlace, Round)> {
    let mut draw = Draw::new(seed, "drill resting");
    let round = |index: usize| {
        let place = RestPlace::ALL[index % RestPlace::ALL.len()];
        (place, resting_round(&mut draw, index / RestPlace::ALL.len(), place))
    };
    (0..count).map(round).collect()
}

fn resting_round(draw: &mut Draw, index: usize, place: RestPlace) -> Round {
    let order = ORDERS[1 + index % (ORDERS.len() - 1)];
    let (low, high) = RESTING_RATES_HZ;
    let rate_hz = low * (high / low).powf(draw.even(0.0, 1.0));
    let width = draw.even(RESTING_WIDTHS.0, RESTING_WIDTHS.1);
    let lowest = draw.whole(45, 79);
    let hand = hand(draw, lowest);
    let mut player = RestingPlayer::new(draw, place, (rate_hz, width));
    for (number, finger) in order.iter().enumerate() {
        player.play(*finger, hand[usize::from(*finger) - 1], number + 1 == order.len());
    }
    let RestingPlayer { spec, turns, .. } = player;
    Round {
        spec,
        turns,
        asked: RESTING_COUNT,
        rate_hz,
        width,
        change: Change::Gap(REST_SECS.0),
        same_pitch: false,
        pace_hz: None,
        what: format!("{place:?}"),
    }
}

/// Plays turns of one motion that rests between them, on one string with one bow.
struct RestingPlayer<'a> {
    draw: &'a mut Draw,
    place: RestPlace,
    rate_hz: f64,
    width: f64,
    tuning: f64,
    spec: Spec,
    turns: Vec<TrueTurn>,
    time: f64,
    /// Rest before the next turn.
    rest: f64,
}

impl<'a> RestingPlayer<'a> {
    fn new(draw: &'a mut Draw, place: RestPlace, (rate_hz, width): (f64, f64)) -> Self {
        let spec = draw.sound(Vec::new(), NOISE_DB);
        let (tuning, rest) = (draw.tuning(), 0.5 * draw.even(REST_SECS.0, REST_SECS.1));
        let turns = Vec::new();
        Self { draw, place, rate_hz, width, tuning, spec, turns, time: LEAD_SECS, rest }
    }

    /// Adds a note that lies `beside` cents from `like`, and goes on where that one ends.
    fn add(&mut self, like: &NoteSpec, beside: f64, secs: f64, vibrato: Option<VibratoSpec>) {
        let notes = &mut self.spec.lines[0].notes;
        let first = notes.is_empty();
        notes.push(NoteSpec {
            start: Secs(self.time),
            length: Secs(secs),
            f0: like.f0.raised(Cents(beside)),
            join: if first { like.join } else { Join::Legato },
            // A part may be shorter than the attack and the release of a whole note.
            attack: Secs(like.attack.get().min(secs)),
            release: Secs(like.release.get().min(secs)),
            vibrato,
            ..like.clone()
        });
        self.time += secs;
    }

    fn play(&mut self, finger: u8, midi: i32, last: bool) {
        let start = self.time;
        let mut like = self.draw.note(start, 1.0, midi, self.tuning);
        like.wander = Cents(1.0);
        let upward = self.draw.yes();
        // Where the motion is when it sets out; a gentle one sets out by itself, from the middle.
        let (level, phase) = match (self.place, upward) {
            (RestPlace::Crest, _) => (0.5 * self.width, Some(0.5)),
            (RestPlace::Trough, _) => (-0.5 * self.width, Some(0.0)),
            (RestPlace::Sharp, upward) => (0.0, Some(if upward { 0.25 } else { 0.75 })),
            (RestPlace::Gentle, _) => (0.0, None),
        };
        self.add(&like, level, self.rest, None);
        let vibrato = VibratoSpec {
            phase,
            upward,
            rate_jitter_pct: 2.0,
            ..VibratoSpec::regular(Hz(self.rate_hz), Cents(self.width))
        };
        let number = self.spec.lines[0].notes.len();
        let begin = self.time;
        let long = 2.0 * f64::from(RESTING_COUNT + 1) / self.rate_hz;
        self.add(&like, 0.0, long, Some(vibrato));
        let from = phase.unwrap_or(if upward { 0.25 } else { -0.25 });
        let gentle = self.place == RestPlace::Gentle;
        // The last quarter of a gentle one is a swing of its own: half as wide, twice as fast.
        let to = from + f64::from(RESTING_COUNT);
        let bowed = if gentle { to - 0.25 } else { to };
        let phase = Phase::of(&self.spec, 0, number);
        let when = |cycles: f64| phase.as_ref().map_or(1.0, |phase| phase.when(cycles).get());
        let ends = (1..=RESTING_COUNT).map(|k| begin + when(from + f64::from(k))).collect();
        let length = when(bowed);
        self.spec.lines[0].notes[number].length = Secs(length);
        self.time = begin + length;
        if gentle {
            let crest = bowed.rem_euclid(1.0) == 0.5;
            let quarter = VibratoSpec {
                phase: Some(if crest { 0.5 } else { 0.0 }),
                ..VibratoSpec::regular(Hz(2.0 * self.rate_hz), Cents(0.5 * self.width))
            };
            let beside = if crest { 0.25 } else { -0.25 } * self.width;
            self.add(&like, beside, 0.25 / self.rate_hz, Some(quarter));
        }
        let gap = self.draw.even(REST_SECS.0, REST_SECS.1);
        let tail = gap * self.draw.even(0.3, 0.7);
        self.add(&like, level, tail, None);
        self.rest = gap - tail;
        self.turns.push(TrueTurn {
            finger,
            midi,
            start,
            end: self.time,
            cycles: f64::from(RESTING_COUNT),
            gap: (!last).then_some(gap),
            ends,
        });
    }
}

/// What a player does wrong in a round.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Fault {
    /// The motion stops at one change, for 0.3 to 0.6 s.
    Gap,
    /// One finger lies 15 to 30 cents above its note.
    Sharp,
    /// One finger lies 15 to 30 cents below its note.
    Flat,
    /// Another note is played on one finger, one to five semitones off and none of its neighbours in the figure.
    WrongNote,
    /// The round goes 20 to 60 % faster than its beat.
    Hurrying,
    /// The round goes 17 to 40 % slower than its beat.
    Dragging,
    /// From round to round the rate rises by 25 to 40 % and the width falls by 20 to 35 %.
    Tightening,
    /// The same within each note.
    TighteningWithin,
    /// One finger starts low and rises by 20 to 35 cents within its turn.
    FlatStart,
    /// One finger moves unevenly, and in a shape that is no sine.
    Jerk,
    /// From round to round the width falls to a half and the beat becomes uneven.
    Tiring,
}

impl Fault {
    /// All of them.
    pub const ALL: [Self; 11] = [
        Self::Gap,
        Self::Sharp,
        Self::Flat,
        Self::WrongNote,
        Self::Hurrying,
        Self::Dragging,
        Self::Tightening,
        Self::TighteningWithin,
        Self::FlatStart,
        Self::Jerk,
        Self::Tiring,
    ];
}

/// Where a good player means the notes to lie.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Meant {
    /// On the tempered notes, with the motion around them.
    Usual,
    /// In pure fifths from the player's own A.
    PureFifths,
    /// The crests on the notes, the motion below them.
    Below,
}

/// Rounds of one sitting, one after the other in one sound.
#[derive(Clone, Debug)]
pub struct Sitting {
    /// The sound.
    pub spec: Spec,
    /// The drill.
    pub drill: Drill,
    /// The player's own A, which is the one that notes are held against.
    pub tuning: Tuning,
    /// Rounds in it.
    pub rounds: usize,
}

/// Rounds of a sitting in which tiring can show, and silence between them, in seconds.
const SITTING: usize = 5;
const BETWEEN_SECS: f64 = 2.5;

/// `count` sittings with one fault, or with none: 3.5 to 7 Hz, 20 to 70 cents, a player whose periods vary
/// by 4 % and widths by 6 %, whose fingers lie within 3 cents and whose motion may rest up to 0.12 s at a
/// change; 30 dB. Five rounds each where the fault is tiring or `long` is asked for, one otherwise.
pub fn sittings(seed: u64, fault: Option<Fault>, long: bool, count: usize) -> Vec<Sitting> {
    let mut draw = Draw::new(seed, &format!("drill fault {fault:?} {long}"));
    (0..count).map(|index| sitting(&mut draw, index, fault, long, Meant::Usual)).collect()
}

/// `count` sittings of one round without a fault, whose notes are meant to lie so.
pub fn meant_sittings(seed: u64, meant: Meant, count: usize) -> Vec<Sitting> {
    let mut draw = Draw::new(seed, &format!("drill meant {meant:?}"));
    (0..count).map(|index| sitting(&mut draw, index, None, false, meant)).collect()
}

fn sitting(
    draw: &mut Draw,
    index: usize,
    fault: Option<Fault>,
    long: bool,
    meant: Meant,
) -> Sitting {
    let temperament = match meant {
        Meant::PureFifths => Temperament::PureFifths,
        Meant::Usual | Meant::Below => Temperament::Equal,
    };
    let usual = Tuning::default();
    // How far a finger lies from the tempered note where it is meant to.
    let lies = |midi: i32, width: f64| match meant {
        Meant::Below => -0.5 * width,
        Meant::Usual | Meant::PureFifths => {
            let own = Tuning { temperament, ..usual };
            own.frequency(midi).cents_above(usual.frequency(midi)).get()
        }
    };
    let order = ORDERS[1 + index % (ORDERS.len() - 1)];
    let (rate_hz, width) = (draw.even(3.5, 7.0), draw.even(20.0, 70.0));
    let asked = draw.whole(4, 8);
    let lowest = draw.whole(38, 79);
    let hand = hand(draw, lowest);
    let mut own: Vec<u8> = order.to_vec();
    own.sort_unstable();
    own.dedup();
    // The finger, and the change, that go wrong.
    let wrong = own[draw.whole(0, own.len() as i32 - 1) as usize];
    let wrong_change = draw.whole(0, order.len() as i32 - 2) as usize;
    let asked = if fault == Some(Fault::TighteningWithin) { asked + 6 } else { asked };
    let (much, skew) = (draw.even(0.0, 1.0), draw.yes());
    let beside = own.iter().map(|_| draw.even(-3.0, 3.0)).collect::<Vec<f64>>();
    let over_rounds = matches!(fault, Some(Fault::Tiring | Fault::Tightening));
    let rounds = if long || over_rounds { SITTING } else { 1 };
    let way = if draw.yes() { 1 } else { -1 };
    let mut other_note = draw.whole(1, 5) * way;
    // The same note twice in a row would be one note.
    let note = |number: usize| order.get(number).map(|finger| hand[usize::from(*finger) - 1]);
    let around = [note(wrong_change.wrapping_sub(1)), note(wrong_change + 1)];
    while let Some(here) = note(wrong_change)
        && around.contains(&Some(here + other_note))
    {
        other_note += way;
    }
    let mut player = Player::new(draw, 30.0);
    let own_a = player.tuning;
    for round in 0..rounds {
        let tighter = if fault == Some(Fault::Tightening) {
            round as f64 / (SITTING - 1) as f64
        } else {
            0.0
        };
        let faster = 1.0 + (0.25 + 0.15 * much) * tighter;
        let narrower = 1.0 - (0.2 + 0.15 * much) * tighter;
        let tired =
            if fault == Some(Fault::Tiring) { round as f64 / (SITTING - 1) as f64 } else { 0.0 };
        for (number, &finger) in order.iter().enumerate() {
            let it = finger == wrong;
            let place = own.iter().position(|f| *f == finger).unwrap_or(0);
            let jerky = it && fault == Some(Fault::Jerk);
            let last = number + 1 == order.len();
            let short = player.draw.even(-0.12, 0.12);
            let then = match fault {
                _ if last => Change::Stop(0.0),
                Some(Fault::Gap) if number == wrong_change => Change::Gap(0.3 + 0.3 * much),
                _ if short > 0.09 => Change::Gap(short),
                _ => Change::Through,
            };
            let beside_note = match fault {
                Some(Fault::Sharp) if it => 15.0 + 15.0 * much,
                Some(Fault::Flat) if it => -15.0 - 15.0 * much,
                _ => 0.0,
            };
            // One finger falls on another note in its place.
            let other = match fault {
                Some(Fault::WrongNote) if number == wrong_change => other_note,
                _ => 0,
            };
            let low = if it && fault == Some(Fault::FlatStart) { 20.0 + 15.0 * much } else { 0.0 };
            let midi = hand[usize::from(finger) - 1] + other;
            player.play(&Wish {
                finger,
                midi,
                beside: beside[place] + beside_note + lies(midi, width),
                rate_hz: rate_hz * faster,
                width: width * (1.0 - 0.5 * tired) * narrower,
                tightens: if fault == Some(Fault::TighteningWithin) {
                    Some((1.25 + 0.15 * much, 0.8 - 0.15 * much))
                } else {
                    None
                },
                jitter_pct: if jerky {
                    (22.0 + 6.0 * much, 25.0)
                } else {
                    (4.0 + 12.0 * tired, 6.0 + 12.0 * tired)
                },
                shape: match (jerky, skew) {
                    (false, _) => Shape::Sine,
                    (true, true) => Shape::Skewed(0.25),
                    (true, false) => Shape::Flattened(2.5),
                },
                rise: low,
                cycles: f64::from(asked),
                then,
            });
        }
        player.rest(BETWEEN_SECS);
    }
    let (spec, turns) = player.done();
    let mut round = turns[..order.len()].to_vec();
    for turn in &mut round {
        turn.midi = hand[usize::from(turn.finger) - 1];
    }
    let pace_hz = match fault {
        Some(Fault::Hurrying) => Some(rate_hz / (1.2 + 0.4 * much)),
        Some(Fault::Dragging) => Some(rate_hz / (0.6 + 0.23 * much)),
        _ => index.is_multiple_of(2).then_some(rate_hz),
    };
    let tuning = Tuning { a4: Hz(440.0).raised(Cents(own_a)), temperament };
    Sitting { drill: drill(&round, asked as u32, pace_hz, false), tuning, spec, rounds }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_motion_that_rests_stays_where_it_rests_and_moves_as_often_as_it_is_said_to() {
        for (place, round) in resting_rounds(5, 8) {
            let truth = round.spec.render().expect("playable").truth;
            for pair in round.turns.windows(2) {
                // What is played in the last 50 ms before the finger changes: its own level, give or take the wander.
                let (from, to) = (pair[0].end - 0.05, pair[0].end - 0.005);
                let frames = (from / 0.005) as usize..(to / 0.005) as usize;
                let cents: Vec<f64> = truth.lines[0].f0[frames]
                    .iter()
                    .flatten()
                    .map(|f0| f0.cents_above(Hz(440.0)).get())
                    .collect();
                let range =
                    cents.iter().fold((f64::MAX, f64::MIN), |r, c| (r.0.min(*c), r.1.max(*c)));
                assert!(range.1 - range.0 < 2.0, "{place:?}: {cents:?}");
                assert!(pair[0].gap.is_some_and(|gap| gap >= REST_SECS.0), "{place:?}");
            }
        }
    }

    #[test]
    fn every_round_can_be_played_and_is_the_same_again() {
        let (rounds, again) = (counted_rounds(3, 20), counted_rounds(3, 20));
        for (round, again) in rounds.iter().zip(&again) {
            assert_eq!(round.spec, again.spec);
            let truth = round.spec.render().expect("playable").truth;
            assert_eq!(truth.lines[0].notes[0].start.get(), round.turns[0].start);
            for turn in &round.turns {
                assert!((turn.cycles - f64::from(round.asked)).abs() < 1.3, "{turn:?}");
            }
        }
    }
}
