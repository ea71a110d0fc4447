//! Passages edited by commands alone.

use super::*;
use crate::plan::passage::Mode;

fn editor(bars: &str) -> Editor {
    let text = format!("instrument cello\n{bars}");
    Editor::new(Passage::from_text(&text).expect("read"))
}

/// The bars of a passage, as one would type them.
fn bars(editor: &Editor) -> String {
    let text = editor.passage().to_text();
    let bars = text.lines().filter(|line| line.starts_with("bar"));
    bars.collect::<Vec<_>>().join("\n")
}

fn made(editor: &mut Editor, edits: &[Edit]) {
    for edit in edits {
        editor.apply(edit).unwrap_or_else(|fault| panic!("{edit:?}: {fault}"));
    }
}

const ON: Edit = Edit::Go { to: Go::On, extend: false };
const MORE: Edit = Edit::Go { to: Go::On, extend: true };

fn go(note: usize) -> Edit {
    Edit::Go { to: Go::To(note), extend: false }
}

/// What is to be made; the window makes it by keys alone.
const SIXTEEN: &str = include_str!("sixteen.passage.txt");

#[test]
fn sixteen_notes_planned_by_commands_alone_are_those_of_the_text() {
    let mut editor = Editor::new(Passage::begun("cello").expect("begun"));
    let finger = |finger| Edit::Finger(Some(finger));
    let up = |steps| Edit::Move(Step::Staff(steps));
    let cents = |at, width| Edit::Width(at, Cents(width));
    use Along::{End, Peak, Start};
    let meter = Meter { beats: 3, of: BeatUnit::Quarter };
    made(
        &mut editor,
        &[
            Edit::Title("Sixteen".into()),
            Edit::Meter(meter),
            Edit::Pace(Pace { bpm: 72.0, unit: BeatUnit::Quarter, free: false }),
            Edit::Key(Key { sharps: 1, mode: Mode::Major }),
            Edit::Dynamic(Some(Dynamic::P)),
            // The first bar, which then has a line behind its upbeat.
            Edit::InsertAfter,
            up(3),
            Edit::Longer,
            finger(4),
            Edit::BarLine,
            cents(Start, 20.0),
            cents(Peak, 60.0),
            cents(End, 30.0),
            Edit::PeakBy(-0.1),
            Edit::Rate(Start, Some(Hz(5.0))),
            Edit::InsertAfter,
            up(-1),
            Edit::Shorter,
            Edit::Shorter,
            Edit::Shorter,
            Edit::Shorter,
            finger(3),
            Edit::Slur,
            Edit::InsertAfter,
            up(-1),
            Edit::Longer,
            Edit::Longer,
            Edit::Longer,
            finger(1),
            Edit::Slur,
            Edit::Intend(Intention::Straight),
            Edit::InsertAfter,
            up(-1),
            Edit::Longer,
            Edit::Longer,
            finger(0),
            Edit::InsertAfter,
            Edit::Shorter,
            Edit::Shorter,
            Edit::Rest,
            Edit::InsertAfter,
            Edit::Dynamic(Some(Dynamic::Mf)),
            up(-2),
            cents(Start, 30.0),
            finger(2),
            Edit::InsertAfter,
            up(1),
            finger(4),
            Edit::Slur,
            Edit::InsertAfter,
            up(1),
            finger(0),
            Edit::InsertAfter,
            up(1),
            finger(1),
            cents(Start, 10.0),
            cents(Peak, 40.0),
            cents(End, 40.0),
            Edit::PeakAt(1.0),
            Edit::InsertAfter,
            up(1),
            finger(3),
            Edit::InsertAfter,
            up(1),
            finger(4),
            Edit::InsertAfter,
            up(1),
            Edit::Length(Beats::whole(4).expect("short")),
            finger(1),
            Edit::OnString(Some("A".into())),
            Edit::Dynamic(Some(Dynamic::F)),
            cents(Start, 0.0),
            cents(Peak, 50.0),
            cents(End, 50.0),
            Edit::InsertAfter,
            up(-1),
            Edit::Length(Beats::whole(1).expect("short")),
            finger(4),
            Edit::Slur,
            Edit::Dynamic(Some(Dynamic::Softer)),
            Edit::Intend(Intention::Straight),
            Edit::InsertAfter,
            up(-1),
            finger(3),
            cents(Start, 20.0),
            Edit::InsertAfter,
            up(1),
            finger(4),
            Edit::Longer,
            Edit::Longer,
            cents(Start, 30.0),
            cents(End, 10.0),
            Edit::PeakAt(0.0),
            Edit::InsertAfter,
            up(-3),
            Edit::Length(Beats::whole(1).expect("short")),
            finger(0),
        ],
    );
    let typed = Passage::from_text(SIXTEEN).expect("read");
    assert_eq!(editor.passage().to_text(), typed.to_text());
    assert_eq!(*editor.passage(), typed);
    let heads = typed.notes().iter().filter(|note| !note.tie && note.pitch != Pitch::Rest);
    assert_eq!(heads.count(), 16);
}

