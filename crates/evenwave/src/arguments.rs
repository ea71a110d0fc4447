//! The command line: what can be asked for.

mod journal;
mod passage;
mod report;

use std::path::PathBuf;

use ::journal::TakeFile;
use clap::builder::{PossibleValue, PossibleValuesParser, TypedValueParser};
use clap::{Args, Parser, Subcommand};
use coach::{Aim, Align, Swing};
use tuning::{Hz, Instrument, Naming, Temperament, Tuning, midi_from_name};
use vibrato::Settings;

use crate::heard_file::Wanted;
use crate::manual::MANUAL;
pub use journal::{Deed, Form, JournalArguments, WantedTakes};
pub use passage::{PassageArguments, PassageDeed, PassageTo};
pub use report::{ReportArguments, ReportOf};

/// The range that is heard when no instrument is named: all that the ear can hear, from below a
/// bass's low B to the end of a violin's fingerboard.
pub const ALL_BOWED_STRINGS: (Hz, Hz) = (pitch::LOWEST, pitch::HIGHEST);

const EXAMPLES: &str = "\
Examples:
  evenwave                                    open the window and listen to the microphone
  evenwave practise --demo NAME               open the window on a demo session
  evenwave lesson.m4a                         open the window and take a recording into the Journal
  evenwave measure take.wav                   notes and vibrato of a recording as a table
  evenwave measure --json lessons/*.flac      the same as JSON, one object a line, on all cores
  evenwave hear --instrument cello            a line per note, live from the microphone
  evenwave devices                            which microphones and loudspeakers there are
  evenwave manual first-hour                  what to do first; `evenwave manual` lists all pages

The tool measures; it does not grade. Start loose; stop at pain, numbness or tingling; rest often.";

const MEASURE_EXAMPLES: &str = "\
Examples:
  evenwave measure take.wav
  evenwave measure --instrument cello --a4 442 take.flac
  evenwave measure --json --from 10 --to 25 take.mp3
  evenwave measure --csv monday/*.wav > monday.csv
  evenwave measure --frames frames.csv take.wav
  find /archive -name '*.flac' | evenwave measure --json --files-from - > notes.jsonl
  evenwave measure --into studio.csv recordings/
  evenwave measure --into studio.csv --forget recordings/monday

Of a folder all sound files are measured, those in folders below it too.
Exit status: 0 all files measured; 1 some failed and the others are done; 2 wrong usage.";

const HEAR_EXAMPLES: &str = "\
Examples:
  evenwave hear
  evenwave hear --instrument viola --seconds 60
  evenwave hear --json --device \"USB Audio\" --channel 2

A microphone that is missing, pulled out or silent is told in words and tried again.
Exit status: 0 something was heard; 1 no microphone was heard at all; 2 wrong usage.";

const DRILL_EXAMPLES: &str = "\
Examples:
  evenwave drill --list
  evenwave drill there-and-back round.wav
  evenwave drill all-in-a-row --pace 72 --per-beat 3 --count 6 --instrument cello round.flac
  evenwave drill my-drill.ron --json monday.wav

Silence ends a round; a file may hold several, one JSON object a line. Start loose; stop at pain,
numbness or tingling; rest often.
Exit status: 0 judged; 1 the drill or the recording cannot be read; 2 wrong usage.";

const COMPARE_EXAMPLES: &str = "\
Examples:
  evenwave compare teacher.wav student.wav
  evenwave compare --json --align cycles teacher.wav student.wav
  evenwave compare takes/2026-11-25/17-41-09 takes/2026-11-25/17-41-33
  evenwave compare --journal takes 2026-11-25/17-41-09 2026-11-25/17-41-33

Notes are paired by their order and the steps of the pitch; an echo may be played in another octave or
on another string. Differences are echo minus model, each with its doubt: no marks are given. Of takes,
the measures are compared that were kept with them.
Exit status: 0 compared; 1 one of the two cannot be read or has no notes; 2 wrong usage.";

const TONE_EXAMPLES: &str = "\
Example:
  evenwave tone demo-sessions/first-finger.ron -o session.wav --truth session.csv

The same specification gives the same samples, to the last bit.";

/// A practice coach for vibrato on bowed strings: hears notes and states their rate, width,
/// evenness and centre, each with its doubt.
#[derive(Clone, Debug, Parser)]
#[command(name = "evenwave", version, about, after_help = EXAMPLES)]
pub struct Arguments {
    /// What to do; without a command, the window opens.
    #[command(subcommand)]
    pub command: Option<Command>,
}

/// What to do.
#[derive(Clone, Debug, Subcommand)]
pub enum Command {
    /// Open the window: the trace, live rate and width, and the measures of each note
    Practise(PractiseArguments),
    /// Measure the notes of sound files (WAV, AIFF, FLAC, MP3, Ogg Vorbis, AAC)
    #[command(after_help = MEASURE_EXAMPLES)]
    Measure(MeasureArguments),
    /// Listen to the microphone and write a line per note as it ends
    #[command(after_help = HEAR_EXAMPLES)]
    Hear(HearArguments),
    /// List the microphones and loudspeakers that work
    Devices,
    /// Judge the recording of a drill's rounds: counts, gaps, evenness, finger by finger
    #[command(after_help = DRILL_EXAMPLES)]
    Drill(DrillArguments),
    /// Compare an echo with its model: what differs, how sure that is, and what differs most
    #[command(after_help = COMPARE_EXAMPLES)]
    Compare(CompareArguments),
    /// List, filter, verify, export and import the takes that were kept
    Journal(JournalArguments),
    /// Write a page of HTML of a take, a drill, a lesson or some weeks, to be read, printed or sent
    Report(ReportArguments),
    /// Draw a passage and what is planned of it, or make one of a score
    Passage(PassageArguments),
    /// Make a bowed-string-like sound of exactly known pitch from a specification
    #[command(after_help = TONE_EXAMPLES)]
    Tone(ToneArguments),
    /// Show a page of the manual; without a name, which pages there are
    Manual {
        /// The page
        #[arg(value_name = "PAGE", value_parser = manual_pages())]
        page: Option<String>,
    },
    /// Write the completions of a shell to the standard output
    Completions {
        /// The shell
        shell: clap_complete::Shell,
    },
}

/// Options of `practise`.
#[derive(Args, Clone, Debug, Default)]
pub struct PractiseArguments {
    /// Recordings to take into the Journal first (WAV, AIFF, FLAC, MP3, Ogg Vorbis, AAC)
    #[arg(value_name = "FILE|FOLDER")]
    pub recordings: Vec<PathBuf>,
    /// Play a demo session instead of listening to the microphone
    #[arg(long, value_name = "NAME")]
    pub demo: Option<String>,
    /// The microphone, as `evenwave devices` lists it
    #[arg(long, value_name = "NAME", conflicts_with = "demo")]
    pub device: Option<String>,
    /// The settings file [usually in the folder where the platform keeps settings]
    #[arg(long, value_name = "FILE.ron")]
    pub settings: Option<PathBuf>,
    /// The folder of the takes [usually in the folder where the platform keeps data]
    #[arg(long, value_name = "FOLDER")]
    pub journal: Option<PathBuf>,
    /// Write what the window shows, four times a second, as JSON (for the gates of the project)
    #[arg(long, value_name = "FILE", hide = true)]
    pub watch: Option<PathBuf>,
    /// Write all that a screen reader is told, with its place, as JSON (for the gates of the project)
    #[arg(long, value_name = "FILE", hide = true)]
    pub told: Option<PathBuf>,
    /// Hear this sound file instead of the microphone, again and again; takes are kept (for the gates of the project)
    #[arg(long, value_name = "FILE", conflicts_with_all = ["demo", "device"], hide = true)]
    pub sound: Option<PathBuf>,
    /// So many times as fast as it was played
    #[arg(long, value_name = "N", value_parser = speed, requires = "sound", hide = true)]
    pub speed: Option<f64>,
    /// How to listen.
    #[command(flatten)]
    pub ear: EarArguments,
}

/// Options of `measure`.
#[derive(Args, Clone, Debug)]
pub struct MeasureArguments {
    /// The sound files, or folders of them
    #[arg(required_unless_present_any = ["forget", "files_from"], value_name = "FILE|FOLDER")]
    pub files: Vec<PathBuf>,
    /// Measure the files that this list names, too: one path a line; - reads the list from the standard input
    #[arg(long, value_name = "LIST")]
    pub files_from: Option<PathBuf>,
    /// Write one JSON object per file and line
    #[arg(long, conflicts_with = "csv")]
    pub json: bool,
    /// Write one CSV row per note; a text that a spreadsheet would compute has an apostrophe before it
    #[arg(long)]
    pub csv: bool,
    /// Also write every pitch frame, 200 a second (with one sound file only)
    #[arg(long, value_name = "FILE.csv")]
    pub frames: Option<PathBuf>,
    /// Add the rows of each file to this table as it is done; run again to go on where it broke off
    #[arg(long, value_name = "TABLE.csv", conflicts_with_all = ["json", "csv", "frames"])]
    pub into: Option<PathBuf>,
    /// Take the rows of this file, or of all files of this folder, out of the table; else rows stay, be their file found or not
    #[arg(long, value_name = "FILE|FOLDER", requires = "into")]
    pub forget: Vec<PathBuf>,
    /// Start at this many seconds into the file
    #[arg(long, value_name = "S", value_parser = secs)]
    pub from: Option<f64>,
    /// Stop at this many seconds into the file
    #[arg(long, value_name = "S", value_parser = secs)]
    pub to: Option<f64>,
    /// How to listen.
    #[command(flatten)]
    pub ear: EarArguments,
}

/// Options of `hear`.
#[derive(Args, Clone, Debug)]
pub struct HearArguments {
    /// End after this many seconds; without it, listen until interrupted
    #[arg(long, value_name = "N", value_parser = secs)]
    pub seconds: Option<f64>,
    /// Write one JSON object per note and line
    #[arg(long)]
    pub json: bool,
    /// The microphone, as `evenwave devices` lists it
    #[arg(long, value_name = "NAME")]
    pub device: Option<String>,
    /// How to listen.
    #[command(flatten)]
    pub ear: EarArguments,
}

/// Options of `drill`.
#[derive(Args, Clone, Debug)]
pub struct DrillArguments {
    /// The drill: its name, or the path of a drill file ending in .ron
    #[arg(value_name = "NAME", required_unless_present = "list")]
    pub name: Option<String>,
    /// The recording
    #[arg(value_name = "FILE", required_unless_present_any = ["list", "copy"])]
    pub file: Option<PathBuf>,
    /// List the drills: those that come with the program, and your own, in the folder `drills` beside the settings
    #[arg(long)]
    pub list: bool,
    /// Lay a copy of a drill that comes with the program among your own, to be changed, and say where
    #[arg(long, conflicts_with_all = ["list", "file"])]
    pub copy: bool,
    /// Write one JSON object per round and line
    #[arg(long)]
    pub json: bool,
    /// Beats per minute, 20 to 208, in place of the drill's
    #[arg(long, value_name = "BPM", value_parser = bpm)]
    pub pace: Option<f64>,
    /// Oscillations per beat, 1, 2, 3, 4, 6 or 1/2, in place of the drill's
    #[arg(long, value_name = "N", value_parser = per_beat)]
    pub per_beat: Option<f64>,
    /// Oscillations of each finger, 1 to 16, in place of the drill's
    #[arg(long, value_name = "N", value_parser = oscillations)]
    pub count: Option<u32>,
    /// The fingers in order, such as 2,3,2 (0 is the thumb), in place of the drill's
    #[arg(long, value_name = "N,N,N", value_delimiter = ',', value_parser = finger)]
    pub fingers: Option<Vec<u8>>,
    /// Do not point out signs of tiring
    #[arg(long)]
    pub no_tiring: bool,
    /// Do not suggest a rest
    #[arg(long)]
    pub no_rest: bool,
    /// How the notes are meant.
    #[command(flatten)]
    pub meant: MeantArguments,
    /// How to listen.
    #[command(flatten)]
    pub ear: EarArguments,
}

/// How the notes of a drill are meant.
#[derive(Args, Clone, Copy, Debug)]
pub struct MeantArguments {
    /// The vibrato is meant to go below the note, its crests on it
    #[arg(long)]
    pub below: bool,
    /// The notes are tuned purely to this drone, such as D3
    #[arg(long, value_name = "NOTE", value_parser = drone)]
    pub drone: Option<i32>,
}

impl MeantArguments {
    /// Where the notes are meant to lie.
    pub fn aim(self) -> Aim {
        let swing = if self.below { Swing::Below } else { Swing::Around };
        Aim { swing, drone: self.drone, ..Aim::default() }
    }
}

fn drone(name: &str) -> Result<i32, String> {
    midi_from_name(name).map_err(|_| {
        format!("there is no note {name}; name it by letter and octave, such as D3 or F#2")
    })
}

/// Options of `compare`.
#[derive(Args, Clone, Debug)]
pub struct CompareArguments {
    /// What was played to be imitated: a sound file, the folder of a take, or its name with --journal
    #[arg(value_name = "MODEL")]
    pub model: String,
    /// What answers it
    #[arg(value_name = "ECHO")]
    pub echo: String,
    /// Write one JSON object
    #[arg(long)]
    pub json: bool,
    /// How rate and width are laid side by side through the notes (`course` in the JSON)
    #[arg(long, value_name = "HOW", default_value = "start", value_parser = one_of(ALIGNS))]
    pub align: Align,
    /// The folder of the takes, for takes that are named
    #[arg(long, value_name = "FOLDER")]
    pub journal: Option<PathBuf>,
    /// How to listen.
    #[command(flatten)]
    pub ear: EarArguments,
}

/// Options of `tone`.
#[derive(Args, Clone, Debug)]
pub struct ToneArguments {
    /// What to play, as RON
    #[arg(value_name = "SPEC.ron")]
    pub spec: PathBuf,
    /// The WAV file to write (32-bit float)
    #[arg(short, long, value_name = "FILE.wav")]
    pub out: PathBuf,
    /// Also write the exact pitch, 200 times a second
    #[arg(long, value_name = "FILE.csv")]
    pub truth: Option<PathBuf>,
    /// Write over files of that name
    #[arg(long)]
    pub replace: bool,
}

/// How to listen and how to name what is heard. What is left out is as usual: for the window, as it
/// was set there.
#[derive(Args, Clone, Debug, Default)]
pub struct EarArguments {
    /// Frequency of A4 in Hz, 392 to 466 [usually 440]
    #[arg(long, value_name = "HZ", value_parser = a4)]
    pub a4: Option<f64>,
    /// What the notes are measured against [usually equal]
    #[arg(long, value_name = "NAME", value_parser = one_of(TEMPERAMENTS))]
    pub temperament: Option<Temperament>,
    /// violin, viola, cello, double-bass, or the path of an instrument file; narrows the range in
    /// which pitch is sought
    #[arg(long, value_name = "NAME", value_parser = instrument)]
    pub instrument: Option<ChosenInstrument>,
    /// The channel to hear, counted from 1; without it, all channels together
    #[arg(long, value_name = "N", value_parser = channel)]
    pub channel: Option<usize>,
    /// How notes are named [usually scientific]
    #[arg(long, value_name = "KIND", value_parser = one_of(NAMINGS))]
    pub names: Option<Naming>,
}

/// An instrument, and how it was asked for.
#[derive(Clone, Debug)]
pub struct ChosenInstrument {
    /// Its name or the path of its file.
    pub asked: String,
    /// The instrument itself.
    pub instrument: Instrument,
}

/// What can be chosen: its name, its help, and what it is.
type Choices<T> = &'static [(&'static str, &'static str, T)];

const TEMPERAMENTS: Choices<Temperament> = &[
    ("equal", "Twelve equal semitones", Temperament::Equal),
    (
        "pure-fifths",
        "Pure fifths up and down from A, as the strings are tuned",
        Temperament::PureFifths,
    ),
];
const NAMINGS: Choices<Naming> = &[
    ("scientific", "C2, C♯3, B♭3, A4", Naming::Scientific),
    ("helmholtz", "C, c♯, b♭, a'", Naming::Helmholtz),
    ("german", "C, cis, b, a' (H is B, B is B♭)", Naming::German),
    ("fixed-do", "Do2, Do♯3, Si♭3, La4", Naming::FixedDo),
];
const ALIGNS: Choices<Align> = &[
    ("start", "From the start of the note, in seconds", Align::NoteStart),
    ("cycles", "Oscillation by oscillation", Align::Cycles),
];

/// Reads one of these.
fn one_of<T: Copy + Send + Sync + 'static>(
    choices: Choices<T>,
) -> impl TypedValueParser<Value = T> {
    let shown = choices.iter().map(|(name, help, _)| PossibleValue::new(*name).help(*help));
    PossibleValuesParser::new(shown).try_map(|chosen| {
        let found = choices.iter().find(|(name, ..)| *name == chosen);
        found.map(|choice| choice.2).ok_or("there is no such choice")
    })
}

impl EarArguments {
    /// The settings of the ear.
    pub fn settings(&self) -> Settings {
        let chosen = self.instrument.as_ref();
        let instrument = chosen.map(|chosen| &chosen.instrument);
        settings(self.tuning(Tuning::default()), instrument)
    }

    /// A whole file, heard in this way.
    pub fn whole_file(&self) -> Wanted {
        Wanted { channel: self.channel, ..Wanted::whole(self.settings()) }
    }

    /// `usual`, with what is asked for in its place.
    pub fn tuning(&self, usual: Tuning) -> Tuning {
        Tuning {
            a4: self.a4.map_or(usual.a4, Hz),
            temperament: self.temperament.unwrap_or(usual.temperament),
        }
    }

    /// How notes are named; scientific, if nothing is asked for.
    pub fn naming(&self) -> Naming {
        self.names.unwrap_or_default()
    }
}

/// The settings of the ear for this tuning and instrument; `None` for any bowed string.
pub fn settings(tuning: Tuning, instrument: Option<&Instrument>) -> Settings {
    let (lowest, highest) = ALL_BOWED_STRINGS;
    let (low, high) = match instrument {
        Some(instrument) => (instrument.low, instrument.high),
        None => ALL_BOWED_STRINGS,
    };
    let strings = instrument.and_then(|instrument| instrument.stopped(&tuning));
    Settings { tuning, low: Hz(low.0.max(lowest.0)), high: Hz(high.0.min(highest.0)), strings }
}

/// The settings of the ear for a take: its tuning and its instrument, where that is still to be had.
pub fn settings_of_take(take: &TakeFile) -> Settings {
    let named = take.instrument.as_deref();
    let instrument = named.and_then(|name| Instrument::find(name).ok());
    settings(take.tuning(), instrument.as_ref())
}

/// The names of the manual's pages.
fn manual_pages() -> PossibleValuesParser {
    PossibleValuesParser::new(MANUAL.iter().map(|page| page.name))
}

fn number(text: &str) -> Result<f64, String> {
    text.parse().map_err(|_| format!("\"{text}\" is no number"))
}

fn a4(text: &str) -> Result<f64, String> {
    let asked = number(text)?;
    Tuning::new(Hz(asked), Temperament::Equal)
        .map(|tuning| tuning.a4.0)
        .map_err(|error| error.to_string())
}

fn secs(text: &str) -> Result<f64, String> {
    let asked = number(text)?;
    if (0.0..=1e7).contains(&asked) { Ok(asked) } else { Err("give seconds, 0 or more".to_owned()) }
}

fn speed(text: &str) -> Result<f64, String> {
    let asked = number(text)?;
    if (1.0..=100.0).contains(&asked) { Ok(asked) } else { Err("give 1 to 100".to_owned()) }
}

fn bpm(text: &str) -> Result<f64, String> {
    let asked = number(text)?;
    let (low, high) = coach::BPM;
    if (low..=high).contains(&asked) {
        Ok(asked)
    } else {
        Err(format!("give {low} to {high} beats per minute"))
    }
}

fn per_beat(text: &str) -> Result<f64, String> {
    let asked = if text == "1/2" { 0.5 } else { number(text)? };
    if coach::PER_BEAT.contains(&asked) {
        Ok(asked)
    } else {
        Err("give 1, 2, 3, 4, 6 or 1/2".to_owned())
    }
}

fn oscillations(text: &str) -> Result<u32, String> {
    let (least, most) = coach::OSCILLATIONS;
    match text.parse() {
        Ok(count) if (least..=most).contains(&count) => Ok(count),
        _ => Err(format!("give a whole number from {least} to {most}")),
    }
}

fn finger(text: &str) -> Result<u8, String> {
    match text.parse() {
        Ok(finger @ 0..=4) => Ok(finger),
        _ => Err("fingers are 1 to 4, the thumb is 0".to_owned()),
    }
}

fn channel(text: &str) -> Result<usize, String> {
    match text.parse() {
        Ok(0) | Err(_) => Err("channels are counted from 1".to_owned()),
        Ok(number) => Ok(number),
    }
}

fn instrument(text: &str) -> Result<ChosenInstrument, String> {
    let found = Instrument::find(text).map_err(|error| error.to_string())?;
    let (lowest, highest) = ALL_BOWED_STRINGS;
    if found.low.0.max(lowest.0) < found.high.0.min(highest.0) {
        Ok(ChosenInstrument { asked: text.to_owned(), instrument: found })
    } else {
        Err(format!(
            "{} sounds from {} to {} Hz, outside of what can be heard, {} to {} Hz",
            found.name, found.low.0, found.high.0, lowest.0, highest.0
        ))
    }
}

#[cfg(test)]
mod tests {
    use clap::CommandFactory;

    use super::*;

    fn ear_of(line: &[&str]) -> Result<EarArguments, String> {
        let words = ["evenwave", "measure", "x.wav"].iter().chain(line);
        match Arguments::try_parse_from(words) {
            Ok(Arguments { command: Some(Command::Measure(arguments)) }) => Ok(arguments.ear),
            Ok(other) => Err(format!("{other:?}")),
            Err(error) => Err(error.to_string()),
        }
    }

    #[test]
    fn the_command_line_is_consistent() {
        Arguments::command().debug_assert();
    }

    #[test]
    fn without_a_command_the_window_is_meant() {
        let arguments = Arguments::try_parse_from(["evenwave"]).expect("no command is needed");
        assert!(arguments.command.is_none());
    }

    #[test]
    fn an_instrument_narrows_the_range() {
        let all = ear_of(&[]).expect("defaults").settings();
        assert_eq!((all.low, all.high), (Hz(30.0), Hz(2_700.0)));
        let cello = ear_of(&["--instrument", "cello"]).expect("shipped").settings();
        assert!(cello.low.0 > 50.0 && cello.low.0 < 65.0, "{cello:?}");
        assert!(cello.high.0 < 2_000.0, "{cello:?}");
    }

    #[test]
    fn tuning_and_naming_reach_the_ear() {
        let ear = ear_of(&["--a4", "442.5", "--temperament", "pure-fifths", "--names", "german"])
            .expect("all allowed");
        assert_eq!(ear.settings().tuning.a4, Hz(442.5));
        assert_eq!(ear.settings().tuning.temperament, Temperament::PureFifths);
        assert_eq!(ear.naming(), Naming::German);
    }

    #[test]
    fn what_cannot_be_is_refused_in_words() {
        for (line, words) in [
            (["--a4", "500"], "392 to 466 Hz"),
            (["--a4", "NaN"], "392 to 466 Hz"),
            (["--channel", "0"], "counted from 1"),
            (["--instrument", "kazoo"], "violin, viola, cello, double-bass"),
            (["--from", "-1"], "0 or more"),
            (["--to", "inf"], "0 or more"),
        ] {
            let line = [format!("{}={}", line[0], line[1])];
            let line: Vec<&str> = line.iter().map(String::as_str).collect();
            let error = ear_of(&line).expect_err("not allowed");
            assert!(error.contains(words), "{line:?}: {error}");
        }
    }
}
