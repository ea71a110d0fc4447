//! The trace: pitch in cents against the notes, with the crests, the names, and what is not known.

use crate::played::{Placed, Played, Point};
use crate::sheet::{self, Sheet, Times};
use crate::{Meaning, Picture};
use emath::{Align2, Pos2, Rangef, Rect, pos2, vec2};
use tuning::figure::signed;
use tuning::{Cents, Hz, Naming, Secs, Tuning, pitch_name};

/// Distance of a mark from the trace, and its height, as shares of its size.
const MARK_APART: f32 = 1.5;
const MARK_HEIGHT: f32 = 1.6;
/// How far a mark reaches from the trace, as a share of its size.
pub(crate) const MARK_REACH: f32 = MARK_APART + MARK_HEIGHT;
/// Distance of what stands at the left from the lines, as a share of the type size of captions.
const LABEL_APART: f32 = 0.6;
/// Size of a finger's digit on the track, as a share of the type size.
const DIGIT: f32 = 1.5;
/// Distances between two marks of the scale at the right, in cents.
const STEPS_CENTS: [f64; 8] = [5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 400.0, 600.0];

/// What is drawn.
pub struct Traced<'a> {
    /// What was played.
    pub played: &'a Played,
    /// Where the lines of the notes lie; `None` before there was a note.
    pub lines: Option<Tuning>,
    /// What all pitches are distances from.
    pub a4: Hz,
    /// How notes are named.
    pub naming: Naming,
    /// The notes whose lines stand out: the one that sounds or sounded last, or all that are seen.
    pub own: &'a [i32],
    /// Of a take: the finger of each note, where it is known. It stands on the track where the note begins, and only
    /// the notes that were played have lines. `None` on a sheet that goes on, which has all lines, and names above.
    pub fingers: Option<&'a [Option<u8>]>,
    /// What the cents at the right are counted from.
    pub against: Option<Against>,
    /// Crests and troughs are marked.
    pub turns: bool,
    /// A swing is meant to lie below the reference.
    pub swing_below: bool,
    /// Where something asked for begins, and its name, such as the turn of a finger.
    pub sections: &'a [(Secs, String)],
    /// A note sounds, so that a pitch off the sheet is told.
    pub sounds: bool,
}

/// What cents are counted from.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Against {
    /// Where it lies, as a distance from A4.
    pub pitch: Cents,
    /// Whose it is, where it is not the temperament's.
    pub name: Option<&'static str>,
}

/// Draws the trace onto its sheet.
pub fn trace(picture: &mut Picture, sheet: &Sheet, traced: &Traced<'_>) {
    if let Some(lines) = traced.lines {
        notes(picture, sheet, traced, &lines);
        if let Some(against) = traced.against {
            cents(picture, sheet, against.pitch);
            reference(picture, sheet, traced, against, &lines);
        }
    }
    sections(picture, sheet, traced.sections);
    match traced.fingers {
        Some(fingers) => digits(picture, sheet, traced, fingers),
        None => beginnings(picture, sheet, traced),
    }
    course(picture, sheet, traced.played, None);
    if traced.turns {
        turns(picture, sheet, traced.played, None);
    }
    rebows(picture, sheet, traced.played);
    if traced.sounds {
        beyond(picture, sheet, traced.played);
    }
}

/// Draws the newest note alone, from `from` on: its line with its name, and the cents around it, at the left.
pub fn newest(picture: &mut Picture, sheet: &Sheet, traced: &Traced<'_>, from: Secs) {
    if let (Some(lines), Some(against), Some(&midi)) =
        (traced.lines, traced.against, traced.own.last())
    {
        let line = lines.frequency(midi).cents_above(traced.a4);
        cents_at_left(picture, sheet, against.pitch, line);
        if sheet.shows(line) {
            let y = sheet.y_from_cents(line);
            picture.hline(Meaning::OwnLine, sheet.times.x, y);
            let at = pos2(sheet.times.x.min - LABEL_APART * picture.sizes.caption, y);
            picture.text(
                Meaning::OwnName,
                at,
                Align2::RIGHT_CENTER,
                pitch_name(midi, traced.naming),
            );
        }
        reference(picture, sheet, traced, against, &lines);
    }
    course(picture, sheet, traced.played, Some(from));
    if traced.turns {
        turns(picture, sheet, traced.played, Some(from));
    }
    rebows(picture, sheet, traced.played);
    if traced.sounds {
        beyond(picture, sheet, traced.played);
    }
}

