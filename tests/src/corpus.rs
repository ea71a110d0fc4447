//! The sounds that the ear is measured on: made by seed, their pitch known exactly.
//!
//! Every cell draws from a stream of its own, so that adding one leaves the others alone.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use tone::{Bow, Factor, Join, Line, NoteSpec, Room, Shape, Spec, VibratoSpec};
use tuning::{Cents, Hz, Secs};

/// A range of pitches that is scored by itself.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Register {
    /// E1 to B1.
    Bass,
    /// C2 to B2.
    C2,
    /// C3 to B3.
    C3,
    /// C4 to B4.
    C4,
    /// C5 to E6.
    C5,
    /// F6 to E7 (2 637 Hz).
    High,
}

/// What the sound suffers from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Condition {
    /// Bow noise 40 dB below the tone.
    Clean,
    /// Bow noise 20 dB below the tone.
    Noisy,
    /// An uneven player, 35 dB.
    Irregular,
    /// A room with direct sound 10 dB above the late one, 35 dB.
    Room10,
    /// The same at 5 dB.
    Room5,
}

impl Register {
    /// The four registers of the main corpus.
    pub const MAIN: [Self; 4] = [Self::C2, Self::C3, Self::C4, Self::C5];

    /// Lowest and highest MIDI number.
    pub fn midi(self) -> (i32, i32) {
        match self {
            Self::Bass => (28, 35),
            Self::C2 => (36, 47),
            Self::C3 => (48, 59),
            Self::C4 => (60, 71),
            Self::C5 => (72, 88),
            Self::High => (89, 100),
        }
    }

    /// As it is printed.
    pub fn name(self) -> &'static str {
        match self {
            Self::Bass => "E1-B1",
            Self::C2 => "C2-B2",
            Self::C3 => "C3-B3",
            Self::C4 => "C4-B4",
            Self::C5 => "C5-E6",
            Self::High => "F6-E7",
        }
    }
}

impl Condition {
    /// All of them.
    pub const ALL: [Self; 5] =
        [Self::Clean, Self::Noisy, Self::Irregular, Self::Room10, Self::Room5];
    /// Those without a room.
    pub const DRY: [Self; 3] = [Self::Clean, Self::Noisy, Self::Irregular];

    /// As it is printed.
    pub fn name(self) -> &'static str {
        match self {
            Self::Clean => "clean",
            Self::Noisy => "20 dB",
            Self::Irregular => "irregular",
            Self::Room10 => "room 10 dB",
            Self::Room5 => "room 5 dB",
        }
    }

    fn snr_db(self) -> f64 {
        match self {
            Self::Clean => 40.0,
            Self::Noisy => 20.0,
            Self::Irregular | Self::Room10 | Self::Room5 => 35.0,
        }
    }

    fn drr_db(self) -> Option<f64> {
        match self {
            Self::Room10 => Some(10.0),
            Self::Room5 => Some(5.0),
            Self::Clean | Self::Noisy | Self::Irregular => None,
        }
    }
}

/// Widths of the main corpus, in cents.
const WIDTHS: [f64; 14] =
    [0.0, 5.0, 10.0, 20.0, 30.0, 40.0, 50.0, 60.0, 70.0, 80.0, 90.0, 100.0, 110.0, 120.0];
/// Rates of the main corpus, in Hz.
const RATES_HZ: (f64, f64) = (3.5, 8.5);
/// Length of its notes, in seconds.
const NOTE_SECS: f64 = 2.2;
/// Silence before the first note, in seconds.
const LEAD_SECS: f64 = 0.3;
/// Bow noise falls off above a frequency between these: dull noise, bunched at the low harmonics, and
/// brighter one, in Hz.
const NOISE_HZ: (f64, f64) = (300.0, 6_000.0);
const BURST_HZ: (f64, f64) = (300.0, 2_000.0);
/// Width at which the rooms' bias is judged, in cents.
pub const ROOM_WIDTH: f64 = 40.0;

/// Chance for one cell.
pub(crate) struct Draw(ChaCha8Rng);

