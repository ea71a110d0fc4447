//! Pictures as data: marks named by what they mean, which the window and the report paint.
//!
//! A picture is made by a function that takes what was measured and an area, and says where each mark lies. What a
//! mark looks like stands in one table ([`Meaning::look`]), what its ink is on each paper in another ([`Ink::on`]). So
//! whoever paints needs no more than the five shapes of [`Shape`]; [`svg`] is one painter, the window has the other.
//!
//! ```
//! use emath::{Align2, Rect, pos2, vec2};
//! use pictures::{Axis, Meaning, Paper, Picture, RATE, Sizes, svg};
//!
//! let area = Rect::from_min_size(pos2(0.0, 0.0), vec2(360.0, 60.0));
//! let mut picture = Picture::new(area, &Sizes::USUAL);
//! let rates = Axis::new(RATE, area.left() + 10.0, area.right() - 10.0);
//! picture.hline(Meaning::Axis, rates.at_from..=rates.at_to, 30.0);
//! picture.dot(Meaning::Past, pos2(rates.at(5.6), 20.0), 3.0);
//! picture.text(Meaning::ScaleNumber, pos2(rates.at(5.6), 34.0), Align2::CENTER_TOP, "5.6");
//! picture.says = "one oscillation, at 5.6 Hz".to_owned();
//! assert!(svg(&picture, "A rate", Paper::Light).into_string().contains("past"));
//! ```
//!
//! Opens no file, reads no clock, knows no window.

pub mod bars;
mod bow;
pub mod days;
mod face;
mod face_file;
pub mod field;
pub mod gauge;
mod ink;
mod meaning;
mod note_value;
pub mod overlay;
pub mod phrase;
pub mod played;
mod played_ribbon;
pub mod reached;
mod ribbon;
mod scale;
pub mod sheet;
mod sizes;
mod staff;
pub mod stretch;
pub mod strip;
mod svg;
pub mod take;
mod time_axis;
mod trace;
pub mod way;

pub use bow::bow_line;
pub use face::Face;
pub use ink::{Colour, Ink, Paper};
pub use meaning::{Look, Meaning, Type};
pub use played_ribbon::{HeardPoint, Sounded, played_ribbons};
pub use ribbon::{POINTS_A_CENT, planned_ribbons};
pub use scale::{Axis, FIELD_RATE, OFFSET, RATE, SPREAD, Scale, Tick, WIDTH, round_step};
pub use sizes::{Grown, Sizes};
pub use staff::Staff;
pub use svg::svg;
pub use time_axis::{Clock, through, time_axis};
pub use trace::{Against, Traced, newest, trace, track};

use emath::{Align, Align2, Pos2, Rangef, Rect, pos2};

/// The shape of a mark; lengths are in points, y runs downwards.
#[derive(Clone, Debug, PartialEq)]
pub enum Shape {
    /// A line through at least two corners.
    Line(Vec<Pos2>),
    /// A closed shape, convex where it is filled.
    Polygon(Vec<Pos2>),
    /// A rectangle.
    Rect(Rect),
    /// A circle.
    Circle {
        /// Its middle.
        middle: Pos2,
        /// Its radius.
        radius: f32,
    },
    /// Words in one line.
    Words {
        /// Where their foot (baseline) is, at their beginning, middle or end as `align` says.
        foot: Pos2,
        /// What of them lies there.
        align: Align,
        /// The words.
        words: String,
        /// Their type size.
        size: f32,
    },
}

/// Something that is seen.
#[derive(Clone, Debug, PartialEq)]
pub struct Mark {
    /// What it means; how it looks follows from that.
    pub meaning: Meaning,
    /// What shape it has, and where it lies.
    pub shape: Shape,
    /// How much of its ink there is: 1 for all, 0 for paper only.
    pub strength: f32,
}

/// Marks in the order in which they are painted, one over the other.
#[derive(Clone, Debug, PartialEq)]
pub struct Picture {
    /// Where it lies.
    pub area: Rect,
    /// The sizes it was laid out with.
    pub sizes: Sizes,
    /// What is seen.
    pub marks: Vec<Mark>,
    /// The same in words.
    pub says: String,
}

impl Picture {
    /// An empty picture.
    pub fn new(area: Rect, sizes: &Sizes) -> Self {
        Self { area, sizes: sizes.clone(), marks: Vec::new(), says: String::new() }
    }

    /// Adds a mark.
    pub fn mark(&mut self, meaning: Meaning, shape: Shape) -> &mut Mark {
        self.marks.push(Mark { meaning, shape, strength: 1.0 });
        let last = self.marks.len() - 1;
        &mut self.marks[last]
    }

