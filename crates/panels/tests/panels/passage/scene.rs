//! Passages as they are played: made sound, through the ear, followed and judged as the program does it.

use crate::scenes::sound::{listening, made, root, silence};
use crate::scenes::window::Shown;
use coach::follow::Follower;
use coach::plan::{Along, Edit, Intention, Passage, Pitch};
use egui::Ui;
use panels::commands;
use panels::passage_room::{
    Pass, PassageAction, PassageFile, PassageHeard, PassageRoom, Phase, PlanAction, Score,
    ScorePart, passage_ui,
};
use panels::shell::options::Options;
use panels::shell::{room::Room, rooms};
use panels::stand::Stand;
use tone::{Factor, Join, NoteSpec, VibratoSpec};
use tuning::{Cents, Hz, Secs, Tuning};
use vibrato::{Ear, Event, Settings};

/// The room with the Stand that goes on listening behind it.
#[derive(Clone)]
pub(crate) struct Scene {
    pub room: PassageRoom,
    pub stand: Stand,
}

/// A passage that comes along.
pub(super) fn passage(name: &str) -> Passage {
    let file = root().join("assets/passages").join(format!("{name}.passage.txt"));
    let text = std::fs::read_to_string(file).expect("a passage of the repository");
    Passage::from_text(&text).expect("well written")
}

/// The first bars of a passage as they are planned, but for what `change` does to the width of a note, by its number.
fn performed(passage: &Passage, bars: u32, change: impl Fn(usize, f64) -> f64) -> Vec<NoteSpec> {
    let beat = passage.beat().0;
    let mut at = 0.5;
    let mut notes: Vec<NoteSpec> = Vec::new();
    for (number, note) in passage.notes().iter().enumerate() {
        let secs = note.beats.get() * beat;
        if note.at.bar > bars {
            break;
        }
        if let Pitch::Single(pitch) = note.pitch {
            let f0 = Tuning::default().frequency(pitch.midi());
            let sounds = if note.slur { secs } else { secs - 0.06 };
            let mut spec = NoteSpec::straight(Secs(at), Secs(sounds), f0);
            if note.slur {
                spec.join = Join::Legato;
                if let Some(last) = notes.last_mut() {
                    last.length = Secs(at - last.start.0);
                }
            }
            let (width, shape) = match note.intention {
                Intention::Straight => (0.0, [1.0; 3]),
                Intention::Contour { width, .. } => {
                    let most = width.iter().fold(1.0_f64, |most, width| most.max(width.0));
                    (most, width.map(|width| width.0 / most))
                }
            };
            let width = change(number, width);
            if width > 0.0 {
                let factor =
                    |at: f64, width: f64| Factor { time: Secs(at * secs), rate: 1.0, width };
                let contour = vec![
                    factor(0.0, shape[0].max(0.02)),
                    factor(0.4, shape[1].max(0.02)),
                    factor(1.0, shape[2].max(0.02)),
                ];
                let vibrato = VibratoSpec {
                    rate_jitter_pct: 2.0,
                    width_jitter_pct: 3.0,
                    contour,
                    ..VibratoSpec::regular(Hz(5.2), Cents(width))
                };
                spec = spec.with(vibrato);
            }
            notes.push(spec);
        }
        at += secs;
    }
    notes
}

impl Scene {
    /// The list, while it is asked what of a score of two parts is wanted.
    pub(super) fn asked_of_a_score() -> Self {
        let mut scene = Self::choosing();
        let part = |number, name: &str, voices: &[&str], bars| ScorePart {
            number,
            name: name.to_owned(),
            voices: voices.iter().map(|voice| (*voice).to_owned()).collect(),
            bars: Some(bars),
        };
        let parts =
            vec![part(1, "Viola", &[], (0, 64)), part(3, "Violoncello", &["1", "2"], (1, 64))];
        scene.room.ask_of(Score { name: "evening-walk.mxl".to_owned(), parts }, 1);
        scene
    }

    /// The list.
    pub(super) fn choosing() -> Self {
        let stand =
            listening(Options { instrument: Some("cello".to_owned()), ..Options::default() });
        let mut all: Vec<PassageFile> = ["low-tide", "up-the-hill", "walking-home"]
            .map(|name| PassageFile {
                name: name.to_owned(),
                passage: Ok(passage(name)),
                own: false,
            })
            .into();
        let words = "mine.passage.txt: line 7, column 18: \"H3\" is no note; names run from C0 to B8, with # or b (F#3)";
        all.push(PassageFile {
            name: "mine".to_owned(),
            passage: Err(words.to_owned()),
            own: false,
        });
        Self { room: PassageRoom::new(all), stand }
    }

