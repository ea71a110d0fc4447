//! Where time and pitch lie on the trace, and which lines are drawn: geometry alone, no painting.

use crate::played::{OPEN_BELOW, Point};
use crate::{Meaning, Picture, clipped};
use emath::{Pos2, Rangef, Rect, pos2, vec2};
use std::collections::VecDeque;
use tuning::{Cents, Secs};

/// Below this confidence the trace is drawn thin and soft.
pub const DOUBTFUL_BELOW: f64 = 0.6;
/// A leap from one frame to the next that no bowed string makes in 5 ms, in cents: not joined by a
/// line.
const LEAP: f64 = 90.0;
/// Beside a note only a pitch that holds is drawn: no step from frame to frame beyond this, in cents, over so many frames
/// (30 ms). Where the bow has left, the body of the instrument slides off; a string that rings on does not, even under a
/// finger that still swings.
const HOLDS_CENTS: f64 = 4.0;
const HOLDS_FRAMES: usize = 6;

/// The axis of time that all pictures of the sheet share.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Times {
    /// Where it is drawn, in points.
    pub x: Rangef,
    /// The instant at the right edge.
    pub newest: Secs,
    /// How much time the width stands for.
    pub span: Secs,
}

impl Times {
    /// Where `time` lies, in points; later is further right.
    pub fn x_from_secs(&self, time: Secs) -> f32 {
        let ago = (self.newest.0 - time.0) / self.span.0;
        self.x.max - ago as f32 * self.x.span()
    }

    /// The instant at the left edge.
    pub fn oldest(&self) -> Secs {
        Secs(self.newest.0 - self.span.0)
    }

    /// The time that one column of pixels stands for.
    fn column_secs(&self) -> f64 {
        self.span.0 / f64::from(self.x.span().max(1.0))
    }

    /// Those of `points` that are to be seen, and one to either side that the line comes from and goes to.
    pub fn seen<'a>(&self, points: &'a VecDeque<Point>) -> impl Iterator<Item = &'a Point> {
        let oldest = self.oldest().0;
        let first = points.partition_point(|point| point.time.0 < oldest);
        let last = points.partition_point(|point| point.time.0 <= self.newest.0);
        points.range(first.saturating_sub(1)..(last + 1).min(points.len()))
    }
}

/// A window on time and pitch.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sheet {
    /// How time lies on it.
    pub times: Times,
    /// Where it is drawn, in points.
    pub y: Rangef,
    /// The pitch in the middle of the height, as a distance from A4.
    pub middle: Cents,
    /// How far above and below the middle the height reaches.
    pub reach: Cents,
}

impl Sheet {
    /// Where it is drawn.
    pub fn rect(&self) -> Rect {
        Rect::from_x_y_ranges(self.times.x, self.y)
    }

    /// Where `pitch` lies, in points; higher is further up.
    pub fn y_from_cents(&self, pitch: Cents) -> f32 {
        let above = (pitch.0 - self.middle.0) / self.reach.0;
        self.y.center() - above as f32 * self.y.span() / 2.0
    }

    /// Where time and pitch meet.
    pub fn place(&self, time: Secs, pitch: Cents) -> Pos2 {
        pos2(self.times.x_from_secs(time), self.y_from_cents(pitch))
    }

    /// Whether `pitch` lies within the height.
    pub fn shows(&self, pitch: Cents) -> bool {
        (pitch.0 - self.middle.0).abs() <= self.reach.0
    }
}

/// A line without a gap.
#[derive(Clone, Debug, PartialEq)]
pub struct Line {
    /// Drawn with the full pen: a note sounds and the pitch is sure enough.
    pub sure: bool,
    /// Its corners, in order of time: when, and the value there.
    pub corners: Vec<(Secs, f64)>,
}

