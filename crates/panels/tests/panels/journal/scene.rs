//! Journals that are worth a picture. Nothing depends on time or chance.

use crate::scenes::sound::{drill, root};
use crate::scenes::window::Shown;
use coach::plan::Passage;
use egui::{Ui, Vec2};
use egui_kittest::Harness;
use journal::{
    Context, Entry, Fingering, NoteMeasures, SoundFile, TakeFile, TakeId, VibratoMeasures,
};
use panels::commands;
use panels::journal_room::{
    JournalAction, JournalHeard, JournalOrder, JournalRoom, Judges, Writing, journal_ui,
};
use panels::shell::options::Options;
use panels::stand::Stand;
use pitch::Frame;
use std::f64::consts::TAU;
use std::sync::Arc;
use tuning::{Cents, Hz, Secs, Tuning};
use vibrato::{Measures, Note, Quantity};

/// A window as a player may have it.
pub(super) const WINDOW: Vec2 = egui::vec2(1180.0, 760.0);

/// What a test looks at: the room, the Stand behind it, what the program was asked for.
pub(super) struct Scene {
    pub room: JournalRoom,
    pub stand: Stand,
    pub orders: Vec<JournalOrder>,
}

impl Scene {
    pub(super) fn new(room: JournalRoom, options: Options) -> Self {
        Self { room, stand: Stand::new(options), orders: Vec::new() }
    }

    pub(super) fn apply(&mut self, action: JournalAction) {
        self.room.apply(action, &self.stand.shell);
        self.orders.extend(self.room.wants());
    }
}

impl Shown for Scene {
    fn draw(&mut self, ui: &mut Ui) {
        for action in journal_ui(ui, &self.room, &self.stand.shell) {
            self.apply(action);
        }
        for action in
            panels::shell::rooms::over_ui(ui, &self.stand.shell, || commands::behind(&self.stand))
        {
            self.stand.apply(action);
        }
    }

    fn stand(&mut self) -> &mut Stand {
        &mut self.stand
    }

    fn settle(harness: &mut Harness<'static, Self>) {
        // What scrolled in the last picture is back at its start.
        harness.ctx.memory_mut(|memory| memory.data.clear());
        harness.run_steps(3);
        // What is seen beside the list was ordered to be read.
        answer(harness.state_mut(), &files());
        harness.run_steps(2);
    }
}

/// Numbers between −1 and 1 that look like chance.
pub(super) fn shade(number: usize) -> f64 {
    let x = (number as f64 * 12.9898).sin() * 43_758.545;
    2.0 * (x - x.floor()) - 1.0
}

/// A note of so many seconds with a vibrato of this rate and width.
pub(super) fn note(
    start: f64,
    length: f64,
    midi: i32,
    finger: Option<u8>,
    rate: f64,
    width: f64,
) -> NoteMeasures {
    let plain =
        Note::plain(midi, Tuning::default().frequency(midi), Secs(start), Secs(start + length));
    let shaded = |number: f64| shade(number as usize);
    let count = ((length - 0.5) * rate).floor().max(0.0) as usize;
    NoteMeasures {
        start_s: start,
        end_s: start + length,
        reference_hz: plain.reference.0,
        f0_hz: (plain.reference.0, Some(0.05)),
        offset_cents: (1.5, Some(0.6)),
        level_dbfs: -21.0,
        confidence: 0.94,
        unsteadiness_cents: 1.4,
        straight: false,
        vibrato: Some(VibratoMeasures {
            measures: Measures::default()
                .with(Quantity::Rate, rate, Some(0.05))
                .with(Quantity::Width, width, Some(1.2))
                .with(Quantity::Centre, -2.3 + 1.5 * shade(midi as usize), Some(0.6))
                .with(Quantity::RateSpread, 6.0 + 2.0 * shaded(40.0 * width), Some(1.1))
                .with(Quantity::WidthSpread, 9.0 + 3.0 * shaded(90.0 * rate), Some(1.6))
                .with(Quantity::OutOfRound, 3.0 + shaded(70.0 * rate), Some(0.5))
                .with(Quantity::Drift, -1.0 + shaded(50.0 * width), Some(0.8))
                .with(Quantity::Onset, 0.21 + 0.05 * shaded(30.0 * rate), Some(0.03)),
            contour: Vec::new(),
            oscillations: (0..count)
                .map(|n| (start + 0.25 + n as f64 / rate, 1.0 / rate, 0.5 * width, -0.5 * width))
                .collect(),
        }),
        ..NoteMeasures::of(&plain, &Fingering { finger, string: None })
    }
}

/// A straight note.
pub(super) fn straight(start: f64, length: f64, midi: i32) -> NoteMeasures {
    NoteMeasures { straight: true, vibrato: None, ..note(start, length, midi, None, 5.0, 0.0) }
}

/// A take with these notes.
pub(super) fn file(id: &TakeId, player: &str, notes: Vec<NoteMeasures>) -> TakeFile {
    let length_s = notes.last().map_or(0.0, |note| note.end_s + 1.0);
    let time = id.time().get(..8).expect("a time").replace('-', ":");
    let context = Context {
        room: "Stand".to_owned(),
        player: player.to_owned(),
        instrument: Some("cello".to_owned()),
        device: "Built-in microphone".to_owned(),
        ..Context::default()
    };
    let began = format!("{}T{time}+00:00[UTC]", id.day());
    TakeFile {
        length_s,
        sound: SoundFile::Whole { samples: (length_s * 48_000.0) as u64, crc32: 0 },
        notes,
        ..TakeFile::begun(&context, began, 48_000)
    }
}

