//! How the Journal looks.

use super::scene::{self, Scene, answer, files, id, open, room};
use crate::scenes::pictures::{EACH, FEW, compare, compare_in};
use journal::{Filter, Split, Weighed};
use panels::journal_room::{
    Ask, Found, JournalAction, JournalHeard, JournalRoom, Page, Span, Step, Writing,
};
use panels::shell::options::Options;
use panels::theme::Paper;
use tuning::Secs;

fn options(paper: Paper, text_scale: f32) -> Options {
    Options { paper, text_scale, player: "Mira".to_owned(), ..Options::default() }
}

fn usual() -> Options {
    options(Paper::Light, 1.0)
}

fn scene() -> Scene {
    Scene::new(room(), usual())
}

#[test]
fn the_list_looks_as_it_did() {
    let mut scene = scene();
    for _ in 0..3 {
        scene.apply(JournalAction::Step(Step::Down));
    }
    compare_in(&FEW, "journal-list", scene);
}

#[test]
fn the_filter_looks_as_it_did() {
    let mut scene = scene();
    scene.apply(JournalAction::ShowFilter(true));
    scene.apply(JournalAction::Filter(Box::new(Filter {
        player: Some("Mira".to_owned()),
        finger: Some(4),
        text: "slow".to_owned(),
        ..Filter::default()
    })));
    compare_in(&[FEW[0], FEW[2]], "journal-filter", scene);
}

#[test]
fn a_take_looks_as_it_did() {
    let mut scene = open(usual());
    scene.apply(JournalAction::PartOfNote(2));
    scene.apply(JournalAction::ShowLabels(true));
    scene.room.hear(JournalHeard::At(Secs(6.1)));
    compare_in(&EACH, "journal-take", scene);
}

#[test]
fn trends_look_as_they_did() {
    let mut scene = scene();
    scene.apply(JournalAction::Page(Page::Trends));
    compare_in(&FEW, "journal-trends", scene);
}

#[test]
fn two_takes_look_as_they_did() {
    let mut scene = scene();
    scene.apply(JournalAction::Compare);
    for _ in 0..30 {
        scene.apply(JournalAction::Step(Step::Down));
    }
    scene.apply(JournalAction::Compare);
    answer(&mut scene, &files());
    compare_in(&FEW, "journal-compare", scene);
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
    fingers.apply(JournalAction::Follow(vibrato::Quantity::Width));
    let mut registers = on(Page::Trends, Paper::Dark, 1.0);
    registers.apply(JournalAction::Split(Split::Register));
    registers.apply(JournalAction::Span(Span::All));
    let mut weeks = on(Page::Minutes, Paper::Dark, 1.0);
    weeks.apply(JournalAction::Span(Span::Year));
    weeks.apply(JournalAction::ByWeek(true));
    compare([
        ("journal-fingers-light", fingers),
        ("journal-registers-dark", registers),
        ("journal-minutes-light", on(Page::Minutes, Paper::Light, 1.0)),
        ("journal-weeks-dark", weeks),
        ("journal-minutes-light-200", on(Page::Minutes, Paper::Light, 2.0)),
        ("journal-players-light", on(Page::Players, Paper::Light, 1.0)),
        ("journal-players-dark-200", on(Page::Players, Paper::Dark, 2.0)),
    ]);
}

#[test]
fn what_is_out_of_the_ordinary_looks_as_it_did() {
    let mut empty = JournalRoom::new();
    empty.hear(JournalHeard::Writing(Writing::Allowed));
    empty.hear(scene::told(&[]));
    let mut second = room();
    second.hear(JournalHeard::Writing(Writing::OnlyReading(
        "another window of evenwave keeps takes in this folder".to_owned(),
    )));
    let JournalHeard::Entries { entries, .. } = scene::told(&files()) else {
        unreachable!("that is what it tells");
    };
    second.hear(JournalHeard::Entries {
        entries,
        unread: vec![(
            id("2026-11-24/17-05-00"),
            "line 3, column 1: expected a value; it is left as it is".to_owned(),
        )],
    });
    let erase = |paper, text_scale| {
        let mut scene = Scene::new(room(), options(paper, text_scale));
        scene.apply(JournalAction::Ask(Ask::Erase("Jonas".to_owned())));
        scene
    };
    let mut comes_in = Scene::new(room(), options(Paper::Light, 1.0));
    comes_in.apply(JournalAction::Page(Page::Players));
    comes_in.room.hear(JournalHeard::Found(Found {
        from: "Documents/mira.zip".into(),
        weighed: Weighed {
            new: 12,
            known: 180,
            differing: 3,
            differing_tasks: vec!["Mira".to_owned()],
            unread: vec![
                "2026-11-24/17-05-00: line 3, column 1: expected a value".to_owned(),
                "\"photo.jpg\" is no file of a take".to_owned(),
            ],
        },
    }));
    let mut long = scene();
    let take = id("2026-11-25/18-30-00");
    let notes = (0..40)
        .map(|n| match n % 5 {
            4 => scene::straight(0.5 + 2.5 * f64::from(n), 2.0, 57 + n % 7),
            _ => scene::note(0.5 + 2.5 * f64::from(n), 2.2, 50 + n % 12, None, 5.4, 30.0),
        })
        .collect();
    let mut file = scene::file(&take, "Mira", notes);
    file.lost.push(journal::Lost { at_s: 35.2, length_s: 1.4 });
    let all = vec![(take, file)];
    long.room.hear(scene::told(&all));
    long.apply(JournalAction::Open);
    answer(&mut long, &all);
    long.room.hear(JournalHeard::At(Secs(41.3)));
    compare([
        ("journal-empty-light", Scene::new(empty, usual())),
        ("journal-second-window-dark", Scene::new(second, options(Paper::Dark, 1.0))),
        ("journal-erase-light", erase(Paper::Light, 1.0)),
        ("journal-erase-dark-200", erase(Paper::Dark, 2.0)),
        ("journal-take-in-light", comes_in),
        ("journal-long-light", long),
    ]);
}
