//! What the window plays, and when its beats are seen.

use std::sync::mpsc::{Receiver, Sender, channel};
use std::time::Instant;

use eframe::egui;
use panels::stand::Heard;
use tone::{BeatWish, DroneWish};

use super::{SEEN_AFTER, Window};
use crate::player::{Player, Playing, Told};

impl Window {
    /// Tells the player what is to sound now, if that is another thing than before.
    pub(super) fn order_sound(&mut self) {
        let run = self.run_wish();
        let options = self.stand.options();
        let sounding = Playing {
            drone: self.stand.drone_on.then(|| DroneWish {
                root: options.tuning.frequency(options.drone.midi),
                fifth: options.drone.fifth,
                level_db: options.drone.level_db,
            }),
            beat: self.stand.beat_on.then(|| BeatWish {
                bpm: f64::from(options.beat.bpm),
                bar: options.beat.bar,
                audible: options.beat.audible,
            }),
            run,
            loudspeaker: options.output.name.clone(),
        };
        if sounding != self.sounding {
            if sounding.beat.is_none() {
                self.coming.clear();
            }
            if let Some(player) = &self.player {
                player.sound(sounding.clone());
            }
            let drone_changed = sounding.drone != self.sounding.drone;
            self.sounding = sounding;
            if drone_changed {
                self.tell_ear();
            }
        }
    }

    /// The ear is to expect what the program itself plays.
    pub(super) fn tell_ear(&self) {
        let partials = self.sounding.drone.iter().flat_map(DroneWish::partials);
        self.asked.expect(partials.collect());
    }

    /// Takes what the player told.
    pub(super) fn hear_player(&mut self, told: Told) {
        match told {
            Told::Beat { place, at } => self.coming.push_back((place, at)),
            Told::RunBeat { run, beat, at } => self.run_beat(run, beat, at),
            Told::Chirp { at } => self.chirped(at),
            Told::At { reel, place, .. } => self.take_at(reel, place),
            Told::ReelOver { reel, why, .. } => self.reel_over(reel, why),
            Told::Loudspeaker(words) => self.hear(Heard::Loudspeaker(words)),
        }
    }

    /// Shows the beats that sound while the picture drawn at `now` is the newest, and asks for a
    /// picture when the next one does.
    pub(super) fn show_beats(&mut self, now: Instant) {
        while let Some(&(place, at)) = self.coming.front() {
            let ahead = at.saturating_duration_since(now);
            if ahead > SEEN_AFTER {
                self.context.request_repaint_after(ahead - SEEN_AFTER);
                break;
            }
            self.coming.pop_front();
            if self.stand.beat_on {
                self.hear(Heard::Beat(place));
                if let Some(watch) = &mut self.watch {
                    watch.beat(now + SEEN_AFTER, at);
                }
            }
        }
    }
}

/// Starts the player; without one there are no beats, which is told.
pub(super) fn start_player(
    tell: &Sender<Heard>,
    context: &egui::Context,
) -> (Option<Player>, Receiver<Told>) {
    let (to_window, played) = channel();
    let context = context.clone();
    let told = move |told| {
        to_window.send(told).ok();
        context.request_repaint();
    };
    match Player::start(told) {
        Ok(player) => (Some(player), played),
        Err(error) => {
            let words = format!("the player cannot be started ({error})");
            tell.send(Heard::Loudspeaker(Some(words))).ok();
            (None, played)
        }
    }
}
