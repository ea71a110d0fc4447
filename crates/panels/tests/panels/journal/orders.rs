//! What the room orders, and what it makes of what it is told.

use super::scene::{Scene, WINDOW, answer, files, id, open, room, told};
use crate::scenes::window::{click, harness, press, write};
use egui::Key;
use egui_kittest::kittest::{NodeT, Queryable};
use journal::{Filter, Label, TakeFile, Weighed};
use panels::journal_room::{
    Ask, Doing, Found, Half, JournalAction, JournalHeard, JournalOrder, JudgeAs, JudgedBy, Page,
    Pick, Step, Writing,
};
use panels::shell::action::UseAs;
use panels::shell::options::Options;
use panels::shell::report::ReportOf;
use std::path::PathBuf;
use std::sync::Arc;
use vibrato::Quantity;

fn scene() -> Scene {
    Scene::new(room(), Options::default())
}

#[test]
fn a_filter_wants_what_a_plain_count_says() {
    let mut scene = scene();
    let files = files();
    let all = files.len();
    assert_eq!(scene.room.wanted(), all);
    let wants = |player: Option<&str>, finger, drill: Option<&str>| Filter {
        player: player.map(str::to_owned),
        finger,
        drill: drill.map(str::to_owned),
        ..Filter::default()
    };
    let jonas = files.iter().filter(|(_, file)| file.player == "Jonas").count();
    let fifth = files.iter().filter(|(_, f)| f.notes.len() > 3).count();
    let drilled = files.iter().filter(|(_, file)| file.drill.is_some()).count();
    assert!(jonas > 10 && jonas < all && drilled > 10 && drilled < all);
    for (filter, count) in [
        (wants(Some("Jonas"), None, None), jonas),
        (wants(None, Some(4), None), fifth),
        (wants(None, None, Some("four fingers")), drilled),
        (wants(Some("Nobody"), None, None), 0),
    ] {
        scene.apply(JournalAction::Filter(Box::new(filter.clone())));
        assert_eq!(scene.room.wanted(), count, "{filter:?}");
    }
    assert_eq!(scene.room.chosen(), None, "nothing is left to be chosen");
    scene.apply(JournalAction::Filter(Box::default()));
    assert!(scene.room.chosen().is_some());
}

#[test]
fn a_take_that_goes_leaves_the_choice_at_its_neighbour() {
    let mut scene = scene();
    scene.apply(JournalAction::Step(Step::Down));
    let chosen = scene.room.chosen().cloned().expect("a take");
    scene.apply(JournalAction::Open);
    let mut left = files();
    let place = left.iter().position(|(id, _)| *id == chosen).expect("it is there");
    left.remove(place);
    scene.room.hear(told(&left));
    assert_eq!(scene.room.opened(), None, "what is gone is not open");
    assert_eq!(scene.room.chosen(), Some(&left[place - 1].0), "the next below");
}

#[test]
fn nothing_is_changed_while_another_window_writes() {
    let mut scene = scene();
    let words = "another window writes".to_owned();
    scene.room.hear(JournalHeard::Writing(Writing::OnlyReading(words)));
    scene.apply(JournalAction::Open);
    scene.orders.clear();
    let take = scene.room.chosen().cloned().expect("a take");
    for action in [
        JournalAction::Keep,
        JournalAction::Label(Label::Word("warm".to_owned())),
        JournalAction::Ask(Ask::Delete(take.clone())),
        JournalAction::Ask(Ask::DeleteForGood(take)),
        JournalAction::Ask(Ask::Erase("Mira".to_owned())),
        JournalAction::Place("somewhere".to_owned()),
        JournalAction::Weigh,
    ] {
        scene.apply(action.clone());
        assert_eq!(scene.orders, [], "{action:?}");
        assert_eq!(scene.room.asking(), None, "{action:?}");
    }
    // Copies may be made all the same.
    scene.apply(JournalAction::Export);
    assert_eq!(
        scene.orders,
        [JournalOrder::Export { player: None, into: PathBuf::from("somewhere") }]
    );
    let harness = harness(scene, WINDOW);
    for name in ["keep for ever", "to the trash", "delete for good"] {
        let node = harness.get_by_label(name).accesskit_node();
        assert!(node.is_disabled(), "{name}");
    }
}

