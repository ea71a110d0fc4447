//! What keys and buttons do, by the names a screen reader has for them.

use super::scene::{Scene, vibrated};
use crate::scenes::sound::{lasting, made};
use crate::scenes::window::{click, harness, press};
use coach::{Align, Phrase, Showing, Work};
use egui::{Key, Vec2, vec2};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT, Queryable};
use panels::commands;
use panels::keys::Scope;
use panels::lesson_room::{Laid, LessonAction, LessonOrder, Side, Takes, Voice};
use panels::shell::action::UseAs;
use panels::shell::options::Options;
use panels::shell::report::ReportOf;
use panels::stand::{Action, Heard, Sought};
use tuning::Secs;
use vibrato::Quantity;

const WINDOW: Vec2 = vec2(1024.0, 640.0);

fn orders(harness: &mut Harness<Scene>) -> Vec<LessonOrder> {
    harness.state_mut().room.wants()
}

#[test]
fn every_word_of_the_list_is_met_in_the_rooms_and_the_sheet_of_keys_explains_all() {
    use crate::scenes;
    use panels::TERMS;
    use panels::stand::{Overlay, Stand};
    let options = || Options { instrument: Some("cello".to_owned()), ..Options::default() };
    let told = |harness: &dyn Fn(&mut Vec<String>)| {
        let mut all = Vec::new();
        harness(&mut all);
        all
    };
    fn read<S>(harness: &Harness<S>, all: &mut Vec<String>) {
        for node in harness.query_all(egui_kittest::kittest::by()) {
            let node = node.accesskit_node();
            all.extend([node.label(), node.value(), node.description()].into_iter().flatten());
        }
    }
    let open = |mut stand: Stand, overlay| {
        stand.apply(Action::Turn(overlay));
        harness(stand, WINDOW)
    };
    let met = told(&|all| {
        read(&harness(scenes::even_note(options(), 0.5), WINDOW), all);
        read(&harness(scenes::straight_note(options(), 0.5), WINDOW), all);
        read(&harness(Scene::three_echoes(), WINDOW), all);
        read(&harness(Scene::phrase(), WINDOW), all);
        read(&open(scenes::silent(options()), Overlay::Settings), all);
        read(&harness(crate::drill::play::Player::at("there-and-back", options()), WINDOW), all);
        read(&harness(crate::passage::scene::Scene::open(), WINDOW), all);
        all.extend(Quantity::all().map(|quantity| quantity.name().to_owned()));
    });
    for term in &TERMS {
        let occurs = met.iter().any(|said| said.to_lowercase().contains(term.name));
        assert!(occurs, "{} is met nowhere", term.name);
    }
    // Where a measure stands, what it means is told.
    for name in ["rate", "width", "centre", "offset", "drift", "field", "onset", "level"] {
        let term = TERMS.iter().find(|term| term.name == name).expect("a word of the list");
        assert!(met.iter().any(|said| said == term.means), "{name} is not explained");
    }
    let keys = told(&|all| read(&open(scenes::silent(options()), Overlay::Keys), all));
    for term in &TERMS {
        assert!(keys.iter().any(|said| said.contains(term.means)), "{}", term.name);
    }
}

#[test]
fn a_whole_lesson_is_run_by_a_pedal_of_two_keys() {
    // The model and its echo were played; nothing was pressed for either.
    let mut harness = harness(Scene::one_echo(), WINDOW);
    press(&mut harness, Key::PageUp);
    let heard = Some(Voice::Sound(Side::Model));
    assert_eq!(harness.state().room.voice(), heard, "the model again");
    press(&mut harness, Key::PageUp);
    let heard = Some(Voice::Sound(Side::Echo(0)));
    assert_eq!(harness.state().room.voice(), heard, "and the echo");
    harness.state_mut().apply(LessonAction::Played);
    // On to the next model, and an echo of that.
    press(&mut harness, Key::PageDown);
    harness.get_by_label("Play the model: a note or a phrase. Silence ends it.");
    for hz in [196.0, 197.0] {
        let note = vibrated(0.4, 2.0, hz, 5.0, 30.0);
        harness.state_mut().play(&[note], 5.0);
    }
    harness.run();
    let lesson = harness.state().room.lesson();
    assert_eq!(lesson.model().map(|model| model.notes[0].midi), Some(55));
    assert_eq!(lesson.echoes().len(), 1);
}

