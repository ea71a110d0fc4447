//! Whether all of the room "Lesson" has its place: waiting, model, echoes, phrase, task.

use super::scene::{Scene, vibrated};
use crate::places::{State, check};
use crate::scenes::sound::{lasting, made};
use coach::Showing;
use panels::lesson_room::{LessonAction, Side};
use panels::shell::options::Options;
use panels::stand::Action;

/// What stands after these.
fn after<const N: usize>(mut scene: Scene, actions: [LessonAction; N]) -> Scene {
    for action in actions {
        scene.apply(action);
    }
    scene
}

#[test]
fn all_of_the_lesson_has_its_place_in_every_state_and_size() {
    let mut sounding = Scene::model();
    sounding.hear(&lasting(made(vec![vibrated(0.4, 2.8, 146.0, 5.4, 22.0)]), 2.0));
    let mut hidden = sounding.clone();
    let options = hidden.stand.shell.options().clone();
    hidden.stand.apply(Action::Set(Box::new(Options { showing: Showing::AfterRound, ..options })));
    let echoes = Scene::three_echoes();
    let players = ["Anna", "Ben", "Wilhelmina"].map(str::to_owned).to_vec();
    let states: Vec<State<Scene>> = vec![
        ("waiting", Scene::waiting()),
        ("waiting with a task", Scene::with_a_task_before()),
        (
            "waiting with students",
            after(Scene::with_a_task_before(), [LessonAction::Players(players)]),
        ),
        ("model", Scene::model()),
        ("one echo", Scene::one_echo()),
        ("three echoes", echoes.clone()),
        ("heard", after(echoes.clone(), [LessonAction::Hear(Side::Model)])),
        ("cycles", after(Scene::one_echo(), [LessonAction::Align])),
        ("an echo sounds", sounding),
        ("hidden", hidden),
        ("phrase", Scene::phrase()),
        ("note by note", after(Scene::phrase(), [LessonAction::Align])),
        ("one note of it", after(Scene::phrase(), [LessonAction::Whole])),
        (
            "a word",
            after(
                Scene::one_echo(),
                [LessonAction::Word(
                    "This take has no sound any more: it was kept for 90 days. Its measures stay."
                        .to_owned(),
                )],
            ),
        ),
        ("task", after(echoes.clone(), [LessonAction::Task])),
        ("task by note", {
            let mut scene = after(echoes, [LessonAction::Task]);
            let mut draft = scene.room.draft().expect("it is written").clone();
            draft.task.words = "Keep the hand loose when the third finger comes.".to_owned();
            draft.task.count = Some(4);
            draft.changed = true;
            draft.leaving = true;
            scene.apply(LessonAction::Draft(Box::new(draft)));
            scene
        }),
    ];
    check("Lesson", states);
}
