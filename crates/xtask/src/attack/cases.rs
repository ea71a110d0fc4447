//! What the program is given.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::Duration;

use crate::shell::{Chance, Fault, root};

/// How a case is to end.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Due {
    /// It is good: status 0.
    Works,
    /// Something is not right with it, and that is said.
    Told,
    /// It may be either, as damage by chance is.
    Either,
}

/// What becomes of a stream of the program.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Stream {
    Read,
    Unread,
    Full,
}

type Prepare = Box<dyn Fn(&Path) -> io::Result<()> + Send + Sync>;

/// One case: what is prepared in its folder, what is run there, and what may come of it.
pub(super) struct Case {
    pub class: &'static str,
    pub line: Vec<String>,
    pub prepare: Prepare,
    /// Files and folders that may be made or changed.
    pub may_change: Vec<PathBuf>,
    /// Folders in which files may be made; what is there already stays as it is.
    pub may_make: Vec<PathBuf>,
    /// Tables that may only grow.
    pub grows: Vec<PathBuf>,
    pub due: Due,
    pub out: Stream,
    pub err: Stream,
    pub env: Vec<(&'static str, String)>,
    /// It is ended by this signal, so long after it has begun.
    pub signal: Option<i32>,
    pub after: Duration,
    /// Names that a terminal must not obey are in it.
    pub names: bool,
    /// What the shell sets as a limit first, such as `ulimit -n 4`.
    pub limit: Option<String>,
    /// It works on a disk of its own with so many bytes of room.
    pub room: Option<u64>,
    /// Afterwards these are run without limits, and each must end well.
    pub then: Vec<Vec<String>>,
}

impl Case {
    pub(super) fn new(class: &'static str, due: Due, line: &[&str]) -> Self {
        Self {
            class,
            line: line.iter().map(|word| (*word).to_owned()).collect(),
            prepare: Box::new(|_| Ok(())),
            may_change: ["takes/.index", "takes/.lock"].map(PathBuf::from).to_vec(),
            may_make: Vec::new(),
            grows: Vec::new(),
            due,
            out: Stream::Read,
            err: Stream::Read,
            env: Vec::new(),
            signal: None,
            after: Duration::ZERO,
            names: false,
            limit: None,
            room: None,
            then: Vec::new(),
        }
    }

    fn after(self, prepare: impl Fn(&Path) -> io::Result<()> + Send + Sync + 'static) -> Self {
        Self { prepare: Box::new(prepare), ..self }
    }

    /// With these bytes in a file.
    fn with(self, file: &str, bytes: Vec<u8>) -> Self {
        let file = file.to_owned();
        self.after(move |folder| fs::write(folder.join(&file), &bytes))
    }

