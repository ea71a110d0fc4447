//! Passages: played with slips, aligned with their plan afterwards and followed while they are played.

use crate::Run;
use crate::sheet::{Sheet, number};
use coach::follow::align;
use tuning::Tuning;
use whole_chain::drill_scoring::on_threads;
use whole_chain::passage_scoring::{AlignScore, LiveScore, align_score, heard, live_score, told};
use whole_chain::passages::{Performance, performance};
use whole_chain::scoring::quantile;

/// Passages of 8 to 60 notes. Those with numbers below 30 were used for tuning.
const PASSAGES: usize = 30;
const UNSEEN: u64 = 1_000;
/// Bars, in percent: beginnings within 50 ms and notes assigned right; live the right note, and notes known in time.
const ONSETS_PCT: f64 = 98.0;
const RIGHT_PCT: f64 = 99.0;
const LIVE_PCT: f64 = 95.0;
const KNOWN_PCT: f64 = 95.0;
const KNOWN_SECS: f64 = 0.15;
/// Lines held by what misses its bar on some passages: one standard error of each figure is 0.3 to 0.6.
const ONSETS_HELD_PCT: f64 = 97.0;
const RIGHT_HELD_PCT: f64 = 98.2;
const LIVE_HELD_PCT: f64 = 93.5;
const KNOWN_HELD_PCT: f64 = 93.0;
/// Why a bar is missed.
const WHY_ALIGNED: &str =
    "a wrong note that sounds like its neighbour, and a new bow on one pitch that the room fills";
const WHY_LIVE: &str =
    "after a jump the first note may be a wrong one as well, until the second is heard";

fn share(part: usize, of: usize) -> f64 {
    100.0 * part as f64 / of.max(1) as f64
}

/// Section 9 of the figures.
pub(crate) fn measure(run: &Run, sheet: &mut Sheet) -> Result<(), tone::SpecError> {
    let first = UNSEEN * run.seed;
    let performances: Vec<Performance> =
        (0..run.count(PASSAGES) as u64).map(|i| performance(first + i)).collect();
    let scores: Result<Vec<_>, tone::SpecError> = on_threads(&performances, |performance| {
        let told = told(performance)?;
        let mut heard = heard(&told);
        let aligned = align(&performance.passage, &mut heard, &Tuning::default());
        let score = align_score(performance, &aligned, run.list);
        Ok((score, live_score(performance, &told, run.list)))
    })
    .into_iter()
    .collect();
    let (aligned, live): (Vec<AlignScore>, Vec<LiveScore>) = scores?.into_iter().unzip();
    let count = performances.len();
    sheet.head(
        "9 Passages aligned: tempo ±20 %, rubato, wrong, missing and repeated notes of 5 % each, stops, repeats; rooms",
    );
    tell_aligned(sheet, count, aligned.into_iter().fold(AlignScore::default(), AlignScore::and));
    sheet.head("9 Passages followed while they are played");
    tell_live(sheet, live.into_iter().fold(LiveScore::default(), LiveScore::and));
    Ok(())
}

fn judge_pct(sheet: &mut Sheet, what: &str, pct: f64, (bar, held): (f64, f64), why: &'static str) {
    let verdict = (pct >= bar, pct >= held);
    sheet.judge_known(what, &number(Some(pct), "%"), &format!("at least {bar} %"), verdict, why);
}

fn tell_aligned(sheet: &mut Sheet, passages: usize, score: AlignScore) {
    let AlignScore { played, onsets, right, onsets_by_run, right_by_run, made_up } = score;
    let what = format!("beginnings within 50 ms, of {played} notes in {passages} passages");
    let of = |part| share(part, played);
    judge_pct(sheet, &what, of(onsets_by_run), (ONSETS_PCT, ONSETS_HELD_PCT), WHY_ALIGNED);
    judge_pct(sheet, "notes right", of(right_by_run), (RIGHT_PCT, RIGHT_HELD_PCT), WHY_ALIGNED);
    let strict = format!("{:.2} %, {:.2} %", of(onsets), of(right));
    sheet.tell("strictly, note by note in a run of one pitch", &strict);
    sheet.tell("notes that nobody played", &made_up.to_string());
}

fn tell_live(sheet: &mut Sheet, score: LiveScore) {
    let of = |part| share(part, score.asked);
    let right = of(score.right_by_run);
    judge_pct(sheet, "right note, of the time", right, (LIVE_PCT, LIVE_HELD_PCT), WHY_LIVE);
    let known = |delays: &[f64]| {
        share(delays.iter().filter(|secs| **secs <= KNOWN_SECS).count(), delays.len())
    };
    let what = format!("known within {:.0} ms, of {} notes", 1e3 * KNOWN_SECS, score.delays.len());
    judge_pct(sheet, &what, known(&score.delays), (KNOWN_PCT, KNOWN_HELD_PCT), WHY_LIVE);
    let after = &score.delays_after_jump;
    sheet.tell(
        &format!("the same of {} first notes after a jump", after.len()),
        &number(Some(known(after)), "%"),
    );
    let strict = number(Some(of(score.right)), "%");
    sheet.tell("strictly, note by note in a run of one pitch", &strict);
    let range = score.range as f64 / score.asked.max(1) as f64;
    sheet.tell(
        &format!("in the range told, of {range:.2} notes"),
        &number(Some(of(score.in_range)), "%"),
    );
    let ms = |share| quantile(&score.delays, share).map_or(f64::NAN, |secs| 1e3 * secs);
    sheet.tell("delay: median, p90", &format!("{:.0}, {:.0} ms", ms(0.5), ms(0.9)));
}