/// The cents around a pitch, at the left, but for where the note's own name stands.
fn cents_at_left(picture: &mut Picture, sheet: &Sheet, pitch: Cents, line: Cents) {
    let size = picture.sizes.scale;
    let step = cents_step(sheet.reach, sheet.y.span(), 1.25 * size);
    let from = ((sheet.middle.0 - sheet.reach.0 - pitch.0) / step).ceil() as i32;
    let to = ((sheet.middle.0 + sheet.reach.0 - pitch.0) / step).floor() as i32;
    let x = sheet.times.x.min - LABEL_APART * picture.sizes.caption;
    let own = sheet.y_from_cents(line);
    let clear = 0.55 * (picture.sizes.caption + size);
    for mark in (from..=to).filter(|mark| *mark != 0) {
        let away = f64::from(mark) * step;
        let y = sheet.y_from_cents(Cents(pitch.0 + away));
        picture.hline(Meaning::Guide, sheet.times.x, y);
        if (y - own).abs() >= clear {
            picture.text(Meaning::ScaleNumber, pos2(x, y), Align2::RIGHT_CENTER, signed(away, 0));
        }
    }
    let above = pos2(x, sheet.y.min - 0.5 * size);
    picture.text(Meaning::ScaleNumber, above, Align2::RIGHT_BOTTOM, "cents");
}

/// A past note on a line of its own: its name at the left, its track, and what it was in words behind that.
pub fn track(
    picture: &mut Picture,
    lane: Rect,
    times: &Times,
    traced: &Traced<'_>,
    note: &Placed,
    said: &str,
) {
    let size = picture.sizes.caption;
    let pitch = note.reference.cents_above(traced.a4);
    let y = Rangef::new(lane.top() + 0.1 * size, lane.bottom() - 0.1 * size);
    let sheet = Sheet { times: *times, y, middle: pitch, reach: traced.reach_of(note) };
    let end = note.end.unwrap_or(times.newest);
    let middle = y.center();
    let right = times.x_from_secs(end);
    if right < times.x.min {
        return;
    }
    let name = pos2(times.x.min - LABEL_APART * size, middle);
    picture.text(
        Meaning::NoteName,
        name,
        Align2::RIGHT_CENTER,
        pitch_name(note.midi, traced.naming),
    );
    let points = times.seen(&traced.played.points);
    let points = points.filter(|point| note.start <= point.time && point.time <= end);
    let pitch = |point: &Point| point.pitch.map(Cents::get);
    let lines = sheet::lines(points, times, pitch, |_| true);
    let place = |time, pitch| sheet.place(time, Cents(pitch));
    let wide = picture.width(Meaning::Caption, said);
    let from = (right + 0.6 * size).max(times.x.min);
    let left = times.x_from_secs(note.start).max(times.x.min);
    let before = left - 0.6 * size;
    // Behind the track, or before it where it ends too near the edge; a line stops short of the words.
    let (words, align) = if from + wide <= times.x.max {
        (Some(from..=from + wide), Align2::LEFT_CENTER)
    } else {
        let room = before - wide >= times.x.min;
        (room.then_some(before - wide..=before), Align2::RIGHT_CENTER)
    };
    let apart = 0.6 * size;
    let mut guide = |from: f32, to: f32| {
        if from < to {
            picture.hline(Meaning::Guide, from..=to, middle);
        }
    };
    match &words {
        Some(words) if *words.end() < left => guide(times.x.min, words.start() - apart),
        _ => guide(times.x.min, left),
    }
    match &words {
        Some(words) if *words.start() > right => guide(words.end() + apart, times.x.max),
        _ => guide(right, times.x.max),
    }
    if let Some(words) = words {
        let x = if align == Align2::LEFT_CENTER { *words.start() } else { *words.end() };
        picture.text(Meaning::Caption, pos2(x, middle), align, said);
    }
    picture.lines((Meaning::PastTrace, Meaning::FaintTrace), &lines, sheet.room(), place);
}

