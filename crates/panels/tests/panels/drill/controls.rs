//! Buttons and fields by the names a screen reader tells, and what is said of a round.

use super::WINDOW;
use super::play::{Player, TURN, cello, session, there_and_back};
use crate::scenes::window::{click, harness, press};
use coach::{GapLimit, Pace, Showing};
use egui::{Key, vec2};
use egui_kittest::kittest::{NodeT, Queryable};
use panels::drill_room::{DrillAction, Phase};
use panels::shell::options::Options;
use tuning::Secs;

const TALL: egui::Vec2 = vec2(1280.0, 1400.0);

#[test]
fn a_drill_is_opened_by_its_name_and_a_bad_file_says_what_to_mend() {
    let mut harness = harness(Player::new(cello()), WINDOW);
    let bad = harness.get_by_label_contains("mine cannot be used");
    let said = bad.accesskit_node().label().expect("it is told");
    for part in ["Line 1, column 11", "version 9", "`version: 1`", "mine.ron"] {
        assert!(said.contains(part), "{part}: {said}");
    }
    harness.get_by_label_contains("drill There and back, fingers 2-3-2").click();
    harness.run();
    assert_eq!(harness.state().room.phase(), Phase::Ready);
    harness.get_by_label_contains("Stop at pain, numbness or tingling");
}

#[test]
fn all_that_can_be_changed_has_a_name_and_changes() {
    let mut harness = harness(Player::at("there-and-back", cello()), TALL);
    for (name, action) in [
        ("3 oscillations a beat", DrillAction::PerBeat(3.0)),
        ("add finger 4", DrillAction::Fingers(vec![2, 3, 2, 4])),
        ("remove the last finger", DrillAction::Fingers(vec![2, 3, 2])),
        ("click", DrillAction::Click(false)),
        ("guide tone", DrillAction::Guide(true)),
        ("measure the delay", DrillAction::Calibrate),
        ("way of showing: live", DrillAction::Showing),
        ("free pace", DrillAction::FreePace(true)),
        ("start", DrillAction::Ready),
    ] {
        click(&mut harness, name);
        assert_eq!(harness.state().asked.last(), Some(&action), "{name}");
    }
    assert_eq!(harness.state().room.phase(), Phase::Round);
    click(&mut harness, "stop");
    assert_eq!(harness.state().room.phase(), Phase::Ready);
    let drill = harness.state().room.drill().expect("open");
    assert_eq!(drill.pace, Pace::Free);
}

#[test]
fn the_rules_are_said_before_the_drill_starts_and_can_be_changed() {
    let mut harness = harness(Player::at("there-and-back", cello()), TALL);
    harness.get_by_label_contains("A round is secure when every note is played, and no other one; each count is exact; no gap of 0.7 oscillations or more at a change; the rate keeps to the beat within 10 %");
    click(&mut harness, "gaps: asked for");
    let rules = harness.state().room.drill().expect("open").rules;
    assert_eq!(rules.gap_below, None);
    assert!(harness.query_by_label_contains("no gap of").is_none());
    click(&mut harness, "gaps: asked for");
    let rules = harness.state().room.drill().expect("open").rules;
    assert_eq!(rules.gap_below, Some(GapLimit::Usual));
    harness.get_by_label_contains("no finger lies 10 cents or more beside its note");
    click(&mut harness, "intonation: asked for");
    let rules = harness.state().room.drill().expect("open").rules;
    assert_eq!(rules.beside_cents, None);
    assert!(harness.query_by_label_contains("beside its note").is_none());
    // Nothing is asked for while nobody does anything.
    let before = harness.state().asked.len();
    harness.run_steps(3);
    assert_eq!(harness.state().asked.len(), before);
}

#[test]
fn what_is_hidden_is_not_told_either() {
    let hidden = |showing| Options { showing, ..cello() };
    for (showing, first) in [
        (Showing::AfterNote, "note 1 (finger 2, F3): 4 of 4"),
        (Showing::AfterRound, "note 1 (finger 2, F3): 4 asked"),
    ] {
        let mut player = Player::started("there-and-back", hidden(showing));
        player.until(&there_and_back(), TURN + 2.9);
        let harness = harness(player, WINDOW);
        harness.get_by_label(first);
        harness.get_by_label("note 2 (finger 3, F♯3): 4 asked, now");
        harness.get_by_label("wanted 2 of 4");
        harness.get_by_label("rate: asked 2.0 Hz");
        assert!(harness.query_by_label_contains("made").is_none());
    }
}