/// The lines of a value that runs with the pitch, such as the pitch itself in cents: thin where
/// `in_note` says that no note sounds (a string that rings off has a pitch too) or where the pitch is
/// doubtful; broken wherever there is no pitch, where it is too unsure (outside a note: where it is doubtful, or
/// does not hold, for there it is the bow that catches or leaves the string), where a frame is missing and where the value leaps; thinned to the lowest and the highest point of each column of pixels.
/// Columns are counted from time 0, so the same points are kept while the trace flows. Points come in
/// order of time, and `in_note` is asked in that order.
pub fn lines<'a>(
    points: impl IntoIterator<Item = &'a Point>,
    times: &Times,
    value: impl Fn(&Point) -> Option<f64>,
    mut in_note: impl FnMut(Secs) -> bool,
) -> Vec<Line> {
    let mut lines: Vec<Line> = Vec::new();
    let mut pen: Option<Pen> = None;
    let column_secs = times.column_secs();
    let (mut before, mut held): (Option<Cents>, usize) = (None, 0);
    for point in points {
        let within = in_note(point.time);
        let step = before.zip(point.pitch).map(|(before, pitch)| (pitch.0 - before.0).abs());
        let holds = point.joined && step.is_some_and(|step| step <= HOLDS_CENTS);
        held = if holds { held + 1 } else { 0 };
        before = point.pitch;
        let shown = if within {
            point.confidence >= OPEN_BELOW
        } else {
            point.confidence >= DOUBTFUL_BELOW && held >= HOLDS_FRAMES
        };
        let shown = shown && point.pitch.is_some();
        let Some(value) = value(point).filter(|_| shown) else {
            lift(&mut pen, &mut lines);
            continue;
        };
        let at = (point.time, value);
        let sure = point.confidence >= DOUBTFUL_BELOW && within;
        let column = (point.time.0 / column_secs).floor() as i64;
        match &mut pen {
            Some(pen) if point.joined && (value - pen.last.1).abs() <= LEAP => {
                if pen.line.sure == sure {
                    pen.draw(column, at);
                    continue;
                }
                let mut next = Pen::new(sure, column, pen.last);
                next.draw(column, at);
                lines.push(std::mem::replace(pen, next).lifted());
            }
            _ => {
                lift(&mut pen, &mut lines);
                pen = Some(Pen::new(sure, column, at));
            }
        }
    }
    lift(&mut pen, &mut lines);
    lines
}

impl Picture {
    /// Draws lines with one of two pens, as they are sure or not, as far as they lie within `area`.
    pub fn lines(
        &mut self,
        (sure, faint): (Meaning, Meaning),
        lines: &[Line],
        area: Rect,
        place: impl Fn(Secs, f64) -> Pos2,
    ) {
        for line in lines {
            let corners: Vec<Pos2> = line.corners.iter().map(|&(t, v)| place(t, v)).collect();
            let meaning = if line.sure { sure } else { faint };
            for part in clipped(&corners, area) {
                self.line(meaning, part);
            }
        }
    }
}

impl Sheet {
    /// Where a line of it may run: a little beyond its upper and lower edge.
    pub fn room(&self) -> Rect {
        self.rect().expand2(vec2(0.0, 2.0))
    }
}

/// A line being drawn and the column it is in.
struct Pen {
    line: Line,
    column: i64,
    low: (Secs, f64),
    high: (Secs, f64),
    last: (Secs, f64),
}

impl Pen {
    fn new(sure: bool, column: i64, at: (Secs, f64)) -> Self {
        Self { line: Line { sure, corners: Vec::new() }, column, low: at, high: at, last: at }
    }

    fn draw(&mut self, column: i64, at: (Secs, f64)) {
        if column == self.column {
            if at.1 < self.low.1 {
                self.low = at;
            }
            if at.1 > self.high.1 {
                self.high = at;
            }
        } else {
            self.close_column();
            (self.column, self.low, self.high) = (column, at, at);
        }
        self.last = at;
    }

    fn lifted(mut self) -> Line {
        self.close_column();
        self.line
    }

    fn close_column(&mut self) {
        let (low, high) = (self.low, self.high);
        let (first, second) = if low.0 <= high.0 { (low, high) } else { (high, low) };
        self.line.corners.push(first);
        if second != first {
            self.line.corners.push(second);
        }
    }
}

