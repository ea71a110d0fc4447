//! The rate-width field: the vibrato as one point that wanders in a plane, with a tail, among the
//! regions the player has named; or notes and turns as points in it, in the order in which they were played.

use crate::scale::{FIELD_RATE, RATE, Scale, WIDTH};
use crate::{Axis, Meaning, Picture, Shape, Sizes};
use coach::Region;
use emath::{Align2, Pos2, Rect, Vec2, pos2, vec2};
use tuning::{Cents, Hz};
use vibrato::Measure;

/// The least size of the plane between its axes, in points and in heights of its numbers.
const PLANE: Vec2 = vec2(190.0, 104.0);
const PLANE_NUMBERS: Vec2 = vec2(9.0, 7.0);
/// How much larger than a mark the point is, and its halo of paper.
const POINT: f32 = 2.4;
const HALO: f32 = 1.2;
/// A length of the corners that show a wanted band.
const CORNER: f32 = 9.0;
/// Corners of the ellipse of doubt.
const ELLIPSE: usize = 32;
/// So many points have their numbers beside them; of more the numbers would hide each other.
pub const MOST_NUMBERED: usize = 24;

/// The least size of the field.
pub fn least_size(sizes: &Sizes) -> Vec2 {
    (PLANE * sizes.grown.strokes.min(1.0)).max(PLANE_NUMBERS * sizes.scale) + axes(sizes)
}

/// Room for the numbers at the left and at the foot.
fn axes(sizes: &Sizes) -> Vec2 {
    vec2(2.4 * sizes.scale, 2.7 * sizes.scale)
}

/// One place of the vibrato in the field.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FieldPoint {
    /// Oscillations per second.
    pub rate: Hz,
    /// Crest to trough.
    pub width: Cents,
}

/// A vibrato in the field.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spot {
    /// Oscillations per second, and the doubt of that.
    pub rate: Measure<Hz>,
    /// Crest to trough, and the doubt of that.
    pub width: Measure<Cents>,
    /// It sounds now; otherwise it has ended.
    pub live: bool,
}

/// What is drawn.
pub struct Field<'a> {
    /// How rates lie, rightwards.
    pub rates: Scale,
    /// How widths lie, upwards.
    pub widths: Scale,
    /// The player's regions.
    pub regions: &'a [Region],
    /// The rates that are wanted.
    pub wanted_rate: Option<(Hz, Hz)>,
    /// The widths that are wanted.
    pub wanted_width: Option<(Cents, Cents)>,
    /// Where the vibrato came from, oldest first.
    pub tail: &'a [FieldPoint],
    /// Where it is.
    pub now: Option<Spot>,
    /// Notes or turns with their numbers, in the order in which they were played.
    pub played: &'a [(usize, Spot)],
    /// Words at the top of the plane.
    pub words: Option<&'a str>,
}

impl Field<'_> {
    /// An empty field on the scales of the gauges.
    pub const EMPTY: Self = Self {
        rates: RATE,
        widths: WIDTH,
        regions: &[],
        wanted_rate: None,
        wanted_width: None,
        tail: &[],
        now: None,
        played: &[],
        words: None,
    };
}

/// The name of the axis of widths stands over it, its highest number included, where the area is so many times as high as
/// the type; else at its foot, and the regions have the room.
const NAMED: f32 = 1.8;
const NAMED_FROM: f32 = 15.0;
/// Room around what is played or asked for, so that small differences are not blown up.
const RATE_ROOM: Hz = Hz(0.6);
const WIDTH_ROOM: Cents = Cents(8.0);