impl Draw {
    pub(crate) fn new(seed: u64, cell: &str) -> Self {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        // FNV-1a over the cell's name.
        let stream = cell.bytes().fold(0xcbf2_9ce4_8422_2325u64, |hash, byte| {
            (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3)
        });
        rng.set_stream(stream);
        Self(rng)
    }

    pub(crate) fn even(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.0.random::<f64>()
    }

    pub(crate) fn whole(&mut self, low: i32, high: i32) -> i32 {
        self.0.random_range(low..=high)
    }

    pub(crate) fn yes(&mut self) -> bool {
        self.0.random::<bool>()
    }

    /// Near to a normal draw, from its standard deviation.
    pub(crate) fn normal(&mut self, sd: f64) -> f64 {
        sd * ((0..12).map(|_| self.even(0.0, 1.0)).sum::<f64>() - 6.0)
    }

    /// How far the player's whole tuning lies beside A4 = 440 Hz, in cents.
    pub(crate) fn tuning(&mut self) -> f64 {
        self.even(-22.0, 22.0)
    }

    /// A note up to 8 cents beside the player's tuning, as on a real fingerboard.
    pub(crate) fn note(&mut self, start: f64, length: f64, midi: i32, tuning: f64) -> NoteSpec {
        let cents = 100.0 * f64::from(midi - 69) + tuning + self.even(-8.0, 8.0);
        let f0 = Hz(440.0).raised(Cents(cents));
        NoteSpec {
            attack: Secs(self.even(0.02, 0.1)),
            release: Secs(self.even(0.03, 0.06)),
            glide: Secs(self.even(0.005, 0.02)),
            ..NoteSpec::straight(Secs(start), Secs(length), f0)
        }
    }

    /// A regular sine somewhere in its cycle; straight at width 0.
    fn vibrato(&mut self, rate: (f64, f64), width: f64) -> Option<VibratoSpec> {
        let rate = self.even(rate.0, rate.1);
        let phase = self.even(0.0, 0.999);
        (width > 0.0).then(|| VibratoSpec {
            phase: Some(phase),
            ..VibratoSpec::regular(Hz(rate), Cents(width))
        })
    }

    /// An uneven player's vibrato: jittered, flattened or skewed, late and growing.
    fn uneven(&mut self, width: f64) -> Option<VibratoSpec> {
        let regular = self.vibrato(RATES_HZ, width);
        let shape = if self.yes() {
            Shape::Skewed(self.even(0.35, 0.65))
        } else {
            Shape::Flattened(self.even(0.5, 2.0))
        };
        let delay = self.even(0.1, 0.4);
        let grown = delay + self.even(0.3, 0.8);
        let upward = self.yes();
        regular.map(|vibrato| VibratoSpec {
            shape,
            rate_jitter_pct: 6.0,
            width_jitter_pct: 18.0,
            phase: None,
            delay: Secs(delay),
            upward,
            contour: vec![
                Factor { time: Secs(delay), width: 0.3, rate: 1.0 },
                Factor { time: Secs(grown), width: 1.0, rate: 1.0 },
            ],
            ..vibrato
        })
    }

    /// The sound of these notes on an instrument and with a bow noise of its own.
    pub(crate) fn sound(&mut self, notes: Vec<NoteSpec>, snr_db: f64) -> Spec {
        let mut between = |low: f64, high: f64| Hz(low * (high / low).powf(self.even(0.0, 1.0)));
        let bow = Bow {
            snr_db: Some(snr_db),
            noise_band: between(NOISE_HZ.0, NOISE_HZ.1),
            burst_band: between(BURST_HZ.0, BURST_HZ.1),
            ..Bow::default()
        };
        Spec {
            seed: self.0.random(),
            level_dbfs: self.even(-35.0, -18.0),
            lines: vec![Line { notes, level_db: 0.0 }],
            bow,
            ..Spec::default()
        }
    }

