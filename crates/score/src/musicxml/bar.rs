//! Reads one bar.

use coach::plan::{Clef, Dynamic, Key, Mode};

use super::going::{Going, tell};
use super::note::{self, NoteKind};
use crate::error::ScoreError;
use crate::quarters::Quarters;
use crate::written::{Bar, Leap, Sound, Transposition};
use crate::xml::Element;

/// A bar, and each note of it: its place in `sounds` and its element.
pub(super) struct ReadBar<'t> {
    pub(super) bar: Bar,
    pub(super) notes: Vec<(usize, Element<'t>)>,
}

/// Where one is in the bar, and how far it has reached.
struct Cursor {
    at: Quarters,
    end: Quarters,
}

impl Cursor {
    fn go(&mut self, by: Option<Quarters>) -> Option<()> {
        // Some programs go back before the start of the bar by a rounding; the start is meant.
        self.at = self.at.plus(by?)?.max(Quarters::ZERO);
        self.end = self.end.max(self.at);
        Some(())
    }
}

/// Reads a bar: `head` has its number, `holder` its notes.
pub(super) fn read<'t>(
    head: Element<'t>,
    holder: Element<'t>,
    going: &mut Going,
    told: &mut Vec<String>,
) -> Result<ReadBar<'t>, ScoreError> {
    let number = head.attribute("number").unwrap_or_default();
    let implicit = head.attribute("implicit").is_some_and(|implicit| implicit == "yes");
    let mut bar = Bar { number, implicit, ..Bar::default() };
    let mut cursor = Cursor { at: Quarters::ZERO, end: Quarters::ZERO };
    let mut notes: Vec<(usize, Element<'t>)> = Vec::new();
    let fault = |what: &str, bar: &Bar| ScoreError::form(format!("bar {}: {what}", bar.number));
    bar.repeat.endings.clone_from(&going.endings);
    for element in holder.children() {
        match element.name() {
            "attributes" => attributes(element, &mut bar, going, told),
            "note" => {
                let sound = one_note(element, &mut bar, &cursor, going, told)
                    .ok_or_else(|| fault("a note has a length that is no number", &bar))?;
                let Some(sound) = sound else {
                    // A note of the chord before it: a slur may end there.
                    notes.extend(bar.sounds.len().checked_sub(1).map(|last| (last, element)));
                    continue;
                };
                let length = sound.length;
                notes.push((bar.sounds.len(), element));
                going.count_sound()?;
                bar.sounds.push(sound);
                cursor.go(Some(length)).ok_or_else(|| fault("it is endless", &bar))?;
            }
            "backup" | "forward" => {
                let by = duration(element, going)
                    .ok_or_else(|| fault("the way to the next voice is no number", &bar))?;
                let sign = if element.name() == "backup" { -1 } else { 1 };
                cursor.go(by.times(sign, 1)).ok_or_else(|| fault("it is endless", &bar))?;
            }
            "direction" => direction(element, &mut bar, going, cursor.at),
            "sound" => leaps(element, &mut bar),
            "barline" => barline(element, &mut bar, going),
            _ => {}
        }
    }
    bar.transposed = going.transposed;
    bar.length = Some(cursor.end).filter(|end| *end > Quarters::ZERO).or(going.full_bar);
    Ok(ReadBar { bar, notes })
}

/// A length as the score counts it. Scores without `divisions` count quarters.
fn duration(element: Element<'_>, going: &Going) -> Option<Quarters> {
    length_of(&element.text_of("duration")?, going)
}

fn length_of(text: &str, going: &Going) -> Option<Quarters> {
    let of = going.divisions.unwrap_or(1);
    match text.parse::<i64>() {
        Ok(parts) => Quarters::new(parts, of),
        // The standard allows decimals.
        Err(_) => {
            let parts: f64 = text.parse().ok()?;
            let thousandths = (parts * 1_000.0).round();
            (thousandths.abs() < 1e12).then(|| Quarters::new(thousandths as i64, of * 1_000))?
        }
    }
}

