//! What the window shows, written to a file for the gates of the project.

use std::io::Write;
use std::path::Path;
use std::time::{Duration, Instant};

use coach::played::Written;
use disk::{Disk, DiskFile};
use eframe::egui;
use panels::stand::{SpokenSummary, Stand, Take};
use serde_json::{Value, json};
use tuning::Secs;

use super::delays::Delays;
use crate::fault::Fault;
use crate::formats::RoundRecord;

/// Time from one line to the next.
const EVERY: Duration = Duration::from_millis(250);

/// Writes what is shown.
pub(super) struct Watch {
    file: DiskFile,
    begun: Instant,
    /// When the last line was written, and what it said of the source.
    last: Option<(Instant, String)>,
    pictures: u64,
    /// So much of the sound was missed.
    lost: Secs,
}

impl Watch {
    /// Writes to `path`, which must be new.
    pub(super) fn new(path: &Path, begun: Instant) -> Result<Self, Fault> {
        Ok(Self {
            file: Disk::default().create(path)?,
            begun,
            last: None,
            pictures: 0,
            lost: Secs(0.0),
        })
    }

    /// A picture was drawn.
    pub(super) fn look(&mut self, stand: &Stand, delays: &Delays) {
        self.pictures += 1;
        let now = Instant::now();
        let source = stand.shell.source.wording();
        let due = self.last.as_ref().is_none_or(|(last, told)| {
            now.saturating_duration_since(*last) >= EVERY || *told != source
        });
        if !due {
            return;
        }
        self.last = Some((now, source.clone()));
        let shown = SpokenSummary::of(stand);
        let figures = delays.figures();
        let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
        let open_files = std::fs::read_dir("/proc/self/fd").ok().map(Iterator::count);
        self.write(&json!({
            "time_s": now.saturating_duration_since(self.begun).as_secs_f64(),
            "note": shown.note,
            "rate": shown.rate,
            "width": shown.width,
            "source": source,
            "take": match stand.shell.take() {
                Take::Kept { id, .. } => format!("kept {id}"),
                other => format!("{other:?}"),
            },
            "words": stand.shell.words,
            "curtain": format!("{:?}", stand.curtain()),
            "beat": stand.shell.beat.map(|(_, count)| count),
            "delay_median_ms": figures.map(|figures| figures.delay_median_ms),
            "delay_most_ms": figures.map(|figures| figures.delay_most_ms),
            "work_p99_ms": figures.map(|figures| figures.work_p99_ms),
            "pictures": self.pictures,
            "heard_s": stand.live().time.map(|time| time.0),
            "lost_s": self.lost.0,
            "memory_kib": of_status(&status, "VmRSS:"),
            "threads": of_status(&status, "Threads:"),
            "open_files": open_files,
        }));
    }

    /// So much of the sound was missed before it could be heard.
    pub(super) fn missed(&mut self, length: Secs) {
        self.lost.0 += length.0;
    }

    /// The delay from loudspeaker to microphone was measured, or could not be.
    pub(super) fn calibrated(&mut self, delay_s: Option<f64>, told: Option<&str>) {
        let calibrated = delay_s.is_some();
        self.write(&json!({ "calibrated": calibrated, "delay_s": delay_s, "told": told }));
    }

    /// A round of a drill was judged.
    pub(super) fn round(&mut self, round: &RoundRecord) {
        self.write(&json!({ "round": round }));
    }

    /// A pass through a passage was judged.
    pub(super) fn pass(&mut self, number: u8, said: &[String], of: &Written) {
        self.write(&json!({ "pass": number, "found": said, "passage": of }));
    }

    /// These words tell of drills that cannot be used.
    pub(super) fn drills(&mut self, told: &[String]) {
        self.write(&json!({ "drills": told }));
    }

    /// The picture of a beat that sounds at `sounds` is seen at `seen`.
    pub(super) fn beat(&mut self, seen: Instant, sounds: Instant) {
        let since = |at: Instant| at.saturating_duration_since(self.begun).as_secs_f64();
        self.write(&json!({ "seen_s": since(seen), "sounds_s": since(sounds) }));
    }

    fn write(&mut self, line: &Value) {
        writeln!(self.file, "{line}").ok();
    }
}

/// Writes what a screen reader is told, with its place, whenever that has changed.
pub(super) struct Names {
    file: DiskFile,
    begun: Instant,
    /// What was written last, and when.
    last: Option<(Instant, Value)>,
}

impl Names {
    /// Writes to `path`, which must be new, what is told in this window.
    pub(super) fn write(path: &Path, begun: Instant, context: &egui::Context) -> Result<(), Fault> {
        let file = Disk::default().create(path)?;
        context.enable_accesskit();
        context.add_plugin(Self { file, begun, last: None });
        Ok(())
    }
}

impl egui::Plugin for Names {
    fn debug_name(&self) -> &'static str {
        "names"
    }

    fn output_hook(&mut self, ctx: &egui::Context, output: &mut egui::FullOutput) {
        let Some(update) = &output.platform_output.accesskit_update else { return };
        let names: Value = update.nodes.iter().filter_map(|(_, node)| named(node)).collect();
        let now = Instant::now();
        if self.last.as_ref().is_some_and(|(_, last)| *last == names) {
            return;
        }
        if let Some((last, _)) = self.last
            && now.saturating_duration_since(last) < EVERY
        {
            ctx.request_repaint_after(EVERY);
            return;
        }
        let time_s = now.saturating_duration_since(self.begun).as_secs_f64();
        writeln!(self.file, "{}", json!({ "time_s": time_s, "names": names })).ok();
        self.last = Some((now, names));
    }
}

/// What is told of a part of the window: its name, and where its middle lies.
fn named(node: &egui::accesskit::Node) -> Option<Value> {
    let name = node.label().or(node.value())?;
    let middle =
        node.bounds().map(|place| [(place.x0 + place.x1) / 2.0, (place.y0 + place.y1) / 2.0]);
    Some(json!({ "name": name, "at": middle }))
}

/// A number that Linux tells of this program in `/proc/self/status`.
fn of_status(status: &str, name: &str) -> Option<u64> {
    let line = status.lines().find(|line| line.starts_with(name))?;
    line.split_whitespace().nth(1)?.parse().ok()
}
