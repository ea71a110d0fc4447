//! Ten years of practice: makes 20 000 takes and prints what it costs to have them, each figure beside its bar
//! (issue "Journal and Lesson", must show 2). Ends with status 1 on a missed bar.
//!
//! `cargo run -p journal --example many [TAKES]`

use std::error::Error;
use std::fs;
use std::path::Path;
use std::process::{Command, ExitCode};
use std::time::{Duration, Instant};

use jiff::{ToSpan, Zoned, civil::date};
use journal::{Context, Fingering, Journal, NoteMeasures, Shelf};
use rustix::time::{ClockId, clock_gettime};
use tuning::{Cents, Hz, Secs};
use vibrato::{
    ContourPoint, Measure, Measures, Note, Oscillation, PitchCourse, Quantity, Remarks, Vibrato,
};

const TAKES: usize = 20_000;
/// Notes of a take: half a minute of turns of some two seconds.
const NOTES: usize = 12;
const NOTE_SECS: f64 = 2.4;

const OPEN_BAR_SECS: f64 = 1.0;
const REBUILD_BAR_SECS: f64 = 20.0;
const MEMORY_BAR_MB: f64 = 200.0;
/// A picture's own work, in which a list is filtered and a trend is gathered.
const FRAME_BAR_SECS: f64 = 0.004;

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let outcome = match &arguments[..] {
        // In a process of its own, so that only what is open counts.
        [word, folder] if word == "open" => open(Path::new(folder)),
        [] => bench(TAKES),
        [takes] => match takes.parse() {
            Ok(takes) => bench(takes),
            Err(_) => Err(format!("\"{takes}\" is no number of takes").into()),
        },
        _ => Err("usage: many [TAKES]".into()),
    };
    match outcome {
        Ok(true) => ExitCode::SUCCESS,
        Ok(false) => ExitCode::FAILURE,
        Err(error) => {
            eprintln!("{error}");
            ExitCode::FAILURE
        }
    }
}

fn bench(takes: usize) -> Result<bool, Box<dyn Error>> {
    let folder = std::env::temp_dir().join(format!("many-{}", std::process::id()));
    let outcome = in_folder(&folder, takes);
    fs::remove_dir_all(&folder)?;
    outcome
}

fn in_folder(folder: &Path, takes: usize) -> Result<bool, Box<dyn Error>> {
    let began = Instant::now();
    make(folder, takes)?;
    let per_take = began.elapsed().as_secs_f64() / takes as f64;
    println!("made {takes} takes of {NOTES} notes, {:.1} ms each", 1e3 * per_take);
    let mut good = true;
    {
        let journal = Journal::open(folder)?.journal;
        let (began, work) = (Instant::now(), processor_time());
        journal.rebuild_index()?;
        let work = processor_time().saturating_sub(work).as_secs_f64();
        good &= told("index rebuilt", began.elapsed().as_secs_f64(), REBUILD_BAR_SECS, "s");
        println!("  ({work:.1} s of it the processor's)");
    }
    let bytes = fs::metadata(folder.join(".index"))?.len();
    println!("  the index has {:.1} MB", bytes as f64 / 1e6);
    // The pages of the files are dropped if that is allowed: else what is read lies in memory already.
    let cold =
        Command::new("sync").status().is_ok() && fs::write("/proc/sys/vm/drop_caches", "3").is_ok();
    println!("opened anew, {}:", if cold { "from a cold disk" } else { "with warm pages" });
    let me = std::env::current_exe()?;
    let status = Command::new(me).arg("open").arg(folder).status()?;
    Ok(good & status.success())
}

fn open(folder: &Path) -> Result<bool, Box<dyn Error>> {
    let before = memory_mb();
    let began = Instant::now();
    let shelf = Shelf::open(folder)?;
    let entries = shelf.entries();
    let mut good = told("opened for reading", began.elapsed().as_secs_f64(), OPEN_BAR_SECS, "s");
    let began = Instant::now();
    let chosen: Vec<_> = entries
        .iter()
        .filter(|entry| entry.player == "Mira" && entry.instrument.as_deref() == Some("cello"))
        .collect();
    good &= told("filtered", began.elapsed().as_secs_f64(), FRAME_BAR_SECS, "s");
    let began = Instant::now();
    let (mut count, mut sum) = (0, 0.0);
    for note in entries.iter().flat_map(|entry| &entry.notes) {
        if let (Some(rate), Some(4)) = (note.get(Quantity::Rate), note.finger) {
            count += 1;
            sum += rate;
        }
    }
    let secs = began.elapsed().as_secs_f64();
    // Once for each change of the filter, not for each picture: told, but not held against a picture's time.
    println!(
        "  trend of the fourth finger gathered in {:.1} ms: {count} notes, mean {:.2} Hz, of {} takes, {} chosen",
        1e3 * secs,
        sum / f64::from(count.max(1)),
        entries.len(),
        chosen.len()
    );
    if let (Some(before), Some(after)) = (before, memory_mb()) {
        good &= told("memory while open", after, MEMORY_BAR_MB, "MB");
        println!("  ({before:.0} MB of it before)");
    }
    drop((shelf, entries));
    let began = Instant::now();
    let journal = Journal::open(folder)?.journal;
    good &= told("opened for writing", began.elapsed().as_secs_f64(), OPEN_BAR_SECS, "s");
    let again = Instant::now();
    journal.refresh()?;
    println!("  looked for changes of others in {:.0} ms", 1e3 * again.elapsed().as_secs_f64());
    Ok(good)
}

