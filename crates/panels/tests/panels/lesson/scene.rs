//! Lessons as they are played: made sound, through the ear.

use crate::scenes::sound::{drill, lasting, listening, made};
use crate::scenes::window::Shown;
use coach::{Outcome, Task, TaskTake, Work};
use egui::Ui;
use journal::TakeId;
use panels::commands;
use panels::drill_room::DrillFile;
use panels::lesson_room::{LessonAction, LessonRoom, Standing, Takes, lesson_ui};
use panels::shell::options::Options;
use panels::shell::{room::Room, rooms};
use panels::stand::{Action, Heard, Stand};
use tone::{Factor, NoteSpec, VibratoSpec};
use tuning::{Cents, Hz, Secs};
use vibrato::{Ear, Event, Settings};

/// A lesson with the Stand that goes on listening behind it.
#[derive(Clone)]
pub(super) struct Scene {
    pub room: LessonRoom,
    pub stand: Stand,
}

/// A vibrato with a little of a player's own unevenness.
pub(super) fn vibrated(start: f64, secs: f64, hz: f64, rate: f64, width: f64) -> NoteSpec {
    let vibrato = VibratoSpec {
        rate_jitter_pct: 3.0,
        width_jitter_pct: 6.0,
        delay: Secs(0.15),
        ..VibratoSpec::regular(Hz(rate), Cents(width))
    };
    NoteSpec::straight(Secs(start), Secs(secs), Hz(hz)).with(vibrato)
}

impl Scene {
    /// Nothing played yet.
    pub(super) fn waiting() -> Self {
        let mut stand =
            listening(Options { instrument: Some("cello".to_owned()), ..Options::default() });
        let titles = [("there-and-back".to_owned(), "There and back".to_owned())];
        stand.apply(Action::Heard(Heard::Drills(titles.into())));
        let mut room = LessonRoom::default();
        let drills = ["there-and-back", "bloom"]
            .map(|name| DrillFile { name: name.to_owned(), drill: Ok(drill(name)) });
        room.apply(LessonAction::Drills(drills.to_vec()), &stand.shell);
        Self { room, stand }
    }

    /// The same after a lesson with a task.
    pub(super) fn with_a_task_before() -> Self {
        let mut scene = Self::waiting();
        let task = Task {
            work: Work::Drill("there-and-back".to_owned()),
            pace: Some((60.0, 4.0)),
            count: Some(4),
            times: 5,
            rate: Some((Hz(4.7), Hz(5.3))),
            width: Some((Cents(30.0), Cents(45.0))),
            words: "Keep the hand loose when the third finger comes.".to_owned(),
        };
        let take = |motions: &[(f64, f64)]| TaskTake {
            motions: motions.to_vec(),
            counts: vec![(4, Some(4)), (3, Some(4)), (4, Some(4))],
        };
        let takes = [
            take(&[(4.2, 20.0), (4.4, 24.0), (4.1, 27.0)]),
            take(&[(4.9, 31.0), (5.0, 38.0), (4.8, 29.0)]),
        ];
        let standing = Standing {
            outcome: Outcome::of(&task, &takes),
            task,
            given: "18 November 2026".to_owned(),
        };
        scene.apply(LessonAction::Standing(Some(Box::new(standing))));
        scene
    }

    /// A model of one note that blooms.
    pub(super) fn model() -> Self {
        let mut scene = Self::with_a_task_before();
        let factor = |time, width| Factor { time: Secs(time), width, rate: 1.0 };
        let mut note = vibrated(0.4, 3.0, 147.0, 5.2, 38.0);
        if let Some(vibrato) = &mut note.vibrato {
            vibrato.contour = vec![factor(0.0, 0.5), factor(1.8, 1.2), factor(3.0, 1.0)];
        }
        scene.play(&[note], 6.2);
        scene
    }

    /// One echo: narrower, a little flat, the same through the note.
    pub(super) fn one_echo() -> Self {
        let mut scene = Self::model();
        scene.play(&[vibrated(0.4, 2.8, 146.0, 5.4, 22.0)], 6.0);
        scene
    }

