//! What was played of each note, on the axis of the plan: its pitch around the planned line over a ribbon as thick as its vibrato
//! was wide. Notes that were left out are hollow, those on two strings hatched.

use coach::follow::How;
use coach::plan::{Passage, Pitch};
use emath::{Pos2, Rangef, Rect, pos2};
use tuning::{Cents, Secs};
use vibrato::ContourPoint;

use crate::ribbon::Heights;
use crate::{Meaning, Picture};

/// A pitch is drawn so far from its middle at most, beside its swing; what lies beyond is on its way from note to note.
const FARTHEST_CENTS: f64 = 25.0;
/// Where one note goes over into the next, the pitch is that of neither: so near its ends, in seconds, a note strays by no more
/// cents beyond its swing.
const EDGE_SECS: f64 = 0.04;
const EDGE_CENTS: f64 = 4.0;
/// Half the height of what stands for a note that shows no pitch, in points at the usual size.
const HALF_HOLLOW: f32 = 6.0;
/// What the line of loudness takes of the ground, and the least it shows, in dB.
const LEVELS: f32 = 0.28;
const LEAST_DB: f64 = 12.0;

/// One frame of what was heard.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HeardPoint {
    /// When.
    pub time: Secs,
    /// The pitch as a distance from 440 Hz; `None` where there is none.
    pub pitch: Option<Cents>,
    /// How loud it is.
    pub level_dbfs: f64,
}

/// One note as it was played.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sounded<'a> {
    /// Its number in the plan.
    pub note: usize,
    /// How it was played.
    pub how: How,
    /// When it began and ended.
    pub start: Secs,
    /// Its end.
    pub end: Secs,
    /// What lies where the next note of the plan begins: that note's own beginning, or the end of this one.
    pub until: Secs,
    /// Where on the axis `start` and `until` lie, in points.
    pub x: Rangef,
    /// The planned pitch, as a distance from 440 Hz.
    pub line: Cents,
    /// Its width through the note.
    pub course: &'a [ContourPoint],
}

impl Sounded<'_> {
    fn x_of(&self, time: Secs) -> f32 {
        let span = (self.until.0 - self.start.0).max(1e-3);
        self.x.min + self.x.span() * ((time.0 - self.start.0) / span) as f32
    }

    fn holds(&self, time: Secs) -> bool {
        time >= self.start && time <= self.end
    }
}

/// Draws the notes that lie within `area`, from what was heard of the passage in order of time; with `levels`, how loud they
/// were stands at the foot, as it matters where nothing swings.
pub fn played_ribbons(
    picture: &mut Picture,
    passage: &Passage,
    area: Rect,
    notes: &[Sounded],
    heard: &[HeardPoint],
    levels: bool,
) {
    let foot = if levels { LEVELS * area.height() } else { 0.0 };
    let ribbons = area.with_max_y(area.bottom() - foot);
    let Some(heights) = Heights::of(passage, ribbons, picture) else { return };
    let in_sight = notes.iter().filter(|one| one.x.max >= area.left() && one.x.min <= area.right());
    for one in in_sight {
        let pitch = passage.notes()[one.note].pitch;
        let Pitch::Single(pitch) = pitch else {
            if let Pitch::Double(low, high) = pitch {
                let middle = (heights.y_of(low.midi()) + heights.y_of(high.midi())) / 2.0;
                hatched(picture, ribbons, one, middle);
            }
            continue;
        };
        if one.how == How::LeftOut {
            let half = HALF_HOLLOW * picture.sizes.grown.strokes;
            let x = Rangef::new(one.x.min + 2.0, one.x.max - 2.0);
            let y = heights.y_of(pitch.midi());
            picture.rect(Meaning::Region(0), Rect::from_x_y_ranges(x, y - half..=y + half));
            continue;
        }
        let from = heard.partition_point(|point| point.time < one.start);
        let count = heard[from..].partition_point(|point| one.holds(point.time));
        let points = &heard[from..from + count];
        played(picture, &heights, one, pitch.midi(), points);
    }
    if levels {
        loudness(picture, area.with_min_y(area.bottom() - foot), notes, heard);
    }
}

