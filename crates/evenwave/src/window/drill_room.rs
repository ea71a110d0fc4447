//! The room Drill in the window: what reaches it, what is played for it, and what becomes of a round.

use std::collections::VecDeque;
use std::hash::{BuildHasher, RandomState};
use std::time::{Duration, Instant};

use coach::Pacer;
use panels::drill_room::{DrillAction, DrillFile, DrillRoom};
use panels::shell::report::ReportOf;
use panels::shell::room::Room;
use panels::stand::{Action, Command, Heard};
use tone::{GuideTurn, GuideWish, RunWish};
use tuning::Secs;
use vibrato::{Event, Note};

use super::awaited_take::AwaitedTake;
use super::calibrating::Calibrating;
use super::{PICTURE, SEEN_AFTER, Window};
use crate::drills;
use crate::formats::RoundRecord;
use crate::sound_clock::SoundClock;
use crate::takes::{RecentTakes, TurnOf};

/// A picture that stood longer than this was not one of a moving wave.
const LONGEST_PICTURE: Duration = Duration::from_millis(50);

/// The room Drill and what the window keeps for it.
pub(super) struct DrillHost {
    pub room: DrillRoom,
    /// The number of the run of beats that is played for it, and whether one is.
    run: u64,
    running: bool,
    /// The beats of that run that are not drawn yet.
    beats: VecDeque<(u64, Instant)>,
    /// When the room was drawn last.
    ticked: Option<Instant>,
    /// Which time of the sound an instant is.
    pub clock: SoundClock,
    awaited: AwaitedTake,
    /// The delay from loudspeaker to microphone is being measured.
    pub calibrating: Option<Calibrating>,
}

impl DrillHost {
    /// Without drills yet; the delay is that from loudspeaker to microphone.
    pub(super) fn new(delay: Secs) -> Self {
        let mut room = DrillRoom::new(Vec::new());
        // The keys of a hash table are drawn by chance.
        room.chance = Some(RandomState::new().hash_one("the orders of walks"));
        Self {
            room,
            run: 0,
            running: false,
            beats: VecDeque::new(),
            ticked: None,
            clock: SoundClock::new(delay),
            awaited: AwaitedTake::default(),
            calibrating: None,
        }
    }

    /// The ear's clock begins again: no take to come holds the last round.
    pub(super) fn await_none(&mut self) {
        self.awaited = AwaitedTake::default();
    }

    /// Gives the room the take of the round that was judged last, if it is kept now.
    pub(super) fn find_take(&mut self, recent: &RecentTakes) {
        if let Some(id) = self.awaited.find(self.room.moving(), recent) {
            self.room.round_take = Some(id);
        }
    }
}

/// All drills there are, as the room lists them.
pub(super) fn listed(own: Option<&std::path::Path>) -> Vec<DrillFile> {
    drills::all(own).into_iter().map(|(name, drill)| DrillFile { name, drill }).collect()
}

impl Window {
    /// What the player did in the room.
    pub(super) fn drill_asked(&mut self, action: DrillAction) {
        match &action {
            DrillAction::Showing => self.do_asked(Action::Do(Command::Showing)),
            DrillAction::Reread => self.read_drills(),
            DrillAction::Calibrate => self.calibrate(),
            DrillAction::Report => {
                if let Some(take) = self.drill.room.round_take.clone() {
                    self.do_asked(Action::Report(ReportOf::Round(take)));
                }
            }
            _ => {}
        }
        let before = self.rounds_done();
        let brought_back = action == DrillAction::BringBack;
        self.drill.room.apply(action, &self.stand.shell);
        let turns = self.drill.room.judged().map(|judged| &judged.turns);
        if let Some(first) = turns.and_then(|turns| turns.first()).filter(|_| brought_back) {
            self.keep_take(self.recent.not_kept(first.start));
        }
        // A round that is stopped is judged as it is.
        if self.rounds_done() > before {
            self.round_judged();
        }
        self.order_sound();
        self.surround();
        self.context.request_repaint();
    }

    /// Goes to the drill of this name, at this pace and count where they are given; `false` if there is none.
    pub(super) fn open_drill(
        &mut self,
        name: &str,
        pace: Option<(f64, f64)>,
        count: Option<u32>,
    ) -> bool {
        let drills = self.drill.room.drills();
        let Some(place) = drills.iter().position(|listed| listed.name == name) else {
            return false;
        };
        self.do_asked(Action::Do(Command::Room(Room::Drill)));
        let paced = pace.map(|(bpm, per_beat)| {
            let on_beat = DrillAction::FreePace(false);
            [on_beat, DrillAction::Pace(bpm), DrillAction::PerBeat(per_beat)]
        });
        let counted = count.map(DrillAction::Count);
        let all = paced.into_iter().flatten().chain(counted);
        for action in std::iter::once(DrillAction::Choose(place)).chain(all) {
            self.drill_asked(action);
        }
        true
    }

    /// Reads the drills anew; those that cannot be used are told by the room.
    pub(super) fn read_drills(&mut self) {
        let drills = listed(self.opening.settings.drills().as_deref());
        if let Some(watch) = &mut self.watch {
            let told: Vec<String> =
                drills.iter().filter_map(|listed| listed.drill.as_ref().err().cloned()).collect();
            watch.drills(&told);
        }
        let title = |listed: &DrillFile| Some((listed.name.clone(), listed.title()?.to_owned()));
        self.hear(Heard::Drills(drills.iter().filter_map(title).collect()));
        self.drill.room.set_drills(drills);
    }

