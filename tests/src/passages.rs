//! Made-up passages, and performances of them with a player's slips, their truth known: what is followed and judged.

use coach::plan::{
    BeatUnit, Beats, Clef, Intention, Meter, Pace, Passage, Pitch, Place, PlanNote, Spelling,
};
use tone::{Bow, Factor, Join, Line, NoteSpec, Room, Spec, VibratoSpec};
use tuning::{Cents, Hz, Naming, Secs, Tuning, pitch_name};

use crate::corpus::Draw;

/// Where passages lie: the instrument, its lowest and highest note as played here, and its open strings.
const INSTRUMENTS: [(&str, i32, i32, [i32; 4]); 4] = [
    ("cello", 36, 69, [36, 43, 50, 57]),
    ("violin", 55, 88, [55, 62, 69, 76]),
    ("viola", 48, 79, [48, 55, 62, 69]),
    ("double-bass", 31, 55, [28, 33, 38, 43]),
];
/// Which of them each passage is for, by its number.
const CHOSEN: [usize; 6] = [0, 1, 0, 2, 0, 3];
/// Semitones of the scales: major, minor, dorian.
const SCALES: [[i32; 7]; 3] =
    [[0, 2, 4, 5, 7, 9, 11], [0, 2, 3, 5, 7, 8, 11], [0, 2, 3, 5, 7, 9, 10]];
/// Lengths in quarters of a beat: walking, leaping, repeated notes, semitones, mixed.
const LENGTHS: [&[u32]; 5] =
    [&[4, 4, 8, 2, 2], &[4, 8, 6, 2], &[2, 2, 4, 4], &[4, 8, 4, 12], &[2, 4, 4, 8, 1, 1, 2, 16]];
/// Quarters of a beat in a bar.
const BAR: u32 = 16;
/// Shares of notes that are played wrong, left out, or twice.
const SLIP: f64 = 0.05;
/// Steadiest and most hurried player: the tempo drifts by so much, and each note strays by so much.
const DRIFT: f64 = 0.2;
const RUBATO: f64 = 0.07;
/// The widest vibrato, in cents.
const WIDEST: f64 = 120.0;

/// One note as it was played.
#[derive(Clone, Debug)]
pub struct Sounded {
    /// Where it begins, in seconds.
    pub start: f64,
    /// Where it ends, in seconds.
    pub end: f64,
    /// The note of the passage it stands for.
    pub note: usize,
    /// Its pitch, which is not the planned one where the player erred.
    pub midi: i32,
    /// Under one bow with the note before it.
    pub slurred: bool,
    /// The player had stopped or gone back before it.
    pub after_jump: bool,
    vibrato: Option<VibratoSpec>,
    bow_changes: Vec<Secs>,
    cents: f64,
    level_db: f64,
}

/// A passage and what a player made of it.
#[derive(Clone, Debug)]
pub struct Performance {
    /// The plan.
    pub passage: Passage,
    /// The truth, in order of time.
    pub sounded: Vec<Sounded>,
    /// The sound.
    pub spec: Spec,
}

/// Performance number `number`: passages of 8 to 60 notes, on four instruments, in five manners, dry and in rooms.
pub fn performance(number: u64) -> Performance {
    let passage = passage(number);
    let mut draw = Draw::new(number, "performance");
    let sounded = perform(&passage, &mut draw);
    let spec = session(&passage, &sounded, number);
    Performance { passage, sounded, spec }
}

/// MIDI number of a planned note; none for a rest.
pub fn midi_of(note: &PlanNote) -> Option<i32> {
    match note.pitch {
        Pitch::Single(spelling) => Some(spelling.midi()),
        _ => None,
    }
}

fn pick<'a, T>(draw: &mut Draw, from: &'a [T]) -> &'a T {
    &from[draw.whole(0, from.len() as i32 - 1) as usize]
}

fn instrument(number: u64) -> (&'static str, i32, i32, [i32; 4]) {
    INSTRUMENTS[CHOSEN[(number % 6) as usize]]
}

