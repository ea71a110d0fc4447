//! What keys and clicks do, and what a screen reader is told.

use super::scene::Scene;
use crate::scenes::window::{click, harness, press};
use egui::{Key, vec2};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT, Queryable};
use panels::passage_room::{Excerpt, Pass, PassageAction, PassageHeard, Phase};
use panels::shell::report::ReportOf;

#[test]
fn a_pedal_opens_a_passage_starts_a_pass_and_takes_it_again() {
    let mut window = harness(Scene::choosing(), vec2(1280.0, 800.0));
    press(&mut window, Key::PageDown);
    press(&mut window, Key::PageUp);
    press(&mut window, Key::Space);
    assert_eq!(window.state().room.phase(), Phase::Ready);
    press(&mut window, Key::PageDown);
    assert_eq!(window.state().room.phase(), Phase::CountIn);
    let (bpm, run) = (window.state().room.bpm(), window.state().room.run());
    assert!((bpm - 35.0).abs() < 0.01, "two thirds of 52: {bpm}");
    press(&mut window, Key::PageUp);
    assert_eq!((window.state().room.phase(), window.state().room.run()), (Phase::CountIn, run + 1));
    press(&mut window, Key::PageDown);
    assert_eq!(window.state().room.phase(), Phase::Ready);
    window.get_by_label("No notes were heard in that pass.");
}

#[test]
fn of_a_score_part_voice_and_bars_are_chosen_by_keys_and_by_click() {
    let mut window = harness(Scene::asked_of_a_score(), vec2(1280.0, 800.0));
    let chosen = |window: &Harness<Scene>| window.state().room.score().map(|(_, chosen)| *chosen);
    let whole = |part, bars| Some(Excerpt { part, voice: 0, bars: Some(bars) });
    assert_eq!(chosen(&window), whole(1, (1, 64)));
    click(&mut window, "voice: 2");
    assert_eq!(chosen(&window), Some(Excerpt { part: 1, voice: 1, bars: Some((1, 64)) }));
    press(&mut window, Key::Tab);
    window.get_by_label("to bar").focus();
    window.run();
    for _ in 0..3 {
        press(&mut window, Key::ArrowDown);
    }
    assert_eq!(chosen(&window), Some(Excerpt { part: 1, voice: 1, bars: Some((1, 61)) }));
    click(&mut window, "part: Viola");
    assert_eq!(chosen(&window), whole(0, (0, 64)), "all of the other part");
    press(&mut window, Key::Escape);
    assert_eq!(chosen(&window), None);
    assert_eq!(window.state().room.phase(), Phase::Choosing);
    let mut window = harness(Scene::asked_of_a_score(), vec2(1280.0, 800.0));
    press(&mut window, Key::ArrowUp);
    assert_eq!(chosen(&window), whole(0, (0, 64)));
    press(&mut window, Key::Enter);
    assert_eq!(chosen(&window), None, "it is taken in by the program");
}

#[test]
fn the_passes_are_chosen_by_number_and_by_click_and_say_so() {
    let mut window = harness(Scene::open(), vec2(1280.0, 800.0));
    press(&mut window, Key::Num3);
    assert_eq!(window.state().room.pass(), Pass::AtTempo);
    press(&mut window, Key::ArrowRight);
    press(&mut window, Key::ArrowRight);
    window.get_by_label("G3: 0 to 25 cents");
    press(&mut window, Key::ArrowUp);
    assert!((window.state().room.bpm() - 54.0).abs() < 0.01);
    click(&mut window, "pass 4, Without looking");
    assert_eq!(window.state().room.pass(), Pass::Unseen);
    // A straight pass asks for no vibrato yet, whatever is planned.
    let mut window = harness(Scene::open(), vec2(1280.0, 800.0));
    press(&mut window, Key::ArrowRight);
    press(&mut window, Key::ArrowRight);
    window.get_by_label("G3: straight first, then 0 to 25 cents");
}

#[test]
fn what_was_found_is_told_in_one_sentence_and_note_by_note() {
    let mut window = harness(Scene::judged(Pass::AtTempo), vec2(1280.0, 800.0));
    let room = &window.state().room;
    let checked = room.checked(Pass::AtTempo).expect("judged");
    let opened = room.opened().expect("open");
    let said = panels::passage_room::found(&opened.passage, checked);
    window.get_by_label(&said);
    window.get_by_label("pass 3, At tempo, played");
    for _ in 0..4 {
        press(&mut window, Key::ArrowRight);
    }
    let walked = window.state().room.note().expect("a note");
    assert_eq!(walked, 3, "the D4 of bar 2");
    let checked = window.state().room.checked(Pass::AtTempo).expect("judged");
    let narrow = checked.notes.iter().find(|note| note.aligned.note == Some(3)).expect("played");
    assert!(!narrow.differences.is_empty(), "{narrow:?}");
    let of_note =
        coach::played::of_note(&window.state().room.opened().expect("open").passage, narrow);
    window.get_by_label(&tuning::figure::sentence(&of_note.expect("it differs")));
    press(&mut window, Key::PageDown);
    assert_eq!(window.state().room.pass(), Pass::Unseen);
    assert_eq!(window.state().room.phase(), Phase::Ready);
}

