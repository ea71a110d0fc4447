//! Passages: played with slips, aligned with their plan afterwards and followed while they are played.

use crate::Run;
use crate::sheet::{Sheet, number};
use coach::follow::align;
use coach::played::{Checked, PlayedNote, check};
use tone::{Bow, Spec};
use tuning::{Secs, Tuning};
use vibrato::Settings;
use whole_chain::drill_scoring::on_threads;
use whole_chain::passage_contours::{Contours, Course, contours, on_lines, two_passes};
use whole_chain::passage_scoring::{
    AlignScore, LiveScore, align_score, heard, live_score, told, told_of,
};
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
/// Files of eight notes with known contours; pairs of passes of a known line.
const CONTOURS: usize = 54;
const LINES: usize = 4;
/// Bars: width along the contour, its peak for an even motion, the doubt of the peak; and the share of contrast.
const WIDTH_CENTS: f64 = 5.0;
const CONTOUR_PCT: f64 = 98.0;
const PEAK_SECS: f64 = 0.06;
const PEAK_PCT: f64 = 97.0;
const COVERED_PCT: f64 = 95.0;
const SHARE_PCT: f64 = 6.0;
/// And where notes end: so near, in seconds, and that for so many percent.
const END_SECS: f64 = 0.05;
const END_PCT: f64 = 95.0;
/// Lines held.
const CONTOUR_HELD_PCT: f64 = 95.0;
const PEAK_HELD_PCT: f64 = 90.0;
const COVERED_HELD_PCT: f64 = 90.0;
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
    contour_section(run, sheet)?;
    line_section(run, sheet)
}

/// One vibrated note: how uneven the hand was, how far the width lies from the true one (root mean square), and how far the
/// peak, with its doubt, in seconds.
struct CourseScore {
    uneven_pct: f64,
    off_cents: f64,
    peak: Option<(f64, f64)>,
}

/// Notes of known contours.
fn contour_section(run: &Run, sheet: &mut Sheet) -> Result<(), tone::SpecError> {
    sheet.head("9 Contours played: 25 to 110 c, 1.2 to 3 s, uneven by 0, 4, 8 %; dry and in rooms");
    let first = UNSEEN * run.seed;
    let files: Vec<Contours> =
        (0..run.count(CONTOURS) as u64).map(|i| contours(first + i)).collect();
    let as_played = checked(&files, |file| file.spec.clone())?;
    // How far these hands stray from their own lines: what the ear makes of them where nothing disturbs it.
    let undisturbed = checked(&files, |file| Spec {
        room: None,
        floor_dbfs: None,
        bow: Bow { snr_db: None, ..Bow::default() },
        ..file.spec.clone()
    })?;
    let (mut straight, mut called) = (0, 0);
    let mut ends = Vec::new();
    for (file, checked) in files.iter().zip(&as_played) {
        for (i, (_, end, course)) in file.notes.iter().enumerate() {
            let note = note_of(checked, i);
            ends.push(note.map_or(f64::INFINITY, |note| (note.aligned.end.get() - end).abs()));
            if course.is_none() {
                let moves = note.is_some_and(|note| note.width.is_some());
                (straight, called) = (straight + 1, called + usize::from(moves));
            }
        }
    }
    tell_contours(sheet, &scores(&files, &as_played), &scores(&files, &undisturbed));
    sheet.judge(
        &format!("straight notes called vibrated, of {straight}"),
        &called.to_string(),
        "none",
        called == 0,
    );
    let ended = ends.iter().filter(|off| **off <= END_SECS).count();
    let what = format!("ends within {:.0} ms, of {} notes", 1e3 * END_SECS, ends.len());
    sheet.at_least(&what, Some(share(ended, ends.len())), "%", END_PCT);
    let shares: Vec<_> = as_played.iter().filter_map(|checked| checked.width_contrast).collect();
    let off: Vec<f64> = shares.iter().map(|share| 100.0 * (share.value - 1.0)).collect();
    sheet.around(
        &format!("share of planned contrast, of {}: median error", off.len()),
        quantile(&off, 0.5),
        "%",
        SHARE_PCT,
    );
    let within = shares
        .iter()
        .filter(|share| share.se.is_some_and(|se| (share.value - 1.0).abs() <= 2.0 * se))
        .count();
    sheet.at_least("within two standard errors", Some(share(within, shares.len())), "%", 90.0);
    Ok(())
}

/// The files' passages checked against what the ear hears of these sounds.
fn checked(
    files: &[Contours],
    spec: impl Fn(&Contours) -> Spec + Sync,
) -> Result<Vec<Checked>, tone::SpecError> {
    let check_one = |file: &Contours| {
        let mut heard = heard(&told_of(&spec(file), Settings::default())?);
        Ok(check(&file.passage, &mut heard, None, &Tuning::default()))
    };
    on_threads(files, check_one).into_iter().collect()
}

fn note_of(checked: &Checked, i: usize) -> Option<&PlayedNote> {
    checked.notes.iter().find(|note| note.aligned.note == Some(i))
}

