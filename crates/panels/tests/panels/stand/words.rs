//! What is said: on the sheet and to a screen reader.

use super::WINDOW;
use super::heard::{B_FLAT_3, ended, hear, play_as, reference, sound, stand, vibrato};
use crate::scenes::window::{harness, press};
use coach::{Curtain, Showing, Swing};
use egui::accesskit::Role;
use egui::{Key, vec2};
use egui_kittest::kittest::{NodeT, Queryable};
use panels::Source;
use panels::shell::options::{Options, Practised};
use panels::shell::room::Room;
use panels::stand::picture::SPAN;
use panels::stand::{Action, Command, Heard, Stand, Take};
use panels::theme::Paper;
use pitch::Frame;
use tuning::{Cents, Hz, Secs, Tuning};
use vibrato::{Event, Live, Measure, Motion, Note, Oscillation};

#[test]
fn before_the_first_note_it_asks_for_one_and_cautions_once() {
    let mut stand = stand();
    let harness = harness(stand.clone(), WINDOW);
    harness.get_by_label("no note yet");
    harness.get_by_label("rate: no note");
    harness.get_by_label_contains("Stop at pain, numbness or tingling");
    sound(&mut stand, 2.0, vibrato());
    stand.apply(Action::Heard(Heard::Note(Box::new(ended(false)))));
    let after = self::harness(stand, WINDOW);
    assert!(after.query_by_label_contains("Stop at pain").is_none());
}

#[test]
fn a_take_is_promised_only_where_the_next_note_starts_one() {
    let promised = |stand: &Stand| {
        let harness = harness(stand.clone(), WINDOW);
        let promise = harness.query_by_label_contains("The next note starts a take");
        promise.is_some()
    };
    let mut stand = stand();
    stand.apply(Action::Heard(Heard::Take(Take::Ready)));
    assert!(!promised(&stand), "nothing is heard yet");
    stand.apply(Action::Heard(Heard::Source(Source::Hearing { words: "listening".to_owned() })));
    assert!(promised(&stand));
    stand.apply(Action::Do(Command::Take));
    assert!(!promised(&stand), "takes are turned off");
    stand.apply(Action::Do(Command::Take));
    stand.apply(Action::Heard(Heard::Source(Source::Demo {
        name: "four-fingers".to_owned(),
        missing: None,
    })));
    assert!(!promised(&stand), "a demo session is nobody's take");
}

#[test]
fn the_passage_that_takes_are_of_is_said_as_long_as_they_are() {
    let said = |stand: &Stand| {
        let harness = harness(stand.clone(), WINDOW);
        let said = harness.query_by_label_contains("Takes are of");
        said.and_then(|said| said.accesskit_node().label())
    };
    let mut stand = stand();
    stand.apply(Action::Heard(Heard::Source(Source::Hearing { words: "listening".to_owned() })));
    stand.apply(Action::Heard(Heard::Take(Take::Ready)));
    assert_eq!(said(&stand), None);
    let practise = |stand: &mut Stand, passage: &str| {
        let practised = Practised { player: String::new(), passage: passage.to_owned() };
        let options = Options { practised: Some(practised), ..stand.shell.options().clone() };
        stand.apply(Action::Set(Box::new(options)));
    };
    practise(&mut stand, "bars 12 to 20");
    let words = "Takes are of “bars 12 to 20”; G ends this.";
    assert_eq!(said(&stand).as_deref(), Some(words));
    stand.apply(Action::Heard(Heard::Take(Take::Running)));
    assert_eq!(said(&stand).as_deref(), Some(words));
    practise(
        &mut stand,
        "the slow\nmiddle part, from the entry of the second voice to the fermata",
    );
    let words = "Takes are of “the slow middle part, from the entry of…”; G ends this.";
    assert_eq!(said(&stand).as_deref(), Some(words));
    let options = Options { player: "Bea".to_owned(), ..stand.shell.options().clone() };
    stand.apply(Action::Set(Box::new(options)));
    assert_eq!(said(&stand), None, "it is another player's");
}

#[test]
fn a_sounding_note_is_said_with_its_units_and_doubts() {
    let mut stand = stand();
    sound(&mut stand, 2.7, vibrato());
    let harness = harness(stand, WINDOW);
    harness.get_by_label("note B♭3, centre 6 cents flat ±0.8");
    let rate = harness.get_by_label("rate: 5.6 Hz ±0.2");
    assert_eq!(rate.accesskit_node().role(), Role::Meter);
    assert_eq!(rate.accesskit_node().numeric_value(), Some(5.62));
    let width = harness.get_by_label("width: 34 cents ±3");
    assert_eq!(width.accesskit_node().numeric_value(), Some(34.4));
}

