//! A gauge: a large figure, and below it a scale with the live value, its doubt as a soft band and
//! the last oscillations as fading marks.

use crate::scale::Scale;
use crate::{Meaning, Picture, Sizes};
use emath::{Align2, Rect, Vec2, pos2, vec2};
use tuning::figure::{doubt, number};

/// What a gauge shows.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Reading {
    /// Nothing sounds and nothing has sounded.
    Silent,
    /// The ear comes before the eye.
    Hidden,
    /// A note sounds, and it is too early to tell.
    Unknown,
    /// No vibrato, but something else: "straight".
    Said(&'static str),
    /// A value with its standard error.
    Value {
        /// The value.
        value: f64,
        /// Its standard error, if it can be told.
        se: Option<f64>,
    },
    /// Several values, which may be meant to differ: the least and the greatest.
    Between(f64, f64),
}

/// One gauge with what it shows.
#[derive(Clone, Debug, PartialEq)]
pub struct Gauge {
    /// What is measured.
    pub name: &'static str,
    /// Its unit.
    pub unit: &'static str,
    /// How values lie along the rail.
    pub scale: Scale,
    /// Decimals of the large figure.
    pub decimals: usize,
    /// The figure has a sign: it is a distance upwards or downwards.
    pub signed: bool,
    /// What is shown.
    pub reading: Reading,
    /// The band the player wants to stay in.
    pub wanted: Option<(f64, f64)>,
    /// The values of the last oscillations, oldest first.
    pub marks: Vec<f64>,
    /// It belongs to the note that sounds now; otherwise to the last one.
    pub live: bool,
}

/// So many past oscillations have room in the lane of a gauge at least.
pub const MARKS: usize = 12;
/// The least height of the lane above the rail (past oscillations, doubt, live value), and by how
/// much it grows where there is room.
const LANE: f32 = 20.0;
const LANE_GROWS: f32 = 30.0;
/// The head of the live value: half its width, and its height.
const HEAD: f32 = 7.0;
/// Room between figure and lane.
const UNDER_FIGURE: f32 = 7.0;
/// Lengths of the strokes of the rail, with a number and without.
const STROKE: f32 = 8.0;
const SHORT_STROKE: f32 = 5.0;
/// What the widest figure and its unit need.
const FIGURE_WIDTH: f32 = 152.0;
const UNIT_WIDTH: f32 = 6.0;
/// The bounds of a wanted band are written no larger than this, at the usual size of pens.
const WANTED: f32 = 19.0;
/// Paper between these words and their bracket, and between the bracket and the head of the value.
const OVER_BRACKET: f32 = 0.32;
const ABOVE_LANE: f32 = 2.0;
/// How far letters reach above their foot and below it, in type sizes, with a hair of paper.
const TALL: f32 = 0.77;
const BELOW: f32 = 0.26;
/// A mark fades with each newer one to this share, and never below the least.
const FADES: f32 = 0.82;
const FAINTEST: f32 = 0.11;

/// The least size of a gauge, with room for a wanted band if one is.
pub fn least_size(sizes: &Sizes, wanted: bool) -> Vec2 {
    let bracket = if wanted { bracket_height(sizes) } else { 0.0 };
    let grown = sizes.grown;
    vec2(
        FIGURE_WIDTH * grown.figures + UNIT_WIDTH * sizes.word,
        sizes.figure_height
            + UNDER_FIGURE * grown.strokes.min(1.0)
            + bracket
            + (HEAD + LANE) * grown.strokes
            + foot(sizes),
    )
}

fn wanted_size(sizes: &Sizes) -> f32 {
    sizes.scale.min(WANTED * sizes.grown.strokes)
}

/// Height of the mark of a wanted band, with its words clear of what stands beside the figure.
fn bracket_height(sizes: &Sizes) -> f32 {
    let size = wanted_size(sizes);
    let strokes = sizes.grown.strokes;
    let clear = BELOW * sizes.word + (TALL + OVER_BRACKET) * size + ABOVE_LANE * strokes;
    (clear - UNDER_FIGURE * strokes.min(1.0)).max(1.2 * size)
}

/// Room for strokes and numbers under the rail.
fn foot(sizes: &Sizes) -> f32 {
    9.0 * sizes.grown.strokes.min(1.0) + 1.15 * sizes.scale
}

