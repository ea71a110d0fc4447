//! Notes found, missed, extra, and how soon they are told.

use crate::sheet::{Sheet, number};
use crate::{Cell, Run};
use tuning::Hz;
use vibrato::Ear;
use whole_chain::corpus::{Condition, slow_wide};
use whole_chain::listening::HeardSound;
use whole_chain::scoring::{matched, missed_and_extra, percent, quantile};

/// A heard note is a true one if it starts at most so much earlier or later, in seconds.
const EARLY_SECS: f64 = 0.06;
const LATE_SECS: f64 = 0.15;

/// What became of the notes of some sounds.
#[derive(Default)]
struct Tally {
    notes: usize,
    missed: usize,
    extra: usize,
    misnamed: usize,
    /// Begun and taken back.
    dropped: usize,
    /// From the true start to the telling, less the look-ahead, in ms.
    delays_ms: Vec<f64>,
}

/// The number of the nearest note at A4 = 440 Hz.
pub(crate) fn midi_of(f0: Hz) -> i32 {
    (69.0 + f0.cents_above(Hz(440.0)).get() / 100.0).round() as i32
}

impl Tally {
    /// With `list`, sounds in which notes are missed or extra are told.
    fn add(&mut self, heard: &HeardSound, list: bool) {
        let truth: Vec<f64> = heard.true_notes().iter().map(|note| note.start.get()).collect();
        let starts: Vec<f64> = heard.begun.iter().map(|note| note.start.get()).collect();
        let matches = matched(&truth, &starts, EARLY_SECS, LATE_SECS);
        let (missed, extra) = missed_and_extra(&matches, starts.len());
        if list && missed + extra > 0 {
            println!("    {missed} missed, {extra} extra, seed {}:", heard.spec.seed);
            for (number, note) in heard.true_notes().iter().enumerate() {
                let width = heard.nominal_width(number);
                println!(
                    "      true  {:.3} s {:.2} Hz {width:.0} c",
                    note.start.get(),
                    note.nominal.get()
                );
            }
            starts.iter().for_each(|start| println!("      heard {start:.3} s"));
        }
        self.notes += truth.len();
        self.missed += missed;
        self.extra += extra;
        self.dropped += heard.dropped;
        for (note, found) in heard.true_notes().iter().zip(&matches) {
            let Some(found) = found else { continue };
            let ahead = Ear::delay(note.nominal).get();
            let told = heard.begun[*found].told.get();
            self.delays_ms.push(1_000.0 * (told - note.start.get() - ahead));
            let named = heard.heard_note(note).map(|heard| heard.midi);
            // A drifting note may end nearer to its neighbour.
            self.misnamed += usize::from(named != Some(midi_of(note.nominal.raised(note.centre))));
        }
    }

    fn line(&self) -> String {
        let (half, most) = (quantile(&self.delays_ms, 0.5), quantile(&self.delays_ms, 0.9));
        format!(
            "{:>4} notes, {} missed, {} extra, {} taken back, {} misnamed, told after {} ({} p90)",
            self.notes,
            self.missed,
            self.extra,
            self.dropped,
            self.misnamed,
            number(half, "ms"),
            number(most, "ms"),
        )
    }
}

/// Section 5 of the figures.
pub(crate) fn measure(
    run: &Run,
    corpus: &[Cell],
    sheet: &mut Sheet,
) -> Result<(), tone::SpecError> {
    sheet.head("5 Notes: legato, detached, after a rest; slow and wide");
    let slow = run.hear(&slow_wide(run.seed, run.count(16)))?;
    let mut all = Tally::default();
    for condition in Condition::ALL {
        let mut tally = Tally::default();
        let cells = corpus.iter().filter(|cell| cell.condition == condition);
        for heard in cells.flat_map(|cell| &cell.heard) {
            tally.add(heard, run.list);
            all.add(heard, false);
        }
        println!("  {:<18} {}", condition.name(), tally.line());
    }
    for (kind, name) in ["legato", "detached", "after a rest"].into_iter().enumerate() {
        let mut tally = Tally::default();
        for cell in corpus {
            cell.heard.iter().skip(kind).step_by(3).for_each(|heard| tally.add(heard, false));
        }
        println!("  {name:<18} {}", tally.line());
    }
    let mut tally = Tally::default();
    for heard in &slow {
        tally.add(heard, run.list);
        all.add(heard, false);
    }
    println!("  {:<18} {}", "slow and wide", tally.line());
    let whole = percent(&slow, |heard| heard.notes.len() == 1);
    sheet.at_least("slow and wide ones that stay one note", Some(whole), "%", 100.0);
    let missed = format!("{} of {}", all.missed, all.notes);
    let why = "legato steps well under a semitone, or within a swing twice as wide, pass unseen";
    let verdict = (all.missed == 0, all.missed * 150 <= all.notes);
    sheet.judge_known("missed", &missed, "none", verdict, why);
    let extra = 100.0 * all.extra as f64 / all.notes.max(1) as f64;
    sheet.at_most("extra", Some(extra), "%", 2.0);
    sheet.at_most(
        "told after the start (look-ahead apart), p90",
        quantile(&all.delays_ms, 0.9),
        "ms",
        65.0,
    );
    Ok(())
}
