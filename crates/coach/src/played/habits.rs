//! What comes back from take to take of one passage: notes that never get their vibrato, set in late or get too much, and
//! the same by finger, by string and before a shift.
//!
//! A note is held against the plan and against the player's other notes; a group against the notes outside it. Each of the
//! questions asked has its share of chance, so that of many sets without a habit one in twenty tells one at most.

use std::collections::BTreeMap;

use serde::ser::{Serialize, SerializeMap, Serializer};
use tuning::figure::{sentence, with_doubt};
use vibrato::{Measure, median};

use super::note_findings::{ONSET_SECS, PlayedNote, WIDTH_CENTS, WIDTH_SHARE};
use super::said::called;
use super::written::measure;
use crate::follow::How;
use crate::plan::{Passage, Pitch, PlanNote};
use crate::told::{beyond_chance, beyond_doubt, of_few};

/// A note must have been played in so many takes, and a group hold so many notes with as many outside it.
pub const LEAST_TAKES: usize = 3;
const LEAST_NOTES: usize = 3;
/// What all notes scatter tells as much of one as so many takes of its own.
const ALIKE: usize = 15;
/// A group differs from so much on: share of the planned width.
const GROUP_SHARE: f64 = 0.15;
/// A planned width below this has no share to speak of, in cents.
const LEAST_PLANNED_CENTS: f64 = 10.0;
/// Semitones from which on the same finger is on the next string, and not moved along its own.
const NEXT_STRING: i32 = 5;

/// Whose habit it is.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Whose {
    /// A note's, by its number in the plan.
    Note(usize),
    /// A finger's.
    Finger(u8),
    /// A string's.
    OnString(String),
    /// That of notes before a shift.
    BeforeShift,
}

/// What comes back from take to take.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Usual {
    /// No vibrato where one is planned, so many times of so many.
    NoVibrato(usize, usize),
    /// A vibrato where none is planned, so many times of so many.
    NotStraight(usize, usize),
    /// The vibrato sets in later than on other notes, in seconds.
    Late(Measure<f64>),
    /// Wider than planned (narrower, below 0): in cents for a note; for a group in percent, against the notes outside it.
    Width(Measure<f64>),
}

/// One habit.
#[derive(Clone, Debug, PartialEq)]
pub struct Habit {
    /// Whose it is.
    pub whose: Whose,
    /// What it is.
    pub usual: Usual,
}

/// What came back from take to take.
#[derive(Clone, Debug, PartialEq)]
pub struct Habits {
    /// Takes that were looked at.
    pub takes: usize,
    /// Questions that were asked of them.
    pub asked: usize,
    /// What is beyond chance, and matters.
    pub found: Vec<Habit>,
    /// The same in sentences.
    pub said: Vec<String>,
}

/// What one note did in all takes.
struct Series<'a> {
    note: usize,
    plan: &'a PlanNote,
    /// Takes in which it was heard, and those in which it vibrated.
    heard: usize,
    vibrated: usize,
    /// The logarithm of the width as a share of the planned one, since a hand comes back to a width within a share of it; how
    /// much later it sets in than others of its take.
    widths: Vec<f64>,
    onsets: Vec<f64>,
}

impl Series<'_> {
    fn planned(&self) -> f64 {
        self.plan.intention.mean_width().get()
    }
}

/// Looks for habits; nothing is said of fewer than [`LEAST_TAKES`] takes.
pub fn habits(passage: &Passage, takes: &[&[PlayedNote]]) -> Habits {
    let series = all_series(passage, takes);
    let groups = groups(passage, &series);
    let mut asking = Asking::default();
    if takes.len() >= LEAST_TAKES {
        for vibrated in [false, true] {
            asking.counts(&series, vibrated);
        }
        asking.values(&series, &groups);
    }
    let asked = asking.questions.len();
    let told = asking.questions.into_iter().filter(|question| question.told(asked));
    let found: Vec<Habit> = told.map(|question| question.habit).collect();
    let mut said: Vec<String> = found.iter().map(|habit| words(passage, habit)).collect();
    if said.is_empty() {
        said.push(match takes.len() {
            few if few < LEAST_TAKES => {
                format!("habits show in {LEAST_TAKES} takes or more of one passage")
            }
            many => format!("in these {many} takes nothing came back beyond chance"),
        });
    }
    let said = said.iter().map(|words| sentence(words)).collect();
    Habits { takes: takes.len(), asked, found, said }
}