    /// Low tide is open.
    pub(crate) fn open() -> Self {
        let mut scene = Self::choosing();
        scene.apply(PassageAction::Choose(0));
        scene.apply(PassageAction::Free(true));
        scene
    }

    /// Low tide is edited: its fourth note, with a wider peak, and what was copied from it.
    pub(super) fn edited() -> Self {
        let mut scene = Self::open();
        (0..4).for_each(|_| scene.apply(PassageAction::Walk(1)));
        scene.apply(PassageAction::Edit);
        scene.make(Edit::Width(Along::Peak, Cents(60.0)));
        scene.make(Edit::Copy);
        scene
    }

    /// A passage is written from nothing.
    pub(super) fn begun() -> Self {
        let mut scene = Self::choosing();
        scene.apply(PassageAction::New("cello".to_owned()));
        scene
    }

    /// Changes the plan.
    pub(super) fn make(&mut self, edit: Edit) {
        self.apply(PassageAction::Plan(PlanAction::Make(edit)));
    }

    /// In this pass at the pace of the plan, with nothing heard yet.
    pub(super) fn started(pass: Pass) -> Self {
        let mut scene = Self::open();
        scene.apply(PassageAction::Pass(pass));
        scene.apply(PassageAction::Bpm(52.0));
        scene.apply(PassageAction::Start);
        scene
    }

    /// Four bars are played in this pass, with the long D4 too narrow and the E3 that is to be plain moved; so much of it.
    pub(super) fn played(pass: Pass, secs: f64) -> Self {
        let mut scene = Self::started(pass);
        let straight = pass == Pass::Straight;
        let change = |number: usize, width: f64| match number {
            _ if straight => 0.0,
            3 => 0.45 * width,
            7 => 34.0,
            _ => width,
        };
        let notes = performed(&passage("low-tide"), 4, change);
        let mut samples = made(notes);
        samples.extend(silence(8.0));
        samples.truncate((secs * 48_000.0) as usize);
        scene.hear(&samples);
        scene
    }

    /// The same to its end.
    pub(super) fn judged(pass: Pass) -> Self {
        let mut scene = Self::played(pass, 60.0);
        scene.apply(PassageAction::End);
        let asks = pass == Pass::Unseen;
        let after = if asks { Phase::Asking } else { Phase::After };
        assert_eq!(scene.room.phase(), after, "it was judged");
        scene
    }

    pub(super) fn apply(&mut self, action: PassageAction) {
        self.room.apply(action);
    }

    /// Hears these samples as the program does.
    pub(super) fn hear(&mut self, samples: &[f32]) {
        let mut ear = Ear::new(Settings::default());
        let mut follower: Option<Follower> = None;
        let room = &mut self.room;
        for block in samples.chunks(2400) {
            ear.hear(block, |event, ear| {
                let note = matches!(event, Event::NoteEnded).then(|| ear.note().cloned()).flatten();
                if let Some((run, from)) = room.listening() {
                    assert_eq!(from, Secs(0.0), "a clock of its own");
                    let plan = room.wanted().expect("it is open");
                    let follower =
                        follower.get_or_insert_with(|| Follower::new(&plan, &Tuning::default()));
                    follower.push(&event, note.as_ref());
                    if let Some(now) = follower.now() {
                        room.told(PassageHeard::Now(run, now.clone()));
                    }
                }
                room.hear(&event, note.as_ref());
            });
        }
        if room.phase() == Phase::Judging {
            let plan = room.wanted().expect("it is open");
            let mut heard = follower.expect("something sounded").into_heard();
            let checked = coach::played::check(&plan, &mut heard, None, &Tuning::default());
            room.told(PassageHeard::Judged(room.run(), Box::new(checked)));
        }
    }
}

impl Shown for Scene {
    fn draw(&mut self, ui: &mut Ui) {
        for action in rooms::strip_ui(ui, Room::Passage, &self.stand.shell) {
            self.stand.apply(action);
        }
        for action in passage_ui(ui, &self.room, &self.stand.shell) {
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
