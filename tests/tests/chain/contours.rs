//! Passages of notes with a known course, heard and checked against their plan.

use coach::follow::How;
use coach::played::{Checked, check};
use tuning::Tuning;
use vibrato::Settings;
use whole_chain::passage_contours::{Contours, contours, on_lines};
use whole_chain::passage_scoring::{heard, told_of};

fn checked(file: &Contours) -> Checked {
    let mut heard = heard(&told_of(&file.spec, Settings::default()).expect("a sound"));
    check(&file.passage, &mut heard, None, &Tuning::default())
}

#[test]
fn two_notes_of_one_pitch_with_a_rest_between_are_two() {
    // The last two are a straight and a vibrated one: as one note they were one that begins to swing late.
    let file = contours(303_054);
    let checked = checked(&file);
    let found: Vec<_> =
        checked.notes.iter().filter(|note| note.aligned.how != How::Extra).collect();
    let numbers: Vec<_> = found.iter().map(|note| note.aligned.note).collect();
    assert_eq!(numbers, (0..file.notes.len()).map(Some).collect::<Vec<_>>());
    assert!(found[6].width.is_none(), "the straight one: {:?}", found[6].width);
}

#[test]
fn a_swing_that_grows_and_dies_in_a_room_is_as_wide_as_it_was_played() {
    // Even hands in a room that rings for 0.8 s.
    let mut ratios = Vec::new();
    for number in [2, 11, 20, 29] {
        let file = contours(number);
        for note in checked(&file).notes {
            let of_plan = note.aligned.note.and_then(|i| file.notes.get(i));
            let Some((start, end, Some(course))) = of_plan else { continue };
            let peak = start + course.peak_at * (end - start);
            let true_width = |time: f64| on_lines(course.width, (*start, peak, *end), time);
            ratios.extend(
                note.course.iter().map(|point| point.width.get() / true_width(point.time.get())),
            );
        }
    }
    let middle = vibrato::median(ratios).expect("notes");
    assert!((0.98..1.025).contains(&middle), "told over true: {middle}");
}