/// Strokes across the place of a note on two strings: it is not heard which.
fn hatched(picture: &mut Picture, area: Rect, one: &Sounded, middle: f32) {
    let half = HALF_HOLLOW * picture.sizes.grown.strokes;
    let middle = middle.clamp(area.top() + half, (area.bottom() - half).max(area.top() + half));
    let y = Rangef::new(middle - half, middle + half);
    let mut x = one.x.min + 2.0;
    while x + 2.0 * half < one.x.max {
        picture.line(Meaning::Rebow, vec![pos2(x, y.max), pos2(x + half, y.min)]);
        x += half;
    }
}

/// The pitch of a note around its line, over its ribbon.
fn played(
    picture: &mut Picture,
    heights: &Heights,
    one: &Sounded,
    midi: i32,
    points: &[HeardPoint],
) {
    let mut cents: Vec<f64> =
        points.iter().filter_map(|point| Some(point.pitch?.0 - one.line.0)).collect();
    if cents.is_empty() {
        return;
    }
    cents.sort_by(f64::total_cmp);
    let at = |share: f64| cents[((cents.len() - 1) as f64 * share) as usize];
    let middle = &at(0.5);
    // Where no ribbon is known yet, most of the note tells how far it swings.
    let scatter = at(0.85) - at(0.15);
    // A note of another pitch stands on a line of its own.
    let semitones = (*middle / 100.0).round();
    let line = heights.y_of(midi + semitones as i32);
    let widest = one.course.iter().map(|at| at.width.0).fold(scatter, f64::max);
    let farthest = FARTHEST_CENTS + 0.6 * widest;
    let place = |time: Secs, cents: f64| {
        let within = (time.0 - one.start.0).min(one.end.0 - time.0);
        let most =
            if within < EDGE_SECS { farthest.min(EDGE_CENTS + 0.6 * widest) } else { farthest };
        let shown = (cents - *middle).abs() <= most;
        let cents = cents - 100.0 * semitones;
        shown.then(|| pos2(one.x_of(time), line - heights.off(cents)))
    };
    let swing = *middle - 100.0 * semitones;
    for pair in one.course.windows(2) {
        let corner = |at: &ContourPoint, side: f64| {
            let off = swing + side * at.width.0 / 2.0;
            pos2(one.x_of(at.time), line - heights.off(off))
        };
        let [a, b] = [&pair[0], &pair[1]];
        let corners = vec![corner(a, 1.0), corner(b, 1.0), corner(b, -1.0), corner(a, -1.0)];
        picture.polygon(Meaning::MiddleHalf, corners);
    }
    let mut stroke: Vec<Pos2> = Vec::with_capacity(points.len());
    for point in points {
        match point.pitch.and_then(|pitch| place(point.time, pitch.0 - one.line.0)) {
            Some(at) => stroke.push(at),
            None => picture.line(Meaning::Trace, std::mem::take(&mut stroke)),
        }
    }
    picture.line(Meaning::Trace, stroke);
}