impl<'a> Field<'a> {
    /// Notes or turns and regions on scales that just hold them.
    pub fn around(regions: &'a [Region], played: &'a [(usize, Spot)]) -> Self {
        let scale = |of: &dyn Fn(&Spot) -> f64, ends: &dyn Fn(&Region) -> [f64; 2], room: f64| {
            let values = played.iter().map(|(_, spot)| of(spot));
            let known = values.chain(regions.iter().flat_map(ends)).filter(|one| one.is_finite());
            let (low, high) = known
                .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| {
                    (low.min(value), high.max(value))
                });
            if low > high {
                return Scale::straight(0.0, 1.0);
            }
            Scale::straight((low - room).max(0.0), high + room)
        };
        let rate = |region: &Region| [region.rate.0.0, region.rate.1.0];
        let width = |region: &Region| [region.width.0.0, region.width.1.0];
        Self {
            rates: scale(&|spot| spot.rate.value.0, &rate, RATE_ROOM.0),
            widths: scale(&|spot| spot.width.value.0, &width, WIDTH_ROOM.0),
            regions,
            played,
            ..Field::EMPTY
        }
    }
}

/// A plane of rate (rightwards) and width (upwards).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Plane {
    /// Where it is drawn.
    pub rect: Rect,
    rates: Axis,
    widths: Axis,
}

impl Plane {
    /// The plane of a field in `area`, on these scales.
    pub fn of(area: Rect, sizes: &Sizes, rates: Scale, widths: Scale) -> Self {
        let axes = axes(sizes);
        // The number at the end of the gauges' own scale is a short one.
        let beyond = if [RATE, FIELD_RATE].contains(&rates) { 0.6 } else { 0.9 };
        let head = if is_tall(area, sizes) { NAMED } else { 0.5 };
        let rect = Rect::from_min_max(
            pos2(area.left() + axes.x, area.top() + head * sizes.scale),
            pos2(area.right() - beyond * sizes.scale, area.bottom() - axes.y),
        );
        Self::at_rect(rect, rates, widths)
    }

    /// The plane that fills `rect`.
    pub fn at_rect(rect: Rect, rates: Scale, widths: Scale) -> Self {
        Self {
            rect,
            rates: Axis::new(rates, rect.left(), rect.right()),
            widths: Axis::new(widths, rect.bottom(), rect.top()),
        }
    }

    /// Where rate and width meet.
    pub fn place(&self, rate: Hz, width: Cents) -> Pos2 {
        pos2(self.rates.at(rate.0), self.widths.at(width.0))
    }

    /// What lies at this place; beyond the plane, what lies at its edge.
    pub fn at(&self, place: Pos2) -> (Hz, Cents) {
        (Hz(self.rates.value(place.x)), Cents(self.widths.value(place.y)))
    }

    /// Where a region lies.
    pub fn region(&self, region: &Region) -> Rect {
        Rect::from_min_max(
            self.place(region.rate.0, region.width.1),
            self.place(region.rate.1, region.width.0),
        )
    }
}

/// Draws the field into `area`.
pub fn field(picture: &mut Picture, area: Rect, field: &Field<'_>) {
    let plane = Plane::of(area, &picture.sizes, field.rates, field.widths);
    scales(picture, area, &plane);
    for (number, region) in field.regions.iter().enumerate() {
        outline(picture, plane.region(region), number);
    }
    let wanted = wanted(picture, &plane, field);
    tail(picture, &plane, field.tail);
    region_names(picture, &plane, field.regions, wanted);
    if field.played.len() > 1 {
        let place = |(_, spot): &(usize, Spot)| plane.place(spot.rate.value, spot.width.value);
        picture.line(Meaning::Way, field.played.iter().map(place).collect());
    }
    for (_, spot) in field.played {
        doubt(picture, &plane, spot);
    }
    for (_, spot) in field.played {
        let middle = plane.place(spot.rate.value, spot.width.value);
        picture.dot(Meaning::Past, middle, 1.2 * picture.sizes.mark);
    }
    if field.played.len() <= MOST_NUMBERED {
        numbers(picture, &plane, field.played);
    }
    if let Some(now) = &field.now {
        doubt(picture, &plane, now);
        point(picture, &plane, now);
    }
    if let Some(words) = field.words {
        let size = picture.fitting(Meaning::ScaleNumber, words, 0.94 * plane.rect.width());
        let at = pos2(plane.rect.center().x, plane.rect.top());
        picture.text_sized(Meaning::ScaleNumber, at, Align2::CENTER_TOP, words, size);
    }
}

fn is_tall(area: Rect, sizes: &Sizes) -> bool {
    area.height() >= NAMED_FROM * sizes.scale
}

