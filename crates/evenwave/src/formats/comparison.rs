//! A comparison, as JSON writes it (`evenwave.comparison/2`) and as a table to read.

use coach::{Align, Comparison, Difference, Pair};
use serde::Serialize;
use tuning::{Naming, Secs};
use vibrato::Quantity;

use super::record::{NoteRecord, Values, known};
use super::table::Columns;
use crate::words::on_one_line;

/// Name and version of the shape.
pub(crate) const COMPARISON_SCHEMA: &str = "evenwave.comparison/2";

/// A model and its echo. All differences are echo minus model; what is unknown is `null`.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub(crate) struct ComparisonRecord {
    pub schema: &'static str,
    /// Notes that answer each other.
    pub pairs: Vec<PairRecord>,
    /// What differs, in sentences; what differs most comes first.
    pub words: Vec<String>,
    pub model: String,
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
pub(crate) struct PairRecord {
    pub model: NoteRecord,
    pub echo: NoteRecord,
    /// How much later the echo's note begins than the model's, both from the first pair on.
    pub late_s: Option<f64>,
    /// What differs, the centre as if the echo were not transposed.
    pub difference: Values,
    /// How rate and width run through both notes.
    pub course: CourseRecord,
}

/// How rate and width run through both notes.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub(crate) struct CourseRecord {
    /// `start`: `at` is seconds from the start of each note; `cycles`: it is the number of the
    /// oscillation, from 0.
    pub align: &'static str,
    pub points: Vec<CoursePointRecord>,
}

/// Rate and width of both at one place.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub(crate) struct CoursePointRecord {
    pub at: Option<f64>,
    pub model_rate_hz: Option<f64>,
    pub model_width_cents: Option<f64>,
    pub echo_rate_hz: Option<f64>,
    pub echo_width_cents: Option<f64>,
}

impl ComparisonRecord {
    /// The record of a comparison of what was named `model` and `echo`.
    pub(crate) fn new(
        comparison: &Comparison,
        model: String,
        echo: String,
        naming: Naming,
        align: Align,
    ) -> Self {
        let note = |note: &vibrato::Note| NoteRecord::new(note, naming, Secs(0.0));
        let pair = |(pair, late): (&Pair, Secs)| {
            let of = |quantity| pair.difference(quantity).map(Difference::measure);
            PairRecord {
                model: note(&comparison.model[pair.model]),
                echo: note(&comparison.echo[pair.echo]),
                late_s: known(late.0),
                difference: Values::new(Quantity::compared(), of),
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
pub(crate) fn comparison_lines(comparison: &ComparisonRecord) -> Vec<String> {
    // How the rate grew has no room on a line of a terminal; it stands in JSON and is said in words where it can be told.
    let shown = Quantity::compared().filter(|quantity| *quantity != Quantity::RateGrowth);
    let columns = Columns::of_differences(shown);
    let row = |note: &str, echo: &str, measures: String| {
        format!("{note:<5}{echo:<6}{measures}").trim_end().to_owned()
    };
    let mut lines = vec![
        format!("model {}", on_one_line(&comparison.model)),
        format!("echo  {}", on_one_line(&comparison.echo)),
        "Differences are echo minus model, with one standard error.".to_owned(),
        row("", "", columns.head(0)),
        row("note", "", columns.head(1)),
        row("", "", columns.head(2)),
    ];
    lines.extend(comparison.pairs.iter().map(|pair| {
        let other = pair.echo.name != pair.model.name;
        let echo = if other { format!("({})", pair.echo.name) } else { String::new() };
        let measures = columns.cells(|quantity| {
            let known = pair.difference.get(quantity);
            known.map_or_else(String::new, |known| quantity.difference(Some(known)))
        });
        row(&pair.model.name, &echo, measures)
    }));
    lines.extend(comparison.words.iter().cloned());
    lines
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
        assert_eq!(value["schema"], "evenwave.comparison/2");
        let pair = &value["pairs"][0];
        let difference = &pair["difference"];
        assert_eq!(difference["width_cents"], -12.0);
        assert_eq!(pair["late_s"], 0.0, "both begin with it");
        assert_eq!(difference["width_se_cents"], 0.5_f64.sqrt().mul_add(1e6, 0.5).floor() / 1e6);
        assert_eq!(difference["onset_s"], 0.0);
        assert!(difference["onset_se_s"].is_null(), "one of them is not known");
        assert!(difference["gap_s"].is_null(), "there is no note before");
        assert_eq!(pair["model"]["name"], "A4");
        assert_eq!(pair["course"]["points"][0]["model_width_cents"], 40.0);
        assert_eq!(value["missing"][0]["name"], "G3");
        let words = value["words"][0].as_str().expect("words");
        assert!(words.contains("12.0 ±0.7 cents narrower"), "{words}");
    }

    #[test]
    fn the_table_has_signs_doubts_and_the_words() {
        let lines = comparison_lines(&record());
        assert!(lines[6].contains("−12.0 ±0.7"), "{lines:#?}");
        assert!(lines[6].contains("0.00 ±?"), "{lines:#?}");
        let table = &lines[..7];
        assert!(table.iter().all(|line| line.chars().count() <= 120), "{lines:#?}");
        assert!(lines[8].contains("was not echoed"), "{lines:#?}");
    }
}
