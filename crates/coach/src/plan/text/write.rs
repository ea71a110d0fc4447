//! Writes a passage as one would type it.

use std::fmt::Write as _;

use super::head;
use super::marks::DYNAMICS;
use crate::plan::intention::Intention;
use crate::plan::note::{Beats, Pitch, PlanNote, Spelling};
use crate::plan::passage::{HeadChange, Meter, Passage, meter_of_bar};

impl Passage {
    /// The passage as one would type it. Widths, rates and peaks are written to hundredths; where its notes come from
    /// is left to the RON form.
    pub fn to_text(&self) -> String {
        let mut lines: Vec<String> = Vec::new();
        let one_line = |words: &str| words.split_whitespace().collect::<Vec<_>>().join(" ");
        if !self.title.trim().is_empty() {
            lines.push(format!("title {}", one_line(&self.title)));
        }
        lines.push(format!("instrument {}", one_line(&self.instrument)));
        lines.push(head::meter_line(self.meter));
        lines.push(head::pace_line(self.pace, self.meter));
        lines.push(format!("key {}", self.key));
        lines.push(head::clef_line(self.clef));
        lines.extend(self.a4.map(|a4| format!("a4 {}", a4.0)));
        let mut writer = Writer::default();
        let bars = self.bars();
        for (at, bar) in bars.iter().enumerate() {
            lines.extend(writer.changes(&self.changes, bar[0].at.bar));
            let edge = at == 0 || at + 1 == bars.len();
            lines.push(writer.bar(bar, self, edge));
        }
        lines.push(String::new());
        lines.join("\n")
    }
}

#[derive(Default)]
struct Writer {
    running: Intention,
    last: Intention,
    changed: Vec<u32>,
}

impl Writer {
    /// The lines of what changes with a bar that is written for the first time.
    fn changes(&mut self, changes: &[HeadChange], bar: u32) -> Vec<String> {
        if self.changed.contains(&bar) {
            return Vec::new();
        }
        self.changed.push(bar);
        let of_bar = changes.iter().filter(|change| change.bar == bar);
        let lines = of_bar.flat_map(|change| {
            [
                change.meter.map(head::meter_line),
                change.key.map(|key| format!("key {key}")),
                change.clef.map(head::clef_line),
            ]
        });
        lines.flatten().collect()
    }

    fn bar(&mut self, notes: &[PlanNote], passage: &Passage, edge: bool) -> String {
        let number = notes[0].at.bar;
        let Meter { beats, of } = meter_of_bar(passage.meter, &passage.changes, number);
        let counted = |beats: Beats| beats.counted(passage.meter.of, of).unwrap_or(beats);
        let mut items: Vec<String> = Vec::new();
        let mut sum = Beats::ZERO;
        for note in notes {
            if let Some(gap) = note.at.beat.minus(sum).filter(|gap| *gap > Beats::ZERO) {
                items.push(format!("rest {}", counted(gap)));
                sum = note.at.beat;
            }
            items.push(self.item(note, counted(note.beats)));
            sum = sum.plus(note.beats).unwrap_or(sum);
        }
        let (sum, full) = (counted(sum), Beats::whole(beats));
        let whole = full.is_some_and(|full| sum == full || (edge && sum < full));
        format!("bar {number} {}{}", if whole { " " } else { "free  " }, items.join(", "))
    }

    fn item(&mut self, note: &PlanNote, beats: Beats) -> String {
        let mut text = String::from(if note.slur { "slur " } else { "" });
        let name = |pitch: Spelling| String::from(pitch);
        match note.pitch {
            Pitch::Rest => return format!("rest {beats}"),
            Pitch::Single(pitch) => text += &name(pitch),
            Pitch::Double(low, high) => write!(text, "{}+{}", name(low), name(high)).unwrap_or(()),
        }
        write!(text, " {beats}").unwrap_or(());
        if note.tie {
            text += " tied";
        }
        if let Some((sign, _)) = DYNAMICS.iter().find(|(_, own)| Some(*own) == note.dynamic) {
            write!(text, " {sign}").unwrap_or(());
        }
        match note.finger {
            Some(0) => text += " open",
            Some(finger) => write!(text, " finger {finger}").unwrap_or(()),
            None => {}
        }
        if let Some(string) = &note.string {
            write!(text, " string {}", string.replace([' ', ','], "-")).unwrap_or(());
        }
        if !note.grace.is_empty() {
            let names: Vec<String> = note.grace.iter().copied().map(name).collect();
            write!(text, " grace {}", names.join("+")).unwrap_or(());
        }
        let understood = match (note.tie, note.open()) {
            (true, _) => self.last,
            (false, true) => Intention::Straight,
            (false, false) => self.running,
        };
        if note.intention != understood {
            text += &wish(&note.intention);
            self.running = note.intention;
        }
        self.last = note.intention;
        text
    }
}

/// An intention in the marks that are read as it.
fn wish(intention: &Intention) -> String {
    let Intention::Contour { width, rate, peak_at } = intention else {
        return " straight".to_owned();
    };
    let width = width.map(|width| number(width.0));
    let rate = rate.map(|rate| rate.map(|rate| number(rate.0)));
    let peak = number(peak_at * 100.0);
    let [start, top, end] = width;
    let level_rate = rate.is_none_or(is_level);
    let (width, usual_peak) = match () {
        () if is_level(width) && (peak == 50.0 || !level_rate) => (format!("{start}"), 50.0),
        () if peak == 100.0 && top == end && start < end => (format!("{start} to {end}"), 100.0),
        () if peak == 0.0 && top == start && start > end => (format!("{start} to {end}"), 0.0),
        () => (format!("{start} to {top} to {end}"), 50.0),
    };
    let rate = match rate {
        None => String::new(),
        Some(rate) if is_level(rate) => format!(" rate {}", rate[0]),
        Some([start, top, end]) => format!(" rate {start} to {top} to {end}"),
    };
    let peak = if peak == usual_peak { String::new() } else { format!(" peak {peak}%") };
    format!(" width {width}{rate}{peak}")
}

fn is_level(three: [f64; 3]) -> bool {
    three[0] == three[1] && three[1] == three[2]
}

/// To hundredths.
fn number(value: f64) -> f64 {
    (value * 100.0).round() / 100.0
}
