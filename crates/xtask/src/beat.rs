//! Gate: the metronome as it leaves the program. A virtual loudspeaker's record is held against the log of the
//! beats as they were told to the window.
//!
//! How record and log are laid on one clock: a second recorder of the sound server notes when each stretch
//! of the record arrives. The virtual loudspeaker takes a block at the instant at which the block
//! before has sounded out, and hands it to its recorders at once: so the first sample of a stretch
//! arrives when it sounds, or later on a busy machine, never earlier. The earliest arrivals within some
//! seconds around a click thus give its instant, however fast the virtual loudspeaker's clock runs.
//! How far the first tenth of the arrivals lies apart says how sharp that edge is; it is printed.

use std::fs;
use std::io::Read;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::sync::mpsc::channel;
use std::time::{Duration, Instant, SystemTime, UNIX_EPOCH};

use serde_json::Value;

use crate::bench::SEEN_AND_HEARD_MS;
use crate::checks::{Checks, number};
use crate::clicks::{Clicks, RATE_HZ};
use crate::shell::{Fault, Step, built, target, tool};

/// A tempo whose beats do not fall on whole samples.
const BPM: f64 = 97.0;
/// How long it beats if nothing else is asked for.
const SECS: f64 = 20.0;
/// Each click is this near to its beat, in ms: issue "Drill".
const ON_THE_BEAT_MS: f64 = 5.0;
/// An interval is exact if it is right to the sample; so many are. Where the loudspeaker was served
/// too late, it makes a gap of its own in the record.
const EXACT_SAMPLES: f64 = 1.05;
const EXACT_SHARE: f64 = 0.95;
/// Reads that follow one another as quickly as this belong to one stretch.
const ONE_STRETCH: Duration = Duration::from_millis(2);
/// The earliest arrivals are looked for so far around a click, in seconds.
const AROUND_SECS: f64 = 2.0;
/// The recorder is asked to hand on no more than 20 ms at a time; with much less the virtual loudspeaker
/// itself falls behind on a busy machine.
const RECORDER: [&str; 6] = [
    "--device=loudspeaker.monitor",
    "--rate=48000",
    "--channels=1",
    "--format=s16le",
    "--raw",
    "--latency-msec=20",
];

/// Beats for so many minutes, or for some seconds, or says that the virtual loudspeaker is not there.
pub(crate) fn run(minutes: Option<f64>) -> Result<(), Fault> {
    let Some(virtual_mic) = tool("virtual-mic") else {
        return Ok(());
    };
    // Asked before the build, which lays another file in this place.
    let me = std::env::current_exe().map_err(Fault::at(Path::new("xtask")))?;
    built("examples/beat")?;
    let folder = target().join("beat");
    fs::create_dir_all(&folder).map_err(Fault::at(&folder))?;
    let (record, log) = (folder.join("record.wav"), folder.join("log.jsonl"));
    let heard = folder.join("heard.json");
    for old in [&record, &log, &heard] {
        if old.exists() {
            fs::remove_file(old).map_err(Fault::at(old))?;
        }
    }
    let secs = minutes.map_or(SECS, |minutes| 60.0 * minutes);
    println!("the metronome at {BPM} beats per minute for {secs} s");
    // The virtual loudspeaker is a program like others: where something else keeps the machine busy it
    // plays too late by itself. It goes before them, where that is allowed.
    Step::new("nice")
        .args(["-n", "-10"])
        .arg(virtual_mic)
        .args(["--silence", "--record"])
        .arg(&record)
        .arg("--")
        .arg(me)
        .args(["beat-inside", &secs.to_string()])
        .args([&log, &heard])
        .run()?;
    let mut checks = Checks::default();
    let bytes = fs::read(&record).map_err(Fault::at(&record))?;
    intervals(&mut checks, &Clicks::in_wav(&bytes), secs);
    let heard = read(&heard)?;
    let log = read(&log)?;
    agreement(&mut checks, &log, &heard);
    checks.end("beat")
}

