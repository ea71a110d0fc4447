//! The trace of the pitch, in lines as music is written, and below each, on the same time, the oscillation strip.

use maud::{Markup, html};
use pitch::Frame;
use tuning::{Hz, Naming, Tuning, pitch_name};
use vibrato::Note;

use super::figure::{Scale, WIDTH, figure, path, place, tick};

/// Lengths of a line, in seconds; the shortest is taken with which there are not too many of them.
const LINES_SECS: [f64; 8] = [4.0, 6.0, 10.0, 20.0, 30.0, 60.0, 120.0, 300.0];
const MOST_LINES: f64 = 24.0;
/// What is less sure than this is left open.
const SURE: f64 = 0.5;
/// Least height of a line, in cents, and the room above and below the pitch.
const LEAST_CENTS: f64 = 300.0;
const ROOM_CENTS: f64 = 50.0;
/// Frames farther apart than this in time are not joined.
const APART_SECS: f64 = 0.02;
const LEFT: f64 = 34.0;
const RIGHT: f64 = WIDTH - 4.0;
const TOP: f64 = 8.0;
const BOTTOM: f64 = 140.0;
const STRIP: (f64, f64) = (150.0, 186.0);

/// What is drawn.
pub struct Traced<'a> {
    /// The pitch, in the order of time.
    pub frames: &'a [Frame],
    /// The notes in it.
    pub notes: &'a [Note],
    /// Where sound is missing: from when, for how long, in seconds.
    pub lost: &'a [(f64, f64)],
    /// Where something begins, and its name, such as the turn of a finger.
    pub marks: &'a [(f64, String)],
    /// What the notes are measured against.
    pub tuning: Tuning,
    /// How they are named.
    pub naming: Naming,
    /// Length of the sound in seconds.
    pub length_s: f64,
}

/// Draws all lines in which there is something to be seen.
pub fn trace(traced: &Traced<'_>) -> Markup {
    let secs = LINES_SECS
        .into_iter()
        .find(|secs| traced.length_s / secs <= MOST_LINES)
        .unwrap_or(traced.length_s / MOST_LINES);
    let count = (traced.length_s / secs).ceil().max(1.0) as usize;
    html! {
        div class="figures wide" {
            @for line in 0..count.min(MOST_LINES as usize) {
                @if let Some(drawn) = one_line(traced, line as f64 * secs, secs) { (drawn) }
            }
        }
    }
}

