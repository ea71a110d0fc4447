//! How the Journal looks: pictures that are compared with those kept in `tests/snapshots`.
//!
//! After a change that is meant, `UPDATE_SNAPSHOTS=1 cargo test -p panels --test journal pictures` makes them anew;
//! look at each before it is kept.

use crate::scenes::{self, Scene, answer, files, harness, id, open, room};
use egui::{Vec2, vec2};
use egui_kittest::{Harness, SnapshotOptions};
use journal::{Aspect, Filter, Split};
use panels::journal_room::{
    Ask, JournalAction, JournalHeard, JournalRoom, Page, Span, Step, Writing,
};
use panels::options::Options;
use panels::stand::Action;
use panels::theme::Paper;
use tuning::Secs;

const SMALL: Vec2 = vec2(1024.0, 640.0);
const LARGE: Vec2 = vec2(2560.0, 1440.0);
/// As for the Stand: another software renderer may round edges otherwise.
const THRESHOLD: f32 = 1.5;
const FAILED: usize = 20;

fn options(paper: Paper, text_scale: f32) -> Options {
    Options {
        paper,
        text_scale,
        player: "Mira".to_owned(),
        ..Options::default()
    }
}

/// Compares all pictures before it tells of the first that differs.
fn compare_all(pictures: Vec<(String, Scene, Vec2)>) {
    let options = SnapshotOptions::new()
        .threshold(THRESHOLD)
        .max_failed_pixels(FAILED);
    let mut differ = Vec::new();
    let mut drawn: Option<Harness<'static, Scene>> = None;
    for (name, scene, size) in pictures {
        // One renderer draws them all: it takes longer to start than to draw.
        let drawn = match &mut drawn {
            Some(drawn) => {
                *drawn.state_mut() = scene;
                drawn
            }
            none => none.insert(harness(scene, size)),
        };
        drawn.set_pixels_per_point(if size == LARGE { 0.5 } else { 1.0 });
        drawn.run_steps(2);
        drawn.set_size(size);
        drawn.run();
        // What scrolled in the last picture is back at its start.
        drawn.ctx.memory_mut(|memory| memory.data.clear());
        drawn.run_steps(3);
        // What is seen beside the list was ordered to be read.
        answer(drawn.state_mut(), &files());
        drawn.run_steps(2);
        differ.extend(drawn.try_snapshot_options(&name, &options).err());
    }
    let words: Vec<String> = differ.iter().map(ToString::to_string).collect();
    assert!(words.is_empty(), "{}", words.join("\n"));
}

/// A scene on both papers, at both sizes of the window, at type of 100 and 200 %.
fn everywhere(name: &str, scene: impl Fn(Options) -> Scene) {
    let mut pictures = Vec::new();
    for (paper, called) in [(Paper::Light, "light"), (Paper::Dark, "dark")] {
        for (size, wide) in [(SMALL, 1024), (LARGE, 2560)] {
            for text_scale in [1.0, 2.0] {
                let percent = 100.0 * text_scale;
                let name = format!("journal-{name}-{called}-{wide}-{percent:.0}");
                pictures.push((name, scene(options(paper, text_scale)), size));
            }
        }
    }
    compare_all(pictures);
}

#[test]
fn the_list_looks_as_it_did() {
    everywhere("list", |options| {
        let mut scene = Scene::new(room(), options);
        for _ in 0..3 {
            scene.apply(JournalAction::Step(Step::Down));
        }
        scene
    });
}

#[test]
fn the_filter_looks_as_it_did() {
    everywhere("filter", |options| {
        let mut scene = Scene::new(room(), options);
        scene.apply(JournalAction::ShowFilter(true));
        scene.apply(JournalAction::Filter(Box::new(Filter {
            player: Some("Mira".to_owned()),
            finger: Some(4),
            text: "slow".to_owned(),
            ..Filter::default()
        })));
        scene
    });
}

#[test]
fn a_take_looks_as_it_did() {
    everywhere("take", |options| {
        let mut scene = open(options);
        scene.apply(JournalAction::PartOfNote(2));
        scene.room.hear(JournalHeard::At(Secs(6.1)));
        scene
    });
}

#[test]
fn trends_look_as_they_did() {
    everywhere("trends", |options| {
        let mut scene = Scene::new(room(), options);
        scene.apply(JournalAction::Page(Page::Trends));
        scene
    });
}

