//! What was made of a passage: each note against its plan, and the passage as a whole.

mod as_played;
mod bow_line;
mod contour;
mod contrast;
mod habits;
mod note_findings;
mod said;
mod widest;
mod written;

use tuning::{Secs, Tuning};
use vibrato::Measure;

pub use as_played::as_played;
pub use bow_line::BowLine;
pub use habits::{HABITS_SCHEMA, Habit, Habits, LEAST_TAKES, Usual, Whose, habits};
pub use note_findings::{Difference, PlayedNote, What};
pub use said::{called, of_note, of_passage, words};
pub use widest::{Widest, widest};
pub use written::{PASSAGE_SCHEMA, Written};

use crate::follow::{Aligned, Heard, How, align};
use crate::plan::{Intention, Passage};

/// A plan whose widths or rates differ by less than this (standard deviation) has no contrast to speak of.
const LEAST_WIDTH_SD_CENTS: f64 = 15.0;
const LEAST_RATE_SD_HZ: f64 = 0.4;
/// A straight note is heard as straight to this, in cents.
const STRAIGHT_SE_CENTS: f64 = 2.0;
/// Shorter notes show no vibrato, in seconds: nothing is asked of them.
const LEAST_SECS: f64 = 0.5;

/// What was made of a passage.
#[derive(Clone, Debug, PartialEq)]
pub struct Checked {
    /// Every note that was found, and those that were left out, in order of time.
    pub notes: Vec<PlayedNote>,
    /// Notes of the plan that were reached, and all of them.
    pub reached: (usize, usize),
    /// The share of the planned contrast of widths that was played: 1 is all of it.
    pub width_contrast: Option<Measure<f64>>,
    /// The same of rates.
    pub rate_contrast: Option<Measure<f64>>,
    /// Mean width of the notes that were to differ, in cents.
    pub mean_width: Option<f64>,
    /// What became of the bow's line, where a straight pass is there to compare with.
    pub bow_line: Option<BowLine>,
    /// All of it in sentences, the passage first.
    pub said: Vec<String>,
}

impl Checked {
    /// What matters most, note by note, with the worst first: places in [`Self::notes`], and of each the difference
    /// that is largest beside the size from which it matters.
    pub fn worst(&self) -> Vec<(usize, Difference)> {
        let worst_of = |note: &PlayedNote| {
            note.differences.iter().copied().max_by(|a, b| a.weight().total_cmp(&b.weight()))
        };
        let of_notes = self.notes.iter().enumerate();
        let mut worst: Vec<(usize, Difference)> =
            of_notes.filter_map(|(place, note)| Some((place, worst_of(note)?))).collect();
        worst.sort_by(|a, b| b.1.weight().total_cmp(&a.1.weight()));
        worst
    }
}

/// Checks a take against its plan; with a straight pass of the same passage the bow's line, too.
pub fn check(
    passage: &Passage,
    take: &mut Heard,
    straight: Option<&mut Heard>,
    tuning: &Tuning,
) -> Checked {
    let aligned = align(passage, take, tuning);
    let notes = note_findings::all(passage, take, &aligned, tuning);
    let bow_line = straight.and_then(|straight| {
        let before = align(passage, straight, tuning);
        let both = both(passage, (straight, &before), (take, &aligned));
        bow_line::bow_line(&both)
    });
    let (widths, rates) = pairs(passage, &notes);
    let mean_width = (!widths.is_empty())
        .then(|| widths.iter().map(|pair| pair.played).sum::<f64>() / widths.len() as f64);
    let sounding = |note: &crate::plan::PlanNote| note.pitch != crate::plan::Pitch::Rest;
    let heads =
        || passage.notes().iter().enumerate().filter(|(_, note)| sounding(note) && !note.tie);
    let last = notes.iter().filter_map(|one| one.aligned.note).max();
    let reached = heads().filter(|(i, _)| Some(*i) <= last).count();
    let mut checked = Checked {
        reached: (reached, heads().count()),
        width_contrast: contrast::share(&widths, LEAST_WIDTH_SD_CENTS),
        rate_contrast: contrast::share(&rates, LEAST_RATE_SD_HZ),
        mean_width,
        bow_line,
        notes,
        said: Vec::new(),
    };
    checked.said = said::sentences(passage, &checked);
    checked
}

/// Planned and played widths and rates, of the notes of which something is to be heard.
fn pairs(passage: &Passage, notes: &[PlayedNote]) -> (Vec<contrast::Pair>, Vec<contrast::Pair>) {
    let (mut widths, mut rates) = (Vec::new(), Vec::new());
    for one in notes.iter().filter(|one| one.aligned.how == How::Played && !one.too_short) {
        let Some(plan) = one.aligned.note.map(|note| &passage.notes()[note]) else { continue };
        // An open string is straight by nature.
        if plan.open() {
            continue;
        }
        let straight = Measure { value: 0.0, se: Some(STRAIGHT_SE_CENTS) };
        let width = one.width.map_or(straight, Measure::bare);
        let planned = plan.intention.mean_width().get();
        let pair = |planned: f64, played: Measure<f64>| contrast::Pair {
            planned,
            played: played.value,
            se: played.se.unwrap_or(STRAIGHT_SE_CENTS),
        };
        widths.push(pair(planned, width));
        if let Some((planned, played)) = plan.intention.mean_rate().zip(one.rate) {
            rates.push(pair(planned.get(), played.bare()));
        }
    }
    (widths, rates)
}

