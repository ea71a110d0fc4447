//! What comes back from take to take of a passage: found where it was made, and nothing said where it was not.

use crate::Run;
use crate::sheet::{Sheet, number};
use coach::played::{Habits, PlayedNote, check, habits};
use tone::SpecError;
use tuning::Tuning;
use vibrato::Settings;
use whole_chain::drill_scoring::on_threads;
use whole_chain::habit_takes::{Does, Hand, Made, plan, player, take};
use whole_chain::passage_scoring::{heard, told_of};

const UNSEEN: u64 = 1_000;
/// Takes that are heard, played as planned and with all notes in another way; and those of each player, put together from
/// them note by note.
const USUAL: usize = 24;
const OTHERWISE: usize = 8;
const TAKES: usize = 6;
/// Players of each habit, and players without one.
const EACH: usize = 40;
const WITHOUT: usize = 400;
/// Bars, in percent: habits found, and players of whom something is said that is not so. Both are our own.
const FOUND_PCT: f64 = 95.0;
const WRONG_PCT: f64 = 2.0;
/// A line held, and why the bar is missed.
const FOUND_HELD_PCT: f64 = 85.0;
const WHY_FOUND: &str =
    "a hand that comes back to a width within 15 % wants more than six takes now and then";

/// What was made of each note of a take; `None` of one that was not found.
type Notes = Vec<Option<PlayedNote>>;

/// Section 9 of the figures.
pub(crate) fn measure(run: &Run, sheet: &mut Sheet) -> Result<(), SpecError> {
    let count = |hand| run.count(if hand == Hand::Usual { USUAL } else { OTHERWISE }).max(TAKES);
    let first = UNSEEN * run.seed;
    let takes: Vec<(Hand, u64)> = Hand::ALL
        .iter()
        .flat_map(|hand| (first..).take(count(*hand)).map(|number| (*hand, number)))
        .collect();
    sheet.head(&format!(
        "9 Habits: players of {TAKES} takes of 16 notes, drawn from {}; a width comes back to 15 %, an onset to 40 ms; rooms",
        takes.len()
    ));
    let heard: Result<Vec<(Hand, Notes)>, SpecError> =
        on_threads(&takes, |(hand, number)| Ok((*hand, notes_of(*hand, *number)?)))
            .into_iter()
            .collect();
    let heard = heard?;
    let said = |number: u64, does: Option<Does>| {
        let (made, rows) = player(number, does, TAKES, count);
        let of = |hand: Hand, nth: usize| heard.iter().filter(move |one| one.0 == hand).nth(nth);
        let takes: Vec<Vec<PlayedNote>> = rows
            .iter()
            .map(|row| {
                let notes = row.iter().enumerate();
                notes.filter_map(|(at, (hand, nth))| of(*hand, *nth)?.1[at].clone()).collect()
            })
            .collect();
        let takes: Vec<&[PlayedNote]> = takes.iter().map(Vec::as_slice).collect();
        (made, habits(&plan(), &takes))
    };
    let mut without = (0, 0);
    let mut seed = first;
    let mut all = |does: Option<Does>, players: usize| {
        let mut found = 0;
        for _ in 0..players {
            let (made, said) = said(seed, does);
            let (is, besides) = scored(made.as_ref(), &said);
            found += usize::from(is);
            without.0 += usize::from(besides > 0);
            without.1 += 1;
            seed += 1;
            if run.list && (made.is_some() && !is || besides > 0) {
                println!("    {made:?}: {:?}", said.said);
            }
        }
        found
    };
    let share = |part: usize, of: usize| Some(100.0 * part as f64 / of.max(1) as f64);
    for does in Does::ALL {
        let players = run.count(EACH);
        let found = all(Some(does), players);
        let what = format!("{does}, of {players}: told");
        let pct = share(found, players);
        let reaches = |least: f64| pct.is_some_and(|pct| pct >= least);
        let verdict = (reaches(FOUND_PCT), reaches(FOUND_HELD_PCT));
        let bar = format!("at least {FOUND_PCT} %");
        sheet.judge_known(&what, &number(pct, "%"), &bar, verdict, WHY_FOUND);
    }
    all(None, run.count(WITHOUT));
    let what = format!("players of whom something is said that is not so, of {}", without.1);
    sheet.at_most(&what, share(without.0, without.1), "%", WRONG_PCT);
    Ok(())
}

/// Whether the habit was told, and how much besides that is not so.
fn scored(made: Option<&Made>, said: &Habits) -> (bool, usize) {
    let is = |habit| made.is_some_and(|made| made.is(habit));
    let so = |habit| is(habit) || made.is_some_and(|made| made.follows(habit));
    (said.found.iter().any(is), said.found.iter().filter(|habit| !so(habit)).count())
}

/// What was made of each note of a take.
fn notes_of(hand: Hand, number: u64) -> Result<Notes, SpecError> {
    let passage = plan();
    let mut heard = heard(&told_of(&take(hand, number), Settings::default())?);
    let checked = check(&passage, &mut heard, None, &Tuning::default());
    let of = |at| checked.notes.iter().find(|one| one.aligned.note == Some(at)).cloned();
    Ok((0..passage.notes().len()).map(of).collect())
}
