//! A screen that nobody sees, for windows to open on.

use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::Child;
use std::time::{Duration, Instant};

use serde_json::Value;

use crate::checks::records;
use crate::packages;
use crate::shell::{Fault, Step};

/// A running X server without a screen; dropping it ends it.
pub(crate) struct Display {
    server: Child,
    /// What `DISPLAY` is to be.
    pub name: String,
}

impl Display {
    /// Starts one; `None`, which is told, where that cannot be done.
    pub(crate) fn open() -> Result<Option<Self>, Fault> {
        if let Err(fault) = packages::install(&[packages::WINDOW, packages::DISPLAY]) {
            println!("skipped: no window can be opened here: {fault}");
            return Ok(None);
        }
        let screen = ["-displayfd", "1", "-screen", "0", "1280x800x24", "-nolisten", "tcp"];
        let mut server = match Step::new("Xvfb").args(screen).start_quietly() {
            Ok(server) => server,
            Err(fault) => {
                println!("skipped: no window can be opened here: {fault}");
                return Ok(None);
            }
        };
        // It names its number once it is ready.
        let mut number = String::new();
        if let Some(out) = server.stdout.take() {
            let place = std::path::Path::new("Xvfb");
            BufReader::new(out).read_line(&mut number).map_err(Fault::at(place))?;
        }
        let display = Self { server, name: format!(":{}", number.trim()) };
        if number.trim().is_empty() {
            println!("skipped: no window can be opened here: Xvfb did not start");
            return Ok(None);
        }
        Ok(Some(display))
    }
}

impl Drop for Display {
    fn drop(&mut self) {
        self.server.kill().and_then(|()| self.server.wait()).ok();
    }
}

/// What a window writes of its first picture into this file (`--watch`), waited for so long.
pub(crate) fn first_picture(watch: &Path, secs: u64) -> Option<Value> {
    let begun = Instant::now();
    while begun.elapsed() < Duration::from_secs(secs) {
        let lines = records(&std::fs::read(watch).unwrap_or_default());
        if let Some(first) = lines.into_iter().find(|line| line["source"].is_string()) {
            return Some(first);
        }
        std::thread::sleep(Duration::from_millis(50));
    }
    None
}
