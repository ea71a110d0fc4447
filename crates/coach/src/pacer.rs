//! The pacer: where in a round the beat is, as a pure function of the time of the sound.

use tuning::{Hz, Secs};

use crate::drill::{Asked, Count, Drill, Kind, Pace};

/// What beats, and for how long.
#[derive(Clone, Debug, PartialEq)]
pub struct Pacer {
    /// When the count-in begins.
    start: Secs,
    beat: Secs,
    /// The rate of each turn.
    rates: Vec<Hz>,
    count_in: u32,
    /// Where each turn starts after the count-in, and where the last one ends.
    starts: Vec<Secs>,
    /// Oscillations of each turn, where they are counted.
    counts: Vec<Option<u32>>,
}

/// Where the beat is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Beat {
    /// Before the count-in.
    Before,
    /// Counting in.
    CountIn {
        /// The beat that sounds, from 1.
        beat: u32,
        /// Beats still to come, with this one.
        left: u32,
    },
    /// A finger's turn.
    Turn(InTurn),
    /// All turns are over.
    After,
}

/// Where in a turn the beat is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct InTurn {
    /// Which turn, from 0.
    pub turn: usize,
    /// The oscillation that is wanted now, from 1; beyond the count it rests.
    pub oscillation: u32,
    /// Where in it, 0 to 1.
    pub phase: f64,
    /// The beat within the turn, from 1.
    pub beat: u32,
    /// What is left of the turn.
    pub left: Secs,
}

/// A wanted oscillation that lies ahead: for drawing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Wanted {
    /// Which turn, from 0.
    pub turn: usize,
    /// Which oscillation of it, from 1.
    pub oscillation: u32,
    /// Where it starts.
    pub start: Secs,
    /// Where it ends.
    pub end: Secs,
}

impl Pacer {
    /// The pacer of a round of `drill` with these turns, whose count-in begins at `start`; `None` if the pace
    /// is free.
    pub fn new(drill: &Drill, asked: &[Asked], start: Secs) -> Option<Self> {
        Some(Self {
            start,
            beat: drill.pace.beat()?,
            rates: asked.iter().map(|turn| rate(drill, turn)).collect::<Option<_>>()?,
            count_in: drill.count_in,
            starts: starts(drill, asked)?,
            counts: asked.iter().map(|turn| turn.count).collect(),
        })
    }

    /// The wanted rate of turn number `turn`, from 0.
    pub fn rate(&self, turn: usize) -> Hz {
        self.rates[turn.min(self.rates.len() - 1)]
    }

    /// When turn number `turn` starts (from 0); the number of turns gives the end of the last one.
    pub fn turn_start(&self, turn: usize) -> Secs {
        let counted = f64::from(self.count_in) * self.beat.get();
        let turn = self.starts[turn.min(self.counts.len())];
        Secs(self.start.get() + counted + turn.get())
    }

    /// When the last turn ends.
    pub fn end(&self) -> Secs {
        self.turn_start(self.counts.len())
    }

    /// When beat number `beat` of the round falls, the count-in's first being 0: where a click sounds.
    pub fn beat_at(&self, beat: u64) -> Secs {
        Secs(self.start.get() + beat as f64 * self.beat.get())
    }

    /// The first beat at or after `time`; `None` once the round is over.
    pub fn next_beat(&self, time: Secs) -> Option<u64> {
        let beats = (time.get() - self.start.get()) / self.beat.get();
        let beat = (beats - 1e-9).ceil().max(0.0) as u64;
        (self.beat_at(beat).get() < self.end().get() - 1e-9).then_some(beat)
    }

    /// How many beats there are, those of the count-in included.
    pub fn beats(&self) -> u32 {
        let secs = self.end().get() - self.start.get();
        (secs / self.beat.get() - 1e-9).ceil().max(0.0) as u32
    }

