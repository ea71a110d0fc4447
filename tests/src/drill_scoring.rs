//! What became of rounds of drills: counts, gaps and live counts beside the truth.

use crate::drill_corpus::{Change, Round};
use coach::{Aim, Drill, Hints, Judged, Practice};
use late_sound::{Excerpt, Recall};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::mpsc;
use tone::{Spec, SpecError};
use tuning::Tuning;
use vibrato::{Ear, Event, Note, Settings};

/// The bar for gaps, in ms.
pub const GAP_MS: f64 = 30.0;
/// Rounds are heard on so many threads.
const THREADS: usize = 2;
/// Samples between two looks at the live count: 30 ms, two frames of a screen.
const LOOK: usize = 1_440;

/// What the ear reported of a sound, look by look.
#[derive(Clone, Debug, Default)]
pub struct Hearing {
    /// Seconds pushed by the look, and the events since the one before.
    pub looks: Vec<(f64, Vec<Told>)>,
}

/// An event, with the note that ended if one did.
pub type Told = (Event, Option<Note>);

impl Hearing {
    /// Renders and hears `spec`.
    pub fn of(spec: &Spec) -> Result<Self, SpecError> {
        Ok(Self::of_samples(&spec.render()?.samples))
    }

    /// Hears samples at the ear's own rate.
    pub fn of_samples(samples: &[f32]) -> Self {
        Self::with(samples, |ended| ended.note().clone())
    }

    /// Renders and hears `spec`, and looks at each note again, as is done of notes in a room.
    pub fn again(spec: &Spec) -> Result<Self, SpecError> {
        Ok(Self::with(&spec.render()?.samples, |ended| ended.look_again().0))
    }

    fn with(samples: &[f32], note: fn(Excerpt) -> Note) -> Self {
        let mut ear = Ear::new(Settings::default());
        let mut recall = Recall::default();
        let mut hearing = Self::default();
        let told = |event: Event, ear: &Ear, recall: &mut Recall| {
            if let Event::Frame(frame) = &event {
                recall.frame(frame);
            }
            let has_ended = matches!(event, Event::NoteEnded);
            let ended = has_ended.then(|| recall.excerpt(ear).map(note)).flatten();
            (event, ended)
        };
        let mut pushed = 0;
        for block in samples.chunks(LOOK) {
            let mut events = Vec::new();
            recall.hear(block);
            ear.hear(block, |event, ear| events.push(told(event, ear, &mut recall)));
            pushed += block.len();
            let secs = pushed as f64 / f64::from(pitch::SAMPLE_RATE);
            hearing.looks.push((secs, events));
        }
        ear.finish();
        let mut events = Vec::new();
        while let Some(event) = ear.poll() {
            events.push(told(event, &ear, &mut recall));
        }
        hearing.looks.push((f64::INFINITY, events));
        hearing
    }

    /// Judges it as practice of `drill`, looking in on the way.
    pub fn judge(&self, drill: &Drill, look: impl FnMut(f64, &mut Practice)) -> Vec<Judged> {
        self.judge_at((Tuning::default(), Aim::default()), drill, look)
    }

    /// The same, of a player whose notes are held against this tuning, and are meant to lie so in it.
    pub fn judge_at(
        &self,
        (tuning, aim): (Tuning, Aim),
        drill: &Drill,
        mut look: impl FnMut(f64, &mut Practice),
    ) -> Vec<Judged> {
        let Some(place) = drill.place(None) else {
            return Vec::new();
        };
        let hints = Hints::default();
        let mut practice = Practice::new(drill.clone(), place.clone(), tuning, hints);
        practice.aim(aim);
        for (secs, events) in &self.looks {
            for (event, note) in events {
                practice.hear(event, note.as_ref());
            }
            if secs.is_finite() {
                look(*secs, &mut practice);
            }
        }
        practice.finish();
        practice.done().to_vec()
    }
}

/// What became of one round.
#[derive(Clone, Debug, Default)]
pub struct Outcome {
    /// Turns; those counted exactly; those off by more than one.
    pub turns: usize,
    /// See `turns`.
    pub exact: usize,
    /// See `turns`.
    pub far: usize,
    /// The turns were not told apart.
    pub torn: bool,
    /// Errors of gaps, in ms, with the standard errors told; infinite where none is.
    pub gaps: Vec<(f64, f64)>,
    /// Changes without a gap, and those in which one was told of 0.15 s or more.
    pub through: usize,
    /// See `through`.
    pub false_gaps: usize,
    /// Turns whose last live count is the final one.
    pub live_agrees: usize,
    /// From the end of an oscillation until it was counted, in its own periods.
    pub late: Vec<f64>,
    /// What went wrong, in words.
    pub wrong: String,
}

