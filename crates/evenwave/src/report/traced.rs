//! The trace of the pitch in lines as music is written, each with its strip of oscillations and its bow line on the
//! same time.

use maud::{Markup, html};
use pictures::played::Played;
use pictures::take::{TakeTrace, take_trace};
use tuning::{Naming, Secs, pitch_name};
use vibrato::Note;

use super::figure::{BROAD, figure, over_all, sized};
use super::page::details;
use super::playing::Playing;

/// Lengths of a line over the whole page, in seconds: the shortest is taken with which one line is enough, or then two.
const ONE_LINE_SECS: [f64; 2] = [6.0, 12.0];
const LINES_SECS: [f64; 3] = [15.0, 20.0, 30.0];
/// So many lines stand at the top of a page, and so many in all.
const FIRST_LINES: usize = 2;
const MOST_LINES: f64 = 24.0;
/// Height of a line.
const HEIGHT: f32 = 264.0;

/// Draws all lines in which there is something to be seen; in `sections` something asked for begins, such as the turn of
/// a finger.
pub(super) fn traced(playing: &Playing, naming: Naming, sections: &[(Secs, String)]) -> Markup {
    let tuning = playing.settings.tuning;
    let length = playing.length_s;
    let fits = |lines: usize| move |secs: &f64| length / secs <= lines as f64;
    let one = ONE_LINE_SECS.into_iter().find(fits(1));
    let secs = one.or_else(|| LINES_SECS.into_iter().find(fits(FIRST_LINES)));
    let secs = secs.unwrap_or(30f64.max(length / MOST_LINES));
    let played = Played::of(&playing.frames, &playing.notes, &playing.lost, tuning.a4);
    let lines = |width: f32| {
        // A phone has room for half of it.
        let secs = secs * f64::from(width / BROAD);
        let count = (length / secs).ceil().max(1.0) as usize;
        let line = |number: usize| {
            let from = number as f64 * secs;
            let span = (Secs(from), Secs(from + secs));
            let fingers = &playing.fingers;
            TakeTrace { played: &played, fingers, tuning, naming, sections, span }
        };
        let lines = (0..count).filter_map(|number| one_line(&line(number), &playing.notes, width));
        lines.collect::<Vec<Markup>>()
    };
    let first =
        |width: f32| ((FIRST_LINES as f32 * BROAD / width) as usize).min(lines(width).len());
    let rest = lines(BROAD).len() > FIRST_LINES;
    html! {
        (over_all(|width| html! { @for line in &lines(width)[..first(width)] { (line) } }))
        @if rest {
            (details("The rest of the trace", usize::MAX, &over_all(|width| html! {
                @for line in &lines(width)[first(width)..] { (line) }
            })))
        }
    }
}

fn one_line(line: &TakeTrace<'_>, notes: &[Note], width: f32) -> Option<Markup> {
    let (from, to) = line.span;
    let notes: Vec<&Note> =
        notes.iter().filter(|note| note.end > from && note.start < to).collect();
    let mut lost = line.played.lost.iter();
    let lost = lost.any(|(start, length)| start.0 + length.0 > from.0 && *start < to);
    if notes.is_empty() && !lost && !line.is_heard() {
        return None;
    }
    let mut picture = sized(width, HEIGHT);
    let area = picture.area;
    take_trace(&mut picture, area, line);
    let says: Vec<String> = notes.iter().map(|note| in_words(note, line.naming)).collect();
    picture.says = if says.is_empty() { "no note".to_owned() } else { says.join("; ") };
    Some(figure(&format!("Trace from {:.0} to {:.0} s", from.0, to.0), &picture, ""))
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