/// The axes with their numbers and names.
fn scales(picture: &mut Picture, area: Rect, plane: &Plane) {
    let rect = plane.rect;
    let size = picture.sizes.scale;
    let stroke = 0.27 * size;
    picture.hline(Meaning::Axis, rect.x_range(), rect.bottom());
    picture.vline(Meaning::Axis, rect.left(), rect.y_range());
    let mut free_from = f32::NEG_INFINITY;
    for tick in plane.rates.scale.marks(6).into_iter().filter(|tick| tick.written) {
        let x = plane.rates.at(tick.value);
        picture.vline(Meaning::Axis, x, rect.bottom() - stroke..=rect.bottom());
        if x >= free_from {
            let at = pos2(x, rect.bottom() + 2.0);
            let said = format!("{:.*}", tick.decimals, tick.value);
            picture.text(Meaning::ScaleNumber, at, Align2::CENTER_TOP, said);
            free_from = x + 1.6 * size;
        }
    }
    let mut free_below = f32::INFINITY;
    for tick in plane.widths.scale.marks(6).into_iter().filter(|tick| tick.written) {
        let y = plane.widths.at(tick.value);
        picture.hline(Meaning::Axis, rect.left()..=rect.left() + stroke, y);
        if y <= free_below && tick.value > 0.0 {
            let at = pos2(rect.left() - 0.33 * size, y);
            let said = format!("{:.*}", tick.decimals, tick.value);
            picture.text(Meaning::ScaleNumber, at, Align2::RIGHT_CENTER, said);
            free_below = y - 1.2 * size;
        }
    }
    let foot = area.bottom() - 0.3 * size;
    let named = if is_tall(area, &picture.sizes) { area.top() + 0.8 * size } else { foot };
    picture.write(Meaning::ScaleNumber, pos2(area.left(), named), "width, cents");
    let left = rect.right() - picture.width(Meaning::ScaleNumber, "rate, Hz");
    picture.write(Meaning::ScaleNumber, pos2(left, foot), "rate, Hz");
}

fn outline(picture: &mut Picture, rect: Rect, number: usize) {
    let corners = vec![
        rect.left_top(),
        rect.right_top(),
        rect.right_bottom(),
        rect.left_bottom(),
        rect.left_top(),
    ];
    let dash = u8::try_from(number % 4).unwrap_or_default();
    picture.line(Meaning::Region(dash), corners);
}

/// The wanted bands: corners around what is wanted; says where that is.
fn wanted(picture: &mut Picture, plane: &Plane, field: &Field<'_>) -> Option<Rect> {
    if field.wanted_rate.is_none() && field.wanted_width.is_none() {
        return None;
    }
    let rate = field.wanted_rate.unwrap_or((Hz(0.0), Hz(f64::MAX)));
    let width = field.wanted_width.unwrap_or((Cents(0.0), Cents(f64::MAX)));
    let rect = Rect::from_min_max(plane.place(rate.0, width.1), plane.place(rate.1, width.0));
    let length = CORNER.min(0.3 * rect.width()).min(0.3 * rect.height());
    for (corner, along, down) in [
        (rect.left_top(), 1.0, 1.0),
        (rect.right_top(), -1.0, 1.0),
        (rect.left_bottom(), 1.0, -1.0),
        (rect.right_bottom(), -1.0, -1.0),
    ] {
        let ends = [corner + vec2(along * length, 0.0), corner, corner + vec2(0.0, down * length)];
        picture.line(Meaning::WantedCorner, ends.to_vec());
    }
    Some(rect)
}

/// Where the point came from, ever thinner and fainter.
fn tail(picture: &mut Picture, plane: &Plane, tail: &[FieldPoint]) {
    let count = tail.len().max(1) as f32;
    let places: Vec<Pos2> = tail.iter().map(|place| plane.place(place.rate, place.width)).collect();
    for (index, pair) in places.windows(2).enumerate() {
        let share = (index + 1) as f32 / count;
        picture.mark(Meaning::Tail, Shape::Line(pair.to_vec())).strength = 0.25 + 0.75 * share;
    }
}

