//! Takes of one passage by players who have a habit, or none: what comes back from take to take.

use coach::plan::{Intention, Passage, PlanNote};
use coach::played::{Habit, Usual, Whose};
use tone::{Bow, Line, NoteSpec, Room, Spec, VibratoSpec};
use tuning::{Cents, Hz, Secs, Tuning};

use crate::corpus::Draw;
use crate::passages::midi_of;

/// Fingers, strings and shifts; open strings, and notes that are meant straight.
const PLAN: &str = "title Over two strings\ninstrument cello\npace 66 free\nkey D major\n\
    bar 1  E3 1 width 40 rate 5.5 finger 1 string D, F#3 1 straight finger 3 string D, G3 1 width 30 finger 4 string D, A3 1 open\n\
    bar 2  B3 1 width 40 finger 1 string A, C#4 1 width 45 finger 3 string A, D4 1 width 40 finger 4 string A, E4 1 width 50 finger 4 string A\n\
    bar 3  D4 1 width 40 finger 4 string A, C#4 1 width 35 finger 3 string A, B3 1 straight finger 1 string A, A3 1 open\n\
    bar 4  G3 1 straight finger 3 string D, E3 1 width 40 rate 5.5 finger 1 string D, F#3 1 width 35 finger 1 string D, D3 1 open\n";
/// A hand comes back to a width within this share of it, and to an onset within so many seconds; of so many vibratos it
/// forgets one.
const UNEVEN: f64 = 0.15;
const LATE_SECS: f64 = 0.04;
const FORGETS: f64 = 0.02;
/// The player has a habit: a vibrato later by so many seconds, so many times as wide, or so much of the planned width.
const HABIT_LATE_SECS: f64 = 0.2;
const HABIT_WIDE: f64 = 1.7;
const HABIT_NARROW: f64 = 0.5;
/// The vibrato that a note gets that is meant straight.
const UNASKED_CENTS: f64 = 30.0;

/// What a player does each time.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Does {
    /// A note gets no vibrato.
    Never,
    /// A note meant straight gets one.
    NotStraight,
    /// A note's vibrato sets in late.
    Late,
    /// A note's vibrato is too wide.
    Wide,
    /// That of a finger is too narrow.
    FingerNarrow,
    /// That on a string is too wide.
    StringWide,
    /// That before a shift sets in late.
    LateBeforeShift,
}

impl Does {
    /// All of them.
    pub const ALL: [Self; 7] = [
        Self::Never,
        Self::NotStraight,
        Self::Late,
        Self::Wide,
        Self::FingerNarrow,
        Self::StringWide,
        Self::LateBeforeShift,
    ];

    fn hand(self) -> Hand {
        match self {
            Self::Never | Self::NotStraight => Hand::Contrary,
            Self::Late | Self::LateBeforeShift => Hand::Late,
            Self::Wide | Self::StringWide => Hand::Wide,
            Self::FingerNarrow => Hand::Narrow,
        }
    }
}

impl std::fmt::Display for Does {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Self::Never => "a note never gets its vibrato",
            Self::NotStraight => "a straight note always gets one",
            Self::Late => "a note's sets in 0.2 s late",
            Self::Wide => "a note's is 1.7 times as wide",
            Self::FingerNarrow => "a finger's is half as wide",
            Self::StringWide => "a string's is 1.7 times as wide",
            Self::LateBeforeShift => "before shifts it sets in 0.2 s late",
        })
    }
}

/// A habit as it was made: whose it is, and the notes that have it.
#[derive(Clone, Debug)]
pub struct Made {
    does: Does,
    whose: Whose,
    notes: Vec<usize>,
}

impl Made {
    /// Whether this is what was made.
    pub fn is(&self, told: &Habit) -> bool {
        told.whose == self.whose && self.same(told.usual)
    }

    /// Whether it is true besides: told of one of its notes, or of the other string, which is then narrower than this one.
    pub fn follows(&self, told: &Habit) -> bool {
        match told.whose {
            Whose::Note(note) => self.notes.contains(&note) && self.same(told.usual),
            Whose::OnString(_) if self.does == Does::StringWide => {
                let narrower = matches!(told.usual, Usual::Width(by) if by.value < 0.0);
                told.whose != self.whose && narrower
            }
            _ => false,
        }
    }

    fn same(&self, usual: Usual) -> bool {
        match self.does {
            Does::Never => matches!(usual, Usual::NoVibrato(..)),
            Does::NotStraight => matches!(usual, Usual::NotStraight(..)),
            Does::Late | Does::LateBeforeShift => matches!(usual, Usual::Late(_)),
            Does::Wide | Does::StringWide => {
                matches!(usual, Usual::Width(by) if by.value > 0.0)
            }
            Does::FingerNarrow => matches!(usual, Usual::Width(by) if by.value < 0.0),
        }
    }
}

/// How all notes of one take are played.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Hand {
    /// As planned.
    Usual,
    /// Every vibrato sets in late.
    Late,
    /// Every vibrato is too wide.
    Wide,
    /// Every vibrato is too narrow.
    Narrow,
    /// Straight where a vibrato is planned, and the other way round.
    Contrary,
}

impl Hand {
    /// All of them.
    pub const ALL: [Self; 5] = [Self::Usual, Self::Late, Self::Wide, Self::Narrow, Self::Contrary];
}

