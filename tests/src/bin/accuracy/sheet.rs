//! Figures beside their bars.

use std::process::ExitCode;

/// Prints rows and keeps count of the bars that are missed.
#[derive(Default)]
pub struct Sheet {
    bars: usize,
    missed: Vec<String>,
    /// How many of the missed are known, and no worse than known.
    known: usize,
}

impl Sheet {
    /// A heading.
    pub fn head(&self, text: &str) {
        println!("\n{text}");
    }

    /// A figure without a bar.
    pub fn tell(&self, what: &str, value: &str) {
        println!("  {what:<46} {value:>16}");
    }

    /// A figure and whether it passes its bar.
    pub fn judge(&mut self, what: &str, value: &str, bar: &str, passes: bool) {
        let word = if passes { "PASS" } else { "MISS" };
        println!("  {what:<46} {value:>16}   {bar:<24} {word}");
        self.bars += 1;
        if !passes {
            self.missed.push(format!("{what}: {value} ({bar})"));
        }
    }

    /// A figure that is known to miss its bar by so much: `why`, and whether it still `holds` the line it had
    /// reached. Only a fall behind that line fails the run.
    pub fn judge_known(
        &mut self,
        what: &str,
        value: &str,
        bar: &str,
        (passes, holds): (bool, bool),
        why: &str,
    ) {
        self.judge(what, value, bar, passes);
        if !passes && holds {
            println!("    known: {why}");
            self.known += 1;
        }
    }

    /// A figure that may be at most `most`. One that is no number misses.
    pub fn at_most(&mut self, what: &str, value: Option<f64>, unit: &str, most: f64) {
        let passes = value.is_some_and(|value| value <= most);
        self.judge(what, &number(value, unit), &format!("at most {most} {unit}"), passes);
    }

    /// A figure that must be at least `least`.
    pub fn at_least(&mut self, what: &str, value: Option<f64>, unit: &str, least: f64) {
        let passes = value.is_some_and(|value| value >= least);
        self.judge(what, &number(value, unit), &format!("at least {least} {unit}"), passes);
    }

    /// A figure that must lie within `most` of 0.
    pub fn around(&mut self, what: &str, value: Option<f64>, unit: &str, most: f64) {
        let passes = value.is_some_and(|value| value.abs() <= most);
        self.judge(what, &signed(value, unit), &format!("within ±{most} {unit}"), passes);
    }

    /// The last lines; status 1 if a bar was missed that is not known to be.
    pub fn close(self) -> ExitCode {
        println!("\n{} of {} bars met", self.bars - self.missed.len(), self.bars);
        for missed in &self.missed {
            println!("  missed: {missed}");
        }
        if self.known > 0 {
            println!("  of these {} known, and no worse than known (DEVELOPERS.md)", self.known);
        }
        if self.missed.len() == self.known { ExitCode::SUCCESS } else { ExitCode::from(1) }
    }
}

/// A figure in words.
pub fn number(value: Option<f64>, unit: &str) -> String {
    value.map_or_else(|| "none".to_owned(), |value| format!("{value:.2} {unit}"))
}

/// The same with its sign.
pub fn signed(value: Option<f64>, unit: &str) -> String {
    value.map_or_else(|| "none".to_owned(), |value| format!("{value:+.2} {unit}"))
}