/// The doubt of a vibrato: an ellipse of one standard error.
fn doubt(picture: &mut Picture, plane: &Plane, spot: &Spot) {
    let (Some(rate_se), Some(width_se)) = (spot.rate.se, spot.width.se) else {
        return;
    };
    let corner = |corner: usize| {
        let turn = std::f64::consts::TAU * corner as f64 / ELLIPSE as f64;
        plane.place(
            Hz(spot.rate.value.0 + rate_se.0 * turn.cos()),
            Cents((spot.width.value.0 + width_se.0 * turn.sin()).max(0.0)),
        )
    };
    picture.polygon(Meaning::DoubtOfPoint, (0..ELLIPSE).map(corner).collect());
}

/// The point: full while it is live, a ring afterwards.
fn point(picture: &mut Picture, plane: &Plane, now: &Spot) {
    let at = plane.place(now.rate.value, now.width.value);
    let radius = POINT * picture.sizes.mark;
    picture.dot(Meaning::Halo, at, radius + HALO);
    if now.live {
        picture.dot(Meaning::Point, at, radius);
    } else {
        picture.dot(Meaning::LastPoint, at, radius - picture.sizes.value / 2.0);
    }
}

/// The number of each point beside it, over no number before it if it can.
fn numbers(picture: &mut Picture, plane: &Plane, played: &[(usize, Spot)]) {
    let size = picture.sizes.scale;
    let apart = 2.0 * picture.sizes.mark;
    let mut written: Vec<Rect> = Vec::new();
    for (number, spot) in played {
        let at = plane.place(spot.rate.value, spot.width.value);
        let said = number.to_string();
        let letters = vec2(picture.width(Meaning::SpotNumber, &said), 0.75 * size);
        let corners = [(1.0, -1.0), (1.0, 1.0), (-1.0, -1.0), (-1.0, 1.0)].map(|(x, y)| {
            let middle =
                at + vec2(x * (apart + letters.x / 2.0), y * (0.4 * apart + letters.y / 2.0));
            Rect::from_center_size(middle, letters)
        });
        let free = |rect: &&Rect| {
            plane.rect.contains_rect(**rect)
                && written.iter().all(|other| !other.intersects(**rect))
        };
        let inside = |rect: &&Rect| plane.rect.contains_rect(**rect);
        let place = corners.iter().find(free).or_else(|| corners.iter().find(inside));
        let place = *place.unwrap_or(&corners[0]);
        written.push(place);
        picture.write(Meaning::SpotNumber, place.left_bottom(), &said);
    }
}

/// Writes the names of regions, off the corners of what is wanted if they can.
fn region_names(picture: &mut Picture, plane: &Plane, regions: &[Region], wanted: Option<Rect>) {
    let size = picture.sizes.scale;
    let mut written: Vec<Rect> = Vec::new();
    let corners: Vec<Rect> = wanted
        .into_iter()
        .flat_map(|rect| {
            [rect.left_top(), rect.right_top(), rect.left_bottom(), rect.right_bottom()]
        })
        .map(|corner| Rect::from_center_size(corner, Vec2::splat(0.8 * size)))
        .collect();
    for region in regions {
        let rect = plane.region(region);
        let wide = vec2(picture.width(Meaning::RegionName, &region.name), 1.25 * size);
        let others: Vec<Rect> = regions
            .iter()
            .filter(|other| *other != region)
            .map(|other| plane.region(other))
            .collect();
        // Rather over an outline, or over a corner of what is wanted, than nowhere.
        let taken = [&written[..], &corners].concat();
        let place = name_place(rect, wide, plane.rect, &taken, Some(&others))
            .or_else(|| name_place(rect, wide, plane.rect, &taken, None))
            .or_else(|| name_place(rect, wide, plane.rect, &written, None));
        let Some(place) = place else { continue };
        written.push(place);
        picture.rect(Meaning::RegionGround, place.expand2(vec2(2.0, -0.1 * size)));
        let foot = pos2(place.left(), place.bottom() - 0.32 * size);
        picture.write(Meaning::RegionName, foot, &region.name);
    }
}

