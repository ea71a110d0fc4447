//! A part of a score, or some bars of it, as a passage.

use coach::plan::{
    BeatUnit, Beats, Clef, HeadChange, Key, Meter, Origin, Pace, Passage, Pitch, Place, PlanNote,
    Spelling,
};
use tuning::{Instrument, Naming, pitch_name};

use crate::error::ScoreError;
use crate::musicxml::MusicXml;
use crate::quarters::Quarters;
use crate::written::{Bar, Part, Sound, Transposition, Written};

/// What of a score is to become a passage.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Choice {
    /// The part, by its name or its number from 1; needed where there are several.
    pub part: Option<String>,
    /// The voice, by its name in the score; needed where the part has several.
    pub voice: Option<String>,
    /// The first and the last bar, by their numbers; all where nothing is said.
    pub bars: Option<(u32, u32)>,
    /// The instrument; guessed from the name of the part where nothing is said.
    pub instrument: Option<String>,
}

/// A part of a score that holds notes, and what can be chosen of it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PartContents {
    /// Its number, from 1.
    pub number: u32,
    /// What it is called; may be empty.
    pub name: String,
    /// Its voices that sound, by their names; one at least.
    pub voices: Vec<String>,
    /// The numbers of its first and its last bar.
    pub bars: (u32, u32),
}

/// A passage that was read, and what of the score is not in it, in words.
#[derive(Clone, Debug, PartialEq)]
pub struct ReadPassage {
    /// The passage; straight throughout.
    pub passage: Passage,
    /// What was left out or changed.
    pub told: Vec<String>,
}

/// The usual pace where a score names none, in beats a minute; and the paces that a plan may have.
const USUAL_BPM: f64 = 60.0;
const BPM: (f64, f64) = (10.0, 300.0);
/// Voices of a part that are told apart.
const MOST_VOICES: usize = 40;
/// What is told at most.
const MOST_TOLD: usize = 20;

impl MusicXml {
    /// Makes a passage of one voice of one part; `file` is what the score is called.
    pub fn passage(&self, choice: &Choice, file: &str) -> Result<ReadPassage, ScoreError> {
        let number = self.number_of_part(choice.part.as_deref())?;
        let part = self.part(number)?;
        let voice = one_voice(&part, choice.voice.as_deref())?;
        let numbered = Numbered::new(&part)?;
        let (first, last) = choice.bars.unwrap_or((0, u32::MAX));
        let played: Vec<usize> = numbered
            .order
            .iter()
            .copied()
            .filter(|at| (first..=last).contains(&numbered.bars[*at].0))
            .collect();
        let Some(begin) = played.iter().copied().min() else {
            let numbers = || numbered.bars.iter().map(|bar| bar.0);
            return Err(ScoreError::Choice(format!(
                "there are no bars {first} to {last}; the part has bars {} to {}",
                numbers().min().unwrap_or(0),
                numbers().max().unwrap_or(0)
            )));
        };
        let head = Head::at(&part, begin);
        let instrument =
            choice.instrument.clone().unwrap_or_else(|| guessed(&part.name, head.clef));
        let mut told = part.left_out.clone();
        told.extend(numbered.told.clone());
        let meter = meter(head.time, &mut told);
        let mut row =
            Row { unit: meter.of, strings: strings(&instrument), notes: Vec::new(), told };
        let mut before: Option<usize> = None;
        for at in played.iter().copied() {
            let follows = before.is_some_and(|before| before + 1 == at);
            row.bar(&part.bars[at], &voice, numbered.bars[at], follows)?;
            before = Some(at);
        }
        let Row { notes, mut told, .. } = row;
        let clef = head.clef.unwrap_or_else(|| Clef::usual(&instrument));
        let pace = Pace { bpm: head.bpm.clamp(BPM.0, BPM.1), unit: BeatUnit::Quarter, free: false };
        let title = self.title.clone().unwrap_or_else(|| part.name.clone());
        let mut passage = Passage::new(&title, &instrument, (pace, meter, clef), notes)?;
        passage.key = sounding_key(head.key, part.bars[begin].transposed);
        passage.changes = changes(&part, &played, &numbered, &head, &mut told);
        let numbers = || played.iter().map(|at| numbered.bars[*at].0);
        let bars = (numbers().min().unwrap_or(0), numbers().max().unwrap_or(0));
        let name = if part.name.is_empty() { format!("{}", number + 1) } else { part.name.clone() };
        passage.parts_from = Origin::MusicXml { file: file.to_owned(), part: name, bars };
        told.truncate(MOST_TOLD);
        Ok(ReadPassage { passage, told })
    }