#[test]
fn the_other_keys_look_at_echoes_and_say_what_the_model_was() {
    let mut harness = harness(Scene::three_echoes(), WINDOW);
    assert_eq!(harness.state().room.echo_number(), Some(2));
    press(&mut harness, Key::ArrowUp);
    assert_eq!(harness.state().room.echo_number(), Some(1));
    press(&mut harness, Key::ArrowDown);
    press(&mut harness, Key::C);
    assert_eq!(harness.state().room.laid(), Laid::Note(Align::Cycles));
    press(&mut harness, Key::V);
    assert_eq!(harness.state().stand.shell.options().showing, Showing::AfterNote);
    press(&mut harness, Key::Enter);
    let lesson = harness.state().room.lesson();
    assert!(lesson.echoes().is_empty(), "what was played last is the model");
    assert!(lesson.model().is_some());
    press(&mut harness, Key::Enter);
    assert!(harness.state().room.lesson().model().is_none(), "all again");
}

#[test]
fn every_command_of_the_room_is_done_by_each_of_its_keys() {
    let mut phrase = Scene::phrase();
    let mut doubtful = phrase.clone();
    doubtful.play(&[vibrated(0.4, 2.0, 147.0, 5.0, 30.0)], 5.0);
    let half = [(0.4, 146.8), (2.4, 164.8)];
    phrase.play(&half.map(|(at, hz)| vibrated(at, 1.8, hz, 5.0, 30.0)), 7.0);
    phrase.apply(LessonAction::Note(-1));
    let id = |name: &str| name.parse::<journal::TakeId>().expect("a name");
    phrase.apply(LessonAction::Taken(Takes {
        model: Some(id("2026-11-25/17-41-09")),
        echoes: vec![id("2026-11-25/17-42-00")],
    }));
    let mut aside = phrase.clone();
    aside.hear_unlike(1.8, &lasting(made(vec![vibrated(0.4, 2.0, 147.0, 5.0, 30.0)]), 5.0));
    let (mut heard, mut earlier, mut written) = (phrase.clone(), phrase.clone(), phrase.clone());
    heard.apply(LessonAction::Hear(Side::Model));
    earlier.apply(LessonAction::Echo(-1));
    earlier.apply(LessonAction::Note(1));
    written.apply(LessonAction::Task);
    let mut harness = harness(phrase.clone(), WINDOW);
    let of_room = |place: &Scope| matches!(place, Scope::Lesson | Scope::Doubtful | Scope::Task);
    for entry in commands::all().iter().filter(|entry| entry.scopes.iter().any(of_room)) {
        let scene = match entry.name {
            "lesson-quiet" => &heard,
            "lesson-bring-back" => &aside,
            "lesson-echo-after" | "lesson-note-before" => &earlier,
            _ if entry.scopes.contains(&Scope::Task) => &written,
            _ if entry.scopes.contains(&Scope::Doubtful) => &doubtful,
            _ => &phrase,
        };
        for &key in entry.keys {
            *harness.state_mut() = scene.clone();
            harness.run();
            let room = |harness: &Harness<Scene>| format!("{:?}", harness.state().room);
            let before = room(&harness);
            press(&mut harness, key);
            assert_ne!(before, room(&harness), "{} by {key:?} does nothing", entry.name);
        }
    }
}