impl Traced<'_> {
    /// How far a past note swings, with a little room.
    fn reach_of(&self, note: &Placed) -> Cents {
        const LEAST_CENTS: f64 = 25.0;
        let line = note.reference.cents_above(self.a4);
        let within = |point: &&Point| note.holds(point.time);
        let points = self.played.points.iter().filter(within);
        let mut away: Vec<f64> = points
            .filter(|point| point.confidence >= sheet::DOUBTFUL_BELOW)
            .filter_map(|point| Some((point.pitch?.0 - line.0).abs()))
            .collect();
        away.sort_by(f64::total_cmp);
        // A few frames astray, as where two notes meet, are no motion.
        let most = away.get(away.len() * 19 / 20).copied().unwrap_or_default();
        Cents((1.15 * most).max(LEAST_CENTS))
    }
}

/// The lines of the notes, with their names at the left; where they lie too close for all names,
/// those at even distances from the note that sounds.
fn notes(picture: &mut Picture, sheet: &Sheet, traced: &Traced<'_>, lines: &Tuning) {
    let own = traced.own.last();
    let semitone = f64::from(sheet.y.span()) / (2.0 * sheet.reach.0) * 100.0;
    let every = (1.15 * f64::from(picture.sizes.caption) / semitone).ceil() as i32;
    let lowest = ((sheet.middle.0 - sheet.reach.0) / 100.0).floor() as i32 + 68;
    let highest = ((sheet.middle.0 + sheet.reach.0) / 100.0).ceil() as i32 + 70;
    let mut free_above = f32::INFINITY;
    for midi in lowest..=highest {
        let pitch = lines.frequency(midi).cents_above(traced.a4);
        let is_left_out = traced.fingers.is_some() && !traced.own.contains(&midi);
        if is_left_out || !sheet.shows(pitch) {
            continue;
        }
        let y = sheet.y_from_cents(pitch);
        let (line, name) = if traced.own.contains(&midi) {
            (Meaning::OwnLine, Meaning::OwnName)
        } else {
            (Meaning::NoteLine, Meaning::NoteName)
        };
        picture.hline(line, sheet.times.x, y);
        let is_named = match traced.fingers {
            Some(_) => y + 1.15 * picture.sizes.caption <= free_above,
            None => (midi - own.unwrap_or(&midi)) % every.max(1) == 0,
        };
        if is_named {
            free_above = y;
            let at = pos2(sheet.times.x.min - 0.45 * picture.sizes.caption, y);
            picture.text(name, at, Align2::RIGHT_CENTER, pitch_name(midi, traced.naming));
        }
    }
}

/// The distance in cents between two marks of the scale at the right, for a sheet of this reach that
/// is so high, where a number needs so much height.
fn cents_step(reach: Cents, height: f32, number: f32) -> f64 {
    let cent = f64::from(height) / (2.0 * reach.0);
    let least = f64::from(number).max(f64::from(height) / 8.0);
    let fits = |step: &f64| step * cent >= least;
    STEPS_CENTS.into_iter().find(fits).unwrap_or(STEPS_CENTS[STEPS_CENTS.len() - 1])
}

/// The cents above and below what the note is measured against, at the right.
fn cents(picture: &mut Picture, sheet: &Sheet, line: Cents) {
    let step = cents_step(sheet.reach, sheet.y.span(), 1.25 * picture.sizes.scale);
    let from = ((sheet.middle.0 - sheet.reach.0 - line.0) / step).ceil() as i32;
    let to = ((sheet.middle.0 + sheet.reach.0 - line.0) / step).floor() as i32;
    let length = 0.33 * picture.sizes.scale;
    for mark in from..=to {
        let away = f64::from(mark) * step;
        let y = sheet.y_from_cents(Cents(line.0 + away));
        let x = sheet.times.x.max;
        picture.hline(Meaning::Axis, x..=x + length, y);
        let at = pos2(x + 1.8 * length, y);
        picture.text(Meaning::ScaleNumber, at, Align2::LEFT_CENTER, signed(away, 0));
    }
}

