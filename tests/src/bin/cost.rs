//! What hearing costs: processor time of the whole engine on a minute of made notes, as a share of
//! one core, beside three other estimators on the same samples in the same run; and the calls of the
//! allocator once a second has been heard.

use std::hint::black_box;
use std::path::{Path, PathBuf};
use std::process::{Command, ExitCode};
use std::time::Duration;

use clap::Parser;
use coach::Drill;
use pitch::{HOP, SAMPLE_RATE};
use pitch_detection::detector::{PitchDetector, mcleod::McLeodDetector};
use rustix::time::{ClockId, clock_gettime};
use tone::{Line, NoteSpec, Spec, VibratoSpec};
use tuning::{Cents, Hz, Secs};
use vibrato::{Ear, Event, Settings};
use whole_chain::drill_scoring::Hearing;

/// The share of one core the engine may cost, and what is aimed at.
const MOST_SHARE: f64 = 0.02;
const GOAL_SHARE: f64 = 0.01;
/// Samples in one block, as a sound card delivers them.
const BLOCK: usize = 512;
/// Seconds of a note, and notes: a minute in all.
const NOTE_SECS: f64 = 2.5;
const NOTES: usize = 24;
/// Times the engine hears the minute; the dearest counts.
const PASSES: usize = 3;
/// A drill that is not played as asked: how long, how often it is looked at, and what that may cost.
const DRILL_SECS: f64 = 60.0;
const LOOK_EVERY_SECS: f64 = 0.08;
const MOST_LOOK_MS: f64 = 4.0;
const MOST_JUDGING_SECS: f64 = 2.0;
/// The range the others search, the same for all, and their frame in samples.
const LOW_HZ: f64 = 60.0;
const HIGH_HZ: f64 = 1400.0;
const FRAME: usize = 2048;

/// Measures the processor time of the engine beside other estimators.
#[derive(Parser)]
struct Arguments {
    /// A Python with librosa and pyworld (`cargo xtask test` makes one); without it they are left out
    #[arg(long)]
    python: Option<PathBuf>,
    /// Where the sound for the Python libraries is written
    #[arg(long, default_value = "target/cost.wav")]
    wav: PathBuf,
}

fn main() -> ExitCode {
    let arguments = Arguments::parse();
    match run(&arguments) {
        Ok(true) => ExitCode::SUCCESS,
        Ok(false) => ExitCode::FAILURE,
        Err(error) => {
            eprintln!("cost: {error}");
            ExitCode::FAILURE
        }
    }
}

fn run(arguments: &Arguments) -> Result<bool, Box<dyn std::error::Error>> {
    let samples = minute()?;
    let secs = samples.len() as f64 / f64::from(SAMPLE_RATE);
    println!(
        "a minute of made notes, C2 to E6 ({secs:.1} s at {SAMPLE_RATE} Hz), processor time\n"
    );

    let mut heard = EngineCost::default();
    let mut dearest = 0.0_f64;
    for _ in 0..PASSES {
        heard = hear(&samples);
        dearest = dearest.max(heard.cpu_secs);
    }
    let share = dearest / secs;
    println!("{:<44} share of a core     times ours", "");
    row("evenwave: pitch, notes, oscillations, measures", share, share);

    row("crate pitch-detection: McLeod, pitch alone", mcleod_secs(&samples) / secs, share);
    match &arguments.python {
        Some(python) => {
            if let Some(folder) = arguments.wav.parent() {
                // Where it cannot be made, writing says why.
                let _ = std::fs::create_dir_all(folder);
            }
            sound::write_wav(&arguments.wav, &samples, SAMPLE_RATE, 1, sound::WavFormat::Int16)?;
            for (name, cpu_secs) in python_secs(python, &arguments.wav)? {
                row(&format!("{name}: pitch alone, not streaming"), cpu_secs / secs, share);
            }
        }
        None => println!(
            "librosa pyin, pyworld harvest: skipped, no --python (`cargo xtask test` makes one)"
        ),
    }

    println!();
    let cheap = bar(
        "share of one core, dearest pass",
        format!("{share:.4}"),
        share <= MOST_SHARE,
        &format!("at most {MOST_SHARE} (goal {GOAL_SHARE})"),
    );
    let calm = bar(
        "allocations after the first second",
        heard.allocations.to_string(),
        heard.allocations == 0,
        "0",
    );
    let whole = bar(
        "notes heard in the minute",
        heard.notes.to_string(),
        heard.notes >= NOTES,
        &format!("at least {NOTES}, so that all stages worked"),
    );
    println!(
        "longest single block of {BLOCK} samples: {:.2} ms of 10.67",
        1e3 * heard.longest_block_secs
    );
    let drill = drill_bars()?;
    Ok(cheap && calm && whole && drill)
}

