//! Reads a passage that was typed.

use super::fault::{MOST_FAULTS, TextFault, TextFaults};
use super::head::{self, HEADS};
use super::line::{Word, without_comment, words};
use super::marks::{self, Item};
use crate::plan::intention::Intention;
use crate::plan::note::{BeatUnit, Beats, Pitch, Place, PlanNote};
use crate::plan::passage::{
    Clef, HeadChange, Key, MOST_PLAN_NOTES, Meter, Pace, Passage, meter_of_bar,
};

/// The pace of a passage that names none, in beats a minute.
const USUAL_BPM: f64 = 60.0;
const COMMON: Meter = Meter { beats: 4, of: BeatUnit::Quarter };

impl Passage {
    /// Reads a passage as it is typed, or tells all that is wrong with it.
    pub fn from_text(text: &str) -> Result<Self, TextFaults> {
        let mut reader = Reader::default();
        for (at, line) in text.lines().enumerate() {
            let line = line.trim_start_matches('\u{feff}');
            if let Err(fault) = reader.line(without_comment(line), at + 1) {
                reader.faults.push(fault);
            }
        }
        reader.passage(text.lines().count().max(1))
    }
}

#[derive(Default)]
struct Reader<'t> {
    faults: Vec<TextFault>,
    title: Option<String>,
    instrument: Option<String>,
    meter: Option<Meter>,
    pace: Option<(f64, Option<BeatUnit>, bool)>,
    key: Option<Key>,
    clef: Option<Clef>,
    a4: Option<tuning::Hz>,
    changes: Vec<HeadChange>,
    /// A change that waits for its bar.
    pending: Option<HeadChange>,
    bars: Vec<BarSum<'t>>,
    notes: Vec<PlanNote>,
    running: Intention,
    /// The intentions of notes that sound, in order.
    intentions: Vec<Intention>,
}

/// How full a bar is.
struct BarSum<'t> {
    word: Word<'t>,
    number: u32,
    sum: Option<Beats>,
    wanted: Option<Beats>,
    /// Its beats are not counted.
    free: bool,
}

impl<'t> Reader<'t> {
    fn line(&mut self, text: &'t str, number: usize) -> Result<(), TextFault> {
        let words = words(text, number);
        let Some((first, rest)) = words.split_first() else { return Ok(()) };
        if first.text == "bar" {
            self.bar(*first, rest);
            return Ok(());
        }
        if !HEADS.contains(&first.text) {
            return Err(first.fault(format!(
                "{:?} begins no line; a line begins with bar or with one of {}",
                first.text,
                HEADS.join(", ")
            )));
        }
        let value = text.trim_start()[first.text.len()..].trim();
        self.head(*first, rest, value)
    }

