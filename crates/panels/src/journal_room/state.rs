//! What the Journal knows: plain data. [`JournalRoom::apply`] and [`JournalRoom::hear`] are the only places where it
//! changes; what the program is to do is fetched by [`JournalRoom::wants`].

use crate::report::ReportOf;
use crate::stand::Stand;
use crate::stand::picture::Point;
use journal::{
    Aspect, Entry, Filter, Practised, Split, TakeFile, TakeId, Trends, Weighed, day_of, monday_of,
    practised,
};
use pitch::Frame;
use std::collections::{BTreeSet, HashSet};
use std::path::PathBuf;
use std::sync::Arc;
use tuning::{Hz, Secs};

/// A turn of the page in the list, in lines.
const PAGE: usize = 10;
/// What must be typed before a take is deleted for good.
pub(crate) const FOR_GOOD: &str = "for good";
/// Two frames further apart than this do not belong to one line; frames come every 5 ms.
const FRAME_APART: f64 = 0.0075;
/// The shortest part that is repeated.
const LEAST_PART: f64 = 0.2;

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
    pub const ALL: [Self; 5] = [
        Self::Takes,
        Self::Trends,
        Self::Minutes,
        Self::Compare,
        Self::Players,
    ];

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

/// Whether takes may be changed.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub enum Writing {
    /// The journal is being opened.
    #[default]
    Opening,
    /// They may.
    Allowed,
    /// They can only be read, for this reason.
    OnlyReading(String),
}

/// What the program's thread tells.
#[derive(Clone, Debug)]
pub enum JournalHeard {
    /// All takes, in the order of time, as they are now.
    Entries {
        /// What is known of them.
        entries: Arc<Vec<Arc<Entry>>>,
        /// Those that cannot be understood, and why.
        unread: Vec<(TakeId, String)>,
    },
    /// Whether they may be changed.
    Writing(Writing),
    /// There is no journal to be read, for this reason.
    NoJournal(String),
    /// All but the sound of a take that was asked for.
    Take {
        /// Which.
        id: TakeId,
        /// What stands in its file.
        file: Arc<TakeFile>,
    },
    /// A take that was asked for cannot be read, for this reason.
    NoTake {
        /// Which.
        id: TakeId,
        /// Why.
        words: String,
    },
    /// The pitch of a take, measured again from its sound.
    Trace {
        /// Which.
        id: TakeId,
        /// In the order of time.
        frames: Vec<Frame>,
    },
    /// Its sound cannot be read, for this reason.
    NoTrace {
        /// Which.
        id: TakeId,
        /// Why.
        words: String,
    },
    /// The sound that is heard now, counted from the start of the take.
    At(Secs),
    /// Nothing is played any more.
    Stopped,
    /// What lies in a place that may be taken in.
    Found(Found),
    /// Something goes on, and how far it is.
    Doing(String),
    /// Something was done.
    Done(String),
    /// Something could not be done.
    Trouble(String),
}

/// What lies in a place that may be taken in.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Found {
    /// The place: the folder of a journal, or a zip.
    pub from: PathBuf,
    /// What would become of it.
    pub weighed: Weighed,
}

/// What the program is to do.
#[derive(Clone, Debug, PartialEq)]
pub enum JournalOrder {
    /// Look at all takes anew.
    Look,
    /// Read this take, and measure its sound.
    Read(TakeId),
    /// Read this take, without its sound.
    ReadMeasures(TakeId),
    /// Mark it as kept for ever, or take the mark away.
    Keep(TakeId, bool),
    /// Leave this word with it.
    Word(TakeId, String),
    /// Put it into the system's trash.
    Delete(TakeId),
    /// Delete it for good.
    DeleteForGood(TakeId),
    /// Copy the takes of a player, or of all, into a new folder or zip.
    Export {
        /// Whose; `None` for all.
        player: Option<String>,
        /// Where to.
        into: PathBuf,
    },
    /// Look what lies in a folder or zip that may be taken in.
    Weigh(PathBuf),
    /// Take in what lies there.
    Import {
        /// Where.
        from: PathBuf,
        /// Takes that are here already, but differ, become as they are there; else they stay as they are here.
        replace: bool,
    },
    /// Delete all takes of a player for good.
    Erase(String),
    /// New takes belong to this player.
    Player(String),
    /// Play this take.
    Play {
        /// Which.
        id: TakeId,
        /// From here on, counted from the start of the take.
        from: Secs,
        /// The part that is played, or that is played again and again.
        part: (Secs, Secs),
        /// Again and again.
        looped: bool,
        /// 1, or 0.5 for half speed at the same pitch.
        speed: f64,
    },
    /// Go on from here.
    Seek(Secs),
    /// Play nothing.
    Stop,
    /// A report of this is wanted.
    Report(ReportOf),
}

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

