//! The way from the first echo of a lesson to the last in one measure: a mark for each along a line whose middle is the
//! model.

use crate::{Meaning, Picture};
use coach::Difference;
use emath::{Align2, Rect, pos2, vec2};

/// The line reaches at least this many times the least difference that matters to either side.
const REACH: f64 = 3.0;
/// A mark is so large, as a share of the type size, and one on the way so much of that.
const MARK: f32 = 0.3;
const ON_THE_WAY: f32 = 0.5;
/// Height of a row of names, in type sizes of a scale.
const ROW: f32 = 1.67;

/// Draws it over the width of `area`, beside type of this size: a ring for the first echo, a full mark for the last.
pub fn way(picture: &mut Picture, area: Rect, way: &[Option<Difference>], size: f32) {
    let known: Vec<&Difference> = way.iter().flatten().collect();
    let reach = known.iter().fold(0.0, |reach: f64, difference| {
        reach.max(difference.value.abs()).max(REACH * difference.least)
    });
    if reach <= 0.0 || area.width() <= 0.0 {
        return;
    }
    let middle = area.center();
    picture.hline(Meaning::Guide, area.x_range(), middle.y);
    picture.vline(Meaning::Axis, middle.x, area.y_range());
    for (number, difference) in known.iter().enumerate() {
        let share = (difference.value / reach) as f32;
        let (mark, size) = if number + 1 == known.len() {
            (Meaning::LastEcho, size)
        } else if number == 0 {
            (Meaning::FirstEcho, size)
        } else {
            (Meaning::Past, ON_THE_WAY * size)
        };
        picture.dot(mark, pos2(middle.x + 0.48 * share * area.width(), middle.y), MARK * size);
    }
}

/// How tall the ways of so many measures are, each in a row.
pub fn height(rows: usize, scale: f32) -> f32 {
    ROW * scale * rows as f32
}

/// Draws the ways of some measures, each under its name at the left.
pub fn ways(picture: &mut Picture, area: Rect, rows: &[(String, Vec<Option<Difference>>)]) {
    let size = picture.sizes.scale;
    let wide = |(name, _): &(String, _)| picture.width(Meaning::RowWord, name);
    let left = area.left() + rows.iter().map(wide).fold(0.0, f32::max) + size;
    for (number, (name, differences)) in rows.iter().enumerate() {
        let top = area.top() + ROW * size * number as f32;
        let row = Rect::from_min_size(pos2(left, top), vec2(area.right() - left, ROW * size));
        let at = pos2(area.left(), row.center().y);
        picture.text(Meaning::RowWord, at, Align2::LEFT_CENTER, name.as_str());
        way(picture, row, differences, size);
    }
}
