//! A comparison, as JSON writes it (`evenwave.comparison/1`) and as a table to read.

use coach::{Align, Comparison, Difference, Pair, Quantity};
use serde::Serialize;
use tuning::{Naming, Secs, doubt};

use super::record::{NoteRecord, known};
use super::table::plain;
use crate::words::on_one_line;

/// Name and version of the shape.
pub const COMPARISON_SCHEMA: &str = "evenwave.comparison/1";

/// A model and its echo. All differences are echo minus model; what is unknown is `null`.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ComparisonRecord {
    /// [`COMPARISON_SCHEMA`].
    pub schema: &'static str,
    /// Notes that answer each other.
    pub pairs: Vec<PairRecord>,
    /// What differs, in sentences; what differs most comes first.
    pub words: Vec<String>,
    /// The model as it was named.
    pub model: String,
    /// The echo as it was named.
    pub echo: String,
    /// Notes of the model that nothing answers.
    pub missing: Vec<NoteRecord>,
    /// Notes of the echo that answer nothing.
    pub extra: Vec<NoteRecord>,
    /// Semitones by which the whole echo lies above the model.
    pub transposed_semitones: i32,
}

/// Two notes that answer each other.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PairRecord {
    /// The model's note.
    pub model: NoteRecord,
    /// The echo's note.
    pub echo: NoteRecord,
    /// How much later the echo's note begins than the model's, both from the first pair on.
    pub late_s: Option<f64>,
    /// Oscillations per second.
    pub rate_hz: Option<DifferenceRecord>,
    /// Crest to trough.
    pub width_cents: Option<DifferenceRecord>,
    /// Mean pitch, as if the echo were not transposed.
    pub centre_cents: Option<DifferenceRecord>,
    /// From the start of the note to its first oscillation.
    pub onset_s: Option<DifferenceRecord>,
    /// Spread of the periods.
    pub spread_pct: Option<DifferenceRecord>,
    /// Spread of the widths.
    pub width_spread_pct: Option<DifferenceRecord>,
    /// Share of the motion's power outside its fundamental.
    pub smoothness_pct: Option<DifferenceRecord>,
    /// Time without motion since the note before.
    pub gap_s: Option<DifferenceRecord>,
    /// How far the width grows through the note, of its mean.
    pub width_growth_pct: Option<DifferenceRecord>,
    /// How rate and width run through both notes.
    pub course: CourseRecord,
}

/// A difference with its doubt.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct DifferenceRecord {
    /// Echo minus model.
    pub value: Option<f64>,
    /// One standard error, both notes' together.
    pub se: Option<f64>,
}

/// How rate and width run through both notes.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CourseRecord {
    /// `start`: `at` is seconds from the start of each note; `cycles`: it is the number of the
    /// oscillation, from 0.
    pub align: &'static str,
    /// The points, as far as both notes go.
    pub points: Vec<CoursePointRecord>,
}

/// Rate and width of both at one place.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct CoursePointRecord {
    /// The place.
    pub at: Option<f64>,
    /// Oscillations per second of the model.
    pub model_rate_hz: Option<f64>,
    /// Crest to trough of the model.
    pub model_width_cents: Option<f64>,
    /// Oscillations per second of the echo.
    pub echo_rate_hz: Option<f64>,
    /// Crest to trough of the echo.
    pub echo_width_cents: Option<f64>,
}

impl ComparisonRecord {
    /// The record of a comparison of what was named `model` and `echo`.
    pub fn new(
        comparison: &Comparison,
        model: String,
        echo: String,
        naming: Naming,
        align: Align,
    ) -> Self {
        let note = |note: &vibrato::Note| NoteRecord::new(note, naming, Secs(0.0));
        let pair = |(pair, late): (&Pair, Secs)| {
            let of = |quantity| pair.difference(quantity).map(DifferenceRecord::of);
            PairRecord {
                model: note(&comparison.model[pair.model]),
                echo: note(&comparison.echo[pair.echo]),
                late_s: known(late.0),
                rate_hz: of(Quantity::Rate),
                width_cents: of(Quantity::Width),
                centre_cents: of(Quantity::Centre),
                onset_s: of(Quantity::Onset),
                spread_pct: of(Quantity::Spread),
                width_spread_pct: of(Quantity::WidthSpread),
                smoothness_pct: of(Quantity::Smoothness),
                gap_s: of(Quantity::Gap),
                width_growth_pct: of(Quantity::Growth),
                course: CourseRecord::of(comparison, pair, align),
            }
        };
        let alone = |notes: &[vibrato::Note], which: &[usize]| -> Vec<NoteRecord> {
            which.iter().map(|&at| note(&notes[at])).collect()
        };
        let pairs = comparison.pairs.iter().zip(comparison.lateness());
        Self {
            schema: COMPARISON_SCHEMA,
            pairs: pairs.map(pair).collect(),
            words: comparison.words(naming),
            missing: alone(&comparison.model, &comparison.missing),
            extra: alone(&comparison.echo, &comparison.extra),
            transposed_semitones: comparison.transposed,
            model,
            echo,
        }
    }
}

impl DifferenceRecord {
    fn of(difference: &Difference) -> Self {
        Self { value: known(difference.value), se: difference.se.and_then(known) }
    }
}