    /// The parts that hold notes, with what can be chosen of each.
    ///
    /// # Errors
    ///
    /// If none of them can be read: why the first one cannot.
    pub fn contents(&self) -> Result<Vec<PartContents>, ScoreError> {
        let (mut all, mut first_fault) = (Vec::new(), None);
        for (at, named) in self.parts.iter().enumerate() {
            match self.part(at).and_then(|part| Ok((Numbered::new(&part)?, part))) {
                Ok((numbered, part)) => {
                    let voices: Vec<String> =
                        voices(&part, false).into_iter().map(str::to_owned).collect();
                    let numbers = || numbered.bars.iter().map(|bar| bar.0);
                    let bars = numbers().min().zip(numbers().max());
                    if let Some(bars) = bars.filter(|_| !voices.is_empty()) {
                        let (number, name) = (at as u32 + 1, named.name.clone());
                        all.push(PartContents { number, name, voices, bars });
                    }
                }
                Err(fault) => first_fault = first_fault.or(Some(fault)),
            }
        }
        match first_fault {
            Some(fault) if all.is_empty() => Err(fault),
            _ if all.is_empty() => Err(coach::plan::PlanFault::Empty.into()),
            _ => Ok(all),
        }
    }

    fn number_of_part(&self, wanted: Option<&str>) -> Result<usize, ScoreError> {
        let listed = || {
            let parts = self.parts.iter().enumerate().take(40);
            let parts =
                parts.map(|(at, part)| format!("{} {}", at + 1, part.name).trim().to_owned());
            parts.collect::<Vec<_>>().join(", ")
        };
        let Some(wanted) = wanted else {
            return match self.parts.len() {
                1 => Ok(0),
                several => Err(ScoreError::Choice(format!(
                    "this score has {several} parts; choose one by its number or name: {}",
                    listed()
                ))),
            };
        };
        let named = self.parts.iter().position(|part| part.name == wanted || part.id == wanted);
        let numbered = wanted.parse::<usize>().ok().and_then(|number| number.checked_sub(1));
        named.or(numbered.filter(|at| *at < self.parts.len())).ok_or_else(|| {
            ScoreError::Choice(format!(
                "there is no part \"{wanted}\"; choose one by its number or name: {}",
                listed()
            ))
        })
    }
}

/// The voices of a part by their names, or those that sound.
fn voices(part: &Part, silent_too: bool) -> Vec<&str> {
    let mut voices: Vec<&str> = Vec::new();
    for sound in part.bars.iter().flat_map(|bar| &bar.sounds) {
        let counts = !sound.pitches.is_empty() || silent_too;
        if counts && !voices.contains(&sound.voice.as_str()) {
            voices.push(&sound.voice);
        }
        if voices.len() > MOST_VOICES {
            break;
        }
    }
    voices
}

/// The one voice that is wanted; where several play and none was named, it is asked for.
fn one_voice(part: &Part, wanted: Option<&str>) -> Result<String, ScoreError> {
    let voices = voices(part, wanted.is_some());
    match (wanted, &voices[..]) {
        (Some(wanted), _) if voices.contains(&wanted) => Ok(wanted.to_owned()),
        (Some(wanted), _) => Err(ScoreError::Choice(format!(
            "there is no voice \"{wanted}\"; the part has {}",
            voices.join(", ")
        ))),
        (None, [only]) => Ok((*only).to_owned()),
        (None, []) => Err(coach::plan::PlanFault::Empty.into()),
        (None, several) => Err(ScoreError::Choice(format!(
            "the part has {} voices; choose one of {}",
            several.len(),
            several.join(", ")
        ))),
    }
}

