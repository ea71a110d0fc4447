//! Makes what reports are tried on, in an empty folder: a journal of ten weeks with names as someone might write them
//! who means no good, a model and three echoes, and the round of a drill. Run by `cargo xtask pages`.
//!
//! `pages FOLDER` prints the name of the take that has sound.

use std::error::Error;
use std::path::Path;
use std::process::ExitCode;

use evenwave::heard_file::{Wanted, measure_file};
use evenwave::session::Session;
use jiff::{ToSpan, Zoned};
use journal::{Context, Fingering, Journal, Pace};
use sound::WavFormat;
use tone::{Line, NoteSpec, Spec, VibratoSpec};
use tuning::{Cents, Hz, Secs};
use vibrato::{Measure, Measures, Note, Quantity, Settings, Vibrato};

/// Every sign that means something in HTML, SVG or CSS, and some that are wide or turn the line.
const HOSTILE: &str = "</title></style><script>alert(1)</script><img src=x onerror=alert(2)> \"'&lt; Zoë 音楽 \u{202e}";

fn main() -> ExitCode {
    let Some(folder) = std::env::args().nth(1) else {
        eprintln!("usage: pages FOLDER");
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
    lesson(folder)?;
    for name in ["tidy-transfer", "stop-and-press"] {
        let session = Session::named(name)?;
        let path = folder.join(format!("{name}.wav"));
        let rate_hz = session.sample_rate_hz();
        sound::write_wav(path, session.samples(), rate_hz, 1, WavFormat::Int16)?;
    }
    weeks(folder)
}

/// A phrase of three notes, and three answers that come nearer to it.
fn lesson(folder: &Path) -> Result<(), Box<dyn Error>> {
    let phrase = [(0.5, 2.0, 220.0), (2.9, 1.6, 246.94), (4.9, 2.4, 261.63)];
    let ways = [
        ("model", 5.5, 40.0, 0.0),
        ("echo-1", 4.4, 22.0, 12.0),
        ("echo-2", 5.0, 30.0, 6.0),
        ("echo-3", 5.4, 38.0, 2.0),
    ];
    for (name, rate, width, cents) in ways {
        let notes = phrase.iter().map(|&(start, length, hz)| {
            let hz = hz * 2f64.powf(cents / 1200.0);
            NoteSpec::straight(Secs(start), Secs(length), Hz(hz))
                .with(VibratoSpec::regular(Hz(rate), Cents(width)))
        });
        let spec =
            Spec { lines: vec![Line { notes: notes.collect(), level_db: 0.0 }], ..Spec::default() };
        let made = spec.render()?;
        let path = folder.join(format!("{name}.wav"));
        sound::write_wav(path, &made.samples, made.sample_rate_hz, 1, WavFormat::Int16)?;
    }
    Ok(())
}

fn note(start: f64, midi: i32, rate: f64, width: f64) -> Note {
    let reference = tuning::Tuning::default().frequency(midi);
    let even = Vibrato::even(Hz(rate), Cents(width), Secs(start + 0.2), 8);
    let spread = Measures::default().with(Quantity::RateSpread, 14.0 - rate, Some(1.0));
    Note::plain(midi, reference, Secs(start), Secs(start + 2.2)).vibrated(Vibrato {
        centre: Measure::known(Cents(6.0 - width / 8.0), Cents(0.4)),
        others: spread.with(Quantity::WidthSpread, 16.0 - rate, Some(2.0)),
        ..even
    })
}

fn weeks(folder: &Path) -> Result<(), Box<dyn Error>> {
    let journal = Journal::open(&folder.join("takes"))?.journal;
    let context = Context {
        room: "Stand".to_owned(),
        player: HOSTILE.to_owned(),
        instrument: Some("cello".to_owned()),
        device: HOSTILE.to_owned(),
        drill: Some("there-and-back".to_owned()),
        passage: Some(HOSTILE.to_owned()),
        pace: Some(Pace { bpm: 60.0, oscillations_per_beat: Some(2.0) }),
        word: format!("{HOSTILE} a\u{7}b"),
        ..Context::default()
    };
    let first: Zoned = "2026-09-14T17:00:00+02:00[Europe/Vienna]".parse()?;
    let silence = vec![0.0; 48_000];
    for week in 0..10 {
        for day in [0, 2, 4] {
            let now = &first + (7 * week + day).days();
            let mut take = journal.begin_at(&now, &context, 48_000)?;
            for _ in 0..40 + 6 * week {
                take.sound(&silence)?;
            }
            for number in 0..12 {
                // Better from week to week, the fourth finger last; never twice the same.
                let finger = [2, 3, 4][number % 3];
                let chance =
                    f64::from((week * 7919 + day * 104_729 + number as i32 * 1_299_709) % 997)
                        / 997.0
                        - 0.5;
                let learnt = f64::from(week) / 9.0;
                let rate = 4.2 + 1.3 * learnt - 0.3 * f64::from(finger - 2) * (1.0 - learnt)
                    + 0.7 * chance;
                let width = 20.0 + 16.0 * learnt - 4.0 * f64::from(finger - 2) + 12.0 * chance;
                let midi = if number < 6 { 50 } else { 62 } + i32::from(finger);
                let by = Fingering { finger: Some(finger), string: Some("D".to_owned()) };
                take.note_by(&note(2.4 * number as f64 + 0.5, midi, rate, width), &by)?;
            }
            take.finish()?;
        }
    }
    let path = folder.join("stop-and-press.wav");
    let wanted = Wanted::whole(Settings::default());
    let measured = measure_file(&path, &wanted)?;
    let session = Session::named("stop-and-press")?;
    let now = &first + 70.days();
    let mut take = journal.begin_at(&now, &context, session.sample_rate_hz())?;
    take.sound(session.samples())?;
    take.lost(u64::from(session.sample_rate_hz()) / 2)?;
    for (note, finger) in measured.notes.iter().zip([1, 2, 3, 4].into_iter().cycle()) {
        let by = Fingering { finger: Some(finger), string: None };
        take.note_by(note, &by)?;
    }
    println!("{}", take.finish()?.id);
    Ok(())
}
