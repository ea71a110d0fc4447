//! A line of the list of takes, and what the list can be filtered by.

use journal::Entry;
use std::collections::{BTreeSet, HashSet};
use std::sync::Arc;

/// A line of the list.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Line {
    /// A day begins: its first take in the list, how many it has.
    Day { first: usize, takes: usize },
    /// A take: its place among all.
    Take(usize),
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

/// What can be filtered by: all values that some take has.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(crate) struct Offered {
    pub players: Vec<String>,
    pub instruments: Vec<String>,
    pub drills: Vec<String>,
    pub passages: Vec<String>,
    pub fingers: Vec<u8>,
}

impl Offered {
    pub(super) fn of(entries: &[Arc<Entry>]) -> Self {
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