/// Bars with their numbers, and where in the numbered bar each begins, in the order in which they are played.
struct Numbered {
    order: Vec<usize>,
    bars: Vec<(u32, Quarters)>,
    told: Vec<String>,
}

impl Numbered {
    fn new(part: &Part) -> Result<Self, ScoreError> {
        let order = part.played()?;
        let own = |bar: &Bar| bar.number.parse::<u32>().ok();
        let counted = part.bars.iter().enumerate();
        let counted = counted.filter(|(at, bar)| *at == 0 || !(bar.implicit || own(bar).is_none()));
        let numbers: Vec<u32> = counted.filter_map(|(_, bar)| own(bar)).collect();
        let rising = numbers.windows(2).all(|pair| pair[0] < pair[1]);
        let mut told = Vec::new();
        if !rising {
            told.push(
                "the numbers of the bars do not rise; they were counted anew from 1".to_owned(),
            );
        }
        let mut bars: Vec<(u32, Quarters)> = Vec::new();
        for (at, bar) in part.bars.iter().enumerate() {
            let length = |at: usize| part.bars[at].length.unwrap_or(Quarters::ZERO);
            let before: Option<(u32, Quarters)> = bars.last().copied();
            let named = own(bar).filter(|_| rising && (at == 0 || !bar.implicit));
            bars.push(match (named, before) {
                (Some(number), _) => (number, Quarters::ZERO),
                (None, Some((number, from))) if rising || bar.implicit => {
                    // The second half of a bar that was parted: it goes on with the first, unless one can come to it
                    // from elsewhere.
                    let joined = order.windows(2).all(|pair| pair[1] != at || pair[0] + 1 == at);
                    let from =
                        from.plus(length(at - 1)).filter(|_| joined).unwrap_or(Quarters::ZERO);
                    (number, from)
                }
                (None, before) => {
                    let number = before.map_or(u32::from(!bar.implicit), |(number, _)| number + 1);
                    (number, Quarters::ZERO)
                }
            });
        }
        Ok(Self { order, bars, told })
    }
}

/// What holds at a bar.
struct Head {
    time: (u32, u32),
    key: Key,
    clef: Option<Clef>,
    bpm: f64,
}

impl Head {
    fn at(part: &Part, bar: usize) -> Self {
        let until = || part.bars[..=bar].iter().rev();
        Self {
            time: until().find_map(|bar| bar.time).unwrap_or((4, 4)),
            key: until().find_map(|bar| bar.key).unwrap_or_default(),
            clef: until().find_map(|bar| bar.clef),
            bpm: until().find_map(|bar| bar.pace_bpm).unwrap_or(USUAL_BPM),
        }
    }
}

/// A time as beats that a plan can count.
fn meter((beats, of): (u32, u32), told: &mut Vec<String>) -> Meter {
    let (beats, unit) = match of {
        1 => (beats * 2, BeatUnit::Half),
        2 => (beats, BeatUnit::Half),
        4 => (beats, BeatUnit::Quarter),
        8 => (beats, BeatUnit::Eighth),
        finer => {
            let eighths = beats * 8;
            if !eighths.is_multiple_of(finer) {
                told.push(format!(
                    "{beats}/{finer} time cannot be counted in eighths; its bars look too long"
                ));
            }
            (eighths.div_ceil(finer), BeatUnit::Eighth)
        }
    };
    Meter { beats: beats.clamp(1, 64), of: unit }
}

/// The key that sounds where this one is written.
fn sounding_key(key: Key, by: Transposition) -> Key {
    let sharps = i32::from(key.sharps) + 7 * by.semitones - 12 * by.steps;
    let sharps = match sharps {
        8.. => sharps - 12,
        ..=-8 => sharps + 12,
        _ => sharps,
    };
    Key { sharps: sharps.clamp(-7, 7) as i8, ..key }
}

