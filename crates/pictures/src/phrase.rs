//! A phrase as a whole: all notes of the model and of what answers it, laid over each other at the first onset,
//! or each answer at the onset of its own note; above them the names, and how much later each answer begins.

use crate::overlay::{self, ECHO, MODEL, Widths, across, along, course, page_end};
use crate::sheet::{Line, Sheet, Times};
use crate::stretch::Stretch;
use crate::{Meaning, Picture};
use coach::{Align, Comparison, Pair, Phrase};
use emath::{Align2, Rangef, Rect, pos2};
use std::sync::Arc;
use tuning::figure::signed;
use tuning::{Cents, Hz, Naming, Secs, pitch_name};
use vibrato::Note;

/// Room below the lowest and above the highest pitch, and the step by which the height grows, in cents.
const ROOM: f64 = 60.0;
const STEP: f64 = 100.0;
/// A share of the frames at either end of the pitches that does not widen the view: attacks.
const OUTLIERS: f64 = 0.02;
/// Time that is shown from before the first onset, in seconds.
const BEFORE: f64 = 0.1;
/// The strip of widths takes this share of the height where that is so many times the type size at least.
const STRIP: f32 = 0.2;
const STRIP_FROM: f32 = 26.0;
/// Height of a line of names, as a share of the type size.
const LINE: f32 = 1.3;

/// Length of the marks of seconds, as a share of the type size.
const TICK: f32 = 0.4;

/// A note of the model with its answer, on the time that is drawn.
struct Noted {
    /// Its name.
    name: String,
    /// Where it begins and ends.
    span: (f64, f64),
    /// How much later its answer begins; `None` where nothing answers it, or before there is an echo.
    late: Option<Secs>,
    /// Its pitch above that of the lowest line.
    pitch: Cents,
}

/// What is drawn: all times from the start of the first note that is answered.
pub struct Whole<'a> {
    notes: Vec<Noted>,
    model: Stretch<'a>,
    echo: Vec<Stretch<'a>>,
    /// The echo that is laid over it.
    laid: Option<LaidOver<'a>>,
    /// An echo is there, so that a note may be without an answer.
    echoed: bool,
    /// Something sounds.
    sounds: bool,
}

/// An echo as it is laid over the model.
struct LaidOver<'a> {
    compared: &'a Comparison,
    /// Start of the first note of the model that is answered.
    zero: Secs,
    /// From which time of the echo on so much is taken off its times, in order.
    shifts: Vec<(Secs, Secs)>,
}

impl<'a> Whole<'a> {
    /// The model, and an echo over it if there is one, `by_notes` each answer at the onset of its own note; `None`
    /// without a note of the model.
    pub fn of(
        model: &'a Phrase,
        echo: Option<(&'a Phrase, &'a Comparison)>,
        by_notes: bool,
        naming: Naming,
    ) -> Option<Self> {
        let first = model.notes.first()?;
        let compared = echo.map(|(_, compared)| compared);
        let starts = compared.and_then(Comparison::starts);
        let zero = starts.map_or(first.start, |(model, _)| model);
        let reference = first.reference;
        let mut whole = Self {
            notes: notes(model, compared, zero, reference, naming),
            model: Stretch::of(&model.course, span(model), zero, reference),
            echo: Vec::new(),
            laid: None,
            echoed: compared.is_some(),
            sounds: false,
        };
        if let (Some((echo, compared)), Some(starts)) = (echo, starts) {
            let lowered = Hz(reference.0 * 2f64.powf(f64::from(compared.transposed) / 12.0));
            let shifts = shifts(compared, by_notes, starts);
            for (number, &(from, by)) in shifts.iter().enumerate() {
                let to = shifts.get(number + 1).map_or(span(echo).1, |next| next.0);
                whole.echo.push(Stretch::of(&echo.course, (from, to), by, lowered));
            }
            whole.laid = Some(LaidOver { compared, zero, shifts });
        }
        Some(whole)
    }

