//! The cheapest way through the places: a hidden semi-Markov model, whose states are notes and whose steps are stretches
//! of sound.
//!
//! A row of stretches can jump back and leave notes unplayed, which dynamic time warping cannot without tricks; and the mean
//! of a stretch tells a semitone under a wide vibrato, which a frame does not. Sources for the family: A. Maezawa and
//! H. G. Okuno, Computer Music Journal 39(1), 2015 (semi-Markov alignment with a tempo); T. Nakamura, E. Nakamura and
//! S. Sagayama, IEEE/ACM TASLP 24(2), 2016 (repeats and skips).

use super::heard::Heard;
use super::model::{Costs, MOST_SKIPPED, Model, Stretch, StretchCosts, Way, strays};
use super::places::{LEAST_RUN, Onset};
use super::unslip::SHORTEST;
use vibrato::FRAME;

/// The best so many last notes are kept at each place, and so many that may begin there.
const KEPT: usize = 50;
const KEPT_BEGINS: usize = 120;
/// In a long part any bar may be begun again: only those are kept whose first pitch lies so near, in cents, to what sounds in
/// so many frames behind the place.
const JUMP_CENTS: f64 = 150.0;
const AHEAD_FRAMES: std::ops::Range<usize> = 3..16;
/// A way that costs so much more than the cheapest at its place never wins: more than a jump to a note of another pitch and
/// the wrong length.
const BEYOND_HOPE: f64 = 25.0;
/// The longest note, in seconds.
const LONGEST_SECS: f64 = 12.0;
/// The longest note that is thought to sound on.
const LONGEST_SOUNDING_SECS: f64 = 6.0;
/// A frame with a pitch that belongs to no note.
const NO_NOTE: f64 = 0.15;
/// Signs of the bow within a note cost this much a dB from so many dB on, and no more than this each.
const INSIDE_DB: f64 = 6.0;
const INSIDE: f64 = 0.45;
const MOST_INSIDE: f64 = 4.5;
/// A stretch wants so many frames with a pitch, and a share of them: one that sounds on, fewer.
const LEAST_HEARD: f64 = 10.0;
const LEAST_SHARE: f64 = 0.5;
const LEAST_SOUNDING: f64 = 4.0;
const LEAST_SOUNDING_SHARE: f64 = 0.4;
/// Frames without a pitch within a stretch beyond so many cost this each, up to so much: a note does not fall silent.
const GAP_FRAMES: f64 = 20.0;
const GAP: f64 = 0.03;
const MOST_GAP: f64 = 4.0;
/// Silence before a place is looked for in so many frames.
const SILENCE_FRAMES: usize = 120;

/// The last note that was played by a place; `None` before the first.
#[derive(Clone, Copy, Debug)]
struct State {
    note: Option<u32>,
    cost: f64,
    /// Place and state before it, and how its note came; `None` if nothing was played since.
    from: (u32, u32),
    played: Option<(Way, bool)>,
}

/// A note that may begin at a place.
#[derive(Clone, Copy, Debug)]
struct Begin {
    note: u32,
    cost: f64,
    from: u32,
    way: Way,
}

/// All that is known at a place.
#[derive(Debug)]
struct Column {
    onset: Onset,
    states: Vec<State>,
    begins: Vec<Begin>,
    /// The cost of the cheapest of these.
    least: f64,
    /// What signs of the bow before it cost in all.
    inside: f64,
}

/// A note that was found.
#[derive(Clone, Copy, Debug)]
pub(super) struct Found {
    pub(super) start: usize,
    pub(super) end: usize,
    /// Which of the model's notes.
    pub(super) note: usize,
    pub(super) way: Way,
    pub(super) other_pitch: bool,
}

/// The ways through all places by now.
#[derive(Debug, Default)]
pub(super) struct Lattice {
    columns: Vec<Column>,
    /// Before this one nothing begins that may still sound.
    open: usize,
}

/// Keeps the cheapest.
fn prune<T>(all: &mut Vec<T>, most: usize, cost: impl Fn(&T) -> f64) {
    if all.len() > most {
        all.select_nth_unstable_by(most, |a, b| cost(a).total_cmp(&cost(b)));
        all.truncate(most);
    }
}

/// What it costs that so many frames of a stretch have no pitch.
fn gap(frames: f64) -> f64 {
    (GAP * (frames - GAP_FRAMES)).clamp(0.0, MOST_GAP)
}

fn secs(frames: usize) -> f64 {
    frames as f64 * FRAME.get()
}

impl Lattice {
    /// The last place, if there is one.
    pub(super) fn last(&self) -> Option<usize> {
        self.columns.last().map(|column| column.onset.frame)
    }

