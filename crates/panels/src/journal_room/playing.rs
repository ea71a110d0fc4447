//! How the open take is played: from where, which part, how fast.

use super::opened::Compared;
use super::{JournalOrder, JournalRoom, Opened, Played, TraceOf};
use journal::{TakeFile, TakeId};
use std::sync::Arc;
use tuning::Secs;

/// The shortest part that is repeated.
const LEAST_PART: f64 = 0.2;

impl JournalRoom {
    /// Opens the chosen take.
    pub(super) fn open(&mut self) {
        self.in_take = self.chosen.is_some();
        self.show();
    }

    /// The chosen take is read, if it is not the one that is.
    pub(super) fn show(&mut self) {
        let Some(entry) = self.chosen_entry().cloned() else {
            return;
        };
        if self.opened.as_ref().is_some_and(|opened| opened.id == entry.id) {
            return;
        }
        self.stop();
        let length = Secs(f64::from(entry.length_s));
        self.opened = Some(Opened {
            id: entry.id.clone(),
            file: None,
            trouble: None,
            trace: match entry.sound {
                journal::SoundFile::Whole { .. } => TraceOf::Coming,
                journal::SoundFile::None => TraceOf::None("there is no sound".to_owned()),
                journal::SoundFile::Forgotten => TraceOf::None(
                    "its sound was thrown away to make room; its measures stay".to_owned(),
                ),
            },
            drawn: Arc::default(),
            played: Played {
                sounds: false,
                at: Secs(0.0),
                part: (Secs(0.0), length),
                looped: false,
                half: false,
            },
        });
        self.orders.push(JournalOrder::Read(entry.id.clone()));
    }

    pub(super) fn take_file(&mut self, id: &TakeId, file: &Arc<TakeFile>) {
        if let Some(opened) = self.opened.as_mut().filter(|opened| opened.id == *id) {
            let whole = (Secs(0.0), Secs(file.length_s));
            let first = opened.file.replace(Arc::clone(file)).is_none();
            if first {
                opened.played.part = whole;
                opened.draw(&[]);
            }
            opened.trouble = None;
        }
        for half in self.compared.iter_mut().flatten() {
            if half.0 == *id {
                half.1 = Some(Compared::of(Arc::clone(file), &[]));
            }
        }
    }

    pub(super) fn length(&self) -> Secs {
        let opened = self.opened.as_ref();
        let known = opened.and_then(|opened| self.entry(&opened.id));
        Secs(known.map_or(0.0, |entry| f64::from(entry.length_s)))
    }

    pub(super) fn play_or_stop(&mut self) {
        self.open();
        let Some(opened) = &mut self.opened else {
            return;
        };
        if opened.played.sounds {
            self.stop();
            return;
        }
        if matches!(opened.trace, TraceOf::None(_)) {
            return;
        }
        let (from, to) = opened.played.part;
        if opened.played.at < from || opened.played.at.0 >= to.0 - 0.02 {
            opened.played.at = from;
        }
        opened.played.sounds = true;
        self.order_play();
    }

    pub(super) fn order_play(&mut self) {
        let Some(opened) = self.opened.as_ref().filter(|o| o.played.sounds) else {
            return;
        };
        let Played { at, part, looped, half, .. } = opened.played;
        self.orders.push(JournalOrder::Play {
            id: opened.id.clone(),
            from: at,
            part,
            looped,
            speed: if half { 0.5 } else { 1.0 },
        });
    }

    pub(super) fn stop(&mut self) {
        if let Some(opened) = self.opened.as_mut().filter(|o| o.played.sounds) {
            opened.played.sounds = false;
            self.orders.push(JournalOrder::Stop);
        }
    }

    pub(super) fn seek(&mut self, to: Secs) {
        let length = self.length();
        let Some(opened) = &mut self.opened else {
            return;
        };
        let to = Secs(to.0.clamp(0.0, length.0));
        opened.played.at = to;
        if opened.played.sounds {
            self.orders.push(JournalOrder::Seek(to));
        }
    }

    pub(super) fn set_part(&mut self, part: impl FnOnce(&Played) -> (Secs, Secs)) {
        let length = self.length();
        self.change_played(|played| {
            let (from, to) = part(played);
            let (from, to) = (from.0.min(to.0), from.0.max(to.0));
            let to = to.max(from + LEAST_PART).min(length.0);
            played.part = (Secs((to - LEAST_PART).min(from).max(0.0)), Secs(to));
        });
    }

    pub(super) fn part_of_note(&mut self, number: usize) {
        let file = self.opened.as_ref().and_then(|opened| opened.file.clone());
        let Some(note) = file.as_ref().and_then(|file| file.notes.get(number)) else {
            return;
        };
        let (from, to) = (Secs(note.start_s), Secs(note.end_s));
        self.set_part(|_| (from, to));
        self.seek(from);
    }

    /// How it is played changes: what sounds goes on in the new way.
    pub(super) fn change_played(&mut self, change: impl FnOnce(&mut Played)) {
        let Some(opened) = &mut self.opened else {
            return;
        };
        let before = opened.played;
        change(&mut opened.played);
        if opened.played != before {
            self.order_play();
        }
    }
}
