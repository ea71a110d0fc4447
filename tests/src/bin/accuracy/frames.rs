//! The pitch track frame by frame.

use crate::sheet::{Sheet, number};
use crate::widths::compare;
use crate::{Cell, Run};
use whole_chain::corpus::{Condition, Register};
use whole_chain::listening::HeardSound;
use whole_chain::scoring::{FrameScore, calibration, lateness, octave_off};

/// A frame is right, as far as its confidence is concerned, within so many cents.
const RIGHT_CENTS: f64 = 10.0;
/// Time stamps may be late by this: at the steepest place of a vibrato of 6 Hz and 60 cents it is worth
/// 1.1 cents. Resonances of the body alone delay low notes by half of it.
const LATE_MS: f64 = 1.0;
/// Tenths of confidence with fewer frames than this are not judged.
const ENOUGH_FRAMES: usize = 400;

/// The interiors of all notes of a cell together.
fn score(heard: &[HeardSound]) -> FrameScore {
    let notes = heard.iter().flat_map(|h| h.true_notes().iter().map(move |note| h.interior(note)));
    notes.fold(FrameScore::default(), |sum, pairs| sum.and(FrameScore::of(pairs.into_iter())))
}

/// Pairs of confidence and "within 10 cents" of all frames with a pitch while a string is bowed, attacks
/// and glides too. What rings on has a pitch as well, but none that is stated to be true.
fn sureness(heard: &HeardSound) -> impl Iterator<Item = (f64, bool)> + '_ {
    heard.frames.iter().filter_map(|frame| {
        let (f0, truth) = (frame.f0?, heard.true_f0(frame.time.get())?);
        Some((frame.confidence, f0.cents_above(truth).get().abs() < RIGHT_CENTS))
    })
}

/// A line per note, to find out where an error comes from.
fn list(corpus: &[Cell]) {
    println!(
        "\n  cell, file/note, pitch, width, rate | frames: rms, wrong | note: width, rate, centre errors | heard"
    );
    for cell in corpus {
        for (file, heard) in cell.heard.iter().enumerate() {
            for (number, note) in heard.true_notes().iter().enumerate() {
                let score = FrameScore::of(heard.interior(note).into_iter());
                let error = compare(heard, number);
                let vibrato = &heard.spec.lines[0].notes[number].vibrato;
                println!(
                    "  {:<18} {file:>2}/{number} {:>8.2} Hz {:>5.0} c {:>5.2} Hz | {:>6.2} c {:>5.1} % | {:>+7.2} c {:>+7.2} % {:>+6.2} c | {} notes",
                    format!("{} {}", cell.register.name(), cell.condition.name()),
                    note.nominal.get(),
                    heard.nominal_width(number),
                    vibrato.as_ref().map_or(0.0, |v| v.rate.get()),
                    score.rms(),
                    score.wrong_pct(),
                    error.width_error,
                    error.rate_error_pct,
                    error.centre_error,
                    heard.notes.len(),
                );
            }
        }
    }
}

/// Section 2 of the figures.
pub(crate) fn measure(
    run: &Run,
    corpus: &[Cell],
    sheet: &mut Sheet,
) -> Result<(), tone::SpecError> {
    sheet
        .head("2 Frames in the interior of notes (120 ms after the start to 60 ms before the end)");
    if run.list {
        list(corpus);
    }
    let mut dry = FrameScore::default();
    for cell in corpus {
        let score = score(&cell.heard);
        let name = format!("{} {}", cell.register.name(), cell.condition.name());
        let most = match (cell.condition, cell.register) {
            (Condition::Clean, Register::C2) => Some(2.5),
            (Condition::Clean, _) => Some(1.0),
            (Condition::Noisy, _) => Some(3.5),
            _ => None,
        };
        match most {
            Some(most) => sheet.at_most(&format!("{name}, rms"), Some(score.rms()), "c", most),
            None => sheet.tell(&format!("{name}, rms"), &number(Some(score.rms()), "c")),
        }
        sheet.tell("  wrong by 50 c or missing", &number(Some(score.wrong_pct()), "%"));
        if Condition::DRY.contains(&cell.condition) {
            dry = dry.and(score);
        }
    }
    sheet.at_most("wrong by 50 c or missing, no room", Some(dry.wrong_pct()), "%", 0.1);

    let (mut off, mut notes) = (0, 0);
    for heard in corpus.iter().flat_map(|cell| &cell.heard) {
        for note in heard.true_notes() {
            notes += 1;
            if octave_off(heard.interior(note).into_iter()) {
                off += 1;
                println!(
                    "    an octave off: {:.1} Hz, seed {}",
                    note.nominal.get(),
                    heard.spec.seed
                );
            }
        }
    }
    sheet.judge(
        &format!("whole notes an octave off, of {notes}"),
        &off.to_string(),
        "none in 600",
        off == 0,
    );

    for cell in corpus.iter().filter(|cell| cell.condition == Condition::Clean) {
        let mut late: Vec<f64> = Vec::new();
        for heard in &cell.heard {
            for note in heard.true_notes() {
                let pairs = heard.interior(note).into_iter();
                let pairs: Option<Vec<(f64, f64)>> = pairs.map(|(a, b)| a.zip(b)).collect();
                let moved = pairs.and_then(|pairs| lateness(&pairs, pitch::HOP_SECS));
                late.extend(moved.map(|secs| 1_000.0 * secs));
            }
        }
        let what = format!("{} time stamps late by, median", cell.register.name());
        sheet.around(&what, whole_chain::scoring::median(&late), "ms", LATE_MS);
    }

    sheet.head("2 Confidence: claimed against within 10 c (bowed frames with a pitch, attacks and glides too)");
    let table = calibration(corpus.iter().flat_map(|cell| &cell.heard).flat_map(sureness));
    let mut apart = Vec::new();
    for (i, tenth) in table.iter().enumerate().filter(|(_, tenth)| tenth.frames > 0) {
        let claimed = tenth.claimed / tenth.frames as f64;
        let right = tenth.right as f64 / tenth.frames as f64;
        let what = format!(
            "{:.1} to {:.1}: {} frames",
            i as f64 / 10.0,
            (i + 1) as f64 / 10.0,
            tenth.frames
        );
        sheet.tell(&what, &format!("{claimed:.3} / {right:.3}"));
        if tenth.frames >= ENOUGH_FRAMES {
            apart.push((claimed - right).abs());
        }
    }
    let worst =
        apart.into_iter().fold(None, |worst: Option<f64>, v| Some(worst.map_or(v, |w| w.max(v))));
    sheet.at_most("claimed and true share apart, worst tenth", worst, "", 0.1);
    Ok(())
}
