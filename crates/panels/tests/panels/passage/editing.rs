//! A plan is edited: by keys alone, by mouse, and as a screen reader tells it.

use super::scene::Scene;
use crate::scenes::sound::root;
use crate::scenes::window::{click, harness, press, write};
use coach::plan::{Intention, Passage};
use egui::{Key, Modifiers, Pos2, Rect, vec2};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT, Queryable, by};
use panels::passage_room::{Pass, PassageAction, PassageHeard, Phase};
use tuning::Cents;

type Window = Harness<'static, Scene>;

fn window(scene: Scene) -> Window {
    harness(scene, vec2(1280.0, 800.0))
}

/// Presses these keys, one after another.
fn keys(window: &mut Window, keys: &str) {
    for name in keys.split_whitespace() {
        let key = Key::from_name(name).unwrap_or_else(|| panic!("no key is called {name}"));
        press(window, key);
    }
}

fn plan(window: &Window) -> &Passage {
    &window.state().room.opened().expect("it is open").passage
}

/// What the one sentence says.
fn said(window: &Window) -> String {
    let mut all = window.query_all(by().role(egui::accesskit::Role::Status));
    all.next().and_then(|node| node.accesskit_node().label()).unwrap_or_default()
}

fn widths(window: &Window) -> Vec<f64> {
    plan(window).notes().iter().map(|note| note.intention.mean_width().0).collect()
}

#[test]
fn sixteen_notes_are_planned_from_nothing_by_keys_alone() {
    let file = root().join("crates/coach/src/plan/edit/sixteen.passage.txt");
    let text = std::fs::read_to_string(file).expect("a passage of the repository");
    let typed = Passage::from_text(&text).expect("well written");
    let mut window = window(Scene::choosing());
    keys(&mut window, "N H");
    window.key_press_modifiers(Modifiers::COMMAND, Key::A);
    write(&mut window, "Sixteen");
    // Past seven instruments.
    keys(&mut window, "Tab Tab Tab Tab Tab Tab Tab Tab");
    window.key_press_modifiers(Modifiers::COMMAND, Key::A);
    write(&mut window, "3");
    keys(&mut window, "Tab Tab Tab Tab");
    window.key_press_modifiers(Modifiers::COMMAND, Key::A);
    write(&mut window, "72");
    // Three lengths that it may count, and no metronome.
    keys(&mut window, "Tab Tab Tab Tab Tab");
    window.key_press_modifiers(Modifiers::COMMAND, Key::A);
    write(&mut window, "1");
    keys(&mut window, "Enter Escape");
    window.get_by_label("cello · 3/4 · quarter = 72 · G major · bass clef");
    keys(&mut window, "G N Up Up Up = 4 Q W 2 0 P 6 0 D 3 0 [ .");
    keys(&mut window, "N Down - - - - 3 U");
    keys(&mut window, "N Down = = = 1 U S");
    keys(&mut window, "N Down = = 0 N - - R");
    keys(&mut window, "N G G G Down Down 2 W 3 0 N Up 4 U N Up 0");
    keys(&mut window, "N Up 1 W 1 0 P 4 0 D 4 0 ] ] ] ] ] N Up 3 N Up 4");
    keys(&mut window, "N Up = = = = 1 Y G G G G W 0 P 5 0 D 5 0");
    keys(&mut window, "N Down - - - - 4 U G G G G G G G G G G S");
    keys(&mut window, "N Down 3 W 2 0 N Up 4 = = W 3 0 D 1 0 [ [ [ [ [");
    keys(&mut window, "N Down Down Down - - 0");
    assert_eq!(plan(&window).to_text(), typed.to_text());
    assert_eq!(*plan(&window), typed);
    keys(&mut window, "Enter");
    let room = &window.state().room;
    assert_eq!((room.phase(), room.pass()), (Phase::Ready, Pass::Straight));
    let listed = room.passages().last().expect("it is listed");
    assert_eq!((listed.passage.as_ref(), listed.own), (Ok(&typed), true));
    let edited = room.edited().expect("it is to be kept");
    assert_eq!((edited.name, edited.passage), (None, &typed));
}

#[test]
fn each_note_its_vibrato_and_each_change_is_told() {
    let mut window = window(Scene::begun());
    window.get_by_label("passage My passage, note 1 of 1, bar 1");
    assert_eq!(said(&window), "D3, 1 beat: straight");
    keys(&mut window, "N Up");
    assert_eq!(said(&window), "E3, 1 beat: straight");
    keys(&mut window, "W");
    assert_eq!(said(&window), "Type a width in cents. E3, 1 beat: straight");
    keys(&mut window, "3 0");
    assert_eq!(said(&window), "E3, 1 beat: 30 cents");
    keys(&mut window, "P 6 0 [ . 2 U");
    assert_eq!(
        said(&window),
        "Slurred. E3, 1 beat, slurred, finger 2: 30 to 60 to 30 cents, 5 Hz, peak at 40 %"
    );
    keys(&mut window, "Right");
    assert!(said(&window).starts_with("This is the last note. E3"), "{}", said(&window));
    keys(&mut window, "X Left");
    assert_eq!(said(&window), "2 notes chosen. D3, 1 beat: straight");
    keys(&mut window, "Delete");
    let none_left = "A passage keeps at least one note; change this one instead.";
    assert!(said(&window).starts_with(none_left), "{}", said(&window));
    keys(&mut window, "Z");
    assert!(said(&window).starts_with("Taken back. E3, 1 beat, finger 2"), "{}", said(&window));
    window.get_by_label("staff and ribbons of My passage: its plan, at E3 in bar 1");
}