/// Where the parts of a gauge lie.
struct Places {
    /// Foot of the large figure.
    figure: f32,
    /// Height of the lane above the rail.
    lane: f32,
    /// The rail.
    rail: Rect,
}

impl Places {
    fn of(area: Rect, gauge: &Gauge, sizes: &Sizes) -> Self {
        let wanted = gauge.wanted.is_some();
        let strokes = sizes.grown.strokes;
        let spare = (area.height() - least_size(sizes, wanted).y).max(0.0);
        let grown = spare.min(LANE_GROWS * strokes);
        let lane = LANE * strokes + grown;
        let figure = area.top() + (spare - grown) / 2.0 + sizes.figure_height;
        let bracket = if wanted { bracket_height(sizes) } else { 0.0 };
        let top = figure + UNDER_FIGURE * strokes.min(1.0) + bracket + HEAD * strokes + lane;
        // Half of the number at each end, of two and three signs.
        let (left, right) =
            (if gauge.signed { 0.95 } else { 0.4 } * sizes.scale, 0.95 * sizes.scale);
        Self {
            figure,
            lane,
            rail: Rect::from_min_max(
                pos2(area.left() + left, top),
                pos2(area.right() - right, top + 1.0),
            ),
        }
    }
}

impl Gauge {
    /// The value as it is written.
    fn wording(&self, value: f64) -> String {
        number(Some(value), self.decimals, self.signed)
    }

    /// The least and the greatest value as they are written.
    fn range(&self) -> String {
        let Reading::Between(least, most) = self.reading else {
            return String::new();
        };
        let (least, most) = (self.wording(least), self.wording(most));
        let to = if self.signed { " to " } else { "–" };
        if least == most { least } else { format!("{least}{to}{most}") }
    }

    /// What a screen reader says.
    pub fn spoken(&self) -> String {
        let of =
            if self.live || self.reading == Reading::Silent { "" } else { " of the last note" };
        let name = self.name;
        match self.reading {
            Reading::Silent => format!("{name}: no note"),
            Reading::Hidden => format!("{name}: hidden while you listen"),
            Reading::Unknown => format!("{name}{of}: unknown"),
            Reading::Said(word) => format!("{name}{of}: {word}"),
            Reading::Between(..) => format!("{name}{of}: {} {}", self.range(), self.unit),
            Reading::Value { value, se } => {
                format!(
                    "{name}{of}: {} {} {}",
                    self.wording(value),
                    self.unit,
                    doubt(se, self.decimals)
                )
            }
        }
    }

    /// The band of one standard error to either side, as x from left to right.
    fn band(&self, rail: Rect) -> Option<(f32, f32)> {
        match self.reading {
            Reading::Value { value, se: Some(se) } => {
                Some((self.x(rail, (value - se).max(self.scale.from)), self.x(rail, value + se)))
            }
            _ => None,
        }
    }

    fn x(&self, rail: Rect, value: f64) -> f32 {
        rail.left() + self.scale.share(value) * rail.width()
    }
}

/// How strongly a mark is drawn: the newest (`age` 0) fully, older ones ever less.
fn strength(age: usize) -> f32 {
    FADES.powi(i32::try_from(age).unwrap_or(i32::MAX)).max(FAINTEST)
}

/// Draws `gauge` into `area`.
pub fn gauge(picture: &mut Picture, area: Rect, gauge: &Gauge) {
    let places = Places::of(area, gauge, &picture.sizes);
    figure(picture, area, places.figure, gauge);
    rail(picture, places.rail, gauge);
    reading(picture, &places, gauge);
    wanted(picture, &places, gauge);
}

