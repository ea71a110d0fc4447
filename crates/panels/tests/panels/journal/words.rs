//! What is said, to the eye and to a screen reader.

use super::scene::{self, Scene, WINDOW, files, id, open, room};
use crate::scenes::window::{click, harness, press};
use egui_kittest::kittest::{NodeT, Queryable};
use journal::{Filter, Split, Trends};
use panels::Source;
use panels::journal_room::{JournalAction, JournalHeard, JournalRoom, Page, Span, Writing};
use panels::shell::options::Options;
use panels::stand::{Action, Heard};
use vibrato::Quantity;

#[test]
fn an_empty_journal_says_how_the_first_take_comes_to_be() {
    let mut room = JournalRoom::new();
    room.hear(JournalHeard::Writing(Writing::Allowed));
    room.hear(scene::told(&[]));
    let mut harness = harness(Scene::new(room, Options::default()), WINDOW);
    harness.get_by_label("There is no take yet.");
    harness.get_by_label_contains("a note starts a take, and silence ends it");
    let demo = Source::Demo { name: "four-fingers".to_owned(), missing: None };
    harness.state_mut().stand.apply(Action::Heard(Heard::Source(demo)));
    harness.run();
    harness.get_by_label_contains("A demo session is nobody's take");
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
    let mut harness = harness(scene, egui::vec2(WINDOW.x, 1600.0));
    click(&mut harness, "all measures");
    let rate = file.notes[0].get(Quantity::Rate).expect("it swings");
    let rate = format!("rate {:.2} ±0.05 Hz", rate.value);
    harness.get_by_label_contains(&format!("note 1, E3, finger 1, {rate}"));
    harness.get_by_label_contains("trace of the take, at 0:00 of");
    for name in ["play", "half speed", "loop", "part from here", "part to here"] {
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
    let mira = Filter { player: Some("Mira".to_owned()), ..Filter::default() };
    let trends = Trends::gather(&entries, &mira, Quantity::Width, Split::Finger);
    assert_eq!(trends.parts.len(), 4);
    let last = trends.parts[1].weeks.last().expect("weeks");
    let said = format!(
        "median {:.1}, middle half {:.1} to {:.1} cents in the week of 23 Nov 2026",
        last.median, last.low, last.high
    );
    let notes = files()
        .iter()
        .filter(|(_, file)| file.player == "Mira" && file.drill.is_none())
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

/// What the rows of these takes say to a screen reader, and so to the eye.
fn row_says(files: &[(journal::TakeId, journal::TakeFile)], said: &str) {
    let mut room = JournalRoom::new();
    room.hear(JournalHeard::Writing(Writing::Allowed));
    room.hear(scene::told(files));
    let harness = harness(Scene::new(room, Options::default()), WINDOW);
    assert!(harness.query_all_by_label_contains(said).count() > 0, "no {said}");
}

#[test]
fn a_row_says_what_was_played_and_how_it_went() {
    let id = id("2026-11-24/17-05-00");
    let notes = vec![
        scene::note(0.0, 2.0, 53, Some(1), 5.0, 36.0),
        scene::note(2.2, 2.0, 55, Some(2), 5.2, 40.0),
    ];
    let free = scene::file(&id, "Mira", notes);
    row_says(&[(id.clone(), free.clone())], "F3–G3 · 5.1 Hz · 38 cents");
    let straight = scene::file(&id, "Mira", vec![scene::straight(0.0, 3.0, 50)]);
    row_says(&[(id.clone(), straight)], "D3, without vibrato");
    let drill = Some("four fingers".to_owned());
    let model = Some(journal::WrittenLesson::Model);
    let model = journal::TakeFile { lesson: model, ..free.clone() };
    row_says(&[(id.clone(), model)], "model of a lesson");
    let broken = journal::TakeFile { drill: drill.clone(), ..free.clone() };
    row_says(&[(id.clone(), broken.clone())], ": broken off, F3–G3 · 5.1 Hz");
    for (secure, said) in [(true, ": secure"), (false, ": not yet")] {
        let turn = journal::Turn {
            start_s: 0.0,
            end_s: 2.0,
            finger: 1,
            made: 4,
            asked: Some(4),
            shuffle: None,
            secure: Some(secure),
        };
        let played = journal::TakeFile { turns: vec![turn], ..broken.clone() };
        row_says(&[(id.clone(), played)], said);
    }
}

#[test]
fn trends_follow_the_player_who_plays_without_models_and_drills() {
    let options = Options { player: "Jonas".to_owned(), ..Options::default() };
    let mut files = files();
    let model = files.iter_mut().find(|(_, file)| file.player == "Jonas").expect("takes");
    model.1.lesson = Some(journal::WrittenLesson::Model);
    let notes: usize = files
        .iter()
        .filter(|(_, file)| file.player == "Jonas" && file.drill.is_none() && file.lesson.is_none())
        .map(|(_, file)| file.notes.len())
        .sum();
    let mut room = JournalRoom::new();
    room.hear(scene::told(&files));
    let mut scene = Scene::new(room, options);
    scene.apply(JournalAction::Page(Page::Trends));
    scene.apply(JournalAction::Span(Span::All));
    let harness = harness(scene, WINDOW);
    harness.get_by_label(&format!("{notes} notes"));
    harness.get_by_label_contains("Of Jonas.");
}

#[test]
fn a_first_day_fills_the_page_of_twelve_weeks() {
    let (id, file) = files().remove(0);
    let mut room = JournalRoom::new();
    room.hear(scene::told(&[(id, file)]));
    let mut scene = Scene::new(room, Options::default());
    scene.apply(JournalAction::Page(Page::Minutes));
    let harness = harness(scene, WINDOW);
    assert!(harness.query_all_by_label_contains("From 21 Aug 2026 to 3 Sep 2026").count() > 0);
}

#[test]
fn who_was_named_can_be_chosen_though_there_is_no_take() {
    let players = vec!["Anna".to_owned(), "Ben".to_owned()];
    let options = Options { player: "Ben".to_owned(), players, ..Options::default() };
    let mut scene = Scene::new(room(), options);
    scene.apply(JournalAction::Page(Page::Players));
    let harness = harness(scene, WINDOW);
    assert!(harness.query_all_by_label_contains("Anna (0 takes)").count() > 0);
}

#[test]
fn when_a_player_is_erased_the_takes_to_be_exported_are_those_of_everybody() {
    let mut scene = Scene::new(room(), Options::default());
    scene.apply(JournalAction::Whose(Some("Jonas".to_owned())));
    let left: Vec<_> = files().into_iter().filter(|(_, file)| file.player != "Jonas").collect();
    scene.room.hear(scene::told(&left));
    scene.apply(JournalAction::Page(Page::Players));
    scene.apply(JournalAction::Place("here.zip".to_owned()));
    scene.apply(JournalAction::Export);
    let into = std::path::PathBuf::from("here.zip");
    let order = panels::journal_room::JournalOrder::Export { player: None, into };
    assert_eq!(scene.orders.last(), Some(&order));
    assert!(
        harness(scene, WINDOW).query_by_label("erase takes without a name").is_none(),
        "there are none"
    );
}

#[test]
fn the_studio_sheet_says_of_each_student_a_line_and_leads_to_the_takes() {
    let mut scene = Scene::new(room(), Options::default());
    scene.room.hear(JournalHeard::Studio(vec![journal::Student {
        player: "Jonas".to_owned(),
        last: Some(20_782),
        minutes: 12.4,
        task: None,
        changes: Some(vec![(Quantity::Width, vibrato::Measure { value: 4.0, se: Some(1.0) })]),
    }]));
    scene.apply(JournalAction::Page(Page::Players));
    let mut harness = harness(scene, WINDOW);
    harness.get_by_label_contains(
        "last on 25 Nov 2026 · 12 minutes this week · width 4 ±1 cents more · no task",
    );
    click(&mut harness, "takes of Jonas");
    let room = &harness.state().room;
    assert_eq!(room.page(), Page::Takes);
    assert_eq!(room.filter().player.as_deref(), Some("Jonas"));
}

#[test]
fn an_opened_take_begins_with_the_finger_that_stands_out() {
    let id = id("2026-11-24/17-05-00");
    let widths = [27.0, 28.0, 16.0, 30.0];
    let notes = (0..4).map(|n| {
        scene::note(2.4 * n as f64, 2.1, 52 + n, Some(1 + n as u8), 5.4, widths[n as usize])
    });
    let files = [(id.clone(), scene::file(&id, "Mira", notes.collect()))];
    let mut room = JournalRoom::new();
    room.hear(scene::told(&files));
    let mut scene = Scene::new(room, Options::default());
    scene.apply(JournalAction::Open);
    scene::answer(&mut scene, &files);
    let harness = harness(scene, WINDOW);
    harness.get_by_label("Finger 3 narrower than the rest");
    harness.get_by_label_contains("16 ±1 cents, where the other fingers have 27 to 30");
    harness.get_by_label_contains("finger 3: rate 5.40 ±0.05 Hz, width 16 ±1 cents");
    assert!(harness.query_by_label_contains("note 1, E3").is_none(), "all measures wait");
}

#[test]
fn what_a_column_of_a_take_means_is_told_at_its_head() {
    let mut harness = harness(open(Options::default()), egui::vec2(WINDOW.x, 1600.0));
    click(&mut harness, "all measures");
    for (head, name) in [("rate, Hz", "rate"), ("width, c", "width"), ("centre, c", "centre")] {
        let head = harness.get_by_role_and_label(egui::accesskit::Role::ColumnHeader, head);
        let term = panels::TERMS.iter().find(|term| term.name == name).expect("it is listed");
        assert_eq!(head.accesskit_node().description().as_deref(), Some(term.means), "{name}");
    }
}