    /// The model under what sounds, from its first onset; whole octaves are taken off it. `begun` is when the note that
    /// sounds began, and its line, as far as they are known.
    pub fn sounding(
        model: &'a Phrase,
        current: &'a Phrase,
        begun: (Option<Secs>, Option<Hz>),
        naming: Naming,
    ) -> Option<Self> {
        let mut whole = Self::of(model, None, false, naming)?;
        whole.sounds = true;
        let first = current.notes.first().map(|note| (note.start, note.reference));
        if let Some((start, own)) = first.or_else(|| begun.0.zip(begun.1)) {
            let reference = model.notes.first()?.reference;
            let octaves = (own.cents_above(reference).0 / 1200.0).round();
            let reference = Hz(reference.0 * octaves.exp2());
            let all = (start, Secs(f64::MAX));
            whole.echo.push(Stretch::of(&current.course, all, start, reference));
        }
        Some(whole)
    }

    /// The note of the model that is pointed at, at this place from left to right.
    pub fn note_at(&self, times: &Times, x: f32) -> usize {
        let starts = self.notes.iter().map(|note| note.span.0);
        let before = starts.take_while(|start| times.x_from_secs(Secs(*start)) <= x);
        before.count().saturating_sub(1)
    }

    /// In words: the notes, and when each answer begins.
    pub fn said(&self) -> String {
        let each = |note: &Noted| match note.late {
            Some(late) if late.0.abs() < 0.005 => format!("{} together", note.name),
            Some(late) if late.0 > 0.0 => format!("{} {:.2} seconds late", note.name, late.0),
            Some(late) => format!("{} {:.2} seconds early", note.name, -late.0),
            None if self.echoed => format!("{} not answered", note.name),
            None => note.name.clone(),
        };
        self.notes.iter().map(each).collect::<Vec<String>>().join(", ")
    }

    fn reach_of_time(&self) -> (f64, f64) {
        let of_notes = self.notes.first().zip(self.notes.last());
        let (from, end) = of_notes.map_or((0.0, 1.0), |(a, b)| (a.span.0, b.span.1));
        let mut ends = self.echo.iter().filter_map(Stretch::ends);
        let first = ends.next();
        let (echo, last) = first.map_or((from, end), |(echo, last)| {
            (echo, ends.next_back().map_or(last, |(_, last)| last))
        });
        let to = if self.sounds { page_end(last, end) } else { end.max(last) };
        (from.min(echo) - BEFORE, to)
    }
}

/// Draws it under the lane of the legend, the `chosen` note of the model set off; `lines` makes the lines of a part, or
/// has kept them. Says how time lies on it.
pub fn phrase(
    picture: &mut Picture,
    area: Rect,
    whole: &Whole<'_>,
    chosen: Option<usize>,
    mut lines: impl FnMut(Stretch<'_>, &Times) -> Arc<Vec<Line>>,
) -> Times {
    let size = picture.sizes.scale;
    let lane = area.top() + overlay::lane_height(picture.sizes.caption);
    let strip = whole.laid.as_ref().filter(|_| area.height() > STRIP_FROM * size);
    let height = strip.map_or(0.0, |_| STRIP * area.height());
    let rows = if whole.echoed { 2.0 } else { 1.0 };
    let x = across(area, size);
    let foot = area.bottom() - 1.5 * size;
    let top = lane + rows * LINE * size;
    let apart = if strip.is_some() { 0.6 * size } else { 0.0 };
    let y = Rangef::new(top, (foot - height - apart).max(top + 20.0));
    let (from, to) = whole.reach_of_time();
    let times = Times { x, newest: Secs(to), span: Secs(to - from) };
    let mut drawn = |stretch: &Stretch<'_>| -> Vec<Arc<Vec<Line>>> {
        stretch.parts().map(|part| lines(part, &times)).collect()
    };
    let model = drawn(&whole.model);
    let echo: Vec<_> = whole.echo.iter().flat_map(drawn).collect();
    let (middle, reach) = view(&whole.notes, [&model, &echo]);
    let sheet = Sheet { times, y, middle, reach };
    pitches(picture, &sheet, &whole.notes);
    // Lines over the whole height are onsets here; seconds have short ones.
    along(picture, &times, Rangef::new(foot - TICK * size, foot), "s");
    names(picture, &sheet, Rangef::new(lane, top), whole, chosen);
    for (parts, meanings) in [(&model, MODEL), (&echo, ECHO)] {
        for lines in parts {
            course(picture, &sheet, meanings, lines);
        }
    }
    if let Some(over) = strip {
        let lane = Rect::from_x_y_ranges(x, foot - height..=foot);
        overlay::widths(picture, lane, &times, &widths(over));
    }
    times
}

