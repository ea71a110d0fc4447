//! What the window opens with: the settings, and what the command line says for this once.

use std::path::PathBuf;
use std::time::Instant;

use panels::shell::options::Options;

use crate::arguments::PractiseArguments;
use crate::session::Session;
use crate::settings::Settings;

/// What the window opens with.
#[derive(Clone, Debug)]
pub(crate) struct Opening {
    /// The demo session that was asked for; otherwise the microphone is.
    pub session: Option<Session>,
    /// Where the settings are kept.
    pub settings: Settings,
    /// What they say.
    pub kept: Options,
    /// What holds: the same, with what the command line says in its place.
    pub options: Options,
    /// What the player should know.
    pub word: Option<String>,
    /// The folder of the takes that the command line named for this once.
    pub journal: Option<PathBuf>,
    /// What is to be taken into the journal first.
    pub recordings: Vec<PathBuf>,
    /// Where what is shown is written for the gates.
    pub watch: Option<PathBuf>,
    /// Where all that a screen reader is told is written for them.
    pub told: Option<PathBuf>,
    /// When the program began.
    pub begun: Instant,
}

impl Opening {
    /// Reads the settings and puts what the command line says in their place.
    pub(crate) fn of(
        arguments: &PractiseArguments,
        session: Option<Session>,
        begun: Instant,
    ) -> Self {
        let settings = Settings::at(arguments.settings.as_deref());
        let found = settings.read();
        let kept = found.options;
        let ear = &arguments.ear;
        let mut options = kept.clone();
        options.tuning = ear.tuning(kept.tuning);
        if let Some(chosen) = &ear.instrument {
            options.instrument = Some(chosen.asked.clone());
        }
        options.naming = ear.names.unwrap_or(kept.naming);
        if arguments.device.is_some() {
            options.input.name.clone_from(&arguments.device);
        }
        if ear.channel.is_some() {
            options.input.channel = ear.channel;
        }
        Self {
            session,
            settings,
            kept,
            options,
            word: found.word,
            journal: arguments.journal.clone(),
            recordings: arguments.recordings.clone(),
            watch: arguments.watch.clone(),
            told: arguments.told.clone(),
            begun,
        }
    }

    /// The folder of the takes by these options; `None` where there is none on this system.
    pub(crate) fn journal(&self, options: &Options) -> Option<PathBuf> {
        let chosen = || options.journal.as_ref().map(PathBuf::from);
        let usual = || {
            let folders = directories::ProjectDirs::from("", "", "evenwave")?;
            Some(folders.data_dir().join("takes"))
        };
        self.journal.clone().or_else(chosen).or_else(usual)
    }

    /// The folder of the reports by these options; `None` where there is none on this system.
    pub(crate) fn reports(&self, options: &Options) -> Option<PathBuf> {
        let usual = || {
            let folders = directories::UserDirs::new()?;
            let documents = folders.document_dir();
            Some(documents.unwrap_or_else(|| folders.home_dir()).to_owned())
        };
        let chosen = options.reports.as_ref().map(PathBuf::from);
        chosen.or_else(usual)
    }

    /// What is to be kept when the options are `now`: what the command line said for this once does
    /// not count, unless the player has set something else since.
    pub(crate) fn to_keep(&self, now: &Options) -> Options {
        let mut keep = now.clone();
        let (once, kept) = (&self.options, &self.kept);
        if now.tuning == once.tuning {
            keep.tuning = kept.tuning;
        }
        if now.instrument == once.instrument {
            keep.instrument.clone_from(&kept.instrument);
        }
        if now.naming == once.naming {
            keep.naming = kept.naming;
        }
        if now.input == once.input {
            keep.input.clone_from(&kept.input);
        }
        keep
    }
}

#[cfg(test)]
mod tests {
    use clap::Parser;
    use tuning::{Hz, Naming};

    use super::*;
    use crate::arguments::{Arguments, Command};

    fn opened(line: &[&str], file: &str) -> Opening {
        let path = std::env::temp_dir().join(format!("evenwave-{}-{file}", std::process::id()));
        std::fs::write(&path, "(a4_hz: 441.0, names: german)").expect("written");
        let given = path.display().to_string();
        let words = ["evenwave", "practise", "--settings", &given];
        let words = words.iter().chain(line);
        let Ok(Arguments { command: Some(Command::Practise(arguments)) }) =
            Arguments::try_parse_from(words)
        else {
            panic!("{line:?} is a line for practise");
        };
        let opening = Opening::of(&arguments, None, Instant::now());
        std::fs::remove_file(path).expect("just written");
        opening
    }

    #[test]
    fn the_command_line_holds_for_once_and_is_not_kept() {
        let opening = opened(&["--a4", "443", "--instrument", "viola"], "once.ron");
        assert_eq!(opening.options.tuning.a4, Hz(443.0));
        assert_eq!(opening.options.naming, Naming::German);
        assert_eq!(opening.to_keep(&opening.options), opening.kept);
        assert_eq!(opening.kept.tuning.a4, Hz(441.0));
    }

    #[test]
    fn what_is_set_in_the_window_is_kept_whatever_the_command_line_said() {
        let opening = opened(&["--a4", "443"], "set.ron");
        let mut now = opening.options.clone();
        now.tuning.a4 = Hz(438.0);
        now.still = true;
        let keep = opening.to_keep(&now);
        assert_eq!(keep.tuning.a4, Hz(438.0));
        assert!(keep.still);
    }
}