/// Where the name of a region at `rect` can stand: in it, on its upper or lower edge, or beside it, within the plane and
/// over no other name; `None` where there is no such place. With `others`, the other regions, it keeps clear of those
/// and lies across no outline.
fn name_place(
    rect: Rect,
    size: Vec2,
    plane: Rect,
    written: &[Rect],
    others: Option<&[Rect]>,
) -> Option<Rect> {
    const PAD: f32 = 4.0;
    let lefts = [rect.left() + PAD, rect.right() - PAD - size.x];
    let middle = rect.center().y - size.y / 2.0;
    let tops = [
        rect.top() + 1.0,
        middle,
        rect.bottom() - size.y - 1.0,
        rect.top() - size.y,
        rect.bottom(),
    ];
    let beside = [rect.right() + PAD, rect.left() - PAD - size.x].map(|left| pos2(left, middle));
    let mut places = tops
        .into_iter()
        .flat_map(|top| lefts.map(|left| pos2(left, top)))
        .chain(beside)
        .map(|corner| Rect::from_min_size(corner, size));
    places.find(|place| {
        // The letters are lower than their line.
        let letters = place.shrink2(vec2(0.0, 0.12 * size.y));
        let clear = |others: &[Rect]| {
            let across = rect.intersects(letters) && !rect.contains_rect(letters);
            !across && others.iter().all(|other| !other.intersects(letters))
        };
        plane.contains_rect(*place)
            && written.iter().all(|other| !other.intersects(*place))
            && others.is_none_or(clear)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn plane(size: Vec2) -> Plane {
        Plane::at_rect(Rect::from_min_size(pos2(100.0, 50.0), size), RATE, WIDTH)
    }

    #[test]
    fn rate_runs_rightwards_and_width_upwards() {
        let plane = plane(vec2(300.0, 200.0));
        assert_eq!(plane.place(Hz(0.0), Cents(0.0)), pos2(100.0, 250.0));
        assert_eq!(plane.place(Hz(5.0), Cents(62.5)), pos2(250.0, 150.0));
        assert_eq!(plane.place(Hz(12.0), Cents(400.0)), pos2(400.0, 50.0));
    }

    #[test]
    fn a_place_and_what_lies_there_are_one() {
        let plane = plane(vec2(300.0, 200.0));
        for (rate, width) in [(0.5, 4.0), (5.6, 33.0), (9.5, 220.0)] {
            let (r, w) = plane.at(plane.place(Hz(rate), Cents(width)));
            assert!((r.0 - rate).abs() < 1e-3, "{rate}: {r:?}");
            assert!((w.0 - width).abs() < 1e-2, "{width}: {w:?}");
        }
        assert_eq!(plane.at(pos2(0.0, 900.0)), (Hz(0.0), Cents(0.0)));
    }

    #[test]
    fn spots_that_lie_on_each_other_have_their_numbers_apart() {
        let spot = |rate: f64, width: f64| Spot {
            rate: Measure { value: Hz(rate), se: None },
            width: Measure { value: Cents(width), se: None },
            live: true,
        };
        let played = [(1, spot(5.0, 30.0)), (2, spot(5.01, 30.1)), (3, spot(4.99, 30.0))];
        let area = Rect::from_min_size(pos2(0.0, 0.0), vec2(360.0, 240.0));
        let mut picture = Picture::new(area, &Sizes::USUAL);
        field(&mut picture, area, &Field { played: &played, ..Field::EMPTY });
        let feet: Vec<Pos2> = picture
            .marks
            .iter()
            .filter(|mark| mark.meaning == Meaning::SpotNumber)
            .filter_map(|mark| match &mark.shape {
                Shape::Words { foot, .. } => Some(*foot),
                _ => None,
            })
            .collect();
        assert_eq!(feet.len(), 3);
        let apart = |a: Pos2, b: Pos2| (a.x - b.x).abs() > 8.0 || (a.y - b.y).abs() > 10.0;
        assert!(apart(feet[0], feet[1]) && apart(feet[0], feet[2]) && apart(feet[1], feet[2]));
    }
}
