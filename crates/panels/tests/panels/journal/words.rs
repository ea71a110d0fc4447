//! What is said, to the eye and to a screen reader.

use super::scene::{self, Scene, WINDOW, files, id, open, room};
use crate::scenes::window::{click, harness, press};
use egui_kittest::kittest::Queryable;
use journal::{Split, Trends};
use panels::journal_room::{JournalAction, JournalHeard, JournalRoom, Page, Span, Writing};
use panels::shell::options::Options;
use panels::stand::Action;
use vibrato::Quantity;

#[test]
fn an_empty_journal_says_how_the_first_take_comes_to_be() {
    let mut room = JournalRoom::new();
    room.hear(JournalHeard::Writing(Writing::Allowed));
    room.hear(scene::told(&[]));
    let mut harness = harness(Scene::new(room, Options::default()), WINDOW);
    harness.get_by_label("There is no take yet.");
    harness.get_by_label_contains("a note starts a take, and silence ends it");
    let mut off = Options::default();
    off.take.kept = false;
    harness.state_mut().stand.apply(Action::Set(Box::new(off)));
    harness.run();
    harness.get_by_label_contains("Takes are turned off");
}

#[test]
fn what_cannot_be_read_is_listed_in_words() {
    let mut room = room();
    let JournalHeard::Entries { entries, .. } = scene::told(&files()) else {
        panic!("that is what it tells");
    };
    room.hear(JournalHeard::Entries {
        entries,
        unread: vec![(
            id("2026-11-24/17-05-00"),
            "version 9 is of a later evenwave; it is left as it is".to_owned(),
        )],
    });
    let mut harness = harness(Scene::new(room, Options::default()), WINDOW);
    harness.get_by_label("1 take cannot be read.");
    click(&mut harness, "which takes cannot be read");
    harness.get_by_label_contains("2026-11-24/17-05-00: version 9 is of a later evenwave");
    click(&mut harness, "close");
    assert!(harness.query_by_label_contains("version 9").is_none());
}

#[test]
fn a_second_window_says_why_nothing_can_be_changed() {
    let mut room = room();
    room.hear(JournalHeard::Writing(Writing::OnlyReading(
        "another window of evenwave keeps takes in this folder".to_owned(),
    )));
    let harness = harness(Scene::new(room, Options::default()), WINDOW);
    harness.get_by_label_contains("Takes can be read here, and not changed: another window");
}

#[test]
fn each_note_of_a_take_is_told_with_the_doubt_of_its_measures() {
    let scene = open(Options::default());
    let (_, file) = files().last().expect("takes").clone();
    let harness = harness(scene, WINDOW);
    let rate = file.notes[0].get(Quantity::Rate).expect("it swings");
    let rate = format!("rate {:.2} ±0.05 Hz", rate.value);
    harness.get_by_label_contains(&format!("note 1, E3, finger 1, {rate}"));
    harness.get_by_label_contains("trace of the take, at 0:00 of");
    for name in ["play", "half speed", "again and again", "part from here", "part to here"] {
        harness.get_by_label(name);
    }
}

#[test]
fn a_trend_tells_its_first_and_its_newest_week() {
    let mut scene = Scene::new(room(), Options::default());
    scene.apply(JournalAction::Page(Page::Trends));
    scene.apply(JournalAction::Follow(Quantity::Width));
    scene.apply(JournalAction::Split(Split::Finger));
    scene.apply(JournalAction::Span(Span::All));
    let JournalHeard::Entries { entries, .. } = scene::told(&files()) else {
        panic!("that is what it tells");
    };
    let trends = Trends::gather(&entries, scene.room.filter(), Quantity::Width, Split::Finger);
    assert_eq!(trends.parts.len(), 4);
    let last = trends.parts[1].weeks.last().expect("weeks");
    let said = format!(
        "median {:.1}, middle half {:.1} to {:.1} cents in the week of 23 Nov 2026",
        last.median, last.low, last.high
    );
    let notes = files()
        .iter()
        .flat_map(|(_, file)| file.notes.clone())
        .filter(|note| note.finger == Some(2))
        .count();
    assert_eq!(trends.parts[1].notes, notes);
    let harness = harness(scene, egui::vec2(1180.0, 1400.0));
    harness.get_by_label_contains(&said);
    harness.get_by_label(&format!("finger 2: {notes} notes"));
}

#[test]
fn minutes_are_those_of_the_takes() {
    let mut scene = Scene::new(room(), Options::default());
    scene.apply(JournalAction::Page(Page::Minutes));
    scene.apply(JournalAction::Span(Span::All));
    let minutes: f64 = files().iter().map(|(_, file)| file.length_s / 60.0).sum();
    let harness = harness(scene, WINDOW);
    let said = format!("{minutes:.0} minutes in {} takes", files().len());
    assert!(harness.query_all_by_label_contains(&said).count() >= 1, "{said}");
    harness.get_by_label_contains("rest often");
}

#[test]
fn a_take_that_waits_for_another_to_be_compared_says_so() {
    let scene = open(Options::default());
    let mut harness = harness(scene, WINDOW);
    assert!(harness.query_by_label_contains("To be compared").is_none());
    for (moves, said) in
        [(0, "Choose the other in the list."), (1, "Compare sets this one beside it.")]
    {
        for _ in 0..moves {
            press(&mut harness, egui::Key::ArrowDown);
        }
        if moves == 0 {
            click(&mut harness, "compare");
        }
        harness.get_by_label_contains(said);
    }
    click(&mut harness, "compare");
    assert!(harness.query_by_label_contains("To be compared").is_none());
}