#[test]
fn a_part_of_a_take_goes_into_the_lesson_by_key_and_by_button() {
    let mut harness = harness(open(Options::default()), WINDOW);
    let opened = harness.state().room.opened().expect("a take").clone();
    let whole = opened.played.part;
    press(&mut harness, Key::N);
    let order = |part, use_as| JournalOrder::ToLesson { id: opened.id.clone(), part, use_as };
    assert_eq!(harness.state().orders.last(), Some(&order(whole, UseAs::Model)));
    // A note was pressed: it is the part that is played, and what is used.
    harness.state_mut().apply(JournalAction::PartOfNote(1));
    harness.run();
    let part = harness.state().room.opened().expect("a take").played.part;
    assert!(part.0 > whole.0 && part.1 < whole.1);
    click(&mut harness, "use as an echo of the model");
    assert_eq!(harness.state().orders.last(), Some(&order(part, UseAs::Echo)));
    // Without a sound there is nothing to lay over another.
    let words = "its sound was thrown away".to_owned();
    harness.state_mut().room.hear(JournalHeard::NoTrace { id: opened.id.clone(), words });
    harness.state_mut().orders.clear();
    harness.run();
    press(&mut harness, Key::N);
    press(&mut harness, Key::B);
    assert_eq!(harness.state().orders, []);
    assert!(harness.get_by_label("use as the model of the lesson").accesskit_node().is_disabled());
}

#[test]
fn a_take_is_judged_as_a_round_or_a_passage_unless_a_room_has_judged_it() {
    let mut harness = harness(open(Options::default()), WINDOW);
    click(&mut harness, "judge as a round of a drill");
    click(&mut harness, "There and back");
    let opened = harness.state().room.opened().expect("a take").clone();
    match harness.state().orders.last() {
        Some(JournalOrder::Judge { id, part, by }) => {
            assert_eq!((id, *part), (&opened.id, opened.played.part));
            assert!(
                matches!(&**by, JudgedBy::Drill { drill, .. } if drill.name == "there-and-back")
            );
        }
        other => panic!("{other:?}"),
    }
    click(&mut harness, "judge as a passage");
    click(&mut harness, "Low tide");
    match harness.state().orders.last() {
        Some(JournalOrder::Judge { by, .. }) => {
            assert!(matches!(&**by, JudgedBy::Passage { name, .. } if name == "low-tide"));
        }
        other => panic!("{other:?}"),
    }
    // What the Drill room has counted in is judged.
    let (id, file) = files().pop().expect("takes");
    let file = Arc::new(TakeFile { room: "Drill".to_owned(), ..file });
    let scene = harness.state_mut();
    scene.room.hear(JournalHeard::Take { id, file });
    scene.orders.clear();
    scene.apply(JournalAction::Judge(JudgeAs::Round("there-and-back".to_owned())));
    assert_eq!(scene.orders, []);
    harness.run();
    assert!(harness.query_by_label("judge as a round of a drill").is_none());
}

#[test]
fn what_was_said_of_one_deed_goes_with_the_next() {
    let mut harness = harness(open(Options::default()), WINDOW);
    let told = "takes are being copied or taken in; delete once that is done";
    harness.state_mut().room.hear(JournalHeard::Trouble(told.to_owned()));
    harness.run();
    let said = "Takes are being copied or taken in; delete once that is done.";
    press(&mut harness, Key::ArrowDown);
    harness.get_by_label_contains(said);
    press(&mut harness, Key::K);
    assert!(harness.query_by_label_contains(said).is_none(), "it was about another deed");
}

#[test]
fn a_player_is_erased_only_by_the_name_and_comes_in_only_after_asking() {
    let mut scene = scene();
    scene.apply(JournalAction::Ask(Ask::Erase("Jonas".to_owned())));
    for wrong in ["", "jonas", "Mira"] {
        scene.apply(JournalAction::Typed(wrong.to_owned()));
        scene.apply(JournalAction::Answer(true));
        assert_eq!(scene.orders, [], "{wrong}");
    }
    scene.apply(JournalAction::Typed("Jonas".to_owned()));
    scene.apply(JournalAction::Answer(true));
    assert_eq!(scene.orders, [JournalOrder::Erase("Jonas".to_owned())]);
    scene.orders.clear();
    scene.apply(JournalAction::Place(" /a/folder ".to_owned()));
    scene.apply(JournalAction::Weigh);
    let from = PathBuf::from("/a/folder");
    assert_eq!(scene.orders, [JournalOrder::Weigh(from.clone())]);
    scene.orders.clear();
    scene.room.hear(JournalHeard::Found(Found {
        from: from.clone(),
        weighed: Weighed { new: 3, known: 1, differing: 2, ..Weighed::default() },
    }));
    assert_eq!(scene.orders, [], "it is asked first");
    let mut harness = harness(scene, WINDOW);
    harness.get_by_label_contains("3 takes are new and come in, 1 take is here already");
    harness.get_by_label_contains("2 takes are here with other words");
    click(&mut harness, "what differs: use theirs");
    click(&mut harness, "do it");
    let replace = true;
    assert_eq!(harness.state().orders.last(), Some(&JournalOrder::Import { from, replace }));
}