/// How loud each note was, on one scale.
fn loudness(picture: &mut Picture, area: Rect, notes: &[Sounded], heard: &[HeardPoint]) {
    let sounds = |one: &&Sounded| one.how != How::LeftOut;
    let of = |one: &Sounded| {
        let from = heard.partition_point(|point| point.time < one.start);
        let count = heard[from..].partition_point(|point| one.holds(point.time));
        from..from + count
    };
    let levels = || {
        notes.iter().filter(sounds).flat_map(|one| &heard[of(one)]).map(|point| point.level_dbfs)
    };
    let high = levels().fold(f64::NEG_INFINITY, f64::max);
    let low = levels().fold(f64::INFINITY, f64::min).min(high - LEAST_DB).max(high - 40.0);
    let in_sight = notes.iter().filter(sounds).filter(|one| one.x.intersects(area.x_range()));
    for one in in_sight {
        let line = heard[of(one)].iter().map(|point| {
            let share = ((point.level_dbfs - low) / (high - low)).clamp(0.0, 1.0) as f32;
            pos2(one.x_of(point.time), area.bottom() - share * area.height())
        });
        picture.line(Meaning::Loudness, line.collect());
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Shape, Sizes};
    use emath::vec2;

    fn passage() -> Passage {
        Passage::from_text("instrument cello\nbeats 6 of quarter\npace 60\nbar A3 2 width 40 rate 5, B3 2, A3+E4 2\n")
            .expect("a passage")
    }

    fn sounded(note: usize, how: How) -> Sounded<'static> {
        let (start, end) = (Secs(10.0 + note as f64), Secs(10.9 + note as f64));
        let x = Rangef::new(100.0 * note as f32, 100.0 * (note + 1) as f32);
        let until = Secs(start.0 + 1.0);
        Sounded { note, how, start, end, until, x, line: Cents(-1200.0), course: &[] }
    }

    /// A swing of 40 cents, 25 cents sharp of A3, from 10 s to 11 s.
    fn heard() -> Vec<HeardPoint> {
        let point = |i: i32| {
            let time = Secs(10.0 + f64::from(i) * 0.005);
            let swing = (std::f64::consts::TAU * 5.0 * time.0).sin();
            HeardPoint { time, pitch: Some(Cents(-1175.0 + 20.0 * swing)), level_dbfs: -20.0 }
        };
        (0..200).map(point).collect()
    }

    fn drawn(notes: &[Sounded], levels: bool) -> Picture {
        let area = Rect::from_min_size(Pos2::ZERO, vec2(300.0, 200.0));
        let mut picture = Picture::new(area, &Sizes::USUAL);
        played_ribbons(&mut picture, &passage(), area, notes, &heard(), levels);
        picture
    }

    #[test]
    fn a_note_is_drawn_as_far_from_its_line_as_it_was_played_and_ends_where_the_sound_did() {
        let picture = drawn(&[sounded(0, How::Played)], false);
        let [Shape::Line(stroke)] =
            &picture.marks.iter().map(|m| m.shape.clone()).collect::<Vec<_>>()[..]
        else {
            panic!("{:?}", picture.marks);
        };
        // A3 lies 100 of 400 cents above the foot of 200 points.
        let line = 200.0 * (1.0 - 100.0 / 400.0);
        let off: Vec<f32> = stroke.iter().map(|at| line - at.y).collect();
        let (low, high) = off.iter().fold((f32::MAX, f32::MIN), |(l, h), o| (l.min(*o), h.max(*o)));
        assert!((low - 4.0).abs() < 0.1 && (high - 36.0).abs() < 0.1, "{low} to {high}");
        let right = stroke.iter().map(|at| at.x).fold(0.0, f32::max);
        assert!((right - 90.0).abs() < 1.0, "the last tenth is open: {right}");
    }

    #[test]
    fn what_was_left_out_is_hollow_and_what_is_unheard_hatched() {
        let notes = [sounded(1, How::LeftOut), sounded(2, How::Unheard)];
        let picture = drawn(&notes, false);
        let shapes = |is: fn(&Shape) -> bool| picture.marks.iter().filter(|m| is(&m.shape)).count();
        assert_eq!(shapes(|shape| matches!(shape, Shape::Rect(_))), 1);
        assert!(shapes(|shape| matches!(shape, Shape::Line(_))) > 5);
    }

    #[test]
    fn how_loud_it_was_stands_at_the_foot_where_that_is_asked_for() {
        let loud = |levels| {
            let picture = drawn(&[sounded(0, How::Played)], levels);
            picture.marks.iter().filter(|mark| mark.meaning == Meaning::Loudness).count()
        };
        assert_eq!((loud(false), loud(true)), (0, 1));
    }
}
