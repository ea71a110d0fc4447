//! A judged round, as JSON writes it (`evenwave.round/2`) and as a table to read.

use coach::{Drill, Judged, Kind, Pace};
use serde::Serialize;
use tuning::{Naming, figure, pitch_name};
use vibrato::Quantity;

use super::record::{Values, known};
use super::table::Columns;
use crate::words::on_one_line;

/// Name and version of the shape.
pub(crate) const ROUND_SCHEMA: &str = "evenwave.round/2";

/// One round. Times are seconds from the start of the sound; what is unknown is `null`.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub(crate) struct RoundRecord {
    pub schema: &'static str,
    pub drill: String,
    pub file: String,
    /// Beats per minute; `null` at a free pace.
    pub pace_bpm: Option<f64>,
    /// Oscillations per beat; `null` at a free pace.
    pub per_beat: Option<f64>,
    pub holds: bool,
    pub turns: Vec<TurnRecord>,
    pub findings: Vec<FindingRecord>,
    /// Which round of the file this is, from 1.
    pub round: usize,
}

/// One finger's turn.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub(crate) struct TurnRecord {
    /// The finger; 0 is the thumb.
    pub finger: u8,
    pub note: String,
    pub start_s: Option<f64>,
    pub end_s: Option<f64>,
    pub asked: Option<u32>,
    pub made: u32,
    /// Advance of the motion over the turn, in cycles.
    pub made_cycles: Option<f64>,
    /// Its measures; the gap is the time without motion at the change to the next finger.
    #[serde(flatten)]
    pub measures: Values,
}

/// One finding.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub(crate) struct FindingRecord {
    /// What it is about.
    pub kind: &'static str,
    /// The turn it is about, from 0; `null` for the round as a whole.
    pub turn: Option<usize>,
    pub words: String,
    /// The measure that led to it.
    pub measure: &'static str,
    pub value: Option<f64>,
    pub unit: &'static str,
}

impl RoundRecord {
    /// The record of round number `number` of `file`.
    pub(crate) fn new(
        drill: &Drill,
        round: &Judged,
        file: String,
        naming: Naming,
        number: usize,
    ) -> Self {
        let (pace_bpm, per_beat) = match round.pace {
            Pace::Free => (None, None),
            Pace::Beat { bpm, per_beat } => (known(bpm), known(per_beat)),
        };
        let turns = round.turns.iter().map(|turn| {
            let asked = &round.asked[turn.asked];
            TurnRecord {
                finger: asked.finger,
                note: pitch_name(asked.midi, naming),
                start_s: known(turn.start.get()),
                end_s: known(turn.end.get()),
                asked: asked.count,
                made: turn.made,
                made_cycles: known(turn.made_cycles),
                measures: Values::new(Quantity::of_turns(), |quantity| turn.get(quantity)),
            }
        });
        let findings = round.findings.iter().map(|finding| FindingRecord {
            kind: finding.kind.name(),
            turn: finding.turn,
            words: finding.words.clone(),
            measure: finding.measure.name(),
            value: known(finding.value),
            unit: finding.measure.unit(),
        });
        Self {
            schema: ROUND_SCHEMA,
            drill: drill.name.clone(),
            file,
            pace_bpm,
            per_beat,
            holds: round.holds,
            turns: turns.collect(),
            findings: findings.collect(),
            round: number,
        }
    }
}

/// A pace in words: `60 beats a minute, 2 oscillations a beat`.
pub(crate) fn pace_said(drill: &Drill, pace: Pace) -> String {
    match pace {
        Pace::Beat { bpm, .. } if matches!(drill.kind, Kind::OneBow { .. }) => {
            format!("{bpm} beats a minute, each step with its own count")
        }
        Pace::Free => "free pace".to_owned(),
        Pace::Beat { bpm, .. } if matches!(drill.kind, Kind::Straight { .. }) => {
            format!("{bpm} beats a minute")
        }
        Pace::Beat { bpm, per_beat } => {
            let many = if per_beat == 1.0 { "" } else { "s" };
            format!("{bpm} beats a minute, {per_beat} oscillation{many} a beat")
        }
    }
}

/// A round as a table, its findings below; `of` rounds are in the file.
pub(crate) fn round_lines(round: &RoundRecord, drill: &Drill, of: usize) -> Vec<String> {
    let pace = match (round.pace_bpm, round.per_beat) {
        (Some(bpm), Some(per_beat)) => pace_said(drill, Pace::Beat { bpm, per_beat }),
        _ => pace_said(drill, Pace::Free),
    };
    let number = if of > 1 { format!(", round {} of {of}", round.round) } else { String::new() };
    // What no turn has is not shown.
    let columns =
        Columns::new(Quantity::of_turns().filter(|&quantity| {
            round.turns.iter().any(|turn| turn.measures.get(quantity).is_some())
        }));
    let line = |[finger, note, start, asked, made]: [&str; 5], measures: String| {
        let line = format!("{finger:>6}  {note:<5} {start:>7} {asked:>5} {made:>4}{measures}");
        line.trim_end().to_owned()
    };
    let mut lines = vec![
        format!("{}: {} ({pace}){number}", on_one_line(&round.file), on_one_line(&drill.title)),
        line([""; 5], columns.head(0)),
        line(["finger", "note", "start", "asked", "made"], columns.head(1)),
        line(["", "", "s", "", ""], columns.head(2)),
    ];
    lines.extend(round.turns.iter().map(|turn| {
        // Where none are asked for, none are counted.
        let counted = |count: u32| turn.asked.map_or_else(|| "−".to_owned(), |_| count.to_string());
        let before = [
            &turn.finger.to_string(),
            turn.note.as_str(),
            &figure::number(turn.start_s, 2, false),
            &counted(turn.asked.unwrap_or(0)),
            &counted(turn.made),
        ];
        let measures = columns.cells(|quantity| match turn.measures.get(quantity) {
            None if quantity == Quantity::Gap => String::new(),
            measure => quantity.figure(measure),
        });
        line(before, measures)
    }));
    let verdict = if round.holds { "Secure." } else { "Not secure yet." };
    lines.push(verdict.to_owned());
    lines.extend(round.findings.iter().map(|finding| format!("  {}", finding.words)));
    lines
}
