//! The trace of a take, or of one line of it: the pitch, below it the oscillations and the bow where there is height
//! for them, and what runs through all; what is heard of it; and the whole of a long take as a strip.

use crate::played::Played;
use crate::sheet::{DOUBTFUL_BELOW, Sheet, Times};
use crate::strip::oscillation_strip;
use crate::time_axis::{Clock, through, time_axis};
use crate::trace::{Against, MARK_REACH, Traced, trace};
use crate::{Meaning, Picture, bow_line};
use emath::{Rangef, Rect, pos2, vec2};
use tuning::{Cents, Naming, Secs, Tuning};

/// The least that is shown above and below the middle, and the room above and below the outermost pitch.
const LEAST_REACH_CENTS: f64 = 80.0;
const ROOM_CENTS: f64 = 25.0;
/// The marks of crests and troughs get no more than this share of the height at either end.
const MOST_FREE: f32 = 0.25;
/// A share of the frames at either end of the pitches that does not widen the view: attacks, and what rings on.
const OUTLIERS: f64 = 0.02;
/// A swing widens the view by no more than this beyond what is heard of notes: a stray frame within it does not.
const SWING_BEYOND_CENTS: f64 = 60.0;
/// Heights of the parts and of the paper between them, in type sizes of a scale; below so many there is the trace alone.
const STRIP: f32 = 3.0;
const BOW: f32 = 2.5;
const BETWEEN: f32 = 0.75;
const AXIS: f32 = 1.7;
const ALL_FROM: f32 = 20.0;

/// A stretch of a take.
pub struct TakeTrace<'a> {
    /// What was played; without points where its sound is not there.
    pub played: &'a Played,
    /// The finger of each note, where it is known.
    pub fingers: &'a [Option<u8>],
    /// What the notes are measured against.
    pub tuning: Tuning,
    /// How they are named.
    pub naming: Naming,
    /// Where something asked for begins, and its name, such as the turn of a finger.
    pub sections: &'a [(Secs, String)],
    /// From when to when.
    pub span: (Secs, Secs),
}

impl TakeTrace<'_> {
    /// The pitches of it that are sure.
    fn sure(&self) -> impl Iterator<Item = (Secs, Cents)> {
        let (points, (from, to)) = (&self.played.points, self.span);
        let first = points.partition_point(|point| point.time < from);
        let last = points.partition_point(|point| point.time <= to);
        let seen = points.range(first..last.max(first));
        let sure = seen.filter(|point| point.confidence >= DOUBTFUL_BELOW);
        sure.filter_map(|point| Some((point.time, point.pitch?)))
    }

    /// Whether a pitch is heard in it.
    pub fn is_heard(&self) -> bool {
        self.sure().next().is_some()
    }

    /// The pitches that are to be seen, from the lowest to the highest: the lines of the notes, their swings, and what
    /// was heard of them for sure.
    fn pitches(&self) -> Option<(f64, f64)> {
        let (from, to) = self.span;
        let a4 = self.tuning.a4;
        let mut note_at = self.played.notes_in_order();
        let swings = self.played.oscillations.iter().filter_map(|one| {
            let line = note_at(one.start)?.reference.cents_above(a4).0;
            (one.start >= from && one.start <= to)
                .then_some((line + one.trough.0, line + one.crest.0))
        });
        let notes = self.played.notes.iter();
        let seen = notes.filter(|note| note.start <= to && note.end.is_none_or(|end| end >= from));
        let lines = seen.map(|note| note.reference.cents_above(a4).0).map(|line| (line, line));
        let mut note_at = self.played.notes_in_order();
        let of_notes = self.sure().filter(|(time, _)| note_at(*time).is_some());
        let mut heard: Vec<f64> = of_notes.map(|(_, pitch)| pitch.0).collect();
        heard.sort_by(f64::total_cmp);
        // One stray frame is left out of a short note, too.
        let outside = ((OUTLIERS * heard.len() as f64) as usize).max(1);
        let heard = heard.get(outside..heard.len().saturating_sub(outside)).unwrap_or_default();
        let heard = heard.first().copied().zip(heard.last().copied());
        let within = |(low, high): (f64, f64)| {
            let Some((lowest, highest)) = heard else {
                return (low, high);
            };
            let (lowest, highest) = (lowest - SWING_BEYOND_CENTS, highest + SWING_BEYOND_CENTS);
            (low.clamp(lowest, highest), high.clamp(lowest, highest))
        };
        let all = swings.map(within).chain(lines).chain(heard);
        all.reduce(|(low, high), (a, b)| (low.min(a), high.max(b)))
    }

    /// The middle of the height and how far it reaches, so that this share of it is free at the top and at the foot.
    fn view(&self, free: f32) -> (Cents, Cents) {
        let (low, high) = self.pitches().unwrap_or_default();
        let half = (high - low) / 2.0;
        let reach = (half + ROOM_CENTS).max(half / f64::from(1.0 - 2.0 * free.min(MOST_FREE)));
        (Cents((low + high) / 2.0), Cents(reach.max(LEAST_REACH_CENTS)))
    }

    /// Whether crests and troughs are so far apart that a mark this wide has room at each.
    fn has_room(&self, times: &Times, wide: f32) -> bool {
        let (from, to) = self.span;
        let all = self.played.oscillations.iter();
        let seen = all.filter(|one| one.start >= from && one.start <= to);
        let (count, secs) = seen.fold((0, 0.0), |(n, secs), one| (n + 1, secs + one.period.0));
        let point = f64::from(times.x.span()) / times.span.0;
        secs * point >= f64::from(wide) * f64::from(count)
    }
}