/// The line of a reference that is not the temperament's, dashed and named at the left, and a small
/// wave where a swing is meant to lie if that is below it.
fn reference(
    picture: &mut Picture,
    sheet: &Sheet,
    traced: &Traced<'_>,
    against: Against,
    lines: &Tuning,
) {
    if !sheet.shows(against.pitch) {
        return;
    }
    let y = sheet.y_from_cents(against.pitch);
    if let (Some(name), Some(&midi)) = (against.name, traced.own.last()) {
        picture.hline(Meaning::Reference, sheet.times.x, y);
        let line = sheet.y_from_cents(lines.frequency(midi).cents_above(traced.a4));
        let apart = 0.55 * (picture.sizes.caption + picture.sizes.scale);
        // Beside the name of the note, not over it.
        let below = y > line || line - apart < sheet.y.min;
        let at = if below { y.max(line + apart) } else { y.min(line - apart) };
        let at = pos2(sheet.times.x.min - 0.45 * picture.sizes.caption, at);
        picture.text(Meaning::ReferenceName, at, Align2::RIGHT_CENTER, name);
    }
    if traced.swing_below {
        swing(picture, pos2(sheet.times.x.min + 4.0, y));
    }
}

/// A small wave whose crests touch the line.
fn swing(picture: &mut Picture, from: Pos2) {
    const PIECES: usize = 24;
    let size = picture.sizes.scale;
    let wave = (0..=PIECES).map(|piece| {
        let along = piece as f32 / PIECES as f32;
        let down = 0.5 - 0.5 * (2.0 * std::f32::consts::TAU * along).cos();
        from + vec2(along * 2.4 * size, 2.0 + down * 0.8 * size)
    });
    picture.line(Meaning::SwingBelow, wave.collect());
}

/// Where something asked for begins: a dashed line, and its name as long as there is room for it.
fn sections(picture: &mut Picture, sheet: &Sheet, sections: &[(Secs, String)]) {
    let size = picture.sizes.scale;
    let mut free_from = f32::NEG_INFINITY;
    for (time, name) in sections {
        let x = sheet.times.x_from_secs(*time);
        if !sheet.times.x.contains(x) {
            continue;
        }
        picture.vline(Meaning::Section, x, sheet.y);
        let right = x + picture.width(Meaning::SectionName, name) + 0.5 * size;
        if x >= free_from && right <= sheet.times.x.max {
            let foot = pos2(x + 0.25 * size, sheet.y.min + 0.9 * size);
            picture.write(Meaning::SectionName, foot, name);
            free_from = right;
        }
    }
}

/// The names of notes where they begin, above the sheet.
fn beginnings(picture: &mut Picture, sheet: &Sheet, traced: &Traced<'_>) {
    let mut free_until = f32::INFINITY;
    for note in traced.played.notes.iter().rev() {
        let x = sheet.times.x_from_secs(note.start);
        if x > sheet.times.x.max {
            continue;
        }
        let gone = note.end.is_some_and(|end| end < sheet.times.oldest());
        if gone {
            break;
        }
        let name = pitch_name(note.midi, traced.naming);
        let wide = picture.width(Meaning::NoteName, &name);
        let at = x.max(sheet.times.x.min);
        let edge = sheet.times.x.max + 3.0 * picture.sizes.scale;
        let apart = 0.45 * picture.sizes.caption;
        if at + wide + apart <= free_until.min(edge) {
            let foot = pos2(at, sheet.y.min - apart.min(6.0));
            picture.write(Meaning::NoteName, foot, &name);
            free_until = at;
        }
        if x < sheet.times.x.min {
            break;
        }
    }
}

/// The fingers as large digits on the track, each before its note; T is the thumb.
fn digits(picture: &mut Picture, sheet: &Sheet, traced: &Traced<'_>, fingers: &[Option<u8>]) {
    let size = DIGIT * picture.sizes.caption;
    for (note, finger) in traced.played.notes.iter().zip(fingers) {
        let Some(finger) = finger else { continue };
        let pitch = note.reference.cents_above(traced.a4);
        let x = sheet.times.x_from_secs(note.start);
        if !sheet.times.x.contains(x) || !sheet.shows(pitch) {
            continue;
        }
        let word = if *finger == 0 { "T".to_owned() } else { finger.to_string() };
        let at = pos2(x.max(sheet.times.x.min + size) - 0.1 * size, sheet.y_from_cents(pitch));
        picture.text_sized(Meaning::BigWord, at, Align2::RIGHT_CENTER, word, size);
    }
}

