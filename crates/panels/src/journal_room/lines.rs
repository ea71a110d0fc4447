//! The list of takes: its lines, the choice among them, what it can be filtered by.

use super::offered::{Line, Offered};
use super::{JournalOrder, JournalRoom, Page, Step};
use journal::{Entry, TakeId};
use std::sync::Arc;

/// A turn of the page in the list, in lines.
const PAGE: usize = 10;

impl JournalRoom {
    pub(super) fn take_entries(
        &mut self,
        entries: Arc<Vec<Arc<Entry>>>,
        unread: Vec<(TakeId, String)>,
    ) {
        self.told = true;
        self.no_journal = None;
        self.entries = entries;
        self.unread = unread;
        self.offered = Offered::of(&self.entries);
        if self.whose.as_ref().is_some_and(|name| !self.offered.players.contains(name)) {
            self.whose = None;
        }
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
        if self.page == Page::Players {
            self.orders.push(JournalOrder::Studio(self.named.clone()));
        }
        self.filter_changed();
        self.show_what_came_in();
    }

    /// Opens the recording that came in, whatever is filtered for, once it is there.
    pub(super) fn show_what_came_in(&mut self) {
        let Some(id) = self
            .came_in
            .take_if(|id| self.entries.binary_search_by(|entry| entry.id.cmp(id)).is_ok())
        else {
            return;
        };
        self.turn_to(Page::Takes);
        if self.line_of(&id).is_none() {
            self.filter = Default::default();
            self.filter_changed();
        }
        self.choose(Some(id));
        self.open();
    }

    /// The list is laid out anew. The choice stays where it is, or goes to the take next to it.
    pub(super) fn filter_changed(&mut self) {
        let ready = self.filter.ready();
        let wanted: Vec<usize> = (0..self.entries.len())
            .rev()
            .filter(|&place| ready.wants(&self.entries[place]))
            .collect();
        self.wanted = wanted.len();
        self.lines.clear();
        let days = wanted.chunk_by(|&a, &b| self.entries[a].id.day() == self.entries[b].id.day());
        for day in days {
            self.lines.push(Line::Day { first: day[0], takes: day.len() });
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
            after.or_else(|| self.lines[..from].iter().rev().find(takes)).copied()
        });
        let first = self.lines.iter().find(|line| matches!(line, Line::Take(_)));
        let chosen = nearest.or(first.copied());
        self.choose(chosen.map(|line| self.entries[line.entry()].id.clone()));
    }

    pub(super) fn choose(&mut self, id: Option<TakeId>) {
        self.chosen_line = id.as_ref().and_then(|id| self.line_of(id));
        self.chosen = id.filter(|_| self.chosen_line.is_some());
        self.moves += 1;
    }

    /// Where a take stands in the list.
    fn line_of(&self, id: &TakeId) -> Option<usize> {
        let is = |line: &Line| matches!(line, Line::Take(place) if self.entries[*place].id == *id);
        self.lines.iter().position(is)
    }

    pub(super) fn step(&mut self, step: Step) {
        let takes: Vec<usize> = (0..self.lines.len())
            .filter(|&line| matches!(self.lines[line], Line::Take(_)))
            .collect();
        let Some(last) = takes.len().checked_sub(1) else {
            return;
        };
        let now = self.chosen_line.and_then(|line| takes.binary_search(&line).ok());
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
}
