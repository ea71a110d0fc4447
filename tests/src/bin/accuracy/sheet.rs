//! Figures beside their bars.

use std::path::{Path, PathBuf};
use std::process::ExitCode;

/// The page that is written (`--write`) and that a full run is held against.
fn page() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("ACCURACY.md")
}

/// What stands above the figures on the page.
const PREFACE: &str = "# Accuracy

Written by `cargo xtask accuracy --write`: not by hand. Every figure stands beside its bar. A full run fails where a bar is
missed that is not known to be, where a known miss has become worse than the line it had reached, and where this page no
longer says what was measured.
";

/// One line of the sheet.
enum Row {
    Head(String),
    Told { what: String, value: String },
    Judged { what: String, value: String, bar: String, passes: bool, known: Option<&'static str> },
}

/// Prints rows and keeps them, with the bars that are missed.
#[derive(Default)]
pub(crate) struct Sheet {
    rows: Vec<Row>,
}

impl Sheet {
    /// A heading.
    pub(crate) fn head(&mut self, text: &str) {
        println!("\n{text}");
        self.rows.push(Row::Head(text.to_owned()));
    }

    /// A figure without a bar.
    pub(crate) fn tell(&mut self, what: &str, value: &str) {
        println!("  {what:<46} {value:>16}");
        self.rows.push(Row::Told { what: what.to_owned(), value: value.to_owned() });
    }

    /// A figure and whether it passes its bar.
    pub(crate) fn judge(&mut self, what: &str, value: &str, bar: &str, passes: bool) {
        self.judged(what, value, bar, passes, None);
    }

    /// A figure that is known to miss its bar by so much: `why`, and whether it still `holds` the line it had
    /// reached. Only a fall behind that line fails the run.
    pub(crate) fn judge_known(
        &mut self,
        what: &str,
        value: &str,
        bar: &str,
        (passes, holds): (bool, bool),
        why: &'static str,
    ) {
        self.judged(what, value, bar, passes, (!passes && holds).then_some(why));
    }

    fn judged(
        &mut self,
        what: &str,
        value: &str,
        bar: &str,
        passes: bool,
        known: Option<&'static str>,
    ) {
        println!("  {what:<46} {value:>16}   {bar:<24} {}", verdict(passes));
        if let Some(why) = known {
            println!("    known: {why}");
        }
        let (what, value, bar) = (what.to_owned(), value.to_owned(), bar.to_owned());
        self.rows.push(Row::Judged { what, value, bar, passes, known });
    }

    /// A figure that may be at most `most`. One that is no number misses.
    pub(crate) fn at_most(&mut self, what: &str, value: Option<f64>, unit: &str, most: f64) {
        let passes = value.is_some_and(|value| value <= most);
        self.judge(what, &number(value, unit), &format!("at most {most} {unit}"), passes);
    }

    /// A figure that must be at least `least`.
    pub(crate) fn at_least(&mut self, what: &str, value: Option<f64>, unit: &str, least: f64) {
        let passes = value.is_some_and(|value| value >= least);
        self.judge(what, &number(value, unit), &format!("at least {least} {unit}"), passes);
    }

    /// A figure that must lie within `most` of 0.
    pub(crate) fn around(&mut self, what: &str, value: Option<f64>, unit: &str, most: f64) {
        let passes = value.is_some_and(|value| value.abs() <= most);
        self.judge(what, &signed(value, unit), &format!("within ±{most} {unit}"), passes);
    }

    /// The last lines; status 1 if a bar was missed that is not known to be, or if the page is to be `held` against
    /// what was measured and says something else. `seed` is told on the page.
    pub(crate) fn close(self, seed: u64, keep: Keep) -> ExitCode {
        let bars = self.bars().count();
        let missed: Vec<_> = self.bars().filter(|bar| !bar.passes).collect();
        println!("\n{} of {bars} bars met", bars - missed.len());
        for bar in &missed {
            println!("  missed: {}: {} ({})", bar.what, bar.value, bar.bar);
        }
        let known = missed.iter().filter(|bar| bar.known.is_some()).count();
        if known > 0 {
            println!("  of these {known} known, and no worse than known");
        }
        let page_holds = match keep {
            Keep::Nothing => true,
            Keep::Write => told(std::fs::write(page(), self.written(seed))),
            Keep::Hold => self.is_held(seed),
        };
        if missed.len() == known && page_holds { ExitCode::SUCCESS } else { ExitCode::from(1) }
    }