    /// Where the beat is at `time`.
    pub fn at(&self, time: Secs) -> Beat {
        // A sample's rounding must not put a beat back into the one before it.
        let since = time.get() - self.start.get() + 1e-9;
        if since < 0.0 {
            return Beat::Before;
        }
        let beats = since / self.beat.get();
        if beats < f64::from(self.count_in) {
            let beat = beats as u32;
            return Beat::CountIn { beat: beat + 1, left: self.count_in - beat };
        }
        let into = since - f64::from(self.count_in) * self.beat.get();
        let begun = self.starts.partition_point(|start| start.get() <= into);
        let Some(end) = self.starts.get(begun) else {
            return Beat::After;
        };
        let turn = begun.saturating_sub(1);
        let left = Secs(end.get() - into);
        let into = into - self.starts[turn].get();
        let cycles = into * self.rate(turn).get();
        Beat::Turn(InTurn {
            turn,
            oscillation: cycles as u32 + 1,
            phase: cycles.fract(),
            beat: (into / self.beat.get()) as u32 + 1,
            left,
        })
    }

    /// The wanted oscillations that lie between two times, in order.
    pub fn between(&self, from: Secs, to: Secs) -> Vec<Wanted> {
        let mut wanted = Vec::new();
        for (turn, count) in self.counts.iter().enumerate() {
            let start = self.turn_start(turn).get();
            let end = self.turn_start(turn + 1).get();
            if start > to.get() || end < from.get() {
                continue;
            }
            let period = 1.0 / self.rate(turn).get();
            let fit = ((end - start) / period + 1e-9).floor().max(1.0) as u32;
            for number in 0..count.unwrap_or(fit) {
                let at = start + f64::from(number) * period;
                if at < to.get() && at + period > from.get() {
                    wanted.push(Wanted {
                        turn,
                        oscillation: number + 1,
                        start: Secs(at),
                        end: Secs(at + period),
                    });
                }
            }
        }
        wanted
    }
}

/// Where each turn starts by the beat, counted from the first, and where the last one ends.
pub(crate) fn starts(drill: &Drill, asked: &[Asked]) -> Option<Vec<Secs>> {
    let mut starts = vec![Secs(0.0)];
    let mut end = 0.0;
    for turn in asked {
        end += lasts(drill, turn.finger)?.get();
        starts.push(Secs(end));
    }
    Some(starts)
}

/// The rate that the beat asks of a turn; `None` if the pace is free.
fn rate(drill: &Drill, turn: &Asked) -> Option<Hz> {
    match (&drill.kind, turn.rate) {
        (Kind::OneBow { .. }, Some((rate, _))) => Some(rate),
        _ => drill.pace.rate(),
    }
}

/// How long a turn of `finger` lasts by the beat: as long as it plays, and, where it is still in between or the
/// bow stops, as long again or a beat more.
fn lasts(drill: &Drill, finger: u8) -> Option<Secs> {
    let plays = drill.turn_length(finger)?.get();
    let beat = drill.pace.beat()?.get();
    Some(Secs(match (&drill.kind, drill.stops()) {
        (Kind::StartAndStop { .. }, _) => 2.0 * plays,
        (_, true) => plays + beat,
        (_, false) => plays,
    }))
}

impl Drill {
    /// The same drill at another pace, `None` leaving what it is.
    pub fn paced(mut self, bpm: Option<f64>, per_beat: Option<f64>) -> Self {
        let (usual_bpm, usual_per_beat) = match self.pace {
            Pace::Beat { bpm, per_beat } => (bpm, per_beat),
            Pace::Free => (60.0, 2.0),
        };
        if bpm.is_some() || per_beat.is_some() {
            self.pace = Pace::Beat {
                bpm: bpm.unwrap_or(usual_bpm),
                per_beat: per_beat.unwrap_or(usual_per_beat),
            };
        }
        self
    }

