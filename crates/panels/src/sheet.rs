//! Where time and pitch lie on the trace, and which lines are drawn: geometry alone, no painting.

use crate::stand::picture::Point;
use egui::{Pos2, Rect, pos2};
use tuning::{Cents, Secs};

/// Below this confidence the trace is drawn thin and soft.
pub const DOUBTFUL_BELOW: f64 = 0.6;
/// Below this confidence the trace is left open.
pub const OPEN_BELOW: f64 = 0.25;
/// A leap from one frame to the next that no bowed string makes in 5 ms: not joined by a line.
const LEAP_CENTS: f64 = 90.0;

/// A window on time and pitch.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sheet {
    /// Where it is drawn, in points.
    pub rect: Rect,
    /// The instant at the right edge.
    pub newest: Secs,
    /// How much time the width stands for.
    pub span: Secs,
    /// The pitch in the middle of the height, as a distance from A4.
    pub middle: Cents,
    /// How far above and below the middle the height reaches.
    pub reach: Cents,
}

impl Sheet {
    /// Where `time` lies, in points from the left of the window; later is further right.
    pub fn x_from_secs(&self, time: Secs) -> f32 {
        let ago = (self.newest.0 - time.0) / self.span.0;
        self.rect.right() - ago as f32 * self.rect.width()
    }

    /// Where `pitch` lies, in points from the top of the window; higher is further up.
    pub fn y_from_cents(&self, pitch: Cents) -> f32 {
        let above = (pitch.0 - self.middle.0) / self.reach.0;
        self.rect.center().y - above as f32 * self.rect.height() / 2.0
    }

    /// Where the two meet.
    pub fn place(&self, time: Secs, pitch: Cents) -> Pos2 {
        pos2(self.x_from_secs(time), self.y_from_cents(pitch))
    }

    /// Whether `pitch` lies within the height.
    pub fn shows(&self, pitch: Cents) -> bool {
        (pitch.0 - self.middle.0).abs() <= self.reach.0
    }

    /// The time that one column of pixels stands for.
    fn column_secs(&self) -> f64 {
        self.span.0 / f64::from(self.rect.width().max(1.0))
    }
}

/// A line without a gap.
#[derive(Clone, Debug, PartialEq)]
pub struct Line {
    /// Drawn with the full pen: a note sounds and the pitch is sure enough.
    pub sure: bool,
    /// Its corners, in order of time.
    pub corners: Vec<(Secs, Cents)>,
}

/// The lines of the trace, thin where `in_note` says that no note sounds (a string that rings off
/// has a pitch too) or where the pitch is doubtful: broken wherever there is no pitch, where it is too unsure, where a frame
/// is missing and where it leaps; thinned to the lowest and the highest point of each column of
/// pixels. Columns are counted from time 0, so the same points are kept while the trace flows.
pub fn lines<'a>(
    points: impl IntoIterator<Item = &'a Point>,
    sheet: &Sheet,
    in_note: impl Fn(Secs) -> bool,
) -> Vec<Line> {
    let mut lines: Vec<Line> = Vec::new();
    let mut pen: Option<Pen> = None;
    for point in points {
        let pitch = point.pitch.filter(|_| point.confidence >= OPEN_BELOW);
        let Some(pitch) = pitch else {
            lift(&mut pen, &mut lines);
            continue;
        };
        let at = (point.time, pitch);
        let sure = point.confidence >= DOUBTFUL_BELOW && in_note(point.time);
        let column = (point.time.0 / sheet.column_secs()).floor() as i64;
        let goes_on = pen
            .as_ref()
            .is_some_and(|pen| point.joined && (pitch.0 - pen.last.1.0).abs() <= LEAP_CENTS);
        let joint = pen.as_ref().map(|pen| pen.last);
        if !goes_on {
            lift(&mut pen, &mut lines);
            pen = Some(Pen::new(sure, column, at));
        } else if pen.as_ref().is_some_and(|pen| pen.line.sure != sure) {
            lift(&mut pen, &mut lines);
            let mut next = Pen::new(sure, column, joint.unwrap_or(at));
            next.draw(column, at);
            pen = Some(next);
        } else if let Some(pen) = &mut pen {
            pen.draw(column, at);
        }
    }
    lift(&mut pen, &mut lines);
    lines
}

/// A line being drawn and the column it is in.
struct Pen {
    line: Line,
    column: i64,
    low: (Secs, Cents),
    high: (Secs, Cents),
    last: (Secs, Cents),
}

impl Pen {
    fn new(sure: bool, column: i64, at: (Secs, Cents)) -> Self {
        Self {
            line: Line {
                sure,
                corners: Vec::new(),
            },
            column,
            low: at,
            high: at,
            last: at,
        }
    }