#[test]
fn two_takes_look_as_they_did() {
    everywhere("compare", |options| {
        let mut scene = Scene::new(room(), options);
        scene.apply(JournalAction::Compare);
        for _ in 0..30 {
            scene.apply(JournalAction::Step(Step::Down));
        }
        scene.apply(JournalAction::Compare);
        answer(&mut scene, &files());
        scene
    });
}

#[test]
fn the_other_pages_look_as_they_did() {
    let on = |page, paper, text_scale| {
        let mut scene = Scene::new(room(), options(paper, text_scale));
        scene.apply(JournalAction::Page(page));
        scene
    };
    let mut fingers = on(Page::Trends, Paper::Light, 1.0);
    fingers.apply(JournalAction::Split(Split::Finger));
    fingers.apply(JournalAction::Aspect(Aspect::Width));
    let mut registers = on(Page::Trends, Paper::Dark, 1.0);
    registers.apply(JournalAction::Split(Split::Register));
    registers.apply(JournalAction::Span(Span::All));
    let mut weeks = on(Page::Minutes, Paper::Dark, 1.0);
    weeks.apply(JournalAction::Span(Span::Year));
    weeks.apply(JournalAction::ByWeek(true));
    compare_all(vec![
        ("journal-fingers-light".to_owned(), fingers, SMALL),
        ("journal-registers-dark".to_owned(), registers, SMALL),
        (
            "journal-minutes-light".to_owned(),
            on(Page::Minutes, Paper::Light, 1.0),
            SMALL,
        ),
        ("journal-weeks-dark".to_owned(), weeks, SMALL),
        (
            "journal-minutes-light-200".to_owned(),
            on(Page::Minutes, Paper::Light, 2.0),
            SMALL,
        ),
        (
            "journal-players-light".to_owned(),
            on(Page::Players, Paper::Light, 1.0),
            SMALL,
        ),
        (
            "journal-players-dark-200".to_owned(),
            on(Page::Players, Paper::Dark, 2.0),
            SMALL,
        ),
    ]);
}

#[test]
fn what_is_out_of_the_ordinary_looks_as_it_did() {
    let mut empty = JournalRoom::new();
    empty.hear(JournalHeard::Writing(Writing::Allowed));
    empty.hear(scenes::told(&[]));
    let mut second = room();
    second.hear(JournalHeard::Writing(Writing::OnlyReading(
        "another window of evenwave keeps takes in this folder".to_owned(),
    )));
    let JournalHeard::Entries { entries, .. } = scenes::told(&files()) else {
        unreachable!("that is what it tells");
    };
    second.hear(JournalHeard::Entries {
        entries,
        unread: vec![(
            id("2026-11-24/17-05-00"),
            "line 3, column 1: expected a value; it is left as it is".to_owned(),
        )],
    });
    let mut erase = Scene::new(room(), options(Paper::Light, 1.0));
    erase.apply(JournalAction::Ask(Ask::Erase("Jonas".to_owned())));
    let mut long = Scene::new(room(), options(Paper::Light, 1.0));
    let take = id("2026-11-25/18-30-00");
    let notes = (0..40)
        .map(|n| match n % 5 {
            4 => scenes::straight(0.5 + 2.5 * f64::from(n), 2.0, 57 + n % 7),
            _ => scenes::note(0.5 + 2.5 * f64::from(n), 2.2, 50 + n % 12, None, 5.4, 30.0),
        })
        .collect();
    let mut file = scenes::file(&take, "Mira", notes);
    file.lost.push(journal::Lost {
        at_s: 35.2,
        length_s: 1.4,
    });
    let all = vec![(take, file)];
    long.room.hear(scenes::told(&all));
    long.apply(JournalAction::Open);
    answer(&mut long, &all);
    long.room.hear(JournalHeard::At(Secs(41.3)));
    let mut dark = erase_scene(Paper::Dark);
    dark.stand
        .apply(Action::Set(Box::new(options(Paper::Dark, 2.0))));
    compare_all(vec![
        (
            "journal-empty-light".to_owned(),
            Scene::new(empty, options(Paper::Light, 1.0)),
            SMALL,
        ),
        (
            "journal-second-window-dark".to_owned(),
            Scene::new(second, options(Paper::Dark, 1.0)),
            SMALL,
        ),
        ("journal-erase-light".to_owned(), erase, SMALL),
        ("journal-erase-dark-200".to_owned(), dark, SMALL),
        ("journal-long-light".to_owned(), long, SMALL),
    ]);
}

fn erase_scene(paper: Paper) -> Scene {
    let mut scene = Scene::new(room(), options(paper, 1.0));
    scene.apply(JournalAction::Ask(Ask::Erase("Jonas".to_owned())));
    scene
}