/// The levels of notes that were played in both passes, each the first time.
fn both(
    passage: &Passage,
    (straight, before): (&Heard, &[Aligned]),
    (take, aligned): (&Heard, &[Aligned]),
) -> Vec<bow_line::Both> {
    let level = |heard: &Heard, all: &[Aligned], note: usize| {
        let first = all.iter().find(|one| one.note == Some(note) && one.how == How::Played)?;
        bow_line::level(heard, first.start, first.end)
    };
    let notes = (0..passage.notes().len()).filter_map(|note| {
        let (straight, vibrated) = (level(straight, before, note)?, level(take, aligned, note)?);
        Some(bow_line::Both { note, straight, vibrated })
    });
    notes.collect()
}

/// What vibrato a note is to have.
fn wanted(passage: &Passage, one: &Aligned) -> Option<Intention> {
    one.note.map(|note| passage.notes()[note].intention)
}

/// How long a note is.
fn length(one: &Aligned) -> Secs {
    Secs(one.end.get() - one.start.get())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::follow::tests::{BEAT_SECS, frames, passage};
    use tuning::{Cents, Hz};
    use vibrato::{Note, Vibrato};

    const SCALE: [i32; 4] = [48, 50, 52, 53];

    /// A take of the scale in which the ear heard a vibrato of so many whole oscillations in each note, or none.
    fn heard(oscillations: [Option<usize>; 4]) -> Heard {
        let mut heard = Heard::default();
        frames(&SCALE).iter().for_each(|event| heard.push(event, None));
        for (i, (midi, count)) in SCALE.into_iter().zip(oscillations).enumerate() {
            let start = i as f64 * BEAT_SECS;
            let reference = Tuning::default().frequency(midi);
            let mut note = Note::plain(midi, reference, Secs(start), Secs(start + BEAT_SECS));
            if let Some(count) = count {
                // The first trough of a swing that sets out upward at 0 s.
                note =
                    note.vibrated(Vibrato::even(Hz(5.0), Cents(40.0), Secs(start + 0.15), count));
            }
            heard.push(&vibrato::Event::NoteEnded, Some(&note));
        }
        heard
    }

    /// A take of the scale, each note with the vibrato that `frames` gives it.
    fn take() -> Heard {
        heard([Some(3); 4])
    }

    #[test]
    fn a_note_meant_straight_that_moved_is_told_and_one_that_moved_as_planned_is_not() {
        let plain = passage(&SCALE);
        let mut notes = plain.notes().to_vec();
        for note in &mut notes[1..] {
            note.intention = Intention::level(Cents(40.0), Some(Hz(5.0)));
        }
        let passage = plain.with_notes(notes).expect("a passage");
        let checked = check(&passage, &mut take(), None, &Tuning::default());
        let told: Vec<Vec<What>> = checked
            .notes
            .iter()
            .map(|note| note.differences.iter().map(|one| one.what).collect())
            .collect();
        assert_eq!(told, [vec![What::NotStraight], vec![], vec![], vec![]], "{checked:#?}");
        let worst: Vec<(usize, What)> =
            checked.worst().iter().map(|(place, one)| (*place, one.what)).collect();
        assert_eq!(worst, [(0, What::NotStraight)]);
        let width = checked.notes[1].width.expect("a vibrato");
        assert!((width.value.get() - 40.0).abs() < 2.0, "{width:?}");
        assert_eq!(checked.said[0], "4 of 4 notes reached.");
        assert!(checked.said[1].starts_with("Note 1 (C3, bar 0): meant straight, and it moved by"));
        assert_eq!(checked.said.len(), 2, "{:?}", checked.said);
    }

    #[test]
    fn a_take_held_against_the_plan_that_was_copied_from_it_differs_in_nothing() {
        let plain = passage(&SCALE);
        let mut take = take();
        let checked = check(&plain, &mut take, None, &Tuning::default());
        let copied = as_played(&plain, &checked.notes);
        let mut notes = plain.notes().to_vec();
        for (note, copied) in notes.iter_mut().zip(copied) {
            note.intention = copied.expect("played");
            let width = note.intention.mean_width().get();
            assert!((width - 40.0).abs() < 2.0, "{width}");
        }
        notes[2].finger = Some(0);
        let copy = plain.with_notes(notes).expect("a passage");
        let again = check(&copy, &mut take, None, &Tuning::default());
        assert!(again.notes.iter().all(|note| note.differences.is_empty()), "{again:#?}");
        assert_eq!(as_played(&copy, &again.notes)[2], None, "an open string");
        assert_eq!(as_played(&copy, &again.notes[2..])[0], None, "left out");
    }

    #[test]
    fn what_was_made_of_a_passage_is_written_with_its_doubts() {
        let passage = passage(&SCALE);
        let checked = check(&passage, &mut take(), None, &Tuning::default());
        let text = ron::to_string(&Written { passage: &passage, checked: &checked }).expect("text");
        for part in ["\"evenwave.passage/1\"", "\"width_se_cents\":Some(", "\"not straight\""] {
            assert!(text.contains(part), "{part}: {text}");
        }
    }

    #[test]
    fn a_vibrato_that_the_ear_heard_and_that_cannot_be_followed_is_not_called_missing() {
        let plain = passage(&SCALE);
        let mut notes = plain.notes().to_vec();
        for note in &mut notes {
            note.intention = Intention::level(Cents(40.0), Some(Hz(5.0)));
        }
        let passage = plain.with_notes(notes).expect("a passage");
        // Followed; told by the ear without a whole oscillation; none; followed.
        let mut heard = heard([Some(3), Some(0), None, Some(3)]);
        let checked = check(&passage, &mut heard, None, &Tuning::default());
        let missing: Vec<bool> = checked
            .notes
            .iter()
            .map(|note| note.differences.iter().any(|one| one.what == What::NoVibrato))
            .collect();
        assert_eq!(missing, [false, false, true, false]);
        let copied = as_played(&passage, &checked.notes);
        assert_eq!((copied[1], copied[2]), (None, Some(Intention::Straight)));
    }
}