/// The passage that is played.
pub fn plan() -> Passage {
    Passage::from_text(PLAN).expect("a passage")
}

/// A player, who puts each note of each take together from takes that were heard: which habit was made, and of each take
/// for each note the hand and the number of the take that it comes from, of `of` takes of each hand.
pub fn player(
    number: u64,
    does: Option<Does>,
    takes: usize,
    of: impl Fn(Hand) -> usize,
) -> (Option<Made>, Vec<Vec<(Hand, usize)>>) {
    let mut draw = Draw::new(number, "habits");
    let passage = plan();
    let made = does.map(|does| made(&passage, does, &mut draw));
    let mut rows = vec![Vec::new(); takes];
    for note in 0..passage.notes().len() {
        let has = made.as_ref().filter(|made| made.notes.contains(&note));
        let hand = has.map_or(Hand::Usual, |made| made.does.hand());
        let mut left: Vec<usize> = (0..of(hand)).collect();
        for row in &mut rows {
            let at = draw.whole(0, left.len() as i32 - 1) as usize;
            row.push((hand, left.swap_remove(at)));
        }
    }
    (made, rows)
}

fn made(passage: &Passage, does: Does, draw: &mut Draw) -> Made {
    let those = |which: &dyn Fn(&PlanNote) -> bool| -> Vec<usize> {
        let notes = passage.notes().iter().enumerate();
        notes.filter(|(_, note)| which(note)).map(|(at, _)| at).collect()
    };
    let vibrated = |note: &PlanNote| note.intention != Intention::Straight && !note.open();
    let one_of = |notes: Vec<usize>, draw: &mut Draw| {
        let note = notes[draw.whole(0, notes.len() as i32 - 1) as usize];
        (Whose::Note(note), vec![note])
    };
    let (whose, notes) = match does {
        Does::Never | Does::Late | Does::Wide => one_of(those(&vibrated), draw),
        Does::NotStraight => {
            one_of(those(&|note| note.intention == Intention::Straight && !note.open()), draw)
        }
        Does::FingerNarrow => {
            (Whose::Finger(4), those(&|note| vibrated(note) && note.finger == Some(4)))
        }
        Does::StringWide => {
            let on_a = |note: &PlanNote| vibrated(note) && note.string.as_deref() == Some("A");
            (Whose::OnString("A".into()), those(&on_a))
        }
        // D4 to E4 and back by the fourth finger, E3 to F#3 by the first.
        Does::LateBeforeShift => (Whose::BeforeShift, vec![6, 7, 13]),
    };
    Made { does, whose, notes }
}

/// The sound of take number `number`; dry and in rooms in turn.
pub fn take(hand: Hand, number: u64) -> Spec {
    let draw = &mut Draw::new(number, &format!("{hand:?} take"));
    let passage = plan();
    let beat = passage.beat().get() * draw.even(0.95, 1.05);
    let mut time = 0.5;
    let mut notes = Vec::new();
    for note in passage.notes() {
        let midi = midi_of(note).expect("no rests");
        let secs = beat * note.beats.get() * (1.0 + draw.normal(0.03));
        let f0 = Tuning::default().frequency(midi).raised(Cents(draw.normal(5.0)));
        let gap = draw.even(0.02, 0.08);
        notes.push(NoteSpec {
            level_db: draw.normal(1.5),
            wander: Cents(draw.even(0.5, 2.0)),
            vibrato: vibrato(note, hand, draw),
            ..NoteSpec::straight(Secs(time), Secs(secs - gap), f0)
        });
        time += secs;
    }
    let room = match number % 3 {
        0 => None,
        1 => Some(Room { t60: Secs(draw.even(0.3, 0.7)), drr_db: 10.0 }),
        _ => Some(Room { t60: Secs(draw.even(0.3, 1.0)), drr_db: 5.0 }),
    };
    Spec {
        seed: draw.whole(1, i32::MAX - 1) as u64,
        level_dbfs: -24.0,
        floor_dbfs: Some(-70.0),
        bow: Bow { snr_db: Some(30.0), ..Bow::default() },
        room,
        lines: vec![Line { notes, level_db: 0.0 }],
        ..Spec::default()
    }
}

fn vibrato(note: &PlanNote, hand: Hand, draw: &mut Draw) -> Option<VibratoSpec> {
    let planned = note.intention.mean_width().get();
    let scale = (1.0 + draw.normal(UNEVEN)).max(0.3);
    let late = 0.03 + draw.normal(LATE_SECS).abs();
    let forgotten = draw.even(0.0, 1.0) < FORGETS;
    let rate = Hz(draw.even(5.0, 6.0));
    let upward = draw.yes();
    let straight = planned == 0.0;
    if note.open() || forgotten || straight != (hand == Hand::Contrary) {
        return None;
    }
    let (times, later) = match hand {
        Hand::Usual | Hand::Contrary => (1.0, 0.0),
        Hand::Late => (1.0, HABIT_LATE_SECS),
        Hand::Wide => (HABIT_WIDE, 0.0),
        Hand::Narrow => (HABIT_NARROW, 0.0),
    };
    let width = if straight { UNASKED_CENTS } else { planned };
    Some(VibratoSpec {
        delay: Secs(late + later),
        upward,
        rate_jitter_pct: 4.0,
        width_jitter_pct: 6.0,
        ..VibratoSpec::regular(rate, Cents(width * scale * times))
    })
}
