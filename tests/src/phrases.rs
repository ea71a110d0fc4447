//! Phrases of ten notes, dry and in rooms: what became of each beginning, and of the frames behind it.
//!
//! A phrase is bowed on one string: slurred seconds and leaps, new bows on the same pitch, detached notes. In a room
//! the note before still sounds while the next one begins.

use crate::corpus::Draw;
use crate::drill_scoring::on_threads;
use tone::{Join, NoteSpec, Room, Spec, SpecError, VibratoSpec};
use tuning::{Cents, Hz, Secs};
use vibrato::{Ear, Event, Note, Settings};

/// Where phrases are played: how it is printed, and the room.
#[derive(Clone, Copy, Debug)]
pub struct Place {
    /// As it is printed.
    pub name: &'static str,
    /// Reverberation time in seconds, and direct above late sound in dB.
    pub room: Option<(f64, f64)>,
}

/// All places, the driest first.
pub const PLACES: [Place; 5] = [
    Place { name: "dry", room: None },
    Place { name: "0.4 s, 10 dB", room: Some((0.4, 10.0)) },
    Place { name: "0.4 s, 6 dB", room: Some((0.4, 6.0)) },
    Place { name: "0.8 s, 6 dB", room: Some((0.8, 6.0)) },
    Place { name: "0.8 s, 3 dB", room: Some((0.8, 3.0)) },
];

/// Notes of a phrase.
const NOTES: usize = 10;
/// Silence before a phrase, in seconds.
const LEAD_SECS: f64 = 0.3;
/// The lowest and the highest notes of cello, viola and violin, as far as they are played here.
const RANGES: [(i32, i32); 3] = [(36, 69), (48, 76), (55, 88)];

/// `count` phrases in a place, made from `seed`.
pub fn phrases(seed: u64, place: Place, count: usize) -> Vec<Spec> {
    let mut draw = Draw::new(seed, &format!("phrases {}", place.name));
    (0..count).map(|index| phrase(&mut draw, place, RANGES[index % RANGES.len()])).collect()
}

fn phrase(draw: &mut Draw, place: Place, (low, high): (i32, i32)) -> Spec {
    let tuning = draw.tuning();
    let mut notes: Vec<NoteSpec> = Vec::new();
    let mut midi = draw.whole(low, high);
    let mut start = LEAD_SECS;
    for number in 0..NOTES {
        // Of ten: four seconds, four leaps, two on the same pitch.
        let size = match draw.whole(0, 9) {
            0..=3 => draw.whole(1, 2),
            4..=7 => draw.whole(3, 12),
            _ => 0,
        };
        let upward = draw.yes();
        let length = draw.even(0.3, 0.8);
        let slurred = draw.whole(0, 9) < 7;
        if number > 0 {
            let next = if upward { midi + size } else { midi - size };
            midi = if (low..=high).contains(&next) { next } else { 2 * midi - next };
        }
        let mut note = draw.note(start, length, midi, tuning);
        note.level_db = draw.even(-3.0, 3.0);
        let (rate, width) = (draw.even(4.5, 6.5), draw.even(15.0, 60.0));
        let phase = draw.even(0.0, 0.999);
        if draw.whole(0, 9) < 6 {
            let vibrato = VibratoSpec::regular(Hz(rate), Cents(width));
            note.vibrato = Some(VibratoSpec { phase: Some(phase), ..vibrato });
        }
        match notes.last_mut() {
            // A new bow within a note: the pitch and its vibrato go on.
            Some(last) if size == 0 => {
                last.bow_changes.push(last.length);
                last.length = Secs(last.length.get() + length);
                last.dip_db = draw.even(8.0, 20.0);
            }
            Some(_) if slurred => notes.push(NoteSpec { join: Join::Legato, ..note }),
            _ => notes.push(note),
        }
        start += length;
    }
    let mut spec = draw.sound(notes, 35.0);
    spec.room = place.room.map(|(t60, drr_db)| Room { t60: Secs(t60), drr_db });
    spec
}

/// A beginning in a phrase.
#[derive(Clone, Copy, Debug)]
struct Beginning {
    secs: f64,
    f0: Hz,
    /// A new bow on the same pitch.
    rebow: bool,
}

fn beginnings(spec: &Spec) -> Vec<Beginning> {
    let mut all = Vec::new();
    for note in &spec.lines[0].notes {
        all.push(Beginning { secs: note.start.get(), f0: note.f0, rebow: false });
        all.extend(note.bow_changes.iter().map(|at| Beginning {
            secs: note.start.get() + at.get(),
            f0: note.f0,
            rebow: true,
        }));
    }
    all
}

/// What became of the beginnings, and of the frames behind each.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct PhraseScore {
    /// Beginnings, new bows included.
    pub beginnings: usize,
    /// Heard as a note of its pitch, or as a new bow.
    pub found: usize,
    /// Not heard, and their pitch went into the note before.
    pub merged: usize,
    /// Not heard otherwise.
    pub missed: usize,
    /// New bows on the same pitch, and those of them that were heard.
    pub rebows: (usize, usize),
    /// Notes told that nobody began.
    pub invented: usize,
    /// New bows told where there was none.
    pub false_rebows: usize,
    /// Frames with a pitch within 0.3 s of a change of pitch, and of them those that are off by a semitone.
    pub frames: (usize, usize),
    /// Phrases, and those whose last note was told to end where its bow left, within 50 ms.
    pub ends: (usize, usize),
}

