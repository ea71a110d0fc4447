//! The trace of the pitch in lines as music is written, each with its strip of oscillations and its bow line on the
//! same time.

use emath::{Rangef, Rect, pos2};
use maud::{Markup, html};
use pictures::played::Played;
use pictures::sheet::{Sheet, Times};
use pictures::strip::oscillation_strip;
use pictures::{Against, Clock, Traced, bow_line, through, time_axis, trace};
use pitch::Frame;
use tuning::{Cents, Naming, Secs, Tuning, pitch_name};
use vibrato::Note;

use super::figure::{WIDTH, empty, figure, sizes};

/// Lengths of a line, in seconds; the shortest is taken with which there are not too many of them.
const LINES_SECS: [f64; 8] = [4.0, 6.0, 10.0, 20.0, 30.0, 60.0, 120.0, 300.0];
const MOST_LINES: f64 = 24.0;
/// Least height of a line, in cents, and the room above and below the pitch.
const LEAST_CENTS: f64 = 300.0;
const ROOM_CENTS: f64 = 50.0;
/// A share of the frames at either end of the pitches that does not widen a line: attacks, and what rings on.
const OUTLIERS: f64 = 0.02;
/// Heights of the parts of a line.
const TRACE: f32 = 130.0;
const STRIP: f32 = 34.0;
const BOW: f32 = 28.0;
const BETWEEN: f32 = 5.0;

/// What is drawn.
pub(super) struct Lines<'a> {
    /// The pitch, in the order of time.
    pub frames: &'a [Frame],
    pub notes: &'a [Note],
    /// Where sound is missing: from when, for how long, in seconds.
    pub lost: &'a [(f64, f64)],
    /// Where something begins, and its name, such as the turn of a finger.
    pub sections: &'a [(Secs, String)],
    /// What the notes are measured against.
    pub tuning: Tuning,
    /// How they are named.
    pub naming: Naming,
    /// Length of the sound in seconds.
    pub length_s: f64,
}

/// Draws all lines in which there is something to be seen.
pub(super) fn traced(lines: &Lines<'_>) -> Markup {
    let secs = LINES_SECS
        .into_iter()
        .find(|secs| lines.length_s / secs <= MOST_LINES)
        .unwrap_or(lines.length_s / MOST_LINES);
    let count = (lines.length_s / secs).ceil().max(1.0) as usize;
    let played = Played::of(lines.frames, lines.notes, lines.lost, lines.tuning.a4);
    html! {
        div class="figures wide" {
            @for line in 0..count.min(MOST_LINES as usize) {
                @if let Some(drawn) = one_line(lines, &played, line as f64 * secs, secs) { (drawn) }
            }
        }
    }
}

fn one_line(lines: &Lines<'_>, played: &Played, from: f64, secs: f64) -> Option<Markup> {
    let to = from + secs;
    let first = lines.frames.partition_point(|frame| frame.time.0 < from);
    let last = lines.frames.partition_point(|frame| frame.time.0 < to);
    let mut heard: Vec<f64> = lines.frames[first..last]
        .iter()
        .filter(|frame| frame.confidence >= pictures::sheet::DOUBTFUL_BELOW)
        .filter_map(|frame| Some(frame.f0?.cents_above(lines.tuning.a4).get()))
        .collect();
    heard.sort_by(f64::total_cmp);
    let outside = (OUTLIERS * heard.len() as f64) as usize;
    let heard = &heard[outside..heard.len() - outside];
    let notes: Vec<&Note> =
        lines.notes.iter().filter(|note| note.end.0 > from && note.start.0 < to).collect();
    let lost = lines.lost.iter().any(|(start, length)| start + length > from && *start < to);
    if heard.is_empty() && notes.is_empty() && !lost {
        return None;
    }
    let sizes = sizes();
    let lane = 0.4 * sizes.scale + sizes.caption;
    let foot = lane + TRACE + STRIP + BOW + 3.0 * BETWEEN;
    let mut picture = empty(foot + 1.8 * sizes.scale);
    let x = Rangef::new(3.0 * sizes.caption, WIDTH - 3.8 * sizes.scale);
    let times = Times { x, newest: Secs(to), span: Secs(secs) };
    let part =
        |top: f32, height: f32| Rect::from_min_max(pos2(0.0, top), pos2(WIDTH, top + height));
    let y = Rangef::new(lane, lane + TRACE);
    let strip = part(y.max + BETWEEN, STRIP);
    let bow = part(strip.bottom() + BETWEEN, BOW);
    let axis = part(foot, 1.8 * sizes.scale - 2.0);
    let (middle, reach) = view(heard, &notes, lines.tuning);
    let mut own: Vec<i32> = notes.iter().map(|note| note.midi).collect();
    own.sort_unstable();
    own.dedup();
    // Cents are counted from one note; where there are several it is not clear from which.
    let against = match &own[..] {
        [_] => notes
            .first()
            .map(|note| Against { pitch: note.reference.cents_above(lines.tuning.a4), name: None }),
        _ => None,
    };
    let all = Rect::from_x_y_ranges(x, y.min..=bow.bottom());
    through(&mut picture, all, &times, played, 2.0);
    let sheet = Sheet { times, y, middle, reach };
    let shown = Traced {
        played,
        lines: Some(lines.tuning),
        a4: lines.tuning.a4,
        naming: lines.naming,
        own: &own,
        against,
        swing_below: false,
        sections: lines.sections,
        sounds: false,
    };
    trace(&mut picture, &sheet, &shown);
    oscillation_strip(&mut picture, strip, &times, played);
    bow_line(&mut picture, bow, &times, played);
    time_axis(&mut picture, axis, &times, Clock::Since(Secs(0.0)));
    let says: Vec<String> = notes.iter().map(|note| in_words(note, lines.naming)).collect();
    picture.says = if says.is_empty() { "no note".to_owned() } else { says.join("; ") };
    Some(figure(&format!("Trace from {from:.0} to {to:.0} s"), &picture, ""))
}

fn in_words(note: &Note, naming: Naming) -> String {
    let what = match &note.vibrato {
        Some(vibrato) => {
            format!("{:.2} Hz, {:.0} cents wide", vibrato.rate.value.0, vibrato.width.value.get())
        }
        None => note.course.wording(),
    };
    format!(
        "{} from {:.2} to {:.2} s, {what}",
        pitch_name(note.midi, naming),
        note.start.0,
        note.end.0
    )
}

/// The pitch in the middle of a line, and how far it reaches to either side.
fn view(heard: &[f64], notes: &[&Note], tuning: Tuning) -> (Cents, Cents) {
    let of_notes = notes.iter().map(|note| note.reference.cents_above(tuning.a4).get());
    let all = heard.iter().copied().chain(of_notes).filter(|cents| cents.is_finite());
    let (low, high) = all.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), cents| {
        (low.min(cents), high.max(cents))
    });
    if low > high {
        return (Cents(0.0), Cents(LEAST_CENTS / 2.0));
    }
    let reach = ((high - low) / 2.0 + ROOM_CENTS).max(LEAST_CENTS / 2.0);
    (Cents((low + high) / 2.0), Cents(reach))
}
