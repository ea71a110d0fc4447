//! Notes of known contours, and pairs of passes of a known line of the bow.

use coach::plan::{
    BeatUnit, Beats, Clef, Intention, Meter, Pace, Passage, Pitch, Place, PlanNote, Spelling,
};
use tone::{Bow, Factor, Line, NoteSpec, Room, Spec, VibratoSpec};
use tuning::{Cents, Hz, Naming, Secs, Tuning, pitch_name};

use crate::corpus::Draw;

/// Notes of a file, and the silence before each, in seconds.
const NOTES: usize = 8;
const APART_SECS: f64 = 0.5;
/// Reverberation time in seconds and direct above late sound in dB, and bow noise in dB: dry, and two rooms.
const PLACES: [(Option<(f64, f64)>, f64); 3] =
    [(None, 35.0), (Some((0.5, 10.0)), 30.0), (Some((0.8, 5.0)), 30.0)];
/// Unevenness from cycle to cycle, in percent of the width; half as much of the period.
const UNEVEN_PCT: [f64; 3] = [0.0, 4.0, 8.0];
/// Notes of a line of the bow, how long each is and how far from the next, in seconds.
const LINE_NOTES: usize = 14;
const LINE_SECS: f64 = 0.9;
const LINE_APART_SECS: f64 = 0.07;
/// How near a bow comes back to a level, and how far one level lies from the next, in dB (standard deviations).
const RETURN_DB: f64 = 0.7;
const LINE_DB: f64 = 2.2;

/// Two straight lines that meet.
#[derive(Clone, Copy, Debug)]
pub struct Course {
    /// Width at the start, at the peak and at the end, in cents.
    pub width: [f64; 3],
    /// Rate at the same places, in Hz.
    pub rate: [f64; 3],
    /// Where the peak is, as a share of the note; 1 for a vibrato that grows to the end.
    pub peak_at: f64,
}

/// Three values of two lines that meet at `peak`, from `start` to `end`, at a time.
pub fn on_lines([a, b, c]: [f64; 3], (start, peak, end): (f64, f64, f64), time: f64) -> f64 {
    let share = |from: f64, to: f64| ((time - from) / (to - from).max(1e-9)).clamp(0.0, 1.0);
    if time < peak { a + share(start, peak) * (b - a) } else { b + share(peak, end) * (c - b) }
}

/// Notes of known contours; every third one or so is straight.
#[derive(Clone, Debug)]
pub struct Contours {
    /// The plan, which is what is played.
    pub passage: Passage,
    /// Start and end of each note in seconds, and its course; `None` of a straight one.
    pub notes: Vec<(f64, f64, Option<Course>)>,
    /// Unevenness from cycle to cycle, in percent.
    pub uneven_pct: f64,
    /// The sound.
    pub spec: Spec,
}

/// Notes in free time, each of a second and a quarter of it, with a rest behind each.
fn passage(notes: &[(i32, f64, Intention)]) -> Passage {
    let quarters = |secs: f64| Beats::new((4.0 * secs).round().max(1.0) as u32, 4).expect("short");
    let mut planned = Vec::new();
    for (i, (midi, secs, intention)) in notes.iter().enumerate() {
        let name = pitch_name(*midi, Naming::Scientific);
        let pitch = Pitch::Single(Spelling::named(&name).expect("a name"));
        let at = Place { bar: i as u32 + 1, beat: Beats::ZERO };
        planned.push(PlanNote {
            intention: *intention,
            ..PlanNote::plain(at, quarters(*secs), pitch)
        });
    }
    let pace = Pace { bpm: 60.0, unit: BeatUnit::Quarter, free: true };
    let meter = Meter { beats: 4, of: BeatUnit::Quarter };
    Passage::new("made", "cello", (pace, meter, Clef::Bass), planned).expect("a passage")
}

