//! The room Journal in the window: its thread, what is played of a take, whose takes the next ones are.

use std::path::PathBuf;
use std::sync::Arc;
use std::sync::mpsc::{Receiver, Sender, channel};

use coach::Drill;
use panels::journal_room::{JournalAction, JournalHeard, JournalOrder, JournalRoom, Judges};
use panels::shell::room::Room;
use panels::stand::{Action, Command, Heard};

use super::{Window, choosing, teller};
use crate::journal_thread::{FromJournal, JournalThread};
use crate::player::Clip;
use crate::takes::Takes;

/// The room Journal and what the window keeps for it.
pub(super) struct JournalHost {
    pub room: JournalRoom,
    /// Its thread, once the room was seen.
    pub thread: Option<JournalThread>,
    /// What that tells.
    pub told: Receiver<FromJournal>,
    tell: Sender<FromJournal>,
    /// The take that is played.
    played: Option<Clip>,
}

impl JournalHost {
    /// Without its thread yet.
    pub(super) fn new() -> Self {
        let (tell, told) = channel();
        Self { room: JournalRoom::new(), thread: None, told, tell, played: None }
    }
}

impl Window {
    /// The room is seen for the first time: its thread begins.
    pub(super) fn open_journal(&mut self) {
        if self.journal.thread.is_some() {
            return;
        }
        let Some(folder) = self.opening.journal(&self.in_force) else {
            let words = "there is no folder for takes on this system; name one with --journal";
            self.journal_hears(JournalHeard::NoJournal(words.to_owned()));
            return;
        };
        let told = teller(&self.journal.tell, &self.context);
        let open = self.takes.as_ref().map(Takes::journal);
        let open = move || open.as_ref().and_then(|open| open());
        match JournalThread::start(folder, open, told) {
            Ok(thread) => self.journal.thread = Some(thread),
            Err(error) => self.journal_hears(JournalHeard::NoJournal(format!(
                "the thread that reads takes cannot be started ({error})"
            ))),
        }
    }

    /// Another folder holds the takes from now on.
    pub(super) fn close_journal(&mut self) {
        self.journal.thread = None;
        self.journal.room = Default::default();
        if self.stand.shell.room == Room::Journal {
            self.tell_judges();
            self.open_journal();
        }
    }

    /// Another room is seen: what is played of a take is no longer heard.
    pub(super) fn journal_is_left(&mut self) {
        if self.journal.played.take().is_some() {
            self.sounds.stop_clip();
            self.journal_hears(JournalHeard::Stopped);
        }
    }

    /// Tells the room what takes can be judged as: the passages, and the drills, that which is open as it is set.
    pub(super) fn tell_judges(&mut self) {
        let drills =
            self.drill.room.drills().iter().filter_map(|listed| listed.drill.as_ref().ok());
        let open = self.drill.room.drill();
        let as_set =
            |drill: &Drill| open.filter(|open| open.name == drill.name).unwrap_or(drill).clone();
        let passages = self.passage.room.passages().iter().filter_map(|listed| {
            Some((listed.name.clone(), listed.passage.as_ref().ok()?.clone()))
        });
        let judges = Judges { drills: drills.map(as_set).collect(), passages: passages.collect() };
        self.journal_hears(JournalHeard::Judges(Arc::new(judges)));
    }

    /// What the player did in the room.
    pub(super) fn journal_asked(&mut self, action: JournalAction) {
        self.journal.room.apply(action, &self.stand.shell);
        self.do_journal_orders();
    }

    pub(super) fn journal_hears(&mut self, heard: JournalHeard) {
        self.journal.room.hear(heard);
        self.do_journal_orders();
    }

    /// What the thread told.
    pub(super) fn journal_told(&mut self, told: FromJournal) {
        match told {
            FromJournal::Room(heard) => self.journal_hears(heard),
            FromJournal::Play(clip) => self.play_take(clip),
            FromJournal::Phrase(brought) => self.bring_to_lesson(*brought),
            FromJournal::Recordings(files) => self.journal_asked(JournalAction::Add(files)),
        }
    }

    /// Recordings were brought to the window: they become takes of whoever plays now, and that is seen.
    pub(super) fn take_in(&mut self, files: Vec<PathBuf>) {
        self.do_asked(Action::Do(Command::Room(Room::Journal)));
        self.open_journal();
        self.journal_asked(JournalAction::Add(files));
    }

    fn play_take(&mut self, clip: Clip) {
        self.sounds.play(Room::Journal, clip.clone());
        self.journal.played = Some(clip);
    }

    fn do_journal_orders(&mut self) {
        for order in self.journal.room.wants() {
            match order {
                JournalOrder::Player(player) => self.set(|options| options.now_plays(player)),
                JournalOrder::Erase(player) => {
                    self.set(|options| options.forgets(&player));
                    self.order_of_journal(JournalOrder::Erase(player));
                }
                JournalOrder::Pick(pick) => {
                    choosing::choose(pick, teller(&self.journal.tell, &self.context));
                }
                JournalOrder::Seek(place) => {
                    if let Some(clip) = self.journal.played.take() {
                        self.play_take(Clip { start: place, ..clip });
                    }
                }
                JournalOrder::Stop => {
                    self.journal.played = None;
                    self.sounds.stop_clip();
                }
                JournalOrder::Report(of) => self.do_asked(Action::Report(of)),
                order => self.order_of_journal(order),
            }
        }
    }

    /// Orders something of the thread.
    fn order_of_journal(&mut self, order: JournalOrder) {
        match &self.journal.thread {
            Some(thread) => thread.order(order),
            None => self.hear(Heard::Word(
                "the journal is not open; its folder is named in the settings".to_owned(),
            )),
        }
    }
}