#[test]
fn a_number_is_one_change_and_its_last_digit_can_be_taken_back() {
    let mut window = window(Scene::begun());
    keys(&mut window, "W 3 5");
    assert_eq!(widths(&window), [35.0]);
    keys(&mut window, "Backspace");
    assert_eq!(widths(&window), [3.0]);
    keys(&mut window, "Backspace 4 5 0");
    assert_eq!(widths(&window), [45.0], "400 cents are the most");
    assert!(said(&window).contains("400"), "{}", said(&window));
    keys(&mut window, "Enter");
    assert_eq!(window.state().room.phase(), Phase::Editing, "it ends the number");
    keys(&mut window, "Z");
    assert_eq!(plan(&window).notes()[0].intention, Intention::Straight);
    keys(&mut window, "V W 2 0 Backspace Backspace");
    assert_eq!(widths(&window), [45.0], "nothing typed changes nothing");
}

#[test]
fn one_that_comes_along_becomes_a_copy_of_ones_own_and_one_without_a_change_leaves_nothing() {
    let mut window = window(Scene::open());
    let before = window.state().room.passages().to_vec();
    keys(&mut window, "W Right Left Enter");
    assert_eq!(window.state().room.passages(), before);
    assert!(window.state().room.edited().is_none());
    keys(&mut window, "W S W 3 3 Enter Enter");
    let room = &mut window.state_mut().room;
    assert_eq!(room.passages()[..4], before);
    assert_eq!(room.passages()[4].passage.as_ref().expect("whole").title, "Low tide, my own");
    let edited = room.edited().expect("to be kept");
    let id = edited.id;
    assert_eq!(edited.name, None);
    room.told(PassageHeard::Kept(id, "low-tide-my-own".to_owned()));
    assert_eq!(room.opened().expect("open").name, "low-tide-my-own");
    assert_eq!(room.passages()[4].name, "low-tide-my-own");
    // Edited again, it goes into the same file, and what was done can still be taken back.
    keys(&mut window, "W Z Z Enter");
    let room = &window.state().room;
    let edited = room.edited().expect("to be kept");
    assert_eq!((edited.id, edited.name), (id, Some("low-tide-my-own")));
    assert_eq!(room.passages().len(), 5);
    let first = before[0].passage.as_ref().expect("whole");
    assert_eq!(edited.passage.notes(), first.notes());
    keys(&mut window, "Escape N Escape");
    assert_eq!(window.state().room.phase(), Phase::Choosing);
    assert_eq!(window.state().room.passages().len(), 5);
    keys(&mut window, "N N Enter");
    let next = window.state().room.edited().expect("to be kept");
    assert!(next.id > id && next.name.is_none(), "never into the file of another: {next:?}");
}

#[test]
fn what_was_found_holds_as_long_as_the_notes_it_was_found_of() {
    let mut scene = Scene::judged(Pass::Straight);
    scene.apply(PassageAction::Pass(Pass::AtTempo));
    let mut window = window(scene);
    keys(&mut window, "W W 3 0 Enter Enter");
    assert!(window.state().room.checked(Pass::Straight).is_some(), "it was played straight");
    keys(&mut window, "W Up Enter");
    assert!(window.state().room.checked(Pass::Straight).is_none(), "other notes");
}

#[test]
fn notes_are_planned_as_they_were_played_and_again_after_another_change() {
    let planned = super::scene::passage("low-tide");
    let mut window = window(Scene::judged(Pass::AtTempo));
    keys(&mut window, "W F7");
    assert!(said(&window).starts_with("As it was played."), "{}", said(&window));
    let width = |window: &Window, note: usize| plan(window).notes()[note].intention.mean_width().0;
    let meant = |note: usize| planned.notes()[note].intention.mean_width().0;
    // The long D4 was too narrow, the C4 behind it and the G3 of bar 3 as they were meant; the first note was straight.
    assert!((width(&window, 3) - 0.45 * meant(3)).abs() < 6.0, "{}", width(&window, 3));
    for note in [0, 4, 6] {
        assert!(
            (width(&window, note) - meant(note)).abs() < 6.0,
            "{note}: {}",
            width(&window, note)
        );
    }
    let played = plan(&window).clone();
    keys(&mut window, "Home W 7 7");
    assert_ne!(plan(&window).notes(), played.notes());
    keys(&mut window, "F7");
    assert_eq!(plan(&window).notes(), played.notes(), "what was played is still known");
    keys(&mut window, "Z Z Z");
    assert_eq!(plan(&window).notes(), planned.notes());
    // Other notes were not played.
    keys(&mut window, "Up");
    let other = plan(&window).clone();
    keys(&mut window, "F7");
    assert_eq!(*plan(&window), other);
}

