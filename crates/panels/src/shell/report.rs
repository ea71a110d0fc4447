//! A report that the player wants as a page: what it is of, and how it stands with it.

use coach::plan::Passage;
use journal::{Day, Filter, TakeId};
use std::path::PathBuf;

/// What a report is of.
#[derive(Clone, Debug, PartialEq)]
pub enum ReportOf {
    /// A take.
    Take(TakeId),
    /// The round of the drill that was judged last: its take.
    Round(TakeId),
    /// A pass through a passage.
    Pass {
        /// The plan that it was played by.
        passage: Box<Passage>,
        /// Its take.
        take: TakeId,
        /// That of the straight pass before it.
        straight: Option<TakeId>,
    },
    /// A model and the echoes that answer it.
    Lesson {
        /// The take of the model.
        model: TakeId,
        /// Those of the echoes, in the order in which they were played.
        echoes: Vec<TakeId>,
    },
    /// Some weeks of the journal.
    Weeks {
        /// Which takes.
        filter: Box<Filter>,
        /// From this day on; `None` for all.
        since: Option<Day>,
    },
}

impl ReportOf {
    /// What stands in it.
    pub(crate) fn in_words(&self) -> String {
        match self {
            Self::Take(_) => "The take: gauges, trace, and all notes with their measures.".to_owned(),
            Self::Round(_) => {
                "The round: what was asked and made, finger by finger, what was found, and its trace."
                    .to_owned()
            }
            Self::Pass { .. } => {
                "The pass: the staff, what was planned and what was played, note by note, and the bow’s line."
                    .to_owned()
            }
            Self::Lesson { echoes, .. } => {
                let echoes = match echoes.len() {
                    1 => "its echo".to_owned(),
                    count => format!("its {count} echoes"),
                };
                format!("The model and {echoes}: what differs, each with its margin.")
            }
            Self::Weeks { .. } => {
                "The takes that the filter wants, in the time that is shown: practice, and each measure over the weeks."
                    .to_owned()
            }
        }
    }
}

/// How it stands with a report.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub enum ReportState {
    /// It is not written yet.
    #[default]
    Asked,
    /// It is being written.
    Coming,
    /// It is here.
    Written(PathBuf),
    /// It could not be written, for this reason.
    Trouble(String),
}

impl ReportState {
    /// What became of it, once that is known.
    pub(crate) fn told(&self) -> Option<String> {
        match self {
            Self::Asked | Self::Coming => None,
            Self::Written(path) => Some(format!("the report is written: {}", path.display())),
            Self::Trouble(words) => Some(words.clone()),
        }
    }
}

/// A report that the player wants.
#[derive(Clone, Debug, PartialEq)]
pub struct Report {
    /// What it is of.
    pub of: ReportOf,
    /// How it stands with it.
    pub state: ReportState,
}