/// Draws it; says how time and pitch lie on it.
pub fn take_trace(picture: &mut Picture, area: Rect, shown: &TakeTrace<'_>) -> Sheet {
    let (size, caption) = (picture.sizes.scale, picture.sizes.caption);
    let TakeTrace { played, tuning, naming, sections, span: (from, to), .. } = *shown;
    let x = Rangef::new(area.left() + 3.0 * caption, area.right() - 3.9 * size);
    let times = Times { x, newest: to, span: Secs(to.0 - from.0) };
    let part =
        |top: f32, height: f32| Rect::from_x_y_ranges(area.x_range(), top..=top + height * size);
    let top = area.top() + 0.4 * size + caption;
    let axis = part(area.bottom() - AXIS * size, AXIS);
    let below = (axis.top() - top >= ALL_FROM * size).then(|| {
        let bow = part(axis.top() - (BETWEEN + BOW) * size, BOW);
        (part(bow.top() - (BETWEEN + STRIP) * size, STRIP), bow)
    });
    let foot = below.map_or(axis.top(), |(strip, _)| strip.top() - BETWEEN * size);
    let y = Rangef::new(top, foot.max(top + size));
    let turn = picture.sizes.turn;
    let turns = shown.has_room(&times, 2.0 * turn);
    let (middle, reach) = shown.view(if turns { MARK_REACH * turn / y.span() } else { 0.0 });
    let sheet = Sheet { times, y, middle, reach };
    let bottom = below.map_or(sheet.y.max, |(_, bow)| bow.bottom());
    // The names of sections stand at the top.
    let word = if sections.is_empty() { 2.0 } else { 1.2 * size };
    through(picture, Rect::from_x_y_ranges(x, sheet.y.min..=bottom), &times, played, word);
    let seen = played
        .notes
        .iter()
        .filter(|note| note.start <= to && note.end.is_none_or(|end| end >= from));
    let mut own: Vec<(i32, Cents)> =
        seen.map(|note| (note.midi, note.reference.cents_above(tuning.a4))).collect();
    own.sort_unstable_by_key(|note| note.0);
    own.dedup_by_key(|note| note.0);
    // Cents are counted from one note; where there are several it is not clear from which.
    let against = match own[..] {
        [(_, pitch)] => Some(Against { pitch, name: None }),
        _ => None,
    };
    let own: Vec<i32> = own.into_iter().map(|note| note.0).collect();
    let traced = Traced {
        played,
        lines: Some(tuning),
        a4: tuning.a4,
        naming,
        own: &own,
        fingers: Some(shown.fingers),
        against,
        turns,
        swing_below: false,
        sections,
        sounds: false,
    };
    trace(picture, &sheet, &traced);
    if let Some((strip, bow)) = below {
        oscillation_strip(picture, strip, &times, played);
        bow_line(picture, bow, &times, played);
    }
    time_axis(picture, axis, &times, Clock::Since(Secs(0.0)));
    sheet
}

/// The part that is played: brackets at its ends.
pub fn part(picture: &mut Picture, sheet: &Sheet, (from, to): (Secs, Secs)) {
    let foot = 0.5 * picture.sizes.scale;
    for (time, inwards) in [(from, foot), (to, -foot)] {
        let x = sheet.times.x_from_secs(time);
        if sheet.times.x.contains(x) {
            let (top, bottom) = (sheet.y.min, sheet.y.max);
            let corners = [(x + inwards, top), (x, top), (x, bottom), (x + inwards, bottom)];
            picture.line(Meaning::Part, corners.map(|(x, y)| pos2(x, y)).to_vec());
        }
    }
}

