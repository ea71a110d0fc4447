//! How well a performance of a passage was followed.

use coach::follow::{Aligned, Follower, Heard, How, Now};
use coach::plan::PlanNote;
use late_sound::Recall;
use tone::{Spec, SpecError};
use tuning::{Instrument, Secs, Tuning};
use vibrato::{Ear, Event, Note, Settings};

use crate::passages::{Performance, Sounded, midi_of};

/// Samples pushed at once: 5 ms, so that the time at which something is told is known to that.
const BLOCK: usize = 240;
/// A beginning counts as found if it lies so near, in seconds.
const NEAR_SECS: f64 = 0.05;
/// From so long after its beginning on it is asked which note sounds, every so many seconds.
const SETTLED_SECS: f64 = 0.15;
const GRID_SECS: f64 = 0.01;

/// What the ear told, and after how many seconds of sound.
pub type Told = Vec<(Secs, Event, Option<Note>)>;

/// Lets the ear hear a performance.
pub fn told(performance: &Performance) -> Result<Told, SpecError> {
    let instrument = Instrument::shipped(&performance.passage.instrument).expect("shipped");
    let (low, high) = (instrument.low, instrument.high);
    told_of(&performance.spec, Settings { low, high, ..Settings::default() })
}

/// Lets the ear hear a sound.
pub fn told_of(spec: &Spec, settings: Settings) -> Result<Told, SpecError> {
    let sound = spec.render()?;
    let (mut ear, mut recall) = (Ear::new(settings), Recall::default());
    let mut told = Vec::new();
    let mut pushed = 0;
    let empty: &[f32] = &[];
    for block in sound.samples.chunks(BLOCK).chain([empty]) {
        if block.is_empty() {
            ear.finish();
        }
        pushed += block.len();
        let now = Secs(pushed as f64 / f64::from(sound.sample_rate_hz));
        recall.hear(block);
        ear.hear(block, |event, ear| {
            if let Event::Frame(frame) = &event {
                recall.frame(frame);
            }
            let ended = matches!(event, Event::NoteEnded).then(|| recall.excerpt(ear)).flatten();
            told.push((now, event, ended.map(|ended| ended.look_again().0)));
        });
    }
    Ok(told)
}

/// All that was told, kept for an alignment.
pub fn heard(told: &Told) -> Heard {
    let mut heard = Heard::default();
    told.iter().for_each(|(_, event, note)| heard.push(event, note.as_ref()));
    heard
}

/// How an alignment fits what was played.
#[derive(Clone, Copy, Debug, Default)]
pub struct AlignScore {
    /// Notes that were played.
    pub played: usize,
    /// Beginnings that were found, and notes taken for the right one of the plan.
    pub onsets: usize,
    /// See `onsets`.
    pub right: usize,
    /// The same where any of a run of one pitch counts as right.
    pub onsets_by_run: usize,
    /// See `onsets_by_run`.
    pub right_by_run: usize,
    /// Notes that nobody played.
    pub made_up: usize,
}

impl AlignScore {
    /// Both together.
    pub fn and(self, other: Self) -> Self {
        Self {
            played: self.played + other.played,
            onsets: self.onsets + other.onsets,
            right: self.right + other.right,
            onsets_by_run: self.onsets_by_run + other.onsets_by_run,
            right_by_run: self.right_by_run + other.right_by_run,
            made_up: self.made_up + other.made_up,
        }
    }
}

/// The run of one pitch in which a note lies: which of them was left out or repeated cannot be heard.
fn run_of(notes: &[PlanNote], at: usize) -> std::ops::RangeInclusive<usize> {
    let same = |i: &usize| midi_of(&notes[*i]) == midi_of(&notes[at]);
    let first = (0..=at).rev().take_while(same).last().unwrap_or(at);
    let last = (at..notes.len()).take_while(same).last().unwrap_or(at);
    first..=last
}