#[test]
fn findings_are_told_turn_by_turn_with_the_rule_that_was_not_held() {
    let mut player = Player::started("all-in-a-row", cello());
    player.until(&session("stop-and-press", TURN - 0.6), TURN + 11.0);
    player.act(DrillAction::AllMeasures);
    let harness = harness(player, TALL);
    harness.get_by_label("Not secure yet.");
    let broken =
        "what stopped it:  From finger 2 to finger 3 the motion stops for 0.9 oscillations (0.4";
    harness.get_by_label_contains(broken);
    // The advice names the measure and does not say the finding again.
    harness.get_by_label_contains("while the hand keeps swinging (gap 0.4");
    assert_eq!(harness.query_all_by_label_contains("the motion stops for").count(), 1);
    harness.get_by_label_contains("Finger 4 lies");
    let row = harness.get_by_label_contains("note, F3 2: made 4 / 4 of asked");
    let said = row.accesskit_node().label().expect("it is told");
    for part in ["rate ", "width ", "rate spread", "out of round", "centre", "gap 0.4"] {
        assert!(said.contains(part), "{part}: {said}");
    }
    let course = harness.get_by_label_contains("the course of the round; gaps: 1 to 2 ");
    let said = course.accesskit_node().label().expect("it is told");
    assert!(said.contains("2 to 3 0.4"), "{said}");
    harness.get_by_label_contains("Against finger");
}

#[test]
fn the_beat_is_judged_only_where_the_delay_of_the_sound_is_known() {
    for known in [false, true] {
        let mut options = cello();
        options.set_delay(known.then_some(Secs(0.04)));
        let mut player = Player::started("there-and-back", options);
        player.until(&there_and_back(), TURN + 8.3);
        let harness = harness(player, TALL);
        let told = harness.query_by_label_contains("were on the beat");
        assert_eq!(told.is_some(), known);
    }
}

#[test]
fn the_findings_have_room_in_a_window_and_say_what_to_know_of_each_note() {
    let mut player = Player::started("all-in-a-row", cello());
    player.until(&session("stop-and-press", TURN - 0.6), TURN + 11.0);
    let mut harness = harness(player, WINDOW);
    let row = harness.get_by_label_contains("note, F3 2: made 4 / 4 of asked");
    let said = row.accesskit_node().label().expect("it is told");
    assert!(said.contains("what to know stops after it"), "{said}");
    assert!(!said.contains("out of round"), "{said}");
    harness.get_by_label_contains("note, G3 4: made 4 / 4 of asked");
    assert!(harness.query_by_label_contains("Against finger").is_none());
    // What does not fit is turned over by the keys of a pedal, before they go on.
    press(&mut harness, Key::V);
    assert_eq!(harness.state().asked.last(), Some(&DrillAction::AllMeasures));
    harness.run();
    let asked = harness.state().asked.len();
    press(&mut harness, Key::PageDown);
    assert_eq!(harness.state().asked.len(), asked, "the page turns, and no round starts");
}

#[test]
fn nothing_is_graded() {
    let mut player = Player::started("all-in-a-row", cello());
    player.until(&session("stop-and-press", TURN - 0.6), TURN + 11.0);
    let harness = harness(player, TALL);
    for word in ["score", "points of 100", "grade", "bad", "wrong", "mistake", "★"] {
        assert!(harness.query_by_label_contains(word).is_none(), "{word}");
    }
}

#[test]
fn a_report_of_the_round_needs_its_take() {
    let mut player = Player::started("there-and-back", cello());
    player.until(&there_and_back(), TURN + 9.0);
    let mut harness = harness(player, WINDOW);
    assert_eq!(harness.state().room.phase(), Phase::Findings);
    assert!(harness.query_by_label_contains("report").is_none());
    let id = "2026-11-25/17-41-09".parse().expect("a name");
    harness.state_mut().room.round_take = Some(id);
    harness.run();
    click(&mut harness, "report");
    assert_eq!(harness.state().asked.last(), Some(&DrillAction::Report));
    harness.state_mut().room.apply(DrillAction::Ready, &panels::shell::Shell::new(cello()));
    assert_eq!(harness.state().room.round_take, None, "the next round has none yet");
}

#[test]
fn the_beat_to_which_a_bloom_swells_is_said_to_be_the_strong_one() {
    for (into, said) in [(1.5, "beat 2"), (2.2, "beat 3, the strong one"), (3.5, "beat 4")] {
        let mut player = Player::started("bloom", cello());
        player.until(&[], TURN + into);
        let harness = harness(player, WINDOW);
        harness.get_by_label(&format!("pace wave: note 1, {said}"));
        let large = harness.query_all_by_label(said).count();
        assert_eq!(large, 1, "{said}");
    }
}

#[test]
fn what_a_measure_of_a_round_means_is_told_at_its_caption() {
    let mut player = Player::started("there-and-back", cello());
    player.until(&there_and_back(), TURN + 9.0);
    player.act(DrillAction::AllMeasures);
    let harness = harness(player, TALL);
    for name in ["rate", "width", "gap"] {
        let mut captions = harness.query_all_by_role(egui::accesskit::Role::ColumnHeader);
        let of_name =
            |node: &egui_kittest::Node| node.accesskit_node().label().as_deref() == Some(name);
        let caption = captions.find(of_name).expect("it has a column");
        let term = panels::TERMS.iter().find(|term| term.name == name).expect("it is listed");
        assert_eq!(caption.accesskit_node().description().as_deref(), Some(term.means), "{name}");
    }
}