/// Runs where the virtual loudspeaker is: records, lets the program beat, and writes down when clicks came.
pub(crate) fn inside(secs: f64, log: &Path, heard: &Path) -> Result<(), Fault> {
    let clock = (Instant::now(), SystemTime::now());
    let mut recorder = Command::new("parec")
        .args(RECORDER)
        .stdout(Stdio::piped())
        .stdin(Stdio::null())
        .spawn()
        .map_err(|error| Fault::Start { program: "parec".to_owned(), error })?;
    let (done, arrived) = channel();
    let stream = recorder.stdout.take();
    std::thread::spawn(move || {
        done.send(stream.map(Arrivals::listen)).ok();
    });
    // The recorder runs before the first click comes.
    std::thread::sleep(Duration::from_secs(1));
    let program = target().join("debug").join("examples").join("beat");
    let beaten = Step::new(program).args([secs.to_string(), BPM.to_string()]).arg(log).run();
    end(&mut recorder);
    beaten?;
    let arrivals = arrived.recv().ok().flatten().unwrap_or_default();
    let since_1970 = |at: Instant| {
        let date = clock.1.duration_since(UNIX_EPOCH).unwrap_or_default();
        (date + at.saturating_duration_since(clock.0)).as_secs_f64()
    };
    let found: Vec<Value> = arrivals
        .clicks
        .onsets()
        .iter()
        .filter_map(|&onset| {
            let (at, edge) = arrivals.sounded(onset, &since_1970)?;
            Some(serde_json::json!({ "sounded_s": at, "edge_s": edge }))
        })
        .collect();
    let text = found.iter().map(|click| format!("{click}\n"));
    fs::write(heard, text.collect::<String>()).map_err(Fault::at(heard))
}

/// Ends the recorder that was started here.
fn end(recorder: &mut Child) {
    recorder.kill().ok();
    recorder.wait().ok();
}

/// What came from the recorder, and when.
#[derive(Default)]
struct Arrivals {
    clicks: Clicks,
    /// The first sample of each stretch, and when it arrived.
    stretches: Vec<(u64, Instant)>,
}

impl Arrivals {
    fn listen(mut stream: impl Read) -> Self {
        let mut arrivals = Self::default();
        let mut bytes = [0; 65_536];
        let mut odd = 0;
        let mut last: Option<Instant> = None;
        while let Ok(count @ 1..) = stream.read(&mut bytes[odd..]) {
            let now = Instant::now();
            if last.is_none_or(|last| now.saturating_duration_since(last) > ONE_STRETCH) {
                arrivals.stretches.push((arrivals.clicks.taken(), now));
            }
            last = Some(now);
            let whole = (odd + count) / 2 * 2;
            for pair in bytes[..whole].as_chunks::<2>().0 {
                arrivals.clicks.take(i16::from_le_bytes(*pair));
            }
            bytes.copy_within(whole..odd + count, 0);
            odd = odd + count - whole;
        }
        arrivals
    }

    /// When the sample `onset` of the record sounded, and how far the earliest tenth of the arrivals around
    /// it lies apart, in seconds.
    fn sounded(&self, onset: f64, since_1970: &impl Fn(Instant) -> f64) -> Option<(f64, f64)> {
        let near = self
            .stretches
            .iter()
            .filter(|(first, _)| (*first as f64 - onset).abs() < AROUND_SECS * RATE_HZ);
        let mut offsets: Vec<f64> =
            near.map(|&(first, at)| since_1970(at) - first as f64 / RATE_HZ).collect();
        offsets.sort_by(f64::total_cmp);
        let earliest = *offsets.first()?;
        let tenth = offsets[offsets.len() / 10];
        Some((earliest + onset / RATE_HZ, tenth - earliest))
    }
}