/// What the player did.
#[derive(Clone, Debug, PartialEq)]
pub enum JournalAction {
    /// Another page.
    Page(Page),
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
    /// Leave a word with the open take.
    Word(String),
    /// Compare the chosen take: it becomes the first of two, then the second.
    Compare,
    /// Take one of the two away again.
    Uncompare(Half),
    /// Let the two change places.
    Swap,
    /// Follow this measure over the weeks.
    Aspect(Aspect),
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
    /// Show or hide the list of takes that cannot be read.
    ShowUnread(bool),
    /// A report is wanted: of the chosen take or, over the weeks, of what the filter wants.
    Report,
    /// Look at all takes anew.
    Look,
    /// What was told was read.
    Dismiss,
}

/// The pitch of the open take.
#[derive(Clone, Debug, Default, PartialEq)]
pub enum TraceOf {
    /// It is being measured.
    #[default]
    Coming,
    /// In the order of time; pitch as a distance from A4 of the take.
    Here(Arc<Vec<Point>>),
    /// There is none, for this reason.
    None(String),
}

/// The take that is open.
#[derive(Clone, Debug, PartialEq)]
pub struct Opened {
    /// Which.
    pub id: TakeId,
    /// What stands in its file, once that is read.
    pub file: Option<Arc<TakeFile>>,
    /// Why it cannot be read.
    pub trouble: Option<String>,
    /// Its pitch.
    pub trace: TraceOf,
    /// How it is played.
    pub played: Played,
}

/// How a take is played.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Played {
    /// It sounds.
    pub sounds: bool,
    /// What is heard now or next.
    pub at: Secs,
    /// The part that is played.
    pub part: (Secs, Secs),
    /// Again and again.
    pub looped: bool,
    /// At half speed.
    pub half: bool,
}

/// A line of the list.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Line {
    /// A day begins: its first take in the list, how many it has.
    Day { first: usize, takes: usize },
    /// A take: its place among all.
    Take(usize),
}

/// What can be filtered by: all values that some take has.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(crate) struct Offered {
    pub players: Vec<String>,
    pub instruments: Vec<String>,
    pub drills: Vec<String>,
    pub passages: Vec<String>,
    pub fingers: Vec<u8>,
}

/// The room: takes found again.
#[derive(Clone, Debug, Default)]
pub struct JournalRoom {
    pub(crate) entries: Arc<Vec<Arc<Entry>>>,
    pub(crate) unread: Vec<(TakeId, String)>,
    pub(crate) unread_shown: bool,
    /// The entries were told at least once.
    pub(crate) told: bool,
    pub(crate) no_journal: Option<String>,
    pub(crate) writing: Writing,
    pub(crate) page: Page,
    pub(crate) filter: Filter,
    pub(crate) filter_shown: bool,
    pub(crate) offered: Offered,
    /// The list, latest first.
    pub(crate) lines: Vec<Line>,
    /// Takes that the filter wants.
    pub(crate) wanted: usize,
    pub(crate) chosen: Option<TakeId>,
    /// The line of the chosen take.
    pub(crate) chosen_line: Option<usize>,
    /// How often the choice moved: the list follows it.
    pub(crate) moves: u64,
    pub(crate) opened: Option<Opened>,
    /// The take lies over the list, where there is room for one of them only.
    pub(crate) in_take: bool,
    pub(crate) compared: [Option<(TakeId, Option<Arc<TakeFile>>)>; 2],
    pub(crate) aspect: Aspect,
    pub(crate) split: Split,
    pub(crate) span: Span,
    pub(crate) by_week: bool,
    pub(crate) trends: Option<Arc<Trends>>,
    pub(crate) practised: Option<Arc<Vec<Practised>>>,
    pub(crate) asking: Option<Ask>,
    pub(crate) typed: String,
    pub(crate) whose: Option<String>,
    pub(crate) place: String,
    /// Takes that are here already, but differ, are to be replaced.
    pub(crate) replace: bool,
    /// What goes on.
    pub(crate) doing: Option<String>,
    pub(crate) done: Option<String>,
    pub(crate) trouble: Option<String>,
    orders: Vec<JournalOrder>,
}