    /// How the second note of file number `index` follows the first: legato, detached, after a rest.
    fn join(&mut self, index: usize, first: &mut NoteSpec, second: &mut NoteSpec) {
        let gap = match index % 3 {
            0 => {
                second.join = Join::Legato;
                0.0
            }
            1 => {
                first.ring = Secs(self.even(0.3, 1.0));
                self.even(0.0, 0.03)
            }
            _ => {
                if self.yes() {
                    first.ring = Secs(self.even(0.2, 0.6));
                }
                self.even(0.25, 0.6)
            }
        };
        if self.yes() {
            second.ring = Secs(self.even(0.3, 1.0));
        }
        second.start = if gap == 0.0 { first.end() } else { Secs(first.end().get() + gap) };
    }
}

/// `count` files of two notes each for one cell of the main corpus. In the rooms the first note of
/// each file is [`ROOM_WIDTH`] wide.
pub fn main_cell(seed: u64, register: Register, condition: Condition, count: usize) -> Vec<Spec> {
    let mut draw = Draw::new(seed, &format!("{} {}", register.name(), condition.name()));
    let turn = draw.whole(0, WIDTHS.len() as i32 - 1) as usize;
    let (low, high) = register.midi();
    (0..count)
        .map(|index| {
            // 5 and 14 have no common factor: all widths come up in turn.
            let mut widths = [0, 1].map(|i| WIDTHS[(turn + 5 * (2 * index + i)) % WIDTHS.len()]);
            if condition.drr_db().is_some() {
                widths[0] = ROOM_WIDTH;
            }
            let first = draw.whole(low, high);
            let interval = draw.whole(1, 7);
            let second = if first + interval <= high { first + interval } else { first - interval };
            let second = second.clamp(low, high);
            let tuning = draw.tuning();
            let mut notes =
                [first, second].map(|midi| draw.note(LEAD_SECS, NOTE_SECS, midi, tuning));
            for (note, width) in notes.iter_mut().zip(widths) {
                if condition == Condition::Irregular {
                    note.vibrato = draw.uneven(width);
                    note.drift = Cents(draw.even(-30.0, 20.0));
                    note.wander = Cents(1.5);
                } else {
                    note.vibrato = draw.vibrato(RATES_HZ, width);
                }
            }
            let [first, second] = &mut notes;
            draw.join(index, first, second);
            let mut spec = draw.sound(notes.to_vec(), condition.snr_db());
            spec.room =
                condition.drr_db().map(|drr_db| Room { t60: Secs(draw.even(0.4, 1.2)), drr_db });
            spec
        })
        .collect()
}

/// Single notes of `length` seconds with a regular vibrato.
fn singles(
    draw: &mut Draw,
    register: Register,
    length: f64,
    count: usize,
    snr_db: f64,
    mut vibrato: impl FnMut(&mut Draw) -> Option<VibratoSpec>,
) -> Vec<Spec> {
    let (low, high) = register.midi();
    (0..count)
        .map(|_| {
            let midi = draw.whole(low, high);
            let tuning = draw.tuning();
            let mut note = draw.note(LEAD_SECS, length, midi, tuning);
            note.vibrato = vibrato(draw);
            draw.sound(vec![note], snr_db)
        })
        .collect()
}

/// Bass notes (E1-B1) up to 60 cents wide, 35 dB.
pub fn bass(seed: u64, count: usize) -> Vec<Spec> {
    let mut draw = Draw::new(seed, "bass");
    singles(&mut draw, Register::Bass, NOTE_SECS, count, 35.0, |draw| {
        let width = draw.even(10.0, 60.0);
        draw.vibrato(RATES_HZ, width)
    })
}

/// Notes above E6 up to 2.7 kHz, 35 dB.
pub fn high(seed: u64, count: usize) -> Vec<Spec> {
    let mut draw = Draw::new(seed, "high");
    singles(&mut draw, Register::High, NOTE_SECS, count, 35.0, |draw| {
        let width = draw.even(10.0, 120.0);
        draw.vibrato(RATES_HZ, width)
    })
}

