//! Bars: one measure of several fingers side by side, each with its doubt and with what was asked for.

use crate::scale::{Axis, Scale};
use crate::{Meaning, Picture};
use emath::{Align2, Rect, pos2};

/// One bar.
#[derive(Clone, Debug, PartialEq)]
pub struct Bar {
    /// Of which finger or day.
    pub name: String,
    /// How much, if it is known, and its doubt.
    pub value: Option<(f64, Option<f64>)>,
    /// The value in words.
    pub said: String,
    /// How much was asked for: a band, or twice the same.
    pub asked: Option<(f64, f64)>,
}

/// Height of a row, in type sizes of a scale.
const ROW: f32 = 1.67;

/// How tall so many bars are where the type of a scale is of this size.
pub fn height(bars: usize, scale: f32) -> f32 {
    ROW * scale * (bars as f32 + 1.2)
}

/// Draws bars of one measure, which is 0 or more, under its name.
pub fn bars(picture: &mut Picture, area: Rect, name: &str, bars: &[Bar]) {
    let size = picture.sizes.scale;
    let row = ROW * size;
    let widest = |of: &dyn Fn(&Bar) -> &str| {
        bars.iter().map(|bar| picture.width(Meaning::RowWord, of(bar))).fold(0.0, f32::max)
    };
    let (names, said) = (widest(&|bar| &bar.name), widest(&|bar| &bar.said));
    let known = bars.iter().flat_map(|bar| {
        let asked = bar.asked.map(|(_, high)| high);
        let value = bar.value.map(|(value, se)| value + se.unwrap_or(0.0));
        value.into_iter().chain(asked)
    });
    let most = known.fold(1e-6, f64::max);
    let (left, right) = (area.left() + names + 0.7 * size, area.right() - said - 0.7 * size);
    let axis = Axis::new(Scale::straight(0.0, most), left, right.max(left + size));
    picture.write(Meaning::RowWord, pos2(area.left(), area.top() + 1.1 * size), name);
    for (number, bar) in bars.iter().enumerate() {
        let middle = area.top() + row * (number as f32 + 1.6);
        let half = 0.32 * row;
        let at = pos2(area.left(), middle);
        picture.text(Meaning::RowWord, at, Align2::LEFT_CENTER, &*bar.name);
        if let Some((value, se)) = bar.value {
            let end = axis.at(value).max(left + 0.5);
            let rect = Rect::from_x_y_ranges(left..=end, middle - half..=middle + half);
            picture.rect(Meaning::Amount, rect);
            if let Some(se) = se {
                let doubt = axis.at(value - se)..=axis.at(value + se);
                picture.hline(Meaning::DoubtOfAmount, doubt, middle);
            }
        }
        if let Some((low, high)) = bar.asked {
            let (left, right) = (axis.at(low), axis.at(high));
            let (top, foot) = (middle - 1.4 * half, middle + 1.4 * half);
            let corners = [pos2(left, foot), pos2(left, top), pos2(right, top), pos2(right, foot)];
            picture.line(Meaning::Wanted, corners.to_vec());
        }
        let at = pos2(area.right(), middle);
        picture.text(Meaning::RowWord, at, Align2::RIGHT_CENTER, &*bar.said);
    }
}
