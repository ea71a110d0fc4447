//! The Lesson with a phrase of 45 s as model, and echoes as long.

use crate::Room;
use egui::Ui;
use panels::lesson_room::{LessonAction, LessonRoom, lesson_ui};
use panels::shell::options::Options;
use panels::stand::{Action, Heard, Stand};
use pitch::Frame;
use tuning::{Cents, Hz, Secs, Tuning};
use vibrato::{ContourPoint, Event, Live, Measure, Measures, Motion, Note, Quantity, Vibrato};

/// From one frame to the next, in seconds.
const HOP: f64 = 0.005;
/// So many notes, each so many frames long with the rest after it.
const NOTES: u64 = 30;
const NOTE: u64 = 300;
const REST: u64 = 12;
/// Silence that ends a phrase, and a little, in frames.
const SILENCE: u64 = 600;
/// A phrase and the silence after it.
const WHOLE: u64 = NOTES * NOTE + SILENCE;
const MIDI: [i32; 5] = [57, 59, 61, 62, 64];
const RATE: f64 = 5.4;

/// A lesson and the Stand that listens behind it, with the phrase that is played over and over.
pub(crate) struct Player {
    room: LessonRoom,
    stand: Stand,
    frame: u64,
    width: f64,
    played: bool,
}

impl Player {
    fn new() -> Self {
        Self {
            room: LessonRoom::default(),
            stand: Stand::new(Options::default()),
            frame: 0,
            width: 40.0,
            played: false,
        }
    }

    fn with_echoes(widths: &[f64]) -> Self {
        let mut player = Self::new();
        player.phrase();
        for &width in widths {
            player.width = width;
            player.phrase();
        }
        assert_eq!(player.room.lesson().echoes().len(), widths.len());
        player
    }

    fn apply(&mut self, action: LessonAction) {
        self.room.apply(action, &self.stand.shell);
    }

    fn hear(&mut self, event: Event) {
        self.room.hear(&event, None);
        self.stand.apply(Action::Heard(Heard::Event(event)));
    }

    /// A phrase and the silence after it.
    fn phrase(&mut self) {
        for _ in 0..WHOLE {
            self.step();
        }
    }

    /// The next frame of a phrase that comes again after its silence.
    fn step(&mut self) {
        let at = self.frame % WHOLE;
        let (number, since) = (at / NOTE, at % NOTE);
        let sounds = number < NOTES && since < NOTE - REST;
        let midi = MIDI[number as usize % MIDI.len()];
        let reference = Tuning::default().frequency(midi);
        let time = self.frame as f64 * HOP;
        let since_s = since as f64 * HOP;
        if sounds && since == 0 {
            self.hear(Event::NoteBegan { start: Secs(time), midi, reference });
        }
        let swing = 0.5 * self.width * (std::f64::consts::TAU * RATE * since_s).sin();
        self.hear(Event::Frame(Frame::plain(
            Secs(time),
            sounds.then(|| reference.raised(Cents(swing))),
            -21.0,
        )));
        if sounds {
            self.hear(Event::Live(Live::plain(
                Secs(time),
                midi,
                reference,
                Measure::known(Cents(0.5), Cents(0.5)),
                Motion::Vibrato {
                    rate: Measure::known(Hz(RATE), Hz(0.1)),
                    width: Measure::known(Cents(self.width), Cents(1.0)),
                },
            )));
        }
        if number < NOTES && since == NOTE - REST {
            let note = note(midi, time - since_s, self.width);
            self.room.hear(&Event::NoteEnded, Some(&note));
            self.stand.apply(Action::Heard(Heard::Note(Box::new(note))));
        }
        self.frame += 1;
    }
}

impl Room for Player {
    fn frame(&mut self) {
        if self.played {
            self.step();
        }
    }

    fn draw(&mut self, ui: &mut Ui) {
        for action in lesson_ui(ui, &self.room, &self.stand) {
            self.room.apply(action, &self.stand.shell);
        }
    }
}

/// The lesson in each state that is drawn in its own way.
pub(crate) fn rooms() -> Vec<(&'static str, Player)> {
    let mut played = Player::with_echoes(&[30.0]);
    played.played = true;
    for _ in 0..WHOLE - SILENCE - NOTE * 4 {
        played.step();
    }
    let many: Vec<f64> = (0..40).map(|echo| 25.0 + f64::from(echo) / 4.0).collect();
    let mut note = Player::with_echoes(&[30.0, 35.0]);
    note.apply(LessonAction::Into(7));
    vec![
        ("a model", Player::with_echoes(&[])),
        ("model and echo", Player::with_echoes(&[30.0])),
        ("model and 40 echoes", Player::with_echoes(&many)),
        ("model and echo, note by note", noted()),
        ("one note of model and echo", note),
        ("an echo that sounds for 39 s", played),
    ]
}

/// Model and echoes, note by note.
pub(crate) fn noted() -> Player {
    let mut noted = Player::with_echoes(&[30.0, 33.0, 36.0]);
    noted.apply(LessonAction::Align);
    noted
}

fn note(midi: i32, start: f64, width: f64) -> Note {
    let reference = Tuning::default().frequency(midi);
    let point = |i: usize| ContourPoint {
        time: Secs(start + 0.1 * i as f64),
        rate: Hz(RATE),
        width: Cents(width + (i % 5) as f64),
    };
    let end = Secs(start + (NOTE - REST) as f64 * HOP);
    Note::plain(midi, reference, Secs(start), end).vibrated(Vibrato {
        others: Measures::default()
            .with(Quantity::RateSpread, 4.0, Some(1.0))
            .with(Quantity::WidthSpread, 6.0, Some(1.5))
            .with(Quantity::OutOfRound, 2.0, Some(0.5))
            .with(Quantity::Drift, 0.0, Some(0.5)),
        contour: (1..14).map(point).collect(),
        ..Vibrato::even(Hz(RATE), Cents(width), Secs(start + 0.2), 6)
    })
}