#[test]
fn a_model_that_was_listened_to_is_planned_unless_the_plan_was_changed_meanwhile() {
    let mut window = window(Scene::begun());
    keys(&mut window, "N Up");
    let model = vec![None, Some(Intention::level(Cents(35.0), None))];
    let asked = window.state().room.changes();
    keys(&mut window, "W 1 0 Enter");
    let room = &mut window.state_mut().room;
    room.told(PassageHeard::Model(asked, model.clone()));
    assert_eq!(room.changes(), asked + 2, "each digit is one, the model none");
    let now = room.changes();
    room.told(PassageHeard::Model(now, model));
    window.run();
    assert_eq!(widths(&window), [0.0, 35.0]);
    assert!(said(&window).starts_with("As it was played. E3"), "{}", said(&window));
}

/// Places on the sheet at which the notes of its page can be pressed: on the staff, and lower, on the ribbons.
fn places(window: &mut Window) -> Vec<Pos2> {
    let sheet = window.get_by_label_contains("staff and ribbons").rect();
    let mut found: Vec<(String, Vec<f32>)> = Vec::new();
    let y = sheet.top() + 0.25 * sheet.height();
    for step in 0..160 {
        let at = Pos2::new(sheet.left() + sheet.width() * step as f32 / 160.0, y);
        press_at(window, at);
        let title = window
            .get_by_label_contains("passage My passage, note")
            .accesskit_node()
            .label()
            .expect("told");
        match found.last_mut() {
            Some((last, all)) if *last == title => all.push(at.x),
            _ => found.push((title, vec![at.x])),
        }
    }
    // Beside the notes it is still the one of before.
    found.iter().skip(1).map(|(_, x)| Pos2::new(x[0] + 6.0, y)).collect()
}

fn press_at(window: &mut Window, at: Pos2) {
    window.drag_at(at);
    window.drop_at(at);
    window.run();
}

fn drag(window: &mut Window, from: Pos2, to: Pos2) {
    window.drag_at(from);
    window.run();
    for step in 1..=4 {
        window.hover_at(from + (to - from) * (step as f32 / 4.0));
        window.run();
    }
    window.drop_at(to);
    window.run();
}

#[test]
fn a_mouse_goes_to_each_note_brushes_over_several_and_makes_a_ribbon_wider() {
    let mut window = window(Scene::begun());
    keys(&mut window, "W 4 0 N Up W 1 0 N Up S N Up N Up");
    let places = places(&mut window);
    assert_eq!(places.len(), 5, "each note has its place: {places:?}");
    press_at(&mut window, places[0]);
    assert!(said(&window).starts_with("D3"), "{}", said(&window));
    drag(&mut window, places[1], places[3]);
    assert!(said(&window).starts_with("Nothing is copied yet"), "{}", said(&window));
    press_at(&mut window, places[0]);
    click(&mut window, "copy its vibrato");
    drag(&mut window, places[1], places[3]);
    assert_eq!(widths(&window), [40.0, 40.0, 40.0, 40.0, 0.0]);
    keys(&mut window, "Z");
    assert_eq!(widths(&window), [40.0, 10.0, 0.0, 0.0, 0.0], "one stroke of the brush");
    let sheet: Rect = window.get_by_label_contains("staff and ribbons").rect();
    let low = |at: Pos2| Pos2::new(at.x, sheet.top() + 0.75 * sheet.height());
    drag(&mut window, low(places[4]), low(places[4]) - vec2(0.0, 20.0));
    let wide = widths(&window)[4];
    assert!(
        (40.0..60.0).contains(&wide),
        "20 points up are about 50 cents: {wide}; {}",
        said(&window)
    );
    keys(&mut window, "Z");
    assert_eq!(widths(&window)[4], 0.0, "one pull");
    // With Shift a press chooses all notes on the way.
    press_at(&mut window, places[1]);
    window.event_modifiers(egui::Event::PointerMoved(places[4]), Modifiers::SHIFT);
    for pressed in [true, false] {
        let (pos, button) = (places[4], egui::PointerButton::Primary);
        let event =
            egui::Event::PointerButton { pos, button, pressed, modifiers: Modifiers::SHIFT };
        window.event_modifiers(event, Modifiers::SHIFT);
    }
    window.run();
    assert!(said(&window).contains("4 notes chosen"), "{}", said(&window));
}

#[test]
fn all_that_keys_do_can_be_pressed_but_for_digits() {
    let mut window = window(Scene::edited());
    for (button, told) in [
        ("note after", "New note."),
        ("slur", "Slurred."),
        ("slur", "No slur."),
        ("finger 3", "finger 3"),
        ("straight", "straight"),
        ("take the last change back", "Taken back."),
        ("make it once more", "Made again."),
        ("rest", "A rest."),
        ("rest", "A note again."),
        ("take out", "Taken out."),
    ] {
        click(&mut window, button);
        assert!(said(&window).contains(told), "{button}: {}", said(&window));
    }
    click(&mut window, "done");
    assert_eq!(window.state().room.phase(), Phase::Ready);
}
