//! The player's settings on disk: RON, in the platform's configuration folder.

mod written;

use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use directories::ProjectDirs;
use disk::Disk;
use panels::commands;
use panels::keys::Scope;
use panels::shell::options::Options;

use written::Written;

/// What stands at the head of the file.
const HEAD: &str = "\
// Settings of evenwave, written by the program when something is set in its window. Edit them while it
// is closed. A file that cannot be read is kept aside beside this one, and nothing of it is lost.
// `keys` gives commands other keys than those shown on `?`, as in {\"hold\": [\"Space\", \"PageDown\"]}.
// The commands, by the place where their keys are heard:
";

/// It, with the names of all commands.
fn head() -> String {
    let mut head = HEAD.to_owned();
    let all = commands::all();
    for place in Scope::ALL {
        let here = all.iter().filter(|entry| entry.scopes.contains(&place));
        let names: Vec<&str> = here.map(|entry| entry.name).collect();
        head += &format!("//   {}: {}\n", place.name(), names.join(", "));
    }
    head
}

/// What was found on disk.
#[derive(Debug, PartialEq)]
pub struct ReadSettings {
    /// The options that hold now.
    pub options: Options,
    /// What the player should know: settings that could not be read, and where they are kept.
    pub word: Option<String>,
}

/// The settings file.
#[derive(Clone, Debug)]
pub struct Settings {
    path: Option<PathBuf>,
}

impl Settings {
    /// The file at `path`, or where the platform keeps settings. Without a home there is none, and
    /// nothing is kept.
    pub fn at(path: Option<&Path>) -> Self {
        let usual = || {
            let folders = ProjectDirs::from("", "", "evenwave")?;
            Some(folders.config_dir().join("settings.ron"))
        };
        Self { path: path.map(Path::to_owned).or_else(usual) }
    }

    /// The folder of the player's own drills, beside the settings.
    pub fn drills(&self) -> Option<PathBuf> {
        Some(self.path.as_deref()?.with_file_name("drills"))
    }

    /// The folder of the player's own passages, beside the settings.
    pub fn passages(&self) -> Option<PathBuf> {
        Some(self.path.as_deref()?.with_file_name("passages"))
    }

    /// Reads the settings. A file that cannot be understood is moved aside, and the usual settings
    /// hold.
    pub fn read(&self) -> ReadSettings {
        let usual = |word: String| ReadSettings { options: Options::default(), word: Some(word) };
        let Some(path) = &self.path else {
            return usual(
                "there is no folder for settings on this system: what is set is not kept"
                    .to_owned(),
            );
        };
        match looked_at(path) {
            Ok(options) => {
                ReadSettings { options: options.unwrap_or_else(Options::of_new_player), word: None }
            }
            Err(Unread::Closed(error)) => usual(format!(
                "the settings cannot be read ({error}); the usual ones hold: {}",
                path.display()
            )),
            Err(Unread::Nonsense(why)) => usual(match set_aside(path) {
                Ok(aside) => format!(
                    "the settings cannot be understood ({why}); the usual ones hold, and the file is kept as {}",
                    aside.display()
                ),
                Err(error) => format!(
                    "the settings cannot be understood ({why}), and the file cannot be moved aside ({error}); \
                     nothing is written over it: {}",
                    path.display()
                ),
            }),
        }
    }

    /// Looks at the settings and leaves them as they are, for what is no window: `Err` says in words why they cannot
    /// be read.
    pub fn look(&self) -> Result<Options, String> {
        let Some(path) = &self.path else {
            return Ok(Options::default());
        };
        looked_at(path).map(Option::unwrap_or_default).map_err(|unread| {
            let why = match unread {
                Unread::Closed(error) => format!("cannot be read ({error})"),
                Unread::Nonsense(why) => format!("cannot be understood ({why})"),
            };
            format!("the settings {why}; mend them, or move them away: {}", path.display())
        })
    }

    /// Writes the settings: whole or not at all. Says in words what keeps it from being so.
    pub fn write(&self, options: &Options) -> Result<(), String> {
        self.write_on(&Disk::default().private(), options)
    }