#[test]
fn an_echo_that_did_not_sound_bowed_is_told_and_brought_back_with_its_take() {
    let mut scene = Scene::model();
    scene.room.wants();
    scene.hear_unlike(1.8, &lasting(made(vec![vibrated(0.4, 2.8, 146.0, 5.4, 22.0)]), 6.0));
    let mut harness = harness(scene, WINDOW);
    let told = |harness: &Harness<Scene>| {
        harness.query_by_label_contains("That did not sound bowed. K keeps it").is_some()
    };
    assert!(told(&harness) && harness.state().room.lesson().echoes().is_empty());
    click(&mut harness, "keep the last sound all the same");
    assert_eq!(harness.state().room.lesson().echoes().len(), 1);
    assert!(!told(&harness));
    let orders = orders(&mut harness);
    let [LessonOrder::KeepTake(kept), LessonOrder::TakeIs { phrase, echo: true }] = orders[..]
    else {
        panic!("{orders:?}");
    };
    assert_eq!(kept, phrase);
    // It goes once something else is played.
    let talk = lasting(made(vec![vibrated(0.4, 0.8, 200.0, 5.0, 60.0)]), 5.0);
    harness.state_mut().hear_unlike(1.8, &talk);
    harness.run();
    assert!(told(&harness));
    harness.state_mut().play(&[vibrated(0.4, 2.8, 146.0, 5.4, 30.0)], 6.0);
    harness.run();
    assert!(!told(&harness) && harness.state().room.lesson().echoes().len() == 2);
}

#[test]
fn what_is_unlike_the_model_is_asked_about_and_an_echo_only_if_that_is_said() {
    let asked = "That was 1 note instead of 4. Is it an echo?";
    let mut scene = Scene::phrase();
    scene.room.wants();
    scene.play(&[vibrated(0.4, 2.0, 147.0, 5.0, 30.0)], 5.0);
    let mut harness = harness(scene, WINDOW);
    harness.get_by_label(asked);
    let echoes = |harness: &Harness<Scene>| harness.state().room.lesson().echoes().len();
    let told = orders(&mut harness);
    let is = |echo| move |order: &LessonOrder| matches!(order, LessonOrder::TakeIs { echo: is, .. } if *is == echo);
    assert!(told.iter().any(is(false)), "its take is none of an echo yet: {told:?}");
    click(&mut harness, "yes, it is an echo");
    assert_eq!(echoes(&harness), 2);
    assert!(orders(&mut harness).iter().any(is(true)));
    assert!(harness.query_by_label(asked).is_none());
    // Other notes, as many: no echo, by Escape, and none of the keys of the lesson is taken for it.
    harness
        .state_mut()
        .play(&[0.4, 1.9, 3.4, 4.9].map(|at| vibrated(at, 1.3, 220.0, 5.0, 30.0)), 9.0);
    harness.run();
    harness.get_by_label("Those were not the notes of the model. Is it an echo?");
    press(&mut harness, Key::Escape);
    assert_eq!(echoes(&harness), 2);
    assert!(harness.state().room.lesson().doubtful().is_none());
    // Who is asked and plays on has said that it was none.
    for _ in 0..2 {
        harness.state_mut().play(&[vibrated(0.4, 2.0, 147.0, 5.0, 30.0)], 5.0);
    }
    harness.run();
    harness.get_by_label(asked);
    assert_eq!(echoes(&harness), 2);
    press(&mut harness, Key::Enter);
    assert_eq!(echoes(&harness), 3, "the last of them");
    assert!(harness.state().room.lesson().model().is_some_and(|model| model.notes.len() == 4));
}

#[test]
fn what_differs_most_is_said_and_each_row_is_told() {
    let harness = harness(Scene::one_echo(), WINDOW);
    let room = &harness.state().room;
    let (comparison, pair) = room.shown_pair().expect("one note, one answer");
    let words = comparison.words(tuning::Naming::Scientific);
    harness.get_by_label(&words[0]);
    let width = pair.difference(Quantity::Width).expect("both known");
    assert!(width.value < -8.0, "{width:?}");
    let row = harness.get_by_label_contains("width, cents; model");
    let said = row.accesskit_node().label().expect("a name");
    assert!(said.contains("echo minus model −"), "{said}");
    harness.get_by_label_contains("model and echo 1 of D3 over each other, from the start");
    harness.get_by_label_contains("echo's width: ");
}

