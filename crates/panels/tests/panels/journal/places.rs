//! Whether all of the Journal has its place, on each page and with each question it asks.

use super::scene::{self, Scene, answer, files, id, open, room};
use crate::places::{State, check};
use journal::{Filter, Split, Weighed};
use panels::journal_room::{
    Ask, Found, JournalAction, JournalHeard, JournalRoom, Page, Span, Step, Writing,
};
use panels::shell::options::Options;
use tuning::Secs;

fn options() -> Options {
    Options { player: "Mira".to_owned(), ..Options::default() }
}

/// The Journal after these.
fn after(room: JournalRoom, actions: impl IntoIterator<Item = JournalAction>) -> Scene {
    then(Scene::new(room, options()), actions)
}

fn then(mut scene: Scene, actions: impl IntoIterator<Item = JournalAction>) -> Scene {
    for action in actions {
        scene.apply(action);
    }
    answer(&mut scene, &files());
    scene
}

#[test]
fn all_of_the_journal_has_its_place_in_every_state_and_size() {
    let mut empty = JournalRoom::new();
    empty.hear(JournalHeard::Writing(Writing::Allowed));
    empty.hear(scene::told(&[]));
    let mut none = JournalRoom::new();
    none.hear(JournalHeard::NoJournal(
        "the folder of the takes cannot be read: Permission denied; choose another in the settings"
            .to_owned(),
    ));
    let mut second = room();
    second.hear(JournalHeard::Writing(Writing::OnlyReading(
        "another window of evenwave keeps takes in this folder".to_owned(),
    )));
    let JournalHeard::Entries { entries, .. } = scene::told(&files()) else {
        unreachable!("that is what it tells");
    };
    let damaged = (id("2026-11-24/17-05-00"), "line 3, column 1: expected a value".to_owned());
    second.hear(JournalHeard::Entries { entries, unread: vec![damaged] });
    let found = Found {
        from: "Documents/mira.zip".into(),
        weighed: Weighed {
            new: 12,
            known: 180,
            differing: 3,
            differing_tasks: vec!["Mira".to_owned()],
            unread: vec!["“photo.jpg” is no file of a take".to_owned()],
        },
    };
    let mut comes_in = after(room(), [JournalAction::Page(Page::Players)]);
    comes_in.room.hear(JournalHeard::Found(found));
    let filter = Filter {
        player: Some("Mira".to_owned()),
        finger: Some(4),
        text: "slow".to_owned(),
        ..Filter::default()
    };
    let mut played = then(open(options()), [JournalAction::PartOfNote(2)]);
    played.room.hear(JournalHeard::At(Secs(6.1)));
    let latest = id("2026-11-25/17-05-10");
    let down = |count| std::iter::repeat_n(JournalAction::Step(Step::Down), count);
    let two = [JournalAction::Compare].into_iter().chain(down(30)).chain([JournalAction::Compare]);
    let page = |page| after(room(), [JournalAction::Page(page)]);
    let states: Vec<State<Scene>> = vec![
        ("empty", after(empty, [])),
        ("no journal", after(none, [])),
        ("list", after(room(), down(3))),
        ("only to be read", after(second.clone(), [])),
        ("what cannot be read", after(second, [JournalAction::ShowUnread(true)])),
        (
            "filter",
            after(
                room(),
                [JournalAction::ShowFilter(true), JournalAction::Filter(Box::new(filter))],
            ),
        ),
        ("take", played),
        ("take with labels", then(open(options()), [JournalAction::ShowLabels(true)])),
        ("take with measures", then(open(options()), [JournalAction::ShowMeasures(true)])),
        ("trends", page(Page::Trends)),
        (
            "trends by finger",
            then(
                page(Page::Trends),
                [JournalAction::Split(Split::Finger), JournalAction::Span(Span::All)],
            ),
        ),
        ("trends by register", then(page(Page::Trends), [JournalAction::Split(Split::Register)])),
        ("minutes", page(Page::Minutes)),
        (
            "weeks",
            then(
                page(Page::Minutes),
                [JournalAction::ByWeek(true), JournalAction::Span(Span::Year)],
            ),
        ),
        ("nothing to compare", page(Page::Compare)),
        ("compare", after(room(), two)),
        ("players", page(Page::Players)),
        ("comes in", comes_in),
        ("erase", after(room(), [JournalAction::Ask(Ask::Erase("Jonas".to_owned()))])),
        ("delete", after(room(), [JournalAction::Ask(Ask::Delete(latest.clone()))])),
        ("delete for good", after(room(), [JournalAction::Ask(Ask::DeleteForGood(latest))])),
    ];
    check("Journal", states);
}
