//! How far measuring has come.

use sound::Recording;

use crate::heard_file::Wanted;
use crate::progress::Progress;

/// Of one file in milliseconds of sound, of many in files.
pub(super) struct FilesProgress {
    pub(super) line: Progress,
    in_files: bool,
}

/// The share of one file in it.
pub(super) struct FileProgress<'a> {
    all: &'a FilesProgress,
    told_ms: u64,
    whole_ms: Option<u64>,
}

impl FilesProgress {
    /// Of so many files.
    pub(super) fn of(files: usize) -> Self {
        let in_files = files > 1;
        let line = match in_files {
            true => Progress::of(files as u64, Some("files")),
            false => Progress::of(0, None),
        };
        Self { line, in_files }
    }

    /// The share of a file that is about to be measured.
    pub(super) fn file(&self) -> FileProgress<'_> {
        FileProgress { all: self, told_ms: 0, whole_ms: None }
    }
}

impl FileProgress<'_> {
    /// The file has been read so far.
    pub(super) fn passed(&mut self, recording: &Recording, wanted: &Wanted) {
        if self.all.in_files {
            return;
        }
        let since_start = |secs: f64| (1_000.0 * (secs - wanted.from.0).max(0.0)) as u64;
        let whole = *self.whole_ms.get_or_insert_with(|| {
            let stated = recording.duration_secs().unwrap_or(0.0);
            let end = wanted.to.map_or(stated, |to| to.0.min(stated));
            self.all.line.grow(since_start(end));
            since_start(end)
        });
        // A file may go on beyond what it states: the line does not.
        let now = since_start(recording.place_secs()).min(whole);
        self.all.line.add(now.saturating_sub(self.told_ms));
        self.told_ms = now;
    }
}

impl Drop for FileProgress<'_> {
    fn drop(&mut self) {
        if self.all.in_files {
            self.all.line.add(1);
        }
    }
}
