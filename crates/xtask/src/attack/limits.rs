//! Every command under what limits it: ended by signals at moments of chance, on a disk that is all but full, with
//! little memory to be had and few files to be open. So is the window while it records.

use std::path::Path;
use std::time::Duration;

use super::cases::{Case, Due, NEW};
use crate::shell::{Chance, Fault, Step};

/// The numbers that POSIX gives to INT, TERM and KILL.
const SIGNALS: [i32; 3] = [2, 15, 9];
/// Moments at which a command is ended by each of them, and the last of these.
const MOMENTS: usize = 5;
const LAST_MOMENT_MS: usize = 120;
/// The window needs a second to open; then takes follow each other twice a second.
const RECORDINGS: usize = 8;
const FIRST_RECORDED_MS: usize = 300;
const LAST_RECORDED_MS: usize = 4_000;
/// Room on the small disk, in bytes: none, a page or two, and anything up to more than a command needs.
const ROOMS: [u64; 4] = [0, 4_096, 8_192, 20_480];
const ROOMS_OF_CHANCE: usize = 6;
const MOST_ROOM: usize = 300_000;
/// What a window that records may still write, in bytes: some of its takes, or the start of one.
const ROOMS_TO_RECORD: [u64; 5] = [0, 20_000, 60_000, 150_000, 400_000];
/// Files that may be open; with 3 the system cannot load the program.
const OPEN_FILES: [usize; 7] = [4, 5, 6, 8, 10, 14, 20];
/// Address space beyond that in which the program can be loaded at all, in KiB: too little to begin, just enough to begin,
/// and so on to plenty.
const SPACES_KIB: [u64; 12] =
    [0, 500, 2_000, 8_000, 32_000, 33_000, 34_000, 36_000, 40_000, 64_000, 96_000, 256_000];

/// A command, and what it may change.
struct Deed<'a> {
    line: Vec<&'a str>,
    may: Vec<String>,
}

/// Every command but `practise`, which needs a screen, with all that it needs.
fn deeds<'a>(takes: &[&'a str]) -> Vec<Deed<'a>> {
    let new = || NEW.map(str::to_owned).to_vec();
    let plain = [
        &["measure", "a.wav", "two.flac", "tone.mp3"][..],
        &["measure", "--json", "."],
        &["measure", "--csv", "."],
        &["measure", "--frames", "new.csv", "a.wav"],
        &["measure", "--into", "new.csv", "a.wav"],
        &["drill", "--list"],
        &["drill", "drill.ron", "a.wav"],
        &["compare", "a.wav", "a.wav"],
        &["report", "-o", "new.html", "take", "a.wav"],
        &["tone", "a.ron", "-o", "new.wav", "--truth", "new.csv"],
        &["passage", "show", "tune.txt", "-o", "new.svg"],
        &["passage", "check", "tune.txt", "a.wav", "--json"],
        &["passage", "from-musicxml", "tune.musicxml", "-o", "new.ron"],
        &["passage", "from-midi", "tune.mid", "-o", "new.ron"],
        &["hear", "--seconds", "1"],
        &["devices"],
        &["completions", "bash"],
    ];
    let mut all: Vec<Deed> =
        plain.iter().map(|line| Deed { line: line.to_vec(), may: new() }).collect();
    // The next state of a table that could not be written stays under a name at which it is looked for.
    let table = ["st.csv", "st.csv.state", ".evenwave-st.csv.state"].map(str::to_owned).to_vec();
    all.push(Deed { line: vec!["measure", "--into", "st.csv", "."], may: table });
    let import = vec!["journal", "--journal", "in", "import", "out.zip"];
    all.push(Deed { line: import, may: vec!["in".to_owned()] });
    let (first, players_other) = (takes[0], takes[2]);
    let of = |take: &str| format!("takes/{take}");
    let file = || vec![format!("takes/{first}/take.ron")];
    for (deed, may) in [
        (&["list", "--csv", "--notes"][..], vec![]),
        (&["add", "two.flac", "tone.m4a"], vec![]),
        (&["show", first], vec![]),
        (&["verify", "--json"], vec![]),
        (&["index"], vec![]),
        (&["mend"], vec![]),
        (&["export", "new.zip"], new()),
        (&["export", "copy"], vec!["copy".to_owned()]),
        (&["sound", first, "new.wav"], new()),
        (&["sound", first, "new.flac"], vec!["new.flac".to_owned()]),
        (&["label", first, "--word", "slower"], file()),
        (&["keep", first], file()),
        (&["delete", first], vec![of(first)]),
        (&["delete", "--for-good", first], vec![of(first)]),
        (&["erase", "Mira", "--for-good"], vec![of(first), of(players_other)]),
    ] {
        all.push(Deed { line: [&["journal", "--journal", "takes"][..], deed].concat(), may });
    }
    all
}

