//! Live figures: how soon rate and width are right, and the count of oscillations.

use crate::Run;
use crate::sheet::{Sheet, number};
use tuning::Secs;
use vibrato::Motion;
use whole_chain::corpus::{counted, live};
use whole_chain::listening::HeardSound;
use whole_chain::scoring::{matched, missed_and_extra, percent};

/// Live values must be this near, as a share.
const NEAR: f64 = 0.05;
/// Vibrato that sets in after a straight start does so here.
const LATE: Secs = Secs(0.6);
/// Rates at which oscillations are counted, in Hz.
const COUNT_HZ: [f64; 6] = [0.5, 1.0, 2.0, 4.0, 6.0, 8.0];
/// A turn this near to the start or the end of its note need not be seen, in seconds and as a share of
/// the cycle: within it the pitch has not come a tenth of the width away from the turn.
const EDGE_CYCLES: f64 = 0.1;
const EDGES_SECS: (f64, f64) = (0.12, 0.06);

/// Errors of rate and width, as shares, once `cycles` have passed since the vibrato set in.
fn after(heard: &HeardSound, cycles: f64) -> (f64, f64) {
    let lost = (f64::INFINITY, f64::INFINITY);
    let note = &heard.spec.lines[0].notes[0];
    let Some(vibrato) = &note.vibrato else {
        return lost;
    };
    // Nothing can be seen before the string speaks.
    let set_in = note.start.get() + vibrato.delay.get().max(note.attack.get());
    let at = set_in + cycles / vibrato.rate.get();
    let Some(live) = heard.live.iter().find(|live| live.time.get() >= at - 1e-9) else {
        return lost;
    };
    let Motion::Vibrato { rate, width } = live.motion else {
        return lost;
    };
    let off = |value: f64, truth: f64| (value / truth - 1.0).abs();
    (off(rate.value.get(), vibrato.rate.get()), off(width.value.get(), vibrato.width.get()))
}

/// Share of clean oscillations that are missed or extra by now.
const COUNT_HELD_PCT: f64 = 0.6;

/// True oscillations that must be counted, those missed, and counted ones that are none.
fn count(heard: &HeardSound) -> (usize, usize, usize) {
    let (mut all, mut missed, mut extra) = (0, 0, 0);
    for note in heard.true_notes() {
        let truth: Vec<f64> = note.oscillations.iter().map(|o| o.start.get()).collect();
        let told: Vec<f64> = heard.oscillations.iter().map(|o| o.start.get()).collect();
        let period = note.mean_rate().map_or(1.0, |rate| 1.0 / rate.get());
        let edge = EDGE_CYCLES * period;
        let start = note.start.get() + edge.max(EDGES_SECS.0);
        let end = note.end.get() - edge.max(EDGES_SECS.1);
        let matches = matched(&truth, &told, 0.25 * period, 0.25 * period);
        let inside = note
            .oscillations
            .iter()
            .zip(&matches)
            .filter(|(o, _)| o.start.get() > start && o.start.get() + o.period.get() < end);
        all += inside.clone().count();
        missed += inside.filter(|(_, found)| found.is_none()).count();
        extra += missed_and_extra(&matches, told.len()).1;
    }
    (all, missed, extra)
}

/// Section 4 of the figures.
pub(crate) fn measure(run: &Run, sheet: &mut Sheet) -> Result<(), tone::SpecError> {
    sheet.head("4 Live rate and width, 20 dB, 20 to 100 c wide");
    let mut both = Vec::new();
    for (what, delay) in
        [("from the start of the note", None), ("after a straight start", Some(LATE))]
    {
        let heard = run.hear(&live(run.seed, delay, run.count(96)))?;
        for cycles in [1.0, 1.25, 1.5, 2.0, 3.0] {
            let errors: Vec<(f64, f64)> = heard.iter().map(|h| after(h, cycles)).collect();
            let (rates, widths) =
                (percent(&errors, |e| e.0 <= NEAR), percent(&errors, |e| e.1 <= NEAR));
            let what = format!("{cycles} cycles {what}, {} notes", errors.len());
            sheet.tell(&what, &format!("{rates:.0} % / {widths:.0} %"));
            if cycles == 1.5 {
                both.extend(errors);
            }
        }
    }
    sheet.at_least(
        "rate within 5 % after 1.5 cycles",
        Some(percent(&both, |e| e.0 <= NEAR)),
        "%",
        95.0,
    );
    sheet.at_least(
        "width within 5 % after 1.5 cycles",
        Some(percent(&both, |e| e.1 <= NEAR)),
        "%",
        92.0,
    );

    sheet.head("4 Oscillations counted");
    for (name, snr_db, most) in [("clean", 40.0, 0.0), ("20 dB", 20.0, 2.0)] {
        let mut sum = (0, 0, 0);
        for rate_hz in COUNT_HZ {
            let heard = run.hear(&counted(run.seed, rate_hz, snr_db, run.count(16)))?;
            let (all, missed, extra) =
                heard.iter().map(count).fold((0, 0, 0), |s, c| (s.0 + c.0, s.1 + c.1, s.2 + c.2));
            sum = (sum.0 + all, sum.1 + missed, sum.2 + extra);
            sheet.tell(
                &format!("{name}, {rate_hz} Hz, of {all}"),
                &format!("{missed} missed, {extra} extra"),
            );
        }
        let share = 100.0 * (sum.1 + sum.2) as f64 / sum.0.max(1) as f64;
        let what = format!("{name}: missed and extra of {}", sum.0);
        let verdict = (share <= most, share <= f64::max(most, COUNT_HELD_PCT));
        let bar = format!("at most {most} %");
        let why = "a release can pass for one more oscillation, or hide the last";
        sheet.judge_known(&what, &number(Some(share), "%"), &bar, verdict, why);
    }
    Ok(())
}