pub(super) fn id(text: &str) -> TakeId {
    text.parse().expect("the name of a take")
}

/// Twelve weeks of two players, who practise on most days: the rate of the fourth finger grows steadier.
pub(super) fn files() -> Vec<(TakeId, TakeFile)> {
    let mut files = Vec::new();
    let first = jiff::civil::date(2026, 9, 3);
    for day in 0..84_usize {
        if day % 7 == 6 || (35..44).contains(&day) {
            continue;
        }
        let date = first.checked_add(jiff::Span::new().days(day as i64)).expect("a day");
        for take in 0..(2 + day % 3) {
            let number = 10 * day + take;
            let name = format!("{date}/17-{:02}-{:02}", 5 + 9 * take, (7 * number) % 60);
            let id = id(&name);
            let notes = (0..4 + number % 5)
                .map(|n| {
                    let finger = 1 + (n % 4) as u8;
                    let loose = 1.0 - day as f64 / 120.0;
                    let rate = 5.3 + 0.6 * loose * shade(31 * number + n);
                    let width = 24.0 + 4.0 * f64::from(finger == 2) + 6.0 * shade(17 * number + n);
                    let midi = 50 + i32::from(finger) * 2;
                    note(0.8 + 2.4 * n as f64, 2.1, midi, Some(finger), rate, width)
                })
                .collect();
            let player = if number % 4 == 3 { "Jonas" } else { "Mira" };
            let mut file = file(&id, player, notes);
            if take == 1 {
                file.drill = Some("four fingers".to_owned());
            }
            if take == 2 {
                file.passage = Some("slow movement".to_owned());
            }
            file.keep = number % 23 == 1;
            files.push((id, file));
        }
    }
    let last = files.last_mut().expect("there are some");
    last.1.word = "warm and even".to_owned();
    files
}

/// What a room hears of these takes.
pub(super) fn told(files: &[(TakeId, TakeFile)]) -> JournalHeard {
    let entries = files.iter().map(|(id, file)| Arc::new(Entry::of_file(id, file)));
    JournalHeard::Entries { entries: Arc::new(entries.collect()), unread: Vec::new() }
}

/// A journal that may be written to.
pub(super) fn room() -> JournalRoom {
    let mut room = JournalRoom::new();
    room.hear(JournalHeard::Writing(Writing::Allowed));
    room.hear(told(&files()));
    let drills = ["one-finger", "there-and-back"].map(drill).to_vec();
    let text = root().join("assets/passages/low-tide.passage.txt");
    let text = std::fs::read_to_string(text).expect("a passage that comes along");
    let passage = Passage::from_text(&text).expect("well written");
    let passages = vec![("low-tide".to_owned(), passage)];
    room.hear(JournalHeard::Judges(Arc::new(Judges { drills, passages })));
    room
}

/// The pitch of these notes.
pub(super) fn frames(file: &TakeFile) -> Vec<Frame> {
    let count = (file.length_s / 0.005) as usize;
    let frame = |n: usize| {
        let time = n as f64 * 0.005;
        let lost =
            file.lost.iter().any(|lost| (lost.at_s..lost.at_s + lost.length_s).contains(&time));
        let note =
            file.notes.iter().find(|note| !lost && (note.start_s..note.end_s).contains(&time));
        let cents = note.map(|note| {
            let of = |quantity, none| note.get(quantity).map_or(none, |known| known.value);
            let vibrato = (of(Quantity::Rate, 5.0), of(Quantity::Width, 0.0));
            let since = time - note.start_s - 0.25;
            let grown = (since / 0.4).clamp(0.0, 1.0);
            note.offset_cents.0 - 0.5 * vibrato.1 * grown * (TAU * vibrato.0 * since).cos()
        });
        Frame {
            time: Secs(time),
            f0: cents.zip(note).map(|(cents, note)| Hz(note.reference_hz).raised(Cents(cents))),
            confidence: if note.is_some() { 0.94 } else { 0.05 },
            level_dbfs: if note.is_some() { -20.0 } else { -70.0 },
            upper_dbfs: if note.is_some() { -26.0 } else { -76.0 },
            disagreement: None,
            lean_db: 0.0,
        }
    };
    (0..count).map(frame).collect()
}

/// Answers what the room ordered to be read.
pub(super) fn answer(scene: &mut Scene, files: &[(TakeId, TakeFile)]) {
    for order in std::mem::take(&mut scene.orders) {
        let (JournalOrder::Read(wanted) | JournalOrder::ReadToCompare(wanted)) = &order else {
            scene.orders.push(order);
            continue;
        };
        let Some((id, file)) = files.iter().find(|(id, _)| id == wanted) else {
            continue;
        };
        scene.room.hear(JournalHeard::Take { id: id.clone(), file: Arc::new(file.clone()) });
        scene.room.hear(JournalHeard::Trace { id: id.clone(), frames: frames(file) });
    }
}

/// The latest take is open.
pub(super) fn open(options: Options) -> Scene {
    let mut scene = Scene::new(room(), options);
    scene.apply(JournalAction::Open);
    answer(&mut scene, &files());
    scene
}