    /// Three echoes that come nearer.
    pub(super) fn three_echoes() -> Self {
        let mut scene = Self::one_echo();
        scene.play(&[vibrated(0.4, 2.9, 146.6, 5.5, 30.0)], 6.0);
        scene.play(&[vibrated(0.4, 3.0, 147.1, 5.2, 37.0)], 6.0);
        let id = |time: &str| TakeId::new("2026-11-25", time).expect("a name");
        scene.apply(LessonAction::Taken(Takes {
            model: Some(id("17-41-09")),
            echoes: ["17-42-00", "17-42-20", "17-42-40"].map(id).to_vec(),
        }));
        scene
    }

    /// A phrase of four notes and an echo of three an octave higher: the second late and narrow, the third early.
    pub(super) fn phrase() -> Self {
        let mut scene = Self::waiting();
        let phrase = |hz: [f64; 4], octave: f64| -> Vec<NoteSpec> {
            let place =
                |(i, hz): (usize, f64)| vibrated(0.4 + 1.5 * i as f64, 1.3, hz * octave, 5.2, 34.0);
            hz.into_iter().enumerate().map(place).collect()
        };
        let notes = [146.83, 164.81, 185.0, 164.81];
        scene.play(&phrase(notes, 1.0), 9.0);
        let mut echo = phrase(notes, 2.0);
        echo.remove(3);
        echo[1].start.0 += 0.12;
        echo[2].start.0 -= 0.05;
        if let Some(vibrato) = &mut echo[1].vibrato {
            vibrato.width = Cents(14.0);
        }
        scene.play(&echo, 8.0);
        // An octave higher it could have been sung.
        scene.apply(LessonAction::IsEcho(true));
        scene
    }

    pub(super) fn apply(&mut self, action: LessonAction) {
        self.room.apply(action, &self.stand.shell);
    }

    /// Lets both hear these notes and the silence after them, as the program does; all on one clock.
    pub(super) fn play(&mut self, notes: &[NoteSpec], secs: f64) {
        self.hear(&lasting(made(notes.to_vec()), secs));
    }

    pub(super) fn hear(&mut self, samples: &[f32]) {
        self.hear_unlike(0.0, samples);
    }

    /// The same, so unlike a bow.
    pub(super) fn hear_unlike(&mut self, unlike_bow: f64, samples: &[f32]) {
        let zero = self.stand.live().time.unwrap_or_default();
        let mut ear = Ear::new(Settings::default());
        ear.hear(samples, |event, ear| {
            let note = ear.note().filter(|_| event == Event::NoteEnded);
            let note = note.map(|note| {
                let mut note = note.later(zero);
                note.remarks.unlike_bow = unlike_bow;
                note
            });
            let event = later(event, zero);
            self.room.hear(&event, note.as_ref());
            self.stand.apply(Action::Heard(match note {
                Some(note) => Heard::Note(Box::new(note)),
                None => Heard::Event(event),
            }));
        });
    }
}

impl Shown for Scene {
    fn draw(&mut self, ui: &mut Ui) {
        for action in rooms::strip_ui(ui, Room::Lesson, &self.stand.shell) {
            self.stand.apply(action);
        }
        for action in lesson_ui(ui, &self.room, &self.stand) {
            if let LessonAction::Do(command) = action {
                self.stand.apply(Action::Do(command));
            }
            self.apply(action);
        }
        for action in rooms::over_ui(ui, &self.stand.shell, || commands::behind(&self.stand)) {
            self.stand.apply(action);
        }
    }

    fn stand(&mut self) -> &mut Stand {
        &mut self.stand
    }
}

/// The event on a clock that is `by` ahead.
fn later(event: Event, by: Secs) -> Event {
    let at = |time: Secs| Secs(time.0 + by.0);
    match event {
        Event::Frame(frame) => Event::Frame(pitch::Frame { time: at(frame.time), ..frame }),
        Event::NoteBegan { start, midi, reference } => {
            Event::NoteBegan { start: at(start), midi, reference }
        }
        Event::Live(live) => Event::Live(vibrato::Live { time: at(live.time), ..live }),
        Event::Oscillation(oscillation) => {
            Event::Oscillation(vibrato::Oscillation { start: at(oscillation.start), ..oscillation })
        }
        Event::Turn { time, f0, crest } => Event::Turn { time: at(time), f0, crest },
        Event::Rebowed { time } => Event::Rebowed { time: at(time) },
        Event::Lost { time, length } => Event::Lost { time: at(time), length },
        Event::NoteDropped | Event::NoteEnded => event,
    }
}