#[test]
fn what_is_inserted_or_taken_out_moves_the_notes_behind_it_over_the_bar_lines() {
    let mut editor = editor("bar C3 2, D3 2\nbar E3 4\nbar F3 2");
    made(&mut editor, &[Edit::InsertAfter]);
    assert_eq!(bars(&editor), "bar 1  C3 2, C3 2\nbar 2  D3 2, E3 2\nbar 3  E3 2 tied, F3 2");
    made(&mut editor, &[ON, ON]);
    assert_eq!((editor.cursor(), editor.chosen()), (3, 3..5));
    made(&mut editor, &[Edit::Move(Step::Staff(1)), go(1), Edit::Delete]);
    assert_eq!(bars(&editor), "bar 1  C3 2, D3 2\nbar 2  F3 4\nbar 3  F3 2");
    made(&mut editor, &[go(0), Edit::Delete, go(0), MORE, Edit::Delete]);
    assert_eq!(bars(&editor), "bar 1  F3 2");
    assert_eq!(editor.apply(&Edit::Delete), Err(EditFault::LastNote));
    assert_eq!(editor.apply(&Edit::Rest), Err(EditFault::LastNote));
}

#[test]
fn a_bar_that_holds_less_on_purpose_keeps_that_and_an_upbeat_stays_one() {
    let mut editor = editor("bar 0 C3 1\nbar D3 4\nbar free E3 2\nbar F3 4\nbar G3 4");
    made(&mut editor, &[go(1), Edit::Shorter]);
    assert_eq!(
        bars(&editor),
        "bar 0  C3 1\nbar 1  D3 3, E3 1\nbar 2 free  E3 1 tied, F3 1\nbar 3  F3 3 tied, G3 1\nbar 4  G3 3 tied"
    );
}

#[test]
fn the_brush_gives_the_chosen_notes_what_was_copied_but_no_open_string() {
    let mut editor = editor(
        "bar C3 1 width 20 to 60 to 30, D3 1 straight, A2 1 open, E3 1 straight\nbar F3 4 straight",
    );
    assert_eq!(editor.apply(&Edit::Brush), Err(EditFault::NothingCopied));
    made(&mut editor, &[Edit::Copy, ON, MORE, MORE, Edit::Brush]);
    let widths: Vec<f64> =
        editor.passage().notes().iter().map(|note| note.intention.mean_width().0).collect();
    assert_eq!(widths, [42.5, 42.5, 0.0, 42.5, 0.0]);
    made(&mut editor, &[go(2)]);
    assert_eq!(editor.apply(&Edit::Brush), Err(EditFault::NoVibrato));
    made(&mut editor, &[go(4)]);
    assert_eq!(editor.apply(&Edit::PeakBy(0.1)), Err(EditFault::NoWidth));
}

#[test]
fn a_tie_holds_a_note_over_and_parts_it_again() {
    let mut editor = editor("bar C3 2, C3 2\nbar D3 4");
    made(&mut editor, &[Edit::Tie]);
    assert_eq!(bars(&editor), "bar 1  C3 2, C3 2 tied\nbar 2  D3 4");
    made(&mut editor, &[Edit::Width(Along::Start, Cents(30.0)), Edit::Tie]);
    assert_eq!(bars(&editor), "bar 1  C3 2 width 30, C3 2\nbar 2  D3 4 straight");
    made(&mut editor, &[ON]);
    assert_eq!(editor.apply(&Edit::Tie), Err(EditFault::NoTie));
}

#[test]
fn a_meter_in_other_beats_keeps_what_sounds_as_long_as_it_was() {
    let mut editor = editor("bar 0 C3 1\nbar D3 4\nbar E3 4");
    let meter = Meter { beats: 6, of: BeatUnit::Eighth };
    made(&mut editor, &[Edit::Meter(meter)]);
    assert_eq!(bars(&editor), "bar 0  C3 2\nbar 1  D3 6\nbar 2  D3 2 tied, E3 4\nbar 3  E3 4 tied");
    let meter = Meter { beats: 70, of: BeatUnit::Eighth };
    assert!(matches!(editor.apply(&Edit::Meter(meter)), Err(EditFault::Plan(_))));
}