    /// A line through these corners; one alone is a dot as wide as the pen, none is nothing.
    pub fn line(&mut self, meaning: Meaning, corners: Vec<Pos2>) {
        match corners[..] {
            [] => {}
            [only] => {
                let half = meaning.look().width(&self.sizes, 1.0) / 2.0;
                let ends = vec![pos2(only.x - half, only.y), pos2(only.x + half, only.y)];
                self.mark(meaning, Shape::Line(ends));
            }
            _ => {
                self.mark(meaning, Shape::Line(corners));
            }
        }
    }

    /// A level line.
    pub fn hline(&mut self, meaning: Meaning, x: impl Into<Rangef>, y: f32) {
        let x = x.into();
        self.mark(meaning, Shape::Line(vec![pos2(x.min, y), pos2(x.max, y)]));
    }

    /// An upright line.
    pub fn vline(&mut self, meaning: Meaning, x: f32, y: impl Into<Rangef>) {
        let y = y.into();
        self.mark(meaning, Shape::Line(vec![pos2(x, y.min), pos2(x, y.max)]));
    }

    /// A closed shape.
    pub fn polygon(&mut self, meaning: Meaning, corners: Vec<Pos2>) {
        self.mark(meaning, Shape::Polygon(corners));
    }

    /// A rectangle; its edge, if it has one, lies within it.
    pub fn rect(&mut self, meaning: Meaning, rect: Rect) {
        let look = meaning.look();
        let edge = look.line.map_or(0.0, |_| look.width(&self.sizes, 1.0));
        let within = edge.min(rect.width()).min(rect.height()) / 2.0;
        self.mark(meaning, Shape::Rect(rect.shrink(within)));
    }

    /// A circle.
    pub fn dot(&mut self, meaning: Meaning, middle: Pos2, radius: f32) {
        self.mark(meaning, Shape::Circle { middle, radius });
    }

    /// Words beside, above or at a place.
    pub fn text(&mut self, meaning: Meaning, at: Pos2, align: Align2, words: impl Into<String>) {
        let size = self.type_of(meaning).1;
        self.text_sized(meaning, at, align, words, size);
    }

    /// Words in type of another size than is usual for their meaning.
    pub fn text_sized(
        &mut self,
        meaning: Meaning,
        at: Pos2,
        align: Align2,
        words: impl Into<String>,
        size: f32,
    ) {
        let face = meaning.look().words.0;
        let down = match align.y() {
            Align::Min => face.ascent(size),
            Align::Center => face.ascent(size) - face.row(size) / 2.0,
            Align::Max => face.ascent(size) - face.row(size),
        };
        let foot = pos2(at.x, at.y + down);
        self.mark(meaning, Shape::Words { foot, align: align.x(), words: words.into(), size });
    }

    /// Words with their foot (baseline) at `foot`, from there on; says where they end.
    pub fn write(&mut self, meaning: Meaning, foot: Pos2, words: &str) -> f32 {
        let size = self.type_of(meaning).1;
        self.write_sized(meaning, foot, words, size)
    }

    /// The same in type of another size.
    pub fn write_sized(&mut self, meaning: Meaning, foot: Pos2, words: &str, size: f32) -> f32 {
        let shape = Shape::Words { foot, align: Align::Min, words: words.to_owned(), size };
        self.mark(meaning, shape);
        foot.x + meaning.look().words.0.width(words, size)
    }

    /// Writes a caption and under it a unit with its doubt beside a large figure, whose foot is that of `foot`; in one
    /// line where two are taller than the figure.
    pub fn write_beside(&mut self, foot: Pos2, right: f32, caption: &str, unit: &str) {
        let room = right - foot.x;
        let rise = 1.45 * self.sizes.word;
        if rise + 0.75 * self.sizes.caption > self.sizes.figure_height {
            let line = format!("{caption}, {unit}");
            let size = self.fitting(Meaning::Word, &line, room);
            self.write_sized(Meaning::Word, foot, &line, size);
            return;
        }
        let size = self.fitting(Meaning::Word, unit, room);
        self.write_sized(Meaning::Word, foot, unit, size);
        let size = self.fitting(Meaning::Caption, caption, room);
        self.write_sized(Meaning::Caption, pos2(foot.x, foot.y - rise), caption, size);
    }

    /// The face and type size of words of this meaning.
    fn type_of(&self, meaning: Meaning) -> (Face, f32) {
        let (face, size) = meaning.look().words;
        (face, size.size(&self.sizes))
    }

    /// How wide words of this meaning are.
    pub fn width(&self, meaning: Meaning, words: &str) -> f32 {
        let (face, size) = self.type_of(meaning);
        face.width(words, size)
    }

