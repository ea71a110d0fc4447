//! What is exactly known of a sound that was made.

use crate::line::{Course, Pitch};
use std::io::{self, Write};
use tuning::{Cents, Hz, Secs};

/// Time from one value of the true pitch to the next: 5 ms.
pub const HOP_SECS: f64 = 0.005;

/// What is exactly known of a sound.
#[derive(Clone, Debug, PartialEq)]
pub struct Truth {
    /// One string each, in the order of the specification.
    pub lines: Vec<TrueLine>,
}

/// What is known of one string.
#[derive(Clone, Debug, PartialEq)]
pub struct TrueLine {
    /// The pitch every 5 ms from the first sample on; `None` where the string is not bowed.
    pub f0: Vec<Option<Hz>>,
    /// Its notes in the order of time.
    pub notes: Vec<TrueNote>,
}

/// What is known of one note.
#[derive(Clone, Debug, PartialEq)]
pub struct TrueNote {
    /// Where the bow (or a legato finger) starts it.
    pub start: Secs,
    /// Where the bow leaves it or the next finger takes over.
    pub end: Secs,
    /// The pitch the finger was put down for; cents are against this.
    pub nominal: Hz,
    /// Mean in cents of the pitch from the first trough to the last; over the whole note (glide
    /// apart) where there are not two troughs.
    pub centre: Cents,
    /// Turning points of the vibrato within the note. Drift and wandering are not in them.
    pub turns: Vec<TrueTurn>,
    /// Its whole oscillations, trough to trough.
    pub oscillations: Vec<TrueOscillation>,
}

/// A turning point of the vibrato.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TrueTurn {
    /// When.
    pub time: Secs,
    /// Distance of the swing from the straight pitch.
    pub swing: Cents,
    /// A crest, or a trough.
    pub crest: bool,
}

/// One oscillation, trough to trough.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TrueOscillation {
    /// The trough it starts from.
    pub start: Secs,
    /// Trough to trough.
    pub period: Secs,
    /// Crest above the mean of its two troughs.
    pub width: Cents,
}

impl Truth {
    /// Reads the truth off the strings' courses.
    pub(crate) fn new(courses: &[Course], rate_hz: f64) -> Self {
        Self { lines: courses.iter().map(|course| true_line(course, rate_hz)).collect() }
    }

    /// Writes the pitch as CSV: `time_s` and one column `f0_1_hz`, `f0_2_hz`... per string, empty
    /// where it is not bowed.
    pub fn write_csv(&self, mut out: impl Write) -> io::Result<()> {
        write!(out, "time_s")?;
        for number in 1..=self.lines.len() {
            write!(out, ",f0_{number}_hz")?;
        }
        writeln!(out)?;
        let frames = self.lines.iter().map(|line| line.f0.len()).max().unwrap_or(0);
        for i in 0..frames {
            write!(out, "{:.3}", i as f64 * HOP_SECS)?;
            for line in &self.lines {
                match line.f0.get(i).copied().flatten() {
                    Some(hz) => write!(out, ",{:.6}", hz.get())?,
                    None => write!(out, ",")?,
                }
            }
            writeln!(out)?;
        }
        Ok(())
    }
}

impl TrueNote {
    /// Mean width of its whole oscillations; `None` if it has none.
    pub fn mean_width(&self) -> Option<Cents> {
        let sum: f64 = self.oscillations.iter().map(|o| o.width.get()).sum();
        (!self.oscillations.is_empty()).then(|| Cents(sum / self.oscillations.len() as f64))
    }

    /// Whole oscillations over the time they take; `None` if there are none.
    pub fn mean_rate(&self) -> Option<Hz> {
        let time: f64 = self.oscillations.iter().map(|o| o.period.get()).sum();
        (time > 0.0).then(|| Hz(self.oscillations.len() as f64 / time))
    }
}

fn true_line(course: &Course, rate_hz: f64) -> TrueLine {
    let samples = course.f0.len();
    let frames = (samples as f64 / (HOP_SECS * rate_hz)).ceil() as usize;
    // At rates that 5 ms do not divide, the nearest sample stands for the frame.
    let at = |i: usize| {
        ((i as f64 * HOP_SECS * rate_hz).round() as usize).min(samples.saturating_sub(1))
    };
    let f0 = (0..frames).map(at).map(|n| course.on[n].then(|| Hz(course.f0[n]))).collect();
    TrueLine {
        f0,
        notes: course.pitches.iter().map(|pitch| true_note(pitch, course, rate_hz)).collect(),
    }
}

fn true_note(pitch: &Pitch, course: &Course, rate_hz: f64) -> TrueNote {
    let note = pitch.note;
    let start = note.start.get();
    let knots = pitch.swing.as_ref().map_or(&[][..], |swing| swing.knots());
    let moving = note.vibrato.as_ref().is_some_and(|vibrato| vibrato.width.get() > 0.0);
    let turns: Vec<TrueTurn> = knots
        .iter()
        .filter(|knot| moving && (0.0..=note.length.get()).contains(&knot.secs))
        .filter_map(|knot| {
            let crest = knot.crest?;
            Some(TrueTurn { time: Secs(start + knot.secs), swing: Cents(knot.cents), crest })
        })
        .collect();
    let mut oscillations = Vec::new();
    for three in turns.windows(3) {
        if let [a, top, b] = three
            && top.crest
        {
            oscillations.push(TrueOscillation {
                start: a.time,
                period: Secs(b.time.get() - a.time.get()),
                width: Cents(top.swing.get() - 0.5 * (a.swing.get() + b.swing.get())),
            });
        }
    }
    let (mut from, mut to) = course.span(note, rate_hz);
    if let (Some(first), Some(last)) = (oscillations.first(), oscillations.last()) {
        from = (first.start.get() * rate_hz).round() as usize;
        to = (((last.start.get() + last.period.get()) * rate_hz).round() as usize).min(to);
    } else {
        from = (from + (note.glide.get() * rate_hz) as usize).min(to);
    }
    let heard = &course.f0[from.min(to)..to];
    let sum: f64 = heard.iter().map(|&hz| Hz(hz).cents_above(note.f0).get()).sum();
    TrueNote {
        start: note.start,
        end: note.end(),
        nominal: note.f0,
        centre: Cents(if heard.is_empty() { 0.0 } else { sum / heard.len() as f64 }),
        turns,
        oscillations,
    }
}
