//! How late frames come: newest sample used minus time stamp, measured on the streaming engine.

use crate::Run;
use crate::sheet::{Sheet, number};
use tuning::Hz;
use whole_chain::corpus::steady;

/// Pitches at which the delay is measured, with the bar in ms.
const PITCHES: [(f64, Option<f64>); 10] = [
    (41.2, None),
    (65.0, Some(40.0)),
    (82.4, Some(40.0)),
    (98.0, Some(30.0)),
    (131.0, Some(30.0)),
    (196.0, Some(30.0)),
    (300.0, Some(20.0)),
    (440.0, Some(20.0)),
    (1_047.0, Some(20.0)),
    (2_637.0, Some(20.0)),
];

/// Section 6 of the figures.
pub(crate) fn measure(run: &Run, sheet: &mut Sheet) -> Result<(), tone::SpecError> {
    sheet.head("6 Delay of a frame, latest in the interior of a note");
    let specs: Vec<tone::Spec> = PITCHES.iter().map(|(hz, _)| steady(Hz(*hz))).collect();
    for (heard, (hz, most)) in run.hear(&specs)?.iter().zip(PITCHES) {
        let value = Some(1_000.0 * heard.latest.get()).filter(|ms| *ms > 0.0);
        match most {
            Some(most) => sheet.at_most(&format!("{hz} Hz"), value, "ms", most),
            None => sheet.tell(&format!("{hz} Hz"), &number(value, "ms")),
        }
    }
    Ok(())
}