    /// The ear reported something, or a note ended.
    pub(super) fn drill_hears(&mut self, event: &Event, note: Option<&Note>) {
        let before = self.rounds_done();
        self.drill.room.hear(event, note);
        if let Some(takes) = &self.takes {
            // A round that was counted in is kept, whatever is heard in it.
            let paced = self.drill.room.practice().is_some_and(|round| round.pacer().is_some());
            takes.asked_for(paced && self.drill.room.moving());
        }
        if self.rounds_done() > before {
            self.round_judged();
        }
    }

    /// The sound has come to its end, and a round with it.
    pub(super) fn drill_is_over(&mut self) {
        let (before, moving) = (self.rounds_done(), self.drill.room.moving());
        self.drill.room.anew();
        if self.rounds_done() > before {
            self.round_judged();
        } else if moving {
            let words = "The sound came to its end before the round did: the round does not count.";
            self.hear(Heard::Word(words.to_owned()));
        }
    }

    fn rounds_done(&self) -> usize {
        self.drill.room.practice().map_or(0, |practice| practice.done().len())
    }

    /// A round is over: its fingers go to the take, its findings to the gates.
    fn round_judged(&mut self) {
        let first = self.drill.room.judged().and_then(|judged| judged.turns.first());
        self.drill.awaited.first = first.map(|turn| turn.start);
        self.drill.find_take(&self.recent);
        let (Some(drill), Some(judged)) = (self.drill.room.drill(), self.drill.room.judged())
        else {
            return;
        };
        if let Some(takes) = &self.takes {
            takes.turns(TurnOf::all(judged, drill.shuffle()));
        }
        let name = drill.name.clone();
        if let Some(task) = self.drill.room.task.as_mut().filter(|task| task.drill == name) {
            task.played += 1;
        }
        let (Some(drill), Some(judged)) = (self.drill.room.drill(), self.drill.room.judged())
        else {
            return;
        };
        let (number, naming) = (self.rounds_done(), self.options().naming);
        if let Some(watch) = &mut self.watch {
            watch.round(&RoundRecord::new(drill, judged, String::new(), naming, number));
        }
    }

    /// What the loudspeaker is to play for the drill.
    pub(super) fn run_wish(&mut self) -> Option<RunWish> {
        let Some(wants) = self.drill.room.wants() else {
            self.drill.running = false;
            return None;
        };
        if !self.drill.running {
            self.drill.running = true;
            self.drill.run = self.sounds.another_run();
            self.drill.beats.clear();
        }
        let practice = self.drill.room.practice()?;
        let pacer = Pacer::new(practice.drill(), practice.asked(), Secs(0.0))?;
        let guide = wants.guide.then(|| GuideWish {
            turns: self
                .drill
                .room
                .guide()
                .into_iter()
                .map(|part| GuideTurn {
                    f0: part.f0,
                    start: part.start,
                    end: part.end,
                    rate: part.rate,
                    width: part.width,
                    phase: part.phase,
                    below: part.below,
                })
                .collect(),
            level_db: self.options().drone.level_db,
        });
        Some(RunWish {
            number: self.drill.run,
            bpm: wants.bpm,
            beats: pacer.beats(),
            count_in: practice.drill().count_in,
            bar: wants.bar,
            audible: wants.click,
            guide,
        })
    }

    /// A beat of the drill's run sounds at this instant.
    pub(super) fn run_beat(&mut self, run: u64, beat: u32, at: Instant) {
        if !self.drill.running || run != self.drill.run {
            return;
        }
        if beat == 0
            && let Some(at) = self.drill.clock.heard_at(at)
        {
            self.drill.room.first_beat(at);
        }
        self.drill.beats.push_back((u64::from(beat), at));
    }

    /// Writes down for the gates when the pacer first shows a beat, and when that one sounds.
    fn watch_beats(&mut self, seen: Secs, now: Instant) {
        let Some(pacer) = self.drill.room.practice().and_then(coach::Practice::pacer) else {
            return;
        };
        while let Some(&(beat, at)) = self.drill.beats.front() {
            if pacer.beat_at(beat) > seen {
                break;
            }
            self.drill.beats.pop_front();
            if let Some(watch) = &mut self.watch {
                watch.beat(now + SEEN_AFTER, at);
            }
        }
    }

    /// The picture that is drawn now is seen a little later, and until the next one: it shows the middle of
    /// that time.
    pub(super) fn tick_drill(&mut self, now: Instant) {
        let stands = self.drill.ticked.map_or(PICTURE, |last| now.saturating_duration_since(last));
        self.drill.ticked = Some(now);
        let middle = stands.min(LONGEST_PICTURE) / 2;
        if let Some(seen) = self.drill.clock.heard_at(now + SEEN_AFTER + middle) {
            self.drill.room.tick(seen);
            self.watch_beats(seen, now);
        }
        if self.drill.room.moving() {
            self.context.request_repaint_after(PICTURE);
        }
        self.order_sound();
    }
}
