//! Makes what `cargo xtask attack` works on: `attacked FOLDER`, which is new, gets a journal of three takes of two
//! players, and a recording of a second.

use std::error::Error;
use std::path::Path;
use std::process::ExitCode;

use journal::{Context, Journal};
use sound::WavFormat;
use tuning::{Hz, Secs};
use vibrato::{Ear, Settings};

fn main() -> ExitCode {
    let Some(folder) = std::env::args().nth(1) else {
        eprintln!("usage: attacked FOLDER");
        return ExitCode::FAILURE;
    };
    match make(Path::new(&folder)) {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("{error}");
            ExitCode::FAILURE
        }
    }
}

fn make(folder: &Path) -> Result<(), Box<dyn Error>> {
    std::fs::create_dir_all(folder)?;
    let note = tone::NoteSpec::straight(Secs(0.1), Secs(0.8), Hz(220.0))
        .with(tone::VibratoSpec::regular(Hz(6.0), tuning::Cents(30.0)));
    let line = tone::Line { notes: vec![note], level_db: 0.0 };
    let spec = tone::Spec { lines: vec![line], ..tone::Spec::default() };
    let made = spec.render()?;
    let rate_hz = made.sample_rate_hz;
    sound::write_wav(folder.join("a.wav"), &made.samples, rate_hz, 1, WavFormat::Int16)?;
    let journal = Journal::open(&folder.join("takes"))?.journal;
    for player in ["Mira", "Ada", "Mira"] {
        let context = Context { player: player.to_owned(), ..Context::default() };
        let mut take = journal.begin(&context, rate_hz)?;
        take.sound(&made.samples)?;
        for note in Ear::new(Settings::default()).all_of(&made.samples).1 {
            take.note(&note)?;
        }
        println!("{}", take.finish()?.id);
    }
    Ok(())
}