fn one_line(traced: &Traced<'_>, from: f64, secs: f64) -> Option<Markup> {
    let to = from + secs;
    let first = traced.frames.partition_point(|frame| frame.time.0 < from);
    let last = traced.frames.partition_point(|frame| frame.time.0 < to);
    let above_a4 = |hz: Hz| hz.cents_above(traced.tuning.a4).get();
    let heard: Vec<(f64, f64)> = traced.frames[first..last]
        .iter()
        .filter(|frame| frame.confidence >= SURE)
        .filter_map(|frame| Some((frame.time.0, above_a4(frame.f0?))))
        .collect();
    let notes: Vec<&Note> =
        traced.notes.iter().filter(|note| note.end.0 > from && note.start.0 < to).collect();
    let lost: Vec<(f64, f64)> = traced
        .lost
        .iter()
        .map(|(start, length)| (start.max(from), (start + length).min(to)))
        .filter(|(start, end)| end > start)
        .collect();
    if heard.is_empty() && notes.is_empty() && lost.is_empty() {
        return None;
    }
    let (low, high) = bounds(&heard, &notes, traced);
    let times = Scale::new(from, to, LEFT, RIGHT);
    let cents = Scale::new(low, high, BOTTOM, TOP);
    let bend = |midi: i32| above_a4(traced.tuning.frequency(midi));
    let lines: Vec<i32> = (0..=127).filter(|&midi| (low..=high).contains(&bend(midi))).collect();
    let roomy = (BOTTOM - TOP) / lines.len().max(1) as f64 > 10.0;
    let sounding = |midi: i32| notes.iter().any(|note| note.midi == midi);
    let (ticks, decimals) = times.ticks(6);
    let widths = Scale::new(0.0, widest(traced.notes), STRIP.1, STRIP.0);
    let drawn = html! {
        @for (start, end) in &lost {
            rect class="missing" x=(place(times.at(*start))) y=(TOP) width=(place(times.at(*end) - times.at(*start))) height=(STRIP.1 - TOP) {}
            text class="attention" x=(place(times.at(*start) + 2.0)) y=(TOP + 12.0) { "sound missing" }
        }
        @for midi in lines {
            @let y = place(cents.at(bend(midi)));
            line class=(if sounding(midi) { "rule" } else { "hair" }) x1=(LEFT) x2=(RIGHT) y1=(y) y2=(y) {}
            @if roomy || sounding(midi) {
                text class=(if sounding(midi) { "note" } else { "" }) x=(LEFT - 4.0) y=(place(cents.at(bend(midi)) + 4.0)) text-anchor="end" { (pitch_name(midi, traced.naming)) }
            }
        }
        @for (at, name) in traced.marks.iter().filter(|(at, _)| (from..to).contains(at)) {
            @let x = place(times.at(*at));
            line class="turn" x1=(x) x2=(x) y1=(TOP) y2=(STRIP.1) {}
            text class="attention" x=(place(times.at(*at) + 2.0)) y=(TOP + 9.0) { (name) }
        }
        @for part in parts(&heard, &times, &cents) {
            path class="pen" d=(path(&part)) {}
        }
        line class="rule" x1=(LEFT) x2=(RIGHT) y1=(STRIP.1) y2=(STRIP.1) {}
        @for note in &notes {
            @for one in note.vibrato.iter().flat_map(|vibrato| &vibrato.oscillations) {
                @let (start, end) = (one.start.0, one.start.0 + one.period.0);
                @if start >= from && start < to {
                    @let top = widths.at(one.crest.get() - one.trough.get());
                    rect class="bar" x=(place(times.at(start) + 0.4)) y=(place(top)) width=(place((times.at(end) - times.at(start) - 0.8).max(0.4))) height=(place(STRIP.1 - top)) {}
                    @if let Some((at, value)) = turn(&heard, start, end, f64::max) {
                        circle class="dot" cx=(place(times.at(at))) cy=(place(cents.at(value))) r="1.5" {}
                    }
                    @if let Some((at, value)) = turn(&heard, start - 0.25 * one.period.0, start + 0.25 * one.period.0, f64::min) {
                        circle class="osc" cx=(place(times.at(at))) cy=(place(cents.at(value))) r="1.4" {}
                    }
                }
            }
        }
        @for at in &ticks {
            @let x = place(times.at(*at));
            line class="rule" x1=(x) x2=(x) y1=(STRIP.1) y2=(STRIP.1 + 3.0) {}
            text x=(x) y=(STRIP.1 + 14.0) text-anchor=(if times.at(*at) > RIGHT - 8.0 { "end" } else { "middle" }) { (tick(*at, decimals)) }
        }
        text x="2" y=(STRIP.1 + 14.0) { "s" }
        text x="2" y=(STRIP.0 + 8.0) { (format!("{:.0}", widest(traced.notes))) }
        text x="2" y=(STRIP.0 + 21.0) { "cents" }
    };
    let says: Vec<String> = notes.iter().map(|note| in_words(note, traced.naming)).collect();
    let name = format!("Trace from {from:.0} to {to:.0} s");
    let says = if says.is_empty() { "no note".to_owned() } else { says.join("; ") };
    Some(figure(&name, &says, STRIP.1 + 18.0, drawn, ""))
}

fn in_words(note: &Note, naming: Naming) -> String {
    let what = match &note.vibrato {
        Some(vibrato) => {
            format!("{:.2} Hz, {:.0} cents wide", vibrato.rate.value.0, vibrato.width.value.get())
        }
        None if note.straight => "straight".to_owned(),
        None => "too short to tell".to_owned(),
    };
    format!(
        "{} from {:.2} to {:.2} s, {what}",
        pitch_name(note.midi, naming),
        note.start.0,
        note.end.0
    )
}

/// The widest oscillation there is, in cents, to a round number.
fn widest(notes: &[Note]) -> f64 {
    let all = notes
        .iter()
        .filter_map(|note| note.vibrato.as_ref())
        .flat_map(|vibrato| &vibrato.oscillations)
        .map(|one| one.crest.get() - one.trough.get());
    (all.fold(10.0, f64::max) / 10.0).ceil() * 10.0
}

