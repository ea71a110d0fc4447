//! A judged round, as JSON writes it (`evenwave.round/1`) and as a table to read.

use coach::{Drill, Judged, Kind, Pace};
use serde::Serialize;
use tuning::{Naming, pitch_name};
use vibrato::Measure;

use super::record::known;
use super::table::{plain, with_doubt};
use crate::words::on_one_line;

/// Name and version of the shape.
pub const ROUND_SCHEMA: &str = "evenwave.round/1";

/// One round. Times are seconds from the start of the sound; what is unknown is `null`.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct RoundRecord {
    /// [`ROUND_SCHEMA`].
    pub schema: &'static str,
    /// Name of the drill.
    pub drill: String,
    /// The file as it was named.
    pub file: String,
    /// Beats per minute; `null` at a free pace.
    pub pace_bpm: Option<f64>,
    /// Oscillations per beat; `null` at a free pace.
    pub per_beat: Option<f64>,
    /// Whether the round holds by the drill's rules.
    pub holds: bool,
    /// The turns played.
    pub turns: Vec<TurnRecord>,
    /// What was found.
    pub findings: Vec<FindingRecord>,
    /// Which round of the file this is, from 1.
    pub round: usize,
}

/// One finger's turn.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct TurnRecord {
    /// The finger; 0 is the thumb.
    pub finger: u8,
    /// Name of the note asked for.
    pub note: String,
    /// Where the turn starts.
    pub start_s: Option<f64>,
    /// Where it ends.
    pub end_s: Option<f64>,
    /// Oscillations asked for.
    pub asked: Option<u32>,
    /// Oscillations made.
    pub made: u32,
    /// Oscillations per second.
    pub rate_hz: Option<f64>,
    /// Crest to trough.
    pub width_cents: Option<f64>,
    /// Cycle-to-cycle standard deviation over mean of the period.
    pub rate_spread_pct: Option<f64>,
    /// The same of the width.
    pub width_spread_pct: Option<f64>,
    /// Share of the motion's power outside its fundamental.
    pub smoothness_pct: Option<f64>,
    /// Mean pitch above the note asked for.
    pub centre_cents: Option<f64>,
    /// Change of the centre from the first third to the last.
    pub drift_cents: Option<f64>,
    /// Time without motion at the change to the next finger.
    pub gap_s: Option<f64>,
    /// Advance of the motion over the turn, in cycles.
    pub made_cycles: Option<f64>,
    /// Standard error of the rate, as of each measure below.
    pub rate_se_hz: Option<f64>,
    /// Of the width.
    pub width_se_cents: Option<f64>,
    /// Of the spread of the rate.
    pub rate_spread_se_pct: Option<f64>,
    /// Of the spread of the width.
    pub width_spread_se_pct: Option<f64>,
    /// Of the smoothness.
    pub smoothness_se_pct: Option<f64>,
    /// Of the centre.
    pub centre_se_cents: Option<f64>,
    /// Of the drift.
    pub drift_se_cents: Option<f64>,
    /// Of the gap; `null` where the motion goes on.
    pub gap_se_s: Option<f64>,
}

/// One finding.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FindingRecord {
    /// What it is about.
    pub kind: &'static str,
    /// The turn it is about, from 0; `null` for the round as a whole.
    pub turn: Option<usize>,
    /// A sentence.
    pub words: String,
    /// The measure that led to it.
    pub measure: &'static str,
    /// Its value.
    pub value: Option<f64>,
    /// Its unit.
    pub unit: &'static str,
}

fn value<T: Copy>(measure: Option<Measure<T>>, bare: fn(T) -> f64) -> Option<f64> {
    measure.and_then(|measure| known(bare(measure.value)))
}

fn doubt_of<T: Copy>(measure: Option<Measure<T>>, bare: fn(T) -> f64) -> Option<f64> {
    measure.and_then(|measure| known(bare(measure.se?)))
}