/// A heard note or new bow belongs to a beginning if it lies at most so much earlier or later, in seconds.
const EARLY_SECS: f64 = 0.08;
const LATE_SECS: f64 = 0.15;
/// A note has the pitch of a beginning within so many cents.
const SAME_CENTS: f64 = 70.0;
/// Frames from and to so much behind a change of pitch are looked at, in seconds: before, the finger still falls and no
/// frame can have heard a whole window of the new note.
const BEHIND_SECS: (f64, f64) = (0.04, 0.3);
/// The last note of a phrase ends in its place within so many seconds.
const END_SECS: f64 = 0.05;
/// A frame so far off is wrong.
const WRONG_CENTS: f64 = 100.0;

impl PhraseScore {
    /// The sum of both.
    pub fn and(self, other: Self) -> Self {
        Self {
            beginnings: self.beginnings + other.beginnings,
            found: self.found + other.found,
            merged: self.merged + other.merged,
            missed: self.missed + other.missed,
            rebows: (self.rebows.0 + other.rebows.0, self.rebows.1 + other.rebows.1),
            invented: self.invented + other.invented,
            false_rebows: self.false_rebows + other.false_rebows,
            frames: (self.frames.0 + other.frames.0, self.frames.1 + other.frames.1),
            ends: (self.ends.0 + other.ends.0, self.ends.1 + other.ends.1),
        }
    }
}

/// Hears phrases on all threads and scores them together; with `list`, what went wrong is told.
pub fn score_phrases(specs: &[Spec], list: bool) -> Result<PhraseScore, SpecError> {
    let mut sum = PhraseScore::default();
    for scored in on_threads(specs, |spec| score_phrase(spec, list)) {
        sum = sum.and(scored?);
    }
    Ok(sum)
}

fn score_phrase(spec: &Spec, list: bool) -> Result<PhraseScore, SpecError> {
    let sound = spec.render()?;
    let (events, notes) = Ear::new(Settings::default()).all_of(&sound.samples);
    let rebows: Vec<f64> = events
        .iter()
        .filter_map(|event| match event {
            Event::Rebowed { time } => Some(time.get()),
            _ => None,
        })
        .collect();
    let truth = beginnings(spec);
    let mut score = beginnings_score(&truth, &notes, &rebows, list);
    let f0 = &sound.truth.lines[0].f0;
    for event in &events {
        let Event::Frame(frame) = event else { continue };
        let at = frame.time.get();
        let behind = truth
            .iter()
            .filter(|beginning| !beginning.rebow)
            .any(|beginning| (BEHIND_SECS.0..BEHIND_SECS.1).contains(&(at - beginning.secs)));
        let index = (at / pitch::HOP_SECS).round() as usize;
        let (Some(heard), Some(&Some(real)), true) = (frame.f0, f0.get(index), behind) else {
            continue;
        };
        score.frames.0 += 1;
        score.frames.1 += usize::from(heard.cents_above(real).get().abs() > WRONG_CENTS);
    }
    let last = spec.lines[0].notes.last().map_or(0.0, |last| last.start.get() + last.length.get());
    let off = notes.last().map_or(f64::INFINITY, |note| note.end.get() - last);
    score.ends = (1, usize::from(off.abs() <= END_SECS));
    if list {
        println!("    END {off:+.3} s");
    }
    Ok(score)
}

fn beginnings_score(
    truth: &[Beginning],
    notes: &[Note],
    rebows: &[f64],
    list: bool,
) -> PhraseScore {
    let mut score = PhraseScore { beginnings: truth.len(), ..PhraseScore::default() };
    let (mut used, mut used_rebows) = (vec![false; notes.len()], vec![false; rebows.len()]);
    let near = |secs: f64, at: f64| (-EARLY_SECS..LATE_SECS).contains(&(secs - at));
    let same = |note: &Note, f0: Hz| note.f0.value.cents_above(f0).get().abs() < SAME_CENTS;
    for beginning in truth {
        let note = (0..notes.len()).find(|&i| {
            !used[i] && near(notes[i].start.get(), beginning.secs) && same(&notes[i], beginning.f0)
        });
        let rebow = (0..rebows.len()).find(|&i| !used_rebows[i] && near(rebows[i], beginning.secs));
        score.rebows.0 += usize::from(beginning.rebow);
        match (note, rebow) {
            (Some(i), _) => used[i] = true,
            (None, Some(i)) => used_rebows[i] = true,
            (None, None) => {
                let covers = |note: &Note| {
                    note.start.get() < beginning.secs && note.end.get() > beginning.secs + LATE_SECS
                };
                let merged = notes.iter().any(covers);
                score.merged += usize::from(merged);
                score.missed += usize::from(!merged);
                if list {
                    let what = if merged { "merged" } else { "missed" };
                    println!("    {what}: {beginning:?}");
                }
                continue;
            }
        }
        score.found += 1;
        score.rebows.1 += usize::from(beginning.rebow);
    }
    score.invented = used.iter().filter(|used| !**used).count();
    score.false_rebows = (0..rebows.len())
        .filter(|&i| !used_rebows[i] && !truth.iter().any(|b| near(rebows[i], b.secs)))
        .count();
    if list && score.found + score.invented != truth.len() {
        truth.iter().for_each(|b| println!("      true  {:.3} s {:.1} Hz", b.secs, b.f0.get()));
        for (note, used) in notes.iter().zip(&used) {
            let (start, end, hz) = (note.start.get(), note.end.get(), note.f0.value.get());
            let (mark, level) = (if *used { "" } else { "invented" }, note.level_dbfs);
            println!("      heard {start:.3}-{end:.3} s {hz:.1} Hz {level:.0} dB {mark}");
        }
    }
    score
}