#[test]
fn nothing_of_the_pass_without_looking_is_shown_before_its_end() {
    let mut window = harness(Scene::played(Pass::Unseen, 9.0), vec2(1280.0, 800.0));
    window.run();
    assert_eq!(window.state().room.phase(), Phase::Playing);
    window
        .get_by_label("staff and ribbons of Low tide: pass 4, Without looking, playing, not shown");
}

#[test]
fn which_note_had_most_vibrato_is_asked_before_anything_is_shown() {
    let asked = "Which note had most vibrato?";
    let scene = Scene::judged(Pass::Unseen);
    let checked = scene.room.checked(Pass::Unseen).expect("judged").clone();
    let passage = scene.room.opened().expect("open").passage.clone();
    let most = coach::played::widest(&checked, 0).expect("several were played").note;
    let found = panels::passage_room::found(&passage, &checked);
    let mut window = harness(scene, vec2(1280.0, 800.0));
    window.get_by_label(asked);
    window.get_by_label(
        "staff and ribbons of Low tide: pass 4, Without looking, asked of, not shown",
    );
    assert!(window.query_by_label_contains("cents").is_none(), "nothing is told yet");
    assert!(window.query_by_label("this note had most vibrato").is_none(), "none is meant yet");
    // The first note, which is straight.
    press(&mut window, Key::ArrowRight);
    window.get_by_label(&format!("{asked} F3 in bar 1?"));
    click(&mut window, "this note had most vibrato");
    let told =
        window.get_by_label_contains("You said F3 in bar 1, where no vibrato was measured; ");
    let told = told.accesskit_node().label().expect("a sentence");
    assert!(told.contains(" had most: ") && told.ends_with(&found), "{told}");
    // Rightly named, and not at all.
    let mut right = harness(Scene::judged(Pass::Unseen), vec2(1280.0, 800.0));
    let place =
        right.state().room.opened().expect("open").heads().iter().position(|it| *it == most);
    for _ in 0..=place.expect("a head") {
        press(&mut right, Key::ArrowRight);
    }
    press(&mut right, Key::Enter);
    right.get_by_label_contains(", and so it was: ");
    let mut left = harness(Scene::judged(Pass::Unseen), vec2(1280.0, 800.0));
    press(&mut left, Key::Escape);
    left.get_by_label(&found);
    // Played once more, it is asked anew.
    press(&mut left, Key::PageUp);
    assert_eq!(left.state().room.phase(), Phase::Playing);
}

#[test]
fn what_comes_back_from_pass_to_pass_is_told_until_the_plan_is_another() {
    let mut scene = Scene::judged(Pass::AtTempo);
    let checked = scene.room.checked(Pass::AtTempo).expect("it was judged").clone();
    for played in 1..6 {
        assert!(played > 2 || scene.room.habits().is_empty(), "{:?}", scene.room.habits());
        let again = PassageHeard::Judged(scene.room.run(), Box::new(checked.clone()));
        scene.room.told(again);
    }
    let said = scene.room.habits().first().cloned().expect("one note, again and again");
    assert!(said.contains("(D4, bar 2) was always narrower than you planned"), "{said}");
    let mut window = harness(scene, vec2(1280.0, 800.0));
    window.get_by_label_contains(&said);
    window.state_mut().apply(PassageAction::Pass(Pass::Straight));
    window.run();
    assert!(window.query_by_label_contains(&said).is_none());
    window.state_mut().apply(PassageAction::Choose(1));
    assert!(window.state().room.habits().is_empty());
}

#[test]
fn a_pass_has_a_report_once_its_take_is_kept() {
    let mut scene = Scene::judged(Pass::AtTempo);
    let take: journal::TakeId = "2026-11-25/17-41-09".parse().expect("a name");
    assert_eq!(scene.room.report(), None, "it is not kept yet");
    scene.room.is_kept(Pass::Vibrated, take.clone());
    assert_eq!(scene.room.report(), None, "of a pass that was not played");
    scene.room.is_kept(Pass::AtTempo, take.clone());
    let Some(ReportOf::Pass { passage, take: of, straight }) = scene.room.report() else {
        panic!("{:?}", scene.room.report());
    };
    assert_eq!((of, straight, passage.title.as_str()), (take, None, "Low tide"));
    assert_eq!(passage.pace.bpm, scene.room.bpm(), "at the pace it was played at");
    let mut window = harness(scene, vec2(1280.0, 800.0));
    window.get_by_label("report");
    // Another plan: what was played was not of it.
    press(&mut window, Key::W);
    press(&mut window, Key::ArrowUp);
    press(&mut window, Key::Enter);
    assert_eq!(window.state().room.report(), None);
}
