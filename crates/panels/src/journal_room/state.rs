//! What the Journal knows: plain data. [`JournalRoom::apply`] and [`JournalRoom::hear`] are the only places where it
//! changes; what the program is to do is fetched by [`JournalRoom::wants`].

use super::offered::{Line, Offered};
use super::opened::Compared;
use super::{
    Ask, Doing, JournalAction, JournalHeard, JournalOrder, Judges, Opened, Page, Span, TraceOf,
    Writing,
};
use crate::shell::Shell;
use crate::shell::report::ReportOf;
use crate::shell::room::Room;
use journal::{
    Entry, Filter, Practised, Split, Student, TakeId, Trends, day_of, monday_of, practised,
};
use std::path::PathBuf;
use std::sync::Arc;
use tuning::Secs;
use vibrato::Quantity;

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
    /// Who plays now.
    pub(crate) player: String,
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
    /// What can be said of it beside a word is shown.
    pub(crate) labels_shown: bool,
    /// All measures of the notes are shown.
    pub(crate) measures_shown: bool,
    pub(crate) compared: [Option<(TakeId, Option<Compared>)>; 2],
    pub(crate) followed: Quantity,
    pub(crate) split: Split,
    pub(crate) span: Span,
    pub(crate) by_week: bool,
    pub(crate) trends: Option<Arc<Trends>>,
    pub(crate) practised: Option<Arc<Vec<Practised>>>,
    /// Who was named so far.
    pub(crate) named: Vec<String>,
    /// The studio sheet.
    pub(crate) students: Vec<Student>,
    pub(crate) asking: Option<Ask>,
    pub(crate) typed: String,
    pub(crate) whose: Option<String>,
    pub(crate) place: String,
    /// Takes that are here already, but differ, are to be replaced.
    pub(crate) replace: bool,
    /// What takes can be judged as.
    pub(crate) judges: Arc<Judges>,
    /// A recording that came in and is to be seen once it stands in the list.
    pub(crate) came_in: Option<TakeId>,
    /// What goes on.
    pub(crate) doing: Option<Doing>,
    pub(crate) done: Option<String>,
    pub(crate) trouble: Option<String>,
    pub(super) orders: Vec<JournalOrder>,
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
        self.compared.each_ref().map(|half| half.as_ref().map(|(id, _)| id))
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
        self.asking
            .as_ref()
            .is_some_and(|ask| ask.second_word().is_none_or(|word| word == self.typed.trim()))
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
                    opened.draw(&frames);
                    opened.trace = TraceOf::Here;
                }
                let halves = self.compared.iter_mut().flatten();
                for compared in
                    halves.filter(|half| half.0 == id).filter_map(|half| half.1.as_mut())
                {
                    *compared = Compared::of(Arc::clone(&compared.file), &frames);
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
            JournalHeard::Studio(students) => self.students = students,
            JournalHeard::Picked(place) => self.place = place.display().to_string(),
            JournalHeard::Judges(judges) => self.judges = judges,
            JournalHeard::CameIn(id) => {
                self.came_in = Some(id);
                self.show_what_came_in();
            }
            JournalHeard::Doing(doing) => self.doing = Some(doing),
            JournalHeard::Done(words) => (self.doing, self.done) = (None, Some(words)),
            JournalHeard::Trouble(words) => (self.doing, self.trouble) = (None, Some(words)),
        }
    }

    /// The player did something.
    pub fn apply(&mut self, action: JournalAction, shell: &Shell) {
        let before = self.orders.len();
        self.change(action, shell);
        if self.orders.iter().skip(before).any(JournalOrder::changes) {
            // What was said of the deed before says nothing of this one.
            (self.done, self.trouble) = (None, None);
        }
    }

    fn change(&mut self, action: JournalAction, shell: &Shell) {
        if shell.options().player != self.player {
            self.player.clone_from(&shell.options().player);
            self.trends = None;
            self.gather();
        }
        match action {
            JournalAction::Page(page) => {
                self.turn_to(page);
                if page == Page::Players {
                    self.named.clone_from(&shell.options().players);
                    self.orders.push(JournalOrder::Studio(self.named.clone()));
                }
            }
            JournalAction::TakesOf(player) => {
                self.filter = Filter { player: Some(player), ..Filter::default() };
                self.filter_changed();
                self.turn_to(Page::Takes);
            }
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
            JournalAction::ShowLabels(shown) => self.labels_shown = shown,
            JournalAction::Pick(pick) => self.orders.push(JournalOrder::Pick(pick)),
            JournalAction::ShowMeasures(shown) => self.measures_shown = shown,
            JournalAction::Label(label) => {
                if let Some(opened) = &self.opened
                    && self.may_write()
                {
                    self.orders.push(JournalOrder::Label(opened.id.clone(), label));
                }
            }
            JournalAction::Compare => self.compare(),
            JournalAction::UseAs(use_as) => {
                if let Some(opened) = self.opened.as_ref().filter(|opened| opened.may_be_used()) {
                    let (id, part) = (opened.id.clone(), opened.played.part);
                    self.orders.push(JournalOrder::ToLesson { id, part, use_as });
                }
            }
            JournalAction::Judge(judge_as) => self.judge(&judge_as, shell),
            JournalAction::Uncompare(half) => self.compared[half as usize] = None,
            JournalAction::Swap => self.compared.swap(0, 1),
            JournalAction::Follow(quantity) => {
                self.followed = quantity;
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
                if name != shell.options().player {
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
            JournalAction::Add(files) => match files.as_slice() {
                [zip]
                    if zip.extension().is_some_and(|ending| ending.eq_ignore_ascii_case("zip")) =>
                {
                    self.place = zip.display().to_string();
                    self.orders.push(JournalOrder::Weigh(zip.clone()));
                }
                _ => self.orders.push(JournalOrder::Add {
                    files,
                    context: Box::new(shell.options().take_context(Room::Journal)),
                }),
            },
            JournalAction::StopAdding => self.orders.push(JournalOrder::StopAdding),
            JournalAction::ShowUnread(shown) => self.unread_shown = shown,
            JournalAction::Report => self.orders.extend(self.report().map(JournalOrder::Report)),
            JournalAction::Look => self.orders.push(JournalOrder::Look),
            JournalAction::Dismiss => (self.done, self.trouble) = (None, None),
        }
    }

    pub(super) fn turn_to(&mut self, page: Page) {
        if page != self.page && self.opened.as_ref().is_some_and(|o| o.played.sounds) {
            self.stop();
        }
        self.page = page;
        self.gather();
    }

    /// What trends are of: the filter, and one player. Where it names none, that is whoever plays now; and who
    /// played last where that player has no take.
    pub(crate) fn trend_filter(&self) -> Filter {
        let mut filter = self.filter.clone();
        if filter.player.is_none() {
            let plays = self.offered.players.contains(&self.player).then(|| self.player.clone());
            filter.player = plays.or_else(|| Some(self.entries.last()?.player.clone()));
        }
        filter
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
        self.orders.push(JournalOrder::ReadToCompare(id));
        if place == 1 {
            self.turn_to(Page::Compare);
        }
    }

    /// Gathers what the page shows, if that was not done yet.
    pub(super) fn gather(&mut self) {
        match self.page {
            Page::Trends if self.trends.is_none() => {
                let trends =
                    Trends::gather(&self.entries, &self.trend_filter(), self.followed, self.split);
                self.trends = Some(Arc::new(trends));
            }
            Page::Minutes if self.practised.is_none() => {
                let all = practised(&self.entries, &self.filter, self.weekly());
                self.practised = Some(Arc::new(all));
            }
            _ => {}
        }
    }

    pub(super) fn ask(&mut self, ask: Ask) {
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
        if let Ask::Erase(player) = &ask {
            self.named.retain(|name| name != player);
        }
        self.orders.push(match ask {
            Ask::Delete(id) => JournalOrder::Delete(id),
            Ask::DeleteForGood(id) => JournalOrder::DeleteForGood(id),
            Ask::Erase(player) => JournalOrder::Erase(player),
            Ask::Import(found) => JournalOrder::Import { from: found.from, replace: self.replace },
        });
    }

    /// What a report is of here and now; `None` where there is nothing to report.
    pub(crate) fn report(&self) -> Option<ReportOf> {
        match self.page {
            Page::Takes => self.chosen.clone().map(ReportOf::Take),
            Page::Trends | Page::Minutes => {
                let latest = self.lines.iter().find(|line| matches!(line, Line::Take(_)))?;
                let monday = monday_of(day_of(&self.entries[latest.entry()]));
                let filter = match self.page {
                    Page::Trends => self.trend_filter(),
                    _ => self.filter.clone(),
                };
                Some(ReportOf::Weeks {
                    filter: Box::new(filter),
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