    /// The first place that lies at most so long before a frame.
    fn opened(&self, secs: f64, frame: usize) -> usize {
        let frames = (secs / FRAME.get()) as usize;
        self.columns.partition_point(|column| column.onset.frame + frames < frame)
    }

    /// Goes on to the next place. `beat` tells the seconds of a beat at a time.
    pub(super) fn push(
        &mut self,
        (model, costs): (&Model, &Costs),
        heard: &Heard,
        onset: Onset,
        beat: impl Fn(f64) -> f64,
    ) {
        let states = match self.columns.last() {
            None => vec![State { note: None, cost: 0.0, from: (0, 0), played: None }],
            Some(_) => self.arrive(model, costs, heard, onset.frame, beat),
        };
        let silent = silent_secs(heard, onset.frame);
        let begins = begins((model, costs), &states, onset, silent, ahead(heard, onset.frame));
        let gone = self.opened(LONGEST_SECS, onset.frame);
        self.columns[self.open..gone].iter_mut().for_each(|column| column.begins = Vec::new());
        self.open = gone;
        let own = ((onset.sign_db - INSIDE_DB).max(0.0) * INSIDE).min(MOST_INSIDE);
        let before = self.columns.last().map_or(0.0, |column| column.inside);
        let least = begins.iter().map(|begin| begin.cost).fold(f64::INFINITY, f64::min);
        self.columns.push(Column { onset, states, begins, least, inside: before + own });
    }

    /// Every state in which one can be at `frame`.
    fn arrive(
        &self,
        model: &Model,
        costs: &Costs,
        heard: &Heard,
        frame: usize,
        beat: impl Fn(f64) -> f64,
    ) -> Vec<State> {
        let last = self.columns.len() - 1;
        let idle = NO_NOTE * heard.sums(self.columns[last].onset.frame, frame).count;
        let mut states: Vec<State> = self.columns[last]
            .states
            .iter()
            .enumerate()
            .map(|(i, state)| State {
                cost: state.cost + idle,
                from: (last as u32, i as u32),
                played: None,
                ..*state
            })
            .collect();
        let mut at = vec![None; model.notes.len()];
        for (i, state) in states.iter().enumerate() {
            if let Some(note) = state.note {
                at[note as usize] = Some(i);
            }
        }
        let cheapest = states.iter().map(|state| state.cost).fold(f64::INFINITY, f64::min);
        let mut table = StretchCosts::default();
        let first = self.opened(LONGEST_SECS, frame);
        for (j, column) in self.columns.iter().enumerate().skip(first) {
            let from = column.onset.frame;
            if from + SHORTEST > frame {
                break;
            }
            let sums = heard.sums(from, frame);
            if sums.count < LEAST_HEARD || sums.count < LEAST_SHARE * (frame - from) as f64 {
                continue;
            }
            let gaps = (frame - from) as f64 - sums.count;
            let inside = self.columns[last].inside - column.inside + gap(gaps);
            // Two strings may stray.
            let strays = if model.doubles { 0.0 } else { strays(&sums) };
            if column.least + strays + inside > cheapest + BEYOND_HOPE {
                continue;
            }
            let beat = beat(secs(from + frame) / 2.0);
            let stretch = Stretch { secs: secs(frame - from), sums, beat, sounds: false, inside };
            model.weigh(costs, &stretch, &mut table);
            for begin in &column.begins {
                let (cost, other) = model.cost(begin.note as usize, &table);
                let state = State {
                    note: Some(begin.note),
                    cost: begin.cost + cost,
                    from: (j as u32, begin.from),
                    played: Some((begin.way, other)),
                };
                match at[begin.note as usize] {
                    Some(i) => {
                        if state.cost < states[i].cost {
                            states[i] = state;
                        }
                    }
                    None => {
                        at[begin.note as usize] = Some(states.len());
                        states.push(state);
                    }
                }
            }
        }
        prune(&mut states, KEPT, |state| state.cost);
        states
    }

    /// What each note would cost that sounds now, at `frame`; a note that cannot be is not in it.
    pub(super) fn sounding(
        &self,
        (model, costs): (&Model, &Costs),
        heard: &Heard,
        frame: usize,
        beat: f64,
    ) -> Vec<(usize, f64)> {
        let first = self.opened(LONGEST_SOUNDING_SECS, frame);
        let all = self.columns.last().map_or(0.0, |column| column.inside);
        let mut table = StretchCosts::default();
        let mut best = vec![f64::INFINITY; model.notes.len()];
        for column in &self.columns[first..] {
            let from = column.onset.frame;
            let sums = heard.sums(from, frame);
            let share = LEAST_SOUNDING_SHARE * (frame - from) as f64;
            if sums.count < LEAST_SOUNDING || sums.count < share {
                continue;
            }
            let inside = all - column.inside;
            let stretch = Stretch { secs: secs(frame - from), sums, beat, sounds: true, inside };
            model.weigh(costs, &stretch, &mut table);
            for begin in &column.begins {
                let cost = begin.cost + model.cost(begin.note as usize, &table).0;
                let kept = &mut best[begin.note as usize];
                *kept = kept.min(cost);
            }
        }
        best.into_iter().enumerate().filter(|(_, cost)| cost.is_finite()).collect()
    }

