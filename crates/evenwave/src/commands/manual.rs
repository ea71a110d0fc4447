//! `evenwave manual [PAGE]`.

use std::io::Write;

use crate::fault::Fault;
use crate::manual::MANUAL;

/// Writes the page, or the list of them, to the standard output.
pub(super) fn run(page: Option<&str>) -> Result<(), Fault> {
    let mut out = String::new();
    for each in &MANUAL {
        if page.is_none() {
            out += &format!("  evenwave manual {:<12}{}\n", each.name, each.title());
        } else if page == Some(each.name) {
            out += &each.plain();
        }
    }
    std::io::stdout().write_all(out.as_bytes())?;
    Ok(())
}