    /// The usual type size of words of this meaning, or a smaller one in which they fit into `room`.
    pub fn fitting(&self, meaning: Meaning, words: &str, room: f32) -> f32 {
        let (face, size) = self.type_of(meaning);
        let wide = face.width(words, size);
        if wide > room { size * (room / wide).max(0.0) } else { size }
    }
}

/// The parts of a line that lie within `rect`.
pub fn clipped(corners: &[Pos2], rect: Rect) -> Vec<Vec<Pos2>> {
    let mut parts: Vec<Vec<Pos2>> = Vec::new();
    if let [only] = corners {
        return if rect.contains(*only) { vec![vec![*only]] } else { parts };
    }
    if corners.len() > 1 && corners.iter().all(|corner| rect.contains(*corner)) {
        return vec![corners.to_vec()];
    }
    for pair in corners.windows(2) {
        let Some((from, to)) = segment_within(pair[0], pair[1], rect) else {
            continue;
        };
        match parts.last_mut() {
            Some(part) if part.last() == Some(&from) => part.push(to),
            _ => parts.push(vec![from, to]),
        }
    }
    parts
}

/// The part of a segment that lies within `rect`: J. D. Foley and others, "Computer Graphics", the way of Liang and
/// Barsky (from memory): along each of four sides the share of the segment at which it comes in or goes out.
fn segment_within(from: Pos2, to: Pos2, rect: Rect) -> Option<(Pos2, Pos2)> {
    let along = to - from;
    let (mut first, mut last) = (0.0f32, 1.0f32);
    for (run, room) in [
        (-along.x, from.x - rect.left()),
        (along.x, rect.right() - from.x),
        (-along.y, from.y - rect.top()),
        (along.y, rect.bottom() - from.y),
    ] {
        if run == 0.0 {
            if room < 0.0 {
                return None;
            }
        } else if run < 0.0 {
            first = first.max(room / run);
        } else {
            last = last.min(room / run);
        }
    }
    let at = |share: f32| match share {
        0.0 => from,
        1.0 => to,
        _ => from + along * share,
    };
    (first <= last).then(|| (at(first), at(last)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use emath::vec2;

    fn area() -> Rect {
        Rect::from_min_size(pos2(0.0, 0.0), vec2(100.0, 50.0))
    }

    #[test]
    fn a_line_is_cut_where_it_leaves_the_area_and_goes_on_where_it_comes_back() {
        let zigzag = [pos2(10.0, 10.0), pos2(30.0, 90.0), pos2(50.0, 10.0), pos2(60.0, 20.0)];
        let parts = clipped(&zigzag, area());
        assert_eq!(parts.len(), 2);
        assert_eq!(parts[0], [pos2(10.0, 10.0), pos2(20.0, 50.0)]);
        assert_eq!(parts[1], [pos2(40.0, 50.0), pos2(50.0, 10.0), pos2(60.0, 20.0)]);
        assert!(clipped(&[pos2(-5.0, 0.0), pos2(-1.0, 60.0)], area()).is_empty());
        assert!(clipped(&[pos2(200.0, 0.0)], area()).is_empty());
    }

    #[test]
    fn words_stand_where_they_are_aligned() {
        let mut picture = Picture::new(area(), &Sizes::USUAL);
        let at = pos2(50.0, 25.0);
        for align in [Align2::CENTER_TOP, Align2::CENTER_CENTER, Align2::CENTER_BOTTOM] {
            picture.text(Meaning::ScaleNumber, at, align, "12");
        }
        let feet: Vec<f32> = picture
            .marks
            .iter()
            .map(|mark| match &mark.shape {
                Shape::Words { foot, .. } => foot.y - at.y,
                other => panic!("{other:?}"),
            })
            .collect();
        let row = Face::Words.row(15.0);
        assert!((feet[0] - feet[1] - row / 2.0).abs() < 1e-3, "{feet:?}");
        assert!((feet[1] - feet[2] - row / 2.0).abs() < 1e-3, "{feet:?}");
        assert!(feet[0] > 10.0 && feet[2] < 0.0, "{feet:?}");
    }

    #[test]
    fn the_edge_of_a_rectangle_lies_within_it() {
        let mut picture = Picture::new(area(), &Sizes::USUAL);
        picture.rect(Meaning::OscillationBar, area());
        picture.rect(Meaning::Doubt, area());
        assert_eq!(picture.marks[0].shape, Shape::Rect(area().shrink(0.5)));
        assert_eq!(picture.marks[1].shape, Shape::Rect(area()));
    }
}