fn passage(number: u64) -> Passage {
    let mut draw = Draw::new(number, "passage");
    let (name, low, high, strings) = instrument(number);
    let scale = *pick(&mut draw, &SCALES);
    let tonic = draw.whole(0, 11);
    let pitches: Vec<i32> =
        (low..=high).filter(|midi| scale.contains(&(midi - tonic).rem_euclid(12))).collect();
    let wanted = draw.whole(8, 60);
    let manner = (number % 5) as usize;
    let mut midi = pitches[(pitches.len() as f64 * draw.even(0.25, 0.75)) as usize];
    let mut notes: Vec<PlanNote> = Vec::new();
    let (mut bar, mut in_bar, mut count, mut slurs) = (1, 0, 0, 0);
    while count < wanted {
        let length = (*pick(&mut draw, LENGTHS[manner])).min(BAR - in_bar);
        let quarters = |quarters| Beats::new(quarters, 4).expect("short");
        let at = Place { bar, beat: quarters(in_bar) };
        let before = notes.last().and_then(midi_of);
        if before.is_some() && draw.even(0.0, 1.0) < 0.06 {
            notes.push(PlanNote::plain(at, quarters(length), Pitch::Rest));
            slurs = 0;
        } else {
            if !notes.is_empty() {
                midi = next_pitch(&mut draw, manner, midi, &pitches).clamp(low, high);
            }
            let name = pitch_name(midi, Naming::Scientific);
            let pitch = Pitch::Single(Spelling::named(&name).expect("a name"));
            let mut note = PlanNote::plain(at, quarters(length), pitch);
            note.slur = slurs > 0 && before.is_some_and(|before| before != midi);
            slurs = if note.slur { slurs - 1 } else { *pick(&mut draw, &[0, 0, 1, 2, 3]) };
            if strings.contains(&midi) && draw.yes() {
                note.finger = Some(0);
            } else if draw.even(0.0, 1.0) < 0.7 {
                note.intention = intention(&mut draw);
            }
            notes.push(note);
            count += 1;
        }
        in_bar += length;
        if in_bar == BAR {
            (bar, in_bar) = (bar + 1, 0);
        }
    }
    let bpm = draw.even(50.0, 100.0) * if manner == 4 { 0.75 } else { 1.0 };
    let pace = Pace { bpm, unit: BeatUnit::Quarter, free: true };
    let meter = Meter { beats: 4, of: BeatUnit::Quarter };
    Passage::new("made", name, (pace, meter, Clef::Bass), notes).expect("a passage")
}

fn next_pitch(draw: &mut Draw, manner: usize, midi: i32, pitches: &[i32]) -> i32 {
    let chance = draw.even(0.0, 1.0);
    if chance < if manner == 2 { 0.3 } else { 0.08 } {
        return midi;
    }
    if manner == 3 && chance < 0.6 {
        return midi + *pick(draw, &[-1, 1]);
    }
    let step =
        if chance < 0.75 { *pick(draw, &[-1, 1]) } else { *pick(draw, &[-4, -3, -2, 2, 3, 4, 5]) };
    let nearest = (0..pitches.len()).min_by_key(|&i| (pitches[i] - midi).abs()).expect("a scale");
    pitches[(nearest as i32 + step).clamp(0, pitches.len() as i32 - 1) as usize]
}

fn intention(draw: &mut Draw) -> Intention {
    let peak = draw.even(10.0, WIDEST);
    let (start, end) = (peak * draw.even(0.2, 1.0), peak * draw.even(0.2, 1.0));
    let rate = draw.even(4.2, 6.8);
    let fastest = rate * draw.even(1.0, 1.15);
    Intention::Contour {
        width: [Cents(start), Cents(peak), Cents(end)],
        rate: Some([Hz(rate), Hz(fastest), Hz(rate)]),
        peak_at: draw.even(0.2, 0.8),
    }
}

/// What the player does next.
#[derive(Clone, Copy, PartialEq)]
enum Deed {
    Right,
    Wrong,
    LeftOut,
    Again,
    /// Stops for a while, and goes back.
    Stop,
    /// Goes back at once.
    Loop,
}