/// The record alone: each click in its place.
fn intervals(checks: &mut Checks, clicks: &Clicks, secs: f64) {
    println!("\nthe clicks in the record");
    let onsets = clicks.onsets();
    let interval = 60.0 * RATE_HZ / BPM;
    let due = ((secs - 1.5) * BPM / 60.0) as usize;
    checks.that(onsets.len() >= due, &format!("at least {due} clicks"), &onsets.len().to_string());
    let off: Vec<f64> =
        onsets.windows(2).map(|pair| (pair[1] - pair[0] - interval).abs()).collect();
    let exact = off.iter().filter(|off| **off <= EXACT_SAMPLES).count();
    checks.that(
        !off.is_empty() && exact as f64 >= EXACT_SHARE * off.len() as f64,
        &format!("{:.0} % of the intervals exact to the sample", 100.0 * EXACT_SHARE),
        &format!(
            "{exact} of {}; the others up to {:.2} ms off",
            off.len(),
            1e3 * most(off.iter().copied()) / RATE_HZ
        ),
    );
    let first = onsets.first().copied().unwrap_or(f64::NAN);
    let apart = onsets
        .iter()
        .enumerate()
        .map(|(beat, onset)| 1e3 * (onset - first - beat as f64 * interval).abs() / RATE_HZ);
    let apart = most(apart);
    checks.that(
        apart <= ON_THE_BEAT_MS,
        &format!("each within {ON_THE_BEAT_MS} ms of its beat, counted from the first"),
        &format!("{apart:.3} ms at most"),
    );
}

/// Record and log together: each click sounds when it was told to.
fn agreement(checks: &mut Checks, log: &[Value], heard: &[Value]) {
    println!("\nthe clicks and what the window is told of them");
    let edge = most(heard.iter().map(|click| number(&click["edge_s"])));
    println!("       the earliest tenth of the arrivals lies within {:.1} ms", 1e3 * edge);
    let sounded: Vec<f64> = heard.iter().map(|click| number(&click["sounded_s"])).collect();
    for (what, key) in [("told to sound", "sounds_s"), ("shown", "shown_s")] {
        let instants: Vec<f64> = log.iter().map(|beat| number(&beat[key])).collect();
        // To each click its nearest beat; one that has none is far from any.
        let apart: Vec<f64> = sounded
            .iter()
            .map(|click| {
                let near = instants.iter().map(|at| 1e3 * (click - at));
                near.min_by(|a, b| a.abs().total_cmp(&b.abs())).unwrap_or(f64::NAN)
            })
            .collect();
        let largest = most(apart.iter().map(|apart| apart.abs()));
        let mean = apart.iter().sum::<f64>() / apart.len() as f64;
        let missing = log.len().abs_diff(heard.len());
        checks.that(
            !apart.is_empty() && missing <= 1 && largest <= SEEN_AND_HEARD_MS,
            &format!("each click within {SEEN_AND_HEARD_MS} ms of where it is {what}"),
            &format!(
                "{} clicks, {} beats; {mean:+.1} ms in the mean, {largest:.1} ms at most",
                heard.len(),
                log.len()
            ),
        );
    }
}

/// The largest; NaN, which passes no check, if there is none or one is NaN.
fn most(values: impl Iterator<Item = f64>) -> f64 {
    values
        .reduce(|most, value| if value > most || value.is_nan() { value } else { most })
        .unwrap_or(f64::NAN)
}

fn read(path: &Path) -> Result<Vec<Value>, Fault> {
    let text = fs::read_to_string(path).map_err(Fault::at(path))?;
    let lines = text.lines();
    Ok(lines.filter_map(|line| serde_json::from_str(line).ok()).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_sounds_when_is_told_by_the_earliest_arrivals() {
        let begun = Instant::now();
        let mut arrivals = Arrivals::default();
        // Stretches of 10 ms, of which most arrive 1 to 4 ms late.
        for stretch in 0..400_u64 {
            let late = [0, 3, 1, 4, 2][stretch as usize % 5];
            let at = begun + Duration::from_millis(10 * stretch + late);
            arrivals.stretches.push((480 * stretch, at));
        }
        let since = |at: Instant| at.duration_since(begun).as_secs_f64();
        let (at, edge) = arrivals.sounded(96_123.0, &since).expect("some are near");
        assert!((at - 96_123.0 / RATE_HZ).abs() < 1e-6, "{at}");
        assert!(edge < 1e-6, "a fifth of them came at once: {edge}");
    }

    #[test]
    fn no_figure_passes_no_bar() {
        assert!(most(std::iter::empty()).is_nan());
        assert!(most([1.0, f64::NAN, 0.5].into_iter()).is_nan());
        assert_eq!(most([1.0, 3.0, 2.0].into_iter()), 3.0);
    }
}
