//! Phrases, dry and in rooms: beginnings found, and notes that nobody played.

use crate::Run;
use crate::sheet::Sheet;
use whole_chain::phrases::{PLACES, PhraseScore, phrases, score_phrases};

/// Phrases of ten notes in each place.
const COUNT: usize = 20;

/// Section 8 of the figures.
pub(crate) fn measure(run: &Run, sheet: &mut Sheet) -> Result<(), tone::SpecError> {
    sheet.head(
        "8 Phrases: slurs, leaps, new bows on one pitch, dry and in rooms of T60 and direct sound",
    );
    for place in PLACES {
        let specs = phrases(run.seed, place, run.count(COUNT));
        let score = score_phrases(&specs, run.list)?;
        tell(sheet, place.name, score);
    }
    Ok(())
}

fn tell(sheet: &mut Sheet, name: &str, score: PhraseScore) {
    let share = |part: usize, all: usize| Some(100.0 * part as f64 / all.max(1) as f64);
    let PhraseScore { beginnings, found, merged, missed, rebows, .. } = score;
    sheet.tell(
        &format!("{name}: found, merged, missed, of {beginnings}"),
        &format!("{found}, {merged}, {missed}"),
    );
    sheet.tell(
        &format!("{name}: new bows heard; false"),
        &format!("{} of {}; {}", rebows.1, rebows.0, score.false_rebows),
    );
    sheet.at_most(&format!("{name}: invented"), share(score.invented, beginnings), "%", 1.0);
    sheet.at_most(
        &format!("{name}: merged and missed"),
        share(merged + missed, beginnings),
        "%",
        4.0,
    );
    sheet.at_most(
        &format!("{name}: frames wrong behind a change"),
        share(score.frames.1, score.frames.0),
        "%",
        1.0,
    );
}
