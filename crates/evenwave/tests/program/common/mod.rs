//! What the tests of the program share: running it in a folder of the test's own, and sound and takes for it.

use std::ffi::OsStr;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use evenwave::session::Session;
use journal::{Context, Journal, TakeId};
use serde_json::Value;
use sound::WavFormat;
use tone::{Line, NoteSpec, Spec, VibratoSpec};
use tuning::{Cents, Hz, Secs};
use vibrato::{Ear, Settings};

/// A folder of this test's own, empty.
pub(crate) fn folder(test: &str) -> PathBuf {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join(test);
    if folder.exists() {
        std::fs::remove_dir_all(&folder).expect("left from the last run");
    }
    std::fs::create_dir_all(&folder).expect("the target folder is writable");
    folder
}

/// The program with these arguments, to be run in this folder.
pub(crate) fn program(folder: &Path, line: &[impl AsRef<OsStr>]) -> Command {
    let mut program = Command::new(env!("CARGO_BIN_EXE_evenwave"));
    program.args(line).current_dir(folder);
    program
}

/// Runs the program with these arguments.
pub(crate) fn evenwave(folder: &Path, line: &[impl AsRef<OsStr>]) -> Output {
    program(folder, line).output().expect("the program starts")
}

/// Runs it where nothing may go wrong.
pub(crate) fn done(folder: &Path, line: &[&str]) -> Output {
    let output = evenwave(folder, line);
    assert_eq!(status(&output), 0, "{line:?}: {}", told(&output));
    output
}

/// Runs it where it must end with this status and these words on its error stream.
pub(crate) fn fails(folder: &Path, line: &[&str], due: i32, words: &str) -> Output {
    let output = evenwave(folder, line);
    let said = told(&output);
    assert_eq!(status(&output), due, "{line:?}: {said}");
    assert!(said.contains(words), "{line:?}: {said}");
    output
}

/// What it said on its error stream.
pub(crate) fn told(output: &Output) -> String {
    String::from_utf8_lossy(&output.stderr).into_owned()
}

/// Its exit status.
pub(crate) fn status(output: &Output) -> i32 {
    output.status.code().expect("ended by itself")
}

/// What it wrote.
pub(crate) fn printed(output: &Output) -> String {
    String::from_utf8(output.stdout.clone()).expect("UTF-8")
}

/// One object from each line that it wrote.
pub(crate) fn objects(output: &Output) -> Vec<Value> {
    let line = |line| serde_json::from_str(line).expect("one JSON object a line");
    printed(output).lines().map(line).collect()
}

/// These notes on one string.
pub(crate) fn spec(notes: Vec<NoteSpec>) -> Spec {
    Spec { lines: vec![Line { notes, level_db: 0.0 }], ..Spec::default() }
}

/// A3 straight, then with this vibrato.
pub(crate) fn two_notes(rate: f64, width: f64) -> Spec {
    let vibrato = VibratoSpec::regular(Hz(rate), Cents(width));
    spec(vec![
        NoteSpec::straight(Secs(0.3), Secs(1.2), Hz(220.0)),
        NoteSpec::straight(Secs(1.8), Secs(1.8), Hz(220.0)).with(vibrato),
    ])
}

/// How they sound, 48 000 times a second.
pub(crate) fn samples(spec: &Spec) -> Vec<f32> {
    spec.render().expect("a plain specification").samples
}

/// Writes samples at 48 kHz into a sound file.
pub(crate) fn write_sound(path: &Path, samples: &[f32]) {
    sound::write_wav(path, samples, 48_000, 1, WavFormat::Float).expect("a writable folder");
}

/// Writes a demo session into a sound file.
pub(crate) fn write_session(path: &Path, name: &str) {
    write_sound(path, Session::named(name).expect("shipped").samples());
}

/// Keeps a take of samples at 48 kHz with its notes, as it is kept while it is played.
pub(crate) fn keep_take(journal: &Journal, context: &Context, samples: &[f32]) -> TakeId {
    let mut take = journal.begin(context, 48_000).expect("a writable folder");
    take.sound(samples).expect("room on the disk");
    for note in Ear::new(Settings::default()).all_of(samples).1 {
        take.note(&note).expect("room on the disk");
    }
    take.finish().expect("room on the disk").id
}