fn span(phrase: &Phrase) -> (Secs, Secs) {
    phrase.span().unwrap_or_default()
}

fn notes(
    model: &Phrase,
    compared: Option<&Comparison>,
    zero: Secs,
    reference: Hz,
    naming: Naming,
) -> Vec<Noted> {
    let late = compared.map(Comparison::lateness).unwrap_or_default();
    let answered = |number: usize| {
        let mut pairs = compared?.pairs.iter().zip(&late);
        Some(*pairs.find(|(pair, _)| pair.model == number)?.1)
    };
    let noted = |(number, note): (usize, &Note)| Noted {
        name: pitch_name(note.midi, naming),
        span: (note.start.0 - zero.0, note.end.0 - zero.0),
        late: answered(number),
        pitch: note.reference.cents_above(reference),
    };
    model.notes.iter().enumerate().map(noted).collect()
}

/// From which time of the echo on so much is taken off its times, in order.
fn shifts(compared: &Comparison, by_notes: bool, (model, echo): (Secs, Secs)) -> Vec<(Secs, Secs)> {
    let begin = compared.echo.first().map_or(echo, |note| note.start);
    if !by_notes {
        return vec![(begin, echo)];
    }
    let mut all: Vec<(Secs, Secs)> = compared
        .pairs
        .iter()
        .map(|pair| {
            let (a, b) = (compared.model[pair.model].start, compared.echo[pair.echo].start);
            (b, Secs(b.0 - (a.0 - model.0)))
        })
        .collect();
    if let Some(first) = all.first_mut() {
        first.0 = begin;
    }
    all
}

/// How the width runs through each pair, where the notes are drawn.
fn widths(over: &LaidOver<'_>) -> Vec<Widths> {
    let LaidOver { compared, zero, shifts } = over;
    let of = |pair: &Pair| {
        let (model, echo) = (compared.model[pair.model].start, compared.echo[pair.echo].start);
        let shift = shifts.iter().rev().find(|(from, _)| *from <= echo);
        let starts = (model.0 - zero.0, echo.0 - shift.map_or(0.0, |(_, by)| by.0));
        Widths::of(compared, pair, Align::NoteStart, starts)
    };
    compared.pairs.iter().map(of).collect()
}

/// The middle of the height and how far it reaches, in whole steps, so that nothing creeps.
fn view(notes: &[Noted], drawn: [&[Arc<Vec<Line>>]; 2]) -> (Cents, Cents) {
    let sure = |parts: &[Arc<Vec<Line>>]| {
        let lines = parts.iter().flat_map(|part| part.iter());
        let corners = lines.filter(|line| line.sure).flat_map(|line| &line.corners);
        let mut cents: Vec<f64> = corners.map(|corner| corner.1).collect();
        let last = cents.len().checked_sub(1)?;
        let outside = (OUTLIERS * cents.len() as f64) as usize;
        let mut at = |place: usize| *cents.select_nth_unstable_by(place, f64::total_cmp).1;
        Some((at(outside), at(last - outside)))
    };
    let notes = notes.iter().map(|note| (note.pitch.0, note.pitch.0));
    let (low, high) = drawn
        .into_iter()
        .filter_map(sure)
        .chain(notes)
        .fold((f64::MAX, f64::MIN), |(low, high), (a, b)| (low.min(a), high.max(b)));
    let low = ((low - ROOM) / STEP).floor() * STEP;
    let high = ((high + ROOM) / STEP).ceil() * STEP;
    (Cents(0.5 * (low + high)), Cents(0.5 * (high - low)))
}