fn bounds(heard: &[(f64, f64)], notes: &[&Note], traced: &Traced<'_>) -> (f64, f64) {
    let of_notes = notes.iter().map(|note| note.reference.cents_above(traced.tuning.a4).get());
    let all = heard.iter().map(|(_, cents)| *cents).chain(of_notes);
    let (low, high) = all
        .filter(|cents| cents.is_finite())
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), cents| {
            (low.min(cents), high.max(cents))
        });
    if low > high {
        return (-LEAST_CENTS / 2.0, LEAST_CENTS / 2.0);
    }
    let room = ROOM_CENTS.max((LEAST_CENTS - (high - low)) / 2.0);
    (low - room, high + room)
}

/// The pitch in lines without gaps, thinned to the lowest and highest of each half point.
fn parts(heard: &[(f64, f64)], times: &Scale, cents: &Scale) -> Vec<Vec<(f64, f64)>> {
    let mut parts: Vec<Vec<(f64, f64)>> = Vec::new();
    let mut part: Vec<(f64, f64)> = Vec::new();
    let mut before = f64::NEG_INFINITY;
    let mut column: Vec<(f64, f64)> = Vec::new();
    let flush = |column: &mut Vec<(f64, f64)>, part: &mut Vec<(f64, f64)>| {
        let by_height = |a: &&(f64, f64), b: &&(f64, f64)| a.1.total_cmp(&b.1);
        let lowest = column.iter().min_by(by_height).copied();
        let highest = column.iter().max_by(by_height).copied();
        let mut both: Vec<(f64, f64)> = lowest.into_iter().chain(highest).collect();
        both.sort_by(|a, b| a.0.total_cmp(&b.0));
        both.dedup();
        part.extend(both);
        column.clear();
    };
    for &(time, value) in heard {
        let at = (times.at(time), cents.at(value));
        if time - before > APART_SECS {
            flush(&mut column, &mut part);
            parts.push(std::mem::take(&mut part));
        } else if column.first().is_some_and(|first| at.0 - first.0 > 0.5) {
            flush(&mut column, &mut part);
        }
        column.push(at);
        before = time;
    }
    flush(&mut column, &mut part);
    parts.push(part);
    parts.retain(|part| part.len() > 1);
    parts
}

/// The highest or lowest pitch heard between two times.
fn turn(heard: &[(f64, f64)], from: f64, to: f64, of: fn(f64, f64) -> f64) -> Option<(f64, f64)> {
    let first = heard.partition_point(|(time, _)| *time < from);
    let last = heard.partition_point(|(time, _)| *time < to);
    heard[first..last.max(first)]
        .iter()
        .copied()
        .reduce(|best, next| if of(best.1, next.1) == best.1 { best } else { next })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_gap_in_the_sound_is_left_open() {
        let heard: Vec<(f64, f64)> = (0..100)
            .filter(|n| !(40..60).contains(n))
            .map(|n| (f64::from(n) * 0.005, 0.0))
            .collect();
        let scale = Scale::new(0.0, 1.0, 0.0, 300.0);
        let parts = parts(&heard, &scale, &scale);
        assert_eq!(parts.len(), 2);
        assert!(parts[0].last().expect("points").0 < 62.0 && parts[1][0].0 > 88.0);
    }

    #[test]
    fn thinning_keeps_every_crest() {
        // 10 Hz over 60 s in 300 points: many frames in each point.
        let wave = |n: i32| (f64::from(n) * 0.005, (f64::from(n) * 0.314).sin());
        let heard: Vec<(f64, f64)> = (0..12_000).map(wave).collect();
        let times = Scale::new(0.0, 60.0, 0.0, 300.0);
        let cents = Scale::new(-1.0, 1.0, 0.0, 100.0);
        let parts = parts(&heard, &times, &cents);
        let points: Vec<(f64, f64)> = parts.concat();
        assert!(points.len() < 1_400, "{}", points.len());
        let near = |point: &&(f64, f64)| point.1 > 95.0;
        assert!(points.iter().filter(near).count() > 500);
    }
}