    fn draw(&mut self, column: i64, at: (Secs, Cents)) {
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

    fn close_column(&mut self) {
        let (low, high) = (self.low, self.high);
        let (first, second) = if low.0 <= high.0 {
            (low, high)
        } else {
            (high, low)
        };
        self.line.corners.push(first);
        if second != first {
            self.line.corners.push(second);
        }
    }
}

fn lift(pen: &mut Option<Pen>, lines: &mut Vec<Line>) {
    if let Some(mut pen) = pen.take() {
        pen.close_column();
        lines.push(pen.line);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use egui::vec2;

    fn sheet(width: f32) -> Sheet {
        Sheet {
            rect: Rect::from_min_size(pos2(50.0, 20.0), vec2(width, 240.0)),
            newest: Secs(20.0),
            span: Secs(8.0),
            middle: Cents(-300.0),
            reach: Cents(120.0),
        }
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
        assert_eq!(sheet.x_from_secs(Secs(20.0)), 850.0);
        assert_eq!(sheet.x_from_secs(Secs(12.0)), 50.0);
        assert_eq!(sheet.x_from_secs(Secs(16.0)), 450.0);
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
        let lines = lines(&wave(12.0, 400), &sheet(4000.0), |_| true);
        assert_eq!(lines.len(), 1);
        assert_eq!(lines[0].corners.len(), 400, "wide enough to keep all");
        assert!(lines[0].sure);
    }

    #[test]
    fn silence_doubt_and_lost_frames_stay_open() {
        let silent = |points: &mut Vec<Point>| points[100].pitch = None;
        let unsure = |points: &mut Vec<Point>| points[100].confidence = OPEN_BELOW - 0.01;
        let lost = |points: &mut Vec<Point>| points[100].joined = false;
        for (what, spoil) in [
            ("silent", &silent as &dyn Fn(&mut Vec<Point>)),
            ("unsure", &unsure),
            ("lost", &lost),
        ] {
            let mut points = wave(12.0, 200);
            spoil(&mut points);
            let lines = lines(&points, &sheet(4000.0), |_| true);
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
        let lines = lines(&points, &sheet(4000.0), |time| time <= end);
        let pens: Vec<bool> = lines.iter().map(|line| line.sure).collect();
        assert_eq!(pens, [true, false]);
        assert_eq!(lines[0].corners.last().map(|corner| corner.0), Some(end));
    }

    #[test]
    fn a_leap_is_not_joined() {
        let mut points = wave(12.0, 50);
        points.extend(wave(12.25, 50).into_iter().map(|mut p| {
            p.pitch = p.pitch.map(|pitch| Cents(pitch.0 + 1200.0));
            p.joined = true;
            p
        }));
        assert_eq!(lines(&points, &sheet(4000.0), |_| true).len(), 2);
    }

    #[test]
    fn doubt_changes_the_pen_but_not_the_course() {
        let mut points = wave(12.0, 90);
        for point in &mut points[30..60] {
            point.confidence = DOUBTFUL_BELOW - 0.1;
        }
        let lines = lines(&points, &sheet(4000.0), |_| true);
        let pens: Vec<bool> = lines.iter().map(|line| line.sure).collect();
        assert_eq!(pens, [true, false, true]);
        for pair in lines.windows(2) {
            assert_eq!(pair[0].corners.last(), pair[1].corners.first());
        }
    }

    #[test]
    fn thinning_keeps_the_low_and_the_high_of_each_column() {
        let points = wave(12.0, 1600);
        let narrow = sheet(100.0);
        let lines = lines(&points, &narrow, |_| true);
        let corners = &lines[0].corners;
        assert!(corners.len() <= 2 * 101, "{}", corners.len());
        assert!(corners.windows(2).all(|pair| pair[0].0 < pair[1].0));
        let column = |time: Secs| (time.0 / narrow.column_secs()).floor() as i64;
        for at in corners {
            assert!(
                points
                    .iter()
                    .any(|p| p.time == at.0 && p.pitch == Some(at.1))
            );
        }
        for point in &points {
            let same = corners.iter().filter(|c| column(c.0) == column(point.time));
            let (low, high) = same.fold((f64::MAX, f64::MIN), |(low, high), c| {
                (low.min(c.1.0), high.max(c.1.0))
            });
            let pitch = point.pitch.expect("the wave has no gap").0;
            assert!(low <= pitch && pitch <= high, "{low} {pitch} {high}");
        }
    }

    #[test]
    fn the_same_points_are_kept_while_the_trace_flows() {
        let points = wave(12.0, 1600);
        let now = sheet(300.0);
        let later = Sheet {
            newest: Secs(20.0033),
            ..now
        };
        assert_eq!(
            lines(&points, &now, |_| true),
            lines(&points, &later, |_| true)
        );
    }
}
