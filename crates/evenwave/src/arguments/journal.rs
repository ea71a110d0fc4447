//! What can be asked of a journal.

use std::path::PathBuf;

use clap::{Args, Subcommand};
use journal::{Entry, Filter, TakeId};

const EXAMPLES: &str = "\
Examples:
  evenwave journal list --player Mira --since 2026-11-01
  evenwave journal list --notes --csv > all-notes.csv
  evenwave journal show 2026-11-25/17-41-09
  evenwave journal studio
  evenwave journal verify
  evenwave journal export --player Mira mira.zip
  evenwave journal import mira.zip
  evenwave journal add --player Mira --instrument cello lesson.m4a
  evenwave journal export-task Mira mira-task.ron
  evenwave journal import-task mira-task.ron

Reading works while a window keeps takes; writing says so and waits for nobody.
Exit status: 0 done; 1 something is damaged or could not be done; 2 wrong usage.";

/// Options of `journal`.
#[derive(Args, Clone, Debug)]
#[command(after_help = EXAMPLES)]
pub struct JournalArguments {
    /// The folder of the takes [usually the one the window keeps them in]
    #[arg(long, value_name = "FOLDER", global = true)]
    pub journal: Option<PathBuf>,
    /// What to do.
    #[command(subcommand)]
    pub deed: Deed,
}

/// What to do with a journal.
#[derive(Clone, Debug, Subcommand)]
pub enum Deed {
    /// List the takes, oldest first
    List {
        /// Which takes.
        #[command(flatten)]
        wanted: WantedTakes,
        /// With the measures of their notes
        #[arg(long)]
        notes: bool,
        /// How to write it.
        #[command(flatten)]
        form: Form,
    },
    /// Show takes with all measures of their notes
    Show {
        /// The takes, by name
        #[arg(required = true, value_name = "TAKE")]
        takes: Vec<TakeId>,
        /// How to write it.
        #[command(flatten)]
        form: Form,
    },
    /// Show a line of each student: last practice, minutes this week, task, what changed
    Studio {
        /// How to write it.
        #[command(flatten)]
        form: Form,
    },
    /// Check every byte of every take and say what is damaged
    Verify {
        /// Write one JSON object per fault and line
        #[arg(long)]
        json: bool,
    },
    /// Rebuild the index from the takes
    Index,
    /// Export takes to a new folder or, if its name ends in .zip, to one file
    Export {
        /// Only the takes of this player
        #[arg(long, value_name = "NAME")]
        player: Option<String>,
        /// The folder or .zip file, which is not there yet
        #[arg(value_name = "PLACE")]
        into: PathBuf,
    },
    /// Import takes from another journal or a .zip; those that are here already are recognised
    Import {
        /// The folder or .zip file
        #[arg(value_name = "PLACE")]
        from: PathBuf,
        /// Where a take differs, use theirs instead of yours; the old file stays beside it
        #[arg(long)]
        replace: bool,
    },
    /// Make takes of recordings: sound files (WAV, AIFF, FLAC, MP3, Ogg Vorbis, AAC) or folders of them, which stay as they are
    Add {
        /// The sound files, or folders of them
        #[arg(required = true, value_name = "FILE|FOLDER")]
        files: Vec<PathBuf>,
        /// Whose takes they become
        #[arg(long, value_name = "NAME", default_value = "", hide_default_value = true)]
        player: String,
        /// How to listen.
        #[command(flatten)]
        ear: super::EarArguments,
    },
    /// Write the task of a player into one small file, to be handed over
    ExportTask {
        /// The player; "" for the one without a name
        #[arg(value_name = "NAME")]
        player: String,
        /// The file, which is not there yet
        #[arg(value_name = "FILE")]
        into: PathBuf,
    },
    /// Take over the task in such a file
    ImportTask {
        /// The file
        #[arg(value_name = "FILE")]
        from: PathBuf,
        /// Whose task it becomes [the one it was given to]
        #[arg(long, value_name = "NAME")]
        player: Option<String>,
        /// Take it although another task stands
        #[arg(long)]
        replace: bool,
    },
    /// Write the sound of a take as .wav or .flac
    Sound {
        /// The take, by name
        #[arg(value_name = "TAKE")]
        take: TakeId,
        /// The file, which is not there yet
        #[arg(value_name = "FILE")]
        into: PathBuf,
    },
    /// Change whose takes are or what was played; "" for nobody or none
    Label {
        /// The takes, by name
        #[arg(required = true, value_name = "TAKE")]
        takes: Vec<TakeId>,
        /// Whose they are
        #[arg(long, value_name = "NAME")]
        player: Option<String>,
        /// The passage
        #[arg(long, value_name = "NAME")]
        passage: Option<String>,
        /// The finger that played all of it, 1 to 4 (0 is the thumb)
        #[arg(long, value_name = "N", value_parser = super::finger)]
        finger: Option<u8>,
        /// The string that all of it was played on
        #[arg(long, value_name = "NAME")]
        string: Option<String>,
        /// A remark to find it again by
        #[arg(long, value_name = "WORDS")]
        word: Option<String>,
    },
    /// Mark takes as kept for ever
    Keep {
        /// The takes, by name
        #[arg(required = true, value_name = "TAKE")]
        takes: Vec<TakeId>,
        /// Stop keeping them
        #[arg(long)]
        no_longer: bool,
    },
    /// Put takes into the system's trash
    Delete {
        /// The takes, by name
        #[arg(required = true, value_name = "TAKE")]
        takes: Vec<TakeId>,
        /// Delete them for good instead: no trash can bring them back
        #[arg(long)]
        for_good: bool,
    },
    /// Delete all takes of one player for good
    Erase {
        /// The player
        #[arg(value_name = "NAME")]
        player: String,
        /// Really do it: without this nothing is deleted, and you are told what would be
        #[arg(long)]
        for_good: bool,
    },
    /// Mend takes that broke off, as the window does when it opens
    Mend,
}