/// Reads a note. `Some(None)` where it joins the chord before it, `None` where its length is no number.
fn one_note(
    element: Element<'_>,
    bar: &mut Bar,
    cursor: &Cursor,
    going: &mut Going,
    told: &mut Vec<String>,
) -> Option<Option<Sound>> {
    let grace = element.has("grace");
    let length = match (grace, element.has("duration")) {
        (true, _) => Quarters::ZERO,
        (false, true) => duration(element, going)?,
        // A note without a length is as long as it looks.
        (false, false) => note::length_by_type(element).unwrap_or(Quarters::ZERO),
    };
    if length < Quarters::ZERO {
        return None;
    }
    let kind = note::kind(element, &bar.number, told);
    if element.has("chord")
        && let Some(last) = bar.sounds.last_mut()
    {
        note::join_chord(last, kind, element);
        return Some(None);
    }
    let mut sound = Sound {
        at: cursor.at,
        length,
        voice: element.text_of("voice").unwrap_or_default(),
        staff: element.number_of("staff").unwrap_or(1),
        grace,
        cue: element.has("cue"),
        pitches: Vec::new(),
        unpitched: kind == NoteKind::Unpitched,
        tuplet: note::tuplet(element),
        finger: None,
        string: None,
        dynamic: None,
        slurred: false,
    };
    if let NoteKind::Pitched(pitch) = kind {
        sound.pitches.push(pitch);
    }
    note::technical(&mut sound, element);
    let own = element.all("notations").filter_map(|it| it.child("dynamics")).find_map(dynamic);
    sound.dynamic = own;
    if own.is_none() && !grace && kind != NoteKind::Rest {
        sound.dynamic = going.dynamic_at(cursor.at);
    }
    Some(Some(sound))
}

fn attributes(element: Element<'_>, bar: &mut Bar, going: &mut Going, told: &mut Vec<String>) {
    if let Some(divisions) = element.number_of::<f64>("divisions").filter(|it| *it >= 1.0) {
        going.divisions = Some(divisions.round().min(1e6) as i64);
    }
    let first_staff = |of: &Element<'_>| of.attribute("number").is_none_or(|number| number == "1");
    if let Some(key) = element.all("key").find(first_staff) {
        match key.number_of::<i8>("fifths") {
            Some(sharps) if (-7..=7).contains(&sharps) => {
                let mode = match key.text_of("mode").as_deref() {
                    Some("minor" | "aeolian") => Mode::Minor,
                    _ => Mode::Major,
                };
                bar.key = Some(Key { sharps, mode });
            }
            _ => tell(told, format!("bar {}: its key cannot be shown", bar.number)),
        }
    }
    if let Some(time) = element.all("time").find(first_staff) {
        bar.time = time_of(time);
        match bar.time {
            Some((beats, of)) => {
                going.full_bar = Quarters::new(i64::from(beats) * 4, i64::from(of));
            }
            None => going.full_bar = None,
        }
    }
    if let Some(clef) = element.all("clef").find(first_staff)
        && (bar.clef.is_none() || bar.sounds.is_empty())
    {
        bar.clef = clef_of(clef);
    }
    if let Some(transpose) = element.all("transpose").find(first_staff) {
        let octaves: i32 = transpose.number_of("octave-change").unwrap_or(0).clamp(-4, 4);
        let semitones: f64 = transpose.number_of("chromatic").unwrap_or(0.0);
        let semitones = semitones.clamp(-60.0, 60.0).round() as i32;
        let steps: Option<i32> = transpose.number_of("diatonic");
        // Without steps, those of the usual name of the interval.
        let usual = (f64::from(semitones) * 7.0 / 12.0).round() as i32;
        going.transposed = Transposition {
            steps: steps.unwrap_or(usual).clamp(-60, 60) + 7 * octaves,
            semitones: semitones + 12 * octaves,
        };
    }
}

/// Beats and what one of them is. `3+2` are five; several times one behind the other are told as one bar of all.
fn time_of(time: Element<'_>) -> Option<(u32, u32)> {
    let beats = time.all("beats").map(|beats| {
        beats.text().split('+').map(|part| part.trim().parse::<u32>().ok()).sum::<Option<u32>>()
    });
    let of = time.all("beat-type").map(|of| of.text().parse::<u32>().ok());
    let pairs: Option<Vec<(u32, u32)>> =
        beats.zip(of).map(|(beats, of)| Some((beats?, of?))).collect();
    let pairs = pairs.filter(|pairs| {
        let fits = |(beats, of): &(u32, u32)| {
            (1..=256).contains(beats) && of.is_power_of_two() && *of <= 64
        };
        !pairs.is_empty() && pairs.len() <= 16 && pairs.iter().all(fits)
    })?;
    let finest = pairs.iter().map(|(_, of)| *of).max()?;
    Some((pairs.iter().map(|(beats, of)| beats * (finest / of)).sum(), finest))
}

