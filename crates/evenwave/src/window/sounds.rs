//! What the window plays, and when its beats are seen.

use std::collections::VecDeque;
use std::sync::mpsc::{Receiver, Sender, channel};
use std::time::Instant;

use eframe::egui;
use panels::journal_room::JournalHeard;
use panels::lesson_room::LessonAction;
use panels::shell::room::Room;
use panels::stand::Heard;
use tone::{BeatWish, DroneWish};
use tuning::Secs;

use super::{PICTURE, SEEN_AFTER, Window, teller};
use crate::player::{Clip, FromPlayer, Player, Playing};

/// What is played, and what was told of it.
pub(super) struct Sounds {
    pub player: Option<Player>,
    /// What the player tells.
    pub told: Receiver<FromPlayer>,
    /// What is sounding by the window's orders.
    ordered: Playing,
    /// The number of the run of beats that was asked for last: each has another.
    runs: u64,
    /// Beats that are still to come, with their places.
    beats: VecDeque<(u32, Instant)>,
    /// The number of the clip that is played, and the room it is played for.
    clip: u64,
    clip_of: Room,
}

impl Sounds {
    /// Starts the player; without one there are no beats, which is told.
    pub(super) fn start(tell: &Sender<Heard>, context: &egui::Context) -> Self {
        let (to_window, told) = channel();
        let started = Player::start(teller(&to_window, context));
        let player = started.map_err(|error| {
            let words = format!("the player cannot be started ({error})");
            tell.send(Heard::Loudspeaker(Some(words))).ok();
        });
        Self {
            player: player.ok(),
            told,
            ordered: Playing::default(),
            runs: 0,
            beats: VecDeque::new(),
            clip: 0,
            clip_of: Room::Stand,
        }
    }

    /// The number of another run of beats.
    pub(super) fn another_run(&mut self) -> u64 {
        self.runs += 1;
        self.runs
    }

    /// Plays a clip for this room, in place of any other.
    pub(super) fn play(&mut self, room: Room, clip: Clip) {
        self.clip += 1;
        self.clip_of = room;
        if let Some(player) = &self.player {
            player.play(Clip { number: self.clip, ..clip });
        }
    }

    /// The clip that plays fades out.
    pub(super) fn stop_clip(&self) {
        if let Some(player) = &self.player {
            player.stop();
        }
    }
}

impl Window {
    /// Tells the player what is to sound now, if that is another thing than before.
    pub(super) fn order_sound(&mut self) {
        let run = self.run_wish().or_else(|| self.passage_run());
        let options = self.options();
        let sounding = Playing {
            drone: self.stand.shell.drone_on.then(|| DroneWish {
                root: options.tuning.frequency(options.drone.midi),
                fifth: options.drone.fifth,
                level_db: options.drone.level_db,
            }),
            beat: self.stand.shell.beat_on.then(|| BeatWish {
                bpm: f64::from(options.beat.bpm),
                bar: options.beat.bar,
                audible: options.beat.audible,
            }),
            run,
            loudspeaker: options.output.name.clone(),
        };
        if sounding != self.sounds.ordered {
            if sounding.beat.is_none() {
                self.sounds.beats.clear();
            }
            if let Some(player) = &self.sounds.player {
                player.sound(sounding.clone());
            }
            let drone_changed = sounding.drone != self.sounds.ordered.drone;
            self.sounds.ordered = sounding;
            if drone_changed {
                self.tell_ear();
            }
        }
    }

    /// The ear is to expect what the program itself plays.
    pub(super) fn tell_ear(&self) {
        let partials = self.sounds.ordered.drone.iter().flat_map(DroneWish::partials);
        self.listened.asked.expect(partials.collect());
    }

    /// Takes what the player told.
    pub(super) fn hear_player(&mut self, told: FromPlayer) {
        match told {
            FromPlayer::Beat { place, at } => self.sounds.beats.push_back((place, at)),
            FromPlayer::RunBeat { run, beat, at } => {
                self.run_beat(run, beat, at);
                self.passage_beat(run, beat, at);
            }
            FromPlayer::Chirp { at } => self.chirped(at),
            FromPlayer::At { clip, place, .. } => self.clip_at(clip, place),
            FromPlayer::ClipOver { clip, why, .. } => self.clip_over(clip, why),
            FromPlayer::Loudspeaker(words) => self.hear(Heard::Loudspeaker(words)),
        }
    }

    /// The clip that plays is at this place.
    fn clip_at(&mut self, clip: u64, place: Secs) {
        if clip == self.sounds.clip && self.sounds.clip_of == Room::Journal {
            self.journal_hears(JournalHeard::At(place));
        }
    }

    /// A clip came to its end, or could not be played.
    fn clip_over(&mut self, clip: u64, why: Option<String>) {
        if clip == self.sounds.clip {
            if let Some(why) = why {
                self.hear(Heard::Word(why));
            }
            if self.sounds.clip_of == Room::Journal {
                self.journal_hears(JournalHeard::Stopped);
            } else {
                self.lesson_asked(LessonAction::Played);
            }
        }
    }

    /// Shows the beats that sound nearest to when the picture drawn at `now` is first seen, and asks for a picture
    /// when the next one sounds.
    pub(super) fn show_beats(&mut self, now: Instant) {
        while let Some(&(place, at)) = self.sounds.beats.front() {
            let ahead = at.saturating_duration_since(now);
            if ahead > SEEN_AFTER + PICTURE / 2 {
                self.context.request_repaint_after(ahead - SEEN_AFTER);
                break;
            }
            self.sounds.beats.pop_front();
            if self.stand.shell.beat_on {
                self.hear(Heard::Beat(place));
                if let Some(watch) = &mut self.watch {
                    watch.beat(now + SEEN_AFTER, at);
                }
            }
        }
    }
}
