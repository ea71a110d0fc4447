//! What commands write: lines on the standard output, and files, kept from costing those that are there.

use std::fmt::{Display, Write as _};
use std::fs::{self, File};
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};

use disk::{Disk, Fresh};
use serde::Serialize;

use crate::fault::Fault;
use crate::words::is_unseen;

/// An object as JSON, in which signs that are not seen are written as escapes.
pub(crate) fn as_json(object: &impl Serialize) -> Result<String, Fault> {
    let plain = serde_json::to_string(object)?;
    if !plain.contains(is_unseen) {
        return Ok(plain);
    }
    let mut text = String::with_capacity(plain.len());
    for sign in plain.chars() {
        if is_unseen(sign) {
            write!(text, "\\u{:04x}", u32::from(sign)).ok();
        } else {
            text.push(sign);
        }
    }
    Ok(text)
}

/// Writes an object as a line of JSON.
pub(crate) fn json_line(out: &mut impl Write, object: &impl Serialize) -> Result<(), Fault> {
    Ok(writeln!(out, "{}", as_json(object)?)?)
}

/// Writes each of these on a line of its own.
pub(crate) fn lines(
    out: &mut impl Write,
    lines: impl IntoIterator<Item = impl Display>,
) -> io::Result<()> {
    lines.into_iter().try_for_each(|line| writeln!(out, "{line}"))
}

/// The name of a file with more at its end.
pub(crate) fn ending(path: &Path, ending: &str) -> PathBuf {
    let mut whole = path.as_os_str().to_owned();
    whole.push(ending);
    PathBuf::from(whole)
}

/// Writes a file that is not there yet, or may be `replaced`: it takes its name once it is whole, and what was begun and
/// broke off is removed.
pub(crate) fn whole<E: From<io::Error>>(
    path: &Path,
    replaced: bool,
    write: impl FnOnce(&mut Fresh) -> Result<(), E>,
) -> Result<(), E> {
    let mut fresh = Disk::default().begin(path)?;
    write(&mut fresh)?;
    Ok(if replaced { fresh.put() } else { fresh.put_new() }?)
}

/// What is there is not written over unless that was said.
pub(crate) fn only_new(out: &Path, replaced: bool) -> Result<(), Fault> {
    if !disk::is_there(out) || replaced {
        return Ok(());
    }
    Err(Fault::Failed(format!(
        "this is there already; choose a new name, or say --replace: {}",
        out.display()
    )))
}

/// `out` is to be written over, if it is there: not where it is a file that is read, by whatever name.
pub(crate) fn not_over(out: &Path, read: &Path) -> Result<(), Fault> {
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
pub(crate) fn only_over(out: &Path, begin: &str, kind: &str) -> Result<(), Fault> {
    let Some(about) = fs::metadata(out).ok().filter(|about| about.is_file()) else {
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
