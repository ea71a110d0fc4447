//! What a lesson sends home: what to play, how fast, how often, and the bands of the model; and what
//! became of it.

use tuning::{Cents, Hz, figure};
use vibrato::{Note, Quantity};

use crate::comparison::band;
use crate::drill::{BPM, Drill, Kind, PER_BEAT, Pace};

/// What is to be played.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Work {
    /// A drill, by its name.
    Drill(String),
    /// A passage, in the teacher's words.
    Passage(String),
}

/// What a lesson sends home.
#[derive(Clone, Debug, PartialEq)]
pub struct Task {
    /// What is to be played.
    pub work: Work,
    /// Beats per minute and oscillations per beat; `None` at a free pace.
    pub pace: Option<(f64, f64)>,
    /// Oscillations of each finger, where they are counted.
    pub count: Option<u32>,
    /// How often it is to be played until the next lesson.
    pub times: u32,
    /// The rates wanted: those of the model.
    pub rate: Option<(Hz, Hz)>,
    /// The widths wanted: those of the model.
    pub width: Option<(Cents, Cents)>,
    /// A line of words.
    pub words: String,
}

/// How often a task may be asked for.
pub const TIMES: (u32, u32) = (1, 99);

impl Task {
    /// A task whose bands are those of a model's notes: from the lowest to the highest of them.
    pub fn of_model(notes: &[Note], work: Work) -> Self {
        let bands: Vec<_> =
            notes.iter().filter_map(|note| note.vibrato.as_ref()).map(band).collect();
        let reach = |low: &dyn Fn(usize) -> f64, high: &dyn Fn(usize) -> f64, per: f64| {
            let all = 0..bands.len();
            let least = all.clone().map(low).fold(f64::MAX, f64::min);
            let most = all.map(high).fold(f64::MIN, f64::max);
            ((least * per).round() / per, (most * per).round() / per)
        };
        let known = !bands.is_empty();
        let rate = reach(&|i| bands[i].0.0.0, &|i| bands[i].0.1.0, 10.0);
        let width = reach(&|i| bands[i].1.0.0, &|i| bands[i].1.1.0, 1.0);
        Self {
            work,
            pace: None,
            count: None,
            times: 5,
            rate: known.then_some((Hz(rate.0), Hz(rate.1))),
            width: known.then_some((Cents(width.0), Cents(width.1))),
            words: String::new(),
        }
    }

    /// A task of `drill` that asks for what the model's notes showed: its pace is that of the model, and a goal that the
    /// drill's own rates or widths would go against is left out.
    pub fn of_drill(notes: &[Note], drill: &Drill) -> Self {
        let mut task = Self::of_model(notes, Work::Drill(drill.name.clone()));
        let (own_rate, own_width) = own_goals(&drill.kind);
        task.rate = task.rate.filter(|_| !own_rate);
        task.width = task.width.filter(|_| !own_width);
        task.pace_follows(drill);
        task.rate_follows(drill);
        task
    }

    /// Oscillations a second that the beat of this task asks for; `None` at a free pace.
    pub fn asked_rate(&self, drill: &Drill) -> Option<Hz> {
        match self.pace {
            Some((bpm, per_beat)) => Pace::Beat { bpm, per_beat }.rate(),
            None => drill.pace.rate(),
        }
    }

    /// The pace or the drill was changed: a goal for the rate that the beat goes against is left out.
    pub fn rate_follows(&mut self, drill: &Drill) {
        if let (Some(asked), Some((low, high))) = (self.asked_rate(drill), self.rate)
            && !(low.0..=high.0).contains(&asked.0)
        {
            self.rate = None;
        }
    }