/// Where meter, key or clef change within the bars that are played.
fn changes(
    part: &Part,
    played: &[usize],
    numbered: &Numbered,
    head: &Head,
    told: &mut Vec<String>,
) -> Vec<HeadChange> {
    let Some(first) = played.iter().min() else { return Vec::new() };
    let (mut time, mut key, mut clef) =
        (head.time, sounding_key(head.key, part.bars[*first].transposed), head.clef);
    let mut changes: Vec<HeadChange> = Vec::new();
    for at in first + 1..part.bars.len() {
        let bar = &part.bars[at];
        let new_time = bar.time.filter(|new| *new != time);
        let new_key =
            bar.key.map(|key| sounding_key(key, bar.transposed)).filter(|new| *new != key);
        let new_clef = bar.clef.filter(|new| Some(*new) != clef);
        (time, key) = (new_time.unwrap_or(time), new_key.unwrap_or(key));
        clef = new_clef.or(clef);
        let (number, from) = numbered.bars[at];
        let any = new_time.is_some() || new_key.is_some() || new_clef.is_some();
        if !any || !played.contains(&at) || from != Quarters::ZERO {
            continue;
        }
        let meter = new_time.map(|time| meter(time, told));
        changes.push(HeadChange { bar: number, meter, key: new_key, clef: new_clef });
    }
    changes.dedup_by_key(|change| change.bar);
    changes
}

/// What an instrument is called here, by the name of the part.
fn guessed(part: &str, clef: Option<Clef>) -> String {
    let part = part.to_lowercase();
    let has = |names: &[&str]| names.iter().any(|name| part.contains(name));
    let name = match () {
        () if has(&["cello", "vlc."]) => "cello",
        () if has(&["contrabass", "double bass", "kontrabass", "contrebasse"]) => "double-bass",
        () if has(&["viola", "bratsche", "alto", "vla."]) => "viola",
        () if has(&["violin", "violon", "geige", "vln."]) => "violin",
        () => match clef {
            Some(Clef::Treble) => "violin",
            Some(Clef::Alto) => "viola",
            _ => "cello",
        },
    };
    name.to_owned()
}

/// The names of an instrument's strings from the highest down, as scores count them.
fn strings(instrument: &str) -> Vec<String> {
    let strings =
        Instrument::shipped(instrument).map_or_else(|_| Vec::new(), |known| known.strings);
    strings.into_iter().rev().map(|string| string.name).collect()
}

struct Row {
    unit: BeatUnit,
    strings: Vec<String>,
    notes: Vec<PlanNote>,
    told: Vec<String>,
}

impl Row {
    /// Adds a bar; `follows` says whether the bar before it in the row is that before it on the page.
    fn bar(
        &mut self,
        bar: &Bar,
        voice: &str,
        (number, from): (u32, Quarters),
        follows: bool,
    ) -> Result<(), ScoreError> {
        let mut at = Quarters::ZERO;
        let mut is_first = true;
        let mut graces: Vec<Spelling> = Vec::new();
        let mut sounds: Vec<&Sound> =
            bar.sounds.iter().filter(|sound| sound.voice == voice).collect();
        // The order of the page, where it does not go back: grace notes keep their place.
        sounds.sort_by_key(|sound| sound.at);
        for sound in sounds {
            if sound.grace {
                graces.extend(sound.pitches.iter().filter_map(|pitch| self.spelt(pitch, bar)));
                continue;
            }
            let end = sound.at.plus(sound.length).unwrap_or(sound.at);
            if end <= at {
                self.tell(
                    bar,
                    "a note that begins before another of its voice has ended is left out",
                );
                continue;
            }
            let start = sound.at.max(at);
            self.rest(bar, (number, from), at, start)?;
            let mut note = self.note(sound, bar, (number, from), (start, end))?;
            note.grace = std::mem::take(&mut graces);
            let before = self.notes.last().filter(|_| follows || !is_first);
            let joined = before.is_some_and(|before| before.pitch != Pitch::Rest)
                && start == at
                && note.pitch != Pitch::Rest;
            let tied =
                !sound.pitches.is_empty() && sound.pitches.iter().all(|pitch| pitch.tied_from);
            note.tie = joined && tied && before.is_some_and(|before| before.pitch == note.pitch);
            note.slur = joined && sound.slurred && !note.tie;
            self.notes.push(note);
            (at, is_first) = (end, false);
        }
        if !graces.is_empty() {
            self.tell(bar, "grace notes behind the last note of the bar are left out");
        }
        match bar.length {
            Some(length) => self.rest(bar, (number, from), at, length),
            None => Ok(()),
        }
    }

