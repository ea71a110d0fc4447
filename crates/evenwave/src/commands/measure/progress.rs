//! How far measuring has come, on the error stream, if that is a terminal.

use std::sync::Mutex;
use std::time::{Duration, Instant};

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use sound::Recording;

use crate::heard_file::Wanted;

/// Work that is done sooner than this needs no bar.
const PATIENCE: Duration = Duration::from_millis(1_500);

/// One bar: of one file in milliseconds of sound, of many in files.
pub(crate) struct Progress {
    bar: ProgressBar,
    in_files: bool,
    /// When to show the bar; `None` once it is shown.
    show_at: Mutex<Option<Instant>>,
}

/// The share of one file in it.
pub(super) struct FileProgress<'a> {
    all: &'a Progress,
    told_ms: u64,
    whole_ms: Option<u64>,
}

impl Progress {
    /// A bar for so many files, hidden until the work turns out to be long.
    pub(super) fn of(files: usize) -> Self {
        let in_files = files > 1;
        let bar = ProgressBar::with_draw_target(
            Some(if in_files { files as u64 } else { 0 }),
            ProgressDrawTarget::hidden(),
        );
        let template = if in_files {
            "{wide_bar} {pos} of {len} files, {eta} left"
        } else {
            "{wide_bar} {percent:>3} % of the sound, {eta} left"
        };
        if let Ok(style) = ProgressStyle::with_template(template) {
            bar.set_style(style);
        }
        Self { bar, in_files, show_at: Mutex::new(Some(Instant::now() + PATIENCE)) }
    }

    /// A bar for so many recordings that come in one after the other.
    pub(crate) fn of_recordings(files: usize) -> Self {
        let progress = Self::of(1);
        progress.bar.set_length(1_000 * files as u64);
        progress
    }

    /// So many of these are done, the one at work by its share.
    pub(crate) fn reached(&self, files: f64) {
        self.show_when_due();
        self.bar.set_position((1_000.0 * files) as u64);
    }

    /// The share of a file that is about to be measured.
    pub(super) fn file(&self) -> FileProgress<'_> {
        FileProgress { all: self, told_ms: 0, whole_ms: None }
    }

    /// Writes to the terminal without the bar in the way.
    pub(crate) fn around<T>(&self, write: impl FnOnce() -> T) -> T {
        self.bar.suspend(write)
    }

    fn show_when_due(&self) {
        if let Ok(mut show_at) = self.show_at.try_lock()
            && show_at.is_some_and(|at| Instant::now() >= at)
        {
            *show_at = None;
            // Draws only if the error stream is a terminal.
            self.bar.set_draw_target(ProgressDrawTarget::stderr());
        }
    }
}

impl Drop for Progress {
    fn drop(&mut self) {
        self.bar.finish_and_clear();
    }
}

impl FileProgress<'_> {
    /// The file has been read so far.
    pub(super) fn passed(&mut self, recording: &Recording, wanted: &Wanted) {
        self.all.show_when_due();
        if self.all.in_files {
            return;
        }
        let since_start = |secs: f64| (1_000.0 * (secs - wanted.from.0).max(0.0)) as u64;
        let whole = *self.whole_ms.get_or_insert_with(|| {
            let stated = recording.duration_secs().unwrap_or(0.0);
            let end = wanted.to.map_or(stated, |to| to.0.min(stated));
            self.all.bar.inc_length(since_start(end));
            since_start(end)
        });
        // A file may go on beyond what it states: the bar does not.
        let now = since_start(recording.place_secs()).min(whole);
        self.all.bar.inc(now.saturating_sub(self.told_ms));
        self.told_ms = now;
    }
}

impl Drop for FileProgress<'_> {
    fn drop(&mut self) {
        if self.all.in_files {
            self.all.bar.inc(1);
            return;
        }
        let left = self.whole_ms.unwrap_or(0).saturating_sub(self.told_ms);
        self.all.bar.inc(left);
    }
}
