//! A passage from notes that were played once.
//!
//! Nobody hears where a bar begins, so the first note begins the first bar. The beat follows the player: each length is
//! the usual one that fits best, and the beat moves a little towards what was played.

use tuning::Secs;

use super::note::{Pitch, Spelling};
use super::passage::{Clef, Key, Meter, Mode, Origin, Pace, Passage, PlanFault};
use super::row::{Laid, in_bars};

/// Usual lengths in twelfths of a beat, and what it costs to take a length for them: plain ones are likelier.
const LENGTHS: [(u32, f64); 11] = [
    (3, 0.8),
    (4, 1.4),
    (6, 0.25),
    (8, 1.6),
    (9, 1.1),
    (12, 0.0),
    (18, 0.6),
    (24, 0.25),
    (36, 0.6),
    (48, 0.5),
    (96, 1.0),
];
/// How far lengths stray from these (standard deviation of their logarithm), and what one costs at most.
const STRAYS: f64 = 0.12;
const MOST: f64 = 8.0;
/// The beat goes with each length by this share of what it strays, up to so much.
const FOLLOWS: f64 = 0.25;
const MOST_FOLLOWED: f64 = 0.2;
/// Beats a minute that are looked through in so small steps, and the likeliest of them, with the spread of its logarithm.
const BPM: std::ops::RangeInclusive<f64> = 40.0..=150.0;
const BPM_STEP: f64 = 1.01;
const USUAL_BPM: f64 = 72.0;
const BPM_SPREAD: f64 = 0.5;
/// A silence this long, in beats, is a rest; a longer one than so many is shortened.
const REST_BEATS: f64 = 0.35;
const LONGEST_REST_BEATS: f64 = 4.0;
/// A sound shorter than this is no note, in seconds.
const SHORTEST_SECS: f64 = 0.09;
/// A length that strays further than this from the one it was taken for is told.
const TOLD_OFF: f64 = 0.18;
/// A pace that was given and not kept is told from this share on.
const PACE_KEPT: f64 = 0.06;

/// A note as it was played.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PlayedOnce {
    /// Where it begins.
    pub start: Secs,
    /// Where it ends.
    pub end: Secs,
    /// MIDI number.
    pub midi: i32,
    /// Under one bow with the note before it.
    pub slur: bool,
}

/// What the passage is to be.
#[derive(Clone, Debug, PartialEq)]
pub struct TakeDown<'a> {
    /// What it is called.
    pub title: &'a str,
    /// For which instrument.
    pub instrument: &'a str,
    /// Beats a minute; `None` to find it out.
    pub bpm: Option<f64>,
    /// Beats of a bar.
    pub meter: Meter,
    /// The key; `None` to find it out.
    pub key: Option<Key>,
    /// The name of the take, if it has one.
    pub take: Option<&'a str>,
}

/// A passage that was taken down, and what was decided on the way, in words.
#[derive(Clone, Debug, PartialEq)]
pub struct TakenDown {
    /// The passage; all its notes are straight.
    pub passage: Passage,
    /// What was decided.
    pub told: Vec<String>,
}