/// Notes of about six oscillations from start to end; `uneven` ones as a hand makes them: their periods vary by 6 % and
/// their widths by 18 %.
pub fn six_cycles(
    seed: u64,
    register: Register,
    uneven: bool,
    snr_db: f64,
    count: usize,
) -> Vec<Spec> {
    let mut draw = Draw::new(seed, &format!("six cycles {} {uneven} {snr_db}", register.name()));
    let mut specs = singles(&mut draw, register, NOTE_SECS, count, snr_db, |draw| {
        let width = draw.even(15.0, 90.0);
        let regular = draw.vibrato(RATES_HZ, width)?;
        Some(if uneven {
            VibratoSpec {
                rate_jitter_pct: 6.0,
                width_jitter_pct: 18.0,
                shape: Shape::Skewed(draw.even(0.4, 0.6)),
                ..regular
            }
        } else {
            regular
        })
    });
    for note in specs.iter_mut().flat_map(|spec| &mut spec.lines[0].notes) {
        let rate = note.vibrato.as_ref().map_or(1.0, |vibrato| vibrato.rate.get());
        note.length = Secs(draw.even(6.0, 7.5) / rate);
    }
    specs
}

/// Notes of `width` cents (0: straight) with a natural wander of 1.5 cents, 30 dB.
pub fn nearly_straight(seed: u64, register: Register, width: f64, count: usize) -> Vec<Spec> {
    let mut draw = Draw::new(seed, &format!("straight {} {width}", register.name()));
    let mut specs =
        singles(&mut draw, register, 2.0, count, 30.0, |draw| draw.vibrato((4.0, 8.0), width));
    for note in specs.iter_mut().flat_map(|spec| &mut spec.lines[0].notes) {
        note.wander = Cents(1.5);
    }
    specs
}

/// Lengths and rates of short notes, in seconds and Hz, and the width of a vibrato on them, in cents. Those without vibrato
/// may be shorter.
const SHORT_SECS: (f64, f64) = (0.35, 0.8);
const SHORTEST_SECS: f64 = 0.25;
const SHORT_HZ: (f64, f64) = (4.0, 7.5);
const SHORT_CENTS: (f64, f64) = (12.0, 80.0);
/// Least oscillations of a short note with vibrato between its attack and its release.
const SHORT_CYCLES: f64 = 1.5;

/// What the finger does on a short note.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ShortMotion {
    /// An even vibrato of one and a half oscillations or more.
    Even,
    /// The same as a hand makes it: its periods vary by 4 % and its widths by 10 %, and it is no sine.
    Uneven,
    /// It stays.
    Still,
    /// It slides by up to 150 cents from start to end.
    Glides,
    /// It lands beside the pitch and swings into it.
    SwingsIn,
    /// It swings as it is let go.
    SwingsOut,
    /// It slips to a place 15 to 45 cents away.
    Slips,
    /// The same, and it slips back.
    SlipsBack,
    /// It slides to a place 20 to 60 cents away in 0.1 to 0.25 s.
    Slides,
}

impl ShortMotion {
    /// Those that are no vibrato.
    pub const NONE: [Self; 7] = [
        Self::Still,
        Self::Glides,
        Self::SwingsIn,
        Self::SwingsOut,
        Self::Slips,
        Self::SlipsBack,
        Self::Slides,
    ];

    /// As it is printed.
    pub fn name(self) -> &'static str {
        match self {
            Self::Even => "even vibrato",
            Self::Uneven => "uneven vibrato",
            Self::Still => "straight",
            Self::Glides => "glide",
            Self::SwingsIn => "swing at the start",
            Self::SwingsOut => "swing at the end",
            Self::Slips => "slip of the finger",
            Self::SlipsBack => "slip and back",
            Self::Slides => "slide",
        }
    }
}