#[test]
fn model_and_echo_are_heard_in_turn_equally_loud_and_their_pitch_slowly() {
    let mut harness = harness(Scene::one_echo(), WINDOW);
    orders(&mut harness);
    press(&mut harness, Key::A);
    assert_eq!(harness.state().room.voice(), Some(Voice::Sound(Side::Model)));
    press(&mut harness, Key::Space);
    let heard = orders(&mut harness);
    let played: Vec<_> = heard
        .iter()
        .filter_map(|order| match order {
            LessonOrder::Play { part, beside } => Some((*part, beside.expect("the other one"))),
            _ => None,
        })
        .collect();
    let [(model, beside_model), (echo, beside_echo)] = played[..] else {
        panic!("{heard:?}");
    };
    assert!(model.to < echo.from, "the echo came after the model");
    assert_eq!((beside_model, beside_echo), (echo, model), "each as loud as the other");
    click(&mut harness, "stop the sound");
    assert_eq!(orders(&mut harness), [LessonOrder::Stop]);
    press(&mut harness, Key::W);
    press(&mut harness, Key::W);
    click(&mut harness, "hear the pitch");
    let heard = orders(&mut harness);
    let [LessonOrder::PlayPitch { course, speed }] = heard.as_slice() else {
        panic!("{heard:?}");
    };
    assert_eq!(*speed, 0.25);
    assert!(course.iter().filter(|point| point.f0.is_some()).count() > 400);
    harness.get_by_label("You hear the pitch of echo 1 at a quarter of its speed.");
}

#[test]
fn what_the_loudspeaker_plays_is_no_echo() {
    let mut scene = Scene::model();
    scene.apply(LessonAction::Hear(Side::Model));
    scene.play(&[vibrated(0.4, 2.0, 147.0, 5.0, 30.0)], 5.0);
    assert!(scene.room.lesson().echoes().is_empty());
    scene.apply(LessonAction::Played);
    scene.play(&[vibrated(0.4, 2.0, 147.0, 5.0, 30.0)], 5.0);
    assert_eq!(scene.room.lesson().echoes().len(), 1);
}

#[test]
fn nothing_is_seen_before_the_echo_is_over_if_that_is_wanted() {
    let mut scene = Scene::model();
    for showing in [Showing::AfterNote, Showing::AfterRound] {
        scene.stand.apply(panels::stand::Action::Do(panels::stand::Command::Showing));
        let mut sounding = scene.clone();
        let echo = vibrated(0.4, 2.8, 146.0, 5.4, 22.0);
        sounding.hear(&lasting(made(vec![echo]), 2.0));
        let harness = harness(sounding, WINDOW);
        assert_eq!(harness.state().stand.shell.options().showing, showing);
        harness.get_by_label_contains("Listening; shown after the");
        harness.get_by_label("rate: hidden while you listen");
        assert!(harness.query_by_label_contains("width, cents; model").is_none());
    }
}

#[test]
fn a_lesson_ends_in_a_task_with_the_bands_of_the_model_and_a_caution() {
    let mut harness = harness(Scene::three_echoes(), WINDOW);
    orders(&mut harness);
    press(&mut harness, Key::T);
    harness.get_by_label_contains("Stop at pain, numbness or tingling");
    let bands = harness.state().room.draft().expect("it is written").task.clone();
    let (low, high) = bands.rate.expect("the model has vibrato");
    assert!(low.0 < 5.2 && 5.2 < high.0, "{bands:?}");
    let asked = bands.pace.map(|(bpm, per_beat)| bpm * per_beat / 60.0).expect("a pace");
    assert!((low.0..=high.0).contains(&asked), "the drill asks for {asked} Hz, {bands:?}");
    click(&mut harness, "set for this task");
    let slow = &harness.state().room.draft().expect("it is written").task;
    assert_eq!((slow.pace, slow.rate), (None, None), "the drill's own 2 Hz are no 5.2 Hz");
    click(&mut harness, "set for this task");
    click(&mut harness, "oscillations of each finger");
    click(&mut harness, "give the task");
    let kept = orders(&mut harness);
    let [LessonOrder::Keep(task)] = kept.as_slice() else {
        panic!("{kept:?}");
    };
    assert_eq!(task.work, Work::Drill("there-and-back".to_owned()));
    assert_eq!(task.pace, Some((60.0, 2.0)));
    assert_eq!(task.count, Some(4));
    assert!(harness.state().room.standing().is_none(), "it takes the place of the last");
}