    fn bars(&self) -> impl Iterator<Item = Bar<'_>> {
        self.rows.iter().filter_map(|row| match row {
            Row::Judged { what, value, bar, passes, known } => {
                Some(Bar { what, value, bar, passes: *passes, known: *known })
            }
            Row::Head(_) | Row::Told { .. } => None,
        })
    }

    /// The page.
    fn written(&self, seed: u64) -> String {
        let missed = self.bars().filter(|bar| !bar.passes).count();
        let bars = self.bars().count();
        let mut text = format!("{PREFACE}\nSeed {seed}: {} of {bars} bars met.\n", bars - missed);
        if missed > 0 {
            text += "\n## Missed, and why\n\n";
        }
        for Bar { what, value, bar, known, .. } in self.bars().filter(|bar| !bar.passes) {
            text +=
                &format!("- {what}: {value} ({bar}). {}\n", known.unwrap_or("Not known before."));
        }
        for row in &self.rows {
            text += &match row {
                Row::Head(head) => {
                    format!("\n## {head}\n\n| what | figure | bar | |\n| --- | --- | --- | --- |\n")
                }
                Row::Told { what, value } => format!("| {what} | {value} | | |\n"),
                Row::Judged { what, value, bar, passes, .. } => {
                    format!("| {what} | {value} | {bar} | {} |\n", verdict(*passes))
                }
            };
        }
        text
    }

    /// Whether the page says what was measured; else both are told line by line.
    fn is_held(&self, seed: u64) -> bool {
        self.is_on(&std::fs::read_to_string(page()).unwrap_or_default(), seed)
    }

    fn is_on(&self, kept: &str, seed: u64) -> bool {
        let measured = self.written(seed);
        if kept == measured {
            return true;
        }
        println!(
            "tests/ACCURACY.md is not what was measured; look at it, then `cargo xtask accuracy --write`:"
        );
        lines_without(&measured, kept).iter().for_each(|line| println!("  measured only: {line}"));
        lines_without(kept, &measured)
            .iter()
            .for_each(|line| println!("  on the page only: {line}"));
        false
    }
}

/// The lines of one text that the other has not, or has fewer times.
fn lines_without<'a>(text: &'a str, other: &str) -> Vec<&'a str> {
    let mut left: Vec<&str> = other.lines().collect();
    let mut is_there = |line: &&str| {
        let at = left.iter().position(|other| other == line);
        at.map(|at| left.swap_remove(at)).is_some()
    };
    text.lines().filter(|line| !is_there(line)).collect()
}

/// What becomes of the page of figures.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Keep {
    /// It was not all of it that was measured: the page stays as it is.
    Nothing,
    /// The page is written anew.
    Write,
    /// The page must say what was measured.
    Hold,
}

/// A figure with its bar.
struct Bar<'a> {
    what: &'a str,
    value: &'a str,
    bar: &'a str,
    passes: bool,
    known: Option<&'static str>,
}

fn verdict(passes: bool) -> &'static str {
    if passes { "PASS" } else { "MISS" }
}

fn told(written: std::io::Result<()>) -> bool {
    if let Err(error) = &written {
        eprintln!("accuracy: the page cannot be written: {error}: {}", page().display());
    }
    written.is_ok()
}

/// A figure in words.
pub(crate) fn number(value: Option<f64>, unit: &str) -> String {
    value.map_or_else(|| "none".to_owned(), |value| format!("{value:.2} {unit}"))
}

/// The same with its sign.
pub(crate) fn signed(value: Option<f64>, unit: &str) -> String {
    value.map_or_else(|| "none".to_owned(), |value| format!("{value:+.2} {unit}"))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sheet(bars: &[&str]) -> Sheet {
        let mut sheet = Sheet::default();
        sheet.head("a part");
        bars.iter().for_each(|bar| sheet.tell(bar, "1.00 Hz"));
        sheet
    }

    #[test]
    fn the_page_holds_no_line_that_is_not_measured_and_lacks_none_that_is() {
        let page = sheet(&["one", "two"]).written(1);
        assert!(sheet(&["one", "two"]).is_on(&page, 1));
        assert!(!sheet(&["one"]).is_on(&page, 1), "a bar was taken away");
        assert!(!sheet(&["one", "two", "two"]).is_on(&page, 1), "a bar came in");
        assert_eq!(lines_without("a\nb\nb", "b\na"), ["b"]);
    }
}
