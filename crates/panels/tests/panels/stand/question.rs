//! The ear before the eye, as it is met on the screen.

use super::WINDOW;
use super::heard::{play, play_as, sound, vibrato};
use crate::scenes::window::{click, harness, press};
use coach::{Curtain, Question, Showing};
use egui::Key;
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable;
use panels::shell::action::{Action, Heard};
use panels::shell::options::Options;
use panels::shell::source::Source;
use panels::stand::Stand;
use tuning::Cents;

fn hidden() -> Harness<'static, Stand> {
    let stand = Stand::new(Options { showing: Showing::AfterNote, ..Options::default() });
    harness(stand, WINDOW)
}

#[test]
fn while_a_note_sounds_nothing_is_told_but_that_it_is_heard() {
    let mut harness = hidden();
    sound(harness.state_mut(), 2.0, vibrato());
    harness.run();
    harness.get_by_label("listening until the note is over");
    for told in ["5.6 Hz", "34 cents", "cents flat", "B♭3"] {
        let found = harness.query_all_by_label_contains(told).count();
        assert_eq!(found, 0, "{told} is told");
    }
}

#[test]
fn a_pedal_answers_and_the_reveal_says_what_was_heard_and_measured() {
    let mut harness = hidden();
    play(harness.state_mut(), false);
    harness.run();
    harness.get_by_label("Even or uneven?");
    press(&mut harness, Key::PageDown);
    assert!(harness.state().revealed());
    harness.get_by_label_contains("Heard: uneven. Measured: even (rate spread 6 %");
    harness.get_by_label_contains("Your ear so far: evenness 0 of 1");
    assert_eq!(
        harness.state().shell.options().showing,
        Showing::AfterNote,
        "the pedal answered and did nothing else"
    );
    press(&mut harness, Key::Escape);
    let left = harness.query_all_by_label_contains("Heard: uneven").count();
    assert_eq!(left, 0, "Escape closes it");
}

#[test]
fn a_question_gives_way_to_what_is_wrong_with_the_microphone() {
    let mut harness = hidden();
    play(harness.state_mut(), false);
    let gone =
        Source::Trouble { words: "no microphone is there; plug one in".to_owned(), demo: false };
    harness.state_mut().apply(Action::Heard(Heard::Source(gone)));
    harness.run();
    harness.get_by_label_contains("Nothing is heard");
    assert_eq!(harness.query_all_by_label("Even or uneven?").count(), 0, "one lies over the other");
}

#[test]
fn a_question_about_another_sound_is_asked_no_more() {
    let mut harness = hidden();
    play(harness.state_mut(), false);
    harness.run();
    harness.get_by_label("Even or uneven?");
    harness.state_mut().apply(Action::Heard(Heard::Anew));
    harness.run();
    assert_eq!(harness.query_all_by_label("Even or uneven?").count(), 0);
    assert!(harness.state().revealed(), "there is nothing to hide");
}

#[test]
fn the_session_counts_each_question_apart() {
    let mut harness = hidden();
    play_as(harness.state_mut(), Cents(20.0), Cents(0.0));
    press(&mut harness, Key::PageUp);
    play_as(harness.state_mut(), Cents(40.0), Cents(0.0));
    harness.run();
    harness.get_by_label("Wider or narrower than the last?");
    press(&mut harness, Key::ArrowLeft);
    harness.get_by_label_contains("Heard: wider. Measured: wider (40 after 20 cents).");
    play_as(harness.state_mut(), Cents(40.0), Cents(-15.0));
    harness.run();
    harness.get_by_label("Flat, in tune, or sharp?");
    press(&mut harness, Key::Space);
    harness.get_by_label_contains("Heard: sharp. Measured: flat (centre −15 cents).");
    harness.get_by_label_contains("evenness 1 of 1 · width 1 of 1 · centre 0 of 1");
    sound(harness.state_mut(), 1.0, vibrato());
    harness.run();
    // The tally stays in sight while it listens.
    harness.get_by_label("Your ear so far: evenness 1 of 1 · width 1 of 1 · centre 0 of 1");
}

#[test]
fn too_close_to_call_is_said_and_not_counted() {
    let mut harness = hidden();
    play_as(harness.state_mut(), Cents(30.0), Cents(0.0));
    press(&mut harness, Key::PageUp);
    play_as(harness.state_mut(), Cents(30.1), Cents(0.0));
    harness.run();
    harness.get_by_label("Wider or narrower than the last?");
    press(&mut harness, Key::Num1);
    harness.get_by_label_contains("Heard: wider. Measured: too close to call");
    assert_eq!(harness.state().ears().tally(Question::Width).asked, 0);
}

#[test]
fn enter_shows_without_an_answer() {
    let mut harness = hidden();
    play(harness.state_mut(), false);
    press(&mut harness, Key::Enter);
    assert!(harness.state().revealed());
    assert_eq!(harness.state().answered(), None);
    harness.get_by_label("width of the last note: 34 cents ±0.7");
}

#[test]
fn every_answer_can_be_clicked_and_reached_by_tab() {
    for (answer, questions) in [("even", 0), ("uneven", 0), ("narrower", 1), ("in tune", 2)] {
        for by_mouse in [true, false] {
            let mut harness = hidden();
            for _ in 0..questions {
                play(harness.state_mut(), false);
                press(&mut harness, Key::Num1);
            }
            play(harness.state_mut(), false);
            harness.run();
            if by_mouse {
                harness.get_by_label(answer).click();
            } else {
                super::controls::tab_to(&mut harness, answer);
                harness.key_press(Key::Space);
            }
            harness.run();
            let given = harness.state().answered().expect("an answer was given");
            assert_eq!(given.answer.said(), answer, "by mouse: {by_mouse}");
        }
    }
    let mut harness = hidden();
    play(harness.state_mut(), false);
    harness.run();
    click(&mut harness, "show without an answer");
    assert!(harness.state().revealed());
}

#[test]
fn after_the_round_the_curtain_stays_until_it_is_over() {
    let stand = Stand::new(Options { showing: Showing::AfterRound, ..Options::default() });
    let mut harness = harness(stand, WINDOW);
    play(harness.state_mut(), false);
    harness.run();
    assert_eq!(harness.state().curtain(), Curtain::Drawn);
    harness.get_by_label("listening until the round is over");
}