    fn write_on(&self, disk: &Disk, options: &Options) -> Result<(), String> {
        let Some(path) = &self.path else {
            return Ok(());
        };
        let told = |why: String| format!("the settings cannot be kept ({why}): {}", path.display());
        // A file that could not be moved aside still holds what its player wrote.
        match looked_at(path) {
            Ok(_) => {}
            Err(Unread::Closed(error)) => return Err(told(error.to_string())),
            Err(Unread::Nonsense(why)) => return Err(told(why)),
        }
        let pretty = ron::ser::PrettyConfig::default().depth_limit(2);
        let body = ron::ser::to_string_pretty(&Written::of(options), pretty)
            .map_err(|error| told(error.to_string()))?;
        // A link is the player's own: the file that it leads to is written.
        let file = match path.is_symlink() {
            true => path.canonicalize().map_err(|_| {
                told("a link that leads nowhere is in its place; take it away".to_owned())
            })?,
            false => path.clone(),
        };
        disk.create_folders(disk::folder_of(&file))
            .and_then(|()| disk.write_whole(&file, format!("{}{body}\n", head()).as_bytes()))
            .map_err(|error| told(error.to_string()))
    }
}

/// Why settings that are there are not known.
enum Unread {
    /// The system does not let them be read.
    Closed(io::Error),
    /// They cannot be understood.
    Nonsense(String),
}

/// What the file says; `None` where there is none.
fn looked_at(path: &Path) -> Result<Option<Options>, Unread> {
    let text = match disk::text(path) {
        Ok(text) => Ok(text),
        Err(error) if error.kind() == io::ErrorKind::InvalidData => {
            Err("it is not text".to_owned())
        }
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(None),
        Err(error) => return Err(Unread::Closed(error)),
    };
    let options = text.and_then(|text| parsed(&text));
    options.map(Some).map_err(Unread::Nonsense)
}

fn parsed(text: &str) -> Result<Options, String> {
    let written: Written = ron::from_str(text).map_err(|error| {
        format!("line {}, column {}: {}", error.span.end.line, error.span.end.col, error.code)
    })?;
    written.options()
}

/// Moves the file to a name that is free.
fn set_aside(path: &Path) -> io::Result<PathBuf> {
    let mut number = 1;
    loop {
        let aside = path.with_extension(format!("unread-{number}.ron"));
        if !aside.exists() {
            fs::rename(path, &aside)?;
            return Ok(aside);
        }
        number += 1;
    }
}

#[cfg(test)]
mod tests {
    use coach::{Against, Hints, Limits, Showing, Swing};
    use panels::keys::KeyMap;
    use panels::shell::options::{
        BeatOptions, Delay, DeviceWish, DroneOptions, Practised, Region, Side, TakeOptions, Wanted,
        Zoom,
    };
    use panels::theme::Paper;
    use tuning::{Cents, Hz, Naming, Secs, Temperament, Tuning};

    use super::*;

    /// A folder of its own for each test.
    fn settings(name: &str) -> Settings {
        let folder = std::env::temp_dir().join(format!("evenwave-{}-{name}", std::process::id()));
        fs::create_dir_all(&folder).expect("a folder for the test");
        let path = folder.join("settings.ron");
        fs::remove_file(&path).ok();
        Settings { path: Some(path) }
    }

    fn gone(settings: &Settings) {
        let folder = settings.path.as_deref().and_then(Path::parent).expect("it has one");
        fs::remove_dir_all(folder).expect("the test's own folder");
    }

