//! A player at a drill: real sound through the ear, with the beat.

use crate::scenes::sound::{self, RATE, drill, listening, made, silence};
use crate::scenes::window::Shown;
use coach::Drill;
use egui::Ui;
use panels::commands;
use panels::drill_room::{DrillAction, DrillFile, DrillRoom, drill_ui};
use panels::shell::options::Options;
use panels::shell::{room::Room, rooms};
use panels::stand::{Action, Command, Stand};
use tone::{Join, NoteSpec, VibratoSpec};
use tuning::{Cents, Hz, Secs};
use vibrato::{Ear, Settings};

/// Samples between two pictures: 20 ms.
const PICTURE: usize = RATE as usize / 50;
/// The count-in's first beat.
pub(super) const FIRST: Secs = Secs(0.6);
/// The first turn, after four beats at 60.
pub(super) const TURN: f64 = 4.6;

/// The drills of the repository, and a file with a mistake in it.
pub(super) fn drills() -> Vec<DrillFile> {
    let names = [
        "one-finger",
        "there-and-back",
        "out-to-the-little-finger",
        "to-the-other-side",
        "all-in-a-row",
        "pace-ladder",
        "width-ladder",
        "rate-ladder",
        "field-walk",
        "bloom",
        "start-and-stop",
        "straight",
        "one-bow",
    ];
    let mut all: Vec<DrillFile> =
        names.map(|name| DrillFile { name: name.to_owned(), drill: Ok(drill(name)) }).to_vec();
    let bad = Drill::from_ron("(version: 9)", "mine", "mine.ron").expect_err("no such version");
    all.insert(2, DrillFile { name: "mine".to_owned(), drill: Err(bad.to_string()) });
    all
}

/// A player, the room, and what was asked of the program.
pub(crate) struct Player {
    pub room: DrillRoom,
    pub stand: Stand,
    pub asked: Vec<DrillAction>,
    /// How unlike a bow what is played sounds.
    pub unlike_bow: f64,
    ear: Ear,
    time: f64,
}

impl Player {
    /// In front of the list.
    pub(super) fn new(options: Options) -> Self {
        let mut stand = listening(options);
        stand.apply(Action::Do(Command::Room(Room::Drill)));
        Self {
            room: DrillRoom::new(drills()),
            stand,
            asked: Vec::new(),
            unlike_bow: 0.0,
            ear: Ear::new(Settings::default()),
            time: 0.0,
        }
    }

    /// With this drill open.
    pub(crate) fn at(name: &str, options: Options) -> Self {
        let mut player = Self::new(options);
        let place = drills().iter().position(|listed| listed.name == name);
        player.act(DrillAction::Choose(place.expect("a listed drill")));
        player
    }

    /// With this drill counted in from [`FIRST`] on, or at its free pace.
    pub(super) fn started(name: &str, options: Options) -> Self {
        let mut player = Self::at(name, options);
        player.act(DrillAction::Ready);
        player.room.first_beat(FIRST);
        player
    }

    /// Does what the player asked for, as the program does.
    pub(super) fn act(&mut self, action: DrillAction) {
        if action == DrillAction::Showing {
            self.stand.apply(Action::Do(Command::Showing));
        }
        self.room.apply(action, &self.stand.shell);
    }

    /// Plays these samples, with a picture each 20 ms.
    pub(super) fn hear(&mut self, samples: &[f32]) {
        let (room, unlike_bow) = (&mut self.room, self.unlike_bow);
        for block in samples.chunks(PICTURE) {
            self.ear.hear(block, |event, ear| {
                let mut note = ear.note().cloned();
                if let Some(note) = &mut note {
                    note.remarks.unlike_bow = unlike_bow;
                }
                room.hear(&event, note.as_ref());
            });
            self.time += block.len() as f64 / f64::from(RATE);
            room.tick(Secs(self.time));
        }
    }

    /// Plays what `samples` hold up to this time.
    pub(super) fn until(&mut self, samples: &[f32], secs: f64) {
        let at = |secs: f64| (secs * f64::from(RATE)).round() as usize;
        let from = at(self.time).min(samples.len());
        let to = at(secs);
        let mut part = samples[from..to.clamp(from, samples.len())].to_vec();
        part.resize(to - from, 0.0);
        self.hear(&part);
    }
}

/// One finger's sound.
pub(super) fn note(start: f64, length: f64, hz: f64, rate: f64, width: f64) -> NoteSpec {
    let vibrato = VibratoSpec {
        rate_jitter_pct: 2.5,
        width_jitter_pct: 5.0,
        ..VibratoSpec::regular(Hz(rate), Cents(width))
    };
    NoteSpec::straight(Secs(start), Secs(length), Hz(hz)).with(vibrato)
}

/// One finger's sound without vibrato.
pub(super) fn straight(start: f64, length: f64, hz: f64, drift: f64) -> NoteSpec {
    NoteSpec {
        drift: Cents(drift),
        wander: Cents(1.2),
        ..NoteSpec::straight(Secs(start), Secs(length), Hz(hz))
    }
}

/// The samples of these notes; all but the first on one bow if `legato`.
pub(super) fn sound(mut notes: Vec<NoteSpec>, legato: bool) -> Vec<f32> {
    if legato {
        for note in notes.iter_mut().skip(1) {
            note.join = Join::Legato;
            if let Some(vibrato) = &mut note.vibrato {
                vibrato.phase = Some(0.75);
            }
        }
    }
    made(notes)
}

/// A demo session, so much later.
pub(super) fn session(name: &str, later: f64) -> Vec<f32> {
    [silence(later), sound::session(name)].concat()
}

/// There and back, tidily, from the first turn on.
pub(super) fn there_and_back() -> Vec<f32> {
    session("tidy-transfer", TURN - 0.6)
}

impl Shown for Player {
    fn draw(&mut self, ui: &mut Ui) {
        let strip = rooms::strip_ui(ui, Room::Drill, &self.stand.shell);
        let asked = drill_ui(ui, &self.room, &self.stand.shell);
        let over = rooms::over_ui(ui, &self.stand.shell, || commands::behind(&self.stand));
        for action in strip.into_iter().chain(over) {
            self.stand.apply(action);
        }
        for action in asked {
            self.act(action.clone());
            self.asked.push(action);
        }
    }

    fn stand(&mut self) -> &mut Stand {
        &mut self.stand
    }
}

/// What a cellist has set.
pub(crate) fn cello() -> Options {
    Options { instrument: Some("cello".to_owned()), ..Options::default() }
}