/// A short vibrato that fades in or out: as wide at these times as these factors say.
fn fading(draw: &mut Draw, contour: [(f64, f64); 3]) -> VibratoSpec {
    let (rate, width) = (draw.even(4.0, 9.0), draw.even(10.0, 40.0));
    let factor = |(secs, width)| Factor { time: Secs(secs), width, rate: 1.0 };
    VibratoSpec {
        phase: Some(draw.even(0.0, 0.999)),
        contour: contour.map(factor).to_vec(),
        ..VibratoSpec::regular(Hz(rate), Cents(width))
    }
}

/// Single short notes, half of them with a soft attack and half with a hard one.
pub fn short(
    seed: u64,
    register: Register,
    motion: ShortMotion,
    snr_db: f64,
    count: usize,
) -> Vec<Spec> {
    let mut draw = Draw::new(seed, &format!("short {} {motion:?} {snr_db}", register.name()));
    let (low, high) = register.midi();
    (0..count).map(|i| short_note(&mut draw, (low, high), motion, snr_db, i % 2 == 0)).collect()
}

fn short_note(
    draw: &mut Draw,
    (low, high): (i32, i32),
    motion: ShortMotion,
    snr_db: f64,
    hard: bool,
) -> Spec {
    let midi = draw.whole(low, high);
    let tuning = draw.tuning();
    let mut note = draw.note(LEAD_SECS, 0.0, midi, tuning);
    note.attack = Secs(if hard { draw.even(0.004, 0.02) } else { draw.even(0.04, 0.075) });
    note.wander = Cents(1.5);
    let swings = [ShortMotion::Even, ShortMotion::Uneven].contains(&motion);
    let shortest = if swings { SHORT_SECS.0 } else { SHORTEST_SECS };
    // The ear hears a soft note begin a little late, and end a little early.
    let soft =
        if motion == ShortMotion::Still { note.attack.get() + note.release.get() } else { 0.0 };
    let shortest = shortest + soft;
    let secs = draw.even(shortest, SHORT_SECS.1);
    note.length = Secs(secs);
    let mut notes = vec![note];
    match motion {
        ShortMotion::Even | ShortMotion::Uneven => {
            let edges = notes[0].attack.get() + notes[0].release.get();
            let rate = draw.even(SHORT_HZ.0.max(SHORT_CYCLES / (secs - edges)), SHORT_HZ.1);
            let width = draw.even(SHORT_CENTS.0, SHORT_CENTS.1);
            let vibrato = VibratoSpec {
                phase: Some(draw.even(0.0, 0.999)),
                ..VibratoSpec::regular(Hz(rate), Cents(width))
            };
            let uneven = VibratoSpec {
                rate_jitter_pct: 4.0,
                width_jitter_pct: 10.0,
                shape: Shape::Skewed(draw.even(0.42, 0.58)),
                ..vibrato.clone()
            };
            let even = motion == ShortMotion::Even;
            (notes[0].wander, notes[0].vibrato) =
                if even { (Cents(0.0), Some(vibrato)) } else { (Cents(1.5), Some(uneven)) };
        }
        ShortMotion::Still => {}
        ShortMotion::Glides => notes[0].drift = Cents(draw.even(-150.0, 150.0)),
        ShortMotion::SwingsIn => {
            let over = draw.even(0.08, 0.18);
            notes[0].vibrato = Some(fading(draw, [(0.0, 1.0), (over, 0.0), (secs, 0.0)]));
        }
        ShortMotion::SwingsOut => {
            let from = secs - draw.even(0.06, 0.14);
            notes[0].vibrato = Some(fading(draw, [(0.0, 0.0), (from, 0.0), (from + 0.04, 1.0)]));
        }
        ShortMotion::Slips | ShortMotion::SlipsBack | ShortMotion::Slides => {
            let slides = motion == ShortMotion::Slides;
            let most = if slides { (20.0, 60.0) } else { (15.0, 45.0) };
            let by = draw.even(most.0, most.1) * if draw.yes() { 1.0 } else { -1.0 };
            let back = motion == ShortMotion::SlipsBack;
            let first = secs * draw.even(0.3, 0.45);
            let second = if back { draw.even(0.06, 0.1) } else { secs - first };
            let home = notes[0].f0;
            let lengths = [first, second, secs - first - second];
            notes = vec![notes[0].clone(); if back { 3 } else { 2 }];
            let mut start = LEAD_SECS;
            for (i, (note, length)) in notes.iter_mut().zip(lengths).enumerate() {
                (note.start, note.length) = (Secs(start), Secs(length));
                start = note.end().get();
                note.release = Secs(0.03);
                if i > 0 {
                    (note.join, note.attack) = (Join::Legato, Secs(0.02));
                    let over = if slides { (0.1, 0.25) } else { (0.015, 0.06) };
                    note.glide = Secs(draw.even(over.0, over.1).min(length));
                }
                note.f0 = if i == 1 { home.raised(Cents(by)) } else { home };
            }
        }
    }
    let mut spec = draw.sound(notes, snr_db);
    if hard {
        spec.bow.scratch_db = draw.even(-20.0, -12.0);
    }
    spec
}