/// File number `number` of notes with known contours.
pub fn contours(number: u64) -> Contours {
    let mut draw = Draw::new(number, "contours");
    let (room, snr_db) = PLACES[(number % 3) as usize];
    let uneven_pct = UNEVEN_PCT[(number / 3 % 3) as usize];
    let (mut time, mut played, mut notes, mut specs) = (0.6, Vec::new(), Vec::new(), Vec::new());
    for i in 0..NOTES {
        let (midi, secs) = (draw.whole(38, 79), draw.even(1.2, 3.0));
        let course = (i != 3 && i != 6).then(|| course(&mut draw, i == 5));
        let f0 = Tuning::default().frequency(midi);
        let mut spec = NoteSpec::straight(Secs(time), Secs(secs), f0);
        spec.level_db = draw.normal(3.0);
        spec.wander = Cents(if course.is_some() { 0.8 } else { draw.even(0.5, 2.0) });
        spec.vibrato = course.map(|course| vibrato(&course, secs, uneven_pct));
        let intention = course.map_or(Intention::Straight, |course| Intention::Contour {
            width: course.width.map(Cents),
            rate: Some(course.rate.map(Hz)),
            peak_at: course.peak_at,
        });
        specs.push(spec);
        notes.push((midi, secs, intention));
        played.push((time, time + secs, course));
        time += secs + APART_SECS;
    }
    let spec = Spec {
        seed: number + 7,
        floor_dbfs: Some(-72.0),
        room: room.map(|(t60, drr_db)| Room { t60: Secs(t60), drr_db }),
        bow: Bow { snr_db: Some(snr_db), ..Bow::default() },
        lines: vec![Line { notes: specs, level_db: 0.0 }],
        ..Spec::default()
    };
    Contours { passage: passage(&notes), notes: played, uneven_pct, spec }
}

fn course(draw: &mut Draw, grows: bool) -> Course {
    let peak = draw.even(25.0, 110.0);
    let (start, end) = (peak * draw.even(0.1, 0.6), peak * draw.even(0.1, 0.6));
    let rate = draw.even(4.5, 6.5);
    let rates = [rate * draw.even(0.8, 1.0), rate, rate * draw.even(0.8, 1.0)];
    let inner = draw.even(0.25, 0.75);
    let peak_at = if grows { 1.0 } else { inner };
    Course { width: [start, peak, if grows { peak } else { end }], rate: rates, peak_at }
}

fn vibrato(course: &Course, secs: f64, uneven_pct: f64) -> VibratoSpec {
    let ([start, peak, end], [r0, r1, r2]) = (course.width, course.rate);
    let factor = |time: f64, width: f64, rate: f64| Factor {
        time: Secs(time),
        width: width / peak,
        rate: rate / r1,
    };
    let mut contour = vec![factor(0.0, start, r0), factor(course.peak_at * secs, peak, r1)];
    contour.extend((course.peak_at < 1.0).then(|| factor(secs, end, r2)));
    VibratoSpec {
        rate_jitter_pct: 0.5 * uneven_pct,
        width_jitter_pct: uneven_pct,
        contour,
        ..VibratoSpec::regular(Hz(r1), Cents(peak))
    }
}

/// Two passes of one line of the bow, the second vibrated and further from the microphone, of which the second keeps this
/// share.
pub fn two_passes(number: u64, keeps: f64) -> (Passage, [Spec; 2]) {
    let mut draw = Draw::new(number, "two passes");
    let mut level_db = 0.0;
    let mut line: Vec<(i32, f64)> = Vec::new();
    for _ in 0..LINE_NOTES {
        level_db += draw.normal(LINE_DB);
        // One pitch twice in a row is one note in a room.
        let midi = loop {
            let midi = draw.whole(43, 71);
            if line.last().is_none_or(|last| last.0 != midi) {
                break midi;
            }
        };
        line.push((midi, level_db));
    }
    let middle = line.iter().map(|(_, db)| db).sum::<f64>() / LINE_NOTES as f64;
    let mut pass = |vibrated: bool| {
        let (keeps, gain_db) = if vibrated { (keeps, -5.0) } else { (1.0, 0.0) };
        let mut notes = Vec::new();
        for (i, (midi, db)) in line.iter().enumerate() {
            let start = 0.5 + i as f64 * (LINE_SECS + LINE_APART_SECS);
            let f0 = Tuning::default().frequency(*midi);
            let mut note = NoteSpec::straight(Secs(start), Secs(LINE_SECS), f0);
            note.level_db = keeps * (db - middle) + draw.normal(RETURN_DB) + gain_db;
            note.wander = Cents(1.0);
            let width = draw.even(15.0, 80.0);
            note.vibrato = vibrated.then(|| VibratoSpec {
                rate_jitter_pct: 4.0,
                width_jitter_pct: 6.0,
                ..VibratoSpec::regular(Hz(5.4), Cents(width))
            });
            notes.push(note);
        }
        Spec {
            seed: number + 3,
            level_dbfs: -28.0,
            floor_dbfs: Some(-72.0),
            room: Some(Room { t60: Secs(0.4), drr_db: 8.0 }),
            lines: vec![Line { notes, level_db: 0.0 }],
            ..Spec::default()
        }
    };
    let specs = [pass(false), pass(true)];
    let level = Intention::level(Cents(40.0), None);
    let notes: Vec<_> = line.iter().map(|(midi, _)| (*midi, 1.0, level)).collect();
    (passage(&notes), specs)
}