/// Notes in the order in which they are played.
fn deeds(passage: &Passage, draw: &mut Draw) -> Vec<(usize, Deed)> {
    let notes = passage.notes();
    let mut stops: Vec<usize> = Vec::new();
    if notes.len() > 12 {
        stops.extend((0..2).map(|_| draw.whole(4, notes.len() as i32 - 1) as usize));
    }
    let mut deeds = Vec::new();
    let mut at = 0;
    while at < notes.len() {
        if let Some(stop) = stops.iter().position(|stop| *stop == at) {
            stops.swap_remove(stop);
            let bar = notes[at].at.bar.saturating_sub(draw.whole(0, 1) as u32).max(1);
            let sounds = |i: &usize| notes[*i].at.bar >= bar && midi_of(&notes[*i]).is_some();
            let back = (0..notes.len()).find(sounds).expect("a note in the bar");
            if back < at {
                let deed = if draw.even(0.0, 1.0) < 0.6 { Deed::Stop } else { Deed::Loop };
                deeds.push((at, deed));
                at = back;
                continue;
            }
        }
        let inner = at > 0 && at + 1 < notes.len() && midi_of(&notes[at]).is_some();
        let chance = if inner { draw.even(0.0, 1.0) } else { 1.0 };
        match chance {
            _ if chance < SLIP => deeds.push((at, Deed::Wrong)),
            _ if chance < 2.0 * SLIP => deeds.push((at, Deed::LeftOut)),
            _ if chance < 3.0 * SLIP => deeds.extend([(at, Deed::Right), (at, Deed::Again)]),
            _ => deeds.push((at, Deed::Right)),
        }
        at += 1;
    }
    deeds
}

fn perform(passage: &Passage, draw: &mut Draw) -> Vec<Sounded> {
    let notes = passage.notes();
    let deeds = deeds(passage, draw);
    let beat = 60.0 / passage.pace.bpm;
    let total: f64 = notes.iter().map(|note| note.beats.get() * beat).sum();
    let (period, phase) = (draw.even(8.0, 25.0), draw.even(0.0, std::f64::consts::TAU));
    let (ramp, swing) = (draw.even(-DRIFT, DRIFT), draw.even(0.0, 0.5 * DRIFT));
    let (mut time, mut rubato, mut jumped) = (0.7, 0.0, false);
    let mut sounded: Vec<Sounded> = Vec::new();
    for (place, &(at, deed)) in deeds.iter().enumerate() {
        if matches!(deed, Deed::Stop | Deed::Loop) {
            time += if deed == Deed::Stop { draw.even(0.5, 1.6) } else { 0.0 };
            jumped = true;
            continue;
        }
        let note = &notes[at];
        let along = (time / total.max(1.0)).min(1.0);
        let wave = (std::f64::consts::TAU * time / period + phase).sin();
        let drift = 1.0 + (ramp * (2.0 * along - 1.0) + swing * wave).clamp(-DRIFT, DRIFT);
        rubato = 0.5 * rubato + draw.normal(RUBATO);
        let length = note.beats.get() * beat * drift * rubato.exp();
        let Some(planned) = midi_of(note) else {
            time += length;
            continue;
        };
        if deed == Deed::LeftOut {
            // It closes up, or leaves a hole.
            time += if draw.yes() { 0.0 } else { draw.even(0.1, 0.6) * length };
            continue;
        }
        let wrong = deed == Deed::Wrong;
        let midi = planned + if wrong { *pick(draw, &[-2, -1, 1, 2, 3, -3]) } else { 0 };
        let slurred = note.slur
            && deed != Deed::Again
            && !jumped
            && sounded.last().is_some_and(|before| {
                before.note + 1 == at && (before.end - time).abs() < 1e-6 && before.midi != midi
            });
        let next_slurs = deeds
            .get(place + 1)
            .is_some_and(|next| matches!(next.1, Deed::Right | Deed::Wrong) && notes[next.0].slur);
        let parts = !next_slurs && draw.yes();
        let gap = if parts { draw.even(0.0, 0.09).min(0.35 * length) } else { 0.0 };
        let secs = length - gap;
        let vibrato = vibrato(draw, &note.intention, secs, (wrong, slurred));
        let turns = secs > 1.4 && !slurred && draw.even(0.0, 1.0) < 0.12;
        sounded.push(Sounded {
            start: time,
            end: time + secs,
            note: at,
            midi,
            slurred,
            after_jump: std::mem::take(&mut jumped),
            vibrato,
            bow_changes: turns.then(|| Secs(secs * draw.even(0.4, 0.6))).into_iter().collect(),
            cents: draw.normal(if note.open() { 2.0 } else { 8.0 }),
            level_db: draw.normal(2.0),
        });
        time += length;
    }
    sounded
}