impl JournalRoom {
    /// Nothing is known yet.
    pub fn new() -> Self {
        Self::default()
    }

    /// What the program is to do since it was asked last.
    pub fn wants(&mut self) -> Vec<JournalOrder> {
        std::mem::take(&mut self.orders)
    }

    /// The page that is looked at.
    pub fn page(&self) -> Page {
        self.page
    }

    /// The take that is chosen in the list.
    pub fn chosen(&self) -> Option<&TakeId> {
        self.chosen.as_ref()
    }

    /// The take that is open.
    pub fn opened(&self) -> Option<&Opened> {
        self.opened.as_ref()
    }

    /// Which takes are wanted.
    pub fn filter(&self) -> &Filter {
        &self.filter
    }

    /// How many takes the filter wants.
    pub fn wanted(&self) -> usize {
        self.wanted
    }

    /// The question that is asked.
    pub fn asking(&self) -> Option<&Ask> {
        self.asking.as_ref()
    }

    /// The two takes that are compared.
    pub fn compared(&self) -> [Option<&TakeId>; 2] {
        self.compared
            .each_ref()
            .map(|half| half.as_ref().map(|(id, _)| id))
    }

    /// Takes may be changed.
    pub fn may_write(&self) -> bool {
        self.writing == Writing::Allowed
    }

    /// Minutes are shown by the week: of years, always.
    pub(crate) fn weekly(&self) -> bool {
        self.by_week || self.span == Span::All
    }

    /// What was typed is the second word that is asked for, or none is.
    pub(crate) fn may_answer(&self) -> bool {
        self.asking.as_ref().is_some_and(|ask| {
            ask.second_word()
                .is_none_or(|word| word == self.typed.trim())
        })
    }

    /// The entry of the chosen take.
    pub(crate) fn chosen_entry(&self) -> Option<&Arc<Entry>> {
        self.entry(self.chosen.as_ref()?)
    }

    pub(crate) fn entry(&self, id: &TakeId) -> Option<&Arc<Entry>> {
        let place = self.entries.binary_search_by(|entry| entry.id.cmp(id));
        self.entries.get(place.ok()?)
    }

    /// Takes in what the program's thread tells.
    pub fn hear(&mut self, heard: JournalHeard) {
        match heard {
            JournalHeard::Entries { entries, unread } => self.take_entries(entries, unread),
            JournalHeard::Writing(writing) => self.writing = writing,
            JournalHeard::NoJournal(words) => {
                self.no_journal = Some(words);
                self.told = true;
            }
            JournalHeard::Take { id, file } => self.take_file(&id, &file),
            JournalHeard::NoTake { id, words } => {
                if let Some(opened) = self.opened.as_mut().filter(|opened| opened.id == id) {
                    opened.trouble = Some(words.clone());
                }
                if self.compared.iter().flatten().any(|half| half.0 == id) {
                    self.trouble = Some(words);
                }
            }
            JournalHeard::Trace { id, frames } => {
                if let Some(opened) = self.opened.as_mut().filter(|opened| opened.id == id) {
                    let a4 = opened.file.as_ref().map_or(440.0, |file| file.a4_hz);
                    opened.trace = TraceOf::Here(Arc::new(points(&frames, Hz(a4))));
                }
            }
            JournalHeard::NoTrace { id, words } => {
                if let Some(opened) = self.opened.as_mut().filter(|opened| opened.id == id) {
                    opened.trace = TraceOf::None(words);
                }
            }
            JournalHeard::At(at) => {
                if let Some(opened) = self.opened.as_mut() {
                    opened.played.at = at;
                }
            }
            JournalHeard::Stopped => {
                if let Some(opened) = self.opened.as_mut() {
                    opened.played.sounds = false;
                }
            }
            JournalHeard::Found(found) => {
                (self.doing, self.replace) = (None, false);
                self.ask(Ask::Import(found));
            }
            JournalHeard::Doing(words) => self.doing = Some(words),
            JournalHeard::Done(words) => (self.doing, self.done) = (None, Some(words)),
            JournalHeard::Trouble(words) => (self.doing, self.trouble) = (None, Some(words)),
        }
    }

