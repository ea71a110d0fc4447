//! Phrases, dry and in rooms: beginnings found, and notes that nobody played.

use crate::Run;
use crate::sheet::Sheet;
use whole_chain::phrases::{PLACES, PhraseScore, phrases, score_phrases};

/// Phrases of ten notes in each place.
const COUNT: usize = 20;
/// Shares in percent that are reached in each of the places: invented, merged and missed, frames wrong.
const REACHED: [[f64; 3]; PLACES.len()] =
    [[1.0, 4.0, 1.0], [1.0, 4.0, 1.0], [1.0, 4.0, 1.0], [1.0, 4.0, 1.5], [2.0, 4.5, 3.0]];
/// So many percent of the phrases are to end in their place.
const ENDS_PCT: f64 = 95.0;
/// Why a bar is missed.
const WHY: [&str; 3] = [
    "late sound of a note that moved is not quite taken out, and has a low period in common with the next note",
    "late sound as loud as the string fills the dip of a new bow above 2 kHz, too, and blurs small changes of pitch",
    "for a moment what is left of the note before has a low period in common with the next, or an octave upward is heard when the lower note has faded",
];

/// Section 8 of the figures.
pub(crate) fn measure(run: &Run, sheet: &mut Sheet) -> Result<(), tone::SpecError> {
    sheet.head(
        "8 Phrases: slurs, leaps, new bows on one pitch; dry and in rooms (T60, direct sound)",
    );
    let mut ends = (0, 0);
    for (place, reached) in PLACES.into_iter().zip(REACHED) {
        let specs = phrases(run.seed, place, run.count(COUNT));
        let score = score_phrases(&specs, run.list)?;
        tell(sheet, place.name, score, reached);
        ends = (ends.0 + score.ends.0, ends.1 + score.ends.1);
    }
    let within = 100.0 * ends.1 as f64 / ends.0.max(1) as f64;
    let what = format!("the bow leaves within 50 ms, at the end of {}", ends.0);
    sheet.at_least(&what, Some(within), "%", ENDS_PCT);
    Ok(())
}

fn tell(sheet: &mut Sheet, name: &str, score: PhraseScore, reached: [f64; 3]) {
    let share = |part: usize, all: usize| 100.0 * part as f64 / all.max(1) as f64;
    let PhraseScore { beginnings, found, merged, missed, rebows, invented, frames, .. } = score;
    let counts = format!("{found}, {merged}, {missed}");
    sheet.tell(&format!("{name}: found, merged, missed, of {beginnings}"), &counts);
    let bows = format!("{} of {}; {}", rebows.1, rebows.0, score.false_rebows);
    sheet.tell(&format!("{name}: new bows heard; false"), &bows);
    let figures = [
        ("invented", share(invented, beginnings), 1.0),
        ("merged and missed", share(merged + missed, beginnings), 4.0),
        ("frames wrong behind a change", share(frames.1, frames.0), 1.0),
    ];
    for (((what, value, most), line), why) in figures.into_iter().zip(reached).zip(WHY) {
        let (value_told, bar) = (format!("{value:.2} %"), format!("at most {most} %"));
        let verdict = (value <= most, value <= line);
        sheet.judge_known(&format!("{name}: {what}"), &value_told, &bar, verdict, why);
    }
}