/// Takes a passage down.
pub fn from_notes(played: &[PlayedOnce], asked: &TakeDown<'_>) -> Result<TakenDown, PlanFault> {
    let is_note = |one: &&PlayedOnce| {
        let named = spelt(one.midi, Key::default()).is_some();
        named && one.end.get() - one.start.get() >= SHORTEST_SECS
    };
    let notes: Vec<PlayedOnce> = played.iter().filter(is_note).copied().collect();
    let mut told = Vec::new();
    let lengths: Vec<f64> = notes
        .iter()
        .enumerate()
        .map(|(i, one)| notes.get(i + 1).map_or(one.end, |next| next.start).get() - one.start.get())
        .collect();
    let first = asked.bpm.unwrap_or_else(|| likely_bpm(&lengths));
    let fit = fitted(&lengths, 60.0 / first);
    let bpm = beats_a_minute(&lengths, &fit.twelfths).unwrap_or(first);
    match asked.bpm {
        None => told.push(format!("the beat was taken as {bpm:.0} a minute; if it is twice or half that, say so with --pace")),
        Some(asked) if (bpm / asked).ln().abs() > PACE_KEPT => {
            told.push(format!("{bpm:.0} beats a minute were played, not {asked:.0}"));
        }
        Some(_) => {}
    }
    let key = asked.key.unwrap_or_else(|| likely_key(&notes));
    if asked.key.is_none() {
        told.push(format!("the key was taken as {key}"));
    }
    told.extend(unsure(&fit.off));
    if notes.len() < played.len() {
        let count = played.len() - notes.len();
        told.push(format!("{count} too short to be a note, left out"));
    }
    let row = laid(&notes, &fit, key);
    let mut plan = in_bars(asked.meter, &row);
    let heads = plan.iter_mut().filter(|note| !note.tie && note.pitch != Pitch::Rest);
    let mut ended = None;
    for ((note, played), row) in heads.zip(&notes).zip(&row) {
        note.slur = played.slur && ended == Some(row.from);
        ended = Some(row.to);
    }
    let pace = Pace { bpm: asked.bpm.unwrap_or(bpm.round()), unit: asked.meter.of, free: false };
    let clef = Clef::usual(asked.instrument);
    let mut passage = Passage::new(asked.title, asked.instrument, (pace, asked.meter, clef), plan)?;
    passage.key = key;
    passage.parts_from = asked.take.map_or(Origin::Typed, |take| Origin::Take(take.to_owned()));
    Ok(TakenDown { passage, told })
}

/// Lengths as usual ones.
struct Fit {
    twelfths: Vec<u32>,
    /// How far each strays from it, as a logarithm.
    off: Vec<f64>,
    /// Seconds a beat at each of them.
    beats: Vec<f64>,
    cost: f64,
}

/// Takes each length for the usual one that fits best, with a beat that follows the player.
fn fitted(lengths: &[f64], beat: f64) -> Fit {
    let mut fit = Fit { twelfths: Vec::new(), off: Vec::new(), beats: Vec::new(), cost: 0.0 };
    let mut beat = beat;
    for (i, secs) in lengths.iter().enumerate() {
        let off = |twelfths: u32| (12.0 * secs / (f64::from(twelfths) * beat)).ln();
        let cost = |(twelfths, price): (u32, f64)| {
            price + (0.5 * (off(twelfths) / STRAYS).powi(2)).min(MOST)
        };
        let Some(best) = LENGTHS.into_iter().min_by(|a, b| cost(*a).total_cmp(&cost(*b))) else {
            break;
        };
        let strays = off(best.0);
        // A pause may follow the last note, and the player may stop anywhere: such a length says nothing of the beat.
        if i + 1 < lengths.len() {
            fit.cost += cost(best);
        }
        fit.twelfths.push(best.0);
        fit.off.push(strays);
        fit.beats.push(beat);
        if strays.abs() < MOST_FOLLOWED {
            beat *= (FOLLOWS * strays).exp();
        }
    }
    fit
}

/// The beat by which the lengths are nearest to plain ones.
fn likely_bpm(lengths: &[f64]) -> f64 {
    let next = |bpm: &f64| Some(bpm * BPM_STEP).filter(|bpm| BPM.contains(bpm));
    let all = std::iter::successors(Some(*BPM.start()), next);
    let cost = |bpm: f64| {
        let unusual = 0.5 * ((bpm / USUAL_BPM).ln() / BPM_SPREAD).powi(2);
        fitted(lengths, 60.0 / bpm).cost + unusual
    };
    all.min_by(|a, b| cost(*a).total_cmp(&cost(*b))).unwrap_or(USUAL_BPM)
}

/// The pace at which all was played, in the middle.
fn beats_a_minute(lengths: &[f64], twelfths: &[u32]) -> Option<f64> {
    let each = lengths.iter().zip(twelfths).rev().skip(1);
    let bpm = each.map(|(secs, twelfths)| 5.0 * f64::from(*twelfths) / secs).collect();
    vibrato::median(bpm)
}

