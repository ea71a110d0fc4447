//! Rounds of drills put together of recorded notes, with the oscillations of every turn known.

use std::f64::consts::{FRAC_PI_2, PI, TAU};

use coach::{Count, Drill, Join, Kind, Pace};
use whole_chain::drill_corpus::{Change, made_drill};

use super::course::Course;
use super::recording::{RATE_HZ, Recorded};

/// Silence around a round.
const AROUND_SECS: f64 = 0.4;
/// How long two notes sound together where the finger changes, and how long the bow takes to start or stop a
/// note.
const CROSSING_SECS: f64 = 0.015;
const BOWING_SECS: f64 = 0.02;

/// One finger's turn, as it was played.
pub(super) struct Turn {
    /// The finger.
    pub finger: u8,
    /// Its note.
    pub midi: i32,
    /// Start and end of its sound, in seconds.
    pub start: f64,
    /// See `start`.
    pub end: f64,
    /// Advance of the motion, in cycles.
    pub cycles: f64,
    /// Oscillations a second; 0 without any.
    pub rate_hz: f64,
    /// Whether all this is known exactly; it is not where the bow's attack is heard.
    pub sure: bool,
    /// Time without motion at the change to the next finger; `None` if the motion goes on, or there is none.
    pub gap: Option<f64>,
}

/// A round, and what is true of it.
pub(super) struct Round {
    /// The recording it is made of.
    pub name: String,
    /// The sound.
    pub samples: Vec<f32>,
    /// Its turns.
    pub turns: Vec<Turn>,
    /// Oscillations asked of each finger.
    pub asked: u32,
    /// How the fingers follow each other.
    pub change: Change,
    /// Cents above each note, and the tolerance.
    pub centre: (f64, f64),
    /// Crest to trough, in cents, where it is known exactly.
    pub width: Option<f64>,
}

/// What is played: the fingers, how far each moves the recorded note, and how often it is to swing.
#[derive(Clone, Copy)]
pub(super) struct Figure {
    /// The order.
    pub order: &'static [u8],
    /// Semitones from the recorded note to each of the four fingers.
    pub hand: [i32; 4],
    /// Oscillations asked for.
    pub asked: u32,
    /// More or fewer that each turn makes, in the same order, from the first again.
    pub off: &'static [f64],
    /// How the fingers follow each other.
    pub change: Change,
    /// Where in its cycle the motion is when the first note begins.
    pub phase: f64,
}

/// One turn of a figure.
struct Step {
    finger: u8,
    midi: i32,
    /// Cents above the recorded note.
    up: f64,
    cycles: f64,
    /// Rest before the motion sets out and after it has ended, in seconds.
    delay: f64,
    tail: f64,
    first: bool,
    last: bool,
}

impl Figure {
    fn steps(self, note: &Recorded) -> impl Iterator<Item = Step> {
        let rest = match self.change {
            Change::Gap(gap) => 0.5 * gap,
            Change::Through | Change::Stop(_) => 0.0,
        };
        let count = self.order.len();
        let midi = note.midi;
        self.order.iter().enumerate().map(move |(number, &finger)| {
            let up = self.hand[usize::from(finger) - 1];
            let (first, last) = (number == 0, number + 1 == count);
            Step {
                finger,
                midi: midi + up,
                up: 100.0 * f64::from(up),
                cycles: f64::from(self.asked) + self.off[number % self.off.len()],
                delay: if first { 0.0 } else { rest },
                tail: if last { 0.0 } else { rest },
                first,
                last,
            }
        })
    }
}

impl Round {
    fn new(note: &Recorded, figure: Figure) -> Self {
        Self {
            name: note.name.clone(),
            samples: Vec::new(),
            turns: Vec::new(),
            asked: figure.asked,
            change: figure.change,
            centre: note.centre,
            width: None,
        }
    }

    /// A vibrated note, whose own motion goes through the cycles asked for.
    pub(super) fn swinging(note: &Recorded, figure: Figure) -> Self {
        let mut round = Self::new(note, figure);
        let mut from = 1.0 + figure.phase;
        for step in figure.steps(note) {
            let rate_hz = note.cycle_hz() * raised(step.up);
            let secs = step.cycles / rate_hz;
            round.turn(figure, &step, secs, rate_hz, |early, all| {
                note.play(note.place(from - early * rate_hz), all, |_, _| step.up)
            });
            from += step.cycles;
        }
        round.done()
    }

    /// The same from the start of the recording: the first note has its own attack, and goes through the repeated
    /// part twice.
    pub(super) fn attacked(note: &Recorded, figure: Figure) -> Self {
        let mut round = Self::new(note, figure);
        let mut from = 2.0;
        for step in figure.steps(note) {
            let rate_hz = note.cycle_hz() * raised(step.up);
            let (place, secs) = if step.first {
                (0.0, note.place(from) / note.rate_hz / raised(step.up))
            } else {
                (note.place(from), step.cycles / rate_hz)
            };
            round.turn(figure, &step, secs, rate_hz, |early, all| {
                let early = early * note.rate_hz * raised(step.up);
                note.play(place - early, all, |_, _| step.up)
            });
            if step.first {
                let first = &mut round.turns[0];
                first.cycles = note.own_hz * note.place(0.0) / note.rate_hz + from;
                first.sure = false;
            } else {
                from += step.cycles;
            }
        }
        round.done()
    }