    /// The goal for the rate was changed: the beat asks for its middle, as near to the drill's own beat as it goes.
    pub fn pace_follows(&mut self, drill: &Drill) {
        let (Some((low, high)), Pace::Beat { bpm: own, .. }) = (self.rate, drill.pace) else {
            return;
        };
        if self.asked_rate(drill).is_some_and(|asked| (low.0..=high.0).contains(&asked.0)) {
            return;
        }
        let beats = |per_beat: f64| {
            let bpm = (0.5 * (low.0 + high.0) * 60.0 / per_beat).round();
            let meets = (low.0..=high.0).contains(&(bpm * per_beat / 60.0));
            (meets && (BPM.0..=BPM.1).contains(&bpm)).then_some((bpm, per_beat))
        };
        let far = |(bpm, _): &(f64, f64)| (bpm / own).ln().abs();
        let near = PER_BEAT.into_iter().filter_map(beats);
        self.pace = near.min_by(|a, b| far(a).total_cmp(&far(b))).or(self.pace);
    }

    /// The goals for rate and width, in a line; `None` where there are none.
    pub fn goals(&self) -> Option<String> {
        let rate = self.rate.map(|(low, high)| (Quantity::Rate, low.0, high.0));
        let width = self.width.map(|(low, high)| (Quantity::Width, low.0, high.0));
        let goals = rate.into_iter().chain(width).map(|(quantity, low, high)| {
            let (low, high) = (quantity.rounded(low), quantity.size(high));
            format!("{} {low}–{high}", quantity.name())
        });
        goals.reduce(|all, goal| format!("{all}, {goal}"))
    }

    /// What is to be done, in a line; `title` says what a drill is called.
    pub fn wording<'a>(&'a self, title: impl FnOnce(&'a str) -> &'a str) -> String {
        let mut parts = vec![match &self.work {
            Work::Drill(name) => format!("drill “{}”", title(name)),
            Work::Passage(passage) => passage.clone(),
        }];
        if let Some((bpm, per_beat)) = self.pace {
            let per_beat = match per_beat {
                0.5 => "1 oscillation over 2 beats".to_owned(),
                1.0 => "1 oscillation a beat".to_owned(),
                count => format!("{count} oscillations a beat"),
            };
            let bpm = figure::number(Some(bpm), 0, false);
            parts.push(format!("{bpm} beats a minute, {per_beat}"));
        }
        if let Some(count) = self.count {
            parts.push(format!("{count} on each finger"));
        }
        parts.push(match self.times {
            1 => "once".to_owned(),
            times => format!("{times} times"),
        });
        parts.extend(self.goals());
        parts.join(", ")
    }
}

/// Whether a drill of this kind asks for rates of its own, and for widths of its own.
fn own_goals(kind: &Kind) -> (bool, bool) {
    match kind {
        Kind::WidthLadder { .. }
        | Kind::RateLadder { .. }
        | Kind::FieldWalk { .. }
        | Kind::Straight { .. } => (true, true),
        Kind::PaceLadder { .. } | Kind::OneBow { .. } => (true, false),
        Kind::Bloom { .. } => (false, true),
        Kind::Transfer | Kind::StartAndStop { .. } => (false, false),
    }
}

/// A take of a task's work that was played since.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct TaskTake {
    /// Rate in Hz and width in cents of each of its notes that has vibrato.
    pub motions: Vec<(f64, f64)>,
    /// Oscillations made and asked for in each turn of a drill, where they were counted.
    pub counts: Vec<(u32, Option<u32>)>,
}

/// What became of a task.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Outcome {
    /// Takes that were played.
    pub takes: u32,
    /// Notes with vibrato in them.
    pub notes: u32,
    /// Notes whose rate lay in the band, where there is one.
    pub rate_in: Option<u32>,
    /// Notes whose width lay in the band, where there is one.
    pub width_in: Option<u32>,
    /// Mean rate in Hz and width in cents in the first take with vibrato, and in the last.
    pub first: Option<(f64, f64)>,
    /// The same of the last.
    pub last: Option<(f64, f64)>,
    /// Turns whose count was that asked for, and all turns that had one; `None` where none had. The task's own
    /// count goes before that of the drill.
    pub counts: Option<(u32, u32)>,
}