/// The field for a note to the student.
fn note<'a>(harness: &'a Harness<Scene>) -> egui_kittest::Node<'a> {
    harness.get_by_role_and_label(egui::accesskit::Role::TextInput, "note to the student")
}

#[test]
fn a_task_is_given_by_enter_after_its_note_and_never_dropped_without_a_question() {
    let mut harness = harness(Scene::three_echoes(), WINDOW);
    press(&mut harness, Key::T);
    note(&harness).focus();
    harness.run();
    note(&harness).type_text("Loose hand.");
    harness.run();
    press(&mut harness, Key::Escape);
    let kept = harness.state().room.draft().expect("it is asked first");
    assert_eq!(kept.task.words, "Loose hand.");
    harness.get_by_label_contains("This task is not given yet.");
    // On with it: what is added takes the question away.
    note(&harness).focus();
    harness.run();
    note(&harness).type_text(" Slowly.");
    harness.run();
    orders(&mut harness);
    press(&mut harness, Key::Enter);
    let kept = orders(&mut harness);
    let [LessonOrder::Keep(task)] = kept.as_slice() else {
        panic!("{kept:?}");
    };
    assert!(task.words.contains("Slowly."), "{task:?}");
    // Nothing written: nothing to ask.
    press(&mut harness, Key::T);
    press(&mut harness, Key::Escape);
    assert!(harness.state().room.draft().is_none());
}

#[test]
fn a_lesson_opens_with_what_became_of_the_last_task() {
    let mut harness = harness(Scene::with_a_task_before(), WINDOW);
    harness.get_by_label_contains(
        "Played 2 of the 5 times set. The count was right on 4 of 6 fingers.",
    );
    click(&mut harness, "done with this task");
    assert!(orders(&mut harness).contains(&LessonOrder::Forget));
}

#[test]
fn end_and_home_turn_the_page_where_type_is_large() {
    let mut scene = Scene::three_echoes();
    let large = Options { text_scale: 2.0, ..scene.stand.shell.options().clone() };
    scene.stand.apply(Action::Set(Box::new(large)));
    let mut harness = harness(scene, WINDOW);
    let top =
        |harness: &Harness<Scene>| harness.get_by_label_contains("rate, Hz; model").rect().top();
    let before = top(&harness);
    press(&mut harness, Key::End);
    assert!(top(&harness) < before - 100.0, "{before}, {}", top(&harness));
    press(&mut harness, Key::Home);
    assert_eq!(top(&harness), before);
}

#[test]
fn a_phrase_is_seen_as_a_whole_and_each_note_of_it_alone() {
    let mut harness = harness(Scene::phrase(), WINDOW);
    assert_eq!(harness.state().room.laid(), Laid::Whole);
    let said = |harness: &Harness<Scene>| {
        let picture = harness.get_by_label_contains("model and echo 1 as a whole");
        picture.accesskit_node().label().expect("a name")
    };
    let first = said(&harness);
    let (late, rest) = first
        .split_once("from the first onset: D3 together, E3 0.")
        .and_then(|(_, rest)| rest.split_once(" seconds late, F♯3 0."))
        .unwrap_or_else(|| panic!("{first}"));
    let (early, rest) = rest.split_once(" seconds early, ").expect("said");
    assert!(late.parse::<i32>().is_ok_and(|late| (late - 12).abs() <= 2), "{first}");
    assert!(early.parse::<i32>().is_ok_and(|early| (early - 5).abs() <= 2), "{first}");
    assert_eq!(rest, "E3 not answered");
    press(&mut harness, Key::C);
    assert_eq!(harness.state().room.laid(), Laid::NoteByNote);
    assert!(said(&harness).contains("note by note: "));
    press(&mut harness, Key::Z);
    assert_eq!(harness.state().room.laid(), Laid::Note(Align::NoteStart));
    harness.get_by_label_contains("model and echo 1 of E3 over each other, from the start");
    press(&mut harness, Key::C);
    assert_eq!(harness.state().room.laid(), Laid::Note(Align::Cycles));
    click(&mut harness, "shown: one note of the phrase");
    assert_eq!(harness.state().room.laid(), Laid::NoteByNote);
    // Pointing at a note steps into it.
    harness.get_by_label_contains("model and echo 1 as a whole").click();
    harness.run();
    let room = &harness.state().room;
    assert_eq!((room.laid(), room.note()), (Laid::Note(Align::Cycles), 1));
}