    fn changed() -> Options {
        let mut keys = KeyMap::default();
        keys.set(&commands::all(), "hold", &["PageDown".to_owned()]).expect("a key");
        Options {
            tuning: Tuning::new(Hz(442.0), Temperament::PureFifths).expect("allowed"),
            instrument: Some("viola".to_owned()),
            naming: Naming::German,
            paper: Paper::Dark,
            text_scale: 1.75,
            side: Side::Left,
            still: true,
            span: 2,
            zoom: Zoom::Fixed(3),
            showing: Showing::AfterRound,
            asks: false,
            limits: Limits { uneven_pct: 9.0, on_it: Cents(3.0) },
            swing: Swing::Below,
            on_start: coach::OnStart::Crest,
            against: Against::Drone,
            wanted: Wanted {
                rate: Some((Hz(4.5), Hz(5.5))),
                width: Some((Cents(20.0), Cents(40.0))),
            },
            regions: vec![Region {
                name: "molto \"largo\"".to_owned(),
                rate: (Hz(3.0), Hz(4.0)),
                width: (Cents(10.0), Cents(30.0)),
            }],
            drone: DroneOptions { midi: 54, fifth: true, level_db: -30.0 },
            beat: BeatOptions { bpm: 72, bar: 3, audible: false },
            take: TakeOptions { kept: false, ends_after: Secs(3.5), before: Secs(0.5) },
            input: DeviceWish { name: Some("USB Audio".to_owned()), channel: Some(2) },
            output: DeviceWish { name: Some("Headphones".to_owned()), channel: None },
            player: "Noor".to_owned(),
            teacher: "Vera".to_owned(),
            players: vec!["Noor".to_owned()],
            practised: Some(Practised {
                player: "Noor".to_owned(),
                passage: "bars 12 to 20, “dolce”".to_owned(),
            }),
            journal: Some("somewhere/takes".to_owned()),
            reports: Some("somewhere/reports".to_owned()),
            sound_days: Some(90),
            hints: Hints { tiring: false, rest: false },
            delays: vec![Delay {
                input: Some("Somebody's microphone".to_owned()),
                output: None,
                delay: Secs(0.0125),
            }],
            keys,
        }
    }

    #[test]
    fn what_is_set_is_read_again_to_the_last_field() {
        let settings = settings("again");
        let first = settings.read().options;
        assert_eq!(first, Options::of_new_player());
        assert_eq!(first.showing, coach::Showing::AfterNote, "a new player hears first");
        settings.write(&changed()).expect("it can be written");
        let found = settings.read();
        assert_eq!(found, ReadSettings { options: changed(), word: None });
        gone(&settings);
    }

    #[test]
    fn what_cannot_be_read_is_not_written_over_and_a_look_moves_nothing() {
        let settings = settings("look");
        let path = settings.path.as_deref().expect("there").to_owned();
        assert_eq!(settings.look(), Ok(Options::default()));
        for text in [&b"(version: 7)"[..], b"\xff\xfe", b"(a4_hz: NaN)"] {
            fs::write(&path, text).expect("written");
            let words = settings.look().expect_err("no settings");
            assert!(words.contains("settings.ron") && words.contains("mend them"), "{words}");
            settings.write(&Options::default()).expect_err("they would be lost");
            assert_eq!(fs::read(&path).expect("there"), text);
        }
        fs::remove_file(&path).expect("there");
        fs::create_dir(&path).expect("a folder in its place");
        assert!(settings.look().is_err_and(|words| words.contains("cannot be read")));
        settings.write(&Options::default()).expect_err("it is a folder");
        gone(&settings);
    }

    #[test]
    fn a_file_with_one_line_leaves_the_rest_as_usual() {
        let settings = settings("one");
        fs::write(settings.path.as_deref().expect("there"), "(version: 1, a4_hz: 443.0)")
            .expect("written");
        let options = settings.read().options;
        assert_eq!(options.tuning.a4, Hz(443.0));
        assert_eq!(options.regions, Options::default().regions);
        gone(&settings);
    }

    /// A disk that breaks after so many calls.
    struct Breaks(std::sync::atomic::AtomicUsize);

    impl disk::DiskFault for Breaks {
        fn write(&self, bytes: usize) -> io::Result<usize> {
            Ok(bytes)
        }

        fn change(&self) -> io::Result<()> {
            let order = std::sync::atomic::Ordering::Relaxed;
            let left = self.0.fetch_update(order, order, |left| left.checked_sub(1));
            left.map(drop).map_err(|_| io::Error::other("it broke"))
        }
    }

