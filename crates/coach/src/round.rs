//! One round of a drill, from its first sound to its last.

use tuning::{Secs, Tuning};
use vibrato::{CycleCounts, Event, MotionFollower, Note};

use crate::drill::{Asked, Drill, Fingering, Kind};
use crate::finding::Finding;
use crate::swell::Levels;
use crate::turns::{Cutter, Now, Played};

/// A round that is listened to. Same events, same counts and turns, live and from a file.
pub struct Round {
    drill: Drill,
    asked: Vec<Asked>,
    tuning: Tuning,
    follower: MotionFollower,
    counts: CycleCounts,
    first_beat: Option<Secs>,
    /// Of straight notes, which are to swell and recede.
    levels: Option<Levels>,
    /// The ear's notes in it, from which is known how much the room narrowed the motion.
    notes: Vec<Note>,
}

impl Round {
    /// A round before its first sound. `first_beat` is when the pacer lets the first turn begin; without
    /// it the first sound does.
    pub fn new(drill: &Drill, place: &Fingering, tuning: Tuning, first_beat: Option<Secs>) -> Self {
        let asked = drill.turns(place);
        // The rate of the first turn is the one to begin with, where one is asked for.
        let rate = asked.first().and_then(|asked| asked.rate);
        let expected = rate.map(|(low, high)| tuning::Hz((low.get() * high.get()).sqrt()));
        Self {
            follower: MotionFollower::new(expected, drill.stops(), drill.awaited(&asked)),
            counts: CycleCounts::default(),
            levels: matches!(drill.kind, Kind::Straight { .. }).then(Levels::default),
            drill: drill.clone(),
            asked,
            tuning,
            first_beat,
            notes: Vec::new(),
        }
    }

    /// Takes in what the ear reports; `note` is the ear's note where one has just ended.
    pub fn hear(&mut self, event: &Event, note: Option<&Note>) {
        self.follower.hear(event, note);
        self.notes.extend(note.cloned());
        if let Some(levels) = &mut self.levels {
            levels.hear(event);
        }
    }

    /// A note of it that ended a while ago was looked at again.
    pub fn settle(&mut self, settled: &Note) {
        if let Some(note) = self.notes.iter_mut().find(|note| note.start == settled.start) {
            note.clone_from(settled);
        }
    }

    /// The turns that are asked for.
    pub fn asked(&self) -> &[Asked] {
        &self.asked
    }

    /// What is known by now. Costs some milliseconds: ask some ten times a second.
    pub fn now(&mut self) -> Now {
        let tuning = self.tuning;
        self.cutter().now(&tuning)
    }

    /// The sound is over: the turns as they were played.
    pub fn finish(&mut self) -> Vec<Played> {
        self.follower.finish();
        let tuning = self.tuning;
        self.cutter().played(&tuning)
    }

    /// How the level went in these turns, where that is asked for.
    pub(crate) fn swells(&self, played: &[Played]) -> Vec<Finding> {
        let levels = self.levels.as_ref();
        levels.map_or_else(Vec::new, |levels| levels.findings(&self.asked, played))
    }

    fn cutter(&mut self) -> Cutter<'_> {
        let stretches = self.follower.stretches();
        Cutter {
            drill: &self.drill,
            asked: &self.asked,
            stretches,
            counts: self.counts.of(stretches),
            first_beat: self.first_beat,
            notes: &self.notes,
        }
    }
}