    /// The player did something.
    pub fn apply(&mut self, action: JournalAction, stand: &Stand) {
        match action {
            JournalAction::Page(page) => self.turn_to(page),
            JournalAction::Filter(filter) => {
                self.filter = *filter;
                self.filter_changed();
            }
            JournalAction::ShowFilter(shown) => self.filter_shown = shown,
            JournalAction::Step(step) => self.step(step),
            JournalAction::Choose(id) => {
                self.choose(Some(id));
                self.open();
            }
            JournalAction::Open => self.open(),
            JournalAction::Show => self.show(),
            JournalAction::Back => self.in_take = false,
            JournalAction::Play => self.play_or_stop(),
            JournalAction::Seek(to) => self.seek(to),
            JournalAction::Nudge(by) => {
                if let Some(opened) = &self.opened {
                    self.seek(Secs(opened.played.at.0 + by.0));
                }
            }
            JournalAction::PartFromHere => self.set_part(|played| (played.at, played.part.1)),
            JournalAction::PartToHere => self.set_part(|played| (played.part.0, played.at)),
            JournalAction::PartOfNote(number) => self.part_of_note(number),
            JournalAction::PartAll => {
                let length = self.length();
                self.set_part(|_| (Secs(0.0), length));
            }
            JournalAction::Loop(looped) => self.change_played(|played| played.looped = looped),
            JournalAction::HalfSpeed(half) => self.change_played(|played| played.half = half),
            JournalAction::Keep => {
                if let Some(entry) = self.chosen_entry()
                    && self.may_write()
                {
                    let order = JournalOrder::Keep(entry.id.clone(), !entry.keep);
                    self.orders.push(order);
                }
            }
            JournalAction::Word(word) => {
                if let Some(opened) = &self.opened
                    && self.may_write()
                {
                    self.orders
                        .push(JournalOrder::Word(opened.id.clone(), word));
                }
            }
            JournalAction::Compare => self.compare(),
            JournalAction::Uncompare(half) => self.compared[half as usize] = None,
            JournalAction::Swap => self.compared.swap(0, 1),
            JournalAction::Aspect(aspect) => {
                self.aspect = aspect;
                self.trends = None;
                self.gather();
            }
            JournalAction::Split(split) => {
                self.split = split;
                self.trends = None;
                self.gather();
            }
            JournalAction::Span(span) => {
                self.span = span;
                self.practised = None;
                self.gather();
            }
            JournalAction::ByWeek(by_week) => {
                self.by_week = by_week;
                self.practised = None;
                self.gather();
            }
            JournalAction::Ask(ask) => {
                if self.may_write() {
                    self.ask(ask);
                }
            }
            JournalAction::Typed(typed) => self.typed = typed,
            JournalAction::Answer(yes) => self.answer(yes),
            JournalAction::Player(name) => {
                if name != stand.options().player {
                    self.orders.push(JournalOrder::Player(name));
                }
            }
            JournalAction::Whose(whose) => self.whose = whose,
            JournalAction::Place(place) => self.place = place,
            JournalAction::Replace(replace) => self.replace = replace,
            JournalAction::Export => {
                if let Some(into) = self.path() {
                    let player = self.whose.clone();
                    self.orders.push(JournalOrder::Export { player, into });
                }
            }
            JournalAction::Weigh => {
                if let Some(from) = self.path()
                    && self.may_write()
                {
                    self.orders.push(JournalOrder::Weigh(from));
                }
            }
            JournalAction::ShowUnread(shown) => self.unread_shown = shown,
            JournalAction::Report => self.orders.extend(self.report().map(JournalOrder::Report)),
            JournalAction::Look => self.orders.push(JournalOrder::Look),
            JournalAction::Dismiss => (self.done, self.trouble) = (None, None),
        }
    }

    fn turn_to(&mut self, page: Page) {
        if page != self.page && self.opened.as_ref().is_some_and(|o| o.played.sounds) {
            self.stop();
        }
        self.page = page;
        self.gather();
    }