fn lift(pen: &mut Option<Pen>, lines: &mut Vec<Line>) {
    lines.extend(pen.take().map(Pen::lifted));
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sheet(width: f32) -> Sheet {
        Sheet {
            times: Times {
                x: Rangef::new(50.0, 50.0 + width),
                newest: Secs(20.0),
                span: Secs(8.0),
            },
            y: Rangef::new(20.0, 260.0),
            middle: Cents(-300.0),
            reach: Cents(120.0),
        }
    }

    fn drawn(points: &[Point], width: f32, in_note: impl FnMut(Secs) -> bool) -> Vec<Line> {
        let pitch = |point: &Point| point.pitch.map(|pitch| pitch.0);
        lines(points, &sheet(width).times, pitch, in_note)
    }

    fn wave(from: f64, count: usize) -> Vec<Point> {
        (0..count)
            .map(|i| {
                let time = from + i as f64 * 0.005;
                Point {
                    time: Secs(time),
                    pitch: Some(Cents(-300.0 + 20.0 * (time * 36.0).sin())),
                    confidence: 0.95,
                    level_dbfs: -20.0,
                    joined: i > 0,
                }
            })
            .collect()
    }

    #[test]
    fn time_flows_from_right_to_left() {
        let sheet = sheet(800.0);
        assert_eq!(sheet.times.x_from_secs(Secs(20.0)), 850.0);
        assert_eq!(sheet.times.x_from_secs(Secs(12.0)), 50.0);
        assert_eq!(sheet.times.x_from_secs(Secs(16.0)), 450.0);
    }

    #[test]
    fn higher_pitch_lies_higher() {
        let sheet = sheet(800.0);
        assert_eq!(sheet.y_from_cents(Cents(-300.0)), 140.0);
        assert_eq!(sheet.y_from_cents(Cents(-180.0)), 20.0);
        assert_eq!(sheet.y_from_cents(Cents(-420.0)), 260.0);
        assert!(sheet.shows(Cents(-181.0)) && !sheet.shows(Cents(-179.0)));
    }

    #[test]
    fn an_unbroken_note_is_one_line() {
        let lines = drawn(&wave(12.0, 400), 4000.0, |_| true);
        assert_eq!(lines.len(), 1);
        assert_eq!(lines[0].corners.len(), 400, "wide enough to keep all");
        assert!(lines[0].sure);
    }

    #[test]
    fn silence_doubt_and_lost_frames_stay_open() {
        let silent = |points: &mut Vec<Point>| points[100].pitch = None;
        let unsure = |points: &mut Vec<Point>| points[100].confidence = OPEN_BELOW - 0.01;
        let lost = |points: &mut Vec<Point>| points[100].joined = false;
        for (what, spoil) in
            [("silent", &silent as &dyn Fn(&mut Vec<Point>)), ("unsure", &unsure), ("lost", &lost)]
        {
            let mut points = wave(12.0, 200);
            spoil(&mut points);
            let lines = drawn(&points, 4000.0, |_| true);
            assert_eq!(lines.len(), 2, "{what}");
            let end = lines[0].corners.last().map(|c| c.0);
            assert_eq!(end, Some(points[99].time), "{what}");
            let start = lines[1].corners[0].0;
            assert!(start >= points[100].time, "{what}");
        }
    }

    #[test]
    fn what_rings_on_after_the_note_is_drawn_thin() {
        let points = wave(12.0, 100);
        let end = points[60].time;
        let lines = drawn(&points, 4000.0, |time| time <= end);
        let pens: Vec<bool> = lines.iter().map(|line| line.sure).collect();
        assert_eq!(pens, [true, false]);
        assert_eq!(lines[0].corners.last().map(|corner| corner.0), Some(end));
    }

    #[test]
    fn doubtful_frames_are_drawn_within_a_note_but_not_beside_it() {
        let mut points = wave(12.0, 100);
        let end = points[60].time;
        for point in &mut points[50..70] {
            point.confidence = DOUBTFUL_BELOW - 0.1;
        }
        let lines = drawn(&points, 4000.0, |time| time <= end);
        let pens: Vec<bool> = lines.iter().map(|line| line.sure).collect();
        assert_eq!(pens, [true, false, false]);
        assert_eq!(lines[1].corners.last().map(|corner| corner.0), Some(end));
        assert_eq!(lines[2].corners.first().map(|corner| corner.0), Some(points[70].time));
    }

    #[test]
    fn where_the_bow_has_left_and_the_pitch_slides_off_nothing_is_drawn() {
        let mut points = wave(12.0, 100);
        let end = points[60].time;
        for (i, point) in points[61..85].iter_mut().enumerate() {
            point.pitch = point.pitch.map(|pitch| Cents(pitch.0 + 60.0 - 10.0 * i as f64));
        }
        let lines = drawn(&points, 4000.0, |time| time <= end);
        let last: Vec<bool> = lines.iter().map(|line| line.sure).collect();
        assert_eq!(last, [true, false], "the note, and what holds again later");
        assert_eq!(lines[0].corners.last().map(|corner| corner.0), Some(end));
        assert!(lines[1].corners[0].0 >= points[85 + HOLDS_FRAMES].time);
    }

    #[test]
    fn a_leap_is_not_joined() {
        let mut points = wave(12.0, 50);
        points.extend(wave(12.25, 50).into_iter().map(|mut p| {
            p.pitch = p.pitch.map(|pitch| Cents(pitch.0 + 1200.0));
            p.joined = true;
            p
        }));
        assert_eq!(drawn(&points, 4000.0, |_| true).len(), 2);
    }

    #[test]
    fn doubt_changes_the_pen_but_not_the_course() {
        let mut points = wave(12.0, 90);
        for point in &mut points[30..60] {
            point.confidence = DOUBTFUL_BELOW - 0.1;
        }
        let lines = drawn(&points, 4000.0, |_| true);
        let pens: Vec<bool> = lines.iter().map(|line| line.sure).collect();
        assert_eq!(pens, [true, false, true]);
        for pair in lines.windows(2) {
            assert_eq!(pair[0].corners.last(), pair[1].corners.first());
        }
    }

    #[test]
    fn thinning_keeps_the_low_and_the_high_of_each_column() {
        let points = wave(12.0, 1600);
        let narrow = sheet(100.0).times;
        let lines = drawn(&points, 100.0, |_| true);
        let corners = &lines[0].corners;
        assert!(corners.len() <= 2 * 101, "{}", corners.len());
        assert!(corners.windows(2).all(|pair| pair[0].0 < pair[1].0));
        let column = |time: Secs| (time.0 / narrow.column_secs()).floor() as i64;
        for at in corners {
            assert!(points.iter().any(|p| p.time == at.0 && p.pitch == Some(Cents(at.1))));
        }
        for point in &points {
            let same = corners.iter().filter(|c| column(c.0) == column(point.time));
            let (low, high) =
                same.fold((f64::MAX, f64::MIN), |(low, high), c| (low.min(c.1), high.max(c.1)));
            let pitch = point.pitch.expect("the wave has no gap").0;
            assert!(low <= pitch && pitch <= high, "{low} {pitch} {high}");
        }
    }

    #[test]
    fn the_same_points_are_kept_while_the_trace_flows() {
        let points = wave(12.0, 1600);
        let now = sheet(300.0).times;
        let later = Times { newest: Secs(20.0033), ..now };
        let pitch = |point: &Point| point.pitch.map(|pitch| pitch.0);
        assert_eq!(lines(&points, &now, pitch, |_| true), lines(&points, &later, pitch, |_| true));
    }

    #[test]
    fn only_what_is_seen_is_drawn() {
        let points: VecDeque<Point> = wave(4.0, 3200).into();
        let times = sheet(800.0).times;
        let seen: Vec<f64> = times.seen(&points).map(|point| point.time.0).collect();
        assert!((seen[0] - 11.995).abs() < 1e-9, "one before the edge: {}", seen[0]);
        assert_eq!(seen.len(), 1601);
    }
}