/// The trace itself, from an instant on.
fn course(picture: &mut Picture, sheet: &Sheet, played: &Played, from: Option<Secs>) {
    let pitch = |point: &Point| point.pitch.map(Cents::get);
    let mut note_at = played.notes_in_order();
    let seen = sheet.times.seen(&played.points);
    let seen = seen.filter(|point| from.is_none_or(|from| point.time >= from));
    let lines = sheet::lines(seen, &sheet.times, pitch, |time| note_at(time).is_some());
    let place = |time, pitch| sheet.place(time, Cents(pitch));
    picture.lines((Meaning::Trace, Meaning::FaintTrace), &lines, sheet.room(), place);
}

/// Crests get a small triangle above the trace, troughs one below; straight notes have neither.
fn turns(picture: &mut Picture, sheet: &Sheet, played: &Played, from: Option<Secs>) {
    let half = picture.sizes.turn;
    let mut note_at = played.notes_in_order();
    let (oldest, newest) = (sheet.times.oldest(), sheet.times.newest);
    let oldest = from.filter(|from| *from > oldest).unwrap_or(oldest);
    let seen = played.turns.iter().filter(|turn| turn.time >= oldest && turn.time <= newest);
    for turn in seen {
        let straight = note_at(turn.time).is_some_and(|note| note.straight);
        if straight || !sheet.shows(turn.pitch) {
            continue;
        }
        let at = sheet.place(turn.time, turn.pitch);
        let (up, meaning) =
            if turn.crest { (-1.0, Meaning::Crest) } else { (1.0, Meaning::Trough) };
        let foot = at + vec2(0.0, up * MARK_APART * half);
        let corners = vec![
            foot + vec2(-half, 0.0),
            foot + vec2(half, 0.0),
            foot + vec2(0.0, up * MARK_HEIGHT * half),
        ];
        picture.polygon(meaning, corners);
    }
}

/// Where the bow started anew on the same pitch: a short stroke at the foot, and the word where it has
/// room.
fn rebows(picture: &mut Picture, sheet: &Sheet, played: &Played) {
    let size = picture.sizes.scale;
    let wide = picture.width(Meaning::RebowWord, "bow") + 0.8 * size;
    let mut free_until = f32::INFINITY;
    for &time in played.rebows.iter().rev() {
        let x = sheet.times.x_from_secs(time);
        if x > sheet.times.x.max {
            continue;
        }
        if x < sheet.times.x.min {
            break;
        }
        let foot = sheet.y.max;
        picture.vline(Meaning::Rebow, x, foot - 1.3 * size..=foot);
        if x + wide <= free_until.min(sheet.times.x.max) {
            picture.write(Meaning::RebowWord, pos2(x + 0.4 * size, foot - 0.33 * size), "bow");
        }
        free_until = x;
    }
}

/// The newest pitch lies off the sheet: the word at that edge.
fn beyond(picture: &mut Picture, sheet: &Sheet, played: &Played) {
    let newest = played.points.back().and_then(|point| point.pitch);
    let Some(pitch) = newest.filter(|&pitch| !sheet.shows(pitch)) else {
        return;
    };
    let (said, y, align) = if pitch.0 > sheet.middle.0 {
        ("above", sheet.y.min + 4.0, Align2::RIGHT_TOP)
    } else {
        ("below", sheet.y.max - 4.0, Align2::RIGHT_BOTTOM)
    };
    picture.text(Meaning::Beyond, pos2(sheet.times.x.max - 4.0, y), align, said);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_scale_has_three_to_nine_marks_at_every_zoom_with_room_between_them() {
        for reach in [30.0, 60.0, 130.0, 250.0, 600.0].map(Cents) {
            for (height, number) in [(150.0, 19.0), (300.0, 19.0), (900.0, 24.0), (200.0, 38.0)] {
                let step = cents_step(reach, height, number);
                let marks = 2.0 * (reach.0 / step).floor() + 1.0;
                assert!((3.0..=9.0).contains(&marks), "{marks} at {reach:?}, {height}");
                let apart = step * f64::from(height) / (2.0 * reach.0);
                assert!(apart >= f64::from(number), "{apart} at {reach:?}, {height}");
            }
        }
    }
}