    fn take_entries(&mut self, entries: Arc<Vec<Arc<Entry>>>, unread: Vec<(TakeId, String)>) {
        self.told = true;
        self.no_journal = None;
        self.entries = entries;
        self.unread = unread;
        self.offered = Offered::of(&self.entries);
        if let Some(opened) = &self.opened
            && self.entry(&opened.id).is_none()
        {
            self.stop();
            self.opened = None;
            self.in_take = false;
        }
        for half in 0..2 {
            let gone = |id: &TakeId| self.entry(id).is_none();
            if self.compared[half].as_ref().is_some_and(|(id, _)| gone(id)) {
                self.compared[half] = None;
            }
        }
        self.filter_changed();
    }

    /// The list is laid out anew. The choice stays where it is, or goes to the take next to it.
    fn filter_changed(&mut self) {
        let ready = self.filter.ready();
        let wanted: Vec<usize> = (0..self.entries.len())
            .rev()
            .filter(|&place| ready.wants(&self.entries[place]))
            .collect();
        self.wanted = wanted.len();
        self.lines.clear();
        let days = wanted.chunk_by(|&a, &b| self.entries[a].id.day() == self.entries[b].id.day());
        for day in days {
            self.lines.push(Line::Day {
                first: day[0],
                takes: day.len(),
            });
            self.lines.extend(day.iter().copied().map(Line::Take));
        }
        (self.trends, self.practised) = (None, None);
        self.gather();
        let near = self.chosen.take();
        let nearest = near.and_then(|id| {
            // Lines run from late to early.
            let later = |line: &Line| self.entries[line.entry()].id > id;
            let from = self.lines.partition_point(later);
            let takes = |line: &&Line| matches!(line, Line::Take(_));
            let after = self.lines[from..].iter().find(takes);
            after
                .or_else(|| self.lines[..from].iter().rev().find(takes))
                .copied()
        });
        let first = self.lines.iter().find(|line| matches!(line, Line::Take(_)));
        let chosen = nearest.or(first.copied());
        self.choose(chosen.map(|line| self.entries[line.entry()].id.clone()));
    }

    fn choose(&mut self, id: Option<TakeId>) {
        self.chosen_line = id.as_ref().and_then(|id| {
            let is =
                |line: &Line| matches!(line, Line::Take(place) if self.entries[*place].id == *id);
            self.lines.iter().position(is)
        });
        self.chosen = id.filter(|_| self.chosen_line.is_some());
        self.moves += 1;
    }

    fn step(&mut self, step: Step) {
        let takes: Vec<usize> = (0..self.lines.len())
            .filter(|&line| matches!(self.lines[line], Line::Take(_)))
            .collect();
        let Some(last) = takes.len().checked_sub(1) else {
            return;
        };
        let now = self
            .chosen_line
            .and_then(|line| takes.binary_search(&line).ok());
        let next = match (step, now) {
            (Step::First, _) | (_, None) => 0,
            (Step::Last, _) => last,
            (Step::Up, Some(now)) => now.saturating_sub(1),
            (Step::Down, Some(now)) => now + 1,
            (Step::PageUp, Some(now)) => now.saturating_sub(PAGE),
            (Step::PageDown, Some(now)) => now + PAGE,
        };
        let line = takes[next.min(last)];
        self.chosen_line = Some(line);
        self.chosen = Some(self.entries[self.lines[line].entry()].id.clone());
        self.moves += 1;
    }

    /// Opens the chosen take.
    fn open(&mut self) {
        self.in_take = self.chosen.is_some();
        self.show();
    }

    /// The chosen take is read, if it is not the one that is.
    fn show(&mut self) {
        let Some(entry) = self.chosen_entry().cloned() else {
            return;
        };
        if self
            .opened
            .as_ref()
            .is_some_and(|opened| opened.id == entry.id)
        {
            return;
        }
        self.stop();
        let length = Secs(f64::from(entry.length_s));
        self.opened = Some(Opened {
            id: entry.id.clone(),
            file: None,
            trouble: None,
            trace: match entry.sound {
                journal::SoundFile::Whole { .. } => TraceOf::Coming,
                journal::SoundFile::None => TraceOf::None("there is no sound".to_owned()),
                journal::SoundFile::Forgotten => TraceOf::None(
                    "its sound was thrown away to make room; its measures stay".to_owned(),
                ),
            },
            played: Played {
                sounds: false,
                at: Secs(0.0),
                part: (Secs(0.0), length),
                looped: false,
                half: false,
            },
        });
        self.orders.push(JournalOrder::Read(entry.id.clone()));
    }