/// Notes whose length lay between two, as words.
fn unsure(off: &[f64]) -> Option<String> {
    let inner = off.iter().enumerate().rev().skip(1).rev();
    let far: Vec<String> =
        inner.filter(|(_, off)| off.abs() > TOLD_OFF).map(|(i, _)| (i + 1).to_string()).collect();
    match &far[..] {
        [] => None,
        [one] => Some(format!("the length of note {one} lay between two; look at it")),
        [most @ .., last] => {
            let most = most.join(", ");
            Some(format!("the lengths of notes {most} and {last} lay between two; look at them"))
        }
    }
}

/// The notes in twelfths of a beat; a long silence is a rest.
fn laid(notes: &[PlayedOnce], fit: &Fit, key: Key) -> Vec<Laid> {
    let mut at = 0;
    let mut row = Vec::with_capacity(notes.len());
    for (i, one) in notes.iter().enumerate() {
        let (mut length, beat) = (fit.twelfths[i], fit.beats[i]);
        let silent = notes.get(i + 1).map_or(0.0, |next| (next.start.get() - one.end.get()) / beat);
        let mut rest = 0;
        if silent >= REST_BEATS {
            // To half beats, and the note keeps at least a quarter of one.
            rest = ((2.0 * silent.min(LONGEST_REST_BEATS)).round() as u32).max(1) * 6;
            let sounding = 12.0 * (one.end.get() - one.start.get()) / beat;
            let near = |twelfths: &u32| (f64::from(*twelfths) / sounding).ln().abs();
            let usual = LENGTHS.map(|(twelfths, _)| twelfths);
            let own = usual.into_iter().min_by(|a, b| near(a).total_cmp(&near(b))).unwrap_or(3);
            length = if rest < length { length - rest } else { own };
        }
        let pitch = spelt(one.midi, key).map_or(Pitch::Rest, Pitch::Single);
        row.push(Laid { from: at, to: at + length, pitch });
        at += length + rest;
    }
    row
}

/// The key that has most of the notes, and of several the one with fewest signs; minor if the last note is its tonic.
fn likely_key(notes: &[PlayedOnce]) -> Key {
    let outside = |sharps: i32| {
        // Seven fifths in a row, from a fifth below the tonic.
        let inside = |midi: i32| (7 * midi + 1 - sharps).rem_euclid(12) < 7;
        notes.iter().filter(|note| !inside(note.midi)).count()
    };
    let sharps = (-6..=6).min_by_key(|sharps| (outside(*sharps), sharps.abs())).unwrap_or(0);
    let last = notes.last().map(|note| (note.midi - 7 * sharps).rem_euclid(12));
    let mode = if last == Some(9) { Mode::Minor } else { Mode::Major };
    Key { sharps: sharps as i8, mode }
}