    /// Swinging, with rests in which the note's own motion, as `course` tells it, is bent away.
    pub(super) fn resting(note: &Recorded, figure: Figure, course: &Course) -> Self {
        let mut round = Self::new(note, figure);
        for step in figure.steps(note) {
            let rate_hz = note.cycle_hz() * raised(step.up);
            let swings = step.cycles / rate_hz;
            let secs = step.delay + swings + step.tail;
            round.turn(figure, &step, secs, rate_hz, |early, all| {
                let before = (early + step.delay) * rate_hz;
                let from = note.place(before.ceil() + course.crossing() - before);
                note.play(from, all, |played, place| {
                    let swung = (played - early - step.delay) * rate_hz;
                    let share = if swung < step.cycles { gently(swung) } else { 0.0 };
                    step.up - (1.0 - share) * course.at(note.cycles(place))
                })
            });
        }
        round.done()
    }

    /// A straight note whose pitch is bent as a finger would, `rate_hz` times a second and by `width` cents.
    pub(super) fn bent(note: &Recorded, figure: Figure, rate_hz: f64, width: f64) -> Self {
        let mut round = Self::new(note, figure);
        round.width = Some(width);
        let rests = matches!(figure.change, Change::Gap(_));
        let mut from = 0.0;
        for step in figure.steps(note) {
            let secs = step.delay + step.cycles / rate_hz + step.tail;
            round.turn(figure, &step, secs, rate_hz, |early, all| {
                note.play(note.natural.start, all, |played, _| {
                    let swung = (played - early - step.delay) * rate_hz;
                    let share = match rests {
                        true if swung > step.cycles => 0.0,
                        true => gently(swung),
                        false => 1.0,
                    };
                    step.up + 0.5 * width * share * (TAU * (from + swung)).sin()
                })
            });
            from += step.cycles;
        }
        round.done()
    }

    /// A straight note as it was bowed, unrepeated, so that nothing in it moves but what the player did not
    /// hold still.
    pub(super) fn straight(note: &Recorded, figure: Figure) -> Self {
        let mut round = Self::new(note, figure);
        let length = (note.natural.end - note.natural.start) / note.rate_hz;
        for mut step in figure.steps(note) {
            step.cycles = 0.0;
            let secs = length / raised(step.up) - CROSSING_SECS;
            round.turn(figure, &step, secs, 0.0, |_, all| {
                note.play(note.natural.start, all, |_, _| step.up)
            });
        }
        round.done()
    }

    /// Lays a turn of `secs` behind the last one. `play` makes the sound: so many seconds early, and so many in
    /// all.
    fn turn(
        &mut self,
        figure: Figure,
        step: &Step,
        secs: f64,
        rate_hz: f64,
        play: impl FnOnce(f64, f64) -> Vec<f32>,
    ) {
        let stop = match figure.change {
            Change::Stop(stop) => stop,
            Change::Through | Change::Gap(_) => 0.0,
        };
        let start = self.turns.last().map_or(AROUND_SECS, |turn| turn.end + stop);
        // The edge of a note, and how much of it lies beyond the turn.
        let edge = |bowed: bool| match bowed || stop > 0.0 {
            true => (BOWING_SECS, 0.0),
            false => (CROSSING_SECS, 0.5 * CROSSING_SECS),
        };
        let ((rise, early), (fall, late)) = (edge(step.first), edge(step.last));
        let sound = play(early, early + secs + late);
        let at = ((start - early) * RATE_HZ).round() as usize;
        let whole = self.samples.len().max(at + sound.len());
        self.samples.resize(whole, 0.0);
        // Equal power where two notes cross.
        let gain = |n: usize, edge: f64| (FRAC_PI_2 * (n as f64 / (edge * RATE_HZ)).min(1.0)).sin();
        for (n, sample) in sound.iter().enumerate() {
            let gain = gain(n, rise) * gain(sound.len() - n, fall);
            self.samples[at + n] += gain as f32 * sample;
        }
        let gap = match figure.change {
            Change::Gap(gap) | Change::Stop(gap) => Some(gap),
            Change::Through => None,
        };
        self.turns.push(Turn {
            finger: step.finger,
            midi: step.midi,
            start,
            end: start + secs,
            cycles: step.cycles,
            rate_hz,
            sure: true,
            gap: gap.filter(|_| !step.last && step.cycles > 0.0),
        });
    }

    fn done(mut self) -> Self {
        let silence = (AROUND_SECS * RATE_HZ) as usize;
        self.samples.resize(self.samples.len() + silence, 0.0);
        self
    }

    /// The drill that was played, at the player's own pace.
    pub(super) fn drill(&self) -> Drill {
        let hand = self.turns.iter().map(|turn| (turn.finger, turn.midi));
        let fingers = self.turns.iter().map(|turn| turn.finger).collect();
        let join = match self.change {
            Change::Stop(_) => Join::Stop,
            Change::Through | Change::Gap(_) => Join::Legato,
        };
        let count = Count::Oscillations(self.asked);
        made_drill(Kind::Transfer, hand, fingers, count, Pace::Free, join)
    }
}

/// The share of a motion that is there so many cycles after it has set out from the straight pitch: over the
/// first quarter it gathers speed as half a cosine does. A hand at rest does not move at full speed at once.
fn gently(swung: f64) -> f64 {
    if swung <= 0.0 {
        return 0.0;
    }
    let quarter = 4.0 * swung;
    if quarter < 1.0 {
        0.5 * (1.0 - (PI * quarter).cos()) / (FRAC_PI_2 * quarter).sin()
    } else {
        1.0
    }
}

/// How many times quicker a note runs that is raised by so many cents.
fn raised(cents: f64) -> f64 {
    (cents / 1200.0).exp2()
}