#[test]
fn two_takes_are_compared_by_the_means_of_their_notes() {
    let mut scene = scene();
    scene.apply(JournalAction::Compare);
    assert_eq!(scene.room.page(), Page::Takes, "one is not enough");
    scene.apply(JournalAction::Step(Step::Last));
    scene.apply(JournalAction::Compare);
    assert_eq!(scene.room.page(), Page::Compare);
    let files = files();
    answer(&mut scene, &files);
    let (first, second) = (&files[files.len() - 1], &files[0]);
    assert_eq!(scene.room.compared(), [Some(&first.0), Some(&second.0)]);
    let rates = |file: &journal::TakeFile| -> Vec<f64> {
        let rates = file.notes.iter().filter_map(|note| Some(note.get(Quantity::Rate)?.value));
        rates.collect()
    };
    let mean = |rates: Vec<f64>| rates.iter().sum::<f64>() / rates.len() as f64;
    let by_hand = mean(rates(&second.1)) - mean(rates(&first.1));
    let (one, other) = (first.1.mean(Quantity::Rate), second.1.mean(Quantity::Rate));
    let apart = other.expect("it swings").above(one.expect("it swings"));
    assert!((apart.value - by_hand).abs() < 1e-9);
    let harness = harness(scene, WINDOW);
    harness.get_by_label(&Quantity::Rate.difference(Some(apart)));
    for called in ["trace of the first take", "trace of the second take"] {
        assert!(harness.get_by_label(called).rect().height() > 60.0, "{called}");
    }
    let mut scene = self::scene();
    scene.apply(JournalAction::Compare);
    scene.apply(JournalAction::Uncompare(Half::First));
    assert_eq!(scene.room.compared(), [None, None]);
}

#[test]
fn a_new_player_is_ordered_and_the_same_one_is_not() {
    let mut scene = Scene::new(room(), Options { player: "Mira".to_owned(), ..Options::default() });
    scene.apply(JournalAction::Player("Mira".to_owned()));
    assert_eq!(scene.orders, []);
    scene.apply(JournalAction::Player("Ada".to_owned()));
    assert_eq!(scene.orders, [JournalOrder::Player("Ada".to_owned())]);
}

#[test]
fn what_was_ordered_of_a_take_that_is_not_open_any_more_is_let_go() {
    let mut scene = scene();
    scene.apply(JournalAction::Open);
    scene.apply(JournalAction::Step(Step::Down));
    scene.apply(JournalAction::Open);
    let open = scene.room.opened().expect("open").id.clone();
    let late = files().last().expect("takes").clone();
    assert_ne!(late.0, open);
    scene.room.hear(JournalHeard::Take { id: late.0, file: std::sync::Arc::new(late.1) });
    assert!(scene.room.opened().expect("open").file.is_none());
    let unknown = id("2020-01-01/00-00-00");
    scene.room.hear(JournalHeard::NoTrace { id: unknown, words: "gone".to_owned() });
    assert_eq!(scene.room.opened().expect("open").trace, panels::journal_room::TraceOf::Coming);
}

#[test]
fn a_report_is_of_the_chosen_take_or_of_the_weeks_that_are_shown() {
    let mut scene = scene();
    let chosen = scene.room.chosen().cloned().expect("a take");
    scene.apply(JournalAction::Report);
    let of = JournalOrder::Report(ReportOf::Take(chosen.clone()));
    assert_eq!(scene.orders.last(), Some(&of));
    let filter = Filter { player: Some("Jonas".to_owned()), ..Filter::default() };
    scene.apply(JournalAction::Filter(Box::new(filter.clone())));
    scene.apply(JournalAction::Page(Page::Trends));
    scene.apply(JournalAction::Report);
    let Some(JournalOrder::Report(ReportOf::Weeks { filter: of, since })) = scene.orders.last()
    else {
        panic!("{:?}", scene.orders.last());
    };
    assert_eq!(**of, filter);
    // Twelve weeks end with that of the latest take.
    let since = since.expect("not all");
    assert_eq!(journal::monday_of(since), since);
    let told = files();
    let latest = told.iter().filter(|(_, file)| file.player == "Jonas");
    let latest = latest.map(|(id, file)| journal::day_of(&journal::Entry::of_file(id, file)));
    let latest = latest.max().expect("Jonas has played");
    assert_eq!(journal::monday_of(latest) + 7 - 84, since);
    scene.apply(JournalAction::Span(panels::journal_room::Span::All));
    scene.apply(JournalAction::Report);
    assert!(matches!(
        scene.orders.last(),
        Some(JournalOrder::Report(ReportOf::Weeks { since: None, .. }))
    ));
    let nobody = Filter { player: Some("Nobody".to_owned()), ..Filter::default() };
    scene.apply(JournalAction::Filter(Box::new(nobody)));
    let before = scene.orders.len();
    scene.apply(JournalAction::Report);
    assert_eq!(scene.orders.len(), before, "there is nothing to report");
}

