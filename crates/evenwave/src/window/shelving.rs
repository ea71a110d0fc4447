//! The room Journal in the window: its thread, what is played of a take, whose takes the next ones are.

use panels::journal_room::{JournalAction, JournalHeard, JournalOrder};
use panels::rooms::Room;
use panels::stand::{Action, Heard};
use tuning::Secs;

use super::Window;
use crate::player::Reel;
use crate::rooms::journal::{JournalDesk, Told};
use crate::takes::Takes;

impl Window {
    /// The room is seen for the first time: its thread begins.
    pub(super) fn open_journal(&mut self) {
        if self.desk.is_some() {
            return;
        }
        let Some(folder) = self.opening.journal(&self.in_force) else {
            let words = "there is no folder for takes on this system; name one with --journal";
            self.journal_hears(JournalHeard::NoJournal(words.to_owned()));
            return;
        };
        let (tell, context) = (self.tell_journal.clone(), self.context.clone());
        let told = move |told| {
            tell.send(told).ok();
            context.request_repaint();
        };
        let open = self.takes.as_ref().map(Takes::journal);
        let open = move || open.as_ref().and_then(|open| open());
        match JournalDesk::start(folder, open, told) {
            Ok(desk) => self.desk = Some(desk),
            Err(error) => self.journal_hears(JournalHeard::NoJournal(format!(
                "the thread that reads takes cannot be started ({error})"
            ))),
        }
    }

    /// Another folder holds the takes from now on.
    pub(super) fn close_journal(&mut self) {
        self.desk = None;
        self.journal = Default::default();
        if self.stand.room == Room::Journal {
            self.open_journal();
        }
    }

    /// What the player did in the room.
    pub(super) fn journal_asked(&mut self, action: JournalAction) {
        self.journal.apply(action, &self.stand);
        self.do_journal_orders();
    }

    pub(super) fn journal_hears(&mut self, heard: JournalHeard) {
        self.journal.hear(heard);
        self.do_journal_orders();
    }

    /// What the thread told.
    pub(super) fn journal_told(&mut self, told: Told) {
        match told {
            Told::Room(heard) => self.journal_hears(heard),
            Told::Play(reel) => self.play_take(reel),
        }
    }

    fn play_take(&mut self, reel: Reel) {
        self.play_reel(Room::Journal, reel.clone());
        self.take_played = Some(reel);
    }

    /// The take that is played is at this place.
    pub(super) fn take_at(&mut self, reel: u64, place: Secs) {
        if reel == self.reel && self.reel_of == Room::Journal {
            self.journal_hears(JournalHeard::At(place));
        }
    }

    fn do_journal_orders(&mut self) {
        for order in self.journal.wants() {
            match order {
                JournalOrder::Player(player) => {
                    let mut options = self.stand.options().clone();
                    options.player = player;
                    self.do_asked(Action::Set(Box::new(options)));
                }
                JournalOrder::Seek(place) => {
                    if let Some(reel) = self.take_played.take() {
                        self.play_take(Reel {
                            start: place,
                            ..reel
                        });
                    }
                }
                JournalOrder::Stop => {
                    self.take_played = None;
                    if let Some(player) = &self.player {
                        player.stop();
                    }
                }
                order => match &self.desk {
                    Some(desk) => desk.order(order),
                    None => self.hear(Heard::Word(
                        "the journal is not open; its folder is named in the settings".to_owned(),
                    )),
                },
            }
        }
    }
}
