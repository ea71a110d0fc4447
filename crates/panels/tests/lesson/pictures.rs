//! Pictures of the room: fixed sound, compared with those that are kept. `UPDATE_SNAPSHOTS=1` draws them
//! anew; look at each before it is kept.

use crate::scene::{Scene, options, samples, vibrated};
use coach::Showing;
use egui::{Vec2, vec2};
use egui_kittest::{Harness, SnapshotOptions};
use panels::lesson_room::LessonAction;
use panels::options::Options;
use panels::stand::Action;
use panels::theme::Paper;

const SMALL: Vec2 = vec2(1024.0, 640.0);
const LARGE: Vec2 = vec2(2560.0, 1440.0);
/// As in the pictures of the Stand.
const THRESHOLD: f32 = 1.5;
const FAILED: usize = 20;

fn compare_all(pictures: impl IntoIterator<Item = (String, Scene, Vec2)>) {
    let mut harness: Option<Harness<Scene>> = None;
    let mut differ = Vec::new();
    for (name, scene, size) in pictures {
        let harness = harness.get_or_insert_with(|| scene.clone().harness(size));
        *harness.state_mut() = scene;
        harness.set_pixels_per_point(if size == LARGE { 0.5 } else { 1.0 });
        harness.run_steps(2);
        harness.set_size(size);
        harness.run();
        let options = SnapshotOptions::new()
            .threshold(THRESHOLD)
            .max_failed_pixels(FAILED);
        let compared = harness.try_snapshot_options(&name, &options);
        differ.extend(compared.err().map(|error| error.to_string()));
    }
    assert!(differ.is_empty(), "{}", differ.join("\n"));
}

fn set(scene: &Scene, options: Options) -> Scene {
    let mut scene = scene.clone();
    scene.stand.apply(Action::Set(Box::new(options)));
    scene
}

/// On both papers, at both sizes of the window, at type of 100 and 200 %.
fn everywhere(name: &str, scene: &Scene) {
    let mut pictures = Vec::new();
    for (paper, called) in [(Paper::Light, "light"), (Paper::Dark, "dark")] {
        for (size, wide) in [(SMALL, 1024), (LARGE, 2560)] {
            for text_scale in [1.0, 2.0] {
                let percent = 100.0 * text_scale;
                let name = format!("lesson-{name}-{called}-{wide}-{percent:.0}");
                pictures.push((name, set(scene, options(paper, text_scale)), size));
            }
        }
    }
    compare_all(pictures);
}

#[test]
fn waiting_for_the_model_looks_as_it_did() {
    everywhere("waiting", &Scene::with_a_task_before());
}

#[test]
fn a_model_that_is_kept_looks_as_it_did() {
    everywhere("model", &Scene::model());
}

#[test]
fn one_echo_looks_as_it_did() {
    everywhere("echo", &Scene::one_echo());
}

#[test]
fn three_echoes_look_as_they_did() {
    everywhere("echoes", &Scene::three_echoes());
}

#[test]
fn the_task_looks_as_it_did() {
    let mut scene = Scene::three_echoes();
    scene.apply(LessonAction::Task);
    everywhere("task", &scene);
}

#[test]
fn other_ways_of_looking_look_as_they_did() {
    let mut cycles = Scene::one_echo();
    cycles.apply(LessonAction::Align);
    let phrase = Scene::phrase();
    let mut sounding = Scene::model();
    let echo = samples(vec![vibrated(0.4, 2.8, 146.0, 5.4, 22.0)], 2.0);
    sounding.hear(&echo);
    let hidden = Options {
        showing: Showing::AfterRound,
        ..options(Paper::Light, 1.0)
    };
    compare_all([
        ("lesson-cycles-light".to_owned(), cycles, SMALL),
        ("lesson-phrase-light".to_owned(), phrase, SMALL),
        ("lesson-sounding-light".to_owned(), sounding.clone(), SMALL),
        (
            "lesson-hidden-light".to_owned(),
            set(&sounding, hidden),
            SMALL,
        ),
    ]);
}