    fn tell(&mut self, bar: &Bar, what: &str) {
        if self.told.len() < MOST_TOLD {
            self.told.push(format!("bar {}: {what}", bar.number));
        }
    }

    fn beats(&self, bar: &Bar, quarters: Quarters) -> Result<Beats, ScoreError> {
        let beats = quarters.times(2, i64::from(self.unit.eighths())).map(Quarters::fraction);
        let beats =
            beats.and_then(|(parts, of)| Beats::new(parts.try_into().ok()?, of.try_into().ok()?));
        beats.ok_or_else(|| {
            ScoreError::Choice(format!(
                "bar {}: a length in it is too fine or too long for a plan; choose other bars",
                bar.number
            ))
        })
    }

    fn place(
        &self,
        bar: &Bar,
        (number, from): (u32, Quarters),
        at: Quarters,
    ) -> Result<Place, ScoreError> {
        let beat = self.beats(bar, from.plus(at).unwrap_or(at))?;
        Ok(Place { bar: number, beat })
    }

    /// Fills the time between two notes of the voice.
    fn rest(
        &mut self,
        bar: &Bar,
        number: (u32, Quarters),
        from: Quarters,
        to: Quarters,
    ) -> Result<(), ScoreError> {
        let Some(length) = to.minus(from).filter(|length| *length > Quarters::ZERO) else {
            return Ok(());
        };
        let rest =
            PlanNote::plain(self.place(bar, number, from)?, self.beats(bar, length)?, Pitch::Rest);
        self.notes.push(rest);
        Ok(())
    }

    fn note(
        &mut self,
        sound: &Sound,
        bar: &Bar,
        number: (u32, Quarters),
        (from, to): (Quarters, Quarters),
    ) -> Result<PlanNote, ScoreError> {
        let length = to.minus(from).unwrap_or(Quarters::ZERO);
        let pitch = if sound.cue { Pitch::Rest } else { self.pitch(sound, bar) };
        if sound.cue || sound.unpitched {
            self.tell(bar, "notes without pitch, or of another part, are taken for rests");
        }
        let mut note =
            PlanNote::plain(self.place(bar, number, from)?, self.beats(bar, length)?, pitch);
        if pitch != Pitch::Rest {
            note.finger = sound.finger;
            note.dynamic = sound.dynamic;
            let string = sound.string.and_then(|string| string.checked_sub(1));
            note.string = string.and_then(|string| self.strings.get(string as usize).cloned());
        }
        Ok(note)
    }

    fn pitch(&mut self, sound: &Sound, bar: &Bar) -> Pitch {
        let mut pitches: Vec<Spelling> =
            sound.pitches.iter().filter_map(|pitch| self.spelt(pitch, bar)).collect();
        pitches.sort_by_key(|pitch| pitch.midi());
        pitches.dedup_by_key(|pitch| pitch.midi());
        if pitches.len() > 2 {
            self.tell(bar, "of a chord of more than two notes the lowest and the highest are kept");
        }
        match pitches[..] {
            [] => Pitch::Rest,
            [only] => Pitch::Single(only),
            [low, .., high] => Pitch::Double(low, high),
        }
    }

    /// The pitch that sounds, as it is spelt, or under another name where a plan has none for it.
    fn spelt(&mut self, pitch: &Written, bar: &Bar) -> Option<Spelling> {
        let sounding = pitch.sounding(bar.transposed);
        let alter = sounding.alter.round();
        if alter != sounding.alter {
            self.tell(bar, "a pitch between two semitones is rounded");
        }
        let own = Spelling::new(sounding.letter, alter as i8, i8::try_from(sounding.octave).ok()?);
        let other =
            || Spelling::named(&pitch_name(sounding.midi().round() as i32, Naming::Scientific));
        match own.or_else(|_| other()) {
            Ok(spelling) => Some(spelling),
            Err(_) => {
                self.tell(bar, "a pitch that has no name is left out");
                None
            }
        }
    }
}