/// What became of `round`; without `lively` nobody looks at the live count.
pub fn outcome(round: &Round, hearing: &Hearing, lively: bool) -> Outcome {
    let mut live: Vec<u32> = Vec::new();
    let mut told: Vec<Vec<f64>> = vec![Vec::new(); round.turns.len()];
    let judged = hearing.judge(&round.drill(), |time, practice| {
        if !lively || !practice.under_way() {
            return;
        }
        live = practice.now().counts;
        for (turn, count) in live.iter().enumerate().take(told.len()) {
            while told[turn].len() < *count as usize {
                told[turn].push(time);
            }
        }
    });
    let mut outcome = Outcome { turns: round.turns.len(), ..Outcome::default() };
    let Some(judged) = judged.first().filter(|_| judged.len() == 1) else {
        outcome.torn = true;
        outcome.wrong = format!("{} rounds", judged.len());
        return outcome;
    };
    let stops = matches!(round.change, Change::Stop(_));
    let near = |a: f64, b: f64| (a - b).abs() < 0.25;
    let told_apart = judged.turns.len() == round.turns.len()
        && (round.same_pitch
            || stops
            || judged.turns.iter().zip(&round.turns).all(|(h, t)| near(h.start.get(), t.start)));
    if !told_apart {
        outcome.torn = true;
        outcome.wrong = format!("{} turns", judged.turns.len());
        return outcome;
    }
    for (index, (heard, truth)) in judged.turns.iter().zip(&round.turns).enumerate() {
        let off = i64::from(heard.made) - truth.cycles.round() as i64;
        outcome.exact += usize::from(off == 0);
        outcome.far += usize::from(off.abs() > 1);
        if off != 0 {
            outcome.wrong += &format!(" {index}: {:.2} not {:.2}", heard.made_cycles, truth.cycles);
        }
        outcome.live_agrees += usize::from(live.get(index) == Some(&heard.made));
        if index + 1 < round.turns.len() {
            let gap = heard.gap.map_or(0.0, |gap| gap.value.get());
            let doubt = heard.gap.and_then(|gap| gap.se);
            let doubt_ms = doubt.map_or(f64::INFINITY, |doubt| 1_000.0 * doubt.get());
            match truth.gap {
                Some(truth) => {
                    let off_ms = 1_000.0 * (gap - truth);
                    outcome.gaps.push((off_ms, doubt_ms));
                    if off_ms.abs() > GAP_MS {
                        outcome.wrong += &format!(" gap {index}: {gap:.3} not {truth:.3}");
                    }
                }
                None => {
                    outcome.through += 1;
                    outcome.false_gaps += usize::from(gap >= 0.15);
                }
            }
        }
        if off == 0 {
            let starts = std::iter::once(truth.start).chain(truth.ends.iter().copied());
            for (k, (start, end)) in starts.zip(&truth.ends).enumerate() {
                if let Some(told) = told[index].get(k) {
                    outcome.late.push((told - end) / (end - start));
                }
            }
        }
    }
    outcome
}

/// Does `work` for all `items` on two threads; the order stays.
pub fn on_threads<T: Sync, R: Send>(items: &[T], work: impl Fn(&T) -> R + Sync) -> Vec<R> {
    let next = AtomicUsize::new(0);
    let (sender, receiver) = mpsc::channel();
    std::thread::scope(|scope| {
        for _ in 0..THREADS {
            let (sender, next, work) = (sender.clone(), &next, &work);
            scope.spawn(move || {
                while let Some((index, item)) = {
                    let index = next.fetch_add(1, Ordering::Relaxed);
                    items.get(index).map(|item| (index, item))
                } {
                    if sender.send((index, work(item))).is_err() {
                        break;
                    }
                }
            });
        }
        drop(sender);
    });
    let mut all: Vec<(usize, R)> = receiver.iter().collect();
    all.sort_by_key(|(index, _)| *index);
    all.into_iter().map(|(_, result)| result).collect()
}
