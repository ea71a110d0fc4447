//! Reads what belongs to one note.

use super::going::tell;
use crate::quarters::Quarters;
use crate::written::{Sound, Written};
use crate::xml::Element;

/// Strings that sound together; more are a mistake of the file.
const MOST_CHORD: usize = 24;

/// What a note is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum NoteKind {
    Rest,
    Unpitched,
    Pitched(Written),
}

/// Which end of a slur.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum SlurEnd {
    Start,
    Stop,
}

/// What a note is; one whose pitch cannot be read is told, and taken for one without pitch.
pub(super) fn kind(note: Element<'_>, bar: &str, told: &mut Vec<String>) -> NoteKind {
    if note.has("rest") {
        return NoteKind::Rest;
    }
    if note.has("unpitched") {
        return NoteKind::Unpitched;
    }
    if let Some(pitch) = note.child("pitch").and_then(|pitch| written(note, pitch)) {
        return NoteKind::Pitched(pitch);
    }
    tell(told, format!("bar {bar}: a note whose pitch cannot be read"));
    NoteKind::Unpitched
}

fn written(note: Element<'_>, pitch: Element<'_>) -> Option<Written> {
    let step = pitch.text_of("step")?;
    let letter = step.chars().next().filter(|_| step.len() == 1)?;
    let octave: i32 = pitch.number_of("octave")?;
    let alter = pitch.text_of("alter").map_or(Some(0.0), |alter| alter.parse().ok())?;
    let fits = ('A'..='G').contains(&letter) && (-1..=9).contains(&octave);
    let ties = |kind: &str| {
        let is = |tie: Element<'_>| tie.attribute("type").is_some_and(|own| own == kind);
        let drawn = note.all("notations").flat_map(|it| it.all("tied"));
        note.all("tie").chain(drawn).any(is)
    };
    (fits && f64::abs(alter) <= 4.0).then(|| Written {
        letter,
        alter,
        octave,
        tied_from: ties("stop"),
        tied_on: ties("start"),
    })
}

/// Adds a note to the chord before it.
pub(super) fn join_chord(chord: &mut Sound, kind: NoteKind, note: Element<'_>) {
    if let NoteKind::Pitched(pitch) = kind
        && chord.pitches.len() < MOST_CHORD
    {
        chord.pitches.push(pitch);
    }
    if chord.finger.is_none() {
        technical(chord, note);
    }
}

/// The finger and the string.
pub(super) fn technical(sound: &mut Sound, note: Element<'_>) {
    for technical in note.all("notations").flat_map(|it| it.all("technical")) {
        let fingers = technical.all("fingering").filter_map(|finger| finger.text().parse().ok());
        let finger: Option<u8> = fingers.into_iter().find(|finger| *finger <= 4);
        let open = technical.has("open-string").then_some(0);
        sound.finger = sound.finger.or(finger).or(open);
        sound.string = sound.string.or(technical.number_of("string"));
    }
}

/// So many notes in the time of so many.
pub(super) fn tuplet(note: Element<'_>) -> Option<(u32, u32)> {
    let ratio = note.child("time-modification")?;
    Some((ratio.number_of("actual-notes")?, ratio.number_of("normal-notes")?))
}

/// The slurs that begin and end at a note.
pub(super) fn slur_ends(note: Element<'_>) -> Vec<(String, SlurEnd)> {
    let slurs = note.all("notations").flat_map(|notations| notations.all("slur"));
    let end = |slur: Element<'_>| {
        let number = slur.attribute("number").unwrap_or_else(|| "1".into());
        match slur.attribute("type").as_deref() {
            Some("start") => Some((number, SlurEnd::Start)),
            Some("stop") => Some((number, SlurEnd::Stop)),
            _ => None,
        }
    };
    slurs.filter_map(end).take(16).collect()
}

/// How long a note is that only says how it looks.
pub(super) fn length_by_type(note: Element<'_>) -> Option<Quarters> {
    let plain = quarters_of_type(&note.text_of("type")?)?;
    let (mut length, mut dot) = (plain, plain);
    for _ in note.all("dot").take(4) {
        dot = dot.times(1, 2)?;
        length = length.plus(dot)?;
    }
    match tuplet(note) {
        Some((actual, normal)) => length.times(i64::from(normal), i64::from(actual)),
        None => Some(length),
    }
}

/// How long a note of this name is.
pub(super) fn quarters_of_type(name: &str) -> Option<Quarters> {
    let (parts, of) = match name {
        "long" => (16, 1),
        "breve" => (8, 1),
        "whole" => (4, 1),
        "half" => (2, 1),
        "quarter" => (1, 1),
        "eighth" => (1, 2),
        "16th" => (1, 4),
        "32nd" => (1, 8),
        "64th" => (1, 16),
        "128th" => (1, 32),
        _ => return None,
    };
    Quarters::new(parts, of)
}