impl Deed<'_> {
    /// A case of it. Journals must be whole behind it.
    fn case(&self, class: &'static str) -> Case {
        let may: Vec<&str> = self.may.iter().map(String::as_str).collect();
        let mut case = Case::new(class, Due::Either, &self.line).may(&may);
        case.grows.push("st.csv".into());
        if self.line.contains(&"delete") {
            // The trash of a disk, where a take goes that lies on it; root alone can mount one.
            case.may_make.push(".Trash-0".into());
        }
        if self.line.contains(&"add") {
            case.may_make.push("takes".into());
        }
        if self.line[0] == "journal" {
            case.then = mended_and_verified(self.line[2]);
        }
        case
    }
}

/// What is to go well with a journal whatever befell it.
fn mended_and_verified(journal: &str) -> Vec<Vec<String>> {
    let line = |deed: &str| ["journal", "--journal", journal, deed].map(str::to_owned).to_vec();
    vec![line("mend"), line("verify")]
}

/// All of these cases. Windows open on this display, if there is one; small disks can be had or not.
pub(super) fn limits(
    takes: &[&str],
    program: &Path,
    (display, small_disks): (Option<&str>, bool),
    seed: u64,
) -> Result<Vec<Case>, Fault> {
    let least_kib = least_kib(program)?;
    let (mut all, mut chance) = (Vec::new(), Chance(seed));
    for deed in deeds(takes) {
        for signal in SIGNALS {
            for _ in 0..MOMENTS {
                let after = Duration::from_millis(chance.below(LAST_MOMENT_MS) as u64);
                all.push(Case { signal: Some(signal), after, ..deed.case("signals") });
            }
        }
        let of_chance = (0..ROOMS_OF_CHANCE).map(|_| chance.below(MOST_ROOM) as u64);
        for room in ROOMS.into_iter().chain(of_chance).filter(|_| small_disks) {
            all.push(Case { room: Some(room), ..deed.case("small disk") });
        }
        for count in OPEN_FILES {
            let limit = Some(format!("ulimit -n {count}"));
            all.push(Case { limit, ..deed.case("open files") });
        }
        for more_kib in SPACES_KIB {
            let limit = Some(format!("ulimit -v {}", least_kib + more_kib));
            all.push(Case { limit, ..deed.case("memory") });
        }
    }
    if let Some(display) = display {
        recordings(display, small_disks, &mut chance, &mut all);
    }
    Ok(all)
}

/// The least address space in which the program can be loaded at all. Below it, the system ends it by a signal or says
/// itself that its libraries do not fit.
fn least_kib(program: &Path) -> Result<u64, Fault> {
    for least_kib in (30_000..400_000).step_by(1_000) {
        let script = format!("ulimit -v {least_kib}; exec \"$0\" --version");
        let loaded = Step::new("sh").args(["-c", &script]).arg(program).listen()?;
        if matches!(loaded.status.code(), Some(0 | 1)) {
            return Ok(least_kib);
        }
    }
    Err(Fault::Tool("the program cannot be loaded in 400 MB".to_owned()))
}

/// The window, which hears a file in place of a microphone and keeps takes.
fn recordings(display: &str, small_disks: bool, chance: &mut Chance, all: &mut Vec<Case>) {
    let line = "practise --settings set.ron --journal takes --watch ../shown.jsonl --sound played.wav --speed 8";
    let line: Vec<&str> = line.split(' ').collect();
    let recording = |class, signal, after_ms: usize| {
        let mut case = Case::new(class, Due::Either, &line).may(&["set.ron"]);
        case.may_make.push("takes".into());
        case.signal = Some(signal);
        case.after = Duration::from_millis(after_ms as u64);
        case.then = mended_and_verified("takes");
        for (name, value) in [("DISPLAY", display), ("LIBGL_ALWAYS_SOFTWARE", "1")] {
            case.env.push((name, value.to_owned()));
        }
        case
    };
    for signal in SIGNALS {
        for _ in 0..RECORDINGS {
            let after_ms = FIRST_RECORDED_MS + chance.below(LAST_RECORDED_MS - FIRST_RECORDED_MS);
            all.push(recording("recording", signal, after_ms));
        }
    }
    for (room, signal) in ROOMS_TO_RECORD.into_iter().zip(SIGNALS.into_iter().cycle()) {
        if small_disks {
            let case = recording("recording, full", signal, LAST_RECORDED_MS);
            all.push(Case { room: Some(room), ..case });
        }
    }
}