/// How to write what is asked for.
#[derive(Args, Clone, Copy, Debug, Default)]
pub struct Form {
    /// Write one JSON object per line
    #[arg(long, conflicts_with = "csv")]
    pub json: bool,
    /// Write CSV rows
    #[arg(long)]
    pub csv: bool,
}

/// Which takes are wanted.
#[derive(Args, Clone, Debug, Default)]
pub struct WantedTakes {
    /// Takes of this player
    #[arg(long, value_name = "NAME")]
    pub player: Option<String>,
    /// Takes on this instrument
    #[arg(long, value_name = "NAME")]
    pub instrument: Option<String>,
    /// Takes of this drill
    #[arg(long, value_name = "NAME")]
    pub drill: Option<String>,
    /// Takes of this passage
    #[arg(long, value_name = "NAME")]
    pub passage: Option<String>,
    /// Takes with notes of this finger, 1 to 4 (0 is the thumb)
    #[arg(long, value_name = "N", value_parser = super::finger)]
    pub finger: Option<u8>,
    /// Takes with these words in passage, drill, room, remark or name
    #[arg(long, value_name = "WORDS")]
    pub text: Option<String>,
    /// Takes from this day on, such as 2026-11-25
    #[arg(long, value_name = "DAY", value_parser = day)]
    pub since: Option<jiff::civil::Date>,
    /// Takes up to this day, which counts
    #[arg(long, value_name = "DAY", value_parser = day)]
    pub until: Option<jiff::civil::Date>,
}

impl WantedTakes {
    /// Those that a filter wants, from this day on.
    pub fn of(filter: &Filter, since: Option<jiff::civil::Date>) -> Self {
        let text = filter.text.trim();
        Self {
            player: filter.player.clone(),
            instrument: filter.instrument.clone(),
            drill: filter.drill.clone(),
            passage: filter.passage.clone(),
            finger: filter.finger,
            text: (!text.is_empty()).then(|| text.to_owned()),
            since,
            until: None,
        }
    }

    /// What does not depend on the day.
    pub fn filter(&self) -> Filter {
        Filter {
            player: self.player.clone(),
            instrument: self.instrument.clone(),
            finger: self.finger,
            drill: self.drill.clone(),
            passage: self.passage.clone(),
            text: self.text.clone().unwrap_or_default(),
        }
    }

    /// Whether a take was begun on a wanted day, by its name.
    pub fn wants_day(&self, entry: &Entry) -> bool {
        // Both are written alike, so that they sort as days do.
        let day = entry.id.day();
        self.since.is_none_or(|since| day >= since.to_string().as_str())
            && self.until.is_none_or(|until| day <= until.to_string().as_str())
    }
}

fn day(text: &str) -> Result<jiff::civil::Date, String> {
    text.parse().map_err(|_| format!("\"{text}\" is no day; days are like 2026-11-25"))
}
