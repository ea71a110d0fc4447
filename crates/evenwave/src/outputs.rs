//! Files that commands write, kept from costing those that are there.

use std::fs::File;
use std::io::Read;
use std::path::Path;

use crate::fault::Fault;

/// `out` is to be written over, if it is there: not where it is a file that is read, by whatever name.
pub fn not_over(out: &Path, read: &Path) -> Result<(), Fault> {
    // What is no ordinary file, or is not there, cannot be lost.
    if out.is_file() && same_file::is_same_file(out, read).unwrap_or(false) {
        return Err(Fault::Failed(format!(
            "this would be written over though it is read; choose another name: {}",
            out.display()
        )));
    }
    Ok(())
}

/// `out` is to be written over, if it is there: only where it begins like a file of this kind.
pub fn only_over(out: &Path, begin: &str, kind: &str) -> Result<(), Fault> {
    let Some(about) = std::fs::metadata(out).ok().filter(|about| about.is_file()) else {
        return Ok(());
    };
    let mut head = vec![0; begin.len()];
    let read = File::open(out).and_then(|mut file| file.read_exact(&mut head));
    if about.len() == 0 || (read.is_ok() && head.eq_ignore_ascii_case(begin.as_bytes())) {
        return Ok(());
    }
    Err(Fault::Failed(format!(
        "this is there already and is no {kind}, so it is not written over; choose another name: {}",
        out.display()
    )))
}
