//! A score in a zip (`.mxl`): `META-INF/container.xml` names the first score in it (MusicXML 4.0, W3C Community Group, "Compressed
//! .mxl files"). Nothing else of the zip is read, and nothing is written anywhere.

use std::io::{Cursor, Read};

use zip::ZipArchive;

use crate::error::ScoreError;
use crate::xml::{MOST_BYTES, Tree, too_many_bytes};

const CONTAINER: &str = "META-INF/container.xml";
/// A list of scores is short.
const MOST_CONTAINER_BYTES: usize = 1 << 16;
/// Files in the zip: scores with pictures have some dozens.
const MOST_FILES: usize = 1_000;

/// Whether these bytes are a zip.
pub(crate) fn is_zip(bytes: &[u8]) -> bool {
    bytes.starts_with(b"PK\x03\x04")
}

/// The bytes of the score in a zip.
pub(crate) fn unpacked(bytes: &[u8]) -> Result<Vec<u8>, ScoreError> {
    let damaged = |error| ScoreError::form(format!("the .mxl file is damaged ({error})"));
    let mut zip = ZipArchive::new(Cursor::new(bytes)).map_err(damaged)?;
    if zip.len() > MOST_FILES {
        return Err(ScoreError::TooLarge {
            what: "this .mxl file",
            most: format!("{MOST_FILES} files"),
            mend: crate::error::WRITE_AGAIN,
        });
    }
    let container = file(&mut zip, CONTAINER, MOST_CONTAINER_BYTES)?;
    let container = String::from_utf8(container)
        .map_err(|_| ScoreError::form(format!("{CONTAINER} in the .mxl file is no text")))?;
    let tree = Tree::read(&container)?;
    let rootfile = tree.root().child("rootfiles").and_then(|files| files.child("rootfile"));
    let name = rootfile.and_then(|file| file.attribute("full-path")).unwrap_or_default();
    if !is_plain(&name) {
        return Err(ScoreError::form(format!(
            "the .mxl file names its score {name:?}, which is no place within it"
        )));
    }
    file(&mut zip, &name, MOST_BYTES)
}

/// A name within the zip, and no way out of it.
fn is_plain(name: &str) -> bool {
    let parts = || name.split('/');
    !name.contains(['\\', ':', '\0']) && parts().all(|part| !part.is_empty() && part != "..")
}

/// What a file of the zip holds. The bytes are counted as they come out: what the zip says of their number may be wrong.
fn file(
    zip: &mut ZipArchive<Cursor<&[u8]>>,
    name: &str,
    most_bytes: usize,
) -> Result<Vec<u8>, ScoreError> {
    let damaged = |error: String| {
        ScoreError::form(format!("{name} in the .mxl file cannot be read ({error})"))
    };
    let packed = zip.by_name(name).map_err(|error| damaged(error.to_string()))?;
    let mut bytes = Vec::new();
    packed
        .take(most_bytes as u64 + 1)
        .read_to_end(&mut bytes)
        .map_err(|error| damaged(error.to_string()))?;
    if bytes.len() > most_bytes {
        return Err(too_many_bytes());
    }
    Ok(bytes)
}