    fn head(&mut self, word: Word<'t>, rest: &[Word<'t>], value: &str) -> Result<(), TextFault> {
        let wrong = || word.fault(head::wanted(word.text));
        let started = !self.bars.is_empty();
        if started {
            let mut change =
                self.pending.unwrap_or(HeadChange { bar: 0, meter: None, key: None, clef: None });
            match word.text {
                "beats" => change.meter = Some(head::meter(rest).ok_or_else(wrong)?),
                "key" => change.key = Some(head::key(rest).ok_or_else(wrong)?),
                "clef" => change.clef = Some(head::clef(rest).ok_or_else(wrong)?),
                _ => return Err(word.fault(format!(
                    "{:?} stands before the first bar; between bars beats, key and clef may change",
                    word.text
                ))),
            }
            self.pending = Some(change);
            return Ok(());
        }
        let some_words = || (!value.is_empty()).then(|| value.to_owned());
        match word.text {
            "title" => self.title = Some(some_words().ok_or_else(wrong)?),
            "instrument" => self.instrument = Some(some_words().ok_or_else(wrong)?),
            "beats" => self.meter = Some(head::meter(rest).ok_or_else(wrong)?),
            "pace" => self.pace = Some(head::pace(rest).ok_or_else(wrong)?),
            "key" => self.key = Some(head::key(rest).ok_or_else(wrong)?),
            "clef" => self.clef = Some(head::clef(rest).ok_or_else(wrong)?),
            _ => self.a4 = Some(head::a4(rest).ok_or_else(wrong)?),
        }
        Ok(())
    }

    fn unit(&self) -> BeatUnit {
        self.meter.unwrap_or(COMMON).of
    }

    fn bar(&mut self, word: Word<'t>, mut rest: &[Word<'t>]) {
        let mut number = self.bars.last().map_or(1, |bar| bar.number.saturating_add(1));
        if let Some((given, others)) = rest.split_first()
            && let Ok(given) = given.text.parse::<u32>()
        {
            (number, rest) = (given, others);
        }
        let free = rest.first().is_some_and(|word| word.text == "free");
        rest = &rest[usize::from(free)..];
        if let Some(change) = self.pending.take() {
            self.changes.push(HeadChange { bar: number, ..change });
        }
        let meter = meter_of_bar(self.meter.unwrap_or(COMMON), &self.changes, number);
        let wanted =
            Beats::whole(meter.beats).and_then(|beats| beats.counted(meter.of, self.unit()));
        let mut sum = Some(Beats::ZERO);
        if rest.is_empty() {
            self.faults.push(
                word.fault(format!("bar {number} is empty; write notes or a rest behind it")),
            );
        }
        for words in rest.split(|word| word.text == ",") {
            let Some(first) = words.first() else {
                if let Some(word) = rest.iter().find(|word| word.text == ",") {
                    self.faults.push(word.fault(format!(
                        "bar {number} has a comma too many; notes stand on both sides of each"
                    )));
                }
                break;
            };
            let at = sum.map(|beat| Place { bar: number, beat });
            sum = match marks::item(words).and_then(|item| self.note(*first, item, at, meter.of)) {
                Ok(beats) => sum.and_then(|sum| sum.plus(beats)),
                Err(fault) => {
                    self.faults.push(fault);
                    None
                }
            };
            if self.notes.len() > MOST_PLAN_NOTES {
                break;
            }
        }
        self.bars.push(BarSum { word, number, sum, wanted, free });
    }

    /// Takes a note in; says how long it is. Behind a fault of the bar its place is unknown, and it is only checked.
    fn note(
        &mut self,
        word: Word<'t>,
        item: Item<'t>,
        at: Option<Place>,
        unit: BeatUnit,
    ) -> Result<Beats, TextFault> {
        let beats = item
            .beats
            .counted(unit, self.unit())
            .ok_or_else(|| word.fault("this length is too fine to be counted"))?;
        let before = self.notes.last().map(|note| note.pitch).filter(|pitch| *pitch != Pitch::Rest);
        // Behind a fault the note before may be missing, so no more is said of it.
        if let (Some(word), None, true) = (item.slur.or(item.tied), before, self.faults.is_empty())
        {
            return Err(word.fault(format!(
                "{:?} has no note before it; begin the first note without it",
                word.text
            )));
        }
        if let (Some(word), true) = (item.tied, self.faults.is_empty())
            && before.is_some_and(|before| before != item.pitch)
        {
            return Err(word.fault("\"tied\" wants the pitch of the note before it; to go on under one bow, write slur before the note"));
        }
        let written = item.wish.intention(self.running, &self.intentions)?;
        self.running = written.unwrap_or(self.running);
        let intention = match (item.pitch, item.tied, written) {
            (Pitch::Rest, ..) => Intention::Straight,
            (_, Some(_), None) => self.intentions.last().copied().unwrap_or_default(),
            // An open string cannot vibrate, whatever the notes around it do.
            (_, None, None) if item.finger == Some(0) => Intention::Straight,
            _ => self.running,
        };
        if item.pitch != Pitch::Rest {
            self.intentions.push(intention);
        }
        let (slur, tie) = (item.slur.is_some(), item.tied.is_some());
        let Item { pitch, finger, string, dynamic, grace, .. } = item;
        if let Some(at) = at {
            self.notes.push(PlanNote {
                at,
                beats,
                pitch,
                slur,
                tie,
                finger,
                string,
                dynamic,
                grace,
                intention,
            });
        }
        Ok(beats)
    }

    fn passage(mut self, lines: usize) -> Result<Passage, TextFaults> {
        self.count_bars();
        let end = |what: &str| TextFault { line: lines, column: 1, what: what.to_owned() };
        if self.pending.is_some() {
            self.faults.push(end("a change of beats, key or clef stands behind the last bar; write a bar behind it or leave it out"));
        }
        if self.instrument.is_none() {
            let what = "no line names the instrument; write one before the first bar, such as instrument cello";
            self.faults.push(TextFault { line: 1, column: 1, what: what.into() });
        }
        let instrument = self.instrument.unwrap_or_default();
        let meter = self.meter.unwrap_or(COMMON);
        let (bpm, unit, free) = self.pace.unwrap_or((USUAL_BPM, None, false));
        let pace = Pace { bpm, unit: unit.unwrap_or(meter.of), free };
        let clef = self.clef.unwrap_or_else(|| Clef::usual(&instrument));
        let title = self.title.unwrap_or_default();
        let made = Passage::new(&title, &instrument, (pace, meter, clef), self.notes);
        match made {
            Ok(mut passage) if self.faults.is_empty() => {
                passage.key = self.key.unwrap_or_default();
                (passage.a4, passage.changes) = (self.a4, self.changes);
                Ok(passage)
            }
            Err(fault) if self.faults.is_empty() => {
                Err(TextFaults(vec![TextFault { line: 1, column: 1, what: fault.to_string() }]))
            }
            _ => {
                self.faults.sort_by_key(|fault| (fault.line, fault.column));
                self.faults.truncate(MOST_FAULTS);
                Err(TextFaults(self.faults))
            }
        }
    }

    /// Tells bars that hold too much or too little. The first may be an upbeat, and the last may end early.
    fn count_bars(&mut self) {
        let last = self.bars.len().saturating_sub(1);
        for (at, bar) in self.bars.iter().enumerate() {
            let (Some(sum), Some(wanted)) = (bar.sum, bar.wanted) else { continue };
            let short = sum < wanted && (at == 0 || at == last);
            if bar.free || sum == wanted || short {
                continue;
            }
            let meter = meter_of_bar(self.meter.unwrap_or(COMMON), &self.changes, bar.number);
            let (unit, number) = (self.unit(), bar.number);
            let [sum, wanted] =
                [sum, wanted].map(|beats| beats.counted(unit, meter.of).unwrap_or(beats));
            self.faults.push(bar.word.fault(format!(
                "bar {number} holds {sum} beats and {wanted} are wanted; write the length of one note differently, or \
                 \"bar {number} free\" where the bar is meant so"
            )));
        }
    }
}