fn clef_of(clef: Element<'_>) -> Option<Clef> {
    let line = clef.text_of("line");
    match (clef.text_of("sign")?.as_str(), line.as_deref()) {
        ("G", _) => Some(Clef::Treble),
        ("F", _) => Some(Clef::Bass),
        ("C", Some("4")) => Some(Clef::Tenor),
        ("C", _) => Some(Clef::Alto),
        _ => None,
    }
}

fn direction(element: Element<'_>, bar: &mut Bar, going: &mut Going, at: Quarters) {
    let offset = element.text_of("offset").and_then(|offset| length_of(&offset, going));
    let at = offset.and_then(|offset| at.plus(offset)).unwrap_or(at);
    for kind in element.all("direction-type") {
        for sign in kind.children() {
            match sign.name() {
                "dynamics" => going.dynamics.extend(dynamic(sign).map(|sign| (at, sign))),
                "wedge" => match sign.attribute("type").as_deref() {
                    Some("crescendo") => going.dynamics.push((at, Dynamic::Louder)),
                    Some("diminuendo") => going.dynamics.push((at, Dynamic::Softer)),
                    _ => {}
                },
                "metronome" if bar.pace_bpm.is_none() => bar.pace_bpm = metronome(sign),
                "segno" => bar.repeat.segno = true,
                "coda" => bar.repeat.coda = true,
                _ => {}
            }
        }
    }
    if let Some(sound) = element.child("sound") {
        leaps(sound, bar);
    }
}

fn leaps(sound: Element<'_>, bar: &mut Bar) {
    let has = |name: &str| sound.attribute(name).is_some_and(|value| value != "no");
    if let Some(tempo) = sound.attribute("tempo").and_then(|tempo| tempo.parse().ok()) {
        bar.pace_bpm = Some(tempo).filter(|tempo: &f64| tempo.is_finite() && *tempo > 0.0);
    }
    let repeat = &mut bar.repeat;
    repeat.segno |= has("segno");
    repeat.coda |= has("coda");
    repeat.fine |= has("fine");
    repeat.to_coda |= has("tocoda");
    if has("dacapo") {
        repeat.leap = Some(Leap::DaCapo);
    } else if has("dalsegno") {
        repeat.leap = Some(Leap::DalSegno);
    }
}

/// The sign itself is the name of an element: `<dynamics><mf/></dynamics>`.
fn dynamic(dynamics: Element<'_>) -> Option<Dynamic> {
    dynamics.children().find_map(|sign| match sign.name() {
        "ppp" | "pppp" | "ppppp" | "pppppp" => Some(Dynamic::Ppp),
        "pp" => Some(Dynamic::Pp),
        "p" => Some(Dynamic::P),
        "mp" => Some(Dynamic::Mp),
        "mf" => Some(Dynamic::Mf),
        "f" | "sf" | "sfz" | "fz" | "rf" | "rfz" | "sffz" => Some(Dynamic::F),
        "ff" => Some(Dynamic::Ff),
        "fff" | "ffff" | "fffff" | "ffffff" => Some(Dynamic::Fff),
        _ => None,
    })
}

/// The pace of a metronome mark, in quarters a minute.
fn metronome(mark: Element<'_>) -> Option<f64> {
    let quarters = note::quarters_of_type(&mark.text_of("beat-unit")?)?;
    let (parts, of) = quarters.fraction();
    let dotted = if mark.has("beat-unit-dot") { 1.5 } else { 1.0 };
    let per_minute: f64 = mark.number_of("per-minute")?;
    Some(per_minute * dotted * parts as f64 / of as f64).filter(|bpm| bpm.is_finite() && *bpm > 0.0)
}

fn barline(element: Element<'_>, bar: &mut Bar, going: &mut Going) {
    if let Some(repeat) = element.child("repeat") {
        match repeat.attribute("direction").as_deref() {
            Some("forward") => bar.repeat.begins = true,
            Some("backward") => {
                let times = repeat.attribute("times").and_then(|times| times.parse().ok());
                bar.repeat.ends = Some(times.unwrap_or(2).clamp(1, 100));
            }
            _ => {}
        }
    }
    bar.repeat.segno |= element.has("segno");
    bar.repeat.coda |= element.has("coda");
    if let Some(ending) = element.child("ending") {
        let numbers: Vec<u32> = ending
            .attribute("number")
            .unwrap_or_default()
            .split([',', ' '])
            .filter_map(|number| number.trim().parse().ok())
            .take(16)
            .collect();
        match ending.attribute("type").as_deref() {
            Some("start") => {
                going.endings.clone_from(&numbers);
                bar.repeat.endings = numbers;
            }
            _ => going.endings.clear(),
        }
    }
}
