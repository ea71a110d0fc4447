//! What can be done with passages.

use std::path::PathBuf;

use clap::{Args, Subcommand};
use coach::plan::{Key, Meter, PACES};

const EXAMPLES: &str = "\
Examples:
  evenwave passage show low-tide -o low-tide.svg
  evenwave passage check low-tide take.wav
  evenwave passage check song.passage.txt at-tempo.flac --straight slowly.flac --json
  evenwave passage habits song.passage.txt monday.flac tuesday.flac wednesday.flac
  evenwave passage from-musicxml song.mxl --part Cello --bars 5-12 -o song.passage.txt
  evenwave passage from-midi song.mid --track 2 --instrument viola
  evenwave passage from-take once.wav --pace 72 --key 'D minor' -o song.passage.txt
  evenwave passage from-model song.passage.txt teacher.flac -o as-she-plays-it.passage.txt

A passage is a text file, as `evenwave manual passage` describes it, one kept as .ron, or one that comes along:
low-tide, up-the-hill, walking-home.
Exit status: 0 done; 1 something cannot be read or written; 2 wrong usage.";

/// Options of `passage`.
#[derive(Args, Clone, Debug)]
#[command(after_help = EXAMPLES)]
pub struct PassageArguments {
    /// What to do.
    #[command(subcommand)]
    pub deed: PassageDeed,
}

/// What to do with a passage.
#[derive(Clone, Debug, Subcommand)]
pub enum PassageDeed {
    /// Draw a passage: its staff, and under it the vibrato planned of each note, on one axis of time
    Show {
        /// The passage: a file, or the name of one that comes along
        #[arg(value_name = "PLAN")]
        plan: String,
        /// The picture to write
        #[arg(short, long, value_name = "FILE.svg")]
        out: PathBuf,
        /// Write over a file of that name
        #[arg(long)]
        replace: bool,
    },
    /// Say note by note what was made of a passage in a recording or a take
    Check {
        /// The passage: a file, or the name of one that comes along
        #[arg(value_name = "PLAN")]
        plan: String,
        /// What was played: a sound file, or the folder of a take
        #[arg(value_name = "TAKE")]
        take: PathBuf,
        /// The same passage without vibrato, played before: whether the bow's line survived is told against it
        #[arg(long, value_name = "TAKE")]
        straight: Option<PathBuf>,
        /// Write one JSON object
        #[arg(long)]
        json: bool,
        /// How to listen; what is left out is as the passage says.
        #[command(flatten)]
        ear: super::EarArguments,
    },
    /// Say what comes back from take to take: notes that never get their vibrato, set in late or get too much
    Habits {
        /// The passage: a file, or the name of one that comes along
        #[arg(value_name = "PLAN")]
        plan: String,
        /// What was played, three times or more: sound files, or folders of takes
        #[arg(value_name = "TAKE", required = true)]
        takes: Vec<PathBuf>,
        /// Write one JSON object
        #[arg(long)]
        json: bool,
        /// How to listen; what is left out is as the passage says.
        #[command(flatten)]
        ear: super::EarArguments,
    },
    /// Make a passage of a score: one part and voice of it, or some of its bars
    FromMusicxml {
        /// The score, .musicxml, .xml or .mxl
        #[arg(value_name = "FILE")]
        file: PathBuf,
        /// The part, by its name or number; needed where there are several
        #[arg(long)]
        part: Option<String>,
        /// The voice; needed where the part has several
        #[arg(long)]
        voice: Option<String>,
        /// The first and the last bar, such as 5-12
        #[arg(long, value_name = "FROM-TO", value_parser = bars)]
        bars: Option<(u32, u32)>,
        /// The instrument [guessed from the name of the part]
        #[arg(long)]
        instrument: Option<String>,
        /// Where it goes.
        #[command(flatten)]
        to: PassageTo,
    },
    /// Make a passage of a track of a MIDI file
    FromMidi {
        /// The file
        #[arg(value_name = "FILE")]
        file: PathBuf,
        /// The track, by its number; needed where several have notes
        #[arg(long)]
        track: Option<u32>,
        /// The instrument
        #[arg(long, default_value = "cello")]
        instrument: String,
        /// Where it goes.
        #[command(flatten)]
        to: PassageTo,
    },
    /// Take a passage down from a take in which it was played once
    FromTake {
        /// What was played: a sound file, or the folder of a take
        #[arg(value_name = "TAKE")]
        take: PathBuf,
        /// Beats a minute [found from what was played]
        #[arg(long, value_name = "BPM", value_parser = bpm)]
        pace: Option<f64>,
        /// Beats of a bar
        #[arg(long, value_name = "N of UNIT", default_value = "4 of quarter")]
        beats: Meter,
        /// The key, such as "D minor" [found from what was played]
        #[arg(long)]
        key: Option<Key>,
        /// What the passage is called
        #[arg(long, default_value = "")]
        title: String,
        /// Plan each note as it was played, too, instead of straight
        #[arg(long)]
        as_played: bool,
        /// Where it goes.
        #[command(flatten)]
        to: PassageTo,
        /// How to listen.
        #[command(flatten)]
        ear: super::EarArguments,
    },
    /// Plan a passage as a model was played: each note's width, rate and peak are copied
    FromModel {
        /// The passage: a file, or the name of one that comes along
        #[arg(value_name = "PLAN")]
        plan: String,
        /// The model: a sound file, or the folder of a take
        #[arg(value_name = "TAKE")]
        take: PathBuf,
        /// Where it goes.
        #[command(flatten)]
        to: PassageTo,
        /// How to listen; what is left out is as the passage says.
        #[command(flatten)]
        ear: super::EarArguments,
    },
}

/// Where a passage goes.
#[derive(Args, Clone, Debug)]
pub struct PassageTo {
    /// The file to write, .ron to be kept whole, any other as text [the standard output, as text]
    #[arg(short, long, value_name = "FILE")]
    pub out: Option<PathBuf>,
    /// Write over a file of that name
    #[arg(long)]
    pub replace: bool,
}

fn bpm(text: &str) -> Result<f64, String> {
    let read = text.trim().parse().ok().filter(|bpm| PACES.contains(bpm));
    read.ok_or_else(|| format!("write beats a minute, {} to {}", PACES.start(), PACES.end()))
}

fn bars(text: &str) -> Result<(u32, u32), String> {
    let (from, to) = text.split_once('-').unwrap_or((text, text));
    let number = |text: &str| text.trim().parse::<u32>().ok();
    match (number(from), number(to)) {
        (Some(from), Some(to)) if from <= to => Ok((from, to)),
        _ => Err("write the first and the last bar, such as 5-12".to_owned()),
    }
}