/// The figure with its unit and doubt, or the word in its place.
fn figure(picture: &mut Picture, area: Rect, foot: f32, gauge: &Gauge) {
    let (figures, word) = if gauge.live {
        (Meaning::Figure, Meaning::BigWord)
    } else {
        (Meaning::LastFigure, Meaning::LastBigWord)
    };
    let caption = if gauge.live || gauge.reading == Reading::Silent {
        gauge.name.to_owned()
    } else {
        format!("{}, last note", gauge.name)
    };
    // A word has letters that reach below its foot, where the words of a wanted band stand.
    let word_rise = match gauge.wanted {
        Some(_) => BELOW * (picture.sizes.big_word - picture.sizes.word).max(0.0),
        None => 0.0,
    };
    let is_value = matches!(gauge.reading, Reading::Value { .. });
    let foot = if is_value { foot } else { foot - word_rise };
    let at = pos2(area.left(), foot);
    let beside = 0.5 * picture.sizes.word;
    let right = match gauge.reading {
        Reading::Value { value, se } => {
            let said = gauge.wording(value);
            let slot = area.left() + picture.width(figures, "00");
            let right = picture.write(figures, at, &said).max(slot);
            let unit = format!("{} {}", gauge.unit, doubt(se, gauge.decimals));
            picture.write_beside(pos2(right + beside, foot), area.right(), &caption, &unit);
            return;
        }
        Reading::Between(..) => {
            let right = picture.write(word, at, &gauge.range());
            picture.write_beside(pos2(right + beside, foot), area.right(), &caption, gauge.unit);
            return;
        }
        Reading::Said(said) => picture.write(word, at, said),
        Reading::Unknown => picture.write(Meaning::LastBigWord, at, "–"),
        Reading::Hidden => picture.write(Meaning::LastBigWord, at, "hidden"),
        Reading::Silent => area.left() - beside,
    };
    let at = pos2(right + beside, foot);
    let size = picture.fitting(Meaning::Word, &caption, area.right() - at.x);
    picture.write_sized(Meaning::Word, at, &caption, size);
}

/// The rail with its strokes and numbers.
fn rail(picture: &mut Picture, rail: Rect, gauge: &Gauge) {
    picture.hline(Meaning::Axis, rail.x_range(), rail.top());
    let size = picture.sizes.scale;
    let strokes = picture.sizes.grown.strokes.min(1.0);
    let mut free_from = f32::NEG_INFINITY;
    for tick in gauge.scale.marks(8) {
        let x = gauge.x(rail, tick.value);
        let long = if tick.written { STROKE } else { SHORT_STROKE } * strokes;
        picture.vline(Meaning::Axis, x, rail.top()..=rail.top() + long);
        if !tick.written {
            continue;
        }
        let said = number(Some(tick.value), tick.decimals, gauge.signed);
        let half = picture.width(Meaning::ScaleNumber, &said) / 2.0;
        if x - half >= free_from {
            let at = pos2(x, rail.top() + STROKE * strokes);
            picture.text(Meaning::ScaleNumber, at, Align2::CENTER_TOP, said);
            free_from = x + half + 0.3 * size;
        }
    }
}

/// The doubt, the value and the past oscillations: the newest just above the rail, older ones ever
/// higher and fainter, so that the trail shows where the motion comes from.
fn reading(picture: &mut Picture, places: &Places, gauge: &Gauge) {
    let rail = places.rail;
    let foot = rail.top() - 1.0;
    let lane = foot - places.lane..=foot;
    if let Some((left, right)) = gauge.band(rail) {
        picture.rect(Meaning::Doubt, Rect::from_x_y_ranges(left..=right, lane.clone()));
    }
    let (stroke, head) = if gauge.live {
        (Meaning::Value, Meaning::ValueHead)
    } else {
        (Meaning::LastValue, Meaning::LastHead)
    };
    match gauge.reading {
        Reading::Value { value, .. } => {
            let x = gauge.x(rail, value);
            picture.vline(stroke, x, lane);
            let half = HEAD * picture.sizes.grown.strokes;
            let top = foot - places.lane;
            let (left, right) = (pos2(x - half, top - half), pos2(x + half, top - half));
            picture.polygon(head, vec![left, right, pos2(x, top + half / 2.0)]);
            beyond(picture, rail, gauge, head, (value, value));
        }
        Reading::Between(least, most) => beyond(picture, rail, gauge, head, (least, most)),
        // Without a value the cycles found so far may be chance.
        _ => return,
    }
    let radius = picture.sizes.mark;
    let rise = rise(places.lane, gauge.marks.len(), &picture.sizes);
    for (age, &value) in gauge.marks.iter().rev().enumerate().rev() {
        let middle = pos2(gauge.x(rail, value), foot - radius - rise * age as f32);
        // Of several notes none is older than another.
        let notes = matches!(gauge.reading, Reading::Between(..));
        picture.mark(Meaning::Past, crate::Shape::Circle { middle, radius }).strength =
            if notes { 1.0 } else { strength(age) };
    }
}