/// Scores an alignment. With `list`, what is wrong is printed.
pub fn align_score(performance: &Performance, aligned: &[Aligned], list: bool) -> AlignScore {
    let notes = performance.passage.notes();
    let sounds = |one: &&Aligned| !matches!(one.how, How::LeftOut | How::Extra);
    let found: Vec<(f64, f64, usize)> = aligned
        .iter()
        .filter(sounds)
        .filter_map(|one| Some((one.start.get(), one.end.get(), one.note?)))
        .collect();
    let mut score = AlignScore { played: performance.sounded.len(), ..AlignScore::default() };
    let mut taken = vec![false; found.len()];
    for played in &performance.sounded {
        let run = run_of(notes, played.note);
        let shared = |one: &(f64, f64, usize)| one.1.min(played.end) - one.0.max(played.start);
        let best = (0..found.len())
            .max_by(|a, b| shared(&found[*a]).total_cmp(&shared(&found[*b])))
            .filter(|i| shared(&found[*i]) > 0.0);
        let over = |i: usize| {
            let shorter = (played.end - played.start).min(found[i].1 - found[i].0);
            shared(&found[i]) > 0.5 * shorter
        };
        let near = |one: &&(f64, f64, usize)| (one.0 - played.start).abs() <= NEAR_SECS;
        let right_by_run = best.is_some_and(|i| run.contains(&found[i].2) && over(i));
        let onset_by_run = found.iter().filter(near).any(|one| run.contains(&one.2));
        score.right += usize::from(best.is_some_and(|i| found[i].2 == played.note && over(i)));
        score.onsets += usize::from(found.iter().filter(near).any(|one| one.2 == played.note));
        score.right_by_run += usize::from(right_by_run);
        score.onsets_by_run += usize::from(onset_by_run);
        if let Some(i) = best {
            taken[i] = true;
        }
        if list && !(right_by_run && onset_by_run) {
            list_fault(performance, played, (right_by_run, onset_by_run), best.map(|i| found[i]));
        }
    }
    score.made_up = taken.iter().filter(|taken| !**taken).count();
    score
}

fn list_fault(
    performance: &Performance,
    played: &Sounded,
    (right, onset): (bool, bool),
    found: Option<(f64, f64, usize)>,
) {
    let planned = midi_of(&performance.passage.notes()[played.note]);
    println!(
        "    {:.2} s note {} ({planned:?}) played {} slurred {} jump {}: right {right} onset {onset}, found {found:.2?}",
        played.start, played.note, played.midi, played.slurred, played.after_jump
    );
}

/// How well a performance was followed while it was played.
#[derive(Clone, Debug, Default)]
pub struct LiveScore {
    /// Hundredths of a second that were asked for, how many of them told the right note, and a note of its run of one pitch.
    pub asked: usize,
    /// See `asked`.
    pub right: usize,
    /// See `asked`.
    pub right_by_run: usize,
    /// How many told a range of notes that holds the right one.
    pub in_range: usize,
    /// Notes in all ranges.
    pub range: usize,
    /// Seconds from the beginning of each note until it was told, by run; infinite where it never was.
    pub delays: Vec<f64>,
    /// The same of first notes after a stop or a jump.
    pub delays_after_jump: Vec<f64>,
}

impl LiveScore {
    /// Both together.
    pub fn and(mut self, other: Self) -> Self {
        self.asked += other.asked;
        self.right += other.right;
        self.right_by_run += other.right_by_run;
        self.in_range += other.in_range;
        self.range += other.range;
        self.delays.extend(other.delays);
        self.delays_after_jump.extend(other.delays_after_jump);
        self
    }
}

/// Follows a performance as it is played.
pub fn live_score(performance: &Performance, told: &Told, list: bool) -> LiveScore {
    let notes = performance.passage.notes();
    let mut follower = Follower::new(&performance.passage, &Tuning::default());
    let mut answers: Vec<(f64, Now)> = Vec::new();
    for (now, event, note) in told {
        follower.push(event, note.as_ref());
        if let Some(answer) = follower.now()
            && answers.last().is_none_or(|last| last.1 != *answer)
        {
            answers.push((now.get(), answer.clone()));
        }
    }
    let mut score = LiveScore::default();
    for played in &performance.sounded {
        let run = run_of(notes, played.note);
        let (mut delay, mut wrong, mut asked) = (f64::INFINITY, 0, 0);
        let mut time = played.start;
        while time < played.end {
            let at = answers.partition_point(|answer| answer.0 <= time);
            let answer = at.checked_sub(1).map(|at| &answers[at].1);
            let by_run = answer.is_some_and(|answer| run.contains(&answer.note));
            if by_run {
                delay = delay.min(time - played.start);
            }
            if time >= played.start + SETTLED_SECS {
                asked += 1;
                wrong += usize::from(!by_run);
                score.right += usize::from(answer.is_some_and(|a| a.note == played.note));
                let holds = |answer: &Now| answer.may_be.iter().any(|note| run.contains(note));
                score.in_range += usize::from(answer.is_some_and(holds));
                score.range += answer.map_or(0, |answer| answer.may_be.len());
            }
            time += GRID_SECS;
        }
        score.asked += asked;
        score.right_by_run += asked - wrong;
        score.delays.push(delay);
        if played.after_jump {
            score.delays_after_jump.push(delay);
        }
        if list && 2 * wrong > asked {
            list_fault(performance, played, (false, false), None);
        }
    }
    score
}