    pub(super) fn may(mut self, change: &[&str]) -> Self {
        self.may_change.extend(change.iter().map(PathBuf::from));
        self
    }
}

/// Bytes with some damage: cut, blanked, flipped, taken out or doubled, once or a few times.
fn damaged(whole: &[u8], chance: &mut Chance) -> Vec<u8> {
    let mut bytes = whole.to_vec();
    for _ in 0..=chance.below(3) {
        let at = chance.below(bytes.len());
        let end = (at + 1 + chance.below(16)).min(bytes.len());
        match chance.below(7) {
            0 => bytes.truncate(at),
            1 => bytes[at..end].fill(0),
            2 => bytes[at..end].fill(0xFF),
            3 => bytes[at] ^= 1 << chance.below(8),
            4 => bytes[at..end].iter_mut().for_each(|byte| *byte = chance.below(256) as u8),
            5 => drop(bytes.drain(at..end)),
            _ => {
                let copy = bytes[at..end].to_vec();
                let to = chance.below(bytes.len());
                bytes.splice(to..to, copy);
            }
        }
        if bytes.is_empty() {
            break;
        }
    }
    bytes
}

/// Sound of every kind that is read, from the tests of the decoders.
const SOUND: [&str; 8] = [
    "two.flac",
    "two.aiff",
    "long.ogg",
    "tone.ogg",
    "tone.mp3",
    "tone.m4a",
    "tone-faststart.m4a",
    "tone.aac",
];
/// Four notes of our own as a score, and two as a MIDI file.
const TUNE_XML: &[u8] = b"<score-partwise version=\"4.0\"><part-list><score-part id=\"P1\"><part-name>Cello</part-name>\
</score-part></part-list><part id=\"P1\"><measure number=\"1\"><attributes><divisions>2</divisions><time><beats>4</beats>\
<beat-type>4</beat-type></time></attributes>\
<note><pitch><step>D</step><octave>3</octave></pitch><duration>2</duration></note>\
<note><pitch><step>F</step><alter>1</alter><octave>3</octave></pitch><duration>3</duration></note>\
<note><pitch><step>A</step><octave>3</octave></pitch><duration>1</duration></note>\
<note><pitch><step>G</step><octave>3</octave></pitch><duration>2</duration></note></measure></part></score-partwise>";
const TUNE_MIDI: &[u8] = b"MThd\x00\x00\x00\x06\x00\x00\x00\x01\x00\x60MTrk\x00\x00\x00\x14\
\x00\x90\x32\x40\x60\x80\x32\x40\x00\x90\x36\x40\x60\x80\x36\x40\x00\xff\x2f\x00";
const DAMAGED_SOUND: usize = 55;
const DAMAGED_ADDED: usize = 6;
const DAMAGED_TEXT: usize = 60;
const DAMAGED_TAKE: usize = 14;
const DAMAGED_ZIP: usize = 120;
const DAMAGED_TABLE: usize = 60;

/// All cases. `base` is made complete for them: sound, texts, a zip, a table and a file of someone else.
pub(super) fn cases(
    base: &Path,
    program: &Path,
    takes: &[&str],
    seed: u64,
) -> Result<Vec<Case>, Fault> {
    let [first, hit, ..] = takes else {
        return Err(Fault::Tool("no takes were made to be attacked".to_owned()));
    };
    let write = |name: &str, bytes: &[u8]| {
        let path = base.join(name);
        fs::write(&path, bytes).map_err(Fault::at(&path))
    };
    for name in SOUND {
        write(name, &read(&root().join("crates/sound/tests/fixtures").join(name))?)?;
    }
    write("a.ron", &read(&root().join("demo-sessions/tidy-transfer.ron"))?)?;
    write("cello.ron", &read(&root().join("assets/instruments/cello.ron"))?)?;
    write("drill.ron", &read(&root().join("assets/drills/there-and-back.ron"))?)?;
    write("tune.txt", &read(&root().join("assets/passages/walking-home.passage.txt"))?)?;
    write("tune.musicxml", TUNE_XML)?;
    write("tune.mid", TUNE_MIDI)?;
    write("mine.txt", b"my own words")?;
    // Silence enough behind each note that a take ends there.
    write("played.ron", b"(lines: [(notes: [(start: 2.7, length: 0.9, f0: 220.0)])])")?;
    for line in [
        &["tone", "played.ron", "-o", "played.wav"][..],
        &["journal", "--journal", "takes", "export", "out.zip"],
        &["measure", "--into", "st.csv", "a.wav", "two.flac", "tone.mp3"],
    ] {
        let line = line.iter().map(|word| (*word).to_owned());
        let done = Command::new(program).args(line).current_dir(base).output();
        let done = done.map_err(Fault::at(program))?;
        if !done.status.success() {
            return Err(Fault::Tool(String::from_utf8_lossy(&done.stderr).into_owned()));
        }
    }
    let mut chance = Chance(seed);
    let mut all = Vec::new();
    sound(base, &mut chance, &mut all)?;
    texts(base, &mut chance, &mut all)?;
    journal(base, first, hit, &mut chance, &mut all)?;
    zips_and_tables(base, &mut chance, &mut all)?;
    streams(first, &mut all);
    environment(&mut all);
    taken_names(first, &mut all);
    odd_names(&mut all);
    Ok(all)
}

fn read(path: &Path) -> Result<Vec<u8>, Fault> {
    fs::read(path).map_err(Fault::at(path))
}

fn sound(base: &Path, chance: &mut Chance, all: &mut Vec<Case>) -> Result<(), Fault> {
    for name in SOUND.into_iter().chain(["a.wav"]) {
        let whole = read(&base.join(name))?;
        all.push(Case::new("sound", Due::Works, &["measure", name]));
        for _ in 0..DAMAGED_SOUND {
            let bytes = damaged(&whole, chance);
            all.push(Case::new("sound", Due::Either, &["measure", name]).with(name, bytes));
        }
        for _ in 0..DAMAGED_ADDED {
            let add = ["journal", "--journal", "takes", "add", name];
            let mut case =
                Case::new("sound", Due::Either, &add).with(name, damaged(&whole, chance));
            case.may_make.push("takes".into());
            all.push(case);
        }
    }
    for name in ["a.wav", "two.flac", "long.ogg", "tone.mp3", "tone-faststart.m4a"] {
        let whole = read(&base.join(name))?;
        for tenth in 5..9 {
            let cut = whole[..whole.len() * tenth / 10].to_vec();
            all.push(Case::new("sound cut", Due::Told, &["measure", name]).with(name, cut));
        }
    }
    Ok(())
}

fn texts(base: &Path, chance: &mut Chance, all: &mut Vec<Case>) -> Result<(), Fault> {
    for (name, line) in [
        ("a.ron", &["tone", "a.ron", "-o", "new.wav"][..]),
        ("cello.ron", &["measure", "--instrument", "cello.ron", "a.wav"]),
        ("drill.ron", &["drill", "drill.ron", "a.wav"]),
        ("tune.txt", &["passage", "check", "tune.txt", "a.wav"]),
        ("tune.txt", &["passage", "show", "tune.txt", "-o", "new.svg"]),
        ("tune.musicxml", &["passage", "from-musicxml", "tune.musicxml", "-o", "new.ron"]),
        ("tune.mid", &["passage", "from-midi", "tune.mid", "-o", "new.ron"]),
    ] {
        all.push(Case::new("text", Due::Works, line).may(&NEW));
        let whole = read(&base.join(name))?;
        for _ in 0..DAMAGED_TEXT {
            let bytes = damaged(&whole, chance);
            all.push(Case::new("text", Due::Either, line).with(name, bytes).may(&NEW));
        }
        for bytes in [&b""[..], b"(", b"\xff\xfe(\0", b"(version: 4294967296)"] {
            all.push(Case::new("text", Due::Told, line).with(name, bytes.to_vec()));
        }
        let deep = "(".repeat(100_000).into_bytes();
        all.push(Case::new("text", Due::Told, line).with(name, deep));
        all.push(Case::new("text", Due::Told, line).with(name, vec![b' '; 5_000_000]));
    }
    Ok(())
}

fn journal(
    base: &Path,
    first: &str,
    hit: &str,
    chance: &mut Chance,
    all: &mut Vec<Case>,
) -> Result<(), Fault> {
    let of_first = format!("takes/{first}/take.ron");
    for name in ["take.ron", "sound.flac", "../../.index"] {
        let file = match name.strip_prefix("../../") {
            Some(name) => format!("takes/{name}"),
            None => format!("takes/{hit}/{name}"),
        };
        let path = base.join(&file);
        // The index is made by the first command that writes one.
        let whole = if path.is_file() { read(&path)? } else { b"evenwave".to_vec() };
        for deed in [
            &["list"][..],
            &["list", "--csv", "--notes"],
            &["show", hit],
            &["verify", "--json"],
            &["export", "new.zip"],
            &["sound", hit, "new.wav"],
            &["keep", first],
            &["label", first, "--word", "slower"],
        ] {
            let line = [&["journal", "--journal", "takes"][..], deed].concat();
            for _ in 0..DAMAGED_TAKE {
                let bytes = damaged(&whole, chance);
                let case = Case::new("journal", Due::Either, &line).with(&file, bytes);
                let changed =
                    if matches!(deed[0], "keep" | "label") { &of_first } else { "new.wav" };
                all.push(case.may(&["new.zip", "new.wav", changed]));
            }
        }
    }
    Ok(())
}

fn zips_and_tables(base: &Path, chance: &mut Chance, all: &mut Vec<Case>) -> Result<(), Fault> {
    let zip = read(&base.join("out.zip"))?;
    let import = ["journal", "--journal", "in", "import", "out.zip"];
    all.push(Case::new("zip", Due::Works, &import).may(&["in"]));
    for _ in 0..DAMAGED_ZIP {
        let bytes = damaged(&zip, chance);
        all.push(Case::new("zip", Due::Either, &import).with("out.zip", bytes).may(&["in"]));
    }
    let into = ["measure", "--into", "st.csv", "a.wav"];
    for name in ["st.csv", "st.csv.state"] {
        let whole = read(&base.join(name))?;
        for _ in 0..DAMAGED_TABLE {
            let bytes = damaged(&whole, chance);
            let mut case = Case::new("table", Due::Either, &into).with(name, bytes);
            case.grows.push("st.csv".into());
            all.push(case.may(&["st.csv", "st.csv.state"]));
        }
    }
    Ok(())
}

/// Commands that have all they need.
fn good(first: &str) -> [Vec<&str>; 14] {
    [
        vec!["measure", "a.wav"],
        vec!["measure", "--json", "a.wav"],
        vec!["measure", "--csv", "a.wav"],
        vec!["measure", "--into", "new.csv", "a.wav"],
        vec!["measure", "--frames", "new.csv", "a.wav"],
        vec!["tone", "a.ron", "-o", "new.wav"],
        vec!["report", "-o", "new.html", "take", "a.wav"],
        vec!["journal", "--journal", "takes", "list"],
        vec!["journal", "--journal", "takes", "verify"],
        vec!["journal", "--journal", "takes", "show", first],
        vec!["journal", "--journal", "takes", "export", "new.zip"],
        vec!["passage", "check", "tune.txt", "a.wav"],
        vec!["passage", "show", "tune.txt", "-o", "new.svg"],
        vec!["drill", "--list"],
    ]
}

pub(super) const NEW: [&str; 7] =
    ["new.csv", "new.csv.state", "new.wav", "new.html", "new.zip", "new.svg", "new.ron"];

fn streams(first: &str, all: &mut Vec<Case>) {
    let bad = [
        vec!["measure", "no1.wav", "no2.wav", "no3.wav"],
        vec!["measure", "--into", "new.csv", "no1.wav"],
        vec!["journal", "--journal", "nowhere", "list"],
        vec!["tone", "mine.txt", "-o", "new.wav"],
        vec!["practise", "--demo", "waltz"],
        vec!["juggle"],
    ];
    use Stream::{Full, Read, Unread};
    for (out, err) in
        [(Unread, Read), (Full, Read), (Read, Unread), (Read, Full), (Unread, Unread), (Full, Full)]
    {
        for line in good(first).into_iter().chain(bad.clone()) {
            // Where it is full, what was asked for cannot be delivered.
            let case = Case::new("streams", Due::Either, &line).may(&NEW);
            all.push(Case { out, err, ..case });
        }
    }
}

fn environment(all: &mut Vec<Case>) {
    let variables: [&[(&str, &str)]; 11] = [
        &[("HOME", "")],
        &[("HOME", "relative")],
        &[("HOME", "/nowhere"), ("XDG_CONFIG_HOME", ""), ("XDG_DATA_HOME", "")],
        &[("XDG_CONFIG_HOME", "/dev/null"), ("XDG_DATA_HOME", "/dev/full")],
        &[("TMPDIR", "/nowhere")],
        &[("PATH", "")],
        &[("LANG", "xx_YY.KOI8-R"), ("LC_ALL", "\u{9b}")],
        &[("TERM", ""), ("COLUMNS", "0"), ("NO_COLOR", "1")],
        &[("TZ", ":/etc/passwd"), ("RUST_BACKTRACE", "full")],
        &[("RUST_LIB_BACKTRACE", "1"), ("RUST_LOG", "trace")],
        &[("DISPLAY", ":99999"), ("WAYLAND_DISPLAY", "nothing")],
    ];
    for env in variables {
        for line in [
            &["measure", "a.wav"][..],
            &["measure", "--into", "new.csv", "a.wav"],
            &["tone", "a.ron", "-o", "new.wav"],
            &["journal", "--journal", "takes", "list"],
            &["drill", "--list"],
            &["report", "-o", "new.html", "take", "a.wav"],
        ] {
            let case = Case::new("environment", Due::Works, line).may(&NEW);
            let env = env.iter().map(|&(name, value)| (name, value.to_owned())).collect();
            all.push(Case { env, ..case });
        }
    }
}

/// Something else has the name that a command is to write.
fn taken_names(first: &str, all: &mut Vec<Case>) {
    for (ending, line) in [
        ("wav", &["tone", "a.ron", "-o", "X"][..]),
        ("csv", &["tone", "a.ron", "-o", "new.wav", "--truth", "X"]),
        ("html", &["report", "-o", "X", "take", "a.wav"]),
        ("csv", &["measure", "--frames", "X", "a.wav"]),
        ("csv", &["measure", "--into", "X", "a.wav"]),
        ("zip", &["journal", "--journal", "takes", "export", "X"]),
        ("svg", &["passage", "show", "tune.txt", "-o", "X"]),
        ("ron", &["passage", "from-musicxml", "tune.musicxml", "-o", "X"]),
        ("wav", &["journal", "--journal", "takes", "sound", first, "X"]),
        ("flac", &["journal", "--journal", "takes", "sound", first, "X"]),
    ] {
        for kind in ["file", "link", "pipe", "folder", "nowhere", "device", "text"] {
            let name = match kind {
                "nowhere" => format!("nowhere/x.{ending}"),
                "device" => "/dev/full".to_owned(),
                "text" => "mine.txt".to_owned(),
                _ => format!("x.{ending}"),
            };
            let line: Vec<&str> =
                line.iter().map(|&word| if word == "X" { name.as_str() } else { word }).collect();
            let place = name.clone();
            let case = Case::new("taken names", Due::Told, &line).after(move |folder| {
                let path = folder.join(&place);
                match kind {
                    "file" => fs::write(path, "mine"),
                    "link" => {
                        Command::new("ln").args(["-s", "mine.txt"]).arg(path).status().map(drop)
                    }
                    "folder" => {
                        fs::create_dir(&path)?;
                        fs::write(path.join("mine.txt"), "mine")
                    }
                    "pipe" => Command::new("mkfifo").arg(path).status().map(drop),
                    _ => Ok(()),
                }
            });
            // The other output of the same command.
            all.push(case.may(&["new.wav"]));
        }
        // Names that are free but beside which something lies.
        let name = format!("x.{ending}");
        let line: Vec<&str> =
            line.iter().map(|&word| if word == "X" { name.as_str() } else { word }).collect();
        for beside in [".new", ".tmp", ".state.new", ".bak"] {
            let file = format!("{name}{beside}");
            let case = Case::new("taken names", Due::Works, &line).with(&file, b"mine".to_vec());
            let state = format!("{name}.state");
            all.push(case.may(&["new.wav", &name, &state]));
        }
    }
}

fn odd_names(all: &mut Vec<Case>) {
    let long = format!("{}.wav", "ü".repeat(120));
    for name in [
        "a b.wav",
        "=1+1.wav",
        "@x.wav",
        "+1.wav",
        "a\nb.wav",
        "a\tb.wav",
        "\u{1b}[31m.wav",
        "a\u{9b}31m.wav",
        "a\u{202e}vaw.wav",
        "\u{2067}\u{200f}.wav",
        "音楽.wav",
        "e\u{301}.wav",
        "'; rm -rf x;'.wav",
        "$(x).wav",
        "%s%n.wav",
        "a\"b\".wav",
        "CON.wav",
        ".wav",
        &long,
    ] {
        for form in [&["measure"][..], &["measure", "--json"], &["compare", "a.wav"]] {
            let line = [form, &["--", name]].concat();
            let bytes = name.to_owned();
            let good = Case::new("names", Due::Works, &line)
                .after(move |folder| fs::copy(folder.join("a.wav"), folder.join(&bytes)).map(drop))
                .may(&[name]);
            all.push(Case { names: true, ..good });
            let bad = Case::new("names", Due::Told, &line).with(name, b"no sound".to_vec());
            all.push(Case { names: true, ..bad });
        }
    }
}

/// The program with its line, and what limits it.
pub(super) fn limited(program: &Path, case: &Case) -> Command {
    let Some(limit) = &case.limit else {
        // Whoever started the gate may ignore signals, and what is started inherits that.
        let mut command = Command::new("/usr/bin/env");
        command.arg("--default-signal").arg(program).args(&case.line);
        return command;
    };
    let mut command = Command::new("sh");
    command.args(["-c", &format!("{limit}; exec \"$0\" \"$@\"")]);
    command.arg(program).args(&case.line);
    command
}