    #[test]
    fn settings_on_a_disk_that_breaks_are_the_old_or_the_new_ones_and_it_is_told() {
        let settings = settings("breaks");
        let mut calls = 0;
        loop {
            settings.write(&Options::default()).expect("a sound disk");
            let disk = Disk::with(std::sync::Arc::new(Breaks(calls.into())));
            let written = settings.write_on(&disk, &changed());
            let found = settings.read();
            assert_eq!(found.word, None);
            match written {
                Ok(()) => break assert_eq!(found.options, changed()),
                Err(words) => assert!(words.contains("cannot be kept (it broke)"), "{words}"),
            }
            assert!([Options::default(), changed()].contains(&found.options));
            calls += 1;
        }
        // The folder, the file, its sync, its name, and the sync of the folder.
        assert_eq!(calls, 5);
        gone(&settings);
    }

    #[cfg(unix)]
    #[test]
    fn settings_behind_a_link_are_written_where_it_leads() {
        let link = settings("settings-link");
        let path = link.path.clone().expect("there");
        let there = path.with_file_name("mine.ron");
        std::os::unix::fs::symlink("mine.ron", &path).expect("linked");
        let words = link.write(&changed()).expect_err("it leads nowhere");
        assert!(words.contains("leads nowhere") && !there.exists(), "{words}");
        fs::write(&there, "(version: 1, a4_hz: 443.0)").expect("written");
        link.write(&changed()).expect("written");
        assert!(path.is_symlink());
        assert_eq!(Settings::at(Some(&there)).look(), Ok(changed()));
        gone(&link);
    }

    #[test]
    fn a_broken_file_is_kept_aside_and_told_with_its_place() {
        let settings = settings("broken");
        let path = settings.path.as_deref().expect("there").to_owned();
        for (number, (text, words)) in [
            ("(\n  version: 1,\n  a4_hz: \"high\",\n)", "line 3"),
            ("(version: 1, a4: 440.0)", "a4"),
            ("(version: 7)", "version 7"),
            ("(a4_hz: 500.0)", "392 to 466"),
            ("(wanted_rate_hz: Some((6.0, 5.0)))", "lower end first"),
            ("(keys: {\"hold\": [\"Spade\"]})", "Spade"),
            ("(keys: {\"dance\": []})", "dance"),
            (
                "(keys: {\"lesson-pitch\": [\"X\", \"P\"], \"lesson-speed\": [\"X\"]})",
                "the key \"X\" is given to both lesson-pitch and lesson-speed",
            ),
            ("(text_scale_pct: 20)", "100 to 250"),
            ("(on_it_within_cents: NaN)", "outside"),
            ("\u{1}\u{2}", "line 1"),
        ]
        .into_iter()
        .enumerate()
        {
            fs::write(&path, text).expect("written");
            let found = settings.read();
            assert_eq!(found.options, Options::default(), "{text}");
            let word = found.word.expect("it is told");
            assert!(word.contains(words), "{text}: {word}");
            let aside = path.with_extension(format!("unread-{}.ron", number + 1));
            assert_eq!(fs::read_to_string(&aside).expect("kept aside"), text);
            assert!(!path.exists());
            settings.write(&Options::default()).expect("free again");
        }
        gone(&settings);
    }

    #[test]
    fn arbitrary_bytes_never_make_it_panic() {
        let settings = settings("bytes");
        settings.write(&changed()).expect("written");
        let path = settings.path.as_deref().expect("there").to_owned();
        let whole = fs::read(&path).expect("just written");
        let mut seed: u64 = 20_261_125;
        for _ in 0..1_000 {
            let mut bytes = whole.clone();
            seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
            let place = (seed >> 33) as usize % bytes.len();
            if seed & 1 == 0 {
                bytes[place] ^= 1 << ((seed >> 20) % 8);
            } else {
                bytes.truncate(place);
            }
            let _ = String::from_utf8(bytes).map(|text| parsed(&text));
        }
        gone(&settings);
    }
}