/// Slow wide oscillations, as when vibrato is first learnt: 200 cents, 0.5 Hz, 35 dB.
pub fn slow_wide(seed: u64, count: usize) -> Vec<Spec> {
    let mut draw = Draw::new(seed, "slow wide");
    (0..count)
        .flat_map(|i| {
            let register = Register::MAIN[i % 4];
            singles(&mut draw, register, 8.0, 1, 35.0, |draw| draw.vibrato((0.5, 0.5), 200.0))
        })
        .collect()
}

/// Counted oscillations at one rate, 20 to 100 cents wide.
pub fn counted(seed: u64, rate_hz: f64, snr_db: f64, count: usize) -> Vec<Spec> {
    let mut draw = Draw::new(seed, &format!("counted {rate_hz} {snr_db}"));
    let length = (6.5 / rate_hz).max(3.0);
    (0..count)
        .flat_map(|i| {
            let register = Register::MAIN[i % 4];
            singles(&mut draw, register, length, 1, snr_db, |draw| {
                let width = draw.even(20.0, 100.0);
                draw.vibrato((rate_hz, rate_hz), width)
            })
        })
        .collect()
}

/// Notes for the live figures, 20 dB, 20 to 100 cents wide; with a `delay` they start straight.
pub fn live(seed: u64, delay: Option<Secs>, count: usize) -> Vec<Spec> {
    let mut draw = Draw::new(seed, &format!("live {}", delay.is_some()));
    (0..count)
        .flat_map(|i| {
            let register = Register::MAIN[i % 4];
            singles(&mut draw, register, NOTE_SECS, 1, 20.0, |draw| {
                let width = draw.even(20.0, 100.0);
                let mut vibrato = draw.vibrato(RATES_HZ, width)?;
                if let Some(delay) = delay {
                    (vibrato.phase, vibrato.delay) = (None, delay);
                }
                Some(vibrato)
            })
        })
        .collect()
}

/// Notes in a living room, the microphone about a metre away: reverberation time 0.5 s, `drr_db`
/// around 0, widths 10 to 80, rates 4 to 7 Hz.
pub fn living_room(seed: u64, register: Register, drr_db: f64, count: usize) -> Vec<Spec> {
    let mut draw = Draw::new(seed, &format!("living room {} {drr_db}", register.name()));
    let mut specs = singles(&mut draw, register, NOTE_SECS, count, 35.0, |draw| {
        let width = draw.even(10.0, 80.0);
        draw.vibrato((4.0, 7.0), width)
    });
    for spec in &mut specs {
        spec.room = Some(Room { t60: Secs(0.5), drr_db });
    }
    specs
}

/// Which of two strings that sound at once swings.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Moving {
    /// The lower one.
    Low,
    /// The higher one.
    High,
    /// None.
    Neither,
    /// Both, each in its own way.
    Both,
}