/// Every vibrated note; `None` of one of which no contour was told.
fn scores(files: &[Contours], checked: &[Checked]) -> Vec<Option<CourseScore>> {
    let mut scores = Vec::new();
    for (file, checked) in files.iter().zip(checked) {
        for (i, (start, end, course)) in file.notes.iter().enumerate() {
            let Some(course) = course else { continue };
            let score = note_of(checked, i)
                .and_then(|note| course_score(note, (*start, *end), course))
                .map(|score| CourseScore { uneven_pct: file.uneven_pct, ..score });
            scores.push(score);
        }
    }
    scores
}

fn course_score(
    note: &PlayedNote,
    (start, end): (f64, f64),
    course: &Course,
) -> Option<CourseScore> {
    let widths = note.widths?.map(|width| width.value.get());
    let (from, to) = (note.aligned.start.get(), note.aligned.end.get());
    let place = note.peak.map_or(0.5 * (from + to), |peak| from + peak.value.get());
    let peak = start + course.peak_at * (end - start);
    let squares = note.course.iter().map(|point| {
        let time = point.time.get();
        let told = on_lines(widths, (from, place, to), time);
        (told - on_lines(course.width, (start, peak, end), time)).powi(2)
    });
    let off_cents = (squares.sum::<f64>() / note.course.len().max(1) as f64).sqrt();
    let inner = course.peak_at < 1.0;
    let se = note.peak.and_then(|peak| peak.se).map_or(0.0, Secs::get);
    let off = if note.peak.is_some() { (place - peak).abs() } else { f64::INFINITY };
    Some(CourseScore { uneven_pct: 0.0, off_cents, peak: inner.then_some((off, se)) })
}

fn tell_contours(
    sheet: &mut Sheet,
    scores: &[Option<CourseScore>],
    undisturbed: &[Option<CourseScore>],
) {
    let near_pct = |scores: &[Option<CourseScore>]| {
        let near = |score: &&CourseScore| score.off_cents <= WIDTH_CENTS;
        share(scores.iter().flatten().filter(near).count(), scores.len())
    };
    judge_pct(
        sheet,
        &format!("width within {WIDTH_CENTS} c rms, of {} notes", scores.len()),
        near_pct(scores),
        (CONTOUR_PCT, CONTOUR_HELD_PCT),
        "an uneven hand strays from its own line by more than that",
    );
    let what = "the same hands without room or noise";
    sheet.tell(what, &number(Some(near_pct(undisturbed)), "%"));
    for uneven_pct in [0.0, 4.0, 8.0] {
        let peaks: Vec<(f64, f64)> = scores
            .iter()
            .flatten()
            .filter(|score| score.uneven_pct == uneven_pct)
            .filter_map(|score| score.peak)
            .collect();
        let near = peaks.iter().filter(|(off, _)| *off <= PEAK_SECS).count();
        let what = format!(
            "uneven by {uneven_pct} %: peak within {:.0} ms, of {}",
            1e3 * PEAK_SECS,
            peaks.len()
        );
        let pct = share(near, peaks.len());
        if uneven_pct == 0.0 {
            let why = "a flat bend is told as one line";
            judge_pct(sheet, &what, pct, (PEAK_PCT, PEAK_HELD_PCT), why);
            continue;
        }
        sheet.tell(&what, &number(Some(pct), "%"));
        let told = peaks.iter().filter(|peak| peak.0.is_finite());
        let within = |most: f64| {
            let count = told.clone().filter(|(off, se)| *off <= most * se).count();
            share(count, told.clone().count())
        };
        judge_pct(
            sheet,
            &format!("uneven by {uneven_pct} %: peak within two standard errors"),
            within(2.0),
            (COVERED_PCT, COVERED_HELD_PCT),
            "cycles of an uneven hand go with each other, so that they tell less than their number",
        );
        sheet.tell("within one", &number(Some(within(1.0)), "%"));
    }
}

/// A line of the bow that is kept, and one that is flattened.
fn line_section(run: &Run, sheet: &mut Sheet) -> Result<(), tone::SpecError> {
    sheet.head("9 The bow's line in a straight and a vibrated pass, 14 notes; kept, and flattened");
    let numbers: Vec<u64> = (0..run.count(LINES) as u64).map(|i| UNSEEN * run.seed + i).collect();
    for keeps in [1.0, 0.0] {
        let lines: Result<Vec<_>, tone::SpecError> = on_threads(&numbers, |number| {
            let (passage, [before, after]) = two_passes(*number, keeps);
            let mut before = heard(&told_of(&before, Settings::default())?);
            let mut after = heard(&told_of(&after, Settings::default())?);
            Ok(check(&passage, &mut after, Some(&mut before), &Tuning::default()).bow_line)
        })
        .into_iter()
        .collect();
        let lines: Vec<_> = lines?.into_iter().flatten().collect();
        let losses: Vec<f64> = lines.iter().map(|line| line.least_loss.value).collect();
        let told = lines.iter().filter(|line| line.survived == (keeps > 0.5)).count();
        let what = if keeps > 0.5 { "kept" } else { "flattened" };
        sheet.judge(
            &format!("{what}: told as that"),
            &format!("{told} of {}", numbers.len()),
            "all but one",
            told + 1 >= numbers.len(),
        );
        sheet.tell(&format!("{what}: least loss, median"), &number(quantile(&losses, 0.5), ""));
    }
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