#[test]
fn what_was_taken_back_is_made_again_and_no_more_than_that() {
    let mut editor = editor("bar C3 4");
    made(&mut editor, &[Edit::WidthBy(Cents(-5.0)), Edit::Width(Along::Start, Cents(35.0))]);
    assert_eq!(bars(&editor), "bar 1  C3 4 width 35");
    made(&mut editor, &[Edit::Undo]);
    assert_eq!(bars(&editor), "bar 1  C3 4");
    assert_eq!(editor.apply(&Edit::Undo), Err(EditFault::NothingBack));
    made(&mut editor, &[Edit::Redo]);
    assert_eq!(bars(&editor), "bar 1  C3 4 width 35");
    assert_eq!(editor.apply(&Edit::Redo), Err(EditFault::NothingAgain));
}

/// Edits that look random and are the same each time (a linear congruence of Knuth's, from memory).
struct Draws(u64);

impl Draws {
    fn below(&mut self, most: usize) -> usize {
        self.0 = self.0.wrapping_mul(6364136223846793005).wrapping_add(1442695040888963407);
        (self.0 >> 33) as usize % most
    }

    fn edit(&mut self) -> Edit {
        let extend = self.below(2) == 0;
        let to = [Go::Back, Go::On, Go::First, Go::Last, Go::To(self.below(40))][self.below(5)];
        let along = [Along::Start, Along::Peak, Along::End][self.below(3)];
        let few = self.below(5) as i8 - 2;
        let half = Beats::new(1 + self.below(9) as u32, 1 + self.below(6) as u32);
        let unit = [BeatUnit::Half, BeatUnit::Quarter, BeatUnit::Eighth][self.below(3)];
        let meter = Meter { beats: 1 + self.below(6) as u32, of: unit };
        let all = [
            Edit::Go { to, extend },
            Edit::Go { to, extend },
            Edit::InsertBefore,
            Edit::InsertAfter,
            Edit::InsertAfter,
            Edit::Delete,
            Edit::Rest,
            Edit::Move(Step::Staff(few)),
            Edit::Move(Step::Semitones(few)),
            Edit::Move(Step::Octaves(few)),
            Edit::Longer,
            Edit::Shorter,
            Edit::Length(half.unwrap_or(Beats::ZERO)),
            Edit::Slur,
            Edit::Tie,
            Edit::Finger(Some(self.below(6) as u8)),
            Edit::Width(along, Cents(self.below(450) as f64)),
            Edit::Rate(along, Some(Hz(self.below(14) as f64))),
            Edit::RateBy(Hz(f64::from(few))),
            Edit::WidthBy(Cents(10.0 * f64::from(few))),
            Edit::PeakBy(0.1 * f64::from(few)),
            Edit::Copy,
            Edit::Brush,
            Edit::BarLine,
            Edit::Meter(meter),
            Edit::Undo,
            Edit::Redo,
        ];
        let at = self.below(all.len());
        all[at].clone()
    }
}

#[test]
fn whatever_is_done_leaves_a_passage_that_is_read_back_from_its_text_and_undone_it_is_as_before() {
    let mut draws = Draws(3);
    for passage in 0..60 {
        let mut editor = Editor::new(Passage::from_text(SIXTEEN).expect("read"));
        let mut refused = 0;
        for step in 0..120 {
            let edit = draws.edit();
            let before = editor.clone();
            match editor.apply(&edit) {
                Ok(()) => {}
                Err(_) => {
                    refused += 1;
                    assert_eq!(editor.passage(), before.passage(), "{edit:?}");
                    assert_eq!(editor.chosen(), before.chosen(), "{edit:?}");
                }
            }
            let text = editor.passage().to_text();
            let read = Passage::from_text(&text);
            assert_eq!(read.as_ref(), Ok(editor.passage()), "{passage}, {step}: {edit:?}\n{text}");
            let chosen = editor.chosen();
            assert!(
                chosen.contains(&editor.cursor()) && chosen.end <= editor.passage().notes().len()
            );
            let moved = editor.passage() != before.passage();
            if moved && !matches!(edit, Edit::Undo | Edit::Redo) {
                let mut again = editor.clone();
                again.apply(&Edit::Undo).expect("something was done");
                assert_eq!(again.passage(), before.passage(), "{edit:?}");
                assert_eq!(again.chosen(), before.chosen(), "{edit:?}");
            }
        }
        assert!(refused < 80, "{refused} of 120 refused");
    }
}
