//! What the player can do in the room, and what is asked before some of it.

use journal::{Filter, Label, Split, TakeId};
use std::path::PathBuf;
use tuning::Secs;
use vibrato::Quantity;

use super::{Found, Pick};
use crate::shell::action::UseAs;

/// A page of the room.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum Page {
    /// The list, and the take that is chosen.
    #[default]
    Takes,
    /// Measures over the weeks.
    Trends,
    /// How much was played.
    Minutes,
    /// Two takes beside each other.
    Compare,
    /// Whose takes there are; takes out and in.
    Players,
}

impl Page {
    /// All of them, in the order in which they are offered.
    pub const ALL: [Self; 5] =
        [Self::Takes, Self::Trends, Self::Minutes, Self::Compare, Self::Players];

    /// What it is called.
    pub fn name(self) -> &'static str {
        match self {
            Self::Takes => "Takes",
            Self::Trends => "Trends",
            Self::Minutes => "Minutes",
            Self::Compare => "Compare",
            Self::Players => "Players",
        }
    }
}

/// A step in the list.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Step {
    /// To the take above, which is later.
    Up,
    /// To the take below.
    Down,
    /// Ten up.
    PageUp,
    /// Ten down.
    PageDown,
    /// To the latest.
    First,
    /// To the earliest.
    Last,
}

/// One of the two takes that are compared.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Half {
    /// The first.
    First,
    /// The second.
    Second,
}

/// How much time trends and minutes show.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum Span {
    /// Twelve weeks.
    #[default]
    Weeks,
    /// A year.
    Year,
    /// All.
    All,
}

impl Span {
    /// All of them, in the order in which they are offered.
    pub const ALL: [Self; 3] = [Self::Weeks, Self::Year, Self::All];

    /// What it is called.
    pub fn name(self) -> &'static str {
        match self {
            Self::Weeks => "12 weeks",
            Self::Year => "a year",
            Self::All => "all",
        }
    }

    /// How many days it reaches back.
    pub fn days(self) -> Option<i32> {
        match self {
            Self::Weeks => Some(84),
            Self::Year => Some(364),
            Self::All => None,
        }
    }
}

/// What must be typed before a take is deleted for good.
pub(crate) const FOR_GOOD: &str = "for good";

/// A question that is asked before something is done that cannot be undone at once.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Ask {
    /// Put a take into the trash?
    Delete(TakeId),
    /// Delete a take for good? Needs a second word.
    DeleteForGood(TakeId),
    /// Delete all takes of a player for good? Needs the name once more.
    Erase(String),
    /// Take in what was found?
    Import(Found),
}

impl Ask {
    /// What must be typed before it is done.
    pub fn second_word(&self) -> Option<&str> {
        match self {
            Self::Delete(_) | Self::Import(_) => None,
            Self::DeleteForGood(_) => Some(FOR_GOOD),
            Self::Erase(player) => Some(if player.is_empty() { FOR_GOOD } else { player }),
        }
    }
}

/// What a take that was made elsewhere can be judged as, by name.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum JudgeAs {
    /// Rounds of this drill.
    Round(String),
    /// This passage, as its plan wants it.
    Passage(String),
}

/// What the player did.
#[derive(Clone, Debug, PartialEq)]
pub enum JournalAction {
    /// Another page.
    Page(Page),
    /// Choose a place in the system's dialog.
    Pick(Pick),
    /// Show or hide all measures of the notes.
    ShowMeasures(bool),
    /// The takes of this player, in the list.
    TakesOf(String),
    /// Only takes of this kind.
    Filter(Box<Filter>),
    /// Show or hide what can be filtered by.
    ShowFilter(bool),
    /// A step in the list.
    Step(Step),
    /// Choose this take and open it.
    Choose(TakeId),
    /// Open the chosen take.
    Open,
    /// The chosen take is seen beside the list: it is to be read.
    Show,
    /// Back to the list.
    Back,
    /// Play the open take, or stop.
    Play,
    /// Go to this place of it.
    Seek(Secs),
    /// Go on or back by so much.
    Nudge(Secs),
    /// Set the first end of the part to the place that is heard, or the second.
    PartFromHere,
    /// The same for its second end.
    PartToHere,
    /// The part is this note.
    PartOfNote(usize),
    /// The part is all of it.
    PartAll,
    /// Again and again, or once.
    Loop(bool),
    /// At half speed, or as it was played.
    HalfSpeed(bool),
    /// Mark the chosen take as kept for ever, or take the mark away.
    Keep,
    /// Say this of the open take.
    Label(Label),
    /// Show or hide what can be said of it beside a word.
    ShowLabels(bool),
    /// Compare the chosen take: it becomes the first of two, then the second.
    Compare,
    /// The part of the open take that is played is the lesson's model, or an echo.
    UseAs(UseAs),
    /// Judge the part of the open take as this, and keep that with it.
    Judge(JudgeAs),
    /// Take one of the two away again.
    Uncompare(Half),
    /// Let the two change places.
    Swap,
    /// Follow this measure over the weeks.
    Follow(Quantity),
    /// Tell notes apart by this.
    Split(Split),
    /// Show so much time.
    Span(Span),
    /// Show minutes by the week, or by the day.
    ByWeek(bool),
    /// Ask this before it is done.
    Ask(Ask),
    /// What was typed as a second word.
    Typed(String),
    /// Do it; `false`: leave it.
    Answer(bool),
    /// New takes belong to this player.
    Player(String),
    /// Whose takes go out or are erased; `None` for all.
    Whose(Option<String>),
    /// Where takes go out to, or come in from.
    Place(String),
    /// Whether takes that are here already, but differ, are to be replaced.
    Replace(bool),
    /// Copy them out.
    Export,
    /// Look what could come in.
    Weigh,
    /// Make takes of these recordings; a zip may hold takes of another journal.
    Add(Vec<PathBuf>),
    /// Make takes of no further ones.
    StopAdding,
    /// Show or hide the list of takes that cannot be read.
    ShowUnread(bool),
    /// A report is wanted: of the chosen take or, over the weeks, of what the filter wants.
    Report,
    /// Look at all takes anew.
    Look,
    /// What was told was read.
    Dismiss,
}