    /// The notes of the cheapest way to the last place, the last one first.
    pub(super) fn back(&self) -> impl Iterator<Item = Found> + '_ {
        let mut at = self.columns.last().and_then(|column| {
            let costs = column.states.iter().map(|state| state.cost).enumerate();
            let best = costs.min_by(|a, b| a.1.total_cmp(&b.1))?;
            Some((self.columns.len() - 1, best.0))
        });
        std::iter::from_fn(move || {
            while let Some((column, state)) = at.filter(|(column, _)| *column > 0) {
                let state = &self.columns[column].states[state];
                let before = (state.from.0 as usize, state.from.1 as usize);
                at = Some(before);
                if let (Some((way, other_pitch)), Some(note)) = (state.played, state.note) {
                    let (start, end) =
                        (self.columns[before.0].onset.frame, self.columns[column].onset.frame);
                    return Some(Found { start, end, note: note as usize, way, other_pitch });
                }
            }
            None
        })
    }
}

/// The notes that may begin at a place, from the states in which one can be there.
fn begins(
    (model, costs): (&Model, &Costs),
    states: &[State],
    onset: Onset,
    silent_secs: f64,
    ahead: Option<f64>,
) -> Vec<Begin> {
    let notes = model.notes.len();
    let mut best: Vec<Option<Begin>> = vec![None; notes];
    let mut offer = |note: usize, cost: f64, from: usize, way: Way| {
        if note < notes && best[note].is_none_or(|kept| cost < kept.cost) {
            best[note] = Some(Begin { note: note as u32, cost, from: from as u32, way });
        }
    };
    let mut by_note = vec![None; notes];
    for (i, state) in states.iter().enumerate() {
        let next = state.note.map_or(0, |note| note as usize + 1);
        if let Some(note) = state.note {
            by_note[note as usize] = Some(i);
            let cost = model.step(note as usize, Way::Again, onset.sign_db);
            offer(note as usize, state.cost + cost, i, Way::Again);
        }
        for skipped in 0..=MOST_SKIPPED {
            let way = if skipped == 0 { Way::Next } else { Way::Skip(skipped as u8) };
            if next + skipped < notes {
                let cost = model.step(next + skipped, way, onset.sign_db);
                offer(next + skipped, state.cost + cost, i, way);
            }
        }
    }
    let any = (0..states.len()).min_by(|a, b| states[*a].cost.total_cmp(&states[*b].cost));
    for note in 0..notes {
        let (far, near) = model.jump(costs, note, silent_secs);
        let unsaid = model.step(note, Way::Jump, onset.sign_db);
        let sounds = ahead.is_none_or(|ahead| model.off(note, ahead) <= JUMP_CENTS);
        if let Some(i) = any.filter(|_| unsaid == 0.0 && sounds) {
            offer(note, states[i].cost + far + unsaid, i, Way::Jump);
        }
        let Some(near) = near else { continue };
        let leads = model.leads_back(note).filter_map(|from| by_note[from]);
        if let Some(i) = leads.min_by(|a, b| states[*a].cost.total_cmp(&states[*b].cost)) {
            offer(note, states[i].cost + near + unsaid, i, Way::Jump);
        }
    }
    let mut begins: Vec<Begin> = best.into_iter().flatten().collect();
    prune(&mut begins, KEPT_BEGINS, |begin| begin.cost);
    begins
}

/// What sounds right behind a frame, in cents.
fn ahead(heard: &Heard, frame: usize) -> Option<f64> {
    let frames = frame + AHEAD_FRAMES.start..frame + AHEAD_FRAMES.end;
    vibrato::median(heard.cents_in(frames).collect())
}

/// How long it has been silent before a frame, at most 0.6 s; a pitch of a frame or two is noise.
pub(super) fn silent_secs(heard: &Heard, frame: usize) -> f64 {
    let first = frame.saturating_sub(SILENCE_FRAMES);
    let run = |last: &usize| last.saturating_sub(LEAST_RUN - 1)..last + 1;
    let sounds = |last: &usize| heard.cents_in(run(last)).count() == LEAST_RUN;
    let silent = (first..frame).rev().take_while(|last| !sounds(last)).count();
    secs(silent)
}