#[test]
fn an_echo_is_written_over_the_whole_phrase_as_it_sounds() {
    let mut scene = Scene::phrase();
    scene.play(&[vibrated(0.4, 1.3, 146.83, 5.2, 34.0)], 1.0);
    let room = &scene.room;
    assert!(room.lesson().current().is_some() && room.laid() == Laid::Whole);
    assert_eq!(room.note(), 0);
    let mut harness = harness(scene, WINDOW);
    harness.get_by_label("the model as a whole: D3, E3, F♯3, E3");
    let more = [vibrated(0.4, 1.3, 146.83, 5.2, 34.0), vibrated(1.9, 1.3, 164.81, 5.2, 34.0)];
    let scene = harness.state_mut();
    scene.apply(LessonAction::Anew);
    scene.play(&more, 3.0);
    assert_eq!(scene.room.note(), 1, "the note that sounds is looked at");
}

#[test]
fn a_phrase_is_walked_through_note_by_note() {
    let mut harness = harness(Scene::phrase(), WINDOW);
    let room = &harness.state().room;
    assert_eq!(room.note(), 1, "it opens at the note that differs most");
    let comparison = &room.shown_echo().expect("one echo").comparison;
    assert_eq!((comparison.transposed, comparison.missing.len()), (12, 1));
    press(&mut harness, Key::ArrowRight);
    press(&mut harness, Key::ArrowRight);
    press(&mut harness, Key::ArrowRight);
    assert_eq!(harness.state().room.note(), 3, "the last note of the model");
    press(&mut harness, Key::Z);
    harness.get_by_label_contains("not in echo 1");
}

#[test]
fn a_report_is_of_the_takes_of_model_and_echo_and_not_offered_without_them() {
    let mut harness = harness(Scene::one_echo(), WINDOW);
    orders(&mut harness);
    assert!(harness.query_by_label_contains("a report of the lesson").is_none());
    press(&mut harness, Key::X);
    assert_eq!(orders(&mut harness), []);
    let id = |name: &str| name.parse::<journal::TakeId>().expect("a name");
    let takes =
        Takes { model: Some(id("2026-11-25/17-41-09")), echoes: vec![id("2026-11-25/17-42-00")] };
    let Scene { room, stand, .. } = harness.state_mut();
    room.apply(LessonAction::Taken(takes.clone()), &stand.shell);
    harness.run();
    click(&mut harness, "a report of the lesson");
    press(&mut harness, Key::X);
    let of = ReportOf::Lesson { model: id("2026-11-25/17-41-09"), echoes: takes.echoes };
    let asked = orders(&mut harness);
    assert_eq!(asked, [LessonOrder::Report(of.clone()), LessonOrder::Report(of)]);
}

#[test]
fn whose_lesson_it_is_and_that_a_task_was_given_is_said() {
    let mut harness = harness(Scene::three_echoes(), WINDOW);
    assert!(harness.query_by_label_contains("player").is_none());
    let mut options = harness.state().stand.shell.options().clone();
    options.player = "Mira".to_owned();
    let set = Action::Set(Box::new(options));
    harness.state_mut().stand.apply(set);
    harness.run();
    harness.get_by_label("player Mira");
    press(&mut harness, Key::T);
    harness.get_by_label("The task for Mira to take home");
    press(&mut harness, Key::Enter);
    harness.get_by_label("The task is given: Mira’s Stand tells of it at the next start.");
    press(&mut harness, Key::A);
    harness.get_by_label("You hear the model.");
}

