//! How the room looks.

use super::scene::{Scene, vibrated};
use crate::scenes::pictures::{EACH, FEW, LARGE, compare, compare_in};
use crate::scenes::sound::{lasting, made};
use coach::Showing;
use panels::lesson_room::LessonAction;
use panels::shell::options::Options;
use panels::stand::Action;
use panels::theme::Paper;

#[test]
fn waiting_for_the_model_looks_as_it_did() {
    compare_in(&FEW, "lesson-waiting", Scene::with_a_task_before());
}

#[test]
fn a_model_that_is_kept_looks_as_it_did() {
    compare_in(&FEW[..1], "lesson-model", Scene::model());
}

#[test]
fn one_echo_looks_as_it_did() {
    compare_in(&FEW[..1], "lesson-echo", Scene::one_echo());
}

#[test]
fn three_echoes_look_as_they_did() {
    compare_in(&EACH, "lesson-echoes", Scene::three_echoes());
}

#[test]
fn the_task_looks_as_it_did() {
    let mut scene = Scene::three_echoes();
    scene.apply(LessonAction::Task);
    compare_in(&FEW, "lesson-task", scene);
}

#[test]
fn a_phrase_as_a_whole_looks_as_it_did() {
    compare_in(&[EACH[0], (Paper::Dark, LARGE, 2.0)], "lesson-phrase", Scene::phrase());
}

#[test]
fn a_phrase_note_by_note_looks_as_it_did() {
    let mut scene = Scene::phrase();
    scene.apply(LessonAction::Align);
    compare([("lesson-phrase-notes-light", scene)]);
}

#[test]
fn other_ways_of_looking_look_as_they_did() {
    let mut cycles = Scene::one_echo();
    cycles.apply(LessonAction::Align);
    let mut sounding = Scene::model();
    let echo = vibrated(0.4, 2.8, 146.0, 5.4, 22.0);
    sounding.hear(&lasting(made(vec![echo]), 2.0));
    let mut hidden = sounding.clone();
    hidden.stand.apply(Action::Set(Box::new(Options {
        showing: Showing::AfterRound,
        ..hidden.stand.shell.options().clone()
    })));
    compare([
        ("lesson-cycles-light", cycles),
        ("lesson-sounding-light", sounding),
        ("lesson-hidden-light", hidden),
    ]);
}