#[test]
fn unknown_is_said_in_words_and_a_note_without_vibrato_has_an_offset_instead() {
    let mut unknown = stand();
    sound(&mut unknown, 2.0, Motion::Unknown);
    let shown = harness(unknown, WINDOW);
    for said in ["rate: unknown", "width: unknown"] {
        assert_eq!(shown.get_by_label(said).accesskit_node().numeric_value(), None);
    }
    let mut straight = stand();
    sound(&mut straight, 2.0, Motion::Straight);
    let shown = harness(straight, WINDOW);
    shown.get_by_label_contains("offset: ");
    assert!(shown.query_by_label_contains("rate: ").is_none());
}

#[test]
fn the_measures_of_a_note_stay_until_the_next_one_begins() {
    let mut stand = stand();
    sound(&mut stand, 2.0, vibrato());
    stand.apply(Action::Heard(Heard::Note(Box::new(ended(false)))));
    let harness = harness(stand.clone(), WINDOW);
    harness.get_by_label(
        "measures of B♭3: rate 5.62 ±0.03 Hz, width 33.6 ±0.7 cents, centre −6.1 ±0.4 cents, \
         rate spread 6 ±1 %, width spread unknown, onset 0.42 ±0.02 s",
    );
    harness.get_by_label("last note B♭3, centre 6 cents flat ±0.4");
    harness.get_by_label("rate of the last note: 5.6 Hz ±0.03");
    sound(&mut stand, 2.0, Motion::Unknown);
    let next = self::harness(stand, WINDOW);
    assert!(next.query_by_label_contains("measures of B♭3").is_none());
}

#[test]
fn a_straight_note_is_called_straight_afterwards() {
    let mut stand = stand();
    sound(&mut stand, 2.0, Motion::Straight);
    stand.apply(Action::Heard(Heard::Note(Box::new(ended(true)))));
    let harness = harness(stand, WINDOW);
    harness.get_by_label(
        "measures of B♭3: vibrato none, centre −6.1 ±0.3 cents, \
         unsteadiness 1.2 cents, length 1.50 s",
    );
    // Offset and drift stand in the place of rate and width: that there is no vibrato is said once.
    harness.get_by_label_contains("offset of the last note: ");
    assert!(harness.query_by_label_contains("width of the last note").is_none());
}

#[test]
fn slides_along_the_string_are_told_until_a_note_follows() {
    let slide = |stand: &mut Stand| {
        for hop in 0..1_000 {
            let time = 0.005 * f64::from(hop);
            let cents = Cents(250.0 * (1.0 - (std::f64::consts::TAU * time).cos()));
            let f0 = Some(Hz(220.0).raised(cents));
            hear(stand, Event::Frame(Frame::plain(Secs(time), f0, -20.0)));
        }
    };
    let mut stand = stand();
    slide(&mut stand);
    let said = "Up and back 5 times, 1.0 a second, 5.0 semitones wide: keep the pace, and let the way \
                grow smaller.";
    let harness = harness(stand.clone(), WINDOW);
    harness.get_by_label(said);
    // A piece of it that passed for a note is not asked about.
    let mut asked = Stand::new(Options { showing: Showing::AfterNote, ..Options::default() });
    slide(&mut asked);
    hear(&mut asked, Event::NoteBegan { start: Secs(4.0), midi: B_FLAT_3, reference: reference() });
    let piece = Note { start: Secs(4.0), end: Secs(4.6), ..ended(true) };
    asked.apply(Action::Heard(Heard::Note(Box::new(piece))));
    assert_eq!(asked.curtain(), Curtain::Open);
    sound(&mut stand, 2.0, Motion::Straight);
    stand.apply(Action::Heard(Heard::Note(Box::new(ended(true)))));
    let next = self::harness(stand, WINDOW);
    assert!(next.query_by_label_contains("Up and back").is_none());
}

#[test]
fn what_changed_is_said_of_a_note_in_tune_and_of_another_first_that_it_is_not() {
    let said = |centre: f64, swing: Swing, words: &str| {
        let mut stand = Stand::new(Options { showing: Showing::Live, swing, ..Options::default() });
        for centre in [-6.0, centre] {
            play_as(&mut stand, Cents(34.0), Cents(centre));
        }
        harness(stand, WINDOW).get_by_label_contains(words);
    };
    said(-6.0, Swing::Around, "As fast and as wide as the note before");
    said(19.0, Swing::Around, "The hand swings, but sharp (+19 cents): hear the note first");
    said(-26.0, Swing::Around, "The hand swings, but flat (−26 cents): hear the note first");
    said(-17.0, Swing::Below, "As fast and as wide as the note before");
    said(4.0, Swing::Below, "The hand swings, but sharp (+21 cents): hear the note first");
}