/// A line for each pitch of the model, with its name.
fn pitches(picture: &mut Picture, sheet: &Sheet, notes: &[Noted]) {
    let size = picture.sizes.scale;
    let mut lines: Vec<&Noted> = notes.iter().collect();
    lines.sort_by(|a, b| a.pitch.0.total_cmp(&b.pitch.0));
    lines.dedup_by(|a, b| a.name == b.name);
    let mut free = f32::MAX;
    for note in lines {
        let y = sheet.y_from_cents(note.pitch);
        picture.hline(Meaning::OwnLine, sheet.times.x, y);
        if free - y < size {
            continue;
        }
        free = y;
        let at = pos2(sheet.times.x.min - 0.4 * size, y);
        picture.text(Meaning::RowWord, at, Align2::RIGHT_CENTER, note.name.as_str());
    }
}

/// The names of the model's notes where they begin, the one that is looked at in ink with a line under it; below
/// them how much later each answer begins.
fn names(
    picture: &mut Picture,
    sheet: &Sheet,
    lane: Rangef,
    whole: &Whole<'_>,
    chosen: Option<usize>,
) {
    let size = picture.sizes.scale;
    let middle = |row: f32| lane.min + (row + 0.45) * LINE * size;
    if whole.echoed {
        let at = pos2(sheet.times.x.min - 0.4 * size, middle(1.0));
        let (word, said) = (Meaning::ScaleNumber, "later, s");
        let small = picture.fitting(word, said, at.x - picture.area.left());
        picture.text_sized(word, at, Align2::RIGHT_CENTER, said, small);
    }
    let late = |note: &Noted| match note.late {
        Some(late) => signed(late.0, 2),
        None => "none".to_owned(),
    };
    let place = |note: &Noted| sheet.times.x_from_secs(Secs(note.span.0));
    let wide = |picture: &Picture, note: &Noted| {
        let late = if whole.echoed { late(note) } else { String::new() };
        let name = picture.width(Meaning::RowWord, &note.name);
        name.max(picture.width(Meaning::RowWord, &late)) + 0.5 * size
    };
    // The note that is looked at has its words; those that would stand in its way have none.
    let looked_at = chosen.and_then(|chosen| whole.notes.get(chosen));
    let kept = looked_at.map(|note| (place(note), place(note) + wide(picture, note)));
    let mut free = f32::MIN;
    for (number, note) in whole.notes.iter().enumerate() {
        let x = place(note);
        let of_choice = chosen == Some(number);
        let onset = if of_choice { Meaning::OwnLine } else { Meaning::Beginning };
        let wide = wide(picture, note);
        let right = x + wide;
        let in_the_way = kept.is_some_and(|(from, to)| x < to && right > from);
        if !of_choice && (x < free || in_the_way) {
            // The line of a note without words strikes through none of others'.
            picture.vline(onset, x, sheet.y);
            continue;
        }
        picture.vline(onset, x, lane.min..=sheet.y.max);
        free = right;
        let word = if of_choice { Meaning::RowWord } else { Meaning::ScaleNumber };
        // The last one has no room at the right.
        let text = (x + 0.25 * size).min(picture.area.right() - wide);
        let at = |row: f32| pos2(text, middle(row));
        picture.text(word, at(0.0), Align2::LEFT_CENTER, note.name.as_str());
        if whole.echoed {
            picture.text(word, at(1.0), Align2::LEFT_CENTER, late(note));
        }
        if of_choice {
            let end = sheet.times.x_from_secs(Secs(note.span.1));
            picture.hline(Meaning::Value, x..=end, lane.max);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_height_holds_all_notes_and_grows_by_whole_semitones() {
        let noted = |cents: f64| Noted {
            name: String::new(),
            span: (0.0, 1.0),
            late: None,
            pitch: Cents(cents),
        };
        let notes = [noted(0.0), noted(400.0)];
        let seen = |echo: f64| {
            let line = Line { sure: true, corners: vec![(Secs(0.0), echo)] };
            view(&notes, [&[], &[Arc::new(vec![line])]])
        };
        assert_eq!(seen(210.0), (Cents(200.0), Cents(300.0)));
        assert_eq!(seen(430.0), (Cents(200.0), Cents(300.0)));
        assert_eq!(seen(460.0), (Cents(250.0), Cents(350.0)));
    }
}
