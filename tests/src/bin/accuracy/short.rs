//! Short notes: a vibrato of a few oscillations told, and nothing else taken for one.

use crate::Run;
use crate::sheet::{Sheet, number, signed};
use whole_chain::corpus::{Register, ShortMotion, short};
use whole_chain::listening::HeardSound;
use whole_chain::scoring::{median, percent};

/// Bow noise below the tone, in dB.
const NOISES_DB: [f64; 2] = [40.0, 20.0];
/// A width must be this near, as a share.
const NEAR: f64 = 0.05;
/// A turn so many oscillations beyond what was looked at still tells of its swing.
const BEYOND_CYCLES: f64 = 0.15;
/// What the fit to the whole of a short note leaves out at its start and its end, in seconds.
const EDGES_SECS: (f64, f64) = (0.03, 0.02);

/// What was told of one short vibrato: errors of width and rate as shares, and all errors over their standard errors.
struct Told {
    width: f64,
    rate: f64,
    deviations: [f64; 3],
}

/// Compares the vibrato told with the true one between the same times.
fn told(heard: &HeardSound) -> Option<Told> {
    let truth = &heard.true_notes()[0];
    let note = heard.heard_note(truth)?;
    let vibrato = note.vibrato.as_ref()?;
    let (from, to) = (note.start.get() + EDGES_SECS.0, note.end.get() - EDGES_SECS.1);
    let beyond = BEYOND_CYCLES / vibrato.rate.value.get();
    let turns: Vec<_> = truth
        .turns
        .iter()
        .filter(|turn| turn.time.get() > from - beyond && turn.time.get() < to + beyond)
        .collect();
    let (first, last) = (turns.first()?, turns.last()?);
    let swings = turns.windows(2).map(|two| (two[1].swing.get() - two[0].swing.get()).abs());
    let width = swings.sum::<f64>() / (turns.len() - 1) as f64;
    let rate = 0.5 * (turns.len() - 1) as f64 / (last.time.get() - first.time.get());
    let centre = truth.nominal.cents_above(note.reference).get();
    let errors = [
        vibrato.width.value.get() - width,
        vibrato.rate.value.get() - rate,
        vibrato.centre.value.get() - centre,
    ];
    let doubts = [
        vibrato.width.se.map(|se| se.get()),
        vibrato.rate.se.map(|se| se.get()),
        vibrato.centre.se.map(|se| se.get()),
    ];
    let deviations = std::array::from_fn(|i| doubts[i].map_or(f64::INFINITY, |se| errors[i] / se));
    Some(Told { width: errors[0] / width, rate: errors[1] / rate, deviations })
}

/// Section 8 of the figures.
pub(crate) fn measure(run: &Run, sheet: &mut Sheet) -> Result<(), tone::SpecError> {
    sheet.head("8 Short notes: 0.35 to 0.8 s, 4 to 7.5 Hz, from 1.5 oscillations on, 12 to 80 c");
    for motion in [ShortMotion::Even, ShortMotion::Uneven] {
        for snr_db in NOISES_DB {
            let heard = all(run, motion, snr_db, 24)?;
            let told: Vec<Told> = heard.iter().filter_map(told).collect();
            let name = format!("{}, {snr_db} dB", motion.name());
            let share = 100.0 * told.len() as f64 / heard.len() as f64;
            sheet.at_least(&format!("{name}: told, of {}", heard.len()), Some(share), "%", 90.0);
            let widths: Vec<f64> = told.iter().map(|told| 100.0 * told.width).collect();
            sheet.tell(&format!("{name}: width error, median"), &signed(median(&widths), "%"));
            let near = percent(&told, |told| told.width.abs() <= NEAR);
            sheet.at_least(&format!("{name}: width within 5 %"), Some(near), "%", 90.0);
            let near = percent(&told, |told| told.rate.abs() <= NEAR);
            sheet.tell(&format!("{name}: rate within 5 %"), &number(Some(near), "%"));
            // The true centre of an uneven one wanders.
            let whats = ["width", "rate", "centre"];
            let judged = if motion == ShortMotion::Even { &whats[..] } else { &whats[..2] };
            for (i, what) in judged.iter().enumerate() {
                let within = |most: f64| percent(&told, |told| told.deviations[i].abs() <= most);
                sheet.tell(
                    &format!("{name}: {what} within one stated standard error"),
                    &number(Some(within(1.0)), "%"),
                );
                let what = format!("{name}: {what} within two");
                sheet.at_least(&what, Some(within(2.0)), "%", 93.0);
            }
        }
    }
    for motion in ShortMotion::NONE {
        let mut heard = all(run, motion, NOISES_DB[0], 8)?;
        heard.extend(all(run, motion, NOISES_DB[1], 8)?);
        let alarms = heard.iter().filter(|h| h.notes.iter().any(|n| n.vibrato.is_some())).count();
        let what = format!("{}: called vibrato, of {}", motion.name(), heard.len());
        sheet.judge(&what, &alarms.to_string(), "none", alarms == 0);
        if motion == ShortMotion::Still {
            let straight = percent(&heard, |h| {
                h.heard_note(&h.true_notes()[0]).is_some_and(|note| note.straight())
            });
            sheet.at_least("straight: called straight", Some(straight), "%", 95.0);
        }
    }
    Ok(())
}

fn all(
    run: &Run,
    motion: ShortMotion,
    snr_db: f64,
    count: usize,
) -> Result<Vec<HeardSound>, tone::SpecError> {
    let specs: Vec<_> = Register::MAIN
        .into_iter()
        .flat_map(|register| short(run.seed, register, motion, snr_db, run.count(count)))
        .collect();
    run.hear(&specs)
}