#[test]
fn a_vibrato_in_straight_practice_is_told_and_not_praised() {
    let mut stand = Stand::new(Options::default());
    play_as(&mut stand, Cents(34.0), Cents(-6.0));
    harness(stand.clone(), WINDOW).get_by_label_contains("under Drill follows from it");
    stand.apply(Action::Do(Command::Straight));
    let words = "It swings by 34 cents: once more, with a still hand.";
    harness(stand, WINDOW).get_by_label(words);
}

#[test]
fn where_the_sound_has_ended_nothing_is_hidden_until_the_end_of_a_round() {
    let mut stand = Stand::new(Options { showing: Showing::AfterRound, ..Options::default() });
    play_as(&mut stand, Cents(34.0), Cents(-6.0));
    let hidden = |stand: &Stand| {
        let harness = harness(stand.clone(), WINDOW);
        harness.query_by_label_contains("listening until the round is over").is_some()
    };
    assert!(hidden(&stand));
    let words = "the sound has come to its end".to_owned();
    stand.apply(Action::Heard(Heard::Source(Source::Over { words })));
    assert!(!hidden(&stand));
}

#[test]
fn what_the_reference_waits_for_is_not_said_in_another_room() {
    let mut stand = stand();
    let words = "play a note without vibrato first";
    let is_said = |stand: &Stand| {
        let harness = harness(stand.clone(), WINDOW);
        harness.query_by_label_contains(words).is_some()
    };
    stand.apply(Action::Do(Command::TakeReference));
    assert!(is_said(&stand));
    for room in [Room::Drill, Room::Stand] {
        stand.apply(Action::Do(Command::Room(room)));
    }
    assert!(!is_said(&stand));
}

#[test]
fn remarks_say_what_to_do() {
    let mut stand = stand();
    sound(&mut stand, 2.0, vibrato());
    let mut note = ended(false);
    note.remarks.room = true;
    stand.apply(Action::Heard(Heard::Note(Box::new(note))));
    harness(stand, WINDOW).get_by_label_contains("come within about 60 cm");
}

#[test]
fn a_missing_microphone_is_said_with_what_to_do_and_nothing_looks_live() {
    let mut stand = stand();
    sound(&mut stand, 2.0, vibrato());
    stand.apply(Action::Heard(Heard::Source(Source::Trouble {
        words: "no microphone is there; plug one in".to_owned(),
        demo: true,
    })));
    let harness = harness(stand, WINDOW);
    let alert =
        harness.get_by_label_contains("Nothing is heard: No microphone is there; plug one in.");
    assert_eq!(alert.accesskit_node().role(), Role::Alert);
    harness.get_by_label("rate: no note");
    harness.get_by_label("level: none");
}

#[test]
fn the_level_is_said_in_words() {
    let mut stand = stand();
    let level = |stand: &mut Stand, peak_dbfs, clipped| {
        stand.apply(Action::Heard(Heard::Level { peak_dbfs, clipped }));
    };
    harness(stand.clone(), WINDOW).get_by_label("level: none");
    level(&mut stand, -75.0, false);
    harness(stand.clone(), WINDOW).get_by_label("level: silence");
    sound(&mut stand, 1.0, Motion::Unknown);
    harness(stand.clone(), WINDOW).get_by_label("level: too quiet: come closer");
    level(&mut stand, 0.0, true);
    harness(stand.clone(), WINDOW).get_by_label("level: clipping: turn it down");
    for _ in 0..40 {
        level(&mut stand, -20.0, false);
    }
    harness(stand, WINDOW).get_by_label("level: good");
}

#[test]
fn zoom_stops_at_both_ends() {
    let mut stand = stand();
    for command in [Command::ZoomIn, Command::ZoomOut] {
        let action = Action::Do(command);
        for _ in 0..20 {
            stand.apply(action.clone());
        }
        let end = stand.reach();
        stand.apply(action);
        assert_eq!(stand.reach(), end);
    }
}

#[test]
fn another_source_starts_on_an_empty_sheet() {
    let mut stand = stand();
    sound(&mut stand, 2.0, vibrato());
    stand.apply(Action::Do(Command::Hold));
    stand.apply(Action::Heard(Heard::Anew));
    assert!(!stand.holding());
    assert!(stand.picture().played.points.is_empty());
    assert_eq!(stand.picture().time, None);
}

#[test]
fn a_note_that_began_before_anybody_listened_is_a_note_all_the_same() {
    let mut stand = stand();
    sound(&mut stand, 1.0, vibrato());
    stand.apply(Action::Heard(Heard::Anew));
    let time = Secs(4.0);
    hear(&mut stand, Event::Frame(Frame::plain(time, Some(reference()), -20.0)));
    hear(
        &mut stand,
        Event::Live(Live::plain(
            time,
            B_FLAT_3,
            reference(),
            Measure::known(Cents(0.0), Cents(1.0)),
            vibrato(),
        )),
    );
    assert!(stand.picture().played.in_note(time));
    assert!(!stand.picture().played.in_note(Secs(3.9)));
}