#[test]
fn the_student_is_chosen_here_and_nothing_of_the_one_before_stays() {
    let mut harness = harness(Scene::with_a_task_before(), vec2(1280.0, 1600.0));
    let names = ["Ada", "Mira", "Teacher"].map(str::to_owned);
    harness.state_mut().apply(LessonAction::Players(names.to_vec()));
    harness.run();
    orders(&mut harness);
    assert!(harness.query_by_label("student: Teacher").is_none(), "who teaches is no student");
    click(&mut harness, "student: Mira");
    assert_eq!(orders(&mut harness), [LessonOrder::Student("Mira".to_owned())]);
    assert!(harness.state().room.standing().is_none(), "the task was another student's");
    // Who was named and has no take yet can be chosen too.
    let options = Options { players: vec!["Bo".to_owned()], ..Options::default() };
    harness.state_mut().stand.apply(Action::Set(Box::new(options)));
    harness.run();
    orders(&mut harness);
    click(&mut harness, "student: Bo");
    assert_eq!(orders(&mut harness), [LessonOrder::Student("Bo".to_owned())]);
}

#[test]
fn the_file_of_a_task_is_chosen_in_the_system_s_dialog_or_typed() {
    let mut harness = harness(Scene::with_a_task_before(), vec2(1280.0, 1600.0));
    orders(&mut harness);
    for (name, sought) in [
        ("choose a new file to export to", Sought::NewTask),
        ("choose the file of a task", Sought::Task),
    ] {
        click(&mut harness, name);
        assert_eq!(orders(&mut harness), [LessonOrder::Find(sought)]);
    }
    let chosen = "for-mira.ron".to_owned();
    harness.state_mut().apply(LessonAction::TaskFile(chosen.clone()));
    harness.run();
    click(&mut harness, "import a task");
    assert_eq!(orders(&mut harness), [LessonOrder::ImportTask(chosen)]);
}

#[test]
fn what_the_program_says_covers_nothing_of_the_room_and_escape_takes_it_away() {
    let mut harness = harness(Scene::three_echoes(), WINDOW);
    let word = Heard::Word("the disk is full: make room".to_owned());
    harness.state_mut().stand.apply(Action::Heard(word));
    harness.run();
    let strip = harness.get_by_label("room Lesson").rect();
    let word = harness.get_by_label("the disk is full: make room").rect();
    let state = harness.get_by_label("Echo 3. Play another when you like.").rect();
    assert!(strip.bottom() <= word.top(), "{strip} {word}");
    assert!(word.bottom() <= state.top(), "{word} {state}");
    press(&mut harness, Key::Escape);
    assert!(harness.query_by_label_contains("disk is full").is_none());
}

#[test]
fn a_take_from_the_journal_is_the_model_and_what_is_played_answers_it() {
    // The model of another lesson and its echo, as they were kept.
    let kept = Scene::one_echo().room;
    let model = kept.lesson().model().expect("played").clone();
    let echo = kept.lesson().echoes()[0].phrase.clone();
    let mut harness = harness(Scene::one_echo(), WINDOW);
    let bring = |harness: &mut Harness<Scene>, use_as, phrase: &Phrase, by: f64| {
        let phrase = Box::new(phrase.clone().later(Secs(by)));
        harness.state_mut().apply(LessonAction::Bring(use_as, phrase));
        harness.run();
    };
    orders(&mut harness);
    bring(&mut harness, UseAs::Model, &model, -1e6);
    assert_eq!(orders(&mut harness), [LessonOrder::TakesAre { model: false }]);
    assert!(harness.state().room.lesson().echoes().is_empty());
    bring(&mut harness, UseAs::Echo, &echo, -2e6);
    let width = harness.state().room.shown_echo().expect("it").comparison.mean(Quantity::Width);
    let narrower = width.expect("known").value;
    assert!((-24.0..-8.0).contains(&narrower), "it was narrower then, too: {narrower} cents");
    // Both are heard from where they lie in their takes.
    press(&mut harness, Key::A);
    match orders(&mut harness).last() {
        Some(LessonOrder::Play { part, beside: Some(beside) }) => {
            assert!((part.phrase.0 - model.notes[0].start.0 + 1e6).abs() < 1e-3, "{part:?}");
            assert!(beside.from.0 < -1.9e6 && part.from < part.phrase);
        }
        other => panic!("{other:?}"),
    }
    harness.state_mut().apply(LessonAction::Played);
    harness.state_mut().play(&[vibrated(0.4, 3.0, 147.0, 5.2, 38.0)], 6.0);
    harness.run();
    assert_eq!(harness.state().room.lesson().echoes().len(), 2, "what is played is an echo of it");
}