    fn take_file(&mut self, id: &TakeId, file: &Arc<TakeFile>) {
        if let Some(opened) = self.opened.as_mut().filter(|opened| opened.id == *id) {
            let whole = (Secs(0.0), Secs(file.length_s));
            if opened.file.is_none() {
                opened.played.part = whole;
            }
            opened.file = Some(Arc::clone(file));
            opened.trouble = None;
        }
        for half in self.compared.iter_mut().flatten() {
            if half.0 == *id {
                half.1 = Some(Arc::clone(file));
            }
        }
    }

    fn length(&self) -> Secs {
        let opened = self.opened.as_ref();
        let known = opened.and_then(|opened| self.entry(&opened.id));
        Secs(known.map_or(0.0, |entry| f64::from(entry.length_s)))
    }

    fn play_or_stop(&mut self) {
        self.open();
        let Some(opened) = &mut self.opened else {
            return;
        };
        if opened.played.sounds {
            self.stop();
            return;
        }
        if matches!(opened.trace, TraceOf::None(_)) {
            return;
        }
        let (from, to) = opened.played.part;
        if opened.played.at < from || opened.played.at.0 >= to.0 - 0.02 {
            opened.played.at = from;
        }
        opened.played.sounds = true;
        self.order_play();
    }

    fn order_play(&mut self) {
        let Some(opened) = self.opened.as_ref().filter(|o| o.played.sounds) else {
            return;
        };
        let Played {
            at,
            part,
            looped,
            half,
            ..
        } = opened.played;
        self.orders.push(JournalOrder::Play {
            id: opened.id.clone(),
            from: at,
            part,
            looped,
            speed: if half { 0.5 } else { 1.0 },
        });
    }

    fn stop(&mut self) {
        if let Some(opened) = self.opened.as_mut().filter(|o| o.played.sounds) {
            opened.played.sounds = false;
            self.orders.push(JournalOrder::Stop);
        }
    }

    fn seek(&mut self, to: Secs) {
        let length = self.length();
        let Some(opened) = &mut self.opened else {
            return;
        };
        let to = Secs(to.0.clamp(0.0, length.0));
        opened.played.at = to;
        if opened.played.sounds {
            self.orders.push(JournalOrder::Seek(to));
        }
    }

    fn set_part(&mut self, part: impl FnOnce(&Played) -> (Secs, Secs)) {
        let length = self.length();
        self.change_played(|played| {
            let (from, to) = part(played);
            let (from, to) = (from.0.min(to.0), from.0.max(to.0));
            let to = to.max(from + LEAST_PART).min(length.0);
            played.part = (Secs((to - LEAST_PART).min(from).max(0.0)), Secs(to));
        });
    }

    fn part_of_note(&mut self, number: usize) {
        let file = self.opened.as_ref().and_then(|opened| opened.file.clone());
        let Some(note) = file.as_ref().and_then(|file| file.notes.get(number)) else {
            return;
        };
        let (from, to) = (Secs(note.start_s), Secs(note.end_s));
        self.set_part(|_| (from, to));
        self.seek(from);
    }

    /// How it is played changes: what sounds goes on in the new way.
    fn change_played(&mut self, change: impl FnOnce(&mut Played)) {
        let Some(opened) = &mut self.opened else {
            return;
        };
        let before = opened.played;
        change(&mut opened.played);
        if opened.played != before {
            self.order_play();
        }
    }

    fn compare(&mut self) {
        let Some(id) = self.chosen.clone() else {
            return;
        };
        if self.compared.iter().flatten().any(|half| half.0 == id) {
            self.turn_to(Page::Compare);
            return;
        }
        let place = usize::from(self.compared[0].is_some());
        self.compared[place] = Some((id.clone(), None));
        self.orders.push(JournalOrder::ReadMeasures(id));
        if place == 1 {
            self.turn_to(Page::Compare);
        }
    }

