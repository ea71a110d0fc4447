//! A passage of 300 bars: it is opened, gone through, edited, and a pass is played near its end.

use crate::Room;
use coach::follow::Now;
use coach::plan::{Edit, Go, Passage, Pitch};
use egui::Ui;
use panels::passage_room::{
    Pass, PassageAction, PassageFile, PassageHeard, PassageRoom, Phase, PlanAction, passage_ui,
};
use panels::shell::Shell;
use panels::shell::options::Options;
use pitch::Frame;
use tuning::{Cents, Secs, Tuning};
use vibrato::Event;

const BARS: usize = 300;
/// From one frame to the next, in seconds, and frames of a note.
const HOP: f64 = 0.005;
const NOTE: u64 = 90;

/// The room, with a player who plays on and on.
pub(crate) struct Player {
    pub(crate) room: PassageRoom,
    shell: Shell,
    frame: u64,
    does: Does,
}

/// What the player does from picture to picture.
#[derive(PartialEq)]
enum Does {
    Looks,
    Plays,
    /// Goes to the next note.
    Walks,
}

impl Player {
    /// The list with the long passage in it.
    pub(crate) fn choosing() -> Self {
        let bars: String = (1..=BARS)
            .map(|bar| {
                format!("bar {bar} F3 1 width 20 to 40 to 10, slur G3 1/2 finger 4, A3 1/2 straight, D4 1 width 50, C4 1\n")
            })
            .collect();
        let text = format!("title Long\ninstrument cello\npace 80\n{bars}");
        let passage = Passage::from_text(&text).expect("a passage");
        let file = PassageFile { name: "long".to_owned(), passage: Ok(passage), own: false };
        let room = PassageRoom::new(vec![file]);
        Self { room, shell: Shell::new(Options::default()), frame: 0, does: Does::Looks }
    }

    /// The same, opened.
    pub(crate) fn opened() -> Self {
        let mut player = Self::choosing();
        player.room.apply(PassageAction::Choose(0));
        assert_eq!(player.room.phase(), Phase::Ready);
        player
    }

    /// Each picture shows the next note.
    pub(crate) fn walking() -> Self {
        Self { does: Does::Walks, ..Self::opened() }
    }

    /// Its plan is edited.
    pub(crate) fn editing() -> Self {
        let mut player = Self::opened();
        player.room.apply(PassageAction::Edit);
        assert_eq!(player.room.phase(), Phase::Editing);
        player
    }

    /// Makes the vibrato of the next note wider.
    pub(crate) fn edit(&mut self) {
        for change in [PlanAction::Go(Go::On), PlanAction::Make(Edit::WidthBy(Cents(1.0)))] {
            self.room.apply(PassageAction::Plan(change));
        }
    }

    /// So many notes have been played in a pass.
    pub(crate) fn playing(notes: u64) -> Self {
        let mut player = Self::opened();
        player.room.apply(PassageAction::Free(true));
        player.room.apply(PassageAction::Pass(Pass::AtTempo));
        player.room.apply(PassageAction::Start);
        player.does = Does::Plays;
        for _ in 0..notes * NOTE {
            player.frame();
        }
        assert_eq!(player.room.phase(), Phase::Playing);
        player
    }
}

impl Room for Player {
    fn frame(&mut self) {
        if self.does != Does::Plays {
            return;
        }
        let (time, since) = (Secs(self.frame as f64 * HOP), (self.frame % NOTE) as f64 * HOP);
        let opened = self.room.opened().expect("it is open");
        let heads = opened.heads();
        let note = heads[(self.frame / NOTE) as usize % heads.len()];
        let Pitch::Single(pitch) = opened.passage.notes()[note].pitch else { return };
        let reference = Tuning::default().frequency(pitch.midi());
        if self.frame.is_multiple_of(NOTE) {
            let began = Event::NoteBegan { start: time, midi: pitch.midi(), reference };
            self.room.hear(&began, None);
        }
        let swing = Cents(20.0 * (std::f64::consts::TAU * 5.5 * since).sin());
        let frame = Frame::plain(time, Some(reference.raised(swing)), -21.0);
        self.room.hear(&Event::Frame(frame), None);
        let now = Now { note, may_be: vec![note] };
        self.room.told(PassageHeard::Now(self.room.run(), now));
        self.frame += 1;
    }

    fn draw(&mut self, ui: &mut Ui) {
        if self.does == Does::Walks {
            self.room.apply(PassageAction::Walk(1));
        }
        for action in passage_ui(ui, &self.room, &self.shell) {
            self.room.apply(action);
        }
    }
}