/// The planned vibrato, as a hand plays it.
fn vibrato(
    draw: &mut Draw,
    intention: &Intention,
    secs: f64,
    (wrong, slurred): (bool, bool),
) -> Option<VibratoSpec> {
    let Intention::Contour { width: [start, peak, end], rate: Some([r0, r1, r2]), peak_at } =
        *intention
    else {
        return None;
    };
    if secs <= 0.2 {
        return None;
    }
    if wrong {
        return Some(VibratoSpec {
            rate_jitter_pct: 4.0,
            width_jitter_pct: 4.0,
            ..VibratoSpec::regular(r0, peak)
        });
    }
    let factor = |time: f64, width: Cents, rate: Hz| Factor {
        time: Secs(time),
        width: width.get() / peak.get(),
        rate: rate.get() / r1.get(),
    };
    let width = Cents((peak.get() * draw.even(0.8, 1.2)).min(WIDEST));
    let late = !slurred && draw.yes();
    let delay = if late { draw.even(0.0, 0.3).min(0.35 * secs) } else { 0.0 };
    let jitter_pct = draw.even(2.0, 8.0);
    Some(VibratoSpec {
        delay: Secs(delay),
        upward: draw.yes(),
        rate_jitter_pct: jitter_pct,
        width_jitter_pct: jitter_pct,
        contour: vec![
            factor(0.0, start, r0),
            factor(peak_at * secs, peak, r1),
            factor(secs, end, r2),
        ],
        ..VibratoSpec::regular(r1, width)
    })
}

/// The performance as a sound: a third dry, a third in a room of 10 dB, a third in one of 5 dB.
fn session(passage: &Passage, sounded: &[Sounded], number: u64) -> Spec {
    let mut draw = Draw::new(number, "session");
    let mut notes: Vec<NoteSpec> = Vec::new();
    for (i, one) in sounded.iter().enumerate() {
        let legato = one.slurred && i > 0;
        let start = if legato { notes[i - 1].end() } else { Secs(one.start) };
        let secs = one.end - start.get();
        let f0 = Tuning::default().frequency(one.midi).raised(Cents(one.cents));
        let open = passage.notes()[one.note].open();
        notes.push(NoteSpec {
            join: if legato { Join::Legato } else { Join::Detached },
            glide: Secs((secs / 3.0).min(0.012)),
            attack: Secs((secs / 4.0).min(0.05)),
            release: Secs((secs / 4.0).min(0.04)),
            level_db: one.level_db,
            wander: Cents(draw.even(0.5, 2.0)),
            drift: Cents(draw.normal(3.0)),
            ring: Secs(if open { draw.even(0.3, 1.2) } else { 0.0 }),
            bow_changes: one.bow_changes.clone(),
            vibrato: one.vibrato.clone(),
            ..NoteSpec::straight(start, Secs(secs), f0)
        });
    }
    let room = match number % 3 {
        0 => None,
        1 => Some(Room { t60: Secs(draw.even(0.3, 0.7)), drr_db: 10.0 }),
        _ => Some(Room { t60: Secs(draw.even(0.3, 1.0)), drr_db: 5.0 }),
    };
    Spec {
        seed: number + 1,
        level_dbfs: -24.0,
        floor_dbfs: Some(*pick(&mut draw, &[-78.0, -70.0, -62.0])),
        bow: Bow { snr_db: Some(*pick(&mut draw, &[35.0, 30.0, 25.0])), ..Bow::default() },
        room,
        lines: vec![Line { notes, level_db: 0.0 }],
        ..Spec::default()
    }
}