fn told(what: &str, value: f64, bar: f64, unit: &str) -> bool {
    let good = value <= bar;
    let word = if good { "ok  " } else { "MISS" };
    println!("  {word} {what:<20} {value:>9.4} {unit}, at most {bar} {unit}");
    good
}

/// Resident memory of this process, where the system tells it.
fn memory_mb() -> Option<f64> {
    let status = fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find(|line| line.starts_with("VmRSS:"))?;
    Some(line.split_whitespace().nth(1)?.parse::<f64>().ok()? / 1e3)
}

/// Makes the takes, with measures and without sound. One is played, the others are written like it, for making all
/// of them last would take a quarter of an hour.
fn make(folder: &Path, takes: usize) -> Result<(), Box<dyn Error>> {
    let mut when: Zoned = date(2016, 9, 1).at(17, 0, 0, 0).in_tz("UTC")?;
    let journal = Journal::open(folder)?.journal;
    let context = Context {
        room: "Drill".to_owned(),
        device: "USB Audio".to_owned(),
        drill: Some("four fingers by count".to_owned()),
        ..Context::default()
    };
    let mut first = journal.begin_at(&when, &context, 48_000)?;
    for n in 0..NOTES {
        let by = Fingering { finger: Some((n % 4) as u8 + 1), string: Some("D".to_owned()) };
        first.note_by(&note(0, n), &by)?;
    }
    let mut file = journal.take(&first.finish()?.id)?;
    let notes: Vec<Vec<_>> = (0..101)
        .map(|take| {
            let notes = file.notes.iter().enumerate();
            notes
                .map(|(n, of)| {
                    let by = Fingering { finger: of.finger, string: of.string.clone() };
                    NoteMeasures::of(&note(take, n), &by)
                })
                .collect()
        })
        .collect();
    let pretty = ron::ser::PrettyConfig::default().depth_limit(2);
    for number in 1..takes {
        when = when.checked_add(if number % 6 == 5 { 24.hours() } else { 90.seconds() })?;
        file.began = when.strftime("%Y-%m-%dT%H:%M:%S%:z[%Q]").to_string();
        file.player = ["Mira", "Jonas", "Ada"][number % 3].to_owned();
        file.instrument = Some(["cello", "violin"][number % 2].to_owned());
        file.notes.clone_from(&notes[number % 101]);
        let name = when.strftime("%Y-%m-%d/%H-%M-%S").to_string();
        fs::create_dir_all(folder.join(&name))?;
        let text = ron::ser::to_string_pretty(&file, pretty.clone())? + "\n";
        fs::write(folder.join(&name).join("take.ron"), text)?;
    }
    Ok(())
}

/// A note like a real one in the length of its numbers.
fn note(take: usize, number: usize) -> Note {
    let start = number as f64 * NOTE_SECS + 0.012_345;
    let shade = ((take * 31 + number * 17) % 101) as f64 / 101.0;
    let (rate, width) = (5.2 + 0.3 * shade, 31.7 + 4.0 * shade);
    let oscillations = (0..11).map(|n| Oscillation {
        start: Secs(start + 0.3 + f64::from(n) / rate),
        period: Secs(1.0 / rate + 0.001 * shade),
        crest: Cents(0.5 * width + shade),
        trough: Cents(-0.5 * width + shade),
    });
    let contour = (0..20).map(|n| ContourPoint {
        time: Secs(start + 0.3 + 0.1 * f64::from(n)),
        rate: Hz(rate + 0.01 * shade),
        width: Cents(width),
    });
    let measure = |value: f64| (value, Some(0.012_3 * (1.0 + shade)));
    fn of<T>((value, se): (f64, Option<f64>), unit: impl Fn(f64) -> T) -> Measure<T> {
        Measure { value: unit(value), se: se.map(unit) }
    }
    Note {
        start: Secs(start),
        end: Secs(start + NOTE_SECS - 0.05),
        heard_until: Secs(start + NOTE_SECS - 0.05),
        midi: 50 + (number % 12) as i32,
        reference: Hz(146.832_4),
        f0: of(measure(146.9 + shade), Hz),
        offset: of(measure(0.8 * shade), Cents),
        level_dbfs: -20.0 - shade,
        confidence: 0.9 + 0.05 * shade,
        unsteadiness: Cents(1.2 + shade),
        vibrato: Some(Vibrato {
            rate: of(measure(rate), Hz),
            width: of(measure(width), Cents),
            centre: of(measure(-0.7 * shade), Cents),
            others: Measures::default()
                .with(Quantity::RateSpread, 4.0 + shade, Some(0.1))
                .with(Quantity::WidthSpread, 7.0 + shade, Some(0.1))
                .with(Quantity::OutOfRound, 3.0 + shade, Some(0.1))
                .with(Quantity::Drift, 1.0 + shade, Some(0.1)),
            onset: of(measure(0.31), Secs),
            contour: contour.collect(),
            oscillations: oscillations.collect(),
        }),
        course: PitchCourse::Vibrato,
        rebows: vec![Secs(start + 1.1)],
        remarks: Remarks::default(),
    }
}

/// Time that this program has kept a processor busy.
fn processor_time() -> Duration {
    Duration::try_from(clock_gettime(ClockId::ProcessCPUTime)).unwrap_or_default()
}