impl RoundRecord {
    /// The record of round number `number` of `file`.
    pub fn new(drill: &Drill, round: &Judged, file: String, naming: Naming, number: usize) -> Self {
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
                rate_hz: value(turn.rate, |hz| hz.0),
                width_cents: value(turn.width, |cents| cents.0),
                rate_spread_pct: value(turn.rate_spread_pct, |pct| pct),
                width_spread_pct: value(turn.width_spread_pct, |pct| pct),
                smoothness_pct: value(turn.smoothness_pct, |pct| pct),
                centre_cents: value(turn.centre, |cents| cents.0),
                drift_cents: value(turn.drift, |cents| cents.0),
                gap_s: value(turn.gap, |secs| secs.0),
                made_cycles: known(turn.made_cycles),
                rate_se_hz: doubt_of(turn.rate, |hz| hz.0),
                width_se_cents: doubt_of(turn.width, |cents| cents.0),
                rate_spread_se_pct: doubt_of(turn.rate_spread_pct, |pct| pct),
                width_spread_se_pct: doubt_of(turn.width_spread_pct, |pct| pct),
                smoothness_se_pct: doubt_of(turn.smoothness_pct, |pct| pct),
                centre_se_cents: doubt_of(turn.centre, |cents| cents.0),
                drift_se_cents: doubt_of(turn.drift, |cents| cents.0),
                gap_se_s: doubt_of(turn.gap, |secs| secs.0),
            }
        });
        let findings = round.findings.iter().map(|finding| FindingRecord {
            kind: finding.kind.name(),
            turn: finding.turn,
            words: finding.words.clone(),
            measure: finding.measure,
            value: known(finding.value),
            unit: finding.unit,
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
pub fn round_lines(round: &RoundRecord, drill: &Drill, of: usize) -> Vec<String> {
    let pace = match (round.pace_bpm, round.per_beat) {
        (Some(bpm), Some(per_beat)) => pace_said(drill, Pace::Beat { bpm, per_beat }),
        _ => pace_said(drill, Pace::Free),
    };
    let number = if of > 1 { format!(", round {} of {of}", round.round) } else { String::new() };
    let mut lines = vec![
        format!("{}: {} ({pace}){number}", on_one_line(&round.file), on_one_line(&drill.title)),
        row([
            "finger",
            "note",
            "start",
            "asked",
            "made",
            "rate",
            "width",
            "spread of",
            "smooth-",
            "centre",
            "drift",
            "gap",
        ]),
        row(["", "", "s", "", "", "Hz", "cents", "rate, width %", "ness %", "cents", "cents", "s"]),
    ];
    lines.extend(round.turns.iter().map(|turn| {
        // Where none are asked for, none are counted.
        let counted = |count: u32| match turn.asked {
            Some(_) => count.to_string(),
            None => "−".to_owned(),
        };
        row([
            &turn.finger.to_string(),
            &turn.note,
            &plain(turn.start_s, 2, false),
            &counted(turn.asked.unwrap_or(0)),
            &counted(turn.made),
            &with_doubt(turn.rate_hz, turn.rate_se_hz, 2, false),
            &with_doubt(turn.width_cents, turn.width_se_cents, 0, false),
            &format!(
                "{}, {}",
                with_doubt(turn.rate_spread_pct, turn.rate_spread_se_pct, 0, false),
                with_doubt(turn.width_spread_pct, turn.width_spread_se_pct, 0, false)
            ),
            &with_doubt(turn.smoothness_pct, turn.smoothness_se_pct, 0, false),
            &with_doubt(turn.centre_cents, turn.centre_se_cents, 1, true),
            &with_doubt(turn.drift_cents, turn.drift_se_cents, 1, true),
            &turn
                .gap_s
                .map_or_else(String::new, |gap| with_doubt(Some(gap), turn.gap_se_s, 2, false)),
        ])
    }));
    let verdict = if round.holds {
        "The round holds by the drill's rules."
    } else {
        "The round does not hold by the drill's rules."
    };
    lines.push(verdict.to_owned());
    lines.extend(round.findings.iter().map(|finding| format!("  {}", finding.words)));
    lines
}

fn row(columns: [&str; 12]) -> String {
    let [finger, note, start, asked, made, rate, width, spread, smooth, centre, drift, gap] =
        columns;
    format!(
        "{finger:>6}  {note:<5} {start:>7} {asked:>6} {made:>5} {rate:>11} {width:>7} {spread:>15} {smooth:>8} {centre:>12} {drift:>12} {gap:>9}"
    )
    .trim_end()
    .to_owned()
}