impl Outcome {
    /// What became of `task` in these takes, in the order of time.
    pub fn of(task: &Task, takes: &[TaskTake]) -> Self {
        let within = |band: Option<(f64, f64)>, of: &dyn Fn(&(f64, f64)) -> f64| {
            let (low, high) = band?;
            let all = takes.iter().flat_map(|take| &take.motions);
            let inside = all.filter(|motion| (low..=high).contains(&of(motion)));
            Some(inside.count() as u32)
        };
        let mean = |take: &TaskTake| {
            let count = take.motions.len() as f64;
            let sum = take
                .motions
                .iter()
                .fold((0.0, 0.0), |sum, motion| (sum.0 + motion.0, sum.1 + motion.1));
            (sum.0 / count, sum.1 / count)
        };
        let mut with = takes.iter().filter(|take| !take.motions.is_empty());
        let first = with.next().map(mean);
        let turns = takes.iter().flat_map(|take| &take.counts);
        let counts = turns.filter_map(|&(made, asked)| Some(made == task.count.or(asked)?));
        Self {
            takes: takes.len() as u32,
            notes: takes.iter().map(|take| take.motions.len() as u32).sum(),
            rate_in: within(task.rate.map(|(a, b)| (a.0, b.0)), &|motion| motion.0),
            width_in: within(task.width.map(|(a, b)| (a.0, b.0)), &|motion| motion.1),
            first,
            last: with.next_back().map(mean).or(first),
            counts: counts
                .map(|as_asked| (u32::from(as_asked), 1))
                .reduce(|sum, count| (sum.0 + count.0, sum.1 + count.1)),
        }
    }