/// A pitch as it is spelt in a key.
fn spelt(midi: i32, key: Key) -> Option<Spelling> {
    // In minor the leading note is raised, so sharps are nearer.
    let fewest = if key.mode == Mode::Minor { -2 } else { 0 };
    key.spelt(midi, if key.sharps >= fewest { 1 } else { -1 })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::BeatUnit;

    const METER: Meter = Meter { beats: 4, of: BeatUnit::Quarter };

    /// Notes of these pitches and lengths in seconds, one behind the other; a pitch of 0 is silence.
    fn played(notes: &[(i32, f64)]) -> Vec<PlayedOnce> {
        let mut at = 0.4;
        let mut all = Vec::new();
        for (midi, secs) in notes {
            if *midi > 0 {
                let (start, end) = (Secs(at), Secs(at + secs - 0.02));
                all.push(PlayedOnce { start, end, midi: *midi, slur: midi % 2 == 1 });
            }
            at += secs;
        }
        all
    }

    fn taken(notes: &[(i32, f64)], bpm: Option<f64>) -> TakenDown {
        let asked = TakeDown {
            title: "",
            instrument: "cello",
            bpm,
            meter: METER,
            key: None,
            take: Some("2026-11-25/17-41-09"),
        };
        from_notes(&played(notes), &asked).expect("a passage")
    }

    /// The bars as one would type them.
    fn bars(taken: &TakenDown) -> Vec<String> {
        let text = taken.passage.to_text();
        text.lines().filter(|line| line.starts_with("bar")).map(str::to_owned).collect()
    }

    const TUNE: [(i32, f64); 8] = [
        (50, 0.84),
        (52, 0.42),
        (54, 0.43),
        (55, 1.7),
        (57, 0.86),
        (0, 0.85),
        (61, 0.9),
        (62, 2.6),
    ];

    #[test]
    fn a_tune_in_a_plain_beat_is_taken_down_with_its_rests_in_its_key() {
        let taken = taken(&TUNE, None);
        assert_eq!(
            bars(&taken),
            [
                "bar 1  D3 1, E3 1/2, F#3 1/2, slur G3 2",
                "bar 2  slur A3 1, rest 1, C#4 1, D4 1",
                "bar 3  D4 2 tied, rest 2"
            ]
        );
        assert_eq!(taken.passage.key, Key { sharps: 2, mode: Mode::Major });
        assert_eq!(taken.passage.pace.bpm, 70.0);
        assert!(taken.told[0].starts_with("the beat was taken as 70 a minute"), "{:?}", taken.told);
        assert!(taken.told[1].contains("D major"), "{:?}", taken.told);
        assert_eq!(taken.told.len(), 2, "{:?}", taken.told);
        assert_eq!(taken.passage.parts_from, Origin::Take("2026-11-25/17-41-09".into()));
    }

    #[test]
    fn a_given_pace_counts_the_beats_and_what_was_played_instead_is_told() {
        let half = taken(&TUNE, Some(140.0));
        assert_eq!(bars(&half)[0], "bar 1  D3 2, E3 1, F#3 1");
        assert!(half.told.iter().all(|told| !told.contains("were played")), "{:?}", half.told);
        let slow = taken(&TUNE, Some(80.0));
        assert_eq!(bars(&slow), bars(&taken(&TUNE, None)));
        assert!(slow.told[0].contains("beats a minute were played, not 80"), "{:?}", slow.told);
    }

    #[test]
    fn a_player_who_grows_slower_by_a_third_plays_the_same_lengths() {
        let mut slower: Vec<(i32, f64)> = (0..24).map(|i| (48 + i % 5, 0.8)).collect();
        let count = slower.len() as f64;
        for (i, note) in slower.iter_mut().enumerate() {
            note.1 *= (if i % 3 == 0 { 2.0 } else { 1.0 }) * (1.0 + 0.33 * i as f64 / count);
        }
        let taken = taken(&slower, None);
        let heads = taken.passage.notes().iter().filter(|note| !note.tie);
        let starts = heads
            .filter(|note| note.pitch != Pitch::Rest)
            .map(|note| 4.0 * f64::from(note.at.bar) + note.at.beat.get());
        let starts: Vec<f64> = starts.collect();
        let lengths: Vec<f64> = starts.windows(2).map(|two| two[1] - two[0]).collect();
        let due: Vec<f64> = (0..23).map(|i| if i % 3 == 0 { 2.0 } else { 1.0 }).collect();
        assert_eq!(lengths, due);
    }

    #[test]
    fn what_lies_between_two_lengths_or_is_too_short_is_told() {
        let mut notes = TUNE;
        notes[2].1 = 1.05;
        notes[4].1 = 0.08;
        let told = taken(&notes, Some(70.0)).told.join("; ");
        assert!(told.contains("the length of note 3 lay between two"), "{told}");
        assert!(told.contains("1 too short to be a note"), "{told}");
        let asked = TakeDown {
            title: "",
            instrument: "cello",
            bpm: None,
            meter: METER,
            key: None,
            take: None,
        };
        assert_eq!(from_notes(&[], &asked), Err(PlanFault::Empty));
    }
}