/// An arrowhead at each end of the rail beyond which a value lies.
fn beyond(
    picture: &mut Picture,
    rail: Rect,
    gauge: &Gauge,
    head: Meaning,
    (least, most): (f64, f64),
) {
    let half = 0.4 * picture.sizes.scale;
    let ends = [
        (least < gauge.scale.from, rail.left(), -half),
        (most > gauge.scale.to, rail.right(), half),
    ];
    for (_, x, outwards) in ends.into_iter().filter(|end| end.0) {
        let y = rail.top();
        let (up, down) = (pos2(x, y - half), pos2(x, y + half));
        picture.polygon(head, vec![up, down, pos2(x + 1.6 * outwards, y)]);
    }
}

/// How much higher each older oscillation is drawn than the next one, so that all lie in the lane.
fn rise(lane: f32, marks: usize, sizes: &Sizes) -> f32 {
    (lane - 2.0 * sizes.mark) / marks.max(MARKS) as f32
}

/// The wanted band: a bracket over the lane with its bounds in words, open below, so that nobody
/// takes it for the doubt.
fn wanted(picture: &mut Picture, places: &Places, gauge: &Gauge) {
    let Some((from, to)) = gauge.wanted else {
        return;
    };
    let rail = places.rail;
    let (left, right) = (gauge.x(rail, from), gauge.x(rail, to));
    let strokes = picture.sizes.grown.strokes;
    let (top, foot) = (rail.top() - places.lane - (HEAD + ABOVE_LANE) * strokes, rail.top());
    let corners = vec![pos2(left, foot), pos2(left, top), pos2(right, top), pos2(right, foot)];
    picture.line(Meaning::Wanted, corners);
    let said = format!("wanted {}–{}", gauge.wording(from), gauge.wording(to));
    let size = wanted_size(&picture.sizes);
    let half = Meaning::WantedWord.look().words.0.width(&said, size) / 2.0;
    let middle = ((left + right) / 2.0)
        .clamp(rail.left() + half, (rail.right() - half).max(rail.left() + half));
    let foot = pos2(middle - half, top - OVER_BRACKET * size);
    picture.write_sized(Meaning::WantedWord, foot, &said, size);
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{RATE, WIDTH};

    fn rail() -> Rect {
        Rect::from_min_size(pos2(100.0, 50.0), vec2(400.0, 1.0))
    }

    fn gauge(scale: Scale, reading: Reading) -> Gauge {
        Gauge {
            name: "width",
            unit: "cents",
            scale,
            decimals: 0,
            signed: false,
            reading,
            wanted: None,
            marks: Vec::new(),
            live: true,
        }
    }

    #[test]
    fn the_doubt_is_one_standard_error_to_either_side() {
        let reading = Reading::Value { value: 5.0, se: Some(0.5) };
        let (left, right) = gauge(RATE, reading).band(rail()).expect("a band");
        assert!((left - 280.0).abs() < 0.01 && (right - 320.0).abs() < 0.01);
        let unsure = Reading::Value { value: 5.0, se: None };
        assert_eq!(gauge(RATE, unsure).band(rail()), None);
    }

    #[test]
    fn marks_fade_with_age_and_never_vanish_within_the_dozen() {
        let all: Vec<f32> = (0..MARKS).map(strength).collect();
        let sizes = &Sizes::USUAL;
        let highest = sizes.mark + rise(LANE, MARKS, sizes) * (MARKS - 1) as f32;
        assert!(highest < LANE, "{highest} is beyond the lane");
        assert!((all[0] - 1.0).abs() < f32::EPSILON);
        assert!(all.windows(2).all(|pair| pair[1] < pair[0]));
        assert!(all.iter().all(|&strength| strength > 0.1), "{all:?}");
    }

    /// Where the letters of all texts of a gauge are, at the least.
    fn letters(picture: &Picture) -> Vec<(String, Rect)> {
        let of = |mark: &crate::Mark| {
            let crate::Shape::Words { foot, align, words, size } = &mark.shape else {
                return None;
            };
            let face = mark.meaning.look().words.0;
            let wide = face.width(words, *size);
            let left = foot.x - align.to_factor() * wide;
            // Figures have nothing below their foot.
            let figure = matches!(mark.meaning, Meaning::Figure | Meaning::LastFigure);
            let (tall, below) = if figure { (0.63, 0.0) } else { (0.75, 0.25) };
            let y = foot.y - tall * size..=foot.y + below * size;
            Some((words.clone(), Rect::from_x_y_ranges(left..=left + wide, y)))
        };
        picture.marks.iter().filter_map(of).collect()
    }

    #[test]
    fn no_two_texts_of_a_gauge_overlap_at_any_size() {
        let readings = [
            Reading::Value { value: 5.24, se: Some(0.06) },
            Reading::Value { value: 9.87, se: None },
            Reading::Between(4.92, 5.61),
            Reading::Said("straight"),
            Reading::Said("glides"),
            Reading::Unknown,
            Reading::Hidden,
            Reading::Silent,
        ];
        let mut seen = 0;
        for text in [0.75, 1.0, 1.25, 1.5, 2.0] {
            for figures in [0.42, 0.7, 1.0, 1.5, 2.0] {
                for strokes in [0.55, 1.0, 1.5, 2.0] {
                    let grown = crate::Grown { text, figures, strokes };
                    let sizes = Sizes::USUAL.scaled(grown);
                    for (reading, live) in
                        readings.iter().flat_map(|one| [(one, true), (one, false)])
                    {
                        for room in [vec2(0.0, 0.0), vec2(150.0, 14.0), vec2(500.0, 200.0)] {
                            let mut one = gauge(RATE, *reading);
                            (one.decimals, one.live, one.wanted) = (1, live, Some((4.8, 5.6)));
                            let size = least_size(&sizes, true) + room;
                            let area = Rect::from_min_size(pos2(10.0, 10.0), size);
                            let mut picture = Picture::new(area, &sizes);
                            super::gauge(&mut picture, area, &one);
                            let all = letters(&picture);
                            for (number, (words, place)) in all.iter().enumerate() {
                                for (other, there) in &all[number + 1..] {
                                    let over = place.intersect(*there);
                                    let apart = over.width() <= 0.0 || over.height() <= 0.0;
                                    assert!(apart, "{words} over {other}, {grown:?}, {reading:?}");
                                    seen += 1;
                                }
                            }
                        }
                    }
                }
            }
        }
        assert!(seen > 10_000, "{seen}");
    }

    #[test]
    fn a_value_beyond_the_scale_has_an_arrowhead_at_that_end() {
        let heads = |reading: Reading| {
            let mut picture = Picture::new(rail(), &Sizes::USUAL);
            let mut one = gauge(crate::OFFSET, reading);
            one.signed = true;
            let places = Places { figure: 0.0, lane: LANE, rail: rail() };
            super::reading(&mut picture, &places, &one);
            let polygons = picture.marks.into_iter().filter_map(|mark| match mark.shape {
                crate::Shape::Polygon(corners) => Some(corners),
                _ => None,
            });
            let tips = polygons.map(|corners| corners[2].x);
            tips.filter(|x| *x < rail().left() || *x > rail().right()).collect::<Vec<f32>>()
        };
        let value = |value| Reading::Value { value, se: None };
        assert!(heads(value(49.0)).is_empty() && heads(Reading::Between(-50.0, 50.0)).is_empty());
        assert!(matches!(heads(value(84.0))[..], [x] if x > rail().right()));
        assert!(matches!(heads(value(-84.0))[..], [x] if x < rail().left()));
        assert_eq!(heads(Reading::Between(-84.0, 51.0)).len(), 2);
    }

    #[test]
    fn notes_that_may_be_meant_to_differ_are_told_from_least_to_most() {
        assert_eq!(gauge(WIDTH, Reading::Between(22.2, 40.1)).spoken(), "width: 22–40 cents");
        assert_eq!(gauge(WIDTH, Reading::Between(31.8, 32.1)).spoken(), "width: 32 cents");
    }

    #[test]
    fn words_stand_where_there_is_no_value() {
        assert_eq!(gauge(WIDTH, Reading::Unknown).spoken(), "width: unknown");
        assert_eq!(gauge(WIDTH, Reading::Said("straight")).spoken(), "width: straight");
        let value = Reading::Value { value: 31.4, se: Some(2.2) };
        assert_eq!(gauge(WIDTH, value).spoken(), "width: 31 cents ±2");
    }
}
