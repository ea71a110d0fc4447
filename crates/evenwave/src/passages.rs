//! The passages that come with the program, and those in files.

#[cfg(feature = "window")]
mod keeper;
#[cfg(feature = "window")]
mod shelf;

use std::io::Read;
use std::path::Path;

use coach::plan::Passage;
#[cfg(feature = "window")]
pub(crate) use keeper::Keeper;
#[cfg(feature = "window")]
pub(crate) use shelf::{SCORES, TakenIn, all, is_one, keep, take_excerpt, take_in};

use crate::fault::Fault;

/// The passages that come with the program, by name.
const SHIPPED: [(&str, &str); 3] = [
    ("low-tide", include_str!("../../../assets/passages/low-tide.passage.txt")),
    ("up-the-hill", include_str!("../../../assets/passages/up-the-hill.passage.txt")),
    ("walking-home", include_str!("../../../assets/passages/walking-home.passage.txt")),
];
/// Bytes of a score that are read: an .mxl may hold pictures beside it.
const MOST_SCORE_BYTES: u64 = 64 << 20;
/// A passage that comes along, by its name, or one in a file.
pub(crate) fn find(plan: &str) -> Result<Passage, Fault> {
    if let Some((name, text)) = SHIPPED.iter().find(|(name, _)| *name == plan) {
        return Passage::from_text(text)
            .map_err(|faults| Fault::Failed(format!("{name}: {faults}")));
    }
    read(Path::new(plan))
}

/// The passage in a file of text, or as it is kept.
fn read(path: &Path) -> Result<Passage, Fault> {
    let shown = path.display();
    let text = disk::text(path).map_err(|error| {
        let names: Vec<&str> = SHIPPED.iter().map(|(name, _)| *name).collect();
        Fault::Failed(format!(
            "the passage cannot be read ({error}); give the path of a file, or one of {}: {shown}",
            names.join(", ")
        ))
    })?;
    let read = match has(path, "ron") {
        true => Passage::from_ron(&text).map_err(|fault| fault.to_string()),
        false => Passage::from_text(&text).map_err(|faults| faults.to_string()),
    };
    read.map_err(|faults| Fault::Failed(format!("{shown}:\n{faults}")))
}

fn has(path: &Path, extension: &str) -> bool {
    path.extension().is_some_and(|has| has.eq_ignore_ascii_case(extension))
}

/// The bytes of a score.
pub(crate) fn score_bytes(file: &Path) -> Result<Vec<u8>, Fault> {
    let mut bytes = Vec::new();
    let read =
        disk::open(file).and_then(|file| file.take(MOST_SCORE_BYTES).read_to_end(&mut bytes));
    match read {
        Ok(_) => Ok(bytes),
        Err(error) => Err(Fault::Failed(format!(
            "the score cannot be read ({error}); check the path: {}",
            file.display()
        ))),
    }
}