/// The place that is heard: a line with a foot.
pub fn place(picture: &mut Picture, sheet: &Sheet, at: Secs) {
    let x = sheet.times.x_from_secs(at);
    if !sheet.times.x.contains(x) {
        return;
    }
    picture.vline(Meaning::Heard, x, sheet.y);
    let half = 1.4 * picture.sizes.turn;
    let foot = pos2(x, sheet.y.max);
    let corners = [vec2(0.0, -half), vec2(half, half), vec2(-half, half)].map(|by| foot + by);
    picture.polygon(Meaning::HeardFoot, corners.to_vec());
}

/// The whole of a long take: its notes as bars, the page that is seen, the place that is heard; says how time lies on it.
pub fn whole(
    picture: &mut Picture,
    strip: Rect,
    played: &Played,
    length: Secs,
    page: &Times,
    at: Secs,
) -> Times {
    let times = Times { x: strip.x_range(), newest: length, span: length };
    let x = |at: Secs| times.x_from_secs(at);
    picture.rect(Meaning::Ground, strip);
    let bars = strip.shrink2(vec2(0.0, 0.32 * strip.height()));
    for note in &played.notes {
        let from = x(note.start);
        let to = x(note.end.unwrap_or(length)).max(from + 1.0);
        picture.rect(Meaning::NoteBar, Rect::from_x_y_ranges(from..=to, bars.y_range()));
    }
    let seen = x(page.oldest())..=x(Secs(page.newest.0.min(length.0)));
    picture.rect(Meaning::Page, Rect::from_x_y_ranges(seen, strip.y_range()));
    picture.vline(Meaning::Heard, x(at), strip.y_range());
    times
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::played::Placed;
    use tuning::Hz;

    #[test]
    fn the_height_holds_notes_and_swings_of_the_page_and_no_others() {
        let placed = |start: f64, midi: i32| Placed {
            start: Secs(start),
            end: Some(Secs(start + 1.0)),
            midi,
            reference: Tuning::default().frequency(midi),
            straight: false,
        };
        let swing = vibrato::Oscillation {
            start: Secs(0.5),
            period: Secs(0.2),
            crest: Cents(120.0),
            trough: Cents(-100.0),
        };
        let played = Played {
            notes: [placed(0.0, 69), placed(5.0, 81)].into(),
            oscillations: [swing].into(),
            ..Played::default()
        };
        let view = |played, from, to| {
            let shown = TakeTrace {
                played,
                fingers: &[],
                tuning: Tuning { a4: Hz(440.0), ..Tuning::default() },
                naming: Naming::default(),
                sections: &[],
                span: (Secs(from), Secs(to)),
            };
            shown.view(0.25)
        };
        let near = |(a, b): (Cents, Cents), (c, d): (f64, f64)| {
            assert!((a.0 - c).abs() < 1e-6 && (b.0 - d).abs() < 1e-6, "{a:?} {b:?}");
        };
        near(view(&played, 0.0, 3.0), (10.0, 110.0 / 0.5));
        near(view(&played, 4.0, 9.0), (1200.0, LEAST_REACH_CENTS));
        near(view(&Played::default(), 0.0, 3.0), (0.0, LEAST_REACH_CENTS));
    }

    #[test]
    fn one_stray_frame_does_not_stretch_the_height_over_octaves() {
        // A note of 0.2 s, in which one frame is two octaves low, and an oscillation that was read from it.
        let pitch =
            |number: usize| if number == 20 { -2_400.0 } else { 15.0 * (number as f64).sin() };
        let points = (0..40).map(|number| crate::played::Point {
            time: Secs(0.005 * number as f64),
            pitch: Some(Cents(pitch(number))),
            confidence: 0.9,
            level_dbfs: -20.0,
            joined: number > 0,
        });
        let played = Played {
            points: points.collect(),
            notes: [Placed {
                start: Secs(0.0),
                end: Some(Secs(0.2)),
                midi: 69,
                reference: Hz(440.0),
                straight: false,
            }]
            .into(),
            oscillations: [vibrato::Oscillation {
                start: Secs(0.05),
                period: Secs(0.1),
                crest: Cents(15.0),
                trough: Cents(-2_400.0),
            }]
            .into(),
            ..Played::default()
        };
        let shown = TakeTrace {
            played: &played,
            fingers: &[],
            tuning: Tuning::default(),
            naming: Naming::default(),
            sections: &[],
            span: (Secs(0.0), Secs(1.0)),
        };
        let (_, reach) = shown.view(0.0);
        assert!(reach.0 <= LEAST_REACH_CENTS, "{reach:?}");
    }
}
