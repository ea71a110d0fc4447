//! MIDI files (Standard MIDI Files 1.0): one track becomes a passage. Lengths are snapped to a twelfth of a beat, since a file that
//! was played holds every unevenness of the hand.

use coach::plan::{
    BeatUnit, Clef, Key, Laid, Meter, Mode, Origin, Pace, Passage, Pitch, Spelling, TWELFTHS,
    in_bars,
};
use midly::{MetaMessage, MidiMessage, Smf, Timing, TrackEventKind};
use tuning::{Naming, pitch_name};

use crate::error::ScoreError;
use crate::passage::ReadPassage;

/// Bytes of a file; a long symphony has less than a tenth of it.
const MOST_BYTES: usize = 16 << 20;
/// Notes of a track, and events of a file.
const MOST_NOTES: usize = 50_000;
const MOST_EVENTS: usize = 2_000_000;
/// A quarter of an hour at the slowest pace: what lies further on is a mistake of the file.
const LONGEST_BEATS: u64 = 20_000;
const USUAL_BPM: f64 = 60.0;

/// A MIDI file whose tracks can be read one by one.
pub struct Midi {
    ticks_per_quarter: u32,
    head: MidiHead,
    /// Its tracks that hold notes: number from 1, name, notes.
    pub tracks: Vec<(u32, String, usize)>,
    notes: Vec<Vec<Struck>>,
}

struct MidiHead {
    bpm: f64,
    meter: Meter,
    key: Key,
}

/// A note in ticks.
#[derive(Clone, Copy)]
struct Struck {
    midi: u8,
    from: u64,
    to: u64,
}

impl Midi {
    /// Reads a `.mid` file.
    pub fn read(bytes: &[u8]) -> Result<Self, ScoreError> {
        let wrong = |what: String| ScoreError::Form { what, mend: "save it again as a MIDI file" };
        if bytes.len() > MOST_BYTES {
            return Err(ScoreError::TooLarge {
                what: "this file",
                most: format!("{} MB of MIDI", MOST_BYTES >> 20),
                mend: "save a single track",
            });
        }
        // Looked at here, since the library stumbles over some counts of film frames.
        match bytes.get(..14) {
            Some([b'M', b'T', b'h', b'd', .., division, _]) if division & 0x80 == 0 => {}
            Some([b'M', b'T', b'h', b'd', ..]) => {
                return Err(wrong("the MIDI file counts film frames and no beats".into()));
            }
            _ => return Err(wrong("this is no MIDI file".into())),
        }
        let smf = Smf::parse(bytes)
            .map_err(|error| wrong(format!("this is no whole MIDI file ({error})")))?;
        let Timing::Metrical(ticks) = smf.header.timing else {
            return Err(wrong("the MIDI file counts film frames and no beats".into()));
        };
        let ticks_per_quarter = u32::from(ticks.as_int());
        if ticks_per_quarter == 0 {
            return Err(wrong("the MIDI file has beats without length".into()));
        }
        if smf.tracks.iter().map(Vec::len).sum::<usize>() > MOST_EVENTS {
            return Err(wrong("the MIDI file holds more than 2 million events".into()));
        }
        let common = Meter { beats: 4, of: BeatUnit::Quarter };
        let mut midi = Self {
            ticks_per_quarter,
            head: MidiHead { bpm: USUAL_BPM, meter: common, key: Key::default() },
            tracks: Vec::new(),
            notes: Vec::new(),
        };
        let mut seen = [false; 3];
        for (at, track) in smf.tracks.iter().enumerate() {
            let (name, notes) = midi.track(track, &mut seen)?;
            if !notes.is_empty() {
                midi.tracks.push((at as u32 + 1, name, notes.len()));
                midi.notes.push(notes);
            }
        }
        match midi.tracks.is_empty() {
            true => Err(wrong("the MIDI file has no note".into())),
            false => Ok(midi),
        }
    }