#[test]
fn only_the_last_dozen_oscillations_and_what_the_trace_can_show_are_kept() {
    let mut stand = stand();
    sound(&mut stand, 30.0, vibrato());
    for count in 0..50 {
        hear(
            &mut stand,
            Event::Oscillation(Oscillation {
                start: Secs(f64::from(count) * 0.2),
                period: Secs(0.2),
                crest: Cents(10.0),
                trough: Cents(-10.0),
            }),
        );
    }
    let picture = stand.picture();
    assert_eq!(picture.oscillations.len(), 12);
    assert_eq!(picture.oscillations[11].start, Secs(49.0 * 0.2));
    let first = picture.played.points.front().map(|point| point.time.0);
    let newest = picture.time.map(|time| time.0);
    assert!(newest > Some(29.9) && first >= newest.map(|t| t - SPAN.0));
}

#[test]
fn the_view_stays_on_a_note_that_swings_and_follows_one_that_goes() {
    let mut stand = stand();
    sound(&mut stand, 1.0, vibrato());
    let middle = stand.picture().middle().expect("a note was heard");
    let tuning = Tuning::default();
    let go_to = |stand: &mut Stand, midi: i32, from: f64| {
        for i in 0..300 {
            let time = Secs(from + f64::from(i) * 0.005);
            let reference = tuning.frequency(midi);
            hear(stand, Event::Frame(Frame::plain(time, Some(reference), -20.0)));
            hear(
                stand,
                Event::Live(Live::plain(
                    time,
                    midi,
                    reference,
                    Measure::known(Cents(0.0), Cents(1.0)),
                    Motion::Unknown,
                )),
            );
        }
    };
    // On a wide sheet a neighbour lies in the quiet middle.
    for _ in 0..9 {
        stand.apply(Action::Do(Command::ZoomOut));
    }
    go_to(&mut stand, B_FLAT_3 + 1, 1.0);
    assert_eq!(stand.picture().middle(), Some(middle));
    for _ in 0..9 {
        stand.apply(Action::Do(Command::ZoomIn));
    }
    go_to(&mut stand, B_FLAT_3 + 1, 2.5);
    let now = stand.picture().middle().expect("a note was heard");
    assert!((now.0 - middle.0 - 100.0).abs() < 1.0, "{now:?} after {middle:?}");
}

#[test]
fn it_draws_at_every_size_and_on_both_papers() {
    for size in [vec2(480.0, 360.0), WINDOW, vec2(1280.0, 800.0), vec2(2560.0, 1440.0)] {
        let mut stand = stand();
        sound(&mut stand, 9.0, vibrato());
        hear(&mut stand, Event::Lost { time: Secs(7.0), length: Secs(0.25) });
        let mut harness = harness(stand, size);
        harness.get_by_label("trace of the pitch: B♭3, 0.2 s of the sound is lost");
        press(&mut harness, Key::L);
        assert_eq!(harness.state().shell.options().paper, Paper::Dark);
    }
}

#[test]
fn a_screen_reader_is_told_values_at_a_calm_pace() {
    let mut stand = stand();
    sound(&mut stand, 0.6, vibrato());
    let mut told = vec![stand.spoken_summary().clone()];
    // Ten seconds in which rate and width change with every frame.
    for frame in 0..2000 {
        let time = Secs(0.6 + f64::from(frame) * 0.005);
        hear(&mut stand, Event::Frame(Frame::plain(time, Some(reference()), -20.0)));
        let away = f64::from(frame) * 0.01;
        hear(
            &mut stand,
            Event::Live(Live::plain(
                time,
                B_FLAT_3,
                reference(),
                Measure::known(Cents(away), Cents(0.5)),
                Motion::Vibrato {
                    rate: Measure::known(Hz(4.0 + away * 0.1), Hz(0.05)),
                    width: Measure::known(Cents(20.0 + away), Cents(0.5)),
                },
            )),
        );
        if told.last() != Some(stand.spoken_summary()) {
            told.push(stand.spoken_summary().clone());
        }
    }
    // Once every two seconds, and no stale value for longer than that.
    assert!((5..=7).contains(&told.len()), "{}: {told:?}", told.len());
    let harness = harness(stand.clone(), WINDOW);
    harness.get_by_label(&stand.spoken_summary().rate);
    harness.get_by_label(&stand.spoken_summary().width);
    harness.get_by_label(&stand.spoken_summary().note);
}
