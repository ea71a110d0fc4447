//! How the Stand changes, and what a screen reader is told of it then.

use super::picture::{Picture, Sounding};
use super::spoken_summary::SpokenSummary;
use super::state::Stand;
use super::{gauges, note_head, steadiness};
use crate::shell::Shell;
use crate::shell::action::Action;
use crate::shell::options::Options;
use coach::{Ears, Rounds, SinceRest, Slides, Steadiness};
use tuning::Secs;

/// Least time from one word to the next while a note sounds.
const PACE: Secs = Secs(2.0);

impl Stand {
    /// Nothing heard yet.
    pub fn new(options: Options) -> Self {
        let mut stand = Self {
            ears: Ears::default(),
            rounds: Rounds::new(options.take.ends_after),
            since_rest: SinceRest::default(),
            told_of_rest: false,
            strings: Vec::new(),
            straight: false,
            steadiness: Steadiness::default(),
            slides: Slides::default(),
            own: None,
            live: Picture::default(),
            held: None,
            spoken_summary: SpokenSummary::default(),
            shell: Shell::new(options),
        };
        stand.ears.show(stand.shell.options().showing);
        stand.take_options();
        stand.spoken_summary = SpokenSummary::of(&stand);
        stand
    }

    /// The one place where the Stand changes, and the shell below it.
    pub fn apply(&mut self, action: Action) {
        self.follow(&action);
        let set = matches!(action, Action::Set(_));
        self.shell.apply(action);
        if set {
            self.take_options();
        } else if self.ears.showing() != self.shell.options().showing {
            self.ears.show(self.shell.options().showing);
        }
        if self.spoken_summary.is_due(self) {
            self.spoken_summary = SpokenSummary::of(self);
        }
    }
}

impl SpokenSummary {
    /// What is to be told now.
    pub fn of(stand: &Stand) -> Self {
        let picture = stand.picture();
        Self {
            time: picture.time,
            sounding: picture.sounding != Sounding::Silence,
            revealed: stand.revealed(),
            straight: stand.without_vibrato(),
            note: note_head::spoken(stand),
            rate: gauges::first(stand).spoken(),
            width: if stand.without_vibrato() {
                steadiness::spoken(stand)
            } else {
                gauges::width(stand).spoken()
            },
        }
    }

    /// Whether it is time to tell more: a note began or ended, measures were revealed, or a note has
    /// been sounding for a while.
    pub fn is_due(&self, stand: &Stand) -> bool {
        let picture = stand.picture();
        let sounding = picture.sounding != Sounding::Silence;
        let elapsed = match (picture.time, self.time) {
            (Some(now), Some(told)) => now.0 - told.0,
            (now, told) => {
                if now == told {
                    0.0
                } else {
                    PACE.0
                }
            }
        };
        sounding != self.sounding
            || stand.revealed() != self.revealed
            || stand.without_vibrato() != self.straight
            || elapsed < 0.0
            || (elapsed >= PACE.0 && (sounding || self.time.is_none()))
            || self.note.is_empty()
    }
}