    /// The notes of a track and its name; the first pace, meter and key of the file are kept.
    fn track(
        &mut self,
        events: &[midly::TrackEvent<'_>],
        seen: &mut [bool; 3],
    ) -> Result<(String, Vec<Struck>), ScoreError> {
        let (mut name, mut notes, mut now) = (String::new(), Vec::new(), 0u64);
        let mut sounding: [Option<u64>; 128] = [None; 128];
        let end =
            |sounding: &mut [Option<u64>; 128], key: u8, now: u64, notes: &mut Vec<Struck>| {
                if let Some(from) = sounding.get_mut(usize::from(key)).and_then(Option::take) {
                    notes.push(Struck { midi: key, from, to: now.max(from + 1) });
                }
            };
        for event in events {
            now += u64::from(event.delta.as_int());
            match event.kind {
                TrackEventKind::Midi { message: MidiMessage::NoteOn { key, vel }, .. } => {
                    end(&mut sounding, key.as_int(), now, &mut notes);
                    if vel.as_int() > 0 {
                        sounding[usize::from(key.as_int())] = Some(now);
                    }
                }
                TrackEventKind::Midi { message: MidiMessage::NoteOff { key, .. }, .. } => {
                    end(&mut sounding, key.as_int(), now, &mut notes);
                }
                TrackEventKind::Meta(MetaMessage::TrackName(bytes)) if name.is_empty() => {
                    name = String::from_utf8_lossy(bytes).chars().take(60).collect();
                }
                TrackEventKind::Meta(message) => self.meta(message, seen),
                _ => {}
            }
            if notes.len() > MOST_NOTES {
                return Err(ScoreError::TooLarge {
                    what: "one track",
                    most: format!("{MOST_NOTES} notes"),
                    mend: "save the bars you want to practise",
                });
            }
        }
        for key in 0..128 {
            end(&mut sounding, key, now, &mut notes);
        }
        notes.sort_by_key(|note| (note.from, note.midi));
        Ok((name, notes))
    }

    fn meta(&mut self, message: MetaMessage<'_>, seen: &mut [bool; 3]) {
        let mut first = |at: usize| !std::mem::replace(&mut seen[at], true);
        match message {
            MetaMessage::Tempo(micros) if micros.as_int() > 0 && first(0) => {
                self.head.bpm = 6e7 / f64::from(micros.as_int());
            }
            MetaMessage::TimeSignature(beats, power, ..)
                if (1..=64).contains(&beats) && first(1) =>
            {
                self.head.meter = match power {
                    0 => Meter { beats: u32::from(beats) * 2, of: BeatUnit::Half },
                    1 => Meter { beats: beats.into(), of: BeatUnit::Half },
                    2 => Meter { beats: beats.into(), of: BeatUnit::Quarter },
                    3 => Meter { beats: beats.into(), of: BeatUnit::Eighth },
                    _ => Meter { beats: u32::from(beats).div_ceil(2), of: BeatUnit::Eighth },
                };
                self.head.meter.beats = self.head.meter.beats.min(64);
            }
            MetaMessage::KeySignature(sharps, minor) if (-7..=7).contains(&sharps) && first(2) => {
                self.head.key = Key { sharps, mode: if minor { Mode::Minor } else { Mode::Major } };
            }
            _ => {}
        }
    }

    /// Makes a passage of a track, by its number; needed where several hold notes. `file` is what the file is called.
    pub fn passage(
        &self,
        track: Option<u32>,
        instrument: &str,
        file: &str,
    ) -> Result<ReadPassage, ScoreError> {
        let listed = || {
            let tracks = self.tracks.iter().take(40);
            let tracks =
                tracks.map(|(number, name, _)| format!("{number} {name}").trim().to_owned());
            tracks.collect::<Vec<_>>().join(", ")
        };
        let at = match track {
            None if self.tracks.len() == 1 => 0,
            None => {
                return Err(ScoreError::Choice(format!(
                    "{} tracks of this file have notes; choose one by its number: {}",
                    self.tracks.len(),
                    listed()
                )));
            }
            Some(number) => self.tracks.iter().position(|it| it.0 == number).ok_or_else(|| {
                ScoreError::Choice(format!(
                    "track {number} has no notes; choose one by its number: {}",
                    listed()
                ))
            })?,
        };
        let mut told = Vec::new();
        let laid = self.laid(&self.notes[at], &mut told)?;
        let (number, name, _) = &self.tracks[at];
        let pace =
            Pace { bpm: self.head.bpm.clamp(10.0, 300.0), unit: BeatUnit::Quarter, free: false };
        let title = if name.is_empty() { file } else { name };
        let notes = in_bars(self.head.meter, &laid);
        let mut passage = Passage::new(
            title,
            instrument,
            (pace, self.head.meter, Clef::usual(instrument)),
            notes,
        )?;
        passage.key = self.head.key;
        passage.parts_from = Origin::Midi { file: file.to_owned(), track: *number };
        Ok(ReadPassage { passage, told })
    }

    /// Notes on the grid, one behind the other; two that begin at once are two strings.
    fn laid(&self, notes: &[Struck], told: &mut Vec<String>) -> Result<Vec<Laid>, ScoreError> {
        let beat = u64::from(self.ticks_per_quarter) * u64::from(self.head.meter.of.eighths());
        // Twelfths of a beat of the meter, where a beat is `beat / 2` ticks long.
        let grid = u64::from(TWELFTHS) * 2;
        let snapped = |ticks: u64| (ticks * grid + beat / 2) / beat;
        let off = |ticks: u64| {
            (snapped(ticks) as f64 / f64::from(TWELFTHS)) - 2.0 * ticks as f64 / beat as f64
        };
        if notes.last().is_some_and(|note| snapped(note.to) > LONGEST_BEATS * u64::from(TWELFTHS)) {
            return Err(ScoreError::TooLarge {
                what: "the track",
                most: format!("{LONGEST_BEATS} beats"),
                mend: "save the bars you want to practise",
            });
        }
        let worst = notes.iter().map(|note| off(note.from).abs()).fold(0.0, f64::max);
        if worst > 0.005 {
            told.push(format!(
                "beginnings were moved by up to {worst:.2} of a beat, to the next twelfth"
            ));
        }
        let mut laid: Vec<Laid> = Vec::new();
        let (mut chords, mut cut) = (0, 0);
        for note in notes {
            let from = snapped(note.from) as u32;
            let to = (snapped(note.to) as u32).max(from + 1);
            let Some(pitch) = spelt(note.midi, self.head.key) else { continue };
            if let Some(last) = laid.last_mut() {
                if last.from == from {
                    last.pitch = match last.pitch {
                        Pitch::Single(low) if low != pitch => Pitch::Double(low, pitch),
                        Pitch::Double(low, _) => Pitch::Double(low, pitch),
                        same => same,
                    };
                    chords += 1;
                    continue;
                }
                if last.to > from {
                    last.to = from;
                    cut += 1;
                } else if last.to + 1 == from {
                    // A twelfth is the breath between two notes, no rest.
                    last.to = from;
                }
            }
            laid.push(Laid { from, to, pitch: Pitch::Single(pitch) });
        }
        if chords > 0 {
            told.push(format!(
                "{chords} notes sound with another; they became two strings, which are not judged"
            ));
        }
        if cut > 0 {
            told.push(format!("{cut} notes were ended where the next begins"));
        }
        Ok(laid)
    }
}

/// A pitch as it is spelt in a key: with flats where the key has some.
fn spelt(midi: u8, key: Key) -> Option<Spelling> {
    let usual = Spelling::named(&pitch_name(midi.into(), Naming::Scientific)).ok()?;
    let (letter, alter) = match (usual.letter(), usual.alter(), key.sharps) {
        ('C', 1, ..=-1) => ('D', -1),
        ('F', 1, ..=-1) => ('G', -1),
        ('G', 1, ..=-1) => ('A', -1),
        ('E', -1, 3..) => ('D', 1),
        ('B', -1, 2..) => ('A', 1),
        _ => return Some(usual),
    };
    Spelling::new(letter, alter, usual.octave()).ok()
}
