//! What all pictures share: a frame with its words, scales, numbers.

use maud::{Markup, html};

/// Every picture is so wide in its own units, so that its type is of one size on a phone and in a column of a
/// printed page.
pub const WIDTH: f64 = 360.0;

/// A picture with its name and what it shows in words, for those who do not see it.
pub fn figure(name: &str, says: &str, height: f64, drawn: Markup, caption: &str) -> Markup {
    html! {
        figure {
            svg viewBox=(format!("0 0 {WIDTH} {height}")) role="img" {
                title { (name) }
                desc { (says) }
                (drawn)
            }
            @if !caption.is_empty() {
                figcaption { (caption) }
            }
        }
    }
}

/// A straight scale: values from `from` to `to` lie at places from `at_from` to `at_to`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Scale {
    from: f64,
    to: f64,
    at_from: f64,
    at_to: f64,
}

impl Scale {
    /// A scale. Where all values are one, there is room around it.
    pub fn new(from: f64, to: f64, at_from: f64, at_to: f64) -> Self {
        let (from, to) = if to - from > 1e-9 { (from, to) } else { (from - 0.5, from + 0.5) };
        Self { from, to, at_from, at_to }
    }

    /// A scale that holds all these values with some room, and `least` at least.
    pub fn around(
        values: impl Iterator<Item = f64>,
        least: (f64, f64),
        at_from: f64,
        at_to: f64,
    ) -> Self {
        let (low, high) = values
            .filter(|value| value.is_finite())
            .fold(least, |(low, high), value| (low.min(value), high.max(value)));
        let room = 0.04 * (high - low);
        let low = if low < least.0 { low - room } else { low };
        let high = if high > least.1 { high + room } else { high };
        Self::new(low, high, at_from, at_to)
    }

    /// Where a value lies; what is beyond the scale lies at its end.
    pub fn at(&self, value: f64) -> f64 {
        let share = ((value - self.from) / (self.to - self.from)).clamp(0.0, 1.0);
        self.at_from + share * (self.at_to - self.at_from)
    }

    /// Round values along it, about as many as wanted, with the decimals they need.
    pub fn ticks(&self, wanted: usize) -> (Vec<f64>, usize) {
        let span = self.to - self.from;
        let rough = span / wanted.max(1) as f64;
        let unit = 10f64.powf(rough.log10().floor());
        let step = [1.0, 2.0, 5.0, 10.0]
            .into_iter()
            .map(|factor| factor * unit)
            .find(|step| *step >= rough)
            .unwrap_or(rough);
        let first = (self.from / step - 1e-9).ceil() as i64;
        let last = (self.to / step + 1e-9).floor() as i64;
        // A scale of a broken file must not have endless lines.
        let ticks = (first..=last.min(first + 60)).map(|n| n as f64 * step);
        let decimals = (-step.log10().floor()).clamp(0.0, 4.0) as usize;
        (ticks.collect(), decimals)
    }
}

/// A place in a picture, to a tenth of its unit.
pub fn place(value: f64) -> String {
    let tenths = (value * 10.0).round() / 10.0 + 0.0;
    format!("{tenths}")
}

/// A number along a scale.
pub fn tick(value: f64, decimals: usize) -> String {
    tuning::figure::number(Some(value), decimals, false)
}

/// A line through points; nothing if there are fewer than two.
pub fn path(points: &[(f64, f64)]) -> String {
    let mut text = String::new();
    for (number, (x, y)) in points.iter().enumerate() {
        text.push(if number == 0 { 'M' } else { 'L' });
        text.push_str(&place(*x));
        text.push(' ');
        text.push_str(&place(*y));
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_scale_has_round_ticks_within_it_and_an_end() {
        let scale = Scale::new(3.1, 7.9, 0.0, 100.0);
        let (ticks, decimals) = scale.ticks(5);
        assert_eq!(ticks, [4.0, 5.0, 6.0, 7.0]);
        assert_eq!(decimals, 0);
        assert_eq!((scale.at(3.1), scale.at(7.9), scale.at(99.0)), (0.0, 100.0, 100.0));
        let one = Scale::new(2.0, 2.0, 0.0, 10.0);
        assert_eq!(one.at(2.0), 5.0);
        assert!(Scale::new(0.0, 1e300, 0.0, 1.0).ticks(5).0.len() < 100);
    }

    #[test]
    fn ticks_of_a_fine_scale_have_the_decimals_they_need() {
        let (ticks, decimals) = Scale::new(0.0, 0.5, 0.0, 1.0).ticks(5);
        assert_eq!((ticks.len(), decimals), (6, 1));
        assert_eq!(tick(ticks[1], decimals), "0.1");
    }
}