    /// Gathers what the page shows, if that was not done yet.
    fn gather(&mut self) {
        match self.page {
            Page::Trends if self.trends.is_none() => {
                let trends = Trends::gather(&self.entries, &self.filter, self.aspect, self.split);
                self.trends = Some(Arc::new(trends));
            }
            Page::Minutes if self.practised.is_none() => {
                let all = practised(&self.entries, &self.filter, self.weekly());
                self.practised = Some(Arc::new(all));
            }
            _ => {}
        }
    }

    fn ask(&mut self, ask: Ask) {
        self.typed.clear();
        self.asking = Some(ask);
    }

    fn answer(&mut self, yes: bool) {
        self.unread_shown = false;
        if yes && !self.may_answer() {
            return;
        }
        let Some(ask) = self.asking.take().filter(|_| yes) else {
            return;
        };
        self.typed.clear();
        if let Ask::Delete(id) | Ask::DeleteForGood(id) = &ask
            && self.opened.as_ref().is_some_and(|opened| opened.id == *id)
        {
            // Its sound must not be open while it goes.
            self.stop();
        }
        self.orders.push(match ask {
            Ask::Delete(id) => JournalOrder::Delete(id),
            Ask::DeleteForGood(id) => JournalOrder::DeleteForGood(id),
            Ask::Erase(player) => JournalOrder::Erase(player),
            Ask::Import(found) => JournalOrder::Import {
                from: found.from,
                replace: self.replace,
            },
        });
    }

    /// What a report is of here and now; `None` where there is nothing to report.
    pub(crate) fn report(&self) -> Option<ReportOf> {
        match self.page {
            Page::Takes => self.chosen.clone().map(ReportOf::Take),
            Page::Trends | Page::Minutes => {
                let latest = self
                    .lines
                    .iter()
                    .find(|line| matches!(line, Line::Take(_)))?;
                let monday = monday_of(day_of(&self.entries[latest.entry()]));
                Some(ReportOf::Weeks {
                    filter: Box::new(self.filter.clone()),
                    since: self.span.days().map(|days| monday + 7 - days),
                })
            }
            Page::Compare | Page::Players => None,
        }
    }

    fn path(&self) -> Option<PathBuf> {
        let place = self.place.trim();
        (!place.is_empty()).then(|| PathBuf::from(place))
    }
}

impl Line {
    /// The place among all takes of the take, or of the first of the day.
    pub(crate) fn entry(self) -> usize {
        match self {
            Self::Day { first, .. } => first,
            Self::Take(place) => place,
        }
    }
}

impl Offered {
    fn of(entries: &[Arc<Entry>]) -> Self {
        let mut players = HashSet::new();
        let mut instruments = HashSet::new();
        let mut drills = HashSet::new();
        let mut passages = HashSet::new();
        let mut fingers = BTreeSet::new();
        for entry in entries {
            players.insert(entry.player.as_str());
            instruments.extend(entry.instrument.as_deref());
            drills.extend(entry.drill.as_deref());
            passages.extend(entry.passage.as_deref());
            fingers.extend(entry.finger);
            fingers.extend(entry.notes.iter().filter_map(|note| note.finger));
        }
        let sorted = |all: HashSet<&str>| {
            let mut all: Vec<String> = all.into_iter().map(str::to_owned).collect();
            all.sort();
            all
        };
        Self {
            players: sorted(players),
            instruments: sorted(instruments),
            drills: sorted(drills),
            passages: sorted(passages),
            fingers: fingers.into_iter().collect(),
        }
    }
}

/// Frames as the trace has them.
fn points(frames: &[Frame], a4: Hz) -> Vec<Point> {
    let mut before: Option<Secs> = None;
    let point = |frame: &Frame| {
        let elapsed = before.map(|before| frame.time.0 - before.0);
        before = Some(frame.time);
        Point {
            time: frame.time,
            pitch: frame.f0.map(|f0| f0.cents_above(a4)),
            confidence: frame.confidence,
            level_dbfs: frame.level_dbfs,
            joined: elapsed.is_some_and(|elapsed| elapsed > 0.0 && elapsed < FRAME_APART),
        }
    };
    frames.iter().map(point).collect()
}