impl CourseRecord {
    fn of(comparison: &Comparison, pair: &Pair, align: Align) -> Self {
        let points = comparison.course(pair, align);
        let record = |point: coach::CoursePoint| CoursePointRecord {
            at: known(point.at),
            model_rate_hz: known(point.model.0.0),
            model_width_cents: known(point.model.1.0),
            echo_rate_hz: known(point.echo.0.0),
            echo_width_cents: known(point.echo.1.0),
        };
        Self {
            align: match align {
                Align::NoteStart => "start",
                Align::Cycles => "cycles",
            },
            points: points.into_iter().map(record).collect(),
        }
    }
}

/// A comparison as a table, its words below.
pub fn comparison_lines(comparison: &ComparisonRecord) -> Vec<String> {
    let mut lines = vec![
        format!("model {}", on_one_line(&comparison.model)),
        format!("echo  {}", on_one_line(&comparison.echo)),
        "Differences are echo minus model, with one standard error.".to_owned(),
        row(
            "note",
            "",
            ["rate", "width", "centre", "onset", "spread of", "smooth-", "gap", "contour"],
        ),
        row("", "", ["Hz", "cents", "cents", "s", "rate, width %", "ness %", "s", "width %"]),
    ];
    for pair in &comparison.pairs {
        let said = |difference: Option<DifferenceRecord>, decimals| {
            difference.map_or_else(String::new, |d| with_doubt(d, decimals))
        };
        let spreads = match (pair.spread_pct, pair.width_spread_pct) {
            (None, None) => String::new(),
            (rate, width) => {
                let of = |d: Option<DifferenceRecord>| {
                    d.map_or_else(|| "?".to_owned(), |d| with_doubt(d, 0))
                };
                format!("{}, {}", of(rate), of(width))
            }
        };
        lines.push(row(
            &pair.model.name,
            &if pair.echo.name == pair.model.name {
                String::new()
            } else {
                format!("({})", pair.echo.name)
            },
            [
                &said(pair.rate_hz, 2),
                &said(pair.width_cents, 1),
                &said(pair.centre_cents, 1),
                &said(pair.onset_s, 2),
                &spreads,
                &said(pair.smoothness_pct, 0),
                &said(pair.gap_s, 2),
                &said(pair.width_growth_pct, 0),
            ],
        ));
    }
    lines.extend(comparison.words.iter().cloned());
    lines
}

fn with_doubt(difference: DifferenceRecord, decimals: usize) -> String {
    let value = plain(difference.value, decimals, true);
    match difference.se {
        Some(se) => format!("{value} {}", doubt(se, decimals)),
        None => format!("{value} ±?"),
    }
}

fn row(note: &str, echo: &str, columns: [&str; 8]) -> String {
    let [rate, width, centre, onset, spreads, smooth, gap, contour] = columns;
    format!(
        "{note:<5}{echo:<7} {rate:>12} {width:>12} {centre:>12} {onset:>12} {spreads:>17} {smooth:>8} {gap:>12} {contour:>10}"
    )
    .trim_end()
    .to_owned()
}

#[cfg(test)]
mod tests {
    use serde_json::Value;
    use tuning::Cents;

    use super::*;
    use crate::formats::record::tests::{note_with_vibrato, straight_note};

    fn record() -> ComparisonRecord {
        let model = note_with_vibrato();
        let mut echo = note_with_vibrato();
        if let Some(vibrato) = &mut echo.vibrato {
            vibrato.width.value = Cents(28.0);
        }
        let comparison = Comparison::new(&[model, straight_note()], &[echo]);
        let (model, echo) = ("m.wav".to_owned(), "e.wav".to_owned());
        ComparisonRecord::new(&comparison, model, echo, Naming::Scientific, Align::Cycles)
    }

    #[test]
    fn a_comparison_has_the_fields_of_the_schema() {
        let text = serde_json::to_string(&record()).expect("plain data");
        let value: Value = serde_json::from_str(&text).expect("what was just written");
        assert_eq!(value["schema"], "evenwave.comparison/1");
        let pair = &value["pairs"][0];
        assert_eq!(pair["width_cents"]["value"], -12.0);
        assert_eq!(pair["late_s"], 0.0, "both begin with it");
        assert_eq!(pair["width_cents"]["se"], 0.5_f64.sqrt().mul_add(1e6, 0.5).floor() / 1e6);
        assert_eq!(pair["onset_s"]["value"], 0.0);
        assert!(pair["onset_s"]["se"].is_null(), "one of them is not known");
        assert!(pair["gap_s"].is_null(), "there is no note before");
        assert_eq!(pair["model"]["name"], "A4");
        assert_eq!(pair["course"]["points"][0]["model_width_cents"], 40.0);
        assert_eq!(value["missing"][0]["name"], "G3");
        let words = value["words"][0].as_str().expect("words");
        assert!(words.contains("12.0 ±0.7 cents narrower"), "{words}");
    }

    #[test]
    fn the_table_has_signs_doubts_and_the_words() {
        let lines = comparison_lines(&record());
        assert!(lines[5].contains("−12.0 ±0.7"), "{lines:#?}");
        assert!(lines[5].contains("0.00 ±?"), "{lines:#?}");
        let table = &lines[..6];
        assert!(table.iter().all(|line| line.chars().count() <= 120), "{lines:#?}");
        assert!(lines[7].contains("has no answer"), "{lines:#?}");
    }
}
