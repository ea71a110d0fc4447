//! Which sound is to go at the next start, as the player was told.

use std::collections::BTreeSet;
use std::io;
use std::path::Path;

use disk::Disk;

use crate::take_id::TakeId;

/// The days after which sound is too old, and then the names of takes, one a line.
const LEAVING: &str = ".leaving";

/// What the player was told at an earlier start: nothing else goes.
#[derive(Debug, Default)]
pub(crate) struct Leaving {
    days: Option<u32>,
    takes: BTreeSet<String>,
}

impl Leaving {
    pub(crate) fn read(folder: &Path) -> Self {
        let text = disk::text(&folder.join(LEAVING)).unwrap_or_default();
        let mut lines = text.lines();
        let days = lines.next().and_then(|days| days.parse().ok());
        Self { days, takes: lines.map(str::to_owned).collect() }
    }

    /// Whether the player knows that the sound of this take goes after so many days.
    pub(crate) fn has(&self, id: &TakeId, days: u32) -> bool {
        self.days == Some(days) && self.takes.contains(&id.to_string())
    }

    /// Keeps what the player is told now.
    pub(crate) fn keep(folder: &Path, disk: &Disk, days: u32, takes: &[TakeId]) -> io::Result<()> {
        if takes.is_empty() {
            return disk.remove_file(&folder.join(LEAVING));
        }
        let lines: String = takes.iter().map(|id| format!("{id}\n")).collect();
        disk.write_whole(&folder.join(LEAVING), format!("{days}\n{lines}").as_bytes())
    }
}