/// Each note that can be asked about, with what it did.
fn all_series<'a>(passage: &'a Passage, takes: &[&[PlayedNote]]) -> Vec<Series<'a>> {
    let single =
        |plan: &&PlanNote| matches!(plan.pitch, Pitch::Single(_)) && !plan.tie && !plan.open();
    let notes = passage.notes().iter().enumerate().filter(|(_, plan)| single(plan));
    let mut all: Vec<Series<'a>> = notes
        .map(|(note, plan)| Series {
            note,
            plan,
            heard: 0,
            vibrated: 0,
            widths: Vec::new(),
            onsets: Vec::new(),
        })
        .collect();
    for take in takes {
        let first = |note: usize| {
            let mut played = take.iter().filter(|one| one.aligned.note == Some(note));
            played.find(|one| one.aligned.how == How::Played && !one.too_short)
        };
        let onset = |one: &PlayedNote| one.onset.map(|onset| onset.value.get());
        let onsets: Vec<(usize, f64)> =
            all.iter().filter_map(|of| Some((of.note, onset(first(of.note)?)?))).collect();
        for of in &mut all {
            let Some(one) = first(of.note) else { continue };
            of.heard += 1;
            let Some(width) = one.width.map(|width| width.value.get()) else { continue };
            of.vibrated += 1;
            let planned = of.planned();
            if planned >= LEAST_PLANNED_CENTS {
                of.widths.push((width / planned).ln());
                let others = onsets.iter().filter(|(note, _)| *note != of.note).map(|one| one.1);
                let usual = median(others.collect());
                of.onsets.extend(onset(one).zip(usual).map(|(own, usual)| own - usual));
            }
        }
    }
    all.retain(|of| of.heard >= LEAST_TAKES);
    all
}