/// What a drill costs that is not played as asked: one finger for a minute where three are asked for. All of
/// it runs on the thread that draws.
fn drill_bars() -> Result<bool, Box<dyn std::error::Error>> {
    let mut note = NoteSpec::straight(Secs(0.5), Secs(DRILL_SECS), Hz(174.6));
    note.vibrato = Some(VibratoSpec::regular(Hz(5.0), Cents(40.0)));
    let spec =
        Spec { lines: vec![Line { notes: vec![note], ..Line::default() }], ..Spec::default() };
    let drill = Drill::from_ron(
        include_str!("../../../assets/drills/there-and-back.ron"),
        "there-and-back",
        "there-and-back.ron",
    )?;
    let hearing = Hearing::of(&spec)?;
    let (mut looks, mut looking, mut longest, mut next) = (0, 0.0, 0.0_f64, 0.0);
    let begun = processor_time();
    let rounds = hearing.judge(&drill, |secs, practice| {
        if secs >= next {
            next = secs + LOOK_EVERY_SECS;
            let begun = processor_time();
            black_box(practice.now());
            let took = processor_time().saturating_sub(begun).as_secs_f64();
            (looks, looking, longest) = (looks + 1, looking + took, longest.max(took));
        }
    });
    let judging = processor_time().saturating_sub(begun).as_secs_f64() - looking;
    println!(
        "\na drill of which one finger is played for {DRILL_SECS} s ({looks} looks, {} round)",
        rounds.len()
    );
    let mean = 1e3 * looking / f64::from(looks.max(1));
    let live = bar(
        "a look at what is known of it, mean; longest",
        format!("{mean:.2} ms; {:.2} ms", 1e3 * longest),
        mean <= MOST_LOOK_MS,
        &format!("at most {MOST_LOOK_MS} ms in the mean"),
    );
    let judged = bar(
        "following and judging it, in all",
        format!("{judging:.2} s"),
        judging <= MOST_JUDGING_SECS && rounds.len() == 1,
        &format!("at most {MOST_JUDGING_SECS} s"),
    );
    Ok(live && judged)
}

fn row(name: &str, share: f64, ours: f64) {
    println!("{name:<48} {share:>11.4} {:>14.1}", share / ours);
}

fn bar(name: &str, value: String, ok: bool, bar: &str) -> bool {
    println!("{} {name:<46} {value:>8}   {bar}", if ok { "ok  " } else { "MISS" });
    ok
}

/// Notes with vibrato from C2 to E6, one after another, under some bow noise.
fn minute() -> Result<Vec<f32>, tone::SpecError> {
    let octaves = f64::log2(1318.5 / 65.4);
    let notes = (0..NOTES)
        .map(|i| {
            // Up and down through the range, so that neighbours lie far apart.
            let place = (i * 7 % NOTES) as f64 / (NOTES - 1) as f64;
            let f0 = Hz(65.4 * (octaves * place).exp2());
            let vibrato =
                VibratoSpec::regular(Hz(4.0 + 0.12 * i as f64), Cents(10.0 + 3.0 * i as f64));
            NoteSpec::straight(Secs(0.1 + NOTE_SECS * i as f64), Secs(NOTE_SECS - 0.2), f0)
                .with(vibrato)
        })
        .collect();
    let spec = Spec {
        seed: 60,
        length: Some(Secs(NOTE_SECS * NOTES as f64)),
        lines: vec![Line { notes, level_db: 0.0 }],
        ..Spec::default()
    };
    Ok(spec.render()?.samples)
}

#[derive(Default)]
struct EngineCost {
    cpu_secs: f64,
    longest_block_secs: f64,
    allocations: u64,
    notes: usize,
}

/// Lets the engine hear the samples block by block.
fn hear(samples: &[f32]) -> EngineCost {
    let mut heard = EngineCost::default();
    let mut ear = Ear::new(Settings::default());
    let (first, rest) = samples.split_at(SAMPLE_RATE as usize);
    let mut notes = 0;
    let mut count =
        |event: Event, _: &Ear| notes += usize::from(black_box(event) == Event::NoteEnded);
    let start = processor_time();
    for block in first.chunks(BLOCK) {
        ear.hear(block, &mut count);
    }
    let allocated = allocation_counter::measure(|| {
        for block in rest.chunks(BLOCK) {
            let before = processor_time();
            ear.hear(block, &mut count);
            heard.longest_block_secs =
                heard.longest_block_secs.max(processor_time().saturating_sub(before).as_secs_f64());
        }
        ear.finish();
        ear.hear(&[], &mut count);
    });
    heard.cpu_secs = processor_time().saturating_sub(start).as_secs_f64();
    heard.allocations = allocated.count_total;
    heard.notes = notes;
    heard
}

/// The McLeod pitch method over frames one hop apart.
///
/// Source: P. McLeod and G. Wyvill, "A smarter way to find pitch", ICMC 2005, as the crate has it.
fn mcleod_secs(samples: &[f32]) -> f64 {
    let mut detector = McLeodDetector::new(FRAME, FRAME / 2);
    let start = processor_time();
    for frame in samples.windows(FRAME).step_by(HOP) {
        black_box(detector.get_pitch(frame, SAMPLE_RATE as usize, 1e-4, 0.5));
    }
    processor_time().saturating_sub(start).as_secs_f64()
}

/// Names and processor seconds of the Python libraries on the file.
fn python_secs(
    python: &Path,
    wav: &Path,
) -> Result<Vec<(String, f64)>, Box<dyn std::error::Error>> {
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("reference/cost.py");
    let output = Command::new(python)
        .arg(script)
        .arg(wav)
        .args([LOW_HZ.to_string(), HIGH_HZ.to_string(), FRAME.to_string(), HOP.to_string()])
        .output()
        .map_err(|error| format!("{error}: {}", python.display()))?;
    if !output.status.success() {
        return Err(String::from_utf8_lossy(&output.stderr).into_owned().into());
    }
    String::from_utf8(output.stdout)?
        .lines()
        .map(|line| {
            let (name, secs) = line.split_once(',').ok_or_else(|| format!("odd line: {line}"))?;
            Ok((name.to_owned(), secs.parse()?))
        })
        .collect()
}

/// Time that this thread has kept a processor busy.
fn processor_time() -> Duration {
    Duration::try_from(clock_gettime(ClockId::ThreadCPUTime)).unwrap_or_default()
}
