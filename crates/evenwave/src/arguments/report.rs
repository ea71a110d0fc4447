//! What a report can be of.

use std::path::PathBuf;

use clap::{Args, Subcommand};

use super::{EarArguments, MeantArguments, WantedTakes};

const EXAMPLES: &str = "\
Examples:
  evenwave report -o take.html take 2026-11-25/17-41-09
  evenwave report -o monday.html drill there-and-back monday.flac
  evenwave report -o lesson.html lesson model.wav echo-1.wav echo-2.wav
  evenwave report -o tide.html passage low-tide tide.flac
  evenwave report -o mira.html weeks --player Mira --since 2026-10-01

One page of HTML that needs nothing but itself: read it in any browser, print it on A4 or Letter, send it.
Takes are named as `evenwave journal list` names them; sound files and folders of takes by their paths.
Exit status: 0 written; 1 something cannot be read or written; 2 wrong usage.";

/// Options of `report`.
#[derive(Args, Clone, Debug)]
#[command(after_help = EXAMPLES)]
pub struct ReportArguments {
    /// The file to write
    #[arg(short, long, value_name = "FILE.html")]
    pub out: PathBuf,
    /// Write over a file of that name
    #[arg(long)]
    pub replace: bool,
    /// The folder of the takes [usually the one the window keeps them in]
    #[arg(long, value_name = "FOLDER")]
    pub journal: Option<PathBuf>,
    /// How to listen to sound files, and how to name notes.
    #[command(flatten)]
    pub ear: EarArguments,
    /// What it is of.
    #[command(subcommand)]
    pub of: ReportOf,
}

/// What a report is of.
#[derive(Clone, Debug, Subcommand)]
pub enum ReportOf {
    /// A take, or a recording
    Take {
        /// The take or sound file
        #[arg(value_name = "TAKE|FILE")]
        take: String,
    },
    /// The rounds of a drill in a take or recording
    Drill {
        /// The drill: its name, or the path of a drill file ending in .ron
        #[arg(value_name = "NAME")]
        name: String,
        /// The take or sound file
        #[arg(value_name = "TAKE|FILE")]
        take: String,
        /// How the notes are meant.
        #[command(flatten)]
        meant: MeantArguments,
    },
    /// A lesson: a model, and the echoes that answer it
    Lesson {
        /// The take or sound file that was to be imitated
        #[arg(value_name = "MODEL")]
        model: String,
        /// The takes or sound files that answer it, in the order in which they were played
        #[arg(value_name = "ECHO", required = true)]
        echoes: Vec<String>,
    },
    /// A passage: what was planned of each note, and what was played
    Passage {
        /// The passage: a file, or the name of one that comes along
        #[arg(value_name = "PLAN")]
        plan: String,
        /// The take or sound file
        #[arg(value_name = "TAKE|FILE")]
        take: String,
        /// The same without vibrato, played before: whether the bow's line survived is told against it
        #[arg(long, value_name = "TAKE|FILE")]
        straight: Option<String>,
    },
    /// Some weeks of the journal: practice, and how each measure ran
    Weeks {
        /// Which takes.
        #[command(flatten)]
        wanted: WantedTakes,
    },
}