/// Fingers, strings and notes before a shift, each with the places of its notes among the series.
fn groups(passage: &Passage, series: &[Series<'_>]) -> BTreeMap<Whose, Vec<usize>> {
    let mut groups: BTreeMap<Whose, Vec<usize>> = BTreeMap::new();
    for (at, of) in series.iter().enumerate() {
        let whose = [
            of.plan.finger.map(Whose::Finger),
            of.plan.string.clone().map(Whose::OnString),
            shifts(passage, of.note).then_some(Whose::BeforeShift),
        ];
        whose.into_iter().flatten().for_each(|whose| groups.entry(whose).or_default().push(at));
    }
    groups
}

/// Whether the hand moves along the string after a note: the same finger stops another pitch, on the same string where the
/// strings are written, and else no further than the next string lies.
fn shifts(passage: &Passage, note: usize) -> bool {
    let mut notes = passage.notes()[note..].iter();
    let (Some(own), Some(next)) = (notes.next(), notes.find(|next| !next.tie)) else {
        return false;
    };
    let (Pitch::Single(from), Pitch::Single(to)) = (own.pitch, next.pitch) else { return false };
    let moved = (to.midi() - from.midi()).abs();
    let near = match (&own.string, &next.string) {
        (Some(own), Some(next)) => own == next,
        _ => moved < NEXT_STRING,
    };
    let (Some(own), Some(next)) = (own.finger, next.finger) else { return false };
    own > 0 && own == next && moved > 0 && near
}

/// One question that is asked of all takes.
struct Question {
    habit: Habit,
    /// How often chance alone makes as much, or what is held against its doubt.
    chance: Chance,
    /// By enough to matter.
    matters: bool,
}

enum Chance {
    Probability(f64),
    /// And how many values its doubt was estimated from, beyond the means.
    Doubt(Measure<f64>, usize),
}

impl Question {
    fn told(&self, asked: usize) -> bool {
        self.matters
            && match self.chance {
                Chance::Probability(probability) => beyond_chance(probability, asked),
                Chance::Doubt(measure, free) => beyond_doubt(of_few(measure, free, asked), asked),
            }
    }
}

#[derive(Default)]
struct Asking {
    questions: Vec<Question>,
}

impl Asking {
    /// Notes planned with a vibrato that did not get it, or straight ones that got one, against the player's other notes.
    fn counts(&mut self, series: &[Series<'_>], straight: bool) {
        let asked = |of: &&Series<'_>| (of.planned() < LEAST_PLANNED_CENTS) == straight;
        let missed = |of: &Series<'_>| if straight { of.vibrated } else { of.heard - of.vibrated };
        let of_all = series
            .iter()
            .filter(asked)
            .fold((0, 0), |sum, of| (sum.0 + missed(of), sum.1 + of.heard));
        for of in series.iter().filter(asked) {
            let (count, of_takes) = (missed(of), of.heard);
            // Laplace's rule of succession, so that what was never seen is not impossible.
            let usual = (of_all.0 - count + 1) as f64 / (of_all.1 - of_takes + 2) as f64;
            let usual_is = if straight {
                Usual::NotStraight(count, of_takes)
            } else {
                Usual::NoVibrato(count, of_takes)
            };
            self.questions.push(Question {
                habit: Habit { whose: Whose::Note(of.note), usual: usual_is },
                chance: Chance::Probability(at_least(count, of_takes, usual)),
                matters: 2 * count > of_takes,
            });
        }
    }

    /// Widths and onsets of notes, and of groups of notes.
    fn values(&mut self, series: &[Series<'_>], groups: &BTreeMap<Whose, Vec<usize>>) {
        let widths: Vec<&[f64]> = series.iter().map(|of| &of.widths[..]).collect();
        let onsets: Vec<&[f64]> = series.iter().map(|of| &of.onsets[..]).collect();
        for (at, log, free) in own_means(&widths) {
            let planned = series[at].planned();
            let cents = wider(log, planned);
            let matters = cents.value.abs() >= WIDTH_CENTS.max(WIDTH_SHARE * planned);
            self.ask(Whose::Note(series[at].note), Usual::Width(cents), (log, free), matters);
        }
        for (at, late, free) in own_means(&onsets) {
            let matters = late.value >= ONSET_SECS;
            self.ask(Whose::Note(series[at].note), Usual::Late(late), (late, free), matters);
        }
        for (whose, members) in groups {
            if let Some((log, free)) = against_others(&widths, members) {
                let pct = wider(log, 100.0);
                let matters = pct.value.abs() >= 100.0 * GROUP_SHARE;
                self.ask(whose.clone(), Usual::Width(pct), (log, free), matters);
            }
            if let Some((late, free)) = against_others(&onsets, members) {
                self.ask(whose.clone(), Usual::Late(late), (late, free), late.value >= ONSET_SECS);
            }
        }
    }

    fn ask(
        &mut self,
        whose: Whose,
        usual: Usual,
        (value, free): (Measure<f64>, usize),
        matters: bool,
    ) {
        let chance = Chance::Doubt(value, free);
        self.questions.push(Question { habit: Habit { whose, usual }, chance, matters });
    }
}

/// By how much a width is greater than `planned`, from the logarithm of its share of that.
fn wider(log: Measure<f64>, planned: f64) -> Measure<f64> {
    let played = planned * log.value.exp();
    Measure { value: played - planned, se: log.se.map(|se| played * se) }
}

/// How likely `count` or more of `of` are, each with this probability.
fn at_least(count: usize, of: usize, each: f64) -> f64 {
    let (mut sum, mut ways) = (0.0, 1.0);
    for k in 0..=of {
        if k >= count {
            sum += ways * each.powi(k as i32) * (1.0 - each).powi((of - k) as i32);
        }
        ways *= (of - k) as f64 / (k + 1) as f64;
    }
    sum
}

fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len() as f64
}

fn squares(values: &[f64]) -> f64 {
    let mean = mean(values);
    values.iter().map(|value| (value - mean).powi(2)).sum()
}

/// The mean of each note that was heard often enough, with its doubt and how many values that was estimated from: the scatter
/// from take to take is that of all notes together, or, where it is greater, the note's own drawn towards that (G. K. Smyth,
/// Stat. Appl. Genet. Mol. Biol. 3 (2004), 3; from memory): one odd take of a few says little of how far a hand scatters.
fn own_means(all: &[&[f64]]) -> Vec<(usize, Measure<f64>, usize)> {
    let kept: Vec<(usize, &[f64])> = all
        .iter()
        .enumerate()
        .filter(|(_, own)| own.len() >= LEAST_TAKES)
        .map(|(at, own)| (at, *own))
        .collect();
    let free: usize = kept.iter().map(|(_, own)| own.len() - 1).sum();
    let scatter = kept.iter().map(|(_, own)| squares(own)).sum::<f64>() / free.max(1) as f64;
    let each = kept.iter().map(|(at, own)| {
        let known = ALIKE + own.len() - 1;
        let drawn = (ALIKE as f64 * scatter + squares(own)) / known as f64;
        let variance = scatter.max(drawn) / own.len() as f64;
        (*at, Measure { value: mean(own), se: Some(variance.sqrt()) }, known.min(free))
    });
    each.collect()
}

/// How far the notes of a group lie from those outside it, in the mean of each: notes differ among themselves, so it is their
/// scatter that counts, not that of takes.
fn against_others(all: &[&[f64]], members: &[usize]) -> Option<(Measure<f64>, usize)> {
    let means = |inside: bool| -> Vec<f64> {
        let of = |at: &usize| members.contains(at) == inside && all[*at].len() >= LEAST_TAKES;
        (0..all.len()).filter(of).map(|at| mean(all[at])).collect()
    };
    let (own, others) = (means(true), means(false));
    if own.len() < LEAST_NOTES || others.len() < LEAST_NOTES {
        return None;
    }
    let free = own.len() + others.len() - 2;
    let variance = (squares(&own) + squares(&others)) / free as f64;
    let se = (variance * (1.0 / own.len() as f64 + 1.0 / others.len() as f64)).sqrt();
    Some((Measure { value: mean(&own) - mean(&others), se: Some(se) }, free))
}

fn words(passage: &Passage, habit: &Habit) -> String {
    let note = matches!(habit.whose, Whose::Note(_));
    let whose = match &habit.whose {
        Whose::Note(note) => called(passage, *note),
        Whose::Finger(finger) => format!("notes of finger {finger}"),
        Whose::OnString(string) => format!("notes on the {string} string"),
        Whose::BeforeShift => "notes before a shift".to_owned(),
    };
    let told = |measure: Measure<f64>, scale: f64| {
        with_doubt(scale * measure.value.abs(), measure.se.map(|se| scale * se), 0, false)
    };
    match habit.usual {
        Usual::NoVibrato(count, of) if count == of => {
            format!("{whose} never got the vibrato you planned, in {of} takes")
        }
        Usual::NoVibrato(count, of) => {
            format!("{whose} had none of the vibrato you planned in {count} of {of} takes")
        }
        Usual::NotStraight(count, of) if count == of => {
            format!("{whose}, meant straight, was vibrated in each of {of} takes")
        }
        Usual::NotStraight(count, of) => {
            format!("{whose}, meant straight, was vibrated in {count} of {of} takes")
        }
        Usual::Late(by) => {
            let ms = told(by, 1e3);
            match note {
                true => format!(
                    "the vibrato of {whose} always set in late, {ms} ms later than on your other notes"
                ),
                false => format!("on {whose} the vibrato set in {ms} ms later than on the others"),
            }
        }
        Usual::Width(by) => {
            let how = if by.value > 0.0 { "wider" } else { "narrower" };
            match note {
                true => {
                    format!("{whose} was always {how} than you planned, by {} cents", told(by, 1.0))
                }
                false => format!(
                    "{whose} came out {} % {how}, against your plan, than the others",
                    told(by, 1.0)
                ),
            }
        }
    }
}

/// Name and version of the shape.
pub const HABITS_SCHEMA: &str = "evenwave.habits/1";

impl Serialize for Habits {
    /// As other programs read it: each habit with whose it is, what it is, and how often or by how much.
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        let mut map = to.serialize_map(None)?;
        map.serialize_entry("schema", HABITS_SCHEMA)?;
        map.serialize_entry("takes", &self.takes)?;
        map.serialize_entry("asked", &self.asked)?;
        map.serialize_entry("habits", &self.found)?;
        map.serialize_entry("said", &self.said)?;
        map.end()
    }
}

impl Serialize for Habit {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        let mut map = to.serialize_map(None)?;
        match &self.whose {
            Whose::Note(note) => map.serialize_entry("note", &(note + 1))?,
            Whose::Finger(finger) => map.serialize_entry("finger", finger)?,
            Whose::OnString(string) => map.serialize_entry("string", string)?,
            Whose::BeforeShift => map.serialize_entry("before_shift", &true)?,
        }
        let (what, unit) = match (self.usual, &self.whose) {
            (Usual::NoVibrato(..), _) => ("no vibrato", ""),
            (Usual::NotStraight(..), _) => ("not straight", ""),
            (Usual::Late(_), _) => ("onset", "_s"),
            (Usual::Width(_), Whose::Note(_)) => ("width", "_cents"),
            (Usual::Width(_), _) => ("width", "_pct"),
        };
        map.serialize_entry("what", what)?;
        match self.usual {
            Usual::NoVibrato(count, of) | Usual::NotStraight(count, of) => {
                map.serialize_entry("takes", &count)?;
                map.serialize_entry("of", &of)?;
            }
            Usual::Late(by) | Usual::Width(by) => measure(&mut map, ("by", unit), Some(by))?,
        }
        map.end()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::follow::Aligned;
    use crate::told::tests::chance;
    use tuning::{Cents, Hz, Secs};

    const PLAN: &str = "instrument cello\n\
        bar 1  D3 1 width 40 finger 1 string D, E3 1 finger 3 string D, F3 1 width 60 finger 4 string D, G2 1 open\n\
        bar 2  A2 1 finger 1 string G, B2 1 width 30 finger 3 string G, C3 1 straight finger 4 string G, D3 1 width 50 finger 1 string D\n\
        bar 3  E3 1 finger 1 string D, F3 1 finger 2 string D, G3 1 finger 4 string D, A3 1 finger 1 string A\n\
        bar 4  B3 1 width 60 finger 3 string A, C4 1 finger 4 string A, D4 1 finger 4 string A, E4 1 finger 4 string A\n\
        bar 5  D3 1 straight finger 1 string D, E3 1 finger 3 string D, D3 1 finger 1 string D, E3 1 finger 3 string D\n";

    /// What a player does of the passage.
    struct Hand {
        /// Unevenness of widths as a share of them, and of onsets in seconds.
        uneven: f64,
        late_secs: f64,
        /// Share of vibratos that are forgotten.
        forgets: f64,
    }

    /// Takes in which each note is played with chance alone about its plan, and changed by `habit`.
    fn takes(
        passage: &Passage,
        count: usize,
        hand: &Hand,
        draws: &mut impl Iterator<Item = f64>,
        habit: impl Fn(usize, &mut PlayedNote),
    ) -> Vec<Vec<PlayedNote>> {
        let mut draw = || draws.next().expect("endless");
        let mut take = || {
            let mut played = Vec::new();
            for (note, plan) in passage.notes().iter().enumerate() {
                let (start, end) = (Secs(note as f64), Secs(note as f64 + 1.0));
                let how = if draw().abs() > 2.2 { How::LeftOut } else { How::Played };
                let planned = plan.intention.mean_width().get();
                let share = 1.0 + hand.uneven * draw();
                let forgotten = draw().abs() < 1.25 * hand.forgets;
                let vibrated = planned > 0.0 && !forgotten;
                let known = |value: f64| Measure { value, se: Some(1.0) };
                let secs = |value: f64| Measure { value: Secs(value), se: Some(Secs(0.02)) };
                let mut one = PlayedNote {
                    aligned: Aligned { note: Some(note), start, end, how },
                    too_short: false,
                    centre: None,
                    width: vibrated.then(|| known(planned * share.max(0.1)).in_unit()),
                    rate: vibrated.then_some(Measure { value: Hz(5.0), se: None }),
                    widths: None,
                    rates: None,
                    peak: None,
                    onset: vibrated.then(|| secs(0.15 + (hand.late_secs * draw()).abs())),
                    ended_early: None,
                    gap: None,
                    course: Vec::new(),
                    differences: Vec::new(),
                };
                habit(note, &mut one);
                played.push(one);
            }
            played
        };
        (0..count).map(|_| take()).collect()
    }

    fn found(passage: &Passage, takes: &[Vec<PlayedNote>]) -> Habits {
        let all: Vec<&[PlayedNote]> = takes.iter().map(Vec::as_slice).collect();
        habits(passage, &all)
    }

    const HANDS: [Hand; 3] = [
        Hand { uneven: 0.15, late_secs: 0.04, forgets: 0.02 },
        Hand { uneven: 0.3, late_secs: 0.1, forgets: 0.1 },
        Hand { uneven: 0.5, late_secs: 0.2, forgets: 0.3 },
    ];

    #[test]
    fn of_sets_without_a_habit_one_in_twenty_tells_one_at_most() {
        let passage = Passage::from_text(PLAN).expect("read");
        let mut draws = chance();
        for (number, hand) in HANDS.iter().enumerate() {
            for count in [3, 5, 12] {
                let told = |_| {
                    let takes = takes(&passage, count, hand, &mut draws, |_, _| {});
                    usize::from(!found(&passage, &takes).found.is_empty())
                };
                let told: usize = (0..300).map(told).sum();
                assert!(told <= 15, "hand {number}, {count} takes: {told} of 300");
            }
        }
    }

    /// Whose habits are told in how many of 100 sets of five takes.
    fn told_in(habit: impl Fn(usize, &mut PlayedNote)) -> BTreeMap<Whose, usize> {
        let passage = Passage::from_text(PLAN).expect("read");
        let mut draws = chance();
        let mut told = BTreeMap::new();
        for _ in 0..100 {
            let takes = takes(&passage, 5, &HANDS[0], &mut draws, &habit);
            for habit in found(&passage, &takes).found {
                *told.entry(habit.whose).or_default() += 1;
            }
        }
        told
    }

    #[test]
    fn habits_are_found_where_they_are() {
        let told = told_in(|note, one| {
            if note == 5 {
                (one.width, one.onset) = (None, None);
            }
        });
        assert_eq!(told.get(&Whose::Note(5)).copied().unwrap_or(0), 100, "never: {told:?}");
        let told = told_in(|note, one| {
            if note == 2 {
                one.onset =
                    one.onset.map(|onset| Measure { value: Secs(onset.value.0 + 0.2), ..onset });
            }
        });
        assert!(told.get(&Whose::Note(2)).copied().unwrap_or(0) >= 95, "late: {told:?}");
        let told = told_in(|note, one| {
            if note == 7 {
                one.width =
                    one.width.map(|width| Measure { value: Cents(1.6 * width.value.0), ..width });
            }
        });
        assert!(told.get(&Whose::Note(7)).copied().unwrap_or(0) >= 90, "wide: {told:?}");
        let told = told_in(|note, one| {
            if [2, 10, 13, 14, 15].contains(&note) {
                one.width =
                    one.width.map(|width| Measure { value: Cents(0.6 * width.value.0), ..width });
            }
        });
        assert!(told.get(&Whose::Finger(4)).copied().unwrap_or(0) >= 80, "narrow fourth: {told:?}");
        let told = told_in(|note, one| {
            if note == 6 {
                one.width = Some(Measure { value: Cents(20.0), se: None });
            }
        });
        assert_eq!(told.get(&Whose::Note(6)).copied().unwrap_or(0), 100, "not straight: {told:?}");
    }

    #[test]
    fn a_shift_is_where_a_finger_moves_along_its_string_and_an_open_string_has_no_habits() {
        let passage = Passage::from_text(PLAN).expect("read");
        let shifts: Vec<usize> = (0..16).filter(|note| shifts(&passage, *note)).collect();
        assert_eq!(shifts, [7, 13, 14]);
        let mut draws = chance();
        let takes = takes(&passage, 4, &HANDS[0], &mut draws, |_, one| {
            (one.width, one.onset) = (None, None)
        });
        let none = found(&passage, &takes);
        assert!(none.found.iter().all(|habit| habit.whose != Whose::Note(3)), "{none:?}");
        let few = found(&passage, &takes[..2]);
        assert_eq!(few.said, ["Habits show in 3 takes or more of one passage."]);
    }

    #[test]
    fn what_comes_back_is_said_with_its_note_and_its_doubt() {
        let passage = Passage::from_text(PLAN).expect("read");
        let mut draws = chance();
        let takes = takes(&passage, 6, &HANDS[0], &mut draws, |note, one| match note {
            5 => (one.width, one.onset) = (None, None),
            7 => {
                one.width =
                    one.width.map(|width| Measure { value: Cents(1.8 * width.value.0), ..width })
            }
            _ => {}
        });
        let said = found(&passage, &takes).said;
        assert!(
            said[0].starts_with("Note 6 (B2, bar 2) never got the vibrato you planned, in"),
            "{said:?}"
        );
        assert!(
            said[1].starts_with("Note 8 (D3, bar 2) was always wider than you planned, by "),
            "{said:?}"
        );
    }
}
