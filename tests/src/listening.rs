//! Lets the ear hear a made sound and keeps all it tells, beside what is true.

use late_sound::Recall;
use tone::{Spec, SpecError, TrueNote, Truth};
use tuning::{Hz, Secs};
use vibrato::{Ear, Event, Live, Note, Oscillation, Settings};

/// Samples pushed at once: 1 ms, so that times of arrival are known to that.
const BLOCK: usize = 48;
/// Start and end of a note are left out of the frame scores by this, in seconds.
const EDGES_SECS: (f64, f64) = (0.12, 0.06);
/// One frame in seconds.
const HOP_SECS: f64 = pitch::HOP_SECS;

/// A note as its beginning was told.
#[derive(Clone, Copy, Debug)]
pub struct Begun {
    /// Where it starts.
    pub start: Secs,
    /// Seconds of sound pushed when it was told.
    pub told: Secs,
}

/// What was heard of one sound, and what is true.
pub struct HeardSound {
    /// What was played.
    pub spec: Spec,
    /// What is true.
    pub truth: Truth,
    /// Frames in the order of time.
    pub frames: Vec<pitch::Frame>,
    /// Beginnings of notes as they were told.
    pub begun: Vec<Begun>,
    /// How many beginnings were taken back; they are no longer in `begun`.
    pub dropped: usize,
    /// Finished notes.
    pub notes: Vec<Note>,
    /// Oscillations as they were told.
    pub oscillations: Vec<Oscillation>,
    /// Live states.
    pub live: Vec<Live>,
    /// Latest a frame came behind its time stamp while a string was bowed and there was a pitch.
    pub latest: Secs,
}

/// Plays `spec` and hears it.
pub fn listen(spec: Spec, settings: Settings) -> Result<HeardSound, SpecError> {
    let sound = spec.render()?;
    let mut ear = Ear::new(settings);
    let mut recall = Recall::default();
    let mut heard = HeardSound {
        spec,
        truth: sound.truth,
        frames: Vec::new(),
        begun: Vec::new(),
        dropped: 0,
        notes: Vec::new(),
        oscillations: Vec::new(),
        live: Vec::new(),
        latest: Secs(0.0),
    };
    let mut pushed = 0;
    for block in sound.samples.chunks(BLOCK) {
        pushed += block.len();
        let now = Secs(pushed as f64 / f64::from(sound.sample_rate_hz));
        recall.hear(block);
        ear.hear(block, |event, ear| heard.keep(event, ear, &mut recall, now, false));
    }
    ear.finish();
    let now = Secs(pushed as f64 / f64::from(sound.sample_rate_hz));
    ear.hear(&[], |event, ear| heard.keep(event, ear, &mut recall, now, true));
    Ok(heard)
}

impl HeardSound {
    fn keep(&mut self, event: Event, ear: &Ear, recall: &mut Recall, now: Secs, over: bool) {
        match event {
            Event::Frame(frame) => {
                if !over && frame.f0.is_some() && self.interior_at(frame.time.get()) {
                    self.latest = Secs(self.latest.get().max(now.get() - frame.time.get()));
                }
                recall.frame(&frame);
                self.frames.push(frame);
            }
            Event::NoteBegan { start, .. } => self.begun.push(Begun { start, told: now }),
            Event::Live(live) => self.live.push(live),
            Event::Oscillation(oscillation) => self.oscillations.push(oscillation),
            Event::NoteDropped => {
                self.begun.pop();
                self.dropped += 1;
            }
            Event::NoteEnded => {
                self.notes.extend(recall.excerpt(ear).map(|ended| ended.look_again().0));
            }
            Event::Turn { .. } | Event::Rebowed { .. } | Event::Lost { .. } => {}
        }
    }

    fn interior_at(&self, secs: f64) -> bool {
        self.true_notes().iter().any(|note| within(note, secs))
    }

    /// The notes of the first string.
    pub fn true_notes(&self) -> &[TrueNote] {
        &self.truth.lines[0].notes
    }

    /// The nominal width of the note with this number; 0 if it is straight.
    pub fn nominal_width(&self, number: usize) -> f64 {
        let vibrato = &self.spec.lines[0].notes[number].vibrato;
        vibrato.as_ref().map_or(0.0, |vibrato| vibrato.width.get())
    }

    /// The true pitch at the frame nearest to this time.
    pub fn true_f0(&self, secs: f64) -> Option<Hz> {
        let index = (secs / HOP_SECS).round().max(0.0) as usize;
        self.truth.lines[0].f0.get(index).copied().flatten()
    }

    /// Pairs of estimate and truth in the interior of `note`, in cents against its nominal pitch,
    /// one for every true frame.
    pub fn interior(&self, note: &TrueNote) -> Vec<(Option<f64>, Option<f64>)> {
        let first = (note.start.get() / HOP_SECS).floor() as usize;
        let last = (note.end.get() / HOP_SECS).ceil() as usize;
        let above = |f0: Hz| f0.cents_above(note.nominal).get();
        let inside = (first..=last).filter(|&i| within(note, i as f64 * HOP_SECS));
        inside
            .map(|i| (self.estimate(i).map(above), self.truth.lines[0].f0[i].map(above)))
            .collect()
    }

    fn estimate(&self, index: usize) -> Option<Hz> {
        let time = index as f64 * HOP_SECS;
        let at = self.frames.partition_point(|frame| frame.time.get() < time - 0.5 * HOP_SECS);
        let frame =
            self.frames.get(at).filter(|frame| (frame.time.get() - time).abs() < 0.5 * HOP_SECS)?;
        frame.f0
    }

    /// Times and cents (against `note`'s nominal pitch) of the estimated and of the true track within
    /// `note`.
    pub fn tracks(&self, note: &TrueNote) -> [Vec<(f64, f64)>; 2] {
        let first = (note.start.get() / HOP_SECS).ceil() as usize;
        let last = (note.end.get() / HOP_SECS) as usize;
        let track = |f0: &dyn Fn(usize) -> Option<Hz>| -> Vec<(f64, f64)> {
            let point = |i| Some((i as f64 * HOP_SECS, f0(i)?.cents_above(note.nominal).get()));
            (first..=last).filter_map(point).collect()
        };
        let truth = &self.truth.lines[0].f0;
        [track(&|i| self.estimate(i)), track(&|i| truth.get(i).copied().flatten())]
    }

    /// The heard note that covers most of `note`.
    pub fn heard_note(&self, note: &TrueNote) -> Option<&Note> {
        let overlap = |heard: &Note| {
            heard.end.get().min(note.end.get()) - heard.start.get().max(note.start.get())
        };
        let best = self.notes.iter().max_by(|a, b| overlap(a).total_cmp(&overlap(b)))?;
        (overlap(best) > 0.5 * (note.end.get() - note.start.get())).then_some(best)
    }

    /// Mean of the true pitch from one time to another, in cents against `reference`.
    pub fn true_mean(&self, from: f64, to: f64, reference: Hz) -> Option<f64> {
        let (first, last) = ((from / HOP_SECS).round() as usize, (to / HOP_SECS).round() as usize);
        let values: Vec<f64> = (first..last)
            .filter_map(|i| {
                Some(self.truth.lines[0].f0.get(i).copied()??.cents_above(reference).get())
            })
            .collect();
        crate::scoring::mean(&values)
    }
}

/// Whether a time lies in the interior of a note.
fn within(note: &TrueNote, secs: f64) -> bool {
    secs > note.start.get() + EDGES_SECS.0 && secs < note.end.get() - EDGES_SECS.1
}