    /// It in sentences: what was played, against the bands, and from the first take to the last. No marks.
    pub fn words(&self, task: &Task) -> Vec<String> {
        if self.takes == 0 {
            return vec!["Not played yet.".to_owned()];
        }
        let mut words = vec![format!("Played {} of the {} times set.", self.takes, task.times)];
        if let Some((made, asked)) = self.counts {
            words.push(format!("The count was right on {made} of {asked} fingers."));
        }
        if self.notes > 0 {
            let of = self.notes;
            let said = |inside: Option<u32>, what: &str| {
                inside.map(|inside| format!("{what} in the band in {inside} of {of} notes"))
            };
            let parts: Vec<String> = [said(self.rate_in, "rate"), said(self.width_in, "width")]
                .into_iter()
                .flatten()
                .collect();
            if !parts.is_empty() {
                words.push(figure::sentence(&parts.join(", ")));
            }
        } else {
            words.push("No vibrato was heard in them.".to_owned());
        }
        if let (Some(first), Some(last), true) = (self.first, self.last, self.takes > 1) {
            let went = |quantity: Quantity, from: f64, to: f64| {
                format!("{} {} to {}", quantity.name(), quantity.rounded(from), quantity.size(to))
            };
            words.push(format!(
                "From the first take to the last: {}, {}.",
                went(Quantity::Rate, first.0, last.0),
                went(Quantity::Width, first.1, last.1)
            ));
        }
        words
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::comparison::tests::{straight, vibrated};

    fn task() -> Task {
        let model = [vibrated(57, 0.0, 5.0, 40.0), vibrated(59, 2.1, 5.4, 44.0)];
        let work = Work::Drill("there-and-back".to_owned());
        Task { pace: Some((60.0, 4.0)), count: Some(4), ..Task::of_model(&model, work) }
    }

    #[test]
    fn the_bands_reach_around_all_notes_of_the_model() {
        let task = task();
        let (slow, fast) = task.rate.expect("the model has vibrato");
        assert_eq!((slow, fast), (Hz(4.7), Hz(5.7)), "in whole tenths");
        let (narrow, wide) = task.width.expect("the model has vibrato");
        assert_eq!((narrow, wide), (Cents(36.0), Cents(49.0)));
        let still = Task::of_model(&[straight(57, 0.0)], Work::Passage("x".to_owned()));
        assert_eq!((still.rate, still.width), (None, None));
    }

    #[test]
    fn a_drill_is_given_at_the_models_pace_or_without_a_goal_for_the_rate() {
        let model = [vibrated(57, 0.0, 5.2, 40.0)];
        let shipped = |name: &str| {
            let path = format!("../../assets/drills/{name}.ron");
            let text = std::fs::read_to_string(path).expect("a shipped drill");
            Drill::from_ron(&text, name, name).expect("well written")
        };
        for name in ["one-finger", "there-and-back", "start-and-stop", "bloom"] {
            let (drill, mut task) = (shipped(name), Task::of_drill(&model, &shipped(name)));
            let (low, high) = task.rate.expect("the beat can ask for it");
            let asked = task.asked_rate(&drill).expect("with the beat");
            assert!(low <= asked && asked <= high, "{name}: {asked:?} for {low:?} to {high:?}");
            assert_eq!(task.width.is_none(), name == "bloom", "a bloom has a width of its own");
            // A slow drill instead: nobody can meet both.
            task.pace = Some((60.0, 2.0));
            task.rate_follows(&drill);
            assert_eq!(task.rate, None, "{name}");
            // A goal again: the beat follows.
            task.rate = Some((Hz(3.0), Hz(3.4)));
            task.pace_follows(&drill);
            let asked = task.asked_rate(&drill).expect("with the beat");
            assert!((3.0..=3.4).contains(&asked.0), "{name}: {asked:?}");
        }
        for name in ["width-ladder", "rate-ladder", "field-walk", "straight", "pace-ladder"] {
            let task = Task::of_drill(&model, &shipped(name));
            assert_eq!((task.rate, task.pace), (None, None), "{name} asks for rates of its own");
        }
        let still = Task::of_drill(&[straight(57, 0.0)], &shipped("one-finger"));
        assert_eq!((still.rate, still.pace), (None, None), "nothing was shown");
    }

    #[test]
    fn it_is_said_in_a_line() {
        assert_eq!(
            task().wording(|_| "There and back"),
            "drill “There and back”, 60 beats a minute, 4 oscillations a beat, 4 on each finger, \
             5 times, rate 4.7–5.7 Hz, width 36–49 cents"
        );
    }

    #[test]
    fn what_became_of_it_is_counted_against_the_bands() {
        let task = task();
        let take = |motions: &[(f64, f64)], counts: &[(u32, Option<u32>)]| TaskTake {
            motions: motions.to_vec(),
            counts: counts.to_vec(),
        };
        let takes = [
            take(&[(4.2, 40.0), (5.0, 20.0)], &[(4, Some(2)), (3, Some(3))]),
            take(&[(5.2, 42.0)], &[]),
        ];
        let outcome = Outcome::of(&task, &takes);
        assert_eq!((outcome.rate_in, outcome.width_in), (Some(2), Some(2)));
        assert_eq!(
            outcome.words(&task),
            [
                "Played 2 of the 5 times set.",
                "The count was right on 1 of 2 fingers.",
                "Rate in the band in 2 of 3 notes, width in the band in 2 of 3 notes.",
                "From the first take to the last: rate 4.6 to 5.2 Hz, width 30 to 42 cents.",
            ]
        );
        let by_the_drill = Task { count: None, ..task.clone() };
        let outcome = Outcome::of(&by_the_drill, &takes);
        assert_eq!(outcome.counts, Some((1, 2)), "3 of 3, 4 of 2");
        let uncounted = Outcome::of(&by_the_drill, &[take(&[], &[(4, None)])]);
        assert_eq!(uncounted.counts, None);
        let nothing = Outcome::of(&task, &[]);
        assert_eq!(nothing.words(&task), ["Not played yet."]);
    }
}