    /// The same drill with so many oscillations a turn, whichever finger plays it.
    pub fn counted(mut self, count: Option<u32>) -> Self {
        if let Some(count) = count {
            self.count = Count::Oscillations(count);
        }
        self
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pacer(join: &str, count: &str, bpm: f64, per_beat: f64) -> Pacer {
        let text = format!(
            "(version: 1, title: \"t\", kind: Transfer, on: {{\"cello\": (place: \"\", hand: {{2: \"F3\", 4: \"F3\"}}, fingers: [2, 4, 2])}}, count: {count}, pace: Beat(bpm: {bpm:?}, per_beat: {per_beat:?}), count_in: 2, join: {join})"
        );
        let drill = Drill::from_ron(&text, "t", "t.ron").expect("well written");
        let turns = drill.turns(&drill.places["cello"]);
        Pacer::new(&drill, &turns, Secs(10.0)).expect("paced")
    }

    #[test]
    fn the_beat_is_a_function_of_time_alone() {
        let pacer = pacer("Legato", "Oscillations(4)", 60.0, 2.0);
        assert_eq!(pacer.at(Secs(9.99)), Beat::Before);
        assert_eq!(pacer.at(Secs(10.0)), Beat::CountIn { beat: 1, left: 2 });
        assert_eq!(pacer.at(Secs(11.5)), Beat::CountIn { beat: 2, left: 1 });
        let Beat::Turn(first) = pacer.at(Secs(12.75)) else {
            panic!("the first turn");
        };
        assert_eq!((first.turn, first.oscillation, first.beat), (0, 2, 1));
        assert!((first.phase - 0.5).abs() < 1e-6 && (first.left.get() - 1.25).abs() < 1e-6);
        let Beat::Turn(third) = pacer.at(pacer.turn_start(2)) else {
            panic!("the third turn");
        };
        assert_eq!((third.turn, third.oscillation), (2, 1));
        assert_eq!(pacer.at(Secs(18.0)), Beat::After);
        assert_eq!(pacer.beats(), 8);
        assert_eq!(pacer.next_beat(pacer.beat_at(8)), None);
    }

    #[test]
    fn beats_do_not_wander_in_ten_minutes() {
        let mut pacer = pacer("Legato", "Beats(1)", 97.0, 3.0);
        pacer.counts = vec![Some(3); 10_000];
        let beat = pacer.beat.get();
        pacer.starts = (0..=10_000).map(|turn| Secs(f64::from(turn) * beat)).collect();
        let tenth = pacer.beat_at(970);
        assert!((tenth.get() - 610.0).abs() < 1e-9, "{tenth:?}");
        assert_eq!(pacer.next_beat(tenth), Some(970));
        assert_eq!(pacer.next_beat(Secs(tenth.get() + 0.01)), Some(971));
    }

    #[test]
    fn each_finger_has_its_own_count_and_its_own_time() {
        let pacer = pacer("Legato", "Fingers({2: 4, 4: 2})", 60.0, 2.0);
        let starts: Vec<f64> = (0..4).map(|turn| pacer.turn_start(turn).get()).collect();
        assert_eq!(starts, [12.0, 14.0, 15.0, 17.0]);
        assert_eq!((pacer.end(), pacer.beats()), (Secs(17.0), 7));
        let Beat::Turn(little) = pacer.at(Secs(14.75)) else {
            panic!("the little finger's turn");
        };
        assert_eq!((little.turn, little.oscillation, little.beat), (1, 2, 1));
        assert!((little.left.get() - 0.25).abs() < 1e-6);
        let numbers: Vec<_> = pacer.between(Secs(12.0), Secs(17.0));
        let numbers: Vec<_> = numbers.iter().map(|w| (w.turn, w.oscillation)).collect();
        assert_eq!(
            numbers,
            [(0, 1), (0, 2), (0, 3), (0, 4), (1, 1), (1, 2), (2, 1), (2, 2), (2, 3), (2, 4)]
        );
        assert_eq!(pacer.at(Secs(17.0)), Beat::After);
    }

    #[test]
    fn the_wave_ahead_holds_the_asked_oscillations_and_the_stop_between() {
        let pacer = pacer("Stop", "Oscillations(3)", 60.0, 1.0);
        assert_eq!(pacer.turn_start(1), Secs(16.0), "three beats and one to stop");
        let wanted = pacer.between(Secs(12.0), Secs(20.0));
        assert_eq!(wanted.len(), 6);
        assert_eq!(wanted[3].start, Secs(16.0));
        assert_eq!((wanted[3].turn, wanted[3].oscillation), (1, 1));
        assert!((wanted[2].end.get() - 15.0).abs() < 1e-9);
    }
}
