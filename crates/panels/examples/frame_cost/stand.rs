//! The Stand while long notes sound on the longest trace.

use crate::Room;
use egui::Ui;
use panels::shell::options::{Options, Zoom};
use panels::stand::{Action, Heard, Stand, stand_ui};
use panels::theme::Paper;
use pitch::Frame;
use tuning::{Cents, Hz, Secs, Tuning};
use vibrato::{Event, Live, Measure, Motion, Oscillation};

/// The longest trace, and what sounds on it: four notes with a short rest after each.
const TRACE: Secs = Secs(16.0);
const NOTE: Secs = Secs(4.0);
const REST: f64 = 0.15;
const RATE: Hz = Hz(5.5);
const WIDTH: Cents = Cents(42.0);
const MIDI: i32 = 57;

/// Sound as the ear would report it, one frame of 5 ms after another.
pub(crate) struct Player {
    stand: Stand,
    frame: u64,
}

impl Player {
    fn hear(&mut self, event: Event) {
        self.stand.apply(Action::Heard(Heard::Event(event)));
    }

    fn step(&mut self) {
        let time = self.frame as f64 * 0.005;
        self.frame += 1;
        let reference = Tuning::default().frequency(MIDI);
        let since = time % NOTE.0;
        let (note, rest) = ((time / NOTE.0) as i32 % 2, NOTE.0 - REST);
        if since < 0.0025 {
            self.hear(Event::NoteBegan { start: Secs(time), midi: MIDI + note, reference });
        }
        let phase = std::f64::consts::TAU * RATE.0 * since;
        let sounds = since < rest;
        let cents = 100.0 * f64::from(note) + WIDTH.0 / 2.0 * phase.sin();
        self.hear(Event::Frame(Frame::plain(
            Secs(time),
            sounds.then(|| reference.raised(Cents(cents))),
            -21.0 + 3.0 * (0.7 * time).sin() + 0.4 * (43.0 * time).sin(),
        )));
        if !sounds {
            return;
        }
        self.hear(Event::Live(Live::plain(
            Secs(time),
            MIDI + note,
            reference.raised(Cents(100.0 * f64::from(note))),
            Measure::known(Cents(1.5), Cents(0.8)),
            Motion::Vibrato {
                rate: Measure::known(Hz(RATE.0 + 0.2 * (0.9 * time).sin()), Hz(0.15)),
                width: Measure::known(Cents(WIDTH.0 + 4.0 * (1.3 * time).sin()), Cents(2.0)),
            },
        )));
        let turns = |time: f64| (2.0 * RATE.0 * time - 0.5).floor();
        if turns(since) > turns(since - 0.005) && since > 0.1 {
            let crest = turns(since).rem_euclid(2.0) == 0.0;
            self.hear(Event::Turn { time: Secs(time), f0: reference.raised(Cents(cents)), crest });
            if !crest && since > 0.3 {
                let period = 1.0 / RATE.0;
                self.hear(Event::Oscillation(Oscillation {
                    start: Secs(time - period),
                    period: Secs(period),
                    crest: Cents(WIDTH.0 / 2.0),
                    trough: Cents(-WIDTH.0 / 2.0),
                }));
            }
        }
    }
}

impl Player {
    /// After so much sound that the trace is full.
    pub(crate) fn on(paper: Paper) -> Self {
        let mut options = Options { paper, span: 2, zoom: Zoom::ByItself, ..Options::default() };
        options.wanted.rate = Some((Hz(5.0), Hz(6.0)));
        let mut player = Self { stand: Stand::new(options), frame: 0 };
        while (player.frame as f64) * 0.005 < TRACE.0 + 1.0 {
            player.step();
        }
        player
    }
}

impl Room for Player {
    fn frame(&mut self) {
        self.step();
    }

    fn draw(&mut self, ui: &mut Ui) {
        for action in stand_ui(ui, &self.stand) {
            self.stand.apply(action);
        }
    }
}