/// Double stops of 2.2 s from C3 to A4, seconds to octaves, one string within 6 dB of the other; what swings is 15 to 70
/// cents wide, at 4 to 7 Hz.
pub fn double_stops(seed: u64, moving: Moving, snr_db: f64, count: usize) -> Vec<Spec> {
    let mut draw = Draw::new(seed, &format!("double stops {moving:?} {snr_db}"));
    let turn = draw.whole(0, 10);
    (0..count as i32)
        .map(|index| {
            let low = draw.whole(48, 69);
            // 5 and 11 have no common factor: all intervals come up in turn.
            let interval = 2 + (turn + 5 * index) % 11;
            let tuning = draw.tuning();
            let mut notes =
                [low, low + interval].map(|midi| draw.note(LEAD_SECS, NOTE_SECS, midi, tuning));
            let swings = match moving {
                Moving::Low => [true, false],
                Moving::High => [false, true],
                Moving::Neither => [false, false],
                Moving::Both => [true, true],
            };
            for (note, swings) in notes.iter_mut().zip(swings) {
                let width = draw.even(15.0, 70.0);
                note.vibrato = draw.vibrato((4.0, 7.0), if swings { width } else { 0.0 });
                note.wander = Cents(draw.even(0.0, 1.5));
            }
            let [low, high] = notes;
            let mut spec = draw.sound(vec![low], snr_db);
            spec.lines.push(Line { notes: vec![high], level_db: draw.even(-6.0, 6.0) });
            spec
        })
        .collect()
}

/// A steady note of this pitch, for the delay.
pub fn steady(f0: Hz) -> Spec {
    let note = NoteSpec::straight(Secs(LEAD_SECS), Secs(1.5), f0);
    Spec { lines: vec![Line { notes: vec![note], level_db: 0.0 }], ..Spec::default() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_cell_can_be_played_and_is_the_same_again() {
        for register in Register::MAIN {
            for condition in Condition::ALL {
                let specs = main_cell(3, register, condition, 3);
                assert_eq!(specs, main_cell(3, register, condition, 3));
                assert_ne!(specs, main_cell(4, register, condition, 3));
                let (low, high) = register.midi();
                for note in &specs[0].render().expect("playable").truth.lines[0].notes {
                    let midi = 69.0 + note.nominal.cents_above(Hz(440.0)).get() / 100.0;
                    assert!(midi > f64::from(low) - 0.31 && midi < f64::from(high) + 0.31);
                }
            }
        }
        let mut motions = vec![ShortMotion::Even, ShortMotion::Uneven];
        motions.extend(ShortMotion::NONE);
        for spec in motions.iter().flat_map(|m| short(3, Register::C4, *m, 30.0, 6)) {
            spec.render().expect("playable");
        }
        let six = [false, true].map(|uneven| six_cycles(3, Register::C4, uneven, 30.0, 3));
        for spec in six.iter().flatten() {
            spec.render().expect("playable");
        }
        let others = [bass(3, 1), high(3, 1), slow_wide(3, 1), counted(3, 8.0, 20.0, 1)];
        let more = [live(3, Some(Secs(0.6)), 1), living_room(3, Register::C2, 0.0, 1)];
        for spec in others.iter().chain(&more).flatten() {
            spec.render().expect("playable");
        }
    }

    #[test]
    fn all_widths_and_all_three_joins_come_up() {
        let specs = main_cell(1, Register::C3, Condition::Clean, 9);
        let width = |note: &NoteSpec| note.vibrato.as_ref().map_or(0.0, |v| v.width.get());
        let widths: Vec<f64> = specs.iter().flat_map(|s| &s.lines[0].notes).map(width).collect();
        for wanted in WIDTHS {
            assert!(widths.contains(&wanted), "{wanted} is missing");
        }
        let gap = |spec: &Spec| {
            let notes = &spec.lines[0].notes;
            (notes[1].join == Join::Legato, notes[1].start.get() - notes[0].end().get() > 0.2)
        };
        let gaps: Vec<(bool, bool)> = specs.iter().map(gap).collect();
        assert!(
            [(true, false), (false, false), (false, true)].iter().all(|kind| gaps.contains(kind))
        );
    }
}