#[test]
fn whose_a_take_is_and_what_was_played_can_be_said_afterwards() {
    let mut scene = scene();
    scene.apply(JournalAction::Open);
    answer(&mut scene, &files());
    let take = scene.room.chosen().cloned().expect("a take");
    let mut harness = harness(scene, WINDOW);
    assert!(harness.query_by_label("passage of the take").is_none());
    click(&mut harness, "change player, passage, finger and string");
    for (name, choice, label) in [
        ("player of the take", "Jonas", Label::Player("Jonas".to_owned())),
        ("finger of the take", "finger 4", Label::Finger(Some(4))),
    ] {
        click(&mut harness, name);
        click(&mut harness, choice);
        let order = JournalOrder::Label(take.clone(), label);
        assert_eq!(harness.state().orders.last(), Some(&order));
    }
    for (name, words, label) in [
        ("passage of the take", "bars 9 to 16", Label::Passage("bars 9 to 16".to_owned())),
        ("string of the take", "D", Label::String("D".to_owned())),
    ] {
        harness.get_by_label(name).focus();
        harness.run();
        harness.key_press_modifiers(egui::Modifiers::COMMAND, egui::Key::A);
        write(&mut harness, words);
        press(&mut harness, egui::Key::Enter);
        let order = JournalOrder::Label(take.clone(), label);
        assert_eq!(harness.state().orders.last(), Some(&order));
    }
}

#[test]
fn the_first_press_after_a_place_was_typed_exports() {
    let mut scene = scene();
    scene.apply(JournalAction::Page(Page::Players));
    let mut harness = harness(scene, WINDOW);
    harness.get_by_label("place to export to or import from").focus();
    harness.run();
    write(&mut harness, "mira.zip");
    click(&mut harness, "export takes");
    let into = PathBuf::from("mira.zip");
    let order = JournalOrder::Export { player: None, into };
    assert_eq!(harness.state().orders.last(), Some(&order));
}

#[test]
fn a_place_is_chosen_in_the_system_s_dialog() {
    let mut scene = scene();
    scene.apply(JournalAction::Page(Page::Players));
    let mut harness = harness(scene, WINDOW);
    click(&mut harness, "choose a zip to import");
    assert_eq!(harness.state().orders.last(), Some(&JournalOrder::Pick(Pick::Zip)));
    harness.state_mut().room.hear(JournalHeard::Picked(PathBuf::from("/a/mira.zip")));
    harness.run();
    click(&mut harness, "import takes");
    let weighed = JournalOrder::Weigh(PathBuf::from("/a/mira.zip"));
    assert_eq!(harness.state().orders.last(), Some(&weighed));
}

#[test]
fn recordings_that_come_in_are_seen_on_their_way_stopped_and_opened() {
    let mut scene = scene();
    scene.apply(JournalAction::Page(Page::Players));
    let mut harness = harness(scene, WINDOW);
    click(&mut harness, "choose recordings to bring in");
    assert_eq!(harness.state().orders.last(), Some(&JournalOrder::Pick(Pick::Recordings)));
    let files = vec![PathBuf::from("/phone/a.m4a"), PathBuf::from("/phone/b.m4a")];
    harness.state_mut().apply(JournalAction::Add(files.clone()));
    let added = harness.state().orders.last().cloned();
    assert!(matches!(added, Some(JournalOrder::Add { files: of, .. }) if of == files));
    let words = "1 of 2 recordings taken in".to_owned();
    let doing = Doing { words, share: 0.6, may_stop: true };
    harness.state_mut().room.hear(JournalHeard::Doing(doing));
    harness.run();
    let bar = harness.get_by_label("how far it is");
    assert_eq!(bar.accesskit_node().numeric_value(), Some(60.0));
    click(&mut harness, "stop taking recordings in");
    assert_eq!(harness.state().orders.last(), Some(&JournalOrder::StopAdding));
    // What came in is opened, though the list was filtered for something else.
    let first = harness.state().room.chosen().cloned();
    let filter = Filter { text: "no take has this".to_owned(), ..Filter::default() };
    harness.state_mut().apply(JournalAction::Filter(Box::new(filter)));
    assert_eq!(harness.state().room.wanted(), 0);
    let id = first.expect("one is chosen at the start");
    harness.state_mut().room.hear(JournalHeard::CameIn(id.clone()));
    harness.run();
    assert_eq!(harness.state().room.page(), Page::Takes);
    assert_eq!(harness.state().room.opened().map(|opened| &opened.id), Some(&id));
    // A zip may hold takes of another journal: it is looked at first.
    harness.state_mut().apply(JournalAction::Add(vec![PathBuf::from("/a/mira.ZIP")]));
    let weighed = JournalOrder::Weigh(PathBuf::from("/a/mira.ZIP"));
    assert_eq!(harness.state().orders.last(), Some(&weighed));
}
