//! A cell of CSV, so that a spreadsheet shows what is written in it and computes nothing.

use std::borrow::Cow;
use std::io::Write;

/// Signs with which a spreadsheet begins to compute, those of full width among them, or after which it may.
const COMPUTED: [char; 11] = ['=', '+', '-', '@', '\t', '\r', '\n', '＝', '＋', '－', '＠'];

/// Writes a row of cells.
pub(crate) fn write_row(
    rows: &mut csv::Writer<impl Write>,
    cells: impl Iterator<Item = String>,
) -> Result<(), csv::Error> {
    for cell in cells {
        rows.write_field(written(&cell).as_bytes())?;
    }
    rows.write_record(None::<&[u8]>)
}

/// The text with an apostrophe before it where a spreadsheet would compute it; a number stays as it is.
fn written(text: &str) -> Cow<'_, str> {
    let is_number = text.parse::<f64>().is_ok_and(f64::is_finite);
    if is_computed(text) && !is_number { format!("'{text}").into() } else { text.into() }
}

/// The text of a cell that was so written.
pub(crate) fn read(cell: &str) -> &str {
    cell.strip_prefix('\'').filter(|text| is_computed(text)).unwrap_or(cell)
}

/// What has an apostrophe before such a sign already gets one more, so that it can be taken away again.
fn is_computed(text: &str) -> bool {
    text.trim_start_matches(['\'', ' ']).starts_with(COMPUTED)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_a_spreadsheet_would_compute_is_written_otherwise_and_read_as_it_was() {
        for text in [
            "=cmd|' /C calc'!A1",
            "+1+1",
            "-2+3",
            "@SUM(A1)",
            "\t=1",
            "\r=1",
            " =1",
            "'=1",
            "''-x",
            "' @",
            "＝1",
            "-inf",
            "+nan",
            "--",
        ] {
            let cell = written(text);
            assert_eq!(cell, format!("'{text}"));
            assert_eq!(read(&cell), text);
        }
        for text in ["", "Mira", "'t Hooft", "-12.3", "+5", "1e-3", "C♯3", "a=b", "'", "Zoë; -x"]
        {
            assert_eq!(written(text), text);
            assert_eq!(read(text), text);
        }
    }
}
